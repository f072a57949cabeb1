"""Changes to a field by hand: things on it are drawn, moved, turned, resized, named and measured.

Each is a function from a field to a field, or to the plain words why it cannot be (`Refused`). Nothing is known of a
screen: points are millimetres in the field frame, angles degrees counter-clockwise from x, reaches of the pointer mm.

A thing is known by its kind and its number in the field's list, from 0; a part of it that can be gripped by a `Handle`.
Computed coordinates are kept to a thousandth of a millimetre, so that files stay readable.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, inf, isfinite, pi, radians, sin
from typing import Any, Literal, cast

from fieldsim.files.forms import SHAPES
from fieldsim.language import tr
from fieldsim.model import (
    Band,
    Box,
    Corner,
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
from fieldsim.model.bounds import Choice, attributes
from fieldsim.model.errors import shown
from fieldsim.model.outlines import bounding_box
from fieldsim.sim.motion import wrapped
from fieldsim.window.dials import (
    Choices,
    Dial,
    Refused,
    accepted,
    dials_of,
    find_dial,
    nudged,
    tidy,
    typed_value,
    with_number,
)

__all__ = [
    "ARM",
    "KINDS",
    "WALLS_HANDLE",
    "Axis",
    "Handle",
    "Thing",
    "ThingKind",
    "add",
    "add_box",
    "add_jig",
    "add_line",
    "add_outline",
    "add_round",
    "add_target",
    "change_shape",
    "choices_of",
    "copy_thing",
    "corner_points",
    "free_name",
    "grip",
    "handles",
    "handles_of",
    "insert_corner",
    "nudge_thing",
    "numbers_of",
    "pick",
    "place_of",
    "remove",
    "remove_corner",
    "rename",
    "rename_field",
    "set_choice_of",
    "set_number_of",
    "thing_at",
    "things",
    "turn_by",
    "typed_of",
    "under",
    "with_walls",
]

ThingKind = Literal["obstacle", "start area", "jig", "line", "target", "walls"]
Axis = Literal["free", "x", "y"]
Thing = Obstacle | StartArea | Jig | Line | Target

# The field's list for each kind of thing.
_LISTS: Mapping[str, str] = {
    "obstacle": "obstacles",
    "start area": "start_areas",
    "jig": "jigs",
    "line": "lines",
    "target": "targets",
}
KINDS: tuple[ThingKind, ...] = ("obstacle", "start area", "jig", "line", "target")
"""The kinds of things that a field has lists of."""

_RECORDS: Mapping[type[Any], ThingKind] = {
    Obstacle: "obstacle",
    StartArea: "start area",
    Jig: "jig",
    Line: "line",
    Target: "target",
}

ARM = 40.0
"""How far the handle for turning stands off a thing unless told, mm. A window that zooms says what looks well."""

# Corners and sides of a box by compass names in the box's own frame, east along its heading: (along, across).
_CORNERS: Mapping[str, tuple[int, int]] = {"sw": (-1, -1), "se": (1, -1), "ne": (1, 1), "nw": (-1, 1)}
_EDGES: Mapping[str, tuple[int, int]] = {"e": (1, 0), "n": (0, 1), "w": (-1, 0), "s": (0, -1)}

# Closer than this, mm, a handle has not been moved.
_STILL = 1e-9


@dataclass(frozen=True)
class Handle:
    """A part of a thing that can be gripped.

    ``part`` is 'whole', or: of a box 'corner sw' (se, ne, nw), 'edge e' (n, w, s), 'turn'; of a round 'radius'; of an
    outline 'corner 0' and so on; of a jig 'turn'; of a line 'start', 'end', 'width'; of a target 'within', 'turn'; of
    the walls 'right', 'far', 'far right'. Compass names are in the box's own frame, east along its heading.
    """

    kind: ThingKind
    index: int
    part: str = "whole"

    @property
    def whole(self) -> Handle:
        return replace(self, part="whole")


WALLS_HANDLE = Handle("walls", 0)
"""The field's size and the walls' height."""


# --- things ------------------------------------------------------------------------------------------------------


def things(field: Field) -> Iterator[tuple[Handle, Thing]]:
    """Everything on a field, kind by kind."""
    for kind in KINDS:
        for index, thing in enumerate(_items(field, kind)):
            yield Handle(kind, index), thing


def thing_at(field: Field, handle: Handle) -> Thing:
    """The thing a handle belongs to. Raises KeyError for the walls, IndexError if there is none."""
    return _items(field, handle.kind)[handle.index]


def _with_thing(field: Field, handle: Handle, thing: Thing) -> Field:
    items = _items(field, handle.kind)
    return _with_items(field, handle.kind, (*items[: handle.index], thing, *items[handle.index + 1 :]))


def _items(field: Field, kind: ThingKind) -> tuple[Thing, ...]:
    items: tuple[Thing, ...] = getattr(field, _LISTS[kind])
    return items


def _with_items(field: Field, kind: ThingKind, items: tuple[Thing, ...]) -> Field:
    values: dict[str, Any] = {_LISTS[kind]: items}
    return replace(field, **values)


def free_name(field: Field, kind: ThingKind, word: str = "") -> str:
    """A name that nothing of that kind has: 'box', 'box 2', 'box 3' ..."""
    word = word or kind
    taken = {thing.name for thing in _items(field, kind)}
    number = 1
    name = word
    while name in taken:
        number += 1
        name = f"{word} {number}"
    return name


def add(field: Field, thing: Thing) -> Field | Refused:
    """The field with one more thing: the last of its kind."""
    kind = _RECORDS[type(thing)]
    return accepted(lambda: _with_items(field, kind, (*_items(field, kind), thing)))


def _add_shape(
    field: Field, kind: Literal["obstacle", "start area"], name: str, make: Callable[[], Shape]
) -> Field | Refused:
    record = Obstacle if kind == "obstacle" else StartArea
    thing = accepted(lambda: record(name, make()))
    return thing if isinstance(thing, Refused) else add(field, thing)


def add_box(
    field: Field, kind: Literal["obstacle", "start area"], a: Point, b: Point, name: str = ""
) -> Field | Refused:
    """The field with a box drawn from one corner to the opposite one."""
    name = name or free_name(field, kind, "box" if kind == "obstacle" else "")
    center = (tidy((a[0] + b[0]) / 2), tidy((a[1] + b[1]) / 2))
    return _add_shape(field, kind, name, lambda: Box(center, (tidy(abs(a[0] - b[0])), tidy(abs(a[1] - b[1])))))


def add_round(
    field: Field, kind: Literal["obstacle", "start area"], center: Point, edge: Point, name: str = ""
) -> Field | Refused:
    """The field with a disc drawn from its middle to a point of its edge."""
    name = name or free_name(field, kind, "round" if kind == "obstacle" else "")
    radius = tidy(hypot(edge[0] - center[0], edge[1] - center[1]))
    return _add_shape(field, kind, name, lambda: Round(_tidy(center), radius))


def add_outline(
    field: Field, kind: Literal["obstacle", "start area"], points: Sequence[Point], name: str = ""
) -> Field | Refused:
    """The field with a polygon drawn corner by corner."""
    name = name or free_name(field, kind, "outline" if kind == "obstacle" else "")
    return _add_shape(field, kind, name, lambda: Outline(tuple(_tidy(point) for point in points)))


def add_jig(
    field: Field, corner: Point, heading: float = 90.0, holds: Corner = "rear left", name: str = ""
) -> Field | Refused:
    """The field with a jig."""
    name = name or free_name(field, "jig")
    jig = accepted(lambda: Jig(name, _tidy(corner), tidy(wrapped(heading)), holds))
    return jig if isinstance(jig, Refused) else add(field, jig)


def add_line(field: Field, start: Point, end: Point, width: float = 20.0, name: str = "") -> Field | Refused:
    """The field with a line drawn from the middle of one end to that of the other."""
    name = name or free_name(field, "line")
    line = accepted(lambda: Line(name, _tidy(start), _tidy(end), width))
    return line if isinstance(line, Refused) else add(field, line)


def add_target(field: Field, at: Point, within: float = 15.0, name: str = "") -> Field | Refused:
    """The field with a target."""
    name = name or free_name(field, "target")
    target = accepted(lambda: Target(name, _tidy(at), tidy(within)))
    return target if isinstance(target, Refused) else add(field, target)


def remove(field: Field, handle: Handle) -> Field | Refused:
    """The field without a thing. Whether a run still names it is the run's to say: `run_edits.run_on`."""
    if handle.kind == "walls":
        return with_walls(field, None)
    items = _items(field, handle.kind)
    rest = (*items[: handle.index], *items[handle.index + 1 :])
    return accepted(lambda: _with_items(field, handle.kind, rest))


