"""Drive one trial: commands, drawn numbers, what the robot is pushed flat on and the lines it aligns on."""

from __future__ import annotations

from math import cos, sin

from fieldsim.sim.kernel.align import (
    NEVER,
    NONE,
    along_edge,
    at_edge,
    bears,
    crossing,
    first_contact,
    next_look,
    off_flush,
    over_line,
    sees,
    uniform,
)
from fieldsim.sim.kernel.course import (
    ALIGN,
    ALREADY_UNDER,
    APPROACH,
    CAPTURE,
    CAUGHT,
    EDGE,
    FACE,
    HIGH,
    LINE_SQUARE,
    LOOK,
    LOW,
    LX,
    LY,
    NOT_BORNE,
    NOT_REACHED,
    PASSES,
    REACH,
    ROW,
    SD_ALONG,
    SD_EDGE,
    SD_HEADING,
    SD_STOP,
    SQUARE,
    TOO_SKEW,
    UNTIL,
    WAY,
    Alignments,
    Reference,
    Wheels,
)
from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.path import HC, HS, H, X, Y, lay
from fieldsim.sim.kernel.shapes import LEN, VX, VY, Floats

# A robot at rest against something is judged this leniently, mm, until it has been this far from it: placing errors
# would otherwise push it into what it stands against. Well above a jig's repeatability, well below a wheel's track.
LET_OFF = 2.0

# How far short of the let-off a start or a square is set back, mm: so that it does not touch at once.
SET_BACK = 0.01

# Columns of the results of an alignment: how it ended, and the way driven (mm of the faster wheel).
ENDING, DRIVEN = range(2)


