"""Accuracy from tape-measured tests: closed forms, a library's answer, known robots found again. Data invented."""

from __future__ import annotations

import datetime
from collections import Counter
from dataclasses import replace
from math import inf, pi, radians, sqrt

import numpy as np
import pytest
from plans import PERFECT, robot, run
from scipy.optimize import minimize
from scipy.stats import chi2, t

from fieldsim.answers import to_json
from fieldsim.calibration.answer import fit_answer
from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.believed import believed, bounds_of_ends
from fieldsim.calibration.estimate import Fit
from fieldsim.calibration.fit import estimates_of, fit
from fieldsim.calibration.observed import BIASES, observed, slopes
from fieldsim.language import choose
from fieldsim.model import (
    Accuracy,
    GyroNoise,
    Run,
    Straight,
    StraightNoise,
    Systematic,
    Turn,
    TurnNoise,
    value_of,
)
from fieldsim.model.measured import DropTest, PlacingTest, Sheet, SquarePathTest, StraightTest, Test, TurnTest
from fieldsim.report.words.fit import fit_text
from fieldsim.report.words.fit.file_values import file_values
from fieldsim.sim.motion import profile
from fieldsim.sim.trials import simulate
from fieldsim.stats.reml import Reml

ROBOT = robot(PERFECT)
TRUE = Accuracy(bias=Systematic(0.004, 0.3, 0.01), straight=StraightNoise(0.8, 1.5, 0.4), turn=TurnNoise(0.5, 0.6))
TRUTH = {
    "bias.distance": 0.004, "bias.veer": 0.3, "bias.turn": 0.01, "straight.stop": 0.8, "straight.distance": 1.5,
    "straight.veer": 0.4, "turn.stop": 0.5, "turn.slip": 0.6,
}  # fmt: skip


def sheet(*tests: Test) -> Sheet:
    return Sheet(tests)


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
    perfect, bias, parts = slopes(ROBOT, (Straight(length),))
    assert perfect == pytest.approx([length, 0.0, 0.0], abs=1e-9)
    assert dict(zip(BIASES, bias[0], strict=True)) == pytest.approx(
        {**dict.fromkeys(BIASES, 0.0), "distance": length, "stop": 1.0}, abs=1e-5
    )
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
        segments = tuple(segment for turn in turns for segment in (Straight(side), turn))
        _, bias, _ = slopes(ROBOT, segments)
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
    whole = assembled([observed(ROBOT, test) for test in tests]).reml
    # Stop and distance look the same for one length: leave one.
    stop = whole.names.index("straight.stop")
    model = Reml(whole.y, whole.x, whole.reading, {"straight.stop": whole.covariances[stop]})
    sds, least = model.fitted()
    low, high = model.profile(sds, least, 0, 0.95)
    s2 = lengths.var(ddof=1)
    assert sds[0] == pytest.approx(sqrt(s2), rel=1e-3)
    exact = [sqrt(29 * s2 / chi2.ppf(q, 29)) for q in (0.975, 0.025)]
    assert (low, high) == pytest.approx(exact, rel=0.03)


def test_the_slope_of_the_likelihood_against_differences() -> None:
    model = assembled([observed(ROBOT, test) for test in known(3).tests]).reml
    sds = np.array([0.7, 1.2, 0.5, 0.4, 0.6])
    value, slopes = model.slope(sds)
    assert value == pytest.approx(model.solve(sds)[0])
    for k, step in enumerate(1e-5 * np.eye(5)):
        difference = (model.solve(sds + step)[0] - model.solve(sds - step)[0]) / 2e-5
        assert slopes[k] == pytest.approx(difference, rel=1e-4, abs=1e-5)


def test_no_other_way_down_finds_a_larger_likelihood() -> None:
    """Against a search without slopes from many starts (scipy's Nelder-Mead)."""
    model = assembled([observed(ROBOT, test) for test in known(4).tests]).reml
    _, least = model.fitted()
    rng = np.random.default_rng(1)
    for _ in range(4):
        other = minimize(lambda u: model.solve(np.abs(u))[0], rng.uniform(0.1, 2, 5), method="Nelder-Mead")
        assert least <= other.fun + 1e-3


# --- known robots --------------------------------------------------------------------------------------------------


