"""Where everything stands in the window, and what is under the pointer. Whole pixels; knows no screen.

The field is at the upper left, the strip below it over the whole width, the cards at the right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fieldsim.window.camera import Rect

__all__ = [
    "CONTROLS",
    "EDITS",
    "HEAD_BUTTONS",
    "TOOLS",
    "Layout",
    "Row",
    "Strip",
    "field_layout",
    "layout",
    "strip_edges",
]

# The window the sizes are made for. It is good from 900 x 600 on; in a smaller one everything shrinks alike.
MADE_FOR = (1280, 800)
SMALLEST = (880, 640)
SMALLEST_LETTERS, LARGEST_LETTERS = 0.82, 1.35

HEAD_BUTTONS = ("season", "fit", "undo", "redo", "save", "look", "help")
# Right of the controls, before the axis: words and their widths in units.
EDITS = (("rest", 94), ("lead", 84), ("add", 84), ("copy", 44), ("remove", 58), ("studies", 64))
CONTROLS = ("begin", "back", "play", "forth", "slower", "faster")
# What a field is drawn with, and below it the edits of what is picked.
TOOLS = (
    "pick", "box", "round", "outline", "start area", "jig", "line", "target", "picture", "scale", "copy", "remove",
)  # fmt: skip

# Sizes for a unit, pixels.
GAP = 8
HEAD, RULER, CARDS = 38, 17, 316
CONTROL_ROW, RIBBON, SEGMENTS, AXIS = 40, 81, 50, 18
ROW, CARD_TITLE = 36, 42
# What a finger can press: 32 pixels also in a window of 1366 x 768.
FINGER = 34
COLUMN_LABEL = 16
"""Over a switch that is a column."""
SCALE = 74
"""Left of the strip's drawing: what its heights mean."""
LEAST_ODDS, MOST_ODDS = 288, 372
# What is told of a whole field, or of a robot, at least.
LEAST_TOLD = 190
TOOL_ROW = 52


@dataclass(frozen=True)
class Row:
    """A number with its buttons, or a switch: between the two buttons stands the entry, or the choice."""

    label: Rect
    minus: Rect
    entry: Rect
    plus: Rect


@dataclass(frozen=True)
class Layout:
    """Parts do not overlap; buttons and rows lie inside their part."""

    size: tuple[int, int]
    unit: float
    """Pixels for a unit of length: letters and gaps grow with it."""
    head: Rect
    ruler_left: Rect
    field: Rect
    ruler_below: Rect
    odds: Rect
    numbers: Rect
    switches: Rect
    controls: Rect
    ribbon_scale: Rect
    ribbon: Rect
    segments: Rect
    axis: Rect
    buttons: tuple[tuple[str, Rect], ...]
    rows: tuple[Row, ...]
    """Rows of the number card that there is room for,"""
    switch_rows: tuple[Row, ...]
    """and of the switches."""

    def px(self, length: float) -> int:
        """A length in units as whole pixels, at least 1."""
        return max(1, round(length * self.unit))

    @property
    def strip(self) -> Rect:
        """The whole strip, with its controls and scale."""
        return Rect(self.ribbon_scale.x, self.controls.y, self.controls.w, self.axis.bottom - self.controls.y)

    def parts(self) -> Iterator[tuple[str, Rect]]:
        """Names and places of the parts; no two overlap."""
        for name in (
            "head", "ruler_left", "field", "ruler_below", "odds", "numbers", "switches", "controls", "ribbon_scale",
            "ribbon", "segments", "axis",
        ):  # fmt: skip
            yield name, getattr(self, name)

    def pressable(self) -> Iterator[tuple[str, Rect]]:
        """Names and places of what can be pressed inside the parts; no two overlap."""
        for name, rect in self.buttons:
            yield f"button {name}", rect
        for kind, rows in (("number", self.rows), ("switch", self.switch_rows)):
            for index, row in enumerate(rows):
                for part in ("minus", "entry", "plus"):
                    rect = getattr(row, part)
                    if rect.w:
                        yield f"{kind} {index} {part}", rect

    def at(self, x: float, y: float) -> str | None:
        """What is under a pixel: 'button play', 'number 0 minus', 'switch 1 plus', else the part, else None."""
        for name, rect in self.pressable():
            if rect.contains(x, y):
                return name
        return next((name for name, rect in self.parts() if rect.contains(x, y)), None)

    def button(self, name: str) -> Rect:
        return next(rect for known, rect in self.buttons if known == name)


