"""One trial after another: drive the pieces with the drawn numbers, measure what the body comes close to.

What makes this fast is not the arithmetic but what is left out, and it must be left out safely:

*   **Against the reference run.** The clearance of every entry (piece, part, core) is known exactly on a reference
    path. No point of the footprint can be farther from its place there than ``bound`` (see ``drive``), so the entry's
    clearance in this trial is at least the reference's less that bound. An entry is skipped when that shows that it can
    neither touch nor lower its obstacle's or its segment's smallest clearance so far. Segment by segment the entries
    come tightest first, so the rest of a segment is dropped at once.
*   **By certificate.** What is left is usually proved by one direction (``sweep.axis_gap``); only the remainder is
    measured in full.

Both are bounds for any drawn numbers, however absurd: the answers do not depend on the reference path.

The bound of a piece: both robots are rotated rigidly at constant rates over the same fraction u. The distance of the
two axle middles at u is at most the larger of the two joints' plus 1/8 of the largest second derivative of the
difference, abs(s t n(h) - s' t' n(h')) <= abs(s t - s' t') + abs(s' t') abs(h - h') (linear interpolation error; any
calculus text). A footprint point at most ``reach`` from the axle's middle adds at most reach abs(h - h'), and h - h' is
linear in u, so largest at a joint.
"""

from __future__ import annotations

from math import cos, inf, sin, sqrt

import numpy as np

from fieldsim.kernel.course import Course, Reference, Wheels
from fieldsim.kernel.jit import jit
from fieldsim.kernel.shapes import Floats, Ints, Shapes
from fieldsim.kernel.sweep import (
    AT_START,
    CORNERS_START,
    FIELD_EDGE,
    ROBOT_EDGE_START,
    ROWS,
    TOUCH,
    axis_gap,
    into_robot,
    moved,
    parts_of_turn,
    sin_cos,
    standing,
    sweep,
    swept_distance,
)

# A robot at rest against something is judged this leniently, mm, until it has been this far from it: placing errors
# would otherwise push it into what it stands against. Well above a jig's repeatability, well below a wheel's track.
LET_OFF = 2.0

# While waiting for a robot to come clear, look again after at least this much motion, mm.
LOOK_AGAIN = 0.05

# Rows of the path's workspace: per joint x, y, cos and sin of the heading, heading; per piece travel, turn, and the two
# parts of the bound (mm, and radians to be multiplied by a part's reach).
X, Y, HC, HS, H, S, T, OFF, SWING = range(9)


@jit
def drive(wheels: Wheels, reference: Reference, z: Floats, trial: int, path: Floats) -> None:
    """The path of one trial, from column ``trial`` of the drawn numbers ``z``, and its bounds, into ``path``."""
    distance = wheels.bias[0] + wheels.day[0] * z[3, trial]
    veer = wheels.bias[1] + wheels.day[1] * z[4, trial]
    turn = wheels.bias[2] + wheels.day[2] * z[5, trial]
    # The mean of both wheel scales, the actual track, and the wheel scales themselves: see fieldsim.drivetrain.
    mean = 1.0 + distance
    track = wheels.track * mean / (1.0 + turn)
    left = mean - 0.5 * veer * track
    right = mean + 0.5 * veer * track

    along = wheels.spread[0] * z[0, trial]
    across = wheels.spread[1] * z[1, trial]
    h0 = wheels.start[2]
    c0 = cos(h0)
    s0 = sin(h0)
    h = h0 + wheels.spread[2] * z[2, trial]
    hc = cos(h)
    hs = sin(h)
    kx = wheels.held[0]
    ky = wheels.held[1]
    x = wheels.start[0] + (c0 - hc) * kx - (s0 - hs) * ky + c0 * along - s0 * across
    y = wheels.start[1] + (s0 - hs) * kx + (c0 - hc) * ky + s0 * along + c0 * across

    off0 = sqrt((x - reference.x[0]) ** 2 + (y - reference.y[0]) ** 2)
    swing0 = abs(h - reference.h[0])
    count = wheels.left.shape[0]
    for p in range(count):
        path[X, p] = x
        path[Y, p] = y
        path[HC, p] = hc
        path[HS, p] = hs
        path[H, p] = h
        s = 0.5 * (right * wheels.right[p] + left * wheels.left[p])
        t = (right * wheels.right[p] - left * wheels.left[p]) / track
        for q in range(wheels.term[p], wheels.term[p + 1]):
            n = z[wheels.row[q], trial]
            s += wheels.along[q] * n
            t += wheels.turn[q] * n
        path[S, p] = s
        path[T, p] = t
        x, y, hc, hs = moved(x, y, hc, hs, s, t)
        h += t
        off1 = sqrt((x - reference.x[p + 1]) ** 2 + (y - reference.y[p + 1]) ** 2)
        swing1 = abs(h - reference.h[p + 1])
        swing = max(swing0, swing1)
        bend = reference.s[p] * reference.t[p]
        path[OFF, p] = max(off0, off1) + 0.125 * (abs(s * t - bend) + abs(bend) * swing)
        path[SWING, p] = swing
        off0 = off1
        swing0 = swing1
    path[X, count] = x
    path[Y, count] = y
    path[HC, count] = hc
    path[HS, count] = hs
    path[H, count] = h


