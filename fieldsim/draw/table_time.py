"""Pictures of what was measured at the table: a robot's accuracy, and runs driven against their forecast."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from fieldsim.draw.designs import plain_axes
from fieldsim.draw.look import ALONE, FOOT, NORMAL, PALETTE, SMALL, Sheet, plain_style
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.model import MEASURABLE, Accuracy, value_of
from fieldsim.report.words.fit.numbers import in_its_unit, number_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.calibration.estimate import Estimate, Fit
    from fieldsim.logbook.answer import Judged, LogAnswer

ROW = 0.3
# Inches: names to the left of a panel; below it its numbers and what they are.
NAMES, BELOW, LEGEND = 2.3, 0.62, 0.35
# How far the axis goes beyond what is known, where there is no upper end.
OPEN = 1.6


def _panels(answer: Fit) -> list[tuple[str, list[Estimate]]]:
    """The numbers by what they are measured in, in the order of the accuracy block."""
    found: dict[str, list[Estimate]] = {}
    for each in (*answer.estimates, *([answer.tape] if answer.tape is not None else [])):
        unit = in_its_unit(each.name, 1.0)[1].partition(" ")[0]
        found.setdefault(unit, []).append(each)
    return list(found.items())


def draw_fit(answer: Fit, before: Accuracy, title: str, subtitle: str, headline: str, sheet: Sheet = ALONE) -> Figure:
    """Every number with its interval, a panel for each unit, and what the robot's file says now."""
    from matplotlib.lines import Line2D

    panels = _panels(answer)
    rows = sum(len(each) for _, each in panels)
    height = head_of(sheet) + ROW * max(rows, 1) + BELOW * max(len(panels), 1) + LEGEND + FOOT
    with plain_style():
        figure = titled_figure(sheet, height, title, subtitle, headline)
        top = height - head_of(sheet)
        for unit, estimates in panels:
            high = ROW * len(estimates)
            axes = figure.add_axes(
                (NAMES / sheet.width, (top - high) / height, (sheet.width - NAMES - 0.5) / sheet.width, high / height)
            )
            axes.set_label(unit)
            _fit_panel(axes, unit, estimates, before)
            top -= high + BELOW
        blue = PALETTE["blue"]
        handles = [
            Line2D([], [], color=blue, linewidth=3, label=tr("between (95 %)")),
            Line2D([], [], color=blue, marker="o", markeredgecolor="black", linestyle="none", label=tr("the tests")),
            Line2D(
                [], [], color=PALETTE["orange"], marker="D", markeredgecolor="black", linestyle="none",
                label=tr("the robot's file now"),
            ),
        ]  # fmt: skip
        if any(not isfinite(each.high) for _, estimates in panels for each in estimates):
            words = tr("no upper end is known")
            handles.append(
                Line2D([], [], color=blue, marker=">", markeredgecolor="black", linestyle="none", label=words)
            )
        figure.legend(
            handles=handles, loc="lower center", bbox_to_anchor=(0.5, FOOT / height), ncols=4, fontsize=SMALL,
            frameon=False, handlelength=1.8, columnspacing=1.4,
        )  # fmt: skip
    return figure


