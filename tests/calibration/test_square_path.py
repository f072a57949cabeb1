"""Square paths driven both ways: published numbers, the path driven exactly, what must hold for any returns.

Source of everything called U1 to U5: J. Borenstein and L. Feng, "Measurement and correction of systematic odometry
errors in mobile robots", IEEE Transactions on Robotics and Automation 12(6), 1996, 869-880, and J. Borenstein,
H. R. Everett and L. Feng, Where am I?, University of Michigan, 1996, eqs 5.1-5.15 (second-hand); numbers with ten
digits were computed from the formulas apart from this code.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, replace
from math import degrees, exp, hypot, inf, pi, radians, sqrt
from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from plans import PERFECT, robot
from scipy.optimize import least_squares
from scipy.stats import f

from fieldsim.calibration.fit import fit
from fieldsim.calibration.observed import observed
from fieldsim.calibration.square_path import Contradiction, Slip, SquarePathAnswer, contradictions, square_path
from fieldsim.model.measured import Sheet, SquarePathTest
from fieldsim.sim.motion import along_piece

Way = Literal["cw", "ccw"]
WAYS: tuple[Way, Way] = ("cw", "ccw")
L, B = 4000.0, 340.0
"""Side and track of the published examples, mm."""


def returned(way: Way, x: float, y: float, side: float = L, line: int = 2) -> SquarePathTest:
    return SquarePathTest(line=line, side=side, direction=way, return_x=x, return_y=y)


def one(tests: Sequence[SquarePathTest], track: float = B) -> SquarePathAnswer:
    (answer,) = square_path(tests, track)
    return answer


def scales(wheel_ratio: float) -> tuple[float, float]:
    """Left and right wheel over their mean."""
    return 2 / (wheel_ratio + 1), 2 / (1 / wheel_ratio + 1)


def in_our_words(track_ratio: float, wheel_ratio: float, track: float = B) -> tuple[float, float]:
    """Turn and veer by the definitions at the top of `drivetrain`: mean scale over track scale less 1, and
    (e_R - e_L)/(e_b b) per mm, here degrees per metre."""
    left, right = scales(wheel_ratio)
    return (left + right) / 2 / track_ratio - 1, degrees((right - left) / (track_ratio * track)) * 1000


def driven(
    way: Way, track_ratio: float, wheel_ratio: float, side: float = L, track: float = B, known: float = 1.0
) -> NDArray[np.float64]:
    """Where a square ends: what the program asks of each wheel, driven exactly by wheels and track as they are.

    ``known`` is the track ratio the program was already corrected by.
    """
    left, right = scales(wheel_ratio)
    pose = np.zeros(3)
    quarter = (1 if way == "ccw" else -1) * known * track * pi / 4
    for _ in range(4):
        for a_left, a_right in ((side * left, side * right), (-quarter * left, quarter * right)):
            turn = (a_right - a_left) / (track_ratio * track)
            pose = along_piece(pose, (a_left + a_right) / 2, degrees(turn), 1.0)
    return pose


def both_ways(track_ratio: float, wheel_ratio: float, times: int = 1) -> list[SquarePathTest]:
    ends = [(way, driven(way, track_ratio, wheel_ratio)) for way in WAYS] * times
    return [returned(way, float(x), float(y), line=n) for n, (way, (x, y, _)) in enumerate(ends, start=2)]


# --- published -----------------------------------------------------------------------------------------------------


def test_u2_the_arithmetic() -> None:
    """L = 4 m, b = 0.340 m, x of -100 and -60 mm. The y are those that say the same: 2 L alpha = 80, 2 L beta = 20."""
    answer = one([returned("cw", -100.0, -100.0), returned("ccw", -60.0, 60.0)])
    for errors in (answer.from_x, answer.from_y, answer.mean):
        assert errors.alpha == pytest.approx(0.5729577951, abs=1e-9)
        assert errors.beta == pytest.approx(0.1432394488, abs=1e-9)
        assert errors.radius == pytest.approx(1600.0004166667e3, rel=1e-9)
        assert errors.wheel_ratio == pytest.approx(1.0002125225, abs=1e-9)
        assert errors.track_ratio == pytest.approx(1.0064069859, abs=1e-9)
        assert errors.track == pytest.approx(342.1783752, abs=1e-6)
        assert 60 * errors.left == pytest.approx(59.9936250017, abs=1e-9)
        assert 60 * errors.right == pytest.approx(60.0063749983, abs=1e-9)
        assert errors.left + errors.right == pytest.approx(2.0, abs=1e-12)
        # By hand: -0.57296/90 of each turn, and 0.14324 degrees over 4 m.
        assert errors.turn == pytest.approx(1 / errors.track_ratio - 1, abs=1e-12)
        assert errors.turn == pytest.approx(-0.0063661977, abs=1e-9)
        assert errors.veer == pytest.approx(0.0358098622, abs=1e-9)


@pytest.mark.parametrize(
    ("track_ratio", "wheel_ratio", "cw", "ccw", "found_track_ratio", "found_wheel_ratio"),
    [
        (1.001, 1.0002, (-31.1952791, -31.6388194), (6.2612802, -6.2319072), 1.0009930775, 1.0001990077),
        (1.01, 1.002, (-293.5932162, -337.8110042), (62.9419746, -60.0799199), 1.0092623246, 1.0018958494),
    ],
)
def test_u3_ends_without_noise_and_what_the_linear_formulas_make_of_them(
    track_ratio: float,
    wheel_ratio: float,
    cw: tuple[float, float],
    ccw: tuple[float, float],
    found_track_ratio: float,
    found_wheel_ratio: float,
) -> None:
    assert driven("cw", track_ratio, wheel_ratio)[:2] == pytest.approx(cw, abs=1e-5)
    assert driven("ccw", track_ratio, wheel_ratio)[:2] == pytest.approx(ccw, abs=1e-5)
    found = one(both_ways(track_ratio, wheel_ratio)).from_x
    assert found.track_ratio == pytest.approx(found_track_ratio, abs=1e-9)
    assert found.wheel_ratio == pytest.approx(found_wheel_ratio, abs=1e-9)
    # Only nearly the truth: off by more than rounding, and by no more than a twelfth of the error.
    for value, truth in ((found.track_ratio, track_ratio), (found.wheel_ratio, wheel_ratio)):
        assert 1e-3 < abs(value - truth) / (truth - 1) < 1 / 12


def test_u4_the_example_before_and_after() -> None:
    """Printed (fig. 5.10, second-hand): b = 340.00 mm and D_R/D_L = 1.00000 before, 336.17 mm and 1.00084 after. The
    returns behind them are not printed; these x were computed back from the two numbers, the y are those that say the
    same."""
    cw, ccw = (64.143, 64.143), (222.195, -222.195)
    answer = one([returned("cw", *cw), returned("ccw", *ccw)])
    errors = answer.mean
    assert astuple(answer.from_x) == pytest.approx(astuple(answer.from_y), rel=1e-9)
    assert errors.track == pytest.approx(336.17, abs=0.005)
    assert errors.wheel_ratio == pytest.approx(1.00084, abs=5e-6)
    # Computed back from the rounded numbers; the returns are rounded to 0.001 mm.
    assert errors.track_ratio == pytest.approx(0.9887352941, abs=1e-6)
    assert errors.alpha == pytest.approx(-1.02537407, abs=1e-5)
    assert errors.beta == pytest.approx(0.56598171, abs=1e-5)
    assert errors.radius == pytest.approx(404931.905, rel=1e-5)
    assert (errors.left, errors.right) == pytest.approx((0.9995801763, 1.0004198237), abs=1e-6)
    # Before: 317 mm is reported of the first experiment; that it is the same one is likely and not said.
    assert answer.merit == answer.ccw.distance == pytest.approx(314.23, abs=0.005)
    assert answer.merit == pytest.approx(317, rel=0.01)


def test_u4_driven_and_corrected_is_better_by_an_order_of_magnitude() -> None:
    """The abstract promises at least one order of magnitude. The robot of the example, driven exactly: one correction
    by each of the three answers, then the square again."""
    track_ratio, wheel_ratio = 336.17 / 340.0, 1.00084
    before = one(both_ways(track_ratio, wheel_ratio))
    for errors in (before.from_x, before.from_y, before.mean):
        # What is left: wheels as they are over wheels as now known, and the track likewise.
        after = [
            driven(way, track_ratio, wheel_ratio / errors.wheel_ratio, known=errors.track_ratio)[:2] for way in WAYS
        ]
        assert max(hypot(x, y) for x, y in after) < before.merit / 10


def test_u5_whether_once_more_is_worth_it() -> None:
    """sigma = 25 mm, n = 5: the standard error is 11.18 mm (printed 11.2), three of it 33.5 (printed 33.6). A figure of
    66 mm is worth it, the 20 mm after it are not. The five returns are invented to have that sigma on each axis."""
    x = np.array([-1.0, 1.0, 0.0, -1.0, 1.0]) * 25
    y = np.array([1.0, 1.0, 0.0, -1.0, -1.0]) * 25

    def measured(figure: float) -> SquarePathAnswer:
        cluster = [returned("ccw", figure + float(a), float(b)) for a, b in zip(x, y, strict=True)]
        return one([*cluster, returned("cw", 1.0, 1.0)])

    before, after = measured(66.0), measured(20.0)
    assert before.ccw.sd == pytest.approx(25.0, abs=1e-9)
    assert before.ccw.sem == pytest.approx(11.2, abs=0.05)
    assert before.ccw.sem == pytest.approx(11.1803, abs=5e-5)
    assert (before.merit, before.again) == (pytest.approx(66.0), True)
    assert (after.merit, after.again) == (pytest.approx(20.0), False)


def test_how_often_luck_alone_says_once_more() -> None:
    """Of a robot without bias: distance^2 over 2 SEM^2 is distributed as F of 2 and 2 (n - 1). 3000 sheets of five."""
    rng = np.random.default_rng(7)
    still = returned("cw", 0.0, 0.0)
    sheets = 3000
    said = 0
    for x, y in rng.normal(0.0, 10.0, (sheets, 2, 5)):
        said += bool(one([still, *(returned("ccw", float(a), float(b)) for a, b in zip(x, y, strict=True))]).again)
    p = float(f.sf(9 / 2, 2, 8))
    assert p == pytest.approx(0.049, abs=5e-4)
    assert exp(-9 / 2) == pytest.approx(0.011, abs=5e-4)
    assert said / sheets == pytest.approx(p, abs=4 * sqrt(p * (1 - p) / sheets))


# --- the path driven exactly ---------------------------------------------------------------------------------------


@given(st.floats(-0.01, 0.01), st.floats(-0.5, 0.5), st.sampled_from([500.0, 1200.0, 4000.0]))
def test_signs_and_sizes_are_those_of_the_driven_path(turn: float, veer: float, side: float) -> None:
    """Straights that veer and turns that are larger by a share, in fieldsim's own words and signs, on an exact path.

    What is left is of second order: with a = |alpha| and b = |beta| no more than 3 (a + b)^2.
    """
    tests = []
    for way in WAYS:
        pose = np.zeros(3)
        for _ in range(4):
            pose = along_piece(pose, side, veer * side / 1000, 1.0)
            pose = along_piece(pose, 0.0, (90.0 if way == "ccw" else -90.0) * (1 + turn), 1.0)
        tests.append(returned(way, float(pose[0]), float(pose[1]), side))
    answer = one(tests)
    a, b = radians(abs(turn) * 90), radians(abs(veer) * side / 1000)
    left = degrees(3 * (a + b) ** 2) + 1e-9
    for errors in (answer.from_x, answer.from_y, answer.mean):
        assert errors.turn == pytest.approx(turn, abs=left / 90)
        assert errors.veer == pytest.approx(veer, abs=left / side * 1000)


@pytest.mark.parametrize(("track_ratio", "wheel_ratio"), [(1.001, 1.0002), (1.01, 1.002), (0.99, 1.002), (1.01, 0.998)])
def test_x_and_y_miss_to_opposite_sides_and_least_squares_beats_them(track_ratio: float, wheel_ratio: float) -> None:
    """Least squares on the exact path finds the truth. `fit` is linear about a robot without bias, and so is as good as
    the mean of both and better than either."""
    tests = both_ways(track_ratio, wheel_ratio, times=2)
    answer = one(tests)
    drive = replace(robot(PERFECT, width=400.0).drive, track=B)
    fitted = fit(replace(robot(PERFECT, width=400.0), drive=drive), Sheet(tuple(tests)))
    measured = np.array([(test.return_x, test.return_y) for test in tests[:2]])

    def off(ratios: NDArray[np.float64]) -> NDArray[np.float64]:
        return (np.array([driven(way, *ratios)[:2] for way in WAYS]) - measured).ravel()

    exact = least_squares(off, [1.0, 1.0], x_scale=0.01, xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    truth = in_our_words(track_ratio, wheel_ratio)
    by_exact = in_our_words(*exact)
    for k, name in enumerate(("turn", "veer")):
        off_x, off_y, off_mean = (
            getattr(errors, name) / truth[k] - 1 for errors in (answer.from_x, answer.from_y, answer.mean)
        )
        off_fit = (fitted.value(f"bias.{name}") or inf) / truth[k] - 1
        assert off_x * off_y < 0
        assert abs(off_mean) < abs(off_x) / 1.9
        assert abs(off_fit) < min(abs(off_x), abs(off_y)) / 1.9
        assert off_fit == pytest.approx(off_mean, abs=1e-5)
        assert abs(by_exact[k] / truth[k] - 1) < 1e-8


# --- any returns ---------------------------------------------------------------------------------------------------

mm = st.floats(-300.0, 300.0)
clusters = st.lists(st.tuples(mm, mm), min_size=1, max_size=6)


def made_of(cw: Sequence[tuple[float, float]], ccw: Sequence[tuple[float, float]]) -> list[SquarePathTest]:
    return [returned("cw", x, y) for x, y in cw] + [returned("ccw", x, y) for x, y in ccw]


@given(clusters, clusters)
def test_a_mirrored_robot_veers_the_other_way_and_turns_the_same(
    cw: list[tuple[float, float]], ccw: list[tuple[float, float]]
) -> None:
    """Left and right exchanged: each cw square becomes a ccw one with y reversed."""
    seen = one(made_of(cw, ccw))
    mirrored = one(made_of([(x, -y) for x, y in ccw], [(x, -y) for x, y in cw]))
    for one_way, other in (
        (seen.from_x, mirrored.from_x),
        (seen.from_y, mirrored.from_y),
        (seen.mean, mirrored.mean),
    ):
        assert other.turn == pytest.approx(one_way.turn, abs=1e-12)
        assert other.veer == pytest.approx(-one_way.veer, abs=1e-12)
        assert other.wheel_ratio == pytest.approx(1 / one_way.wheel_ratio, rel=1e-12)
        assert (other.left, other.right) == pytest.approx((one_way.right, one_way.left), rel=1e-12)
    assert mirrored.merit == pytest.approx(seen.merit, abs=1e-9)


@given(clusters, clusters)
def test_numbers_agree_with_each_other(cw: list[tuple[float, float]], ccw: list[tuple[float, float]]) -> None:
    """The published forms with R itself, and numpy's means and standard deviations."""
    answer = one(made_of(cw, ccw))
    for way, points in ((answer.cw, np.array(cw)), (answer.ccw, np.array(ccw))):
        assert (way.x, way.y) == pytest.approx(points.mean(axis=0), abs=1e-9)
        assert way.distance == pytest.approx(hypot(*points.mean(axis=0)), abs=1e-9)
        assert way.count == len(points)
        if len(points) == 1:
            assert way.sd is way.sem is None
        else:
            assert way.sd == pytest.approx(sqrt(points.var(axis=0, ddof=1).mean()), abs=1e-9)
            assert way.sem == pytest.approx(sqrt(points.var(axis=0, ddof=1).mean() / len(points)), abs=1e-9)
    assert answer.merit == max(answer.cw.distance, answer.ccw.distance)
    for errors in (answer.from_x, answer.from_y, answer.mean):
        assert errors.turn == pytest.approx(1 / errors.track_ratio - 1, abs=1e-12)
        assert errors.right / errors.left == pytest.approx(errors.wheel_ratio, rel=1e-12)
        if abs(errors.radius) < 1e12:
            ratio = (errors.radius + B / 2) / (errors.radius - B / 2)
            assert errors.wheel_ratio == pytest.approx(ratio, rel=1e-12)
    middle = ((answer.from_x.alpha + answer.from_y.alpha) / 2, (answer.from_x.beta + answer.from_y.beta) / 2)
    assert (answer.mean.alpha, answer.mean.beta) == pytest.approx(middle, abs=1e-12)


