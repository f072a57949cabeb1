"""The picture of a try: the field from above to scale, the run on it, and below it the clearance along the run.

It shows what the answer and the sample of paths hold and computes no answer. Colours are those of Okabe & Ito, Color
Universal Design, 2008 (made to be told apart by colour-blind eyes, hex values from memory); whatever a colour tells is
told by a line style, a marker or a hatch as well, so the picture can be printed in grey.

matplotlib is used through its objects, never through pyplot: no window, no state left behind.
"""

from __future__ import annotations

import io
import os
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import pairwise
from math import ceil, cos, floor, hypot, isfinite, log10, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.answer import TryAnswer
from fieldsim.errors import SaveError
from fieldsim.model import Run
from fieldsim.sample import PathSample
from fieldsim.wording import cells, headline, one_line, shorten, units_kept

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

    from fieldsim.shapes import Part

__all__ = ["PALETTE", "draw_try", "save"]

Points = NDArray[np.float64]

PALETTE = {
    "black": "#000000",
    "orange": "#e69f00",
    "sky": "#56b4e9",
    "green": "#009e73",
    "yellow": "#f0e442",
    "blue": "#0072b2",
    "vermilion": "#d55e00",
    "purple": "#cc79a7",
}
"""Okabe & Ito's eight colours. Relative luminance rises from black over blue, vermilion, green... to yellow."""

OBSTACLE, OBSTACLE_EDGE = "#a6a6a6", "#222222"
SWEPT = "#d9edfa"
START_AREA = "#f1f1ee"
LINE = "#dcd6b0"
TRIAL = "#4d4d4d"
GRID = "#e3e3e3"

# Sizes in inches and points: letters of 8 points are read at arm's length on A4, 7 is the least.
WIDTH = 11.0
LEFT, RIGHT = 0.62, 0.25
TALLEST_MAP = 8.5
RIBBON, RIBBON_TITLE, FOOT = 2.1, 0.5, 0.3
SMALL, NORMAL, LARGE = 7.5, 8.5, 14.0

# An outline is drawn from the hulls of neighbouring poses; corners move at most this far between two of them, mm.
SWEEP_STEP = 12.0
NAME_CELLS, UPRIGHT_CELLS = 22, 30

# More marks than this only hide each other, and make a file large; the first trials stand for all.
MOST_CONTACTS = 300

# What it costs a label to cover a model, where covering the path costs 1.5 and another label 4.
OWN_WEIGHT = 0.6


