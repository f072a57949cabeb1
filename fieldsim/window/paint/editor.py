"""One frame of the window in which a field is drawn, painted from a scene. Nothing is computed here but where things
are drawn; what a run's window shows too is painted by its code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import cos, hypot, radians, sin
from typing import Any

import numpy as np
import pygame
from numpy.typing import NDArray

from fieldsim.lettering import shorten
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.cards import draw_buttons, draw_head, draw_numbers, draw_switches
from fieldsim.window.paint.ground import draw_ground, draw_rulers, shape_pixels
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import DARK, LIGHT, ON_ACCENT, SMALL, Look
from fieldsim.window.paint.menu import draw_menu
from fieldsim.window.paint.names import draw_label, draw_names
from fieldsim.window.paint.over import draw_error, draw_help, draw_tip, draw_toast
from fieldsim.window.paint.places import Places, beside
from fieldsim.window.paint.scene import FieldScene, Grip, Mat
from fieldsim.window.paint.toolbox import draw_here, draw_tools
from fieldsim.window.paint.tools import area, arrow, dashed, disc, ring, stroke

Floats = NDArray[np.float64]

__all__ = ["paint_editor"]

Draw = Callable[[pygame.Surface, FieldScene, Look, Layers], None]

# How much of an obstacle is seen over a picture of the mat, of 255: what is traced must show through.
SEEN = 165
# Pictures with more pixels than this on the screen are not kept scaled as a whole.
MOST_SCALED = 12_000_000


def paint_editor(surface: pygame.Surface, scene: FieldScene, layers: Layers) -> None:
    """Paint everything anew onto a surface of the layout's size; ``layers`` belongs to the window."""
    look = DARK if scene.dark else LIGHT
    places = scene.layout
    layers.writer.unit = places.unit
    surface.fill(look.table)
    _field(surface, scene, look, layers)
    same = look.name, places
    hover = scene.hover if scene.hover is not None and scene.hover.startswith(("button", "number", "switch")) else None
    ruled = scene.camera, scene.run.field.size
    parts: tuple[tuple[str, Rect, tuple[Any, ...], tuple[Draw, ...]], ...] = (
        ("ruler left", places.ruler_left, ruled, (draw_rulers,)),
        ("ruler below", places.ruler_below, ruled, (draw_rulers,)),
        ("head", places.head, (scene.title, scene.changed, scene.off, hover), (draw_head, draw_buttons)),
        ("here", places.odds, (scene.here,), (draw_here,)),
        ("numbers", places.numbers, (scene.numbers, hover), (draw_numbers,)),
        ("switches", places.switches, (scene.switches, hover), (draw_switches,)),
        ("tools", places.controls, (scene.tool, scene.off, hover), (draw_tools,)),
    )
    canvas = layers.canvas("window", surface.get_size())
    for name, rect, key, draws in parts:

        def draw(rect: Rect = rect, draws: tuple[Draw, ...] = draws) -> pygame.Surface:
            canvas.set_clip(pygame.Rect(rect.box))
            canvas.fill(look.table)
            for each in draws:
                each(canvas, scene, look, layers)
            canvas.set_clip(None)
            return canvas

        layers.value(f"part {name}", (*same, *key), draw)
        surface.blit(canvas, (rect.x, rect.y), rect.box)
    _pointer_marks(surface, scene, look)
    draw_menu(surface, places.field, places.unit, scene.menu, look, layers)
    draw_tip(surface, scene, look, layers)
    draw_toast(surface, scene, look, layers)
    draw_error(surface, scene, look, layers)
    draw_help(surface, scene, look, layers)


# --- the field ---------------------------------------------------------------------------------------------------


def _field(window: pygame.Surface, scene: FieldScene, look: Look, layers: Layers) -> None:
    view = scene.layout.field
    if view.w < 8 or view.h < 8:
        return
    camera = replace(scene.camera, view=Rect(0, 0, view.w, view.h))
    size = (view.w, view.h)
    # Not a part of the window's own surface: in such a part pygame 2.6 blends smooth lines with the wrong pixels.
    surface = layers.canvas("field", size)
    key = camera, look.name, scene.layout.unit, scene.run.field, scene.mat, scene.laying
    surface.blit(layers.layer("ground", key, size, lambda s: _ground(s, scene, camera, look, layers)), (0, 0))
    _chosen(surface, scene, camera, look)
    if not scene.laying:
        boxes = draw_names(surface, scene, camera, look, layers, key)
        _jig_names(surface, scene, camera, look, layers, boxes, key)
    else:
        boxes = np.zeros((0, 4))
    _guides(surface, scene, camera, look)
    _draft(surface, scene, camera, look)
    _known(surface, scene, camera, look, layers)
    for grip in scene.grips:
        _grip(surface, scene, camera, look, grip)
    _guide_words(surface, scene, camera, look, layers, boxes)
    _measure(surface, scene, camera, look, layers)
    window.blit(surface, (view.x, view.y))


