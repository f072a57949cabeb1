"""The answer of ``fieldsim match --propose`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, as_written, fixed, how_often_shortly, listed, no_proof, spoken
from fieldsim.report.statement import Row, Section, Statement, Table
from fieldsim.report.words.match import points_words

if TYPE_CHECKING:
    from fieldsim.planning.sharing import SharedRunAnswer, SharingAnswer

TITLE_CELLS = 40


def sharing_statement(answer: SharingAnswer) -> Statement:
    """The answer as a statement."""
    name, field = shorten(answer.match, TITLE_CELLS), shorten(answer.field, TITLE_CELLS)
    heads = (tr("run"), tr("gets through"), tr("takes"), tr("from"))
    table = Table(
        heads, tuple(_run(each, number) for number, each in enumerate(answer.runs, start=1)), text_head=heads,
        below_head=tr("what to type"),
    )  # fmt: skip
    return Statement(
        name=tr("{match}: which targets in which run", match=name),
        title=tr_many(
            "{match}: targets shared out among runs, {limit:g} s on {field}; {n} run",
            "{match}: targets shared out among runs, {limit:g} s on {field}; {n} runs",
            len(answer.runs), match=name, limit=answer.limit, field=field,
        ),
        about=tuple(_about(answer)),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=(Section(tr("The runs, in the order in which they are driven"), (table,)),) if answer.runs else (),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )  # fmt: skip


def _run(each: SharedRunAnswer, number: int) -> Row:
    start = tr("by eye") if each.start == "by eye" else shorten(each.start, NAME_CELLS)
    cells = (
        f"{number} {shorten(each.run, TITLE_CELLS)}", how_often_shortly(each.success, each.trials),
        tr("{n} s", n=fixed(each.seconds, 1)), start,
    )  # fmt: skip
    return Row(cells, ("; ".join(each.segments),))


def _about(answer: SharingAnswer) -> Iterator[str]:
    yield tr_many(
        "{n} fresh match, seed {seed}; {routed} runs were routed",
        "{n} fresh matches, seed {seed}; {routed} runs were routed",
        answer.trials, seed=answer.seed, routed=answer.routed,
    )  # fmt: skip
    if answer.interrupted:
        yield tr("Stopped early: this is the best so far.")


def headline(answer: SharingAnswer) -> str:
    """The one sentence: 'With these 3 runs the match scores 81.2 points on average, as it is written 56.5.'"""
    if not answer.runs:
        return tr("No run to any of the targets was found.")
    return tr_many(
        "With this {n} run the match scores {points} points on average; as it is written {now}.",
        "With these {n} runs the match scores {points} points on average; as it is written {now}.",
        len(answer.runs),
        points=points_words(answer.score),
        now=points_words(answer.now),
    )


def _further(answer: SharingAnswer) -> Iterator[str]:
    if not answer.runs:
        return
    yield tr(
        "With a run for each target it would be {single}; more than {bound} cannot be scored at all.",
        single=points_words(answer.single),
        bound=spoken(answer.bound),
    )
    if answer.left_out:
        yield tr("No time is left for: {targets}.", targets=_named(answer.left_out))
    if answer.no_way:
        yield tr("No way was found to: {targets}.", targets=_named(answer.no_way))


def _named(names: tuple[str, ...]) -> str:
    return listed([shorten(name, NAME_CELLS) for name in names])


def _advice(answer: SharingAnswer) -> Iterator[str]:
    if not answer.runs:
        yield tr("See what route says of a single target: --to one of them.")
        return
    yield tr("Save the runs and the match with --save FOLDER; then tune each run, and try it at the table.")
    if answer.score.low <= answer.now.high and answer.now.mean > 0:
        yield tr("Against the match as it is written that is no more than luck may explain.")
    yield tr("Joined runs were looked at two by two, the nearest first: that this is the best there is, is not proved.")
