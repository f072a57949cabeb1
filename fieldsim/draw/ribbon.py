"""The clearance along the run: a column a segment."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.labels import broken
from fieldsim.draw.look import ALONE, GRID, LEFT, NORMAL, PALETTE, RIGHT, SMALL, SWEPT, Sheet
from fieldsim.language import tr
from fieldsim.lettering import cells, shorten
from fieldsim.report.phrases import floored

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.studies.answer import TryAnswer

UPRIGHT_CELLS = 30

# Inches that the word for a touch and three figures take side by side.
WORD, FIGURES = 0.5, 0.26


def draw_ribbon(axes: Axes, answer: TryAnswer, words: Sequence[str], sheet: Sheet = ALONE) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    entries = answer.ribbon
    if sheet.alone:
        axes.set_title(
            tr("How much room is left on each segment: gap to the nearest model or wall, mm"), fontsize=NORMAL,
            loc="left", weight="bold", pad=22,
        )  # fmt: skip
    shown = [v for e in entries for v in (e.nominal, e.p95) if isfinite(v)]
    most = min(max([*shown, 10.0]), answer.horizon) if isfinite(answer.horizon) else max([*shown, 10.0])
    # Roots: the few mm that decide a run get the room, and zero is still a line to stand on.
    axes.set_yscale("function", functions=(lambda v: np.sqrt(np.clip(v, 0, None)), np.square))
    axes.set_ylim(0, most * 1.4)
    axes.set_xlim(0.4, max(len(entries), 1) + 0.6)
    ticks = [t for t in (0, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if t <= most * 1.4]
    if len(ticks) > 7:
        ticks = [t for t in ticks if t not in (1, 2)]
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_major_locator(NullLocator())
    axes.tick_params(labelsize=SMALL, length=3, color="#777777")
    axes.grid(axis="y", color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_linewidth(2)
    axes.set_ylabel(tr("gap, mm"), fontsize=SMALL, labelpad=2)

    blue = PALETTE["blue"]
    for x, entry in enumerate(entries, 1):
        low, middle, high = (min(v, most) for v in (entry.p05, entry.median, entry.p95))
        if isfinite(low) and isfinite(high):
            axes.add_patch(
                Rectangle(
                    (x - 0.3, low), 0.6, high - low, facecolor=SWEPT, edgecolor=PALETTE["sky"], linewidth=0.8,
                    gid=f"band-{entry.segment}",
                )
            )  # fmt: skip
            ends = [x - 0.3, x + 0.3]
            axes.plot(
                ends, [low, low], color=blue, linewidth=2.6, solid_capstyle="butt", zorder=3,
                gid=f"margin-{entry.segment}",
            )  # fmt: skip
            axes.plot(
                ends, [middle, middle], color="black", linewidth=1.1, linestyle=(0, (3, 1.5)), zorder=3,
                gid=f"median-{entry.segment}",
            )  # fmt: skip
            if low <= 0:
                axes.plot(
                    [x], [0], marker="x", color=PALETTE["vermilion"], markersize=9, markeredgewidth=2.2, zorder=6,
                    clip_on=False, gid=f"touch-{entry.segment}",
                )  # fmt: skip
        if isfinite(entry.nominal):
            axes.plot(
                [x], [min(entry.nominal, most)], marker="D", color="white", markeredgecolor="black", markersize=5,
                zorder=4, clip_on=False, gid=f"nominal-{entry.segment}",
            )  # fmt: skip
        column = (sheet.width - LEFT - RIGHT) / max(len(entries), 1)
        _ribbon_value(axes, x, entry.p05, high if isfinite(high) else 0.0, entry.nominal, most, answer.horizon, column)
    _under_columns(axes, words, sheet)
    if not entries:
        axes.text(0.5, 0.5, tr("There is nothing to touch."), transform=axes.transAxes, ha="center", fontsize=NORMAL)
    _ribbon_legend(axes, any(e.p05 <= 0 for e in entries), 5 if sheet.alone else 3)


def _ribbon_value(
    axes: Axes, x: int, p05: float, high: float, nominal: float, most: float, horizon: float, column: float
) -> None:
    """The margin in figures over its column, which is so many inches wide."""
    # Where the word has no room, the cross on the line and the legend say it.
    if not isfinite(p05) or (p05 <= 0 and column < WORD):
        return
    if p05 <= 0:
        text = tr("touches")
    elif p05 >= horizon:
        text = tr("over {horizon:g}", horizon=horizon)
    else:
        text = floored(p05, 1 if p05 < 10 else 0)
    top = max(high, min(nominal, most) if isfinite(nominal) else 0.0)
    axes.annotate(
        text, (x, top), (0, 6), textcoords="offset points", ha="center", va="bottom", fontsize=SMALL,
        weight="bold" if p05 <= 0 else "normal", color="#9c4400" if p05 <= 0 else "black", annotation_clip=False,
        rotation=90 if column < FIGURES else 0,
    )  # fmt: skip


def _under_columns(axes: Axes, words: Sequence[str], sheet: Sheet) -> None:
    from matplotlib.transforms import blended_transform_factory

    count = max(len(words), 1)
    where = blended_transform_factory(axes.transData, axes.transAxes)
    stands = upright(count, sheet)
    # Cells of a letter of 0.6 of its size that fit in a column.
    limit = max(8, floor((sheet.width - LEFT - RIGHT) * 72 / (count + 0.2) / (0.6 * SMALL)) - 1)
    for x, text in enumerate(words, 1):
        shown = shorten(text, UPRIGHT_CELLS) if stands else broken(text, min(limit, 26), 4)
        axes.text(
            x, -0.05, shown, transform=where, ha="center", va="top", rotation=90 if stands else 0, clip_on=False,
            fontsize=SMALL if count <= 50 else 6, parse_math=False, linespacing=1.1, gid=f"ribbon-words-{x}",
        )  # fmt: skip


def _ribbon_legend(axes: Axes, touches: bool, columns: int) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    found: list[Any] = [
        Line2D(
            [],
            [],
            color="white",
            marker="D",
            markeredgecolor="black",
            markersize=5,
            linestyle="none",
            label=tr("planned"),
        ),
        Line2D([], [], color="black", linewidth=1.1, linestyle=(0, (3, 1.5)), label=tr("half of the trials")),
        Line2D([], [], color=PALETTE["blue"], linewidth=2.6, label=tr("left in 19 of 20 trials (figure)")),
        Patch(facecolor=SWEPT, edgecolor=PALETTE["sky"], label=tr("9 of 10 trials are in here")),
    ]
    if touches:
        found.append(
            Line2D(
                [],
                [],
                color=PALETTE["vermilion"],
                marker="x",
                markeredgewidth=2.2,
                linestyle="none",
                label=tr("touches"),
            )
        )
    axes.legend(
        handles=found, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=columns, fontsize=SMALL, frameon=False,
        handlelength=1.8, columnspacing=1.2, borderpad=0, borderaxespad=0.35,
    )  # fmt: skip


def column_words(answer: TryAnswer) -> list[str]:
    """What stands under each column: the segment's number and words."""
    found = []
    for entry in answer.ribbon:
        known = 1 <= entry.segment <= len(answer.segments)
        found.append(f"{entry.segment}  {answer.segments[entry.segment - 1]}" if known else str(entry.segment))
    return found


def upright(count: int, sheet: Sheet) -> bool:
    """Whether there are so many columns that their words must stand upright."""
    return count > (12 if sheet.alone else 3 if sheet.narrow else 8)


def column_words_height(words: Sequence[str], sheet: Sheet = ALONE) -> float:
    if not upright(len(words), sheet):
        return 0.75
    return 0.2 + max(cells(shorten(text, UPRIGHT_CELLS)) for text in words) * 0.6 * SMALL / 72
