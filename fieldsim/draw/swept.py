"""Where the footprint is on the map: its outline at a pose, and the ground it covers on the way."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from shapely.geometry.base import BaseGeometry

    from fieldsim.sim.sample import PathSample
    from fieldsim.sim.shapes import Part

Points = NDArray[np.float64]

# An outline is drawn from the hulls of neighbouring poses; corners move at most this far between two of them, mm.
SWEEP_STEP = 12.0


def corners_at(points: Points, pose: Sequence[float]) -> Points:
    """Robot frame to field frame, (k, 2)."""
    c, s = cos(radians(pose[2])), sin(radians(pose[2]))
    moved: Points = points @ np.array([(c, s), (-s, c)]) + np.array([pose[0], pose[1]])
    return moved


def footprint_at(parts: Sequence[Part], pose: Sequence[float]) -> BaseGeometry:
    import shapely

    # Joined before they are turned: afterwards a side that two parts share would differ by a rounding, and show.
    whole = shapely.union_all([shapely.Polygon(part.points) for part in parts])
    return shapely.transform(whole, lambda points: corners_at(points, pose))


def reach_of(parts: Sequence[Part]) -> float:
    return max(float(np.hypot(*part.points.T).max()) for part in parts)


def poses_along(sample: PathSample, reach: float) -> list[Points]:
    """Poses (k, 3) along each planned piece, close enough together to draw."""
    from fieldsim.sim.motion import along_piece, shifted

    found = []
    for pose, (s, t), ahead in zip(sample.nominal[:-1], sample.travel, sample.ahead, strict=True):
        count = max(1, ceil((abs(s) + reach * abs(radians(t))) / SWEEP_STEP))
        # A straight needs no poses between: the hull of its ends is what it sweeps.
        count = 1 if t == 0 else count
        poses = along_piece(shifted(pose, ahead), s, t, np.linspace(0.0, 1.0, count + 1))
        found.append(shifted(poses, -ahead))
    return found


def swept_ground(parts: Sequence[Part], along: Sequence[Points]) -> BaseGeometry | None:
    """The ground the footprint covers."""
    import shapely

    hulls = []
    for poses in along:
        for part in parts:
            placed = np.stack([corners_at(part.points, pose) for pose in poses])
            pairs = np.concatenate([placed[:-1], placed[1:]], axis=1)
            hulls.append(shapely.convex_hull(shapely.multipoints(shapely.points(pairs).reshape(len(pairs), -1))))
    # On a grid of a thousandth of a mm, so that no slits stay open between hulls that share a side.
    return shapely.union_all(np.concatenate(hulls), grid_size=1e-3) if hulls else None


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


def add_area(axes: Axes, geometry: BaseGeometry, gid: str, **look: Any) -> None:
    from matplotlib.patches import PathPatch

    axes.add_patch(PathPatch(_as_path(geometry), gid=gid, **look))
