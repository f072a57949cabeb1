"""Accuracy from tape-measured tests: closed forms, a library's answer, known robots found again. Data invented."""

from __future__ import annotations

import datetime
from collections import Counter
from dataclasses import replace
from math import inf, radians, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from plans import PERFECT, robot, run
from scipy.optimize import minimize
from scipy.stats import chi2, t

from fieldsim.fit import Fit, _Model, _observed, _slopes, fit
from fieldsim.fit_words import file_values, fit_json, fit_text
from fieldsim.measured import PlacingTest, SquarePathTest, StraightTest, TurnTest
from fieldsim.model import Accuracy, Straight, StraightNoise, Systematic, Turn, TurnNoise
from fieldsim.trials import simulate

ROBOT = robot(PERFECT)
TRUE = Accuracy(bias=Systematic(0.004, 0.3, 0.01), straight=StraightNoise(0.8, 1.5, 0.4), turn=TurnNoise(0.5, 0.6))
TRUTH = {
    "bias.distance": 0.004, "bias.veer": 0.3, "bias.turn": 0.01, "straight.stop": 0.8, "straight.distance": 1.5,
    "straight.veer": 0.4, "turn.stop": 0.5, "turn.slip": 0.6,
}  # fmt: skip


def sheet(*tests: object) -> SimpleNamespace:
    return SimpleNamespace(tests=tests)


def turn_tests(angles: list[float], commanded: float = 90.0) -> list[TurnTest]:
    return [TurnTest(line=n + 2, commanded=commanded, angle_read=angle) for n, angle in enumerate(angles)]


def found(answer: Fit, name: str) -> tuple[float, float, float]:
    (each,) = (each for each in answer.estimates if each.name == name)
    return each.value, each.low, each.high


# --- the slopes are the model's ------------------------------------------------------------------------------------


def test_slopes_of_a_straight_by_hand() -> None:
    """A straight of L: travel L a share of distance, L^2/2 sideways for a veer per mm; heading L. Stop 1 mm along; the
    walks k sqrt(L) in heading, k sqrt(L^3/3) sideways with correlation sqrt(3)/2 (see drivetrain)."""
    length = 800.0
    perfect, bias, parts = _slopes(ROBOT, [Straight(length)])
    assert perfect == pytest.approx([length, 0.0, 0.0], abs=1e-9)
    assert bias[0] == pytest.approx([length, 0.0, 0.0], abs=1e-5)
    # Veer in degrees per metre: 0.8 degrees of heading for 1, and L^2/2 of it in radians per mm sideways.
    assert bias[2, 1] == pytest.approx(0.8, abs=1e-9)
    assert bias[1, 1] == pytest.approx(length**2 / 2 * radians(1) / 1000, rel=1e-6)
    # Stop errors grow with the speed: the robot drives at its own 200 mm/s, the speed they are told at.
    assert parts["straight.stop"] @ parts["straight.stop"].T == pytest.approx(np.diag([1.0, 0.0, 0.0]), abs=1e-9)
    walk = parts["straight.distance"] @ parts["straight.distance"].T
    assert walk[0, 0] == pytest.approx(length / 1000)
    veer = parts["straight.veer"] @ parts["straight.veer"].T
    k = radians(1) / sqrt(1000)
    assert veer[2, 2] == pytest.approx(length / 1000, rel=1e-6)
    assert veer[1, 1] == pytest.approx(k**2 * length**3 / 3, rel=1e-5)
    assert veer[1, 2] / sqrt(veer[1, 1] * veer[2, 2]) == pytest.approx(sqrt(3) / 2, abs=1e-6)


