"""Steering by a gyro: what adds up, what cancels, what grows with the clock, and what a square sets right.

The heading is steered to h0 + (A - drift T)/(1 + scale) + error: h0 where the gyro was last set anew, A the turning
asked for since, T the seconds since. So to first order its variance is that of the start, plus (A scale)^2, plus
(drift T)^2, plus that of one stop after a turn, or of what is held on a straight.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi, radians, sqrt
from pathlib import Path

import numpy as np
import pytest
from plans import STILL, TYPICAL, open_floor, robot, run

from fieldsim.files import load_run
from fieldsim.model import (
    Accuracy,
    Act,
    Arc,
    GyroNoise,
    Line,
    LineSquare,
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
    Wait,
)
from fieldsim.sim.motion import jig_of
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import Trials, simulate

N = 10_000

QUIET = SquareNoise(0.0, 0.0)
STOP = 0.5
"""Degrees at the stop of a turn."""


def assert_near(seen: float, wanted: float, error: float) -> None:
    """Monte Carlo against exact: four standard errors."""
    assert abs(seen - wanted) <= 4 * error, f"{seen} is not within 4 x {error} of {wanted}"


def assert_sd(values: np.ndarray, wanted: float) -> None:
    """The standard deviation of so many normal numbers; exactly none where none is wanted."""
    if wanted == 0.0:
        assert values.std() < 1e-9
    else:
        assert_near(float(values.std()), wanted, wanted / sqrt(2 * len(values)))


def steered(
    *segments: Segment,
    gyro: GyroNoise | None,
    accuracy: Accuracy = Accuracy(turn=TurnNoise(stop=STOP), square=QUIET),  # noqa: B008 (a value that cannot change)
    **rest: object,
) -> Run:
    """A run by gyro, or by wheels if ``gyro`` is None."""
    plan_ = run(*segments, accuracy=replace(accuracy, gyro=gyro or GyroNoise()), **rest)  # type: ignore[arg-type]
    return plan_ if gyro is None else by_gyro(plan_)


def by_gyro(plan_: Run) -> Run:
    drive = replace(plan_.robot.drive, heading_from="gyro")
    return replace(plan_, robot=replace(plan_.robot, drive=drive))


def headings(plan_: Run, seed: int = 1) -> np.ndarray:
    """(N, S + 1) in degrees."""
    found: np.ndarray = simulate(plan_, N, seed).poses[:, :, 2]
    return found


# --- errors of turns -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("turns", [1, 4, 9])
def test_turns_by_wheels_add_up_and_by_gyro_do_not(turns: int) -> None:
    """n independent errors add to sqrt(n) of one (variance of a sum; any statistics text); by gyro the last stays."""
    wheels = headings(steered(*[Turn(90)] * turns, gyro=None))[:, -1]
    gyro = headings(steered(*[Turn(90)] * turns, gyro=GyroNoise()))[:, -1]
    assert_sd(wheels, sqrt(turns) * STOP)
    assert_sd(gyro, STOP)
    assert_near(float(gyro.mean()), 90.0 * turns, STOP / sqrt(N))


def test_a_straight_steers_away_what_a_turn_left_over() -> None:
    """And whatever else the wheels do wrong: slip, veer, and a turn that is 5 % too large."""
    accuracy = replace(TYPICAL, bias=Systematic(0.0, 3.0, 0.05), square=QUIET)
    plan_ = steered(Turn(90), Straight(400), Arc(30, 300), Turn(-200), gyro=GyroNoise(), accuracy=accuracy)
    found = headings(plan_)
    assert_sd(found[:, 1], TYPICAL.turn.stop)
    for column, wanted in ((2, 90.0), (3, 120.0)):
        assert abs(found[:, column] - wanted).max() < 1e-9
    assert_sd(found[:, 4], TYPICAL.turn.stop)
    assert_near(float(found[:, 4].mean()), -80.0, TYPICAL.turn.stop / sqrt(N))


def test_the_stop_of_a_turn_grows_with_its_speed_by_gyro_too() -> None:
    fast = steered(Turn(250, turn_speed=240.0), gyro=GyroNoise())
    assert_sd(headings(fast)[:, -1], 2 * STOP)


@pytest.mark.parametrize("about", ["left wheel", "right wheel"])
def test_a_pivot_turns_about_its_wheel_by_gyro_too(about: str) -> None:
    """However far it turns, that wheel stands: the track is what the turn bias makes of it."""
    bias = Systematic(turn=0.1)
    plan_ = steered(
        Turn(120, about=about),  # type: ignore[arg-type]
        gyro=GyroNoise(scale=0.05),
        accuracy=Accuracy(bias=bias),
    )
    poses = simulate(plan_, 500).poses
    half = 112.0 / 1.1 / 2 * (1 if about == "left wheel" else -1)
    wheel = [
        poses[:, column, 0] + 1j * poses[:, column, 1] + 1j * half * np.exp(1j * np.radians(poses[:, column, 2]))
        for column in (0, 1)
    ]
    assert poses[:, 1, 2].std() > 1.0
    assert abs(wheel[1] - wheel[0]).max() < 1e-9


# --- scale and drift -----------------------------------------------------------------------------------------------

SCALE = 0.004


@pytest.mark.parametrize("turns", [1, 3, 8])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_scale_error_adds_up_turn_after_turn(turns: int, sign: int) -> None:
    """n turns of 90 degrees one way are n 90 scale off: in the same direction for each trial, not by chance."""
    plan_ = steered(*[Turn(90 * sign)] * turns, gyro=GyroNoise(scale=SCALE), accuracy=Accuracy())
    found = headings(plan_)
    assert_sd(found[:, -1], turns * 90.0 * SCALE)
    first = found[:, 1] - 90.0 * sign
    np.testing.assert_allclose(found[:, -1] - 90.0 * sign * turns, turns * first, atol=1e-9)


def test_a_scale_error_is_that_of_the_reading() -> None:
    """A gyro that reads 1 + e for each degree is satisfied after 1/(1 + e) of them."""
    z = (90.0 / headings(steered(Turn(90), gyro=GyroNoise(scale=0.1), accuracy=Accuracy()))[:, -1] - 1) / 0.1
    assert_near(float(z.mean()), 0.0, 1 / sqrt(N))
    assert_sd(z, 1.0)
    # Standard normal: three quarters of a normal distribution's numbers are below 0.6745 (any table).
    assert_near(float((z < 0.6745).mean()), 0.75, sqrt(0.75 * 0.25 / N))


def test_turns_there_and_back_cancel() -> None:
    plan_ = steered(*[Turn(90), Turn(-90)] * 4, gyro=GyroNoise(scale=SCALE), accuracy=Accuracy())
    found = headings(plan_)
    for column in range(9):
        assert_sd(found[:, column], 90.0 * SCALE if column % 2 else 0.0)
    with_stops = headings(steered(*[Turn(90), Turn(-90)] * 4, gyro=GyroNoise(scale=SCALE)))[:, -1]
    assert_sd(with_stops, STOP)


DRIFT = 3.0
"""Degrees per minute."""


def test_drift_grows_with_the_clock() -> None:
    """Driving, turning, waiting and acting all take their time; what drifted at rest shows on the next way."""
    floor = replace(open_floor(), targets=(Target("bell", (2000.0, 2000.0), within=5000.0),))
    segments = (Straight(300), Wait(20.0), Turn(90), Act("bell", takes=30.0), Straight(300), Turn(-90))
    trials = simulate(steered(*segments, gyro=GyroNoise(drift=DRIFT), accuracy=Accuracy(), field=floor), N)
    clock = np.concatenate([[0.0], np.cumsum(trials.plan.seconds)])
    for number, segment in enumerate(segments, start=1):
        # Nothing turns it while it stands.
        at = clock[number - 1] if isinstance(segment, Wait | Act) else clock[number]
        until = clock[1] if number == 2 else clock[3] if number == 4 else at
        assert_sd(trials.poses[:, number, 2], DRIFT / 60 * until)
    assert clock[-1] > 53.0


def test_an_act_that_takes_longer_drifts_longer() -> None:
    """Its own time counts, not the planned one: drift and time are both drawn, so the product of two normal numbers,
    whose variance is (m^2 + s^2) sd^2 (any statistics text), is what the heading shows."""
    floor = replace(open_floor(), targets=(Target("bell", (2000.0, 2000.0), within=5000.0),))
    segments = (Act("bell", takes=40.0, takes_sd=8.0), Straight(100))
    trials = simulate(steered(*segments, gyro=GyroNoise(drift=DRIFT), accuracy=Accuracy(), field=floor), N)
    heading = trials.poses[:, -1, 2]
    drift = -heading / trials.time * 60
    assert_sd(drift, DRIFT)
    mean, spread = trials.plan.seconds[0] + trials.plan.seconds[1], 8.0
    wanted = DRIFT / 60 * hypot(mean, spread)
    # Not quite normal: its fourth moment makes the error of the standard deviation a little larger.
    assert_near(float(heading.std()), wanted, 1.1 * wanted / sqrt(2 * N))
    assert abs(float(np.corrcoef(drift, trials.time)[0, 1])) < 4 / sqrt(N)


def test_drift_and_scale_are_drawn_once_a_trial_and_apart() -> None:
    """Scale shows at a turn at once, drift after a wait: what each trial has of both is its own for the whole run."""
    gyro = GyroNoise(drift=DRIFT, scale=SCALE)
    segments = (Turn(-90), Turn(90), Wait(60.0), Turn(90))
    accuracy = Accuracy()
    found = headings(steered(*segments, gyro=gyro, accuracy=accuracy))
    only_drift = headings(steered(*segments, gyro=replace(gyro, scale=0.0), accuracy=accuracy))
    only_scale = headings(steered(*segments, gyro=replace(gyro, drift=0.0), accuracy=accuracy))
    drifted, scaled = only_drift[:, -1] - 90.0, only_scale[:, -1] - 90.0
    # Their sum, but for the product of two small numbers.
    np.testing.assert_allclose(found[:, -1] - 90.0, drifted + scaled, atol=0.3)
    assert_near(float(np.corrcoef(drifted, scaled)[0, 1]), 0.0, 1 / sqrt(N))
    assert_sd(found[:, -1], hypot(float(drifted.std()), float(scaled.std())))


# --- what is held on a straight ------------------------------------------------------------------------------------

HOLD = 0.6


@pytest.mark.parametrize("length", [400.0, 1500.0, -900.0])
def test_a_held_error_leads_sideways_in_proportion_to_the_way(length: float) -> None:
    """sd = hold x length, for small angles: but for the first 50 mm, in which the robot turns to what it holds and goes
    half as far to the side (common practice, no source)."""
    trials = simulate(steered(Straight(length), gyro=GyroNoise(hold=HOLD), accuracy=Accuracy()), N)
    assert_sd(trials.poses[:, -1, 2], HOLD)
    assert_sd(trials.poses[:, -1, 1], radians(HOLD) * (abs(length) - 25.0))
    assert float(trials.poses[:, -1, 1].std()) == pytest.approx(radians(HOLD) * abs(length), rel=0.1)


def test_each_straight_holds_anew() -> None:
    """Two straights of a held error each: sideways in squares, and the last one's heading alone."""
    trials = simulate(steered(Straight(1000), Straight(1000), gyro=GyroNoise(hold=HOLD), accuracy=Accuracy()), N)
    assert_sd(trials.poses[:, -1, 2], HOLD)
    assert_near(float(np.corrcoef(trials.poses[:, 1, 2], trials.poses[:, 2, 2])[0, 1]), 0.0, 1 / sqrt(N))
    # In the first 50 mm of the second the first one's heading fades: 975 + 25 of the first, 975 of the second.
    assert_sd(trials.poses[:, -1, 1], radians(HOLD) * hypot(1000.0, 975.0))


