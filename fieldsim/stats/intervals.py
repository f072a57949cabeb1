"""How sure an answer is: intervals for shares, means and differences, and the trials they cost.

Everything here is a pure function of counts. Percentiles are in ``quantiles``, values counted in fixed memory in
``histogram``. Importing this module loads nothing heavy; numpy is loaded by the functions that need it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, expm1, inf, log1p, sqrt
from typing import TYPE_CHECKING, Annotated, SupportsIndex

from fieldsim.stats.checks import checked_count, open_share, two_sided_z

if TYPE_CHECKING:
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
    n = checked_count("trials", trials)
    x = checked_count("successes", successes)
    if x > n:
        raise ValueError(f"successes={x} cannot be more than trials={n}")
    return score_interval(x, n, confidence)


def score_interval(x: float, n: float, confidence: float = 0.95) -> Share:
    """The same for numbers that need not be whole: of a weighted share, and of the trials that it is worth."""
    z = two_sided_z(confidence)
    if n == 0:
        return Share(0.0, 0.0, 1.0)
    share = x / n
    upper = x + z * z / 2 + z * sqrt(x * ((n - x) / n) + z * z / 4)
    # The product of the two ends is x^2 / (n (n + z^2)), so the lower one is had by division, without the
    # subtraction that would cancel the digits of a very small share.
    low = x * (x / n) / upper
    high = 1.0 if x >= n else upper / (n + z * z)
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
    a = checked_count("both", both)
    b = checked_count("first_only", first_only)
    c = checked_count("second_only", second_only)
    d = checked_count("neither", neither)
    return paired_scores(a, b, c, d, confidence)


def paired_scores(a: float, b: float, c: float, d: float, confidence: float = 0.95) -> Share:
    """The same for counts that need not be whole, such as weighted ones."""
    n = a + b + c + d
    if n == 0:
        two_sided_z(confidence)
        return Share(0.0, -1.0, 1.0)
    first = score_interval(min(a + b, n), n, confidence)
    second = score_interval(min(a + c, n), n, confidence)
    difference = (b - c) / n
    phi = _corrected_phi(a, b, c, d)

    def arm(x: float, y: float) -> float:
        return sqrt(max(0.0, x * x - 2 * phi * x * y + y * y))

    low = difference - arm(first.share - first.low, second.high - second.share)
    high = difference + arm(second.share - second.low, first.high - first.share)
    return Share(difference, max(low, -1.0), min(high, 1.0))


def _corrected_phi(a: float, b: float, c: float, d: float) -> float:
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
    half = two_sided_z(confidence) * float(given.std(ddof=1)) / sqrt(given.size)
    return mean, mean - half, mean + half


# --- none seen ---------------------------------------------------------------------------------------------------


def none_seen(trials: SupportsIndex, confidence: float = 0.95) -> float:
    """The largest share that is still credible, one-sided, when it was seen in none of the trials.

    1 - (1 - confidence)^(1/n), close to 3/n at 95 %; 1.0 for no trials.

    Source: J. A. Hanley and A. Lippman-Hand, "If nothing goes wrong, is everything all right?", JAMA 249, 1983,
    1743-1745.
    """
    n = checked_count("trials", trials)
    open_share("confidence", confidence)
    if n == 0:
        return 1.0
    return -expm1(log1p(-confidence) / n)


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
    z2 = two_sided_z(confidence) ** 2
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
    n = checked_count("trials", trials)
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
