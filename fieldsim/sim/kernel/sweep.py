r"""Exact clearance of a convex polygon in rigid rotation.

A *piece* of driving takes the robot frame along a circular arc of signed length ``s`` while its heading changes by
``t`` (radians), both in proportion to a fraction u from 0 to 1. It is one rigid rotation about the instantaneous
centre, which stands still both in the field and in the robot frame, at (0, s/t) in the latter. So in the robot frame
the footprint A stands still and a convex obstacle O turns about that point by -t; every formula below is written
there. What is wanted is

    D = min over u of dist(A, O(u)),        zero if they touch or overlap at any u.

With c the centre and rho(x) = |x - c|, D is attained in one of three ways:

*   at an end, u = 0 or 1: the distance of two convex polygons at rest;
*   at an inner u where the distance is stationary. The closest points x of A and y of O then have a connecting line
    through c (their relative velocity is square to the radius), so y passes x's direction from c during the piece,
    and the distance is abs(rho(x) - rho(y)). Each of x and y is a vertex, or the foot of c on an edge: those are the
    only points of an outline at which the connecting line can be square to it. (Two feet, or a pair that is not the
    closest, does no harm: it is a distance that really occurs, so it can only be too large.)
*   as zero, because the outlines cross in between: then a vertex of one passes through an edge of the other, and a
    circle about c meets a segment within the arc that was driven.

No time step anywhere. Turns of half a circle and more are driven as several pieces (``parts_of_turn``).

Near-straight pieces have a far centre (1e12 mm at the smallest turn kept). Therefore no difference of two radii or of
two large coordinates is ever taken: rho(x) - rho(y) = (x - y).(x + y - 2c) / (rho(x) + rho(y)), and likewise in the
circle's quadratic. A straight is the limit t -> 0 of the same code.

**Certificates.** Most pairs need none of this. Any direction n separates the shapes by at least
``min over O of n.y - max over the sweep of n.x``, and the maximum over the sweep of a vertex is exact: an end, or the
top of its arc. If the pair of features that was closest in the plan gives the direction, this bound is nearly always
attained, and then it *is* the distance (``axis_gap``); if not, it is still a bound that may show that the pair cannot
matter.
"""

from __future__ import annotations

from math import cos, inf, pi, sin, sqrt
from typing import cast

import numpy as np
from numpy.typing import ArrayLike

from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.shapes import LEN, NX, NY, VX, VY, Floats, Shapes, shapes

# Two outlines this close touch, mm. Far below anything a tape can settle, far above float error on a 20 m field; a
# smaller value lets exact contacts (a flat face on a wall) flicker.
TOUCH = 1e-5

# Turns are taken to be at least this many radians: a smaller one moves nothing by 1e-8 mm, while
# differences of radii, never taken as such, keep their precision however far the centre is.
LEAST_TURN = 1e-12

# A certificate may miss its bound by this much, mm: rounding in sums of a few products of some 1000 mm.
CERTAIN = 1e-9

# With less turn than this the centre is too far away (1e8 mm) to tell where on its arc a vertex is, to 1e-7 mm.
FAR_CENTRE = 1e-6

# "Not known to be apart", for ``sweep``.
UNKNOWN = cast(bool, np.bool_(False))

# What the two closest features are, and when: how an answer can be proved again in a trial.
OVERLAP = 0
FIELD_EDGE = 1  # edge j of the obstacle faces a vertex
ROBOT_EDGE_START = 2  # edge i of the footprint faces a vertex, at the piece's start
ROBOT_EDGE_END = 3
CORNERS_START = 4  # vertex i faces vertex j
CORNERS_END = 5
RADIAL = 6  # on a line through the centre, footprint inside, vertex j outside
UNPROVED = 7  # anything else: measured in full each time


@jit
def sin_cos(v: float) -> tuple[float, float]:
    """sin(v), cos(v): by series where veering straights need them, to the last bit or two."""
    if abs(v) < 0.05:
        q = v * v
        return (
            v * (1.0 - q / 6.0 * (1.0 - q / 20.0 * (1.0 - q / 42.0 * (1.0 - q / 72.0)))),
            1.0 - q / 2.0 * (1.0 - q / 12.0 * (1.0 - q / 30.0 * (1.0 - q / 56.0))),
        )
    return sin(v), cos(v)


