"""A run as the robot's own program needs it: each segment as a step, in degrees of wheels and motors.

Millimetres, degrees and seconds. Steps are the run's segments, counted from 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, pi, radians
from typing import Annotated

import numpy as np

from fieldsim.model import (
    Alignment,
    Arc,
    Drive,
    Segment,
    Straight,
    Turn,
)
from fieldsim.sim.kernel.course import APPROACH, CAUGHT
from fieldsim.sim.kernel.path import S
from fieldsim.sim.motion import speed_of, travel_and_turn
from fieldsim.sim.plan import Plan


@dataclass(frozen=True)
class WheelTurns:
    """Degrees of the two wheels or motors, backwards negative."""

    left: float
    right: float


@dataclass(frozen=True)
class Step:
    """A segment as a step at the table."""

    number: int
    kind: str
    """The segment's word in a file, such as 'line square'."""
    words: str
    """Such as 'straight 420 mm'."""
    distance: Annotated[float | None, "mm"]
    """mm of a straight, or of a reach; backwards negative."""
    angle: Annotated[float | None, "degrees"]
    """Degrees of a turn or arc; left positive."""
    radius: Annotated[float | None, "mm"]
    about: str | None
    """The wheel that stands still."""
    may_touch: tuple[str, ...]
    wheels: Annotated[WheelTurns | None, "degrees"]
    """As commanded: without slip and with the program's own wheel and track. None if it does not drive."""
    motors: Annotated[WheelTurns | None, "degrees"]
    """The same through the gear."""
    at_most: Annotated[bool, "until it touches or sees something"]
    """It drives until it touches or sees something: what is told is how far it may go at most."""
    planned_way: Annotated[float | None, "mm"]
    """mm until it touches or sees that when everything goes as programmed; None if it does not then, or for others."""
    speed: Annotated[float | None, "mm/s"]
    """mm/s of the middle of the axle, within what the motors can do; None for turns and where it stands."""
    turn_speed: Annotated[float | None, "degrees/s"]
    """Degrees per second of the robot, for turns."""
    motor_speed: Annotated[float | None, "degrees/s"]
    """Degrees per second of the faster motor."""
    seconds: float
    """Planned."""
    clock: Annotated[float, "s"]
    """Planned seconds from the start until it is done."""


# --- the steps -------------------------------------------------------------------------------------------------


def wheel_turns(segment: Segment, drive: Drive) -> WheelTurns | None:
    """How far the wheels turn for a segment as commanded, degrees; of an alignment, at most. None if it stands.

    A wheel without slip turns 360 a / (pi d) degrees on a way of a mm. With the middle of the axle driving s mm while
    the robot turns by t (radians), the ways are s - t b/2 on the left and s + t b/2 on the right (b the track; Siegwart
    & Nourbakhsh, Introduction to Autonomous Mobile Robots, 2004, sec. 5.2.4). So a turn of A degrees on the spot is
    A b / d degrees of each wheel, about a wheel 2 A b / d of the other one, an arc of radius r 2 A (r -+ b/2) / d.
    """
    s, t = travel_and_turn(segment, drive.track)
    if s == 0.0 and t == 0.0:
        return None
    half = radians(t) * drive.track / 2
    per_mm = 360.0 / (pi * drive.wheel)
    # Adding nought makes a minus nought a plain one.
    return WheelTurns((s - half) * per_mm + 0.0, (s + half) * per_mm + 0.0)


def steps(ready: Plan) -> tuple[Step, ...]:
    """Every segment as a step."""
    drive = ready.run.robot.drive
    found = []
    clock = 0.0
    for index, (segment, seconds) in enumerate(zip(ready.run.segments, ready.seconds, strict=True)):
        clock += seconds
        s, t = travel_and_turn(segment, drive.track)
        wheels = wheel_turns(segment, drive)
        aligns = isinstance(segment, Alignment)
        speed = turn_speed = motor_speed = None
        if wheels is not None:
            rolls = speed_of(segment, drive)
            if isinstance(segment, Turn):
                turn_speed = degrees(rolls / (drive.track if segment.about else drive.track / 2))
            else:
                speed = rolls
            if isinstance(segment, Arc):
                rolls *= 1 + drive.track / (2 * abs(segment.radius))
            motor_speed = rolls * 360.0 / (pi * drive.wheel) / drive.gear
        found.append(
            Step(
                number=index + 1,
                kind=segment.key,
                words=segment.in_words(),
                distance=s if isinstance(segment, Straight) or aligns else None,
                angle=t if isinstance(segment, Turn | Arc) else None,
                radius=segment.radius if isinstance(segment, Arc) else None,
                about=segment.about if isinstance(segment, Turn) else None,
                may_touch=tuple(getattr(segment, "may_touch", ())),
                wheels=wheels,
                motors=WheelTurns(wheels.left / drive.gear, wheels.right / drive.gear) if wheels else None,
                at_most=aligns,
                planned_way=_planned_way(ready, index),
                speed=speed,
                turn_speed=turn_speed,
                motor_speed=motor_speed,
                seconds=seconds,
                clock=clock,
            )
        )
    return tuple(found)


def _planned_way(ready: Plan, index: int) -> float | None:
    """How far an alignment drives until it touches or sees, as programmed."""
    alignments = ready.course.alignments
    m = int(alignments.of[index])
    if m < 0 or ready.endings[m][0] != CAUGHT:
        return None
    first = int(ready.course.wheels.piece[index])
    return float(np.abs(ready.path[first : first + int(alignments.what[m, APPROACH]), S]).sum())
