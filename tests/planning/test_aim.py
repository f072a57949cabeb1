"""Aim: where the tool lands and what brings it there, against closed forms and a reference of complex numbers."""

from __future__ import annotations

import cmath
from dataclasses import replace
from math import asin, atan2, degrees, hypot, radians, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import TYPICAL, open_floor, run

from fieldsim import load_run
from fieldsim.model import Accuracy, Act, Attachment, Run, Straight, Systematic, Target, Turn
from fieldsim.model.errors import PlanError
from fieldsim.planning.aim import AimAnswer, AimWayAnswer, aim
from fieldsim.planning.numbers import Step, StepError, meant, step_of
from fieldsim.report.statement import statement_text
from fieldsim.report.words.aim import aim_statement

# The tool point of the test robot is 110 mm ahead of the axle.
TOOL = 110.0
FINE = Step(0.001, 0.001)


def to(target: Target, *segments: object, accuracy: Accuracy | None = None, **rest: object) -> Run:
    floor = replace(open_floor((6000.0, 6000.0)), targets=(target,))
    return run(
        *segments, at=(3000.0, 3000.0), field=floor, accuracy=accuracy or Accuracy(), **rest  # type: ignore[arg-type]
    )  # fmt: skip


def way(answer: AimAnswer, *keys: str, kind: str = "change") -> AimWayAnswer:
    return next(each for each in answer.ways if each.kind == kind and tuple(n.key for n in each.numbers) == keys)


def test_how_far_off_it_lands_is_told_as_the_robot_sees_it() -> None:
    """It looks to the far wall at the end, so a target 12 mm farther in y and 28 mm to the right in x is missed 12 mm
    short and 28 mm too far to the left."""
    bell = Target("bell", (3500.0 + 28.0, 3000.0 + 300.0 + TOOL + 12.0), within=50.0)
    answer = aim(to(bell, Straight(500), Turn(90), Straight(300)), "bell", trials=4).answer
    for landing in (answer.planned, answer.middle):
        assert landing is not None
        assert (landing.ahead, landing.left) == pytest.approx((-12.0, 28.0), abs=1e-6)
        assert landing.away == pytest.approx(hypot(12, 28))
        assert landing.heading == pytest.approx(90.0)
    assert "12 mm short and 28 mm too far to the left" in statement_text(aim_statement(answer))


def test_the_last_straight_alone_is_longer_by_what_is_missing() -> None:
    bell = Target("bell", (3500.0, 3000.0 + 300.0 + TOOL + 12.0), within=8.0)
    answer = aim(to(bell, Straight(500), Turn(90), Straight(300)), "bell", trials=4).answer
    found = way(answer, "straight")
    assert found.what == "segment 3 'straight: 312'"
    assert found.leaves.away == pytest.approx(0.0, abs=1e-6)
    assert found.in_place.share == 1.0


@pytest.mark.parametrize(("distance", "turn", "veer"), [(0.0, 0.0, 0.0), (0.02, 0.03, 0.0), (-0.01, -0.02, 1.5)])
def test_turn_and_distance_from_the_end_are_those_of_the_triangle(distance: float, turn: float, veer: float) -> None:
    """From (3000, 3000), looking along x, to a target at bearing b and distance r with the tool on the middle line:
    turn b, drive r - 110. Typed: each over one plus its bias; a veer of v bends the straight into an arc of v s
    degrees, whose chord points half of that to the side, and the tool's arm all of it."""
    bell = Target("bell", (3000.0 + 900.0, 3000.0 + 500.0), within=5.0)
    made = to(bell, Straight(1e-6), accuracy=Accuracy(bias=Systematic(distance, veer, turn)))
    found = way(aim(made, "bell", trials=4, step=FINE).answer, "turn", "straight", kind="add")
    angle, straight = found.numbers
    if not veer:
        assert angle.wanted == pytest.approx(degrees(atan2(500, 900)), abs=2e-3)
        assert straight.wanted == pytest.approx(hypot(900, 500) - TOOL, abs=2e-3)
    assert angle.typed == pytest.approx(angle.wanted / (1 + turn), abs=2e-3)
    assert straight.typed == pytest.approx(straight.wanted / (1 + distance), abs=2e-3)
    # By another road: heading as a complex number, the straight's arc as its chord.
    heading = radians(angle.typed * (1 + turn))
    way_driven, bend = straight.typed * (1 + distance), radians(veer / 1000.0) * straight.typed
    chord = way_driven if not bend else way_driven * 2 * cmath.sin(bend / 2).real / bend
    axle = 3000 + 3000j + cmath.rect(chord, heading + bend / 2)
    assert abs(axle + cmath.rect(TOOL, heading + bend) - (3900 + 3500j)) < 0.05


def test_a_tool_to_the_side_aims_past_the_target() -> None:
    """With the tool 40 mm to the left of the middle line the robot looks asin(40/r) to the right of the bearing."""
    bell = Target("bell", (3000.0 + 800.0, 3000.0), within=5.0)
    made = to(bell, Straight(1e-6))
    arm = Attachment("arm", ((100, 30), (150, 30), (150, 50), (100, 50)), height=(10.0, 40.0), tool=(140.0, 40.0))
    made = replace(made, robot=replace(made.robot, attachments=(arm,)), wear=("arm",))
    angle, straight = way(aim(made, "bell", trials=4, step=FINE).answer, "turn", "straight", kind="add").numbers
    assert angle.typed == pytest.approx(-degrees(asin(40 / 800)), abs=2e-3)
    assert straight.typed == pytest.approx(sqrt(800**2 - 40**2) - 140.0, abs=2e-3)


