"""Nothing is lost in a crash: copies of what is being edited, until it is saved.

**Where.** In a folder of the user's own and not beside the file: a school's shared folder may be read-only, dot files
would litter it, and whether the owner of a copy still lives can only be told on the same machine. A copy names the file
it belongs to, and what that file said; so it is found again even if the file was moved or renamed since.

**Whose.** Every window writes copies of its own, under names no other uses, and holds a lock on a small file as long as
it lives. The system lets go of the lock however the process ends (a process number would be given to another one some
day). Copies whose owner lives are not offered: two windows on one file do not eat each other's.

**How.** A copy is written beside its place and moved there, so it is whole or not there. It waits for the disk only
where ``at_once`` asks for it: a crash of the program loses nothing that was written, only a power cut does. Nothing
here raises for what the disk or another program does; ``Recovery.problem`` says in words why no copy can be kept.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Self

from fieldsim.language import tr

__all__ = ["EVERY", "Offer", "Recovery", "state_folder"]

# Seconds between two copies of one file.
EVERY = 1.0

# Copies that nobody asked for are taken away after this many days.
DAYS = 90.0

# Files and copies larger than this are none that a person writes, bytes.
LARGEST = 50_000_000

_KIND = "fieldsim recovery copy"

# Names of our locks, and of parts of copies.
_LEFT_OVER = re.compile(r"[0-9a-f]{16}\.lock|\.[0-9a-f]{16}-.*\.part")

# Seconds since 1970 that are no time of a copy.
_NEVER = 1e11


def state_folder() -> Path:
    """Where this system keeps what a program remembers for its user, with a folder of our own.

    Linux and others: the XDG base directory specification, version 0.8, from memory; relative paths in its variables
    are to be ignored.
    """
    home = Path(os.path.expanduser("~"))
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        told = Path(os.environ.get("XDG_STATE_HOME", ""))
        base = told if told.is_absolute() else home / ".local" / "state"
    return base / "fieldsim" / "recovery"


@dataclass(frozen=True)
class Offer:
    """A copy that a window left behind."""

    path: Path
    """The file it is offered for."""
    text: str
    saved_at: float
    """When the copy was made, seconds since 1970 by this machine's clock."""
    file_changed: bool
    """The file was changed since then by someone else: taking the copy would undo that."""
    moved_from: Path | None
    """Where the file was when the copy was made, if it was somewhere else."""
    copy: Path
    """Where the copy is."""


@dataclass(frozen=True)
class _Copy:
    place: Path
    owner: str
    path: str
    base: str | None
    """Hash of what the file said before it was edited; None if there was no file."""
    when: float
    text: str


@dataclass
class _Edited:
    """A file that this window has copies of."""

    place: Path
    base: str | None
    written: float
    text: str | None = None


