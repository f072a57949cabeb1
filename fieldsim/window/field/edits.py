"""Changes to a field by hand: things on it are drawn, moved, turned, resized, named and measured.

Each is a function from a field to a field, or to the plain words why it cannot be (`Refused`). Nothing is known of a
screen: points are millimetres in the field frame, angles degrees counter-clockwise from x, reaches of the pointer mm.

A thing is known by its kind and its number in the field's list, from 0; a part of it that can be gripped by a `Handle`.
Computed coordinates are kept to a thousandth of a millimetre, so that files stay readable.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import cast

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
from fieldsim.window.field.grips import anchor, corner_points
from fieldsim.window.field.plane import centroid, edge_distances, out_of_frame, tidy_point
from fieldsim.window.field.things import Handle, Thing, shifted, thing_at, with_thing

__all__ = [
    "change_shape",
    "choices_of",
    "insert_corner",
    "nudge_thing",
    "numbers_of",
    "remove_corner",
    "set_choice_of",
    "set_number_of",
    "turn_by",
    "typed_of",
]


# --- things ------------------------------------------------------------------------------------------------------


# --- where things can be gripped ---------------------------------------------------------------------------------


# --- gripping ----------------------------------------------------------------------------------------------------


# --- finding what is under the pointer ---------------------------------------------------------------------------


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
        x, y = anchor(thing)
        by = (value - x, 0.0) if key == "middle.x" else (0.0, value - y)
        return accepted(lambda: with_thing(field, handle, shifted(thing, by)))
    if isinstance(thing, Target) and key in ("heading", "heading_within"):
        return accepted(lambda: with_thing(field, handle, _with_heading(thing, key, value)))
    changed = accepted(lambda: with_thing(field, handle, with_number(thing, key, value)))
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
    return accepted(lambda: with_thing(field, handle, replace(thing, holds=cast(Corner, value))))


# --- shapes ------------------------------------------------------------------------------------------------------


def change_shape(field: Field, handle: Handle, word: str) -> Field | Refused:
    """The field with an obstacle or a start area of another shape (box, round, outline), about as large, in the same
    place. Raises KeyError for another thing or word."""
    thing = thing_at(field, handle)
    if not isinstance(thing, Obstacle | StartArea) or word not in SHAPES:
        raise KeyError(word)
    if isinstance(thing.shape, SHAPES[word]):
        return field
    return accepted(lambda: with_thing(field, handle, replace(thing, shape=_shape_as(thing.shape, word))))


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
    return Outline(tuple(tidy_point(point) for point in corner_points(box))) if word == "outline" else box


def insert_corner(field: Field, handle: Handle, point: Point) -> Field | Refused:
    """The field with one more corner of an outline, at a point, in its nearest edge. Raises KeyError for others."""
    thing, points = _outlined(field, handle)
    away = list(edge_distances(points, point))
    at = away.index(min(away)) + 1
    return _with_points(field, handle, thing, (*points[:at], tidy_point(point), *points[at:]))


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
    return accepted(lambda: with_thing(field, handle, replace(thing, shape=Outline(points))))


def turn_by(field: Field, handle: Handle, angle: float) -> Field | Refused:
    """The field with a thing turned by so many degrees, left positive: an outline about its centroid, a line
    about its middle. A round stays as it is."""
    if handle.kind == "walls":
        return Refused(tr("the field itself cannot be turned"))
    thing = thing_at(field, handle)
    if isinstance(thing, Target) and thing.heading is None:
        return Refused(tr("{name} asks for no heading; give it one first", name=shown(thing.name)))
    return accepted(lambda: with_thing(field, handle, _turned(thing, angle)))


def _turned(thing: Thing, angle: float) -> Thing:
    shape = getattr(thing, "shape", None)
    # Not the middle of the rectangle around an outline: that moves as it turns, and turning back would lead elsewhere.
    middle = centroid(shape.points) if isinstance(shape, Outline) else anchor(thing)

    def about(point: Point) -> Point:
        return tidy_point(out_of_frame(middle, angle, (point[0] - middle[0], point[1] - middle[1])))

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
