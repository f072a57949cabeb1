"""Outlines and convex parts, with shapely: what the field and the robot look like to the geometry.

The only core module that knows shapely. Millimetres; the field frame for obstacles, the robot frame for footprints.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import cos, inf, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fieldsim.model import WALLS, Attachment, Band, Body, Box, Field, Outline, Point, Robot, Round, Shape

Points = NDArray[np.float64]

# How far the walls, and the drop beyond an open board's edge, go outwards, mm: more than any robot could leave by.
THICK = 3000.0

# A corner this little concave, as a share of the product of its two sides, is taken for straight.
FLAT = 1e-9


@dataclass(frozen=True)
class Core:
    """A convex part of an obstacle: everything within ``radius`` of the hull of ``points`` (k, 2), k >= 1."""

    points: Points
    radius: float = 0.0


@dataclass(frozen=True)
class Solid:
    """Something to stay clear of: an obstacle, a wall, or the drop beyond an open board's edge."""

    name: str
    cores: tuple[Core, ...]
    height: Band
    drop: bool = False


@dataclass(frozen=True)
class Part:
    """A convex part (m, 2) of the footprint, counter-clockwise, robot frame."""

    points: Points
    height: Band
    of: str
    """'body', or the attachment's name."""


def outline(shape: Box | Outline) -> Points:
    """Corners (n, 2) of a box or outline."""
    if isinstance(shape, Outline):
        return np.array(shape.points, dtype=float)
    c, s = cos(radians(shape.heading)), sin(radians(shape.heading))
    half = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(shape.size) / 2
    corners: Points = half @ np.array([(c, s), (-s, c)]) + np.array(shape.center)
    return corners


def cores(shape: Shape) -> tuple[Core, ...]:
    """The convex parts of an obstacle's shape; a round one is a point with a radius, so it stays exactly round."""
    if isinstance(shape, Round):
        return (Core(np.array([shape.center], dtype=float), shape.radius),)
    return tuple(Core(part) for part in convex_parts(outline(shape)))


def polygon(shape: Shape) -> BaseGeometry:
    """The shape for drawing and for areas; a round one with 64 corners a quarter turn."""
    if isinstance(shape, Round):
        return shapely.Point(shape.center).buffer(shape.radius, quad_segs=64)
    return shapely.Polygon(outline(shape))


@lru_cache(maxsize=64)
def solids(field: Field) -> tuple[Solid, ...]:
    """The field's obstacles in their order, then its four walls or edges.

    Kept: a study makes many plans on one field, and cutting outlines costs half a plan.
    """
    found = [Solid(o.name, cores(o.shape), o.height) for o in field.obstacles]
    w, d = field.size
    across = (-THICK, w + THICK)
    bounds = {
        "near": (across, (-THICK, 0.0)),
        "far": (across, (d, d + THICK)),
        "left": ((-THICK, 0.0), (-THICK, d + THICK)),
        "right": ((w, w + THICK), (-THICK, d + THICK)),
    }
    for wall in WALLS:
        side = wall.split()[0]
        (x0, x1), (y0, y1) = bounds[side]
        core = Core(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
        if field.walls is None:
            found.append(Solid(f"{side} edge", (core,), (-inf, inf), drop=True))
        else:
            found.append(Solid(wall, (core,), field.walls))
    return tuple(found)


def body_corners(body: Body) -> Points:
    """Rear left, rear right, front right, front left, robot frame (counter-clockwise)."""
    rear, front, half = -body.axle, body.length - body.axle, body.width / 2
    return np.array([(rear, half), (rear, -half), (front, -half), (front, half)])


def corner_of(body: Body, corner: str) -> Point:
    """A named corner of the body, such as 'rear left', robot frame."""
    end, side = corner.split()
    x = -body.axle if end == "rear" else body.length - body.axle
    return x, body.width / 2 if side == "left" else -body.width / 2


def worn(robot: Robot, wear: tuple[str, ...]) -> tuple[Attachment, ...]:
    """The attachments put on, in the order they are named in the run."""
    by_name = {attachment.name: attachment for attachment in robot.attachments}
    return tuple(by_name[name] for name in wear)


def footprint(robot: Robot, wear: tuple[str, ...]) -> tuple[Part, ...]:
    """Body first, then the convex parts of each worn attachment."""
    parts = [Part(body_corners(robot.body), robot.body.height, "body")]
    for attachment in worn(robot, wear):
        parts += _attachment_parts(attachment)
    return tuple(parts)


@lru_cache(maxsize=64)
def _attachment_parts(attachment: Attachment) -> tuple[Part, ...]:
    """Kept like the field's solids: nobody may write into these arrays."""
    points = np.array(attachment.outline, dtype=float)
    return tuple(Part(part, attachment.height, attachment.name) for part in convex_parts(points))


def meet(part: Part, solid: Solid) -> bool:
    """Can they touch at all? Their heights overlap; over a drop only the body, which carries the wheels, counts."""
    if solid.drop:
        return part.of == "body"
    return part.height[0] < solid.height[1] and solid.height[0] < part.height[1]


def hull_of(points: Points) -> Points:
    """The convex hull of points (n, 2) that do not all lie on a line, as its corners."""
    return np.array(shapely.convex_hull(shapely.multipoints(points)).exterior.coords)[:-1]


def convex_parts(points: Points) -> tuple[Points, ...]:
    """Cut a simple polygon (n, 2) into convex ones, counter-clockwise.

    Triangles first (constrained Delaunay), then neighbours are joined over a shared side while the union stays convex
    (after Hertel & Mehlhorn, Fast triangulation of simple polygons, 1983, from memory): at most four times as many
    parts as needed, in practice the fewest for the shapes of a field.
    """
    if _area(points) < 0:
        points = points[::-1].copy()
    if _is_convex(points):
        return (points,)
    triangles = shapely.constrained_delaunay_triangles(shapely.Polygon(points)).geoms
    parts = [_counter_clockwise(np.array(triangle.exterior.coords)[:-1]) for triangle in triangles]
    joined = True
    while joined:
        joined = False
        for a in range(len(parts)):
            for b in range(a + 1, len(parts)):
                both = _join(parts[a], parts[b])
                if both is not None:
                    parts[a] = both
                    del parts[b]
                    joined = True
                    break
            if joined:
                break
    return tuple(parts)


def _area(points: Points) -> float:
    x, y = points[:, 0], points[:, 1]
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def _counter_clockwise(points: Points) -> Points:
    return points[::-1].copy() if _area(points) < 0 else points


def _is_convex(points: Points) -> bool:
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    size = np.hypot(*before.T) * np.hypot(*after.T)
    return bool((cross >= -FLAT * size).all())


def _join(a: Points, b: Points) -> Points | None:
    """Two parts joined over a side they share, if that is convex."""
    for i in range(len(a)):
        for j in range(len(b)):
            if (a[i] == b[(j + 1) % len(b)]).all() and (a[(i + 1) % len(a)] == b[j]).all():
                # a from the side's end round to its start, then b's corners between that start and that end.
                ring = [a[(i + 1 + n) % len(a)] for n in range(len(a))]
                ring += [b[(j + 2 + n) % len(b)] for n in range(len(b) - 2)]
                both = np.array(ring)
                return both if _is_convex(both) else None
    return None
