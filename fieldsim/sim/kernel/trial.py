"""One trial after another: drive the pieces with the drawn numbers, measure what the body comes close to.

What makes this fast is not the arithmetic but what is left out, and it must be left out safely:

*   **Against the reference run.** The clearance of every entry (piece, part, core) is known exactly on a reference
    path. No point of the footprint can be farther from its place there than ``bound`` (below), so the entry's
    clearance in this trial is at least the reference's less that bound. An entry is skipped when that shows that it can
    neither touch nor lower its obstacle's or its segment's smallest clearance so far. Segment by segment the entries
    come tightest first, so the rest of a segment is dropped at once.
*   **By certificate.** What is left is usually proved by one direction (``sweep.axis_gap``); only the remainder is
    measured in full.

Both are bounds for any drawn numbers, however absurd: the answers do not depend on the reference path.

The bound of a piece: both robots are rotated rigidly at constant rates over the same fraction u. The distance of the
two axle middles (or of whatever point the piece is told of) at u is at most the larger of the two ends' plus 1/8 of the
largest second derivative of the difference,
abs(s t n(h) - s' t' n(h')) <= abs(s t - s' t') + abs(s' t') abs(h - h')
(linear interpolation error; any calculus text). A footprint point at most ``reach`` from there adds at most
reach abs(h - h'), and h - h' is linear in u, so largest at an end.
"""

from __future__ import annotations

from math import inf, sqrt

import numpy as np

from fieldsim.sim.kernel.course import (
    CORE,
    KIND,
    OBSTACLE,
    PART,
    PIECE,
    SEGMENT,
    Course,
    I,
    J,
)
from fieldsim.sim.kernel.drive import LET_OFF, SET_BACK, drive
from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.path import COLUMNS, EC, ES, EX, EY, HC, HS, OFF, START, SWING, H, S, T, X, Y, pose_in
from fieldsim.sim.kernel.shapes import NX, NY, VX, VY, Floats, Ints, Shapes
from fieldsim.sim.kernel.sweep import (
    AT_START,
    CORNERS_START,
    FIELD_EDGE,
    ROBOT_EDGE_END,
    ROBOT_EDGE_START,
    ROWS,
    TOUCH,
    UNKNOWN,
    axis_gap,
    into_robot,
    moved,
    parts_of_turn,
    standing,
    sweep,
    swept_distance,
)

# While waiting for a robot to come clear, look again after this much motion, mm. It cannot come clear and touch again
# in less than twice that, so no contact is missed for it.
LOOK_AGAIN = LET_OFF


@jit
def travel(A: Floats, a0: int, m: int, s: float, t: float) -> float:
    """How far the fastest vertex of a part drives in a piece, mm."""
    far = 0.0
    for v in range(a0, a0 + m):
        far = max(far, (s - t * A[v, VY]) ** 2 + (t * A[v, VX]) ** 2)
    return sqrt(far)


@jit
def gap_at(
    A: Floats, a0: int, m: int, O: Floats, o0: int, k: int, radius: float, path: Floats, p: int, u: float, work: Floats
) -> float:
    """Gap at rest at fraction u of a piece."""
    x, y, hc, hs = pose_in(path, p, u)
    into_robot(O, o0, k, x, y, hc, hs, work, AT_START)
    d, _, _, _ = standing(A, a0, m, O, o0, k, hc, hs, work, AT_START)
    return d - radius


@jit
def gap_between(
    A: Floats,
    a0: int,
    m: int,
    O: Floats,
    o0: int,
    k: int,
    radius: float,
    path: Floats,
    p: int,
    u0: float,
    u1: float,
    work: Floats,
) -> float:
    """Smallest gap between fractions u0 and u1 of a piece."""
    x, y, hc, hs = pose_in(path, p, u0)
    w = u1 - u0
    return swept_distance(A, a0, m, O, o0, k, x, y, hc, hs, w * path[p, S], w * path[p, T], work) - radius