def test_slopes_of_a_square_path_are_the_published_ones() -> None:
    """The two-direction square: a turn that is too small by alpha ends ccw at (-2 L alpha, +2 L alpha), cw at
    (-2 L alpha, -2 L alpha); a veer of beta a side ccw at (+2 L beta, -2 L beta), cw at (-2 L beta, -2 L beta).

    Source: J. Borenstein and L. Feng, "Measurement and correction of systematic odometry errors in mobile robots", IEEE
    Transactions on Robotics and Automation 12, 1996, 869-880 (equations second-hand).
    """
    side = 1000.0
    for direction, sign in (("ccw", 1.0), ("cw", -1.0)):
        turns = [Turn(90.0 * sign)] * 4
        segments = [segment for turn in turns for segment in (Straight(side), turn)]
        _, bias, _ = _slopes(ROBOT, segments)
        # A share too far in each quarter turn is -alpha = share 90 degrees.
        alpha = -radians(90)
        assert bias[:2, 2] == pytest.approx([-2 * side * alpha, sign * 2 * side * alpha], rel=1e-3), direction
        # One degree per metre on a side of a metre.
        beta = radians(1)
        assert bias[:2, 1] == pytest.approx([sign * 2 * side * beta, -2 * side * beta], rel=1e-3), direction


# --- where a textbook has the answer -------------------------------------------------------------------------------


def test_turns_of_one_size_are_the_mean_and_its_t_interval() -> None:
    """One source: the mean and n - 1 (any statistics text). The protractor's rounding, 0.5^2/12, is part of s^2."""
    angles = [90.9, 91.4, 90.2, 91.8, 90.6, 91.1, 90.0, 91.6]
    answer = fit(ROBOT, sheet(*turn_tests(angles)))
    shares = np.array(angles) / 90 - 1
    n = len(angles)
    half = t.ppf(0.975, n - 1) * shares.std(ddof=1) / sqrt(n)
    value, low, high = found(answer, "bias.turn")
    assert value == pytest.approx(shares.mean(), abs=1e-7)
    assert (low, high) == pytest.approx((shares.mean() - half, shares.mean() + half), rel=0.02)
    # Both sources of a turn of 90 degrees look the same: together they make s^2 less the reading's.
    stop, slip = (found(answer, name)[0] for name in ("turn.stop", "turn.slip"))
    assert stop**2 + slip**2 == pytest.approx(np.var(angles, ddof=1) - 0.25 / 12, rel=1e-3)
    assert any("cannot be told apart" in words for words in answer.unknown)


def test_the_spread_of_one_source_against_chi_square() -> None:
    """Profile of the restricted likelihood against the exact interval (n - 1) s^2/chi^2, for 30 tests."""
    rng = np.random.default_rng(5)
    lengths = (500.0 + 2.0 * rng.standard_normal(30)).round(3)
    tests = [StraightTest(line=n + 2, commanded=500.0, travel=float(x), tape=0.01) for n, x in enumerate(lengths)]
    model = _Model([_observed(ROBOT, test) for test in tests])
    # Stop and distance look the same for one length: leave one.
    model.names, model.covariances = ["straight.stop"], {"straight.stop": model.covariances["straight.stop"]}
    model.scales = [model.scale(0)]
    from fieldsim.fit import _profile

    sds, least = model.fitted()
    low, high = _profile(model, sds, least, 0)
    s2 = lengths.var(ddof=1)
    assert sds[0] == pytest.approx(sqrt(s2), rel=1e-3)
    exact = [sqrt(29 * s2 / chi2.ppf(q, 29)) for q in (0.975, 0.025)]
    assert (low, high) == pytest.approx(exact, rel=0.03)


def test_the_slope_of_the_likelihood_against_differences() -> None:
    model = _Model([_observed(ROBOT, test) for test in known(3).tests])
    sds = np.array([0.7, 1.2, 0.5, 0.4, 0.6])
    value, slopes = model.slope(sds)
    assert value == pytest.approx(model.solve(sds)[0])
    for k, step in enumerate(1e-5 * np.eye(5)):
        difference = (model.solve(sds + step)[0] - model.solve(sds - step)[0]) / 2e-5
        assert slopes[k] == pytest.approx(difference, rel=1e-4, abs=1e-5)