def known(seed: int, accuracy: Accuracy = TRUE, dates: int = 0) -> Sheet:
    """14 tests of a robot that is known: six straights, eight turns, read to 1 mm and half a degree."""
    rng = np.random.default_rng(seed)
    tests: list[Test] = []
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


@pytest.mark.parametrize(("sheets", "least"), [(8, 5), pytest.param(200, 180, marks=pytest.mark.slow)])
def test_intervals_hold_the_truth_about_as_often_as_they_say(sheets: int, least: int) -> None:
    """Sheets of 14 tests each. Of 95 % intervals fewer than 180 of 200 (5 of 8) hold the truth with a chance of 0.002
    (0.0004; binomial), for each number. A spread near nought is held more often: its interval begins at nought."""
    hits: Counter[str] = Counter()
    means: dict[str, list[float]] = {}
    for seed in range(sheets):
        for each in estimates_of([observed(ROBOT, test) for test in known(seed).tests]):
            hits[each.name] += each.low <= TRUTH[each.name] <= each.high
            means.setdefault(each.name, []).append(each.value)
    assert hits.keys() == TRUTH.keys()
    for name, count in hits.items():
        assert count >= least, name
    for name in ("bias.distance", "bias.veer", "bias.turn"):
        assert np.mean(means[name]) == pytest.approx(TRUTH[name], abs=4 * np.std(means[name]) / sqrt(sheets))


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
    clean = [len(fit(ROBOT, known(seed)).outliers) for seed in range(3)]
    # 1 sheet in 20 names one by luck alone: more than 1 of 3 has a chance of 0.007.
    assert sum(count > 0 for count in clean) <= 1


def test_placing_is_told_by_jig() -> None:
    """Plain standard deviations with their chi-square interval, less the tape's r^2/12."""
    across = [0.0, 1.0, -1.0, 2.0, 0.0, -2.0]
    tests = [PlacingTest(line=n + 2, along=0.0, across=v, jig="corner block") for n, v in enumerate(across)]
    (jig,) = fit(ROBOT, sheet(*tests)).placed
    value, low, high = next((each.value, each.low, each.high) for each in jig.spread if each.name == "across")
    s2 = np.var(across, ddof=1)
    assert value == pytest.approx(sqrt(s2 - 1 / 12))
    assert (low, high) == pytest.approx([sqrt(5 * s2 / chi2.ppf(q, 5) - 1 / 12) for q in (0.975, 0.025)])


def test_one_test_does_not_tell_how_far_off_it_may_be() -> None:
    answer = fit(ROBOT, sheet(StraightTest(line=2, commanded=300.0, travel=302.0)))
    value, low, high = found(answer, "bias.distance")
    assert (value, low, high) == (pytest.approx(2 / 300), -inf, inf)
    assert to_json(fit_answer(answer))["accuracy"]["bias"]["distance"]["low"] is None
    assert "not known how much" in fit_text(answer, "Box", "tests.csv")
    assert believed(ROBOT.accuracy, answer).between is None


def test_nothing_measured_says_nothing() -> None:
    answer = fit(ROBOT, sheet())
    assert (answer.estimates, answer.tests) == ((), 0)
    assert "nothing: the sheet has no test" in fit_text(answer, "Box", "tests.csv")


def test_where_the_held_point_stands_on_average_is_told_apart_from_its_spread() -> None:
    """Student's t of the mean; ISO 9283 by hand: from (1, 0) and (3, 0) the mean is (2, 0), both 1 mm away, S = 0."""
    tests = [PlacingTest(line=n + 2, along=v, across=0.0, jig="block", tape=0.5) for n, v in enumerate((1.0, 3.0))]
    (jig,) = fit(ROBOT, sheet(*tests)).placed
    along = next(each for each in jig.off if each.name == "along")
    half = t.ppf(0.975, 1) * sqrt(2.0) / sqrt(2)
    assert (along.value, along.low, along.high) == pytest.approx((2.0, 2.0 - half, 2.0 + half))
    assert jig.repeatability is not None
    assert (jig.repeatability.accuracy, jig.repeatability.repeatability) == pytest.approx((2.0, 1.0))


def test_drops_are_counted() -> None:
    tests = [
        DropTest(line=2, result="pass"), DropTest(line=3, result="fail", came_off="hook"),
        DropTest(line=4, result="fail", came_off="hook "), DropTest(line=5, result="fail", came_off="left wheel"),
    ]  # fmt: skip
    answer = fit(ROBOT, sheet(*tests))
    assert (answer.drops.passed, answer.drops.failed) == (1, 3)
    assert answer.drops.came_off == (("hook", 2), ("left wheel", 1))
    assert "1 of 4 held; what came off: hook (2 times), left wheel" in fit_text(answer, "Box", "tests.csv")


