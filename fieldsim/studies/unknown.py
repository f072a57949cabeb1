"""What few tests leave unknown of a robot, and what that does to a forecast.

A block of trials says how often *this* robot gets through, its accuracy taken as written. How well the accuracy is
known is another question, which more trials cannot answer. So robots are drawn that fit the tests, from what ``fit``
saves with the block (``between``), and the run is tried with each of them:

- each number as it lies among the robots that fit (``robots``: what five shares of them lie below), in between straight
  lines over the normal quantiles, of a standard deviation in its logarithm;
- a number of which that is not told (a file written by hand) has a two-piece normal distribution with its value as the
  middle and 95 % between its ends; a standard deviation whose low end is above nought the same in its logarithm, others
  folded at nought;
- the corner of a square that no test told about sticks with half of the robots and slides with the others;
- numbers that go together are drawn together (a Gaussian copula with the correlations of the block);
- the robots are spread evenly by a scrambled Sobol sequence, so that a few hundred tell what thousands of random ones
  would. Source: A. B. Owen, "Scrambling Sobol' and Niederreiter-Xing points", Journal of Complexity 14, 1998, 466-489
  (from memory).

All robots drive the same drawn trials, and it is the differences from the robot as written that are kept: what chance
there is in those is taken out of their spread (their variance less the mean variance of one difference).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import LIKELY, MEASURABLE, Accuracy, Between, Run, Straight, Turn, value_of, with_values
from fieldsim.model.between import DRAWN, GROWING
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.drivetrain import drivetrain, timed
from fieldsim.sim.motion import speed_of
from fieldsim.sim.plan import plan
from fieldsim.sim.stops import FASTER
from fieldsim.sim.trials import Driver
from fieldsim.stats import normal
from fieldsim.stats.even import even_points
from fieldsim.studies.answer import UnknownAnswer
from fieldsim.studies.sources import sources

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Watch = Callable[[int, int], None]

# Robots that fit the tests, a power of two as a Sobol sequence likes it; the trials of each, half a block.
ROBOTS = 128
TRIALS = BLOCK // 2

# Normal quantile of the ends.
KEPT_IF_TOLD = frozenset({
    "bias.turn_left", "bias.turn_right", "bias.stop", "bias.turn_stop", "bias.gyro_scale", "bias.backlash", "bias.kick",
})  # fmt: skip
END = normal.quantile(0.975)

# A low end this much smaller than the high one is as good as nought.
NONE = 1e-3

# A spread of nought has no drawn numbers at all. So that all robots have the same ones, none is less than this.
LEAST = 1e-9


@dataclass(frozen=True, eq=False)
class Robots:
    """Robots that fit the tests."""

    names: tuple[str, ...]
    """(d,) the numbers that differ, of ``MEASURABLE``."""
    z: Floats
    """(n, d) how far each is from the value as written, as a normal quantile."""
    root: Floats
    """(d, d) lower triangle by which independent even points were made to go together."""
    accuracies: tuple[Accuracy, ...]
    """(n,)"""


def quantile(value: float, low: float, high: float, z: Floats, spread: bool) -> Floats:
    """The number at normal quantiles ``z``: ``value`` in the middle, the ends at -1.96 and 1.96."""
    value = min(max(value, low), high)
    down, up = (value - low) / END, (high - value) / END
    if not spread:
        return np.asarray(value + z * np.where(z < 0, down, up))
    if low > high * NONE:
        return np.asarray(value * np.where(z < 0, (low / value) ** (-z / END), (high / value) ** (z / END)))
    return np.asarray(np.abs(value + z * up))


LIKELY_Z = normal.quantiles(LIKELY)
# How far out lines are drawn on beyond the outermost of them.
FARTHEST = 3.5


def along(at: Sequence[float], z: Floats, spread: bool) -> Floats:
    """The number at normal quantiles ``z``, ``at`` those of ``LIKELY``."""
    known = np.asarray(at, dtype=np.float64)
    known = np.log(known) if spread else known
    z = np.clip(z, -FARTHEST, FARTHEST)
    made = np.interp(z, LIKELY_Z, known)
    slope = np.diff(known) / np.diff(LIKELY_Z)
    made += slope[0] * np.minimum(z - LIKELY_Z[0], 0.0) + slope[-1] * np.maximum(z - LIKELY_Z[-1], 0.0)
    return np.asarray(np.exp(made) if spread else made)


def correlation(between: Between, names: Sequence[str]) -> Floats:
    """(d, d) of the errors of these numbers. Rounded entries need not make one that can be: negative eigenvalues are
    raised to nought."""
    made = np.eye(len(names))
    place = {name: i for i, name in enumerate(names)}
    for pair in between.together:
        if pair.one in place and pair.other in place and pair.one != pair.other:
            i, j = place[pair.one], place[pair.other]
            made[i, j] = made[j, i] = pair.correlation
    size, ways = np.linalg.eigh(made)
    made = (ways * np.maximum(size, 1e-9)) @ ways.T
    scale = np.sqrt(np.diag(made))
    return np.asarray(made / np.outer(scale, scale))


def robots(accuracy: Accuracy, count: int = ROBOTS, seed: int = 1) -> Robots:
    """``count`` robots (a power of two) that fit the tests behind the accuracy's ``between``."""
    between = accuracy.between
    assert between is not None
    names = tuple(name for name in DRAWN if between.ends(name) is not None)
    if {"bias.turn_left", "bias.turn_right"} <= set(names):
        # Both ways round are drawn by themselves.
        names = tuple(name for name in names if name != "bias.turn")
    if not names:
        return Robots((), np.zeros((count, 0)), np.zeros((0, 0)), (accuracy,) * count)
    even = even_points(count, len(names), np.random.default_rng(seed))
    # A scrambled point may be 0 itself, by one in 2^30.
    u = normal.quantiles(np.clip(even, 1e-6, 1 - 1e-6))
    root = np.asarray(np.linalg.cholesky(correlation(between, names)), dtype=np.float64)
    z = u @ root.T
    return Robots(names, z, root, _with_corners(accuracies_at(accuracy, names, z), seed))


