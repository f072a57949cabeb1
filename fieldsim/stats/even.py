"""Points spread evenly over a cube: Sobol's, scrambled, so that a few hundred tell what thousands of random ones would.

Averages over scrambled points are without bias, as those over random ones, and their error falls nearly as one over the
number of points instead of over its root. The matrices are scrambled from the left and shifted.

Sources: I. M. Sobol', "On the distribution of points in a cube and the approximate evaluation of integrals", USSR
Computational Mathematics 7, 1967; numbers by S. Joe and F. Y. Kuo, "Constructing Sobol sequences with better
two-dimensional projections", SIAM Journal on Scientific Computing 30, 2008, 2635-2654 (their file new-joe-kuo-6.21201);
J. Matousek, "On the L2-discrepancy for anchored boxes", Journal of Complexity 14, 1998, 527-556 (scrambling).

The points are those of ``scipy.stats.qmc.Sobol`` to the bit, from the same generator: tests hold that. Ours because
loading that takes longer than all that is done with them (see `fieldsim.stats.normal`).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

# Digits of a point.
BITS = 30

# For each further coordinate a primitive polynomial over the field of two elements, its coefficients as digits of a
# number, and the first direction numbers.
DIRECTIONS = (
    (3, (1,)), (7, (1, 3)), (11, (1, 3, 1)), (13, (1, 1, 1)), (19, (1, 1, 3, 3)), (25, (1, 3, 5, 13)),
    (37, (1, 1, 5, 5, 17)), (41, (1, 1, 5, 5, 5)), (47, (1, 1, 7, 11, 19)), (55, (1, 1, 5, 1, 1)),
    (59, (1, 1, 1, 3, 11)), (61, (1, 3, 5, 5, 31)), (67, (1, 3, 3, 9, 7, 49)), (91, (1, 1, 1, 15, 21, 21)),
    (97, (1, 3, 1, 13, 27, 49)), (103, (1, 1, 1, 15, 7, 5)), (109, (1, 3, 1, 15, 13, 25)),
    (115, (1, 1, 5, 5, 19, 61)), (131, (1, 3, 7, 11, 23, 15, 103)), (137, (1, 3, 7, 13, 13, 15, 69)),
    (143, (1, 1, 3, 13, 7, 35, 63)), (145, (1, 3, 5, 9, 1, 25, 53)), (157, (1, 3, 1, 13, 9, 35, 107)),
    (167, (1, 3, 1, 5, 27, 61, 31)), (171, (1, 1, 5, 11, 19, 41, 61)), (185, (1, 3, 5, 3, 3, 13, 69)),
    (191, (1, 1, 7, 13, 1, 19, 1)), (193, (1, 3, 7, 5, 13, 19, 59)), (203, (1, 1, 3, 9, 25, 29, 41)),
    (211, (1, 3, 5, 13, 23, 1, 55)), (213, (1, 3, 7, 3, 13, 59, 17)), (229, (1, 3, 1, 3, 5, 53, 69)),
    (239, (1, 1, 5, 5, 23, 33, 13)), (241, (1, 1, 7, 7, 1, 61, 123)), (247, (1, 1, 7, 9, 13, 61, 49)),
    (253, (1, 3, 3, 5, 3, 55, 33)), (285, (1, 3, 1, 15, 31, 13, 49, 245)), (299, (1, 3, 5, 15, 31, 59, 63, 97)),
    (301, (1, 3, 1, 11, 11, 11, 77, 249)),
)  # fmt: skip
MOST = len(DIRECTIONS) + 1

Whole = npt.NDArray[np.uint32]


def even_points(n: int, d: int, rng: np.random.Generator | None = None) -> npt.NDArray[np.float64]:
    """(n, d) the first ``n`` points of a cube of ``d`` sides, from 0 (which may occur) to below 1; best for powers of
    two. Scrambled by ``rng``; the plain ones without. Raises ValueError for more than ``MOST`` sides."""
    if not 1 <= d <= MOST:
        raise ValueError(f"d={d} must be from 1 to {MOST}")
    ways = _directions(d)
    shift = np.zeros(d, dtype=np.uint32)
    if rng is not None:
        rng = rng.spawn(1)[0]
        powers = np.uint32(2) ** np.arange(BITS, dtype=np.uint32)
        shift = np.asarray(rng.integers(2, size=(d, BITS), dtype=np.uint32) @ powers, dtype=np.uint32)
        ways = _scrambled(ways, rng.integers(2, size=(d, BITS, BITS), dtype=np.uint32))
    # Point i is the exclusive or of the directions at the digits of i in Gray's code.
    index = np.arange(n)
    gray = index ^ (index >> 1)
    points = np.tile(shift, (n, 1))
    for digit in range(int(n - 1).bit_length()):
        points ^= np.where((gray >> digit & 1)[:, None] == 1, ways[:, digit], np.uint32(0))
    return points / float(2**BITS)


def _directions(d: int) -> Whole:
    """(d, BITS) direction numbers, their first digit at the top."""
    found = np.ones((d, BITS), dtype=np.uint32)
    for row, (polynomial, first) in zip(found[1:], DIRECTIONS, strict=False):
        degree = len(first)
        row[:degree] = first
        for j in range(degree, BITS):
            new = int(row[j - degree])
            for k in range(1, degree + 1):
                if polynomial >> (degree - k) & 1:
                    new ^= int(row[j - k]) << k
            row[j] = new
    return found << np.arange(BITS - 1, -1, -1, dtype=np.uint32)


def _scrambled(ways: Whole, random: Whole) -> Whole:
    """Each side's directions times a random lower triangular matrix of noughts and ones (d, BITS, BITS), with ones on
    its diagonal."""
    lower = np.tril(random, -1) + np.eye(BITS, dtype=np.uint32)
    places = np.arange(BITS - 1, -1, -1, dtype=np.uint32)
    digits = (ways[:, :, None] >> places) & np.uint32(1)
    mixed = np.einsum("dpk,djk->djp", lower, digits) & np.uint32(1)
    return np.asarray((mixed << places).sum(axis=2), dtype=np.uint32)
