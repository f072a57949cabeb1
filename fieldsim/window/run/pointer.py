"""What the pointer does on a run: it drags the start, the body's side, a segment on the strip, the playhead; it picks a
trial, a segment's way, a thing."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, degrees, hypot
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fieldsim.language import tr
from fieldsim.model import Run, StartByEye
from fieldsim.sim.motion import jig_of, start_pose
from fieldsim.window import listing
from fieldsim.window.paint.build import marks_of
from fieldsim.window.paint.scene import Handle, hit_handle
from fieldsim.window.run import choosing, gripping, hinting, leading, looking
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run import segments as segment_edits
from fieldsim.window.run.state import REACH, SNAP, STEP, STILL, Drag
from fieldsim.window.session import ZOOM
from fieldsim.window.snapping import snap_angle, snap_start

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = [
    "ARM",
    "ASIDE",
    "begin_drag",
    "click_field",
    "drag_block",
    "drag_handle",
    "drag_handles",
    "free_side",
    "moved",
    "pressed",
    "released",
    "take_back_drag",
    "thing_at",
    "trial_near",
    "wheel",
]


# How far before the middle of the axle the handle for turning stands, and the width handle beside the body, units.
ARM, ASIDE = 34.0, 12.0
# The strip of a long run is made so many times as wide at most.
MOST_ZOOM = 24.0

# Actions of buttons that are named otherwise.
_BUTTONS = {"back": "step back", "forth": "step forth"}


def pressed(session: RunSession, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
    """A button of the mouse goes down."""
    if session._covered:
        session._press_over(x, y)
        return
    session._pointer = (x, y)
    if listing.press(session, x, y, button):
        return
    what = session.under(x, y)
    if what is not None and what.startswith("menu"):
        if what != "menu" and button == "left":
            leading.take(session, int(what.split(" ")[1]))
        return
    leading.close(session)
    if session.entry is not None:
        if what == f"number {session.entry.line - session.first_row} entry":
            session.entry = replace(session.entry, fresh=False)
            return
        # What was typed is meant, whatever is pressed next.
        session._type_done()
    if button != "left":
        if what is not None and session.places.field.contains(x, y):
            begin_drag(session, "pan" if button == "middle" else "pan or context", (x, y))
        elif button == "right":
            choosing.open_context(session, x, y)
        return
    if what is None:
        return
    word = what.split(" ")
    match word[0]:
        case "handle":
            fx, fy = session.camera.to_field([(x, y)])[0]
            # The whole body at the start is the handle for moving it.
            handle = next(handle for handle in drag_handles(session) if handle.name == what)
            grabbed = (handle.at[0] - float(fx), handle.at[1] - float(fy))
            begin_drag(session, what, (x, y), grabbed)
        case "field":
            begin_drag(session, "field", (x, y))
        case "path":
            begin_path(session, int(word[1]), word[2] if len(word) > 2 else "", (x, y))
        case "robot":
            begin_drag(session, "robot", (x, y))
        case "block":
            session._pick(int(word[1]) - 1)
            begin_drag(session, what, (x, y))
        case "ribbon" | "axis":
            begin_drag(session, "scrub", (x, y))
            session._scrub(x)
        case "button":
            session.do(_BUTTONS.get(word[1], word[1]))
        case "number":
            session._press_row(session.first_row + int(word[1]), word[2], mods)
        case "hint":
            hinting.take_hint(session)
        case "trouble":
            looking.press_trouble(session, int(word[1]), word[2] if len(word) > 2 else "")
        case "switch" if word[2] == "entry":
            choosing.open_switch(session, int(word[1]))
        case "switch":
            session._switch(int(word[1]), -1 if word[2] == "minus" else 1)


def moved(session: RunSession, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
    """The pointer moves, pressed or not."""
    drag = session._drag
    session._pointer = (x, y)
    if drag is None:
        if listing.hover(session, x, y):
            return
        session.hover = session.under(x, y)
        leading.hover(session, session.hover)
        return
    if hypot(x - drag.at[0], y - drag.at[1]) > STILL * session.places.unit:
        drag.moved = True
    dx, dy = x - drag.last[0], y - drag.last[1]
    drag.last = (x, y)
    if not drag.moved:
        return
    if drag.what.startswith("handle"):
        # Only now: who presses and lets go means what is there, and not the start.
        session._pick("body" if drag.what == "handle width" else "start")
    free = "alt" in mods
    if drag.what in ("pan", "pan or context", "field"):
        session.camera = session.camera.panned(dx, dy)
    elif drag.what == "scrub":
        session._scrub(x)
    elif drag.what.startswith("block"):
        drag_block(session, x, drag)
    elif drag.what == "robot":
        gripping.drag_along(session, x, y)
    elif drag.what.startswith("path"):
        fx, fy = (float(v) for v in session.camera.to_field([(x, y)])[0])
        gripping.drag_path(session, drag, (fx + drag.grabbed[0], fy + drag.grabbed[1]), mods)
    elif drag.what.startswith("handle"):
        fx, fy = (float(v) for v in session.camera.to_field([(x, y)])[0])
        to = (fx + drag.grabbed[0], fy + drag.grabbed[1])
        drag_handle(session, drag, to, free)


def released(session: RunSession, x: float, y: float) -> None:
    """The button goes up."""
    drag, session._drag = session._drag, None
    session.guides, session.guide_words = (), ""
    session.hover = session.under(x, y)
    if drag is None or drag.moved:
        return
    if drag.what == "pan or context":
        choosing.open_context(session, x, y)
    elif drag.what == "handle start" and near_handle(session, x, y) != drag.what:
        # A press on the body alone, which lies over much else.
        if not click_field(session, x, y):
            session._pick("start")
    elif drag.what in ("handle start", "handle turn", "handle width"):
        session._pick("body" if drag.what == "handle width" else "start")
    elif drag.what in ("field", "robot") or (drag.what.startswith("path") and near_handle(session, x, y) is None):
        click_field(session, x, y)


def wheel(session: RunSession, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
    """The wheel turns: nearer and farther on the field, more and less on a number, on and back on the strip."""
    if session._covered or listing.wheel(session, steps):
        return
    what = session.under(x, y) or ""
    if session.places.field.contains(x, y) and not what.startswith("menu"):
        session.camera = session.camera.zoomed((x, y), ZOOM**steps)
    elif what.startswith(("block", "ribbon", "axis", "segments")):
        if "ctrl" in mods:
            zoom_strip(session, x, ZOOM**steps)
        elif "shift" in mods:
            shift_strip(session, -steps * 0.1)
        else:
            session._to(session.seconds + steps * STEP)
    else:
        session._wheel_card(what, steps, "shift" in mods)


def zoom_strip(session: RunSession, x: float, factor: float) -> None:
    """The strip nearer or farther; what is under the pointer stays there."""
    zoom, left = session.strip_view
    rect = session.places.segments
    at = (x - rect.x) / max(rect.w, 1)
    to = min(max(zoom * factor, 1.0), MOST_ZOOM)
    _strip_is(session, to, left + at / zoom - at / to)


def shift_strip(session: RunSession, by: float) -> None:
    """The strip to the left or right, by a share of what is seen of it."""
    zoom, left = session.strip_view
    _strip_is(session, zoom, left + by / zoom)


def _strip_is(session: RunSession, zoom: float, left: float) -> None:
    session.strip_view = zoom, min(max(left, 0.0), 1.0 - 1.0 / zoom)
    session._placed()


def drag_handle(session: RunSession, drag: Drag, to: tuple[float, float], free: bool) -> None:
    reach = SNAP * session.places.unit / session.camera.zoom
    session.guides, session.guide_words = (), ""
    # From where it was when the hand took it, so that nothing creeps.
    origin: Run = drag.before[0].state.run
    if drag.what == "handle start":
        found = snap_start(origin, (to[0], to[1], start_pose(origin)[2]), reach, on=not free)
        made = (
            run_edits.start_at_jig(origin, found.jig)
            if found.jig is not None
            else run_edits.start_by_eye(origin, found.pose)
        )
        made = gripping.stay_or_follow(session, origin, made, -1, drag.base)
        if session.change(made, tr("move the start"), drag.token):
            session.guides, session.guide_words = found.guides, found.words
    elif drag.what == "handle turn":
        x, y, _ = start_pose(origin)
        angle = snap_angle(degrees(atan2(to[1] - y, to[0] - x)), on=not free)
        made = gripping.stay_or_follow(session, origin, run_edits.turn_start(origin, angle.heading), -1, drag.base)
        if session.change(made, tr("turn the start"), drag.token):
            session.guide_words = angle.words
    else:
        x, y, heading = start_pose(session.run)
        side = np.radians(heading + 90.0 * free_side(session))
        out = (to[0] - x) * float(np.cos(side)) + (to[1] - y) * float(np.sin(side))
        out = max(0.0, out - ASIDE * session.places.unit / session.camera.zoom)
        # A jig holds the other side where it is; by eye the middle stays, and both sides move.
        eye = isinstance(session.run.start, StartByEye)
        width = 2.0 * out if eye else out + session.run.robot.body.width / 2
        made = run_edits.set_number(session.run, "body", "width", float(max(1, round(width))))
        session.change(made, tr("the body's width"), drag.token)


def drag_block(session: RunSession, x: float, drag: Drag) -> None:
    if not isinstance(session.place, int) or session.problem is not None:
        return
    # Past the middle of a block, and beside the strip to its end: a narrow block would else jump to and fro.
    edges, to = session.strip.edges, session.place
    while to + 1 < len(edges) - 1 and x > (edges[to + 1] + edges[to + 2]) / 2:
        to += 1
    while to > 0 and x < (edges[to - 1] + edges[to]) / 2:
        to -= 1
    if to == session.place:
        return
    if session.change(
        segment_edits.move_segment(session.run, session.place, to), tr("the order of segments"), drag.token
    ):
        session.place = to


def click_field(session: RunSession, x: float, y: float) -> bool:
    """A trial near the pointer, else a segment's way, else a thing, else nothing; whether there was anything."""
    if session.leading is not None:
        leading.open_at(session, x, y)
        return True
    reach = REACH * session.places.unit
    number = trial_near(session, x, y, reach)
    if number is not None:
        session.cause = None
        looking.pick_trial(session, number)
        return True
    looking.leave(session)
    point = session.camera.to_field([(x, y)])[0]
    nearest = [gripping.away(poses[:, :2], point) for poses in session.way.segments]
    g = int(np.argmin(nearest))
    if nearest[g] * session.camera.zoom <= reach:
        session._pick(g)
        return True
    session.place = session.entry = None
    session.thing = thing_at(session, float(point[0]), float(point[1]))
    return session.thing is not None