def copy_thing(field: Field, handle: Handle, by: Point = (20.0, 20.0)) -> Field | Refused:
    """The field with a thing twice, the second, which is the last of its kind, moved and under a name of its own."""
    thing = thing_at(field, handle)
    word, _, number = thing.name.rpartition(" ")
    name = free_name(field, handle.kind, word if word and number.isdigit() else thing.name)
    made = accepted(lambda: _shifted(replace(thing, name=name), by))
    return made if isinstance(made, Refused) else add(field, made)


def rename(field: Field, handle: Handle, name: str) -> Field | Refused:
    """The field with a thing under another name."""
    return accepted(lambda: _with_thing(field, handle, replace(thing_at(field, handle), name=name.strip())))


def rename_field(field: Field, name: str) -> Field | Refused:
    """The field under another name."""
    return accepted(lambda: replace(field, name=name.strip()))


def with_walls(field: Field, height: float | None) -> Field | Refused:
    """The field with walls so high, or without (None): an open board, whose edge is a drop. `inf` is higher than
    everything."""
    return accepted(lambda: replace(field, walls=None if height is None else (0.0, height)))


# --- where things can be gripped ---------------------------------------------------------------------------------


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
    yield "whole", _anchor(thing)
    match thing:
        case Obstacle() | StartArea():
            yield from _shape_parts(thing.shape, arm)
        case Jig():
            yield "turn", _beyond(thing.corner, thing.heading, arm)
        case Target():
            x, y = thing.at
            yield "within", (x + thing.within, y)
            if thing.heading is not None:
                yield "turn", _beyond(thing.at, thing.heading, thing.within + arm)
        case Line():
            yield "start", thing.start
            yield "end", thing.end
            (mx, my), (ux, uy) = _middle(thing.start, thing.end), _direction(thing.start, thing.end)
            yield "width", (mx - uy * thing.width / 2, my + ux * thing.width / 2)