@jit
def first_touch(
    A: Floats,
    a0: int,
    m: int,
    O: Floats,
    o0: int,
    k: int,
    radius: float,
    path: Floats,
    p: int,
    u0: float,
    u1: float,
    work: Floats,
) -> float:
    """The first fraction from u0 on at which the gap is no more than ``TOUCH``; it is, somewhere up to u1.

    First by conservative advancement (Mirtich, Impulse-based Dynamic Simulation, 1996, from memory): nothing can touch
    before the fastest vertex has driven the gap. Grazing contacts make that slow; those are finished by bisection of
    the exact smallest gap.
    """
    far = travel(A, a0, m, path[p, S], path[p, T])
    if far <= 0.0:
        return u0
    for _ in range(30):
        gap = gap_at(A, a0, m, O, o0, k, radius, path, p, u0, work)
        if gap <= TOUCH or u0 >= u1:
            return min(u0, u1)
        u0 = min(u1, u0 + gap / far)
    low = u0
    high = u1
    while (high - low) * far > 0.5 * TOUCH:
        middle = 0.5 * (low + high)
        if middle <= low or middle >= high:
            break
        if gap_between(A, a0, m, O, o0, k, radius, path, p, low, middle, work) <= TOUCH:
            high = middle
        else:
            low = middle
    return high


@jit
def push_out(
    A: Floats, a0: int, m: int, O: Floats, o0: int, k: int, radius: float, path: Floats, work: Floats
) -> tuple[float, float, float]:
    """The least way out of an overlap at the start: (depth, and the unit direction the robot has to go, field frame).

    The depth is negative if they are apart along some edge's normal.
    """
    x, y, hc, hs = pose_in(path, START, 0.0)
    into_robot(O, o0, k, x, y, hc, hs, work, AT_START)
    best = -inf
    out_x = 0.0
    out_y = 0.0
    for i in range(m):
        nx = A[a0 + i, NX]
        ny = A[a0 + i, NY]
        low = inf
        for j in range(k):
            low = min(low, nx * (work[AT_START, j] - A[a0 + i, VX]) + ny * (work[AT_START + 1, j] - A[a0 + i, VY]))
        if low > best:
            best = low
            out_x = -(hc * nx - hs * ny)
            out_y = -(hs * nx + hc * ny)
    if k > 1:
        for j in range(k):
            nx = hc * O[o0 + j, NX] + hs * O[o0 + j, NY]
            ny = hc * O[o0 + j, NY] - hs * O[o0 + j, NX]
            low = inf
            for i in range(m):
                low = min(low, nx * (A[a0 + i, VX] - work[AT_START, j]) + ny * (A[a0 + i, VY] - work[AT_START + 1, j]))
            if low > best:
                best = low
                out_x = O[o0 + j, NX]
                out_y = O[o0 + j, NY]
    return radius - best, out_x, out_y


@jit
def drive_from_rest(course: Course, z: Floats, trial: int, path: Floats, result: Floats, work: Floats) -> int:
    """``drive``, with a start that can be.

    Nobody can set a robot deeper than the let-off into what it stands against. A drawn start that says so is set back
    along the shortest way out, to just under the let-off.
    """
    rests = course.rests
    back_x = 0.0
    back_y = 0.0
    while True:
        counted: int = drive(course.wheels, course.alignments, course.reference, z, trial, back_x, back_y, path, result)
        if back_x != 0.0 or back_y != 0.0:
            return counted
        for r in range(rests.piece.shape[0]):
            if rests.set_back[r] == 0:
                continue
            o = rests.obstacle[r]
            for q in range(course.pairs.first[o], course.pairs.first[o + 1]):
                a = course.pairs.part[q]
                c = course.pairs.core[q]
                a0 = course.parts.start[a]
                o0 = course.cores.start[c]
                deep, out_x, out_y = push_out(
                    course.parts.corner, a0, course.parts.start[a + 1] - a0,
                    course.cores.corner, o0, course.cores.start[c + 1] - o0, course.cores.radius[c], path, work,
                )  # fmt: skip
                if deep > LET_OFF - SET_BACK:
                    back_x += (deep - LET_OFF + SET_BACK) * out_x
                    back_y += (deep - LET_OFF + SET_BACK) * out_y
                    path[START, X] += (deep - LET_OFF + SET_BACK) * out_x
                    path[START, Y] += (deep - LET_OFF + SET_BACK) * out_y
        if back_x == 0.0 and back_y == 0.0:
            return counted


