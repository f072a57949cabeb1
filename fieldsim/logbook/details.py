"""Where drives went wrong, how far they missed and how long they took, against the forecast's trials."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import ceil, sqrt

import numpy as np

from fieldsim.logbook.answer import LEVEL, MissLog, MissVerdict, TimeLog, TimeVerdict, WentWrong
from fieldsim.logbook.days import Daily, day_chances
from fieldsim.logbook.robots import Fitting, mixed_counts, shares_a_day
from fieldsim.logbook.scores import POWER, WRONG_BY
from fieldsim.logbook.trials import ANY, THROUGH, Case, Floats, Ints, Outcome, Sample
from fieldsim.stats import normal
from fieldsim.stats.intervals import wilson

# Seconds are judged by how far the mean is off, since a stopwatch tells little else: nearer than this share is as
# forecast. ``HAND`` is how exactly a hand starts and stops it, seconds: common practice, no source.
NEAR_TIME = 0.05
HAND = 0.3


def tail(chances: Floats, counted: int) -> float:
    """How often so many or more come about; ``chances`` are those of each count."""
    return min(1.0, float(chances[counted:].sum()))


def outcome_chances(case: Case, sample: Sample, daily: Daily, fits: Fitting | None, outcome: int) -> Floats:
    """(K, D) chances that a drive ends so: by robots that fit the tests, if any are known, and by days."""
    share, trials = float((sample.outcome == outcome).mean()), len(sample)
    if fits is not None:
        return fits.chances(outcome, share, trials, shares_a_day(case, [case]))
    mine = (daily.sample.outcome == outcome).reshape(daily.days, daily.each).sum(axis=1)
    return day_chances(share, trials, mine, daily.each)[None, :]


def went_wrong(case: Case, sample: Sample, daily: Daily, fits: Fitting | None = None) -> tuple[WentWrong, ...]:
    """Every way to fail that came up in drives or trials, most counted first."""

    def surprise(outcome: int, count: int) -> float:
        # So many as none, or more, always come about.
        if not count:
            return 1.0
        return tail(mixed_counts([case], [outcome_chances(case, sample, daily, fits, outcome)]), count)

    counted = Counter(outcome for outcome in case.outcomes if outcome != THROUGH)
    trials = np.bincount(sample.outcome, minlength=len(case.numbers))
    rows = [
        WentWrong(
            outcome.result, outcome.where, counted[outcome], wilson(int(trials[number]), len(sample)),
            surprise(number, counted[outcome]),
        )
        for outcome, number in case.numbers.items()
        if outcome != THROUGH and (trials[number] or counted[outcome])
    ]  # fmt: skip
    rows += [WentWrong(each.result, "", count, None, None) for each, count in counted.items() if not each.where]
    return tuple(
        sorted(rows, key=lambda r: (-r.counted, -(r.forecast.share if r.forecast else 0.0), r.result, r.where))
    )


def place_among(counts: Ints, miss: int) -> tuple[float, float]:
    """The place of a measured miss among simulated ones (counts by whole mm), 0 to 1, and that place's variance if the
    forecast is honest. A tie counts half below and half above, so the mean of an honest place is exactly one half."""
    shares = counts / counts.sum()
    middle = np.cumsum(shares) - shares / 2
    return float(middle[miss]), float((shares * (middle - 0.5) ** 2).sum())


def _between_days(target: int, counts: Ints, daily: Daily) -> float:
    """Variance between days of the mean place of a target's misses, less what is chance of the few trials of each."""
    shares = counts / counts.sum()
    middle = np.cumsum(shares) - shares / 2
    means, chance = [], []
    for day in range(daily.days):
        miss = daily.sample.miss[day * daily.each : (day + 1) * daily.each, target]
        places = middle[miss[miss >= 0]]
        if len(places) > 1:
            means.append(float(places.mean()))
            chance.append(float(places.var(ddof=1)) / len(places))
    return max(0.0, float(np.var(means)) - float(np.mean(chance))) if len(means) > 1 else 0.0


def _between_robots(target: int, counts: Ints, fits: Fitting) -> tuple[float, float]:
    """Mean over robots that fit the tests of the mean place of a target's misses, and its variance between them, less
    what is chance of the trials of each."""
    shares = counts / counts.sum()
    middle = np.cumsum(shares) - shares / 2
    means, chance = [], []
    for miss in fits.miss[:, :, target]:
        places = middle[miss[miss >= 0]]
        if len(places) > 1:
            means.append(float(places.mean()))
            chance.append(float(places.var(ddof=1)) / len(places))
    if len(means) < 2:
        return 0.5, 0.0
    return float(np.mean(means)), max(0.0, float(np.var(means)) - float(np.mean(chance)))


