"""The answer of ``fieldsim slack`` in words. How far the start may be off is rounded down: it is a promise."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.answer import Edges, SlackAnswer
from fieldsim.lettering import shorten
from fieldsim.phrases import as_written, floored, how_often, no_proof
from fieldsim.statement import Section, Statement, Table, rows, statement_text

TITLE_CELLS = 40

# Each way the start can be off, as seen from the robot: axis, side, words.
WAYS = (
    ("x", 1, "forwards"),
    ("x", 0, "backwards"),
    ("y", 0, "to its right"),
    ("y", 1, "to its left"),
    ("heading", 0, "turned right"),
    ("heading", 1, "turned left"),
)


def slack_text(answer: SlackAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(slack_statement(answer), width)


def slack_statement(answer: SlackAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field, start = (
        shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field, answer.start)
    )
    far = rows((words, _far(answer.slack, axis, side), _far(answer.geometry, axis, side)) for axis, side, words in WAYS)
    noise, none = "with the robot's noise", "without any noise"
    return Statement(
        name=f"{run}: how far off may the start be?",
        title=f"{run}: how far off may {robot} be set? On {field}, from {start}",
        about=(f"{answer.trials} trials at each start that was looked at, seed {answer.seed}",),
        headline=headline(answer),
        further=(
            f"Set as planned it gets through {how_often(answer.success, answer.trials)}.",
            f"Wanted at every start: {share_words(answer)}.",
        ),
        sections=(
            Section(
                "How far the start may be off, each way alone",
                (Table(("which way", noise, none), far, text_head=("", noise, none)),),
            ),
        ),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def share_words(answer: SlackAnswer) -> str:
    """The wanted share: '723 in 1000, nine tenths of that'."""
    per = f"{answer.need * 1000:.0f} in 1000"
    return per if answer.need_given else f"{per}, nine tenths of that (--need asks for another share)"


def _value(edges: Edges, axis: str, side: int) -> float:
    pair: tuple[float, float] = getattr(edges, axis)
    return abs(pair[side])


def _end(edges: Edges, axis: str, side: int) -> str:
    return edges.ends[["x", "y", "heading"].index(axis)][side]


def amount(edges: Edges, axis: str, side: int) -> str:
    value = _value(edges, axis, side)
    return f"{floored(value, 1)} mm" if axis != "heading" else f"{floored(value, 2)} degrees"


def _far(edges: Edges, axis: str, side: int) -> str:
    end = _end(edges, axis, side)
    if end.startswith("stands against"):
        wall = shorten(end, TITLE_CELLS)
        return (
            f"not at all, it {wall}"
            if _value(edges, axis, side) == 0
            else f"{amount(edges, axis, side)}, then it {wall}"
        )
    if end == "no end":
        return f"more than {amount(edges, axis, side)}"
    return amount(edges, axis, side)


def headline(answer: SlackAnswer) -> str:
    """The one sentence: '5.1 mm to its left, 4.8 mm to its right, ...: beyond that it drops under 723 in 1000'."""
    if not answer.meets_need:
        return (
            f"Even set as planned it gets through less often than wanted ({answer.need * 1000:.0f} in 1000): there is "
            "no slack to give away."
        )
    words = [
        f"{amount(answer.slack, axis, side)} {way}"
        for axis, side, way in WAYS
        if not _end(answer.slack, axis, side).startswith("stands against")
    ]
    return f"Each alone: {', '.join(words)}; beyond that it drops under {answer.need * 1000:.0f} in 1000."


def _advice(answer: SlackAnswer) -> Iterator[str]:
    if not answer.meets_need:
        yield "Look at the run with try: the start is not what it fails by. Or ask for less with --need."
        return
    tight = min(
        (way for way in WAYS if not _end(answer.slack, way[0], way[1]).startswith("stands against")),
        # A degree weighs like the mm it makes over a straight of some 500 mm.
        key=lambda way: _value(answer.slack, way[0], way[1]) * (8.7 if way[0] == "heading" else 1.0),
    )
    yield (
        f"Take most care that it is not {tight[2]}{' of its place' if tight[0] == 'y' else ''}: "
        f"{amount(answer.slack, tight[0], tight[1])} is all there is."
    )
    yield "These are limits for one error alone; the map (--save FOLDER) shows two at a time."
