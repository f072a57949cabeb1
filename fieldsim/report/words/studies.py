"""The answers of ``fieldsim widths``, ``compare`` and ``causes`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.advice import remedy_advice
from fieldsim.report.phrases import (
    NAME_CELLS,
    as_written,
    fixed,
    floored,
    how_often,
    left_open,
    lost_words,
    no_proof,
    robots_words,
    stopped_words,
    trials_words,
)
from fieldsim.report.statement import Part, Section, Statement, Table, rows, statement_text
from fieldsim.rounding import rounded_down, rounded_up

if TYPE_CHECKING:
    from fieldsim.studies.causes import CausesAnswer, FailureAnswer, SourceAnswer
    from fieldsim.studies.compare import CompareAnswer, DifferenceAnswer
    from fieldsim.studies.own import LostAnswer
    from fieldsim.studies.widths import WidthAnswer, WidthsAnswer

TITLE_CELLS = 40

# Sources told for each thing, those that make less of it than this left out; failures told.
SOURCES = 4
SMALL_PART = 0.03
FAILURES = 8

WORDS = {
    "width": tr_later("body width"),
    "length": tr_later("body length"),
    "axle": tr_later("distance from the rear face to the axle"),
    "track": tr_later("track"),
    "wheel": tr_later("wheel diameter"),
    "speed": tr_later("speed"),
}


def _per_mille(low: float, high: float) -> str:
    return tr("between {low} and {high}", low=rounded_down(low * 1000), high=rounded_up(high * 1000))


# --- widths --------------------------------------------------------------------------------------------------------


def widths_text(answer: WidthsAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(widths_statement(answer), width)


def widths_statement(answer: WidthsAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    what = tr(WORDS[answer.vary])
    further = []
    if answer.geometry is not None:
        further.append(_without_noise(answer.geometry.value, answer.geometry.obstacle, answer.geometry.segment, answer))
        if answer.widest is not None and not answer.widest.beyond:
            cost = fixed(answer.geometry.value - answer.widest.value, 1)
            further.append(tr("So the noise costs {cost} {unit}.", cost=cost, unit=answer.unit))
    heads = (what, tr("gets through"), tr("what goes wrong"))
    values: list[Part] = [Table(heads, rows(map(partial(_value, answer), answer.values)))]
    values += [
        tr("{value:g} {unit} cannot be: {why}", value=value, unit=answer.unit, why=shorten(why, 90))
        for value, why in answer.refused
    ]
    found = [Section(tr("{what} and what gets through", what=what[0].upper() + what[1:]), tuple(values))]
    if answer.places:
        places = rows(
            (
                shorten(place.obstacle or "", NAME_CELLS),
                f"{floored(place.value, 2)} {answer.unit}",
                tr("segment {number}", number=place.segment) if place.segment else "",
            )
            for place in answer.places
        )
        title = tr("Largest that touches nothing without any noise, obstacle by obstacle")
        found.append(Section(title, (Table((tr("obstacle"), tr("largest"), tr("where")), places),)))
    names = {"run": run, "robot": robot, "field": field, "what": what}
    if answer.track_moves:
        title = tr("{run}: {robot} on {field}, with another {what}, the track moving along", **names)
    else:
        title = tr("{run}: {robot} on {field}, with another {what}", **names)
    return Statement(
        name=tr("{run}: {what}", run=run, what=what),
        title=title,
        about=(
            trials_words(answer.own_trials, answer.trials, answer.seed),
            tr("now {value:g} {unit}", value=answer.now, unit=answer.unit),
        ),
        headline=widths_headline(answer),
        further=tuple(further),
        sections=tuple(found),
        closing=(as_written(), no_proof()),
    )


def _value(answer: WidthsAnswer, each: WidthAnswer) -> tuple[str, str, str]:
    words = [tr("now")] if each.value == answer.now else []
    # What one trial in twenty or more is lost by is worth a word.
    if each.lost is not None and each.lost.count >= 0.05 * each.trials:
        words.append(
            tr(
                "{share} in 1000: {lost}",
                share=round(each.lost.count / each.trials * 1000),
                lost=lost_words(each.lost),
            )
        )
    value = tr("{value:g} {unit}", value=each.value, unit=answer.unit)
    return value, how_often(each.success, each.trials), "; ".join(words)


def _without_noise(value: float, obstacle: str | None, segment: int | None, answer: WidthsAnswer) -> str:
    most = f"{floored(value, 2)} {answer.unit}"
    if obstacle is None:
        return tr("Without any noise it would be {most}, where it fails without touching anything.", most=most)
    return tr(
        "Without any noise it would be {most}, where {name} stops it on segment {number}.",
        most=most,
        name=shorten(obstacle, NAME_CELLS),
        number=segment,
    )


def widths_headline(answer: WidthsAnswer) -> str:
    """The one sentence: 'Largest body width ... : 179 mm (between 179 and 180)'."""
    what = tr(WORDS[answer.vary])
    if answer.hopeless:
        return _hopeless(answer, what)
    if answer.need_given:
        need = tr("{share:.0f} in 1000", share=answer.need * 1000)
    else:
        need = tr("{share:.0f} in 1000, nine tenths of what it gets now", share=answer.need * 1000)
    if answer.widest is None:
        return tr("No {what} that was looked at gets through as often as wanted ({need}).", what=what, need=need)
    widest = answer.widest
    value = tr("{value:g} {unit}", value=widest.value, unit=answer.unit)
    if widest.beyond:
        return tr(
            "All up to {value}, the largest that was looked at, get through often enough ({need}).",
            value=value,
            need=need,
        )
    if widest.low < widest.high:
        value = tr("{value} (luck could make it {low:g} to {high:g})", value=value, low=widest.low, high=widest.high)
    told = tr(
        "Largest {what} that still gets through often enough ({need}): {value}.", what=what, need=need, value=value
    )
    if widest.lost is None:
        return told
    beyond = tr("What stops it beyond that: it {lost}.", lost=lost_words(widest.lost))
    return f"{told} {beyond}"


def _hopeless(answer: WidthsAnswer, what: str) -> str:
    now = next((each for each in answer.values if each.value == answer.now), None)
    often = how_often(now.success, now.trials) if now is not None else tr("hardly ever")
    told = [
        tr("As it is ({value:g} {unit}) it gets through {often}.", value=answer.now, unit=answer.unit, often=often),
        stopped_words(answer.lost),
    ]
    best = answer.best
    if best is None:
        told.append(
            tr("No other {what} that was looked at is better: mend the run first (fieldsim try RUN).", what=what)
        )
    else:
        told.append(
            tr(
                "Of those that were looked at {value:g} {unit} is the best: {often}. Say with --need which share is "
                "enough, or mend the run first (fieldsim try RUN).",
                value=best.value, unit=answer.unit, often=how_often(best.success, best.trials),
            )
        )  # fmt: skip
    return " ".join(filter(None, told))


# --- compare -------------------------------------------------------------------------------------------------------


def compare_text(answer: CompareAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(compare_statement(answer), width)


def compare_statement(answer: CompareAnswer) -> Statement:
    """The answer as a statement."""
    told = []
    for run in answer.runs:
        seconds = tr("{time} s", time=fixed(run.seconds, 1)) if run.seconds == run.seconds else ""
        where = tr("{robot} on {field}", robot=shorten(run.robot, NAME_CELLS), field=shorten(run.field, NAME_CELLS))
        told.append((shorten(run.run, NAME_CELLS), how_often(run.success, answer.trials), seconds, where))
    heads = (tr("run"), tr("gets through"), tr("takes"), tr("what drives where"))
    found = [Section(tr("The runs"), (Table(heads, rows(told)),))]
    for pair in answer.differences:
        parts = [
            *_only(pair.only_first, pair.first, pair.second, pair.second_lost),
            *_only(pair.only_second, pair.second, pair.first, pair.first_lost),
        ]
        found.append(Section(_against(pair), tuple(parts)))
    first, *others = map(difference_words, answer.differences)
    return Statement(
        name=tr("Runs compared"),
        title=tr("Runs compared"),
        about=(
            tr_many(
                "{n} trial of each, seed {seed}, on the same draws",
                "{n} trials of each, seed {seed}, on the same draws",
                answer.trials,
                seed=answer.seed,
            ),
        ),
        headline=first,
        further=tuple(others),
        sections=tuple(found),
        closing=(as_written(), no_proof()),
    )


def _against(pair: DifferenceAnswer) -> str:
    return tr("{one} against {other}", one=shorten(pair.first, NAME_CELLS), other=shorten(pair.second, NAME_CELLS))


def difference_words(pair: DifferenceAnswer) -> str:
    """'A against B: 25 in 1000 more get through (between 15 and 34): A is truly better.'"""
    first, second = shorten(pair.first, NAME_CELLS), shorten(pair.second, NAME_CELLS)
    share = pair.difference
    sign = -1 if share.share < 0 else 1
    low, high = sorted((sign * share.low, sign * share.high))
    if pair.truly == 0:
        verdict = tr("that may be luck, take the one you like better")
    elif pair.holds is not None and left_open(pair.holds):
        verdict = tr(
            "{run} is better with the robot as written, but only for {robots} robots that fit your tests, so they "
            "leave it open",
            run=first if pair.truly > 0 else second,
            robots=robots_words(pair.holds),
        )
    else:
        verdict = tr("{run} is truly better", run=first if pair.truly > 0 else second)
    more = _fewer_words if sign < 0 else _more_words
    often = more(abs(share.share), low, high)
    return tr("{pair}: {often}: {verdict}.", pair=_against(pair), often=often, verdict=verdict)


def _more_words(share: float, low: float, high: float) -> str:
    between = _per_mille(low, high)
    return tr("{share:.0f} in 1000 more get through ({between})", share=share * 1000, between=between)


def _fewer_words(share: float, low: float, high: float) -> str:
    between = _per_mille(low, high)
    return tr("{share:.0f} in 1000 fewer get through ({between})", share=share * 1000, between=between)


def _only(count: int, one: str, other: str, reasons: tuple[LostAnswer, ...]) -> Iterator[Part]:
    one, other = shorten(one, NAME_CELLS), shorten(other, NAME_CELLS)
    if not count:
        yield tr("No trial gets through only as {one}.", one=one)
        return
    yield tr_many(
        "{n} trial gets through only as {one}. {other} there:",
        "{n} trials get through only as {one}. {other} there:",
        count,
        one=one,
        other=other,
    )
    told = (
        (lost_words(lost), str(lost.count), tr("such as trial {numbers}", numbers=", ".join(map(str, lost.examples))))
        for lost in reasons
    )
    yield Table((tr("what goes wrong"), tr("trials"), tr("which")), rows(told))


# --- causes --------------------------------------------------------------------------------------------------------


def causes_text(answer: CausesAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(causes_statement(answer), width)


def causes_statement(answer: CausesAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    shown = rows(
        (
            source_words(each.source, each.segment),
            tr(
                "{share:.0f} in 1000 more ({between})",
                share=each.worth.share * 1000,
                between=_per_mille(each.worth.low, each.worth.high),
            ),
            tr("alone {share} in 1000", share=fixed(each.alone.share * 1000, 0)),
        )
        for each in [each for each in answer.failures if each.worth.low > 0][:FAILURES]
    )
    fails: Part = Table((tr("error"), tr("get through without it"), tr("fail with it alone")), shown)
    found = [
        Section(
            tr("What the failures come from"),
            (
                fails if shown else tr("no single one is more than luck"),
                *(
                    [
                        tr(
                            "First number: how many more get through without this error. Second: how many fail if it "
                            "is the only one."
                        )
                    ]
                    if shown
                    else []
                ),
            ),
        )
    ]
    good = answer.remedies.good if answer.remedies is not None else ()
    if good:
        worth = rows((each.what, _more_words(each.worth.share, each.worth.low, each.worth.high)) for each in good)
        found.append(Section(tr("What a change is worth"), (Table((tr("change"), tr("worth")), worth),)))
    spread = []
    for of, group in groupby(answer.spread, key=lambda each: each.of):
        sd, unit = next((sd, unit) for name, sd, unit in answer.sds if name == of)
        give = tr("give or take {size} {unit}", size=fixed(sd, 1), unit=tr(unit))
        spread.append((of, give, _parts(list(group))))
    title = tr("What the spread comes from: shares of the variance, with all each has a hand in (so they may overlap)")
    found.append(Section(title, (Table((tr("what"), tr("spread"), tr("from")), rows(spread)),)))
    return Statement(
        name=tr("{run}: what breaks it", run=run),
        title=tr(
            "{run}: {robot} on {field}. What makes it fail, and what makes its spread?",
            run=run,
            robot=robot,
            field=field,
        ),
        about=(trials_words(answer.own_trials, answer.trials, answer.seed),),
        headline=tr("It gets through {often}.", often=how_often(answer.success, answer.own_trials)),
        further=() if answer.quiet else (tr("It fails without any noise, too: mend the plan first (see try)."),),
        sections=tuple(found),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def causes_headline(answer: CausesAnswer) -> str:
    """The one sentence, for a picture."""
    if not answer.failures or answer.failures[0].worth.low <= 0:
        return tr("No single error breaks the run: it is the sum of many small ones, or the plan itself.")
    first = answer.failures[0]
    what = _error_words(first)
    if first.holds is not None and left_open(first.holds):
        return tr(
            "What breaks the run most often with the robot as written: {source}. So it is for {robots} robots that fit "
            "your tests; they leave it open.",
            source=what, robots=robots_words(first.holds),
        )  # fmt: skip
    return tr("What breaks the run most often: {source}.", source=what)


# What each kind of noise does, as a team sees it.
ERRORS = {
    "distance": tr_later("segment {number} comes out a little longer or shorter each time"),
    "veer": tr_later("segment {number} bends a little to the left or to the right"),
    "stop": tr_later("segment {number} does not stop exactly"),
    "slip": tr_later("the wheels slip on segment {number}, so it turns a little more or less each time"),
    "hold": tr_later("on segment {number} the gyro holds the heading only so well"),
    "time": tr_later("segment {number} takes longer or shorter each time"),
    "sight": tr_later("on segment {number} the sensor sees the line a little sooner or later"),
    "placing-along": tr_later("the robot is set a little too far ahead or behind at the start"),
    "placing-across": tr_later("the robot is set a little too far to the side at the start"),
    "placing-heading": tr_later("the robot is set a little askew at the start"),
    "day-distance": tr_later("from day to day it drives a little farther or shorter"),
    "day-veer": tr_later("from day to day its straights bend differently"),
    "day-turn": tr_later("from day to day it turns a little more or less"),
    "gyro-drift": tr_later("the gyro drifts"),
    "gyro-scale": tr_later("the gyro reads turns a little too large or too small"),
    "square-heading": tr_later("after the square of segment {number} it still stands a little askew"),
    "square-along": tr_later("after the square of segment {number} it stands a little nearer or farther"),
}


def _error_words(failure: FailureAnswer) -> str:
    words = ERRORS.get(failure.kind)
    return tr(words, number=failure.segment) if words else source_words(failure.source, failure.segment)


def source_words(source: str, segment: int) -> str:
    """'slip in the turn, segment 4'."""
    return tr("{source}, segment {number}", source=source, number=segment) if segment else source


def _parts(sources: list[SourceAnswer]) -> str:
    told = [each for each in sources if each.total >= SMALL_PART][:SOURCES]
    words = [
        tr(
            "{source} {share} % ({low} to {high})",
            source=source_words(each.source, each.segment),
            share=fixed(each.total * 100, 0), low=rounded_down(each.total_low * 100),
            high=rounded_up(each.total_high * 100),
        )
        for each in told
    ]  # fmt: skip
    return "; ".join(words) or tr("many small sources")


def _advice(answer: CausesAnswer) -> Iterator[str]:
    yield causes_headline(answer)
    if answer.remedies is not None:
        yield from remedy_advice(answer.remedies)
