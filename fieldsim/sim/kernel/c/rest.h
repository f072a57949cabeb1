/* Touching: when, where, how deep; and robots that stand against something.
 *
 * Nobody can push a robot into the jig or wall that it is set against, but a drawn pose may say so. So what it was pushed
 * against is taken to stand LET_OFF farther out, or as much as it was drawn deep and a hair more: a jig or a wall guides a
 * robot that leaves along it. It is touched where the robot goes deeper than that. So it is judged until the robot has
 * been CLEAR of it; from then on where it is. That is looked at every LOOK_AGAIN mm of motion; it cannot come clear and
 * touch again in less than twice that, so no contact is missed for it. What the robot is not pushed against is judged
 * where it is from the start.
 *
 * Nearly all those looks find it where the last one did, a corner still on the same edge. The distance of two points,
 * or of a point from an edge it stands before, is never less than the gap: as long as that of the features that were
 * closest when it was last measured is below CLEAR the robot is not clear, and nothing else need be measured.
 */
#ifndef FIELDSIM_REST_H
#define FIELDSIM_REST_H

#include "drive.h"

static const double LOOK_AGAIN = 2.0;

/* How far the fastest vertex of a part drives in a piece, mm. */
static inline V travel(Polygon A, const Motion *m)
{
    V far = every(0.0);
    for (int i = 0; i < A.n; i++) {
        V vx = m->s - m->t * A.at[i].y, vy = m->t * A.at[i].x;
        far = larger(far, vx * vx + vy * vy);
    }
    return root(far);
}

/* Gap at rest at a pose, to the rounded obstacle. */
static Nearest gap_at(Polygon A, Polygon O, Pose at, const Work *w)
{
    V fx, fy;
    seen(O, at, w->ox, w->oy);
    Nearest found = standing(A, O, at, w->ox, w->oy, &fx, &fy, 1);
    found.gap -= O.radius;
    return found;
}

/* Does the gap fall to TOUCH between fractions u and v of a piece, v not less than u? */
static M touches(Polygon A, Polygon O, const Motion *m, V u, V v, M wanted, const Work *w)
{
    Motion part = part_of(m, u, v);
    V gap = swept(A, O, &part, wanted, every(O.radius + TOUCH), w, 0).gap;
    return wanted & (gap - O.radius <= TOUCH);
}

/* The first fraction from u on at which the gap is no more than TOUCH; it is, somewhere up to v.
 *
 * First by conservative advancement (Mirtich, Impulse-based Dynamic Simulation, 1996, from memory): nothing can touch
 * before the fastest vertex has driven the gap. Grazing contacts make that slow; those are finished by bisection of the
 * exact smallest gap. */
static V first_touch(Polygon A, Polygon O, const Motion *m, V u, V v, M wanted, const Work *w)
{
    V far = travel(A, m);
    M open = wanted & (far > 0.0);
    for (int step = 0; step < 30 && any(open); step++) {
        V gap = gap_at(A, O, pose_in(m, u), w).gap;
        M there = open & ((gap <= TOUCH) | (u >= v));
        u = pick(there, smaller(u, v), u);
        open &= ~there;
        u = pick(open, smaller(v, u + gap / far), u);
    }
    V low = u, high = v;
    while (any(open)) {
        V middle = 0.5 * (low + high);
        M done = ((high - low) * far <= 0.5 * TOUCH) | (middle <= low) | (middle >= high);
        u = pick(open & done, high, u);
        open &= ~done;
        if (!any(open))
            break;
        M met = touches(A, O, m, low, middle, open, w);
        high = pick(open & met, middle, high);
        low = pick(open & ~met, middle, low);
    }
    return u;
}

/* The least way out of an overlap: how deep (negative if they are apart along some edge's normal), and the unit
 * direction the robot has to go, field frame. Where the footprint lies outside a rounded obstacle's core that is the way
 * straight from the core's nearest point, which an edge's normal need not be. */
