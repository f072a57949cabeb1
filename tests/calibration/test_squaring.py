"""Tests of pushing square: whether the corner sticks or slides, by hand and from sheets."""

from __future__ import annotations

from dataclasses import replace
from math import asinh, radians, tan

import numpy as np
import pytest
from plans import run

from fieldsim.calibration.believed import believed
from fieldsim.calibration.fit import fit
from fieldsim.calibration.squaring import face_of, slid
from fieldsim.model import Accuracy, Between, Square, Straight
from fieldsim.model.between import BiasBetween
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
