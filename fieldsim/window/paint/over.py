"""What lies over the window: the list of keys, what went wrong, a short word at the bottom of the field."""

from __future__ import annotations

import pygame

from fieldsim.language import tr
from fieldsim.window.asking import Answer, answer_rects, box_width
from fieldsim.window.camera import Rect
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import LARGE, LIGHT, NORMAL, SMALL, Look
from fieldsim.window.paint.scene import Covered, Tipped
from fieldsim.window.paint.tools import area, plate

__all__ = ["draw_error", "draw_help", "draw_plain_error", "draw_tip", "draw_toast"]


def draw_toast(window: pygame.Surface, scene: Covered, look: Look, layers: Layers) -> None:
    if not scene.toast:
        return
    writer, unit, field = layers.writer, scene.layout.unit, scene.layout.field
    shown = writer.fit(scene.toast, field.w - 40 * unit, NORMAL, 1)
    w, h = writer.width(shown, NORMAL, 1) + 28 * unit, writer.height(NORMAL) + 9 * unit
    x, y = field.x + field.w / 2, field.bottom - h / 2 - 10 * unit
    plate(window, pygame.Rect(round(x - w / 2), round(y - h / 2), round(w), round(h)), look.ink, look.card)
    writer.put(window, shown, (x, y), NORMAL, look.card, 1, "c")


def draw_tip(window: pygame.Surface, scene: Tipped, look: Look, layers: Layers) -> None:
    """What is said of what the pointer rests on: beside it, inside the window."""
    if scene.tip is None:
        return
    words, (x, y) = scene.tip
    writer, unit = layers.writer, scene.layout.unit
    lines = [line for each in words.splitlines() for line in writer.lines(each, 330 * unit, SMALL)]
    high, pad = writer.height(SMALL), 6 * unit
    w = max(writer.width(line, SMALL) for line in lines) + 2 * pad
    h = len(lines) * high + pad
    beside = 16 * unit
    left = x + beside if x + beside + w < window.get_width() - 2 else max(2.0, x - beside - w)
    top = y + beside if y + beside + h < window.get_height() - 2 else max(2.0, y - beside - h)
    rect = pygame.Rect(round(left), round(top), round(w), round(h))
    plate(window, rect, look.hover, look.ink, cut=5 * unit)
    for n, line in enumerate(lines):
        writer.put(window, line, (rect.x + pad, rect.y + pad / 2 + n * high), SMALL, look.ink, 0, room=w - 2 * pad)


def _veil(window: pygame.Surface, look: Look, layers: Layers) -> None:
    veil = layers.layer("veil", (look.name,), window.get_size(), lambda s: s.fill((*look.table, 205)), True)
    window.blit(veil, (0, 0))


