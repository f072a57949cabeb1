"""`fieldsim watch` as a person meets it: the command, a real X server, real mouse and keys, and the files after it.

Where things stand on the screen is asked of the same pure code that puts them there: a *twin* of the session that is
given the same events and has no window. So nothing here knows a pixel, and the twin also says what the files must be;
what a person wanted is written out beside it.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pygame
import pytest
from numpy.typing import NDArray
from real_screen import Screen, Window, missing, screen, until, way_of, window

from fieldsim.files import load_field, load_run
from fieldsim.model import Box, Run, Straight, Turn
from fieldsim.model.errors import FileError
from fieldsim.sim.motion import start_pose
from fieldsim.sim.trials import paths
from fieldsim.studies.attempt import attempt
from fieldsim.window.field.files import FieldFiles
from fieldsim.window.field.session import FieldSession
from fieldsim.window.live import DRAWN, FULL, Shown
from fieldsim.window.loop import SIZE
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.paint.oddsplaces import odds_places
from fieldsim.window.paint.over import draw_plain_error
from fieldsim.window.record import without_a_screen
from fieldsim.window.run.files import RunFiles
from fieldsim.window.run.looking import odds_shown
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView
from fieldsim.window.screen import tell

# The same desks are tried without a screen, and quicker, in tests/window/run and tests/window/field.
pytestmark = [pytest.mark.slow, pytest.mark.skipif(bool(missing()), reason=missing() or "there is one")]

ROOT = Path(__file__).parent.parent.parent
LARGE = (1600, 1000)
"""The screen; the window begins smaller."""
SMALL = (900, 640)
# Of the pixels that a message covers, how many must be as they are to be. Letters come from the same file everywhere.
ALIKE = 0.98
# Invented, with a comment on nearly every line: none of them may be lost.
BOARD = """\
# Our board, measured with a tape.
field: Our board
size: [2000, 1000]        # inside the walls
walls: {height: 70}
obstacles:
  - name: tower           # wobbles
    box: {center: [600, 500], size: [100, 100]}
    height: 200
  # - name: bridge, not built yet
"""
_KEYS = {"Prior": "page up", "Next": "page down"}


class Untried:
    """No trials: a twin only knows where things are, and what was changed."""

    def want(self, run: Any, ready: Any = None, *, bare: bool = False) -> int:
        return 0

    def news(self) -> None:
        return None


class Hand:
    """Does the same to a window and to its twin."""

    def __init__(self, on: Window, twin: RunSession | FieldSession) -> None:
        self.window = on
        self.twin: Any = twin

    def click(self, x: float, y: float) -> None:
        x, y = round(x), round(y)
        self.window.click(x, y)
        self.twin.moved(x, y)
        self.twin.pressed(x, y)
        self.twin.released(x, y)

    def drag(self, begin: tuple[float, float], end: tuple[float, float]) -> None:
        self.window.drag(begin, end)
        first, *rest = way_of(begin, end)
        self.twin.moved(*first)
        self.twin.pressed(*first)
        for at in rest:
            self.twin.moved(*at)
        self.twin.released(*rest[-1])

    def keys(self, *names: str) -> None:
        """By the names of X: 'ctrl+z', 'Return'."""
        self.window.keys(*names)
        for name in names:
            *mods, key = name.split("+")
            self.twin.key(" ".join([*mods, _KEYS.get(key, key.casefold())]))

    def type(self, text: str) -> None:
        self.window.type(text)
        for letter in text:
            self.twin.key(letter)
            self.twin.text(letter)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Screen]:
    with screen(tmp_path_factory.mktemp("screen"), LARGE) as made:
        yield made


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A copy of the demo season; the flour round's file."""
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, tmp_path / part)
    return tmp_path / "runs" / "bakery" / "flour-round.yaml"


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "our board.yaml"
    path.write_text(BOARD, encoding="utf-8")
    return path


def twin_of(path: Path, size: tuple[int, int] = SIZE) -> RunSession:
    files = RunFiles.read(path)
    return RunSession(files.begun, Untried(), size, robots=files.robots)


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """A text in which each first is a second, and nothing else is other than it was."""
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def painted(session: RunSession) -> NDArray[np.uint8]:
    surface = pygame.Surface(session.places.size)
    paint(surface, RunView(session).scene(), Layers())
    return pixels(surface)


