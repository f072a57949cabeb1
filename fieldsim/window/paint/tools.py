"""Brushes: smooth polygons and lines, dashes, hatches, plates. Pixels in, nothing computed about runs."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, hypot

import numpy as np
import pygame
from numpy.typing import NDArray
from pygame import gfxdraw

from fieldsim.window.camera import Rect
from fieldsim.window.paint.look import Colour

Floats = NDArray[np.float64]
Spots = Sequence[tuple[float, float] | Floats] | Floats

# Farther outside than this nothing is drawn: gfxdraw counts in 16 bits, and long rows of pixels cost time.
FAR = 12_000.0
# Cosine of the angle from which a corner is a corner.
SHARP = 0.87
# No more pixels of dashes than this are drawn at once.
MOST_PIXELS = 4_000_000


def clipped(points: Floats, box: tuple[float, float, float, float]) -> Floats:
    """A polygon (n, 2) cut to a box x0, y0, x1, y1 (Sutherland & Hodgman, Reentrant polygon clipping, 1974)."""
    ring = [(float(x), float(y)) for x, y in points]
    for axis, limit, keep_less in ((0, box[0], False), (1, box[1], False), (0, box[2], True), (1, box[3], True)):
        found: list[tuple[float, float]] = []
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            a_in = a[axis] <= limit if keep_less else a[axis] >= limit
            b_in = b[axis] <= limit if keep_less else b[axis] >= limit
            if a_in:
                found.append(a)
            if a_in != b_in:
                u = (limit - a[axis]) / (b[axis] - a[axis])
                cut = a[0] + u * (b[0] - a[0]), a[1] + u * (b[1] - a[1])
                found.append((limit, cut[1]) if axis == 0 else (cut[0], limit))
        ring = found
        if not ring:
            break
    return np.array(ring).reshape(-1, 2)


def area(surface: pygame.Surface, points: Spots, colour: Colour, smooth: bool = True) -> None:
    """A filled polygon with a smooth border."""
    if len(points) < 3:
        return
    line = [(float(x), float(y)) for x, y in (points.tolist() if isinstance(points, np.ndarray) else points)]
    w, h = surface.get_size()
    if any(not (-FAR < x < FAR + w and -FAR < y < FAR + h) for x, y in line):
        cut = clipped(np.array(line), (-64.0, -64.0, w + 64.0, h + 64.0))
        line = [(float(x), float(y)) for x, y in cut]
    if len(line) < 3:
        return
    # Filled between whole pixels, half a pixel inside so that the smooth border is not filled over.
    mx, my = sum(x for x, _ in line) / len(line), sum(y for _, y in line) / len(line)
    inner = []
    for x, y in line:
        away = hypot(mx - x, my - y) or 1.0
        inner.append((round(x + 0.5 * (mx - x) / away), round(y + 0.5 * (my - y) / away)))
    pygame.draw.polygon(surface, colour, inner)
    if smooth:
        pygame.draw.aalines(surface, colour, True, line)


def stroke(
    surface: pygame.Surface, points: Spots, colour: Colour, width: float, closed: bool = False, round_ends: bool = True
) -> None:
    """A smooth line of any width through the points."""
    # Plain numbers: most lines have few points, and arrays of so few cost more than they save.
    line = _line(points)
    if closed and len(line) > 1:
        line.append(line[0])
    if len(line) < 2:
        return
    if width <= 1.2:
        pygame.draw.aalines(surface, colour, False, line)
        return
    # A smooth line of one pixel reaches half a pixel to each side.
    half = (width - 1.0) / 2
    sides: list[tuple[float, float]] = []
    spots = [line[0]]
    for x, y in line[1:]:
        dx, dy = x - spots[-1][0], y - spots[-1][1]
        length = hypot(dx, dy)
        if length > 1e-6:
            sides.append((-dy / length, dx / length))
            spots.append((x, y))
    if not sides:
        return
    # A bend of many small angles is one band; at a sharp corner a new one begins, and a disc fills it.
    bends: list[tuple[float, float]] = []
    band = [spots[0]]
    offs = [sides[0]]
    for n, (sx, sy) in enumerate(sides):
        band.append(spots[n + 1])
        if n + 1 == len(sides):
            offs.append((sx, sy))
            _band(surface, band, offs, half, colour)
            break
        nx, ny = sides[n + 1]
        cosine = sx * nx + sy * ny
        if cosine < SHARP:
            offs.append((sx, sy))
            _band(surface, band, offs, half, colour)
            bends.append(spots[n + 1])
            band, offs = [spots[n + 1]], [(nx, ny)]
        else:
            # Where two sides meet the band keeps its width.
            offs.append(((sx + nx) / (1 + cosine), (sy + ny) / (1 + cosine)))
    if width > 2.4:
        if closed:
            bends.append(spots[0])
        elif round_ends:
            bends += [spots[0], spots[-1]]
        for at in bends:
            disc(surface, at, half, colour)


def _line(points: Spots) -> list[tuple[float, float]]:
    """The points as pairs of numbers, those far outside brought nearer."""
    found = points.tolist() if isinstance(points, np.ndarray) else points
    low, high = -FAR, 2 * FAR
    return [(min(max(float(x), low), high), min(max(float(y), low), high)) for x, y in found]


def _band(
    surface: pygame.Surface, line: list[tuple[float, float]], offs: list[tuple[float, float]], half: float,
    colour: Colour,
) -> None:  # fmt: skip
    if half > 1.6:
        left = [(x + half * a, y + half * b) for (x, y), (a, b) in zip(line, offs, strict=True)]
        right = [(x - half * a, y - half * b) for (x, y), (a, b) in zip(line, offs, strict=True)]
        ring = left + right[::-1]
        pygame.draw.polygon(surface, colour, [(round(x), round(y)) for x, y in ring])
        pygame.draw.aalines(surface, colour, True, ring)
        return
    # A thin one is made of lines side by side: an area of so few pixels would have holes.
    count = 2 + (half > 0.5) + (half > 1.0)
    for n in range(count):
        off = half * (2 * n / (count - 1) - 1)
        pygame.draw.aalines(
            surface, colour, False, [(x + off * a, y + off * b) for (x, y), (a, b) in zip(line, offs, strict=True)]
        )


def dashed(
    surface: pygame.Surface, points: Spots, colour: Colour, width: float, on: float, off: float, closed: bool = False
) -> None:
    """A line of dashes of ``on`` pixels with gaps of ``off``."""
    found = np.asarray(points, dtype=float).reshape(-1, 2)
    if closed and len(found) > 1:
        found = np.concatenate([found, found[:1]])
    dashed_lines(surface, [found], (*colour, 255), max(1, round(width)), on, off)


def dashed_lines(
    surface: pygame.Surface, rows: Sequence[Floats], colour: tuple[int, int, int, int], width: int, on: float,
    off: float,
) -> None:  # fmt: skip
    """Many dashed lines at once, pixel by pixel: drawing dash by dash would take ten times as long.

    The surface has 32 bits a pixel. What was there is replaced, on a see-through surface too.
    """
    rows = [np.clip(row, -FAR * 3, FAR * 3) for row in rows if len(row) > 1]
    if not rows:
        return
    w, h = surface.get_size()
    a = np.concatenate([row[:-1] for row in rows])
    b = np.concatenate([row[1:] for row in rows])
    length = np.hypot(*(b - a).T)
    total = np.concatenate([[0.0], np.cumsum(length)])
    # Each line begins with a dash.
    first = np.concatenate([[0], np.cumsum([len(row) - 1 for row in rows])])
    way = total[:-1] - np.repeat(total[first[:-1]], np.diff(first))
    low, high = np.minimum(a, b), np.maximum(a, b)
    keep = (high[:, 0] >= -width) & (high[:, 1] >= -width) & (low[:, 0] < w + width) & (low[:, 1] < h + width)
    a, b, length, way = a[keep], b[keep], length[keep], way[keep]
    count = np.ceil(length).astype(np.int64)
    pixels_in_all = int(count.sum())
    if not 0 < pixels_in_all < MOST_PIXELS:
        return
    within = np.arange(pixels_in_all) - np.repeat(np.cumsum(count) - count, count)
    # By a division: the remainder of floating numbers (fmod) takes ten times as long, and is most of the work.
    driven = np.repeat(way, count) + within
    phase = driven - np.floor(driven / (on + off)) * (on + off)
    seen = np.flatnonzero((phase >= 0) & (phase < on))
    owner = np.repeat(np.arange(len(a)), count)[seen]
    share = within[seen] / np.maximum(length, 1e-9)[owner]
    # Halves all go up: to the nearest even number would leave out every other pixel of some lines.
    x, y = (
        np.floor(start[owner] + share * (end - start)[owner] + 0.5).astype(np.int64) - (width - 1) // 2
        for start, end in zip(a.T, b.T, strict=True)
    )
    pixels = pygame.surfarray.pixels2d(surface)
    # pygame counts colours as signed numbers, the pixels are unsigned.
    value = surface.map_rgb(colour) & 0xFFFFFFFF
    for dx in range(width):
        for dy in range(width):
            inside = (x >= -dx) & (y >= -dy) & (x < w - dx) & (y < h - dy)
            pixels[x[inside] + dx, y[inside] + dy] = value


def corners(surface: pygame.Surface, points: Floats, colour: Colour, width: float, share: float = 0.28) -> None:
    """Only the corners of a polygon, each with ``share`` of its sides."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    for a, at, b in zip(points + share * (before - points), points, points + share * (after - points), strict=True):
        stroke(surface, [a, at, b], colour, width, round_ends=False)


