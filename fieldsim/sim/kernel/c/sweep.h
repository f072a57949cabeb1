/* Exact clearance of a convex polygon in rigid rotation, eight motions at a time.
 *
 * A *piece* of driving takes the robot frame along a circular arc of signed length s while its heading changes by t
 * (radians), both in proportion to a fraction u from 0 to 1. It is one rigid rotation about the instantaneous centre,
 * which stands still both in the field and in the robot frame, at (0, s/t) in the latter. So in the robot frame the
 * footprint A stands still and a convex obstacle O turns about that point by -t; every formula below is written there.
 * What is wanted is
 *
 *     D = min over u of dist(A, O(u)),        zero if they touch or overlap at any u.
 *
 * With c the centre and rho(x) = |x - c|, D is attained in one of three ways:
 *
 *   - at an end, u = 0 or 1: the distance of two convex polygons at rest (standing);
 *   - at an inner u where the distance is stationary. The closest points x of A and y of O then have a connecting line
 *     through c (their relative velocity is square to the radius), so y passes x's direction from c during the piece,
 *     and the distance is abs(rho(x) - rho(y)). Each of x and y is a vertex, or the foot of c on an edge: those are the
 *     only points of an outline at which the connecting line can be square to it. Two feet need not be held against
 *     each other: there two edges are parallel, and to one side of that moment a vertex comes closer still. (A pair
 *     that is not the closest does no harm: it is a distance that really occurs, so it can only be too large.)
 *   - as zero, because the outlines cross in between: then a vertex of one passes through an edge of the other, and a
 *     circle about c meets a segment within the arc that was driven.
 *
 * No time step anywhere. Turns of half a circle and more are driven as several pieces (parts_of_turn).
 *
 * Near-straight pieces have a far centre (1e12 mm at the smallest turn kept). Therefore no difference of two radii or
 * of two large coordinates is ever taken: rho(x) - rho(y) = (x - y).(x + y - 2c) / (rho(x) + rho(y)), and likewise in
 * the circle's quadratic. A straight is the limit t -> 0 of the same code.
 *
 * Separating directions. Any direction f separates the shapes by at least
 *
 *     min over O of f.y - max over the sweep of f.x,
 *
 * and the maximum over the sweep of a vertex is exact: an end, or the top of its arc (farthest_along). If the pair of
 * features that was closest in the plan gives the direction, this bound is nearly always attained, and then it *is* the
 * distance (certificate); if not, it is still a bound that may show that the pair cannot matter. The edge that faces
 * the other shape at either end of the piece is as good a direction, and sweep tries those before anything dearer.
 */
#ifndef FIELDSIM_SWEEP_H
#define FIELDSIM_SWEEP_H

#include "course.h"
#include "lanes.h"

/* Two outlines this close touch, mm; a certificate may miss its bound by this much, mm; the least turn; and with less
 * turn than this the centre is too far away (1e8 mm) to tell where on its arc a vertex is, to 1e-7 mm. */
static const double TOUCH = 1e-5, CERTAIN = 1e-9, LEAST_TURN = 1e-12, FAR_CENTRE = 1e-6;
static const double PI = 3.14159265358979323846;

/* What the two closest features are, and when. The footprint's vertex or edge is i, the obstacle's j. */
enum {
    OVERLAP,
    FIELD_EDGE,       /* edge j of the obstacle faces a vertex */
    ROBOT_EDGE_START, /* edge i of the footprint faces a vertex, at the piece's start */
    ROBOT_EDGE_END,
    CORNERS_START,    /* vertex i faces vertex j */
    CORNERS_END,
    RADIAL,           /* on a line through the centre, footprint inside, vertex j outside */
    UNPROVED          /* anything else: measured in full each time */
};

typedef struct {
    V x, y, c, s; /* a place, and the cosine and sine of a heading */
} Pose;

typedef struct {
    Pose from, to;
    V s, t;
    V c, sn;  /* cosine and sine of the turn */
    V dx, dy; /* where it ends, as seen from where it begins */
} Motion;

typedef struct {
    V gap;
    M kind, i, j;
} Nearest;

