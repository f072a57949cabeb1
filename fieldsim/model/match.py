"""A match: several runs under one clock, with changes by hand between them. Immutable values, seconds and points.

Bounds and rules are declared here as in ``model`` and hold for values made in Python as for files.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.language import tr
from fieldsim.model import Act, Run
from fieldsim.model.bounds import Checked, Choice, Many, Name, Named, Number, Record, Rule, unknown_name
from fieldsim.model.errors import Complaint, shown
from fieldsim.model.units import NUMBER, TIME, plain

__all__ = ["NOTHING", "Change", "Changeover", "Match", "MatchPoints", "MatchRun", "Rerun", "Rescue"]

Rerun = Literal["never", "once", "while time is left"]

NOTHING = "nothing"
"""Stands for no attachment in a change."""

# Runs of a match, and different targets they may act at: a set of either is kept as the bits of one number.
MOST_RUNS = 20
MOST_TARGETS = 60

_SECONDS = Number(TIME, least=0.0, most=600.0)
_ATTACHMENT = Named("the name of an attachment, or nothing", of="attachment")
_POINTS = Number(NUMBER, least=-10_000.0, most=10_000.0)


@dataclass(frozen=True)
class MatchRun(Checked):
    """A run of a match, and the runs that must have got through before it is of use."""

    noun: ClassVar[str] = "run"

    run: Annotated[Run, "The run's file, seen from this file's folder."]
    needs: Annotated[
        tuple[str, ...],
        Many(Named("the name of a run", of="run"), most=MOST_RUNS),
        "Runs listed before it that must have got through, else it is left out: their files' names or their own.",
    ] = ()

    @property
    def name(self) -> str:
        return self.run.name


def _least_below_mean(mean: float, least: float) -> Iterator[Complaint]:
    if least > mean:
        yield Complaint(
            ("least",),
            tr("is {least} s, more than the mean of {mean} s", least=plain(least), mean=plain(mean)),
            tr("the least is the fastest ever"),
        )


_LEAST = Rule(("mean", "least"), _least_below_mean)


@dataclass(frozen=True)
class Changeover(Checked):
    """How long it takes to make the robot ready for the next start: attachment, jig, program."""

    noun: ClassVar[str] = "changeover"
    rules: ClassVar[tuple[Rule, ...]] = (_LEAST,)

    mean: Annotated[float, _SECONDS, "Seconds on average, the placing in the jig included."]
    sd: Annotated[float, _SECONDS, "Standard deviation of that, seconds."] = 0.0
    least: Annotated[float, _SECONDS, "It is never faster than this, seconds."] = 0.0


@dataclass(frozen=True)
class Change(Checked):
    """A changeover from one attachment to another that takes its own time."""

    noun: ClassVar[str] = "change"
    rules: ClassVar[tuple[Rule, ...]] = (_LEAST,)

    start: Annotated[str, _ATTACHMENT, "The attachment that is on, or nothing."]
    end: Annotated[str, _ATTACHMENT, "The attachment that goes on, or nothing."]
    mean: Annotated[float, _SECONDS, "Seconds on average, the placing in the jig included."]
    sd: Annotated[float, _SECONDS, "Standard deviation of that, seconds."] = 0.0
    least: Annotated[float, _SECONDS, "It is never faster than this, seconds."] = 0.0


@dataclass(frozen=True)
class Rescue(Checked):
    """What it costs to fetch a robot that stands out on the field, so that it can start again."""

    noun: ClassVar[str] = "rescue"
    rules: ClassVar[tuple[Rule, ...]] = (_LEAST,)

    points: Annotated[float, Number(NUMBER, least=-10_000.0, most=0.0), "Points it costs: 0 or less."] = 0.0
    mean: Annotated[float, _SECONDS, "Seconds on average."] = 0.0
    sd: Annotated[float, _SECONDS, "Standard deviation of that, seconds."] = 0.0
    least: Annotated[float, _SECONDS, "It is never faster than this, seconds."] = 0.0


@dataclass(frozen=True)
class MatchPoints(Checked):
    """Points beside those of the targets."""

    noun: ClassVar[str] = "points"

    finish: Annotated[float, _POINTS, "For each run that ends inside its finish in time."] = 0.0


def _one_field(runs: tuple[MatchRun, ...]) -> Iterator[Complaint]:
    for index, each in enumerate(runs):
        if each.run.field != runs[0].run.field:
            yield Complaint(
                ("runs", index, "run"),
                tr(
                    "is on the field '{name}', but the first run is on '{first}'",
                    name=shown(each.run.field.name),
                    first=shown(runs[0].run.field.name),
                ),
                tr("all runs of a match are on one field"),
            )


def _needs_come_before(runs: tuple[MatchRun, ...]) -> Iterator[Complaint]:
    names = [each.name for each in runs]
    for index, each in enumerate(runs):
        for at, name in enumerate(each.needs):
            place = ("runs", index, "needs", at)
            if name not in names:
                wrong = unknown_name(Named("the name of a run", of="run"), name, names)
                yield Complaint(place, wrong.message, wrong.hint)
            elif names.index(name) == index:
                yield Complaint(place, tr("names '{name}', which is the run itself", name=shown(name)))
            elif names.index(name) > index:
                # So that nothing can need itself by a detour, and the order as written can be driven.
                yield Complaint(
                    place,
                    tr("names '{name}', which is listed after it", name=shown(name)),
                    tr("list a run after those that it needs"),
                )


def _few_targets(runs: tuple[MatchRun, ...]) -> Iterator[Complaint]:
    found = {segment.target for each in runs for segment in each.run.segments if isinstance(segment, Act)}
    if len(found) > MOST_TARGETS:
        yield Complaint(
            ("runs",),
            tr("act at {n} different targets; accepted: up to {most}", n=len(found), most=MOST_TARGETS),
        )


def attachments_of(runs: tuple[MatchRun, ...]) -> tuple[str, ...]:
    """The attachments of the runs' robots, each once, in their order."""
    return tuple(dict.fromkeys(item.name for each in runs for item in each.run.robot.attachments))


