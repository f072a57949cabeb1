"""Where the tool comes to at each act: the target with what it allows, and the tool points of the first trials.

Seen from the robot: ahead is up, so that 'short' is below and 'left' is left.
"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.draw.look import GRID, IN_REPORT, NORMAL, PALETTE, SMALL, TRIAL, Sheet, numbers_as_spoken, plain_style
from fieldsim.language import tr
from fieldsim.lettering import shorten

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

    from fieldsim.studies.attempt import Tried

__all__ = ["Landing", "draw_landings", "landings_of"]

# More dots than this only hide each other; the first trials stand for all.
MOST_DOTS = 300
# Panels beside one another, how high each is and what is below them, inches.
ACROSS, SIDE, GAP, BELOW = 3, 2.1, 0.75, 0.95

Floats = NDArray[np.float64]


class Landing(NamedTuple):
    """One act: points are mm to the left and ahead of the target."""

    target: str
    segment: int
    within: float | None
    planned: Floats
    """(2,)"""
    points: Floats
    """(n, 2) of the trials that came there, of the first ones."""
    hit: NDArray[np.bool_]
    """(n,) place and heading were right."""


def landings_of(tried: Tried) -> tuple[Landing, ...]:
    """Every act of a run of which trials were kept."""
    from fieldsim.model import Act
    from fieldsim.sim.endings import tool_off
    from fieldsim.sim.trials import nominal

    if tried.first is None:
        return ()
    run, first = tried.ready.run, tried.first
    planned = nominal(tried.ready).poses[0]
    goals = {target.name: target for target in run.field.targets}
    acts = [(g + 1, segment) for g, segment in enumerate(run.segments) if isinstance(segment, Act)]
    stop = np.where(first.contact_segment > 0, first.contact_segment, np.iinfo(np.int64).max)
    stop = np.where(first.ended_segment > 0, np.minimum(stop, first.ended_segment), stop)
    found = []
    for number, (g, act) in enumerate(acts):
        there = np.flatnonzero(stop > g)[:MOST_DOTS]
        goal = goals[act.target]
        both = tool_off(run.robot, run.wear, goal, np.concatenate([planned[g][None], first.poses[there, g]]))[:, ::-1]
        found.append(Landing(act.target, g, goal.within, both[0], both[1:], first.hit[there, number]))
    return tuple(found)


def draw_landings(landings: tuple[Landing, ...], sheet: Sheet = IN_REPORT) -> Figure:
    """A panel for each act."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.patches import Circle

    lines = ceil(len(landings) / ACROSS)
    height = lines * (SIDE + GAP) + BELOW
    across = min(ACROSS, len(landings))
    room = sheet.width / across
    with plain_style():
        figure = Figure(figsize=(sheet.width, height), facecolor="white")
        FigureCanvasAgg(figure)
        handles: dict[str, Artist] = {}
        for n, each in enumerate(landings):
            line, column = divmod(n, ACROSS)
            left = column * room + (room - SIDE) / 2 + 0.15
            bottom = BELOW + (lines - 1 - line) * (SIDE + GAP) + 0.12
            axes = figure.add_axes((left / sheet.width, bottom / height, SIDE / sheet.width, SIDE / height))
            axes.set_label(f"landing-{each.segment}")
            name = shorten(each.target, 22)
            axes.set_title(tr("{target}, segment {number}", target=name, number=each.segment), fontsize=NORMAL)
            reach = max(1.3 * (each.within or 0.0), float(np.abs(each.planned).max()), 2.0)
            if len(each.points):
                reach = max(reach, float(np.quantile(np.abs(each.points).max(axis=1), 0.97)))
            axes.set_xlim(1.08 * reach, -1.08 * reach)
            axes.set_ylim(-1.08 * reach, 1.08 * reach)
            axes.set_aspect("equal")
            axes.grid(color=GRID)
            axes.set_axisbelow(True)
            axes.tick_params(labelsize=SMALL, color="#777777")
            numbers_as_spoken(axes)
            axes.set_xlabel(tr("mm to the left of it"), fontsize=SMALL, labelpad=1)
            axes.set_ylabel(tr("mm ahead of it"), fontsize=SMALL, labelpad=1)
            if each.within is not None:
                circle = Circle(
                    (0, 0), each.within, facecolor="none", edgecolor=PALETTE["green"], linewidth=1.6,
                    linestyle=(0, (3, 1)), gid=f"within-{each.segment}",
                )  # fmt: skip
                handles.setdefault(tr("allowed"), axes.add_patch(circle))
            for good, marker, colour, words, kind in (
                (True, ".", TRIAL, tr("trial that hits it"), "hits"),
                (False, "x", PALETTE["vermilion"], tr("trial that misses it"), "misses"),
            ):
                some = each.points[each.hit == good]
                if len(some):
                    (made,) = axes.plot(
                        *some.T, marker, color=colour, markersize=3.5, alpha=0.6, gid=f"{kind}-{each.segment}"
                    )
                    handles.setdefault(words, made)
            if len(each.points):
                (made,) = axes.plot(
                    *np.median(each.points, axis=0), "D", color=PALETTE["yellow"], markeredgecolor="black",
                    markersize=6, gid=f"middle-{each.segment}",
                )  # fmt: skip
                handles.setdefault(tr("in the middle of the trials"), made)
            (made,) = axes.plot(
                *each.planned, "s", color="white", markeredgecolor=PALETTE["blue"], markeredgewidth=1.6, markersize=6,
                gid=f"planned-{each.segment}",
            )  # fmt: skip
            handles.setdefault(tr("as planned"), made)
        figure.legend(
            list(handles.values()), list(handles), loc="lower center", bbox_to_anchor=(0.5, 0.02 / height), ncols=3,
            fontsize=NORMAL, frameon=False,
        )  # fmt: skip
    return figure