@jit
def drive(
    wheels: Wheels,
    alignments: Alignments,
    reference: Reference,
    z: Floats,
    trial: int,
    back_x: float,
    back_y: float,
    path: Floats,
    result: Floats,
) -> int:
    """The path of one trial, from column ``trial`` of the drawn numbers ``z``, and its bounds, into ``path``.

    The start is moved by (``back_x``, ``back_y``): see ``set_back``. ``result`` (M, 2) gets each alignment's ending and
    the way driven for it. Returns how many pieces count: all, but where an alignment failed; from there on the robot is
    left standing.
    """
    distance = wheels.bias[0] + wheels.day[0] * z[3, trial]
    veer = wheels.bias[1] + wheels.day[1] * z[4, trial]
    turn = wheels.bias[2] + wheels.day[2] * z[5, trial]
    # The mean of both wheel scales, the actual track, and the wheel scales themselves: see fieldsim.sim.drivetrain.
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
    x += back_x
    y += back_y

    steered = wheels.gyro[2] != 0.0
    drift = 0.0
    scale = 1.0
    if steered:
        drift = wheels.gyro[0] * z[6, trial]
        scale = 1.0 + wheels.gyro[1] * z[7, trial]
    # The heading where the gyro was last set anew, the turning asked for since, the clock, and when that was.
    h_zero = h
    asked = 0.0
    clock = 0.0
    zero_at = 0.0

    pieces = wheels.left.shape[0]
    counted: int = pieces
    for g in range(wheels.piece.shape[0] - 1):
        first = wheels.piece[g]
        end = wheels.piece[g + 1]
        m = alignments.of[g]
        if counted < pieces:
            for p in range(first, end):
                stand(path, reference, wheels.ahead[p], p, x, y, hc, hs, h)
            if m >= 0:
                result[m, ENDING] = NOT_REACHED
                result[m, DRIVEN] = 0.0
            continue
        span = wheels.seconds[g, 0]
        if wheels.seconds_row[g] >= 0:
            span = max(0.0, span + wheels.seconds[g, 1] * z[wheels.seconds_row[g], trial])
        if m >= 0:
            end = first + alignments.what[m, APPROACH]
        found = False
        stop = end
        gone = 0.0
        ending = NOT_REACHED
        corner = NONE
        edge = NONE
        for p in range(first, end):
            s = 0.5 * (right * wheels.right[p] + left * wheels.left[p])
            t = (right * wheels.right[p] - left * wheels.left[p]) / track
            more = 0.0
            off = 0.0
            for q in range(wheels.term[p], wheels.term[p + 1]):
                n = z[wheels.row[q], trial]
                more += wheels.along[q] * n
                off += wheels.turn[q] * n
            if steered:
                asked += (wheels.right[p] - wheels.left[p]) / wheels.track
                now = clock + span * (p - first + 1) / (end - first)
                to = h_zero + (asked - drift * (now - zero_at)) / scale + off - h
                if wheels.turns[g] == 0:
                    s += more
                elif t != 0.0:
                    s *= to / t
                t = to
            else:
                s += more
                t += off
            if m >= 0:
                if found:
                    s = 0.0
                    t = 0.0
                elif alignments.what[m, ALIGN] == SQUARE:
                    u, corner, edge = first_contact(alignments, m, x, y, hc, hs, s, t)
                    if u <= 1.0:
                        found = True
                        s *= u
                        t *= u
                else:
                    u, edge, ending = first_look(alignments, m, z, trial, p == first, gone, x, y, hc, hs, s, t)
                    if edge >= 0 or ending == ALREADY_UNDER:
                        found = True
                        s *= u
                        t *= u
                gone += abs(s)
            x, y, hc, hs = lay(path, reference, p, x, y, hc, hs, h, s, t)
            h += t
            if found and p < stop:
                stop = p + 1
        clock += span
        if m < 0:
            continue

        # ``end`` is now where the swing, or the turns about a wheel, begin.
        if alignments.what[m, ALIGN] == SQUARE:
            if found:
                ending = square_ending(alignments, m, corner, edge, x, y, hc, hs)
            if ending == CAUGHT:
                x, y, hc, hs, h, way = swing_flat(
                    alignments, m, reference, z, trial, end, corner, edge, x, y, hc, hs, h, path
                )
                gone += way
        elif edge >= 0:
            if abs(off_flush(alignments.edge, edge, hc, hs, alignments.what[m, WAY])) > alignments.how[m, CAPTURE] or (
                (edge - alignments.what[m, EDGE]) % 2 == 1
            ):
                ending = TOO_SKEW
            elif alignments.what[m, ALIGN] == UNTIL:
                ending = CAUGHT
            else:
                x, y, hc, hs, h, way, ending = line_passes(
                    alignments, m, reference, z, trial, end, edge, gone, track, x, y, hc, hs, h, path
                )
                gone = way
        result[m, ENDING] = ending
        result[m, DRIVEN] = gone
        if ending != CAUGHT:
            counted = stop
            for p in range(end, wheels.piece[g + 1]):
                stand(path, reference, wheels.ahead[p], p, x, y, hc, hs, h)
        elif alignments.what[m, ALIGN] != UNTIL:
            h_zero = h
            asked = 0.0
            zero_at = clock
    path[pieces, X] = x
    path[pieces, Y] = y
    path[pieces, HC] = hc
    path[pieces, HS] = hs
    path[pieces, H] = h
    return counted


@jit
def stand(
    path: Floats, reference: Reference, ahead: float, p: int, x: float, y: float, hc: float, hs: float, h: float
) -> None:
    """Write a piece in which the robot stands still."""
    lay(path, reference, p, x + ahead * hc, y + ahead * hs, hc, hs, h, 0.0, 0.0)


@jit
def square_ending(
    alignments: Alignments, m: int, corner: int, edge: int, x: float, y: float, hc: float, hs: float
) -> int:
    """How a square ends that has just touched."""
    if corner < 0:
        return NOT_BORNE
    if abs(off_flush(alignments.edge, edge, hc, hs, alignments.what[m, WAY])) > alignments.how[m, CAPTURE]:
        return TOO_SKEW
    cx = alignments.hull[corner, VX]
    cy = alignments.hull[corner, VY]
    if abs(cx - alignments.how[m, FACE]) > 1e-9:
        return NOT_BORNE
    along = along_edge(alignments.edge, edge, x, y, hc, hs, cx, cy)
    return CAUGHT if bears(alignments, m, edge, along, cy) else NOT_BORNE


