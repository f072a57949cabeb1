/* When a corner meets an edge, or a sensor a line: closed forms, one trial at a time.
 *
 * A point c of the robot, carried along a piece of travel s and turn t, has the velocity v = (s - t c_y, t c_x) in the
 * robot frame, which turns with it. So after the fraction u its distance from a straight edge with normal n is
 *
 *     d(u) = d(0) + (n.v) sin(t u)/t + (n.v') (1 - cos(t u))/t,        v' = v turned left by a quarter.
 *
 * With q = tan(t u/2)/(t/2), d(u) = 0 is a quadratic in q without any division by t: a straight needs no case of its
 * own. These are few for each trial and full of cases, so they are not done eight at a time.
 */
#ifndef FIELDSIM_ALIGN_H
#define FIELDSIM_ALIGN_H

#include "course.h"
#include "table.h"

/* A corner this little past an edge's end is still on it, mm; how deep a corner may be in what it is about to be pushed
 * on and count as touching it: a robot that stands there already, give or take its placing; and what meets exactly
 * where one piece ends and the next begins may be missed by both by this much: rounding. */
static const double ON_EDGE = 1e-6, STANDS = 5.0, HAIR = 1e-9;

static const double NEVER = 2.0;
enum { NONE = -1 };

typedef struct {
    double x, y, c, s;
} Spot;

/* When, which corner of the robot (or which of two eyes), and which edge. */
typedef struct {
    double u;
    int64_t corner, edge;
} Meeting;

typedef struct {
    double d, a, b; /* distance from an edge's line, and the factors of sin(t u)/t and (1 - cos(t u))/t */
} Approach;

/* Of one trial, seen from what may have moved. */
static inline Spot spot(const Frame *f, Pose at, int lane)
{
    if (f)
        at = seen_from(f, at);
    return (Spot){at.x[lane], at.y[lane], at.c[lane], at.s[lane]};
}

static Spot carried(Spot from, double s, double t)
{
    Pose at = {every(from.x), every(from.y), every(from.c), every(from.s)};
    return spot(NULL, motion(at, every(s), every(t)).to, 0);
}

/* The first u in [0, 1] at which d + a sin(t u)/t + b (1 - cos(t u))/t falls to zero; NEVER if none does. d is not
 * negative and abs(t) less than half a circle. */
static double crossing(double d, double a, double b, double t)
{
    /* A q^2 + a q + d = 0; the smallest positive q, without a difference of two nearly equal numbers. */
    double A = 0.5 * b * t + 0.25 * d * t * t;
    double disc = a * a - 4.0 * A * d;
    double q;
    if (disc < 0.0)
        return NEVER;
    if (a < 0.0)
        q = 2.0 * d / (sqrt(disc) - a);
    else if (A < 0.0)
        q = (a + sqrt(disc)) / (-2.0 * A);
    else
        return NEVER;
    double w = 0.5 * q * t;
    double u = fabs(w) < 1e-4 ? q * (1.0 - w * w / 3.0) : q * atan(w) / w;
    return u <= 1.0 ? u : NEVER;
}

/* Of the robot's point (cx, cy) carried along (s, t), and an edge. */
static Approach at_edge(Corner edge, Spot at, double cx, double cy, double s, double t)
{
    double fx = at.c * edge.nx + at.s * edge.ny; /* the normal as the robot sees it */
    double fy = at.c * edge.ny - at.s * edge.nx;
    double vx = s - t * cy, vy = t * cx;
    double d = edge.nx * (at.x - edge.x) + edge.ny * (at.y - edge.y) + fx * cx + fy * cy;
    return (Approach){d, fx * vx + fy * vy, fy * vx - fx * vy};
}

/* How far along an edge the robot's point (cx, cy) is, mm from its first corner. */
static double along_edge(Corner edge, Spot at, double cx, double cy)
{
    double px = at.x + at.c * cx - at.s * cy - edge.x;
    double py = at.y + at.s * cx + at.c * cy - edge.y;
    return edge.nx * py - edge.ny * px;
}

/* When a piece first brings the footprint against what a square is pushed on. The corner is a row of ``hull``, NONE if
 * it is a corner of the obstacle that meets the footprint's side. A corner that stands on the edge already touches at
 * once. */
static Meeting first_contact(const Alignments *all, const What *what, Spot at, double s, double t)
{
    Meeting best = {NEVER, NONE, NONE};
    for (int64_t i = what->hull; i < what->hull_end; i++) {
        const Corner c = all->hull[i];
        for (int64_t e = what->edge; e < what->edge_end; e++) {
            Approach to = at_edge(all->edge[e], at, c.x, c.y, s, t);
            double u;
            if (to.d > 0.0)
                u = crossing(to.d, to.a, to.b, t);
            else if (to.d >= -STANDS && to.a < 0.0)
                u = 0.0;
            else
                continue;
            if (u >= best.u)
                continue;
            double along = along_edge(all->edge[e], carried(at, u * s, u * t), c.x, c.y);
            if (-ON_EDGE <= along && along <= all->edge[e].length + ON_EDGE)
                best = (Meeting){u, i, e};
        }
    }
    /* The obstacle's corners against the footprint's sides: seen from the robot they are carried backwards. */
    for (int64_t e = what->edge; e < what->edge_end; e++) {
        double dx = all->edge[e].x - at.x, dy = all->edge[e].y - at.y;
        double ox = at.c * dx + at.s * dy;
        double oy = at.c * dy - at.s * dx;
        double vx = t * oy - s, vy = -t * ox;
        for (int64_t i = what->hull; i < what->hull_end; i++) {
            const Corner c = all->hull[i];
            double d = c.nx * (ox - c.x) + c.ny * (oy - c.y);
            double a = c.nx * vx + c.ny * vy;
            double u;
            if (d > 0.0)
                u = crossing(d, a, c.ny * vx - c.nx * vy, -t);
            else if (d > -HAIR && a < 0.0)
                u = 0.0;
            else
                continue;
            /* A corner of each at the same place is the face's own. */
            if (u >= best.u - 1e-9)
                continue;
            Spot then = carried(at, u * s, u * t);
            double gx = then.c * (all->edge[e].x - then.x) + then.s * (all->edge[e].y - then.y) - c.x;
            double gy = then.c * (all->edge[e].y - then.y) - then.s * (all->edge[e].x - then.x) - c.y;
            double along = c.nx * gy - c.ny * gx;
            if (0.0 <= along && along <= c.length)
                best = (Meeting){u, NONE, NONE};
        }
    }
    return best;
}

