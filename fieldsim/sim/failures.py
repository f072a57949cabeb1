"""Why a trial failed: the first thing that went wrong in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, Alignment, Segment
from fieldsim.sim.endings import ending_words
from fieldsim.sim.trials import Trials


class Failure(NamedTuple):
    """What went wrong first: 'touches', 'misses' (a target), how a square or line was not caught, or 'ends outside'."""

    why: str
    what: str
    segment: int


def failures(trials: Trials) -> list[Failure | None]:
    """For each trial the first thing that went wrong, None if it got through.

    A target missed before a touch or a square that was not caught comes first: that is what went wrong.
    """
    run = trials.plan.run
    last = len(run.segments)
    acts = [(g + 1, segment) for g, segment in enumerate(run.segments) if isinstance(segment, Act)]
    aligned = [g + 1 for g, segment in enumerate(run.segments) if isinstance(segment, Alignment)]
    found: list[Failure | None] = [None] * len(trials)
    failed = np.flatnonzero(~trials.success)
    contact, ended = trials.contact_segment[failed], trials.ended_segment[failed]
    stop = np.where(contact > 0, contact, np.where(ended > 0, ended, last + 1))
    # The first act that missed before the trial stopped, (len(failed),); past the last one where none did.
    at = np.array([g for g, _ in acts], dtype=np.int64)
    missed = (at < stop[:, None]) & ~trials.hit[failed][:, : len(acts)]
    first = np.where(missed.any(axis=1), missed.argmax(axis=1), len(acts)) if acts else np.zeros(len(failed), np.int64)
    # Few things go wrong, many times each: one value for each of them.
    misses = [Failure("misses", act.target, g) for g, act in acts]
    touches: dict[tuple[int, int], Failure] = {}
    lost: dict[tuple[int, int], Failure] = {}
    outside = Failure("ends outside", run.finish or "", last)
    obstacles = trials.contact_obstacle[failed]
    for n, act, obstacle, c, e in zip(
        failed.tolist(), first.tolist(), obstacles.tolist(), contact.tolist(), ended.tolist(), strict=True
    ):
        if act < len(acts):
            found[n] = misses[act]
        elif obstacle >= 0:
            key = obstacle, c
            if key not in touches:
                touches[key] = Failure("touches", trials.plan.solids[obstacle].name, c)
            found[n] = touches[key]
        elif e:
            key = int(trials.endings[n, aligned.index(e)]), e
            if key not in lost:
                lost[key] = _lost(run.segments[e - 1], *key)
            found[n] = lost[key]
        else:
            found[n] = outside
    return found


def _lost(segment: Segment, ending: int, g: int) -> Failure:
    """How a square, a line or a distance was not caught on segment ``g``."""
    assert isinstance(segment, Alignment)
    return Failure(ending_words(segment, ending), segment.on, g)


def counted(found: list[Failure | None], among: NDArray[np.bool_] | None = None) -> list[tuple[Failure, int]]:
    """How often each failure occurs, most often first; ``among`` (N,) picks trials."""
    counts: dict[Failure, int] = {}
    for n, failure in enumerate(found):
        if failure is not None and (among is None or among[n]):
            counts[failure] = counts.get(failure, 0) + 1
    return in_order(counts)


def in_order(counts: Mapping[Failure, int]) -> list[tuple[Failure, int]]:
    """Failures and how often each occurs, most often first."""
    return sorted(counts.items(), key=lambda item: (-item[1], item[0].segment, item[0]))