@jit
def pose_in(path: Floats, p: int, u: float):  # type: ignore[no-untyped-def]
    """The pose at fraction u of a piece."""
    if u <= 0.0:
        return path[X, p], path[Y, p], path[HC, p], path[HS, p]
    return moved(path[X, p], path[Y, p], path[HC, p], path[HS, p], u * path[S, p], u * path[T, p])


@jit
def travel(A: Shapes, a: int, s: float, t: float) -> float:
    """How far the fastest vertex of a part drives in a piece, mm."""
    far = 0.0
    for v in range(A.start[a], A.start[a + 1]):
        far = max(far, (s - t * A.y[v]) ** 2 + (t * A.x[v]) ** 2)
    return sqrt(far)


@jit
def gap_at(A: Shapes, a: int, O: Shapes, o: int, path: Floats, p: int, u: float, work: Floats) -> float:
    """Gap at rest at fraction u of a piece."""
    x, y, hc, hs = pose_in(path, p, u)
    into_robot(O, o, x, y, hc, hs, work, AT_START)
    d, _, _, _ = standing(A, a, O, o, hc, hs, work, AT_START)
    return d - O.radius[o]


@jit
def gap_between(
    A: Shapes, a: int, O: Shapes, o: int, path: Floats, p: int, u0: float, u1: float, work: Floats
) -> float:
    """Smallest gap between fractions u0 and u1 of a piece."""
    x, y, hc, hs = pose_in(path, p, u0)
    w = u1 - u0
    return swept_distance(A, a, O, o, x, y, hc, hs, w * path[S, p], w * path[T, p], work) - O.radius[o]


@jit
def first_touch(
    A: Shapes, a: int, O: Shapes, o: int, path: Floats, p: int, u0: float, u1: float, work: Floats
) -> float:
    """The first fraction from u0 on at which the gap is no more than ``TOUCH``; it is, somewhere up to u1.

    First by conservative advancement (Mirtich, Impulse-based Dynamic Simulation, 1996, from memory): nothing can touch
    before the fastest vertex has driven the gap. Grazing contacts make that slow; those are finished by bisection of
    the exact smallest gap.
    """
    far = travel(A, a, path[S, p], path[T, p])
    if far <= 0.0:
        return u0
    for _ in range(30):
        gap = gap_at(A, a, O, o, path, p, u0, work)
        if gap <= TOUCH or u0 >= u1:
            return min(u0, u1)
        u0 = min(u1, u0 + gap / far)
    low = u0
    high = u1
    while (high - low) * far > 0.5 * TOUCH:
        middle = 0.5 * (low + high)
        if middle <= low or middle >= high:
            break
        if gap_between(A, a, O, o, path, p, low, middle, work) <= TOUCH:
            high = middle
        else:
            low = middle
    return high


