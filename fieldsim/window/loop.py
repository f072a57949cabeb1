"""The window itself: opened, fed with events, painted, closed. What is on it is a `Desk`."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pygame

from fieldsim.language import tr
from fieldsim.window.following import Follower
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.paint.over import draw_plain_error
from fieldsim.window.paint.scene import Scene
from fieldsim.window.screen import icon, key_name, mods_of, scale_of

__all__ = ["SIZE", "SMALLEST", "Desk", "open_window"]

SIZE = (1280, 800)
SMALLEST = (640, 420)
# Frames a second while something moves, and while nothing does.
FRAMES, RESTING = 60, 25
# Who has waited so many seconds is told how long it may take.
LONG = 1.5


class Desk:
    """What a window shows and does. ``session`` takes events by the same names for runs and fields."""

    session: Any = None
    follower: Follower

    def __init__(self, path: Path, size: tuple[int, int], scale: float) -> None:
        self.path = path
        self.size = size
        self.scale = scale
        self.running = True
        self.trouble: tuple[str, tuple[str, ...]] | None = None
        """Why there is nothing to show: a title, and lines."""
        self.full = False
        self._before_full = size
        self._pointer: tuple[int, int] | None = None

    def scene(self) -> Scene | None:
        raise NotImplementedError

    @property
    def caption(self) -> str:
        """In the title bar, and where the system lists its windows: the file, with a star before what is not saved."""
        star = "*" if self.session is not None and self.session.unsaved else ""
        return f"{star}{self.path.name} - fieldsim"

    @property
    def busy(self) -> bool:
        """Whether the next frame will be another one even without an event."""
        return False

    def tick(self, now: float) -> None:
        raise NotImplementedError

    def resized(self, size: tuple[int, int]) -> None:
        self.size = size

    def full_screen(self) -> None:
        """The whole screen, or back."""
        self.full = not self.full
        if self.full:
            self._before_full = self.size
            sizes = pygame.display.get_desktop_sizes()
            surface = pygame.display.set_mode(sizes[0] if sizes else self.size, pygame.FULLSCREEN)
        else:
            surface = pygame.display.set_mode(self._before_full, pygame.RESIZABLE)
        self.resized(surface.get_size())

    def close(self) -> None:
        """Give back what is held."""

    def crash_copy(self) -> None:
        """Keep what would be lost."""

    # --- events ------------------------------------------------------------------------------------------------------

    def handle(self, event: Any) -> None:
        """One event of pygame."""
        session = self.session
        if event.type in (pygame.MOUSEMOTION, pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP):
            self._pointer = event.pos
        if event.type == pygame.VIDEORESIZE:
            size = max(event.w, SMALLEST[0]), max(event.h, SMALLEST[1])
            self.resized(size)
        elif event.type == pygame.QUIT:
            if session is None:
                self.running = False
            else:
                session.do("quit")
        elif session is None:
            if event.type == pygame.KEYDOWN and key_name(event) in ("escape", "ctrl q"):
                self.running = False
        elif event.type == pygame.KEYDOWN:
            session.key(key_name(event))
        elif event.type == pygame.TEXTINPUT:
            session.text(event.text)
        elif event.type == pygame.MOUSEMOTION:
            session.moved(*event.pos, mods_of(pygame.key.get_mods()))
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button in _BUTTONS:
            session.pressed(*event.pos, _BUTTONS[event.button], mods_of(pygame.key.get_mods()))
        elif event.type == pygame.MOUSEBUTTONUP and event.button in _BUTTONS:
            session.released(*event.pos)
        elif event.type == pygame.MOUSEWHEEL:
            # Where it was when the wheel turned, and not where it is by now.
            x, y = self._pointer or pygame.mouse.get_pos()
            steps = float(getattr(event, "precise_y", event.y)) or float(event.y)
            if steps:
                session.wheel(x, y, steps, mods_of(pygame.key.get_mods()))

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        """The window as it is now."""
        scene = self.scene()
        if scene is not None:
            paint(surface, scene, layers)
        else:
            title, lines = self.trouble or ("", ())
            draw_plain_error(surface, title, lines, self.scale, layers)


_BUTTONS = {1: "left", 2: "middle", 3: "right"}


def open_window(
    make: Any,
    size: tuple[int, int] | None = None,
    scale: float | None = None,
    before: Callable[[], object] | None = None,
) -> None:
    """Open a window, run it until it is closed. ``make(size, scale)`` makes its desk, once ``before`` is done: that may
    take a while, and the window says so."""
    # Without this a key that writes a sign of another keyboard would be seen by name only.
    os.environ.setdefault("SDL_IME_SHOW_UI", "1")
    pygame.display.init()
    pygame.font.init()
    try:
        scale = scale_of() if scale is None else scale
        size = (round(SIZE[0] * scale), round(SIZE[1] * scale)) if size is None else size
        pygame.display.set_caption("fieldsim")
        pygame.display.set_icon(icon())
        surface = pygame.display.set_mode(size, pygame.RESIZABLE)
        pygame.key.set_repeat(350, 40)
        pygame.key.start_text_input()
        if before is not None and not wait_for(before, scale):
            return
        surface = pygame.display.get_surface() or surface
        run_desk(make(surface.get_size(), scale))
    finally:
        pygame.quit()


def wait_for(work: Callable[[], object], scale: float) -> bool:
    """Do it in a thread of its own while the window says that it is getting ready; whether it was waited for to the
    end, and the window not closed before."""

    def quietly() -> None:
        # Whatever goes wrong there, the desk meets it again and tells it.
        with suppress(Exception):
            work()

    thread = threading.Thread(target=quietly, name="fieldsim getting ready", daemon=True)
    layers, began = Layers(), time.perf_counter()
    thread.start()
    while thread.is_alive():
        for event in pygame.event.get():
            if event.type == pygame.QUIT:
                return False
            if event.type == pygame.KEYDOWN and key_name(event) in ("escape", "ctrl q"):
                return False
        long = time.perf_counter() - began > LONG
        lines = (
            (tr("The first time on a computer this takes up to half a minute, later a few seconds."),) if long else ()
        )
        surface = pygame.display.get_surface()
        if surface is not None:
            draw_plain_error(surface, tr("Getting ready"), lines, scale, layers, wrong=False)
            pygame.display.flip()
        thread.join(1 / RESTING)
    return True


def run_desk(desk: Desk, frames: int | None = None) -> None:
    """Frame after frame until the desk is closed; at most ``frames`` of them, for tests."""
    layers = Layers()
    clock = pygame.time.Clock()
    caption = ""
    try:
        while desk.running and (frames is None or frames > 0):
            events = pygame.event.get()
            for event in events:
                desk.handle(event)
            desk.tick(time.perf_counter())
            surface = pygame.display.get_surface()
            if surface is None:
                break
            if surface.get_size() != desk.size:
                desk.resized(surface.get_size())
            desk.draw(surface, layers)
            if desk.caption != caption:
                caption = desk.caption
                pygame.display.set_caption(caption)
            pygame.display.flip()
            clock.tick(FRAMES if events or desk.busy else RESTING)
            if frames is not None:
                frames -= 1
    except BaseException:
        desk.crash_copy()
        raise
    finally:
        desk.close()
