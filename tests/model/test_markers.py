"""Printed markers of fields and robots, in values and in files."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldsim.files import load_field, load_robot
from fieldsim.model import Field, Marker, RobotMarker
from fieldsim.model.errors import FileError, PlanError

FIELD = "field: Board\nsize: [1000, 800]\nmarkers:\n  - {number: 1, size: 80, at: [60, 70]}\n"
ROBOT = (
    "robot: Box\nbody: {length: 170, width: 140, axle: 60}\ndrive: {track: 112, wheel: 62}\n"
    "marker: {number: 9, size: 60, at: [10, 0]}\n"
)


def test_files_bring_them_with_what_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "field.yaml").write_text(FIELD, encoding="utf-8")
    (tmp_path / "robot.yaml").write_text(ROBOT, encoding="utf-8")
    assert load_field(tmp_path / "field.yaml").markers == (Marker(1, 80.0, (60.0, 70.0), 90.0, 0.0, 1.0),)
    assert load_robot(tmp_path / "robot.yaml").marker == RobotMarker(9, 60.0, (10.0, 0.0), 0.0, None)


def test_two_with_the_same_number_are_named_with_their_place(tmp_path: Path) -> None:
    (tmp_path / "field.yaml").write_text(FIELD + "  - {number: 1, size: 80, at: [900, 70]}\n", encoding="utf-8")
    with pytest.raises(FileError) as wrong:
        load_field(tmp_path / "field.yaml")
    (problem,) = wrong.value.problems
    assert (problem.line, problem.message) == (5, "'number' of the marker is 1, like another marker's")


@pytest.mark.parametrize("number", [0, 1.5, 50])
def test_only_numbers_that_are_printed(number: float) -> None:
    with pytest.raises(PlanError, match="number"):
        Marker(number, 80.0, (0.0, 0.0))


def test_beside_the_field_is_a_place_and_far_off_is_none() -> None:
    Field("Board", (1000.0, 800.0), markers=(Marker(1, 80.0, (-100.0, -100.0)),))
    with pytest.raises(PlanError, match="far from the field"):
        Field("Board", (1000.0, 800.0), markers=(Marker(1, 80.0, (9000.0, 100.0)),))
