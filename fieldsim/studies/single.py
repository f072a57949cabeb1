"""One trial looked at alone: by how much it failed, and whose error did most. And all trials at one act.

Of each trial the drawn numbers are known (`fieldsim.sim.draws`), so it can be driven again with the errors of one
segment taken away and all others as they were. What comes nearest to getting through then had that error to thank.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, radians

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, Run, Target
from fieldsim.sim.draws import BLOCK, kept_block
from fieldsim.sim.endings import tool_off, tool_point
from fieldsim.sim.failures import Failure
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import Plan
from fieldsim.sim.table import seen_from
from fieldsim.sim.trials import Driver, Trials, nominal
from fieldsim.studies.sources import Source, sources

__all__ = ["Blame", "Miss", "Shots", "Single", "act_of", "shots", "single"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Miss:
    """By how much a tool point is off its target, as the robot looks."""

    ahead: float
    """mm too far ahead; short of it if negative."""
    left: float
    """mm too far to the left; to the right if negative."""
    turned: float | None
    """Degrees turned too far to the left of the heading the target asks for; None if it asks for none."""
    within: float
    """mm that are allowed."""
    heading_within: float | None
    """Degrees that are allowed; None if any."""

    @property
    def away(self) -> float:
        return hypot(self.ahead, self.left)

    @property
    def only_turned(self) -> bool:
        """The place is right, and only the heading is not."""
        return self.away <= self.within


@dataclass(frozen=True)
class Blame:
    """The error without which this trial would have come nearest to getting through."""

    source: str
    """In words, where it is one of those that belong to no segment; else empty."""
    segment: int
    """From 1; 0 for what belongs to none."""
    through: bool
    """Without it the trial gets through."""


@dataclass(frozen=True)
class Single:
    """Why one trial failed."""

    failure: Failure
    miss: Miss | None
    """Of the act that missed; None for any other failure."""
    gap: float | None
    """mm that the plan leaves to what was touched, on that segment's whole run; None for any other failure."""
    blame: Blame | None
    """None where nothing is drawn: it fails the same way every time."""