/* Room for one thread, for shapes of so many corners and the feet on their edges. */
typedef struct {
    V *ax, *ay, *a_radius;  /* the footprint's corners and the feet on its edges, and how far they are from the centre */
    M *a_foot;
    V *ox, *oy, *ex, *ey;   /* the obstacle's, seen at the start and at the end */
    M *o_foot;
    V *ux, *uy, *vx, *vy;   /* where each point's counter-clockwise arc begins and ends */
} Work;

/* The pose after a piece. The chord s sin(t/2)/(t/2) keeps it exact for any turn. Source: Siegwart & Nourbakhsh,
 * Introduction to Autonomous Mobile Robots, 2004, sec. 5.2.4, with the chord in place of s. */
static inline Motion motion(Pose from, V s, V t)
{
    Motion m = {.from = from, .s = s, .t = t};
    Angle half = angle(0.5 * t);
    V chord = s * half.sinc;
    m.dx = chord * half.cos;
    m.dy = chord * half.sin;
    V mc = from.c * half.cos - from.s * half.sin;
    V ms = from.s * half.cos + from.c * half.sin;
    m.to.x = from.x + chord * mc;
    m.to.y = from.y + chord * ms;
    m.to.c = mc * half.cos - ms * half.sin;
    m.to.s = ms * half.cos + mc * half.sin;
    m.c = half.cos * half.cos - half.sin * half.sin;
    m.sn = 2.0 * (half.sin * half.cos);
    return m;
}

/* The pose at fraction u of a piece, and the part of it from fraction u to fraction w. */
static inline Pose pose_in(const Motion *m, V u)
{
    Pose at = motion(m->from, u * m->s, u * m->t).to;
    M begins = u <= 0.0;
    at.x = pick(begins, m->from.x, at.x);
    at.y = pick(begins, m->from.y, at.y);
    at.c = pick(begins, m->from.c, at.c);
    at.s = pick(begins, m->from.s, at.s);
    return at;
}

static inline Motion part_of(const Motion *m, V u, V w)
{
    return motion(pose_in(m, u), (w - u) * m->s, (w - u) * m->t);
}

/* The obstacle's corners as the robot sees them. */
static inline void seen(Polygon O, Pose at, V *ox, V *oy)
{
    for (int j = 0; j < O.n; j++) {
        V dx = O.at[j].x - at.x;
        V dy = O.at[j].y - at.y;
        ox[j] = at.c * dx + at.s * dy;
        oy[j] = at.c * dy - at.s * dx;
    }
}

/* Distance of the footprint to the obstacle at (ox, oy), both at rest; (fx, fy) is the direction of the edge's normal
 * that separates them best, from the footprint to the obstacle.
 *
 * Separating axes first: the best of all edge normals is the distance wherever a vertex faces that edge. Otherwise two
 * vertices face each other (or an edge that ties), and all vertices are held against all edges. Of an overlap the gap
 * is 0 and the features are those of the shallowest way out. Without ``features`` only the gap is told. */
