"""The answers of ``fieldsim widths``, ``compare`` and ``causes`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import groupby

from fieldsim.answer import (
    CausesAnswer,
    CompareAnswer,
    DifferenceAnswer,
    LostAnswer,
    SourceAnswer,
    WidthAnswer,
    WidthsAnswer,
)
from fieldsim.lettering import shorten
from fieldsim.phrases import NAME_CELLS, as_written, fixed, floored, how_often, no_proof, rounded_down, rounded_up
from fieldsim.statement import Part, Section, Statement, Table, rows, statement_text

TITLE_CELLS = 40

# Sources told for each thing, those that make less of it than this left out; failures told.
SOURCES = 4
SMALL_PART = 0.03
FAILURES = 8

WORDS = {
    "width": "body width",
    "length": "body length",
    "axle": "distance from the rear face to the axle",
    "track": "track",
    "wheel": "wheel diameter",
    "speed": "speed",
}


def _per_mille(low: float, high: float) -> str:
    return f"between {rounded_down(low * 1000)} and {rounded_up(high * 1000)}"


# --- widths --------------------------------------------------------------------------------------------------------


def widths_text(answer: WidthsAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(widths_statement(answer), width)


def widths_statement(answer: WidthsAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    what = WORDS[answer.vary] + (", the track moving along" if answer.track_moves else "")
    further = []
    if answer.geometry is not None:
        stop = _stop(answer.geometry.obstacle, answer.geometry.segment)
        further.append(f"Without any noise it would be {floored(answer.geometry.value, 2)} {answer.unit}{stop}.")
        if answer.widest is not None and not answer.widest.beyond:
            cost = fixed(answer.geometry.value - answer.widest.value, 1)
            further.append(f"So the noise costs {cost} {answer.unit}.")
    values: list[Part] = [
        Table(
            (WORDS[answer.vary], "gets through", "what goes wrong"), rows(map(partial(_value, answer), answer.values))
        )
    ]
    values += [f"{value:g} {answer.unit} cannot be: {shorten(why, 90)}" for value, why in answer.refused]
    found = [Section(f"{WORDS[answer.vary].capitalize()} and what gets through", tuple(values))]
    if answer.places:
        places = rows(
            (
                shorten(place.obstacle or "", NAME_CELLS),
                f"{floored(place.value, 2)} {answer.unit}",
                f"segment {place.segment}" if place.segment else "",
            )
            for place in answer.places
        )
        title = "Largest that touches nothing without any noise, obstacle by obstacle"
        found.append(Section(title, (Table(("obstacle", "largest", "where"), places),)))
    return Statement(
        name=f"{run}: {WORDS[answer.vary]}",
        title=f"{run}: {robot} on {field}, with another {what}",
        about=(f"{answer.trials} trials of each, seed {answer.seed}; now {answer.now:g} {answer.unit}",),
        headline=widths_headline(answer),
        further=tuple(further),
        sections=tuple(found),
        closing=(as_written(), no_proof()),
    )


def _value(answer: WidthsAnswer, each: WidthAnswer) -> tuple[str, str, str]:
    words = ["now"] if each.value == answer.now else []
    # What one trial in twenty or more is lost by is worth a word.
    if each.lost is not None and each.lost.count >= 0.05 * answer.trials:
        words.append(f"{round(each.lost.count / answer.trials * 1000)} in 1000: {lost_words(each.lost)}")
    return f"{each.value:g} {answer.unit}", how_often(each.success, answer.trials), "; ".join(words)


def _stop(obstacle: str | None, segment: int | None) -> str:
    if obstacle is None:
        return ", where it fails without touching anything"
    return f", where {shorten(obstacle, NAME_CELLS)} stops it on segment {segment}"


def widths_headline(answer: WidthsAnswer) -> str:
    """The one sentence: 'Largest body width ... : 179 mm (between 179 and 180)'."""
    need = f"{answer.need * 1000:.0f} in 1000" + ("" if answer.need_given else ", nine tenths of what it gets now")
    if answer.widest is None:
        return f"No {WORDS[answer.vary]} that was looked at gets through as often as wanted ({need})."
    widest = answer.widest
    value = f"{widest.value:g} {answer.unit}"
    if widest.beyond:
        return f"All up to {value}, the largest that was looked at, get through often enough ({need})."
    between = f" (luck could make it {widest.low:g} to {widest.high:g})" if widest.low < widest.high else ""
    stop = f" Beyond it, most often it {lost_words(widest.lost)}." if widest.lost is not None else ""
    return f"Largest {WORDS[answer.vary]} that still gets through often enough ({need}): {value}{between}.{stop}"


# --- compare -------------------------------------------------------------------------------------------------------


def compare_text(answer: CompareAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(compare_statement(answer), width)


def compare_statement(answer: CompareAnswer) -> Statement:
    """The answer as a statement."""
    told = []
    for run in answer.runs:
        seconds = f"{fixed(run.seconds, 1)} s" if run.seconds == run.seconds else ""
        where = f"{shorten(run.robot, NAME_CELLS)} on {shorten(run.field, NAME_CELLS)}"
        told.append((shorten(run.run, NAME_CELLS), how_often(run.success, answer.trials), seconds, where))
    found = [Section("The runs", (Table(("run", "gets through", "takes", "what drives where"), rows(told)),))]
    for pair in answer.differences:
        parts = [
            *_only(pair.only_first, pair.first, pair.second, pair.second_lost),
            *_only(pair.only_second, pair.second, pair.first, pair.first_lost),
        ]
        found.append(Section(_against(pair), tuple(parts)))
    first, *others = map(difference_words, answer.differences)
    return Statement(
        name="Runs compared",
        title="Runs compared",
        about=(f"{answer.trials} trials of each, seed {answer.seed}, on the same draws",),
        headline=first,
        further=tuple(others),
        sections=tuple(found),
        closing=(as_written(), no_proof()),
    )


def _against(pair: DifferenceAnswer) -> str:
    return f"{shorten(pair.first, NAME_CELLS)} against {shorten(pair.second, NAME_CELLS)}"


def difference_words(pair: DifferenceAnswer) -> str:
    """'A against B: 25 in 1000 more get through (between 15 and 34): A is truly better.'"""
    first, second = shorten(pair.first, NAME_CELLS), shorten(pair.second, NAME_CELLS)
    share = pair.difference
    sign = -1 if share.share < 0 else 1
    low, high = sorted((sign * share.low, sign * share.high))
    more = "fewer" if sign < 0 else "more"
    if pair.truly == 0:
        verdict = "that may be luck, take the one you like better"
    else:
        verdict = f"{first if pair.truly > 0 else second} is truly better"
    often = f"{abs(share.share) * 1000:.0f} in 1000 {more} get through ({_per_mille(low, high)})"
    return f"{_against(pair)}: {often}: {verdict}."


def lost_words(lost: LostAnswer) -> str:
    """What went wrong, in words: 'touches mill on segment 3'."""
    what = shorten(lost.what, NAME_CELLS) if lost.what else ""
    if lost.why in ("touches", "misses", "ends outside"):
        return f"{lost.why} {what} on segment {lost.segment}" if what else f"{lost.why} on segment {lost.segment}"
    return f"does not catch {what} on segment {lost.segment} ({lost.why})"


def _only(count: int, one: str, other: str, reasons: tuple[LostAnswer, ...]) -> Iterator[Part]:
    one, other = shorten(one, NAME_CELLS), shorten(other, NAME_CELLS)
    if not count:
        yield f"No trial gets through only as {one}."
        return
    yield f"{count} {'trial gets' if count == 1 else 'trials get'} through only as {one}. {other} there:"
    told = (
        (lost_words(lost), str(lost.count), f"such as trial {', '.join(map(str, lost.examples))}") for lost in reasons
    )
    yield Table(("what goes wrong", "trials", "which"), rows(told))


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
            f"{each.worth.share * 1000:.0f} in 1000 fewer ({_per_mille(each.worth.low, each.worth.high)})",
            f"alone {fixed(each.alone.share * 1000, 0)} in 1000",
        )
        for each in [each for each in answer.failures if each.worth.low > 0][:FAILURES]
    )
    fails: Part = Table(("source", "fail without it", "fail with it alone"), shown)
    found = [
        Section(
            "What the failures come from: fewer that fail without it, and how many fail with it alone",
            (fails if shown else "no single one is more than luck",),
        )
    ]
    if answer.mends:
        worth = rows((mend.what, _gain(mend.gain.share, mend.gain.low, mend.gain.high)) for mend in answer.mends)
        found.append(Section("What a change there is worth", (Table(("change", "worth"), worth),)))
    spread = []
    for of, group in groupby(answer.spread, key=lambda each: each.of):
        sd, unit = next((sd, unit) for name, sd, unit in answer.sds if name == of)
        spread.append((of, f"give or take {fixed(sd, 1)} {unit}", _parts(list(group))))
    title = "What the spread comes from: shares of the variance, with all each has a hand in (so they may overlap)"
    found.append(Section(title, (Table(("what", "spread", "from"), rows(spread)),)))
    return Statement(
        name=f"{run}: what breaks it",
        title=f"{run}: {robot} on {field}. What makes it fail, and what makes its spread?",
        about=(f"{answer.trials} trials, seed {answer.seed}",),
        headline=f"It gets through {how_often(answer.success, answer.trials)}.",
        further=() if answer.quiet else ("It fails without any noise, too: mend the plan first (see try).",),
        sections=tuple(found),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def causes_headline(answer: CausesAnswer) -> str:
    """The one sentence, for a picture."""
    return next(_advice(answer))


def source_words(source: str, segment: int) -> str:
    """'slip in the turn, segment 4'."""
    return f"{source}, segment {segment}" if segment else source


def _parts(sources: list[SourceAnswer]) -> str:
    told = [each for each in sources if each.total >= SMALL_PART][:SOURCES]
    words = [f"{source_words(each.source, each.segment)} {max(0.0, each.total) * 100:.0f} %" for each in told]
    return "; ".join(words) or "many small sources"


def _gain(share: float, low: float, high: float) -> str:
    if low > 0:
        return f"{share * 1000:.0f} in 1000 more get through ({_per_mille(low, high)})"
    if high < 0:
        return f"{-share * 1000:.0f} in 1000 fewer get through ({_per_mille(-high, -low)})"
    return "no more than luck could make of it"


def _advice(answer: CausesAnswer) -> Iterator[str]:
    good = [mend for mend in answer.mends if mend.gain.low > 0]
    if good:
        best = max(good, key=lambda mend: mend.gain.share)
        yield f"Try it: {best.what}. It was worth {best.gain.share * 1000:.0f} in 1000 here."
    if answer.failures and answer.failures[0].worth.low > 0:
        first = answer.failures[0]
        yield f"Of all that is drawn by chance, {source_words(first.source, first.segment)} breaks the run most often."
    else:
        yield "No single source breaks the run: it is the sum of many small ones, or the plan itself."
