"""The run window's state by plain events, and the window itself on SDL's driver that draws nowhere."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pygame
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldsim.files import load_run
from fieldsim.model import StartByEye, Straight
from fieldsim.motion import start_pose
from fieldsim.study import attempt
from fieldsim.window.keys import RUN_KEYS
from fieldsim.window.live import Shown
from fieldsim.window.loop import run_desk
from fieldsim.window.run_app import RunDesk
from fieldsim.window.run_files import EditedRun, RunFiles
from fieldsim.window.run_session import RunSession
from fieldsim.window.run_view import RunView

ROOT = Path(__file__).parent.parent.parent
RUN = load_run(ROOT / "runs" / "bakery" / "flour-round.yaml")


class Nobody:
    """Trials that never come."""

    def want(self, run: object, *, bare: bool = False) -> int:
        return 1

    def news(self) -> Shown | None:
        return None


def session() -> RunSession:
    return RunSession(EditedRun(RUN, Path("box-one.yaml")), Nobody())


def drag(made: RunSession, name: str, dx: float, dy: float, mods: frozenset[str] = frozenset()) -> None:
    handle = next(handle for handle in made.handles if handle.name == name)
    x, y = made.camera.pixel(*handle.at)
    made.pressed(x, y)
    for k in (0.5, 1.0):
        made.moved(x + k * dx, y + k * dy, mods)
    made.released(x + dx, y + dy)


places = st.tuples(st.integers(-20, 1300), st.integers(-20, 820))
events = st.one_of(
    st.tuples(st.just("pressed"), places, st.sampled_from(["left", "right"])),
    st.tuples(st.just("moved"), places),
    st.tuples(st.just("released"), places),
    st.tuples(st.just("wheel"), places, st.sampled_from([1.0, -1.0, 2.5])),
    st.tuples(st.just("key"), st.sampled_from([key for each in RUN_KEYS for key in each.keys])),
    st.tuples(st.just("text"), st.text(max_size=4)),
    st.tuples(st.just("resize"), st.sampled_from([(900, 600), (1280, 800), (1920, 1080)])),
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(events, max_size=25))
def test_whatever_is_done_can_be_undone(done: list[tuple[object, ...]]) -> None:
    made = session()
    view = RunView(made)
    for n, (name, *rest) in enumerate(done):
        if name in ("pressed", "moved", "released", "wheel"):
            (x, y), *more = rest  # type: ignore[misc]
            getattr(made, str(name))(float(x), float(y), *more)
        else:
            getattr(made, str(name))(*rest)
        made.tick(n / 30)
        view.scene()
    last = made.history.state
    made.asked, made.help, made.error, made.entry = None, False, None, None
    while made.history.undo_words is not None:
        made.do("undo")
    assert made.run == RUN
    while made.history.redo_words is not None:
        made.do("redo")
    assert made.history.at < len(made.history.steps)
    if made.history.steps[-1].state == last:
        assert made.history.state == last


def test_the_start_is_dragged_and_snaps_into_a_jig() -> None:
    made = session()
    drag(made, "handle start", 120, -120)
    assert isinstance(made.run.start, StartByEye)
    x, y, _ = start_pose(made.run)
    assert made.history.undo_words == "move the start"
    before = start_pose(RUN)
    px, py = made.camera.pixel(before[0], before[1])
    qx, qy = made.camera.pixel(x, y)
    drag(made, "handle start", px - qx + 2, py - qy - 2)
    assert made.run.start == RUN.start
    # One drag is one step.
    made.do("undo")
    made.do("undo")
    assert made.run == RUN


def test_a_number_is_typed_and_a_wrong_one_says_why() -> None:
    made = session()
    made.do("next segment")
    row = next(n for n, line in enumerate(made.lines) if line.label == "distance")
    made.row = row
    made.key("return")
    made.key("ctrl a")
    made.text("62 cm")
    made.key("return")
    assert made.run.segments[0] == Straight(620.0)
    made.key("return")
    made.key("ctrl a")
    made.text("far")
    made.key("return")
    assert made.entry is not None
    assert made.entry.wrong
    assert "distance must be a length" in made.toast
    made.key("escape")
    assert made.run.segments[0] == Straight(620.0)


def test_segments_are_added_moved_and_taken_out() -> None:
    made = session()
    count = len(RUN.segments)
    made.do("next segment")
    made.do("add")
    assert len(made.run.segments) == count + 1
    assert made.place == 1
    made.do("earlier")
    assert made.place == 0
    made.do("remove")
    assert made.run.segments == RUN.segments


def test_the_width_handle_changes_the_body() -> None:
    made = session()
    drag(made, "handle width", -10 * made.camera.zoom, 0)
    assert made.run.robot.body.width == pytest.approx(RUN.robot.body.width + 20, abs=1)
    assert made.place == "body"


def test_the_robot_drives_at_its_real_speed() -> None:
    made = session()
    made.tick(0.0)
    made.do("play")
    for n in range(1, 11):
        made.tick(n / 10)
    assert made.seconds == pytest.approx(1.0)
    made.do("faster")
    made.tick(1.1)
    assert made.seconds == pytest.approx(1.2)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> RunDesk:
    """A window on a copy of the demo season that nobody sees."""
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, tmp_path / part)
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode((1280, 800))
    path = tmp_path / "runs" / "bakery" / "flour-round.yaml"
    return RunDesk(path, (1280, 800), 1.0, folder=tmp_path / "kept")


def press(key: int, text: str = "", mod: int = 0) -> None:
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode=text, mod=mod))
    if text.isprintable() and text and not mod:
        pygame.event.post(pygame.event.Event(pygame.TEXTINPUT, text=text))


def test_a_distance_is_typed_in_a_real_window_and_saved(desk: RunDesk) -> None:
    before = desk.path.read_text(encoding="utf-8").splitlines()
    made = desk.session
    assert made is not None
    press(pygame.K_TAB)
    press(pygame.K_DOWN)
    press(pygame.K_RETURN, "\r")
    press(pygame.K_a, "a", pygame.KMOD_CTRL)
    for letter in "250":
        press(ord(letter), letter)
    press(pygame.K_RETURN, "\r")
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    run_desk(desk, frames=30)
    assert not desk.running
    after = desk.path.read_text(encoding="utf-8").splitlines()
    changed = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert len(changed) == 1
    assert "250" in changed[0][1]
    assert load_run(desk.path).segments[0] == Straight(250.0)


def test_the_odds_are_those_of_try(desk: RunDesk) -> None:
    made = desk.session
    assert made is not None
    until = time.monotonic() + 60
    while (made.shown is None or not made.shown.full) and time.monotonic() < until:
        desk.tick(time.perf_counter())
        time.sleep(0.01)
    assert made.shown is not None
    assert made.shown.answer == attempt(RUN).answer
    scene = desk.scene()
    assert scene.odds is not None
    assert scene.odds.big == f"{attempt(RUN).answer.success.share * 1000:.0f} in 1000"
    desk.close()


def test_what_was_not_saved_is_offered_again(desk: RunDesk, tmp_path: Path) -> None:
    made = desk.session
    assert made is not None
    made.do("next segment")
    made.do("remove")
    wanted = made.run
    desk.tick(time.perf_counter())
    desk.crash_copy()
    desk.close()
    again = RunDesk(desk.path, (1280, 800), 1.0, folder=tmp_path / "kept")
    assert again.session is not None
    assert again.session.asked == "recover"
    again.session.key("y")
    again.tick(time.perf_counter())
    assert again.session.run == wanted
    again.close()


def test_a_mistake_in_the_file_is_shown_and_goes_when_it_is_mended(desk: RunDesk) -> None:
    good = desk.path.read_text(encoding="utf-8")
    desk.path.write_text(good.replace("- straight:", "- strait:", 1), encoding="utf-8")
    made = desk.session
    assert made is not None
    until = time.monotonic() + 20
    while made.error is None and time.monotonic() < until:
        desk.tick(time.perf_counter())
        time.sleep(0.05)
    assert made.error is not None
    assert any("flour-round.yaml:" in line for line in made.error[1])
    assert any("straight" in line for line in made.error[1])
    desk.path.write_text(good, encoding="utf-8")
    while made.error is not None and time.monotonic() < until:
        desk.tick(time.perf_counter())
        time.sleep(0.05)
    assert made.error is None
    desk.close()


def test_a_body_made_wider_goes_into_the_robots_own_file(tmp_path: Path) -> None:
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, tmp_path / part)
    files = RunFiles.read(tmp_path / "runs" / "bakery" / "flour-round.yaml")
    before = files.robot_file.read_text(encoding="utf-8")
    made = RunSession(files.begun, Nobody(), robots=files.robots)
    drag(made, "handle width", -10 * made.camera.zoom, 0)
    written = files.save(made.history.state)
    assert [path.name for path in written] == ["box-one.yaml"]
    after = files.robot_file.read_text(encoding="utf-8")
    assert sum(a != b for a, b in zip(before.splitlines(), after.splitlines(), strict=True)) == 1
    assert load_run(files.path).robot.body.width == made.run.robot.body.width
