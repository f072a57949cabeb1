"""What a team describes: the field, the robot, the run. Immutable values, in millimetres, degrees and seconds.

Frames (see DEVELOPERS.md): the field frame has its origin at the inner lower left corner of the walls, x right, y away
from the team, heading counter-clockwise from +x. The robot frame has its origin on the mat under the middle of the
drive axle, x forward, y left.

A study is a loop over changed values::

    wider = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=150)))

Bounds are declared once, in the annotations below, and hold for values made here as for files: a value that cannot be
raises `fieldsim.model.errors.PlanError` (a ValueError). Numbers are kept as float and lists as tuples.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Annotated, ClassVar, Literal

from fieldsim.language import tr
from fieldsim.model.bounds import (
    Checked,
    Choice,
    Either,
    Height,
    Kind,
    Many,
    Maybe,
    Name,
    Named,
    Number,
    Pair,
    Record,
    Rule,
    attributes,
    unknown_name,
)
from fieldsim.model.errors import Complaint
from fieldsim.model.outlines import Spot, bounding_box, outline_complaint
from fieldsim.model.units import (
    ACCELERATION,
    ANGLE,
    DISTANCE_WALK,
    GYRO_DRIFT,
    LENGTH,
    MASS,
    NUMBER,
    PERCENT,
    SLIP_WALK,
    SPEED,
    TIME,
    TURN_SPEED,
    VEER,
    VEER_WALK,
    Unit,
    plain,
)

__all__ = [
    "WALLS",
    "Accuracy",
    "Act",
    "Alignment",
    "Arc",
    "Attachment",
    "Band",
    "Between",
    "BiasBetween",
    "Body",
    "Box",
    "Caster",
    "Corner",
    "DayBetween",
    "Drive",
    "Face",
    "Field",
    "GyroBetween",
    "GyroNoise",
    "Jig",
    "Line",
    "LineSquare",
    "Obstacle",
    "Outline",
    "Picture",
    "Point",
    "Robot",
    "Round",
    "Run",
    "Segment",
    "Sensor",
    "Shape",
    "Spread",
    "Square",
    "SquareNoise",
    "StartArea",
    "StartByEye",
    "Straight",
    "StraightBetween",
    "StraightNoise",
    "Systematic",
    "Target",
    "Together",
    "Turn",
    "TurnBetween",
    "TurnNoise",
    "Until",
    "Wait",
    "Weight",
    "Wheel",
    "replace",
    "value_of",
    "with_values",
]

Point = Spot
Band = tuple[float, float]
"""Lower and upper height above the mat, mm."""

Corner = Literal["rear left", "rear right", "front left", "front right"]
Wheel = Literal["left wheel", "right wheel"]
Face = Literal["front", "rear"]

WALLS = ("near wall", "far wall", "left wall", "right wall")
"""Names of the four walls (of the four edges, on an open board): y = 0, y = size[1], x = 0, x = size[0]."""

# The largest sizes anybody can mean: a field or a path as long as a sports hall (20 m), a robot of 2 m. Beyond them a
# unit was mixed up; the certified error of the clearance also grows with the size of the scene.
HALL = 20_000.0
ROBOT = 2_000.0

_LENGTH = Annotated[float, Number(LENGTH, above=0.0, most=ROBOT)]
_IN_FIELD = Annotated[Point, Pair(Number(LENGTH, least=-HALL, most=HALL))]
_ON_ROBOT = Annotated[Point, Pair(Number(LENGTH, least=-ROBOT, most=ROBOT))]
_HEADING = Annotated[float, Number(ANGLE, least=-360.0, most=360.0)]
_SPREAD_LENGTH = Annotated[float, Number(LENGTH, least=0.0, most=200.0)]
_SPREAD_ANGLE = Annotated[float, Number(ANGLE, least=0.0, most=360.0)]
_SPEED = Annotated[float, Number(SPEED, above=0.0, most=5_000.0)]
_TURN_SPEED = Annotated[float, Number(TURN_SPEED, above=0.0, most=3_600.0)]
_SHARE = Annotated[float, Number(PERCENT, least=-0.5, most=0.5)]
_SPREAD_SHARE = Annotated[float, Number(PERCENT, least=0.0, most=0.5)]
_NAME = Annotated[str, Name()]


# --- the field -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Box(Checked):
    """A rectangle, mm in the field frame: ``size[0]`` along its heading, ``size[1]`` across it."""

    noun: ClassVar[str] = "box"

    center: Annotated[_IN_FIELD, "Its middle: [x, y]."]
    size: Annotated[
        Point,
        Pair(Number(LENGTH, above=0.0, most=HALL), ("along", "across")),
        "Its size along its heading and across it: [along, across].",
    ]
    heading: Annotated[_HEADING, "Degrees it is turned, counter-clockwise from x."] = 0.0


@dataclass(frozen=True)
class Round(Checked):
    """A disc, mm in the field frame."""

    noun: ClassVar[str] = "round"

    center: Annotated[_IN_FIELD, "Its middle: [x, y]."]
    radius: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "Half its width."]


def _simple(points: tuple[Point, ...]) -> Iterator[Complaint]:
    yield from outline_complaint(points, "points")


@dataclass(frozen=True)
class Outline(Checked):
    """A simple polygon in the field frame, mm, convex or not; 3 to 200 corners in order, either way round."""

    noun: ClassVar[str] = "outline"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("points",), _simple),)

    points: Annotated[
        tuple[_IN_FIELD, ...],
        Many(Pair(Number(LENGTH, least=-HALL, most=HALL)), least=3, most=200, what="corner"),
        "Its corners in order, [x, y] each; the last joins the first.",
    ]


Shape = Box | Round | Outline


@dataclass(frozen=True)
class Obstacle(Checked):
    """Something on the field that may not be touched unless a segment says so."""

    noun: ClassVar[str] = "obstacle"

    name: Annotated[_NAME, "Its name, which contacts and clearances are reported under."]
    shape: Annotated[Shape, "Its ground plan: box, round or outline."]
    height: Annotated[
        Band,
        Height(alone=True),
        "How high it is above the mat, or [low, high] if it hangs. Left out: taller than everything.",
    ] = (0.0, inf)


@dataclass(frozen=True)
class StartArea(Checked):
    """A part of the mat where runs start, or must end."""

    noun: ClassVar[str] = "start area"

    name: Annotated[_NAME, "Its name, which a run's finish can ask for."]
    shape: Annotated[Shape, "Its ground plan: box, round or outline."]


@dataclass(frozen=True)
class Spread(Checked):
    """Standard deviations of placing the robot: mm along and across its heading, degrees."""

    noun: ClassVar[str] = "spread"

    along: Annotated[_SPREAD_LENGTH, "Standard deviation along the heading, mm."] = 0.5
    across: Annotated[_SPREAD_LENGTH, "Standard deviation across the heading, mm."] = 0.5
    heading: Annotated[_SPREAD_ANGLE, "Standard deviation of the heading, degrees."] = 0.3


@dataclass(frozen=True)
class Jig(Checked):
    """Where a corner of the body is pushed home, mm and degrees in the field frame."""

    noun: ClassVar[str] = "jig"

    name: Annotated[_NAME, "Its name, which a run's start can ask for."]
    corner: Annotated[_IN_FIELD, "Where the held corner of the body is pushed home: [x, y]."]
    heading: Annotated[_HEADING, "The robot's heading in it, degrees counter-clockwise from x."]
    holds: Annotated[
        Corner, Choice(("rear left", "rear right", "front left", "front right")), "Which corner of the body it holds."
    ]
    spread: Annotated[Spread, "How exactly the robot is set in it."] = Spread()


def _line_has_length(start: Point, end: Point) -> Iterator[Complaint]:
    if start == end:
        yield Complaint(("end",), tr("is the same point as its start"), tr("a line needs two different ends"))


@dataclass(frozen=True)
class Line(Checked):
    """A line on the mat, for light sensors, mm in the field frame."""

    noun: ClassVar[str] = "line"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("start", "end"), _line_has_length),)

    name: Annotated[_NAME, "Its name."]
    start: Annotated[_IN_FIELD, "The middle of one end: [x, y]."]
    end: Annotated[_IN_FIELD, "The middle of the other end: [x, y]."]
    width: Annotated[float, Number(LENGTH, above=0.0, most=500.0), "How wide it is, mm."] = 20.0


def _heading_pair(heading: float | None, heading_within: float | None) -> Iterator[Complaint]:
    if heading is None and heading_within is not None:
        yield Complaint(("heading_within",), tr("is given without 'heading'"), tr("add the heading, or leave both out"))
    if heading is not None and heading_within is None:
        yield Complaint(
            ("heading",), tr("is given without 'heading_within'"), tr("add how far off it may be, such as 6")
        )


@dataclass(frozen=True)
class Target(Checked):
    """Where the tool point must be for an act, mm and degrees in the field frame."""

    noun: ClassVar[str] = "target"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(
            ("heading", "heading_within"),
            _heading_pair,
            {"dependentRequired": {"heading": ["heading_within"], "heading_within": ["heading"]}},
        ),
    )

    name: Annotated[_NAME, "Its name, which an act asks for."]
    at: Annotated[_IN_FIELD, "Where the tool point must be: [x, y]."]
    within: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "How far from it the tool point may be, mm."]
    heading: Annotated[_HEADING | None, "The robot's heading there, degrees. Left out: any."] = None
    heading_within: Annotated[
        Annotated[float, Number(ANGLE, above=0.0, most=180.0)] | None, "How far off that heading may be, degrees."
    ] = None
    points: Annotated[float, Number(NUMBER, least=-10_000.0, most=10_000.0), "What it scores."] = 0.0


def _walls_are_taken(obstacles: tuple[Obstacle, ...]) -> Iterator[Complaint]:
    for index, obstacle in enumerate(obstacles):
        if obstacle.name in WALLS:
            yield Complaint(("obstacles", index, "name"), tr("is the name of a wall"), tr("choose another name"))


def _inside(size: Point, corner: Point) -> bool:
    return 0.0 <= corner[0] <= size[0] and 0.0 <= corner[1] <= size[1]


def _outside_text(size: Point) -> str:
    # As a file has it: with points, for commas stand between its numbers.
    return tr("the field goes from [0, 0] to [{x}, {y}]", x=plain(size[0]), y=plain(size[1]))


def _shapes_on_field(key: str, size: Point, items: Sequence[Obstacle | StartArea]) -> Iterator[Complaint]:
    for index, item in enumerate(items):
        x_low, y_low, x_high, y_high = shape_bounds(item.shape)
        if x_high < 0.0 or y_high < 0.0 or x_low > size[0] or y_low > size[1]:
            yield Complaint((key, index, "shape"), tr("lies outside the field"), _outside_text(size))


def _obstacles_on_field(size: Point, obstacles: tuple[Obstacle, ...]) -> Iterator[Complaint]:
    yield from _shapes_on_field("obstacles", size, obstacles)


def _start_areas_on_field(size: Point, start_areas: tuple[StartArea, ...]) -> Iterator[Complaint]:
    yield from _shapes_on_field("start_areas", size, start_areas)


def _jigs_on_field(size: Point, jigs: tuple[Jig, ...]) -> Iterator[Complaint]:
    for index, jig in enumerate(jigs):
        if not _inside(size, jig.corner):
            yield Complaint(("jigs", index, "corner"), tr("lies outside the field"), _outside_text(size))


def _targets_on_field(size: Point, targets: tuple[Target, ...]) -> Iterator[Complaint]:
    for index, target in enumerate(targets):
        if not _inside(size, target.at):
            yield Complaint(("targets", index, "at"), tr("lies outside the field"), _outside_text(size))


def _lines_on_field(size: Point, lines: tuple[Line, ...]) -> Iterator[Complaint]:
    for index, line in enumerate(lines):
        x_low, y_low, x_high, y_high = bounding_box((line.start, line.end))
        if x_high < 0.0 or y_high < 0.0 or x_low > size[0] or y_low > size[1]:
            yield Complaint(
                ("lines", index, "start"), tr("lies outside the field, and so does its end"), _outside_text(size)
            )


@dataclass(frozen=True)
class Picture(Checked):
    """A picture of the mat, laid under the field in the window; it changes no answer."""

    noun: ClassVar[str] = "picture"

    file: Annotated[str, Name("the name of a PNG or JPEG file"), "The picture's file, seen from the field's folder."]
    width: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "How wide the picture lies on the field, mm."]
    corner: Annotated[_IN_FIELD, "Where its lower left corner lies: [x, y]."] = (0.0, 0.0)


@dataclass(frozen=True)
class Field(Checked):
    """The tabletop: its walls and all that stands, lies or is printed on it. mm and degrees in the field frame."""

    noun: ClassVar[str] = "field"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("obstacles",), _walls_are_taken),
        Rule(("size", "obstacles"), _obstacles_on_field),
        Rule(("size", "start_areas"), _start_areas_on_field),
        Rule(("size", "jigs"), _jigs_on_field),
        Rule(("size", "targets"), _targets_on_field),
        Rule(("size", "lines"), _lines_on_field),
    )

    name: Annotated[_NAME, "The field's name."]
    size: Annotated[
        Point, Pair(Number(LENGTH, least=100.0, most=HALL)), "The size inside the walls: [x, y], mm from 100 to 20000."
    ]
    walls: Annotated[
        Band | None,
        Maybe(Height(alone=True)),
        "The walls' height, or none for an open board: its edge is then a drop, and leaving it is a contact. "
        "Left out: walls taller than everything.",
    ] = (0.0, inf)
    """Height band of the walls; None is an open board, whose edge is a drop."""
    obstacles: Annotated[tuple[Obstacle, ...], "What stands on the field."] = ()
    start_areas: Annotated[tuple[StartArea, ...], "Where runs start and may have to end."] = ()
    jigs: Annotated[tuple[Jig, ...], "Where a corner of the robot is pushed home before a run."] = ()
    lines: Annotated[tuple[Line, ...], "Lines on the mat."] = ()
    targets: Annotated[tuple[Target, ...], "Where tools must come to."] = ()
    picture: Annotated[Picture | None, "A picture of the mat that lies under it in the window."] = None


# --- the robot -------------------------------------------------------------------------------------------------


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

    length: Annotated[_LENGTH, "From the rear face to the front face, mm."]
    width: Annotated[_LENGTH, "From the left side to the right side, mm."]
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
    speed: Annotated[_SPEED, "Speed on straights and arcs where a run says nothing, mm/s."] = 200.0
    turn_speed: Annotated[_TURN_SPEED, "Turning speed where a run says nothing, degrees per second."] = 120.0
    acceleration: Annotated[
        float, Number(ACCELERATION, least=1.0, most=100_000.0), "How fast the speed grows and falls, mm/s^2."
    ] = 600.0
    heading_from: Annotated[
        Literal["wheels", "gyro"],
        Choice(("wheels", "gyro")),
        "What the robot knows its heading from: its wheels' encoders, or a gyro that it steers by.",
    ] = "wheels"


@dataclass(frozen=True)
class Systematic(Checked):
    """Scale errors of the drivetrain: distance and turn as fractions, veer in degrees per metre, left positive."""

    noun: ClassVar[str] = "scale errors"

    distance: Annotated[_SHARE, "Of straights: this much too long."] = 0.0
    veer: Annotated[
        float,
        Number(VEER, least=-90.0, most=90.0),
        "Of straights: they bend by this, degrees per metre, left positive.",
    ] = 0.0
    turn: Annotated[_SHARE, "Of turns: this much too far."] = 0.0


@dataclass(frozen=True)
class StraightNoise(Checked):
    """Standard deviations: mm at the stop; mm and degrees per root metre."""

    noun: ClassVar[str] = "straight"

    stop: Annotated[_SPREAD_LENGTH, "Standard deviation where it stops, mm."] = 0.0
    distance: Annotated[
        float, Number(DISTANCE_WALK, least=0.0, most=200.0), "Standard deviation of the way, mm per root metre."
    ] = 0.0
    veer: Annotated[
        float, Number(VEER_WALK, least=0.0, most=360.0), "Standard deviation of the heading, degrees per root metre."
    ] = 0.0


@dataclass(frozen=True)
class TurnNoise(Checked):
    """Standard deviations: degrees at the stop; degrees per root quarter turn."""

    noun: ClassVar[str] = "turn"

    stop: Annotated[_SPREAD_ANGLE, "Standard deviation where it stops, degrees."] = 0.0
    slip: Annotated[
        float, Number(SLIP_WALK, least=0.0, most=360.0), "Standard deviation on the way, degrees per root quarter turn."
    ] = 0.0


@dataclass(frozen=True)
class GyroNoise(Checked):
    """Standard deviations: degrees per minute; fraction; degrees held on a straight."""

    noun: ClassVar[str] = "gyro"

    drift: Annotated[
        float, Number(GYRO_DRIFT, least=0.0, most=360.0), "Standard deviation of the drift, degrees per minute."
    ] = 0.0
    scale: Annotated[_SPREAD_SHARE, "Standard deviation of what it reads for a turn."] = 0.0
    hold: Annotated[_SPREAD_ANGLE, "Standard deviation of the heading held on a straight, degrees."] = 0.0


@dataclass(frozen=True)
class SquareNoise(Checked):
    """Standard deviations of the residual after pushing a face flat on a wall: degrees, mm."""

    noun: ClassVar[str] = "square"

    heading: Annotated[_SPREAD_ANGLE, "Standard deviation of the heading afterwards, degrees."] = 0.3
    along: Annotated[_SPREAD_LENGTH, "Standard deviation of the distance to the wall afterwards, mm."] = 0.5


# --- what the tests leave unknown: between which ends each number lies, 95 %

Ends = tuple[float, float]
_SHARE_ENDS = Annotated[Ends | None, Maybe(Pair(Number(PERCENT, least=-0.5, most=0.5), ("low", "high")))]
_SHARE_SPREAD_ENDS = Annotated[Ends | None, Maybe(Pair(Number(PERCENT, least=0.0, most=0.5), ("low", "high")))]


def _ends(unit: Unit, most: float, least: float = 0.0) -> Maybe:
    return Maybe(Pair(Number(unit, least=least, most=most), ("low", "high")))


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
    rules: ClassVar[tuple[Rule, ...]] = _in_order("distance", "veer", "turn")

    distance: Annotated[_SHARE_ENDS, "Of straights: too long by a share between these."] = None
    veer: Annotated[Ends | None, _ends(VEER, 90.0, -90.0), "Of straights: they bend by between these."] = None
    turn: Annotated[_SHARE_ENDS, "Of turns: too far by a share between these."] = None


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
    rules: ClassVar[tuple[Rule, ...]] = _in_order("stop", "distance", "veer")

    stop: Annotated[Ends | None, _ends(LENGTH, 200.0), "Of where it stops, mm."] = None
    distance: Annotated[Ends | None, _ends(DISTANCE_WALK, 200.0), "Of the way, mm per root metre."] = None
    veer: Annotated[Ends | None, _ends(VEER_WALK, 360.0), "Of the heading, degrees per root metre."] = None


@dataclass(frozen=True)
class TurnBetween(Checked):
    """Between which ends the standard deviations of turns lie."""

    noun: ClassVar[str] = "turn between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("stop", "slip")

    stop: Annotated[Ends | None, _ends(ANGLE, 360.0), "Of where it stops, degrees."] = None
    slip: Annotated[Ends | None, _ends(SLIP_WALK, 360.0), "On the way, degrees per root quarter turn."] = None


@dataclass(frozen=True)
class GyroBetween(Checked):
    """Between which ends the standard deviations of the gyro lie."""

    noun: ClassVar[str] = "gyro between"
    rules: ClassVar[tuple[Rule, ...]] = _in_order("drift", "scale", "hold")

    drift: Annotated[Ends | None, _ends(GYRO_DRIFT, 360.0), "Of the drift, degrees per minute."] = None
    scale: Annotated[_SHARE_SPREAD_ENDS, "Of what it reads for a turn."] = None
    hold: Annotated[Ends | None, _ends(ANGLE, 360.0), "Of the heading held on a straight, degrees."] = None


# The numbers of the accuracy block that tests can tell, by their place in it.
MEASURABLE = (
    "bias.distance", "bias.veer", "bias.turn", "day.distance", "day.veer", "day.turn", "straight.stop",
    "straight.distance", "straight.veer", "turn.stop", "turn.slip", "gyro.drift", "gyro.scale", "gyro.hold",
)  # fmt: skip


@dataclass(frozen=True)
class Together(Checked):
    """How the errors of two numbers go together: one that is too high by chance makes the other too high or low."""

    noun: ClassVar[str] = "correlation"

    one: Annotated[str, Choice(MEASURABLE), "The place of one number in the accuracy block, such as turn.stop."]
    other: Annotated[str, Choice(MEASURABLE), "The other's."]
    correlation: Annotated[float, Number(above=-1.0, below=1.0), "From -1 to 1."]


@dataclass(frozen=True)
class Between(Checked):
    """What the tests leave unknown: between which ends each number of the accuracy block lies, 95 %. What is left out
    is taken as it stands."""

    noun: ClassVar[str] = "between"

    tests: Annotated[float, Number(least=1.0, most=100_000.0, whole=True), "How many tests it is known by."]
    bias: Annotated[BiasBetween, "Of the errors that are the same every time."] = BiasBetween()
    day: Annotated[DayBetween, "Of how those differ from day to day."] = DayBetween()
    straight: Annotated[StraightBetween, "Of the chance errors of straights."] = StraightBetween()
    turn: Annotated[TurnBetween, "Of the chance errors of turns."] = TurnBetween()
    gyro: Annotated[GyroBetween, "Of the chance errors of the gyro."] = GyroBetween()
    together: Annotated[
        tuple[Together, ...], Many(Record(Together), most=91), "Which of them go together by chance, and how."
    ] = ()

    def ends(self, name: str) -> Ends | None:
        """The ends of one of ``MEASURABLE``, None if they are not told."""
        group, key = name.split(".")
        ends: Ends | None = getattr(getattr(self, group), key)
        return ends


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

    bias: Annotated[Systematic, "Errors that are the same every time."] = Systematic()
    day: Annotated[Systematic, "How those differ from day to day: standard deviations."] = Systematic()
    straight: Annotated[StraightNoise, "Chance errors of straights and arcs."] = StraightNoise()
    turn: Annotated[TurnNoise, "Chance errors of turns."] = TurnNoise()
    gyro: Annotated[GyroNoise, "Chance errors of the gyro."] = GyroNoise()
    square: Annotated[SquareNoise, "Chance errors left after pushing a face flat on a wall."] = SquareNoise()
    measured_at: Annotated[
        _SPEED, "The speed the straights were measured at, mm/s: their stop errors grow in proportion to the speed."
    ] = 200.0
    """mm/s: the stop errors of straights grow in proportion to the speed."""
    turn_measured_at: Annotated[
        _TURN_SPEED | None,
        "The turning speed the turns were measured at, degrees per second, likewise. Left out: the drive's turn_speed.",
    ] = None
    """Degrees per second, likewise for turns; None is the robot's own turn_speed."""
    sample: Annotated[
        float, Number(TIME, above=0.0, most=1.0), "Time between two looks of a light sensor, seconds."
    ] = 0.01
    edge: Annotated[_SPREAD_LENGTH, "Standard deviation of where a light sensor sees a line's edge, mm."] = 1.0
    between: Annotated[
        Between | None, "What the tests leave unknown, as 'fit' writes it. Left out: nothing is said of that."
    ] = None


