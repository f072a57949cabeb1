"""The front of a match's card: the runs by the clock, when to change the plan, what is checked before.

Lengths are mm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fieldsim.cards.match import words
from fieldsim.cards.match.card import MatchCard, MatchStep
from fieldsim.cards.match.rule_words import RuleRow, rule_rows
from fieldsim.cards.paper import BODY, GREY, HEADING, INK, MARGIN, NOTE, Page, line_height, width_of, wrapped
from fieldsim.cards.shared import BOX
from fieldsim.language import tr

Draw = Callable[[Page, float], float]
"""Draws something from ``y`` down; where it ends."""

CLOCK = 20.0
"""Points: the clock is what is looked for first."""
UNDER = 9.0
PAD, GAP, FREE = 2.0, 3.5, 1.6
RUN_SHARE = 0.36
HAPPENED_SHARE = 0.34
BETWEEN = 4.0


def front_blocks(card: MatchCard, room: float) -> list[tuple[float, Draw]]:
    """What stands on the front, from above, and how tall each is."""
    return [*_runs(card, room), *_rules(card, room), _ticks(card, room)]


def _heading(page: Page, y: float, title: str) -> float:
    page.write(MARGIN, y, title, HEADING, bold=True)
    return y + line_height(HEADING) + 0.8


HEADED = line_height(HEADING) + 0.8


# --- the runs ----------------------------------------------------------------------------------------------------


def _runs(card: MatchCard, room: float) -> list[tuple[float, Draw]]:
    """A row a run: a large clock, the run, how it is made ready, a box."""
    clocks = [words.clock_shortly(step) for step in card.steps]
    wide = max(width_of(clock, CLOCK, True) for clock in clocks) + 2 * PAD
    box = width_of(BOX, CLOCK, False) + PAD
    rest = room - wide - box
    found = []
    for index, (step, clock) in enumerate(zip(card.steps, clocks, strict=True)):
        tall, draw = _run(card, step, clock, wide, rest, index % 2 == 1)
        if index == 0:
            found.append((tall + HEADED, _after(lambda page, y: _heading(page, y, tr(words.BY_CLOCK)), draw)))
        else:
            found.append((tall, draw))
    note = wrapped(tr(words.CLOCK_SHORTLY), room, NOTE)
    under = len(note) * line_height(NOTE) + GAP
    found.append((under, lambda page, y: page.lines(MARGIN, y, note, NOTE, color=GREY) + GAP))
    return found


def _run(card: MatchCard, step: MatchStep, clock: str, wide: float, rest: float, shaded: bool) -> tuple[float, Draw]:
    name = wrapped(f"{step.number}  {words.run_words(card, step)}", rest * RUN_SHARE - PAD, BODY, True)
    below = wrapped(words.start_shortly(step, card.trials), rest * RUN_SHARE - PAD, UNDER)
    ready = wrapped(words.ready_in_time(step), rest * (1 - RUN_SHARE) - PAD, BODY)
    tall = FREE + max(
        line_height(CLOCK), len(name) * line_height(BODY) + len(below) * line_height(UNDER),
        len(ready) * line_height(BODY),
    )  # fmt: skip

    def draw(page: Page, y: float) -> float:
        if shaded:
            page.shade(MARGIN, y, page.room, tall)
        page.write(MARGIN + wide - PAD, y + 0.6, clock, CLOCK, bold=True, ha="right")
        x = MARGIN + wide + PAD
        at = page.lines(x, y + 0.8, name, BODY, bold=True)
        page.lines(x, at, below, UNDER, color=GREY)
        page.lines(x + rest * RUN_SHARE, y + 0.8, ready, BODY)
        page.write(MARGIN + page.room, y + 0.6, BOX, CLOCK, ha="right")
        page.rule(MARGIN, y + tall, MARGIN + page.room, y + tall)
        return y + tall

    return tall, draw


def _after(one: Draw, other: Draw) -> Draw:
    return lambda page, y: other(page, one(page, y))


# --- when to change ----------------------------------------------------------------------------------------------


def _rules(card: MatchCard, room: float) -> list[tuple[float, Draw]]:
    """What happened at the left, what comes next in cells by the time that is left, much of it first."""
    said = wrapped(words.rules_lead(card), room, BODY)
    lead = HEADED + len(said) * line_height(BODY) + 1.0

    def head(page: Page, y: float) -> float:
        return page.lines(MARGIN, _heading(page, y, words.rules_title()), said, BODY) + 1.0

    rows = [_rule(row, room) for row in rule_rows(card)]
    if not rows:
        return [(lead + GAP, lambda page, y: head(page, y) + GAP)]
    (first, draw), *others = rows
    laid: list[tuple[float, Draw]] = [(lead + first, _after(head, draw)), *others]
    tall, last = laid[-1]
    laid[-1] = (tall + GAP, lambda page, y: last(page, y) + GAP)
    return laid


def _rule(row: RuleRow, room: float) -> tuple[float, Draw]:
    at = room * HAPPENED_SHARE
    each = (room - at) / len(row.cells)
    happened = wrapped(row.happened, at - 2 * PAD, BODY, True)
    cells: list[tuple[Sequence[str], Sequence[str]]] = [
        (wrapped(cell.when, each - 2 * PAD, BODY) if cell.when else [], wrapped(cell.do, each - 2 * PAD, BODY, True))
        for cell in row.cells
    ]
    tall = 2.4 + max(
        len(happened) * line_height(BODY),
        *(len(when) * line_height(BODY) + len(do) * line_height(BODY) for when, do in cells),
    )

    def draw(page: Page, y: float) -> float:
        page.lines(MARGIN + PAD, y + 1.2, happened, BODY, bold=True)
        for n, (when, do) in enumerate(cells):
            x = MARGIN + at + n * each
            if n % 2 == 0:
                page.shade(x, y, each, tall)
            page.rule(x, y, x, y + tall, 0.9, INK)
            below = page.lines(x + PAD, y + 1.2, when, BODY)
            page.lines(x + PAD, below, do, BODY, bold=True)
        page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
        page.rule(MARGIN, y + tall, MARGIN + page.room, y + tall, 0.9, INK)
        return y + tall

    return tall, draw


# --- before ------------------------------------------------------------------------------------------------------


def _ticks(card: MatchCard, room: float) -> tuple[float, Draw]:
    """Two columns of boxes, nothing cut."""
    wide = (room - BETWEEN) / 2
    mark = width_of(BOX, BODY, False) + 1.2
    points = [wrapped(point, wide - mark, BODY) for point in words.tick_words(card)]
    tall = [len(lines) * line_height(BODY) + 0.7 for lines in points]
    at = min(range(len(points) + 1), key=lambda n: max(sum(tall[:n]), sum(tall[n:])))
    height = max(sum(tall[:at]), sum(tall[at:]))

    def draw(page: Page, y: float) -> float:
        top = _heading(page, y, words.before_title())
        for x, lot in ((MARGIN, points[:at]), (MARGIN + wide + BETWEEN, points[at:])):
            below = top
            for lines in lot:
                page.write(x, below, BOX, BODY)
                below = page.lines(x + mark, below, lines, BODY) + 0.7
        return y + HEADED + height + GAP

    return HEADED + height + GAP, draw
