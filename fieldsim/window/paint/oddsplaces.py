"""Where the words of the odds card stand, and its rows that can be pressed: the painter and the hand read the same
places. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.window.camera import Rect
from fieldsim.window.paint.scene import Odds

__all__ = ["HINT_LINES", "PEGS_IN_ROW", "OddsPlaces", "TroubleRow", "odds_places", "row_name"]

# Units: the pad at the sides, and the lines of small, common and huge letters.
PAD, LINE, COMMON, HUGE = 10.0, 15.5, 16.0, 36.0
# A row for a finger, and the least that it shrinks to where there is no room.
ROW, LEAST_ROW = 34.0, 17.0
PEGS_IN_ROW = 25
HINT_LINES = 4


@dataclass(frozen=True)
class TroubleRow:
    """A row of what fails; where one is looked at, the buttons to the trial before and after."""

    rect: Rect
    back: Rect
    forth: Rect


@dataclass(frozen=True)
class OddsPlaces:
    """Heights in pixels; what is None has no room, or is not there."""

    left: float
    room: float
    lead: float
    big: float
    between: float | None
    pegs: float | None
    time: float | None
    head: float | None
    """The line over the rows,"""
    rows: tuple[TroubleRow, ...]
    two: bool
    """whether there are two lines in each row,"""
    hint: Rect | None
    """and the place of the lines below: what costs most."""
    foot: Rect

    def at(self, x: float, y: float) -> str | None:
        """'trouble 0', 'trouble 0 back', 'trouble 0 forth' under a pixel; None beside the rows."""
        for n, row in enumerate(self.rows):
            for part in ("back", "forth"):
                if getattr(row, part).contains(x, y):
                    return row_name(n, part)
            if row.rect.contains(x, y):
                return row_name(n)
        return "hint" if self.hint is not None and self.hint.contains(x, y) else None


def row_name(number: int, part: str = "") -> str:
    """What a row is called, or a button of it: 'back', 'forth'."""
    return f"trouble {number} {part}".strip()


def odds_places(card: Rect, unit: float, odds: Odds) -> OddsPlaces:
    """In the order of worth: the odds, how it fails, what costs most, the time, the pegs."""
    pad = PAD * unit
    left, room = card.x + pad, card.w - 2 * pad
    line = LINE * unit
    foot_high = line + 4 * unit
    foot = Rect(card.x, round(card.bottom - foot_high), card.w, round(foot_high))
    bottom = foot.y - 3 * unit
    lead = card.y + 4 * unit
    big = lead + COMMON * unit - 3 * unit
    y = big + HUGE * unit
    between = None
    if odds.between:
        between, y = y, y + line + 2 * unit
    count = len(odds.troubles)
    head_high = line + 3 * unit
    least = head_high + count * LEAST_ROW * unit if count or odds.nothing_fails else 0.0
    whole = head_high + count * ROW * unit if count else least
    hint_high = HINT_LINES * line + 6 * unit if odds.hint else 0.0
    time_high = line + 2 * unit if odds.time else 0.0
    pegs_high = 4 * (room / PEGS_IN_ROW) + 6 * unit if odds.share is not None else 0.0
    left_over = bottom - y
    rows_high = whole if left_over >= whole else least if left_over >= least else 0.0
    left_over -= rows_high
    hinted = bool(hint_high) and left_over >= hint_high
    left_over -= hint_high if hinted else 0.0
    timed = bool(time_high) and left_over >= time_high
    left_over -= time_high if timed else 0.0
    pegs = time = head = None
    if pegs_high and left_over >= pegs_high:
        pegs, y = y, y + pegs_high
    if timed:
        time, y = y, y + time_high
    rows: list[TroubleRow] = []
    high = (ROW if rows_high == whole else LEAST_ROW) * unit
    if rows_high:
        head, y = y, y + head_high
        for n in range(count):
            rect = Rect(card.x + 1, round(y + n * high), card.w - 2, round(y + (n + 1) * high) - round(y + n * high))
            side = rect.h
            forth = Rect(rect.right - side - round(4 * unit), rect.y, side, side)
            back = Rect(forth.x - side - round(2 * unit), rect.y, side, side)
            nowhere = Rect(rect.right, rect.y, 0, 0)
            open_row = odds.looked == n
            rows.append(TroubleRow(rect, back if open_row else nowhere, forth if open_row else nowhere))
        y += count * high
    hint = Rect(card.x + 1, round(y + 2 * unit), card.w - 2, round(hint_high - 2 * unit)) if hinted else None
    two = bool(rows) and rows_high == whole
    return OddsPlaces(left, room, lead, big, between, pegs, time, head, tuple(rows), two, hint, foot)