# --- by gyro -------------------------------------------------------------------------------------------------------

GYRO = replace(ROBOT, drive=replace(ROBOT.drive, heading_from="gyro"))


def test_slopes_by_gyro_by_hand() -> None:
    """Of a turn of A in T seconds: heading (A - drift T)/(1 + scale). A straight holds its heading: sideways by the
    error times the way, but for the first 50 mm in which it is steered there."""
    _, bias, parts = slopes(ROBOT, (Turn(360.0),), "gyro")
    seconds = profile(Turn(360.0), ROBOT.drive).seconds
    # Of the biases only its stop offset and its own scale; a share too much of reading is as much too little turned.
    assert dict(zip(BIASES, bias[2], strict=True)) == pytest.approx(
        {**dict.fromkeys(BIASES, 0.0), "turn_stop": 1.0, "gyro_scale": -360.0}, abs=1e-4
    )
    assert parts["gyro.drift"][2, 0] == pytest.approx(-seconds / 60)
    assert parts["gyro.scale"][2, 0] == pytest.approx(-360.0, rel=1e-3)
    assert parts["turn.stop"][2, 0] == pytest.approx(1.0)
    assert "turn.slip" not in parts
    _, bias, parts = slopes(ROBOT, (Straight(800.0),), "gyro")
    assert bias[1:, 1] == pytest.approx([0, 0], abs=1e-9)
    assert parts["gyro.hold"][2, 0] == pytest.approx(1.0, rel=1e-6)
    assert 750 * radians(1) <= parts["gyro.hold"][1, 0] <= 800 * radians(1)
    assert "straight.veer" not in parts


@pytest.mark.parametrize(("sheets", "least"), [(4, 2), pytest.param(30, 25, marks=pytest.mark.slow)])
def test_a_gyro_is_found_again(sheets: int, least: int) -> None:
    """Known drift, scale and hold from straights and turns at two turning speeds; intervals of 30 sheets: fewer than 25
    of 30 has a chance of 0.003, fewer than 2 of 4 one of 0.0005. (A slow turn of 720 degrees, so that drift has time.)
    """
    accuracy = Accuracy(straight=StraightNoise(0.5, 1.0, 0.0), turn=TurnNoise(0.4, 0.0), gyro=GyroNoise(6.0, 0.01, 0.4))
    truth = {
        "gyro.drift": 6.0, "gyro.scale": 0.01, "gyro.hold": 0.4, "turn.stop": 0.4, "straight.stop": 0.5,
        "straight.distance": 1.0, "bias.distance": 0.0,
    }  # fmt: skip
    hits: Counter[str] = Counter()
    rng = np.random.default_rng(12)
    for _ in range(sheets):
        tests: list[Test] = []
        for length in (300.0,) * 4 + (1200.0,) * 4:
            x, y, _ = simulate(by_gyro(Straight(length), accuracy), 1, int(rng.integers(1 << 40))).poses[0, -1]
            tests.append(
                StraightTest(
                    line=2, commanded=length, travel=float(round(x - 2000, 1)), sideways=float(round(y - 2000, 1)),
                    heading_from="gyro", tape=0.1,
                )
            )  # fmt: skip
        for angle, speed in ((90.0, 120.0), (720.0, 120.0), (720.0, 20.0)) * 4:
            turn = Turn(angle, turn_speed=speed)
            heading = simulate(by_gyro(turn, accuracy), 1, int(rng.integers(1 << 40))).poses[0, -1, 2]
            read = float(round(heading * 2) / 2)
            tests.append(TurnTest(line=2, commanded=angle, angle_read=read, turn_speed=speed, heading_from="gyro"))
        for each in estimates_of([observed(GYRO, test) for test in tests]):
            # Turn errors at the stop grow with the turning speed; the file's are told at the robot's own.
            hits[each.name] += each.low <= truth[each.name] <= each.high
    assert hits.keys() == truth.keys()
    for name, count in hits.items():
        assert count >= least, name


