"""The base in numbers: statics worked by hand, published closed forms, and slow second roads. All robots are invented.

Published checks, with the source beside the number: the table on four legs (Euler), the ladder round a corner, braking
and tipping, traction with load transfer, the trapezoid profile. Where it says 'from memory' the work was not at hand.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from math import atan, cos, degrees, hypot, inf, pi, sin, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from examples import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from invented import NASTY
from matplotlib.figure import Figure
from scipy.optimize import linprog

from fieldsim import load_robot
from fieldsim.answers import to_json
from fieldsim.draw import save
from fieldsim.draw.base import LIST, draw_base
from fieldsim.draw.base.parts import CIRCLES
from fieldsim.lettering import cells
from fieldsim.model import Attachment, Body, Caster, Drive, Robot, Sensor, Weight
from fieldsim.model.errors import PlanError
from fieldsim.report.words.base import DOWN, UP, amount, base_text, headline
from fieldsim.studies.base import base
from fieldsim.studies.base.answer import FRICTION, BaseAnswer, Number
from fieldsim.studies.base.reach import narrowest_corner
from fieldsim.studies.base.sources import NO_SOURCE, told_apart
from fieldsim.studies.base.statics import GRAVITY, Stand, spring_loads

ROOT = Path(__file__).parents[2]

SCOOP = Attachment("scoop", ((110.0, -40.0), (170.0, -40.0), (170.0, 40.0), (110.0, 40.0)), (15.0, 60.0))
HOOK = Attachment("hook", ((-100.0, -12.0), (-60.0, -12.0), (-60.0, 12.0), (-100.0, 12.0)), (80.0, 100.0))


def a_robot(**changes: Any) -> Robot:
    """Box one of the examples: 170 x 140, axle 60 from the rear, track 112, casters at 85, centre of mass at 25."""
    robot = Robot(
        "Box test",
        Body(170.0, 140.0, 60.0, (8.0, 110.0)),
        Drive(track=112.0, wheel=62.0, gear=1.0, motor_speed=900.0, speed=250.0, turn_speed=120.0, acceleration=600.0),
        sensors=(Sensor("left eye", (95.0, 30.0)), Sensor("right eye", (95.0, -30.0))),
        attachments=(SCOOP, HOOK),
        weight=Weight(0.9, (25.0, 0.0, 45.0)),
        casters=(Caster((85.0, 40.0)), Caster((85.0, -40.0))),
    )
    for name, part in (("body", robot.body), ("drive", robot.drive)):
        keys = {key: changes.pop(key) for key in list(changes) if hasattr(part, key)}
        changes[name] = changes.get(name, replace(part, **keys))
    return replace(robot, **changes)


def value(answer: BaseAnswer, name: str) -> float:
    found = answer.number(name).value
    assert found is not None, f"{name} is not known: {answer.number(name).note}"
    return found


# --- one degree, speed, time -------------------------------------------------------------------------------------


def test_one_degree_by_hand() -> None:
    """Wheel 62, gear 1.5, track 112: a wheel degree is pi 62/360 mm, a motor degree half as much again. Turning on the
    spot by 90 degrees a wheel drives pi 112/4 mm: 90 112/62 wheel degrees."""
    answer = base(a_robot(gear=1.5))
    assert value(answer, "travel_per_wheel_degree") == pytest.approx(0.541052068, abs=1e-9)
    assert value(answer, "travel_per_motor_degree") == pytest.approx(0.811578102, abs=1e-9)
    assert value(answer, "straight_step") == value(answer, "travel_per_motor_degree")
    assert value(answer, "motor_degrees_metre") * value(answer, "travel_per_motor_degree") == pytest.approx(1000.0)
    assert value(answer, "motor_degrees_quarter_turn") == pytest.approx(90 * 112 / 62 / 1.5, rel=1e-12)
    # Heading = (right - left) / track, for one motor degree each way and for one alone.
    step = 1.5 * pi * 62 / 360
    assert value(answer, "turn_step") == pytest.approx(degrees((step - -step) / 112), rel=1e-12)
    assert value(answer, "pivot_step") == pytest.approx(degrees(step / 112), rel=1e-12)
    assert value(answer, "turn_step_at_metre") == pytest.approx(1000 * sin(2 * step / 112), rel=1e-12)
    assert value(answer, "top_speed") == pytest.approx(900 / 360 * 1.5 * pi * 62, rel=1e-12)
    assert value(answer, "fastest_turn") == pytest.approx(degrees(2 * value(answer, "top_speed") / 112), rel=1e-12)


def test_time_of_a_metre() -> None:
    """v = 0.4 m/s, a = 0.8 m/s^2, 1 m: 3.0 s. Source: K. Lynch and F. Park, Modern Robotics, Cambridge University
    Press, 2017, sec. 9.2.2.2 (section from memory). With a = 0.1 m/s^2 it never comes to speed: 2 sqrt(1/0.1) s."""
    assert value(base(a_robot(speed=400.0, acceleration=800.0)), "metre_time") == pytest.approx(3.0, rel=1e-12)
    slow = base(a_robot(speed=400.0, acceleration=100.0))
    assert value(slow, "metre_time") == pytest.approx(2 * sqrt(10), rel=1e-12)
    assert slow.number("metre_time").note == "it comes to 316 mm/s only"


def test_more_speed_than_the_motors_have_changes_no_time() -> None:
    top = value(base(a_robot()), "top_speed")
    asked = base(a_robot(speed=2 * top))
    assert value(asked, "metre_time") == pytest.approx(1000 / top + top / 600, rel=1e-12)
    assert value(asked, "speed_share") == pytest.approx(2.0)
    assert asked.number("arc_radius_motor").value is None


@pytest.mark.parametrize("speed", [60.0, 250.0, 400.0, 900.0])
def test_the_sharpest_arc_by_trying_all(speed: float) -> None:
    """Second road: v(R)^2 / R over a fine grid of radii, v(R) the slower of its speed and the outer wheel's limit."""
    answer = base(a_robot(speed=speed))
    radii = np.geomspace(0.5, 3000.0, 60_001)
    driven = np.minimum(speed, value(answer, "top_speed") / (1 + 56.0 / radii))
    assert value(answer, "arc_acceleration") == pytest.approx((driven**2 / radii).max(), rel=1e-3)
    tight = answer.number("arc_radius_motor").value
    if tight is not None:
        # There the outer wheel drives at top speed.
        assert speed * (1 + 56.0 / tight) == pytest.approx(value(answer, "top_speed"), rel=1e-12)


