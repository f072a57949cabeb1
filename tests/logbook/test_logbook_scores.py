"""Verdicts and scores: hand counts, brute force, a library's scores, days drawn at random. Data invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import product
from math import log, prod, sqrt

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from plans import PERFECT
from scipy.stats import binom, binomtest
from sklearn.metrics import brier_score_loss, log_loss
from test_logbook_trials import BELL, FLOUR, entries, row_of_targets

from fieldsim.logbook.answer import Judged
from fieldsim.logbook.beliefs import Weighed, weights
from fieldsim.logbook.days import (
    DAYS,
    Daily,
    Drives,
    clipped,
    count_chances,
    daily,
    day_chances,
    day_errors,
    days_of,
    differ,
    plan_of_day,
)
from fieldsim.logbook.details import misses, place_among, timed
from fieldsim.logbook.judge import chances_of
from fieldsim.logbook.scores import drawn, drives_needed, judged, power, scored, spiegelhalter, two_sided
from fieldsim.logbook.trials import ANY, Case, miss_counts, sampled
from fieldsim.sim.plan import plan
from fieldsim.stats.intervals import Share

Floats = NDArray[np.float64]


def alike(n: int, share: float) -> list[Drives]:
    """Drives that do not depend on days."""
    return [Drives((n,), np.array([[share]]))]


def each_its_run(shares: list[float] | Floats) -> list[Drives]:
    """One drive of each of several runs, whose chances do not depend on days."""
    return [Drives((1,) * len(shares), np.array(shares, dtype=float)[:, None])]


def verdict_on(through: int, drives: list[Drives]) -> Judged:
    mean = float(np.mean([each.chances.mean() for each in drives]))
    return judged(through, drives, Share(mean, mean, mean))


# --- as often as forecast ------------------------------------------------------------------------------------------


def test_verdicts_by_hand() -> None:
    """At one half, none of 5 has a two-sided chance of 2/32 and none of 6 of 2/64: only the second is below 1/20."""

    def says(through: int, share: float, n: int) -> str:
        return verdict_on(through, alike(n, share)).verdict

    assert verdict_on(0, alike(5, 0.5)).p_value == pytest.approx(2 / 32)
    assert says(0, 0.5, 5) == "too few to say"
    assert verdict_on(0, alike(6, 0.5)).p_value == pytest.approx(2 / 64)
    assert says(0, 0.5, 6) == "too hopeful"
    assert says(6, 0.5, 6) == "too gloomy"
    assert says(3, 0.5, 6) == "too few to say"
    assert says(50, 0.5, 100) == "honest"
    assert says(6, 0.825, 14) == "too hopeful"
    assert says(14, 0.825, 14) == "nothing against it"
    assert says(0, 0.5, 1) == says(1, 0.5, 1) == "too few to say"


def test_forecasts_of_none_or_all() -> None:
    """0 and all of 10000 trials: one drive that ends otherwise contradicts, those that do not never do."""
    none, every = clipped(0.0, 10_000), clipped(1.0, 10_000)
    for n in (1, 5, 40):
        assert verdict_on(1, alike(n, none)).verdict == "too gloomy"
        assert verdict_on(n - 1, alike(n, every)).verdict == "too hopeful"
        assert verdict_on(0, alike(n, none)).verdict in ("honest", "nothing against it", "too few to say")
        assert verdict_on(n, alike(n, every)).verdict in ("honest", "nothing against it", "too few to say")
    assert verdict_on(40, alike(40, every)).verdict == "honest"


def test_power_by_hand() -> None:
    """Of 6 drives at one half only 0 and 6 contradict: 0.3^6 + 0.7^6. Of 5 nothing does."""
    assert power(alike(6, 0.5)) == pytest.approx(0.3**6 + 0.7**6)
    assert power(alike(5, 0.5)) == 0.0
    # At 0.95 a forecast can be 0.2 too high only: 0.75. Of 2 drives, none through contradicts (2 * 0.0025), one does
    # not (2 * (1 - 0.95^2) = 0.195).
    assert power(alike(2, 0.95)) == pytest.approx(0.25**2)


@pytest.mark.parametrize("share", [0.03, 0.3, 0.5, 0.786, 0.97])
def test_as_many_drives_as_needed_are_enough(share: float) -> None:
    def single(n: int) -> list[Drives]:
        return alike(1, share) * n

    needed = drives_needed(single(7))
    assert needed is not None
    assert all(power(single(n)) >= 0.8 for n in range(needed, needed + 12))
    assert power(single(needed - 1)) < 0.8
    assert verdict_on(round(needed * share), single(needed)).verdict == "honest"
    assert verdict_on(round((needed - 1) * share), single(needed - 1)).verdict == "nothing against it"


def test_days_that_decide_all_need_many_days() -> None:
    """Days are good (all get through) or bad (none does): 30 drives of one day say as much as one, and are no
    contradiction however they end up."""
    day = Drives((30,), np.array([[0.001, 0.999]]))
    one = verdict_on(30, [day])
    assert one.verdict == verdict_on(0, [day]).verdict == "too few to say"
    assert one.needed is None or one.needed >= 30 * 40
    assert verdict_on(30, alike(30, 0.5)).verdict == "too gloomy"


@given(st.lists(st.floats(0, 1), min_size=1, max_size=8))
@settings(max_examples=examples(50))
def test_counts_over_runs_against_brute_force(shares: list[float]) -> None:
    wanted = np.zeros(len(shares) + 1)
    for way in product((0, 1), repeat=len(shares)):
        wanted[sum(way)] += prod(p if hit else 1 - p for p, hit in zip(shares, way, strict=True))
    assert count_chances(each_its_run(shares)) == pytest.approx(wanted, abs=1e-12)


def test_counts_over_days_against_drawn_ones() -> None:
    """Two runs on two days of three kinds: the exact chances against 200 000 drawn logs, each within 5 of its standard
    deviations (at most 1 in 100 000 for all)."""
    chances = np.array([[0.2, 0.6, 0.9], [0.5, 0.7, 0.95]])
    drives = [Drives((3, 2), chances), Drives((0, 4), chances)]
    exact = count_chances(drives)
    found = np.bincount(drawn(drives, 200_000, np.random.default_rng(4)).sum(axis=1), minlength=10) / 200_000
    assert exact.sum() == pytest.approx(1.0)
    assert np.all(np.abs(found - exact) <= 5 * np.sqrt(exact * (1 - exact) / 200_000))


@given(st.integers(1, 40), st.floats(0.01, 0.99))
@settings(max_examples=examples(50))
def test_the_exact_test_is_the_binomial_one_where_all_forecasts_are_alike(n: int, share: float) -> None:
    found = two_sided(count_chances(alike(n, share)))
    for k in range(n + 1):
        tails = [binomtest(k, n, share, alternative=way).pvalue for way in ("less", "greater")]
        assert found[k] == pytest.approx(min(1.0, 2 * min(tails)), rel=1e-6, abs=1e-12)


@given(st.integers(1, 60), st.floats(0.01, 0.99))
@settings(max_examples=examples(15))
def test_an_honest_forecast_is_hardly_ever_called_wrong(n: int, share: float) -> None:
    """In each direction in at most 1 of 40 logs."""
    chances = count_chances(alike(n, share))
    against = np.array([verdict_on(k, alike(n, share)).verdict for k in range(n + 1)])
    assert chances[against == "too hopeful"].sum() < 0.025
    assert chances[against == "too gloomy"].sum() < 0.025


def test_runs_of_different_forecasts_together() -> None:
    """Two sure ones and two hopeless ones: 0.99^2 0.01^2 for all four through."""
    together = verdict_on(4, each_its_run([0.99, 0.99, 0.01, 0.01]))
    assert together.p_value == pytest.approx(2 * (0.99 * 0.01) ** 2, rel=1e-6)
    assert together.verdict == "too gloomy"
    # As one binomial of a half it would be nothing remarkable.
    assert binomtest(4, 4, 0.5).pvalue > 0.1


def test_a_forecast_is_never_quite_sure() -> None:
    assert clipped(1.0, 9) == pytest.approx(0.95)
    assert clipped(0.0, 9) == pytest.approx(0.05)
    assert clipped(0.5, 9999) == pytest.approx(0.5)


# --- days ----------------------------------------------------------------------------------------------------------


def test_simulated_days_are_spread_like_days() -> None:
    errors = day_errors()
    assert errors.shape == (DAYS, 3)
    assert errors.mean(axis=0) == pytest.approx([0, 0, 0], abs=0.02)
    assert errors.std(axis=0) == pytest.approx([1, 1, 1])
    assert np.corrcoef(errors.T) == pytest.approx(np.eye(3), abs=0.1)


def test_a_day_is_a_bias() -> None:
    """Kernel: bias + day * drawn number. So a day of one deviation is the bias moved by it, and nothing else."""
    wheels = plan_of_day(plan(FLOUR), np.array([1.0, -2.0, 0.5])).course.wheels
    own = plan(FLOUR).course.wheels
    assert wheels.bias == pytest.approx(own.bias + own.day * [1.0, -2.0, 0.5])
    assert not wheels.day.any()


@given(st.lists(st.integers(0, 50), min_size=2, max_size=30), st.floats(0, 1))
@settings(max_examples=examples(50))
def test_day_chances_keep_the_forecast_and_lose_the_noise(through: list[int], share: float) -> None:
    found = day_chances(share, 10_000, np.array(through), 50)
    assert ((found > 0) & (found < 1)).all()
    assert found.var() <= np.var(np.array(through) / 50) + 1e-12
    if found.min() > 1e-4 and found.max() < 1 - 1e-4:
        assert found.mean() == pytest.approx(clipped(share, 10_000), abs=1e-9)


def test_noise_alone_makes_no_days() -> None:
    """64 days that are all alike, 100 trials each: what is left of their spread is small beside the noise of 0.046."""
    rng = np.random.default_rng(8)
    left = [day_chances(0.7, 10_000, rng.binomial(100, 0.7, size=64), 100).std() for _ in range(40)]
    assert np.mean(left) < 0.015
    spread = [day_chances(0.7, 10_000, rng.binomial(100, rng.choice([0.6, 0.8], 64)), 100).std() for _ in range(40)]
    assert np.mean(spread) == pytest.approx(0.1, abs=0.01)


START = date(2026, 3, 1)


def forecast(run_of: Case, trials: int = 4000) -> tuple[Weighed, Floats]:
    """A run's forecast without any belief, and its chance on each day."""
    ready = plan(run_of.run)
    assert differ(run_of, ready, [run_of])
    sample = sampled(run_of, ready, trials, 1, None, lambda more: None)
    by_day = daily(run_of, ready, trials, 1, lambda more: None)
    base = weights(run_of, np.bincount(sample.outcome), miss_counts(run_of, sample))
    weighed = Weighed(run_of, sample, by_day, base, ())
    return weighed, chances_of(weighed)


