"""The trials against closed forms, against a slow twin without any culling, and against themselves."""

from __future__ import annotations

from dataclasses import fields, replace
from math import erf, exp, inf, radians, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plans import PERFECT, TYPICAL, cluttered, open_floor, run

from fieldsim.model import (
    Accuracy,
    Act,
    Body,
    Box,
    Drive,
    GyroNoise,
    Jig,
    Obstacle,
    Outline,
    Robot,
    Round,
    Run,
    Spread,
    Square,
    StartArea,
    StartByEye,
    Straight,
    StraightNoise,
    Systematic,
    Target,
    Turn,
    TurnNoise,
    Wait,
)
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.feasible import impossible
from fieldsim.sim.kernel.shapes import shapes
from fieldsim.sim.kernel.sweep import TOUCH, push_out, swept
from fieldsim.sim.kernel.trial import Scratch, run_trials
from fieldsim.sim.plan import bare, overlaps, plan
from fieldsim.sim.trials import blocks, joined, nominal, simulate, trial

N = 40_000


def assert_near(seen: float, wanted: float, error: float) -> None:
    """Monte Carlo against exact: four standard errors."""
    assert abs(seen - wanted) <= 4 * error, f"{seen} is not within 4 x {error} of {wanted}"


# --- closed forms --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("length", [50.0, 180.0, 400.0, 2000.0])
def test_heading_walk_spreads_as_k_sqrt_l3_over_3(length: float) -> None:
    """Var heading = k^2 L, var across = k^2 L^3/3, covariance k^2 L^2/2, first order in k.

    Source: Chong & Kleeman, Accurate odometry and error modelling for a mobile robot, ICRA 1997 (formulas second-hand).
    The piece pairs make it exact for short straights too, whatever their number of pieces.
    """
    k = radians(0.4)
    trials = simulate(run(Straight(length), accuracy=Accuracy(straight=StraightNoise(veer=0.4))), N)
    heading = np.radians(trials.poses[:, -1, 2])
    across = trials.poses[:, -1, 1] - 2000.0
    metres = length / 1000
    assert_near(float(heading.std()), k * sqrt(metres), k * sqrt(metres / (2 * N)))
    wanted = k * sqrt(metres**3 / 3) * 1000
    assert_near(float(across.std()), wanted, wanted / sqrt(2 * N))
    assert_near(float(np.corrcoef(heading, across)[0, 1]), sqrt(3) / 2, 0.25 / sqrt(N))


@pytest.mark.parametrize("turns", [1, 4, 9])
def test_heading_spread_of_n_turns_grows_with_their_root(turns: int) -> None:
    """Independent errors add in squares: sqrt(n) times one turn's (variance of a sum; any statistics text)."""
    accuracy = Accuracy(turn=TurnNoise(stop=0.5, slip=0.6))
    trials = simulate(run(*[Turn(90)] * turns, accuracy=accuracy), N)
    wanted = sqrt(turns) * sqrt(0.5**2 + 0.6**2)
    assert_near(float(trials.poses[:, -1, 2].std()), wanted, wanted / sqrt(2 * N))


def test_straight_in_a_corridor_touches_as_often_as_theory_says() -> None:
    """A body w x l in a corridor g, sideways sd 10 mm, heading sd 2 degrees: clear if
    abs(y) + (w/2) cos h + max(front, rear) abs(sin h) <= g/2 everywhere, by quadrature.

    The heading error is of the start, so the sideways offset grows along the straight; the corridor is short enough to
    hold it in one condition: the front corner at the end (drawn outward) or the rear corner at the start.
    """
    length, width, axle, gap, drive = 170.0, 140.0, 60.0, 200.0, 100.0
    walls = [
        Obstacle("left rail", Box((500.0, 500 + gap / 2 + 10), (4000.0, 20.0))),
        Obstacle("right rail", Box((500.0, 500 - gap / 2 - 10), (4000.0, 20.0))),
    ]
    floor = open_floor((4000.0, 1000.0), *walls)
    spread = Spread(0.0, 10.0, 2.0)
    trials = simulate(run(Straight(drive), at=(1500.0, 500.0), spread=spread, field=floor), N)
    h = radians(2.0) * np.linspace(-8, 8, 4001)
    weight = np.exp(-((h / radians(2.0)) ** 2) / 2)
    weight /= weight.sum()
    # Extremes of the sideways place of all corners over the drive, the axle starting at y = 0.
    corners = np.array([(x, s * width / 2) for x in (-axle, length - axle) for s in (1, -1)])
    side = np.sin(h)[:, None] * corners[:, 0] + np.cos(h)[:, None] * corners[:, 1]
    moved = side + drive * np.sin(h)[:, None]
    top = np.maximum(side.max(axis=1), moved.max(axis=1))
    low = np.minimum(side.min(axis=1), moved.min(axis=1))
    phi = np.vectorize(lambda v: (1 + erf(v / sqrt(2))) / 2)
    # The placing across turns with the planned heading, so it is the field's y.
    clear = np.maximum(0, phi((gap / 2 - top) / 10) - phi((-gap / 2 - low) / 10))
    wanted = float((weight * clear).sum())
    assert_near(float(trials.clear.mean()), wanted, sqrt(wanted * (1 - wanted) / N))


