"""Convex shapes as flat arrays, the form in which the kernel reads footprints and obstacles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


# Columns of ``Shapes.corner``.
VX, VY, NX, NY, LEN = range(5)


class Shapes(NamedTuple):
    """Convex shapes behind one another, counter-clockwise; shape ``i`` has corners ``start[i]`` to ``start[i + 1]``.

    A row of ``corner`` is x, y, the outward unit normal of the edge from this corner to the next, and that edge's
    length. A shape of one corner is a point and has no edges; one of two is a segment, whose two edges are its two
    sides. ``radius`` rounds a shape: it is everything within that distance of its corners' hull. ``reach`` is the
    distance of the farthest corner from the frame's origin.
    """

    corner: Floats
    start: Ints
    radius: Floats
    reach: Floats

    def outline(self, i: int) -> Floats:
        """The rows of shape ``i``."""
        rows: Floats = self.corner[self.start[i] : self.start[i + 1]]
        return rows


def shapes(outlines: Sequence[ArrayLike], radii: Sequence[float] | None = None) -> Shapes:
    """Pack convex outlines, each (n, 2) in mm and n >= 1, into flat arrays.

    An outline may run either way round; repeated vertices are dropped. It must be convex: that is the caller's
    promise (fieldsim.sim.shapes cuts concave outlines), checked there and not here.
    """
    kept = [_tidy(np.asarray(outline, dtype=float)) for outline in outlines]
    start = np.zeros(len(kept) + 1, dtype=np.int64)
    start[1:] = np.cumsum([len(points) for points in kept], dtype=np.int64)
    points = np.concatenate(kept) if kept else np.zeros((0, 2))
    edge = np.zeros_like(points)
    for outline, first in zip(kept, start, strict=False):
        edge[first : first + len(outline)] = np.roll(outline, -1, axis=0) - outline
    length = np.hypot(edge[:, 0], edge[:, 1])
    unit = edge / np.where(length > 0, length, 1.0)[:, None]
    corner = np.column_stack([points, unit[:, 1], -unit[:, 0], length])
    return Shapes(
        corner=np.ascontiguousarray(corner),
        start=start,
        radius=np.zeros(len(kept)) if radii is None else np.asarray(radii, dtype=float),
        reach=np.array([np.hypot(p[:, 0], p[:, 1]).max() for p in kept], dtype=float),
    )


def _tidy(points: Floats) -> Floats:
    """The outline counter-clockwise, without vertices that repeat their neighbour."""
    if points.ndim != 2 or points.shape[1] != 2 or len(points) == 0 or not np.isfinite(points).all():
        raise ValueError(f"an outline is a list of (x, y) points with finite numbers, got {points.tolist()!r}")
    if len(points) > 1:
        points = (
            points[(points != np.roll(points, 1, axis=0)).any(axis=1)] if (points != points[0]).any() else points[:1]
        )
    x, y = points[:, 0], points[:, 1]
    twice_area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return points[::-1].copy() if twice_area < 0 else points