# --- room --------------------------------------------------------------------------------------------------------


def test_circles_of_a_box_by_hand() -> None:
    """Front 140, rear 60, half width 75: the front corner is hypot(140, 75) = 158.8238 from the middle, and a wall at
    the side needs 83.8238 more room. About a wheel 56 aside it is hypot(140, 75 + 56)."""
    answer = base(a_robot(length=200.0, width=150.0))
    assert value(answer, "spin_radius") == pytest.approx(158.8238017, abs=1e-7)
    assert value(answer, "spin_side_room") == pytest.approx(83.8238017, abs=1e-7)
    for side in ("left", "right"):
        assert value(answer, f"pivot_radius_{side}") == pytest.approx(hypot(140, 131), rel=1e-12)


def test_only_what_is_worn_takes_room() -> None:
    one_side = Attachment("arm", ((0.0, 70.0), (20.0, 70.0), (20.0, 100.0), (0.0, 100.0)))
    robot = a_robot(attachments=(one_side,))
    bare, with_it = base(robot), base(robot, ("arm",))
    assert value(bare, "narrowest_gap") == 140.0
    assert value(with_it, "narrowest_gap") == 170.0
    # The arm is 44 mm from the left wheel and 156 from the right one: only there it is the farthest point.
    assert value(with_it, "pivot_radius_right") == pytest.approx(max(hypot(110, 126), hypot(20, 156)), rel=1e-12)
    assert value(with_it, "pivot_radius_left") == value(bare, "pivot_radius_left") == pytest.approx(hypot(110, 126))
    assert [number.value for number in with_it.numbers if number.group == "Tipping and slipping"] == [
        number.value for number in bare.numbers if number.group == "Tipping and slipping"
    ]


def test_what_each_attachment_does() -> None:
    """Scoop: 60 ahead of the front face, its corner hypot(170, 40) from the middle. Hook: within the circle."""
    scoop, hook = base(a_robot(), ("scoop",)).attachments
    corner = hypot(110, 70)
    assert (scoop.ahead, scoop.behind, scoop.left, scoop.right) == (60.0, 0.0, 0.0, 0.0)
    assert scoop.spin_more == pytest.approx(hypot(170, 40) - corner, rel=1e-12)
    assert scoop.worn
    assert not hook.worn
    assert (hook.ahead, hook.behind) == (0.0, 40.0)
    assert hook.spin_radius == pytest.approx(corner)
    assert (hook.spin_more, hook.gap_more) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("length", "width"),
    [(2 * sqrt(2), 0.0), (1.0, 0.9142135624), (sqrt(2), 0.7071067812), (2.0, 0.4142135624)],
)
def test_corner_published(length: float, width: float) -> None:
    """Through a corner of corridors 1 wide: the ladder of 2 sqrt 2 (E. W. Weisstein, 'Moving Ladder Problem',
    MathWorld), and rectangles derived from it with width + length/2 = sqrt 2: 1 x 0.914, the largest of area 1
    (sqrt 2 x sqrt 1/2), 2 x 0.414."""
    assert narrowest_corner(length, width) == pytest.approx(1.0, abs=1e-9)


def placed(length: float, width: float, tilt: float) -> Any:
    """The rectangle, its length at ``tilt`` radians from x, touching both outer walls x = 0 and y = 0 from inside."""
    c, s = cos(tilt), sin(tilt)
    corners = np.array([(0, 0), (length, 0), (length, width), (0, width)]) @ np.array([(c, s), (-s, c)])
    return shapely.Polygon(corners - corners.min(axis=0))


@pytest.mark.parametrize(("length", "width"), [(170.0, 140.0), (270.0, 140.0), (100.0, 100.0), (90.0, 150.0)])
def test_corner_by_brute_force(length: float, width: float) -> None:
    """Second road, with shapely: in corridors of that width it can be turned all the way touching both outer walls,
    once with its nose leading or once backing out; a fiftieth narrower there is no place for it at 45 degrees."""
    c = narrowest_corner(length, width)
    behind_inner_corner = shapely.box(c, c, 10 * c, 10 * c)

    def overlap(tilts: Any) -> float:
        return max(float(placed(length, width, tilt).intersection(behind_inner_corner).area) for tilt in tilts)

    turning = np.linspace(0.0, pi / 2, 181)
    assert min(overlap(turning + pi / 2), overlap(turning)) < 1e-6 * c * c
    narrower = 0.98 * c
    if narrower < width:
        return  # It does not even fit into the corridor.
    walls = shapely.box(narrower, narrower, 10 * c, 10 * c)
    draw = np.random.default_rng(1)
    for tilt in (pi / 4, 3 * pi / 4):
        shifts = draw.uniform(0.0, narrower, (300, 2))
        places = [shapely.affinity.translate(placed(length, width, tilt), *shift) for shift in shifts]
        assert (shapely.area(shapely.intersection(np.array(places), walls)) > 0).all()


