"""Robots that fit the tests: what the tests and a weak prior together say of all numbers at once.

How often a run gets through hangs on how much all its errors make together. Tests tell that better than they tell the
single numbers: where they cannot say whether a straight scatters at its stop or on its way, they still say how much it
scatters. So robots are not drawn from the numbers' own intervals but from all numbers together: with probabilities in
proportion to the restricted likelihood of ``reml`` times a prior.

**The prior.** Scale errors: flat. What is no share of the way (stop offsets, left against right turns, a gyro's
scale): about nought, give or take ``USUAL``; so what tests cannot tell of them counts as not known, and not as none.
Standard deviations: which are large and which are small is about as with other robots of this kind (``TYPICAL``, give
or take a factor of e, ``APART``), but how well a robot drives on the whole is left open, a factor of e^3 either way
(``WHOLE``). So with few tests a robot that scatters twice as much in all is told as one, whatever the prior; a spread
that the tests say nothing of is taken as large as the others make likely.

**Drawn by importance.** Log standard deviations from a multivariate t distribution about the mode, its covariance
that of the sharpest fit, once drawn anew about what was found; even points (scrambled Sobol), so that the answer moves
little with any number. Biases given those are normal. Source of the weights: J. Geweke, "Bayesian inference in
econometric models using Monte Carlo integration", Econometrica 57, 1989, 1317-1339 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import gammaincinv, ndtri

from fieldsim.calibration.assembled import daily
from fieldsim.calibration.observed import BIASES, Observed
from fieldsim.model import LIKELY
from fieldsim.stats.even import even_points

Floats = NDArray[np.float64]

# Standard deviations of small robots with two driven wheels, in the files' units. Common practice, no source.
TYPICAL = {
    "day.distance": 0.002, "day.veer": 0.2, "day.turn": 0.005,
    "straight.stop": 1.0, "straight.distance": 1.5, "straight.veer": 0.5, "turn.stop": 0.7, "turn.slip": 0.7,
    "gyro.drift": 1.0, "gyro.scale": 0.003, "gyro.hold": 0.3, "tape": 0.7,
}  # fmt: skip
APART = 1.0
WHOLE = 3.0
# Of what is the same every time beside the scale errors: mm, degrees, and shares (of the sides half their difference).
# From memory of the trade, no source.
USUAL = {"stop": 2.0, "turn_stop": 1.0, "sides": 0.01, "gyro_scale": 0.007, "backlash": 2.0, "kick": 1.0}

# Points of a round of drawing, a power of two; degrees of freedom of what they are drawn from.
POINTS = 2**12
FREEDOM = 6.0
# It is drawn anew until the weights tell as much as so many robots of equal weight, at most so often.
ENOUGH = 500.0
ROUNDS = 6


@dataclass(frozen=True, eq=False)
class _Kind:
    """Tests that are alike, m readings each."""

    x: Floats
    """(m, p)"""
    reading: Floats
    """(m, m)"""
    parts: Floats
    """(K, m, m) covariances of each source at a standard deviation of 1."""
    sums: Floats
    """(days, m) of the readings."""
    squares: Floats
    """(m, m) sum of y y'."""


def prior_of(columns: Sequence[int]) -> Floats:
    """(p, p) precision of the biases before any test; nought where the prior is flat."""
    made = np.zeros((len(columns),) * 2)
    names = [BIASES[k] for k in columns]
    for place, name in enumerate(names):
        if name in USUAL:
            made[place, place] = 1 / USUAL[name] ** 2
    if {"turn_left", "turn_right"} <= set(names):
        half = np.array([0.5 * (name == "turn_left") - 0.5 * (name == "turn_right") for name in names])
        made += np.outer(half, half) / USUAL["sides"] ** 2
    return made


def _kind(test: Observed) -> bytes:
    names = sorted(test.parts)
    slopes = b"".join(test.parts[name].tobytes() for name in names)
    return repr((names, test.words)).encode() + test.bias.tobytes() + test.reading.tobytes() + slopes


