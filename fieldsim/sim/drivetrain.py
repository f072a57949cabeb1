"""What the wheels do with what the program commands: the run as wheel travel, and its noise as linear terms.

The file gives the drivetrain's errors in the words of the tests a team can do. With wheel scales e_L, e_R and a track
scale e_b (actual over nominal):

    distance = (e_L + e_R)/2 - 1          a straight is longer by this share
    veer     = (e_R - e_L)/(e_b b)        heading change per mm of a straight
    turn     = ((e_L + e_R)/2)/e_b - 1    a turn on the spot is larger by this share

Layers: *bias* (the same every time) and *day* (one draw a trial) change the scales; *path* and *stop* noise add to the
pieces. Path noise is a random walk: each millimetre driven adds its own independent bit of distance and heading.

Two biases are no scales and are added to the pieces as they are: a *stop offset* (a straight or arc ends so many mm, a
turn so many degrees too late, whichever way it goes; an ``until`` so many mm beyond where it saw the line), and what
left and right turns differ by from their mean (the mean stands in the track). Arcs share in both, the stop's of a
straight and the turn's of their side: their turn is made by the same wheels. Of pivots they are more or less of the
motion about the same wheel. What is driven up to a wall or line is stopped by that, and has no stop offset. What a
reversal does (backlash, kick) is added likewise: see ``fieldsim.sim.reversing``.

**Pieces.** A random walk in heading is not a constant curve, so a straight is cut into pieces, in pairs. The two turns
of a pair are drawn with correlation -1/7, which gives the pair's end exactly the joint distribution of heading and
sideways offset of the continuous walk (their variances k^2 L and k^2 L^3/3, covariance k^2 L^2/2), whatever its length.
So piece length decides only how closely the path bends in between: with ``PAIR`` mm and 0.4 degrees per root metre a
continuous walk strays from the pair by about 0.05 mm (standard deviation).

Turns need no cutting for the noise: on the spot it moves nothing sideways.

**By gyro** the heading is steered to what the gyro takes for the commanded one. Since it was last set anew (at the
start, by a square) at heading h0, A has been asked for and T seconds have gone, the robot turns and drives at
h0 + (A - drift T)/(1 + scale) + error, with the error of the stop after a turn and that of ``hold``, one draw a
segment, on straights and arcs; ``scale`` is the bias of the gyro and what is drawn. So errors of turns do not add up,
drift and scale do. What a turn left over is steered away in the first ``SETTLE`` mm of the next straight.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import ceil, radians, sqrt
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from fieldsim.model import (
    Act,
    Alignment,
    Arc,
    LineSquare,
    Run,
    Segment,
    Square,
    Stand,
    StartByEye,
    Straight,
    Turn,
    Until,
    Wait,
)
from fieldsim.sim.alignment import line_of, line_outline, pushed, sensors_of, target_outline
from fieldsim.sim.kernel.course import LINE_SQUARE, SQUARE, UNTIL, Alignments, Wheels
from fieldsim.sim.kernel.shapes import Floats, shapes
from fieldsim.sim.motion import held_point, jig_of, speed_of, start_pose, travel_and_turn
from fieldsim.sim.reversing import lost, reversals
from fieldsim.sim.stops import at_speed, known_at_speed, late
from fieldsim.sim.table import Table, table_of

# Longest pair of pieces of a straight or arc, mm, and the largest turn of a piece, degrees.
PAIR = 200.0
TURN_PIECE = 100.0
ARC_PIECE = 45.0

# Pieces of a swing whose corner slides: each is one rotation, off by the axle's distance from the face times the cube
# of its angle over 12, along the wall. Of 110 mm and 20 degrees that is 0.03 mm in all.
SLIDE = 4

# How far a robot that steers by gyro drives until it is on its heading, mm. Common practice, no source.
SETTLE = 50.0

# (p z1 + q z2, q z1 + p z2) has variance 7/3 and covariance -1/3: times k sqrt(L)/2, the turns of a pair's halves.
_P = (sqrt(2.0) + sqrt(8.0 / 3.0)) / 2
_Q = (sqrt(2.0) - sqrt(8.0 / 3.0)) / 2

# Sources of noise. A draw belongs to (seed, trial, segment number, source), so the numbers must never change;
# those of the table follow in ``fieldsim.sim.table``.
START, DAY, DISTANCE, VEER, STOP, SLIP, TIME, GYRO, HOLD, RESIDUAL, SIGHT = range(11)


@dataclass(frozen=True)
class Stream:
    """Drawn numbers of one source on one segment (from 1; 0 is the whole run): ``rows`` of them for each trial."""

    segment: int
    source: int
    rows: int


@dataclass(frozen=True)
class Drivetrain:
    wheels: Wheels
    alignments: Alignments
    streams: tuple[Stream, ...]
    """In order of rows: rows 0-2 place the robot, 3-5 are the day's, 6-7 the gyro's if it steers by one."""
    act_row: tuple[int, ...]
    """For each segment the row of its act's time, -1 if it has none."""
    table: Table
    """What stands elsewhere in each trial."""

    @property
    def rows(self) -> int:
        return sum(stream.rows for stream in self.streams)


