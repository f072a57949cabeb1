"""What good files mean: units and defaults; and the same bounds for values that are made or changed in Python."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest
from small_files import FIELD_FILE, ROBOT_FILE, write

from fieldsim.files import load_field, load_robot, load_run
from fieldsim.model import Body, Box, Drive, Field, Obstacle, Outline, Robot, Run, Spread, StartByEye, Straight, Turn
from fieldsim.model.errors import PlanError
from fieldsim.model.units import ANGLE, LENGTH, MASS, NUMBER, PERCENT, SPEED, TIME, Unit, UnitError, read_quantity


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # 25.4 mm are an inch by definition: The International System of Units (SI), NIST Special Publication 330,
        # National Institute of Standards and Technology, 2019, Gaithersburg (value from memory, code M).
        ("16.5 in", LENGTH, 419.1),
        ("420 mm", LENGTH, 420.0),
        ("42cm", LENGTH, 420.0),
        ("1.2 m", LENGTH, 1200.0),
        (" -.5 mm ", LENGTH, -0.5),
        ("90°", ANGLE, 90.0),
        ("25 cm/s", SPEED, 250.0),
        ("250 ms", TIME, 0.25),
        ("900 g", MASS, 0.9),
        ("0.4 %", PERCENT, 0.004),
    ],
)
def test_units_are_read_exactly(text: str, unit: Unit, value: float) -> None:
    assert read_quantity(text, unit) == value


@pytest.mark.parametrize(
    ("text", "unit", "hint"),
    [
        ("1,5 m", LENGTH, "write 1.5 m, with a point"),
        ("5 MM", LENGTH, "write 5 mm"),
        ("5 kg", LENGTH, "accepted units: mm, cm, m, in"),
        ("5", LENGTH, "write 5 without quotes"),
        ("0.4", PERCENT, "write 0.4 %"),
        ("5 mm", NUMBER, "write the number alone: 5"),
        ("", LENGTH, ""),
        ("1e3 mm", LENGTH, ""),
        ("٣ mm", LENGTH, ""),
        ("9" * 5000 + " mm", LENGTH, ""),
    ],
)
def test_what_is_no_quantity(text: str, unit: Unit, hint: str) -> None:
    with pytest.raises(UnitError) as caught:
        read_quantity(text, unit)
    assert hint in caught.value.hint


@pytest.mark.parametrize(
    ("text", "mm"),
    [("420", 420.0), ("420.5", 420.5), ("42 cm", 420.0), ("'42 cm'", 420.0), ("16.5 in", 419.1)],
)
def test_a_length_in_a_file_is_a_number_or_a_text(text: str, mm: float, tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_text(f"field: Yard\nsize: [{text}, 2000]\n")
    assert load_field(path).size == (mm, 2000.0)


def test_other_units_and_defaults(tmp_path: Path) -> None:
    path = tmp_path / ROBOT_FILE
    path.write_text(
        "robot: Box\nbody: {length: 17 cm, width: 14 cm, axle: 60}\n"
        "drive: {track: 112, wheel: 62, speed: 25 cm/s, turn_speed: 90 deg/s, acceleration: 0.6 m/s^2}\n"
        "accuracy: {bias: {distance: 0.4 %, turn: -1%}, sample: 20 ms, turn_measured_at: 60}\n"
        "weight: {mass: 900 g, at: [1, 2, 3]}\n"
    )
    robot = load_robot(path)
    assert robot.body == Body(170.0, 140.0, 60.0, (0.0, inf))
    assert (robot.drive.speed, robot.drive.turn_speed, robot.drive.acceleration) == (250.0, 90.0, 600.0)
    assert (robot.drive.gear, robot.drive.motor_speed, robot.drive.heading_from) == (1.0, 900.0, "wheels")
    assert robot.accuracy.bias.distance == pytest.approx(0.004, rel=1e-15)
    assert robot.accuracy.bias.turn == pytest.approx(-0.01, rel=1e-15)
    assert (robot.accuracy.sample, robot.accuracy.edge, robot.accuracy.turn_measured_at) == (0.02, 1.0, 60.0)
    assert robot.weight is not None
    assert robot.weight.mass == pytest.approx(0.9, rel=1e-15)


@pytest.mark.parametrize(
    ("walls", "band"), [("walls: none\n", None), ("walls: {height: 7.5 cm}\n", (0.0, 75.0)), ("", (0.0, inf))]
)
def test_walls(walls: str, band: tuple[float, float] | None, tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_text(f"field: Yard\nsize: [1000, 800]\n{walls}")
    assert load_field(path).walls == band


def test_keys_left_out_of_a_spread_keep_the_defaults_of_its_place(tmp_path: Path) -> None:
    run = write(
        tmp_path,
        run=f"run: X\nfield: {FIELD_FILE}\nrobot: {ROBOT_FILE}\nsegments: [straight: 10]\n"
        "start: {at: [200, 200], heading: 90 deg, spread: {along: 9}}\n",
        field="field: Yard\nsize: [1000, 800]\n"
        "jigs: [{name: j, corner: [1, 2], heading: 90, holds: rear left, spread: {along: 9}}]\n",
    )
    loaded = load_run(run)
    assert loaded.start == StartByEye((200.0, 200.0), 90.0, Spread(9.0, 3.0, 1.5))
    assert loaded.field.jigs[0].spread == Spread(9.0, 0.5, 0.3)
    assert loaded.segments == (Straight(10.0),)


# --- made in Python


def a_run() -> Run:
    return Run(
        "R", Field("Yard", (1000, 800)), Robot("Box", Body(170, 140, 60), Drive(112, 62)),
        StartByEye((200, 200), 0), (Straight(10),),
    )  # fmt: skip


def test_a_loaded_run_can_be_changed_and_stays_as_it_was(tmp_path: Path) -> None:
    run = load_run(write(tmp_path))
    wider = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=150)))
    assert (wider.robot.body.width, run.robot.body.width) == (150.0, 140.0)
    assert replace(wider, robot=run.robot) == run
    with pytest.raises(PlanError, match="did you mean 'corner'"):
        replace(run, start="cornr")


def test_values_made_in_python_meet_the_same_bounds() -> None:
    run = a_run()
    with pytest.raises(ValueError, match=r"^'width' of the body is 0 mm; accepted: more than 0 mm, up to 2000 mm$"):
        replace(run.robot.body, width=0)
    with pytest.raises(ValueError, match="must be a length, found the text 'wide'"):
        replace(run.robot.body, width="wide")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="only 170 mm long"):
        replace(run.robot.body, axle=171)
    with pytest.raises(ValueError, match="three times the body's width"):
        replace(run.robot, drive=replace(run.robot.drive, track=421))
    with pytest.raises(ValueError, match="not a jig"):
        replace(run, start="corner")
    with pytest.raises(ValueError, match="but not 0"):
        Turn(0)
    with pytest.raises(ValueError, match="crosses itself"):
        Outline(((0, 0), (10, 10), (10, 0), (0, 10)))
    with pytest.raises(PlanError, match="is the name of a wall"):
        replace(run.field, obstacles=(Obstacle("far wall", Box((5, 5), (2, 2))),))


@pytest.mark.parametrize("bad", [float("nan"), inf, -1.0, 20_001.0, "wide", None, True, [1]])
def test_no_nonsense_gets_into_a_width(bad: object) -> None:
    with pytest.raises(ValueError, match="'width' of the body"):
        replace(a_run().robot.body, width=bad)  # type: ignore[arg-type]


def test_all_that_is_wrong_with_a_value_is_said_at_once() -> None:
    with pytest.raises(PlanError) as caught:
        Body(-1, 0, float("nan"))
    assert len(caught.value.lines) == 3
