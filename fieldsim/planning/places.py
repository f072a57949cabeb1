"""Places a run may go by, and the moves between them: a roadmap.

Places are a grid whose rows and columns also go through the start and the targets, the middles of narrow ways, and for
every wall and flat side the poses in which a face lies flush on it. A move is a straight after a turn on the spot; each
knows the room it leaves (`fieldsim.planning.corridors`) and how the robot's errors eat it up.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from math import ceil, cos, hypot, pi, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely.geometry.base import BaseGeometry

from fieldsim.model import WALLS, Round, Run, Square
from fieldsim.planning.beliefs import Noise
from fieldsim.planning.corridors import NEAR, Corridors, Ground, corridors
from fieldsim.planning.corridors import joined as corridors_joined
from fieldsim.sim.alignment import pushed
from fieldsim.sim.kernel.path import COLUMNS, HC, HS, H, S, T, X, Y
from fieldsim.sim.kernel.shapes import shapes
from fieldsim.sim.kernel.trial import survey
from fieldsim.sim.shapes import outline

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

GO, PUSH, LEAVE, ACT = range(4)
"""Kinds of move: from place to place, onto a wall, straight away from where the heading is fixed, to a target."""

# How finely a place knows its room to turn: sectors of a full turn, of 5 degrees.
SECTORS = 72
# The least gap that a move is thought of with at all, mm.
LEAST_GAP = 2.0
# A square is thought of no farther from a side than this, mm, and no nearer to the side's end than this.
PUSH_FAR = 900.0
# A body has to meet what it is pushed on over so much of its height, mm. Common practice, no source.
CATCHES = 5.0
# A straight is thought of no longer than this, mm, and looked at first on a raster this fine.
GO_FAR = 2000.0
RASTER = 8.0
SIDE_END = 12.0


@dataclass(frozen=True)
class Side:
    """A flat side that a face can be pushed on, and the face."""

    name: str
    solid: int
    at: tuple[float, float]
    """One end of it,"""
    along: tuple[float, float]
    """the unit vector to its other end,"""
    length: float
    away: tuple[float, float]
    """and the unit vector away from it, into the room."""
    face: str
    x: float
    """Where the face lies in the robot frame, ahead of the axle, and"""
    low: float
    high: float
    """from where to where, to the left."""

    @property
    def heading(self) -> float:
        """The robot's heading when flush, radians."""
        sign = -1.0 if self.face == "front" else 1.0
        return float(np.arctan2(sign * self.away[1], sign * self.away[0]))


def sides(run: Run, but: frozenset[str]) -> list[Side]:
    """Every wall and flat side, for each face of the robot that is flat there."""
    found = []
    things: list[tuple[str, int, NDArray[np.float64]]] = []
    w, d = run.field.size
    if run.field.walls is not None:
        inner = {"near wall": [(0, 0), (w, 0)], "far wall": [(w, d), (0, d)],
                 "left wall": [(0, d), (0, 0)], "right wall": [(w, 0), (w, d)]}  # fmt: skip
        for number, name in enumerate(WALLS, start=len(run.field.obstacles)):
            things.append((name, number, np.array(inner[name], dtype=float)))
    for number, thing in enumerate(run.field.obstacles):
        if isinstance(thing.shape, Round):
            continue
        corners = outline(thing.shape)
        if not shapely.LinearRing(corners).is_ccw:
            corners = corners[::-1]
        for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            # Clockwise, so that the free room lies to the left as along a wall.
            things.append((thing.name, number, np.array([q, p])))
    faces: dict[tuple[str, str], tuple[float, float, float] | None] = {}
    for name, number, (p, q) in things:
        if name in but or not _high_enough(run, name):
            continue
        length = hypot(*(q - p))
        along = (q - p) / max(length, 1e-9)
        for face in ("front", "rear"):
            if (name, face) not in faces:
                square = Square(face=face, against=name, reach=1.0)
                flat = pushed(run, square)
                ok = flat is not None and flat.high - flat.low >= 30.0
                faces[name, face] = (flat.x, flat.low, flat.high) if ok and flat is not None else None
            flush = faces[name, face]
            if flush is None or length < flush[2] - flush[1] + 2 * SIDE_END:
                continue
            found.append(
                Side(name, number, (float(p[0]), float(p[1])), (float(along[0]), float(along[1])), length,
                     (float(-along[1]), float(along[0])), face, *flush)
            )  # fmt: skip
    return found


