"""What would make a run better: changes a team could make are tried before any of them is advised.

Every change (`fieldsim.studies.changes`) is driven on the first few hundred trials, on the same draws as the run as it
is. The best, and pairs of them, are driven on other trials, which had no part in the choice: what is told of a remedy
is what it was worth there, so that the luck of being chosen is not in it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Run, StraightNoise, TurnNoise
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.endings import tool_off
from fieldsim.sim.failures import counted, failures
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Driver, Trials
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies import changes
from fieldsim.studies.answer import OffAnswer, ProgramAnswer, RemediesAnswer, RemedyAnswer
from fieldsim.studies.changes import Change
from fieldsim.studies.compare import difference
from fieldsim.studies.fitting import Fitting

Bools = NDArray[np.bool_]

# Trials that each change is tried with first; a change that is worth 20 in 1000 shows there as two standard errors.
SCREENED = 400
# Fresh trials of those that are proven.
PROVEN = 4_000
# How many of the best are proven alone; of how many pairs are made; how many pairs are proven.
SINGLES, PARTNERS, PAIRS = 3, 5, 2
# Of how many of those that help it is asked how many robots that fit the tests they help.
HELD = 4
# A run that fails less often than this needs no remedy.
LEAST_FAILING = 0.005
# What comes before nearly all failures is worth looking at: up to the segment on which so many of them have begun.
MOST_FAILURES = 0.95


@dataclass(frozen=True, eq=False)
class _Tried:
    change: Change
    ready: Plan
    success: Bools
    gain: float


def remedies(
    run: Run,
    *,
    seed: int = 1,
    screened: int | None = None,
    trials: int = PROVEN,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> RemediesAnswer | None:
    """Remedies for a run, tried; None if it fails too seldom to need one.

    ``screened`` trials (at most a block; ``SCREENED`` for None) are driven of each change, ``trials`` fresh ones of the
    best; never more than are asked for, so that who asks for few does not wait for many. ``watch(done, wanted)`` counts
    changes; what it raises breaks the work off.
    """
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        try:
            return _tried(run, seed, screened, max(1, trials), threads, watch, pool)
        finally:
            pool.shutdown(cancel_futures=True)


def _tried(
    run: Run,
    seed: int,
    screened: int | None,
    trials: int,
    threads: int | None,
    watch: Callable[[int, int], None],
    pool: ThreadPoolExecutor,
) -> RemediesAnswer | None:
    """Whatever can be driven already is handed to the pool before the next thing is thought out: while the kernel
    drives, it does not hold the interpreter's lock."""
    ready = plan(run)
    screened = min(SCREENED if screened is None else screened, trials, BLOCK)
    base = Driver(ready, seed, clearances=False).block(0, screened)
    if (~base.success).mean() < LEAST_FAILING:
        return None
    off = list(_off(ready, base))
    waiting = _screened(run, base, _candidates(run, base, off), seed, pool)
    proof = _Proof(run, ready, seed, trials, pool)
    found = _done(waiting, watch)
    found.sort(key=lambda each: -each.gain)
    best = [each for each in found if each.gain > 0]
    partners = _apart(best, PARTNERS)
    pairs = [both for a, b in combinations(partners, 2) if (both := changes.joined(a.change, b.change)) is not None]
    together = _done(_screened(run, base, pairs, seed, pool), watch)
    together.sort(key=lambda each: -each.gain)
    top = best[0].gain if best else 0.0
    chosen = [*_apart(best, SINGLES), *[each for each in together if each.gain > top][:PAIRS]]
    # What is the same every time is told whatever else would help more: it costs nothing but other numbers.
    chosen += [each for each in best if each.change.kind == "corrected numbers" and each not in chosen][:1]
    # The program's values are proven whether or not they help: that they do not says that the numbers allow for it.
    values = changes.program_values(run)
    told = proof.remedies(chosen)
    good = _held(run, chosen, told, Fitting(seed, threads))
    proven = {id(each) for each in chosen}
    program = None
    if values is not None:
        right = changes.with_right_program(run)
        program = ProgramAnswer(*values, worth=difference(proof.begun(plan(right))(), proof.base()))
    return RemediesAnswer(
        trials=trials,
        screened=screened,
        off=tuple(each.answer for each in off),
        program=program,
        good=tuple(good),
        vain=tuple(
            [each for each in told if each.worth.low <= 0]
            + [_remedy(run, ready, each, base.success) for each in found if id(each) not in proven and each.gain <= 0]
        ),
    )


# --- what is tried -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Off:
    answer: OffAnswer
    act: int
    """Index of the act's segment."""
    field: tuple[float, float]
    """The same in the field frame, mm."""
    missed: float
    """Share of the trials that came there and were not in place."""


def _off(ready: Plan, base: Trials) -> Iterator[_Off]:
    """By how much the tool point is off in the middle of the trials that came to each act."""
    run = ready.run
    for t, act in enumerate(changes.acts_of(run)):
        segment = run.segments[act]
        target = next(each for each in run.field.targets if each.name == segment.target)  # type: ignore[union-attr]
        came = base.reached[:, t]
        if not came.any():
            continue
        poses = base.poses[came, act + 1]
        ahead, left = np.median(tool_off(run.robot, run.wear, target, poses), axis=0).tolist()
        middle = radians(float(np.median(poses[:, 2])))
        c, s = cos(middle), sin(middle)
        answer = OffAnswer(target.name, act + 1, ahead, left)
        missed = 1.0 - float(base.hit[came, t].mean())
        yield _Off(answer, act, (ahead * c - left * s, ahead * s + left * c), missed)


