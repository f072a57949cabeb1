/* Drive trials: commands, drawn numbers, what the robot is pushed flat on and the lines it aligns on.
 *
 * What the wheels do with what is commanded, and how drawn numbers change it, is told in fieldsim's drivetrain.py.
 *
 * The bound. Each piece is written with a bound on how far any point of the footprint can be from its place on the
 * reference path, at any fraction u of the piece: ``off`` + reach * ``swing``. Both robots are rotated rigidly at
 * constant rates over the same fraction u. The distance of the two axle middles (or of whatever point the piece is told
 * of) at u is at most the larger of the two ends' plus 1/8 of the largest second derivative of the difference,
 *
 *     abs(s t n(h) - s' t' n(h')) <= abs(s t - s' t') + abs(s' t') abs(h - h')
 *
 * (linear interpolation error; any calculus text). A footprint point at most ``reach`` from there adds at most
 * reach abs(h - h'), and h - h' is linear in u, so largest at an end. It is a bound for any drawn numbers, however
 * absurd. For what stands elsewhere in a trial (table.h) it is that of the path as seen from there.
 */
#ifndef FIELDSIM_DRIVE_H
#define FIELDSIM_DRIVE_H

#include "align.h"

/* Nobody can set a robot deeper into what stands there, or push it deeper into a wall, than LET_OFF, mm: such a start or
 * square is set back a hair short of that. A robot that has been CLEAR of what it stood against stands against it no
 * more. GIVE is what keeps a robot that just stands against something from touching it. */
static const double LET_OFF = 2.0, SET_BACK = 0.01, CLEAR = 2.0, GIVE = 0.01;

typedef struct {
    Motion drive;
    V h;
    V off, swing; /* the bound: mm, and radians to be multiplied by a part's reach */
} Piece;

/* How far any point of the footprint can be from its place on the reference path, seen from what has moved. */
typedef struct {
    V off, swing;
} Bound;

/* Eight trials as they were driven. Pieces are of the point that is ``ahead`` of the axle's middle. */
typedef struct {
    Piece *path;
    Frame *frame;  /* where each thing that moves stands, and for those that are solid the bounds of all pieces */
    Bound *bound;
    Pose end;      /* and the pose at the end of the run */
    V end_h;
    M counted;     /* how many pieces count: all, but where an alignment failed */
    M *ending;     /* how each alignment ended, and the way driven for it by the faster wheel */
    V *driven;
} Driven;

/* Drawn numbers, (rows, width); a lane's are in its column. */
typedef struct {
    const double *z;
    int64_t width, column[LANES];
    int whole; /* the columns are eight neighbours */
} Numbers;

static inline V drawn(const Numbers *n, int64_t row)
{
    V found;
    const double *at = n->z + row * n->width;
    if (n->whole)
        memcpy(&found, at + n->column[0], sizeof found);
    else
        for (int lane = 0; lane < LANES; lane++)
            found[lane] = at[n->column[lane]];
    return found;
}

/* Columns ``first`` and on, ``many`` of them; lanes without a trial repeat the first. */
static inline Numbers numbers(const double *z, int64_t width, int64_t first, int64_t many)
{
    Numbers n = {z, width, {0}, many >= LANES};
    for (int lane = 0; lane < LANES; lane++)
        n.column[lane] = first + (lane < many ? lane : 0);
    return n;
}

typedef struct {
    Pose at;
    V h;
} Place;

/* Where the robot is set. A heading error turns it about the point that is held. */
static Place placed(const Wheels *w, const Numbers *z)
{
    V along = w->spread[0] * drawn(z, 0);
    V across = w->spread[1] * drawn(z, 1);
    V h = w->start[2] + w->spread[2] * drawn(z, 2);
    Angle planned = angle(every(w->start[2])), there = angle(h);
    V c0 = planned.cos, s0 = planned.sin;
    double kx = w->held[0], ky = w->held[1];
    Place p = {.h = h};
    p.at.c = there.cos;
    p.at.s = there.sin;
    p.at.x = w->start[0] + (c0 - p.at.c) * kx - (s0 - p.at.s) * ky + c0 * along - s0 * across;
    p.at.y = w->start[1] + (s0 - p.at.s) * kx + (c0 - p.at.c) * ky + s0 * along + c0 * across;
    return p;
}

