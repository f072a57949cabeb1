"""Monte Carlo trials of a run, in blocks: bounded memory, all cores, the same bits whatever the threads.

``simulate`` keeps every trial, for scripts; ``blocks`` hands them out one block after another, for answers over any
number of trials. A block's results depend on the seed and its number alone, and blocks are handed out in order.
"""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable, Generator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, LineSquare, Run, Square, Until
from fieldsim.sim import motion
from fieldsim.sim.draws import BLOCK, Draws, kept_block
from fieldsim.sim.drivetrain import perfect
from fieldsim.sim.endings import aim, ends_inside
from fieldsim.sim.kernel import trial as kernel
from fieldsim.sim.kernel.course import CAUGHT, Course
from fieldsim.sim.kernel.path import S, T
from fieldsim.sim.kernel.sweep import TOUCH
from fieldsim.sim.kernel.trial import Scratch, run_trials
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import Plan, nothing_drawn, plan
from fieldsim.sim.sample import PathSample
from fieldsim.sim.table import seen_from
from fieldsim.stats.intervals import Share, wilson

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# As far as it takes to see every touch, mm.
HARDLY = 10 * TOUCH


@dataclass(frozen=True, eq=False)
class Trials:
    """Trials of one run, a row each. Lengths in mm, headings in degrees, times in seconds.

    N trials, C obstacles followed (``obstacles``; any other stayed ``horizon`` away in every trial), S segments,
    T acts. Segments are counted from 1.
    """

    plan: Plan
    seed: int
    first: int
    """Number of the first trial, from 0."""
    obstacles: Ints
    """(C,) indices into ``plan.solids``. None, and no column of ``ribbon``, where clearances were not asked for."""
    clearance: Floats
    """(N, C) over the whole run as if nothing had stopped it; 0 where touched, at most ``horizon``."""
    tightest: Ints
    """(N, C) segment on which it was smallest; 0 where it never was below the horizon."""
    ribbon: Floats
    """(N, S) clearance to the nearest obstacle on each segment."""
    poses: Floats
    """(N, S + 1, 3) at the start and at each segment's end, headings not wrapped."""
    contact_obstacle: Ints
    """(N,) index into ``plan.solids`` of the first contact, -1 if there was none."""
    contact_segment: Ints
    """(N,) its segment, 0 if there was none."""
    contact_piece: Ints
    """(N,) its piece of driving, from 0; the number of pieces if there was none."""
    contact_fraction: Floats
    """(N,) share of that segment driven until then, by the faster wheel; not-a-number if there was none."""
    contact_at: Floats
    """(N, 2) where."""
    endings: Ints
    """(N, A) how each alignment (square, line square, until) ended: 0 caught, else what went wrong (see
    ``ending_words``). After the first that failed the others count as not reached."""
    ended_segment: Ints
    """(N,) the segment whose alignment failed, 0 if none did. What comes after it is not driven: poses stay where they
    were, clearances end there. (A contact before it does not change this: see ``clear``.)"""
    miss: Floats
    """(N, T) distance of the tool point from each act's target, as if nothing had stopped the run."""
    reached: Bools
    """(N, T) no contact before the act, and no square or line that was not caught."""
    hit: Bools
    """(N, T) reached, near enough and, where the target asks for it, facing the right way."""
    acting: Floats
    """(N, T, 2) seconds from the start at which each act begins and ends, as if nothing had stopped the run."""
    home: Bools
    """(N,) the body ended inside the finish; true if the run names none."""
    time: Floats
    """(N,) seconds until the end, the first contact, or the alignment that failed."""

    def __len__(self) -> int:
        return len(self.time)

    @property
    def clear(self) -> Bools:
        """(N,) nothing was touched that may not be."""
        return self.contact_obstacle < 0

    @property
    def success(self) -> Bools:
        """(N,) nothing touched, every square and line caught, every act in place, the finish met."""
        through: Bools = self.ended & self.hit.all(axis=1) & self.home
        return through

    @property
    def ended(self) -> Bools:
        """(N,) came to the end of the run: nothing touched, every square and line caught."""
        whole: Bools = self.clear & (self.ended_segment == 0)
        return whole

    @property
    def share(self) -> Share:
        """Share of trials that got through, with its 95 % interval."""
        return wilson(int(self.success.sum()), len(self))

    def row(self, index: int) -> Trials:
        """One of these trials alone."""
        return self._map(lambda value: value[index : index + 1], first=self.first + index)

    def _map(self, change: Callable[[Any], Any], first: int) -> Trials:
        kept: dict[str, Any] = {
            f.name: change(getattr(self, f.name))
            for f in fields(self)
            if f.name not in ("plan", "seed", "first", "obstacles")
        }
        return Trials(plan=self.plan, seed=self.seed, first=first, obstacles=self.obstacles, **kept)


