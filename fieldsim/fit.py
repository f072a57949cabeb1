"""`fit`: how accurately a robot drives, from tests measured with a tape.

**The likelihood is that of the simulation.** Each test is a short run on an empty floor, driven by the same kernel as
every trial. What is measured of it (travel, sideways, heading ...) is, to first order, linear in the robot's bias and
in every drawn number; the slopes are taken from the kernel itself. So the measurements y of all tests are normal,

    y = f + X b + sum over sources s of sd_s J_s z_s + reading errors,

with the biases b (distance, veer, turn), independent standard normal z, and for the sources of the *day* the same z for
all tests of a date. The standard deviations are estimated by restricted maximum likelihood (REML), which counts what is
spent on the biases, and the biases by generalised least squares. Source: H. D. Patterson and R. Thompson, "Recovery of
inter-block information when block sizes are unequal", Biometrika 58, 1971, 545-554 (from memory).

Intervals, 95 %. Of a bias: Student's t with Satterthwaite's degrees of freedom (F. E. Satterthwaite, "An approximate
distribution of estimates of variance components", Biometrics Bulletin 2, 1946, 110-114, from memory). Of a standard
deviation: what the profile of the restricted likelihood does not refuse.

A reading is rounded to the tape's resolution r, which adds r^2/12 to its variance.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, radians, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.optimize import brentq, minimize
from scipy.stats import chi2, f
from scipy.stats import t as student

from fieldsim.drivetrain import DISTANCE, SLIP, STOP, VEER, drivetrain
from fieldsim.measured import PlacingTest, Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.model import (
    Accuracy,
    Field,
    Robot,
    Run,
    Segment,
    Spread,
    StartByEye,
    Straight,
    StraightNoise,
    Turn,
    TurnNoise,
    replace,
)
from fieldsim.plan import driven_pose

FloatArray = NDArray[np.float64]

# A heading that was read with a protractor or between lines of a mat, degrees: common practice, no source.
ANGLE_STEP = 0.5

# The biases, in the files' units: shares, and degrees per metre.
BIASES = ("distance", "veer", "turn")
# Steps of the slopes: of the biases, and of a drawn number. The kernel is smooth, so the middle of two sides is exact
# to their square.
BIAS_STEP = (1e-4, 1e-2, 1e-4)
DRAW_STEP = 1e-3

# Standard deviations that are estimated: name, and how their words are in the accuracy block.
SPREADS = (
    "straight.stop", "straight.distance", "straight.veer", "turn.stop", "turn.slip", "day.distance", "day.veer",
    "day.turn",
)  # fmt: skip
UNITS = {
    "straight.stop": "mm", "straight.distance": "mm", "straight.veer": "degrees", "turn.stop": "degrees",
    "turn.slip": "degrees", "day.distance": "", "day.veer": "degrees", "day.turn": "",
    "bias.distance": "", "bias.veer": "degrees", "bias.turn": "",
}  # fmt: skip

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Estimate:
    """One number of the accuracy block with its 95 % interval, in the model's units (shares, mm, degrees)."""

    name: str
    value: float
    low: float
    high: float
    tests: int
    """How many tests tell anything about it."""


@dataclass(frozen=True)
class Outlier:
    """A test that does not fit the others: more than chance makes of any of them in 1 of 20 sheets."""

    line: int
    why: str


@dataclass(frozen=True)
class Fit:
    estimates: tuple[Estimate, ...]
    outliers: tuple[Outlier, ...]
    tests: int
    dates: int
    unknown: tuple[str, ...]
    """What these tests cannot tell, in words."""

    def value(self, name: str) -> float | None:
        """An estimate's value, None if the tests do not tell it."""
        return next((each.value for each in self.estimates if each.name == name), None)


@dataclass(frozen=True, eq=False)
class _Observed:
    """What one test says: values less what a perfect robot would have made, and how each source would change them."""

    line: int
    date: datetime.date | None
    words: tuple[str, ...]
    y: FloatArray
    """(k,)"""
    bias: FloatArray
    """(k, 3) slopes with the biases, in the files' units."""
    parts: dict[str, FloatArray]
    """(k, rows) slopes with the drawn numbers of each source, for a standard deviation of 1."""
    reading: FloatArray
    """(k,) variances of reading."""


# --- a test as a run -----------------------------------------------------------------------------------------------

