"""The run from above on its card: numbered legs, the start and the end, what stands there, and where it is tight.

Lengths on paper are mm. Black, grey and few colours, each with a line style or a letter besides, so that it prints in
grey.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.cards.paper import INK, MM, POINT
from fieldsim.cards.run.card import Card
from fieldsim.cards.run.watch import Gap
from fieldsim.cards.run.words import millimetres
from fieldsim.draw.labels import Places, around
from fieldsim.draw.look import (
    OBSTACLE,
    OBSTACLE_EDGE,
    PALETTE,
    START_AREA,
    SWEPT,
    glyphs_missing_are_boxes,
    plain_style,
)
from fieldsim.draw.map_names import keep_lines_clear, write_numbers
from fieldsim.draw.swept import Points, add_area, footprint_at, poses_along, reach_of, swept_ground
from fieldsim.lettering import shorten
from fieldsim.model import Act, Run
from fieldsim.rounding import rounded_down
from fieldsim.sim.plan import bare, plan
from fieldsim.sim.sample import PathSample
from fieldsim.sim.trials import planned_sample

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.sim.shapes import Part

NUMBER, LETTER, NAME, STRIP = 10.0, 11.0, 9.0, 9.0
NAME_CELLS = 20
# More names than these on one plan hide the run: then only those that matter to it are written.
MOST_NAMES = 14
# From this gap on, left in 19 of 20 trials, a place is not told of on the plan, mm. Common practice, no source.
CAUTION = 20.0
# A leg shorter than this on paper bears no arrow, mm.
ARROW = 6.0
WALL = 1.2


def plan_size(run: Run, width: float, most: float) -> tuple[float, float]:
    """Width and height of the plan on paper, mm, if it has room ``width`` wide and ``most`` high."""
    w, d = run.field.size
    edge = 2 * WALL
    scale = min((width - edge) / w, (most - edge) / d)
    return w * scale + edge, d * scale + edge


def draw_plan(axes: Axes, run: Run, card: Card, width: float, height: float) -> None:
    """The plan into axes of ``plan_size``."""
    from fieldsim.sim.shapes import footprint

    if card.bare:
        run = bare(run)
    w, d = run.field.size
    scale = w / (width - 2 * WALL)
    sample = planned_sample(plan(run))
    parts = footprint(run.robot, run.wear)
    along = poses_along(sample, reach_of(parts))
    places = Places(w, d, POINT * scale)
    axes.set_label("plan")
    axes.set_xlim(-WALL * scale, w + WALL * scale)
    axes.set_ylim(-WALL * scale, d + WALL * scale)
    axes.axis("off")
    _ground(axes, run)
    swept = swept_ground(parts, along)
    if swept is not None:
        add_area(axes, swept, "swept", facecolor=SWEPT, edgecolor=PALETTE["sky"], linewidth=0.6, zorder=1.0)
    _obstacles(axes, run)
    _path(axes, along, sample, scale)
    _ends(axes, parts, sample)
    _frame(axes, run, scale)
    keep_lines_clear(places, run, along)
    for pose, weight in ((sample.nominal[0], 2.0), (sample.nominal[-1], 1.0)):
        x0, y0, x1, y1 = footprint_at(parts, pose).bounds
        places.keep_clear(x0, y0, x1, y1, weight)
    _gaps(axes, run, card, places, scale)
    hot = {gap.step for gap in card.gaps if gap.left is not None and gap.left <= 0}
    write_numbers(axes, run.field.size, len(card.steps), hot, sample, along, places, NUMBER)
    _names(axes, run, card, places, scale)


def _frame(axes: Axes, run: Run, scale: float) -> None:
    from matplotlib.patches import Rectangle

    w, d = run.field.size
    open_board = run.field.walls is None
    edge = WALL * scale / 2
    axes.add_patch(
        Rectangle(
            (-edge, -edge), w + 2 * edge, d + 2 * edge, fill=False, edgecolor=INK,
            linestyle="--" if open_board else "-", linewidth=1.0 if open_board else WALL / POINT, joinstyle="miter",
            zorder=6, gid="walls",
        )
    )  # fmt: skip


def _ground(axes: Axes, run: Run) -> None:
    from matplotlib.patches import Circle

    from fieldsim.sim.shapes import polygon

    for n, area in enumerate(run.field.start_areas, 1):
        add_area(
            axes, polygon(area.shape), f"start-area-{n}", facecolor=START_AREA, edgecolor="#777777", linewidth=0.7,
            linestyle=":", zorder=0.5,
        )  # fmt: skip
    aimed = _aimed(run)
    for n, target in enumerate(run.field.targets, 1):
        if target.name in aimed:
            axes.add_patch(
                Circle(
                    target.at, target.within, facecolor="none", edgecolor=PALETTE["green"], linewidth=1.6,
                    linestyle=(0, (3, 1)), zorder=4.2, gid=f"target-{n}",
                )
            )  # fmt: skip
            axes.plot(*target.at, marker="+", markersize=6, color=PALETTE["green"], zorder=4.2)


def _aimed(run: Run) -> set[str]:
    return {segment.target for segment in run.segments if isinstance(segment, Act)}


def _obstacles(axes: Axes, run: Run) -> None:
    from fieldsim.sim.shapes import footprint, meet, polygon, solids

    parts = footprint(run.robot, run.wear)
    for n, (obstacle, solid) in enumerate(zip(run.field.obstacles, solids(run.field), strict=False), 1):
        met = any(meet(part, solid) for part in parts)
        add_area(
            axes, polygon(obstacle.shape), f"obstacle-{n}", facecolor=OBSTACLE if met else "none",
            edgecolor=OBSTACLE_EDGE if met else "#777777", linewidth=0.9, linestyle="-" if met else "--",
            hatch=None if met else "///", zorder=2.0 if met else 1.2,
        )  # fmt: skip


def _path(axes: Axes, along: Sequence[Points], sample: PathSample, scale: float) -> None:
    """The way of the axle's middle, with an arrow on each leg that has room for one."""
    for number in sorted(set(sample.segment.tolist())):
        mine = [poses for poses, segment in zip(along, sample.segment, strict=True) if segment == number]
        line = np.concatenate(mine)[:, :2]
        axes.plot(*line.T, color="white", linewidth=4.0, zorder=3.1, solid_capstyle="round")
        axes.plot(
            *line.T, color=PALETTE["blue"], linewidth=2.2, zorder=3.2, solid_capstyle="round", gid=f"leg-{number}"
        )
        steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        if steps[-1] < ARROW * scale:
            continue
        tail, tip = (
            (float(np.interp(u * steps[-1], steps, line[:, 0])), float(np.interp(u * steps[-1], steps, line[:, 1])))
            for u in (0.74, 0.74 + 2.0 * scale / steps[-1])
        )
        axes.annotate(
            "", tip, tail, zorder=3.4,
            arrowprops={
                "arrowstyle": "-|>,head_width=0.35,head_length=0.6", "color": PALETTE["blue"], "linewidth": 2.2,
                "shrinkA": 0, "shrinkB": 0,
            },
        )  # fmt: skip


