"""The words on the field: names of what is there, numbers of the segments, labels on plates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pygame
from numpy.typing import NDArray

from fieldsim.lettering import shorten
from fieldsim.window.camera import Camera
from fieldsim.window.paint.ground import robot_pixels, shape_pixels
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import ON_ACCENT, SMALL, Colour, Look, mixed
from fieldsim.window.paint.places import Places, beside
from fieldsim.window.paint.scene import Scene
from fieldsim.window.paint.tools import disc, plate

Floats = NDArray[np.float64]


__all__ = [
    "draw_callout",
    "draw_label",
    "draw_names",
    "draw_segment_numbers",
]

NAME_CELLS = 22
# A name that would cover so much of others is left out.
TOO_MUCH = 1.2


def draw_label(
    surface: pygame.Surface, layers: Layers, look: Look, words: str, at: tuple[float, float], colour: Colour
) -> None:
    """Words on a plate, kept inside the view."""
    if not words:
        return
    writer = layers.writer
    shown = writer.fit(words, surface.get_width() * 0.6, SMALL, 1)
    w, h = writer.width(shown, SMALL, 1) + 8 * writer.unit, writer.height(SMALL) + 3 * writer.unit
    x = min(max(at[0], w / 2 + 2), surface.get_width() - w / 2 - 2)
    y = min(max(at[1], h / 2 + 2), surface.get_height() - h / 2 - 2)
    rect = pygame.Rect(round(x - w / 2), round(y - h / 2), round(w), round(h))
    plate(surface, rect, look.card, colour)
    writer.put(surface, shown, (x, y), SMALL, look.ink, 1, "c")


def draw_callout(
    surface: pygame.Surface, layers: Layers, look: Look, lines: Sequence[str], at: tuple[float, float], colour: Colour
) -> None:
    """Lines on a plate below a point, or above it where there is no room; the first line weighs most."""
    writer = layers.writer
    most = min(surface.get_width() * 0.7, 420 * writer.unit)
    told = [(row, int(n == 0)) for n, line in enumerate(lines) for row in writer.lines(line, most, SMALL, int(n == 0))]
    high, pad = writer.height(SMALL), 5 * writer.unit
    w = max(writer.width(row, SMALL, style) for row, style in told) + 2 * pad
    h = len(told) * high + 1.2 * pad
    x = min(max(at[0], w / 2 + 2), surface.get_width() - w / 2 - 2)
    # Clear of the robot's mark, on the side where there is room.
    below = at[1] + 16 * writer.unit
    top = below if below + h < surface.get_height() - 2 else max(2.0, at[1] - 16 * writer.unit - h)
    rect = pygame.Rect(round(x - w / 2), round(top), round(w), round(h))
    plate(surface, rect, look.card, colour)
    for n, (row, style) in enumerate(told):
        writer.put(surface, row, (rect.x + pad, rect.y + 0.6 * pad + n * high), SMALL, look.ink, style)


def draw_names(
    surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers, key: tuple[object, ...]
) -> Floats:
    """Names of things; gives back the boxes (n, 4) that they take."""
    writer = layers.writer
    found = layers.value(
        "names", (*key, surface.get_size()), lambda: _place_names(surface, scene, camera, look, layers)
    )
    labels, boxes = found
    for text, at, colour, style in labels:
        writer.put(surface, text, at, SMALL, colour, style, "c", halo=look.mat)
    taken: Floats = boxes
    return taken


def _place_names(
    surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers
) -> tuple[list[tuple[str, tuple[float, float], Colour, int]], Floats]:
    writer, unit, field = layers.writer, scene.layout.unit, scene.run.field
    w, h = surface.get_size()
    places = Places((0.0, 0.0, float(w), float(h)))
    labels: list[tuple[str, tuple[float, float], Colour, int]] = []
    boxes: list[tuple[float, float, float, float]] = []

    def bounds(points: Floats) -> tuple[float, float, float, float]:
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    def write(name: str, centres: object, colour: Colour, style: int = 0, free: int = 0) -> None:
        text = shorten(name, NAME_CELLS)
        wide, high = writer.width(text, SMALL, style) + 3 * unit, writer.height(SMALL) * 0.9
        at, covered = places.find(centres(wide, high), wide, high, free)  # type: ignore[operator]
        inside = wide / 2 - 2 <= at[0] <= w - wide / 2 + 2 and high / 2 - 2 <= at[1] <= h - high / 2 + 2
        if covered > TOO_MUCH and free == 0:
            return
        if not inside:
            return
        labels.append((text, at, colour, style))
        boxes.append((at[0] - wide / 2, at[1] - high / 2, at[0] + wide / 2, at[1] + high / 2))

    def on_view(box: tuple[float, float, float, float]) -> bool:
        return box[2] >= 0 and box[3] >= 0 and box[0] <= w and box[1] <= h

    shapes = [bounds(shape_pixels(obstacle.shape, camera)) for obstacle in field.obstacles]
    places.keep_clear(np.array(shapes).reshape(-1, 4), 0.6)
    rings = []
    for target in field.targets:
        x, y = camera.pixel(*target.at)
        r = max(target.within * camera.zoom, 4 * unit)
        rings.append((x - r, y - r, x + r, y + r))
    places.keep_clear(np.array(rings).reshape(-1, 4), 0.9)
    if isinstance(scene.run.start, str):
        # The robot in its jig, with what it is dragged by. A start by eye is on the move, names are not.
        placed = np.concatenate([robot_pixels(part.points, scene.way.start, camera) for part in scene.parts])
        places.keep_clear(np.array([bounds(placed)]), 0.7)
        half = scene.run.robot.body.width / 2
        axle = bounds(robot_pixels(np.array([(0.0, half), (0.0, -half)]), scene.way.start, camera))
        grown = np.array([axle]) + 12 * unit * np.array([(-1, -1, 1, 1)])
        places.keep_clear(grown, 4.0)
    for jig in field.jigs:
        if jig.name == scene.run.start:
            x, y = camera.pixel(*jig.corner)
            r = 9 * unit
            box = (x - r, y - r, x + r, y + r)
            if on_view(box):
                write(jig.name, lambda a, b, box=box: beside(box, a, b), look.ink, 1)
    for obstacle, box in zip(field.obstacles, shapes, strict=True):
        if not on_view(box):
            continue
        x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        text = shorten(obstacle.name, NAME_CELLS)
        wide, high = writer.width(text, SMALL) + 3 * unit, writer.height(SMALL)
        fits = box[2] - box[0] > wide and box[3] - box[1] > high
        spots = [(x, y)] if fits else []
        write(obstacle.name, lambda a, b, box=box, spots=spots: spots + beside(box, a, b), look.ink, 0, len(spots))
    for target, box in zip(field.targets, rings, strict=True):
        if on_view(box):
            write(target.name, lambda a, b, box=box: beside(box, a, b), look.target, 2)
    for line in field.lines:
        a, b = camera.to_pixels([line.start, line.end])
        if not on_view(bounds(np.stack([a, b]))):
            continue
        spots = [tuple(a + u * (b - a)) for u in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)]
        off = line.width * camera.zoom / 2 + 3 * unit
        write(
            line.name,
            lambda wide, high, spots=spots, off=off: [(x + s * (wide / 2 + off), y) for x, y in spots for s in (1, -1)],
            mixed(look.line_edge, look.ink, 0.45),
        )
    for start_area in field.start_areas:
        box = bounds(shape_pixels(start_area.shape, camera))
        if not on_view(box):
            continue

        def rows(wide: float, high: float, box: tuple[float, float, float, float] = box) -> Floats:
            x0, x1 = max(box[0], 0) + wide * 0.58, min(box[2], w) - wide * 0.58
            y0, y1 = max(box[1], 0) + high * 0.8, min(box[3], h) - high * 0.8
            return np.array([(x, y) for y in np.linspace(y0, y1, 6) for x in np.linspace(x0, x1, 4)])

        write(start_area.name, rows, look.faint)
    taken = np.array(boxes + [tuple(ring) for ring in rings]).reshape(-1, 4)
    return labels, taken


def draw_segment_numbers(
    surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers, boxes: Floats,
    key: tuple[object, ...],
) -> None:  # fmt: skip
    """Each segment's number beside its middle; those where the robot stands, beside the place."""
    unit, writer = scene.layout.unit, layers.writer
    r = 8.2 * unit
    troubled = {segment for segment, _ in scene.troubled}
    found = layers.value(
        "numbers", (*key, surface.get_size()), lambda: _place_numbers(surface.get_size(), scene, camera, boxes, r)
    )
    for number, at, (x, y) in found:
        hot, chosen = number in troubled, number == scene.segment
        pygame.draw.aaline(surface, look.path, at, (x, y))
        _badge(surface, (x, y), r, look, hot, chosen)
        text = str(number)
        size = SMALL
        ink = ON_ACCENT if chosen else look.ink
        writer.put(surface, text, (x, y + 0.5), size, ink, 1 if hot or chosen else 0, "c")


