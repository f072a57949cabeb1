"""How large the window is when it opens and where it stands: as it was left the last time, and never larger than the
screen. Pixels of the screen throughout."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from fieldsim.window.recovery import state_folder

__all__ = ["SIZE", "SMALLEST", "Geometry", "first_geometry", "remember", "remembered"]

# The first window on a screen that has room for it, and the smallest that one can be made, at scale 1.
SIZE = (1280, 800)
SMALLEST = (640, 420)
# What a title bar and a bar of the system take, at scale 1: common practice, no source. The usable part of a screen is
# not told by pygame.
BARS = (0, 88)
# So much of a window must be on a screen for it to be found and moved.
SEEN = 80


@dataclass(frozen=True)
class Geometry:
    """A window: its size, its left upper corner (None: the system's choice), and whether it fills the screen between
    the system's bars."""

    size: tuple[int, int]
    at: tuple[int, int] | None = None
    maximised: bool = False


def first_geometry(
    screens: Sequence[tuple[int, int]],
    scale: float,
    last: Geometry | None = None,
    wanted: tuple[int, int] | None = None,
) -> Geometry:
    """The window to open on screens of these sizes, the first being the main one.

    ``wanted`` is a size that was asked for and is taken as it is; ``last`` is how the window was left. A screen that
    has no room for the usual window is filled.
    """
    if wanted is not None:
        return Geometry(wanted)
    usual = round(SIZE[0] * scale), round(SIZE[1] * scale)
    if not screens:
        return Geometry(last.size if last is not None else usual)
    room = _room(screens[0], scale)
    if last is not None:
        size = min(last.size[0], room[0]), min(last.size[1], room[1])
        # Screens stand beside each other, one is told by its size alone: so far right is surely none any more.
        right, below = sum(w for w, _ in screens), max(h for _, h in screens)
        there = last.at is not None and (
            SEEN - size[0] <= last.at[0] <= right - SEEN and 0 <= last.at[1] <= below - SEEN
        )
        return Geometry(size, last.at if there else None, last.maximised)
    if usual[0] > room[0] or usual[1] > room[1]:
        return Geometry((min(usual[0], room[0]), min(usual[1], room[1])), None, True)
    return Geometry(usual)


def _room(screen: tuple[int, int], scale: float) -> tuple[int, int]:
    return (
        max(screen[0] - round(BARS[0] * scale), min(screen[0], SMALLEST[0])),
        max(screen[1] - round(BARS[1] * scale), min(screen[1], SMALLEST[1])),
    )


# --- from one time to the next -----------------------------------------------------------------------------------


def _place(folder: Path | None) -> Path:
    return (state_folder().parent if folder is None else folder) / "window.json"


def remembered(folder: Path | None = None) -> Geometry | None:
    """How the window was left the last time; None if that is not known or makes no sense. ``folder`` None: the user's
    own."""
    try:
        found: Any = json.loads(_place(folder).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    if not isinstance(found, dict):
        return None
    size, at = _pair(found.get("size")), _pair(found.get("at"))
    if size is None or not (SMALLEST[0] <= size[0] <= 32_000 and SMALLEST[1] <= size[1] <= 32_000):
        return None
    return Geometry(size, at, found.get("maximised") is True)


def _pair(found: Any) -> tuple[int, int] | None:
    if isinstance(found, list) and len(found) == 2 and all(type(each) is int for each in found):
        return found[0], found[1]
    return None


def remember(left: Geometry, folder: Path | None = None) -> None:
    """Remember how the window is left. A disk that takes nothing is no reason to trouble anybody."""
    place = _place(folder)
    with suppress(OSError):
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=".window-", suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(asdict(left), file)
            os.replace(name, place)
        except BaseException:
            with suppress(OSError):
                os.unlink(name)
            raise
