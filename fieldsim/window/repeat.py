"""A key that is held nudges again and again, by the window's own clock and only while it is still held.

The system's own repeat would post presses while a frame is slow, and every one of them would be served after the key
was let go: one tap of the key for a new segment then adds a dozen.
"""

from __future__ import annotations

__all__ = ["FIRST", "NEXT", "HeldKey"]

# Seconds until a held key nudges for the second time, and from each time to the next.
FIRST, NEXT = 0.35, 0.04


class HeldKey:
    """The key that is held, if it is one that nudges."""

    def __init__(self) -> None:
        self.pressed: str | None = None
        """By its name with its modifiers, as it was when it went down."""
        self._due: float | None = None

    def down(self, pressed: str, repeats: bool) -> None:
        """A key went down: whatever was held before nudges no more."""
        self.pressed, self._due = (pressed if repeats else None), None

    def up(self) -> None:
        """A key was let go (a modifier too: what is held then means something else), or the keyboard is elsewhere."""
        self.pressed = None

    def due(self, now: float) -> str | None:
        """The key if it nudges at ``now``, seconds; once a call at most, however long ago the last one was."""
        if self.pressed is None:
            return None
        if self._due is None:
            # The press itself was served just now.
            self._due = now + FIRST
            return None
        if now < self._due:
            return None
        self._due = now + NEXT
        return self.pressed