def trial_near(session: RunSession, x: float, y: float, reach: float) -> int | None:
    """The trial whose mark is nearest to a pixel: of all that have one, since any of them can be clicked."""
    shown = session._fresh()
    if shown is None or shown.first is None:
        return None
    marks = marks_of(shown.first, session.failures)
    numbers = [n for _, which, _ in marks for n in which]
    if not numbers:
        return None
    places = np.concatenate([at for _, _, at in marks])
    away = np.hypot(*(session.camera.to_pixels(places) - (x, y)).T)
    best = int(np.argmin(away))
    return numbers[best] if away[best] <= reach else None


def thing_at(session: RunSession, x: float, y: float) -> str | None:
    """The target whose middle is near, else what stands there, else the target whose circle it is in."""
    assert session._plan is not None
    reach = REACH * session.places.unit / session.camera.zoom
    away = [(hypot(target.at[0] - x, target.at[1] - y), target) for target in session.run.field.targets]
    away.sort(key=lambda each: each[0])
    near = [target.name for far, target in away if far <= reach]
    if near:
        return near[0]
    inside = [solid.name for solid in session._plan.solids if _solid_has(solid, shapely.Point(x, y))]
    around = [target.name for far, target in away if far <= target.within]
    return (*inside, *around, None)[0]