def _shape_parts(shape: Shape, arm: float) -> Iterator[tuple[str, Point]]:
    match shape:
        case Box():
            for sides, prefix in ((_CORNERS, "corner"), (_EDGES, "edge")):
                for name, (along, across) in sides.items():
                    local = along * shape.size[0] / 2, across * shape.size[1] / 2
                    yield f"{prefix} {name}", _out_of(shape.center, shape.heading, local)
            yield "turn", _beyond(shape.center, shape.heading, shape.size[0] / 2 + arm)
        case Round():
            yield "radius", (shape.center[0] + shape.radius, shape.center[1])
        case Outline():
            for index, point in enumerate(shape.points):
                yield f"corner {index}", point


def _anchor(thing: Thing) -> Point:
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
            return _middle(thing.start, thing.end)


def corner_points(shape: Shape) -> tuple[Point, ...]:
    """The corners of a box or an outline in order; none of a round."""
    match shape:
        case Box():
            half = shape.size[0] / 2, shape.size[1] / 2
            return tuple(_out_of(shape.center, shape.heading, (a * half[0], b * half[1])) for a, b in _CORNERS.values())
        case Outline():
            return shape.points
    return ()


# --- gripping ----------------------------------------------------------------------------------------------------


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
        lambda: _with_thing(
            field,
            handle,
            _shifted(thing, by) if handle.part == "whole" else _reshaped(thing, handle.part, to, step, angle_step),
        )
    )


def _shifted(thing: Thing, by: Point) -> Thing:
    def moved(point: Point) -> Point:
        return tidy(point[0] + by[0]), tidy(point[1] + by[1])

    match thing:
        case Obstacle() | StartArea():
            if isinstance(thing.shape, Outline):
                return replace(thing, shape=Outline(tuple(moved(point) for point in thing.shape.points)))
            return replace(thing, shape=replace(thing.shape, center=moved(thing.shape.center)))
        case Jig():
            return replace(thing, corner=moved(thing.corner))
        case Target():
            return replace(thing, at=moved(thing.at))
        case Line():
            return replace(thing, start=moved(thing.start), end=moved(thing.end))


