"""The field in the window, and the run on it."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
import pygame
from numpy.typing import NDArray

from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.ground import draw_ground, robot_pixels, shape_pixels
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import ON_ACCENT, SMALL, Look, mixed
from fieldsim.window.paint.marks import pinch, small_mark
from fieldsim.window.paint.names import draw_callout, draw_label, draw_names, draw_segment_numbers
from fieldsim.window.paint.places import Places
from fieldsim.window.paint.scene import Handle, Scene, visible
from fieldsim.window.paint.shots import draw_lens, draw_shots
from fieldsim.window.paint.tools import area, arrow, corners, dashed, dashed_lines, disc, ring, stroke

Floats = NDArray[np.float64]


__all__ = ["draw_field", "draw_small", "draw_standing", "draw_waiting"]

MOST_TRIALS = 150
# Trials' points nearer to each other than this are not told apart, pixels.
THIN = 5.0


def draw_field(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    """Everything inside ``layout.field``."""
    view = scene.layout.field
    if view.w < 8 or view.h < 8:
        return
    camera = replace(scene.camera, view=Rect(0, 0, view.w, view.h))
    size = (view.w, view.h)
    # Not a part of the window's own surface: in such a part pygame 2.6 blends smooth lines with the wrong pixels.
    surface = layers.canvas("field", size)
    run = scene.run
    # Of the start only the jig it is in, if any, and of the robot only what it can touch: a hand that drags the one or
    # makes the other wider leaves the ground as it is.
    jig = run.start if isinstance(run.start, str) else None
    robot = run.robot, run.wear
    reaches = tuple((part.of, part.height) for part in scene.parts)
    ground = (camera, look.name, scene.layout.unit, run.field, reaches, jig, scene.touched, scene.mat)
    # Names keep clear of a robot that stands in a jig.
    names = (*ground, *(robot if jig is not None else ()))
    still = (*ground, robot, scene.way, scene.cloud, scene.segment, scene.thing, scene.flats, scene.sights)

    def draw(base: pygame.Surface) -> None:
        base.blit(layers.layer("ground", ground, size, lambda s: draw_ground(s, scene, camera, look, layers)), (0, 0))
        _moving(base, scene, camera, look, layers)
        _thing(base, scene, camera, look)
        _path(base, scene, camera, look)
        _ends(base, scene, camera, look)

    surface.blit(layers.layer("base", still, size, draw), (0, 0))
    _robot(surface, scene, camera, look, layers)
    _guides(surface, scene, camera, look)
    boxes = draw_names(surface, scene, camera, look, layers, names)
    draw_segment_numbers(surface, scene, camera, look, layers, boxes, (*names, scene.way))
    _failures(surface, scene, camera, look)
    draw_shots(surface, scene, camera, look)
    _guide_words(surface, scene, camera, look, layers, boxes)
    _picked(surface, scene, camera, look, layers)
    _pinch(surface, scene, camera, look, layers, boxes)
    draw_lens(surface, scene, camera, look, layers)
    for handle in scene.handles:
        _handle(surface, scene, camera, look, handle)
    window.blit(surface, (view.x, view.y))


def draw_waiting(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    """Everything inside ``layout.field`` where nothing is driven yet: the ground, and the robot if it has a pose."""
    view = scene.layout.field
    if view.w < 8 or view.h < 8:
        return
    camera = replace(scene.camera, view=Rect(0, 0, view.w, view.h))
    surface = layers.canvas("field", (view.w, view.h))
    run = scene.run
    jig = run.start if isinstance(run.start, str) else None
    ground = (camera, look.name, scene.layout.unit, run.field, jig, scene.mat)
    surface.blit(
        layers.layer("ground", ground, (view.w, view.h), lambda s: draw_ground(s, scene, camera, look, layers)), (0, 0)
    )
    if scene.pose is not None:
        _robot(surface, scene, camera, look, layers)
    draw_names(surface, scene, camera, look, layers, (*ground, scene.pose, run.robot, run.wear))
    window.blit(surface, (view.x, view.y))


def draw_small(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    """A small map: the ground, and of a run that drives what it sweeps, its way and where it stands."""
    draw_ground(surface, scene, camera, look, layers)
    if scene.way.segments:
        layer = layers.canvas("small", surface.get_size(), see_through=True)
        _swept(layer, scene, camera, look)
        surface.blit(layer, (0, 0))
        _path(surface, scene, camera, look)
        _robot(surface, scene, camera, look, layers)


def draw_standing(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    """The robot alone, where it stands."""
    surface.fill(look.mat)
    _robot(surface, scene, camera, look, layers)


def _moving(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    """Swept ground and trials: one layer, so that it costs one blending."""
    layer = layers.canvas("moving", surface.get_size(), see_through=True)
    _swept(layer, scene, camera, look)
    if scene.cloud is not None:
        _cloud(layer, scene, camera, look)
    surface.blit(layer, (0, 0))
    if scene.cloud is not None:
        tone = mixed(look.trial, look.mat, 0.75)
        r = max(1, round(1.5 * scene.layout.unit))
        for x, y in camera.to_pixels(scene.cloud.ends[:MOST_TRIALS][~np.array(scene.cloud.fails[:MOST_TRIALS], bool)]):
            pygame.draw.circle(surface, tone, (round(x), round(y)), r)


def _swept(layer: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    tone = (*look.swept, look.swept_alpha)
    polygon = pygame.draw.polygon
    bounds = Rect(0, 0, *layer.get_size())
    # Seen from afar every other pose on a bend will do. A segment begins where the one before it ended.
    stride = 1 if camera.zoom > 1.0 else 2
    poses = np.concatenate([
        np.concatenate([each[:-1:stride], each[-1:]]) if len(each) > 3 else each for each in scene.way.segments
    ])  # fmt: skip
    h = np.radians(poses[:, 2])
    turn = np.stack([np.cos(h), np.sin(h), -np.sin(h), np.cos(h)], axis=-1).reshape(-1, 2, 2)
    moves = np.abs(np.diff(poses, axis=0)).max(axis=1) > 0
    for part in scene.parts:
        placed = np.clip(camera.to_pixels(part.points @ turn + poses[:, None, :2]), -20_000, 20_000)
        if not visible(bounds, placed.reshape(-1, 2)):
            continue
        # Where it begins, and what each side of it goes over on the way.
        polygon(layer, tone, placed[0].tolist())
        following = np.roll(placed, -1, axis=1)
        sides = np.stack([placed[:-1], following[:-1], following[1:], placed[1:]], axis=2)
        for points in sides[moves].reshape(-1, 4, 2).tolist():
            polygon(layer, tone, points)


def _cloud(layer: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    cloud = scene.cloud
    assert cloud is not None
    paths, fails = cloud.paths[:MOST_TRIALS], cloud.fails[:MOST_TRIALS]
    if not paths:
        return
    counts = np.array([len(path) for path in paths])
    at = np.concatenate([[0], np.cumsum(counts)])
    pixels = np.clip(camera.to_pixels(np.concatenate(paths)), -30_000, 30_000)
    # Points nearer to each other than this are not told apart; ends always are.
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(pixels, axis=0).T))])
    keep = np.diff(way // THIN, prepend=-1.0) != 0
    keep[at[:-1]] = keep[at[1:] - 1] = True
    pixels = pixels[keep]
    at = np.concatenate([[0], np.cumsum(keep)])[at]
    counts = np.diff(at)
    tone = (*look.trial, look.trial_alpha)
    for n, fail in enumerate(fails):
        if not fail and counts[n] > 1:
            pygame.draw.lines(layer, tone, False, pixels[at[n] : at[n + 1]].tolist())
    rows = [pixels[at[n] : at[n + 1]] for n, fail in enumerate(fails) if fail and counts[n] > 1]
    if rows:
        wide = max(1, round(1.2 * scene.layout.unit))
        dashed_lines(layer, rows, (*look.fail, 190), wide, 8 * scene.layout.unit, 4 * scene.layout.unit)


def _path(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    unit = scene.layout.unit
    lines = [camera.to_pixels(poses) for poses in scene.way.segments]
    bounds = Rect(0, 0, *surface.get_size())
    chosen = (scene.segment or 0) - 1
    if 0 <= chosen < len(lines):
        line = lines[chosen]
        if float(np.hypot(*(line.max(axis=0) - line.min(axis=0)))) > 6 * unit:
            stroke(surface, line, look.ink, 11 * unit)
            stroke(surface, line, look.accent, 8.4 * unit)
        else:
            # It turns on the spot or stands: a ring about the place.
            at = float(line[0, 0]), float(line[0, 1])
            ring(surface, at, 13 * unit, look.ink, 6 * unit)
            ring(surface, at, 13 * unit, look.accent, 3.6 * unit)
    moving = [line for line in lines if len(line) > 1 and visible(bounds, line)]
    for line in moving:
        stroke(surface, line, look.casing, 4.8 * unit)
    for line in moving:
        stroke(surface, line, look.path, 2.5 * unit)


def _ends(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    """The robot at the start, whole, and where the plan ends, its corners; what it is set against on the way."""
    unit = scene.layout.unit
    last = scene.way.segments[-1][-1] if scene.way.segments else None
    for part in scene.parts:
        stroke(surface, robot_pixels(part.points, scene.way.start, camera), look.path, 1.2, closed=True)
        if last is not None:
            corners(surface, robot_pixels(part.points, tuple(last), camera), look.path, 1.9 * unit)
    for flat in scene.flats:
        ends = camera.to_pixels(flat)
        stroke(surface, ends, look.ink, 6.6 * unit, round_ends=False)
        stroke(surface, ends, look.path, 4.4 * unit, round_ends=False)
    for at in scene.sights:
        x, y = camera.pixel(*at)
        for r, tone in ((5.0 * unit, look.ink), (3.6 * unit, look.sensor)):
            area(surface, [(x, y - r), (x + r, y), (x, y + r), (x - r, y)], tone)


def _robot(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    unit = scene.layout.unit
    pose = scene.pose if scene.pose is not None else scene.way.pose_at(scene.head)
    placed = [robot_pixels(part.points, pose, camera) for part in scene.parts]
    every = np.concatenate(placed)
    if not visible(Rect(0, 0, *surface.get_size()), every):
        return
    # See-through, so that what it stands on can be seen: drawn apart and blended once.
    low = np.floor(np.maximum(every.min(axis=0) - 4 * unit, -8))
    high = np.ceil(np.minimum(every.max(axis=0) + 4 * unit, np.array(surface.get_size()) + 8))
    size = int(high[0] - low[0]) + 1, int(high[1] - low[1]) + 1
    if min(size) < 1:
        return
    layer = layers.canvas("robot", size, see_through=True)
    for part, points in zip(scene.parts, placed, strict=True):
        tone = look.body if part.of == "body" else look.tool
        local = np.clip(points - low, -20_000, 20_000).tolist()
        pygame.draw.polygon(layer, (*tone, 205), local)
    surface.blit(layer, (int(low[0]), int(low[1])))
    drive, body = scene.run.robot.drive, scene.run.robot.body
    half, thick = drive.wheel / 2, min(22.0, 0.14 * drive.track)
    for side in (1, -1):
        y = side * drive.track / 2
        tyre = np.array([(-half, y - thick / 2), (half, y - thick / 2), (half, y + thick / 2), (-half, y + thick / 2)])
        area(surface, robot_pixels(tyre, pose, camera), mixed(look.ink, look.body, 0.7))
    for part, points in zip(scene.parts, placed, strict=True):
        if part.of != "body":
            stroke(surface, points, look.ink, 1.3 * unit, closed=True)
    stroke(surface, placed[0], look.ink, 2.2 * unit, closed=True)
    front, wide = body.length - body.axle, body.width
    nose = np.array(
        [(front - 0.22 * wide, 0.16 * wide), (front - 0.06 * wide, 0.0), (front - 0.22 * wide, -0.16 * wide)]
    )
    stroke(surface, robot_pixels(nose, pose, camera), look.ink, 2.2 * unit)
    at = camera.pixel(pose[0], pose[1])
    disc(surface, at, 3.2 * unit, look.ink)
    disc(surface, at, 1.6 * unit, look.casing)


def _thing(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    """A band round the selected thing."""
    unit, name, field = scene.layout.unit, scene.thing, scene.run.field
    if name is None:
        return
    shapes = [thing.shape for thing in field.obstacles if thing.name == name]
    shapes += [thing.shape for thing in field.start_areas if thing.name == name]
    for shape in shapes:
        points = shape_pixels(shape, camera)
        stroke(surface, points, look.ink, 7.5 * unit, closed=True)
        stroke(surface, points, look.accent, 5 * unit, closed=True)
    for target in field.targets:
        if target.name == name:
            at, r = camera.pixel(*target.at), target.within * camera.zoom + 6 * unit
            ring(surface, at, r, look.ink, 6 * unit)
            ring(surface, at, r, look.accent, 3.8 * unit)
    for jig in field.jigs:
        if jig.name == name:
            at = camera.pixel(*jig.corner)
            ring(surface, at, 20 * unit, look.ink, 6 * unit)
            ring(surface, at, 20 * unit, look.accent, 3.8 * unit)
    for line in field.lines:
        if line.name == name:
            ends = camera.to_pixels([line.start, line.end])
            stroke(surface, ends, look.ink, 7 * unit)
            stroke(surface, ends, look.accent, 4.6 * unit)


def _failures(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    if scene.cloud is None:
        return
    unit = scene.layout.unit
    for kind, places in scene.cloud.marks:
        # Many marks on one spot are smaller, so that they stay marks and the spot can be seen.
        size = (4.6 if len(places) <= 25 else 3.4) * unit
        # Of marks on the same few pixels one is drawn.
        spots = np.unique(np.rint(camera.to_pixels(places) / 2).astype(np.int64), axis=0) * 2
        for x, y in spots.tolist():
            if -9 < x < surface.get_width() + 9 and -9 < y < surface.get_height() + 9:
                small_mark(surface, kind, (x, y), size, look.fail, look.casing)


def _picked(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    picked = scene.picked
    if picked is None:
        return
    unit = scene.layout.unit
    line = camera.to_pixels(picked.path)
    stroke(surface, line, look.casing, 5.2 * unit)
    if picked.kind is None:
        stroke(surface, line, look.ink, 2.4 * unit)
    else:
        dashed(surface, line, look.fail, 2.8 * unit, 9 * unit, 4 * unit)
    for part in scene.parts:
        points = robot_pixels(part.points, picked.pose, camera)
        stroke(surface, points, look.casing, 3.6 * unit, closed=True)
        dashed(surface, points, look.ink if picked.kind is None else look.fail, 1.8 * unit, 6 * unit, 3 * unit, True)
    x, y, _ = picked.pose
    if picked.kind is not None and picked.at is not None:
        x, y = picked.at
        small_mark(surface, picked.kind, camera.pixel(x, y), 8 * unit, look.fail, look.casing)
    px, py = camera.pixel(x, y)
    draw_callout(surface, layers, look, (picked.words, *picked.more), (px, py), look.ink)


def _pinch(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers, boxes: Floats) -> None:
    found = scene.pinch
    if found is None or not visible(Rect(0, 0, *surface.get_size()), camera.to_pixels([found.robot, found.thing])):
        return
    unit = scene.layout.unit
    a, b = np.array(camera.pixel(*found.robot)), np.array(camera.pixel(*found.thing))
    gap = float(np.hypot(*(b - a)))
    middle = (a + b) / 2
    direction = (float(b[0] - a[0]), float(b[1] - a[1])) if gap > 0.5 else (1.0, 0.0)
    at = float(middle[0]), float(middle[1])
    pinch(surface, at, direction, max(gap, 2 * unit), 9 * unit, look.ink, look.accent)
    writer = layers.writer
    wide, high = writer.width(found.words, SMALL, 1) + 10 * unit, writer.height(SMALL) + 4 * unit
    # Beside the wedges, on the side where it covers no name.
    ux, uy = direction[0] / hypot(*direction), direction[1] / hypot(*direction)
    spots = []
    for dx, dy in ((-uy, ux), (uy, -ux)):
        far = abs(dx) * wide / 2 + abs(dy) * high / 2 + 9 * unit
        spots += [(at[0] + dx * far + k * ux, at[1] + dy * far + k * uy) for k in (0.0, 14 * unit, -14 * unit)]
    places = Places((0.0, 0.0, float(surface.get_width()), float(surface.get_height())))
    places.keep_clear(boxes, 1.0)
    (x, y), _ = places.find(spots, wide, high)
    draw_label(surface, layers, look, found.words, (x, y), look.ink)


def _guides(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    unit = scene.layout.unit
    for guide in scene.guides:
        ends = camera.to_pixels([guide.start, guide.end])
        dashed(surface, ends, look.casing, 3.6 * unit, 10 * unit, 4 * unit)
        dashed(surface, ends, look.guide, 1.6 * unit, 10 * unit, 4 * unit)


def _guide_words(
    surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers, boxes: Floats
) -> None:
    """What it snaps to, on the guide where it covers no name."""
    w, h = surface.get_size()
    writer = layers.writer
    for guide in scene.guides:
        if guide.words:
            words = writer.fit(guide.words, w * 0.6, SMALL, 1)
            places = Places((0.0, 0.0, float(w), float(h)))
            places.keep_clear(boxes, 1.0)
            a, b = camera.to_pixels([guide.start, guide.end])
            wide, high = writer.width(words, SMALL, 1) + 10 * writer.unit, writer.height(SMALL) + 4 * writer.unit
            at, _ = places.find([a + u * (b - a) for u in (0.5, 0.35, 0.65, 0.22, 0.78, 0.1, 0.9)], wide, high)
            draw_label(surface, layers, look, words, at, look.guide)


def _handle(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, handle: Handle) -> None:
    unit = scene.layout.unit
    x, y = camera.pixel(*handle.at)
    hot = scene.hover == handle.name
    r = (10.5 if hot else 9.0) * unit
    ground = look.accent if hot else look.card
    disc(surface, (x, y), r + 1.6 * unit, look.ink)
    disc(surface, (x, y), r, ground)
    tone = look.ink if not hot else ON_ACCENT
    if handle.kind == "move":
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            arrow(surface, (x, y), (x + dx * r * 0.82, y + dy * r * 0.82), tone, 1.6 * unit, 4 * unit)
    elif handle.kind == "width":
        c, s = cos(radians(handle.heading)), -sin(radians(handle.heading))
        for sign in (1, -1):
            arrow(surface, (x, y), (x + sign * c * r * 0.85, y + sign * s * r * 0.85), tone, 1.6 * unit, 5 * unit)
    else:
        a = np.radians(np.linspace(-130, 130, 15) + 90)
        points = np.column_stack([x + r * 0.55 * np.cos(a), y - r * 0.55 * np.sin(a)])
        stroke(surface, points, tone, 1.6 * unit)
        end, before = points[-1], points[-3]
        way = np.array([end[0] - before[0], end[1] - before[1]])
        tip = end + way / max(float(np.hypot(*way)), 1e-6) * 3.4 * unit
        arrow(surface, (float(end[0]), float(end[1])), (float(tip[0]), float(tip[1])), tone, 1.6 * unit, 4.4 * unit)