def begin_path(session: RunSession, g: int, kind: str, at: tuple[float, float]) -> None:
    """A hand takes the path: at a grip, or anywhere on a segment, which is then dragged by its main one."""
    grip = None if session.leading is not None else gripping.grip_named(session, g, kind)
    if grip is None:
        begin_drag(session, "robot" if session.leading is None else "field", at)
        return
    fx, fy = (float(v) for v in session.camera.to_field([at])[0])
    begin_drag(session, f"path {g} {grip.kind}", at, (grip.at[0] - fx, grip.at[1] - fy))


def under_field(session: RunSession, x: float, y: float) -> str:
    """What is under a pixel of the field: a handle, the robot at its start, the path, the robot where it is."""
    handle = near_handle(session, x, y)
    if handle is not None or session.leading is not None:
        return handle or "field"
    if gripping.start_at(session, x, y):
        return "handle start"
    g = gripping.path_at(session, x, y)
    if g is not None:
        return f"path {g}"
    return "robot" if gripping.robot_at(session, x, y) else "field"


def near_handle(session: RunSession, x: float, y: float) -> str | None:
    """The handle under a pixel, by name."""
    handle = hit_handle(session.camera, session.handles, x, y, REACH * session.places.unit)
    return None if handle is None else handle.name


def begin_drag(
    session: RunSession, what: str, at: tuple[float, float], grabbed: tuple[float, float] = (0.0, 0.0)
) -> None:
    session._drag = Drag(
        what,
        at,
        at,
        grabbed,
        before=(session.history, session.camera, session.seconds, session.place),
        base=gripping.joints_of(session),
    )