def _place_numbers(
    size: tuple[int, int], scene: Scene, camera: Camera, boxes: Floats, r: float
) -> list[tuple[int, tuple[float, float], tuple[float, float]]]:
    w, h = size
    places = Places((0.0, 0.0, float(w), float(h)))
    places.keep_clear(boxes, 3.0)
    lines = [camera.to_pixels(poses) for poses in scene.way.segments]
    if lines:
        line = np.concatenate(lines)
        places.keep_clear(np.concatenate([line - 0.4 * r, line + 0.4 * r], axis=1), 1.5)
    angles = np.radians(np.arange(90, 450, 45))
    unit_ways = np.column_stack([np.cos(angles), -np.sin(angles)]) * r
    ways = np.concatenate([k * unit_ways for k in (1.7, 2.9)])
    found = []
    for g, line in enumerate(lines):
        if len(line) > 1:
            steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
            at = np.array([np.interp(steps[-1] / 2, steps, line[:, i]) for i in (0, 1)])
        else:
            at = line[0]
        if 0 <= at[0] < w and 0 <= at[1] < h:
            middle, _ = places.find(at + ways, 2.2 * r, 2.2 * r)
            found.append((g + 1, (float(at[0]), float(at[1])), middle))
    return found


def _badge(surface: pygame.Surface, at: tuple[float, float], r: float, look: Look, hot: bool, chosen: bool) -> None:
    """The disc a number stands in, with a double edge where trials fail."""
    disc(surface, at, r * (1.36 if hot else 1.12), look.fail if hot else look.path)
    if hot:
        disc(surface, at, r * 1.12, look.casing)
        disc(surface, at, r * 1.02, look.fail)
    disc(surface, at, r * (0.94 if hot else 1.0), look.accent if chosen else look.card)
