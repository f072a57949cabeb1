"""The map of `jigs --anywhere` and of `jigs FIELD --to TARGET`: the start area, and how often the run gets through from
each place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.draw.look import (
    ALONE,
    FOOT,
    GRID,
    LEFT,
    NORMAL,
    PALETTE,
    RIGHT,
    SMALL,
    Sheet,
    numbers_as_spoken,
    plain_style,
)
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.report.phrases import fixed
from fieldsim.sim.motion import start_pose
from fieldsim.sim.shapes import body_corners, footprint, meet, polygon, solids

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.model import Run
    from fieldsim.model.field import Shape
    from fieldsim.planning.anywhere import Placed
    from fieldsim.planning.building import Built

AROUND = 60.0
"""Room around the area, mm."""
# With more places than this their shares would not be read beside them.
MOST_WORDS = 60


def draw_anywhere(placed: Placed | Built, title: str, headline: str, sheet: Sheet = ALONE) -> Figure:
    """The area from above: a disc for each place, the larger and darker the more get through; the body where it stands
    now and where it should."""
    answer = placed.answer
    edge = _edge(placed.area.shape)
    low, high = edge.min(axis=0) - AROUND, edge.max(axis=0) + AROUND
    room = sheet.width - LEFT - RIGHT
    wide = min(room, 5.6 * (high[0] - low[0]) / (high[1] - low[1]))
    tall = wide * (high[1] - low[1]) / (high[0] - low[0])
    below = 1.5 if sheet.narrow else 0.95
    height = head_of(sheet) + tall + 0.55 + below + FOOT
    with plain_style():
        figure = titled_figure(sheet, height, title, shorten(answer.robot, 40), headline)
        left = LEFT + (room - wide) / 2
        axes = figure.add_axes((left / sheet.width, (FOOT + below) / height, wide / sheet.width, tall / height))
        axes.set_label("area")
        axes.set_xlim(low[0], high[0])
        axes.set_ylim(low[1], high[1])
        axes.set_aspect("equal")
        axes.grid(color=GRID)
        axes.set_axisbelow(True)
        axes.tick_params(labelsize=SMALL, color="#777777")
        numbers_as_spoken(axes)
        axes.set_xlabel(tr("x, mm (the team stands on this side)"), fontsize=SMALL)
        axes.set_ylabel(tr("y, mm"), fontsize=SMALL)
        _ground(axes, placed, edge)
        _map(axes, placed, not sheet.narrow)
        if placed.now is not None:
            _body(axes, placed.now.ready.run, "#777777", (0, (4, 2)), tr("where it starts now"), "now")
        if answer.better and placed.best is not None:
            _body(axes, placed.best.ready.run, PALETTE["blue"], "-", tr("the best place"), "best")
        axes.legend(
            loc="upper center", bbox_to_anchor=(0.5, -0.55 / tall), ncols=1 if sheet.narrow else 3,
            fontsize=SMALL if sheet.narrow else NORMAL, frameon=False,
        )  # fmt: skip
    return figure


def _edge(shape: Shape) -> NDArray[np.float64]:
    return np.asarray(polygon(shape).exterior.coords)


def _ground(axes: Axes, placed: Placed | Built, edge: NDArray[np.float64]) -> None:
    from matplotlib.patches import Polygon

    axes.add_patch(
        Polygon(edge, closed=True, facecolor="#f0f0ea", edgecolor="#999999", linestyle=(0, (2, 2)), gid="area")
    )
    tried = placed.best or placed.now
    if tried is None:
        return
    run = tried.ready.run
    parts = footprint(run.robot, run.wear)
    solid = {thing.name for thing in solids(run.field) if any(meet(part, thing) for part in parts)}
    for obstacle in run.field.obstacles:
        # What the robot passes over or under is hatched.
        ground = {"facecolor": "#a6a6a6"} if obstacle.name in solid else {"facecolor": "none", "hatch": "////"}
        axes.add_patch(Polygon(_edge(obstacle.shape), closed=True, edgecolor="black", linewidth=1.0, **ground))
    w, d = tried.ready.run.field.size
    axes.plot([0, w, w, 0, 0], [0, 0, d, d, 0], color="black", linewidth=2.2)


def _map(axes: Axes, placed: Placed | Built, in_words: bool) -> None:
    points = placed.answer.map
    if not points:
        return
    shares = np.array([point.share for point in points])
    x, y = np.array([(point.x, point.y) for point in points]).T
    words = tr("a place for the axle; beside it, how many in 1000")
    in_words = in_words and len(points) <= MOST_WORDS
    if not in_words:
        words = tr("a place for the axle: the larger, the more get through")
    axes.scatter(
        x, y, s=30 + 150 * shares, c=shares, cmap="cividis", vmin=0.0, vmax=1.0, edgecolor="white", linewidth=0.6,
        zorder=3, gid="map", label=words,
    )  # fmt: skip
    if in_words:
        for point in points:
            axes.annotate(
                fixed(point.share * 1000, 0), (point.x, point.y), xytext=(7, 2), textcoords="offset points",
                fontsize=SMALL - 1.5, zorder=4,
            )  # fmt: skip


def _body(axes: Axes, run: Run, colour: str, style: Any, label: str, gid: str) -> None:
    x, y, h = start_pose(run)
    corners = body_corners(run.robot.body)
    c, s = np.cos(np.radians(h)), np.sin(np.radians(h))
    xs, ys = x + corners[:, 0] * c - corners[:, 1] * s, y + corners[:, 0] * s + corners[:, 1] * c
    axes.plot(
        np.append(xs, xs[0]), np.append(ys, ys[0]), color=colour, linestyle=style, linewidth=2.0, label=label, gid=gid,
        zorder=5,
    )  # fmt: skip
    front = run.robot.body.length - run.robot.body.axle
    axes.plot([x, x + c * front], [y, y + s * front], color=colour, linewidth=1.4, zorder=5)
    axes.plot(x, y, "o", color=colour, markersize=4, zorder=6)