def value_of(accuracy: Accuracy, name: str) -> float:
    """One of ``MEASURABLE``."""
    group, key = name.split(".")
    value: float = getattr(getattr(accuracy, group), key)
    return value


def with_values(accuracy: Accuracy, values: dict[str, float]) -> Accuracy:
    """The accuracy with some of its ``MEASURABLE`` numbers changed; what is out of bounds is taken as the bound."""
    groups: dict[str, dict[str, float]] = {}
    for name, value in values.items():
        group, key = name.split(".")
        kind = attributes(type(getattr(accuracy, group)))[key].kind
        assert isinstance(kind, Number)
        low = 0.0 if group == "day" else kind.least
        groups.setdefault(group, {})[key] = min(max(value, low), kind.most)
    changed = {group: replace(getattr(accuracy, group), **keys) for group, keys in groups.items()}
    return replace(accuracy, **changed)


@dataclass(frozen=True)
class Sensor(Checked):
    """A light sensor that looks down, mm in the robot frame."""

    noun: ClassVar[str] = "sensor"

    name: Annotated[_NAME, "Its name."]
    at: Annotated[_ON_ROBOT, "Where it looks: [x forward, y left] from under the middle of the axle."]


def _simple_attachment(outline: tuple[Point, ...]) -> Iterator[Complaint]:
    yield from outline_complaint(outline, "outline")


