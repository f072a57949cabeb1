"""The few rules of a policy that are worth keeping in mind, merged as far as that costs no more than luck would.

A policy has an answer for every state and every second; a team at the table has two seconds. So its rules are taken
one by one: two that differ only in what is still to come become one, one with several stretches of time gets fewer, one
is left out, whenever matches that are followed by what remains score no less than chance can tell. That is decided on
the matches the policy was made on, as paired differences on the same luck; what the remaining rules are worth is
measured on others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

from fieldsim.match.answer import RuleAnswer, RuleStep
from fieldsim.match.bank import Bank
from fieldsim.match.follow import Ruling, follow
from fieldsim.match.play import Floats, Order
from fieldsim.match.policy import Policy
from fieldsim.stats.intervals import mean_interval

Score = Callable[[Sequence[RuleAnswer]], Floats]


def followed_by(rules: Sequence[RuleAnswer], policy: Policy, bank: Bank, written: Order) -> Floats:
    """(M,) what matches score in the order as written, but for these rules."""
    names = [each.name for each in bank.match.runs]
    number = {name: n for n, name in enumerate(names)}
    rulings = [
        Ruling(
            number.get(rule.after, len(names)), rule.through, tuple(number[name] for name in rule.still),
            tuple((least, number.get(run, -1)) for least, run in rule.steps),
        )
        for rule in rules
    ]  # fmt: skip
    return follow(policy, bank, written, rulings=rulings).score


def worth_keeping(rules: Sequence[RuleAnswer], score: Score) -> tuple[RuleAnswer, ...]:
    """Rules that are each worth more than their interval; ``score`` is what matches score by some rules."""
    kept = [_without_return(rule) for rule in rules]
    whole = score(kept)
    again = bool(kept)
    while again:
        again = False
        for candidate in (each for fewer in (_merged, _dropped, _shorter) for each in fewer(kept)):
            # Against all the rules, not against those that were left last: small losses must not add up.
            _, low, _ = mean_interval(whole - score(candidate))
            if low <= 0:
                kept, again = candidate, True
                break
    return tuple(kept)


def _without_return(rule: RuleAnswer) -> RuleAnswer:
    """A rule that comes back to a run with less time left is told without what lies between: nobody keeps such a thing
    in mind, and so short a stretch is worth little."""
    steps = list(rule.steps)
    while True:
        runs = [step.run for step in steps]
        at = next(((i, j) for i, j in combinations(range(len(runs)), 2) if runs[i] == runs[j]), None)
        if at is None:
            return RuleAnswer(rule.after, rule.through, rule.still, rule.often, tuple(steps))
        i, j = at
        steps[i : j + 1] = [RuleStep(steps[j].seconds_left, runs[j])]


def _merged(rules: list[RuleAnswer]) -> Iterator[list[RuleAnswer]]:
    """Two that come after the same as one, which says what the more frequent one says."""
    for i, j in combinations(range(len(rules)), 2):
        one, other = rules[i], rules[j]
        if (one.after, one.through) == (other.after, other.through):
            often, seldom = (one, other) if one.often >= other.often else (other, one)
            whole = RuleAnswer(often.after, often.through, (), often.often + seldom.often, often.steps)
            yield [*rules[:i], whole, *rules[i + 1 : j], *rules[j + 1 :]]


def _dropped(rules: list[RuleAnswer]) -> Iterator[list[RuleAnswer]]:
    """One of them left out, the least frequent first."""
    for i in sorted(range(len(rules)), key=lambda i: rules[i].often):
        yield [*rules[:i], *rules[i + 1 :]]


def _shorter(rules: list[RuleAnswer]) -> Iterator[list[RuleAnswer]]:
    """One of them with a stretch of time less, which its neighbour takes."""
    for i, rule in enumerate(rules):
        for n in range(len(rule.steps) if len(rule.steps) > 1 else 0):
            steps = list(rule.steps)
            gone = steps.pop(n)
            if n == len(steps):
                # The last one reaches down to where that began.
                steps[-1] = RuleStep(gone.seconds_left, steps[-1].run)
            short = RuleAnswer(rule.after, rule.through, rule.still, rule.often, tuple(steps))
            yield [*rules[:i], short, *rules[i + 1 :]]
