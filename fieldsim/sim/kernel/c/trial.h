/* Eight trials after another: drive the pieces with the drawn numbers, measure what the body comes close to.
 *
 * What makes this fast is not the arithmetic but what is left out, and it must be left out safely:
 *
 *   - Against the reference run. The clearance of every entry (piece, part, core) is known exactly on a reference path.
 *     No point of the footprint can be farther from its place there than the piece's bound (drive.h), so the entry's
 *     clearance in a trial is at least the reference's less that bound. An entry is skipped when that shows in all lanes
 *     that it can neither touch nor lower its obstacle's or its segment's smallest clearance so far. Segment by segment
 *     the entries come tightest first, so the rest of a segment is dropped at once.
 *   - By certificate. What is left is usually proved by one direction, the one that the plan suggests (sweep.h); only
 *     the remainder is measured in full.
 *
 * Both are bounds for any drawn numbers, however absurd: the answers do not depend on the reference path. A lane takes
 * a result only if it needs it itself, so it does not depend on its neighbours either.
 *
 * Of the segments on which an obstacle comes equally close, the tightest is the earliest: equal to a hair (TIE), since
 * where one segment ends and the next begins both measure the same gap, each with its own rounding.
 */
#ifndef FIELDSIM_TRIAL_H
#define FIELDSIM_TRIAL_H

#include <stdlib.h>

#include "rest.h"

static const double TIE = 1e-9;

/* Where the results of a block go, one row a trial. */
typedef struct {
    const int64_t *column; /* (N,) an obstacle's column, or -1 */
    int64_t *stray;        /* (N,) set where one without a column comes within the horizon all the same */
    int64_t columns;
    double *clearance;     /* (trials, columns) over the run, at most the horizon, */
    int64_t *tightest;     /* and the segment where it was so; -1 for none */
    double *ribbon;        /* (trials, S) the clearance to the nearest obstacle on each segment */
    double *poses;         /* (trials, S + 1, 3) at the start and at each segment's end */
    int64_t *contact;      /* (trials, 2) obstacle and piece of the first contact, -1 and P if there is none */
    double *place;         /* (trials, 3) fraction of its segment, by the way of the faster wheel, x and y of it */
    int64_t *counted;      /* (trials,) how many pieces count before an alignment failed */
    double *endings;       /* (trials, M, 2) how each alignment ended and the way driven for it */
} Results;

/* One thread's room. */
typedef struct {
    void *memory;
    Work work;
    Driven driven;
    V *clearance, *ribbon, *sure, *off_x, *off_y; /* the last three a pair each, of one obstacle */
    M *tightest, *rested, *done;
    int64_t *followed; /* (columns,) */
} Room;

static int widest(const Shapes *shapes)
{
    int64_t most = 1;
    for (int64_t i = 0; i < shapes->count; i++)
        if (shapes->start[i + 1] - shapes->start[i] > most)
            most = shapes->start[i + 1] - shapes->start[i];
    return (int)most;
}

/* Hand out stretches of one piece of memory; first without any, to count. */
static V *stretch(V *memory, size_t *used, size_t many)
{
    V *found = memory ? memory + *used : NULL;
    *used += many;
    return found;
}

static void share_out(Room *room, V *memory, size_t *used, size_t corners, const Course *c, size_t columns)
{
    Work *w = &room->work;
    size_t n = 2 * corners;
    w->ax = stretch(memory, used, n), w->ay = stretch(memory, used, n), w->a_radius = stretch(memory, used, n);
    w->a_foot = (M *)stretch(memory, used, n), w->o_foot = (M *)stretch(memory, used, n);
    w->ox = stretch(memory, used, n), w->oy = stretch(memory, used, n);
    w->ex = stretch(memory, used, n), w->ey = stretch(memory, used, n);
    w->ux = stretch(memory, used, n), w->uy = stretch(memory, used, n);
    w->vx = stretch(memory, used, n), w->vy = stretch(memory, used, n);
    if (!c)
        return;
    size_t pieces = (size_t)c->wheels.pieces, alignments = (size_t)c->alignments.count, most = 1;
    for (int64_t o = 0; o < c->obstacles; o++)
        if ((size_t)(c->pairs.first[o + 1] - c->pairs.first[o]) > most)
            most = (size_t)(c->pairs.first[o + 1] - c->pairs.first[o]);
    size_t moves = (size_t)c->moves.count, bounds = (size_t)c->moves.solid * pieces;
    room->driven.frame = (Frame *)stretch(memory, used, moves * sizeof(Frame) / sizeof(V));
    room->driven.bound = (Bound *)stretch(memory, used, bounds * sizeof(Bound) / sizeof(V));
    room->driven.path = (Piece *)stretch(memory, used, pieces * sizeof(Piece) / sizeof(V));
    room->driven.ending = (M *)stretch(memory, used, alignments);
    room->driven.driven = stretch(memory, used, alignments);
    room->clearance = stretch(memory, used, columns);
    room->tightest = (M *)stretch(memory, used, columns);
    room->done = (M *)stretch(memory, used, columns);
    room->ribbon = stretch(memory, used, (size_t)c->wheels.segments);
    room->rested = (M *)stretch(memory, used, (size_t)c->rests.count);
    room->sure = stretch(memory, used, most);
    room->off_x = stretch(memory, used, most), room->off_y = stretch(memory, used, most);
    room->followed = (int64_t *)stretch(memory, used, columns / LANES + 1);
}

