"""Where a place dragged near to something is drawn to: by hand, and never farther than the reach."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import pytest
from examples import examples
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from fieldsim.model import (
    Body,
    Box,
    Drive,
    Field,
    Jig,
    Line,
    Obstacle,
    Outline,
    Robot,
    Round,
    Run,
    StartByEye,
    Target,
    Wait,
)
from fieldsim.sim.motion import start_pose, wrapped
from fieldsim.sim.shapes import body_corners
from fieldsim.window.dials import Refused
from fieldsim.window.field.grips import grip, place_of
from fieldsim.window.field.things import Handle
from fieldsim.window.run.edits import start_at_jig, start_by_eye
from fieldsim.window.snapping import Guide, SnappedAngle, SnappedPoint, snap_angle, snap_point, snap_start, snap_thing

Point = tuple[float, float]

# All invented.
FIELD = Field(
    "Yard",
    (2000.0, 1000.0),
    (0.0, 75.0),
    obstacles=(
        Obstacle("crate", Box((700.0, 500.0), (100.0, 60.0))),
        Obstacle("ramp", Box((1400.0, 300.0), (200.0, 100.0), 45.0)),
        Obstacle("bin", Round((1200.0, 600.0), 50.0)),
        Obstacle("wedge", Outline(((300.0, 700.0), (400.0, 700.0), (300.0, 780.0)))),
    ),
    jigs=(Jig("block", (60.0, 0.0), 90.0, "rear left"), Jig("rail", (260.0, 0.0), 90.0, "rear right")),
    lines=(Line("kerb", (900.0, 100.0), (900.0, 900.0)),),
    targets=(Target("lever", (1523.0, 817.0), 8.0),),
)
RUN = Run(
    "Round",
    FIELD,
    Robot("Box", Body(170.0, 140.0, 60.0), Drive(112.0, 62.0)),
    StartByEye((1000.0, 500.0), 90.0),
    (Wait(1.0),),
)
CRATE, RAMP, BIN, WEDGE, KERB = (*(Handle("obstacle", n) for n in range(4)), Handle("line", 0))
POINT = st.tuples(st.floats(-50.0, 2050.0), st.floats(-50.0, 1050.0))


# --- points


@pytest.mark.parametrize(
    ("point", "at", "said"),
    [
        ((746.0, 532.0), (750.0, 530.0), "a corner of crate"),
        ((703.0, 498.0), (700.0, 500.0), "the middle of crate"),
        ((57.0, 4.0), (60.0, 0.0), "jig block"),
        ((1520.0, 820.0), (1523.0, 817.0), "target lever"),
        ((902.0, 897.0), (900.0, 900.0), "an end of kerb"),
        ((1996.0, 4.0), (2000.0, 0.0), "the corner of the field"),
        ((1204.0, 604.0), (1200.0, 600.0), "the middle of bin"),
        # On the wall, in line with nothing: the other number is whole.
        ((4.0, 250.4), (0.0, 250.0), "on the left wall"),
        ((1050.4, 996.0), (1050.0, 1000.0), "on the far wall"),
        # The seams of the crate lie along x and y: the other number is free.
        ((723.3, 527.0), (723.0, 530.0), "on the edge of crate"),
        ((903.0, 650.4), (900.0, 650.0), "on kerb"),
        # In line with the crate's right side, far above it, and with the bin's middle.
        ((753.0, 880.4), (750.0, 880.0), "in line with crate"),
        ((1050.4, 603.0), (1050.0, 600.0), "in line with bin"),
        ((753.0, 603.0), (750.0, 600.0), "in line with crate and in line with bin"),
        ((1050.4, 250.3), (1050.0, 250.0), ""),
    ],
)
def test_points_by_hand(point: Point, at: Point, said: str) -> None:
    found = snap_point(point, FIELD, 6.0)
    assert (found.at, found.words) == (at, said)
    assert bool(found.guides) == bool(said)
    assert snap_point(point, FIELD, 6.0, on=False) == SnappedPoint(point)


def test_an_edge_that_is_turned_draws_the_foot() -> None:
    """The wedge's long side goes from [400, 700] to [300, 780]; 4 mm out from its middle is drawn back to it."""
    long = hypot(100.0, 80.0)
    found = snap_point((350.0 + 4.0 * 80.0 / long, 740.0 + 4.0 * 100.0 / long), FIELD, 6.0)
    assert found.at == pytest.approx((350.0, 740.0))
    assert found.words == "on the edge of wedge"
    assert found.guides == (Guide((400.0, 700.0), (300.0, 780.0)),)


