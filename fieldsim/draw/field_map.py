"""The field from above, to scale, and the run on it."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, cos, floor, hypot, log10, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.aligned import ALIGNED, aligned_at
from fieldsim.draw.labels import Places
from fieldsim.draw.look import GRID, LINE, OBSTACLE, OBSTACLE_EDGE, PALETTE, SMALL, START_AREA, SWEPT, TRIAL
from fieldsim.draw.map_names import keep_lines_clear, write_names, write_segment_numbers
from fieldsim.draw.swept import Points, add_area, footprint_at, poses_along, reach_of, swept_ground
from fieldsim.language import tr
from fieldsim.model import Alignment, Run

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.sim.sample import PathSample
    from fieldsim.sim.shapes import Part
    from fieldsim.studies.answer import TryAnswer

# More marks than this only hide each other, and make a file large; the first trials stand for all.
MOST_CONTACTS = 300
# A face this far from what it is pushed on did not get there, mm.
NOT_REACHED = 1.0
FEW_CONTACTS = 12


def draw_map(axes: Axes, run: Run, answer: TryAnswer, sample: PathSample, inches: float, near: bool = False) -> None:
    """The map, so many inches wide; with ``near`` only what comes near or is acted at has its name."""
    from fieldsim.sim.shapes import footprint

    field = run.field
    w, d = field.size
    mm_per_point = w / (inches * 72)
    parts = footprint(run.robot, () if answer.bare else run.wear)
    along = poses_along(sample, reach_of(parts))
    places = Places(w, d, mm_per_point)
    _frame(axes, run)
    _ground(axes, run, mm_per_point)
    swept = swept_ground(parts, along)
    if swept is not None:
        add_area(axes, swept, "swept", facecolor=SWEPT, edgecolor=PALETTE["sky"], linewidth=0.8, zorder=1.5)
    _paths(axes, sample, along)
    _outlines(axes, parts, sample)
    _obstacles(axes, run, answer, parts)
    _alignments(axes, run, sample)
    _contacts(axes, sample)
    keep_lines_clear(places, run, along)
    write_segment_numbers(axes, run, answer, sample, along, places)
    write_names(axes, run, places, _worth_a_name(run, answer) if near else None)


def _worth_a_name(run: Run, answer: TryAnswer) -> frozenset[str]:
    """What comes nearest, is touched or is acted at, and the jig."""
    near = sorted((gap for gap in answer.clearance if gap.p05 < answer.horizon), key=lambda gap: gap.p05)
    touched = [contact.obstacle for contact in answer.contacts[:4]]
    jig = [run.start] if isinstance(run.start, str) else []
    return frozenset([*(gap.obstacle for gap in near[:4]), *touched, *(each.target for each in answer.targets), *jig])


def _round_step(span: float, wanted: int) -> float:
    """A step of 1, 2 or 5 times a power of ten that divides the span into about ``wanted``."""
    rough = span / wanted
    power = 10.0 ** floor(log10(rough))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= rough * 0.8)


def _frame(axes: Axes, run: Run) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.ticker import FuncFormatter, MultipleLocator

    w, d = run.field.size
    step = _round_step(max(w, d), 12)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MultipleLocator(step))
        axis.set_minor_locator(MultipleLocator(step / 4 if f"{step:e}"[0] == "2" else step / 5))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.grid(which="major", color=GRID, linewidth=0.9, zorder=0.1)
    axes.grid(which="minor", color=GRID, linewidth=0.3, zorder=0.1)
    axes.set_axisbelow(True)
    axes.tick_params(which="both", labelsize=SMALL, length=3, color="#777777")
    axes.tick_params(which="minor", length=0)
    axes.set_xlim(0, w)
    axes.set_ylim(0, d)
    axes.set_aspect("equal")
    axes.set_xlabel(tr("x, mm (the team stands on this side)"), fontsize=SMALL, labelpad=2)
    axes.set_ylabel(tr("y, mm"), fontsize=SMALL, labelpad=2)
    for spine in axes.spines.values():
        spine.set_visible(False)
    open_board = run.field.walls is None
    axes.add_patch(
        Rectangle(
            (0, 0), w, d, fill=False, edgecolor="black", linewidth=1.5 if open_board else 4,
            linestyle=(0, (4, 2)) if open_board else "-", joinstyle="miter", clip_on=False, zorder=6, gid="walls",
        )
    )  # fmt: skip


def _ground(axes: Axes, run: Run, mm_per_point: float) -> None:
    """What lies flat: start areas, lines, targets, jigs."""
    from matplotlib.patches import Circle, Polygon

    from fieldsim.sim.shapes import polygon

    for n, area in enumerate(run.field.start_areas, 1):
        add_area(
            axes, polygon(area.shape), f"start-area-{n}", facecolor=START_AREA, edgecolor="#777777", linewidth=1.0,
            linestyle=":", zorder=0.5,
        )  # fmt: skip
    for n, line in enumerate(run.field.lines, 1):
        a, b = np.array(line.start), np.array(line.end)
        length = float(np.hypot(*(b - a)))
        side = np.array([-(b - a)[1], (b - a)[0]]) / length * line.width / 2 if length else np.zeros(2)
        axes.add_patch(
            Polygon(
                [a + side, b + side, b - side, a - side], closed=True, facecolor=LINE, edgecolor="#8a8350",
                linewidth=0.5, zorder=1.2, gid=f"line-{n}",
            )
        )  # fmt: skip
    for n, target in enumerate(run.field.targets, 1):
        axes.add_patch(
            Circle(
                target.at, target.within, facecolor="none", edgecolor=PALETTE["green"], linewidth=1.6,
                linestyle=(0, (3, 1)), zorder=4.2, gid=f"target-{n}",
            )
        )  # fmt: skip
        axes.plot(*target.at, marker="+", markersize=5, color=PALETTE["green"], zorder=4.2, gid=f"target-middle-{n}")
        if target.heading is not None:
            # The mark stands off the circle on the side the robot comes from and points the way it has to look.
            away = np.array([cos(radians(target.heading)), sin(radians(target.heading))])
            tip = np.array(target.at) - away * (target.within + 1.5 * mm_per_point)
            tail = tip - away * 14 * mm_per_point
            axes.annotate(
                "", (tip[0], tip[1]), (tail[0], tail[1]), zorder=4.2, gid=f"target-heading-{n}",
                arrowprops={
                    "arrowstyle": "-|>", "color": PALETTE["green"], "linewidth": 1.4, "shrinkA": 0, "shrinkB": 0,
                },
            )  # fmt: skip
    for n, jig in enumerate(run.field.jigs, 1):
        used = run.start == jig.name
        ahead = np.array([cos(radians(jig.heading)), sin(radians(jig.heading))])
        left = np.array([-ahead[1], ahead[0]])
        end, side_name = jig.holds.split()
        corner = np.array(jig.corner)
        length = 15 * mm_per_point
        along = corner + ahead * length * (1 if end == "rear" else -1)
        across = corner + left * length * (1 if side_name == "right" else -1)
        xy = np.array([along, corner, across])
        axes.plot(
            *xy.T, color=PALETTE["orange" if used else "purple"], linewidth=2.6 if used else 2,
            zorder=6.5 if used else 4.4, path_effects=cased() if used else None, solid_capstyle="butt",
            solid_joinstyle="miter", clip_on=False, gid=f"jig-{n}",
        )  # fmt: skip


def cased(width: float = 4.6) -> list[Any]:
    """A black edge to both sides, so that a bright line stands out in grey too."""
    import matplotlib.patheffects as effects

    return [effects.withStroke(linewidth=width, foreground="black")]


def _paths(axes: Axes, sample: PathSample, along: Sequence[Points]) -> None:
    for n, (poses, lived) in enumerate(zip(sample.trials, sample.ended, strict=True), 1):
        part = _bent(poses[: int(lived)], np.where(sample.ahead[:, None] == 0, sample.travel, 0))
        axes.plot(part[:, 0], part[:, 1], color=TRIAL, linewidth=0.5, alpha=0.45, zorder=3.0, gid=f"trial-{n}")
    if along:
        line = np.concatenate(along)
        axes.plot(line[:, 0], line[:, 1], color="white", linewidth=4, zorder=3.1, solid_capstyle="round")
        axes.plot(
            line[:, 0], line[:, 1], color=PALETTE["blue"], linewidth=2.2, zorder=3.2, solid_capstyle="round",
            gid="path",
        )  # fmt: skip


def _bent(poses: Points, travel: Points) -> Points:
    """Points (k, 2) of a trial's path: between two joints an arc with the chord and the turning they have."""
    from fieldsim.sim.motion import along_piece, wrapped

    found = [poses[:1, :2]]
    for here, there, (s, t) in zip(poses[:-1], poses[1:], travel, strict=False):
        # A heading may be told in another full turn: take the one nearest to the planned turning.
        turned = t + wrapped(float(there[2] - here[2] - t))
        if s != 0 and abs(turned) > 2:
            chord = hypot(*(there - here)[:2]) / float(np.sinc(radians(turned) / 2 / np.pi))
            count = max(2, ceil(abs(turned) / 6))
            bend = along_piece(here, chord if s > 0 else -chord, turned, np.linspace(0, 1, count + 1)[1:-1])
            found.append(bend[:, :2])
        found.append(there[None, :2])
    return np.concatenate(found)


