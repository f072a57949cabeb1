"""The markers on paper, at their true size."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.cards.markers.sheet import RIM, MarkerSheet, PrintedMarker
from fieldsim.cards.markers.words import (
    STEPS,
    marker_name,
    markers_made,
    markers_text,
    markers_title,
    paste_words,
    place_words,
)
from fieldsim.cards.paper import GREY, INK, MARGIN, SMALLEST, SUBTITLE, Page, line_height, pdf, text_file, wrapped
from fieldsim.cards.shared import page_words
from fieldsim.draw.look import plain_style
from fieldsim.language import tr
from fieldsim.photo.opencv import cells

if TYPE_CHECKING:
    from matplotlib.figure import Figure

RULER = 100.0
FIRST = 70.0
"""Where markers begin on the first page, below its words, at least; on the others below the title. mm."""
TOP = 26.0
GAP = 6.0
WORDS = 9.0
"""Room for the words under a marker, mm."""


def marker_pages(sheet: MarkerSheet) -> list[Figure]:
    """The pages, each with a ruler line to check the printer by."""
    with plain_style():
        pages = [Page(sheet.paper)]
        top = _head(pages[0], sheet)
        x, y, row = MARGIN, top, 0.0
        for each in sheet.markers:
            side = _side(each)
            page = pages[-1]
            if x > MARGIN and x + side > page.width - MARGIN:
                x, y, row = MARGIN, y + row + GAP, 0.0
            if y + side + WORDS > page.bottom - 14.0 and (y > TOP or x > MARGIN):
                page = Page(sheet.paper)
                pages.append(page)
                x, y, row = MARGIN, TOP, 0.0
            _marker(page, each, x, y, side)
            # Words need some room, however small the marker.
            x += max(side, 58.0) + GAP
            row = max(row, side + WORDS)
        for number, page in enumerate(pages, 1):
            page.write(page.width - MARGIN, MARGIN, page_words(number, len(pages)), 8.0, ha="right", color=GREY)
            if number > 1:
                page.write(MARGIN, MARGIN, markers_title(sheet), 15.0, bold=True)
            _ruler(page)
            page.write(MARGIN, page.bottom - line_height(SMALLEST), markers_made(sheet), SMALLEST, color=GREY)
        return [page.figure for page in pages]


def _side(each: PrintedMarker) -> float:
    """Of the sheet with its white rim."""
    return each.size * (1 + 2 * RIM / 6)


def _head(page: Page, sheet: MarkerSheet) -> float:
    page.write(MARGIN, MARGIN, markers_title(sheet), 15.0, bold=True)
    y = MARGIN + line_height(15.0) + 2.0
    for number, step in enumerate(STEPS, 1):
        y = page.lines(MARGIN, y, wrapped(f"{number}. {tr(step)}", page.room, SUBTITLE - 1), SUBTITLE - 1) + 0.6
    for words, lines in paste_words(sheet):
        y = page.lines(MARGIN, y + 1.0, wrapped(words, page.room, SUBTITLE - 1), SUBTITLE - 1)
        y = page.lines(MARGIN + 6, y, lines, 8.0, family="DejaVu Sans Mono")
    return max(FIRST, y + GAP)


def _marker(page: Page, each: PrintedMarker, x: float, y: float, side: float) -> None:
    from matplotlib.patches import Rectangle

    cell = each.size / 6
    rim = RIM * cell
    dark = cells(each.number)
    for row in range(6):
        # Cells beside each other as one piece: no seam of white between them.
        start = None
        for column in range(7):
            black = column < 6 and bool(dark[row, column])
            if black and start is None:
                start = column
            elif not black and start is not None:
                corner = (x + rim + start * cell, y + rim + row * cell)
                page.axes.add_patch(
                    Rectangle(corner, (column - start) * cell, cell, facecolor=INK, edgecolor=INK, linewidth=0.05)
                )
                start = None
    page.axes.add_patch(Rectangle((x, y), side, side, facecolor="none", edgecolor="#bbbbbb", linewidth=0.3))
    # The arrow in the rim over the marker, and ticks that continue its middle lines out to the cut.
    middle, tip = x + side / 2, y + 0.12 * rim
    foot, half = tip + 0.55 * rim, 0.3 * rim
    page.axes.fill([middle, middle - half, middle + half], [tip, foot, foot], color=GREY)
    for left in (x, x + side - 0.3 * rim):
        page.rule(left, y + side / 2, left + 0.3 * rim, y + side / 2, 0.5, GREY)
    page.rule(middle, y + side - 0.3 * rim, middle, y + side, 0.5, GREY)
    page.write(x, y + side + 0.8, marker_name(each), 8.0, bold=True)
    room = max(side, 58.0)
    page.lines(x, y + side + 4.2, wrapped(place_words(each), room, SMALLEST, most=2), SMALLEST, color=GREY)


def _ruler(page: Page) -> None:
    y = page.bottom - 8.0
    page.rule(MARGIN, y, MARGIN + RULER, y, 0.8, INK)
    for step in range(11):
        page.rule(MARGIN + 10 * step, y - (3.0 if step % 5 == 0 else 1.8), MARGIN + 10 * step, y, 0.8, INK)
    page.write(MARGIN + RULER + 3.0, y - 2.6, tr("must be 100 mm long"), 8.0, color=GREY)


def markers_file(sheet: MarkerSheet, form: str) -> bytes:
    """The sheets as a file: 'pdf' to print, 'txt'. Raises ValueError for another form, MissingError."""
    if form == "pdf":
        return pdf(marker_pages(sheet), markers_title(sheet))
    return text_file(markers_text(sheet), form)
