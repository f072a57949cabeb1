"""Pictures of the studies of the base: share against width, differences of runs, causes."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.look import (
    ALONE,
    FOOT,
    GRID,
    IN_REPORT,
    NORMAL,
    PALETTE,
    SMALL,
    Sheet,
    numbers_as_spoken,
    plain_style,
)
from fieldsim.draw.starts import HEAD, head_of, titled_figure
from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import trials_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.studies.causes import CausesAnswer, FailureAnswer
    from fieldsim.studies.compare import CompareAnswer
    from fieldsim.studies.widths import WidthsAnswer

ROW = 0.34
PARTS = 5


def plain_axes(axes: Axes, grid: str) -> None:
    axes.tick_params(labelsize=SMALL, color="#777777")
    numbers_as_spoken(axes)
    axes.grid(axis=grid, color=GRID)  # type: ignore[arg-type]
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def draw_widths(answer: WidthsAnswer, headline: str, what: str, sheet: Sheet = ALONE) -> Figure:
    """Share that gets through against the value, with its intervals, the wanted share and the edge without noise."""
    head, w = head_of(sheet), sheet.width
    below = 0.95 if sheet.alone else 1.05
    height = head + 2.75 + below + 0.15
    with plain_style():
        where = tr(
            "{robot} on {field}; {trials}",
            robot=shorten(answer.robot, 28),
            field=shorten(answer.field, 28),
            trials=trials_words(answer.own_trials, answer.trials, answer.seed),
        )
        title = tr("{run}: {what}", run=shorten(answer.run, 30), what=what)
        figure = titled_figure(sheet, height, title, where, headline)
        axes = figure.add_axes((0.75 / w, below / height, (w - 1.2) / w, 2.75 / height))
        axes.set_label("values")
        plain_axes(axes, "y")
        x = np.array([each.value for each in answer.values])
        low, share, high = (
            np.array([100 * getattr(each.success, end) for each in answer.values]) for end in ("low", "share", "high")
        )
        axes.fill_between(
            x, low, high, color=PALETTE["sky"], alpha=0.35, linewidth=0, label=tr("what luck could make of it")
        )
        axes.plot(x, share, color=PALETTE["blue"], marker="o", markersize=4.5, label=tr("get through"))
        if not answer.hopeless:
            axes.axhline(
                100 * answer.need, color="black", linewidth=1, linestyle=(0, (4, 2)),
                label=tr("wanted: {share:.0f} in 1000", share=answer.need * 1000),
            )  # fmt: skip
        axes.axvline(
            answer.now,
            color="#777777",
            linewidth=1,
            linestyle=":",
            label=tr("now: {value:g} {unit}", value=answer.now, unit=answer.unit),
        )
        if answer.widest is not None:
            axes.plot(
                [answer.widest.value], [100 * answer.need], marker="D", color=PALETTE["orange"], markersize=8,
                markeredgecolor="black", linestyle="none", zorder=5,
                label=tr("largest: {value:g} {unit}", value=answer.widest.value, unit=answer.unit),
            )  # fmt: skip
        if answer.geometry is not None and x[0] <= answer.geometry.value <= 1.05 * x[-1]:
            axes.axvline(
                answer.geometry.value, color=PALETTE["vermilion"], linewidth=1.8, linestyle="--",
                label=tr(
                    "edge without any noise: {value:g} {unit}",
                    value=float(np.floor(answer.geometry.value * 10) / 10), unit=answer.unit,
                ),
            )  # fmt: skip
        axes.set_ylim(-2, 104)
        axes.set_xlabel(f"{what}, {answer.unit}", fontsize=SMALL)
        axes.set_ylabel(tr("trials in 100 that get through"), fontsize=SMALL)
        figure.legend(
            loc="lower center", bbox_to_anchor=(0.5, (0.24 if sheet.alone else 0.08) / height),
            ncols=6 if sheet.alone else 3, fontsize=SMALL, frameon=False,
            handlelength=1.8, columnspacing=1.2,
        )  # fmt: skip
    return figure


def draw_compare(answer: CompareAnswer, headline: str, sheet: Sheet = ALONE) -> Figure:
    """Each run's share, and below each pair's difference with its interval."""
    runs, pairs = len(answer.runs), len(answer.differences)
    least, between = (2, 0.95) if sheet.alone else (1, 0.55)
    upper, lower = ROW * max(runs, least), ROW * max(pairs, least)
    height = head_of(sheet) + upper + between + lower + 0.75 + FOOT
    w = sheet.width
    with plain_style():
        where = tr_many(
            "{n} trial of each, seed {seed}, on the same draws",
            "{n} trials of each, seed {seed}, on the same draws",
            answer.trials,
            seed=answer.seed,
        )
        figure = titled_figure(sheet, height, tr("Runs compared"), where, headline)
        left, right = (3.6, 0.5) if sheet.alone else (2.9, 0.3)
        axes = figure.add_axes(
            (left / w, (FOOT + 0.75 + lower + between) / height, (w - left - right) / w, upper / height)
        )
        axes.set_label("runs")
        plain_axes(axes, "x")
        axes.set_xlim(0, 100)
        axes.set_ylim(max(runs, least) - 0.5, -0.5)
        axes.set_yticks(range(runs), [shorten(run.run, 40) for run in answer.runs], fontsize=NORMAL)
        axes.set_xlabel(tr("trials in 100 that get through; the bar is what luck could make of it"), fontsize=SMALL)
        for row, run in enumerate(answer.runs):
            axes.plot([100 * run.success.low, 100 * run.success.high], [row, row], color=PALETTE["blue"], linewidth=3)
            axes.plot([100 * run.success.share], [row], marker="o", color=PALETTE["blue"], markeredgecolor="black")
        axes = figure.add_axes((left / w, (FOOT + 0.6) / height, (w - left - right) / w, lower / height))
        axes.set_label("differences")
        plain_axes(axes, "x")
        axes.axvline(0, color="black", linewidth=1)
        axes.set_ylim(max(pairs, least) - 0.5, -0.5)
        names = [
            tr("{one} less {other}", one=shorten(pair.first, 21), other=shorten(pair.second, 21))
            for pair in answer.differences
        ]
        axes.set_yticks(range(pairs), names, fontsize=SMALL)
        axes.set_xlabel(
            tr("difference in trials of 1000, on the same trials; a bar across 0 may be luck"), fontsize=SMALL
        )
        for row, pair in enumerate(answer.differences):
            share = pair.difference
            colour = PALETTE["vermilion"] if pair.truly else PALETTE["blue"]
            axes.plot([1000 * share.low, 1000 * share.high], [row, row], color=colour, linewidth=3)
            axes.plot(
                [1000 * share.share], [row], marker="s" if pair.truly else "o", color=colour, markeredgecolor="black"
            )
    return figure


def draw_causes(answer: CausesAnswer, headline: str) -> Figure:
    """Left what each source's absence is worth, right of what the spread of each thing is made."""
    failing, groups = _failing(answer), _groups(answer)
    rows = max(len(failing), len(groups), 3)
    height = HEAD + ROW * rows + 1.35 + FOOT
    with plain_style():
        where = tr(
            "{robot} on {field}; {trials}",
            robot=shorten(answer.robot, 28),
            field=shorten(answer.field, 28),
            trials=trials_words(answer.own_trials, answer.trials, answer.seed),
        )
        title = tr("{run}: what breaks it", run=shorten(answer.run, 30))
        figure = titled_figure(ALONE, height, title, where, headline)
        bottom = FOOT + 0.95
        _put_failures(figure, failing, rows, 2.35, 2.5, bottom)
        _put_spread(figure, groups, rows, 6.5, 4.2, bottom)
        _stack_legend(figure, groups, 0.22, 4)
    return figure


