"""What a test was forecast to read, and how far off that it is: by the robot's own accuracy block."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from fieldsim.calibration.observed import BIASES, DAILY, DrivenTest, observed
from fieldsim.model import Accuracy, Robot

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Against:
    """One reading of a test held against its forecast: mm or degrees, left and ahead positive."""

    reading: str
    """'travel', 'sideways', 'heading', 'angle', 'return x' or 'return y'."""
    off: float
    """What was read less what the robot's known bias makes of the command."""
    spread: float
    """Standard deviation of that: the robot's own errors, the day's, and of measuring."""

    @property
    def z(self) -> float:
        """How many of its standard deviations it is off."""
        return self.off / self.spread if self.spread > 0 else 0.0


def against(robot: Robot, test: DrivenTest) -> tuple[Against, ...]:
    """Each reading of a test against what the robot's accuracy block says of it; to first order, as in a fit."""
    seen = observed(robot, test)
    accuracy = robot.accuracy
    off = seen.y - seen.bias @ _biases(accuracy)
    variance = seen.reading.copy()
    for name, part in seen.parts.items():
        group, _, key = name.partition(".")
        if key:
            variance += getattr(getattr(accuracy, group), key) ** 2 * (part**2).sum(axis=1)
    for name in DAILY:
        variance += (getattr(accuracy.day, name) * seen.bias[:, BIASES.index(name)]) ** 2
    return tuple(
        Against(word, float(each), sqrt(float(square)))
        for word, each, square in zip(seen.words, off, variance, strict=True)
    )


def _biases(accuracy: Accuracy) -> FloatArray:
    """(10,) in the order of ``BIASES``: where the two ways round differ, they take the place of both together."""
    bias = accuracy.bias
    apart = bias.turn_left is not None or bias.turn_right is not None
    told = {
        **{name: getattr(bias, name) for name in BIASES},
        "turn": 0.0 if apart else bias.turn,
        "turn_left": bias.of_turn(1.0) if apart else 0.0,
        "turn_right": bias.of_turn(-1.0) if apart else 0.0,
    }
    return np.array([told[name] for name in BIASES])
