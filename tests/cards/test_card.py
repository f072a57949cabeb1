"""The card of a run: wheel degrees by hand, offsets against shapely, clocks, places to watch, rows that a log reads.

All fields, robots and runs are invented.
"""

from __future__ import annotations

import csv
import io
import json
import shlex
from collections.abc import Callable
from dataclasses import replace
from math import atan, cos, degrees, pi, radians, sin
from pathlib import Path

import pytest
import shapely
import shapely.affinity
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import PERFECT, STILL, TYPICAL, robot, run

from fieldsim import load_run
from fieldsim.answers import to_json
from fieldsim.cards.run.answer import card_answer
from fieldsim.cards.run.card import Card, make_card
from fieldsim.cards.run.start import StartValues, start_values
from fieldsim.cards.run.start_words import heading_words, jig_words, looks_words, measure_words
from fieldsim.cards.run.step_words import formula, gap_words, seen_words, sights, step_words, turns_words, worked_out
from fieldsim.cards.run.text import card_text
from fieldsim.cards.run.watch import MOST_GAPS, Gap
from fieldsim.cards.run.words import log_rows, warning_words, watch_words
from fieldsim.cards.shared import BOX, PAPERS, header
from fieldsim.cards.sheet.blank import blank_tests
from fieldsim.cards.sheet.words import full_row, sheet_text
from fieldsim.files.sheets import blank_log, blank_sheet, load_log, load_sheet
from fieldsim.lettering import cells
from fieldsim.model import (
    Act,
    Arc,
    Attachment,
    Box,
    Drive,
    Field,
    Jig,
    Line,
    LineSquare,
    Obstacle,
    Round,
    Run,
    Segment,
    Sensor,
    Spread,
    Square,
    StartByEye,
    Straight,
    Target,
    Turn,
    Until,
    Wait,
)
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import plan
from fieldsim.sim.program import steps, wheel_turns
from fieldsim.studies.attempt import Tried, attempt

BAKERY = Path(__file__).parents[2] / "runs" / "bakery"


def tried(of: Run, trials: int = 1000, **rest: int) -> Tried:
    return attempt(of, trials=trials, keep=trials, threads=1, **rest)


def card(of: Run, trials: int = 1000) -> Card:
    return make_card(tried(of, trials), "runs/test-run.yaml")


# --- wheel degrees --------------------------------------------------------------------------------------------------

# A wheel of 60 mm on a track of 120 mm: 360 / (pi 60) = 1.909859 degrees a mm, and 2 degrees a degree of a turn.
EASY = Drive(track=120.0, wheel=60.0, gear=1.0)
PER_MM = 1.9098593171


@pytest.mark.parametrize(
    ("segment", "left", "right"),
    [
        (Straight(100.0), 190.98593171, 190.98593171),
        (Straight(-100.0), -190.98593171, -190.98593171),
        # On the spot: each wheel drives a piece of a circle of the track's width, 90/360 pi 120 mm.
        (Turn(90.0), -180.0, 180.0),
        (Turn(-90.0), 180.0, -180.0),
        (Turn(720.0), -1440.0, 1440.0),
        # About a wheel the other one drives a circle twice as wide.
        (Turn(90.0, about="left wheel"), 0.0, 360.0),
        (Turn(-90.0, about="left wheel"), 0.0, -360.0),
        (Turn(90.0, about="right wheel"), -360.0, 0.0),
        (Turn(-90.0, about="right wheel"), 360.0, 0.0),
        # Radius 180: to the left the left wheel drives on radius 120, the right one on 240: 2 A r / d.
        (Arc(60.0, radius=180.0), 2 * 60 * 120 / 60, 2 * 60 * 240 / 60),
        (Arc(-60.0, radius=180.0), 480.0, 240.0),
        # Backwards along a left arc the centre is at the right hand: the right wheel drives the shorter way.
        (Arc(60.0, radius=-180.0), -480.0, -240.0),
        (Arc(-60.0, radius=-180.0), -240.0, -480.0),
        # A radius less than half of the track: the inner wheel turns backwards.
        (Arc(90.0, radius=30.0), 2 * 90 * -30 / 60, 2 * 90 * 90 / 60),
        (Square("rear", against="left wall", reach=50.0), -50 * PER_MM, -50 * PER_MM),
        (Square("front", against="left wall", reach=50.0), 50 * PER_MM, 50 * PER_MM),
        (LineSquare("kerb", ("one", "two"), reach=-40.0), -40 * PER_MM, -40 * PER_MM),
        (Until("kerb", "one", reach=80.0), 80 * PER_MM, 80 * PER_MM),
    ],
)
def test_wheel_degrees_by_hand(segment: Segment, left: float, right: float) -> None:
    found = wheel_turns(segment, EASY)
    assert found is not None
    assert found.left == pytest.approx(left, abs=1e-7)
    assert found.right == pytest.approx(right, abs=1e-7)


