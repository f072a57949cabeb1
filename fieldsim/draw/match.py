"""The picture of a match: each run's lane over the clock, with what luck makes of it, and the points it brings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.draw.designs import plain_axes
from fieldsim.draw.look import ALONE, FOOT, NORMAL, PALETTE, SMALL, Sheet, plain_style
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import fixed
from fieldsim.report.words.match import clock_axis, not_begun, picture_note

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.match.answer import MatchAnswer, OrderAnswer

ROW = 0.42
GAP = 0.85


def draw_match(answer: MatchAnswer, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The lanes of the order as written and, if it is another, of the best order below it."""
    orders = [(tr("as written"), answer.written)]
    if answer.best.order != answer.written.order:
        orders.append((tr("best order"), answer.best.result))
    head, w = head_of(sheet), sheet.width
    tall = [ROW * max(len(order.order), 2) for _, order in orders]
    height = head + sum(tall) + GAP * len(orders) + 0.3 + FOOT
    with plain_style():
        where = tr_many(
            "{limit:g} s on {field}; {n} match, seed {seed}", "{limit:g} s on {field}; {n} matches, seed {seed}",
            answer.trials, limit=answer.limit, field=shorten(answer.field, 28), seed=answer.seed,
        )  # fmt: skip
        name = tr("{match}: the match", match=shorten(answer.match, 30))
        figure = titled_figure(sheet, height, name, where, headline)
        top = height - head
        left, right = 2.1 if sheet.alone else 1.7, 1.95
        for (name, order), rows in zip(orders, tall, strict=True):
            axes = figure.add_axes((left / w, (top - rows - 0.2) / height, (w - left - right) / w, rows / height))
            axes.set_label(name)
            lanes(axes, order, answer.limit)
            points = tr("{order}: {points} points on average", order=name, points=fixed(order.score.mean.mean, 1))
            axes.set_title(points, fontsize=NORMAL, loc="left", weight="bold")
            top -= rows + GAP
        axes.set_xlabel(clock_axis(), fontsize=SMALL)
        figure.text(
            left / w, (FOOT + 0.12) / height,
            picture_note(),
            fontsize=SMALL, color="#333333",
        )  # fmt: skip
    return figure


def lanes(axes: Axes, order: OrderAnswer, limit: float) -> None:
    plain_axes(axes, "x")
    rows = max(len(order.order), 2)
    axes.set_ylim(rows - 0.5, -0.5)
    axes.set_xlim(0, limit * 1.02)
    axes.axvline(limit, color=PALETTE["vermilion"], linewidth=1.8, linestyle="--")
    axes.set_yticks(range(len(order.runs)), [shorten(each.run, 26) for each in order.runs], fontsize=NORMAL)
    for row, each in enumerate(order.runs):
        told = tr(
            "{points} points, {often} in 100 through",
            points=fixed(each.points.mean, 1),
            often=round(each.success.share * 100),
        )
        axes.text(1.01, row, told, transform=axes.get_yaxis_transform(), va="center", fontsize=SMALL, parse_math=False)
        left = not_begun(each.begun, 1)
        if left:
            axes.text(
                0.01, row + 0.4, left, transform=axes.get_yaxis_transform(), va="center", fontsize=SMALL - 1,
                style="italic", parse_math=False,
            )  # fmt: skip
        if not each.lanes:
            continue
        starts, ends = each.lanes
        axes.barh(
            row, ends[1] - starts[1], left=starts[1], height=0.5, facecolor=PALETTE["sky"], edgecolor="black",
            linewidth=0.6,
        )  # fmt: skip
        for (low, middle, high), up, marker in ((starts, -0.12, "o"), (ends, 0.12, "s")):
            axes.plot([low, high], [row + up, row + up], color=PALETTE["blue"], linewidth=1.4)
            axes.plot([middle], [row + up], marker=marker, markersize=4, color=PALETTE["blue"])
