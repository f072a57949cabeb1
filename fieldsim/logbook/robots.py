"""What few tests leave open of the robot, for a log: how often robots that fit them get through, day by day.

A log is driven by one robot, whichever that is: all its drives share it, as the drives of one day share that day's
errors. So a count is held against a mixture: over robots that fit the tests (see
`fieldsim.studies.unknown`), and for each of
them over days, which are independent.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from fieldsim.logbook.days import DAYS, Drives, clipped, day_chances, day_errors, days_of
from fieldsim.logbook.scores import drawn
from fieldsim.logbook.trials import MOST_MISS, Case, Day, Floats, Ints, Tell, trial_outcome
from fieldsim.model import MEASURABLE, Accuracy, Run, value_of, with_values
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.drivetrain import drivetrain, timed
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import Driver
from fieldsim.studies.unknown import LEAST, cornered, interval, robots, shares

# Robots that fit the tests, a power of two; of each so many blocks, and in each block as many trials of each day.
ROBOTS = 128
BLOCKS = 2
A_DAY = BLOCK // DAYS


@dataclass(frozen=True, eq=False)
class Fitting:
    """Trials of one run by K robots that fit the tests and by the one as written, all with the same drawn numbers:
    trial n is of simulated day ``n % DAYS``."""

    tests: int
    base: Ints
    """(N,) numbers of `Case.numbers`, of the robot as written."""
    outcome: Ints
    """(K, N)"""
    miss: Ints
    """(K, N, T) whole mm, -1 where the target was not come to."""

    def chances(self, outcome: int, share: float, trials: int, by_day: bool) -> Floats:
        """(K, DAYS), or (K, 1) if days do not matter: each robot's chance of an outcome on each day. ``share`` is how
        often the robot as written has it in all its ``trials``; the others are moved by their difference from it."""
        mine = self.outcome == outcome
        of_each = shares(self.base == outcome, mine, share)
        if not by_day:
            return np.array([[clipped(float(each), trials)] for each in of_each])
        each = mine.shape[1] // DAYS
        by = mine.reshape(len(mine), each, DAYS).sum(axis=1)
        return np.array([day_chances(float(s), trials, day, each) for s, day in zip(of_each, by, strict=True)])


def _floored(run: Run, accuracy: Accuracy) -> Run:
    """The run of a robot whose spreads are never nought: a spread of nought has no drawn numbers."""
    spreads = {name: max(value_of(accuracy, name), LEAST) for name in MEASURABLE if not name.startswith("bias.")}
    return replace(run, robot=replace(run.robot, accuracy=with_values(accuracy, spreads)))


def opens(run: Run) -> bool:
    """Whether the robot's file says what its tests leave open."""
    between = run.robot.accuracy.between
    return between is not None and any(between.ends(name) is not None for name in MEASURABLE)


def trials_of_robots(count: int = ROBOTS) -> int:
    """How many trials `fitting` drives."""
    return (count + 1) * BLOCKS * A_DAY * DAYS


def fitting(case: Case, first_block: int, seed: int, threads: int | None, tell: Tell, count: int = ROBOTS) -> Fitting:
    """Robots that fit the tests drive the case's run. New outcomes are given numbers in the case. The blocks of draws
    from ``first_block`` on should be none that other trials have had."""
    run = case.run
    accuracy = run.robot.accuracy
    assert accuracy.between is not None
    all_of = [accuracy, *robots(accuracy, count, 1).accuracies]
    corners = dict.fromkeys(each.square.corner for each in all_of)
    kinds = {corner: plan(_floored(run, cornered(accuracy, corner))) for corner in corners}
    ready = kinds[accuracy.square.corner]
    seconds = np.array(ready.seconds)
    act = list(case.act)
    size = A_DAY * DAYS
    draws = Draws(seed)

    def one(accuracy: Accuracy, z: Floats) -> tuple[list[Failure | None], Ints]:
        train = drivetrain(_floored(run, accuracy))
        ready = kinds[accuracy.square.corner]
        course = ready.course._replace(wheels=timed(train.wheels, seconds), alignments=train.alignments)
        driver = Driver(replace(ready, drivetrain=train, course=course), seed, clearances=False)
        driver.z = z
        block = driver.drawn(0, size)
        whole = np.minimum(np.rint(block.miss[:, act]), MOST_MISS).astype(np.int64)
        return failures(block), np.where(block.reached[:, act], whole, -1)

    def numbered(found: Sequence[Failure | None]) -> list[int]:
        return [case.numbers.setdefault(trial_outcome(each), len(case.numbers)) for each in found]

    outcomes, misses = [], []
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        for number in range(BLOCKS):
            z = np.zeros((ready.drivetrain.rows, BLOCK))
            draws.block(first_block + number, ready.drivetrain.streams, z)
            z[3:6, :size] = np.tile(day_errors().T, A_DAY)
            waiting = [pool.submit(one, each, z) for each in all_of]
            rows, far = [], []
            try:
                for future in waiting:
                    found, miss = future.result()
                    rows.append(numbered(found))
                    far.append(miss)
                    tell(size)
            finally:
                for future in waiting:
                    future.cancel()
            outcomes.append(np.array(rows, dtype=np.int64))
            misses.append(np.array(far, dtype=np.int64))
    outcome, miss = np.concatenate(outcomes, axis=1), np.concatenate(misses, axis=1)
    return Fitting(int(accuracy.between.tests), outcome[0], outcome[1:], miss[1:])


