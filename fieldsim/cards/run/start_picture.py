"""The start of a run drawn large: the robot as it stands, what holds it, and what a ruler measures.

Lengths on paper are mm from the upper left corner of the page. Black, grey and one colour for what is measured, with a
line style or a letter for everything a colour tells, so that it prints in grey.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.cards.paper import (
    INK,
    MM,
    POINT,
    RULE,
    SMALLEST,
)
from fieldsim.cards.run.card import Card
from fieldsim.cards.run.start_words import thing_words
from fieldsim.cards.run.words import millimetres
from fieldsim.draw.labels import Places, around
from fieldsim.draw.look import OBSTACLE, OBSTACLE_EDGE, PALETTE, START_AREA, glyphs_missing_are_boxes, plain_style
from fieldsim.draw.swept import add_area, corners_at, footprint_at
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.model import Run

if TYPE_CHECKING:
    from matplotlib.axes import Axes


# A wall farther from the robot than this is not drawn: its measure points that way. mm.
NEAR_WALL = 220.0


def start_svg(run: Run, card: Card, width: float = 120.0, height: float = 105.0) -> str:
    """The start's picture alone, an SVG element of ``width`` by ``height`` mm."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from fieldsim.draw import svg_element

    with plain_style(), glyphs_missing_are_boxes():
        figure = Figure(figsize=(width / MM, height / MM), facecolor="white")
        FigureCanvasAgg(figure)
        draw_start(figure.add_axes((0, 0, 1, 1)), run, card, width, height)
    return svg_element(figure)


def draw_start(axes: Axes, run: Run, card: Card, width: float, height: float) -> None:
    """The robot in its start, from above, into axes of ``width`` by ``height`` mm of paper."""
    from fieldsim.sim.shapes import body_corners, footprint, polygon, worn

    pose = card.start.pose
    wear = () if card.bare else run.wear
    whole = footprint_at(footprint(run.robot, wear), pose)
    x0, y0, x1, y1, scale = _view(run, card, whole.bounds, width, height)
    axes.set_label("start")
    axes.set_xlim(x0, x1)
    axes.set_ylim(y0, y1)
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set(edgecolor=RULE, linewidth=0.6)
    places = Places(x1 - x0, y1 - y0, POINT * scale)
    edge = 2 * scale
    places.bounds = (x0 + edge, y0 + edge, x1 - edge, y1 - edge)

    for n, area in enumerate(run.field.start_areas, 1):
        add_area(
            axes, polygon(area.shape), f"area-{n}", facecolor=START_AREA, edgecolor="#777777", linestyle=":", zorder=0.5
        )
    _walls(axes, run, places, (x0, y0, x1, y1), scale)
    body = corners_at(body_corners(run.robot.body), pose)
    for attachment in worn(run.robot, wear):
        ring = corners_at(np.array(attachment.outline), pose)
        axes.fill(*ring.T, facecolor="#cfe8f7", edgecolor=PALETTE["blue"], linewidth=1.2, zorder=3.4)
    axes.fill(*body.T, facecolor="white", edgecolor=INK, linewidth=2.0, zorder=3.5, joinstyle="miter", alpha=0.85)
    axes.fill(*body.T, facecolor="none", edgecolor=INK, linewidth=2.0, zorder=3.6, joinstyle="miter")
    _inside(axes, run, pose)
    # Names may lie in the robot, but not on its edges.
    for a, b in zip(body, np.roll(body, -1, axis=0), strict=True):
        for u in np.linspace(0, 1, 25):
            x, y = a + u * (b - a)
            places.keep_clear(x - scale, y - scale, x + scale, y + scale, 1.0)
    _jig(axes, run, card, places, scale)
    _measures(axes, card, places, (x0, y0, x1, y1), scale)
    # What belongs to neither the robot nor its jig is not to be named inside it.
    low, high = body.min(axis=0), body.max(axis=0)
    places.keep_clear(low[0], low[1], high[0], high[1], 2.0)
    for n, attachment in enumerate(worn(run.robot, wear), 1):
        ring = corners_at(np.array(attachment.outline), pose)
        _name(axes, places, shorten(attachment.name, 18), ring, f"attachment-name-{n}", scale, 7.5, weight="bold")
    _obstacles(axes, run, places, (x0, y0, x1, y1), scale)


