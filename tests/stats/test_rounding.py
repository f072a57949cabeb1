"""Readings to whole steps: the correlation of their errors, and what it means for a bias. Data invented."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from plans import PERFECT, robot

from fieldsim.calibration.estimate import Estimate
from fieldsim.calibration.fit import fit
from fieldsim.model.measured import PlacingTest, Sheet, StraightTest
from fieldsim.stats.rounding import correlation

ROBOT = robot(PERFECT)


@pytest.mark.parametrize("sd", [0.05, 0.1, 0.2, 0.3])
def test_the_errors_of_repeated_readings_go_together_as_the_sum_says(sd: float) -> None:
    rng = np.random.default_rng(1)
    true = rng.uniform(0, 3, 400_000)
    one, other = (true + sd * rng.normal(size=true.size) for _ in range(2))
    found = np.corrcoef(np.round(one / 3) * 3 - one, np.round(other / 3) * 3 - other)[0, 1]
    assert correlation(np.array(2 * sd**2), 3.0) == pytest.approx(found, abs=0.01)


def test_the_same_quantity_has_the_same_error_and_far_ones_have_nothing_in_common() -> None:
    assert correlation(np.array([0.0, 0.25, 100.0]), 1.0) == pytest.approx([1.0, 0.0044, 0.0], abs=1e-4)
    assert correlation(np.array([0.0]), 0.0) == 0.0


def distance(*tests: StraightTest) -> Estimate:
    return next(each for each in fit(ROBOT, Sheet(tests)).estimates if each.name == "bias.distance")


def straight(travel: float, tape: float = 1.0, day: int = 1) -> StraightTest:
    return StraightTest(line=2, commanded=1000.0, travel=travel, tape=tape, date=datetime.date(2026, 3, day))


def test_equal_readings_leave_at_least_half_a_step_open() -> None:
    """Six readings of 1004 mm may all be 1003.6 or 1004.4."""
    each = distance(*[straight(1004.0)] * 6)
    assert each.low <= 0.0035
    assert each.high >= 0.0045
    # Two tell far less than six: there is next to nothing to see a scatter by.
    assert distance(*[straight(1004.0)] * 2).high > 0.006


def test_a_coarser_tape_never_tells_more() -> None:
    widths = [distance(*[straight(1000.0, tape)] * 4) for tape in (0.5, 1.0, 2.0, 5.0)]
    found = [each.high - each.low for each in widths]
    assert found == sorted(found)


def test_two_days_that_agree_are_still_but_two_days() -> None:
    """Readings that differ as much within a day as between days: the bias is known no better than two days allow."""
    readings = [1003.0, 1004.0, 1005.0, 1003.0, 1005.0]
    one_day = distance(*(straight(r) for r in readings * 2))
    two = distance(*(straight(r, day=1) for r in readings), *(straight(r, day=2) for r in readings))
    assert two.high - two.low > 3 * (one_day.high - one_day.low)


@pytest.mark.parametrize(("sheets", "least"), [(20, 16), pytest.param(60, 53, marks=pytest.mark.slow)])
@pytest.mark.parametrize(("count", "sd"), [(2, 0.1), (4, 0.1), (4, 0.4), (8, 0.3)])
def test_a_bias_is_held_about_as_often_as_it_says(count: int, sd: float, sheets: int, least: int) -> None:
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(sheets):
        true = 1004 + rng.uniform(-0.5, 0.5)
        each = distance(*(straight(float(np.round(true + sd * rng.normal()))) for _ in range(count)))
        held += each.low <= (true - 1000) / 1000 <= each.high
    # 95 % would be 57 of 60; fewer than 53 by chance in 1 of 30 (16 of 20: 1 of 60). Readings taken as independent hold
    # 66 to 92 %.
    assert held >= least


def test_where_a_robot_stands_on_average_is_no_surer_than_the_tape() -> None:
    tests = [PlacingTest(line=n + 2, jig="corner", along=1.0, across=0.0, heading=None) for n in range(6)]
    (placed,) = fit(ROBOT, Sheet(tests)).placed
    along = next(each for each in placed.off if each.name == "along")
    assert along.low <= 0.5
    assert along.high >= 1.5
