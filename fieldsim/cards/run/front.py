"""The front of a run's card: the plan, the odds, what is done and confirmed, go or no go. Lengths are mm.

Letters that are read at the table have 11 points: some 16 minutes of arc for a small letter 60 cm away, where reading
is still quick (ISO 9241-303 asks for 16 at least, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.cards.paper import (
    BODY,
    GREY,
    HEAD,
    HEADING,
    MARGIN,
    NOTE,
    SUBTITLE,
    TITLE,
    Page,
    cut,
    line_height,
    width_of,
    wrapped,
)
from fieldsim.cards.run.card import Card
from fieldsim.cards.run.check_words import GO, MAKE_READY, SET_IT, go_or_not, go_words, ready_words, set_words
from fieldsim.cards.run.plan_picture import draw_plan, draw_strip, plan_size, strip_height
from fieldsim.cards.run.start_picture import draw_start
from fieldsim.cards.run.step_words import plan_note
from fieldsim.cards.run.words import card_title, subtitle, thousand_of, warning_words
from fieldsim.cards.shared import BOX, page_words
from fieldsim.draw.thousand import draw_thousand, height_of
from fieldsim.language import tr
from fieldsim.model import Run
from fieldsim.report.phrases import unknown_words

GAP = 2.5
BETWEEN = 4.0
AFTER_WARNING = 2.0
# The plan is no lower than this, if anything else can go to the back.
LEAST_PLAN = 60.0
# The picture of the start, if its column leaves it the choice.
LEAST_START, MOST_START = 60.0, 80.0
TICK_FREE = 0.7
TICKS_HEAD = line_height(HEADING) + 1.0
# What frames stand off the words in them, and what a note under the plan is written with.
FRAME = 2.0
UNDER = 9.0
BAR_ROWS = 8


@dataclass(frozen=True)
class Ticks:
    """Things to tick, as lines, and how tall they are one under another."""

    points: tuple[tuple[str, ...], ...]

    @property
    def height(self) -> float:
        return sum(len(lines) * line_height(BODY) + TICK_FREE for lines in self.points)


def box_width() -> float:
    return width_of(BOX, BODY, False) + 1.2


def ticks(points: list[str], room: float) -> Ticks:
    return Ticks(tuple(tuple(wrapped(point, room - box_width(), BODY)) for point in points))


def write_ticks(page: Page, x: float, y: float, points: Ticks) -> float:
    """A box before each of them; nothing is cut. Where they end."""
    for lines in points.points:
        page.write(x, y, BOX, BODY)
        y = page.lines(x + box_width(), y, lines, BODY) + TICK_FREE
    return y


def columns_of(points: list[str], room: float) -> tuple[Ticks, Ticks]:
    """Two columns, as even as they can be."""
    half = (room - BETWEEN) / 2
    whole = ticks(points, half)
    at = min(
        range(len(points) + 1),
        key=lambda n: max(Ticks(whole.points[:n]).height, Ticks(whole.points[n:]).height),
    )
    return Ticks(whole.points[:at]), Ticks(whole.points[at:])


def write_head(page: Page, card: Card, number: int, count: int) -> float:
    """Title, what robot on what field, and what has to be said before all else; where it ends."""
    right = page_words(number, count)
    page.write(page.width - MARGIN, MARGIN, right, NOTE, ha="right", color=GREY)
    room = page.room - width_of(right, NOTE, False) - 4
    page.write(MARGIN, MARGIN, cut(card_title(card), room, TITLE, True), TITLE, bold=True)
    under = MARGIN + line_height(TITLE) - 0.5
    page.write(MARGIN, under, cut(subtitle(card), page.room, SUBTITLE), SUBTITLE, color=GREY)
    y = MARGIN + HEAD
    for words in warning_words(card):
        y = page.lines(MARGIN, y, wrapped(words, page.room, BODY, True), BODY, bold=True) + AFTER_WARNING
    return y


def head_height(card: Card, room: float) -> float:
    warnings = (
        len(wrapped(words, room, BODY, True)) * line_height(BODY) + AFTER_WARNING for words in warning_words(card)
    )
    return HEAD + sum(warnings)


@dataclass(frozen=True)
class Front:
    """What stands on the front, measured: how high the plan and the start's picture are, and whether the bar of a
    thousand drives found room."""

    plan: tuple[float, float]
    start: float
    bar: bool


def _set_room(room: float) -> float:
    return 0.54 * (room - BETWEEN)


def _fixed(card: Card, room: float) -> float:
    """mm that all takes but the plan, the bar and the start with its list."""
    note = len(wrapped(plan_note(card), room, UNDER)) * line_height(UNDER)
    ready = max(each.height for each in columns_of(ready_words(card), room))
    fixed = head_height(card, room) + strip_height() + note + ready + 2 * TICKS_HEAD + 3 * GAP + 1.2
    return fixed + _go_height(card, room)


def _listed(card: Card, room: float) -> tuple[Ticks, Ticks]:
    """What stands beside the start's picture: how it is set and confirmed, and the last before the start."""
    return ticks(set_words(card, shortly=True), _set_room(room)), ticks(go_words(), _set_room(room))


