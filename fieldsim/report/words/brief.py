"""The answer of ``fieldsim try`` on a first screen of 24 lines: how often, the tightest place, the time, what goes
wrong first, and the advice that is worth most. ``--details`` says all of it too, in the same numbers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten
from fieldsim.report.advice import advice_in_brief
from fieldsim.report.phrases import (
    NAME_CELLS,
    ceiled,
    fixed,
    headline,
    left_gap,
    near_gaps,
    no_proof,
    planned_gap,
    start_words,
)
from fieldsim.report.statement import Statement
from fieldsim.report.words.attempt import TITLE_CELLS, about_success, about_trials, failures_section

if TYPE_CHECKING:
    from fieldsim.studies.answer import TryAnswer

__all__ = ["brief_statement"]

FAILURES_SHOWN = 3


def brief_statement(answer: TryAnswer) -> Statement:
    """The answer in few words."""
    run, robot = shorten(answer.run, TITLE_CELLS), shorten(answer.robot, TITLE_CELLS)
    field, start = shorten(answer.field, TITLE_CELLS), start_words(answer.start, TITLE_CELLS)
    head = headline(answer)
    found = []
    if answer.first:
        found.append(failures_section(answer, FAILURES_SHOWN))
    return Statement(
        name=run,
        title=tr("{run}: {robot} on {field}, from {start}", run=run, robot=robot, field=field, start=start),
        about=tuple(about_trials(answer)),
        headline=f"{head[0].upper()}{head[1:]}.",
        further=(*about_success(answer, brief=True), *_tight_and_time(answer)),
        sections=tuple(found),
        advice=tuple(advice_in_brief(answer)),
        closing=(no_proof(), tr("--details tells the rest.")),
        good=answer.meets_need,
    )


def _tight_and_time(answer: TryAnswer) -> Iterator[str]:
    near = near_gaps(answer)
    if near and answer.trials:
        gap = near[0]
        words = (
            tr_later("Tightest: {name}, {left} left in 19 of 20 trials (planned: {planned}).")
            if gap.p05 > 0
            else tr_later("Tightest: {name}, touched in at least 1 of 20 trials (planned: {planned}).")
        )
        yield tr(
            words,
            name=shorten(gap.obstacle, NAME_CELLS), left=left_gap(gap, answer.horizon, bare=True),
            planned=planned_gap(gap.nominal, answer.horizon, gap.stands),
        )  # fmt: skip
    elif answer.clearance and not near:
        yield tr("Nothing comes nearer than {gap:g} mm.", gap=answer.horizon)
    time = answer.time
    if time.p95 is not None and time.mean is not None:
        yield tr(
            "Time: {time} s on average, in 19 of 20 trials at most {most} s.",
            time=fixed(time.mean, 1), most=ceiled(time.p95, 1),
        )  # fmt: skip
