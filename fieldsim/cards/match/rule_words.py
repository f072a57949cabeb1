"""When to change the plan, as a table: what has happened, and by the time that is left what comes next."""

from __future__ import annotations

from math import ceil
from typing import NamedTuple

from fieldsim.cards.match.card import MatchCard
from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.match.answer import RuleAnswer
from fieldsim.report.phrases import listed

NAME_CELLS = 24


class RuleCell(NamedTuple):
    when: str
    """How much time is left; '' where that does not matter."""
    do: str


class RuleRow(NamedTuple):
    happened: str
    cells: tuple[RuleCell, ...]


def rule_rows(card: MatchCard) -> list[RuleRow]:
    """The rules, in the order in which their runs are driven."""
    order = [step.run for step in card.steps]
    rules = sorted(card.rules, key=lambda rule: order.index(rule.after) if rule.after else -1)
    return [RuleRow(_happened(card, rule), tuple(_cells(rule))) for rule in rules]


def _happened(card: MatchCard, rule: RuleAnswer) -> str:
    if not rule.after:
        return tr("At the start")
    run = shorten(rule.after, NAME_CELLS)
    words = tr("{run} got through", run=run) if rule.through else tr("{run} failed", run=run)
    # What is still to come is told only where two rules differ by it.
    alike = [each for each in card.rules if (each.after, each.through) == (rule.after, rule.through)]
    still = [shorten(name, NAME_CELLS) for name in rule.still if name != rule.after]
    if len(alike) > 1 and still:
        return tr("{happened}, {runs} still to come", happened=words, runs=listed(still))
    return words


def _cells(rule: RuleAnswer) -> list[RuleCell]:
    found = []
    above = None
    for number, (least, run) in enumerate(rule.steps):
        # Up to whole seconds: with less than that there is not so much left.
        whole = ceil(least - 1e-9)
        if len(rule.steps) == 1:
            when = ""
        elif above is None:
            when = tr("{time} s left or more", time=whole)
        elif number < len(rule.steps) - 1:
            when = tr("{low} to {high} s left", low=whole, high=above)
        else:
            when = tr("less than {time} s left", time=above)
        found.append(RuleCell(when, _do(rule, run)))
        above = whole
    return found


def _do(rule: RuleAnswer, run: str) -> str:
    if not run:
        return tr("stop there")
    name = shorten(run, NAME_CELLS)
    return tr("{run} again", run=name) if run == rule.after else name
