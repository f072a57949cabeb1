"""`fit`: how accurately a robot drives, from tests measured with a tape.

**The likelihood is that of the simulation.** The measurements y of all tests are, to first order, normal:

    y = f + X b + sum over sources s of sd_s J_s z_s + reading errors,

with the biases b (distance, veer, turn, and those of ``EXTRAS`` that are told from nought: see ``keeping``),
independent standard normal z, slopes X and J from the kernel itself (see ``observed``), and for the sources of the
*day* the same z for all tests of a date. Standard deviations by restricted maximum likelihood, biases by generalised
least squares (see ``reml``).

Intervals, 95 %. Of a bias: Student's t with Satterthwaite's degrees of freedom, and never narrower than readings to
whole steps allow (see ``rounding``). Of a standard deviation: what the
profile of the restricted likelihood does not refuse. Of a placing: Student's t and chi-square.

**The tape.** A reading is rounded to the tape's resolution r, which adds r^2/12 to its variance. How badly it is held
and read beyond that scatters every length alike, long or short; the robot's own sideways error grows with the way. So
the two can be told apart where straights of different lengths have their sideways readings; elsewhere what the tape
adds counts as the robot's, and the answer says so.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import lru_cache
from math import inf, isfinite, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from fieldsim.calibration import keeping
from fieldsim.calibration.assembled import EXTRAS, Assembled, assembled
from fieldsim.calibration.believed import LEAST_CORRELATION, robots_that_fit, settled, untouched
from fieldsim.calibration.estimate import CONFIDENCE, Estimate, Fit, Misfit, Outlier
from fieldsim.calibration.growing import goes_with_stop, growths, with_growths
from fieldsim.calibration.misfits import Look, looks, misfits
from fieldsim.calibration.observed import BIASES, DrivenTest, Observed, observed, placed
from fieldsim.calibration.outliers import outliers as outliers_of
from fieldsim.calibration.square_path import square_path
from fieldsim.calibration.squaring import squaring
from fieldsim.calibration.standing import drops, placing
from fieldsim.calibration.typed import typed
from fieldsim.calibration.untold import alike as alike_pairs
from fieldsim.calibration.untold import assumed, cannot, kept, missing, unseen
from fieldsim.language import chosen_catalog, tr
from fieldsim.model import Likely, Robot, replace
from fieldsim.model.measured import Sheet, SquarePathTest, StraightTest
from fieldsim.stats import normal

FloatArray = NDArray[np.float64]

# The tape is told apart from the robot by at least so many sideways readings, of straights of which the longest is so
# many times the shortest.
TAPE_READINGS = 10
TAPE_LENGTHS = 2.0

# A spread of which nothing was seen is one that the tests are too few for, not one that is not there: a forecast takes
# the middle of the robots that fit the tests for it, as ``unknown`` draws them (folded normal: 0.674 of 1.960 of the
# upper end). As good as nought is what is less than this share of the upper end.
MIDDLE = normal.quantile(0.75) / normal.quantile(0.5 + CONFIDENCE / 2)
NOUGHT = 0.05


def fit(robot: Robot, sheet: Sheet) -> Fit:
    """Biases and spreads of a robot from its tests, with 95 % intervals; what the tests do not tell is said.

    ``robot`` gives the drive and the speeds; its own accuracy block is not used but for the speeds it was measured at.

    Values in, a value out, and seconds of work: who asks for the same again, in the same language, gets the answer that
    is there.
    """
    return _fit(robot, sheet, chosen_catalog())


@lru_cache(maxsize=16)
def _fit(robot: Robot, sheet: Sheet, language: Hashable) -> Fit:
    driven = [test for test in sheet.tests if isinstance(test, DrivenTest)]
    tests = [observed(robot, test) for test in driven]
    estimates: list[Estimate] = []
    outliers: list[Outlier] = []
    unknown: list[str] = []
    together: tuple[tuple[str, str, float], ...] = ()
    robots: tuple[Likely, ...] = ()
    tape: Estimate | None = None
    dates = 0
    extras: tuple[str, ...] = ()
    perhaps: tuple[Estimate, ...] = ()
    looked: list[Look] = []
    grows: tuple[Estimate, ...] = ()
    misfit: tuple[Misfit, ...] = ()
    if tests:
        tape_too = _tells_tape(driven)
        tellable = keeping.candidates(tests)
        extras = keeping.kept(tests, tape_too, tellable)
        model = assembled(tests, tape_too, extras)
        sds, least = model.reml.fitted()
        grows = growths(robot, driven, model, sds)
        powered = with_growths(robot.accuracy, grows)
        if powered != robot.accuracy:
            # All else is told with the power that the tests tell.
            robot = replace(robot, accuracy=powered)
            tests = [observed(robot, test) for test in driven]
            model = assembled(tests, tape_too, extras)
            sds, least = model.reml.fitted()
        dates = model.dates
        estimates = _estimates(model, sds, least)
        tape = next((each for each in estimates if each.name == "tape"), None)
        estimates = [each for each in estimates if each.name != "tape"]
        # Robots that fit may have what the tests could not tell from nought.
        open_yet = [each for each in tellable if each not in extras]
        whole = assembled(tests, tape_too, (*extras, *open_yet)) if open_yet else model
        finite = {each.name for each in estimates if isfinite(each.high)}
        more = {f"bias.{name}" for extra in open_yet for name in EXTRAS[extra]} if finite else set()
        robots, together = robots_that_fit(whole, sds, [each for each in whole.names if each in finite | more])
        together += _grow_together(robot, driven, grows, robots)
        perhaps = _perhaps(robots, tests, estimates)
        outliers = outliers_of(model, sds)
        looked = looks(robot, driven, model, tellable)
        misfit = misfits(model, sds, looked)
        there = {each.name: each for each in estimates}
        alike = list(alike_pairs(model, sds, there))
        unknown += [cannot(*pair) for pair in alike]
        estimates = [
            _taken(each, [there[name] for pair in alike if each.name in pair for name in pair if name in there])
            for each in estimates
        ]
        unknown += [*unseen(estimates), *assumed(robot, driven, grows, estimates)]
    squared = squaring(robot, sheet.squares)
    estimates += () if squared is None else squared.numbers
    told = settled([*estimates, *perhaps])
    unknown = [*missing(robot, driven, dates), *unknown, *kept(untouched(robot.accuracy.between, told))]
    if driven and tape is None:
        unknown.append(
            tr(
                "how well the tape was held and read cannot be told from how well the robot drives, and counts "
                "as the robot's: write down how far sideways short and long straights end"
            )
        )
    return Fit(
        estimates=tuple(estimates),
        perhaps=perhaps,
        extras=extras,
        typed=typed(estimates, robot.drive.heading_from == "gyro"),
        together=together,
        robots=robots,
        tape=tape,
        placed=tuple(placing(jig, tests) for jig, tests in placed(sheet.tests).items()),
        drops=drops(sheet),
        squared=squared,
        squares=square_path([test for test in driven if isinstance(test, SquarePathTest)], robot.drive.track),
        outliers=tuple(outliers),
        tests=len(sheet.tests),
        driven=len(driven),
        dates=dates,
        unknown=tuple(unknown),
        misfits=misfit,
        looks=len(looked),
        grows=grows,
    )


def _grow_together(
    robot: Robot, driven: Sequence[DrivenTest], grows: Sequence[Estimate], robots: Sequence[Likely]
) -> tuple[tuple[str, str, float], ...]:
    """How the powers go with the stops that they belong to."""
    stops = {each.of.partition(".")[0]: each for each in robots if each.of.endswith(".stop")}
    found = []
    for each in grows:
        stop = stops.get(each.name.partition(".")[0])
        if stop is not None:
            r = round(max(-0.99, min(0.99, goes_with_stop(robot, driven, each, stop.at))), 2)
            if abs(r) > LEAST_CORRELATION:
                found.append((stop.of, each.name, r))
    return tuple(found)


def _taken(each: Estimate, alike: Sequence[Estimate]) -> Estimate:
    """The same with what a forecast takes for it: see ``MIDDLE``. Not if the scatter that it may make is already in one
    that cannot be told apart from it."""
    if each.name.startswith("bias.") or not isfinite(each.high) or each.low > 0 or each.value > NOUGHT * each.high:
        return each
    if any(other.value > NOUGHT * other.high for other in alike):
        return each
    return replace(each, taken=MIDDLE * each.high)


def _perhaps(
    robots: Sequence[Likely], tests: Sequence[Observed], estimates: Sequence[Estimate]
) -> tuple[Estimate, ...]:
    """What robots that fit may have beside what is told of them; left and right turns are taken as both together."""
    told = {each.name: each.value for each in estimates}
    both = told.get("bias.turn", 0.0)
    found = []
    for each in robots:
        if each.of not in told:
            value = both if each.of in ("bias.turn_left", "bias.turn_right") else 0.0
            count = _with_slope(tests, BIASES.index(each.of.removeprefix("bias.")))
            found.append(Estimate(each.of, value, each.at[0], each.at[-1], count))
    return tuple(found)


def _with_slope(tests: Sequence[Observed], column: int) -> int:
    return sum(bool(np.abs(test.bias[:, column]).max() > 1e-6) for test in tests)


def estimates_of(tests: Sequence[Observed], tape: bool = False) -> list[Estimate]:
    """Every number that these tests tell, with its interval; the ``tape`` among them or not."""
    model = assembled(tests, tape)
    return _estimates(model, *model.reml.fitted())


def _estimates(model: Assembled, sds: FloatArray, least: float) -> list[Estimate]:
    found = []
    _, b, spread = model.reml.solve(sds)
    for place, k in enumerate(model.columns):
        if k in model.mixed:
            continue
        told = _with_slope(model.tests, k)
        freedom = model.reml.freedom(sds, place)
        weights = model.reml.weights(sds, place)
        variance = spread[place, place] + weights @ model.rounded_alike(sds) @ weights
        # Where nothing tells of the scatter, nothing tells how far off a bias may be.
        half = float(stdtrit(freedom, 0.5 + CONFIDENCE / 2)) * sqrt(variance) if freedom else inf
        found.append(
            Estimate(f"bias.{BIASES[k]}", float(b[place]), float(b[place] - half), float(b[place] + half), told)
        )
    for k, name in enumerate(model.reml.names):
        low, high = model.reml.profile(sds, least, k, CONFIDENCE)
        found.append(Estimate(name, float(sds[k]), low, high, _telling(model.tests, name)))
    return found


def _tells_tape(tests: Sequence[DrivenTest]) -> bool:
    lengths = [abs(test.commanded) for test in tests if isinstance(test, StraightTest) and test.sideways is not None]
    return len(lengths) >= TAPE_READINGS and max(lengths) >= TAPE_LENGTHS * min(lengths)


def _telling(tests: Sequence[Observed], name: str) -> int:
    if name.startswith("day."):
        k = BIASES.index(name.removeprefix("day."))
        return len({test.date for test in tests if test.date and np.abs(test.bias[:, k]).max() > 1e-6})
    return sum(name in test.parts for test in tests)
