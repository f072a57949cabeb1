"""Tests that are not driven: placing by hand, and drops."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import sqrt

import numpy as np
from scipy.special import chdtri, stdtrit

from fieldsim.calibration.estimate import CONFIDENCE, Drops, Estimate, Placed
from fieldsim.calibration.repeatability import repeatability
from fieldsim.model.measured import PlacingTest, Sheet
from fieldsim.stats.rounding import correlation


def placing(jig: str, tests: Sequence[PlacingTest]) -> Placed:
    """Plain standard deviations with their chi-square interval, less the reading's, and means with Student's t."""
    spread, off = [], []
    for part in ("along", "across", "heading"):
        values = np.array([v for test in tests if (v := getattr(test, part)) is not None], dtype=float)
        if len(values) < 2:
            continue
        n = len(values)
        tool, photo = ("protractor", "photo_angle") if part == "heading" else ("tape", "photo")
        step = float(np.mean([0.0 if test.photo is not None else getattr(test, tool) for test in tests]))
        # A photo's own error is no step; each placing is one pose.
        reading = float(
            np.mean(
                [getattr(test, tool) ** 2 / 12 if test.photo is None else getattr(test, photo) ** 2 for test in tests]
            )
        )
        total = float(values.var(ddof=1))
        ends = [(n - 1) * total / chdtri(n - 1, q) for q in (0.5 - CONFIDENCE / 2, 0.5 + CONFIDENCE / 2)]
        sds = [sqrt(max(0.0, v - reading)) for v in (total, *ends)]
        # Readings that scatter less than their own steps cannot say that there is no scatter.
        sds[2] = max(sds[2], sqrt((n - 1) * reading / chdtri(n - 1, 0.5 + CONFIDENCE / 2)) if total < reading else 0.0)
        spread.append(Estimate(part, sds[0], sds[1], sds[2], n))
        mean = float(values.mean())
        # Readings that scatter by less than their steps are all off by the same.
        own = max(total - reading, 0.0)
        together = float(correlation(np.array(2 * own), step)) if step else 0.0
        variance = (own + reading) / n + step**2 / 12 * together * (n - 1) / n
        half = float(stdtrit(n - 1, 0.5 + CONFIDENCE / 2)) * sqrt(variance)
        off.append(Estimate(part, mean, mean - half, mean + half, n))
    whole = len(tests) >= 2
    angles = [test.heading for test in tests if test.heading is not None]
    headings = angles if len(angles) == len(tests) else None
    return Placed(
        jig=None if jig == "by eye" else jig,
        tests=len(tests),
        spread=tuple(spread),
        off=tuple(off),
        repeatability=repeatability(
            [(test.along, test.across) for test in tests], (0.0, 0.0), headings, None if headings is None else 0.0
        )
        if whole
        else None,
    )


def drops(sheet: Sheet) -> Drops:
    off = Counter(test.came_off.strip() for test in sheet.drops if test.result == "fail" and test.came_off.strip())
    failed = sum(test.result == "fail" for test in sheet.drops)
    return Drops(len(sheet.drops) - failed, failed, tuple(off.most_common()))
