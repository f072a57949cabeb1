"""Where an answer comes from: the command that makes it again, and the files that it was asked of."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["Origin"]


class Origin(NamedTuple):
    command: str
    files: tuple[tuple[str, str], ...] = ()
    """Name and SHA-256 digest (FIPS 180-4) of each file that was read, in hexadecimal digits."""