def by_gyro(segment: Straight | Turn, accuracy: Accuracy) -> Run:
    plain = run(segment, accuracy=accuracy)
    return replace(plain, robot=replace(plain.robot, drive=replace(plain.robot.drive, heading_from="gyro")))


def test_drift_and_scale_cannot_be_told_apart_at_one_turning_speed() -> None:
    rng = np.random.default_rng(3)
    tests = [
        TurnTest(line=n, commanded=a, angle_read=round(a + a / 50 * z, 1), heading_from="gyro")
        for n, (a, z) in enumerate(zip([180.0, 360.0, 720.0] * 3, rng.standard_normal(9), strict=True), start=2)
    ]
    unknown = fit(GYRO, sheet(*tests)).unknown
    assert any("'gyro: drift' and 'gyro: scale' cannot be told apart" in words for words in unknown)
    assert any("no straight tests: nothing is known of straights" in words for words in unknown)


def test_a_robot_by_gyro_learns_nothing_of_turns_from_tests_by_wheels() -> None:
    unknown = fit(GYRO, known(1)).unknown
    assert "no straight tests by gyro: nothing is known of straights by gyro" in unknown
    assert "no turn tests by gyro: nothing is known of turns by gyro" in unknown


# --- the tape ------------------------------------------------------------------------------------------------------


def taped(seed: int, sd: float) -> Sheet:
    """24 straights, 12 short and 12 long, read with a tape that is held badly: normal errors of so many mm."""
    rng = np.random.default_rng(seed)
    accuracy = Accuracy(straight=StraightNoise(0.5, 1.0, 0.2))
    tests = []
    for n, length in enumerate([200.0, 1500.0] * 12):
        x, y, _ = simulate(run(Straight(length), accuracy=accuracy), 1, int(rng.integers(1 << 40))).poses[0, -1]
        x, y = x - 2000 + sd * rng.standard_normal(), y - 2000 + sd * rng.standard_normal()
        tests.append(
            StraightTest(line=n + 2, commanded=length, travel=float(round(x)), sideways=float(round(y)))
        )  # fmt: skip
    return sheet(*tests)


@pytest.mark.parametrize(("sheets", "least"), [(3, 2), pytest.param(10, 8, marks=pytest.mark.slow)])
def test_a_badly_held_tape_is_told_apart_from_the_robot(sheets: int, least: int) -> None:
    """Truth 3 mm; of 95 % intervals fewer than 8 of 10 has a chance of 0.012, fewer than 2 of 3 one of 0.007."""
    answers = [fit(ROBOT, taped(seed, 3.0)) for seed in range(sheets)]
    tapes = [answer.tape for answer in answers]
    assert all(tape is not None for tape in tapes)
    assert sum(tape is not None and tape.low <= 3.0 <= tape.high for tape in tapes) >= least
    assert sum(tape is not None and tape.low > 0 for tape in tapes) >= least
    stops = [found(answer, "straight.stop")[0] for answer in answers]
    # All of it would be counted as the robot's stop without that.
    assert np.mean(stops) < 2.0


def test_where_the_tape_cannot_be_told_apart_it_is_said() -> None:
    tests = [replace(test, sideways=None) for test in taped(1, 3.0).tests if isinstance(test, StraightTest)]
    answer = fit(ROBOT, sheet(*tests))
    assert answer.tape is None
    assert any("cannot be told from how well the robot drives" in words for words in answer.unknown)


# --- what is believed afterwards -----------------------------------------------------------------------------------


def test_what_is_written_is_what_is_believed() -> None:
    """The values for a file, put through a file, are the believed accuracy: rounded, its ends outwards."""
    answer = fit(ROBOT, known(3, replace(TRUE, day=Systematic(0.01, 1.0, 0.03)), dates=4))
    accuracy = believed(ROBOT.accuracy, answer)
    assert accuracy.between is not None
    assert accuracy.between.tests == answer.driven == 56
    for each in answer.estimates:
        assert value_of(accuracy, each.name) == pytest.approx(each.best)
        ends = accuracy.between.ends(each.name)
        assert ends == pytest.approx((each.low, each.high))
    assert {(pair.one, pair.other) for pair in accuracy.between.together} == {pair[:2] for pair in answer.together}