def simulate(run: Run, trials: int = 10_000, seed: int = 1, *, threads: int | None = None) -> Trials:
    """Drive a run ``trials`` times and keep every trial (some 600 bytes each; for more than memory holds, ``blocks``).

    Raises ValueError if ``trials`` is not at least 1 or ``seed`` not a whole number from 0.
    """
    if trials < 1:
        raise ValueError(f"trials={trials!r} must be at least 1")
    ready = plan(run)
    return joined(list(blocks(ready, seed, trials, threads=threads)))


def joined(parts: list[Trials]) -> Trials:
    """Blocks behind one another, with the obstacles of all."""
    ready = parts[0].plan
    obstacles = np.array(sorted({int(o) for part in parts for o in part.obstacles}), dtype=np.int64)
    arrays: dict[str, list[Any]] = {}
    for part in parts:
        column = np.searchsorted(obstacles, part.obstacles)
        for f in fields(part):
            value = getattr(part, f.name)
            if f.name in ("plan", "seed", "first", "obstacles"):
                continue
            if f.name in ("clearance", "tightest"):
                rest = ready.course.horizon if f.name == "clearance" else 0
                wide = np.full((len(part), len(obstacles)), rest, dtype=value.dtype)
                wide[:, column] = value
                value = wide
            arrays.setdefault(f.name, []).append(value)
    return Trials(
        plan=ready,
        seed=parts[0].seed,
        first=parts[0].first,
        obstacles=obstacles,
        **{name: np.concatenate(values) for name, values in arrays.items()},
    )