static inline __attribute__((always_inline)) Nearest standing(Polygon A, Polygon O, Pose at, const V *ox, const V *oy,
                                                              V *fx, V *fy, const int features)
{
    V best = every(-INFINITY);
    M faces = every_int(0);
    M kind = every_int(UNPROVED), bi = every_int(0), bj = every_int(0);
    *fx = *fy = every(0.0);
    for (int i = 0; i < A.n && A.n > 1; i++) {
        const Corner a = A.at[i];
        V low = every(INFINITY), along = every(0.0);
        M which = every_int(0);
        for (int j = 0; j < O.n; j++) {
            V dx = ox[j] - a.x, dy = oy[j] - a.y;
            V h = a.nx * dx + a.ny * dy;
            M less = h < low;
            low = pick(less, h, low);
            along = pick(less, a.nx * dy - a.ny * dx, along);
            if (features)
                which = pick_int(less, every_int(j), which);
        }
        M better = low > best;
        best = pick(better, low, best);
        faces = pick_int(better, (along >= 0.0) & (along <= a.length), faces);
        if (features) {
            kind = pick_int(better, every_int(ROBOT_EDGE_START), kind);
            bi = pick_int(better, every_int(i), bi);
            bj = pick_int(better, which, bj);
        }
        *fx = pick(better, every(a.nx), *fx);
        *fy = pick(better, every(a.ny), *fy);
    }
    for (int j = 0; j < O.n && O.n > 1; j++) {
        V nx = at.c * O.at[j].nx + at.s * O.at[j].ny;
        V ny = at.c * O.at[j].ny - at.s * O.at[j].nx;
        V low = every(INFINITY), along = every(0.0);
        M which = every_int(0);
        for (int i = 0; i < A.n; i++) {
            V dx = A.at[i].x - ox[j], dy = A.at[i].y - oy[j];
            V h = nx * dx + ny * dy;
            M less = h < low;
            low = pick(less, h, low);
            along = pick(less, nx * dy - ny * dx, along);
            if (features)
                which = pick_int(less, every_int(i), which);
        }
        M better = low > best;
        best = pick(better, low, best);
        faces = pick_int(better, (along >= 0.0) & (along <= O.at[j].length), faces);
        if (features) {
            kind = pick_int(better, every_int(FIELD_EDGE), kind);
            bi = pick_int(better, which, bi);
            bj = pick_int(better, every_int(j), bj);
        }
        *fx = pick(better, -nx, *fx);
        *fy = pick(better, -ny, *fy);
    }
    /* Touching or overlapping, unless both are so thin that no edge normal tells their ends apart (two segments on one
     * line, a point on a segment's line): then the vertices below decide. */
    M over = A.n > 2 || O.n > 2 ? best <= 0.0 : A.n > 1 || O.n > 1 ? best < 0.0 : every_int(0);
    M open = ~over & ~(faces & (best > 0.0));
    Nearest found = {pick(over, every(0.0), best), kind, bi, bj};
    if (!any(open))
        return found;
    V square = every(INFINITY);
    for (int i = 0; i < A.n; i++) {
        const Corner a = A.at[i];
        for (int j = 0; j < O.n; j++) {
            V dx = ox[j] - a.x, dy = oy[j] - a.y;
            V d = dx * dx + dy * dy;
            M less = d < square;
            square = pick(less, d, square);
            if (features)
                kind = pick_int(less, every_int(CORNERS_START), kind);
            V along = a.nx * dy - a.ny * dx;
            V off = a.nx * dx + a.ny * dy;
            d = off * off;
            M edge = (along > 0.0) & (along < a.length) & (d < square);
            square = pick(edge, d, square);
            if (features) {
                kind = pick_int(edge, every_int(ROBOT_EDGE_START), kind);
                bi = pick_int(less | edge, every_int(i), bi);
                bj = pick_int(less | edge, every_int(j), bj);
            }
        }
    }
    for (int j = 0; j < O.n && O.n > 1; j++) {
        V nx = at.c * O.at[j].nx + at.s * O.at[j].ny;
        V ny = at.c * O.at[j].ny - at.s * O.at[j].nx;
        for (int i = 0; i < A.n; i++) {
            V dx = A.at[i].x - ox[j], dy = A.at[i].y - oy[j];
            V along = nx * dy - ny * dx;
            V off = nx * dx + ny * dy;
            V d = off * off;
            M less = (along > 0.0) & (along < O.at[j].length) & (d < square);
            square = pick(less, d, square);
            if (features) {
                kind = pick_int(less, every_int(FIELD_EDGE), kind);
                bi = pick_int(less, every_int(i), bi);
                bj = pick_int(less, every_int(j), bj);
            }
        }
    }
    found.gap = pick(open, root(square), found.gap);
    if (features) {
        found.kind = pick_int(open, kind, found.kind);
        found.i = pick_int(open, bi, found.i);
        found.j = pick_int(open, bj, found.j);
    }
    return found;
}

/* How far along the direction f (robot frame, at the piece's start) the sweep of the footprint reaches; and which
 * vertex does, when (0 at the start, 1 at the end, 2 between). */
typedef struct {
    V top, px, py;
    M when;
} Farthest;