def _view(
    run: Run, card: Card, bounds: tuple[float, float, float, float], width: float, height: float
) -> tuple[float, float, float, float, float]:
    """What part of the field is shown, and how many mm of the field one mm of paper is."""
    w, d = run.field.size
    x0, y0, x1, y1 = bounds
    size = max(x1 - x0, y1 - y0)
    reach = 0.45 * size
    walls = {
        "left": (0, 0.0), "right": (1, w), "near": (2, 0.0), "far": (3, d),
    }  # fmt: skip
    ends = [x0, x1, y0, y1]
    for measure in card.start.measures:
        index, place = walls[measure.wall.split()[0]]
        outwards = -1.0 if index % 2 == 0 else 1.0
        if abs(measure.distance) <= NEAR_WALL:
            ends[index] = min(ends[index], place) if outwards < 0 else max(ends[index], place)
        else:
            ends[index] += outwards * reach
    rough = max((ends[1] - ends[0]) / width, (ends[3] - ends[2]) / height)
    pad = 9.0 * rough
    ends = [ends[0] - pad, ends[1] + pad, ends[2] - pad, ends[3] + pad]
    scale = max((ends[1] - ends[0]) / width, (ends[3] - ends[2]) / height)
    across, up = (width * scale - (ends[1] - ends[0])) / 2, (height * scale - (ends[3] - ends[2])) / 2
    return ends[0] - across, ends[2] - up, ends[1] + across, ends[3] + up, scale


def _walls(axes: Axes, run: Run, places: Places, view: tuple[float, float, float, float], scale: float) -> None:
    from matplotlib.patches import Rectangle

    w, d = run.field.size
    x0, y0, x1, y1 = view
    thick = 3.2 * scale
    open_board = run.field.walls is None
    noun = "edge" if open_board else "wall"
    for side, at, low, high in (("left", 0.0, x0, y0), ("right", w, x1, y0), ("near", 0.0, y0, x0), ("far", d, y1, x0)):
        upright = side in ("left", "right")
        span = (x0, x1) if upright else (y0, y1)
        if not span[0] < at < span[1]:
            continue
        outer = at - thick if side in ("left", "near") else at
        # Walls end where the field does.
        along = (max(y0, -thick), min(y1, d + thick)) if upright else (max(x0, -thick), min(x1, w + thick))
        corner = (outer, along[0]) if upright else (along[0], outer)
        size = (thick, along[1] - along[0]) if upright else (along[1] - along[0], thick)
        axes.add_patch(
            Rectangle(
                corner, *size, facecolor="white" if open_board else "#555555", edgecolor=INK, linewidth=0.8,
                linestyle="--" if open_board else "-", zorder=2.0, gid=f"wall-{side}",
            )
        )  # fmt: skip
        # Beyond the wall there is nothing to cover: its name goes there.
        middle = (along[0] + along[1]) / 2
        away = at + (-1 if side in ("left", "near") else 1) * (thick + 2.6 * scale)
        name = thing_words(f"{side} {noun}")
        axes.text(
            *((away, middle) if upright else (middle, away)), name, fontsize=7.5, ha="center", va="center", color=INK,
            rotation=90 if upright else 0, zorder=6, gid=f"wall-name-{side}",
        )  # fmt: skip
        if upright:
            places.keep_clear(min(low, at), y0, max(low, at), y1, 4.0)
        else:
            places.keep_clear(x0, min(low, at), x1, max(low, at), 4.0)
        del high


