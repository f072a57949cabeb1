"""The picture of a base: from above and from the side, to scale, with the circles it sweeps and what it tips over.

Every number written in it is the answer's, rounded as in the text; what a colour tells is told by a line style, a
marker or a hatch as well.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.labels import Places, around
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
    glyphs_missing_are_boxes,
    numbers_as_spoken,
    plain_style,
)
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.model import Band, Point, Robot
from fieldsim.report.words.base import amount, headline
from fieldsim.sim.shapes import body_corners
from fieldsim.studies.base.answer import BaseAnswer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Inches. The view from above is ABOVE wide and high, the side view stands to its right, the numbers below that.
HEIGHT = 8.3
HEAD = 0.85
ABOVE = (5.3, 5.75)
BESIDE = 0.8
SIDE = 2.75
LIST_ROW = 0.225
# Below the view from above it is as wide, and need not be as high.
SIDE_STACKED = 1.9

TO_SCALE = tr_later("To scale, but for how wide the wheels and how large the casters are: the file does not say.")

WHEEL_SHARE = 0.14
"""How wide a wheel is drawn, as a share of its diameter: the file does not say."""

TITLE = 40
NAME = 20
BODY, BODY_EDGE = "#f4f4f2", "#222222"
WORN = "#fbe3b4"
TYRE = "#555555"
DIMENSION = "#333333"

CIRCLES: tuple[tuple[str, str, str, Any], ...] = (
    ("spin_radius", tr_later("sweeps on the spot, radius {radius}"), PALETTE["blue"], "-"),
    (
        "pivot_radius_left", tr_later("sweeps about the left wheel, radius {radius}"), PALETTE["vermilion"],
        (0, (6, 2)),
    ),
    (
        "pivot_radius_right", tr_later("sweeps about the right wheel, radius {radius}"), PALETTE["green"],
        (0, (2, 1.5)),
    ),
)  # fmt: skip

# What stands in the list below the side view: the number's id and how it is called there.
LIST = (
    ("narrowest_gap", tr_later("narrowest gap, driving straight")),
    ("corner_width_spin", tr_later("narrowest corner: in, spin, out")),
    ("top_speed", tr_later("the motors drive at most")),
    ("turn_step", tr_later("finest turn step")),
    ("wheel_load_share", tr_later("weight on the drive wheels")),
    ("tip_forward", tr_later("it tips forwards, braking, at")),
    ("tip_backward", tr_later("it tips backwards, speeding up, at")),
    ("tip_sideways", tr_later("it tips sideways, in a turn, at")),
    ("slip_acceleration", tr_later("a wheel may slip from")),
)


def draw_base(robot: Robot, answer: BaseAnswer, sheet: Sheet = ALONE) -> Figure:
    """A figure of the base: from above, from its right side, and the main numbers; in a report without these, and one
    view below the other.

    ``robot`` gives the outlines, ``answer`` every number. Attachments that are worn are filled, the others dotted. Save
    it with ``fieldsim.draw.save``.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with plain_style(), glyphs_missing_are_boxes():
        if not sheet.alone:
            return _stacked(robot, answer, sheet)
        figure = Figure(figsize=(WIDTH, HEIGHT), facecolor="white")
        FigureCanvasAgg(figure)
        look: dict[str, Any] = {"va": "top", "parse_math": False}
        title = figure.text(LEFT / WIDTH, 1 - 0.13 / HEIGHT, "", fontsize=LARGE, weight="bold", **look)
        for limit in range(TITLE, 5, -4):
            title.set_text(headline(answer, limit))
            if title.get_window_extent().x1 <= figure.bbox.x1 * (1 - RIGHT / WIDTH):
                break
        figure.text(LEFT / WIDTH, 1 - 0.46 / HEIGHT, tr(TO_SCALE), fontsize=NORMAL, color="#333333", **look)
        wide, high = ABOVE
        x = LEFT + wide + BESIDE
        room = WIDTH - RIGHT - x
        _views(figure, robot, answer, (LEFT, HEIGHT - HEAD - high), (x, HEIGHT - HEAD - SIDE), (room, SIDE))
        _list(figure, answer, x, HEIGHT - HEAD - SIDE - 0.85)
        _put_legend(figure, robot, answer, FOOT + 0.02, 4)
        figure.text(
            LEFT / WIDTH, 0.1 / HEIGHT, tr("These numbers are no proof: the table decides."), fontsize=SMALL,
            color="#333333",
        )  # fmt: skip
    return figure