static inline Farthest farthest_along(Polygon A, const Motion *m, V fx, V fy)
{
    V gx = m->c * fx + m->sn * fy; /* the same direction as seen at the end */
    V gy = m->c * fy - m->sn * fx;
    V away = fx * m->dx + fy * m->dy;
    Farthest found = {every(-INFINITY), every(0.0), every(0.0), every_int(0)};
    for (int i = 0; i < A.n; i++) {
        double ax = A.at[i].x, ay = A.at[i].y;
        V h0 = fx * ax + fy * ay;
        V h1 = away + gx * ax + gy * ay;
        M later = h1 > h0;
        V h = pick(later, h1, h0);
        M when = later & 1;
        V vx = m->s - m->t * ay, vy = m->t * ax; /* the vertex's velocity */
        V v0 = fx * vx + fy * vy;
        V v1 = gx * vx + gy * vy;
        M between = (v0 > 0.0) & (v1 < 0.0);
        if (any(between)) {
            V speed = root(vx * vx + vy * vy);
            V top = h0 + v0 * v0 / (size(m->t) * speed + m->t * (fx * vy - fy * vx));
            h = pick(between, top, h);
            when = pick_int(between, every_int(2), when);
        }
        M higher = h > found.top;
        found.top = pick(higher, h, found.top);
        found.px = pick(higher, every(ax), found.px);
        found.py = pick(higher, every(ay), found.py);
        found.when = pick_int(higher, when, found.when);
    }
    return found;
}

/* How far features (kind, i, j) hold the sweep and the core apart. The bound is never larger than D; ``proved`` tells
 * that it is D. */
static inline V certificate(Polygon A, Polygon O, const Motion *m, int64_t kind, int64_t wi, int64_t wj, M *proved)
{
    const Pose at = m->from;
    M useless = every_int(0);
    V fx, fy, distance = every(0.0);
    *proved = every_int(0);
    switch (kind) {
    case FIELD_EDGE:
        fx = -(at.c * O.at[wj].nx + at.s * O.at[wj].ny);
        fy = -(at.c * O.at[wj].ny - at.s * O.at[wj].nx);
        break;
    case ROBOT_EDGE_START:
        fx = every(A.at[wi].nx);
        fy = every(A.at[wi].ny);
        break;
    case ROBOT_EDGE_END:
        fx = m->c * A.at[wi].nx - m->sn * A.at[wi].ny;
        fy = m->sn * A.at[wi].nx + m->c * A.at[wi].ny;
        break;
    case CORNERS_START:
    case CORNERS_END:
    case RADIAL: {
        V px = every(0.0), py;
        if (kind == RADIAL) {
            useless = size(m->t) < FAR_CENTRE;
            py = m->s / pick(useless, every(1.0), m->t);
        } else if (kind == CORNERS_START) {
            px = every(A.at[wi].x);
            py = every(A.at[wi].y);
        } else {
            px = m->dx + m->c * A.at[wi].x - m->sn * A.at[wi].y;
            py = m->dy + m->sn * A.at[wi].x + m->c * A.at[wi].y;
        }
        V dx = O.at[wj].x - at.x, dy = O.at[wj].y - at.y;
        fx = at.c * dx + at.s * dy - px;
        fy = at.c * dy - at.s * dx - py;
        distance = root(fx * fx + fy * fy);
        useless |= ~(distance > 0.0);
        V by = 1.0 / pick(useless, every(1.0), distance);
        fx *= by;
        fy *= by;
        break;
    }
    default:
        return every(0.0);
    }

    /* The obstacle's support, relative to the start of the robot frame. */
    V wx = at.c * fx - at.s * fy;
    V wy = at.s * fx + at.c * fy;
    V low = wx * O.at[wj].x + wy * O.at[wj].y;
    V lx = every(O.at[wj].x), ly = every(O.at[wj].y);
    M other = every_int(0);
    if (kind != FIELD_EDGE)
        for (int j = 0; j < O.n; j++) {
            V h = wx * O.at[j].x + wy * O.at[j].y;
            M less = h < low;
            low = pick(less, h, low);
            lx = pick(less, every(O.at[j].x), lx);
            ly = pick(less, every(O.at[j].y), ly);
            other |= less;
        }
    low -= wx * at.x + wy * at.y;
    Farthest far = farthest_along(A, m, fx, fy);
    V bound = pick(useless, every(0.0), low - far.top);
    M holds = ~useless & (bound > 0.0);
    if (!any(holds))
        return bound;

    if (kind == FIELD_EDGE) {
        /* Where the vertex that comes closest is then. */
        M at_end = far.when == 1, between = far.when == 2;
        V px = pick(at_end, m->dx + m->c * far.px - m->sn * far.py, far.px);
        V py = pick(at_end, m->dy + m->sn * far.px + m->c * far.py, far.py);
        if (any(between)) {
            M vague = between & (size(m->t) < FAR_CENTRE);
            V cy = m->s / pick(size(m->t) < FAR_CENTRE, every(1.0), m->t);
            V rho = root(far.px * far.px + (far.py - cy) * (far.py - cy));
            px = pick(between, rho * fx, px);
            py = pick(between, cy + rho * fy, py);
            holds &= ~vague;
        }
        V dx = at.x + at.c * px - at.s * py - O.at[wj].x;
        V dy = at.y + at.s * px + at.c * py - O.at[wj].y;
        V along = O.at[wj].nx * dy - O.at[wj].ny * dx;
        *proved = holds & (along >= 0.0) & (along <= O.at[wj].length);
    } else if (kind == ROBOT_EDGE_START || kind == ROBOT_EDGE_END) {
        const Corner a = A.at[wi];
        V own = fx * a.x + fy * a.y;
        V dx = lx - at.x, dy = ly - at.y;
        V px = at.c * dx + at.s * dy;
        V py = at.c * dy - at.s * dx;
        if (kind == ROBOT_EDGE_END) {
            own = fx * m->dx + fy * m->dy + a.nx * a.x + a.ny * a.y;
            V qx = px - m->dx, qy = py - m->dy;
            px = m->c * qx + m->sn * qy;
            py = m->c * qy - m->sn * qx;
        }
        V along = a.nx * (py - a.y) - a.ny * (px - a.x);
        *proved = holds & (far.top - own <= CERTAIN) & (along >= 0.0) & (along <= a.length);
    } else if (kind == RADIAL) {
        *proved = holds & (far.when == 2) & ~other;
    } else {
        *proved = holds & (distance - bound <= CERTAIN);
    }
    return bound;
}