def test_a_number_without_an_upper_end_is_not_believed_to_have_one() -> None:
    answer = fit(ROBOT, known(3))
    open_end = replace(
        answer,
        estimates=tuple(replace(each, high=inf) if each.name == "turn.slip" else each for each in answer.estimates),
    )
    accuracy = believed(ROBOT.accuracy, open_end)
    assert accuracy.between is not None
    assert accuracy.between.ends("turn.slip") is None
    assert all("turn.slip" not in (pair.one, pair.other) for pair in accuracy.between.together)


def test_a_spread_of_which_nothing_was_seen_is_not_taken_for_none() -> None:
    """Four equal readings do not make a perfect robot: a forecast takes the middle of those that fit them."""
    answer = fit(ROBOT, sheet(*turn_tests([91.0] * 4)))
    (stop,) = (each for each in answer.estimates if each.name == "turn.stop")
    assert stop.value == 0
    assert stop.best == pytest.approx(stop.high * 0.6745 / 1.95996, rel=1e-4)
    assert stop.best > 0.05
    (slip,) = (each for each in answer.estimates if each.name == "turn.slip")
    assert any("nothing was seen of" in words for words in answer.unknown)
    assert value_of(believed(ROBOT.accuracy, answer), "turn.slip") == slip.best


def test_what_earlier_tests_told_of_other_numbers_stays() -> None:
    """Turns in one sheet, straights in another: both are known afterwards, and it is said."""
    turns = believed(ROBOT.accuracy, fit(ROBOT, sheet(*turn_tests([90.5, 91.0, 91.5, 92.0]))))
    assert turns.between is not None
    earlier = turns.between.ends("bias.turn")
    straights = [StraightTest(line=n + 2, commanded=1000.0, travel=t) for n, t in enumerate([1003.0, 1005.0, 1008.0])]
    answer = fit(replace(ROBOT, accuracy=turns), sheet(*straights))
    both = believed(turns, answer).between
    assert both is not None
    assert both.ends("bias.turn") == earlier
    assert both.ends("bias.distance") is not None
    assert both.tests == 7
    (said,) = (words for words in answer.unknown if words.startswith("earlier tests are behind"))
    assert "'bias: turn'" in said
    # The same sheet again with more in it takes the place of all that it tells.
    again = believed(turns, fit(replace(ROBOT, accuracy=turns), sheet(*turn_tests([90.5, 91.0, 91.5, 92.0, 90.0]))))
    assert again.between is not None
    assert again.between.tests == 5


def test_one_way_round_does_not_tell_turns_from_veer() -> None:
    rng = np.random.default_rng(4)
    tests = [
        SquarePathTest(
            line=n, side=1000.0, direction="cw", return_x=float(x), return_y=float(y), heading=None
        )
        for n, (x, y) in enumerate(rng.normal(10, 3, (6, 2)).round(), start=2)
    ]  # fmt: skip
    both = [*tests, *(replace(test, direction="ccw", line=test.line + 6) for test in tests)]
    words = "'bias: veer' and 'bias: turn' cannot be told apart"
    assert any(words in said for said in fit(ROBOT, sheet(*tests)).unknown)
    assert not any(words in said for said in fit(ROBOT, sheet(*both)).unknown)


# --- words, JSON, values for the file ------------------------------------------------------------------------------


def test_the_answer_in_every_form() -> None:
    answer = fit(ROBOT, known(2))
    said = to_json(fit_answer(answer))
    assert said["accuracy"]["bias"]["turn"].keys() == {"value", "low", "high"}
    assert (said["command"], said["tests"], said["outliers"]) == ("fit", 14, [])
    text = fit_text(answer, "Box test", "tests.csv")
    assert "bias: turn" in text
    assert "degrees per root metre" in text
    values = file_values(answer, ROBOT.accuracy)
    assert str(values["accuracy", "bias", "distance"]).endswith(" %")
    assert isinstance(values["accuracy", "turn", "stop"], float)
    open_end = replace(answer, estimates=tuple(replace(each, high=inf) for each in answer.estimates))
    assert to_json(fit_answer(open_end))["accuracy"]["turn"]["slip"]["high"] is None
    assert "not known how much" in fit_text(open_end, "Box test", "tests.csv")


# --- small print ---------------------------------------------------------------------------------------------------


