"""Where things on a field can be gripped, what a drag of a part makes of them, and what is under the pointer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import atan2, degrees, hypot, isfinite, pi
from typing import Literal

from fieldsim.language import tr
from fieldsim.model import (
    Box,
    Field,
    Jig,
    Line,
    Obstacle,
    Outline,
    Point,
    Round,
    Shape,
    StartArea,
    Target,
)
from fieldsim.model.outlines import bounding_box
from fieldsim.sim.motion import wrapped
from fieldsim.window.dials import (
    Refused,
    accepted,
    tidy,
)
from fieldsim.window.field.plane import (
    _doubled_areas,
    apart,
    beyond,
    distance_to_segment,
    edge_distances,
    into_frame,
    is_inside,
    midpoint,
    out_of_frame,
    tidy_point,
    unit_vector,
)
from fieldsim.window.field.things import WALLS_HANDLE, Handle, Thing, shifted, thing_at, things, with_thing

__all__ = ["ARM", "Axis", "anchor", "corner_points", "grip", "handles", "handles_of", "pick", "place_of", "under"]


Axis = Literal["free", "x", "y"]


ARM = 40.0
"""How far the handle for turning stands off a thing unless told, mm. A window that zooms says what looks well."""


# Corners and sides of a box by compass names in the box's own frame, east along its heading: (along, across).
_CORNERS: Mapping[str, tuple[int, int]] = {"sw": (-1, -1), "se": (1, -1), "ne": (1, 1), "nw": (-1, 1)}


_EDGES: Mapping[str, tuple[int, int]] = {"e": (1, 0), "n": (0, 1), "w": (-1, 0), "s": (0, -1)}


# Closer than this, mm, a handle has not been moved.
_STILL = 1e-9


def handles(field: Field, arm: float = ARM) -> tuple[tuple[Handle, Point], ...]:
    """Every place to grip of everything on the field, the walls' last."""
    found = [pair for handle, _ in things(field) for pair in handles_of(field, handle, arm)]
    return (*found, *handles_of(field, WALLS_HANDLE, arm))


def handles_of(field: Field, handle: Handle, arm: float = ARM) -> tuple[tuple[Handle, Point], ...]:
    """The places to grip of one thing; the whole of it, by its middle, comes first."""
    return tuple((replace(handle, part=part), point) for part, point in _parts(field, handle, arm))


def place_of(field: Field, handle: Handle, arm: float = ARM) -> Point:
    """Where a handle is. Raises KeyError if the thing has no such part."""
    for part, point in _parts(field, handle, arm):
        if part == handle.part:
            return point
    raise KeyError(handle.part)


def _parts(field: Field, handle: Handle, arm: float) -> Iterator[tuple[str, Point]]:
    if handle.kind == "walls":
        w, d = field.size
        yield from (("right", (w, d / 2)), ("far", (w / 2, d)), ("far right", (w, d)))
        return
    thing = thing_at(field, handle)
    yield "whole", anchor(thing)
    match thing:
        case Obstacle() | StartArea():
            yield from _shape_parts(thing.shape, arm)
        case Jig():
            yield "turn", beyond(thing.corner, thing.heading, arm)
        case Target():
            x, y = thing.at
            yield "within", (x + thing.within, y)
            if thing.heading is not None:
                yield "turn", beyond(thing.at, thing.heading, thing.within + arm)
        case Line():
            yield "start", thing.start
            yield "end", thing.end
            (mx, my), (ux, uy) = midpoint(thing.start, thing.end), unit_vector(thing.start, thing.end)
            yield "width", (mx - uy * thing.width / 2, my + ux * thing.width / 2)


def _shape_parts(shape: Shape, arm: float) -> Iterator[tuple[str, Point]]:
    match shape:
        case Box():
            for sides, prefix in ((_CORNERS, "corner"), (_EDGES, "edge")):
                for name, (along, across) in sides.items():
                    local = along * shape.size[0] / 2, across * shape.size[1] / 2
                    yield f"{prefix} {name}", out_of_frame(shape.center, shape.heading, local)
            yield "turn", beyond(shape.center, shape.heading, shape.size[0] / 2 + arm)
        case Round():
            yield "radius", (shape.center[0] + shape.radius, shape.center[1])
        case Outline():
            for index, point in enumerate(shape.points):
                yield f"corner {index}", point


