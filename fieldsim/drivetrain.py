"""What the wheels do with what the program commands: the run as wheel travel, and its noise as linear terms.

The file gives the drivetrain's errors in the words of the tests a team can do. With wheel scales e_L, e_R and a track
scale e_b (actual over nominal):

    distance = (e_L + e_R)/2 - 1          a straight is longer by this share
    veer     = (e_R - e_L)/(e_b b)        heading change per mm of a straight
    turn     = ((e_L + e_R)/2)/e_b - 1    a turn on the spot is larger by this share

Layers: *bias* (the same every time) and *day* (one draw a trial) change the scales; *path* and *stop* noise add to the
pieces. Path noise is a random walk: each millimetre driven adds its own independent bit of distance and heading.

**Pieces.** A random walk in heading is not a constant curve, so a straight is cut into pieces, in pairs. The two turns
of a pair are drawn with correlation -1/7, which gives the pair's end exactly the joint distribution of heading and
sideways offset of the continuous walk (their variances k^2 L and k^2 L^3/3, covariance k^2 L^2/2), whatever its length.
So piece length decides only how closely the path bends in between: with ``PAIR`` mm and 0.4 degrees per root metre a
continuous walk strays from the pair by about 0.05 mm (standard deviation).

Turns need no cutting for the noise: on the spot it moves nothing sideways.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, radians, sqrt

import numpy as np

from fieldsim.kernel.course import Wheels
from fieldsim.model import Act, Run, Segment, StartByEye, Turn, Wait
from fieldsim.motion import held_point, jig_of, speed_of, start_pose, travel_and_turn

# Longest pair of pieces of a straight or arc, mm, and the largest turn of a piece, degrees.
PAIR = 200.0
TURN_PIECE = 100.0
ARC_PIECE = 45.0

# (p z1 + q z2, q z1 + p z2) has variance 7/3 and covariance -1/3: times k sqrt(L)/2, the turns of a pair's halves.
_P = (sqrt(2.0) + sqrt(8.0 / 3.0)) / 2
_Q = (sqrt(2.0) - sqrt(8.0 / 3.0)) / 2

# Sources of noise. A draw belongs to (seed, trial, segment number, source), so the numbers must never change.
START, DAY, DISTANCE, VEER, STOP, SLIP, TIME = range(7)


@dataclass(frozen=True)
class Stream:
    """Drawn numbers of one source on one segment (from 1; 0 is the whole run): ``rows`` of them for each trial."""

    segment: int
    source: int
    rows: int


@dataclass(frozen=True)
class Drivetrain:
    wheels: Wheels
    streams: tuple[Stream, ...]
    """In order of rows: rows 0-2 place the robot, 3-5 are the day's."""
    act_row: tuple[int, ...]
    """For each segment the row of its act's time, -1 if it has none."""

    @property
    def rows(self) -> int:
        return sum(stream.rows for stream in self.streams)


def pieces_of(segment: Segment, track: float) -> int:
    """Into how many pieces a segment is cut: even for straights and arcs, 0 where nothing drives."""
    if isinstance(segment, Act | Wait):
        return 0
    s, t = travel_and_turn(segment, track)
    if isinstance(segment, Turn):
        return max(1, ceil(abs(t) / TURN_PIECE))
    return 2 * max(1, ceil(abs(s) / PAIR), ceil(abs(t) / (2 * ARC_PIECE)))


def drivetrain(run: Run) -> Drivetrain:
    """A run as wheel travel and noise terms: pure, the noise itself comes in as drawn numbers."""
    robot = run.robot
    drive, accuracy = robot.drive, robot.accuracy
    track = drive.track
    streams = [Stream(0, START, 3), Stream(0, DAY, 3)]
    rows = 6
    left: list[float] = []
    right: list[float] = []
    first = [0]
    terms: list[list[tuple[int, float, float]]] = []
    act_row = []

    def drawn(segment: int, source: int, count: int) -> int:
        nonlocal rows
        streams.append(Stream(segment, source, count))
        rows += count
        return rows - count

    for number, segment in enumerate(run.segments, start=1):
        act_row.append(-1)
        if isinstance(segment, Act) and segment.takes_sd > 0:
            act_row[-1] = drawn(number, TIME, 1)
        n = pieces_of(segment, track)
        s, t = travel_and_turn(segment, track)
        t = radians(t)
        mine: list[list[tuple[int, float, float]]] = [[] for _ in range(n)]
        if isinstance(segment, Turn):
            # An error of a turn is more or less of the commanded motion: about the same centre.
            ratio = s / t
            slip = radians(accuracy.turn.slip) * sqrt(abs(segment.angle) / 90.0)
            faster = (segment.turn_speed or drive.turn_speed) / (accuracy.turn_measured_at or drive.turn_speed)
            stop = radians(accuracy.turn.stop) * faster
            for source, sd in ((SLIP, slip), (STOP, stop)):
                if sd > 0:
                    row = drawn(number, source, 1)
                    for piece in mine:
                        piece.append((row, ratio * sd / n, sd / n))
        elif n:
            # Along an arc more travel is more turn.
            bend = t / s
            length = abs(s) / n
            walk = accuracy.straight.distance * sqrt(length / 1000.0)
            if walk > 0:
                row = drawn(number, DISTANCE, n)
                for index, piece in enumerate(mine):
                    piece.append((row + index, walk, walk * bend))
            veer = radians(accuracy.straight.veer) * sqrt(2 * length / 1000.0) / 2
            if veer > 0:
                row = drawn(number, VEER, n)
                for index in range(0, n, 2):
                    mine[index] += [(row + index, 0.0, _P * veer), (row + index + 1, 0.0, _Q * veer)]
                    mine[index + 1] += [(row + index, 0.0, _Q * veer), (row + index + 1, 0.0, _P * veer)]
            stop = accuracy.straight.stop * speed_of(segment, drive) / accuracy.measured_at
            if stop > 0:
                row = drawn(number, STOP, 1)
                mine[-1].append((row, stop, stop * bend))
        for piece in mine:
            left.append((s - t * track / 2) / n)
            right.append((s + t * track / 2) / n)
            terms.append(piece)
        first.append(len(left))

    flat = [term for piece in terms for term in piece]
    x, y, h = start_pose(run)
    spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
    wheels = Wheels(
        left=np.array(left, dtype=float),
        right=np.array(right, dtype=float),
        piece=np.array(first, dtype=np.int64),
        track=track,
        bias=_scales(accuracy.bias.distance, accuracy.bias.veer, accuracy.bias.turn),
        day=_scales(accuracy.day.distance, accuracy.day.veer, accuracy.day.turn),
        term=np.cumsum([0, *(len(piece) for piece in terms)], dtype=np.int64),
        row=np.array([row for row, _, _ in flat], dtype=np.int64),
        along=np.array([along for _, along, _ in flat], dtype=float),
        turn=np.array([turn for _, _, turn in flat], dtype=float),
        start=np.array([x, y, radians(h)]),
        held=np.array(held_point(run), dtype=float),
        spread=np.array([spread.along, spread.across, radians(spread.heading)]),
    )
    return Drivetrain(wheels, tuple(streams), tuple(act_row))


def perfect(wheels: Wheels) -> Wheels:
    """The same commands on a robot whose wheels are exactly as the program believes: the planned run."""
    return wheels._replace(bias=np.zeros(3), day=np.zeros(3))


def _scales(distance: float, veer: float, turn: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([distance, radians(veer) / 1000.0, turn])