def single(trials: Trials, index: int, failure: Failure) -> Single:
    """Why trial ``index`` (a row of ``trials``, of deck 0) failed, where ``failure`` went wrong first in it."""
    ready = trials.plan
    number = trials.first + index
    z = kept_block(trials.seed, number // BLOCK, ready.drivetrain.streams)[:, number % BLOCK]
    miss = gap = None
    if failure.why == "misses":
        miss = _miss(ready, z[:, None], trials.poses[index, failure.segment], failure.segment - 1)
    elif failure.why == "touches":
        gap = _planned_gap(ready, failure.what)
    return Single(failure, miss, gap, _blame(ready, trials.seed, z, failure))


def _miss(ready: Plan, z: Floats, pose: Floats, act: int) -> Miss:
    run = ready.run
    target = _target_of(run, act)
    ((x, y, heading),) = _seen(ready, target, z, pose[None])
    ((ahead, left),) = tool_off(run.robot, run.wear, target, np.array([[x, y, heading]]))
    turned = None if target.heading is None else wrapped(heading - target.heading)
    return Miss(float(ahead), float(left), turned, target.within, target.heading_within)


def _planned_gap(ready: Plan, name: str) -> float | None:
    """mm that the planned run leaves to a thing; None where it is pushed against it, or farther than is followed."""
    number = next(n for n, solid in enumerate(ready.solids) if solid.name == name)
    gap = float(nominal(ready).clearance[0, number])
    return gap if gap < ready.course.horizon else None


def _blame(ready: Plan, seed: int, z: Floats, failure: Failure) -> Blame | None:
    """The trial of drawn numbers ``z`` (rows,) is driven once more without each of the errors."""
    groups = _groups(sources(ready.run, ready.drivetrain))
    if not groups:
        return None
    driver = Driver(ready, seed)
    tried = np.repeat(z[:, None], BLOCK, axis=1)
    for k, (_, rows) in enumerate(groups):
        tried[list(rows), k] = 0.0
    driver.z = tried
    found = driver.drawn(0, len(groups))
    off = _off(ready, found, failure)
    # Through is through; among those the one that is farthest from failing, and else what is nearest to it.
    best = min(range(len(groups)), key=lambda k: (not found.success[k], off[k], k))
    source, _ = groups[best]
    return Blame(source.words if source.segment == 0 else "", source.segment, bool(found.success[best]))


def _groups(found: list[Source]) -> list[tuple[Source, tuple[int, ...]]]:
    """Errors that are taken away together: all of a segment's, and each of those that belong to none."""
    groups: dict[object, tuple[Source, tuple[int, ...]]] = {}
    for k, source in enumerate(found):
        key = source.segment or ("", k)
        first, rows = groups.get(key, (source, ()))
        groups[key] = first, (*rows, *source.rows)
    return list(groups.values())


def _off(ready: Plan, trials: Trials, failure: Failure) -> Floats:
    """How badly each trial (N,) does where one failed; no unit that could be told, only an order."""
    run = ready.run
    if failure.why == "misses":
        act = [g for g, segment in enumerate(run.segments) if isinstance(segment, Act)].index(failure.segment - 1)
        target = _target_of(run, failure.segment - 1)
        off = trials.miss[:, act] / max(target.within, 1e-9)
        if target.heading is not None and target.heading_within is not None:
            turned = (trials.poses[:, failure.segment, 2] - target.heading + 180.0) % 360.0 - 180.0
            off = np.maximum(off, np.abs(turned) / max(target.heading_within, 1e-9))
        return off
    if failure.why == "touches":
        number = next(n for n, solid in enumerate(ready.solids) if solid.name == failure.what)
        at = np.flatnonzero(trials.obstacles == number)
        gap = trials.clearance[:, at[0]] if len(at) else np.full(len(trials), ready.course.horizon)
        if gap.any():
            return -gap
    # How far a point half a body from the axle is from where it was meant to be, before the square or at the end.
    before = failure.segment if failure.why in ("touches", "ends outside") else failure.segment - 1
    off = trials.poses[:, before] - nominal(ready).poses[0, before]
    turned = np.radians((off[:, 2] + 180.0) % 360.0 - 180.0)
    far: Floats = np.hypot(off[:, 0], off[:, 1]) + np.abs(turned) * run.robot.body.length / 2
    return far


def _target_of(run: Run, act: int) -> Target:
    segment = run.segments[act]
    assert isinstance(segment, Act)
    return next(target for target in run.field.targets if target.name == segment.target)


def _seen(ready: Plan, target: Target, z: Floats, poses: Floats) -> Floats:
    """Poses (N, 3), mm and degrees, as they are seen from a target that lies elsewhere in each trial."""
    moved = ready.drivetrain.table.targets.get(target.name, -1)
    if moved < 0:
        return poses
    turns = np.array([1.0, 1.0, radians(1.0)])
    seen: Floats = seen_from(ready.course.moves, moved, z, poses * turns) / turns
    return seen


@dataclass(frozen=True, eq=False)
class Shots:
    """Where the tool point is at one act, in all trials that come to it."""

    segment: int
    """From 1."""
    target: str
    at: tuple[float, float]
    """The target, as it is drawn,"""
    within: float
    """and how far off it the tool point may be, mm."""
    points: Floats
    """(N, 2) the tool point of each trial that came, mm, about a target that is where it is drawn."""
    hit: Bools
    """(N,) in place, and facing the right way."""
    planned: tuple[float, float]
    """The tool point as planned,"""
    plan: Miss
    """and by how much that is off."""


def act_of(run: Run, segment: int) -> int | None:
    """The number of an act, from 0, by its segment from 1; None for any other segment."""
    acts = [g for g, each in enumerate(run.segments, start=1) if isinstance(each, Act)]
    return acts.index(segment) if segment in acts else None


def shots(trials: Trials, segment: int) -> Shots:
    """All trials at the act on a segment, from 1. Raises ValueError for a segment that is none."""
    ready = trials.plan
    run = ready.run
    act = act_of(run, segment)
    if act is None:
        raise ValueError(f"segment {segment} is no act")
    target = _target_of(run, segment - 1)
    came = trials.reached[:, act]
    poses = trials.poses[came, segment]
    if ready.drivetrain.table.targets.get(target.name, -1) >= 0:
        poses = _seen(ready, target, _drawn(trials)[:, came], poses)
    planned = nominal(ready).poses[0, segment]
    return Shots(
        segment=segment,
        target=target.name,
        at=target.at,
        within=target.within,
        points=_tool(run, poses),
        hit=trials.hit[came, act],
        planned=tuple(_tool(run, planned[None])[0].tolist()),
        plan=_miss(ready, np.zeros((ready.drivetrain.rows, 1)), planned, segment - 1),
    )


def _drawn(trials: Trials) -> Floats:
    """The drawn numbers (rows, N) of trials that stand behind one another."""
    streams = trials.plan.drivetrain.streams
    first, last = trials.first, trials.first + len(trials)
    found = [kept_block(trials.seed, k, streams) for k in range(first // BLOCK, -(-last // BLOCK))]
    begin = first - first // BLOCK * BLOCK
    return np.concatenate(found, axis=1)[:, begin : begin + len(trials)]


def _tool(run: Run, poses: Floats) -> Floats:
    """The tool point (N, 2) in the field at poses (N, 3), mm and degrees."""
    x, y = tool_point(run.robot, run.wear)
    h = np.radians(poses[:, 2])
    points: Floats = poses[:, :2] + np.stack([x * np.cos(h) - y * np.sin(h), x * np.sin(h) + y * np.cos(h)], axis=-1)
    return points
