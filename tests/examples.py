"""How many examples hypothesis looks for: some each day, four times as many by ``--hypothesis-profile thorough``."""

from __future__ import annotations

from hypothesis import settings

__all__ = ["examples"]

# Fewer would be no search at all.
FEWEST = 6


def examples(thorough: int) -> int:
    """The part of ``thorough`` that the profile of today asks for: all where it has hypothesis' usual 100."""
    return min(thorough, max(FEWEST, thorough * settings().max_examples // 100))
