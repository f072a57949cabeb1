/* What a plan is, as the kernel reads it: the records of fieldsim's course.py and shapes.py, field for field.
 *
 * Millimetres and radians. What each field means is told there.
 */
#ifndef FIELDSIM_COURSE_H
#define FIELDSIM_COURSE_H

#include <stdint.h>

typedef struct {
    double x, y;     /* a corner, */
    double nx, ny;   /* the outward unit normal of the edge from it to the next, */
    double length;   /* and that edge's length */
} Corner;

typedef struct {
    const Corner *corner;
    const int64_t *start;
    const double *radius, *reach;
    int64_t count;
} Shapes;

typedef struct {
    const double *left, *right;
    const int64_t *piece;
    const double *ahead;
    double track;
    const double *bias, *day;
    const int64_t *term, *row;
    const double *along, *turn;
    const double (*always)[2];
    const double *over;
    const double *start, *held, *spread;
    const int64_t *turns;
    const double *gyro;
    const double (*seconds)[2];
    const int64_t *seconds_row;
    int64_t pieces, segments;
} Wheels;

enum { SQUARE, LINE_SQUARE, UNTIL };
enum { CAUGHT, NOT_REACHED, TOO_SKEW, NOT_BORNE, ALREADY_UNDER };

typedef struct {
    int64_t align, approach, hull, hull_end, edge, edge_end, row, passes, way;
} What;

typedef struct {
    double face, low, high, capture, sd_heading, sd_along, sd_edge, sd_stop, look, reach;
    double eye[2][2];
} How;

typedef struct {
    const int64_t *of;
    const What *what;
    const How *how;
    const Corner *hull, *edge;
    int64_t count;
} Alignments;

typedef struct {
    int64_t piece, part, core, obstacle, segment, kind, i, j;
} Entry;

typedef struct {
    const int64_t *first;
    const double *gap;
    const Entry *what;
    const int64_t *best;
} Entries;

typedef struct {
    const double *x, *y, *h, *end_x, *end_y, *end_h, *s, *t;
} Reference;

enum { AGAINST, PRESSED, INSIDE };

typedef struct {
    const int64_t *first, *obstacle, *piece, *until;
    const int64_t *how, *set_back;
    int64_t count;
} Rests;

typedef struct {
    const int64_t *first, *part, *core;
} Pairs;

/* Where a thing may stand in a trial: the first of its three drawn numbers, and what carries it (-1: nothing). */
typedef struct {
    int64_t row, carried;
} Moved;

typedef struct {
    double x, y, sd_x, sd_y, sd_heading;
} Moving;

typedef struct {
    const Moved *what;
    const Moving *how;
    const int64_t *obstacle, *aligned;
    int64_t start, solid, count;
} Moves;

typedef struct {
    Wheels wheels;
    Alignments alignments;
    Shapes parts;
    const int64_t *frame;
    Shapes cores;
    Entries entries;
    Reference reference;
    Rests rests;
    Pairs pairs;
    Moves moves;
    double horizon;
    int64_t obstacles;
} Course;

/* One convex shape of many. */
typedef struct {
    const Corner *at;
    int n;
    double radius;
} Polygon;

static inline Polygon shape(const Shapes *shapes, int64_t i)
{
    int64_t first = shapes->start[i];
    return (Polygon){shapes->corner + first, (int)(shapes->start[i + 1] - first), shapes->radius[i]};
}

#endif
