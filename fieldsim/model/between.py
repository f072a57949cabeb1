"""What the tests of a robot leave unknown: between which ends each number of its accuracy lies, 95 %."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, ClassVar

from fieldsim.language import tr
from fieldsim.model.bounds import Checked, Choice, Many, Maybe, Number, Pair, Record, Rule
from fieldsim.model.errors import Complaint
from fieldsim.model.units import (
    ANGLE,
    DISTANCE_WALK,
    GYRO_DRIFT,
    LENGTH,
    NUMBER,
    PERCENT,
    SLIP_WALK,
    VEER,
    VEER_WALK,
    Unit,
)  # fmt: skip

Ends = tuple[float, float]
_SHARE_ENDS = Annotated[Ends | None, Maybe(Pair(Number(PERCENT, least=-0.5, most=0.5), ("low", "high")))]
_SHARE_SPREAD_ENDS = Annotated[Ends | None, Maybe(Pair(Number(PERCENT, least=0.0, most=0.5), ("low", "high")))]


def _ends(unit: Unit, most: float, least: float = 0.0) -> Maybe:
    return Maybe(Pair(Number(unit, least=least, most=most), ("low", "high")))


_GROWS_ENDS = Annotated[
    Ends | None, _ends(NUMBER, 3.0), "Of the power of the speed that the stop error grows with: between these."
]


def _in_order(*names: str) -> tuple[Rule, ...]:
    def rule(name: str) -> Rule:
        def complain(ends: Ends | None) -> Iterator[Complaint]:
            if ends is not None and ends[0] > ends[1]:
                yield Complaint((name,), tr("has its low end above its high end"), tr("write [low, high]"))

        return Rule((name,), complain)

    return tuple(map(rule, names))


@dataclass(frozen=True)
class BiasBetween(Checked):
    """Between which ends the bias lies: fractions; degrees per metre, left positive."""

    noun: ClassVar[str] = "bias between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order(
        "distance", "veer", "turn", "turn_left", "turn_right", "stop", "turn_stop", "gyro_scale", "backlash", "kick"
    )  # fmt: skip

    distance: Annotated[_SHARE_ENDS, "Of straights: too long by a share between these."] = None
    veer: Annotated[Ends | None, _ends(VEER, 90.0, -90.0), "Of straights: they bend by between these."] = None
    turn: Annotated[_SHARE_ENDS, "Of turns: too far by a share between these."] = None
    turn_left: Annotated[_SHARE_ENDS, "Of turns to the left: too far by a share between these."] = None
    turn_right: Annotated[_SHARE_ENDS, "Of turns to the right: too far by a share between these."] = None
    stop: Annotated[Ends | None, _ends(LENGTH, 200.0, -200.0), "Of straights: they stop too late by between these."] = (
        None
    )
    turn_stop: Annotated[Ends | None, _ends(ANGLE, 90.0, -90.0), "Of turns: they stop too late by between these."] = (
        None
    )
    gyro_scale: Annotated[_SHARE_ENDS, "Of the gyro: it reads turns too large by a share between these."] = None
    backlash: Annotated[
        Ends | None, _ends(LENGTH, 50.0, -50.0), "Of straights that go back: play takes between these of them."
    ] = None
    kick: Annotated[
        Ends | None, _ends(ANGLE, 45.0, -45.0), "Of straights that go back: the caster turns it by between these."
    ] = None


@dataclass(frozen=True)
class DayBetween(Checked):
    """Between which ends the standard deviations from day to day lie."""

    noun: ClassVar[str] = "day between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("distance", "veer", "turn")

    distance: Annotated[_SHARE_SPREAD_ENDS, "Of the distance bias."] = None
    veer: Annotated[Ends | None, _ends(VEER, 90.0), "Of the veer."] = None
    turn: Annotated[_SHARE_SPREAD_ENDS, "Of the turn bias."] = None


@dataclass(frozen=True)
class StraightBetween(Checked):
    """Between which ends the standard deviations of straights lie."""

    noun: ClassVar[str] = "straight between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("stop", "distance", "veer", "grows")

    stop: Annotated[Ends | None, _ends(LENGTH, 200.0), "Of where it stops, mm."] = None
    distance: Annotated[Ends | None, _ends(DISTANCE_WALK, 200.0), "Of the way, mm per root metre."] = None
    veer: Annotated[Ends | None, _ends(VEER_WALK, 360.0), "Of the heading, degrees per root metre."] = None
    grows: _GROWS_ENDS = None


@dataclass(frozen=True)
class TurnBetween(Checked):
    """Between which ends the standard deviations of turns lie."""

    noun: ClassVar[str] = "turn between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("stop", "slip", "grows")

    stop: Annotated[Ends | None, _ends(ANGLE, 360.0), "Of where it stops, degrees."] = None
    slip: Annotated[Ends | None, _ends(SLIP_WALK, 360.0), "On the way, degrees per root quarter turn."] = None
    grows: _GROWS_ENDS = None


@dataclass(frozen=True)
class GyroBetween(Checked):
    """Between which ends the standard deviations of the gyro lie."""

    noun: ClassVar[str] = "gyro between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("drift", "scale", "hold")

    drift: Annotated[Ends | None, _ends(GYRO_DRIFT, 360.0), "Of the drift, degrees per minute."] = None
    scale: Annotated[_SHARE_SPREAD_ENDS, "Of what it reads for a turn."] = None
    hold: Annotated[Ends | None, _ends(ANGLE, 360.0), "Of the heading held on a straight, degrees."] = None


@dataclass(frozen=True)
class SquareBetween(Checked):
    """Between which ends the standard deviations of what a square leaves lie."""

    noun: ClassVar[str] = "square between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("heading", "along")

    heading: Annotated[Ends | None, _ends(ANGLE, 360.0), "Of the heading afterwards, degrees."] = None
    along: Annotated[Ends | None, _ends(LENGTH, 200.0), "Of the distance to the wall afterwards, mm."] = None


# The numbers of the accuracy block that tests can tell, by their place in it.
MEASURABLE = (
    "bias.distance", "bias.veer", "bias.turn", "day.distance", "day.veer", "day.turn", "straight.stop",
    "straight.distance", "straight.veer", "turn.stop", "turn.slip", "gyro.drift", "gyro.scale", "gyro.hold",
    "bias.turn_left", "bias.turn_right", "bias.stop", "bias.turn_stop", "bias.gyro_scale",
    "bias.backlash", "bias.kick",
)  # fmt: skip


# Those, and what else is drawn where tests tell it: with which power of the speed the stop errors grow, and what a
# square leaves.
GROWING = ("straight.grows", "turn.grows")
DRAWN = (*MEASURABLE, *GROWING, "square.heading", "square.along")


@dataclass(frozen=True)
class Together(Checked):
    """How the errors of two numbers go together: one that is too high by chance makes the other too high or low."""

    noun: ClassVar[str] = "correlation"

    one: Annotated[str, Choice(DRAWN), "The place of one number in the accuracy block, such as turn.stop."]
    other: Annotated[str, Choice(DRAWN), "The other's."]
    correlation: Annotated[float, Number(above=-1.0, below=1.0), "From -1 to 1."]


# Of robots that fit the tests: which share of them lies under each of the numbers that are told of them.
LIKELY = (0.025, 0.16, 0.5, 0.84, 0.975)


def _rising(at: tuple[float, ...]) -> Iterator[Complaint]:
    if any(before > after for before, after in pairwise(at)):
        yield Complaint(("at",), tr("must not fall from one to the next"), tr("write the smallest first"))


def _no_spread_below_nought(of: str, at: tuple[float, ...]) -> Iterator[Complaint]:
    if not of.startswith("bias.") and any(each <= 0.0 for each in at):
        yield Complaint(("at",), tr("must be more than 0 for a standard deviation"))


@dataclass(frozen=True)
class Likely(Checked):
    """How one number lies among robots that fit the tests."""

    noun: ClassVar[str] = "robots"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("at",), _rising), Rule(("of", "at"), _no_spread_below_nought))

    of: Annotated[str, Choice(MEASURABLE), "The place of a number in the accuracy block, such as turn.stop."]
    at: Annotated[
        tuple[float, ...],
        Many(Number(least=-360.0, most=360.0), least=len(LIKELY), most=len(LIKELY)),
        "What 2.5, 16, 50, 84 and 97.5 in 100 of the robots lie below: plain numbers, a share as 0.01 for 1 %.",
    ]


def _told_once(robots: tuple[Likely, ...]) -> Iterator[Complaint]:
    for n, each in enumerate(robots):
        if each.of in (before.of for before in robots[:n]):
            yield Complaint(("robots", n, "of"), tr("'{name}' is told twice", name=each.of), tr("keep one of the two"))


@dataclass(frozen=True)
class Between(Checked):
    """What the tests leave unknown: between which ends each number of the accuracy block lies, 95 %. What is left out
    is taken as it stands."""

    noun: ClassVar[str] = "between"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("robots",), _told_once),)

    tests: Annotated[float, Number(least=1.0, most=100_000.0, whole=True), "How many tests it is known by."]
    bias: Annotated[BiasBetween, "Of the errors that are the same every time."] = BiasBetween()
    day: Annotated[DayBetween, "Of how those differ from day to day."] = DayBetween()
    straight: Annotated[StraightBetween, "Of the chance errors of straights."] = StraightBetween()
    turn: Annotated[TurnBetween, "Of the chance errors of turns."] = TurnBetween()
    gyro: Annotated[GyroBetween, "Of the chance errors of the gyro."] = GyroBetween()
    square: Annotated[SquareBetween, "Of what a square leaves."] = SquareBetween()
    together: Annotated[
        tuple[Together, ...],
        Many(Record(Together), most=len(DRAWN) * (len(DRAWN) - 1) // 2),
        "Which of them go together by chance, and how.",
    ] = ()
    robots: Annotated[
        tuple[Likely, ...],
        Many(Record(Likely), most=len(MEASURABLE)),
        "How robots that fit the tests differ, all numbers taken together, as 'fit' writes it. Left out: by the ends.",
    ] = ()

    def ends(self, name: str) -> Ends | None:
        """The ends of one of ``DRAWN``, None if they are not told."""
        group, key = name.split(".")
        ends: Ends | None = getattr(getattr(self, group), key)
        return ends

    def tells(self, name: str) -> bool:
        """Whether anything is told of one of ``MEASURABLE``; of turns, of both ways round together or by themselves."""
        sides = (self.bias.turn_left, self.bias.turn_right) if name == "bias.turn" else (None,)
        return self.ends(name) is not None or all(side is not None for side in sides)

    def likely(self, name: str) -> Likely | None:
        """How one of ``MEASURABLE`` lies among robots that fit the tests, None if that is not told."""
        return next((each for each in self.robots if each.of == name), None)
