"""Which errors that are the same every time, beside the scale errors, tests tell from nought.

Candidates are those of ``EXTRAS`` that the tests can tell at all: a stop offset needs two lengths (or angles), the
sides turns both ways round, a gyro's scale turns by gyro, backlash and kick tests there and back. All of them are
estimated together; each is held against nought by Student's t (Satterthwaite's degrees of freedom), and kept where
Holm's procedure over all candidates refuses nought at 5 % (S. Holm, "A simple sequentially rejective multiple test
procedure", Scandinavian Journal of Statistics 6, 1979, 65-70). So of sheets of a robot that has none of them, one in
twenty keeps one by luck.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from fieldsim.calibration.assembled import EXTRAS, Assembled, assembled
from fieldsim.calibration.observed import BIASES, Observed
from fieldsim.stats.reml import Reml

FloatArray = NDArray[np.float64]

# How often any is kept of a robot that has none.
LUCK = 0.05


def candidates(tests: Sequence[Observed]) -> tuple[str, ...]:
    """Those of ``EXTRAS`` that these tests can tell apart from everything else that is the same every time."""
    slopes = np.concatenate([test.bias for test in tests])
    size = np.abs(slopes).max(axis=0)
    least = 1e-6 * max(1.0, float(size.max()))

    def unit(name: str) -> FloatArray:
        k = BIASES.index(name)
        return np.asarray(slopes[:, k] / np.linalg.norm(slopes[:, k]) if size[k] > least else slopes[:, k] * 0.0)

    def rank(columns: Sequence[FloatArray]) -> int:
        return int(np.linalg.matrix_rank(np.array(columns).T, tol=1e-3))

    known = [column for name in BIASES[:3] if (column := unit(name)).any()]
    found = []
    for extra, names in EXTRAS.items():
        # Of the sides the difference is new, what they share is ``turn``.
        column = unit(names[0])
        if all(unit(name).any() for name in names) and rank([*known, column]) > rank(known):
            known.append(column)
            found.append(extra)
    return tuple(found)


def kept(tests: Sequence[Observed], tape: bool, among: Sequence[str]) -> tuple[str, ...]:
    """Those of ``among`` that are told from nought."""
    if not among:
        return ()
    chances = chances_of_nought(assembled(tests, tape, among), among)
    told = []
    for number, (chance, extra) in enumerate(sorted((chances[extra], extra) for extra in among)):
        if chance * (len(among) - number) >= LUCK:
            break
        told.append(extra)
    return tuple(extra for extra in EXTRAS if extra in told)


def chances_of_nought(model: Assembled, among: Sequence[str]) -> dict[str, float]:
    """How often luck makes as much of each, or more, where there is none: two-sided p-values."""
    names = [BIASES[k] for k in model.columns]
    x = model.reml.x
    if "sides" in among:
        # The same model, told by what both ways share and by half of what they differ by.
        left, right = (names.index(name) for name in EXTRAS["sides"])
        x = x.copy()
        x[:, left], x[:, right] = model.reml.x[:, left] + model.reml.x[:, right], x[:, left] - x[:, right]
        names[left], names[right] = "turn", "sides"
    reml = Reml(model.reml.y, x, model.reml.reading, dict(zip(model.reml.names, model.reml.covariances, strict=True)))
    same = replace(model, reml=reml)
    sds, _ = reml.fitted()
    _, b, spread = reml.solve(sds)
    found = {}
    for extra in among:
        place = names.index(extra)
        freedom = reml.freedom(sds, place)
        weights = reml.weights(sds, place)
        variance = spread[place, place] + float(weights @ same.rounded_alike(sds) @ weights)
        found[extra] = 2 * float(stdtr(freedom, -abs(b[place]) / sqrt(variance))) if freedom else 1.0
    return found
