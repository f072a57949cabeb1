"""Where a segment stops: how stop errors grow with the speed, and what they are the same way every time.

Faster straights and turns stop less exactly: in proportion to the speed at which they were measured. That is an
assumption (common practice, no source).
"""

from __future__ import annotations

from math import copysign

from fieldsim.model import Arc, Robot, Segment, Straight, Turn, Until
from fieldsim.sim.motion import speed_of


def at_speed(error: float, segment: Segment, robot: Robot) -> float:
    """A stop error that the robot's file tells, at the speed of a segment."""
    drive, accuracy = robot.drive, robot.accuracy
    if isinstance(segment, Turn):
        return error * ((segment.turn_speed or drive.turn_speed) / (accuracy.turn_measured_at or drive.turn_speed))
    return error * speed_of(segment, drive) / accuracy.measured_at


def late(segment: Segment, robot: Robot) -> float:
    """How much too late a segment stops every time, with the sign of its way: degrees of a turn, mm of a straight, of
    an arc and of what stops at a line. Nothing else stops by itself."""
    bias = robot.accuracy.bias
    if isinstance(segment, Turn):
        return copysign(1.0, segment.angle) * at_speed(bias.turn_stop, segment, robot)
    if isinstance(segment, Straight | Arc | Until):
        way, _ = segment.travel(robot.drive.track)
        return copysign(1.0, way) * at_speed(bias.stop, segment, robot)
    return 0.0
