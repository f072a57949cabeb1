"""The card of a run on paper: its start drawn large, and the pages to print. All numbers and words are the card's.

Lengths on paper are mm from the upper left corner of the page. Black, grey and one colour for what is measured, with a
line style or a letter for everything a colour tells, so that it prints in grey.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.cards import card_words as words
from fieldsim.cards.card import PAPERS, BlankTable, BlankTests, Card, Step
from fieldsim.cards.card_page import card_html, sheet_html
from fieldsim.cards.paper import (
    GREY,
    HEADING,
    INK,
    MARGIN,
    MM,
    POINT,
    RULE,
    SMALLEST,
    SUBTITLE,
    TITLE,
    Page,
    cut,
    form,
    line_height,
    pdf,
    text_file,
    width_of,
    wrapped,
)
from fieldsim.draw.labels import Places, around
from fieldsim.draw.look import OBSTACLE, OBSTACLE_EDGE, PALETTE, START_AREA, glyphs_missing_are_boxes, plain_style
from fieldsim.draw.swept import add_area, corners_at, footprint_at
from fieldsim.language import tr, tr_as
from fieldsim.lettering import shorten
from fieldsim.model import Run
from fieldsim.report.phrases import no_proof

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# A wall farther from the robot than this is not drawn: its measure points that way. mm.
NEAR_WALL = 220.0


# --- the start ---------------------------------------------------------------------------------------------------


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
        name = f"{side} {noun}"
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
            f"{measure.letter} {words.millimetres(measure.distance)}",
            *([tr("to {wall}", wall=measure.wall)] if cut else []),
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


# --- the card ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Fit:
    """How large things are on a page: the picture's height, mm; type beside it and in the table, points; what is left
    free under each row of the table, mm; rows of the log; columns of what is ticked; and how far
    text stands from the table's columns' edges, mm."""

    picture: float
    beside: float
    table: float
    free: float
    log: int
    ticks: int = 3
    pad: float = 1.6


# From roomy to tight; the first that fits is taken. Only then does a card go on to a second page.
_FITS = (
    _Fit(92, 9.0, 8.5, 1.1, 5), _Fit(84, 8.5, 8.0, 1.1, 5), _Fit(76, 8.0, 7.5, 1.0, 4), _Fit(68, 7.5, 7.0, 1.0, 3),
    _Fit(58, 7.0, 7.0, 0.7, 3, 4, 1.2), _Fit(46, 7.0, 7.0, 0.2, 2, 4, 0.8),
)  # fmt: skip
_MOST_LOG = 8
_TALLEST = 112.0
LOG_ROW = 6.4


def card_pages(run: Run, card: Card) -> list[Figure]:
    """The card's pages at the size of its paper: one, or two and more if its steps do not find room on one."""
    with plain_style():
        for fit in _FITS:
            table = _step_table(card, fit, PAPERS[card.paper][0] - 2 * MARGIN)
            spare = _room_left(card, fit, table)
            if spare >= 0:
                more = min(_MOST_LOG - fit.log, int(spare / LOG_ROW))
                taller = min(_TALLEST, max(fit.picture, _beside_height(card, fit)) + spare - more * LOG_ROW)
                fit = replace(fit, picture=taller, log=fit.log + more)
                page = Page(card.paper)
                y = _head(page, card, 1, 1)
                y = _top(page, run, card, fit, y)
                y = _steps(page, card, table, table.rows, fit, y)
                y = _legend(page, card, y)
                y = _ticks(page, card, fit, y)
                _log(page, card, fit.log, y)
                _foot(page, card)
                return [page.figure]
        return _several(run, card)