static V push_out(Polygon A, Polygon O, Pose at, V *out_x, V *out_y, const Work *w)
{
    V best = every(-INFINITY);
    *out_x = *out_y = every(0.0);
    seen(O, at, w->ox, w->oy);
    for (int i = 0; i < A.n; i++) {
        const Corner a = A.at[i];
        V low = every(INFINITY);
        for (int j = 0; j < O.n; j++)
            low = smaller(low, a.nx * (w->ox[j] - a.x) + a.ny * (w->oy[j] - a.y));
        M better = low > best;
        best = pick(better, low, best);
        *out_x = pick(better, -(at.c * a.nx - at.s * a.ny), *out_x);
        *out_y = pick(better, -(at.s * a.nx + at.c * a.ny), *out_y);
    }
    for (int j = 0; j < O.n && O.n > 1; j++) {
        V nx = at.c * O.at[j].nx + at.s * O.at[j].ny;
        V ny = at.c * O.at[j].ny - at.s * O.at[j].nx;
        V low = every(INFINITY);
        for (int i = 0; i < A.n; i++)
            low = smaller(low, nx * (A.at[i].x - w->ox[j]) + ny * (A.at[i].y - w->oy[j]));
        M better = low > best;
        best = pick(better, low, best);
        *out_x = pick(better, every(O.at[j].nx), *out_x);
        *out_y = pick(better, every(O.at[j].ny), *out_y);
    }
    V deep = O.radius - best;
    if (O.radius <= 0.0)
        return deep;
    Nearest near = gap_at(A, O, at, w);
    for (int lane = 0; lane < LANES; lane++) {
        if (near.gap[lane] + O.radius <= 0.0)
            continue;
        deep[lane] = -near.gap[lane];
        if (near.kind[lane] != CORNERS_START)
            continue;
        const Corner a = A.at[near.i[lane]], o = O.at[near.j[lane]];
        double dx = at.x[lane] + at.c[lane] * a.x - at.s[lane] * a.y - o.x;
        double dy = at.y[lane] + at.s[lane] * a.x + at.c[lane] * a.y - o.y;
        double apart = sqrt(dx * dx + dy * dy);
        (*out_x)[lane] = dx / apart;
        (*out_y)[lane] = dy / apart;
    }
    return deep;
}

/* A start that can be: nobody can set a robot deeper than LET_OFF into what stands there. A drawn start that says so is
 * set back along the shortest way out, to just under it. */
static void set_back(const Course *course, const Driven *d, Place *now, const Work *w)
{
    const Rests *rests = &course->rests;
    for (int64_t r = 0; r < rests->count; r++) {
        if (!rests->set_back[r])
            continue;
        int64_t o = rests->obstacle[r];
        const Frame *f = frame_of(course, d, o);
        for (int64_t q = course->pairs.first[o]; q < course->pairs.first[o + 1]; q++) {
            V out_x, out_y;
            V deep = push_out(shape(&course->parts, course->pairs.part[q]), shape(&course->cores, course->pairs.core[q]),
                              seen_from(f, now->at), &out_x, &out_y, w);
            if (f)
                turned_with(f, &out_x, &out_y);
            V back = deep - LET_OFF + SET_BACK;
            M too = deep > LET_OFF - SET_BACK;
            now->at.x = pick(too, now->at.x + back * out_x, now->at.x);
            now->at.y = pick(too, now->at.y + back * out_y, now->at.y);
        }
    }
}

/* Two features that were closest: a point of the robot and one of the field, one of them the corner of an edge. */
typedef struct {
    M known, kind;
    V rx, ry, rnx, rny, r_length; /* of the footprint: a corner, its edge's normal and length, robot frame */
    V fx, fy, fnx, fny, f_length; /* of the obstacle, field frame */
    V radius;
} Witness;

static void remember(Witness *seen_by, M which, Polygon A, Polygon O, const Nearest *near)
{
    for (int lane = 0; lane < LANES; lane++) {
        if (!which[lane])
            continue;
        const Corner a = A.at[near->i[lane]], o = O.at[near->j[lane]];
        seen_by->rx[lane] = a.x, seen_by->ry[lane] = a.y;
        seen_by->rnx[lane] = a.nx, seen_by->rny[lane] = a.ny, seen_by->r_length[lane] = a.length;
        seen_by->fx[lane] = o.x, seen_by->fy[lane] = o.y;
        seen_by->fnx[lane] = o.nx, seen_by->fny[lane] = o.ny, seen_by->f_length[lane] = o.length;
    }
    seen_by->kind = pick_int(which, near->kind, seen_by->kind);
    seen_by->radius = pick(which, every(O.radius), seen_by->radius);
    seen_by->known |= which;
}

/* In which lanes do these features alone show that the gap is below CLEAR? And for how much of the piece they surely
 * go on doing so, at least, as a fraction.
 *
 * What moves past the edge does so at a constant speed on a circle: square to the edge by no more than what it does now
 * and its speed times the piece's turn, along the edge by no more than its speed. */
