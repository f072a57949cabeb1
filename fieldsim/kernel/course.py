"""Everything a trial needs, as flat arrays: the form in which the kernel reads a plan.

Built by ``fieldsim.plan``; millimetres and radians. S segments, P pieces, E entries, N obstacles.
"""

from __future__ import annotations

from typing import NamedTuple

from fieldsim.kernel.shapes import Floats, Ints, Shapes


class Wheels(NamedTuple):
    """The commanded run and how drawn numbers change it. Row numbers count the rows of the drawn numbers."""

    left: Floats
    """(P,) wheel travel of each piece as commanded with the nominal wheels."""
    right: Floats
    piece: Ints
    """(S + 1,) first piece of each segment."""
    track: float
    bias: Floats
    """(3,) distance and turn as fractions (0 and 2), veer in radians per mm (1): the same every time."""
    day: Floats
    """(3,) standard deviations of the same, one draw a trial in rows 3, 4, 5."""
    term: Ints
    """(P + 1,) first noise term of each piece. A piece's travel and turn are those of the scaled wheels plus
    the sum over its terms of (along, turn) times the number drawn in the term's row."""
    row: Ints
    along: Floats
    turn: Floats
    start: Floats
    """(3,) nominal pose of the robot frame."""
    held: Floats
    """(2,) the point the placing turns about, robot frame: the held corner, or the origin for a start by eye."""
    spread: Floats
    """(3,) standard deviations of placing, along and across the start heading and of it; rows 0, 1, 2."""


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
    ``I`` and ``J``, of fieldsim.kernel.sweep). Rows, so that an entry is one place in memory."""
    best: Ints
    """(N,) the tightest entry of each obstacle, -1 if it has none."""


class Reference(NamedTuple):
    """The path the entries' clearances were measured on, at the P + 1 joints, and its pieces."""

    x: Floats
    y: Floats
    h: Floats
    s: Floats
    t: Floats


class Rests(NamedTuple):
    """Obstacles that the robot stands against when a piece begins, in order of pieces."""

    first: Ints
    """(N + 1,) rests of each obstacle; the rests are sorted by obstacle, then piece."""
    obstacle: Ints
    piece: Ints
    """Judged leniently from this piece on,"""
    until: Ints
    """and up to this one (not included) at most."""
    let_off: Floats
    """mm; infinite after a contact that was meant."""
    set_back: Ints
    """1 where the robot is set against it by hand, and the planned start is no deeper in it than the let-off."""


class Pairs(NamedTuple):
    """(N + 1,) first pair of each obstacle; the footprint part and core of each pair whose heights meet."""

    first: Ints
    part: Ints
    core: Ints


class Course(NamedTuple):
    wheels: Wheels
    parts: Shapes
    soft: Shapes
    """The parts shrunk by the resting let-off; a part too thin for that is a point far away from everything."""
    cores: Shapes
    entries: Entries
    reference: Reference
    rests: Rests
    pairs: Pairs
    horizon: float
