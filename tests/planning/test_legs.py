"""Ways written as runs: the known bias is taken out, and numbers are such as a team types."""

from __future__ import annotations

from dataclasses import replace
from math import cos, degrees, hypot, radians, sin

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scenes import ROBOT, scene

from fieldsim.model import Accuracy, Square, StartByEye, Straight, Turn
from fieldsim.model.accuracy import Systematic
from fieldsim.planning.legs import Leg, Task, Way, written
from fieldsim.planning.places import ACT, GO, PUSH, Side
from fieldsim.sim.endings import tool_point
from fieldsim.sim.plan import typical_poses

FIELD = scene(size=(3000.0, 3000.0))
places = st.tuples(st.floats(600.0, 2400.0), st.floats(600.0, 2400.0))


@given(
    st.floats(-0.03, 0.03), st.floats(-3.0, 3.0), st.floats(-0.05, 0.05), st.lists(places, min_size=1, max_size=5),
    st.booleans(),
)  # fmt: skip
def test_the_bias_is_taken_out_and_rounding_does_not_add_up(
    distance: float, veer: float, turn: float, ways: list[tuple[float, float]], backwards: bool
) -> None:
    robot = replace(ROBOT, accuracy=Accuracy(bias=Systematic(distance, veer, turn)))
    start = StartByEye((1500.0, 1500.0), 20.0)
    task = Task(FIELD, robot, (), (start,), ("bell",), None)
    here, legs = np.array(start.at), []
    for way in ways:
        if hypot(*(np.array(way) - here)) < 100.0:
            continue
        legs.append(Leg(GO, backwards, at=way))
        here = np.array(way)
    legs.append(Leg(ACT, False, target=FIELD.targets[0]))
    run = written(task, Way(start, tuple(legs)))
    for segment in run.segments:
        if isinstance(segment, Turn):
            assert segment.angle * 2 == round(segment.angle * 2)
        if isinstance(segment, Straight):
            assert segment.distance == round(segment.distance)
    x, y, h = typical_poses(run)[-1]
    tx, ty = tool_point(robot, ())
    c, s = cos(radians(h)), sin(radians(h))
    off = hypot(x + c * tx - s * ty - FIELD.targets[0].at[0], y + s * tx + c * ty - FIELD.targets[0].at[1])
    last = hypot(*(np.array(FIELD.targets[0].at) - here))
    # Half a step of a turn and of a straight, over the last straight alone.
    assert off < 0.5 + radians(0.25 * (1 + abs(turn))) * last * 1.05 + 0.002 * last * abs(veer) + 0.3


def test_a_square_is_written_with_reach_to_spare_and_ends_flush() -> None:
    start = StartByEye((900.0, 1500.0), 0.0)
    task = Task(FIELD, ROBOT, (), (start,), ("bell",), None)
    side = Side("left wall", 0, (0.0, 3000.0), (0.0, -1.0), 3000.0, (1.0, 0.0), "rear", -60.0, -70.0, 70.0)
    run = written(task, Way(start, (Leg(PUSH, True, side=side),)))
    (square,) = run.segments
    assert isinstance(square, Square)
    assert square.reach == 910.0
    x, _, h = typical_poses(run)[-1]
    assert abs(x - 60.0) < 1e-6
    assert abs(degrees(radians(h))) < 1e-6