@dataclass(frozen=True)
class Attachment(Checked):
    """Something slipped on the robot for a run, mm in the robot frame; the outline may be concave."""

    noun: ClassVar[str] = "attachment"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("outline",), _simple_attachment),)

    name: Annotated[_NAME, "Its name, which a run wears it under."]
    outline: Annotated[
        tuple[_ON_ROBOT, ...],
        Many(Pair(Number(LENGTH, least=-ROBOT, most=ROBOT)), least=3, most=200, what="corner"),
        "Its corners in order, [x forward, y left] from under the middle of the axle; the last joins the first.",
    ]
    height: Annotated[
        Band, Height(), "Its lowest and highest part above the mat: [low, high], mm. Left out: meets everything."
    ] = (0.0, inf)
    tool: Annotated[
        _ON_ROBOT | None, "The point that must reach a target. Left out: the middle of the body's front face."
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

    at: Annotated[_ON_ROBOT, "Where it touches the mat: [x forward, y left] from under the middle of the axle."]


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

    name: Annotated[_NAME, "The robot's name."]
    body: Annotated[Body, "The box it is, without attachments."]
    drive: Annotated[Drive, "Wheels and motors."]
    accuracy: Annotated[Accuracy, "How accurately it drives. Left out: it drives perfectly."] = Accuracy()
    sensors: Annotated[tuple[Sensor, ...], "Light sensors that look down."] = ()
    attachments: Annotated[tuple[Attachment, ...], "What can be slipped on."] = ()
    weight: Annotated[Weight | None, "Its mass and where it is."] = None
    casters: Annotated[tuple[Caster, ...], "What keeps it from tipping."] = ()


# --- the run ---------------------------------------------------------------------------------------------------

_MAY_TOUCH = Annotated[
    tuple[str, ...],
    Many(Named("the name of an obstacle or a wall", of="obstacle or wall"), most=100),
    "Obstacles or walls that contact is meant with on this segment.",
]
_SEGMENT_SPEED = Annotated[_SPEED | None, "Its speed, mm/s. Left out: the robot's speed."]
_ANGLE = Annotated[float, Number(ANGLE, least=-3_600.0, most=3_600.0, nonzero=True)]


@dataclass(frozen=True)
class Straight(Checked):
    """A straight of so many mm. Backwards if the distance is negative."""

    noun: ClassVar[str] = "straight"

    distance: Annotated[
        float, Number(LENGTH, least=-HALL, most=HALL, nonzero=True), "How far to drive, mm; backwards if negative."
    ]
    speed: _SEGMENT_SPEED = None
    may_touch: _MAY_TOUCH = ()


@dataclass(frozen=True)
class Turn(Checked):
    """On the spot, or about a standing wheel; degrees, left positive."""

    noun: ClassVar[str] = "turn"

    angle: Annotated[_ANGLE, "How far to turn, degrees; left if positive."]
    about: Annotated[
        Wheel | None,
        Maybe(Choice(("left wheel", "right wheel"))),
        "The wheel that stands still. Left out: on the spot.",
    ] = None
    turn_speed: Annotated[
        _TURN_SPEED | None, "Its turning speed, degrees per second. Left out: the robot's turn_speed."
    ] = None
    may_touch: _MAY_TOUCH = ()


@dataclass(frozen=True)
class Arc(Checked):
    """The axle's middle drives a circle of ``radius`` mm: left if the angle is positive, backwards if the radius is
    negative."""

    noun: ClassVar[str] = "arc"

    angle: Annotated[_ANGLE, "How far the heading changes, degrees; left if positive."]
    radius: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "The radius the middle of the axle drives, mm; backwards if negative.",
    ]
    speed: _SEGMENT_SPEED = None
    may_touch: _MAY_TOUCH = ()


