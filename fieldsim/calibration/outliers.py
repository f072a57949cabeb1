"""Tests that do not fit the others: a slip of the pen, a wheel that caught."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from fieldsim.calibration.assembled import Assembled, assembled
from fieldsim.calibration.estimate import Outlier
from fieldsim.calibration.observed import BIASES
from fieldsim.language import tr

FloatArray = NDArray[np.float64]


def outliers(model: Assembled, all_sds: FloatArray) -> list[Outlier]:
    """Each test against what all others say: its distance from their forecast, against an F distribution.

    Its second degrees of freedom are the other tests of its kind less three, what they are spent on (a bias and two
    spreads); Bonferroni over all tests.
    """
    found = []
    tests = model.tests
    known = dict(zip(model.reml.names, all_sds, strict=True))
    for n, test in enumerate(tests):
        others = [*tests[:n], *tests[n + 1 :]]
        alike = sum(other.parts.keys() == test.parts.keys() for other in others)
        if alike < 4:
            continue
        rest_of = assembled(others, "tape" in model.reml.names, model.extras)
        if {k for k in model.columns if np.abs(test.bias[:, k]).max() > 1e-6} - set(rest_of.columns):
            continue
        sds, _ = rest_of.reml.fitted(start=np.array([known.get(name, 0.0) for name in rest_of.reml.names]))
        _, b, spread = rest_of.reml.solve(sds)
        x = test.bias[:, rest_of.columns]
        variance = np.diag(test.reading) + x @ spread @ x.T
        for sd, name in zip(sds, rest_of.reml.names, strict=True):
            if name in test.parts:
                variance += sd * sd * test.parts[name] @ test.parts[name].T
            elif name.startswith("day."):
                slope = test.bias[:, BIASES.index(name.removeprefix("day."))]
                variance += sd * sd * np.outer(slope, slope)
        rest = test.y - x @ b
        distance = float(rest @ np.linalg.solve(variance, rest)) / len(rest)
        if fdtrc(len(rest), alike - 3, distance) < 0.05 / len(tests):
            word = test.words[int(np.argmax(np.abs(rest) / np.sqrt(np.diag(variance))))]
            found.append(Outlier(test.line, tr("its {word} is far from what the other tests say", word=word)))
    return found
