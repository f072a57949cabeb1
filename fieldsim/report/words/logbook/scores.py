"""Scores of the forecasts, beside those of an honest one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.report.phrases import fixed
from fieldsim.report.statement import Part, Table, rows
from fieldsim.report.words.logbook.verdict import chance_words

if TYPE_CHECKING:
    from fieldsim.logbook.answer import (
        LogAnswer,
        Score,
        Scores,
    )


def _score_row(name: str, score: Score) -> tuple[str, str, str]:
    honest = tr(
        "an honest one: {expected} ({low} to {high})",
        expected=fixed(score.expected, 3),
        low=fixed(score.low, 3),
        high=fixed(score.high, 3),
    )
    return name, fixed(score.value, 3), honest


def score_parts(answer: LogAnswer, scores: Scores) -> Iterator[Part]:
    # What an honest forecast gets depends on what is open of the robot.
    if answer.together is not None and answer.together.fits is not None:
        yield tr("An honest forecast here is one of a robot that fits the tests, whichever that is.")
    yield Table(
        (tr("score"), tr("this log"), tr("an honest forecast")),
        rows([_score_row(tr("Brier score"), scores.brier), _score_row(tr("log score"), scores.log)]),
    )
    inside = all(score.low <= score.value <= score.high for score in (scores.brier, scores.log))
    if inside:
        yield tr("Both are what an honest forecast gets in 19 of 20 logs.")
    elif scores.brier.value > scores.brier.high or scores.log.value > scores.log.high:
        yield tr(
            "That is worse than an honest forecast gets in 19 of 20 logs: what happened was forecast as rare too often."
        )
    else:
        yield tr(
            "That is better than an honest forecast gets in 19 of 20 logs: it is less sure of itself than it could be."
        )
    if scores.z is not None and scores.p_value is not None:
        told = {"z": fixed(scores.z, 2), "chance": chance_words(scores.p_value)}
        if scores.z >= 0:
            yield tr(
                "Spiegelhalter's z: {z}. So many standard deviations is the Brier score above what is expected, if "
                "every drive is for itself. An honest forecast is as far off in {chance} with days like these.",
                **told,
            )
        else:
            yield tr(
                "Spiegelhalter's z: {z}. So many standard deviations is the Brier score below what is expected, if "
                "every drive is for itself. An honest forecast is as far off in {chance} with days like these.",
                **told,
            )
    yield tr(
        "What they mean: a forecast of 0.8 is 0.2 off a drive that gets through, and 0.8 off one that does not. The "
        "Brier score is the mean square of that. The log score is hard on forecasts that are sure and wrong."
    )