static inline M held_by(const Witness *seen_by, Pose at, const Motion *m, V *longer)
{
    V dx = at.x + at.c * seen_by->rx - at.s * seen_by->ry - seen_by->fx;
    V dy = at.y + at.s * seen_by->rx + at.c * seen_by->ry - seen_by->fy;
    /* The robot's corner before the obstacle's edge, or the obstacle's corner before the robot's. */
    M edge = seen_by->kind == FIELD_EDGE, own = seen_by->kind == ROBOT_EDGE_START;
    V nx = pick(edge, seen_by->fnx, at.c * seen_by->rnx - at.s * seen_by->rny);
    V ny = pick(edge, seen_by->fny, at.s * seen_by->rnx + at.c * seen_by->rny);
    V off = size(nx * dx + ny * dy);
    V along = nx * dy - ny * dx;
    along = pick(edge, along, -along);
    V beyond = pick(edge, seen_by->f_length, seen_by->r_length) - along;
    V room = seen_by->radius + CLEAR - off;
    M held = seen_by->known & (edge | own) & (along >= 0.0) & (beyond >= 0.0) & (room > 0.0);
    if (!any(held))
        return held;
    /* Of the corner that moves, in the robot frame. */
    V qx = pick(edge, seen_by->rx, seen_by->rx - (at.c * dx + at.s * dy));
    V qy = pick(edge, seen_by->ry, seen_by->ry - (at.c * dy - at.s * dx));
    V vx = m->s - m->t * qy, vy = m->t * qx;
    V speed = root(vx * vx + vy * vy);
    V away = size(nx * (at.c * vx - at.s * vy) + ny * (at.s * vx + at.c * vy)) + speed * size(m->t);
    *longer = smaller(room / away, smaller(along, beyond) / speed);
    return held;
}

/* What became of a robot at rest, lane by lane: the last piece judged here; and the first contact, if there was one. */
typedef struct {
    M last, hit, part, core;
    V at;
} Rested;

/* What stands where a rest begins: how far each pair is let off, as the way the robot would have to go out of it; and
 * which of them is deepest. */
static void let_off(const Course *course, int64_t r, Pose at, V *off_x, V *off_y, Rested *deepest, const Work *w)
{
    const Pairs *pairs = &course->pairs;
    int64_t o = course->rests.obstacle[r], q0 = pairs->first[o], frame = course->frame[course->rests.piece[r]];
    V most = every(-INFINITY);
    for (int64_t q = q0; q < pairs->first[o + 1]; q++) {
        V out_x, out_y;
        V deep = push_out(shape(&course->parts, pairs->part[q] + frame), shape(&course->cores, pairs->core[q]), at,
                          &out_x, &out_y, w);
        V by = larger(deep + GIVE, every(LET_OFF));
        off_x[q - q0] = by * out_x;
        off_y[q - q0] = by * out_y;
        M deeper = deep > most;
        most = pick(deeper, deep, most);
        deepest->part = pick_int(deeper, every_int(pairs->part[q] + frame), deepest->part);
        deepest->core = pick_int(deeper, every_int(pairs->core[q]), deepest->core);
    }
}

/* Follow robots that stand against an obstacle from the beginning of piece ``p``, until they have come clear of it or
 * touch it. Lanes in ``on`` are followed; ``motion_so_far`` and ``sure`` (a value for each pair) are carried from piece
 * to piece: up to that motion a pair is surely clear, since a gap shrinks by no more than the fastest vertex drives.
 * Returns the lanes that are done with. */