@jit
def moved(x: float, y: float, hc: float, hs: float, s: float, t: float) -> tuple[float, float, float, float]:
    """The pose after a piece: (x, y, cos h, sin h) -> the same. sin(t/2)/(t/2) keeps it exact for any turn.

    Source: Siegwart & Nourbakhsh, Introduction to Autonomous Mobile Robots, 2004, sec. 5.2.4, with the chord
    s sinc(t/2) in place of s (exact for constant wheel speeds).
    """
    ws, wc = sin_cos(0.5 * t)
    chord = s * (1.0 if t == 0.0 else ws / (0.5 * t))
    mc = hc * wc - hs * ws
    ms = hs * wc + hc * ws
    return x + chord * mc, y + chord * ms, mc * wc - ms * ws, ms * wc + mc * ws


@jit
def least(t: float) -> float:
    """The turn, kept away from zero."""
    if abs(t) >= LEAST_TURN:
        return t
    return LEAST_TURN if t >= 0.0 else -LEAST_TURN


@jit
def into_robot(O: Floats, o0: int, k: int, x: float, y: float, hc: float, hs: float, work: Floats, row: int) -> None:
    """Write an obstacle's corners as the robot sees them into rows ``row`` and ``row + 1`` of ``work``."""
    for j in range(k):
        dx = O[o0 + j, VX] - x
        dy = O[o0 + j, VY] - y
        work[row, j] = hc * dx + hs * dy
        work[row + 1, j] = hc * dy - hs * dx


@jit
def standing(
    A: Floats, a0: int, m: int, O: Floats, o0: int, k: int, hc: float, hs: float, work: Floats, row: int
) -> tuple[float, int, int, int]:
    """Distance of the footprint to the obstacle in rows ``row``, ``row + 1``, both at rest: (distance, kind, i, j).

    Separating axes first: the best of all edge normals is the distance wherever a vertex faces that edge. Otherwise two
    vertices face each other (or an edge that ties), and all vertices are held against all edges.
    """
    best = -inf
    kind = UNPROVED
    bi = 0
    bj = 0
    if m > 1:
        for i in range(m):
            nx = A[a0 + i, NX]
            ny = A[a0 + i, NY]
            low = inf
            at = 0
            for j in range(k):
                h = nx * work[row, j] + ny * work[row + 1, j]
                if h < low:
                    low = h
                    at = j
            low -= nx * A[a0 + i, VX] + ny * A[a0 + i, VY]
            if low > best:
                best = low
                kind = ROBOT_EDGE_START
                bi = i
                bj = at
    if k > 1:
        for j in range(k):
            nx = hc * O[o0 + j, NX] + hs * O[o0 + j, NY]
            ny = hc * O[o0 + j, NY] - hs * O[o0 + j, NX]
            low = inf
            at = 0
            for i in range(m):
                h = nx * A[a0 + i, VX] + ny * A[a0 + i, VY]
                if h < low:
                    low = h
                    at = i
            low -= nx * work[row, j] + ny * work[row + 1, j]
            if low > best:
                best = low
                kind = FIELD_EDGE
                bi = at
                bj = j
    if best <= 0.0 and (m > 1 or k > 1):
        # Touching or overlapping, unless both are so thin that no edge normal tells their ends apart (two segments on
        # one line, a point on a segment's line): then the vertices below decide.
        if m > 2 or k > 2 or best < 0.0:
            return 0.0, OVERLAP, bi, bj
    elif kind == ROBOT_EDGE_START:
        tx = -A[a0 + bi, NY]
        ty = A[a0 + bi, NX]
        along = tx * (work[row, bj] - A[a0 + bi, VX]) + ty * (work[row + 1, bj] - A[a0 + bi, VY])
        if 0.0 <= along <= A[a0 + bi, LEN]:
            return best, kind, bi, bj
    elif kind == FIELD_EDGE:
        nx = hc * O[o0 + bj, NX] + hs * O[o0 + bj, NY]
        ny = hc * O[o0 + bj, NY] - hs * O[o0 + bj, NX]
        along = -ny * (A[a0 + bi, VX] - work[row, bj]) + nx * (A[a0 + bi, VY] - work[row + 1, bj])
        if 0.0 <= along <= O[o0 + bj, LEN]:
            return best, kind, bi, bj
    square = inf
    for i in range(m):
        px = A[a0 + i, VX]
        py = A[a0 + i, VY]
        tx = -A[a0 + i, NY]
        ty = A[a0 + i, NX]
        for j in range(k):
            dx = work[row, j] - px
            dy = work[row + 1, j] - py
            d = dx * dx + dy * dy
            if d < square:
                square = d
                kind = CORNERS_START
                bi = i
                bj = j
            along = tx * dx + ty * dy
            if 0.0 < along < A[a0 + i, LEN]:
                off = dx * ty - dy * tx
                if off * off < square:
                    square = off * off
                    kind = ROBOT_EDGE_START
                    bi = i
                    bj = j
    for j in range(k):
        nx = hc * O[o0 + j, NX] + hs * O[o0 + j, NY]
        ny = hc * O[o0 + j, NY] - hs * O[o0 + j, NX]
        for i in range(m):
            dx = A[a0 + i, VX] - work[row, j]
            dy = A[a0 + i, VY] - work[row + 1, j]
            along = -ny * dx + nx * dy
            if 0.0 < along < O[o0 + j, LEN]:
                off = nx * dx + ny * dy
                if off * off < square:
                    square = off * off
                    kind = FIELD_EDGE
                    bi = i
                    bj = j
    return sqrt(square), kind, bi, bj


