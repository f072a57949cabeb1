"""Numbers and places of an answer as short phrases, never finer than what is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fieldsim import rounding
from fieldsim.language import in_digits, tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.model.units import plain
from fieldsim.rounding import rounded_down, rounded_up

if TYPE_CHECKING:
    from fieldsim.stats.intervals import Share
    from fieldsim.studies.answer import ClearanceAnswer, TryAnswer, UnknownAnswer
    from fieldsim.studies.own import LostAnswer

# From here on shares are told 'in 1000'. Below it the 95 % interval is wider than 10 in 100 in the worst case (a half
# width of 0.98/sqrt(n)), so the plain count and an interval 'in 100' say all that is known.
FINE_TRIALS = 400

# What holds for a smaller share than this of the robots that fit the tests is left open by them.
SETTLED = 0.95

NAME_CELLS = 26
SEGMENT_CELLS = 44


def start_words(start: str, cells: int = NAME_CELLS) -> str:
    """Where a run starts, to stand after 'from' or 'at': the jig's name, or 'a start by eye'."""
    eye = start in ("by eye", tr("by eye"))
    return tr("a start by eye") if eye else shorten(start, cells)


def segment_words(answer: TryAnswer, segment: int) -> str:
    """'segment 4, straight 420 mm'; only the number if the answer does not tell the words."""
    words = _words(answer, segment)
    return tr("segment {number}, {words}", number=segment, words=words) if words else _number(segment)


def segment_shortly(answer: TryAnswer, segment: int) -> str:
    """The same under a heading that says what it is: '4, straight 420 mm'."""
    words = _words(answer, segment)
    return f"{segment}, {words}" if words else f"{segment}"


def on_segment(answer: TryAnswer, segment: int) -> str:
    """The same inside a sentence: 'segment 4 (straight 420 mm)'."""
    words = _words(answer, segment)
    return tr("segment {number} ({words})", number=segment, words=words) if words else _number(segment)


def _number(segment: int) -> str:
    return tr("segment {number}", number=segment)


def _words(answer: TryAnswer, segment: int) -> str:
    known = 1 <= segment <= len(answer.segments)
    return shorten(answer.segments[segment - 1], SEGMENT_CELLS) if known else ""


def how_often(share: Share, trials: int) -> str:
    """A share in words with its interval, in no finer steps than the number of trials supports.

    >>> from fieldsim.stats.intervals import Share
    >>> how_often(Share(0.871, 0.84881, 0.89036), 1000)
    '871 in 1000 (between 848 and 891)'
    >>> how_often(Share(0.0, 0.0, 0.003826), 1000)
    'none of 1000 (at most 4 in 1000)'
    >>> how_often(Share(0.85, 0.63958, 0.94758), 20)
    '17 of 20 (between 63 and 95 in 100)'
    """
    often, between = _often(share, trials)
    return tr("{often} ({between})", often=often, between=between) if between else often


def how_often_shortly(share: Share, trials: int) -> str:
    """The same without its interval: '871 in 1000'."""
    return _often(share, trials)[0]


def how_often_apart(share: Share, trials: int) -> tuple[str, str]:
    """The same as two texts that stand apart: '871 in 1000' and 'between 848 and 891 in 1000'; '' if there is none."""
    return _often(share, trials, apart=True)


def _often(share: Share, trials: int, apart: bool = False) -> tuple[str, str]:
    if trials <= 0:
        return tr("not known"), tr("no trial was done")
    count = round(share.share * trials)
    fine = trials >= FINE_TRIALS
    per = 1000 if fine else 100
    low, high = rounded_down(share.low * per), rounded_up(share.high * per)
    if count <= 0:
        none = tr("0 of 1") if trials == 1 else tr("none of {trials}", trials=trials)
        return none, tr("at most {high} in {per}", high=high, per=per)
    if count >= trials:
        every = tr("1 of 1") if trials == 1 else tr("all of {trials}", trials=trials)
        return every, tr("at least {low} in {per}", low=low, per=per)
    # Where the share itself does not say of how many, or is not beside it.
    between = _between(low, high, per, tr(" in {per}", per=per) if apart or not fine else "")
    if not fine:
        return tr("{count} of {trials}", count=count, trials=trials), between
    exact = share.share * per
    if exact < 1:
        return tr("less than {count} in {per}", count=1, per=per), between if high > 1 else ""
    if exact > per - 1:
        return tr("more than {count} in {per}", count=per - 1, per=per), between if low < per - 1 else ""
    return tr("{count} in {per}", count=rounding.fixed(exact, 0), per=per), between


