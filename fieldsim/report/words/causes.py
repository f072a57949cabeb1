"""The answer of ``fieldsim causes`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten
from fieldsim.report.advice import remedy_advice
from fieldsim.report.phrases import (
    as_written,
    fixed,
    how_often,
    left_open,
    more_words,
    no_proof,
    per_mille,
    robots_words,
    trials_words,
)
from fieldsim.report.statement import Part, Section, Statement, Table, rows, statement_text
from fieldsim.rounding import rounded_down, rounded_up

if TYPE_CHECKING:
    from fieldsim.studies.causes import CausesAnswer, FailureAnswer, SourceAnswer

TITLE_CELLS = 40

# Sources told for each thing, those that make less of it than this left out; failures told.
SOURCES = 4
SMALL_PART = 0.03
FAILURES = 8


def causes_text(answer: CausesAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(causes_statement(answer), width)


def causes_statement(answer: CausesAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    shown = rows(
        (
            source_words(each.source, each.segment),
            tr(
                "{share:.0f} in 1000 more ({between})",
                share=each.worth.share * 1000,
                between=per_mille(each.worth.low, each.worth.high),
            ),
            tr("alone {share} in 1000", share=fixed(each.alone.share * 1000, 0)),
        )
        for each in [each for each in answer.failures if each.worth.low > 0][:FAILURES]
    )
    fails: Part = Table((tr("error"), tr("get through without it"), tr("fail with it alone")), shown)
    found = [
        Section(
            tr("What the failures come from"),
            (
                fails if shown else tr("no single one is more than luck"),
                *(
                    [
                        tr(
                            "First number: how many more get through without this error. Second: how many fail if it "
                            "is the only one."
                        )
                    ]
                    if shown
                    else []
                ),
            ),
        )
    ]
    good = answer.remedies.good if answer.remedies is not None else ()
    if good:
        worth = rows((each.what, more_words(each.worth.share, each.worth.low, each.worth.high)) for each in good)
        found.append(Section(tr("What a change is worth"), (Table((tr("change"), tr("worth")), worth),)))
    spread = []
    for of, group in groupby(answer.spread, key=lambda each: each.of):
        sd, unit = next((sd, unit) for name, sd, unit in answer.sds if name == of)
        give = tr("give or take {size} {unit}", size=fixed(sd, 1), unit=tr(unit))
        spread.append((of, give, _parts(list(group))))
    title = tr("What the spread comes from: shares of the variance, with all each has a hand in (so they may overlap)")
    found.append(Section(title, (Table((tr("what"), tr("spread"), tr("from")), rows(spread)),)))
    return Statement(
        name=tr("{run}: what breaks it", run=run),
        title=tr(
            "{run}: {robot} on {field}. What makes it fail, and what makes its spread?",
            run=run,
            robot=robot,
            field=field,
        ),
        about=(trials_words(answer.own_trials, answer.trials, answer.seed),),
        headline=tr("It gets through {often}.", often=how_often(answer.success, answer.own_trials)),
        further=() if answer.quiet else (tr("It fails without any noise, too: mend the plan first (see try)."),),
        sections=tuple(found),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def causes_headline(answer: CausesAnswer) -> str:
    """The one sentence, for a picture."""
    if not answer.failures or answer.failures[0].worth.low <= 0:
        return tr("No single error breaks the run: it is the sum of many small ones, or the plan itself.")
    first = answer.failures[0]
    what = _error_words(first)
    if first.holds is not None and left_open(first.holds):
        return tr(
            "What breaks the run most often with the robot as written: {source}. So it is for {robots} robots that fit "
            "your tests; they leave it open.",
            source=what, robots=robots_words(first.holds),
        )  # fmt: skip
    return tr("What breaks the run most often: {source}.", source=what)


# What each kind of noise does, as a team sees it.
ERRORS = {
    "distance": tr_later("segment {number} comes out a little longer or shorter each time"),
    "veer": tr_later("segment {number} bends a little to the left or to the right"),
    "stop": tr_later("segment {number} does not stop exactly"),
    "slip": tr_later("the wheels slip on segment {number}, so it turns a little more or less each time"),
    "hold": tr_later("on segment {number} the gyro holds the heading only so well"),
    "time": tr_later("segment {number} takes longer or shorter each time"),
    "sight": tr_later("on segment {number} the sensor sees the line a little sooner or later"),
    "placing-along": tr_later("the robot is set a little too far ahead or behind at the start"),
    "placing-across": tr_later("the robot is set a little too far to the side at the start"),
    "placing-heading": tr_later("the robot is set a little askew at the start"),
    "day-distance": tr_later("from day to day it drives a little farther or shorter"),
    "day-veer": tr_later("from day to day its straights bend differently"),
    "day-turn": tr_later("from day to day it turns a little more or less"),
    "gyro-drift": tr_later("the gyro drifts"),
    "gyro-scale": tr_later("the gyro reads turns a little too large or too small"),
    "square-heading": tr_later("after the square of segment {number} it still stands a little askew"),
    "square-along": tr_later("after the square of segment {number} it stands a little nearer or farther"),
}


def _error_words(failure: FailureAnswer) -> str:
    words = ERRORS.get(failure.kind)
    return tr(words, number=failure.segment) if words else source_words(failure.source, failure.segment)


def source_words(source: str, segment: int) -> str:
    """'slip in the turn, segment 4'."""
    return tr("{source}, segment {number}", source=source, number=segment) if segment else source


def _parts(sources: list[SourceAnswer]) -> str:
    told = [each for each in sources if each.total >= SMALL_PART][:SOURCES]
    words = [
        tr(
            "{source} {share} % ({low} to {high})",
            source=source_words(each.source, each.segment),
            share=fixed(each.total * 100, 0), low=rounded_down(each.total_low * 100),
            high=rounded_up(each.total_high * 100),
        )
        for each in told
    ]  # fmt: skip
    return "; ".join(words) or tr("many small sources")


def _advice(answer: CausesAnswer) -> Iterator[str]:
    yield causes_headline(answer)
    if answer.remedies is not None:
        yield from remedy_advice(answer.remedies)