def test_the_corner_of_what_is_turned_draws_but_nothing_is_in_line_with_it() -> None:
    # The ramp's leftmost corner: (-100, 50) turned by 45 degrees is [-106.066, -35.355].
    corner = (1400.0 - 106.066, 300.0 - 35.355)
    assert snap_point((corner[0] - 3.0, corner[1] + 2.0), FIELD, 6.0).at == pytest.approx(corner, abs=0.001)
    assert snap_point((1293.0, 850.3), FIELD, 6.0).words == ""


def test_the_nearest_to_be_in_line_with_wins_whatever_comes_first() -> None:
    near, far = Target("near", (1600.0, 200.0), 8.0), Target("far", (1604.0, 200.0), 8.0)
    for targets in ((near, far), (far, near)):
        assert snap_point((1601.0, 880.4), replace(FIELD, targets=targets), 6.0).words == "in line with near"
    # At the same distance, the wall is more telling.
    by_the_wall = replace(FIELD, targets=(Target("edge", (2.0, 200.0), 1.0),))
    assert snap_point((1.0, 880.4), by_the_wall, 6.0).words == "on the left wall"


def test_guides_lead_from_what_was_meant() -> None:
    (guide,) = snap_point((753.0, 880.4), FIELD, 6.0).guides
    assert guide.start[0] == guide.end[0] == 750.0
    assert guide.start in ((750.0, 470.0), (750.0, 530.0))
    assert guide.end == (750.0, 880.0)
    (wall,) = snap_point((4.0, 250.4), FIELD, 6.0).guides
    assert wall == Guide((0.0, 0.0), (0.0, 1000.0))


def test_grid_and_whole_numbers() -> None:
    assert snap_point((1046.0, 253.0), FIELD, 6.0, grid=50.0) == SnappedPoint(
        (1050.0, 250.0), "x on the grid and y on the grid"
    )
    assert snap_point((1030.2, 253.0), FIELD, 6.0, grid=50.0) == SnappedPoint((1030.0, 250.0), "y on the grid")
    assert snap_point((1032.6, 272.4), FIELD, 6.0, whole=5.0).at == (1035.0, 270.0)
    assert snap_point((1032.6123, 272.4), FIELD, 6.0, whole=0.0).at == (1032.612, 272.4)


@settings(max_examples=examples(150))
@given(POINT, st.floats(0.5, 25.0))
def test_nothing_is_drawn_farther_than_the_reach(point: Point, reach: float) -> None:
    found = snap_point(point, FIELD, reach)
    most = max(reach, 0.5) + 0.002
    assert abs(found.at[0] - point[0]) <= most
    assert abs(found.at[1] - point[1]) <= most
    assert bool(found.words) == bool(found.guides)


@settings(max_examples=examples(60))
@given(st.sampled_from([CRATE, RAMP, BIN, WEDGE, KERB]), st.data())
def test_a_thing_is_not_drawn_to_itself(handle: Handle, data: st.DataObject) -> None:
    x, y = place_of(FIELD, handle)
    by = data.draw(st.floats(-5.0, 5.0))
    found = snap_point((x + by, y), FIELD, 6.0, skip=handle)
    thing = getattr(FIELD, "lines" if handle.kind == "line" else "obstacles")[handle.index]
    assert thing.name not in found.words