def test_a_target_nearer_than_the_tool_stands_out_has_no_way_but_is_no_mistake() -> None:
    bell = Target("bell", (3010.0, 3000.0), within=5.0)
    arm = Attachment("arm", ((100, 30), (150, 30), (150, 50), (100, 50)), height=(10.0, 40.0), tool=(140.0, 40.0))
    made = to(bell, Straight(1e-6))
    made = replace(made, robot=replace(made.robot, attachments=(arm,)), wear=("arm",))
    answer = aim(made, "bell", trials=4).answer
    assert not any(each.kind == "add" for each in answer.ways)
    assert "change the way to it" in statement_text(aim_statement(answer))


def test_a_target_that_asks_for_a_heading_is_met_with_two_turns() -> None:
    bell = Target("bell", (3800.0, 3400.0), within=8.0, heading=90.0, heading_within=5.0)
    answer = aim(to(bell, Straight(10)), "bell", trials=4).answer
    found = way(answer, "turn", "straight", "turn", kind="add")
    assert found.leaves.turned == pytest.approx(0.0, abs=0.51)
    assert found.in_place.share == 1.0
    # It has to stand 110 mm before the target, looking along y.
    first, straight, last = found.numbers
    assert first.wanted == pytest.approx(degrees(atan2(400 - TOOL, 790)), abs=0.01)
    assert straight.wanted == pytest.approx(hypot(790, 400 - TOOL), abs=0.01)
    assert first.wanted + last.wanted == pytest.approx(90.0, abs=0.01)


@settings(max_examples=15, deadline=None)
@given(
    x=st.floats(300, 1500), y=st.floats(-1200, 1200), turn=st.floats(-100, 100), straight=st.floats(50, 600),
    bias=st.floats(-0.03, 0.03),
)  # fmt: skip
def test_what_is_typed_brings_it_there_from_anywhere(
    x: float, y: float, turn: float, straight: float, bias: float
) -> None:
    bell = Target("bell", (3000.0 + x, 3000.0 + y), within=5.0)
    made = to(
        bell, Straight(straight), Turn(turn or 1.0), Straight(120.0),
        accuracy=Accuracy(bias=Systematic(bias, 0.3, -bias)),
    )  # fmt: skip
    added = [each for each in aim(made, "bell", trials=2).answer.ways if each.kind == "add"]
    # Half a step of 0.5 degrees on at most 2.5 m, and half a millimetre.
    assert all(each.leaves.away < radians(0.25) * 2500 + 1.0 for each in added)
    assert added


def test_it_looks_at_the_runs_own_act_and_numbers_count_from_there() -> None:
    bell = Target("bell", (3000.0 + 400.0 + TOOL + 5.0, 3000.0), within=3.0)
    made = to(bell, Straight(400), Act("bell"), Straight(-200))
    answer = aim(made, "bell", trials=4).answer
    assert answer.segment == 2
    assert answer.in_place.share == 0.0
    assert way(answer, "straight").what == "segment 1 'straight: 405'"
    assert way(answer, "straight").in_place.share == 1.0
    assert way(answer, "straight", kind="add").what == "after segment 1 'straight: 5'"


def test_the_middle_of_the_trials_allows_for_bias_and_the_plan_does_not() -> None:
    bell = Target("bell", (3000.0 + 1000.0 + TOOL, 3000.0), within=20.0)
    answer = aim(to(bell, Straight(1000), accuracy=TYPICAL), "bell", trials=1000).answer
    assert answer.planned.away == pytest.approx(0.0, abs=1e-9)
    assert answer.middle is not None
    # 0.4 % of 1000 mm; 0.3 degrees of veer over a metre: half of it over the way, all of it over the tool's arm.
    assert answer.middle.ahead == pytest.approx(4.0, abs=0.3)
    assert answer.middle.left == pytest.approx(radians(0.15) * 1000 + radians(0.3) * TOOL, abs=0.8)


def test_no_such_target_is_said_with_those_there_are() -> None:
    with pytest.raises(PlanError, match=r"did you mean 'lever'\?.*flour lid"):
        aim(load_run("runs/bakery/oven-lever.yaml"), "lver")


@pytest.mark.parametrize("text", ["", "1", "mm", "0mm", "1mm,2mm", "1cm", "-1mm", "1mm;1deg", "500mm"])
def test_steps_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(StepError):
        step_of(text)


def test_steps_are_read() -> None:
    assert step_of("2mm") == Step(2.0, 0.5)
    assert step_of("1deg, 5mm") == Step(5.0, 1.0)
    assert Step(1.0, 0.5).nearest("angle", -89.2) == -89.0


def test_what_the_robot_makes_of_a_number() -> None:
    robot = to(Target("bell", (1.0, 1.0), within=1.0), Straight(1), accuracy=TYPICAL).robot
    assert meant(robot, Straight(1000.0), "distance") == pytest.approx(1004.0)
    assert meant(robot, Turn(-89.0), "angle") == pytest.approx(-89.89)
    assert meant(replace(robot, drive=replace(robot.drive, heading_from="gyro")), Turn(-89.0), "angle") == -89.0
