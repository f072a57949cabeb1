"""Changes to a run that a team could make, as numbers and segments to type: those of one kind by one function each.

Nothing here says what a change is worth: `fieldsim.studies.remedies` tries them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from math import cos, hypot, radians, sin
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr
from fieldsim.model import Act, Alignment, Arc, LineSquare, Run, Segment, Square, Straight, Turn
from fieldsim.model.errors import FieldsimError
from fieldsim.model.units import plain
from fieldsim.sim.alignment import pushed
from fieldsim.sim.endings import tool_point
from fieldsim.sim.feasible import unreached
from fieldsim.sim.motion import speed_of, wrapped
from fieldsim.sim.plan import typical_poses
from fieldsim.sim.reversing import lost, reversals
from fieldsim.sim.stops import late

Kind = Literal[
    "square", "line square", "passes", "reach", "half speed", "corrected numbers", "aimed numbers", "program", "pair"
]

# A wall or a line may be this far from where a square would be tried, mm, and the way to it this far from square,
# degrees.
SQUARE_REACH = 400.0
SQUARE_ANGLE = 12.0
# How much farther than planned the square may drive, mm.
SPARE = 60.0

# How finely a team writes a number: a tape shows no more than 1 mm, a turn shows 0.1 degrees at the end of a straight.
STEP_MM = 1.0
STEP_DEGREES = 0.1

# Numbers of the last moves before the trouble are tried this much larger and smaller: about what one turn of a careful
# robot is off. Common practice, no source.
NUDGE_MM = 5.0
NUDGE_DEGREES = 1.0
NUDGED = 4

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Change:
    """Numbers of segments that are changed, and segments that are put in; what it says is what is to be typed."""

    kind: Kind
    numbers: tuple[tuple[int, str, float], ...] = ()
    """Index of the segment, its attribute, the new value."""
    inserted: tuple[tuple[int, tuple[Segment, ...]], ...] = ()
    """Before the segment of that index."""

    def run(self, run: Run) -> Run:
        """The run with it."""
        segments = list(run.segments)
        for index, key, value in self.numbers:
            segments[index] = replace(segments[index], **{key: value})  # type: ignore[arg-type]
        put_in = dict(self.inserted)
        changed: list[Segment] = []
        for index in range(len(segments) + 1):
            changed += put_in.get(index, ())
            changed += segments[index : index + 1]
        return replace(run, segments=tuple(changed))

    def words(self, run: Run) -> str:
        """What is to be typed where; segments are numbered as they stand in the run as it is."""
        told = []
        for index in sorted({each[0] for each in self.numbers} | {each[0] for each in self.inserted}):
            put_in = dict(self.inserted).get(index)
            if put_in:
                texts = tr(" and then ").join(f"'{typed(each)}'" for each in put_in)
                told.append(
                    tr("after segment {number} {segments}", number=index, segments=texts)
                    if index
                    else tr("before segment 1 {segments}", segments=texts)
                )
            keys = {key: value for number, key, value in self.numbers if number == index}
            if keys:
                segment = run.segments[index]
                texts = ", ".join(
                    f"'{segment.key if key == segment.head else key}: {plain(value)}'" for key, value in keys.items()
                )
                told.append(tr("segment {number} {numbers}", number=index + 1, numbers=texts))
        return "; ".join(told)


def typed(segment: Segment) -> str:
    """A segment as it stands in a run's file, so with a point in numbers whatever the language."""
    told = []
    for each in fields(segment):
        value: Any = getattr(segment, each.name)
        if each.name == segment.head or value != each.default:
            if isinstance(value, float):
                value = plain(value)
            elif isinstance(value, tuple):
                value = f"[{', '.join(value)}]"
            told.append(f"{segment.key if each.name == segment.head else each.name}: {value}")
    return ", ".join(told)


def joined(one: Change, other: Change) -> Change | None:
    """Both together; None where they are about the same number or the same place."""
    numbers = [(index, key) for change in (one, other) for index, key, _ in change.numbers]
    places = [index for change in (one, other) for index, _ in change.inserted]
    if len(set(numbers)) < len(numbers) or len(set(places)) < len(places):
        return None
    return Change("pair", one.numbers + other.numbers, tuple(sorted([*one.inserted, *other.inserted], key=_place)))


def _place(item: tuple[int, tuple[Segment, ...]]) -> int:
    return item[0]


# --- squares on walls and lines ------------------------------------------------------------------------------------