# --- which tests count ---------------------------------------------------------------------------------------------


def test_one_answer_for_each_side_that_was_driven_both_ways() -> None:
    short = [returned("cw", -10.0, -10.0, 500.0), returned("ccw", -10.0, 10.0, 500.0)]
    long = [returned("ccw", -40.0, 40.0, 1000.0), returned("cw", -40.0, -40.0, 1000.0)]
    lone = [returned("cw", 5.0, 5.0, 800.0)]
    answers = square_path([*long, *lone, *short], 112.0)
    assert [answer.side for answer in answers] == [500.0, 1000.0]
    assert answers[1] == one(long, 112.0)
    # 4 L alpha = 80 of 4000 mm: 0.02 radians of a quarter turn of 1.5708.
    assert answers[1].mean.turn == pytest.approx(-0.02 / (pi / 2), rel=1e-12)
    assert square_path(lone, 112.0) == square_path([], 112.0) == ()


def test_a_gyro_and_a_square_smaller_than_the_robot_are_left_out() -> None:
    wheels = [returned("cw", 30.0, 20.0), returned("ccw", 10.0, 0.0)]
    by_gyro = [replace(test, heading_from="gyro", return_x=0.0) for test in wheels]
    assert one([*wheels, *by_gyro]) == one(wheels)
    assert square_path([wheels[0], by_gyro[1]], B) == ()
    # The worst a sheet may hold bends each side by half a radian: at a quarter of the track that still has a radius.
    worst = [returned("cw", -60.0, 0.0, 60.0), returned("ccw", 60.0, 0.0, 60.0)]
    assert one(worst, 240.0).from_x.radius > 120.0
    assert square_path(worst, 241.0) == ()


