"""The words on the map: names of what stands there, numbers of the segments."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise
from math import ceil, cos, hypot, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.labels import OWN_WEIGHT, Places, around
from fieldsim.draw.look import PALETTE, SMALL
from fieldsim.lettering import shorten

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.draw.swept import Points
    from fieldsim.model import Run
    from fieldsim.sim.sample import PathSample
    from fieldsim.studies.answer import TryAnswer

NAME_CELLS = 22


def keep_lines_clear(places: Places, run: Run, along: Sequence[Points]) -> None:
    """Labels had better not lie on the path, on models or on targets."""
    from fieldsim.sim.shapes import polygon

    step = 8 * places.mm_per_point
    for poses in along:
        for (x0, y0, _), (x1, y1, _) in pairwise(poses):
            for u in np.linspace(0, 1, max(2, ceil(hypot(x1 - x0, y1 - y0) / step))):
                x, y = x0 + u * (x1 - x0), y0 + u * (y1 - y0)
                places.keep_clear(x - step / 3, y - step / 3, x + step / 3, y + step / 3, 1.5)
    for obstacle in run.field.obstacles:
        x0, y0, x1, y1 = polygon(obstacle.shape).bounds
        places.keep_clear(x0, y0, x1, y1, OWN_WEIGHT)
    for target in run.field.targets:
        (x, y), r = target.at, target.within
        places.keep_clear(x - r, y - r, x + r, y + r, 0.8)
        if target.heading is not None:
            away = r + 9 * places.mm_per_point
            x, y = x - away * cos(radians(target.heading)), y - away * sin(radians(target.heading))
            places.keep_clear(x - step, y - step, x + step, y + step, 1.5)
    for jig in run.field.jigs:
        x, y = jig.corner
        places.keep_clear(x - step, y - step, x + step, y + step, 0.8)


def write_segment_numbers(
    axes: Axes, run: Run, answer: TryAnswer, sample: PathSample, along: Sequence[Points], places: Places
) -> None:
    """Each segment's number beside its middle; standing segments stand at the place where the robot stood."""
    touched = {contact.segment for contact in answer.contacts}
    count = max(len(answer.segments), int(sample.segment.max(initial=0)))
    write_numbers(axes, run.field.size, count, touched, sample, along, places)


def write_numbers(
    axes: Axes, field: tuple[float, float], count: int, hot: Collection[int], sample: PathSample,
    along: Sequence[Points], places: Places, points: float = SMALL,
) -> None:  # fmt: skip
    """The numbers of so many segments, those in ``hot`` bold in red, with letters so large."""
    size = 2 * points * places.mm_per_point
    last = sample.nominal[0][:2]
    for number in range(1, count + 1):
        mine = [poses for poses, segment in zip(along, sample.segment, strict=True) if segment == number]
        if mine:
            line = np.concatenate(mine)[:, :2]
            steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
            at = np.array([np.interp(steps[-1] / 2, steps, line[:, i]) for i in (0, 1)])
            last = line[-1]
        else:
            at = last
        if not (0 <= at[0] <= field[0] and 0 <= at[1] <= field[1]):
            continue  # The plan leaves the field, and the map ends there.
        circle = [
            (at[0] + r * size * cos(radians(a)), at[1] + r * size * sin(radians(a)))
            for r in (0.85, 1.5, 2.2)
            for a in range(90, 450, 30)
        ]
        x, y = places.find(circle, size, size)
        axes.plot([at[0], x], [at[1], y], color=PALETTE["blue"], linewidth=0.7, zorder=5.0)
        bold = number in hot
        axes.text(
            x, y, str(number), ha="center", va="center", fontsize=points, weight="bold" if bold else "normal",
            color="black", zorder=5.2, gid=f"segment-number-{number}",
            bbox={
                "boxstyle": "circle,pad=0.22", "facecolor": "white", "linewidth": 1.8 if bold else 0.9,
                "edgecolor": PALETTE["vermilion"] if bold else PALETTE["blue"],
            },
        )  # fmt: skip


def write_names(axes: Axes, run: Run, places: Places, only: frozenset[str] | None = None) -> None:
    """The names of all things on the map, or only some."""
    import matplotlib.patheffects as effects

    from fieldsim.sim.shapes import polygon

    halo = [effects.withStroke(linewidth=2.2, foreground="white")]

    def write(text: str, centres: Sequence[tuple[float, float]], inside: int = 0, **look: Any) -> None:
        if only is not None and text not in only:
            return
        width, height = places.size(text, SMALL, "weight" in look)
        x, y = places.find(centres, width, height, inside)
        axes.text(
            x, y, text, ha="center", va="center", fontsize=SMALL, zorder=5.5, path_effects=halo, parse_math=False,
            **look,
        )  # fmt: skip

    only = None if only is None else frozenset(shorten(name, NAME_CELLS) for name in only)
    field = run.field
    for jig in (jig for jig in field.jigs if jig.name == run.start):
        name = shorten(jig.name, NAME_CELLS)
        width, height = places.size(name, SMALL, bold=True)
        r = 8 * places.mm_per_point
        write(name, around(*jig.corner, r, r, width, height), gid="jig-name", weight="bold")
    for n, obstacle in enumerate(field.obstacles, 1):
        shape = polygon(obstacle.shape)
        name = shorten(obstacle.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        x0, y0, x1, y1 = shape.bounds
        inside = shape.representative_point()
        centres = around((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2, width, height)
        fits = x1 - x0 > width and shape.contains(inside.buffer(min(width, height) / 2))
        if fits:
            centres = [(inside.x, inside.y), *centres]
        write(name, centres, inside=int(fits), gid=f"obstacle-name-{n}")
    for n, target in enumerate(field.targets, 1):
        name = shorten(target.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        r = target.within
        write(name, around(*target.at, r, r, width, height), gid=f"target-name-{n}", color="#006b4e", style="italic")
    for n, area in enumerate(field.start_areas, 1):
        name = shorten(area.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        x0, y0, x1, y1 = polygon(area.shape).bounds
        left, right, low, high = x0 + width * 0.6, x1 - width * 0.6, y0 + height, y1 - height
        columns, rows = np.linspace(left, right, 5), np.linspace(high, low, 7)
        spots = [(float(x), float(y)) for y in rows for x in columns]
        write(name, spots, gid=f"start-area-name-{n}", color="#555555")
    for n, line in enumerate(field.lines, 1):
        name = shorten(line.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        a, b = np.array(line.start), np.array(line.end)
        spots = [tuple(a + u * (b - a)) for u in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)]
        beside = [(x + s * (width / 2 + line.width), y) for x, y in spots for s in (1, -1)]
        write(name, beside, gid=f"line-name-{n}", color="#655e2c")
