"""Errors that are the same every time and no share of the way: found where they are, not where they are not.

Robots are known, their tests drawn by the kernel's own slopes and read to the steps of a tape. The long runs of it are
in tests/audit.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from scipy.stats import t as student

from fieldsim.calibration import keeping
from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.believed import believed, values_of
from fieldsim.calibration.estimate import Estimate, Fit
from fieldsim.calibration.fit import fit
from fieldsim.calibration.observed import BIASES, DrivenTest, Observed, observed
from fieldsim.calibration.posterior import USUAL, Likelihood, posterior, prior_of
from fieldsim.calibration.typed import typed
from fieldsim.files import load_robot
from fieldsim.model import Accuracy, Bias, value_of
from fieldsim.model.measured import Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.report.words.fit import fit_text

BOX = load_robot(Path("runs/bakery/box-one.yaml"))
STEERED = replace(BOX, drive=replace(BOX.drive, heading_from="gyro"))
PLAIN = {
    "bias.distance": 0.004, "bias.veer": 0.3, "bias.turn": 0.01, "straight.stop": 0.8, "straight.distance": 1.5,
    "straight.veer": 0.4, "turn.stop": 0.5, "turn.slip": 0.6,
}  # fmt: skip
LATE = {**PLAIN, "bias.stop": 4.0, "bias.turn_stop": 2.0}
SIDES = {**PLAIN, "bias.turn": 0.0, "bias.turn_left": 0.02, "bias.turn_right": -0.01}
GYRO = {
    "bias.distance": 0.004, "straight.stop": 0.8, "straight.distance": 1.5, "turn.stop": 0.5, "gyro.drift": 0.5,
    "gyro.scale": 0.002, "gyro.hold": 0.3,
}  # fmt: skip


def straights(*lengths: float) -> list[DrivenTest]:
    return [StraightTest(line=n + 2, commanded=x, travel=x, sideways=0.0) for n, x in enumerate(lengths)]


def turns(*angles: float) -> list[DrivenTest]:
    return [TurnTest(line=n + 2, commanded=x, angle_read=x) for n, x in enumerate(angles)]


WHOLE = [*straights(*[300.0] * 7, *[1000.0] * 7), *turns(*[90.0] * 6, *[-90.0] * 6, *[360.0] * 6)]


def seen(tests: list[DrivenTest], by: Literal["wheels", "gyro"] = "wheels") -> list[Observed]:
    return [observed(BOX, replace(test, heading_from=by)) for test in tests]


def driven(
    truth: Mapping[str, float], seed: int, by: Literal["wheels", "gyro"] = "wheels", tests: list[DrivenTest] = WHOLE
) -> list[Observed]:
    """What the true robot makes of tests, read to a mm and half a degree."""
    rng = np.random.default_rng(seed)
    made = []
    for each in seen(tests, by):
        y = each.bias @ [truth.get(f"bias.{k}", 0.0) for k in BIASES]
        for name, part in each.parts.items():
            y = y + truth.get(name, 0.0) * (part @ rng.standard_normal(part.shape[1]))
        step = np.sqrt(12 * each.reading)
        made.append(replace(each, y=np.round(y / step) * step))
    return made


def sheet_of(truth: Mapping[str, float], seed: int, by: Literal["wheels", "gyro"] = "wheels") -> Sheet:
    """The same as a sheet."""
    tests: list[DrivenTest] = []
    for test, each in zip(WHOLE, driven(truth, seed, by), strict=True):
        if isinstance(test, StraightTest):
            ends = {"travel": test.commanded + each.y[0], "sideways": each.y[1]}
            tests.append(replace(test, line=len(tests) + 2, heading_from=by, **ends))
        elif isinstance(test, TurnTest):
            angle = test.commanded + each.y[0]
            tests.append(replace(test, line=len(tests) + 2, heading_from=by, angle_read=angle))
    return Sheet(tuple(tests))


# --- what can be told ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tests", "told"),
    [
        (straights(300, 300, 1000), ("stop",)),
        (straights(300, 300, -300), ()),
        (turns(90, 90, 360), ("turn_stop",)),
        (turns(90, -90, 90), ("sides",)),
        (turns(90, -90, 360), ("turn_stop", "sides")),
        (turns(90, 90), ()),
        ([*straights(300, 1000), *turns(90, -90, 360)], ("stop", "turn_stop", "sides")),
        ([SquarePathTest(line=2, side=600.0, direction="cw", return_x=0.0, return_y=0.0)] * 3, ()),
    ],
)
def test_two_lengths_two_angles_both_ways(tests: list[DrivenTest], told: tuple[str, ...]) -> None:
    assert keeping.candidates(seen(tests)) == told


def test_a_gyros_scale_needs_turns_by_gyro() -> None:
    assert keeping.candidates(seen(turns(90, 90), "gyro")) == ("turn_stop",)
    assert keeping.candidates(seen(turns(90, 360), "gyro")) == ("turn_stop", "gyro_scale")
    assert "gyro_scale" not in keeping.candidates(seen(turns(90, -90, 360)))


# --- what is told --------------------------------------------------------------------------------------------------


def test_a_stop_offset_by_hand() -> None:
    """Straights of two lengths, one source of scatter: Student's t of the intercept of a line (any statistics text)."""
    rng = np.random.default_rng(4)
    lengths = np.array([300.0] * 8 + [1000.0] * 8)
    off = (2.0 + 1.5 * rng.standard_normal(16)).round(3)
    tests: list[DrivenTest] = [
        StraightTest(line=2, commanded=x, travel=x + e, tape=0.001) for x, e in zip(lengths, off, strict=True)
    ]
    model = assembled([observed(BOX, test) for test in tests], extras=("stop",))
    # Measured at 200 mm/s and driven at 250: what is told is of 200.
    x = np.column_stack([lengths, np.full(16, 1.25)])
    b, rest, *_ = np.linalg.lstsq(x, off, rcond=None)
    error = np.sqrt(rest[0] / 14 * np.linalg.inv(x.T @ x)[1, 1])
    assert model.reml.solve(np.array([1.5, 0.0]))[1] == pytest.approx(b, rel=1e-6)
    chance = keeping.chances_of_nought(model, ("stop",))["stop"]
    # Two sources may share the scatter out, which moves it a little.
    assert chance == pytest.approx(2 * student.sf(abs(b[1]) / error, 14), rel=0.6)


