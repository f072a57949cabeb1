"""Squares, line squares and 'until': exact angles, first contacts, endings, what is left over, and what is left out.

The truth here shares no line with the kernel: shapely, plane trigonometry, and two wheels that are rolled by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from itertools import pairwise
from math import acos, asin, atan2, cos, degrees, hypot, inf, pi, radians, sin, sqrt

import numpy as np
import pytest
import shapely
from examples import examples
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from plans import STILL, TYPICAL, open_floor, robot, run
from reference import first_touch, placed, poses
from scipy.stats import kstest

from fieldsim.model import (
    Accuracy,
    Act,
    Arc,
    Attachment,
    Box,
    Field,
    GyroNoise,
    Line,
    LineSquare,
    Obstacle,
    Outline,
    Round,
    Run,
    Segment,
    Sensor,
    Spread,
    Square,
    SquareNoise,
    StartByEye,
    Straight,
    StraightNoise,
    Systematic,
    Target,
    Turn,
    TurnNoise,
    Until,
)
from fieldsim.model.errors import PlanError
from fieldsim.sim.alignment import pushed
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.endings import ending_words
from fieldsim.sim.feasible import unreached
from fieldsim.sim.kernel.course import ALREADY_UNDER, CAUGHT, NOT_BORNE, NOT_REACHED, TOO_SKEW
from fieldsim.sim.kernel.drive import drive
from fieldsim.sim.kernel.path import HC, HS, H, S, T, X, Y
from fieldsim.sim.kernel.shapes import shapes
from fieldsim.sim.kernel.sweep import TOUCH, push_out, swept
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.shapes import outline
from fieldsim.sim.trials import Trials, blocks, joined, nominal, simulate, trial

N = 10_000

# Nothing is left over after a square; sensors look all the time and see the edge where it is.
EXACT = Accuracy(square=SquareNoise(0.0, 0.0), sample=1e-12, edge=0.0)

Complex = np.ndarray[tuple[int], np.dtype[np.complex128]]


def assert_near(seen: float, wanted: float, error: float) -> None:
    """Monte Carlo against exact: four standard errors."""
    assert abs(seen - wanted) <= 4 * error, f"{seen} is not within 4 x {error} of {wanted}"


def assert_spread(values: np.ndarray, sd: float) -> None:
    """Mean zero and that standard deviation, as near as so many normal numbers can tell."""
    assert_near(float(values.mean()), 0.0, sd / sqrt(len(values)))
    assert_near(float(values.std()), sd, sd / sqrt(2 * len(values)))


def assert_ends(run_: Run, ending: int) -> None:
    """How the run's last alignment ends when driven perfectly."""
    seen = plan(run_).endings[-1][0]
    words = [ending_words(run_.segments[-1], number) for number in (seen, ending)]  # type: ignore[arg-type]
    assert seen == ending, f"{words[0]}, not {words[1]}"


# --- exact angles --------------------------------------------------------------------------------------------------

FRONT, REAR, WIDTH = 110.0, -60.0, 140.0


@dataclass(frozen=True)
class Side:
    """A flat side to push on: its target's name, a point of it, its outward unit normal; what else is on the floor."""

    of: str
    at: complex
    normal: complex
    obstacles: tuple[Obstacle, ...] = ()


def wall_side(name: str, along: float) -> Side:
    at, normal = {
        "near wall": (complex(along, 0), 1j),
        "far wall": (complex(along, 4000), -1j),
        "left wall": (complex(0, along), 1 + 0j),
        "right wall": (complex(4000, along), -1 + 0j),
    }[name]
    return Side(name, at, normal)


def box_side(heading: float, number: int, along: float) -> Side:
    """A side of a box of 1000 x 800 in the middle of the floor, ``along`` from that side's middle."""
    out = np.exp(1j * (radians(heading) + number * pi / 2))
    half = 500.0 if number % 2 == 0 else 400.0
    box = Obstacle("block", Box((2000.0, 2000.0), (1000.0, 800.0), heading))
    return Side("block", complex(2000 + 2000j + out * (half + 1j * along)), complex(out), (box,))


SIDES = st.one_of(
    st.builds(
        wall_side,
        st.sampled_from(["near wall", "far wall", "left wall", "right wall"]),
        st.floats(1000.0, 3000.0, allow_nan=False),
    ),
    # Left and right of the place there is room for the whole face.
    st.builds(box_side, st.floats(-180, 180), st.integers(0, 3), st.floats(-50, 50)),
)


@dataclass(frozen=True)
class Leaning:
    """A robot before a square, whose touching corner is ``gap`` from the side and whose other one is ``off`` farther.

    Built from the places of the two corners, so that no angle goes in.
    """

    side: Side
    face: str
    left_touches: bool
    off: float
    gap: float

    def corner(self, left: bool) -> complex:
        """An end of the face, robot frame."""
        return complex(FRONT if self.face == "front" else REAR, WIDTH / 2 if left else -WIDTH / 2)

    @property
    def flush_heading(self) -> complex:
        return -self.side.normal if self.face == "front" else self.side.normal

    @property
    def heading(self) -> complex:
        """The unit vector ahead."""
        touching = self.side.at + self.gap * self.side.normal
        sideways = self.flush_heading * 1j * (-1 if self.left_touches else 1) * sqrt(WIDTH**2 - self.off**2)
        other = touching + sideways + self.off * self.side.normal
        left, right = (touching, other) if self.left_touches else (other, touching)
        return (left - right) / WIDTH * -1j

    @property
    def at(self) -> complex:
        return self.side.at + self.gap * self.side.normal - self.heading * self.corner(self.left_touches)

    @property
    def touch(self) -> complex:
        """Where the corner touches: straight ahead (behind) until its gap is gone."""
        way = self.heading if self.face == "front" else -self.heading
        closing = -(way * self.side.normal.conjugate()).real
        return self.side.at + self.gap * self.side.normal + way * self.gap / closing

    @property
    def turn(self) -> float:
        """Left, if the left end of a front face touches, or the right end of a rear one."""
        left = self.left_touches == (self.face == "front")
        return asin(self.off / WIDTH) * (1 if left else -1)

    def run(self, *more: Segment, accuracy: Accuracy = EXACT, obstacles: tuple[Obstacle, ...] = ()) -> Run:
        heading = degrees(np.angle(self.heading))
        square = Square(self.face, self.side.of, 400.0)  # type: ignore[arg-type]
        floor = open_floor((4000.0, 4000.0), *self.side.obstacles, *obstacles)
        at = (self.at.real, self.at.imag)
        return run(square, *more, accuracy=accuracy, at=at, heading=heading, field=floor)


LEANING = st.builds(
    Leaning, SIDES, st.sampled_from(["front", "rear"]), st.booleans(), st.floats(0.001, 47.0), st.floats(0.1, 300.0)
)


@given(LEANING)
@settings(max_examples=examples(50))
def test_a_face_swings_by_the_arc_sine_of_its_far_end_over_its_width(case: Leaning) -> None:
    """One end touches, the other is e off: the robot turns by asin(e/w) about the end that touches, and stands flush.

    Plane trigonometry (the sine in the right triangle of face and wall).
    """
    ready = plan(case.run())
    assert ready.endings == ((CAUGHT, CAUGHT),)
    swing = ready.path[-3]
    assert swing[T] == pytest.approx(case.turn, abs=1e-9)
    # Its path is told of the face's middle, and the end that touches has no speed.
    assert swing[S] == pytest.approx(swing[T] * case.corner(case.left_touches).imag, abs=1e-9)
    for row in (-3, -2):
        middle = complex(ready.path[row, X], ready.path[row, Y])
        ahead = complex(ready.path[row, HC], ready.path[row, HS])
        held = middle + ahead * 1j * case.corner(case.left_touches).imag
        assert abs(held - case.touch) < 1e-9
    end = ready.path[-1]
    ahead = complex(end[HC], end[HS])
    assert abs(ahead - case.flush_heading) < 1e-9
    assert abs(np.exp(1j * end[H]) - case.flush_heading) < 1e-9
    for left in (True, False):
        place = complex(end[X], end[Y]) + ahead * case.corner(left) - case.side.at
        assert (place * case.side.normal.conjugate()).real == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("sine", "turn"), [((sqrt(6) - sqrt(2)) / 4, 15.0), ((sqrt(5) - 1) / 4, 18.0)])