def _attachments_exist(runs: tuple[MatchRun, ...], between: tuple[Change, ...]) -> Iterator[Complaint]:
    there = (*attachments_of(runs), NOTHING)
    for index, change in enumerate(between):
        for key, name in (("start", change.start), ("end", change.end)):
            if name not in there:
                wrong = unknown_name(_ATTACHMENT, name, there)
                yield Complaint(("between", index, key), wrong.message, wrong.hint)


def _changes_differ(between: tuple[Change, ...]) -> Iterator[Complaint]:
    pairs = [(change.start, change.end) for change in between]
    for index, pair in enumerate(pairs):
        if pair in pairs[:index]:
            yield Complaint(
                ("between", index, "start"),
                tr(
                    "is '{change}', and the change from there to '{other}' is told already",
                    change=shown(pair[0]),
                    other=shown(pair[1]),
                ),
                tr("tell each change once; the way back is a change of its own"),
            )


@dataclass(frozen=True)
class Match(Checked):
    """Several runs on one field, in the order the team means to drive them, inside a limit of time."""

    noun: ClassVar[str] = "match"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("runs",), _one_field),
        Rule(("runs",), _needs_come_before),
        Rule(("runs",), _few_targets),
        Rule(("runs", "between"), _attachments_exist, names=True),
        Rule(("between",), _changes_differ),
    )

    name: Annotated[str, Name(), "The match's name."]
    limit: Annotated[float, Number(TIME, above=0.0, most=3_600.0), "How long the match is, seconds."]
    runs: Annotated[
        tuple[MatchRun, ...],
        Many(Record(MatchRun), least=1, most=MOST_RUNS, what="run"),
        "The runs, in the order they are driven.",
    ]
    changeover: Annotated[Changeover, "Between two starts, done by hand."]
    between: Annotated[tuple[Change, ...], "Changes of attachments that take another time than 'changeover' says."] = ()
    rescue: Annotated[Rescue, "What it costs to fetch a robot that stands out on the field."] = Rescue()
    rerun: Annotated[
        Rerun,
        Choice(("never", "once", "while time is left")),
        "Whether a run that did not get through is tried again, if there is still something in it.",
    ] = "never"
    points: Annotated[MatchPoints, "Points beside those of the targets, which the field's file has."] = MatchPoints()

    @property
    def needed(self) -> tuple[tuple[int, ...], ...]:
        """For each run the runs it needs, by their numbers from 0."""
        place = {each.name: index for index, each in enumerate(self.runs)}
        return tuple(tuple(place[name] for name in each.needs) for each in self.runs)

    @property
    def targets(self) -> tuple[str, ...]:
        """The targets the runs act at, each once."""
        return tuple(
            dict.fromkeys(
                segment.target for each in self.runs for segment in each.run.segments if isinstance(segment, Act)
            )
        )

    def points_of(self, target: str) -> float:
        """What a target scores."""
        return next(each.points for each in self.runs[0].run.field.targets if each.name == target)

    def changeover_between(self, before: Run, after: Run) -> Changeover | Change:
        """How long it takes to go from what one run wears to what another does: the slowest of the changes told for
        that, else the general one. A change of one attachment for itself counts only if it is told."""
        off, on = (set(run.wear) or {NOTHING} for run in (before, after))
        told = [change for change in self.between if change.start in off and change.end in on]
        return max(told, key=lambda change: change.mean, default=self.changeover)