def _go_lines(card: Card, room: float) -> list[list[str]]:
    return [wrapped(words, (room - BETWEEN) / 2 - 2 * FRAME, BODY, True) for words in go_or_not(card)]


def _go_height(card: Card, room: float) -> float:
    return max(map(len, _go_lines(card, room))) * line_height(BODY) + 1.5 * FRAME


def _open_lines(card: Card, room: float) -> list[str]:
    """What the robot's tests leave open, to stand under the bar, which knows of chance alone."""
    return [] if card.unknown is None else wrapped(unknown_words(card.unknown, card.success.share), room, UNDER)


def bar_height(card: Card, room: float) -> float:
    """mm of the bar of a thousand drives with its words; 0 if nothing was tried."""
    parts = thousand_of(card)
    under = len(_open_lines(card, room)) * line_height(UNDER)
    return height_of(parts, room, BODY, BAR_ROWS) + under + GAP if parts else 0.0


def front(run: Run, card: Card, page: Page) -> Front:
    """How the front is laid out on a page: the plan as large as it can be."""
    listed = sum(each.height for each in _listed(card, page.room)) + TICKS_HEAD + GAP
    free = page.height - 2 * MARGIN - _fixed(card, page.room)
    for bar in (True, False):
        start = max(listed, LEAST_START)
        high = free - start - (bar_height(card, page.room) if bar else 0.0)
        plan = plan_size(run, page.room, max(high, 20.0))
        if high >= min(LEAST_PLAN, plan_size(run, page.room, LEAST_PLAN)[1]):
            break
    # What a wide field leaves goes to the picture of the start.
    spare = max(0.0, high - plan[1])
    return Front(plan, min(max(start, MOST_START), start + spare), bar)


def write_front(page: Page, run: Run, card: Card, laid: Front, count: int) -> None:
    y = write_head(page, card, 1, count)
    width, height = laid.plan
    draw_plan(page.inset(MARGIN + (page.room - width) / 2, y, width, height), run, card, width, height)
    y += height + 0.8
    draw_strip(page.inset(MARGIN, y, page.room, strip_height()), card, page.room)
    y += strip_height() + 0.4
    y = page.lines(MARGIN, y, wrapped(plan_note(card), page.room, UNDER), UNDER) + GAP
    parts = thousand_of(card)
    if laid.bar and parts:
        high = height_of(parts, page.room, BODY, BAR_ROWS)
        draw_thousand(page.inset(MARGIN, y, page.room, high), parts, page.room, BODY, BAR_ROWS)
        y = page.lines(MARGIN, y + high, _open_lines(card, page.room), UNDER) + GAP
    y = _ready(page, card, y) + GAP
    page.write(MARGIN, y, tr(SET_IT), HEADING, bold=True)
    y += TICKS_HEAD
    room = _set_room(page.room)
    wide = page.room - room - BETWEEN
    draw_start(page.inset(MARGIN, y, wide, laid.start), run, card, wide, laid.start)
    x = MARGIN + wide + BETWEEN
    setting, going = _listed(card, page.room)
    at = write_ticks(page, x, y, setting) + GAP
    page.write(x, at, tr(GO), HEADING, bold=True)
    write_ticks(page, x, at + TICKS_HEAD, going)
    y += laid.start + GAP
    half = (page.room - BETWEEN) / 2
    for n, lines in enumerate(_go_lines(card, page.room)):
        x = MARGIN + n * (half + BETWEEN)
        page.frame(x, y, half, _go_height(card, page.room))
        page.lines(x + FRAME, y + FRAME * 0.75, lines, BODY, bold=True)


def _ready(page: Page, card: Card, y: float) -> float:
    """What has to be there, in two columns; where they end."""
    page.write(MARGIN, y, tr(MAKE_READY), HEADING, bold=True)
    y += TICKS_HEAD
    left, right = columns_of(ready_words(card), page.room)
    return max(write_ticks(page, MARGIN, y, left), write_ticks(page, MARGIN + (page.room + BETWEEN) / 2, y, right))