/* Where all that moves stands, and where the robot is set on that table. What carries a thing comes before it. */
static Place set_there(const Course *course, const Numbers *z, Frame *frame)
{
    const Moves *all = &course->moves;
    for (int64_t k = 0; k < all->count; k++) {
        const Moving *how = &all->how[k];
        int64_t row = all->what[k].row, on = all->what[k].carried;
        V x = how->sd_x * drawn(z, row), y = how->sd_y * drawn(z, row + 1), h = how->sd_heading * drawn(z, row + 2);
        frame[k] = moved_about(x, y, h, how->x, how->y);
        if (on >= 0)
            frame[k] = carried_by(frame[k], &frame[on]);
    }
    Place now = placed(&course->wheels, z);
    if (all->count > 0 && all->start >= 0) {
        now.at = moved_with(&frame[all->start], now.at);
        now.h += frame[all->start].turned;
    }
    return now;
}

/* From where an obstacle is seen, and what an alignment is on; NULL if it stands where it was drawn. */
static inline const Frame *frame_of(const Course *course, const Driven *d, int64_t obstacle)
{
    if (course->moves.count == 0 || course->moves.obstacle[obstacle] < 0)
        return NULL;
    return &d->frame[course->moves.obstacle[obstacle]];
}

static inline const Frame *frame_of_alignment(const Course *course, const Driven *d, int64_t m)
{
    if (course->moves.count == 0 || course->moves.aligned[m] < 0)
        return NULL;
    return &d->frame[course->moves.aligned[m]];
}

/* The bounds of all pieces as seen from the solid things that moved. */
static void bound_all(const Course *course, Driven *d)
{
    const Reference *r = &course->reference;
    int64_t pieces = course->wheels.pieces;
    for (int64_t k = 0; k < course->moves.solid; k++)
        for (int64_t p = 0; p < pieces; p++) {
            const Piece *piece = &d->path[p];
            Pose from = seen_from(&d->frame[k], piece->drive.from), to = seen_from(&d->frame[k], piece->drive.to);
            V h = piece->h - d->frame[k].turned;
            V ax = from.x - r->x[p], ay = from.y - r->y[p], bx = to.x - r->end_x[p], by = to.y - r->end_y[p];
            V swing = larger(size(h - r->h[p]), size(h + piece->drive.t - r->end_h[p]));
            double bend = r->s[p] * r->t[p];
            Bound *bound = &d->bound[k * pieces + p];
            bound->off = root(larger(ax * ax + ay * ay, bx * bx + by * by)) +
                         0.125 * (size(piece->drive.s * piece->drive.t - bend) + fabs(bend) * swing);
            bound->swing = swing;
        }
}

/* Write a piece and its bound, and go to its end. */
static inline void lay(Piece *piece, const Reference *r, int64_t p, Place *now, V s, V t)
{
    piece->drive = motion(now->at, s, t);
    piece->h = now->h;
    V dx = now->at.x - r->x[p], dy = now->at.y - r->y[p];
    V begin = dx * dx + dy * dy;
    now->at = piece->drive.to;
    V swing = size(now->h - r->h[p]);
    now->h += t;
    dx = now->at.x - r->end_x[p];
    dy = now->at.y - r->end_y[p];
    swing = larger(swing, size(now->h - r->end_h[p]));
    double bend = r->s[p] * r->t[p];
    piece->off = root(larger(begin, dx * dx + dy * dy)) + 0.125 * (size(s * t - bend) + fabs(bend) * swing);
    piece->swing = swing;
}

/* What is known of the wheels and the gyro in these trials, and of the way so far. */
typedef struct {
    V left, right, track;
    V drift, scale;
    V h_zero, asked; /* the heading where the gyro was last set anew, the turning asked for since, */
    V clock, zero_at; /* the clock, and when that was */
} State;

/* Travel and turn of a piece: the commanded ones on these wheels, and its noise. ``share`` is the part of the segment
 * that is over with it, ``span`` the segment's seconds. */