@jit
def _passes(ux: float, uy: float, vx: float, vy: float, cy: float, px: float, py: float) -> bool:
    """Is p, seen from the centre (0, cy), within the counter-clockwise arc from u to v, shorter than half a turn?"""
    return ux * (py - uy) - (uy - cy) * (px - ux) >= 0.0 and (px - vx) * (vy - cy) - (py - vy) * vx >= 0.0


@jit
def _arc_meets(
    ux: float, uy: float, vx: float, vy: float, cy: float, px: float, py: float, qx: float, qy: float
) -> bool:
    """Does the arc from u to v about (0, cy) meet the segment from p to q?"""
    ex = qx - px
    ey = qy - py
    aa = ex * ex + ey * ey
    if aa == 0.0:
        return False
    bb = ex * px + ey * (py - cy)
    cc = (px - ux) * (px + ux) + (py - uy) * (py + uy - 2.0 * cy)
    disc = bb * bb - aa * cc
    if disc < 0.0:
        return False
    q = -(bb + sqrt(disc)) if bb >= 0.0 else sqrt(disc) - bb
    for root in range(2):
        if root == 0:
            w = q / aa
        elif q != 0.0:
            w = cc / q
        else:
            return False
        if 0.0 <= w <= 1.0 and _passes(ux, uy, vx, vy, cy, px + w * ex, py + w * ey):
            return True
    return False


# Rows of the workspace, in the robot frame: the obstacle at the start and at the end of the piece (its vertices, then
# the feet of the centre on its edges), and the footprint's vertices and feet with their radii.
# (int64, not int: numba would compile what they are handed to once more for each constant.)
AT_START = cast(int, np.int64(0))
AT_END = cast(int, np.int64(2))
ROBOT = 4
RADII = 6
EDGE = 7  # of a foot: the obstacle's edge it stands on
ROWS = 8