def pixels(surface: pygame.Surface) -> NDArray[np.uint8]:
    return np.transpose(pygame.surfarray.array3d(surface), (1, 0, 2))


def shown_over(on: Window, twin: RunSession) -> bool:
    """Whether the window has over it what the twin has: a question, or what went wrong, letter by letter."""
    with without_a_screen():
        there = painted(twin)
        kept = twin.asked, twin.error
        twin.asked = twin.error = None
        without = painted(twin)
        twin.asked, twin.error = kept
    covered = (there != without).any(axis=2)
    assert covered.mean() > 0.01
    return alike(on, there, covered)


def alike(on: Window, there: NDArray[np.uint8], where: NDArray[np.bool_]) -> bool:
    seen = on.picture()
    return seen.shape == there.shape and bool((seen == there).all(axis=2)[where].mean() > ALIKE)


def shows(on: Window, twin: RunSession, *parts: str) -> bool:
    """Whether some parts of the window look as they must."""
    with without_a_screen():
        there = painted(twin)
    where = np.zeros(there.shape[:2], dtype=bool)
    for name in parts:
        rect = dict(twin.places.parts())[name]
        where[rect.y : rect.bottom, rect.x : rect.right] = True
    return alike(on, there, where)


def test_the_start_into_a_jig_a_distance_typed_undone_and_saved(large: Screen, season: Path, tmp_path: Path) -> None:
    before = season.read_text(encoding="utf-8")
    with window(large, season, tmp_path / "home") as on:
        assert on.size == SIZE
        hand = Hand(on, twin_of(season))
        twin = hand.twin
        gate = start_pose(replace(twin.run, start="gate block"))[:2]
        # Not quite there: it snaps.
        x, y = twin.camera.pixel(*gate)
        hand.drag(twin.camera.pixel(*twin.handles[0].at), (x + 3, y - 2))
        on.until_unsaved()
        assert twin.run.start == "gate block"

        # The first segment on the strip, and its number at the right.
        edges = twin.strip.edges
        hand.click((edges[0] + edges[1]) / 2, twin.places.segments.centre[1])
        row = next(n for n, line in enumerate(twin.lines) if line.text == "240")
        hand.click(*twin.places.rows[row].entry.centre)
        hand.type("250")
        hand.keys("Return")
        assert twin.run.segments[0] == Straight(250.0)
        until(lambda: "- straight: 250" in on.copies, "what was typed", tell=lambda: on.copies)
        hand.keys("ctrl+z")
        until(lambda: "- straight: 250" not in on.copies, "undone", tell=lambda: on.copies)
        assert "start: gate block" in on.copies
        hand.keys("ctrl+z")
        on.until_unsaved(False)
        hand.keys("ctrl+y", "ctrl+y")
        on.until_unsaved()
        hand.click(*twin.places.button("save").centre)
        on.until_unsaved(False)
        assert on.copies == ""
        # Everything is saved: it asks nothing.
        on.ask_to_close()
        assert on.until_closed() == 0
        assert on.heard() == ""
    after = season.read_text(encoding="utf-8")
    assert after == changed(
        before, ("start: corner block ", "start: gate block   "), ("- straight: 240", "- straight: 250")
    )
    assert season.with_name("flour-round.yaml.bak").read_text(encoding="utf-8") == before


def test_a_box_is_drawn_moved_typed_and_saved(large: Screen, board: Path, tmp_path: Path) -> None:
    with window(large, board, tmp_path / "home") as on:
        hand = Hand(on, FieldSession(FieldFiles.read(board).field, SIZE))
        twin = hand.twin
        hand.click(*twin.places.button("tool box").centre)
        at = twin.camera.pixel
        hand.drag(at(1000, 300), at(1300, 480))
        on.until_unsaved()
        # By its middle to elsewhere.
        hand.drag(at(1150, 390), at(1455, 640))
        # (The name is the first line.)
        row = next(n for n, line in enumerate(twin.lines) if line.label == "height, up to")
        hand.click(*twin.places.rows[row].entry.centre)
        hand.type("85")
        hand.keys("Return", "ctrl+s")
        on.until_unsaved(False)
        on.keys("ctrl+q")
        assert on.until_closed() == 0
        assert on.heard() == ""
    field = load_field(board)
    assert field == twin.field
    tower, new = field.obstacles
    assert tower.name == "tower"
    assert new.height == (0.0, 85.0)
    assert isinstance(new.shape, Box)
    # To a pixel of it.
    pixel = 1.01 / twin.camera.zoom
    assert new.shape.center == pytest.approx((1455, 640), abs=2 * pixel)
    assert new.shape.size == pytest.approx((300, 180), abs=2 * pixel)
    lines = board.read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if line in BOARD.splitlines()] == BOARD.splitlines()
    assert len(lines) == len(BOARD.splitlines()) + 3


