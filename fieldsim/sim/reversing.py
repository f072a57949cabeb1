"""What a reversal does: play in the gears, and a caster that swings round.

A straight, an arc or the way up to a wall or line *reverses* where the robot last drove the other way and has only
stood since. Then the wheels stand still until the motors have taken up the play: it ends shorter by the ``backlash``,
spread evenly over its way, and never by more than its way. And the caster swings round and turns the robot by the
``kick``, left positive, whichever way it goes, while it drives the first piece (at most 100 mm: a caster of 20 to 30
mm trail has swung round after about three times that; common practice, no source). Both are the same at any speed.

After a turn nothing reverses: a turn on the spot leaves one wheel turned ahead and the other back, so the straight
after it loses half the play either way round; that is in what tests of turns and straights tell. What is driven up to
a wall or a line is stopped by that and loses nothing, but is kicked. By gyro the kick is steered away after the first
piece.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import copysign

from fieldsim.model import Arc, LineSquare, Robot, Segment, Stand, Straight, Turn


def reversals(segments: Sequence[Segment], track: float) -> Iterator[bool]:
    """For each segment whether it drives the other way than the robot did before it stood, with wheels ``track`` mm
    apart."""
    before = 0.0
    for segment in segments:
        way = _way(segment, track)
        yield way * before < 0
        if not isinstance(segment, Stand):
            # Each further pass of a line square goes the other way.
            turns = segment.legs - 1 if isinstance(segment, LineSquare) else 0
            before = way * (-1.0) ** turns


def _way(segment: Segment, track: float) -> float:
    """1 ahead, -1 backwards, 0 where the wheels do not both turn that way."""
    if isinstance(segment, Stand | Turn) or (isinstance(segment, Arc) and abs(segment.radius) < track / 2):
        return 0.0
    return copysign(1.0, segment.travel(track)[0])


def lost(segment: Segment, robot: Robot) -> float:
    """How much less far a straight or an arc goes where it reverses, mm, with the sign of its way; all else nothing."""
    if not isinstance(segment, Straight | Arc):
        return 0.0
    way, _ = segment.travel(robot.drive.track)
    return copysign(1.0, way) * min(robot.accuracy.bias.backlash, abs(way))