def _inside(axes: Axes, run: Run, pose: Sequence[float]) -> None:
    """Wheels, the middle of the axle, and an arrow to the front."""
    body, drive = run.robot.body, run.robot.drive
    half, tyre = drive.wheel / 2, min(14.0, drive.track / 6)
    for side in (1, -1):
        y = side * drive.track / 2
        ring = np.array([(-half, y - tyre / 2), (half, y - tyre / 2), (half, y + tyre / 2), (-half, y + tyre / 2)])
        axes.fill(*corners_at(ring, pose).T, facecolor="#bbbbbb", edgecolor="#666666", linewidth=0.6, zorder=3.7)
    front = body.length - body.axle
    tail, tip = corners_at(np.array([(0.15 * front - 0.3 * body.axle, 0.0), (0.92 * front, 0.0)]), pose)
    axes.annotate(
        "", tuple(tip), tuple(tail), zorder=3.8,
        arrowprops={
            "arrowstyle": "-|>,head_width=0.45,head_length=0.8", "color": INK, "linewidth": 2.4, "shrinkA": 0,
            "shrinkB": 0,
        },
    )  # fmt: skip
    middle = corners_at(np.array([(0.0, 0.0)]), pose)[0]
    axes.plot(*middle, marker="o", markersize=4.5, color=INK, markerfacecolor="white", zorder=3.9, gid="axle")


def _jig(axes: Axes, run: Run, card: Card, places: Places, scale: float) -> None:
    """The held corner, with a bracket around it."""
    import matplotlib.patheffects as effects

    if card.start.held_at is None or card.start.holds is None:
        return
    end, side = card.start.holds.split()
    h = radians(card.start.pose[2])
    ahead, left = np.array([cos(h), sin(h)]), np.array([-sin(h), cos(h)])
    inwards = ahead if end == "rear" else -ahead
    across = left if side == "right" else -left
    corner = np.array(card.start.held_at) - 0.9 * scale * (inwards + across)
    bracket = np.array([corner + inwards * 9 * scale, corner, corner + across * 9 * scale])
    axes.plot(
        *bracket.T, color=PALETTE["orange"], linewidth=4.2, solid_capstyle="butt", solid_joinstyle="miter", zorder=5.0,
        path_effects=[effects.withStroke(linewidth=6.4, foreground=INK)], gid="jig",
    )  # fmt: skip
    x, y = card.start.held_at
    r = 2.0 * scale
    places.keep_clear(x - r, y - r, x + r, y + r, 2.0)
    name = tr("jig: {jig}", jig=shorten(card.start.jig or "", 20))
    body = run.robot.body
    size = 8.0 if places.size(name, 8.0, True)[0] < min(body.width, body.length) - 12 * scale else SMALLEST
    width, height = places.size(name, size, bold=True)
    inner = np.array([x, y]) + (inwards + across) * 6 * scale
    spots = [
        (float(p[0]), float(p[1]))
        for k in (1.0, 1.5, 2.0)
        for p in (
            inner + k * (np.sign(inwards + across) * (width / 2, height / 2)),
            inner + k * (np.sign(inwards - across) * (width / 2, height / 2)),
        )
    ]
    x, y = places.find(spots, width, height)
    _label(axes, x, y, name, size, "jig-name", weight="bold")


def _label(axes: Axes, x: float, y: float, text: str, size: float, gid: str, **look: Any) -> None:
    axes.text(
        x, y, text, fontsize=size, ha="center", va="center", zorder=6.5, gid=gid, parse_math=False,
        bbox={"boxstyle": "square,pad=0.12", "facecolor": "white", "edgecolor": "none", "alpha": 0.9}, **look,
    )  # fmt: skip