def test_honest_drives_of_one_day_are_hardly_ever_called_wrong() -> None:
    """100 days drawn at random, 20 drives each. Each for itself they would be called wrong in 14 of 100 (measured with
    10000 trials); with days 0.05 is the most. More than 0.07 is not asked for: the days' chances are known by 100
    trials of each."""
    case = Case("Flour round", FLOUR, entries((20, {"result": "through", "date": START})))
    weighed, chances = forecast(case)
    assert chances.mean() == pytest.approx((weighed.sample.outcome == 0).mean(), abs=0.01)
    assert 0.08 < chances.std() < 0.17
    ready = plan(FLOUR)
    rng = np.random.default_rng(21)
    true = np.array(
        [
            (sampled(case, plan_of_day(ready, errors), 100, 5, 1, lambda more: None, first_block=n).outcome == 0).mean()
            for n, errors in enumerate(rng.standard_normal((100, 3)))
        ]
    )
    real = binom.pmf(np.arange(21), 20, true[:, None]).mean(axis=0)
    wrong = two_sided(count_chances(days_of([case], [chances]))) < 0.05
    careless = two_sided(binom.pmf(np.arange(21), 20, chances.mean())) < 0.05
    assert real[wrong].sum() < 0.07
    assert real[careless].sum() > 0.09