def _ground(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, layers: Layers) -> None:
    if scene.laying and scene.mat is not None:
        _lay(surface, scene, scene.mat, camera, look, layers)
        return
    draw_ground(surface, scene, camera, look, layers)
    if scene.mat is None or not scene.run.field.obstacles:
        return
    # The same without obstacles laid over it thinly: all else stays, they become as glass.
    run = replace(scene.run, field=replace(scene.run.field, obstacles=()))
    bare = layers.canvas("bare", surface.get_size())
    draw_ground(bare, replace(scene, run=run), camera, look, layers)
    bare.set_alpha(255 - SEEN)
    surface.blit(bare, (0, 0))
    bare.set_alpha(None)


def _lay(surface: pygame.Surface, scene: FieldScene, mat: Mat, camera: Camera, look: Look, layers: Layers) -> None:
    """The picture as it is, whole, with the field's edge over it, and what is drawn as thin lines."""
    unit, field = scene.layout.unit, scene.run.field
    surface.fill(look.table)
    w, d = field.size
    corners = camera.to_pixels([(0, 0), (w, 0), (w, d), (0, d)])
    pygame.draw.polygon(surface, look.mat, np.clip(corners, -20_000, 20_000).tolist())
    _picture(surface, mat, camera, layers)
    for shape in (*(thing.shape for thing in field.start_areas), *(thing.shape for thing in field.obstacles)):
        points = shape_pixels(shape, camera)
        stroke(surface, points, look.casing, 3.0 * unit, closed=True)
        stroke(surface, points, look.obstacle_edge, 1.3 * unit, closed=True)
    stroke(surface, corners, look.casing, 6 * unit, closed=True)
    stroke(surface, corners, look.wall, 3.4 * unit, closed=True)


def _picture(surface: pygame.Surface, mat: Mat, camera: Camera, layers: Layers) -> None:
    w, h = mat.surface.get_size()
    scale = mat.width * camera.zoom / w
    x, y = camera.pixel(mat.corner[0], mat.corner[1] + mat.width * h / w)
    big = max(1, round(w * scale)), max(1, round(h * scale))
    deep = layers.value("deep picture", (mat.surface,), lambda: _deep(mat.surface))
    if big[0] * big[1] <= MOST_SCALED:
        made = layers.value(
            "whole picture", (mat.surface, big), lambda: pygame.transform.smoothscale(deep, big)
        )  # fmt: skip
        surface.blit(made, (round(x), round(y)))
        return
    # Seen from near: only the part of it that is in the view.
    wide, high = surface.get_size()
    left, top = max(0, int(-x / scale)), max(0, int(-y / scale))
    right, low = min(w, int((wide - x) / scale) + 2), min(h, int((high - y) / scale) + 2)
    if right > left and low > top:
        crop = deep.subsurface(pygame.Rect(left, top, right - left, low - top))
        size = max(1, round((right - left) * scale)), max(1, round((low - top) * scale))
        surface.blit(pygame.transform.scale(crop, size), (round(x + left * scale), round(y + top * scale)))


def _deep(picture: pygame.Surface) -> pygame.Surface:
    """The picture with at least 24 bits a pixel, as smooth scaling needs."""
    if picture.get_bitsize() in (24, 32):
        return picture
    found = pygame.Surface(picture.get_size(), 0, 32)
    found.blit(picture, (0, 0))
    return found


def _chosen(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look) -> None:
    """A band along the edge of each picked thing."""
    if scene.chosen is not None:
        for each in (*scene.also, scene.chosen):
            _band(surface, scene, camera, look, *each)


def _band(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, kind: str, index: int) -> None:
    unit, field = scene.layout.unit, scene.run.field

    def band(points: Any, closed: bool = True) -> None:
        stroke(surface, points, look.ink, 6.0 * unit, closed=closed, round_ends=False)
        stroke(surface, points, look.accent, 3.6 * unit, closed=closed, round_ends=False)

    match kind:
        case "walls":
            w, d = field.size
            band(camera.to_pixels([(0, 0), (w, 0), (w, d), (0, d)]))
        case "obstacle":
            band(shape_pixels(field.obstacles[index].shape, camera))
        case "start area":
            band(shape_pixels(field.start_areas[index].shape, camera))
        case "line":
            line = field.lines[index]
            a, b = camera.to_pixels([line.start, line.end])
            way = b - a
            along = way / max(float(np.hypot(*way)), 1e-9)
            aside = np.array([-along[1], along[0]]) * max(line.width * camera.zoom / 2, 2 * unit)
            band([a + aside, b + aside, b - aside, a - aside])
        case "target":
            target = field.targets[index]
            r = max(target.within * camera.zoom, 3 * unit)
            for tone, wide in ((look.ink, 6.0), (look.accent, 3.6)):
                ring(surface, camera.pixel(*target.at), r, tone, wide * unit)
        case "jig":
            jig = field.jigs[index]
            for tone, wide in ((look.ink, 6.0), (look.accent, 3.6)):
                ring(surface, camera.pixel(*jig.corner), 19 * unit, tone, wide * unit)


