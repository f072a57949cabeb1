"""The card of a match on paper. All numbers and words are the card's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.cards.match import words
from fieldsim.cards.match.card import MatchCard
from fieldsim.cards.match.front import Draw, front_blocks
from fieldsim.cards.match.page import match_card_html
from fieldsim.cards.paper import (
    GREY,
    HEADING,
    INK,
    MARGIN,
    MM,
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
from fieldsim.cards.shared import PAPERS
from fieldsim.draw.look import glyphs_missing_are_boxes, plain_style
from fieldsim.draw.match import lanes
from fieldsim.language import tr
from fieldsim.report.phrases import no_proof
from fieldsim.report.words.match import clock_axis

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SIZE = 8.5
"""Points: the plan and the lists."""
PAD, FREE, GAP = 1.2, 1.6, 3.0
LANE, AXIS = 8.0, 9.0
"""How tall a lane is, and the clock below them, mm."""
BESIDE = 62.0
"""What stands beside the lanes on both sides, mm."""
LOG_ROW = 7.0

# How the columns of the plan share the paper: the number, and the columns of ``plan_heads``.
SHARES = (0.25, 1.35, 1.85, 0.6, 1.4, 1.4, 1.35, 1.1, 0.45)


def match_card_pages(card: MatchCard) -> list[Figure]:
    """The card's pages at the size of its paper: one for a match of usual length."""
    with plain_style():
        width, height = PAPERS[card.paper]
        room = width - 2 * MARGIN
        foot = wrapped(f"{words.made_words(card)}. {no_proof()}", room, SMALLEST)
        bottom = height - MARGIN - len(foot) * line_height(SMALLEST) - 1.5
        top = MARGIN + line_height(TITLE) + line_height(SUBTITLE) + 2.0
        front, back = front_blocks(card, room), _blocks(card, room)
        picture = _picture(card, room)
        # The lanes over the clock stand where there is room for them.
        if sum(tall for tall, _ in (*front, picture)) <= bottom - top:
            front.insert(-1, picture)
        else:
            back.insert(0, picture)
        groups = [group for side in (front, back) for group in _grouped(side, top, bottom)]
        figures = []
        for number, group in enumerate(groups, 1):
            page = Page(card.paper)
            right = tr("page {number} of {count}", number=number, count=len(groups))
            page.write(width - MARGIN, MARGIN, right, 8.0, ha="right", color=GREY)
            title = cut(words.title(card), room - width_of(right, 8.0, False) - 4, TITLE, True)
            page.write(MARGIN, MARGIN, title, TITLE, bold=True)
            page.write(
                MARGIN, MARGIN + line_height(TITLE) - 0.5, cut(words.subtitle(card), room, SUBTITLE), SUBTITLE,
                color=GREY,
            )  # fmt: skip
            y = top
            for draw in group:
                y = draw(page, y)
            page.lines(MARGIN, page.bottom - len(foot) * line_height(SMALLEST), foot, SMALLEST, color=GREY)
            figures.append(page.figure)
        return figures


def _grouped(blocks: Sequence[tuple[float, Draw]], top: float, bottom: float) -> list[list[Draw]]:
    """What stands on each page."""
    groups: list[list[Draw]] = [[]]
    y = top
    for tall, draw in blocks:
        if y + tall > bottom and groups[-1]:
            groups.append([])
            y = top
        groups[-1].append(draw)
        y += tall
    return groups


def _blocks(card: MatchCard, room: float) -> list[tuple[float, Draw]]:
    """What stands on the back, from above, and how tall each is, mm."""
    found = [*_plan(card, room), _note(words.clock_note(), room)]
    lists = [(words.odds_title(), words.odds_words(card))]
    if card.worth:
        lists.append((words.worth_title(), words.worth_lines(card)))
    found += [_list(title, points, room) for title, points in lists]
    found.append(_log(card, room))
    return found


def _heading(page: Page, y: float, title: str) -> float:
    page.write(MARGIN, y, title, HEADING, bold=True)
    return y + line_height(HEADING) + 0.8


