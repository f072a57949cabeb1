"""The planned run's time: seconds to places and back, against speed profiles worked out by hand."""

from __future__ import annotations

from functools import cache
from math import pi, radians, sqrt
from pathlib import Path

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import run

from fieldsim.files import load_run
from fieldsim.model import Arc, Segment, Straight, Turn, Wait
from fieldsim.sim.clock import Clock
from fieldsim.sim.motion import profile
from fieldsim.sim.plan import plan

ROOT = Path(__file__).parent.parent.parent
SEASON = ("flour-round", "oven-lever", "yard-bell", "mill-hatch", "practice-loop")


def clock(*segments: Segment) -> Clock:
    return Clock(plan(run(*segments)))


def test_a_straight_by_hand() -> None:
    # 600 mm at 250 mm/s and 600 mm/s^2 (the plain drive): v/a = 0.41667 s and v^2/2a = 52.083 mm for either end.
    made = clock(Straight(600.0, speed=250.0))
    a = 600.0
    assert made.seconds == pytest.approx(600 / 250 + 250 / a)
    # After 0.3 s it still speeds up: a t^2 / 2 = 27 mm, 0.045 of the way.
    assert made.head_at(0.3) == pytest.approx(0.5 * a * 0.3**2 / 600, abs=2e-4)
    # Half the time is half the way, since it slows down as it sped up.
    assert made.head_at(made.seconds / 2) == pytest.approx(0.5, abs=1e-9)
    # At 1 s: 52.083 mm and 0.58333 s at 250 mm/s.
    assert made.head_at(1.0) == pytest.approx((52.083 + 250 * (1 - 250 / a)) / 600, abs=2e-4)
    assert made.time_at(52.083 / 600) == pytest.approx(250 / a, abs=2e-3)


def test_a_short_turn_never_comes_to_speed() -> None:
    # A wheel's way: pi/36 * 56 mm = 4.887; the peak is sqrt(a d) = 54.2 mm/s, below 120 degrees/s = 117.3 mm/s.
    made = clock(Turn(5.0))
    way = radians(5.0) * 56.0
    assert made.seconds == pytest.approx(2 * sqrt(way / 600))
    assert made.time_at(0.5) == pytest.approx(made.seconds / 2)
    assert radians(5.0) == pytest.approx(pi / 36)


@pytest.mark.parametrize("segment", [Straight(560.0), Straight(-30.0, speed=80.0), Turn(-134.0), Arc(-35.0, 300.0)])
def test_between_its_points_it_follows_the_profile(segment: Segment) -> None:
    ready = plan(run(segment))
    made = Clock(ready)
    shares = np.linspace(0.0, 1.0, 1001)
    exact = profile(segment, ready.run.robot.drive).seconds_to(shares)
    found = np.array([made.time_at(float(share)) for share in shares])
    # Each point of the table is exact, and chords between them are off by a few thousandths of a second at most.
    assert np.abs(found - exact).max() < 0.004


@pytest.mark.parametrize("name", SEASON)
def test_it_takes_as_long_as_planned(name: str) -> None:
    ready = plan(load_run(ROOT / "runs" / "bakery" / f"{name}.yaml"))
    made = Clock(ready)
    assert made.seconds == pytest.approx(sum(ready.seconds), rel=1e-9)
    assert made.segments == len(ready.run.segments)
    assert made.edges == pytest.approx(np.concatenate([[0.0], np.cumsum(ready.seconds)]), rel=1e-9)


@cache
def driven(name: str) -> Clock:
    return Clock(plan(load_run(ROOT / "runs" / "bakery" / f"{name}.yaml")))


@settings(max_examples=examples(200))
@given(st.sampled_from(SEASON), st.floats(0.0, 1.0))
def test_there_and_back(name: str, share: float) -> None:
    made = driven(name)
    seconds = share * made.seconds
    assert made.time_at(made.head_at(seconds)) == pytest.approx(seconds, abs=1e-9)
    head = share * made.segments
    assert made.head_at(made.time_at(head)) == pytest.approx(head, abs=1e-7)


@given(st.sampled_from(SEASON), st.floats(-5.0, 60.0), st.floats(0.0, 3.0))
def test_it_only_goes_forwards(name: str, seconds: float, more: float) -> None:
    made = driven(name)
    assert 0.0 <= made.head_at(seconds) <= made.head_at(seconds + more) <= made.segments
    assert 0.0 <= made.time_at(seconds) <= made.time_at(seconds + more) <= made.seconds


def test_a_segment_that_takes_no_time_is_passed_in_no_time() -> None:
    made = clock(Straight(100.0), Wait(0.0), Straight(100.0))
    assert made.edges[1] == made.edges[2]
    assert made.head_at(made.edges[1]) == 2.0
    assert made.time_at(1.0) == made.time_at(1.7) == made.time_at(2.0)


def test_a_run_that_takes_no_time_at_all() -> None:
    made = clock(Wait(0.0))
    assert made.seconds == 0.0
    assert made.head_at(0.0) == 1.0
    assert made.time_at(0.3) == 0.0


def test_outside_it_stays_at_the_ends() -> None:
    made = driven(SEASON[0])
    assert made.head_at(-1.0) == 0.0
    assert made.head_at(1e9) == made.segments
    assert made.time_at(-3.0) == 0.0
    assert made.time_at(made.segments + 5.0) == made.seconds
