"""The window in which a field is drawn, with real events of pygame, on SDL's driver that draws nowhere."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pygame
import pytest
from click.testing import CliRunner

from fieldsim.cli import program
from fieldsim.files import load_field
from fieldsim.model import Box, Obstacle, Picture, Round
from fieldsim.model.errors import FileError, SaveError
from fieldsim.window.field.app import FieldDesk, picture_field
from fieldsim.window.field.files import FieldFiles, begins_field
from fieldsim.window.field.session import FieldSession
from fieldsim.window.loop import NoScreenError, run_desk
from fieldsim.window.paint.editor import paint_editor
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.layout import TOOLS, field_layout

ROOT = Path(__file__).parents[3]
SIZE = (1280, 800)
# Invented, with a comment on nearly every line: none of them may be lost.
TEXT = """\
# Our board, measured with a tape.
field: Our board
size: [2000, 1000]        # inside the walls
walls: {height: 70}
obstacles:
  - name: tower           # wobbles
    box: {center: [600, 500], size: [100, 100]}
    height: 200
  # - name: bridge
"""


@pytest.fixture(autouse=True)
def nobody_sees(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SIZE)
    yield
    pygame.quit()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[FieldDesk]:
    path = tmp_path / "our board.yaml"
    path.write_text(TEXT, encoding="utf-8")
    made = FieldDesk(path, SIZE, 1.0, folder=tmp_path / "kept")
    yield made
    made.close()


def at(desk: FieldDesk) -> FieldSession:
    assert desk.session is not None
    return desk.session


def post(kind: int, **values: Any) -> None:
    pygame.event.post(pygame.event.Event(kind, **values))


def press(key: int, text: str = "", mod: int = 0) -> None:
    post(pygame.KEYDOWN, key=key, unicode=text, mod=mod)
    if text.isprintable() and text and not mod:
        post(pygame.TEXTINPUT, text=text)


def write(text: str) -> None:
    for letter in text:
        press(ord(letter), letter)


def drag(desk: FieldDesk, a: tuple[float, float], b: tuple[float, float]) -> None:
    """With the left button from a point of the field to another, mm."""
    camera = at(desk).camera
    start, end = ((round(x), round(y)) for x, y in (camera.pixel(*a), camera.pixel(*b)))
    post(pygame.MOUSEMOTION, pos=start, rel=(0, 0), buttons=(0, 0, 0))
    post(pygame.MOUSEBUTTONDOWN, pos=start, button=1)
    for k in range(1, 5):
        pos = tuple(round(p + (q - p) * k / 4) for p, q in zip(start, end, strict=True))
        post(pygame.MOUSEMOTION, pos=pos, rel=(1, 1), buttons=(1, 0, 0))
    post(pygame.MOUSEBUTTONUP, pos=end, button=1)


def click_on(desk: FieldDesk, name: str) -> None:
    """A button of the window by its name."""
    pos = tuple(round(p) for p in at(desk).places.button(name).centre)
    post(pygame.MOUSEBUTTONDOWN, pos=pos, button=1)
    post(pygame.MOUSEBUTTONUP, pos=pos, button=1)


def frames(desk: FieldDesk, count: int = 2) -> None:
    """Events that were posted are seen, and the window is painted."""
    layers = Layers()
    for _ in range(count):
        for event in pygame.event.get():
            desk.handle(event)
        desk.tick(time.perf_counter())
        surface = pygame.display.get_surface()
        assert surface is not None
        desk.draw(surface, layers)


def wait(desk: FieldDesk, until: Callable[[], bool]) -> None:
    end = time.monotonic() + 600
    while not until() and time.monotonic() < end:
        desk.tick(time.perf_counter())
        time.sleep(0.02)
    assert until()


def changes(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines that went and lines that came."""
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def a_picture(path: Path, size: tuple[int, int] = (400, 200)) -> Path:
    made = pygame.Surface(size)
    made.fill((200, 190, 150))
    pygame.draw.line(made, (20, 20, 20), (100, 0), (100, size[1]), 4)
    pygame.image.save(made, str(path))
    return path


