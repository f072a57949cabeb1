"""The answer of ``fieldsim slack`` in words. How far the start may be off is rounded down: it is a promise."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    as_written,
    ceiled,
    floored,
    how_often,
    no_proof,
    start_words,
    stopped_words,
    trials_words,
)
from fieldsim.report.statement import Section, Statement, Table, rows, statement_text

if TYPE_CHECKING:
    from fieldsim.studies.slack_answer import Edges, Luck, SlackAnswer

TITLE_CELLS = 40

# Each way the start can be off, as seen from the robot: axis, side, words, and what is told where it is the tightest.
WAYS = (
    ("x", 1, tr_later("forwards"), tr_later("Take most care that it is not forwards: {amount} is all there is.")),
    ("x", 0, tr_later("backwards"), tr_later("Take most care that it is not backwards: {amount} is all there is.")),
    (
        "y", 0, tr_later("to its right"),
        tr_later("Take most care that it is not to its right of its place: {amount} is all there is."),
    ),
    (
        "y", 1, tr_later("to its left"),
        tr_later("Take most care that it is not to its left of its place: {amount} is all there is."),
    ),
    (
        "heading", 0, tr_later("turned right"),
        tr_later("Take most care that it is not turned right: {amount} is all there is."),
    ),
    (
        "heading", 1, tr_later("turned left"),
        tr_later("Take most care that it is not turned left: {amount} is all there is."),
    ),
)  # fmt: skip
AGAINST = "stands against "


def slack_text(answer: SlackAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(slack_statement(answer), width)


def slack_statement(answer: SlackAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    start = start_words(answer.start, TITLE_CELLS)
    far = rows(
        (
            tr(words),
            _far(answer.slack, axis, side, answer.luck),
            _far(answer.geometry, axis, side),
        )
        for axis, side, words, _ in WAYS
    )
    noise, none = tr("with the robot's noise"), tr("without any noise")
    return Statement(
        name=tr("{run}: how far off may the start be?", run=run),
        title=tr(
            "{run}: how far off may {robot} be set? On {field}, from {start}",
            run=run,
            robot=robot,
            field=field,
            start=start,
        ),
        about=(trials_words(answer.own_trials, answer.trials, answer.seed),),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=()
        if answer.hopeless
        else (
            Section(
                tr("How far the start may be off, each way alone"),
                (Table((tr("which way"), noise, none), far, text_head=("", noise, none)),),
            ),
        ),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def _further(answer: SlackAnswer) -> Iterator[str]:
    if answer.hopeless:
        yield tr(
            "That is too seldom for the start to be varied: mend the run first (fieldsim try RUN), or say with --need "
            "which share is enough."
        )
        return
    yield tr("Set as planned it gets through {often}.", often=how_often(answer.success, answer.own_trials))
    yield tr("Wanted at every start: {share}.", share=share_words(answer))


def share_words(answer: SlackAnswer) -> str:
    """The wanted share: '723 in 1000, nine tenths of that'."""
    per = answer.need * 1000
    if answer.need_given:
        return tr("{share:.0f} in 1000", share=per)
    return tr("{share:.0f} in 1000, nine tenths of that (--need asks for another share)", share=per)


def _value(edges: Edges, axis: str, side: int) -> float:
    pair: tuple[float, float] = getattr(edges, axis)
    return abs(pair[side])


def _end(edges: Edges, axis: str, side: int) -> str:
    return edges.ends[["x", "y", "heading"].index(axis)][side]


def amount(edges: Edges, axis: str, side: int) -> str:
    value = _value(edges, axis, side)
    if axis == "heading":
        return tr("{angle} degrees", angle=floored(value, 2))
    return tr("{distance} mm", distance=floored(value, 1))


def _far(edges: Edges, axis: str, side: int, luck: Luck | None = None) -> str:
    end = _end(edges, axis, side)
    far = amount(edges, axis, side)
    if end.startswith(AGAINST):
        what = shorten(end, TITLE_CELLS).removeprefix(AGAINST)
        if _value(edges, axis, side) == 0:
            return tr("not at all, it stands against {what}", what=what)
        return tr("{far}, then it stands against {what}", far=far, what=what)
    if end == "no end":
        return tr("no limit within {far}, the farthest that was looked at", far=far)
    if luck is None or _value(edges, axis, side) == 0:
        return far
    places = 2 if axis == "heading" else 1
    nearer, farther = sorted(map(abs, getattr(luck, axis)[side]))
    return tr(
        "{far} (luck could make it {low} to {high})",
        far=far, low=floored(nearer, places), high=ceiled(farther, places),
    )  # fmt: skip


def headline(answer: SlackAnswer) -> str:
    """The one sentence: '5.1 mm to its left, 4.8 mm to its right, ...: beyond that it drops under 723 in 1000'."""
    if answer.hopeless:
        often = how_often(answer.success, answer.own_trials)
        return " ".join(
            filter(None, (tr("Set as planned it gets through {often}.", often=often), stopped_words(answer.lost)))
        )
    if not answer.meets_need:
        return tr(
            "Even set as planned it gets through less often than wanted ({share:.0f} in 1000): there is no slack to "
            "give away.",
            share=answer.need * 1000,
        )
    words = [
        f"{amount(answer.slack, axis, side)} {tr(way)}"
        for axis, side, way, _ in WAYS
        if _end(answer.slack, axis, side) == "share"
    ]
    if not words:
        return tr(
            "No error of the start that was looked at, each alone, takes it under {share:.0f} in 1000.",
            share=answer.need * 1000,
        )
    return tr(
        "Each alone: {ways}; beyond that it drops under {share:.0f} in 1000.",
        ways=", ".join(words),
        share=answer.need * 1000,
    )


def _advice(answer: SlackAnswer) -> Iterator[str]:
    if answer.hopeless:
        yield tr("See with try what stops it, and what was tried against that.")
        return
    if not answer.meets_need:
        yield tr("Look at the run with try: the start is not what it fails by. Or ask for less with --need.")
        return
    tight = min(
        (way for way in WAYS if _end(answer.slack, way[0], way[1]) == "share"),
        default=None,
        # A degree weighs like the mm it makes over a straight of some 500 mm.
        key=lambda way: _value(answer.slack, way[0], way[1]) * (8.7 if way[0] == "heading" else 1.0),
    )
    if tight is not None:
        yield tr(tight[3], amount=amount(answer.slack, tight[0], tight[1]))
    yield tr("These are limits for one error alone; the map (--save FOLDER) shows two at a time.")
