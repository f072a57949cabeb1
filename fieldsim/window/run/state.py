"""Values that a session of a run is made of: lines of the card, a drag, a trial that is looked at alone; where
trials come from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Protocol

from fieldsim.model import Run
from fieldsim.sim.failures import Failure
from fieldsim.sim.plan import Plan
from fieldsim.sim.ways import Way
from fieldsim.window.live import Shown

__all__ = ["PACES", "REACH", "SNAP", "STEP", "STILL", "Line", "Picked", "Tries"]


PACES = (0.25, 0.5, 1.0, 2.0, 4.0)
# How far one key press steps the run, seconds.
STEP = 0.1
# Reaches of the pointer in units of the layout, and how near a drag comes before it snaps.
REACH, SNAP = 13.0, 10.0
# A press that moves less than this, in units, is a click.
STILL = 3.0


class Tries(Protocol):
    """Where trials come from."""

    def want(self, run: Run, ready: Plan | None = None, *, bare: bool = False) -> int: ...

    def news(self) -> Shown | None: ...


@dataclass(frozen=True)
class Line:
    """A line of the number card: a number or a word that can be changed."""

    key: str
    label: str
    choice: bool
    text: str
    unit: str = ""


@dataclass
class Drag:
    what: str
    at: tuple[float, float]
    """Where the press was, pixels,"""
    last: tuple[float, float]
    """and where the pointer was last."""
    grabbed: tuple[float, float] = (0.0, 0.0)
    """From the pointer to the thing that is dragged, mm."""
    moved: bool = False
    before: Any = None
    """The history, the view, the head and what was picked when it began: what escape goes back to."""
    base: Any = None
    """Of a drag of the path, the planned poses when it began."""
    token: object = field(default_factory=object)


@dataclass
class Picked:
    """A trial that is looked at alone, by its number from 0."""

    number: int
    way: Way
    until: float
    """The head at which it ended, or missed."""
    failure: Failure | None
    words: tuple[str, ...] = ()
    """What becomes of it: by how much it fails, and whose error did most."""
