"""The answer of ``fieldsim match`` in words, and as plain dictionaries for JSON."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, ceiled, fixed, floored, how_often, how_often_shortly, listed, no_proof
from fieldsim.report.statement import Points, Row, Section, Statement, Table, rows, statement_text

if TYPE_CHECKING:
    from fieldsim.match.answer import (
        Estimate,
        MatchAnswer,
        MatchRunAnswer,
        OrderAnswer,
        PolicyAnswer,
        RuleAnswer,
        WorthAnswer,
    )
    from fieldsim.stats.intervals import Share

TITLE_CELLS = 40

# Lines told of what practice is worth.
WORTH_SHOWN = 8

_AGAIN = {
    "never": tr_later("no run is tried again"),
    "once": tr_later("a run that failed is tried again once, if there is something left in it"),
    "while time is left": tr_later(
        "a run that failed is tried again while there is time, if there is something left in it"
    ),
}


def again_words(rerun: str) -> str:
    """Whether a run that failed is tried again."""
    return tr(_AGAIN[rerun])


def match_text(answer: MatchAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(match_statement(answer), width)


def match_statement(answer: MatchAnswer) -> Statement:
    """The answer as a statement."""
    name, field = shorten(answer.match, TITLE_CELLS), shorten(answer.field, TITLE_CELLS)
    robots = listed([shorten(robot, NAME_CELLS) for robot in answer.robots])
    found = [
        Section(tr("The runs, in the order as written"), (_runs(answer.written, answer.trials),)),
        Section(tr("Where the seconds go"), (_spent(answer),)),
        Section(tr("Which order, and what to drop"), tuple(_order(answer))),
    ]
    if answer.policy is not None:
        found.append(Section(tr("When to change the plan"), tuple(_policy(answer, answer.policy))))
    if answer.worth:
        heads = (
            tr("what gets better"), tr("1 s faster, or 1 more success in 100"), tr("5 s faster, or 5 more in 100"),
        )  # fmt: skip
        made = rows(_worth(each) for each in answer.worth[:WORTH_SHOWN])
        table = Table(heads, made, ("", tr("1 s, or 1 in 100"), tr("5 s, or 5 in 100")))
        found.append(Section(tr("Where practice pays most, in points a match"), (table,)))
    if answer.notes:
        found.append(Section(tr("Taken for granted"), (Points(answer.notes),)))
    return Statement(
        name=tr("{match}: the match", match=name),
        title=tr_many(
            "{match}: {n} run in {limit:g} s on {field}, driven by {robots}",
            "{match}: {n} runs in {limit:g} s on {field}, driven by {robots}",
            len(answer.written.order), match=name, limit=answer.limit, field=field, robots=robots,
        ),
        about=(
            tr_many("{n} match, seed {seed}; {again}", "{n} matches, seed {seed}; {again}",
                    answer.trials, seed=answer.seed, again=again_words(answer.rerun)),
            tr("The robot has one day a match: what differs from day to day is the same in all its runs."),
        ),
        headline=headline(answer),
        further=tuple(spread_words(answer.written, answer.limit, answer.trials)),
        sections=tuple(found),
        advice=tuple(_advice(answer)),
        closing=(no_proof(),),
    )  # fmt: skip


def headline(answer: MatchAnswer) -> str:
    """The one sentence: 'As written it scores 56.5 points on average (56.1 to 56.9).'"""
    return average_words(answer.written)


def average_words(order: OrderAnswer) -> str:
    return tr("As written it scores {points} points on average.", points=points_words(order.score.mean))


def spread_words(order: OrderAnswer, limit: float, trials: int) -> Iterator[str]:
    """What it scores in bad, middling and good matches, and how often there is time for all runs."""
    score = order.score
    yield tr(
        "In 1 of 20 matches it is {low} points or less, in half of them {middle} or less, in 1 of 20 {high} or more.",
        low=fixed(score.p05.mean, 0), middle=fixed(score.median.mean, 0), high=fixed(score.p95.mean, 0),
    )  # fmt: skip
    often = how_often(order.inside, trials)
    yield tr("There is time for every run before {limit:g} s: {often}.", limit=limit, often=often)


def _decimals(each: Estimate) -> int:
    """How finely a mean can be told: never finer than half of its interval."""
    half = (each.high - each.low) / 2
    return 0 if half >= 2 else 1 if half >= 0.05 or half == 0 else 2


def points_words(each: Estimate, sign: float = 1.0) -> str:
    """'56.5 (56.1 to 56.9)': the ends rounded outwards."""
    mean, (low, high) = sign * each.mean, sorted((sign * each.low, sign * each.high))
    decimals = _decimals(each)
    told = fixed(mean, decimals)
    if not isfinite(high - low) or low == high:
        return told
    return _with_ends(told, floored(low, decimals), ceiled(high, decimals))


def _with_ends(told: str, low: str, high: str) -> str:
    return tr("{value} ({low} to {high})", value=told, low=low, high=high)


def _runs(order: OrderAnswer, trials: int) -> Table:
    through, points, without = tr("through in time"), tr("points"), tr("without it")
    heads = (
        tr("run"), through, points, tr("seconds, by hand"), tr("points a second"), tr("the match without it"),
    )  # fmt: skip
    short = ("", through, points, tr("s, by hand"), tr("points/s"), without)
    told = tuple(
        Row(_run(each, trials), (left,) if (left := not_begun(each.begun, trials)) else ()) for each in order.runs
    )
    return Table(heads, told, short, below_head=tr("how often not begun"))


def not_begun(begun: Share, trials: int) -> str:
    """'not begun in 40 of 100 matches'; empty where that is less than 1 in 200."""
    if trials <= 0 or begun.share > 0.995:
        return ""
    return tr("not begun in {n} of 100 matches", n=round(100 * (1.0 - begun.share)))


def _run(each: MatchRunAnswer, trials: int) -> tuple[str, str, str, str, str, str]:
    name = shorten(each.run, NAME_CELLS)
    often = how_often_shortly(each.success, trials)
    seconds = f"{fixed(each.seconds.mean, 1)} + {fixed(each.by_hand.mean, 1)}"
    second = "" if each.per_second is None else fixed(each.per_second, 2)
    without = "" if each.without is None else _against(each.without)
    return name, often, points_words(each.points), seconds, second, without


def _against(gain: Estimate) -> str:
    """'10.1 fewer', shortly."""
    if gain.low == gain.high == 0:
        return tr("the same")
    if gain.truly == 0:
        return tr("no more than luck")
    points = fixed(abs(gain.mean), max(1, _decimals(gain)))
    return tr("{points} more", points=points) if gain.truly > 0 else tr("{points} fewer", points=points)


def gain_words(gain: Estimate) -> str:
    """'3.2 (2.9 to 3.5) points more', 'the same', or 'no more than luck could make'."""
    if gain.low == gain.high == 0:
        return tr("the same")
    if gain.truly == 0:
        return tr("no more than luck could make")
    points = points_words(gain, gain.truly)
    return tr("{points} points more", points=points) if gain.truly > 0 else tr("{points} points fewer", points=points)


def _spent(answer: MatchAnswer) -> Table:
    spent = answer.written.spent
    named = (
        (tr("driving"), spent.driving),
        (tr("acting at targets"), spent.acting),
        (tr("changing over by hand"), spent.changing),
        (tr("fetching the robot"), spent.rescuing),
        (tr("left at the end"), spent.left),
    )
    made = rows(
        (
            what,
            tr("{time} s", time=points_words(each)),
            tr("{share:.0f} in 100", share=each.mean / answer.limit * 100),
        )
        for what, each in named
        if each.mean > 0
    )
    return Table((tr("what"), tr("seconds a match"), tr("of the clock")), made, ())


def _order(answer: MatchAnswer) -> Iterator[str | Table]:
    best = answer.best
    if best.order == answer.written.order:
        if best.exact:
            yield tr("The order as written is the best: no other of all {tried} did better.", tried=best.tried)
        else:
            yield tr("The order as written is the best that was found.")
    else:
        order = tr(", then ").join(shorten(name, NAME_CELLS) for name in best.order)
        if best.dropped:
            dropped = listed([shorten(name, NAME_CELLS) for name in best.dropped])
            yield tr("Best: {order}; leave out {dropped}.", order=order, dropped=dropped)
        else:
            yield tr("Best: {order}.", order=order)
        told = tr("On the same matches it scores against the order as written: {gain}.", gain=gain_words(best.gain))
        yield told if best.gain.truly > 0 else f"{told} " + tr("Take the one you like better.")
        yield tr(
            "So it scores {points} points on average; there is time for all its runs: {often}.",
            points=points_words(best.result.score.mean), often=how_often(best.result.inside, answer.trials),
        )  # fmt: skip
    if best.exact:
        yield tr("Every order of every choice of runs was played: {tried}.", tried=best.tried)
    else:
        yield tr(
            "{tried} orders and beginnings of orders were played. That none of the others is more than {points} points "
            "better is proven; most likely none is by nearly as much.",
            tried=best.tried, points=ceiled(best.at_most_better, 1),
        )  # fmt: skip
    yield tr(
        "Which order is best was chosen on {matches} other matches than these, so luck does not flatter it.",
        matches=best.chosen_on,
    )


def _policy(answer: MatchAnswer, policy: PolicyAnswer) -> Iterator[str | Points]:
    yield tr(
        "Who looks at the clock after each run and decides then scores {points} points on average. Against the order "
        "as written: {written}. Against the best order: {best}.",
        points=points_words(policy.score), written=gain_words(policy.over_written), best=gain_words(policy.over_best),
    )  # fmt: skip
    if policy.rules:
        yield Points(tuple(rule_words(rule) for rule in policy.rules))
        often = how_often(policy.follows_best, answer.trials)
        yield tr("Matches in which the plan stays as it is: {often}.", often=often)
    else:
        yield tr("Nothing is better than to keep to the best order, however much time is left.")
    if set(answer.written.order) - set(policy.knows):
        yield tr(
            "There are too many runs to look ahead through all of them: it decides about {known}, and the others "
            "follow in the order as it is.",
            known=len(policy.knows),
        )


def rule_words(rule: RuleAnswer) -> str:
    """'After Flour round failed: 31 s left or more: try it again; under 31 s: go for Yard bell.'"""
    return f"{_where_words(rule)}: {_choice_words(rule)}."


def _where_words(rule: RuleAnswer) -> str:
    if not rule.after:
        return tr("At the start")
    run = shorten(rule.after, NAME_CELLS)
    still = listed([shorten(name, NAME_CELLS) for name in rule.still if name != rule.after])
    if rule.through and still:
        return tr("After {run} got through, with {still} still to come", run=run, still=still)
    if rule.through:
        return tr("After {run} got through", run=run)
    if still:
        return tr("After {run} failed, with {still} still to come", run=run, still=still)
    return tr("After {run} failed", run=run)


def _choice_words(rule: RuleAnswer) -> str:
    """'try it again', or by the clock: '53 s left or more: go for Oven lever; 48 to 53 s: go for Yard bell; under 48
    s: stop there'."""
    said = []
    for number, (least, run) in enumerate(rule.steps):
        if not run:
            do = tr("stop there")
        elif run == rule.after:
            do = tr("try it again")
        else:
            do = tr("go for {run}", run=shorten(run, NAME_CELLS))
        above = rule.steps[number - 1][0] if number else None
        if len(rule.steps) == 1:
            said.append(do)
        elif above is None:
            said.append(tr("{time} s left or more: {do}", time=fixed(least, 0), do=do))
        elif number < len(rule.steps) - 1:
            said.append(tr("{low} to {high} s: {do}", low=fixed(least, 0), high=fixed(above, 0), do=do))
        else:
            said.append(tr("under {time} s: {do}", time=fixed(above, 0), do=do))
    return "; ".join(said)


