"""The path taken in the hand: where it can be gripped, and what a drag makes of a segment.

Pure geometry, mm and degrees in the field frame; what comes of it is driven by the model of the simulation like any
run. A drag goes from the run as it was when it began, so that nothing creeps while the hand goes to and fro.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, ceil, cos, degrees, hypot, radians, sin

from fieldsim.language import tr
from fieldsim.model import Act, Arc, Line, LineSquare, Point, Run, Segment, Square, Straight, Turn, Until, Wait
from fieldsim.sim.motion import Pose, along_piece, wrapped
from fieldsim.window.dials import Refused, accepted, tidy
from fieldsim.window.run.driving import sides_near
from fieldsim.window.run.edits import with_part
from fieldsim.window.snapping import snap_angle

__all__ = ["PathGrip", "bend", "grips_of", "main_grip"]

# How far a square or a line is looked for beyond where it should be met, mm.
BEYOND = 40.0
# An arc straighter than this, degrees from its tangent to where it is pulled, is none that a hand means.
STRAIGHTEST = 0.5


@dataclass(frozen=True)
class PathGrip:
    """Where a segment can be gripped: 'end' (of a straight or an arc), 'turn', 'bulge', 'wall' or 'line'."""

    kind: str
    at: Point
    heading: float
    """The way in which it is dragged, degrees; of a turn, that of the robot."""


def grips_of(run: Run, index: int, begin: Pose, end: Pose, arm: float) -> tuple[PathGrip, ...]:
    """Grips of segment ``index`` (from 0), which is planned from ``begin`` to ``end``; the main one first. ``arm`` is
    how far before the axle a turn is gripped, mm."""
    segment = run.segments[index]
    x, y, heading = end
    match segment:
        case Straight():
            return (PathGrip("end", (x, y), heading),)
        case Turn():
            c, s = cos(radians(heading)), sin(radians(heading))
            return (PathGrip("turn", (x + arm * c, y + arm * s), heading),)
        case Arc():
            travel = segment.travel(run.robot.drive.track)
            mx, my, mh = along_piece(begin, *travel, 0.5).tolist()
            return (PathGrip("bulge", (mx, my), mh + 90.0), PathGrip("end", (x, y), heading))
        case Square():
            return (PathGrip("wall", (x, y), heading),)
        case LineSquare() | Until():
            return (PathGrip("line", (x, y), heading),)
    return ()


def main_grip(run: Run, index: int, begin: Pose, end: Pose, arm: float) -> PathGrip | None:
    """What is dragged where a hand takes the segment anywhere."""
    return next(iter(grips_of(run, index, begin, end, arm)), None)


def bend(
    run: Run, index: int, kind: str, joints: Sequence[Pose], to: Point, arm: float, *, both: bool = False,
    free: bool = False, whole: float = 1.0,
) -> tuple[Run | Refused, str]:  # fmt: skip
    """The run with a grip of segment ``index`` dragged to a point, and what is said meanwhile.

    ``joints`` are the planned poses before the first segment and after each. ``both``: the turn before goes along, so
    that a straight ends where the hand is. ``free``: nothing snaps, tenths of a mm and of a degree are taken. ``whole``
    is what lengths snap to a multiple of, mm.
    """
    segment = run.segments[index]
    begin = joints[index]
    match segment:
        case Straight():
            return _straight(run, index, segment, joints, to, both, free, whole)
        case Turn():
            return _turn(run, index, segment, begin, to, arm, free)
        case Arc():
            return _arc(run, index, segment, begin, to, 4.0 if kind == "bulge" else 2.0, free, whole)
        case Square():
            return _square(run, index, segment, joints, to)
        case LineSquare() | Until():
            return _line(run, index, segment, begin, to)
        case Act() | Wait():
            return run, ""
    return run, ""


def _straight(
    run: Run, index: int, segment: Straight, joints: Sequence[Pose], to: Point, both: bool, free: bool, whole: float
) -> tuple[Run | Refused, str]:
    x, y, heading = joints[index]
    before = run.segments[index - 1] if index else None
    if both and isinstance(before, Turn) and before.about is None:
        way = hypot(to[0] - x, to[1] - y)
        if way < 1.0:
            return run, ""
        back = segment.distance < 0
        aim = degrees(atan2(to[1] - y, to[0] - x)) + (180.0 if back else 0.0)
        turned = _nearest_angle(aim - joints[index - 1][2], before.angle)
        turned = _angle(turned, free)
        way = _length(-way if back else way, free, whole)
        made = accepted(
            lambda: replace(
                run,
                segments=(
                    *run.segments[: index - 1],
                    replace(before, angle=turned),
                    replace(segment, distance=way),
                    *run.segments[index + 1 :],
                ),
            )
        )
        return made, tr("turn {angle:g} degrees, {way:g} mm", angle=turned, way=way)
    c, s = cos(radians(heading)), sin(radians(heading))
    way = _length((to[0] - x) * c + (to[1] - y) * s, free, whole)
    return _with(run, index, replace_or(segment, distance=way)), tr("{way:g} mm", way=way)


def _turn(
    run: Run, index: int, segment: Turn, begin: Pose, to: Point, arm: float, free: bool
) -> tuple[Run | Refused, str]:
    x, y, heading = begin
    c, s = cos(radians(heading)), sin(radians(heading))
    side = {"left wheel": 1.0, "right wheel": -1.0}.get(segment.about or "", 0.0) * run.robot.drive.track / 2
    pivot = x - s * side, y + c * side
    # Where the grip was before the turn, as seen from what stands still.
    grip = x + arm * c - pivot[0], y + arm * s - pivot[1]
    turned = degrees(atan2(to[1] - pivot[1], to[0] - pivot[0]) - atan2(grip[1], grip[0]))
    turned = _nearest_angle(turned, segment.angle)
    if free:
        angle, words = _angle(turned, True), ""
    else:
        there = snap_angle(heading + turned)
        angle, words = _nearest_angle(there.heading - heading, turned), there.words
        angle = tidy(angle) if words else _angle(turned, False)
    angle = angle or (1.0 if segment.angle > 0 else -1.0)
    told = tr("turn {angle:g} degrees", angle=angle)
    return _with(run, index, replace_or(segment, angle=angle)), f"{told} ({words})" if words else told


def _arc(
    run: Run, index: int, segment: Arc, begin: Pose, to: Point, share: float, free: bool, whole: float
) -> tuple[Run | Refused, str]:
    """The circle that leaves the begin along its tangent and passes the point is one: the chord to a point of it makes
    half the angle with the tangent that the way to there turns. The bulge is half-way, so the whole turns four times
    that angle, and the end twice (inscribed angle theorem)."""
    x, y, heading = begin
    back = segment.radius < 0
    chord = hypot(to[0] - x, to[1] - y)
    off = wrapped(degrees(atan2(to[1] - y, to[0] - x)) - heading - (180.0 if back else 0.0))
    if chord < 1.0 or abs(off) < STRAIGHTEST or abs(off) > 90.0:
        return run, ""
    angle = _angle(share * off, free) or (1.0 if off > 0 else -1.0)
    # With the angle rounded, the radius still passes through where the hand is, as far as it can.
    radius = _length(chord / (2 * abs(sin(radians(angle / share)))), free, whole)
    made = _with(run, index, replace_or(segment, angle=angle, radius=-radius if back else radius))
    return made, tr("{angle:g} degrees, radius {radius:g} mm", angle=angle, radius=radius)


def _square(run: Run, index: int, segment: Square, joints: Sequence[Pose], to: Point) -> tuple[Run | Refused, str]:
    """Pushed on the side that is nearest to the hand. A turn on the spot before it turns the face that way."""
    side = next(iter(sides_near(run.field, to, float("inf"))), None)
    if side is None:
        return run, ""
    x, y, heading = joints[index]
    segments = list(run.segments)
    before = run.segments[index - 1] if index else None
    face = side.into if segment.face == "front" else side.into + 180.0
    if abs(wrapped(face - heading)) > segment.capture and isinstance(before, Turn) and before.about is None:
        turned = _angle(_nearest_angle(face - joints[index - 1][2], before.angle), False)
        if turned:
            segments[index - 1] = replace(before, angle=turned)
    into = radians(side.into)
    far = abs((side.a[0] - x) * cos(into) + (side.a[1] - y) * sin(into))
    reach = max(segment.reach, float(ceil((far + BEYOND) / 10.0) * 10.0))
    made = accepted(
        lambda: replace(
            run,
            segments=(*segments[:index], replace(segment, against=side.of, reach=reach), *segments[index + 1 :]),
        )
    )
    return made, side.of


def _line(run: Run, index: int, segment: LineSquare | Until, begin: Pose, to: Point) -> tuple[Run | Refused, str]:
    """Looked for on the line that is nearest to the hand."""
    if not run.field.lines:
        return run, ""
    line = min(run.field.lines, key=lambda each: _away(each, to))
    far = _away(line, (begin[0], begin[1]))
    reach = max(abs(segment.reach), float(ceil((far + run.robot.body.length + BEYOND) / 10.0) * 10.0))
    made = _with(run, index, replace_or(segment, line=line.name, reach=reach if segment.reach > 0 else -reach))
    return made, line.name


def _away(line: Line, point: Point) -> float:
    (ax, ay), (bx, by) = line.start, line.end
    dx, dy = bx - ax, by - ay
    u = min(max(((point[0] - ax) * dx + (point[1] - ay) * dy) / max(dx * dx + dy * dy, 1e-9), 0.0), 1.0)
    return hypot(point[0] - ax - u * dx, point[1] - ay - u * dy)


def replace_or(segment: Segment, **values: float | str) -> Segment | Refused:
    return accepted(lambda: replace(segment, **values))  # type: ignore[arg-type]


def _with(run: Run, index: int, segment: Segment | Refused) -> Run | Refused:
    return segment if isinstance(segment, Refused) else accepted(lambda: with_part(run, index, segment))


def _nearest_angle(angle: float, to: float) -> float:
    """The same direction, by whole turns as near as can be to another angle."""
    return to + wrapped(angle - to)


def _angle(angle: float, free: bool) -> float:
    return round(angle, 1) + 0.0 if free else float(round(angle))


def _length(length: float, free: bool, whole: float) -> float:
    """A length that is none is the shortest there is, in its own direction."""
    made = round(length, 1) + 0.0 if free else round(length / whole) * whole
    return made or (-1.0 if length < 0 else 1.0)
