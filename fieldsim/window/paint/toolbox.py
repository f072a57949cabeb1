"""The cards of the field window: its tools in a row, each with its sign, and what is on the field."""

from __future__ import annotations

import numpy as np
import pygame

from fieldsim.language import tr, tr_later
from fieldsim.window.paint.cards import draw_card, draw_press
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.layout import TOOLS
from fieldsim.window.paint.look import NORMAL, ON_ACCENT, SMALL, Colour, Look, mixed
from fieldsim.window.paint.scene import FieldScene
from fieldsim.window.paint.tools import area, arrow, dashed, ring, stroke

__all__ = ["draw_here", "draw_tools"]

# Keys that take a tool in hand.
KEYS = {"box": "1", "round": "2", "outline": "3", "start area": "4", "jig": "5", "line": "6", "target": "7",
        "picture": "P", "scale": "K", "pick": "0", "copy": "C", "remove": tr_later("del")}  # fmt: skip
WORDS = {
    "box": tr_later("box"), "round": tr_later("round"), "outline": tr_later("outline"),
    "start area": tr_later("start area"), "jig": tr_later("jig"), "line": tr_later("line"),
    "target": tr_later("target"),
    "picture": tr_later("picture"), "scale": tr_later("length"), "pick": tr_later("pick"), "copy": tr_later("copy"),
    "remove": tr_later("take away"),
}  # fmt: skip


