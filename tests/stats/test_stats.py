"""Intervals against published tables, exact coverage and properties."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from fieldsim.stats.histogram import Histogram
from fieldsim.stats.intervals import (
    grow,
    half_width,
    mean_interval,
    none_seen,
    paired_difference,
    trials_for_half_width,
    wilson,
)
from fieldsim.stats.quantiles import percentile_ranks, rank, rank_confidence, trials_for_tail


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.0, 0.161125),
        (1, 29, 0.006113, 0.171755),
    ],
)
def test_wilson_table(successes: int, trials: int, low: float, high: float) -> None:
    """Newcombe, Two-sided confidence intervals for the single proportion, Stat. Med. 17, 1998, 857-872, table I
    (last three rows second-hand, first from memory; all recomputed to 1e-6)."""
    share = wilson(successes, trials)
    assert (share.low, share.high) == pytest.approx((low, high), abs=1e-6)


def test_wilson_of_13_in_16() -> None:
    """Fagerland, Lydersen & Laake, Statistical Analysis of Contingency Tables, 2017, ch. 2 (second-hand)."""
    share = wilson(13, 16)
    assert (share.low, share.high) == pytest.approx((0.5699, 0.9341), abs=5e-5)


def test_wilson_covers_as_published() -> None:
    """Exact coverage at p = 0.106, n = 100 is 0.950881. Source: Brown, Cai & DasGupta, Interval estimation for a
    binomial proportion, Stat. Sci. 16(2), 2001, 101-133 (figure from memory, recomputed)."""
    n, p = 100, 0.106
    inside = [k for k in range(n + 1) if wilson(k, n).low <= p <= wilson(k, n).high]
    assert float(binom.pmf(inside, n, p).sum()) == pytest.approx(0.950881, abs=1e-6)


@given(st.integers(0, 10_000_000), st.integers(0, 10_000_000))
def test_wilson_holds_its_share_and_mirrors(a: int, b: int) -> None:
    n = a + b
    share, other = wilson(a, n), wilson(b, n)
    assert 0 <= share.low <= share.share <= share.high <= 1 or n == 0
    assert share.low == pytest.approx(1 - other.high, abs=1e-12)
    assert half_width(wilson(2 * a, 2 * n)) <= half_width(share) + 1e-12


@given(st.integers(0, 10_000), st.integers(1, 10_000))
def test_one_more_success_moves_the_interval_up(a: int, b: int) -> None:
    less, more = wilson(a, a + b), wilson(a + 1, a + b)
    assert less.low < more.low
    assert less.high < more.high


def test_no_trials_tell_nothing() -> None:
    share = wilson(0, 0)
    assert (share.low, share.high) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("both", "first", "second", "neither", "low", "high"),
    [
        (20, 12, 2, 16, 0.056156, 0.329207),
        (59, 6, 16, 80, -0.118621, -0.004625),
        (1, 1, 7, 12, -0.506920, -0.025559),
    ],
)
def test_paired_difference_table(both: int, first: int, second: int, neither: int, low: float, high: float) -> None:
    """Newcombe, Improved confidence intervals for the difference between binomial proportions based on paired data,
    Stat. Med. 17, 1998, 2635-2650, method 10 (second-hand to 4 places, recomputed to 1e-6)."""
    found = paired_difference(both, first, second, neither)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-6)


COUNTS = st.integers(0, 100_000)


@given(COUNTS, COUNTS, COUNTS, COUNTS)
def test_paired_difference_turns_with_its_designs(both: int, first: int, second: int, neither: int) -> None:
    found = paired_difference(both, first, second, neither)
    other = paired_difference(both, second, first, neither)
    assert -1 <= found.low <= found.share <= found.high <= 1
    assert (found.share, found.low, found.high) == pytest.approx((-other.share, -other.high, -other.low), abs=1e-12)


@pytest.mark.parametrize(
    ("n", "q", "lower", "upper", "confidence"),
    [
        (10, 0.5, 2, 9, 0.978516),
        (20, 0.5, 6, 15, 0.958611),
        (30, 0.5, 10, 21, 0.957226),
        (100, 0.5, 40, 61, 0.964800),
        (100, 0.9, 84, 96, 0.955690),
        (1000, 0.95, 936, 964, 0.958095),
    ],
)
def test_confidence_of_ranks(n: int, q: float, lower: int, upper: int, confidence: float) -> None:
    """P(X_(l) <= q <= X_(u)) = Bin(u-1; n, q) - Bin(l-1; n, q). Source: David & Nagaraja, Order Statistics, sec. 7.1
    (from memory; recomputed)."""
    assert rank_confidence(n, q, lower, upper) == pytest.approx(confidence, abs=1e-6)


@given(st.integers(60, 3000), st.sampled_from([0.05, 0.5, 0.95]))
@settings(max_examples=examples(60))
def test_ranks_reach_their_confidence(n: int, q: float) -> None:
    lower, upper = percentile_ranks(n, q)
    assert 1 <= lower <= rank(n, q) <= upper <= n
    exact = binom.cdf(upper - 1, n, q) - binom.cdf(lower - 1, n, q)
    assert exact >= 0.95 - 1e-9 or lower == 1 or upper == n


def test_ranks_of_ten_million_are_quick_and_right() -> None:
    lower, upper = percentile_ranks(10_000_000, 0.05)
    # Normal theory: 1.96 sqrt(n q (1-q)) = 1350.8 to each side.
    assert lower == pytest.approx(500_000 - 1351, abs=5)
    assert upper == pytest.approx(500_000 + 1351, abs=5)


@pytest.mark.parametrize(("worst", "n"), list(enumerate([59, 93, 124, 153, 181, 208, 234], start=1)))
def test_wilks_sample_sizes(worst: int, n: int) -> None:
    """Wilks, Ann. Math. Stat. 12, 1941, 91-96: 59 for 95/95 (second-hand); k-th worst recomputed exactly."""
    assert trials_for_tail(0.95, 0.95, worst) == n


@pytest.mark.parametrize(
    ("share", "confidence", "one", "two"),
    [
        (0.90, 0.90, 22, 38),
        (0.99, 0.95, 299, 473),
        (0.90, 0.95, 29, 46),
        (0.99, 0.99, 459, 662),
        (0.95, 0.90, 45, 77),
        (0.95, 0.99, 90, 130),
    ],
)
def test_one_and_two_sided_sample_sizes(share: float, confidence: float, one: int, two: int) -> None:
    """Wilks, Ann. Math. Stat. 12, 1941, 91-96 and 13, 1942, 400-409 (recomputed exactly): 1 - P^n >= C one-sided,
    1 - P^n - n (1 - P) P^(n-1) >= C two-sided."""
    assert (trials_for_tail(share, confidence), trials_for_tail(share, confidence, worst=2)) == (one, two)


@pytest.mark.parametrize(
    ("n", "bound"), [(20, 0.139108), (30, 0.0950339), (60, 0.0487029), (100, 0.0295130), (300, 0.00993608)]
)
def test_rule_of_three(n: int, bound: float) -> None:
    """1 - 0.05^(1/n). Source: Hanley & Lippman-Hand, If nothing goes wrong, is everything all right?, JAMA 249, 1983
    (from memory; recomputed)."""
    assert none_seen(n) == pytest.approx(bound, abs=1e-6)


@given(st.floats(0.001, 0.4), st.floats(0, 1))
@settings(max_examples=examples(60))
def test_planned_trials_bring_the_half_width(wanted: float, share: float) -> None:
    n = trials_for_half_width(wanted)
    assert half_width(wilson(round(share * n), n)) <= wanted + 1e-12


def test_growth_ends_where_it_should() -> None:
    done = 0
    for _ in range(50):
        more = grow(int(0.8 * done), done, 0.005)
        if more == done:
            break
        assert done < more <= max(1000, 4 * done)
        done = more
    assert half_width(wilson(int(0.8 * done), done)) <= 0.005
    assert done < 2 * trials_for_half_width(0.005, 0.8)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.9])
def test_growing_keeps_the_confidence(share: float) -> None:
    """Stopping when the interval is short enough could spoil it: it still holds the true share in some 95 %.

    No source; measured here. 2000 runs have a standard error of 0.5 %; four of them are allowed below.
    """
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(2000):
        successes = done = 0
        while (wanted := grow(successes, done, 0.01)) > done:
            successes += int(rng.binomial(wanted - done, share))
            done = wanted
        seen = wilson(successes, done)
        assert half_width(seen) <= 0.01
        held += seen.low <= share <= seen.high
    assert held / 2000 >= 0.95 - 4 * 0.0049


@given(st.lists(st.floats(0, 250), min_size=1, max_size=300), st.floats(0.01, 0.99))
def test_histogram_percentiles_are_the_values(values: list[float], q: float) -> None:
    """Within half a step of the k-th smallest, a whole step beside the two ends; zeros and the horizon exactly."""
    histogram = Histogram(1, 200.0)
    for value in values:
        histogram.add(0, [value])
    exact = min(sorted(values)[rank(len(values), q) - 1], 200.0)
    found = histogram.percentile(0, q)
    assert abs(found - exact) <= 0.01 + 1e-9
    assert (found == 0.0) == (exact == 0.0)
    assert (found == 200.0) == (exact == 200.0)


def test_histograms_merge_in_any_order() -> None:
    rng = np.random.default_rng(5)
    parts = [rng.uniform(0, 220, 500) for _ in range(4)]
    whole, merged = Histogram(1, 200.0), Histogram(1, 200.0)
    whole.add(0, np.concatenate(parts))
    for part in reversed(parts):
        one = Histogram(1, 200.0)
        one.add(0, part)
        merged.merge(one)
    np.testing.assert_array_equal(whole.counts, merged.counts)
    assert whole.mean(0) == pytest.approx(np.minimum(np.concatenate(parts), 200).mean(), abs=0.005)


def test_histogram_refuses_nonsense() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        Histogram(1, 200.0).add(0, [-1.0])
    with pytest.raises(ValueError, match="0 or more"):
        Histogram(1, 200.0).add(0, [float("nan")])
    with pytest.raises(ValueError, match="horizon"):
        Histogram(1, inf)


# --- by hand -------------------------------------------------------------------------------------------------------


def test_planned_trials_are_the_fewest() -> None:
    """n = z^2 (1/(4 h^2) - 1) for h = 0.1 is 92.2: 93 are enough, and 92 are not if half of them succeed."""
    assert trials_for_half_width(0.1) == 93
    assert half_width(wilson(46, 92)) > 0.1
    # With a share: 81 of 263 (Newcombe's table, above) has a half-width of 0.0554605.
    share = wilson(81, 263)
    assert trials_for_half_width(half_width(share), 81 / 263) == 263
    assert trials_for_half_width(half_width(share) * 0.999, 81 / 263) == 264
    for wrong in (0.0, 0.5):
        with pytest.raises(ValueError, match="half-width"):
            trials_for_half_width(wrong)


def test_growth_plans_by_the_end_that_is_nearer_to_one_half() -> None:
    for successes in (100, 900):
        seen = wilson(successes, 1000)
        planned = seen.high if successes < 500 else seen.low
        wanted = trials_for_half_width(0.012, planned)
        assert wanted > trials_for_half_width(0.012, successes / 1000) + 100
        assert grow(successes, 1000, 0.012, block=10) == -(-wanted // 10) * 10
    # An interval that holds one half is planned for with one half; no more than four times as many at once.
    assert grow(500, 1000, 0.02, block=1) == trials_for_half_width(0.02)
    assert grow(2, 10, 0.01, block=1) == 40
    assert grow(0, 0, 0.1, block=50) == 50
    assert grow(0, 1000, 0.5 - 1e-9) == 1000
    assert grow(500, 1000, 0.001, limit=2500) == 2500
    # 10 of 1000 are known to 0.0065, though not every share would be.
    assert grow(10, 1000, 0.01) == 1000
    assert grow(10, 1000, 0.006) > 1000


def test_the_interval_of_a_mean_by_hand() -> None:
    """2, 4, 4, 4, 5, 5, 7, 9: mean 5, squares of the differences 32, so s^2 = 32/7 and half z sqrt(4/7)."""
    mean, low, high = mean_interval([2, 4, 4, 4, 5, 5, 7, 9])
    assert mean == 5.0
    assert (low, high) == pytest.approx((5 - 1.959964 * (4 / 7) ** 0.5, 5 + 1.959964 * (4 / 7) ** 0.5), abs=1e-6)
    assert mean_interval([3.0]) == (3.0, -inf, inf)
    with pytest.raises(ValueError, match="no mean"):
        mean_interval([])


def test_what_is_nearly_nought_or_nearly_the_horizon_is_neither() -> None:
    """Steps of 1 mm up to 10: 0.3 is a near miss and 9.7 was seen, so each stands next to the end it is not."""
    histogram = Histogram(2, 10.0, 1.0)
    histogram.add(1, [0.0, 0.0, 0.3, 1.4, 5.5, 9.4, 9.7, 9.8, 10.0, 11.0, inf])
    assert histogram.counts[1].tolist() == [2, 2, 0, 0, 0, 0, 1, 0, 0, 3, 3]
    assert histogram.counts[0].sum() == 0
    assert (histogram.total(1), histogram.zeros(1)) == (11, 2)
    assert histogram.mean(1) == pytest.approx((2 * 1 + 6 + 3 * 9 + 3 * 10) / 11)
    assert [histogram.value(1, k) for k in (1, 2, 3, 5, 6, 8, 9)] == [0.0, 0.0, 1.0, 6.0, 9.0, 9.0, 10.0]
    histogram.add(0, [0.2, 9.9])
    assert histogram.counts[0].tolist() == [0, 1, 0, 0, 0, 0, 0, 0, 0, 1, 0]
    for k in (0, 12):
        with pytest.raises(ValueError, match="rank"):
            histogram.value(1, k)
    # Two places are the fewest there can be.
    assert Histogram(0, 2.0, 1.0).rows == 0
    for horizon, width in ((1.0, 1.0), (10.0, 0.0), (10.0, 3.0)):
        with pytest.raises(ValueError, match="horizon"):
            Histogram(1, horizon, width)


def test_the_widest_ranks_hold_everything_and_no_trials_nothing() -> None:
    for n in (1, 20, 10_000_000):
        assert rank_confidence(n, 0.5, 1, n) == pytest.approx(1 - 2 * 0.5**n if n > 1 else 0.0)
    assert rank_confidence(10_000_000, 0.5, 2, 10_000_000) == pytest.approx(1.0)
    for lower, upper in ((0, 5), (6, 5), (1, 21)):
        with pytest.raises(ValueError, match="ranks"):
            rank_confidence(20, 0.5, lower, upper)
    assert none_seen(0) == 1.0
    nothing = paired_difference(0, 0, 0, 0)
    assert (nothing.share, nothing.low, nothing.high) == (0.0, -1.0, 1.0)
    for found in (paired_difference(0, 1000, 0, 0), paired_difference(0, 0, 1000, 0)):
        assert abs(found.share) == 1.0
        assert -1.0 <= found.low <= found.high <= 1.0