def draw_try(run: Run, answer: TryAnswer, sample: PathSample) -> Figure:
    """A figure of the try, 11 inches wide, as tall as the field needs.

    ``run`` gives the map and the footprint, ``answer`` every number, ``sample`` the paths in mm and degrees. With
    ``answer.bare`` the robot is drawn without attachments. Save it with ``save``.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    w, d = run.field.size
    room = WIDTH - LEFT - RIGHT
    map_width, map_height = room, room * d / w
    if map_height > TALLEST_MAP:
        map_width, map_height = TALLEST_MAP * w / d, TALLEST_MAP
    words = _ribbon_words(answer)
    below = _ribbon_label_height(words)
    top, legend = 0.78, 1.0
    height = top + map_height + legend + RIBBON_TITLE + RIBBON + below + FOOT

    with _plain_style():
        figure = Figure(figsize=(WIDTH, height), facecolor="white")
        FigureCanvasAgg(figure)
        figure.text(
            LEFT / WIDTH, 1 - 0.13 / height, _title(answer), va="top", fontsize=LARGE, weight="bold", parse_math=False
        )
        figure.text(
            LEFT / WIDTH, 1 - 0.46 / height, _subtitle(answer), va="top", fontsize=NORMAL, color="#333333",
            parse_math=False,
        )  # fmt: skip
        bottom = height - top - map_height
        left = LEFT + (room - map_width) / 2
        field_axes = figure.add_axes((left / WIDTH, bottom / height, map_width / WIDTH, map_height / height))
        field_axes.set_label("map")
        _draw_map(field_axes, run, answer, sample, map_width)
        figure.legend(
            handles=_legend(run, sample), loc="upper center", bbox_to_anchor=(0.5, (bottom - 0.36) / height), ncols=6,
            fontsize=NORMAL, frameon=False, handlelength=2.4, columnspacing=1.6, borderpad=0,
        )  # fmt: skip
        ribbon_axes = figure.add_axes((LEFT / WIDTH, (FOOT + below) / height, room / WIDTH, RIBBON / height))
        ribbon_axes.set_label("ribbon")
        _draw_ribbon(ribbon_axes, answer, words)
        figure.text(
            LEFT / WIDTH, 0.1 / height, "A simulated run is no proof: the table decides.", fontsize=SMALL,
            color="#333333",
        )  # fmt: skip
    return figure


def save(figure: Figure, path: str | Path) -> Path:
    """Write the figure as SVG or PNG, told by the end of the name; the same figure gives the same bytes every time.

    The old file stays whole until the new one is there. Raises SaveError for another ending, or if the place cannot be
    written to.
    """
    path = Path(path)
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("svg", "png"):
        raise SaveError(f"A picture can be saved as .svg or .png, but '{one_line(path.name)}' ends in neither.")
    drawn = io.BytesIO()
    with _plain_style(), warnings.catch_warnings():
        # A name may use signs the font does not have: an empty box is drawn for them, and an SVG keeps the letters.
        warnings.filterwarnings("ignore", message=".*[Gg]lyph")
        if kind == "svg":
            figure.savefig(drawn, format="svg", metadata={"Date": None, "Creator": None})
        else:
            figure.savefig(drawn, format="png", dpi=150, metadata={"Software": None})
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with beside.open("wb") as file:
            file.write(drawn.getvalue())
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise SaveError(f"The picture could not be written to '{one_line(str(path))}': {error.strerror}.") from error
    return path


@contextmanager
def _plain_style() -> Iterator[None]:
    """matplotlib as it comes, whatever a settings file on this machine says, so that bytes are the same everywhere."""
    from matplotlib import style

    ours = {
        "svg.hashsalt": "fieldsim",
        "svg.fonttype": "none",
        "font.family": ["DejaVu Sans"],
        "text.parse_math": False,
        "hatch.linewidth": 0.6,
        "path.simplify": True,
    }
    with style.context(["default", ours]):
        yield


# --- words -----------------------------------------------------------------------------------------------------------


def _title(answer: TryAnswer) -> str:
    return f"{shorten(answer.run, 34)}: {headline(answer)}"


def _subtitle(answer: TryAnswer) -> str:
    noun = "trial" if answer.trials == 1 else "trials"
    words = f"{shorten(answer.robot, 28)} on {shorten(answer.field, 28)}, from {shorten(answer.start, 28)}"
    words += f"; {answer.trials} {noun}, seed {answer.seed}"
    if answer.interrupted:
        words += ", stopped early"
    return words + (", bare" if answer.bare else "")


def _ribbon_words(answer: TryAnswer) -> list[str]:
    """What stands under each column: the segment's number and words."""
    found = []
    for entry in answer.ribbon:
        known = 1 <= entry.segment <= len(answer.segments)
        found.append(f"{entry.segment}  {answer.segments[entry.segment - 1]}" if known else str(entry.segment))
    return found


def _upright(count: int) -> bool:
    """Whether there are so many columns that their words must stand upright."""
    return count > 12


def _ribbon_label_height(words: Sequence[str]) -> float:
    if not _upright(len(words)):
        return 0.75
    return 0.2 + max(cells(shorten(text, UPRIGHT_CELLS)) for text in words) * 0.6 * SMALL / 72


def _broken(text: str, limit: int, lines: int) -> str:
    """At most ``lines`` lines of at most ``limit`` cells; what does not fit is cut."""
    found, line = [], ""
    for word in units_kept(one_line(text)).split(" "):
        longer = f"{line} {word}".strip()
        if line and cells(longer) > limit:
            found.append(line)
            longer = word
        line = longer
    found.append(line)
    if len(found) > lines:
        found = [*found[: lines - 1], " ".join(found[lines - 1 :])]
    return "\n".join(shorten(line, limit) for line in found)


# --- geometry of the drawing -----------------------------------------------------------------------------------------


def _placed(points: Points, pose: Sequence[float]) -> Points:
    """Robot frame to field frame, (k, 2)."""
    c, s = cos(radians(pose[2])), sin(radians(pose[2]))
    moved: Points = points @ np.array([(c, s), (-s, c)]) + np.array([pose[0], pose[1]])
    return moved