def _reshaped(thing: Thing, part: str, to: Point, step: float | None, angle_step: float | None) -> Thing:
    match thing, part:
        case ((Obstacle() | StartArea()), _):
            return replace(thing, shape=_reshaped_shape(thing.shape, part, to, step, angle_step))
        case Jig(), "turn":
            return replace(thing, heading=_heading(thing.corner, to, angle_step))
        case Target(), "turn":
            return replace(thing, heading=_heading(thing.at, to, angle_step))
        case Target(), "within":
            return replace(thing, within=_stepped(_distance(thing.at, to), step))
        case Line(), "start":
            return replace(thing, start=_tidy(to))
        case Line(), "end":
            return replace(thing, end=_tidy(to))
        case Line(), "width":
            ux, uy = _direction(thing.start, thing.end)
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
            return replace(shape, radius=_stepped(_distance(shape.center, to), step))
        case Outline():
            index = int(name)
            return Outline((*shape.points[:index], _tidy(to), *shape.points[index + 1 :]))


def _resized(box: Box, sides: tuple[int, int], to: Point, step: float | None) -> Box:
    """The box with a corner or a side at a point, and the opposite one where it was. Past that it lies on its other
    side."""
    there = _into(box.center, box.heading, to)
    size, middle = list(box.size), [0.0, 0.0]
    for n, side in enumerate(sides):
        if side:
            fixed = -side * box.size[n] / 2
            way = there[n] - fixed
            size[n] = _stepped(abs(way), step)
            middle[n] = fixed + (size[n] if way >= 0.0 else -size[n]) / 2
    return replace(box, center=_tidy(_out_of(box.center, box.heading, (middle[0], middle[1]))), size=(size[0], size[1]))


def _stepped(value: float, step: float | None) -> float:
    """A size as it is kept: to a thousandth, or to a multiple of the step, but never to 0 by rounding."""
    return tidy(max(1, round(value / step)) * step) if step else tidy(value)


def _heading(center: Point, to: Point, step: float | None) -> float:
    heading = degrees(atan2(to[1] - center[1], to[0] - center[0]))
    return tidy(wrapped(round(heading / step) * step if step else tidy(heading)))


# --- finding what is under the pointer ---------------------------------------------------------------------------


