"""A run before and after it was tuned, a map of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.draw.field_map import draw_map
from fieldsim.draw.look import ALONE, FOOT, LEFT, NORMAL, RIGHT, Sheet, plain_style
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.report.phrases import fixed, how_often_shortly
from fieldsim.report.words.tune import picture_title
from fieldsim.sim.trials import paths

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.planning.tune import Tuned

# Trial paths drawn in each map.
DRAWN = 40
WORDS = 0.34
"""Room for the words over a map, inches."""


def draw_tune(tuned: Tuned, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The two maps below one another, each under how often it gets through; one where nothing is better."""
    answer = tuned.answer
    shown = [(tr("before"), tuned.before)] + ([(tr("after"), tuned.after)] if answer.better else [])
    room = sheet.width - LEFT - RIGHT
    size = tuned.run.field.size
    wide = min(room, 4.2 * size[0] / size[1])
    high = wide * size[1] / size[0]
    row = WORDS + high + 0.5
    height = head_of(sheet) + len(shown) * row + FOOT
    with plain_style():
        figure = titled_figure(sheet, height, picture_title(answer), shorten(answer.robot, 40), headline)
        for number, (words, tried) in enumerate(shown):
            top = height - head_of(sheet) - number * row
            often = how_often_shortly(tried.answer.success, tried.answer.trials)
            told = tr("{when}: {often}, {seconds} s", when=words, often=often,
                      seconds=fixed(tried.answer.time.nominal, 1))  # fmt: skip
            figure.text(
                LEFT / sheet.width, (top - 0.08) / height, told, va="top", fontsize=NORMAL, weight="bold",
                parse_math=False,
            )  # fmt: skip
            bottom = (top - WORDS - high) / height
            left = (LEFT + (room - wide) / 2) / sheet.width
            axes = figure.add_axes((left, bottom, wide / sheet.width, high / height))
            axes.set_label("before" if number == 0 else "after")
            assert tried.first is not None
            sample = paths(tried.ready, answer.seed, tried.first, list(range(min(DRAWN, len(tried.first)))))
            draw_map(axes, tried.ready.run, tried.answer, sample, wide)
    return figure