def _footprint_at(parts: Sequence[Part], pose: Sequence[float]) -> BaseGeometry:
    import shapely

    return shapely.union_all([shapely.Polygon(_placed(part.points, pose)) for part in parts])


def _reach(parts: Sequence[Part]) -> float:
    return max(float(np.hypot(*part.points.T).max()) for part in parts)


def _poses_along(sample: PathSample, reach: float) -> list[Points]:
    """Poses (k, 3) along each planned piece, close enough together to draw."""
    from fieldsim.motion import along_piece

    found = []
    for pose, (s, t) in zip(sample.nominal[:-1], sample.travel, strict=True):
        count = max(1, ceil((abs(s) + reach * abs(radians(t))) / SWEEP_STEP))
        # A straight needs no poses between: the hull of its ends is what it sweeps.
        count = 1 if t == 0 else count
        found.append(along_piece(pose, s, t, np.linspace(0.0, 1.0, count + 1)))
    return found


def _swept(parts: Sequence[Part], along: Sequence[Points]) -> BaseGeometry | None:
    """The ground the footprint covers."""
    import shapely

    hulls = []
    for poses in along:
        for part in parts:
            placed = np.stack([_placed(part.points, pose) for pose in poses])
            pairs = np.concatenate([placed[:-1], placed[1:]], axis=1)
            hulls.append(shapely.convex_hull(shapely.multipoints(shapely.points(pairs).reshape(len(pairs), -1))))
    return shapely.union_all(np.concatenate(hulls)) if hulls else None


def _as_path(geometry: BaseGeometry) -> Any:
    """A matplotlib path of polygons with their holes."""
    from matplotlib.path import Path as Outline

    rings = []
    for polygon in getattr(geometry, "geoms", [geometry]):
        if polygon.geom_type == "Polygon" and not polygon.is_empty:
            rings += [np.asarray(ring.coords) for ring in (polygon.exterior, *polygon.interiors)]
    if not rings:
        return Outline(np.zeros((0, 2)))
    return Outline.make_compound_path(*(Outline(ring, closed=True) for ring in rings))


def _add_area(axes: Axes, geometry: BaseGeometry, gid: str, **look: Any) -> None:
    from matplotlib.patches import PathPatch

    axes.add_patch(PathPatch(_as_path(geometry), gid=gid, **look))


class _Places:
    """Where labels go: boxes (x0, y0, x1, y1) in mm that are taken already, and the size of a letter in mm."""

    def __init__(self, width: float, height: float, mm_per_point: float) -> None:
        self.bounds = (0.0, 0.0, width, height)
        self.mm_per_point = mm_per_point
        self.taken: list[tuple[float, float, float, float, float]] = []

    def keep_clear(self, x0: float, y0: float, x1: float, y1: float, weight: float) -> None:
        self.taken.append((x0, y0, x1, y1, weight))

    def find(
        self, centres: Sequence[tuple[float, float]], width: float, height: float, inside: int = 0
    ) -> tuple[float, float]:
        """The centre where a label covers least, the earlier the better; it is kept clear from then on.

        The first ``inside`` centres lie within the thing that is named, so covering that costs nothing.
        """
        taken = np.array(self.taken).reshape(-1, 5)
        x0, y0, x1, y1 = self.bounds

        def cost(rank: int, x: float, y: float) -> float:
            a, b, c, e = x - width / 2, y - height / 2, x + width / 2, y + height / 2
            over = np.clip(np.minimum(c, taken[:, 2]) - np.maximum(a, taken[:, 0]), 0, None)
            up = np.clip(np.minimum(e, taken[:, 3]) - np.maximum(b, taken[:, 1]), 0, None)
            covered = float((over * up * taken[:, 4]).sum()) / (width * height)
            outside = max(0.0, x0 - a) + max(0.0, y0 - b) + max(0.0, c - x1) + max(0.0, e - y1)
            own = OWN_WEIGHT if rank < inside else 0.0
            return covered - own + 8 * outside / height + 0.02 * rank

        best = min(range(len(centres)), key=lambda i: cost(i, *centres[i]))
        x, y = centres[best]
        self.keep_clear(x - width / 2, y - height / 2, x + width / 2, y + height / 2, 4.0)
        return x, y

    def size(self, text: str, points: float, bold: bool = False) -> tuple[float, float]:
        """Width and height in mm of a line: a letter of DejaVu Sans is about 0.6 of its size wide, a bold one 0.7."""
        return cells(text) * (0.7 if bold else 0.6) * points * self.mm_per_point, 1.25 * points * self.mm_per_point