def squares(run: Run, last: int) -> Iterator[Change]:
    """Squares on a wall after any of the first ``last - 1`` segments or the start, where one is square ahead or behind
    and near; then back to where the robot was, unless it aligns or stands there anyway."""
    if run.field.walls is None:
        return
    poses = typical_poses(run)
    for after in range(last):
        if after and not isinstance(run.segments[after - 1], Straight | Turn | Arc):
            continue
        yield from _squares_at(run, after, poses[after])


def _squares_at(run: Run, after: int, pose: Floats) -> Iterator[Change]:
    x, y, h = pose
    w, d = run.field.size
    ahead = {"right wall": 0.0, "far wall": 90.0, "left wall": 180.0, "near wall": -90.0}
    for wall, heading in ahead.items():
        for face, off in (("front", 0.0), ("rear", 180.0)):
            if abs(wrapped(h + off - heading)) > SQUARE_ANGLE:
                continue
            square = Square(face, wall, 1.0)  # type: ignore[arg-type]
            flat = pushed(run, square)
            if flat is None or flat.high - flat.low < 1.0:
                continue
            c, s = cos(radians(heading)), sin(radians(heading))
            edge = {"right wall": w - x, "far wall": d - y, "left wall": x, "near wall": y}[wall]
            way = edge - abs(flat.x) * abs(c * cos(radians(h)) + s * sin(radians(h)))
            if not 5.0 < way < SQUARE_REACH:
                continue
            back = Straight(_whole(way) * (-1 if face == "front" else 1))
            change = Change("square", inserted=((after, (replace(square, reach=_whole(way + SPARE)), back)),))
            if _caught(change.run(run)):
                yield change


def line_squares(run: Run, last: int) -> Iterator[Change]:
    """Squares on a line ahead of the robot after one of the first ``last - 1`` segments or the start: on its way, where
    the next straight crosses the line, else there and back."""
    sensors = sorted(run.robot.sensors, key=lambda sensor: sensor.at[1])
    if len(sensors) < 2 or sensors[-1].at[1] - sensors[0].at[1] < 10.0:
        return
    names = (sensors[-1].name, sensors[0].name)
    poses = typical_poses(run)
    for after in range(last):
        if after and not isinstance(run.segments[after - 1], Straight | Turn | Arc):
            continue
        x, y, h = poses[after]
        c, s = cos(radians(h)), sin(radians(h))
        for line in run.field.lines:
            dx, dy = line.end[0] - line.start[0], line.end[1] - line.start[1]
            across = (-dy * c + dx * s) / hypot(dx, dy)
            if abs(across) < cos(radians(30.0)):
                continue
            seen = LineSquare(line.name, names, SQUARE_REACH + SPARE)
            try:
                found = Change("line square", inserted=((after, (seen,)),)).run(run)
                if not _caught(found):
                    continue
                there = typical_poses(found)[after + 1]
            except FieldsimError:
                continue
            way = float((there[0] - x) * c + (there[1] - y) * s)
            if not 5.0 < way < SQUARE_REACH:
                continue
            seen = replace(seen, reach=_whole(way + SPARE))
            going_on = run.segments[after] if after < len(run.segments) else None
            if isinstance(going_on, Straight) and going_on.distance > way + 10.0:
                rest = _whole(going_on.distance - way)
                change = Change("line square", ((after, "distance", rest),), ((after, (seen,)),))
            else:
                change = Change("line square", inserted=((after, (seen, Straight(-_whole(way)))),))
            if _caught(change.run(run)):
                yield change


def _caught(run: Run) -> bool:
    return not list(unreached(run))


def passes(run: Run, last: int) -> Iterator[Change]:
    """A further pass of each line square."""
    for index, segment in enumerate(run.segments[:last]):
        if isinstance(segment, LineSquare) and segment.passes < 3:
            yield Change("passes", ((index, "passes", segment.passes + 1.0),))


def reaches(run: Run, last: int) -> Iterator[Change]:
    """More reach for each square and line."""
    for index, segment in enumerate(run.segments[:last]):
        if isinstance(segment, Alignment):
            more = SPARE if segment.reach > 0 else -SPARE
            yield Change("reach", ((index, "reach", _whole(segment.reach + more)),))


# --- speeds --------------------------------------------------------------------------------------------------------


