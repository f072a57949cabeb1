"""Where to next: from a point, a wall or a target that is pointed at to the segments that bring the robot there. Pure
geometry, mm and degrees in the field frame; what comes of it is driven by the model of the simulation like any run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import atan2, ceil, cos, degrees, hypot, radians, sin, sqrt

import numpy as np

from fieldsim.language import tr
from fieldsim.model import WALLS, Act, Field, Point, Round, Run, Segment, Square, Straight, Target, Turn, Wait
from fieldsim.model.errors import shown
from fieldsim.sim.endings import tool_point
from fieldsim.sim.motion import Pose, wrapped
from fieldsim.sim.shapes import footprint, outline
from fieldsim.window.dials import Refused, accepted
from fieldsim.window.run.edits import with_segments

__all__ = ["Wish", "driven", "sides_near", "wishes"]

# Turns are set to half a degree and ways to one mm: finer nobody types, and no robot drives.
ANGLE_STEP, LENGTH_STEP = 0.5, 1.0
# A square begins so far from the wall, mm: what is farther is driven straight, and faster.
BEFORE = 60.0
# How far it may drive on when the face should have touched by then, mm.
BEYOND = 40.0


@dataclass(frozen=True)
class Wish:
    """Something that can be done where one has pointed."""

    kind: str
    """'there', 'back', 'square', 'act', or 'seek': the best way is still to be looked for."""
    words: str
    segments: tuple[Segment, ...]
    to: str | Point | None = None
    """Where the best way is to lead: a target's name, or a place."""
    made: Run | None = None
    """The whole run as it would be, of a change that a study offers."""
    worth: str = ""

    @property
    def told(self) -> str:
        """The segments in words."""
        return ", ".join(segment.in_words() for segment in self.segments)


@dataclass(frozen=True)
class Side:
    """A straight side that a face can be pushed on: its ends, and the heading into it, degrees."""

    of: str
    a: Point
    b: Point
    into: float


def sides(field: Field) -> Iterator[Side]:
    """The walls and the flat sides of obstacles."""
    w, d = field.size
    if field.walls is not None:
        ends = (((0.0, 0.0), (w, 0.0)), ((0.0, d), (w, d)), ((0.0, 0.0), (0.0, d)), ((w, 0.0), (w, d)))
        for name, (a, b), into in zip(WALLS, ends, (-90.0, 90.0, 180.0, 0.0), strict=True):
            yield Side(name, a, b, into)
    for obstacle in field.obstacles:
        if isinstance(obstacle.shape, Round):
            continue
        points = [(float(x), float(y)) for x, y in outline(obstacle.shape)]
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, points[1:] + points[:1], strict=True))
        if area < 0:
            points.reverse()
        for a, b in zip(points, points[1:] + points[:1], strict=True):
            # Counter-clockwise: inside is to the left of each side.
            yield Side(obstacle.name, a, b, wrapped(degrees(atan2(b[1] - a[1], b[0] - a[0])) + 90.0))


def sides_near(field: Field, point: Point, reach: float) -> tuple[Side, ...]:
    """The sides that a point is on, up to ``reach`` mm; inside an obstacle its nearest one. The nearest first, one of
    each thing."""
    found: dict[str, tuple[float, Side]] = {}
    for side in sides(field):
        away = _away(point, side)
        inside = side.of not in WALLS and _holds(field, side.of, point)
        if (away <= reach or inside) and (side.of not in found or away < found[side.of][0]):
            found[side.of] = away, side
    return tuple(side for _, side in sorted(found.values(), key=lambda pair: pair[0]))


def _holds(field: Field, name: str, point: Point) -> bool:
    shape = next(each.shape for each in field.obstacles if each.name == name)
    if isinstance(shape, Round):
        return False
    ring = outline(shape)
    x, y = point
    odd = False
    for (ax, ay), (bx, by) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            odd = not odd
    return odd


def _away(point: Point, side: Side) -> float:
    ax, ay = side.a
    dx, dy = side.b[0] - ax, side.b[1] - ay
    u = min(max(((point[0] - ax) * dx + (point[1] - ay) * dy) / (dx * dx + dy * dy), 0.0), 1.0)
    return hypot(point[0] - ax - u * dx, point[1] - ay - u * dy)


# --- what can be done ----------------------------------------------------------------------------------------------


def wishes(run: Run, pose: Pose, point: Point, reach: float) -> tuple[Wish, ...]:
    """What can be done at a point from a pose; what is nearest to what was pointed at comes first. ``reach`` is how far
    off a wall or a target may be, mm."""
    found: list[Wish] = []
    for target in run.field.targets:
        if hypot(target.at[0] - point[0], target.at[1] - point[1]) <= max(reach, target.within):
            segments = at_target(run, pose, target)
            if segments is not None:
                found.append(Wish("act", tr("act at {target}", target=shown(target.name)), segments, target.name))
    for side in sides_near(run.field, point, reach):
        segments = on_side(run, pose, side, point)
        if segments is not None:
            found.append(Wish("square", tr("square on {wall}", wall=shown(tr(side.of))), segments))
    target_there = next((wish.to for wish in found if wish.kind == "act"), None)
    x, y = (min(max(value, 0.0), size) for value, size in zip(point, run.field.size, strict=True))
    for kind, words, back in (("there", tr("turn and drive here"), False), ("back", tr("drive here backwards"), True)):
        segments = towards(pose, (x, y), back)
        if segments:
            found.append(Wish(kind, words, segments))
    if isinstance(target_there, str):
        words = tr("the best way to {target}", target=shown(target_there))
        found.append(Wish("seek", words, (), target_there))
    elif found:
        found.append(Wish("seek", tr("the best way here"), (), (x, y)))
    return tuple(found)


