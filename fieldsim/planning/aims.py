"""What a run is made better for, and how far a run gets in that: the share that gets through, the room it has, points,
or time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act
from fieldsim.sim.plan import Plan
from fieldsim.sim.trials import Trials

__all__ = ["AIMS", "Aim", "Driven", "driven"]

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

Word = Literal["share", "margin", "points", "time"]
AIMS: tuple[Word, ...] = ("share", "margin", "points", "time")

# The room that is told: what 19 of 20 trials leave, mm.
TIGHT = 0.05
# How far a trial gets before it fails decides between runs that hardly ever get through: a whole run's way is worth so
# much of a success.
PROGRESS = 0.02
# Room is not bought with misses: so many mm of it for a run that always gets through against one that never does, and
# for one that never touches anything.
SHARE, CLEAR = 100.0, 10.0
# A share that is missing to what is needed, or that was there before, outweighs all else.
MISSING = 1e4


@dataclass(frozen=True, eq=False)
class Driven:
    """A run on some trials, each trial by itself."""

    success: Bools
    """(N,)"""
    progress: float
    """Mean share of its segments that were driven before anything went wrong."""
    clear: Bools
    """(N,) nothing was touched that may not be."""
    gap: Floats | None
    """(N,) mm, the tightest gap of each trial; None if nobody asked."""
    points: Floats
    """(N,)"""
    seconds: float
    """as planned"""

    @property
    def share(self) -> float:
        return float(self.success.mean())

    @property
    def tight(self) -> float:
        """mm, the gap that 19 of 20 trials keep."""
        assert self.gap is not None
        return float(np.quantile(self.gap, TIGHT, method="inverted_cdf"))


def driven(ready: Plan, parts: list[Trials], gaps: bool, points: Mapping[str, float]) -> Driven:
    """Blocks of trials as what they come to. ``points`` are what an act at each target scores."""
    segments = len(ready.run.segments)
    acts = [(g + 1, s.target) for g, s in enumerate(ready.run.segments) if isinstance(s, Act)]
    success, clear, way, gap, scored = [], [], [], [], []
    for block in parts:
        success.append(block.success)
        clear.append(block.clear)
        stop = np.where(block.contact_segment > 0, block.contact_segment, segments + 1)
        stop = np.minimum(stop, np.where(block.ended_segment > 0, block.ended_segment, segments + 1))
        own = np.zeros(len(block))
        for t, (number, target) in enumerate(acts):
            stop = np.minimum(stop, np.where(block.hit[:, t], segments + 1, number))
            own += points.get(target, 0.0) * block.hit[:, t]
        way.append((stop - 1) / segments)
        scored.append(own)
        if gaps:
            wide = np.full(len(block), ready.course.horizon)
            gap.append(block.clearance.min(axis=1) if block.clearance.shape[1] else wide)
    return Driven(
        np.concatenate(success),
        float(np.concatenate(way).mean()),
        np.concatenate(clear),
        np.concatenate(gap) if gaps else None,
        np.concatenate(scored),
        float(sum(ready.seconds)),
    )


@dataclass(frozen=True)
class Aim:
    """What counts. ``need`` is the share that is to be kept where time counts; ``points`` what an act scores."""

    word: Word = "share"
    need: float | None = None
    points: Mapping[str, float] | None = None

    @property
    def gaps(self) -> bool:
        return self.word == "margin"

    def value(self, made: Driven, before: float = 0.0) -> float:
        """How good a run is by this: more is better. ``before`` is the share of the run as written on the same trials:
        more room is not bought with it."""
        near = PROGRESS * made.progress
        match self.word:
            case "share":
                return made.share + near
            case "margin":
                # Where more than 1 in 20 touch something there is no such gap yet.
                room = made.tight + CLEAR * float(made.clear.mean())
                return room + SHARE * made.share - MISSING * max(0.0, before - made.share)
            case "points":
                return float(made.points.mean()) + near
            case _:
                assert self.need is not None
                return -made.seconds - MISSING * max(0.0, self.need - made.share)