def _around(x: float, y: float, half_width: float, half_height: float, width: float, height: float) -> list[Any]:
    """Centres for a label beside a box: above, below, right, left, at the corners, farther off."""
    dx, dy = half_width + width / 2, half_height + height / 2
    beside = [(x, y + dy), (x, y - dy), (x + dx, y), (x - dx, y)]
    corners = [(x + a * dx, y + b * dy) for a in (1, -1) for b in (1, -1)]
    return beside + corners + [(x, y + a * (dy + height)) for a in (1, -1)]


# --- the map ---------------------------------------------------------------------------------------------------------


def _draw_map(axes: Axes, run: Run, answer: TryAnswer, sample: PathSample, inches: float) -> None:
    from fieldsim.shapes import footprint

    field = run.field
    w, d = field.size
    mm_per_point = w / (inches * 72)
    parts = footprint(run.robot, () if answer.bare else run.wear)
    along = _poses_along(sample, _reach(parts))
    places = _Places(w, d, mm_per_point)
    _frame(axes, run)
    _ground(axes, run, mm_per_point)
    swept = _swept(parts, along)
    if swept is not None:
        _add_area(axes, swept, "swept", facecolor=SWEPT, edgecolor=PALETTE["sky"], linewidth=0.8, zorder=1.5)
    _paths(axes, sample, along)
    _outlines(axes, parts, sample)
    _obstacles(axes, run, parts)
    _contacts(axes, sample)
    _keep_lines_clear(places, run, along)
    _segment_numbers(axes, run, answer, sample, along, places)
    _names(axes, run, places)


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
    axes.set_xlabel("x, mm (the team stands on this side)", fontsize=SMALL, labelpad=2)
    axes.set_ylabel("y, mm", fontsize=SMALL, labelpad=2)
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

    from fieldsim.shapes import polygon

    for n, area in enumerate(run.field.start_areas, 1):
        _add_area(
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
            zorder=6.5 if used else 4.4, path_effects=_cased() if used else None, solid_capstyle="butt",
            solid_joinstyle="miter", clip_on=False, gid=f"jig-{n}",
        )  # fmt: skip


def _cased() -> list[Any]:
    """A black edge to both sides, so that a bright line stands out in grey too."""
    import matplotlib.patheffects as effects

    return [effects.withStroke(linewidth=4.6, foreground="black")]


def _paths(axes: Axes, sample: PathSample, along: Sequence[Points]) -> None:
    for n, (poses, lived) in enumerate(zip(sample.trials, sample.ended, strict=True), 1):
        part = _bent(poses[: int(lived)], sample.travel)
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
    from fieldsim.motion import along_piece, wrapped

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
        _add_area(axes, _footprint_at(parts, sample.nominal[joint]), f"stop-{n}", linewidth=0.6, zorder=2.2, **look)
    _add_area(axes, _footprint_at(parts, sample.nominal[0]), "start", linewidth=1.8, zorder=2.4, **look)
    if ends:
        last = _footprint_at(parts, sample.nominal[-1])
        _add_area(axes, last, "finish", linewidth=1.8, linestyle=(0, (3, 1.5)), zorder=2.4, **look)


def _obstacles(axes: Axes, run: Run, parts: Sequence[Part]) -> None:
    from fieldsim.shapes import meet, polygon, solids

    for n, (obstacle, solid) in enumerate(zip(run.field.obstacles, solids(run.field), strict=False), 1):
        met = any(meet(part, solid) for part in parts)
        _add_area(
            axes, polygon(obstacle.shape), f"obstacle-{n}", facecolor=OBSTACLE if met else "none",
            edgecolor=OBSTACLE_EDGE if met else "#777777", linewidth=1.0, linestyle="-" if met else "--",
            hatch=None if met else "///", zorder=4.0 if met else 1.8,
        )  # fmt: skip


