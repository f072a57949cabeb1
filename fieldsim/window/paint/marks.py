"""Marks on the field and the strip: how a trial failed, where it is tightest. Pixels in, nothing is computed here."""

from __future__ import annotations

from math import hypot

import numpy as np
import pygame

from fieldsim.window.paint.look import Colour
from fieldsim.window.paint.tools import area, disc, stroke

__all__ = ["mark", "pinch", "small_mark"]


def mark(
    surface: pygame.Surface, kind: str, at: tuple[float, float], size: float, colour: Colour, ground: Colour
) -> None:
    """How a trial failed: 'touches' a cross, 'misses' an open square, 'lost' a triangle, 'outside' a diamond. Of a peg:
    'through' a disc, 'maybe' a ring.

    ``size`` is half its width. Each has an edge of the ground's colour, so that it stands out on anything.
    """
    x, y = at
    if kind == "touches":
        for tone, wide in ((ground, size * 0.95), (colour, size * 0.5)):
            r = size * (1.12 if tone == ground else 1.0)
            for a in (-1, 1):
                stroke(surface, [(x - r, y - a * r), (x + r, y + a * r)], tone, wide, round_ends=False)
        return
    if kind in ("through", "maybe"):
        disc(surface, at, size, colour)
        if kind == "maybe":
            disc(surface, at, size * 0.62, ground)
        return
    shapes = {
        "misses": [(-1, -1), (1, -1), (1, 1), (-1, 1)],
        "lost": [(-1.15, -0.9), (1.15, -0.9), (0, 1.15)],
        "outside": [(0, -1.35), (1.35, 0), (0, 1.35), (-1.35, 0)],
    }
    points = np.array(shapes[kind]) * size * 0.95 + (x, y)
    area(surface, points, ground)
    stroke(surface, points, colour, max(1.6, size * 0.42), closed=True)


def small_mark(
    surface: pygame.Surface, kind: str, at: tuple[float, float], size: float, colour: Colour, ground: Colour
) -> None:
    """A mark from a small store: hundreds of them are copied faster than drawn."""
    key = kind, round(size * 4), colour, ground
    made = _MARKS.get(key)
    if made is None:
        half = round(size * 1.8) + 3
        made = pygame.Surface((2 * half + 1, 2 * half + 1), pygame.SRCALPHA)
        # Smooth edges blend with what is below: see-through, but of the edge's own colour.
        made.fill((*ground, 0))
        four = pygame.Surface((4 * (2 * half + 1), 4 * (2 * half + 1)), pygame.SRCALPHA)
        four.fill((*ground, 0))
        mark(four, kind, (4 * half + 2, 4 * half + 2), size * 4, colour, ground)
        made = pygame.transform.smoothscale(four, made.get_size())
        if len(_MARKS) > 200:
            _MARKS.clear()
        _MARKS[key] = made
    surface.blit(made, (round(at[0]) - made.get_width() // 2, round(at[1]) - made.get_height() // 2))


_MARKS: dict[tuple[object, ...], pygame.Surface] = {}


def pinch(
    surface: pygame.Surface, at: tuple[float, float], direction: tuple[float, float], gap: float, size: float,
    colour: Colour, ground: Colour,
) -> None:  # fmt: skip
    """The tightest place: two wedges that point at each other along a direction, ``gap`` pixels apart."""
    way = hypot(*direction) or 1.0
    ux, uy = direction[0] / way, direction[1] / way
    for grow, tone in ((size * 0.28, ground), (0.0, colour)):
        for s in (-1, 1):
            tip = at[0] + s * ux * (gap / 2 - grow), at[1] + s * uy * (gap / 2 - grow)
            far = at[0] + s * ux * (gap / 2 + size + grow * 0.8), at[1] + s * uy * (gap / 2 + size + grow * 0.8)
            half = size * 0.62 + grow
            area(
                surface, [tip, (far[0] - uy * half, far[1] + ux * half), (far[0] + uy * half, far[1] - ux * half)], tone
            )
