"""How accurately a robot drives: scale errors, and the standard deviations of what chance adds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

from fieldsim.language import tr
from fieldsim.model.between import Between
from fieldsim.model.bounds import Checked, Choice, Maybe, Number, Rule, attributes
from fieldsim.model.errors import Complaint
from fieldsim.model.quantities import Share, Speed, SpreadAngle, SpreadLength, SpreadShare, TurnSpeed
from fieldsim.model.units import ANGLE, DISTANCE_WALK, GYRO_DRIFT, LENGTH, SLIP_WALK, TIME, VEER, VEER_WALK


@dataclass(frozen=True)
class Systematic(Checked):
    """Scale errors of the drivetrain: distance and turn as fractions, veer in degrees per metre, left positive."""

    noun: ClassVar[str] = "scale errors"

    distance: Annotated[Share, "Of straights: this much too long."] = 0.0
    veer: Annotated[
        float,
        Number(VEER, least=-90.0, most=90.0),
        "Of straights: they bend by this, degrees per metre, left positive.",
    ] = 0.0
    turn: Annotated[Share, "Of turns: this much too far."] = 0.0


@dataclass(frozen=True)
class Bias(Systematic):
    """Errors that are the same every time: the scale errors, and what a share of the way cannot say.

    Stop offsets are how much farther than commanded a straight or a turn ends, whichever way it goes. Like the stops'
    chance errors they grow in proportion to the speed. Left and right turns may differ; what is not told of one is
    ``turn``. Backlash and kick are what a reversal does (see ``fieldsim.sim.reversing``).
    """

    noun: ClassVar[str] = "bias"

    turn_left: Annotated[Share | None, "Of turns to the left: this much too far. Left out: as turn says."] = None
    turn_right: Annotated[Share | None, "Of turns to the right: this much too far. Left out: as turn says."] = None
    stop: Annotated[
        float,
        Number(LENGTH, least=-200.0, most=200.0),
        "Of straights: they stop this much too late, mm, however long they are; less than 0: too early.",
    ] = 0.0
    turn_stop: Annotated[
        float,
        Number(ANGLE, least=-90.0, most=90.0),
        "Of turns: they stop this much too late, degrees, however large they are; less than 0: too early.",
    ] = 0.0
    gyro_scale: Annotated[Share, "Of the gyro: it reads a turn this much too large, so that turns end short."] = 0.0
    backlash: Annotated[
        float,
        Number(LENGTH, least=-50.0, most=50.0),
        "Of straights that go back where the robot came from: play in the gears takes this much of them, mm.",
    ] = 0.0
    kick: Annotated[
        float,
        Number(ANGLE, least=-45.0, most=45.0),
        "Of straights that go back where the robot came from: the caster turns it by this as it swings round, degrees, "
        "left positive.",
    ] = 0.0

    @property
    def left(self) -> float:
        """By which share a turn to the left goes too far."""
        return self.turn if self.turn_left is None else self.turn_left

    @property
    def right(self) -> float:
        """By which share a turn to the right goes too far."""
        return self.turn if self.turn_right is None else self.turn_right

    @property
    def middle(self) -> float:
        """The mean of the two: what the wheels and the track make of every turn."""
        return self.turn if self.left == self.right == self.turn else (self.left + self.right) / 2

    def of_turn(self, angle: float) -> float:
        """By which share a turn of this sign goes too far."""
        return self.left if angle > 0 else self.right

    def moved(self, name: str, step: float) -> Bias:
        """The same with one number more by ``step``; with ``turn`` both ways round go with it."""
        names = [name]
        if name == "turn":
            names += [side for side in ("turn_left", "turn_right") if getattr(self, side) is not None]
        return replace(self, **{each: getattr(self, each) + step for each in names})


# With which power of the speed a stop error grows.
_Grows = Annotated[
    float | None,
    Maybe(Number(least=0.0, most=3.0)),
    "The stop error grows with this power of the speed: 1 is in proportion, 0 not at all. Left out: in proportion, "
    "which is assumed.",
]


@dataclass(frozen=True)
class StraightNoise(Checked):
    """Standard deviations: mm at the stop; mm and degrees per root metre."""

    noun: ClassVar[str] = "straight"

    stop: Annotated[SpreadLength, "Standard deviation where it stops, mm."] = 0.0
    distance: Annotated[
        float, Number(DISTANCE_WALK, least=0.0, most=200.0), "Standard deviation of the way, mm per root metre."
    ] = 0.0
    veer: Annotated[
        float, Number(VEER_WALK, least=0.0, most=360.0), "Standard deviation of the heading, degrees per root metre."
    ] = 0.0
    grows: _Grows = None


@dataclass(frozen=True)
class TurnNoise(Checked):
    """Standard deviations: degrees at the stop; degrees per root quarter turn."""

    noun: ClassVar[str] = "turn"

    stop: Annotated[SpreadAngle, "Standard deviation where it stops, degrees."] = 0.0
    slip: Annotated[
        float, Number(SLIP_WALK, least=0.0, most=360.0), "Standard deviation on the way, degrees per root quarter turn."
    ] = 0.0
    grows: _Grows = None


@dataclass(frozen=True)
class GyroNoise(Checked):
    """Standard deviations: degrees per minute; fraction; degrees held on a straight."""

    noun: ClassVar[str] = "gyro"

    drift: Annotated[
        float, Number(GYRO_DRIFT, least=0.0, most=360.0), "Standard deviation of the drift, degrees per minute."
    ] = 0.0
    scale: Annotated[SpreadShare, "Standard deviation of what it reads for a turn."] = 0.0
    hold: Annotated[SpreadAngle, "Standard deviation of the heading held on a straight, degrees."] = 0.0


@dataclass(frozen=True)
class SquareNoise(Checked):
    """Standard deviations of the residual after pushing a face flat on a wall: degrees, mm."""

    noun: ClassVar[str] = "square"

    heading: Annotated[SpreadAngle, "Standard deviation of the heading afterwards, degrees."] = 0.3
    along: Annotated[SpreadLength, "Standard deviation of the distance to the wall afterwards, mm."] = 0.5
    corner: Annotated[
        Literal["sticks", "slides"] | None,
        Maybe(Choice(("sticks", "slides"))),
        "What the corner that touches first does until the face is flush: it sticks where it touched and the wheels "
        "slip, or it slides along the wall and the wheels roll. Left out: it sticks, which is assumed.",
    ] = None


# A percentage is a text in a file, so that its sign is a character.
_DAY_SCHEMA = {
    "properties": {
        "day": {
            "properties": {
                "distance": {"pattern": r"^\s*[^-\s]"},
                "turn": {"pattern": r"^\s*[^-\s]"},
                "veer": {"minimum": 0},
            }
        }
    }
}


def _day_is_spread(day: Systematic) -> Iterator[Complaint]:
    for key, value in (("distance", day.distance), ("veer", day.veer), ("turn", day.turn)):
        if value < 0.0:
            yield Complaint(
                ("day", key),
                tr("is less than 0; it is a standard deviation, which cannot be"),
                tr("leave out the minus"),
            )


@dataclass(frozen=True)
class Accuracy(Checked):
    """How accurately this robot drives. What is left out is perfect, or the default below."""

    noun: ClassVar[str] = "accuracy"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("day",), _day_is_spread, _DAY_SCHEMA),)

    bias: Annotated[Bias, "Errors that are the same every time."] = Bias()
    day: Annotated[Systematic, "How those differ from day to day: standard deviations."] = Systematic()
    straight: Annotated[StraightNoise, "Chance errors of straights and arcs."] = StraightNoise()
    turn: Annotated[TurnNoise, "Chance errors of turns."] = TurnNoise()
    gyro: Annotated[GyroNoise, "Chance errors of the gyro."] = GyroNoise()
    square: Annotated[SquareNoise, "Chance errors left after pushing a face flat on a wall."] = SquareNoise()
    measured_at: Annotated[
        Speed, "The speed the straights were measured at, mm/s: their stop errors grow in proportion to the speed."
    ] = 200.0
    """mm/s: the stop errors of straights grow in proportion to the speed."""
    turn_measured_at: Annotated[
        TurnSpeed | None,
        "The turning speed the turns were measured at, degrees per second, likewise. Left out: the drive's turn_speed.",
    ] = None
    """Degrees per second, likewise for turns; None is the robot's own turn_speed."""
    sample: Annotated[
        float, Number(TIME, above=0.0, most=1.0), "Time between two looks of a light sensor, seconds."
    ] = 0.01
    edge: Annotated[SpreadLength, "Standard deviation of where a light sensor sees a line's edge, mm."] = 1.0
    between: Annotated[
        Between | None, "What the tests leave unknown, as 'fit' writes it. Left out: nothing is said of that."
    ] = None

    def __post_init__(self) -> None:
        # Scale errors alone, as Python wrote a bias before there was more to say.
        if type(self.bias) is Systematic:
            object.__setattr__(self, "bias", Bias(self.bias.distance, self.bias.veer, self.bias.turn))
        super().__post_init__()


def value_of(accuracy: Accuracy, name: str) -> float:
    """One of ``MEASURABLE``."""
    group, key = name.split(".")
    value: float | None = getattr(getattr(accuracy, group), key)
    return accuracy.bias.turn if value is None else value


def with_values(accuracy: Accuracy, values: dict[str, float]) -> Accuracy:
    """The accuracy with some of its ``MEASURABLE`` numbers changed; what is out of bounds is taken as the bound."""
    groups: dict[str, dict[str, float]] = {}
    for name, value in values.items():
        group, key = name.split(".")
        kind = attributes(type(getattr(accuracy, group)))[key].kind
        kind = kind.kind if isinstance(kind, Maybe) else kind
        assert isinstance(kind, Number)
        low = 0.0 if group == "day" else kind.least
        groups.setdefault(group, {})[key] = min(max(value, low), kind.most)
    changed = {group: replace(getattr(accuracy, group), **keys) for group, keys in groups.items()}
    return replace(accuracy, **changed)