def test_a_box_is_drawn_lined_up_sized_named_and_saved(desk: FieldDesk) -> None:
    session = at(desk)
    click_on(desk, "tool box")
    drag(desk, (1000, 200), (1200, 330))
    frames(desk)
    assert len(session.field.obstacles) == 2
    # Moved until its left side is in line with that of the tower, nearly.
    new = session.field.obstacles[1].shape
    assert isinstance(new, Box)
    way = 550 + 6 / session.camera.zoom - (new.center[0] - new.size[0] / 2)
    drag(desk, new.center, (new.center[0] + way, new.center[1]))
    frames(desk)
    moved = session.field.obstacles[1].shape
    assert isinstance(moved, Box)
    assert moved.center[0] - moved.size[0] / 2 == 550.0
    # Its name by m, its size by typing.
    press(pygame.K_m, "m")
    write("mill")
    press(pygame.K_RETURN, "\r")
    for _ in range(3):
        press(pygame.K_DOWN, mod=pygame.KMOD_CTRL)
    press(pygame.K_RETURN, "\r")
    write("21 cm")
    press(pygame.K_RETURN, "\r")
    frames(desk)
    made = session.field.obstacles[1]
    assert made.name == "mill"
    assert isinstance(made.shape, Box)
    assert made.shape.size[0] == 210.0
    # One thing too many, taken back.
    press(pygame.K_7, "7")
    press(pygame.K_RETURN, "\r")
    frames(desk)
    assert len(session.field.targets) == 1
    press(pygame.K_z, "z", pygame.KMOD_CTRL)
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    post(pygame.QUIT)
    run_desk(desk, frames=10)
    assert not desk.running
    assert load_field(desk.path) == session.field
    after = desk.path.read_text(encoding="utf-8")
    gone, come = changes(TEXT, after)
    assert gone == []
    assert len(come) == 2
    assert "  - name: mill" in come
    assert f"size: [210, {made.shape.size[1]:g}]" in come[1]
    assert (desk.path.parent / "our board.yaml.bak").read_text(encoding="utf-8") == TEXT


def test_moving_a_thing_changes_its_line_only(desk: FieldDesk) -> None:
    drag(desk, (600, 500), (900, 700))
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    frames(desk)
    gone, come = changes(TEXT, desk.path.read_text(encoding="utf-8"))
    assert len(gone) == len(come) == 1
    shape = at(desk).field.obstacles[0].shape
    assert come[0] == f"    box: {{center: [{shape.center[0]:g}, {shape.center[1]:g}], size: [100, 100]}}"  # type: ignore[union-attr]


def test_a_new_field_is_written_when_it_is_saved(tmp_path: Path) -> None:
    path = tmp_path / "new-field.yaml"
    desk = FieldDesk(path, SIZE, 1.0, folder=tmp_path / "kept")
    assert at(desk).field.name == "New field"
    assert at(desk).field.size == (2000.0, 1000.0)
    frames(desk)
    assert not path.exists()
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    frames(desk)
    assert load_field(path) == at(desk).field
    drag(desk, (600, 500), (900, 700))
    press(pygame.K_1, "1")
    drag(desk, (600, 500), (900, 700))
    frames(desk)
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    frames(desk)
    assert len(load_field(path).obstacles) == 1
    assert not at(desk).history.dirty
    desk.close()


