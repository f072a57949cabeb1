"""How fast trials are. Run with ``pytest tests/bench --benchmark-only``; nothing here asserts a time.

What one would write otherwise: `side_by_side.py`. Each round is a set of trials after one that warms up; read the
minimum.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf
from pathlib import Path

import pytest
from bench.workload import run_among

import fieldsim.sim.drivetrain
from fieldsim.files import load_run
from fieldsim.model import Line, LineSquare, Run, Sensor, Square
from fieldsim.sim.plan import HORIZON, Plan, plan
from fieldsim.sim.trials import blocks
from fieldsim.studies.causes import causes
from fieldsim.studies.compare import compare
from fieldsim.studies.jigs import rank
from fieldsim.studies.slack import slack
from fieldsim.studies.widths import widths


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
    monkeypatch.setattr(fieldsim.sim.drivetrain, "PAIR", pair)
    _bench(benchmark, plan(run_among(20), horizon), 10_000, 1)


@pytest.mark.parametrize("segments", [4, 7, 14])
def test_segments(benchmark, segments):  # type: ignore[no-untyped-def]
    _bench(benchmark, plan(run_among(20, segments)), 10_000, 1)


@pytest.mark.parametrize("boxes", [20, 200, 2000])
def test_obstacles(benchmark, boxes):  # type: ignore[no-untyped-def]
    """Ten and a hundred times the obstacles, on a field as much larger."""
    _bench(benchmark, plan(run_among(boxes)), 10_000, 1)


@pytest.mark.parametrize("kind", ["plain", "gyro", "squares", "lines"])
def test_alignments(benchmark, kind):  # type: ignore[no-untyped-def]
    """The same run, one core, 10,000 trials: as it is, steered by a gyro, with a square more, and with a line square
    for its first straight."""
    run = run_among(20)
    if kind == "gyro":
        run = replace(run, robot=replace(run.robot, drive=replace(run.robot.drive, heading_from="gyro")))
    elif kind == "squares":
        run = replace(run, segments=(Square("rear", "near wall", 50.0), *run.segments))
    elif kind == "lines":
        eyes = (Sensor("left eye", (95.0, 30.0)), Sensor("right eye", (95.0, -30.0)))
        # In place of the first straight, and as far: what comes after is as clear as without it.
        line = Line("line", (0.0, 315.0), (400.0, 315.0))
        aligned = LineSquare("line", ("left eye", "right eye"), 200.0, 2.0)
        run = replace(
            run, robot=replace(run.robot, sensors=eyes), field=replace(run.field, lines=(line,)),
            segments=(aligned, *run.segments[1:]),
        )  # fmt: skip
    _bench(benchmark, plan(run), 10_000, 1)


STUDIES: dict[str, Callable[[Run], object]] = {
    "jigs": lambda run: rank(run),
    "slack": lambda run: slack(run),
    "widths": lambda run: widths(run),
    "compare": lambda run: compare([run, run], names=["one", "two"]),
    "causes": lambda run: causes(run),
}


@pytest.mark.parametrize("study", STUDIES)
def test_studies(benchmark, study):  # type: ignore[no-untyped-def]
    """Each study of the flour round as the command does it, on all cores."""
    run = load_run(Path(__file__).parents[2] / "runs/bakery/flour-round.yaml")
    assert benchmark.pedantic(STUDIES[study], args=(run,), rounds=2, warmup_rounds=1)
