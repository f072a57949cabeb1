"""The answer of ``fieldsim compare`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    NAME_CELLS,
    as_written,
    fewer_words,
    fixed,
    how_often,
    left_open,
    lost_words,
    more_words,
    no_proof,
    robots_words,
)
from fieldsim.report.statement import Part, Section, Statement, Table, rows, statement_text

if TYPE_CHECKING:
    from fieldsim.studies.compare import CompareAnswer, DifferenceAnswer
    from fieldsim.studies.own import LostAnswer

TITLE_CELLS = 40


def compare_text(answer: CompareAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(compare_statement(answer), width)


def compare_statement(answer: CompareAnswer) -> Statement:
    """The answer as a statement."""
    told = []
    for run in answer.runs:
        seconds = tr("{time} s", time=fixed(run.seconds, 1)) if run.seconds == run.seconds else ""
        where = tr("{robot} on {field}", robot=shorten(run.robot, NAME_CELLS), field=shorten(run.field, NAME_CELLS))
        told.append((shorten(run.run, NAME_CELLS), how_often(run.success, answer.trials), seconds, where))
    heads = (tr("run"), tr("gets through"), tr("takes"), tr("what drives where"))
    found = [Section(tr("The runs"), (Table(heads, rows(told)),))]
    for pair in answer.differences:
        parts = [
            *_only(pair.only_first, pair.first, pair.second, pair.second_lost),
            *_only(pair.only_second, pair.second, pair.first, pair.first_lost),
        ]
        found.append(Section(_against(pair), tuple(parts)))
    first, *others = map(difference_words, answer.differences)
    return Statement(
        name=tr("Runs compared"),
        title=tr("Runs compared"),
        about=(
            tr_many(
                "{n} trial of each, seed {seed}, on the same draws",
                "{n} trials of each, seed {seed}, on the same draws",
                answer.trials,
                seed=answer.seed,
            ),
        ),
        headline=first,
        further=tuple(others),
        sections=tuple(found),
        closing=(as_written(), no_proof()),
    )


def _against(pair: DifferenceAnswer) -> str:
    return tr("{one} against {other}", one=shorten(pair.first, NAME_CELLS), other=shorten(pair.second, NAME_CELLS))


def difference_words(pair: DifferenceAnswer) -> str:
    """'A against B: 25 in 1000 more get through (between 15 and 34): A is truly better.'"""
    first, second = shorten(pair.first, NAME_CELLS), shorten(pair.second, NAME_CELLS)
    share = pair.difference
    sign = -1 if share.share < 0 else 1
    low, high = sorted((sign * share.low, sign * share.high))
    if pair.truly == 0:
        verdict = tr("that may be luck, take the one you like better")
    elif pair.holds is not None and left_open(pair.holds):
        verdict = tr(
            "{run} is better with the robot as written, but only for {robots} robots that fit your tests, so they "
            "leave it open",
            run=first if pair.truly > 0 else second,
            robots=robots_words(pair.holds),
        )
    else:
        verdict = tr("{run} is truly better", run=first if pair.truly > 0 else second)
    more = fewer_words if sign < 0 else more_words
    often = more(abs(share.share), low, high)
    return tr("{pair}: {often}: {verdict}.", pair=_against(pair), often=often, verdict=verdict)


def _only(count: int, one: str, other: str, reasons: tuple[LostAnswer, ...]) -> Iterator[Part]:
    one, other = shorten(one, NAME_CELLS), shorten(other, NAME_CELLS)
    if not count:
        yield tr("No trial gets through only as {one}.", one=one)
        return
    yield tr_many(
        "{n} trial gets through only as {one}. {other} there:",
        "{n} trials get through only as {one}. {other} there:",
        count,
        one=one,
        other=other,
    )
    told = (
        (lost_words(lost), str(lost.count), tr("such as trial {numbers}", numbers=", ".join(map(str, lost.examples))))
        for lost in reasons
    )
    yield Table((tr("what goes wrong"), tr("trials"), tr("which")), rows(told))
