"""What keeps a run from being driven as planned: a start in something, a square or a line that is not caught."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import ceil

from fieldsim.language import tr, tr_later
from fieldsim.model import Alignment, Run
from fieldsim.model.errors import Complaint
from fieldsim.sim.alignment import complaints
from fieldsim.sim.drivetrain import drivetrain, perfect
from fieldsim.sim.kernel.course import ALREADY_UNDER, CAUGHT, NOT_BORNE, NOT_REACHED, TOO_SKEW
from fieldsim.sim.path import noiseless
from fieldsim.sim.plan import overlaps, plan

__all__ = ["impossible", "unreached"]

# To tell how much farther a square or line is than it may drive, it is tried this far, mm.
FAR = 5000.0


def impossible(run: Run) -> Iterator[Complaint]:
    """What keeps a run from being driven as planned: it begins in something, or a square or line is not caught."""
    wrong = list(complaints(run))
    if not wrong:
        for name, deep in overlaps(plan(run)):
            yield Complaint(
                ("start",),
                tr("would set the robot {deep:g} mm into {thing}", deep=round(max(deep, 0.1), 1), thing=name),
                tr("move the start, or see whether the robot is wider or longer than there is room"),
            )
    yield from unreached(run)


def unreached(run: Run) -> Iterator[Complaint]:
    """Squares and lines that the run does not catch, neither driven perfectly nor with the robot's known bias."""
    wrong = list(complaints(run))
    if wrong:
        yield from wrong
        return
    train = drivetrain(run)
    biased = noiseless(train.wheels, train.alignments, train.rows)
    if (biased.endings == CAUGHT).all():
        return
    planned = noiseless(perfect(train.wheels), train.alignments, train.rows)
    for index, segment in enumerate(run.segments):
        m = train.alignments.of[index]
        if m < 0 or CAUGHT in (planned.endings[m], biased.endings[m]):
            continue
        why = int(biased.endings[m])
        assert isinstance(segment, Alignment)
        key = segment.place
        if why != NOT_REACHED:
            words = tr("is not caught when the run is driven as planned: {reason}", reason=tr(REASONS[why]))
            yield Complaint(("segments", index, key), words)
            return
        reach = segment.reach
        far = replace(segment, reach=FAR if reach > 0 else -FAR)
        segments = (*run.segments[:index], far, *run.segments[index + 1 :])
        other = drivetrain(replace(run, segments=segments))
        longer = noiseless(other.wheels, other.alignments, other.rows)
        if longer.endings[m] == CAUGHT:
            words = tr(
                "is {reach:g} mm, and it takes about {needed} mm to get there",
                reach=abs(reach),
                needed=ceil(longer.driven[m]),
            )
            yield Complaint(("segments", index, "reach"), words, tr("give it some more than that"))
        else:
            words = tr("is not in its way there: however far it drives, it is not caught")
            hint = tr("see where the robot stands and looks before this segment, and which way it drives")
            yield Complaint(("segments", index, key), words, hint)
        # What comes after it cannot be told.
        return


REASONS = {
    TOO_SKEW: tr_later("the robot comes to it too skew"),
    NOT_BORNE: tr_later("the whole face does not find room on it"),
    ALREADY_UNDER: tr_later("the sensor is over the line before it begins to look"),
}
