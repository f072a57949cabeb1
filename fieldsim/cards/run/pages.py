"""The card of a run on paper: the pages to print. All numbers and words are the card's. Lengths are mm."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fieldsim.cards.paper import (
    GREY,
    HEAD,
    HEADING,
    MARGIN,
    SMALLEST,
    SUBTITLE,
    TITLE,
    Page,
    cut,
    form,
    line_height,
    pdf,
    text_file,
    width_of,
    wrapped,
)
from fieldsim.cards.run.card import Card
from fieldsim.cards.run.page import card_html
from fieldsim.cards.run.start_picture import draw_start, start_svg
from fieldsim.cards.run.start_words import start_words
from fieldsim.cards.run.step_table import PageFit, StepRow, StepTable, step_table, write_steps
from fieldsim.cards.run.step_words import (
    GAPS_MEAN,
    formula_words,
)
from fieldsim.cards.run.text import card_text
from fieldsim.cards.run.words import (
    BEFORE,
    HAPPENED,
    HINT_RESULT,
    ODDS,
    SET_IT,
    WATCH,
    card_title,
    document_title,
    log_rows,
    made_words,
    odds_words,
    subtitle,
    tick_words,
    warning_words,
    watch_words,
)
from fieldsim.cards.shared import BOX, PAPERS, page_words
from fieldsim.draw.look import plain_style
from fieldsim.language import tr
from fieldsim.model import Run
from fieldsim.report.phrases import no_proof

if TYPE_CHECKING:
    from matplotlib.figure import Figure


# From roomy to tight; the first that fits is taken. Only then does a card go on to a second page.
_FITS = (
    PageFit(92, 9.0, 8.5, 1.1, 5), PageFit(84, 8.5, 8.0, 1.1, 5), PageFit(76, 8.0, 7.5, 1.0, 4),
    PageFit(68, 7.5, 7.0, 1.0, 3), PageFit(58, 7.0, 7.0, 0.7, 3, 4, 1.2), PageFit(46, 7.0, 7.0, 0.2, 2, 4, 0.8),
)  # fmt: skip
_MOST_LOG = 8
_TALLEST = 112.0
LOG_ROW = 6.4


def card_pages(run: Run, card: Card) -> list[Figure]:
    """The card's pages at the size of its paper: one, or two and more if its steps do not find room on one."""
    with plain_style():
        for fit in _FITS:
            table = step_table(card, fit, PAPERS[card.paper][0] - 2 * MARGIN)
            spare = _room_left(card, fit, table)
            if spare >= 0:
                more = min(_MOST_LOG - fit.log, int(spare / LOG_ROW))
                taller = min(_TALLEST, max(fit.picture, _beside_height(card, fit)) + spare - more * LOG_ROW)
                fit = replace(fit, picture=taller, log=fit.log + more)
                page = Page(card.paper)
                y = _head(page, card, 1, 1)
                y = _top(page, run, card, fit, y)
                y = write_steps(page, card, table, table.rows, fit, y)
                y = _legend(page, card, y)
                y = _ticks(page, card, fit, y)
                _log(page, card, fit.log, y)
                _foot(page, card)
                return [page.figure]
        return _several(run, card)