def draw_here(window: pygame.Surface, scene: FieldScene, look: Look, layers: Layers) -> None:
    """What is on the field, each with the sign of its tool, and what to do next."""
    rect, unit, writer, here = scene.layout.odds, scene.layout.unit, layers.writer, scene.here
    if rect.h < 12 or rect.w < 20 or here is None:
        return
    draw_card(window, rect, look, unit)
    pad = 10 * unit
    left, room = rect.x + pad, rect.w - 2 * pad
    y = rect.y + 6 * unit
    writer.put(window, tr("What is here"), (left, y), NORMAL, look.ink, 1, room=room - 10 * unit)
    y += writer.height(NORMAL) + 5 * unit
    row = writer.height(SMALL) + 4 * unit
    for n, (tool, words) in enumerate(here.counts):
        x = left + n % 2 * room / 2
        middle = y + n // 2 * row + row / 2
        empty = words.startswith("0 ")
        ink = look.faint if empty else look.ink
        _sign(window, tool, (x + 8 * unit, middle), 6.0 * unit, ink, unit)
        writer.put(
            window, words, (x + 22 * unit, middle), SMALL, ink, 0 if empty else 1, "w", room=room / 2 - 24 * unit
        )
    y += -(-len(here.counts) // 2) * row + 4 * unit
    pygame.draw.line(window, mixed(look.edge, look.card, 0.5), (left, round(y)), (left + room, round(y)))
    y += 5 * unit
    writer.put(window, here.lead, (left, y), SMALL, look.faint, room=room)
    y += writer.height(SMALL) + 3 * unit
    for text in here.words:
        for k, line in enumerate(writer.lines(text, room - 14 * unit, NORMAL)):
            if y + writer.height(NORMAL) > rect.bottom - 4 * unit:
                return
            if k == 0:
                r = 3.2 * unit
                x, middle = left + 4 * unit, y + writer.height(NORMAL) / 2
                area(window, [(x - r, middle - r), (x + r, middle), (x - r, middle + r)], look.ink)
            writer.put(window, line, (left + 14 * unit, y), NORMAL, look.ink)
            y += writer.height(NORMAL)
        y += 4 * unit


def draw_tools(window: pygame.Surface, scene: FieldScene, look: Look, layers: Layers) -> None:
    """The tools in a row: a sign, a word, and the key that takes it in hand."""
    unit, writer = scene.layout.unit, layers.writer
    for name in TOOLS:
        rect = scene.layout.button(f"tool {name}")
        on = f"tool {name}" not in scene.off
        ink = draw_press(window, scene, look, f"button tool {name}", rect, on)
        held = scene.tool == name
        if held:
            window.fill(look.accent, rect.box)
            pygame.draw.rect(window, look.ink, rect.box, max(1, round(2 * unit)))
            ink = ON_ACCENT
        x = rect.x + rect.w / 2
        _sign(window, name, (x, rect.y + 0.37 * rect.h), 9.0 * unit, ink, unit)
        words = tr(WORDS[name])
        writer.put(
            window, words, (x, rect.bottom - 3 * unit), SMALL, ink, 1 if held else 0, "s", room=rect.w - 4 * unit
        )
        faint = ink if held or not on else look.faint
        writer.put(window, tr(KEYS[name]), (rect.right - 5 * unit, rect.y + 3 * unit), SMALL, faint, 0, "ne")


def _sign(window: pygame.Surface, tool: str, at: tuple[float, float], r: float, ink: Colour, unit: float) -> None:
    """A tool's sign; ``r`` is half its height."""
    x, y = at
    thin = max(1.5, 0.2 * r)

    def line(*points: tuple[float, float], closed: bool = False, wide: float = thin) -> None:
        stroke(window, [(x + a * r, y + b * r) for a, b in points], ink, wide, closed=closed)

    match tool:
        case "pick":
            points = (
                (-0.55, -1.0),
                (-0.55, 0.75),
                (-0.12, 0.38),
                (0.16, 1.0),
                (0.44, 0.87),
                (0.17, 0.27),
                (0.72, 0.22),
            )
            area(window, [(x + a * r, y + b * r) for a, b in points], ink)
        case "box":
            line((-1.1, -0.8), (1.1, -0.8), (1.1, 0.8), (-1.1, 0.8), closed=True)
        case "round":
            ring(window, at, 0.95 * r, ink, thin)
        case "outline":
            line((-1.0, -0.9), (0.1, -0.9), (0.1, -0.1), (1.0, 0.2), (0.6, 0.9), (-1.0, 0.9), closed=True)
        case "start area":
            points = np.array([(-1.1, -0.8), (1.1, -0.8), (1.1, 0.8), (-1.1, 0.8)]) * r + np.array(at)
            dashed(window, points, ink, max(1.6, thin), 0.42 * r, 0.3 * r, closed=True)
        case "jig":
            line((-0.8, -1.0), (-0.8, 0.8), (1.0, 0.8), wide=2.2 * thin)
            window.fill(ink, (round(x - 0.15 * r), round(y - 0.65 * r), round(0.9 * r), round(0.9 * r)))
        case "line":
            line((-1.05, 0.85), (1.05, -0.85), wide=2.4 * thin)
        case "target":
            ring(window, at, 0.9 * r, ink, thin)
            line((-0.4, 0.0), (0.4, 0.0))
            line((0.0, -0.4), (0.0, 0.4))
        case "picture":
            line((-1.2, -0.9), (1.2, -0.9), (1.2, 0.9), (-1.2, 0.9), closed=True)
            hills = ((-1.0, 0.7), (-0.35, -0.25), (0.1, 0.35), (0.45, -0.05), (1.0, 0.7))
            area(window, [(x + a * r, y + b * r) for a, b in hills], ink)
        case "scale":
            line((-1.2, -0.5), (-1.2, 0.5))
            line((1.2, -0.5), (1.2, 0.5))
            for side in (-1, 1):
                arrow(window, at, (x + side * 1.1 * r, y), ink, thin, 0.55 * r)
        case "copy":
            line((-1.0, -0.9), (0.35, -0.9), (0.35, 0.25), (-1.0, 0.25), closed=True)
            line((0.35, -0.3), (1.0, -0.3), (1.0, 0.9), (-0.35, 0.9), (-0.35, 0.25))
        case "remove":
            line((-0.75, -0.75), (0.75, 0.75), wide=1.5 * thin)
            line((-0.75, 0.75), (0.75, -0.75), wide=1.5 * thin)
