"""From a start by way of the targets to the finish: the stages of a search, and its ways as legs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, inf, pi, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldsim.model import Box, Outline, Round, StartByEye, Straight, Target
from fieldsim.planning import beliefs as belief
from fieldsim.planning.beliefs import Beliefs, Noise, noise_of, placed
from fieldsim.planning.corridors import corridors, ground
from fieldsim.planning.legs import Leg, Task, Way
from fieldsim.planning.places import ACT, GO, LEAST_GAP, LEAVE, PUSH, SECTORS, Mapper, Moves, Places, moves_joined
from fieldsim.planning.search import Effort, Found, Goal, Labels, search
from fieldsim.sim.endings import tool_point
from fieldsim.sim.motion import held_point, jig_of, start_pose
from fieldsim.sim.shapes import body_corners, convex_parts, outline

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Free places of the grid, about.
PLACES = 260
# How far straight out of a start, or back from a target, mm.
OUT = tuple(float(way) for way in range(60, 1561, 60))
BACK = (-70.0, -150.0, -300.0, 100.0)
# Ways that are followed from one target to the next.
FOLLOWED = 10
# A target's tool point may be aimed at this share of its tolerance short of it.
SHORT = (0.0, 0.35, 0.65)


@dataclass(frozen=True)
class Base:
    """What all stages share."""

    task: Task
    mapper: Mapper
    noise: Noise
    at: Floats
    flush: Floats
    flush_heading: Floats
    flush_side: Ints
    spins: NDArray[np.float32]
    moves: Moves
    columns: Floats
    rows: Floats
    """Of the grid."""


def base_of(task: Task, squares: bool = True, most: int | None = None) -> Base:
    """The roadmap of a task without its start and targets."""
    noise = noise_of(task.robot)
    but = frozenset(task.may_touch)
    probe = task.run(task.starts[0], (Straight(1.0),))
    mapper = Mapper(probe, ground(task.field, task.robot, task.wear, but), noise, but, squares)
    columns, rows, points = [], [], []
    for start in task.starts:
        x, y, _ = start_pose(task.run(start, (Straight(1.0),)))
        columns.append(x)
        rows.append(y)
    tx, ty = tool_point(task.robot, task.wear)
    for name in task.targets:
        target = next(t for t in task.field.targets if t.name == name)
        gx, gy = target.at
        columns += [gx + ty, gx - ty] if ty else [gx]
        rows += [gy + ty, gy - ty] if ty else [gy]
        if target.heading is not None:
            h = radians(target.heading)
            x, y = gx - cos(h) * tx + sin(h) * ty, gy - sin(h) * tx - cos(h) * ty
            points += [
                (x + off * cos(h), y + off * sin(h))
                for off in (-460.0, -360.0, -270.0, -190.0, -120.0, -60.0, 60.0, 150.0)
            ]
    grid = mapper.grid(columns, rows, most or PLACES)
    extra = np.array(points, dtype=float).reshape(-1, 2)
    extra = extra[shapely.intersects_xy(mapper.free, extra[:, 0], extra[:, 1])] if len(extra) else extra
    lines = np.unique(grid[:, 0]), np.unique(grid[:, 1])
    special = np.concatenate([extra, mapper.narrow_ways()])
    if len(special):
        near = np.hypot(grid[:, None, 0] - special[:, 0], grid[:, None, 1] - special[:, 1]).min(axis=1)
        on_line = np.isin(np.round(grid[:, 0], 6), np.round(columns, 6)) | np.isin(
            np.round(grid[:, 1], 6), np.round(rows, 6)
        )
        grid = grid[(near > 30.0) | on_line]
    at = np.concatenate([grid, special])
    n = len(at)
    free = np.full(n, np.nan)
    flush, heading, side, onto = mapper.pushes(at, free, np.arange(n), n)
    away = mapper.leaves(flush, heading, n + np.arange(len(flush)), side, at, np.arange(n))
    first, second = np.triu_indices(n, 1)
    first, second = np.concatenate([first, second]), np.concatenate([second, first])
    spins = np.concatenate([mapper.spins(at), np.full((len(flush), SECTORS, SECTORS), 1e3, dtype=np.float32)])
    moves = moves_joined([mapper.between(at, first, second), onto, away])
    return Base(task, mapper, noise, at, flush, heading, side, spins, moves, *lines)


@dataclass(frozen=True)
class Anchor:
    """Where a stage begins: a start, or where the tool has been at a target."""

    pose: tuple[float, float, float]
    """radians"""
    beliefs: Beliefs
    before: tuple[Leg, ...]
    start: str | StartByEye
    lost: float = 0.0
    cost: float = 0.0
    seconds: float = 0.0
    way_round: float = 0.0
    pushes: int = 0


def starts_of(task: Task) -> list[Anchor]:
    """The anchors of a task's starts."""
    found = []
    for start in task.starts:
        run = task.run(start, (Straight(1.0),))
        x, y, h = start_pose(run)
        spread = start.spread if isinstance(start, StartByEye) else jig_of(task.field, start).spread
        found.append(Anchor((x, y, radians(h)), placed(radians(h), held_point(run), spread), (), start))
    return found