def _worth(each: WorthAnswer) -> tuple[str, str, str]:
    return worth_words(each), _more(each.one), _more(each.five)


def _more(gain: Estimate) -> str:
    if gain.low == gain.high == 0:
        return tr("nothing")
    if gain.truly == 0:
        return tr("no more than luck")
    decimals = 2 if abs(gain.mean) < 1 else 1
    return _with_ends(fixed(gain.mean, decimals), floored(gain.low, decimals), ceiled(gain.high, decimals))


def worth_words(each: WorthAnswer) -> str:
    """What gets better: 'every changeover, a second each'."""
    what = shorten(each.what, NAME_CELLS)
    match each.kind:
        case "changeover":
            return tr("every changeover quicker")
        case "change":
            return tr("the change from {what} quicker", what=what)
        case "rescue":
            return tr("every fetching of the robot quicker")
        case "run":
            return tr("{run} quicker", run=what)
    return tr("{run} more often through", run=what)


def _advice(answer: MatchAnswer) -> Iterator[str]:
    best = answer.best
    if best.order != answer.written.order and best.gain.truly > 0:
        order = ", ".join(shorten(name, NAME_CELLS) for name in best.order)
        yield tr(
            "Drive them in this order: {order}. It was worth {points} points here.",
            order=order, points=points_words(best.gain),
        )  # fmt: skip
    paying = next((each for each in answer.worth if each.five.truly > 0), None)
    if paying is not None:
        yield tr("Practise what pays most: {what}.", what=worth_words(paying))
    if answer.policy is not None and answer.policy.over_best.truly > 0 and answer.policy.rules:
        yield tr("Let somebody watch the clock, and agree beforehand when to change the plan.")
    late = max(answer.written.runs, key=lambda each: each.cut.share)
    if late.cut.low > 0.5:
        yield tr(
            "There is mostly no time for {run}: it is late or cut off {often}.",
            run=shorten(late.run, NAME_CELLS), often=how_often(late.cut, answer.trials),
        )  # fmt: skip
    yield tr("See with try why a run fails, and with causes what breaks it.")


def clock_axis() -> str:
    return tr("seconds on the clock")


def picture_note() -> str:
    return tr("bar: from the middle start to the middle end; thin lines: 18 of 20 starts (round) and ends (square)")
