"""What a session says of a field: what is being dragged, in numbers, and what can be chosen."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Box, Jig, Line, Obstacle, Point, Round, StartArea, Target
from fieldsim.window.field import edits as field_edits
from fieldsim.window.field import grips
from fieldsim.window.field import things as field_things
from fieldsim.window.field.state import SNAPS, in_mm, said
from fieldsim.window.field.things import Thing

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = ["measured", "own_switch", "switch_rows"]


def measured(session: FieldSession) -> str:
    """What is being dragged, in numbers."""
    drag = session._drag
    if drag is None or not drag.moved:
        return ""
    if drag.what == "picture" and session.field.picture is not None:
        return _xy(session.field.picture.corner)
    if drag.what not in ("grip", "draw") or session.chosen is None or not session._there(session.chosen):
        return ""
    part = "" if drag.handle is None else drag.handle.part
    if session.chosen.kind == "walls":
        return tr("{x} x {y} mm", x=in_mm(session.field.size[0]), y=in_mm(session.field.size[1]))
    thing = field_things.thing_at(session.field, session.chosen)
    if part == "whole" or (part.startswith("corner") and session._is_outline(session.chosen)):
        handle = session.chosen if part != "whole" else session.chosen.whole
        return _xy(grips.place_of(session.field, handle, session.arm))
    return _sizes(thing, part)


def switch_rows(session: FieldSession) -> tuple[tuple[str, str, bool], ...]:
    """What can be chosen: a label, the word, and whether there is any other."""
    picture = session.field.picture
    there = len({*session.pictures, *([picture.file] if picture else [])})
    laid = tr("none") if picture is None else picture.file
    return (
        own_switch(session),
        (tr("snaps to"), tr(SNAPS[session.snap][0]), True),
        (tr("picture"), laid, there > 0),
    )


def own_switch(session: FieldSession) -> tuple[str, str, bool]:
    if session.place.kind == "walls":
        return tr("edge"), tr("open board") if session.field.walls is None else tr("walls"), True
    thing = field_things.thing_at(session.field, session.place)
    if isinstance(thing, Target):
        return tr("heading"), tr("any") if thing.heading is None else tr("asked"), True
    words = field_edits.choices_of(session.field, session.place)
    return (words[0].label, said(str(words[0].value)), True) if words else (tr("kind"), said(session.place.kind), False)


def _xy(point: Point) -> str:
    return tr("x {x}, y {y}", x=in_mm(point[0]), y=in_mm(point[1]))


def _sizes(thing: Thing, part: str) -> str:
    """What a drag of a part changes, in numbers."""
    match thing:
        case Obstacle() | StartArea():
            shape = thing.shape
            if isinstance(shape, Box):
                if part == "turn":
                    return tr("{angle} degrees", angle=in_mm(shape.heading))
                return tr("{x} x {y} mm", x=in_mm(shape.size[0]), y=in_mm(shape.size[1]))
            return tr("radius {radius} mm", radius=in_mm(shape.radius)) if isinstance(shape, Round) else ""
        case Jig():
            return tr("heading {angle} degrees", angle=in_mm(thing.heading))
        case Line() if part == "width":
            return tr("{width} mm wide", width=in_mm(thing.width))
        case Line():
            (ax, ay), (bx, by) = thing.start, thing.end
            return tr("{length} mm long", length=in_mm(hypot(bx - ax, by - ay)))
        case Target() if part == "turn":
            return tr("heading {angle} degrees", angle=in_mm(thing.heading or 0.0))
        case Target():
            return tr("within {within} mm", within=in_mm(thing.within))
