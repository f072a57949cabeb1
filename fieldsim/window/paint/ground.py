"""What stays on the field: mat, grid, lines, models, walls, jigs; and the rulers along it."""

from __future__ import annotations

from math import cos, floor, log10, radians, sin

import numpy as np
import pygame
from numpy.typing import NDArray

from fieldsim.draw.swept import corners_at
from fieldsim.model import Round, Shape
from fieldsim.sim.motion import Pose
from fieldsim.sim.shapes import meet, outline, solids
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import SMALL, Look, mixed
from fieldsim.window.paint.othertables import draw_other_tables
from fieldsim.window.paint.scene import Scene, visible
from fieldsim.window.paint.tools import area, arrow, circle, dashed, hatch, ring, stroke

Floats = NDArray[np.float64]

__all__ = [
    "draw_ground",
    "draw_ruler_marks",
    "draw_rulers",
    "robot_pixels",
    "shape_pixels",
    "step_for",
]


def step_for(zoom: float, least: float) -> float:
    """A step of 1, 2 or 5 times a power of ten, mm, that is at least ``least`` pixels."""
    rough = least / zoom
    power = 10.0 ** floor(log10(rough))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= rough * 0.999)


def shape_pixels(shape: Shape, camera: Camera) -> Floats:
    if isinstance(shape, Round):
        return circle(camera.pixel(*shape.center), shape.radius * camera.zoom)
    return camera.to_pixels(outline(shape))


def robot_pixels(points: Floats, pose: Pose, camera: Camera) -> Floats:
    return camera.to_pixels(corners_at(points, pose))


