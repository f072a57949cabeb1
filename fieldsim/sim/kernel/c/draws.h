/* Drawn numbers: standard normal numbers from a counter-based generator.
 *
 * A number belongs to (seed, deck, trial, segment, source, row) and to nothing else. The generator is Philox 4x32-10
 * (Salmon, Moraes, Dror & Shaw, Parallel random numbers: as easy as 1, 2, 3, SC11, 2011): the seed is its key, the rest
 * is its counter, so no two numbers can ever meet. Each of its answers is four words of 32 bits: two uniform numbers, of
 * which Box & Muller's transform (A note on the generation of random normal deviates, Ann. Math. Stat. 29, 1958) makes
 * two normal ones exactly, those of rows 2k and 2k + 1. With 52 bits the largest there can be is 8.6.
 */
#ifndef FIELDSIM_DRAWS_H
#define FIELDSIM_DRAWS_H

#include "lanes.h"

typedef struct {
    U word[4];
} Words;

static inline Words philox(Words counter, uint32_t key0, uint32_t key1)
{
    const U low = (U)every_int(0xffffffff);
    U a = counter.word[0], b = counter.word[1], c = counter.word[2], d = counter.word[3];
    for (int round = 0; round < 10; round++) {
        U first = a * 0xD2511F53u, second = c * 0xCD9E8D57u;
        a = (second >> 32) ^ b ^ (uint64_t)key0;
        c = (first >> 32) ^ d ^ (uint64_t)key1;
        b = second & low;
        d = first & low;
        key0 += 0x9E3779B9u;
        key1 += 0xBB67AE85u;
    }
    return (Words){{a, b, c, d}};
}

/* Two words as a number between 0 and 1, in the middle of one of 2^52 equal steps. */
static inline V fraction(U low, U high)
{
    U bits = (high << 32 | low) >> 12 | (U)every_int(0x3ff0000000000000);
    return (V)bits - (1.0 - 0x1p-53);
}

/* Natural logarithm of a number above 0, to the last bit or so: fdlibm's (Sun Microsystems 1993, e_log.c). */
static inline V logarithm(V x)
{
    M exponent = ((M)x >> 52) - 1023;
    V m = (V)(((M)x & 0x000fffffffffffff) | 0x3ff0000000000000);
    M large = m > 1.41421356237309504880;
    m = pick(large, 0.5 * m, m);
    exponent -= large; /* a mask is -1 */
    V k = (V)(exponent + 0x4338000000000000) - 6755399441055744.0;
    V f = m - 1.0;
    V s = f / (2.0 + f);
    V z = s * s;
    V w = z * z;
    V r = w * (3.999999999940941908e-01 + w * (2.222219843214978396e-01 + w * 1.531383769920937332e-01)) +
          z * (6.666666666666735130e-01 +
               w * (2.857142874366239149e-01 + w * (1.818357216161805012e-01 + w * 1.479819860511658591e-01)));
    V half = 0.5 * f * f;
    return k * 6.93147180369123816490e-01 - ((half - (s * (half + r) + k * 1.90821492927058770002e-10)) - f);
}

/* Two independent standard normal numbers of two uniform ones. */
static inline void normals(V u, V turn, V *one, V *two)
{
    V radius = root(-2.0 * logarithm(u));
    /* The angle's nearest quarter, and what is left of it: both exact. */
    V shifted = 4.0 * turn + 6755399441055744.0;
    M quarter = (M)shifted;
    V v = 6.28318530717958647693 * (turn - 0.25 * (shifted - 6755399441055744.0));
    Angle rest = angle(v);
    M odd = (quarter & 1) != 0;
    V sn = pick(odd, rest.cos, rest.sin), cs = pick(odd, rest.sin, rest.cos);
    *one = radius * pick(((quarter + 1) & 2) != 0, -cs, cs);
    *two = radius * pick((quarter & 2) != 0, -sn, sn);
}

/* Rows of numbers of one source on one segment, (rows, width): columns 0 to ``count`` are trials ``first`` and on. */
static void draw(uint64_t seed, uint32_t deck, uint64_t first, int64_t count, int64_t segment, int64_t source,
                 int64_t rows, double *out, int64_t width)
{
    const M lane = {0, 1, 2, 3, 4, 5, 6, 7};
    for (int64_t n = 0; n < count; n += LANES) {
        U trial = (U)(lane + (int64_t)first + n);
        size_t bytes = sizeof(double) * (size_t)(count - n < LANES ? count - n : LANES);
        for (int64_t row = 0; row < rows; row += 2) {
            Words at = {{trial & (U)every_int(0xffffffff), (U)every_int(deck), (U)every_int(segment << 8 | source),
                         trial >> 32 << 16 | (U)every_int(row / 2)}};
            Words found = philox(at, (uint32_t)seed, (uint32_t)(seed >> 32));
            V one, two;
            normals(fraction(found.word[0], found.word[1]), fraction(found.word[2], found.word[3]), &one, &two);
            memcpy(out + row * width + n, &one, bytes);
            if (row + 1 < rows)
                memcpy(out + (row + 1) * width + n, &two, bytes);
        }
    }
}

#endif
