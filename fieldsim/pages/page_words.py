"""What a report says besides the answer's own statement: its pictures in words, what was assumed, how sure it is."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import isnan
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from fieldsim.language import in_digits, tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.model import Accuracy, Run, StartByEye
from fieldsim.model.bounds import NAME_LENGTH, Maybe, Number, attributes
from fieldsim.pages.page import Colophon
from fieldsim.report.origin import Origin
from fieldsim.report.phrases import (
    fixed,
    floored,
    how_often,
    no_proof,
    planned_gap,
    segment_shortly,
    segment_words,
    spoken,
    start_words,
    unknown_words,
)
from fieldsim.report.statement import Picture, Playing, Row, Section, Statement, Table, rows
from fieldsim.report.words.attempt import try_statement
from fieldsim.report.words.methods import method_words
from fieldsim.sim.motion import jig_of
from fieldsim.studies.answer import TryAnswer

__all__ = ["Drawn", "TryPictures", "colophon", "try_report", "with_pictures"]


def colophon(version: str, trials: int | None, seed: int | None, origin: Origin, others: tuple[str, ...]) -> Colophon:
    """Where a report comes from. ``others`` are the files beside it; trials and seed are None where nothing is drawn by
    chance."""
    facts = [(tr("made by"), f"fieldsim {version}"), (tr("on"), _today()), (tr("computed with"), _computed_with())]
    if trials is not None:
        facts.append((tr("trials"), str(trials)))
    if seed is not None:
        facts.append((tr("seed"), tr("{seed} (the same seed gives the same trials)", seed=seed)))
    for name, digest in origin.files:
        # Enough of it that no two files of a season are taken for each other, and short enough to be read out.
        facts.append((tr("from {file}", file=shorten(name, NAME_LENGTH)), f"SHA-256 {digest[:16]}"))
    if others:
        facts.append((tr("beside it"), ", ".join(others)))
    return Colophon(tuple(facts), origin.command)


def _today() -> str:
    """The day (ISO 8601); of a build that is to be the same again the one that SOURCE_DATE_EPOCH says."""
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    day = datetime.fromtimestamp(int(told), UTC) if told.isdecimal() else datetime.now().astimezone()
    return day.date().isoformat()


def _computed_with() -> str:
    """What numbers are computed with besides fieldsim itself."""
    return f"Python {platform.python_version()}, numpy {np.__version__}"


def with_method(statement: Statement, command: str) -> Statement:
    """A study's statement with how it was found, what was assumed and how sure it is, at its end."""
    told = tuple(method_words(command))
    method = Section(tr("How this was found, and how sure it is"), told)
    return replace(statement, sections=(*statement.sections, method)) if told else statement


def with_pictures(
    statement: Statement,
    drawings: Mapping[str, str],
    words_of: Mapping[str, tuple[str, str]],
    narrow: Mapping[str, str] = MappingProxyType({}),
) -> Statement:
    """A study's statement with its pictures before everything else; ``words_of`` has for each by its name what it is
    called and what is seen in it, as templates, ``narrow`` has them drawn for a telephone."""
    seen = []
    for name, svg in drawings.items():
        title, words = map(tr, words_of[name])
        seen.append(
            Section(title, (Picture(svg, f"{title}. {statement.headline or words}", words, narrow.get(name, "")),))
        )
    return replace(statement, sections=(*seen, *statement.sections))


# --- try -----------------------------------------------------------------------------------------------------------


class Drawn(NamedTuple):
    """A drawing as SVG, and the same for a telephone."""

    wide: str
    narrow: str = ""


NOT_DRAWN = Drawn("")


@dataclass(frozen=True)
class TryPictures:
    """What a page shows of a try: drawings as SVG, what is empty is left out."""

    map: Drawn
    ribbon: Drawn
    thousand: Drawn = NOT_DRAWN
    thousand_words: str = ""
    """The bar of what goes wrong, for those who cannot see it."""
    landings: Drawn = NOT_DRAWN
    driving: str = ""
    """What a page with scripts plays, as JSON."""