@jit
def contact_point(A: Shapes, a: int, O: Shapes, o: int, path: Floats, p: int, u: float, work: Floats):  # type: ignore[no-untyped-def]
    """Where they touch, field frame."""
    x, y, hc, hs = pose_in(path, p, u)
    k = into_robot(O, o, x, y, hc, hs, work, AT_START)
    _, kind, i, j = standing(A, a, O, o, hc, hs, work, AT_START)
    first = A.start[a]
    m = A.start[a + 1] - first
    if kind == FIELD_EDGE or kind == CORNERS_START:
        px = A.x[first + i]
        py = A.y[first + i]
    elif kind == ROBOT_EDGE_START:
        # The foot of the obstacle's vertex on the footprint's edge.
        ox = work[AT_START, j]
        oy = work[AT_START + 1, j]
        nx = A.nx[first + i]
        ny = A.ny[first + i]
        away = nx * (ox - A.x[first + i]) + ny * (oy - A.y[first + i])
        px = ox - away * nx
        py = oy - away * ny
    else:
        # They overlap (only a start can): the middle of the vertices that lie in the other shape, else of both shapes.
        px = 0.0
        py = 0.0
        found = 0
        for v in range(k):
            inside = True
            for e in range(m):
                if A.nx[first + e] * (work[AT_START, v] - A.x[first + e]) + A.ny[first + e] * (
                    work[AT_START + 1, v] - A.y[first + e]
                ) > 0.0:
                    inside = False
            if inside:
                px += work[AT_START, v]
                py += work[AT_START + 1, v]
                found += 1
        for v in range(m):
            inside = k > 2
            for e in range(k):
                nx = hc * O.nx[O.start[o] + e] + hs * O.ny[O.start[o] + e]
                ny = hc * O.ny[O.start[o] + e] - hs * O.nx[O.start[o] + e]
                if nx * (A.x[first + v] - work[AT_START, e]) + ny * (A.y[first + v] - work[AT_START + 1, e]) > 0.0:
                    inside = False
            if inside:
                px += A.x[first + v]
                py += A.y[first + v]
                found += 1
        if found == 0:
            found = k + m
            for v in range(k):
                px += work[AT_START, v]
                py += work[AT_START + 1, v]
            for v in range(m):
                px += A.x[first + v]
                py += A.y[first + v]
        px /= found
        py /= found
    return x + hc * px - hs * py, y + hs * px + hc * py


@jit
def rest_until_clear(course: Course, r: int, path: Floats, work: Floats):  # type: ignore[no-untyped-def]
    """Follow a robot that stands against an obstacle until it has come clear of it.

    Returns (last piece judged here, touched piece or P, fraction, part, core, soft). While it rests, a contact is one
    that is deeper than the let-off: the shrunk part touches. In the rest of the piece in which it comes clear it is
    judged like anywhere else.
    """
    rests = course.rests
    pairs = course.pairs
    none = course.wheels.left.shape[0]
    o = rests.obstacle[r]
    last = rests.until[r] - 1
    for p in range(rests.piece[r], rests.until[r]):
        far = 0.0
        for q in range(pairs.first[o], pairs.first[o + 1]):
            far = max(far, travel(course.parts, pairs.part[q], path[S, p], path[T, p]))
        u = 0.0
        clear = False
        while True:
            gap = inf
            for q in range(pairs.first[o], pairs.first[o + 1]):
                gap = min(gap, gap_at(course.parts, pairs.part[q], course.cores, pairs.core[q], path, p, u, work))
            if gap >= LET_OFF - 1e-3:
                clear = True
                break
            if u >= 1.0 or far <= 0.0:
                break
            u = min(1.0, u + max(LET_OFF - gap, LOOK_AGAIN) / far)
        # The earliest contact of all pairs, either too deep before it came clear or any after.
        at = inf
        part = -1
        core = -1
        soft = False
        if rests.let_off[r] < inf:
            for q in range(pairs.first[o], pairs.first[o + 1]):
                a = pairs.part[q]
                c = pairs.core[q]
                if gap_between(course.soft, a, course.cores, c, path, p, 0.0, u, work) <= TOUCH:
                    w = first_touch(course.soft, a, course.cores, c, path, p, 0.0, u, work)
                    if w < at:
                        at = w
                        part = a
                        core = c
                        soft = True
        if clear and at == inf:
            for q in range(pairs.first[o], pairs.first[o + 1]):
                a = pairs.part[q]
                c = pairs.core[q]
                if gap_between(course.parts, a, course.cores, c, path, p, u, 1.0, work) <= TOUCH:
                    w = first_touch(course.parts, a, course.cores, c, path, p, u, 1.0, work)
                    if w < at:
                        at = w
                        part = a
                        core = c
        if at < inf:
            return p, p, at, part, core, soft
        if clear:
            return p, none, inf, -1, -1, False
    return last, none, inf, -1, -1, False


