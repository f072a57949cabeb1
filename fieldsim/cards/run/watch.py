"""What to watch on a drive: the tightest gaps, with where on the robot they are, and what goes wrong most often.

Millimetres and degrees; poses and points in the field frame unless they say 'robot frame'.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Annotated

from fieldsim.answers import Perhaps
from fieldsim.cards.run.nearest import nearest_place
from fieldsim.sim.plan import typical_path
from fieldsim.sim.trials import typical
from fieldsim.stats.intervals import Share
from fieldsim.studies.attempt import Tried

# A gap wider than this on a usual drive needs no gauge block. Common practice, no source.
WATCHED_GAP = 50.0
# More gaps, or more troubles, than these are too many to watch in half a minute.
MOST_GAPS = 6
MOST_TROUBLES = 3
# What gaps are called, in their order, on the plan and at the steps; A, B and C are what a ruler measures at the start.
LETTERS = "DEFGHJ"


@dataclass(frozen=True)
class Gap:
    """A tight place to check with a gauge block."""

    letter: Annotated[str, "what the card calls it"]
    step: int
    obstacle: str
    gap: Annotated[float, "mm"]
    """mm that are left with the robot's known bias and no chance: what is seen on a usual drive."""
    planned: Annotated[float, "mm"]
    """mm that are left as programmed."""
    left: Annotated[float | None, "mm"]
    """mm that are left in 19 of 20 trials, over the whole run; None if no trial was done."""
    part: str | None
    """'body' or the attachment that comes nearest; None if that could not be told."""
    place: str | None
    """A corner such as 'rear left corner', or a side such as 'left side'; of the body."""
    side: str | None
    """On which side of the robot the obstacle is then: 'front', 'left', 'right' or 'rear'."""
    at: Annotated[tuple[float, float] | None, "mm, field frame"]
    """Where a gauge block is laid: halfway between the two on a usual drive; None if that could not be told."""
    which: Annotated[str | None, "side of the obstacle"]
    """The side of the obstacle that it is laid at, as the team sees the field, such as 'near left'; None for a wall."""


@dataclass(frozen=True)
class StepRoom:
    """How much room there is on a step that drives."""

    step: int
    planned: Annotated[Perhaps, "mm"]
    left: Annotated[Perhaps, "mm"]
    """mm to the nearest thing that are left in 19 of 20 trials; infinite where nothing can be met."""


@dataclass(frozen=True)
class Trouble:
    """What goes wrong first, and how often: see ``fieldsim.sim.failures.Failure``."""

    why: str
    what: str
    step: int
    count: int
    share: Share


def gaps(tried: Tried) -> tuple[Gap, ...]:
    """The tightest places, each obstacle once, at the step where a usual drive comes nearest to it."""
    ready = tried.ready
    usual = typical(ready)
    path = typical_path(ready)
    answers = {gap.obstacle: gap for gap in tried.answer.clearance}
    near = [
        (float(usual.clearance[0, n]), n)
        for n in range(len(ready.solids))
        if usual.tightest[0, n] > 0 and usual.clearance[0, n] < WATCHED_GAP
    ]
    found = []
    for letter, (gap, n) in zip(LETTERS, sorted(near)[:MOST_GAPS], strict=False):
        name = ready.solids[n].name
        answer = answers.get(name)
        # A robot that comes back on its own track is as near on two steps: take the one that trials tell of.
        for step in (answer.segment if answer else 0, int(usual.tightest[0, n])):
            place = nearest_place(ready, path, n, step, gap) if step else None
            if place is not None:
                break
        planned = answer.nominal if answer and not answer.stands else gap
        left = answer.p05 if answer and tried.answer.trials else None
        planned = planned if isfinite(planned) else gap
        found.append(Gap(letter, step, name, gap, planned, left, *(place or (None,) * 5)))
    return tuple(found)


def rooms(tried: Tried) -> tuple[StepRoom, ...]:
    """The room on each step that drives, as the trials have it."""
    return tuple(StepRoom(each.segment, each.nominal, each.p05) for each in tried.answer.ribbon)


def troubles(tried: Tried) -> tuple[Trouble, ...]:
    """What goes wrong first most often."""
    return tuple(
        Trouble(each.why, each.what, each.segment, each.count, each.share)
        for each in tried.answer.first[:MOST_TROUBLES]
    )