def stage(
    base: Base,
    anchors: list[Anchor],
    goal: str | None,
    effort: Effort,
    *,
    layers: int = 7,
    blind: bool = False,
    last: bool = True,
    watch: Callable[[], None] = lambda: None,
) -> list[tuple[Anchor, Found, Places]]:
    """Ways from anchors to the target called ``goal``, or into the finish if None, each with its anchor."""
    mapper, task = base.mapper, base.task
    n = len(base.at) + len(base.flush)
    at = [base.at, base.flush]
    fixed = [np.full(len(base.at), np.nan), base.flush_heading]
    side = [np.full(len(base.at), -1, dtype=np.int64), base.flush_side]
    parts = [base.moves]
    number = n
    new: list[Floats] = []
    pose = np.array([a.pose for a in anchors])
    still = corridors(mapper.floor, pose, np.zeros(len(pose))).tightest
    own = np.arange(number, number + len(anchors))
    number += len(anchors)
    at.append(pose[:, :2])
    fixed.append(np.where(still < LEAST_GAP, pose[:, 2], np.nan))
    side.append(np.full(len(anchors), -1, dtype=np.int64))
    new.append(pose[:, :2])
    for a, anchor in enumerate(anchors):
        ways = np.array(BACK) if anchor.before else _out(base, anchor)
        out, moves = mapper.straight_on(int(own[a]), anchor.pose, ways, number)
        at.append(out)
        fixed.append(np.full(len(out), np.nan))
        side.append(np.full(len(out), -1, dtype=np.int64))
        new.append(out)
        parts.append(moves)
        number += len(out)
    fresh = np.concatenate(new)
    fresh_numbers = np.concatenate([own, np.arange(n + len(anchors), number)])
    everywhere, where_fixed, where_side = np.concatenate(at), np.concatenate(fixed), np.concatenate(side)
    free = ~np.isnan(where_fixed)
    can_turn = fresh_numbers[~free[fresh_numbers]]
    # From the new places to all old ones, and between nothing else.
    first = np.repeat(can_turn, len(base.at))
    second = np.tile(np.arange(len(base.at)), len(can_turn))
    if len(first):
        parts.append(mapper.between(everywhere, first, second, back=False))
        parts.append(mapper.between(everywhere, second, first, ahead=False))
    flush, heading, flush_side, onto = mapper.pushes(
        everywhere[fresh_numbers], where_fixed[fresh_numbers], fresh_numbers, number
    )
    away_to = np.concatenate([np.arange(len(base.at)), fresh_numbers[len(anchors) :]])
    away = mapper.leaves(flush, heading, number + np.arange(len(flush)), flush_side, everywhere[away_to], away_to)
    parts += [onto, away]
    everywhere = np.concatenate([everywhere, flush])
    where_fixed = np.concatenate([where_fixed, heading])
    where_side = np.concatenate([where_side, flush_side])
    spins = np.concatenate(
        [base.spins, mapper.spins(fresh), np.full((len(flush), SECTORS, SECTORS), 1e3, dtype=np.float32)]
    )
    number = len(everywhere)
    if goal is None:
        moves = moves_joined(parts)
        places = Places(everywhere, where_fixed, spins, where_side, moves)
        target = _finish(base, places)
    else:
        thing = next(t for t in task.field.targets if t.name == goal)
        offsets = _into_target(base, thing, everywhere, where_fixed, number, parts)
        moves = moves_joined(parts)
        places = Places(everywhere, where_fixed, spins, where_side, moves)
        target = _at_target(base, thing, moves, number, offsets)
    labels = Labels(
        own.astype(np.int64), pose[:, 2], belief.joined([a.beliefs for a in anchors]),
        np.array([a.lost for a in anchors]), np.array([a.cost for a in anchors]),
        np.array([a.seconds for a in anchors]),
        np.array([a.way_round for a in anchors]), np.array([a.pushes for a in anchors], dtype=np.int64),
        np.zeros(len(anchors), dtype=np.int64), np.full(len(anchors), -1, dtype=np.int64), np.zeros(len(anchors)),
        np.zeros(len(anchors)),
    )  # fmt: skip
    faces = np.array([s.x for s in mapper.sides] or [0.0])
    limit = inf if task.within is None else task.within
    found = search(
        places, labels, target, base.noise, layers=layers, limit=limit, sides=faces, effort=effort, blind=blind,
        last=last, watch=watch,
    )  # fmt: skip
    return [(anchors[way.first], way, places) for way in found]