_FLOOR = Field("Floor", (20_000.0, 20_000.0))
_UNIT = Accuracy(straight=StraightNoise(1.0, 1.0, 1.0), turn=TurnNoise(1.0, 1.0))
_START = StartByEye((10_000.0, 10_000.0), 0.0, Spread(0.0, 0.0, 0.0))
_SOURCES = {
    (Straight, STOP): "straight.stop", (Straight, DISTANCE): "straight.distance", (Straight, VEER): "straight.veer",
    (Turn, STOP): "turn.stop", (Turn, SLIP): "turn.slip",
}  # fmt: skip


def _slopes(robot: Robot, segments: Sequence[Segment]) -> tuple[FloatArray, FloatArray, dict[str, FloatArray]]:
    """The pose at the end (x, y in mm, heading in degrees) of a perfect robot that starts at the origin along x, its
    slopes (3, 3) with the biases, and (3, rows) with each source's drawn numbers."""
    accuracy = replace(_UNIT, measured_at=robot.accuracy.measured_at, turn_measured_at=robot.accuracy.turn_measured_at)
    run = Run("test", _FLOOR, replace(robot, accuracy=accuracy, attachments=()), _START, tuple(segments))
    train = drivetrain(run)
    zero = np.zeros((train.rows, 1))

    def end(bias: FloatArray, z: FloatArray) -> FloatArray:
        scales = np.array([bias[0], radians(bias[1]) / 1000.0, bias[2]])
        pose = driven_pose(train.wheels._replace(bias=scales), train.alignments, z)
        return np.array([pose[0] - 10_000.0, pose[1] - 10_000.0, pose[2]])

    perfect = end(np.zeros(3), zero)
    with_bias = np.zeros((3, 3))
    for k, step in enumerate(BIAS_STEP):
        change = np.zeros(3)
        change[k] = step
        with_bias[:, k] = (end(change, zero) - end(-change, zero)) / (2 * step)
    parts: dict[str, list[FloatArray]] = {}
    row = 0
    for stream in train.streams:
        for r in range(row, row + stream.rows):
            if stream.segment:
                z = zero.copy()
                z[r] = DRAW_STEP
                slope = (end(np.zeros(3), z) - end(np.zeros(3), -z)) / (2 * DRAW_STEP)
                kind = type(segments[stream.segment - 1])
                parts.setdefault(_SOURCES[kind, stream.source], []).append(slope)
        row += stream.rows
    return perfect, with_bias, {name: np.array(slopes).T for name, slopes in parts.items()}


def _observed(robot: Robot, test: StraightTest | TurnTest | SquarePathTest) -> _Observed:
    tape = test.tape**2 / 12
    angle = ANGLE_STEP**2 / 12
    readings: list[tuple[str, int, float, float]] = []
    segments: list[Segment] = []
    match test:
        case StraightTest():
            segments = [Straight(test.commanded, speed=test.speed)]
            readings.append(("travel", 0, test.travel, tape))
            if test.sideways is not None:
                readings.append(("sideways", 1, test.sideways, tape))
            if test.heading is not None:
                readings.append(("heading", 2, test.heading, angle))
        case TurnTest():
            segments = [Turn(test.commanded, turn_speed=test.turn_speed)]
            if test.side is not None:
                # Two readings, far less near, over the side: asin is straight enough near 0.
                angle = 2 * tape * np.degrees(1 / test.side) ** 2
            readings.append(("angle", 2, test.angle, float(angle)))
        case SquarePathTest():
            corner = 90.0 if test.direction == "ccw" else -90.0
            for _ in range(4):
                segments += [Straight(test.side, speed=test.speed), Turn(corner, turn_speed=test.turn_speed)]
            readings += [("return x", 0, test.return_x, tape), ("return y", 1, test.return_y, tape)]
            if test.heading is not None:
                readings.append(("heading", 2, test.heading, angle))
    perfect, bias, parts = _slopes(robot, segments)
    which = [row for _, row, _, _ in readings]
    expected = perfect[which]
    if isinstance(test, SquarePathTest):
        # Its heading is told as how far off it is, not with the full turn.
        expected = np.where(np.array(which) == 2, 0.0, expected)
    return _Observed(
        line=test.line,
        date=test.date,
        words=tuple(words for words, _, _, _ in readings),
        y=np.array([value for _, _, value, _ in readings]) - expected,
        bias=bias[which],
        parts={name: slopes[which] for name, slopes in parts.items()},
        reading=np.array([variance for _, _, _, variance in readings]),
    )


# --- the likelihood ------------------------------------------------------------------------------------------------


