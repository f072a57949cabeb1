"""What a report says besides the answer's own statement: its pictures in words, what was assumed, how sure it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import isnan
from typing import Any

from fieldsim.answer import TryAnswer
from fieldsim.bounds import NAME_LENGTH, Maybe, Number, attributes
from fieldsim.lettering import shorten
from fieldsim.model import Accuracy, Run, StartByEye
from fieldsim.motion import jig_of
from fieldsim.phrases import floored, how_often, no_proof, planned_gap, segment_words, unknown_words
from fieldsim.report import Colophon
from fieldsim.statement import Picture, Row, Section, Statement, Table, rows
from fieldsim.units import plain
from fieldsim.wording import try_statement

__all__ = ["colophon", "try_report", "with_pictures"]

# Of each study's picture: what it is called, and what is seen in it.
PICTURES: Mapping[str, tuple[str, str]] = {
    "jigs": (
        "How often the run gets through from each start",
        "A mark for each start, best first: how often the run gets through from there. The bar is what luck could make "
        "of it; a square is truly behind the best, a circle may be as good.",
    ),
    "slack": (
        "Two errors of the start at a time",
        "Maps of how often the run gets through when the start is off in two ways at once: the lighter, the more "
        "often. Inside the blue line it gets through as often as wanted; the dashed line is where it fails without any "
        "noise.",
    ),
    "widths": (
        "What gets through",
        "How often the run gets through, against the value that is varied. The band is what luck could make of it.",
    ),
    "compare": (
        "The runs side by side",
        "Above, how often each run gets through; below, the difference of each two on the same trials. The bars are "
        "what luck could make of it.",
    ),
    "causes failures": (
        "What each source is worth",
        "How many fewer fail without each source of noise. The bar is what luck could make of it.",
    ),
    "causes spread": (
        "What the spread is made of",
        "For each thing, the part of its variance that each source makes by itself; what is missing is many small ones "
        "and what they do together.",
    ),
    "match": (
        "The runs over the clock",
        "A lane for each run: the bar goes from the middle one of its starts to the middle one of its ends, the thin "
        "lines hold 18 of 20 of them, the dashed line is the end of the match. On the right the points it brings on "
        "average, and in how many of 100 matches it gets through in time.",
    ),
    "base": (
        "The base to scale",
        "The robot from above with the circles it sweeps, and from its right side. How wide the wheels and how large "
        "the casters are is a guess: the file does not say.",
    ),
}


def colophon(version: str, trials: int | None, seed: int | None, command: str, others: tuple[str, ...]) -> Colophon:
    """Where a report comes from. ``others`` are the files beside it; trials and seed are None where nothing is drawn by
    chance."""
    facts = [("made by", f"fieldsim {version}")]
    if trials is not None:
        facts.append(("trials", str(trials)))
    if seed is not None:
        facts.append(("seed", f"{seed} (the same seed gives the same trials)"))
    if others:
        facts.append(("beside it", ", ".join(others)))
    return Colophon(tuple(facts), command)


def with_pictures(statement: Statement, drawings: Mapping[str, str]) -> Statement:
    """A study's statement with its pictures, by their names in ``PICTURES``, before everything else."""
    seen = []
    for name, svg in drawings.items():
        title, words = PICTURES[name]
        seen.append(Section(title, (Picture(svg, f"{title}. {statement.headline or words}", words),)))
    return replace(statement, sections=(*seen, *statement.sections))


# --- try -----------------------------------------------------------------------------------------------------------


def try_report(answer: TryAnswer, run: Run, map_svg: str, ribbon_svg: str) -> Statement:
    """The whole of a try: its statement with nothing left out, both pictures, what was assumed and how sure it is.

    ``run`` is the run as it was tried.
    """
    told = try_statement(answer, whole=True)
    named = {section.title: section for section in told.sections}
    sections = [
        Section("The run on the field", (Picture(map_svg, _map_words(answer, run), _map_caption(answer)),)),
        *(named.pop(title) for title in ("Where it touches first", "Tightest places") if title in named),
        Section(
            "How much room is left on each segment",
            (Picture(ribbon_svg, _ribbon_words(answer), _RIBBON_CAPTION), *_ribbon_table(answer)),
        ),
        *named.values(),
        Section("What was assumed", (*_assumed(answer, run), *_robot_table(run))),
        Section("How sure this is", tuple(_sure(answer))),
    ]
    return replace(told, sections=tuple(sections))


def _map_words(answer: TryAnswer, run: Run) -> str:
    """The map for those who cannot see it."""
    w, d = run.field.size
    words = f"The field from above, {plain(w)} by {plain(d)} mm, with {len(run.field.obstacles)} models on it"
    words += f"; the run's {len(answer.segments)} segments, from {answer.start}"
    touched = list(dict.fromkeys(contact.obstacle for contact in answer.contacts))
    return f"{words}. {'It touches ' + ', '.join(touched) if touched else 'It touches nothing it may not touch'}."


def _map_caption(answer: TryAnswer) -> str:
    words = "To scale, in mm. Numbers in circles are segments"
    return f"{words}; in bold ones something is touched." if answer.contacts else f"{words}."


