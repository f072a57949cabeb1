"""The pictures of the starts: a line for each jig, and maps of how far off a start may be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.look import (
    ALONE,
    FOOT,
    GRID,
    LARGE,
    LEFT,
    NORMAL,
    PALETTE,
    RIGHT,
    SMALL,
    WIDTH,
    Sheet,
    numbers_as_spoken,
    plain_style,
)
from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten, wrapped_lines
from fieldsim.report.phrases import left_open, no_proof, start_words, trials_words
from fieldsim.report.words.jigs import start_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.studies.jigs import JigAnswer, JigsAnswer
    from fieldsim.studies.slack_answer import SlackAnswer, SlackMap

AXIS_WORDS = {
    "x": tr_later("forwards of its place, mm"),
    "y": tr_later("to the left of its place, mm"),
    "heading": tr_later("turned left, degrees"),
}
HEAD = 1.15
ROW = 0.34


def head_of(sheet: Sheet) -> float:
    """Room above the drawing, inches: for the title and the answer, if they stand there."""
    return HEAD if sheet.alone else 0.15


def titled_figure(sheet: Sheet, height: float, title: str, subtitle: str, headline: str) -> Figure:
    """A page with its title, a line of what it is about, the answer in a sentence, and room below; on a sheet that
    stands in a report, only the room."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(sheet.width, height), facecolor="white")
    FigureCanvasAgg(figure)
    if not sheet.alone:
        return figure
    look: dict[str, Any] = {"va": "top", "parse_math": False}
    figure.text(LEFT / WIDTH, 1 - 0.13 / height, title, fontsize=LARGE, weight="bold", **look)
    figure.text(LEFT / WIDTH, 1 - 0.46 / height, subtitle, fontsize=NORMAL, color="#333333", **look)
    # Letters of this size are some 0.08 inches wide: at most two lines.
    words = "\n".join(list(wrapped_lines(headline, 118))[:2])
    figure.text(LEFT / WIDTH, 1 - 0.68 / height, words, fontsize=NORMAL, weight="bold", linespacing=1.25, **look)
    figure.text(LEFT / WIDTH, 0.1 / height, no_proof(), fontsize=SMALL, color="#333333")
    return figure


def draw_jigs(answer: JigsAnswer, headline: str, sheet: Sheet = ALONE) -> Figure:
    """A mark with its interval for each start, best first."""
    tried = [jig for jig in answer.jigs if jig.success is not None]
    height = head_of(sheet) + ROW * max(len(tried), 1) + 0.75 + FOOT
    with plain_style():
        where = tr(
            tr_later("{robot} on {field}; targets kept; seed {seed}")
            if answer.keep == "targets"
            else tr_later("{robot} on {field}; path kept; seed {seed}"),
            robot=shorten(answer.robot, 28),
            field=shorten(answer.field, 28),
            seed=answer.seed,
        )
        title = tr("{run}: which jig?", run=shorten(answer.run, 30))
        figure = titled_figure(sheet, height, title, where, headline)
        bottom = (0.6 + FOOT) / height
        left, right = (2.3, 2.6) if sheet.alone else (1.9, 2.1)
        w = sheet.width
        axes = figure.add_axes((left / w, bottom, (w - left - right) / w, ROW * max(len(tried), 1) / height))
        axes.set_label("starts")
        axes.set_xlim(0, 100)
        axes.set_ylim(max(len(tried), 1) - 0.5, -0.5)
        axes.set_yticks(range(len(tried)), [start_name(jig, 26) for jig in tried], fontsize=NORMAL)
        axes.set_xlabel(tr("trials in 100 that get through; the bar is what luck could make of it"), fontsize=SMALL)
        axes.tick_params(axis="x", labelsize=SMALL)
        axes.grid(axis="x", color=GRID)
        axes.set_axisbelow(True)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        for row, jig in enumerate(tried):
            _start_mark(axes, row, jig, row == 0)
    return figure


def _start_mark(axes: Axes, row: int, jig: JigAnswer, best: bool) -> None:
    assert jig.success is not None
    toss = best or not jig.truly_behind
    colour = PALETTE["blue"] if toss else PALETTE["vermilion"]
    low, share, high = (100 * value for value in (jig.success.low, jig.success.share, jig.success.high))
    axes.plot([low, high], [row, row], color=colour, linewidth=3, solid_capstyle="butt", gid=f"start-{row + 1}")
    axes.plot([share], [row], marker="o" if toss else "s", color=colour, markeredgecolor="black", markersize=7)
    words = tr("best")
    if not best and jig.behind is not None:
        lost = jig.behind.share * 1000
        if toss:
            words = tr("a coin toss ({lost:.0f} in 1000 behind)", lost=lost)
        elif left_open(jig.holds):
            words = tr("behind ({lost:.0f} in 1000), your tests leave it open", lost=lost)
        else:
            words = tr("truly behind ({lost:.0f} in 1000 behind)", lost=lost)
    axes.annotate(
        words, (100, row), (10, 0), textcoords="offset points", va="center", fontsize=SMALL, annotation_clip=False
    )


def _without_maps(answer: SlackAnswer, headline: str, sheet: Sheet) -> Figure:
    """Where nothing was varied there is no map, only what is said."""
    with plain_style():
        title = tr("{run}: how far off may the start be?", run=shorten(answer.run, 30))
        where = trials_words(answer.own_trials, answer.trials, answer.seed)
        return titled_figure(sheet, head_of(sheet) + 0.4, title, where, headline)