def _contacts(axes: Axes, sample: PathSample) -> None:
    if len(sample.contacts):
        look: dict[str, Any] = {"marker": "x", "linestyle": "none", "clip_on": False}
        x, y = sample.contacts[:MOST_CONTACTS].T
        axes.plot(x, y, color="white", markersize=8, markeredgewidth=3, zorder=6.1, **look)
        axes.plot(
            x, y, color=PALETTE["vermilion"], markersize=7, markeredgewidth=1.7, zorder=6.2, gid="contacts", **look
        )


def _keep_lines_clear(places: _Places, run: Run, along: Sequence[Points]) -> None:
    """Labels had better not lie on the path, on models or on targets."""
    from fieldsim.shapes import polygon

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


def _segment_numbers(
    axes: Axes, run: Run, answer: TryAnswer, sample: PathSample, along: Sequence[Points], places: _Places
) -> None:
    """Each segment's number beside its middle; standing segments stand at the place where the robot stood."""
    size = 15 * places.mm_per_point
    touched = {contact.segment for contact in answer.contacts}
    last = sample.nominal[0][:2]
    for number in range(1, max(len(answer.segments), int(sample.segment.max(initial=0))) + 1):
        mine = [poses for poses, segment in zip(along, sample.segment, strict=True) if segment == number]
        if mine:
            line = np.concatenate(mine)[:, :2]
            steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
            at = np.array([np.interp(steps[-1] / 2, steps, line[:, i]) for i in (0, 1)])
            last = line[-1]
        else:
            at = last
        if not (0 <= at[0] <= run.field.size[0] and 0 <= at[1] <= run.field.size[1]):
            continue  # The plan leaves the field, and the map ends there.
        circle = [
            (at[0] + r * size * cos(radians(a)), at[1] + r * size * sin(radians(a)))
            for r in (0.85, 1.5, 2.2)
            for a in range(90, 450, 30)
        ]
        x, y = places.find(circle, size, size)
        axes.plot([at[0], x], [at[1], y], color=PALETTE["blue"], linewidth=0.7, zorder=5.0)
        hot = number in touched
        axes.text(
            x, y, str(number), ha="center", va="center", fontsize=SMALL, weight="bold" if hot else "normal",
            color="black", zorder=5.2, gid=f"segment-number-{number}",
            bbox={
                "boxstyle": "circle,pad=0.22", "facecolor": "white", "linewidth": 1.8 if hot else 0.9,
                "edgecolor": PALETTE["vermilion"] if hot else PALETTE["blue"],
            },
        )  # fmt: skip