/* Returns 0, or -1 if there is no memory left. */
static int open_room(Room *room, size_t corners, const Course *course, size_t columns)
{
    size_t used = 0;
    share_out(room, NULL, &used, corners, course, columns);
    room->memory = malloc((used + 1) * sizeof(V));
    if (!room->memory)
        return -1;
    V *aligned = (V *)(((uintptr_t)room->memory + sizeof(V) - 1) & ~(uintptr_t)(sizeof(V) - 1));
    used = 0;
    share_out(room, aligned, &used, corners, course, columns);
    return 0;
}

static int open_course(Room *room, const Course *course, size_t columns)
{
    int most = widest(&course->parts), cores = widest(&course->cores);
    return open_room(room, (size_t)(most > cores ? most : cores), course, columns);
}

/* Drive from a start that can be. */
static void drive_from_rest(const Course *course, const Numbers *z, Room *room)
{
    Place now = set_there(course, z, room->driven.frame);
    set_back(course, &room->driven, &now, &room->work);
    drive(course, z, now, &room->driven);
}

/* The first contact so far. */
typedef struct {
    M piece, obstacle, part, core;
    V at;
} Hit;

static void earlier(Hit *hit, M which, int64_t p, V at, int64_t o, M part, M core)
{
    which &= (p < hit->piece) | ((p == hit->piece) & (at < hit->at));
    hit->piece = pick_int(which, every_int(p), hit->piece);
    hit->at = pick(which, at, hit->at);
    hit->obstacle = pick_int(which, every_int(o), hit->obstacle);
    hit->part = pick_int(which, part, hit->part);
    hit->core = pick_int(which, core, hit->core);
}

/* An obstacle is reached on a segment in these lanes: no clearance is left of it. */
static void none_left(const Results *to, int64_t o, int64_t g, M which, Room *room)
{
    int64_t column = to->column[o];
    room->ribbon[g] = pick(which, every(0.0), room->ribbon[g]);
    if (column < 0) {
        if (any(which))
            to->stray[o] = 1;
        return;
    }
    M new = which & (room->clearance[column] > 0.0);
    room->clearance[column] = pick(new, every(0.0), room->clearance[column]);
    room->tightest[column] = pick_int(new, every_int(g), room->tightest[column]);
}

/* Every robot that stands against something, followed until it has come clear of it. Whoever stands in something as
 * planned touches it at once, wherever it was drawn. */
static void follow_rests(const Course *course, const Results *to, Room *room, Hit *hit)
{
    const Rests *rests = &course->rests;
    const Driven *d = &room->driven;
    const int64_t *piece = course->wheels.piece;
    for (int64_t r = 0; r < rests->count; r++) {
        int64_t o = rests->obstacle[r], p0 = rests->piece[r], how = rests->how[r], g = 0;
        while (piece[g + 1] <= p0)
            g++;
        M on = p0 < d->counted;
        V so_far = every(0.0);
        Rested found = {.last = every_int(-1)};
        const Frame *f = frame_of(course, d, o);
        let_off(course, r, seen_from(f, d->path[p0].drive.from), room->off_x, room->off_y, &found, &room->work);
        if (how == INSIDE) {
            none_left(to, o, g, on, room);
            earlier(hit, on, p0, every(0.0), o, found.part, found.core);
            on = every_int(0);
        }
        for (int64_t q = course->pairs.first[o]; q < course->pairs.first[o + 1]; q++)
            room->sure[q - course->pairs.first[o]] = every(0.0);
        for (int64_t p = p0; p < rests->until[r]; p++) {
            on &= p < d->counted;
            if (!any(on))
                break;
            Motion moved = d->path[p].drive;
            if (f)
                moved = motion_from(f, &moved);
            M done = rest_on_piece(course, r, p, on, &moved, room->off_x, room->off_y, &so_far, room->sure,
                                   &found, &room->work);
            if (any(found.hit)) {
                while (piece[g + 1] <= p)
                    g++;
                none_left(to, o, g, found.hit, room);
                earlier(hit, found.hit, p, found.at, o, found.part, found.core);
            }
            on &= ~done;
        }
        room->rested[r] = found.last;
    }
}

