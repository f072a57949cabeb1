"""A run led by clicks: what is offered, and where it leads. All invented."""

from __future__ import annotations

import shutil
import time
from dataclasses import replace
from math import cos, hypot, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pygame
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.files import load_run
from fieldsim.model import Act, Run, Square, StartByEye, Straight, Target, Turn, Wait
from fieldsim.model.errors import SaveError
from fieldsim.planning.onward import Onward
from fieldsim.sim.endings import tool_point
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import plan
from fieldsim.sim.ways import way_of
from fieldsim.stats.intervals import wilson
from fieldsim.window.dials import Refused
from fieldsim.window.menu import menu_rects
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.record import without_a_screen
from fieldsim.window.run import driving
from fieldsim.window.run.app import RunDesk
from fieldsim.window.run.driving import Wish, at_target, driven, moved_by, on_side, sides_near, towards, wishes
from fieldsim.window.run.files import EditedRun, RunFiles
from fieldsim.window.run.seeking import Seek, Sought, heard, sought
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView

ROOT = Path(__file__).parents[3]
BAKERY = ROOT / "runs" / "bakery"
RUN = load_run(BAKERY / "practice-loop.yaml")
FLOUR = load_run(BAKERY / "flour-round.yaml")
places = st.tuples(st.floats(100, 2000), st.floats(100, 1000))
poses = st.tuples(st.floats(100, 2000), st.floats(100, 1000), st.floats(-180, 180))


class Still:
    """Nobody counts trials."""

    def want(self, run: Run, ready: Any = None, *, bare: bool = False) -> int:
        return 0

    def news(self) -> None:
        return None


def nothing(run: Run) -> Run:
    """A run that was begun from nothing."""
    return replace(run, segments=(Wait(0.0),))


@given(pose=poses, point=places, back=st.booleans())
def test_a_turn_and_a_straight_lead_to_the_point(pose: Any, point: Any, back: bool) -> None:
    x, y, _ = moved_by(pose, towards(pose, point, back))
    far = hypot(point[0] - pose[0], point[1] - pose[1])
    # A turn is off by a quarter of a degree at most, a straight by half a mm.
    assert hypot(x - point[0], y - point[1]) <= far * radians(0.25) + 0.75
    ways = [segment.distance for segment in towards(pose, point, back) if isinstance(segment, Straight)]
    assert all((way < 0) == back for way in ways)


@given(pose=poses, aside=st.floats(-60, 60), ahead=st.floats(20, 150), point=places)
@settings(max_examples=60)
def test_the_tool_comes_to_the_target(pose: Any, aside: float, ahead: float, point: Any) -> None:
    target = Target("invented", point, 20.0)
    tool = replace(RUN.robot.attachments[0], tool=(ahead, aside))
    run = replace_robot(RUN, tool)
    found = at_target(run, pose, target)
    far = hypot(point[0] - pose[0], point[1] - pose[1])
    if found is None:
        assert far <= abs(aside)
        return
    x, y, h = moved_by(pose, found[:-1])
    tx, ty = tool_point(run.robot, run.wear)
    c, s = cos(radians(h)), sin(radians(h))
    off = hypot(x + c * tx - s * ty - point[0], y + s * tx + c * ty - point[1])
    assert off <= (far + 200.0) * radians(0.25) + 0.75
    assert found[-1] == Act("invented", takes=2.0)


def replace_robot(run: Run, tool: Any) -> Run:
    """The run driven with that tool on."""
    others = tuple(each for each in run.robot.attachments if each.name != tool.name)
    return replace(run, robot=replace(run.robot, attachments=(*others, tool)), wear=(tool.name,))


def test_a_target_with_a_heading_is_met_in_it() -> None:
    target = next(each for each in FLOUR.field.targets if each.heading is not None)
    pose = (1200.0, 300.0, 35.0)
    found = at_target(FLOUR, pose, target)
    assert found is not None
    x, y, h = moved_by(pose, found[:-1])
    assert h == pytest.approx(target.heading, abs=0.26)
    tx, ty = tool_point(FLOUR.robot, FLOUR.wear)
    c, s = cos(radians(h)), sin(radians(h))
    assert hypot(x + c * tx - s * ty - target.at[0], y + s * tx + c * ty - target.at[1]) < target.within