def towards(pose: Pose, point: Point, back: bool = False) -> tuple[Segment, ...]:
    """A turn and a straight to a point, each left out where it is too small."""
    far = hypot(point[0] - pose[0], point[1] - pose[1])
    if far < LENGTH_STEP:
        return ()
    heading = degrees(atan2(point[1] - pose[1], point[0] - pose[0])) + (180.0 if back else 0.0)
    return _turned(pose[2], heading) + _straight(-far if back else far)


def _turned(now: float, heading: float) -> tuple[Segment, ...]:
    angle = round(wrapped(heading - now) / ANGLE_STEP) * ANGLE_STEP
    return (Turn(angle),) if angle else ()


def _straight(way: float) -> tuple[Segment, ...]:
    way = round(way / LENGTH_STEP) * LENGTH_STEP
    return (Straight(way),) if way else ()


def moved_by(pose: Pose, segments: tuple[Segment, ...]) -> Pose:
    """Where turns on the spot and straights lead."""
    x, y, h = pose
    for segment in segments:
        if isinstance(segment, Turn):
            h = wrapped(h + segment.angle)
        elif isinstance(segment, Straight):
            x, y = x + segment.distance * cos(radians(h)), y + segment.distance * sin(radians(h))
    return x, y, h


def on_side(run: Run, pose: Pose, side: Side, point: Point) -> tuple[Segment, ...] | None:
    """A turn towards a side (with the face that needs the smaller one), a straight where it is far, and a square. Where
    the robot would drive past it, it first drives to before the point. None if the model takes no such square."""
    points = np.concatenate([part.points for part in footprint(run.robot, run.wear)])
    front, rear = float(points[:, 0].max()), -float(points[:, 0].min())
    first: tuple[Segment, ...] = ()
    if not _ahead(pose, side):
        c, s = cos(radians(side.into)), sin(radians(side.into))
        off = max(front, rear) + BEFORE
        first = towards(pose, (point[0] - c * off, point[1] - s * off))
        pose = moved_by(pose, first)
        if not _ahead(pose, side):
            return None
    turn_front = abs(wrapped(side.into - pose[2]))
    face = "front" if turn_front <= 90.0 else "rear"
    turn = _turned(pose[2], side.into if face == "front" else side.into + 180.0)
    gap = _before(pose, side) - (front if face == "front" else rear)
    if gap < -1.0:
        return None
    near = _straight((gap - BEFORE) * (1 if face == "front" else -1)) if gap > 2 * BEFORE else ()
    left = BEFORE if near else max(gap, 0.0)
    reach = max(50.0, ceil((left + BEYOND) / 10.0) * 10.0)
    made = accepted(lambda: Square("front" if face == "front" else "rear", side.of, reach))
    if isinstance(made, Refused):
        return None
    return (*first, *turn, *near, made)


def _before(pose: Pose, side: Side) -> float:
    """How far the axle's middle is from the line of a side, mm; negative beyond it."""
    c, s = cos(radians(side.into)), sin(radians(side.into))
    return (side.a[0] - pose[0]) * c + (side.a[1] - pose[1]) * s


def _ahead(pose: Pose, side: Side) -> bool:
    """Whether the robot meets the side with its middle when it drives straight into it."""
    dx, dy = side.b[0] - side.a[0], side.b[1] - side.a[1]
    u = ((pose[0] - side.a[0]) * dx + (pose[1] - side.a[1]) * dy) / (dx * dx + dy * dy)
    return 0.0 <= u <= 1.0 and _before(pose, side) > 0.0


def at_target(run: Run, pose: Pose, target: Target) -> tuple[Segment, ...] | None:
    """What brings the tool point to a target, and the act. Where the target asks for a heading, the robot drives to
    where it has to stand and turns there. None if the tool cannot reach it: it is nearer than the tool is aside."""
    tx, ty = tool_point(run.robot, run.wear)
    px, py, heading = pose
    if target.heading is not None:
        c, s = cos(radians(target.heading)), sin(radians(target.heading))
        stand = target.at[0] - c * tx + s * ty, target.at[1] - s * tx - c * ty
        way = towards(pose, stand)
        ahead = stand[0] - px, stand[1] - py
        # Backwards where that is the shorter turn.
        if ahead[0] * cos(radians(heading)) + ahead[1] * sin(radians(heading)) < 0:
            way = towards(pose, stand, back=True)
        turn = _turned(moved_by(pose, way)[2], target.heading)
        return (*way, *turn, Act(target.name, takes=2.0))
    far = hypot(target.at[0] - px, target.at[1] - py)
    if far <= abs(ty):
        return None
    # The tool drives along a line ``ty`` to the left of the axle's.
    along = sqrt(far * far - ty * ty) - tx
    to = degrees(atan2(target.at[1] - py, target.at[0] - px)) - degrees(atan2(ty, along + tx))
    return (*_turned(heading, to), *_straight(along), Act(target.name, takes=2.0))


def driven(run: Run, at: int, wish: Wish) -> Run | Refused:
    """The run with the segments of a wish before segment ``at``. A run that was begun from nothing consists of them."""
    if wish.made is not None:
        return wish.made
    if run.segments == (Wait(0.0),):
        return accepted(lambda: replace(run, segments=wish.segments))
    return accepted(lambda: with_segments(run, run.segments[:at], wish.segments, run.segments[at:]))
