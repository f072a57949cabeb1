"""Stop errors grow with a power of the speed: in proportion where nothing is told, by the robot's own where it is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plans import run

from fieldsim.model import Accuracy, Bias, Robot, Straight, StraightNoise, Turn, TurnNoise
from fieldsim.planning.beliefs import noise_of
from fieldsim.sim.stops import at_speed, late
from fieldsim.sim.trials import simulate


def robot_of(straight: float | None, turn: float | None) -> Robot:
    accuracy = Accuracy(
        straight=StraightNoise(stop=2.0, grows=straight), turn=TurnNoise(stop=1.0, grows=turn), measured_at=200.0,
        turn_measured_at=90.0, bias=Bias(stop=3.0, turn_stop=1.5),
    )  # fmt: skip
    return run(Straight(300.0), accuracy=accuracy).robot


@pytest.mark.parametrize(("grows", "by"), [(None, 0.5), (1.0, 0.5), (0.0, 1.0), (2.0, 0.25)])
def test_half_the_speed(grows: float | None, by: float) -> None:
    robot = robot_of(grows, grows)
    assert at_speed(2.0, Straight(300.0, speed=100.0), robot) == pytest.approx(2.0 * by)
    assert at_speed(1.0, Turn(90.0, turn_speed=45.0), robot) == pytest.approx(by)
    # What is the same every time goes in proportion, whatever the power.
    assert late(Straight(300.0, speed=100.0), robot) == pytest.approx(1.5)
    assert late(Turn(-90.0, turn_speed=45.0), robot) == pytest.approx(-0.75)


def test_trials_scatter_by_it() -> None:
    there = run(Straight(300.0, speed=50.0), accuracy=Accuracy(straight=StraightNoise(stop=4.0, grows=2.0)))
    ends = simulate(there, 4000).poses[:, -1, 0]
    # 4 mm at 200 mm/s is a sixteenth at a quarter of the speed; five standard errors of a standard deviation.
    assert ends.std() == pytest.approx(0.25, rel=5 / (2 * 4000) ** 0.5)


def test_the_way_search_believes_the_same() -> None:
    robot = robot_of(2.0, 0.5)
    drive = replace(robot.drive, speed=100.0, turn_speed=45.0)
    noise = noise_of(replace(robot, drive=drive))
    assert noise.stop == pytest.approx(2.0 * (noise.speed / 200.0) ** 2)
    assert noise.turn_stop == pytest.approx(0.5**0.5 * 3.141592653589793 / 180)
