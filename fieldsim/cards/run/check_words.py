"""What is done and confirmed before a run, one line an action: first what needs no ruler, then what a ruler finds and
how far off it may be, then go or no go."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.cards.run.card import Card
from fieldsim.cards.run.start import Measure
from fieldsim.cards.run.start_words import far_words, looks_words, measure_words, place_words, thing_words
from fieldsim.cards.run.words import millimetres, short_name, warning_words
from fieldsim.language import tr, tr_later
from fieldsim.rounding import rounded_down

MAKE_READY, SET_IT, GO = tr_later("Make ready"), tr_later("Set and check"), tr_later("Go or no go")
# A limit is told no finer and no wider than this, mm: less is 'exactly', more need not be measured.
FINEST, WIDEST = 0.5, 30.0


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def ready_words(card: Card) -> list[str]:
    """What has to be there before the robot is set."""
    bare = card.bare or not card.wear
    found = [
        tr("The event's own rules come first"),
        tr("An adult is here"),
        tr("Battery charged as in the tests"),
        tr("Wheels clean and firm, mat swept"),
        tr("No attachment on") if bare else tr("Firmly on: {names}", names=", ".join(map(short_name, card.wear))),
        tr("Program: {run}", run=short_name(card.run)),
    ]
    if card.heading_from == "gyro":
        found.append(tr("Gyro set to nought, robot still"))
    if any(step.kind in ("line square", "until") for step in card.steps):
        found.append(tr("Light sensors see line and mat"))
    return [*found, tr("Models stand in their places")]


def set_words(card: Card, shortly: bool = False) -> list[str]:
    """How it is set and how that is confirmed. ``shortly`` where a picture shows from where to where is measured."""
    start = card.start
    found = []
    if start.jig is None or start.holds is None:
        found.append(tr("Set by eye, as in the picture") if shortly else tr("No jig: set by eye"))
    else:
        corner = place_words(start.holds)
        found.append(tr("{corner} home in {jig}", corner=_capital(corner), jig=short_name(start.jig)))
    found += [
        tr("{side} on the {thing}: no light", side=_capital(place_words(each.side)), thing=thing_words(each.against))
        for each in start.flush
    ]
    found.append(looks_words(card).rstrip("."))
    found += list(_measured(card, shortly))
    if start.jig is not None:
        found.append(tr("Jig left or off, as the rules say"))
    return found


def _measured(card: Card, shortly: bool) -> Iterator[str]:
    """What a ruler finds; what lies flat on a wall has been seen already."""
    start, limits = card.start, card.limits
    seen = {each.against for each in start.flush}
    a, b, c = start.measures
    for measure, limit in ((a, limits.a if limits else None), (b, limits.b if limits else None)):
        if abs(measure.distance) >= 0.05 or measure.wall not in seen:
            yield _with_limit(_measure(measure, shortly), limit)
    if not seen:
        yield _measure(c, shortly)
        yield _with_limit(_heading(card), limits.difference if limits else None)


def _measure(measure: Measure, shortly: bool) -> str:
    if shortly:
        return tr("{letter} {distance}", letter=measure.letter, distance=far_words(measure))
    return measure_words(measure)


def _heading(card: Card) -> str:
    """What the two measures of one side say about the heading."""
    one, other = card.start.check
    difference = card.start.difference
    if abs(difference) < 0.05:
        return tr("{one} and {other} the same", one=one, other=other)
    words = (
        tr_later("{other} is {by} more than {one}") if difference > 0 else tr_later("{other} is {by} less than {one}")
    )
    return tr(words, one=one, other=other, by=millimetres(abs(difference)))


def _with_limit(words: str, limit: float | None) -> str:
    if limit is None:
        return words
    if limit < FINEST:
        return tr("{measure}, exactly", measure=words)
    if limit < 1:
        return tr("{measure}, give or take half a mm", measure=words)
    return tr("{measure}, give or take {limit}", measure=words, limit=rounded_down(min(limit, WIDEST)))


def go_words() -> list[str]:
    """The last before the start."""
    return [tr("Fingers and hair off gears and wheels"), tr("Clock ready, hands away")]


def go_or_not(card: Card) -> tuple[str, str]:
    """When it is started, and when not."""
    go = tr("GO: every box is ticked. Start.")
    if warning_words(card):
        go = tr("NOT READY: to practise with only, not for a match.")
    return go, tr("NO GO: a box is empty. Lift it off and set it again.")


def limits_mean(card: Card) -> str:
    """What the limits stand for; '' where there are none."""
    if card.limits is None:
        return ""
    return tr(
        "Give or take: so far off, all else right, {often} in 1000 still get through ({now} in 1000 set right).",
        often=rounded_down(1000 * card.limits.need), now=round(1000 * card.success.share),
    )  # fmt: skip


def tick_words(card: Card) -> list[str]:
    """All that is ticked, in the order in which it is done."""
    return [*ready_words(card), *set_words(card), *go_words()]
