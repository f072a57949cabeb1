"""The binomial distribution, exact, without scipy (see `fieldsim.stats.normal` for why)."""

from __future__ import annotations

from math import exp, lgamma, log

import numpy as np
import numpy.typing as npt

# What is added to a sum of falling terms no more once a term is this small beside it.
_NOTHING = 1e-18
# The logarithm of nought.
_NEVER = -1e300


def even_tail(few: int, n: int) -> float:
    """The probability that a fair coin shows heads at most ``few`` times in ``n``.

    The last term by logarithms of the gamma function, each before it from the next by k/(n - k + 1); it is summed from
    the smaller side, so that a tail of 1e-200 keeps its digits. Raises ValueError unless 0 <= few <= n.
    """
    if not 0 <= few <= n:
        raise ValueError(f"few={few} must be from 0 to n={n}")
    if 2 * few >= n:
        return 1.0 - even_tail(n - few - 1, n) if few < n else 1.0
    term = exp(lgamma(n + 1) - lgamma(few + 1) - lgamma(n - few + 1) - n * log(2.0))
    total = 0.0
    for k in range(few, -1, -1):
        total += term
        term *= k / (n - k + 1)
        if term < _NOTHING * total:
            break
    return total


def chances(n: int, p: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """(len(p), n + 1) the probability of k = 0..n successes in ``n`` tries, for each chance ``p`` of one."""
    k = np.arange(n + 1)
    ways = lgamma(n + 1) - np.array([lgamma(each + 1) + lgamma(n - each + 1) for each in k])
    with np.errstate(divide="ignore"):
        good, bad = np.maximum(np.log(p), _NEVER)[:, None], np.maximum(np.log1p(-p), _NEVER)[:, None]
    return np.asarray(np.exp(ways + k * good + (n - k) * bad), dtype=np.float64)
