"""How often the interval of what the tests leave open holds the truth.

A robot that is known is tested on paper: its tests are drawn, read by tape, and fitted. A run is written with the
numbers that were fitted, as a team would, and the interval of its share is held against how often the true robot gets
through it. Drawn and driven by the model's slopes, so that a sheet takes a fraction of a second: the run is a straight
of 700 mm, a quarter turn and a straight of 500 mm onto a target, its share exact to some thousandths.

    python -m tests.audit.unknown --sheets 200          the table
    python -m tests.audit.unknown --sheets 40 --ways    the ways compared
    python -m tests.audit.unknown --sheets 40 --misfits robots with errors that are the same every time and no share

from the top of the repository. README.md beside this file has the last table.
"""

from __future__ import annotations

import argparse
import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import isfinite, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, qmc
from scipy.stats import t as student

from fieldsim.calibration import keeping
from fieldsim.calibration.assembled import Assembled, assembled
from fieldsim.calibration.believed import robots_that_fit
from fieldsim.calibration.fit import estimates_of
from fieldsim.calibration.observed import BIASES, DAILY, DrivenTest, Observed, observed, slopes
from fieldsim.calibration.posterior import Likelihood, posterior
from fieldsim.files import load_robot
from fieldsim.model import MEASURABLE, Robot, Straight, Turn
from fieldsim.model.measured import SquarePathTest, StraightTest, TurnTest
from fieldsim.studies.unknown import along, interval, quantile

Floats = NDArray[np.float64]
Ends = tuple[float, float]

DEMO = {
    "bias.distance": 0.004, "bias.veer": 0.3, "bias.turn": 0.01, "day.distance": 0.002, "day.veer": 0.2,
    "day.turn": 0.005, "straight.stop": 0.8, "straight.distance": 1.5, "straight.veer": 0.4, "turn.stop": 0.5,
    "turn.slip": 0.6,
}  # fmt: skip
NO_DAYS = {"day.distance": 0.0, "day.veer": 0.0, "day.turn": 0.0}
# Robots whose errors are shared out otherwise than the prior takes for typical.
VEERS = {**DEMO, "straight.veer": 1.2, "straight.stop": 0.3}
TURNS = {**DEMO, "turn.stop": 1.5, "turn.slip": 0.2, "straight.veer": 0.1, "straight.distance": 0.4}
# Errors that are the same every time and no share of the way.
LATE = {**DEMO, "bias.stop": 3.0, "bias.turn_stop": 1.5}
SIDES = {**DEMO, "bias.turn": 0.0, "bias.turn_left": 0.02, "bias.turn_right": -0.01}
STEERED = {
    "bias.distance": 0.004, "day.distance": 0.002, "straight.stop": 0.8, "straight.distance": 1.5, "turn.stop": 0.5,
    "gyro.drift": 0.5, "gyro.scale": 0.002, "gyro.hold": 0.3,
}  # fmt: skip
MISREAD = {**STEERED, "bias.gyro_scale": 0.01}
SLIPS = {**{name: v if name.startswith("bias") else 0.3 * v for name, v in DEMO.items()}, "turn.slip": 2.0}


def noisy(truth: Mapping[str, float], times: float) -> dict[str, float]:
    """The same robot with so many times its scatter."""
    return {name: value if name.startswith("bias.") else times * value for name, value in truth.items()}


