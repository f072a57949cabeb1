"""Undo and redo without limit: the states a run or a field went through, each with the words of what was done."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, TypeVar

__all__ = ["History"]

T = TypeVar("T")


@dataclass(frozen=True)
class _Step(Generic[T]):
    """A state, and what was done to come to it."""

    state: T
    what: str


@dataclass(frozen=True)
class History(Generic[T]):
    """A value: each change gives another history. Make one with `begun`.

    ``steps`` are all states known, the first being the one begun with, ``at`` the number of the present one. ``kept``
    is the state that was last saved. ``drag`` is the drag that the last step belongs to while it may still go on.
    """

    steps: tuple[_Step[T], ...]
    at: int
    kept: T
    drag: object | None = None

    @classmethod
    def begun(cls, state: T) -> History[T]:
        """A history of one state, as it was read from its file."""
        return cls((_Step(state, ""),), 0, state)

    @property
    def state(self) -> T:
        return self.steps[self.at].state

    def push(self, state: T, what: str, drag: object | None = None) -> History[T]:
        """With one more step; what was undone before can then no longer be redone.

        Pushes with an equal ``drag``, one after the other, are one step: from before the drag to its last state, and no
        step at all if that is where it began. A state equal to the present one is no step either.
        """
        goes_on = drag is not None and drag == self.drag
        if state == self.state and not goes_on:
            return self
        past = self.steps[: self.at if goes_on else self.at + 1]
        if state == past[-1].state:
            # The drag came back to its beginning. Going on, it is a new step.
            return replace(self, steps=past, at=len(past) - 1, drag=None)
        return replace(self, steps=(*past, _Step(state, what)), at=len(past), drag=drag)

    def undo(self) -> History[T]:
        """One step back; the same at the beginning."""
        return replace(self, at=max(0, self.at - 1), drag=None)

    def redo(self) -> History[T]:
        """One step on again; the same at the end."""
        return replace(self, at=min(len(self.steps) - 1, self.at + 1), drag=None)

    @property
    def undo_words(self) -> str | None:
        """What `undo` would take back; None if there is nothing."""
        return self.steps[self.at].what if self.at else None

    @property
    def redo_words(self) -> str | None:
        """What `redo` would do again; None if there is nothing."""
        return self.steps[self.at + 1].what if self.at + 1 < len(self.steps) else None

    @property
    def dirty(self) -> bool:
        """Does the present state differ from the one last saved (or begun with)?"""
        return self.state != self.kept

    def saved(self) -> History[T]:
        """The present state is saved. A drag that goes on is then a step of its own."""
        return replace(self, kept=self.state, drag=None)
