"""The room of straights, against the kernel's exact clearance and against small differences."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st
from scenes import ROBOT, scene

from fieldsim.model import Box, Obstacle, Round
from fieldsim.planning.corridors import NEAR, corridors, ground
from fieldsim.sim.kernel.sweep import clearance

near = st.floats(-260.0, 260.0)


@given(
    st.floats(-180.0, 180.0), st.floats(-400.0, 400.0), near, near, st.floats(5.0, 200.0), st.floats(5.0, 200.0),
    st.floats(-90.0, 90.0), st.booleans(),
)  # fmt: skip
def test_gaps_are_those_of_the_kernel(
    heading: float, way: float, dx: float, dy: float, long: float, wide: float, turned: float, is_round: bool
) -> None:
    shape = (
        Round((800.0 + dx, 800.0 + dy), wide / 2) if is_round else Box((800.0 + dx, 800.0 + dy), (long, wide), turned)
    )
    field = scene(size=(1600.0, 1600.0), targets=())
    field = type(field)("f", field.size, obstacles=(Obstacle("thing", shape),))
    floor = ground(field, ROBOT, ())
    pose = np.array([[800.0, 800.0, radians(heading)]])
    room = corridors(floor, pose, np.array([way]), lever=0.0)
    exact = min(
        clearance(floor.parts[0].points, (800.0, 800.0, radians(heading)), way, 0.0, core.points, core.radius)
        for core, owner in zip(floor.cores, floor.owner, strict=True)
        if owner == 0
    )
    if exact == 0.0:
        assert room.gap[0, 0] <= 1e-4
        return
    assert room.tightest[0] == np.float64(min(exact, NEAR)).round(12) or abs(room.tightest[0] - min(exact, NEAR)) < 1e-6


@given(st.floats(-60.0, 60.0), st.floats(100.0, 300.0), st.floats(-25.0, 25.0))
def test_a_gap_moves_with_the_pose_as_its_slope_says(heading: float, ahead: float, aside: float) -> None:
    h = radians(heading)
    at = (800.0 + ahead * cos(h) - (100.0 + aside) * sin(h), 800.0 + ahead * sin(h) + (100.0 + aside) * cos(h))
    field = type(scene())("f", (1600.0, 1600.0), obstacles=(Obstacle("post", Round(at, 5.0)),))
    floor = ground(field, ROBOT, ())
    pose, way = np.array([[800.0, 800.0, h]]), np.array([400.0])
    room = corridors(floor, pose, way, lever=0.0)
    assume(1.0 < room.tightest[0] < NEAR - 5.0)
    n, v = room.normal[0, 0], room.place[0, 0] - pose[0, :2]
    slope = np.array([n[0], n[1], n[1] * v[0] - n[0] * v[1]])
    small = np.array([0.3, -0.2, radians(0.05)])
    moved = corridors(floor, pose + small, way, lever=0.0).tightest[0]
    assert abs(moved - room.tightest[0] - slope @ small) < 0.02