def _segment_ends(sample: PathSample) -> list[int]:
    """The joints at which segments end, without those where the robot only stood."""
    count = len(sample.segment)
    ends = [i + 1 for i in range(count) if i + 1 == count or sample.segment[i + 1] != sample.segment[i]]
    kept: list[int] = []
    for joint in ends:
        if not np.allclose(sample.nominal[joint], sample.nominal[kept[-1] if kept else 0], atol=1e-6):
            kept.append(joint)
    return kept


def _outlines(axes: Axes, parts: Sequence[Part], sample: PathSample) -> None:
    ends = _segment_ends(sample)
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": PALETTE["blue"]}
    for n, joint in enumerate(ends[:-1], 1):
        add_area(axes, footprint_at(parts, sample.nominal[joint]), f"stop-{n}", linewidth=0.6, zorder=2.2, **look)
    add_area(axes, footprint_at(parts, sample.nominal[0]), "start", linewidth=1.8, zorder=2.4, **look)
    if ends:
        last = footprint_at(parts, sample.nominal[-1])
        add_area(axes, last, "finish", linewidth=1.8, linestyle=(0, (3, 1.5)), zorder=2.4, **look)


def _obstacles(axes: Axes, run: Run, answer: TryAnswer, parts: Sequence[Part]) -> None:
    from fieldsim.sim.shapes import meet, polygon, solids

    touched = _touched(answer)
    for n, (obstacle, solid) in enumerate(zip(run.field.obstacles, solids(run.field), strict=False), 1):
        met = any(meet(part, solid) for part in parts)
        hit = met and obstacle.name in touched
        add_area(
            axes, polygon(obstacle.shape), f"obstacle-{n}", facecolor=OBSTACLE if met else "none",
            edgecolor=PALETTE["vermilion"] if hit else OBSTACLE_EDGE if met else "#777777",
            linewidth=2.6 if hit else 1.0, linestyle="-" if met else "--", path_effects=cased() if hit else None,
            hatch=None if met else "///", zorder=4.05 if hit else 4.0 if met else 1.8,
        )  # fmt: skip