def take_back_drag(session: RunSession) -> None:
    """What a hand is dragging goes back to where it was; the hand has let it go."""
    drag, session._drag = session._drag, None
    assert drag is not None
    session.guides, session.guide_words = (), ""
    before, camera, seconds, place = drag.before
    session.camera = camera
    if session.history.state != before.state:
        session.history = before
        session._changed()
    session.history = before
    session.place = place
    if drag.what == "scrub":
        session._to(seconds)


def drag_handles(session: RunSession) -> tuple[Handle, ...]:
    """What can be dragged on the field: the start, its heading, the body's side, and the segment that is picked."""
    x, y, heading = start_pose(session.run)
    zoom, unit = session.camera.zoom, session.places.unit
    body = session.run.robot.body
    c, s = float(np.cos(np.radians(heading))), float(np.sin(np.radians(heading)))
    ahead = body.length - body.axle + ARM * unit / zoom
    side = free_side(session)
    aside = side * (body.width / 2 + ASIDE * unit / zoom)
    return (
        Handle("handle start", "move", (x, y)),
        Handle("handle turn", "turn", (x + c * ahead, y + s * ahead), heading),
        Handle("handle width", "width", (x - s * aside, y + c * aside), heading + side * 90.0),
        *gripping.path_handles(session),
    )


def free_side(session: RunSession) -> float:
    """The side of the body that is dragged wider: 1 the left one, -1 the right one where a jig holds the left."""
    start = session.run.start
    return -1.0 if not isinstance(start, StartByEye) and "left" in jig_of(session.run.field, start).holds else 1.0


def _solid_has(solid: Any, point: Any) -> bool:
    for core in solid.cores:
        area = shapely.Polygon(core.points) if len(core.points) > 2 else shapely.MultiPoint(core.points).convex_hull
        if area.distance(point) <= core.radius:
            return True
    return False