@dataclass(frozen=True)
class Act(Checked):
    """Do something at a target; the robot stands still for ``takes`` seconds."""

    noun: ClassVar[str] = "act"

    target: Annotated[str, Named("the name of a target", of="target"), "The target the tool point must be at."]
    takes: Annotated[float, Number(TIME, least=0.0, most=600.0), "How long it takes, seconds."] = 0.0
    takes_sd: Annotated[float, Number(TIME, least=0.0, most=600.0), "Standard deviation of that, seconds."] = 0.0


@dataclass(frozen=True)
class Wait(Checked):
    """Stand still for so many seconds."""

    noun: ClassVar[str] = "wait"

    seconds: Annotated[float, Number(TIME, least=0.0, most=600.0), "How long to stand still, seconds."]


# How far from flush a face, a pair of sensors or one sensor may come and still do its work, degrees: common practice,
# no source. A flatter angle than the last would let a millimetre of the line's edge decide over three on the way.
_CAPTURE = Annotated[float, Number(ANGLE, above=0.0, below=90.0)]


@dataclass(frozen=True)
class Square(Checked):
    """Push a face flat on a wall, or on a side of an obstacle. The face is the foremost (rearmost) edge of all that the
    robot carries at the height of what it is pushed against."""

    noun: ClassVar[str] = "square"

    face: Annotated[
        Face, Choice(("front", "rear")), "The face that is pushed flat: front drives forwards, rear backwards."
    ]
    against: Annotated[
        str, Named("the name of an obstacle or a wall", of="obstacle or wall"), "The wall or obstacle it is pushed on."
    ]
    reach: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "How far it may drive until the face touches, mm."]
    speed: _SEGMENT_SPEED = None
    capture: Annotated[_CAPTURE, "The largest angle from flush at which it still swings flat, degrees."] = 20.0
    may_touch: _MAY_TOUCH = ()