def anchor(thing: Thing) -> Point:
    """The point a thing is moved by."""
    match thing:
        case Obstacle() | StartArea():
            if isinstance(thing.shape, Outline):
                x_low, y_low, x_high, y_high = bounding_box(thing.shape.points)
                return (x_low + x_high) / 2, (y_low + y_high) / 2
            return thing.shape.center
        case Jig():
            return thing.corner
        case Target():
            return thing.at
        case Line():
            return midpoint(thing.start, thing.end)


def corner_points(shape: Shape) -> tuple[Point, ...]:
    """The corners of a box or an outline in order; none of a round."""
    match shape:
        case Box():
            half = shape.size[0] / 2, shape.size[1] / 2
            return tuple(
                out_of_frame(shape.center, shape.heading, (a * half[0], b * half[1])) for a, b in _CORNERS.values()
            )
        case Outline():
            return shape.points
    return ()


def grip(
    field: Field,
    handle: Handle,
    to: Point,
    *,
    axis: Axis = "free",
    step: float | None = None,
    angle_step: float | None = None,
    arm: float = ARM,
) -> Field | Refused:
    """The field with a handle dragged to a point.

    ``axis`` 'x' or 'y' moves it only that way. ``step`` rounds what is resized (a size, a radius, a width) to multiples
    of so many mm, and ``angle_step`` what is turned to so many degrees; points are the caller's to snap. Resizing keeps
    the opposite corner or side where it is, also of a thing that is turned. A handle that stays where it is changes
    nothing. Raises KeyError if there is no such part.
    """
    here = place_of(field, handle, arm)
    to = (to[0] if axis != "y" else here[0], to[1] if axis != "x" else here[1])
    if not (isfinite(to[0]) and isfinite(to[1])):
        return Refused(tr("this is no place on the field"))
    if hypot(to[0] - here[0], to[1] - here[1]) <= _STILL:
        return field
    if handle.kind == "walls":
        size = (
            _stepped(to[0], step) if "right" in handle.part else field.size[0],
            _stepped(to[1], step) if "far" in handle.part else field.size[1],
        )
        return accepted(lambda: replace(field, size=size))
    thing = thing_at(field, handle)
    by = (to[0] - here[0], to[1] - here[1])
    return accepted(
        lambda: with_thing(
            field,
            handle,
            shifted(thing, by) if handle.part == "whole" else _reshaped(thing, handle.part, to, step, angle_step),
        )
    )


def _reshaped(thing: Thing, part: str, to: Point, step: float | None, angle_step: float | None) -> Thing:
    match thing, part:
        case ((Obstacle() | StartArea()), _):
            return replace(thing, shape=_reshaped_shape(thing.shape, part, to, step, angle_step))
        case Jig(), "turn":
            return replace(thing, heading=_heading(thing.corner, to, angle_step))
        case Target(), "turn":
            return replace(thing, heading=_heading(thing.at, to, angle_step))
        case Target(), "within":
            return replace(thing, within=_stepped(apart(thing.at, to), step))
        case Line(), "start":
            return replace(thing, start=tidy_point(to))
        case Line(), "end":
            return replace(thing, end=tidy_point(to))
        case Line(), "width":
            ux, uy = unit_vector(thing.start, thing.end)
            aside = abs((to[1] - thing.start[1]) * ux - (to[0] - thing.start[0]) * uy)
            return replace(thing, width=_stepped(2.0 * aside, step))
    raise KeyError(part)


def _reshaped_shape(shape: Shape, part: str, to: Point, step: float | None, angle_step: float | None) -> Shape:
    sort, _, name = part.partition(" ")
    match shape:
        case Box() if sort == "turn":
            return replace(shape, heading=_heading(shape.center, to, angle_step))
        case Box():
            return _resized(shape, (_CORNERS if sort == "corner" else _EDGES)[name], to, step)
        case Round():
            return replace(shape, radius=_stepped(apart(shape.center, to), step))
        case Outline():
            index = int(name)
            return Outline((*shape.points[:index], tidy_point(to), *shape.points[index + 1 :]))


