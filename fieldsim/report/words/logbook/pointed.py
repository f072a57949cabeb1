"""What a log points at: which belief of the robot, changed, makes it likelier."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, inf, log

from fieldsim.language import in_digits, tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.logbook.answer import (
    LEAST_POINTING,
    LEVEL,
    Alternative,
    Explained,
    LogAnswer,
)
from fieldsim.report.phrases import NAME_CELLS, fixed
from fieldsim.report.statement import Part, Table, rows
from fieldsim.report.words.logbook.runs import RESULTS
from fieldsim.report.words.logbook.verdict import chance_words, forecast_words

ALTERNATIVES_SHOWN = 6
RIVALS_SHOWN = 3
FEW_SHOWN = 3

# What is believed of a spread: twice and half of it.
_SPREADS = {
    "start": (
        tr_later("placing at the start spreading twice as much"),
        tr_later("placing at the start spreading half as much"),
    ),
    "straight": (
        tr_later("the length of straights spreading twice as much"),
        tr_later("the length of straights spreading half as much"),
    ),
    "veer": (
        tr_later("the veer on straights spreading twice as much"),
        tr_later("the veer on straights spreading half as much"),
    ),
    "turn": (tr_later("turns spreading twice as much"), tr_later("turns spreading half as much")),
    "day": (
        tr_later("changes from day to day spreading twice as much"),
        tr_later("changes from day to day spreading half as much"),
    ),
    "square": (
        tr_later("what a square leaves over spreading twice as much"),
        tr_later("what a square leaves over spreading half as much"),
    ),
    "gyro": (tr_later("the gyro spreading twice as much"), tr_later("the gyro spreading half as much")),
}
# Of a shift: more and less of it, and what it is told in.
_SHIFTS = {
    "distance": (tr_later("straights {size} % longer"), tr_later("straights {size} % shorter"), 100.0),
    "veer": (
        tr_later("veer {size} degrees per metre more to the left"),
        tr_later("veer {size} degrees per metre more to the right"),
        1.0,
    ),
    "turn": (tr_later("turns going {size} % farther"), tr_later("turns going {size} % less far"), 100.0),
    "along": (tr_later("the start {size} mm farther forwards"), tr_later("the start {size} mm farther back"), 1.0),
    "across": (tr_later("the start {size} mm farther left"), tr_later("the start {size} mm farther right"), 1.0),
    "heading": (
        tr_later("the start turned {size} degrees more to the left"),
        tr_later("the start turned {size} degrees more to the right"),
        1.0,
    ),
}
# The same for one degree.
_ONE = {
    "veer": (
        tr_later("veer 1 degree per metre more to the left"),
        tr_later("veer 1 degree per metre more to the right"),
    ),
    "heading": (
        tr_later("the start turned 1 degree more to the left"),
        tr_later("the start turned 1 degree more to the right"),
    ),
}


def alternative_words(each: Alternative) -> str:
    """'turns going 1 % farther', 'the veer on straights spreading twice as much'; all 'than believed'."""
    if each.change in ("double", "half"):
        return tr(_SPREADS[each.what][each.change == "half"])
    more, less, scale = _SHIFTS[each.what]
    size = f"{abs(each.step) * scale:.3g}"
    if size == "1" and each.what in _ONE:
        more, less = _ONE[each.what]
    return tr(more if each.step > 0 else less, size=in_digits(size))


def explained_words(explained: Explained) -> Iterator[str]:
    """How much the change explains, in short sentences."""
    yield tr_many(
        "{n} drive failed. Forecast were {written} with the robot as written; with this change {changed}.",
        "{n} drives failed. Forecast were {written} with the robot as written; with this change {changed}.",
        explained.failed,
        written=fixed(explained.as_written, 1),
        changed=fixed(explained.changed, 1),
    )
    if explained.enough:
        yield tr("That is enough to explain the failures.")
        return
    if explained.p_value < LEVEL:
        chance = chance_words(explained.p_value)
        if explained.failed > explained.changed:
            yield tr(
                "That explains only part of it: too many failed even for that (luck does as much in {chance}). The "
                "change must be larger, or something else must be wrong as well.",
                chance=chance,
            )
        else:
            yield tr(
                "That explains only part of it: too few failed even for that (luck does as much in {chance}). The "
                "change must be larger, or something else must be wrong as well.",
                chance=chance,
            )
    for each in explained.left[:RIVALS_SHOWN]:
        yield tr_many(
            "Not explained: {run} {wrong} once; with this change {expected} would be forecast.",
            "Not explained: {run} {wrong} {n} times; with this change {expected} would be forecast.",
            each.counted,
            run=shorten(each.run, NAME_CELLS),
            wrong=tr(RESULTS[each.result][0], where=shorten(each.where, NAME_CELLS)),
            expected=fixed(each.expected, 1),
        )
    if explained.p_value >= LEVEL:
        yield tr("Something else must be wrong as well.")


def believed_words(each: Alternative) -> str:
    if each.change in ("double", "half"):
        return tr("{change} as believed", change=alternative_words(each))
    return tr("{change} than believed", change=alternative_words(each))


def times_words(each: Alternative) -> str:
    """'12 times likelier', '3 times less likely', 'no difference'."""
    size = exp(min(abs(each.gain), 50.0))
    if size < 1.05:
        return tr("no difference")
    many = many_times(size)
    return tr("{many} times likelier", many=many) if each.gain > 0 else tr("{many} times less likely", many=many)


def many_times(size: float) -> str:
    """Two figures are all that such a number is worth."""
    if size > 1_000_000:
        return tr("over a million")
    return f"{float(f'{size:.2g}'):.0f}" if size >= 9.95 else fixed(size, 1)


def pointed_parts(answer: LogAnswer) -> Iterator[Part]:
    if answer.together is None:
        yield tr("Nothing: there are no drives yet.")
        return
    if answer.bar == inf:
        # So few cannot tell one change from another.
        yield tr("Too few to say: with {n} drives or more it can be asked.", n=LEAST_POINTING)
        return
    if not answer.alternatives:
        yield tr("Nothing: no change of what is believed of the robot would make a difference.")
        return
    if answer.pointed:
        best, *rivals = answer.rivals
        yield tr("At {change}.", change=believed_words(best))
        if rivals:
            others = "; ".join(alternative_words(each) for each in rivals[:RIVALS_SHOWN])
            more = len(rivals) - RIVALS_SHOWN
            if more > 0:
                others = tr("{others}; and {n} more", others=others, n=more)
            yield tr(
                "The log can hardly tell that from: {others}. Which of them it is, more tests can tell.",
                others=others,
            )
        if best.allowed:
            yield tr("The robot's few tests allow it too.")
        if answer.explained is not None:
            yield from explained_words(answer.explained)
    else:
        yield tr("At nothing yet: luck alone can make the best of so many changes look as good.")
    yield tr(
        "How this was found: one thing that is believed of the robot was changed at a time, and the runs were tried "
        "anew. The list says how much likelier each change makes this log. If the forecast is right, luck makes the "
        "best one up to {many} times likelier in 19 of 20 logs like this. Only more than that counts (*). Few sizes "
        "are tried: the true one may be in between or beyond.",
        many=many_times(exp(min(answer.bar, 50.0))),
    )
    likelier = [each for each in answer.alternatives if each.pointed or each.gain > log(1.05)]
    told = rows(
        (
            ("* " if each.pointed else "  ") + alternative_words(each),
            times_words(each),
            forecast_words(each.through),
        )
        for each in likelier[: ALTERNATIVES_SHOWN if answer.pointed else FEW_SHOWN]
    )
    if told:
        heads = tr("this log"), tr("gets through")
        yield Table((tr("change"), *heads), told, text_head=("", *heads))
    else:
        yield tr("No change makes it any likelier.")