@pytest.mark.parametrize(
    ("body", "wear"),
    [((170.0, 140.0, 60.0), ()), ((170.0, 140.0, 60.0), ("scoop",)), ((80.0, 200.0, 40.0), ())],
)
def test_drive_in_spin_drive_out_by_brute_force(body: tuple[float, float, float], wear: tuple[str, ...]) -> None:
    """Second road, with shapely: the spin circle, the way in and the way out lie in the two corridors; half a mm less
    and no place for all of them is left. (The third body is so wide that its way in is what needs the room.)"""
    answer = base(a_robot(body=Body(*body)), wear)
    c, r, side = value(answer, "corner_width_spin"), value(answer, "spin_radius"), body[1] / 2

    def fits(width: float, x: float, y: float) -> bool:
        far = 5000.0
        free = shapely.Polygon([(0, 0), (far, 0), (far, width), (width, width), (width, far), (0, far)])
        # A hundredth of a mm off the radius, less than the 128 corners a quarter turn take from it.
        circle = shapely.Point(x, y).buffer(r - 0.01, quad_segs=128)
        ways = shapely.box(x, y - side, 4000.0, y + side), shapely.box(x - side, y, x + side, 4000.0)
        return all(free.buffer(1e-6).covers(part) for part in (circle, *ways))

    assert fits(c, r, r)
    spots = np.linspace(r - 1.0, c - r + 1.0, 21)
    assert not any(fits(c - 0.5, x, y) for x in spots for y in spots)


@given(st.floats(-300, 300), st.floats(-300, 300), st.floats(20, 200), st.floats(20, 200))
@settings(max_examples=examples(25))
def test_the_swept_circle_holds_all_corners(x: float, y: float, width: float, height: float) -> None:
    """However it is turned, no corner leaves the circle, and one lies on it."""
    arm = Attachment("arm", ((x, y), (x + width, y), (x + width, y + height), (x, y + height)))
    answer = base(a_robot(attachments=(arm,)), ("arm",))
    body = [(-60.0, 70.0), (-60.0, -70.0), (110.0, -70.0), (110.0, 70.0)]
    corners = np.array([*body, *arm.outline])
    turns = np.exp(1j * np.linspace(0, 2 * pi, 50))
    for name, middle in (("spin_radius", 0.0), ("pivot_radius_left", 56.0), ("pivot_radius_right", -56.0)):
        swept = turns[:, None] * ((corners[:, 0]) + 1j * (corners[:, 1] - middle))[None, :]
        assert np.abs(swept).max() == pytest.approx(value(answer, name), rel=1e-12)


SCALES = {"mm": 1, "share": 0, "degrees": 0, "mm/s^2": 0}
"""Powers of the scale of all lengths, where speeds and accelerations stay: of what is not driven."""


@given(st.floats(0.5, 3.0))
@settings(max_examples=examples(15))
def test_a_model_k_times_as_large(k: float) -> None:
    robot = a_robot()
    large = replace(
        robot,
        body=Body(170.0 * k, 140.0 * k, 60.0 * k),
        drive=replace(robot.drive, track=112.0 * k, wheel=62.0 * k),
        attachments=tuple(replace(a, outline=tuple((k * x, k * y) for x, y in a.outline)) for a in robot.attachments),
        weight=Weight(0.9, (25.0 * k, 0.0, 45.0 * k)),
        casters=(Caster((85.0 * k, 40.0 * k)), Caster((85.0 * k, -40.0 * k))),
    )
    small_answer, answer = base(robot, ("scoop",)), base(large, ("scoop",))
    driven = {"stop_distance", "arc_radius_motor", "arc_acceleration", "tip_radius", "turn_step_at_metre"}
    driven |= {"motor_degrees_metre", "speed_share", "turn_speed_share"}
    checked = 0
    for before, after in zip(small_answer.numbers, answer.numbers, strict=True):
        if before.unit in SCALES and before.id not in driven and before.value is not None:
            assert after.value == pytest.approx(before.value * k ** SCALES[before.unit], rel=1e-9), before.id
            checked += 1
    assert checked > 20


# --- statics -----------------------------------------------------------------------------------------------------


def test_three_supports_by_hand() -> None:
    """Wheels at (0, +-60), a caster at (90, 0), the weight at (30, 10). Moments about the axle: the caster carries
    30/90 = 1/3. About the x axis: 60 (L - R) = 10, so L - R = 1/6 with L + R = 2/3: 5/12 and 1/4."""
    loads = spring_loads([(0, 60), (0, -60), (90, 0)], (30, 10))
    assert loads == pytest.approx([5 / 12, 1 / 4, 1 / 3], abs=1e-12)


