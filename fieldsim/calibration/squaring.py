"""Tests of pushing square on a wall: does the corner that touches first stick where it touched, or does it slide?

The robot is set with that corner on the wall, turned by an angle a, and pushed on until its face is flush. A corner
that sticks stays; one that slides while the wheels roll goes f ln(sec a + tan a) along the wall, f the way from the
axle to the face (see ``fieldsim.sim`` for where that is from). The share of that which was measured is estimated by
least squares, with Student's t; readings that scatter less than their steps count with their steps. A share of which
the 95 % interval lies on one side of one half tells which of the two it is.

What is left afterwards, off flush and away from the wall, is normal about nought in the forecast: its standard
deviation is that about nought.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import asin, cos, degrees, log, radians, sqrt, tan
from typing import Literal

import numpy as np
from scipy.special import chdtri, stdtrit

from fieldsim.calibration.capturing import capture
from fieldsim.calibration.estimate import CONFIDENCE, Estimate, Squared
from fieldsim.model import Robot
from fieldsim.model.measured import SquareTest
from fieldsim.sim.shapes import footprint

# How exactly the corner's place is marked on the wall, mm, where one test cannot tell: common practice, no source.
MARKED = 1.0
# A standard deviation is told by so many readings or more.
LEAST = 2


def face_of(robot: Robot, face: str) -> float:
    """How far the face is from the axle, mm: of all that the robot carries without what a run puts on."""
    points = np.concatenate([part.points for part in footprint(robot, ())])
    return float(points[:, 0].max() if face == "front" else -points[:, 0].min())


def slid(ahead: float, angle: float) -> float:
    """How far a corner slides along the wall until its face, ``ahead`` mm from the axle, is flush that was ``angle``
    degrees off, mm."""
    a = radians(abs(angle))
    return ahead * log(1 / cos(a) + tan(a))


def squaring(robot: Robot, tests: Sequence[SquareTest]) -> Squared | None:
    """What tests of pushing square tell; None without any."""
    if not tests:
        return None
    caught = [test.result == "pass" for test in tests]
    slides, corner = _corner(robot, tests)
    return Squared(
        tests=len(tests),
        slides=slides,
        corner=corner,
        numbers=tuple(_left_over([test for test in tests if test.result == "pass"])),
        caught=sum(caught),
        farthest=max(abs(test.angle) for test in tests),
        capture=capture([test.angle for test in tests], caught),
    )


def _left_over(tests: Sequence[SquareTest]) -> Iterator[Estimate]:
    """Standard deviations about flush and about the wall, with their chi-square interval, less the readings'."""
    turned: list[tuple[float, float]] = []
    away: list[tuple[float, float]] = []
    for test in tests:
        if test.near is not None and test.far is not None and test.side is not None:
            step = test.tape**2 / 12
            off = degrees(asin(max(-1.0, min(1.0, (test.far - test.near) / test.side))))
            turned.append((off, 2 * step * degrees(1 / test.side) ** 2))
            away.append(((test.near + test.far) / 2, step / 2))
        elif test.heading is not None:
            turned.append((test.heading, test.protractor**2 / 12))
    for name, values in (("square.heading", turned), ("square.along", away)):
        n = len(values)
        if n < LEAST:
            continue
        total = sum(value**2 for value, _ in values) / n
        reading = sum(variance for _, variance in values) / n
        ends = [n * total / chdtri(n, q) for q in (0.5 - CONFIDENCE / 2, 0.5 + CONFIDENCE / 2)]
        low, high = (sqrt(max(0.0, each - reading)) for each in ends)
        # Readings that scatter less than their own steps cannot say that there is no scatter.
        high = max(high, sqrt(n * reading / chdtri(n, 0.5 + CONFIDENCE / 2)) if total < reading else 0.0)
        yield Estimate(name, sqrt(max(0.0, total - reading)), low, high, n)


def _corner(robot: Robot, tests: Sequence[SquareTest]) -> tuple[Estimate | None, Literal["sticks", "slides"] | None]:
    """The share of the way that rolling wheels make, and which of the two it is."""
    measured = [(test, test.along) for test in tests if test.along is not None and test.result == "pass"]
    rolled = np.array([slid(face_of(robot, test.face), test.angle) for test, _ in measured])
    weight = float(rolled @ rolled)
    if weight < 1.0:
        return None, None
    off = np.array([along for _, along in measured])
    share = float(rolled @ off) / weight
    n = len(measured)
    reading = float(
        np.mean(
            [test.tape**2 / 12 + (slid(face_of(robot, test.face), test.protractor) ** 2) / 12 for test, _ in measured]
        )
    )
    if n > 1:
        variance = max(float(((off - share * rolled) ** 2).sum()) / (n - 1), reading)
        quantile = float(stdtrit(n - 1, 0.5 + CONFIDENCE / 2))
    else:
        variance, quantile = reading + MARKED**2, 1.96
    half = quantile * sqrt(variance / weight)
    corner: Literal["sticks", "slides"] | None
    corner = "slides" if share - half > 0.5 else "sticks" if share + half < 0.5 else None
    return Estimate("square.corner", share, share - half, share + half, n), corner
