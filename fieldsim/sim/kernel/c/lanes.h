/* Eight numbers at a time, and what is computed with them.
 *
 * A lane is a trial. Everything here acts on each lane alone and rounds each operation alone, so a trial has the same
 * bits whatever its neighbours are, however wide the machine's registers are, and on however many threads it is driven:
 * the compiler is told to contract no multiplication with an addition, and it may not reorder terms. A lane that has
 * no trial repeats the first.
 *
 * The vectors are the compiler's own (clang and gcc), without a processor's instructions by name. sqrt is the only
 * function of the C library in what is done for every trial: it is exact everywhere.
 */
#ifndef FIELDSIM_LANES_H
#define FIELDSIM_LANES_H

#include <math.h>
#include <stdint.h>
#include <string.h>

enum { LANES = 8 };

typedef double V __attribute__((vector_size(8 * LANES)));
typedef int64_t M __attribute__((vector_size(8 * LANES))); /* a mask: 0 or -1 a lane; or eight whole numbers */
typedef uint64_t U __attribute__((vector_size(8 * LANES)));

static inline V every(double x) { return (V){x, x, x, x, x, x, x, x}; }
static inline M every_int(int64_t i) { return (M){i, i, i, i, i, i, i, i}; }
static inline V pick(M which, V yes, V no) { return (V)((which & (M)yes) | (~which & (M)no)); }
static inline M pick_int(M which, M yes, M no) { return (which & yes) | (~which & no); }
static inline V smaller(V a, V b) { return pick(a < b, a, b); }
static inline V larger(V a, V b) { return pick(a > b, a, b); }
static inline V size(V a) { return (V)((M)a & every_int(INT64_MAX)); }

static inline int any(M which)
{
#if defined(__clang__)
    return __builtin_reduce_or(which) != 0;
#else
    int64_t found = 0;
    for (int lane = 0; lane < LANES; lane++)
        found |= which[lane];
    return found != 0;
#endif
}

static inline V root(V a)
{
#if defined(__clang__)
    return __builtin_elementwise_sqrt(a);
#else
    V b;
    for (int lane = 0; lane < LANES; lane++)
        b[lane] = sqrt(a[lane]);
    return b;
#endif
}

/* Sine and cosine, and sin(v)/v, to the last bit or two.
 *
 * The polynomials for abs(v) <= pi/4 are those of fdlibm (Sun Microsystems 1993, k_sin.c and k_cos.c; the cosine's last
 * step as in FreeBSD's msun). A larger angle is first brought there by whole quarter turns, with pi/2 in three parts of
 * 33 bits (fdlibm, e_rem_pio2.c), whose products are exact up to a million quarter turns. For a small one that takes
 * nothing away, so it is skipped where all eight are small: the bits are the same.
 */
typedef struct {
    V sin, cos, sinc;
} Angle;

static inline V sine_part(V z)
{
    return -1.66666666666666324348e-01 +
           z * (8.33333333332248946124e-03 +
                z * (-1.98412698298579493134e-04 +
                     z * (2.75573137070700676789e-06 +
                          z * (-2.50507602534068634195e-08 + z * 1.58969099521155010221e-10))));
}

static inline V cosine(V z)
{
    V r = z * (4.16666666666666019037e-02 +
               z * (-1.38888888888741095749e-03 +
                    z * (2.48015872894767294178e-05 +
                         z * (-2.75573143513906633035e-07 +
                              z * (2.08757232129817482790e-09 + z * -1.13596475577881948265e-11)))));
    V half = 0.5 * z;
    V w = 1.0 - half;
    return w + (((1.0 - w) - half) + z * r);
}

static inline Angle angle(V v)
{
    M turned = size(v) > 0.785;
    Angle found;
    V z = v * v;
    V part = sine_part(z);
    found.sinc = 1.0 + z * part;
    found.sin = v + v * (z * part);
    found.cos = cosine(z);
    if (!any(turned))
        return found;
    /* Adding 1.5 * 2^52 rounds to a whole number, which then stands in the lowest bits. */
    V shifted = v * 6.36619772367581382433e-01 + 6755399441055744.0;
    V n = shifted - 6755399441055744.0;
    M quarter = (M)shifted;
    V r = ((v - n * 1.57079632673412561417e+00) - n * 6.07710050630396597660e-11) - n * 2.02226624871116645580e-21;
    z = r * r;
    V s = r + r * (z * sine_part(z));
    V c = cosine(z);
    M odd = (quarter & 1) != 0;
    V sn = pick(odd, c, s);
    V cs = pick(odd, s, c);
    sn = pick((quarter & 2) != 0, -sn, sn);
    cs = pick(((quarter + 1) & 2) != 0, -cs, cs);
    /* No robot turns a hundred thousand times; a number that large, or none at all, is left to the library. */
    M wild = ~(size(v) < 1e6);
    if (any(wild))
        for (int lane = 0; lane < LANES; lane++)
            if (wild[lane]) {
                sn[lane] = sin(v[lane]);
                cs[lane] = cos(v[lane]);
            }
    found.sin = pick(turned, sn, found.sin);
    found.cos = pick(turned, cs, found.cos);
    found.sinc = pick(turned, sn / v, found.sinc);
    return found;
}

#endif
