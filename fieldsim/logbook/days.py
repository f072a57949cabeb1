"""Drives of one day share that day's errors: how often a run gets through on one day and on another.

A forecast of 800 in 1000 may be 900 on a good day and 600 on a bad one. Then ten drives of one day differ from the
forecast far more easily than ten drives of ten days do. So the days are simulated, and counts are held against them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fieldsim.logbook.trials import Case, Day, Floats, Ints, Sample, Tell, sampled
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.plan import Plan
from fieldsim.stats import binomial, normal
from fieldsim.stats.even import even_points

# So many days are simulated, all equally likely, and of each a part of the trials.
DAYS = 64
LEAST_A_DAY, MOST_A_DAY = 50, 500


def day_errors() -> Floats:
    """(DAYS, 3) standard normal numbers of distance, veer and turn, spread evenly over what days may bring: Sobol's
    points, moved to the middle of their cells, with a standard deviation of exactly one.

    Source: I. M. Sobol', "On the distribution of points in a cube and the approximate evaluation of integrals", 1967.
    """
    points = normal.quantiles(even_points(DAYS, 3) + 0.5 / DAYS)
    return np.asarray(points / points.std(axis=0), dtype=float)


def plan_of_day(ready: Plan, errors: Floats) -> Plan:
    """The plan on a day whose errors (3,), in standard deviations, are known: they add to the robot's bias."""
    wheels = ready.course.wheels
    known = wheels._replace(bias=wheels.bias + wheels.day * errors, day=np.zeros(3))
    return replace(ready, course=ready.course._replace(wheels=known))


@dataclass(frozen=True, eq=False)
class Daily:
    """Trials of one run day by day: those of day d are ``d * each`` and on. A single day if days do not differ or every
    drive has its own."""

    sample: Sample
    days: int

    @property
    def each(self) -> int:
        return len(self.sample) // self.days


def differ(case: Case, ready: Plan, cases: Sequence[Case]) -> bool:
    """Whether it matters that drives are of one day: the robot differs from day to day, and one of the case's days has
    other drives of the robot, in this run or in another of ``cases``."""
    often = Counter(day for each in cases for day in each.days)
    return bool(ready.course.wheels.day.any()) and any(often[day] > 1 for day in case.days)


def trials_a_day(trials: int) -> int:
    return min(max(trials // DAYS, LEAST_A_DAY), MOST_A_DAY)


def daily(case: Case, ready: Plan, trials: int, seed: int, tell: Tell) -> Daily:
    """``trials_a_day`` trials of each simulated day."""
    each = trials_a_day(trials)
    # Draws that no trial of the forecast has had.
    fresh = -(-trials // BLOCK)
    found = [
        sampled(case, plan_of_day(ready, errors), each, seed, 1, tell, first_block=fresh + day)
        for day, errors in enumerate(day_errors())
    ]
    joined = Sample(
        np.concatenate([sample.outcome for sample in found]),
        np.concatenate([sample.miss for sample in found]),
        np.concatenate([sample.seconds for sample in found]),
    )
    return Daily(joined, DAYS)


def clipped(share: float, trials: int) -> float:
    """A forecast from so many trials, (k + 1/2)/(n + 1): never quite 0 or 1, which no number of trials can prove.

    Source: the mean of the posterior with Jeffreys' prior for a share, Beta(1/2, 1/2).
    """
    return (share * trials + 0.5) / (trials + 1)


def day_chances(share: float, trials: int, through: Ints, each: int) -> Floats:
    """(D,) the chance to get through on each day, from the forecast's share of ``trials`` and from how many of ``each``
    trials got through on each day (D,).

    The days are moved so that their mean is the forecast, and drawn in so that their spread is that of the days alone,
    without the chance of the few trials of each: by the square root of (variance - noise) / variance.
    """
    least, most = clipped(0.0, trials), clipped(1.0, trials)
    found = through / each
    variance = float(found.var())
    noise = float((found * (1 - found)).mean()) / (each - 1) if each > 1 else variance
    keep = np.sqrt(max(0.0, 1 - noise / variance)) if variance > 0 and len(found) > 1 else 0.0
    return np.asarray(np.clip(clipped(share, trials) + keep * (found - found.mean()), least, most), dtype=float)


@dataclass(frozen=True, eq=False)
class Drives:
    """Drives of R runs that share one day's errors."""

    counts: tuple[int, ...]
    """(R,)"""
    chances: Floats
    """(R, D) to get through, on each of D equally likely days."""

    def count_chances(self, shift: float = 0.0) -> Floats:
        """P(k of n get through), k = 0..n, if every chance were larger by ``shift`` (at least 0, at most 1)."""
        ways = np.ones((self.chances.shape[1], 1))
        for count, chances in zip(self.counts, np.clip(self.chances + shift, 0.0, 1.0), strict=True):
            if count:
                more = binomial.chances(count, chances)
                ways = np.array([np.convolve(a, b) for a, b in zip(ways, more, strict=True)])
        return np.asarray(ways.mean(axis=0), dtype=float)


def count_chances(drives: Sequence[Drives], shift: float = 0.0) -> Floats:
    """P(k of n get through), k = 0..n, over several days, which are independent."""
    found = np.ones(1)
    for each in drives:
        found = np.convolve(found, each.count_chances(shift))
    return found


def days_of(cases: Sequence[Case], chances: Sequence[Floats]) -> list[Drives]:
    """The drives of these runs day by day; ``chances`` are those of each run, (D,) or (1,)."""
    together = np.array(np.broadcast_arrays(*chances)) if len(cases) > 1 else np.array(chances)
    counts = [Counter(case.days) for case in cases]
    keys: Mapping[Day, None] = dict.fromkeys(day for case in cases for day in case.days)
    return [Drives(tuple(count[key] for count in counts), together) for key in keys]
