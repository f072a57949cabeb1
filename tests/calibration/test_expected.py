"""A test held against its forecast: by drawing, z is standard normal; a known error is as many deviations off."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest

from fieldsim.calibration.expected import against
from fieldsim.calibration.observed import BIASES
from fieldsim.model import (
    Accuracy,
    Bias,
    Body,
    Drive,
    Field,
    Robot,
    Run,
    Spread,
    StartByEye,
    Straight,
    StraightNoise,
    Systematic,
    TurnNoise,
)
from fieldsim.model.measured import StraightTest, TurnTest
from fieldsim.sim.trials import simulate

ACCURACY = Accuracy(
    bias=Bias(distance=0.004, veer=0.3, turn=0.01),
    day=Systematic(distance=0.002, veer=0.2, turn=0.005),
    straight=StraightNoise(0.8, 1.5, 0.4),
    turn=TurnNoise(0.5, 0.6),
)
ROBOT = Robot("Box", Body(170.0, 140.0, 60.0), Drive(112.0, 62.0), ACCURACY)


def test_what_the_bias_makes_is_no_surprise() -> None:
    """0.4 % of 1000 mm too far; 1 % of 90 degrees too much."""
    straight = StraightTest(line=1, commanded=1000.0, travel=1004.0, photo=0.3, photo_angle=0.1)
    (travel,) = against(ROBOT, straight)
    assert travel.off == pytest.approx(0.0, abs=0.01)
    # The day's 0.2 % of it, the stop, the way's own, which is told for a metre, and two poses of a photo.
    assert travel.spread == pytest.approx(sqrt(2.0**2 + 0.8**2 + 1.5**2 + 2 * 0.3**2), rel=0.02)
    (angle,) = against(ROBOT, TurnTest(line=1, commanded=90.0, angle_read=92.0, photo=0.3, photo_angle=0.1))
    assert angle.off == pytest.approx(1.1, abs=0.01)
    assert angle.spread == pytest.approx(sqrt(0.45**2 + 0.5**2 + 0.6**2 + 2 * 0.1**2), rel=0.02)
    assert angle.z == pytest.approx(angle.off / angle.spread)


def test_left_and_right_turns_apart() -> None:
    robot = replace(ROBOT, accuracy=replace(ACCURACY, bias=Bias(turn=0.01, turn_left=0.03)))
    for commanded, made in ((90.0, 92.7), (-90.0, -90.9)):
        (angle,) = against(robot, TurnTest(line=1, commanded=commanded, angle_read=made, photo=0.3, photo_angle=0.1))
        assert angle.off == pytest.approx(0.0, abs=0.02), BIASES


def test_z_is_what_the_simulation_makes() -> None:
    """2,000 trials of one straight on an open floor, each measured without error: z has mean 0 and variance 1. The
    standard error of a mean of 2,000 is 0.022, of their standard deviation 0.016."""
    run = Run(
        "Test", Field("Floor", (4000.0, 4000.0)), ROBOT, StartByEye((2000.0, 2000.0), 0.0, Spread(0.0, 0.0, 0.0)),
        (Straight(600.0),),
    )  # fmt: skip
    poses = simulate(run, trials=2000, seed=2, threads=1).poses[:, -1]
    told = against(
        ROBOT,
        StraightTest(line=1, commanded=600.0, travel=600.0, sideways=0.0, heading=0.0, photo=1e-6, photo_angle=1e-6),
    )
    read = {"travel": poses[:, 0] - 2600.0, "sideways": poses[:, 1] - 2000.0, "heading": poses[:, 2]}
    for each in told:
        z = (each.off + read[each.reading]) / each.spread
        assert z.mean() == pytest.approx(0.0, abs=0.09), each.reading
        assert z.std() == pytest.approx(1.0, abs=0.07), each.reading