def test_sines_in_radicals(sine: float, turn: float) -> None:
    """sin 15 = (sqrt 6 - sqrt 2)/4 and sin 18 = (sqrt 5 - 1)/4 (Abramowitz & Stegun, Handbook of Mathematical
    Functions, 1964, chapter 4, table of circular functions at special angles; from memory)."""
    case = Leaning(wall_side("far wall", 2000.0), "front", True, WIDTH * sine, 50.0)
    assert degrees(plan(case.run()).path[-3, T]) == pytest.approx(turn, abs=1e-10)


# --- the first contact ---------------------------------------------------------------------------------------------

SCOOP = Attachment("scoop", ((110.0, -40.0), (170.0, -40.0), (170.0, 40.0), (110.0, 40.0)), (15.0, 60.0))
HOOK = Attachment("hook", ((-100.0, -12.0), (-60.0, -12.0), (-60.0, 12.0), (-100.0, 12.0)), (80.0, 100.0))


def wearing(run_: Run, *worn: Attachment) -> Run:
    dressed = replace(run_.robot, attachments=worn)
    return replace(run_, robot=dressed, wear=tuple(attachment.name for attachment in worn))


def driven(ready: Plan) -> np.ndarray:
    """The rows of fieldsim.sim.kernel.path with the robot's known bias and nothing drawn."""
    course = ready.course
    draws = np.zeros((ready.drivetrain.rows, 1))
    return drive(course.wheels, course.alignments, draws).path


def ending_by_hand(hull: np.ndarray, corners: np.ndarray, at: np.ndarray, capture: float) -> int | None:
    """How a square forwards ends that has just touched at this pose; None if that hangs on a hair."""
    block = shapely.Polygon(corners)
    places = placed(hull, at[None, :])[0]
    gaps = shapely.distance(shapely.points(places), block)
    if gaps.min() > 1e-3:
        return NOT_BORNE
    if gaps.min() > 1e-5:
        return None
    touching = int(gaps.argmin())
    starts, ends = corners, np.roll(corners, -1, axis=0)
    sides = shapely.linestrings(np.stack([starts, ends], axis=1))
    side = int(shapely.distance(sides, shapely.Point(places[touching])).argmin())
    along = ends[side] - starts[side]
    length = hypot(*along)
    along = along / length
    flush = atan2(along[0], -along[1])
    off = degrees((at[2] - flush + pi) % (2 * pi) - pi)
    if abs(abs(off) - capture) < 1e-3:
        return None
    if abs(off) > capture:
        return TOO_SKEW
    face = hull[np.abs(hull[:, 0] - hull[:, 0].max()) < 1e-9, 1]
    if hull[touching, 0] < hull[:, 0].max() - 1e-9:
        return NOT_BORNE
    # For who comes to it, a counter-clockwise side runs from left to right.
    own = float(along @ (places[touching] - starts[side]))
    room = [own - (y - hull[touching, 1]) for y in (face.min(), face.max())]
    over = max(-min(room), max(room) - length)
    if abs(over) < 1e-3:
        return None
    return NOT_BORNE if over > 0 else CAUGHT


@given(
    st.integers(0, 2**32 - 1),
    st.booleans(),
    st.floats(-20.0, 20.0),
    st.integers(-200, 200).map(lambda tenths: tenths / 10),
)
@settings(max_examples=examples(50))
def test_the_first_contact_is_where_shapely_finds_it(seed: int, scoop: bool, skew: float, veer: float) -> None:
    """From a random place, bending as it goes, towards a block: where it first touches, and how it ends."""
    rng = np.random.default_rng(seed)
    size, tilt = (float(rng.uniform(60, 500)), float(rng.uniform(60, 500))), float(rng.uniform(-180, 180))
    block = Obstacle("block", Box((2000.0, 2000.0), size, tilt))
    side = radians(tilt) + int(rng.integers(4)) * pi / 2
    away = rng.uniform(450, 600) * np.exp(1j * (side + rng.uniform(-0.3, 0.3)))
    at = (2000.0 + float(away.real), 2000.0 + float(away.imag))
    heading = (degrees(side) + skew) % 360.0 - 180.0
    accuracy = replace(EXACT, bias=Systematic(veer=veer))
    square = Square("front", "block", 500.0)
    run_ = run(square, accuracy=accuracy, at=at, heading=heading, field=open_floor((4000.0, 4000.0), block))
    run_ = wearing(run_, SCOOP) if scoop else run_
    face = pushed(run_, square)
    assert face is not None
    corners = outline(block.shape)  # type: ignore[arg-type]
    # One bend from end to end: as far as it goes, and so many degrees in each metre.
    pose, turn = (*at, radians(heading)), radians(veer) * 0.5
    found = first_touch(face.hull, pose, 500.0, turn, corners, touch=1e-7)
    ready = plan(run_)
    path = driven(ready)
    ending = ready.endings[0][1]
    approach = path[:-3]
    way = float(approach[:, S].sum())
    if found is None:
        assert ending == NOT_REACHED
        assert way == pytest.approx(500.0, abs=1e-9)
        return
    assert way == pytest.approx(500.0 * found[0], abs=1e-4)
    assert float(approach[:, T].sum()) == pytest.approx(turn * found[0], abs=1e-6)
    wanted = ending_by_hand(face.hull, corners, poses(pose, 500.0, turn, [found[0]])[0], square.capture)
    assert wanted in (None, ending)


# --- how a square can end ------------------------------------------------------------------------------------------


def square_at(
    lean: float, against: str = "far wall", gap: float = 100.0, reach: float = 400.0, x: float = 2000.0, **rest: object
) -> Run:
    """Front towards the far wall, leaning left by ``lean`` degrees, the first corner ``gap`` mm of driving away."""
    h = radians(90.0 + lean)
    tip = max(FRONT * sin(h) + y * cos(h) for y in (WIDTH / 2, -WIDTH / 2))
    at = (x, 4000.0 - tip - gap * sin(h))
    floor = rest.pop("field", None)
    square = Square("front", against, reach, **rest)  # type: ignore[arg-type]
    return run(square, accuracy=EXACT, at=at, heading=90.0 + lean, field=floor)  # type: ignore[arg-type]


@pytest.mark.parametrize("lean", [-12.0, 0.0, 5.0])
def test_a_reach_that_is_a_millimetre_short(lean: float) -> None:
    assert_ends(square_at(lean, gap=100.0, reach=99.0), NOT_REACHED)
    assert_ends(square_at(lean, gap=100.0, reach=100.0 + 1e-6), CAUGHT)


@pytest.mark.parametrize(
    ("lean", "capture", "ending"),
    [
        (19.9, 20.0, CAUGHT),
        (-19.9, 20.0, CAUGHT),
        (20.1, 20.0, TOO_SKEW),
        (-20.1, 20.0, TOO_SKEW),
        (9.9, 10.0, CAUGHT),
        (10.1, 10.0, TOO_SKEW),
        (29.9, 30.0, CAUGHT),
    ],
)
def test_the_capture_angle(lean: float, capture: float, ending: int) -> None:
    assert_ends(square_at(lean, capture=capture), ending)


def shelf(x: float, width: float, depth: float = 100.0) -> Field:
    """A box before the far wall: its side at y = 3900, ``width`` wide, its middle at ``x``."""
    return open_floor((4000.0, 4000.0), Obstacle("shelf", Box((x, 3900.0 + depth / 2), (width, depth))))


@pytest.mark.parametrize(
    ("x", "width", "ending"),
    [
        # The face goes from x = 1930 to 2070.
        (2000.0, 139.0, NOT_BORNE),
        (2000.0, 140.0, CAUGHT),
        (2000.0, 141.0, CAUGHT),
        (2030.0, 200.0, CAUGHT),
        (2031.0, 200.0, NOT_BORNE),
        (1970.0, 200.0, CAUGHT),
        (1969.0, 200.0, NOT_BORNE),
        (2000.0, 10.0, NOT_BORNE),
    ],
)
def test_the_whole_face_needs_room(x: float, width: float, ending: int) -> None:
    square = Square("front", "shelf", 300.0)
    assert_ends(run(square, accuracy=EXACT, at=(2000.0, 3650.0), heading=90.0, field=shelf(x, width)), ending)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("over", "ending"), [(-1.0, CAUGHT), (1.0, NOT_BORNE)])
