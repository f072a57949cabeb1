"""How fast trials are. Run with ``pytest tests/bench --benchmark-only``; nothing here asserts a time.

DEVELOPERS.md has the table. Each round is a set of trials after one that warms up; read the minimum.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import numpy as np
import pytest
from bench.workload import run_among
from reference import Piece, obstacles, stepped_clearances

import fieldsim.drivetrain
from fieldsim.drivetrain import perfect
from fieldsim.kernel.trial import drive
from fieldsim.plan import HORIZON, Plan, plan
from fieldsim.trials import blocks


def _count(ready: Plan, trials: int, threads: int) -> int:
    return sum(len(block) for block in blocks(ready, 1, trials, threads=threads))


def _bench(benchmark: Callable[..., int], ready: Plan, trials: int, threads: int) -> None:
    _count(ready, 1000, threads)
    benchmark.extra_info["trials"] = trials  # type: ignore[attr-defined]
    done = benchmark.pedantic(_count, args=(ready, trials, threads), rounds=5)  # type: ignore[attr-defined]
    assert done == trials


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("trials", [1_000, 10_000, 100_000, 1_000_000])
def test_trials(benchmark, trials, threads):  # type: ignore[no-untyped-def]
    """14 segments, 20 boxes and 4 walls, clearances up to the horizon."""
    _bench(benchmark, plan(run_among(20)), trials, threads)


@pytest.mark.parametrize("pair", [1e9, 200.0, 130.0], ids=["22 pieces", "32 pieces", "48 pieces"])
@pytest.mark.parametrize("horizon", [HORIZON, inf], ids=["horizon", "all gaps"])
def test_pieces(benchmark, horizon, pair, monkeypatch):  # type: ignore[no-untyped-def]
    """One core, straights cut coarser and finer; with and without the horizon."""
    monkeypatch.setattr(fieldsim.drivetrain, "PAIR", pair)
    _bench(benchmark, plan(run_among(20), horizon), 10_000, 1)


@pytest.mark.parametrize("segments", [4, 7, 14])
def test_segments(benchmark, segments):  # type: ignore[no-untyped-def]
    _bench(benchmark, plan(run_among(20, segments)), 10_000, 1)


@pytest.mark.parametrize("boxes", [20, 200, 2000])
def test_obstacles(benchmark, boxes):  # type: ignore[no-untyped-def]
    """Ten and a hundred times the obstacles, on a field as much larger."""
    _bench(benchmark, plan(run_among(boxes)), 10_000, 1)


@pytest.mark.parametrize(("step_mm", "step_degrees"), [(2.0, 1.0), (10.0, 5.0)], ids=["2 mm 1 deg", "10 mm 5 deg"])
def test_opponent(benchmark, step_mm, step_degrees):  # type: ignore[no-untyped-def]
    """One trial of the same run, stepped, with shapely's array functions: least gap of every obstacle."""
    ready = plan(run_among(20), inf)
    course = ready.course
    count = len(course.wheels.left)
    path = np.zeros((count + 1, 9))
    drive(perfect(course.wheels), course.reference, np.zeros((ready.drivetrain.rows, 1)), 0, 0.0, 0.0, path)
    pieces = [Piece((path[p, 0], path[p, 1], path[p, 4]), float(path[p, 5]), float(path[p, 6])) for p in range(count)]
    cores = [core.points for thing in ready.solids for core in thing.cores]
    things = obstacles(cores, [0.0] * len(cores))
    body = ready.parts[0].points
    least = benchmark(stepped_clearances, body, pieces, things, step_mm, step_degrees)
    # But for the wall the robot stands against at the start, which trials forgive.
    seen = np.isfinite(ready.nominal.clearance[0]) & (least > 0)
    assert np.abs(least - ready.nominal.clearance[0])[seen].max() < 2 * step_mm