def _high_enough(run: Run, name: str) -> bool:
    """Does the body meet it over more than a sliver? Over a thing that is hardly higher than the body's lower edge a
    robot climbs."""
    obstacle = next((o for o in run.field.obstacles if o.name == name), None)
    band = run.field.walls if obstacle is None else obstacle.height
    low, high = run.robot.body.height
    return band is not None and min(high, band[1]) - max(low, band[0]) >= CATCHES


@dataclass(frozen=True)
class Moves:
    """M moves, sorted by where they start."""

    start: Ints
    end: Ints
    kind: Ints
    heading: Floats
    """radians, while it drives,"""
    way: Floats
    """mm, backwards if negative."""
    side: Ints
    """Which side a PUSH is on, else -1."""
    room: Corridors
    crossed: Floats
    """What the move adds to the class of ways round the obstacles (see `ways_round`)."""
    slope: Floats
    """(M, K, 3) of each gap on the pose where the straight begins,"""
    own: Floats
    """(M, K) variance that the straight itself adds, and"""
    day: Floats
    """(M, K, 3) how the day's draws move the gap on the straight itself."""

    def __len__(self) -> int:
        return len(self.start)

    def take(self, which: Ints | Bools) -> Moves:
        kept = {f.name: getattr(self, f.name)[which] for f in fields(self) if f.name != "room"}
        return Moves(room=self.room.take(which), **kept)


def moves_joined(parts: list[Moves]) -> Moves:
    """Moves together, sorted by where they start."""
    kept = {f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Moves) if f.name != "room"}
    whole = Moves(room=corridors_joined([p.room for p in parts]), **kept)
    return whole.take(np.argsort(whole.start, kind="stable"))


@dataclass(frozen=True)
class Places:
    """n places and the moves from them."""

    at: Floats
    """(n, 2) mm"""
    fixed: Floats
    """(n,) the heading a robot has there, radians; not-a-number where it can turn."""
    spins: NDArray[np.float32]
    """(n, SECTORS, SECTORS) the least gap while turning left from one sector of headings to another."""
    side: Ints
    """(n,) the side a face lies flush on, -1 for none."""
    moves: Moves

    def __len__(self) -> int:
        return len(self.at)


def sector(heading: Floats) -> Ints:
    """The sector of a heading in radians; multiples of 90 degrees lie in the middle of theirs."""
    return np.asarray(np.round(heading / (2 * pi / SECTORS)).astype(np.int64) % SECTORS)


