"""From the end of a run to a target, or to a place: the segments that get there most often.

The same search as for whole runs (`fieldsim.planning.ways`), from where the run ends in the middle of its trials and
with what they are spread there. Every way is judged as the whole run with the new segments behind it, on draws that are
not those which are told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import radians

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, Point, Run, Segment, Spread, StartByEye, Target, Wait
from fieldsim.planning.legs import Task, Way, written
from fieldsim.planning.polish import CHOOSING, Judge, chosen
from fieldsim.planning.search import Effort
from fieldsim.planning.ways import base_of, ways
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import plan, typical_poses
from fieldsim.sim.trials import Driver, blocks
from fieldsim.stats.intervals import Share, wilson

__all__ = ["Onward", "end_of", "first_segments", "onward", "share_of"]

# Trials that tell how the run's end is spread.
SPREAD_OF = 1000
# A place is met within so much, mm: less than a robot's own errors after some segments.
PLACE = 20.0
# Ways of different kinds that are made better: somebody waits for one.
MADE_BETTER = 4
HERE = "here"
# A run is never known better than this where it ends, mm and degrees: the search divides by it.
LEAST = 0.3, 0.1


@dataclass(frozen=True)
class Onward:
    """What was found."""

    segments: tuple[Segment, ...]
    """To be put behind the run; empty if no way was found."""
    success: Share
    """How often the run gets through with them, of fresh trials; where there is no way, none of them."""
    trials: int


def share_of(run: Run, *, trials: int, seed: int, threads: int | None = None) -> Share:
    """How often a run gets through: the first trials of a seed, as `try` drives them."""
    parts = blocks(plan(run), seed, trials, threads=threads, clearances=False)
    won = [int(block.success.sum()) for block in parts]
    return wilson(sum(won), trials)


def end_of(run: Run, seed: int = 1) -> tuple[tuple[float, float, float], Spread]:
    """Where a run ends with the robot's known bias and no luck (mm, degrees), and how trials that get to its end are
    spread there: standard deviations along and across the heading, mm, and of the heading, degrees. A run that only
    stands ends at its start."""
    if run.segments == (Wait(0.0),):
        x, y, h = start_pose(run)
    else:
        x, y, h = (float(value) for value in typical_poses(run)[-1])
    block = Driver(plan(run), seed, clearances=False).block(CHOOSING - 1, SPREAD_OF)
    poses: NDArray[np.float64] = block.poses[block.ended, -1]
    if len(poses) < 2:
        # Hardly any trial gets here: what comes after it cannot mend that.
        return (x, y, h), Spread(3.0, 3.0, 1.5)
    c, s = np.cos(radians(h)), np.sin(radians(h))
    off = poses[:, :2] - poses[:, :2].mean(axis=0)
    along, across = float((off @ (c, s)).std()), float((off @ (-s, c)).std())
    heading = float(poses[:, 2].std())
    return (x, y, h), Spread(max(along, LEAST[0]), max(across, LEAST[0]), max(heading, LEAST[1]))


def first_segments(run: Run, count: int) -> Run:
    """The run up to a segment, free to end anywhere; one of no segments only stands at its start."""
    return replace(run, segments=run.segments[:count] or (Wait(0.0),), finish=None)


class _Behind(Judge):
    """Ways judged as what comes after a run."""

    def __init__(self, run: Run, task: Task, seed: int, crossed: Callable[..., NDArray[np.float64]]) -> None:
        super().__init__(task, seed, crossed)
        self.run = run

    def written(self, way: Way) -> Run:
        return _behind(self.run, written(self.task, way).segments)


def _behind(run: Run, segments: tuple[Segment, ...]) -> Run:
    """A run that was begun from nothing consists of them."""
    return replace(run, segments=segments if run.segments == (Wait(0.0),) else (*run.segments, *segments))


def onward(
    run: Run,
    to: str | Point,
    *,
    trials: int = 2000,
    seed: int = 1,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Onward:
    """The segments that bring the tool point from the end of ``run`` to the target called ``to`` (and act there), or to
    a place in the field, and get through most often. Raises FieldsimError where nothing can be planned."""
    field = run.field
    if not isinstance(to, str):
        # Met like a target, without an act that anybody asked for.
        named = {target.name for target in field.targets}
        name = next(each for n in range(len(named) + 1) if (each := f"{HERE} {n}") not in named)
        field = replace(field, targets=(*field.targets, Target(name, to, PLACE)))
    else:
        name = to
    (x, y, h), spread = end_of(run, seed)
    watch(5, 100)
    wide, deep = field.size
    at = min(max(x, 0.0), wide), min(max(y, 0.0), deep)
    start = StartByEye(at, h, spread)
    there = replace(run, field=field, finish=None)
    task = Task(field, run.robot, run.wear, (start,), (name,), None)
    base = base_of(task)
    watch(25, 100)
    steps = iter(range(26, 39))
    found = ways(task, base, Effort(), watch=lambda: watch(next(steps, 39), 100))
    judge = _Behind(there, task, seed, base.mapper.crossed)
    best = chosen(judge, found, 1, threads, lambda n: watch(40 + min(50, n // 1500), 100), most=MADE_BETTER)
    watch(92, 100)
    if not best:
        return Onward((), wilson(0, trials), trials)
    before = 0 if run.segments == (Wait(0.0),) else len(run.segments)
    segments = best[0].run.segments[before:]
    success = share_of(_behind(there, segments), trials=trials, seed=seed, threads=threads)
    watch(100, 100)
    if not isinstance(to, str):
        segments = tuple(each for each in segments if not (isinstance(each, Act) and each.target == name))
    return Onward(segments, success, trials)