/* Measure one entry in the lanes that need it. */
static void measure(const Course *course, const Results *to, int64_t e, M need, M counts, V so_far, Room *room, Hit *hit)
{
    const Entry *what = &course->entries.what[e];
    const Motion *m = &room->driven.path[what->piece].drive;
    const Frame *f = frame_of(course, &room->driven, what->obstacle);
    Motion moved;
    if (f) {
        moved = motion_from(f, m);
        m = &moved;
    }
    Polygon A = shape(&course->parts, what->part), O = shape(&course->cores, what->core);
    int64_t column = to->column[what->obstacle];
    V enough = larger(pick(counts, so_far + TIE, every(0.0)), every(TOUCH));
    M far = need & turns_far(m->t);
    M proved;
    V gap = certificate(A, O, m, what->kind, what->i, what->j, &proved);
    if ((what->kind == ROBOT_EDGE_START || what->kind == ROBOT_EDGE_END) && any(need & ~proved)) {
        /* The footprint's edge may have come closest at the other end of the piece. */
        M also;
        V other = certificate(A, O, m, ROBOT_EDGE_START + ROBOT_EDGE_END - what->kind, what->i, what->j, &also);
        gap = pick(proved, gap, pick(also, other, larger(gap, other)));
        proved |= also;
    }
    M apart = gap > 0.0;
    gap -= O.radius;
    M open = need & ~far & ~proved & (gap <= enough);
    need &= far | proved | open;
    if (any(open))
        gap = pick(open, sweep(A, O, m, open, apart, enough + O.radius, &room->work).gap - O.radius, gap);
    if (any(far))
        gap = pick(far, swept(A, O, m, far, enough + O.radius, &room->work, 0).gap - O.radius, gap);

    M touch = need & (gap <= TOUCH);
    gap = pick(touch, every(0.0), gap);
    M first = touch & (what->piece <= hit->piece);
    if (any(first)) {
        V at = first_touch(A, O, m, every(0.0), every(1.0), first, &room->work);
        earlier(hit, first, what->piece, at, what->obstacle, every_int(what->part), every_int(what->core));
    }
    need &= touch | (gap < enough);
    if (!any(need))
        return;
    V *ribbon = &room->ribbon[what->segment];
    *ribbon = pick(need & (gap < *ribbon), gap, *ribbon);
    if (column < 0) {
        if (any(need & (gap < course->horizon)))
            to->stray[what->obstacle] = 1;
        return;
    }
    V *clearance = &room->clearance[column];
    M *tightest = &room->tightest[column];
    need &= gap < course->horizon;
    M lower = need & (gap < *clearance - TIE);
    M alike = need & ~lower & (gap <= *clearance + TIE);
    M takes = lower | (alike & ((what->segment < *tightest) | (*tightest < 0)));
    *tightest = pick_int(takes, every_int(what->segment), *tightest);
    *clearance = pick(need & (gap < *clearance), gap, *clearance);
}