def _measures(axes: Axes, card: Card, places: Places, view: tuple[float, float, float, float], scale: float) -> None:
    x0, y0, x1, y1 = view
    red = "#a33f00"
    for measure in card.start.measures:
        x, y = measure.at
        axes.plot(x, y, marker="o", markersize=5, color=red, zorder=5.6, gid=f"corner-{measure.letter}")
        dot = 1.2 * scale
        places.keep_clear(x - dot, y - dot, x + dot, y + dot, 30.0)
    for measure in card.start.measures:
        x, y = measure.at
        upright = measure.wall.startswith(("near", "far"))
        begin = y if upright else x
        towards = -1.0 if measure.wall.startswith(("left", "near")) else 1.0
        far = begin + towards * measure.distance
        low, high = (y0, y1) if upright else (x0, x1)
        # The wall is out of the picture: the arrow only points there, and its label says where to.
        cut = not low < far < high
        end = (low + 3 * scale if towards < 0 else high - 3 * scale) if cut else far
        lines = [
            f"{measure.letter} {millimetres(measure.distance)}",
            *([tr("to {wall}", wall=thing_words(measure.wall))] if cut else []),
        ]

        def taken(size: float, lines: Sequence[str] = lines) -> tuple[float, float]:
            wide = [places.size(line, size, bold=True) for line in lines]
            return max(w for w, _ in wide), sum(h for _, h in wide)

        length = abs(end - begin)
        touches = abs(measure.distance) < 0.05
        if not touches:
            axes.annotate(
                "", (x, y), (x, end) if upright else (end, y), zorder=5.5,
                arrowprops={
                    "arrowstyle": "<|-" if cut else "<|-|>,head_width=0.22,head_length=0.45", "color": red,
                    "linewidth": 1.2, "shrinkA": 0, "shrinkB": 0,
                },
            )  # fmt: skip
        # Smaller where the arrow would be hidden by it.
        size = next((size for size in (9.0, 8.0) if taken(size)[upright] + 5 * scale < length), 7.5)
        width, height = taken(size)
        middle = (begin + end) / 2
        at = (x, middle) if upright else (middle, y)
        spots: list[Any] = []
        if not touches and (height if upright else width) + 5 * scale < length:
            spots.append(at)
        spots += around(*at, 1.0 * scale, 1.0 * scale, width, height)
        spots += around(x, y, 2.5 * scale, 2.5 * scale, width, height)
        a, b = places.find(spots, width, height)
        _label(axes, a, b, "\n".join(lines), size, f"measure-{measure.letter}", weight="bold", color=red)


def _name(axes: Axes, places: Places, text: str, ring: Any, gid: str, scale: float, size: float, **look: Any) -> None:
    width, height = places.size(text, size, "weight" in look)
    low, high = ring.min(axis=0), ring.max(axis=0)
    x, y = (low + high) / 2
    half_x, half_y = (high - low) / 2
    inside = half_x * 2 > width and half_y * 2 > height
    spots = ([(x, y)] if inside else []) + around(x, y, half_x + scale, half_y + scale, width, height)
    x, y = places.find(spots, width, height, inside=int(inside))
    _label(axes, x, y, text, size, gid, **look)


def _obstacles(axes: Axes, run: Run, places: Places, view: tuple[float, float, float, float], scale: float) -> None:
    import shapely

    from fieldsim.sim.shapes import polygon

    x0, y0, x1, y1 = view
    edge = 3 * scale
    window = shapely.box(max(x0, 0) + edge, max(y0, 0) + edge, x1 - edge, y1 - edge)
    for n, obstacle in enumerate(run.field.obstacles, 1):
        shape = polygon(obstacle.shape)
        seen = shape.intersection(window)
        add_area(axes, shape, f"obstacle-{n}", facecolor=OBSTACLE, edgecolor=OBSTACLE_EDGE, linewidth=0.9, zorder=2.5)
        if seen.is_empty or seen.area < (2 * scale) ** 2:
            continue
        a, b, c, e = seen.bounds
        _name(axes, places, shorten(obstacle.name, 18), np.array([(a, b), (c, e)]), f"obstacle-name-{n}", scale, 7.5)
