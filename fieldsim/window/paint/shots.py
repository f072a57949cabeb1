"""An act looked at closely: where the tool point is in all trials, on the field and in a lens in its corner."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pygame

from fieldsim.window.camera import Camera
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import SMALL, Look, mixed
from fieldsim.window.paint.scene import Floats, Scene, Shot
from fieldsim.window.paint.tools import arrow, plate, ring, stroke

__all__ = ["draw_lens", "draw_shots"]

# The lens, units: its drawing is a square of that side.
LENS, EDGE, GAP = 168.0, 6.0, 10.0
# A lens shows the tolerance and nearly all trials, but what is farther off than so many tolerances is left out.
NEARLY, FAR = 0.975, 6.0
# Dots for that many trials, the first ones; more only hide each other.
MOST_DOTS = 3000


def draw_shots(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look) -> None:
    """On the field, to scale."""
    unit = scene.layout.unit
    for shot in scene.shots:
        _dots(surface, shot, _Place(camera.to_pixels, camera.zoom), look, max(1, round(1.4 * unit)))
        _offset(surface, shot, _Place(camera.to_pixels, camera.zoom), look, unit)


def draw_lens(surface: pygame.Surface, scene: Scene, camera: Camera, look: Look, layers: Layers) -> None:
    """In the corner of the field where least is hidden; only where there is room for it."""
    if not scene.shots:
        return
    unit, writer = scene.layout.unit, layers.writer
    w, h = surface.get_size()
    high = writer.height(SMALL)
    lines = max(len(_lines(shot, layers)) for shot in scene.shots)
    wide, tall = (LENS + 2 * EDGE) * unit, (LENS + 2 * EDGE) * unit + lines * high + 2 * unit
    count = min(len(scene.shots), int((w * 0.6) // wide))
    if count < 1 or tall > h * 0.8:
        return
    # What must not be hidden: the target, handles and the robot above all, then the way.
    handles = [camera.pixel(*handle.at) for handle in scene.handles]
    pose = scene.pose if scene.pose is not None else scene.way.start
    wanted = np.array([camera.pixel(*scene.shots[0].of.at), camera.pixel(pose[0], pose[1]), *handles])
    way = camera.to_pixels(np.concatenate([each[:, :2] for each in scene.way.segments]))
    gap = GAP * unit
    all_wide = count * wide + (count - 1) * gap
    corners = [(x, y) for x in (gap, w - gap - all_wide) for y in (gap, h - gap - tall)]

    def hidden(x: float, y: float) -> tuple[int, int, float]:
        low, high = (x - gap, y - gap), (x + all_wide + gap, y + tall + gap)
        covered = [int(((points > low) & (points < high)).all(axis=1).sum()) for points in (wanted, way)]
        away = float(np.hypot(*(wanted[0] - (x + all_wide / 2, y + tall / 2))))
        return covered[0], covered[1], -away

    x, y = min(corners, key=lambda corner: hidden(*corner))
    for shot in scene.shots[:count]:
        box = pygame.Rect(round(x), round(y), round(wide), round(tall))
        draw = partial(_lens, shot=shot, look=look, layers=layers)
        lens = layers.layer(f"lens {shot.of.segment}", (shot, look.name, unit), box.size, draw)
        surface.blit(lens, box.topleft)
        x += wide + gap


def _lens(surface: pygame.Surface, shot: Shot, look: Look, layers: Layers) -> None:
    of, writer = shot.of, layers.writer
    unit = writer.unit
    w, h = surface.get_size()
    plate(surface, pygame.Rect(0, 0, w, h), look.card, look.ink)
    edge, side = EDGE * unit, LENS * unit
    centre = np.array((w / 2, edge + side / 2))
    off = np.hypot(*(of.points - of.at).T) if len(of.points) else np.zeros(1)
    reach = max(
        1.3 * of.within, float(np.quantile(off, NEARLY)), 1.1 * float(np.hypot(*np.subtract(of.planned, of.at)))
    )
    reach = min(reach, FAR * max(of.within, 1.0))
    zoom = side / 2 / (1.06 * reach)
    surface.set_clip(pygame.Rect(round(edge), round(edge), round(side), round(side)))

    def to_pixels(points: object) -> Floats:
        away: Floats = (np.asarray(points, dtype=float).reshape(-1, 2) - of.at) * (zoom, -zoom) + centre
        return away

    place = _Place(to_pixels, zoom)
    ring(surface, (float(centre[0]), float(centre[1])), of.within * zoom, look.target, 2.2 * unit)
    for dx, dy in ((1, 0), (0, 1)):
        arm = 5 * unit
        ends = [(centre[0] - arm * dx, centre[1] - arm * dy), (centre[0] + arm * dx, centre[1] + arm * dy)]
        stroke(surface, ends, look.target, 1.6 * unit)
    _dots(surface, shot, place, look, max(2, round(1.8 * unit)))
    _offset(surface, shot, place, look, unit)
    surface.set_clip(None)
    high = writer.height(SMALL)
    for n, line in enumerate(_lines(shot, layers)):
        writer.put(surface, line, (edge, edge + side + n * high), SMALL, look.ink, int(n == 0), room=w - 2 * edge)


def _lines(shot: Shot, layers: Layers) -> list[str]:
    """What is written below a lens."""
    writer = layers.writer
    room = LENS * writer.unit
    title = writer.fit(f"{shot.of.segment} {shot.of.target}", room, SMALL, 1)
    return [title, *[line for words in shot.words for line in writer.lines(words, room, SMALL)]]


@dataclass(frozen=True)
class _Place:
    """From mm of the field to pixels, and pixels for a mm."""

    to_pixels: object
    zoom: float

    def __call__(self, points: object) -> Floats:
        found: Floats = self.to_pixels(points)  # type: ignore[operator]
        return found


def _dots(surface: pygame.Surface, shot: Shot, place: _Place, look: Look, size: int) -> None:
    """The tool point of each trial: those out of place are squares with a hole, so that colour alone tells nothing."""
    of = shot.of
    if not len(of.points):
        return
    points, hit = of.points[:MOST_DOTS], of.hit[:MOST_DOTS]
    pixels = np.rint(place(points)).astype(np.int64)
    for good, tone in ((True, mixed(look.path, look.mat, 0.7)), (False, look.fail)):
        # Of dots on the same pixels one is drawn.
        spots = np.unique(pixels[hit == good] // size, axis=0) * size
        for x, y in spots.tolist():
            if good:
                surface.fill(tone, (x, y, size, size))
            else:
                pygame.draw.rect(surface, tone, (x - 1, y - 1, size + 2, size + 2), 1)


def _offset(surface: pygame.Surface, shot: Shot, place: _Place, look: Look, unit: float) -> None:
    """The plan's own aim: an arrow from the target to where the tool point is meant to be."""
    of = shot.of
    (a, b) = place([of.at, of.planned])
    start, end = (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))
    if float(np.hypot(*(b - a))) > 4 * unit:
        arrow(surface, start, end, look.casing, 4.4 * unit, 8 * unit)
        arrow(surface, start, end, look.ink, 2.0 * unit, 6 * unit)
    for tone, r in ((look.casing, 4.4 * unit), (look.ink, 3.0 * unit)):
        pygame.draw.circle(surface, tone, (round(end[0]), round(end[1])), max(2, round(r)))
