"""The one error that costs a run most, and what the best square is worth: what a hand wants to know at once.

Less than `causes` and `remedies`, on fewer trials and by the same rules: an error is silenced on the trials' own draws,
and a square that was chosen on some trials is told by others, which had no part in the choice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Run, Segment
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.draws import BLOCK, kept_block
from fieldsim.sim.failures import counted, failures
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Driver
from fieldsim.stats.intervals import Share
from fieldsim.studies import changes
from fieldsim.studies.changes import Change
from fieldsim.studies.compare import difference
from fieldsim.studies.remedies import LEAST_FAILING, MOST_FAILURES
from fieldsim.studies.sources import sources

__all__ = ["DearestAnswer", "SquareHint", "dearest"]

Bools = NDArray[np.bool_]

# Trials of each error silenced, and fresh ones of the best square; of each square that is tried first.
EACH, SCREENED = 2_000, 300


@dataclass(frozen=True)
class SquareHint:
    """The best square that was tried, and what it was worth on fresh trials."""

    after: int
    """How many segments come before it."""
    segments: tuple[Segment, ...]
    """It, and the way back."""
    worth: Share


@dataclass(frozen=True)
class DearestAnswer:
    """What costs most."""

    source: str
    """The error in words, such as 'slip in the turn'."""
    segment: int
    """From 1; 0 for what belongs to none."""
    worth: Share
    """How many more get through without it, on the same trials."""
    square: SquareHint | None
    """None where no square could be driven, or none helped."""


def dearest(
    run: Run, *, seed: int = 1, trials: int = EACH, screened: int = SCREENED,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> DearestAnswer | None:  # fmt: skip
    """The dearest error of a run; None where it hardly ever fails, or nothing in it is drawn.

    In one thread. What ``watch(done, wanted)`` raises breaks it off.
    """
    ready = plan(run)
    driver = Driver(ready, seed, clearances=False)
    first = driver.block(0, min(trials, BLOCK))
    if (~first.success).mean() < LEAST_FAILING:
        return None
    errors = sources(run, ready.drivetrain)
    if not errors:
        return None
    found = counted(failures(first))
    segments = np.repeat([failure.segment for failure, _ in found], [count for _, count in found])
    last = int(np.quantile(segments, MOST_FAILURES, method="inverted_cdf"))
    tried = [*changes.squares(run, last), *changes.line_squares(run, last)]
    wanted = len(errors) + len(tried)

    base = np.concatenate([driver.block(number, count).success for number, count in _blocks(trials)])
    worths = []
    for done, error in enumerate(errors, start=1):
        without = np.concatenate([
            _silenced(driver, seed, number, count, error.rows) for number, count in _blocks(trials)
        ])  # fmt: skip
        worths.append(difference(without, base))
        watch(done, wanted)
    best = max(range(len(errors)), key=lambda k: worths[k].share)
    error = errors[best]
    square = _best_square(run, ready, tried, seed, trials, screened, lambda done: watch(len(errors) + done, wanted))
    return DearestAnswer(error.words, error.segment, worths[best], square)


def _blocks(trials: int, begin: int = 0) -> list[tuple[int, int]]:
    """Blocks and how many trials of each."""
    return [(begin + k, min(BLOCK, trials - k * BLOCK)) for k in range(-(-trials // BLOCK))]


def _silenced(driver: Driver, seed: int, number: int, count: int, rows: tuple[int, ...]) -> Bools:
    z = kept_block(seed, number, driver.ready.drivetrain.streams).copy()
    z[list(rows)] = 0.0
    driver.z = z
    success: Bools = driver.drawn(number, count).success
    return success


def _best_square(
    run: Run, ready: Plan, tried: list[Change], seed: int, trials: int, screened: int, watch: Callable[[int], None]
) -> SquareHint | None:
    base = Driver(ready, seed, clearances=False).block(0, screened).success
    best: tuple[float, Change, Plan] | None = None
    for done, change in enumerate(tried, start=1):
        try:
            changed = plan(change.run(run))
        except (FieldsimError, ValueError):
            # A face that is not there, a number beyond what a file may hold: nobody could type that.
            continue
        gain = float(Driver(changed, seed, clearances=False).block(0, screened).success.mean() - base.mean())
        if gain > 0 and (best is None or gain > best[0]):
            best = gain, change, changed
        watch(done)
    if best is None:
        return None
    _, change, changed = best
    fresh = _blocks(trials, 1)
    then, now = (
        np.concatenate([Driver(each, seed, clearances=False).block(number, count).success for number, count in fresh])
        for each in (changed, ready)
    )
    worth = difference(then, now)
    (after, segments), *_ = change.inserted
    return SquareHint(after, segments, worth) if worth.low > 0 else None