def _stacked(robot: Robot, answer: BaseAnswer, sheet: Sheet) -> Figure:
    """The two views one below the other."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rows = -(-len(_legend(robot, answer)) // 2)
    legend = 0.25 + 0.17 * rows
    below = legend + 0.4
    height = below + SIDE_STACKED + 0.6 + ABOVE[1] + 0.15
    figure = Figure(figsize=(sheet.width, height), facecolor="white")
    FigureCanvasAgg(figure)
    left = (sheet.width - ABOVE[0] + LEFT - RIGHT) / 2
    _views(figure, robot, answer, (left, height - 0.15 - ABOVE[1]), (left, below), (ABOVE[0], SIDE_STACKED))
    _put_legend(figure, robot, answer, 0.05, 2)
    return figure


def _views(
    figure: Figure, robot: Robot, answer: BaseAnswer, above_at: Point, side_at: Point, side_size: tuple[float, float]
) -> None:
    """Both views, their lower left corners in inches from the figure's; the one from above is ``ABOVE`` large."""
    width, height = figure.get_size_inches()
    x, y = above_at
    above = figure.add_axes((x / width, y / height, ABOVE[0] / width, ABOVE[1] / height))
    above.set_label("above")
    _draw_above(above, robot, answer)
    x, y = side_at
    side = figure.add_axes((x / width, y / height, side_size[0] / width, side_size[1] / height))
    side.set_label("side")
    _draw_side(side, robot, answer, side_size)


def _put_legend(figure: Figure, robot: Robot, answer: BaseAnswer, bottom: float, columns: int) -> None:
    figure.legend(
        handles=_legend(robot, answer), loc="lower center", bbox_to_anchor=(0.5, bottom / figure.get_size_inches()[1]),
        ncols=columns, fontsize=SMALL, frameon=False, handlelength=2.8, columnspacing=1.8, borderpad=0,
    )  # fmt: skip


def _frame(axes: Axes, low: Point, high: Point, inches: tuple[float, float], x_words: str, y_words: str) -> Places:
    """Limits that hold low to high at one scale, a grid of mm, and where labels may go."""
    from matplotlib.ticker import MaxNLocator

    span = np.subtract(high, low)
    mm_per_inch = float(max(span / np.array(inches)))
    middle = np.add(high, low) / 2
    (x0, y0), (x1, y1) = (middle + sign * mm_per_inch * np.array(inches) / 2 for sign in (-1, 1))
    axes.set_xlim(x0, x1)
    axes.set_ylim(y0, y1)
    axes.set_aspect("equal")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))
    axes.grid(color=GRID, linewidth=0.8, zorder=0.1)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=SMALL, length=3, color="#777777")
    numbers_as_spoken(axes)
    axes.set_xlabel(x_words, fontsize=SMALL, labelpad=2)
    axes.set_ylabel(y_words, fontsize=SMALL, labelpad=2)
    for spine in axes.spines.values():
        spine.set_color("#999999")
    places = Places(x1 - x0, y1 - y0, mm_per_inch / 72)
    places.bounds = (x0, y0, x1, y1)
    return places


# --- from above --------------------------------------------------------------------------------------------------


def _draw_above(axes: Axes, robot: Robot, answer: BaseAnswer) -> None:
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
    places = _frame(axes, tuple(low - edge), tuple(high + edge), ABOVE, tr("x, forward, mm"), tr("y, to the left, mm"))

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
        _attachment(axes, np.array(attachment.outline), attachment.name in answer.wear, f"attachment-{n}")
    if answer.stands_on:
        axes.add_patch(
            Polygon(
                answer.stands_on, facecolor="none", edgecolor=PALETTE["purple"], linewidth=2,
                linestyle=(0, (1, 1)), zorder=4.6, gid="stands-on",
            )
        )  # fmt: skip
    wheel = robot.drive.wheel
    for name, y in (("left", half), ("right", -half)):
        axes.add_patch(_tyre(-wheel / 2, y - WHEEL_SHARE * wheel / 2, wheel, WHEEL_SHARE * wheel, f"wheel-{name}"))
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


