"""A frame to scale for one view of a robot, with its two axes. Lengths of paper are inches."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fieldsim.draw.labels import Places
from fieldsim.draw.look import (
    GRID,
    SMALL,
    numbers_as_spoken,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.model import Point


ABOVE = (5.3, 5.75)


def framed(axes: Axes, low: Point, high: Point, inches: tuple[float, float], x_words: str, y_words: str) -> Places:
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