def _ends(axes: Axes, parts: Sequence[Part], sample: PathSample) -> None:
    """The robot where it starts, whole; where it ends, dashed; an arrow to its front in both."""
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "zorder": 3.6}
    add_area(axes, footprint_at(parts, sample.nominal[0]), "start", linewidth=2.0, **look)
    add_area(axes, footprint_at(parts, sample.nominal[-1]), "end", linewidth=1.6, linestyle=(0, (3, 1.5)), **look)
    ahead = max(float(part.points[:, 0].max()) for part in parts if part.of == "body")
    for pose in (sample.nominal[0], sample.nominal[-1]):
        h = np.radians(pose[2])
        tip = pose[:2] + 0.9 * ahead * np.array([np.cos(h), np.sin(h)])
        axes.annotate(
            "", tuple(tip), tuple(pose[:2]), zorder=3.7,
            arrowprops={
                "arrowstyle": "-|>,head_width=0.3,head_length=0.5", "color": INK, "linewidth": 1.4, "shrinkA": 0,
                "shrinkB": 0,
            },
        )  # fmt: skip


def cautious(gap: Gap) -> bool:
    """Whether a gap is so tight that the plan shows it."""
    return gap.left is None or gap.left < CAUTION


def gap_label(gap: Gap) -> str:
    """'D 2 mm': its letter, and how thick a block is left alone; 'D!' where none is."""
    if gap.left is None or gap.left < 1:
        return f"{gap.letter}!" if gap.left is not None else gap.letter
    return f"{gap.letter} {millimetres(rounded_down(gap.left))}"