def test_no_other_way_down_finds_a_larger_likelihood() -> None:
    """Against a search without slopes from many starts (scipy's Nelder-Mead)."""
    model = _Model([_observed(ROBOT, test) for test in known(4).tests])
    _, least = model.fitted()
    rng = np.random.default_rng(1)
    for _ in range(4):
        other = minimize(lambda u: model.solve(np.abs(u))[0], rng.uniform(0.1, 2, 5), method="Nelder-Mead")
        assert least <= other.fun + 1e-3


# --- known robots --------------------------------------------------------------------------------------------------


def known(seed: int, accuracy: Accuracy = TRUE, dates: int = 0) -> SimpleNamespace:
    """14 tests of a robot that is known: six straights, eight turns, read to 1 mm and half a degree."""
    rng = np.random.default_rng(seed)
    tests: list[object] = []
    for day in range(max(dates, 1)):
        today = accuracy
        if dates:
            b, d = accuracy.bias, accuracy.day
            z = rng.standard_normal(3)
            drawn = Systematic(b.distance + d.distance * z[0], b.veer + d.veer * z[1], b.turn + d.turn * z[2])
            today = replace(accuracy, bias=drawn, day=Systematic())
        date = datetime.date(2026, 11, 1 + day) if dates else None
        for length in (300.0,) * 3 + (1200.0,) * 3:
            seed_ = int(rng.integers(1 << 40))
            x, y, _ = simulate(run(Straight(length), accuracy=today), 1, seed_).poses[0, -1]
            tests.append(
                StraightTest(
                    line=len(tests) + 2, date=date, commanded=length, travel=float(round(x - 2000)),
                    sideways=float(round(y - 2000)),
                )
            )  # fmt: skip
        for angle in (90.0,) * 4 + (360.0,) * 4:
            heading = simulate(run(Turn(angle), accuracy=today), 1, int(rng.integers(1 << 40))).poses[0, -1, 2]
            read = float(round(heading * 2) / 2)
            tests.append(TurnTest(line=len(tests) + 2, date=date, commanded=angle, angle_read=read))
    return sheet(*tests)


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    """40 sheets of 14 tests each: 95 % intervals, so fewer than 33 of 40 has a chance of 0.0004 for each number."""
    hits: Counter[str] = Counter()
    means: dict[str, list[float]] = {}
    for seed in range(40):
        for each in fit(ROBOT, known(seed)).estimates:
            hits[each.name] += each.low <= TRUTH[each.name] <= each.high
            means.setdefault(each.name, []).append(each.value)
    assert hits.keys() == TRUTH.keys()
    for name, count in hits.items():
        assert count >= 33, name
    for name in ("bias.distance", "bias.veer", "bias.turn"):
        assert np.mean(means[name]) == pytest.approx(TRUTH[name], abs=4 * np.std(means[name]) / sqrt(40))


def test_what_differs_from_day_to_day_is_seen_only_over_days() -> None:
    accuracy = replace(TRUE, day=Systematic(0.01, 1.0, 0.03))
    answer = fit(ROBOT, known(8, accuracy, dates=5))
    assert answer.dates == 5
    for name, truth in (("day.distance", 0.01), ("day.veer", 1.0), ("day.turn", 0.03)):
        value, low, high = found(answer, name)
        assert 0 < low <= truth <= high
        assert low < value < high
    one = fit(ROBOT, known(8, accuracy, dates=1))
    assert not any(each.name.startswith("day.") for each in one.estimates)
    assert any("one day only" in words for words in one.unknown)


def test_a_robot_with_no_noise_has_none() -> None:
    exact = sheet(
        *(StraightTest(line=n + 2, commanded=x, travel=x * 1.01) for n, x in enumerate((400.0, 800.0, 1000.0)))
    )
    answer = fit(ROBOT, exact)
    assert found(answer, "bias.distance")[0] == pytest.approx(0.01, abs=1e-6)
    assert found(answer, "straight.stop")[:2] == (0.0, 0.0)
    assert not any(each.name in ("bias.turn", "turn.stop") for each in answer.estimates)
    assert any("no turn tests" in words for words in answer.unknown)


