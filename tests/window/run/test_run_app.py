"""The run window itself on SDL's driver that draws nowhere, its files, and what happens when others change them."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pygame
import pytest

from fieldsim.files import load_robot, load_run
from fieldsim.model import Straight
from fieldsim.model.errors import FileError
from fieldsim.sim.motion import start_pose
from fieldsim.studies.attempt import attempt
from fieldsim.window.history import History
from fieldsim.window.keys import RUN_KEYS
from fieldsim.window.loop import run_desk, wait_for
from fieldsim.window.recovery import Recovery
from fieldsim.window.run import app as run_app
from fieldsim.window.run.app import RunDesk
from fieldsim.window.run.edits import set_number
from fieldsim.window.run.files import EditedRun, RunFiles, rebased, reread
from fieldsim.window.run.session import RunSession
from fieldsim.window.screen import key_name, mods_of

ROOT = Path(__file__).parents[3]
SIZE = (1280, 800)


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A copy of the demo season; the flour round's file."""
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, tmp_path / part)
    return tmp_path / "runs" / "bakery" / "flour-round.yaml"


@pytest.fixture
def open_desk(season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], RunDesk]]:
    """Opens windows that nobody sees, one after the other."""
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SIZE, pygame.RESIZABLE)
    pygame.key.start_text_input()
    pygame.event.clear()
    opened: list[RunDesk] = []

    def make() -> RunDesk:
        opened.append(RunDesk(season, SIZE, 1.0, threads=1, folder=tmp_path / "kept"))
        return opened[-1]

    yield make
    for desk in opened:
        desk.close()
    pygame.display.quit()


@pytest.fixture
def desk(open_desk: Callable[[], RunDesk]) -> RunDesk:
    return open_desk()


def session_of(desk: RunDesk) -> RunSession:
    assert desk.session is not None
    return desk.session


def press(name: str) -> None:
    """A key by its name in ``keys``, as the system sends it: the key, and what it writes."""
    *mods, key = name.split(" ") if not name.endswith(("page up", "page down")) else [*name.split(" ")[:-2], name]
    key = {"page": "pageup"}.get(key, key)
    mod = sum({"ctrl": pygame.KMOD_LCTRL, "alt": pygame.KMOD_LALT, "shift": pygame.KMOD_LSHIFT}[each] for each in mods)
    if name.endswith("page up") or name.endswith("page down"):
        code = pygame.K_PAGEUP if name.endswith("up") else pygame.K_PAGEDOWN
    else:
        code = pygame.key.key_code(key)
    letters = key if len(key) == 1 and not mod & pygame.KMOD_CTRL else ""
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=code, unicode=letters, mod=mod))
    if letters and not mod & pygame.KMOD_ALT:
        pygame.event.post(pygame.event.Event(pygame.TEXTINPUT, text=letters))
    pygame.event.post(pygame.event.Event(pygame.KEYUP, key=code, unicode=letters, mod=mod))


def mouse(what: int, x: float, y: float, button: int = 1) -> None:
    at = (round(x), round(y))
    if what == pygame.MOUSEMOTION:
        pygame.event.post(pygame.event.Event(what, pos=at, rel=(0, 0), buttons=(1, 0, 0)))
    else:
        pygame.event.post(pygame.event.Event(what, pos=at, button=button))


def drag(way: list[tuple[float, float]]) -> None:
    mouse(pygame.MOUSEBUTTONDOWN, *way[0])
    for at in way[1:]:
        mouse(pygame.MOUSEMOTION, *at)
    mouse(pygame.MOUSEBUTTONUP, *way[-1])


def frames(desk: RunDesk, count: int = 1) -> None:
    """Some frames of the loop, without closing the desk at the end of them."""
    close, desk.close = desk.close, lambda: None  # type: ignore[method-assign]
    try:
        run_desk(desk, frames=count)
    finally:
        desk.close = close  # type: ignore[method-assign]


