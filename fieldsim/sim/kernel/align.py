"""When a corner meets an edge, or a sensor a line: closed forms.

A point c of the robot, carried along a piece of travel s and turn t, has the velocity v = (s - t c_y, t c_x) in the
robot frame, which turns with it. So after the fraction u its distance from a straight edge with normal n is

    d(u) = d(0) + (n.v) sin(t u)/t + (n.v') (1 - cos(t u))/t,        v' = v turned left by a quarter.

With q = tan(t u/2)/(t/2), d(u) = 0 is a quadratic in q without any division by t: a straight needs no case of its own.
"""

from __future__ import annotations

from math import atan, atan2, ceil, erf, sqrt
from typing import cast

import numpy as np

from fieldsim.sim.kernel.course import EDGE, EDGE_END, HIGH, HULL, HULL_END, LOW, LX, LY, WAY, Alignments
from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.shapes import LEN, NX, NY, VX, VY, Floats
from fieldsim.sim.kernel.sweep import moved

# A corner this little past an edge's end is still on it, mm.
ON_EDGE = 1e-6

# How deep a corner may be in what it is about to be pushed on and count as touching it, mm: a robot that stands there
# already, give or take its placing.
STANDS = 5.0

NEVER = 2.0

# What meets exactly where one piece ends and the next begins may be missed by both by this much, mm: rounding.
HAIR = 1e-9

# No corner, no edge. (int64, not int: numba would compile what it is handed to once more.)
NONE = cast(int, np.int64(-1))


@jit
def crossing(d: float, a: float, b: float, t: float) -> float:
    """The first u in [0, 1] at which d + a sin(t u)/t + b (1 - cos(t u))/t falls to zero; ``NEVER`` if none does.

    ``d`` is not negative and abs(t) less than half a circle.
    """
    # A q^2 + a q + d = 0; the smallest positive q, without a difference of two nearly equal numbers.
    A = 0.5 * b * t + 0.25 * d * t * t
    disc = a * a - 4.0 * A * d
    if disc < 0.0:
        return NEVER
    if a < 0.0:
        q = 2.0 * d / (sqrt(disc) - a)
    elif A < 0.0:
        q = (a + sqrt(disc)) / (-2.0 * A)
    else:
        return NEVER
    w = 0.5 * q * t
    u = q * (1.0 - w * w / 3.0) if abs(w) < 1e-4 else q * atan(w) / w
    return u if u <= 1.0 else NEVER


@jit
def at_edge(
    edge: Floats, e: int, x: float, y: float, hc: float, hs: float, cx: float, cy: float, s: float, t: float
) -> tuple[float, float, float]:
    """Distance of the robot's point (cx, cy) from an edge's line and the factors a and b of ``crossing``."""
    nx = edge[e, NX]
    ny = edge[e, NY]
    # The normal as the robot sees it.
    fx = hc * nx + hs * ny
    fy = hc * ny - hs * nx
    vx = s - t * cy
    vy = t * cx
    d = nx * (x - edge[e, VX]) + ny * (y - edge[e, VY]) + fx * cx + fy * cy
    return d, fx * vx + fy * vy, fy * vx - fx * vy


@jit
def along_edge(edge: Floats, e: int, x: float, y: float, hc: float, hs: float, cx: float, cy: float) -> float:
    """How far along an edge the robot's point (cx, cy) is, mm from its first corner."""
    px = x + hc * cx - hs * cy - edge[e, VX]
    py = y + hs * cx + hc * cy - edge[e, VY]
    along: float = edge[e, NX] * py - edge[e, NY] * px
    return along


