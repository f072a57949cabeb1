"""The card of a run on paper: a front for the table, and a back with every step, numbers and notes. All numbers and
words are the card's. Lengths are mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.cards.paper import (
    BODY,
    GREY,
    HEADING,
    MARGIN,
    NOTE,
    SMALLEST,
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
from fieldsim.cards.run.check_words import limits_mean
from fieldsim.cards.run.front import BAR_ROWS, GAP, front, head_height, write_front, write_head
from fieldsim.cards.run.page import Pictures, card_html
from fieldsim.cards.run.plan_picture import plan_svg, strip_svg
from fieldsim.cards.run.start_picture import start_svg
from fieldsim.cards.run.start_words import start_notes
from fieldsim.cards.run.step_table import (
    TITLE_HEIGHT,
    NumberTable,
    StepRow,
    StepTable,
    number_table,
    step_table,
    write_numbers,
    write_steps,
)
from fieldsim.cards.run.step_words import GAPS_MEAN, formula_words
from fieldsim.cards.run.text import card_text
from fieldsim.cards.run.words import (
    HAPPENED,
    HINT_RESULT,
    NUMBERS,
    ODDS,
    document_title,
    log_rows,
    made_words,
    odds_words,
    thousand_of,
)
from fieldsim.draw import svg_element
from fieldsim.draw.look import plain_style
from fieldsim.draw.thousand import draw_thousand, height_of, thousand_figure
from fieldsim.language import tr
from fieldsim.model import Run
from fieldsim.report.phrases import no_proof

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LOG_ROW = 6.4
LEAST_LOG, MOST_LOG = 3, 8


def card_pages(run: Run, card: Card) -> list[Figure]:
    """The card's pages at the size of its paper: a front, a back, and more if its steps do not find room on that."""
    with plain_style():
        page = Page(card.paper)
        laid = front(run, card, page)
        back = _Back(card, page, bar=not laid.bar)
        count = 1 + len(back.pages)
        write_front(page, run, card, laid, count)
        figures = [page.figure]
        for number, (rows, numbers) in enumerate(back.pages, 2):
            page = Page(card.paper)
            back.write(page, rows, numbers, number, count)
            figures.append(page.figure)
        return figures


class _Back:
    """Steps on as many pages as they take, then numbers, then odds, notes and the log on the last of them."""

    def __init__(self, card: Card, page: Page, bar: bool) -> None:
        self.card, self.room = card, page.room
        self.bar = bar
        self.steps: StepTable = step_table(card, page.room)
        numbers = number_table(card, page.room)
        self.notes = wrapped(_notes(card), page.room, NOTE)
        self.odds = [line for words in odds_words(card) for line in wrapped(words, page.room, NOTE)]
        self.foot = wrapped(f"{made_words(card)}. {no_proof()}", page.room, SMALLEST)
        whole = page.height - 2 * MARGIN - head_height(card, page.room) - len(self.foot) * line_height(SMALLEST) - 2.5
        self.pages: list[tuple[list[StepRow], NumberTable | None]] = [([], None)]
        used = TITLE_HEIGHT
        for row in self.steps.rows:
            if used + row.height > whole and self.pages[-1][0]:
                self.pages.append(([], None))
                used = TITLE_HEIGHT
            self.pages[-1][0].append(row)
            used += row.height
        used += 2.0
        rest = self._rest(LEAST_LOG)
        if not numbers.rows:
            if used + rest > whole:
                self.pages.append(([], None))
        elif used + numbers.height + rest <= whole:
            self.pages[-1] = (self.pages[-1][0], numbers)
        else:
            tables = list(numbers.split(whole))
            self.pages += [([], table) for table in tables]
            if tables[-1].height + rest > whole:
                self.pages.append(([], None))

    def _rest(self, rows: int) -> float:
        """mm of what stands on the last page only, with so many rows of the log."""
        parts = thousand_of(self.card) if self.bar else ()
        return (
            (height_of(parts, self.room, BODY, BAR_ROWS) + GAP if parts else 0.0)
            + line_height(HEADING) + 0.5 + len(self.odds) * line_height(NOTE) + GAP
            + len(self.notes) * line_height(NOTE) + GAP
            + line_height(HEADING) + 0.8 + line_height(SMALLEST) + 1.0 + rows * LOG_ROW
        )  # fmt: skip

    def write(self, page: Page, rows: list[StepRow], numbers: NumberTable | None, number: int, count: int) -> None:
        card = self.card
        y = write_head(page, card, number, count)
        if rows:
            y = write_steps(page, card, self.steps, rows, y) + 1.0
        if numbers is not None:
            y = write_numbers(page, tr(NUMBERS), numbers, y)
        if number == count:
            self._write_rest(page, y)
        page.lines(MARGIN, page.bottom - len(self.foot) * line_height(SMALLEST), self.foot, SMALLEST, color=GREY)

    def _write_rest(self, page: Page, y: float) -> None:
        card = self.card
        y = page.lines(MARGIN, y, self.notes, NOTE, color=GREY) + GAP
        parts = thousand_of(card) if self.bar else ()
        if parts:
            high = height_of(parts, self.room, BODY, BAR_ROWS)
            draw_thousand(page.inset(MARGIN, y, self.room, high), parts, self.room, BODY, BAR_ROWS)
            y += high + GAP
        page.write(MARGIN, y, tr(ODDS), HEADING, bold=True)
        y = page.lines(MARGIN, y + line_height(HEADING) + 0.5, self.odds, NOTE) + GAP
        title = tr(HAPPENED)
        page.write(MARGIN, y, title, HEADING, bold=True)
        x = MARGIN + width_of(title, HEADING, True) + 3
        page.write(x, y + 0.7, cut(tr(HINT_RESULT), page.width - MARGIN - x, SMALLEST), SMALLEST, color=GREY)
        y += line_height(HEADING) + 0.8
        free = page.bottom - y - len(self.foot) * line_height(SMALLEST) - line_height(SMALLEST) - 2.5
        rows = max(1, min(MOST_LOG, int(free / LOG_ROW)))
        form(page, card.log_columns, log_rows(card, rows), y, LOG_ROW, lines=1)


def _notes(card: Card) -> str:
    """Formulas, and what the words on the card mean."""
    notes = [*formula_words(card), *([tr(GAPS_MEAN)] if card.gaps else []), *start_notes(card), limits_mean(card)]
    return " ".join(filter(None, notes))


def card_file(run: Run, card: Card, form: str) -> bytes:
    """The card as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form == "pdf":
        return pdf(card_pages(run, card), document_title(card))
    if form == "html":
        return card_html(card, card_pictures(run, card)).encode()
    return text_file(card_text(card), form)


def card_pictures(run: Run, card: Card) -> Pictures:
    """The card's pictures as SVG elements."""
    parts = thousand_of(card)
    return Pictures(
        plan_svg(run, card), strip_svg(card), start_svg(run, card),
        svg_element(thousand_figure(parts, 180.0, 9.0)) if parts else "",
    )  # fmt: skip
