"""`fit`: how accurately a robot drives, from tests measured with a tape.

**The likelihood is that of the simulation.** The measurements y of all tests are, to first order, normal:

    y = f + X b + sum over sources s of sd_s J_s z_s + reading errors,

with the biases b (distance, veer, turn), independent standard normal z, slopes X and J from the kernel itself (see
``observed``), and for the sources of the *day* the same z for all tests of a date. Standard deviations by restricted
maximum likelihood, biases by generalised least squares (see ``reml``).

Intervals, 95 %. Of a bias: Student's t with Satterthwaite's degrees of freedom, and never narrower than readings to
whole steps allow (see ``rounding``). Of a standard deviation: what the
profile of the restricted likelihood does not refuse. Of a placing: Student's t and chi-square.

**The tape.** A reading is rounded to the tape's resolution r, which adds r^2/12 to its variance. How badly it is held
and read beyond that scatters every length alike, long or short; the robot's own sideways error grows with the way. So
the two can be told apart where straights of different lengths have their sideways readings; elsewhere what the tape
adds counts as the robot's, and the answer says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from math import inf, isfinite, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, f, norm
from scipy.stats import t as student

from fieldsim.calibration.observed import BIASES, SOURCES, DrivenTest, Observed, observed, placed
from fieldsim.calibration.posterior import Likelihood, posterior, summary
from fieldsim.calibration.repeatability import Repeatability, repeatability
from fieldsim.calibration.square_path import SquarePathAnswer, square_path
from fieldsim.language import tr, tr_later
from fieldsim.model import MEASURABLE, Accuracy, Between, Likely, Robot, Together, replace, with_values
from fieldsim.model.bounds import Maybe, Pair, attributes
from fieldsim.model.measured import PlacingTest, Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.stats.reml import Reml
from fieldsim.stats.rounding import correlation

FloatArray = NDArray[np.float64]

CONFIDENCE = 0.95

# The tape is told apart from the robot by at least so many sideways readings, of straights of which the longest is so
# many times the shortest.
TAPE_READINGS = 10
TAPE_LENGTHS = 2.0

# A spread of which nothing was seen is one that the tests are too few for, not one that is not there: a forecast takes
# the middle of the robots that fit the tests for it, as ``unknown`` draws them (folded normal: 0.674 of 1.960 of the
# upper end). As good as nought is what is less than this share of the upper end.
MIDDLE = float(norm.ppf(0.75) / norm.ppf(0.5 + CONFIDENCE / 2))
NOUGHT = 0.05

# Two sources whose information is this much the same (as a correlation) cannot be told apart.
ALIKE = 0.95


@dataclass(frozen=True)
class Estimate:
    """One number of the accuracy block with its 95 % interval, in the model's units (shares, mm, degrees)."""

    name: str
    """Its place in the accuracy block, such as 'bias.turn'; 'tape' for the tape."""
    value: float
    low: float
    high: float
    """Infinite if the tests set no upper end."""
    tests: int
    """How many tests tell anything about it; for what differs from day to day, how many days."""
    taken: float | None = None
    """What a forecast is to take for it in place of ``value``, where that is nought and need not be."""

    @property
    def best(self) -> float:
        """What a forecast takes for it."""
        return self.value if self.taken is None else self.taken


@dataclass(frozen=True)
class Outlier:
    """A test that does not fit the others: more than chance makes of any of them in 1 of 20 sheets."""

    line: int
    why: str


@dataclass(frozen=True)
class Placed:
    """Placing by hand in one jig. Millimetres and degrees, seen along the heading meant."""

    jig: str | None
    """None if it was placed by eye."""
    tests: int
    spread: tuple[Estimate, ...]
    """Standard deviations 'along', 'across', 'heading'; those with fewer than two readings are missing."""
    off: tuple[Estimate, ...]
    """Means, likewise: how far from its place it stands on average."""
    repeatability: Repeatability | None
    """Of the held point and heading as a standard has it; None for fewer than two tests."""


