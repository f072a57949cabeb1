"""A run driven once, without any chance: what `check` says of a plan before a trial is done.

It is driven twice, perfectly and with the robot's known bias: a team may write its numbers against the bias, and then
the perfectly driven plan is not what it means. What goes wrong in both is a mistake of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fieldsim.language import tr
from fieldsim.model import Act, Run, Target, Wait
from fieldsim.model.errors import Complaint
from fieldsim.sim.alignment import complaints
from fieldsim.sim.feasible import impossible
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import Trials, nominal, typical

__all__ = ["Aimed", "Once", "Tight", "driven_once", "mistakes"]

# So many contacts are told at most, one after the other.
MOST_CONTACTS = 4


@dataclass(frozen=True)
class Aimed:
    """Where the tool point is at an act."""

    target: str
    segment: int
    perfect: float
    """mm from the target, driven perfectly."""
    usual: float
    """mm, with the known bias."""
    within: float
    """mm that are allowed."""
    facing: bool
    """It faces the way the target asks for, driven one way or the other."""

    @property
    def hit(self) -> bool:
        return self.facing and min(self.perfect, self.usual) <= self.within


@dataclass(frozen=True)
class Tight:
    """The nearest thing that may not be touched, with the known bias."""

    obstacle: str
    segment: int
    gap: float
    """mm; 0 where it touches."""


@dataclass(frozen=True)
class Once:
    """A run driven once."""

    aimed: tuple[Aimed, ...]
    tight: Tight | None
    """None where nothing is near."""
    touches: tuple[str, int] | None
    """What it touches with the known bias alone, and on which segment."""
    home: bool
    """It ends inside its finish, driven one way or the other."""


def driven_once(run: Run) -> Once:
    """Where the tool comes, what is near and where it ends, of a run that can be driven as planned."""
    ready = plan(run)
    perfect, usual = nominal(ready), typical(ready)
    aimed = []
    acts = [(g, segment) for g, segment in enumerate(run.segments, start=1) if isinstance(segment, Act)]
    for t, (g, act) in enumerate(acts):
        target: Target = next(each for each in run.field.targets if each.name == act.target)
        misses = [float(each.miss[0, t]) for each in (perfect, usual)]
        near = [miss <= target.within for miss in misses]
        # A place that is right and yet no hit can only be the heading's fault.
        facing = not any(near) or any(bool(each.hit[0, t]) for each in (perfect, usual))
        aimed.append(Aimed(act.target, g, misses[0], misses[1], target.within, facing))
    contact = _contact(usual)
    column = int(usual.clearance[0].argmin()) if usual.clearance.shape[1] else None
    tight = None
    if column is not None and usual.clearance[0, column] < ready.course.horizon:
        name = ready.solids[int(usual.obstacles[column])].name
        tight = Tight(name, int(usual.tightest[0, column]), float(usual.clearance[0, column]))
    return Once(tuple(aimed), tight, contact, bool(perfect.home[0] or usual.home[0]))


def _contact(trial: Trials) -> tuple[str, int] | None:
    o = int(trial.contact_obstacle[0])
    return (trial.plan.solids[o].name, int(trial.contact_segment[0])) if o >= 0 else None


def mistakes(run: Run) -> Iterator[Complaint]:
    """What goes wrong with the plan itself: it begins in something, a square or line is not caught, or it touches
    something on its way, driven perfectly and with the robot's known bias."""
    found = list(impossible(run))
    yield from found
    if found or list(complaints(run)):
        return
    for _ in range(MOST_CONTACTS):
        ready = plan(run)
        both = [_contact(trial) for trial in (nominal(ready), typical(ready))]
        if None in both:
            return
        name, segment = both[1] or both[0] or ("", 0)
        if any(thing.drop and thing.name == name for thing in ready.solids):
            yield Complaint(
                ("segments", segment - 1),
                tr("leaves the field at the {edge} when it is driven as planned", edge=name),
                tr("change the way"),
            )
            return
        yield Complaint(
            ("segments", segment - 1),
            tr("touches {thing} when it is driven as planned", thing=name),
            tr("change the way, or write 'may_touch: [{thing}]' if that is meant", thing=name),
        )
        # What it would touch after that, as if that were allowed.
        there = run.segments[segment - 1]
        if isinstance(there, Act | Wait):
            return
        allowed = replace(there, may_touch=(*there.may_touch, name))
        run = replace(run, segments=(*run.segments[: segment - 1], allowed, *run.segments[segment:]))
