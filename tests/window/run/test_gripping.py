"""A hand on the path, by plain events: grips, drags, what stays and what moves along, and that nothing is lost."""

from __future__ import annotations

from math import hypot
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plans import open_floor
from plans import run as driven
from test_run_session import ALT, RUN, SHIFT, block, click, drag, session, with_trials

from fieldsim.model import Arc, LineSquare, Square, StartByEye, Straight, Turn
from fieldsim.sim.motion import start_pose
from fieldsim.sim.ways import way_of
from fieldsim.window.habits import LARGEST, SMALLEST, Habits, keep_habits, kept_habits
from fieldsim.window.run.gripping import joints_of
from fieldsim.window.run.session import RunSession

BEND = (Straight(400.0), Turn(90.0), Straight(300.0), Turn(-60.0), Straight(250.0))


def bent(**more: bool) -> RunSession:
    return session(driven(*BEND, at=(900.0, 900.0), field=open_floor((2600.0, 2200.0))), **more)  # type: ignore[arg-type]


def middle_of(made: RunSession, g: int) -> tuple[float, float]:
    """A pixel on segment ``g`` away from the robot at its start."""
    return made.camera.pixel(*made.way.pose_at(g + 0.93)[:2])


def pull(
    made: RunSession, at: tuple[float, float], by: tuple[float, float], mods: frozenset[str] = frozenset()
) -> None:
    made.pressed(*at, "left", mods)
    for k in range(1, 5):
        made.moved(at[0] + by[0] * k / 4, at[1] + by[1] * k / 4, mods)
    made.released(at[0] + by[0], at[1] + by[1])


def test_a_press_on_the_path_drags_it_and_never_pans() -> None:
    made = bent()
    before = made.camera
    zoom = made.camera.zoom
    pull(made, middle_of(made, 0), (50.0, 0.0))
    assert made.camera == before
    straight = made.run.segments[0]
    assert isinstance(straight, Straight)
    assert straight.distance == pytest.approx(400.0 + 50.0 / zoom, abs=1.0)
    assert made.run.segments[1:] == BEND[1:]
    made.key("ctrl z")
    assert made.run.segments == BEND
    assert not made.history.dirty


def test_empty_ground_pans_and_the_robot_is_pulled_along_its_way() -> None:
    made = bent()
    camera = made.camera
    corner = made.camera.pixel(2300.0, 2000.0)
    assert made.under(*corner) == "field"
    pull(made, corner, (-20.0, 10.0))
    assert made.camera != camera
    camera = made.camera
    made._to(made.clock.time_at(2.5))
    x, y, _ = made.pose
    # Beside the path, on the body.
    pixel = made.camera.pixel(x + 60.0, y)
    assert made.under(*pixel) == "robot"
    head = made.head
    pull(made, pixel, (0.0, -40.0))
    assert made.camera == camera
    assert made.head > head
    assert made.run.segments == BEND


def test_the_grips_of_what_is_picked_are_dragged() -> None:
    made = bent()
    click(made, *block(made, 1))
    assert [handle.name for handle in made.handles if handle.name.startswith("path")] == ["path 1 turn"]
    x, y = next(made.camera.pixel(*handle.at) for handle in made.handles if handle.name == "path 1 turn")
    cx, cy = made.camera.pixel(*made.way.pose_at(2.0)[:2])
    # Round to the left by a quarter: from straight up to straight left.
    to = cx - hypot(x - cx, y - cy), cy
    pull(made, (x, y), (to[0] - x, to[1] - y))
    assert made.run.segments[1] == Turn(180.0)
    assert made.place == 1


def test_with_alt_a_straight_follows_the_hand_and_the_turn_before_it_goes_along() -> None:
    made = bent()
    click(made, *block(made, 2))
    (grip,) = [handle for handle in made.handles if handle.name == "path 2 end"]
    at = made.camera.pixel(*grip.at)
    drag(made, "path 2 end", -60.0, -20.0, ALT)
    end = joints_of(made)[3]
    px, py = made.camera.pixel(end[0], end[1])
    assert hypot(px - at[0] + 60.0, py - at[1] + 20.0) < 3.0
    assert made.run.segments[1] != BEND[1]
    assert made.run.segments[0] == BEND[0]


