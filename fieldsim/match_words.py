"""The answer of ``fieldsim match`` in words, and as plain dictionaries for JSON."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any

from fieldsim.answer import Share
from fieldsim.lettering import shorten
from fieldsim.match_answer import (
    Estimate,
    MatchAnswer,
    MatchRunAnswer,
    OrderAnswer,
    PolicyAnswer,
    RuleAnswer,
    WorthAnswer,
)
from fieldsim.phrases import NAME_CELLS, ceiled, fixed, floored, how_often, no_proof
from fieldsim.statement import Points, Section, Statement, Table, rows, statement_text

TITLE_CELLS = 40

# Lines told of what practice is worth.
WORTH_SHOWN = 8

AGAIN = {
    "never": "no run is tried again",
    "once": "a run that failed is tried again once, if there is something left in it",
    "while time is left": "a run that failed is tried again while there is time, if there is something left in it",
}
NOT_CHOSEN_HERE = "Which order is best was chosen on {matches} other matches than these, so luck does not flatter it."


def match_text(answer: MatchAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(match_statement(answer), width)


def match_statement(answer: MatchAnswer) -> Statement:
    """The answer as a statement."""
    name, field = shorten(answer.match, TITLE_CELLS), shorten(answer.field, TITLE_CELLS)
    robots = " and ".join(shorten(robot, NAME_CELLS) for robot in answer.robots)
    count = len(answer.written.order)
    found = [
        Section("The runs, in the order as written", (_runs(answer.written, answer.trials),)),
        Section("Where the seconds go", (_spent(answer),)),
        Section("Which order, and what to drop", tuple(_order(answer))),
    ]
    if answer.policy is not None:
        found.append(Section("When to change the plan", tuple(_policy(answer, answer.policy))))
    if answer.worth:
        heads = ("what gets better", "by one: a second, or a success more in 100", "by five")
        made = rows(_worth(each) for each in answer.worth[:WORTH_SHOWN])
        found.append(
            Section("Where practice pays most, in points a match", (Table(heads, made, ("", "by one", "by five")),))
        )
    if answer.notes:
        found.append(Section("Taken for granted", (Points(answer.notes),)))
    return Statement(
        name=f"{name}: the match",
        title=f"{name}: {count} run{'' if count == 1 else 's'} in {answer.limit:g} s on {field}, driven by {robots}",
        about=(
            f"{answer.trials} matches, seed {answer.seed}; {AGAIN[answer.rerun]}",
            "The robot has one day a match: what differs from day to day is the same in all its runs.",
        ),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=tuple(found),
        advice=tuple(_advice(answer)),
        closing=(no_proof(),),
    )


def headline(answer: MatchAnswer) -> str:
    """The one sentence: 'As written it scores 56.5 points on average (56.1 to 56.9).'"""
    return f"As written it scores {_points(answer.written.score.mean)} points on average."


def _further(answer: MatchAnswer) -> Iterator[str]:
    score = answer.written.score
    yield (
        f"In 1 of 20 matches it is {fixed(score.p05.mean, 0)} points or less, in half of them "
        f"{fixed(score.median.mean, 0)} or less, in 1 of 20 {fixed(score.p95.mean, 0)} or more."
    )
    often = how_often(answer.written.inside, answer.trials)
    yield f"All runs are driven to their end before {answer.limit:g} s: {often}."


def _decimals(each: Estimate) -> int:
    """How finely a mean can be told: never finer than half of its interval."""
    half = (each.high - each.low) / 2
    return 0 if half >= 2 else 1 if half >= 0.05 or half == 0 else 2


def _points(each: Estimate, sign: float = 1.0) -> str:
    """'56.5 (56.1 to 56.9)': the ends rounded outwards."""
    mean, (low, high) = sign * each.mean, sorted((sign * each.low, sign * each.high))
    decimals = _decimals(each)
    told = fixed(mean, decimals)
    if not isfinite(high - low):
        return told
    return told if low == high else f"{told} ({floored(low, decimals)} to {ceiled(high, decimals)})"


def _runs(order: OrderAnswer, trials: int) -> Table:
    heads = ("run", "through in time", "points", "seconds, by hand", "points a second", "the match without it")
    short = ("", "through in time", "points", "s, by hand", "points/s", "without it")
    return Table(heads, rows(_run(each, trials) for each in order.runs), short)


def _run(each: MatchRunAnswer, trials: int) -> tuple[str, str, str, str, str, str]:
    name = shorten(each.run, NAME_CELLS)
    often = how_often(each.success, trials).partition(" (")[0]
    seconds = f"{fixed(each.seconds.mean, 1)} + {fixed(each.by_hand.mean, 1)}"
    second = "" if each.per_second is None else fixed(each.per_second, 2)
    without = "" if each.without is None else _against(each.without)
    return name, often, _points(each.points), seconds, second, without


def _against(gain: Estimate) -> str:
    """'10.1 fewer', shortly."""
    if gain.low == gain.high == 0:
        return "the same"
    if gain.truly == 0:
        return "no more than luck"
    return f"{fixed(abs(gain.mean), max(1, _decimals(gain)))} {'more' if gain.truly > 0 else 'fewer'}"


def gain_words(gain: Estimate) -> str:
    """'3.2 points more (2.9 to 3.5)', 'the same', or 'no more than luck'."""
    if gain.low == gain.high == 0:
        return "the same"
    if gain.truly == 0:
        return "no more than luck could make"
    return f"{_points(gain, gain.truly)} points {'more' if gain.truly > 0 else 'fewer'}"


def _spent(answer: MatchAnswer) -> Table:
    spent = answer.written.spent
    named = (
        ("driving", spent.driving),
        ("acting at targets", spent.acting),
        ("changing over by hand", spent.changing),
        ("fetching the robot", spent.rescuing),
        ("left at the end", spent.left),
    )
    made = rows(
        (what, f"{_points(each)} s", f"{each.mean / answer.limit * 100:.0f} in 100")
        for what, each in named
        if each.mean > 0
    )
    return Table(("what", "seconds a match", "of the clock"), made, ())


def _order(answer: MatchAnswer) -> Iterator[str | Table]:
    best = answer.best
    if best.order == answer.written.order:
        yield (
            "The order as written is the best that was found."
            if not best.exact
            else (f"The order as written is the best: no other of all {best.tried} did better.")
        )
    else:
        order = ", then ".join(shorten(name, NAME_CELLS) for name in best.order)
        dropped = " and ".join(shorten(name, NAME_CELLS) for name in best.dropped)
        yield f"Best: {order}{f'; leave out {dropped}' if dropped else ''}."
        verdict = "" if best.gain.truly > 0 else " Take the one you like better."
        yield f"On the same matches it scores against the order as written: {gain_words(best.gain)}.{verdict}"
        yield (
            f"So it scores {_points(best.result.score.mean)} points on average; all its runs are driven to their end "
            f"in time: {how_often(best.result.inside, answer.trials)}."
        )
    if best.exact:
        yield f"Every order of every choice of runs was played: {best.tried}."
    else:
        yield (
            f"{best.tried} orders and beginnings of orders were played. That none of the others is more than "
            f"{ceiled(best.at_most_better, 1)} points better is proven; most likely none is by nearly as much."
        )
    yield NOT_CHOSEN_HERE.format(matches=best.chosen_on)


def _policy(answer: MatchAnswer, policy: PolicyAnswer) -> Iterator[str | Points]:
    yield (
        f"Who looks at the clock after each run and decides then scores {_points(policy.score)} points on average. "
        f"Against the order as written: {gain_words(policy.over_written)}. Against the best order: "
        f"{gain_words(policy.over_best)}."
    )
    if policy.rules:
        yield Points(tuple(rule_words(rule) for rule in policy.rules))
    else:
        yield "Nothing is better than to keep to the best order, however much time is left."
    same = policy.follows_best
    if policy.rules:
        yield f"Matches in which the plan stays as it is: {how_often(same, answer.trials)}."
    if set(answer.written.order) - set(policy.knows):
        yield (
            f"There are too many runs to look ahead through all of them: it decides about {len(policy.knows)}, and the "
            "others follow in the order as it is."
        )


def rule_words(rule: RuleAnswer) -> str:
    """'After Flour round failed: with 31 s left or more try it again, with less go for Yard bell.'"""
    if not rule.after:
        begun = "At the start"
    else:
        begun = f"After {shorten(rule.after, NAME_CELLS)} {'got through' if rule.through else 'failed'}"
        still = [shorten(name, NAME_CELLS) for name in rule.still if name != rule.after]
        if still:
            begun += f", with {' and '.join(still)} still to come"
    said = []
    for number, (least, run) in enumerate(rule.steps):
        do = "stop there" if not run else "try it again" if run == rule.after else f"go for {shorten(run, NAME_CELLS)}"
        if len(rule.steps) == 1:
            said.append(do)
        elif number < len(rule.steps) - 1:
            said.append(f"with {fixed(least, 0)} s left or more {do}")
        else:
            said.append(f"with less {do}")
    return f"{begun}: {', '.join(said)}."


def _worth(each: WorthAnswer) -> tuple[str, str, str]:
    return worth_words(each), _more(each.one), _more(each.five)


def _more(gain: Estimate) -> str:
    if gain.low == gain.high == 0:
        return "nothing"
    if gain.truly == 0:
        return "no more than luck"
    decimals = 2 if abs(gain.mean) < 1 else 1
    return f"{fixed(gain.mean, decimals)} ({floored(gain.low, decimals)} to {ceiled(gain.high, decimals)})"


def worth_words(each: WorthAnswer) -> str:
    """What gets better: 'every changeover, a second each'."""
    what = shorten(each.what, NAME_CELLS)
    match each.kind:
        case "changeover":
            return "every changeover quicker"
        case "change":
            return f"the change from {what} quicker"
        case "rescue":
            return "every fetching of the robot quicker"
        case "run":
            return f"{what} quicker"
    return f"{what} more often through"


def _advice(answer: MatchAnswer) -> Iterator[str]:
    best = answer.best
    if best.order != answer.written.order and best.gain.truly > 0:
        order = ", ".join(shorten(name, NAME_CELLS) for name in best.order)
        yield f"Drive them in this order: {order}. It was worth {_points(best.gain)} points here."
    paying = next((each for each in answer.worth if each.five.truly > 0), None)
    if paying is not None:
        yield f"Practise what pays most: {worth_words(paying)}."
    if answer.policy is not None and answer.policy.over_best.truly > 0 and answer.policy.rules:
        yield "Let somebody watch the clock, and agree beforehand when to change the plan."
    late = max(answer.written.runs, key=lambda each: each.cut.share)
    if late.cut.low > 0.5:
        often = how_often(late.cut, answer.trials)
        yield f"There is mostly no time for {shorten(late.run, NAME_CELLS)}: it is late or cut off {often}."
    yield "See with try why a run fails, and with causes what breaks it."


# --- JSON ----------------------------------------------------------------------------------------------------------


def match_json(answer: MatchAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim match``. The keys are a promise: add some, never rename or drop one."""
    best = answer.best
    return {
        "command": "match",
        "version": answer.version,
        "match": answer.match,
        "field": answer.field,
        "robots": list(answer.robots),
        "limit": answer.limit,
        "rerun": answer.rerun,
        "trials": answer.trials,
        "seed": answer.seed,
        **_order_json(answer.written),
        "best": {
            "order": list(best.order),
            "dropped": list(best.dropped),
            "gain": _estimate(best.gain),
            "chosen_on": best.chosen_on,
            "tried": best.tried,
            "exact": best.exact,
            "at_most_better": best.at_most_better,
            **_order_json(best.result),
        },
        "worth": [
            {"kind": each.kind, "what": each.what, "one": _estimate(each.one), "five": _estimate(each.five)}
            for each in answer.worth
        ],
        "policy": None
        if answer.policy is None
        else {
            "score": _estimate(answer.policy.score),
            "over_written": _estimate(answer.policy.over_written),
            "over_best": _estimate(answer.policy.over_best),
            "follows_best": _share(answer.policy.follows_best),
            "rules": [
                {
                    "after": rule.after,
                    "through": rule.through,
                    "still": list(rule.still),
                    "often": rule.often,
                    "steps": [{"seconds_left": least, "run": run} for least, run in rule.steps],
                }
                for rule in answer.policy.rules
            ],
            "knows": list(answer.policy.knows),
        },
        "notes": list(answer.notes),
    }


