"""Sheets of paper to write on: type that is measured, lines, and tables to fill in. For every card and sheet to print.

Lengths are mm from the upper left corner of the page.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.cards.shared import PAPERS
from fieldsim.draw.look import families, glyphs_missing_are_boxes, plain_style
from fieldsim.lettering import cells, shorten, units_kept

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MM = 25.4
POINT = MM / 72
"""A point of type, mm."""

# Home printers leave some 5 mm at the edges white.
MARGIN = 8.0
HEAD = 14.0
"""What title and subtitle take at the head of a page, mm."""
LEADING = 1.25
SMALLEST = 7.0
"""Points: less is not read at arm's length."""

INK, GREY, PALE, RULE = "#000000", "#444444", "#eeeeee", "#999999"

TITLE, SUBTITLE, HEADING = 17.0, 9.5, 9.5
BODY, NOTE = 11.0, 8.0
"""Points: what is read at the table, 60 cm away, and what is looked up at a desk."""


@lru_cache(maxsize=20_000)
def width_of(text: str, size: float, bold: bool) -> float:
    """How wide a line is, mm."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    font = FontProperties(family=list(families()), size=size, weight="bold" if bold else "normal")
    with glyphs_missing_are_boxes():
        width, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(width) * POINT


def wrapped(text: str, room: float, size: float, bold: bool = False, most: int = 99) -> list[str]:
    """Lines that fit in ``room`` mm; what is beyond ``most`` lines is cut."""
    lines: list[str] = []
    line = ""
    for word in units_kept(text).split(" "):
        longer = f"{line} {word}" if line else word
        if not line or width_of(longer, size, bold) <= room:
            line = longer
        else:
            lines.append(line)
            line = word
    lines.append(line)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return [cut(line, room, size, bold) for line in lines]


def cut(line: str, room: float, size: float, bold: bool = False) -> str:
    """The line, shortened in its middle if it is wider than ``room`` mm."""
    if width_of(line, size, bold) <= room:
        return line
    limit = cells(line)
    while limit > 4 and width_of(line, size, bold) > room:
        limit -= 1
        line = shorten(line, limit)
    return line


def line_height(size: float) -> float:
    """How far it is from one line to the next, mm."""
    return size * LEADING * POINT


class Page:
    """A sheet of paper to write on."""

    def __init__(self, paper: str) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.width, self.height = PAPERS[paper]
        self.figure: Figure = Figure(figsize=(self.width / MM, self.height / MM), facecolor="white")
        FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0, 0, 1, 1))
        self.axes.set_xlim(0, self.width)
        self.axes.set_ylim(self.height, 0)
        self.axes.axis("off")

    @property
    def room(self) -> float:
        return self.width - 2 * MARGIN

    @property
    def bottom(self) -> float:
        return self.height - MARGIN

    def write(self, x: float, y: float, text: str, size: float, bold: bool = False, **look: Any) -> None:
        """A line whose upper edge is at ``y``."""
        look = {"color": INK, "ha": "left", **look}
        self.axes.text(
            x, y + size * POINT, text, fontsize=size, weight="bold" if bold else "normal", va="baseline",
            parse_math=False, **look,
        )  # fmt: skip

    def lines(self, x: float, y: float, texts: Sequence[str], size: float, bold: bool = False, **look: Any) -> float:
        """Lines below one another; where they end."""
        for text in texts:
            self.write(x, y, text, size, bold, **look)
            y += line_height(size)
        return y

    def rule(self, x0: float, y0: float, x1: float, y1: float, width: float = 0.5, color: str = RULE) -> None:
        self.axes.plot([x0, x1], [y0, y1], color=color, linewidth=width, solid_capstyle="butt")

    def frame(self, x: float, y: float, width: float, height: float) -> None:
        from matplotlib.patches import Rectangle

        self.axes.add_patch(Rectangle((x, y), width, height, fill=False, edgecolor=INK, linewidth=1.4))

    def shade(self, x: float, y: float, width: float, height: float) -> None:
        from matplotlib.patches import Rectangle

        self.axes.add_patch(Rectangle((x, y), width, height, facecolor=PALE, edgecolor="none", zorder=0.1))

    def inset(self, x: float, y: float, width: float, height: float) -> Axes:
        return self.figure.add_axes(
            (x / self.width, 1 - (y + height) / self.height, width / self.width, height / self.height)
        )


# How wide the log's columns are, as shares; a column that is not named has 1.
_SHARES = {
    "date": 1.2, "run": 1.9, "where": 1.5, "target": 1.3, "note": 2.3, "segment": 0.9, "miss mm": 0.8, "seconds s": 0.9,
    "heading from": 1.1, "test": 1.25, "direction": 1.1, "commanded mm": 1.25, "commanded deg": 1.25,
    "turn speed deg/s": 1.25,
}  # fmt: skip


def form(
    page: Page, columns: Sequence[str], rows: Sequence[Sequence[str]], y: float, row_height: float, lines: int
) -> float:
    """A table to write in; its columns' names may take so many lines. Where it ends."""
    shares = np.array([_SHARES.get(column, 1.0) for column in columns])
    edges = MARGIN + np.concatenate([[0.0], np.cumsum(shares / shares.sum() * page.room)])
    top = y
    for column, x, next_x in zip(columns, edges, edges[1:], strict=False):
        page.lines(x + 0.8, y + 0.4, wrapped(column, next_x - x - 1.2, SMALLEST, most=lines), SMALLEST, bold=False)
    y += lines * line_height(SMALLEST) + 1.0
    page.shade(MARGIN, top, page.room, y - top)
    for row in rows:
        page.rule(MARGIN, y, MARGIN + page.room, y)
        for text, x, next_x in zip(row, edges, edges[1:], strict=False):
            if text:
                written = cut(text, next_x - x - 1.4, SMALLEST)
                page.write(x + 0.8, y + (row_height - SMALLEST * POINT) / 2 - 0.4, written, SMALLEST, color=GREY)
        y += row_height
    page.rule(MARGIN, y, MARGIN + page.room, y)
    for x in edges:
        page.rule(x, top, x, y)
    page.rule(MARGIN, top, MARGIN + page.room, top)
    return y


def pdf(figures: Sequence[Figure], title: str) -> bytes:
    """Pages as a PDF, each at its own size; the same figures give the same bytes every time."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    out = io.BytesIO()
    # Fonts whole and as outlines, so that words can be searched for and copied.
    with plain_style(), rc_context({"pdf.fonttype": 42}), glyphs_missing_are_boxes():
        about = {"Title": title, "Creator": None, "Producer": None, "CreationDate": None}
        with PdfPages(out, metadata=about) as pages:
            for figure in figures:
                pages.savefig(figure)
    return out.getvalue()


FORMS = ("pdf", "html", "txt")


def text_file(text: str, form: str) -> bytes:
    if form != "txt":
        raise ValueError(f"form={form!r} must be one of {FORMS}")
    return text.encode()
