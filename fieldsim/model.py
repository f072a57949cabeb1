"""What a team describes: the field, the robot, the run. Immutable values, in millimetres, degrees and seconds.

Frames (see DEVELOPERS.md): the field frame has its origin at the inner lower left corner of the walls, x right, y away
from the team, heading counter-clockwise from +x. The robot frame has its origin on the mat under the middle of the
drive axle, x forward, y left.

A study is a loop over changed values::

    wider = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=150)))
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Literal

Point = tuple[float, float]
Band = tuple[float, float]
"""Lower and upper height above the mat, mm."""

Corner = Literal["rear left", "rear right", "front left", "front right"]
Wheel = Literal["left wheel", "right wheel"]
Face = Literal["front", "rear"]

WALLS = ("near wall", "far wall", "left wall", "right wall")
"""Names of the four walls (of the four edges, on an open board): y = 0, y = size[1], x = 0, x = size[0]."""


# --- the field -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Box:
    """A rectangle: ``size[0]`` along its heading, ``size[1]`` across it."""

    center: Point
    size: Point
    heading: float = 0.0


@dataclass(frozen=True)
class Round:
    center: Point
    radius: float


@dataclass(frozen=True)
class Outline:
    """A simple polygon, convex or not."""

    points: tuple[Point, ...]


Shape = Box | Round | Outline


@dataclass(frozen=True)
class Obstacle:
    name: str
    shape: Shape
    height: Band = (0.0, inf)


@dataclass(frozen=True)
class StartArea:
    name: str
    shape: Shape


@dataclass(frozen=True)
class Spread:
    """Standard deviations of placing the robot: mm along and across its heading, degrees."""

    along: float = 0.5
    across: float = 0.5
    heading: float = 0.3


@dataclass(frozen=True)
class Jig:
    """Where a corner of the body is pushed home."""

    name: str
    corner: Point
    heading: float
    holds: Corner
    spread: Spread = Spread()


@dataclass(frozen=True)
class Line:
    name: str
    start: Point
    end: Point
    width: float = 20.0


@dataclass(frozen=True)
class Target:
    name: str
    at: Point
    within: float
    heading: float | None = None
    heading_within: float | None = None
    points: float = 0.0


@dataclass(frozen=True)
class Field:
    name: str
    size: Point
    walls: Band | None = (0.0, inf)
    """Height band of the walls; None is an open board, whose edge is a drop."""
    obstacles: tuple[Obstacle, ...] = ()
    start_areas: tuple[StartArea, ...] = ()
    jigs: tuple[Jig, ...] = ()
    lines: tuple[Line, ...] = ()
    targets: tuple[Target, ...] = ()


# --- the robot -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Body:
    length: float
    width: float
    axle: float
    """From the rear face to the axle line."""
    height: Band = (0.0, inf)


@dataclass(frozen=True)
class Drive:
    track: float
    wheel: float
    """Diameter."""
    gear: float = 1.0
    """Wheel turns per motor turn."""
    motor_speed: float = 900.0
    """Degrees per second of the motor, loaded."""
    speed: float = 200.0
    turn_speed: float = 120.0
    acceleration: float = 600.0
    heading_from: Literal["wheels", "gyro"] = "wheels"


@dataclass(frozen=True)
class Systematic:
    """Scale errors of the drivetrain: distance and turn as fractions, veer in degrees per metre, left positive."""

    distance: float = 0.0
    veer: float = 0.0
    turn: float = 0.0


@dataclass(frozen=True)
class StraightNoise:
    """Standard deviations: mm at the stop; mm and degrees per root metre."""

    stop: float = 0.0
    distance: float = 0.0
    veer: float = 0.0


@dataclass(frozen=True)
class TurnNoise:
    """Standard deviations: degrees at the stop; degrees per root quarter turn."""

    stop: float = 0.0
    slip: float = 0.0


@dataclass(frozen=True)
class GyroNoise:
    """Standard deviations: degrees per minute; fraction; degrees held on a straight."""

    drift: float = 0.0
    scale: float = 0.0
    hold: float = 0.0


@dataclass(frozen=True)
class SquareNoise:
    """Standard deviations of the residual after pushing a face flat on a wall: degrees, mm."""

    heading: float = 0.3
    along: float = 0.5


@dataclass(frozen=True)
class Accuracy:
    bias: Systematic = Systematic()
    day: Systematic = Systematic()
    straight: StraightNoise = StraightNoise()
    turn: TurnNoise = TurnNoise()
    gyro: GyroNoise = GyroNoise()
    square: SquareNoise = SquareNoise()
    measured_at: float = 200.0
    """mm/s: the stop errors of straights grow in proportion to the speed."""
    turn_measured_at: float | None = None
    """Degrees per second, likewise for turns; None is the robot's own turn_speed."""


@dataclass(frozen=True)
class Sensor:
    name: str
    at: Point


@dataclass(frozen=True)
class Attachment:
    name: str
    outline: tuple[Point, ...]
    height: Band = (0.0, inf)
    tool: Point | None = None


@dataclass(frozen=True)
class Weight:
    mass: float
    at: tuple[float, float, float]


@dataclass(frozen=True)
class Caster:
    at: Point


@dataclass(frozen=True)
class Robot:
    name: str
    body: Body
    drive: Drive
    accuracy: Accuracy = Accuracy()
    sensors: tuple[Sensor, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    weight: Weight | None = None
    casters: tuple[Caster, ...] = ()


# --- the run ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Straight:
    """Backwards if the distance is negative."""

    distance: float
    speed: float | None = None
    may_touch: tuple[str, ...] = ()


@dataclass(frozen=True)
class Turn:
    """On the spot, or about a standing wheel. Left positive."""

    angle: float
    about: Wheel | None = None
    turn_speed: float | None = None
    may_touch: tuple[str, ...] = ()


@dataclass(frozen=True)
class Arc:
    """The axle's middle drives a circle of ``radius``; left if the angle is positive, backwards if the radius is negative."""

    angle: float
    radius: float
    speed: float | None = None
    may_touch: tuple[str, ...] = ()


@dataclass(frozen=True)
class Act:
    target: str
    takes: float = 0.0
    takes_sd: float = 0.0


@dataclass(frozen=True)
class Wait:
    seconds: float


Segment = Straight | Turn | Arc | Act | Wait


@dataclass(frozen=True)
class StartByEye:
    at: Point
    heading: float
    spread: Spread = Spread(3.0, 3.0, 1.5)


@dataclass(frozen=True)
class Run:
    name: str
    field: Field
    robot: Robot
    start: str | StartByEye
    """A jig's name, or a pose set by eye."""
    segments: tuple[Segment, ...]
    wear: tuple[str, ...] = ()
    finish: str | None = None