def test_the_swinging_end_needs_room_too(sign: int, over: float, ending: int) -> None:
    """Leaning by 10 degrees, one corner touches well on the side; flush, the other would be at its end, or past it."""
    h = radians(90.0 + sign * 10.0)
    ahead, left = np.exp(1j * h), 1j * np.exp(1j * h)
    touching = 2000.0 + 3900.0j
    at = touching - 50 * ahead - FRONT * ahead + sign * WIDTH / 2 * left
    # It leans left, so its right corner touches first and the left one swings to x = 2000 - 140.
    end = touching.real - sign * (WIDTH - over)
    middle = end + sign * 300.0
    square = Square("front", "shelf", 200.0)
    heading = degrees(h)
    run_ = run(square, accuracy=EXACT, at=(at.real, at.imag), heading=heading, field=shelf(middle, 600.0))
    assert_ends(run_, ending)


def test_a_post_between_face_and_wall_is_touched() -> None:
    """It is not what is pushed on: the wall is squared on all the same, and the contact counts."""
    post = Obstacle("post", Round((2010.0, 3980.0), 6.0))
    run_ = square_at(0.0, field=open_floor((4000.0, 4000.0), post))
    trials = simulate(run_, 1)
    assert trials.endings[0, 0] == CAUGHT
    assert trials.plan.solids[trials.contact_obstacle[0]].name == "post"
    assert trials.contact_at[0] == pytest.approx((2010.0, 3974.0), abs=1e-4)
    assert not trials.success[0]


def test_a_post_cannot_bear_a_face() -> None:
    post = Obstacle("post", Box((2010.0, 3950.0), (10.0, 10.0), 20.0))
    assert_ends(square_at(0.0, "post", field=open_floor((4000.0, 4000.0), post)), NOT_BORNE)


def test_a_corner_behind_the_face_may_touch_first() -> None:
    """Leaning by 19 degrees with a narrow, short scoop in front: the body's corner is nearer to the wall than it."""
    short = replace(SCOOP, outline=((110.0, -20.0), (115.0, -20.0), (115.0, 20.0), (110.0, 20.0)))
    assert_ends(wearing(square_at(19.0), short), NOT_BORNE)
    assert_ends(wearing(square_at(2.0), short), CAUGHT)


def test_a_robot_that_stands_flat_already() -> None:
    flat = square_at(0.0, gap=0.0, reach=10.0)
    ready = plan(flat)
    assert ready.endings == ((CAUGHT, CAUGHT),)
    assert ready.path[-1, [X, Y, H]] == pytest.approx((2000.0, 3890.0, pi / 2), abs=1e-9)
    by_eye = StartByEye((2000.0, 3890.0), 90.0, Spread(0.5, 0.5, 0.3))
    trials = simulate(replace(flat, start=by_eye), 2000)
    assert (trials.endings == CAUGHT).all()
    assert trials.success.all()
    assert abs(trials.poses[:, 1, 2] - 90.0).max() < 1e-9
    assert abs(trials.poses[:, 1, 1] - 3890.0).max() < 1e-9


def test_after_a_square_that_failed_it_stands_and_nothing_counts() -> None:
    """The second square is out of reach: it is named, the act after it is not reached, a crate beyond not touched."""
    floor = replace(
        open_floor((4000.0, 4000.0), Obstacle("crate", Box((1500.0, 3500.0), (100.0, 100.0)))),
        targets=(Target("bell", (1700.0, 3690.0), within=400.0),),
    )
    first = square_at(5.0, field=floor)
    more = (Straight(-200), Act("bell", takes=3.0), Turn(90), Square("front", "left wall", 100.0))
    after = (Act("bell", takes=3.0), Straight(1000), Square("front", "left wall", 4000.0))
    trials = simulate(replace(first, segments=(*first.segments, *more, *after)), 1)
    assert trials.endings[0].tolist() == [CAUGHT, NOT_REACHED, NOT_REACHED]
    assert trials.ended_segment[0] == 5
    assert trials.reached[0].tolist() == [True, False]
    assert trials.hit[0].tolist() == [True, False]
    assert trials.clear[0]
    assert not trials.ended[0]
    # Reach used up, then still.
    assert trials.poses[0, 5, 0] - trials.poses[0, 4, 0] == pytest.approx(-100.0, abs=1e-9)
    np.testing.assert_array_equal(trials.poses[0, 6:], trials.poses[0, [5, 5, 5]])
    assert trials.time[0] == pytest.approx(sum(trials.plan.seconds[:5]), abs=1e-9)
    named = list(unreached(trials.plan.run))
    assert [complaint.path for complaint in named] == [("segments", 4, "reach")]


def test_a_square_takes_the_time_of_its_way() -> None:
    """Up to 200 mm/s at 600 mm/s^2 (33.3 mm in 1/3 s), then at that speed until the face's far end stands still."""
    lean, gap = 10.0, 300.0
    way = gap + radians(lean) * WIDTH
    trials = simulate(square_at(lean, gap=gap), 1)
    assert trials.time[0] == pytest.approx(1 / 3 + (way - 100 / 3) / 200, abs=1e-6)


# --- what makes the face -------------------------------------------------------------------------------------------


def test_an_attachment_as_high_as_the_wall_is_the_face() -> None:
    ready = plan(wearing(square_at(8.0, reach=500.0), SCOOP))
    assert ready.endings == ((CAUGHT, CAUGHT),)
    # The scoop is 80 wide and 60 in front: it bears on the wall, the body stands off.
    assert ready.path[-1, Y] == pytest.approx(4000.0 - 170.0, abs=1e-9)
    assert ready.path[-3, S] == pytest.approx(ready.path[-3, T] * -40.0, abs=1e-9)


def test_an_attachment_that_hangs_over_is_not() -> None:
    """Walls of 75 mm, a hook from 80 on behind: the body's rear is pushed, the hook is over the wall, and clear."""
    low_walls = replace(open_floor(), walls=(0.0, 75.0))
    back = run(Square("rear", "near wall", 300.0), Straight(100), accuracy=EXACT, at=(2000.0, 200.0), heading=90.0)
    over = wearing(replace(back, field=low_walls), HOOK)
    trials = simulate(over, 1)
    assert trials.success[0]
    assert trials.poses[0, 1, 1] == pytest.approx(60.0, abs=1e-9)
    # A wall as high as the hook stops the hook, which is a face 24 wide.
    meets = replace(over, field=replace(low_walls, walls=(0.0, 85.0)))
    assert simulate(meets, 1).poses[0, 1, 1] == pytest.approx(100.0, abs=1e-9)


def test_a_face_that_is_a_point_is_refused() -> None:
    tip = Attachment("tip", ((110.0, -30.0), (150.0, 0.0), (110.0, 30.0)))
    with pytest.raises(PlanError, match="comes to a point"):
        plan(wearing(square_at(0.0), tip))


def test_what_is_too_low_to_meet_is_refused() -> None:
    mat = Obstacle("door mat", Box((2000.0, 3900.0), (400.0, 50.0)), (0.0, 5.0))
    with pytest.raises(PlanError, match="too low or too high"):
        plan(square_at(0.0, "door mat", field=open_floor((4000.0, 4000.0), mat)))


def test_the_inner_side_of_a_concave_block() -> None:
    """Into a bay of 300 x 300 that is open to the left."""
    bay = Outline(
        ((2000.0, 1500.0), (2400.0, 1500.0), (2400.0, 2000.0), (2000.0, 2000.0), (2000.0, 1900.0), (2300.0, 1900.0),
         (2300.0, 1600.0), (2000.0, 1600.0))
    )  # fmt: skip
    floor = open_floor((4000.0, 4000.0), Obstacle("bay", bay))
    ready = plan(run(Square("front", "bay", 500.0), accuracy=EXACT, at=(1900.0, 1740.0), heading=3.0, field=floor))
    assert ready.endings == ((CAUGHT, CAUGHT),)
    assert ready.path[-1, [X, H]] == pytest.approx((2300.0 - 110.0, 0.0), abs=1e-9)
    # Too near to the bay's side, the robot's side meets the end of that first.
    assert_ends(run(Square("front", "bay", 500.0), accuracy=EXACT, at=(1900.0, 1665.0), field=floor), NOT_BORNE)


# --- clear of the rest while it swings -----------------------------------------------------------------------------