@dataclass(frozen=True)
class Drops:
    """Drop tests, counted."""

    passed: int
    failed: int
    came_off: tuple[tuple[str, int], ...]
    """What came off and how often, most often first."""


@dataclass(frozen=True)
class Fit:
    estimates: tuple[Estimate, ...]
    """Of the accuracy block."""
    together: tuple[tuple[str, str, float], ...]
    """Which numbers go together among the robots that fit, where it matters (more than 0.1 either way)."""
    robots: tuple[Likely, ...]
    """How robots that fit differ in each number that has an upper end (see ``posterior``)."""
    tape: Estimate | None
    """Standard deviation of how the tape is held and read, mm, beyond its steps; None where the tests cannot tell."""
    placed: tuple[Placed, ...]
    drops: Drops
    squares: tuple[SquarePathAnswer, ...]
    """What the classic formulas say of square paths driven both ways round."""
    outliers: tuple[Outlier, ...]
    tests: int
    driven: int
    """Straights, turns and square paths among them."""
    dates: int
    unknown: tuple[str, ...]
    """What these tests cannot tell, in words."""

    def value(self, name: str) -> float | None:
        """An estimate's value, None if the tests do not tell it."""
        return next((each.value for each in self.estimates if each.name == name), None)


# Correlations smaller than this are left out of an answer.
LEAST_CORRELATION = 0.1


@dataclass(frozen=True, eq=False)
class Assembled:
    """All tests together."""

    tests: tuple[Observed, ...]
    reml: Reml
    columns: tuple[int, ...]
    """Which of ``BIASES`` the columns of ``reml.x`` are; one that nothing can be learned of is left out, and of some
    that the tests cannot tell apart at all one."""
    mixed: tuple[int, ...]
    """Those that the tests cannot tell apart at all: the column that stands for them is none of them."""
    dates: int

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that is estimated: the biases, then the sources."""
        return (*(f"bias.{BIASES[k]}" for k in self.columns), *self.reml.names)

    def rounded_alike(self, sds: FloatArray) -> FloatArray:
        """(n, n) covariances of the rounding errors of readings that repeat each other, nought on the diagonal: what
        ``reading`` takes as independent and is not, where the robot scatters by less than a step (see ``rounding``)."""
        own = self.reml.covariance(sds) - np.diag(self.reml.reading)
        each = np.diag(own)
        one, other = np.nonzero(self.repeats)
        difference = np.maximum(each[one] + each[other] - 2 * own[one, other], 0.0)
        made = np.zeros_like(own)
        made[one, other] = self.reml.reading[one] * correlation(difference, np.sqrt(12 * self.reml.reading[one]))
        return made

    @property
    def repeats(self) -> NDArray[np.bool_]:
        """(n, n) whether two readings are of the same quantity of the same test, driven again."""
        slopes = np.concatenate([test.bias for test in self.tests])
        words = np.array([word for test in self.tests for word in test.words])
        near = np.abs(slopes[:, None, :] - slopes[None, :, :]).max(axis=2) <= 1e-9 * np.abs(slopes).max()
        steps = self.reml.reading[:, None] == self.reml.reading[None, :]
        made = near & steps & (words[:, None] == words[None, :])
        np.fill_diagonal(made, False)
        return np.asarray(made, dtype=np.bool_)


def assembled(tests: Sequence[Observed], tape: bool = False) -> Assembled:
    """All tests as one model, with the ``tape`` as a source or without."""
    sizes = [len(test.y) for test in tests]
    first = np.concatenate([[0], np.cumsum(sizes)])
    n = int(first[-1])
    slopes = np.concatenate([test.bias for test in tests])
    dates = [test.date for test in tests]
    covariances: dict[str, FloatArray] = {}
    for name in SOURCES:
        if name == "tape" and not tape:
            continue
        made = np.zeros((n, n))
        for a, test in zip(first, tests, strict=False):
            part = test.parts.get(name)
            if part is not None:
                k = len(test.y)
                made[a : a + k, a : a + k] = part @ part.T
        if made.max() > 1e-12:
            covariances[name] = made
    columns = tuple(k for k in range(3) if np.abs(slopes[:, k]).max() > 1e-6 * max(1.0, np.abs(slopes).max()))
    columns, mixed = _independent(slopes, columns)
    different = len({date for date in dates if date is not None})
    if different > 1:
        owner = np.repeat(np.arange(len(tests)), sizes)
        number = {date: i for i, date in enumerate(sorted({date for date in dates if date is not None}))}
        # Tests without a date are alone with their day.
        day = np.array([number[date] if date is not None else -1 - i for i, date in enumerate(dates)])[owner]
        same = day[:, None] == day[None, :]
        for k in columns:
            covariances[f"day.{BIASES[k]}"] = np.outer(slopes[:, k], slopes[:, k]) * same
    reml = Reml(
        y=np.concatenate([test.y for test in tests]),
        x=slopes[:, columns],
        reading=np.concatenate([test.reading for test in tests]),
        covariances=covariances,
    )
    return Assembled(tuple(tests), reml, columns, mixed, different)


def _independent(slopes: FloatArray, columns: tuple[int, ...]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Columns that are independent of those before them, and all that some others could take the place of."""
    unit = slopes / np.maximum(np.linalg.norm(slopes, axis=0), 1e-300)

    def rank(which: Sequence[int]) -> int:
        return int(np.linalg.matrix_rank(unit[:, list(which)], tol=1e-6)) if which else 0

    kept: list[int] = []
    for k in columns:
        if rank([*kept, k]) > len(kept):
            kept.append(k)
    mixed = tuple(k for k in columns if rank([j for j in columns if j != k]) == len(kept))
    return tuple(kept), mixed


