"""Linear models with several sources of scatter, by restricted maximum likelihood (REML).

    y = X b + sum over sources k of sd_k times something with covariance C_k + what is known of reading errors

The standard deviations are estimated by restricted maximum likelihood, which counts what is spent on b, and b by
generalised least squares. Source: H. D. Patterson and R. Thompson, "Recovery of inter-block information when block
sizes are unequal", Biometrika 58, 1971, 545-554; slopes and information: S. R. Searle, G. Casella and C. E. McCulloch,
Variance Components, Wiley, 1992, sec. 6.6 (both from memory). With P = V^-1 - V^-1 X (X'V^-1 X)^-1 X'V^-1:

    d(-2 l)/d(sd_k) = 2 sd_k (tr(P C_k) - y'P C_k P y)        expected information of sd_k^2, sd_l^2: tr(P C_k P C_l)/2

Pure: arrays in, numbers out.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgError
from scipy.linalg.lapack import dpotrf, dpotri
from scipy.optimize import brentq, minimize
from scipy.special import chdtr, chdtri

FloatArray = NDArray[np.float64]

# How exactly the ends of an interval are found, as a share of the source's first guess and of the end itself.
END = 3e-3
# Information of a variance that is none, as a share of one over the variance.
NOTHING = 1e-6


class Reml:
    """``y`` (n,), ``x`` (n, p), ``reading`` (n,) variances that are known, ``covariances`` (n, n) for a standard
    deviation of 1 of each source, by name. The columns of x must be independent."""

    def __init__(
        self, y: FloatArray, x: FloatArray, reading: FloatArray, covariances: Mapping[str, FloatArray]
    ) -> None:
        self.y = y
        self.x = x
        self.reading = reading
        self.names = tuple(covariances)
        self.covariances = np.array([covariances[name] for name in self.names]).reshape(-1, len(y), len(y))
        self._upper = np.triu_indices(len(y), 1)
        self._rows = self.covariances.reshape(len(self.names), -1)
        self.scales = [self._scale(covariance) for covariance in self.covariances]

    def _scale(self, covariance: FloatArray) -> float:
        """The standard deviation at which one source alone would make the whole scatter: a first guess of its size."""
        diagonal = np.diag(covariance)
        touched = diagonal > 0
        b, *_ = np.linalg.lstsq(self.x, self.y, rcond=None)
        rest = self.y - self.x @ b
        return float(sqrt(max((rest[touched] ** 2).mean(), self.reading.min()) / diagonal[touched].mean()))

    def covariance(self, sds: FloatArray) -> FloatArray:
        """(n, n) of all observations."""
        made: FloatArray = ((sds * sds) @ self._rows).reshape(len(self.y), len(self.y))
        made.ravel()[:: len(self.y) + 1] += self.reading
        return made

    def solve(self, sds: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """-2 times the restricted log-likelihood (less a constant), the estimates of b and their covariance."""
        solved = self._solved(sds)
        if solved is None:
            return inf, np.zeros(self.x.shape[1]), np.zeros((self.x.shape[1],) * 2)
        return solved[:3]

    def _solved(self, sds: FloatArray) -> tuple[float, FloatArray, FloatArray, FloatArray] | None:
        """What ``solve`` tells, and P of the same one factorisation; None where there is none. Straight to LAPACK: this
        is done thousands of times for one sheet of tests, and for so few readings the way there takes longest."""
        factor, failed = dpotrf(self.covariance(sds), lower=1)
        if failed:
            return None
        inverse, _ = dpotri(factor, lower=1)
        # Of LAPACK's answer only the lower triangle counts.
        inverse[self._upper] = inverse.T[self._upper]
        vx = inverse @ self.x
        information = self.x.T @ vx
        spread = np.asarray(np.linalg.inv(information), dtype=np.float64)
        b = spread @ (vx.T @ self.y)
        rest = self.y - self.x @ b
        deviance = 2 * np.log(np.diag(factor)).sum() + np.linalg.slogdet(information)[1]
        return float(deviance + rest @ inverse @ rest), b, spread, inverse - vx @ spread @ vx.T

    def _p(self, sds: FloatArray) -> FloatArray:
        solved = self._solved(sds)
        if solved is None:
            raise LinAlgError("these standard deviations leave observations without any scatter")
        return solved[3]

    def slope(self, sds: FloatArray) -> tuple[float, FloatArray]:
        """``solve``'s first value and its slope with the standard deviations."""
        solved = self._solved(sds)
        if solved is None:
            return 1e12, np.zeros(len(sds))
        value, _, _, p = solved
        py = p @ self.y
        slopes: FloatArray = 2 * sds * (self._rows @ p.ravel() - self.covariances @ py @ py)
        return value, slopes

    def information(self, sds: FloatArray) -> FloatArray:
        """(k, k) expected information of the variances (not the standard deviations) of the sources."""
        p = self._p(sds)
        # With P = R R' it is made of the products of R'C_k R, so that no rounding makes it less than nought.
        values, vectors = np.linalg.eigh(p)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        seen = (root.T @ self.covariances @ root).reshape(len(self.names), -1)
        made: FloatArray = seen @ seen.T / 2
        return made

    def fitted(
        self, fixed: Mapping[int, float] | None = None, start: FloatArray | None = None
    ) -> tuple[FloatArray, float]:
        """The standard deviations of the largest restricted likelihood, some of them fixed, and -2 times it."""
        fixed = fixed or {}
        free = [k for k in range(len(self.names)) if k not in fixed]
        scale = np.array([self.scales[k] for k in free])
        base = np.zeros(len(self.names))
        for k, value in fixed.items():
            base[k] = value
        if not free:
            return base, self.solve(base)[0]

        def full(u: FloatArray) -> FloatArray:
            sds = base.copy()
            sds[free] = u * scale
            return sds

        def deviance(u: FloatArray) -> tuple[float, FloatArray]:
            value, slopes = self.slope(full(u))
            return value, slopes[free] * scale

        starts = [np.full(len(free), 0.6 / sqrt(len(free))), np.full(len(free), 0.1)]
        if start is not None:
            # From where the slope of a standard deviation is not nought by itself.
            starts = [np.maximum(start[free] / scale, 0.02)]
        best, least = base, inf
        for u in starts:
            found = minimize(deviance, u, jac=True, method="L-BFGS-B", bounds=[(0.0, None)] * len(free))
            if found.fun < least:
                best, least = full(np.asarray(found.x)), float(found.fun)
        return best, least

    def profile(self, sds: FloatArray, least: float, k: int, confidence: float) -> tuple[float, float]:
        """Between which values of one standard deviation the profile of -2 times the restricted likelihood stays
        within ``chi2`` of its least; inf where there is no upper end. The upper end lies farther out where few readings
        tell of it: see ``too_large``."""
        limit = float(chdtri(1, 1 - confidence))

        def over(value: float) -> float:
            return self.fitted({k: value}, sds)[1] - least - limit

        best = float(sds[k])
        scale = self.scales[k]
        low = 0.0
        if over(0.0) > 0:
            low = float(brentq(over, 0.0, best, xtol=END * scale, rtol=END))
        high = max(best, 0.1 * scale)
        for _ in range(40):
            high *= 1.5
            if over(high) > 0:
                break
        else:
            return low, inf
        end = float(brentq(over, max(best, 1e-9), high, xtol=END * scale, rtol=END))
        if best <= 1e-3 * scale:
            # Nothing is seen of it: what the likelihood still allows is held more often than that already.
            return low, end
        tail = (1 - confidence) / 2

        def allowed(value: float) -> float:
            return self.too_large(self.fitted({k: value}, sds)[0], k) - tail

        if allowed(end) <= 0:
            return low, end
        high = end
        for _ in range(20):
            high *= 1.5
            if allowed(high) <= 0:
                return low, float(brentq(allowed, high / 1.5, high, xtol=END * scale, rtol=END))
        return low, inf

    def too_large(self, sds: FloatArray, k: int) -> float:
        """How likely luck makes what is seen of one source so small, if its standard deviation were ``sds[k]`` (the
        others the best for that): one-sided p-value.

        Of the quadratic form y'P C_k P y, which is what is seen of it, scaled to a chi-square with the same mean
        tr(P C_k) and variance 2 tr(P C_k P C_k) (Satterthwaite). Of one source alone that is the exact interval
        (n - 1) s^2/chi^2, where the profile's upper end is too low: of 5 readings 2.1 s and not 2.9 s.
        """
        p = self._p(sds)
        py = p @ self.y
        pc = p @ self.covariances[k]
        mean, half = float(np.trace(pc)), float(np.einsum("ij,ji->", pc, pc))
        if mean <= 0 or half <= 0:
            return 1.0
        freedom = mean**2 / half
        return float(chdtr(freedom, freedom * float(py @ self.covariances[k] @ py) / mean))

    def weights(self, sds: FloatArray, place: int) -> FloatArray:
        """(n,) what each observation counts in the estimate of one of b."""
        _, _, spread = self.solve(sds)
        return np.asarray(np.linalg.solve(self.covariance(sds), self.x @ spread[:, place]), dtype=np.float64)

    def freedom(self, sds: FloatArray, place: int) -> float:
        """Satterthwaite's degrees of freedom of one of b: 2 v^2 over the variance of the estimate of v, its variance.

        That by the expected information and the slopes dv/d(sd_k^2) = (c'C_k c), c the ``weights``; sources that look
        the same count once (pseudo-inverse). Sources estimated at nought count like the others: that nothing was seen
        of them in few observations does not make many of those few. 0 if nothing tells of any scatter.

        Source: F. E. Satterthwaite, "An approximate distribution of estimates of variance components", Biometrics
        Bulletin 2, 1946, 110-114 (from memory).
        """
        if not self.names:
            return 0.0
        c = self.weights(sds, place)
        slope = np.einsum("i,kij,j->k", c, self.covariances, c)
        information = self.information(sds)
        size = np.sqrt(np.maximum(np.diag(information), 0.0))
        told = size > NOTHING / np.maximum(sds, self.scales) ** 2
        # As many numbers as readings leave nothing over to see a scatter by.
        if not told.any():
            return 0.0
        size, slope = size[told], slope[told]
        inverse = np.linalg.pinv(information[np.ix_(told, told)] / np.outer(size, size), rcond=1e-6, hermitian=True)
        variance = float((slope / size) @ inverse @ (slope / size))
        if variance <= 0:
            return 1e6
        own = float(c @ self.covariance(sds) @ c)
        return float(max(1.0, 2 * own**2 / variance))
