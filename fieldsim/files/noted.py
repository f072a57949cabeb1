"""Which files were read for an answer, and their digests, so that a page can say what it was made from."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

__all__ = ["note", "noted"]

_SEEN: ContextVar[dict[Path, str] | None] = ContextVar("files read", default=None)


@contextmanager
def noted() -> Iterator[dict[Path, str]]:
    """The files that are read meanwhile, with the SHA-256 of their bytes (FIPS 180-4), in the order they are read."""
    seen: dict[Path, str] = {}
    before = _SEEN.set(seen)
    try:
        yield seen
    finally:
        _SEEN.reset(before)


def note(path: Path, data: bytes) -> None:
    """A file was read, whole."""
    seen = _SEEN.get()
    if seen is not None:
        import hashlib

        seen[path] = hashlib.sha256(data).hexdigest()
