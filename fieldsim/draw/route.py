"""Proposed runs, a small map for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.draw.field_map import draw_map
from fieldsim.draw.look import ALONE, FOOT, LEFT, NORMAL, RIGHT, Sheet, plain_style
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr
from fieldsim.lettering import shorten, wrapped_lines
from fieldsim.report.words.route import in_short
from fieldsim.sim.trials import paths

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.planning.route import Routed

# Trial paths drawn in each map.
DRAWN = 40
WORDS = 0.62
"""Room for the words over a map, inches."""


def draw_route(routed: Routed, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The maps below one another, each under its sentence."""
    answer = routed.answer
    count = max(1, len(routed.tried))
    room = sheet.width - LEFT - RIGHT
    size = routed.tried[0].ready.run.field.size if routed.tried else (2.0, 1.0)
    wide = min(room, 3.4 * size[0] / size[1])
    high = wide * size[1] / size[0]
    words_room = WORDS * (1.7 if sheet.narrow else 1.0)
    row = words_room + high + 0.5
    height = head_of(sheet) + count * row + FOOT
    with plain_style():
        title = tr("{field}: ways to {where}", field=shorten(answer.field, 28), where=shorten(_last(routed), 28))
        figure = titled_figure(sheet, height, title, shorten(answer.robot, 40), headline)
        for number, tried in enumerate(routed.tried):
            top = height - head_of(sheet) - number * row
            words = f"{number + 1}. {in_short(answer.proposals[number], answer.trials)}"
            lines = list(wrapped_lines(words, 118 if sheet.alone else 42 if sheet.narrow else 92))
            figure.text(
                LEFT / sheet.width, (top - 0.08) / height, "\n".join(lines[: 6 if sheet.narrow else 3]), va="top",
                fontsize=NORMAL, parse_math=False,
            )  # fmt: skip
            bottom = (top - words_room - high) / height
            left = (LEFT + (room - wide) / 2) / sheet.width
            axes = figure.add_axes((left, bottom, wide / sheet.width, high / height))
            axes.set_label(f"way {number + 1}")
            assert tried.first is not None
            sample = paths(tried.ready, answer.seed, tried.first, list(range(min(DRAWN, len(tried.first)))))
            draw_map(axes, tried.ready.run, tried.answer, sample, wide)
    return figure


def _last(routed: Routed) -> str:
    answer = routed.answer
    return answer.targets[-1] if answer.targets else (answer.finish or "")
