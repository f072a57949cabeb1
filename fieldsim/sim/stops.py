"""Where a segment stops: how stop errors grow with the speed, and what they are the same way every time.

Faster straights and turns stop less exactly: with a power of the speed, seen from that at which they were measured. The
power is the robot's ``grows``, which tests at two speeds tell; in proportion where it is left out, which is an
assumption (common practice, no source). What is the same every time grows in proportion.
"""

from __future__ import annotations

from math import copysign

from fieldsim.model import Arc, Robot, Segment, Straight, Turn, Until
from fieldsim.sim.motion import speed_of

# Speeds count as two where one is so many times the other: what tells, or shows, a power. Common practice, no source.
FASTER = 1.25


def at_speed(error: float, segment: Segment, robot: Robot) -> float:
    """The standard deviation of a stop that the robot's file tells, at the speed of a segment."""
    noise = robot.accuracy.turn if isinstance(segment, Turn) else robot.accuracy.straight
    return known_at_speed(error, segment, robot, noise.grows)


def known_at_speed(error: float, segment: Segment, robot: Robot, grows: float | None = None) -> float:
    """What a stop errs by the same way every time, at the speed of a segment; ``grows`` is the power, None is 1."""
    drive, accuracy = robot.drive, robot.accuracy
    if isinstance(segment, Turn):
        faster = (segment.turn_speed or drive.turn_speed) / (accuracy.turn_measured_at or drive.turn_speed)
        return error * (faster if grows is None else faster**grows)
    speed = speed_of(segment, drive)
    if grows is None:
        return error * speed / accuracy.measured_at
    return error * float((speed / accuracy.measured_at) ** grows)


def late(segment: Segment, robot: Robot) -> float:
    """How much too late a segment stops every time, with the sign of its way: degrees of a turn, mm of a straight, of
    an arc and of what stops at a line. Nothing else stops by itself."""
    bias = robot.accuracy.bias
    if isinstance(segment, Turn):
        return copysign(1.0, segment.angle) * known_at_speed(bias.turn_stop, segment, robot)
    if isinstance(segment, Straight | Arc | Until):
        way, _ = segment.travel(robot.drive.track)
        return copysign(1.0, way) * known_at_speed(bias.stop, segment, robot)
    return 0.0
