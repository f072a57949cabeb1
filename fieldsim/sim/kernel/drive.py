"""Drive one trial: commands, drawn numbers, what the robot is pushed flat on and the lines it aligns on.

The mathematics is told in c/drive.h and c/align.h.
"""

from __future__ import annotations

from ctypes import byref
from typing import NamedTuple

import numpy as np

from fieldsim.sim.kernel.course import Alignments, Moves, Reference, Wheels
from fieldsim.sim.kernel.library import ARRAY, COURSE, SIZE, floats, function, packed_path, worked
from fieldsim.sim.kernel.path import COLUMNS
from fieldsim.sim.kernel.shapes import Floats

# Nobody can set a robot deeper into what stands there, or push it deeper into a wall, mm; and so much a jig or a wall
# gives before a robot that leaves along it is said to touch it. Well above a jig's repeatability, well below a track.
LET_OFF = 2.0

# Columns of the results of an alignment: how it ended, and the way driven (mm of the faster wheel).
ENDING, DRIVEN = range(2)


class Drive(NamedTuple):
    path: Floats
    """(P + 1, COLUMNS) in the columns of fieldsim.sim.kernel.path, with the bounds against ``reference``."""
    result: Floats
    """(M, 2) how each alignment ended, and the way driven for it."""
    counted: int
    """How many pieces count: all, but where an alignment failed; from there on the robot is left standing."""


def drive(
    wheels: Wheels,
    alignments: Alignments,
    z: Floats,
    trial: int = 0,
    reference: Reference | None = None,
    moves: Moves | None = None,
) -> Drive:
    """The path of one trial, from column ``trial`` of the drawn numbers ``z`` (rows, trials); without ``moves`` all
    stands where it was drawn."""
    pieces = len(wheels.left)
    if reference is None:
        reference = Reference(*(np.zeros(pieces) for _ in Reference._fields))
    packed = packed_path(wheels, alignments, reference, moves)
    path = np.zeros((pieces + 1, COLUMNS))
    result = np.zeros((len(alignments.what), 2))
    if len(z) < packed.rows or not 0 <= trial < z.shape[1]:
        raise ValueError(f"drawn numbers are {z.shape}, but {packed.rows} rows and column {trial} are wanted")
    call = function("drive", SIZE, COURSE, ARRAY, SIZE, SIZE, ARRAY, ARRAY)
    counted = worked(
        call(byref(packed.record), floats(z, None, None), z.shape[1], trial, floats(path, None, None),
             floats(result, None, 2))
    )  # fmt: skip
    return Drive(path, result, counted)