def footprints(case: Leaning, steps: int) -> tuple[np.ndarray, np.ndarray]:
    """The body's corners (n, 4, 2) on the way up to the side, and while it swings about the corner that touches."""
    ahead = case.heading
    body = np.array([REAR + 70j, REAR - 70j, FRONT - 70j, FRONT + 70j])
    u = np.linspace(0.0, 1.0, steps + 1)[:, None]
    full = case.touch - (case.at + ahead * case.corner(case.left_touches))
    up = case.at + u * full + ahead * body
    swing = case.touch + (up[-1] - case.touch) * np.exp(1j * u * case.turn)
    return tuple(np.stack([points.real, points.imag], axis=-1) for points in (up, swing))  # type: ignore[return-value]


@given(LEANING, st.floats(60.0, 260.0), st.floats(0.0, 2 * pi), st.floats(2.0, 30.0))
@settings(max_examples=examples(40))
def test_clearance_of_a_post_beside_a_swing(case: Leaning, far: float, angle: float, radius: float) -> None:
    """As near as small steps with shapely say, at most a hair less; where they touch, the post is named."""
    case = replace(case, gap=min(case.gap, 40.0))
    place = case.touch + far * np.exp(1j * angle)
    assume(0 <= place.real <= 4000 and 0 <= place.imag <= 4000)
    post = Obstacle("post", Round((float(place.real), float(place.imag)), radius))
    gaps = [
        float(shapely.distance(shapely.polygons(points), shapely.Point(place.real, place.imag)).min()) - radius
        for points in footprints(case, 1500)
    ]
    # Nearer than 2 mm at the start, the post would be something the robot was set against.
    at_start = footprints(case, 1)[0][0]
    assume(shapely.distance(shapely.Polygon(at_start), shapely.Point(place.real, place.imag)) - radius > 2.0)
    assume(abs(min(gaps)) > 0.02)
    ready = plan(case.run(obstacles=(post,)), inf)
    number = next(n for n, thing in enumerate(ready.solids) if thing.name == "post")
    trials = nominal(ready)
    seen = float(trials.clearance[0, number])
    assert seen <= max(0.0, min(gaps)) + 1e-6
    assert seen >= max(0.0, min(gaps)) - 0.02
    assert (trials.contact_obstacle[0] == number) == (min(gaps) < 0)
    if gaps[0] > 0.02 and gaps[1] < 0:
        assert trials.contact_piece[0] == len(ready.path) - 3
        assert abs(complex(*trials.contact_at[0]) - place) == pytest.approx(radius, abs=1e-4)


# --- what is left over ---------------------------------------------------------------------------------------------

UPS = {
    "nothing": (EXACT, STILL, (Straight(200),)),
    "a placing by eye": (EXACT, Spread(20.0, 40.0, 4.0), (Straight(200),)),
    "a long way": (TYPICAL, STILL, (Straight(1500), Turn(90), Straight(800), Turn(-90), Straight(300))),
    "a bad robot": (
        Accuracy(
            bias=Systematic(0.05, 2.0, 0.03),
            day=Systematic(0.05, 1.0, 0.02),
            straight=StraightNoise(20.0, 40.0, 2.0),
            turn=TurnNoise(2.0, 2.0),
        ),
        Spread(10.0, 10.0, 2.0),
        (Straight(300), Arc(30, 400), Turn(-30, about="left wheel"), Straight(100)),
    ),
    "another square": (TYPICAL, STILL, (Square("front", "right wall", 3000.0), Straight(-800))),
}


@pytest.mark.parametrize("before", UPS)
@pytest.mark.parametrize(("heading", "along"), [(0.3, 0.5), (0.0, 0.0)])
def test_what_came_before_is_forgotten(before: str, heading: float, along: float) -> None:
    """Heading and distance to the wall after a square spread as its own residual says, whatever the robot had been up
    to; and independently of each other."""
    accuracy, spread, segments = UPS[before]
    accuracy = replace(accuracy, square=SquareNoise(heading, along))
    there = (Turn(90), Square("front", "far wall", 4000.0))
    trials = simulate(run(*segments, *there, accuracy=accuracy, at=(1500.0, 1000.0), spread=spread), N)
    caught = trials.endings[:, -1] == CAUGHT
    assert caught.mean() > 0.8
    end = trials.poses[caught, -1]
    lean = end[:, 2] - 90.0
    lean -= 360.0 * np.round(lean / 360.0)
    away = 4000.0 - end[:, 1] - FRONT * np.sin(np.radians(end[:, 2]))
    if heading == 0.0:
        assert abs(lean).max() < 1e-9
        assert abs(away).max() < 1e-9
        return
    assert_spread(lean, heading)
    assert_spread(away, along)
    # No more than luck: a correlation of so many independent pairs has a standard error of 1/sqrt(n).
    before_it = trials.poses[caught, -2, 2]
    for one, other in ((lean, away), (lean, before_it), (away, before_it)):
        if other.std() > 1e-9:
            assert_near(float(np.corrcoef(one, other)[0, 1]), 0.0, 1 / sqrt(len(one)))


def test_nobody_is_pushed_deeper_into_a_wall_than_it_is_let_off() -> None:
    """A residual as large as 3 mm and 1 degree: no corner is more than 2 mm in, and some are close to it."""
    accuracy = Accuracy(square=SquareNoise(1.0, 3.0))
    end = simulate(replace(square_at(4.0), robot=robot(accuracy)), N).poses[:, -1]
    h = np.radians(end[:, 2])
    depth = np.max([end[:, 1] + FRONT * np.sin(h) + y * np.cos(h) - 4000.0 for y in (70.0, -70.0)], axis=0)
    assert depth.max() <= 2.0
    assert depth.max() > 1.98
    # Where there is room for it the distance is what was drawn: half a normal distribution has the mean sd sqrt(2/pi).
    away = 4000.0 - end[:, 1] - FRONT * np.sin(h)
    free = away[(abs(end[:, 2] - 90.0) < 1.5) & (away > 0)]
    assert_near(float(free.mean()), 3 * sqrt(2 / pi), 3 * sqrt((1 - 2 / pi) / len(free)))


# --- resting contact -----------------------------------------------------------------------------------------------


def after_square(*segments: Segment, accuracy: Accuracy = EXACT) -> Run:
    before = square_at(5.0)
    return replace(before, robot=robot(accuracy), segments=(*before.segments, *segments))


@pytest.mark.parametrize("residual", [SquareNoise(), SquareNoise(1.0, 3.0)])
def test_driving_straight_off_a_wall_is_free(residual: SquareNoise) -> None:
    trials = simulate(after_square(Straight(-300), accuracy=Accuracy(square=residual)), 3000)
    assert (trials.endings == CAUGHT).all()
    assert trials.success.all()


def test_turning_on_the_spot_flat_on_a_wall_is_a_contact() -> None:
    """It is one when a corner of the body is 2 mm in the wall: where 110 cos t + 70 sin t = 112."""
    trials = simulate(after_square(Turn(90)), 1)
    angle = atan2(70, 110) - acos(112 / hypot(110, 70))
    assert trials.contact_segment[0] == 2
    assert trials.plan.solids[trials.contact_obstacle[0]].name == "far wall"
    assert trials.contact_fraction[0] == pytest.approx(angle / (pi / 2), abs=1e-4)
    noisy = simulate(after_square(Turn(90), accuracy=Accuracy()), 2000)
    assert (noisy.contact_segment == 2).all()


def test_backing_off_before_the_turn_is_clear() -> None:
    """A corner is hypot(110, 70) = 130.38 from the axle's middle, so 20.38 mm are needed."""
    assert simulate(after_square(Straight(-20), Turn(90)), 1).contact_segment[0] == 3
    turned = simulate(after_square(Straight(-21), Turn(90)), 1)
    assert turned.success[0]
    assert simulate(after_square(Straight(-40), Turn(90), accuracy=Accuracy()), 2000).success.all()


def test_the_wall_is_a_wall_again_once_left() -> None:
    trials = simulate(after_square(Straight(-100), Straight(130)), 1)
    assert trials.contact_segment[0] == 3
    assert trials.contact_fraction[0] == pytest.approx(100 / 130, abs=1e-6)


def test_what_is_pushed_on_is_no_contact_and_a_neighbour_is() -> None:
    """The robot's side passes a crate on the way; only what is pushed on may be touched."""
    crate = Obstacle("crate", Box((2080.0, 3850.0), (40.0, 40.0)))
    trials = simulate(square_at(0.0, gap=200.0, field=open_floor((4000.0, 4000.0), crate)), 1)
    assert trials.plan.solids[trials.contact_obstacle[0]].name == "crate"
    assert trials.contact_segment[0] == 1
    meant = square_at(0.0, gap=200.0, field=open_floor((4000.0, 4000.0), crate), may_touch=("crate",))
    assert simulate(meant, 1).success[0]