@jit
def contact_point(
    A: Floats, a0: int, m: int, O: Floats, o0: int, k: int, path: Floats, p: int, u: float, work: Floats
) -> tuple[float, float]:
    """Where they touch, field frame."""
    x, y, hc, hs = pose_in(path, p, u)
    into_robot(O, o0, k, x, y, hc, hs, work, AT_START)
    _, kind, i, j = standing(A, a0, m, O, o0, k, hc, hs, work, AT_START)
    if kind in (FIELD_EDGE, CORNERS_START):
        px = A[a0 + i, VX]
        py = A[a0 + i, VY]
    elif kind == ROBOT_EDGE_START:
        # The foot of the obstacle's vertex on the footprint's edge.
        ox = work[AT_START, j]
        oy = work[AT_START + 1, j]
        nx = A[a0 + i, NX]
        ny = A[a0 + i, NY]
        away = nx * (ox - A[a0 + i, VX]) + ny * (oy - A[a0 + i, VY])
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
                if (
                    A[a0 + e, NX] * (work[AT_START, v] - A[a0 + e, VX])
                    + A[a0 + e, NY] * (work[AT_START + 1, v] - A[a0 + e, VY])
                    > 0.0
                ):
                    inside = False
            if inside:
                px += work[AT_START, v]
                py += work[AT_START + 1, v]
                found += 1
        for v in range(m):
            inside = k > 2
            for e in range(k):
                nx = hc * O[o0 + e, NX] + hs * O[o0 + e, NY]
                ny = hc * O[o0 + e, NY] - hs * O[o0 + e, NX]
                if nx * (A[a0 + v, VX] - work[AT_START, e]) + ny * (A[a0 + v, VY] - work[AT_START + 1, e]) > 0.0:
                    inside = False
            if inside:
                px += A[a0 + v, VX]
                py += A[a0 + v, VY]
                found += 1
        if found == 0:
            found = k + m
            for v in range(k):
                px += work[AT_START, v]
                py += work[AT_START + 1, v]
            for v in range(m):
                px += A[a0 + v, VX]
                py += A[a0 + v, VY]
        px /= found
        py /= found
    return x + hc * px - hs * py, y + hs * px + hc * py


@jit
def leaves(
    A: Floats, a0: int, m: int, O: Floats, o0: int, k: int, radius: float, path: Floats, p: int, u: float, work: Floats
) -> bool:
    """Does the direction that holds them apart at fraction u go on doing so to the piece's end?"""
    t = (1.0 - u) * path[p, T]
    if parts_of_turn(t) > 1:
        return False
    x, y, hc, hs = pose_in(path, p, u)
    into_robot(O, o0, k, x, y, hc, hs, work, AT_START)
    _, kind, i, j = standing(A, a0, m, O, o0, k, hc, hs, work, AT_START)
    bound, _ = axis_gap(
        A, a0, m, O, o0, k, x, y, hc, hs, path[p, EX], path[p, EY], path[p, EC], path[p, ES],
        (1.0 - u) * path[p, S], t, kind, i, j,
    )  # fmt: skip
    return bound - radius > TOUCH


@jit
def rest_until_clear(
    A: Floats,
    A_start: Ints,
    soft: Floats,
    soft_start: Ints,
    O: Floats,
    O_start: Ints,
    radius: Floats,
    pair_part: Ints,
    pair_core: Ints,
    frame: Ints,
    q0: int,
    q1: int,
    begin: int,
    until: int,
    let_off: float,
    path: Floats,
    work: Floats,
) -> tuple[int, int, float, int, int, bool]:
    """Follow a robot that stands against an obstacle until it has come clear of it.

    Returns (last piece judged here, touched piece or -1, fraction, part, core, soft). While it rests, a contact is one
    that is deeper than the let-off: the shrunk part touches. In the rest of the piece in which it comes clear it is
    judged like anywhere else. ``q0`` to ``q1`` are the obstacle's pairs.
    """
    # The motion up to which a pair is surely clear: a gap shrinks by no more than the fastest vertex drives.
    sure = np.zeros(q1 - q0)
    motion = 0.0
    for p in range(begin, until):
        s = path[p, S]
        t = path[p, T]
        far = 0.0
        for q in range(q0, q1):
            a = pair_part[q] + frame[p]
            far = max(far, travel(A, A_start[a], A_start[a + 1] - A_start[a], s, t))
        u = 0.0
        overlaps = False
        while True:
            clear = True
            for q in range(q0, q1):
                if motion + u * far < sure[q - q0]:
                    continue
                a = pair_part[q] + frame[p]
                c = pair_core[q]
                gap = gap_at(
                    A, A_start[a], A_start[a + 1] - A_start[a],
                    O, O_start[c], O_start[c + 1] - O_start[c], radius[c], path, p, u, work,
                )  # fmt: skip
                sure[q - q0] = motion + u * far + gap - LET_OFF
                if gap < LET_OFF:
                    clear = False
                if gap <= 0.0:
                    overlaps = True
            if clear or u >= 1.0 or far <= 0.0:
                break
            u = min(1.0, u + LOOK_AGAIN / far)
        motion += u * far
        # The earliest contact of all pairs: too deep before it came clear, else any after.
        at = inf
        part = -1
        core = -1
        for after in range(2):
            # If it overlapped at none of the looks, it was never deeper than half the motion between two of them.
            if after == 0 and (let_off == inf or not overlaps):
                continue
            if after == 1 and (not clear or at < inf):
                continue
            B = soft if after == 0 else A
            B_start = soft_start if after == 0 else A_start
            u0 = 0.0 if after == 0 else u
            u1 = u if after == 0 else 1.0
            for q in range(q0, q1):
                a = pair_part[q] + frame[p]
                c = pair_core[q]
                b0 = B_start[a]
                m = B_start[a + 1] - b0
                o0 = O_start[c]
                k = O_start[c + 1] - o0
                if after == 1 and leaves(A, b0, m, O, o0, k, radius[c], path, p, u, work):
                    continue
                if gap_between(B, b0, m, O, o0, k, radius[c], path, p, u0, u1, work) <= TOUCH:
                    w = first_touch(B, b0, m, O, o0, k, radius[c], path, p, u0, u1, work)
                    if w < at:
                        at = w
                        part = a
                        core = c
            if at < inf:
                return p, p, at, part, core, after == 0
        if clear:
            return p, -1, inf, -1, -1, False
    return until - 1, -1, inf, -1, -1, False