def test_square_paths_tell_of_turns_and_veer() -> None:
    """Returns of a robot that turns 2 % too far and veers 0.5 degrees a metre, without noise, of both directions.

    The formulas are linear, the path is not: the truth is met to a twentieth of it.
    """
    tests = []
    accuracy = Accuracy(bias=Systematic(0.0, 0.5, 0.02))
    for n, (direction, corner) in enumerate((("ccw", 90.0), ("cw", -90.0)) * 2):
        segments = [segment for _ in range(4) for segment in (Straight(800), Turn(corner))]
        x, y, _ = simulate(run(*segments, accuracy=accuracy), 1).poses[0, -1]
        tests.append(
            SquarePathTest(
                line=n + 2, side=800.0, direction=direction, return_x=float(x - 2000), return_y=float(y - 2000)  # type: ignore[arg-type]
            )
        )  # fmt: skip
    answer = fit(ROBOT, sheet(*tests))
    assert found(answer, "bias.veer")[0] == pytest.approx(0.5, rel=0.1)
    assert found(answer, "bias.turn")[0] == pytest.approx(0.02, rel=0.1)


def test_a_slip_of_the_pen_is_named_by_its_line_and_not_dropped() -> None:
    tests = list(known(2).tests)
    tests[4] = replace(tests[4], travel=tests[4].travel + 100.0)
    answer = fit(ROBOT, sheet(*tests))
    assert [(outlier.line, "travel" in outlier.why) for outlier in answer.outliers] == [(6, True)]
    assert answer.tests == 14
    clean = [len(fit(ROBOT, known(seed)).outliers) for seed in range(8)]
    # 1 sheet in 20 names one by luck alone: more than 2 of 8 has a chance of 0.006.
    assert sum(count > 0 for count in clean) <= 2


def test_placing_is_told_by_jig() -> None:
    """Plain standard deviations with their chi-square interval, less the tape's r^2/12."""
    across = [0.0, 1.0, -1.0, 2.0, 0.0, -2.0]
    tests = [PlacingTest(line=n + 2, along=0.0, across=v, jig="corner block") for n, v in enumerate(across)]
    value, low, high = found(fit(ROBOT, sheet(*tests)), "placing corner block.across")
    s2 = np.var(across, ddof=1)
    assert value == pytest.approx(sqrt(s2 - 1 / 12))
    assert (low, high) == pytest.approx([sqrt(5 * s2 / chi2.ppf(q, 5) - 1 / 12) for q in (0.975, 0.025)])


def test_nothing_measured_says_nothing() -> None:
    answer = fit(ROBOT, sheet())
    assert (answer.estimates, answer.tests) == ((), 0)
    assert "nothing: the sheet has no test" in fit_text(answer, "Box", "tests.csv")


# --- words, JSON, values for the file ------------------------------------------------------------------------------


def test_the_answer_in_every_form() -> None:
    answer = fit(ROBOT, known(1))
    said = fit_json(answer)
    assert said["accuracy"]["bias"]["turn"].keys() == {"value", "low", "high"}
    assert (said["command"], said["tests"], said["outliers"]) == ("fit", 14, [])
    text = fit_text(answer, "Box test", "tests.csv")
    assert "bias: turn" in text
    assert "degrees per root metre" in text
    values = file_values(answer)
    assert str(values["accuracy", "bias", "distance"]).endswith(" %")
    assert isinstance(values["accuracy", "turn", "stop"], float)
    open_end = replace(answer, estimates=tuple(replace(each, high=inf) for each in answer.estimates))
    assert fit_json(open_end)["accuracy"]["turn"]["slip"]["high"] is None
    assert "not known how much" in fit_text(open_end, "Box test", "tests.csv")
