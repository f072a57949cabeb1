"""The loop of the window: motions that were overtaken, frames that nothing changed in, one window on no screen."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pygame
import pytest

from fieldsim.window.following import Follower
from fieldsim.window.habits import STEP
from fieldsim.window.loop import Desk, newest_motions, run_desk
from fieldsim.window.run.app import RunDesk

ROOT = Path(__file__).parent.parent.parent


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[pygame.Surface]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    yield pygame.display.set_mode((700, 500))
    pygame.display.quit()


class Counting:
    """A session that writes down what it is told; a frame of it is told to take ``slow`` seconds."""

    def __init__(self) -> None:
        self.told: list[Any] = []
        self.toast = ""
        self.unsaved = False
        self._now = 0.0

    def repeats(self, pressed: str) -> bool:
        return pressed == "page up"

    def key(self, pressed: str) -> None:
        self.told.append(pressed)

    def moved(self, x: float, y: float, mods: frozenset[str]) -> None:
        self.told.append((x, y))

    def pressed(self, x: float, y: float, button: str, mods: frozenset[str]) -> None:
        self.told.append("press")

    def released(self, x: float, y: float) -> None:
        self.told.append("release")


class Painted(Desk):
    def __init__(self) -> None:
        super().__init__(Path("x.yaml"), (700, 500), 1.0)
        self.session = Counting()
        self.follower = Follower([])
        self.painted = 0
        self.ticks = 0

    def tick(self, now: float) -> None:
        self.ticks += 1
        self.session._now = now

    def draw(self, surface: pygame.Surface, layers: Any) -> None:
        self.painted += 1


def motion(x: int) -> Any:
    return pygame.event.Event(pygame.MOUSEMOTION, pos=(x, 0), rel=(1, 0), buttons=(1, 0, 0))


def test_only_the_newest_motion_is_served() -> None:
    press = pygame.event.Event(pygame.MOUSEBUTTONDOWN, pos=(3, 0), button=1)
    release = pygame.event.Event(pygame.MOUSEBUTTONUP, pos=(8, 0), button=1)
    moved = pygame.event.Event(pygame.WINDOWENTER)
    events = [motion(1), motion(2), motion(3), press, motion(4), motion(5), moved, motion(8), release, motion(9)]
    kept = newest_motions(events)
    assert [each for each in kept if each.type != pygame.WINDOWENTER] == [
        motion(3), press, motion(8), release, motion(9),
    ]  # fmt: skip
    assert moved in kept
    assert newest_motions([]) == []


def test_many_motions_in_one_frame_are_one(screen: pygame.Surface) -> None:
    desk = Painted()
    pygame.event.clear()
    for x in range(1, 200):
        pygame.event.post(motion(x))
    run_desk(desk, frames=1)
    assert desk.session.told == [(199, 0)]


def test_nothing_is_painted_twice(screen: pygame.Surface) -> None:
    desk = Painted()
    run_desk(desk, frames=1)
    pygame.event.clear()
    first = desk.painted
    run_desk(desk, frames=4)
    assert (desk.ticks, desk.painted) == (5, first)
    desk.session.toast = "something else"
    run_desk(desk, frames=2)
    assert desk.painted == first + 1


def test_a_tap_adds_once_however_slow_the_frame(screen: pygame.Surface) -> None:
    """The key is held while a frame takes long: what the system would have posted meanwhile is nobody's wish."""
    desk = Painted()
    pygame.event.clear()
    assert pygame.key.get_repeat() == (0, 0)
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_n, unicode="n", mod=0))
    run_desk(desk, frames=1)
    for now in (1.0, 2.0, 3.0):
        desk.repeat_key(now)
    assert desk.session.told == ["n"]
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_PAGEUP, unicode="", mod=0))
    run_desk(desk, frames=1)
    for now in (1e9, 2e9, 3e9):
        desk.repeat_key(now)
    assert desk.session.told[1:] == ["page up"] * 4
    pygame.event.post(pygame.event.Event(pygame.KEYUP, key=pygame.K_PAGEUP, unicode="", mod=0))
    run_desk(desk, frames=1)
    desk.repeat_key(4e9)
    assert desk.session.told[1:] == ["page up"] * 4


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have a screen whenever they run")
def test_without_a_screen_it_says_so(tmp_path: Path) -> None:
    unseen = {"DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"}
    there = {name: value for name, value in os.environ.items() if name not in unseen}
    done = subprocess.run(
        [sys.executable, "-m", "fieldsim", "watch", str(ROOT / "fields" / "bakery.yaml")],
        cwd=ROOT, env={**there, "XDG_STATE_HOME": str(tmp_path)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "needs a screen" in done.stderr
    assert "Traceback" not in done.stderr


def test_letters_are_made_larger_and_smaller_by_keys(screen: pygame.Surface, tmp_path: Path) -> None:
    """In any window, also while something is typed; what is picked stays."""
    desk = RunDesk(ROOT / "runs" / "bakery" / "flour-round.yaml", (1366, 768), 1.0, threads=1, folder=tmp_path)
    try:
        unit = desk.session.places.unit
        for key, mod in ((pygame.K_EQUALS, pygame.KMOD_CTRL), (pygame.K_PLUS, pygame.KMOD_CTRL)):
            for _ in range(4):
                desk.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode=""))
        assert desk.session.places.unit > 1.2 * unit
        assert desk.left_habits().letters == pytest.approx(STEP**8)
        desk.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_0, mod=pygame.KMOD_CTRL, unicode=""))
        assert desk.session.places.unit == pytest.approx(unit)
        desk.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_MINUS, mod=pygame.KMOD_CTRL, unicode=""))
        assert desk.scale == pytest.approx(1 / STEP)
    finally:
        desk.close()
