"""Tests of pushing square: whether the corner sticks or slides, by hand and from sheets."""

from __future__ import annotations

from dataclasses import replace
from math import asinh, radians, tan

import numpy as np
import pytest
from plans import run
from scipy.optimize import minimize
from scipy.special import expit, log_expit

from fieldsim.calibration.believed import believed
from fieldsim.calibration.capturing import capture
from fieldsim.calibration.fit import fit
from fieldsim.calibration.squaring import face_of, slid, squaring
from fieldsim.model import Accuracy, Between, Square, Straight
from fieldsim.model.between import BiasBetween
from fieldsim.model.errors import PlanError
from fieldsim.model.measured import Sheet, SquareTest
from fieldsim.report.words.fit import fit_text
from fieldsim.report.words.fit.file_values import file_values
from fieldsim.studies.unknown import robots, successes

ROBOT = run(Straight(1)).robot


def sheet(*along: float | None, angle: float = 5.0, face: str = "front") -> Sheet:
    return Sheet(tuple(SquareTest(line=n + 2, angle=angle, along=each, face=face) for n, each in enumerate(along)))  # type: ignore[arg-type]


def test_how_far_a_corner_slides_is_the_inverse_gudermannian() -> None:
    """ln(sec a + tan a) = arsinh(tan a). The test robot's front is 110 mm ahead of its axle, its rear 60 mm behind."""
    assert (face_of(ROBOT, "front"), face_of(ROBOT, "rear")) == (110.0, 60.0)
    for angle in (0.5, 5.0, -20.0, 40.0):
        assert slid(110.0, angle) == pytest.approx(110.0 * asinh(tan(radians(abs(angle)))))


@pytest.mark.parametrize(
    ("along", "corner"),
    [
        ((9.0, 10.0, 9.0, 10.0), "slides"),
        ((0.0, 1.0, 0.0, 0.0), "sticks"),
        ((4.0, 6.0, 3.0, 6.0), None),
        ((9.0,), "slides"),
        ((0.0,), "sticks"),
        ((5.0,), None),
        ((0.0, 9.0), None),
    ],
)
def test_what_the_tests_tell(along: tuple[float, ...], corner: str | None) -> None:
    answer = fit(ROBOT, sheet(*along))
    assert answer.squared is not None
    assert answer.squared.corner == corner
    assert answer.squared.slides is not None
    assert answer.squared.slides.value == pytest.approx(np.mean(along) / slid(110.0, 5.0))
    assert believed(Accuracy(), answer).square.corner == corner
    written = file_values(answer, Accuracy()).get(("accuracy", "square", "corner"))
    assert written == corner


def test_nothing_measured_tells_nothing() -> None:
    assert fit(ROBOT, Sheet(())).squared is None
    answer = fit(ROBOT, sheet(None, None))
    assert answer.squared is not None
    assert (answer.squared.tests, answer.squared.slides, answer.squared.corner) == (2, None, None)
    assert "nothing was measured along the wall" in fit_text(answer, "Box", "tests.csv")
    told = fit_text(fit(ROBOT, sheet(9.0, 10.0, 9.0, 10.0)), "Box", "tests.csv")
    assert "the corner that touches first slides along the wall (99 %" in " ".join(told.split())


def test_the_rear_has_its_own_overhang() -> None:
    answer = fit(ROBOT, sheet(5.0, 5.5, 5.0, 5.5, face="rear"))
    assert answer.squared is not None
    assert answer.squared.corner == "slides"


@pytest.mark.parametrize("corner", ["sticks", "slides"])
def test_sheets_read_to_a_millimetre_tell_what_it_is(corner: str) -> None:
    """Angles set give or take a degree, 1 mm steps, marks give or take 0.7 mm: of 200 sheets of 4 tests none is told
    the wrong way, and 8 in 10 are told."""
    luck = np.random.default_rng(3)
    told = []
    for _ in range(200):
        true = [slid(110.0, 5.0 + luck.normal()) * (corner == "slides") for _ in range(4)]
        answer = fit(ROBOT, sheet(*(float(round(each + 0.7 * luck.normal())) for each in true)))
        assert answer.squared is not None
        told.append(answer.squared.corner)
    assert set(told) <= {corner, None}
    assert told.count(corner) >= 160


def test_robots_that_fit_do_either_where_no_test_told() -> None:
    accuracy = Accuracy(between=Between(tests=8, bias=BiasBetween(distance=(0.0, 0.01))))
    drawn = robots(accuracy, 64, 1).accuracies
    assert sum(each.square.corner == "slides" for each in drawn) == 32
    for corner in ("sticks", "slides"):
        told = replace(accuracy, square=replace(accuracy.square, corner=corner))
        assert {each.square.corner for each in robots(told, 64, 1).accuracies} == {corner}


def test_both_kinds_drive_the_same_trials() -> None:
    """A robot tried beside others comes out as it does by itself."""
    made = run(
        Straight(200), Square("front", "right wall", 1500.0), Straight(-300), accuracy=Accuracy(), at=(2500.0, 2000.0),
        heading=4.0,
    )  # fmt: skip
    sticks = replace(made.robot.accuracy, square=replace(made.robot.accuracy.square, corner="sticks"))
    slides = replace(sticks, square=replace(sticks.square, corner="slides"))
    both = successes(made, [sticks, slides], 1, 64)
    for row, accuracy in zip(both, (sticks, slides), strict=True):
        assert np.array_equal(row, successes(made, [accuracy], 1, 64)[0])


# --- what is left, and from how far off it is caught ----------------------------------------------------------------


