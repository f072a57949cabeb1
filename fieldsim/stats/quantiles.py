"""Percentiles of counted values: which rank, an interval from the order alone, the trials that a tail costs."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import ceil, exp, log, log1p, sqrt
from typing import TYPE_CHECKING, SupportsIndex

from fieldsim.stats.checks import checked_count, open_share

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


def trials_for_tail(share: float, confidence: float = 0.95, worst: int = 1) -> int:
    """Fewest trials of which the ``worst``-th worst bounds, with this confidence, the given share of all trials.

    59 trials: with 95 % confidence their worst one is no better than 95 % of what will come. With ``worst=2`` it is
    also the number for two-sided limits, from the smallest to the largest of the trials.

    The smallest n with P(at least ``worst`` of n lie in the outer 1 - share) >= confidence.

    Source: S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Annals of Mathematical
    Statistics 12, 1941, 91-96.
    """
    open_share("share", share)
    open_share("confidence", confidence)
    if worst < 1:
        raise ValueError(f"worst={worst} must be 1 or more")
    # The chance of fewer than `worst` falls with n, so the answer is found by doubling, then by halving the gap.
    low, high = worst - 1, worst
    while _fewer_than(worst, high, share) > 1 - confidence:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if _fewer_than(worst, middle, share) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high


def _fewer_than(k: int, n: int, share: float) -> float:
    """P(fewer than k of n are in the outer 1 - share), by ratios of neighbouring terms, in logs against underflow."""
    logarithm = n * log(share)
    odds = log1p(-share) - log(share)
    total = exp(logarithm)
    for i in range(min(k - 1, n)):
        logarithm += log((n - i) / (i + 1)) + odds
        total += exp(logarithm)
    return total


def rank(n: SupportsIndex, q: float) -> int:
    """Which of n sorted values is the q-quantile: the k-th smallest, k = ceil(q n), at least 1.

    ``q`` counts as the decimal it is written as, so that 0.07 of 100 is the 7th value although the product of the
    two in binary is a hair above 7. Raises ValueError for no values or a q that is not between 0 and 1.
    """
    size = checked_count("n", n)
    if size == 0:
        raise ValueError("n=0: no values, so there is no percentile")
    open_share("q", q)
    return max(1, ceil(_decimal(float(q)) * size))


@lru_cache(maxsize=64)
def _decimal(q: float) -> Fraction:
    return Fraction(repr(q))


@lru_cache(maxsize=256)
def percentile_ranks(n: int, q: float, confidence: float = 0.95) -> tuple[int, int]:
    """Ranks (lower, upper), counted from 1, between whose values the true q-quantile lies with this confidence.

    The lower is the largest l with P(B <= l - 1) <= (1 - confidence)/2, the upper the smallest u with
    P(B <= u - 1) >= (1 + confidence)/2, for B binomial (n, q). It holds for values of any distribution; ties only
    make it safer.

    Where n is too small for such a rank, the smallest (largest) value is given instead and the confidence is not
    reached: (1, 3) for n=10 and q=0.05. :func:`rank_confidence` gives what is reached; for the lower end of a 5th
    percentile at 95 % it takes 72 trials.

    Raises ValueError for no values or shares that are not between 0 and 1.

    Source: H. A. David and H. N. Nagaraja, "Order Statistics", 3rd ed., 2003, section 7.1.
    """
    size = checked_count("n", n)
    if size == 0:
        raise ValueError("n=0: no values, so there is no percentile")
    open_share("q", q)
    open_share("confidence", confidence)
    import numpy as np

    first, below = _binomial_window(size, q)
    tail = (1 - confidence) / 2
    # below[i] is P(B <= first + i). Largest l with P(B <= l - 1) <= tail; none in the window means l = first.
    lower = first + int(np.searchsorted(below, tail, side="right"))
    upper = first + int(np.searchsorted(below, 1 - tail, side="left")) + 1
    return max(lower, 1), min(upper, size)


def rank_confidence(n: int, q: float, lower: int, upper: int) -> float:
    """P(lower-th smallest <= true q-quantile <= upper-th smallest) = P(lower <= B <= upper - 1), B binomial (n, q).

    Source: as for :func:`percentile_ranks`.
    """
    size = checked_count("n", n)
    open_share("q", q)
    if not 1 <= lower <= upper <= size:
        raise ValueError(f"ranks {lower} and {upper} must be in order and between 1 and {size}")
    first, below = _binomial_window(size, q)

    def at_most(k: int) -> float:
        if k < first:
            return 0.0
        return float(below[min(k - first, len(below) - 1)])

    return at_most(upper - 1) - at_most(lower - 1)


def _binomial_window(n: int, q: float) -> tuple[int, npt.NDArray[np.float64]]:
    """The binomial (n, q) distribution function where it is neither 0 nor 1: (first, P(B <= first + i)).

    Each probability is the most likely one times ratios of neighbours, (n - k)/(k + 1) q/(1 - q), and all are
    divided by their sum: no gamma function, whose rounding would show at ten million trials. What lies outside the
    window is below 1e-18.
    """
    import numpy as np

    spread = sqrt(n * q * (1 - q))
    peak = min(int((n + 1) * q), n)
    # 12 standard deviations for the normal part of the tail, 60 more for the heavier one of a small mean.
    reach = int(12 * spread) + 60
    first, last = max(0, peak - reach), min(n, peak + reach)
    k = np.arange(first, last + 1, dtype=np.float64)
    up = (n - k[peak - first : -1]) / (k[peak - first : -1] + 1) * (q / (1 - q))
    down = k[peak - first : 0 : -1] / (n - k[peak - first : 0 : -1] + 1) * ((1 - q) / q)
    weight = np.concatenate([np.cumprod(down)[::-1], [1.0], np.cumprod(up)])
    below = np.cumsum(weight)
    return first, below / below[-1]
