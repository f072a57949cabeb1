"""The field: its walls and all that stands, lies or is printed on it. Millimetres and degrees in the field frame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf
from typing import Annotated, ClassVar, Literal

from fieldsim.language import tr
from fieldsim.model.bounds import Checked, Choice, Height, Many, Maybe, Name, Number, Pair, Rule, kept_hash, nearest
from fieldsim.model.errors import Complaint, shown
from fieldsim.model.markers import Marker, markers_are_told_apart, markers_on_field
from fieldsim.model.outlines import bounding_box, outline_complaint
from fieldsim.model.quantities import HALL, Band, Heading, InField, NameText, Point, SpreadAngle, SpreadLength
from fieldsim.model.units import ANGLE, LENGTH, NUMBER, plain

Corner = Literal["rear left", "rear right", "front left", "front right"]

BASES = ("mat", "walls")
"""What a jig may be built on, beside an obstacle."""

WALLS = ("near wall", "far wall", "left wall", "right wall")
"""Names of the four walls (of the four edges, on an open board): y = 0, y = size[1], x = 0, x = size[0]."""


@dataclass(frozen=True)
class Box(Checked):
    """A rectangle, mm in the field frame: ``size[0]`` along its heading, ``size[1]`` across it."""

    noun: ClassVar[str] = "box"

    center: Annotated[InField, "Its middle: [x, y]."]
    size: Annotated[
        Point,
        Pair(Number(LENGTH, above=0.0, most=HALL), ("along", "across")),
        "Its size along its heading and across it: [along, across].",
    ]
    heading: Annotated[Heading, "Degrees it is turned, counter-clockwise from x."] = 0.0


@dataclass(frozen=True)
class Round(Checked):
    """A disc, mm in the field frame."""

    noun: ClassVar[str] = "round"

    center: Annotated[InField, "Its middle: [x, y]."]
    radius: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "Half its width."]


def _simple(points: tuple[Point, ...]) -> Iterator[Complaint]:
    yield from outline_complaint(points, "points")


@dataclass(frozen=True)
class Outline(Checked):
    """A simple polygon in the field frame, mm, convex or not; 3 to 200 corners in order, either way round."""

    noun: ClassVar[str] = "outline"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("points",), _simple),)

    points: Annotated[
        tuple[InField, ...],
        Many(Pair(Number(LENGTH, least=-HALL, most=HALL)), least=3, most=200, what="corner"),
        "Its corners in order, [x, y] each; the last joins the first.",
    ]


Shape = Box | Round | Outline


def shape_bounds(shape: Shape) -> tuple[float, float, float, float]:
    """The smallest upright rectangle around a shape, mm: x_low, y_low, x_high, y_high (of a box: around its circle)."""
    if isinstance(shape, Outline):
        return bounding_box(shape.points)
    reach = shape.radius if isinstance(shape, Round) else 0.5 * (shape.size[0] ** 2 + shape.size[1] ** 2) ** 0.5
    x, y = shape.center
    return x - reach, y - reach, x + reach, y + reach


@dataclass(frozen=True)
class OtherTable(Checked):
    """Give or take (standard deviations) of where a thing stands on another table than the drawing: mm in the field
    frame, degrees about its middle. A trial is driven on one table."""

    noun: ClassVar[str] = "spread"

    x: Annotated[SpreadLength, "Give or take along x, mm."] = 0.0
    y: Annotated[SpreadLength, "Give or take along y, mm."] = 0.0
    heading: Annotated[SpreadAngle, "Give or take of how it is turned, degrees."] = 0.0

    @property
    def still(self) -> bool:
        """Whether it always stands where it is drawn."""
        return self.x == self.y == self.heading == 0.0


@dataclass(frozen=True)
class Obstacle(Checked):
    """Something on the field that may not be touched unless a segment says so."""

    noun: ClassVar[str] = "obstacle"

    name: Annotated[NameText, "Its name, which contacts and clearances are reported under."]
    shape: Annotated[Shape, "Its ground plan: box, round or outline."]
    height: Annotated[
        Band,
        Height(alone=True),
        "How high it is above the mat, or [low, high] if it hangs. Left out: taller than everything.",
    ] = (0.0, inf)
    spread: Annotated[OtherTable, "How far off it stands on another table."] = OtherTable()


@dataclass(frozen=True)
class StartArea(Checked):
    """A part of the mat where runs start, or must end."""

    noun: ClassVar[str] = "start area"

    name: Annotated[NameText, "Its name, which a run's finish can ask for."]
    shape: Annotated[Shape, "Its ground plan: box, round or outline."]


@dataclass(frozen=True)
class Spread(Checked):
    """Standard deviations of placing the robot: mm along and across its heading, degrees."""

    noun: ClassVar[str] = "spread"

    along: Annotated[SpreadLength, "Standard deviation along the heading, mm."] = 0.5
    across: Annotated[SpreadLength, "Standard deviation across the heading, mm."] = 0.5
    heading: Annotated[SpreadAngle, "Standard deviation of the heading, degrees."] = 0.3


@dataclass(frozen=True)
class Jig(Checked):
    """Where a corner of the body is pushed home, mm and degrees in the field frame."""

    noun: ClassVar[str] = "jig"

    name: Annotated[NameText, "Its name, which a run's start can ask for."]
    corner: Annotated[InField, "Where the held corner of the body is pushed home: [x, y]."]
    heading: Annotated[Heading, "The robot's heading in it, degrees counter-clockwise from x."]
    holds: Annotated[
        Corner, Choice(("rear left", "rear right", "front left", "front right")), "Which corner of the body it holds."
    ]
    spread: Annotated[Spread, "How exactly the robot is set in it."] = Spread()
    built_on: Annotated[
        Annotated[str, Name("'mat', 'walls' or the name of an obstacle")] | None,
        "What it moves with on another table: mat, walls or an obstacle. Left out: what the robot stands against, else "
        "the mat.",
    ] = None


def _line_has_length(start: Point, end: Point) -> Iterator[Complaint]:
    if start == end:
        yield Complaint(("end",), tr("is the same point as its start"), tr("a line needs two different ends"))


@dataclass(frozen=True)
class Line(Checked):
    """A line on the mat, for light sensors, mm in the field frame."""

    noun: ClassVar[str] = "line"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("start", "end"), _line_has_length),)

    name: Annotated[NameText, "Its name."]
    start: Annotated[InField, "The middle of one end: [x, y]."]
    end: Annotated[InField, "The middle of the other end: [x, y]."]
    width: Annotated[float, Number(LENGTH, above=0.0, most=500.0), "How wide it is, mm."] = 20.0
    spread: Annotated[OtherTable, "How far off it lies on another table."] = OtherTable()


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

    name: Annotated[NameText, "Its name, which an act asks for."]
    at: Annotated[InField, "Where the tool point must be: [x, y]."]
    within: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "How far from it the tool point may be, mm."]
    heading: Annotated[Heading | None, "The robot's heading there, degrees. Left out: any."] = None
    heading_within: Annotated[
        Annotated[float, Number(ANGLE, above=0.0, most=180.0)] | None, "How far off that heading may be, degrees."
    ] = None
    points: Annotated[float, Number(NUMBER, least=-10_000.0, most=10_000.0), "What it scores."] = 0.0
    spread: Annotated[OtherTable, "How far off it is on another table."] = OtherTable()


def _walls_are_taken(obstacles: tuple[Obstacle, ...]) -> Iterator[Complaint]:
    for index, obstacle in enumerate(obstacles):
        if obstacle.name in WALLS:
            yield Complaint(("obstacles", index, "name"), tr("is the name of a wall"), tr("choose another name"))


def inside(size: Point, corner: Point) -> bool:
    return 0.0 <= corner[0] <= size[0] and 0.0 <= corner[1] <= size[1]


def outside_text(size: Point) -> str:
    # As a file has it: with points, for commas stand between its numbers.
    return tr("the field goes from [0, 0] to [{x}, {y}]", x=plain(size[0]), y=plain(size[1]))


def _shapes_on_field(key: str, size: Point, items: Sequence[Obstacle | StartArea]) -> Iterator[Complaint]:
    for index, item in enumerate(items):
        x_low, y_low, x_high, y_high = shape_bounds(item.shape)
        if x_high < 0.0 or y_high < 0.0 or x_low > size[0] or y_low > size[1]:
            yield Complaint((key, index, "shape"), tr("lies outside the field"), outside_text(size))


def _obstacles_on_field(size: Point, obstacles: tuple[Obstacle, ...]) -> Iterator[Complaint]:
    yield from _shapes_on_field("obstacles", size, obstacles)


def _start_areas_on_field(size: Point, start_areas: tuple[StartArea, ...]) -> Iterator[Complaint]:
    yield from _shapes_on_field("start_areas", size, start_areas)


def _jigs_on_field(size: Point, jigs: tuple[Jig, ...]) -> Iterator[Complaint]:
    for index, jig in enumerate(jigs):
        if not inside(size, jig.corner):
            yield Complaint(("jigs", index, "corner"), tr("lies outside the field"), outside_text(size))


def _jigs_are_built(obstacles: tuple[Obstacle, ...], jigs: tuple[Jig, ...]) -> Iterator[Complaint]:
    known = [*BASES, *(obstacle.name for obstacle in obstacles)]
    for index, jig in enumerate(jigs):
        if jig.built_on is not None and jig.built_on not in known:
            guess = nearest(jig.built_on, known)
            hint = tr("what there is here: {names}", names=", ".join(shown(name) for name in known))
            if guess:
                hint = tr("did you mean '{guess}'? {hint}", guess=shown(guess), hint=hint)
            yield Complaint(
                ("jigs", index, "built_on"), tr("names '{name}', which is nothing here", name=shown(jig.built_on)), hint
            )


def _targets_on_field(size: Point, targets: tuple[Target, ...]) -> Iterator[Complaint]:
    for index, target in enumerate(targets):
        if not inside(size, target.at):
            yield Complaint(("targets", index, "at"), tr("lies outside the field"), outside_text(size))


def _lines_on_field(size: Point, lines: tuple[Line, ...]) -> Iterator[Complaint]:
    for index, line in enumerate(lines):
        x_low, y_low, x_high, y_high = bounding_box((line.start, line.end))
        if x_high < 0.0 or y_high < 0.0 or x_low > size[0] or y_low > size[1]:
            yield Complaint(
                ("lines", index, "start"), tr("lies outside the field, and so does its end"), outside_text(size)
            )


@dataclass(frozen=True)
class Picture(Checked):
    """A picture of the mat, laid under the field in the window; it changes no answer."""

    noun: ClassVar[str] = "picture"

    file: Annotated[str, Name("the name of a PNG or JPEG file"), "The picture's file, seen from the field's folder."]
    width: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "How wide the picture lies on the field, mm."]
    corner: Annotated[InField, "Where its lower left corner lies: [x, y]."] = (0.0, 0.0)


@dataclass(frozen=True)
class Field(Checked):
    """The tabletop: its walls and all that stands, lies or is printed on it. mm and degrees in the field frame."""

    noun: ClassVar[str] = "field"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("obstacles",), _walls_are_taken),
        Rule(("size", "obstacles"), _obstacles_on_field),
        Rule(("size", "start_areas"), _start_areas_on_field),
        Rule(("size", "jigs"), _jigs_on_field),
        Rule(("obstacles", "jigs"), _jigs_are_built),
        Rule(("size", "targets"), _targets_on_field),
        Rule(("size", "lines"), _lines_on_field),
        Rule(("markers",), markers_are_told_apart),
        Rule(("size", "markers"), markers_on_field),
    )

    name: Annotated[NameText, "The field's name."]
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
    mat: Annotated[OtherTable, "How far off the mat lies in the walls, with all that is on it, on another table."] = (
        OtherTable()
    )
    markers: Annotated[tuple[Marker, ...], "Printed markers that pictures are measured by; no obstacles."] = ()

    def __hash__(self) -> int:
        return kept_hash(self)