def try_report(answer: TryAnswer, run: Run, seen: TryPictures) -> Statement:
    """The whole of a try: its statement with nothing left out, its pictures, what was assumed and how sure it is.

    ``run`` is the run as it was tried.
    """
    told = try_statement(answer, whole=True)
    named = {section.title: section for section in told.sections}
    failing = named.pop(tr("What goes wrong first"), None)
    sections = [
        *_failing(failing, seen),
        *([Section(tr("The run, driving"), (Playing(seen.driving, _playing_caption()),))] if seen.driving else []),
        Section(
            tr("The run on the field"),
            (Picture(seen.map.wide, _map_words(answer, run), _map_caption(answer), seen.map.narrow),),
        ),
        *(named.pop(title) for title in (tr("Where it touches first"), tr("Tightest places")) if title in named),
        Section(
            tr("How much room is left on each segment"),
            (
                Picture(seen.ribbon.wide, _ribbon_words(answer), _ribbon_caption(), seen.ribbon.narrow),
                *_ribbon_table(answer),
            ),
        ),
        *_targets(named.pop(tr("Targets"), None), seen),
        *named.values(),
        Section(tr("What was assumed"), (*_assumed(answer, run), *_robot_table(run))),
        Section(tr("How sure this is"), tuple(_sure(answer))),
    ]
    return replace(told, sections=tuple(sections))


def _failing(told: Section | None, seen: TryPictures) -> Iterator[Section]:
    """What goes wrong first, with the bar before its numbers."""
    caption = tr("A thousand drives, a square each: those that get through, then what goes wrong first.")
    bar = seen.thousand
    shown = [Picture(bar.wide, seen.thousand_words, caption, bar.narrow)] if bar.wide else []
    if told is not None:
        yield replace(told, parts=(*shown, *told.parts))


def _targets(told: Section | None, seen: TryPictures) -> Iterator[Section]:
    """The targets, with where the tool comes to before the numbers."""
    if told is None:
        return
    words = tr("Where the tool comes to at each act, of the first trials; the numbers are in the table below.")
    caption = tr("Seen from the robot: ahead is up, left is left.")
    drawn = [Picture(seen.landings.wide, words, caption, seen.landings.narrow)] if seen.landings.wide else []
    yield replace(told, parts=(*drawn, *told.parts))


def _playing_caption() -> str:
    return tr(
        "Outlined: the robot as planned. Filled faintly: trials, in another colour those that do not get through; a "
        "cross is a touch, and there that trial stands still. All go by the planned clock."
    )


def _map_words(answer: TryAnswer, run: Run) -> str:
    """The map for those who cannot see it."""
    w, d = run.field.size
    words = tr(
        "The field from above, {across} by {deep} mm. Models on it: {models}. Segments of the run: {segments}, from "
        "{start}.",
        across=spoken(w), deep=spoken(d), models=len(run.field.obstacles), segments=len(answer.segments),
        start=start_words(answer.start, NAME_LENGTH),
    )  # fmt: skip
    touched = list(dict.fromkeys(contact.obstacle for contact in answer.contacts))
    if touched:
        told = tr("It touches {names}.", names=", ".join(touched))
    else:
        told = tr("It drives without a forbidden touch.")
    return f"{words} {told}"


def _map_caption(answer: TryAnswer) -> str:
    if answer.contacts:
        return tr("To scale, in mm. Numbers in circles are segments; in bold ones something is touched.")
    return tr("To scale, in mm. Numbers in circles are segments.")


def _ribbon_caption() -> str:
    return tr(
        "For each segment the gap to what comes nearest, in mm; the scale is stretched near 0, where a few mm decide."
    )


def _ribbon_words(answer: TryAnswer) -> str:
    """The ribbon for those who cannot see it; the table below it has all its numbers."""
    if not answer.ribbon:
        return tr("There is nothing to touch.")
    tight = min(answer.ribbon, key=lambda each: each.p05)
    return tr("The gaps along the run; least room is left on {segment}.", segment=segment_words(answer, tight.segment))


def _ribbon_table(answer: TryAnswer) -> Iterator[Table]:
    told = rows(
        (
            segment_shortly(answer, each.segment),
            planned_gap(each.nominal, answer.horizon),
            *(_gap(value, answer) for value in (each.p05, each.median, each.p95)),
        )
        for each in answer.ribbon
    )
    if told:
        heads = (
            tr("segment"), tr("planned gap"), tr("left in 19 of 20 trials"), tr("in half of them"), tr("in 1 of 20"),
        )  # fmt: skip
        yield Table(heads, told)