def _out(base: Base, anchor: Anchor) -> Floats:
    """How far straight out of a start: to rows and columns of the grid where it drives along the other, so that a
    square and a straight away from it meet places there; else by even steps; and to beside each target."""
    x, y, h = anchor.pose
    c, s = cos(h), sin(h)
    if abs(s) < 1e-6:
        ways = list((base.columns - x) / c)
    elif abs(c) < 1e-6:
        ways = list((base.rows - y) / s)
    else:
        ways = [*OUT, *(-way for way in OUT)]
    _, ty = tool_point(base.task.robot, base.task.wear)
    for name in base.task.targets:
        gx, gy = next(t for t in base.task.field.targets if t.name == name).at
        ahead = (gx - x) * c + (gy - y) * s
        ways += [ahead + ty, ahead - ty] if ty else [ahead]
    return np.unique(np.round([way for way in ways if abs(way) > 20.0], 6))


# --- into a target -------------------------------------------------------------------------------------------------


def _into_target(base: Base, target: Target, at: Floats, fixed: Floats, number: int, parts: list[Moves]) -> Floats:
    """Add the moves that bring the tool to a target; the tool\'s planned place from it (k, 2)."""
    tx, ty = tool_point(base.task.robot, base.task.wear)
    gx, gy = target.at
    dx, dy = gx - at[:, 0], gy - at[:, 1]
    distance = np.hypot(dx, dy)
    start, pose, way = [], [], []
    offsets = []
    slack = radians(target.heading_within) if target.heading_within is not None else inf
    for sign in (1.0, -1.0):
        root = sign * np.sqrt(np.maximum(distance**2 - ty * ty, 0.0))
        heading = np.where(np.isnan(fixed), np.arctan2(dy, dx) - np.arctan2(ty, root), fixed)
        c, s = np.cos(heading), np.sin(heading)
        ahead, aside = dx * c + dy * s - tx, dy * c - dx * s - ty
        ok = (np.abs(aside) < 0.35 * target.within) & (np.abs(ahead) > 8.0) & (np.abs(ahead) < 2500.0)
        ok &= (np.isnan(fixed) | (sign > 0)) & (distance > abs(ty))
        if target.heading is not None:
            off = np.abs(np.angle(np.exp(1j * (heading - radians(target.heading)))))
            ok &= off < 0.8 * slack
        for a in np.flatnonzero(ok):
            for short in SHORT:
                less = np.sign(ahead[a]) * short * target.within
                if abs(ahead[a] - less) < 8.0:
                    continue
                start.append(a)
                pose.append((at[a, 0], at[a, 1], heading[a]))
                way.append(ahead[a] - less)
                offsets.append((-less * c[a] - aside[a] * -s[a], -less * s[a] - aside[a] * c[a]))
    count = len(start)
    made = base.mapper.moves(
        np.array(start, dtype=np.int64), number + np.arange(count), ACT, np.array(pose, dtype=float).reshape(-1, 3),
        np.array(way, dtype=float), let_off=True,
    )  # fmt: skip
    parts.append(made)
    return np.array(offsets, dtype=float).reshape(-1, 2)


