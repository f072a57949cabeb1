"""The steps on paper: a table of words to read at the table, and one of numbers to program by. Lengths are mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fieldsim.cards.paper import (
    BODY,
    GREY,
    HEADING,
    INK,
    MARGIN,
    NOTE,
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

# How far text stands from the columns' edges, and what is left free under a row.
PAD, FREE = 1.2, 1.0
# How much of the room for words 'what it does' may take: the share that makes the table least tall is taken.
_DOES = (0.46, 0.42, 0.5, 0.38, 0.54, 0.34, 0.58)
TITLE_HEIGHT = line_height(HEADING) + 0.5 + line_height(NOTE) + 0.6


@dataclass(frozen=True)
class StepRow:
    """A step's row: its number, what it does, the clock, what must be seen, as lines; and how tall it is, mm."""

    number: str
    does: tuple[str, ...]
    clock: str
    seen: tuple[tuple[str, tuple[str, ...]], ...]
    """A mark, and the lines beside it."""
    height: float


@dataclass(frozen=True)
class StepTable:
    """Where its columns begin, mm from the left margin: number, words, clock, what must be seen, the end."""

    edges: tuple[float, float, float, float, float]
    rows: tuple[StepRow, ...]

    @property
    def height(self) -> float:
        return sum(row.height for row in self.rows)


def _mark_width() -> float:
    return width_of("\N{BALLOT BOX}", BODY, False) + 0.8


def step_table(card: Card, room: float) -> StepTable:
    """The steps in words, if there is so much room across."""
    number = max(width_of(str(len(card.steps)), BODY, True), 4.0) + 2 * PAD
    clocks = [time_words(step)[1] for step in card.steps]
    clock = max([width_of(tr("clock"), NOTE, False), *(width_of(each, BODY, False) for each in clocks)]) + 2 * PAD
    rest = room - number - clock

    def laid(share: float) -> StepTable:
        does, seen = rest * share, rest * (1 - share)
        rows = []
        for step, when in zip(card.steps, clocks, strict=True):
            words = wrapped(step_words(step), does - 2 * PAD, BODY)
            looks = tuple(
                (sight.mark, tuple(wrapped(sight.words, seen - 2 * PAD - _mark_width(), BODY)))
                for sight in sights(card, step.number)
            )
            lines = max(len(words), sum(len(each) for _, each in looks))
            rows.append(StepRow(str(step.number), tuple(words), when, looks, lines * line_height(BODY) + FREE))
        edges = tuple(np.cumsum([0.0, number, does, clock, seen]).tolist())
        return StepTable(edges, tuple(rows))

    return min(map(laid, _DOES), key=lambda table: table.height)


def write_steps(page: Page, card: Card, table: StepTable, rows: Sequence[StepRow], y: float) -> float:
    """Those rows of the table; where they end."""
    page.write(MARGIN, y, steps_title(card), HEADING, bold=True)
    y += line_height(HEADING) + 0.5
    x = [MARGIN + edge for edge in table.edges]
    for at, name, side in (
        (x[1] + PAD, tr("what it does"), "left"), (x[3] - PAD, tr("clock"), "right"),
        (x[3] + PAD, tr("what must be seen"), "left"),
    ):  # fmt: skip
        page.write(at, y, name, NOTE, ha=side, color=GREY)
    y += line_height(NOTE) + 0.6
    page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
    for index, row in enumerate(rows):
        if index % 2:
            page.shade(MARGIN, y, page.room, row.height)
        top = y + FREE / 3
        page.write(x[1] - PAD, top, row.number, BODY, bold=True, ha="right")
        page.lines(x[1] + PAD, top, row.does, BODY)
        page.write(x[3] - PAD, top, row.clock, BODY, ha="right")
        at = top
        for mark, lines in row.seen:
            page.write(x[3] + PAD, at, mark, BODY)
            at = page.lines(x[3] + PAD + _mark_width(), at, lines, BODY)
        y += row.height
    page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
    return y + 1.0


# --- numbers -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class NumberTable:
    """Wheel degrees, speeds and times, in blocks beside one another."""

    names: tuple[str, ...]
    widths: tuple[float, ...]
    """Of a block's columns, mm."""
    rows: tuple[tuple[str, ...], ...]
    blocks: int

    @property
    def lines(self) -> int:
        return -(-len(self.rows) // self.blocks)

    @property
    def height(self) -> float:
        return _NUMBERS_HEAD + (1 + self.lines) * line_height(NOTE) if self.rows else 0.0

    def split(self, height: float) -> Iterator[NumberTable]:
        """Tables no higher than that, of all rows in their order."""
        lines = max(1, int((height - _NUMBERS_HEAD) / line_height(NOTE)) - 1)
        for begin in range(0, len(self.rows), lines * self.blocks):
            yield replace(self, rows=self.rows[begin : begin + lines * self.blocks])


_NUMBERS_HEAD = line_height(HEADING) + 3.0
_BETWEEN = 5.0


def number_table(card: Card, room: float) -> NumberTable:
    """What is typed into the robot's program, in as many blocks as there is room for across."""
    left, right = tr("left"), tr("right")
    names = ["", tr("wheels, {side}", side=left), right]
    if card.gear != 1:
        names += [tr("motors, {side}", side=left), right]
    names += [tr("speed"), tr_as("unit", "s")]
    rows = tuple(_numbers(card, step) for step in card.steps)
    widths = tuple(
        max(width_of(text, NOTE, column == 0) for text in (name, *(row[column] for row in rows))) + 3.0
        for column, name in enumerate(names)
    )
    blocks = max(1, int((room + _BETWEEN) / (sum(widths) + _BETWEEN)))
    return NumberTable(tuple(names), widths, rows, blocks)


def _numbers(card: Card, step: Step) -> tuple[str, ...]:
    turns = list(turns_words(step.wheels, step))
    if card.gear != 1:
        turns += turns_words(step.motors, step)
    return (str(step.number), *turns, speed_words(step), time_words(step)[0])


def write_numbers(page: Page, title: str, table: NumberTable, y: float) -> float:
    """The numbers; where they end."""
    page.write(MARGIN, y, title, HEADING, bold=True)
    y += line_height(HEADING) + 1.0
    for block in range(min(table.blocks, -(-len(table.rows) // table.lines))):
        x = MARGIN + block * (sum(table.widths) + _BETWEEN)
        ends = [x + float(end) for end in np.cumsum(table.widths)]
        for end, name in zip(ends, table.names, strict=True):
            page.write(end - 1.0, y, name, NOTE, ha="right", color=GREY)
        at = y + line_height(NOTE)
        page.rule(x, at, ends[-1], at)
        for row in table.rows[block * table.lines : (block + 1) * table.lines]:
            for n, (end, text) in enumerate(zip(ends, row, strict=True)):
                page.write(end - 1.0, at + 0.4, text, NOTE, bold=n == 0, ha="right")
            at += line_height(NOTE)
    return y + (1 + table.lines) * line_height(NOTE) + 2.0