def _several(run: Run, card: Card) -> list[Figure]:
    """The start, the ticks and the log on the first page, the steps on those after it."""
    page = Page(card.paper)
    room = page.room
    # Every page may be the last one, and that one bears the legend.
    free = page.bottom - MARGIN - HEAD - _warning_height(card, room) - _foot_height(card, room) - _STEPS_HEAD - 2
    free -= _legend_height(card, room)
    laid = [(fit, step_table(card, fit, room)) for fit in _FITS]
    fit, table = min(laid, key=lambda each: len(_grouped(each[1], free)))
    groups = _grouped(table, free)
    fit = replace(_FITS[0], table=fit.table, free=fit.free, pad=fit.pad)
    count = 1 + len(groups)
    y = _head(page, card, 1, count)
    spare = page.bottom - y - _ticks_height(card, fit) - _LOG_HEAD - _foot_height(card, room) - fit.log * LOG_ROW - 4
    taller = min(_TALLEST, spare)
    y = _top(page, run, card, replace(fit, picture=taller), y)
    y = _ticks(page, card, fit, y)
    log = int((page.bottom - y - _LOG_HEAD - _foot_height(card, room)) / LOG_ROW)
    _log(page, card, max(fit.log, min(2 * _MOST_LOG, log)), y)
    _foot(page, card)
    figures = [page.figure]
    for number, group in enumerate(groups, 2):
        page = Page(card.paper)
        y = _head(page, card, number, count)
        y = write_steps(page, card, table, group, fit, y)
        if number == count:
            _legend(page, card, y)
        _foot(page, card)
        figures.append(page.figure)
    return figures


def _grouped(table: StepTable, free: float) -> list[list[StepRow]]:
    """The rows on each page, if each has room for ``free`` mm of them."""
    groups: list[list[StepRow]] = [[]]
    used = 0.0
    for row in table.rows:
        if used + row.height > free and groups[-1]:
            groups.append([])
            used = 0.0
        groups[-1].append(row)
        used += row.height
    return groups


_STEPS_HEAD = 13.0
_LOG_HEAD = 10.0
_GAP = 2.5


def _room_left(card: Card, fit: PageFit, table: StepTable) -> float:
    """mm that are left on one page; negative if it does not fit."""
    width, height = PAPERS[card.paper]
    room = width - 2 * MARGIN
    return (
        height - 2 * MARGIN - HEAD - _warning_height(card, room) - max(fit.picture, _beside_height(card, fit))
        - _GAP - _STEPS_HEAD - table.height - _legend_height(card, room) - _ticks_height(card, fit) - _LOG_HEAD
        - fit.log * LOG_ROW - _foot_height(card, room)
    )  # fmt: skip


def _head(page: Page, card: Card, number: int, count: int) -> float:
    right = page_words(number, count)
    page.write(page.width - MARGIN, MARGIN, right, 8.0, ha="right", color=GREY)
    room = page.room - width_of(right, 8.0, False) - 4
    page.write(MARGIN, MARGIN, cut(card_title(card), room, TITLE, True), TITLE, bold=True)
    page.write(
        MARGIN, MARGIN + line_height(TITLE) - 0.5, cut(subtitle(card), page.room, SUBTITLE), SUBTITLE, color=GREY
    )
    y = MARGIN + HEAD
    for words in warning_words(card):
        y = page.lines(MARGIN, y, wrapped(words, page.room, HEADING, True), HEADING, bold=True) + _AFTER_WARNING
    return y


_AFTER_WARNING = 2.0


def _warning_height(card: Card, room: float) -> float:
    """mm that a warning takes under the head."""
    return sum(
        len(wrapped(words, room, HEADING, True)) * line_height(HEADING) + _AFTER_WARNING
        for words in warning_words(card)
    )


def _picture_width(room: float) -> float:
    return 0.52 * room


def _beside(card: Card, size: float) -> list[tuple[str, list[str], str]]:
    """What stands beside the picture: headings, their points, and the mark before each point."""
    found = [(tr(SET_IT), start_words(card), ""), (tr(ODDS), odds_words(card), "")]
    watch = watch_words(card)
    return [*found, (tr(WATCH), watch, "- ")] if watch else found


def _beside_lines(card: Card, size: float, room: float) -> list[tuple[str, list[list[str]], str]]:
    return [
        (title, [wrapped(point, room - width_of(mark, size, False), size) for point in points], mark)
        for title, points, mark in _beside(card, size)
    ]


def _beside_height(card: Card, fit: PageFit) -> float:
    room = _beside_room(PAPERS[card.paper][0] - 2 * MARGIN)
    height = 0.0
    for _, points, _ in _beside_lines(card, fit.beside, room):
        height += line_height(HEADING) + 1.6 + sum(len(point) * line_height(fit.beside) + 0.5 for point in points)
    return height