static M rest_on_piece(const Course *course, int64_t r, int64_t p, M on, const Motion *m, const V *off_x, const V *off_y,
                       V *motion_so_far, V *sure, Rested *found, const Work *w)
{
    const Pairs *pairs = &course->pairs;
    int64_t o = course->rests.obstacle[r], q0 = pairs->first[o], q1 = pairs->first[o + 1];
    int64_t frame = course->frame[p];
    V far = every(0.0);
    for (int64_t q = q0; q < q1; q++)
        far = larger(far, travel(shape(&course->parts, pairs->part[q] + frame), m));
    Witness seen_by = {.known = every_int(0)};
    V u = every(0.0);
    M looking = on, clear = every_int(0);
    while (any(looking)) {
        Pose at = pose_in(m, u);
        V longer = every(0.0);
        M held = looking & held_by(&seen_by, at, m, &longer);
        M ask = looking & ~held;
        M good = ask;
        for (int64_t q = q0; q < q1 && any(good); q++) {
            V driven = *motion_so_far + u * far;
            M need = good & ~(driven < sure[q - q0]);
            if (!any(need))
                continue;
            Polygon A = shape(&course->parts, pairs->part[q] + frame), O = shape(&course->cores, pairs->core[q]);
            Nearest near = gap_at(A, O, at, w);
            sure[q - q0] = pick(need, driven + near.gap - CLEAR, sure[q - q0]);
            M bad = need & (near.gap < CLEAR);
            remember(&seen_by, bad, A, O, &near);
            good &= ~bad;
        }
        clear |= good;
        looking &= ~good & ~((u >= 1.0) | (far <= 0.0));
        /* The next look, or the last of those that are known to find nothing new. */
        V step = LOOK_AGAIN / far;
        V known = smaller(0.999 * longer / step, every(1e6)) - 0.5 + 6755399441055744.0;
        V looks = larger(every(1.0), pick(held, known - 6755399441055744.0, every(1.0)));
        u = pick(looking, smaller(every(1.0), u + looks * step), u);
    }
    *motion_so_far += u * far;

    /* The earliest contact of all pairs: too deep before it came clear, else any after. */
    M met = every_int(0);
    V first = every(INFINITY);
    for (int after = 0; after < 2; after++) {
        if (!after && course->rests.how[r] == PRESSED)
            continue;
        M which = after ? on & clear & ~met : on;
        V from = after ? u : every(0.0), to = after ? every(1.0) : u;
        for (int64_t q = q0; q < q1 && any(which); q++) {
            Polygon A = shape(&course->parts, pairs->part[q] + frame), O = shape(&course->cores, pairs->core[q]);
            /* As seen from the robot it is the same whether the obstacle stands farther out or the robot does. */
            Motion seen_from = *m;
            if (!after) {
                seen_from.from.x += off_x[q - q0], seen_from.from.y += off_y[q - q0];
                seen_from.to.x += off_x[q - q0], seen_from.to.y += off_y[q - q0];
            }
            M hit = touches(A, O, &seen_from, from, to, which, w);
            if (!any(hit))
                continue;
            V when = first_touch(A, O, &seen_from, from, to, hit, w);
            hit &= when < first;
            first = pick(hit, when, first);
            found->part = pick_int(hit, every_int(pairs->part[q] + frame), found->part);
            found->core = pick_int(hit, every_int(pairs->core[q]), found->core);
            met |= hit;
        }
    }
    found->hit = met;
    found->at = pick(met, first, found->at);
    M done = met | (on & clear);
    found->last = pick_int(on, every_int(p), found->last);
    return done;
}

/* Where they touch at a pose, field frame; one trial. */
static void contact_point(Polygon A, Polygon O, Pose at, int lane, double *x, double *y, const Work *w)
{
    Nearest near = gap_at(A, O, at, w);
    int64_t kind = near.gap[lane] + O.radius <= 0.0 ? OVERLAP : near.kind[lane];
    double px = 0.0, py = 0.0;
    if (kind == FIELD_EDGE || kind == CORNERS_START) {
        px = A.at[near.i[lane]].x;
        py = A.at[near.i[lane]].y;
    } else if (kind == ROBOT_EDGE_START) {
        /* The foot of the obstacle's vertex on the footprint's edge. */
        const Corner a = A.at[near.i[lane]];
        double ox = w->ox[near.j[lane]][lane], oy = w->oy[near.j[lane]][lane];
        double away = a.nx * (ox - a.x) + a.ny * (oy - a.y);
        px = ox - away * a.nx;
        py = oy - away * a.ny;
    } else {
        /* They overlap (at a start, or in what is let off): the middle of the vertices that lie in the other shape, else of all. */
        int found = 0;
        for (int pass = 0; pass < 2 && found == 0; pass++) {
            for (int v = 0; v < O.n; v++) {
                double ox = w->ox[v][lane], oy = w->oy[v][lane];
                int inside = 1;
                for (int e = 0; e < A.n && pass == 0; e++)
                    inside &= A.at[e].nx * (ox - A.at[e].x) + A.at[e].ny * (oy - A.at[e].y) <= 0.0;
                if (inside) {
                    px += ox;
                    py += oy;
                    found++;
                }
            }
            for (int v = 0; v < A.n; v++) {
                int inside = O.n > 2 || pass == 1;
                for (int e = 0; e < O.n && pass == 0; e++) {
                    double nx = at.c[lane] * O.at[e].nx + at.s[lane] * O.at[e].ny;
                    double ny = at.c[lane] * O.at[e].ny - at.s[lane] * O.at[e].nx;
                    inside &= nx * (A.at[v].x - w->ox[e][lane]) + ny * (A.at[v].y - w->oy[e][lane]) <= 0.0;
                }
                if (inside) {
                    px += A.at[v].x;
                    py += A.at[v].y;
                    found++;
                }
            }
        }
        px /= found;
        py /= found;
    }
    *x = at.x[lane] + at.c[lane] * px - at.s[lane] * py;
    *y = at.y[lane] + at.s[lane] * px + at.c[lane] * py;
}

#endif
