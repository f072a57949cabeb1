"""What does not fit the numbers of a fit, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.calibration.growing import settles
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.report.statement import Part, Section, Table, rows
from fieldsim.report.words.fit.numbers import estimate_row, number_name

if TYPE_CHECKING:
    from fieldsim.calibration.estimate import Fit

# What differs, by the number and by what it goes with. Left is positive.
_MORE = {
    ("distance", "side"): tr_later("straights go farther backwards than ahead, by"),
    ("distance", "size"): tr_later("long straights go farther than short ones, by"),
    ("distance", "speed"): tr_later("fast straights go farther than slow ones, by"),
    ("stop", "before"): tr_later("after a straight the other way the next goes farther, by"),
    ("distance", "order"): tr_later("late in the day straights go farther than early, by"),
    ("distance", "day"): tr_later("on the last day straights went farther than on the first, by"),
    ("veer", "side"): tr_later("backwards it bends more to the left than ahead, by"),
    ("veer", "size"): tr_later("on long straights it bends more to the left than on short ones, by"),
    ("veer", "speed"): tr_later("fast it bends more to the left than slowly, by"),
    ("kick", "before"): tr_later("after a straight the other way it kicks to the left, by"),
    ("veer", "order"): tr_later("late in the day it bends more to the left than early, by"),
    ("veer", "day"): tr_later("on the last day it bent more to the left than on the first, by"),
    ("turn", "side"): tr_later("turns go farther to the right than to the left, by"),
    ("turn", "size"): tr_later("large turns go farther than small ones, by"),
    ("turn", "speed"): tr_later("fast turns go farther than slow ones, by"),
    ("turn_stop", "before"): tr_later("after a turn the other way the next goes farther, by"),
    ("turn", "order"): tr_later("late in the day turns go farther than early, by"),
    ("turn", "day"): tr_later("on the last day turns went farther than on the first, by"),
}


def misfit_section(answer: Fit) -> Section:
    """What is the same every time and that none of the numbers says, each with its size."""
    heads = (tr("what"), tr("more by"), tr("between (95 %)"), tr("by"))
    names = [(each.size.name.removeprefix("bias."), each.by) for each in answer.misfits]
    told = rows(estimate_row(each.size, tr(_MORE[name])) for name, each in zip(names, answer.misfits, strict=True))
    words = tr(
        "None of the numbers below says this: a forecast takes it for chance. Less than 0 is the other way round. Look "
        "for the cause, or measure the way you drive in the run."
    )
    return Section(tr("What does not fit"), (words, Table(heads, told)))


def looked_words(answer: Fit) -> str:
    """That nothing else was found, and where it was looked for; nothing where no look was made."""
    if not answer.looks or answer.misfits:
        return ""
    return tr_many(
        "Does anything else go by side, length, angle, speed, order or day? {n} look: nothing that luck does not make.",
        "Does anything else go by side, length, angle, speed, order or day? {n} looks: nothing that luck does not "
        "make.",
        answer.looks,
    )


def grows_parts(answer: Fit) -> Iterator[Part]:
    """How stop errors grow with the speed, where tests at two speeds say anything of it."""
    if not answer.grows:
        return
    yield tr("how stop errors grow with the speed (1: in proportion, 0: not at all)")
    heads = (tr("number"), tr("value"), tr("between (95 %)"), tr("by"))
    yield Table(heads, rows(estimate_row(each, number_name(each.name)) for each in answer.grows))
    if not all(map(settles, answer.grows)):
        yield tr(
            "Where it may be 0 and may be 1, it is taken in proportion, or as the robot's file has it: more tests at a "
            "slow and a fast speed settle it."
        )
