"""The robot: its body, how it drives, and what it carries. Millimetres in the robot frame, degrees, seconds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import Annotated, ClassVar, Literal

from fieldsim.language import tr
from fieldsim.model.accuracy import Accuracy
from fieldsim.model.bounds import Checked, Choice, Height, Many, Number, Pair, Rule, kept_hash
from fieldsim.model.errors import Complaint
from fieldsim.model.markers import RobotMarker
from fieldsim.model.outlines import outline_complaint
from fieldsim.model.quantities import ROBOT, Band, Length, NameText, OnRobot, Point, Speed, TurnSpeed
from fieldsim.model.units import ACCELERATION, LENGTH, MASS, NUMBER, TURN_SPEED, plain

Wheel = Literal["left wheel", "right wheel"]
Face = Literal["front", "rear"]


def _axle_in_body(length: float, axle: float) -> Iterator[Complaint]:
    if axle > length:
        yield Complaint(
            ("axle",),
            tr(
                "is {axle} mm from the rear face, but the body is only {length} mm long",
                axle=plain(axle),
                length=plain(length),
            ),
            tr("measure from the rear face to the axle line"),
        )


@dataclass(frozen=True)
class Body(Checked):
    """The robot without attachments: a rectangle, mm."""

    noun: ClassVar[str] = "body"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("length", "axle"), _axle_in_body),)

    length: Annotated[Length, "From the rear face to the front face, mm."]
    width: Annotated[Length, "From the left side to the right side, mm."]
    axle: Annotated[float, Number(LENGTH, least=0.0, most=ROBOT), "From the rear face to the axle line, mm."]
    """From the rear face to the axle line."""
    height: Annotated[
        Band, Height(), "Its lowest and highest part above the mat: [low, high], mm. Left out: meets everything."
    ] = (0.0, inf)


@dataclass(frozen=True)
class Drive(Checked):
    """Two driven wheels beside each other and what the motors do; mm, mm/s, mm/s^2, degrees per second."""

    noun: ClassVar[str] = "drive"

    track: Annotated[
        float, Number(LENGTH, least=10.0, most=ROBOT), "Between the points where the two wheels touch the mat, mm."
    ]
    wheel: Annotated[float, Number(LENGTH, least=5.0, most=1_000.0), "The wheels' diameter, mm."]
    """Diameter."""
    gear: Annotated[float, Number(NUMBER, least=0.01, most=100.0), "Turns of the wheel for one turn of the motor."] = (
        1.0
    )
    """Wheel turns per motor turn."""
    motor_speed: Annotated[
        float, Number(TURN_SPEED, above=0.0, most=100_000.0), "The motor's top speed under load, degrees per second."
    ] = 900.0
    """Degrees per second of the motor, loaded."""
    speed: Annotated[Speed, "Speed on straights and arcs where a run says nothing, mm/s."] = 200.0
    turn_speed: Annotated[TurnSpeed, "Turning speed where a run says nothing, degrees per second."] = 120.0
    acceleration: Annotated[
        float, Number(ACCELERATION, least=1.0, most=100_000.0), "How fast the speed grows and falls, mm/s^2."
    ] = 600.0
    heading_from: Annotated[
        Literal["wheels", "gyro"],
        Choice(("wheels", "gyro")),
        "What the robot knows its heading from: its wheels' encoders, or a gyro that it steers by.",
    ] = "wheels"


@dataclass(frozen=True)
class Sensor(Checked):
    """A light sensor that looks down, mm in the robot frame."""

    noun: ClassVar[str] = "sensor"

    name: Annotated[NameText, "Its name."]
    at: Annotated[OnRobot, "Where it looks: [x forward, y left] from under the middle of the axle."]


def _simple_attachment(outline: tuple[Point, ...]) -> Iterator[Complaint]:
    yield from outline_complaint(outline, "outline")


@dataclass(frozen=True)
class Attachment(Checked):
    """Something slipped on the robot for a run, mm in the robot frame; the outline may be concave."""

    noun: ClassVar[str] = "attachment"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("outline",), _simple_attachment),)

    name: Annotated[NameText, "Its name, which a run wears it under."]
    outline: Annotated[
        tuple[OnRobot, ...],
        Many(Pair(Number(LENGTH, least=-ROBOT, most=ROBOT)), least=3, most=200, what="corner"),
        "Its corners in order, [x forward, y left] from under the middle of the axle; the last joins the first.",
    ]
    height: Annotated[
        Band, Height(), "Its lowest and highest part above the mat: [low, high], mm. Left out: meets everything."
    ] = (0.0, inf)
    tool: Annotated[
        OnRobot | None, "The point that must reach a target. Left out: the middle of the body's front face."
    ] = None


@dataclass(frozen=True)
class Weight(Checked):
    """Mass in kg and centre of mass in the robot frame, mm, z up from the mat."""

    noun: ClassVar[str] = "weight"

    mass: Annotated[float, Number(MASS, above=0.0, most=200.0), "The robot's mass, kg."]
    at: Annotated[
        tuple[float, float, float],
        Pair(Number(LENGTH, least=-ROBOT, most=ROBOT), ("x", "y", "z")),
        "Its centre of mass: [x forward, y left, z up].",
    ]


@dataclass(frozen=True)
class Caster(Checked):
    """A free wheel or slider that keeps the robot from tipping, mm in the robot frame."""

    noun: ClassVar[str] = "caster"

    at: Annotated[OnRobot, "Where it touches the mat: [x forward, y left] from under the middle of the axle."]


def _track_fits_body(body: Body, drive: Drive) -> Iterator[Complaint]:
    # Wheels may stand out a little, and a study may narrow the body; three times the width is a slip of the pen.
    if drive.track > 3.0 * body.width:
        yield Complaint(
            ("drive", "track"),
            tr(
                "is {track} mm, more than three times the body's width of {width} mm",
                track=plain(drive.track),
                width=plain(body.width),
            ),
            tr("measure between the points where the two wheels touch the mat"),
        )


@dataclass(frozen=True)
class Robot(Checked):
    """The base, how it drives and what can be slipped on."""

    noun: ClassVar[str] = "robot"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("body", "drive"), _track_fits_body),)

    name: Annotated[NameText, "The robot's name."]
    body: Annotated[Body, "The box it is, without attachments."]
    drive: Annotated[Drive, "Wheels and motors."]
    accuracy: Annotated[Accuracy, "How accurately it drives. Left out: it drives perfectly."] = Accuracy()
    sensors: Annotated[tuple[Sensor, ...], "Light sensors that look down."] = ()
    attachments: Annotated[tuple[Attachment, ...], "What can be slipped on."] = ()
    weight: Annotated[Weight | None, "Its mass and where it is."] = None
    casters: Annotated[tuple[Caster, ...], "What keeps it from tipping."] = ()
    marker: Annotated[RobotMarker | None, "The printed marker on top of it that pictures are measured by."] = None

    def __hash__(self) -> int:
        return kept_hash(self)
