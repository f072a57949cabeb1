"""Why a trial failed: the first thing that went wrong in it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, LineSquare, Square, Until
from fieldsim.trials import Trials, ending_words


class Failure(NamedTuple):
    """What went wrong first: 'touches', 'misses' (a target), how a square or line was not caught, or 'ends outside'."""

    why: str
    what: str
    segment: int


def failures(trials: Trials) -> list[Failure | None]:
    """For each trial the first thing that went wrong, None if it got through."""
    run = trials.plan.run
    names = [thing.name for thing in trials.plan.solids]
    last = len(run.segments)
    acts = [(g + 1, segment) for g, segment in enumerate(run.segments) if isinstance(segment, Act)]
    aligned = [g + 1 for g, segment in enumerate(run.segments) if isinstance(segment, Square | LineSquare | Until)]
    success = trials.success
    found: list[Failure | None] = []
    for n in range(len(trials)):
        if success[n]:
            found.append(None)
            continue
        stop = int(trials.contact_segment[n]) or int(trials.ended_segment[n]) or last + 1
        missed = next(
            (Failure("misses", act.target, g) for t, (g, act) in enumerate(acts) if g < stop and not trials.hit[n, t]),
            None,
        )
        if missed is not None:
            found.append(missed)
        elif trials.contact_obstacle[n] >= 0:
            found.append(Failure("touches", names[trials.contact_obstacle[n]], int(trials.contact_segment[n])))
        elif trials.ended_segment[n]:
            g = int(trials.ended_segment[n])
            segment = run.segments[g - 1]
            assert isinstance(segment, Square | LineSquare | Until)
            why = ending_words(segment, int(trials.endings[n, aligned.index(g)]))
            found.append(Failure(why, segment.against if isinstance(segment, Square) else segment.line, g))
        else:
            found.append(Failure("ends outside", run.finish or "", last))
    return found


def counted(found: list[Failure | None], among: NDArray[np.bool_] | None = None) -> list[tuple[Failure, int]]:
    """How often each failure occurs, most often first; ``among`` (N,) picks trials."""
    counts: dict[Failure, int] = {}
    for n, failure in enumerate(found):
        if failure is not None and (among is None or among[n]):
            counts[failure] = counts.get(failure, 0) + 1
    return sorted(counts.items(), key=lambda item: (-item[1], item[0].segment, item[0]))