def pick(field: Field, point: Point, reach: float, selected: Handle | None = None, arm: float = ARM) -> Handle | None:
    """What is gripped at a point, within ``reach`` mm.

    The parts of the thing that is ``selected`` come first; then whole things, the smallest first and of equal ones the
    selected; then the walls. None if there is nothing.
    """
    if selected is not None:
        near = [
            (_distance(place, point), n, handle)
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
            return _distance(thing.start, thing.end) * thing.width
    return 0.0


def _away(thing: Thing, point: Point) -> float:
    """How far a point is from a thing, mm; 0 inside it."""
    match thing:
        case Obstacle() | StartArea():
            return _away_from_shape(thing.shape, point)
        case Jig():
            return _distance(thing.corner, point)
        case Target():
            return _distance(thing.at, point)
        case Line():
            return max(0.0, _from_segment(thing.start, thing.end, point) - thing.width / 2)


def _away_from_shape(shape: Shape, point: Point) -> float:
    match shape:
        case Round():
            return max(0.0, _distance(shape.center, point) - shape.radius)
        case Box():
            x, y = _into(shape.center, shape.heading, point)
            return hypot(max(0.0, abs(x) - shape.size[0] / 2), max(0.0, abs(y) - shape.size[1] / 2))
        case Outline():
            return 0.0 if _inside(shape.points, point) else min(_edges_from(shape.points, point))


def _inside(points: Sequence[Point], point: Point) -> bool:
    """Is a point inside a ring of corners: a ray to the right crosses it an odd number of times."""
    x, y = point
    inside = False
    for (ax, ay), (bx, by) in zip(points, (*points[1:], points[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            inside = not inside
    return inside


def _edges_from(points: Sequence[Point], point: Point) -> Iterable[float]:
    return (_from_segment(a, b, point) for a, b in zip(points, (*points[1:], points[0]), strict=True))


def _distance_to_walls(field: Field, part: str, point: Point) -> float:
    w, d = field.size
    ends = {"far right": ((w, d), (w, d)), "right": ((w, 0.0), (w, d)), "far": ((0.0, d), (w, d))}[part]
    return _from_segment(*ends, point)


def _from_segment(a: Point, b: Point, point: Point) -> float:
    return _distance(nearest_on(a, b, point), point)


def nearest_on(a: Point, b: Point, point: Point) -> Point:
    """The point from a to b that is nearest to another."""
    way = (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2
    share = ((point[0] - a[0]) * (b[0] - a[0]) + (point[1] - a[1]) * (b[1] - a[1])) / way if way else 0.0
    share = min(1.0, max(0.0, share))
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


# --- numbers and words -------------------------------------------------------------------------------------------


def numbers_of(field: Field, handle: Handle) -> tuple[Dial, ...]:
    """The numbers of a thing: of an outline's corner, x and y of that corner; of an outline as a whole, x and y of its
    middle; of the walls, the field's size and their height."""
    if handle.kind == "walls":
        return dials_of(field)
    thing = thing_at(field, handle)
    found = dials_of(thing)
    shape = getattr(thing, "shape", None)
    if not isinstance(shape, Outline):
        return found
    return (*_corner_dials(shape, handle.part), *found)


def _corner_dials(shape: Outline, part: str) -> tuple[Dial, Dial]:
    # A corner is read and bounded as the middle of a box is.
    x, y, *_ = dials_of(Box((0.0, 0.0), (1.0, 1.0)))
    sort, _, number = part.partition(" ")
    if sort == "corner":
        point = shape.points[int(number)]
        about = tr("Corner {number}: [x, y].", number=int(number) + 1)
        x = replace(x, key=f"shape.points.{number}.x", label="x")
        y = replace(y, key=f"shape.points.{number}.y", label="y")
    else:
        x_low, y_low, x_high, y_high = bounding_box(shape.points)
        point = (x_low + x_high) / 2, (y_low + y_high) / 2
        about = tr("The middle of the upright rectangle around it: [x, y].")
        x, y = replace(x, key="middle.x"), replace(y, key="middle.y")
    return replace(x, value=point[0], about=about), replace(y, value=point[1], about=about)


def set_number_of(field: Field, handle: Handle, key: str, value: float | None) -> Field | Refused:
    """The field with another number of a thing; None leaves out what may be left out. Raises KeyError for an unknown
    key."""
    if handle.kind == "walls":
        walled = accepted(lambda: with_number(field, key, value))
        return _told(walled, tr("the walls"), walled.walls) if isinstance(walled, Field) else walled
    thing = thing_at(field, handle)
    if key.startswith("middle."):
        if value is None:
            return Refused(tr("this needs a number"))
        x, y = _anchor(thing)
        by = (value - x, 0.0) if key == "middle.x" else (0.0, value - y)
        return accepted(lambda: _with_thing(field, handle, _shifted(thing, by)))
    if isinstance(thing, Target) and key in ("heading", "heading_within"):
        return accepted(lambda: _with_thing(field, handle, _with_heading(thing, key, value)))
    changed = accepted(lambda: _with_thing(field, handle, with_number(thing, key, value)))
    if isinstance(changed, Refused) or handle.kind != "obstacle":
        return changed
    return _told(changed, shown(thing.name), changed.obstacles[handle.index].height)


def _told(field: Field, what: str, height: Band | None) -> Field | Refused:
    """The field, if a file can tell the height."""
    if height is not None and height[0] > 0.0 and height[1] == inf:
        return Refused(
            tr("{what} would hang without an upper end; give the upper end first, then the lower one", what=what)
        )
    return field


def _with_heading(target: Target, key: str, value: float | None) -> Target:
    """A heading and how far off it may be come and go together."""
    if value is None:
        return replace(target, heading=None, heading_within=None)
    if key == "heading":
        within = target.heading_within
        return replace(target, heading=value, heading_within=_USUAL_OFF if within is None else within)
    return replace(target, heading=0.0 if target.heading is None else target.heading, heading_within=value)


# How far off its heading a target lets a robot be that nothing else was said of, degrees.
_USUAL_OFF = 10.0


def nudge_thing(field: Field, handle: Handle, key: str, steps: float, fine: bool = False) -> Field | Refused:
    """The field with a number of a thing so many steps of the wheel on. Raises KeyError for an unknown key."""
    dial = find_dial(numbers_of(field, handle), key)
    value = nudged(dial, steps, fine)
    if value == dial.value and steps:
        return Refused(
            tr("{label} is {text}; accepted: {bounds}", label=dial.label, text=dial.text, bounds=dial.bounds)
        )
    return set_number_of(field, handle, key, value)


def typed_of(field: Field, handle: Handle, key: str, text: str) -> Field | Refused:
    """The field with a number of a thing as it was typed; an empty text leaves it out. Raises KeyError for an unknown
    key."""
    value = typed_value(find_dial(numbers_of(field, handle), key), text)
    return value if isinstance(value, Refused) else set_number_of(field, handle, key, value)


def choices_of(field: Field, handle: Handle) -> tuple[Choices, ...]:
    """What can be chosen of a thing: the corner that a jig holds; the sort of a shape."""
    if handle.kind == "walls":
        return ()
    match thing_at(field, handle):
        case Jig(holds=holds):
            attribute = attributes(Jig)["holds"]
            assert isinstance(attribute.kind, Choice)
            return (Choices("holds", tr("holds"), holds, attribute.kind.options, tr(attribute.about)),)
        case Obstacle(shape=shape) | StartArea(shape=shape):
            word = next(word for word, kind in SHAPES.items() if isinstance(shape, kind))
            about = attributes(Obstacle)["shape"].about
            return (Choices("shape", tr("shape"), word, tuple(SHAPES), tr(about)),)
    return ()


def set_choice_of(field: Field, handle: Handle, key: str, value: str) -> Field | Refused:
    """The field with another word chosen. Raises KeyError for an unknown key."""
    if key == "shape":
        return change_shape(field, handle, value)
    thing = thing_at(field, handle)
    if key != "holds" or not isinstance(thing, Jig):
        raise KeyError(key)
    return accepted(lambda: _with_thing(field, handle, replace(thing, holds=cast(Corner, value))))


# --- shapes ------------------------------------------------------------------------------------------------------


def change_shape(field: Field, handle: Handle, word: str) -> Field | Refused:
    """The field with an obstacle or a start area of another shape (box, round, outline), about as large, in the same
    place. Raises KeyError for another thing or word."""
    thing = thing_at(field, handle)
    if not isinstance(thing, Obstacle | StartArea) or word not in SHAPES:
        raise KeyError(word)
    if isinstance(thing.shape, SHAPES[word]):
        return field
    return accepted(lambda: _with_thing(field, handle, replace(thing, shape=_shape_as(thing.shape, word))))


def _shape_as(shape: Shape, word: str) -> Shape:
    if isinstance(shape, Round):
        box = Box(shape.center, (2.0 * shape.radius, 2.0 * shape.radius))
    elif isinstance(shape, Outline):
        x_low, y_low, x_high, y_high = bounding_box(shape.points)
        size = (tidy(x_high - x_low), tidy(y_high - y_low))
        box = Box((tidy((x_low + x_high) / 2), tidy((y_low + y_high) / 2)), size)
    else:
        box = shape
    if word == "round":
        return Round(box.center, tidy(min(box.size) / 2))
    return Outline(tuple(_tidy(point) for point in corner_points(box))) if word == "outline" else box


def insert_corner(field: Field, handle: Handle, point: Point) -> Field | Refused:
    """The field with one more corner of an outline, at a point, in its nearest edge. Raises KeyError for others."""
    thing, points = _outlined(field, handle)
    away = list(_edges_from(points, point))
    at = away.index(min(away)) + 1
    return _with_points(field, handle, thing, (*points[:at], _tidy(point), *points[at:]))


def remove_corner(field: Field, handle: Handle) -> Field | Refused:
    """The field without the corner of an outline that a handle grips. Raises KeyError for other shapes."""
    thing, points = _outlined(field, handle)
    index = int(handle.part.removeprefix("corner "))
    return _with_points(field, handle, thing, (*points[:index], *points[index + 1 :]))


def _outlined(field: Field, handle: Handle) -> tuple[Obstacle | StartArea, tuple[Point, ...]]:
    thing = thing_at(field, handle)
    if not isinstance(thing, Obstacle | StartArea) or not isinstance(thing.shape, Outline):
        raise KeyError(handle.part)
    return thing, thing.shape.points


def _with_points(
    field: Field, handle: Handle, thing: Obstacle | StartArea, points: tuple[Point, ...]
) -> Field | Refused:
    return accepted(lambda: _with_thing(field, handle, replace(thing, shape=Outline(points))))


def turn_by(field: Field, handle: Handle, angle: float) -> Field | Refused:
    """The field with a thing turned by so many degrees, left positive: an outline about its centroid, a line
    about its middle. A round stays as it is."""
    if handle.kind == "walls":
        return Refused(tr("the field itself cannot be turned"))
    thing = thing_at(field, handle)
    if isinstance(thing, Target) and thing.heading is None:
        return Refused(tr("{name} asks for no heading; give it one first", name=shown(thing.name)))
    return accepted(lambda: _with_thing(field, handle, _turned(thing, angle)))


def _turned(thing: Thing, angle: float) -> Thing:
    shape = getattr(thing, "shape", None)
    # Not the middle of the rectangle around an outline: that moves as it turns, and turning back would lead elsewhere.
    middle = _centroid(shape.points) if isinstance(shape, Outline) else _anchor(thing)

    def about(point: Point) -> Point:
        return _tidy(_out_of(middle, angle, (point[0] - middle[0], point[1] - middle[1])))

    def on(heading: float) -> float:
        return tidy(wrapped(heading + angle))

    match thing:
        case Obstacle() | StartArea():
            shape = thing.shape
            if isinstance(shape, Outline):
                return replace(thing, shape=Outline(tuple(about(point) for point in shape.points)))
            return replace(thing, shape=replace(shape, heading=on(shape.heading))) if isinstance(shape, Box) else thing
        case Line():
            return replace(thing, start=about(thing.start), end=about(thing.end))
        case Jig():
            return replace(thing, heading=on(thing.heading))
        case Target():
            return thing if thing.heading is None else replace(thing, heading=on(thing.heading))


# --- plane geometry ----------------------------------------------------------------------------------------------


def _tidy(point: Point) -> Point:
    return tidy(point[0]), tidy(point[1])


def _doubled_areas(points: Sequence[Point]) -> list[float]:
    """Of the triangles between the origin and each edge, signed."""
    return [a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True)]


def _centroid(points: Sequence[Point]) -> Point:
    """The centroid of a simple polygon (Bourke, Calculating the area and centroid of a polygon, 1988, from memory)."""
    x0, y0 = points[0]
    moved = [(x - x0, y - y0) for x, y in points]
    areas = _doubled_areas(moved)
    sums = [(a[0] + b[0], a[1] + b[1]) for a, b in zip(moved, (*moved[1:], moved[0]), strict=True)]
    whole = 3.0 * sum(areas)
    x = sum(area * each[0] for area, each in zip(areas, sums, strict=True)) / whole
    y = sum(area * each[1] for area, each in zip(areas, sums, strict=True)) / whole
    return x0 + x, y0 + y


def _distance(a: Point, b: Point) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _direction(a: Point, b: Point) -> Point:
    """Of length 1, from a to b, which are not the same."""
    long = _distance(a, b)
    return (b[0] - a[0]) / long, (b[1] - a[1]) / long


def _out_of(center: Point, heading: float, local: Point) -> Point:
    """A point of a frame at ``center``, turned by ``heading`` degrees, in the field's frame."""
    c, s = cos(radians(heading)), sin(radians(heading))
    return center[0] + c * local[0] - s * local[1], center[1] + s * local[0] + c * local[1]


def _into(center: Point, heading: float, point: Point) -> Point:
    """A point of the field in such a frame."""
    c, s = cos(radians(heading)), sin(radians(heading))
    x, y = point[0] - center[0], point[1] - center[1]
    return c * x + s * y, c * y - s * x


def _beyond(point: Point, heading: float, way: float) -> Point:
    return _out_of(point, heading, (way, 0.0))