def test_a_perfect_robot() -> None:
    answer = one([returned(way, 0.0, 0.0) for way in WAYS] * 2)
    assert (answer.merit, answer.again) == (0.0, False)
    assert astuple(answer.mean) == (0.0, 0.0, inf, 1.0, 1.0, B, 1.0, 1.0, 0.0, 0.0)


def test_driven_once_nobody_can_say_what_is_luck() -> None:
    once = returned("cw", 30.0, 0.0)
    many = [returned("ccw", 1.0, 0.0), returned("ccw", 3.0, 0.0)]
    assert one([once, *many]).again is None
    assert one([replace(once, return_x=0.5), *many]).again is False


@pytest.mark.parametrize("track", [0.0, -112.0, inf, float("nan")])
def test_a_track_that_is_no_length_is_refused(track: float) -> None:
    with pytest.raises(ValueError, match="must be a length in mm"):
        square_path([], track)


# --- slips of the pen ----------------------------------------------------------------------------------------------

MENDED: dict[Slip, tuple[tuple[int, int], tuple[int, int]]] = {
    "sign of x": ((-1, 0), (0, 1)),
    "sign of y": ((1, 0), (0, -1)),
    "both signs": ((-1, 0), (0, -1)),
    "x and y swapped": ((0, 1), (1, 0)),
}