def test_a_picture_that_is_dropped_is_laid_and_scaled(desk: FieldDesk, tmp_path: Path) -> None:
    (tmp_path / "pictures").mkdir()
    post(pygame.DROPFILE, file=str(a_picture(tmp_path / "pictures" / "mat.png")))
    frames(desk)
    session = at(desk)
    assert session.field.picture == Picture("pictures/mat.png", 2000.0)
    assert session.aspect == 0.5
    assert desk.view is not None
    assert desk.view.surface is not None
    # The line at a quarter of its width is 0.6 m from the left edge: the picture is 2.4 m wide.
    drag(desk, (0, 500), (500, 500))
    write("0.6 m")
    press(pygame.K_RETURN, "\r")
    press(pygame.K_0, "0")
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    frames(desk)
    picture = load_field(desk.path).picture
    assert picture is not None
    assert picture.width == pytest.approx(2400, rel=4e-3)
    assert picture.corner == pytest.approx((0, 500 - 600), abs=4)
    gone, come = changes(TEXT, desk.path.read_text(encoding="utf-8"))
    assert gone == []
    assert all("picture" in line or "file" in line or "corner" in line or "width" in line for line in come)
    desk.close()


def test_a_picture_beside_the_file_is_found(desk: FieldDesk, tmp_path: Path) -> None:
    press(pygame.K_p, "p")
    frames(desk)
    assert "no PNG or JPEG" in at(desk).toast
    a_picture(tmp_path / "a mat.jpg")
    a_picture(tmp_path / "b.png")
    press(pygame.K_p, "p")
    frames(desk)
    assert at(desk).field.picture == Picture("a mat.jpg", 2000.0)
    press(pygame.K_p, "p", pygame.KMOD_SHIFT)
    frames(desk)
    assert at(desk).field.picture == Picture("b.png", 2000.0)
    (tmp_path / "notes.txt").write_text("no picture", encoding="utf-8")
    (tmp_path / "broken.png").write_text("no picture", encoding="utf-8")
    for name in ("notes.txt", "broken.png"):
        post(pygame.DROPFILE, file=str(tmp_path / name))
        frames(desk)
        assert name in at(desk).toast
    assert at(desk).field.picture == Picture("b.png", 2000.0)
    desk.close()


def test_what_was_not_saved_is_offered_again(desk: FieldDesk, tmp_path: Path) -> None:
    drag(desk, (600, 500), (900, 700))
    frames(desk)
    wanted = at(desk).field
    desk.crash_copy()
    desk.close()
    again = FieldDesk(desk.path, SIZE, 1.0, folder=tmp_path / "kept")
    assert at(again).asked == "recover"
    press(pygame.K_y, "y")
    frames(again)
    assert at(again).field == wanted
    assert at(again).history.dirty
    again.close()


def test_closing_asks_and_what_is_given_up_is_not_offered(desk: FieldDesk, tmp_path: Path) -> None:
    drag(desk, (600, 500), (900, 700))
    post(pygame.QUIT)
    frames(desk)
    assert desk.running
    assert at(desk).asked == "quit"
    press(pygame.K_y, "y")
    frames(desk)
    assert not desk.running
    desk.close()
    assert desk.path.read_text(encoding="utf-8") == TEXT
    again = FieldDesk(desk.path, SIZE, 1.0, folder=tmp_path / "kept")
    assert at(again).asked is None
    again.close()


def test_a_mistake_in_the_file_is_shown_and_goes_when_it_is_mended(desk: FieldDesk) -> None:
    desk.path.write_text(TEXT.replace("size: [100, 100]", "sice: [100, 100]"), encoding="utf-8")
    session = at(desk)
    wait(desk, lambda: session.error is not None)
    assert session.error is not None
    assert any("our board.yaml:7" in line for line in session.error[1])
    frames(desk)
    desk.path.write_text(TEXT.replace("[600, 500]", "[700, 500]"), encoding="utf-8")
    wait(desk, lambda: session.error is None)
    assert session.field.obstacles[0] == Obstacle("tower", Box((700.0, 500.0), (100.0, 100.0)), (0.0, 200.0))
    desk.close()