def draw_help(window: pygame.Surface, scene: Covered, look: Look, layers: Layers) -> None:
    """Keys in one or two columns; what does not fit any more is said to be more."""
    if not scene.help:
        return
    writer, unit = layers.writer, scene.layout.unit
    _veil(window, look, layers)
    w, h = window.get_size()
    line = writer.height(NORMAL) + 7 * unit
    head = writer.height(LARGE) + 18 * unit
    most_rows = max(1, int((h - 40 * unit - head - 12 * unit) // line))
    columns = 1 if len(scene.help) <= min(most_rows, 14) else 2
    rows = min(most_rows, -(-len(scene.help) // columns))
    wide = min(w - 40 * unit, columns * 430 * unit)
    high = head + rows * line + 12 * unit
    rect = pygame.Rect(round((w - wide) / 2), round((h - high) / 2), round(wide), round(high))
    plate(window, rect, look.card, look.ink, cut=16 * unit)
    writer.put(window, tr("Keys"), (rect.x + 18 * unit, rect.y + 10 * unit), LARGE, look.ink, 1)
    hidden = len(scene.help) - rows * columns
    each = (rect.width - 36 * unit) / columns
    keys = [max((writer.width(key, SMALL, 1) for key, _ in scene.help), default=0), each * 0.45]
    caps = min(keys) + 14 * unit
    for index, (key, words) in enumerate(scene.help[: rows * columns]):
        x = rect.x + 18 * unit + index // rows * each
        y = rect.y + head + index % rows * line
        shown = writer.fit(key, caps - 12 * unit, SMALL, 1)
        cap = pygame.Rect(round(x), round(y), round(writer.width(shown, SMALL, 1) + 12 * unit), round(line - 4 * unit))
        plate(window, cap, look.press, look.edge)
        writer.put(window, shown, cap.center, SMALL, look.ink, 1, "c")
        at = x + caps + 6 * unit, y + (line - 4 * unit) / 2
        writer.put(window, words, at, SMALL, look.ink, 0, "w", room=each - caps - 16 * unit)
    if hidden > 0:
        at = rect.right - 30 * unit, rect.y + 14 * unit
        writer.put(window, tr("and {n} more", n=hidden), at, SMALL, look.faint, 0, "ne")


def draw_error(window: pygame.Surface, scene: Covered, look: Look, layers: Layers) -> None:
    error = scene.error
    if error is None:
        return
    writer, unit, field = layers.writer, scene.layout.unit, scene.layout.field
    wide = box_width(field, unit)
    room = wide - 76 * unit
    title = writer.lines(error.title, room, NORMAL, 1, most=2)
    small = writer.height(SMALL) + 2 * unit
    most = max(1, int((field.h - 60 * unit - len(title) * writer.height(NORMAL)) // small))
    every = [line for text in error.lines for line in writer.lines(text, room, SMALL)]
    shown = every if len(every) <= most else [*every[: most - 1], tr("and {n} more lines", n=len(every) - most + 1)]
    high = 26 * unit + len(title) * writer.height(NORMAL) + len(shown) * small
    x, y = field.x + (field.w - wide) / 2, field.y + max(8 * unit, (field.h - high) / 3)
    buttons = answer_rects(field, unit, error.answers)
    if buttons:
        # What is asked stands above its buttons, wherever the window has them.
        y = max(field.y + 4 * unit, buttons[0].y - high + 4 * unit)
        y -= 12 * unit if not shown else 0
        high = buttons[0].bottom + 12 * unit - y
    rect = pygame.Rect(round(x), round(y), round(wide), round(high))
    plate(window, rect, look.card, look.fail, cut=14 * unit, width=max(2, round(2.5 * unit)))
    cx, cy, r = rect.x + 30 * unit, rect.y + 28 * unit, 15 * unit
    area(window, [(cx, cy - r), (cx + 1.1 * r, cy + 0.85 * r), (cx - 1.1 * r, cy + 0.85 * r)], look.fail)
    writer.put(window, "!", (cx, cy + 0.18 * r), LARGE, look.card, 1, "c")
    left, top = rect.x + 60 * unit, rect.y + 11 * unit
    for line in title:
        writer.put(window, line, (left, top), NORMAL, look.ink, 1)
        top += writer.height(NORMAL)
    top += 3 * unit
    for line in shown:
        writer.put(window, line, (left, top), SMALL, look.ink)
        top += small
    for n, (button, answer) in enumerate(zip(buttons, error.answers, strict=True)):
        _button(window, button, answer, scene.hover == f"answer {n}", look, layers, unit)


def _button(
    window: pygame.Surface, rect: Rect, answer: Answer, hot: bool, look: Look, layers: Layers, unit: float
) -> None:
    """A button with its words, and below them the key that presses it."""
    writer = layers.writer
    window.fill(look.hover if hot else look.press, rect.box)
    pygame.draw.rect(window, look.ink if hot else look.edge, rect.box, max(1, round((2 if hot else 1) * unit)))
    cap = writer.width(answer.letter, SMALL, 1) + 8 * unit
    x, y = rect.right - cap / 2 - 5 * unit, rect.y + rect.h / 2
    plate(
        window, pygame.Rect(round(x - cap / 2), round(y - 8 * unit), round(cap), round(16 * unit)), look.card, look.edge
    )
    writer.put(window, answer.letter, (x, y), SMALL, look.ink, 1, "c")
    room = rect.w - cap - 18 * unit
    lines = writer.lines(answer.words, room, SMALL, most=2)
    top = y - len(lines) * writer.height(SMALL) / 2
    for line in lines:
        writer.put(window, line, (rect.x + 8 * unit, top), SMALL, look.ink, 0, room=room)
        top += writer.height(SMALL)


def draw_plain_error(
    window: pygame.Surface, title: str, lines: tuple[str, ...], scale: float, layers: Layers, look: Look = LIGHT,
    wrong: bool = True,
) -> None:  # fmt: skip
    """What went wrong, or is being waited for, where there is nothing else to show."""
    writer = layers.writer
    writer.unit = scale
    window.fill(look.table)
    w, h = window.get_size()
    pad = 24 * scale
    rect = pygame.Rect(round(pad), round(pad), round(w - 2 * pad), round(h - 2 * pad))
    plate(window, rect, look.card, look.fail if wrong else look.edge, cut=16 * scale)
    y = rect.y + 16 * scale
    writer.put(window, title, (rect.x + 18 * scale, y), LARGE, look.ink, 1, room=rect.width - 36 * scale)
    y += writer.height(LARGE) + 12 * scale
    for line in lines:
        for part in writer.lines(line, rect.width - 36 * scale, NORMAL) or [""]:
            if y + writer.height(NORMAL) > rect.bottom - 8 * scale:
                return
            writer.put(window, part, (rect.x + 18 * scale, y), NORMAL, look.ink, room=rect.width - 36 * scale)
            y += writer.height(NORMAL) + 3 * scale