def _gaps(axes: Axes, run: Run, card: Card, places: Places, scale: float) -> None:
    """The letter of each tight place beside it, with a line to where a gauge block is laid."""
    w, d = run.field.size
    for gap in card.gaps:
        if gap.at is None or not cautious(gap):
            continue
        x, y = gap.at
        if not (0 <= x <= w and 0 <= y <= d):
            continue  # The plan leaves the field, and the picture ends there.
        text = gap_label(gap)
        width, height = places.size(text, LETTER, bold=True)
        width, height = width + 1.6 * scale, height + 1.0 * scale
        r = 2.5 * scale
        places.keep_clear(x - r / 2, y - r / 2, x + r / 2, y + r / 2, 6.0)
        spots = around(x, y, r, r, width, height) + around(x, y, 3 * r, 3 * r, width, height)
        a, b = places.find(spots, width, height)
        red = PALETTE["vermilion"]
        axes.plot([x, a], [y, b], color=red, linewidth=1.2, zorder=6.1)
        axes.plot(
            x, y, marker="D", markersize=5, color=red, markeredgecolor="white", zorder=6.2, gid=f"gap-{gap.letter}"
        )
        axes.text(
            a, b, text, ha="center", va="center", fontsize=LETTER, weight="bold", zorder=6.3, color=INK,
            parse_math=False, gid=f"gap-name-{gap.letter}",
            bbox={"boxstyle": "square,pad=0.18", "facecolor": "#fff6e0", "edgecolor": red, "linewidth": 1.2},
        )  # fmt: skip