@pytest.mark.parametrize("segment", [Act("bell", takes=2.0), Wait(1.0)])
def test_what_stands_turns_no_wheel(segment: Segment) -> None:
    assert wheel_turns(segment, EASY) is None


@given(
    st.floats(-300, 300).filter(lambda r: abs(r) > 10),
    st.floats(-360, 360).filter(lambda a: abs(a) > 1),
    st.floats(50, 200),
    st.floats(20, 100),
)
def test_wheel_degrees_are_the_way_of_each_wheel_on_its_circle(
    radius: float, angle: float, track: float, wheel: float
) -> None:
    """A wheel's way is the angle times how far it stands from the centre that all turns about: another derivation."""
    found = wheel_turns(Arc(angle, radius=radius), Drive(track=track, wheel=wheel))
    assert found is not None
    # Forwards to the left, and backwards to the right, the centre lies at the left hand.
    centre = abs(radius) * (1 if angle * radius > 0 else -1)
    for degree, y in ((found.left, track / 2), (found.right, -track / 2)):
        assert degree * pi * wheel / 360 == pytest.approx((centre - y) * radians(angle), abs=1e-6)


def every_kind(gear: float = 1.0) -> Run:
    """A run with every kind of segment in it."""
    drive = Drive(track=120.0, wheel=60.0, gear=gear, motor_speed=900.0, speed=200.0, turn_speed=90.0)
    sensors = (Sensor("one", (90.0, 30.0)), Sensor("two", (90.0, -30.0)))
    field = Field(
        "Floor", (4000.0, 2000.0), targets=(Target("bell", (1290.0, 970.0), 500.0),),
        lines=(Line("kerb", (1600.0, 0.0), (1600.0, 2000.0), 20.0),),
    )  # fmt: skip
    scoop = Attachment(
        "scoop", ((110.0, -40.0), (150.0, -40.0), (150.0, 40.0), (110.0, 40.0)), (15.0, 60.0), (145.0, 0.0)
    )
    return Run(
        "Every kind", field, replace(robot(TYPICAL), drive=drive, sensors=sensors, attachments=(scoop,)),
        StartByEye((300.0, 1000.0), 0.0),
        (
            Square("rear", against="left wall", reach=400.0, speed=100.0), Straight(900.0), Act("bell", takes=1.5),
            Until("kerb", "one", reach=900.0), LineSquare("kerb", ("one", "two"), reach=-200.0), Wait(0.5),
            Straight(-150.0, speed=80.0), Turn(90.0), Turn(-45.0, about="left wheel"), Arc(30.0, radius=250.0),
            Arc(-30.0, radius=-250.0), Turn(-45.0, about="right wheel", turn_speed=30.0),
        ),
        wear=("scoop",),
    )  # fmt: skip


@pytest.mark.parametrize("gear", [1.0, 0.6, 3.0])
def test_motors_turn_through_the_gear(gear: float) -> None:
    """The gear is wheel turns for each turn of the motor: geared up by 3 a motor turns a third."""
    for step in steps(plan(every_kind(gear))):
        if step.wheels is None:
            assert step.motors is None
            continue
        assert step.motors is not None
        assert step.motors.left * gear == pytest.approx(step.wheels.left)
        assert step.motors.right * gear == pytest.approx(step.wheels.right)


def test_clocks_are_the_plans() -> None:
    ready = plan(every_kind())
    found = steps(ready)
    assert [step.seconds for step in found] == list(ready.seconds)
    for n, step in enumerate(found):
        assert step.number == n + 1
        assert step.clock == pytest.approx(sum(ready.seconds[: n + 1]))