def left_over(*gaps: tuple[float, float], tape: float = 0.1) -> Sheet:
    return Sheet(
        tuple(
            SquareTest(line=n + 2, angle=5.0, near=near, far=far, side=140.0, tape=tape)
            for n, (near, far) in enumerate(gaps)
        )
    )


def test_what_a_square_leaves_by_hand() -> None:
    """Gaps of 0 and 1 mm over 140 are 0.4093 degrees left, and the middle of the face is 0.5 mm away: both about
    nought, with the chi-square of four readings (0.4844 and 11.143, from tables)."""
    answer = fit(ROBOT, left_over((0.0, 1.0), (1.0, 0.0), (0.0, 1.0), (1.0, 0.0), tape=0.001))
    heading, along = answer.estimates[-2:]
    assert (heading.name, along.name) == ("square.heading", "square.along")
    assert heading.value == pytest.approx(0.4093, abs=1e-4)
    assert along.value == pytest.approx(0.5, abs=1e-4)
    assert (along.low, along.high) == pytest.approx((0.5 * (4 / 11.143) ** 0.5, 0.5 * (4 / 0.4844) ** 0.5), rel=1e-3)
    made = believed(Accuracy(), answer)
    assert (made.square.heading, made.square.along) == pytest.approx((0.4093, 0.5), abs=1e-4)
    assert made.between is not None
    assert made.between.square.along == pytest.approx((along.low, along.high))
    drawn = np.array([each.square.along for each in robots(made, 256, 1).accuracies])
    assert np.mean((along.low < drawn) & (drawn < along.high)) == pytest.approx(0.95, abs=0.02)
    written = file_values(answer, Accuracy())
    assert written["accuracy", "square", "along"] == 0.5
    assert written["accuracy", "between"]["square"]["along"] == [pytest.approx(along.low, abs=0.01),
                                                                   pytest.approx(along.high, abs=0.01)]  # fmt: skip
    assert "square: heading" in fit_text(answer, "Box", "tests.csv")


def test_gaps_of_nothing_leave_an_upper_end() -> None:
    answer = fit(ROBOT, left_over(*[(0.0, 0.0)] * 5, tape=1.0))
    heading, along = answer.estimates[-2:]
    for each in (heading, along):
        assert (each.value, each.low) == (0.0, 0.0)
        assert 0.1 < each.high < 1.0


def test_intervals_of_what_is_left_hold_it() -> None:
    """Of 200 sheets of 6 tests read to 0.1 mm fewer than 180 hold the truth by a chance of 0.002 if 95 in 100 do."""
    luck = np.random.default_rng(1)
    held = 0
    for _ in range(200):
        lean = np.radians(0.3 * luck.standard_normal(6)) * 140.0
        gaps = [(round(max(0.0, -each), 1), round(max(0.0, each), 1)) for each in lean]
        found = squaring(ROBOT, left_over(*gaps).squares)
        assert found is not None
        held += found.numbers[0].low <= 0.3 <= found.numbers[0].high
    assert held >= 180


def test_gaps_belong_together() -> None:
    with pytest.raises(PlanError, match="near, far and side belong together"):
        SquareTest(line=2, angle=5.0, near=0.0)


def test_caught_or_not_needs_both() -> None:
    assert capture([5.0, 10.0], [True, True]) is None
    assert capture([5.0, 10.0], [False, False]) is None
    each = capture([5.0, -10.0, 15.0, 20.0, -25.0, 30.0], [True, True, True, False, False, False])
    assert each is not None
    assert 15.0 < each.value < 20.0
    assert 5.0 < each.low < 15.0
    assert 20.0 < each.high < 30.0


def test_many_tests_find_the_likeliest_curve() -> None:
    """With 400 tests the weights are next to normal about the curve of greatest likelihood (scipy's own search)."""
    luck = np.random.default_rng(2)
    angles = luck.uniform(5, 40, 400)
    caught = luck.random(400) < expit((22.0 - angles) / 2.0)
    sign = np.where(caught, 1.0, -1.0)
    best = minimize(lambda v: -log_expit(sign * (v[0] - angles) / np.exp(v[1])).sum(), [20.0, 0.5])
    each = capture(list(angles), list(caught))
    assert each is not None
    assert each.value == pytest.approx(best.x[0], abs=0.15)
    assert (each.high - each.low) / 2 == pytest.approx(1.96 * best.hess_inv[0, 0] ** 0.5, rel=0.15)


@pytest.mark.parametrize("gradual", [0.5, 2.0, 4.0])
def test_capture_is_held(gradual: float) -> None:
    """200 sheets of 16 tests from 5 to 40 degrees: fewer than 180 by a chance of 0.002 if 95 in 100 hold it."""
    luck = np.random.default_rng(3)
    angles = [5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0] * 2
    held = sheets = 0
    while sheets < 200:
        true = luck.uniform(15.0, 30.0)
        each = capture(angles, list(luck.random(16) < expit((true - np.array(angles)) / gradual)))
        if each is not None:
            sheets += 1
            held += each.low <= true <= each.high
    assert held >= 180


def test_it_is_told_what_to_write() -> None:
    caught = Sheet(tuple(SquareTest(line=n + 2, angle=float(angle), result="pass" if angle < 22 else "fail")
                         for n, angle in enumerate((5, 10, 15, 20, 25, 30, 35))))  # fmt: skip
    text = " ".join(fit_text(fit(ROBOT, caught), "Box", "tests.csv").split())
    assert "4 of 7 swung flat: one in two from about 2" in text
    assert "Write a capture of 1" in text
    assert "all 2 swung flat, from up to 5 degrees off" in fit_text(fit(ROBOT, sheet(None, None)), "Box", "tests.csv")