def until(desk: RunDesk, told: Callable[[], bool], seconds: float = 600.0) -> None:
    """Looks at files and news as the loop does it, till it is so; as if time went ten times as fast."""
    end = time.monotonic() + seconds
    now = time.perf_counter()
    while not told():
        assert time.monotonic() < end, "it never came"
        now += 0.05
        desk.tick(now)
        time.sleep(0.005)


def killed(desk: RunDesk) -> None:
    """As the system leaves a window that was killed: its locks are let go, and nothing else is done."""
    lock = desk.recovery._lock
    assert lock is not None
    lock.close()


def differing(before: str, after: str) -> list[tuple[str, str]]:
    return [(a, b) for a, b in zip(before.splitlines(), after.splitlines(), strict=True) if a != b]


# --- in a window -------------------------------------------------------------------------------------------------


def test_a_start_is_dragged_a_distance_typed_undone_and_saved(desk: RunDesk) -> None:
    made = session_of(desk)
    before = desk.path.read_text(encoding="utf-8")
    x, y = made.camera.pixel(*made.handles[0].at)
    to = made.camera.pixel(*start_pose(replace(made.run, start="gate block"))[:2])
    drag([(x, y), (x + 60, y - 90), (to[0] + 30, to[1] - 20), (to[0] + 2, to[1] - 3)])
    frames(desk)
    assert made.run.start == "gate block"
    for name in ("tab", "2", "5", "0", "return", "n", "ctrl z", "ctrl s"):
        press(name)
    frames(desk, 2)
    assert not made.history.dirty
    after = desk.path.read_text(encoding="utf-8")
    assert [new.split("#")[0].strip() for _, new in differing(before, after)] == [
        "start: gate block",
        "- straight: 250",
    ]
    # The comment beside the start stays.
    assert "# a jig of the field" in differing(before, after)[0][1]
    assert desk.path.with_name("flour-round.yaml.bak").read_text(encoding="utf-8") == before
    run = load_run(desk.path)
    assert (run.start, run.segments[0]) == ("gate block", Straight(250.0))
    # The copy is of the file as it was before the first time.
    press("j")
    press("ctrl s")
    frames(desk)
    assert load_run(desk.path).start == "dough block"
    assert desk.path.with_name("flour-round.yaml.bak").read_text(encoding="utf-8") == before
    # What is saved leaves no recovery copy.
    assert not list(desk.recovery.folder.glob("*.json"))


def test_it_is_closed_by_its_own_cross_and_asks_first(desk: RunDesk) -> None:
    press("j")
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    frames(desk, 2)
    assert desk.running
    assert session_of(desk).asked == "quit"
    press("n")
    frames(desk)
    press("ctrl s")
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    # Saved and closed in one frame: saved first.
    frames(desk, 1)
    assert not desk.running
    assert load_run(desk.path).start == "gate block"


def test_closing_without_saving_leaves_no_copy_behind(desk: RunDesk, open_desk: Callable[[], RunDesk]) -> None:
    press("j")
    frames(desk)
    assert list(desk.recovery.folder.glob("*.json"))
    for name in ("ctrl q", "y"):
        press(name)
    run_desk(desk, frames=3)
    assert not desk.running
    assert load_run(desk.path).start == "corner block"
    assert session_of(open_desk()).asked is None


def test_the_window_takes_another_size(desk: RunDesk) -> None:
    made = session_of(desk)
    surface = pygame.display.set_mode((900, 600), pygame.RESIZABLE)
    pygame.event.post(pygame.event.Event(pygame.VIDEORESIZE, w=900, h=600, size=(900, 600)))
    frames(desk, 2)
    assert surface.get_size() == made.places.size == desk.size == (900, 600)
    press("f11")
    frames(desk, 2)
    assert desk.full
    press("f11")
    frames(desk, 2)
    assert not desk.full
    # (The driver that draws nowhere does not give the former size back.)
    surface = pygame.display.get_surface()
    assert desk.size == made.places.size == surface.get_size()


def test_the_wheel_of_a_real_mouse_goes_nearer(desk: RunDesk) -> None:
    made = session_of(desk)
    zoom = made.camera.zoom
    mouse(pygame.MOUSEMOTION, *made.places.field.centre)
    pygame.event.post(pygame.event.Event(pygame.MOUSEWHEEL, x=0, y=2, precise_x=0.0, precise_y=2.0, flipped=False))
    frames(desk)
    assert made.camera.zoom > zoom