def _with_corners(drawn: Sequence[Accuracy], seed: int) -> tuple[Accuracy, ...]:
    """Where no test told what the corner of a square does, it slides with half of the robots."""
    half = np.random.default_rng([seed, len(drawn)]).permutation(len(drawn)) < len(drawn) // 2
    return tuple(
        cornered(each, "slides") if each.square.corner is None and slides else each
        for each, slides in zip(drawn, half, strict=True)
    )


def cornered(accuracy: Accuracy, corner: Literal["sticks", "slides"] | None) -> Accuracy:
    """The same with another corner of squares."""
    return replace(accuracy, square=replace(accuracy.square, corner=corner))


def accuracies_at(accuracy: Accuracy, names: Sequence[str], z: Floats) -> tuple[Accuracy, ...]:
    """The robots at normal quantiles ``z`` (n, d) of the numbers ``names``."""
    between = accuracy.between
    assert between is not None
    columns = {}
    for name, column in zip(names, z.T, strict=True):
        spread = not name.startswith("bias.")
        likely = between.likely(name)
        if likely is not None:
            columns[name] = along(likely.at, column, spread)
        else:
            low, high = between.ends(name) or (0.0, 0.0)
            columns[name] = quantile(_middle(accuracy, name), low, high, column, spread)
    return tuple(
        with_values(accuracy, {name: float(column[i]) for name, column in columns.items()}) for i in range(len(z))
    )


def _middle(accuracy: Accuracy, name: str) -> float:
    """What a number is as written; a power of the speed that is left out is 1."""
    if name in GROWING:
        grows = accuracy.straight.grows if name.startswith("straight") else accuracy.turn.grows
        return 1.0 if grows is None else grows
    return value_of(accuracy, name)


def _floored(accuracy: Accuracy) -> Accuracy:
    spreads = {name: max(value_of(accuracy, name), LEAST) for name in MEASURABLE if not name.startswith("bias.")}
    return with_values(accuracy, spreads)