/* How far the heading is from flush with an edge that is driven at forwards (``way`` 1) or backwards (-1). */
static double off_flush(Corner edge, Spot at, int64_t way)
{
    double c = -(double)way * (at.c * edge.nx + at.s * edge.ny);
    double n = -(double)way * (at.s * edge.nx - at.c * edge.ny);
    return atan2(n, c);
}

/* How a square ends that has just touched. */
static int64_t square_ending(const Alignments *all, const What *what, const How *how, Meeting met, Spot at)
{
    if (met.corner < 0)
        return NOT_BORNE;
    const Corner edge = all->edge[met.edge], corner = all->hull[met.corner];
    if (fabs(off_flush(edge, at, what->way)) > how->capture)
        return TOO_SKEW;
    if (fabs(corner.x - how->face) > 1e-9)
        return NOT_BORNE;
    /* Where a corner slides, driving on must turn the face towards the wall: (face tan a + cy) has the sign of cy. */
    double lever = how->face * tan(off_flush(edge, at, what->way));
    if (what->passes > 1 && (lever + corner.y) * corner.y <= 0.0)
        return TOO_SKEW;
    /* Do both ends of the face lie on the edge? */
    double along = along_edge(edge, at, corner.x, corner.y);
    double low = along - (double)what->way * (how->low - corner.y);
    double high = along - (double)what->way * (how->high - corner.y);
    double length = edge.length + ON_EDGE;
    return fmin(low, high) >= -ON_EDGE && fmax(low, high) <= length ? CAUGHT : NOT_BORNE;
}

/* Is a sensor over the line? */
static int over_line(const Alignments *all, const What *what, const double eye[2], Spot at)
{
    for (int64_t e = what->edge; e < what->edge_end; e++)
        if (at_edge(all->edge[e], at, eye[0], eye[1], 0.0, 0.0).d > 0.0)
            return 0;
    return 1;
}

/* When a piece brings a sensor over the line, and over which of its edges; ``off`` is how far outside the edge it sees
 * it, mm. */
static Meeting sees(const Alignments *all, const What *what, const double eye[2], double off, Spot at, double s, double t)
{
    Meeting best = {NEVER, NONE, NONE};
    for (int64_t e = what->edge; e < what->edge_end; e++) {
        Approach to = at_edge(all->edge[e], at, eye[0], eye[1], s, t);
        double u;
        if (to.d > off)
            u = crossing(to.d - off, to.a, to.b, t);
        else if (to.d > fmin(0.0, off) - HAIR && to.a < 0.0)
            /* Where it sees the edge was passed before this piece, by rounding, or it looks farther than the edge. */
            u = 0.0;
        else
            continue;
        if (u >= best.u)
            continue;
        double along = along_edge(all->edge[e], carried(at, u * s, u * t), eye[0], eye[1]);
        if (0.0 <= along && along <= all->edge[e].length)
            best = (Meeting){u, NONE, e};
    }
    return best;
}

/* The way driven at the first look at or after ``way``; looks are ``step`` mm apart, ``phase`` of one to begin. */
static double next_look(double way, double step, double phase)
{
    return fmax(way, (ceil(way / step - phase) + phase) * step);
}

/* A standard normal number as one between 0 and 1. */
static double uniform(double z) { return 0.5 * (1.0 + erf(z / sqrt(2.0))); }

/* When a piece is ended by a sensor that sees the line: u (which may be over 1) and the edge; without an edge nothing
 * was seen, unless ``ending`` says ALREADY_UNDER. ``gone`` is the way driven before; ``phase``, ``stop`` and ``off`` are
 * numbers drawn. */
static Meeting first_look(const Alignments *all, const What *what, const How *how, int at_first, double gone, Spot at,
                          double s, double t, double phase, double stop, const double off[2], int64_t *ending)
{
    int sensors = what->align == LINE_SQUARE ? 2 : 1;
    *ending = NOT_REACHED;
    if (at_first)
        for (int i = 0; i < sensors; i++)
            if (over_line(all, what, how->eye[i], at)) {
                *ending = ALREADY_UNDER;
                return (Meeting){0.0, NONE, NONE};
            }
    Meeting best = {NEVER, NONE, NONE};
    for (int i = 0; i < sensors; i++) {
        Meeting found = sees(all, what, how->eye[i], how->sd_edge * off[i], at, s, t);
        found.corner = i;
        if (found.u < best.u)
            best = found;
    }
    if (best.edge < 0)
        return (Meeting){0.0, NONE, NONE};
    double way = next_look(gone + best.u * fabs(s), how->look, uniform(phase));
    if (sensors == 1)
        /* It may stop short of where this piece begins: then it drives back, by less than a stop's error. */
        way = fmax(0.0, way + stop);
    best.u = s != 0.0 ? (way - gone) / fabs(s) : 0.0;
    return best;
}

#endif