def layout(tests: int, days: int) -> list[DrivenTest]:
    """Which tests a sheet of so many has: straights of 300 and 1000 mm, turns of 90 and 360 degrees, and from 36 on
    square paths; on one day, or shared out over some."""

    def straights(short: int, long: int) -> list[DrivenTest]:
        lengths = [300.0] * short + [1000.0] * long
        return [StraightTest(line=2, commanded=x, travel=x, sideways=0.0) for x in lengths]

    def turns(*angles: float) -> list[DrivenTest]:
        return [TurnTest(line=2, commanded=x, angle_read=x) for x in angles]

    def squares(count: int) -> list[DrivenTest]:
        ways = ("cw", "ccw") * count
        return [
            SquarePathTest(line=2, side=600.0, direction=way, return_x=0.0, return_y=0.0)  # type: ignore[arg-type]
            for way in ways[:count]
        ]

    made = {
        6: [*straights(1, 2), *turns(90, 90, 360)],
        12: [*straights(3, 3), *turns(90, 90, -90, 360, 360, -90)],
        36: [*straights(2, 3), *turns(90, 90, -90, 360, 360), *squares(2)] * 3,
        100: [*straights(6, 10), *turns(*[90] * 5, *[-90] * 4, *[360] * 5), *squares(3)] * 3 + straights(0, 1),
    }[tests]
    if days == 1:
        return made
    if tests < 36:
        made = [*made[::2], *made[1::2]]
    day_of = -(-len(made) // days)
    return [replace(test, date=datetime.date(2026, 10, 1 + n // day_of)) for n, test in enumerate(made)]


def read(
    robot: Robot, tests: Sequence[DrivenTest], truth: Mapping[str, float], rng: np.random.Generator
) -> list[Observed]:
    """The tests as the true robot drives them, read to the steps of the tape."""
    days: dict[object, Floats] = {}
    made = []
    for test in tests:
        seen = observed(robot, test)
        day = dict(zip(DAILY, days.setdefault(test.date, rng.standard_normal(3)), strict=True))
        y = seen.bias @ [truth.get(f"bias.{k}", 0.0) + truth.get(f"day.{k}", 0.0) * day.get(k, 0.0) for k in BIASES]
        for name, part in seen.parts.items():
            if name != "tape":
                y = y + truth[name] * (part @ rng.standard_normal(part.shape[1]))
        step = np.sqrt(12 * seen.reading)
        made.append(replace(seen, y=np.round(y / step) * step))
    return made


class Target:
    """The run: how often robots end within ``within`` mm of where one with the biases ``aim`` would end."""

    def __init__(self, robot: Robot, within: float) -> None:
        by = robot.drive.heading_from
        _, bias, parts = slopes(robot, (Straight(700.0), Turn(90.0), Straight(500.0)), by)
        self.within = within
        self.bias = bias[:2]
        self.parts = {name: part[:2] @ part[:2].T for name, part in parts.items()}
        even = qmc.Sobol(2, rng=np.random.default_rng(3)).random(1024)
        self.z = np.asarray(norm.ppf(np.clip(even, 1e-9, 1 - 1e-9)))

    def shares(self, names: Sequence[str], values: Floats, aim: Floats) -> Floats:
        """(n,) of robots with these numbers (n, d)."""
        column = dict(zip(names, values.T, strict=True))
        none = np.zeros(len(values))
        mean = (np.stack([column.get(f"bias.{k}", none) for k in BIASES], axis=1) - aim) @ self.bias.T
        # The start is put down to half a millimetre.
        covariance = np.tile(0.25 * np.eye(2), (len(values), 1, 1))
        for name, part in self.parts.items():
            covariance += column.get(name, none)[:, None, None] ** 2 * part
        for n, k in enumerate(DAILY):
            covariance += column.get(f"day.{k}", none)[:, None, None] ** 2 * np.outer(self.bias[:, n], self.bias[:, n])
        root = np.swapaxes(np.linalg.cholesky(covariance), 1, 2)
        found = np.empty(len(values))
        for a in range(0, len(values), 256):
            ends = mean[a : a + 256, None] + self.z @ root[a : a + 256]
            found[a : a + 256] = ((ends**2).sum(axis=-1) < self.within**2).mean(axis=1)
        return found


class Fitted:
    """A sheet that was fitted, and the run that was written by it."""

    def __init__(
        self, robot: Robot, tests: Sequence[Observed], tape: bool, target: Target, truth: Mapping[str, float]
    ) -> None:
        self.tests, self.tape, self.target = tests, tape, target
        tellable = keeping.candidates(tests)
        self.extras = keeping.kept(tests, tape, tellable)
        self.model: Assembled = assembled(tests, tape, self.extras)
        self.whole = assembled(tests, tape, tellable)
        self.sds, _ = self.model.reml.fitted()
        _, self.b, self.covariance = self.model.reml.solve(self.sds)
        self.aim = np.zeros(len(BIASES))
        self.aim[list(self.model.columns)] = self.b
        self.headline = float(self.shares(self.model.names, np.concatenate([self.b, self.sds])[None])[0])
        self.true = float(self.shares(list(truth), np.array([list(truth.values())]))[0])

    def shares(self, names: Sequence[str], values: Floats) -> Floats:
        return self.target.shares(names, values, self.aim)

    @property
    def names(self) -> list[str]:
        return [name for name in self.model.names if name in MEASURABLE]


def even(count: int, d: int) -> Floats:
    points = qmc.Sobol(d, rng=np.random.default_rng(1)).random(count)
    return np.asarray(norm.ppf(np.clip(points, 1e-6, 1 - 1e-6)))


def as_saved(fitted: Fitted, count: int = 128) -> Ends:
    """As `try` does it: robots by what the file keeps of them."""
    names = [name for name in fitted.whole.names if name in MEASURABLE]
    robots, together = robots_that_fit(fitted.whole, fitted.sds, names)
    matrix = np.eye(len(robots))
    place = {name: n for n, name in enumerate(names)}
    for one, other, r in together:
        matrix[place[one], place[other]] = matrix[place[other], place[one]] = r
    size, ways = np.linalg.eigh(matrix)
    matrix = (ways * np.maximum(size, 1e-9)) @ ways.T
    z = even(count, len(robots)) @ np.linalg.cholesky(matrix).T
    columns = [along(each.at, z[:, n], not each.of.startswith("bias.")) for n, each in enumerate(robots)]
    return _with_headline(fitted, interval(fitted.shares(names, np.array(columns).T)))


def all_together(fitted: Fitted) -> Ends:
    """All weighted robots of the posterior itself, nothing lost in the file."""
    found = posterior(Likelihood(fitted.tests, fitted.model.reml.names, fitted.whole.columns), fitted.sds)
    shares = fitted.shares(found.names, found.values)
    order = np.argsort(shares)
    below = np.cumsum(found.weights[order]) - found.weights[order] / 2
    low, high = np.interp([0.025, 0.975], below, shares[order])
    return _with_headline(fitted, (float(low), float(high)))


def by_ends(fitted: Fitted) -> Ends:
    """Each number drawn by itself from the ends of its own interval, as a normal: how a file without ``robots`` is
    still drawn."""
    found = {each.name: each for each in estimates_of(fitted.tests, fitted.tape) if isfinite(each.high)}
    names = [name for name in fitted.names if name in found]
    z = even(256, len(names))
    columns = [
        quantile(found[n].value, found[n].low, found[n].high, z[:, k], not n.startswith("bias."))
        for k, n in enumerate(names)
    ]
    return interval(fitted.shares(names, np.array(columns).T))


def by_ends_and_t(fitted: Fitted) -> Ends:
    """The same with biases as Student's t with their own degrees of freedom."""
    found = {each.name: each for each in estimates_of(fitted.tests, fitted.tape) if isfinite(each.high)}
    names = [name for name in fitted.names if name in found]
    z = even(256, len(names))
    columns = []
    for k, name in enumerate(names):
        each = found[name]
        if name.startswith("bias."):
            place = fitted.model.names.index(name)
            freedom = fitted.model.reml.freedom(fitted.sds, place)
            drawn = student.ppf(norm.cdf(z[:, k]), freedom) / student.ppf(0.975, freedom)
            columns.append(each.value + (each.high - each.value) * drawn)
        else:
            columns.append(quantile(each.value, each.low, each.high, z[:, k], True))
    return interval(fitted.shares(names, np.array(columns).T))


def bootstrap(fitted: Fitted, sheets: int = 100) -> Ends:
    """Sheets drawn from the robot as fitted and fitted anew: the headline less the error that theirs have."""
    rng = np.random.default_rng(5)
    root = np.linalg.cholesky(fitted.model.reml.covariance(fitted.sds))
    model = fitted.model.reml
    errors = []
    for _ in range(sheets):
        again = type(model)(
            model.x @ fitted.b + root @ rng.standard_normal(len(root)), model.x, model.reading,
            dict(zip(model.names, model.covariances, strict=True)),
        )  # fmt: skip
        sds, _ = again.fitted(start=fitted.sds)
        _, b, _ = again.solve(sds)
        # The true robot is as far from the one as written as that one from this.
        names = fitted.model.names
        shares = fitted.shares(names, np.array([[*(2 * fitted.b - b), *fitted.sds], [*fitted.b, *sds]]))
        errors.append(shares[0] - shares[1])
    low, high = np.clip(fitted.headline + np.quantile(errors, [0.025, 0.975]), 0, 1)
    return float(low), float(high)


def _with_headline(fitted: Fitted, ends: Ends) -> Ends:
    return min(ends[0], fitted.headline), max(ends[1], fitted.headline)


def cell(
    truth: Mapping[str, float], tests: int, days: int, within: float, sheets: int, way: Callable[[Fitted], Ends]
) -> str:
    """One line of the table."""
    robot = load_robot("runs/bakery/box-one.yaml")
    by: Literal["wheels", "gyro"] = "gyro" if "gyro.hold" in truth else "wheels"
    robot = replace(robot, drive=replace(robot.drive, heading_from=by))
    if days == 1:
        truth = {**truth, **NO_DAYS}
    target = Target(robot, within)
    rows = []
    for sheet in range(sheets):
        rng = np.random.default_rng([sheet, tests, days])
        driven = [replace(test, heading_from=by) for test in layout(tests, days)]
        fitted = Fitted(robot, read(robot, driven, truth, rng), tests >= 12, target, truth)
        rows.append((fitted.true, fitted.headline, *way(fitted)))
    true, headline, low, high = np.array(rows).T
    held = float(np.mean((low <= true) & (true <= high)))
    off = sqrt(held * (1 - held) / sheets)
    return (
        f"| {tests} on {days} | {within:g} | {sheets} | {true.mean():.2f} | {100 * held:.1f} ({100 * off:.1f}) "
        f"| {100 * np.mean(true > high):.1f} | {100 * np.mean(true < low):.1f} | {np.mean(high - low):.2f} "
        f"| {100 * np.mean((headline < low) | (headline > high)):.0f} "
        f"| {np.sqrt(np.mean((headline - true) ** 2)):.3f} |"
    )


HEAD = (
    "| tests on days | within mm | sheets | true share | held % (sd) | truth above % | truth below % | width "
    "| headline outside % | headline's error (rms) |\n|---|---|---|---|---|---|---|---|---|---|"
)
CASES = [(f"{times:g} times the scatter", noisy(DEMO, times), 14 * times) for times in (1.0, 0.5, 2.0)]
MISFITS = [
    ("stops 3 mm and 1.5 degrees too late", LATE, 14.0), ("left 2 % too far, right 1 % too short", SIDES, 14.0),
    ("a gyro that reads 1 % too much", MISREAD, 6.0), ("none of these", DEMO, 14.0),
    ("a gyro, none of these", STEERED, 6.0),
]  # fmt: skip
OTHERS = [("veers", VEERS, 14.0), ("turns badly", TURNS, 18.0), ("slips", SLIPS, 12.0)]
LAYOUTS = [(6, 1), (12, 1), (12, 3), (36, 3), (100, 3)]
WAYS = (by_ends, by_ends_and_t, bootstrap, all_together, as_saved)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--sheets", type=int, default=200)
    options.add_argument("--ways", action="store_true", help="compare the ways on two layouts")
    options.add_argument("--misfits", action="store_true", help="errors that are no share of the way")
    chosen = options.parse_args()
    if chosen.misfits:
        for name, truth, within in MISFITS:
            print(f"\n{name}\n\n{HEAD}", flush=True)
            for tests, days in ((12, 3), (36, 3)):
                print(cell(truth, tests, days, within, chosen.sheets, as_saved), flush=True)
        return
    if chosen.ways:
        for way in WAYS:
            print(f"\n{way.__name__}\n\n{HEAD}", flush=True)
            for tests, days in ((6, 1), (12, 3)):
                print(cell(DEMO, tests, days, 14.0, chosen.sheets, way), flush=True)
        return
    for name, truth, within in [*CASES, *OTHERS]:
        print(f"\n{name}\n\n{HEAD}", flush=True)
        for tests, days in LAYOUTS if "scatter" in name else [(6, 1), (36, 3)]:
            sheets = chosen.sheets if truth is CASES[0][1] and tests < 100 else chosen.sheets // 2
            print(cell(truth, tests, days, within, sheets, as_saved), flush=True)


if __name__ == "__main__":
    main()