def test_times_and_speeds_by_hand() -> None:
    """A trapezoid: 900 mm at 200 mm/s, reached at 600 mm/s^2, take 900/200 + 200/600 s; a turn likewise of a wheel's
    way. The motors turn 900 degrees a second at most: a wheel of 60 mm drives 471 mm/s."""
    of = every_kind()
    found = steps(plan(of))
    a = of.robot.drive.acceleration
    by_kind = {step.words: step for step in found}
    straight = by_kind["straight 900 mm"]
    assert straight.seconds == pytest.approx(900 / 200 + 200 / a)
    assert straight.speed == 200
    assert straight.motor_speed == pytest.approx(200 * PER_MM)
    spin = by_kind["turn left 90 degrees"]
    wheel = radians(90) * 60
    assert spin.seconds == pytest.approx(radians(90) * 60 / wheel + wheel / a)
    assert (spin.speed, spin.turn_speed) == (None, pytest.approx(90.0))
    assert spin.motor_speed == pytest.approx(90.0 * 120 / 60)
    pivot = next(step for step in found if step.about == "right wheel")
    assert pivot.turn_speed == pytest.approx(30.0)
    arc = next(step for step in found if step.radius == 250.0)
    assert arc.motor_speed == pytest.approx(200 * (1 + 60 / 250) * PER_MM)
    fast = replace(
        of, robot=replace(of.robot, drive=replace(of.robot.drive, motor_speed=300.0)), segments=(Turn(360.0),)
    )
    limited = steps(plan(fast))[0]
    assert limited.motor_speed == pytest.approx(180.0)
    slow = replace(fast, segments=(Straight(500.0, speed=800.0),))
    assert steps(plan(slow))[0].motor_speed == pytest.approx(300.0)


def test_the_formula_on_the_card_gives_its_number() -> None:
    """What is written as a sum is worked out, and must be the number beside it."""
    of = card(every_kind(1.5))
    told = 0
    for step in of.steps:
        sums = formula(step, of)
        if step.wheels is None:
            assert sums == ("", "")
            continue
        for sum_, value in zip(sums, (step.wheels.left, step.wheels.right), strict=True):
            assert eval(sum_.replace("x", "*"), {"pi": pi}) == pytest.approx(value, abs=1e-9)
            told += 1
        for text, value in zip(turns_words(step.wheels, step), (step.wheels.left, step.wheels.right), strict=True):
            assert float(text.removeprefix("to ")) == pytest.approx(value, abs=0.0501)
    assert told == 20
    pivot = next(step for step in of.steps if step.about == "left wheel")
    assert worked_out(pivot, of) == ("stands still", "2 x (-45) x 120 / 60 = -180.0")


def test_what_is_set_against_something_says_at_most_and_the_planned_way() -> None:
    """By hand: the rear face stands at 300 - 60 = 240 mm. Then the axle is at 60, after the straight at 960; the line's
    near side is at 1590 and the sensor 90 mm ahead: 540 mm. It looks 100 times a second, each 2 mm at 200 mm/s; as
    planned, the first look is half of that on: 1, 3... and so 541 mm."""
    found = {step.kind: step for step in card(every_kind()).steps}
    square, until = found["square"], found["until"]
    assert square.at_most
    assert square.planned_way == pytest.approx(240.0, abs=1e-6)
    assert until.planned_way == pytest.approx(541.0, abs=1e-6)
    assert step_words(square) == "square rear on left wall, at most 400 mm, planned 240 mm"
    assert turns_words(square.wheels, square) == ("to -763.9", "to -763.9")
    short = run(Square("rear", against="left wall", reach=50.0), at=(300.0, 300.0))
    missed = steps(plan(short))[0]
    assert missed.planned_way is None
    assert step_words(missed).endswith("at most 50 mm, not met as planned")


# --- the start ------------------------------------------------------------------------------------------------------


def body_of(of: Run) -> list[tuple[float, float]]:
    """Corners by shapely, in the order of a box from the rear left on."""
    x, y, heading = start_pose(of)
    b = of.robot.body
    front, half = b.length - b.axle, b.width / 2
    ring = shapely.Polygon([(-b.axle, half), (-b.axle, -half), (front, -half), (front, half)])
    placed = shapely.affinity.translate(shapely.affinity.rotate(ring, heading, origin=(0, 0)), x, y)
    return list(placed.exterior.coords)[:4]


def walls_of(field: Field) -> dict[str, shapely.LineString]:
    w, d = field.size
    return {
        "left wall": shapely.LineString([(0, -9e3), (0, 9e3)]),
        "right wall": shapely.LineString([(w, -9e3), (w, 9e3)]),
        "near wall": shapely.LineString([(-9e3, 0), (9e3, 0)]),
        "far wall": shapely.LineString([(-9e3, d), (9e3, d)]),
    }


NAMES = ("rear left", "rear right", "front right", "front left")