@jit
def first_contact(
    alignments: Alignments, m: int, x: float, y: float, hc: float, hs: float, s: float, t: float
) -> tuple[float, int, int]:
    """When a piece first brings the footprint against what a square is pushed on: (u, corner, edge).

    The corner is a row of ``hull``, -1 if it is a corner of the obstacle that meets the footprint's side. A corner that
    stands on the edge already touches at once. ``NEVER`` if nothing touches.
    """
    what = alignments.what
    hull = alignments.hull
    edge = alignments.edge
    best = NEVER
    corner = NONE
    at = NONE
    for i in range(what[m, HULL], what[m, HULL_END]):
        cx = hull[i, VX]
        cy = hull[i, VY]
        for e in range(what[m, EDGE], what[m, EDGE_END]):
            d, a, b = at_edge(edge, e, x, y, hc, hs, cx, cy, s, t)
            if d > 0.0:
                u = crossing(d, a, b, t)
            elif d >= -STANDS and a < 0.0:
                u = 0.0
            else:
                continue
            if u >= best:
                continue
            px, py, pc, ps = moved(x, y, hc, hs, u * s, u * t)
            if -ON_EDGE <= along_edge(edge, e, px, py, pc, ps, cx, cy) <= edge[e, LEN] + ON_EDGE:
                best = u
                corner = i
                at = e
    # The obstacle's corners against the footprint's sides: seen from the robot they are carried backwards.
    for e in range(what[m, EDGE], what[m, EDGE_END]):
        dx = edge[e, VX] - x
        dy = edge[e, VY] - y
        ox = hc * dx + hs * dy
        oy = hc * dy - hs * dx
        vx = t * oy - s
        vy = -t * ox
        for i in range(what[m, HULL], what[m, HULL_END]):
            nx = hull[i, NX]
            ny = hull[i, NY]
            d = nx * (ox - hull[i, VX]) + ny * (oy - hull[i, VY])
            a = nx * vx + ny * vy
            if d > 0.0:
                u = crossing(d, a, ny * vx - nx * vy, -t)
            elif d > -HAIR and a < 0.0:
                u = 0.0
            else:
                continue
            # A corner of each at the same place is the face's own.
            if u >= best - 1e-9:
                continue
            px, py, pc, ps = moved(x, y, hc, hs, u * s, u * t)
            gx = pc * (edge[e, VX] - px) + ps * (edge[e, VY] - py) - hull[i, VX]
            gy = pc * (edge[e, VY] - py) - ps * (edge[e, VX] - px) - hull[i, VY]
            along = nx * gy - ny * gx
            if 0.0 <= along <= hull[i, LEN]:
                best = u
                corner = NONE
                at = NONE
    return best, corner, at


@jit
def off_flush(edge: Floats, e: int, hc: float, hs: float, way: int) -> float:
    """How far the heading is from flush with an edge that is driven at forwards (``way`` 1) or backwards (-1)."""
    c = -way * (hc * edge[e, NX] + hs * edge[e, NY])
    n = -way * (hs * edge[e, NX] - hc * edge[e, NY])
    return atan2(n, c)


@jit
def bears(alignments: Alignments, m: int, e: int, along: float, cy: float) -> bool:
    """Do both ends of the face lie on the edge, if its point at y = ``cy`` is ``along`` it?"""
    way = alignments.what[m, WAY]
    low = along - way * (alignments.how[m, LOW] - cy)
    high = along - way * (alignments.how[m, HIGH] - cy)
    length = alignments.edge[e, LEN] + ON_EDGE
    return bool(min(low, high) >= -ON_EDGE and max(low, high) <= length)


@jit
def over_line(alignments: Alignments, m: int, sensor: int, x: float, y: float, hc: float, hs: float) -> bool:
    """Is a sensor over the line?"""
    e0 = alignments.what[m, EDGE]
    cx = alignments.how[m, LX + 2 * sensor]
    cy = alignments.how[m, LY + 2 * sensor]
    for e in range(e0, alignments.what[m, EDGE_END]):
        d, _, _ = at_edge(alignments.edge, e, x, y, hc, hs, cx, cy, 0.0, 0.0)
        if d > 0.0:
            return False
    return True


@jit
def sees(
    alignments: Alignments,
    m: int,
    sensor: int,
    off: float,
    x: float,
    y: float,
    hc: float,
    hs: float,
    s: float,
    t: float,
) -> tuple[float, int]:
    """When a piece brings a sensor over the line, and over which of its edges: (u, edge), ``NEVER`` if it does not.

    ``off`` is how far outside the edge it sees it, mm.
    """
    edge = alignments.edge
    cx = alignments.how[m, LX + 2 * sensor]
    cy = alignments.how[m, LY + 2 * sensor]
    best = NEVER
    at = NONE
    for e in range(alignments.what[m, EDGE], alignments.what[m, EDGE_END]):
        d, a, b = at_edge(edge, e, x, y, hc, hs, cx, cy, s, t)
        if d > off:
            u = crossing(d - off, a, b, t)
        elif d > min(0.0, off) - HAIR and a < 0.0:
            # Where it sees the edge was passed before this piece, by rounding, or it looks farther than the edge.
            u = 0.0
        else:
            continue
        if u >= best:
            continue
        px, py, pc, ps = moved(x, y, hc, hs, u * s, u * t)
        if 0.0 <= along_edge(edge, e, px, py, pc, ps, cx, cy) <= edge[e, LEN]:
            best = u
            at = e
    return best, at


@jit
def next_look(way: float, step: float, phase: float) -> float:
    """The way driven at the first look at or after ``way``; looks are ``step`` mm apart, ``phase`` of one to begin."""
    return max(way, (ceil(way / step - phase) + phase) * step)


@jit
def uniform(z: float) -> float:
    """A standard normal number as one between 0 and 1."""
    return 0.5 * (1.0 + erf(z / sqrt(2.0)))