def _plan(card: MatchCard, room: float) -> list[tuple[float, Draw]]:
    """The heads with the first run, then run by run, so that a long plan may go on over the page."""
    edges = MARGIN + np.concatenate([[0.0], np.cumsum(SHARES) / np.sum(SHARES) * room])
    widths = np.diff(edges) - PAD
    heads = [wrapped(text, wide, SMALLEST) for text, wide in zip(("", *words.plan_heads()), widths, strict=True)]
    head_height = max(map(len, heads)) * line_height(SMALLEST) + 1.0

    def head(page: Page, y: float) -> float:
        y = _heading(page, y, words.plan_title())
        for text, x in zip(heads, edges, strict=False):
            page.lines(x, y, text, SMALLEST, color=GREY)
        page.rule(MARGIN, y + head_height - 0.4, MARGIN + room, y + head_height - 0.4, 0.9, INK)
        return y + head_height + 0.4

    found = []
    for index, step in enumerate(card.steps):
        texts = (str(step.number), *words.plan_cells(card, step))
        cells = [wrapped(text, wide, SIZE, n == 1) for n, (text, wide) in enumerate(zip(texts, widths, strict=True))]
        tall = max(map(len, cells)) * line_height(SIZE) + FREE
        row = _row(cells, edges[:-1].tolist(), tall, room if index % 2 else 0.0)
        if index == 0:
            found.append((line_height(HEADING) + 1.2 + head_height + tall, _after(head, row)))
        else:
            found.append((tall, row))
    return found


def _row(cells: Sequence[Sequence[str]], edges: Sequence[float], tall: float, shaded: float) -> Draw:
    def draw(page: Page, y: float) -> float:
        if shaded:
            page.shade(MARGIN, y - 0.4, shaded, tall)
        for n, (lines, x) in enumerate(zip(cells, edges, strict=True)):
            page.lines(x + 0.4, y, lines, SIZE, bold=n == 1)
        return y + tall

    return draw


def _after(one: Draw, other: Draw) -> Draw:
    return lambda page, y: other(page, one(page, y))


def _note(text: str, room: float) -> tuple[float, Draw]:
    lines = wrapped(text, room, SMALLEST)
    tall = len(lines) * line_height(SMALLEST) + GAP

    def draw(page: Page, y: float) -> float:
        page.lines(MARGIN, y, lines, SMALLEST, color=GREY)
        return y + tall

    return tall, draw


def _picture(card: MatchCard, room: float) -> tuple[float, Draw]:
    tall = LANE * max(2, len(card.steps))

    def draw(page: Page, y: float) -> float:
        axes = page.inset(MARGIN + BESIDE / 2, y, room - BESIDE - 18, tall)
        lanes(axes, card.written, card.limit)
        axes.set_xlabel(clock_axis(), fontsize=SMALLEST)
        return y + tall + AXIS + GAP

    return tall + AXIS + GAP, draw


def _list(title: str, points: Sequence[str], room: float) -> tuple[float, Draw]:
    laid = [wrapped(point, room - 3.0, SIZE) for point in points]
    tall = line_height(HEADING) + 0.8 + sum(len(lines) * line_height(SIZE) + 0.5 for lines in laid) + GAP

    def draw(page: Page, y: float) -> float:
        at = _heading(page, y, title)
        for lines in laid:
            page.write(MARGIN, at, "-", SIZE)
            at = page.lines(MARGIN + 3.0, at, lines, SIZE) + 0.5
        return y + tall

    return tall, draw


def _log(card: MatchCard, room: float) -> tuple[float, Draw]:
    rows = words.log_rows(card)
    tall = line_height(HEADING) + 0.8 + line_height(SMALLEST) + 1.0 + len(rows) * LOG_ROW + GAP

    def draw(page: Page, y: float) -> float:
        at = _heading(page, y, words.happened_title())
        form(page, card.log_columns, rows, at, LOG_ROW, lines=1)
        return y + tall

    return tall, draw


def lanes_svg(card: MatchCard, width: float = 170.0) -> str:
    """The lanes alone, an SVG element ``width`` mm wide."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from fieldsim.draw import svg_element

    tall = LANE * max(2, len(card.steps))
    height = tall + AXIS + 4
    with plain_style(), glyphs_missing_are_boxes():
        figure = Figure(figsize=(width / MM, height / MM), facecolor="white")
        FigureCanvasAgg(figure)
        axes = figure.add_axes((BESIDE / 2 / width, AXIS / height, (width - BESIDE - 18) / width, tall / height))
        lanes(axes, card.written, card.limit)
        axes.set_xlabel(clock_axis(), fontsize=SMALLEST)
    return svg_element(figure)


def match_card_file(card: MatchCard, form_of: str) -> bytes:
    """The card as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form_of == "pdf":
        return pdf(match_card_pages(card), words.document_title(card))
    if form_of == "html":
        return match_card_html(card, lanes_svg(card)).encode()
    return text_file(words.match_card_text(card), form_of)
