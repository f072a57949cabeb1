"""A drawing for each kind of test: the mark, the wall, what is measured from where, and which way is positive.

Lengths are mm of paper, from the lower left corner of a drawing ``WIDE`` by ``HIGH``. What is measured bears the name
of its column, which is the same in every language.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.cards.paper import INK
from fieldsim.language import tr

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDE, HIGH = 46.0, 27.0
RED, PALE = "#a33f00", "#777777"
LETTER = 7.0


def height_of(kind: str) -> float:
    """How high the drawing of a kind of test is: there is little to see of a drop."""
    return 16.0 if kind == "drop" else HIGH


def draw_test(axes: Axes, kind: str) -> None:
    """The drawing of one kind of test into axes of its size."""
    axes.set_label(f"test {kind}")
    axes.set_xlim(0, WIDE)
    axes.set_ylim(0, height_of(kind))
    axes.axis("off")
    DRAWN[kind](axes)


def _robot(axes: Axes, x: float, y: float, heading: float, dashed: bool = False, size: float = 7.0) -> None:
    """The robot about the middle of its axle, an arrow to its front; dashed where it stood before."""
    h = radians(heading)
    turn = np.array([[cos(h), sin(h)], [-sin(h), cos(h)]])
    corners = np.array([(-0.35, -0.42), (0.85, -0.42), (0.85, 0.42), (-0.35, 0.42)]) * size @ turn + (x, y)
    axes.fill(
        *corners.T, facecolor="none" if dashed else "#eeeeee", edgecolor=PALE if dashed else INK,
        linestyle="--" if dashed else "-", linewidth=0.8 if dashed else 1.1, zorder=2,
    )  # fmt: skip
    tip = np.array([0.7, 0.0]) * size @ turn + (x, y)
    _arrow(axes, (x, y), (float(tip[0]), float(tip[1])), PALE if dashed else INK)


def _arrow(
    axes: Axes, tail: tuple[float, float], tip: tuple[float, float], color: str, both: bool = False, bend: float = 0.0
) -> None:
    axes.annotate(
        "", tip, tail, zorder=4,
        arrowprops={
            "arrowstyle": "<|-|>,head_width=0.16,head_length=0.32" if both else "-|>,head_width=0.16,head_length=0.32",
            "color": color, "linewidth": 1.0, "shrinkA": 0, "shrinkB": 0, "connectionstyle": f"arc3,rad={bend}",
        },
    )  # fmt: skip


def _say(axes: Axes, x: float, y: float, words: str, color: str = RED, side: str = "center") -> None:
    axes.text(
        x, y, words, fontsize=LETTER, ha=side, va="center", color=color, zorder=5, parse_math=False,
        bbox={"boxstyle": "square,pad=0.08", "facecolor": "white", "edgecolor": "none"},
    )  # fmt: skip


def _line(axes: Axes, tail: tuple[float, float], tip: tuple[float, float], look: str = "-") -> None:
    axes.plot([tail[0], tip[0]], [tail[1], tip[1]], color=PALE, linewidth=0.8, linestyle=look, zorder=1)


def _mark(axes: Axes, x: float, y: float) -> None:
    """A mark on the mat."""
    axes.plot(x, y, marker="+", markersize=7, color=INK, markeredgewidth=1.4, zorder=4.5)


def _wall(axes: Axes, x0: float, y0: float, x1: float, y1: float) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(
        Rectangle((x0, y0), x1 - x0, y1 - y0, facecolor="white", edgecolor=INK, hatch="/////", linewidth=0.8, zorder=1)
    )


def _straight(axes: Axes) -> None:
    _line(axes, (3, 8), (45, 8), "--")
    _robot(axes, 5, 8, 0, dashed=True)
    _mark(axes, 5, 8)
    _say(axes, 5, 2.6, tr("mark"), INK)
    _robot(axes, 34, 14, 12)
    _arrow(axes, (5, 8), (34, 8), RED, both=True)
    _say(axes, 19, 5.2, "travel mm")
    _arrow(axes, (34, 8), (34, 14), RED)
    _say(axes, 32.5, 11.6, "sideways mm +", side="right")
    _arrow(axes, (43.5, 13), (42.5, 19), RED, bend=0.3)
    _say(axes, 45.5, 21.5, "heading deg +", side="right")
    _say(axes, 45.8, 3.0, tr("right is -"), side="right")


def _turn(axes: Axes) -> None:
    _wall(axes, 1, 23.5, 27, 26.5)
    _say(axes, 14, 25, tr("wall"), INK)
    _robot(axes, 14, 10, 96, size=9.0)
    # The front's two ends, seen from the robot to the wall: far at the left hand, near at the right.
    h, size = radians(96), 9.0
    ends = [(14 + size * (0.85 * cos(h) - y * sin(h)), 10 + size * (0.85 * sin(h) + y * cos(h))) for y in (0.42, -0.42)]
    for (x, y), name, at, side in zip(ends, ("far", "near"), (8.5, 19.5), ("right", "left"), strict=True):
        _arrow(axes, (x, y), (x, 23.5), RED, both=True)
        _say(axes, at, (y + 23.5) / 2, name, side=side)
    _arrow(axes, (ends[0][0], ends[0][1] - 9.5), (ends[1][0], ends[1][1] - 9.5), RED, both=True)
    _say(axes, 14, 4.0, "side mm")
    # Once round.
    around = np.radians(np.linspace(100, 440, 60))
    axes.plot(37 + 6.5 * np.cos(around), 13 + 6.5 * np.sin(around), color=RED, linewidth=1.0, zorder=3)
    tip = (37 + 6.5 * cos(around[-1]), 13 + 6.5 * sin(around[-1]))
    before = (37 + 6.5 * cos(around[-4]), 13 + 6.5 * sin(around[-4]))
    _arrow(axes, before, tip, RED)
    _robot(axes, 37, 12, 90, size=6.0)
    _say(axes, 37, 22.5, "+360")
    _say(axes, 36.5, 3.2, tr("once round, left"))


def _square_path(axes: Axes) -> None:
    for tail, tip in (((5, 6), (5, 22)), ((5, 22), (21, 22)), ((21, 22), (21, 7)), ((21, 7), (8, 7))):
        _arrow(axes, tail, tip, PALE)
    _mark(axes, 5, 6)
    _say(axes, 5, 1.8, tr("mark"), INK)
    _say(axes, 13, 22, "side mm")
    _say(axes, 13, 14, "cw", INK)
    # Where it ended, large: forward is the way it looked at the start, here up.
    _mark(axes, 42, 7)
    _robot(axes, 33, 14, 84, size=6.0)
    _arrow(axes, (42, 7), (42, 14), RED)
    _say(axes, 45.8, 22, "return x mm +", side="right")
    _line(axes, (42, 14), (42, 20.5), ":")
    _arrow(axes, (42, 7), (33, 7), RED)
    _say(axes, 45.8, 2.6, "return y mm +", side="right")
    _line(axes, (33, 7), (33, 14), ":")
    _line(axes, (42, 14), (33, 14), ":")


def _there_and_back(axes: Axes) -> None:
    _robot(axes, 8, 17, 0, dashed=True)
    _mark(axes, 8, 17)
    _say(axes, 8, 24, tr("mark"), INK)
    _arrow(axes, (15, 18.2), (42, 18.2), PALE)
    _arrow(axes, (42, 15.8), (15, 15.8), PALE)
    _say(axes, 30, 21.5, "commanded mm", INK)
    _robot(axes, 13, 9, 6)
    _arrow(axes, (8, 17), (8, 9), RED)
    _arrow(axes, (8, 9), (13, 9), RED)
    _say(axes, 2, 3.0, "return y mm -", side="left")
    _say(axes, 21, 9, "return x mm +", side="left")


def _placing(axes: Axes) -> None:
    # The jig at the corner behind on the right; the place it should have is dashed.
    axes.plot([25, 9, 9], [5, 5, 22], color="#e69f00", linewidth=4.0, solid_capstyle="butt", zorder=1)
    _robot(axes, 14.6, 11, 0, dashed=True, size=14.0)
    _robot(axes, 17.6, 14, 4, size=14.0)
    _say(axes, 17, 2.0, tr("jig"), INK)
    _arrow(axes, (32, 8), (39, 8), RED)
    _say(axes, 45.8, 4.6, "along mm +", side="right")
    _arrow(axes, (36, 11), (36, 17), RED)
    _say(axes, 45.8, 19, "across mm +", side="right")
    _arrow(axes, (28, 21.5), (24.5, 25), RED, bend=0.35)
    _say(axes, 45.8, 25, "heading deg +", side="right")


def _square(axes: Axes) -> None:
    _wall(axes, 2, 22, 44, 25.5)
    _say(axes, 9, 23.7, tr("wall"), INK)
    _robot(axes, 20, 8.8, 70, dashed=True, size=13.0)
    _robot(axes, 34, 10.9, 90, size=13.0)
    _mark(axes, 19, 22)
    _say(axes, 9.5, 19, tr("mark"), INK)
    _arrow(axes, (19, 20.4), (28.5, 20.4), RED)
    _say(axes, 23.6, 17.8, "along mm")
    _arrow(axes, (6.5, 12), (9.5, 6), RED, bend=0.35)
    _say(axes, 1.0, 3.0, "angle deg", side="left")


def _drop(axes: Axes) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((6, 1), 34, 3, facecolor="#dddddd", edgecolor=INK, linewidth=0.8))
    _say(axes, 23, 2.5, tr("soft mat"), INK)
    axes.add_patch(Rectangle((18, 10), 10, 5, facecolor="#eeeeee", edgecolor=INK, linewidth=1.1))
    for x in (20, 26):
        axes.plot(x, 9.6, marker="o", markersize=4.5, color=INK)
    _arrow(axes, (23, 9), (23, 4.6), RED)


DRAWN: dict[str, Callable[[Axes], None]] = {
    "straight": _straight, "turn": _turn, "square path": _square_path, "there and back": _there_and_back,
    "placing": _placing, "square": _square, "drop": _drop,
}  # fmt: skip
"""A drawing for every kind of test that a sheet asks for."""