static inline void command(const Wheels *w, const Numbers *z, State *on, int64_t g, int64_t p, double share, V span, V h,
                           V *s_of, V *t_of)
{
    V s = 0.5 * (on->right * w->right[p] + on->left * w->left[p]);
    V t = (on->right * w->right[p] - on->left * w->left[p]) / on->track;
    V more = every(w->always[p][0]), off = every(w->always[p][1]);
    for (int64_t q = w->term[p]; q < w->term[p + 1]; q++) {
        V n = drawn(z, w->row[q]);
        more += w->along[q] * n;
        off += w->turn[q] * n;
    }
    if (w->gyro[2] != 0.0) {
        on->asked += (w->right[p] - w->left[p]) / w->track;
        V now = on->clock + span * share;
        V to = on->h_zero + (on->asked - on->drift * (now - on->zero_at)) / on->scale + off - h;
        if (w->turns[g] == 0)
            s += more;
        else
            s = pick(t != 0.0, s * (to / t), s);
        t = to;
    } else {
        s += more;
        t += off;
    }
    *s_of = s;
    *t_of = t;
}

/* How far the axle's middle rolls while the heading goes ``from`` so far off flush ``to`` so far off, and the corner that
 * touches, (face, cy) in the robot frame, slides along the wall: closed form. Off flush by a, with no way sideways at the
 * axle, ds = (face tan a + cy) da keeps the corner on the wall; towards the wall that is ds cos a, which integrates to
 * [cy sin a - face cos a]. One rigid rotation about a point on the axle's line that goes as far towards the wall rolls
 * so much; along the wall it differs by face (to - from)^3/12 at most. */
static double rolled(double face, double cy, double from, double to)
{
    double sines = sin(to) - sin(from);
    double towards = cy * sines - face * (cos(to) - cos(from));
    return sines != 0.0 ? towards * ((to - from) / sines) : 0.0;
}

/* A swing whose corner slides: the pieces from p on, as many as ``passes``, of the axle's middle. */
static void slide_flat(const Course *course, const What *what, const How *how, int64_t p, M caught, V off, V cy,
                       Place *now, Piece *path)
{
    double pieces = (double)what->passes;
    for (int64_t i = 0; i < what->passes; i++) {
        V s = every(0.0), t = every(0.0);
        for (int lane = 0; lane < LANES; lane++)
            if (caught[lane]) {
                double from = off[lane] * ((pieces - (double)i) / pieces);
                double to = off[lane] * ((pieces - (double)i - 1.0) / pieces);
                s[lane] = rolled(how->face, cy[lane], from, to);
                t[lane] = to - from;
            }
        lay(path + p + i, &course->reference, p + i, now, s, t);
    }
}

/* The swing about the touching corner until the face is flush, then the residual: pieces p and p + 1, of the ``caught``
 * lanes; the others stand. A corner that slides takes some pieces more: see ``slide_flat``.
 *
 * Both pieces are of the face's middle: seen from there the corner lies on the line across, so that the swing is one
 * more rotation about (0, s/t), and the residual turns about it and moves it from the wall. */
static void swing_flat(const Course *course, const Numbers *z, const What *what, const How *how, int64_t p, M caught,
                       const Meeting met[LANES], const Frame *f, Place *now, V *gone, Piece *path)
{
    const Alignments *all = &course->alignments;
    Place before = *now;
    double way = (double)what->way;
    V off = every(0.0), cy = every(0.0), gap = every(0.0);
    for (int lane = 0; lane < LANES; lane++)
        if (caught[lane]) {
            off[lane] = off_flush(all->edge[met[lane].edge], spot(f, now->at, lane), what->way);
            cy[lane] = all->hull[met[lane].corner].y;
        }
    int slides = what->passes > 1;
    if (slides) {
        slide_flat(course, what, how, p, caught, off, cy, now, path);
        p += what->passes - 1;
    }
    now->at.x += how->face * now->at.c;
    now->at.y += how->face * now->at.s;
    if (!slides)
        lay(path + p, &course->reference, p, now, -off * cy, -off);
    /* The middle of the face is on the wall now, if the corner was: it may have stood in it, or short of it, by a hair. */
    for (int lane = 0; lane < LANES; lane++)
        if (caught[lane])
            gap[lane] = at_edge(all->edge[met[lane].edge], spot(f, now->at, lane), 0.0, 0.0, 0.0, 0.0).d;
    V lean = pick(caught, how->sd_heading * drawn(z, what->row), every(0.0));
    V away = how->sd_along * drawn(z, what->row + 1);
    /* Nobody can be pushed deeper into a wall than the let-off of a robot at rest. */
    double most = fmax(fabs(how->low), fabs(how->high));
    away = larger(away, most * size(angle(lean).sin) - LET_OFF + SET_BACK);
    lay(path + p + 1, &course->reference, p + 1, now, pick(caught, -way * (away - gap), every(0.0)), lean);
    now->at.x = pick(caught, now->at.x - how->face * now->at.c, before.at.x);
    now->at.y = pick(caught, now->at.y - how->face * now->at.s, before.at.y);
    *gone += size(off) * (how->high - how->low);
}