def _at_target(base: Base, target: Target, moves: Moves, number: int, offsets: Floats) -> Goal:
    tx, ty = tool_point(base.task.robot, base.task.wear)

    def chance(labels: Labels, move: Ints) -> Floats:
        c, s = np.cos(labels.heading), np.sin(labels.heading)
        whole = labels.beliefs.covariance
        jacobian = np.zeros((len(labels), 2, 3))
        jacobian[:, 0, 0] = jacobian[:, 1, 1] = 1.0
        jacobian[:, 0, 2], jacobian[:, 1, 2] = -(s * tx + c * ty), c * tx - s * ty
        spread = jacobian @ whole @ jacobian.transpose(0, 2, 1)
        found = belief.hits(offsets[moves.end[move] - number], spread, target.within)
        if target.heading is not None and target.heading_within is not None:
            off = np.angle(np.exp(1j * (labels.heading - radians(target.heading))))
            found = found * belief.faces(off, whole[:, 2, 2], radians(target.heading_within))
        return np.asarray(found)

    return Goal(moves.kind == ACT, chance, target.at, max(target.within, 1.0))


# --- into the finish -----------------------------------------------------------------------------------------------


def area_parts(shape: Box | Outline | Round) -> list[Floats]:
    """An area as convex polygons, counter-clockwise; a round one as 24 corners on it."""
    if isinstance(shape, Round):
        angle = 2 * pi * np.arange(24) / 24
        return [np.array(shape.center) + shape.radius * np.stack([np.cos(angle), np.sin(angle)], axis=-1)]
    return list(convex_parts(outline(shape)))


def _finish(base: Base, places: Places) -> Goal:
    """The body has to end inside the finish: within one of its convex parts, which is careful."""
    task, moves = base.task, places.moves
    area = next(a for a in task.field.start_areas if a.name == task.finish)
    corners = body_corners(task.robot.body)
    inner = moves.end < len(places)
    end = np.where(inner, np.minimum(moves.end, len(places) - 1), 0)
    h = moves.heading
    c, s = np.cos(h)[:, None], np.sin(h)[:, None]
    rel = np.stack([c * corners[:, 0] - s * corners[:, 1], s * corners[:, 0] + c * corners[:, 1]], axis=-1)
    body = places.at[end][:, None] + rel
    best = np.full(len(moves), -1.0)
    margin: Floats = np.zeros((len(moves), 0))
    slope: Floats = np.zeros((len(moves), 0, 3))
    for part in area_parts(area.shape):
        edge = np.roll(part, -1, axis=0) - part
        normal = np.stack([-edge[:, 1], edge[:, 0]], axis=-1) / np.hypot(edge[:, 0], edge[:, 1])[:, None]
        inside = np.einsum("mcx,ex->mec", body, normal) - (part * normal).sum(axis=1)[None, :, None]
        worst = inside.argmin(axis=2)
        least = np.take_along_axis(inside, worst[..., None], axis=2)[..., 0]
        lever = np.take_along_axis(rel[:, None].repeat(len(part), axis=1), worst[..., None, None], axis=2)[:, :, 0]
        slopes = np.concatenate(
            [
                np.broadcast_to(normal, lever.shape),
                (normal[:, 1] * lever[..., 0] - normal[:, 0] * lever[..., 1])[..., None],
            ],
            axis=-1,
        )
        if margin.shape[1] < len(part):
            wide = len(part) - margin.shape[1]
            margin = np.concatenate([margin, np.full((len(moves), wide), 1e3)], axis=1)
            slope = np.concatenate([slope, np.zeros((len(moves), wide, 3))], axis=1)
        better = least.min(axis=1) > best
        best = np.where(better, least.min(axis=1), best)
        margin[better] = 1e3
        margin[better, : len(part)] = least[better]
        slope[better, : len(part)] = slopes[better]
    ends = (best > 1.0) & inner & ((moves.kind == GO) | (moves.kind == LEAVE) | (moves.kind == PUSH))

    def chance(labels: Labels, move: Ints) -> Floats:
        variance = labels.beliefs.variance(slope[move])
        return np.asarray(belief.survives(margin[move], variance + 1.0).prod(axis=1))

    middle = np.concatenate(area_parts(area.shape)).mean(axis=0)
    return Goal(ends, chance, (float(middle[0]), float(middle[1])), 60.0)


