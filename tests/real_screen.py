"""A real X server without a monitor, and a window of ours on it that real mouse and key events are sent to.

Xvfb is the server, xdotool the hands, and the picture of the screen is read from the file that Xvfb keeps it in.
Nothing of fieldsim is called in the window's process but its command: what is checked is what a person sees and what is
on the disk.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import os
import shutil
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Screen", "Window", "missing", "screen", "until", "way_of", "window"]

# Waiting is for something to become so, and fails after so many seconds; the kernel may have to be compiled first.
PATIENCE = 300.0
# Pointer moves of one drag, and seconds between them: a hand is not in two places at once.
STEPS, BETWEEN = 6, 0.012


def missing() -> str:
    """Why there can be no such screen here; empty if there can."""
    absent = [name for name in ("Xvfb", "xdotool") if shutil.which(name) is None]
    if ctypes.util.find_library("X11") is None:
        absent.append("libX11")
    return f"no {' and no '.join(absent)} on this machine" if absent else ""


def until(so: Callable[[], Any], what: str, patience: float = PATIENCE, tell: Callable[[], str] = str) -> Any:
    """Wait until ``so()`` is true; what it was then."""
    end = time.monotonic() + patience
    while True:
        found = so()
        if found:
            return found
        if time.monotonic() > end:
            raise AssertionError(f"not within {patience:g} s: {what}\n{tell()}")
        time.sleep(0.02)


class Screen:
    """An X server of a size of its own. ``folder`` is where it keeps its picture."""

    def __init__(self, folder: Path, size: tuple[int, int]) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.size = size
        self._picture = folder / "Xvfb_screen0"
        out, into = os.pipe()
        self.server = subprocess.Popen(
            ["Xvfb", "-displayfd", str(into), "-screen", "0", f"{size[0]}x{size[1]}x24", "-fbdir", str(folder),
             "-nolisten", "tcp", "-noreset"],
            pass_fds=(into,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(into)
        with os.fdopen(out) as told:
            number = told.readline().strip()
        if not number:
            self.close()
            raise RuntimeError("Xvfb did not start")
        self.name = f":{number}"

    def close(self) -> None:
        stop(self.server)

    def hands(self, *words: object) -> str:
        """One or more commands of xdotool."""
        done = subprocess.run(
            ["xdotool", *map(str, words)], env={**os.environ, "DISPLAY": self.name}, capture_output=True, text=True,
            timeout=PATIENCE, check=False,
        )  # fmt: skip
        return done.stdout

    def picture(self) -> NDArray[np.uint8]:
        """What is on the screen now: (height, width, 3) of red, green, blue.

        The file is in the format of xwd, X11/XWDFile.h of the X.Org headers: big endian words, then a colour map, then
        rows of 32 bits a pixel, blue first on this byte order.
        """
        content = self._picture.read_bytes()
        words = struct.unpack(">25I", content[:100])
        header, width, height, row, colours = words[0], words[4], words[5], words[12], words[19]
        begin = header + 12 * colours
        rows = np.frombuffer(content, np.uint8, row * height, begin).reshape(height, row)
        pixels = rows[:, : 4 * width].reshape(height, width, 4)[:, :, 2::-1]
        return pixels[:, :, ::-1].copy() if words[7] == 1 else pixels.copy()


@contextmanager
def screen(folder: Path, size: tuple[int, int] = (1280, 800)) -> Iterator[Screen]:
    made = Screen(folder, size)
    try:
        yield made
    finally:
        made.close()


class Window:
    """`fieldsim watch FILE` on a screen. ``home`` is the user's folder: copies for after a crash are kept there."""

    def __init__(self, on: Screen, file: Path, home: Path, *more: str) -> None:
        self.screen = on
        self.home = home
        home.mkdir(parents=True, exist_ok=True)
        self._heard = home / "heard.txt"
        env = {name: value for name, value in os.environ.items() if not name.startswith(("SDL_", "XDG_", "WAYLAND"))}
        # What the kernel was compiled to is the user's own: it takes half a minute, and is not what is tested.
        caches = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
        env |= {
            "DISPLAY": on.name, "SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy", "HOME": str(home),
            "XDG_STATE_HOME": str(home / "state"), "XDG_CACHE_HOME": caches, "PYTHONUNBUFFERED": "1",
        }  # fmt: skip
        with self._heard.open("w") as heard:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "fieldsim", "watch", str(file), "--threads", "1", *more],
                env=env, stdout=heard, stderr=subprocess.STDOUT,
            )  # fmt: skip
        try:
            # Before that it only says that it is getting ready, perhaps in a window that goes again.
            self.number = until(lambda: self._found(file.name), "ready", tell=self.heard)
            self._focus()
        except BaseException:
            self.close()
            raise

    def _found(self, name: str = "") -> str:
        """The number of a window of it that is seen, with this in its title; '' if there is none."""
        assert self.process.poll() is None, f"it ended\n{self.heard()}"
        found = self.screen.hands("search", "--onlyvisible", "--class", "^fieldsim$").split()
        return next((n for n in found if name in self.screen.hands("getwindowname", n)), "")

    def find_again(self, size: tuple[int, int]) -> None:
        """Its window when it is so large. It may be another one, after one or two that only stood for a moment."""
        looks: list[str] = []

        def there() -> bool:
            found = self._found()
            told = self.screen.hands("getwindowgeometry", "--shell", found) if found else ""
            looks.append(found if f"WIDTH={size[0]}\nHEIGHT={size[1]}\n" in told else "")
            time.sleep(0.1)
            return len(looks) >= 5 and looks[-1] != "" and len(set(looks[-5:])) == 1

        until(there, f"a window of {size}", tell=self.heard)
        self.number = looks[-1]
        self._focus()

    def _focus(self) -> None:
        # There is no window manager to give it the keyboard.
        self.screen.hands("windowfocus", "--sync", self.number)

    # --- what it says ------------------------------------------------------------------------------------------------

    def heard(self) -> str:
        """What it wrote: nothing, unless something went wrong."""
        return self._heard.read_text()

    @property
    def title(self) -> str:
        return self.screen.hands("getwindowname", self.number).strip()

    @property
    def place(self) -> tuple[int, int, int, int]:
        """Its left and upper edge on the screen, its width and height."""
        told = self.screen.hands("getwindowgeometry", "--shell", self.number)
        words = dict(line.split("=") for line in told.split())
        return int(words["X"]), int(words["Y"]), int(words["WIDTH"]), int(words["HEIGHT"])

    @property
    def size(self) -> tuple[int, int]:
        return self.place[2:]

    def picture(self) -> NDArray[np.uint8]:
        """What is seen of it now, as `Screen.picture`."""
        x, y, w, h = self.place
        return self.screen.picture()[y : y + h, x : x + w]

    @property
    def copies(self) -> str:
        """All that is kept for after a crash."""
        folder = self.home / "state" / "fieldsim" / "recovery"
        kept = [path for path in folder.glob("*") if path.suffix not in (".lock", ".part")] if folder.is_dir() else []
        found = []
        for path in kept:
            try:
                found.append(path.read_text())
            except OSError:
                continue
        return "\n".join(found)

    def until_title(self, so: Callable[[str], bool], what: str) -> None:
        until(lambda: so(self.title), what, tell=lambda: f"{self.title!r}\n{self.heard()}")

    def until_unsaved(self, unsaved: bool = True) -> None:
        self.until_title(lambda title: title.startswith("*") == unsaved, f"unsaved: {unsaved}")

    # --- hands -------------------------------------------------------------------------------------------------------

    def hands(self, *words: object) -> None:
        assert self.process.poll() is None, f"it ended\n{self.heard()}"
        self.screen.hands(*words)

    def _to(self, at: tuple[int, int]) -> tuple[object, ...]:
        return "mousemove", "--window", self.number, *at

    def click(self, x: float, y: float) -> None:
        self.hands(*self._to((round(x), round(y))), "click", 1)

    def drag(self, begin: tuple[float, float], end: tuple[float, float]) -> None:
        first, *rest = way_of(begin, end)
        words: list[object] = [*self._to(first), "mousedown", 1]
        for at in rest:
            words += ["sleep", BETWEEN, *self._to(at)]
        self.hands(*words, "sleep", BETWEEN, "mouseup", 1)

    def keys(self, *names: str) -> None:
        """Keys by the names of X: 'ctrl+z', 'Return'."""
        self.hands("key", "--delay", 12, *names)

    def type(self, text: str) -> None:
        self.hands("type", "--delay", 12, text)

    def ask_to_close(self) -> None:
        """What a window manager sends when the cross in the title bar is pressed (ICCCM 2.0, 4.2.8.1)."""
        send_message(self.screen.name, int(self.number), "WM_PROTOCOLS", "WM_DELETE_WINDOW")

    def until_closed(self) -> int:
        """Its exit status."""
        until(lambda: self.process.poll() is not None, "closed", tell=self.heard)
        return int(self.process.returncode)

    def kill(self) -> None:
        """As a crash does it."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(timeout=PATIENCE)

    def close(self) -> None:
        stop(self.process)


def way_of(begin: tuple[float, float], end: tuple[float, float]) -> list[tuple[int, int]]:
    """The pixels that a drag goes over."""
    (x, y), (to_x, to_y) = begin, end
    return [(round(x + n / STEPS * (to_x - x)), round(y + n / STEPS * (to_y - y))) for n in range(STEPS + 1)]


@contextmanager
def window(on: Screen, file: Path, home: Path, *more: str) -> Iterator[Window]:
    """A window for as long as the block lasts; nothing may have gone wrong in it."""
    made = Window(on, file, home, *more)
    try:
        yield made
        assert "Traceback" not in made.heard(), made.heard()
    finally:
        made.close()


def stop(process: subprocess.Popen[Any]) -> None:
    if process.poll() is None:
        process.terminate()
        try:
            process.wait(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


class _Message(ctypes.Structure):
    """XClientMessageEvent of Xlib.h, with the room of the whole union XEvent."""

    _fields_ = (
        ("type", ctypes.c_int), ("serial", ctypes.c_ulong), ("send_event", ctypes.c_int), ("display", ctypes.c_void_p),
        ("window", ctypes.c_ulong), ("message_type", ctypes.c_ulong), ("format", ctypes.c_int),
        ("data", ctypes.c_long * 5), ("rest", ctypes.c_long * 24),
    )  # fmt: skip


CLIENT_MESSAGE = 33


def send_message(display: str, number: int, kind: str, word: str) -> None:
    """A client message to a window: Xlib's own, since not every xdotool can send one."""
    x = ctypes.CDLL(ctypes.util.find_library("X11"))
    x.XOpenDisplay.restype = ctypes.c_void_p
    x.XOpenDisplay.argtypes = (ctypes.c_char_p,)
    x.XInternAtom.restype = ctypes.c_ulong
    x.XInternAtom.argtypes = (ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int)
    x.XSendEvent.argtypes = (ctypes.c_void_p, ctypes.c_ulong, ctypes.c_int, ctypes.c_long, ctypes.c_void_p)
    x.XSync.argtypes = (ctypes.c_void_p, ctypes.c_int)
    x.XCloseDisplay.argtypes = (ctypes.c_void_p,)
    there = x.XOpenDisplay(display.encode())
    if not there:
        raise RuntimeError(f"no display {display}")
    try:
        message = _Message(type=CLIENT_MESSAGE, window=number, format=32)
        message.message_type = x.XInternAtom(there, kind.encode(), 0)
        message.data[0] = x.XInternAtom(there, word.encode(), 0)
        x.XSendEvent(there, number, 0, 0, ctypes.byref(message))
        x.XSync(there, 0)
    finally:
        x.XCloseDisplay(there)