def test_a_field_that_is_not_there_yet_by_keyboard(large: Screen, tmp_path: Path) -> None:
    path = tmp_path / "new field.yaml"
    with window(large, path, tmp_path / "home") as on:
        hand = Hand(on, FieldSession(FieldFiles.read(path).field, SIZE))
        # A box; its name; then its place by the arrows.
        hand.keys("1", "Return", "m")
        hand.type("shed")
        hand.keys("Return", "alt+Left", "alt+shift+Up")
        hand.keys("ctrl+s")
        on.until_unsaved(False)
        on.keys("ctrl+q")
        assert on.until_closed() == 0
        assert on.heard() == ""
    field = load_field(path)
    assert field == hand.twin.field
    (shed,) = field.obstacles
    assert shed.name == "shed"
    assert isinstance(shed.shape, Box)
    middle = field.size[0] / 2, field.size[1] / 2
    assert shed.shape.center == (middle[0] - 1, middle[1] + 10)


def test_a_mistake_in_the_file_is_shown_with_its_line_until_it_is_mended(
    large: Screen, season: Path, tmp_path: Path
) -> None:
    good = season.read_text(encoding="utf-8")
    bad = changed(good, ("- straight: 640", "- straigt: 640"))
    line = good[: good.index("- straight: 640")].count("\n") + 1
    season.write_text(bad, encoding="utf-8")
    with pytest.raises(FileError) as wrong:
        load_run(season)
    words = tell(wrong.value)
    assert f"flour-round.yaml:{line}:" in words[0]

    with window(large, season, tmp_path / "home") as on:
        # Broken from the beginning: there is nothing else to show.
        with without_a_screen():
            surface = pygame.Surface(SIZE)
            title = "flour-round.yaml cannot be shown yet"
            draw_plain_error(surface, title, (*words, "", "It is looked at again when it is saved."), 1.0, Layers())
            told = pixels(surface)
        everywhere = np.ones(told.shape[:2], dtype=bool)
        until(lambda: alike(on, told, everywhere), "the mistake, and where", tell=on.heard)
        season.write_text(good, encoding="utf-8")
        twin = twin_of(season)
        until(lambda: shows(on, twin, "segments", "switches"), "the run", tell=on.heard)
        # Broken while it is shown: it lies over what was there before.
        season.write_text(bad, encoding="utf-8")
        twin.error = "flour-round.yaml has a mistake now", (*words, "", "What is shown is what it was before.")
        until(lambda: shown_over(on, twin), "the mistake over the run", tell=on.heard)
        season.write_text(changed(good, ("- straight: 640", "- straight: 630")), encoding="utf-8")
        until(lambda: not shown_over(on, twin), "mended", tell=on.heard)
        twin = twin_of(season)
        until(lambda: shows(on, twin, "segments", "switches"), "the run as it is now", tell=on.heard)
        on.ask_to_close()
        assert on.until_closed() == 0
        assert on.heard() == ""