# --- things


def test_a_thing_is_drawn_by_its_sides() -> None:
    """The crate is 100 wide: with its middle at 53 its left side is 3 mm off the left wall."""
    found = snap_thing(FIELD, CRATE, (53.0, 250.4), 6.0)
    assert (found.at, found.words) == ((50.0, 250.0), "on the left wall")
    moved = grip(FIELD, CRATE, found.at)
    assert not isinstance(moved, Refused)
    assert moved.obstacles[0].shape == Box((50.0, 250.0), (100.0, 60.0))
    # The bin, 50 in radius, beside the crate's right side at 750.
    assert snap_thing(FIELD, BIN, (803.0, 880.4), 6.0).at == (800.0, 880.0)
    # Its top in line with the crate's top at 530.
    assert snap_thing(FIELD, BIN, (1050.4, 478.0), 6.0).at == (1050.0, 480.0)
    # The wedge's middle is that of the rectangle around it: [350, 740], 80 high.
    assert snap_thing(FIELD, WEDGE, (350.4, 956.0), 6.0) == SnappedPoint(
        (350.0, 960.0), "on the far wall", (Guide((0.0, 1000.0), (2000.0, 1000.0)),)
    )
    assert snap_thing(FIELD, CRATE, (53.0, 250.4), 6.0, on=False) == SnappedPoint((53.0, 250.4))


def test_a_thing_is_drawn_by_its_near_side_too() -> None:
    """The crate is 60 deep: with its middle at 33 its near side is 3 mm off the near wall."""
    assert snap_thing(FIELD, CRATE, (1050.4, 33.0), 6.0).at == (1050.0, 30.0)


def test_an_end_is_in_line_with_the_other_end() -> None:
    end = Handle("line", 0, "end")
    found = snap_thing(FIELD, end, (903.0, 650.4), 6.0)
    assert (found.at, found.words) == ((900.0, 650.0), "in line with itself")
    assert found.guides == (Guide((900.0, 100.0), (900.0, 650.0)),)
    corner = snap_thing(FIELD, Handle("obstacle", 3, "corner 1"), (450.3, 697.0), 6.0)
    assert (corner.at, corner.words) == ((450.0, 700.0), "in line with itself")


def test_walls_and_turning_handles() -> None:
    assert snap_thing(FIELD, Handle("walls", 0, "right"), (1900.4, 500.0), 6.0).at[0] == 1900.0
    assert snap_thing(FIELD, replace(RAMP, part="turn"), (1500.1234, 400.0), 6.0) == SnappedPoint((1500.123, 400.0))


# --- angles


@pytest.mark.parametrize(
    ("heading", "there", "said"),
    [
        (43.0, 45.0, "45 degrees"),
        (48.9, 45.0, "45 degrees"),
        (-177.0, 180.0, "180 degrees"),
        (357.0, 0.0, "0 degrees"),
        (31.9, 30.0, "30 degrees"),
        (33.4, 33.0, ""),
        (273.0, -90.0, "-90 degrees"),
    ],
)
def test_angles_by_hand(heading: float, there: float, said: str) -> None:
    assert snap_angle(heading) == SnappedAngle(there, said)
    assert snap_angle(heading, on=False).heading == pytest.approx(wrapped(heading))


def test_angles_of_other_things() -> None:
    others = [(20.0, "ramp")]
    assert snap_angle(21.5, others=others) == SnappedAngle(20.0, "along ramp")
    assert snap_angle(-158.6, others=others) == SnappedAngle(-160.0, "along ramp")
    assert snap_angle(111.0, others=others) == SnappedAngle(110.0, "square to ramp")
    assert snap_angle(-68.7, others=others) == SnappedAngle(-70.0, "square to ramp")
    assert snap_angle(23.0, others=others) == SnappedAngle(23.0)