class Mapper:
    """Makes places and moves on one ground."""

    def __init__(self, run: Run, floor: Ground, noise: Noise, but: frozenset[str], squares: bool = True) -> None:
        self.run, self.floor, self.noise, self.but = run, floor, noise, but
        self.sides = sides(run, but) if squares else []
        things = [
            np.concatenate([floor.cores[c].points for c in np.flatnonzero(floor.owner == k)]).mean(axis=0)
            for k in range(len(run.field.obstacles))
            if np.isin(np.flatnonzero(floor.owner == k), floor.pairs[:, 1]).any()
        ]
        self.centers = np.array(things, dtype=float).reshape(-1, 2)
        # Any numbers that no few of them add up to one another: classes are told apart by their sum.
        self.weights = np.sqrt(np.array([2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0])[np.arange(len(things)) % 8]) * (
            1 + np.arange(len(things)) // 8
        )
        body = run.robot.body
        self.disc = min(body.width / 2, body.axle, body.length - body.axle)
        w, d = run.field.size
        self.board = (0.0, 0.0, w, d)
        things_ = [
            shapely.Polygon(c.points)
            if len(c.points) > 2
            else shapely.Point(c.points[0]).buffer(c.radius, quad_segs=16)
            for i, c in enumerate(floor.cores)
            if (floor.pairs[floor.pairs[:, 0] == 0, 1] == i).any()
        ]
        grown = shapely.union_all([shapely.buffer(t, self.disc, quad_segs=8) for t in things_])
        self.free = shapely.box(*self.board).difference(grown)
        shapely.prepare(self.free)
        # How far the middle of each cell of a raster is from everything, mm.
        columns, rows = (np.arange(0.0, side, RASTER) + RASTER / 2 for side in (w, d))
        x, y = np.meshgrid(columns, rows, indexing="ij")
        everything = shapely.union_all(things_)
        shapely.prepare(everything)
        self.raster = distance_transform_edt(~shapely.intersects_xy(everything, x, y)) * RASTER

    # --- places ----------------------------------------------------------------------------------------------------

    def grid(self, columns: list[float], rows: list[float], most: int) -> Floats:
        """A grid with rows and columns at given places too, of about ``most`` free places."""
        w, d = self.run.field.size
        share = max(self.free.area, 1.0) / (w * d)
        step = max(60.0, (w * d * share / most) ** 0.5)

        def lines(size: float, given: list[float]) -> list[float]:
            kept: list[float] = []
            for value in given:
                if self.disc * 0.5 < value < size - self.disc * 0.5 and all(abs(value - k) > 4.0 for k in kept):
                    kept.append(value)
            count = max(2, round((size - 2 * self.disc) / step))
            for k in range(count + 1):
                value = self.disc + (size - 2 * self.disc) * k / count
                if all(abs(value - other) > 0.45 * step for other in kept):
                    kept.append(value)
            return sorted(kept)

        xs, ys = lines(w, columns), lines(d, rows)
        points = np.array([(x, y) for x in xs for y in ys])
        return np.asarray(points[shapely.intersects_xy(self.free, points[:, 0], points[:, 1])])

    def narrow_ways(self) -> Floats:
        """The middles of narrow ways between neighbours, and places before and behind them."""
        body = self.run.robot.body
        least, most = body.width, 2.5 * max(body.width, body.length)
        solids_: dict[int, list[BaseGeometry]] = {}
        found: list[Floats] = []
        for k, core in enumerate(self.floor.cores):
            if (self.floor.pairs[self.floor.pairs[:, 0] == 0, 1] == k).any():
                shape = (
                    shapely.Polygon(core.points)
                    if len(core.points) > 2
                    else shapely.Point(core.points[0]).buffer(core.radius)
                )
                solids_.setdefault(int(self.floor.owner[k]), []).append(shape)
        things = [shapely.union_all(parts) for parts in solids_.values()]
        for i in range(len(things)):
            for j in range(i):
                if least <= shapely.distance(things[i], things[j]) <= most:
                    p, q = np.array(shapely.shortest_line(things[i], things[j]).coords)
                    middle, across = (p + q) / 2, (q - p) / hypot(*(q - p))
                    through = np.array([-across[1], across[0]])
                    found += [middle + off * through for off in (-220.0, -110.0, 0.0, 110.0, 220.0)]
        points = np.array(found, dtype=float).reshape(-1, 2)
        points = points[shapely.intersects_xy(self.free, points[:, 0], points[:, 1])]
        kept: list[int] = []
        for k in range(len(points)):
            if not kept or np.hypot(*(points[kept] - points[k]).T).min() > 35.0:
                kept.append(k)
        return np.asarray(points[kept])

    def spins(self, at: Floats) -> NDArray[np.float32]:
        """(n, SECTORS, SECTORS) least gaps while turning left on the spot, at most ``NEAR``."""
        n, step = len(at), 2 * pi / SECTORS
        near = np.full((n, SECTORS), NEAR)
        place, core = self.floor.tree.query(shapely.points(at), predicate="dwithin", distance=self.floor.reach + NEAR)
        met = np.zeros((len(self.floor.boxes), len(self.floor.cores)), dtype=bool)
        met[self.floor.pairs[:, 0], self.floor.pairs[:, 1]] = True
        parts = shapes([part.points for part in self.floor.parts])
        cores = shapes([c.points for c in self.floor.cores], [c.radius for c in self.floor.cores])
        rows = np.zeros((n * SECTORS, COLUMNS))
        heading = (np.tile(np.arange(SECTORS), n) - 0.5) * step
        rows[:, X], rows[:, Y] = np.repeat(at[:, 0], SECTORS), np.repeat(at[:, 1], SECTORS)
        rows[:, H], rows[:, HC], rows[:, HS], rows[:, S], rows[:, T] = (
            heading,
            np.cos(heading),
            np.sin(heading),
            0.0,
            step,
        )
        for part in range(len(self.floor.boxes)):
            keep = met[part, core]
            piece = (place[keep][:, None] * SECTORS + np.arange(SECTORS)).ravel().astype(np.int64)
            if not len(piece):
                continue
            which = np.repeat(core[keep], SECTORS).astype(np.int64)
            gap, _ = survey(parts, cores, rows, piece, np.full(len(piece), part, dtype=np.int64), which)
            np.minimum.at(near.reshape(-1), piece, gap - self.floor.radius[which])
        # From sector i on over the next ones.
        whole = np.empty((n, SECTORS, SECTORS), dtype=np.float32)
        least = near.copy()
        for k in range(SECTORS):
            if k:
                least = np.minimum(least, np.roll(near, -k, axis=1))
            columns = (np.arange(SECTORS) + k) % SECTORS
            whole[:, np.arange(SECTORS), columns] = least
        return whole

    # --- moves -----------------------------------------------------------------------------------------------------

    def moves(self, start: Ints, end: Ints, kind: int, pose: Floats, way: Floats, side: Ints | None = None,
              let_off: bool = False) -> Moves:  # fmt: skip
        """Moves with their room; those with too little are left out. ``let_off``: what the robot stands against where
        the move begins does not count."""
        side = np.full(len(start), -1, dtype=np.int64) if side is None else side
        solid = np.array([self.sides[k].solid for k in side], dtype=np.int64) if (side >= 0).any() else None
        room = corridors(self.floor, pose, way, solid)
        if let_off:
            still = corridors(self.floor, pose, np.zeros(len(pose)))
            for k in range(still.gap.shape[1]):
                resting = still.gap[:, k] < LEAST_GAP
                same = (room.core == still.core[:, k, None]) & resting[:, None] & (room.core >= 0)
                room.gap[same] = NEAR
        keep = room.gap.min(axis=1) >= LEAST_GAP
        if let_off:
            # Away from it or along it, not into it: a footprint a little smaller, a little farther on, is clear of all.
            boxes = self.floor.boxes + np.array([1.0, -1.0, 1.0, -1.0])
            step = np.sign(way) * 3.0
            on = pose + np.column_stack([step * np.cos(pose[:, 2]), step * np.sin(pose[:, 2]), np.zeros(len(way))])
            keep &= corridors(replace(self.floor, boxes=boxes), on, way - step, lever=0.0).tightest >= 0.0
        start, end, pose, way, side, room = start[keep], end[keep], pose[keep], way[keep], side[keep], room.take(keep)
        return self._with_slopes(start, end, kind, pose, way, side, room)

    def _with_slopes(
        self, start: Ints, end: Ints, kind: int, pose: Floats, way: Floats, side: Ints, room: Corridors
    ) -> Moves:
        h = pose[:, 2]
        c, s = np.cos(h)[:, None], np.sin(h)[:, None]
        v = room.place - pose[:, None, :2]
        nx, ny = room.normal[..., 0], room.normal[..., 1]
        slope = np.stack([nx, ny, ny * v[..., 0] - nx * v[..., 1]], axis=-1)
        # How far the axle has come, signed, when the gap is at its least, and the gap's direction as the robot sees it.
        ahead = v[..., 0] * c + v[..., 1] * s
        u = np.clip(ahead, np.minimum(way, 0.0)[:, None], np.maximum(way, 0.0)[:, None])
        na, ns = nx * c + ny * s, ny * c - nx * s
        noise = self.noise
        own = na**2 * (noise.walk**2 * np.abs(u) + noise.stop**2)
        own += ns**2 * (noise.veer**2 * np.abs(u) ** 3 / 3 + (noise.hold * u) ** 2)
        bend = 0.0 if noise.gyro else noise.day_veer
        day = np.zeros((*u.shape, 3))
        day[..., 0] = na * noise.day_distance * u
        day[..., 1] = ns * bend * u * u / 2
        ends = pose[:, :2] + way[:, None] * np.concatenate([c, s], axis=1)
        return Moves(
            start, end, np.full(len(start), kind, dtype=np.int64), h, way, side, room,
            self.crossed(pose[:, :2], ends), slope, own, day,
        )  # fmt: skip

    def crossed(self, a: Floats, b: Floats) -> Floats:
        """What straights from ``a`` to ``b`` add to the class of a way: each obstacle casts a ray upwards, and a way
        that crosses it adds the obstacle's number, or takes it away. Two ways with the same ends and sums go round the
        same things alike (their homology; after Bhattacharya, Likhachev and Kumar, Autonomous Robots 33, 2012)."""
        total = np.zeros(len(a))
        for (x, y), weight in zip(self.centers, self.weights, strict=True):
            right = (b[:, 0] >= x).astype(float) - (a[:, 0] >= x)
            t = (x - a[:, 0]) / np.where(right == 0, 1.0, b[:, 0] - a[:, 0])
            above = a[:, 1] + t * (b[:, 1] - a[:, 1]) > y
            total += weight * right * above
        return total

    def between(self, at: Floats, first: Ints, second: Ints, ahead: bool = True, back: bool = True) -> Moves:
        """Straights from each place of ``first`` to that of ``second``, forwards, and from those back to these.

        A robot that drives from a to b, and one that backs from b to a, cover the same ground.
        """
        a, b = at[first], at[second]
        length = np.hypot(*(b - a).T)
        keep = (length > 25.0) & (length < GO_FAR)
        keep[keep] = self._may_be_free(a[keep], b[keep])
        first, second, a, b, length = first[keep], second[keep], a[keep], b[keep], length[keep]
        heading = np.arctan2(*(b - a).T[::-1])
        room = corridors(self.floor, np.column_stack([a, heading]), length)
        keep = room.gap.min(axis=1) >= LEAST_GAP
        first, second, a, b, length = first[keep], second[keep], a[keep], b[keep], length[keep]
        heading, room, none = heading[keep], room.take(keep), np.full(keep.sum(), -1, dtype=np.int64)
        found = []
        if ahead:
            found.append(self._with_slopes(first, second, GO, np.column_stack([a, heading]), length, none, room))
        if back:
            found.append(self.moves(second, first, GO, np.column_stack([b, heading]), -length))
        return moves_joined(found)

    def _may_be_free(self, a: Floats, b: Floats) -> Bools:
        """Which straights keep the disc inside the body off everything, seen on a raster, and never too strictly."""
        keep = np.ones(len(a), dtype=bool)
        steps = ceil(GO_FAR / (2 * RASTER))
        for k in range(steps + 1):
            some = np.flatnonzero(keep)
            p = a[some] + (b[some] - a[some]) * ((k * 7) % (steps + 1) / steps)
            column, row = (p / RASTER).astype(np.int64).T
            deep = self.raster[np.clip(column, 0, len(self.raster) - 1), np.clip(row, 0, self.raster.shape[1] - 1)]
            keep[some[deep < self.disc - 1.5 * RASTER]] = False
        return keep

    def straight_on(
        self, number: int, pose: tuple[float, float, float], ways: Floats, first: int
    ) -> tuple[Floats, Moves]:
        """From where the heading is fixed straight on by each of ``ways``: the new places, numbered from ``first``, and
        the moves there. Stops where there is no room."""
        x, y, h = pose
        start = np.full(len(ways), number, dtype=np.int64)
        ends = np.arange(len(ways), dtype=np.int64)
        found = self.moves(start, ends, LEAVE, np.tile([x, y, h], (len(ways), 1)), ways, let_off=True)
        used = found.end
        at = np.array([x, y]) + ways[used][:, None] * np.array([cos(h), sin(h)])
        moved = {f.name: getattr(found, f.name) for f in fields(found)}
        moved["end"] = first + np.arange(len(used), dtype=np.int64)
        return at, Moves(**moved)

    def pushes(self, at: Floats, fixed: Floats, numbers: Ints, first: int) -> tuple[Floats, Floats, Ints, Moves]:
        """Squares from places: the flush poses (k, 2), their headings and sides, numbered from ``first``, and the moves
        onto them."""
        flush: dict[tuple[int, int, int], int] = {}
        places: list[Floats] = []
        headings: list[float] = []
        which: list[int] = []
        start, end, pose, way, side = [], [], [], [], []
        for k, wall in enumerate(self.sides):
            away, along, origin = np.array(wall.away), np.array(wall.along), np.array(wall.at)
            off = (at - origin) @ away
            lane = (at - origin) @ along
            # What lies to the robot's left lies along the side when the front faces away from the room.
            low, high = (-wall.high, -wall.low) if wall.face == "rear" else (wall.low, wall.high)
            travel = off - abs(wall.x)
            ok = (travel > 8.0) & (travel < PUSH_FAR)
            ok &= (lane + low > SIDE_END) & (lane + high < wall.length - SIDE_END)
            turn = np.abs(np.angle(np.exp(1j * (fixed - wall.heading))))
            ok &= np.isnan(fixed) | (turn < radians(3.0))
            sign = 1.0 if wall.face == "front" else -1.0
            for a in np.flatnonzero(ok):
                key = (k, round(float(lane[a])), 0)
                if key not in flush:
                    flush[key] = first + len(places)
                    places.append(at[a] - travel[a] * away)
                    headings.append(wall.heading)
                    which.append(k)
                start.append(int(numbers[a]))
                end.append(flush[key])
                pose.append((at[a, 0], at[a, 1], wall.heading))
                way.append(sign * travel[a])
                side.append(k)
        made = self.moves(
            np.array(start, dtype=np.int64), np.array(end, dtype=np.int64), PUSH,
            np.array(pose, dtype=float).reshape(-1, 3), np.array(way, dtype=float), np.array(side, dtype=np.int64),
        )  # fmt: skip
        return (np.array(places, dtype=float).reshape(-1, 2), np.array(headings, dtype=float),
                np.array(which, dtype=np.int64), made)  # fmt: skip

    def leaves(self, flush: Floats, heading: Floats, numbers: Ints, side: Ints, at: Floats, to: Ints) -> Moves:
        """Straight away from flush poses to the places that lie on that line."""
        start, end, pose, way = [], [], [], []
        for f in range(len(flush)):
            sign = -1.0 if self.sides[side[f]].face == "front" else 1.0
            c, s = cos(heading[f]), sin(heading[f])
            step = at - flush[f]
            ahead = sign * (step[:, 0] * c + step[:, 1] * s)
            aside = np.abs(step[:, 1] * c - step[:, 0] * s)
            for b in np.flatnonzero((aside < 0.6) & (ahead > 20.0)):
                start.append(int(numbers[f]))
                end.append(int(to[b]))
                pose.append((flush[f, 0], flush[f, 1], heading[f]))
                way.append(sign * ahead[b])
        return self.moves(
            np.array(start, dtype=np.int64), np.array(end, dtype=np.int64), LEAVE,
            np.array(pose, dtype=float).reshape(-1, 3), np.array(way, dtype=float), let_off=True,
        )  # fmt: skip