def draw_causes_apart(answer: CausesAnswer, sheet: Sheet = IN_REPORT) -> dict[str, Figure]:
    """The two halves of ``draw_causes`` as pictures of their own, by name."""
    return {"causes failures": _failures_alone(answer, sheet), "causes spread": _spread_alone(answer, sheet)}


def _failures_alone(answer: CausesAnswer, sheet: Sheet) -> Figure:
    failing = _failing(answer)
    rows = max(len(failing), 1)
    with plain_style():
        figure = titled_figure(sheet, ROW * rows + 0.6, "", "", "")
        _put_failures(figure, failing, rows, 2.5, sheet.width - 2.8, 0.5)
    return figure


def _spread_alone(answer: CausesAnswer, sheet: Sheet) -> Figure:
    groups = _groups(answer)
    rows = max(len(groups), 1)
    below = 0.6 + 0.17 * -(-len(_looks(groups)) // 2)
    with plain_style():
        figure = titled_figure(sheet, ROW * rows + below + 0.1, "", "", "")
        _put_spread(figure, groups, rows, 2.5, sheet.width - 2.8, below)
        _stack_legend(figure, groups, 0.02, 2)
    return figure


def _failing(answer: CausesAnswer) -> list[FailureAnswer]:
    return [each for each in answer.failures if each.worth.share > 0][:10]


def _groups(answer: CausesAnswer) -> list[tuple[str, list[Any]]]:
    return [(of, list(group)) for of, group in groupby(answer.spread, key=lambda each: each.of)]


def _rows_axes(figure: Figure, label: str, rows: int, left: float, wide: float, bottom: float) -> Axes:
    """Axes with a row for each thing, places and sizes in inches."""
    width, height = figure.get_size_inches()
    axes = figure.add_axes((left / width, bottom / height, wide / width, ROW * rows / height))
    axes.set_label(label)
    plain_axes(axes, "x")
    axes.set_ylim(rows - 0.5, -0.5)
    return axes


def _put_failures(
    figure: Figure, failing: list[FailureAnswer], rows: int, left: float, wide: float, bottom: float
) -> None:
    axes = _rows_axes(figure, "failures", rows, left, wide, bottom)
    names = [shorten(f"{each.source}, {each.segment}" if each.segment else each.source, 30) for each in failing]
    axes.set_yticks(range(len(failing)), names, fontsize=SMALL)
    for row, each in enumerate(failing):
        axes.plot([1000 * each.worth.low, 1000 * each.worth.high], [row, row], color=PALETTE["vermilion"], linewidth=3)
        axes.plot([1000 * each.worth.share], [row], marker="o", color=PALETTE["vermilion"], markeredgecolor="black")
    axes.axvline(0, color="black", linewidth=1)
    axes.set_xlabel(tr("how many more in 1000 get through without it (number: its segment)"), fontsize=SMALL)


def _put_spread(
    figure: Figure, groups: list[tuple[str, list[Any]]], rows: int, left: float, wide: float, bottom: float
) -> None:
    axes = _rows_axes(figure, "spread", rows, left, wide, bottom)
    axes.set_xlim(0, 100)
    axes.set_yticks(range(len(groups)), [shorten(of, 24) for of, _ in groups], fontsize=SMALL)
    axes.set_xlabel(tr("what each source makes by itself, in 100 of its variance"), fontsize=SMALL)
    _stacks(axes, groups)


HATCHES = ("", "///", "...", "xxx", "\\\\\\", "ooo", "+++", "---")
COLOURS = ("blue", "orange", "green", "sky", "purple", "yellow", "vermilion")


def _looks(groups: list[tuple[str, list[Any]]]) -> dict[tuple[str, int], tuple[str, str]]:
    """A colour and a hatch for each source that matters anywhere, the most important first."""
    weight: dict[tuple[str, int], float] = {}
    for _, sources in groups:
        for each in sources:
            key = (each.source, each.segment)
            weight[key] = weight.get(key, 0.0) + max(0.0, each.first)
    ordered = sorted(weight, key=lambda key: -weight[key])[:7]
    return {key: (PALETTE[COLOURS[n % 7]], HATCHES[n % 8]) for n, key in enumerate(ordered)}


def _stacks(axes: Axes, groups: list[tuple[str, list[Any]]]) -> None:
    looks = _looks(groups)
    for row, (_, sources) in enumerate(groups):
        left = 0.0
        for each in sources:
            look = looks.get((each.source, each.segment))
            part = 100 * max(0.0, each.first)
            if look is None or part < 2 or left >= 100:
                continue
            part = min(part, 100 - left)
            axes.barh(
                row, part, left=left, height=0.66, facecolor=look[0], hatch=look[1], edgecolor="black", linewidth=0.5
            )
            left += part


def _stack_legend(figure: Figure, groups: list[tuple[str, list[Any]]], bottom: float, columns: int) -> None:
    from matplotlib.patches import Patch

    handles = [
        Patch(
            facecolor=colour, hatch=hatch, edgecolor="black", linewidth=0.5,
            label=shorten(f"{source}, {segment}" if segment else source, 34),
        )
        for (source, segment), (colour, hatch) in _looks(groups).items()
    ]  # fmt: skip
    if handles:
        figure.legend(
            handles=handles, loc="lower center", bbox_to_anchor=(0.5, bottom / figure.get_size_inches()[1]),
            ncols=columns, fontsize=SMALL,
            frameon=False, handlelength=1.8, columnspacing=1.2,
        )  # fmt: skip