/* One pass over a line by one trial: how far it drives straight on until a sensor sees the edge again, then how far it
 * turns about the wheel whose sensor sees it until the other does too. */
typedef struct {
    double gone, phase;
    int64_t ending, eye; /* and the eye that saw the edge last, 0 the left one */
} Passing;

static double straight_on(Corner edge, const How *how, Spot at, double into, double ahead, double off_l, double off_r,
                          Passing *trial)
{
    double s = ahead * how->reach;
    Approach l = at_edge(edge, at, how->eye[0][0], how->eye[0][1], s, 0.0);
    Approach r = at_edge(edge, at, how->eye[1][0], how->eye[1][1], s, 0.0);
    double d_l = into * (l.d - off_l), d_r = into * (r.d - off_r);
    double u_l = d_l <= 0.0 ? 0.0 : crossing(d_l, into * l.a, into * l.b, 0.0);
    double u_r = d_r <= 0.0 ? 0.0 : crossing(d_r, into * r.a, into * r.b, 0.0);
    double u = fmin(u_l, u_r);
    trial->eye = u_r < u_l;
    if (u > 1.0) {
        trial->ending = NOT_REACHED;
        u = 0.0;
    } else if (u > 0.0) {
        u = (next_look(trial->gone + u * how->reach, how->look, trial->phase) - trial->gone) / how->reach;
    }
    trial->gone += u * how->reach;
    return u * s;
}

static double turn_over(Corner edge, const How *how, Spot at, double into, double ahead, double off_l, double off_r,
                        double track, double width, double *turn, Passing *trial)
{
    double d_l = into * (at_edge(edge, at, how->eye[0][0], how->eye[0][1], 0.0, 0.0).d - off_l);
    double d_r = into * (at_edge(edge, at, how->eye[1][0], how->eye[1][1], 0.0, 0.0).d - off_r);
    *turn = 0.0;
    /* An eye that has gone by the line's end and come out beyond it has seen nothing of it. */
    if (into > 0.0 && (trial->eye ? d_l : d_r) < -width) {
        trial->ending = NOT_REACHED;
        return 0.0;
    }
    /* Rounding may leave the sensor that has just seen the edge a hair short of it: the nearer one has seen it. */
    if (fmax(d_l, d_r) <= 1e-9)
        return 0.0;
    /* A turn about the standing wheel, twice as far as any that is captured. */
    int left_sees = d_l <= d_r;
    double most = 2.0 * how->capture;
    double t = left_sees ? ahead * most : -ahead * most;
    double s = left_sees ? 0.5 * track * t : -0.5 * track * t;
    const double *eye = how->eye[left_sees ? 1 : 0];
    Approach to = at_edge(edge, at, eye[0], eye[1], s, t);
    double u = crossing(left_sees ? d_r : d_l, into * to.a, into * to.b, t);
    if (u > 1.0) {
        trial->ending = NOT_REACHED;
        u = 0.0;
    }
    double rolled = most * track;
    double seen_at = u > 0.0 ? next_look(trial->gone + u * rolled, how->look, trial->phase) : trial->gone;
    u = (seen_at - trial->gone) / rolled;
    trial->gone = seen_at;
    *turn = t * u;
    return s * u;
}

/* Turn about the wheel whose sensor sees the edge until the other sees it too; the same back, and so on: one turn for
 * the first pass, a straight and a turn for each further one. */