@pytest.mark.parametrize("x", [-0.5, 0.0, 0.2, 0.7])
@pytest.mark.parametrize("y", [-0.3, 0.0, 0.25])
def test_table_on_four_legs(x: float, y: float) -> None:
    """L. Euler, 'De pressione ponderis in planum cui incumbit', Novi Commentarii 18, 1774 (from memory): the loads lie
    on a plane. Legs at (+-1, +-1): 1/4 (1 +- x +- y), as long as |x| + |y| <= 1."""
    legs = [(1, 1), (1, -1), (-1, 1), (-1, -1)]
    assert spring_loads(legs, (x, y)) == pytest.approx([(1 + a * x + b * y) / 4 for a, b in legs], abs=1e-12)


def test_table_with_one_leg_in_the_air() -> None:
    """The weight at (0.6, 0.6) is beyond |x| + |y| = 1: the leg at (-1, -1) would pull, so three carry it. With
    N1 + N2 + N3 = 1, N1 + N2 - N3 = 0.6 and N1 - N2 + N3 = 0.6 they carry 0.6, 0.2, 0.2."""
    legs = [(1, 1), (1, -1), (-1, 1), (-1, -1)]
    assert spring_loads(legs, (0.6, 0.6)) == pytest.approx([0.6, 0.2, 0.2, 0.0], abs=1e-10)


@pytest.mark.parametrize("at", [(1.2, 0.0), (-3.0, 5.0)])
def test_a_weight_beside_all_supports_cannot_be_carried(at: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="not between the supports"):
        spring_loads([(1, 1), (1, -1), (-1, 1), (-1, -1)], at)


SPOTS = st.tuples(st.integers(-150, 150), st.integers(-150, 150)).map(lambda xy: (float(xy[0]), float(xy[1])))


@st.composite
def stands(draw: st.DrawFn) -> Stand:
    """A robot that stands: any casters, its centre of mass well within their hull."""
    half = draw(st.integers(20, 100))
    casters = draw(st.lists(SPOTS, min_size=1, max_size=4))
    supports = ((0.0, float(half)), (0.0, float(-half)), *casters)
    weights = np.array([draw(st.integers(1, 10)) for _ in supports], dtype=float)
    x, y = weights / weights.sum() @ np.array(supports)
    stand = Stand(supports, (float(x), float(y)), float(draw(st.integers(10, 150))))
    assume(len(stand.hull) > 2 and stand.margin > 3.0)
    return stand


def assert_balanced(stand: Stand, loads: Any, at: Any) -> None:
    """They carry the weight, balance its moments, and none pulls."""
    assert loads.min() >= 0.0
    assert loads.sum() == pytest.approx(1.0, abs=1e-9)
    assert loads @ np.array(stand.supports) == pytest.approx(at, abs=1e-6)


@given(stands())
@settings(max_examples=examples(60))
def test_loads_balance_and_have_the_least_sum_of_squares(stand: Stand) -> None:
    """Second road, by linear programming: loads N have the least sum of squares of all that balance without pulling
    exactly if none of those has a smaller product with N than N itself."""
    loads = stand.loads()
    assert_balanced(stand, loads, stand.middle)
    supports = np.array(stand.supports)
    balance = np.vstack([np.ones(len(supports)), supports.T])
    best = linprog(loads, A_eq=balance, b_eq=[1.0, *stand.middle], method="highs")
    assert best.status == 0
    assert best.fun == pytest.approx(loads @ loads, abs=1e-7)


@given(stands(), st.floats(0, 2 * pi))
@settings(max_examples=examples(60))
def test_tipping_is_where_the_point_of_the_weight_leaves_the_supports(stand: Stand, way: float) -> None:
    """Second road, with shapely: accelerating against ``way`` by 1 in 1000 less it stands, by 1 in 1000 more it does
    not; just before, the loads still balance."""
    direction = np.array([cos(way), sin(way)])
    tips = stand.tips((float(direction[0]), float(direction[1])))
    assert tips is not None
    ground = shapely.convex_hull(shapely.multipoints(np.array(stand.supports)))

    def point(share: float) -> Any:
        return np.array(stand.middle) + stand.high / GRAVITY * share * tips * direction

    assert ground.covers(shapely.Point(point(0.999)))
    assert not ground.covers(shapely.Point(point(1.001)))
    before = -0.999 * tips * direction
    assert_balanced(stand, stand.loads((float(before[0]), float(before[1]))), point(0.999))


@given(stands(), st.floats(50, 3000))
@settings(max_examples=examples(60))
def test_the_smallest_radius_by_trying(stand: Stand, speed: float) -> None:
    """Second road, with shapely: in arcs wider than that, left and right, it stands; a bit tighter it tips in one."""
    smallest = stand.tip_radius(speed)
    ground = shapely.convex_hull(shapely.multipoints(np.array(stand.supports)))
    middle = np.array(stand.middle)

    def stays(radius: float, side: float) -> bool:
        pulled = (speed / radius) ** 2 * (np.array([0.0, side * radius]) - middle)
        return bool(ground.buffer(1e-9).covers(shapely.Point(middle - stand.high / GRAVITY * pulled)))

    for factor in (1.000001, 1.01, 1.5, 4.0, 50.0):
        assert stays(smallest * factor, 1.0)
        assert stays(smallest * factor, -1.0)
    assert not (stays(smallest * 0.999, 1.0) and stays(smallest * 0.999, -1.0))


@pytest.mark.parametrize(("x", "high", "limit"), [(60.0, 80.0, 7354.9875)])
def test_tipping_published(x: float, high: float, limit: float) -> None:
    """a = g x/h: 0.06 m before the edge and 0.08 m high, 7.3549875 m/s^2 (plane statics, any textbook, from memory)."""
    stand = Stand(((0.0, 56.0), (0.0, -56.0), (85.0, 0.0)), (85.0 - x, 0.0), high)
    assert stand.tips((1.0, 0.0)) == pytest.approx(limit, rel=1e-12)