@jit
def sweep(
    A: Floats,
    a0: int,
    m: int,
    O: Floats,
    o0: int,
    k: int,
    x: float,
    y: float,
    hc: float,
    hs: float,
    ex: float,
    ey: float,
    ec: float,
    es: float,
    s: float,
    t: float,
    apart: bool,
    work: Floats,
) -> tuple[float, int, int, int]:
    """D of one piece, |t| < pi, for the obstacle's core (its rounding radius is the caller's): (D, kind, i, j).

    ``x, y, hc, hs`` and ``ex, ey, ec, es`` are the poses at the start and at the end. ``apart`` tells that a separating
    direction is known already, so that nothing needs to be held against crossing.
    ``work`` is (ROWS, 2 (largest number of vertices + 1)) and is overwritten.
    """
    t = least(t)
    into_robot(O, o0, k, x, y, hc, hs, work, AT_START)
    into_robot(O, o0, k, ex, ey, ec, es, work, AT_END)
    best, kind, bi, bj = standing(A, a0, m, O, o0, k, hc, hs, work, AT_START)
    if best <= 0.0:
        return best, kind, bi, bj
    d, d_kind, di, dj = standing(A, a0, m, O, o0, k, ec, es, work, AT_END)
    if d <= 0.0:
        return d, d_kind, di, dj
    if d < best:
        best = d
        kind = d_kind
        bi = di
        bj = dj
        if kind in (ROBOT_EDGE_START, CORNERS_START):
            kind += 1

    if abs(t) <= LEAST_TURN and abs(s) <= 1e-9:
        # Standing still: an arc of no length would be passed by whatever lies on the centre's far side, too.
        return best, kind, bi, bj

    # The end pose as seen from the start: rotation by t about (0, cy).
    cy = s / t
    dx = hc * (ex - x) + hs * (ey - y)
    dy = hc * (ey - y) - hs * (ex - x)
    tc = ec * hc + es * hs
    ts = es * hc - ec * hs
    mm = m
    for i in range(m):
        work[ROBOT, i] = A[a0 + i, VX]
        work[ROBOT + 1, i] = A[a0 + i, VY]
        fx = -A[a0 + i, NY]
        fy = A[a0 + i, NX]
        along = -fx * A[a0 + i, VX] + fy * (cy - A[a0 + i, VY])
        if 0.0 < along < A[a0 + i, LEN]:
            work[ROBOT, mm] = A[a0 + i, VX] + along * fx
            work[ROBOT + 1, mm] = A[a0 + i, VY] + along * fy
            mm += 1
    kk = k
    for j in range(k):
        fx = -(hc * O[o0 + j, NY] - hs * O[o0 + j, NX])
        fy = hc * O[o0 + j, NX] + hs * O[o0 + j, NY]
        along = -fx * work[AT_START, j] + fy * (cy - work[AT_START + 1, j])
        if 0.0 < along < O[o0 + j, LEN]:
            px = work[AT_START, j] + along * fx
            py = work[AT_START + 1, j] + along * fy
            work[AT_START, kk] = px
            work[AT_START + 1, kk] = py
            work[AT_END, kk] = tc * (px - dx) + ts * (py - dy)
            work[AT_END + 1, kk] = tc * (py - dy) - ts * (px - dx)
            work[EDGE, kk] = j
            kk += 1
    # The obstacle turns by -t: its counter-clockwise arcs run from u to v.
    u = AT_END if t > 0.0 else AT_START
    v = AT_START if t > 0.0 else AT_END
    for i in range(mm):
        work[RADII, i] = sqrt(work[ROBOT, i] ** 2 + (work[ROBOT + 1, i] - cy) ** 2)
    for j in range(kk):
        ox = work[AT_START, j]
        oy = work[AT_START + 1, j]
        rho = sqrt(ox * ox + (oy - cy) ** 2)
        for i in range(mm):
            px = work[ROBOT, i]
            py = work[ROBOT + 1, i]
            if not _passes(work[u, j], work[u + 1, j], work[v, j], work[v + 1, j], cy, px, py):
                continue
            both = rho + work[RADII, i]
            d = 0.0
            if both > 0.0:
                d = ((ox - px) * (ox + px) + (oy - py) * (oy + py - 2.0 * cy)) / both
            if abs(d) < best:
                best = abs(d)
                bi = i
                bj = j
                kind = UNPROVED
                if d > 0.0 and j < k:
                    kind = RADIAL
                elif d > 0.0:
                    kind = FIELD_EDGE
                    bj = int(work[EDGE, j])
    if apart or best <= 0.0:
        return best, kind, bi, bj

    for j in range(k):
        for i in range(m):
            i2 = i + 1 if i + 1 < m else 0
            if m > 1 and _arc_meets(
                work[u, j], work[u + 1, j], work[v, j], work[v + 1, j], cy,
                work[ROBOT, i], work[ROBOT + 1, i], work[ROBOT, i2], work[ROBOT + 1, i2],
            ):  # fmt: skip
                return 0.0, OVERLAP, i, j
            # Seen from the obstacle the footprint turns by +t, from (px, py) to (qx, qy).
            px = work[ROBOT, i]
            py = work[ROBOT + 1, i]
            qx = dx + tc * px - ts * py
            qy = dy + ts * px + tc * py
            if t < 0.0:
                px, qx = qx, px
                py, qy = qy, py
            j2 = j + 1 if j + 1 < k else 0
            if k > 1 and _arc_meets(
                px, py, qx, qy, cy,
                work[AT_START, j], work[AT_START + 1, j], work[AT_START, j2], work[AT_START + 1, j2],
            ):  # fmt: skip
                return 0.0, OVERLAP, i, j
    return best, kind, bi, bj