# --- lines: two wheels rolled by hand ------------------------------------------------------------------------------

TRACK = 112.0
EYES = (95.0 + 30.0j, 95.0 - 30.0j)


def seeing(
    *segments: Segment,
    line: Line,
    eyes: tuple[complex, complex] = EYES,
    accuracy: Accuracy = EXACT,
    at: complex = 2000 + 2000j,
    heading: float = 0.0,
    spread: Spread = STILL,
) -> Run:
    sensors = tuple(
        Sensor(name, (eye.real, eye.imag)) for name, eye in zip(("left eye", "right eye"), eyes, strict=True)
    )
    floor = Field("Striped floor", (4000.0, 4000.0), lines=(line,))
    start = StartByEye((at.real, at.imag), heading, spread)
    return Run("Along the stripe", floor, replace(robot(accuracy), sensors=sensors), start, segments)


def square_on(reach: float, passes: int = 1, **rest: float) -> LineSquare:
    return LineSquare("kerb", ("left eye", "right eye"), reach, passes=float(passes), **rest)


@dataclass(frozen=True)
class Stripe:
    """A line as a ruler sees it: how far along it a place is, and how far to its left."""

    start: complex
    end: complex
    width: float

    @property
    def line(self) -> Line:
        return Line("kerb", (self.start.real, self.start.imag), (self.end.real, self.end.imag), self.width)

    @property
    def corners(self) -> list[complex]:
        across = 1j * (self.end - self.start) / abs(self.end - self.start) * self.width / 2
        return [end + side * across for end in (self.start, self.end) for side in (1, -1)]

    def covers(self, place: Complex) -> np.ndarray:
        along = (place - self.start) * ((self.end - self.start) / abs(self.end - self.start)).conjugate()
        inside: np.ndarray = (
            (along.real >= 0) & (along.real <= abs(self.end - self.start)) & (abs(along.imag) <= self.width / 2)
        )
        return inside

    def sideways(self, place: complex) -> float:
        unit = (self.end - self.start) / abs(self.end - self.start)
        return float(((place - self.start) * unit.conjugate()).imag)

    def beside(self, place: complex) -> bool:
        """Is a place between the lines through the two ends?"""
        unit = (self.end - self.start) / abs(self.end - self.start)
        return bool(0 <= ((place - self.start) * unit.conjugate()).real <= abs(self.end - self.start))


@dataclass(frozen=True)
class Rolled:
    """Where the axle's middle is and which way ahead is; wheels roll on a circle about the one that stands."""

    at: complex
    h: float

    def rolled(self, wheels: str, way: Complex) -> tuple[Complex, Complex]:
        """Places and headings after ``way`` mm of the wheels that roll: 'both', 'left' or 'right'."""
        ahead = np.exp(1j * self.h)
        if wheels == "both":
            return self.at + ahead * way, np.full(len(way), self.h)
        standing = self.at + ahead * 1j * (-TRACK / 2 if wheels == "left" else TRACK / 2)
        turn = way / TRACK * (-1 if wheels == "left" else 1)
        return standing + (self.at - standing) * np.exp(1j * turn), self.h + turn


def roll_until(robot_: Rolled, wheels: str, most: float, seen, step: float = 0.02):  # type: ignore[no-untyped-def]
    """Roll at most ``most`` mm (signed) until ``seen`` says so, in steps, then by halving: (robot, way) or None."""

    def at(way: np.ndarray) -> np.ndarray:
        return np.asarray(seen(*robot_.rolled(wheels, way)))

    way = np.linspace(0.0, most, int(abs(most) / step) + 2)
    found = np.flatnonzero(at(way))
    if len(found) == 0:
        return None
    high = way[found[0]]
    low = way[max(0, found[0] - 1)]
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if at(np.array([middle]))[0] else (middle, high)
    place, heading = robot_.rolled(wheels, np.array([high]))
    return Rolled(complex(place[0]), float(heading[0])), float(high)


def line_square_by_hand(
    robot_: Rolled, stripe: Stripe, eyes: tuple[complex, complex], reach: float, passes: int, capture: float
) -> tuple[int, Rolled] | None:
    """Wheel by wheel, as a program on the robot would do it: the ending, and where the robot stands then.

    An edge counts as missed if an eye comes over the line's short side, or goes past it.
    None if an eye comes out on the other side of the line, where the program would be led astray.
    """

    def over(eye: complex, dark: bool):  # type: ignore[no-untyped-def]
        return lambda place, heading: stripe.covers(place + eye * np.exp(1j * heading)) == dark

    def either(dark: bool):  # type: ignore[no-untyped-def]
        one, other = (over(eye, dark) for eye in eyes)
        return lambda place, heading: one(place, heading) | other(place, heading)

    def sees(eye: complex, dark: bool) -> bool:
        # A hair of rounding after halving.
        return any(bool(over(eye, dark)(np.array([robot_.at + d]), np.array([robot_.h]))[0]) for d in HAIRS)

    def sideways(eye: complex) -> float:
        return stripe.sideways(robot_.at + eye * np.exp(1j * robot_.h))

    if sees(eyes[0], True) or sees(eyes[1], True):
        return ALREADY_UNDER, robot_
    near = np.sign(sideways(eyes[0]))
    for number in range(passes):
        dark = number % 2 == 0
        most = reach if dark else -reach
        found = roll_until(robot_, "both", most, either(dark))
        if found is None:
            return NOT_REACHED, Rolled(robot_.at + most * np.exp(1j * robot_.h), robot_.h)
        robot_, _ = found
        if number == 0:
            unit = (stripe.end - stripe.start) / abs(stripe.end - stripe.start)
            skew = abs(degrees(asin(abs((np.exp(1j * robot_.h) * unit.conjugate()).real))))
            first = next(eye for eye in eyes if sees(eye, True))
            if skew > capture or abs(sideways(first)) < stripe.width / 2 - 1e-6:
                return TOO_SKEW, robot_
        stops = [sees(eye, dark) for eye in eyes]
        if not all(stops):
            rolls, eye = ("right", eyes[1]) if stops[0] else ("left", eyes[0])
            most = radians(2 * capture) * TRACK * (1 if most > 0 else -1)
            found = roll_until(robot_, rolls, most, over(eye, dark))
            if found is None:
                return NOT_REACHED, robot_
            robot_, _ = found
            if abs(near * sideways(eye) - stripe.width / 2) > 1e-5:
                return NOT_REACHED, robot_
        if not all(stripe.beside(robot_.at + eye * np.exp(1j * robot_.h)) for eye in eyes):
            return NOT_REACHED, robot_
        if not all(near * sideways(eye) > -stripe.width / 2 for eye in eyes):
            return None
    return CAUGHT, robot_


HAIRS = (0.0, 1e-7, -1e-7, 1e-7j, -1e-7j)


def stripe_scene(seed: int, length: float = 3000.0) -> tuple[Rolled, Stripe, tuple[complex, complex], float]:
    """A line anywhere at any angle, a robot that comes to it from either side, forwards or backwards, and its eyes."""
    rng = np.random.default_rng(seed)
    unit = np.exp(1j * rng.uniform(-pi, pi))
    middle = 2000 + 2000j + complex(*rng.uniform(-100, 100, 2))
    stripe = Stripe(
        complex(middle - unit * length / 2), complex(middle + unit * length / 2), float(rng.uniform(30, 80))
    )
    ahead = rng.choice([1, -1])
    # Ahead of the axle or behind it, about as far on both sides.
    x = rng.uniform(-60, 110)
    eyes = (complex(x + rng.uniform(-15, 15), rng.uniform(10, 65)), complex(x, -rng.uniform(10, 65)))
    way = unit * 1j * rng.choice([1, -1]) * np.exp(1j * radians(rng.uniform(-38, 38)))
    h = float(np.angle(way * ahead))
    # From so far before the line that even the foremost eye has not come to it.
    at = middle + unit * rng.uniform(-50, 50) - way * rng.uniform(250, 400)
    return Rolled(complex(at), h), stripe, eyes, float(ahead * 700.0)


