"""The answer of ``fieldsim tune`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    NAME_CELLS,
    as_written,
    fixed,
    how_often,
    how_often_shortly,
    left_open,
    listed,
    no_proof,
    robots_words,
    signed,
    spoken,
)
from fieldsim.report.statement import Part, Section, Statement, Table, rows

if TYPE_CHECKING:
    from fieldsim.planning.tune import ChangeAnswer, TuneAnswer

TITLE_CELLS = 40
AIMED = {
    "share": tr_later("so that it gets through more often"),
    "margin": tr_later("so that it has more room"),
    "points": tr_later("so that it scores more"),
    "time": tr_later("so that it takes less time"),
}
# A change that the robot's known bias makes something else of by less than this is what it says.
SAME_MM, SAME_DEGREES = 0.5, 0.05


def tune_statement(answer: TuneAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    sections = [Section(tr("What is changed"), tuple(_changes(answer)))] if answer.changes else []
    return Statement(
        name=tr("{run}: better numbers", run=run),
        title=tr("{run}: {robot} on {field}, changed {why}", run=run, robot=robot, field=field, why=_why(answer)),
        about=tuple(_about(answer)),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=tuple(sections),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def _why(answer: TuneAnswer) -> str:
    if answer.aim == "time" and answer.need is not None:
        return tr("so that it takes less time and {need:.4g} in 1000 still get through", need=answer.need * 1000)
    return tr(AIMED[answer.aim])


def _about(answer: TuneAnswer) -> Iterator[str]:
    yield tr(
        "typed in steps of {mm} mm and {degrees} degrees; {looked} runs were looked at",
        mm=spoken(answer.step_mm), degrees=spoken(answer.step_degrees), looked=answer.looked,
    )  # fmt: skip
    yield tr_many(
        "told of {n} fresh trial of each run, seed {seed}: those that try drives",
        "told of {n} fresh trials of each run, seed {seed}: those that try drives",
        answer.trials,
        seed=answer.seed,
    )
    if answer.kept:
        yield tr("kept as it is, as asked: {what}", what=_named(answer.kept))
    if answer.unseen:
        yield tr(
            "left as it is, since the plan does not say what it is for: {what}",
            what=_named(answer.unseen),
        )
    if answer.interrupted:
        yield tr("Stopped early: this is the best so far.")


def _named(numbers: tuple[int, ...]) -> str:
    segments = [str(number) for number in numbers if number]
    told = [tr("the start")] if 0 in numbers else []
    if segments:
        told.append(tr_many("segment {numbers}", "segments {numbers}", len(segments), numbers=listed(segments)))
    return listed(told)


def headline(answer: TuneAnswer) -> str:
    """The one sentence: 'Of 1000 runs 994 get through instead of 782, with 3 changes.'"""
    if not answer.better:
        return tr("No truly better numbers were found: the run gets through {often}.",
                  often=how_often(answer.before.success, answer.trials))  # fmt: skip
    count = len(answer.changes)
    if answer.aim == "margin" and answer.after.gap is not None and answer.before.gap is not None:
        return tr_many(
            "With {n} change 19 of 20 drives keep {after} mm of room instead of {before}.",
            "With {n} changes 19 of 20 drives keep {after} mm of room instead of {before}.",
            count,
            after=fixed(answer.after.gap, 1),
            before=fixed(answer.before.gap, 1),
        )
    if answer.aim == "points" and answer.after.points is not None and answer.before.points is not None:
        return tr_many(
            "With {n} change it scores {after} on average instead of {before}.",
            "With {n} changes it scores {after} on average instead of {before}.",
            count,
            after=fixed(answer.after.points, 1),
            before=fixed(answer.before.points, 1),
        )
    if answer.aim == "time":
        return tr_many(
            "With {n} change it takes {after} s instead of {before}.",
            "With {n} changes it takes {after} s instead of {before}.",
            count,
            after=fixed(answer.after.seconds, 1),
            before=fixed(answer.before.seconds, 1),
        )
    return tr_many(
        "With {n} change it gets through {after} instead of {before}.",
        "With {n} changes it gets through {after} instead of {before}.",
        count,
        after=how_often(answer.after.success, answer.trials),
        before=how_often_shortly(answer.before.success, answer.trials),
    )


def _further(answer: TuneAnswer) -> Iterator[str]:
    if not answer.better:
        if answer.aim != "share":
            yield tr("That is so for what was asked: a run changed {why}.", why=_why(answer))
        return
    if answer.aim != "share":
        yield tr(
            "It gets through {after}; before it was {before}.",
            after=how_often(answer.after.success, answer.trials),
            before=how_often_shortly(answer.before.success, answer.trials),
        )
    gain = answer.difference
    yield tr(
        "On the same trials the difference is {gain} in 1000 (between {low} and {high}).",
        gain=signed(gain.share * 1000, 0), low=signed(gain.low * 1000, 0), high=signed(gain.high * 1000, 0),
    )  # fmt: skip
    if answer.aim != "time":
        more = answer.after.seconds - answer.before.seconds
        if abs(more) >= 0.1:
            yield tr(
                "It takes {after} s instead of {before}.",
                after=fixed(answer.after.seconds, 1),
                before=fixed(answer.before.seconds, 1),
            )
    if answer.holds is not None and answer.aim != "time":
        if left_open(answer.holds):
            yield tr("The robot's tests leave that open: it holds for {robots} robots that fit them.",
                     robots=robots_words(answer.holds))  # fmt: skip
        else:
            yield tr("It holds for {robots} robots that fit the robot's tests.", robots=robots_words(answer.holds))


def _changes(answer: TuneAnswer) -> Iterator[Part]:
    heads = (
        tr("segment"), tr("was"), tr("type now"), tr("what the robot does then"), tr("alone"),
        tr("with those above"),
    )  # fmt: skip
    told = rows(
        (
            _place(change), _was(change), change.words if change.key != "taken out" else tr("take it out"),
            _does(change), _often(change, answer, alone=True), _often(change, answer, alone=False),
        )
        for change in answer.changes
    )  # fmt: skip
    yield tr("In the order in which each gives most; segments are numbered as they are in the file now.")
    yield Table(heads, told, text_head=heads)


def change_words(changes: list[ChangeAnswer], answer: TuneAnswer) -> tuple[str, str]:
    """A change shortly with what belongs to it, and its worth: 'segment 1: straight: 236', 'alone 773 in 1000'."""
    told = "; ".join(
        tr("{where}: {what}", where=_where(each), what=each.words if each.key != "taken out" else tr("take it out"))
        for each in changes
    )
    return told, tr("alone {often}", often=_often(changes[0], answer, alone=True))


def _where(change: ChangeAnswer) -> str:
    if change.segment == 0:
        return tr("start")
    if change.key == "put in":
        return tr("before segment {number}", number=change.segment)
    return tr("segment {number}", number=change.segment)


def _place(change: ChangeAnswer) -> str:
    if change.segment == 0:
        return tr("start")
    if change.key == "put in":
        return tr("before {number}", number=change.segment)
    return str(change.segment)


def _was(change: ChangeAnswer) -> str:
    if change.key == "taken out":
        return change.words
    return tr("nothing") if change.was is None else spoken(change.was)


def _does(change: ChangeAnswer) -> str:
    if change.does is None or change.now is None:
        return tr("as typed")
    same = SAME_DEGREES if change.key == "angle" else SAME_MM
    if abs(change.does - change.now) < same:
        return ""
    return (
        tr("{n} degrees", n=fixed(change.does, 1)) if change.key == "angle" else tr("{n} mm", n=fixed(change.does, 0))
    )


def _often(change: ChangeAnswer, answer: TuneAnswer, alone: bool) -> str:
    share = change.alone if alone else change.together
    return tr("belongs to the one above") if share is None else how_often_shortly(share, answer.trials)


def _advice(answer: TuneAnswer) -> Iterator[str]:
    if answer.better:
        yield tr(
            "Save it as a new run with --save FOLDER, or write it into the run's file with --write; then drive it at "
            "the table: the plan knows only what its files say."
        )
        if len(answer.changes) > 1:
            first = answer.changes[0]
            share = first.together
            if share is not None and answer.aim == "share":
                yield tr(
                    "The first change alone does {often}: where typing is dear, begin with it.",
                    often=how_often_shortly(share, answer.trials),
                )
        return
    if answer.most is not None:
        yield tr("With more changes than --most {n} allows there may be something.", n=answer.most)
    yield tr("What is left is how accurately the robot drives: causes says what of that costs most.")
    if answer.aim == "share" and answer.before.success.share < 0.9:
        yield tr("Or go another way: route proposes whole runs to the same target.")


def picture_title(answer: TuneAnswer) -> str:
    return tr("{run}: before and after", run=shorten(answer.run, NAME_CELLS))