def _tyre(x: float, y: float, width: float, height: float, gid: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle((x, y), width, height, facecolor=TYRE, edgecolor="black", linewidth=0.8, zorder=5, gid=gid)


def _worn_look(worn: bool) -> dict[str, Any]:
    if worn:
        return {"facecolor": WORN, "edgecolor": "#8a5a00", "linewidth": 1.4, "hatch": "///", "zorder": 3.4}
    return {"facecolor": "none", "edgecolor": "#555555", "linewidth": 1.2, "linestyle": ":", "zorder": 3.5}


def _attachment(axes: Axes, outline: Any, worn: bool, gid: str) -> None:
    from matplotlib.patches import Polygon

    axes.add_patch(Polygon(outline, gid=gid, **_worn_look(worn)))


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


AXLE: dict[str, Any] = {
    "marker": "+", "markersize": 11, "color": "black", "markeredgewidth": 1.6, "linestyle": "none",
}  # fmt: skip
CASTER: dict[str, Any] = {
    "marker": "o", "markersize": 8, "markerfacecolor": "white", "markeredgecolor": "black", "markeredgewidth": 1.6,
    "linestyle": "none",
}  # fmt: skip
SENSOR: dict[str, Any] = {
    "marker": "s", "markersize": 5, "color": PALETTE["sky"], "markeredgecolor": "black", "linestyle": "none",
}  # fmt: skip
MIDDLE: dict[str, Any] = {
    "marker": "X", "markersize": 10, "color": PALETTE["yellow"], "markeredgecolor": "black", "markeredgewidth": 1.2,
    "linestyle": "none",
}  # fmt: skip


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
        _name(axes, places.find(centres, width, height, inside=1), words)
    for attachment in robot.attachments:
        outline = np.array(attachment.outline)
        (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
        words = shorten(attachment.name, NAME)
        width, height = places.size(words, SMALL)
        inside = _inside(outline, width, height)
        beside = around((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2, 1.1 * width, 1.2 * height)
        _name(axes, places.find([*inside, *beside], width, height, inside=len(inside)), words)


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


def _name(axes: Axes, at: Point, words: str) -> None:
    axes.text(
        *at, words, fontsize=SMALL, ha="center", va="center", zorder=6.6, parse_math=False,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85},
    )  # fmt: skip


# --- from the side -----------------------------------------------------------------------------------------------


def _draw_side(axes: Axes, robot: Robot, answer: BaseAnswer, inches: tuple[float, float]) -> None:
    from matplotlib.patches import Circle, Rectangle

    body, wheel = robot.body, robot.drive.wheel
    parts: list[tuple[str, float, float, Band, dict[str, Any]]] = [
        (
            "body", -body.axle, body.length - body.axle, body.height,
            {"facecolor": BODY, "edgecolor": BODY_EDGE, "linewidth": 1.8, "zorder": 3},
        )
    ]  # fmt: skip
    for attachment in robot.attachments:
        xs = [x for x, _ in attachment.outline]
        parts.append((attachment.name, min(xs), max(xs), attachment.height, _worn_look(attachment.name in answer.wear)))
    known = [end for *_, band, _ in parts for end in band if isfinite(end)]
    high = 0.0 if robot.weight is None else robot.weight.at[2]
    top = 1.18 * max(*known, wheel, high, 1.0)
    xs = [x for _, start, end, *_ in parts for x in (start, end)] + [wheel / 2, -wheel / 2]
    edge = 0.12 * (max(xs) - min(xs))
    places = _frame(
        axes, (min(xs) - edge, -0.06 * top), (max(xs) + edge, top), inches,
        tr("from its right side: x, forward, mm"), tr("height, mm"),
    )  # fmt: skip

    for n, (_, start, end, (bottom, above), look) in enumerate(parts):
        roof = above if isfinite(above) else top
        gid = "side-body" if n == 0 else f"side-attachment-{n}"
        axes.add_patch(Rectangle((start, bottom), end - start, roof - bottom, gid=gid, **look))
    axes.add_patch(
        Circle(
            (0.0, wheel / 2), wheel / 2, facecolor="none", edgecolor=TYRE, linewidth=2.4, linestyle=(0, (4, 1)),
            zorder=4, gid="side-wheel",
        )
    )  # fmt: skip
    axes.axhline(0.0, color="black", linewidth=2.2, zorder=4.2, gid="mat")
    for n, caster in enumerate(robot.casters, 1):
        axes.plot(caster.at[0], 0.0, **CASTER, zorder=5.2, gid=f"side-caster-{n}")
    near = 6 * places.mm_per_point
    places.keep_clear(-wheel / 2, 0.0, wheel / 2, wheel, 1.0)
    if robot.weight is not None:
        x = robot.weight.at[0]
        if answer.tips_over is not None:
            for way, edge_x in zip(("backward", "forward"), answer.tips_over, strict=True):
                axes.plot(
                    [edge_x, x], [0.0, high], color=PALETTE["purple"], linewidth=2, linestyle=(0, (1, 1)), zorder=5,
                    gid=f"tips-{way}",
                )  # fmt: skip
            places.keep_clear(answer.tips_over[0], 0.0, answer.tips_over[1], high, 2.0)
        axes.plot([x, x], [0.0, high], color="black", linewidth=0.8, zorder=4.8, gid="plumb")
        axes.plot(x, high, **MIDDLE, zorder=6.2, gid="side-centre-of-mass")
        places.keep_clear(x - near, high - near, x + near, high + near, 4.0)
    thick = 3 * places.mm_per_point
    places.keep_clear(places.bounds[0], -thick, places.bounds[2], thick, 6.0)
    for _, start, end, band, _ in parts[1:]:
        places.keep_clear(start, band[0], end, min(band[1], top), 0.4)
    for name, start, end, band, _ in parts:
        bottom, roof = band[0], min(band[1], top)
        shown = tr("body") if name == "body" else shorten(name, NAME)
        words = f"{shown}, {_band_words(band)}"
        width, height = places.size(words, SMALL)
        x, middle = (start + end) / 2, (bottom + roof) / 2
        rows = np.linspace(roof - height, bottom + height, 5) if roof - bottom > 2 * height else [middle]
        inside = [(x, float(z)) for z in rows] if 1.05 * width < end - start else []
        beside = around(x, middle, (end - start) / 2, (roof - bottom) / 2, 1.05 * width, 1.3 * height)
        _name(axes, places.find([*inside, *beside], width, height, inside=len(inside)), words)
        if name == "body":
            places.keep_clear(start, bottom, end, roof, 1.0)


def _band_words(band: Band) -> str:
    if not isfinite(band[1]):
        return tr("height not given") if band[0] == 0 else tr("from {bottom:g} mm up", bottom=band[0])
    return tr("{bottom:g} to {top:g} mm", bottom=band[0], top=band[1])


# --- words -------------------------------------------------------------------------------------------------------


def _list(figure: Figure, answer: BaseAnswer, x: float, top: float) -> None:
    figure.text(x / WIDTH, top / HEIGHT, tr("The main numbers"), fontsize=NORMAL, weight="bold", va="top")
    for row, (name, words) in enumerate(LIST, 1):
        y = (top - row * LIST_ROW) / HEIGHT
        number = answer.number(name)
        figure.text(x / WIDTH, y, tr(words), fontsize=NORMAL, va="top")
        figure.text((x + 2.1) / WIDTH, y, amount(number), fontsize=NORMAL, va="top")
    below = []
    if any(answer.number(name).value is None for name, _ in LIST):
        below.append(tr("-: not known, or there is none; the text tells why."))
    if answer.warnings:
        count = len(answer.warnings)
        below.append(tr_many("{n} thing to look at: see the text.", "{n} things to look at: see the text.", count))
    for row, told in enumerate(below, len(LIST) + 1):
        y = (top - (row + 0.2) * LIST_ROW) / HEIGHT
        figure.text(x / WIDTH, y, told, fontsize=NORMAL, weight="bold", va="top")


def _legend(robot: Robot, answer: BaseAnswer) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = [
        Line2D(
            [], [], color=colour, linewidth=1.6, linestyle=style,
            label=tr(words, radius=amount(answer.number(name))),
        )
        for name, words, colour, style in CIRCLES
    ]  # fmt: skip
    handles.append(Patch(facecolor=TYRE, edgecolor="black", label=tr("wheel, from above")))
    handles.append(Line2D([], [], color=TYRE, linewidth=2.4, linestyle=(0, (4, 1)), label=tr("wheel, from the side")))
    handles.append(Line2D([], [], **AXLE, label=tr("middle of the axle")))
    if robot.casters:
        handles.append(Line2D([], [], **CASTER, label=tr("caster")))
    if robot.sensors:
        handles.append(Line2D([], [], **SENSOR, label=tr("light sensor")))
    if robot.weight is not None:
        handles.append(Line2D([], [], **MIDDLE, label=tr("centre of mass")))
    if answer.stands_on:
        handles.append(
            Line2D(
                [],
                [],
                color=PALETTE["purple"],
                linewidth=2,
                linestyle=(0, (1, 1)),
                label=tr("what it stands on, tips over"),
            )
        )
    for worn, words in ((True, tr("attachment, worn")), (False, tr("attachment, not worn"))):
        if any((each.name in answer.wear) == worn for each in robot.attachments):
            handles.append(Patch(**_worn_look(worn), label=words))
    return handles