def _several(run: Run, card: Card) -> list[Figure]:
    """The start, the ticks and the log on the first page, the steps on those after it."""
    page = Page(card.paper)
    room = page.room
    # Every page may be the last one, and that one bears the legend.
    free = page.bottom - MARGIN - _HEAD - _foot_height(card, room) - _STEPS_HEAD - 2 - _legend_height(card, room)
    laid = [(fit, _step_table(card, fit, room)) for fit in _FITS]
    fit, table = min(laid, key=lambda each: len(_grouped(each[1], free)))
    groups = _grouped(table, free)
    fit = replace(_FITS[0], table=fit.table, free=fit.free, pad=fit.pad)
    count = 1 + len(groups)
    y = _head(page, card, 1, count)
    spare = page.bottom - y - _ticks_height(card, fit) - _LOG_HEAD - _foot_height(card, room) - fit.log * LOG_ROW - 4
    taller = min(_TALLEST, spare)
    y = _top(page, run, card, replace(fit, picture=taller), y)
    y = _ticks(page, card, fit, y)
    log = int((page.bottom - y - _LOG_HEAD - _foot_height(card, room)) / LOG_ROW)
    _log(page, card, max(fit.log, min(2 * _MOST_LOG, log)), y)
    _foot(page, card)
    figures = [page.figure]
    for number, group in enumerate(groups, 2):
        page = Page(card.paper)
        y = _head(page, card, number, count)
        y = _steps(page, card, table, group, fit, y)
        if number == count:
            _legend(page, card, y)
        _foot(page, card)
        figures.append(page.figure)
    return figures


def _grouped(table: _Table, free: float) -> list[list[_Row]]:
    """The rows on each page, if each has room for ``free`` mm of them."""
    groups: list[list[_Row]] = [[]]
    used = 0.0
    for row in table.rows:
        if used + row.height > free and groups[-1]:
            groups.append([])
            used = 0.0
        groups[-1].append(row)
        used += row.height
    return groups


_HEAD = 14.0
_STEPS_HEAD = 13.0
_LOG_HEAD = 10.0
_GAP = 2.5


def _room_left(card: Card, fit: _Fit, table: _Table) -> float:
    """mm that are left on one page; negative if it does not fit."""
    width, height = PAPERS[card.paper]
    room = width - 2 * MARGIN
    return (
        height - 2 * MARGIN - _HEAD - max(fit.picture, _beside_height(card, fit)) - _GAP - _STEPS_HEAD
        - table.height - _legend_height(card, room) - _ticks_height(card, fit) - _LOG_HEAD
        - fit.log * LOG_ROW - _foot_height(card, room)
    )  # fmt: skip


def _head(page: Page, card: Card, number: int, count: int) -> float:
    right = words.page_words(number, count)
    page.write(page.width - MARGIN, MARGIN, right, 8.0, ha="right", color=GREY)
    room = page.room - width_of(right, 8.0, False) - 4
    page.write(MARGIN, MARGIN, cut(words.title(card), room, TITLE, True), TITLE, bold=True)
    page.write(
        MARGIN, MARGIN + line_height(TITLE) - 0.5, cut(words.subtitle(card), page.room, SUBTITLE), SUBTITLE, color=GREY
    )
    return MARGIN + _HEAD


def _picture_width(room: float) -> float:
    return 0.52 * room


def _beside(card: Card, size: float) -> list[tuple[str, list[str], str]]:
    """What stands beside the picture: headings, their points, and the mark before each point."""
    found = [(tr(words.SET_IT), words.start_words(card), ""), (tr(words.ODDS), words.odds_words(card), "")]
    watch = words.watch_words(card)
    return [*found, (tr(words.WATCH), watch, "- ")] if watch else found


def _beside_lines(card: Card, size: float, room: float) -> list[tuple[str, list[list[str]], str]]:
    return [
        (title, [wrapped(point, room - width_of(mark, size, False), size) for point in points], mark)
        for title, points, mark in _beside(card, size)
    ]


def _beside_height(card: Card, fit: _Fit) -> float:
    room = _beside_room(PAPERS[card.paper][0] - 2 * MARGIN)
    height = 0.0
    for _, points, _ in _beside_lines(card, fit.beside, room):
        height += line_height(HEADING) + 1.6 + sum(len(point) * line_height(fit.beside) + 0.5 for point in points)
    return height