class Recovery:
    """Recovery copies of one window. ``folder`` is made when it is first needed; None is the user's own.

    ``clock`` gives seconds that only go forwards, ``now`` those since 1970.
    """

    def __init__(
        self,
        folder: Path | None = None,
        every: float = EVERY,
        clock: Callable[[], float] = time.monotonic,
        now: Callable[[], float] = time.time,
    ) -> None:
        self.folder = state_folder() if folder is None else folder
        self.problem: str | None = None
        """Why the last copy could not be kept; None if it could."""
        self._every = every
        self._clock = clock
        self._now = now
        self._owner = secrets.token_hex(8)
        self._lock: IO[bytes] | None = None
        self._edited: dict[str, _Edited] = {}
        self._offered: dict[str, set[Path]] = {}

    # --- keeping -----------------------------------------------------------------------------------------------------

    def keep(self, path: Path, text: str | Callable[[], str], *, at_once: bool = False) -> bool:
        """Keep a copy of what an edited file says now; whether it is kept as it is.

        Call it with every change, or every frame: a copy is written once a second at most, and not again if it says the
        same. ``text`` may be a function, which is only called when a copy is due. ``at_once`` does not wait, and sees
        that the copy is on the disk.
        """
        key = _key(path)
        edited = self._edited.get(key)
        clock = self._clock()
        # A clock that has gone back must not keep us waiting.
        if edited is not None and not at_once and 0 <= clock - edited.written < self._every:
            return False
        try:
            if edited is None:
                place = self.folder / f"{self._owner}-{len(self._edited)}-{secrets.token_hex(4)}.json"
                edited = self._edited[key] = _Edited(place, _hash_of(path), clock)
            edited.written = clock
            now = text if isinstance(text, str) else text()
            if now == edited.text and edited.place.exists() and not at_once:
                return True
            self._hold()
            content = {
                "what": _KIND, "owner": self._owner, "path": key, "base": edited.base, "when": self._now(), "text": now,
            }  # fmt: skip
            _write(edited.place, json.dumps(content).encode("ascii"), at_once)
        except OSError as problem:
            self.problem = tr(
                "no recovery copy can be kept in {folder}: {reason}",
                folder=self.folder,
                reason=problem.strerror or problem,
            )
            return False
        edited.text = now
        self.problem = None
        return True

    def drop(self, path: Path, *, own: bool = False) -> None:
        """Take away the copies of a file: it was saved, or the user does not want what was offered. ``own`` leaves
        those that an earlier window left behind: only what this window changed is as it was again."""
        key = _key(path)
        places = set() if own else self._offered.pop(key, set())
        edited = self._edited.pop(key, None)
        if edited is not None:
            places.add(edited.place)
        for place in places:
            with suppress(OSError):
                place.unlink(missing_ok=True)

    def close(self) -> None:
        """The window ends as it should: what it did not drop stays and is offered the next time."""
        if self._lock is None:
            return
        with suppress(OSError):
            self._lock.close()
        self._lock = None
        with suppress(OSError):
            self._lock_place(self._owner).unlink(missing_ok=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- offering ----------------------------------------------------------------------------------------------------

    def offer(self, path: Path) -> Offer | None:
        """The newest copy of a file that a window left behind, if it is newer than the file and says something else.

        Newer is a copy of a file that still says what it said before it was edited, whatever the clocks say; a file
        that says something new must have been written before the copy was made.
        """
        key = _key(path)
        there = _content(path)
        base = None if there is None else _hash(there)
        best: Offer | None = None
        for copy in self._left_behind():
            own = copy.path == key
            # A file that was moved: it still says what it said, and where it was there is none any more.
            if not own and (not there or copy.base != base or Path(copy.path).exists()):
                continue
            if there is not None and _plain(copy.text) == _plain(there.decode("utf-8", "replace")):
                continue
            changed = copy.base != base
            if changed and there is not None and copy.when <= _changed_at(path):
                continue
            if best is None or copy.when > best.saved_at:
                best = Offer(path, copy.text, copy.when, changed, None if own else Path(copy.path), copy.place)
        if best is not None:
            self._offered.setdefault(key, set()).add(best.copy)
        return best

    def _left_behind(self) -> Iterator[_Copy]:
        """Copies of windows that are no more. Takes away copies that are too old, and what else was left over."""
        alive: dict[str, bool] = {self._owner: True}
        try:
            places = sorted(self.folder.iterdir())
        except OSError:
            return
        for place in places:
            if place.suffix == ".json" and (copy := _read(place)) is not None:
                if copy.owner not in alive:
                    alive[copy.owner] = _held(self._lock_place(copy.owner))
                if alive[copy.owner]:
                    continue
                if self._now() - copy.when > DAYS * 86_400.0:
                    with suppress(OSError):
                        place.unlink(missing_ok=True)
                    continue
                yield copy
        for place in places:
            # A young lock may be one that is just being taken, a young part of a copy one that is being written.
            if not _LEFT_OVER.fullmatch(place.name) or self._now() - _changed_at(place) < 3600.0:
                continue
            if place.suffix == ".part" or not _held(place):
                with suppress(OSError):
                    place.unlink(missing_ok=True)

    def _hold(self) -> None:
        """Make the folder, and take the lock that tells others that this window lives."""
        self.folder.mkdir(parents=True, exist_ok=True)
        if self._lock is None:
            lock = self._lock_place(self._owner).open("wb")
            # Where a file system knows no locks, others may offer these copies; that loses nothing.
            with suppress(OSError):
                _take(lock)
            self._lock = lock

    def _lock_place(self, owner: str) -> Path:
        return self.folder / f"{owner}.lock"


# --- locks ---------------------------------------------------------------------------------------------------------

if sys.platform == "win32":
    import msvcrt

    def _take(file: IO[bytes]) -> None:
        """Lock an open file for this process as long as it is open. Raises OSError if another has it."""
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _take(file: IO[bytes]) -> None:
        """Lock an open file for this process as long as it is open. Raises OSError if another has it."""
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)


def _held(place: Path) -> bool:
    """Whether a lock's owner lives. If that cannot be told it does not: what is offered twice is not lost."""
    try:
        with place.open("r+b") as file:
            try:
                _take(file)
            except (BlockingIOError, PermissionError):
                return True
    except OSError:
        return False
    return False


# --- files ---------------------------------------------------------------------------------------------------------


def _key(path: Path) -> str:
    """A file's name that is the same however it is written."""
    try:
        whole = os.path.realpath(path)
    except (OSError, ValueError):
        whole = os.path.abspath(path)
    return os.path.normcase(whole)


def _plain(text: str) -> str:
    """A text without what editors and systems do to it: its byte-order mark and its line ends."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n")


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _content(path: Path) -> bytes | None:
    """What a file says; None if it is not there or cannot be read."""
    try:
        if path.stat().st_size > LARGEST:
            return None
        return path.read_bytes()
    except (OSError, ValueError):
        return None


def _hash_of(path: Path) -> str | None:
    content = _content(path)
    return None if content is None else _hash(content)


def _changed_at(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _write(place: Path, content: bytes, to_the_disk: bool) -> None:
    """Write beside and move: the copy before stays until this one is whole. For this user's eyes alone."""
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.stem}-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            if to_the_disk:
                file.flush()
                os.fsync(file.fileno())
        os.replace(name, place)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise


def _read(place: Path) -> _Copy | None:
    """A copy; None if the file is none, was cut short, or is anything else."""
    content = _content(place)
    if content is None:
        return None
    try:
        found: Any = json.loads(content)
    except (ValueError, RecursionError):
        return None
    if not isinstance(found, dict) or found.get("what") != _KIND:
        return None
    owner, path, base, when, text = (found.get(key) for key in ("owner", "path", "base", "when", "text"))
    if not (isinstance(owner, str) and owner.isalnum() and isinstance(path, str) and "\0" not in path):
        return None
    if not (isinstance(base, str | None) and isinstance(when, int | float) and isinstance(text, str)):
        return None
    # Written so that not-a-number is refused too.
    return _Copy(place, owner, path, base, float(when), text) if 0 <= when < _NEVER else None