@jit
def entry_gap(course: Course, e: int, path: Floats, enough: float, work: Floats) -> float:
    """The exact gap of an entry in this trial, negative where deeper than the core; inf if it is at least ``enough``."""
    entries = course.entries
    p = entries.piece[e]
    a = entries.part[e]
    c = entries.core[e]
    s = path[S, p]
    t = path[T, p]
    radius = course.cores.radius[c]
    if parts_of_turn(t) > 1:
        return gap_between(course.parts, a, course.cores, c, path, p, 0.0, 1.0, work)
    bound, proved = axis_gap(
        course.parts, a, course.cores, c, path[X, p], path[Y, p], path[HC, p], path[HS, p],
        path[HC, p + 1], path[HS, p + 1], s, t, entries.kind[e], entries.i[e], entries.j[e],
    )  # fmt: skip
    gap = bound - radius
    if proved:
        return gap
    if gap > TOUCH and gap >= enough:
        return inf
    d, _, _, _ = sweep(
        course.parts, a, course.cores, c, path[X, p], path[Y, p], path[HC, p], path[HS, p], s, t, bound > 0.0, work
    )
    return d - radius


class Scratch:
    """One thread's workspace and results for a block of trials: reused, since fresh memory pages cost time."""

    def __init__(self, course: Course, columns: int, trials: int) -> None:
        pieces = len(course.wheels.left)
        segments = len(course.wheels.piece) - 1
        widest = max(
            int(np.diff(kind.start).max()) for kind in (course.parts, course.soft, course.cores) if len(kind.start) > 1
        )
        self.path = np.zeros((9, pieces + 1))
        self.work = np.zeros((ROWS, 2 * widest + 2))
        self.done = np.full(len(course.entries.gap), -1, dtype=np.int64)
        self.rested = np.zeros(len(course.rests.piece), dtype=np.int64)
        self.clearance = np.zeros((trials, columns))
        self.tightest = np.zeros((trials, columns), dtype=np.int64)
        self.ribbon = np.zeros((trials, segments))
        self.poses = np.zeros((trials, segments + 1, 3))
        self.contact = np.zeros((trials, 2), dtype=np.int64)
        self.place = np.zeros((trials, 3))