def test_the_veer_of_the_wheels_is_steered_away() -> None:
    accuracy = Accuracy(bias=Systematic(veer=5.0), straight=StraightNoise(veer=3.0))
    end = simulate(steered(Straight(1500), gyro=GyroNoise(), accuracy=accuracy), 500).poses[:, -1]
    assert abs(end[:, 2]).max() < 1e-9
    assert abs(end[:, 1] - 2000.0).max() < 1e-9


# --- set anew ------------------------------------------------------------------------------------------------------


def test_a_square_sets_the_gyro_anew() -> None:
    """Ten turns and a minute before the wall are forgotten; drift and scale count from there."""
    gyro = GyroNoise(drift=DRIFT, scale=SCALE)
    before = (*[Turn(90)] * 4, Wait(60.0), Turn(90), Square("front", "far wall", 3000.0, capture=40.0))
    after = (Straight(-100), Wait(30.0), Turn(90))
    trials = simulate(steered(*before, *after, gyro=gyro, accuracy=Accuracy(square=QUIET)), N)
    found = trials.poses[:, :, 2]
    at = len(before)
    assert found[:, at - 1].std() > 2.0
    assert (trials.endings == 0).all()
    assert_sd(found[:, at], 0.0)
    seconds = trials.plan.seconds
    assert_sd(found[:, at + 1], DRIFT / 60 * seconds[at])
    assert_sd(found[:, at + 3], hypot(90.0 * SCALE, DRIFT / 60 * sum(seconds[at:])))


