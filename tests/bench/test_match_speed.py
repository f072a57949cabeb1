"""How fast the match is: 7 runs in all 5,040 orders (and with any of them dropped), 12 runs, and the policy.

Matches, runs and luck are invented.
"""

from __future__ import annotations

from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made import TARGETS, made_match, made_run

from fieldsim.files import load_match
from fieldsim.match.bank import Bank, blank, fill, rules_of
from fieldsim.match.follow import follow
from fieldsim.match.order import best_order
from fieldsim.match.policy import best_policy
from fieldsim.match.study import study
from fieldsim.model.match import Changeover, MatchPoints, Rescue

BAKERY = Path(__file__).parent.parent.parent / "runs" / "bakery" / "match.yaml"
MATCHES = 10_000


def lucky(runs: int, limit: float, matches: int = MATCHES) -> Bank:
    """Runs of 12 to 30 s with two targets each, a third of whose tries fail; not all fit into the limit."""
    rng = np.random.default_rng(runs)
    made = [
        made_run(f"run {n}", f"{TARGETS[n % 8]}{TARGETS[(3 * n + 1) % 8]}", (("fork", "scoop")[n % 2],), n % 3 == 0)
        for n in range(runs)
    ]
    match = made_match(
        made, limit, {"run 8": ("run 2",)} if runs > 8 else None,
        changeover=Changeover(7.0, 2.0, 4.0), rescue=Rescue(-5.0, 6.0, 2.0),
        rerun="once", points=MatchPoints(5.0),
    )  # fmt: skip
    drawn = blank(match, matches)
    shape = drawn.seconds.shape
    drawn.seconds[:] = rng.uniform(12, 30, (1, runs, 1)) * rng.normal(1.0, 0.05, shape)
    drawn.through[:] = rng.random(shape) < 0.67
    drawn.out[:] = (rng.random(shape) < 0.3) & (drawn.through == 0)
    drawn.home[:] = drawn.through
    drawn.change[:], drawn.rescue[:] = rng.normal(size=shape), rng.normal(size=shape)
    for act in range(2):
        drawn.hit[..., act] = drawn.through | (rng.random(shape) < 0.4)
        drawn.ends[..., act] = np.where(drawn.hit[..., act] != 0, drawn.seconds * (0.4 + 0.4 * act), inf)
        drawn.begins[..., act] = drawn.ends[..., act] - 1.0
    return Bank(match, rules_of(match), drawn)


def test_seven_runs_in_every_order(benchmark: Any) -> None:
    bank = lucky(7, 150.0)
    found = benchmark.pedantic(best_order, (bank,), rounds=3, iterations=1, warmup_rounds=1)
    assert found.exact
    # Each of the 7 runs first, then each of the 6 others and so on: 5,040 whole orders among them.
    assert found.tried == 13_699


def test_twelve_runs(benchmark: Any) -> None:
    bank = lucky(12, 150.0)
    found = benchmark.pedantic(best_order, (bank,), rounds=1, iterations=1)
    assert found.at_most_better >= 0


@pytest.mark.parametrize("runs", [3, 7, 12])
def test_policy(benchmark: Any, runs: int) -> None:
    bank = lucky(runs, 150.0)
    plan = tuple(range(runs))
    policy = benchmark.pedantic(best_policy, (bank, plan), rounds=1, iterations=1, warmup_rounds=1)
    assert policy is not None


def test_following(benchmark: Any) -> None:
    bank = lucky(7, 150.0)
    plan = tuple(range(7))
    policy = best_policy(bank, plan)
    assert policy is not None
    benchmark.pedantic(follow, (policy, bank, plan), rounds=2, iterations=1)


def test_luck_of_the_demo(benchmark: Any) -> None:
    match = load_match(BAKERY)
    benchmark.pedantic(fill, (match, MATCHES, 1), rounds=3, iterations=1, warmup_rounds=1)


def test_the_demo(benchmark: Any) -> None:
    match = load_match(BAKERY)
    benchmark.pedantic(study, (match,), {"trials": MATCHES}, rounds=2, iterations=1, warmup_rounds=1)