_RIBBON_CAPTION = (
    "For each segment the gap to what comes nearest, in mm; the scale is stretched near 0, where a few mm decide."
)


def _ribbon_words(answer: TryAnswer) -> str:
    """The ribbon for those who cannot see it; the table below it has all its numbers."""
    if not answer.ribbon:
        return "There is nothing to touch."
    tight = min(answer.ribbon, key=lambda each: each.p05)
    return f"The gaps along the run; least room is left on {segment_words(answer, tight.segment)}."


def _ribbon_table(answer: TryAnswer) -> Iterator[Table]:
    told = rows(
        (
            segment_words(answer, each.segment).removeprefix("segment "),
            planned_gap(each.nominal, answer.horizon),
            *(_gap(value, answer) for value in (each.p05, each.median, each.p95)),
        )
        for each in answer.ribbon
    )
    if told:
        heads = ("segment", "planned gap", "left in 19 of 20 trials", "in half of them", "in 1 of 20")
        yield Table(heads, told)


def _gap(value: float, answer: TryAnswer) -> str:
    """A gap that is left in a share of the trials, rounded down."""
    if answer.trials == 0:
        return "not known"
    if value >= answer.horizon or isnan(value):
        return planned_gap(answer.horizon, answer.horizon)
    if value <= 0:
        return "it touches"
    return "under 0.1 mm" if value < 0.1 else f"{floored(value, 1)} mm"


def _assumed(answer: TryAnswer, run: Run) -> Iterator[str]:
    """What is taken for granted, a sentence each."""
    spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
    how = "set by eye" if isinstance(run.start, StartByEye) else f"set in {shorten(answer.start, NAME_LENGTH)}"
    yield (
        f"The robot is {how}, give or take {plain(spread.along)} mm along, {plain(spread.across)} mm across and "
        f"{plain(spread.heading)} degrees."
    )
    worn = [shorten(name, NAME_LENGTH) for name in run.wear]
    yield f"It wears {', '.join(worn)}." if worn and not answer.bare else "It wears no attachment."
    by = {"wheels": "Its wheels' encoders tell it its heading.", "gyro": "It steers by its gyro."}
    yield by[run.robot.drive.heading_from]
    yield "Models and walls stand just where the field's file has them, and the mat is flat."
    yield (
        "What happens after a touch that is not meant is not simulated: for the counts a trial ends there. Gaps are "
        "measured on to the end, so that one touch does not hide another gap."
    )
    yield f"Gaps are followed up to {plain(answer.horizon)} mm; what is farther counts as that far."
    yield "'Planned' is the run as programmed, by a robot without any error. 'Give or take' is one standard deviation."


def _robot_table(run: Run) -> Iterator[str | Table]:
    """The robot's numbers that the answer rests on."""
    robot = run.robot
    found: list[Row] = []
    for group in ("body", "drive"):
        record = getattr(robot, group)
        found += _numbers(group, record, {attribute.name for attribute in attributes(type(record)).values()})
    accuracy = robot.accuracy
    for group in ("bias", "day", "straight", "turn", "gyro", "square"):
        record = getattr(accuracy, group)
        told = {name for name in attributes(type(record)) if getattr(record, name)}
        used = group != "gyro" or robot.drive.heading_from == "gyro"
        found += _numbers(group, record, told if used else set())
    found += _numbers("accuracy", accuracy, {"measured_at", "turn_measured_at"} if accuracy != Accuracy() else set())
    yield f"{shorten(robot.name, NAME_LENGTH)} is taken as its file has it, and what is not named here as none:"
    yield Table(("number", "value", "what it is"), tuple(found))


def _numbers(group: str, record: Any, names: set[str]) -> Iterator[Row]:
    for name, attribute in attributes(type(record)).items():
        value = getattr(record, name)
        kind = attribute.kind.kind if isinstance(attribute.kind, Maybe) else attribute.kind
        if name in names and isinstance(kind, Number) and value is not None:
            yield Row((f"{group}: {name.replace('_', ' ')}", kind.unit.show(value), attribute.about))


def _sure(answer: TryAnswer) -> Iterator[str]:
    if answer.trials == 0:
        yield "No trial was done, so nothing is known of how often."
        yield no_proof()
        return
    yield (
        f"Chance: {answer.trials} trials were driven, each with luck of its own, and "
        f"{how_often(answer.success, answer.trials)} got through. The numbers in brackets are how far luck alone could "
        "have moved that (19 of 20 such brackets hold the true share; Wilson 1927). More trials make them closer."
    )
    if answer.unknown is not None:
        unknown = unknown_words(answer.unknown, answer.success.share)
        yield f"The robot: {unknown} More tests narrow that, more trials do not."
    else:
        yield (
            "The robot: its file does not say how well its numbers are known, so that is not counted. 'fieldsim fit' "
            "writes it, from tests measured with a tape."
        )
    yield (
        "The plan: planned gaps are exact. What is left in 19 of 20 trials is told with the ends between which luck "
        "could have moved it."
    )
    yield f"The world: models that were put down otherwise, a worn tyre, an empty battery are not in it. {no_proof()}"
