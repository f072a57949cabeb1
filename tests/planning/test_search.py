"""The search: closed forms, brute force on a tiny field, and what must only grow."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import radians

import numpy as np
import pytest
from scenes import PERFECT, ROBOT, gap, scene, task
from scipy.stats import norm

from fieldsim.model import Accuracy, Act, Run, Segment, Spread, StartByEye, Straight, Target, Turn
from fieldsim.model.accuracy import TurnNoise
from fieldsim.planning import search
from fieldsim.planning.legs import Task, written
from fieldsim.planning.search import Effort
from fieldsim.planning.ways import base_of, ways
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import simulate

FEW = 50
"""Places of a small map."""


@pytest.fixture(autouse=True)
def narrow_beam(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "BEAM", 400)


def best(asked: Task, squares: bool = True, most: int = FEW) -> float:
    """The chance that the search gives the best way; 0 if it finds none."""
    found = ways(asked, base_of(asked, squares, most), Effort())
    return max((way.guess for way in found), default=0.0)


def test_one_straight_is_worth_the_closed_form() -> None:
    """Set by eye with a spread across alone, and straight ahead to a target: a hit is a normal number within bounds."""
    sd, within = 9.0, 15.0
    field = scene(size=(900.0, 600.0), targets=(Target("bell", (710.0, 300.0), within, 0.0, 2.0),))
    start = StartByEye((200.0, 300.0), 0.0, Spread(0.0, sd, 0.0))
    asked = Task(field, PERFECT, (), (start,), ("bell",), None)
    told = best(asked, squares=False)
    assert told == pytest.approx(2 * norm.cdf(within / sd) - 1, abs=2e-3)


def test_a_turn_before_a_gap_is_worth_the_closed_form(monkeypatch: pytest.MonkeyPatch) -> None:
    """A heading wrong by a normal number carries the robot aside by the way driven: the corridor's two sides and the
    target are all that can go wrong, and the best is the middle between them."""
    monkeypatch.setattr(search, "KEEP_CLEAR", 0.0)
    sd = radians(1.2)
    robot = replace(ROBOT, accuracy=Accuracy(turn=TurnNoise(1.2, 0.0)))
    room = 16.0
    # Too narrow to turn in, from close before the start to x = 720: so the turn is made before it.
    field = scene(
        ("south", 330.0, 0.0, 720.0, 300.0 - 70.0 - room), ("north", 330.0, 300.0 + 70.0 + room, 720.0, 600.0),
        ("back", 0.0, 0.0, 100.0, 600.0), size=(1400.0, 600.0),
        targets=(Target("bell", (1200.0, 300.0), 100.0, 0.0, 20.0),),
    )  # fmt: skip
    start = StartByEye((200.0, 300.0), 90.0, Spread(0.0, 0.0, 0.0))
    told = best(Task(field, robot, (), (start,), ("bell",), None), squares=False)
    # The corridor's far end is the narrowest: a heading wrong by e is off there by 520 mm times e, to either side.
    assert told == pytest.approx(2 * norm.cdf(room / ((720.0 - 200.0) * sd)) - 1, abs=0.02)


def test_nothing_is_found_where_nothing_is_and_it_is_no_proof() -> None:
    # Wide enough for a disc, too narrow for a body that has to turn in it.
    field = scene(
        ("a", 700.0, 0.0, 720.0, 429.0),
        ("b", 700.0, 571.0, 720.0, 1000.0),
        targets=(Target("bell", (1300.0, 700.0), 1.0, 45.0, 0.5),),
    )
    wild = replace(ROBOT, accuracy=replace(ROBOT.accuracy, turn=TurnNoise(30.0, 30.0)))
    assert ways(task(field, wild), base_of(task(field, wild), False, FEW), Effort()) == []


def test_a_wider_gap_and_a_better_robot_are_never_worth_less() -> None:
    widths = [best(task(gap(width)), squares=False) for width in (152.0, 180.0, 240.0)]
    assert all(wide >= narrow - 0.01 for narrow, wide in pairwise(widths))
    assert widths[-1] > widths[0] + 0.1
    better = replace(ROBOT, accuracy=replace(ROBOT.accuracy, turn=TurnNoise(0.25, 0.3)))
    assert best(task(gap(180.0), better), squares=False) >= widths[1] - 0.01


def test_squares_are_never_worth_less_than_none() -> None:
    assert best(task(gap(170.0))) >= best(task(gap(170.0)), squares=False) - 1e-9


def test_time_allowed_is_kept() -> None:
    asked = replace(task(scene()), within=8.0)
    found = ways(asked, base_of(asked, True, FEW), Effort())
    assert found
    assert all(sum(plan(written(asked, way)).seconds) < 8.5 for way in found)
    soon = replace(asked, within=1.0)
    assert ways(soon, base_of(soon, True, FEW), Effort()) == []


@pytest.mark.parametrize("seed", [1, 2])
def test_no_run_of_few_segments_on_a_lattice_is_much_better(seed: int) -> None:
    """All runs turn, straight, turn, straight on a coarse lattice: none gets through more often than what the search
    finds, by more than that search's own map explains."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(380.0, 520.0), rng.uniform(180.0, 420.0)
    field = scene(
        ("post", x, y, x + 60.0, y + 60.0),
        size=(1000.0, 700.0),
        targets=(Target("bell", (800.0, rng.uniform(250.0, 450.0)), 15.0),),
    )
    start = StartByEye((150.0, 350.0), 0.0, Spread(1.0, 1.0, 0.5))
    asked = Task(field, ROBOT, (), (start,), ("bell",), None)
    found = ways(asked, base_of(asked, True, FEW), Effort())
    mine = max(simulate(written(asked, way), 300, 5).share.share for way in found[:4])
    brute = 0.0
    bell = np.array(field.targets[0].at)
    for first in range(-40, 41, 10):
        for way in range(100, 500, 100):
            h = radians(first)
            here = np.array([150.0, 350.0]) + way * np.array([np.cos(h), np.sin(h)])
            aim = np.degrees(np.arctan2(*(bell - here)[::-1]))
            rest = float(np.hypot(*(bell - here)) - 110.0)
            segments: list[Segment] = [Turn(float(first))] if first else []
            segments += [Straight(float(way))]
            turn = round(2 * (aim - first) / 1.01) / 2
            segments += [Turn(turn)] if turn else []
            segments += [Straight(float(round(rest))), Act("bell")]
            if rest > 0:
                brute = max(brute, simulate(Run("r", field, ROBOT, start, tuple(segments)), 300, 5).share.share)
    # Two shares of 300 trials on common draws, three standard errors apart at the most.
    assert mine >= brute - 3 * np.sqrt(0.25 / 300)
    assert brute > 0.0