# --- estimates and their intervals ---------------------------------------------------------------------------------


def fit(robot: Robot, sheet: Sheet) -> Fit:
    """Biases and spreads of a robot from its tests, with 95 % intervals; what the tests do not tell is said.

    ``robot`` gives the drive and the speeds; its own accuracy block is not used but for the speeds it was measured at.
    """
    driven = [test for test in sheet.tests if isinstance(test, StraightTest | TurnTest | SquarePathTest)]
    tests = [observed(robot, test) for test in driven]
    estimates: list[Estimate] = []
    outliers: list[Outlier] = []
    unknown: list[str] = []
    together: tuple[tuple[str, str, float], ...] = ()
    robots: tuple[Likely, ...] = ()
    tape: Estimate | None = None
    dates = 0
    if tests:
        model = assembled(tests, _tells_tape(driven))
        dates = model.dates
        sds, least = model.reml.fitted()
        estimates = _estimates(model, sds, least)
        tape = next((each for each in estimates if each.name == "tape"), None)
        estimates = [each for each in estimates if each.name != "tape"]
        robots, together = robots_that_fit(model, sds, [each.name for each in estimates if isfinite(each.high)])
        outliers = _outliers(model, sds)
        there = {each.name: each for each in estimates}
        alike = list(_alike(model, sds, there))
        unknown += [_cannot(*pair) for pair in alike]
        estimates = [
            _taken(each, [there[name] for pair in alike if each.name in pair for name in pair if name in there])
            for each in estimates
        ]
        unknown += _unseen(estimates)
    told = {each.name for each in estimates if isfinite(each.high)}
    unknown = [*_missing(robot, driven, dates), *unknown, *_kept(_untouched(robot.accuracy.between, told))]
    if driven and tape is None:
        unknown.append(
            tr(
                "how well the tape was held and read cannot be told from how well the robot drives, and counts "
                "as the robot's: write down how far sideways short and long straights end"
            )
        )
    return Fit(
        estimates=tuple(estimates),
        together=together,
        robots=robots,
        tape=tape,
        placed=tuple(_placed(jig, tests) for jig, tests in placed(sheet.tests).items()),
        drops=_drops(sheet),
        squares=square_path([test for test in driven if isinstance(test, SquarePathTest)], robot.drive.track),
        outliers=tuple(outliers),
        tests=len(sheet.tests),
        driven=len(driven),
        dates=dates,
        unknown=tuple(unknown),
    )