def layout(
    size: tuple[int, int], scale: float = 1.0, *, rows: int = 5, switches: int = 3, columns: bool = False
) -> Layout:
    """``scale`` is the user's factor, such as 2 on a screen of high density. ``rows`` and ``switches`` are wanted; with
    ``columns`` the switches stand side by side."""
    w, h = max(1, size[0]), max(1, size[1])
    unit = unit_of(w, h, scale)

    def px(length: float) -> int:
        return round(length * unit)

    gap = px(GAP)
    cards = px(CARDS)
    ruler = px(RULER)
    axis_y = h - gap - px(AXIS)
    segments_y = axis_y - px(SEGMENTS)
    ribbon_y = segments_y - px(RIBBON)
    controls_y = ribbon_y - px(CONTROL_ROW)
    top, bottom = px(HEAD) + gap // 2, controls_y - gap // 2
    left, right = gap, w - gap - cards
    inner = Rect(left + ruler, top, max(1, right - gap - left - ruler), max(1, bottom - top - ruler))

    scale_right = gap + px(SCALE)
    wide = w - gap - scale_right

    # The right column: the switches need their rows, the numbers theirs, and the odds take what is left.
    high = bottom - top
    switch_high = switches * px(ROW) + px(10) if switches else 0
    if columns:
        switch_high = px(COLUMN_LABEL) + px(FINGER) + px(8)
    switch_high = min(switch_high, max(0, high // 3))
    rest = max(0, high - switch_high - 2 * gap)
    # In a low window a few numbers are worth more than what costs most.
    least = min(px(LEAST_ODDS), max(rest - 3 * px(ROW) - px(CARD_TITLE) - px(6), rest // 2))
    odds_high = min(max(rest - rows * px(ROW) - px(CARD_TITLE) - px(6), least), px(MOST_ODDS), rest)
    odds = Rect(right, top, cards, odds_high)
    numbers = Rect(right, odds.bottom + gap, cards, max(0, rest - odds_high))
    switch_card = Rect(right, numbers.bottom + gap, cards, switch_high)
    fitting = max(0, (numbers.h - px(CARD_TITLE) - px(4)) // max(1, px(ROW)))

    buttons = _head_buttons(w, unit)
    x = scale_right
    for name in CONTROLS:
        buttons.append((name, Rect(x, controls_y + px(3), px(FINGER), px(FINGER))))
        x += px(FINGER + 3)
    x = w - gap - px(86)
    buttons.append(("axis", Rect(x, controls_y + px(3), px(86), px(FINGER))))
    for name, wide_edit in reversed(EDITS):
        x -= px(wide_edit) + px(4)
        buttons.append((name, Rect(x, controls_y + px(3), px(wide_edit), px(FINGER))))
    return Layout(
        size=(w, h),
        unit=unit,
        head=Rect(0, 0, w, px(HEAD)),
        ruler_left=Rect(left, top, ruler, inner.h),
        field=inner,
        ruler_below=Rect(left, inner.bottom, ruler + inner.w, ruler),
        odds=odds,
        numbers=numbers,
        switches=switch_card,
        controls=Rect(gap, controls_y, w - 2 * gap, ribbon_y - controls_y),
        ribbon_scale=Rect(gap, ribbon_y, scale_right - gap, h - gap - ribbon_y),
        ribbon=Rect(scale_right, ribbon_y, wide, segments_y - ribbon_y),
        segments=Rect(scale_right, segments_y, wide, axis_y - segments_y),
        axis=Rect(scale_right, axis_y, wide, h - gap - axis_y),
        buttons=tuple(buttons),
        rows=_rows(numbers, px(CARD_TITLE), min(rows, fitting), unit, False),
        switch_rows=(_columns if columns else _switch_rows)(switch_card, switches, unit),
    )


def field_layout(
    size: tuple[int, int], scale: float = 1.0, *, rows: int = 9, switches: int = 3, tools: Sequence[str] = TOOLS,
    head: Sequence[str] = ("plan", *HEAD_BUTTONS),
) -> Layout:  # fmt: skip
    """A window to draw a field in: as `layout`, with a row of tools in place of the strip. What is told of the whole
    field stands where the odds of a run are."""
    w, h = max(1, size[0]), max(1, size[1])
    unit = unit_of(w, h, scale)

    def px(length: float) -> int:
        return round(length * unit)

    gap = px(GAP)
    cards, ruler = px(CARDS), px(RULER)
    tools_y = h - gap - px(TOOL_ROW)
    top, bottom = px(HEAD) + gap // 2, tools_y - gap
    left, right = gap, w - gap - cards
    inner = Rect(left + ruler, top, max(1, right - gap - left - ruler), max(1, bottom - top - ruler))

    # The right column: the switches and the numbers need their rows, the rest tells what is there.
    switch_high = switches * px(ROW) + px(10)
    rest = bottom - top - switch_high - 2 * gap
    told = min(max(rest - rows * px(ROW) - px(CARD_TITLE) - px(6), px(LEAST_TOLD)), rest)
    odds = Rect(right, top, cards, told)
    numbers = Rect(right, odds.bottom + gap, cards, max(0, rest - told))
    switch_card = Rect(right, numbers.bottom + gap, cards, switch_high)
    fitting = max(0, (numbers.h - px(CARD_TITLE) - px(4)) // max(1, px(ROW)))

    buttons = _head_buttons(w, unit, head)
    space = px(4)
    wide = (w - 2 * gap + space) / len(tools)
    for n, name in enumerate(tools):
        x, end = round(gap + n * wide), round(gap + (n + 1) * wide) - space
        buttons.append((f"tool {name}", Rect(x, tools_y, end - x, px(TOOL_ROW))))
    nothing = Rect(gap, h - gap, 0, 0)
    return Layout(
        size=(w, h),
        unit=unit,
        head=Rect(0, 0, w, px(HEAD)),
        ruler_left=Rect(left, top, ruler, inner.h),
        field=inner,
        ruler_below=Rect(left, inner.bottom, ruler + inner.w, ruler),
        odds=odds,
        numbers=numbers,
        switches=switch_card,
        controls=Rect(gap, tools_y, w - 2 * gap, px(TOOL_ROW)),
        ribbon_scale=nothing,
        ribbon=nothing,
        segments=nothing,
        axis=nothing,
        buttons=tuple(buttons),
        rows=_rows(numbers, px(CARD_TITLE), min(rows, fitting), unit, False),
        switch_rows=_switch_rows(switch_card, switches, unit),
    )


def unit_of(w: int, h: int, scale: float) -> float:
    grown = min(w / (MADE_FOR[0] * scale), h / (MADE_FOR[1] * scale))
    unit = scale * min(max(grown, SMALLEST_LETTERS), LARGEST_LETTERS)
    return min(unit, w / SMALLEST[0], h / SMALLEST[1])


def _head_buttons(w: int, unit: float, names: Sequence[str] = HEAD_BUTTONS) -> list[tuple[str, Rect]]:
    """From the right, in their order."""
    wide, high, space = round(56 * unit), round(FINGER * unit), round(4 * unit)
    first = w - round(GAP * unit) - len(names) * (wide + space) + space
    return [(name, Rect(first + n * (wide + space), round(2 * unit), wide, high)) for n, name in enumerate(names)]


def _rows(card: Rect, top: int, count: int, unit: float, choice: bool) -> tuple[Row, ...]:
    def px(length: float) -> int:
        return round(length * unit)

    pad, square = px(8), px(FINGER)
    found = []
    for n in range(count):
        y = card.y + top + n * px(ROW)
        label = Rect(card.x + pad, y, px(58) if choice else px(124), square)
        plus = Rect(card.right - pad - square, y, square, square)
        minus = Rect(label.right + px(4), y, square, square)
        entry = Rect(minus.right + px(3), y, plus.x - minus.right - 2 * px(3), square)
        found.append(Row(label, minus, entry, plus))
    return tuple(found)


def _switch_rows(card: Rect, count: int, unit: float) -> tuple[Row, ...]:
    room = (card.h - round(5 * unit)) // max(1, round(ROW * unit))
    return _rows(card, round(5 * unit), max(0, min(count, room)), unit, True)


def _columns(card: Rect, count: int, unit: float) -> tuple[Row, ...]:
    """Switches side by side: a name over each, and nothing but the choice."""
    pad, gap = round(8 * unit), round(4 * unit)
    # The first has the longest words: where it starts.
    weights = [1.3, *[1.0] * (count - 1)][:count]
    each = (card.w - 2 * pad + gap) / max(sum(weights), 1.0)
    found = []
    at = float(card.x + pad)
    for weight in weights:
        x, end = round(at), max(round(at), round(at + weight * each) - gap)
        at += weight * each
        y = card.y + min(round(3 * unit), card.h)
        label = Rect(x, y, end - x, min(round(COLUMN_LABEL * unit), card.bottom - y))
        entry = Rect(x, label.bottom, end - x, min(round(FINGER * unit), card.bottom - label.bottom))
        nothing = Rect(end, entry.y, 0, 0)
        found.append(Row(label, nothing, entry, nothing))
    return tuple(found)


def strip_edges(weights: Sequence[float], left: float, width: float, least: float) -> tuple[float, ...]:
    """The pixels at which blocks begin and end: in proportion to their weights, but each at least ``least`` wide.

    If there are too many for that they are all as wide. One more edge than weights; the last is ``left + width``.
    """
    count = len(weights)
    if count == 0:
        return (left,)
    given = np.maximum(np.asarray(weights, dtype=float), 0.0)
    small = np.zeros(count, dtype=bool)
    widths = np.full(count, width / count)
    if least * count < width and given.any():
        # Of the largest, so that no product is too small for a float.
        given = given / given.max()
        # Each round the blocks that came out too small are given the least, and the others share what is left.
        while True:
            room = width - least * small.sum()
            widths = np.where(small, least, room * (given / given[~small].sum()))
            more = ~small & (widths < least)
            if not more.any():
                break
            small |= more
    edges = left + np.concatenate([[0.0], np.cumsum(widths)])
    edges[-1] = left + width
    return tuple(float(edge) for edge in edges)


@dataclass(frozen=True)
class Strip:
    """The segments side by side. A place on it is a *head*: 3.25 is a quarter through the fourth segment."""

    words: tuple[str, ...]
    """Each segment in words."""
    edges: tuple[float, ...]
    """Pixels at which the segments begin, and where the last one ends."""
    ends: tuple[str, ...] = ()
    """What is written on the axis at each edge, such as '2.1 s'; as many as edges, or none."""

    def x_of(self, head: float) -> float:
        count = len(self.edges) - 1
        if count <= 0:
            return self.edges[0]
        g = min(max(int(head), 0), count - 1)
        share = min(max(head - g, 0.0), 1.0)
        return self.edges[g] + share * (self.edges[g + 1] - self.edges[g])

    def head_at(self, x: float) -> float:
        """The place under a pixel; at the ends for one outside."""
        count = len(self.edges) - 1
        if count <= 0 or x <= self.edges[0]:
            return 0.0
        if x >= self.edges[-1]:
            return float(count)
        g = min(int(np.searchsorted(self.edges, x, side="right")) - 1, count - 1)
        wide = self.edges[g + 1] - self.edges[g]
        return g + (x - self.edges[g]) / wide if wide > 0 else float(g)

    def block_at(self, x: float) -> int | None:
        """The number of the segment under a pixel, from 1; None beside them."""
        if len(self.edges) < 2 or not self.edges[0] <= x < self.edges[-1]:
            return None
        return int(np.searchsorted(self.edges, x, side="right"))
