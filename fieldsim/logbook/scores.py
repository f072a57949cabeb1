"""Verdicts on how often drives got through, and scores of the forecasts.

The log is a few drives, the forecast ten thousand trials: the forecast's own uncertainty is left out of the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.logbook.answer import LEVEL, Fits, Judged, Score, Scores, Verdict
from fieldsim.logbook.days import Drives, count_chances
from fieldsim.logbook.trials import Floats, Ints
from fieldsim.stats.intervals import Share, wilson

# 'Honest' is said only where a forecast that is wrong by this much would have been found this often; 'nothing against
# it' where one that is wrong by one of the others would.
WRONG_BY = 0.2
WRONG_BY_MORE = (0.3, 0.4)
POWER = 0.8
# No farther is looked for how many drives would do, and so many steps in a row must do: power goes up and down a little
# since drives are counts.
MOST_DRIVES = 2000
MOST_STEPS = 200
STEADY = 12
# Logs drawn from the forecast to see what luck makes of scores.
DRAWN_LOGS = 2000


def two_sided(chances: Floats) -> Floats:
    """For each k twice the chance of so few or of so many, whichever is less, and at most 1.

    So each direction is said wrongly in at most half of `LEVEL`. Adding up all counts that are no likelier than k, as
    some exact tests do, would call a count in the middle a contradiction where days are either good or bad.
    """
    fewer = np.cumsum(chances)
    more = np.cumsum(chances[::-1])[::-1]
    return np.asarray(np.minimum(2 * np.minimum(fewer, more), 1.0), dtype=float)


def _found(null: Floats, others: Sequence[Floats]) -> float:
    rejected = two_sided(null) < LEVEL
    return min(float(other[rejected].sum()) for other in others)


def _steps(drives: Sequence[Drives], by: float = WRONG_BY) -> list[float]:
    """By how much a forecast may be wrong: what would be below 0 or above 1 for all runs is not asked."""
    means = np.concatenate([each.chances[np.array(each.counts) > 0].mean(axis=1) for each in drives])
    return [step for step in (-by, by) if (means + step >= 0).any() and (means + step <= 1).any()]


def power(drives: Sequence[Drives], by: float = WRONG_BY) -> float:
    """How often such drives would find that every forecast is ``by`` too high, or too low, whichever is found less
    often; 0 if no forecast can be so wrong."""
    others = [count_chances(drives, step) for step in _steps(drives, by)]
    return _found(count_chances(drives), others) if others else 0.0


def shown_by(drives: Sequence[Drives]) -> float | None:
    """How wrong a forecast must be that such drives find it with `POWER`; None if more than any that is looked at."""
    return next((by for by in (WRONG_BY, *WRONG_BY_MORE) if power(drives, by) >= POWER), None)


def drives_needed(drives: Sequence[Drives]) -> int | None:
    """From how many drives on `power` is at least `POWER`, if the same days come over and over; None if that is not
    within `MOST_DRIVES`."""
    steps = _steps(drives)
    own = [[each.count_chances(step) for step in (0.0, *steps)] for each in drives]
    found = [np.ones(1) for _ in (0.0, *steps)]
    total, since, steady = 0, None, 0
    for n in range(MOST_STEPS):
        total += sum(drives[n % len(drives)].counts)
        if total > MOST_DRIVES:
            break
        found = [np.convolve(a, b) for a, b in zip(found, own[n % len(drives)], strict=True)]
        if _found(found[0], found[1:]) < POWER:
            since, steady = None, 0
            continue
        since, steady = total if since is None else since, steady + 1
        if steady == STEADY:
            break
    return since


def expected(chances: Floats) -> tuple[int, int]:
    """The fewest and the most that get through in 19 of 20 logs: with less than 1/40 of logs on either side."""
    fewest = int(np.searchsorted(np.cumsum(chances), LEVEL / 2, side="left"))
    most = len(chances) - 1 - int(np.searchsorted(np.cumsum(chances[::-1]), LEVEL / 2, side="left"))
    return fewest, max(fewest, most)


def fitted(through: int, chances: Floats, tests: int, ends: tuple[float, float]) -> Fits:
    """So many through, against the chances (n + 1,) of each count over all robots that fit the tests."""
    return Fits(tests, *ends, *expected(chances), float(two_sided(chances)[through]))


def judged(through: int, drives: Sequence[Drives], forecast: Share, fits: Fits | None = None) -> Judged:
    """The verdict on drives of which so many got through.

    'too hopeful' or 'too gloomy' if luck would make an honest forecast look at least so wrong in less than `LEVEL` of
    logs: an exact two-sided test, binomial for drives of as many days, Poisson-binomial over runs, and a mixture of
    them over what a day may be where drives share one. Without such a contradiction 'honest', if a forecast wrong by
    `WRONG_BY` would probably have been found; 'nothing against it', if one wrong by more would (`shown_by`).

    Where it is known what the tests leave open, a contradiction must also be one over all robots that fit them, and
    towards the same side; else the verdict is on the robot as written only. So neither a robot that is as written nor
    one drawn from those that fit its tests is called 'too hopeful' or 'too gloomy' in more than `LEVEL` of logs.
    """
    n = sum(sum(each.counts) for each in drives)
    chances = count_chances(drives)
    p_value = float(two_sided(chances)[through])
    found = power(drives)
    by = shown_by(drives)
    verdict: Verdict = "too few to say" if by is None else "honest" if by == WRONG_BY else "nothing against it"
    if p_value < LEVEL:
        few = float(chances[: through + 1].sum()) < 0.5
        verdict = "too hopeful" if few else "too gloomy"
        if fits is not None and not (through < fits.fewest if few else through > fits.most):
            verdict = "too hopeful as written" if few else "too gloomy as written"
    observed = wilson(through, n)
    return Judged(
        n, through, observed, forecast, p_value, found, drives_needed(drives), verdict, *expected(chances), fits, by
    )


def spiegelhalter(shares: Floats, counts: Ints, through: NDArray[np.integer]) -> Floats | None:
    """z = sum (y - p)(1 - 2p) / sqrt(sum (1 - 2p)^2 p (1 - p)) over drives: standard normal if the forecasts are honest
    and every drive is for itself, positive if the Brier score is above what is expected. None if every p is one half:
    then the score is always the same.

    Of runs with forecasts (R,), drives (R,) and how many got through (..., R); the answer is (...).

    Source: D. J. Spiegelhalter, "Probabilistic prediction in patient management and clinical trials", Statistics in
    Medicine 5, 1986, 421-433.
    """
    slope = 1 - 2 * shares
    spread = sqrt(float((counts * slope**2 * shares * (1 - shares)).sum()))
    if spread < 1e-12:
        return None
    return np.asarray(((through - counts * shares) * slope).sum(axis=-1) / spread, dtype=float)


def _brier_good(shares: Floats) -> Floats:
    """What a drive that got through adds to the score,"""
    return (1 - shares) ** 2


def _brier_bad(shares: Floats) -> Floats:
    """and what one that did not."""
    return shares**2


def _log_good(shares: Floats) -> Floats:
    return -np.log(shares)


def _log_bad(shares: Floats) -> Floats:
    return -np.log1p(-shares)


def drawn(drives: Sequence[Drives], logs: int, rng: np.random.Generator) -> Ints:
    """(logs, R) how many get through in logs drawn from the forecast, day by day."""
    total = np.zeros((logs, len(drives[0].counts)), dtype=np.int64)
    for each in drives:
        day = rng.integers(each.chances.shape[1], size=logs)
        total += rng.binomial(each.counts, each.chances[:, day].T)
    return total


def scored(shares: Floats, through: Ints, drives: Sequence[Drives], luck: Ints | None = None) -> Scores:
    """Brier and log score of runs with these forecasts (R,) (never 0 or 1), of whose drives so many got through (R,),
    and what an honest forecast gets: the mean by its formula, the range from `DRAWN_LOGS` logs drawn with these days.
    ``luck`` (L, R), how many get through in logs drawn otherwise (by robots that fit the tests), takes their place.

    Source: G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review 78, 1950;
    I. J. Good, "Rational decisions", J. Royal Statistical Society B 14, 1952 (both from memory).
    """
    counts = np.array([each.counts for each in drives]).sum(axis=0)
    n = int(counts.sum())
    usual = counts * shares if luck is None else luck.mean(axis=0)
    if luck is None:
        luck = drawn(drives, DRAWN_LOGS, np.random.default_rng(1))

    def score(good: Callable[[Floats], Floats], bad: Callable[[Floats], Floats]) -> Score:
        def of(got: NDArray[Any]) -> Floats:
            return np.asarray((got * good(shares) + (counts - got) * bad(shares)).sum(axis=-1) / n, dtype=float)

        low, high = np.quantile(of(luck), (0.025, 0.975))
        return Score(float(of(through)), float(of(usual)), float(low), float(high))

    z = spiegelhalter(shares, counts, through)
    drawn_z = spiegelhalter(shares, counts, luck)
    p_value = None
    if z is not None and drawn_z is not None:
        # The log itself counts as one of them, so that no p-value is 0. Equal but for rounding is equal.
        p_value = float((1 + (np.abs(drawn_z) >= abs(float(z)) - 1e-9).sum()) / (1 + len(luck)))
    return Scores(score(_brier_good, _brier_bad), score(_log_good, _log_bad), None if z is None else float(z), p_value)