@dataclass(frozen=True)
class LineSquare(Checked):
    """Align on a line: the wheel on the side of the sensor that sees the line's edge stops, the other goes on until its
    sensor sees it too. Each further pass does the same in the other direction."""

    noun: ClassVar[str] = "line square"

    line: Annotated[str, Named("the name of a line", of="line"), "The line of the field."]
    sensors: Annotated[
        tuple[str, ...],
        Many(Named("the name of a sensor", of="sensor"), least=2, most=2, what="sensor"),
        "The two light sensors, one to the left of the other.",
    ]
    reach: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "How far it may drive until a sensor sees the line, mm; backwards if negative.",
    ]
    passes: Annotated[float, Number(NUMBER, least=1.0, most=20.0, whole=True), "How often it aligns."] = 1.0
    speed: _SEGMENT_SPEED = None
    capture: Annotated[_CAPTURE, "The largest angle from square to the line at which it still aligns, degrees."] = 45.0
    may_touch: _MAY_TOUCH = ()


@dataclass(frozen=True)
class Until(Checked):
    """Drive straight until a light sensor sees a line."""

    noun: ClassVar[str] = "until"

    line: Annotated[str, Named("the name of a line", of="line"), "The line of the field."]
    sensor: Annotated[str, Named("the name of a sensor", of="sensor"), "The light sensor."]
    reach: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "How far it may drive until the sensor sees the line, mm; backwards if negative.",
    ]
    speed: _SEGMENT_SPEED = None
    capture: Annotated[_CAPTURE, "The largest angle from square to the line at which it still counts, degrees."] = 70.0
    may_touch: _MAY_TOUCH = ()