def draw_slack(answer: SlackAnswer, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The maps side by side, on a narrow sheet two in a row: shares as grey steps, the wanted share and the edge
    without noise as lines."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    w = sheet.width
    if not answer.maps:
        return _without_maps(answer, headline, sheet)
    beside = len(answer.maps) if sheet.alone else min(2, len(answer.maps))
    in_all = -(-len(answer.maps) // beside)
    room = (w - LEFT - RIGHT - 0.55) / beside
    high, below = (room - 0.62, 1.35) if sheet.alone else (room - 0.9, 1.15 - 0.6 * (len(answer.maps) % beside))
    height = 5.1 if sheet.alone else head_of(sheet) + in_all * high + (in_all - 1) * 0.6 + below
    with plain_style():
        where = tr(
            "{robot} on {field}, from {start}; {trials}",
            robot=shorten(answer.robot, 24),
            field=shorten(answer.field, 24),
            start=start_words(answer.start, 24),
            trials=trials_words(answer.own_trials, answer.trials, answer.seed),
        )
        title = tr("{run}: how far off may the start be?", run=shorten(answer.run, 30))
        figure = titled_figure(sheet, height, title, where, headline)
        for number, each in enumerate(answer.maps):
            row, column = divmod(number, beside)
            y = below + (in_all - 1 - row) * (high + 0.6)
            axes = figure.add_axes(((LEFT + 0.1 + column * room) / w, y / height, (room - 0.62) / w, high / height))
            axes.set_label(f"map {each.across} {each.up}")
            _slack_panel(axes, each, answer.need)
        need = tr("{share:.0f} in 1000 get through", share=answer.need * 1000)
        handles: list[Any] = [
            Line2D([], [], color=PALETTE["blue"], linewidth=2.4, label=need),
            Line2D(
                [], [], color=PALETTE["vermilion"], linewidth=1.8, linestyle="--", label=tr("edge without any noise")
            ),
            Line2D([], [], color="black", marker="+", markersize=11, linestyle="none", label=tr("set as planned")),
        ]
        if any(None in row for each in answer.maps for row in each.share):
            handles.append(Patch(facecolor="white", edgecolor="#777777", hatch="///", label=tr("cannot be set there")))
        handles += [
            Patch(facecolor=str(_grey(share)), edgecolor="#777777", label=tr("{share:.0f} in 100", share=share * 100))
            for share in (0.0, 0.25, 0.5, 0.75, 1.0)
        ]
        look: dict[str, Any] = {"fontsize": SMALL, "frameon": False, "handlelength": 1.8, "columnspacing": 1.2}
        if sheet.alone:
            figure.legend(handles=handles, loc="lower center", bbox_to_anchor=(0.5, 0.28 / height), ncols=9, **look)
        elif len(answer.maps) % beside:
            # The place of the map that is not there.
            figure.legend(handles=handles, loc="center", bbox_to_anchor=(0.72, (below + high / 2) / height), **look)
        else:
            figure.legend(handles=handles, loc="lower center", bbox_to_anchor=(0.5, 0.1 / height), ncols=4, **look)
    return figure


def _grey(share: Any) -> Any:
    """Dark where hardly any trial gets through, white where all do."""
    return 0.25 + 0.75 * share


def _slack_panel(axes: Axes, each: SlackMap, need: float) -> None:
    shares = np.array([[np.nan if value is None else value for value in row] for row in each.share], dtype=float)
    columns, rows = np.array(each.columns), np.array(each.rows)
    axes.set_facecolor("white")
    if np.isnan(shares).any():
        # Under all that is known.
        axes.fill(
            [0, 1, 1, 0], [0, 0, 1, 1], transform=axes.transAxes, facecolor="white", edgecolor="#999999", linewidth=0,
            hatch="///", zorder=0,
        )  # fmt: skip
    axes.pcolormesh(
        columns, rows, np.ma.masked_invalid(_grey(shares)), cmap="gray", vmin=0, vmax=1, shading="nearest",
        rasterized=True,
    )  # fmt: skip
    for values, xs, ys, level, colour, style, width in (
        (shares, columns, rows, need, PALETTE["blue"], "-", 2.4),
        (
            np.array(each.room),
            np.array(each.fine_columns),
            np.array(each.fine_rows),
            0.0,
            PALETTE["vermilion"],
            "--",
            1.8,
        ),
    ):
        known = values[np.isfinite(values)]
        if len(known) and known.min() < level < known.max():
            axes.contour(
                xs, ys, np.ma.masked_invalid(values), [level], colors=[colour], linestyles=[style], linewidths=width
            )
    axes.plot([0], [0], marker="+", color="black", markersize=11, markeredgewidth=1.8, clip_on=False, zorder=5)
    axes.set_xlim(columns[0], columns[-1])
    axes.set_ylim(rows[0], rows[-1])
    axes.set_xlabel(tr(AXIS_WORDS[each.across]), fontsize=SMALL)
    axes.set_ylabel(tr(AXIS_WORDS[each.up]), fontsize=SMALL, labelpad=1)
    numbers_as_spoken(axes)
    axes.tick_params(labelsize=SMALL)