class Scratch:
    """One thread's workspace and results for a block of trials: reused, since fresh memory pages cost time."""

    def __init__(self, course: Course, columns: int, trials: int) -> None:
        pieces = len(course.wheels.left)
        segments = len(course.wheels.piece) - 1
        widest = max(
            int(np.diff(kind.start).max()) for kind in (course.parts, course.soft, course.cores) if len(kind.start) > 1
        )
        self.path = np.zeros((pieces + 1, COLUMNS))
        self.work = np.zeros((ROWS, 2 * widest + 2))
        self.done = np.full(len(course.entries.gap), -1, dtype=np.int64)
        self.rested = np.zeros(len(course.rests.piece), dtype=np.int64)
        self.clearance = np.zeros((trials, columns))
        self.tightest = np.zeros((trials, columns), dtype=np.int64)
        self.ribbon = np.zeros((trials, segments))
        self.poses = np.zeros((trials, segments + 1, 3))
        self.contact = np.zeros((trials, 2), dtype=np.int64)
        self.place = np.zeros((trials, 3))
        self.counted = np.zeros(trials, dtype=np.int64)
        self.result = np.zeros((len(course.alignments.what), 2))
        self.endings = np.zeros((trials, len(course.alignments.what), 2))


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
    counted: Ints,
    result: Floats,
    endings: Floats,
) -> None:
    """Drive trials ``first`` .. ``first + count - 1`` of the drawn numbers ``z`` (rows, trials) and measure them.

    Results, one row a trial: ``clearance`` to each column's obstacle over the run and the segment where it was
    ``tightest``; ``ribbon``, the clearance to the nearest obstacle on each segment; ``poses`` at the start and at each
    segment's end; ``contact`` (obstacle, piece) of the first contact, -1 and P if none; ``place`` (fraction of its
    segment, by the way of the faster wheel, x, y) of it; ``counted``, how many pieces count before an alignment failed;
    ``endings``, how each alignment ended and the way driven for it. ``column`` (N,) gives an obstacle's column or -1;
    one without a column that comes within the horizon all the same is flagged in ``stray``, and the block must be run
    again with a column for it.
    """
    wheels = course.wheels
    entries = course.entries
    rests = course.rests
    pieces = wheels.left.shape[0]
    segments = wheels.piece.shape[0] - 1
    columns = clearance.shape[1]
    followed = np.zeros(columns, dtype=np.int64)
    for o in range(column.shape[0]):
        if column[o] >= 0:
            followed[column[o]] = o
    horizon = course.horizon
    A = course.parts.corner
    A_start = course.parts.start
    reach = course.parts.reach
    soft = course.soft.corner
    soft_start = course.soft.start
    O = course.cores.corner
    O_start = course.cores.start
    radius = course.cores.radius
    farthest = 0.0
    for a in range(reach.shape[0]):
        farthest = max(farthest, reach[a])
    piece = wheels.piece
    e_first = entries.first
    e_gap = entries.gap
    e_what = entries.what
    e_best = entries.best
    rest_first = rests.first
    rest_obstacle = rests.obstacle
    rest_piece = rests.piece
    rest_until = rests.until
    rest_let_off = rests.let_off
    pair_first = course.pairs.first
    pair_part = course.pairs.part
    pair_core = course.pairs.core
    frame = course.frame
    track = wheels.track
    done[:] = -1

    for n in range(count):
        trial = first + n
        last = drive_from_rest(course, z, trial, path, result, work)
        counted[n] = last
        for m in range(result.shape[0]):
            endings[n, m, 0] = result[m, 0]
            endings[n, m, 1] = result[m, 1]
        for g in range(segments + 1):
            p = wheels.piece[g]
            poses[n, g, 0] = path[p, X]
            poses[n, g, 1] = path[p, Y]
            poses[n, g, 2] = path[p, H]
        for i in range(columns):
            clearance[n, i] = horizon
            tightest[n, i] = -1
        for g in range(segments):
            ribbon[n, g] = horizon
        hit = pieces
        hit_at = inf
        hit_obstacle = -1
        hit_part = -1
        hit_core = -1
        hit_soft = False

        for r in range(rest_piece.shape[0]):
            o = rest_obstacle[r]
            if rest_piece[r] >= last:
                continue
            rested[r], p, u, a, c, was_soft = rest_until_clear(
                A, A_start, soft, soft_start, O, O_start, radius, pair_part, pair_core, frame,
                pair_first[o], pair_first[o + 1], rest_piece[r], min(rest_until[r], last), rest_let_off[r], path, work,
            )  # fmt: skip
            if p >= 0:
                g = 0
                while piece[g + 1] <= p:
                    g += 1
                ribbon[n, g] = 0.0
                i = column[o]
                if i < 0:
                    stray[o] = 1
                elif clearance[n, i] > 0.0:
                    clearance[n, i] = 0.0
                    tightest[n, i] = g
                if p < hit or (p == hit and u < hit_at):
                    hit = p
                    hit_at = u
                    hit_obstacle = o
                    hit_part = a
                    hit_core = c
                    hit_soft = was_soft

        # Each obstacle's tightest entry first, so that most of what follows can be skipped; then every segment.
        for g in range(-1, segments):
            off = 0.0
            if g < 0:
                e0 = 0
                e1 = columns
            else:
                e0 = e_first[g]
                e1 = e_first[g + 1]
                swing = 0.0
                for p in range(piece[g], piece[g + 1]):
                    off = max(off, path[p, OFF])
                    swing = max(swing, path[p, SWING])
                off += farthest * swing
            for index in range(e0, e1):
                e = index
                if g < 0:
                    e = e_best[followed[index]]
                    if e < 0:
                        continue
                elif e_gap[e] - off >= horizon and e_gap[e] - off > TOUCH:
                    break
                p = e_what[e, PIECE]
                if p >= last:
                    continue
                o = e_what[e, OBSTACLE]
                a = e_what[e, PART]
                i = column[o]
                segment = e_what[e, SEGMENT]
                low = e_gap[e] - path[p, OFF] - reach[a] * path[p, SWING]
                so_far = max(ribbon[n, segment], clearance[n, i] if i >= 0 else horizon)
                if low >= so_far and low > TOUCH:
                    continue
                if so_far == 0.0 and p > hit:
                    continue
                if done[e] == n:
                    continue
                done[e] = n
                counts = True
                if rest_first[o + 1] > rest_first[o]:
                    skip = False
                    for r in range(rest_first[o], rest_first[o + 1]):
                        if rest_piece[r] <= p:
                            if p <= rested[r]:
                                skip = True
                            elif piece[segment] <= rested[r]:
                                counts = False
                    if skip:
                        continue
                enough = so_far if counts else 0.0
                c = e_what[e, CORE]
                a0 = A_start[a]
                m = A_start[a + 1] - a0
                o0 = O_start[c]
                k = O_start[c + 1] - o0
                s = path[p, S]
                t = path[p, T]
                if parts_of_turn(t) > 1:
                    gap = gap_between(A, a0, m, O, o0, k, radius[c], path, p, 0.0, 1.0, work)
                else:
                    gap, proved = axis_gap(
                        A, a0, m, O, o0, k, path[p, X], path[p, Y], path[p, HC], path[p, HS],
                        path[p, EX], path[p, EY], path[p, EC], path[p, ES], s, t,
                        e_what[e, KIND], e_what[e, I], e_what[e, J],
                    )  # fmt: skip
                    if not proved and (e_what[e, KIND] == ROBOT_EDGE_START or e_what[e, KIND] == ROBOT_EDGE_END):
                        # The footprint's edge has come closest at the other end of the piece.
                        other, proved = axis_gap(
                            A, a0, m, O, o0, k, path[p, X], path[p, Y], path[p, HC], path[p, HS],
                            path[p, EX], path[p, EY], path[p, EC], path[p, ES], s, t,
                            ROBOT_EDGE_START + ROBOT_EDGE_END - e_what[e, KIND], e_what[e, I], e_what[e, J],
                        )  # fmt: skip
                        gap = other if proved else max(gap, other)
                    apart = gap > 0.0
                    gap -= radius[c]
                    if not proved:
                        if gap > TOUCH and gap >= enough:
                            continue
                        gap, _, _, _ = sweep(
                            A, a0, m, O, o0, k, path[p, X], path[p, Y], path[p, HC], path[p, HS],
                            path[p, EX], path[p, EY], path[p, EC], path[p, ES], s, t, apart, work,
                        )  # fmt: skip
                        gap -= radius[c]
                if gap <= TOUCH:
                    gap = 0.0
                    if p <= hit:
                        u = first_touch(A, a0, m, O, o0, k, radius[c], path, p, 0.0, 1.0, work)
                        if p < hit or u < hit_at:
                            hit = p
                            hit_at = u
                            hit_obstacle = o
                            hit_part = a
                            hit_core = c
                            hit_soft = False
                elif gap >= enough:
                    continue
                ribbon[n, segment] = min(ribbon[n, segment], gap)
                if i < 0:
                    if gap < horizon:
                        stray[o] = 1
                elif gap < clearance[n, i] or (gap == 0.0 and segment < tightest[n, i]):
                    clearance[n, i] = gap
                    tightest[n, i] = segment

        contact[n, 0] = hit_obstacle
        contact[n, 1] = hit
        place[n, 0] = np.nan
        place[n, 1] = np.nan
        place[n, 2] = np.nan
        if hit_obstacle >= 0:
            B = soft if hit_soft else A
            B_start = soft_start if hit_soft else A_start
            b0 = B_start[hit_part]
            o0 = O_start[hit_core]
            px, py = contact_point(
                B, b0, B_start[hit_part + 1] - b0, O, o0, O_start[hit_core + 1] - o0, path, hit, hit_at, work
            )
            place[n, 1] = px
            place[n, 2] = py
            g = 0
            while piece[g + 1] <= hit:
                g += 1
            before = 0.0
            whole = 0.0
            for p in range(piece[g], piece[g + 1]):
                wheel = abs(path[p, S]) + 0.5 * track * abs(path[p, T])
                whole += wheel
                if p < hit:
                    before += wheel
                elif p == hit:
                    before += hit_at * wheel
            place[n, 0] = before / whole if whole > 0.0 else 0.0


