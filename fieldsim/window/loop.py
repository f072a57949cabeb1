"""The window itself: opened, fed with events, painted, closed. What is on it is a `Desk`."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pygame

from fieldsim.language import tr
from fieldsim.model.errors import FieldsimError
from fieldsim.window.fingers import Fingers
from fieldsim.window.following import Follower
from fieldsim.window.geometry import SIZE, SMALLEST, Geometry, first_geometry, remember, remembered
from fieldsim.window.habits import LETTER_KEYS, Habits, keep_habits, kept_habits
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.paint.over import draw_plain_error
from fieldsim.window.paint.scene import Scene
from fieldsim.window.repeat import HeldKey
from fieldsim.window.screen import icon, key_name, mods_of, scale_of

__all__ = ["SIZE", "SMALLEST", "Desk", "Doors", "Opening", "open_window"]

# Frames a second while something moves. While nothing does, the loop sleeps until there is an event, and looks so many
# times a second whether files or trials have changed what there is to see.
FRAMES, LOOKS = 60, 10
# Who has waited so many seconds is told how long it may take.
LONG = 1.5


@dataclass(frozen=True)
class Opening:
    """Something to be shown in the window in place of what is there: a kind such as 'run', its file or folder, and what
    that kind needs besides."""

    kind: str
    path: Path
    more: Any = None


Doors = Callable[[Opening, tuple[int, int], float], "Desk"]
"""Makes the desk of an opening, for a size and a scale."""


class Desk:
    """What a window shows and does. ``session`` takes events by the same names for runs and fields."""

    session: Any = None
    follower: Follower

    def __init__(self, path: Path, size: tuple[int, int], scale: float) -> None:
        self.path = path
        self.size = size
        self.scale = scale
        self.running = True
        self.left = "quit"
        """Once it runs no longer: 'quit', or 'season' to go back to what lies below."""
        self.brings: Any = None
        """What it hands to that: a field, say, on which a run is to be planned."""
        self.opens: Opening | None = None
        """What is to be laid over it."""
        self.trouble: tuple[str, tuple[str, ...]] | None = None
        """Why there is nothing to show: a title, and lines."""
        self.full = False
        self.before_full = size
        self._pointer: tuple[int, int] | None = None
        self.held = HeldKey()
        self.habits = Habits()
        self._shape = ""
        self.fingers = Fingers()
        self._seen: list[Any] | None = None

    def scene(self) -> Scene | None:
        raise NotImplementedError

    @property
    def caption(self) -> str:
        """In the title bar, and where the system lists its windows: the file, with a star before what is not saved."""
        star = "*" if self.session is not None and self.session.unsaved else ""
        return f"{star}{self.path.name} - fieldsim"

    @property
    def busy(self) -> bool:
        """Whether something moves by itself: the next frame will be another one even without an event."""
        return False

    def fresh(self) -> bool:
        """Whether there may be something else to see than when this was asked last. All that a session shows is bound
        anew when it changes; only the time of the last tick always is."""
        session = self.session
        values = [] if session is None else [each for name, each in vars(session).items() if name != "_now"]
        seen = [session, self.trouble, self.size, *values]
        before, self._seen = self._seen, seen
        return before is None or len(before) != len(seen) or any(a is not b for a, b in zip(before, seen, strict=True))

    def tick(self, now: float) -> None:
        raise NotImplementedError

    def resized(self, size: tuple[int, int]) -> None:
        self.size = size

    def take_habits(self, habits: Habits) -> None:
        """What was set in another window, or the last time."""
        if habits.letters != self.habits.letters:
            self.scale *= habits.letters / self.habits.letters
            self.resized(self.size)
        self.habits = habits
        if hasattr(self.session, "stays"):
            self.session.stays = habits.stays

    def left_habits(self) -> Habits:
        """What is set by now."""
        return replace(self.habits, stays=getattr(self.session, "stays", self.habits.stays))

    def letters(self, way: int) -> None:
        """All letters, and all else with them, a step larger (1) or smaller (-1), or as usual (0)."""
        self.take_habits(self.left_habits().larger(way))

    def full_screen(self) -> None:
        """The whole screen, or back."""
        self.full = not self.full
        if self.full:
            self.before_full = self.size
            sizes = pygame.display.get_desktop_sizes()
            surface = pygame.display.set_mode(sizes[0] if sizes else self.size, pygame.FULLSCREEN)
        else:
            surface = pygame.display.set_mode(self.before_full, pygame.RESIZABLE)
        self.resized(surface.get_size())

    def resumed(self) -> None:
        """What lay over it was left: it is seen again."""
        self._seen = None

    def brought(self, what: Any) -> None:
        """What lay over it hands something to it."""

    def close(self) -> None:
        """Give back what is held."""

    def crash_copy(self) -> None:
        """Keep what would be lost."""

    # --- events ------------------------------------------------------------------------------------------------------

    def handle(self, event: Any) -> None:
        """One event of pygame."""
        if event.type in (pygame.MOUSEMOTION, pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP):
            self._pointer = event.pos
        self._handle(event)
        self.show_cursor()

    def show_cursor(self) -> None:
        """The pointer's shape for what is under it."""
        shape = getattr(self.session, "cursor", "arrow")
        if shape != self._shape:
            self._shape = shape
            # Not every system has every shape, and some have none.
            with suppress(pygame.error):
                pygame.mouse.set_cursor(_SHAPES.get(shape, pygame.SYSTEM_CURSOR_ARROW))

    def _handle(self, event: Any) -> None:
        session = self.session
        if event.type in (pygame.KEYUP, pygame.WINDOWFOCUSLOST):
            self.held.up()
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
            pressed = key_name(event)
            if pressed in LETTER_KEYS:
                self.letters(LETTER_KEYS[pressed])
                return
            # Asked before it is served: what it does may cover the window.
            self.held.down(pressed, session.repeats(pressed))
            session.key(pressed)
        elif event.type == pygame.TEXTINPUT:
            session.text(event.text)
        elif event.type in _FINGERS:
            self._finger(event)
        elif getattr(event, "touch", False) and not self.fingers.free():
            # What SDL makes of the first of several fingers is no mouse.
            pass
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

    def _finger(self, event: Any) -> None:
        """A finger on the screen: one is a mouse, two shove and pinch what they are on."""
        at = event.x * self.size[0], event.y * self.size[1]
        session = self.session
        if event.type == pygame.FINGERDOWN:
            if self.fingers.down(event.finger_id, at) and getattr(session, "dragging", False):
                # What the first finger had taken is let go where it was.
                session.key("escape")
                session.released(*at)
        elif event.type == pygame.FINGERUP:
            self.fingers.up(event.finger_id)
        else:
            found = self.fingers.moved(event.finger_id, at)
            if found is not None:
                session.pinched(found.at, found.by, found.factor)

    def repeat_key(self, now: float) -> None:
        """A key that is held nudges once more when it is time."""
        pressed = self.held.due(now)
        if pressed is None or self.session is None:
            return
        if self.session.repeats(pressed):
            self.session.key(pressed)
        else:
            self.held.up()

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        """The window as it is now."""
        scene = self.scene()
        if scene is not None:
            paint(surface, scene, layers)
        else:
            title, lines = self.trouble or ("", ())
            draw_plain_error(surface, title, lines, self.scale, layers)