@settings(max_examples=examples(100))
@given(st.floats(-1000.0, 1000.0))
def test_an_angle_is_drawn_once(heading: float) -> None:
    found = snap_angle(heading)
    assert abs(wrapped(found.heading - heading)) <= 4.0 + 1e-9
    assert -180.0 < found.heading <= 180.0
    assert snap_angle(found.heading) == found or not found.words


# --- the start


def test_a_robot_near_a_jig_goes_into_it() -> None:
    """The block holds the rear left corner at [60, 0]: the axle is 60 mm further on and 70 to the right."""
    found = snap_start(RUN, (134.0, 55.0, 12.0), 10.0)
    assert found.pose == pytest.approx((130.0, 60.0, 90.0))
    assert (found.jig, found.words) == ("block", "in jig block")
    assert found.guides == (Guide((60.0, 0.0), (60.0, 0.0)),)
    run = start_at_jig(RUN, "block")
    assert not isinstance(run, Refused)
    assert start_pose(run) == found.pose
    # The rail holds the rear right corner at [260, 0], 60 mm farther to the right: the nearer one wins.
    assert snap_start(RUN, (158.0, 60.0, 90.0), 40.0).jig == "block"
    assert snap_start(RUN, (162.0, 60.0, 90.0), 40.0).jig == "rail"
    assert snap_start(RUN, (134.0, 55.0, 12.0), 10.0, on=False).pose == (134.0, 55.0, 12.0)


@pytest.mark.parametrize(
    ("pose", "there", "said"),
    [
        # Looking away: the rear face is 60 behind the axle, the sides 70 beside it.
        ((700.4, 64.0, 90.0), (700.0, 60.0, 90.0), "on the near wall"),
        ((73.0, 500.3, 90.0), (70.0, 500.0, 90.0), "on the left wall"),
        ((1927.0, 500.3, -270.0), (1930.0, 500.0, -270.0), "on the right wall"),
        # Looking at the right wall, the front face is 110 ahead.
        ((1893.0, 500.3, 0.0), (1890.0, 500.0, 0.0), "on the right wall"),
        ((1893.0, 933.0, 0.0), (1890.0, 930.0, 0.0), "on the right wall and on the far wall"),
        ((700.4, 64.0, 80.0), (700.0, 64.0, 80.0), ""),
        ((700.4, 500.7, 90.0), (700.0, 501.0, 90.0), ""),
    ],
)
def test_a_robot_square_to_a_wall_goes_flat_on_it(
    pose: tuple[float, float, float], there: tuple[float, float, float], said: str
) -> None:
    found = snap_start(RUN, pose, 6.0)
    assert (found.pose, found.jig, found.words) == (there, None, said)


@settings(max_examples=examples(80))
@given(st.tuples(POINT, st.sampled_from([0.0, 90.0, 180.0, 270.0, 33.0])))
@example(((1000.0, 1045.0), 90.0))
def test_a_start_that_can_be_stays_one_that_can_be(drawn: tuple[Point, float]) -> None:
    pose = (*drawn[0], drawn[1])
    found = snap_start(RUN, pose, 12.0)
    assume(found.jig is None)
    assert max(abs(a - b) for a, b in zip(found.pose, pose, strict=True)) <= 12.001
    if not isinstance(start_by_eye(RUN, pose), Refused) and min(1995.0 - pose[0], 995.0 - pose[1], *pose[:2]) > 5.0:
        run = start_by_eye(RUN, found.pose)
        assert not isinstance(run, Refused)
    if found.words and found.pose[2] == 0.0:
        # A face lies on a wall: to a thousandth.
        corners = body_corners(RUN.robot.body) + found.pose[:2]
        gaps = abs(corners[:, 0] - [[0.0], [2000.0]]).min(), abs(corners[:, 1] - [[0.0], [1000.0]]).min()
        assert min(gaps) < 0.002
