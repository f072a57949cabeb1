"""The table of steps on paper: columns of numbers as wide as they need, the rest for words. Lengths are mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldsim.cards.paper import (
    GREY,
    HEADING,
    INK,
    MARGIN,
    SMALLEST,
    Page,
    line_height,
    width_of,
    wrapped,
)
from fieldsim.cards.run.card import Card
from fieldsim.cards.run.step_words import (
    sights,
    speed_words,
    step_words,
    steps_title,
    time_words,
    turns_words,
)
from fieldsim.language import tr, tr_as
from fieldsim.sim.program import Step


@dataclass(frozen=True)
class PageFit:
    """How large things are on a page: the picture's height, mm; type beside it and in the table, points; what is left
    free under each row of the table, mm; rows of the log; columns of what is ticked; and how far
    text stands from the table's columns' edges, mm."""

    picture: float
    beside: float
    table: float
    free: float
    log: int
    ticks: int = 3
    pad: float = 1.6


@dataclass(frozen=True)
class StepRow:
    """A step's row: its cells as lines, in the order of the columns; and how tall it is, mm."""

    number: int
    cells: tuple[tuple[str, ...], ...]
    height: float


@dataclass(frozen=True)
class _Column:
    group: str
    name: str
    width: float
    """mm."""
    side: str
    """Where its text stands: 'left' or 'right'."""


@dataclass(frozen=True)
class StepTable:
    columns: tuple[_Column, ...]
    rows: tuple[StepRow, ...]

    @property
    def height(self) -> float:
        return sum(row.height for row in self.rows)


# How much of the room for words 'what it does' may take: the share that makes the table least tall is taken.
_DOES = (0.46, 0.42, 0.5, 0.38, 0.54, 0.34, 0.58)


def step_table(card: Card, fit: PageFit, room: float) -> StepTable:
    """The steps: columns of numbers as wide as they need, the rest for words."""
    size = fit.table
    left, right, does, seen = tr("left"), tr("right"), tr("what it does"), tr("what must be seen")
    groups = [tr("wheel degrees"), *([tr("motor degrees")] if card.gear != 1 else [])]
    turns = [(group, side) for group in groups for side in (left, right)]
    names = [("", ""), ("", does), *turns, ("", tr("speed")), ("", tr_as("unit", "s")), ("", tr("clock")), ("", seen)]
    cells = [_step_cells(card, step) for step in card.steps]
    widths = []
    for column, (_, name) in enumerate(names):
        written = [width_of(text, size, name == "") for row in cells for text in row[column]]
        # Under a shared heading two columns have to be at least as wide as that.
        least = 11.0 if names[column][0] else 5.0
        widths.append(max([least, width_of(name, SMALLEST, False), *written]) + 2 * fit.pad)
    words_of = (1, len(names) - 1)
    rest = room - sum(width for column, width in enumerate(widths) if column not in words_of)

    def laid(share: float) -> StepTable:
        wide = {words_of[0]: rest * share, words_of[1]: rest * (1 - share)}
        columns = tuple(
            _Column(group, name, wide.get(n, widths[n]), "left" if n in words_of else "right")
            for n, (group, name) in enumerate(names)
        )
        rows = []
        for step, texts in zip(card.steps, cells, strict=True):
            lines = [
                tuple(line for text in points for line in wrapped(text, column.width - 2 * fit.pad, size))
                for column, points in zip(columns, texts, strict=True)
            ]
            rows.append(StepRow(step.number, tuple(lines), max(map(len, lines)) * line_height(size) + fit.free))
        return StepTable(columns, tuple(rows))

    return min(map(laid, _DOES), key=lambda table: table.height)


def _step_cells(card: Card, step: Step) -> list[list[str]]:
    turns = list(turns_words(step.wheels, step))
    if card.gear != 1:
        turns += turns_words(step.motors, step)
    seconds, clock = time_words(step)
    seen = [f"{sight.mark} {sight.words}" for sight in sights(card, step.number)]
    values = [speed_words(step), seconds, clock]
    return [[str(step.number)], [step_words(step)], *([turn] for turn in turns), *([v] for v in values), seen]


def write_steps(page: Page, card: Card, table: StepTable, rows: Sequence[StepRow], fit: PageFit, y: float) -> float:
    """Those rows of the table."""
    columns = table.columns
    page.write(MARGIN, y, steps_title(card), HEADING, bold=True)
    y += line_height(HEADING) + 0.5
    edges = MARGIN + np.concatenate([[0.0], np.cumsum([column.width for column in columns])])
    groups = [column.group for column in columns]
    for group in dict.fromkeys(group for group in groups if group):
        first, last = groups.index(group), len(groups) - groups[::-1].index(group)
        page.write((edges[first] + edges[last]) / 2, y, group, SMALLEST, ha="center", color=GREY)
        page.rule(edges[first] + fit.pad, y + 3.1, edges[last] - fit.pad, y + 3.1, 0.4)
    y += 3.4
    spots = [
        x + column.width - fit.pad if column.side == "right" else x + fit.pad
        for column, x in zip(columns, edges, strict=False)
    ]
    for column, x in zip(columns, spots, strict=True):
        page.write(x, y, column.name, SMALLEST, ha=column.side, color=GREY)
    y += line_height(SMALLEST) + 0.6
    page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
    for index, row in enumerate(rows):
        if index % 2:
            page.shade(MARGIN, y, page.room, row.height)
        for column, x, lines in zip(columns, spots, row.cells, strict=True):
            page.lines(x, y + fit.free / 3, lines, fit.table, bold=column.name == "", ha=column.side)
        y += row.height
    page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
    return y + 1.0
