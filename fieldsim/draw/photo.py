"""The pictures themselves, with what was seen drawn over them."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldsim.draw.look import (
    ALONE,
    FOOT,
    LEFT,
    NORMAL,
    PALETTE,
    RIGHT,
    Sheet,
    numbers_as_spoken,
    plain_style,
)
from fieldsim.draw.starts import head_of, titled_figure
from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.photo.taking import lines_over
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import planned_poses

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.model import Field, Robot, Run
    from fieldsim.photo.film import Film, Move
    from fieldsim.photo.taking import Taken

# More pictures than these are told, not drawn.
MOST_DRAWN = 12
GAP, WORDS = 0.15, 0.28


def draw_photo(taken: Taken, field: Field, robot: Robot, headline: str, sheet: Sheet = ALONE) -> Figure:
    """Each picture with the markers seen, the field's edge, and the robot's body where it was found."""
    shown = taken.looked[:MOST_DRAWN]
    across = min(2, len(shown))
    down = ceil(len(shown) / across)
    wide = (sheet.width - LEFT - RIGHT - GAP * (across - 1)) / across
    high = wide * 0.75
    height = head_of(sheet) + down * (high + WORDS) + FOOT
    with plain_style():
        title = tr("{robot} in pictures", robot=shorten(robot.name, 40))
        about = tr_many(
            "{field}; {n} picture", "{field}; {n} pictures", len(taken.looked), field=shorten(field.name, 40)
        )
        figure = titled_figure(sheet, height, title, about, headline)
        for n, each in enumerate(shown):
            row, column = divmod(n, across)
            left = LEFT + column * (wide + GAP)
            top = height - head_of(sheet) - row * (high + WORDS)
            axes = figure.add_axes(
                (left / sheet.width, (top - WORDS - high) / height, wide / sheet.width, high / height)
            )
            axes.set_label(f"picture {n + 1}")
            axes.set_title(shorten(Path(each.file).name, 40), fontsize=NORMAL, loc="left", parse_math=False)
            axes.imshow(each.small, interpolation="antialiased")
            for kind, line in lines_over(taken, n, field, robot):
                look = _LOOKS[kind]
                closed = line if kind == "ahead" else [*line, line[0]]
                axes.plot([x for x, _ in closed], [y for _, y in closed], label=kind, solid_capstyle="round", **look)
            axes.set_xlim(-0.5, each.small.shape[1] - 0.5)
            axes.set_ylim(each.small.shape[0] - 0.5, -0.5)
            axes.axis("off")
    return figure


def draw_film(
    seen: Film, made: Sequence[Move], field: Field, run: Run | None, headline: str, sheet: Sheet = ALONE
) -> Figure:
    """The way that was driven, from above, with the plan dashed where the run is known."""
    from matplotlib.patches import Rectangle

    x, y = field.size
    wide = sheet.width - LEFT - RIGHT
    high = min(wide * y / x, 6.5)
    height = head_of(sheet) + high + 0.5 + FOOT
    with plain_style():
        title = tr("The way in {file}", file=shorten(seen.file.name, 40))
        figure = titled_figure(sheet, height, title, shorten(field.name, 60), headline)
        axes = figure.add_axes((LEFT / sheet.width, (FOOT + 0.35) / height, wide / sheet.width, high / height))
        axes.set_label("way")
        axes.add_patch(Rectangle((0, 0), x, y, facecolor="none", edgecolor="#222222", linewidth=1.0))
        if run is not None:
            planned = planned_poses(plan(run))
            axes.plot(planned[:, 0], planned[:, 1], label="plan", **_LOOKS["field"])
        axes.plot(seen.poses[:, 0], seen.poses[:, 1], label="way", **_LOOKS["body"])
        for number, move in enumerate(made, 1):
            axes.plot(*move.after[:2], "o", color=PALETTE["black"], markersize=3.0, label=f"end {number}")
            axes.annotate(str(number), (float(move.after[0]), float(move.after[1])), (4, 4), textcoords="offset points",
                          fontsize=NORMAL)  # fmt: skip
        axes.set_aspect("equal")
        axes.set_xlim(-0.03 * x, 1.03 * x)
        axes.set_ylim(-0.03 * y, 1.03 * y)
        axes.set_xlabel(tr("x mm"))
        axes.set_ylabel(tr("y mm"))
        numbers_as_spoken(axes)
    return figure


_LOOKS: dict[str, dict[str, Any]] = {
    "marker": {"color": PALETTE["orange"], "linewidth": 1.4},
    "field": {"color": PALETTE["sky"], "linewidth": 1.0, "linestyle": (0, (5, 3))},
    "body": {"color": PALETTE["vermilion"], "linewidth": 1.8},
    "ahead": {"color": PALETTE["vermilion"], "linewidth": 1.8},
}
