"""Beliefs against trials, closed forms, and the plain integral."""

from __future__ import annotations

from dataclasses import replace
from math import exp, radians
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenes import CORNER, ROBOT, scene
from scipy.stats import multivariate_normal

from fieldsim.model import Accuracy, GyroNoise, Run, Segment, Square, StartByEye, Straight, Turn
from fieldsim.model.accuracy import SquareNoise, StraightNoise, Systematic, TurnNoise
from fieldsim.model.robot import Robot
from fieldsim.planning import beliefs as belief
from fieldsim.planning.beliefs import Beliefs, noise_of, placed
from fieldsim.sim.motion import held_point, start_pose
from fieldsim.sim.trials import simulate

N = 4000


def followed(run: Run) -> Beliefs:
    """The belief at a run's end, its segments one by one."""
    noise = noise_of(run.robot)
    x, y, h = start_pose(run)
    heading = radians(h)
    spread = run.start.spread if isinstance(run.start, StartByEye) else CORNER.spread
    state = placed(heading, held_point(run), spread)
    for segment in run.segments:
        at, one = np.array([heading]), np.ones(1)
        if isinstance(segment, Turn):
            state = belief.turned(noise, state, radians(segment.angle) * one)
            heading += radians(segment.angle)
        elif isinstance(segment, Straight):
            state = belief.driven(noise, state, at, segment.distance * one)
        elif isinstance(segment, Square):
            # All these squares are pushed with the rear on the left wall, at heading 0.
            way = -(x - run.robot.body.axle)
            state = belief.driven(noise, state, at, way * one)
            state = belief.squared(noise, state, at, -run.robot.body.axle * one)
            x = run.robot.body.axle
        if isinstance(segment, Straight):
            x, y = x + segment.distance * np.cos(heading), y + segment.distance * np.sin(heading)
    return state


def off_from_trials(run: Run) -> float:
    """How far covariances are off from those of trials, at most 1 if luck explains it: a sample's variance is off by a
    share of sqrt(2 / N); five times that, and what is left out of the linear belief (second order), is let pass."""
    trials = simulate(run, N, 11)
    good = trials.ended
    poses = trials.poses[good, -1] * [1.0, 1.0, np.pi / 180]
    seen = np.cov(poses.T)
    told = followed(run).covariance[0]
    scale = np.sqrt(np.outer(np.diag(told), np.diag(told))) + 1e-9
    off = np.abs(seen - told) / scale
    return float(off.max() / (5 * np.sqrt(2 / good.sum()) + 0.02))


def robot_with(**kept: Any) -> Robot:
    return replace(ROBOT, accuracy=replace(ROBOT.accuracy, bias=Systematic(), **kept))


OPEN = scene(size=(3000.0, 3000.0), targets=())
MIDDLE = StartByEye((1500.0, 1500.0), 30.0)


def run_of(robot: Robot, *segments: Segment, start: str | StartByEye = MIDDLE) -> Run:
    return Run("r", OPEN, robot, start, segments)


@settings(max_examples=8)
@given(
    st.floats(0.0, 3.0), st.floats(0.0, 3.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0),
    st.floats(0.0, 0.01), st.floats(0.0, 0.5), st.floats(0.0, 0.01),
    st.lists(st.tuples(st.integers(5, 120), st.integers(-500, -50) | st.integers(50, 500)), min_size=1, max_size=3),
)  # fmt: skip
def test_straights_and_turns_spread_a_pose_as_trials_do(
    stop: float, walk: float, veer: float, turn: float, slip: float, distance: float, bend: float, day_turn: float,
    legs: list[tuple[int, int]],
) -> None:  # fmt: skip
    robot = robot_with(
        straight=StraightNoise(stop, walk, veer), turn=TurnNoise(turn, slip), day=Systematic(distance, bend, day_turn)
    )
    segments = [s for angle, way in legs for s in (Turn(float(angle)), Straight(float(way)))]
    assert off_from_trials(run_of(robot, *segments)) < 1.0


def test_a_gyro_spreads_a_pose_as_trials_do() -> None:
    accuracy = replace(ROBOT.accuracy, bias=Systematic(), gyro=GyroNoise(20.0, 0.01, 0.4))
    robot = replace(ROBOT, accuracy=accuracy, drive=replace(ROBOT.drive, heading_from="gyro"))
    assert (
        off_from_trials(run_of(robot, Straight(400.0), Turn(120.0), Straight(500.0), Turn(-60.0), Straight(300.0)))
        < 1.0
    )


def test_a_square_leaves_what_trials_leave() -> None:
    robot = robot_with(square=SquareNoise(0.4, 0.8))
    start = StartByEye((300.0, 900.0), 90.0)
    segments = (Straight(300.0), Turn(-90.0), Square("rear", "left wall", 400.0), Straight(600.0))
    run = run_of(robot, *segments, start=start)
    assert off_from_trials(run) < 1.0
    # What the day and the turn did to the heading before is gone.
    noise = noise_of(robot)
    flat = followed(replace(run, segments=segments[:3]))
    assert flat.covariance[0, 2, 2] == pytest.approx(noise.face**2)
    assert flat.covariance[0, 0, 0] == pytest.approx(noise.along**2)


def test_two_turns_that_cancel_take_back_what_the_day_did_and_not_what_chance_did() -> None:
    noise = noise_of(robot_with())
    state = Beliefs(np.zeros((1, 3, 3)), np.zeros((1, 3, 3)))
    for turn in (1.0, -1.0):
        state = belief.turned(noise, state, np.array([turn]))
    assert np.abs(state.day).max() == 0.0
    assert state.chance[0, 2, 2] == pytest.approx(2 * (noise.slip**2 + noise.turn_stop**2))


def test_the_chance_of_a_hit_is_the_closed_form_of_a_round_spread() -> None:
    # Rayleigh: 1 - exp(-r^2 / 2 s^2).
    for sd in (2.0, 10.0, 30.0):
        found = belief.hits(np.zeros((1, 2)), sd * sd * np.eye(2)[None], 20.0)[0]
        assert found == pytest.approx(1 - exp(-200.0 / sd**2), abs=5e-5)


@given(st.floats(0.5, 20.0), st.floats(3.0, 20.0), st.floats(-0.9, 0.9), st.floats(-15.0, 15.0), st.floats(-15.0, 15.0))
def test_the_chance_of_a_hit_is_the_integral(a: float, b: float, r: float, mx: float, my: float) -> None:
    spread = np.array([[a * a, r * a * b], [r * a * b, b * b]])
    draws = multivariate_normal((mx, my), spread, seed=3).rvs(20_000)
    seen = (np.hypot(*draws.T) < 20.0).mean()
    told = belief.hits(np.array([[mx, my]]), spread[None], 20.0)[0]
    # Five standard errors of the share that is seen.
    assert abs(told - seen) < 5 * np.sqrt(told * (1 - told) / 20_000) + 2e-3


def test_a_perfect_robot_is_where_it_is_planned() -> None:
    noise = noise_of(replace(ROBOT, accuracy=Accuracy(square=SquareNoise(0.0, 0.0))))
    state = Beliefs(np.zeros((1, 3, 3)), np.zeros((1, 3, 3)))
    state = belief.driven(noise, belief.turned(noise, state, np.ones(1)), np.ones(1), np.array([500.0]))
    assert np.abs(state.covariance).max() == 0.0