@jit
def swing_flat(
    alignments: Alignments,
    m: int,
    reference: Reference,
    z: Floats,
    trial: int,
    p: int,
    corner: int,
    edge: int,
    x: float,
    y: float,
    hc: float,
    hs: float,
    h: float,
    path: Floats,
) -> tuple[float, float, float, float, float, float]:
    """Swing about the touching corner until the face is flush, then the residual, in pieces ``p`` and ``p + 1``.

    Returns the pose (x, y, cos, sin, heading) and the way of the face's other end, mm.

    Both pieces are of the face's middle: seen from there the corner lies on the line across, so that the swing is one
    more rotation about (0, s/t), and the residual turns about it and moves it from the wall.
    """
    how = alignments.how
    way = alignments.what[m, WAY]
    face = how[m, FACE]
    cy = alignments.hull[corner, VY]
    off = off_flush(alignments.edge, edge, hc, hs, way)
    x += face * hc
    y += face * hs
    x, y, hc, hs = lay(path, reference, p, x, y, hc, hs, h, -off * cy, -off)
    h -= off
    # The middle of the face is on the wall now, if the corner was: it may have stood in it, or short of it, by a hair.
    gap, _, _ = at_edge(alignments.edge, edge, x, y, hc, hs, 0.0, 0.0, 0.0, 0.0)
    row = alignments.what[m, ROW]
    lean = how[m, SD_HEADING] * z[row, trial]
    away = how[m, SD_ALONG] * z[row + 1, trial]
    # Nobody can be pushed deeper into a wall than the let-off of a robot at rest.
    most = max(abs(how[m, LOW]), abs(how[m, HIGH]))
    away = max(away, most * abs(sin(lean)) - LET_OFF + SET_BACK)
    x, y, hc, hs = lay(path, reference, p + 1, x, y, hc, hs, h, -way * (away - gap), lean)
    h += lean
    return x - face * hc, y - face * hs, hc, hs, h, abs(off) * (how[m, HIGH] - how[m, LOW])


@jit
def first_look(
    alignments: Alignments,
    m: int,
    z: Floats,
    trial: int,
    at_first: bool,
    gone: float,
    x: float,
    y: float,
    hc: float,
    hs: float,
    s: float,
    t: float,
) -> tuple[float, int, int]:
    """When a piece is ended by a sensor that sees the line: (share of the piece, which may be over 1; edge; ending).

    ``gone`` is the way driven before the piece. Without an edge nothing was seen, unless the ending is ALREADY_UNDER.
    """
    how = alignments.how
    row = alignments.what[m, ROW]
    sensors = 2 if alignments.what[m, ALIGN] == LINE_SQUARE else 1
    if at_first:
        for i in range(sensors):
            if over_line(alignments, m, i, x, y, hc, hs):
                return 0.0, NONE, ALREADY_UNDER
    best = NEVER
    edge = NONE
    for i in range(sensors):
        off = how[m, SD_EDGE] * z[row + 2 + i, trial]
        u, e = sees(alignments, m, i, off, x, y, hc, hs, s, t)
        if u < best:
            best = u
            edge = e
    if edge < 0:
        return 0.0, NONE, NOT_REACHED
    way = next_look(gone + best * abs(s), how[m, LOOK], uniform(z[row, trial]))
    if sensors == 1:
        # It may stop short of where this piece begins: then it drives back, by less than a stop's error.
        way = max(0.0, way + how[m, SD_STOP] * z[row + 1, trial])
    return ((way - gone) / abs(s) if s != 0.0 else 0.0), edge, NOT_REACHED