def test_the_odds_are_those_of_try(desk: RunDesk) -> None:
    made = session_of(desk)
    until(desk, lambda: made.shown is not None and made.shown.full)
    answer = attempt(load_run(desk.path)).answer
    assert made.shown is not None
    assert made.shown.answer == answer
    odds = desk.scene().odds
    assert odds.big == f"{answer.success.share * 1000:.0f} in 1000"
    assert (odds.share, odds.low, odds.high) == (answer.success.share, answer.success.low, answer.success.high)
    assert odds.foot == "10000 trials, seed 1"
    often = {trouble.what: trouble.often for trouble in odds.troubles}
    churn = next(each for each in answer.contacts if each.obstacle == "milk churn")
    if "milk churn" in often:
        # Troubles are counted over the trials that are kept, contacts over all.
        assert int(often["milk churn"].split(" ")[0]) == pytest.approx(1000 * churn.share.share, abs=12)
    # And a picked trial fails in the window as it does there.
    press("t")
    frames(desk)
    assert made.picked is not None
    assert made.picked.failure is not None


@pytest.mark.parametrize(
    ("key", "unicode", "mod", "name"),
    [
        (pygame.K_z, "\x1a", pygame.KMOD_LCTRL, "ctrl z"),
        (pygame.K_z, "z", pygame.KMOD_LMETA, "ctrl z"),
        (pygame.K_LEFT, "", pygame.KMOD_LALT | pygame.KMOD_LSHIFT, "alt shift left"),
        (pygame.K_KP_ENTER, "\r", 0, "return"),
        (pygame.K_SLASH, "?", pygame.KMOD_LSHIFT, "?"),
        (pygame.K_7, "/", pygame.KMOD_LSHIFT, "/"),
        # '[' where it is written with a key of the third level: as Linux, and as Windows tell it.
        (pygame.K_8, "[", pygame.KMOD_MODE, "["),
        (pygame.K_8, "[", pygame.KMOD_RALT | pygame.KMOD_LCTRL, "["),
        (pygame.K_LEFTBRACKET, "[", pygame.KMOD_LALT, "alt ["),
        (pygame.K_TAB, "\t", pygame.KMOD_LSHIFT, "shift tab"),
        (pygame.K_PAGEUP, "", 0, "page up"),
        (pygame.K_t, "T", pygame.KMOD_LSHIFT, "shift t"),
    ],
)
def test_keys_have_the_same_names_on_every_keyboard(key: int, unicode: str, mod: int, name: str) -> None:
    pygame.display.init()
    event = pygame.event.Event(pygame.KEYDOWN, key=key, unicode=unicode, mod=mod)
    assert key_name(event) == name
    assert mods_of(pygame.KMOD_RSHIFT) == {"shift"}


