"""What a team has measured with a tape and seen at the table. Immutable values, in mm, degrees and seconds.

Signs are those of the robot: forward and left are positive, backward and right negative. ``line`` is the line of the
file that a value was read from, counted from 1.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import asin, degrees, radians, sin
from typing import Annotated, ClassVar, Literal, get_args

from fieldsim.language import tr, tr_later
from fieldsim.model.bounds import Checked, Choice, Either, Many, Maybe, Name, Number, Record, Rule
from fieldsim.model.errors import Complaint
from fieldsim.model.log import Log, LogEntry
from fieldsim.model.quantities import HALL, ROBOT
from fieldsim.model.readings import MOST_ROWS, Count, Day, FileLine, Text
from fieldsim.model.units import ANGLE, LENGTH, SPEED, TURN_SPEED, plain

__all__ = [
    "PROTRACTOR",
    "TAPE",
    "Count",
    "Day",
    "DropTest",
    "Log",
    "LogEntry",
    "PlacingTest",
    "Sheet",
    "SquarePathTest",
    "SquareTest",
    "StraightTest",
    "Test",
    "Text",
    "ThereAndBackTest",
    "TurnTest",
]

TAPE = 1.0
"""How finely a tape is read where a sheet says nothing, mm."""

PROTRACTOR = 0.5
"""How finely an angle is read where a sheet says nothing, degrees: common practice with a protractor or the lines of a
mat, no source."""

# A result farther from its command than this is a slip of the pen or of the unit: a share of the command (the largest
# scale error a robot may have), but at least so many mm or degrees.
SLIP = 0.5
SLIP_MM = 50.0
SLIP_DEGREES = 10.0

# A side measured against a wall tells what is left over of a quarter turn. Near half a quarter turn nobody could say
# which side was meant: the command must be this near to a quarter turn, and what is left over less than half a one.
NEAR_QUARTER = 30.0
MOST_LEFT = 45.0


_DAY = Annotated[datetime.date | None, Maybe(Day()), "The day of the test."]
_SPEED = Annotated[
    float | None, Maybe(Number(SPEED, above=0.0, most=5_000.0)), "The speed, mm/s. Left out: the robot's own."
]
_TURN_SPEED = Annotated[
    float | None,
    Maybe(Number(TURN_SPEED, above=0.0, most=3_600.0)),
    "The turning speed, degrees per second. Left out: the robot's own.",
]
_HEADING_FROM = Annotated[
    Literal["wheels", "gyro"], Choice(("wheels", "gyro")), "What the robot knew its heading from; wheels if left out."
]
_HEADING = Maybe(Number(ANGLE, least=-90.0, most=90.0))
_PROTRACTOR = Annotated[
    float, Number(ANGLE, above=0.0, most=15.0), "How finely the angle was read, degrees; values are rounded to it."
]
_PHOTO = tr_later("How exactly a pose was taken from a photo, give or take, mm. Left out: measured by tape.")
_PHOTO_ANGLE = tr_later("How exactly its heading was taken from the photo, give or take, degrees.")
_OFF = Number(LENGTH, least=-ROBOT, most=ROBOT)
_PLACED = Number(LENGTH, least=-200.0, most=200.0)


@dataclass(frozen=True, kw_only=True)
class _Test(Checked):
    line: FileLine
    date: _DAY = None
    tape: Annotated[float, Number(LENGTH, above=0.0, most=20.0), "How finely the tape was read, mm."] = TAPE
    """Reading resolution, mm: values are rounded to it."""
    note: Annotated[str, Text(), "Anything worth remembering."] = ""


def _slip_hint(found: float, wanted: float, turned: str, units: tuple[tuple[str, float], ...]) -> str:
    """What may have been meant by a result far from its command; ``turned`` is the text for a sign that was
    forgotten."""

    def near(value: float) -> bool:
        return abs(value - wanted) <= SLIP * abs(wanted)

    if near(-found):
        return tr(turned, meant=plain(-found))
    word = next((word for word, size in units if near(found * size)), None)
    return tr("did you mean {number} {unit}?", number=plain(found), unit=word) if word else ""


_BACKWARDS = tr_later("driving backwards counts negative: did you mean {meant}?")


def _travel_fits(commanded: float, travel: float) -> Iterator[Complaint]:
    if abs(travel - commanded) > max(SLIP_MM, SLIP * abs(commanded)):
        hint = _slip_hint(travel, commanded, _BACKWARDS, (("cm", 10.0), ("in", 25.4), ("m", 1000.0)))
        text = tr(
            "is {travel} mm, far from the {commanded} mm commanded", travel=plain(travel), commanded=plain(commanded)
        )
        yield Complaint(("travel",), text, hint or tr("look for a slip; more than half off is no error of driving"))


def _sideways_fits(travel: float, sideways: float | None) -> Iterator[Complaint]:
    if sideways is not None and abs(sideways) > max(SLIP_MM, abs(travel)):
        text = tr(
            "is {sideways} mm, more than the {travel} mm of travel", sideways=plain(sideways), travel=plain(abs(travel))
        )
        yield Complaint(("sideways",), text, tr("measure square to the line the robot was set on"))


def _photo_whole(photo: float | None, photo_angle: float | None) -> Iterator[Complaint]:
    if photo is not None and photo_angle is None:
        yield Complaint(("photo_angle",), tr("is empty, but the place is from a photo"), tr(_PHOTO_ANGLE))
    if photo is None and photo_angle is not None:
        yield Complaint(("photo",), tr("is empty, but the heading is from a photo"), tr(_PHOTO))


@dataclass(frozen=True, kw_only=True)
class _PhotoTest(_Test):
    """A test that may be measured from photos: of the pose before and the pose after, or of one pose."""

    photo: Annotated[float | None, Maybe(Number(LENGTH, above=0.0, most=20.0)), _PHOTO] = None
    """Standard deviation of each coordinate of one pose, mm, as it counts in a difference of two; None for a tape."""
    photo_angle: Annotated[float | None, Maybe(Number(ANGLE, above=0.0, most=15.0)), _PHOTO_ANGLE] = None
    """Standard deviation of the heading of one pose, degrees, likewise."""


@dataclass(frozen=True, kw_only=True)
class StraightTest(_PhotoTest):
    """One straight. ``travel`` is measured along the line the robot was set on, ``sideways`` square to it, mm, left
    positive; ``heading`` is how much the heading changed, degrees, left positive; None where it was not measured."""

    noun: ClassVar[str] = "straight test"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("commanded", "travel"), _travel_fits),
        Rule(("travel", "sideways"), _sideways_fits),
        Rule(("photo", "photo_angle"), _photo_whole),
    )

    commanded: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "What the program asked for, mm; backwards if negative.",
    ]
    travel: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL),
        "How far it went along the line it was set on, mm; backwards if negative.",
    ]
    sideways: Annotated[
        float | None,
        Maybe(Number(LENGTH, least=-HALL, most=HALL)),
        "How far it ended beside that line, mm; left positive.",
    ] = None
    heading: Annotated[float | None, _HEADING, "How much its heading changed, degrees; left positive."] = None
    speed: _SPEED = None
    heading_from: _HEADING_FROM = "wheels"
    protractor: _PROTRACTOR = PROTRACTOR


def _one_way(
    angle_read: float | None, near: float | None, far: float | None, side: float | None
) -> Iterator[Complaint]:
    distances = {"near": near, "far": far, "side": side}
    given = [name for name, value in distances.items() if value is not None]
    if angle_read is None and not given:
        yield Complaint(
            ("angle_read",),
            tr("is empty; a turn test needs it"),
            tr("or write the two distances near and far, and the side"),
        )
    elif angle_read is not None and given:
        yield Complaint((given[0],), tr("is given, but so is the angle"), tr("write the angle, or near, far and side"))
    elif angle_read is None:
        for name in distances:
            if name not in given:
                yield Complaint((name,), tr("is empty; near, far and side belong together"), tr(_DISTANCES[name]))


_DISTANCES = {
    "near": "How far from the wall the end is that a left turn brings nearer, mm.",
    "far": "How far from the wall the end is that a left turn takes away, mm.",
    "side": "How far apart those two ends are, mm.",
}


def _left_over(near: float, far: float, side: float) -> float:
    """Degrees left over of a quarter turn; left positive."""
    return degrees(asin((far - near) / side))


def _whole_quarters(commanded: float) -> float:
    """The multiple of 90 degrees nearest to a command."""
    return 90.0 * round(commanded / 90.0)


def _distances_fit(commanded: float, near: float | None, far: float | None, side: float | None) -> Iterator[Complaint]:
    if near is None or far is None or side is None:
        return
    if abs(far - near) > side * sin(radians(MOST_LEFT)):
        yield Complaint(
            ("far",),
            tr(
                "and near differ by {far} mm over a side of {side} mm; a side that faces the wall cannot stand "
                "so askew",
                far=plain(abs(far - near)),
                side=plain(side),
            ),
            tr("measure the two ends of one side, the one that faces the wall, square to the wall"),
        )
    off = abs(commanded - _whole_quarters(commanded))
    if off > NEAR_QUARTER:
        yield Complaint(
            ("commanded",),
            tr(
                "is {commanded} degrees, {off} from a whole number of quarter turns; no side faces the wall",
                commanded=plain(commanded),
                off=plain(off),
            ),
            tr("write the angle itself, or measure a turn of 90 degrees"),
        )


def _turn_fits(
    commanded: float, angle_read: float | None, near: float | None, far: float | None, side: float | None
) -> Iterator[Complaint]:
    where = "angle_read"
    angle = angle_read
    if angle is None:
        if any(True for _ in _distances_fit(commanded, near, far, side)) or near is None or far is None or side is None:
            return
        where, angle = "far", _whole_quarters(commanded) + _left_over(near, far, side)
    if abs(angle - commanded) > max(SLIP_DEGREES, SLIP * abs(commanded)):
        hint = _slip_hint(angle, commanded, tr_later("turning right counts negative: did you mean {meant}?"), ())
        if where == "angle_read":
            text = tr_later("is {angle} degrees, far from the {commanded} degrees commanded")
        else:
            text = tr_later("makes the turn {angle} degrees, far from the {commanded} degrees commanded")
        text = tr(text, angle=plain(angle), commanded=plain(commanded))
        yield Complaint((where,), text, hint or tr("look for a slip; more than half off is no error of turning"))


@dataclass(frozen=True, kw_only=True)
class TurnTest(_PhotoTest):
    """One turn on the spot, degrees, left positive.

    What it made was read as an angle (``angle_read``), or by tape: ``near`` and ``far`` are the distances, mm, of the
    two ends of one side of the body from the wall it faces, measured square to the wall; the ends are ``side`` mm
    apart. ``near`` is the end that a left turn brings nearer to the wall: the right-hand end, as you look from the
    robot to the wall. ``far`` is the left-hand end, which a left turn takes away. ``angle`` is the turn made, either
    way.
    """

    noun: ClassVar[str] = "turn test"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("angle_read", "near", "far", "side"), _one_way),
        Rule(("commanded", "near", "far", "side"), _distances_fit),
        Rule(("commanded", "angle_read", "near", "far", "side"), _turn_fits),
        Rule(("photo", "photo_angle"), _photo_whole),
    )

    commanded: Annotated[
        float,
        Number(ANGLE, least=-3_600.0, most=3_600.0, nonzero=True),
        "What the program asked for, degrees; left positive.",
    ]
    angle_read: Annotated[
        float | None, Maybe(Number(ANGLE, least=-3_600.0, most=3_600.0)), "What the turn made, degrees; left positive."
    ] = None
    near: Annotated[float | None, Maybe(Number(LENGTH, least=0.0, most=ROBOT)), _DISTANCES["near"]] = None
    far: Annotated[float | None, Maybe(Number(LENGTH, least=0.0, most=ROBOT)), _DISTANCES["far"]] = None
    side: Annotated[float | None, Maybe(Number(LENGTH, least=10.0, most=ROBOT)), _DISTANCES["side"]] = None
    turn_speed: _TURN_SPEED = None
    heading_from: _HEADING_FROM = "wheels"
    protractor: _PROTRACTOR = PROTRACTOR

    @property
    def angle(self) -> float:
        """What the turn made, degrees, left positive: as read, or the nearest quarter turn of the command and what the
        tape says is left over, asin((far - near) / side)."""
        if self.near is None or self.far is None or self.side is None:
            assert self.angle_read is not None
            return self.angle_read
        return _whole_quarters(self.commanded) + _left_over(self.near, self.far, self.side)


def _return_fits(side: float, return_x: float, return_y: float) -> Iterator[Complaint]:
    for name, value in (("return_x", return_x), ("return_y", return_y)):
        if abs(value) > side:
            text = tr("is {value} mm, more than the square's side of {side} mm", value=plain(value), side=plain(side))
            yield Complaint((name,), text, tr("measure from where the robot started"))


@dataclass(frozen=True, kw_only=True)
class SquarePathTest(_PhotoTest):
    """A square path of four equal sides (mm) and four quarter turns, back to where it began. ``return_x`` and
    ``return_y`` are where it ended as seen from where it began, mm: x forward, y left; ``heading`` is by how much its
    heading was off then, degrees, left positive. ``direction`` is as seen from above: cw turns right."""

    noun: ClassVar[str] = "square path test"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("side", "return_x", "return_y"), _return_fits),
        Rule(("photo", "photo_angle"), _photo_whole),
    )

    side: Annotated[float, Number(LENGTH, least=50.0, most=HALL), "The side of the square, mm."]
    direction: Annotated[
        Literal["cw", "ccw"], Choice(("cw", "ccw")), "Seen from above: cw turns right, ccw turns left."
    ]
    return_x: Annotated[float, _OFF, "How far ahead of its start it ended, mm; behind it if negative."]
    return_y: Annotated[float, _OFF, "How far left of its start it ended, mm; right of it if negative."]
    heading: Annotated[float | None, _HEADING, "How far off its heading was at the end, degrees; left positive."] = None
    speed: _SPEED = None
    turn_speed: _TURN_SPEED = None
    heading_from: _HEADING_FROM = "wheels"
    protractor: _PROTRACTOR = PROTRACTOR


def _back_fits(commanded: float, return_x: float, return_y: float) -> Iterator[Complaint]:
    most = max(SLIP_MM, SLIP * abs(commanded))
    for name, value in (("return_x", return_x), ("return_y", return_y)):
        if abs(value) > most:
            text = tr(
                "is {value} mm, far from where it began, {commanded} mm there and back",
                value=plain(value),
                commanded=plain(abs(commanded)),
            )
            yield Complaint((name,), text, tr("measure from where the robot started"))


@dataclass(frozen=True, kw_only=True)
class ThereAndBackTest(_PhotoTest):
    """A straight and the same way back, without a turn between: what a reversal does. ``commanded`` is the first way,
    mm, backwards if negative; ``return_x`` and ``return_y`` are where it ended as seen from where it began, mm: x
    forward, y left; ``heading`` is by how much its heading was off then, degrees, left positive."""

    noun: ClassVar[str] = "there and back test"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("commanded", "return_x", "return_y"), _back_fits),
        Rule(("photo", "photo_angle"), _photo_whole),
    )

    commanded: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "How far the program asked it to drive first, mm; backwards if negative. Then as far back.",
    ]
    return_x: Annotated[float, _OFF, "How far ahead of its start it ended, mm; behind it if negative."]
    return_y: Annotated[float, _OFF, "How far left of its start it ended, mm; right of it if negative."]
    heading: Annotated[float | None, _HEADING, "How far off its heading was at the end, degrees; left positive."] = None
    speed: _SPEED = None
    heading_from: _HEADING_FROM = "wheels"
    protractor: _PROTRACTOR = PROTRACTOR


@dataclass(frozen=True, kw_only=True)
class PlacingTest(_PhotoTest):
    """The robot put down by hand: how far it stood from where it was meant to, mm and degrees, seen along the heading
    it was meant to have. ``jig`` is the name of the jig it was set against, None if it was placed by eye."""

    noun: ClassVar[str] = "placing test"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("photo", "photo_angle"), _photo_whole),)

    along: Annotated[float, _PLACED, "How far ahead of its place it stood, mm; behind it if negative."]
    across: Annotated[float, _PLACED, "How far left of its place it stood, mm; right of it if negative."]
    heading: Annotated[float | None, _HEADING, "How far off its heading was, degrees; left positive."] = None
    jig: Annotated[str | None, Maybe(Name("the name of a jig")), "The jig it was set against. Left out: by eye."] = None
    protractor: _PROTRACTOR = PROTRACTOR


_GAP = Number(LENGTH, least=0.0, most=50.0)


_GAPS = {
    "near": tr_later("write 0 for no gap"),
    "far": tr_later("write 0 for no gap"),
    "side": tr_later("write how far apart the two ends are"),
}


def _gaps_whole(near: float | None, far: float | None, side: float | None) -> Iterator[Complaint]:
    given = {"near": near, "far": far, "side": side}
    if any(value is not None for value in given.values()):
        for name, value in given.items():
            if value is None:
                yield Complaint((name,), tr("is empty; near, far and side belong together"), tr(_GAPS[name]))


@dataclass(frozen=True, kw_only=True)
class SquareTest(_Test):
    """The robot set with one corner of a face on a wall, turned by ``angle`` degrees from flush (left positive), and
    pushed on: was it caught, so that it swung flat (``result``)? How far off flush it then was is read as an angle
    (``heading``, left positive), or as the gaps that the right-hand end (``near``) and the left-hand end (``far``) of
    the robot leave to the wall, seen from the robot, ``side`` mm apart. ``along`` is how far that corner slid along the
    wall, mm, the way the face swung; None where it was not measured."""

    noun: ClassVar[str] = "square test"
    rules: ClassVar[tuple[Rule, ...]] = (Rule(("near", "far", "side"), _gaps_whole),)

    face: Annotated[Literal["front", "rear"], Choice(("front", "rear")), "The face that is pushed flat."] = "front"
    angle: Annotated[
        float,
        Number(ANGLE, least=-45.0, most=45.0, nonzero=True),
        "How far from flush it was set, degrees; left positive.",
    ]
    along: Annotated[
        float | None,
        Maybe(Number(LENGTH, least=-200.0, most=200.0)),
        "How far the corner that touched slid along the wall until the face was flush, mm.",
    ] = None
    heading: Annotated[float | None, _HEADING, "How far off flush it was afterwards, degrees; left positive."] = None
    near: Annotated[float | None, Maybe(_GAP), "The gap at its right-hand end, seen from the robot, mm."] = None
    far: Annotated[float | None, Maybe(_GAP), "The gap at its left-hand end, seen from the robot, mm."] = None
    side: Annotated[float | None, Maybe(Number(LENGTH, least=10.0, most=ROBOT)), "How far apart they are, mm."] = None
    result: Annotated[Literal["pass", "fail"], Choice(("pass", "fail")), "Was it caught, so that it swung flat?"] = (
        "pass"
    )
    protractor: _PROTRACTOR = PROTRACTOR


@dataclass(frozen=True, kw_only=True)
class DropTest(_Test):
    """The robot dropped by hand, to see whether it holds together."""

    noun: ClassVar[str] = "drop test"

    result: Annotated[Literal["pass", "fail"], Choice(("pass", "fail")), "Did it hold?"]
    came_off: Annotated[str, Text(), "What came off."] = ""


Test = StraightTest | TurnTest | SquarePathTest | ThereAndBackTest | PlacingTest | SquareTest | DropTest
_TESTS = Many(Either(tuple(Record(kind) for kind in get_args(Test))), most=MOST_ROWS)


@dataclass(frozen=True)
class Sheet(Checked):
    """All tests of a test sheet, in the file's order."""

    noun: ClassVar[str] = "test sheet"

    tests: Annotated[
        tuple[Test, ...],
        _TESTS,
        "The tests, in order.",
    ] = ()
    notes: Annotated[tuple[str, ...], Many(Text(), most=MOST_ROWS), "How the file was read where it left it open."] = (
        field(default=(), compare=False)
    )
    """Sentences about how the file was read where it left something open, such as how finely the tape was read."""

    @property
    def straights(self) -> tuple[StraightTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, StraightTest))

    @property
    def turns(self) -> tuple[TurnTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, TurnTest))

    @property
    def square_paths(self) -> tuple[SquarePathTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, SquarePathTest))

    @property
    def there_and_backs(self) -> tuple[ThereAndBackTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, ThereAndBackTest))

    @property
    def placings(self) -> tuple[PlacingTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, PlacingTest))

    @property
    def squares(self) -> tuple[SquareTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, SquareTest))

    @property
    def drops(self) -> tuple[DropTest, ...]:
        return tuple(test for test in self.tests if isinstance(test, DropTest))
