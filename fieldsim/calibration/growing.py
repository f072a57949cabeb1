"""With which power of the speed stop errors grow, where tests at two speeds tell it.

The restricted likelihood of all tests, with the stop's scatter of each at (speed/usual speed)^power, all other numbers
fitted anew for each power (a profile); its 95 % interval is where -2 times its logarithm lies within the square of
Student's t of the least, with the tests less two as degrees of freedom: with six tests at each speed the usual
chi-square held the truth in 90 of 100 sheets. Powers are looked at from 0 (not at all) to 3.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import stdtrit

from fieldsim.calibration.assembled import Assembled
from fieldsim.calibration.estimate import CONFIDENCE, Estimate
from fieldsim.calibration.observed import DrivenTest
from fieldsim.model import Accuracy, Robot, replace
from fieldsim.sim.stops import FASTER
from fieldsim.stats.reml import Reml

FloatArray = NDArray[np.float64]

MOST = 3.0
# Of tests at the slower speed and at the faster one so many each.
EACH = 5
# How exactly the power and its ends are found.
END = 0.02


def growths(robot: Robot, driven: Sequence[DrivenTest], model: Assembled, sds: FloatArray) -> tuple[Estimate, ...]:
    """The powers that these tests say anything of: 'straight.grows', 'turn.grows'."""
    found = []
    for name, key in (("straight.stop", "speed"), ("turn.stop", "turn_speed")):
        if name not in model.reml.names:
            continue
        speeds = np.array([getattr(test, key, None) or getattr(robot.drive, key) for test in driven])
        told = np.array([name in test.parts for test in model.tests])
        middle = exp((log(speeds[told].min()) + log(speeds[told].max())) / 2)
        slow, fast = told & (speeds < middle), told & (speeds > middle)
        if min(slow.sum(), fast.sum()) < EACH or speeds[fast].min() < FASTER * speeds[slow].max():
            continue
        group = name.partition(".")[0]
        before = getattr(robot.accuracy, group).grows
        ratios = np.where(told, speeds / exp(float(np.log(speeds[told]).mean())), 1.0)
        sizes = [len(test.y) for test in model.tests]
        power = 1.0 if before is None else before
        found.append(_profile(model, sds, name, np.repeat(ratios, sizes), power, int(told.sum())))
    return tuple(found)


def _profile(model: Assembled, sds: FloatArray, name: str, ratios: FloatArray, before: float, tests: int) -> Estimate:
    reml = model.reml
    place = reml.names.index(name)

    def misfit(power: float) -> float:
        scale = ratios ** (power - before)
        covariances = dict(zip(reml.names, reml.covariances, strict=True))
        covariances[name] = reml.covariances[place] * np.outer(scale, scale)
        return Reml(reml.y, reml.x, reml.reading, covariances).fitted(start=sds)[1]

    best = minimize_scalar(misfit, bounds=(0.0, MOST), method="bounded", options={"xatol": END})
    ends = {0.0: misfit(0.0), MOST: misfit(MOST)}
    least, value = min((float(best.fun), float(best.x)), *((at, end) for end, at in ends.items()))
    limit = least + float(stdtrit(tests - 2, 0.5 + CONFIDENCE / 2)) ** 2

    def over(power: float) -> float:
        return misfit(power) - limit

    low, high = (end if at <= limit else float(brentq(over, value, end, xtol=END)) for end, at in ends.items())
    return Estimate(f"{name.partition('.')[0]}.grows", value, low, high, tests)


def goes_with_stop(robot: Robot, driven: Sequence[DrivenTest], each: Estimate, stop: tuple[float, ...]) -> float:
    """The correlation of a power's error with that of the stop's logarithm. Tests tell the stop at the middle of their
    speeds (geometric mean) by itself; seen from the speed that the file tells it of, a larger power is a larger stop.
    ``stop`` is what the shares ``LIKELY`` of the robots that fit lie below."""
    group = each.name.partition(".")[0]
    key, usual = ("speed", robot.drive.speed) if group == "straight" else ("turn_speed", robot.drive.turn_speed)
    speeds = [getattr(test, key, None) or usual for test in driven if hasattr(test, key)]
    own = robot.accuracy.measured_at if group == "straight" else robot.accuracy.turn_measured_at or usual
    power = (each.high - each.low) / 4
    alone = log(stop[3] / stop[1]) / 2
    shifted = power * log(own / exp(sum(map(log, speeds)) / len(speeds)))
    return shifted / sqrt(alone**2 + shifted**2) if shifted else 0.0


def settles(each: Estimate) -> bool:
    """Whether tests tell more than that a stop error may grow or not: they refuse that it does not grow at all, or that
    it grows in proportion. Only then a forecast takes the power from them."""
    return each.low > 0.0 or each.high < 1.0


def with_growths(accuracy: Accuracy, found: Sequence[Estimate]) -> Accuracy:
    """The accuracy block with the powers that are settled."""
    for name, power in powers(found).items():
        group = name.partition(".")[0]
        accuracy = replace(accuracy, **{group: replace(getattr(accuracy, group), grows=power)})
    return accuracy


def powers(found: Sequence[Estimate]) -> dict[str, float]:
    """The powers that are settled, as a file has them."""
    return {each.name: round(each.value, 2) for each in found if settles(each)}
