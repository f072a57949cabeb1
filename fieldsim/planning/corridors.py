"""How much room a straight leaves to each thing near it, and how that room depends on where the robot really is.

A footprint that drives straight sweeps, for each of its parts, the hull of the part before and after. Parts are taken
as their rectangles in the robot frame here (exact for bodies and most attachments, careful for others), so the swept
ground is a rectangle in the frame of the straight, and the gap to a convex core is closed form for many at once. The
runs that come of it are measured exactly by the trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldsim.model import Field, Robot
from fieldsim.sim.shapes import Core, Part, Solid, footprint, meet, solids

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Gaps larger than this do not count: no robot that is worth planning for strays so far, mm.
NEAR = 60.0
# A straight along a side has the same gap all along, but a heading error eats it up far out first: of the places where
# a thing is near, that one counts whose gap less so much a mm of the way to it, radians, is least. About a standard
# deviation of a heading.
LEVER = 0.012
# How many of the tightest gaps of a straight are kept.
KEPT = 4


@dataclass(frozen=True)
class Ground:
    """What stands on a field for a robot with what it wears: rectangles of the footprint, cores, and who meets whom."""

    boxes: Floats
    """(P, 4) x_low, x_high, y_low, y_high of each part, robot frame."""
    cores: tuple[Core, ...]
    owner: Ints
    """(C,) which solid each core belongs to."""
    names: tuple[str, ...]
    """Of the solids."""
    pairs: Ints
    """(Q, 2) part and core that can meet."""
    radius: Floats
    """(C,)"""
    tree: shapely.STRtree
    parts: tuple[Part, ...]
    solids: tuple[Solid, ...]

    @property
    def reach(self) -> float:
        """How far the footprint goes from the axle's middle, mm."""
        x = np.maximum(np.abs(self.boxes[:, 0]), np.abs(self.boxes[:, 1]))
        y = np.maximum(np.abs(self.boxes[:, 2]), np.abs(self.boxes[:, 3]))
        return float(np.hypot(x, y).max())


def ground(field: Field, robot: Robot, wear: tuple[str, ...], but: frozenset[str] = frozenset()) -> Ground:
    """The ground a robot drives on, without the things that it may touch."""
    things = solids(field)
    parts = footprint(robot, wear)
    boxes = np.array(
        [[p.points[:, 0].min(), p.points[:, 0].max(), p.points[:, 1].min(), p.points[:, 1].max()] for p in parts]
    )
    cores: list[Core] = []
    owner: list[int] = []
    pairs: list[tuple[int, int]] = []
    for number, thing in enumerate(things):
        if thing.name in but:
            continue
        for core in thing.cores:
            met = [a for a, part in enumerate(parts) if meet(part, thing)]
            pairs += [(a, len(cores)) for a in met]
            cores.append(core)
            owner.append(number)
    shapes = [
        shapely.Polygon(c.points) if len(c.points) > 2 else shapely.Point(c.points[0]).buffer(max(c.radius, 1e-3))
        for c in cores
    ]
    return Ground(
        boxes, tuple(cores), np.array(owner, dtype=np.int64), tuple(t.name for t in things),
        np.array(pairs, dtype=np.int64).reshape(-1, 2),
        np.array([c.radius for c in cores]), shapely.STRtree(shapes), parts, things,
    )  # fmt: skip


@dataclass(frozen=True)
class Corridors:
    """N straights and what is near each: the ``KEPT`` tightest gaps (N, KEPT), largest where there are fewer."""

    gap: Floats
    """mm; no more than ``NEAR``."""
    normal: Floats
    """(N, KEPT, 2) from the obstacle to the robot, field frame."""
    place: Floats
    """(N, KEPT, 2) of the obstacle's nearest point, field frame."""
    core: Ints
    """(N, KEPT) which core, -1 for none."""

    def take(self, which: Ints | NDArray[np.bool_]) -> Corridors:
        return Corridors(self.gap[which], self.normal[which], self.place[which], self.core[which])

    @property
    def tightest(self) -> Floats:
        """(N,)"""
        return np.asarray(self.gap[:, 0])


def joined(parts: list[Corridors]) -> Corridors:
    """Straights behind one another."""
    return Corridors(
        *(np.concatenate([getattr(p, name) for p in parts]) for name in ("gap", "normal", "place", "core"))
    )