def successes(
    run: Run,
    accuracies: Sequence[Accuracy],
    seed: int,
    trials: int = TRIALS,
    threads: int | None = None,
    watch: Watch = lambda done, wanted: None,
    silent: tuple[str, int] | None = None,
) -> Bools:
    """(n, trials) which of the first trials of a seed get through, driven by robots that differ in their accuracy.

    The same as ``plan`` and ``blocks`` for each of them; but the run is made ready once. ``silent`` is a source of
    noise, its words and its segment, whose drawn numbers are nought.
    """

    def driven_by(accuracy: Accuracy) -> Run:
        return replace(run, robot=replace(run.robot, accuracy=_floored(accuracy)))

    # The paths of squares whose corner sticks or slides have other pieces, and the same drawn numbers.
    corners = dict.fromkeys(each.square.corner for each in accuracies)
    kinds = {corner: plan(driven_by(cornered(run.robot.accuracy, corner))) for corner in corners}
    ready = next(iter(kinds.values()))
    seconds = np.array(ready.seconds)
    quiet = [
        row
        for each in sources(ready.run, ready.drivetrain)
        if (each.words, each.segment) == silent
        for row in each.rows
    ]
    draws = Draws(seed)
    found = np.zeros((len(accuracies), trials), dtype=bool)
    workers = threads or os.cpu_count() or 1
    done = 0

    def one(number: int, index: int, z: Floats, count: int) -> None:
        train = drivetrain(driven_by(accuracies[index]))
        ready = kinds[accuracies[index].square.corner]
        wheels = timed(train.wheels, seconds)
        course = ready.course._replace(wheels=wheels, alignments=train.alignments)
        driver = Driver(replace(ready, drivetrain=train, course=course), seed, clearances=False)
        driver.z = z
        found[index, number * BLOCK : number * BLOCK + count] = driver.drawn(number, count).success

    with ThreadPoolExecutor(workers) as pool:
        for number in range(-(-trials // BLOCK)):
            z = np.zeros((ready.drivetrain.rows, BLOCK))
            draws.block(number, ready.drivetrain.streams, z)
            z[quiet] = 0.0
            count = min(BLOCK, trials - number * BLOCK)
            waiting = [pool.submit(one, number, index, z, count) for index in range(len(accuracies))]
            try:
                for future in waiting:
                    future.result()
                    done += count
                    watch(done, trials * len(accuracies))
            finally:
                for future in waiting:
                    future.cancel()
    return found


def shares(base: Bools, found: Bools, share: float) -> Floats:
    """(n,) how often each robot gets through: ``share``, how often the one as written does in all its trials, and the
    robot's difference from it in the trials ``found`` (n, trials) against ``base`` (trials,), with what chance there is
    in those taken out of their spread."""
    off = found.mean(axis=1) - base.mean()
    count = len(base)
    # Of a paired difference: (b + c - (b - c)^2/n)/n^2 with the trials b, c that one got through and the other not.
    noise = ((found != base).mean(axis=1) - off**2) / count
    total = float(off.var())
    kept = sqrt(max(0.0, 1.0 - float(noise.mean()) / total)) if total > 0 else 0.0
    return np.asarray(np.clip(share + off.mean() + kept * (off - off.mean()), 0.0, 1.0))


def interval(of_each: Floats) -> tuple[float, float]:
    """Between which ends 95 % of the robots' shares lie."""
    count = len(of_each)
    low, high = np.interp([0.025, 0.975], (np.arange(count) + 0.5) / count, np.sort(of_each))
    return float(low), float(high)


def unknown(
    run: Run,
    share: float,
    *,
    seed: int = 1,
    threads: int | None = None,
    count: int = ROBOTS,
    watch: Watch = lambda done, wanted: None,
) -> UnknownAnswer | None:
    """Between which ends the success share lies for what the tests leave unknown of the robot, 95 %; None if nothing is
    said of that. ``share`` is the success share of the robot as written."""
    accuracy = run.robot.accuracy
    if accuracy.between is None:
        return None
    drawn = robots(accuracy, count, seed)
    if not drawn.names:
        return None
    found = successes(run, [accuracy, *drawn.accuracies], seed, threads=threads, watch=watch)
    of_each = shares(found[0], found[1:], share)
    low, high = interval(of_each)
    # The robot as written fits its tests too.
    return UnknownAnswer(
        low=min(low, share),
        high=max(high, share),
        mean=float(of_each.mean()),
        tests=int(accuracy.between.tests),
        robots=count,
        untold=untold(run),
    )


def untold(run: Run) -> tuple[str, ...]:
    """Numbers that this run depends on and the tests say nothing of, or set no upper end: they are taken as written."""
    accuracy = run.robot.accuracy
    between = accuracy.between
    gyro = run.robot.drive.heading_from == "gyro"
    matter = [
        name
        for name in MEASURABLE
        if not name.startswith("day.")
        # What is not told of these is not there: they are kept where tests tell them from nought.
        and name not in KEPT_IF_TOLD
        and not (gyro and name in ("bias.veer", "bias.turn", "straight.veer", "turn.slip"))
        and (gyro or not name.startswith("gyro."))
    ]
    found = [name for name in matter if between is None or not between.tells(name)]
    return (*found, *_assumed(run))


def _assumed(run: Run) -> Iterator[str]:
    """Powers of the speed that nothing tells, of a run that drives at other speeds than the stops were measured at."""
    drive, accuracy = run.robot.drive, run.robot.accuracy
    straights = [speed_of(each, drive) / accuracy.measured_at for each in run.segments if isinstance(each, Straight)]
    own = accuracy.turn_measured_at or drive.turn_speed
    turns = [(each.turn_speed or drive.turn_speed) / own for each in run.segments if isinstance(each, Turn)]
    kinds = (
        ("straight.grows", accuracy.straight.grows, accuracy.straight.stop, straights),
        ("turn.grows", accuracy.turn.grows, accuracy.turn.stop, turns),
    )
    for name, grows, stop, faster in kinds:
        told = grows is not None or (accuracy.between is not None and accuracy.between.ends(name) is not None)
        if not told and stop > 0 and any(max(each, 1 / each) > FASTER for each in faster):
            yield name
