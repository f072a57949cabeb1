"""Exact clearance of a convex polygon in rigid rotation; the mathematics is told in c/sweep.h.

Footprints and obstacles are rows of ``Shapes.corner``, (n, 5). A pose is x, y, cos h, sin h.
"""

from __future__ import annotations

from ctypes import c_int64
from math import cos, sin

import numpy as np
from numpy.typing import ArrayLike

from fieldsim.sim.kernel.library import ARRAY, NUMBER, SIZE, floats, function
from fieldsim.sim.kernel.shapes import Floats, shapes

# Two outlines this close touch, mm. Far below anything a tape can settle, far above float error on a 20 m field; a
# smaller value lets exact contacts (a flat face on a wall) flicker.
TOUCH = 1e-5

# What the two closest features are, and when: how an answer can be proved again in a trial.
OVERLAP = 0
FIELD_EDGE = 1  # edge j of the obstacle faces a vertex
ROBOT_EDGE_START = 2  # edge i of the footprint faces a vertex, at the piece's start
ROBOT_EDGE_END = 3
CORNERS_START = 4  # vertex i faces vertex j
CORNERS_END = 5
RADIAL = 6  # on a line through the centre, footprint inside, vertex j outside
UNPROVED = 7  # anything else: measured in full each time

Pose = tuple[float, float, float, float]


def _pair(A: Floats, O: Floats) -> tuple[int, int, int, int]:
    if len(A) == 0 or len(O) == 0:
        raise ValueError("a shape has no corners")
    return floats(A, None, 5), len(A), floats(O, None, 5), len(O)


def _at(pose: Pose) -> Floats:
    return np.array(pose, dtype=float)


def _number(found: float) -> float:
    if np.isnan(found):
        raise MemoryError("there is not enough memory to measure a gap")
    return float(found)


def swept(A: Floats, O: Floats, pose: Pose, s: float, t: float) -> tuple[float, int, int, int]:
    """D of one piece of travel ``s`` and turn ``t``, of any size: (D, kind, i, j)."""
    found = np.zeros(3, dtype=np.int64)
    at = _at(pose)
    call = function("swept", NUMBER, ARRAY, SIZE, ARRAY, SIZE, ARRAY, NUMBER, NUMBER, ARRAY)
    d = _number(call(*_pair(A, O), floats(at, 4), s, t, found.ctypes.data))
    return d, int(found[0]), int(found[1]), int(found[2])


def certificate(A: Floats, O: Floats, pose: Pose, s: float, t: float, kind: int, i: int, j: int) -> tuple[float, bool]:
    """How far features (kind, i, j) hold the sweep and the core apart: (bound, proved). The bound is never larger than
    D; ``proved`` tells that it is D."""
    if not (0 <= kind <= UNPROVED and 0 <= i < len(A) and 0 <= j < len(O)):
        raise ValueError(f"kind={kind}, i={i}, j={j} are no features of shapes of {len(A)} and {len(O)} corners")
    proved = c_int64()
    at = _at(pose)
    call = function(
        "certificate", NUMBER, ARRAY, SIZE, ARRAY, SIZE, ARRAY, NUMBER, NUMBER, SIZE, SIZE, SIZE, ARRAY
    )  # fmt: skip
    from ctypes import addressof

    bound = call(*_pair(A, O), floats(at, 4), s, t, kind, i, j, addressof(proved))
    return float(bound), bool(proved.value)


def first_touch(A: Floats, O: Floats, radius: float, pose: Pose, s: float, t: float) -> float:
    """The first fraction of a piece at which the gap is no more than ``TOUCH``; it is, somewhere."""
    at = _at(pose)
    call = function("first_touch", NUMBER, ARRAY, SIZE, ARRAY, SIZE, NUMBER, ARRAY, NUMBER, NUMBER)
    return _number(call(*_pair(A, O), radius, floats(at, 4), s, t))


def standing(A: Floats, O: Floats, pose: Pose) -> float:
    """Distance of the footprint to the obstacle, both at rest."""
    at = _at(pose)
    call = function("standing", NUMBER, ARRAY, SIZE, ARRAY, SIZE, ARRAY)
    return _number(call(*_pair(A, O), floats(at, 4)))


def push_out(A: Floats, O: Floats, radius: float, pose: Pose) -> tuple[float, float, float]:
    """The least way out of an overlap: (depth, and the unit direction the robot has to go, field frame).

    The depth is negative if they are apart along some edge's normal.
    """
    at, out = _at(pose), np.zeros(2)
    call = function("push_out", NUMBER, ARRAY, SIZE, ARRAY, SIZE, NUMBER, ARRAY, ARRAY)
    deep = _number(call(*_pair(A, O), radius, floats(at, 4), floats(out, 2)))
    return deep, float(out[0]), float(out[1])


def moved(pose: Pose, s: float, t: float) -> Pose:
    """The pose after a piece."""
    at, to = _at(pose), np.zeros(4)
    function("moved", None, ARRAY, NUMBER, NUMBER, ARRAY)(floats(at, 4), s, t, floats(to, 4))
    x, y, c, sn = to.tolist()
    return x, y, c, sn


def clearance(
    polygon: ArrayLike,
    pose: tuple[float, float, float],
    s: float,
    t: float,
    core: ArrayLike,
    radius: float = 0.0,
) -> float:
    """Least distance, mm, between a convex polygon in rigid rotation and a rounded convex obstacle.

    Parameters
    ----------
    polygon : (m, 2)
        Corners in the robot frame, mm, m >= 1, convex.
    pose : (x, y, heading)
        Robot frame at the start, mm and radians.
    s, t : float
        Travel of the axle's middle, mm (backwards if negative), and turn, radians; any size.
    core : (k, 2)
        Convex obstacle in the field frame, mm; a point and a segment count as convex.
    radius : float
        The obstacle is everything within this distance of ``core``.

    Returns
    -------
    float
        0.0 where they touch (a gap of at most ``TOUCH``) or overlap at any time.
    """
    if not all(np.isfinite(v) for v in (*pose, s, t, radius)) or radius < 0:
        raise ValueError(f"pose={pose!r}, s={s!r}, t={t!r} and radius={radius!r} must be finite, radius not negative")
    x, y, h = pose
    d = swept(shapes([polygon]).corner, shapes([core]).corner, (x, y, cos(h), sin(h)), s, t)[0]
    return 0.0 if d - radius <= TOUCH else d - radius