@settings(max_examples=examples(60))
@given(st.floats(250, 1750), st.floats(250, 950), st.floats(-180, 180))
def test_offsets_are_those_of_shapely(x: float, y: float, heading: float) -> None:
    of = Run("Start", Field("Floor", (2000.0, 1200.0)), robot(), StartByEye((x, y), heading, STILL), (Straight(10.0),))
    found = start_values(of)
    corners = dict(zip(NAMES, map(shapely.Point, body_of(of)), strict=True))
    walls = walls_of(of.field)
    body = shapely.Polygon(body_of(of))
    for measure in found.measures:
        assert measure.distance == pytest.approx(corners[measure.corner].distance(walls[measure.wall]), abs=1e-9)
        assert measure.at == pytest.approx((corners[measure.corner].x, corners[measure.corner].y), abs=1e-9)
    first, second, third = found.measures
    # The nearest corner to the nearer one of two opposite walls.
    for measure, pair in ((first, ("left wall", "right wall")), (second, ("near wall", "far wall"))):
        assert measure.wall in pair
        assert measure.distance == pytest.approx(min(body.distance(walls[wall]) for wall in pair), abs=0.06)
    one = {m.letter: m for m in found.measures}[found.check[0]]
    assert third.wall == one.wall
    assert third.corner != one.corner
    assert found.difference == pytest.approx(third.distance - one.distance)
    # Both corners belong to the side that is named.
    sides = {"rear": "rear", "front": "front", "left side": "left", "right side": "right"}
    assert sides[found.side] in one.corner
    assert sides[found.side] in third.corner


@settings(max_examples=examples(40))
@given(st.floats(-180, 180))
def test_a_degree_off_changes_the_difference_as_told(heading: float) -> None:
    """Turned by a tenth of a degree, the difference of the same two corners changes by a tenth of what is told."""
    floor = Field("Floor", (2000.0, 1200.0))

    def at(turned: float) -> Run:
        return Run("Start", floor, robot(), StartByEye((900.0, 500.0), turned, STILL), (Straight(10.0),))

    found = start_values(at(heading))
    third = found.measures[2]
    one = {m.letter: m for m in found.measures}[found.check[0]]
    walls = walls_of(floor)

    def difference(turned: float) -> float:
        corners = dict(zip(NAMES, map(shapely.Point, body_of(at(turned))), strict=True))
        return corners[third.corner].distance(walls[third.wall]) - corners[one.corner].distance(walls[one.wall])

    slope = (difference(heading + 0.05) - difference(heading - 0.05)) / 0.1
    assert abs(slope) == pytest.approx(found.per_degree, abs=1e-4)


def in_jig(heading: float = 90.0, corner: tuple[float, float] = (60.0, 0.0), holds: str = "rear left") -> Run:
    jig = Jig("block", corner, heading, holds, Spread(0.4, 0.5, 0.2))
    stop = Obstacle("stop", Box((30.0, 20.0), (60.0, 40.0)), (0.0, 30.0))
    field = Field("Yard", (2000.0, 1200.0), obstacles=(stop,), jigs=(jig,))
    return Run("From a jig", field, robot(), "block", (Straight(100.0),))


def test_a_start_in_a_jig_by_hand() -> None:
    """Rear left corner at (60, 0), looking at the far wall: the left side runs along x = 60 for 170 mm."""
    found = start_values(in_jig())
    assert (found.jig, found.holds, found.held_at) == ("block", "rear left", (60.0, 0.0))
    a, b, c = found.measures
    # Of the left side's two ends the front one has nothing between it and the wall.
    assert (a.corner, a.wall, a.distance, a.over) == ("front left", "left wall", pytest.approx(60.0), None)
    assert (b.corner, b.wall, b.distance) == ("rear left", "near wall", pytest.approx(0.0, abs=1e-9))
    assert (c.corner, c.wall, c.distance, c.over) == ("rear left", "left wall", pytest.approx(60.0), "stop")
    assert found.check == ("A", "C")
    assert found.side == "left side"
    assert found.per_degree == pytest.approx(170 * pi / 180)
    assert found.spread == (0.4, 0.5, 0.2)
    assert found.pose == pytest.approx((130.0, 60.0, 90.0))


def test_the_start_in_words() -> None:
    of = card(in_jig())
    assert jig_words(of) == "Jig: block. Push the rear left corner home."
    assert looks_words(of) == "It looks straight at the far wall."
    assert [measure_words(measure) for measure in of.start.measures] == [
        "A: front left corner to left wall, 60 mm",
        "B: rear left corner to near wall, 0 mm, it touches",
        "C: rear left corner to left wall, 60 mm (stop is between)",
    ]
    assert heading_words(of) == "Heading: right if A and C are the same; each degree off changes that by 3 mm."
    by_eye = card(run(Straight(10.0), at=(500.0, 400.0), heading=-80.0, spread=Spread(2.0, 3.0, 1.5)))
    assert jig_words(by_eye) == "No jig: set it by eye, give or take 3 mm and 1.5 degrees."
    assert looks_words(by_eye) == "It looks 10 degrees to the left of straight at the near wall."
    # The left side is 170 mm long: its ends differ by 170 sin 10.
    assert f"{170 * sin(radians(10)):.1f} mm" in heading_words(by_eye)