def _touched(answer: TryAnswer) -> set[str]:
    """What is a first contact in any trial, not only in those that are drawn."""
    return {contact.obstacle for contact in answer.contacts}


def _alignments(axes: Axes, run: Run, sample: PathSample) -> None:
    """The face of each square where it stands flat, and the sensors of each line where they see it."""
    import shapely

    from fieldsim.sim.alignment import target_outline

    for n, segment in enumerate(run.segments, 1):
        joints = np.flatnonzero(sample.segment == n)
        if not len(joints) or not isinstance(segment, Alignment):
            continue
        found = aligned_at(run, segment, sample.nominal[joints[-1] + 1])
        if found is None:
            continue
        contact, points = found
        if contact == "face":
            wall = shapely.Polygon(target_outline(run, segment))  # type: ignore[arg-type]
            if wall.distance(shapely.LineString(points)) > NOT_REACHED:
                continue
            axes.plot(
                *points.T, color=PALETTE["blue"], linewidth=5, solid_capstyle="butt", zorder=6.6, clip_on=False,
                path_effects=cased(6.6), gid=f"square-{n}",
            )  # fmt: skip
        else:
            axes.plot(
                *points.T, marker="D", markersize=5, color=PALETTE["yellow"], markeredgecolor="black",
                linestyle="none", zorder=6.4, gid=f"sight-{n}",
            )  # fmt: skip