def _of_one_robot(cases: Sequence[Case], chances: Sequence[Floats]) -> Iterator[tuple[list[int], list[list[Drives]]]]:
    """The cases of each robot, by their places, and for each robot that it may be (1 or K) their drives day by day."""
    groups: dict[str, list[int]] = {}
    for n, case in enumerate(cases):
        groups.setdefault(case.run.robot.name, []).append(n)
    for members in groups.values():
        many = max(len(chances[n]) for n in members)
        yield (
            members,
            [
                days_of([cases[n] for n in members], [chances[n][k % len(chances[n])] for n in members])
                for k in range(many)
            ],
        )


def _count_chances(drives: Sequence[Drives]) -> Floats:
    """`count_chances` of days of which many are alike in how many drives they have."""
    found = np.ones(1)
    for counts, often in Counter(each.counts for each in drives).items():
        own = Drives(counts, drives[0].chances).count_chances()
        for _ in range(often):
            found = np.convolve(found, own)
    return found


def mixed_counts(cases: Sequence[Case], chances: Sequence[Floats]) -> Floats:
    """P(k of n get through), k = 0..n, over robots and days. ``chances`` of each case are (K, D), or (1, D) if nothing
    is said of what its tests leave open; all runs of one robot share it."""
    found = np.ones(1)
    for _, robots_of in _of_one_robot(cases, chances):
        found = np.convolve(found, np.mean([_count_chances(drives) for drives in robots_of], axis=0))
    return found


def mixed_logs(cases: Sequence[Case], chances: Sequence[Floats], logs: int, rng: np.random.Generator) -> Ints:
    """(logs, R) how many of each case get through in logs drawn over robots and days."""
    total = np.zeros((logs, len(cases)), dtype=np.int64)
    for members, robots_of in _of_one_robot(cases, chances):
        robot = rng.integers(len(robots_of), size=logs)
        for k in np.unique(robot):
            rows = np.flatnonzero(robot == k)
            total[np.ix_(rows, np.array(members))] = drawn(robots_of[k], len(rows), rng)
    return total


def ends_of(cases: Sequence[Case], chances: Sequence[Floats]) -> tuple[float, float]:
    """Between which shares 95 % of the robots lie; over several runs the means over the drives, the wide side."""
    counts = np.array([len(case.entries) for case in cases])
    low, high = np.array([interval(each.mean(axis=1)) for each in chances]).T
    return float(counts @ low / counts.sum()), float(counts @ high / counts.sum())


def shares_a_day(case: Case, cases: Sequence[Case]) -> bool:
    """Whether drives of a robot of which days may differ are of one day: as `differ`, for robots that fit the tests."""
    between = case.run.robot.accuracy.between
    day = case.run.robot.accuracy.day
    may = any((day.distance, day.veer, day.turn)) or (
        between is not None and any(between.ends(f"day.{name}") for name in ("distance", "veer", "turn"))
    )
    often: Counter[Day] = Counter(each for other in cases for each in other.days)
    return may and any(often[each] > 1 for each in case.days)