def _between(low: int, high: int, per: int, of: str = "") -> str:
    """The ends of an interval, and of how many if that is not said before it."""
    if low <= 0:
        return tr("at most {high}{of}", high=high, of=of)
    if high >= per:
        return tr("at least {low}{of}", low=low, of=of)
    return tr("between {low} and {high}{of}", low=low, high=high, of=of)


def headline(answer: TryAnswer) -> str:
    """The one sentence: 'gets through 871 in 1000 (between 848 and 891)'."""
    if answer.trials == 0:
        return tr("no trial was done")
    return tr("gets through {how_often}", how_often=how_often(answer.success, answer.trials))


def fixed(value: float, decimals: int) -> str:
    return in_digits(rounding.fixed(value, decimals))


def spoken(value: float) -> str:
    """A number as a person would write it, with as many digits as it has: see `units.plain`, which is for files."""
    return in_digits(plain(value))


def floored(value: float, decimals: int) -> str:
    return in_digits(rounding.floored(value, decimals))


def ceiled(value: float, decimals: int) -> str:
    return in_digits(rounding.ceiled(value, decimals))


def listed(items: Sequence[str]) -> str:
    """Names one after another: 'a', 'a and b', 'a, b and c'."""
    if len(items) < 2:
        return "".join(items)
    return tr("{some} and {last}", some=", ".join(items[:-1]), last=items[-1])


def planned_gap(gap: float, horizon: float, stands: bool = False) -> str:
    """The planned gap is exact, so it is told to 0.1 mm, finer than any tape measures."""
    if stands:
        return tr("0, it stands against it")
    if not math.isfinite(gap) or gap >= horizon:
        return _beyond(horizon)
    if gap <= 0:
        return tr("it touches")
    if gap < 0.1:
        return tr("under {gap} mm", gap=fixed(0.1, 1))
    return tr("{gap} mm", gap=fixed(gap, 1 if gap < 99.95 else 0))


def _beyond(horizon: float) -> str:
    return tr("over {gap} mm", gap=spoken(horizon)) if math.isfinite(horizon) else tr("far")


def gap_decimals(low: float, high: float) -> int:
    """One decimal only if the interval is narrower than 1 mm to either side."""
    return 1 if math.isfinite(high - low) and (high - low) / 2 < 1 else 0


def left_gap(gap: ClearanceAnswer, horizon: float, bare: bool = False) -> str:
    """The margin, such as '3.1 mm (2.8 to 3.5)'; ``bare`` without its interval."""
    if not math.isfinite(gap.p05) or gap.p05 >= horizon:
        return _beyond(horizon)
    if gap.p05 <= 0:
        return tr("nothing, it touches")
    decimals = gap_decimals(gap.p05_low, gap.p05_high)
    step = 10.0**-decimals
    low = "0" if gap.p05_low <= 0 else floored(gap.p05_low, decimals)
    high = tr("over {gap}", gap=spoken(horizon)) if gap.p05_high >= horizon else ceiled(gap.p05_high, decimals)
    tiny = gap.p05 < step
    value = tr("under {gap} mm", gap=spoken(step)) if tiny else tr("{gap} mm", gap=floored(gap.p05, decimals))
    return value if bare else tr("{value} ({low} to {high})", value=value, low=low, high=high)


def signed(value: float, decimals: int) -> str:
    return fixed(value, decimals) if math.isfinite(value) else "?"


def near_gaps(answer: TryAnswer) -> list[ClearanceAnswer]:
    """What comes nearer than the horizon, in the answer's order (tightest first)."""
    if answer.trials == 0:
        return sorted((gap for gap in answer.clearance if gap.nominal < answer.horizon), key=lambda gap: gap.nominal)
    return [gap for gap in answer.clearance if min(gap.nominal, gap.p05) < answer.horizon]


def trials_words(own: int, each: int, seed: int) -> str:
    """How many trials a study drove: of the run as it is, and of each that was changed."""
    if own != each:
        return tr("{own} trials of the run as it is, {n} of each other, seed {seed}", own=own, n=each, seed=seed)
    return tr_many("{n} trial of each, seed {seed}", "{n} trials of each, seed {seed}", each, seed=seed)


