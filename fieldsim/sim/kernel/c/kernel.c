/* The kernel as one file: what the Python side calls (fieldsim's kernel modules).
 *
 * It is compiled once for each kind of processor, with VARIANT as the end of every name. Whoever calls has checked the
 * arrays. Functions that need room return -1 where there is no memory left.
 */
#include "draws.h"
#include "trial.h"
#include "match.h"

#ifndef VARIANT
#define VARIANT
#endif
#define JOINED(a, b) a##b
#define NAMED(a, b) JOINED(a, b)
#if defined(_WIN32)
#define PUBLIC(name) __declspec(dllexport) NAMED(name, VARIANT)
#else
#define PUBLIC(name) __attribute__((visibility("default"))) NAMED(name, VARIANT)
#endif

static Pose pose_of(const double at[4]) { return (Pose){every(at[0]), every(at[1]), every(at[2]), every(at[3])}; }

int PUBLIC(fs_trials)(const Course *course, const double *z, int64_t width, int64_t first, int64_t count,
                      const Results *to)
{
    return run_trials(course, z, width, first, count, to);
}

int PUBLIC(fs_joints)(const Course *course, const double *z, int64_t width, int64_t first, int64_t count, double *poses)
{
    return run_joints(course, z, width, first, count, poses);
}

int PUBLIC(fs_survey)(const Shapes *parts, const Shapes *cores, const double (*path)[6], int64_t count,
                      const int64_t *piece, const int64_t *part, const int64_t *core, double *gap, int64_t *kind,
                      int64_t *wi, int64_t *wj)
{
    return run_survey(parts, cores, path, count, piece, part, core, gap, kind, wi, wj);
}

/* The path of one trial without a start's set-back, (P + 1, 13) in the columns of path.py, and each alignment's ending
 * and way (M, 2); how many pieces count. */
int64_t PUBLIC(fs_drive)(const Course *course, const double *z, int64_t width, int64_t trial, double *path,
                         double *result)
{
    Room room;
    if (open_course(&room, course, 0))
        return -1;
    Numbers one = numbers(z, width, trial, 1);
    drive(course, &one, set_there(course, &one, room.driven.frame), &room.driven);
    const Driven *d = &room.driven;
    for (int64_t p = 0; p <= course->wheels.pieces; p++) {
        double *row = path + 13 * p;
        int driving = p < course->wheels.pieces;
        Pose from = driving ? d->path[p].drive.from : d->end;
        row[0] = from.x[0], row[1] = from.y[0], row[2] = from.c[0], row[3] = from.s[0];
        row[4] = driving ? d->path[p].h[0] : d->end_h[0];
        if (!driving)
            continue;
        const Piece *piece = &d->path[p];
        row[5] = piece->drive.s[0], row[6] = piece->drive.t[0];
        row[7] = piece->off[0], row[8] = piece->swing[0];
        row[9] = piece->drive.to.x[0], row[10] = piece->drive.to.y[0];
        row[11] = piece->drive.to.c[0], row[12] = piece->drive.to.s[0];
    }
    for (int64_t m = 0; m < course->alignments.count; m++) {
        result[2 * m] = (double)d->ending[m][0];
        result[2 * m + 1] = d->driven[m][0];
    }
    int64_t counted = d->counted[0];
    free(room.memory);
    return counted;
}

/* What the functions below are told of: a footprint and an obstacle, and a piece that starts at x, y, cos h, sin h. */
static int open_pair(Room *room, const Corner *a, int64_t m, const Corner *o, int64_t k, Polygon *A, Polygon *O)
{
    *A = (Polygon){a, (int)m, 0.0};
    *O = (Polygon){o, (int)k, 0.0};
    return open_room(room, (size_t)(m > k ? m : k), NULL, 0);
}

/* Smallest distance during a turn of any size; found gets kind, i and j. */
double PUBLIC(fs_swept)(const Corner *a, int64_t m, const Corner *o, int64_t k, const double *at, double s, double t,
                        int64_t *found)
{
    Room room;
    Polygon A, O;
    if (open_pair(&room, a, m, o, k, &A, &O))
        return NAN;
    Motion drive = motion(pose_of(at), every(s), every(t));
    Nearest near = swept(A, O, &drive, every_int(-1), every(INFINITY), &room.work, 1);
    found[0] = near.kind[0], found[1] = near.i[0], found[2] = near.j[0];
    free(room.memory);
    return near.gap[0];
}

/* What features (kind, i, j) prove: a bound, and whether it is the distance. */
double PUBLIC(fs_certificate)(const Corner *a, int64_t m, const Corner *o, int64_t k, const double *at, double s,
                              double t, int64_t kind, int64_t i, int64_t j, int64_t *proved)
{
    Motion drive = motion(pose_of(at), every(s), every(t));
    M sure;
    V bound = certificate((Polygon){a, (int)m, 0.0}, (Polygon){o, (int)k, 0.0}, &drive, kind, i, j, &sure);
    *proved = sure[0] != 0;
    return bound[0];
}