/* Is p, seen from the centre (0, cy), within the counter-clockwise arc from u to v, shorter than half a turn? */
static inline M passes(V ux, V uy, V vx, V vy, V cy, V px, V py)
{
    return (ux * (py - uy) - (uy - cy) * (px - ux) >= 0.0) & ((px - vx) * (vy - cy) - (py - vy) * vx >= 0.0);
}

/* Does the arc from u to v about (0, cy) meet the segment from p to q? */
static inline M arc_meets(V ux, V uy, V vx, V vy, V cy, V px, V py, V qx, V qy)
{
    V ex = qx - px, ey = qy - py;
    V aa = ex * ex + ey * ey;
    V bb = ex * px + ey * (py - cy);
    V cc = (px - ux) * (px + ux) + (py - uy) * (py + uy - 2.0 * cy);
    V disc = bb * bb - aa * cc;
    M real = (disc >= 0.0) & (aa > 0.0);
    if (!any(real))
        return real;
    V r = root(pick(real, disc, every(0.0)));
    V q = pick(bb >= 0.0, -(bb + r), r - bb);
    V w = q / aa;
    M met = (w >= 0.0) & (w <= 1.0) & passes(ux, uy, vx, vy, cy, px + w * ex, py + w * ey);
    w = cc / q;
    met |= (q != 0.0) & (w >= 0.0) & (w <= 1.0) & passes(ux, uy, vx, vy, cy, px + w * ex, py + w * ey);
    return real & met;
}

/* D of one piece, abs(t) < pi, for the obstacle's core (its rounding radius is the caller's).
 *
 * ``apart`` tells in which lanes a separating direction is known already, so that nothing needs to be held against
 * crossing. Where D is shown to be more than ``enough`` a bound that is more may be returned instead. Lanes
 * outside ``wanted`` get anything. Without ``features`` only the gap is told. */