def test_an_open_board_has_edges() -> None:
    of = in_jig(corner=(60.0, 20.0))
    assert {m.wall for m in start_values(replace(of, field=replace(of.field, walls=None))).measures} == {
        "left edge", "near edge",
    }  # fmt: skip


# --- what must be seen ----------------------------------------------------------------------------------------------


def gaps_of(
    *obstacles: Obstacle, segments: tuple[Segment, ...] = (Straight(600.0),), **rest: object
) -> tuple[Gap, ...]:
    of = run(*segments, field=Field("Floor", (4000.0, 4000.0), obstacles=obstacles))
    return card(replace(of, **rest)).gaps  # type: ignore[arg-type]


def beside(name: str, across: float, ahead: float = 300.0, size: float = 40.0) -> Obstacle:
    """A box whose near side is ``across`` mm to the left of the middle of the body (right if negative)."""
    away = size / 2 if across > 0 else -size / 2
    return Obstacle(name, Box((2000.0 + ahead, 2000.0 + across + away), (size, size)))


def test_gaps_beside_either_side_by_hand() -> None:
    """The body is 140 wide: 70 mm to each side."""
    left, right = gaps_of(beside("mill", 82.9), beside("shed", -100.0), beside("far off", 70.0 + 51.0))
    assert (left.obstacle, left.step, left.gap) == ("mill", 1, pytest.approx(12.9, abs=1e-4))
    assert (left.part, left.place, left.side) == ("body", "left side", "left")
    assert (right.obstacle, right.gap, right.place) == ("shed", pytest.approx(30.0, abs=1e-4), "right side")
    assert (right.part, right.side) == ("body", "right")
    # Rounded down: a gauge block of 12 mm goes in.
    assert gap_words(left, 1000) == "D: block 12 mm at mill, near side; nearest: left side (usually 12 mm)"
    assert gap_words(left, 0) == "D: 12 mm beside mill, left side"
    # Driving to the right past a mill at its left hand: the block lies on the mill's near side, halfway.
    assert (left.which, right.which) == ("near", "far")
    assert left.at is not None
    assert left.at[1] == pytest.approx(2000.0 + 70.0 + 12.9 / 2, abs=1e-3)


@pytest.mark.parametrize(
    ("usual", "left", "words"),
    [
        (16.9, 2.9, "block 2 mm at mill (usually 16 mm)"),
        (16.9, 1.0, "block 1 mm at mill (usually 16 mm)"),
        (16.9, 0.9, "passes mill: no block, under 1 mm is left (usually 16 mm)"),
        (16.9, 0.0, "passes mill: no block, more than 1 in 20 touch (usually 16 mm)"),
        (0.4, 0.0, "passes mill: no block, under 1 mm is left"),
        (0.0, 0.0, "touches mill on a usual drive"),
    ],
)
def test_a_block_is_what_19_of_20_drives_leave_alone(usual: float, left: float, words: str) -> None:
    assert gap_words(Gap("E", 1, "mill", usual, usual, left, None, None, None, None, None), 1000) == f"E: {words}"


def test_what_should_not_be_seen_has_no_box() -> None:
    """A usual drive into the mill is a warning; the same one past it is ticked."""
    for across, good in ((82.9, True), (60.0, False)):
        told = card(
            run(Straight(600.0), field=Field("Floor", (4000.0, 4000.0), obstacles=(beside("mill", across),))), 200
        )
        (sight,) = sights(told, 1)
        assert sight.good == good
        assert (BOX in sight.mark) == good
        assert bool(warning_words(told)) == (not good)


def test_what_more_than_1_in_20_drives_touch_is_a_warning() -> None:
    told = card(run(Straight(600.0), field=Field("Floor", (4000.0, 4000.0), obstacles=(beside("mill", 82.9),))), 200)
    (gap,) = told.gaps
    for left, good in ((0.0, False), (0.4, True), (3.0, True), (None, True)):
        (sight,) = sights(replace(told, gaps=(replace(gap, left=left),)), 1)
        assert sight.good == good


def test_a_gap_at_a_corner_and_at_the_front() -> None:
    """Stopping 5 mm before a box straight ahead, and 3-4-5 beside one that lies beyond the front left corner."""
    front = 600.0 + 170.0 - 60.0
    ahead = Obstacle("post", Box((2000.0 + front + 5.0 + 20.0, 2000.0), (40.0, 400.0)))
    (found,) = gaps_of(ahead)
    assert (found.place, found.side, found.gap) == ("front", "front", pytest.approx(5.0, abs=1e-4))
    aside = Obstacle("post", Box((2000.0 + front + 3.0 + 20.0, 2070.0 + 4.0 + 20.0), (40.0, 40.0)))
    (found,) = gaps_of(aside)
    assert found.gap == pytest.approx(5.0, abs=1e-4)
    assert found.place == "front left corner"


