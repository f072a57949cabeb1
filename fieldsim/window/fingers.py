"""Two fingers on a screen: how they shove and how they pinch. Knows no screen; pixels in, pixels out."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

__all__ = ["Fingers", "Pinching"]

# Fingers nearer to each other than this are no measure of a pinch, pixels.
NEAR = 24.0


@dataclass(frozen=True)
class Pinching:
    """What two fingers did: where they are now between them, how far they shoved, and how many times farther apart."""

    at: tuple[float, float]
    by: tuple[float, float]
    factor: float


class Fingers:
    """The fingers that are down. From the second on they shove and pinch, until all of them are up again."""

    def __init__(self) -> None:
        self._down: dict[int, tuple[float, float]] = {}
        self.several = False
        """More than one was down since the first: what one of them does is for nobody any more."""

    def down(self, finger: int, at: tuple[float, float]) -> bool:
        """A finger comes down; whether it is the second."""
        self._down[finger] = at
        second = len(self._down) == 2
        self.several = self.several or second
        return second

    def up(self, finger: int) -> None:
        """A finger goes up."""
        self._down.pop(finger, None)

    def free(self) -> bool:
        """Whether the mouse means something again; asked after each event that a finger makes of one."""
        if not self._down:
            free, self.several = not self.several, False
            return free
        return not self.several

    def moved(self, finger: int, at: tuple[float, float]) -> Pinching | None:
        """A finger moves; what the first two did by that, None unless there are two."""
        if finger not in self._down:
            return None
        before = list(self._down.values())[:2]
        self._down[finger] = at
        after = list(self._down.values())[:2]
        if len(after) < 2 or before == after:
            return None
        (old_x, old_y), (x, y) = _middle(before), _middle(after)
        old_far, far = _apart(before), _apart(after)
        factor = far / old_far if min(old_far, far) >= NEAR else 1.0
        return Pinching((x, y), (x - old_x, y - old_y), factor)


def _middle(two: list[tuple[float, float]]) -> tuple[float, float]:
    return (two[0][0] + two[1][0]) / 2, (two[0][1] + two[1][1]) / 2


def _apart(two: list[tuple[float, float]]) -> float:
    return hypot(two[0][0] - two[1][0], two[0][1] - two[1][1])