def _jig_names(
    surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, layers: Layers, boxes: Floats,
    key: tuple[object, ...],
) -> None:  # fmt: skip
    """Names of jigs: where a run is shown only that of its own is."""
    writer, unit = layers.writer, scene.layout.unit
    w, h = surface.get_size()

    def place() -> list[tuple[str, tuple[float, float]]]:
        places = Places((0.0, 0.0, float(w), float(h)))
        places.keep_clear(boxes, 4.0)
        found = []
        for jig in scene.run.field.jigs:
            x, y = camera.pixel(*jig.corner)
            if 0 <= x <= w and 0 <= y <= h:
                text, r = shorten(jig.name, 22), 12 * unit
                wide, high = writer.width(text, SMALL, 1) + 4 * unit, writer.height(SMALL)
                spots = [
                    (min(max(px, wide / 2), w - wide / 2), min(max(py, high / 2), h - high / 2))
                    for px, py in beside((x - r, y - r, x + r, y + r), wide, high)
                ]
                found.append((text, places.find(spots, wide, high)[0]))
        return found

    for text, at in layers.value("jig names", (*key, (w, h)), place):
        writer.put(surface, text, at, SMALL, look.other_jig, 1, "c", halo=look.mat)


def _guides(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look) -> None:
    """What is snapped to: a line, or a ring where it is a point."""
    unit = scene.layout.unit
    for guide in scene.guides:
        a, b = camera.to_pixels([guide.start, guide.end])
        if float(np.hypot(*(b - a))) < 1.0:
            ring(surface, (float(a[0]), float(a[1])), 8 * unit, look.casing, 4 * unit)
            ring(surface, (float(a[0]), float(a[1])), 8 * unit, look.guide, 2 * unit)
            continue
        dashed(surface, [a, b], look.casing, 3.6 * unit, 10 * unit, 4 * unit)
        dashed(surface, [a, b], look.guide, 1.6 * unit, 10 * unit, 4 * unit)


def _guide_words(
    surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, layers: Layers, boxes: Floats
) -> None:
    """What it snaps to in words, where they cover neither a name nor the place itself."""
    unit, writer = scene.layout.unit, layers.writer
    w, h = surface.get_size()
    for guide in scene.guides:
        if not guide.words:
            continue
        words = writer.fit(guide.words, w * 0.6, SMALL, 1)
        wide, high = writer.width(words, SMALL, 1) + 10 * unit, writer.height(SMALL) + 4 * unit
        places = Places((0.0, 0.0, float(w), float(h)))
        places.keep_clear(boxes, 1.0)
        a, b = camera.to_pixels([guide.start, guide.end])
        if scene.pointer is not None:
            x, y = camera.pixel(*scene.pointer)
            r = 26 * unit
            places.keep_clear(np.array([(x - r, y - r, x + r + 60 * unit, y + r)]), 2.0)
        r = 10 * unit
        near = beside((float(b[0]) - r, float(b[1]) - r, float(b[0]) + r, float(b[1]) + r), wide, high)
        spots = near if float(np.hypot(*(b - a))) < 1.0 else [a + u * (b - a) for u in (0.5, 0.3, 0.7, 0.15, 0.85)]
        at, _ = places.find([(float(x), float(y)) for x, y in spots], wide, high)
        draw_label(surface, layers, look, words, at, look.guide)


def _draft(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look) -> None:
    """An outline that is not closed yet, and where the next press would set a point."""
    unit = scene.layout.unit
    if scene.draft:
        points = camera.to_pixels(scene.draft)
        if len(points) > 1:
            stroke(surface, points, look.casing, 4.6 * unit)
            stroke(surface, points, look.ink, 2.2 * unit)
        if len(points) > 2:
            dashed(surface, points[[-1, 0]], look.ink, 1.4 * unit, 5 * unit, 4 * unit)
        for n, (x, y) in enumerate(points[:-1] if scene.spot is not None else points):
            disc(surface, (x, y), (6.5 if n == 0 else 4.5) * unit, look.ink)
            disc(surface, (x, y), (4.5 if n == 0 else 3.0) * unit, look.accent)
    if scene.spot is not None:
        _cross(surface, camera.pixel(*scene.spot), 9 * unit, look, unit)