/* Each obstacle's tightest entry first, so that most of what follows can be skipped; then every segment. */
static void measure_all(const Course *course, const Results *to, double farthest, Room *room, Hit *hit)
{
    const Entries *entries = &course->entries;
    const Rests *rests = &course->rests;
    const Driven *d = &room->driven;
    const int64_t *piece = course->wheels.piece;
    double horizon = course->horizon;
    for (int64_t g = -1; g < course->wheels.segments; g++) {
        V off = every(0.0), swing = every(0.0);
        int64_t e0 = g < 0 ? 0 : entries->first[g], e1 = g < 0 ? to->columns : entries->first[g + 1];
        if (g >= 0) {
            for (int64_t p = piece[g]; p < piece[g + 1]; p++) {
                off = larger(off, d->path[p].off);
                swing = larger(swing, d->path[p].swing);
            }
            off += farthest * swing;
            for (int64_t k = 0; k < course->moves.solid; k++)
                for (int64_t p = piece[g]; p < piece[g + 1]; p++) {
                    const Bound *bound = &d->bound[k * course->wheels.pieces + p];
                    off = larger(off, bound->off + farthest * bound->swing);
                }
        }
        for (int64_t index = e0; index < e1; index++) {
            int64_t e = g < 0 ? entries->best[room->followed[index]] : index;
            if (e < 0)
                continue;
            double planned = entries->gap[e];
            if (g >= 0 && !any(planned - off < horizon))
                break;
            const Entry *what = &entries->what[e];
            int64_t p = what->piece, o = what->obstacle, column = to->column[o];
            V far = d->path[p].off, turned = d->path[p].swing;
            if (course->moves.count > 0 && course->moves.obstacle[o] >= 0) {
                const Bound *bound = &d->bound[course->moves.obstacle[o] * course->wheels.pieces + p];
                far = bound->off;
                turned = bound->swing;
            }
            V low = planned - far - course->parts.reach[what->part] * turned;
            V so_far = larger(room->ribbon[what->segment], column >= 0 ? room->clearance[column] : every(horizon));
            M need = ((low < so_far + TIE) | (low <= TOUCH)) & (p < d->counted);
            need &= ~((so_far == 0.0) & (p > hit->piece));
            if (g >= 0 && column >= 0 && entries->best[o] == e)
                need &= ~room->done[column];
            if (!any(need))
                continue;
            if (g < 0)
                room->done[index] = need;
            M counts = every_int(-1);
            for (int64_t r = rests->first[o]; r < rests->first[o + 1]; r++)
                if (rests->piece[r] <= p) {
                    need &= ~(p <= room->rested[r]);
                    counts &= ~(piece[what->segment] <= room->rested[r]);
                }
            if (any(need))
                measure(course, to, e, need, counts, so_far, room, hit);
        }
    }
}

/* Write the first contact of one lane. */
static void write_contact(const Course *course, const Hit *hit, int lane, Room *room, double *place)
{
    const Driven *d = &room->driven;
    const int64_t *piece = course->wheels.piece;
    int64_t p = hit->piece[lane], g = 0;
    const Frame *f = frame_of(course, d, hit->obstacle[lane]);
    Pose at = seen_from(f, pose_in(&d->path[p].drive, hit->at));
    contact_point(shape(&course->parts, hit->part[lane]), shape(&course->cores, hit->core[lane]), at, lane, place + 1,
                  place + 2, &room->work);
    if (f) {
        Pose touched = moved_with(f, (Pose){every(place[1]), every(place[2]), every(1.0), every(0.0)});
        place[1] = touched.x[lane];
        place[2] = touched.y[lane];
    }
    while (piece[g + 1] <= p)
        g++;
    double before = 0.0, whole = 0.0;
    for (int64_t k = piece[g]; k < piece[g + 1]; k++) {
        const Motion *m = &d->path[k].drive;
        double wheel = fabs(m->s[lane]) + 0.5 * course->wheels.track * fabs(m->t[lane]);
        whole += wheel;
        before += k < p ? wheel : k == p ? hit->at[lane] * wheel : 0.0;
    }
    place[0] = whole > 0.0 ? before / whole : 0.0;
}

static void write_results(const Course *course, const Results *to, int64_t n, int lane, const Hit *hit, Room *room)
{
    const Wheels *w = &course->wheels;
    const Driven *d = &room->driven;
    for (int64_t i = 0; i < to->columns; i++) {
        to->clearance[n * to->columns + i] = room->clearance[i][lane];
        to->tightest[n * to->columns + i] = room->tightest[i][lane];
    }
    for (int64_t g = 0; g < w->segments; g++)
        to->ribbon[n * w->segments + g] = room->ribbon[g][lane];
    for (int64_t g = 0; g <= w->segments; g++) {
        double *pose = to->poses + 3 * (n * (w->segments + 1) + g);
        int64_t p = w->piece[g];
        pose[0] = p < w->pieces ? d->path[p].drive.from.x[lane] : d->end.x[lane];
        pose[1] = p < w->pieces ? d->path[p].drive.from.y[lane] : d->end.y[lane];
        pose[2] = p < w->pieces ? d->path[p].h[lane] : d->end_h[lane];
    }
    for (int64_t m = 0; m < course->alignments.count; m++) {
        to->endings[2 * (n * course->alignments.count + m)] = (double)d->ending[m][lane];
        to->endings[2 * (n * course->alignments.count + m) + 1] = d->driven[m][lane];
    }
    to->counted[n] = d->counted[lane];
    to->contact[2 * n] = hit->obstacle[lane];
    to->contact[2 * n + 1] = hit->piece[lane];
    double *place = to->place + 3 * n;
    place[0] = place[1] = place[2] = NAN;
    if (hit->obstacle[lane] >= 0)
        write_contact(course, hit, lane, room, place);
}

