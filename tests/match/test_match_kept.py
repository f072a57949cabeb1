"""Rules that a team can keep in mind: merged, shortened and left out where that costs no more than luck.

All matches are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from fieldsim.files import load_match
from fieldsim.match.answer import RuleAnswer, RuleStep
from fieldsim.match.bank import fill
from fieldsim.match.follow import follow
from fieldsim.match.kept import followed_by, worth_keeping
from fieldsim.match.play import Floats, play
from fieldsim.match.policy import best_policy
from fieldsim.match.study import study
from fieldsim.sim.draws import BLOCK

BAKERY = Path(__file__).parents[2] / "runs" / "bakery" / "match.yaml"
NOISE = np.random.default_rng(5).normal(0.0, 1.0, 1000)


def rule(after: str, *steps: tuple[float, str], still: tuple[str, ...] = (), often: float = 0.1) -> RuleAnswer:
    return RuleAnswer(after, False, still, often, tuple(RuleStep(*step) for step in steps))


def scored(worth: dict[tuple[str, int], float]) -> Callable[[Sequence[RuleAnswer]], Floats]:
    """Scores by what each rule with so many steps is worth, each with luck of its own: its mean over 4,000 matches has
    a standard error of 2 / 63 = 0.032."""

    def score(rules: Sequence[RuleAnswer]) -> Floats:
        found = np.zeros(4000)
        for each in rules:
            luck = np.random.default_rng(sum(map(ord, each.after))).normal(0.0, 2.0, 4000)
            found = found + worth.get((each.after, len(each.steps)), 0.0) + luck - luck.mean()
        return found

    return score


def test_what_is_worth_nothing_is_left_out_and_what_is_worth_much_stays() -> None:
    rules = [rule("a", (30.0, "b")), rule("b", (20.0, "c")), rule("c", (40.0, "a"), (10.0, "b"))]
    worth = {("a", 1): 5.0, ("b", 1): 0.0, ("c", 2): 2.0, ("c", 1): 2.0}
    kept = worth_keeping(rules, scored(worth))
    assert [each.after for each in kept] == ["a", "c"]
    # The second stretch of time of the last one brings nothing either.
    assert [len(each.steps) for each in kept] == [1, 1]
    worth[("c", 1)] = 1.0
    kept = worth_keeping(rules, scored(worth))
    assert [len(each.steps) for each in kept] == [1, 2]


def test_small_losses_do_not_add_up() -> None:
    """Ten rules, each worth less than its interval, all together far more: they are not all left out."""
    rules = [rule(f"run {n}", (30.0, "other")) for n in range(10)]
    worth = {(f"run {n}", 1): 0.03 for n in range(10)}
    kept = worth_keeping(rules, scored(worth))
    assert 3 <= len(kept) < 10


def test_a_run_that_comes_back_with_less_time_left_is_told_once() -> None:
    """No 'A at 53, B at 48, A below'."""
    rules = [rule("a", (53.0, "a"), (48.0, "b"), (20.0, "a"))]
    (kept,) = worth_keeping(rules, scored({("a", 1): 3.0, ("a", 3): 3.0}))
    assert [step.run for step in kept.steps] == ["a"]
    with_more = [rule("a", (60.0, "c"), (53.0, "a"), (48.0, "b"), (20.0, "a"))]
    (kept,) = worth_keeping(with_more, scored({("a", 2): 3.0, ("a", 4): 3.0}))
    assert [step.run for step in kept.steps] == ["c", "a"]


def test_two_rules_after_the_same_become_one() -> None:
    rules = [
        rule("a", (30.0, "b"), still=("a", "b"), often=0.2), rule("a", (28.0, "b"), still=("a", "b", "c"), often=0.05),
    ]  # fmt: skip
    (kept,) = worth_keeping(rules, lambda some: np.full(1000, 1.0 if some else 0.0) + NOISE)
    assert kept.still == ()
    assert kept.often == pytest.approx(0.25)
    assert kept.steps == (RuleStep(30.0, "b"),)


def test_without_rules_the_order_as_written_is_played() -> None:
    match = load_match(BAKERY)
    bank = fill(match, BLOCK, 3)
    policy = best_policy(bank, (0, 1, 2))
    assert policy is not None
    np.testing.assert_allclose(followed_by((), policy, bank, (0, 1, 2)), play(bank, (0, 1, 2)).score)
    # A rule for what the order does anyway changes nothing; one that stops after the first failure does.
    names = [each.name for each in match.runs]
    same = RuleAnswer(names[0], True, (), 0.5, (RuleStep(0.0, names[1]),))
    np.testing.assert_allclose(followed_by([same], policy, bank, (0, 1, 2)), play(bank, (0, 1, 2)).score)
    stops = RuleAnswer(names[0], False, (), 0.5, (RuleStep(0.0, ""),))
    through = bank.drawn.through[:, 0, 0].astype(bool)
    stopped = followed_by([stops], policy, bank, (0, 1, 2))
    np.testing.assert_allclose(stopped[through], play(bank, (0, 1, 2)).score[through])
    assert stopped[~through].mean() < play(bank, (0, 1, 2)).score[~through].mean()


def test_what_is_kept_of_the_bakerys_rules_scores_nearly_all() -> None:
    """Judged on fresh matches: more than the order as written for certain, and little less than the policy."""
    answer = study(load_match(BAKERY), trials=4000)
    policy = answer.policy
    assert policy is not None
    assert sum(len(each.steps) for each in policy.kept) < sum(len(each.steps) for each in policy.rules_as_written)
    assert policy.kept_worth.low > 0
    assert policy.kept_worth.mean > 0.7 * policy.over_written.mean
    pairs = [(each.after, each.through) for each in policy.kept]
    assert len(pairs) == len(set(pairs))


def test_rulings_are_followed_by_the_time_left() -> None:
    match = load_match(BAKERY)
    bank = fill(match, BLOCK, 3)
    policy = best_policy(bank, (0, 1, 2))
    assert policy is not None
    followed = follow(policy, bank, (0, 1, 2), rulings=())
    assert followed.as_planned.all()