def robots_words(holds: float) -> str:
    """'7 of 10', of the robots that fit the tests."""
    return tr("{n} of 10", n=round(holds * 10))


def left_open(holds: float | None) -> bool:
    """Whether the tests of the robot leave open what the robot as written tells."""
    return holds is not None and holds < SETTLED


LOST = {
    "touches": tr_later("touches {name} on segment {number}"),
    "misses": tr_later("misses {name} on segment {number}"),
    "ends outside": tr_later("ends outside {name} on segment {number}"),
}


def lost_words(lost: LostAnswer) -> str:
    """What went wrong, in words: 'touches mill on segment 3'."""
    name = shorten(lost.what, NAME_CELLS) if lost.what else ""
    if lost.why in LOST:
        return tr(LOST[lost.why], name=name, number=lost.segment)
    return tr("does not catch {name} on segment {number} ({why})", name=name, number=lost.segment, why=tr(lost.why))


def stopped_words(lost: LostAnswer | None) -> str:
    """What stops a run that hardly gets through, as a sentence."""
    return tr("Most often it {lost}.", lost=lost_words(lost)) if lost is not None else ""


def no_proof() -> str:
    return tr("A simulated run is no proof: the table decides.")


def as_written() -> str:
    return tr("The robot is taken just as its file has it; what its tests leave unknown is told by try.")


def unknown_words(unknown: UnknownAnswer, share: float) -> str:
    """What the robot's tests leave unknown, as one sentence: rounded to the careful side, to tens where it is wide.

    ``share`` is how often the robot as written gets through. It is the one that fits its tests best, and with robots
    that differ from it more goes wrong than right: it may do better than nearly all of them.

    >>> from fieldsim.studies.answer import UnknownAnswer
    >>> unknown_words(UnknownAnswer(0.7012, 0.9487, 0.86, 5, 256, ()), 0.9)
    'With only 5 tests the robot may be better or worse than written: between 700 and 950 in 1000, 860 on average.'
    >>> unknown_words(UnknownAnswer(0.7012, 0.9487, 0.86, 5, 256, ()), 0.96)
    'With only 5 tests the robot is most likely worse than written: between 700 and 950 in 1000, 860 on average.'
    """
    step = 10 if unknown.high - unknown.low > 0.05 else 1
    values = {
        "tests": _tests(unknown.tests),
        "low": rounded_down(unknown.low * 1000 / step) * step,
        "high": rounded_up(unknown.high * 1000 / step) * step,
        "mean": round(unknown.mean * 1000 / step) * step,
    }
    if share > unknown.high:
        return tr(
            "With {tests} the robot is most likely worse than written: between {low} and {high} in 1000, {mean} on "
            "average.",
            **values,
        )
    if share < unknown.low:
        return tr(
            "With {tests} the robot is most likely better than written: between {low} and {high} in 1000, {mean} on "
            "average.",
            **values,
        )
    return tr(
        "With {tests} the robot may be better or worse than written: between {low} and {high} in 1000, {mean} on "
        "average.",
        **values,
    )


def _tests(number: int) -> str:
    if number < 10:
        return tr_many("only {n} test", "only {n} tests", number)
    return tr_many("{n} test", "{n} tests", number)


def per_mille(low: float, high: float) -> str:
    return tr("between {low} and {high}", low=rounded_down(low * 1000), high=rounded_up(high * 1000))


def more_words(share: float, low: float, high: float) -> str:
    between = per_mille(low, high)
    return tr("{share:.0f} in 1000 more get through ({between})", share=share * 1000, between=between)


def fewer_words(share: float, low: float, high: float) -> str:
    between = per_mille(low, high)
    return tr("{share:.0f} in 1000 fewer get through ({between})", share=share * 1000, between=between)


_FAILING = {
    "touches": tr_later("touches {name}"),
    "misses": tr_later("misses {name}"),
    "ends outside": tr_later("ends outside {name}"),
}


def failing_words(why: str, what: str) -> str:
    """What goes wrong: 'misses flour lid', 'touches mill', 'not reached: left wall'."""
    name = what or tr("the finish")
    return tr(_FAILING[why], name=name) if why in _FAILING else tr("{why}: {name}", why=tr(why), name=name)