def test_a_turning_corner_passes_a_round_one() -> None:
    """The rear left corner is 92.2 mm from the axle; about the middle it passes a post at 110 mm with radius 10."""
    reach = (60.0**2 + 70.0**2) ** 0.5
    start = degrees(atan(70 / 60))  # the rear left corner lies at 180 - this
    post = radians(180 - start + 45)
    post_at = (2000.0 + 110 * cos(post), 2000.0 + 110 * sin(post))
    (found,) = gaps_of(Obstacle("post", Round(post_at, 10.0)), segments=(Turn(90.0),))
    assert found.gap == pytest.approx(110 - 10 - reach, abs=1e-3)
    assert found.place == "rear left corner"


def test_a_gap_beside_an_attachment_names_it() -> None:
    wing = Attachment("wing", ((0.0, 60.0), (20.0, 60.0), (20.0, 110.0), (0.0, 110.0)), (8.0, 50.0), None)
    (found,) = gaps_of(beside("mill", 118.0), robot=replace(robot(PERFECT), attachments=(wing,)), wear=("wing",))
    assert (found.part, found.place, found.gap) == ("wing", None, pytest.approx(8.0, abs=1e-4))
    assert gap_words(found, 0) == "D: 8 mm beside mill, wing"


def test_gaps_come_tightest_first_and_no_more_than_can_be_watched() -> None:
    many = tuple(beside(f"box {n}", 75.0 + 3.0 * n, ahead=150.0 + 60.0 * n) for n in range(9))
    found = gaps_of(*many)
    assert [gap.obstacle for gap in found] == [f"box {n}" for n in range(MOST_GAPS)]
    assert [gap.gap for gap in found] == sorted(gap.gap for gap in found)


def test_gaps_are_those_of_a_usual_drive() -> None:
    """With a known bias of 1 % more in a straight of 500 mm it stops 5 mm nearer to what stands ahead."""
    ahead = Obstacle("post", Box((2000.0 + 500.0 + 110.0 + 12.0 + 20.0, 2000.0), (40.0, 400.0)))
    of = run(Straight(500.0), field=Field("Floor", (4000.0, 4000.0), obstacles=(ahead,)))
    accuracy = replace(PERFECT, bias=replace(PERFECT.bias, distance=0.01))
    (found,) = card(replace(of, robot=robot(accuracy))).gaps
    assert found.gap == pytest.approx(7.0, abs=1e-4)
    assert found.planned == pytest.approx(12.0, abs=1e-4)


def test_demo_runs_tell_where_each_gap_is() -> None:
    """Against shapely: the told side or corner is as near to the obstacle as the gap says, somewhere on that step."""
    from fieldsim.sim.motion import along_piece
    from fieldsim.sim.plan import typical_poses
    from fieldsim.sim.shapes import polygon

    of = load_run(BAKERY / "mill-hatch.yaml")
    found = card(of)
    crate = next(gap for gap in found.gaps if gap.obstacle == "crate")
    assert (crate.step, crate.place, crate.side) == (5, "left side", "left")
    poses = typical_poses(of)
    shape = next(polygon(o.shape) for o in of.field.obstacles if o.name == "crate")
    (x0, y0, h0), (x1, y1, _) = poses[4], poses[5]
    way = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    b = of.robot.body
    side = shapely.LineString([(-b.axle, b.width / 2), (b.length - b.axle, b.width / 2)])
    nearest = min(
        shapely.affinity.translate(shapely.affinity.rotate(side, h, origin=(0, 0)), x, y).distance(shape)
        for x, y, h in (along_piece((x0, y0, h0), way, poses[5][2] - h0, u) for u in [n / 200 for n in range(201)])
    )
    assert nearest == pytest.approx(crate.gap, abs=0.1)
    # A block laid where the card says is half the gap from the model, and on the side of it that is told.
    for gap in found.gaps:
        assert gap.at is not None
        shape = next((polygon(o.shape) for o in of.field.obstacles if o.name == gap.obstacle), None)
        if shape is None:
            assert gap.which is None
            assert min(gap.at[0], of.field.size[0] - gap.at[0], gap.at[1]) == pytest.approx(gap.gap / 2, abs=0.3)
            continue
        assert shape.distance(shapely.Point(gap.at)) == pytest.approx(gap.gap / 2, abs=0.3)
        x, y = gap.at[0] - shape.centroid.x, gap.at[1] - shape.centroid.y
        assert gap.which is not None
        assert sum({"near": -y, "far": y, "left": -x, "right": x}[word] for word in gap.which.split()) > 0, gap