@jit
def line_passes(
    alignments: Alignments,
    m: int,
    reference: Reference,
    z: Floats,
    trial: int,
    p: int,
    edge: int,
    gone: float,
    track: float,
    x: float,
    y: float,
    hc: float,
    hs: float,
    h: float,
    path: Floats,
) -> tuple[float, float, float, float, float, float, int]:
    """Turn about the wheel whose sensor sees the edge until the other sees it too; the same back, and so on.

    Pieces from ``p`` on: one turn for the first pass, a straight and a turn for each further one. Returns the pose, the
    way driven by the faster wheel and the ending.
    """
    how = alignments.how
    edges = alignments.edge
    way = alignments.what[m, WAY]
    row = alignments.what[m, ROW]
    phase = uniform(z[row, trial])
    step = how[m, LOOK]
    ending = CAUGHT
    for number in range(alignments.what[m, PASSES]):
        # Into the line on the first, third ... pass, out of it on the others.
        if ending != CAUGHT:
            break
        into = 1.0 if number % 2 == 0 else -1.0
        ahead = way * into
        lx = how[m, LX]
        ly = how[m, LY]
        rx = how[m, LX + 2]
        ry = how[m, LY + 2]
        off_l = how[m, SD_EDGE] * z[row + 2 + 2 * number, trial]
        off_r = how[m, SD_EDGE] * z[row + 3 + 2 * number, trial]
        if number > 0:
            # Straight until the first of them sees the edge again.
            reach = how[m, REACH]
            s = ahead * reach
            d, a, b = at_edge(edges, edge, x, y, hc, hs, lx, ly, s, 0.0)
            u_l = 0.0 if into * (d - off_l) <= 0.0 else crossing(into * (d - off_l), into * a, into * b, 0.0)
            d, a, b = at_edge(edges, edge, x, y, hc, hs, rx, ry, s, 0.0)
            u_r = 0.0 if into * (d - off_r) <= 0.0 else crossing(into * (d - off_r), into * a, into * b, 0.0)
            u = min(u_l, u_r)
            if u > 1.0:
                ending = NOT_REACHED
                u = 0.0
            elif u > 0.0:
                seen = next_look(gone + u * reach, step, phase)
                u = (seen - gone) / reach
            x, y, hc, hs = lay(path, reference, p, x, y, hc, hs, h, u * s, 0.0)
            gone += u * reach
            p += 1
        d_l, _, _ = at_edge(edges, edge, x, y, hc, hs, lx, ly, 0.0, 0.0)
        d_r, _, _ = at_edge(edges, edge, x, y, hc, hs, rx, ry, 0.0, 0.0)
        d_l = into * (d_l - off_l)
        d_r = into * (d_r - off_r)
        s = 0.0
        t = 0.0
        # Rounding may leave the sensor that has just seen the edge a hair short of it: the nearer one has seen it.
        if max(d_l, d_r) > 1e-9:
            # A turn about the standing wheel, twice as far as any that is captured.
            most = 2.0 * how[m, CAPTURE]
            if d_l <= d_r:
                t = ahead * most
                s = 0.5 * track * t
                d, a, b = at_edge(edges, edge, x, y, hc, hs, rx, ry, s, t)
                u = crossing(d_r, into * a, into * b, t)
            else:
                t = -ahead * most
                s = -0.5 * track * t
                d, a, b = at_edge(edges, edge, x, y, hc, hs, lx, ly, s, t)
                u = crossing(d_l, into * a, into * b, t)
            if u > 1.0:
                ending = NOT_REACHED
                u = 0.0
            rolled = most * track
            seen = next_look(gone + u * rolled, step, phase) if u > 0.0 else gone
            u = (seen - gone) / rolled
            s *= u
            t *= u
            gone = seen
        x, y, hc, hs = lay(path, reference, p, x, y, hc, hs, h, s, t)
        h += t
        p += 1
        along_l = along_edge(edges, edge, x, y, hc, hs, lx, ly)
        along_r = along_edge(edges, edge, x, y, hc, hs, rx, ry)
        if min(along_l, along_r) < 0.0 or max(along_l, along_r) > edges[edge, LEN]:
            ending = NOT_REACHED
    return x, y, hc, hs, h, gone, ending
