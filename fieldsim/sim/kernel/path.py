"""The path of one trial: a row for each piece of driving."""

from __future__ import annotations

from math import sqrt
from typing import cast

import numpy as np

from fieldsim.sim.kernel.course import Reference
from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.shapes import Floats
from fieldsim.sim.kernel.sweep import moved

# The first piece.
START = cast(int, np.int64(0))

# Columns of a row: where the piece begins, x, y, cosine, sine and the heading itself; its travel and turn; the two
# parts of the bound (mm, and radians to be multiplied by a part's reach); where it ends. All of the point that is
# ``Wheels.ahead`` of the axle's middle. One more row holds the pose at the end of the run.
X, Y, HC, HS, H, S, T, OFF, SWING, EX, EY, EC, ES = range(13)
COLUMNS = 13


@jit
def lay(
    path: Floats, reference: Reference, p: int, x: float, y: float, hc: float, hs: float, h: float, s: float, t: float
) -> tuple[float, float, float, float]:
    """Write a piece and its bound; the pose at its end. See fieldsim.sim.kernel.trial for the bound."""
    path[p, X] = x
    path[p, Y] = y
    path[p, HC] = hc
    path[p, HS] = hs
    path[p, H] = h
    path[p, S] = s
    path[p, T] = t
    ex, ey, ec, es = moved(x, y, hc, hs, s, t)
    path[p, EX] = ex
    path[p, EY] = ey
    path[p, EC] = ec
    path[p, ES] = es
    off0 = (x - reference.x[p]) ** 2 + (y - reference.y[p]) ** 2
    off1 = (ex - reference.end_x[p]) ** 2 + (ey - reference.end_y[p]) ** 2
    swing = max(abs(h - reference.h[p]), abs(h + t - reference.end_h[p]))
    bend = reference.s[p] * reference.t[p]
    path[p, OFF] = sqrt(max(off0, off1)) + 0.125 * (abs(s * t - bend) + abs(bend) * swing)
    path[p, SWING] = swing
    return ex, ey, ec, es


@jit
def pose_in(path: Floats, p: int, u: float) -> tuple[float, float, float, float]:
    """The pose at fraction u of a piece."""
    if u <= 0.0:
        return path[p, X], path[p, Y], path[p, HC], path[p, HS]
    return moved(path[p, X], path[p, Y], path[p, HC], path[p, HS], u * path[p, S], u * path[p, T])
