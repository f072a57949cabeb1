"""The run as it is written, tried once for every study: one question has one number.

`try`, `jigs`, `slack`, `widths`, `causes`, `compare` and the card tell how often a run gets through from the same first
trials of the seed, 10,000 unless others are asked for. What a study changes is driven on fewer of these trials and told
beside them (`fieldsim.stats.double_sampling`): the share of a run that is not changed is the same number everywhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Run
from fieldsim.sim.failures import Failure, counted, failures
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import blocks
from fieldsim.stats.double_sampling import Beside, beside
from fieldsim.stats.intervals import Share, wilson

__all__ = ["HOPELESS", "OWN", "LostAnswer", "Own", "first_lost", "grown", "lost_answers", "own"]

Bools = NDArray[np.bool_]

# Trials of the run as it is, where nothing else is asked for.
OWN = 10_000

# A run that gets through less often than this is none to vary: what is nine tenths of hardly anything? Common
# practice, no source.
HOPELESS = 0.05

# Numbers of trials named as examples.
EXAMPLES = 3


@dataclass(frozen=True)
class LostAnswer:
    """What went wrong first, in how many trials, and the numbers of a few of them, from 1."""

    why: Annotated[str, "'touches', 'misses', 'ends outside', or how a square or line was not caught"]
    what: Annotated[str, "what was touched, missed or not caught"]
    segment: Annotated[int, "counted from 1"]
    count: Annotated[int, "trials"]
    examples: Annotated[tuple[int, ...], "numbers of some of them"]


@dataclass(frozen=True, eq=False)
class Own:
    """A run as it is written, trial by trial: whether it got through, and what went wrong first."""

    ready: Plan
    success: Bools
    """(N,)"""
    failures: list[Failure | None]

    @cached_property
    def share(self) -> Share:
        return wilson(int(self.success.sum()), len(self.success))

    @property
    def hopeless(self) -> bool:
        """It gets through too seldom for a tenth less, or a start that is a little off, to mean anything."""
        return self.share.share < HOPELESS

    @cached_property
    def counts(self) -> Counter[Failure]:
        """How often each thing goes wrong first."""
        return Counter(dict(counted(self.failures)))

    @property
    def lost(self) -> LostAnswer | None:
        """What goes wrong first most often; None if nothing does."""
        return first_lost(self.failures)

    def beside(self, success: Bools) -> Beside:
        """How often another run gets through, of which the first trials were driven on the same draws."""
        return beside(self.success, success)


def own(
    run: Run,
    *,
    trials: int | None = None,
    seed: int = 1,
    threads: int | None = None,
    ready: Plan | None = None,
    watch: Callable[[int], None] = lambda more: None,
) -> Own:
    """The run's first ``trials`` (``OWN`` for None). ``ready`` is its plan, if there is one already; ``watch`` is told
    of each block's trials."""
    ready = ready or plan(run)
    success, found = [], []
    for block in blocks(ready, seed, OWN if trials is None else trials, threads=threads, clearances=False):
        success.append(block.success)
        found += failures(block)
        watch(len(block))
    return Own(ready, np.concatenate(success), found)


def first_lost(found: list[Failure | None], among: Bools | None = None) -> LostAnswer | None:
    """What went wrong first most often; ``among`` (N,) picks trials."""
    most = lost_answers(found, among, 1)
    return most[0] if most else None


def grown(found: list[Failure | None], before: Own) -> LostAnswer | None:
    """What goes wrong first more often than with the run as it is, and most so; where nothing does, what goes wrong
    first most often."""
    counts = counted(found)
    more = {failure: count / len(found) - before.counts[failure] / len(before.failures) for failure, count in counts}
    most = max(more, key=lambda failure: more[failure], default=None)
    if most is None or more[most] <= 0:
        return first_lost(found)
    return first_lost([each if each == most else None for each in found])


def lost_answers(found: list[Failure | None], among: Bools | None, most: int) -> tuple[LostAnswer, ...]:
    """What went wrong first, most often first, with the numbers of a few trials (as `try --trial` takes them)."""
    rows = []
    for failure, count in counted(found, among)[:most]:
        examples: list[int] = []
        for n, each in enumerate(found):
            if each == failure and (among is None or among[n]):
                examples.append(n + 1)
                if len(examples) == EXAMPLES:
                    break
        rows.append(LostAnswer(failure.why, failure.what, failure.segment, count, tuple(examples)))
    return tuple(rows)