@jit
def run_trials(
    course: Course,
    z: Floats,
    first: int,
    count: int,
    column: Ints,
    stray: Ints,
    path: Floats,
    work: Floats,
    done: Ints,
    rested: Ints,
    clearance: Floats,
    tightest: Ints,
    ribbon: Floats,
    poses: Floats,
    contact: Ints,
    place: Floats,
) -> None:
    """Drive trials ``first`` .. ``first + count - 1`` of the drawn numbers ``z`` (rows, trials) and measure them.

    Results, one row a trial: ``clearance`` to each column's obstacle over the run and the segment where it was
    ``tightest``; ``ribbon``, the clearance to the nearest obstacle on each segment; ``poses`` at the start and at each
    segment's end; ``contact`` (obstacle, piece) of the first contact, -1 and P if none; ``place`` (fraction of the
    piece, x, y) of it. ``column`` (N,) gives an obstacle's column or -1; one without a column that comes within the
    horizon all the same is flagged in ``stray``, and the block must be run again with a column for it.
    """
    wheels = course.wheels
    entries = course.entries
    rests = course.rests
    pieces = wheels.left.shape[0]
    segments = wheels.piece.shape[0] - 1
    obstacles = column.shape[0]
    columns = clearance.shape[1]
    reach = 0.0
    for a in range(course.parts.reach.shape[0]):
        reach = max(reach, course.parts.reach[a])
    done[:] = -1

    for n in range(count):
        trial = first + n
        drive(wheels, course.reference, z, trial, path)
        for g in range(segments + 1):
            p = wheels.piece[g]
            poses[n, g, 0] = path[X, p]
            poses[n, g, 1] = path[Y, p]
            poses[n, g, 2] = path[H, p]
        for i in range(columns):
            clearance[n, i] = course.horizon
            tightest[n, i] = -1
        for g in range(segments):
            ribbon[n, g] = course.horizon
        hit = pieces
        hit_at = inf
        hit_obstacle = -1
        hit_part = -1
        hit_core = -1
        hit_soft = False

        for r in range(rests.piece.shape[0]):
            last, p, u, a, c, soft = rest_until_clear(course, r, path, work)
            rested[r] = last
            if p < pieces:
                o = rests.obstacle[r]
                g = 0
                while wheels.piece[g + 1] <= p:
                    g += 1
                ribbon[n, g] = 0.0
                if column[o] < 0:
                    stray[o] = 1
                elif clearance[n, column[o]] > 0.0:
                    clearance[n, column[o]] = 0.0
                    tightest[n, column[o]] = g
                if p < hit or (p == hit and u < hit_at):
                    hit = p
                    hit_at = u
                    hit_obstacle = o
                    hit_part = a
                    hit_core = c
                    hit_soft = soft

        # Each obstacle's tightest entry first, so that most of what follows can be skipped; then every segment.
        for g in range(-1, segments):
            if g < 0:
                e0 = 0
                e1 = obstacles
                off = 0.0
                swing = 0.0
            else:
                e0 = entries.first[g]
                e1 = entries.first[g + 1]
                off = 0.0
                swing = 0.0
                for p in range(wheels.piece[g], wheels.piece[g + 1]):
                    off = max(off, path[OFF, p])
                    swing = max(swing, path[SWING, p])
                off += reach * swing
            for index in range(e0, e1):
                e = index
                if g < 0:
                    e = entries.best[index]
                    if e < 0 or column[index] < 0:
                        continue
                elif entries.gap[e] - off >= course.horizon and entries.gap[e] - off > TOUCH:
                    break
                p = entries.piece[e]
                o = entries.obstacle[e]
                low = entries.gap[e] - path[OFF, p] - course.parts.reach[entries.part[e]] * path[SWING, p]
                i = column[o]
                segment = g if g >= 0 else entries.segment[e]
                so_far = max(ribbon[n, segment], clearance[n, i] if i >= 0 else course.horizon)
                if low >= so_far and low > TOUCH:
                    continue
                if so_far == 0.0 and p > hit:
                    continue
                if done[e] == n:
                    continue
                done[e] = n
                counts = True
                if rests.first[o + 1] > rests.first[o]:
                    skip = False
                    for r in range(rests.first[o], rests.first[o + 1]):
                        if rests.piece[r] <= p:
                            if p <= rested[r]:
                                skip = True
                            elif wheels.piece[segment] <= rested[r]:
                                counts = False
                    if skip:
                        continue
                gap = entry_gap(course, e, path, so_far if counts else 0.0, work)
                if gap <= TOUCH:
                    gap = 0.0
                    if p <= hit:
                        u = first_touch(
                            course.parts, entries.part[e], course.cores, entries.core[e], path, p, 0.0, 1.0, work
                        )
                        if p < hit or u < hit_at:
                            hit = p
                            hit_at = u
                            hit_obstacle = o
                            hit_part = entries.part[e]
                            hit_core = entries.core[e]
                            hit_soft = False
                elif not counts or gap >= so_far:
                    continue
                ribbon[n, segment] = min(ribbon[n, segment], gap)
                if i < 0:
                    if gap < course.horizon:
                        stray[o] = 1
                elif gap < clearance[n, i] or (gap == 0.0 and segment < tightest[n, i]):
                    clearance[n, i] = gap
                    tightest[n, i] = segment

        contact[n, 0] = hit_obstacle
        contact[n, 1] = hit
        place[n, 0] = hit_at
        place[n, 1] = np.nan
        place[n, 2] = np.nan
        if hit_obstacle >= 0:
            shapes = course.soft if hit_soft else course.parts
            px, py = contact_point(shapes, hit_part, course.cores, hit_core, path, hit, hit_at, work)
            place[n, 1] = px
            place[n, 2] = py


@jit
def drive_all(
    wheels: Wheels, reference: Reference, z: Floats, first: int, count: int, path: Floats, poses: Floats
) -> None:
    """Poses at every joint, (count, P + 1, 3), for drawing."""
    for n in range(count):
        drive(wheels, reference, z, first + n, path)
        for p in range(poses.shape[1]):
            poses[n, p, 0] = path[X, p]
            poses[n, p, 1] = path[Y, p]
            poses[n, p, 2] = path[H, p]


@jit
def survey(
    parts: Shapes,
    cores: Shapes,
    path: Floats,
    piece: Ints,
    part: Ints,
    core: Ints,
    gap: Floats,
    kind: Ints,
    wi: Ints,
    wj: Ints,
    work: Floats,
) -> None:
    """Measure every entry on the path in ``path``, in full, and note what was closest."""
    for e in range(piece.shape[0]):
        p = piece[e]
        t = path[T, p]
        n = parts_of_turn(t)
        x = path[X, p]
        y = path[Y, p]
        hc = path[HC, p]
        hs = path[HS, p]
        best = inf
        for _ in range(n):
            d, k, i, j = sweep(parts, part[e], cores, core[e], x, y, hc, hs, path[S, p] / n, t / n, False, work)
            if d < best:
                best = d
                kind[e] = k
                wi[e] = i
                wj[e] = j
            if n > 1:
                x, y, hc, hs = moved(x, y, hc, hs, path[S, p] / n, t / n)
        gap[e] = max(0.0, best - cores.radius[core[e]])