def _fit_panel(axes: Axes, unit: str, estimates: list[Estimate], before: Accuracy) -> None:
    plain_axes(axes, "x")
    axes.set_ylim(len(estimates) - 0.5, -0.5)
    names = [tr("tape") if each.name == "tape" else number_name(each.name) for each in estimates]
    axes.set_yticks(range(len(estimates)), names, fontsize=SMALL)
    axes.axvline(0, color="black", linewidth=1)
    known = [
        in_its_unit(each.name, end)[0]
        for each in estimates
        for end in (each.value, each.low, each.high)
        if isfinite(end)
    ]
    edge = OPEN * max([*known, 0.0]) or 1.0
    for row, each in enumerate(estimates):
        value, low, high = (in_its_unit(each.name, end)[0] for end in (each.value, each.low, each.high))
        low = low if isfinite(low) else 0.0
        open_end = not isfinite(high)
        axes.plot(
            [low, edge if open_end else high], [row, row], color=PALETTE["blue"], linewidth=3, gid=f"ends-{each.name}"
        )
        if open_end:
            axes.plot([edge], [row], marker=">", color=PALETTE["blue"], markeredgecolor="black", clip_on=False)
        axes.plot([value], [row], marker="o", color=PALETTE["blue"], markeredgecolor="black", gid=f"value-{each.name}")
        if each.name in MEASURABLE:
            now = in_its_unit(each.name, value_of(before, each.name))[0]
            axes.plot(
                [now], [row], marker="D", markersize=4.5, color=PALETTE["orange"], markeredgecolor="black", zorder=4,
                gid=f"now-{each.name}",
            )  # fmt: skip
    axes.set_xlabel(tr(unit), fontsize=SMALL)


def draw_log(answer: LogAnswer, title: str, subtitle: str, headline: str, sheet: Sheet = ALONE) -> Figure:
    """For each run how often it was forecast to get through, what the robot's tests leave open of that, and how often
    it did."""
    from matplotlib.lines import Line2D

    told: list[tuple[str, Judged]] = [(shorten(run.run, 30), run.judged) for run in answer.runs]
    if len(told) > 1 and answer.together is not None:
        told.append((tr("all runs together"), answer.together))
    rows = max(len(told), 1)
    high = 2 * ROW * rows
    height = head_of(sheet) + high + BELOW + LEGEND + FOOT
    fits = any(judged.fits is not None for _, judged in told)
    with plain_style():
        figure = titled_figure(sheet, height, title, subtitle, headline)
        axes = figure.add_axes(
            (
                NAMES / sheet.width, (height - head_of(sheet) - high) / height,
                (sheet.width - NAMES - 0.5) / sheet.width, high / height,
            )
        )  # fmt: skip
        axes.set_label("runs")
        plain_axes(axes, "x")
        axes.set_xlim(0, 100)
        axes.set_ylim(rows - 0.5, -0.5)
        axes.set_yticks(range(len(told)), [name for name, _ in told], fontsize=NORMAL)
        axes.set_xlabel(tr("drives in 100 that get through"), fontsize=SMALL)
        for row, (_, judged) in enumerate(told):
            _log_row(axes, row, judged)
        blue, orange = PALETTE["blue"], PALETTE["orange"]
        handles = [
            Line2D([], [], color=blue, linewidth=3, marker="o", markeredgecolor="black", label=tr("forecast")),
            *(
                [Line2D([], [], color=PALETTE["sky"], linewidth=7, label=tr("what its tests leave open"))]
                if fits
                else []
            ),
            Line2D([], [], color=orange, linewidth=3, marker="s", markeredgecolor="black", label=tr("at the table")),
        ]
        figure.legend(
            handles=handles, loc="lower center", bbox_to_anchor=(0.5, FOOT / height), ncols=3, fontsize=SMALL,
            frameon=False, handlelength=2.4, columnspacing=1.4,
        )  # fmt: skip
    return figure


def _log_row(axes: Axes, row: int, judged: Judged) -> None:
    above, below = row - 0.16, row + 0.16
    if judged.fits is not None:
        axes.plot(
            [100 * judged.fits.low, 100 * judged.fits.high], [above, above], color=PALETTE["sky"], linewidth=7,
            solid_capstyle="butt", gid=f"open-{row}",
        )  # fmt: skip
    for share, y, colour, marker, gid in (
        (judged.forecast, above, PALETTE["blue"], "o", "forecast"),
        (judged.observed, below, PALETTE["orange"], "s", "table"),
    ):
        axes.plot([100 * share.low, 100 * share.high], [y, y], color=colour, linewidth=3, gid=f"{gid}-ends-{row}")
        axes.plot([100 * share.share], [y], marker=marker, color=colour, markeredgecolor="black", gid=f"{gid}-{row}")