@given(st.integers(0, 2**32 - 1), st.integers(1, 4))
@settings(max_examples=examples(50))
def test_line_squares_end_where_two_wheels_do(seed: int, passes: int) -> None:
    """To the millionth of a millimetre: the reference halves its last step until nothing is left of it."""
    start, stripe, eyes, reach = stripe_scene(seed)
    run_ = seeing(square_on(reach, passes), line=stripe.line, eyes=eyes, at=start.at, heading=degrees(start.h))
    ready = plan(run_)
    by_hand = line_square_by_hand(start, stripe, eyes, reach, passes, 45.0)
    assume(by_hand is not None)
    ending, end = by_hand  # type: ignore[misc]
    assert ready.endings[0][0] == ending
    if ending == CAUGHT:
        assert ready.path[-1, [X, Y]] == pytest.approx((end.at.real, end.at.imag), abs=1e-6)
        assert ready.path[-1, H] == pytest.approx(end.h, abs=1e-8)


@given(st.integers(0, 2**32 - 1), st.integers(1, 3), st.floats(60.0, 260.0))
@example(278, 1, 224.0)
@example(245931550, 2, 163.0)  # the right eye goes by the line's end and comes out beyond it
@settings(max_examples=examples(50))
def test_beside_the_end_of_a_line(seed: int, passes: int, length: float) -> None:
    """A short line: some robots pass beside it, come to its end, or have but one eye on it."""
    start, stripe, eyes, reach = stripe_scene(seed, length)
    run_ = seeing(square_on(reach, passes), line=stripe.line, eyes=eyes, at=start.at, heading=degrees(start.h))
    by_hand = line_square_by_hand(start, stripe, eyes, reach, passes, 45.0)
    assume(by_hand is not None)
    ending, end = by_hand  # type: ignore[misc]
    ready = plan(run_)
    if ending == NOT_REACHED and ready.endings[0][0] in (CAUGHT, TOO_SKEW):
        # An eye that clips the line's corner is dark for less than the twin's step: only there may it see less.
        at, h = complex(*ready.path[-1, [X, Y]]), ready.path[-1, H]
        places = [at + eye * np.exp(1j * h) for eye in eyes]
        assert min(abs(place - tip) for place in places for tip in stripe.corners) < 0.1
        return
    assert ready.endings[0][0] == ending
    if ending == CAUGHT:
        assert ready.path[-1, [X, Y]] == pytest.approx((end.at.real, end.at.imag), abs=1e-5)


ACROSS = Stripe(2300 + 1000j, 2300 + 3000j, 20.0)
"""Its near edge is at x = 2290: an eye 95 ahead sees it when the axle's middle is at x = 2195."""

EDGE_AT = 2290.0


@pytest.mark.parametrize(("half", "factor"), [(30.0, 1 - 60 / 86), (20.0, 1 - 40 / 76), (50.0, 1 - 100 / 106)])
def test_each_pass_leaves_a_share_of_the_heading_error(half: float, factor: float) -> None:
    """Eyes ``half`` left and right: one is 2 half sin(a) behind the other, and a turn about the standing wheel, half a
    track and ``half`` away, brings it on by that arm: 1 - 2 half/(track/2 + half) of a small a is left each time.
    """
    eyes = (complex(95, half), complex(95, -half))
    ends = [
        plan(seeing(square_on(300.0, passes), line=ACROSS.line, eyes=eyes, heading=0.02)).path[-1, H]
        for passes in range(1, 5)
    ]
    for before, after in pairwise([radians(0.02), *ends]):
        assert after / before == pytest.approx(factor, rel=0.01)


@pytest.mark.parametrize("heading", [-40.0, -15.0, 3.0, 25.0, 44.0])
def test_four_passes_square_the_robot(heading: float) -> None:
    ready = plan(seeing(square_on(500.0, 4), line=ACROSS.line, at=2000 + 2000j, heading=heading))
    assert ready.endings == ((CAUGHT, CAUGHT),)
    assert abs(degrees(ready.path[-1, H])) < 0.5


# --- the light sensor ----------------------------------------------------------------------------------------------

LOOK = 10.0
"""mm between two looks of 0.05 s at 200 mm/s."""


def lag(trials_of: Run, seed: int = 3, trials: int = N) -> np.ndarray:
    """How far beyond the edge the eye is when the robot stands, mm, for a robot that comes straight at it."""
    found = simulate(trials_of, trials, seed)
    assert (found.endings == CAUGHT).all()
    beyond: np.ndarray = found.poses[:, -1, 0] + EYES[0].real - EDGE_AT
    return beyond


UNTIL = Until("kerb", "left eye", 290.0)


@pytest.mark.parametrize("segment", [UNTIL, square_on(290.0)])
def test_an_edge_is_seen_at_the_next_look(segment: Segment) -> None:
    """Uniformly from 0 to speed x sample beyond it; N numbers would reach p < 0.001 by luck once in a thousand seeds.

    Source of the test: Kolmogorov 1933, Smirnov 1948, as scipy.stats.kstest has it (from memory).
    """
    sampled = replace(EXACT, sample=LOOK / 200.0)
    beyond = lag(seeing(segment, line=ACROSS.line, accuracy=sampled))
    assert beyond.min() >= -1e-9
    assert beyond.max() <= LOOK + 1e-9
    assert kstest(beyond, "uniform", args=(0.0, LOOK)).pvalue > 1e-3
    assert_near(float(beyond.std()), LOOK / sqrt(12), LOOK / sqrt(12) / sqrt(2 * N))
    slow = lag(seeing(replace(segment, speed=50.0), line=ACROSS.line, accuracy=sampled))
    assert slow.max() <= LOOK / 4 + 1e-9
    assert kstest(slow, "uniform", args=(0.0, LOOK / 4)).pvalue > 1e-3


def test_errors_of_edge_look_and_stop_add_in_squares() -> None:
    """Variance of a sum of independent numbers (any statistics text); the stop error grows with the speed."""
    looking, edge, stop = 10.0, 3.0, 2.0
    noisy = replace(EXACT, sample=looking / 400.0, edge=edge, straight=StraightNoise(stop=stop), measured_at=200.0)
    beyond = lag(seeing(replace(UNTIL, speed=400.0), line=ACROSS.line, accuracy=noisy))
    wanted = sqrt(edge**2 + looking**2 / 12 + (2 * stop) ** 2)
    assert_near(float(beyond.std()), wanted, wanted / sqrt(2 * N))
    assert_near(float(beyond.mean()), looking / 2, wanted / sqrt(N))
    assert_spread(lag(seeing(UNTIL, line=ACROSS.line, accuracy=replace(EXACT, edge=edge))), edge)


def test_both_eyes_of_a_line_square_err_by_themselves() -> None:
    """To first order, coming square on: the first eye to see stops its wheel, the other comes to its own edge.

    So each eye ends where it sees its edge, but for the arm: the one whose wheel stands is carried on by
    (track/2 - 30)/(track/2 + 30) of what the other still has to go. The heading is off by the difference over the arm.
    """
    edge = 1.0
    trials = simulate(seeing(square_on(290.0), line=ACROSS.line, accuracy=replace(EXACT, edge=edge)), N)
    heading = np.radians(trials.poses[:, -1, 2])
    wanted = sqrt(2) * edge / (TRACK / 2 + 30)
    assert_near(float(heading.std()), wanted, wanted / sqrt(2 * N))
    assert_near(float(heading.mean()), 0.0, wanted / sqrt(N))
    # Eyes 95 ahead, the left one where the right one is not the last, and the other way round.
    left = trials.poses[:, -1, 0] + 95 * np.cos(heading) - 30 * np.sin(heading) - EDGE_AT
    right = trials.poses[:, -1, 0] + 95 * np.cos(heading) + 30 * np.sin(heading) - EDGE_AT
    last = np.where(heading > 0, right, left)
    # The later of two edges: mean sd/sqrt(pi), variance sd^2 (1 - 1/pi) (order statistics of two normal numbers).
    assert_near(float(last.mean()), edge / sqrt(pi), edge / sqrt(N))
    wanted = edge * sqrt(1 - 1 / pi)
    assert_near(float(last.std()), wanted, wanted / sqrt(N))


