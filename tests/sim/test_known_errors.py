"""Errors that are the same every time and no share of the way: closed forms, nought changes nothing, taken out."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import run

from fieldsim.model import (
    Accuracy,
    Arc,
    Bias,
    GyroNoise,
    Line,
    Run,
    Segment,
    Sensor,
    Straight,
    StraightNoise,
    Systematic,
    Turn,
    TurnNoise,
    Until,
    value_of,
    with_values,
)
from fieldsim.model.errors import PlanError
from fieldsim.sim.plan import plan, typical_poses
from fieldsim.sim.trials import simulate
from fieldsim.studies.changes import corrected, program_values, with_right_program

NOISE = Accuracy(straight=StraightNoise(0.8, 1.5, 0.4), turn=TurnNoise(0.5, 0.6))


def driven(*segments: Segment, bias: Bias, gyro: bool = False, accuracy: Accuracy | None = None) -> Run:
    made = run(*segments, accuracy=replace(accuracy or Accuracy(), bias=bias))
    drive = replace(made.robot.drive, heading_from="gyro" if gyro else "wheels")
    return replace(made, robot=replace(made.robot, drive=drive))


def end(*segments: Segment, bias: Bias, gyro: bool = False) -> tuple[float, float, float]:
    """How far ahead, to the left and round it ends."""
    x, y, h = typical_poses(driven(*segments, bias=bias, gyro=gyro))[-1]
    return x - 2000.0, y - 2000.0, h


@pytest.mark.parametrize("way", [500.0, -500.0, 20.0])
def test_a_straight_ends_too_late_whichever_way_it_goes(way: float) -> None:
    x, y, h = end(Straight(way), bias=Bias(stop=3.0))
    assert (x, y, h) == pytest.approx((way + np.sign(way) * 3.0, 0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize("angle", [90.0, -90.0, 30.0, -170.0])
def test_a_turn_ends_too_late_whichever_way_it_goes(angle: float) -> None:
    assert end(Turn(angle), bias=Bias(turn_stop=1.5))[2] == pytest.approx(angle + np.sign(angle) * 1.5, abs=1e-9)


def test_a_stop_offset_grows_with_the_speed() -> None:
    """Measured at 200 mm/s and at the drive's own turning speed."""
    assert end(Straight(500, speed=300), bias=Bias(stop=3.0))[0] == pytest.approx(504.5)
    slow = Turn(90, turn_speed=60.0)
    made = driven(slow, bias=Bias(turn_stop=1.5))
    assert typical_poses(made)[-1, 2] == pytest.approx(90 + 1.5 * 60.0 / made.robot.drive.turn_speed)


def test_left_and_right_turns_by_themselves() -> None:
    bias = Bias(turn_left=0.02, turn_right=-0.01)
    assert end(Turn(90), bias=bias)[2] == pytest.approx(91.8)
    assert end(Turn(-90), bias=bias)[2] == pytest.approx(-89.1)
    assert end(Turn(-90), bias=Bias(turn=0.01, turn_left=0.02))[2] == pytest.approx(-90.9)
    # What is written for both ways as one number is the same robot.
    assert end(Turn(90), Arc(60, 300), bias=Bias(turn_left=0.02, turn_right=0.02)) == pytest.approx(
        end(Turn(90), Arc(60, 300), bias=Bias(turn=0.02))
    )


def test_a_pivot_goes_too_far_about_the_wheel_that_stands() -> None:
    """The left wheel is b/2 beside the axle's middle, b the actual track: the same for both ways round."""
    for angle, share in ((90.0, 0.02), (-90.0, -0.01)):
        made = driven(Turn(angle, about="left wheel"), bias=Bias(turn_left=0.02, turn_right=-0.01))
        b = made.robot.drive.track / 1.005
        x, y, h = typical_poses(made)[-1]
        t = radians(angle * (1 + share))
        assert h == pytest.approx(np.degrees(t))
        assert (x - 2000, y - 2000) == pytest.approx((b / 2 * sin(t), b / 2 * (1 - cos(t))), abs=0.01)