def _beside_room(room: float) -> float:
    return room - _picture_width(room) - 4


def _top(page: Page, run: Run, card: Card, fit: _Fit, y: float) -> float:
    """The picture, and beside it how to set the robot, the odds and what to watch."""
    width = _picture_width(page.room)
    height = max(fit.picture, _beside_height(card, fit))
    draw_start(page.inset(MARGIN, y, width, height), run, card, width, height)
    x, at = MARGIN + width + 4, y
    for title, points, mark in _beside_lines(card, fit.beside, _beside_room(page.room)):
        page.write(x, at, title, HEADING, bold=True)
        at += line_height(HEADING) + 0.4
        for point in points:
            if mark:
                page.write(x, at, mark.strip(), fit.beside)
            at = page.lines(x + width_of(mark, fit.beside, False), at, point, fit.beside) + 0.5
        at += 1.2
    return y + height + _GAP


@dataclass(frozen=True)
class _Row:
    """A step's row: its cells as lines, in the order of the columns; and how tall it is, mm."""

    number: int
    cells: tuple[tuple[str, ...], ...]
    height: float


@dataclass(frozen=True)
class _Column:
    group: str
    name: str
    width: float
    """mm."""
    side: str
    """Where its text stands: 'left' or 'right'."""


@dataclass(frozen=True)
class _Table:
    columns: tuple[_Column, ...]
    rows: tuple[_Row, ...]

    @property
    def height(self) -> float:
        return sum(row.height for row in self.rows)


# How much of the room for words 'what it does' may take: the share that makes the table least tall is taken.
_DOES = (0.46, 0.42, 0.5, 0.38, 0.54, 0.34, 0.58)


def _step_table(card: Card, fit: _Fit, room: float) -> _Table:
    """The steps: columns of numbers as wide as they need, the rest for words."""
    size = fit.table
    left, right, does, seen = tr("left"), tr("right"), tr("what it does"), tr("what must be seen")
    groups = [tr("wheel degrees"), *([tr("motor degrees")] if card.gear != 1 else [])]
    turns = [(group, side) for group in groups for side in (left, right)]
    names = [("", ""), ("", does), *turns, ("", tr("speed")), ("", tr_as("unit", "s")), ("", tr("clock")), ("", seen)]
    cells = [_step_cells(card, step) for step in card.steps]
    widths = []
    for column, (_, name) in enumerate(names):
        written = [width_of(text, size, name == "") for row in cells for text in row[column]]
        # Under a shared heading two columns have to be at least as wide as that.
        least = 11.0 if names[column][0] else 5.0
        widths.append(max([least, width_of(name, SMALLEST, False), *written]) + 2 * fit.pad)
    words_of = (1, len(names) - 1)
    rest = room - sum(width for column, width in enumerate(widths) if column not in words_of)

    def laid(share: float) -> _Table:
        wide = {words_of[0]: rest * share, words_of[1]: rest * (1 - share)}
        columns = tuple(
            _Column(group, name, wide.get(n, widths[n]), "left" if n in words_of else "right")
            for n, (group, name) in enumerate(names)
        )
        rows = []
        for step, texts in zip(card.steps, cells, strict=True):
            lines = [
                tuple(line for text in points for line in wrapped(text, column.width - 2 * fit.pad, size))
                for column, points in zip(columns, texts, strict=True)
            ]
            rows.append(_Row(step.number, tuple(lines), max(map(len, lines)) * line_height(size) + fit.free))
        return _Table(columns, tuple(rows))

    return min(map(laid, _DOES), key=lambda table: table.height)


def _step_cells(card: Card, step: Step) -> list[list[str]]:
    turns = list(words.turns_words(step.wheels, step))
    if card.gear != 1:
        turns += words.turns_words(step.motors, step)
    seconds, clock = words.time_words(step)
    seen = [f"{words.BOX} {point}" for point in words.seen_words(card, step.number)]
    values = [words.speed_words(step), seconds, clock]
    return [[str(step.number)], [words.step_words(step)], *([turn] for turn in turns), *([v] for v in values), seen]