def test_tipping_of_the_example_by_hand() -> None:
    """Centre of mass 25 before the axle, casters at 85, 45 high: forwards over 60 mm, backwards over 25 mm. Sideways
    over the line from the wheel (0, 56) to the caster (85, 40): at x = 25 it is 56 - 16 25/85 = 51.294 mm aside."""
    answer = base(a_robot())
    assert value(answer, "tip_forward") == pytest.approx(GRAVITY * 60 / 45, rel=1e-12)
    assert value(answer, "tip_backward") == pytest.approx(GRAVITY * 25 / 45, rel=1e-12)
    assert value(answer, "tip_sideways") == pytest.approx(GRAVITY * (56 - 16 * 25 / 85) / 45, rel=1e-12)
    assert value(answer, "stand_margin") == pytest.approx(25.0)
    assert value(answer, "tip_tilt") == pytest.approx(degrees(atan(25 / 45)), rel=1e-12)
    assert answer.tips_over == pytest.approx((0.0, 85.0))
    assert value(answer, "wheel_load_share") == pytest.approx(60 / 85, rel=1e-12)
    assert value(answer, "wheel_load_left") == pytest.approx(30 / 85, rel=1e-9)
    assert value(answer, "caster_load_2") == pytest.approx(12.5 / 85, rel=1e-9)


@pytest.mark.parametrize(
    ("x", "high", "casters", "friction"), [(30, 40, 95, 0.6), (20, 20, 60, 0.3), (-30, 40, -95, 0.5)]
)
def test_slipping_published(x: float, high: float, casters: float, friction: float) -> None:
    """T. Gillespie, Fundamentals of Vehicle Dynamics, SAE, 1992, ch. 2 (from memory): friction g b/L / (1 - friction
    h/L) for an axle that the load moves to, L the wheelbase, b the way from the centre of mass to the other axle, h its
    height; + for one that it leaves."""
    stand = Stand(((0.0, 72.0), (0.0, -72.0), (casters, 55.0), (casters, -55.0)), (x, 0.0), high)
    share, lever = 1 - x / casters, high / casters
    for side in (1.0, -1.0):
        found = stand.slips(side, friction)
        assert found == pytest.approx(friction * GRAVITY * share / (1 - side * friction * lever), rel=1e-9)


def test_the_smaller_of_both_ways_counts() -> None:
    answer = base(a_robot(weight=Weight(0.9, (25.0, 0.0, 35.0)), acceleration=1000.0))
    forward, backward = value(answer, "slip_forward"), value(answer, "slip_backward")
    assert forward > backward
    assert value(answer, "slip_acceleration") == backward
    assert value(answer, "acceleration_share") == pytest.approx(1000.0 / backward)
    nearly_back = base(a_robot(weight=Weight(0.9, (5.0, 0.0, 60.0))))
    # g 5/60, long before a wheel slips.
    assert value(nearly_back, "acceleration_share") == pytest.approx(600.0 / (GRAVITY * 5 / 60))
    behind = base(a_robot(weight=Weight(0.9, (-25.0, 0.0, 35.0)), casters=(Caster((-60.0, 0.0)),)))
    assert value(behind, "slip_acceleration") == value(behind, "slip_forward") < value(behind, "slip_backward")


def test_slipping_of_the_example_by_hand() -> None:
    """Braking: 0.6 9806.65 (60/85) / (1 + 0.6 45/85) = 3152.1375 mm/s^2. Speeding up it would be 6087 mm/s^2, but at
    5448 mm/s^2 the front lifts."""
    answer = base(a_robot())
    assert value(answer, "slip_backward") == pytest.approx(3152.1375, rel=1e-9)
    assert answer.number("slip_forward").value is None
    assert "tips before" in answer.number("slip_forward").note
    assert value(answer, "slip_acceleration") == value(answer, "slip_backward")
    assert value(answer, "acceleration_share") == pytest.approx(600 / 3152.1375, rel=1e-9)
    assert "tips_before_slips" in {warning.id for warning in answer.warnings}


@given(stands(), st.sampled_from([1.0, -1.0]), st.floats(0.1, 1.2))
@settings(max_examples=examples(40))
def test_slipping_by_stepping(stand: Stand, side: float, friction: float) -> None:
    """Second road: up to there no wheel pushes harder than its grip, there one does; if none ever does, it has tipped.
    Pushes from the balance of yaw about the centre of mass: F_L + F_R = m a, F_L (b/2 - y) = F_R (b/2 + y) turned."""
    found = stand.slips(side, friction)
    tips = stand.tips((-side, 0.0))
    half, y = stand.supports[0][1], stand.middle[1]
    # Forces on the left (y = b/2) and right wheel that push the mass by 1 and turn it by 0 about (., y).
    pushes = np.linalg.solve([[1.0, 1.0], [y - half, y + half]], [1.0, 0.0])

    def spare(acceleration: float) -> float:
        loads = stand.loads((side * acceleration, 0.0))[:2]
        return float((friction * loads - np.abs(pushes) * acceleration / GRAVITY).min())

    assert tips is not None
    end = tips * (1 - 1e-9) if found is None else found
    assert end <= tips
    assert min(spare(share * end) for share in np.linspace(0.0, 0.9999, 40)) >= -1e-9
    if found is not None:
        assert spare(found) == pytest.approx(0.0, abs=1e-7)