def _candidates(run: Run, base: Trials, off: list[_Off]) -> Iterator[Change]:
    """All that is tried, each once."""
    found = counted(failures(base))
    segments = np.repeat([failure.segment for failure, _ in found], [count for _, count in found])
    last = int(np.quantile(segments, MOST_FAILURES, method="inverted_cdf"))
    worst = found[0][0].segment
    seen = set()
    for change in (
        *changes.corrected(run),
        *(each for one in off if one.missed > 0 for each in changes.aimed(run, one.act, one.field)),
        *changes.nudged(run, worst),
        *changes.squares(run, last),
        *changes.line_squares(run, last),
        *changes.passes(run, last),
        *changes.reaches(run, last),
        *changes.slower(run, last),
    ):
        key = change.numbers, change.inserted
        if key not in seen:
            seen.add(key)
            yield change


def _screened(
    run: Run, base: Trials, tried: Iterable[Change], seed: int, pool: ThreadPoolExecutor
) -> list[Future[_Tried | None]]:
    """Each change on the first trials, begun; None for those that cannot be driven at all."""

    def one(change: Change) -> _Tried | None:
        try:
            changed = plan(change.run(run))
            success = Driver(changed, seed, clearances=False).block(0, len(base)).success
        except (FieldsimError, ValueError):
            # A number beyond what a file may hold, a face that is not there: nobody could type that.
            return None
        return _Tried(change, changed, success, float(success.mean() - base.success.mean()))

    return [pool.submit(one, change) for change in tried]


def _done(waiting: list[Future[_Tried | None]], watch: Callable[[int, int], None]) -> list[_Tried]:
    found = []
    for done, future in enumerate(waiting, start=1):
        each = future.result()
        found += [] if each is None else [each]
        watch(done, len(waiting))
    return found


def _apart(tried: Iterable[_Tried], most: int) -> list[_Tried]:
    """The best of each place and kind, ``most`` of them: two that mend the same thing alike are no choice."""
    chosen: list[_Tried] = []
    for each in tried:
        where = {index for index, _, _ in each.change.numbers} | {index for index, _ in each.change.inserted}
        alike = [
            other
            for other in chosen
            if other.change.kind == each.change.kind
            and where & ({index for index, _, _ in other.change.numbers} | {i for i, _ in other.change.inserted})
        ]
        if not alike:
            chosen.append(each)
        if len(chosen) == most:
            break
    return chosen


def _held(run: Run, chosen: list[_Tried], told: list[RemedyAnswer], fitting: Fitting) -> list[RemedyAnswer]:
    """Those that help, by their worth; the best of each kind with how many robots that fit the tests it helps."""
    good = sorted(zip(told, chosen, strict=True), key=lambda each: -each[0].worth.share)
    found: list[RemedyAnswer] = []
    for answer, tried in good:
        if answer.worth.low <= 0:
            continue
        if answer.kind not in {each.kind for each in found} and len(found) < HELD:
            answer = replace(answer, holds=fitting.holds(tried.ready.run, run, answer.worth.share))
        found.append(answer)
    return found


# --- what it is worth ----------------------------------------------------------------------------------------------


class _Proof:
    """Fresh trials: the blocks after the one that chose."""

    def __init__(self, run: Run, ready: Plan, seed: int, trials: int, pool: ThreadPoolExecutor) -> None:
        self.run, self.ready, self.seed, self.trials, self.pool = run, ready, seed, trials, pool
        self.base = cache(self.begun(ready))

    def begun(self, ready: Plan) -> Callable[[], Bools]:
        """A run is driven from now on; who asks for what came of it waits for it."""

        def one(index: int) -> Bools:
            driver = Driver(ready, self.seed, clearances=False)
            return driver.block(1 + index, min(BLOCK, self.trials - index * BLOCK)).success

        waiting = [self.pool.submit(one, index) for index in range(-(-self.trials // BLOCK))]
        return lambda: np.concatenate([part.result() for part in waiting])

    def remedies(self, chosen: list[_Tried]) -> list[RemedyAnswer]:
        waiting = [self.begun(tried.ready) for tried in chosen]
        return [
            _remedy_of(self.run, self.ready, tried, success(), self.base())
            for tried, success in zip(chosen, waiting, strict=True)
        ]


def _remedy(run: Run, ready: Plan, tried: _Tried, base: Bools) -> RemedyAnswer:
    return _remedy_of(run, ready, tried, tried.success, base)


def _remedy_of(run: Run, ready: Plan, tried: _Tried, success: Bools, base: Bools) -> RemedyAnswer:
    worth: Share = difference(success, base)
    seconds = sum(tried.ready.seconds) - sum(ready.seconds)
    return RemedyAnswer(
        tried.change.kind, tried.change.words(run), wilson(int(success.sum()), len(success)), worth, seconds,
        assumed=_assumed(run, tried.change),
    )  # fmt: skip


def _assumed(run: Run, change: Change) -> bool:
    """Whether a change is of speeds of which no test told how stop errors grow with them."""
    accuracy = run.robot.accuracy
    grows: dict[str, StraightNoise | TurnNoise] = {"speed": accuracy.straight, "turn_speed": accuracy.turn}
    return any(name in grows and grows[name].grows is None and grows[name].stop > 0 for _, name, _ in change.numbers)
