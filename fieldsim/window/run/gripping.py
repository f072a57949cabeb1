"""A hand on the path: what of it is under a pixel, and what a drag does to it."""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fieldsim.language import tr
from fieldsim.model import Run
from fieldsim.sim.motion import Pose, start_pose
from fieldsim.window.dials import Refused
from fieldsim.window.paint.scene import Floats, Handle
from fieldsim.window.run.bending import PathGrip, bend, grips_of, main_grip
from fieldsim.window.run.settling import CANNOT_STAY, settled
from fieldsim.window.run.state import REACH, Drag

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = [
    "arm_of", "away", "drag_along", "drag_path", "grip_named", "joints_of", "path_at", "path_handles", "robot_at",
    "start_at", "stay_or_follow",
]  # fmt: skip

# How far before the body a turn is gripped, units.
ARM = 34.0


def joints_of(session: RunSession) -> tuple[Pose, ...]:
    """The planned poses before the first segment and after each, as the simulation drives them."""
    segments = session.way.segments
    found = [segments[0][0], *[poses[-1] for poses in segments]]
    return tuple((float(x), float(y), float(h)) for x, y, h in found)


def arm_of(session: RunSession) -> float:
    """How far before the axle a turn is gripped, mm."""
    body = session.run.robot.body
    return body.length - body.axle + ARM * session.places.unit / session.camera.zoom


def path_handles(session: RunSession) -> tuple[Handle, ...]:
    """Grips of the segment that is picked; none while it cannot be planned, for then nobody knows where it is."""
    g = session.place
    if not isinstance(g, int) or session.problem is not None or session.leading is not None:
        return ()
    joints = joints_of(session)
    if not g < len(joints) - 1:
        return ()
    return tuple(
        Handle(f"path {g} {grip.kind}", "turn" if grip.kind == "turn" else "width", grip.at, grip.heading)
        for grip in grips_of(session.run, g, joints[g], joints[g + 1], arm_of(session))
    )


def grip_named(session: RunSession, g: int, kind: str) -> PathGrip | None:
    """A grip by its segment from 0 and its kind; the main one where no kind is named."""
    joints = joints_of(session)
    if session.problem is not None or not g < len(joints) - 1:
        return None
    grips = grips_of(session.run, g, joints[g], joints[g + 1], arm_of(session))
    if not kind:
        return main_grip(session.run, g, joints[g], joints[g + 1], arm_of(session))
    return next((grip for grip in grips if grip.kind == kind), None)


def path_at(session: RunSession, x: float, y: float) -> int | None:
    """The segment whose way is under a pixel, from 0; the one that is picked before any other. Turns and stands have
    none: they are places."""
    point = session.camera.to_field([(x, y)])[0]
    reach = REACH * session.places.unit / session.camera.zoom
    nearest = [away(poses[:, :2], point) if len(poses) > 1 else np.inf for poses in session.way.segments]
    if isinstance(session.place, int) and session.place < len(nearest) and nearest[session.place] <= reach:
        return session.place
    g = int(np.argmin(nearest))
    return g if nearest[g] <= reach else None


def start_at(session: RunSession, x: float, y: float) -> bool:
    """Whether a pixel is on the robot where it starts."""
    return _stands_on(session, start_pose(session.run), x, y)


def robot_at(session: RunSession, x: float, y: float) -> bool:
    """Whether a pixel is on the robot where it is now."""
    return _stands_on(session, session.pose, x, y)


def _stands_on(session: RunSession, pose: Pose, x: float, y: float) -> bool:
    assert session.ready is not None
    fx, fy = (float(v) for v in session.camera.to_field([(x, y)])[0])
    c, s = cos(radians(pose[2])), sin(radians(pose[2]))
    dx, dy = fx - pose[0], fy - pose[1]
    point = shapely.Point(dx * c + dy * s, dy * c - dx * s)
    return any(shapely.Polygon(part.points).covers(point) for part in session.ready.parts)


def drag_path(session: RunSession, drag: Drag, to: tuple[float, float], mods: frozenset[str]) -> None:
    """The grip of a drag goes to a point of the field."""
    _, number, kind = drag.what.split(" ")
    g = int(number)
    before: Run = drag.before[0].state.run
    joints: tuple[Pose, ...] = drag.base
    straight = kind == "end"
    made, words = bend(
        before, g, kind, joints, to, arm_of(session),
        both="alt" in mods and straight, free="alt" in mods and not straight,
        whole=10.0 if "shift" in mods else 1.0,
    )  # fmt: skip
    if made == session.run:
        return
    made = stay_or_follow(session, before, made, g, joints)
    if session.change(made, tr("drag segment {number}", number=g + 1), drag.token):
        session.place = g
        # Why it does not stay is worth more than the number, which is on the card too.
        if not session.toast.startswith(tr(CANNOT_STAY)):
            session.say(words)


def stay_or_follow(
    session: RunSession, before: Run, made: Run | Refused, g: int, joints: tuple[Pose, ...]
) -> Run | Refused:
    """With what comes later solved anew, if it is to stay. Where it cannot, it follows, and that is said."""
    if isinstance(made, Refused) or not session.stays or made == before:
        return made
    solved = settled(before, made, g, joints)
    if isinstance(solved, Refused):
        session.say(solved.words)
        return made
    session.toast = ""
    return solved


def drag_along(session: RunSession, x: float, y: float) -> None:
    """The robot is pulled along its way: to where that is nearest to the hand, not far from where it is."""
    point = session.camera.to_field([(x, y)])[0]
    heads, points = [], []
    for g, (poses, shares) in enumerate(zip(session.way.segments, session.way.shares, strict=True)):
        if len(poses) > 1:
            found = np.linspace(0.0, 1.0, 33)
            heads.append(g + found)
            points.append(np.column_stack([np.interp(found, shares, poses[:, k]) for k in (0, 1)]))
    if not heads:
        return
    all_heads, all_points = np.concatenate(heads), np.concatenate(points)
    # A way that comes back over itself must not make the robot jump: a head costs a little for being far off.
    cost = np.hypot(*(all_points - point).T) + 25.0 * np.abs(all_heads - session.head)
    session._to(session.clock.time_at(float(all_heads[int(np.argmin(cost))])))


def away(points: Floats, point: Any) -> float:
    """Distance of a point from a chain of points."""
    if len(points) == 1:
        return float(np.hypot(*(points[0] - point)))
    a, b = points[:-1], points[1:]
    side = b - a
    length = np.maximum((side * side).sum(axis=1), 1e-12)
    u = np.clip(((point - a) * side).sum(axis=1) / length, 0.0, 1.0)
    return float(np.hypot(*(a + u[:, None] * side - point).T).min())
