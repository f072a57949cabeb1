"""A chart laid out anew for a telephone: its panels under one another, names above their bars, its legend below.

A page shows it in place of the wide one where the screen is narrow, with letters of the same size, so that nobody has
to scroll or to guess. Maps are drawn for the width themselves, since their names have to find new places.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.look import NORMAL, SMALL

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["narrowed"]

# Inches: margins of a panel with numbers beside it, and of one whose names stand above the bars.
BESIDE, BARE, RIGHT = 0.52, 0.12, 0.14
# How much higher a row is whose name stands above its bar.
TALLER = 1.5
LINE = 0.145
"""Of a line of small letters."""
# Letters of a font of so many points are about so wide, in points.
LETTER = 0.56


def narrowed(figure: Figure, width: float) -> Figure:
    """The same figure, ``width`` inches wide and as high as it needs."""
    from fieldsim.draw.look import glyphs_missing_are_boxes

    old = figure.get_size_inches().copy()
    panels = sorted(figure.axes, key=lambda axes: (-round(axes.get_position().y1, 2), axes.get_position().x0))
    sizes = []
    for axes in panels:
        box = axes.get_position()
        wide, high = box.width * old[0], box.height * old[1]
        named = _has_names(axes)
        left = BARE if named else BESIDE
        new_wide = width - left - RIGHT
        to_scale = axes.get_aspect() != "auto"
        new_high = high * TALLER if named else new_wide * high / wide if to_scale else high
        if named:
            _names_above(axes)
        for place in ("left", "center"):
            title = axes.get_title(loc=place)
            if title:
                axes.set_title(_wrapped(title, new_wide, NORMAL), fontsize=NORMAL, loc=place)
        axes.set_xlabel(_wrapped(axes.get_xlabel(), width - 0.1, SMALL), fontsize=SMALL)
        sizes.append((axes, left, new_wide, new_high))
    legend, lines = _legend(figure, width)
    notes = [_wrapped(text.get_text(), width - 0.1, SMALL) for text in figure.texts]
    for text in list(figure.texts):
        text.remove()
    noted = LINE * sum(note.count("\n") + 1 for note in notes) + 0.04 * len(notes)
    lines += noted
    # Laid out once to see how far words stand out of each panel, and then for good.
    stands_out = [(0.3, 0.3)] * len(sizes)
    for last in (False, True):
        height = sum(high + sum(out) for (*_, high), out in zip(sizes, stands_out, strict=True)) + lines + 0.06
        figure.set_size_inches(width, height)
        top, boxes = height, []
        for (axes, left, wide, high), (above, below) in zip(sizes, stands_out, strict=True):
            top -= above + high
            axes.set_position((left / width, top / height, wide / width, high / height))
            boxes.append((top, top + high))
            top -= below
        if last:
            # The same words at the same size: they stand out by as much wherever the panel is.
            break
        with glyphs_missing_are_boxes():
            tight = [axes.get_tightbbox() for axes, *_ in sizes]
        stands_out = [
            (0.04, 0.04) if each is None else (each.y1 / figure.dpi - high + 0.04, low - each.y0 / figure.dpi + 0.08)
            for each, (low, high) in zip(tight, boxes, strict=True)
        ]
    if notes:
        # Below the legend, which stands above them.
        figure.text(
            0.02, 0.02 / height, "\n".join(notes), fontsize=SMALL, va="bottom", color="#333333", parse_math=False
        )
    if legend is not None:
        handles, texts, columns = legend
        figure.legend(
            handles, texts, loc="lower left", bbox_to_anchor=(0.02, (0.02 + noted) / height), ncols=columns,
            fontsize=SMALL, frameon=False, handlelength=1.8, columnspacing=1.2, borderpad=0,
        )  # fmt: skip
    return figure


def _has_names(axes: Axes) -> bool:
    """Its rows are things with names, not numbers on a scale."""
    from matplotlib.ticker import FixedLocator

    told = [label.get_text() for label in axes.get_yticklabels()]
    return isinstance(axes.yaxis.get_major_locator(), FixedLocator) and any(map(_is_name, told))


def _is_name(text: str) -> bool:
    return any(letter.isalpha() for letter in text)


def _names_above(axes: Axes) -> None:
    from matplotlib.text import Annotation
    from matplotlib.transforms import blended_transform_factory, offset_copy

    figure: Any = axes.figure
    there = blended_transform_factory(axes.transAxes, axes.transData)
    low, high = axes.get_ylim()
    up = -np.sign(low - high)
    for place, label in zip(axes.get_yticks(), axes.get_yticklabels(), strict=True):
        axes.text(
            0.0, float(place) + 0.34 * up, label.get_text(), fontsize=SMALL, va="bottom", ha="left", parse_math=False,
            zorder=6, transform=offset_copy(there, fig=figure, x=2, y=0, units="points"),
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.8},
        )  # fmt: skip
    axes.set_yticklabels([""] * len(axes.get_yticks()))
    axes.set_ylabel("")
    # What stands to the right of the bars goes to the end of the name's line, and what is said of a mark below it.
    for words in list(axes.texts):
        if isinstance(words, Annotation):
            axes.text(
                1.0, float(words.xy[1]) - 0.36 * up, words.get_text(), fontsize=SMALL - 0.5, va="center", ha="right",
                parse_math=False, transform=there, zorder=6,
            )  # fmt: skip
            words.remove()
        elif words.get_transform() == axes.get_yaxis_transform() and words.get_position()[0] > 1.0:
            words.set_position((1.0, words.get_position()[1] + 0.34 * up))
            words.set_horizontalalignment("right")
            words.set_verticalalignment("bottom")
            words.set_fontsize(SMALL - 0.5)
    # Room for the name of the uppermost.
    axes.set_ylim(low, high + 0.35 * up)


def _wrapped(text: str, inches: float, points: float) -> str:
    """The text in lines that fit."""
    from fieldsim.lettering import wrapped_lines

    most = max(12, int(inches * 72 / (LETTER * points)))
    return "\n".join(line for whole in text.split("\n") for line in wrapped_lines(whole, most)) if text else ""


def _legend(figure: Figure, width: float) -> tuple[tuple[list[Any], list[str], int] | None, float]:
    """The figure's legends as one for this width, and the inches that it takes."""
    handles: list[Any] = []
    texts: list[str] = []
    own = [(axes, legend) for axes in figure.axes if (legend := axes.get_legend()) is not None]
    for _, legend in own:
        handles += legend.legend_handles
        texts += [text.get_text() for text in legend.get_texts()]
        legend.remove()
    for legend in list(figure.legends):
        handles += legend.legend_handles
        texts += [text.get_text() for text in legend.get_texts()]
        legend.remove()
    if not texts:
        return None, 0.0
    half = int((width / 2 - 0.45) * 72 / (LETTER * SMALL))
    columns = 2 if max(map(len, texts)) <= half else 1
    texts = [_wrapped(text, (width / columns) - 0.45, SMALL) for text in texts]
    lines = sum(text.count("\n") + 1 for text in texts)
    return (handles, texts, columns), 0.17 * -(-lines // columns) + 0.1
