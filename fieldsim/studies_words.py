"""The answers of ``fieldsim widths``, ``compare`` and ``causes`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from fieldsim.answer import CausesAnswer, CompareAnswer, DifferenceAnswer, LostAnswer, SourceAnswer, WidthsAnswer
from fieldsim.lettering import numbered, shorten, table, wrapped_lines
from fieldsim.phrases import NAME_CELLS, as_written, fixed, floored, how_often, no_proof, rounded_down, rounded_up

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


def _end(lines: list[str]) -> str:
    return "\n".join(line.rstrip() for line in [*lines, "", as_written(), no_proof()]) + "\n"


def _per_mille(low: float, high: float) -> str:
    return f"between {rounded_down(low * 1000)} and {rounded_up(high * 1000)}"


# --- widths --------------------------------------------------------------------------------------------------------


def widths_text(answer: WidthsAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    what = WORDS[answer.vary] + (", the track moving along" if answer.track_moves else "")
    lines = list(wrapped_lines(f"{run}: {robot} on {field}, with another {what}", width))
    lines += wrapped_lines(
        f"{answer.trials} trials of each, seed {answer.seed}; now {answer.now:g} {answer.unit}", width
    )
    lines += ["", *wrapped_lines(widths_headline(answer), width)]
    if answer.geometry is not None:
        stop = _stop(answer.geometry.obstacle, answer.geometry.segment)
        lines += wrapped_lines(
            f"Without any noise it would be {floored(answer.geometry.value, 2)} {answer.unit}{stop}.", width
        )
        if answer.widest is not None and not answer.widest.beyond:
            lines += wrapped_lines(
                f"So the noise costs {fixed(answer.geometry.value - answer.widest.value, 1)} {answer.unit}.", width
            )
    lines += ["", f"{WORDS[answer.vary].capitalize()} and what gets through"]
    rows = []
    for each in answer.values:
        words = ["now"] if each.value == answer.now else []
        # What one trial in twenty or more is lost by is worth a word.
        if each.lost is not None and each.lost.count >= 0.05 * answer.trials:
            words.append(f"{round(each.lost.count / answer.trials * 1000)} in 1000: {lost_words(each.lost)}")
        rows.append((f"{each.value:g} {answer.unit}", how_often(each.success, answer.trials), "; ".join(words)))
    lines += table(rows, width)
    for value, why in answer.refused:
        lines += wrapped_lines(f"{value:g} {answer.unit} cannot be: {shorten(why, 90)}", width, "  ", "      ")
    if answer.places:
        lines += ["", "Largest that touches nothing without any noise, obstacle by obstacle"]
        lines += table(
            [
                (
                    shorten(place.obstacle or "", NAME_CELLS),
                    f"{floored(place.value, 2)} {answer.unit}",
                    f"segment {place.segment}" if place.segment else "",
                )
                for place in answer.places
            ],
            width,
        )
    return _end(lines)


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
    lines = [f"{answer.trials} trials of each, seed {answer.seed}, on the same draws", "", "The runs"]
    rows = []
    for run in answer.runs:
        seconds = f"{fixed(run.seconds, 1)} s" if run.seconds == run.seconds else ""
        where = f"{shorten(run.robot, NAME_CELLS)} on {shorten(run.field, NAME_CELLS)}"
        rows.append((shorten(run.run, NAME_CELLS), how_often(run.success, answer.trials), seconds, where))
    lines += table(rows, width)
    for pair in answer.differences:
        lines += ["", *wrapped_lines(difference_words(pair), width)]
        lines += _only(pair.only_first, pair.first, pair.second, pair.second_lost, width)
        lines += _only(pair.only_second, pair.second, pair.first, pair.first_lost, width)
    return _end(lines)


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
    return f"{first} against {second}: {often}: {verdict}."


def lost_words(lost: LostAnswer) -> str:
    """What went wrong, in words: 'touches mill on segment 3'."""
    what = shorten(lost.what, NAME_CELLS) if lost.what else ""
    if lost.why in ("touches", "misses", "ends outside"):
        return f"{lost.why} {what} on segment {lost.segment}" if what else f"{lost.why} on segment {lost.segment}"
    return f"does not catch {what} on segment {lost.segment} ({lost.why})"


def _only(count: int, one: str, other: str, reasons: tuple[LostAnswer, ...], width: int) -> Iterator[str]:
    noun = "trial gets" if count == 1 else "trials get"
    yield from wrapped_lines(
        f"{count} {noun} through only as {shorten(one, NAME_CELLS)}. {shorten(other, NAME_CELLS)} there:" if count
        else f"No trial gets through only as {shorten(one, NAME_CELLS)}.", width, "  ", "  ",
    )  # fmt: skip
    rows = [
        (lost_words(lost), str(lost.count), "such as trial " + ", ".join(map(str, lost.examples))) for lost in reasons
    ]
    for line in table(rows, width - 2) if count else ():
        yield f"  {line}"


# --- causes --------------------------------------------------------------------------------------------------------


def causes_text(answer: CausesAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    lines = list(wrapped_lines(f"{run}: {robot} on {field}. What makes it fail, and what makes its spread?", width))
    lines += wrapped_lines(f"{answer.trials} trials, seed {answer.seed}", width)
    lines += ["", *wrapped_lines(f"It gets through {how_often(answer.success, answer.trials)}.", width)]
    if not answer.quiet:
        lines += wrapped_lines("It fails without any noise, too: mend the plan first (see try).", width)
    lines += ["", "What the failures come from: fewer that fail without it, and how many fail with it alone"]
    shown = [each for each in answer.failures if each.worth.low > 0][:FAILURES]
    rows = [
        (
            source_words(each.source, each.segment),
            f"{each.worth.share * 1000:.0f} in 1000 fewer ({_per_mille(each.worth.low, each.worth.high)})",
            f"alone {fixed(each.alone.share * 1000, 0)} in 1000",
        )
        for each in shown
    ]
    lines += table(rows, width) if rows else ["  no single one is more than luck"]
    if answer.mends:
        lines += ["", "What a change there is worth"]
        for mend in answer.mends:
            lines += wrapped_lines(
                f"{mend.what}: {_gain(mend.gain.share, mend.gain.low, mend.gain.high)}", width, "  ", "      "
            )
    lines += [
        "",
        "What the spread comes from: shares of the variance, with all each has a hand in (so they may overlap)",
    ]
    for of, group in groupby(answer.spread, key=lambda each: each.of):
        sd, unit = next((sd, unit) for name, sd, unit in answer.sds if name == of)
        lines += wrapped_lines(
            f"{of}, give or take {fixed(sd, 1)} {unit}: {_parts(list(group))}", width, "  ", "      "
        )
    lines += ["", "What to look at next"]
    lines += numbered(list(_advice(answer)), width)
    return _end(lines)


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
