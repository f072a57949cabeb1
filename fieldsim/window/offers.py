"""Changes to a run that a study found, handed to the window in which they can be taken one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fieldsim.model import Run
from fieldsim.planning.draft import Edit, applied

__all__ = ["Offers"]

Change = tuple[tuple[str, str], tuple[Edit, ...]]
"""Its words and its worth in words, and what it is made of."""


@dataclass(frozen=True)
class Offers:
    """The run as the study had it, the changes that are left, and those that were taken."""

    run: Run
    left: tuple[Change, ...]
    taken: tuple[Change, ...] = ()

    @property
    def now(self) -> Run:
        """The run with what was taken."""
        return self._with(self.taken)

    def with_one(self, number: int) -> Run:
        """The run as it would be with one more."""
        return self._with((*self.taken, self.left[number]))

    def take(self, number: int) -> Offers:
        return replace(self, left=self.left[:number] + self.left[number + 1 :], taken=(*self.taken, self.left[number]))

    def undone(self) -> Offers | None:
        """As before the last one was taken; None if none was."""
        return replace(self, left=(self.taken[-1], *self.left), taken=self.taken[:-1]) if self.taken else None

    def _with(self, some: Sequence[Change]) -> Run:
        return applied(self.run, [edit for _, edits in some for edit in edits]).run