def test_days_do_not_matter_if_every_drive_has_its_own() -> None:
    rows = [entries((1, {"result": "through", "date": START + timedelta(days=n)}))[0] for n in range(3)]
    apart, shared = Case("Flour round", FLOUR, rows), Case("Flour round", FLOUR, [*rows, rows[0]])
    ready = plan(FLOUR)
    assert not differ(apart, ready, [apart])
    assert differ(shared, ready, [shared])
    # Another run of the same robot on one of the days; another robot's says nothing.
    other = Case("Yard bell", BELL, rows[1:2])
    assert differ(apart, ready, [apart, other])
    assert differ(other, plan(BELL), [apart, other])
    strange = Case("Yard bell", replace(BELL, robot=replace(BELL.robot, name="Box two")), rows[1:2])
    assert not differ(apart, ready, [apart, strange])
    # Without dates they may all be of one day.
    undated = Case("Flour round", FLOUR, entries((2, {"result": "through"})))
    assert differ(undated, ready, [undated])
    perfect = Case("Row", row_of_targets(PERFECT), entries((2, {"result": "through"})))
    assert not differ(perfect, plan(perfect.run), [perfect])


def test_runs_of_one_robot_share_its_days() -> None:
    rows = [entries((2, {"result": "through", "date": START}), run=run) for run in ("Flour round", "Yard bell")]
    rows[1] += entries((3, {"result": "through", "date": START + timedelta(days=1)}))
    cases = [Case("a", FLOUR, rows[0]), Case("b", BELL, rows[1])]
    found = days_of(cases, [np.linspace(0.5, 0.9, DAYS), np.array([0.8])])
    assert [each.counts for each in found] == [(2, 2), (0, 3)]
    assert found[0].chances.shape == (2, DAYS)