/* The first fraction of a piece at which they touch; they do, somewhere. */
double PUBLIC(fs_first_touch)(const Corner *a, int64_t m, const Corner *o, int64_t k, double radius, const double *at,
                              double s, double t)
{
    Room room;
    Polygon A, O;
    if (open_pair(&room, a, m, o, k, &A, &O))
        return NAN;
    O.radius = radius;
    Motion drive = motion(pose_of(at), every(s), every(t));
    double u = first_touch(A, O, &drive, every(0.0), every(1.0), every_int(-1), &room.work)[0];
    free(room.memory);
    return u;
}

/* Distance at rest. */
double PUBLIC(fs_standing)(const Corner *a, int64_t m, const Corner *o, int64_t k, const double *at)
{
    Room room;
    Polygon A, O;
    if (open_pair(&room, a, m, o, k, &A, &O))
        return NAN;
    double gap = gap_at(A, O, pose_of(at), &room.work).gap[0];
    free(room.memory);
    return gap;
}

/* How deep the one stands in the other; out gets the direction the robot has to go. */
double PUBLIC(fs_push_out)(const Corner *a, int64_t m, const Corner *o, int64_t k, double radius, const double *at,
                           double *out)
{
    Room room;
    Polygon A, O;
    if (open_pair(&room, a, m, o, k, &A, &O))
        return NAN;
    O.radius = radius;
    V x, y;
    double deep = push_out(A, O, pose_of(at), &x, &y, &room.work)[0];
    out[0] = x[0], out[1] = y[0];
    free(room.memory);
    return deep;
}

/* The pose at a piece's end: x, y, cos h, sin h. */
void PUBLIC(fs_moved)(const double *at, double s, double t, double *to)
{
    Pose end = motion(pose_of(at), every(s), every(t)).to;
    to[0] = end.x[0], to[1] = end.y[0], to[2] = end.c[0], to[3] = end.s[0];
}

/* Sine, cosine, sin(v)/v and natural logarithm of each of ``count`` numbers, (count, 4). */
void PUBLIC(fs_functions)(const double *v, int64_t count, double *found)
{
    for (int64_t n = 0; n < count; n++) {
        Angle a = angle(every(v[n]));
        found[4 * n] = a.sin[0], found[4 * n + 1] = a.cos[0], found[4 * n + 2] = a.sinc[0];
        found[4 * n + 3] = logarithm(every(v[n]))[0];
    }
}

/* The generator's answer to one counter and key. */
void PUBLIC(fs_philox)(const uint32_t *counter, const uint32_t *key, uint32_t *found)
{
    Words at;
    for (int i = 0; i < 4; i++)
        at.word[i] = (U)every_int(counter[i]);
    at = philox(at, key[0], key[1]);
    for (int i = 0; i < 4; i++)
        found[i] = (uint32_t)at.word[i][0];
}

/* Numbers of several sources below one another; segment, source and rows of each. */
void PUBLIC(fs_draw)(uint64_t seed, uint64_t deck, uint64_t first, int64_t count, const int64_t (*streams)[3],
                     int64_t many, double *out, int64_t width)
{
    for (int64_t i = 0; i < many; i++) {
        draw(seed, (uint32_t)deck, first, count, streams[i][0], streams[i][1], streams[i][2], out, width);
        out += streams[i][2] * width;
    }
}

int PUBLIC(fs_play)(const Rules *rules, const Drawn *drawn, const int64_t *order, int64_t length, int64_t first,
                    int64_t count, double *score, double *clock, Ledger *ledger)
{
    return play_order(rules, drawn, order, length, first, count, score, clock, ledger);
}

int PUBLIC(fs_walk)(const Rules *rules, const Drawn *drawn, const int64_t *run, const int64_t *depth, const int64_t *skip,
                    int64_t nodes, int64_t first, int64_t count, double *total)
{
    return walk(rules, drawn, run, depth, skip, nodes, first, count, total);
}

int PUBLIC(fs_hulls)(const Rules *rules, const Drawn *drawn, int64_t first, int64_t count, Part *parts, Longer *longer)
{
    return hulls(rules, drawn, first, count, parts, longer);
}

int PUBLIC(fs_grow)(const Rules *rules, const Drawn *drawn, const Part *parts, const Longer *longer, const Standing *now,
                    const Told *told, const int64_t *more, int64_t count, int64_t done, Standing *grown,
                    Told *grown_told, double *score, double *bound)
{
    return grow(rules, drawn, parts, longer, now, told, more, count, done, grown, grown_told, score, bound);
}

void PUBLIC(fs_best_choices)(const Chances *all, const Choices *choices, double points, double margin, int64_t first,
                             int64_t count, double *value, int64_t *chosen)
{
    best_choices(all, choices, points, margin, first, count, value, chosen);
}