def _cross(surface: pygame.Surface, at: tuple[float, float], r: float, look: Look, unit: float) -> None:
    """Cross-hairs with a free middle, so that what is aimed at can be seen."""
    x, y = at
    for tone, wide in ((look.casing, 4.0), (look.ink, 1.6)):
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            ends = [(x + 0.35 * r * dx, y + 0.35 * r * dy), (x + 1.3 * r * dx, y + 1.3 * r * dy)]
            stroke(surface, ends, tone, wide * unit, round_ends=False)


def _known(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, layers: Layers) -> None:
    """Two points whose distance is known: a tape between them."""
    unit = scene.layout.unit
    if not scene.known:
        return
    points = camera.to_pixels(scene.known)
    if len(points) == 2:
        stroke(surface, points, look.ink, 5.4 * unit, round_ends=False)
        stroke(surface, points, look.accent, 3.0 * unit, round_ends=False)
    for n, (x, y) in enumerate(points):
        disc(surface, (x, y), 7.5 * unit, look.ink)
        disc(surface, (x, y), 5.5 * unit, look.accent if n == 0 else look.card)
        disc(surface, (x, y), 1.8 * unit, look.ink if n else ON_ACCENT)
    if len(points) == 2:
        x, y = points.mean(axis=0)
        draw_label(surface, layers, look, scene.known_words, (x, y - 16 * unit), look.ink)


def _grip(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, grip: Grip) -> None:
    unit = scene.layout.unit
    x, y = camera.pixel(*grip.at)
    if not (-50 < x < surface.get_width() + 50 and -50 < y < surface.get_height() + 50):
        return
    ground = look.accent if grip.hot else look.card
    tone = ON_ACCENT if grip.hot else look.ink
    c, s = cos(radians(grip.heading)), -sin(radians(grip.heading))
    if grip.kind == "turn":
        # On a stem, so that it is seen which thing it turns.
        stem = [(x - 20 * unit * c, y - 20 * unit * s), (x - 8 * unit * c, y - 8 * unit * s)]
        stroke(surface, stem, look.casing, 3.6 * unit)
        stroke(surface, stem, look.ink, 1.8 * unit)
        disc(surface, (x, y), 9.6 * unit, look.ink)
        disc(surface, (x, y), 8.2 * unit, ground)
        a = np.radians(np.linspace(-130, 130, 15) + 90)
        points = np.column_stack([x + 4.6 * unit * np.cos(a), y - 4.6 * unit * np.sin(a)])
        stroke(surface, points, tone, 1.5 * unit)
        (bx, by), (ex, ey) = points[-3], points[-1]
        way = max(hypot(ex - bx, ey - by), 1e-6)
        tip = (ex + (ex - bx) / way * 3 * unit, ey + (ey - by) / way * 3 * unit)
        arrow(surface, (ex, ey), tip, tone, 1.5 * unit, 4.0 * unit)
        return
    if grip.kind == "edge":
        # A short bar across the way it is dragged.
        for half, thick, colour in ((8.4, 4.4, look.ink), (7.0, 3.0, ground)):
            area(surface, [
                (x + (a * thick * c - b * half * s) * unit, y + (a * thick * s + b * half * c) * unit)
                for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
            ], colour, smooth=True)  # fmt: skip
        return
    if grip.kind == "corner":
        r = 5.6 * unit
        for grow, colour in ((r + 1.5 * unit, look.ink), (r, ground)):
            area(surface, [(x - grow, y), (x, y - grow), (x + grow, y), (x, y + grow)], colour)
        return
    disc(surface, (x, y), 6.2 * unit, look.ink)
    disc(surface, (x, y), 4.8 * unit, ground)


def _measure(surface: pygame.Surface, scene: FieldScene, camera: Camera, look: Look, layers: Layers) -> None:
    if scene.measure is None:
        return
    words, at = scene.measure
    x, y = camera.pixel(*at)
    unit, writer = scene.layout.unit, layers.writer
    wide = writer.width(words, SMALL, 1)
    right = x + 18 * unit + wide + 10 * unit < surface.get_width()
    draw_label(
        surface, layers, look, words, (x + (18 * unit + wide / 2) * (1 if right else -1), y - 18 * unit), look.ink
    )


def _pointer_marks(window: pygame.Surface, scene: FieldScene, look: Look) -> None:
    """On the rulers, where the pointer is, or the place it snaps to."""
    at = scene.spot if scene.spot is not None else scene.pointer
    if at is None:
        return
    places = scene.layout
    s = places.px(4)
    x, y = scene.camera.pixel(*at)
    rect = places.ruler_below
    if places.field.x < x < places.field.right:
        area(window, [(x, rect.y), (x - s, rect.y + 1.6 * s), (x + s, rect.y + 1.6 * s)], look.ink)
    rect = places.ruler_left
    if places.field.y < y < places.field.bottom:
        right = rect.right - 1
        area(window, [(right, y), (right - 1.6 * s, y - s), (right - 1.6 * s, y + s)], look.ink)