# --- scores --------------------------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.floats(0.01, 0.99), st.booleans()), min_size=2, max_size=30))
@settings(max_examples=examples(30))
def test_scores_are_the_librarys(rows: list[tuple[float, bool]]) -> None:
    shares, through = np.array([p for p, _ in rows]), np.array([y for _, y in rows])
    scores = scored(shares, through.astype(np.int64), each_its_run(shares))
    assert scores.brier.value == pytest.approx(brier_score_loss(through, shares, pos_label=True))
    assert scores.log.value == pytest.approx(log_loss(through, shares, labels=[False, True]))


def test_what_an_honest_forecast_scores() -> None:
    """Mean by its formula; the range by the binomial's quantiles, since with one forecast the score is linear in k."""
    n, share = 40, 0.8
    scores = scored(np.array([share]), np.array([n]), alike(n, share))
    assert scores.brier.expected == pytest.approx(share * (1 - share))
    assert scores.log.expected == pytest.approx(-share * log(share) - (1 - share) * log(1 - share))
    ends = [(k * 0.04 + (n - k) * 0.64) / n for k in binom.ppf((0.975, 0.025), n, share)]
    # The drawn logs' quantiles may be one count off.
    assert scores.brier.low == pytest.approx(ends[0], abs=0.6 / n + 1e-9)
    assert scores.brier.high == pytest.approx(ends[1], abs=0.6 / n + 1e-9)


def test_days_widen_what_an_honest_forecast_scores() -> None:
    day = [Drives((40,), np.array([[0.6, 0.8, 1.0]]))]
    assert drawn(day, 4000, np.random.default_rng(2)).mean() == pytest.approx(32, abs=0.5)
    alone, shared = (scored(np.array([0.8]), np.array([22]), drives) for drives in (alike(40, 0.8), day))
    assert alone.z == shared.z
    assert alone.p_value is not None
    assert shared.p_value is not None
    assert alone.p_value < 0.01 < 0.05 < shared.p_value
    assert shared.brier.high > alone.brier.high


def test_spiegelhalters_z_by_hand() -> None:
    """Forecasts 0.8, 0.8, 0.4; through, not, through: sum (y - p)(1 - 2p) = -0.12 + 0.48 + 0.12, and
    sum (1 - 2p)^2 p (1 - p) = 2 * 0.36 * 0.16 + 0.04 * 0.24."""
    shares, ones, through = np.array([0.8, 0.8, 0.4]), np.ones(3, dtype=np.int64), np.array([1, 0, 1])
    assert spiegelhalter(shares, ones, through) == pytest.approx(0.48 / sqrt(0.1248))
    # The same as two runs, one driven twice.
    assert spiegelhalter(np.array([0.8, 0.4]), np.array([2, 1]), np.array([1, 1])) == pytest.approx(0.48 / sqrt(0.1248))
    # It is the Brier score, less what is expected, in its standard deviations.
    scores = scored(shares, through, each_its_run(shares))
    assert scores.brier.value - scores.brier.expected == pytest.approx(0.48 / 3)
    assert spiegelhalter(np.array([0.5]), np.array([4]), np.array([4])) is None
    assert scored(np.array([0.5]), np.array([4]), alike(4, 0.5)).p_value is None


