"""The answer of ``fieldsim log`` in words."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.language import tr, tr_many
from fieldsim.logbook.answer import (
    LEAST_POINTING,
    LEAST_SCORED,
    LogAnswer,
)
from fieldsim.report.statement import Section, Statement, statement_text
from fieldsim.report.words.logbook.advice import log_advice
from fieldsim.report.words.logbook.pointed import pointed_parts
from fieldsim.report.words.logbook.runs import run_section
from fieldsim.report.words.logbook.scores import score_parts
from fieldsim.report.words.logbook.verdict import headline, sure_words


def logbook_text(answer: LogAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end. ``width`` in terminal cells; below 40 it is taken as 40."""
    return statement_text(logbook_statement(answer), width)


def logbook_statement(answer: LogAnswer) -> Statement:
    """The answer as a statement."""
    found = [run_section(run, alone=len(answer.runs) == 1) for run in answer.runs]
    if answer.drives:
        found.append(Section(tr("What the log points at"), tuple(pointed_parts(answer))))
    if answer.scores is not None and answer.drives >= LEAST_SCORED:
        found.append(Section(tr("Scores of the forecasts: 0 is best"), tuple(score_parts(answer, answer.scores))))
    closing = (tr("A few drives prove little: it is the interval that says how little."),)
    return Statement(
        name=tr("The log against the forecast"),
        title=tr("The log against the forecast"),
        about=(about_words(answer),),
        headline=headline(answer),
        further=tuple(_meanings(answer)),
        sections=tuple(found),
        advice=tuple(log_advice(answer)),
        closing=closing if answer.drives >= LEAST_POINTING else (),
    )


def about_words(answer: LogAnswer) -> str:
    return tr_many(
        "{drives}; {n} trial of each forecast, seed {seed}",
        "{drives}; {n} trials of each forecast, seed {seed}",
        answer.trials,
        drives=_drives(answer),
        seed=answer.seed,
    )


def _drives(answer: LogAnswer) -> str:
    drives = tr_many("{n} drive", "{n} drives", answer.drives)
    if answer.days and not answer.undated:
        return tr_many("{drives} on {n} day", "{drives} on {n} days", answer.days, drives=drives)
    return drives


def _meanings(answer: LogAnswer) -> Iterator[str]:
    """What the words mean, and what holds for all of the answer."""
    if answer.together is None:
        return
    if answer.drives >= LEAST_POINTING:
        yield tr(
            "A drive is a run at the table, a trial is a simulated one. 'Between' is where the true share is in 19 of "
            "20 cases, if every drive is for itself."
        )
    if answer.undated > 1:
        yield tr(
            "{n} drives have no date. They are taken to be of one day, which is the careful side.", n=answer.undated
        )
    if len(answer.runs) > 1:
        yield tr("All runs together: {sure}", sure=sure_words(answer.together))
    if len(answer.runs) > 2:
        yield tr(
            "Luck alone makes up to 50 of 1000 honest runs look wrong. Here are {n} runs: one odd verdict among them "
            "is no great surprise.",
            n=len(answer.runs),
        )
