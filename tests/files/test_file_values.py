"""What good files mean: units, defaults, bounds that also hold for changes in Python, the starter season."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from fieldsim.errors import PlanError, SaveError
from fieldsim.files import load_field, load_robot, load_run, new_season
from fieldsim.model import Body, Box, Drive, Field, Obstacle, Outline, Robot, Run, Spread, StartByEye, Straight, Turn

HERE = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("420", 420.0),
        ("420.5", 420.5),
        ("42 cm", 420.0),
        ("42cm", 420.0),
        ("'42 cm'", 420.0),
        ("1.2 m", 1200.0),
        ("420 mm", 420.0),
        # 25.4 mm are an inch by definition: The International System of Units (SI), NIST Special Publication 330,
        # National Institute of Standards and Technology, 2019, Gaithersburg (value from memory, code M).
        ("16.5 in", 419.1),
    ],
)
def test_lengths(text: str, mm: float, tmp_path: Path) -> None:
    path = tmp_path / "yard.yaml"
    path.write_text(f"field: Yard\nsize: [{text}, 2000]\n")
    assert load_field(path).size == (mm, 2000.0)


def test_other_units_and_defaults(tmp_path: Path) -> None:
    path = tmp_path / "box.yaml"
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
    path = tmp_path / "yard.yaml"
    path.write_text(f"field: Yard\nsize: [1000, 800]\n{walls}")
    assert load_field(path).walls == band


def test_keys_left_out_of_a_spread_keep_the_defaults_of_its_place(tmp_path: Path) -> None:
    (tmp_path / "yard.yaml").write_text(
        "field: Yard\nsize: [1000, 800]\n"
        "jigs: [{name: j, corner: [1, 2], heading: 90, holds: rear left, spread: {along: 9}}]\n"
    )
    (tmp_path / "box.yaml").write_text(
        "robot: Box\nbody: {length: 170, width: 140, axle: 60}\ndrive: {track: 112, wheel: 62}\n"
    )
    run = tmp_path / "run.yaml"
    run.write_text(
        "run: X\nfield: yard.yaml\nrobot: box.yaml\nsegments: [straight: 10]\n"
        "start: {at: [200, 200], heading: 90 deg, spread: {along: 9}}\n"
    )
    loaded = load_run(run)
    assert loaded.start == StartByEye((200.0, 200.0), 90.0, Spread(9.0, 3.0, 1.5))
    assert loaded.field.jigs[0].spread == Spread(9.0, 0.5, 0.3)
    assert loaded.segments == (Straight(10.0),)


def a_run() -> Run:
    return Run(
        "R", Field("Yard", (1000, 800)), Robot("Box", Body(170, 140, 60), Drive(112, 62)),
        StartByEye((200, 200), 0), (Straight(10),),
    )  # fmt: skip


def test_values_made_in_python_meet_the_same_bounds() -> None:
    run = a_run()
    wider = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=150)))
    assert wider.robot.body.width == 150.0
    with pytest.raises(ValueError, match=r"^'width' of the body is 0 mm; accepted: more than 0 mm, up to 2000 mm$"):
        replace(run.robot.body, width=0)
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


def test_a_new_season_loads_and_can_be_written_into_an_empty_folder(tmp_path: Path) -> None:
    made = new_season(tmp_path)
    assert sorted(path.name for path in made) == sorted(path.name for path in tmp_path.iterdir())
    run = load_run(tmp_path / "first-run.yaml")
    assert len(run.segments) == 6
    assert run.field.name == load_field(tmp_path / "yard.yaml").name
    assert run.robot.name == load_robot(tmp_path / "robot.yaml").name


def test_a_new_season_never_takes_the_place_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "robot.yaml").write_text("mine")
    with pytest.raises(SaveError, match="there already"):
        new_season(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["robot.yaml"]
    assert (tmp_path / "robot.yaml").read_text() == "mine"
    with pytest.raises(SaveError):
        new_season(tmp_path / "robot.yaml")
    with pytest.raises(SaveError):
        new_season(tmp_path / "robot.yaml" / "deeper")


@pytest.mark.parametrize("name", ["flour-round", "mill-hatch", "oven-lever", "practice-loop"])
def test_the_demo_runs_load(name: str) -> None:
    run = load_run(HERE / "runs" / "bakery" / f"{name}.yaml")
    assert run.segments
    assert run == replace(run)
