"""Playing a match: matches solved by hand, against a slow twin, and every order at once against one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from math import factorial

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from made import Try, made_bank, made_match, made_run, random_bank, slow_play

from fieldsim.match.play import PART, Played, means, play, tree
from fieldsim.model.match import Change, Changeover, Match, MatchPoints, Rescue
from fieldsim.sim.kernel.match import ACTING, CHANGING, CUT, DRIVING, EARNED, LOST, RESCUING, SUCCESS, TRIES


def one(match: Match, *runs: list[Try], order: tuple[int, ...] | None = None) -> Played:
    """A single match with this luck of each run."""
    return play(made_bank(match, [list(runs)]), tuple(range(len(runs))) if order is None else order)


def test_two_runs_by_hand() -> None:
    match = made_match([made_run("A", "a"), made_run("B", "bc")], 60.0)
    played = one(match, [Try(20.0, {"a": 12.0})], [Try(30.0, {"b": 10.0, "c": 25.0})])
    # 20 s, 5 s by hand, 30 s; a 10, b 20, c 30 points.
    assert (played.score[0], played.clock[0], bool(played.inside[0])) == (60.0, 55.0, True)
    assert played.column(EARNED).tolist() == [[10.0, 50.0]]
    assert played.column(CHANGING).tolist() == [[0.0, 5.0]]
    assert played.column(ACTING).tolist() == [[1.0, 2.0]]
    assert played.column(DRIVING).tolist() == [[19.0, 28.0]]


def test_the_limit_cuts_an_act_in_two() -> None:
    run = [made_run("A", "a"), made_run("B", "bc")]
    drawn = [Try(20.0, {"a": 12.0})], [Try(30.0, {"b": 10.0, "c": 25.0}, home=True)]
    # B starts at 25 s; its second act ends at 50 s.
    for limit, score, late in (
        (50.0, 60.0, True),
        (49.9, 30.0, True),
        (35.0, 30.0, True),
        (34.9, 10.0, True),
        (55.0, 60.0, False),
    ):
        played = one(made_match(run, limit), *drawn)
        assert (played.score[0], bool(played.late[0])) == (score, late), limit
    # Half a second of the second act, which begins at 49 s, is driven and counted as acting.
    played = one(made_match(run, 49.5), *drawn)
    assert played.column(ACTING)[0, 1] == pytest.approx(1.5)
    assert played.column(DRIVING)[0, 1] == pytest.approx(23.0)
    assert (played.column(CUT)[0, 1], played.column(SUCCESS)[0, 1], played.clock[0]) == (1.0, 0.0, 49.5)


def test_a_finish_scores_once_and_only_in_time() -> None:
    run = [made_run("A", "a", finish=True), made_run("B", "b", finish=True)]
    drawn = [Try(20.0, {}, through=False, home=True), Try(20.0, {"a": 5.0}, home=True)], [Try(10.0, home=True)]
    match = made_match(run, 60.0, rerun="once", points=MatchPoints(7.0))
    # A comes home without its target, and once more with it: 20 + 5 + 20 + 5 + 10 s, 7 + 10 + 7 points.
    played = one(match, *drawn)
    assert (played.score[0], played.clock[0]) == (24.0, 60.0)
    assert not played.late[0]
    assert one(replace(match, limit=59.9), *drawn).score[0] == 17.0


def test_a_target_is_scored_once_in_a_match() -> None:
    match = made_match([made_run("A", "ab"), made_run("B", "b")], 100.0)
    played = one(match, [Try(9.0, {"a": 3.0, "b": 6.0})], [Try(9.0, {"b": 3.0})])
    assert played.column(EARNED).tolist() == [[30.0, 0.0]]


def test_a_robot_out_on_the_field_is_fetched_when_there_is_something_to_start() -> None:
    run = [made_run("A", "a"), made_run("B", "b")]
    stuck, fine = Try(8.0, {"a": 4.0}, through=False, out=True, rescue=1.0), Try(10.0, {"b": 5.0}, out=True)
    match = made_match(run, 100.0, rescue=Rescue(-4.0, 6.0, 2.0))
    # What was hit stays scored. 8 + rescue 6 + 2 + change 5 + 10; B stands out at the end, and nobody fetches it.
    played = one(match, [stuck], [fine])
    assert (played.score[0], played.clock[0]) == (10 - 4 + 20, 31.0)
    assert played.column(LOST).tolist() == [[0.0, -4.0]]
    assert played.column(RESCUING).tolist() == [[0.0, 8.0]]
    # Alone it costs nothing.
    assert one(match, [stuck], [fine], order=(0,)).score[0] == 10.0


def test_nothing_is_begun_that_could_not_start_in_time_on_average() -> None:
    run = [made_run("A", "a"), made_run("B", "b")]
    match = made_match(run, 13.0, rescue=Rescue(-4.0, 6.0), changeover=Changeover(5.0, 3.0))
    # At 8 s a change of 5 s would end at the limit: the robot stays, and no points are lost.
    played = one(match, [Try(8.0, {"a": 4.0}, through=False, out=True)], [Try(1.0, {"b": 1.0}, change=-1.0)])
    assert (played.score[0], played.clock[0], bool(played.late[0])) == (10.0, 8.0, True)
    # With more time it is fetched, but making ready takes longer than it does on average: the points are lost.
    played = one(
        replace(match, limit=20.0), [Try(8.0, {"a": 4.0}, through=False, out=True)], [Try(1.0, {"b": 1.0}, change=0.5)]
    )
    assert (played.score[0], played.clock[0], played.column(TRIES)[0, 1]) == (6.0, 20.0, 0.0)


@pytest.mark.parametrize(
    ("rerun", "score", "clock"), [("never", 0.0, 10.0), ("once", 0.0, 25.0), ("while time is left", 10.0, 40.0)]
)
def test_how_often_a_run_is_tried(rerun: str, score: float, clock: float) -> None:
    match = made_match([made_run("A", "a")], 100.0, rerun=rerun)
    miss = Try(10.0, {}, through=False)
    assert [(p.score[0], p.clock[0]) for p in [one(match, [miss, miss, Try(10.0, {"a": 5.0})])]] == [(score, clock)]


def test_a_run_is_not_tried_again_for_nothing() -> None:
    match = made_match([made_run("A", "a"), made_run("B", "b")], 100.0, rerun="once")
    # Its target is scored, though it touched something on the way home.
    assert one(match, [Try(10.0, {"a": 5.0}, through=False)], [Try(5.0)]).column(TRIES).tolist() == [[1.0, 1.0]]
    # But where B needs A to get through, A is tried again.
    needs = made_match([made_run("A", "a"), made_run("B", "b")], 100.0, {"B": ("A",)}, rerun="once")
    assert one(needs, [Try(10.0, {"a": 5.0}, through=False)], [Try(5.0)]).column(TRIES).tolist() == [[2.0, 0.0]]
    # Not so if B has had its turn.
    assert one(needs, [Try(10.0, {"a": 5.0}, through=False)], [Try(5.0)], order=(1, 0)).column(TRIES).tolist() == [
        [1.0, 0.0]
    ]


def test_runs_without_targets_score_by_their_finish_alone() -> None:
    match = made_match([made_run("A", finish=True), made_run("B")], 100.0, points=MatchPoints(3.0), rerun="once")
    played = one(match, [Try(10.0, through=False), Try(10.0, home=True)], [Try(10.0, through=False)])
    # A is tried again for its finish; nothing can be had from B.
    assert (played.score[0], played.column(TRIES).tolist()) == (3.0, [[2.0, 1.0]])


def test_changes_of_attachments_take_their_own_time() -> None:
    run = [made_run("A", wear=("fork",)), made_run("B", wear=("scoop",)), made_run("C", wear=("scoop",))]
    match = made_match(run, 100.0, between=(Change("fork", "scoop", 14.0, 3.0, 12.0),))
    played = one(match, [Try(1.0)], [Try(1.0, change=-1.0)], [Try(1.0, change=2.0)])
    # 14 - 3 is less than the least; from scoop to scoop the general change is as written, without spread.
    assert played.column(CHANGING).tolist() == [[0.0, 12.0, 5.0]]


@settings(max_examples=examples(150))
@given(st.integers(0, 2**32 - 1))
def test_the_kernel_plays_as_the_slow_twin(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bank = random_bank(rng)
    order = rng.permutation(4)[: rng.integers(0, 5)]
    played = play(bank, [int(r) for r in order])
    names = [each.name for each in bank.match.runs]
    for m in range(len(bank)):
        told = slow_play(bank, m, [int(r) for r in order])
        assert played.score[m] == pytest.approx(told.score, abs=1e-9)
        assert played.clock[m] == pytest.approx(told.clock, abs=1e-9)
        assert {n for n, s in zip(names, played.column(SUCCESS)[m], strict=True) if s} == told.through
        assert {n for n, c in zip(names, played.column(CUT)[m], strict=True) if c} == told.cut
        assert {n: int(t) for n, t in zip(names, played.column(TRIES)[m], strict=True) if t} == told.tries
        # Points and seconds are all accounted for.
        assert (played.column(EARNED) + played.column(LOST))[m].sum() == pytest.approx(told.score, abs=1e-9)
        spent = sum(played.column(which)[m].sum() for which in (DRIVING, ACTING, CHANGING, RESCUING))
        assert spent == pytest.approx(played.clock[m], abs=1e-9)
        assert 0 <= played.clock[m] <= bank.match.limit


@settings(max_examples=examples(40))
@given(st.integers(0, 2**32 - 1))
def test_all_orders_at_once_are_each_order_alone(seed: int) -> None:
    bank = random_bank(np.random.default_rng(seed), matches=5)
    orders = tree(bank.match)
    found = means(bank, orders)
    assert len(found) == len(orders.orders()) > 0
    for node in (0, len(found) // 2, len(found) - 1, int(found.argmax())):
        order = orders.order(node)
        assert order == orders.orders()[node]
        assert found[node] == pytest.approx(play(bank, order).score.mean(), abs=1e-9)


def test_the_tree_holds_every_order_that_is_of_use() -> None:
    free = made_match([made_run(f"run {n}") for n in range(7)], 60.0)
    assert len(tree(free).orders()) == sum(factorial(7) // factorial(7 - n) for n in range(1, 8)) == 13_699
    bound = made_match([made_run(n) for n in "ABCD"], 60.0, {"C": ("A", "B")})
    found = tree(bound).orders()
    wanted = {
        order
        for n in range(1, 5)
        for order in permutations(range(4), n)
        if 2 not in order or {0, 1} <= set(order[: order.index(2)])
    }
    assert set(found) == wanted
    assert len(found) == len(wanted)


def test_sums_are_the_same_on_any_number_of_threads() -> None:
    rng = np.random.default_rng(4)
    bank = random_bank(rng, matches=2 * PART + 300, runs=5)
    orders = tree(bank.match)
    assert np.array_equal(means(bank, orders, 1), means(bank, orders, 3))
    first, second = play(bank, range(5), 1), play(bank, range(5), 3)
    assert np.array_equal(first.ledger, second.ledger)