def test_what_was_not_saved_is_there_again_after_a_kill(large: Screen, season: Path, tmp_path: Path) -> None:
    before = season.read_text(encoding="utf-8")
    home = tmp_path / "home"
    with window(large, season, home) as on:
        hand = Hand(on, twin_of(season))
        hand.keys("Tab", "Tab", "Delete", "j")
        on.until_unsaved()
        # Its cross asks first, and no means no.
        on.ask_to_close()
        hand.twin.asked = "quit"
        until(lambda: shown_over(on, hand.twin), "the question", tell=on.heard)
        on.keys("n")
        until(lambda: not shown_over(on, hand.twin), "it stays", tell=on.heard)
        until(lambda: "start: gate block" in on.copies and "-89" not in on.copies, "a copy", tell=lambda: on.copies)
        on.kill()
    assert season.read_text(encoding="utf-8") == before
    with window(large, season, home) as on:
        hand = Hand(on, twin_of(season))
        hand.twin.asked = "recover"
        until(lambda: shown_over(on, hand.twin), "the offer", tell=on.heard)
        on.keys("y")
        on.until_unsaved()
        on.keys("ctrl+s")
        on.until_unsaved(False)
        assert on.copies == ""
        on.keys("ctrl+q")
        assert on.until_closed() == 0
        assert on.heard() == ""
    after = season.read_text(encoding="utf-8")
    # The comments of the segment that was taken out go with it.
    gone = [line for line in before.splitlines() if "-89" in line or "about: right wheel" in line]
    assert len(gone) == 2
    wanted = "\n".join(line for line in before.splitlines() if line not in gone) + "\n"
    assert after == changed(wanted, ("start: corner block ", "start: gate block   "))


def test_it_is_made_larger_and_smaller(large: Screen, season: Path, tmp_path: Path) -> None:
    with window(large, season, tmp_path / "home") as on:
        # There is no window manager to keep it on the screen.
        on.hands("windowmove", on.number, 0, 0)
        for size in (SMALL, LARGE, (1100, 900)):
            on.hands("windowsize", on.number, *size)
            twin = twin_of(season, size)
            until(lambda twin=twin: shows(on, twin, "segments", "switches"), f"{size}", tell=on.heard)
        # And the mouse is where it seems to be.
        hand = Hand(on, twin)
        hand.click((twin.strip.edges[2] + twin.strip.edges[3]) / 2, twin.places.segments.centre[1])
        until(lambda: shows(on, twin, "numbers"), "the third segment", tell=on.heard)
        on.keys("ctrl+q")
        assert on.until_closed() == 0
        assert on.heard() == ""


def test_the_whole_screen_and_back(large: Screen, season: Path, tmp_path: Path) -> None:
    with window(large, season, tmp_path / "home") as on:
        begun = on.size
        assert begun != LARGE
        on.keys("F11")
        on.find_again(LARGE)
        # There is no window manager to lay it on the screen.
        on.hands("windowmove", "--sync", on.number, 0, 0)
        twin = twin_of(season, LARGE)
        until(lambda: shows(on, twin, "segments", "switches"), "painted whole", tell=on.heard)
        # The mouse is where it seems to be, and the keyboard still its own.
        Hand(on, twin).click((twin.strip.edges[2] + twin.strip.edges[3]) / 2, twin.places.segments.centre[1])
        until(lambda: shows(on, twin, "numbers"), "the third segment", tell=on.heard)
        on.keys("F11")
        on.find_again(begun)
        back = twin_of(season, begun)
        x, y = (back.strip.edges[2] + back.strip.edges[3]) / 2, back.places.segments.centre[1]
        back.moved(x, y)
        back.pressed(x, y)
        back.released(x, y)
        until(lambda: shows(on, back, "segments", "numbers"), "painted again", tell=on.heard)
        on.keys("ctrl+q")
        assert on.until_closed() == 0
        assert on.heard() == ""


def test_a_whole_edit_without_the_mouse(large: Screen, season: Path, tmp_path: Path) -> None:
    before = season.read_text(encoding="utf-8")
    with window(large, season, tmp_path / "home") as on:
        hand = Hand(on, twin_of(season))
        twin = hand.twin
        # The help is closed by any key, and that key does nothing else.
        hand.keys("h", "j")
        # The first segment: its distance is armed.
        hand.keys("Tab")
        hand.type("255")
        hand.keys("Return")
        # A new one after it, twice a wheel's notch more; then the start in the next jig, then moved by hand and back.
        hand.keys("n", "Prior", "Prior", "j", "alt+Right", "ctrl+z")
        hand.keys("ctrl+s")
        on.until_unsaved(False)
        until(lambda: season.read_text(encoding="utf-8") != before, "saved", tell=on.heard)
        on.keys("ctrl+q")
        assert on.until_closed() == 0
        assert on.heard() == ""
    assert load_run(season) == twin.run
    new = twin.run.segments[1]
    assert isinstance(new, Straight)
    after = season.read_text(encoding="utf-8")
    first = f"  - straight: 255\n  - straight: {new.distance:g}"
    assert after == changed(before, ("start: corner block ", "start: gate block   "), ("  - straight: 240", first))