@pytest.mark.parametrize(
    ("truth", "by", "names"),
    [
        (LATE, "wheels", ("bias.stop", "bias.turn_stop")),
        (SIDES, "wheels", ("bias.turn_left", "bias.turn_right")),
        ({**GYRO, "bias.gyro_scale": 0.01}, "gyro", ("bias.gyro_scale",)),
    ],
)
def test_what_is_there_is_found_with_its_size(
    truth: dict[str, float], by: Literal["wheels", "gyro"], names: tuple[str, ...]
) -> None:
    tests = driven(truth, 2, by)
    extras = keeping.kept(tests, False, keeping.candidates(tests))
    model = assembled(tests, extras=extras)
    sds, _ = model.reml.fitted()
    _, b, spread = model.reml.solve(sds)
    for name in names:
        place = model.names.index(name)
        assert abs(b[place] - truth[name]) < 3.0 * np.sqrt(spread[place, place]), name


def test_what_is_not_there_is_kept_in_no_more_sheets_than_said() -> None:
    """Of 40 sheets of a robot without any, luck keeps one in 5 %: more than 6 have a chance of 0.003."""
    kept = Counter(keeping.kept(tests, False, keeping.candidates(tests)) for tests in map(_plain, range(40)))
    assert sum(count for extras, count in kept.items() if extras) <= 6


def _plain(seed: int) -> list[Observed]:
    return driven(PLAIN, seed)


# --- what is not told counts as not known --------------------------------------------------------------------------


def test_the_prior_is_of_what_is_no_share_of_the_way() -> None:
    columns = tuple(map(BIASES.index, ("distance", "turn_left", "turn_right", "stop")))
    prior = prior_of(columns)
    assert prior[0] == pytest.approx(np.zeros(4))
    assert prior[3, 3] == pytest.approx(1 / USUAL["stop"] ** 2)
    # Both ways alike cost nothing, half a difference of the usual size one half.
    for half, cost in ((0.0, 0.0), (USUAL["sides"], 1.0)):
        b = np.array([0.0, 0.02 + half, 0.02 - half, 0.0])
        assert b @ prior @ b == pytest.approx(cost)


