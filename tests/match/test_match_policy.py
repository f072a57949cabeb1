"""The best policy: against a slow twin that tries everything, by hand, and followed in matches.

All matches are invented. The slow twin shares no code with the dynamic programming: it asks what every sequence of
tries brings, from the luck as it was written down, without a grid of times and without states that are put together.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import permutations

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from made import TARGETS, Try, made_bank, made_match, made_run, slow_play

from fieldsim.match.bank import TRIES, Bank
from fieldsim.match.follow import follow, rules_told
from fieldsim.match.play import play
from fieldsim.match.policy import best_policy
from fieldsim.model import Act, Run
from fieldsim.model.match import Changeover, Match, MatchPoints, Rescue
from fieldsim.report.words.match import rule_words


def whole_bank(rng: np.random.Generator, matches: int, runs: int) -> Bank:
    """A match in which everything takes whole seconds, so that a grid of quarters of seconds misses nothing."""
    few = TARGETS[:4]
    made = []
    for n in range(runs):
        targets = "".join(t for t in few if rng.random() < 0.4)
        wear = tuple(w for w in ("fork", "scoop") if rng.random() < 0.4)
        made.append(made_run(f"run {n}", targets, wear, finish=rng.random() < 0.5, points=few))
    needs = {made[n].name: tuple(made[k].name for k in range(n) if rng.random() < 0.25) for n in range(runs)}
    match = made_match(
        made, float(rng.integers(15, 60)), needs,
        changeover=Changeover(float(rng.integers(1, 9))),
        rescue=Rescue(-float(rng.integers(0, 9)), float(rng.integers(0, 9))),
        rerun=str(rng.choice(["never", "once"])),
        points=MatchPoints(float(rng.choice([0.0, 7.0]))),
    )  # fmt: skip

    def one(run: Run) -> Try:
        seconds = float(rng.integers(2, 25))
        acts = [s.target for s in run.segments if isinstance(s, Act)]
        return Try(
            seconds,
            {t: float(rng.integers(1, int(seconds) + 1)) for t in acts if rng.random() < 0.7},
            through=bool(rng.random() < 0.5),
            out=bool(rng.random() < 0.4),
            home=run.finish is not None and bool(rng.random() < 0.6),
        )

    drawn = [[[one(run) for _ in range(TRIES[match.rerun])] for run in made] for _ in range(matches)]
    return made_bank(match, drawn)


def all_that_can_be_had(bank: Bank) -> float:
    """Points on average of the best decisions, each try drawn by itself from those in which it was made."""
    match, drawn = bank.match, bank.drawn
    acts = [[s.target for s in each.run.segments if isinstance(s, Act)] for each in match.runs]
    most = TRIES[match.rerun]
    known = [
        [[m for m in range(len(bank)) if not any(drawn.through[m, r, i] for i in range(j))] for j in range(most)]
        for r in range(len(match.runs))
    ]

    def alive(
        r: int, tries: tuple[int, ...], hit: frozenset[str], through: frozenset[int], home: frozenset[int]
    ) -> bool:
        """Something can still come of it, for itself or for one that needs it."""
        if tries[r] >= most or r in through:
            return False
        if any(match.points_of(t) > 0 and t not in hit for t in acts[r]):
            return True
        if match.points.finish > 0 and match.runs[r].run.finish is not None and r not in home:
            return True
        return any(r in match.needed[q] and alive(q, tries, hit, through, home) for q in range(len(acts)) if q != r)

    @cache
    def best(
        left: float, tries: tuple[int, ...], hit: frozenset[str], through: frozenset[int], home: frozenset[int],
        last: int, out: bool,
    ) -> float:  # fmt: skip
        found = 0.0
        for r, entry in enumerate(match.runs):
            j = tries[r]
            if not alive(r, tries, hit, through, home) or any(q not in through for q in match.needed[r]):
                continue
            if not known[r][j]:
                continue
            ready, lost = 0.0, 0.0
            if last >= 0:
                ready = match.changeover_between(match.runs[last].run, entry.run).mean
                if out:
                    ready, lost = ready + match.rescue.mean, match.rescue.points
            if ready >= left:
                continue
            total = 0.0
            for m in known[r][j]:
                now, points, got = left - ready, lost, set(hit)
                for a, target in enumerate(acts[r]):
                    if drawn.hit[m, r, j, a] and drawn.ends[m, r, j, a] <= now and target not in got:
                        got.add(target)
                        points += match.points_of(target)
                now -= float(drawn.seconds[m, r, j])
                if now >= 0:
                    if drawn.home[m, r, j] and r not in home:
                        points += match.points.finish
                    points += best(
                        now, tuple(n + (q == r) for q, n in enumerate(tries)), frozenset(got),
                        through | {r} if drawn.through[m, r, j] else through,
                        home | {r} if drawn.home[m, r, j] else home, r, bool(drawn.out[m, r, j]),
                    )  # fmt: skip
                total += points
            found = max(found, total / len(known[r][j]))
        return found

    nothing: frozenset[int] = frozenset()
    return best(match.limit, (0,) * len(match.runs), frozenset(), nothing, nothing, -1, False)


@settings(max_examples=examples(60))
@given(st.integers(0, 10**9), st.integers(1, 3), st.integers(1, 3))
def test_against_trying_everything(seed: int, matches: int, runs: int) -> None:
    bank = whole_bank(np.random.default_rng(seed), matches, runs)
    policy = best_policy(bank, tuple(range(runs)), threads=1, margin=0.0)
    assert policy is not None
    brought = policy.value[policy.states[policy.start], -1]
    assert brought == pytest.approx(all_that_can_be_had(bank), abs=1e-9)


@settings(max_examples=examples(60))
@given(st.integers(0, 10**9), st.integers(1, 4))
def test_where_luck_is_known_following_it_scores_what_it_promises(seed: int, runs: int) -> None:
    bank = whole_bank(np.random.default_rng(seed), 1, runs)
    plan = tuple(range(runs))
    policy = best_policy(bank, plan, threads=1, margin=0.0)
    assert policy is not None
    score = float(follow(policy, bank, plan).score[0])
    assert score == pytest.approx(policy.value[policy.states[policy.start], -1])
    # No order does better than the best decisions.
    assert score >= max(float(play(bank, order).score[0]) for order in _orders(runs)) - 1e-9


def _orders(runs: int) -> list[tuple[int, ...]]:
    return [order for size in range(1, runs + 1) for order in permutations(range(runs), size)]


@settings(max_examples=examples(60))
@given(st.integers(0, 10**9))
def test_a_policy_that_never_leaves_the_plan_is_the_plan(seed: int) -> None:
    bank = whole_bank(np.random.default_rng(seed), 4, 3)
    plan = (0, 1, 2)
    policy = best_policy(bank, plan, threads=1, margin=0.0)
    assert policy is not None
    # Nothing is ever better than the plan's own choice, which stands first.
    policy.chosen[:] = np.where(policy.chosen >= 0, policy.choices.first[:-1, None], -1)
    followed = follow(policy, bank, plan)
    for m in np.flatnonzero(followed.as_planned):
        assert followed.score[m] == pytest.approx(slow_play(bank, m, plan).score)


# --- by hand --------------------------------------------------------------------------------------------------------


def second_try_or_bell(limit: float) -> Match:
    """Round is worth 40 and fails half the time; bell is worth 10 and sure. After a round there is no time for both."""
    return made_match(
        [made_run("Round", "d", points=TARGETS), made_run("Bell", "a", points=TARGETS)], limit,
        changeover=Changeover(5.0), rerun="once",
    )  # fmt: skip


def luck_of(rounds: Sequence[tuple[bool, float]]) -> list[list[list[Try]]]:
    """One match for each: whether the second round succeeds; the first always fails after so many seconds."""
    return [
        [
            [Try(first, through=False), Try(20.0, {"d": 20.0} if good else {}, through=good)],
            [Try(10.0, {"a": 10.0})],
        ]
        for good, first in rounds
    ]


def test_less_than_so_many_seconds_and_it_goes_for_the_bell() -> None:
    # A second try takes 5 + 20 s and brings 20 on average, the bell 5 + 10 s and 10 for sure: with 25 s left or more
    # (and less than 40, when both fit) the second try is worth more, with less only the bell can be done.
    bank = made_bank(second_try_or_bell(50.0), luck_of([(good, 22.0 + n) for n in range(13) for good in (True, False)]))
    policy = best_policy(bank, (0, 1), threads=1)
    assert policy is not None
    followed = follow(policy, bank, (0, 1))
    failed = followed.states[followed.visits.state[followed.visits.after == 0][0]]
    assert policy.next_run(failed, 25.0) == 0
    assert policy.next_run(failed, 39.0) == 0
    assert policy.next_run(failed, 24.5) == 1
    assert policy.next_run(failed, 15.0) == 1
    # The mean is exact: 25 s left and more come up with a first try of 22 to 25 s, 4 of 13.
    assert followed.score.mean() == pytest.approx((4 * 20 + 9 * 10) / 13)
    told = [rule_words(rule) for rule in rules_told(policy, followed, bank)]
    assert told == [
        "After Round failed, with Bell still to come: 25 s left or more: try it again; under 25 s: go for Bell."
    ]


def test_a_run_that_is_needed_comes_first() -> None:
    match = made_match(
        [made_run("Key", "", points=TARGETS), made_run("Door", "h", points=TARGETS)], 60.0, {"Door": ("Key",)},
    )  # fmt: skip
    bank = made_bank(match, [[[Try(10.0)], [Try(10.0, {"h": 9.0})]]])
    policy = best_policy(bank, (0, 1), threads=1)
    assert policy is not None
    # Opening scores nothing itself, and there is no more to it when the time does not reach for the door.
    assert policy.next_run(policy.start, 60.0) == 0
    assert follow(policy, bank, (0, 1)).score.tolist() == [80.0]
    assert policy.value[policy.states[policy.start], int(23.0 / policy.step)] == 0.0
    assert policy.value[policy.states[policy.start], int(24.0 / policy.step)] == 80.0


def test_a_robot_that_stands_out_is_left_there_if_fetching_costs_more() -> None:
    def score(points: float) -> float:
        match = made_match(
            [made_run("Far", "d", points=TARGETS), made_run("Near", "a", points=TARGETS)], 60.0,
            rescue=Rescue(points, 5.0),
        )  # fmt: skip
        bank = made_bank(match, [[[Try(10.0, {"d": 9.0}, out=True)], [Try(10.0, {"a": 9.0}, out=True)]]])
        policy = best_policy(bank, (0, 1), threads=1)
        assert policy is not None
        return float(follow(policy, bank, (0, 1)).score[0])

    assert score(-3.0) == 40.0 + 10.0 - 3.0
    assert score(-30.0) == 40.0


def test_an_end_that_never_came_up_before_keeps_to_the_plan() -> None:
    def bank(good: bool) -> Bank:
        match = made_match(
            [made_run("One", "d", points=TARGETS), made_run("Two", "a", points=TARGETS)], 60.0, rerun="never"
        )
        return made_bank(match, [[[Try(10.0, {"d": 9.0} if good else {}, through=good)], [Try(10.0, {"a": 9.0})]]])

    policy = best_policy(bank(True), (0, 1), threads=1)
    assert policy is not None
    assert follow(policy, bank(False), (0, 1)).score.tolist() == [10.0]


def test_many_runs_are_cut_to_what_can_be_looked_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldsim.match.policy.MOST_STATES", 12)
    bank = whole_bank(np.random.default_rng(5), 8, 4)
    policy = best_policy(bank, (3, 1, 2, 0), threads=1)
    assert policy is not None
    assert 0 < len(policy.runs) < 4
    assert policy.runs == (3, 1, 2, 0)[: len(policy.runs)]
    assert len(policy.states) <= 12
    # When nothing is left to decide, the rest of the plan is driven.
    unknown = set(range(4)) - set(policy.runs)
    assert unknown & set(follow(policy, bank, (3, 1, 2, 0)).visits.run.tolist())


def test_threads_do_not_matter() -> None:
    bank = whole_bank(np.random.default_rng(7), 40, 4)
    one, four = (best_policy(bank, (0, 1, 2, 3), threads=threads) for threads in (1, 4))
    assert one is not None
    assert four is not None
    assert (one.value == four.value).all()
    assert (one.chosen == four.chosen).all()


# --- small print ----------------------------------------------------------------------------------------------------


def value(bank: Bank, plan: tuple[int, ...], margin: float = 0.0) -> float:
    policy = best_policy(bank, plan, threads=1, margin=margin)
    assert policy is not None
    return float(policy.value[policy.states[policy.start], -1])


def test_a_run_whose_needs_cannot_be_met_any_more_takes_those_it_needs_with_it() -> None:
    """The door needs both keys, and neither scores itself: once the first has failed the second is for nothing."""
    keys = [made_run("First key", "", points=TARGETS), made_run("Second key", "", points=TARGETS)]
    door = made_run("Door", "h", points=TARGETS)
    match = made_match([*keys, door], 90.0, {"Door": ("First key", "Second key")}, rerun="never")
    good, bad = Try(10.0), Try(10.0, through=False)
    bank = made_bank(match, [[[first], [good], [Try(10.0, {"h": 9.0})]] for first in (good, bad)])
    policy = best_policy(bank, (0, 1, 2), threads=1)
    assert policy is not None
    followed = follow(policy, bank, (0, 1, 2))
    assert followed.score.tolist() == [80.0, 0.0]
    assert followed.visits.run[followed.visits.match == 0].tolist() == [0, 1, 2]
    assert followed.visits.run[followed.visits.match == 1].tolist() == [0, -1]


def test_a_target_that_one_run_acts_at_twice_scores_once() -> None:
    match = made_match([made_run("Twice", "aa", points=TARGETS)], 60.0)
    assert value(made_bank(match, [[[Try(10.0, {"a": 5.0})]]]), (0,)) == 10.0


def test_a_finish_scores_once_however_often_the_run_ends_in_it() -> None:
    run = made_run("Round", "d", finish=True, points=TARGETS)
    match = made_match([run], 60.0, rerun="once", points=MatchPoints(7.0))
    tries = [Try(10.0, through=False, home=True), Try(10.0, {"d": 9.0}, home=True)]
    assert value(made_bank(match, [[tries]]), (0,)) == 40.0 + 7.0


def test_fetching_takes_the_seconds_that_were_drawn_for_it() -> None:
    """10 s for the first run, 5 for the change, 5 for fetching and 9 until the bell: 29 s, and 4 more or less where
    twice the spread was drawn."""

    def brings(limit: float, drawn: float) -> float:
        match = made_match(
            [made_run("Far", "d", points=TARGETS), made_run("Near", "a", points=TARGETS)], limit,
            {"Near": ("Far",)}, rerun="never", rescue=Rescue(0.0, 5.0, 2.0),
        )  # fmt: skip
        drawn = [[[Try(10.0, {"d": 9.0}, out=True, rescue=drawn)], [Try(9.0, {"a": 9.0}, rescue=drawn)]]]
        return value(made_bank(match, drawn), (0, 1))

    assert [brings(29.0, 0.0), brings(28.5, 0.0)] == [50.0, 40.0]
    assert [brings(33.0, 2.0), brings(32.5, 2.0)] == [50.0, 40.0]
    assert brings(25.0, -2.0) == 50.0


def test_between_the_seconds_of_the_grid_values_are_on_a_straight_line() -> None:
    """The second run scores with 50 s left and not with a step less; the first one leaves 49.9, as 0.6 of a step of
    0.25 s."""
    match = made_match(
        [made_run("One", "d", points=TARGETS), made_run("Two", "a", points=TARGETS)], 60.0, {"Two": ("One",)},
        rerun="never",
    )  # fmt: skip
    bank = made_bank(match, [[[Try(10.1, {"d": 9.0})], [Try(45.0, {"a": 45.0})]]])
    policy = best_policy(bank, (0, 1), threads=1, margin=0.0)
    assert policy is not None
    assert policy.step == 0.25
    assert policy.value[policy.states[policy.start], -1] == pytest.approx(40.0 + 0.6 * 10.0)


def test_the_plan_is_left_only_for_more_than_the_margin() -> None:
    """All targets of the runs together are 90 points, so 0.18 is the margin. There is time for one run only: the
    plan's is worth 40, the other one 50 in four of five matches and a few more."""
    match = made_match(
        [made_run("Plan's", "d", points=TARGETS), made_run("Other", "e", points=TARGETS)], 12.0, rerun="never"
    )

    def first(share: int) -> int:
        drawn = [[[Try(10.0, {"d": 9.0})], [Try(10.0, {"e": 9.0} if m < share else {})]] for m in range(400)]
        policy = best_policy(made_bank(match, drawn), (0, 1), threads=1)
        assert policy is not None
        return policy.next_run(policy.start, 12.0)

    assert [first(share) for share in (319, 321, 322, 400)] == [0, 0, 1, 1]
