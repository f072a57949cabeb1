"""The runs of a proposed match, a small map for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.draw.field_map import draw_map
from fieldsim.draw.look import ALONE, FOOT, LEFT, NORMAL, RIGHT, Sheet, plain_style
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.report.phrases import fixed, how_often_shortly
from fieldsim.sim.trials import paths

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.planning.sharing import Sharing

# Trial paths drawn in each map.
DRAWN = 40
WORDS = 0.34
"""Room for the words over a map, inches."""


def draw_sharing(shared: Sharing, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The maps below one another in the order in which the runs are driven."""
    answer = shared.answer
    count = max(1, len(shared.tried))
    room = sheet.width - LEFT - RIGHT
    size = shared.tried[0].ready.run.field.size if shared.tried else (2.0, 1.0)
    wide = min(room, 3.2 * size[0] / size[1])
    high = wide * size[1] / size[0]
    row = WORDS + high + 0.5
    height = head_of(sheet) + count * row + FOOT
    with plain_style():
        title = tr("{match}: which targets in which run", match=shorten(answer.match, 30))
        figure = titled_figure(sheet, height, title, shorten(answer.field, 40), headline)
        for number, tried in enumerate(shared.tried, start=1):
            top = height - head_of(sheet) - (number - 1) * row
            often = how_often_shortly(tried.answer.success, tried.answer.trials)
            words = tr("{number}. {run}: {often}, {seconds} s", number=number, run=shorten(tried.ready.run.name, 60),
                       often=often, seconds=fixed(tried.answer.time.nominal, 1))  # fmt: skip
            figure.text(
                LEFT / sheet.width, (top - 0.08) / height, words, va="top", fontsize=NORMAL, weight="bold",
                parse_math=False,
            )  # fmt: skip
            bottom = (top - WORDS - high) / height
            left = (LEFT + (room - wide) / 2) / sheet.width
            axes = figure.add_axes((left, bottom, wide / sheet.width, high / height))
            axes.set_label(f"run {number}")
            assert tried.first is not None
            sample = paths(tried.ready, answer.seed, tried.first, list(range(min(DRAWN, len(tried.first)))))
            draw_map(axes, tried.ready.run, tried.answer, sample, wide)
    return figure
