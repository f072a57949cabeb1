"""Where words go on the field so that they cover little. Pixels; knows no screen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

__all__ = ["Places", "beside"]

# What it costs to cover words, where covering a thing as large as the label costs about 1.
OVER_WORDS = 30.0


class Places:
    """Boxes x0, y0, x1, y1 that are taken, each with what it costs to cover one of it whole."""

    def __init__(self, bounds: tuple[float, float, float, float]) -> None:
        self.bounds = bounds
        self.taken = np.zeros((64, 5))
        self.count = 0

    def keep_clear(self, boxes: Floats, weight: float) -> None:
        """Boxes (n, 4)."""
        n = len(boxes)
        while self.count + n > len(self.taken):
            self.taken = np.concatenate([self.taken, np.zeros_like(self.taken)])
        self.taken[self.count : self.count + n, :4] = boxes
        self.taken[self.count : self.count + n, 4] = weight
        self.count += n

    def find(
        self, centres: Sequence[tuple[float, float] | Floats] | Floats, width: float, height: float, free: int = 0
    ) -> tuple[tuple[float, float], float]:
        """The centre at which a label covers least, the earlier the better, and what it costs there (1: covers as much
        as its own size). It is kept clear from then on. The first ``free`` centres lie in what is named and cost less.
        """
        at = np.asarray(centres, dtype=float)
        half = np.array([width / 2, height / 2])
        low, high = at - half, at + half
        taken = self.taken[: self.count]
        # What none of the places can cover is not looked at in each of them.
        (x0, y0), (x1, y1) = low.min(axis=0), high.max(axis=0)
        taken = taken[(taken[:, 0] < x1) & (taken[:, 2] > x0) & (taken[:, 1] < y1) & (taken[:, 3] > y0)]
        over = np.minimum(high[:, None], taken[None, :, 2:4]) - np.maximum(low[:, None], taken[None, :, :2])
        over = np.maximum(over, 0.0)
        covered = (over[..., 0] * over[..., 1]) @ taken[:, 4] / (width * height)
        x0, y0, x1, y1 = self.bounds
        outside = np.maximum((x0, y0) - low, 0.0) + np.maximum(high - (x1, y1), 0.0)
        cost = covered + 6 * outside.sum(axis=1) / height + 0.03 * np.arange(len(at))
        cost[:free] -= 0.6
        best = int(cost.argmin())
        x, y = float(at[best, 0]), float(at[best, 1])
        self.keep_clear(np.array([(x - width / 2, y - height / 2, x + width / 2, y + height / 2)]), OVER_WORDS)
        return (x, y), float(covered[best])


def beside(
    box: tuple[float, float, float, float], width: float, height: float, gap: float = 2.0
) -> list[tuple[float, float]]:
    """Centres for a label round a box x0, y0, x1, y1: above, below, right, left, at the corners."""
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    dx, dy = (box[2] - box[0] + width) / 2 + gap, (box[3] - box[1] + height) / 2 + gap
    near = [(x, y - dy), (x, y + dy), (x + dx, y), (x - dx, y)]
    near += [(x + a * dx, y + b * dy) for b in (-1, 1) for a in (1, -1)]
    near += [(x + a * (dx - width / 2), y + b * dy) for b in (-1, 1) for a in (0.8, -0.8)]
    near += [(x, y + b * (dy + height)) for b in (-1, 1)]
    return near + [(x + a * dx, y + b * (dy + height)) for b in (-1, 1) for a in (1, -1)]
