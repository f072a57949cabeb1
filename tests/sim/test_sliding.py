"""A square whose corner slides along the wall while the wheels roll: against closed forms and fine integration."""

from __future__ import annotations

from dataclasses import replace
from math import cos, degrees, log, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import run
from test_alignment import EXACT, FRONT, REAR, WIDTH, square_at

from fieldsim.model import Accuracy, Run, Square, SquareNoise
from fieldsim.planning.beliefs import Beliefs, noise_of, squared
from fieldsim.sim.kernel.course import CAUGHT, TOO_SKEW
from fieldsim.sim.plan import plan, typical_poses
from fieldsim.sim.trials import simulate

SLIDING = replace(EXACT, square=SquareNoise(0.0, 0.0, "slides"))
STICKING = replace(EXACT, square=SquareNoise(0.0, 0.0, "sticks"))


def on(made: Run, accuracy: Accuracy) -> Run:
    return replace(made, robot=replace(made.robot, accuracy=accuracy))


def leaning(lean: float, face: str = "front") -> Run:
    """Front towards the far wall, or rear towards the near one, leaning left by ``lean`` degrees."""
    if face == "front":
        return square_at(lean)
    h = radians(90.0 + lean)
    tip = max(-REAR * sin(h) + y * cos(h) for y in (WIDTH / 2, -WIDTH / 2))
    there = (2000.0, tip + 100.0 * sin(h))
    return run(Square("rear", "near wall", 400.0), accuracy=EXACT, at=there, heading=90.0 + lean)


def by_hand(x: float, lean: float, ahead: float, beside: float, steps: int = 20_000) -> float:
    """Where the axle's middle is along the wall once the face is flush, stepped by the midpoint rule: the wheels roll
    ds for a turn of da so that the corner's way to the wall, ds cos a - (ahead sin a + beside cos a) da, is none."""
    da = -lean / steps
    for k in range(steps):
        a = lean + (k + 0.5) * da
        ds = (ahead * sin(a) + beside * cos(a)) / cos(a) * da
        x -= ds * sin(a)  # left of the way towards the far wall is less x
    return x


@pytest.mark.parametrize("face", ["front", "rear"])
@pytest.mark.parametrize("lean", [-19.0, -5.0, -0.3, 0.0, 3.0, 12.0, 19.0])
def test_it_ends_where_fine_steps_do(lean: float, face: str) -> None:
    made = on(leaning(lean, face), SLIDING)
    way = 100.0 if face == "front" else -100.0
    x = 2000.0 + way * cos(radians(90.0 + lean))
    ahead = FRONT if face == "front" else REAR
    # Turned to the left, the right end of the front touches first, and the left end of the rear.
    beside = WIDTH / 2 * (-1 if (lean > 0) == (face == "front") else 1)
    end = typical_poses(made)[-1]
    assert end[2] == pytest.approx(90.0, abs=1e-9)
    assert end[1] == pytest.approx(4000.0 - FRONT if face == "front" else -REAR, abs=1e-6)
    assert end[0] == pytest.approx(by_hand(x, radians(lean), ahead, beside), abs=0.03)


@given(lean=st.floats(-19.5, 19.5))
def test_the_corner_slides_by_the_closed_form(lean: float) -> None:
    """f ln(sec a + tan a), whatever the width; sticking it does not move. Checked at 5 degrees by hand: 9.61 mm."""
    a = radians(abs(lean))
    slid = FRONT * log(1 / cos(a) + tan(a))
    for accuracy, wanted in ((SLIDING, slid), (STICKING, 0.0)):
        made = on(square_at(lean), accuracy)
        x, y, h = 2000.0, 4000.0, radians(90.0 + lean)
        beside = -WIDTH / 2 if lean > 0 else WIDTH / 2
        touched = x + 100.0 * cos(h) + FRONT * cos(h) - beside * sin(h)
        flush = typical_poses(made)[-1][0] - beside
        # The nose of a robot that leans left (towards less x) swings right.
        assert (flush - touched) * (1 if lean > 0 else -1) == pytest.approx(wanted, abs=0.03)
        assert y - FRONT == pytest.approx(typical_poses(made)[-1][1], abs=1e-6)


