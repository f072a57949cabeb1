"""A robot's base from above: body, wheels, what it sweeps, its measures and names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.base.frame import ABOVE, framed
from fieldsim.draw.base.parts import (
    AXLE,
    BODY,
    BODY_EDGE,
    CASTER,
    CIRCLES,
    DIMENSION,
    MIDDLE,
    NAME,
    SENSOR,
    WHEEL_SHARE,
    draw_attachment,
    tyre,
)
from fieldsim.draw.labels import Places, around
from fieldsim.draw.look import (
    NORMAL,
    PALETTE,
    SMALL,
)
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.sim.shapes import body_corners

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.model import Point, Robot
    from fieldsim.studies.base.answer import BaseAnswer


def draw_above(axes: Axes, robot: Robot, answer: BaseAnswer) -> None:
    from matplotlib.patches import Circle, Polygon

    half = robot.drive.track / 2
    middles = {"spin_radius": 0.0, "pivot_radius_left": half, "pivot_radius_right": -half}
    radii = {name: answer.number(name).value or 0.0 for name, *_ in CIRCLES}
    points = np.concatenate([body_corners(robot.body), *(np.array(each.outline) for each in robot.attachments)])
    across = max(radii[name] + abs(middles[name]) for name, *_ in CIRCLES)
    along = max(radii.values())
    low = np.minimum(points.min(axis=0), (-along, -across))
    high = np.maximum(points.max(axis=0), (along, across))
    edge = 0.04 * (high - low)
    places = framed(axes, tuple(low - edge), tuple(high + edge), ABOVE, tr("x, forward, mm"), tr("y, to the left, mm"))

    for name, _, colour, style in CIRCLES:
        axes.add_patch(
            Circle(
                (0.0, middles[name]), radii[name], fill=False, edgecolor=colour, linewidth=1.6, linestyle=style,
                zorder=2.2, gid=name,
            )
        )  # fmt: skip
    axes.add_patch(
        Polygon(
            body_corners(robot.body), facecolor=BODY, edgecolor=BODY_EDGE, linewidth=1.8, zorder=3, gid="body",
            joinstyle="miter",
        )
    )  # fmt: skip
    for n, attachment in enumerate(robot.attachments, 1):
        draw_attachment(axes, np.array(attachment.outline), attachment.name in answer.wear, f"attachment-{n}")
    if answer.stands_on:
        axes.add_patch(
            Polygon(
                answer.stands_on, facecolor="none", edgecolor=PALETTE["purple"], linewidth=2,
                linestyle=(0, (1, 1)), zorder=4.6, gid="stands-on",
            )
        )  # fmt: skip
    wheel = robot.drive.wheel
    for name, y in (("left", half), ("right", -half)):
        axes.add_patch(tyre(-wheel / 2, y - WHEEL_SHARE * wheel / 2, wheel, WHEEL_SHARE * wheel, f"wheel-{name}"))
        places.keep_clear(-wheel / 2, y - WHEEL_SHARE * wheel / 2, wheel / 2, y + WHEEL_SHARE * wheel / 2, 4.0)
    axes.plot(0, 0, **AXLE, zorder=6.1, gid="axle")
    _marks(axes, robot, places)
    _dimensions(axes, robot, points, places)
    _names(axes, robot, places)
    axes.annotate(
        "", (0.985, 0.965), (0.85, 0.965), xycoords="axes fraction", zorder=7,
        arrowprops={"arrowstyle": "-|>", "color": "black", "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip
    axes.annotate(
        tr("forward"), (0.84, 0.965), xycoords="axes fraction", fontsize=NORMAL, ha="right", va="center", zorder=7
    )


def _marks(axes: Axes, robot: Robot, places: Places) -> None:
    near = 6 * places.mm_per_point
    for n, caster in enumerate(robot.casters, 1):
        axes.plot(*caster.at, **CASTER, zorder=5.2, gid=f"caster-{n}")
        places.keep_clear(caster.at[0] - near, caster.at[1] - near, caster.at[0] + near, caster.at[1] + near, 4.0)
    for n, sensor in enumerate(robot.sensors, 1):
        axes.plot(*sensor.at, **SENSOR, zorder=5.4, gid=f"sensor-{n}")
        places.keep_clear(sensor.at[0] - near, sensor.at[1] - near, sensor.at[0] + near, sensor.at[1] + near, 4.0)
    if robot.weight is not None:
        x, y, _ = robot.weight.at
        axes.plot(x, y, **MIDDLE, zorder=6.2, gid="centre-of-mass")
        places.keep_clear(x - near, y - near, x + near, y + near, 4.0)


def _dimensions(axes: Axes, robot: Robot, points: Any, places: Places) -> None:
    """Arrows for length, width and track, outside of all that is drawn of the robot."""
    body, half = robot.body, robot.drive.track / 2
    rear, front, side = -body.axle, body.length - body.axle, body.width / 2
    step = 15 * places.mm_per_point
    x, y = float(points[:, 0].min()), float(points[:, 1].min())
    _dimension(
        axes, places, (rear, y - step), (front, y - step), tr("length {length:g}", length=body.length), (rear, -side)
    )
    _dimension(
        axes, places, (x - step, -side), (x - step, side), tr("width {width:g}", width=body.width), (rear, -side)
    )
    _dimension(
        axes,
        places,
        (x - 2.4 * step, -half),
        (x - 2.4 * step, half),
        tr("track {track:g}", track=2 * half),
        (0.0, -half),
    )


def _dimension(axes: Axes, places: Places, start: Point, end: Point, words: str, corner: Point) -> None:
    """An arrow from start to end, thin lines to it from what is measured, and the words on it."""
    upright = start[0] == end[0]
    for tip in (start, end):
        near = (corner[0], tip[1]) if upright else (tip[0], corner[1])
        axes.plot([near[0], tip[0]], [near[1], tip[1]], color=DIMENSION, linewidth=0.5, zorder=2.6)
    axes.annotate(
        "", end, start, zorder=6.4,
        arrowprops={"arrowstyle": "<|-|>", "color": DIMENSION, "linewidth": 1, "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    axes.text(
        x, y, words, fontsize=SMALL, color=DIMENSION, ha="center", va="center", rotation=90 if upright else 0,
        zorder=6.5, parse_math=False, bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2, "alpha": 0.9},
    )  # fmt: skip
    wide = 6 * places.mm_per_point
    places.keep_clear(
        min(start[0], end[0]) - wide, min(start[1], end[1]) - wide, max(start[0], end[0]) + wide,
        max(start[1], end[1]) + wide, 4.0,
    )  # fmt: skip


def _names(axes: Axes, robot: Robot, places: Places) -> None:
    near = 6 * places.mm_per_point
    for sensor in robot.sensors:
        words = shorten(sensor.name, NAME)
        width, height = places.size(words, SMALL)
        # Behind the sensor first, where the body is empty.
        x, y = sensor.at
        centres = [(x - near - width / 2, y), *around(x, y, near, near, width, height)]
        write_name(axes, places.find(centres, width, height, inside=1), words)
    for attachment in robot.attachments:
        outline = np.array(attachment.outline)
        (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
        words = shorten(attachment.name, NAME)
        width, height = places.size(words, SMALL)
        inside = _inside(outline, width, height)
        beside = around((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2, 1.1 * width, 1.2 * height)
        write_name(axes, places.find([*inside, *beside], width, height, inside=len(inside)), words)


def _inside(outline: Any, width: float, height: float) -> list[Point]:
    """Where a label has room within an outline: the nearest to the outline's middle, if there is any."""
    import shapely

    polygon = shapely.Polygon(outline)
    x0, y0, x1, y1 = polygon.bounds
    middle = polygon.centroid
    spots = [(float(x), float(y)) for x in np.linspace(x0, x1, 21) for y in np.linspace(y0, y1, 21)]
    spots.sort(key=lambda spot: abs(spot[0] - middle.x) + abs(spot[1] - middle.y))
    for x, y in spots:
        if polygon.contains(shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)):
            return [(x, y)]
    return []


def write_name(axes: Axes, at: Point, words: str) -> None:
    axes.text(
        *at, words, fontsize=SMALL, ha="center", va="center", zorder=6.6, parse_math=False,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85},
    )  # fmt: skip
