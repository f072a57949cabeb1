"""How long a hand that drags the start of the flour round waits for fresh trials, and what of it takes how long.

    pytest tests/bench/test_window_speed.py --benchmark-only

Each round has another start, so that nothing is remembered from the round before but what belongs to field and robot.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path
from statistics import median
from typing import Any

import pytest

from fieldsim.files import load_run
from fieldsim.model import Run, StartByEye
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import Plan, overlaps, plan
from fieldsim.sim.trials import paths
from fieldsim.studies.attempt import Tried, Trying
from fieldsim.window.live import COARSE, DRAWN, STAGE, Live

RUN = load_run(Path(__file__).parents[2] / "runs/bakery/flour-round.yaml")
_STEPS = count()


def dragged() -> Run:
    """The run from a little farther on each time, and about where it is meant to start."""
    x, y, heading = start_pose(RUN)
    n = next(_STEPS) % 60
    return replace(RUN, start=StartByEye((x + 0.37 * n, y + 0.11 * n), heading))


def tried(ready: Plan, trials: int, threads: int) -> Tried:
    trying = Trying(ready, threads=threads, keep=STAGE)
    for _ in trying.upto(trials):
        pass
    return trying.tried(asked=trials)


def frame(trials: int, threads: int) -> int:
    """All that a frame needs: the plan, its trials, their answer, paths of a sample."""
    ready = plan(dragged())
    overlaps(ready)
    done = tried(ready, trials, threads)
    assert done.first is not None
    paths(ready, 1, done.first, list(range(DRAWN)))
    return done.answer.trials


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("trials", [COARSE, STAGE])
def test_frame(benchmark: Any, trials: int, threads: int) -> None:
    assert benchmark.pedantic(frame, args=(trials, threads), rounds=25, warmup_rounds=2) == trials


def test_plan(benchmark: Any) -> None:
    assert benchmark.pedantic(lambda: plan(dragged()), rounds=50, warmup_rounds=2)


PARTS: dict[str, Callable[[Plan, Tried], Callable[[], object]]] = {
    "trials on one core": lambda ready, _: lambda: tried(ready, STAGE, 1),
    "trials on two cores": lambda ready, _: lambda: tried(ready, STAGE, 2),
    "paths": lambda ready, done: lambda: done.first and paths(ready, 1, done.first, list(range(DRAWN))),
}


@pytest.mark.parametrize("part", PARTS)
def test_parts(benchmark: Any, part: str) -> None:
    """Of one plan: trials with their counts and the answer, and the paths of a sample."""
    ready = plan(dragged())
    done = tried(ready, STAGE, 1)
    assert benchmark.pedantic(PARTS[part](ready, done), rounds=25, warmup_rounds=2)


@pytest.mark.parametrize("part", ["count a block", "answer"])
def test_tally(benchmark: Any, part: str) -> None:
    ready = plan(dragged())
    trying = Trying(ready, threads=1, keep=1000)
    for _ in trying.upto(1000):
        pass
    block = trying.tried(asked=1000).first
    assert block is not None
    work = (lambda: trying.tally.add(block)) if part == "count a block" else (lambda: trying.tried(asked=1000))
    benchmark.pedantic(work, rounds=50, warmup_rounds=2)


@pytest.fixture
def live() -> Iterator[Live]:
    with Live() as made:
        while made.state == "getting ready":
            time.sleep(0.01)
        yield made


def _wait_for(live: Live, number: int, trials: int) -> None:
    while (news := live.news()) is None or news.number != number or news.n < trials:
        time.sleep(0.0005)


def test_wish(benchmark: Any, live: Live) -> None:
    """From the wish until 2,000 trials are there to show, through the thread."""

    def wish() -> None:
        _wait_for(live, live.want(dragged()), STAGE)

    benchmark.pedantic(wish, rounds=40, warmup_rounds=10)


def test_hand(benchmark: Any, live: Live) -> None:
    """Three seconds of a hand that never rests, 60 wishes a second: how old news are when they are shown, how many
    there are, and how long the hand's own thread was kept waiting (all in ``extra_info``, milliseconds)."""
    _wait_for(live, live.want(dragged()), STAGE)
    ages: list[tuple[float, int]] = []
    late: list[float] = []

    def drag() -> None:
        wished: dict[int, float] = {}
        for _ in range(180):
            wished[live.want(dragged())] = time.perf_counter()
            end = time.perf_counter() + 1 / 60
            while (now := time.perf_counter()) < end:
                if (news := live.news()) is not None and news.number in wished:
                    ages.append((1000 * (now - wished[news.number]), news.n))
                time.sleep(0.001)
                late.append(1000 * (time.perf_counter() - now) - 1)

    benchmark.pedantic(drag, rounds=1)
    ordered = sorted(age for age, _ in ages)
    benchmark.extra_info |= {
        "news a second": round(len(ages) / 3, 1),
        "of 2,000 trials": round(sum(n == STAGE for _, n in ages) / len(ages), 2),
        "age, median": round(median(ordered), 1),
        "age, 19 of 20": round(ordered[int(0.95 * len(ordered))], 1),
        "kept waiting, 99 of 100": round(sorted(late)[int(0.99 * len(late))], 1),
        "kept waiting, most": round(max(late), 1),
    }
    assert ages
