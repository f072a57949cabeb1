"""`fit --plan`: which few further tests would tell most about how often a run gets through.

A batch of further tests is added to the sheet in thought. What it would tell follows before it is driven: the
covariance of the biases and the expected information of the spreads depend on what is tested, not on what comes out
(see ``reml``). So each number's interval shrinks by a known factor. Robots that fit the tests are drawn anew from the
narrower intervals, about the same middle, and the run is tried with them: how wide its share then lies is what the
batch is worth. The middle will move too, by what the tests find; nobody knows whither.

The same even points are drawn for every batch, so that batches are compared on the same chance.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from fieldsim.answers import Told
from fieldsim.calibration.assembled import EXTRAS, Assembled, assembled, correlations
from fieldsim.calibration.believed import believed
from fieldsim.calibration.estimate import CONFIDENCE, Fit
from fieldsim.calibration.observed import DrivenTest, Observed, observed
from fieldsim.model import Robot, Run
from fieldsim.model.measured import Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.stats.reml import NOTHING
from fieldsim.studies.unknown import ROBOTS as ALL_ROBOTS
from fieldsim.studies.unknown import TRIALS, Robots, accuracies_at, interval, robots, shares, successes, untold

Floats = NDArray[np.float64]
Watch = Callable[[int, int], None]

# What a batch is made of: two lengths and two angles that a table has room for, mm and degrees. Common practice, no
# source.
LENGTHS = (300.0, 1000.0)
ANGLES = (90.0, 360.0)
SIDE = 600.0
# Tests in a batch, and robots drawn for each batch: two batches that differ by less than these can tell are a draw.
TESTS = 4
ROBOTS = 64
# Trials that ``try`` makes unless told otherwise.
SHARE_TRIALS = 10_000
# A batch more is looked for so often after the best one.
ROUNDS = 1


@dataclass(frozen=True)
class Batch:
    """A few further tests: ``tests`` of them, half of them on each of two new days if ``days`` is 2."""

    kind: str
    """'straight', 'turn' or 'square path'."""
    size: Annotated[float, "mm or degrees"]
    """mm, degrees, or the side in mm."""
    days: Annotated[int, Told(after="tests")]
    tests: int = TESTS


@dataclass(frozen=True)
class Worth:
    """Between which ends the run's share would lie with a batch more, 95 %."""

    batch: Annotated[Batch, Told(spread=True)]
    low: float
    high: float


@dataclass(frozen=True)
class FurtherAnswer:
    """Which few tests more would help most to know how often a run gets through."""

    run: str
    tests: int
    """Driven tests there are."""
    low: float
    high: float
    """Between which ends the share lies now."""
    share: Annotated[float, Told(after="tests")]
    """The share of the robot as the tests have it."""
    first: tuple[Worth, ...]
    """One batch more, the best first."""
    then: tuple[Worth, ...]
    """The best first batch, the best one after it, and so on; ends count all batches so far."""
    untold: tuple[str, ...]
    """Numbers the run depends on and no test tells of; nothing can be said of those but that they need tests."""


def further(run: Run, answer: Fit, tests: Sequence[DrivenTest], *, seed: int = 1, threads: int | None = None,
            watch: Watch = lambda done, wanted: None) -> FurtherAnswer:  # fmt: skip
    """Which few tests more would shrink the run's interval most. ``answer`` is the fit of ``tests``."""
    robot = run.robot
    accuracy = believed(robot.accuracy, answer)
    run = replace(run, robot=replace(robot, accuracy=accuracy))
    if accuracy.between is None:
        return FurtherAnswer(run.name, len(tests), 0.0, 1.0, 0.0, (), (), untold(run))
    drawn = robots(accuracy, ROBOTS, seed)
    known = [observed(robot, test) for test in tests]
    tape = answer.tape is not None
    perhaps = {each.name.removeprefix("bias.") for each in answer.perhaps}
    extras = (*answer.extras, *(extra for extra, names in EXTRAS.items() if perhaps.issuperset(names)))
    old = assembled(known, tape, extras)
    typical = _typical(answer)
    old_width = _widths(old, typical)
    all_batches = list(batches())
    rounds = 1 + ROUNDS
    wanted = ALL_ROBOTS + ROBOTS * (1 + rounds * len(all_batches))
    # What the run does now is counted as ``try`` counts it.
    written = successes(run, [accuracy], seed, SHARE_TRIALS, threads=threads)[0]
    base, share = written[:TRIALS], float(written.mean())
    everyone = robots(accuracy, ALL_ROBOTS, seed)
    now = interval(shares(base, successes(run, everyone.accuracies, seed, threads=threads), share))
    done = ALL_ROBOTS
    watch(done, wanted)

    def ends(z: Floats) -> tuple[float, float]:
        nonlocal done
        found = successes(run, accuracies_at(accuracy, drawn.names, z), seed, threads=threads)
        done += ROBOTS
        watch(min(done, wanted), wanted)
        return interval(shares(base, found, share))

    few = ends(drawn.z)

    def moved(z: Floats) -> tuple[float, float]:
        # The ends of a few robots are off by chance, and much the same in all batches.
        low, high = (
            min(max(end + all_of - few_of, 0.0), 1.0) for end, all_of, few_of in zip(ends(z), now, few, strict=True)
        )
        return min(low, high), max(low, high)

    first: list[Worth] = []
    then: list[Worth] = []
    more: list[Observed] = []
    for turn in range(rounds):
        worths = []
        for batch in all_batches:
            added = [observed(robot, test) for test in _tests_of(batch, robot, 1 + 10 * turn)]
            model = assembled([*known, *more, *added], tape, extras)
            z = _shrunk(drawn, old, old_width, model, typical)
            worths.append((Worth(batch, *moved(z)), added))
        worths.sort(key=lambda each: each[0].high - each[0].low)
        if turn == 0:
            first = [each for each, _ in worths]
        best, added = worths[0]
        then.append(best)
        more += added
    watch(wanted, wanted)
    return FurtherAnswer(run.name, len(tests), *now, share, tuple(first), tuple(then), untold(run))


