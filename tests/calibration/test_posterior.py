"""Robots that fit the tests: the likelihood of another module, closed forms, the prior itself. Data invented."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest
from plans import PERFECT, robot
from scipy.stats import norm

from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.believed import believed
from fieldsim.calibration.fit import fit
from fieldsim.calibration.observed import Observed, observed
from fieldsim.calibration.posterior import APART, TYPICAL, WHOLE, Likelihood, Posterior, posterior, summary
from fieldsim.model import LIKELY, MEASURABLE, Accuracy, Between, BiasBetween, Likely, Together
from fieldsim.model.errors import PlanError
from fieldsim.model.measured import Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.studies.unknown import accuracies_at, along

ROBOT = robot(PERFECT)


def driven_on(days: tuple[int | None, ...]) -> list[StraightTest | TurnTest | SquarePathTest]:
    rng = np.random.default_rng(2)
    made: list[StraightTest | TurnTest | SquarePathTest] = []
    for day in days:
        date = None if day is None else datetime.date(2026, 5, day)
        for length in (300.0, 300.0, 1000.0, 1000.0):
            travel, sideways = rng.normal([length, 0.0], [2.0, 5.0]).round()
            made.append(StraightTest(line=2, date=date, commanded=length, travel=travel, sideways=sideways))
        for angle in (90.0, 90.0, 360.0):
            read = round(rng.normal(angle, 1.0) * 2) / 2
            made.append(TurnTest(line=2, date=date, commanded=angle, angle_read=read))
        x, y = rng.normal(0.0, 10.0, 2).round()
        made.append(SquarePathTest(line=2, date=date, side=600.0, direction="cw", return_x=x, return_y=y))
    return made


def seen(days: tuple[int | None, ...]) -> list[Observed]:
    return [observed(ROBOT, test) for test in driven_on(days)]


@pytest.mark.parametrize("days", [(1,), (1, 2, 3), (1, 2, None)], ids=["one day", "three days", "some without a date"])
def test_the_likelihood_is_that_of_reml(days: tuple[int | None, ...]) -> None:
    """Counted by kinds and days against whole matrices: values, biases and their covariance."""
    tests = seen(days)
    model = assembled(tests, tape=True)
    likelihood = Likelihood(tests, model.reml.names, model.columns)
    many = np.exp(np.random.default_rng(3).normal(np.log(model.reml.scales), 1.0, (20, len(model.reml.names))))
    many[0, 0] = 0.0
    value, b, covariance = likelihood(many)
    for n, sds in enumerate(many):
        wanted = model.reml.solve(sds)
        assert value[n] == pytest.approx(wanted[0], rel=1e-9)
        assert b[n] == pytest.approx(wanted[1], rel=1e-6, abs=1e-12)
        assert covariance[n] == pytest.approx(wanted[2], rel=1e-6, abs=1e-15)


def test_tests_that_see_nothing_leave_the_prior() -> None:
    """Read to the nearest kilometre they tell nothing of a scatter: log normal, with the variance of both factors."""
    tests = [replace(test, reading=np.full(len(test.y), 1e12)) for test in seen((1,))]
    names = ("straight.stop", "straight.veer", "turn.stop")
    found = posterior(Likelihood(tests, names, (0, 1, 2)), np.ones(3))
    at, together = summary(found, names)
    for row, name in zip(at, names, strict=True):
        wanted = np.log(TYPICAL[name]) + norm.ppf(LIKELY) * np.hypot(APART, WHOLE)
        assert np.log(row) == pytest.approx(wanted, abs=0.35)
    assert together[0, 1] == pytest.approx(WHOLE**2 / (APART**2 + WHOLE**2), abs=0.05)


def test_many_turns_leave_what_a_textbook_says() -> None:
    """120 turns of 90 degrees, one source: the mean and its normal interval, s and s/sqrt(2 n)."""
    rng = np.random.default_rng(4)
    angles = 90.5 + 1.2 * rng.standard_normal(120)
    tests = [observed(ROBOT, TurnTest(line=2, commanded=90.0, angle_read=float(a), protractor=0.01)) for a in angles]
    found = posterior(Likelihood(tests, ("turn.stop",), (2,)), np.ones(1))
    (turn, stop), together = summary(found, ("bias.turn", "turn.stop"))
    shares = angles / 90 - 1
    error = shares.std(ddof=1) / np.sqrt(120)
    assert turn == pytest.approx(shares.mean() + norm.ppf(LIKELY) * error, abs=0.15 * error)
    s = angles.std(ddof=1)
    assert stop == pytest.approx(s + norm.ppf(LIKELY) * s / np.sqrt(240), rel=0.02)
    assert abs(together[0, 1]) < 0.1
    assert found.effective > 500


def test_what_cannot_be_told_apart_goes_together() -> None:
    """Turns of one angle tell the sum of two variances: where one is large the other is small. Both together lie within
    narrower ends than each."""
    rng = np.random.default_rng(5)
    angles = 90.0 + 1.2 * rng.standard_normal(30)
    tests = [observed(ROBOT, TurnTest(line=2, commanded=90.0, angle_read=float(a), protractor=0.01)) for a in angles]
    found = posterior(Likelihood(tests, ("turn.stop", "turn.slip"), (2,)), np.ones(2))
    _, together = summary(found, ("turn.stop", "turn.slip"))
    assert together[0, 1] < -0.5
    whole = np.hypot(found.values[:, 1], found.values[:, 2])
    low, high = np.interp([0.025, 0.975], np.cumsum(found.weights[order := np.argsort(whole)]), whole[order])
    assert high / low < 2
    assert found.weights @ whole == pytest.approx(angles.std(ddof=1), rel=0.1)


def test_weights_count() -> None:
    values = np.array([[1.0], [2.0], [3.0], [4.0]])
    found = Posterior(("turn.stop",), values, np.array([0.1, 0.1, 0.7, 0.1]))
    (row,), _ = summary(found, ("turn.stop",))
    assert row[2] == pytest.approx(3.0 - 0.05 / 0.4)
    assert found.effective == pytest.approx(1 / 0.52)


def test_no_numbers_no_robots() -> None:
    found = Posterior(("turn.stop",), np.ones((2, 1)), np.full(2, 0.5))
    at, together = summary(found, ())
    assert at.shape == (0, len(LIKELY))
    assert together.shape == (0, 0)


# --- as a file keeps them ------------------------------------------------------------------------------------------


def test_drawn_robots_lie_as_they_are_told() -> None:
    z = norm.ppf(LIKELY)
    told = (-0.02, 0.0, 0.01, 0.015, 0.04)
    assert along(told, z, spread=False) == pytest.approx(told)
    spread = (0.1, 0.3, 0.5, 0.6, 2.0)
    assert along(spread, z, spread=True) == pytest.approx(spread)
    far = along(spread, np.array([-9.0, -3.0, 3.0, 9.0]), spread=True)
    assert (np.diff(far) > 0).all()
    assert far[0] > 0


def test_what_a_fit_tells_is_what_is_drawn() -> None:
    accuracy = believed(Accuracy(), fit(ROBOT, Sheet(tuple(driven_on((1, 2, 3))))))
    assert accuracy.between is not None
    told = [name for name in MEASURABLE if accuracy.between.ends(name) is not None]
    # Turns both ways round are drawn by themselves.
    assert accuracy.between.ends("bias.turn_left") is not None
    told.remove("bias.turn")
    assert [each.of for each in accuracy.between.robots if each.of not in told] == []
    assert {each.of for each in accuracy.between.robots} == set(told)
    (made,) = accuracies_at(accuracy, ["turn.stop"], np.array([[norm.ppf(0.84)]]))
    likely = accuracy.between.likely("turn.stop")
    assert likely is not None
    assert made.turn.stop == pytest.approx(likely.at[3])


def test_earlier_robots_stay_with_numbers_that_are_not_told_anew() -> None:
    first = believed(Accuracy(), fit(ROBOT, Sheet(tuple(driven_on((1,))))))
    turns = tuple(test for test in driven_on((2,)) if isinstance(test, TurnTest))
    then = believed(first, fit(ROBOT, Sheet(turns)))
    assert first.between is not None
    assert then.between is not None
    assert then.between.likely("straight.veer") == first.between.likely("straight.veer")
    assert then.between.likely("turn.stop") != first.between.likely("turn.stop")
    assert len({each.of for each in then.between.robots}) == len(then.between.robots)


@pytest.mark.parametrize(
    "at", [(0.1, 0.2, 0.3), (0.1, 0.3, 0.2, 0.4, 0.5), (-0.1, 0.2, 0.3, 0.4, 0.5), (0.0, 0.2, 0.3, 0.4, 0.5)]
)
def test_numbers_that_no_spread_can_have_are_refused(at: tuple[float, ...]) -> None:
    with pytest.raises(PlanError):
        Likely("turn.stop", at)


def test_a_number_told_twice_is_refused() -> None:
    one = Likely("bias.turn", (-0.01, 0.0, 0.01, 0.02, 0.03))
    with pytest.raises(PlanError, match="twice"):
        Between(tests=3, bias=BiasBetween(turn=(-0.01, 0.03)), robots=(one, one))
    Between(
        tests=3, bias=BiasBetween(turn=(-0.01, 0.03)), robots=(one,), together=(Together("bias.turn", "day.turn", 0.5),)
    )