def _names(axes: Axes, run: Run, places: _Places) -> None:
    import matplotlib.patheffects as effects

    from fieldsim.shapes import polygon

    halo = [effects.withStroke(linewidth=2.2, foreground="white")]

    def write(text: str, centres: Sequence[tuple[float, float]], inside: int = 0, **look: Any) -> None:
        width, height = places.size(text, SMALL, "weight" in look)
        x, y = places.find(centres, width, height, inside)
        axes.text(
            x, y, text, ha="center", va="center", fontsize=SMALL, zorder=5.5, path_effects=halo, parse_math=False,
            **look,
        )  # fmt: skip

    field = run.field
    for jig in (jig for jig in field.jigs if jig.name == run.start):
        name = shorten(jig.name, NAME_CELLS)
        width, height = places.size(name, SMALL, bold=True)
        r = 8 * places.mm_per_point
        write(name, _around(*jig.corner, r, r, width, height), gid="jig-name", weight="bold")
    for n, obstacle in enumerate(field.obstacles, 1):
        shape = polygon(obstacle.shape)
        name = shorten(obstacle.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        x0, y0, x1, y1 = shape.bounds
        inside = shape.representative_point()
        centres = _around((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2, width, height)
        fits = x1 - x0 > width and shape.contains(inside.buffer(min(width, height) / 2))
        if fits:
            centres = [(inside.x, inside.y), *centres]
        write(name, centres, inside=int(fits), gid=f"obstacle-name-{n}")
    for n, target in enumerate(field.targets, 1):
        name = shorten(target.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        r = target.within
        write(name, _around(*target.at, r, r, width, height), gid=f"target-name-{n}", color="#006b4e", style="italic")
    for n, area in enumerate(field.start_areas, 1):
        name = shorten(area.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        x0, y0, x1, y1 = polygon(area.shape).bounds
        left, right, low, high = x0 + width * 0.6, x1 - width * 0.6, y0 + height, y1 - height
        corners = [(left, high), (right, high), (left, low), (right, low)]
        write(name, corners, gid=f"start-area-name-{n}", color="#555555")
    for n, line in enumerate(field.lines, 1):
        name = shorten(line.name, NAME_CELLS)
        width, height = places.size(name, SMALL)
        a, b = np.array(line.start), np.array(line.end)
        spots = [tuple(a + u * (b - a)) for u in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)]
        beside = [(x + s * (width / 2 + line.width), y) for x, y in spots for s in (1, -1)]
        write(name, beside, gid=f"line-name-{n}", color="#655e2c")


def _legend(run: Run, sample: PathSample) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def line(label: str, **look: Any) -> Line2D:
        return Line2D([], [], label=label, **look)

    blue, green = PALETTE["blue"], PALETTE["green"]
    found: list[Any] = [
        line("planned path", color=blue, linewidth=2.2),
        Patch(facecolor=SWEPT, edgecolor=PALETTE["sky"], label="ground it covers"),
        Patch(facecolor="none", edgecolor=blue, linewidth=1.8, label="robot at the start"),
        Patch(facecolor="none", edgecolor=blue, linewidth=1.8, linestyle=(0, (3, 1.5)), label="robot at the end"),
        Patch(facecolor="none", edgecolor=blue, linewidth=0.6, label="robot between segments"),
    ]
    if len(sample.trials):
        found.append(line(f"{len(sample.trials)} of the trials", color=TRIAL, linewidth=0.8))
    if len(sample.contacts):
        shown, known = min(len(sample.contacts), MOST_CONTACTS), len(sample.contacts)
        words = "first contact" if shown == known else f"first contact ({shown} of {known})"
        found.append(line(words, color=PALETTE["vermilion"], marker="x", linestyle="none", markeredgewidth=1.7))
    if run.field.obstacles:
        found.append(Patch(facecolor=OBSTACLE, edgecolor=OBSTACLE_EDGE, label="model"))
        found.append(
            Patch(facecolor="none", edgecolor="#777777", linestyle="--", hatch="///", label="model too high or low")
        )
    if run.field.targets:
        found.append(line("target", color=green, linewidth=1.6, linestyle=(0, (3, 1))))
    if any(jig.name == run.start for jig in run.field.jigs):
        found.append(line("jig in use", color=PALETTE["orange"], linewidth=2.6, path_effects=_cased()))
    if any(jig.name != run.start for jig in run.field.jigs):
        found.append(line("other jigs", color=PALETTE["purple"], linewidth=2))
    return found


# --- the ribbon ------------------------------------------------------------------------------------------------------


def _draw_ribbon(axes: Axes, answer: TryAnswer, words: Sequence[str]) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    entries = answer.ribbon
    axes.set_title(
        "How much room is left on each segment: gap to the nearest model or wall, mm", fontsize=NORMAL, loc="left",
        weight="bold", pad=22,
    )  # fmt: skip
    shown = [v for e in entries for v in (e.nominal, e.p95) if isfinite(v)]
    most = min(max([*shown, 10.0]), answer.horizon) if isfinite(answer.horizon) else max([*shown, 10.0])
    # Roots: the few mm that decide a run get the room, and zero is still a line to stand on.
    axes.set_yscale("function", functions=(lambda v: np.sqrt(np.clip(v, 0, None)), np.square))
    axes.set_ylim(0, most * 1.4)
    axes.set_xlim(0.4, max(len(entries), 1) + 0.6)
    ticks = [t for t in (0, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if t <= most * 1.4]
    if len(ticks) > 7:
        ticks = [t for t in ticks if t not in (1, 2)]
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_major_locator(NullLocator())
    axes.tick_params(labelsize=SMALL, length=3, color="#777777")
    axes.grid(axis="y", color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_linewidth(2)
    axes.set_ylabel("gap, mm", fontsize=SMALL, labelpad=2)

    blue = PALETTE["blue"]
    for x, entry in enumerate(entries, 1):
        low, middle, high = (min(v, most) for v in (entry.p05, entry.median, entry.p95))
        if isfinite(low) and isfinite(high):
            axes.add_patch(
                Rectangle(
                    (x - 0.3, low), 0.6, high - low, facecolor=SWEPT, edgecolor=PALETTE["sky"], linewidth=0.8,
                    gid=f"band-{entry.segment}",
                )
            )  # fmt: skip
            ends = [x - 0.3, x + 0.3]
            axes.plot(
                ends, [low, low], color=blue, linewidth=2.6, solid_capstyle="butt", zorder=3,
                gid=f"margin-{entry.segment}",
            )  # fmt: skip
            axes.plot(
                ends, [middle, middle], color="black", linewidth=1.1, linestyle=(0, (3, 1.5)), zorder=3,
                gid=f"median-{entry.segment}",
            )  # fmt: skip
            if low <= 0:
                axes.plot(
                    [x], [0], marker="x", color=PALETTE["vermilion"], markersize=9, markeredgewidth=2.2, zorder=6,
                    clip_on=False, gid=f"touch-{entry.segment}",
                )  # fmt: skip
        if isfinite(entry.nominal):
            axes.plot(
                [x], [min(entry.nominal, most)], marker="D", color="white", markeredgecolor="black", markersize=5,
                zorder=4, clip_on=False, gid=f"nominal-{entry.segment}",
            )  # fmt: skip
        _ribbon_value(axes, x, entry.p05, high if isfinite(high) else 0.0, entry.nominal, most, answer.horizon)
    _under_columns(axes, words)
    if not entries:
        axes.text(0.5, 0.5, "There is nothing to touch.", transform=axes.transAxes, ha="center", fontsize=NORMAL)
    _ribbon_legend(axes, any(e.p05 <= 0 for e in entries))


def _ribbon_value(axes: Axes, x: int, p05: float, high: float, nominal: float, most: float, horizon: float) -> None:
    """The margin in figures over its column."""
    if not isfinite(p05):
        return
    if p05 <= 0:
        text = "touches"
    elif p05 >= horizon:
        text = f"over {horizon:g}"
    else:
        text = f"{floor(p05 * 10 + 1e-7) / 10:.1f}" if p05 < 10 else f"{floor(p05 + 1e-7)}"
    top = max(high, min(nominal, most) if isfinite(nominal) else 0.0)
    axes.annotate(
        text, (x, top), (0, 6), textcoords="offset points", ha="center", va="bottom", fontsize=SMALL,
        weight="bold" if p05 <= 0 else "normal", color="#9c4400" if p05 <= 0 else "black", annotation_clip=False,
    )  # fmt: skip


def _under_columns(axes: Axes, words: Sequence[str]) -> None:
    from matplotlib.transforms import blended_transform_factory

    count = max(len(words), 1)
    where = blended_transform_factory(axes.transData, axes.transAxes)
    upright = _upright(count)
    # Cells of a letter of 0.6 of its size that fit in a column.
    limit = max(8, floor((WIDTH - LEFT - RIGHT) * 72 / (count + 0.2) / (0.6 * SMALL)) - 1)
    for x, text in enumerate(words, 1):
        shown = shorten(text, UPRIGHT_CELLS) if upright else _broken(text, min(limit, 26), 4)
        axes.text(
            x, -0.05, shown, transform=where, ha="center", va="top", rotation=90 if upright else 0, clip_on=False,
            fontsize=SMALL if count <= 50 else 6, parse_math=False, linespacing=1.1, gid=f"ribbon-words-{x}",
        )  # fmt: skip


def _ribbon_legend(axes: Axes, touches: bool) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    found: list[Any] = [
        Line2D(
            [], [], color="white", marker="D", markeredgecolor="black", markersize=5, linestyle="none", label="planned"
        ),
        Line2D([], [], color="black", linewidth=1.1, linestyle=(0, (3, 1.5)), label="half of the trials"),
        Line2D([], [], color=PALETTE["blue"], linewidth=2.6, label="left in 19 of 20 trials (figure)"),
        Patch(facecolor=SWEPT, edgecolor=PALETTE["sky"], label="9 of 10 trials are in here"),
    ]
    if touches:
        found.append(
            Line2D(
                [], [], color=PALETTE["vermilion"], marker="x", markeredgewidth=2.2, linestyle="none", label="touches"
            )
        )
    axes.legend(
        handles=found, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=5, fontsize=SMALL, frameon=False,
        handlelength=1.8, columnspacing=1.2, borderpad=0, borderaxespad=0.35,
    )  # fmt: skip
