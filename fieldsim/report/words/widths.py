"""The answer of ``fieldsim widths`` in words."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    NAME_CELLS,
    as_written,
    fixed,
    floored,
    how_often,
    lost_words,
    no_proof,
    stopped_words,
    trials_words,
)
from fieldsim.report.statement import Part, Section, Statement, Table, rows, statement_text

if TYPE_CHECKING:
    from fieldsim.studies.widths import WidthAnswer, WidthsAnswer

TITLE_CELLS = 40

WORDS = {
    "width": tr_later("body width"),
    "length": tr_later("body length"),
    "axle": tr_later("distance from the rear face to the axle"),
    "track": tr_later("track"),
    "wheel": tr_later("wheel diameter"),
    "speed": tr_later("speed"),
}


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