def _beside_room(room: float) -> float:
    return room - _picture_width(room) - 4


def _top(page: Page, run: Run, card: Card, fit: PageFit, y: float) -> float:
    """The picture, and beside it how to set the robot, the odds and what to watch."""
    width = _picture_width(page.room)
    height = max(fit.picture, _beside_height(card, fit))
    draw_start(page.inset(MARGIN, y, width, height), run, card, width, height)
    x, at = MARGIN + width + 4, y
    for title, points, mark in _beside_lines(card, fit.beside, _beside_room(page.room)):
        page.write(x, at, title, HEADING, bold=True)
        at += line_height(HEADING) + 0.4
        for point in points:
            if mark:
                page.write(x, at, mark.strip(), fit.beside)
            at = page.lines(x + width_of(mark, fit.beside, False), at, point, fit.beside) + 0.5
        at += 1.2
    return y + height + _GAP


def _legend_lines(card: Card, room: float) -> list[str]:
    text = " ".join([*formula_words(card), *([tr(GAPS_MEAN)] if card.gaps else [])])
    return wrapped(text, room, SMALLEST)


def _legend_height(card: Card, room: float) -> float:
    return len(_legend_lines(card, room)) * line_height(SMALLEST) + 3.0


def _legend(page: Page, card: Card, y: float) -> float:
    return page.lines(MARGIN, y, _legend_lines(card, page.room), SMALLEST, color=GREY) + 2.0


def _tick_size(fit: PageFit) -> float:
    return 8.0 if fit.ticks == 3 else SMALLEST


def _ticks_height(card: Card, fit: PageFit) -> float:
    rows = -(-len(tick_words(card)) // fit.ticks)
    return line_height(HEADING) + 0.5 + rows * (line_height(_tick_size(fit)) + 0.6) + _GAP


def _ticks(page: Page, card: Card, fit: PageFit, y: float) -> float:
    """What to tick before the start, down the columns."""
    points = tick_words(card)
    rows = -(-len(points) // fit.ticks)
    page.write(MARGIN, y, tr(BEFORE), HEADING, bold=True)
    y += line_height(HEADING) + 0.5
    room, size = page.room / fit.ticks, _tick_size(fit)
    step = line_height(size) + 0.6
    for index, point in enumerate(points):
        column, row = divmod(index, rows)
        text = cut(f"{BOX} {point}", room - 2, size)
        page.write(MARGIN + column * room, y + row * step, text, size)
    return y + rows * step + _GAP


def _log(page: Page, card: Card, rows: int, y: float) -> float:
    title = tr(HAPPENED)
    page.write(MARGIN, y, title, HEADING, bold=True)
    x = MARGIN + width_of(title, HEADING, True) + 3
    page.write(x, y + 0.7, cut(tr(HINT_RESULT), page.width - MARGIN - x, SMALLEST), SMALLEST, color=GREY)
    y += line_height(HEADING) + 0.8
    return form(page, card.log_columns, log_rows(card, rows), y, LOG_ROW, lines=1)


def _foot_lines(card: Card, room: float) -> list[str]:
    return wrapped(f"{made_words(card)}. {no_proof()}", room, SMALLEST)


def _foot_height(card: Card, room: float) -> float:
    return len(_foot_lines(card, room)) * line_height(SMALLEST) + 1.5


def _foot(page: Page, card: Card) -> None:
    lines = _foot_lines(card, page.room)
    page.lines(MARGIN, page.bottom - len(lines) * line_height(SMALLEST), lines, SMALLEST, color=GREY)


def card_file(run: Run, card: Card, form: str) -> bytes:
    """The card as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form == "pdf":
        return pdf(card_pages(run, card), document_title(card))
    if form == "html":
        return card_html(card, start_svg(run, card)).encode()
    return text_file(card_text(card), form)