@pytest.mark.parametrize("point", [(1100.0, 3.0), (1100.0, 1098.0), (2.0, 500.0), (2198.0, 500.0)])
def test_a_square_on_a_wall_ends_flat_on_it(point: tuple[float, float]) -> None:
    field = replace(FLOUR.field, obstacles=(), start_areas=(), targets=(), lines=(), jigs=())
    run = replace(
        FLOUR, field=field, start=driving_start((1000.0, 520.0, 30.0)), wear=(), segments=(Wait(0.0),), finish=None
    )
    offered = [wish for wish in wishes(run, start_pose(run), point, 20.0) if wish.kind == "square"]
    assert len(offered) == 1
    made = driven(run, 0, offered[0])
    assert not isinstance(made, Refused)
    square = made.segments[-1]
    assert isinstance(square, Square)
    heading = float(way_of(plan(made)).segments[-1][-1][2])
    # Flat: a face looks straight into the wall.
    assert abs((heading + 45.0) % 90.0 - 45.0) < 1e-6


def driving_start(pose: tuple[float, float, float]) -> Any:
    return StartByEye((pose[0], pose[1]), pose[2])


def test_a_side_is_found_from_within_and_from_beside() -> None:
    mill = next(each for each in FLOUR.field.obstacles if each.name == "mill")
    assert [side.of for side in sides_near(FLOUR.field, mill.shape.center, 5.0)][:1] == ["mill"]
    assert sides_near(FLOUR.field, (1100.0, 500.0), 5.0) == ()
    # Every side looks into its thing.
    for side in driving.sides(FLOUR.field):
        middle = (side.a[0] + side.b[0]) / 2, (side.a[1] + side.b[1]) / 2
        inside = middle[0] + cos(radians(side.into)), middle[1] + sin(radians(side.into))
        if side.of.endswith(" wall"):
            assert not (0 < inside[0] < FLOUR.field.size[0] and 0 < inside[1] < FLOUR.field.size[1])
        else:
            assert driving._holds(FLOUR.field, side.of, inside)


def test_no_square_where_one_stands_beyond_the_side() -> None:
    side = next(side for side in driving.sides(FLOUR.field) if side.of == "near wall")
    assert on_side(FLOUR, (500.0, 2.0, 90.0), side, (500.0, 0.0)) is None


# --- by hand -------------------------------------------------------------------------------------------------------


@pytest.fixture
def session() -> RunSession:
    run = nothing(load_run(BAKERY / "yard-bell.yaml"))
    return RunSession(EditedRun(run, BAKERY / "box-one.yaml"), Still(), (1366, 768))


def click(session: RunSession, at: tuple[float, float]) -> None:
    session.moved(*at)
    session.pressed(*at)
    session.released(*at)


def test_a_run_is_clicked_together(session: RunSession) -> None:
    session.key("g")
    assert session.leading is not None
    click(session, session.camera.pixel(130.0, 600.0))
    assert session.leading.menu is not None
    assert [wish.kind for wish in session.leading.wishes][-3:] == ["there", "back", "seek"]
    # A preview of each is shown, by the pointer over its row.
    _, rows = menu_rects(session.places.field, session.places.unit, session.leading.menu.at, session.leading.menu.count)
    scene = RunView(session).scene()
    assert scene.menu is not None
    assert scene.picked is not None
    kinds = [wish.kind for wish in session.leading.wishes]
    there = rows[kinds.index("there")].centre
    session.moved(*there)
    assert session.leading.menu.chosen == kinds.index("there")
    click(session, there)
    # Nothing is left of what stood there in the beginning.
    assert Wait(0.0) not in session.run.segments
    assert isinstance(session.run.segments[-1], Straight)
    assert session.history.undo_words == "turn and drive here"
    before = len(session.run.segments)
    bell = next(target for target in session.run.field.targets if target.name == "yard bell")
    click(session, session.camera.pixel(*bell.at))
    assert session.leading.wishes[0].kind == "act"
    session.key("1")
    assert session.run.segments[-1] == Act("yard bell", takes=2.0)
    assert len(session.run.segments) > before
    session.key("ctrl z")
    assert len(session.run.segments) == before
    session.key("escape")
    assert session.leading is None


