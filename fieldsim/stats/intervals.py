"""How sure an answer is: intervals for shares, percentiles and differences, the trials they cost, and a counter.

Everything here is a pure function of counts, but for :class:`Histogram`, which counts many values in fixed memory.
Importing this module loads nothing heavy; numpy is loaded by the functions that need it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, exp, expm1, inf, log, log1p, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING, Annotated, Any, SupportsIndex

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


# --- one share, two shares ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Share:
    """A share of trials with its Wilson 95 % interval."""

    share: Annotated[float, "0 to 1"]
    low: Annotated[float, "lower end of the 95 % interval"]
    high: Annotated[float, "its upper end"]


def wilson(successes: SupportsIndex, trials: SupportsIndex, confidence: float = 0.95) -> Share:
    """A share of trials with its Wilson score interval.

    With x of n and z the two-sided normal quantile: (x + z^2/2 -+ z sqrt(x (n - x)/n + z^2/4)) / (n + z^2).
    It never leaves 0..1, and none (all) of n still leaves room above (below): 0 of 1000 is 0 to 0.0038.

    No trials at all say nothing: the share is given as 0.0 and the interval as 0 to 1.

    Raises ValueError if a count is negative, if there are more successes than trials, or if the confidence is not
    between 0 and 1.

    Source: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", J. American
    Statistical Association 22, 1927, 209-212.
    """
    n = _count("trials", trials)
    x = _count("successes", successes)
    if x > n:
        raise ValueError(f"successes={x} cannot be more than trials={n}")
    z = _two_sided_z(confidence)
    if n == 0:
        return Share(0.0, 0.0, 1.0)
    share = x / n
    upper = x + z * z / 2 + z * sqrt(x * ((n - x) / n) + z * z / 4)
    # The product of the two ends is x^2 / (n (n + z^2)), so the lower one is had by division, without the
    # subtraction that would cancel the digits of a very small share.
    low = x * (x / n) / upper
    high = 1.0 if x == n else upper / (n + z * z)
    return Share(share, min(low, share), max(high, share))


def paired_difference(
    both: SupportsIndex,
    first_only: SupportsIndex,
    second_only: SupportsIndex,
    neither: SupportsIndex,
    confidence: float = 0.95,
) -> Share:
    """First share minus second share of two designs that were tried on the same trials, with an interval.

    The four counts are trials in which both designs succeed, only the first, only the second, neither. The result's
    ``share`` is the difference, -1..1. Newcombe's method 10: the Wilson arms of the two shares joined with the
    correlation of the two designs, which is lowered by a continuity correction when it is positive.

    No trials at all say nothing: difference 0.0, interval -1 to 1. If a design always or never succeeds no
    correlation can be seen, and none is assumed.

    Raises ValueError if a count is negative or the confidence is not between 0 and 1.

    Source: R. G. Newcombe, "Improved confidence intervals for the difference between binomial proportions based on
    paired data", Statistics in Medicine 17, 1998, 2635-2650, method 10.
    """
    a = _count("both", both)
    b = _count("first_only", first_only)
    c = _count("second_only", second_only)
    d = _count("neither", neither)
    n = a + b + c + d
    if n == 0:
        _two_sided_z(confidence)
        return Share(0.0, -1.0, 1.0)
    first = wilson(a + b, n, confidence)
    second = wilson(a + c, n, confidence)
    difference = (b - c) / n
    phi = _corrected_phi(a, b, c, d)

    def arm(x: float, y: float) -> float:
        return sqrt(max(0.0, x * x - 2 * phi * x * y + y * y))

    low = difference - arm(first.share - first.low, second.high - second.share)
    high = difference + arm(second.share - second.low, first.high - first.share)
    return Share(difference, max(low, -1.0), min(high, 1.0))


def _corrected_phi(a: int, b: int, c: int, d: int) -> float:
    size = (a + b) * (c + d) * (a + c) * (b + d)
    if size == 0:
        return 0.0
    excess: float = a * d - b * c
    if excess > 0:
        excess = max(excess - (a + b + c + d) / 2, 0.0)
    return excess / sqrt(size)


# --- one mean -----------------------------------------------------------------------------------------------------


def mean_interval(values: npt.ArrayLike, confidence: float = 0.95) -> tuple[float, float, float]:
    """Mean of values with its interval: mean -+ z s / sqrt(n), with s the standard deviation over n - 1.

    It rests on the central limit theorem, so it is for hundreds of values and more. One value says nothing of its
    spread: its interval is without ends. Raises ValueError for no values.

    Source: any text on statistics; D. C. Montgomery and G. C. Runger, "Applied Statistics and Probability for
    Engineers", section on large-sample intervals for a mean (from memory).
    """
    import numpy as np

    given = np.asarray(values, dtype=np.float64)
    if given.size == 0:
        raise ValueError("no values, so there is no mean")
    mean = float(given.mean())
    if given.size == 1:
        return mean, -inf, inf
    half = _two_sided_z(confidence) * float(given.std(ddof=1)) / sqrt(given.size)
    return mean, mean - half, mean + half


# --- none seen ---------------------------------------------------------------------------------------------------


def none_seen(trials: SupportsIndex, confidence: float = 0.95) -> float:
    """The largest share that is still credible, one-sided, when it was seen in none of the trials.

    1 - (1 - confidence)^(1/n), close to 3/n at 95 %; 1.0 for no trials.

    Source: J. A. Hanley and A. Lippman-Hand, "If nothing goes wrong, is everything all right?", JAMA 249, 1983,
    1743-1745.
    """
    n = _count("trials", trials)
    _open_share("confidence", confidence)
    if n == 0:
        return 1.0
    return -expm1(log1p(-confidence) / n)


def trials_for_tail(share: float, confidence: float = 0.95, worst: int = 1) -> int:
    """Fewest trials of which the ``worst``-th worst bounds, with this confidence, the given share of all trials.

    59 trials: with 95 % confidence their worst one is no better than 95 % of what will come. With ``worst=2`` it is
    also the number for two-sided limits, from the smallest to the largest of the trials.

    The smallest n with P(at least ``worst`` of n lie in the outer 1 - share) >= confidence.

    Source: S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Annals of Mathematical
    Statistics 12, 1941, 91-96.
    """
    _open_share("share", share)
    _open_share("confidence", confidence)
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


# --- percentiles -------------------------------------------------------------------------------------------------


def rank(n: SupportsIndex, q: float) -> int:
    """Which of n sorted values is the q-quantile: the k-th smallest, k = ceil(q n), at least 1.

    ``q`` counts as the decimal it is written as, so that 0.07 of 100 is the 7th value although the product of the
    two in binary is a hair above 7. Raises ValueError for no values or a q that is not between 0 and 1.
    """
    size = _count("n", n)
    if size == 0:
        raise ValueError("n=0: no values, so there is no percentile")
    _open_share("q", q)
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
    size = _count("n", n)
    if size == 0:
        raise ValueError("n=0: no values, so there is no percentile")
    _open_share("q", q)
    _open_share("confidence", confidence)
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
    size = _count("n", n)
    _open_share("q", q)
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


# --- how many trials ---------------------------------------------------------------------------------------------


def half_width(share: Share) -> float:
    """Half the length of an interval. A Wilson interval is not centred on its share; this is half of the whole."""
    return (share.high - share.low) / 2


def trials_for_half_width(wanted: float, share: float | None = None, confidence: float = 0.95) -> int:
    """Trials that bring the Wilson interval's half-width down to ``wanted``, whatever is then seen.

    Without ``share`` that holds for every result (the worst is one half): n = z^2/(4 h^2) - z^2. With ``share`` it
    holds for every result at least as far from one half as that share, which takes fewer trials: n = m - z^2 with
    m the positive root of h^2 m^2 - z^2 p (1 - p) m - z^4 (1/4 - p (1 - p)) = 0.

    Raises ValueError for a half-width that is not between 0 and 0.5, or a share outside 0..1.

    Source: the formula in :func:`wilson`, solved for n.
    """
    if not 0 < wanted < 0.5:
        raise ValueError(f"half-width {wanted!r} must be more than 0 and less than 0.5, such as 0.01")
    if share is not None and not 0 <= share <= 1:
        raise ValueError(f"share {share!r} must be between 0 and 1")
    z2 = _two_sided_z(confidence) ** 2
    spread = 0.25 if share is None else share * (1 - share)
    b = z2 * spread
    m = (b + sqrt(b * b + 4 * wanted * wanted * z2 * z2 * (0.25 - spread))) / (2 * wanted * wanted)
    # A hair less, so that rounding does not add a trial where the root is a whole number.
    return max(1, ceil((m - z2) * (1 - 1e-12)))


def grow(
    successes: SupportsIndex,
    trials: SupportsIndex,
    wanted: float,
    confidence: float = 0.95,
    block: int = 1000,
    limit: int = 10_000_000,
) -> int:
    """How many trials to have in all after the next round, so that a share's half-width comes down to ``wanted``.

    The same number as now means: stop, it is reached, or the limit is. Otherwise the number the present share asks
    for, in whole blocks, at least one block more, at most four times as many (a share from few trials is a guess).
    Never more than every possible result would need, rounded up to a block.

    The rule looks only at the share's own interval, so a share that happens to look extreme stops a little early;
    with blocks of 1000 the interval's true confidence stays near the stated one (measured in the tests).
    """
    n = _count("trials", trials)
    if block < 1:
        raise ValueError(f"block={block} must be 1 or more")
    now = wilson(successes, n, confidence)
    most = trials_for_half_width(wanted, None, confidence)
    if n and (n >= most or half_width(now) <= wanted):
        return n
    # The end of the interval that is nearer to one half: planning with the share itself stops short half the time.
    planned = min(max(0.5, now.low), now.high)
    aim = max(trials_for_half_width(wanted, planned, confidence) if n else block, n + block)
    if n:
        aim = min(aim, 4 * n)
    return max(n, min(_whole_blocks(aim, block), _whole_blocks(most, block), limit))


def _whole_blocks(n: int, block: int) -> int:
    return -(-n // block) * block


# --- many values in fixed memory ---------------------------------------------------------------------------------


class Histogram:
    """Counts of clearances, mm, for many rows (obstacles, segments) at once, in memory that does not grow.

    A row has a place for each multiple of ``width`` from 0 to ``horizon``; a value goes to the nearest one, but
    place 0 holds exact zeros only (contacts) and the last one only values of ``horizon`` and more, infinity
    included. So a value is given back to within half a width, and to within one whole width next to the two ends;
    a contact is never mixed with a near miss. Everything is whole numbers: the order in which values are added or
    histograms merged changes nothing, not in the last digit.
    """

    def __init__(self, rows: int, horizon: float, width: float = 0.01) -> None:
        import numpy as np

        if rows < 0:
            raise ValueError(f"rows={rows} must be 0 or more")
        if not (0 < width < inf and 2 * width <= horizon < inf):
            raise ValueError(f"horizon={horizon!r} must be at least two widths of {width!r}, and both more than 0")
        self.width = width
        self.places = round(horizon / width)
        if abs(self.places * width - horizon) > 1e-9 * horizon:
            raise ValueError(f"horizon={horizon!r} must be a whole number of widths of {width!r}")
        self.horizon = horizon
        self.counts: npt.NDArray[np.int64] = np.zeros((rows, self.places + 1), dtype=np.int64)
        """(rows, places + 1): how many values of each row went to each place."""

    @property
    def rows(self) -> int:
        return int(self.counts.shape[0])

    def add(self, row: int, values: npt.ArrayLike) -> None:
        """Count values, an array of any length, for one row. Raises ValueError for a negative one or not-a-number."""
        import numpy as np

        given: npt.NDArray[np.float64] = np.asarray(values, dtype=np.float64).reshape(-1)
        if given.size == 0:
            return
        # Written so that not-a-number is refused too.
        if not given.min() >= 0:
            raise ValueError(f"row {row}: a clearance must be 0 or more, got {float(given.min())!r}")
        place = (np.minimum(given, self.horizon) * (self.places / self.horizon) + 0.5).astype(np.int64)
        # Only the stretch that is hit: most rows fill a small part of theirs, and a full-length count would cost more
        # than the counting.
        low = int(place.min())
        counts: npt.NDArray[Any] = np.bincount(place - low)
        mine = self.counts[row]
        mine[low : low + counts.size] += counts
        # What was rounded to an end without being it belongs next to it.
        if low == 0:
            almost = int(counts[0]) - int(np.count_nonzero(given == 0))
            mine[0] -= almost
            mine[1] += almost
        if low + counts.size > self.places:
            almost = int(counts[-1]) - int(np.count_nonzero(given >= self.horizon))
            mine[self.places] -= almost
            mine[self.places - 1] += almost

    def merge(self, other: Histogram) -> None:
        """Add all counts of another histogram of the same rows, horizon and width."""
        mine = (self.rows, self.places, self.width)
        theirs = (other.rows, other.places, other.width)
        if mine != theirs:
            raise ValueError(f"rows, places and width differ: {mine} and {theirs}")
        self.counts += other.counts

    def total(self, row: int) -> int:
        """How many values the row has."""
        return int(self.counts[row].sum())

    def zeros(self, row: int) -> int:
        """How many of them are exactly zero."""
        return int(self.counts[row, 0])

    def value(self, row: int, k: int) -> float:
        """The k-th smallest value, k from 1, mm; ``horizon`` stands for that far or farther."""
        return self.values(row, (k,))[0]

    def values(self, row: int, ks: Sequence[int]) -> tuple[float, ...]:
        """The k-th smallest value for each of several k. The counts are summed up once for all of them: that sum is
        what takes the time."""
        import numpy as np

        running = np.cumsum(self.counts[row])
        for k in ks:
            if not 1 <= k <= running[-1]:
                raise ValueError(f"rank {k} must be between 1 and {int(running[-1])}")
        return tuple(self._at(int(place)) for place in np.searchsorted(running, ks, side="left"))

    def percentile(self, row: int, q: float) -> float:
        """The q-quantile, mm: the k-th smallest, k = ceil(q n)."""
        return self.value(row, rank(self.total(row), q))

    def percentile_interval(self, row: int, q: float, confidence: float = 0.95) -> tuple[float, float]:
        """Between which values, mm, the true q-quantile lies; see :func:`percentile_ranks` for few values."""
        lower, upper = percentile_ranks(self.total(row), q, confidence)
        return self.value(row, lower), self.value(row, upper)

    def mean(self, row: int) -> float:
        """The mean, mm, where every value counts as its place and whatever lies beyond the horizon as the horizon."""
        import numpy as np

        n = self.total(row)
        if n == 0:
            raise ValueError(f"row {row} has no values, so there is no mean")
        total = int(np.dot(self.counts[row], np.arange(self.places + 1, dtype=np.int64)))
        return total * self.horizon / self.places / n

    def _at(self, place: int) -> float:
        # The division gives the double nearest to the decimal, 0.03; the product 3 * 0.01 would not always.
        return self.horizon if place == self.places else place * self.horizon / self.places


# --- checks ------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def _two_sided_z(confidence: float) -> float:
    _open_share("confidence", confidence)
    return NormalDist().inv_cdf((1 + confidence) / 2)


def _open_share(name: str, value: float) -> None:
    if not 0 < value < 1:
        raise ValueError(f"{name}={value!r} must be more than 0 and less than 1, such as 0.95")


def _count(name: str, value: SupportsIndex) -> int:
    n = value.__index__()
    if n < 0:
        raise ValueError(f"{name}={n} must be 0 or more")
    return n
