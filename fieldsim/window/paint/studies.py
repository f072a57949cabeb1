"""One frame of the studies' window, painted from its scene."""

from __future__ import annotations

from pathlib import Path

import pygame

from fieldsim.language import tr
from fieldsim.report.statement import look_next
from fieldsim.window.camera import Rect
from fieldsim.window.paint.cards import draw_card, draw_press
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import DARK, LARGE, LIGHT, NORMAL, ON_ACCENT, SMALL, Look, mixed
from fieldsim.window.paint.over import draw_error, draw_help, draw_toast
from fieldsim.window.studies.session import StudiesScene

__all__ = ["paint_studies"]


def paint_studies(surface: pygame.Surface, scene: StudiesScene, layers: Layers) -> None:
    """Paint everything anew onto a surface of the layout's size; ``layers`` belongs to the window."""
    look = DARK if scene.dark else LIGHT
    places = scene.layout
    unit, writer = places.unit, layers.writer
    writer.unit = unit
    surface.fill(look.table)
    first = min(rect.x for _, rect in places.buttons)
    writer.put(surface, scene.title, (10 * unit, places.head.h / 2), LARGE, look.ink, 1, "w", room=first - 20 * unit)
    words = {"season": tr("Back"), "help": tr("Keys"), "look": tr("Light") if scene.dark else tr("Dark")}
    for name, rect in places.buttons:
        ink = draw_press(surface, scene, look, f"button {name}", rect, True)
        writer.put(surface, words[name], rect.centre, SMALL, ink, 0, "c", room=rect.w - 4 * unit)
    _list(surface, scene, look, layers)
    _answer(surface, scene, look, layers)
    draw_toast(surface, scene, look, layers)
    draw_error(surface, scene, look, layers)
    draw_help(surface, scene, look, layers)


def _list(window: pygame.Surface, scene: StudiesScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    draw_card(window, places.list, look, unit)
    at = places.list.x + 10 * unit, places.list.y + 7 * unit
    writer.put(window, tr("Ask"), at, NORMAL, look.ink, 1)
    for n, (rect, (question, told, picked, going)) in enumerate(zip(places.rows, scene.rows, strict=True)):
        hot = scene.hover == f"row {n}"
        window.fill(look.accent if picked else look.hover if hot else look.press, rect.box)
        if going is not None:
            share = round(rect.w * min(max(going, 0.0), 1.0))
            window.fill(
                mixed(look.path, look.press, 0.6), (rect.x, rect.bottom - round(4 * unit), share, round(4 * unit))
            )
        pygame.draw.rect(window, look.ink if hot or picked else mixed(look.edge, look.press, 0.6), rect.box, 1)
        ink = ON_ACCENT if picked else look.ink
        faint = mixed(ON_ACCENT, look.accent, 0.8) if picked else look.faint
        room, y = rect.w - 14 * unit, rect.y + rect.h / 2
        writer.put(window, question, (rect.x + 8 * unit, y), NORMAL, ink, 1, "sw", room=room)
        writer.put(window, told, (rect.x + 8 * unit, y), SMALL, faint, 0, "nw", room=room)


def _answer(window: pygame.Surface, scene: StudiesScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    rect, answer = places.field, scene.answer
    draw_card(window, rect, look, unit)
    left, room = rect.x + 14 * unit, rect.w - 28 * unit
    bottom = places.actions[0].y - 8 * unit if scene.actions else rect.bottom - 8 * unit
    y = rect.y + 10 * unit
    y = _lines(window, (scene.about,), (left, y), room, bottom, SMALL, look.faint, layers) + 6 * unit
    for (name, words), place in zip(scene.actions, places.actions, strict=False):
        ink = draw_press(window, scene, look, f"button {name}", place, True)
        writer.put(window, words, place.centre, SMALL, ink, 1, "c", room=place.w - 8 * unit)
    if answer is None:
        return
    if not answer.over:
        bar = Rect(round(left), round(y + 8 * unit), round(min(room, 420 * unit)), round(14 * unit))
        window.fill(look.press, bar.box)
        if answer.wanted:
            window.fill(
                mixed(look.path, look.press, 0.75), (bar.x, bar.y, round(bar.w * answer.done / answer.wanted), bar.h)
            )
        pygame.draw.rect(window, look.edge, bar.box, 1)
        writer.put(window, tr("counting"), (bar.x, bar.bottom + 6 * unit), SMALL, look.faint)
        return
    if answer.wrong:
        _lines(window, answer.wrong, (left, y), room, bottom, NORMAL, look.fail_words, layers)
        return
    y = _lines(window, (answer.headline,), (left, y), room, bottom, LARGE, look.ink, layers, 1) + 2 * unit
    y = _lines(window, answer.further, (left, y), room, bottom, NORMAL, look.ink, layers) + 4 * unit
    # The advice beside the picture where there is room for both, else below what is told.
    picture = _loaded(answer.picture, layers)
    beside = picture is not None and room > 700 * unit
    words_room = room * 0.36 if beside else room
    end = y
    if answer.advice:
        end = _lines(window, (look_next(),), (left, y), words_room, bottom, NORMAL, look.ink, layers, 1)
        numbered = tuple(f"{n}. {text}" for n, text in enumerate(answer.advice, start=1))
        end = _lines(window, numbered, (left, end), words_room, bottom, SMALL, look.ink, layers)
    if picture is None:
        return
    across = answer.advice and beside
    x = left + words_room + 14 * unit if across else left
    top = y if across else end + 6 * unit
    wide, high = rect.right - 14 * unit - x, bottom - top
    w, h = picture.get_size()
    factor = min(wide / w, high / h)
    if factor <= 0.08:
        return
    size = max(1, round(w * factor)), max(1, round(h * factor))
    scaled = layers.value("study", (answer.picture, size), lambda: pygame.transform.smoothscale(picture, size))
    window.blit(scaled, (round(x), round(top)))
    pygame.draw.rect(window, look.edge, (round(x), round(top), *size), 1)


def _lines(
    window: pygame.Surface, texts: tuple[str, ...], at: tuple[float, float], room: float, bottom: float, size: float,
    colour: tuple[int, int, int], layers: Layers, style: int = 0,
) -> float:  # fmt: skip
    """Texts below each other as far as there is room; where they end."""
    writer = layers.writer
    x, y = at
    high = writer.height(size)
    for text in texts:
        for line in writer.lines(text, room, size, style):
            if y + high > bottom:
                return y
            writer.put(window, line, (x, y), size, colour, style)
            y += high
        y += 0.25 * high
    return y


def _loaded(path: Path | None, layers: Layers) -> pygame.Surface | None:
    if path is None:
        return None

    def load() -> pygame.Surface | None:
        try:
            picture = pygame.image.load(str(path))
        except (OSError, pygame.error):
            return None
        # Smooth scaling asks for so many bits.
        flat = pygame.Surface(picture.get_size(), 0, 32)
        flat.fill((255, 255, 255))
        flat.blit(picture, (0, 0))
        return flat

    found: pygame.Surface | None = layers.value(
        "study picture", (path, path.stat().st_mtime_ns if path.exists() else 0), load
    )
    return found