def disc(surface: pygame.Surface, at: tuple[float, float], radius: float, colour: Colour) -> None:
    x, y = round(at[0]), round(at[1])
    if not (-2000 < x < 20_000 and -2000 < y < 20_000):
        return
    r = max(0, round(radius - 0.5)) if radius < 2 else round(radius)
    gfxdraw.filled_circle(surface, x, y, r, colour)
    gfxdraw.aacircle(surface, x, y, r, colour)


def ring(surface: pygame.Surface, at: tuple[float, float], radius: float, colour: Colour, width: float) -> None:
    """A circle as a line; of any size, since it is drawn as a polygon."""
    stroke(surface, circle(at, radius), colour, width, closed=True, round_ends=False)


def circle(at: tuple[float, float], radius: float) -> Floats:
    count = max(12, min(180, ceil(radius)))
    a = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.column_stack([at[0] + radius * np.cos(a), at[1] + radius * np.sin(a)])


def hatch(surface: pygame.Surface, points: Floats, colour: Colour, step: float, width: int = 1) -> None:
    """Slanting lines inside a polygon."""
    w, h = surface.get_size()
    inner = clipped(np.asarray(points, dtype=float), (0.0, 0.0, float(w), float(h)))
    if len(inner) < 3:
        return
    (x0, y0), (x1, y1) = np.floor(inner.min(axis=0)), np.ceil(inner.max(axis=0))
    size = int(x1 - x0) + 1, int(y1 - y0) + 1
    lines = pygame.Surface(size, pygame.SRCALPHA)
    for x in np.arange(-size[1], size[0], step):
        pygame.draw.line(lines, colour, (x, size[1]), (x + size[1], 0), width)
    mask = pygame.Surface(size, pygame.SRCALPHA)
    pygame.draw.polygon(mask, (255, 255, 255), (inner - (x0, y0)).tolist())
    lines.blit(mask, (0, 0), special_flags=pygame.BLEND_RGBA_MULT)
    surface.blit(lines, (x0, y0))