def draw_ground(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    unit = scene.layout.unit
    field = scene.run.field
    w, d = field.size
    surface.fill(look.table)
    edge = camera.to_pixels([(0, 0), (w, 0), (w, d), (0, d)])
    (x0, y0), (x1, y1) = edge[3], edge[1]
    inner = pygame.Rect(round(x0), round(y0), round(x1) - round(x0), round(y1) - round(y0))
    shown = inner.clip(surface.get_rect())
    surface.fill(look.mat, shown)
    if scene.mat is not None:
        _mat(surface, scene, camera, look, layers, shown)
    _grid(surface, camera, look, unit, field.size, shown)
    for start_area in field.start_areas:
        points = shape_pixels(start_area.shape, camera)
        if scene.mat is None:
            area(surface, points, look.area)
        dashed(surface, points, look.area_edge, 1.3 * unit, 2.5 * unit, 3 * unit, closed=True)
    for line in field.lines:
        a, b = camera.to_pixels([line.start, line.end])
        wide = max(2.0, line.width * camera.zoom)
        stroke(surface, [a, b], look.line_edge, wide + 1.5, round_ends=False)
        stroke(surface, [a, b], look.line, wide, round_ends=False)
    for obstacle, solid in zip(field.obstacles, solids(field), strict=False):
        points = shape_pixels(obstacle.shape, camera)
        if not visible(Rect(0, 0, *surface.get_size()), points):
            continue
        met = any(meet(part, solid) for part in scene.parts)
        hit = met and obstacle.name in scene.touched
        if met:
            area(surface, points, look.obstacle)
            if hit:
                # Touched: a double edge, so that it can be told without the colour too.
                stroke(surface, points, look.obstacle_edge, 5.2 * unit, closed=True)
                stroke(surface, points, look.fail, 3.0 * unit, closed=True)
            else:
                stroke(surface, points, look.obstacle_edge, 1.4 * unit, closed=True)
        else:
            hatch(surface, points, mixed(look.obstacle_edge, look.mat, 0.35), 6 * unit)
            dashed(surface, points, look.area_edge, 1.3 * unit, 5 * unit, 3 * unit, closed=True)
    draw_other_tables(surface, field, camera, look, unit)
    _walls(surface, scene, look, inner, unit)
    for target in field.targets:
        at = camera.pixel(*target.at)
        r = max(target.within * camera.zoom, 3.0 * unit)
        ring(surface, at, r + 1.6 * unit, look.casing, 1.4 * unit)
        ring(surface, at, r, look.target, 1.9 * unit)
        for dx, dy in ((1, 0), (0, 1)):
            c = 3.0 * unit
            stroke(surface, [(at[0] - c * dx, at[1] - c * dy), (at[0] + c * dx, at[1] + c * dy)], look.target, 1.2)
        if target.heading is not None:
            c, s = cos(radians(target.heading)), -sin(radians(target.heading))
            tip = at[0] - c * (r + 2 * unit), at[1] - s * (r + 2 * unit)
            arrow(surface, (tip[0] - c * 17 * unit, tip[1] - s * 17 * unit), tip, look.target, 1.6 * unit, 7 * unit)
    for jig in field.jigs:
        _jig(surface, camera, look, jig.corner, jig.heading, jig.holds, scene.run.start == jig.name, unit)


def _mat(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers, shown: pygame.Rect) -> None:
    mat = scene.mat
    assert mat is not None
    w, h = mat.surface.get_size()
    scale = mat.width * camera.zoom / w
    x, y = camera.pixel(mat.corner[0], mat.corner[1] + mat.width * h / w)
    big = max(1, round(w * scale)), max(1, round(h * scale))
    if big[0] * big[1] <= 12_000_000:
        picture = layers.value("mat", (mat, big), lambda: pygame.transform.smoothscale(_deep(mat.surface), big))
        before = surface.get_clip()
        surface.set_clip(shown)
        surface.blit(picture, (round(x), round(y)))
        surface.set_clip(before)
    else:
        # Seen from near: only the part of the picture that is in the view.
        left, top = max(0, int((shown.x - x) / scale)), max(0, int((shown.y - y) / scale))
        right, low = min(w, int((shown.right - x) / scale) + 2), min(h, int((shown.bottom - y) / scale) + 2)
        if right > left and low > top:
            crop = _deep(mat.surface).subsurface(pygame.Rect(left, top, right - left, low - top))
            picture = pygame.transform.scale(
                crop, (max(1, round((right - left) * scale)), max(1, round((low - top) * scale)))
            )
            before = surface.get_clip()
            surface.set_clip(shown)
            surface.blit(picture, (round(x + left * scale), round(y + top * scale)))
            surface.set_clip(before)
    veil = pygame.Surface(shown.size, pygame.SRCALPHA)
    veil.fill((*look.mat, look.veil))
    surface.blit(veil, shown)


def _deep(picture: pygame.Surface) -> pygame.Surface:
    """The picture with at least 24 bits a pixel, as smooth scaling needs."""
    if picture.get_bitsize() in (24, 32):
        return picture
    found = pygame.Surface(picture.get_size(), 0, 32)
    found.blit(picture, (0, 0))
    return found


def _grid(
    surface: pygame.Surface, camera: Camera, look: Look, unit: float, size: tuple[float, float], shown: pygame.Rect
) -> None:
    step = step_for(camera.zoom, 36 * unit)
    for axis in (0, 1):
        count = int(size[axis] / step + 1e-9)
        for n in range(1, count + 1):
            at = camera.pixel(n * step, n * step)[axis]
            if axis == 0 and shown.left <= at < shown.right:
                pygame.draw.line(surface, look.grid, (round(at), shown.top), (round(at), shown.bottom - 1))
            elif axis == 1 and shown.top <= at < shown.bottom:
                pygame.draw.line(surface, look.grid, (shown.left, round(at)), (shown.right - 1, round(at)))


def _walls(surface: pygame.Surface, scene: Scene, look: Look, inner: pygame.Rect, unit: float) -> None:
    if scene.run.field.walls is None:
        corners = [inner.topleft, inner.topright, inner.bottomright, inner.bottomleft]
        dashed(surface, np.array(corners, dtype=float), look.wall, 1.8 * unit, 7 * unit, 4 * unit, closed=True)
        return
    thick = max(2, round(5 * unit))
    # Outside the playing ground, so that its inner edge is where the robot touches.
    for rect in (
        (inner.left - thick, inner.top - thick, inner.width + 2 * thick, thick),
        (inner.left - thick, inner.bottom, inner.width + 2 * thick, thick),
        (inner.left - thick, inner.top, thick, inner.height),
        (inner.right, inner.top, thick, inner.height),
    ):
        surface.fill(look.wall, rect)


def _jig(
    surface: pygame.Surface, camera: Camera, look: Look, corner: tuple[float, float], heading: float, holds: str,
    used: bool, unit: float,
) -> None:  # fmt: skip
    at = np.array(camera.pixel(*corner))
    ahead = np.array([cos(radians(heading)), -sin(radians(heading))])
    left = np.array([ahead[1], -ahead[0]])
    end, side = holds.split()
    length = 15 * unit
    along = at + ahead * length * (1 if end == "rear" else -1)
    across = at + left * length * (1 if side == "right" else -1)
    points = [along, at, across]
    if used:
        stroke(surface, points, look.obstacle_edge, 6 * unit, round_ends=False)
        stroke(surface, points, look.jig, 3.4 * unit, round_ends=False)
    else:
        stroke(surface, points, look.casing, 4.6 * unit, round_ends=False)
        stroke(surface, points, look.other_jig, 2.6 * unit, round_ends=False)


def draw_rulers(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    """Millimetres along the left and the lower edge, as on a tape laid there."""
    camera, places, writer = scene.camera, scene.layout, layers.writer
    step = step_for(camera.zoom, 46 * places.unit)
    fine = step / 5 if f"{step:e}"[0] != "2" else step / 4
    for rect, axis in ((places.ruler_below, 0), (places.ruler_left, 1)):
        before = window.get_clip()
        shown = before.clip(pygame.Rect(rect.box))
        if rect.w < 4 or rect.h < 4 or not shown.size[0] or not shown.size[1]:
            continue
        window.set_clip(shown)
        window.fill(look.press)
        size = scene.run.field.size[axis]
        for n in range(int(size / fine + 1e-9) + 1):
            value = n * fine
            at = round(camera.pixel(value, value)[axis])
            inside = (
                places.field.x <= at <= places.field.right if axis == 0 else places.field.y <= at < places.field.bottom
            )
            if not inside:
                continue
            whole = n % round(step / fine) == 0
            length = places.px(6 if whole else 3)
            if axis == 0:
                pygame.draw.line(window, look.faint, (at, rect.y), (at, rect.y + length))
            else:
                pygame.draw.line(window, look.faint, (rect.right - 1, at), (rect.right - 1 - length, at))
            if whole:
                text = f"{value:g}"
                made = writer.picture(text, SMALL, look.faint)
                if axis == 0:
                    if at + made.get_width() + 3 < rect.right:
                        window.blit(made, (at + 2, rect.bottom - made.get_height()))
                else:
                    made = pygame.transform.rotate(made, 90)
                    if at - made.get_height() - 2 > rect.y:
                        window.blit(made, (rect.x, at - made.get_height() - 2))
        window.set_clip(before)


def draw_ruler_marks(window: pygame.Surface, scene: Scene, look: Look) -> None:
    """On the rulers, where the robot is."""
    camera, places = scene.camera, scene.layout
    robot = scene.pose if scene.pose is not None else scene.way.pose_at(scene.head)
    s = places.px(4)
    rect = places.ruler_below
    at, y = camera.pixel(robot[0], robot[1])
    if places.field.x < at < places.field.right:
        area(window, [(at, rect.y), (at - s, rect.y + 1.6 * s), (at + s, rect.y + 1.6 * s)], look.ink)
    rect = places.ruler_left
    if places.field.y < y < places.field.bottom:
        x = rect.right - 1
        area(window, [(x, y), (x - 1.6 * s, y - s), (x - 1.6 * s, y + s)], look.ink)