static inline __attribute__((always_inline)) Nearest sweep_as(Polygon A, Polygon O, const Motion *m, M wanted, M apart,
                                                              V enough, const Work *w, const int features)
{
    V t = pick(size(m->t) >= LEAST_TURN, m->t, pick(m->t >= 0.0, every(LEAST_TURN), every(-LEAST_TURN)));
    /* Standing still: an arc of no length would be passed by whatever lies on the centre's far side, too. */
    M still = (size(t) <= LEAST_TURN) & (size(m->s) <= 1e-9);
    Nearest found = {every(INFINITY), every_int(UNPROVED), every_int(0), every_int(0)};
    M open = wanted;
    seen(O, m->from, w->ox, w->oy);
    /* The start, then the end; and the edge that faces there, as a direction for the whole piece. */
    for (int end = 0; end < 2 && any(open); end++) {
        V fx, fy;
        if (end)
            seen(O, m->to, w->ex, w->ey);
        Nearest near = standing(A, O, end ? m->to : m->from, end ? w->ex : w->ox, end ? w->ey : w->oy, &fx, &fy, features);
        M less = open & (near.gap < found.gap);
        M over = open & (near.gap <= 0.0);
        found.gap = pick(less, near.gap, found.gap);
        if (features) {
            M later = (near.kind == ROBOT_EDGE_START) | (near.kind == CORNERS_START);
            found.kind = pick_int(less, end ? pick_int(later, near.kind + 1, near.kind) : near.kind, found.kind);
            found.kind = pick_int(over, every_int(OVERLAP), found.kind);
            found.i = pick_int(less, near.i, found.i);
            found.j = pick_int(less, near.j, found.j);
        }
        open &= ~over;
        V gx = end ? m->c * fx - m->sn * fy : fx;
        V gy = end ? m->sn * fx + m->c * fy : fy;
        V low = every(INFINITY);
        for (int j = 0; j < O.n; j++)
            low = smaller(low, gx * w->ox[j] + gy * w->oy[j]);
        V bound = low - farthest_along(A, m, gx, gy).top;
        apart |= bound > 0.0;
        M settled = open & (bound > 0.0) & ((bound > enough) | (found.gap - bound <= 1e-10));
        found.gap = pick(settled & (bound < found.gap), bound, found.gap);
        open &= ~settled;
    }
    open &= ~still;
    if (!any(open))
        return found;

    V cy = m->s / t;
    for (int i = 0; i < A.n; i++) {
        const Corner a = A.at[i];
        w->ax[i] = every(a.x);
        w->ay[i] = every(a.y);
        V along = a.ny * a.x + a.nx * (cy - a.y);
        w->a_foot[i] = (along > 0.0) & (along < a.length);
        w->ax[A.n + i] = a.x - along * a.ny;
        w->ay[A.n + i] = a.y + along * a.nx;
    }
    for (int i = 0; i < 2 * A.n; i++)
        w->a_radius[i] = root(w->ax[i] * w->ax[i] + (w->ay[i] - cy) * (w->ay[i] - cy));
    for (int j = 0; j < O.n; j++) {
        V tx = -(m->from.c * O.at[j].ny - m->from.s * O.at[j].nx);
        V ty = m->from.c * O.at[j].nx + m->from.s * O.at[j].ny;
        V along = ty * (cy - w->oy[j]) - tx * w->ox[j];
        w->o_foot[j] = (along > 0.0) & (along < O.at[j].length);
        V px = w->ox[j] + along * tx;
        V py = w->oy[j] + along * ty;
        w->ox[O.n + j] = px;
        w->oy[O.n + j] = py;
        w->ex[O.n + j] = m->c * (px - m->dx) + m->sn * (py - m->dy);
        w->ey[O.n + j] = m->c * (py - m->dy) - m->sn * (px - m->dx);
    }
    /* The obstacle turns by -t: its counter-clockwise arcs run from u to v. */
    M left = t > 0.0;
    for (int j = 0; j < 2 * O.n; j++) {
        w->ux[j] = pick(left, w->ex[j], w->ox[j]);
        w->uy[j] = pick(left, w->ey[j], w->oy[j]);
        w->vx[j] = pick(left, w->ox[j], w->ex[j]);
        w->vy[j] = pick(left, w->oy[j], w->ey[j]);
    }
    for (int j = 0; j < 2 * O.n; j++) {
        int o_foot = j >= O.n;
        M there = o_foot ? open & w->o_foot[j - O.n] : open;
        if (o_foot && !any(there))
            continue;
        V x = w->ox[j], y = w->oy[j];
        V rho = root(x * x + (y - cy) * (y - cy));
        for (int i = 0; i < (o_foot ? A.n : 2 * A.n); i++) {
            M which = i >= A.n ? there & w->a_foot[i - A.n] : there;
            V px = w->ax[i], py = w->ay[i];
            which &= passes(w->ux[j], w->uy[j], w->vx[j], w->vy[j], cy, px, py);
            if (!any(which))
                continue;
            V both = rho + w->a_radius[i];
            V d = ((x - px) * (x + px) + (y - py) * (y + py - 2.0 * cy)) / both;
            d = pick(both > 0.0, d, every(0.0));
            M less = which & (size(d) < found.gap);
            found.gap = pick(less, size(d), found.gap);
            if (!features)
                continue;
            M outside = d > 0.0;
            found.kind = pick_int(less, pick_int(outside, every_int(o_foot ? FIELD_EDGE : RADIAL), every_int(UNPROVED)),
                                  found.kind);
            found.i = pick_int(less, every_int(i), found.i);
            found.j = pick_int(less, every_int(o_foot ? j - O.n : j), found.j);
        }
    }
    open &= ~apart & (found.gap > 0.0);
    if (!any(open))
        return found;

    M met = every_int(0);
    for (int i = 0; i < A.n; i++) {
        int next = i + 1 < A.n ? i + 1 : 0;
        V px = w->ax[i], py = w->ay[i];
        /* Seen from the obstacle the footprint turns by +t, from p to q. */
        V qx = m->dx + m->c * px - m->sn * py;
        V qy = m->dy + m->sn * px + m->c * py;
        V sx = pick(left, px, qx), sy = pick(left, py, qy);
        qx = pick(left, qx, px);
        qy = pick(left, qy, py);
        for (int j = 0; j < O.n; j++) {
            int after = j + 1 < O.n ? j + 1 : 0;
            if (A.n > 1)
                met |= arc_meets(w->ux[j], w->uy[j], w->vx[j], w->vy[j], cy, px, py, w->ax[next], w->ay[next]);
            if (O.n > 1)
                met |= arc_meets(sx, sy, qx, qy, cy, w->ox[j], w->oy[j], w->ox[after], w->oy[after]);
        }
    }
    met &= open;
    found.gap = pick(met, every(0.0), found.gap);
    found.kind = pick_int(met, every_int(OVERLAP), found.kind);
    return found;
}