def arrow(
    surface: pygame.Surface, tail: tuple[float, float], tip: tuple[float, float], colour: Colour, width: float,
    head: float,
) -> None:  # fmt: skip
    way = hypot(tip[0] - tail[0], tip[1] - tail[1])
    if way < 1e-6:
        return
    ux, uy = (tip[0] - tail[0]) / way, (tip[1] - tail[1]) / way
    neck = tip[0] - ux * head, tip[1] - uy * head
    if way > head:
        stroke(surface, [tail, neck], colour, width, round_ends=False)
    area(surface, [tip, (neck[0] - uy * head * 0.5, neck[1] + ux * head * 0.5),
                   (neck[0] + uy * head * 0.5, neck[1] - ux * head * 0.5)], colour)  # fmt: skip


def plate(
    surface: pygame.Surface, rect: Rect | pygame.Rect, colour: Colour, edge: Colour | None, cut: float = 0.0,
    width: int = 1,
) -> None:  # fmt: skip
    """A card: a rectangle whose right upper corner is cut off, as of a label."""
    x0, y0, x1, y1 = rect.x, rect.y, rect.right - 1, rect.bottom - 1
    points = [(x0, y0), (x1 - cut, y0), (x1, y0 + cut), (x1, y1), (x0, y1)]
    pygame.draw.polygon(surface, colour, points)
    if edge is not None:
        if cut and width == 1:
            pygame.draw.aaline(surface, edge, points[1], points[2])
        pygame.draw.polygon(surface, edge, points, width)