@given(st.floats(80, 200), st.floats(1, 60), st.floats(20, 90), st.floats(1, 30))
@settings(max_examples=examples(25))
def test_what_helps_against_tipping(track: float, wider: float, high: float, lower: float) -> None:
    """A wider track tips later sideways, a lower centre of mass later every way, casters farther out later forwards."""
    lower = min(lower, high - 1)

    def tips(track: float, high: float, caster: float) -> list[float]:
        stand = Stand(((0.0, track / 2), (0.0, -track / 2), (caster, 0.0)), (25.0, 0.0), high)
        found = [stand.tips(way) for way in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0))]
        return [limit for limit in found if limit is not None]

    before = tips(track, high, 85.0)
    assert len(before) == 3
    assert tips(track + wider, high, 85.0)[2] > before[2]
    assert all(after > b for after, b in zip(tips(track, high - lower, 85.0), before, strict=True))
    assert tips(track, high, 85.0 + wider)[0] > before[0]


# --- what is missing or wrong --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "warning", "why"),
    [
        ({"weight": None}, "no_weight", "the file does not give the weight"),
        ({"casters": ()}, "no_casters", "the file does not give the casters"),
        ({"weight": Weight(0.9, (-10.0, 0.0, 45.0))}, "does_not_stand", "it does not stand"),
        ({"casters": (Caster((0.0, 30.0)),)}, "does_not_stand", "it does not stand"),
    ],
)
def test_what_cannot_be_known(changes: dict[str, Any], warning: str, why: str) -> None:
    whole, answer = base(a_robot()), base(a_robot(**changes))
    unknown = ("Weight on the wheels", "Tipping and slipping")
    found = [number for number in answer.numbers if number.group in unknown]
    assert len(found) >= 13
    for number in found:
        assert number.value is None, number.id
        assert why in number.note, number.id
    assert warning in {each.id for each in answer.warnings}
    assert answer.tips_over is None
    others = [(n.id, n.value) for n in answer.numbers if n.group not in unknown]
    assert others == [(n.id, n.value) for n in whole.numbers if n.group not in unknown]
    assert why in base_text(answer)


@pytest.mark.parametrize("height", [0.0, -20.0])
def test_nothing_tips_a_mass_on_the_mat(height: float) -> None:
    """Nor one that is given below it, which cannot be and is warned of."""
    answer = base(a_robot(weight=Weight(0.9, (25.0, 0.0, height))))
    assert [answer.number(f"tip_{way}").value for way in ("forward", "backward", "sideways", "tilt")] == [None] * 4
    assert value(answer, "tip_radius") == 0.0
    # No load moves: friction times the share of the weight on the wheels, both ways.
    assert value(answer, "slip_forward") == pytest.approx(FRICTION * GRAVITY * 60 / 85, rel=1e-9)
    assert value(answer, "slip_backward") == pytest.approx(FRICTION * GRAVITY * 60 / 85, rel=1e-9)
    assert "no_height" in {warning.id for warning in answer.warnings}


WARNINGS: dict[str, Callable[[], Robot]] = {
    "speed_beyond_motor": lambda: a_robot(speed=500.0),
    "speed_near_top": lambda: a_robot(speed=450.0),
    "turning_speed_beyond_motor": lambda: a_robot(turn_speed=600.0),
    "turning_speed_near_top": lambda: a_robot(turn_speed=460.0),
    "coarse_turn": lambda: a_robot(gear=2.0, motor_speed=450.0),
    "wheels_outside": lambda: a_robot(track=150.0),
    "wide_body": lambda: a_robot(width=170.0),
    "long_swing": lambda: a_robot(axle=20.0),
    "light_wheels": lambda: a_robot(weight=Weight(0.9, (45.0, 0.0, 45.0))),
    "uneven_wheels": lambda: a_robot(weight=Weight(0.9, (25.0, 15.0, 45.0))),
    "lifted": lambda: a_robot(
        casters=(Caster((85.0, 40.0)), Caster((85.0, -40.0)), Caster((-50.0, 0.0))),
        weight=Weight(0.9, (75.0, 0.0, 45.0)),
    ),
    "beyond_slip": lambda: a_robot(acceleration=3200.0),
    "near_slip": lambda: a_robot(acceleration=2600.0),
    "beyond_tip_backward": lambda: a_robot(acceleration=5500.0),
    "near_tip_backward": lambda: a_robot(acceleration=2800.0),
    "beyond_tip_forward": lambda: a_robot(acceleration=900.0, weight=Weight(0.9, (80.0, 0.0, 60.0))),
    "near_tip_forward": lambda: a_robot(acceleration=500.0, weight=Weight(0.9, (80.0, 0.0, 60.0))),
    "tips_before_slips": lambda: a_robot(weight=Weight(0.9, (25.0, 0.0, 60.0))),
    "tips_before_slips_braking": lambda: a_robot(
        casters=(Caster((-85.0, 40.0)), Caster((-85.0, -40.0))), weight=Weight(0.9, (-20.0, 0.0, 60.0))
    ),
    "tips_in_arcs": lambda: a_robot(speed=1500.0, motor_speed=3600.0, weight=Weight(0.9, (25.0, 0.0, 60.0))),
    "near_tip_in_arcs": lambda: a_robot(speed=1000.0, motor_speed=2000.0, weight=Weight(0.9, (25.0, 0.0, 60.0))),
}


