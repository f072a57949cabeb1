"""Whether 'better' is more than luck of the tests: for how many of the robots that fit a team's tests it holds.

That one plan is truly better than another is told of the robot as its file has it. Few tests leave room for other
robots (`fieldsim.studies.unknown`), and for some of these the other plan may be the better one. So a few dozen of them
drive both plans, on the same drawn trials.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Accuracy, Run
from fieldsim.studies.unknown import robots, successes

__all__ = ["ROBOTS", "TRIALS", "Fitting", "better"]

Bools = NDArray[np.bool_]

# Robots that fit the tests, a power of two as a Sobol sequence likes it; the trials of each.
ROBOTS, TRIALS = 32, 250


class Fitting:
    """Robots that fit the tests, and how runs do with them. Robots of one accuracy are the same in all runs."""

    def __init__(self, seed: int = 1, threads: int | None = None, count: int = ROBOTS, trials: int = TRIALS) -> None:
        self.seed, self.threads, self.count, self.trials = seed, threads, count, trials
        self._drawn: list[tuple[Accuracy, tuple[Accuracy, ...]]] = []
        self._driven: list[tuple[Run, tuple[str, int] | None, Bools]] = []

    @staticmethod
    def told(*runs: Run) -> bool:
        """Whether any of these runs' robots has a file that says what its tests leave open."""
        return any(run.robot.accuracy.between is not None for run in runs)

    def holds(self, first: Run, second: Run, ahead: float) -> float | None:
        """Share of the robots that fit the tests for which ``first`` gets through more often than ``second``; None
        where no file says anything of that. ``ahead`` is by how much it does for the robot as written."""
        if not self.told(first, second):
            return None
        return better(self.success(first), self.success(second), ahead)

    def success(self, run: Run, silent: tuple[str, int] | None = None) -> Bools:
        """(1 + robots, trials) which of the first trials get through: with the robot as written, and with each that
        fits. ``silent`` is a source of noise, its words and its segment, that is taken away."""
        for known, quiet, found in self._driven:
            if known == run and quiet == silent:
                return found
        accuracy = run.robot.accuracy
        found = successes(
            run, [accuracy, *self._robots(accuracy)], self.seed, self.trials, threads=self.threads, silent=silent
        )
        self._driven.append((run, silent, found))
        return found

    def _robots(self, accuracy: Accuracy) -> Sequence[Accuracy]:
        if accuracy.between is None:
            return (accuracy,) * self.count
        for known, drawn in self._drawn:
            if known == accuracy:
                return drawn
        # Another robot's numbers have nothing to do with those of the first.
        drawn = robots(accuracy, self.count, self.seed + len(self._drawn)).accuracies
        self._drawn.append((accuracy, drawn))
        return drawn


def better(first: Bools, second: Bools, ahead: float) -> float:
    """Share of robots with which the first does better than the second.

    ``first`` and ``second`` (1 + n, trials) are the robot as written and n that fit, all on the same draws; ``ahead``
    is the first's share less the second's for the robot as written, from all its trials. A robot's difference is that,
    and by how much it differs from the written robot's on these trials. What chance there is in that is taken out of
    the spread over the robots: its variance less the mean variance of one (as in `fieldsim.studies.unknown.shares`).
    """
    differences = first.astype(np.int8) - second.astype(np.int8)
    against = differences[1:] - differences[0]
    off = against.mean(axis=1)
    noise = float(against.var(axis=1).mean()) / against.shape[1]
    total = float(off.var())
    kept = sqrt(max(0.0, 1.0 - noise / total)) if total > 0 else 0.0
    return float((ahead + off.mean() + kept * (off - off.mean()) > 0).mean())