/* Drive and measure ``count`` trials, from column ``first`` of the drawn numbers on. */
static int run_trials(const Course *course, const double *z, int64_t width, int64_t first, int64_t count,
                      const Results *to)
{
    Room room;
    if (open_course(&room, course, (size_t)to->columns))
        return -1;
    for (int64_t o = 0; o < course->obstacles; o++)
        if (to->column[o] >= 0)
            room.followed[to->column[o]] = o;
    double farthest = 0.0;
    for (int64_t a = 0; a < course->parts.count; a++)
        farthest = course->parts.reach[a] > farthest ? course->parts.reach[a] : farthest;
    for (int64_t n = 0; n < count; n += LANES) {
        Numbers drawn_here = numbers(z, width, first + n, count - n);
        drive_from_rest(course, &drawn_here, &room);
        for (int64_t i = 0; i < to->columns; i++) {
            room.clearance[i] = every(course->horizon);
            room.tightest[i] = every_int(-1);
            room.done[i] = every_int(0);
        }
        for (int64_t g = 0; g < course->wheels.segments; g++)
            room.ribbon[g] = every(course->horizon);
        Hit hit = {.piece = every_int(course->wheels.pieces), .obstacle = every_int(-1), .at = every(INFINITY)};
        follow_rests(course, to, &room, &hit);
        measure_all(course, to, farthest, &room, &hit);
        for (int lane = 0; lane < LANES && n + lane < count; lane++)
            write_results(course, to, n + lane, lane, &hit, &room);
    }
    free(room.memory);
    return 0;
}

/* Poses of the axle's middle at every joint, (count, P + 1, 3), for drawing. */
static int run_joints(const Course *course, const double *z, int64_t width, int64_t first, int64_t count, double *poses)
{
    Room room;
    if (open_course(&room, course, 0))
        return -1;
    int64_t pieces = course->wheels.pieces;
    for (int64_t n = 0; n < count; n += LANES) {
        Numbers drawn_here = numbers(z, width, first + n, count - n);
        drive_from_rest(course, &drawn_here, &room);
        const Driven *d = &room.driven;
        for (int lane = 0; lane < LANES && n + lane < count; lane++)
            for (int64_t p = 0; p <= pieces; p++) {
                double *pose = poses + 3 * ((n + lane) * (pieces + 1) + p);
                Pose at = p < pieces ? d->path[p].drive.from : d->end;
                double ahead = p < pieces ? course->wheels.ahead[p] : 0.0;
                pose[0] = at.x[lane] - ahead * at.c[lane];
                pose[1] = at.y[lane] - ahead * at.s[lane];
                pose[2] = p < pieces ? d->path[p].h[lane] : d->end_h[lane];
            }
    }
    free(room.memory);
    return 0;
}

/* The clearance of every entry on a path, in full, and what was closest. Neighbours with the same part and core are
 * measured together. ``path`` has rows x, y, cos h, sin h, and travel and turn, six columns. */
static int run_survey(const Shapes *parts, const Shapes *cores, const double (*path)[6], int64_t count,
                      const int64_t *piece, const int64_t *part, const int64_t *core, double *gap, int64_t *kind,
                      int64_t *wi, int64_t *wj)
{
    Room room;
    int a = widest(parts), o = widest(cores);
    if (open_room(&room, (size_t)(a > o ? a : o), NULL, 0))
        return -1;
    for (int64_t e = 0; e < count;) {
        int64_t many = 1;
        while (many < LANES && e + many < count && part[e + many] == part[e] && core[e + many] == core[e])
            many++;
        Pose at;
        V s, t;
        for (int lane = 0; lane < LANES; lane++) {
            const double *row = path[piece[e + (lane < many ? lane : 0)]];
            at.x[lane] = row[0], at.y[lane] = row[1], at.c[lane] = row[2], at.s[lane] = row[3];
            s[lane] = row[4], t[lane] = row[5];
        }
        Motion m = motion(at, s, t);
        Polygon O = shape(cores, core[e]);
        Nearest near = swept(shape(parts, part[e]), O, &m, every_int(-1), every(INFINITY), &room.work, 1);
        for (int lane = 0; lane < many; lane++) {
            gap[e + lane] = fmax(0.0, near.gap[lane] - O.radius);
            kind[e + lane] = near.kind[lane];
            wi[e + lane] = near.i[lane];
            wj[e + lane] = near.j[lane];
        }
        e += many;
    }
    free(room.memory);
    return 0;
}

#endif
