"""Plane geometry for what is drawn on a field: points and lengths in mm, angles in degrees."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import cos, hypot, radians, sin

from fieldsim.model import (
    Point,
)
from fieldsim.window.dials import (
    tidy,
)

__all__ = [
    "apart",
    "beyond",
    "centroid",
    "distance_to_segment",
    "edge_distances",
    "into_frame",
    "is_inside",
    "midpoint",
    "nearest_on",
    "out_of_frame",
    "tidy_point",
    "unit_vector",
]


def is_inside(points: Sequence[Point], point: Point) -> bool:
    """Is a point inside a ring of corners: a ray to the right crosses it an odd number of times."""
    x, y = point
    inside = False
    for (ax, ay), (bx, by) in zip(points, (*points[1:], points[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            inside = not inside
    return inside


def edge_distances(points: Sequence[Point], point: Point) -> Iterable[float]:
    return (distance_to_segment(a, b, point) for a, b in zip(points, (*points[1:], points[0]), strict=True))


def distance_to_segment(a: Point, b: Point, point: Point) -> float:
    return apart(nearest_on(a, b, point), point)


def nearest_on(a: Point, b: Point, point: Point) -> Point:
    """The point from a to b that is nearest to another."""
    way = (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2
    share = ((point[0] - a[0]) * (b[0] - a[0]) + (point[1] - a[1]) * (b[1] - a[1])) / way if way else 0.0
    share = min(1.0, max(0.0, share))
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def tidy_point(point: Point) -> Point:
    return tidy(point[0]), tidy(point[1])


def _doubled_areas(points: Sequence[Point]) -> list[float]:
    """Of the triangles between the origin and each edge, signed."""
    return [a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True)]


def centroid(points: Sequence[Point]) -> Point:
    """The centroid of a simple polygon (Bourke, Calculating the area and centroid of a polygon, 1988, from memory)."""
    x0, y0 = points[0]
    moved = [(x - x0, y - y0) for x, y in points]
    areas = _doubled_areas(moved)
    sums = [(a[0] + b[0], a[1] + b[1]) for a, b in zip(moved, (*moved[1:], moved[0]), strict=True)]
    whole = 3.0 * sum(areas)
    x = sum(area * each[0] for area, each in zip(areas, sums, strict=True)) / whole
    y = sum(area * each[1] for area, each in zip(areas, sums, strict=True)) / whole
    return x0 + x, y0 + y


def apart(a: Point, b: Point) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])


def midpoint(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def unit_vector(a: Point, b: Point) -> Point:
    """Of length 1, from a to b, which are not the same."""
    long = apart(a, b)
    return (b[0] - a[0]) / long, (b[1] - a[1]) / long


def out_of_frame(center: Point, heading: float, local: Point) -> Point:
    """A point of a frame at ``center``, turned by ``heading`` degrees, in the field's frame."""
    c, s = cos(radians(heading)), sin(radians(heading))
    return center[0] + c * local[0] - s * local[1], center[1] + s * local[0] + c * local[1]


def into_frame(center: Point, heading: float, point: Point) -> Point:
    """A point of the field in such a frame."""
    c, s = cos(radians(heading)), sin(radians(heading))
    x, y = point[0] - center[0], point[1] - center[1]
    return c * x + s * y, c * y - s * x


def beyond(point: Point, heading: float, way: float) -> Point:
    return out_of_frame(point, heading, (way, 0.0))