def paths(
    rng: np.random.Generator, each: int, cw: float, ccw: float, along: float, across: float
) -> list[SquarePathTest]:
    """Returns read to 1 mm, driven in turns cw and ccw, scattering along and across their diagonal."""
    made = []
    for line in range(2, 2 + 2 * each):
        way: Way = WAYS[line % 2]
        u, v = (cw if way == "cw" else ccw) + along * rng.normal(), across * rng.normal()
        x, y = (u + v) / sqrt(2), (u - v) / sqrt(2)
        made.append(returned(way, round(x), round(-y if way == "ccw" else y), 600.0, line))
    return made


def slipped(tests: Sequence[SquarePathTest], slip: Slip, lines: Sequence[int]) -> list[SquarePathTest]:
    (a, b), (c, d) = MENDED[slip]
    return [
        replace(t, return_x=a * t.return_x + b * t.return_y, return_y=c * t.return_x + d * t.return_y)
        if t.line in lines
        else t
        for t in tests
    ]


@pytest.mark.parametrize(("along", "across"), [(10, 10), (10, 6), (10, 1)])
@pytest.mark.parametrize("mean", [0.0, 20.0])
@pytest.mark.parametrize("each", [2, 5])
def test_returns_without_a_slip_are_hardly_ever_doubted(each: int, mean: float, along: float, across: float) -> None:
    """At most 3 in 100 sheets: of 60, more than 6 have a chance of 0.003."""
    rng = np.random.default_rng(20)
    doubted = sum(bool(contradictions(paths(rng, each, mean, -mean / 2, along, across))) for _ in range(60))
    assert doubted <= 6


