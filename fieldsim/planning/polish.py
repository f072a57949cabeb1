"""Ways judged by exact trials, made better by small changes to their places, and the best few that truly differ.

The search judges a way by sums of normal tails; here every way is a run that is typed and driven. Ways are compared on
the same draws, and those draws are not the ones whose figures are told in the end.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from itertools import groupby
from math import atan2, cos, inf, pi, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Run
from fieldsim.model.errors import FieldsimError
from fieldsim.planning.legs import Task, Way, changed, without, written
from fieldsim.planning.places import ACT, GO, LEAVE, PUSH
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.kernel.path import X, Y
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Driver

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

# Blocks of draws that choose, far from those that are told: those begin at 0.
CHOOSING = 1 << 20
# What a second and a segment cost as a share of success: where luck decides, the shorter and plainer run is taken.
SECOND, SEGMENT = 0.0006, 0.0015
# Ways that are tried with a few trials, those that are made better, and those that are told.
TRIED, BETTERED, TOLD = 40, 8, 3
FEW, MANY = 400, 2000
# How far a place is moved, mm, coarse to fine.
STEPS = (80.0, 40.0, 20.0, 10.0, 5.0)


@dataclass(frozen=True, eq=False)
class Judged:
    """A way with the run it is typed as, and how it did on the choosing draws."""

    way: Way
    run: Run
    ready: Plan
    success: Bools
    seconds: float

    @property
    def share(self) -> float:
        return float(self.success.mean())

    @property
    def worth(self) -> float:
        return self.share - SECOND * self.seconds - SEGMENT * len(self.run.segments)


class Judge:
    """Drives ways on the choosing draws."""

    def __init__(self, task: Task, seed: int, crossed: Callable[[Floats, Floats], Floats]) -> None:
        self.task, self.seed, self.crossed = task, seed, crossed
        self.trials = 0
        self.stopped = False
        """No way is driven any more: what was found so far has to do."""
        self.interrupted = False

    def __call__(self, way: Way, trials: int) -> Judged | None:
        """None for a way that cannot be typed, takes too long, or never gets through."""
        if self.stopped:
            return None
        try:
            run = self.written(way)
            ready = plan(run)
        except (FieldsimError, ValueError):
            return None
        seconds = float(sum(ready.seconds))
        if self.task.within is not None and seconds > self.task.within:
            return None
        driver = Driver(ready, self.seed, clearances=False)
        blocks = [
            driver.block(CHOOSING + k, min(BLOCK, trials - k * BLOCK)).success for k in range(-(-trials // BLOCK))
        ]
        self.trials += trials
        made = Judged(way, run, ready, np.concatenate(blocks), seconds)
        return made if made.success.any() else None

    def written(self, way: Way) -> Run:
        """The run that a way is judged as."""
        return written(self.task, way)

    def class_of(self, one: Judged) -> tuple[object, ...]:
        """What makes two ways truly differ: where they start, what they square on, which way round they go."""
        at = one.ready.path[one.ready.drivetrain.wheels.piece][:, [X, Y]]
        round_ = float(self.crossed(at[:-1], at[1:]).sum())
        pushes = tuple(name for name, _ in groupby(one.way.pushes))
        return str(one.way.start), pushes, round(round_, 3)


def _plainer(way: Way) -> Iterable[Way]:
    """The way with one move less."""
    for index, leg in enumerate(way.legs):
        after = way.legs[index + 1].kind if index + 1 < len(way.legs) else None
        if leg.kind == GO and after is not None:
            yield without(way, index)
        if leg.kind == PUSH and after == LEAVE:
            # Without the square and the straight away from it, if something else still goes somewhere.
            yield replace(way, legs=way.legs[:index] + way.legs[index + 2 :])
        if leg.kind == LEAVE and after is not None:
            yield without(way, index)


def _moved(way: Way, step: float) -> Iterable[Way]:
    """The way with one of its places moved a little: along the way there, and aside."""
    for index, leg in enumerate(way.legs):
        if leg.kind == GO:
            x, y = leg.at
            before = next((other.at for other in reversed(way.legs[:index]) if other.kind == GO), None)
            angle = atan2(y - before[1], x - before[0]) if before is not None and before != leg.at else 0.0
            for k in range(4):
                a = angle + k * pi / 2
                yield changed(way, index, replace(leg, at=(x + step * cos(a), y + step * sin(a))))
        elif leg.kind == LEAVE:
            for sign in (1.0, -1.0):
                if (leg.way + sign * step) * leg.way > 0:
                    yield changed(way, index, replace(leg, way=leg.way + sign * step))
        elif leg.kind == ACT and leg.target is not None:
            small = step / STEPS[0] * leg.target.within
            for sign in (1.0, -1.0):
                more = leg.more + sign * small
                if abs(more) < 0.9 * leg.target.within:
                    yield changed(way, index, replace(leg, more=more))


def bettered(judge: Judge, start: Judged, trials: int) -> Judged:
    """A compass search over a way's places on common draws, plainer ways first (Kolda, Lewis and Torczon, Optimization
    by direct search, SIAM Review 45, 2003, sec. 1.2). What is taken has to be worth more, not only luckier: on these
    draws by more than one trial in a thousand, or it is plainer and loses nothing."""
    best = _plain(judge, judge(start.way, trials) or start, trials)
    for step in STEPS:
        for _ in range(2):
            before = best
            for number in range(len(list(_moved(best.way, step)))):
                options = list(_moved(best.way, step))
                if number >= len(options):
                    break
                other = judge(options[number], trials)
                if other is not None and other.worth > best.worth + 0.0005:
                    best = other
            if best is before:
                break
        if best.share > 0.9995:
            break
    return _plain(judge, best, trials)


def _plain(judge: Judge, best: Judged, trials: int) -> Judged:
    """A way without the moves that it does not need."""
    again = True
    while again:
        again = False
        for way in _plainer(best.way):
            other = judge(way, trials)
            if other is not None and other.worth > best.worth:
                best, again = other, True
                break
    return best


def chosen(
    judge: Judge,
    ways: list[Way],
    told: int = TOLD,
    threads: int | None = None,
    watch: Callable[[int], None] = lambda trials: None,
    better: bool = True,
    most: int = BETTERED,
) -> list[Judged]:
    """The best few that truly differ, the best first; without ``better`` as they were found, else ``most`` of them made
    better.

    ``watch`` is told now and then how many trials were driven; a KeyboardInterrupt it raises, or that comes while it
    waits, ends the work with the best so far.
    """

    def every(work: Callable[[Any], Judged | None], given: list[Any]) -> list[Judged]:
        waiting = [pool.submit(work, one) for one in given]
        while True:
            try:
                if not wait(waiting, timeout=0.2).not_done:
                    break
                watch(judge.trials)
            except KeyboardInterrupt:
                judge.stopped = judge.interrupted = True
        return [one for one in (future.result() for future in waiting) if one is not None]

    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        try:
            first = sorted(every(lambda way: judge(way, FEW), ways[:TRIED]), key=lambda one: -one.worth)
            if not better:
                return _apart(judge, first, told, -inf)
            picked = _apart(judge, first, most, first[0].share - 0.25 if first else 0.0, alike=2)
            made = sorted(every(lambda one: bettered(judge, one, FEW), picked), key=lambda one: -one.worth)
            best = _apart(judge, made, told, -inf)
            done = every(lambda one: _finished(judge, one), best)
        finally:
            judge.stopped = True
    return sorted(done, key=lambda one: -one.worth)


def _finished(judge: Judge, one: Judged) -> Judged:
    """The last steps with more trials."""
    best = judge(one.way, MANY) or one
    for step in STEPS[1:]:
        for number in range(len(list(_moved(best.way, step)))):
            options = list(_moved(best.way, step))
            if number >= len(options) or best.share > 0.9995:
                break
            # A change that looks bad on a quarter of the draws is not driven on the rest.
            glance = judge(options[number], MANY // 4)
            if glance is None or glance.success.sum() < best.success[: MANY // 4].sum():
                continue
            other = judge(options[number], MANY)
            if other is not None and other.worth > best.worth + 0.0003:
                best = other
    return best


def _apart(judge: Judge, ways: list[Judged], most: int, least: float, alike: int = 1) -> list[Judged]:
    """The best of each class, at most ``alike`` of one; two runs that are typed alike are one."""
    found: list[Judged] = []
    seen: Counter[object] = Counter()
    for one in ways:
        key, typed = judge.class_of(one), one.run.segments
        if seen[key] >= alike or seen[typed] or one.share < least:
            continue
        seen[key] += 1
        seen[typed] += 1
        found.append(one)
        if len(found) == most:
            break
    return found