def test_shift_takes_whole_centimetres() -> None:
    made = bent()
    pull(made, middle_of(made, 0), (37.0, 0.0), SHIFT)
    straight = made.run.segments[0]
    assert isinstance(straight, Straight)
    assert straight.distance % 10.0 == 0.0
    assert straight.distance != 400.0


def test_escape_in_mid_drag_takes_it_back() -> None:
    made = bent()
    history, seconds = made.history, made.seconds
    x, y = middle_of(made, 2)
    made.pressed(x, y)
    made.moved(x, y - 60.0)
    assert made.run.segments != BEND
    made.key("escape")
    assert made.history is history
    assert made.run.segments == BEND
    assert made.seconds == seconds
    made.moved(x, y - 90.0)
    made.released(x, y - 90.0)
    assert made.run.segments == BEND


def test_a_click_on_the_path_picks_and_changes_nothing() -> None:
    made = bent()
    click(made, *middle_of(made, 2))
    assert made.place == 2
    assert not made.history.dirty
    click(made, *middle_of(made, 4))
    assert made.place == 4


def test_the_whole_body_at_the_start_moves_it() -> None:
    made = bent()
    x, y, _ = start_pose(made.run)
    # A corner of the body, far from every handle.
    body = made.run.robot.body
    at = made.camera.pixel(x - body.axle + 12.0, y + body.width / 2 - 12.0)
    assert made.under(*at) == "handle start"
    zoom = made.camera.zoom
    pull(made, at, (-60.0, -33.0), ALT)
    assert isinstance(made.run.start, StartByEye)
    assert made.run.start.at == pytest.approx((x - 60.0 / zoom, y + 33.0 / zoom), abs=1.5)
    click(made, *made.camera.pixel(made.run.start.at[0] - body.axle + 12.0, made.run.start.at[1]))
    assert made.place == "start"


def test_what_comes_later_stays_or_moves_along() -> None:
    moves, stays = bent(), bent()
    stays.do("rest")
    assert stays.stays
    before = joints_of(moves)
    for made in (moves, stays):
        pull(made, middle_of(made, 0), (40.0, 0.0))
    moved, stayed = joints_of(moves), joints_of(stays)
    assert moved[1] == pytest.approx(stayed[1])
    assert hypot(moved[5][0] - before[5][0], moved[5][1] - before[5][1]) > 20.0
    assert hypot(stayed[5][0] - before[5][0], stayed[5][1] - before[5][1]) < 3.0
    assert stays.run.segments[0] == moves.run.segments[0]
    # All of it is one step.
    stays.key("ctrl z")
    assert stays.run.segments == BEND


def test_while_the_hand_goes_to_and_fro_nothing_creeps() -> None:
    made = bent()
    made.do("rest")
    x, y = middle_of(made, 0)
    made.pressed(x, y)
    for by in (40.0, -30.0, 55.0, 10.0, -20.0, 5.0, 0.0):
        made.moved(x + by, y)
    made.released(x, y)
    assert made.run.segments == BEND


def test_where_it_cannot_stay_it_moves_along_and_says_so() -> None:
    made = session(driven(Straight(400.0), Turn(90.0), at=(900.0, 900.0), field=open_floor((2600.0, 2200.0))))
    made.do("rest")
    pull(made, middle_of(made, 0), (40.0, 0.0))
    assert made.run.segments[0] != Straight(400.0)
    assert made.run.segments[1] == Turn(90.0)
    assert "cannot stay" in made.toast


