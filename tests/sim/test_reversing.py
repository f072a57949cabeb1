"""Backlash and kick of a reversal: closed forms, nought changes nothing, told by tests there and back."""

from __future__ import annotations

import datetime
from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import run
from test_known_errors import NOISE, driven, end

from fieldsim.calibration.fit import fit
from fieldsim.model import Arc, Bias, LineSquare, Segment, Square, Straight, Turn, Wait
from fieldsim.model.measured import Sheet, StraightTest, ThereAndBackTest
from fieldsim.planning.numbers import meant_in
from fieldsim.sim.plan import plan, typical_poses
from fieldsim.sim.reversing import reversals
from fieldsim.sim.trials import simulate
from fieldsim.studies.changes import corrected

TRACK = 100.0


@pytest.mark.parametrize(
    ("segments", "back"),
    [
        ((Straight(300), Straight(-300)), (False, True)),
        ((Straight(-300), Wait(1.0), Straight(300), Straight(20)), (False, False, True, False)),
        # One wheel has turned round already, whichever way it goes on.
        ((Straight(300), Turn(90), Straight(-300)), (False, False, False)),
        ((Straight(300), Arc(30, -200), Arc(-30, 20), Straight(300)), (False, True, False, False)),
        ((Square("rear", "left wall", 90.0), Straight(200)), (False, True)),
        ((LineSquare("kerb", ("a", "b"), 90.0, passes=2.0), Straight(200)), (False, True)),
        ((LineSquare("kerb", ("a", "b"), 90.0, passes=3.0), Straight(200)), (False, False)),
    ],
)
def test_what_reverses(segments: tuple[Segment, ...], back: tuple[bool, ...]) -> None:
    assert tuple(reversals(segments, TRACK)) == back


def test_backlash_takes_its_length_of_the_way_back_and_never_more() -> None:
    assert end(Straight(300), Straight(-300), bias=Bias(backlash=4.0)) == pytest.approx((4.0, 0.0, 0.0), abs=1e-9)
    assert end(Straight(-300), Straight(200), bias=Bias(backlash=4.0))[0] == pytest.approx(-104.0)
    assert end(Straight(300), Straight(-2), bias=Bias(backlash=4.0))[0] == pytest.approx(300.0)
    # Play cannot be less than none, but a measured number may: it goes farther then.
    assert end(Straight(300), Straight(-300), bias=Bias(backlash=-1.0))[0] == pytest.approx(-1.0)
    # The way there is as long as ever, and so is one after a turn.
    assert end(Straight(300), bias=Bias(backlash=4.0, kick=1.0)) == pytest.approx((300.0, 0.0, 0.0), abs=1e-9)
    far = end(Straight(300), Turn(180), Straight(-300), bias=Bias(backlash=4.0, kick=1.0))
    assert far == pytest.approx((600.0, 0.0, 180.0), abs=1e-9)


def test_an_arc_back_loses_turn_with_its_way() -> None:
    h = end(Straight(200), Arc(60, -300), bias=Bias(backlash=4.0))[2]
    assert h == pytest.approx(60 - np.degrees(4.0 / 300.0))


@pytest.mark.parametrize("way", [300.0, -300.0])
def test_a_kick_turns_it_left_on_the_first_piece(way: float) -> None:
    """Four pieces of 75 mm: an arc of 75 mm by the kick, then straight."""
    kick = radians(1.2)
    x, y, h = end(Straight(way), Straight(-way), bias=Bias(kick=1.2))
    side = -np.sign(way)
    radius = 75.0 / kick
    assert h == pytest.approx(1.2)
    assert x == pytest.approx(way + side * (radius * sin(kick) + 225.0 * cos(kick)), abs=1e-6)
    assert y == pytest.approx(side * (radius * (1 - cos(kick)) + 225.0 * sin(kick)), abs=1e-6)


def test_a_gyro_steers_a_kick_away() -> None:
    x, y, h = end(Straight(300), Straight(-300), bias=Bias(kick=2.0), gyro=True)
    assert h == pytest.approx(0.0, abs=1e-9)
    assert 0.5 < abs(y) < 100.0 * sin(radians(2.0))
    assert abs(x) < 0.1