def test_a_file_with_a_mistake_opens_when_it_is_mended(tmp_path: Path) -> None:
    path = tmp_path / "board.yaml"
    path.write_text(TEXT.replace("size: [2000, 1000]", "size: [2000]"), encoding="utf-8")
    desk = FieldDesk(path, SIZE, 1.0, folder=tmp_path / "kept")
    assert desk.trouble is not None
    assert any("board.yaml:3" in line for line in desk.trouble[1])
    frames(desk)
    path.write_text(TEXT, encoding="utf-8")
    wait(desk, lambda: desk.session is not None)
    frames(desk)
    desk.close()


def test_a_change_elsewhere_and_one_that_is_not_saved_are_both_kept(desk: FieldDesk) -> None:
    drag(desk, (600, 500), (900, 700))
    frames(desk)
    session = at(desk)
    here = session.field.obstacles[0]
    there = TEXT.replace("# wobbles", "# mended").replace("height: 70", "height: 75")
    there += "  - name: barrel\n    round: {center: [1500, 300], radius: 40}\n"
    desk.path.write_text(there, encoding="utf-8")
    wait(desk, lambda: "is kept" in session.toast)
    assert session.field.obstacles == (here, Obstacle("barrel", Round((1500.0, 300.0), 40.0)))
    assert session.field.walls == (0.0, 75.0)
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    frames(desk)
    assert "# mended" in desk.path.read_text(encoding="utf-8")
    assert load_field(desk.path) == session.field
    session.do("undo")
    assert session.field.obstacles[0].shape == Box((600.0, 500.0), (100.0, 100.0))
    assert len(session.field.obstacles) == 2
    desk.close()


def test_what_does_not_fit_a_change_elsewhere_is_said(desk: FieldDesk) -> None:
    session = at(desk)
    press(pygame.K_1, "1")
    drag(desk, (1700, 500), (1900, 700))
    frames(desk)
    smaller = TEXT.replace("[2000, 1000]", "[1000, 1000]")
    desk.path.write_text(smaller, encoding="utf-8")
    wait(desk, lambda: session.error is not None)
    assert session.error is not None
    assert "does not fit" in session.error[0]
    press(pygame.K_ESCAPE)
    press(pygame.K_z, "z", pygame.KMOD_CTRL)
    frames(desk)
    wait(desk, lambda: session.field.size == (1000.0, 1000.0))
    desk.close()


def test_a_copy_can_be_thrown_away_or_asked_for_again(desk: FieldDesk, tmp_path: Path) -> None:
    drag(desk, (600, 500), (900, 700))
    frames(desk)
    desk.crash_copy()
    desk.close()
    for key, text, asks in ((pygame.K_ESCAPE, "", "recover"), (pygame.K_n, "n", None)):
        again = FieldDesk(desk.path, SIZE, 1.0, folder=tmp_path / "kept")
        assert at(again).asked == "recover"
        press(key, text)
        frames(again)
        again.close()
        last = FieldDesk(desk.path, SIZE, 1.0, folder=tmp_path / "kept")
        assert at(last).asked == asks
        last.close()


def test_a_place_that_cannot_be_written_to_is_said(tmp_path: Path) -> None:
    desk = FieldDesk(tmp_path / "no folder" / "board.yaml", SIZE, 1.0, folder=tmp_path / "kept")
    press(pygame.K_s, "s", pygame.KMOD_CTRL)
    frames(desk)
    assert at(desk).error is not None
    assert at(desk).unsaved
    with pytest.raises(SaveError):
        FieldFiles.read(desk.path).save(at(desk).field)
    desk.close()


@pytest.mark.parametrize("size", [(900, 600), (1280, 800), (1920, 1080), (640, 420), (2560, 1600)])
@pytest.mark.parametrize("scale", [1.0, 2.0])
def test_nothing_in_the_window_overlaps(size: tuple[int, int], scale: float) -> None:
    places = field_layout(size, scale)
    for found in (list(places.parts()), list(places.pressable())):
        for n, (_, rect) in enumerate(found):
            assert rect.x >= 0
            assert rect.right <= size[0]
            assert rect.bottom <= size[1]
            assert not any(rect.overlaps(other) for _, other in found[n + 1 :])
    assert {f"tool {name}" for name in TOOLS} <= {name for name, _ in places.buttons}


