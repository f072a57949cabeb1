"""Tests of pushing square on a wall: does the corner that touches first stick where it touched, or does it slide?

The robot is set with that corner on the wall, turned by an angle a, and pushed on until its face is flush. A corner
that sticks stays; one that slides while the wheels roll goes f ln(sec a + tan a) along the wall, f the way from the
axle to the face (see ``fieldsim.sim`` for where that is from). The share of that which was measured is estimated by
least squares, with Student's t; readings that scatter less than their steps count with their steps. A share of which
the 95 % interval lies on one side of one half tells which of the two it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, log, radians, sqrt, tan
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from fieldsim.calibration.estimate import CONFIDENCE, Estimate, Squared
from fieldsim.model import Robot
from fieldsim.model.measured import SquareTest
from fieldsim.sim.shapes import footprint

# How exactly the corner's place is marked on the wall, mm, where one test cannot tell: common practice, no source.
MARKED = 1.0


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
    measured = [(test, test.along) for test in tests if test.along is not None]
    rolled = np.array([slid(face_of(robot, test.face), test.angle) for test, _ in measured])
    weight = float(rolled @ rolled)
    if weight < 1.0:
        return Squared(len(tests), None, None)
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
    return Squared(len(tests), Estimate("square.corner", share, share - half, share + half, n), corner)