def test_nought_changes_no_bit_and_needs_no_draws() -> None:
    segments = (Straight(400), Straight(-200), Turn(90), Straight(300))
    plain = simulate(driven(*segments, bias=Bias(0.004, 0.3, 0.01), accuracy=NOISE), 200, 3).poses
    nought = Bias(0.004, 0.3, 0.01, backlash=0.0, kick=0.0)
    assert np.array_equal(plain, simulate(driven(*segments, bias=nought, accuracy=NOISE), 200, 3).poses)
    lost = simulate(driven(*segments, bias=Bias(0.004, 0.3, 0.01, backlash=3.0), accuracy=NOISE), 200, 3).poses
    assert np.array_equal(plain[:, 1], lost[:, 1])
    assert np.hypot(*(lost[:, 2, :2] - plain[:, 2, :2]).T) == pytest.approx(3.0, abs=1e-3)


def test_the_plan_as_drawn_knows_none_of_it() -> None:
    segments = (Straight(400), Straight(-200), Arc(60, 200))
    drawn = plan(driven(*segments, bias=Bias(backlash=4.0, kick=1.0))).path
    assert np.array_equal(drawn, plan(driven(*segments, bias=Bias())).path)


@given(backlash=st.floats(0, 6), kick=st.floats(-2, 2), distance=st.floats(-0.02, 0.02))
def test_corrected_numbers_take_it_out(backlash: float, kick: float, distance: float) -> None:
    """Written to 1 mm and 0.1 degrees; the way back itself bends by the kick, which only the turn after it mends."""
    segments = (Straight(400), Straight(-200), Turn(90), Straight(300))
    made = driven(*segments, bias=Bias(distance, backlash=backlash, kick=kick))
    wanted = typical_poses(driven(*segments, bias=Bias()))[-1]
    change = next(iter(corrected(made)), None)
    got = typical_poses(made if change is None else change.run(made))[-1]
    assert abs(got[2] - wanted[2]) < 0.06
    assert np.hypot(*(got - wanted)[:2]) < 2.5 + 200.0 * abs(sin(radians(kick)))


def test_what_is_meant_knows_the_backlash() -> None:
    made = driven(Straight(400), Straight(-200), bias=Bias(0.01, backlash=4.0))
    assert meant_in(made, 0, "distance") == pytest.approx(404.0)
    assert meant_in(made, 1, "distance") == pytest.approx(-198.0)


DAYS = [datetime.date(2026, 3, day) for day in (1, 2, 3)]


def sheet(backlash: float, kick: float, count: int, seed: int) -> Sheet:
    """Straights of two lengths, and there and back, of a robot that has these, read to 1 mm and 0.5 degrees."""
    accuracy = replace(NOISE, bias=Bias(backlash=backlash, kick=kick))
    tests: list[StraightTest | ThereAndBackTest] = []

    def ends(*segments: Segment) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        return simulate(run(*segments, accuracy=accuracy), count, seed).poses[:, -1] - [2000.0, 2000.0, 0.0]

    for n, length in enumerate((300.0, 1000.0)):
        for k, (x, y, _) in enumerate(ends(Straight(length))):
            tests.append(
                StraightTest(
                    line=n * count + k + 2, commanded=length, travel=round(x), sideways=round(y), date=DAYS[k % 3]
                )
            )
    for k, (x, y, h) in enumerate(ends(Straight(300), Straight(-300))):
        tests.append(
            ThereAndBackTest(
                line=2 * count + k + 2, commanded=300.0, return_x=float(round(x)), return_y=float(round(y)),
                heading=round(2 * h) / 2, date=DAYS[k % 3],
            )
        )  # fmt: skip
    return Sheet(tuple(tests))


def test_tests_there_and_back_tell_it() -> None:
    robot = run(Straight(1)).robot
    answer = fit(robot, sheet(4.0, 1.5, 8, 5))
    told = {each.name: each for each in answer.estimates}
    assert told["bias.backlash"].low < 4.0 < told["bias.backlash"].high
    assert told["bias.kick"].low < 1.5 < told["bias.kick"].high
    assert {"backlash", "kick"} <= set(answer.extras)
    # Of a robot without any, it is left out and told as open.
    none = fit(robot, sheet(0.0, 0.0, 8, 5))
    assert {"bias.backlash", "bias.kick"} <= {each.name for each in none.perhaps}


@pytest.mark.slow
def test_its_intervals_hold_it() -> None:
    robot = run(Straight(1)).robot
    held = {"bias.backlash": 0, "bias.kick": 0}
    sheets = 40
    for seed in range(sheets):
        told = {each.name: each for each in fit(robot, sheet(4.0, 1.5, 6, seed)).estimates}
        for name, true in (("bias.backlash", 4.0), ("bias.kick", 1.5)):
            held[name] += name in told and told[name].low <= true <= told[name].high
    # 95 in 100 of 40, less four standard errors of it.
    assert min(held.values()) >= sheets * 0.95 - 4 * (sheets * 0.95 * 0.05) ** 0.5