def lengths_of(segment: Segment, track: float, gyro: bool = False) -> list[float]:
    """Into which shares a segment's way is cut: in pairs for straights and arcs, nothing where nothing drives."""
    if isinstance(segment, Stand):
        return []
    s, t = travel_and_turn(segment, track)
    if isinstance(segment, Turn):
        n = max(1, ceil(abs(t) / TURN_PIECE))
        return [1 / n] * n
    if gyro:
        settle = min(SETTLE / abs(s), 0.5)
        n = max(1, ceil((1 - settle) * 2 * abs(s) / PAIR), ceil((1 - settle) * abs(t) / ARC_PIECE))
        return [settle, *[(1 - settle) / n] * n]
    n = 2 * max(1, ceil(abs(s) / PAIR), ceil(abs(t) / (2 * ARC_PIECE)))
    return [1 / n] * n


class _Term(NamedTuple):
    row: int
    along: float
    turn: float


class _Builder:
    """Collects pieces, their noise terms and the rows of drawn numbers, segment by segment."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.drive = run.robot.drive
        self.accuracy = run.robot.accuracy
        self.gyro = self.drive.heading_from == "gyro"
        self.streams: list[Stream] = []
        self.rows = 0
        self.left: list[float] = []
        self.right: list[float] = []
        self.ahead: list[float] = []
        self.always: list[tuple[float, float]] = []
        self.over: list[float] = []
        self.terms: list[list[_Term]] = []
        self.first = [0]
        self.act_row: list[int] = []
        self.of: list[int] = []
        self.what: list[list[int]] = []
        self.how: list[list[float]] = []
        self.hulls: list[Floats] = []
        self.edges: list[Floats] = []
        self.reverses = tuple(reversals(run.segments, self.drive.track))
        self.drawn(0, START, 3)
        self.drawn(0, DAY, 3)
        if self.gyro:
            self.drawn(0, GYRO, 2)
        for number, segment in enumerate(run.segments, start=1):
            self.act_row.append(-1)
            self.of.append(-1)
            self.over.append(0.0)
            NOISE[type(segment)](self, number, segment)
            self.first.append(len(self.left))
        self.table = table_of(run, self.drawn)

    def drawn(self, segment: int, source: int, count: int) -> int:
        """The first of ``count`` rows of drawn numbers."""
        self.streams.append(Stream(segment, source, count))
        self.rows += count
        return self.rows - count

    def piece(
        self, s: float, t: float, terms: list[_Term], ahead: float = 0.0, always: tuple[float, float] = (0.0, 0.0)
    ) -> None:
        """A piece of commanded travel, mm, and turn, radians, with what is added to them every time."""
        self.left.append(s - t * self.drive.track / 2)
        self.right.append(s + t * self.drive.track / 2)
        self.ahead.append(ahead)
        self.always.append(always)
        self.terms.append(terms)

    def act(self, number: int, segment: Act) -> None:
        """The row of an act's time."""
        if segment.takes_sd > 0:
            self.act_row[-1] = self.drawn(number, TIME, 1)

    def turn(self, number: int, segment: Turn) -> None:
        # An error of a turn is more or less of the commanded motion: about the same centre.
        s, t = travel_and_turn(segment, self.drive.track)
        t = radians(t)
        noise = self.accuracy.turn
        slip = 0.0 if self.gyro else radians(noise.slip) * sqrt(abs(segment.angle) / 90.0)
        stop = at_speed(radians(noise.stop), segment, self.run.robot)
        shares = lengths_of(segment, self.drive.track)
        terms: list[_Term] = []
        for source, sd in ((SLIP, slip), (STOP, stop)):
            if sd > 0:
                share = sd if self.gyro else sd / len(shares)
                terms.append(_Term(self.drawn(number, source, 1), s / t * share, share))
        more = radians(late(segment, self.run.robot))
        each = more if self.gyro else (more + self.beside(segment.angle) * t) / len(shares)
        for share in shares:
            self.piece(s * share, t * share, terms, always=(s / t * each, each))

    def beside(self, angle: float) -> float:
        """By which share a turn or arc this way round goes farther than the mean of both ways; the gyro sees to it."""
        bias = self.accuracy.bias
        return 0.0 if self.gyro else bias.of_turn(angle) - bias.middle

    def travel(self, number: int, segment: Segment, stops: bool = True) -> int:
        """Pieces of a straight or arc, or of the way up to a wall or a line; how many."""
        s, t = travel_and_turn(segment, self.drive.track)
        t = radians(t)
        noise = self.accuracy.straight
        # Along an arc more travel is more turn, unless a gyro sees to the turn.
        bend = 0.0 if self.gyro else t / s
        shares = lengths_of(segment, self.drive.track, self.gyro)
        terms: list[list[_Term]] = [[] for _ in shares]
        walks = [noise.distance * sqrt(abs(s) * share / 1000.0) for share in shares]
        if noise.distance > 0:
            row = self.drawn(number, DISTANCE, len(shares))
            for index, (mine, walk) in enumerate(zip(terms, walks, strict=True)):
                mine.append(_Term(row + index, walk, walk * bend))
        if self.gyro:
            if self.accuracy.gyro.hold > 0:
                row = self.drawn(number, HOLD, 1)
                for mine in terms:
                    mine.append(_Term(row, 0.0, radians(self.accuracy.gyro.hold)))
        elif noise.veer > 0:
            veer = radians(noise.veer) * sqrt(2 * abs(s) * shares[0] / 1000.0) / 2
            row = self.drawn(number, VEER, len(shares))
            for index in range(0, len(shares), 2):
                terms[index] += [_Term(row + index, 0.0, _P * veer), _Term(row + index + 1, 0.0, _Q * veer)]
                terms[index + 1] += [_Term(row + index, 0.0, _Q * veer), _Term(row + index + 1, 0.0, _P * veer)]
        stop = self.stop(segment)
        if stops and stop > 0:
            terms[-1].append(_Term(self.drawn(number, STOP, 1), stop, stop * bend))
        over = late(segment, self.run.robot) if stops else 0.0
        aside = self.beside(t) * t
        back = self.reverses[number - 1]
        play = lost(segment, self.run.robot) if back else 0.0
        kick = radians(self.accuracy.bias.kick) if back else 0.0
        for index, (share, mine) in enumerate(zip(shares, terms, strict=True)):
            more = over - play * share if index == len(shares) - 1 else -play * share
            kicked = kick if index == 0 else 0.0
            self.piece(s * share, t * share, mine, always=(more, more * bend + aside * share + kicked))
        return len(shares)

    def stop(self, segment: Segment) -> float:
        """Standard deviation of where a straight ends, mm."""
        return at_speed(self.accuracy.straight.stop, segment, self.run.robot)

    def align(self, number: int, segment: Alignment) -> None:
        """The way up to a wall or line, and the pieces after it: a swing and the residual; a turn about a wheel, then a
        straight and a turn for each further pass."""
        self.of[-1] = len(self.what)
        approach = self.travel(number, segment, stops=False)
        reach, _ = travel_and_turn(segment, self.drive.track)
        hull, edge = len(np.concatenate([np.zeros((0, 5)), *self.hulls])), sum(map(len, self.edges))
        face = (0.0, 0.0, 0.0)
        residual = (0.0, 0.0)
        sight = (0.0, 0.0, 1.0)
        eyes = (0.0, 0.0, 0.0, 0.0)
        passes = 1
        if isinstance(segment, Square):
            kind = SQUARE
            row = self.drawn(number, RESIDUAL, 2)
            pushes = pushed(self.run, segment)
            if pushes is None:
                raise ValueError(f"nothing of the robot meets {segment.against!r}")
            face = (pushes.x, pushes.low, pushes.high)
            residual = (radians(self.accuracy.square.heading), self.accuracy.square.along)
            self.hulls.append(shapes([pushes.hull]).corner)
            self.edges.append(shapes([target_outline(self.run, segment)]).corner)
            # A swing about the corner, of the face's middle; or rolled by the axle's. Then the residual.
            passes = SLIDE if self.accuracy.square.corner == "slides" else 1
            for _ in range(passes):
                self.piece(0.0, 0.0, [], 0.0 if passes > 1 else pushes.x)
            self.piece(0.0, 0.0, [], pushes.x)
        else:
            kind = LINE_SQUARE if isinstance(segment, LineSquare) else UNTIL
            passes = segment.legs
            self.over[-1] = (
                known_at_speed(self.accuracy.bias.stop, segment, self.run.robot) if isinstance(segment, Until) else 0.0
            )
            row = self.drawn(number, SIGHT, 2 + 2 * passes)
            sight = (
                self.accuracy.edge,
                self.stop(segment) if isinstance(segment, Until) else 0.0,
                speed_of(segment, self.drive) * self.accuracy.sample,
            )
            left, right = sensors_of(self.run, segment)
            eyes = (*left.at, *right.at)
            self.edges.append(shapes([line_outline(line_of(self.run, segment))]).corner)
            for _ in range(2 * passes - 1 if isinstance(segment, LineSquare) else 0):
                self.piece(0.0, 0.0, [])
        self.what.append(
            [
                kind, approach, hull, len(np.concatenate([np.zeros((0, 5)), *self.hulls])),
                edge, sum(map(len, self.edges)), row, passes, 1 if reach > 0 else -1,
            ]
        )  # fmt: skip
        self.how.append([*face, radians(segment.capture), *residual, *sight, abs(reach), *eyes])