@jit
def axis_gap(
    A: Floats,
    a0: int,
    m: int,
    O: Floats,
    o0: int,
    k: int,
    x: float,
    y: float,
    hc: float,
    hs: float,
    x1: float,
    y1: float,
    ec: float,
    es: float,
    s: float,
    t: float,
    kind: int,
    wi: int,
    wj: int,
) -> tuple[float, bool]:
    """How far features (kind, i, j) hold the sweep and the core apart: (bound, proved).

    The bound is never larger than D; ``proved`` tells that it is D. ``x1, y1, ec, es`` is the pose at the piece's end.
    """
    # The rotation from the start to the end.
    tc = ec * hc + es * hs
    ts = es * hc - ec * hs
    # The axle's middle at the end, as seen from the start.
    ex = hc * (x1 - x) + hs * (y1 - y)
    ey = hc * (y1 - y) - hs * (x1 - x)
    # The chosen direction as the robot sees it: (fx, fy) at the start, (gx, gy) at the end.
    fx = 0.0
    fy = 0.0
    distance = 0.0
    if kind == FIELD_EDGE:
        fx = -(hc * O[o0 + wj, NX] + hs * O[o0 + wj, NY])
        fy = -(hc * O[o0 + wj, NY] - hs * O[o0 + wj, NX])
    elif kind == ROBOT_EDGE_START:
        fx = A[a0 + wi, NX]
        fy = A[a0 + wi, NY]
    elif kind == ROBOT_EDGE_END:
        fx = tc * A[a0 + wi, NX] - ts * A[a0 + wi, NY]
        fy = ts * A[a0 + wi, NX] + tc * A[a0 + wi, NY]
    elif kind in (CORNERS_START, CORNERS_END):
        px = A[a0 + wi, VX]
        py = A[a0 + wi, VY]
        if kind == CORNERS_END:
            px, py = ex + tc * px - ts * py, ey + ts * px + tc * py
        dx = O[o0 + wj, VX] - x
        dy = O[o0 + wj, VY] - y
        fx = hc * dx + hs * dy - px
        fy = hc * dy - hs * dx - py
        distance = sqrt(fx * fx + fy * fy)
        if distance <= 0.0:
            return 0.0, False
        fx /= distance
        fy /= distance
    elif kind == RADIAL:
        if abs(t) < FAR_CENTRE:
            return 0.0, False
        dx = O[o0 + wj, VX] - x
        dy = O[o0 + wj, VY] - y
        fx = hc * dx + hs * dy
        fy = hc * dy - hs * dx - s / t
        distance = sqrt(fx * fx + fy * fy)
        if distance <= 0.0:
            return 0.0, False
        fx /= distance
        fy /= distance
    else:
        return 0.0, False
    gx = tc * fx + ts * fy
    gy = tc * fy - ts * fx

    # The obstacle's support, relative to the start of the robot frame.
    wx = hc * fx - hs * fy
    wy = hs * fx + hc * fy
    low = inf
    low_at = 0
    if kind == FIELD_EDGE:
        low = wx * O[o0 + wj, VX] + wy * O[o0 + wj, VY]
    else:
        for j in range(k):
            h = wx * O[o0 + j, VX] + wy * O[o0 + j, VY]
            if h < low:
                low = h
                low_at = j
    low -= wx * x + wy * y

    # The sweep's support: each vertex at the start, at the end, or at the top of its arc in between.
    away = fx * ex + fy * ey
    top = -inf
    top_at = 0
    top_when = 0
    for i in range(m):
        ax = A[a0 + i, VX]
        ay = A[a0 + i, VY]
        h0 = fx * ax + fy * ay
        h1 = away + gx * ax + gy * ay
        h = h0
        when = 0
        if h1 > h:
            h = h1
            when = 1
        v0 = fx * (s - t * ay) + fy * t * ax
        v1 = gx * (s - t * ay) + gy * t * ax
        if v0 > 0.0 and v1 < 0.0:
            tr = sqrt((t * ax) ** 2 + (t * ay - s) ** 2)
            h = h0 + v0 * v0 / (abs(t) * tr + t * (fx * t * ax + fy * (t * ay - s)))
            when = 2
        if h > top:
            top = h
            top_at = i
            top_when = when
    bound = low - top
    if bound <= 0.0:
        return bound, False

    if kind == FIELD_EDGE:
        if top_when == 2 and abs(t) < FAR_CENTRE:
            return bound, False
        px = A[a0 + top_at, VX]
        py = A[a0 + top_at, VY]
        if top_when == 1:
            px, py = ex + tc * px - ts * py, ey + ts * px + tc * py
        elif top_when == 2:
            rho = sqrt(px * px + (py - s / t) ** 2)
            px = rho * fx
            py = s / t + rho * fy
        dx = x + hc * px - hs * py - O[o0 + wj, VX]
        dy = y + hs * px + hc * py - O[o0 + wj, VY]
        along = -O[o0 + wj, NY] * dx + O[o0 + wj, NX] * dy
        return bound, 0.0 <= along <= O[o0 + wj, LEN]
    if kind in (ROBOT_EDGE_START, ROBOT_EDGE_END):
        own = fx * A[a0 + wi, VX] + fy * A[a0 + wi, VY]
        if kind == ROBOT_EDGE_END:
            own = away + gx * A[a0 + wi, VX] + gy * A[a0 + wi, VY]
        if top - own > CERTAIN:
            return bound, False
        dx = O[o0 + low_at, VX] - x
        dy = O[o0 + low_at, VY] - y
        px = hc * dx + hs * dy
        py = hc * dy - hs * dx
        if kind == ROBOT_EDGE_END:
            px, py = tc * (px - ex) + ts * (py - ey), tc * (py - ey) - ts * (px - ex)
        along = -A[a0 + wi, NY] * (px - A[a0 + wi, VX]) + A[a0 + wi, NX] * (py - A[a0 + wi, VY])
        return bound, 0.0 <= along <= A[a0 + wi, LEN]
    if kind == RADIAL:
        return bound, top_when == 2 and low_at == wj
    return bound, distance - bound <= CERTAIN