def _gap(value: float, answer: TryAnswer) -> str:
    """A gap that is left in a share of the trials, rounded down."""
    if answer.trials == 0:
        return tr("not known")
    if value >= answer.horizon or isnan(value):
        return planned_gap(answer.horizon, answer.horizon)
    if value <= 0:
        return tr("it touches")
    if value < 0.1:
        return tr("under {gap} mm", gap=fixed(0.1, 1))
    return tr("{gap} mm", gap=floored(value, 1))


def _assumed(answer: TryAnswer, run: Run) -> Iterator[str]:
    """What is taken for granted, a sentence each."""
    spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
    give = {"along": spoken(spread.along), "across": spoken(spread.across), "turned": spoken(spread.heading)}
    if isinstance(run.start, StartByEye):
        yield tr(
            "The robot is set by eye, give or take {along} mm along, {across} mm across and {turned} degrees.", **give
        )
    else:
        yield tr(
            "The robot is set in {jig}, give or take {along} mm along, {across} mm across and {turned} degrees.",
            jig=shorten(answer.start, NAME_LENGTH),
            **give,
        )
    worn = [shorten(name, NAME_LENGTH) for name in run.wear]
    bare = answer.bare or not worn
    yield tr("It wears no attachment.") if bare else tr("It wears {names}.", names=", ".join(worn))
    if run.robot.drive.heading_from == "gyro":
        yield tr("It steers by its gyro.")
    else:
        yield tr("Its wheels' encoders tell it its heading.")
    yield tr("Models and walls stand just where the field's file has them, and the mat is flat.")
    yield tr(
        "What happens after a touch that is not meant is not simulated: for the counts a trial ends there. Gaps are "
        "measured on to the end, so that one touch does not hide another gap."
    )
    yield tr(
        "Gaps are followed up to {horizon} mm; what is farther counts as that far.", horizon=spoken(answer.horizon)
    )
    yield tr(
        "'Planned' is the run as programmed, by a robot without any error. 'Give or take' is one standard deviation."
    )


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
        told = {name for name in attributes(type(record)) if getattr(record, name) or name == "grows"}
        used = group != "gyro" or robot.drive.heading_from == "gyro"
        found += _numbers(group, record, told if used else set())
    found += _numbers("accuracy", accuracy, {"measured_at", "turn_measured_at"} if accuracy != Accuracy() else set())
    yield tr(
        "{robot} is taken as its file has it, and what is not named here as none:",
        robot=shorten(robot.name, NAME_LENGTH),
    )
    yield Table((tr("number"), tr("value"), tr("what it is")), tuple(found))


def _numbers(group: str, record: Any, names: set[str]) -> Iterator[Row]:
    for name, attribute in attributes(type(record)).items():
        value = getattr(record, name)
        kind = attribute.kind.kind if isinstance(attribute.kind, Maybe) else attribute.kind
        if name in names and isinstance(kind, Number) and value is not None:
            # The spread from day to day is of the same type as the bias, and is not the same way every time.
            about = attributes(Accuracy)["day"].about if group == "day" else attribute.about
            yield Row((f"{group}: {name.replace('_', ' ')}", in_digits(kind.unit.show(value)), tr(about)))


def _sure(answer: TryAnswer) -> Iterator[str]:
    if answer.trials == 0:
        yield tr("No trial was done, so nothing is known of how often.")
        yield no_proof()
        return
    yield tr_many(
        "Chance: {n} trial was driven, with luck of its own, and {often} got through. The numbers in brackets are how "
        "far luck alone could have moved that (19 of 20 such brackets hold the true share; Wilson 1927). More trials "
        "make them closer.",
        "Chance: {n} trials were driven, each with luck of its own, and {often} got through. The numbers in brackets "
        "are how far luck alone could have moved that (19 of 20 such brackets hold the true share; Wilson 1927). More "
        "trials make them closer.",
        answer.trials,
        often=how_often(answer.success, answer.trials),
    )
    if answer.unknown is not None:
        unknown = unknown_words(answer.unknown, answer.success.share)
        yield tr("The robot: {unknown} More tests narrow that, more trials do not.", unknown=unknown)
    else:
        yield tr(
            "The robot: its file does not say how well its numbers are known, so that is not counted. 'fieldsim fit' "
            "writes it, from tests measured with a tape."
        )
    yield tr(
        "The plan: planned gaps are exact. What is left in 19 of 20 trials is told with the ends between which luck "
        "could have moved it."
    )
    world = tr("The world: models that were put down otherwise, a worn tyre, an empty battery are not in it.")
    yield f"{world} {no_proof()}"