def test_a_residual_at_the_wall_stays_as_it_is() -> None:
    """The gyro does not know it: it is what later headings are measured from."""
    accuracy = Accuracy(square=SquareNoise(0.7, 0.0))
    before = Square("front", "far wall", 3000.0)
    found = headings(steered(before, Straight(-300), Turn(90), gyro=GyroNoise(), heading=85.0, accuracy=accuracy))
    assert_sd(found[:, 1], 0.7)
    for column, turned in ((2, 0.0), (3, 90.0)):
        np.testing.assert_allclose(found[:, column], found[:, 1] + turned, atol=1e-9)


def test_a_line_square_sets_it_anew_and_a_start_sets_it_first() -> None:
    """Where it stood on the line is what the next straight keeps; a start set askew stays askew until then."""
    stripe = Line("kerb", (2700.0, 1000.0), (2700.0, 3000.0))
    floor = replace(open_floor(), lines=(stripe,))
    eyes = (Sensor("left eye", (95.0, 30.0)), Sensor("right eye", (95.0, -30.0)))
    made = Accuracy(edge=0.0, sample=1e-9, gyro=GyroNoise())
    body = replace(robot(made), sensors=eyes)
    start = StartByEye((2000.0, 2000.0), 0.0, Spread(0.0, 0.0, 3.0))
    segments = (
        Straight(100),
        LineSquare("kerb", ("left eye", "right eye"), 800.0, passes=3.0),
        Straight(200),
        Turn(90),
    )
    plan_ = by_gyro(Run("Stripes", floor, body, start, segments))
    found = simulate(plan_, 2000).poses[:, :, 2]
    np.testing.assert_allclose(found[:, 1], found[:, 0], atol=1e-9)
    assert found[:, 2].std() < 0.1 * found[:, 1].std()
    np.testing.assert_allclose(found[:, 3], found[:, 2], atol=1e-9)
    np.testing.assert_allclose(found[:, 4], found[:, 2] + 90.0, atol=1e-9)