def test_hits_of_a_round_target_under_equal_spreads() -> None:
    """1 - exp(-R^2/(2 s^2)): the Rayleigh distribution (NIST/SEMATECH e-Handbook, from memory)."""
    target = Target("bell", (2110.0, 2000.0), within=8.0)
    floor = replace(open_floor(), targets=(target,))
    plan_ = run(Act("bell"), spread=Spread(8.0, 8.0, 0.0), field=floor)
    trials = simulate(plan_, N)
    wanted = 1 - exp(-0.5)
    assert_near(float(trials.hit.mean()), wanted, sqrt(wanted * (1 - wanted) / N))
    assert_near(float((trials.miss <= 2.4477468307 * 8).mean()), 0.95, sqrt(0.95 * 0.05 / N))


def test_two_legs_with_a_noisy_corner() -> None:
    """Exact moments for 600 mm, 90 degrees, 400 mm, start heading sd 1 degree, turn sd 2 degrees.

    Sources: E cos = exp(-s^2/2) for a normal angle (characteristic function, any probability text); figures recomputed
    by quadrature: E x = 599.9086217, E y = 399.6954985, sd x = 15.5993539, sd y = 10.4792258.
    """
    accuracy = Accuracy(turn=TurnNoise(stop=2.0))
    trials = simulate(run(Straight(600), Turn(90), Straight(400), accuracy=accuracy, spread=Spread(0.0, 0.0, 1.0)), N)
    x, y = (trials.poses[:, -1, :2] - 2000.0).T
    assert_near(float(x.mean()), 599.9086217, 15.6 / sqrt(N))
    assert_near(float(y.mean()), 399.6954985, 10.5 / sqrt(N))
    assert_near(float(x.std()), 15.5993539, 15.6 / sqrt(2 * N))
    assert_near(float(y.std()), 10.4792258, 10.5 / sqrt(2 * N))


def test_scales_are_the_tests_a_team_can_do() -> None:
    """distance: a straight is longer by that share; veer: degrees per metre; turn: a spin is larger by that share."""
    accuracy = Accuracy(bias=Systematic(distance=0.01, veer=2.0, turn=0.03))
    straight = simulate(run(Straight(1000), accuracy=accuracy), 1).poses[0, -1]
    turn = simulate(run(Turn(720), accuracy=accuracy), 1).poses[0, -1]
    bend = radians(2.0)
    assert straight[2] == pytest.approx(2.0, abs=1e-9)
    assert straight[0] - 2000 == pytest.approx(1010 * np.sin(bend) / bend, abs=1e-6)
    assert straight[1] - 2000 == pytest.approx(1010 * (1 - np.cos(bend)) / bend, abs=1e-6)
    assert turn[2] == pytest.approx(720 * 1.03, abs=1e-9)


def test_bidirectional_square_path_end_points() -> None:
    """Return errors of a 4 m square driven both ways with E_b = 1.001, E_d = 1.0002 (mean diameter kept), b = 340 mm.

    Source: Borenstein & Feng, Measurement and correction of systematic odometry errors in mobile robots, IEEE Trans.
    Robotics and Automation 12(6), 1996 (the method; end points recomputed independently, noise-free):
    cw (-31.1952791, -31.6388194) mm, ccw (6.2612802, -6.2319072) mm.
    """
    track, scale_b, ratio = 340.0, 1.001, 1.0002
    left, right = 2 / (1 + ratio), 2 * ratio / (1 + ratio)
    bias = Systematic(0.0, float(np.degrees((right - left) / (scale_b * track)) * 1000), 1 / scale_b - 1)
    for sign, wanted in ((1, (6.2612802, -6.2319072)), (-1, (-31.1952791, -31.6388194))):
        legs = [Straight(4000), Turn(90 * sign)] * 4
        plan_ = run(*legs, accuracy=Accuracy(bias=bias), at=(0.0, 0.0), field=open_floor((9000.0, 9000.0)))
        wide = replace(plan_.robot, drive=replace(plan_.robot.drive, track=track))
        end = simulate(replace(plan_, robot=wide), 1).poses[0, -1]
        assert end[:2] == pytest.approx(wanted, abs=2e-5)


# --- the slow twin -------------------------------------------------------------------------------------------------