static void line_passes(const Course *course, const Numbers *z, const What *what, const How *how, int64_t p, M passing,
                        const Meeting met[LANES], const Frame *f, V track, Place *now, V *gone, M *ending, Piece *path)
{
    const Alignments *all = &course->alignments;
    V phase = drawn(z, what->row);
    Passing trial[LANES];
    for (int lane = 0; lane < LANES; lane++)
        trial[lane] = (Passing){(*gone)[lane], passing[lane] ? uniform(phase[lane]) : 0.0, CAUGHT, met[lane].corner};
    double width = all->edge[what->edge + 1].length; /* a line's second edge is one of its ends */
    for (int64_t number = 0; number < what->passes; number++) {
        /* Into the line on the first, third ... pass, out of it on the others. */
        double into = number % 2 == 0 ? 1.0 : -1.0;
        double ahead = (double)what->way * into;
        V off_l = how->sd_edge * drawn(z, what->row + 2 + 2 * number);
        V off_r = how->sd_edge * drawn(z, what->row + 3 + 2 * number);
        M on = passing;
        for (int lane = 0; lane < LANES; lane++)
            on[lane] = passing[lane] && trial[lane].ending == CAUGHT ? -1 : 0;
        V s = every(0.0), t = every(0.0);
        if (number > 0) {
            for (int lane = 0; lane < LANES; lane++)
                if (on[lane])
                    s[lane] = straight_on(all->edge[met[lane].edge], how, spot(f, now->at, lane), into, ahead, off_l[lane],
                                          off_r[lane], &trial[lane]);
            lay(path + p, &course->reference, p, now, s, t);
            p += 1;
            s = every(0.0);
        }
        for (int lane = 0; lane < LANES; lane++)
            if (on[lane]) {
                double turn;
                s[lane] = turn_over(all->edge[met[lane].edge], how, spot(f, now->at, lane), into, ahead, off_l[lane],
                                    off_r[lane], track[lane], width, &turn, &trial[lane]);
                t[lane] = turn;
            }
        lay(path + p, &course->reference, p, now, s, t);
        p += 1;
        for (int lane = 0; lane < LANES; lane++)
            if (on[lane]) {
                Corner edge = all->edge[met[lane].edge];
                double l = along_edge(edge, spot(f, now->at, lane), how->eye[0][0], how->eye[0][1]);
                double r = along_edge(edge, spot(f, now->at, lane), how->eye[1][0], how->eye[1][1]);
                if (fmin(l, r) < 0.0 || fmax(l, r) > edge.length)
                    trial[lane].ending = NOT_REACHED;
            }
    }
    for (int lane = 0; lane < LANES; lane++)
        if (passing[lane]) {
            (*gone)[lane] = trial[lane].gone;
            (*ending)[lane] = trial[lane].ending;
        }
}