def test_it_says_that_it_is_getting_ready_and_can_be_closed_then(desk: RunDesk) -> None:
    surface = pygame.display.get_surface()
    assert surface is not None
    painted = threading.Event()

    def seen() -> None:
        while not surface.get_at((SIZE[0] // 2, SIZE[1] // 2))[0]:
            time.sleep(0.001)
        painted.set()

    surface.fill((0, 0, 0))
    assert wait_for(seen, 1.0)
    assert painted.is_set()
    # What goes wrong there is told by the desk.
    assert wait_for(lambda: 1 // 0, 1.0)
    never = threading.Event()
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    assert not wait_for(never.wait, 1.0)
    press("ctrl q")
    assert not wait_for(never.wait, 1.0)
    never.set()


# More of them by hand: FIELDSIM_SOAK=30 pytest -k random_events takes some minutes.
SEEDS = [5, *(pytest.param(n, marks=pytest.mark.slow) for n in range(6, 7 + int(os.environ.get("FIELDSIM_SOAK", "1"))))]


@pytest.mark.parametrize("seed", SEEDS)
def test_thousands_of_random_events(desk: RunDesk, seed: int) -> None:
    """Whatever a hand can do to it, hundreds of times; all of it can be taken back."""
    made = session_of(desk)
    begun = made.run
    luck = random.Random(seed)
    # What is saved under another name is another session, and what is left is none at all.
    left_out = ("quit", "full screen", "save", "save as", "season", "studies")
    keys = [key for each in RUN_KEYS for key in each.keys if each.action not in left_out]
    spots = [rect.centre for name, rect in made.places.pressable() if name.removeprefix("button ") not in left_out]
    spots.append(made.places.segments.centre)
    for _ in range(25 if seed > 5 else 6):
        for _ in range(40):
            x, y = luck.choice(spots) if luck.random() < 0.4 else (luck.randrange(SIZE[0]), luck.randrange(SIZE[1]))
            if luck.random() < 0.15:
                x, y = made.camera.pixel(*luck.choice(made.handles).at)
            match luck.randrange(7):
                case 0:
                    press(luck.choice(keys))
                case 1:
                    drag(
                        [(x, y), (x + luck.randrange(-90, 90), y + luck.randrange(-90, 90)), (x, y)][
                            : luck.choice((1, 2, 3))
                        ]
                    )
                case 2:
                    mouse(pygame.MOUSEMOTION, x, y)
                case 3:
                    pygame.event.post(
                        pygame.event.Event(pygame.TEXTINPUT, text=luck.choice(["1", "25", "c", ".", "-", "mm"]))
                    )
                case 4:
                    press(luck.choice(["return", "escape", "tab", "down", "n", "delete"]))
                case 6:
                    # What the right button offers, and one of it.
                    mouse(pygame.MOUSEBUTTONDOWN, x, y, button=3)
                    mouse(pygame.MOUSEBUTTONUP, x, y, button=3)
                    press(luck.choice(["return", "escape", "down", "1", "2", "3"]))
                case 5:
                    mouse(pygame.MOUSEMOTION, x, y)
                    pygame.event.post(pygame.event.Event(pygame.MOUSEWHEEL, x=0, y=luck.choice((-1, 1)), flipped=False))
        frames(desk)
        # A study may be asked from the menu; here nobody answers.
        desk.opens = None
    assert desk.running
    assert len(made.history.steps) > 20
    made.asked, made.help, made.error, made.entry, made.listing = None, False, None, None, None
    while made.history.undo_words is not None:
        made.do("undo")
    assert made.run == begun


# --- after a crash -----------------------------------------------------------------------------------------------


def test_what_was_not_saved_is_offered_after_a_kill(desk: RunDesk, open_desk: Callable[[], RunDesk]) -> None:
    for name in ("tab", "delete", "j"):
        press(name)
    frames(desk)
    made = session_of(desk)
    made.change(set_number(made.run, "body", "width", 151.0), "the body's width")
    until(desk, lambda: desk.kept)
    wanted = made.run
    killed(desk)
    again = open_desk()
    assert session_of(again).asked == "recover"
    over = session_of(again).over
    assert over is not None
    assert any(line.startswith("Other than in the file: the segments") for line in over[1]), over
    assert any(line.startswith("The copy was made on 2") for line in over[1])
    # While it is asked nothing is changed.
    press("j")
    frames(again)
    assert session_of(again).run == load_run(again.path)
    press("y")
    frames(again)
    assert session_of(again).run == wanted
    assert session_of(again).history.dirty
    assert session_of(again).history.undo_words == "what was not saved last time"
    press("ctrl s")
    frames(again)
    assert load_run(again.path) == wanted
    assert session_of(open_desk()).asked is None


@pytest.mark.parametrize("answer", ["cross", "escape", "n"])
def test_only_who_says_no_throws_a_copy_away(desk: RunDesk, open_desk: Callable[[], RunDesk], answer: str) -> None:
    press("j")
    frames(desk)
    killed(desk)
    again = open_desk()
    if answer != "cross":
        press(answer)
        frames(again)
    # Looked at and closed by its cross, with nothing changed.
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    run_desk(again, frames=2)
    assert not again.running
    third = open_desk()
    assert session_of(third).asked == (None if answer == "n" else "recover")


def test_a_copy_of_another_robot_is_left_for_its_own_runs(desk: RunDesk, open_desk: Callable[[], RunDesk]) -> None:
    wide = desk.path.with_name("box-wide.yaml")
    other = Recovery(desk.recovery.folder)
    text = wide.read_text(encoding="utf-8")
    other.keep(wide, text.replace("width: 176", "width: 180"), at_once=True)
    other.close()
    assert session_of(open_desk()).asked is None
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    run_desk(open_desk(), frames=2)
    assert Recovery(desk.recovery.folder).offer(wide) is not None


def test_a_process_that_is_killed_loses_nothing(season: Path, tmp_path: Path, open_desk: Callable[[], RunDesk]) -> None:
    program = (
        "import sys, time, pygame\n"
        "from pathlib import Path\n"
        "from fieldsim.window.run.app import RunDesk\n"
        "pygame.display.init(); pygame.font.init(); pygame.display.set_mode((640, 480))\n"
        "desk = RunDesk(Path(sys.argv[1]), (640, 480), 1.0, folder=Path(sys.argv[2]))\n"
        "desk.session.do('next jig'); desk.tick(1.0)\n"
        "print('kept', flush=True); time.sleep(3600)\n"
    )
    environment = {**os.environ, "SDL_VIDEODRIVER": "dummy", "PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-c", program, str(season), str(tmp_path / "kept")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, env=environment, text=True) as process:
        try:
            assert process.stdout is not None
            # Nothing else is written: no greeting of pygame either.
            assert process.stdout.readline() == "kept\n"
            # As long as it lives, its copies are its own.
            assert session_of(open_desk()).asked is None
        finally:
            process.kill()
    again = open_desk()
    assert session_of(again).asked == "recover"
    press("return")
    frames(again)
    assert session_of(again).run.start == "gate block"


def test_an_error_of_the_program_keeps_a_copy(desk: RunDesk, open_desk: Callable[[], RunDesk]) -> None:
    session_of(desk).do("next jig")
    desk.scene = lambda: 1 // 0  # type: ignore[method-assign]
    with pytest.raises(ZeroDivisionError):
        run_desk(desk, frames=2)
    assert session_of(open_desk()).asked == "recover"


# --- others change the files -------------------------------------------------------------------------------------


def test_a_change_elsewhere_is_read_anew(desk: RunDesk) -> None:
    made = session_of(desk)
    made.do("next segment")
    made.row = 1
    made.do("type")
    assert made.entry is not None
    text = desk.path.read_text(encoding="utf-8")
    desk.path.write_text(text.replace("- straight: 240", "- straight: 260"), encoding="utf-8")
    until(desk, lambda: made.run.segments[0] == Straight(260.0))
    assert made.toast == "flour-round.yaml changed: read anew"
    assert not made.history.dirty
    assert made.entry is None


def test_another_field_comes_with_its_own_size(desk: RunDesk) -> None:
    made = session_of(desk)
    assert desk.files is not None
    made.thing = "flour bin"
    field = desk.files.field_file
    text = field.read_text(encoding="utf-8")
    assert "size: [2200, 1100]" in text
    field.write_text(text.replace("size: [2200, 1100]", "size: [2400, 1300]"), encoding="utf-8")
    until(desk, lambda: made.run.field.size == (2400.0, 1300.0))
    assert made.camera.field == (2400.0, 1300.0)
    frames(desk)


def test_what_is_changed_here_and_there_comes_together(desk: RunDesk) -> None:
    made = session_of(desk)
    assert desk.files is not None
    made.change(set_number(made.run, 0, "distance", 250.0), "distance")
    made.change(set_number(made.run, "body", "width", 150.0), "the body's width")
    robot, run = desk.files.robot_file, desk.path
    # Somebody measures the robot meanwhile and says so in its file, and writes a comment into the run's.
    text = (
        robot.read_text(encoding="utf-8")
        .replace("wheel: 62 ", "wheel: 63 ")
        .replace("distance: 0.4 %", "distance: 0.7 %")
    )
    robot.write_text(text, encoding="utf-8")
    run.write_text(run.read_text(encoding="utf-8").replace("wear: [scoop]", "wear: []   # off"), encoding="utf-8")
    until(desk, lambda: made.run.robot.drive.wheel == 63.0 and made.run.wear == ())
    assert "what is not saved here is kept" in made.toast
    assert made.run.robot.accuracy.bias.distance == pytest.approx(0.007)
    assert made.run.segments[0] == Straight(250.0)
    assert made.run.robot.body.width == 150.0
    # The steps are still there: one of them back.
    made.do("undo")
    assert made.run.robot.body.width == 140.0
    assert made.run.robot.drive.wheel == 63.0
    made.do("redo")
    made.do("save")
    frames(desk)
    assert made.error is None
    assert not made.history.dirty
    assert "wear: []   # off" in run.read_text(encoding="utf-8")
    assert load_run(run) == made.run
    assert [new.split("#")[0].strip() for _, new in differing(text, robot.read_text(encoding="utf-8"))] == [
        "body: {length: 170, width: 150, axle: 60, height: [8, 110]}"
    ]


def test_what_was_changed_a_moment_before_saving_is_seen_too(desk: RunDesk) -> None:
    made = session_of(desk)
    made.do("next jig")
    frames(desk)
    text = desk.path.read_text(encoding="utf-8").replace("run: Flour round", "run: Flour trip   # a better name")
    desk.path.write_text(text, encoding="utf-8")
    made.do("save")
    desk._serve_all()
    # Somebody else has changed it: that is asked about before anything is written.
    assert made.asked == "stale"
    made.key("s")
    desk._serve_all()
    after = desk.path.read_text(encoding="utf-8")
    assert "run: Flour trip   # a better name" in after
    assert load_run(desk.path).start == "gate block"


def test_a_file_with_a_mistake_is_not_written_over(desk: RunDesk) -> None:
    made = session_of(desk)
    made.do("next jig")
    text = desk.path.read_text(encoding="utf-8")
    spoilt = text.replace("- straight: 240", "- strait: 240   # being written")
    desk.path.write_text(spoilt, encoding="utf-8")
    made.do("save")
    desk._serve_all()
    # Somebody else has changed it: that is asked about before anything is written.
    assert made.asked == "stale"
    made.key("s")
    desk._serve_all()
    assert made.error is not None
    assert made.error[0] == "It could not be saved"
    assert any("flour-round.yaml:" in line for line in made.error[1])
    assert desk.path.read_text(encoding="utf-8") == spoilt
    assert made.history.dirty
    desk.path.write_text(text, encoding="utf-8")
    made.key("space")
    made.do("save")
    desk._serve_all()
    assert load_run(desk.path).start == "gate block"


def test_a_mistake_is_shown_with_its_line_and_goes_when_it_is_mended(desk: RunDesk) -> None:
    made = session_of(desk)
    good = desk.path.read_text(encoding="utf-8")
    desk.path.write_text(good.replace("- straight: 240", "- strait: 240", 1), encoding="utf-8")
    until(desk, lambda: made.error is not None)
    assert made.error is not None
    assert made.error[0] == "flour-round.yaml has a mistake now"
    line = 1 + good.splitlines().index("  - straight: 240")
    assert any(f"flour-round.yaml:{line}:" in words for words in made.error[1])
    assert any("straight" in words for words in made.error[1])
    frames(desk)
    # Closed by a key it does not come again by itself.
    made.key("space")
    for n in range(30):
        desk.tick(time.perf_counter() + 100 + n)
    assert made.error is None
    desk.path.write_text(good, encoding="utf-8")
    desk.path.touch()
    until(desk, lambda: desk.files is not None and not desk.files.stale)
    assert made.error is None


def test_a_name_that_is_gone_there_and_used_here(desk: RunDesk) -> None:
    made = session_of(desk)
    assert desk.files is not None
    made.do("next jig")
    wanted = made.run
    field = desk.files.field_file
    text = field.read_text(encoding="utf-8")
    field.write_text(text.replace("name: gate block", "name: porch block"), encoding="utf-8")
    until(desk, lambda: made.error is not None)
    assert made.error is not None
    assert "does not fit" in made.error[0]
    assert made.run == wanted
    made.key("space")
    made.do("undo")
    until(desk, lambda: any(jig.name == "porch block" for jig in made.run.field.jigs))
    assert made.error is None
    assert not made.history.dirty


def test_a_run_that_cannot_be_read_is_shown_as_soon_as_it_can(season: Path, open_desk: Callable[[], RunDesk]) -> None:
    good = season.read_text(encoding="utf-8")
    season.write_text(good.replace("wear:", "ware:"), encoding="utf-8")
    made = open_desk()
    assert made.session is None
    assert made.trouble is not None
    assert made.trouble[0] == "flour-round.yaml cannot be shown yet"
    line = 1 + next(n for n, words in enumerate(season.read_text(encoding="utf-8").splitlines()) if "ware:" in words)
    assert any(f"flour-round.yaml:{line}:" in words for words in made.trouble[1]), made.trouble
    frames(made, 2)
    pygame.event.post(pygame.event.Event(pygame.VIDEORESIZE, w=900, h=600, size=(900, 600)))
    press("space")
    frames(made, 2)
    season.write_text(good, encoding="utf-8")
    until(made, lambda: made.session is not None)
    assert made.trouble is None
    frames(made)
    assert session_of(made).run.name == "Flour round"


def test_a_run_that_cannot_be_read_is_closed_like_any_other(season: Path, open_desk: Callable[[], RunDesk]) -> None:
    season.write_text("", encoding="utf-8")
    made = open_desk()
    press("escape")
    run_desk(made, frames=2)
    assert not made.running


def test_a_picture_that_is_not_there_is_told_once_the_window_is_open(
    season: Path, open_desk: Callable[[], RunDesk]
) -> None:
    field = season.parent.parent.parent / "fields" / "bakery.yaml"
    text = field.read_text(encoding="utf-8")
    field.write_text(text + "\npicture: {file: mat.png, corner: [0, 0], width: 2200}\n", encoding="utf-8")
    made = open_desk()
    assert made.trouble is None, made.trouble
    frames(made, 2)
    assert "mat.png" in session_of(made).toast


# --- files without a window --------------------------------------------------------------------------------------


def test_a_body_made_wider_goes_into_the_robots_own_file(season: Path) -> None:
    files = RunFiles.read(season)
    before = files.robot_file.read_text(encoding="utf-8")
    run = set_number(files.run, "body", "width", 152.5)
    assert not isinstance(run, type(None))
    written = files.save(replace(files.begun, run=run))
    assert [path.name for path in written] == ["box-one.yaml"]
    assert files.robot_file.with_name("box-one.yaml.bak").read_text(encoding="utf-8") == before
    changed = differing(before, files.robot_file.read_text(encoding="utf-8"))
    (old, new), *more = changed
    assert not more
    assert old.replace("width: 140", "width: 152.5") == new
    assert load_run(season).robot.body.width == 152.5
    assert files.texts(EditedRun(load_run(season), files.robot_file)) == {}


def test_another_robot_is_named_as_seen_from_the_runs_folder(season: Path) -> None:
    other = season.parent / "robots"
    other.mkdir()
    for name in ("box-one.yaml", "box-wide.yaml"):
        (season.parent / name).rename(other / name)
    text = season.read_text(encoding="utf-8").replace(
        "robot: box-one.yaml", "robot: robots/box-one.yaml  # the small one"
    )
    season.write_text(text, encoding="utf-8")
    files = RunFiles.read(season)
    assert [path.name for path in files.robots] == ["box-one.yaml", "box-wide.yaml"]
    wide = next(path for path in files.robots if path.name == "box-wide.yaml")
    written = files.save(EditedRun(replace(files.run, robot=files.robots[wide], wear=()), wide))
    assert written == (season,)
    after = season.read_text(encoding="utf-8")
    assert "robot: robots/box-wide.yaml  # the small one" in after
    assert load_run(season).robot == load_robot(wide)
    assert files.robot_file == wide


def test_accuracy_measured_elsewhere_does_not_keep_from_saving(season: Path) -> None:
    files = RunFiles.read(season)
    run = replace(
        files.run, robot=replace(files.run.robot, accuracy=replace(files.run.robot.accuracy, measured_at=150.0))
    )
    before = files.robot_file.read_text(encoding="utf-8")
    assert files.save(EditedRun(run, files.robot_file)) == ()
    assert files.robot_file.read_text(encoding="utf-8") == before


def test_steps_that_no_longer_fit_are_left_out(season: Path) -> None:
    files = RunFiles.read(season)
    history = History.begun(files.begun)
    history = history.push(EditedRun(replace(files.run, start="gate block"), files.robot_file), "gate")
    history = history.push(EditedRun(replace(files.run, start="shelf block"), files.robot_file), "shelf")
    field = files.field_file
    field.write_text(field.read_text(encoding="utf-8").replace("name: gate block", "name: porch"), encoding="utf-8")
    assert files.stale
    fresh = reread(files)
    assert not fresh.stale
    moved = rebased(history, files, fresh)
    assert moved is not None
    assert [step.state.run.start for step in moved.steps] == ["corner block", "shelf block"]
    assert (moved.at, moved.undo_words, moved.kept) == (1, "shelf", fresh.begun)
    assert rebased(history.undo(), files, fresh) is None


def test_a_file_that_is_gone_is_written_anew(season: Path) -> None:
    files = RunFiles.read(season)
    season.unlink()
    assert not files.stale
    assert files.save(EditedRun(replace(files.run, start="gate block"), files.robot_file)) == (season,)
    assert load_run(season).start == "gate block"
    season.write_bytes(b"\xff\xfe\x00run")
    assert files.stale
    with pytest.raises(FileError):
        reread(files)


def test_a_folder_that_cannot_be_written_to_loses_nothing(
    desk: RunDesk, open_desk: Callable[[], RunDesk], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = session_of(desk)
    made.do("next jig")
    wanted = made.run
    folder = desk.path.parent
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    rights = folder.stat().st_mode
    folder.chmod(0o500)
    try:
        with monkeypatch.context() as here:
            if os.access(folder, os.W_OK):
                # A user who may write everywhere (root, and some drives): as it would be for any other.
                def refused(*_: object) -> None:
                    raise PermissionError(13, "Permission denied")

                here.setattr("fieldsim.files.saving.shutil.copy2", refused)
            press("ctrl s")
            frames(desk, 2)
    finally:
        folder.chmod(rights)
    # It is told, and another place is offered.
    assert made.over is not None
    assert made.over[0] == "It could not be saved"
    assert any("denied" in line for line in made.over[1])
    assert made.asked == "unwritten"
    assert made.history.dirty
    assert made.run == wanted
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    killed(desk)
    assert session_of(open_desk()).asked == "recover"


def test_an_error_of_the_disk_is_shown_and_nothing_is_lost(
    desk: RunDesk, open_desk: Callable[[], RunDesk], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = session_of(desk)
    made.do("next jig")
    before = desk.path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as here:
        here.setattr("fieldsim.files.saving.os.replace", full)
        press("ctrl s")
        frames(desk, 1)
    assert made.over is not None
    assert any("No space left" in line for line in made.over[1])
    assert made.history.dirty
    assert desk.path.read_bytes() == before
    made.key("escape")
    press("ctrl s")
    frames(desk)
    assert load_run(desk.path).start == "gate block"
    assert run_app.problem_file(type("", (), {"file": ""}), desk.path) == desk.path


def test_what_was_undone_is_not_offered_after_a_crash(desk: RunDesk, open_desk: Callable[[], RunDesk]) -> None:
    press("j")
    frames(desk)
    until(desk, lambda: desk.kept)
    assert list(desk.recovery.folder.glob("*.json"))
    press("ctrl z")
    frames(desk)
    assert not session_of(desk).history.dirty
    assert not list(desk.recovery.folder.glob("*.json"))
    killed(desk)
    assert session_of(open_desk()).asked is None