def _names(axes: Axes, run: Run, card: Card, places: Places, scale: float) -> None:
    """What stands there: the targets of the run, what it passes closely or touches, and the rest if there is room."""
    import matplotlib.patheffects as effects

    from fieldsim.sim.shapes import polygon

    halo = [effects.withStroke(linewidth=2.2, foreground="white")]

    def write(name: str, centres: list[Any], inside: int = 0, **look: Any) -> None:
        text = shorten(name, NAME_CELLS)
        width, height = places.size(text, NAME)
        x, y = places.find(centres, width, height, inside)
        axes.text(
            x, y, text, ha="center", va="center", fontsize=NAME, zorder=5.5, path_effects=halo, parse_math=False, **look
        )

    def beside(x: float, y: float, half_x: float, half_y: float, name: str) -> list[Any]:
        return around(x, y, half_x, half_y, *places.size(shorten(name, NAME_CELLS), NAME))

    aimed = _aimed(run)
    for n, target in enumerate(run.field.targets, 1):
        if target.name in aimed:
            r = target.within
            write(target.name, beside(*target.at, r, r, target.name), gid=f"target-name-{n}", color="#006b4e",
                  style="italic")  # fmt: skip
    told = {gap.obstacle for gap in card.gaps} | {each.what for each in card.troubles}
    told |= {name for step in card.steps for name in step.may_touch}
    few = len(run.field.obstacles) <= MOST_NAMES
    for n, obstacle in enumerate(run.field.obstacles, 1):
        shape = polygon(obstacle.shape)
        x0, y0, x1, y1 = shape.bounds
        width, height = places.size(shorten(obstacle.name, NAME_CELLS), NAME)
        spot = shape.representative_point()
        fits = x1 - x0 > width and shape.contains(spot.buffer(min(width, height) / 2))
        if not (few or fits or obstacle.name in told):
            continue
        centres = beside((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2, obstacle.name)
        write(obstacle.name, ([(spot.x, spot.y)] if fits else []) + centres, int(fits), gid=f"obstacle-name-{n}")


def strip_height() -> float:
    """mm."""
    return 19.0


def draw_strip(axes: Axes, card: Card, width: float) -> None:
    """The steps along the clock, each as wide as it takes, and above each how much room is left in 19 of 20 trials."""
    from matplotlib.patches import Rectangle

    height = strip_height()
    axes.set_label("strip")
    axes.set_xlim(0, width)
    axes.set_ylim(0, height)
    axes.axis("off")
    seconds = max(card.seconds, 1e-9)
    across = width / seconds
    left = {room.step: room.left for room in card.rooms}
    foot, low, tall = 4.2, 8.8, height - 8.8 - 3.6
    ends = [0.0, *(step.clock for step in card.steps)]
    for step, (begin, end) in zip(card.steps, pairwise(ends), strict=True):
        x, wide = begin * across, (end - begin) * across
        room = left.get(step.number, np.nan)
        tight = bool(np.isfinite(room) and room <= 0)
        axes.add_patch(
            Rectangle(
                (x, foot), wide, low - foot, facecolor="white" if step.wheels is not None else "#dddddd",
                edgecolor=INK, linewidth=0.7, zorder=2,
            )
        )  # fmt: skip
        text = str(step.number)
        need = len(text) * 0.66 * NUMBER * POINT
        middle = x + wide / 2
        if wide > need:
            axes.text(
                middle, (foot + low) / 2, text, ha="center", va="center", fontsize=NUMBER, weight="bold", zorder=4
            )
        if not np.isfinite(room):
            continue
        # Roots, so that the few mm that decide can be told apart.
        bar = tall * min(1.0, np.sqrt(max(room, 0.0) / 50.0))
        axes.add_patch(
            Rectangle(
                (x, low), wide, bar, facecolor=PALETTE["sky"] if room >= 5 else PALETTE["orange"],
                hatch=None if room >= 5 else "////", edgecolor="white", linewidth=0.5, zorder=1.5,
                gid=f"room-{step.number}",
            )
        )  # fmt: skip
        words = "!" if tight else str(rounded_down(room)) if room < 100 else ""
        if words and (wide > len(words) * 0.62 * STRIP * POINT or tight or room < 5):
            axes.text(
                middle, low + bar + 0.3, words, ha="center", va="bottom", fontsize=STRIP, zorder=4,
                weight="bold" if room < 5 else "normal", color="#8a3400" if room < 5 else INK,
            )  # fmt: skip
    axes.plot([0, width], [low, low], color=INK, linewidth=0.7, zorder=3)
    apart = next(each for each in (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 3600) if each * across > 9.0 or each == 3600)
    for second in range(0, int(seconds) + 1, apart):
        axes.plot([second * across] * 2, [foot, foot - 0.9], color=INK, linewidth=0.7)
        axes.text(
            min(max(second * across, 1.2), width - 1.2), foot - 1.2, str(second), ha="center", va="top", fontsize=STRIP
        )


def plan_svg(run: Run, card: Card, width: float = 190.0, most: float = 190.0) -> str:
    """The plan alone, an SVG element as wide as it may be, mm."""
    wide, high = plan_size(run, width, most)
    return _svg(wide, high, lambda axes: draw_plan(axes, run, card, wide, high))


def strip_svg(card: Card, width: float = 190.0) -> str:
    """The strip alone."""
    return _svg(width, strip_height(), lambda axes: draw_strip(axes, card, width))


def _svg(width: float, height: float, draw: Callable[[Axes], None]) -> str:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from fieldsim.draw import svg_element

    with plain_style(), glyphs_missing_are_boxes():
        figure = Figure(figsize=(width / MM, height / MM), facecolor="white")
        FigureCanvasAgg(figure)
        draw(figure.add_axes((0, 0, 1, 1)))
    return svg_element(figure)
