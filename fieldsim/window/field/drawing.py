"""What is drawn on a field with the tool in hand: dragged from one point to another, put down with a click, or corner
by corner."""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, radians, sin
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Field, Point
from fieldsim.window.dials import Refused
from fieldsim.window.field import things as field_things
from fieldsim.window.field.snaps import snap_reach, snapped, snapping_on
from fieldsim.window.field.state import Drag, said
from fieldsim.window.field.things import Handle
from fieldsim.window.snapping import snap_angle

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = [
    "USUAL",
    "USUAL_LINE",
    "add_corner",
    "add_usual",
    "close_outline",
    "drag_draw",
    "drawn_between",
    "finish",
    "finish_drag",
    "last_drawn",
    "put_down",
    "take_tool",
]


# Sizes of what is put down with one click, mm.
USUAL, USUAL_LINE = 100.0, 300.0
_KINDS = {"box": "obstacle", "round": "obstacle", "outline": "obstacle"}


def take_tool(session: FieldSession, tool: str) -> None:
    # The same once more puts it away.
    session._take("pick" if session.tool == tool else tool)
    if session.tool == "pick":
        return
    session.chosen = None


def drawn_between(session: FieldSession, base: Field, tool: str, start: Point, end: Point) -> Field | Refused:
    """The field with what a tool draws from one point to another."""
    far = hypot(end[0] - start[0], end[1] - start[1])
    match tool:
        case "box":
            return field_things.add_box(base, "obstacle", start, end)
        case "start area":
            return field_things.add_box(base, "start area", start, end)
        case "round":
            return field_things.add_round(base, "obstacle", start, end)
        case "line":
            return field_things.add_line(base, start, end)
        case "jig":
            heading = degrees(atan2(end[1] - start[1], end[0] - start[0])) if far > 0 else 90.0
            return field_things.add_jig(base, start, heading)
        case "target":
            return field_things.add_target(base, start, far) if far > 0 else field_things.add_target(base, start)
    raise KeyError(tool)


def drag_draw(session: FieldSession, drag: Drag, point: Point, free: bool) -> None:
    base, tool = drag.base, session.tool
    assert base is not None
    beside = (drag.start,) if tool == "line" else ()
    session._unguided()
    if tool == "jig":
        towards = degrees(atan2(point[1] - drag.start[1], point[0] - drag.start[0]))
        angle = snap_angle(towards, on=snapping_on(session, free))
        c, s = cos(radians(angle.heading)), sin(radians(angle.heading))
        end = (drag.start[0] + USUAL * c, drag.start[1] + USUAL * s)
        session.guide_words = angle.words
    else:
        found = snapped(session, point, free, base, beside)
        end = found.at
        if tool in ("round", "target") and not found.words and snapping_on(session, free):
            end = _whole_away(drag.start, end)
    if session.change(
        drawn_between(session, base, tool, drag.start, end), tr("a new {tool}", tool=said(tool)), drag.token, quiet=True
    ):
        session.chosen = last_drawn(session, tool)


def last_drawn(session: FieldSession, tool: str) -> Handle:
    """The last thing of the kind a tool draws."""
    kind = _KINDS.get(tool, tool)
    return [handle for handle, _ in field_things.things(session.field) if handle.kind == kind][-1]


def finish_drag(session: FieldSession, drag: Drag) -> None:
    """A drawing is done; a click alone puts down a thing of the usual size."""
    tool = session.tool
    if not drag.moved:
        put_down(session, tool, drag.start)
        return
    base = drag.base
    if base is None or len(list(field_things.things(session.field))) == len(list(field_things.things(base))):
        # As small as nothing, or outside.
        session.say(tr("Drag farther to draw a {tool}", tool=said(tool)))
        return
    finish(session, tool)


def put_down(session: FieldSession, tool: str, at: Point) -> None:
    if add_usual(session, tool, at):
        finish(session, tool)


def add_usual(session: FieldSession, tool: str, at: Point) -> bool:
    x, y = at
    half = USUAL / 2
    start, end = at, at
    if tool in ("box", "start area"):
        half = half if tool == "box" else 2 * half
        start, end = (x - half, y - half), (x + half, y + half)
    elif tool == "round":
        end = (x + half, y)
    elif tool == "line":
        half = USUAL_LINE / 2
        start, end = (x - half, y), (x + half, y)
    elif tool == "outline":
        points = ((x - half, y - half), (x + half, y - half), (x, y + half))
        return session.change(field_things.add_outline(session.field, "obstacle", points), tr("a new outline"))
    return session.change(drawn_between(session, session.field, tool, start, end), tr("a new {tool}", tool=said(tool)))


def finish(session: FieldSession, tool: str) -> None:
    """The new thing is picked, and the tool is put away."""
    new = last_drawn(session, tool)
    session._take("pick")
    session.chosen = None
    session._choose(new)
    session.say(tr("A new {tool}: type its numbers at the right, or press m for its name", tool=said(tool)))


def add_corner(session: FieldSession, at: Point) -> None:
    if len(session.draft) >= 3 and (_near(at, session.draft[0], snap_reach(session)) or at == session.draft[-1]):
        close_outline(session)
    elif not session.draft or at != session.draft[-1]:
        session.draft = (*session.draft, at)


def close_outline(session: FieldSession) -> None:
    points = session.draft
    if session.change(field_things.add_outline(session.field, "obstacle", points), tr("a new outline")):
        finish(session, "outline")


def _near(a: Point, b: Point, reach: float) -> bool:
    return hypot(b[0] - a[0], b[1] - a[1]) <= reach


def _whole_away(a: Point, b: Point) -> Point:
    """The point at b moved so that it is a whole number of mm, at least 1, away from a."""
    far = hypot(b[0] - a[0], b[1] - a[1])
    if far == 0.0:
        return b
    f = max(1, round(far)) / far
    return a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f