@pytest.mark.parametrize("name", WARNINGS)
def test_each_warning_comes_where_it_should(name: str) -> None:
    """And a balanced robot has none of them: its mass sits low, so nothing is out of proportion."""
    sound = base(a_robot(weight=Weight(0.9, (25.0, 0.0, 35.0))))
    assert sound.warnings == ()
    assert "Nothing is out of proportion" in base_text(sound)
    answer = base(WARNINGS[name]())
    found = [warning for warning in answer.warnings if warning.id == name]
    assert len(found) == 1
    assert " ".join(found[0].words.split()) in " ".join(base_text(answer).split())
    # A threshold of ours has to say that it has no source; what has none is a matter of arithmetic.
    assert found[0].source in ("", NO_SOURCE)
    if found[0].source:
        assert f"How much is too much is {NO_SOURCE}." in base_text(answer)


def test_names_that_are_not_there_and_frictions_that_cannot_be() -> None:
    with pytest.raises(PlanError, match="did you mean 'scoop'"):
        base(a_robot(), ("scop",))
    for friction in (0.0, -1.0, 4.0, inf, float("nan")):
        with pytest.raises(PlanError, match="friction"):
            base(a_robot(), friction=friction)
    assert base(a_robot(), ("hook", "hook")).wear == ("hook",)


def test_more_grip_slips_later() -> None:
    less, more = (value(base(a_robot(), friction=friction), "slip_backward") for friction in (0.4, 0.8))
    assert less < more
    assert "0.4" in base_text(base(a_robot(), friction=0.4)).splitlines()[1]
    assert NO_SOURCE in base_text(base(a_robot())).splitlines()[1]


# --- words and JSON ------------------------------------------------------------------------------------------------


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [40, 72, 100])
@pytest.mark.parametrize("wear", [(), ("scoop", "hook")])
def test_the_text_holds_every_number(wear: tuple[str, ...], width: int) -> None:
    answer = base(a_robot(), wear)
    short, long = (base_text(answer, explain, width) for explain in (False, True))
    for text in (short, long):
        assert text.endswith("the table decides.\n") or flat(text).endswith("the table decides.")
        assert max(cells(line) for line in text.splitlines()) <= width
        for number in answer.numbers:
            assert f"{number.words} {amount(number)}" in flat(text), number.id
            assert flat(number.note) in flat(text), number.id
    for number in answer.numbers:
        assert f"formula: {flat(number.formula)}" in flat(long), number.id
        # Each source stands once, as a note; the formula has its number.
        for source in told_apart(number.source):
            assert flat(long).count(f". {flat(source)}") >= 1, number.id
    assert "formula:" not in short
    assert "Their weight is not in the file" in flat(short)


def test_every_number_says_what_it_is() -> None:
    answer = base(a_robot())
    assert len({number.id for number in answer.numbers}) == len(answer.numbers)
    for number in answer.numbers:
        assert number.words, number.id
        assert number.formula, number.id
        assert number.source, number.id
        assert number.unit in {"mm", "mm/s", "mm/s^2", "s", "degrees", "degrees/s", "share"}
    assert {number.id for number in answer.numbers} >= UP | DOWN


ROUNDED = {number.id: number.unit for number in base(a_robot()).numbers if number.id in UP | DOWN}


@given(st.floats(1e-3, 1e5), st.sampled_from(sorted(ROUNDED)))
@settings(max_examples=examples(60))
def test_promises_are_rounded_to_the_careful_side(size: float, name: str) -> None:
    told = float(amount(Number(name, size, ROUNDED[name], "", "", "")).split()[0])
    slack = 1e-6 * max(size, 1.0)
    if name in UP:
        assert size - slack <= told <= size + 1.0
    else:
        assert size - 1.0 <= told <= size + slack


def test_names_from_files_are_harmless() -> None:
    robot = a_robot(name=NASTY[1], attachments=(replace(SCOOP, name=NASTY[4]), replace(HOOK, name="A" * 80)))
    text = base_text(base(robot, (NASTY[4], "A" * 80)), width=60)
    assert all(character.isprintable() or character == "\n" for character in text)
    assert max(cells(line) for line in text.splitlines()) <= 60


def test_the_heading() -> None:
    assert headline(base(a_robot())) == "Box test, bare: the base in numbers"
    assert headline(base(a_robot(), ("hook", "scoop"))) == "Box test, wearing hook and scoop: the base in numbers"


PROMISED = {
    "travel_per_wheel_degree", "travel_per_motor_degree", "top_speed", "metre_time", "spin_radius", "pivot_radius_left",
    "pivot_radius_right", "narrowest_gap", "corner_width", "wheel_load_share", "tip_forward", "tip_backward",
    "tip_sideways", "slip_acceleration",
}  # fmt: skip


@pytest.mark.parametrize("changes", [{}, {"weight": None, "casters": ()}, {"body": Body(170.0, 140.0, 60.0)}])
def test_json_is_plain(changes: dict[str, Any]) -> None:
    answer = base(a_robot(**changes), ("scoop",))
    told = to_json(answer)
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert (told["command"], told["robot"], told["wear"]) == ("base", "Box test", ["scoop"])
    assert {number["id"] for number in told["numbers"]} >= PROMISED
    for number, entry in zip(answer.numbers, told["numbers"], strict=True):
        assert {"id", "value", "unit", "formula", "source"} <= entry.keys()
        assert (entry["value"], entry["unit"]) == (number.value, number.unit)
    assert [each["id"] for each in told["warnings"]] == [warning.id for warning in answer.warnings]
    assert [each["name"] for each in told["attachments"]] == ["scoop", "hook"]