def test_left_and_right_told_apart_are_the_same_likelihood() -> None:
    """Where both ways turn alike, the value is that of one number for both, but for the one more that is spent; with
    days, which move both together."""
    tests = [replace(each, date=datetime.date(2026, 11, 1 + n % 3)) for n, each in enumerate(driven(PLAIN, 1))]
    model = assembled(tests, extras=("sides",))
    names = model.reml.names
    assert "day.turn" in names
    sds = np.array([{"day.turn": 0.01}.get(name, 0.5) for name in names])
    likelihood = Likelihood(tests, names, model.columns)
    likelihood.prior = np.zeros_like(likelihood.prior)
    value, b, spread = likelihood(sds[None])
    other, slow, covariance = model.reml.solve(sds)
    assert b[0] == pytest.approx(slow, rel=1e-6)
    assert spread[0] == pytest.approx(covariance, rel=1e-6)
    changed = sds * 1.3
    assert likelihood(changed[None])[0][0] - value[0] == pytest.approx(model.reml.solve(changed)[0] - other, rel=1e-6)


def test_robots_that_fit_may_have_what_is_not_told() -> None:
    tests = driven(PLAIN, 3)
    model = assembled(tests, extras=("stop",))
    sds, _ = model.reml.fitted()
    found = posterior(Likelihood(tests, model.reml.names, model.columns), sds)
    column = found.values[:, found.names.index("bias.stop")]
    middle = float(found.weights @ column)
    scatter = float(np.sqrt(found.weights @ (column - middle) ** 2))
    assert 0.2 < scatter < USUAL["stop"]


# --- told, written and used ----------------------------------------------------------------------------------------


def told(**bias: float) -> list[Estimate]:
    return [Estimate(f"bias.{name}", value, value - 0.001, value + 0.001, 9) for name, value in bias.items()]


def test_what_to_type_by_hand() -> None:
    """(90 - 1)/1.0034 = 88.7; a robot that drives and turns what is typed does what is wanted."""
    numbers = typed(told(distance=0.01, stop=3.0, turn_left=0.0034, turn_right=-0.0152, turn_stop=1.0), gyro=False)
    assert [(each.kind, each.wanted, round(each.type, 1)) for each in numbers] == [
        ("straight", 300.0, 294.1), ("straight", 1000.0, 987.1), ("turn", 90.0, 88.7), ("turn", -90.0, -90.4),
    ]  # fmt: skip
    assert [round(each.type, 2) for each in typed(told(turn=0.01, gyro_scale=0.02), gyro=True)] == [91.8, -91.8]
    assert typed([Estimate("bias.distance", 0.01, -np.inf, np.inf, 1)], gyro=False) == ()


@pytest.fixture(scope="module")
def sides() -> Fit:
    return fit(BOX, sheet_of(SIDES, 2))


def test_left_and_right_are_told_apart_in_words(sides: Fit) -> None:
    assert sides.extras == ("sides",)
    text = " ".join(fit_text(sides, "Box", "tests.csv").split())
    assert "too far to the left" in text
    assert "bias: turn left" in text
    left, right = (each.type for each in sides.typed if each.kind == "turn")
    assert f"Turns: type {left:.1f} for 90 left, {-right:.1f} for 90 right." in text
    assert left < 89.5 < 90.2 < -right


def test_the_block_has_them_and_a_later_sheet_takes_them_out(sides: Fit) -> None:
    accuracy = believed(Accuracy(bias=Bias(stop=2.0)), sides)
    assert accuracy.bias.left > 0.01 > 0.0 > accuracy.bias.right
    assert accuracy.bias.turn == pytest.approx(accuracy.bias.middle)
    # The tests could have told an offset, and did not: what the file had is not believed any more.
    assert accuracy.bias.stop == 0.0
    assert accuracy.between is not None
    assert accuracy.between.bias.turn_left is not None
    assert accuracy.between.bias.turn is None
    assert accuracy.between.bias.stop is not None
    alike = Fit(
        estimates=tuple(told(turn=0.012)), perhaps=(), extras=(), typed=(), together=(), robots=(), tape=None,
        placed=(), drops=sides.drops, squares=(), squared=None, outliers=(), tests=9, driven=9, dates=1,
        unknown=(),
    )  # fmt: skip
    assert values_of(accuracy, alike)["bias.turn_left"] == 0.012
    later = believed(accuracy, alike)
    assert (value_of(later, "bias.turn_left"), later.bias.right) == (0.012, 0.012)
    assert later.between is not None
    assert later.between.bias.turn_left is None