@jit
def drive_all(
    course: Course, z: Floats, first: int, count: int, path: Floats, result: Floats, work: Floats, poses: Floats
) -> None:
    """Poses of the axle's middle at every joint, (count, P + 1, 3), for drawing."""
    pieces = course.frame.shape[0]
    for n in range(count):
        drive_from_rest(course, z, first + n, path, result, work)
        for p in range(pieces + 1):
            ahead = course.wheels.ahead[p] if p < pieces else 0.0
            poses[n, p, 0] = path[p, X] - ahead * path[p, HC]
            poses[n, p, 1] = path[p, Y] - ahead * path[p, HS]
            poses[n, p, 2] = path[p, H]


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
        t = path[p, T]
        n = parts_of_turn(t)
        x = path[p, X]
        y = path[p, Y]
        hc = path[p, HC]
        hs = path[p, HS]
        best = inf
        for _ in range(n):
            ex, ey, ec, es = moved(x, y, hc, hs, path[p, S] / n, path[p, T] / n)
            a0 = parts.start[part[e]]
            o0 = cores.start[core[e]]
            d, k, i, j = sweep(
                parts.corner, a0, parts.start[part[e] + 1] - a0, cores.corner, o0, cores.start[core[e] + 1] - o0,
                x, y, hc, hs, ex, ey, ec, es, path[p, S] / n, t / n, UNKNOWN, work,
            )  # fmt: skip
            if d < best:
                best = d
                kind[e] = k
                wi[e] = i
                wj[e] = j
            x = ex
            y = ey
            hc = ec
            hs = es
        gap[e] = max(0.0, best - cores.radius[core[e]])
