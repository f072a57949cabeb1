"""How runs and their segments end: the words for each kind of alignment, whether the tool reached its target, whether
the body stands inside an area."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, inf, radians

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldsim.language import tr_later
from fieldsim.model import Alignment, Box, LineSquare, Outline, Robot, Round, Run, Shape, Square, Target, Until
from fieldsim.sim.kernel.course import ALREADY_UNDER, CAUGHT, NOT_BORNE, NOT_REACHED, TOO_SKEW
from fieldsim.sim.shapes import body_corners, outline, polygon, worn

__all__ = ["ENDINGS", "aim", "ending_words", "ends_inside", "tool_off", "tool_point"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_ON_A_WALL = {
    NOT_REACHED: tr_later("not reached"),
    TOO_SKEW: tr_later("too skew"),
    NOT_BORNE: tr_later("face not borne"),
}
_ON_A_LINE = {
    NOT_REACHED: tr_later("line missed"),
    TOO_SKEW: tr_later("too flat an angle"),
    ALREADY_UNDER: tr_later("already under"),
}
ENDINGS: Mapping[type[Alignment], Mapping[int, str]] = {Square: _ON_A_WALL, LineSquare: _ON_A_LINE, Until: _ON_A_LINE}
"""How each kind of alignment can fail, by its number in ``Trials.endings``."""


def ending_words(segment: Alignment, ending: int) -> str:
    """How an alignment ended, by its number in ``Trials.endings``."""
    return tr_later("caught") if ending == CAUGHT else ENDINGS[type(segment)][ending]


def tool_point(robot: Robot, wear: tuple[str, ...]) -> tuple[float, float]:
    """The point that must reach a target, robot frame: the worn tool's, else the middle of the body's front face."""
    for attachment in worn(robot, wear):
        if attachment.tool is not None:
            return attachment.tool
    return robot.body.length - robot.body.axle, 0.0


def aim(robot: Robot, wear: tuple[str, ...], target: Target, poses: Floats) -> tuple[Floats, Bools]:
    """Distance (N,) of the tool point from a target, and whether the heading is right, for poses (N, 3) in radians."""
    tx, ty = tool_point(robot, wear)
    c, s = np.cos(poses[:, 2]), np.sin(poses[:, 2])
    x = poses[:, 0] + c * tx - s * ty - target.at[0]
    y = poses[:, 1] + s * tx + c * ty - target.at[1]
    right = np.ones(len(poses), dtype=bool)
    if target.heading is not None:
        off = np.mod(poses[:, 2] - radians(target.heading) + np.pi, 2 * np.pi) - np.pi
        within = target.heading_within if target.heading_within is not None else inf
        right = np.abs(np.degrees(off)) <= within
    return np.asarray(np.hypot(x, y)), right


def tool_off(robot: Robot, wear: tuple[str, ...], target: Target, poses: Floats) -> Floats:
    """By how much the tool point is off a target as the robot sees it, for poses (N, 3) in mm and degrees.

    (N, 2) mm: too far ahead (short of it if negative), too far to the left (to the right if negative).
    """
    tx, ty = tool_point(robot, wear)
    c, s = np.cos(np.radians(poses[:, 2])), np.sin(np.radians(poses[:, 2]))
    x, y = poses[:, 0] - target.at[0], poses[:, 1] - target.at[1]
    return np.column_stack([x * c + y * s + tx, y * c - x * s + ty])


def ends_inside(run: Run, shape: Shape, poses: Floats) -> Bools:
    """Does the body stand inside the area, for poses (N, 3) in radians?"""
    corners = body_corners(run.robot.body)
    c, s = np.cos(poses[:, 2])[:, None], np.sin(poses[:, 2])[:, None]
    x = poses[:, 0, None] + c * corners[:, 0] - s * corners[:, 1]
    y = poses[:, 1, None] + s * corners[:, 0] + c * corners[:, 1]
    if isinstance(shape, Round):
        return np.asarray((np.hypot(x - shape.center[0], y - shape.center[1]) <= shape.radius).all(axis=1))
    edge = outline(shape)
    if isinstance(shape, Box) or _convex(shape):
        inside: Bools = np.ones(len(poses), dtype=bool)
        turn = 1.0 if shapely.LinearRing(edge).is_ccw else -1.0
        for p, q in zip(edge, np.roll(edge, -1, axis=0), strict=True):
            left_of = (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0])
            inside &= (turn * left_of >= -1e-6 * hypot(*(q - p))).all(axis=1)
        return inside
    area = polygon(shape)
    shapely.prepare(area)
    return np.asarray(shapely.covers(area, shapely.polygons(np.stack([x, y], axis=-1))), dtype=bool)


def _convex(shape: Outline) -> bool:
    area = polygon(shape)
    return bool(area.equals(area.convex_hull))