_FINGERS = (pygame.FINGERDOWN, pygame.FINGERMOTION, pygame.FINGERUP)
_SHAPES = {
    "arrow": pygame.SYSTEM_CURSOR_ARROW, "hand": pygame.SYSTEM_CURSOR_HAND, "move": pygame.SYSTEM_CURSOR_SIZEALL,
    "across": pygame.SYSTEM_CURSOR_SIZEWE, "text": pygame.SYSTEM_CURSOR_IBEAM, "cross": pygame.SYSTEM_CURSOR_CROSSHAIR,
}  # fmt: skip
_BUTTONS = {1: "left", 2: "middle", 3: "right"}


# Drivers that show nothing. SDL takes one of them where there is no screen, and the window would run on unseen.
_UNSEEN = ("dummy", "evdummy", "offscreen", "")


class NoScreenError(FieldsimError):
    """There is no screen to open a window on."""


def open_window(
    make: Any,
    size: tuple[int, int] | None = None,
    scale: float | None = None,
    before: Callable[[], object] | None = None,
    folder: Path | None = None,
    doors: Doors | None = None,
) -> None:
    """Open a window, run it until it is closed. ``make(size, scale)`` makes its desk, once ``before`` is done: that may
    take a while, and the window says so. In ``folder`` (None: the user's own) it is remembered how the window is left.
    ``doors`` makes what is gone to from there. Raises NoScreenError."""
    # Without this a key that writes a sign of another keyboard would be seen by name only.
    os.environ.setdefault("SDL_IME_SHOW_UI", "1")
    try:
        _begin_display()
        pygame.font.init()
        scale = scale_of() if scale is None else scale
        begun = first_geometry(pygame.display.get_desktop_sizes(), scale, remembered(folder), size)
        if begun.at is not None:
            os.environ["SDL_VIDEO_WINDOW_POS"] = f"{begun.at[0]},{begun.at[1]}"
        pygame.display.set_caption("fieldsim")
        pygame.display.set_icon(icon())
        surface = pygame.display.set_mode(begun.size, pygame.RESIZABLE)
        if begun.maximised:
            with suppress(pygame.error):
                _window().maximize()
        pygame.key.start_text_input()
        if before is not None and not wait_for(before, scale):
            return
        surface = pygame.display.get_surface() or surface
        desk = make(surface.get_size(), scale)
        habits = kept_habits(folder)
        desk.take_habits(habits)
        desk = run_desks(desk, doors)
        if desk.left_habits() != habits:
            keep_habits(desk.left_habits(), folder)
        if size is None:
            remember(_left(desk, begun), folder)
    finally:
        pygame.quit()


