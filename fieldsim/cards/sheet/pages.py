"""The blank test sheet on paper. All words are the sheet's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.cards.paper import (
    GREY,
    HEAD,
    HEADING,
    MARGIN,
    SMALLEST,
    SUBTITLE,
    Page,
    cut,
    form,
    line_height,
    pdf,
    text_file,
    width_of,
    wrapped,
)
from fieldsim.cards.shared import PAPERS, page_words
from fieldsim.cards.sheet.blank import BlankTable, BlankTests
from fieldsim.cards.sheet.page import sheet_html
from fieldsim.cards.sheet.words import (
    TEST_CARE,
    TEST_NAMES,
    TEST_SIGNS,
    TEST_STEPS,
    sheet_made,
    sheet_speeds,
    sheet_text,
    sheet_title,
)
from fieldsim.draw.look import plain_style
from fieldsim.language import tr

if TYPE_CHECKING:
    from matplotlib.figure import Figure


TEST_ROW = 6.2


def sheet_pages(sheet: BlankTests) -> list[Figure]:
    """The blank test sheet's pages."""
    with plain_style():
        width, height = PAPERS[sheet.paper]
        room = width - 2 * MARGIN
        top = MARGIN + HEAD
        first = top + sum(len(wrapped(text, room, 8.0)) * line_height(8.0) + 1.0 for text in _sheet_notes(sheet)) + 1.5
        groups: list[list[BlankTable]] = [[]]
        y = first
        for each in sheet.tables:
            tall = _test_height(each, room)
            if y + tall > height - MARGIN - 2 * line_height(SMALLEST) - 1 and groups[-1]:
                groups.append([])
                y = top
            groups[-1].append(each)
            y += tall
        figures = []
        for number, group in enumerate(groups, 1):
            page = Page(sheet.paper)
            right = page_words(number, len(groups))
            page.write(page.width - MARGIN, MARGIN, right, 8.0, ha="right", color=GREY)
            title = cut(sheet_title(sheet), room - width_of(right, 8.0, False) - 4, 15.0, True)
            page.write(MARGIN, MARGIN, title, 15.0, bold=True)
            page.write(MARGIN, MARGIN + line_height(15.0), sheet_speeds(sheet), SUBTITLE, color=GREY)
            y = top
            if number == 1:
                for text in _sheet_notes(sheet):
                    y = page.lines(MARGIN, y, wrapped(text, room, 8.0), 8.0) + 1.0
                y += 1.5
            for each in group:
                page.write(MARGIN, y, tr(TEST_NAMES[each.kind]), HEADING, bold=True)
                y += line_height(HEADING) + 0.4
                y = page.lines(MARGIN, y, wrapped(tr(TEST_STEPS[each.kind]), room, 7.5), 7.5) + 0.6
                y = form(page, each.columns, each.rows, y, TEST_ROW, lines=2) + 3.0
            foot = wrapped(sheet_made(sheet), room, SMALLEST)
            page.lines(MARGIN, page.bottom - len(foot) * line_height(SMALLEST), foot, SMALLEST, color=GREY)
            figures.append(page.figure)
        return figures


def _sheet_notes(sheet: BlankTests) -> tuple[str, ...]:
    return (tr(TEST_CARE), tr(TEST_SIGNS))


def _test_height(each: BlankTable, room: float) -> float:
    text = len(wrapped(tr(TEST_STEPS[each.kind]), room, 7.5)) * line_height(7.5)
    return line_height(HEADING) + 1.0 + text + 2 * line_height(SMALLEST) + 1.0 + len(each.rows) * TEST_ROW + 3.0


def sheet_file(sheet: BlankTests, form: str) -> bytes:
    """The blank test sheet as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form == "pdf":
        return pdf(sheet_pages(sheet), sheet_title(sheet))
    if form == "html":
        return sheet_html(sheet).encode()
    return text_file(sheet_text(sheet), form)
