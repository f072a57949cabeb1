"""Things on a field by kind and number: found, put on it, copied, named, taken away. Each change is a function from a
field to a field, or to the plain words why it cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import Any, Literal

from fieldsim.model import (
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
from fieldsim.sim.motion import wrapped
from fieldsim.window.dials import (
    Refused,
    accepted,
    tidy,
)
from fieldsim.window.field.plane import tidy_point

__all__ = [
    "KINDS",
    "WALLS_HANDLE",
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
    "copy_thing",
    "free_name",
    "kind_of",
    "remove",
    "rename",
    "rename_field",
    "shifted",
    "thing_at",
    "things",
    "with_thing",
    "with_walls",
]


ThingKind = Literal["obstacle", "start area", "jig", "line", "target", "walls"]


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


def kind_of(thing: Thing) -> ThingKind:
    """The kind of a thing."""
    return _RECORDS[type(thing)]


def things(field: Field) -> Iterator[tuple[Handle, Thing]]:
    """Everything on a field, kind by kind."""
    for kind in KINDS:
        for index, thing in enumerate(_items(field, kind)):
            yield Handle(kind, index), thing


def thing_at(field: Field, handle: Handle) -> Thing:
    """The thing a handle belongs to. Raises KeyError for the walls, IndexError if there is none."""
    return _items(field, handle.kind)[handle.index]


def with_thing(field: Field, handle: Handle, thing: Thing) -> Field:
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
    return _add_shape(field, kind, name, lambda: Round(tidy_point(center), radius))


def add_outline(
    field: Field, kind: Literal["obstacle", "start area"], points: Sequence[Point], name: str = ""
) -> Field | Refused:
    """The field with a polygon drawn corner by corner."""
    name = name or free_name(field, kind, "outline" if kind == "obstacle" else "")
    return _add_shape(field, kind, name, lambda: Outline(tuple(tidy_point(point) for point in points)))


def add_jig(
    field: Field, corner: Point, heading: float = 90.0, holds: Corner = "rear left", name: str = ""
) -> Field | Refused:
    """The field with a jig."""
    name = name or free_name(field, "jig")
    jig = accepted(lambda: Jig(name, tidy_point(corner), tidy(wrapped(heading)), holds))
    return jig if isinstance(jig, Refused) else add(field, jig)


def add_line(field: Field, start: Point, end: Point, width: float = 20.0, name: str = "") -> Field | Refused:
    """The field with a line drawn from the middle of one end to that of the other."""
    name = name or free_name(field, "line")
    line = accepted(lambda: Line(name, tidy_point(start), tidy_point(end), width))
    return line if isinstance(line, Refused) else add(field, line)


def add_target(field: Field, at: Point, within: float = 15.0, name: str = "") -> Field | Refused:
    """The field with a target."""
    name = name or free_name(field, "target")
    target = accepted(lambda: Target(name, tidy_point(at), tidy(within)))
    return target if isinstance(target, Refused) else add(field, target)


def remove(field: Field, handle: Handle) -> Field | Refused:
    """The field without a thing. Whether a run still names it is the run's to say: `run_edits.run_on`."""
    if handle.kind == "walls":
        return with_walls(field, None)
    items = _items(field, handle.kind)
    rest = (*items[: handle.index], *items[handle.index + 1 :])
    if handle.kind != "obstacle":
        return accepted(lambda: _with_items(field, handle.kind, rest))
    obstacles = (*field.obstacles[: handle.index], *field.obstacles[handle.index + 1 :])
    jigs = _built_on(field, items[handle.index].name, None)
    return accepted(lambda: replace(field, obstacles=obstacles, jigs=jigs))


def copy_thing(field: Field, handle: Handle, by: Point = (20.0, 20.0)) -> Field | Refused:
    """The field with a thing twice, the second, which is the last of its kind, moved and under a name of its own."""
    thing = thing_at(field, handle)
    word, _, number = thing.name.rpartition(" ")
    name = free_name(field, handle.kind, word if word and number.isdigit() else thing.name)
    made = accepted(lambda: shifted(replace(thing, name=name), by))
    return made if isinstance(made, Refused) else add(field, made)


def rename(field: Field, handle: Handle, name: str) -> Field | Refused:
    """The field with a thing under another name."""
    thing, name = thing_at(field, handle), name.strip()
    if not isinstance(thing, Obstacle):
        return accepted(lambda: with_thing(field, handle, replace(thing, name=name)))
    things = (*field.obstacles[: handle.index], *field.obstacles[handle.index + 1 :])

    def made() -> Field:
        new = replace(thing, name=name)
        obstacles = (*things[: handle.index], new, *things[handle.index :])
        return replace(field, obstacles=obstacles, jigs=_built_on(field, thing.name, name))

    return accepted(made)


def _built_on(field: Field, old: str, new: str | None) -> tuple[Jig, ...]:
    """The jigs, with those that are built on an obstacle on the one of another name."""
    return tuple(replace(jig, built_on=new) if jig.built_on == old else jig for jig in field.jigs)


def rename_field(field: Field, name: str) -> Field | Refused:
    """The field under another name."""
    return accepted(lambda: replace(field, name=name.strip()))


def with_walls(field: Field, height: float | None) -> Field | Refused:
    """The field with walls so high, or without (None): an open board, whose edge is a drop. `inf` is higher than
    everything."""
    return accepted(lambda: replace(field, walls=None if height is None else (0.0, height)))


def shifted(thing: Thing, by: Point) -> Thing:
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
