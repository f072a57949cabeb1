"""All tests of a sheet as one linear model, and how the errors of its estimates go together."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.calibration.observed import BIASES, DAILY, SOURCES, Observed
from fieldsim.stats.reml import Reml
from fieldsim.stats.rounding import correlation

FloatArray = NDArray[np.float64]

# What is kept of the biases only where tests tell it from nought, and the columns it stands for. Left and right turns
# apart take the place of ``turn``.
EXTRAS = {
    "stop": ("stop",), "turn_stop": ("turn_stop",), "sides": ("turn_left", "turn_right"), "gyro_scale": ("gyro_scale",),
    "backlash": ("backlash",), "kick": ("kick",),
}  # fmt: skip


def columns_of(extras: Container[str]) -> tuple[int, ...]:
    """Places in ``BIASES`` of the biases that are estimated with these of ``EXTRAS``."""
    names = ["distance", "veer", *(() if "sides" in extras else ("turn",))]
    names += [name for extra, more in EXTRAS.items() if extra in extras for name in more]
    return tuple(BIASES.index(name) for name in names)


@dataclass(frozen=True, eq=False)
class Assembled:
    """All tests together."""

    tests: tuple[Observed, ...]
    reml: Reml
    columns: tuple[int, ...]
    """Which of ``BIASES`` the columns of ``reml.x`` are; one that nothing can be learned of is left out, and of some
    that the tests cannot tell apart at all one."""
    mixed: tuple[int, ...]
    """Those that the tests cannot tell apart at all: the column that stands for them is none of them."""
    dates: int
    extras: tuple[str, ...] = ()
    """Which of ``EXTRAS`` are estimated."""

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that is estimated: the biases, then the sources."""
        return (*(f"bias.{BIASES[k]}" for k in self.columns), *self.reml.names)

    def rounded_alike(self, sds: FloatArray) -> FloatArray:
        """(n, n) covariances of the rounding errors of readings that repeat each other, nought on the diagonal: what
        ``reading`` takes as independent and is not, where the robot scatters by less than a step (see ``rounding``)."""
        own = self.reml.covariance(sds) - np.diag(self.reml.reading)
        each = np.diag(own)
        one, other = np.nonzero(self.repeats)
        difference = np.maximum(each[one] + each[other] - 2 * own[one, other], 0.0)
        made = np.zeros_like(own)
        made[one, other] = self.reml.reading[one] * correlation(difference, np.sqrt(12 * self.reml.reading[one]))
        return made

    @property
    def repeats(self) -> NDArray[np.bool_]:
        """(n, n) whether two readings are of the same quantity of the same test, driven again."""
        slopes = np.concatenate([test.bias for test in self.tests])
        words = np.array([word for test in self.tests for word in test.words])
        near = np.abs(slopes[:, None, :] - slopes[None, :, :]).max(axis=2) <= 1e-9 * np.abs(slopes).max()
        steps = self.reml.reading[:, None] == self.reml.reading[None, :]
        rounded = np.array([test.rounded for test in self.tests for _ in test.words])
        made = near & steps & (words[:, None] == words[None, :]) & rounded[:, None] & rounded[None, :]
        np.fill_diagonal(made, False)
        return np.asarray(made, dtype=np.bool_)


def assembled(tests: Sequence[Observed], tape: bool = False, extras: Container[str] = ()) -> Assembled:
    """All tests as one model, with the ``tape`` as a source or without, and with these of ``EXTRAS``."""
    sizes = [len(test.y) for test in tests]
    first = np.concatenate([[0], np.cumsum(sizes)])
    n = int(first[-1])
    slopes = np.concatenate([test.bias for test in tests])
    dates = [test.date for test in tests]
    covariances: dict[str, FloatArray] = {}
    for name in SOURCES:
        if name == "tape" and not tape:
            continue
        made = np.zeros((n, n))
        for a, test in zip(first, tests, strict=False):
            part = test.parts.get(name)
            if part is not None:
                k = len(test.y)
                made[a : a + k, a : a + k] = part @ part.T
        if made.max() > 1e-12:
            covariances[name] = made
    least = 1e-6 * max(1.0, np.abs(slopes).max())
    columns = tuple(k for k in columns_of(extras) if np.abs(slopes[:, k]).max() > least)
    columns, mixed = _independent(slopes, columns)
    different = len({date for date in dates if date is not None})
    if different > 1:
        owner = np.repeat(np.arange(len(tests)), sizes)
        number = {date: i for i, date in enumerate(sorted({date for date in dates if date is not None}))}
        # Tests without a date are alone with their day.
        day = np.array([number[date] if date is not None else -1 - i for i, date in enumerate(dates)])[owner]
        same = day[:, None] == day[None, :]
        for k in sorted({daily(k) for k in columns} - {-1}):
            covariances[f"day.{BIASES[k]}"] = np.outer(slopes[:, k], slopes[:, k]) * same
    reml = Reml(
        y=np.concatenate([test.y for test in tests]),
        x=slopes[:, columns],
        reading=np.concatenate([test.reading for test in tests]),
        covariances=covariances,
    )
    return Assembled(tuple(tests), reml, columns, mixed, different, tuple(each for each in EXTRAS if each in extras))


def daily(column: int) -> int:
    """The place in ``BIASES`` of what of this bias differs from day to day; -1 if nothing does. Turns both ways round
    go with the day together."""
    name = BIASES[column]
    name = "turn" if name in EXTRAS["sides"] else name
    return BIASES.index(name) if name in DAILY else -1


def _independent(slopes: FloatArray, columns: tuple[int, ...]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Columns that are independent of those before them, and all that some others could take the place of."""
    unit = slopes / np.maximum(np.linalg.norm(slopes, axis=0), 1e-300)

    def rank(which: Sequence[int]) -> int:
        return int(np.linalg.matrix_rank(unit[:, list(which)], tol=1e-6)) if which else 0

    kept: list[int] = []
    for k in columns:
        if rank([*kept, k]) > len(kept):
            kept.append(k)
    mixed = tuple(k for k in columns if rank([j for j in columns if j != k]) == len(kept))
    return tuple(kept), mixed


def correlations(model: Assembled, sds: FloatArray) -> FloatArray:
    """(m, m) correlations of the errors of all estimates, in the order of ``model.names``: of the biases by least
    squares, of the sources by the expected information of their variances; of one with the other none, as it is to
    first order in restricted likelihood."""
    _, _, spread = model.reml.solve(sds)
    p, k = len(model.columns), len(model.reml.names)
    made = np.eye(p + k)
    made[:p, :p] = spread / np.sqrt(np.outer(np.diag(spread), np.diag(spread)))
    if k:
        information = model.reml.information(sds)
        size = np.sqrt(np.maximum(np.diag(information), 1e-300))
        # Sources that look the same make it singular; a thousandth of its diagonal says which way they lie.
        covariance = np.linalg.inv(information / np.outer(size, size) + 1e-3 * np.eye(k))
        made[p:, p:] = covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    return made