@pytest.mark.parametrize("dark", [False, True])
def test_every_tool_is_painted(desk: FieldDesk, tmp_path: Path, dark: bool) -> None:
    session = at(desk)
    session.dark = dark
    session.take_picture(a_picture(tmp_path / "mat.png").name)
    frames(desk)
    layers = Layers()
    shots = set()
    for tool in ("pick", *TOOLS[1:10]):
        surface = pygame.Surface(SIZE)
        session._take(tool)
        for x, y in ((700, 300), (760, 320)):
            session.moved(x, y)
            session.pressed(x, y)
            session.released(x, y)
        assert desk.view is not None
        paint_editor(surface, desk.view.scene(), layers)
        shots.add(pygame.image.tobytes(surface, "RGB"))
    assert len(shots) == 10
    desk.close()


def test_a_picture_of_the_window_without_a_screen(tmp_path: Path) -> None:
    shutil.copy(ROOT / "fields" / "practice.yaml", tmp_path / "practice.yaml")
    out = picture_field(tmp_path / "practice.yaml", tmp_path / "window.png", size=(900, 600), dark=True)
    assert pygame.image.load(str(out)).get_size() == (900, 600)
    with pytest.raises(SaveError, match="must end in"):
        picture_field(tmp_path / "practice.yaml", tmp_path / "window.gif")
    with pytest.raises(FileError):
        picture_field(tmp_path / "nothing.yaml", tmp_path / "window.png")


@pytest.mark.parametrize("name", ["myfield.yaml", "Board 2.yml", "fields/bakery2.yaml", "OURFIELD.YAML"])
def test_a_name_that_says_it_is_a_field_begins_one(name: str) -> None:
    assert begins_field(Path(name))


@pytest.mark.parametrize("name", ["flour-ruond.yaml", "match.yaml", "runs/bakery/box.yaml", "myfield", "field.txt"])
def test_other_names_that_are_no_file_do_not(name: str) -> None:
    assert not begins_field(Path(name))


def test_the_command_asks_whether_a_missing_file_is_a_new_field(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[Any] = []

    def no_screen(*all_of_it: Any, **more: Any) -> None:
        raise NoScreenError("none")

    missing = tmp_path / "flour-ruond.yaml"
    monkeypatch.setattr("fieldsim.window.loop.open_window", no_screen)
    done = CliRunner().invoke(program, ["watch", str(missing)])
    assert done.exit_code == 2
    assert f"There is no file {missing}" in done.output
    assert "--new-field" in done.output
    # In a window it is asked there what the file is to be; only a field begins at once.
    monkeypatch.setattr("fieldsim.window.loop.open_window", lambda *all_of_it, **more: opened.append(all_of_it))
    for words in (["watch", str(missing), "--new-field"], ["watch", str(tmp_path / "myfield.yaml")]):
        done = CliRunner().invoke(program, words)
        assert not done.exit_code, done.output
        assert "is not there yet: draw a field, and saving makes it" in done.stdout
    assert len(opened) == 2


def test_what_was_undone_is_not_offered_after_a_crash(desk: FieldDesk) -> None:
    session = desk.session
    assert session is not None
    session.do("draw box")
    session.do("type")
    desk.tick(100.0)
    assert list(desk.recovery.folder.glob("*.json"))
    session.do("undo")
    desk.tick(100.1)
    assert not session.history.dirty
    assert not list(desk.recovery.folder.glob("*.json"))
    # Done again it is kept again.
    session.do("redo")
    desk.tick(103.0)
    assert list(desk.recovery.folder.glob("*.json"))