class Counted:
    """All trials at once, for a twin that is to show what the window does."""

    def __init__(self) -> None:
        self.wish: Run | None = None

    def want(self, run: Run, ready: Any = None, *, bare: bool = False) -> int:
        self.wish = run
        return 1

    def news(self) -> Shown | None:
        run, self.wish = self.wish, None
        if run is None:
            return None
        done = attempt(run, trials=FULL, keep=FULL)
        assert done.first is not None
        sample = paths(done.ready, 1, done.first, list(range(DRAWN)))
        return Shown(run, 1, done.ready, done.answer, done.first, sample, (), FULL, True)


def test_the_end_of_a_straight_is_dragged_on_the_field_and_saved(large: Screen, season: Path, tmp_path: Path) -> None:
    before = season.read_text(encoding="utf-8")
    with window(large, season, tmp_path / "home") as on:
        hand = Hand(on, twin_of(season))
        twin = hand.twin
        hand.click((twin.strip.edges[0] + twin.strip.edges[1]) / 2, twin.places.segments.centre[1])
        x, y = next(twin.camera.pixel(*handle.at) for handle in twin.handles if handle.name == "path 0 end")
        hand.drag((x, y), (x, y - 30))
        on.until_unsaved()
        straight = twin.run.segments[0]
        assert isinstance(straight, Straight)
        assert straight.distance > 270.0
        hand.keys("ctrl+s")
        on.until_unsaved(False)
        on.ask_to_close()
        assert on.until_closed() == 0
        assert on.heard() == ""
    after = season.read_text(encoding="utf-8")
    assert after == changed(before, ("- straight: 240", f"- straight: {straight.distance:g}"))


def test_a_kind_is_chosen_from_a_list(large: Screen, season: Path, tmp_path: Path) -> None:
    with window(large, season, tmp_path / "home") as on:
        hand = Hand(on, twin_of(season))
        twin = hand.twin
        hand.click((twin.strip.edges[2] + twin.strip.edges[3]) / 2, twin.places.segments.centre[1])
        hand.click(*twin.places.rows[0 - twin.first_row].entry.centre)
        assert twin.listing is not None
        until(lambda: shows(on, twin, "numbers"), "the list over the card", tell=on.heard)
        hand.keys("Down", "Return")
        assert isinstance(twin.run.segments[2], Turn)
        hand.keys("ctrl+s")
        on.until_unsaved(False)
        on.ask_to_close()
        assert on.until_closed() == 0
        assert on.heard() == ""
    assert load_run(season) == twin.run


def test_what_fails_most_is_pressed_and_its_trials_are_stepped_through(
    large: Screen, season: Path, tmp_path: Path
) -> None:
    files = RunFiles.read(season)
    twin = RunSession(files.begun, Counted(), SIZE, robots=files.robots)
    twin.tick(0.0)
    with window(large, season, tmp_path / "home") as on:
        hand = Hand(on, twin)
        until(lambda: shows(on, twin, "odds"), "all trials are counted", tell=on.heard)
        place = odds_places(twin.places.odds, twin.places.unit, odds_shown(twin)).rows[0].rect
        hand.click(place.x + 40, place.centre[1])
        assert twin.picked is not None
        until(lambda: shows(on, twin, "odds"), "the row that is looked at", tell=on.heard)
        hand.click(*odds_places(twin.places.odds, twin.places.unit, odds_shown(twin)).rows[0].forth.centre)
        assert odds_shown(twin).which.startswith("2 of ")
        until(lambda: shows(on, twin, "odds"), "the next trial", tell=on.heard)
        on.ask_to_close()
        assert on.until_closed() == 0
        assert on.heard() == ""


def test_everything_on_a_field_once_more_by_keys(large: Screen, board: Path, tmp_path: Path) -> None:
    with window(large, board, tmp_path / "home") as on:
        hand = Hand(on, FieldSession(FieldFiles.read(board).field))
        hand.keys("ctrl+a", "ctrl+c", "ctrl+d", "Right", "ctrl+s")
        on.until_unsaved(False)
        until(lambda: len(load_field(board).obstacles) == 2, "saved", tell=on.heard)
        on.ask_to_close()
        assert on.until_closed() == 0
        assert on.heard() == ""
    assert load_field(board) == hand.twin.field