static Nearest sweep(Polygon A, Polygon O, const Motion *m, M wanted, M apart, V enough, const Work *w)
{
    return sweep_as(A, O, m, wanted, apart, enough, w, 0);
}

static Nearest sweep_with_features(Polygon A, Polygon O, const Motion *m, M wanted, const Work *w)
{
    return sweep_as(A, O, m, wanted, every_int(0), every(INFINITY), w, 1);
}

/* Into how many equal pieces a turn is cut, so that each is well under half a circle. */
static inline int64_t parts_of_turn(double t) { return 1 + (int64_t)(fabs(t) / (0.75 * PI)); }

static inline M turns_far(V t) { return size(t) >= 0.75 * PI; }

/* D for turns of any size. */
static Nearest swept(Polygon A, Polygon O, const Motion *m, M wanted, V enough, const Work *w, int features)
{
    if (!any(wanted & turns_far(m->t)))
        return features ? sweep_with_features(A, O, m, wanted, w) : sweep(A, O, m, wanted, every_int(0), enough, w);
    V n = every(1.0);
    double most = 1.0;
    for (int lane = 0; lane < LANES; lane++)
        if (wanted[lane]) {
            n[lane] = (double)parts_of_turn(m->t[lane]);
            most = n[lane] > most ? n[lane] : most;
        }
    Nearest least = {every(INFINITY), every_int(UNPROVED), every_int(0), every_int(0)};
    Pose at = m->from;
    for (double part = 0.0; part < most; part += 1.0) {
        Motion one = motion(at, m->s / n, m->t / n);
        M here = wanted & (part < n);
        Nearest found =
            features ? sweep_with_features(A, O, &one, here, w) : sweep(A, O, &one, here, every_int(0), enough, w);
        M less = here & (found.gap < least.gap);
        least.gap = pick(less, found.gap, least.gap);
        least.kind = pick_int(less, found.kind, least.kind);
        least.i = pick_int(less, found.i, least.i);
        least.j = pick_int(less, found.j, least.j);
        at = one.to;
    }
    return least;
}

#endif
