"""Files that others change while a window shows them: a run, its field, its robot, its attachments.

They are looked at twice a second from the window's own loop; that works on every system and every drive. A change is
told once it has stood still for one more look, so that nobody reads a file that is half written. Editors that write a
new file and move it into the place of the old one look like any other change. A file that is not there, cannot be read
or is empty is given ``GONE`` seconds to come back before that is told too.

What a file says is compared, not when it was written: saving without changing anything tells nothing. To be quick, a
file is read only when its size, its time or its number in the file system changed, and for ``COARSE`` seconds after
that: some drives know times to two seconds only, so a second change within them might show in none of the three.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from pathlib import Path

__all__ = ["COARSE", "EVERY", "GONE", "Follower"]

# Seconds from one look to the next.
EVERY = 0.5
# How long a file may be away while an editor puts a new one in its place, seconds.
GONE = 2.0
# Times of a file may be this coarse, seconds: those of memory sticks are 2 (FAT file system), and a little.
COARSE = 3.0

_Mark = tuple[int, int, int]
"""Time, size and number of a file: it was changed if one of them was."""

AWAY = b""
"""In place of what a file says: it is not there, cannot be read, or is empty."""


@dataclass
class _Followed:
    told: bytes
    """Hash of what the file said when that was told last, or ``AWAY``."""
    mark: _Mark | None = (-1, -1, -1)
    """At the last look; None if it was not there, at first none that a file has, so that the first look is a change."""
    read_until: float = -inf
    """Until when it is read although nothing shows that it changed."""
    seen: bytes = AWAY
    """What it said at the last look,"""
    since: float = inf
    """and since when it has said that."""


class Follower:
    """Tells which files have changed since they were told last, or since this was made.

    Make it before the files are read: a change in between is then told. Nothing here raises for what a disk does.
    """

    def __init__(self, paths: Iterable[Path], every: float = EVERY) -> None:
        self._every = every
        self._next = -inf
        self._files: dict[Path, _Followed] = {}
        self.follow(paths)

    @property
    def paths(self) -> tuple[Path, ...]:
        return tuple(self._files)

    def follow(self, paths: Iterable[Path]) -> None:
        """Follow these files from now on and no others; of those that are followed already nothing is forgotten."""
        before = self._files
        self._files = {path: before.get(path) or _Followed(told=_said(path)) for path in paths}

    def saved(self, path: Path) -> None:
        """What a file says now is known, since this window wrote it: that is not to be told."""
        if path in self._files:
            self._files[path] = _Followed(told=_said(path))

    def changed(self, now: float) -> tuple[Path, ...]:
        """The files that have changed, each once, in the order they are followed; ``now`` in seconds of any clock that
        only goes forwards. Looks at the files when it is time to, and else costs nothing."""
        if now < self._next:
            return ()
        self._next = now + self._every
        return tuple(path for path, file in self._files.items() if _look(path, file, now))


def _look(path: Path, file: _Followed, now: float) -> bool:
    """Look at one file; whether it says something new, and has for long enough."""
    mark = _mark(path)
    if mark != file.mark:
        file.read_until = now + COARSE
        file.mark = mark
    # What could not be read is tried again: another program lets go of a file without changing it.
    if now <= file.read_until or (mark is not None and file.seen == AWAY):
        said = AWAY if mark is None else _said(path)
        if said != AWAY and _mark(path) != mark:
            # It was written to while it was read.
            file.since = inf
            return False
        if said != file.seen or file.since == inf:
            file.seen, file.since = said, now
            return False
    # A new mark is not there, but what was seen before is still to be told.
    if file.seen == file.told or file.since == inf:
        return False
    if file.seen == AWAY and now - file.since < GONE:
        return False
    file.told = file.seen
    return True


def _mark(path: Path) -> _Mark | None:
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _said(path: Path) -> bytes:
    try:
        content = path.read_bytes()
    except (OSError, ValueError):
        return AWAY
    return hashlib.sha256(content).digest() if content else AWAY