def test_tests_without_a_date_are_each_alone_with_their_day() -> None:
    """As if every one of them had a date of its own; those of one date share its draw."""
    monday, tuesday = datetime.date(2026, 3, 2), datetime.date(2026, 3, 3)
    travels = [801.0, 802.0, 800.5, 803.0, 801.5, 802.5]
    known_dates = [monday, monday, tuesday, None, None, None]
    own = [monday, monday, tuesday, *(datetime.date(2026, 4, n) for n in (1, 2, 3))]

    def model(dates: list[datetime.date | None]) -> Reml:
        tests = [
            StraightTest(line=n + 2, commanded=800.0, travel=travel, date=date)
            for n, (travel, date) in enumerate(zip(travels, dates, strict=True))
        ]
        return assembled([observed(ROBOT, test) for test in tests]).reml

    without, with_own = model(known_dates), model([*own])
    assert "day.distance" in without.names
    assert without.names == with_own.names
    np.testing.assert_array_equal(without.covariances, with_own.covariances)
    day = without.covariances[without.names.index("day.distance")]
    assert (day > 0).tolist() == [[a == b or {a, b} == {0, 1} for b in range(6)] for a in range(6)]


def test_an_angle_by_tape_is_read_twice() -> None:
    """asin((far - near)/side) of two readings to 1 mm over 150 mm: twice 1/12 mm^2, in degrees by 1/150."""
    test = TurnTest(line=2, commanded=90.0, near=100.0, far=100.0, side=150.0, tape=1.0)
    (variance,) = observed(ROBOT, test).reading
    assert variance == pytest.approx(2 / 12 * (180 / pi / 150) ** 2)


def test_ends_beyond_what_a_file_takes_are_its_bounds() -> None:
    """A spread can be no less than nought and a bias no more than half, whatever an interval says."""
    answer = fit(ROBOT, known(3))
    wide = replace(answer, estimates=tuple(replace(each, low=-1e4, high=1e4) for each in answer.estimates))
    between = believed(Accuracy(), wide).between
    assert between is not None
    for each in answer.estimates:
        ends = between.ends(each.name)
        assert ends == bounds_of_ends(each.name)
        assert -1e4 < ends[0] < ends[1] < 1e4


@pytest.mark.parametrize("count", [5, 8])
def test_the_upper_end_of_few_readings_is_the_exact_one(count: int) -> None:
    """One source, read exactly: the upper end (n - 1) s^2/chi^2. The likelihood alone ends below
    that, on the unsafe side."""
    y = np.random.default_rng(count).standard_normal(count)
    model = Reml(y, np.ones((count, 1)), np.full(count, 1e-9), {"stop": np.eye(count)})
    sds, least = model.fitted()
    exact = sqrt((count - 1) * y.var(ddof=1) / chi2.ppf(0.025, count - 1))
    assert model.profile(sds, least, 0, 0.95)[1] == pytest.approx(exact, rel=0.01)
    assert model.too_large(np.array([exact]), 0) == pytest.approx(0.025, rel=0.01)


def test_what_was_fitted_before_is_told_in_the_language_of_now() -> None:
    alone = sheet(*turn_tests([90.5, 91.0, 89.5]))
    english = fit(ROBOT, alone)
    assert fit(ROBOT, alone) is english
    choose("de")
    try:
        german = fit(ROBOT, alone)
    finally:
        choose("en")
    assert german.estimates == english.estimates
    assert not set(german.unknown) & set(english.unknown)


def test_what_may_be_none_is_not_told_as_fact() -> None:
    """A number whose interval holds both signs says nothing of which way the robot errs."""
    from fieldsim.report.words.fit import fit_headline

    answer = fit(ROBOT, known(8, TRUE))
    told = fit_headline(answer)
    for each in answer.estimates:
        word = {"bias.distance": "drives", "bias.veer": "veers", "bias.turn": "turns"}.get(each.name)
        if word is None:
            continue
        sure, _, unsure = told.partition("With these tests")
        unknown = each.low <= 0 <= each.high
        assert (f"it {word} " in sure) is not unknown
        noun = {"bias.distance": "its distances", "bias.veer": "its veer", "bias.turn": "its turns"}[each.name]
        assert (noun in unsure) is unknown
    # One of each kind, whatever the sheet says.
    wide = tuple(replace(e, low=-1.0, high=1.0) if e.name == "bias.turn" else e for e in answer.estimates)
    assert "its turns" in fit_headline(replace(answer, estimates=wide))
    sure = tuple(replace(e, value=0.02, low=0.01, high=0.03) if e.name.startswith("bias") else e for e in wide)
    assert "With these tests" not in fit_headline(replace(answer, estimates=sure))