def test_an_until_leaves_the_gyro_as_it_is() -> None:
    """It says where the robot is, not where it faces: drift counts on from the start."""
    floor = replace(open_floor(), lines=(Line("kerb", (2700.0, 1000.0), (2700.0, 3000.0)),))
    made = Accuracy(edge=0.0, sample=1e-9, gyro=GyroNoise(drift=DRIFT))
    body = replace(robot(made), sensors=(Sensor("eye", (95.0, 0.0)),))
    segments = (Wait(30.0), Until("kerb", "eye", 870.0), Straight(100))
    plan_ = by_gyro(Run("Stripes", floor, body, StartByEye((2000.0, 2000.0), 0.0, STILL), segments))
    trials = simulate(plan_, N)
    assert (trials.endings == 0).all()
    assert_sd(trials.poses[:, -1, 2], DRIFT / 60 * sum(trials.plan.seconds))


# --- the demo run --------------------------------------------------------------------------------------------------

OVEN = Path(__file__).parents[2] / "runs" / "bakery" / "oven-lever.yaml"


def without_scale_errors(plan_: Run) -> Run:
    plain = replace(plan_.robot.accuracy, bias=Systematic(), day=Systematic())
    return replace(plan_, robot=replace(plan_.robot, accuracy=plain))


def start_sd(plan_: Run) -> float:
    assert isinstance(plan_.start, str)
    return jig_of(plan_.field, plan_.start).spread.heading