Alignment = Square | LineSquare | Until
Segment = Straight | Turn | Arc | Square | LineSquare | Until | Act | Wait
_SEGMENTS = tuple(Record(kind) for kind in (Straight, Turn, Arc, Square, LineSquare, Until, Act, Wait))


@dataclass(frozen=True)
class StartByEye(Checked):
    """A start without a jig: the pose of the middle of the axle, mm and degrees in the field frame."""

    noun: ClassVar[str] = "start"

    at: Annotated[_IN_FIELD, "Where the middle of the axle is set: [x, y]."]
    heading: Annotated[_HEADING, "The robot's heading, degrees counter-clockwise from x."]
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
    if isinstance(start, StartByEye) and not _inside(field.size, start.at):
        yield Complaint(("start", "at"), tr("lies outside the field"), _outside_text(field.size))


def _alignments_can_be(field: Field, robot: Robot, segments: tuple[Segment, ...]) -> Iterator[Complaint]:
    """What no path could mend. (What a path does not reach is found by driving it: fieldsim.sim.alignment.)"""
    shapes = {obstacle.name: obstacle.shape for obstacle in field.obstacles}
    places = {sensor.name: sensor.at for sensor in robot.sensors}
    for index, segment in enumerate(segments):
        if isinstance(segment, Square):
            if segment.against in WALLS and field.walls is None:
                yield Complaint(
                    ("segments", index, "against"),
                    tr("names a wall, but the field is an open board"),
                    tr("its edge is a drop"),
                )
            elif isinstance(shapes.get(segment.against), Round):
                yield Complaint(
                    ("segments", index, "against"),
                    tr("names '{against}', which is round", against=segment.against),
                    tr("a face can be pushed flat only on a flat side"),
                )
        elif isinstance(segment, LineSquare):
            sides = [places[name][1] for name in segment.sensors if name in places]
            if len(sides) == 2 and sides[0] == sides[1]:
                yield Complaint(
                    ("segments", index, "sensors"),
                    tr("names two sensors that are equally far to the left"),
                    tr("one has to be to the left of the other, so that each can stop the wheel on its side"),
                )


@dataclass(frozen=True)
class Run(Checked):
    """A run: from where, with what on, and which segments. Names must exist on the field and the robot."""

    noun: ClassVar[str] = "run"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("field", "robot", "start", "segments", "wear", "finish"), _names_exist, names=True),
        Rule(("field", "start"), _start_on_field),
        Rule(("field", "robot", "segments"), _alignments_can_be),
    )

    name: Annotated[_NAME, "The run's name."]
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
        Many(Either(_SEGMENTS), least=1, what="segment"),
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


def shape_bounds(shape: Shape) -> tuple[float, float, float, float]:
    """The smallest upright rectangle around a shape, mm: x_low, y_low, x_high, y_high (of a box: around its circle)."""
    if isinstance(shape, Outline):
        return bounding_box(shape.points)
    reach = shape.radius if isinstance(shape, Round) else 0.5 * (shape.size[0] ** 2 + shape.size[1] ** 2) ** 0.5
    x, y = shape.center
    return x - reach, y - reach, x + reach, y + reach
