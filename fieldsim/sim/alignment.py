"""What a robot is set against on the way: the face it pushes, the outline it pushes on, the line it looks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import hypot

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr
from fieldsim.model import WALLS, Field, Line, Robot, Run, Sensor, Sight, Square
from fieldsim.model.errors import Complaint
from fieldsim.sim.shapes import Points, Solid, footprint, hull_of, meet, outline, solids

# A face shorter than this is a point, mm.
LEAST_FACE = 1.0


@dataclass(frozen=True)
class Pushed:
    """The face of a square: the foremost (rearmost) edge of all that can meet the obstacle at its height.

    It lies at ``x`` from ``low`` to ``high``, robot frame; ``hull`` (n, 2) is the convex outline of all that can meet.
    """

    x: float
    low: float
    high: float
    hull: Points


def pushed(run: Run, square: Square) -> Pushed | None:
    """The face that a square pushes, None if nothing of the robot is as low or as high as the obstacle."""
    return _pushed(run.field, run.robot, run.wear, square.against, square.face)


@lru_cache(maxsize=64)
def _pushed(field: Field, robot: Robot, wear: tuple[str, ...], against: str, face: str) -> Pushed | None:
    """Kept like the field's solids: nobody may write into its hull."""
    thing = next(thing for thing in solids(field) if thing.name == against)
    corners = [part.points for part in footprint(robot, wear) if meet(part, thing)]
    if not corners:
        return None
    hull = hull_of(np.concatenate(corners))
    x = float(hull[:, 0].max() if face == "front" else hull[:, 0].min())
    y = hull[np.abs(hull[:, 0] - x) <= 1e-9, 1]
    return Pushed(x, float(y.min()), float(y.max()), hull)


def target_of(run: Run, square: Square) -> Solid:
    """What a square is pushed on."""
    return next(thing for thing in solids(run.field) if thing.name == square.against)


def target_outline(run: Run, square: Square) -> Points:
    """Its outline (n, 2): of a wall, the wall's own rectangle."""
    if square.against in WALLS:
        return target_of(run, square).cores[0].points
    return outline(next(o for o in run.field.obstacles if o.name == square.against).shape)  # type: ignore[arg-type]


def line_of(run: Run, segment: Sight) -> Line:
    """The line a segment looks for."""
    return next(line for line in run.field.lines if line.name == segment.line)


def line_outline(line: Line) -> Points:
    """The four corners of a line, counter-clockwise: its first and third edges are its sides, the others its ends."""
    a, b = np.array(line.start), np.array(line.end)
    side = np.array([-(b - a)[1], (b - a)[0]]) / hypot(*(b - a)) * line.width / 2
    corners: NDArray[np.float64] = np.array([a - side, b - side, b + side, a + side])
    return corners


def sensors_of(run: Run, segment: Sight) -> tuple[Sensor, Sensor]:
    """The sensors that look, the left one first; the same one twice if there is but one."""
    there = {sensor.name: sensor for sensor in run.robot.sensors}
    first, second = there[segment.looks_with[0]], there[segment.looks_with[-1]]
    return (first, second) if first.at[1] >= second.at[1] else (second, first)


def complaints(run: Run) -> Iterator[Complaint]:
    """Squares that the robot has no face for, whatever the path."""
    for index, segment in enumerate(run.segments):
        if not isinstance(segment, Square):
            continue
        face = pushed(run, segment)
        if face is None:
            yield Complaint(
                ("segments", index, "against"),
                tr(
                    "names '{against}', which is too low or too high for any part of the robot to meet",
                    against=segment.against,
                ),
                tr("push on something as high as the robot"),
            )
        elif face.high - face.low < LEAST_FACE:
            yield Complaint(
                ("segments", index, "face"),
                tr(
                    "is {face}, but there the robot comes to a point at the height of '{against}'",
                    face=segment.face,
                    against=segment.against,
                ),
                tr("push with a face that is flat, or without that attachment"),
            )