def stop_sd(plan_: Run, segment: Turn) -> float:
    """Degrees at the stop of a turn, at its own speed."""
    drive, accuracy = plan_.robot.drive, plan_.robot.accuracy
    return (
        accuracy.turn.stop * (segment.turn_speed or drive.turn_speed) / (accuracy.turn_measured_at or drive.turn_speed)
    )


def test_the_demo_run_by_wheels_spreads_as_its_turns_and_straights_add_up() -> None:
    """Root of the sum of squares: the jig, each turn's stop and slip, and the walk on each straight."""
    plan_ = without_scale_errors(load_run(OVEN))
    accuracy = plan_.robot.accuracy
    found = headings(plan_)
    variance = start_sd(plan_) ** 2
    asked = float(np.median(found[:, 0]))
    for number, segment in enumerate(plan_.segments, start=1):
        if isinstance(segment, Turn):
            variance += stop_sd(plan_, segment) ** 2 + accuracy.turn.slip**2 * abs(segment.angle) / 90.0
            asked += segment.angle
        elif isinstance(segment, Straight):
            variance += accuracy.straight.veer**2 * abs(segment.distance) / 1000.0
        assert_sd(found[:, number], sqrt(variance))
    assert_near(float(found[:, -1].mean()), plan(plan_).path[-1, 4] * 180 / pi, sqrt(variance / N))


@pytest.mark.parametrize("gyro", [GyroNoise(), GyroNoise(hold=0.3), GyroNoise(drift=2.0, scale=0.01, hold=0.3)])
def test_the_demo_run_by_gyro_does_not_add_its_turns_up(gyro: GyroNoise) -> None:
    """At each segment's end: the jig, (A scale)^2, (drift T)^2, and one stop or one held error."""
    loaded = load_run(OVEN)
    plan_ = by_gyro(replace(loaded, robot=replace(loaded.robot, accuracy=replace(loaded.robot.accuracy, gyro=gyro))))
    trials: Trials = simulate(plan_, N)
    asked = clock = 0.0
    wanted = start_sd(plan_)
    for number, segment in enumerate(plan_.segments, start=1):
        clock += trials.plan.seconds[number - 1]
        if not isinstance(segment, Act):
            asked += segment.angle if isinstance(segment, Turn) else 0.0
            last = stop_sd(plan_, segment) if isinstance(segment, Turn) else gyro.hold
            squares = start_sd(plan_) ** 2 + (asked * gyro.scale) ** 2 + (gyro.drift / 60 * clock) ** 2 + last**2
            wanted = sqrt(squares)
        assert_sd(trials.poses[:, number, 2], wanted)


def test_the_demo_run_fans_out_less_by_gyro() -> None:
    """The point of it all: with a usual gyro the far end of the run is hit more narrowly than with wheels alone."""
    loaded = load_run(OVEN)
    gyro = GyroNoise(drift=0.5, scale=0.002, hold=0.3)
    better = by_gyro(replace(loaded, robot=replace(loaded.robot, accuracy=replace(loaded.robot.accuracy, gyro=gyro))))
    wheels, by = (simulate(plan_, N).poses[:, -1] for plan_ in (loaded, better))
    assert by[:, 2].std() < 0.7 * wheels[:, 2].std()


def test_a_gyro_changes_no_run_by_wheels() -> None:
    """Its noise in the file is of no account until the robot steers by it."""
    plan_ = run(Turn(90), Straight(500), accuracy=TYPICAL, spread=STILL)
    noisy = replace(TYPICAL, gyro=GyroNoise(60.0, 0.1, 5.0))
    a, b = simulate(plan_, 200), simulate(replace(plan_, robot=robot(noisy)), 200)
    np.testing.assert_array_equal(a.poses, b.poses)
