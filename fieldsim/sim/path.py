"""A run's path without any draws: as planned, or with the robot's known bias alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldsim.sim.kernel.course import Alignments, Reference, Wheels
from fieldsim.sim.kernel.drive import DRIVEN, ENDING, drive
from fieldsim.sim.kernel.path import EX, EY, HC, HS, H, S, T, X, Y
from fieldsim.sim.kernel.shapes import Floats
from fieldsim.sim.kernel.sweep import Pose

__all__ = ["Noiseless", "noiseless", "pose_of"]


def pose_of(row: Floats) -> Pose:
    """The pose in a row of a path."""
    x, y, c, s = row[[X, Y, HC, HS]].tolist()
    return x, y, c, s


@dataclass(frozen=True, eq=False)
class Noiseless:
    """The path with no draws."""

    rows: Floats
    """In the kernel's rows."""
    reference: Reference
    endings: Floats
    """(M,) how each alignment ended,"""
    driven: Floats
    """(M,) and the way driven for it, mm."""


def noiseless(wheels: Wheels, alignments: Alignments, rows: int, z: Floats | None = None) -> Noiseless:
    path, result, _ = drive(wheels, alignments, np.zeros((rows, 1)) if z is None else z)
    x, y, h, end_x, end_y, s, t = (np.ascontiguousarray(path[:-1, row]) for row in (X, Y, H, EX, EY, S, T))
    reference = Reference(x, y, h, end_x, end_y, h + t, s, t)
    return Noiseless(path, reference, result[:, ENDING], result[:, DRIVEN])