class _Model:
    """All tests together: y (n,), X (n, p) for the biases they tell of, and a covariance for each source."""

    def __init__(self, tests: Sequence[_Observed]) -> None:
        self.tests = tests
        sizes = [len(test.y) for test in tests]
        self.first = np.concatenate([[0], np.cumsum(sizes)])
        n = int(self.first[-1])
        self.y = np.concatenate([test.y for test in tests])
        slopes = np.concatenate([test.bias for test in tests])
        self.reading = np.concatenate([test.reading for test in tests])
        dates = [test.date for test in tests]
        self.dates = len({date for date in dates if date is not None})
        self.covariances: dict[str, FloatArray] = {}
        for name in SPREADS[:5]:
            made = np.zeros((n, n))
            for a, test in zip(self.first, tests, strict=False):
                slopes_of = test.parts.get(name)
                if slopes_of is not None:
                    k = len(test.y)
                    made[a : a + k, a : a + k] = slopes_of @ slopes_of.T
            self._keep(name, made)
        # A column that nothing can be learned of is left out: no turn tests, no turn.
        self.columns = [k for k in range(3) if np.abs(slopes[:, k]).max() > 1e-6 * max(1.0, np.abs(slopes).max())]
        self.x = slopes[:, self.columns]
        self.slopes = slopes
        if self.dates > 1:
            owner = np.concatenate([[i] * size for i, size in enumerate(sizes)]).astype(int)
            same = np.array([[dates[i] is not None and dates[i] == dates[j] for j in owner] for i in owner])
            for k in self.columns:
                self._keep(f"day.{BIASES[k]}", np.outer(slopes[:, k], slopes[:, k]) * same)
        self.names = list(self.covariances)
        self.scales = [self.scale(k) for k in range(len(self.names))]

    def _keep(self, name: str, covariance: FloatArray) -> None:
        if covariance.any():
            self.covariances[name] = covariance

    def covariance(self, sds: FloatArray) -> FloatArray:
        made = np.diag(self.reading)
        for sd, name in zip(sds, self.names, strict=True):
            made = made + sd * sd * self.covariances[name]
        return made

    def solve(self, sds: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """-2 times the restricted log-likelihood (less a constant), the biases and their covariance."""
        try:
            factor = cho_factor(self.covariance(sds), lower=True)
        except LinAlgError:
            return inf, np.zeros(len(self.columns)), np.zeros((len(self.columns),) * 2)
        vx = cho_solve(factor, self.x)
        information = self.x.T @ vx
        spread = np.linalg.inv(information)
        b = spread @ (vx.T @ self.y)
        rest = self.y - self.x @ b
        deviance = 2 * np.log(np.diag(factor[0])).sum() + np.linalg.slogdet(information)[1]
        return float(deviance + rest @ cho_solve(factor, rest)), b, spread

    def slope(self, sds: FloatArray) -> tuple[float, FloatArray]:
        """``solve``'s first value and its slope with the standard deviations.

        d/d(sd_k) = 2 sd_k (tr(P C_k) - y'P C_k P y) with P = V^-1 - V^-1 X (X'V^-1 X)^-1 X'V^-1. Source: S. R. Searle,
        G. Casella and C. E. McCulloch, Variance Components, Wiley, 1992, sec. 6.6 (section from memory).
        """
        value, _, spread = self.solve(sds)
        if value == inf:
            return 1e12, np.zeros(len(sds))
        inverse = np.linalg.inv(self.covariance(sds))
        vx = inverse @ self.x
        p = inverse - vx @ spread @ vx.T
        py = p @ self.y
        slopes = [
            2 * sd * (np.sum(p * self.covariances[name]) - py @ self.covariances[name] @ py)
            for sd, name in zip(sds, self.names, strict=True)
        ]
        return value, np.array(slopes)

    def fitted(
        self, fixed: dict[int, float] | None = None, start: FloatArray | None = None
    ) -> tuple[FloatArray, float]:
        """The standard deviations of the largest restricted likelihood, some of them fixed, and -2 times it."""
        fixed = fixed or {}
        free = [k for k in range(len(self.names)) if k not in fixed]
        scale = np.array([self.scales[k] for k in free])
        base = np.zeros(len(self.names))
        for k, value in fixed.items():
            base[k] = value

        def full(u: FloatArray) -> FloatArray:
            sds = base.copy()
            sds[free] = u * scale
            return sds

        if not free:
            return base, self.solve(base)[0]

        def deviance(u: FloatArray) -> tuple[float, FloatArray]:
            value, slopes = self.slope(full(u))
            return value, slopes[free] * scale

        starts = [np.full(len(free), 0.6 / sqrt(len(free))), np.full(len(free), 0.1)]
        if start is not None:
            # From where the slope of a standard deviation is not nought by itself.
            starts = [np.maximum(start[free] / scale, 0.02)]
        best, least = base, inf
        for u in starts:
            found = minimize(deviance, u, jac=True, method="L-BFGS-B", bounds=[(0.0, None)] * len(free))
            if found.fun < least:
                best, least = full(np.asarray(found.x)), float(found.fun)
        return best, least

    def scale(self, k: int) -> float:
        """The standard deviation at which one source alone would make the whole scatter: a first guess of its size."""
        diagonal = np.diag(self.covariances[self.names[k]])
        touched = diagonal > 0
        b, *_ = np.linalg.lstsq(self.x, self.y, rcond=None)
        rest = self.y - self.x @ b
        return float(sqrt(max((rest[touched] ** 2).mean(), self.reading.min()) / diagonal[touched].mean()))


# --- estimates and their intervals ---------------------------------------------------------------------------------


def fit(robot: Robot, sheet: Sheet) -> Fit:
    """Biases and spreads of a robot from its tests, with 95 % intervals; what the tests do not tell is said.

    ``robot`` gives the drive and the speeds; its own accuracy block is not used but for the speeds it was measured at.
    """
    driven = [test for test in sheet.tests if isinstance(test, StraightTest | TurnTest | SquarePathTest)]
    observed = [_observed(robot, test) for test in driven if test.heading_from == "wheels"]
    estimates: list[Estimate] = []
    outliers: list[Outlier] = []
    unknown: list[str] = []
    dates = 0
    if observed:
        model = _Model(observed)
        dates = model.dates
        sds, least = model.fitted()
        _, b, spread = model.solve(sds)
        for place, k in enumerate(model.columns):
            told = sum(bool(np.abs(test.bias[:, k]).max() > 1e-6) for test in observed)
            half = student.ppf(0.5 + CONFIDENCE / 2, _freedom(model, sds, place)) * sqrt(spread[place, place])
            estimates.append(
                Estimate(f"bias.{BIASES[k]}", float(b[place]), float(b[place] - half), float(b[place] + half), told)
            )
        for k, name in enumerate(model.names):
            low, high = _profile(model, sds, least, k)
            told = _telling(observed, name)
            estimates.append(Estimate(name, float(sds[k]), low, high, told))
        outliers = _outliers(observed)
    unknown += _unknown(estimates, dates)
    estimates += _placing([test for test in sheet.tests if isinstance(test, PlacingTest)])
    return Fit(tuple(estimates), tuple(outliers), len(sheet.tests), dates, tuple(unknown))


def _telling(observed: Sequence[_Observed], name: str) -> int:
    if name.startswith("day."):
        k = BIASES.index(name.removeprefix("day."))
        return len({test.date for test in observed if test.date and np.abs(test.bias[:, k]).max() > 1e-6})
    return sum(name in test.parts for test in observed)


def _freedom(model: _Model, sds: FloatArray, place: int) -> float:
    """Satterthwaite's degrees of freedom of a bias: 2 v^2 over the variance of the estimate of v."""
    free = [k for k in range(len(model.names)) if sds[k] > 1e-3 * model.scales[k]]
    if not free:
        return 1e6

    def variances(v: FloatArray) -> FloatArray:
        found = sds.copy()
        found[free] = np.sqrt(np.maximum(v, 0.0))
        return found

    at = sds[free] ** 2
    step = 1e-3 * at

    def deviance(v: FloatArray) -> float:
        return model.solve(variances(v))[0]

    def own(v: FloatArray) -> float:
        return float(model.solve(variances(v))[2][place, place])

    slope = np.array([(own(at + e) - own(at - e)) / (2 * e.sum()) for e in np.diag(step)])
    hessian = np.zeros((len(free), len(free)))
    for i, e in enumerate(np.diag(step)):
        for j, d in enumerate(np.diag(step)):
            hessian[i, j] = (
                deviance(at + e + d) - deviance(at + e - d) - deviance(at - e + d) + deviance(at - e - d)
            ) / (4 * e.sum() * d.sum())
    try:
        # -2 log-likelihood has twice the information as its curvature.
        inverse = np.linalg.inv(hessian / 2)
    except np.linalg.LinAlgError:
        return 1.0
    variance = float(slope @ inverse @ slope)
    if variance <= 0:
        return 1e6
    return float(max(1.0, 2 * own(at) ** 2 / variance))


def _profile(model: _Model, sds: FloatArray, least: float, k: int) -> tuple[float, float]:
    """Between which values the profile of -2 times the restricted likelihood stays within the 95 % point."""
    limit = float(chi2.ppf(CONFIDENCE, 1))

    def over(value: float) -> float:
        return model.fitted({k: value}, sds)[1] - least - limit

    best = float(sds[k])
    scale = model.scales[k]
    low = 0.0
    if over(0.0) > 0:
        low = float(brentq(over, 0.0, best, xtol=3e-3 * scale, rtol=3e-3))
    high = max(best, 0.1 * scale)
    for _ in range(40):
        high *= 1.5
        if over(high) > 0:
            break
    else:
        return low, inf
    return low, float(brentq(over, max(best, 1e-9), high, xtol=3e-3 * scale, rtol=3e-3))


def _outliers(observed: Sequence[_Observed]) -> list[Outlier]:
    """Each test against what all others say: its distance from their forecast, against an F distribution.

    Its second degrees of freedom are the other tests of its kind less three, what they are spent on (a bias and two
    spreads); Bonferroni over all tests.
    """
    found = []
    for n, test in enumerate(observed):
        others = [*observed[:n], *observed[n + 1 :]]
        alike = sum(other.parts.keys() == test.parts.keys() for other in others)
        if alike < 4:
            continue
        model = _Model(others)
        if set(np.flatnonzero(np.abs(test.bias).max(axis=0) > 1e-6)) - set(model.columns):
            continue
        sds, _ = model.fitted()
        _, b, spread = model.solve(sds)
        x = test.bias[:, model.columns]
        variance = np.diag(test.reading) + x @ spread @ x.T
        for sd, name in zip(sds, model.names, strict=True):
            if name in test.parts:
                variance += sd * sd * test.parts[name] @ test.parts[name].T
            elif name.startswith("day."):
                slope = test.bias[:, BIASES.index(name.removeprefix("day."))]
                variance += sd * sd * np.outer(slope, slope)
        rest = test.y - x @ b
        distance = float(rest @ np.linalg.solve(variance, rest)) / len(rest)
        if f.sf(distance, len(rest), alike - 3) < 0.05 / len(observed):
            word = test.words[int(np.argmax(np.abs(rest) / np.sqrt(np.diag(variance))))]
            found.append(Outlier(test.line, f"its {word} is far from what the other tests say"))
    return found


def _unknown(estimates: Sequence[Estimate], dates: int) -> list[str]:
    there = {estimate.name for estimate in estimates}
    said = []
    if "straight.stop" not in there:
        said.append("no straight tests: nothing is known of straights")
    if "turn.stop" not in there:
        said.append("no turn tests: nothing is known of turns")
    if dates < 2 and estimates:
        said.append("tests of one day only: what differs from day to day is in none of these numbers")
    for one, other, how in (
        ("straight.stop", "straight.distance", "drive straights of quite different lengths"),
        ("turn.stop", "turn.slip", "make turns of quite different angles"),
    ):
        pair = [estimate for estimate in estimates if estimate.name in (one, other)]
        if len(pair) == 2 and all(estimate.low == 0 for estimate in pair):
            names = " and ".join(f"'{name.replace('.', ': ')}'" for name in (one, other))
            said.append(f"{names} cannot be told apart by these tests: {how}")
    return said


def _placing(tests: Sequence[PlacingTest]) -> list[Estimate]:
    """Spreads of placing in each jig: plain standard deviations with their chi-square interval, less the reading's."""
    found = []
    for jig in sorted({test.jig or "by eye" for test in tests}):
        mine = [test for test in tests if (test.jig or "by eye") == jig]
        for part in ("along", "across", "heading"):
            values = np.array([v for test in mine if (v := getattr(test, part)) is not None], dtype=float)
            if len(values) < 2:
                continue
            n = len(values)
            reading = (ANGLE_STEP if part == "heading" else mine[0].tape) ** 2 / 12
            total = float(values.var(ddof=1))
            ends = [(n - 1) * total / chi2.ppf(q, n - 1) for q in (0.5 + CONFIDENCE / 2, 0.5 - CONFIDENCE / 2)]
            sds = [sqrt(max(0.0, v - reading)) for v in (total, *ends)]
            found.append(Estimate(f"placing {jig}.{part}", sds[0], sds[1], sds[2], n))
    return found