def _contacts(axes: Axes, sample: PathSample) -> None:
    if len(sample.lost):
        x, y = sample.lost[:MOST_CONTACTS].T
        axes.plot(
            x, y, marker="v", markersize=6, color="white", markeredgecolor=PALETTE["vermilion"], markeredgewidth=1.4,
            linestyle="none", zorder=6.15, clip_on=False, gid="lost",
        )  # fmt: skip
    if len(sample.contacts):
        # Many crosses on one spot are smaller, so that they stay crosses and the spot can be seen.
        size = 7.0 if len(sample.contacts) <= FEW_CONTACTS else 4.5
        look: dict[str, Any] = {"marker": "x", "linestyle": "none", "clip_on": False}
        x, y = sample.contacts[:MOST_CONTACTS].T
        axes.plot(x, y, color="white", markersize=size + 1, markeredgewidth=size * 0.43, zorder=6.1, **look)
        axes.plot(
            x,
            y,
            color=PALETTE["vermilion"],
            markersize=size,
            markeredgewidth=size * 0.24,
            zorder=6.2,
            gid="contacts",
            **look,
        )


def map_legend(run: Run, answer: TryAnswer, sample: PathSample) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def line(label: str, **look: Any) -> Line2D:
        return Line2D([], [], label=label, **look)

    blue, green = PALETTE["blue"], PALETTE["green"]
    found: list[Any] = [
        line(tr("planned path"), color=blue, linewidth=2.2),
        Patch(facecolor=SWEPT, edgecolor=PALETTE["sky"], label=tr("ground it covers")),
        Patch(facecolor="none", edgecolor=blue, linewidth=1.8, label=tr("robot at the start")),
        Patch(facecolor="none", edgecolor=blue, linewidth=1.8, linestyle=(0, (3, 1.5)), label=tr("robot at the end")),
        Patch(facecolor="none", edgecolor=blue, linewidth=0.6, label=tr("robot between segments")),
    ]
    if len(sample.trials):
        found.append(line(tr("{n} of the trials", n=len(sample.trials)), color=TRIAL, linewidth=0.8))
    if len(sample.contacts):
        shown, known = min(len(sample.contacts), MOST_CONTACTS), len(sample.contacts)
        words = tr("first contact")
        if shown != known:
            words = tr("first contact ({shown} of {known})", shown=shown, known=known)
        found.append(line(words, color=PALETTE["vermilion"], marker="x", linestyle="none", markeredgewidth=1.7))
    if len(sample.lost):
        red = PALETTE["vermilion"]
        words = tr("stopped: square or line not caught")
        found.append(line(words, color="white", marker="v", markeredgecolor=red, linestyle="none"))
    marked = {ALIGNED[type(segment)][0] for segment in run.segments if isinstance(segment, Alignment)}
    if "face" in marked:
        found.append(line(tr("face pushed flat"), color=blue, linewidth=5, path_effects=cased(6.6)))
    if "sensors" in marked:
        yellow = PALETTE["yellow"]
        found.append(
            line(tr("sensor sees the line"), color=yellow, marker="D", markeredgecolor="black", linestyle="none")
        )
    if run.field.obstacles:
        found.append(Patch(facecolor=OBSTACLE, edgecolor=OBSTACLE_EDGE, label=tr("model")))
        if _touched(answer) & {obstacle.name for obstacle in run.field.obstacles}:
            edge = PALETTE["vermilion"]
            found.append(
                Patch(
                    facecolor=OBSTACLE,
                    edgecolor=edge,
                    linewidth=2.6,
                    path_effects=cased(),
                    label=tr("model that is touched"),
                )
            )
        found.append(
            Patch(facecolor="none", edgecolor="#777777", linestyle="--", hatch="///", label=tr("model too high or low"))
        )
    if run.field.targets:
        found.append(line(tr("target"), color=green, linewidth=1.6, linestyle=(0, (3, 1))))
    if any(jig.name == run.start for jig in run.field.jigs):
        found.append(line(tr("jig in use"), color=PALETTE["orange"], linewidth=2.6, path_effects=cased()))
    if any(jig.name != run.start for jig in run.field.jigs):
        found.append(line(tr("other jigs"), color=PALETTE["purple"], linewidth=2))
    return found