def _steps(page: Page, card: Card, table: _Table, rows: Sequence[_Row], fit: _Fit, y: float) -> float:
    """Those rows of the table."""
    columns = table.columns
    page.write(MARGIN, y, words.steps_title(card), HEADING, bold=True)
    y += line_height(HEADING) + 0.5
    edges = MARGIN + np.concatenate([[0.0], np.cumsum([column.width for column in columns])])
    groups = [column.group for column in columns]
    for group in dict.fromkeys(group for group in groups if group):
        first, last = groups.index(group), len(groups) - groups[::-1].index(group)
        page.write((edges[first] + edges[last]) / 2, y, group, SMALLEST, ha="center", color=GREY)
        page.rule(edges[first] + fit.pad, y + 3.1, edges[last] - fit.pad, y + 3.1, 0.4)
    y += 3.4
    spots = [
        x + column.width - fit.pad if column.side == "right" else x + fit.pad
        for column, x in zip(columns, edges, strict=False)
    ]
    for column, x in zip(columns, spots, strict=True):
        page.write(x, y, column.name, SMALLEST, ha=column.side, color=GREY)
    y += line_height(SMALLEST) + 0.6
    page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
    for index, row in enumerate(rows):
        if index % 2:
            page.shade(MARGIN, y, page.room, row.height)
        for column, x, lines in zip(columns, spots, row.cells, strict=True):
            page.lines(x, y + fit.free / 3, lines, fit.table, bold=column.name == "", ha=column.side)
        y += row.height
    page.rule(MARGIN, y, MARGIN + page.room, y, 0.9, INK)
    return y + 1.0


def _legend_lines(card: Card, room: float) -> list[str]:
    text = " ".join([*words.formula_words(card), *([tr(words.GAPS_MEAN)] if card.gaps else [])])
    return wrapped(text, room, SMALLEST)


def _legend_height(card: Card, room: float) -> float:
    return len(_legend_lines(card, room)) * line_height(SMALLEST) + 3.0


def _legend(page: Page, card: Card, y: float) -> float:
    return page.lines(MARGIN, y, _legend_lines(card, page.room), SMALLEST, color=GREY) + 2.0


def _tick_size(fit: _Fit) -> float:
    return 8.0 if fit.ticks == 3 else SMALLEST