def _taken(each: Estimate, alike: Sequence[Estimate]) -> Estimate:
    """The same with what a forecast takes for it: see ``MIDDLE``. Not if the scatter that it may make is already in one
    that cannot be told apart from it."""
    if each.name.startswith("bias.") or not isfinite(each.high) or each.low > 0 or each.value > NOUGHT * each.high:
        return each
    if any(other.value > NOUGHT * other.high for other in alike):
        return each
    return replace(each, taken=MIDDLE * each.high)


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
        told = sum(bool(np.abs(test.bias[:, k]).max() > 1e-6) for test in model.tests)
        freedom = model.reml.freedom(sds, place)
        weights = model.reml.weights(sds, place)
        variance = spread[place, place] + weights @ model.rounded_alike(sds) @ weights
        # Where nothing tells of the scatter, nothing tells how far off a bias may be.
        half = student.ppf(0.5 + CONFIDENCE / 2, freedom) * sqrt(variance) if freedom else inf
        found.append(
            Estimate(f"bias.{BIASES[k]}", float(b[place]), float(b[place] - half), float(b[place] + half), told)
        )
    for k, name in enumerate(model.reml.names):
        low, high = model.reml.profile(sds, least, k, CONFIDENCE)
        found.append(Estimate(name, float(sds[k]), low, high, _telling(model.tests, name)))
    return found


def believed(accuracy: Accuracy, answer: Fit) -> Accuracy:
    """The accuracy block with what the tests say in place of its own numbers, and what they leave unknown; ends out of
    a file's bounds are taken as the bound. What these tests do not tell, or set no upper end, stays as it was, with
    what earlier tests left unknown of it."""
    told = {each.name: each for each in answer.estimates if isfinite(each.high)}
    ends: dict[str, tuple[float, float]] = {}
    for name in MEASURABLE:
        if name in told:
            least, most = bounds_of_ends(name)
            ends[name] = (max(told[name].low, least), min(told[name].high, most))
    before = _untouched(accuracy.between, told)
    ends.update(before)
    made = with_values(accuracy, {name: each.best for name, each in told.items()})
    if not ends:
        return replace(made, between=None)
    groups: dict[str, dict[str, tuple[float, float]]] = {}
    for name, pair in ends.items():
        group, key = name.split(".")
        groups.setdefault(group, {})[key] = pair
    pairs = [Together(one, other, r) for one, other, r in answer.together if one in told and other in told]
    tests = answer.driven
    if before and accuracy.between is not None:
        pairs += [each for each in accuracy.between.together if each.one in before and each.other in before]
        tests += int(accuracy.between.tests)
    likely = answer.robots
    if before and accuracy.between is not None:
        likely += tuple(each for each in accuracy.between.robots if each.of in before)
    made_of = {group: type(getattr(_NOTHING, group))(**keys) for group, keys in groups.items()}
    return replace(made, between=Between(tests=tests, together=tuple(pairs), robots=likely, **made_of))


def _untouched(between: Between | None, told: Container[str]) -> dict[str, tuple[float, float]]:
    """What earlier tests left unknown of the numbers that are not told anew."""
    if between is None:
        return {}
    found = {name: between.ends(name) for name in MEASURABLE if name not in told}
    return {name: ends for name, ends in found.items() if ends is not None}


_NOTHING = Between(tests=1)