def test_a_line_seen_late_by_a_robot_that_bends() -> None:
    """With a veer of 20 degrees a metre the eye comes to the edge where the circle does (plane geometry)."""
    veer = radians(20.0) / 1000
    ready = plan(seeing(UNTIL, line=ACROSS.line, accuracy=replace(EXACT, bias=Systematic(veer=20.0))))
    path = driven(ready)
    turned = path[-1, H]
    # The middle of the axle is on a circle of radius 1/veer about (2000, 2000 + 1/veer).
    assert path[-1, X] == pytest.approx(2000 + sin(turned) / veer, abs=1e-6)
    assert path[-1, X] + 95 * cos(turned) - 30 * sin(turned) == pytest.approx(EDGE_AT, abs=1e-6)


# --- how a line square or an 'until' can end ------------------------------------------------------------------------


@pytest.mark.parametrize("make", [lambda reach, **rest: Until("kerb", "left eye", reach, **rest), square_on])
def test_lines_in_and_out_of_reach(make) -> None:  # type: ignore[no-untyped-def]
    """From x = 2000 the edge is 195 mm away."""
    assert_ends(seeing(make(194.0), line=ACROSS.line), NOT_REACHED)
    assert_ends(seeing(make(195.0 + 1e-3), line=ACROSS.line), CAUGHT)
    assert_ends(seeing(make(-400.0), line=ACROSS.line), NOT_REACHED)
    # Backwards to it, with the eyes ahead of the axle: the far edge comes first.
    assert_ends(seeing(make(-300.0), line=ACROSS.line, at=2500 + 2000j), CAUGHT)
    assert_ends(seeing(make(-284.0), line=ACROSS.line, at=2500 + 2000j), NOT_REACHED)
    # Past its end, which is at y = 3000: the eyes are at y = 3011 to 3071.
    assert_ends(seeing(make(400.0), line=ACROSS.line, at=2000 + 3041j), NOT_REACHED)


@pytest.mark.parametrize("x", [2195.1, 2205.0, 2214.9])
def test_an_eye_over_the_line_before_it_looks(x: float) -> None:
    assert_ends(seeing(UNTIL, line=ACROSS.line, at=x + 2000j), ALREADY_UNDER)
    assert_ends(seeing(square_on(300.0), line=ACROSS.line, at=x + 2000j), ALREADY_UNDER)
    for free in (2194.9, 2215.1):
        seen = plan(seeing(UNTIL, line=ACROSS.line, at=free + 2000j)).endings[0][0]
        assert seen == (CAUGHT if free < x else NOT_REACHED)


@pytest.mark.parametrize(("skew", "ending"), [(69.9, CAUGHT), (70.1, TOO_SKEW), (-69.9, CAUGHT), (-70.1, TOO_SKEW)])
def test_an_until_at_a_flat_angle(skew: float, ending: int) -> None:
    assert_ends(seeing(replace(UNTIL, reach=1200.0), line=ACROSS.line, heading=skew), ending)
    tight = replace(UNTIL, reach=1200.0, capture=30.0)
    assert_ends(seeing(tight, line=ACROSS.line, heading=skew / 70 * 30), ending)


@pytest.mark.parametrize(("skew", "ending"), [(44.9, CAUGHT), (45.1, TOO_SKEW), (-44.9, CAUGHT), (-45.1, TOO_SKEW)])
def test_a_line_square_at_a_flat_angle(skew: float, ending: int) -> None:
    assert_ends(seeing(square_on(700.0), line=ACROSS.line, heading=skew), ending)
    assert_ends(seeing(square_on(700.0, capture=20.0), line=ACROSS.line, heading=skew / 45 * 20), ending)


def test_coming_to_the_end_of_a_line_is_too_flat() -> None:
    """Along the line, over its short side: there is no edge to align on."""
    up = seeing(replace(UNTIL, sensor="right eye"), line=ACROSS.line, at=2300 - 30 + 700j, heading=90.0)
    assert_ends(up, TOO_SKEW)


def test_a_pass_that_leaves_the_line_is_missed() -> None:
    """The line ends at y = 3000. Leaning left, the right eye sees it first, some 20 below; the left one is 60 on."""
    assert_ends(seeing(square_on(400.0), line=ACROSS.line, at=2000 + 2935j, heading=5.0), CAUGHT)
    assert_ends(seeing(square_on(400.0), line=ACROSS.line, at=2000 + 2985j, heading=5.0), NOT_REACHED)


def test_after_a_missed_line_nothing_is_driven() -> None:
    run_ = seeing(Straight(100), replace(UNTIL, reach=50.0), Straight(500), line=ACROSS.line)
    trials = simulate(run_, 1)
    assert trials.endings.tolist() == [[NOT_REACHED]]
    assert trials.ended_segment[0] == 2
    assert trials.poses[0, -1] == pytest.approx((2150.0, 2000.0, 0.0), abs=1e-9)
    assert not trials.success[0]
    assert ending_words(run_.segments[1], NOT_REACHED) == "line missed"  # type: ignore[arg-type]


# --- the same trials, and nothing lost for speed -------------------------------------------------------------------


def circuit(seed: int, accuracy: Accuracy, boxes: int = 12) -> Run:
    """Every kind of alignment, forwards and backwards, on walls and a tilted block, among boxes that may be hit."""
    rng = np.random.default_rng(seed)
    clutter = tuple(
        Obstacle(
            f"box {n}",
            Box(
                (float(rng.uniform(400, 2100)), float(rng.uniform(50, 1050))),
                (float(rng.uniform(5, 90)), float(rng.uniform(5, 90))),
                float(rng.uniform(-90, 90)),
            ),
        )
        for n in range(boxes)
    )
    block = Obstacle("block", Box((1500.0, 849.0), (260.0, 240.0), 10.0))
    floor = Field(
        "Yard", (2200.0, 1100.0), obstacles=(*clutter, block), lines=(Line("kerb", (900.0, 0.0), (900.0, 1100.0)),)
    )
    sensors = (Sensor("left eye", (95.0, 30.0)), Sensor("right eye", (95.0, -30.0)))
    segments = (
        Straight(200),
        Turn(88),
        Square("front", "far wall", 1000.0),
        Straight(-230),
        Turn(-90),
        Square("rear", "left wall", 1000.0, capture=40.0),
        Straight(300),
        LineSquare("kerb", ("left eye", "right eye"), 500.0, passes=2.0),
        Straight(200),
        Turn(10),
        Square("front", "block", 700.0),
        Straight(-250),
        Until("kerb", "left eye", -600.0),
        Turn(-100),
        Square("front", "near wall", 1500.0),
        Straight(-100),
        Turn(150),
        Straight(100),
    )
    start = StartByEye((130.0, 430.0), 0.0, Spread(1.0, 1.0, 0.5))
    return Run("Round trip", floor, replace(robot(accuracy), sensors=sensors), start, segments)


def assert_same(a: object, b: object) -> None:
    for f in fields(a):  # type: ignore[arg-type]
        if f.name not in ("plan", "first"):
            np.testing.assert_array_equal(getattr(a, f.name), getattr(b, f.name))


