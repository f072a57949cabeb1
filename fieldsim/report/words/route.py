"""The answer of ``fieldsim route`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, as_written, fixed, how_often, how_often_shortly, listed, no_proof
from fieldsim.report.statement import Part, Section, Statement, Table, rows

if TYPE_CHECKING:
    from fieldsim.planning.nothing_through import ProofAnswer
    from fieldsim.planning.route import ProposalAnswer, RouteAnswer

TITLE_CELLS = 40


def route_statement(answer: RouteAnswer) -> Statement:
    """The answer as a statement."""
    robot, field = shorten(answer.robot, TITLE_CELLS), shorten(answer.field, TITLE_CELLS)
    return Statement(
        name=tr("{field}: a run to {where}", field=field, where=_where(answer)),
        title=tr("{field}: how {robot} could get to {where}", field=field, robot=robot, where=_where(answer)),
        about=tuple(_about(answer)),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=tuple(_proposal(answer, number) for number in range(len(answer.proposals))),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def _where(answer: RouteAnswer) -> str:
    return listed([shorten(name, NAME_CELLS) for name in (answer.targets or (answer.finish or "",))])


def _about(answer: RouteAnswer) -> Iterator[str]:
    looked = answer.looked
    wearing = listed([shorten(name, NAME_CELLS) for name in answer.wear])
    if answer.wear:
        yield tr("from {starts}, with {wear} on", starts=_starts(answer), wear=wearing)
    else:
        yield tr("from {starts}, without attachments", starts=_starts(answer))
    if answer.proof is None:
        yield tr(
            "looked at {moves} moves between {places} places: {ways} ways, and {trials} trials to choose among them",
            moves=looked.moves, places=looked.places, ways=looked.ways, trials=looked.trials,
        )  # fmt: skip
    if answer.proposals:
        yield tr_many(
            "the shares are of {n} fresh trial of each, seed {seed}: those that try drives",
            "the shares are of {n} fresh trials of each, seed {seed}: those that try drives",
            answer.trials,
            seed=answer.seed,
        )
    if answer.interrupted:
        yield tr("Stopped early: this is the best so far.")


def _starts(answer: RouteAnswer) -> str:
    names = [tr("a start by eye") if name == "by eye" else shorten(name, NAME_CELLS) for name in answer.starts]
    names = list(dict.fromkeys(names))
    return listed(names) if len(names) < 3 else tr_many("{n} start", "{n} starts", len(names))


def headline(answer: RouteAnswer) -> str:
    """The one sentence: 'The best of 3 ways gets through 994 in 1000 (...) in 7.9 s.'"""
    if answer.proof is not None:
        return proof_words(answer.proof)
    if not answer.proposals:
        return tr("No way was found; that is no proof that there is none.")
    best = answer.proposals[0]
    return tr_many(
        "One way was found: it gets through {often}, in {seconds} s.",
        "The best of {n} ways gets through {often}, in {seconds} s.",
        len(answer.proposals),
        often=how_often(best.success, answer.trials),
        seconds=fixed(best.seconds, 1),
    )


def proof_words(proof: ProofAnswer) -> str:
    """Why there is no way at all."""
    if proof.widest < 1.0:
        return tr("There is no way to {to}: it is closed off all round.", to=shorten(proof.to, NAME_CELLS))
    return tr(
        "There is no way to {to}: the widest is {widest} mm, between {between}, and the body needs {needs} mm.",
        to=shorten(proof.to, NAME_CELLS),
        widest=fixed(proof.widest, 0),
        between=listed([shorten(name, NAME_CELLS) for name in proof.between]),
        needs=fixed(proof.needs, 0),
    )


def _further(answer: RouteAnswer) -> Iterator[str]:
    if answer.proof is not None:
        x, y = answer.proof.at
        yield tr(
            "That is proved: even a disc as large as fits into the body does not get through. The narrowest place is "
            "near x {x}, y {y}.",
            x=fixed(x, 0),
            y=fixed(y, 0),
        )
    if answer.meets_need is not None and answer.need is not None:
        wanted = answer.need * 1000
        if answer.meets_need:
            yield tr("Wanted: {wanted:.4g} in 1000; the best way meets that.", wanted=wanted)
        else:
            yield tr("Wanted: {wanted:.4g} in 1000; the best way does not meet that.", wanted=wanted)


def in_short(proposal: ProposalAnswer, trials: int) -> str:
    """'Sets its back ... 987 in 1000, 10 s. It stands or falls with segment 5, turn right 29 degrees.'"""
    often = tr(
        "{often}, {seconds} s.", often=how_often_shortly(proposal.success, trials), seconds=fixed(proposal.seconds, 1)
    )
    return " ".join([proposal.words, often, weakest_words(proposal)])


def weakest_words(proposal: ProposalAnswer) -> str:
    if proposal.weakest is None:
        if proposal.success.share > 0.99:
            return tr("Hardly anything goes wrong.")
        return tr("No single segment decides.")
    return tr(
        "It stands or falls with segment {number}, {words}.",
        number=proposal.weakest,
        words=proposal.segments[proposal.weakest - 1],
    )


def _proposal(answer: RouteAnswer, number: int) -> Section:
    proposal = answer.proposals[number]
    typed = rows((str(n), words) for n, words in enumerate(proposal.segments, start=1))
    parts: list[Part] = [in_short(proposal, answer.trials)]
    if len(answer.starts) > 1:
        start = tr("by eye") if proposal.start == "by eye" else proposal.start
        parts.append(tr("It starts from {start}.", start=shorten(start, NAME_CELLS)))
    parts.append(Table((tr("segment"), tr("what to type")), typed))
    return Section(tr("Way {number}", number=number + 1), tuple(parts))


def _advice(answer: RouteAnswer) -> Iterator[str]:
    if answer.proof is not None:
        yield tr("Make the way wider, take a narrower robot, or go for another target.")
        return
    if not answer.proposals:
        yield tr("Try another start with --from, more time with --within, or another attachment with --wear.")
        yield tr("Look at the field: is there a flat wall or side near the way that the robot could set itself on?")
        return
    yield tr("Take the one that your team trusts, save it with --save FOLDER, and look at it with watch.")
    best = answer.proposals[0]
    if best.success.share < 0.9:
        yield tr(
            "Even the best way fails often. What costs most is how accurately the robot drives; see what with causes."
        )
    if not answer.wear:
        yield tr("The robot wears nothing here. If a target needs a tool, name it with --wear.")