def test_where_returns_lie_and_how_they_scatter_is_as_the_kernel_drives_them() -> None:
    """The clockwise mean is on y = x, the other on y = -x; for each source of noise x and y have equal variances."""
    for test in (returned("cw", 0, 0, 600.0), returned("ccw", 0, 0, 600.0)):
        seen = observed(robot(PERFECT), test)
        sign = 1 if test.direction == "cw" else -1
        for k in (1, 2):
            assert seen.bias[0, k] == pytest.approx(sign * seen.bias[1, k], rel=1e-6)
        for name in ("straight.distance", "straight.veer", "turn.stop", "turn.slip"):
            covariance = seen.parts[name] @ seen.parts[name].T
            assert covariance[0, 0] == pytest.approx(covariance[1, 1], rel=1e-6)
            assert sign * covariance[0, 1] >= -1e-9


@pytest.mark.parametrize("slip", MENDED)
@pytest.mark.parametrize("lines", [(2, 3, 4), (5,), (3, 5, 7, 9)])
def test_a_slip_is_found_and_named(slip: Slip, lines: tuple[int, ...]) -> None:
    good = paths(np.random.default_rng(3), 5, 40.0, -30.0, 4.0, 3.0)
    assert contradictions(good) == ()
    (found,) = contradictions(slipped(good, slip, lines))
    assert found.tests == 10
    # Clockwise, x and y swapped are still on y = x: there is nothing to see, and nothing wrong.
    ways = {test.line: test.direction for test in good}
    seen = {line for line in lines if slip != "x and y swapped" or ways[line] == "ccw"}
    # Turned about the middle, nobody can say which part of one way round is wrong: the fewer are named.
    for way in WAYS:
        wrong, named = ({line for line in part if ways[line] == way} for part in (seen, found.lines))
        turned = slip in ("both signs", "x and y swapped") and 2 * len(wrong) > 5
        assert named == ({line for line in ways if ways[line] == way} - wrong if turned else wrong)
    assert slip in found.slips


def test_a_left_that_was_written_as_right_throughout_is_found() -> None:
    good = paths(np.random.default_rng(4), 3, 40.0, -30.0, 4.0, 3.0)
    (found,) = contradictions(slipped(good, "sign of y", range(100)))
    assert found == Contradiction(tuple(range(2, 8)), found.slips, 6)
    assert "sign of y" in found.slips


def test_few_paths_and_other_sides_contradict_nothing() -> None:
    good = paths(np.random.default_rng(3), 2, 40.0, -30.0, 1.0, 1.0)
    bad = slipped(good, "sign of y", [3])
    assert contradictions(bad)[0].lines == (3,)
    assert contradictions(bad[:3]) == ()
    assert contradictions([replace(test, side=500.0 + test.line) for test in bad]) == ()
