"""A thousand drives as a bar of small squares: those that get through, and what goes wrong first in the others.

Parts stand in the order in which they are given, after those that get through: the most frequent first, as the advice
has them. Lengths are mm of paper. Whatever a colour tells, its place in the row and a hatch tell as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from fieldsim.draw.labels import broken
from fieldsim.draw.look import PALETTE, glyphs_missing_are_boxes, plain_style
from fieldsim.language import tr
from fieldsim.lettering import cells, shorten
from fieldsim.report.phrases import NAME_CELLS, failing_words
from fieldsim.rounding import nearest

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.studies.answer import TryAnswer

SQUARES = 1000
# Named one by one; what is rarer is told together.
MOST_NAMED = 3
# From this width on the bar is 10 squares high, below it 20: on a telephone a square stays one that can be seen.
WIDE = 110.0
MM_PER_POINT = 25.4 / 72
MM_PER_INCH = 25.4

_THROUGH = ("#cfe8f7", "")
_LOOKS = ((PALETTE["vermilion"], ""), (PALETTE["black"], ""), (PALETTE["orange"], "////"))
_REST = ("#8c8c8c", "")


class Part(NamedTuple):
    """Squares of one kind, and the words for it."""

    words: str
    squares: int
    face: str
    hatch: str


def thousand(through: float, losses: Sequence[tuple[str, float]]) -> tuple[Part, ...]:
    """The parts of the bar: those that get through, each loss (words and share of all drives), all others together.

    Each has the number that is said of it in words, rounded to the nearest; the others take what remains of the
    thousand, and where nothing remains those that get through do. A part without a square is left out.
    """
    counts = [round(nearest(SQUARES * share, 0)) for _, share in losses[:MOST_NAMED]]
    beyond = sum(share for _, share in losses[MOST_NAMED:])
    good = round(nearest(SQUARES * through, 0))
    rest = SQUARES - good - sum(counts)
    if not beyond or rest < 0:
        good, rest = good + rest, 0
    if good < 0:
        # Nothing gets through, and roundings up add up to more than a thousand: the largest gives one away.
        counts[0], good = counts[0] + good, 0
    found = [Part(tr("gets through"), good, *_THROUGH)]
    found += [
        Part(words, count, *look) for (words, _), count, look in zip(losses, counts, _LOOKS, strict=False) if count
    ]
    if rest:
        found.append(Part(tr("anything else"), rest, *_REST))
    return tuple(part for part in found if part.squares > 0)


def rows_of(width: float) -> int:
    """How many squares stand above one another in a bar so wide."""
    return 10 if width >= WIDE else 20


def part_words(part: Part) -> str:
    return tr("{part}: {squares}", part=part.words, squares=part.squares)


def _legend(parts: Sequence[Part], width: float, points: float) -> list[tuple[float, int, list[str], Part]]:
    """Where each part's words stand: how far from the left, in which line; broken where the room is narrow."""
    letter = points * MM_PER_POINT
    most = max(8, int((width - 1.4 * letter) / (0.6 * letter)))
    x, line, tall = 0.0, 0, 0
    found = []
    for part in parts:
        words = broken(part_words(part), most, 3).split("\n")
        wide = 2.6 * letter + max(map(cells, words)) * 0.6 * letter
        if x > 0 and x + wide - 1.2 * letter > width:
            x, line, tall = 0.0, line + tall, 0
        found.append((x, line, words, part))
        x, tall = x + wide, max(tall, len(words))
    return found


def height_of(parts: Sequence[Part], width: float, points: float, rows: int | None = None) -> float:
    """mm that the bar and its words take, at a width and with letters so large; ``rows`` is ``rows_of`` if left out."""
    rows = rows_of(width) if rows is None else rows
    lines = max((line + len(words) for _, line, words, _ in _legend(parts, width, points)), default=0)
    return width * rows**2 / SQUARES + (0.4 + 1.45 * lines) * points * MM_PER_POINT


def draw_thousand(axes: Axes, parts: Sequence[Part], width: float, points: float, rows: int | None = None) -> None:
    """The bar and its words into axes ``width`` mm wide and ``height_of`` mm high. Squares are filled down each column,
    columns from the left."""
    from matplotlib.patches import Rectangle

    rows = rows_of(width) if rows is None else rows
    side = width * rows / SQUARES
    height = height_of(parts, width, points, rows)
    axes.set_label("thousand")
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    axes.axis("off")
    begin = 0
    for n, part in enumerate(parts):
        for k, (column, row, across, down) in enumerate(_blocks(begin, begin + part.squares, rows)):
            axes.add_patch(
                Rectangle(
                    (column * side, row * side), across * side, down * side, facecolor=part.face, edgecolor="white",
                    linewidth=0, hatch=part.hatch or None, zorder=1, gid=f"part-{n}-{k}",
                )
            )  # fmt: skip
        begin += part.squares
    # White lines make squares of them: far fewer things to draw, and to keep in a file, than a thousand squares.
    look: dict[str, Any] = {"color": "white", "linewidth": max(0.35, 0.28 * side), "zorder": 2}
    columns = SQUARES // rows
    axes.vlines([n * side for n in range(columns + 1)], 0, rows * side, **look)
    axes.hlines([n * side for n in range(rows + 1)], 0, width, **look)
    letter = points * MM_PER_POINT
    for n, (x, at, words, part) in enumerate(_legend(parts, width, points)):
        y = rows * side + (0.4 + 1.45 * at) * letter + 0.7 * letter
        axes.add_patch(
            Rectangle(
                (x, y - 0.5 * letter), letter, letter, facecolor=part.face, edgecolor="#222222", linewidth=0.5,
                hatch=part.hatch or None, zorder=3,
            )
        )  # fmt: skip
        for below, text in enumerate(words):
            axes.text(
                x + 1.4 * letter, y + (0.37 + 1.45 * below) * letter, text, fontsize=points, va="baseline", ha="left",
                parse_math=False, zorder=3, gid=f"part-words-{n}-{below}",
            )  # fmt: skip


def _blocks(begin: int, end: int, rows: int) -> list[tuple[int, int, int, int]]:
    """The squares from ``begin`` up to ``end``, as rectangles (column, row, columns, rows)."""
    found = []
    while begin < end:
        column, row = divmod(begin, rows)
        if row or end - begin < rows:
            down = min(rows - row, end - begin)
            found.append((column, row, 1, down))
            begin += down
        else:
            across = (end - begin) // rows
            found.append((column, 0, across, rows))
            begin += across * rows
    return found


def thousand_figure(parts: Sequence[Part], width: float, points: float = 9.0) -> Figure:
    """The bar alone, ``width`` mm wide, for a page: see ``fieldsim.draw.svg_element``."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with plain_style(), glyphs_missing_are_boxes():
        figure = Figure(figsize=(width / MM_PER_INCH, height_of(parts, width, points) / MM_PER_INCH), facecolor="white")
        FigureCanvasAgg(figure)
        draw_thousand(figure.add_axes((0, 0, 1, 1)), parts, width, points)
    return figure


def thousand_words(parts: Sequence[Part]) -> str:
    """The bar for those who cannot see it."""
    return tr("Of 1000 drives: {parts}.", parts="; ".join(map(part_words, parts)))


def failing_parts(answer: TryAnswer) -> tuple[Part, ...]:
    """The parts of a try's bar: what goes wrong first, as the answer has it."""
    losses = [
        (failing_words(each.why, shorten(each.what, NAME_CELLS) if each.what else ""), each.share.share)
        for each in answer.first
    ]
    return thousand(answer.success.share, losses)
