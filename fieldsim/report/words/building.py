"""The answer of ``fieldsim jigs FIELD --to TARGET`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    NAME_CELLS,
    as_written,
    fixed,
    how_often,
    how_often_shortly,
    listed,
    no_proof,
    signed,
)
from fieldsim.report.statement import Part, Section, Statement, Table, rows
from fieldsim.report.words.anywhere import built_where, by_ruler, places_table, write_it
from fieldsim.report.words.route import proof_words, weakest_words

if TYPE_CHECKING:
    from fieldsim.planning.building import BuildAnswer
    from fieldsim.planning.route import ProposalAnswer

TITLE_CELLS = 40


def building_statement(answer: BuildAnswer) -> Statement:
    """The answer as a statement."""
    robot, field = shorten(answer.robot, TITLE_CELLS), shorten(answer.field, TITLE_CELLS)
    sections = []
    told = [(tr("best"), answer.best), (tr("now"), answer.now)]
    places = [(name, place) for name, place in told if place is not None]
    if places:
        sections.append(Section(tr("Where the body stands"), (places_table(places, answer.trials),)))
    if answer.way is not None:
        sections.append(_way(tr("The run from the best place"), answer.way, answer))
    if answer.now_way is not None:
        heading = tr("The best run from a jig of the field: {jig}", jig=shorten(answer.now_way.start, NAME_CELLS))
        sections.append(_way(heading, answer.now_way, answer))
    return Statement(
        name=picture_title(answer),
        title=tr("{field}: where to build a jig for {robot} to get to {where}", field=field, robot=robot,
                 where=_where(answer)),
        about=tuple(_about(answer)),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=tuple(sections),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )  # fmt: skip


def picture_title(answer: BuildAnswer) -> str:
    return tr("A jig for {where}", where=_where(answer))


def _where(answer: BuildAnswer) -> str:
    return listed([shorten(name, NAME_CELLS) for name in (answer.targets or (answer.finish or "",))])


def _areas(answer: BuildAnswer) -> str:
    return listed([shorten(name, NAME_CELLS) for name in answer.areas])


def _about(answer: BuildAnswer) -> Iterator[str]:
    if answer.wear:
        wearing = listed([shorten(name, NAME_CELLS) for name in answer.wear])
        yield tr("in {areas}, with {wear} on", areas=_areas(answer), wear=wearing)
    else:
        yield tr("in {areas}, without attachments", areas=_areas(answer))
    yield tr_many(
        "a run was looked for from {n} start at once; then its start was moved: {looked} places were driven from",
        "a run was looked for from {n} starts at once; then its start was moved: {looked} places were driven from",
        answer.starts, looked=answer.looked,
    )  # fmt: skip
    if answer.best is not None:
        yield tr_many(
            "told of {n} fresh trial, seed {seed}: those that try drives",
            "told of {n} fresh trials, seed {seed}: those that try drives",
            answer.trials,
            seed=answer.seed,
        )
    if answer.interrupted:
        yield tr("Stopped early: this is the best so far.")


def headline(answer: BuildAnswer) -> str:
    """The one sentence: 'Build a jig so that the body is 230 mm from ...: 999 in 1000 ... instead of 990.'"""
    if answer.proof is not None:
        return proof_words(answer.proof)
    if answer.best is None or answer.way is None:
        return tr("No way was found; that is no proof that there is none.")
    if not answer.better and answer.now_way is not None:
        return tr(
            "No place in {areas} is truly better than {jig}, which the field has.",
            areas=_areas(answer), jig=shorten(answer.now_way.start, NAME_CELLS),
        )  # fmt: skip
    often, where = how_often(answer.best.success, answer.trials), by_ruler(answer.best)
    if answer.now is None or answer.now_way is None:
        return tr("Build a jig {where}: from there it gets through {often}.", where=where, often=often)
    return tr(
        "Build a jig {where}: from there it gets through {often}; from {jig}, {now}.",
        where=where, often=often, jig=shorten(answer.now_way.start, NAME_CELLS),
        now=how_often_shortly(answer.now.success, answer.trials),
    )  # fmt: skip


def _further(answer: BuildAnswer) -> Iterator[str]:
    best, way = answer.best, answer.way
    if best is None or way is None:
        return
    if not answer.better and answer.now is not None and answer.now_way is not None:
        yield tr(
            "From there it gets through {often}; the best place that was found: {best}.",
            often=how_often(answer.now.success, answer.trials), best=how_often_shortly(best.success, answer.trials),
        )  # fmt: skip
    if answer.difference is not None:
        gain = answer.difference
        yield tr(
            "On the same trials the best place wins {gain} in 1000 against the field's own jigs (between {low} and "
            "{high}).",
            gain=signed(gain.share * 1000, 0), low=signed(gain.low * 1000, 0), high=signed(gain.high * 1000, 0),
        )  # fmt: skip
    if answer.now_way is not None:
        slower = way.seconds - answer.now_way.seconds
        if slower >= 0.1:
            yield tr("It takes {s} s longer.", s=fixed(slower, 1))
        elif slower <= -0.1:
            yield tr("It takes {s} s less.", s=fixed(-slower, 1))
    yield from built_where(answer.patch)
    if answer.meets_need is not None and answer.need is not None:
        wanted = answer.need * 1000
        if answer.meets_need:
            yield tr("Wanted: {wanted:.4g} in 1000; the best place meets that.", wanted=wanted)
        else:
            yield tr("Wanted: {wanted:.4g} in 1000; the best place does not meet that.", wanted=wanted)


def _way(title: str, way: ProposalAnswer, answer: BuildAnswer) -> Section:
    often = tr(
        "{often}, {seconds} s.", often=how_often_shortly(way.success, answer.trials), seconds=fixed(way.seconds, 1)
    )
    typed = rows((str(n), words) for n, words in enumerate(way.segments, start=1))
    parts: tuple[Part, ...] = (
        " ".join([way.words, often, weakest_words(way)]),
        Table((tr("segment"), tr("what to type")), typed),
    )
    return Section(title, parts)


def _advice(answer: BuildAnswer) -> Iterator[str]:
    if answer.proof is not None:
        yield tr("Make the way wider, take a narrower robot, or go for another target.")
        return
    if answer.best is None:
        yield tr("Try another start area with --area, or another attachment with --wear.")
        return
    if answer.better:
        yield from write_it(answer.best)
        yield tr("--save FOLDER writes the field with this jig and the run from it, ready for try, watch and card.")
        yield tr("The jig's own block is not in the plan: keep it out of the robot's way, and draw it into the field.")
        yield tr("Whether a jig may stand there is for the event's rules to say.")
    if not answer.wear:
        yield tr("The robot wears nothing here. If a target needs a tool, name it with --wear.")