class Likelihood:
    """-2 times the restricted log-likelihood of many sets of standard deviations at once.

    Tests that are alike (same slopes, same steps of the tape) are counted together by day, so a set costs some small
    matrices for each kind of test and each day, however many tests there are.
    """

    def __init__(self, tests: Sequence[Observed], names: Sequence[str], columns: Sequence[int]) -> None:
        """``names`` of the sources, such as 'turn.stop' or 'day.veer'; ``columns`` of ``BIASES`` that are told."""
        self.names, self.columns = tuple(names), tuple(columns)
        # The day's sources, and which biases each of them moves.
        self.days = [place for place, name in enumerate(self.names) if name.startswith("day.")]
        moved = [BIASES.index(self.names[place].removeprefix("day.")) for place in self.days]
        self.moves = np.array([[daily(k) == each for k in columns] for each in moved], dtype=float)
        self.prior = prior_of(columns)
        dated = bool(self.days)
        # One without a date is alone with its day.
        days = [(test.date or n) if dated else 0 for n, test in enumerate(tests)]
        row = {day: i for i, day in enumerate(dict.fromkeys(days))}
        kinds: dict[bytes, list[tuple[int, Observed]]] = {}
        for day, test in zip(days, tests, strict=True):
            kinds.setdefault(_kind(test), []).append((row[day], test))
        self.counts = np.zeros((len(row), len(kinds)))
        self.kinds: list[_Kind] = []
        for column, members in enumerate(kinds.values()):
            first = members[0][1]
            size = len(first.y)
            sums = np.zeros((len(row), size))
            for day, test in members:
                self.counts[day, column] += 1
                sums[day] += test.y
            none = np.zeros((size, 1))
            parts = np.array([part @ part.T for part in (first.parts.get(name, none) for name in names)])
            y = np.array([test.y for _, test in members])
            self.kinds.append(
                _Kind(
                    first.bias[:, list(columns)], np.diag(first.reading), parts.reshape(-1, size, size), sums, y.T @ y
                )
            )

    def __call__(self, sds: Floats) -> tuple[Floats, Floats, Floats]:
        """``sds`` (S, K): the values (S,), and of the biases the estimates (S, p) and their covariances (S, p, p)."""
        s, p = len(sds), len(self.columns)
        variances = sds * sds
        value = np.zeros(s)
        information = np.zeros((s, len(self.counts), p, p))
        score = np.zeros((s, len(self.counts), p))
        for kind, count in zip(self.kinds, self.counts.T, strict=True):
            v = kind.reading + np.tensordot(variances, kind.parts, axes=1)
            inverse = np.linalg.inv(v)
            value += count.sum() * np.linalg.slogdet(v)[1] + (inverse * kind.squares).sum(axis=(1, 2))
            half = kind.x.T @ inverse
            information += count[:, None, None] * (half @ kind.x)[:, None]
            score += np.einsum("spb,db->sdp", half, kind.sums)
        if self.days:
            # The day's errors, normal with these covariances of the biases, are integrated out.
            day = np.einsum("sk,kp,kq->spq", variances[:, self.days], self.moves, self.moves)
            mixed = np.eye(p) + information @ day[:, None]
            value += np.linalg.slogdet(mixed)[1].sum(axis=1)
            solved = np.linalg.solve(mixed, np.concatenate([information, score[..., None]], axis=-1))
            value -= np.einsum("sdp,spq,sdq->s", score, day, solved[..., -1])
            information, score = solved[..., :-1], solved[..., -1]
        whole, h = information.sum(axis=1) + self.prior, score.sum(axis=1)
        covariance = np.linalg.inv(whole)
        b = np.einsum("spq,sq->sp", covariance, h)
        value += np.linalg.slogdet(whole)[1] - (b * h).sum(axis=1)
        return value, b, covariance


@dataclass(frozen=True, eq=False)
class Posterior:
    """Robots that fit the tests, with their weights."""

    names: tuple[str, ...]
    """(d,) biases and sources."""
    values: Floats
    """(n, d) in the files' units."""
    weights: Floats
    """(n,), 1 in all."""

    @property
    def effective(self) -> float:
        """How many robots of equal weight tell as much."""
        return float(1 / (self.weights**2).sum())


def precision(names: Sequence[str]) -> Floats:
    """(K, K) of the prior of the log standard deviations."""
    k = len(names)
    return np.asarray(np.linalg.inv(APART**2 * np.eye(k) + WHOLE**2 * np.ones((k, k))))