def bounds_of_ends(name: str) -> tuple[float, float]:
    """Between which bounds a file accepts the ends of one number."""
    group, key = name.split(".")
    kind = attributes(type(getattr(_NOTHING, group)))[key].kind
    assert isinstance(kind, Maybe)
    assert isinstance(kind.kind, Pair)
    return kind.kind.number.least, kind.kind.number.most


def _tells_tape(tests: Sequence[DrivenTest]) -> bool:
    lengths = [abs(test.commanded) for test in tests if isinstance(test, StraightTest) and test.sideways is not None]
    return len(lengths) >= TAPE_READINGS and max(lengths) >= TAPE_LENGTHS * min(lengths)


def _telling(tests: Sequence[Observed], name: str) -> int:
    if name.startswith("day."):
        k = BIASES.index(name.removeprefix("day."))
        return len({test.date for test in tests if test.date and np.abs(test.bias[:, k]).max() > 1e-6})
    return sum(name in test.parts for test in tests)


def correlations(model: Assembled, sds: FloatArray) -> FloatArray:
    """(m, m) correlations of the errors of all estimates, in the order of ``model.names``: of the biases by least
    squares, of the sources by the expected information of their variances; of one with the other none, as it is to
    first order in restricted likelihood."""
    _, _, spread = model.reml.solve(sds)
    p, k = len(model.columns), len(model.reml.names)
    made = np.eye(p + k)
    made[:p, :p] = spread / np.sqrt(np.outer(np.diag(spread), np.diag(spread)))
    if k:
        information = model.reml.information(sds)
        size = np.sqrt(np.maximum(np.diag(information), 1e-300))
        # Sources that look the same make it singular; a thousandth of its diagonal says which way they lie.
        covariance = np.linalg.inv(information / np.outer(size, size) + 1e-3 * np.eye(k))
        made[p:, p:] = covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    return made


def robots_that_fit(
    model: Assembled, sds: FloatArray, names: Sequence[str]
) -> tuple[tuple[Likely, ...], tuple[tuple[str, str, float], ...]]:
    """How robots that fit differ in these numbers, and which of them go together."""
    weights = np.array([model.reml.weights(sds, place) for place in range(len(model.columns))])
    weights = weights.reshape(len(model.columns), len(model.reml.y))
    rounding = weights @ model.rounded_alike(sds) @ weights.T
    at, together = summary(posterior(Likelihood(model.tests, model.reml.names, model.columns), sds, rounding), names)
    robots = []
    for name, row in zip(names, at, strict=True):
        least, most = bounds_of_ends(name)
        # Three digits, and nothing that a file would refuse.
        inside = np.clip([float(f"{each:.3g}") for each in row], least if name.startswith("bias.") else 1e-9, most)
        robots.append(Likely(name, tuple(map(float, inside))))
    pairs = [
        (names[j], names[i], round(float(np.clip(together[i, j], -0.999, 0.999)), 2))
        for i in range(len(names))
        for j in range(i)
        if abs(together[i, j]) > LEAST_CORRELATION
    ]
    return tuple(robots), tuple(pairs)


