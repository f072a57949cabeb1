"""Trials driven and measured, a block at a time; how, is told in c/trial.h and c/rest.h."""

from __future__ import annotations

from ctypes import byref

import numpy as np

from fieldsim.sim.kernel.course import Course
from fieldsim.sim.kernel.library import (
    ARRAY,
    COURSE,
    RESULTS,
    SHAPES,
    SIZE,
    STATUS,
    floats,
    function,
    ints,
    packed,
    packed_shapes,
    results,
    within,
    worked,
)
from fieldsim.sim.kernel.path import HC, HS, S, T, X, Y
from fieldsim.sim.kernel.shapes import Floats, Ints, Shapes


class Scratch:
    """One thread's results for a block of trials: reused, since fresh memory pages cost time.

    ``clearance`` to each column's obstacle over the run and the segment where it was ``tightest``, -1 if it never was
    below the horizon; ``ribbon``, the clearance to the nearest obstacle on each segment; ``poses`` at the start and at
    each segment's end; ``contact`` (obstacle, piece) of the first contact, -1 and P if none; ``place`` (fraction of its
    segment, by the way of the faster wheel, x, y) of it; ``counted``, how many pieces count before an alignment failed;
    ``endings``, how each alignment ended and the way driven for it.
    """

    def __init__(self, course: Course, columns: int, trials: int) -> None:
        segments = len(course.wheels.piece) - 1
        self.clearance = np.zeros((trials, columns))
        self.tightest = np.zeros((trials, columns), dtype=np.int64)
        self.ribbon = np.zeros((trials, segments))
        self.poses = np.zeros((trials, segments + 1, 3))
        self.contact = np.zeros((trials, 2), dtype=np.int64)
        self.place = np.zeros((trials, 3))
        self.counted = np.zeros(trials, dtype=np.int64)
        self.endings = np.zeros((trials, len(course.alignments.what), 2))


def _numbers(z: Floats, rows: int, first: int, count: int) -> int:
    """The address of drawn numbers, (rows, trials), that reach for these trials."""
    if z.ndim != 2 or len(z) < rows or not 0 <= first <= first + count <= z.shape[1]:
        raise ValueError(f"drawn numbers are {z.shape}: {rows} rows and {count} columns from {first} on are wanted")
    return floats(z, None, None)


def run_trials(course: Course, z: Floats, first: int, count: int, column: Ints, stray: Ints, scratch: Scratch) -> None:
    """Drive trials ``first`` .. ``first + count - 1`` of the drawn numbers ``z`` (rows, trials) and measure them.

    ``column`` (N,) gives an obstacle's column in the results, or -1; one without a column that comes within the horizon
    all the same is flagged in ``stray``, and the block must be run again with a column for it.
    """
    ready = packed(course)
    trials, columns = scratch.clearance.shape
    segments, alignments, obstacles = len(course.wheels.turns), len(course.alignments.what), len(course.entries.best)
    if count > trials:
        raise ValueError(f"there is room for {trials} trials, not for {count}")
    within(column, -1, columns, "a column")
    if len(np.unique(column[column >= 0])) != columns:
        raise ValueError("a column of the results belongs to no obstacle, or to two")
    to = results(
        column=ints(column, obstacles),
        stray=ints(stray, obstacles),
        columns=columns,
        clearance=floats(scratch.clearance, trials, columns),
        tightest=ints(scratch.tightest, trials, columns),
        ribbon=floats(scratch.ribbon, trials, segments),
        poses=floats(scratch.poses, trials, segments + 1, 3),
        contact=ints(scratch.contact, trials, 2),
        place=floats(scratch.place, trials, 3),
        counted=ints(scratch.counted, trials),
        endings=floats(scratch.endings, trials, alignments, 2),
    )
    call = function("trials", STATUS, COURSE, ARRAY, SIZE, SIZE, SIZE, RESULTS)
    worked(call(byref(ready.record), _numbers(z, ready.rows, first, count), z.shape[1], first, count, byref(to)))


def joints(course: Course, z: Floats, first: int, count: int) -> Floats:
    """(count, P + 1, 3) poses of the axle's middle at every joint, radians, for drawing."""
    ready = packed(course)
    poses = np.zeros((count, len(course.frame) + 1, 3))
    call = function("joints", STATUS, COURSE, ARRAY, SIZE, SIZE, SIZE, ARRAY)
    worked(
        call(byref(ready.record), _numbers(z, ready.rows, first, count), z.shape[1], first, count,
             floats(poses, None, None, 3))
    )  # fmt: skip
    return poses


def survey(parts: Shapes, cores: Shapes, path: Floats, piece: Ints, part: Ints, core: Ints) -> tuple[Floats, Ints]:
    """Measure (piece, part, core) on a path, in full: the gaps (E,), and what was closest (E, 3): kind, i, j."""
    count = len(piece)
    within(piece, 0, len(path), "a piece")
    within(part, 0, len(parts.radius), "a part")
    within(core, 0, len(cores.radius), "a core")
    rows = np.ascontiguousarray(path[:, [X, Y, HC, HS, S, T]])
    # Eight pieces are measured together where they have the same part and core.
    order = np.argsort((core * len(parts.radius) + part) * len(path) + piece)
    piece, part, core = piece[order], part[order], core[order]
    gap, found = np.zeros(count), np.zeros((3, count), dtype=np.int64)
    shapes = packed_shapes(parts), packed_shapes(cores)
    call = function("survey", STATUS, SHAPES, SHAPES, ARRAY, SIZE, ARRAY, ARRAY, ARRAY, ARRAY, ARRAY, ARRAY, ARRAY)
    worked(
        call(byref(shapes[0]), byref(shapes[1]), floats(rows, None, 6), count, ints(piece, count), ints(part, count),
             ints(core, count), floats(gap, count), *(ints(row, count) for row in found))
    )  # fmt: skip
    back = np.empty(count, dtype=np.int64)
    back[order] = np.arange(count)
    return gap[back], np.ascontiguousarray(found[:, back].T)