def test_an_arc_ends_late_along_itself_and_turns_as_its_side_does() -> None:
    x, y, h = end(Arc(60, 300), bias=Bias(stop=3.0))
    # The last piece has the offset, on its own radius: within 0.01 mm of the circle of 300.
    t = radians(60) + 3.0 / 300.0
    assert h == pytest.approx(np.degrees(t))
    assert (x, y) == pytest.approx((300 * sin(t), 300 * (1 - cos(t))), abs=0.01)
    assert end(Arc(60, 300), bias=Bias(turn_left=0.01, turn_right=-0.02))[2] == pytest.approx(60.6)
    assert end(Arc(-60, 300), bias=Bias(turn_left=0.01, turn_right=-0.02))[2] == pytest.approx(-58.8)


def test_a_gyro_that_reads_too_much_turns_short_and_steers_an_offset_away() -> None:
    assert end(Turn(90), bias=Bias(gyro_scale=0.01), gyro=True)[2] == pytest.approx(90 / 1.01)
    assert end(*[Turn(90)] * 4, bias=Bias(gyro_scale=-0.02), gyro=True)[2] == pytest.approx(360 / 0.98)
    assert end(Turn(90), bias=Bias(turn_stop=1.5), gyro=True)[2] == pytest.approx(91.5)
    assert end(Turn(90), Straight(500), bias=Bias(turn_stop=1.5), gyro=True)[2] == pytest.approx(90.0)
    # By its wheels a robot does not look at its gyro, and by gyro not at what its wheels say of turns.
    assert end(Turn(90), bias=Bias(gyro_scale=0.01))[2] == pytest.approx(90.0)
    assert end(Turn(90), bias=Bias(turn_left=0.05, turn_right=0.01), gyro=True)[2] == pytest.approx(90.0)


def test_what_stops_at_a_line_stops_beyond_it() -> None:
    """The sensor, 80 mm ahead of the axle, sees the line's near edge 390 mm away."""
    made = driven(Straight(1), bias=Bias())
    field = replace(made.field, lines=(Line("kerb", (2400.0, 1500.0), (2400.0, 2500.0), 20.0),))
    found = []
    for over in (0.0, 3.0):
        robot = replace(
            made.robot, sensors=(Sensor("eye", (80.0, 0.0)),), accuracy=Accuracy(bias=Bias(stop=over), edge=0.0)
        )
        looking = replace(made, field=field, robot=robot, segments=(Until("kerb", "eye", 600.0),))
        found.append(typical_poses(looking)[-1, 0])
        # The plan as drawn is of a robot without any error.
        assert plan(looking).nominal.poses[0, -1, 0] == pytest.approx(found[0])
    assert found[1] - found[0] == pytest.approx(3.0)


def test_the_plan_as_drawn_knows_none_of_it() -> None:
    bias = Bias(0.01, 0.3, 0.02, turn_left=0.03, turn_right=-0.01, stop=3.0, turn_stop=1.5, gyro_scale=0.02)
    for gyro in (False, True):
        segments = (Straight(400), Turn(90), Arc(-60, 200), Turn(-45, about="right wheel"))
        drawn = plan(driven(*segments, bias=bias, gyro=gyro)).path
        assert np.array_equal(drawn, plan(driven(*segments, bias=Bias(), gyro=gyro)).path)


def test_nought_changes_no_bit_and_needs_no_draws() -> None:
    """The same trials with and without: what is known is added to what is drawn, not drawn anew."""
    segments = (Straight(400), Turn(90), Straight(300))
    plain = simulate(driven(*segments, bias=Bias(0.004, 0.3, 0.01), accuracy=NOISE), 200, 3).poses
    nought = Bias(0.004, 0.3, 0.01, turn_left=0.01, turn_right=0.01, stop=0.0, turn_stop=0.0, gyro_scale=0.0)
    assert np.array_equal(plain, simulate(driven(*segments, bias=nought, accuracy=NOISE), 200, 3).poses)
    late = simulate(driven(*segments, bias=Bias(0.004, 0.3, 0.01, stop=3.0), accuracy=NOISE), 200, 3).poses
    moved = np.hypot(*(late[:, 1, :2] - plain[:, 1, :2]).T)
    assert moved == pytest.approx(3.0, abs=1e-4)
    assert np.array_equal(late[:, 1, 2], plain[:, 1, 2])


