"""Everything a trial needs, as flat arrays: the form in which the kernel reads a plan.

Built by ``fieldsim.sim.plan``; millimetres and radians. S segments, P pieces, E entries, N obstacles.
"""

from __future__ import annotations

from typing import NamedTuple

from fieldsim.sim.kernel.shapes import Floats, Ints, Shapes


class Wheels(NamedTuple):
    """The commanded run and how drawn numbers change it. Row numbers count the rows of the drawn numbers."""

    left: Floats
    """(P,) wheel travel of each piece as commanded with the nominal wheels."""
    right: Floats
    piece: Ints
    """(S + 1,) first piece of each segment."""
    ahead: Floats
    """(P,) x of the point whose way a piece describes, robot frame: 0, the axle's middle, but for a swing about a
    corner of a face, whose centre does not lie on the axle's line."""
    track: float
    bias: Floats
    """(3,) distance and turn as fractions (0 and 2), veer in radians per mm (1): the same every time."""
    day: Floats
    """(3,) standard deviations of the same, one draw a trial in rows 3, 4, 5."""
    term: Ints
    """(P + 1,) first noise term of each piece. A piece's travel and turn are those of the scaled wheels plus
    the sum over its terms of (along, turn) times the number drawn in the term's row. With a gyro the sum of the turns
    is not added to the turn: it is how far off the steered heading is at the piece's end."""
    row: Ints
    along: Floats
    turn: Floats
    always: Floats
    """(P, 2) what is added to a piece's travel and turn the same way every time, as such a term adds it."""
    over: Floats
    """(S,) how far a robot that stops at a line stops beyond that, the same way every time, mm."""
    start: Floats
    """(3,) nominal pose of the robot frame."""
    held: Floats
    """(2,) the point the placing turns about, robot frame: the held corner, or the origin for a start by eye."""
    spread: Floats
    """(3,) standard deviations of placing, along and across the start heading and of it; rows 0, 1, 2."""
    turns: Ints
    """(S,) 1 where a segment turns on the spot or about a wheel: how far it travels then follows from its turn."""
    gyro: Floats
    """(4,) standard deviations of the gyro's drift, radians per second, and of its scale; not 0 in the third place if
    the robot steers by it; what its scale is off by the same way every time. One draw a trial of each in rows 6, 7."""
    seconds: Floats
    """(S, 2) planned seconds of each segment and their standard deviation: a gyro drifts with the clock."""
    seconds_row: Ints
    """(S,) row of the number drawn for it, -1 if there is none."""


# Kinds of alignment, and how one can end.
SQUARE, LINE_SQUARE, UNTIL = range(3)
CAUGHT, NOT_REACHED, TOO_SKEW, NOT_BORNE, ALREADY_UNDER = range(5)

# Columns of ``Alignments.what``: its kind; how many pieces lead up to it; first and last corner (not included) of the
# footprint and of the outline it aligns on; first row of its own drawn numbers; how many passes, of a square how
# many pieces the swing has, more than one where its corner slides; 1 forwards, -1 back.
ALIGN, APPROACH, HULL, HULL_END, EDGE, EDGE_END, ROW, PASSES, WAY = range(9)

# Columns of ``Alignments.how``, mm and radians: the face's x and its lower and upper y; the capture angle; standard
# deviations of the residual heading and distance of a square; of a sensor, of the edge it sees and of the stop; the way
# driven between two looks; how far it may drive; where the sensors are (the left one first).
FACE, LOW, HIGH, CAPTURE, SD_HEADING, SD_ALONG, SD_EDGE, SD_STOP, LOOK, REACH, LX, LY, RX, RY = range(14)


class Alignments(NamedTuple):
    """What is pushed flat on walls and aligned on lines: M alignments."""

    of: Ints
    """(S,) a segment's alignment, -1 if it has none."""
    what: Ints
    """(M, 9)"""
    how: Floats
    """(M, 14)"""
    hull: Floats
    """Corners of the convex hull of what of the footprint can meet each square's obstacle (rows of fieldsim.sim.kernel.
    shapes), robot frame."""
    edge: Floats
    """The same of the obstacles' outlines and of the lines, field frame. Of a line the first and the third of its four
    edges are its sides, the others its ends."""


# Columns of ``Entries.what``.
PIECE, PART, CORE, OBSTACLE, SEGMENT, KIND, I, J = range(8)


class Entries(NamedTuple):
    """Every (piece, footprint part, obstacle core) that can meet, with the clearance it has on the reference path.

    Segment by segment (``first``), tightest first within each.
    """

    first: Ints
    """(S + 1,)"""
    gap: Floats
    """(E,)"""
    what: Ints
    """(E, 8): the entry's piece, part, core, obstacle and segment, and which features were closest (``KIND``, with
    ``I`` and ``J``, of fieldsim.sim.kernel.sweep). Rows, so that an entry is one place in memory."""
    best: Ints
    """(N,) the tightest entry of each obstacle, -1 if it has none."""


class Reference(NamedTuple):
    """The path the entries' clearances were measured on: (P,) each, where its pieces begin and end, and the pieces.

    Of the point that is ``Wheels.ahead`` of the axle's middle."""

    x: Floats
    y: Floats
    h: Floats
    end_x: Floats
    end_y: Floats
    end_h: Floats
    s: Floats
    t: Floats


# How a robot rests: it was pushed against the thing, which guides it as it leaves; it was pressed on it, and nothing is
# too deep; it stands in it as planned, which is a contact in every trial.
AGAINST, PRESSED, INSIDE = range(3)


class Rests(NamedTuple):
    """Obstacles that the robot stands against, or in, when a piece begins, in order of pieces."""

    first: Ints
    """(N + 1,) rests of each obstacle; the rests are sorted by obstacle, then piece."""
    obstacle: Ints
    piece: Ints
    """Judged leniently from this piece on,"""
    until: Ints
    """and up to this one (not included) at most."""
    how: Ints
    """AGAINST, PRESSED or INSIDE"""
    set_back: Ints
    """1 where the robot is set there by hand: a drawn start is set back from too deep."""


class Pairs(NamedTuple):
    """(N + 1,) first pair of each obstacle; the footprint part (to which ``Course.frame`` is added) and core of each
    pair whose heights meet."""

    first: Ints
    part: Ints
    core: Ints


# Columns of ``Moves.what`` and ``Moves.how``.
DRAWN_ROW, CARRIED = range(2)
MIDDLE_X, MIDDLE_Y, SD_X, SD_Y, SD_TURNED = range(5)


class Moves(NamedTuple):
    """What stands elsewhere in each trial: F things, those that carry others first. See ``fieldsim.sim.table``."""

    what: Ints
    """(F, 2) first of its three rows of drawn numbers, and what carries it: -1, or one before it."""
    how: Floats
    """(F, 5) the middle it turns about, field frame, and standard deviations of x, y and heading."""
    obstacle: Ints
    """(N,) what moves an obstacle, -1 if nothing does."""
    aligned: Ints
    """(M,) what moves what is aligned on."""
    start: int
    """What carries the robot's start, -1 if nothing does."""
    solid: int
    """How many of the first things obstacles are moved by."""


class Course(NamedTuple):
    wheels: Wheels
    alignments: Alignments
    parts: Shapes
    """The footprint's parts in the robot frame, and again for every other point of ``Wheels.ahead``, seen from it."""
    frame: Ints
    """(P,) the first of the parts that a piece moves."""
    cores: Shapes
    entries: Entries
    reference: Reference
    rests: Rests
    pairs: Pairs
    moves: Moves
    horizon: float
