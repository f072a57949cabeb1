"""The run: from where, with what on, and which segments. Names must exist on its field and its robot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr
from fieldsim.model.bounds import (
    Checked,
    Either,
    Kind,
    Many,
    Maybe,
    Named,
    Record,
    Rule,
    attributes,
    unknown_name,
)  # fmt: skip
from fieldsim.model.errors import Complaint
from fieldsim.model.field import WALLS, Field, Spread, inside, outside_text
from fieldsim.model.quantities import Heading, InField, NameText
from fieldsim.model.robot import Robot
from fieldsim.model.segments import KINDS, Segment


@dataclass(frozen=True)
class StartByEye(Checked):
    """A start without a jig: the pose of the middle of the axle, mm and degrees in the field frame."""

    noun: ClassVar[str] = "start"

    at: Annotated[InField, "Where the middle of the axle is set: [x, y]."]
    heading: Annotated[Heading, "The robot's heading, degrees counter-clockwise from x."]
    spread: Annotated[Spread, "How exactly the robot is set by eye."] = Spread(3.0, 3.0, 1.5)


def known_names(field: Field | None, robot: Robot | None) -> dict[str, tuple[str, ...]]:
    """The names a run may use, by what they name; without those of a field or robot that is not there."""
    known: dict[str, tuple[str, ...]] = {}
    if field is not None:
        known |= {
            "obstacle": tuple(item.name for item in field.obstacles),
            "wall": WALLS,
            "start area": tuple(item.name for item in field.start_areas),
            "jig": tuple(item.name for item in field.jigs),
            "target": tuple(item.name for item in field.targets),
            "line": tuple(item.name for item in field.lines),
        }
    if robot is not None:
        known["attachment"] = tuple(item.name for item in robot.attachments)
        known["sensor"] = tuple(item.name for item in robot.sensors)
    return known


def _names_exist(
    field: Field,
    robot: Robot,
    start: str | StartByEye,
    segments: tuple[Segment, ...],
    wear: tuple[str, ...],
    finish: str | None,
) -> Iterator[Complaint]:
    known = known_names(field, robot)
    kinds = attributes(Run)
    for path, kind, name in [
        *_names(("start",), kinds["start"].kind, start),
        *_names(("segments",), kinds["segments"].kind, segments),
        *_names(("wear",), kinds["wear"].kind, wear),
        *_names(("finish",), kinds["finish"].kind, finish),
    ]:
        there = tuple(word for of in kind.kinds for word in known[of])
        if name not in there:
            complaint = unknown_name(kind, name, there)
            yield Complaint(path, complaint.message, complaint.hint)


def _names(
    path: tuple[str | int, ...], kind: Kind, value: object
) -> Iterator[tuple[tuple[str | int, ...], Named, str]]:
    """Every name in a value that something must have, with its place."""
    if isinstance(kind, Maybe):
        if value is not None:
            yield from _names(path, kind.kind, value)
    elif isinstance(kind, Named) and isinstance(value, str):
        yield path, kind, value
    elif isinstance(kind, Many) and isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _names((*path, index), kind.item, item)
    elif isinstance(kind, Either):
        for option in kind.kinds:
            if isinstance(option, Named) or (isinstance(option, Record) and isinstance(value, option.record)):
                yield from _names(path, option, value)
    elif isinstance(kind, Record) and isinstance(value, Checked):
        for name, attribute in attributes(kind.record).items():
            yield from _names((*path, name), attribute.kind, getattr(value, name))


def _start_on_field(field: Field, start: str | StartByEye) -> Iterator[Complaint]:
    if isinstance(start, StartByEye) and not inside(field.size, start.at):
        yield Complaint(("start", "at"), tr("lies outside the field"), outside_text(field.size))


def _segments_can_be(field: Field, robot: Robot, segments: tuple[Segment, ...]) -> Iterator[Complaint]:
    """What no path could mend. (What a path does not reach is found by driving it: fieldsim.sim.alignment.)"""
    for index, segment in enumerate(segments):
        for complaint in segment.impossible(field, robot):
            yield Complaint(("segments", index, *complaint.path), complaint.message, complaint.hint)


@dataclass(frozen=True)
class Run(Checked):
    """A run: from where, with what on, and which segments. Names must exist on the field and the robot."""

    noun: ClassVar[str] = "run"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("field", "robot", "start", "segments", "wear", "finish"), _names_exist, names=True),
        Rule(("field", "start"), _start_on_field),
        Rule(("field", "robot", "segments"), _segments_can_be),
    )

    name: Annotated[NameText, "The run's name."]
    field: Annotated[Field, "The field's file, seen from this file's folder."]
    robot: Annotated[Robot, "The robot's file, seen from this file's folder."]
    start: Annotated[
        str | StartByEye,
        Either((Named("the name of a jig", of="jig"), Record(StartByEye))),
        "The jig it starts from, or at, heading and spread for a start by eye.",
    ]
    """A jig's name, or a pose set by eye."""
    segments: Annotated[
        tuple[Segment, ...],
        Many(Either(tuple(map(Record, KINDS))), least=1, what="segment"),
        "What it drives and does, in order.",
    ]
    wear: Annotated[
        tuple[str, ...],
        Many(Named("the name of an attachment", of="attachment"), most=50),
        "The attachments that are on for this run.",
    ] = ()
    finish: Annotated[
        str | None,
        Maybe(Named("the name of a start area", of="start area")),
        "The start area the body must end inside. Left out: it may end anywhere.",
    ] = None