def posterior(likelihood: Likelihood, start: Floats, rounding: Floats | None = None, seed: int = 1) -> Posterior:
    """Robots that fit. ``start`` (K,) standard deviations to look for the mode from; ``rounding`` (p, p) covariance
    that reading to whole steps adds to the biases' (see ``stats.rounding``)."""
    names = likelihood.names
    p, k = len(likelihood.columns), len(names)
    middle = np.log([TYPICAL[name] for name in names])
    prior = precision(names)

    def energy(u: Floats) -> tuple[Floats, Floats, Floats]:
        value, b, covariance = likelihood(np.exp(u))
        off = u - middle
        return (value + np.einsum("si,ij,sj->s", off, prior, off)) / 2, b, covariance

    step = 1e-3
    steps = step * np.eye(k)

    def downhill(u: Floats) -> tuple[float, Floats]:
        at = energy(np.concatenate([u[None], u + steps, u - steps]))[0]
        return float(at[0]), (at[1 : k + 1] - at[k + 1 :]) / (2 * step)

    begin = np.maximum(np.log(np.maximum(start, 1e-12)), middle - 2.0)
    found = minimize(downhill, begin, jac=True, method="L-BFGS-B", bounds=[(m - 12.0, m + 8.0) for m in middle])
    mode = np.asarray(found.x)
    wide = 0.05
    ways = wide * np.eye(k)
    pairs = np.array([mode + a + b for a in (*ways, *-ways) for b in (*ways, *-ways)])
    at = energy(pairs)[0].reshape(2, k, 2, k)
    bent = (at[0, :, 0] - at[0, :, 1] - at[1, :, 0] + at[1, :, 1]) / (4 * wide**2)
    size, axes = np.linalg.eigh((bent + bent.T) / 2)
    centre = mode
    covariance = (axes / np.maximum(size, 0.1)) @ axes.T
    best: tuple[float, Floats, Floats, Floats, Floats, Floats] | None = None
    for turn in range(ROUNDS):
        even = np.clip(even_points(POINTS, k + 1 + p, np.random.default_rng([seed, turn])), 1e-9, 1 - 1e-9)
        root = np.linalg.cholesky(covariance)
        z = ndtri(even[:, :k])
        # The quantile of chi squared: twice that of the gamma distribution of half its degrees of freedom.
        shrink = np.sqrt(FREEDOM / (2 * gammaincinv(FREEDOM / 2, even[:, k])))[:, None]
        u = centre + (z * shrink) @ root.T
        e, b, spread = energy(u)
        # Of the t distribution that u was drawn from, less a constant.
        log_weight = -e + (FREEDOM + k) / 2 * np.log1p((z * z * shrink**2).sum(axis=1) / FREEDOM)
        weights = _weights(log_weight)
        effective = float(1 / (weights**2).sum())
        if best is None or effective > best[0]:
            best = effective, weights, u, b, spread, ndtri(even[:, k + 1 :])
        if turn and effective >= ENOUGH:
            break
        # Where few points carry all the weight it is shared out more evenly, until they can tell a covariance.
        even_out = 1.0
        while (weights**2).sum() * 20 * k > 1 and even_out > 0.05:
            even_out *= 0.8
            weights = _weights(even_out * log_weight)
        centre = weights @ u
        off = u - centre
        covariance = (weights[:, None] * off).T @ off * 1.1 + 1e-4 * np.eye(k)
    assert best is not None
    _, weights, u, b, spread, z = best
    if rounding is not None:
        spread = spread + rounding
    biases = b + np.einsum("spq,sq->sp", np.linalg.cholesky(spread), z)
    told = tuple(f"bias.{BIASES[c]}" for c in likelihood.columns)
    return Posterior((*told, *names), np.concatenate([biases, np.exp(u)], axis=1), weights)


def summary(found: Posterior, names: Sequence[str]) -> tuple[Floats, Floats]:
    """Of these numbers: (d, 5) what the shares ``LIKELY`` of the robots lie below, and (d, d) the correlations of their
    normal scores."""
    if not names:
        return np.zeros((0, len(LIKELY))), np.zeros((0, 0))
    columns = found.values[:, [found.names.index(name) for name in names]].T
    ends, scores = [], []
    for column in columns:
        order = np.argsort(column)
        below = np.cumsum(found.weights[order]) - found.weights[order] / 2
        ends.append(np.interp(LIKELY, below, column[order]))
        score = np.empty(len(column))
        score[order] = ndtri(np.clip(below, 1e-9, 1 - 1e-9))
        scores.append(score)
    z = np.array(scores)
    z = z - (z @ found.weights)[:, None]
    covariance = (z * found.weights) @ z.T
    size = np.sqrt(np.diag(covariance))
    return np.array(ends), np.asarray(covariance / np.outer(size, size))


def _weights(logarithms: Floats) -> Floats:
    made = np.exp(logarithms - logarithms.max())
    return np.asarray(made / made.sum())