def _resized(box: Box, sides: tuple[int, int], to: Point, step: float | None) -> Box:
    """The box with a corner or a side at a point, and the opposite one where it was. Past that it lies on its other
    side."""
    there = into_frame(box.center, box.heading, to)
    size, middle = list(box.size), [0.0, 0.0]
    for n, side in enumerate(sides):
        if side:
            fixed = -side * box.size[n] / 2
            way = there[n] - fixed
            size[n] = _stepped(abs(way), step)
            middle[n] = fixed + (size[n] if way >= 0.0 else -size[n]) / 2
    return replace(
        box, center=tidy_point(out_of_frame(box.center, box.heading, (middle[0], middle[1]))), size=(size[0], size[1])
    )


def _stepped(value: float, step: float | None) -> float:
    """A size as it is kept: to a thousandth, or to a multiple of the step, but never to 0 by rounding."""
    return tidy(max(1, round(value / step)) * step) if step else tidy(value)


def _heading(center: Point, to: Point, step: float | None) -> float:
    heading = degrees(atan2(to[1] - center[1], to[0] - center[0]))
    return tidy(wrapped(round(heading / step) * step if step else tidy(heading)))


def pick(field: Field, point: Point, reach: float, selected: Handle | None = None, arm: float = ARM) -> Handle | None:
    """What is gripped at a point, within ``reach`` mm.

    The parts of the thing that is ``selected`` come first; then whole things, the smallest first and of equal ones the
    selected; then the walls. None if there is nothing.
    """
    if selected is not None:
        near = [
            (apart(place, point), n, handle)
            for n, (handle, place) in enumerate(handles_of(field, selected, arm))
            if handle.part != "whole"
        ]
        if near and min(near)[0] <= reach:
            return min(near)[2]
    found = under(field, point, reach)
    if not found:
        return None
    if selected is not None and selected.whole in found and found[0].kind != "walls" and selected.kind != "walls":
        mine, first = (_area(thing_at(field, handle)) for handle in (selected, found[0]))
        if mine <= first:
            return selected.whole
    return found[0]


def under(field: Field, point: Point, reach: float) -> tuple[Handle, ...]:
    """All that is under the pointer, as `pick` would find it one after the other: what lies below can be had too."""
    found = []
    for n, (handle, thing) in enumerate(things(field)):
        away = _away(thing, point)
        if away <= reach:
            found.append((_area(thing), away, -n, handle))
    # The corner first: it lies on both edges.
    walls = (replace(WALLS_HANDLE, part=part) for part in ("far right", "right", "far"))
    edges = [handle for handle in walls if _distance_to_walls(field, handle.part, point) <= reach]
    return (*(handle for *_, handle in sorted(found, key=lambda each: each[:3])), *edges)


def _area(thing: Thing) -> float:
    """How large a thing is to the pointer, mm^2; points have no size."""
    match thing:
        case Obstacle() | StartArea():
            match thing.shape:
                case Box(size=(along, across)):
                    return along * across
                case Round(radius=radius):
                    return pi * radius * radius
                case Outline(points=points):
                    return 0.5 * abs(sum(_doubled_areas(points)))
        case Line():
            return apart(thing.start, thing.end) * thing.width
    return 0.0


def _away(thing: Thing, point: Point) -> float:
    """How far a point is from a thing, mm; 0 inside it."""
    match thing:
        case Obstacle() | StartArea():
            return _away_from_shape(thing.shape, point)
        case Jig():
            return apart(thing.corner, point)
        case Target():
            return apart(thing.at, point)
        case Line():
            return max(0.0, distance_to_segment(thing.start, thing.end, point) - thing.width / 2)


def _away_from_shape(shape: Shape, point: Point) -> float:
    match shape:
        case Round():
            return max(0.0, apart(shape.center, point) - shape.radius)
        case Box():
            x, y = into_frame(shape.center, shape.heading, point)
            return hypot(max(0.0, abs(x) - shape.size[0] / 2), max(0.0, abs(y) - shape.size[1] / 2))
        case Outline():
            return 0.0 if is_inside(shape.points, point) else min(edge_distances(shape.points, point))


def _distance_to_walls(field: Field, part: str, point: Point) -> float:
    w, d = field.size
    ends = {"far right": ((w, d), (w, d)), "right": ((w, 0.0), (w, d)), "far": ((0.0, d), (w, d))}[part]
    return distance_to_segment(*ends, point)