@jit
def parts_of_turn(t: float) -> int:
    """Into how many equal pieces a turn is cut, so that each is well under half a circle."""
    return 1 + int(abs(t) / (0.75 * pi))


@jit
def swept_distance(
    A: Floats,
    a0: int,
    m: int,
    O: Floats,
    o0: int,
    k: int,
    x: float,
    y: float,
    hc: float,
    hs: float,
    s: float,
    t: float,
    work: Floats,
) -> float:
    """D for a turn of any size."""
    n = parts_of_turn(t)
    best = inf
    for _ in range(n):
        ex, ey, ec, es = moved(x, y, hc, hs, s / n, t / n)
        d, _, _, _ = sweep(A, a0, m, O, o0, k, x, y, hc, hs, ex, ey, ec, es, s / n, t / n, UNKNOWN, work)
        best = min(best, d)
        x = ex
        y = ey
        hc = ec
        hs = es
    return best


def workspace(*kinds: Shapes) -> Floats:
    """Scratch rows for ``sweep``, wide enough for every shape and the feet on its edges."""
    widest = max((int(np.diff(kind.start).max()) for kind in kinds if len(kind.start) > 1), default=1)
    return np.zeros((ROWS, 2 * widest + 2))


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
    A = shapes([polygon])
    O = shapes([core], [radius])
    x, y, h = pose
    d = float(
        swept_distance(
            A.corner, 0, len(A.corner), O.corner, 0, len(O.corner), x, y, cos(h), sin(h), s, t, workspace(A, O)
        )
    )
    return 0.0 if d - radius <= TOUCH else d - radius