def slowly(plan_: Run, seed: int, number: int) -> tuple[np.ndarray, np.ndarray, tuple[int, int]]:
    """One trial with every entry measured in full: no culling, no certificates, no horizon.

    Smallest gap for each obstacle and for each segment, and (first touched piece, number of pieces).
    """
    from fieldsim.sim.kernel.drive import drive

    ready = plan(plan_, inf)
    z = np.zeros((ready.drivetrain.rows, BLOCK))
    Draws(seed).block(number // BLOCK, ready.drivetrain.streams, z)
    course = ready.course
    pieces = len(course.wheels.left)
    path = drive(course.wheels, course.alignments, z, number % BLOCK).path
    obstacle = np.full(len(ready.solids), inf)
    ribbon = np.full(len(plan_.segments), inf)
    first = pieces
    owner = [o for o, thing in enumerate(ready.solids) for _ in thing.cores]
    for p in range(pieces):
        g = int(np.searchsorted(course.wheels.piece, p, side="right")) - 1
        for c, o in enumerate(owner):
            for a in range(len(ready.parts)):
                d = swept(course.parts.outline(a), course.cores.outline(c), tuple(path[p, :4]), *path[p, 5:7])[0]
                gap = d - course.cores.radius[c]
                if gap <= TOUCH:
                    gap, first = 0.0, min(first, p)
                obstacle[o] = min(obstacle[o], gap)
                ribbon[g] = min(ribbon[g], gap)
    return obstacle, ribbon, (first, pieces)


WILD = Accuracy(
    bias=Systematic(0.05, 20.0, 0.2),
    day=Systematic(0.2, 60.0, 0.5),
    straight=StraightNoise(100.0, 200.0, 60.0),
    turn=TurnNoise(90.0, 120.0),
)


@pytest.mark.parametrize("accuracy", [PERFECT, TYPICAL, WILD], ids=["perfect", "typical", "wild"])
@pytest.mark.parametrize("seed", [1, *(pytest.param(n, marks=pytest.mark.slow) for n in (2, 3))])
def test_culling_changes_no_answer(seed: int, accuracy: Accuracy) -> None:
    """The bound is a bound for any noise: absurd draws give the same clearances as measuring everything in full."""
    plan_ = cluttered(seed, accuracy=accuracy)
    fast = simulate(plan_, 40, seed)
    horizon = fast.plan.course.horizon
    for number in range(0, 40, 8):
        obstacle, ribbon, (first, pieces) = slowly(plan_, seed, number)
        dense = np.full(len(fast.plan.solids), horizon)
        dense[fast.obstacles] = fast.clearance[number]
        np.testing.assert_allclose(dense, np.minimum(obstacle, horizon), atol=1e-6)
        np.testing.assert_allclose(fast.ribbon[number], np.minimum(ribbon, horizon), atol=1e-6)
        assert (fast.contact_obstacle[number] >= 0) == (first < pieces)
        if first < pieces:
            g = int(np.searchsorted(fast.plan.course.wheels.piece, first, side="right"))
            assert fast.contact_segment[number] == g


def test_a_path_that_bulges_between_its_ends_is_not_culled() -> None:
    """A robot of 20 mm whose straight bends so much that it leaves its place between a piece's ends, which lie where
    they should, by more than its own reach times the turn: what touches is the same as with nothing culled."""
    body, drive = Body(length=20.0, width=20.0, axle=10.0, height=(8.0, 110.0)), Drive(track=18.0, wheel=12.0)
    tiny = Robot("Tiny", body, drive, Accuracy(straight=StraightNoise(veer=200.0)))
    post = Obstacle("post", Round((2050.0, 2019.5), 3.0))
    start = StartByEye((2000.0, 2000.0), 0.0, Spread(0.0, 0.0, 20.0))
    ready = plan(Run("Bulge", open_floor((4000.0, 4000.0), post), tiny, start, (Straight(200.0),)))
    course = ready.course._replace(horizon=1e-4)
    entries = course.entries._replace(gap=np.zeros_like(course.entries.gap))
    none = np.full(len(ready.solids), -1, dtype=np.int64)
    touched = 0
    for block in range(8):
        z = np.zeros((ready.drivetrain.rows, BLOCK))
        Draws(1).block(block, ready.drivetrain.streams, z)
        culled, full = Scratch(course, 0, BLOCK), Scratch(course, 0, BLOCK)
        run_trials(course, z, 0, BLOCK, none, np.zeros_like(none), culled)
        run_trials(course._replace(entries=entries), z, 0, BLOCK, none, np.zeros_like(none), full)
        np.testing.assert_array_equal(culled.contact, full.contact)
        touched += int((full.contact[:, 0] >= 0).sum())
    assert 1000 < touched < 7000


def test_contact_is_where_they_touch() -> None:
    """A box ahead: the contact is on its face, at the travel that brings the front there, and takes that long."""
    crate = Obstacle("crate", Box((2300.0, 2000.0), (60.0, 400.0)))
    trials = simulate(run(Wait(1.0), Straight(600), field=open_floor((4000.0, 4000.0), crate)), 1)
    travelled = 2270.0 - 2110.0
    assert trials.contact_segment[0] == 2
    assert trials.contact_fraction[0] == pytest.approx(travelled / 600, abs=1e-6)
    assert trials.contact_at[0, 0] == pytest.approx(2270.0, abs=1e-4)
    # 200 mm/s at 600 mm/s^2: up to speed after 1/3 s and 33.3 mm.
    assert trials.time[0] == pytest.approx(1.0 + 1 / 3 + (travelled - 100 / 3) / 200, abs=1e-6)
    assert not trials.success[0]


# --- resting contact -----------------------------------------------------------------------------------------------


def jigged(*segments: Straight | Turn, spread: Spread) -> Run:
    """Rear and left side against the walls in the lower left corner, heading up the left wall."""
    corner = Jig("corner", (0.0, 0.0), 90.0, "rear left", spread)
    return replace(run(*segments, field=replace(open_floor(), jigs=(corner,))), start="corner")


def test_driving_away_from_a_wall_is_free() -> None:
    plan_ = jigged(Straight(300), spread=Spread(0.5, 0.5, 0.1))
    inward = replace(plan_.field.jigs[0], corner=(300.0, 0.0))
    trials = simulate(replace(plan_, field=replace(plan_.field, jigs=(inward,))), 2000)
    assert trials.clear.all()


def test_turning_with_a_side_flat_on_a_wall_is_not() -> None:
    trials = simulate(jigged(Turn(90), spread=Spread(0.5, 0.5, 0.1)), 500)
    assert trials.clear.sum() == 0
    assert set(trials.contact_segment) == {1}


def test_a_wall_left_is_a_wall_again() -> None:
    """Out by 100 mm and back by 130: the wall was forgiven at the start, not for ever."""
    trials = simulate(jigged(Straight(100), Straight(-130), spread=Spread(0.0, 0.0, 0.0)), 1)
    assert trials.contact_segment[0] == 2
    assert trials.plan.solids[trials.contact_obstacle[0]].name == "near wall"
    assert trials.contact_fraction[0] == pytest.approx(100 / 130, abs=1e-6)


def test_meant_contact_and_backing_off() -> None:
    """A segment may push on what it names; backing off afterwards is free; driving on into it is not."""
    crate = Obstacle("crate", Box((2300.0, 2000.0), (60.0, 400.0)))
    floor = open_floor((4000.0, 4000.0), crate)
    push = Straight(170, may_touch=("crate",))
    assert simulate(run(push, Straight(-200), field=floor), 1).success[0]
    on = simulate(run(push, Straight(-200), Straight(400), field=floor), 1)
    assert on.contact_segment[0] == 3
    assert simulate(run(Straight(170), field=floor), 1).contact_segment[0] == 1


def test_starting_inside_something_is_a_contact_at_once() -> None:
    crate = Obstacle("crate", Box((2000.0, 2000.0), (60.0, 60.0)))
    trials = simulate(run(Straight(500), field=open_floor((4000.0, 4000.0), crate)), 1)
    assert trials.contact_segment[0] == 1
    assert trials.contact_fraction[0] == 0.0


# The body stands from 1940 to 2110 and from 1930 to 2070 at the start of ``run``.


def beside(gap: float, *segments: Straight | Turn, **rest: object) -> Run:
    """A long bar at the robot's left side."""
    bar = Obstacle("bar", Box((2500.0, 2070.0 + gap + 50.0), (2000.0, 100.0)))
    return run(*segments, field=open_floor((4000.0, 4000.0), bar), **rest)


def behind(gap: float, *segments: Straight | Turn, **rest: object) -> Run:
    """A block behind the robot."""
    block = Obstacle("block", Box((1940.0 - gap - 50.0, 2000.0), (100.0, 400.0)))
    return run(*segments, field=open_floor((4000.0, 4000.0), block), **rest)


@pytest.mark.parametrize(
    ("ways", "clear"),
    [
        ((-1.9,), True),
        ((-2.1,), False),
        ((1.9, -3.8), True),
        ((1.9, -4.0), False),
        ((2.1, -2.05), True),
        ((2.1, -2.2), False),
    ],
)
def test_what_a_robot_stands_against_is_let_off_two_millimetres_until_it_has_been_two_clear(
    ways: tuple[float, ...], clear: bool
) -> None:
    assert simulate(behind(0.0, *map(Straight, ways)), 1).clear[0] == clear


@pytest.mark.parametrize("deep", [0.02, 0.9, 1.99, 30.0])
def test_a_plan_that_stands_in_something_touches_it_in_every_trial(deep: float) -> None:
    """Also where the drawn start stands clear of it: with a spread of 1 mm every other one does, if it is shallow."""
    plan_ = behind(-deep, Straight(300), spread=Spread(1.0, 1.0, 0.0))
    trials = simulate(plan_, 500)
    assert trials.share.share == 0.0
    assert set(trials.contact_segment) == {1}
    assert set(trials.contact_fraction) == {0.0}
    assert {trials.plan.solids[o].name for o in trials.contact_obstacle} == {"block"}
    ((name, told),) = overlaps(trials.plan)
    assert (name, told) == ("block", pytest.approx(deep, abs=1e-9))
    (complaint,) = impossible(plan_)
    assert complaint.path == ("start",)
    assert f"{round(max(deep, 0.1), 1):g} mm into block" in complaint.message


@pytest.mark.parametrize("deep", [0.005, 0.0, -0.04])
def test_a_plan_that_only_stands_against_something_is_no_mistake(deep: float) -> None:
    plan_ = behind(-deep, Straight(300), spread=Spread(1.0, 1.0, 0.0))
    assert simulate(plan_, 500).share.share == 1.0
    assert list(impossible(plan_)) == []


def test_a_body_wider_than_its_slot_gets_nowhere() -> None:
    """140 mm in 138 mm, with both bars named; a tenth of a millimetre of room is room."""
    bars = (Obstacle("left bar", Box((2000.0, 2119.0), (600.0, 100.0))),
            Obstacle("right bar", Box((2000.0, 1881.0), (600.0, 100.0))))  # fmt: skip
    slot = run(Straight(700), field=open_floor((4000.0, 4000.0), *bars), spread=Spread(0.5, 0.5, 0.2))
    assert simulate(slot, 300).share.share == 0.0
    assert sorted(overlaps(plan(slot))) == [("left bar", pytest.approx(1.0)), ("right bar", pytest.approx(1.0))]
    narrow = replace(slot.robot, body=replace(slot.robot.body, width=137.9))
    assert simulate(replace(slot, robot=narrow, start=replace(slot.start, spread=Spread(0, 0, 0))), 1).success[0]


def test_a_start_drawn_into_what_it_does_not_stand_against_touches_it() -> None:
    """0.5 mm planned behind it, 0.5 mm of spread along, straight ahead: it touches if 0.5 + 0.5 z <= 0, at once."""
    ahead = simulate(behind(0.5, Straight(300), spread=Spread(0.5, 0.0, 0.0)), 4000)
    z = (ahead.poses[:, 0, 0] - 2000.0) / 0.5
    np.testing.assert_array_equal(ahead.clear, z > -1.0)
    assert set(ahead.contact_fraction[~ahead.clear]) == {0.0}
    block = next(i for i, o in enumerate(ahead.obstacles) if ahead.plan.solids[o].name == "block")
    assert ahead.clearance[:, block] == pytest.approx(np.maximum(0.5 + 0.5 * z, 0.0), abs=2e-5)


def test_beside_a_wall_a_hair_makes_a_hair_of_difference() -> None:
    """700 mm beside a bar that is planned 1.99, 2.00 or 2.01 mm away, on the same draws; and more room never harms."""
    shares = [
        simulate(beside(gap, Straight(700), accuracy=TYPICAL, spread=Spread(0.5, 0.5, 0.2)), 3000).share.share
        for gap in (0.3, 1.0, 1.9, 1.99, 2.01, 2.1, 3.0)
    ]
    assert shares == sorted(shares)
    assert shares[4] - shares[3] < 0.01
    assert shares[6] - shares[0] > 0.1


def test_a_robot_between_two_things_without_room_is_pushed_against_neither() -> None:
    """A corridor as wide as the body, or a hair wider: what guides on one side may not be what touches on the other."""

    def corridor(room: float) -> Run:
        right = Obstacle("right bar", Box((2500.0, 1930.0 - 50.0 - room / 2), (2000.0, 100.0)))
        one = beside(room / 2, Straight(700), accuracy=TYPICAL, spread=Spread(0.5, 0.5, 0.2))
        return replace(one, field=replace(one.field, obstacles=(*one.field.obstacles, right)))

    shares = [simulate(corridor(room), 2000).share.share for room in (0.0, 0.2, 2.0, 3.9, 4.1, 10.0)]
    assert shares == sorted(shares)
    assert shares[0] < 0.1 < shares[-1]


@settings(max_examples=60)
@given(
    at=st.tuples(st.floats(-200, 200), st.floats(-200, 200)), heading=st.floats(-180, 180), radius=st.floats(0.5, 120)
)
def test_the_way_out_of_a_round_thing(at: tuple[float, float], heading: float, radius: float) -> None:
    """Where its middle is outside the body the depth is the radius less the distance (shapely), and going that far in
    the direction that is told leaves them just touching."""
    body = np.array([(-60.0, -70.0), (110.0, -70.0), (110.0, 70.0), (-60.0, 70.0)])
    h = radians(heading)
    pose = (at[0], at[1], np.cos(h), np.sin(h))
    A, O = shapes([body]).corner, shapes([[(0.0, 0.0)]]).corner

    def distance(x: float, y: float) -> float:
        turned = body @ np.array([[np.cos(h), np.sin(h)], [-np.sin(h), np.cos(h)]]) + (x, y)
        return float(shapely.distance(shapely.Polygon(turned), shapely.Point(0.0, 0.0)))

    deep, x, y = push_out(A, O, radius, pose)
    apart = distance(*at)
    assume(apart > 1e-6)
    assert deep == pytest.approx(radius - apart, abs=1e-9)
    if deep > 0:
        assert distance(at[0] + deep * x, at[1] + deep * y) == pytest.approx(radius, abs=1e-6)


# --- areas, heights, targets ---------------------------------------------------------------------------------------


def test_heights_that_do_not_meet_do_not_touch() -> None:
    floor = open_floor((4000.0, 4000.0), Obstacle("mat edge", Box((2300.0, 2000.0), (60.0, 400.0)), (0.0, 5.0)))
    assert simulate(run(Straight(600), field=floor), 1).success[0]


def test_an_open_board_ends_at_its_edge() -> None:
    floor = replace(open_floor(), walls=None)
    over = simulate(run(Straight(2000), field=floor), 1)
    assert over.plan.solids[over.contact_obstacle[0]].name == "right edge"


NOTCHED = (
    (2100.0, 1900.0),
    (2600.0, 1900.0),
    (2600.0, 2100.0),
    (2310.0, 2100.0),
    (2300.0, 2050.0),
    (2290.0, 2100.0),
    (2100.0, 2100.0),
)


@pytest.mark.parametrize(
    ("shape", "inside"),
    [
        (Box((2300.0, 2000.0), (400.0, 200.0)), True),
        (Box((2300.0, 2000.0), (400.0, 130.0)), False),
        (Outline(((2100.0, 1900.0), (2600.0, 1900.0), (2600.0, 2100.0), (2100.0, 2100.0))), True),
        # Concave: a notch reaches into the body from above.
        (Outline(NOTCHED), False),
    ],
)
def test_the_finish_is_met_inside_its_area(shape: Box | Outline, inside: bool) -> None:
    floor = replace(open_floor(), start_areas=(StartArea("home", shape),))
    assert simulate(run(Straight(300), field=floor, finish="home"), 1).success[0] == inside


def test_a_target_can_ask_for_a_heading() -> None:
    target = Target("lever", (2110.0, 2000.0), within=8.0, heading=-179.0, heading_within=3.0)
    floor = replace(open_floor(), targets=(target,))
    assert not simulate(run(Act("lever"), field=floor), 1).hit[0, 0]
    turned = replace(target, at=(1890.0, 2000.0))
    floor = replace(floor, targets=(turned,))
    assert simulate(run(Act("lever"), field=floor, heading=179.0), 1).hit[0, 0]


def test_bare_leaves_out_attachments_and_acts() -> None:
    floor = replace(open_floor(), targets=(Target("bell", (0.0, 0.0), within=1.0),))
    plan_ = run(Straight(100), Act("bell"), field=floor)
    assert not simulate(plan_, 1).success[0]
    assert simulate(bare(plan_), 1).success[0]


# --- determinism ---------------------------------------------------------------------------------------------------


def same(a: object, b: object) -> None:
    for f in fields(a):  # type: ignore[arg-type]
        if f.name not in ("plan", "first"):
            np.testing.assert_array_equal(getattr(a, f.name), getattr(b, f.name))


def test_bits_do_not_depend_on_threads_or_number() -> None:
    plan_ = cluttered(4)
    many = simulate(plan_, 3500, 7, threads=1)
    for threads in (2, 5):
        same(many, simulate(plan_, 3500, 7, threads=threads))
    ready = plan(plan_)
    short = joined(list(blocks(ready, 7, 1200)))
    np.testing.assert_array_equal(short.poses, many.poses[:1200])
    alone = trial(ready, 7, 2222)
    np.testing.assert_array_equal(alone.poses[0], many.poses[2222])
    np.testing.assert_array_equal(alone.ribbon[0], many.ribbon[2222])
    assert not np.array_equal(simulate(plan_, 100, 8).poses, many.poses[:100])


@pytest.mark.parametrize("accuracy", [PERFECT, TYPICAL, WILD], ids=["perfect", "typical", "wild"])
@pytest.mark.parametrize("seed", [1, 2])
def test_without_clearances_everything_else_is_the_same_to_the_bit(seed: int, accuracy: Accuracy) -> None:
    ready = plan(cluttered(seed, accuracy=accuracy))
    whole, bare_ones = (
        joined(list(blocks(ready, 5, 1200, first_block=1, clearances=wanted))) for wanted in (True, False)
    )
    for f in fields(whole):
        if f.name in ("plan", "obstacles", "clearance", "tightest", "ribbon"):
            continue
        assert np.array_equal(getattr(whole, f.name), getattr(bare_ones, f.name), equal_nan=f.name != "seed"), f.name
    assert bare_ones.clearance.shape == bare_ones.tightest.shape == bare_ones.ribbon.shape == (1200, 0)
    assert not whole.clear.all() or accuracy is PERFECT


def test_draws_belong_to_the_segment_not_to_the_plan() -> None:
    """Common random numbers: changing one segment leaves the luck of the others as it was."""
    a = simulate(run(Turn(90), Straight(300), Turn(90), accuracy=TYPICAL), 50)
    b = simulate(run(Turn(90), Straight(700), Turn(90), accuracy=TYPICAL), 50)
    turn_a = a.poses[:, 3, 2] - a.poses[:, 2, 2]
    turn_b = b.poses[:, 3, 2] - b.poses[:, 2, 2]
    np.testing.assert_allclose(turn_a, turn_b, atol=1e-9)


def test_the_planned_run_has_neither_noise_nor_bias() -> None:
    plan_ = run(Straight(500), Turn(90), accuracy=TYPICAL, spread=Spread(5.0, 5.0, 5.0))
    end = nominal(plan(plan_)).poses[0, -1]
    assert end == pytest.approx((2500.0, 2000.0, 90.0), abs=1e-9)


def test_wild_noise_brings_in_obstacles_no_plan_would_follow() -> None:
    """An obstacle beyond the horizon of the plan is still touched by a robot gone astray."""
    crate = Obstacle("crate", Box((2000.0, 3000.0), (300.0, 300.0)))
    plan_ = run(Straight(1500), field=open_floor((4000.0, 4000.0), crate), accuracy=Accuracy(day=Systematic(veer=90.0)))
    ready = plan(plan_)
    number = next(n for n, thing in enumerate(ready.solids) if thing.name == "crate")
    assert number not in ready.columns
    trials = simulate(plan_, 2000)
    assert (trials.contact_obstacle == number).any()


# --- edges ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("off", [0.0, 1.0])
def test_a_finish_as_large_as_the_body_is_met_exactly_whichever_way_round_it_is_given(turned: bool, off: float) -> None:
    """After 300 mm the body stands from 2240 to 2410 and from 1930 to 2070: on the edge is inside, a millimetre more
    is not."""
    points = ((2240.0, 1930.0), (2410.0, 1930.0), (2410.0, 2070.0), (2240.0, 2070.0))
    floor = replace(open_floor(), start_areas=(StartArea("home", Outline(points[::-1] if turned else points)),))
    assert simulate(run(Straight(300.0 + off), field=floor, finish="home"), 1).success[0] == (off == 0.0)


def test_a_contact_right_after_an_act_leaves_the_act_done() -> None:
    """The crate is 20 mm ahead, so it is touched on the first piece after the act; before the act it is not done."""
    crate = Obstacle("crate", Box((2160.0, 2000.0), (60.0, 400.0)))
    bell = Target("bell", (2110.0, 2000.0), within=5.0)
    floor = replace(open_floor((4000.0, 4000.0), crate), targets=(bell,))
    after = simulate(run(Act("bell"), Straight(100), field=floor), 1)
    assert after.contact_segment[0] == 2
    assert (after.reached[0, 0], after.hit[0, 0]) == (True, True)
    before = simulate(run(Straight(100), Straight(-100), Act("bell"), field=floor), 1)
    assert before.contact_segment[0] == 1
    assert (before.reached[0, 0], before.hit[0, 0]) == (False, False)


def test_no_act_takes_less_than_no_time() -> None:
    """A mean of 0.2 s with a spread of 1 s: below nought in 42 of 100 draws, and that is nought."""
    floor = replace(open_floor(), targets=(Target("bell", (2110.0, 2000.0), within=5.0),))
    trials = simulate(run(Act("bell", takes=0.2, takes_sd=1.0), field=floor), 4000)
    took = trials.acting[:, 0, 1] - trials.acting[:, 0, 0]
    assert took.min() == 0.0
    assert_near(float((took == 0.0).mean()), 0.5 * (1 + erf(-0.2 / sqrt(2))), sqrt(0.42 * 0.58 / 4000))


def test_the_time_of_a_contact_on_the_way_to_a_wall() -> None:
    """Counted as that share of the way's seconds: within the time to come to speed, 200/600 s, of the true time."""
    crate = Obstacle("crate", Box((3300.0, 2000.0), (60.0, 400.0)))
    floor = open_floor((4000.0, 4000.0), crate)
    trials = simulate(run(Wait(1.0), Square("front", "right wall", 3000.0), Wait(5.0), field=floor), 1)
    assert trials.contact_segment[0] == 2
    # The front stands at 2110, the wall at 4000, the crate's face at 3270.
    assert trials.contact_fraction[0] == pytest.approx(1160.0 / 1890.0, abs=1e-3)
    assert trials.time[0] == pytest.approx(1.0 + 1160.0 / 200.0, abs=0.34)


# --- every drawn number is its own ---------------------------------------------------------------------------------


def assert_independent(*sources: tuple[np.ndarray, float]) -> None:
    """Normal numbers about nought with these standard deviations, each independent of all others: also of the others'
    squares. Four and a half standard errors, for there are many pairs."""
    values = np.array([found / sd for found, sd in sources])
    n = values.shape[1]
    assert np.abs(values.mean(axis=1)).max() < 4.5 / sqrt(n)
    assert np.abs(values.std(axis=1) - 1).max() < 4.5 / sqrt(2 * n)
    everything = np.concatenate([values, (values**2 - 1) / sqrt(2)])
    joint = everything @ everything.T / n
    np.fill_diagonal(joint, 0.0)
    k = len(values)
    # A number and its own square are uncorrelated, but not at a known rate: the third and fifth powers are wide.
    assert np.abs(joint[:k, :k]).max() < 4.5 / sqrt(n)
    assert np.abs(joint[k:, k:]).max() < 6.0 / sqrt(n)


def test_the_placing_and_the_day_are_six_independent_draws() -> None:
    """Told apart by what they do: where it stands, how far a straight goes, how it bends, how far a turn goes."""
    day = Systematic(distance=0.01, veer=2.0, turn=0.03)
    trials = simulate(
        run(Straight(1000), Turn(90), accuracy=Accuracy(day=day), spread=Spread(3.0, 5.0, 0.7), heading=30.0), 4000
    )
    start, after, end = (trials.poses[:, n] for n in range(3))
    c, s = np.cos(radians(30.0)), np.sin(radians(30.0))
    off = start[:, :2] - 2000.0
    bend = np.radians(after[:, 2] - start[:, 2])
    chord = np.hypot(*(after - start)[:, :2].T)
    assert_independent(
        (c * off[:, 0] + s * off[:, 1], 3.0),
        (c * off[:, 1] - s * off[:, 0], 5.0),
        (start[:, 2] - 30.0, 0.7),
        (chord * (bend / 2) / np.sin(bend / 2) / 1000 - 1, 0.01),
        (np.degrees(bend) / (chord * (bend / 2) / np.sin(bend / 2)) * 1000, 2.0),
        ((end - after)[:, 2] / 90 - 1, 0.03),
    )


def test_each_segment_has_draws_of_its_own() -> None:
    """Stops, walks and slips of two straights and two turns; the veer's walk once as heading and once as what the way
    aside has beside it: k^2 L^3/12 about half the heading times the way."""
    noise = Accuracy(straight=StraightNoise(stop=2.0, veer=0.5), turn=TurnNoise(stop=0.4, slip=0.3))
    trials = simulate(run(Straight(400), Turn(90), Straight(400), Turn(-90), accuracy=noise), 4000)
    walk = 0.5 * sqrt(0.4)
    sources: list[tuple[np.ndarray, float]] = []
    for g in (0, 2):
        before, after = trials.poses[:, g], trials.poses[:, g + 1]
        h = np.radians(before[:, 2])
        way = (after - before)[:, :2]
        along = np.cos(h) * way[:, 0] + np.sin(h) * way[:, 1]
        aside = np.cos(h) * way[:, 1] - np.sin(h) * way[:, 0]
        heading = np.radians((after - before)[:, 2])
        sources += [
            (along - 400.0 + 400.0 * heading**2 / 6, 2.0),
            ((after - before)[:, 2], walk),
            (aside - along * heading / 2, radians(walk) * 400.0 / sqrt(12)),
        ]
    for g, sign in ((1, 1), (3, -1)):
        sources.append((sign * (trials.poses[:, g + 1, 2] - trials.poses[:, g, 2]) - 90.0, 0.5))
    assert_independent(*sources)


def test_the_gyros_drift_and_scale_are_two_draws() -> None:
    """Two turns, one right after the start and one after a minute: two equations for the two."""
    noise = Accuracy(gyro=GyroNoise(drift=2.0, scale=0.003))
    plan_ = run(Turn(1000), Wait(60.0), Turn(10), accuracy=noise, spread=Spread(0.0, 0.0, 0.5))
    plan_ = replace(plan_, robot=replace(plan_.robot, drive=replace(plan_.robot.drive, heading_from="gyro")))
    trials = simulate(plan_, 4000)
    seconds = np.cumsum(trials.plan.seconds)
    start = trials.poses[:, 0, 2]
    one, two = trials.poses[:, 1, 2] - start, trials.poses[:, 3, 2] - start
    # one = (1000 - drift T1)/(1 + scale), two = (1010 - drift T2)/(1 + scale): linear in drift and 1/(1 + scale).
    t_one, t_two = seconds[0], seconds[2]
    scale = (1000 * t_two - 1010 * t_one) / (one * t_two - two * t_one) - 1
    drift = (1000 - one * (1 + scale)) / t_one
    assert_independent((start, 0.5), (scale, 0.003), (drift * 60, 2.0))


# --- short ways and small bends ------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [0.9, 0.2, 0.05, -0.9])
def test_a_way_of_less_than_a_millimetre_is_a_way(way: float) -> None:
    """300 mm up to 0.5 mm before a crate, or past one that stands 0.5 mm aside of the rear, and then a bit more."""
    crate = Obstacle("crate", Box((2300.0 + 110.0 + 0.5 + 30.0, 2000.0), (60.0, 400.0)))
    trials = simulate(run(Straight(300), Straight(way), field=open_floor((4000.0, 4000.0), crate)), 1)
    (column,) = np.flatnonzero([trials.plan.solids[o].name == "crate" for o in trials.obstacles])
    wanted = 0.5 - max(way, 0.0)
    assert trials.ribbon[0] == pytest.approx([0.5, max(wanted, 0.0)], abs=1e-9)
    assert trials.contact_segment[0] == (2 if wanted < 0 else 0)
    assert trials.clearance[0, column] == pytest.approx(max(wanted, 0.0), abs=1e-9)


@pytest.mark.parametrize("veer", [1e-6, 0.01, 1.0, 10.0, 20.0, 28.0, 29.0, 60.0])
def test_a_veering_straight_ends_on_its_circle(veer: float) -> None:
    """Bends of a piece from nothing to 6 degrees: the end is that of one circle, to 1e-9 mm."""
    end = simulate(run(Straight(2000), accuracy=Accuracy(bias=Systematic(veer=veer)), at=(1000.0, 100.0)), 1).poses[
        0, -1
    ]
    bend = radians(2 * veer)
    assert end[0] - 1000 == pytest.approx(2000 * np.sin(bend) / bend, abs=1e-9)
    assert end[1] - 100 == pytest.approx(4000 * np.sin(bend / 2) ** 2 / bend, abs=1e-9)


def test_a_start_that_is_set_too_deep_into_two_things_is_set_back_from_one_after_the_other() -> None:
    """Rear flat on a block, front right corner on a slanted one. Deeper than 1.99 mm (the let-off less a hair) it is
    set back to that, square to the face: first from the block, which brings it nearer to the slanted one, then from
    that. What would be drawn is seen on an open floor, for draws do not ask what stands there."""
    block = Obstacle("block", Box((1890.0, 2000.0), (100.0, 400.0)))
    slanted = Obstacle("slanted", Outline(((2010.0, 1830.0), (2210.0, 1830.0), (2210.0, 2030.0))))
    spread = Spread(3.0, 3.0, 0.0)
    free = simulate(run(Wait(1.0), Straight(10), spread=spread), 4000).poses[:, 0]
    floor = open_floor((4000.0, 4000.0), block, slanted)
    held = simulate(run(Wait(1.0), Straight(10), spread=spread, field=floor), 4000).poses[:, 0]
    x, y = free[:, 0] - 2000.0, free[:, 1] - 2000.0
    kept = 2.0 - 0.01
    assert ((-x > kept) & (-x < 2.0)).any()
    x = x + np.maximum(-x - kept, 0.0)
    deep = np.maximum((x - y) / sqrt(2) - kept, 0.0)
    assert 500 < (deep > 0).sum() < 3500
    x, y = x - deep / sqrt(2), y + deep / sqrt(2)
    assert held[:, 0] - 2000.0 == pytest.approx(x, abs=1e-9)
    assert held[:, 1] - 2000.0 == pytest.approx(y, abs=1e-9)


@pytest.mark.parametrize(("more", "clear"), [(0.6, True), (2.0, True), (2.2, False)])
def test_a_robot_rests_against_a_thing_until_it_is_clear_of_all_its_parts(more: float, clear: bool) -> None:
    """In a slot 173 mm long: the rear stands against its back, 3 mm are left in front. After 2.9 mm the rear is clear
    of it, by more than the let-off of 2 mm, but the front is not: it may go 2 mm deep still, and no more."""
    slot = ((1800.0, 1800.0), (2300.0, 1800.0), (2300.0, 2300.0), (2113.0, 2300.0), (2113.0, 1850.0), (1940.0, 1850.0),
            (1940.0, 2300.0), (1800.0, 2300.0))  # fmt: skip
    floor = open_floor((4000.0, 4000.0), Obstacle("slot", Outline(slot)))
    trials = simulate(run(Straight(2.9), Straight(more), field=floor), 1)
    assert trials.contact_segment[0] == (0 if clear else 2)