# What each kind of segment adds: its pieces, their noise and the rows of drawn numbers.
NOISE: Mapping[type[Segment], Callable[[_Builder, int, Any], object]] = MappingProxyType(
    {
        Straight: _Builder.travel,
        Turn: _Builder.turn,
        Arc: _Builder.travel,
        Square: _Builder.align,
        LineSquare: _Builder.align,
        Until: _Builder.align,
        Act: _Builder.act,
        Wait: lambda builder, number, segment: None,
    }
)


def drivetrain(run: Run) -> Drivetrain:
    """A run as wheel travel and noise terms: pure, the noise itself comes in as drawn numbers."""
    made = _Builder(run)
    drive, accuracy = run.robot.drive, run.robot.accuracy
    flat = [term for piece in made.terms for term in piece]
    x, y, h = start_pose(run)
    spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
    timed = [s.takes_sd if isinstance(s, Act) else 0.0 for s in run.segments]
    gyro = accuracy.gyro
    wheels = Wheels(
        left=np.array(made.left, dtype=float),
        right=np.array(made.right, dtype=float),
        piece=np.array(made.first, dtype=np.int64),
        ahead=np.array(made.ahead, dtype=float),
        track=drive.track,
        bias=_scales(accuracy.bias.distance, accuracy.bias.veer, accuracy.bias.middle),
        day=_scales(accuracy.day.distance, accuracy.day.veer, accuracy.day.turn),
        term=np.cumsum([0, *(len(piece) for piece in made.terms)], dtype=np.int64),
        row=np.array([term.row for term in flat], dtype=np.int64),
        along=np.array([term.along for term in flat], dtype=float),
        turn=np.array([term.turn for term in flat], dtype=float),
        always=np.array(made.always, dtype=float).reshape(-1, 2),
        over=np.array(made.over, dtype=float),
        start=np.array([x, y, radians(h)]),
        held=np.array(held_point(run), dtype=float),
        spread=np.array([spread.along, spread.across, radians(spread.heading)]),
        turns=np.array([isinstance(segment, Turn) for segment in run.segments], dtype=np.int64),
        gyro=np.array([radians(gyro.drift) / 60.0, gyro.scale, 1.0 if made.gyro else 0.0, accuracy.bias.gyro_scale]),
        seconds=np.column_stack([np.zeros(len(timed)), np.array(timed, dtype=float)]),
        seconds_row=np.array(made.act_row, dtype=np.int64),
    )
    alignments = Alignments(
        of=np.array(made.of, dtype=np.int64),
        what=np.array(made.what, dtype=np.int64).reshape(-1, 9),
        how=np.array(made.how, dtype=float).reshape(-1, 14),
        hull=np.concatenate([np.zeros((0, 5)), *made.hulls]),
        edge=np.concatenate([np.zeros((0, 5)), *made.edges]),
    )
    return Drivetrain(wheels, alignments, tuple(made.streams), tuple(made.act_row), made.table)


def timed(wheels: Wheels, seconds: Floats) -> Wheels:
    """The same with each segment's planned seconds (S,), by which a gyro drifts."""
    return wheels._replace(seconds=np.column_stack([seconds, wheels.seconds[:, 1]]))


def perfect(wheels: Wheels) -> Wheels:
    """The same commands on a robot whose wheels are exactly as the program believes: the planned run."""
    return wheels._replace(
        bias=np.zeros(3),
        day=np.zeros(3),
        always=np.zeros_like(wheels.always),
        over=np.zeros_like(wheels.over),
        gyro=wheels.gyro * [1.0, 1.0, 1.0, 0.0],
    )


def _scales(distance: float, veer: float, turn: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([distance, radians(veer) / 1000.0, turn])
