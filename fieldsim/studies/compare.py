"""`compare`: any plans, robots and fields on the same draws, pair by pair."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.answers import Perhaps, Told
from fieldsim.model import Run
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import blocks
from fieldsim.stats.intervals import Share, paired_difference, wilson
from fieldsim.stats.multiple import holm, sign_test
from fieldsim.studies.fitting import Fitting
from fieldsim.studies.own import OWN, LostAnswer, lost_answers

# Reasons told for each pair.
REASONS = 5


@dataclass(frozen=True)
class RunAnswer:
    """One run of a comparison."""

    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    success: Share
    seconds: Perhaps
    """Mean over the trials that came to their end; not-a-number if none did."""
    lost: tuple[LostAnswer, ...]


@dataclass(frozen=True)
class DifferenceAnswer:
    """Two runs on the same trials."""

    first: str
    second: str
    difference: Annotated[Share, "of the first less that of the second"]
    truly: Annotated[
        int, Told("1: the first is better than luck explains, -1: the second, 0: neither", after="difference")
    ]
    """All pairs of the comparison counted."""
    holds: Annotated[
        float | None,
        Told("share of the robots that fit the tests for which the sign of the difference is that", after="truly"),
    ]
    """None where no file says what the tests leave open."""
    only_first: Annotated[int, Told("trials that only the first gets through", after="holds")]
    only_second: Annotated[int, Told(after="only_first")]
    second_lost: Annotated[tuple[LostAnswer, ...], Told(after="only_second")]
    """What went wrong in the second in the trials that only the first gets through; ``first_lost`` likewise."""
    first_lost: Annotated[tuple[LostAnswer, ...], Told(after="second_lost")]


@dataclass(frozen=True)
class CompareAnswer:
    """Runs on the same trials; a difference is the first run's share less the second's."""

    command: ClassVar[Literal["compare"]] = "compare"
    version: Annotated[str, "of fieldsim"]
    trials: Annotated[int, "that were done, or of each"]
    seed: int
    runs: tuple[RunAnswer, ...]
    differences: tuple[DifferenceAnswer, ...]


@dataclass(frozen=True, eq=False)
class Design:
    """A run that was tried: trial by trial, whether it got through and what went wrong first."""

    name: str
    ready: Plan
    success: NDArray[np.bool_]
    failures: list[Failure | None]
    seconds: float
    """Mean of the trials that came to their end; not-a-number if none did."""

    @property
    def share(self) -> Share:
        return wilson(int(self.success.sum()), len(self.success))


def attempt_all(
    runs: Sequence[Run],
    names: Sequence[str],
    *,
    trials: int,
    seed: int,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> list[Design]:
    """Every run on the same draws. ``watch(done, wanted)`` counts trials."""
    found = []
    done = 0
    for run, name in zip(runs, names, strict=True):
        ready = plan(run)
        success, reasons, times = [], [], []
        for block in blocks(ready, seed, trials, threads=threads, clearances=False):
            success.append(block.success)
            reasons += failures(block)
            times.append(block.time[block.ended])
            done += len(block)
            watch(done, trials * len(runs))
        ended = np.concatenate(times)
        found.append(
            Design(name, ready, np.concatenate(success), reasons, float(ended.mean()) if len(ended) else float("nan"))
        )
    return found


def difference(first: NDArray[np.bool_], second: NDArray[np.bool_]) -> Share:
    """Share of the first less that of the second on the same trials, with its paired interval."""
    return paired_difference(
        int((first & second).sum()), int((first & ~second).sum()), int((~first & second).sum()),
        int((~first & ~second).sum()),
    )  # fmt: skip


def compare(
    runs: Sequence[Run],
    *,
    names: Sequence[str] | None = None,
    trials: int = OWN,
    seed: int = 1,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> CompareAnswer:
    """Two or more runs, each pair of them.

    Trial k has the same draws in every run, segment by segment, so most of the luck is in both and drops out of the
    difference. ``names`` tells runs of one name apart. Raises ValueError for fewer than two.
    """
    if len(runs) < 2:
        raise ValueError(f"{len(runs)} run is nothing to compare; give at least two")
    names = list(names or [run.name for run in runs])
    designs = attempt_all(runs, names, trials=trials, seed=seed, threads=threads, watch=watch)
    pairs = []
    of_all = list(combinations(designs, 2))
    only = [(first.success & ~second.success, ~first.success & second.success) for first, second in of_all]
    apart = holm([sign_test(int(one.sum()), int(other.sum())) for one, other in only])
    fitting = Fitting(seed, threads)
    for (first, second), (only_first, only_second), told in zip(of_all, only, apart, strict=True):
        share = difference(first.success, second.success)
        better, worse = (first, second) if share.share >= 0 else (second, first)
        pairs.append(
            DifferenceAnswer(
                first=first.name,
                second=second.name,
                difference=share,
                truly=0 if not told else 1 if share.low > 0 else -1 if share.high < 0 else 0,
                holds=fitting.holds(better.ready.run, worse.ready.run, abs(share.share)) if share.share else None,
                only_first=int(only_first.sum()),
                only_second=int(only_second.sum()),
                second_lost=_lost(second, only_first),
                first_lost=_lost(first, only_second),
            )
        )
    return CompareAnswer(
        version=__version__,
        trials=trials,
        seed=seed,
        runs=tuple(
            RunAnswer(
                run=design.name,
                field=run.field.name,
                robot=run.robot.name,
                success=design.share,
                seconds=design.seconds,
                lost=_lost(design, ~design.success),
            )
            for design, run in zip(designs, runs, strict=True)
        ),
        differences=tuple(pairs),
    )


def _lost(design: Design, among: NDArray[np.bool_]) -> tuple[LostAnswer, ...]:
    """What went wrong first in some trials."""
    return lost_answers(design.failures, among, REASONS)
