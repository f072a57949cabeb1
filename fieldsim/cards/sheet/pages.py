"""The blank test sheet on paper: one page for one day, a drawing for each test. All words are the sheet's."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from fieldsim.cards.paper import (
    GREY,
    HEADING,
    INK,
    MARGIN,
    MM,
    SMALLEST,
    Page,
    cut,
    line_height,
    pdf,
    text_file,
    width_of,
    wrapped,
)
from fieldsim.cards.sheet.blank import BlankTable, BlankTests
from fieldsim.cards.sheet.drawings import WIDE, draw_test, height_of
from fieldsim.cards.sheet.page import sheet_html
from fieldsim.cards.sheet.words import (
    PAPER_SIGNS,
    TEST_CARE,
    TEST_NAMES,
    TEST_STEPS,
    once_words,
    sheet_made,
    sheet_text,
    sheet_title,
    told_once,
)
from fieldsim.draw.look import glyphs_missing_are_boxes, plain_style
from fieldsim.language import tr

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TITLE, NOTE, STEPS = 15.0, 8.0, 7.5
BETWEEN, GAP = 4.0, 2.2
# A row to write in: as tall as a hand needs, and as low as it must be where the paper is short. mm.
TALLEST, LOWEST = 6.2, 4.2


@dataclass(frozen=True)
class Block:
    """One kind of test: what is said beside its drawing, and the columns to write in."""

    table: BlankTable
    steps: list[str]
    columns: list[int]
    """Places of the table's columns that are not told once for all."""
    heads: list[list[str]]
    """Their names, as lines."""

    @property
    def rows(self) -> int:
        return len(self.table.rows)

    @property
    def above(self) -> float:
        """mm above its rows, the gap under them included."""
        beside = max(height_of(self.table.kind), len(self.steps) * line_height(STEPS))
        return line_height(HEADING) + 0.6 + beside + 0.6 + self.head + GAP

    @property
    def head(self) -> float:
        """mm of the columns' names."""
        return max(map(len, self.heads)) * line_height(SMALLEST) + 1.0


def sheet_pages(sheet: BlankTests) -> list[Figure]:
    """The blank test sheet's page."""
    with plain_style(), glyphs_missing_are_boxes():
        page = Page(sheet.paper)
        wide = (page.room - BETWEEN) / 2
        blocks = [_block(each, wide) for each in sheet.tables]
        y = _head(page, sheet)
        foot = wrapped(sheet_made(sheet), page.room, SMALLEST)
        free = page.bottom - len(foot) * line_height(SMALLEST) - 1.0 - y
        columns = _columns(blocks)
        row = min((free - sum(each.above for each in lot)) / sum(each.rows for each in lot) for lot in columns if lot)
        row = max(LOWEST, min(TALLEST, row))
        for n, lot in enumerate(columns):
            at = y
            for each in lot:
                at = _write(page, each, MARGIN + n * (wide + BETWEEN), at, wide, row)
        page.lines(MARGIN, page.bottom - len(foot) * line_height(SMALLEST), foot, SMALLEST, color=GREY)
        return [page.figure]


def _block(table: BlankTable, wide: float) -> Block:
    steps = wrapped(tr(TEST_STEPS[table.kind]), wide - WIDE - 2.0, STEPS)
    columns = [n for n, name in enumerate(table.columns) if not told_once(name)]
    each = wide / len(columns) - 1.2
    return Block(table, steps, columns, [wrapped(table.columns[n], each, SMALLEST) for n in columns])


def _columns(blocks: list[Block]) -> tuple[list[Block], list[Block]]:
    """The tests in two columns, each in their order, so that the taller one is as low as it can be."""

    def tall(lot: list[Block]) -> float:
        return sum(each.above + each.rows * TALLEST for each in lot)

    def split(sides: tuple[int, ...]) -> tuple[list[Block], list[Block]]:
        left, right = ([each for each, at in zip(blocks, sides, strict=True) if at == side] for side in (0, 1))
        return left, right

    # The first is at the left: its mirror image is the same.
    every = ((0, *rest) for rest in product((0, 1), repeat=len(blocks) - 1))
    return min(map(split, every), key=lambda columns: max(map(tall, columns)))


def _head(page: Page, sheet: BlankTests) -> float:
    """Title, what is written once for all tests of the day, care and signs."""
    title = cut(sheet_title(sheet), page.room, TITLE, True)
    page.write(MARGIN, MARGIN, title, TITLE, bold=True)
    y = MARGIN + line_height(TITLE) + 1.0
    x = MARGIN
    for words, room in once_words(sheet):
        page.write(x, y + 0.8, words, NOTE, bold=True)
        begin = x + width_of(words, NOTE, True) + 1.5
        if room:
            page.rule(begin, y + 4.4, begin + room, y + 4.4, 0.8, INK)
        x = begin + room + 4.0
    y += 7.0
    for text in (tr(TEST_CARE), tr(PAPER_SIGNS)):
        y = page.lines(MARGIN, y, wrapped(text, page.room, NOTE), NOTE) + 0.6
    return y + 1.2


def _write(page: Page, block: Block, x: float, y: float, wide: float, row: float) -> float:
    table = block.table
    page.write(x, y, tr(TEST_NAMES[table.kind]), HEADING, bold=True)
    y += line_height(HEADING) + 0.6
    high = height_of(table.kind)
    draw_test(page.inset(x, y, WIDE, high), table.kind)
    page.lines(x + WIDE + 2.0, y, block.steps, STEPS)
    y += max(high, len(block.steps) * line_height(STEPS)) + 0.6
    each = wide / len(block.columns)
    edges = [x + n * each for n in range(len(block.columns) + 1)]
    page.shade(x, y, wide, block.head)
    for lines, edge in zip(block.heads, edges, strict=False):
        page.lines(edge + 0.8, y + 0.4, lines, SMALLEST)
    top = y
    page.rule(x, y, x + wide, y)
    y += block.head
    for texts in table.rows:
        page.rule(x, y, x + wide, y)
        for n, edge in zip(block.columns, edges, strict=False):
            if texts[n]:
                page.write(edge + 0.8, y + (row - 2.8) / 2, texts[n], NOTE, color=GREY)
        y += row
    page.rule(x, y, x + wide, y)
    for edge in edges:
        page.rule(edge, top, edge, y)
    return y + GAP


def drawing_svg(kind: str) -> str:
    """The drawing of one kind of test, an SVG element."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from fieldsim.draw import svg_element

    with plain_style(), glyphs_missing_are_boxes():
        figure = Figure(figsize=(WIDE / MM, height_of(kind) / MM), facecolor="white")
        FigureCanvasAgg(figure)
        draw_test(figure.add_axes((0, 0, 1, 1)), kind)
    return svg_element(figure)


def sheet_file(sheet: BlankTests, form: str) -> bytes:
    """The blank test sheet as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form == "pdf":
        return pdf(sheet_pages(sheet), sheet_title(sheet))
    if form == "html":
        return sheet_html(sheet, {each.kind: drawing_svg(each.kind) for each in sheet.tables}).encode()
    return text_file(sheet_text(sheet), form)