def _outliers(model: Assembled, all_sds: FloatArray) -> list[Outlier]:
    """Each test against what all others say: its distance from their forecast, against an F distribution.

    Its second degrees of freedom are the other tests of its kind less three, what they are spent on (a bias and two
    spreads); Bonferroni over all tests.
    """
    found = []
    tests = model.tests
    known = dict(zip(model.reml.names, all_sds, strict=True))
    for n, test in enumerate(tests):
        others = [*tests[:n], *tests[n + 1 :]]
        alike = sum(other.parts.keys() == test.parts.keys() for other in others)
        if alike < 4:
            continue
        rest_of = assembled(others, "tape" in model.reml.names)
        if set(np.flatnonzero(np.abs(test.bias).max(axis=0) > 1e-6)) - set(rest_of.columns):
            continue
        sds, _ = rest_of.reml.fitted(start=np.array([known.get(name, 0.0) for name in rest_of.reml.names]))
        _, b, spread = rest_of.reml.solve(sds)
        x = test.bias[:, rest_of.columns]
        variance = np.diag(test.reading) + x @ spread @ x.T
        for sd, name in zip(sds, rest_of.reml.names, strict=True):
            if name in test.parts:
                variance += sd * sd * test.parts[name] @ test.parts[name].T
            elif name.startswith("day."):
                slope = test.bias[:, BIASES.index(name.removeprefix("day."))]
                variance += sd * sd * np.outer(slope, slope)
        rest = test.y - x @ b
        distance = float(rest @ np.linalg.solve(variance, rest)) / len(rest)
        if f.sf(distance, len(rest), alike - 3) < 0.05 / len(tests):
            word = test.words[int(np.argmax(np.abs(rest) / np.sqrt(np.diag(variance))))]
            found.append(Outlier(test.line, tr("its {word} is far from what the other tests say", word=word)))
    return found


# --- what they cannot tell -----------------------------------------------------------------------------------------


def _missing(robot: Robot, tests: Sequence[DrivenTest], dates: int) -> Iterator[str]:
    wheels = [test for test in tests if test.heading_from == "wheels"]
    gyro = [test for test in tests if test.heading_from == "gyro"]
    by_gyro = robot.drive.heading_from == "gyro"
    mine = gyro if by_gyro else wheels
    apart = (wheels and gyro) or (tests and not mine)
    if not any(isinstance(test, StraightTest | SquarePathTest) for test in mine):
        if not apart:
            yield tr("no straight tests: nothing is known of straights")
        elif by_gyro:
            yield tr("no straight tests by gyro: nothing is known of straights by gyro")
        else:
            yield tr("no straight tests by its wheels: nothing is known of straights by its wheels")
    if not any(isinstance(test, TurnTest | SquarePathTest) for test in mine):
        if not apart:
            yield tr("no turn tests: nothing is known of turns")
        elif by_gyro:
            yield tr("no turn tests by gyro: nothing is known of turns by gyro")
        else:
            yield tr("no turn tests by its wheels: nothing is known of turns by its wheels")
    if tests and dates < 2:
        yield tr("tests of one day only: what differs from day to day is in none of these numbers")


_DIFFER = tr_later("make tests that differ more, in length, angle and speed")
_HOW = {
    frozenset({"straight.stop", "straight.distance"}): tr_later("drive straights of quite different lengths"),
    frozenset({"turn.stop", "turn.slip"}): tr_later("make turns of quite different angles"),
    frozenset({"gyro.drift", "gyro.scale"}): tr_later(
        "make turns at quite different turning speeds, and long slow straights"
    ),
    frozenset({"gyro.scale", "turn.stop"}): tr_later("make turns of quite different angles"),
    frozenset({"gyro.drift", "turn.stop"}): tr_later("make turns of quite different angles"),
    frozenset({"gyro.drift", "gyro.hold"}): tr_later("drive straights of quite different lengths"),
    frozenset({"bias.veer", "bias.turn"}): tr_later("drive the square path both ways round"),
}


def _alike(model: Assembled, sds: FloatArray, there: dict[str, Estimate]) -> Iterator[tuple[str, str]]:
    """Pairs that the tests cannot tell apart: sources whose expected information is nearly the same, biases whose
    estimates are nearly one."""
    _, _, spread = model.reml.solve(sds)
    p = len(model.columns)
    alike = np.zeros((len(model.names),) * 2)
    alike[:p, :p] = np.abs(spread) / np.sqrt(np.outer(np.diag(spread), np.diag(spread)))
    if model.reml.names:
        # With a little of each, so that one at nought does not hide behind the others.
        some = np.maximum(sds, 0.1 * np.array(model.reml.scales))
        information = model.reml.information(some)
        size = np.sqrt(np.maximum(np.diag(information), 1e-300))
        alike[p:, p:] = information / np.outer(size, size)
    mixed = [f"bias.{BIASES[k]}" for k in model.mixed]
    for i, one in enumerate(mixed):
        for other in mixed[:i]:
            yield other, one
    for i, one in enumerate(model.names):
        for j in range(i):
            other = model.names[j]
            if alike[i, j] > ALIKE and one in there and other in there and (i < p or there[one].low == 0):
                yield other, one