def test_spiegelhalters_z_is_normal_for_many_honest_drives() -> None:
    """2000 logs of 300 drives of three runs: mean 0 and standard deviation 1, within 5 of their standard errors."""
    shares, counts = np.array([0.9, 0.7, 0.3]), np.array([100, 100, 100])
    through = np.random.default_rng(6).binomial(counts, shares, size=(2000, 3))
    z = spiegelhalter(shares, counts, through)
    assert z is not None
    assert z.mean() == pytest.approx(0.0, abs=5 / sqrt(2000))
    assert z.std() == pytest.approx(1.0, abs=5 / sqrt(4000))


# --- misses and seconds --------------------------------------------------------------------------------------------


@given(st.lists(st.integers(0, 20), min_size=1, max_size=12).filter(any))
@settings(max_examples=examples(50))
def test_an_honest_miss_is_in_the_middle_on_average(counts: list[int]) -> None:
    values = np.array(counts)
    shares = values / values.sum()
    places = [place_among(values, miss) for miss in range(len(values))]
    mean = sum(p * share for (p, _), share in zip(places, shares, strict=True))
    assert mean == pytest.approx(0.5)
    assert places[0][1] == pytest.approx(sum(s * (p - 0.5) ** 2 for (p, _), s in zip(places, shares, strict=True)))
    assert places[0][1] <= 1 / 12 + 1e-12


def test_ties_count_half() -> None:
    assert place_among(np.array([2, 4, 2]), 1)[0] == pytest.approx(0.5)
    assert place_among(np.array([2, 4, 2]), 0)[0] == pytest.approx(0.125)


def test_seconds() -> None:
    forecast = np.linspace(19.0, 21.0, 401)
    assert timed([24.0, 24.4, 24.2], forecast).verdict == "slower"
    assert timed([15.0, 15.2, 15.4], forecast).verdict == "faster"
    assert timed([20.1] * 9, forecast).verdict == "as forecast"
    assert timed([20.9], forecast).verdict == "too few to say"
    assert timed([20.9], forecast).forecast == pytest.approx(20.0)


def test_honest_misses_of_one_day_are_hardly_ever_called_wrong() -> None:
    """Flour round, 15 misses of each of 100 days drawn at random. Each for itself the places are called wrong three
    times as often as they should be. 12 of 100 or more has a chance of 0.004 at the nominal 0.05."""
    rows = entries((15, {"result": "through", "target": "flour lid", "miss": 9, "date": START}))
    case = Case("Flour round", FLOUR, rows)
    weighed, _ = forecast(case)
    counts = miss_counts(case, weighed.sample)
    ready = plan(FLOUR)
    wrong = careless = 0
    for n, errors in enumerate(np.random.default_rng(33).standard_normal((100, 3))):
        sample = sampled(case, plan_of_day(ready, errors), 15, 5, 1, lambda more: None, first_block=n)
        came = [int(miss) for miss in sample.miss[:, 0] if miss >= 0]
        log_of = [
            entries((1, {"result": "through", "target": "flour lid", "miss": miss, "date": START}))[0] for miss in came
        ]
        this = Case("Flour round", FLOUR, log_of)
        this.numbers = case.numbers
        (found,) = misses(this, counts, weighed.daily)
        wrong += found.verdict in ("larger", "smaller")
        (alone,) = misses(this, counts, Daily(weighed.sample, 1))
        careless += alone.verdict in ("larger", "smaller")
    assert counts[0, ANY].sum() > 3000
    assert wrong < 12
    assert careless > wrong


def test_grades_by_what_the_log_would_have_shown() -> None:
    """At one half, n drives: wrong by 0.4 is found with the binomial tails at 0.9, by 0.3 at 0.8, by 0.2 at 0.7. Each
    grade is the smallest of these that is found in 0.8 of logs, and comes with so many drives."""

    def tails(n: int, share: float) -> float:
        rejected = [k for k in range(n + 1) if 2 * min(binom.cdf(k, n, 0.5), binom.sf(k - 1, n, 0.5)) < 0.05]
        return float(sum(binom.pmf(k, n, share) for k in rejected))

    for n in (4, 9, 14, 20, 30, 44, 60):
        shown = verdict_on(n // 2, alike(n, 0.5))
        wanted = next((by for by in (0.2, 0.3, 0.4) if tails(n, 0.5 + by) >= 0.8), None)
        assert shown.shows == wanted
        grade = {None: "too few to say", 0.2: "honest"}.get(wanted, "nothing against it")
        assert shown.verdict == grade
    assert {verdict_on(n // 2, alike(n, 0.5)).verdict for n in (4, 20, 60)} == {
        "too few to say", "nothing against it", "honest",
    }  # fmt: skip
