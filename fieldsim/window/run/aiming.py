"""What is shown of the act or target that is picked: where the tool point is in all trials, and how often it is met."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Act
from fieldsim.model.errors import shown as harmless
from fieldsim.report.phrases import how_often_shortly, spoken
from fieldsim.report.words.single import off_words, whole
from fieldsim.studies.answer import TargetAnswer, TryAnswer
from fieldsim.studies.single import Shots, shots
from fieldsim.window.paint.scene import NumberRow, Numbers, Shot

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = ["Aiming", "acts_at", "target_numbers"]


def acts_at(session: RunSession) -> tuple[int, ...]:
    """The acts that are looked at, as segments from 1: the one that is picked, or all at the target that is."""
    segments = session.run.segments
    if isinstance(session.place, int):
        return (session.place + 1,) if isinstance(segments[session.place], Act) else ()
    if session.thing is None:
        return ()
    return tuple(
        g for g, segment in enumerate(segments, start=1) if isinstance(segment, Act) and segment.target == session.thing
    )


class Aiming:
    """The shots of the trials that are shown; counted once for each of them."""

    def __init__(self) -> None:
        self._of: object = None
        self._found: dict[int, Shots] = {}

    def shots(self, session: RunSession) -> tuple[Shot, ...]:
        shown = session.shown
        if shown is None or shown.first is None or shown.answer is None or not session.close_behind:
            return ()
        if shown is not self._of:
            self._of, self._found = shown, {}
        found = []
        for segment in acts_at(session):
            answer = _answer_of(shown.answer, segment)
            if answer is None:
                continue
            if segment not in self._found:
                self._found[segment] = shots(shown.first, segment)
            found.append(Shot(self._found[segment], shot_words(answer, self._found[segment], shown.answer.trials)))
        return tuple(found)


def shot_words(answer: TargetAnswer, of: Shots, trials: int) -> tuple[str, ...]:
    """How often it is met, and by how much the plan itself is off."""
    return (
        tr("in place {often}", often=how_often_shortly(answer.share, trials)),
        tr("the plan: {off}", off=off_words(of.plan.ahead, of.plan.left)),
    )


def _answer_of(answer: TryAnswer, segment: int) -> TargetAnswer | None:
    return next((target for target in answer.targets if target.segment == segment), None)


def target_numbers(session: RunSession, name: str) -> Numbers:
    """What is told of a target that is picked."""
    shown = session._fresh()
    target = next(each for each in session.run.field.targets if each.name == name)
    allowed = NumberRow(tr("allowed"), tr("{distance} mm", distance=spoken(target.within)), plain=True)
    acts = acts_at(session)
    if not acts:
        return Numbers(harmless(name), tr("no act of this run is for it"), (allowed,))
    if shown is None or shown.answer is None:
        return Numbers(harmless(name), tr("counting"), (allowed,))
    rows = []
    for segment in acts:
        answer = _answer_of(shown.answer, segment)
        if answer is None:
            continue
        often = how_often_shortly(answer.share, shown.answer.trials)
        rows.append(NumberRow(tr("met, segment {number}", number=segment), often, plain=True))
        for label, value in (
            (tr("off as planned"), answer.nominal_miss),
            (tr("off in half the trials"), answer.miss_median),
            (tr("in 19 of 20 at most"), answer.miss_p95),
        ):
            if value is not None:
                rows.append(NumberRow(label, tr("{distance} mm", distance=whole(value)), plain=True))
    return Numbers(harmless(name), tr("a target: how often its acts are in place"), (*rows, allowed))
