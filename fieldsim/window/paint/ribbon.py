"""What the ribbon keeps while a run is changed: its scale, and how it was before the last change. Knows no screen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite
from typing import Any

from fieldsim.window.paint.scene import Column

__all__ = ["Before", "Kept", "room_scale", "steady_scale"]

# Upper ends of the ribbon, mm: few enough that it rarely changes, and near enough that there is room to see.
ENDS = (12.5, 25.0, 50.0, 100.0, 150.0, 250.0, 500.0, 1250.0)
# The scale goes down only to one that is less than so much of it.
MUCH_LESS = 0.45


def room_scale(columns: Iterable[Column]) -> float:
    """The most room that is shown, mm: the upper end of the ribbon."""
    known = [
        value
        for column in columns
        for value in (column.planned, column.p95, column.allowed)
        if value is not None and isfinite(value)
    ]
    return 1.25 * max([*known, 10.0])


def steady_scale(columns: Iterable[Column], last: float | None, resting: bool) -> float:
    """The scale to go on with: the last one where it will do, so that better and worse can be seen in heights. It is
    made smaller only while the hand rests."""
    wanted = room_scale(columns)
    end = next((end for end in ENDS if end >= wanted), ENDS[-1])
    if last is None or end > last or (resting and end <= MUCH_LESS * last):
        return end
    return last


@dataclass(frozen=True, eq=False)
class Before:
    """How a run did: its ribbon, and what was said of it."""

    run: Any
    columns: tuple[Column, ...]
    words: str
    """Such as '782 in 1000'."""


class Kept:
    """How each step of a history did, as far as it was counted."""

    def __init__(self) -> None:
        self._known: list[Before] = []

    def add(self, found: Before, steps: Iterable[Any]) -> None:
        """What is known by now of a run; runs that are in no step any more are forgotten."""
        there = [step.state.run for step in steps]
        self._known = [
            each for each in self._known if each.run is not found.run and any(run is each.run for run in there)
        ]
        self._known.append(found)

    def of(self, run: Any) -> Before | None:
        return next((each for each in self._known if each.run is run), None)
