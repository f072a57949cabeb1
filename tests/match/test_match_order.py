"""The best order: knapsacks with known optima, brute force, and a bound that holds."""

from __future__ import annotations

from itertools import combinations, permutations

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from made import Try, made_bank, made_match, made_run, random_bank

from fieldsim.match.bank import Bank
from fieldsim.match.order import allowed, best_order, branches
from fieldsim.match.play import means, play, tree
from fieldsim.model import Target, replace
from fieldsim.model.match import Changeover, Rescue

# 0-1 knapsacks: capacity, weights, profits, and the optimum as published with them (from memory; each optimum is found
# here once more by dynamic programming). Source: J. Burkardt, "KNAPSACK_01: data for the 01 knapsack problem", Florida
# State University, sets P01 to P07; P01 and P07 after D. Kreher and D. Stinson, "Combinatorial Algorithms", 1998.
KNAPSACKS = {
    "P01": (165, [23, 31, 29, 44, 53, 38, 63, 85, 89, 82], [92, 57, 49, 68, 60, 43, 67, 84, 87, 72], 309),
    "P02": (26, [12, 7, 11, 8, 9], [24, 13, 23, 15, 16], 51),
    "P03": (190, [56, 59, 80, 64, 75, 17], [50, 50, 64, 46, 50, 5], 150),
    "P04": (50, [31, 10, 20, 19, 4, 3, 6], [70, 20, 39, 37, 7, 5, 10], 107),
    "P05": (104, [25, 35, 45, 5, 25, 3, 2, 2], [350, 400, 450, 20, 70, 8, 5, 5], 900),
    "P06": (170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735),
    "P07": (
        750,
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        1458,
    ),
}


def packed(capacity: int, weights: list[int], profits: list[int]) -> Bank:
    """A match that is a knapsack: each run takes its weight in seconds and scores at its end; changes take no time."""
    names = "abcdefghijklmnopqrstuvwxyz"[: len(weights)]
    runs = [made_run(name, name, points=names) for name in names]
    targets = tuple(Target(n, (9.0, 9.0), 5.0, points=float(p)) for n, p in zip(names, profits, strict=True))
    runs = [replace(run, field=replace(run.field, targets=targets)) for run in runs]
    match = made_match(runs, float(capacity), changeover=Changeover(0.0))
    return made_bank(match, [[[Try(float(w), {n: float(w)})] for n, w in zip(names, weights, strict=True)]])


def by_dynamic_programming(capacity: int, weights: list[int], profits: list[int]) -> int:
    best = [0] * (capacity + 1)
    for weight, profit in zip(weights, profits, strict=True):
        for room in range(capacity, weight - 1, -1):
            best[room] = max(best[room], best[room - weight] + profit)
    return best[capacity]


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] if name == "P07" else []) for name in KNAPSACKS]
)
@pytest.mark.parametrize("exact", [0, 8])
def test_knapsacks_with_a_known_optimum(name: str, exact: int) -> None:
    capacity, weights, profits, optimum = KNAPSACKS[name]
    assert by_dynamic_programming(capacity, weights, profits) == optimum
    found = best_order(packed(capacity, weights, profits), exact=exact)
    assert found.score == optimum
    assert found.exact
    assert found.at_most_better == pytest.approx(0.0, abs=1e-6)
    assert sum(weights[run] for run in found.order) <= capacity


def by_brute_force(bank: Bank) -> float:
    runs = range(len(bank.match.runs))
    orders = [order for n in runs for chosen in combinations(runs, n + 1) for order in permutations(chosen)]
    # An order in which a run comes before one it needs only leaves it out.
    return max(float(play(bank, order).score.mean()) for order in orders if allowed(bank.match, order))


@settings(max_examples=examples(25))
@given(st.integers(0, 2**32 - 1))
def test_every_way_finds_the_best_order(seed: int) -> None:
    bank = random_bank(np.random.default_rng(seed), matches=4)
    best = by_brute_force(bank)
    played = best_order(bank)
    assert played.score == pytest.approx(best, abs=1e-9)
    assert float(play(bank, played.order).score.mean()) == pytest.approx(best, abs=1e-9)
    grown = best_order(bank, exact=0)
    assert grown.score == pytest.approx(best, abs=1e-9)
    assert grown.exact


@settings(max_examples=examples(25))
@given(st.integers(0, 2**32 - 1))
def test_what_was_not_looked_at_is_no_better_than_the_bound(seed: int) -> None:
    bank = random_bank(np.random.default_rng(seed), matches=6, runs=5)
    best = float(means(bank, tree(bank.match)).max())
    found = best_order(bank, exact=0, width=1)
    assert found.score <= best + 1e-9
    assert found.bound >= best - 1e-9
    assert found.at_most_better >= best - found.score - 1e-9


@pytest.mark.parametrize(
    ("limit", "rescue", "tries"),
    [
        # Nobody fetches the robot after the last try: neither the points of that nor its seconds are lost.
        (60.0, Rescue(-35.0, 0.0), [Try(10.0, {"d": 10.0}, out=True)]),
        (32.0, Rescue(0.0, 30.0), [Try(10.0, {"d": 10.0}, out=True)]),
        # The limit may cut the last try off after what it hits.
        (24.0, Rescue(), [Try(100.0, {"d": 5.0})]),
        # A first try that brings most of it, and a second one for the rest, for which there is no time.
        (26.0, Rescue(), [Try(10.0, {"d": 10.0}, through=False), Try(10.0, {"a": 10.0, "d": 10.0})]),
    ],
)
def test_a_small_run_before_a_large_one_is_not_given_up_for_the_large_one_alone(
    limit: float, rescue: Rescue, tries: list[Try]
) -> None:
    """The small one (20 points, 10 s) and after a change of 5 s the large one (40 points, and more in a second try):
    60, where the large one alone has 40. A bound that is too low would drop the beginning with the small one."""
    match = made_match([made_run("Large", "ad"), made_run("Small", "b")], limit, rescue=rescue, rerun="once")
    bank = made_bank(match, [[tries, [Try(10.0, {"b": 10.0})]]])
    best = by_brute_force(bank)
    found = best_order(bank, exact=0, threads=1)
    assert found.score == best >= 60.0
    assert found.order == (1, 0)
    assert found.bound >= best


def test_a_run_that_costs_more_than_it_brings_is_dropped_and_the_shortest_order_is_told() -> None:
    match = made_match([made_run("A", "a"), made_run("B"), made_run("C", "c")], 40.0)
    bank = made_bank(match, [[[Try(20.0, {"a": 5.0})], [Try(9.0)], [Try(10.0, {"c": 9.0})]]])
    assert best_order(bank).order in [(0, 2), (2, 0)]
    nothing = made_bank(match, [[[Try(20.0)], [Try(9.0)], [Try(10.0)]]])
    assert (best_order(nothing).order, best_order(nothing).score) == ((0,), 0.0)


def test_a_tree_of_some_orders() -> None:
    made = branches([(2, 0), (2, 1, 0), (1,)])
    assert made.orders() == [(1,), (2,), (2, 0), (2, 1), (2, 1, 0)]
    assert made.skip.tolist() == [1, 5, 3, 5, 5]
    assert [made.order(node) for node in range(5)] == made.orders()