def driven_tests(sheet: Sheet) -> tuple[DrivenTest, ...]:
    """The tests of a sheet that were driven."""
    return tuple(test for test in sheet.tests if isinstance(test, DrivenTest))


def batches() -> Iterable[Batch]:
    """What is compared."""
    for days in (1, 2):
        yield from (Batch("straight", length, days) for length in LENGTHS)
        yield from (Batch("turn", angle, days) for angle in ANGLES)
        yield Batch("square path", SIDE, days)


def _tests_of(batch: Batch, robot: Robot, day: int) -> Iterable[DrivenTest]:
    """The tests of a batch, as if they had come out as commanded: only what is tested counts."""
    by = robot.drive.heading_from
    first = datetime.date(2090, 1, 1)
    for n in range(batch.tests):
        date = first + datetime.timedelta(days=day + (n % batch.days))
        match batch.kind:
            case "straight":
                yield StraightTest(
                    line=1, date=date, commanded=batch.size, travel=batch.size, sideways=0.0, heading_from=by
                )
            case "turn":
                yield TurnTest(line=1, date=date, commanded=batch.size, angle_read=batch.size, heading_from=by)
            case _:
                way = ("cw", "ccw")[n // batch.days % 2]
                yield SquarePathTest(
                    line=1, date=date, side=batch.size, direction=way, return_x=0.0, return_y=0.0, heading_from=by  # type: ignore[arg-type]
                )  # fmt: skip


def _typical(answer: Fit) -> dict[str, float]:
    """Standard deviations to count information at: the estimates, and of those at nought a third of the upper end."""
    found = {each.name: max(each.value, each.high / 3 if each.high < 1e6 else 0.0) for each in answer.estimates}
    if answer.tape is not None:
        found["tape"] = answer.tape.value
    return found


def _widths(model: Assembled, typical: dict[str, float]) -> dict[str, float]:
    """Half-widths of the intervals of all estimates, to a common factor for each number: of a bias with Student's t, of
    a spread by the expected information of its variance."""
    sds = np.array([typical.get(name, 0.0) for name in model.reml.names])
    _, _, spread = model.reml.solve(sds)
    found = {}
    for place, name in enumerate(model.names[: len(model.columns)]):
        quantile = float(stdtrit(max(model.reml.freedom(sds, place), 1.0), 0.5 + CONFIDENCE / 2))
        found[name] = float(quantile * np.sqrt(spread[place, place]))
    if model.reml.names:
        information = model.reml.information(sds)
        # Of what nothing tells, rounding leaves a number of either sign.
        least = NOTHING / np.maximum(sds, model.reml.scales) ** 2
        size = np.maximum(np.sqrt(np.maximum(np.diag(information), 0.0)), least)
        inverse = np.linalg.inv(information / np.outer(size, size) + 1e-3 * np.eye(len(size)))
        found |= dict(zip(model.reml.names, np.sqrt(np.diag(inverse)) / size, strict=True))
    return found


def _shrunk(
    drawn: Robots, old: Assembled, width: dict[str, float], model: Assembled, typical: dict[str, float]
) -> Floats:
    """(n, d) the drawn robots' quantiles as they would be with more tests: each number's interval narrower than the
    ``width`` it has by the ``old`` tests, and its errors going together as the new tests make them."""
    new = _widths(model, typical)
    names = drawn.names
    factor = np.array([min(1.0, new[name] / width[name]) if name in width and name in new else 1.0 for name in names])
    # From the points as drawn to independent ones and back: by what both sets of tests make of the errors, so that
    # tests that tell nothing new leave every robot where it is.
    change = _root(model, names, typical) @ np.linalg.inv(_root(old, names, typical))
    return np.asarray(factor * (drawn.z @ change.T))


def _root(model: Assembled, names: Sequence[str], typical: dict[str, float]) -> Floats:
    """(d, d) lower triangle whose square is the correlation of these numbers' errors."""
    sds = np.array([typical.get(name, 0.0) for name in model.reml.names])
    whole = correlations(model, sds)
    place = {name: i for i, name in enumerate(model.names)}
    together = np.eye(len(names))
    for i, one in enumerate(names):
        for j, other in enumerate(names):
            if one in place and other in place:
                together[i, j] = whole[place[one], place[other]]
    size, ways = np.linalg.eigh(together)
    root = ways * np.sqrt(np.maximum(size, 1e-9))
    # The lower triangle of the same covariance, so that each point stays near where it was.
    _, r = np.linalg.qr(root.T)
    return np.asarray(r.T * np.where(np.diag(r) < 0, -1.0, 1.0))