def slower(run: Run, last: int) -> Iterator[Change]:
    """Each segment that drives at half its speed; all straights, and all turns."""
    turns, ways = [], []
    for index, segment in enumerate(run.segments[:last]):
        if isinstance(segment, Turn):
            speed = (segment.turn_speed or run.robot.drive.turn_speed) / 2
            turns.append((index, "turn_speed", float(plain(speed))))
        elif isinstance(segment, Straight | Arc | Alignment):
            ways.append((index, "speed", float(plain(speed_of(segment, run.robot.drive) / 2))))
    for each in sorted([*turns, *ways]):
        yield Change("half speed", (each,))
    for many in (turns, ways):
        if len(many) > 1:
            yield Change("half speed", tuple(many))


# --- numbers -------------------------------------------------------------------------------------------------------


def corrected(run: Run) -> Iterator[Change]:
    """The numbers with the robot's known bias divided out, as if the run as written were what the robot should do.

    Travel s and turn t of a segment come out as s (1 + distance) and t (1 + turn) + veer s, each stop offset too late.
    So a straight is asked for (s - offset)/(1 + distance), and each turn for what brings the heading to the one that
    was wanted, with what the straights since the last turn have bent, and the kick of a reversal; a straight that
    reverses is asked for its backlash more. By gyro a turn comes out as t/(1 + scale); its
    offset is steered away by what comes next.
    """
    bias, drive = run.robot.accuracy.bias, run.robot.drive
    gyro = drive.heading_from == "gyro"
    turning = (bias.gyro_scale,) if gyro else (bias.left, bias.right, bias.turn_stop, bias.veer)
    back = tuple(reversals(run.segments, drive.track))
    reversing = (bias.backlash, 0.0 if gyro else bias.kick) if any(back) else ()
    if not any((bias.distance, bias.stop, *turning, *reversing)):
        return
    veer = 0.0 if gyro else bias.veer / 1000.0
    lengths: list[tuple[int, str, float]] = []
    angles: list[tuple[int, str, float]] = []
    off = 0.0
    for index, segment in enumerate(run.segments):
        if isinstance(segment, Straight):
            play = lost(segment, run.robot) if back[index] else 0.0
            right = (segment.distance - late(segment, run.robot) + play) / (1 + bias.distance)
            if right * segment.distance <= 0:
                right = segment.distance
            lengths.append((index, "distance", _whole(right)))
            off += veer * right + (bias.kick if back[index] and not gyro else 0.0)
        elif isinstance(segment, Turn | Arc):
            s, t = segment.travel(drive.track)
            along = veer * s if isinstance(segment, Arc) else 0.0
            if back[index] and not gyro:
                along += bias.kick - lost(segment, run.robot) * t / s
            turn = -bias.gyro_scale / (1 + bias.gyro_scale) if gyro else bias.of_turn(segment.angle)
            if not gyro:
                along += late(segment, run.robot) * (t / s if isinstance(segment, Arc) else 1.0)
            right = (segment.angle - off - along) / (1 + turn)
            if right * segment.angle <= 0 or abs(right - segment.angle) > 15.0:
                right = segment.angle
            angle = _tenth(right)
            angles.append((index, "angle", angle))
            off += angle * (1 + turn) + along - segment.angle
        elif isinstance(segment, Square | LineSquare):
            off = 0.0
    yield from _told_change(run, [*lengths, *angles])
    if lengths and angles:
        yield from _told_change(run, lengths)
        yield from _told_change(run, angles)


def _told_change(
    run: Run, numbers: Sequence[tuple[int, str, float]], kind: Kind = "corrected numbers"
) -> Iterator[Change]:
    different = tuple(
        sorted(each for each in numbers if each[2] and getattr(run.segments[each[0]], each[1]) != each[2])
    )
    if different:
        yield Change(kind, different)