# --- the picture ---------------------------------------------------------------------------------------------------

EXAMPLES = ["box-one", "box-wide"]


def example(name: str) -> Robot:
    return load_robot(ROOT / "runs" / "bakery" / f"{name}.yaml")


def drawn(figure: Figure, gid: str) -> Any:
    found = figure.findobj(lambda artist: artist.get_gid() == gid)
    assert len(found) == 1, f"{len(found)} things are called {gid}"
    return found[0]


def assert_words_are_apart(figure: Figure) -> None:
    """All words lie on the page, and within a view none covers another."""
    texts = [*figure.texts, *figure.legends[0].get_texts()]
    for axes in figure.axes:
        texts += [*axes.texts, axes.xaxis.label, axes.yaxis.label]
        for axis in (axes.xaxis, axes.yaxis):
            low, high = axis.get_view_interval()
            texts += [tick.label1 for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
    boxes = []
    for text in texts:
        if text.get_visible() and text.get_text().strip():
            box = text.get_window_extent()
            assert figure.bbox.x0 <= box.x0 < box.x1 <= figure.bbox.x1, text.get_text()
            assert figure.bbox.y0 <= box.y0 < box.y1 <= figure.bbox.y1, text.get_text()
            boxes.append((text.get_text(), box.padded(-1.0)))
    assert len(boxes) > 40
    for n, (words, box) in enumerate(boxes):
        for others, other in boxes[n + 1 :]:
            assert not box.overlaps(other), f"{words!r} covers {others!r}"


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("worn", [False, True])
def test_the_picture_is_to_scale_and_legible(name: str, worn: bool) -> None:
    robot = example(name)
    wear = tuple(each.name for each in robot.attachments) if worn else ()
    answer = base(robot, wear)
    figure = draw_base(robot, answer)
    figure.canvas.draw()
    for gid, *_ in CIRCLES:
        assert drawn(figure, gid).get_radius() == value(answer, gid)
    assert drawn(figure, "pivot_radius_left").get_center() == (0.0, robot.drive.track / 2)
    corners = drawn(figure, "body").get_xy()
    assert float(np.ptp(corners[:, 0])) == robot.body.length
    assert float(np.ptp(corners[:, 1])) == robot.body.width
    wheels = [drawn(figure, f"wheel-{side}") for side in ("left", "right")]
    middles = [wheel.get_y() + wheel.get_height() / 2 for wheel in wheels]
    assert middles[0] - middles[1] == pytest.approx(robot.drive.track)
    assert {wheel.get_width() for wheel in wheels} == {robot.drive.wheel}
    side = drawn(figure, "side-body")
    assert (side.get_y(), side.get_y() + side.get_height()) == pytest.approx(robot.body.height)
    assert drawn(figure, "tips-forward").get_xdata()[0] == pytest.approx(robot.casters[0].at[0])
    assert robot.weight is not None
    mark = drawn(figure, "side-centre-of-mass")
    assert (mark.get_xdata()[0], mark.get_ydata()[0]) == (robot.weight.at[0], robot.weight.at[2])
    words = {text.get_text() for text in figure.texts}
    for number, _ in LIST:
        assert amount(answer.number(number)) in words
    for axes in figure.axes:
        (x0, x1), (y0, y1), box = axes.get_xlim(), axes.get_ylim(), axes.get_window_extent()
        assert (x1 - x0) / box.width == pytest.approx((y1 - y0) / box.height, rel=1e-6)
    assert_words_are_apart(figure)


def test_a_colour_is_told_by_a_style_too() -> None:
    figure = draw_base(example("box-one"), base(example("box-one"), ("scoop",)))
    styles = {str(drawn(figure, gid).get_linestyle()) + str(drawn(figure, gid)._dash_pattern) for gid, *_ in CIRCLES}
    assert len(styles) == len(CIRCLES)
    assert drawn(figure, "attachment-1").get_hatch()
    assert not drawn(figure, "attachment-2").get_hatch()
    assert drawn(figure, "attachment-1").get_linestyle() != drawn(figure, "attachment-2").get_linestyle()


def test_a_robot_that_says_little_is_drawn_too(tmp_path: Path) -> None:
    """No weight, no casters, no heights, names that could break a layout."""
    long = Attachment("A" * 80, ((0.0, 70.0), (10.0, 70.0), (10.0, 300.0), (0.0, 300.0)))
    odd = Attachment(NASTY[4], ((100.0, -60.0), (130.0, -60.0), (120.0, -20.0)), (2.0, 30.0))
    robot = a_robot(
        name="A" * 80, body=Body(170.0, 140.0, 60.0), weight=None, casters=(), sensors=(), attachments=(long, odd)
    )
    figure = draw_base(robot, base(robot, ("A" * 80, NASTY[4])))
    figure.canvas.draw()
    assert figure.findobj(lambda artist: artist.get_gid() in ("centre-of-mass", "stands-on", "caster-1")) == []
    assert any("not known" in text.get_text() for text in figure.texts)
    title = figure.texts[0]
    assert title.get_window_extent().x1 <= figure.bbox.x1
    for n in ("one", "two"):
        save(draw_base(robot, base(robot)), tmp_path / f"{n}.svg")
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()