def misses(case: Case, counts: Ints, daily: Daily, fits: Fitting | None = None) -> Iterator[MissLog]:
    """What the measured misses say, by target; ``counts`` are those of `miss_counts`. Misses of one day go together:
    their mean place differs from one half more than that of so many days would. Where it is known what the tests leave
    open, misses must be odd for the robots that fit them as well, and towards the same side."""
    for t, target in enumerate(case.targets):
        mine = [(number, miss) for number, at, miss in case.measured() if at == t]
        if not mine or not counts[t, ANY].any():
            continue
        # Who measures only what went wrong would seem to miss by more than forecast: then like goes with like.
        with_it = {number for number, _ in mine}
        came = {
            number for number, outcome in enumerate(case.outcomes) if outcome in (THROUGH, Outcome("missed", target))
        }
        by_ending = not came <= with_it
        places = []
        for number, miss in mine:
            state = case.state(case.outcomes[number], t) if by_ending else ANY
            if not counts[t, state].any():
                state = ANY
            places.append(place_among(counts[t, state], miss))
        place = float(np.mean([p for p, _ in places]))
        own = sum(v for _, v in places)
        alike = Counter(case.days[number] for number, _ in mine).values()
        between = _between_days(t, counts[t, ANY], daily)
        variance = own + between * sum(k * (k - 1) for k in alike)
        # Normal: the mean of a few uniform numbers nearly is, and with one or two of them this is the careful side.
        z = (place - 0.5) * len(mine) / sqrt(variance) if variance > 0 else 0.0
        p_value = normal.beyond(z)
        # With as many of a day as up to now the variance of the mean falls as one over their number.
        one = variance / len(mine)
        needed = max(1, ceil(((normal.quantile(1 - LEVEL / 2) + normal.quantile(POWER)) / WRONG_BY) ** 2 * one))
        verdict: MissVerdict = "as forecast" if len(mine) >= needed and variance > 0 else "too few to say"
        if p_value < LEVEL:
            verdict = "larger" if place > 0.5 else "smaller"
        p_fits = None
        if fits is not None:
            centre, apart = _between_robots(t, counts[t, ANY], fits)
            wide = variance / len(mine) ** 2 + apart
            p_fits = normal.beyond((place - centre) / sqrt(wide)) if wide > 0 else 1.0
            if verdict == "larger" and (p_fits >= LEVEL or place < centre):
                verdict = "larger as written"
            elif verdict == "smaller" and (p_fits >= LEVEL or place > centre):
                verdict = "smaller as written"
        running = np.cumsum(counts[t, ANY]) / counts[t, ANY].sum()
        yield MissLog(
            target=target,
            measured=len(mine),
            median=float(np.median([case.entries[number].miss or 0.0 for number, _ in mine])),
            forecast_median=float(np.searchsorted(running, 0.5)),
            forecast_p95=float(np.searchsorted(running, 0.95)),
            place=place,
            p_value=p_value,
            needed=needed,
            by_ending=by_ending,
            verdict=verdict,
            p_fits=p_fits,
        )


def timed(measured: Sequence[float], forecast: Floats) -> TimeLog:
    """Seconds against seconds. The mean is judged, as it is off by less or by more than `NEAR_TIME` for sure or not
    (95 %, normal, with the larger of the two spreads and what a hand adds)."""
    values = np.array(measured)
    mean, wanted = float(values.mean()), float(forecast.mean())
    spread = sqrt(float(forecast.var()) + HAND**2)
    if len(values) > 1:
        spread = max(spread, float(values.std(ddof=1)))
    half = normal.quantile(1 - LEVEL / 2) * spread / sqrt(len(values))
    low, high = mean - wanted - half, mean - wanted + half
    near = NEAR_TIME * wanted
    verdict: TimeVerdict = "too few to say"
    if low > near or high < -near:
        verdict = "slower" if low > near else "faster"
    elif -near <= low and high <= near:
        verdict = "as forecast"
    ends = np.quantile(forecast, (0.025, 0.975))
    return TimeLog(
        len(values), mean, float(values.min()), float(values.max()), wanted, float(ends[0]), float(ends[1]), low, high,
        verdict,
    )  # fmt: skip