def _order_json(order: OrderAnswer) -> dict[str, Any]:
    score, spent = order.score, order.spent
    return {
        "score": {
            "mean": score.mean.mean,
            "low": _number(score.mean.low),
            "high": _number(score.mean.high),
            "sd": score.sd,
            **{
                key: value
                for name, each in (("p05", score.p05), ("median", score.median), ("p95", score.p95))
                for key, value in ((name, each.mean), (f"{name}_low", each.low), (f"{name}_high", each.high))
            },
        },
        "inside_clock": _share(order.inside),
        "runs": [
            {
                "run": each.run,
                "points": each.points.mean,
                "points_low": _number(each.points.low),
                "points_high": _number(each.points.high),
                "rescues": each.rescues,
                "seconds": each.seconds.mean,
                "by_hand": each.by_hand.mean,
                "per_second": each.per_second,
                "success": _share(each.success),
                "begun": _share(each.begun),
                "cut": _share(each.cut),
                "tries": each.tries,
                "without": None if each.without is None else _estimate(each.without),
                "starts": list(each.lanes[0]) if each.lanes else None,
                "ends": list(each.lanes[1]) if each.lanes else None,
            }
            for each in order.runs
        ],
        "spent": {
            "driving": _estimate(spent.driving),
            "acting": _estimate(spent.acting),
            "changing": _estimate(spent.changing),
            "rescuing": _estimate(spent.rescuing),
            "left": _estimate(spent.left),
        },
    }


def _number(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def _estimate(each: Estimate) -> dict[str, float | None]:
    return {"mean": each.mean, "low": _number(each.low), "high": _number(each.high)}


def _share(share: Share) -> dict[str, float]:
    return {"share": share.share, "low": share.low, "high": share.high}