def _begin_display() -> None:
    told = tr("A window needs a screen, and there is none here. --picture makes a picture of it, --film a film.")
    try:
        pygame.display.init()
    except pygame.error as problem:
        raise NoScreenError(told) from problem
    # Whoever asks for one of them by name wants no screen: tests, say.
    if "SDL_VIDEODRIVER" not in os.environ and pygame.display.get_driver() in _UNSEEN:
        raise NoScreenError(told)


def _window() -> Any:
    """The window that pygame.display has opened."""
    try:
        from pygame._sdl2.video import Window
    except ImportError:
        from pygame import Window  # type: ignore[attr-defined,no-redef]
    return Window.from_display_module()


def _left(desk: Desk, begun: Geometry) -> Geometry:
    """How the window is left: what it had before it filled the screen, if it does."""
    size, at = (desk.before_full if desk.full else desk.size), begun.at
    room = first_geometry(pygame.display.get_desktop_sizes(), desk.scale, Geometry((32_000, 32_000))).size
    # pygame does not tell whether a window is maximised; one that takes all there is, is.
    maximised = size[0] >= room[0] and size[1] >= room[1] * 0.97
    if maximised:
        return Geometry(begun.size, at, True)
    if not desk.full:
        with suppress(pygame.error, AttributeError):
            x, y = _window().position
            at = int(x), int(y)
    return Geometry(size, at)


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
        lines = (tr("It takes a few seconds."),) if long else ()
        surface = pygame.display.get_surface()
        if surface is not None:
            draw_plain_error(surface, tr("Getting ready"), lines, scale, layers, wrong=False)
            pygame.display.flip()
        thread.join(1 / LOOKS)
    return True