def in_full(ready: Plan, seed: int, number: int) -> tuple[np.ndarray, np.ndarray, int, np.ndarray]:
    """One trial with everything measured: no bound, no certificate, no horizon, no reference path.

    Smallest gap of each obstacle, and of each segment; the first touched piece (the number of pieces if none is); how
    the alignments ended. What is pushed on is let off on its own segment. From then on it is taken to stand 2 mm
    farther out (or as much as the robot was pushed into it, and 0.01 mm), until the robot has been 2 mm clear of it;
    clearance is counted from the next segment on.
    """
    run_, course = ready.run, ready.course
    z = np.zeros((ready.drivetrain.rows, BLOCK))
    Draws(seed).block(number // BLOCK, ready.drivetrain.streams, z)
    pieces = len(course.wheels.left)
    path, result, counted = drive(course.wheels, course.alignments, z, number % BLOCK)
    (part,) = ready.parts
    cores = course.cores
    owner = np.array([o for o, thing in enumerate(ready.solids) for _ in thing.cores])
    bodies = {ahead: shapes([part.points - (ahead, 0.0)]) for ahead in np.unique(course.wheels.ahead)}
    resting: set[int] = set()
    let_off: dict[int, tuple[float, float]] = {}
    from_segment = dict.fromkeys(range(len(ready.solids)), 0)
    obstacle, ribbon = np.full(len(ready.solids), inf), np.full(len(run_.segments), inf)
    first = pieces
    for p in range(counted):
        g = int(np.searchsorted(course.wheels.piece, p, side="right")) - 1
        segment = run_.segments[g]
        corners = bodies[course.wheels.ahead[p]].corner
        seen = corners[:, :2]
        pose, s, t = (path[p, X], path[p, Y], path[p, H]), path[p, S], path[p, T]
        for o, thing in enumerate(ready.solids):
            if isinstance(segment, Square) and segment.against == thing.name:
                resting.add(o)
                let_off.pop(o, None)
                continue
            gap, u = inf, 0.0
            if o in resting:
                n = int(2 * (abs(s) + 200 * abs(t))) + 2
                at = np.linspace(0.0, 1.0, n)
                apart = distances(seen, poses(pose, s, t, at), thing.cores[0].points)
                clear = np.flatnonzero(apart >= 2.0)
                until = n if len(clear) == 0 else int(clear[0]) + 1
                if o not in let_off:
                    stands = (*pose[:2], cos(pose[2]), sin(pose[2]))
                    (c,) = np.flatnonzero(owner == o)
                    deep, out_x, out_y = push_out(corners, cores.outline(c), 0.0, stands)
                    let_off[o] = max(deep + 0.01, 2.0) * out_x, max(deep + 0.01, 2.0) * out_y
                off_x, off_y = let_off[o]
                beyond = (pose[0] + off_x, pose[1] + off_y, pose[2])
                if distances(seen, poses(beyond, s, t, at[:until]), thing.cores[0].points).min() <= TOUCH:
                    gap = 0.0
                if len(clear):
                    resting.remove(o)
                    from_segment[o] = g + 1
                    u = float(at[clear[0]])
            if o not in resting:
                x, y, h = pose if u == 0.0 else poses(pose, s, t, [u])[0]
                for c in np.flatnonzero(owner == o):
                    here = (x, y, cos(h), sin(h))
                    gap = min(
                        gap, swept(corners, cores.outline(c), here, (1 - u) * s, (1 - u) * t)[0] - cores.radius[c]
                    )
            if gap <= TOUCH:
                gap, first = 0.0, min(first, p)
            elif g < from_segment[o]:
                continue
            obstacle[o] = min(obstacle[o], gap)
            ribbon[g] = min(ribbon[g], gap)
    return obstacle, ribbon, first, result[:, 0]


def distances(polygon: np.ndarray, at: np.ndarray, core: np.ndarray) -> np.ndarray:
    """From a convex core, at rest at each pose."""
    apart: np.ndarray = shapely.distance(shapely.polygons(placed(polygon, at)), shapely.Polygon(core))
    return apart


WILD = Accuracy(
    bias=Systematic(0.02, 5.0, 0.03),
    day=Systematic(0.1, 20.0, 0.1),
    straight=StraightNoise(30.0, 60.0, 20.0),
    turn=TurnNoise(20.0, 20.0),
    square=SquareNoise(20.0, 30.0),
    edge=30.0,
    sample=0.5,
)
LIVELY = replace(
    TYPICAL, straight=StraightNoise(5.0, 10.0, 3.0), turn=TurnNoise(3.0, 3.0), square=SquareNoise(2.0, 4.0), edge=3.0
)


@pytest.mark.parametrize("accuracy", [EXACT, TYPICAL, LIVELY, WILD], ids=["exact", "typical", "lively", "wild"])
@pytest.mark.parametrize(("seed", "heading_from"), [pytest.param(1, "wheels", marks=pytest.mark.slow), (2, "gyro")])
def test_leaving_work_out_changes_no_answer(seed: int, heading_from: str, accuracy: Accuracy) -> None:
    """The bound holds for any draws, also where trials end at different alignments or stand where the plan drives."""
    run_ = circuit(seed, replace(accuracy, gyro=GyroNoise(5.0, 0.02, 1.0)))
    drive_ = replace(run_.robot.drive, heading_from=heading_from)
    run_ = replace(run_, robot=replace(run_.robot, drive=drive_))
    fast = simulate(run_, 60, seed)
    horizon = fast.plan.course.horizon
    pieces = len(fast.plan.course.wheels.left)
    ready = plan(run_, inf)
    # Wild trials end soon, so that there can be more of them.
    for number in range(0, 60, {EXACT: 30, WILD: 4}.get(accuracy, 12)):
        obstacle, ribbon, first, endings = in_full(ready, seed, number)
        np.testing.assert_array_equal(fast.endings[number], endings)
        dense = np.full(len(fast.plan.solids), horizon)
        dense[fast.obstacles] = fast.clearance[number]
        np.testing.assert_allclose(dense, np.minimum(obstacle, horizon), atol=1e-6)
        np.testing.assert_allclose(fast.ribbon[number], np.minimum(ribbon, horizon), atol=1e-6)
        assert (fast.contact_obstacle[number] >= 0) == (first < pieces)
        assert fast.contact_piece[number] == first
    if accuracy is WILD:
        assert {NOT_REACHED, TOO_SKEW, NOT_BORNE} <= {int(e) for e in np.unique(fast.endings)}


@pytest.mark.parametrize("accuracy", [LIVELY, WILD], ids=["lively", "wild"])
def test_bits_do_not_depend_on_threads_or_number(accuracy: Accuracy) -> None:
    run_ = circuit(4, accuracy)
    many = simulate(run_, 2500, 7, threads=1)
    assert_same(many, simulate(run_, 2500, 7, threads=2))
    ready = plan(run_)
    short = joined(list(blocks(ready, 7, 1200)))
    np.testing.assert_array_equal(short.poses, many.poses[:1200])
    np.testing.assert_array_equal(short.endings, many.endings[:1200])
    for number in (0, 999, 1000, 2222):
        assert_same_row(trial(ready, 7, number), many, number)


def assert_same_row(one: Trials, many: Trials, number: int) -> None:
    for name in ("poses", "endings", "ended_segment", "ribbon", "time", "contact_segment", "contact_fraction", "home"):
        np.testing.assert_array_equal(getattr(one, name)[0], getattr(many, name)[number])


def test_a_residual_belongs_to_its_segment() -> None:
    """Common random numbers: another way up to the wall leaves the luck at the wall as it was."""
    a = simulate(run(Straight(300), Turn(90), Square("front", "far wall", 3000.0), accuracy=TYPICAL), 200)
    b = simulate(run(Straight(700), Turn(80), Square("front", "far wall", 3000.0), accuracy=TYPICAL), 200)
    np.testing.assert_allclose(a.poses[:, 3, 2], b.poses[:, 3, 2], atol=1e-9)
    away_a, away_b = (t.poses[:, 3, 1] + FRONT * np.sin(np.radians(t.poses[:, 3, 2])) for t in (a, b))
    np.testing.assert_allclose(away_a, away_b, atol=1e-9)


def test_a_sensor_has_its_luck_by_itself() -> None:
    """The same for an 'until': two looks nearer to the edge it sees it as late as before."""
    noisy = replace(EXACT, sample=LOOK / 200.0, edge=1.0)
    far, near = (
        simulate(seeing(Straight(distance), UNTIL, line=ACROSS.line, accuracy=noisy), 200).poses[:, -1, 0]
        for distance in (10.0, 10.0 + 2 * LOOK)
    )
    assert far.std() > 1.0
    np.testing.assert_allclose(far, near, atol=1e-9)


def test_what_stands_beside_a_robot_that_is_flat_on_a_wall_is_let_off_too() -> None:
    """It backs against the near wall beside a post that its side passes 1 mm from, placed give or take 1 mm. Once it
    stands there the post is judged like the wall: driving straight on is free of both, turning on the spot is not."""
    from fieldsim.model import StraightNoise

    accuracy = Accuracy(straight=StraightNoise(veer=0.2))
    post = Obstacle("post", Box((1929.0 - 25.0, 40.0), (50.0, 80.0)))
    place = {"field": open_floor((4000.0, 4000.0), post), "accuracy": accuracy, "at": (2000.0, 400.0), "heading": 90.0}
    square = Square("rear", "near wall", 500.0)
    out = simulate(run(square, Straight(200.0), spread=Spread(0.0, 1.0, 0.0), **place), 2000, seed=1)  # type: ignore[arg-type]
    # On the way there a touch is a touch: Phi(-1) = 0.16, and a little walk.
    assert 0.1 < (out.contact_segment == 1).mean() < 0.3
    assert (out.contact_segment == 2).mean() < 0.005
    turned = simulate(run(square, Turn(30.0), **place), 200, seed=1)  # type: ignore[arg-type]
    assert not turned.clear.any()