def test_scale_errors_alone_are_a_bias_too() -> None:
    assert Accuracy(bias=Systematic(0.004, 0.3, 0.01)).bias == Bias(0.004, 0.3, 0.01)  # type: ignore[arg-type]
    with pytest.raises(PlanError, match="stop"):
        Bias(stop=500.0)


def test_a_side_that_is_not_told_is_the_turns() -> None:
    accuracy = Accuracy(bias=Bias(turn=0.01, turn_left=0.02))
    assert (value_of(accuracy, "bias.turn_left"), value_of(accuracy, "bias.turn_right")) == (0.02, 0.01)
    assert with_values(accuracy, {"bias.turn_right": 0.7}).bias.turn_right == 0.5
    assert accuracy.bias.moved("turn", 0.25) == Bias(turn=0.26, turn_left=0.27)
    assert accuracy.bias.moved("veer", 0.1) == Bias(veer=0.1, turn=0.01, turn_left=0.02)


shares = st.floats(-0.03, 0.03)


@given(
    bias=st.builds(
        Bias, shares, st.floats(-0.5, 0.5), st.just(0.0), turn_left=shares, turn_right=shares,
        stop=st.floats(-5, 5), turn_stop=st.floats(-2, 2), gyro_scale=shares,
    ),
    gyro=st.booleans(),
)  # fmt: skip
def test_corrected_numbers_bring_it_where_the_run_says(bias: Bias, gyro: bool) -> None:
    """Written to 1 mm and 0.1 degrees: each of three moves is off by half a step, and a straight bends by its veer."""
    segments = (Straight(600), Turn(90), Straight(400), Turn(-60), Straight(300))
    made = driven(*segments, bias=bias, gyro=gyro)
    wanted = typical_poses(driven(*segments, bias=Bias()))[-1]
    change = next(iter(corrected(made)), None)
    got = typical_poses(made if change is None else change.run(made))[-1]
    assert abs(got[2] - wanted[2]) < 0.1 + abs(bias.veer) * 0.35
    assert np.hypot(*(got - wanted)[:2]) < 2.5 + 8.0 * abs(bias.veer)


def test_an_arc_is_corrected_too() -> None:
    made = driven(Arc(60, 300), bias=Bias(turn_left=0.02, turn_right=0.0, stop=3.0))
    (change,) = corrected(made)
    ((_, key, value),) = change.numbers
    assert key == "angle"
    # 3 mm on a radius of 300 are 0.573 degrees.
    assert value == pytest.approx((60 - 0.573) / 1.02, abs=0.06)


def test_the_programs_values_take_out_what_left_and_right_share() -> None:
    made = driven(Turn(90), Turn(-90), bias=Bias(0.004, turn_left=0.03, turn_right=-0.01, stop=3.0))
    values = program_values(made)
    assert values is not None
    assert values[1] == pytest.approx(made.robot.drive.track * 1.004 / 1.01)
    left = with_right_program(made).robot.accuracy.bias
    assert (left.distance, left.middle, left.stop) == pytest.approx((0.0, 0.0, 3.0), abs=1e-12)
    assert left.left == pytest.approx(1.03 / 1.01 - 1)


def test_a_gyros_draws_stand_about_what_it_is_known_to_read() -> None:
    accuracy = Accuracy(gyro=GyroNoise(scale=0.005))
    poses = simulate(driven(Turn(90), bias=Bias(gyro_scale=0.01), gyro=True, accuracy=accuracy), 4000, 1).poses
    # 90/1.01 within four standard errors of a scatter of 0.45 degrees.
    assert poses[:, -1, 2].mean() == pytest.approx(90 / 1.01, abs=4 * 0.45 / 4000**0.5)