# --- ways as legs --------------------------------------------------------------------------------------------------


def legs_of(base: Base, found: Found, places: Places, target: Target | None) -> tuple[Leg, ...]:
    """The legs of one stage's way."""
    legs = []
    moves = places.moves
    for number, turn in zip(found.moves, found.turns, strict=True):
        kind, way = int(moves.kind[number]), float(moves.way[number])
        long_way = abs(turn) > pi + 1e-9
        if kind == PUSH:
            legs.append(Leg(PUSH, way < 0, side=base.mapper.sides[int(moves.side[number])], long_way=long_way))
        elif kind == LEAVE:
            legs.append(Leg(LEAVE, way < 0, way=way))
        elif kind == GO:
            x, y = places.at[int(moves.end[number])]
            legs.append(Leg(GO, way < 0, at=(float(x), float(y)), long_way=long_way))
        else:
            assert target is not None
            fixed = not np.isnan(places.fixed[int(moves.start[number])])
            h = float(moves.heading[number])
            x, y = places.at[int(moves.start[number])]
            tool = tool_point(base.task.robot, base.task.wear)
            ahead = (target.at[0] - x) * cos(h) + (target.at[1] - y) * sin(h) - tool[0]
            behind = (target.at[0] - x) * cos(h) + (target.at[1] - y) * sin(h) < 0
            straight = way if fixed else 0.0
            legs.append(
                Leg(ACT, way < 0, way=straight, target=target, more=way - ahead, long_way=long_way, behind=behind)
            )
    return tuple(legs)


def ways(
    task: Task, base: Base, effort: Effort, *, blind: bool = False, watch: Callable[[], None] = lambda: None
) -> list[Way]:
    """Ways of different classes by all targets into the finish, the most promising first. Empty if none is found."""
    anchors = starts_of(task)
    goals: list[str | None] = [*task.targets, *([None] if task.finish is not None else [])]
    for number, goal in enumerate(goals):
        target = None if goal is None else next(t for t in task.field.targets if t.name == goal)
        last = number == len(goals) - 1
        found = stage(base, anchors, goal, effort, blind=blind, last=last, watch=watch)
        following: list[Anchor] = []
        most = 40 if last else FOLLOWED
        classes: dict[object, int] = {}
        for anchor, way, places in found:
            legs = (*anchor.before, *legs_of(base, way, places, target))
            pushes = tuple(leg.side.name for leg in legs if leg.side is not None)
            key = (round(way.way_round, 3), pushes, anchor.start)
            if classes.get(key, 0) >= 2:
                continue
            classes[key] = classes.get(key, 0) + 1
            if goal is None:
                x, y = places.at[way.place]
            else:
                move = places.moves
                k = way.moves[-1]
                a = places.at[int(move.start[k])]
                x, y = a + move.way[k] * np.array([cos(way.heading), sin(way.heading)])
            following.append(
                Anchor((float(x), float(y), way.heading), way.beliefs, legs, anchor.start, way.lost, way.cost,
                       way.seconds, way.way_round, way.pushes)
            )  # fmt: skip
            if len(following) >= most:
                break
        if not following:
            return []
        anchors = following
    return [Way(a.start, a.before, a.way_round, float(np.exp(-a.lost))) for a in anchors]