def test_five_degrees_by_hand() -> None:
    a = 5 * pi / 180
    assert FRONT * log(1 / cos(a) + tan(a)) == pytest.approx(9.61, abs=0.005)


def test_the_two_ends_differ_by_overhang_times_angle() -> None:
    """110 mm at 3 degrees: 5.8 mm."""
    ends = [typical_poses(on(square_at(3.0), accuracy))[-1, 0] for accuracy in (STICKING, SLIDING)]
    assert abs(ends[0] - ends[1]) == pytest.approx(FRONT * radians(3.0), abs=0.02)


def test_nothing_said_is_a_corner_that_sticks_to_the_last_bit() -> None:
    noise = SquareNoise(0.3, 0.5)
    made = [simulate(on(square_at(4.0), replace(EXACT, square=each)), 300, 2).poses
            for each in (noise, replace(noise, corner="sticks"))]  # fmt: skip
    assert np.array_equal(*made)


def test_the_residual_is_the_same_draws() -> None:
    noise = SquareNoise(0.3, 0.5)
    sticks, slides = (
        simulate(on(square_at(4.0), replace(EXACT, square=replace(noise, corner=corner))), 300, 2).poses[:, -1]
        for corner in ("sticks", "slides")
    )
    assert slides[:, 2] == pytest.approx(sticks[:, 2], abs=1e-9)
    assert slides[:, 1] == pytest.approx(sticks[:, 1], abs=1e-6)


def test_where_rolling_on_would_turn_it_away_it_is_not_caught() -> None:
    """f tan a = c: 70 mm of 110 mm are 32.47 degrees."""
    most = degrees(np.arctan(WIDTH / 2 / FRONT))
    for lean, ending in ((most - 0.5, CAUGHT), (most + 0.5, TOO_SKEW), (-most - 0.5, TOO_SKEW)):
        made = square_at(lean, capture=60.0)
        assert simulate(on(made, SLIDING), 1).endings[0, -1] == ending
        assert simulate(on(made, STICKING), 1).endings[0, -1] == CAUGHT


def test_the_corner_stays_on_the_wall_on_the_way() -> None:
    """At each joint of the swing the corner is on the wall."""
    made = plan(on(square_at(15.0), SLIDING))
    rows = made.path[-6:-2]
    corner_y = rows[:, 1] + FRONT * rows[:, 3] + -WIDTH / 2 * rows[:, 2]
    assert corner_y == pytest.approx(np.full(4, 4000.0), abs=1e-6)


def test_a_belief_keeps_the_axle_and_not_the_face() -> None:
    robot = on(square_at(0.0), SLIDING).robot
    before = Beliefs(np.diag([0.0, 4.0, radians(1.0) ** 2])[None], np.zeros((1, 3, 3)))
    facing = np.array([0.0])
    for accuracy, wanted in ((SLIDING, 4.0), (STICKING, 4.0 + (FRONT * radians(1.0)) ** 2)):
        noise = noise_of(replace(robot, accuracy=accuracy))
        after = squared(noise, before, facing, np.array([FRONT]))
        assert after.chance[0, 1, 1] == pytest.approx(wanted)


def test_beliefs_and_trials_agree() -> None:
    """Placed give or take 1.5 degrees, 100 mm from the wall: its spread along it, within four standard errors."""
    made = square_at(0.0)
    start = replace(made.start, spread=replace(made.start.spread, heading=1.5))
    for accuracy, lever in ((SLIDING, 100.0), (STICKING, 100.0 + FRONT)):
        x = simulate(replace(on(made, accuracy), start=start), 2000, 3).poses[:, -1, 0]
        assert x.std() == pytest.approx(lever * radians(1.5), rel=4 / (2 * 2000) ** 0.5)