def _listed(names: Sequence[str]) -> str:
    quoted = [f"'{name.replace('.', ': ')}'" for name in names]
    return tr(" and ").join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def _kept(names: Container[str]) -> Iterator[str]:
    kept = [name for name in MEASURABLE if name in names]
    if kept:
        yield tr(
            "earlier tests are behind {names}, which these do not tell: that stays in the robot's file. To have all "
            "tests weighed together, put them into one sheet",
            names=_listed(kept),
        )


def _unseen(estimates: Sequence[Estimate]) -> Iterator[str]:
    names = [each.name for each in estimates if each.taken is not None]
    if names:
        yield tr(
            "nothing was seen of {names}, which does not mean that there is none: a forecast takes a third of the "
            "upper end, and so does --write. More tests bring it down",
            names=_listed(names),
        )


def _cannot(one: str, other: str) -> str:
    how = _HOW.get(frozenset({one, other}), _DIFFER)
    return tr("{names} cannot be told apart by these tests: {how}", names=_listed((one, other)), how=tr(how))


# --- tests that are not driven -------------------------------------------------------------------------------------


def _placed(jig: str, tests: Sequence[PlacingTest]) -> Placed:
    """Plain standard deviations with their chi-square interval, less the reading's, and means with Student's t."""
    spread, off = [], []
    for part in ("along", "across", "heading"):
        values = np.array([v for test in tests if (v := getattr(test, part)) is not None], dtype=float)
        if len(values) < 2:
            continue
        n = len(values)
        read_by = "protractor" if part == "heading" else "tape"
        step = float(np.mean([getattr(test, read_by) for test in tests]))
        reading = step**2 / 12
        total = float(values.var(ddof=1))
        ends = [(n - 1) * total / chi2.ppf(q, n - 1) for q in (0.5 + CONFIDENCE / 2, 0.5 - CONFIDENCE / 2)]
        sds = [sqrt(max(0.0, v - reading)) for v in (total, *ends)]
        # Readings that scatter less than their own steps cannot say that there is no scatter.
        sds[2] = max(
            sds[2], sqrt((n - 1) * reading / chi2.ppf(0.5 - CONFIDENCE / 2, n - 1)) if total < reading else 0.0
        )
        spread.append(Estimate(part, sds[0], sds[1], sds[2], n))
        mean = float(values.mean())
        # Readings that scatter by less than their steps are all off by the same.
        own = max(total - reading, 0.0)
        variance = (own + reading) / n + reading * float(correlation(np.array(2 * own), step)) * (n - 1) / n
        half = student.ppf(0.5 + CONFIDENCE / 2, n - 1) * sqrt(variance)
        off.append(Estimate(part, mean, mean - half, mean + half, n))
    whole = len(tests) >= 2
    angles = [test.heading for test in tests if test.heading is not None]
    headings = angles if len(angles) == len(tests) else None
    return Placed(
        jig=None if jig == "by eye" else jig,
        tests=len(tests),
        spread=tuple(spread),
        off=tuple(off),
        repeatability=repeatability(
            [(test.along, test.across) for test in tests], (0.0, 0.0), headings, None if headings is None else 0.0
        )
        if whole
        else None,
    )


def _drops(sheet: Sheet) -> Drops:
    off = Counter(test.came_off.strip() for test in sheet.drops if test.result == "fail" and test.came_off.strip())
    failed = sum(test.result == "fail" for test in sheet.drops)
    return Drops(len(sheet.drops) - failed, failed, tuple(off.most_common()))