def test_a_menu_goes_by_keys_and_by_a_press_beside_it(session: RunSession) -> None:
    session.key("g")
    click(session, session.camera.pixel(700.0, 300.0))
    assert session.leading is not None
    assert session.leading.menu is not None
    session.key("down")
    assert session.leading.menu.chosen == 1
    session.key("escape")
    assert session.leading is not None
    assert session.leading.menu is None
    before = session.run
    click(session, session.camera.pixel(700.0, 300.0))
    session.pressed(*session.places.odds.centre)
    assert session.leading.menu is None
    assert session.run == before


def test_the_menu_is_inside_the_field_wherever_it_opens(session: RunSession) -> None:
    view, unit = session.places.field, session.places.unit
    for at in ((view.x, view.y), (view.right, view.y), (view.x, view.bottom), (view.right, view.bottom)):
        whole, rows = menu_rects(view, unit, at, 5)
        assert whole.inside(view)
        assert all(row.inside(whole) for row in rows)
        assert not any(row.contains(*at) for row in rows)


def test_it_is_painted(session: RunSession) -> None:
    session.key("g")
    click(session, session.camera.pixel(700.0, 300.0))
    with without_a_screen():
        surface = pygame.Surface((1366, 768))
        view = RunView(session)
        paint(surface, view.scene(), Layers())
        before = pygame.image.tobytes(surface, "RGB")
        session.key("down")
        paint(surface, view.scene(), Layers())
        assert pygame.image.tobytes(surface, "RGB") != before


# --- save as -------------------------------------------------------------------------------------------------------


@pytest.fixture
def bakery(tmp_path: Path) -> Path:
    shutil.copytree(BAKERY, tmp_path / "runs" / "bakery")
    shutil.copytree(ROOT / "fields", tmp_path / "fields")
    return tmp_path / "runs" / "bakery"


def test_saving_as_another_file_leaves_the_first_as_it_was(bakery: Path, tmp_path: Path) -> None:
    path = bakery / "yard-bell.yaml"
    said = path.read_text()
    with without_a_screen():
        desk = RunDesk(path, (1280, 800), 1.0, folder=tmp_path / "kept")
        try:
            assert desk.session is not None
            desk.session.key("n")
            desk.session.key("ctrl shift s")
            for letter in "Bell twice":
                desk.session.key(letter)
                desk.session.text(letter)
            desk.session.key("return")
            desk.tick(0.1)
            assert desk.path == bakery / "bell-twice.yaml"
            assert path.read_text() == said
            made = load_run(desk.path)
            assert (made.name, len(made.segments)) == ("Bell twice", len(load_run(path).segments) + 1)
            assert not desk.session.history.dirty
        finally:
            desk.close()


def test_saving_as_goes_to_another_folder_and_replaces_nothing(bakery: Path, tmp_path: Path) -> None:
    files = RunFiles.read(bakery / "yard-bell.yaml")
    made = files.save_as(files.begun, f"{tmp_path}/elsewhere/bell.yaml")
    assert load_run(made).segments == files.run.segments
    assert load_run(made).field == files.run.field
    with pytest.raises(SaveError):
        files.save_as(files.begun, f"{tmp_path}/elsewhere/bell.yaml")
    robot = replace(files.run.robot, body=replace(files.run.robot.body, width=99.0))
    with pytest.raises(SaveError, match="robot"):
        files.save_as(EditedRun(replace(files.run, robot=robot), files.robot_file), "other")


# --- the best way there --------------------------------------------------------------------------------------------


def ask_for_the_best_way(session: RunSession, at: tuple[float, float]) -> Seek:
    session.key("g")
    click(session, session.camera.pixel(*at))
    assert session.leading is not None
    kinds = [wish.kind for wish in session.leading.wishes]
    # It can neither be shown nor told before it is found.
    session.key(str(kinds.index("seek") + 1))
    assert session.seeking is not None
    assert "seek" in session.wants
    return session.seeking