def _ticks_height(card: Card, fit: _Fit) -> float:
    rows = -(-len(words.tick_words(card)) // fit.ticks)
    return line_height(HEADING) + 0.5 + rows * (line_height(_tick_size(fit)) + 0.6) + _GAP


def _ticks(page: Page, card: Card, fit: _Fit, y: float) -> float:
    """What to tick before the start, down the columns."""
    points = words.tick_words(card)
    rows = -(-len(points) // fit.ticks)
    page.write(MARGIN, y, tr(words.BEFORE), HEADING, bold=True)
    y += line_height(HEADING) + 0.5
    room, size = page.room / fit.ticks, _tick_size(fit)
    step = line_height(size) + 0.6
    for index, point in enumerate(points):
        column, row = divmod(index, rows)
        text = cut(f"{words.BOX} {point}", room - 2, size)
        page.write(MARGIN + column * room, y + row * step, text, size)
    return y + rows * step + _GAP


def _log(page: Page, card: Card, rows: int, y: float) -> float:
    title = tr(words.HAPPENED)
    page.write(MARGIN, y, title, HEADING, bold=True)
    x = MARGIN + width_of(title, HEADING, True) + 3
    page.write(x, y + 0.7, cut(tr(words.HINT_RESULT), page.width - MARGIN - x, SMALLEST), SMALLEST, color=GREY)
    y += line_height(HEADING) + 0.8
    return form(page, card.log_columns, words.log_rows(card, rows), y, LOG_ROW, lines=1)


def _foot_lines(card: Card, room: float) -> list[str]:
    return wrapped(f"{words.made_words(card)}. {no_proof()}", room, SMALLEST)


def _foot_height(card: Card, room: float) -> float:
    return len(_foot_lines(card, room)) * line_height(SMALLEST) + 1.5


def _foot(page: Page, card: Card) -> None:
    lines = _foot_lines(card, page.room)
    page.lines(MARGIN, page.bottom - len(lines) * line_height(SMALLEST), lines, SMALLEST, color=GREY)


# --- the test sheet ------------------------------------------------------------------------------------------------


TEST_ROW = 6.2


def sheet_pages(sheet: BlankTests) -> list[Figure]:
    """The blank test sheet's pages."""
    with plain_style():
        width, height = PAPERS[sheet.paper]
        room = width - 2 * MARGIN
        top = MARGIN + _HEAD
        first = top + sum(len(wrapped(text, room, 8.0)) * line_height(8.0) + 1.0 for text in _sheet_notes(sheet)) + 1.5
        groups: list[list[BlankTable]] = [[]]
        y = first
        for each in sheet.tables:
            tall = _test_height(each, room)
            if y + tall > height - MARGIN - 2 * line_height(SMALLEST) - 1 and groups[-1]:
                groups.append([])
                y = top
            groups[-1].append(each)
            y += tall
        figures = []
        for number, group in enumerate(groups, 1):
            page = Page(sheet.paper)
            right = words.page_words(number, len(groups))
            page.write(page.width - MARGIN, MARGIN, right, 8.0, ha="right", color=GREY)
            title = cut(words.sheet_title(sheet), room - width_of(right, 8.0, False) - 4, 15.0, True)
            page.write(MARGIN, MARGIN, title, 15.0, bold=True)
            page.write(MARGIN, MARGIN + line_height(15.0), words.sheet_speeds(sheet), SUBTITLE, color=GREY)
            y = top
            if number == 1:
                for text in _sheet_notes(sheet):
                    y = page.lines(MARGIN, y, wrapped(text, room, 8.0), 8.0) + 1.0
                y += 1.5
            for each in group:
                page.write(MARGIN, y, tr(words.TEST_NAMES[each.kind]), HEADING, bold=True)
                y += line_height(HEADING) + 0.4
                y = page.lines(MARGIN, y, wrapped(tr(words.TEST_STEPS[each.kind]), room, 7.5), 7.5) + 0.6
                y = form(page, each.columns, each.rows, y, TEST_ROW, lines=2) + 3.0
            foot = wrapped(words.sheet_made(sheet), room, SMALLEST)
            page.lines(MARGIN, page.bottom - len(foot) * line_height(SMALLEST), foot, SMALLEST, color=GREY)
            figures.append(page.figure)
        return figures


def _sheet_notes(sheet: BlankTests) -> tuple[str, ...]:
    return (tr(words.TEST_CARE), tr(words.TEST_SIGNS))


def _test_height(each: BlankTable, room: float) -> float:
    text = len(wrapped(tr(words.TEST_STEPS[each.kind]), room, 7.5)) * line_height(7.5)
    return line_height(HEADING) + 1.0 + text + 2 * line_height(SMALLEST) + 1.0 + len(each.rows) * TEST_ROW + 3.0


def card_file(run: Run, card: Card, form: str) -> bytes:
    """The card as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form == "pdf":
        return pdf(card_pages(run, card), words.document_title(card))
    if form == "html":
        return card_html(card, start_svg(run, card)).encode()
    return text_file(words.card_text(card), form)


def sheet_file(sheet: BlankTests, form: str) -> bytes:
    """The blank test sheet as a file: 'pdf', 'html' or 'txt'.

    Raises ValueError for another form.
    """
    if form == "pdf":
        return pdf(sheet_pages(sheet), words.sheet_title(sheet))
    if form == "html":
        return sheet_html(sheet).encode()
    return text_file(words.sheet_text(sheet), form)