/* A segment that ends at a wall or a line. */
static void align(const Course *course, const Numbers *z, State *on, int64_t g, V span, Place *now, Driven *d)
{
    const Wheels *w = &course->wheels;
    const Alignments *all = &course->alignments;
    int64_t m = all->of[g], first = w->piece[g], last = w->piece[g + 1];
    const What *what = &all->what[m];
    const How *how = &all->how[m];
    const Frame *f = frame_of_alignment(course, d, m);
    int64_t end = first + what->approach; /* here the swing, or the turns about a wheel, begin */
    M lost = d->counted < w->pieces;
    M found = every_int(0), stop = every_int(end), ending = every_int(NOT_REACHED);
    V gone = every(0.0);
    Meeting met[LANES];
    for (int lane = 0; lane < LANES; lane++)
        met[lane] = (Meeting){NEVER, NONE, NONE};
    int line = what->align != SQUARE;
    V phase = every(0.0), halt = every(0.0), off_l = every(0.0), off_r = every(0.0);
    if (line) {
        phase = drawn(z, what->row);
        halt = w->over[g] + how->sd_stop * drawn(z, what->row + 1);
        off_l = drawn(z, what->row + 2);
        off_r = drawn(z, what->row + 3);
    }
    for (int64_t p = first; p < end; p++) {
        V s, t;
        command(w, z, on, g, p, (double)(p - first + 1) / (double)(end - first), span, now->h, &s, &t);
        s = pick(lost | found, every(0.0), s);
        t = pick(lost | found, every(0.0), t);
        for (int lane = 0; lane < LANES; lane++) {
            if (lost[lane] || found[lane])
                continue;
            if (!line) {
                met[lane] = first_contact(all, what, spot(f, now->at, lane), s[lane], t[lane]);
                found[lane] = met[lane].u <= 1.0 ? -1 : 0;
            } else {
                int64_t so;
                double off[2] = {off_l[lane], off_r[lane]};
                met[lane] = first_look(all, what, how, p == first, gone[lane], spot(f, now->at, lane), s[lane], t[lane],
                                       phase[lane], halt[lane], off, &so);
                ending[lane] = so;
                found[lane] = met[lane].edge >= 0 || so == ALREADY_UNDER ? -1 : 0;
            }
            if (found[lane]) {
                s[lane] *= met[lane].u;
                t[lane] *= met[lane].u;
                stop[lane] = p + 1;
            }
        }
        gone += size(s);
        lay(d->path + p, &course->reference, p, now, s, t);
    }
    on->clock += span;

    M going = every_int(0);
    for (int lane = 0; lane < LANES; lane++) {
        if (lost[lane] || !found[lane])
            continue;
        Spot at = spot(f, now->at, lane);
        if (!line) {
            ending[lane] = square_ending(all, what, how, met[lane], at);
        } else if (met[lane].edge >= 0) {
            int skew = fabs(off_flush(all->edge[met[lane].edge], at, what->way)) > how->capture;
            ending[lane] = skew || (met[lane].edge - what->edge) % 2 == 1 ? TOO_SKEW : CAUGHT;
        }
        going[lane] = ending[lane] == CAUGHT ? -1 : 0;
    }
    if (!line)
        swing_flat(course, z, what, how, end, going, met, f, now, &gone, d->path);
    else if (what->align == LINE_SQUARE)
        line_passes(course, z, what, how, end, going, met, f, on->track, now, &gone, &ending, d->path);
    d->ending[m] = pick_int(lost, every_int(NOT_REACHED), ending);
    d->driven[m] = pick(lost, every(0.0), gone);
    M failed = ~lost & (ending != CAUGHT);
    d->counted = pick_int(failed, stop, d->counted);
    /* What a failed one has tried on the line is not told: it stands where it ended. */
    for (int64_t p = end; p < last && any(failed) && line; p++) {
        Place there = *now;
        Piece standing_there = d->path[p], *piece = d->path + p;
        lay(&standing_there, &course->reference, p, &there, every(0.0), every(0.0));
        V *to = (V *)piece;
        const V *with = (const V *)&standing_there;
        for (size_t k = 0; k < sizeof(Piece) / sizeof(V); k++)
            to[k] = pick(failed, with[k], to[k]);
    }
    if (what->align != UNTIL) {
        M again = ~lost & ~failed;
        on->h_zero = pick(again, now->h, on->h_zero);
        on->asked = pick(again, every(0.0), on->asked);
        on->zero_at = pick(again, on->clock, on->zero_at);
    }
}

/* The path of eight trials from where they are set. */
static void drive(const Course *course, const Numbers *z, Place now, Driven *d)
{
    const Wheels *w = &course->wheels;
    V distance = w->bias[0] + w->day[0] * drawn(z, 3);
    V veer = w->bias[1] + w->day[1] * drawn(z, 4);
    V turn = w->bias[2] + w->day[2] * drawn(z, 5);
    /* The mean of both wheel scales, the actual track, and the wheel scales themselves: see drivetrain.py. */
    V mean = 1.0 + distance;
    State on = {.track = w->track * mean / (1.0 + turn), .drift = every(0.0), .scale = every(1.0), .h_zero = now.h};
    on.left = mean - 0.5 * veer * on.track;
    on.right = mean + 0.5 * veer * on.track;
    on.asked = on.clock = on.zero_at = every(0.0);
    if (w->gyro[2] != 0.0) {
        on.drift = w->gyro[0] * drawn(z, 6);
        on.scale = 1.0 + (w->gyro[3] + w->gyro[1] * drawn(z, 7));
    }
    d->counted = every_int(w->pieces);
    for (int64_t g = 0; g < w->segments; g++) {
        V span = every(w->seconds[g][0]);
        if (w->seconds_row[g] >= 0)
            span = larger(every(0.0), span + w->seconds[g][1] * drawn(z, w->seconds_row[g]));
        if (course->alignments.of[g] >= 0) {
            align(course, z, &on, g, span, &now, d);
            continue;
        }
        M lost = d->counted < w->pieces;
        int64_t first = w->piece[g], end = w->piece[g + 1];
        for (int64_t p = first; p < end; p++) {
            V s, t;
            command(w, z, &on, g, p, (double)(p - first + 1) / (double)(end - first), span, now.h, &s, &t);
            lay(d->path + p, &course->reference, p, &now, pick(lost, every(0.0), s), pick(lost, every(0.0), t));
        }
        on.clock += span;
    }
    d->end = now.at;
    d->end_h = now.h;
    bound_all(course, d);
}

#endif
