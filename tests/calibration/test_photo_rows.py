"""Tests measured from photos: their own measuring error takes the place of the tape's and protractor's steps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fieldsim.calibration.fit import fit
from fieldsim.calibration.observed import observed
from fieldsim.calibration.standing import placing
from fieldsim.files import load_robot
from fieldsim.files.sheets import load_sheet
from fieldsim.model.errors import FileError
from fieldsim.model.measured import PlacingTest, Sheet, SquarePathTest, StraightTest, TurnTest

ROBOT = load_robot(Path(__file__).parents[2] / "runs" / "bakery" / "box-one.yaml")
PHOTO = {"photo": 0.6, "photo_angle": 0.1}


def test_a_pose_change_has_the_errors_of_two_poses() -> None:
    """By drawing: poses before and after, each off by what the photo tells; the change told in the frame of the pose
    before, as a sheet does."""
    way = np.array([800.0, 0.0])
    rng = np.random.default_rng(4)
    before, after = rng.normal(size=(2, 40_000, 3)) * [0.6, 0.6, np.radians(0.1)]
    moved = way + after[:, :2] - before[:, :2]
    c, s = np.cos(before[:, 2]), np.sin(before[:, 2])
    readings = np.stack(
        [
            moved[:, 0] * c + moved[:, 1] * s,
            moved[:, 1] * c - moved[:, 0] * s,
            np.degrees(after[:, 2] - before[:, 2]),
        ],
        axis=1,
    )
    test = StraightTest(line=1, commanded=800.0, travel=800.0, sideways=0.0, heading=0.0, **PHOTO)
    seen = observed(ROBOT, test)
    assert seen.words == ("travel", "sideways", "heading")
    assert seen.reading == pytest.approx(readings.var(axis=0), rel=0.03)
    assert "tape" not in seen.parts
    assert not seen.rounded


def test_turns_and_square_paths_likewise() -> None:
    turn = observed(ROBOT, TurnTest(line=1, commanded=90.0, angle_read=91.0, **PHOTO))
    assert turn.reading == pytest.approx([2 * 0.1**2])
    path = SquarePathTest(line=1, side=500.0, direction="cw", return_x=3.0, return_y=-2.0, heading=0.5, **PHOTO)
    assert observed(ROBOT, path).reading == pytest.approx([0.72, 0.72, 0.02])


def test_a_placing_is_one_pose() -> None:
    """What scatters more than the photo's own error is the hand's: 0.5 of 0.8 taken away squared leaves 0.62."""
    along = 0.8 * np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0]) / np.sqrt(6 / 5)
    tests = [
        PlacingTest(line=n, along=float(x), across=0.0, photo=0.5, photo_angle=0.1) for n, x in enumerate(along, 1)
    ]
    (spread, *_) = placing("by eye", tests).spread
    assert spread.name == "along"
    assert spread.value == pytest.approx((0.8**2 - 0.5**2) ** 0.5)


def test_mixed_sheets_are_fitted_and_exact_rows_weigh_more() -> None:
    """The same straights read by a coarse tape, and some of them by photo: the interval of what is the same every time
    can only shrink, and the photo's rows, which say 5 mm more, pull the estimate to them."""
    rng = np.random.default_rng(1)
    driven = [1004.0 + 8.0 * float(z) for z in rng.normal(size=10)]
    coarse = [
        StraightTest(line=n, commanded=1000.0, travel=5 * round(x / 5), tape=10.0) for n, x in enumerate(driven, 1)
    ]
    fine = [StraightTest(line=n, commanded=1000.0, travel=x + 5.0, photo=0.3, photo_angle=0.1)
            for n, x in enumerate(driven, 11)]  # fmt: skip
    alone = fit(ROBOT, Sheet(tuple(coarse))).value("bias.distance")
    mixed = fit(ROBOT, Sheet((*coarse, *fine))).value("bias.distance")
    photos = fit(ROBOT, Sheet(tuple(fine))).value("bias.distance")
    assert alone is not None
    assert mixed is not None
    assert photos is not None
    assert alone < mixed < photos
    assert photos - mixed < mixed - alone


def test_a_sheet_brings_them_and_asks_for_both_errors(tmp_path: Path) -> None:
    file = tmp_path / "tests.csv"
    file.write_text(
        "test,commanded mm,travel mm,sideways mm,heading deg,photo mm,photo deg\n"
        "straight,800,803.41,-2.17,0.113,0.62,0.083\n",
        encoding="utf-8",
    )
    sheet = load_sheet(file)
    (test,) = sheet.straights
    assert (test.photo, test.photo_angle) == (0.62, 0.083)
    # Digits of a photo are no steps of a tape.
    assert sheet.notes == ()
    file.write_text("test,commanded deg,angle deg,photo mm,photo deg\nturn,90,91,0.6,\n", encoding="utf-8")
    with pytest.raises(FileError) as wrong:
        load_sheet(file)
    (problem,) = wrong.value.problems
    assert problem.message == "'photo deg' is empty, but the place is from a photo"
