"""How the parts of a robot look in the pictures of its base, the same from above and from the side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldsim.draw.look import (
    PALETTE,
)
from fieldsim.language import tr_later

if TYPE_CHECKING:
    from matplotlib.axes import Axes


WHEEL_SHARE = 0.14
"""How wide a wheel is drawn, as a share of its diameter: the file does not say."""
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


def tyre(x: float, y: float, width: float, height: float, gid: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle((x, y), width, height, facecolor=TYRE, edgecolor="black", linewidth=0.8, zorder=5, gid=gid)


def worn_look(worn: bool) -> dict[str, Any]:
    if worn:
        return {"facecolor": WORN, "edgecolor": "#8a5a00", "linewidth": 1.4, "hatch": "///", "zorder": 3.4}
    return {"facecolor": "none", "edgecolor": "#555555", "linewidth": 1.2, "linestyle": ":", "zorder": 3.5}


def draw_attachment(axes: Axes, outline: Any, worn: bool, gid: str) -> None:
    from matplotlib.patches import Polygon

    axes.add_patch(Polygon(outline, gid=gid, **worn_look(worn)))


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
