"""Where labels go so that they cover little, and how long they may be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from fieldsim.lettering import cells, one_line, shorten, units_kept

# What it costs a label to cover a model, where covering the path costs 1.5 and another label 4.
OWN_WEIGHT = 0.6


class Places:
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


def around(x: float, y: float, half_width: float, half_height: float, width: float, height: float) -> list[Any]:
    """Centres for a label beside a box: above, below, right, left, at the corners, farther off."""
    dx, dy = half_width + width / 2, half_height + height / 2
    beside = [(x, y + dy), (x, y - dy), (x + dx, y), (x - dx, y)]
    corners = [(x + a * dx, y + b * dy) for a in (1, -1) for b in (1, -1)]
    return beside + corners + [(x, y + a * (dy + height)) for a in (1, -1)]


def broken(text: str, limit: int, lines: int) -> str:
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