def blocks(
    ready: Plan,
    seed: int,
    trials: int,
    *,
    first_block: int = 0,
    threads: int | None = None,
    clearances: bool = True,
) -> Generator[Trials, None, None]:
    """Trials ``first_block * BLOCK`` and on, ``trials`` of them, a block of ``BLOCK`` at a time and in order.

    At most two blocks a thread exist at once, so memory does not grow with the number of trials. Without ``clearances``
    (see `Driver`) they take half as long.
    """
    workers = threads or os.cpu_count() or 1
    own = threading.local()
    count = -(-trials // BLOCK)

    def one(index: int) -> Trials:
        if not hasattr(own, "driver"):
            own.driver = Driver(ready, seed, clearances=clearances)
        driver: Driver = own.driver
        return driver.block(first_block + index, min(BLOCK, trials - index * BLOCK))

    if workers == 1 or count == 1:
        yield from map(one, range(count))
        return
    with ThreadPoolExecutor(workers) as pool:
        waiting: deque[Future[Trials]] = deque()
        try:
            for index in range(count):
                waiting.append(pool.submit(one, index))
                if len(waiting) >= 2 * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def trial(ready: Plan, seed: int, number: int) -> Trials:
    """One trial by its number, from 0: the same as in any larger set."""
    block = Driver(ready, seed).block(number // BLOCK, number % BLOCK + 1)
    return block.row(number % BLOCK)


def paths(ready: Plan, seed: int, trials: Trials, numbers: list[int]) -> PathSample:
    """The planned path and those of some trials (by number) for a picture, with all first contacts in ``trials``."""
    wheels = ready.course.wheels
    count = len(wheels.left)
    draws = Draws(seed)
    z = np.zeros((ready.drivetrain.rows, BLOCK))
    driven = np.zeros((len(numbers), count + 1, 3))
    ended = np.full(len(numbers), count + 1, dtype=np.int64)
    loaded = -1
    # Neighbours of a block are driven at one go.
    begins = [i for i, n in enumerate(numbers) if i == 0 or n != numbers[i - 1] + 1 or n % BLOCK == 0]
    for start, stop in zip(begins, [*begins[1:], len(numbers)], strict=True):
        block, column = divmod(numbers[start], BLOCK)
        if block != loaded:
            loaded = block
            draws.block(loaded, ready.drivetrain.streams, z)
        driven[start:stop] = joints(ready.course, z, column, stop - start)
    for index, number in enumerate(numbers):
        row = number - trials.first
        if 0 <= row < len(trials) and trials.contact_segment[row]:
            ended[index] = trials.contact_piece[row] + 1
    touched = np.flatnonzero(trials.contact_obstacle >= 0)
    lost = np.flatnonzero((trials.contact_obstacle < 0) & (trials.ended_segment > 0))
    return replace(
        planned_sample(ready),
        trials=driven,
        ended=ended,
        contacts=trials.contact_at[touched],
        contact_obstacle=tuple(ready.solids[o].name for o in trials.contact_obstacle[touched]),
        lost=trials.poses[lost, -1, :2],
    )


def planned_sample(ready: Plan) -> PathSample:
    """The planned path alone, for a picture."""
    wheels = ready.course.wheels
    count = len(wheels.left)
    return PathSample(
        nominal=joints(ready.course._replace(wheels=perfect(wheels)), np.zeros((ready.drivetrain.rows, 1)), 0, 1)[0],
        segment=np.repeat(np.arange(1, len(wheels.piece)), np.diff(wheels.piece)),
        travel=np.column_stack([ready.path[:-1, S], np.degrees(ready.path[:-1, T])]),
        ahead=wheels.ahead,
        trials=np.zeros((0, count + 1, 3)),
        ended=np.zeros(0, dtype=np.int64),
        contacts=np.zeros((0, 2)),
        contact_obstacle=(),
        lost=np.zeros((0, 2)),
    )


def planned_poses(ready: Plan) -> Floats:
    """(segments + 1, 3) where the perfectly driven run stands before the first segment and after each: mm, degrees."""
    wheels = ready.course.wheels
    driven = joints(ready.course._replace(wheels=perfect(wheels)), np.zeros((ready.drivetrain.rows, 1)), 0, 1)[0]
    found: Floats = driven[wheels.piece]
    found[:, 2] = [wrapped(float(heading)) for heading in found[:, 2]]
    return found


def joints(course: Course, z: Floats, column: int, trials: int) -> Floats:
    """(trials, P + 1, 3) poses at the joints, degrees, with the drawn numbers of a column of ``z`` and those after."""
    poses = kernel.joints(course, z, column, trials)
    poses[..., 2] = np.degrees(poses[..., 2])
    return poses


class Driver:
    """One thread's buffers.

    Without ``clearances`` nothing is followed farther than to where it would touch: who gets through, what is touched,
    how squares and acts end and all poses are the same to the bit, but there is no column of clearances.
    """

    def __init__(self, ready: Plan, seed: int, *, clearances: bool = True) -> None:
        self.ready = ready
        self.seed = seed
        self.clearances = clearances
        self.course = ready.course if clearances else ready.course._replace(horizon=HARDLY)
        self.draws = Draws(seed)
        self.z = np.zeros((ready.drivetrain.rows, BLOCK if clearances else 0))
        self.planned = np.array(ready.columns if clearances else (), dtype=np.int64)
        self.follow(self.planned)

    def follow(self, obstacles: Ints) -> None:
        """Have a column for each of these in what is measured from now on."""
        self.obstacles = obstacles
        self.scratch = Scratch(self.course, len(obstacles), BLOCK)

    def block(self, number: int, count: int) -> Trials:
        if self.clearances:
            self.draws.block(number, self.ready.drivetrain.streams, self.z)
        else:
            self.z = kept_block(self.seed, number, self.ready.drivetrain.streams)
        return self.drawn(number, count)

    def drawn(self, number: int, count: int) -> Trials:
        """The block of the numbers that are in ``z``."""
        ready = self.ready
        things = len(ready.solids)
        while True:
            column = np.full(things, -1, dtype=np.int64)
            column[self.obstacles] = np.arange(len(self.obstacles))
            stray = np.zeros(things, dtype=np.int64)
            run_trials(self.course, self.z, 0, count, column, stray, self.scratch)
            if not (self.clearances and stray.any()):
                break
            # Wild noise has brought something near that no plan would follow: follow it too from now on, and drive the
            # block again.
            self.follow(np.union1d(self.obstacles, np.flatnonzero(stray)))
        # What is told of a block must not depend on what this thread has driven before: only what came near in it.
        near = (self.scratch.tightest[:count] >= 0).any(axis=0) | np.isin(self.obstacles, self.planned)
        found = measured(ready, self.seed, number * BLOCK, count, self.obstacles, self.scratch, self.z, near)
        return found if self.clearances else replace(found, ribbon=np.zeros((count, 0)))


def measured(
    ready: Plan, seed: int, first: int, count: int, obstacles: Ints, scratch: Scratch, z: Floats,
    near: Bools | None = None,
) -> Trials:  # fmt: skip
    """What the kernel measured, with acts, finish and time judged: a copy that does not share the scratch's memory.
    ``near`` says which of ``obstacles`` to tell of, all if it is left out."""
    run = ready.run
    piece = ready.course.wheels.piece
    poses = scratch.poses[:count].copy()
    hit_piece = scratch.contact[:count, 1]
    touched = scratch.contact[:count, 0] >= 0
    segment = np.where(touched, np.searchsorted(piece, hit_piece, side="right"), 0)
    fraction = scratch.place[:count, 0]
    endings = scratch.endings[:count, :, 0].astype(np.int64)
    driven = scratch.endings[:count, :, 1]
    aligned = np.flatnonzero(ready.course.alignments.of >= 0)
    lost = np.zeros(count, dtype=np.int64)
    for g in aligned[::-1]:
        lost[endings[:, ready.course.alignments.of[g]] != CAUGHT] = g + 1

    table, moves = ready.drivetrain.table, ready.course.moves
    acts = [(g, s) for g, s in enumerate(run.segments) if isinstance(s, Act)]
    miss = np.zeros((count, len(acts)))
    reached = np.zeros((count, len(acts)), dtype=bool)
    hit = np.zeros((count, len(acts)), dtype=bool)
    for t, (g, act) in enumerate(acts):
        target = next(target for target in run.field.targets if target.name == act.target)
        there = seen_from(moves, table.targets.get(target.name, -1), z[:, :count], poses[:, g + 1])
        miss[:, t], aimed = aim(run.robot, run.wear, target, there)
        reached[:, t] = (~touched | (hit_piece >= piece[g])) & ((lost == 0) | (lost > g))
        hit[:, t] = reached[:, t] & aimed & (miss[:, t] <= target.within)

    if run.finish is None:
        home = np.ones(count, dtype=bool)
    else:
        area = next(area for area in run.field.start_areas if area.name == run.finish)
        home = ends_inside(run, area.shape, seen_from(moves, table.mat, z[:, :count], poses[:, -1])) & (lost == 0)

    # Numbers where all trials take as long, a column of them where they do not.
    seconds: list[float | Floats] = list(ready.seconds)
    for g, row in enumerate(ready.drivetrain.act_row):
        timed = run.segments[g]
        if isinstance(timed, Square | LineSquare | Until):
            seconds[g] = motion.aligning_seconds(timed, run.robot.drive, driven[:, ready.course.alignments.of[g]])
        elif row >= 0:
            assert isinstance(timed, Act)
            seconds[g] = np.maximum(0.0, timed.takes + timed.takes_sd * z[row, :count])
    until: list[float | Floats] = list(accumulate(seconds, initial=0.0))
    time = np.full(count, until[-1])
    for g in np.unique(lost[lost > 0]):
        time[lost == g] = _of(until[g], lost == g)
    for g in np.unique(segment[touched]) - 1:
        here = touched & (segment == g + 1)
        if g in aligned:
            time[here] = _of(until[g], here) + fraction[here] * _of(seconds[g], here)
        else:
            profile = motion.profile(run.segments[g], run.robot.drive)
            time[here] = _of(until[g], here) + profile.seconds_to(fraction[here])
    acting = np.zeros((count, len(acts), 2))
    for t, (g, _) in enumerate(acts):
        acting[:, t, 0], acting[:, t, 1] = until[g], until[g + 1]

    told = slice(None) if near is None or near.all() else near
    poses[..., 2] = np.degrees(poses[..., 2])
    return Trials(
        plan=ready,
        seed=seed,
        first=first,
        obstacles=obstacles[told],
        clearance=np.array(scratch.clearance[:count, told]),
        tightest=scratch.tightest[:count, told] + 1,
        ribbon=scratch.ribbon[:count].copy(),
        poses=poses,
        contact_obstacle=scratch.contact[:count, 0].copy(),
        contact_segment=segment,
        contact_piece=hit_piece.copy(),
        contact_fraction=fraction.copy(),
        contact_at=scratch.place[:count, 1:].copy(),
        endings=endings,
        ended_segment=lost,
        miss=miss,
        reached=reached,
        hit=hit,
        acting=acting,
        home=home,
        time=time,
    )


def _of(value: float | Floats, which: Bools) -> float | Floats:
    return value[which] if isinstance(value, np.ndarray) else value


def nominal(ready: Plan) -> Trials:
    """The planned run as a trial without noise and bias; clearances are not cut off at the horizon."""
    every = np.arange(len(ready.solids), dtype=np.int64)
    return measured(ready, 0, 0, 1, every, ready.nominal, np.zeros((ready.drivetrain.rows, 1)))


def typical(ready: Plan) -> Trials:
    """The run with the robot's known bias and no draws, as a trial; clearances are not cut off at the horizon."""
    every = np.arange(len(ready.solids), dtype=np.int64)
    return measured(ready, 0, 0, 1, every, nothing_drawn(ready), np.zeros((ready.drivetrain.rows, 1)))
