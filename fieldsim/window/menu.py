"""A short list of things to choose from, beside the pointer. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.window.camera import Rect

__all__ = ["Menu", "MenuWords", "menu_rects", "rows_in"]

# Sizes for a unit. A finger finds a row of 32 pixels at scale 1.
WIDE, ROW, TITLE, BESIDE = 268, 32, 24, 14


@dataclass(frozen=True)
class MenuWords:
    """A menu as it is shown: ``rows`` are words and what is told beside them."""

    at: tuple[float, float]
    title: str
    rows: tuple[tuple[str, str], ...]
    chosen: int
    view: Rect | None = None
    """Where it may stand; None for the field."""
    first: int = 0
    """How many rows are above those that are shown,"""
    more: int = 0
    """and how many below."""


@dataclass(frozen=True)
class Menu:
    """``at`` is the pixel it belongs to, ``chosen`` the row that enter takes."""

    at: tuple[float, float]
    count: int
    chosen: int = 0

    def moved(self, way: int) -> Menu:
        return Menu(self.at, self.count, (self.chosen + way) % max(1, self.count))


def rows_in(view: Rect, unit: float, count: int) -> int:
    """How many of so many rows a view has room for, at least one."""
    return max(1, min(count, int((view.h - round(TITLE * unit) - 8 * unit) // max(1, round(ROW * unit)))))


def menu_rects(view: Rect, unit: float, at: tuple[float, float], count: int) -> tuple[Rect, tuple[Rect, ...]]:
    """The menu inside a view, beside a pixel and not under it, and its rows."""
    row, title = round(ROW * unit), round(TITLE * unit)
    wide = min(round(WIDE * unit), view.w)
    high = title + count * row + round(4 * unit)
    beside = round(BESIDE * unit)
    x = round(at[0]) + beside
    if x + wide > view.right:
        x = max(view.x, round(at[0]) - beside - wide)
    # Below it, where there is room: what is shown of the choice begins and ends at the pointer's height.
    y = round(at[1]) + beside
    if y + high > view.bottom:
        y = max(view.y, round(at[1]) - beside - high)
    inside = tuple(Rect(x + 2, y + title + n * row, wide - 4, row) for n in range(count))
    return Rect(x, y, wide, high), inside