def test_targets_and_squares_stand_at_their_step() -> None:
    of = make_card(tried(load_run(BAKERY / "yard-bell.yaml")), "yard-bell.yaml")
    assert [(aim.step, aim.target) for aim in of.aims] == [(5, "yard bell")]
    assert [(catch.step, catch.on) for catch in of.catches] == [(3, "left wall")]
    assert any("left wall caught" in words for words in seen_words(of, 3))
    assert any("yard bell" in words and "within" in words for words in seen_words(of, 5))


def test_troubles_are_counted_first_failures() -> None:
    """Recounted from the trials themselves; the most frequent first."""
    from fieldsim.sim.failures import failures

    done = tried(load_run(BAKERY / "flour-round.yaml"))
    of = make_card(done, "flour-round.yaml")
    assert done.first is not None
    all_of = [failure for failure in failures(done.first) if failure is not None]
    assert of.looked_at == 1000
    assert len(of.troubles) == 3
    for trouble in of.troubles:
        count = sum((f.why, f.what, f.segment) == (trouble.why, trouble.what, trouble.step) for f in all_of)
        assert trouble.count == count
        assert trouble.share.share == pytest.approx(count / 1000)
    counts = [trouble.count for trouble in of.troubles]
    assert counts == sorted(counts, reverse=True)
    assert of.success == done.answer.success
    assert of.success.share == pytest.approx(1 - len(all_of) / 1000)


def test_a_run_that_always_gets_through_says_so() -> None:
    of = card(run(Straight(100.0)))
    assert of.troubles == ()
    assert watch_words(of) == ["Nothing went wrong in any of 1000 trials. Watch the tightest gap."]
    kept_none = make_card(attempt(run(Straight(100.0)), trials=100, threads=1))
    assert watch_words(kept_none) == ["Nothing went wrong in any of 100 trials. Watch the tightest gap."]


# --- the whole ------------------------------------------------------------------------------------------------------


def test_the_command_makes_it_again() -> None:
    done = attempt(load_run(BAKERY / "flour-round.yaml"), trials=500, seed=7, keep=500, without_attachments=True)
    of = make_card(done, "my runs/flour round.yaml", "Letter", saved="card.pdf")
    assert shlex.split(of.command) == [
        "fieldsim", "card", "my runs/flour round.yaml", "--trials", "500", "--seed", "7", "--bare", "--paper", "Letter",
        "--save", "card.pdf",
    ]  # fmt: skip
    assert of.run_file == "flour round.yaml"
    assert of.bare
    assert of.wear == ()
    assert "Slip nothing on" in card_text(of)
    with pytest.raises(ValueError, match="A5"):
        make_card(done, paper="A5")


@pytest.fixture(scope="module")
def flour() -> Card:
    return make_card(tried(load_run(BAKERY / "flour-round.yaml")), "runs/bakery/flour-round.yaml")


def test_the_text_is_as_wide_as_it_may_be(flour: Card) -> None:
    for line in card_text(flour).splitlines():
        # Rows of CSV are to be copied as they are.
        assert cells(line) <= 80 or line.startswith("date,")
    assert flour.command in " ".join(card_text(flour).split())


def test_the_json_is_json_and_keeps_its_keys(flour: Card) -> None:
    said = json.loads(json.dumps(to_json(card_answer(flour)), allow_nan=False))
    assert said["command"] == "card"
    assert said["again"] == flour.command
    assert said["steps"][1]["wheels"] == {"left": pytest.approx(2 * 89 * 112 / 62), "right": 0.0}
    assert said["steps"][1]["formula"] == ["-2 x (-89) x 112 / 62", "0"]
    assert said["start"]["measures"][0]["wall"] == "left wall"
    assert said["troubles"][0]["count"] == flour.troubles[0].count


def test_its_rows_are_the_logs_columns_and_a_filled_in_one_is_read(flour: Card, tmp_path: Path) -> None:
    columns = next(line for line in blank_log().splitlines() if not line.startswith("#"))
    assert ",".join(flour.log_columns) == columns
    assert flour.log_columns == (
        "date", "run", "result", "where", "segment", "target", "miss mm", "seconds s", "note",
    )  # fmt: skip
    filled = dict(zip(flour.log_columns, log_rows(flour)[0], strict=True)) | {
        "date": "2026-11-25", "result": "missed", "where": "flour lid", "segment": "6", "target": "flour lid",
        "miss mm": "31", "seconds s": "15.9", "note": "low battery",
    }  # fmt: skip
    file = tmp_path / "log.csv"
    file.write_text(",".join(flour.log_columns) + "\n" + ",".join(filled.values()) + "\n")
    (drive,) = load_log(file).entries
    assert (drive.run, drive.result, drive.where, drive.segment) == ("flour-round.yaml", "missed", "flour lid", 6)
    assert (drive.target, drive.miss, drive.seconds, drive.note) == ("flour lid", 31.0, 15.9, "low battery")


