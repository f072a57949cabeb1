"""Outlines as files give them: is a ring of corners a simple polygon? Plain Python, so that a check is quick."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fieldsim.language import tr
from fieldsim.model.errors import Complaint
from fieldsim.model.units import plain

__all__ = ["Spot", "bounding_box", "outline_complaint"]

Spot = tuple[float, float]

# mm^2. An outline thinner than this is a slip of the pen: a sheet of paper on edge, 10 mm long, covers one.
LEAST_AREA = 1.0


def bounding_box(points: Sequence[Spot]) -> tuple[float, float, float, float]:
    """x_low, y_low, x_high, y_high of at least one point, mm."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def outline_complaint(points: Sequence[Spot], attribute: str) -> Iterator[Complaint]:
    """The first thing, if any, that keeps a ring of corners (mm) from being a simple polygon with an area."""
    count = len(points)
    if points[0] == points[-1]:
        yield Complaint(
            (attribute, count - 1),
            tr("repeats the first corner"),
            tr("leave the last corner out; the outline closes by itself"),
        )
        return
    first: dict[Spot, int] = {}
    for index, point in enumerate(points):
        if point in first:
            where = f"[{plain(point[0])}, {plain(point[1])}]"
            yield Complaint(
                (attribute, index),
                tr("comes to the corner {where} a second time", where=where),
                tr("give each corner once"),
            )
            return
        first[point] = index
    # Crossing edges, and edges that lie on each other; neighbours share a corner and may only do that.
    for i in range(count):
        a, b = points[i], points[(i + 1) % count]
        if _turn(a, b, points[(i + 2) % count]) == 0.0 and _dot(a, b, points[(i + 2) % count]) < 0.0:
            yield Complaint(
                (attribute, (i + 2) % count),
                tr("goes back over its own edge"),
                tr("give the corners in order around it"),
            )
            return
        for j in range(i + 2, count):
            if i == 0 and j == count - 1:
                continue
            if _meet(a, b, points[j], points[(j + 1) % count]):
                yield Complaint(
                    (attribute, j),
                    tr("crosses itself: the edge after corner {j} meets the edge after corner {i}", j=j + 1, i=i + 1),
                    tr("give the corners in order around it"),
                )
                return
    area = 0.5 * abs(sum(_turn(points[0], points[k], points[k + 1]) for k in range(1, count - 1)))
    if area < LEAST_AREA:
        yield Complaint((attribute,), tr("has no area"), tr("give the corners in order around it"))


def _turn(a: Spot, b: Spot, c: Spot) -> float:
    """Twice the area of the triangle a, b, c; positive if it turns left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _dot(a: Spot, b: Spot, c: Spot) -> float:
    """How far the way goes on along a to b when it goes to c; negative if it comes back."""
    return (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])


def _on(a: Spot, b: Spot, c: Spot) -> bool:
    """Is c, which is in line with a and b, between them."""
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def _meet(a: Spot, b: Spot, c: Spot, d: Spot) -> bool:
    """Do the closed segments a-b and c-d have a point in common (O'Rourke, Computational Geometry in C, 1998, 1.5)."""
    abc, abd, cda, cdb = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if ((abc > 0) != (abd > 0)) and ((cda > 0) != (cdb > 0)) and abc and abd and cda and cdb:
        return True
    return (
        (abc == 0 and _on(a, b, c))
        or (abd == 0 and _on(a, b, d))
        or (cda == 0 and _on(c, d, a))
        or (cdb == 0 and _on(c, d, b))
    )
