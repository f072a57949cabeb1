"""The picture of `aim`: the target from above, and where the tool lands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fieldsim.draw.look import (
    ALONE,
    FOOT,
    GRID,
    LEFT,
    NORMAL,
    PALETTE,
    SMALL,
    TRIAL,
    Sheet,
    numbers_as_spoken,
    plain_style,
)
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.planning.aim import Aimed

# More dots than this only hide each other; the first trials stand for all.
MOST_DOTS = 400


def draw_aim(aimed: Aimed, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The target with what it allows, the tool points of the first trials, and their middle."""
    from matplotlib.patches import Circle

    answer = aimed.answer
    side = 4.6
    height = head_of(sheet) + side + 1.1 + FOOT
    with plain_style():
        title = tr("{run}: aimed at {target}", run=shorten(answer.run, 30), target=shorten(answer.target, 26))
        about = tr_many(
            "{robot} on {field}; {n} trial, seed {seed}", "{robot} on {field}; {n} trials, seed {seed}", answer.trials,
            robot=shorten(answer.robot, 28), field=shorten(answer.field, 28), seed=answer.seed,
        )  # fmt: skip
        figure = titled_figure(sheet, height, title, about, headline)
        width = min(sheet.width - 2 * LEFT, 2 * side)
        axes = figure.add_axes(
            ((sheet.width - width) / 2 / sheet.width, (0.95 + FOOT) / height, width / sheet.width, side / height)
        )
        axes.set_label("target")
        at = np.array(aimed.at)
        dots = aimed.points[:MOST_DOTS]
        middle = np.median(aimed.points, axis=0) if len(aimed.points) else at
        reach = max(answer.within * 1.3, float(np.abs(aimed.planned - at).max()), float(np.abs(middle - at).max()))
        if len(dots):
            reach = max(reach, float(np.quantile(np.abs(dots - at).max(axis=1), 0.9)))
        reach *= 1.1
        axes.set_xlim(at[0] - reach * width / side, at[0] + reach * width / side)
        axes.set_ylim(at[1] - reach, at[1] + reach)
        axes.set_aspect("equal")
        axes.grid(color=GRID)
        axes.set_axisbelow(True)
        axes.tick_params(labelsize=SMALL, color="#777777")
        numbers_as_spoken(axes)
        axes.set_xlabel(tr("x, mm (the team stands on this side)"), fontsize=SMALL)
        axes.set_ylabel(tr("y, mm"), fontsize=SMALL)
        axes.add_patch(
            Circle(
                aimed.at, answer.within, facecolor="none", edgecolor=PALETTE["green"], linewidth=1.8,
                linestyle=(0, (3, 1)), label=tr("allowed"), gid="within",
            )
        )  # fmt: skip
        axes.plot(
            *at, "+", color=PALETTE["green"], markersize=10, markeredgewidth=1.8, label=tr("target"), gid="target"
        )
        if len(dots):
            axes.plot(
                *dots.T, ".", color=TRIAL, markersize=3, alpha=0.5, gid="trials",
                label=tr("{n} of the trials", n=len(dots)),
            )  # fmt: skip
            axes.plot(
                *middle, "D", color=PALETTE["yellow"], markeredgecolor="black", markersize=8,
                label=tr("in the middle of the trials"), gid="middle",
            )  # fmt: skip
        axes.plot(
            *aimed.planned, "s", color="white", markeredgecolor=PALETTE["blue"], markeredgewidth=1.8, markersize=8,
            label=tr("as planned"), gid="planned",
        )  # fmt: skip
        figure.legend(
            loc="upper center", bbox_to_anchor=(0.5, (0.5 + FOOT) / height), ncols=5 if sheet.alone else 3,
            fontsize=NORMAL, frameon=False,
        )  # fmt: skip
    return figure