def test_the_texts_rows_are_csv_that_a_log_reads(flour: Card, tmp_path: Path) -> None:
    lines = card_text(flour).splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("date,"))
    rows = list(csv.DictReader(io.StringIO("\n".join(lines[first : first + 5]))))
    assert len(rows) == 4
    file = tmp_path / "log.csv"
    with file.open("w", newline="") as out:
        writer = csv.DictWriter(out, flour.log_columns)
        writer.writeheader()
        writer.writerows({**row, "date": "2026-11-25", "result": "through"} for row in rows)
    assert [drive.result for drive in load_log(file).entries] == ["through"] * 4


# --- the test sheet -------------------------------------------------------------------------------------------------

FILL: dict[str, Callable[[dict[str, str]], dict[str, str]]] = {
    "straight": lambda row: {"travel mm": row["commanded mm"], "sideways mm": "-2", "heading deg": "0.5"},
    "turn": lambda row: {"angle deg": row["commanded deg"]},
    "square path": lambda row: {"side mm": "600", "return x mm": "5", "return y mm": "-4", "heading deg": "2"},
    "there and back": lambda row: {"return x mm": "3", "return y mm": "-1", "heading deg": "0.5"},
    "square": lambda row: {"along mm": "9", "face": "front"},
    "placing": lambda row: {"jig": "corner jig", "along mm": "0.4", "across mm": "-0.2"},
    "drop": lambda row: {"result": "fail", "came off": "left fender"},
}


@pytest.mark.parametrize("heading_from", ["wheels", "gyro"])
def test_a_filled_in_sheet_is_read(tmp_path: Path, heading_from: str) -> None:
    base = robot()
    sheet = blank_tests(replace(base, drive=replace(base.drive, heading_from=heading_from)), "1.2.3")
    assert sheet.columns == header(blank_sheet())
    rows = []
    for each in sheet.tables:
        assert set(each.columns) <= set(sheet.columns)
        for row in each.rows:
            told = dict(zip(sheet.columns, full_row(sheet, each, row), strict=True))
            added = FILL[told["test"]](told) | {"date": "2026-11-25", "tape mm": "0.5"}
            # Everything measured has a place on this kind's own form.
            assert {key for key in added if key != "tape mm" or each.kind != "drop"} <= set(each.columns)
            rows.append(told | {key: value for key, value in added.items() if key in each.columns})
    file = tmp_path / "tests.csv"
    with file.open("w", newline="") as out:
        writer = csv.DictWriter(out, sheet.columns)
        writer.writeheader()
        writer.writerows(rows)
    tests = load_sheet(file).tests
    assert len(tests) == len(rows) == 46
    assert {getattr(test, "heading_from", heading_from) for test in tests} == {heading_from}


def test_the_sheet_asks_for_what_tells_things_apart() -> None:
    """Two lengths, quarter and whole turns, square paths both ways, a jig six times: README, 'How accurately'."""
    tables = {
        each.kind: [dict(zip(each.columns, row, strict=True)) for row in each.rows]
        for each in blank_tests(robot(), "1").tables
    }
    lengths = [row["commanded mm"] for row in tables["straight"]]
    assert set(lengths) == {"300", "1000"}
    assert len(lengths) >= 10
    assert {row["commanded deg"] for row in tables["turn"]} == {"90", "-90", "360", "-360"}
    ways = [row["direction"] for row in tables["square path"]]
    assert ways.count("cw") == ways.count("ccw")
    assert len(tables["placing"]) == 6
    assert "drop" in tables


def test_the_sheet_in_words_names_care_and_signs() -> None:
    sheet = blank_tests(robot(), "1.2.3", "Letter")
    text = sheet_text(sheet)
    for word in ("adult", "soft mat", "event's rules", "Forward and left are positive", "more than one day"):
        assert word in " ".join(text.split())
    said = json.loads(json.dumps(to_json(sheet), allow_nan=False))
    assert said["paper"] == "Letter"
    assert set(PAPERS) == {"A4", "Letter"}
    with pytest.raises(ValueError, match="B5"):
        blank_tests(robot(), "1", "B5")


def test_start_values_are_plain_numbers(flour: Card) -> None:
    start: StartValues = flour.start
    for value in (*start.pose, start.difference, start.per_degree, *(m.distance for m in start.measures)):
        assert type(value) is float