def newest_motions(events: Sequence[Any]) -> list[Any]:
    """The events without the motions of the pointer that a later one has overtaken before anything was pressed or let
    go: each of them would be planned, and only the last one be seen."""
    kept: list[Any] = []
    overtaken = False
    for event in reversed(events):
        if event.type == pygame.MOUSEMOTION:
            if not overtaken:
                kept.append(event)
            overtaken = True
        else:
            kept.append(event)
            if event.type in _DECISIVE:
                overtaken = False
    return kept[::-1]


# Before and after these it matters where the pointer is, or what is seen.
_DECISIVE = frozenset(
    (
        pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP, pygame.MOUSEWHEEL, pygame.KEYDOWN, pygame.KEYUP, pygame.TEXTINPUT,
        pygame.VIDEORESIZE, pygame.DROPFILE, pygame.QUIT,
    )
)  # fmt: skip


def run_desks(desk: Desk, doors: Doors | None = None) -> Desk:
    """A desk and all that is laid over it, until the window is closed; the one that was seen last."""
    stack = [desk]
    try:
        while True:
            top = stack[-1]
            run_desk(top)
            if top.running and top.opens is not None and doors is not None:
                opening, top.opens = top.opens, None
                stack.append(doors(opening, top.size, top.scale))
                _looks_like(stack[-1], top)
            elif not top.running and top.left == "season" and doors is not None:
                stack.pop()
                if not stack:
                    stack.append(doors(Opening("season", top.path.parent), top.size, top.scale))
                _looks_like(stack[-1], top)
                stack[-1].resumed()
                if top.brings is not None:
                    stack[-1].brought(top.brings)
            elif not top.running and len(stack) > 1:
                # What lies below may have something that is not saved: it is asked about there.
                stack.pop()
                _looks_like(stack[-1], top)
                stack[-1].resumed()
                if stack[-1].session is None:
                    stack[-1].running = False
                else:
                    stack[-1].session.do("quit")
            else:
                return top
    except BaseException:
        for each in stack:
            each.crash_copy()
        raise
    finally:
        for each in stack:
            each.close()


def _looks_like(desk: Desk, other: Desk) -> None:
    """The same window goes on with another desk."""
    if desk.scale != other.scale:
        # Letters were made larger or smaller on the other.
        desk.scale = other.scale
        desk.resized(other.size)
    desk.habits = replace(desk.habits, letters=other.habits.letters)
    desk.take_habits(other.left_habits())
    desk.full, desk.before_full = other.full, other.before_full
    if desk.size != other.size:
        desk.resized(other.size)
    if desk.session is not None and other.session is not None:
        desk.session.dark = other.session.dark


def run_desk(desk: Desk, frames: int | None = None) -> None:
    """Frame after frame until the desk is closed; at most ``frames`` of them, for tests. Nothing is painted that was
    there before, and while nothing moves the loop sleeps until there is an event."""
    layers = Layers()
    clock = pygame.time.Clock()
    caption = ""
    moving = True
    try:
        while desk.running and desk.opens is None and (frames is None or frames > 0):
            events = [] if moving else [pygame.event.wait(round(1000 / LOOKS))]
            events = [event for event in (*events, *pygame.event.get()) if event.type != pygame.NOEVENT]
            for event in newest_motions(events):
                desk.handle(event)
            now = time.perf_counter()
            desk.repeat_key(now)
            desk.tick(now)
            surface = pygame.display.get_surface()
            if surface is None:
                break
            if surface.get_size() != desk.size:
                desk.resized(surface.get_size())
            if desk.fresh() or events:
                desk.draw(surface, layers)
                pygame.display.flip()
            if desk.caption != caption:
                caption = desk.caption
                pygame.display.set_caption(caption)
            moving = bool(events) or desk.busy or desk.held.pressed is not None
            if moving:
                clock.tick(FRAMES)
            if frames is not None:
                frames -= 1
    except BaseException:
        desk.crash_copy()
        raise
    finally:
        if not desk.running or desk.opens is None:
            desk.close()
