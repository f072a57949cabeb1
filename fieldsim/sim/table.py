"""A table that is not the drawing: what stands elsewhere in each trial, and how the robot sees it.

On another table a model, a line or a target stands a few millimetres and a degree off, and the mat lies shifted in the
walls with all that is on it. Each thing that has a spread gets three drawn numbers a trial: x, y and its heading about
its own middle; the mat's own come on top, about the field's middle. A trial is one table. Walls never move.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from math import radians
from typing import NamedTuple

import numpy as np

from fieldsim.model import Act, Alignment, Box, Field, Line, OtherTable, Point, Round, Run, Shape, Square, StartByEye
from fieldsim.sim.kernel.course import CARRIED, DRAWN_ROW, MIDDLE_X, MIDDLE_Y, SD_TURNED, SD_X, SD_Y, Moves
from fieldsim.sim.kernel.shapes import Floats
from fieldsim.sim.motion import jig_of
from fieldsim.sim.shapes import polygon

__all__ = [
    "MAT",
    "PLACE_OF_LINE",
    "PLACE_OF_OBSTACLE",
    "PLACE_OF_TARGET",
    "TABLE",
    "Table",
    "base_of",
    "carried_start",
    "middle",
    "middle_of_line",
    "seen_from",
    "table_of",
]

# Sources of these draws, after those of ``fieldsim.sim.drivetrain``; in place of a segment stands the thing's number
# among its kind in the file, from 1.
TABLE = PLACE_OF_OBSTACLE, PLACE_OF_LINE, PLACE_OF_TARGET, MAT = range(11, 15)


class Table(NamedTuple):
    """What moves, as the kernel reads it; and what it does not ask for."""

    moves: Moves
    targets: Mapping[str, int]
    """What moves each target that the run acts on; those that do not move are left out."""
    mat: int
    """The mat among what moves, -1 if it never does."""


@lru_cache(maxsize=512)
def middle(shape: Shape) -> Point:
    """What a shape turns about: of an outline its centroid."""
    if isinstance(shape, Box | Round):
        return shape.center
    centroid = polygon(shape).centroid
    return float(centroid.x), float(centroid.y)


def middle_of_line(line: Line) -> Point:
    return (line.start[0] + line.end[0]) / 2, (line.start[1] + line.end[1]) / 2


def table_of(run: Run, drawn: Callable[[int, int, int], int]) -> Table:
    """What of a run's table moves. ``drawn(number, source, rows)`` hands out rows of drawn numbers, and says the first.

    What the run asks nothing of, a line or a target, is left where it is.
    """
    field = run.field
    what: list[tuple[int, int]] = []
    how: list[tuple[float, ...]] = []

    def moved(number: int, source: int, spread: OtherTable, about: Point, carried: int) -> int:
        if spread.still:
            return carried
        what.append((drawn(number, source, 3), carried))
        how.append((*about, spread.x, spread.y, radians(spread.heading)))
        return len(what) - 1

    mat = moved(0, MAT, field.mat, (field.size[0] / 2, field.size[1] / 2), -1)
    obstacles = [
        mat if thing.spread.still else moved(number, PLACE_OF_OBSTACLE, thing.spread, middle(thing.shape), mat)
        for number, thing in enumerate(field.obstacles, start=1)
    ]
    solid = len(what)
    asked = {segment.on for segment in run.segments if isinstance(segment, Alignment)}
    lines = {
        line.name: moved(number, PLACE_OF_LINE, line.spread, middle_of_line(line), mat)
        for number, line in enumerate(field.lines, start=1)
        if line.name in asked
    }
    acted = {segment.target for segment in run.segments if isinstance(segment, Act)}
    targets = {
        target.name: moved(number, PLACE_OF_TARGET, target.spread, target.at, mat)
        for number, target in enumerate(field.targets, start=1)
        if target.name in acted
    }
    by_name = dict(zip((thing.name for thing in field.obstacles), obstacles, strict=True))
    aligned = [
        by_name.get(segment.on, -1) if isinstance(segment, Square) else lines[segment.on]
        for segment in run.segments
        if isinstance(segment, Alignment)
    ]
    moves = Moves(
        what=np.array(what, dtype=np.int64).reshape(-1, 2),
        how=np.array(how, dtype=float).reshape(-1, 5),
        obstacle=np.array([*obstacles, -1, -1, -1, -1], dtype=np.int64),
        aligned=np.array(aligned, dtype=np.int64),
        start=-1,
        solid=solid,
    )
    return Table(moves, {name: k for name, k in targets.items() if k >= 0}, mat)


def base_of(run: Run, against: list[str]) -> str | None:
    """The obstacle that a run's start moves with, 'mat', or None if it stays with the walls.

    ``against`` are the names of what the robot stands against at the planned start: a jig of which nothing is said is
    built on the first obstacle among them, else on the walls; where nothing is there it is set by marks on the mat.
    """
    built_on = None if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).built_on
    obstacles = [thing.name for thing in run.field.obstacles]
    if built_on is None:
        built_on = next((name for name in against if name in obstacles), "walls" if against else "mat")
    return None if built_on == "walls" else built_on


def carried_start(table: Table, field: Field, base: str | None) -> Moves:
    """What moves, with the robot's start on its base (see ``base_of``)."""
    if base is None:
        return table.moves
    if base == "mat":
        return table.moves._replace(start=table.mat)
    number = next(n for n, thing in enumerate(field.obstacles) if thing.name == base)
    return table.moves._replace(start=int(table.moves.obstacle[number]))


def seen_from(moves: Moves, k: int, z: Floats, poses: Floats) -> Floats:
    """Poses (N, 3), in radians, as they are seen from a thing that has moved, had it stayed where it was drawn; ``z``
    (rows, N) are the trials' drawn numbers. See kernel/c/table.h; -1 has not moved."""
    if k < 0:
        return poses
    carried = int(moves.what[k, CARRIED])
    x, y, h = seen_from(moves, carried, z, poses).T
    row, how = moves.what[k, DRAWN_ROW], moves.how[k]
    turned = how[SD_TURNED] * z[row + 2]
    x = x - how[MIDDLE_X] - how[SD_X] * z[row]
    y = y - how[MIDDLE_Y] - how[SD_Y] * z[row + 1]
    c, s = np.cos(turned), np.sin(turned)
    return np.column_stack([how[MIDDLE_X] + c * x + s * y, how[MIDDLE_Y] + c * y - s * x, h - turned])