def corridors(floor: Ground, start: Floats, way: Floats, but: Ints | None = None, lever: float = LEVER) -> Corridors:
    """The room of straights from poses (N, 3), radians, over ``way`` (N,) mm, backwards if negative.

    ``but`` (N,) is a solid each that is not counted: what a square is pushed on. Where they overlap the gap is -1; with
    a ``lever`` of 0 gaps are the least ones.
    """
    n = len(start)
    c, s = np.cos(start[:, 2]), np.sin(start[:, 2])
    low, high = np.minimum(way, 0.0), np.maximum(way, 0.0)
    found: list[tuple[Ints, Ints, Floats, Floats, Floats]] = []
    for k, core in enumerate(floor.cores):
        met = floor.pairs[floor.pairs[:, 1] == k, 0]
        if not len(met):
            continue
        # The core in the frame of each straight.
        dx = core.points[:, 0] - start[:, None, 0]
        dy = core.points[:, 1] - start[:, None, 1]
        px, py = dx * c[:, None] + dy * s[:, None], dy * c[:, None] - dx * s[:, None]
        ends = px.min(axis=1), px.max(axis=1), py.min(axis=1), py.max(axis=1)
        room = NEAR + core.radius
        for part in met:
            x0, x1, y0, y1 = floor.boxes[part]
            near = (ends[1] > x0 + low - room) & (ends[0] < x1 + high + room)
            near &= (ends[3] > y0 - room) & (ends[2] < y1 + room)
            if but is not None:
                near &= but != floor.owner[k]
            rows = np.flatnonzero(near)
            if not len(rows):
                continue
            box = x0 + low[rows], x1 + high[rows], np.full(len(rows), y0), np.full(len(rows), y1)
            gap, normal, at = _gaps(px[rows], py[rows], box, lever)
            at += core.radius * normal
            gap = np.maximum(gap - core.radius, -1.0)
            keep = gap < NEAR
            rows, gap, normal, at = rows[keep], gap[keep], normal[keep], at[keep]
            found.append((rows, np.full(len(rows), k), gap, _turned(normal, c[rows], s[rows]),
                          start[rows, :2] + _turned(at, c[rows], s[rows])))  # fmt: skip
    if not found:
        return _tightest(n, *(np.zeros(0, dtype=np.int64),) * 2, np.zeros(0), np.zeros((0, 2)), np.zeros((0, 2)))
    which, cores, gap, normal, place = (np.concatenate(column) for column in zip(*found, strict=True))
    return _tightest(n, which.astype(np.int64), cores.astype(np.int64), gap, normal, place)


def _turned(v: Floats, c: Floats, s: Floats) -> Floats:
    return np.stack([v[:, 0] * c - v[:, 1] * s, v[:, 0] * s + v[:, 1] * c], axis=-1)


def _gaps(
    px: Floats, py: Floats, box: tuple[Floats, Floats, Floats, Floats], lever: float
) -> tuple[Floats, Floats, Floats]:
    """Gap of rectangles x0, x1, y0, y1 (N,) each to a convex polygon of corners (N, K), counter-clockwise, or to a
    point; the direction from the polygon to the rectangle, and the polygon's nearest point. -1 where they overlap."""
    x0, x1, y0, y1 = (side[:, None] for side in box)
    nx, ny = np.clip(px, x0, x1), np.clip(py, y0, y1)
    far = np.hypot(px - nx, py - ny)
    rows, best = np.arange(len(far)), (far - lever * np.abs(px)).argmin(axis=1)
    gap = far[rows, best]
    at = np.stack([px[rows, best], py[rows, best]], axis=-1)
    on = np.stack([nx[rows, best], ny[rows, best]], axis=-1)
    worth, least = gap - lever * np.abs(at[:, 0]), far.min(axis=1)
    apart = (
        (px.min(axis=1) > box[1]) | (px.max(axis=1) < box[0]) | (py.min(axis=1) > box[3]) | (py.max(axis=1) < box[2])
    )
    if px.shape[1] > 1:
        ex, ey = np.roll(px, -1, axis=1) - px, np.roll(py, -1, axis=1) - py
        square = np.maximum(ex * ex + ey * ey, 1e-12)
        outside = np.ones(px.shape, dtype=bool)
        for rx, ry in ((x0, y0), (x0, y1), (x1, y0), (x1, y1)):
            fx, fy = rx - px, ry - py
            outside &= ex * fy - ey * fx < 0
            t = np.clip((fx * ex + fy * ey) / square, 0.0, 1.0)
            off = np.hypot(fx - t * ex, fy - t * ey)
            j = off.argmin(axis=1)
            foot = np.stack([px[rows, j] + t[rows, j] * ex[rows, j], py[rows, j] + t[rows, j] * ey[rows, j]], axis=-1)
            near = off[rows, j]
            least = np.minimum(least, near)
            closer = near - lever * np.abs(foot[:, 0]) < worth
            worth = np.where(closer, near - lever * np.abs(foot[:, 0]), worth)
            gap = np.where(closer, near, gap)
            at = np.where(closer[:, None], foot, at)
            on = np.where(closer[:, None], np.concatenate([rx, ry], axis=1), on)
        # A side of the polygon that has the whole rectangle on its outer side keeps them apart.
        apart |= outside.any(axis=1)
    normal = (on - at) / np.maximum(gap, 1e-9)[:, None]
    # What is too narrow anywhere is too narrow, wherever it counts most.
    gap = np.where(least < 0.5 * gap, least, gap)
    return np.where(apart, gap, -1.0), normal, at


def _tightest(n: int, which: Ints, core: Ints, gap: Floats, normal: Floats, place: Floats) -> Corridors:
    """The tightest few of each straight."""
    order = np.lexsort((gap, which))
    which, core, gap, normal, place = which[order], core[order], gap[order], normal[order], place[order]
    rank = np.arange(len(which)) - np.searchsorted(which, which)
    keep = rank < KEPT
    gaps = np.full((n, KEPT), NEAR)
    normals, places = np.zeros((n, KEPT, 2)), np.zeros((n, KEPT, 2))
    cores = np.full((n, KEPT), -1, dtype=np.int64)
    w, r = which[keep], rank[keep]
    gaps[w, r], normals[w, r], places[w, r], cores[w, r] = gap[keep], normal[keep], place[keep], core[keep]
    return Corridors(gaps, normals, places, cores)
