/* A table that is not the drawing: things that stand elsewhere in each trial.
 *
 * A thing that is moved rigidly, x -> R x + d, is met by the robot at a pose just as it would be where it was drawn by the
 * robot at that pose moved back, R'(x - d). A piece of driving moved back is a piece of the same travel and turn. So
 * nothing that is measured need know of it: whoever asks about a thing sees the robot from there. Where nothing is drawn
 * the numbers are the same to the last bit: what is added is 0.
 */
#ifndef FIELDSIM_TABLE_H
#define FIELDSIM_TABLE_H

#include "sweep.h"

/* x -> x + turn(x) + d, where turn is R - 1: its cosine less one, and its sine. */
typedef struct {
    V less, sin, dx, dy, turned;
} Frame;

static inline Frame moved_about(V x, V y, V heading, double about_x, double about_y)
{
    Angle half = angle(0.5 * heading);
    Frame f = {.less = -2.0 * half.sin * half.sin, .sin = 2.0 * half.sin * half.cos, .turned = heading};
    f.dx = x - (f.less * about_x - f.sin * about_y);
    f.dy = y - (f.sin * about_x + f.less * about_y);
    return f;
}

/* What is moved by ``first``, and carried along by ``then``. */
static inline Frame carried_by(Frame first, const Frame *then)
{
    Frame f = {.turned = first.turned + then->turned};
    f.less = first.less + then->less + (first.less * then->less - first.sin * then->sin);
    f.sin = first.sin + then->sin + (first.sin * then->less + first.less * then->sin);
    f.dx = first.dx + (then->less * first.dx - then->sin * first.dy) + then->dx;
    f.dy = first.dy + (then->sin * first.dx + then->less * first.dy) + then->dy;
    return f;
}

/* A direction, and a place, moved with the thing. */
static inline void turned_with(const Frame *f, V *x, V *y)
{
    V px = *x, py = *y;
    *x = px + (f->less * px - f->sin * py);
    *y = py + (f->sin * px + f->less * py);
}

static inline Pose moved_with(const Frame *f, Pose at)
{
    turned_with(f, &at.x, &at.y);
    at.x += f->dx;
    at.y += f->dy;
    turned_with(f, &at.c, &at.s);
    return at;
}

/* A pose as it is seen from the thing, had it stayed where it was drawn; NULL has not moved. */
static inline Pose seen_from(const Frame *f, Pose at)
{
    if (!f)
        return at;
    V x = at.x - f->dx, y = at.y - f->dy;
    Pose seen = {x + (f->less * x + f->sin * y), y + (f->less * y - f->sin * x),
                 at.c + (f->less * at.c + f->sin * at.s), at.s + (f->less * at.s - f->sin * at.c)};
    return seen;
}

static inline Motion motion_from(const Frame *f, const Motion *m)
{
    Motion seen = *m;
    seen.from = seen_from(f, m->from);
    seen.to = seen_from(f, m->to);
    return seen;
}

#endif
