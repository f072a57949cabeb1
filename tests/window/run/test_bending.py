"""The path in the hand: geometry of drags against the simulation's own poses, and later places that stay."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import open_floor
from plans import run as driven

from fieldsim.model import Act, Arc, Run, Square, Straight, Target, Turn, Wait
from fieldsim.sim.motion import Pose, along_piece, start_pose, wrapped
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import planned_poses
from fieldsim.window.dials import Refused
from fieldsim.window.run.bending import bend, grips_of, main_grip
from fieldsim.window.run.settling import settled

FIELD = open_floor((4000.0, 4000.0))
ARM = 120.0
FAR = st.floats(60.0, 900.0)
ANGLE = st.floats(-170.0, 170.0).filter(lambda angle: abs(angle) > 3.0)


def joints_of(run: Run) -> list[Pose]:
    found = [start_pose(run)]
    for segment in run.segments:
        x, y, h = along_piece(found[-1], *segment.travel(run.robot.drive.track), 1.0).tolist()
        found.append((x, y, h))
    return found


def good(made: Run | Refused) -> Run:
    assert isinstance(made, Run), made
    return made


def dragged(run: Run, index: int, to: tuple[float, float], kind: str = "", **more: bool) -> Run:
    joints = joints_of(run)
    kind = kind or main_grip(run, index, joints[index], joints[index + 1], ARM).kind  # type: ignore[union-attr]
    return good(bend(run, index, kind, joints, to, ARM, **more)[0])  # type: ignore[arg-type]


def test_joints_are_those_of_the_simulation() -> None:
    run = driven(Turn(30.0), Straight(300.0), Arc(-70.0, 250.0), Turn(40.0, "left wheel"), field=FIELD)
    assert np.array(joints_of(run))[:, :2] == pytest.approx(planned_poses(plan(run))[:, :2])


@settings(deadline=None)
@given(FAR, st.floats(-179.0, 179.0), FAR, st.booleans())
def test_a_straight_ends_at_the_foot_of_the_hand(way: float, heading: float, to: float, back: bool) -> None:
    sign = -1.0 if back else 1.0
    run = driven(Straight(sign * way), field=FIELD, heading=heading)
    x, y, _ = start_pose(run)
    c, s = cos(radians(heading)), sin(radians(heading))
    # Beside the line by 40 mm: only along it counts.
    hand = x + sign * to * c - 40.0 * s, y + sign * to * s + 40.0 * c
    made = dragged(run, 0, hand)
    assert made.segments[0].distance == pytest.approx(sign * to, abs=0.5001)  # type: ignore[union-attr]
    finely = dragged(run, 0, hand, free=True)
    assert finely.segments[0].distance == pytest.approx(sign * to, abs=0.0501)  # type: ignore[union-attr]


@settings(deadline=None)
@given(ANGLE, FAR, st.floats(-800.0, 800.0), st.floats(-800.0, 800.0), st.booleans())
def test_with_the_turn_before_it_a_straight_ends_in_the_hand(
    angle: float, way: float, dx: float, dy: float, back: bool
) -> None:
    if hypot(dx, dy) < 60.0:
        return
    run = driven(Turn(angle), Straight(-way if back else way), field=FIELD, heading=20.0)
    x, y, _ = start_pose(run)
    made = dragged(run, 1, (x + dx, y + dy), both=True, free=True)
    end = joints_of(made)[-1]
    # To a tenth of a degree and of a mm.
    assert hypot(end[0] - x - dx, end[1] - y - dy) < 0.1 + radians(0.06) * hypot(dx, dy)
    assert (made.segments[1].distance < 0) == back  # type: ignore[union-attr]


@settings(deadline=None)
@given(ANGLE, st.floats(-179.0, 179.0), st.sampled_from([None, "left wheel", "right wheel"]))
def test_a_corner_turns_its_grip_to_the_hand(angle: float, wanted: float, about: str | None) -> None:
    run = driven(Turn(angle, about), field=FIELD, heading=10.0)  # type: ignore[arg-type]
    if abs(wanted) < 1.0:
        return
    there = driven(Turn(wanted, about), field=FIELD, heading=10.0)  # type: ignore[arg-type]
    hand = grips_of(there, 0, *joints_of(there), ARM)[0].at
    made = dragged(run, 0, hand, free=True)
    off = wrapped(made.segments[0].angle - wanted)  # type: ignore[union-attr]
    assert abs(off) < 0.06
    # By the way from where it was, not by the other way round.
    assert abs(made.segments[0].angle - angle) <= 180.1  # type: ignore[union-attr]


@settings(deadline=None)
@given(
    st.floats(-170.0, 170.0).filter(lambda angle: abs(angle) > 8.0), st.floats(80.0, 900.0), st.booleans(),
    st.sampled_from([("bulge", 0.5), ("end", 1.0)]),
)  # fmt: skip
def test_an_arc_goes_through_the_hand(angle: float, radius: float, back: bool, grip: tuple[str, float]) -> None:
    """Dragged to where the bulge (or the end) of a known arc is, it becomes that arc."""
    kind, share = grip
    wanted = Arc(angle, -radius if back else radius)
    there = driven(wanted, field=FIELD, heading=-35.0)
    x, y, _ = along_piece(start_pose(there), *wanted.travel(there.robot.drive.track), share).tolist()
    begin = driven(Arc(45.0, -300.0 if back else 300.0), field=FIELD, heading=-35.0)
    made = dragged(begin, 0, (x, y), kind, free=True)
    arc = made.segments[0]
    assert isinstance(arc, Arc)
    assert arc.angle == pytest.approx(angle, abs=0.051)
    assert arc.radius == pytest.approx(wanted.radius, rel=0.02, abs=0.1)
    cx, cy, _ = along_piece(start_pose(made), *arc.travel(made.robot.drive.track), share).tolist()
    assert hypot(cx - x, cy - y) < 1.0


def test_a_drag_against_the_tangent_changes_nothing() -> None:
    run = driven(Arc(45.0, 300.0), field=FIELD)
    x, y, _ = start_pose(run)
    assert dragged(run, 0, (x - 200.0, y + 10.0)) == run
    assert dragged(run, 0, (x + 300.0, y)) == run


def test_a_square_is_pulled_to_another_wall_and_turned_to_it() -> None:
    walled = replace(FIELD, walls=75.0) if isinstance(FIELD.walls, float) else FIELD
    run = driven(Turn(90.0), Square("front", "far wall", 2100.0), field=walled)
    made = dragged(run, 1, (20.0, 2100.0))
    turn, square = made.segments
    assert isinstance(turn, Turn)
    assert isinstance(square, Square)
    assert square.against == "left wall"
    assert abs(wrapped(joints_of(made)[1][2] - 180.0)) < 1e-9
    assert square.reach >= 2000.0 + 40.0
    rear = driven(Turn(90.0), Square("rear", "near wall", 2100.0), field=walled)
    pulled = dragged(rear, 1, (3990.0, 1900.0))
    assert pulled.segments[1].against == "right wall"  # type: ignore[union-attr]
    assert abs(wrapped(joints_of(pulled)[1][2] - 180.0)) < 1e-9


# --- later places stay -----------------------------------------------------------------------------------------------


def changed(run: Run, index: int, **values: float) -> Run:
    segments = list(run.segments)
    segments[index] = replace(segments[index], **values)  # type: ignore[arg-type]
    return replace(run, segments=tuple(segments))


@settings(deadline=None, max_examples=60)
@given(
    st.floats(200.0, 600.0), st.floats(40.0, 120.0), st.floats(200.0, 600.0), st.floats(-120.0, -40.0),
    st.floats(-60.0, 60.0),
)  # fmt: skip
def test_what_follows_comes_back_to_where_it_was(a: float, one: float, b: float, two: float, by: float) -> None:
    run = driven(Straight(a), Turn(one), Straight(b), Turn(two), Straight(200.0), Wait(1.0), field=FIELD)
    joints = joints_of(run)
    made = good(settled(run, changed(run, 0, distance=a + by), 0, joints))
    now = joints_of(made)
    assert hypot(now[-1][0] - joints[-1][0], now[-1][1] - joints[-1][1]) < 2.5
    assert abs(wrapped(now[-1][2] - joints[-1][2])) < 0.4
    assert made.segments[0].distance == a + by  # type: ignore[union-attr]
    # What comes after the place to which it came back is as it was.
    assert made.segments[5] == run.segments[5]


def test_the_start_moves_and_the_rest_stays() -> None:
    run = driven(Turn(20.0), Straight(500.0), Turn(-50.0), Straight(300.0), field=FIELD, at=(1000.0, 1000.0))
    joints = joints_of(run)
    moved = replace(run, start=replace(run.start, at=(950.0, 1040.0)))  # type: ignore[type-var]
    made = good(settled(run, moved, -1, joints))
    now = joints_of(made)
    assert start_pose(made)[:2] == (950.0, 1040.0)
    assert hypot(now[3][0] - joints[3][0], now[3][1] - joints[3][1]) < 2.0
    assert made.segments[3] == run.segments[3]


def test_an_act_is_not_driven_past_to_come_back_behind_it() -> None:
    field = replace(FIELD, targets=(Target("bell", (2600.0, 2000.0), 20.0),))
    run = driven(Straight(300.0), Act("bell", takes=1.0), Turn(90.0), Straight(200.0), Turn(10.0), field=field)
    made = settled(run, changed(run, 0, distance=350.0), 0, joints_of(run))
    assert isinstance(made, Refused)


def test_a_change_that_moves_nothing_needs_nothing() -> None:
    run = driven(Straight(300.0), Turn(90.0), field=FIELD)
    same = changed(run, 0, speed=100.0)
    assert settled(run, same, 0, joints_of(run)) == same
