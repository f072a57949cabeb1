"""What the pointer does on a field: it grips what is under it, drags, turns and resizes it, lays the
picture, shoves and zooms the view."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, degrees, hypot, radians, sin
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Box, Obstacle, Point, StartArea
from fieldsim.window import listing
from fieldsim.window.dials import Refused, accepted, tidy
from fieldsim.window.field import actions, drawing, grips, numbers, selecting
from fieldsim.window.field import things as field_things
from fieldsim.window.field.snaps import grid_step, guided, snap_reach, snapped, snapping_on
from fieldsim.window.field.state import DOUBLE, DRAWN, STILL, Drag
from fieldsim.window.field.things import WALLS_HANDLE, Handle
from fieldsim.window.session import ZOOM
from fieldsim.window.snapping import ANGLES, snap_angle, snap_thing

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = [
    "click",
    "drag_grip",
    "drag_picture",
    "drag_turn",
    "grab",
    "hovers",
    "moved",
    "press_card",
    "press_field",
    "pressed",
    "released",
    "wheel",
]


def pressed(
    session: FieldSession, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()
) -> None:
    """A button of the mouse goes down."""
    if session._covered:
        session._press_over(x, y)
        return
    session._pointer = (x, y)
    if listing.press(session, x, y, button):
        return
    what = session.under(x, y)
    if session.entry is not None and not (what or "").startswith("number"):
        session._type_done()
    if what == "field":
        press_field(session, x, y, button, mods)
    elif button == "left" and what is not None:
        press_card(session, what, mods)


def press_field(session: FieldSession, x: float, y: float, button: str, mods: frozenset[str]) -> None:
    if session._drag is not None:
        return
    if button != "left":
        session._drag = Drag("pan" if button == "middle" else "pan or context", (x, y), (x, y))
        return
    point = session._on_field(x, y)
    if session.tool == "pick":
        there = [each for each in grips.under(session.field, point, session.reach) if each.kind != "walls"]
        if "ctrl" in mods and there:
            selecting.toggle(session, there[0])
        elif ("ctrl" in mods or "shift" in mods) and not there:
            session._drag = Drag("frame", (x, y), (x, y), start=point)
        else:
            grab(session, x, y, point)
        return
    if session.tool == "picture":
        picture = session.field.picture
        assert picture is not None
        grabbed = (picture.corner[0] - point[0], picture.corner[1] - point[1])
        session._drag = Drag("picture", (x, y), (x, y), grabbed=grabbed, before=session.history)
        return
    if session.tool == "scale":
        # Not snapped: what is printed on the mat is meant, not what is drawn over it.
        at = (tidy(point[0]), tidy(point[1]))
        session.known = (at,) if len(session.known) != 1 else (*session.known, at)
        session._drag = Drag("scale", (x, y), (x, y), start=at, again=len(session.known) == 2)
        return
    at = snapped(session, point, "alt" in mods).at
    if session.tool == "outline":
        drawing.add_corner(session, at)
        session._drag = Drag("outline", (x, y), (x, y))
        return
    session._drag = Drag("draw", (x, y), (x, y), base=session.field, start=at, before=session.history)


def press_card(session: FieldSession, what: str, mods: frozenset[str]) -> None:
    sort, _, rest = what.partition(" ")
    if sort == "button":
        tool = rest.removeprefix("tool ")
        if tool in DRAWN:
            session.do(f"draw {tool}")
        else:
            session.do(tool)
    elif sort == "number":
        number, part = rest.split(" ")
        numbers.press_row(session, session.first_row + int(number), part, mods)
    elif sort == "switch":
        number, part = rest.split(" ")
        actions.switch(session, int(number), -1 if part == "minus" else 1)


def grab(session: FieldSession, x: float, y: float, point: Point) -> None:
    """Grip what is under the pointer."""
    handle = grips.pick(session.field, point, session.reach, session.chosen, session.arm)
    # Walls are too large to be dragged by mistake: they are picked first.
    if handle is None or (handle.kind == "walls" and session.chosen != WALLS_HANDLE):
        session._drag = Drag("ground", (x, y), (x, y), handle)
        return
    again = session.chosen is not None and handle.whole == session.chosen.whole and handle.part == "whole"
    corner = handle.part.startswith("corner") and session._is_outline(handle)
    together = selecting.picked_all(session)
    session._choose(handle if corner else handle.whole if handle.kind != "walls" else WALLS_HANDLE)
    if handle.part == "whole" and handle in together:
        # Who takes one of several takes all of them.
        session.others = tuple(each for each in together if each != handle)
    here = grips.place_of(session.field, handle, session.arm)
    grabbed = (here[0] - point[0], here[1] - point[1])
    session._drag = Drag("grip", (x, y), (x, y), handle, grabbed, start=here, again=again, before=session.history)


def moved(session: FieldSession, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
    """The pointer moves, pressed or not."""
    drag = session._drag
    session._pointer = (x, y)
    if drag is None:
        if not listing.hover(session, x, y):
            hovers(session, x, y, mods)
        return
    if hypot(x - drag.at[0], y - drag.at[1]) > STILL * session.places.unit:
        drag.moved = True
    dx, dy = x - drag.last[0], y - drag.last[1]
    drag.last = (x, y)
    if not drag.moved:
        return
    point = session._on_field(x, y)
    free = "alt" in mods
    if drag.what in ("pan", "pan or context", "ground"):
        session.camera = session.camera.panned(dx, dy)
    elif drag.what == "frame":
        selecting.frame(session, drag.start, point)
    elif drag.what == "grip":
        drag_grip(session, drag, point, free, "shift" in mods)
    elif drag.what == "draw":
        drawing.drag_draw(session, drag, point, free)
    elif drag.what == "picture":
        drag_picture(session, drag, point, free)
    elif drag.what == "scale" and not drag.again:
        # Pressed at one point, let go at the other.
        session.known = (drag.start, (tidy(point[0]), tidy(point[1])))


def hovers(session: FieldSession, x: float, y: float, mods: frozenset[str]) -> None:
    session.hover = session.under(x, y)
    session._unguided()
    session.hot = None
    if session.hover != "field":
        return
    point = session._on_field(x, y)
    if session.tool == "pick":
        handle = grips.pick(session.field, point, session.reach, session.chosen, session.arm)
        session.hot = None if handle is not None and handle.kind == "walls" and session.chosen is None else handle
    elif session.tool in DRAWN:
        session.spot = snapped(session, point, "alt" in mods).at
    elif session.tool == "scale":
        session.spot = point


def released(session: FieldSession, x: float, y: float) -> None:
    """The button goes up."""
    drag, session._drag = session._drag, None
    session._unguided()
    session.hover = session.under(x, y)
    if drag is None:
        return
    if drag.what == "frame" and drag.moved:
        selecting.frame_done(session, drag.start, session._on_field(x, y))
    elif drag.what == "pan or context" and not drag.moved:
        selecting.open_context(session, x, y)
    if drag.what == "ground" and not drag.moved:
        session._choose(None if drag.handle is None else WALLS_HANDLE)
    elif drag.what == "grip" and not drag.moved:
        # A click on one of several means that one.
        selecting.put_away(session)
        click(session, drag)
    elif drag.what == "draw":
        drawing.finish_drag(session, drag)
    elif drag.what == "scale" and len(session.known) == 2:
        numbers.ask_distance(session)


def wheel(session: FieldSession, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
    """The wheel turns: nearer and farther on the field, more and less on a number."""
    if session._covered or listing.wheel(session, steps):
        return
    what = session.under(x, y) or ""
    if what == "field":
        session.camera = session.camera.zoomed((x, y), ZOOM**steps)
    else:
        session._wheel_card(what, steps, "shift" in mods)


def drag_grip(session: FieldSession, drag: Drag, point: Point, free: bool, straight: bool) -> None:
    handle = drag.handle
    assert handle is not None
    if not session._there(handle):
        session._drag = None
        return
    to = (point[0] + drag.grabbed[0], point[1] + drag.grabbed[1])
    session._unguided()
    if handle.part == "turn":
        drag_turn(session, drag, handle, to, free)
        return
    found = snap_thing(
        session.field, handle, to, snap_reach(session), on=snapping_on(session, free), grid=grid_step(session)
    )
    x, y = found.at
    if straight:
        # The other number is that of the beginning.
        across = abs(drag.last[0] - drag.at[0]) >= abs(drag.last[1] - drag.at[1])
        x, y = (x, drag.start[1]) if across else (drag.start[0], y)
    step = 1.0 if snapping_on(session, free) and not found.words else None
    made = grips.grip(session.field, handle, (x, y), step=step, arm=session.arm)
    if session.others and handle.part == "whole" and not isinstance(made, Refused) and drag.before is not None:
        made = selecting.also_moved(session, drag.before.state, made, handle)
    what = f"{'move' if handle.part == 'whole' else 'resize'} {session._called(handle)}"
    if session.change(made, what, drag.token):
        guided(session, found)


def drag_turn(session: FieldSession, drag: Drag, handle: Handle, to: Point, free: bool) -> None:
    x, y = grips.place_of(session.field, handle.whole)
    others = [
        (thing.shape.heading, thing.name)
        for other, thing in field_things.things(session.field)
        if isinstance(thing, Obstacle | StartArea) and isinstance(thing.shape, Box) and other != handle.whole
        and thing.shape.heading % ANGLES[-1][0]
    ]  # fmt: skip
    angle = snap_angle(degrees(atan2(to[1] - y, to[0] - x)), on=snapping_on(session, free), others=others)
    c, s = cos(radians(angle.heading)), sin(radians(angle.heading))
    there = (x + session.arm * c, y + session.arm * s)
    made = grips.grip(session.field, handle, there, arm=session.arm)
    if session.change(made, tr("turn {name}", name=session._called(handle)), drag.token):
        session.guide_words = angle.words


def drag_picture(session: FieldSession, drag: Drag, point: Point, free: bool) -> None:
    picture = session.field.picture
    if picture is None:
        session._drag = None
        return
    x, y = point[0] + drag.grabbed[0], point[1] + drag.grabbed[1]
    corner = (tidy(x), tidy(y)) if free else (float(round(x)), float(round(y)))
    made = accepted(lambda: replace(session.field, picture=replace(picture, corner=corner)))
    before = picture.corner
    if session.change(made, tr("move the picture"), drag.token, quiet=True):
        by = (corner[0] - before[0], corner[1] - before[1])
        session.known = tuple((px + by[0], py + by[1]) for px, py in session.known)


def click(session: FieldSession, drag: Drag) -> None:
    """A click on a thing that was picked already: what lies below it; twice, quickly, on an outline: a corner."""
    handle = drag.handle
    assert handle is not None
    point = session._on_field(*drag.at)
    if not session._there(handle):
        return
    double = session._now - session._clicked < DOUBLE
    session._clicked = session._now
    if double and drag.again and session._is_outline(handle):
        actions.insert_corner(session, handle, point)
        return
    if not drag.again or handle.kind == "walls":
        return
    found = [each for each in grips.under(session.field, point, session.reach) if each.kind != "walls"]
    if len(found) > 1 and handle.whole in found:
        session._choose(found[(found.index(handle.whole) + 1) % len(found)])