def test_a_square_is_dragged_to_another_wall_in_the_demo() -> None:
    field = open_floor((2600.0, 2200.0))
    made = session(driven(Turn(90.0), Square("front", "far wall", 1400.0), at=(900.0, 900.0), field=field))
    click(made, *block(made, 1))
    (grip,) = [handle for handle in made.handles if handle.name == "path 1 wall"]
    x, y = made.camera.pixel(*grip.at)
    to = made.camera.pixel(2590.0, 900.0)
    pull(made, (x, y), (to[0] - x, to[1] - y))
    turn, square = made.run.segments
    assert isinstance(square, Square)
    assert square.against == "right wall"
    assert isinstance(turn, Turn)
    assert made.problem is None


def test_every_segment_of_the_demo_can_be_dragged_and_taken_back() -> None:
    for g, segment in enumerate(RUN.segments):
        made = session()
        click(made, *block(made, g))
        for handle in [handle for handle in made.handles if handle.name.startswith("path")]:
            x, y = made.camera.pixel(*handle.at)
            for by in ((18.0, 12.0), (-25.0, 8.0), (6.0, -30.0)):
                pull(made, (x, y), by)
                made.key("ctrl z")
                assert made.run.segments == RUN.segments
        movable = isinstance(segment, Straight | Turn | Arc | Square | LineSquare)
        assert any(handle.name.startswith("path") for handle in made.handles) == movable


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.integers(0, 10), st.floats(-200.0, 200.0), st.floats(-200.0, 200.0), st.booleans(), st.sampled_from([ALT, SHIFT])
)
def test_no_drag_of_the_path_ends_anywhere_bad(g: int, dx: float, dy: float, stays: bool, mods: frozenset[str]) -> None:
    made = session()
    made.stays = stays
    click(made, *block(made, g))
    names = [handle.name for handle in made.handles if handle.name.startswith("path")]
    for name in names:
        drag(made, name, dx, dy, mods)
        assert made.place == g
        assert len(made.run.segments) == len(RUN.segments)
        assert all(np.isfinite(poses).all() for poses in made.way.segments)
        if made.problem is None:
            assert made.ready is not None
            assert way_of(made.ready).segments[-1][-1] == pytest.approx(made.way.segments[-1][-1])


def test_odds_follow_a_drag_of_the_path() -> None:
    made = with_trials()
    shown = made.shown
    assert shown is not None
    x, y = middle_of(made, 2)
    made.pressed(x, y)
    made.moved(x + 14.0, y)
    made.tick(0.1)
    assert made.shown is not shown
    assert made.shown is not None
    assert made.shown.run == made.run
    made.released(x + 14.0, y)


def test_clicks_that_lead_are_not_taken_for_drags() -> None:
    made = bent()
    made.do("lead")
    at = middle_of(made, 4)
    pull(made, at, (30.0, 0.0))
    assert made.run.segments == BEND
    assert not [handle for handle in made.handles if handle.name.startswith("path")]


def test_habits_are_remembered(tmp_path: Path) -> None:
    assert kept_habits(tmp_path) == Habits()
    keep_habits(Habits(True, 1.21), tmp_path)
    assert kept_habits(tmp_path) == Habits(True, 1.21)
    for text in ("", "[]", "{", '{"stays": 1, "letters": true}', '{"letters": 90}', '{"letters": "x"}'):
        (tmp_path / "habits.json").write_text(text)
        assert kept_habits(tmp_path) == Habits()


def test_letters_stay_within_bounds() -> None:
    habits = Habits(True)
    for _ in range(60):
        habits = habits.larger(1)
    assert habits == Habits(True, LARGEST)
    for _ in range(60):
        habits = habits.larger(-1)
    assert habits == Habits(True, SMALLEST)
    assert habits.larger(0) == Habits(True, 1.0)


def test_a_run_without_a_plan_has_no_grips() -> None:
    made = bent()
    made._pick(0)
    made.problem = "segment 2 cannot be"
    assert not [handle for handle in made.handles if handle.name.startswith("path")]
    pull(made, middle_of(made, 0), (30.0, 0.0))
    assert made.run.segments == BEND