def test_the_best_way_is_put_in_when_it_is_found_and_its_worth_is_told(session: RunSession) -> None:
    bell = next(target for target in session.run.field.targets if target.name == "yard bell")
    wish = ask_for_the_best_way(session, bell.at)
    assert (wish.run, wish.at, wish.to) == (session.run, 0, "yard bell")
    assert wish.plain is not None
    heard(session, wish, Sought(30, 100))
    assert "30 %" in session.toast
    before = session.run
    way = (Turn(20.0), Straight(300.0), Act("yard bell"))
    heard(session, wish, Sought(over=True, segments=way, share=wilson(940, 1000), plain=wilson(810, 1000)))
    assert session.run.segments == way
    assert "940 in 1000" in session.toast
    assert "810" in session.toast
    assert session.seeking is None
    assert session.place == 2
    session.key("ctrl z")
    assert session.run == before


def test_the_best_way_goes_in_after_the_segment_that_is_picked() -> None:
    session = RunSession(EditedRun(FLOUR, BAKERY / "box-one.yaml"), Still(), (1366, 768))
    session._pick(1)
    wish = ask_for_the_best_way(session, (1200.0, 500.0))
    assert wish.at == 2
    assert wish.plain is None
    assert isinstance(wish.to, tuple)
    assert np.hypot(wish.to[0] - 1200.0, wish.to[1] - 500.0) < 1.0
    heard(session, wish, Sought(over=True, segments=(Straight(77.0),), share=wilson(5, 10)))
    assert session.run.segments[2] == Straight(77.0)
    assert len(session.run.segments) == len(FLOUR.segments) + 1


def test_what_is_looked_for_no_longer_is_not_heard(session: RunSession) -> None:
    wish = ask_for_the_best_way(session, (700.0, 300.0))
    session.key("escape")
    assert session.seeking is None
    assert "unseek" in session.wants
    before = session.run
    heard(session, wish, Sought(over=True, segments=(Straight(50.0),), share=wilson(5, 10)))
    assert session.run == before


def test_a_way_for_a_run_that_is_another_by_now_is_left_out(session: RunSession) -> None:
    wish = ask_for_the_best_way(session, (700.0, 300.0))
    session.change(replace(session.run, segments=(Straight(400.0),)), "something else")
    heard(session, wish, Sought(over=True, segments=(Straight(50.0),), share=wilson(5, 10)))
    assert session.run.segments == (Straight(400.0),)
    assert "changed meanwhile" in session.toast


def test_no_way_and_a_mistake_are_told(session: RunSession) -> None:
    for made, words in ((Sought(over=True), "No way"), (Sought(over=True, wrong="It does not fit."), "does not fit")):
        session.leading = None
        wish = ask_for_the_best_way(session, (700.0, 300.0))
        heard(session, wish, made)
        assert words in session.toast
        assert session.seeking is None


def test_the_way_that_is_found_is_no_worse_than_to_turn_and_drive(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing found is better, a turn and a straight are taken, and that is told."""
    run = nothing(load_run(BAKERY / "yard-bell.yaml"))
    target = next(target for target in run.field.targets if target.name == "churn handle")
    segments = at_target(run, start_pose(run), target)
    assert segments is not None
    plain = Wish("act", "act", segments, target.name)
    worse = Onward((Straight(10.0), Act(target.name)), wilson(0, 2000), 2000)
    monkeypatch.setattr("fieldsim.planning.onward.onward", lambda *_, **__: worse)
    made = sought(Seek(run, 0, target.name, plain), lambda done, wanted: None)
    assert made.is_plain
    assert made.segments == segments
    assert made.share is not None
    assert made.share == made.plain


def test_the_desk_looks_for_a_way_in_the_background(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def found(run: Run, to: object, watch: object, **_: object) -> Onward:
        watch(1, 2)  # type: ignore[operator]
        return Onward((Turn(5.0), Straight(90.0)), wilson(9950, 10_000), 10_000)

    monkeypatch.setattr("fieldsim.planning.onward.onward", found)
    with without_a_screen():
        desk = RunDesk(BAKERY / "flour-round.yaml", (1366, 768), 1.0, folder=tmp_path)
        try:
            assert desk.session is not None
            ask_for_the_best_way(desk.session, (1200.0, 500.0))
            desk.tick(0.0)
            while desk.session.seeking is not None:
                time.sleep(0.002)
                desk.tick(0.1)
            assert desk.session.run.segments[-2:] == (Turn(5.0), Straight(90.0))
            assert "995 in 1000" in desk.session.toast
        finally:
            desk.close()