def aimed(run: Run, act: int, off: tuple[float, float]) -> Iterator[Change]:
    """Numbers with a middle miss taken out: ``off`` (mm, field frame) is by how much the tool point is off at the act
    of index ``act``. The last straight and the last turn before it are solved for (a straight moves the tool point the
    way it goes, a turn about where the robot stands); and the same with the next turn after it giving back what that
    one took."""
    poses = typical_poses(run)
    x, y, h = poses[act]
    tx, ty = tool_point(run.robot, run.wear)
    c, s = cos(radians(h)), sin(radians(h))
    tool = x + c * tx - s * ty, y + s * tx + c * ty
    straight = turn = None
    for index in range(act - 1, -1, -1):
        segment = run.segments[index]
        if isinstance(segment, Straight) and straight is None:
            straight = index
        elif isinstance(segment, Turn | Arc) and turn is None and hypot(*(tool - poses[index + 1][:2])) > 50.0:
            turn = index
    columns, what = [], []
    if straight is not None:
        way = radians(poses[straight][2])
        columns.append((cos(way), sin(way)))
        what.append((straight, "distance"))
    if turn is not None:
        px, py, _ = poses[turn + 1]
        columns.append((-radians(tool[1] - py), radians(tool[0] - px)))
        what.append((turn, "angle"))
    for some in ([0, 1], [0], [1]):
        if max(some) >= len(columns):
            continue
        moved = np.linalg.lstsq(np.array([columns[k] for k in some]).T, -np.array(off), rcond=None)[0]
        numbers = []
        for k, more in zip(some, moved, strict=True):
            index, key = what[k]
            value = getattr(run.segments[index], key) + float(more)
            if abs(more) > (15.0 if key == "angle" else 100.0):
                break
            numbers.append((index, key, _tenth(value) if key == "angle" else _whole(value)))
        else:
            yield from _told_change(run, numbers, "aimed numbers")
            after = next((i for i in range(act, len(run.segments)) if isinstance(run.segments[i], Turn)), None)
            if 1 in some and turn is not None and after is not None:
                taken = next(value for index, _, value in numbers if index == turn) - _angle(run, turn)
                given = _angle(run, after) - taken
                yield from _told_change(run, [*numbers, (after, "angle", _tenth(given))], "aimed numbers")


def nudged(run: Run, last: int) -> Iterator[Change]:
    """Numbers of the last moves before the trouble a little larger and smaller, alone; and each turn with the next one
    giving back what it took, which moves the way between them aside."""
    moves = [i for i, each in enumerate(run.segments[:last]) if isinstance(each, Straight | Turn | Arc)]
    for index in moves[-NUDGED:]:
        segment = run.segments[index]
        key, step = ("distance", NUDGE_MM) if isinstance(segment, Straight) else ("angle", NUDGE_DEGREES)
        for side in (-step, step):
            yield from _told_change(run, [(index, key, getattr(segment, key) + side)], "aimed numbers")
    turns = [i for i in moves if not isinstance(run.segments[i], Straight)]
    for one, other in list(pairwise(turns))[-2:]:
        for side in (-NUDGE_DEGREES, NUDGE_DEGREES):
            both = [(one, "angle", _angle(run, one) + side), (other, "angle", _angle(run, other) - side)]
            yield from _told_change(run, both, "aimed numbers")


def _angle(run: Run, index: int) -> float:
    segment = run.segments[index]
    assert isinstance(segment, Turn | Arc)
    return segment.angle


def acts_of(run: Run) -> list[int]:
    """Indices of the acts."""
    return [index for index, segment in enumerate(run.segments) if isinstance(segment, Act)]


# --- the robot's own program ---------------------------------------------------------------------------------------


def program_values(run: Run) -> tuple[float, float] | None:
    """Wheel diameter and track, mm, that would make the robot's own program right; None where it is right.

    A program turns mm into wheel turns by its wheel diameter, and angles by track over wheel. A robot that drives a
    share D too far has wheels that are larger by D; one that turns T too far has wheels over track larger by T.
    """
    bias, drive = run.robot.accuracy.bias, run.robot.drive
    turn = 0.0 if drive.heading_from == "gyro" else bias.middle
    if not (bias.distance or turn):
        return None
    wheel = drive.wheel * (1 + bias.distance)
    return wheel, drive.track * (1 + bias.distance) / (1 + turn)


def with_right_program(run: Run) -> Run:
    """The run with a program that knows those values, so that only the veer is left of the bias, what left and right
    turns differ by, and what is no share of the way."""
    accuracy = run.robot.accuracy
    bias = replace(accuracy.bias, distance=0.0)
    if not _by_gyro(run):
        whole = 1 + bias.middle
        sides = [None if side is None else (1 + side) / whole - 1 for side in (bias.turn_left, bias.turn_right)]
        bias = replace(bias, turn=(1 + bias.turn) / whole - 1, turn_left=sides[0], turn_right=sides[1])
    return replace(run, robot=replace(run.robot, accuracy=replace(accuracy, bias=bias)))


def _by_gyro(run: Run) -> bool:
    return run.robot.drive.heading_from == "gyro"


def _whole(value: float) -> float:
    return float(round(value / STEP_MM)) * STEP_MM


def _tenth(value: float) -> float:
    return round(value / STEP_DEGREES) / round(1 / STEP_DEGREES)
