"""The answer of ``fieldsim try`` in words a twelve year old reads.

Nothing is computed here that the answer does not already say; numbers are only rounded. Where a number is a promise
it is rounded to the careful side: the lower end of an interval down and the upper end up, what is left in 19 of 20
trials down, what 19 of 20 stay within up.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator, Sequence

from fieldsim.answer import ClearanceAnswer, ContactAnswer, Share, TargetAnswer, TryAnswer

__all__ = ["cells", "headline", "how_often", "one_line", "segment_words", "shorten", "try_text", "units_kept"]

# From here on shares are told 'in 1000'. Below it the 95 % interval is wider than 10 in 100 in the worst case (a half
# width of 0.98/sqrt(n)), so the plain count and an interval 'in 100' say all that is known.
FINE_TRIALS = 400

# A planned gap below this is called small: about what placing by hand and two turns cost a careful team.
# Common practice, no source.
SMALL_GAP_MM = 5.0

# How much rarer than 'touches nothing' something must be before it is named as a trouble of its own.
OWN_TROUBLE = 0.01

NAME_CELLS = 26
TITLE_CELLS = 40
SEGMENT_CELLS = 34
CONTACTS_SHOWN = 8
GAPS_SHOWN = 5
NARROWEST = 40

BOLD, PLAIN = "\x1b[1m", "\x1b[0m"


# --- names from files: any character may be in them ------------------------------------------------------------------


def one_line(text: str) -> str:
    """``text`` without anything that could move the cursor, turn the writing direction or stack up on other lines.

    Line ends, tabs and odd spaces become one space; control and unassigned characters become ``?``; joiners and
    variation selectors go; at most two accents stay on one letter. An empty name is told as such.

    >>> one_line("oven\\x1b[31m\\n north")
    'oven?[31m north'
    """
    kept: list[str] = []
    accents = 0
    for character in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(character)
        if character in "\t\n\v\f\r" or kind[0] == "Z":
            character = " "
        elif character in "\u00ad\u200b\u200c\u200d\u2060\ufeff" or 0xFE00 <= ord(character) <= 0xFE0F:
            continue
        elif kind[0] == "C":
            character = "?"
        accents = accents + 1 if kind in ("Mn", "Me") else 0
        if accents <= 2:
            kept.append(character)
    return " ".join("".join(kept).split()) or "(no name)"


def cells(text: str) -> int:
    """Width on a terminal: wide East Asian characters and most picture characters take two cells, accents none."""
    return sum(map(_cell, text))


def _cell(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def shorten(text: str, limit: int) -> str:
    """``text`` made one line and at most ``limit`` cells wide.

    The middle goes, so that 'shelf 1' and 'shelf 2' stay apart.

    >>> shorten("the very long counter by the window 2", 20)
    'the very...window 2'
    """
    text = one_line(text)
    if cells(text) <= limit:
        return text
    tail_room = (limit - 3) // 2
    tail = ""
    for character in reversed(text):
        if cells(character + tail) > tail_room:
            break
        tail = character + tail
    head = ""
    for character in text:
        if cells(head + character) > limit - 3 - cells(tail):
            break
        head += character
    # An accent whose letter was cut off would land on the dots.
    while tail and _cell(tail[0]) == 0:
        tail = tail[1:]
    return f"{head.rstrip()}...{tail.lstrip()}"


def segment_words(answer: TryAnswer, segment: int) -> str:
    """'segment 4, straight 420 mm'; only the number if the answer does not tell the words."""
    if 1 <= segment <= len(answer.segments):
        return f"segment {segment}, {shorten(answer.segments[segment - 1], SEGMENT_CELLS)}"
    return f"segment {segment}"


def _on_segment(answer: TryAnswer, segment: int) -> str:
    """The same inside a sentence: 'segment 4 (straight 420 mm)'."""
    number, _, words = segment_words(answer, segment).partition(", ")
    return f"{number} ({words})" if words else number


# --- numbers ---------------------------------------------------------------------------------------------------------


def how_often(share: Share, trials: int) -> str:
    """A share in words with its interval, in no finer steps than the number of trials supports.

    >>> how_often(Share(0.871, 0.84881, 0.89036), 1000)
    '871 in 1000 (between 848 and 891)'
    >>> how_often(Share(0.0, 0.0, 0.003826), 1000)
    'none of 1000 (at most 4 in 1000)'
    >>> how_often(Share(0.85, 0.63958, 0.94758), 20)
    '17 of 20 (between 63 and 95 in 100)'
    """
    if trials <= 0:
        return "not known (no trial was done)"
    count = round(share.share * trials)
    none, every = (f"{count} of 1", f"{count} of 1") if trials == 1 else (f"none of {trials}", f"all of {trials}")
    per = 1000 if trials >= FINE_TRIALS else 100
    low, high = _down(share.low * per), _up(share.high * per)
    if count <= 0:
        return f"{none} (at most {high} in {per})"
    if count >= trials:
        return f"{every} (at least {low} in {per})"
    if low <= 0:
        between = f"at most {high}"
    elif high >= per:
        between = f"at least {low}"
    else:
        between = f"between {low} and {high}"
    if trials < FINE_TRIALS:
        return f"{count} of {trials} ({between} in 100)"
    exact = share.share * per
    if exact < 1:
        return f"less than 1 in {per} ({between})" if high > 1 else f"less than 1 in {per}"
    if exact > per - 1:
        return f"more than {per - 1} in {per} ({between})" if low < per - 1 else f"more than {per - 1} in {per}"
    return f"{round(exact)} in {per} ({between})"


def headline(answer: TryAnswer) -> str:
    """The one sentence: 'gets through 871 in 1000 (between 848 and 891)'."""
    if answer.trials == 0:
        return "no trial was done"
    return f"gets through {how_often(answer.success, answer.trials)}"


def _down(value: float) -> int:
    # A ten-millionth is let off so that 0.57 * 100 = 56.99999 stays 57.
    return math.floor(value + 1e-7) if math.isfinite(value) else 0


def _up(value: float) -> int:
    return math.ceil(value - 1e-7) if math.isfinite(value) else 0


def _fixed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def _floored(value: float, decimals: int) -> str:
    return _fixed(math.floor(value * 10**decimals + 1e-7) / 10**decimals, decimals)


def _ceiled(value: float, decimals: int) -> str:
    return _fixed(math.ceil(value * 10**decimals - 1e-7) / 10**decimals, decimals)


def _planned_gap(gap: float, horizon: float) -> str:
    """The planned gap is exact, so it is told to 0.1 mm, finer than any tape measures."""
    if not math.isfinite(gap) or gap >= horizon:
        return f"over {horizon:g} mm" if math.isfinite(horizon) else "far"
    if gap <= 0:
        return "it touches"
    if gap < 0.1:
        return "under 0.1 mm"
    return f"{_fixed(gap, 1 if gap < 99.95 else 0)} mm"


def _decimals(low: float, high: float) -> int:
    """One decimal only if the interval is narrower than 1 mm to either side."""
    return 1 if math.isfinite(high - low) and (high - low) / 2 < 1 else 0


def _left_gap(gap: ClearanceAnswer, horizon: float) -> str:
    """The margin, such as '3.1 mm (2.8 to 3.5)'."""
    if not math.isfinite(gap.p05) or gap.p05 >= horizon:
        return f"over {horizon:g} mm" if math.isfinite(horizon) else "far"
    if gap.p05 <= 0:
        return "nothing, it touches"
    decimals = _decimals(gap.p05_low, gap.p05_high)
    step = 10.0**-decimals
    low = "0" if gap.p05_low <= 0 else _floored(gap.p05_low, decimals)
    high = f"over {horizon:g}" if gap.p05_high >= horizon else _ceiled(gap.p05_high, decimals)
    value = f"under {step:g} mm" if gap.p05 < step else f"{_floored(gap.p05, decimals)} mm"
    return f"{value} ({low} to {high})"


def _signed(value: float, decimals: int) -> str:
    return _fixed(value, decimals) if math.isfinite(value) else "?"


# --- laying out ------------------------------------------------------------------------------------------------------


def _pad(text: str, width: int) -> str:
    return text + " " * max(0, width - cells(text))


_UNIT = re.compile(r"(?<=\d) (?=(?:mm|s|degrees)\b)")


def units_kept(text: str) -> str:
    """``text`` with a no-break space between a number and its unit, so that they stay on one line."""
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)


def _wrapped(text: str, width: int, first: str = "", rest: str = "") -> Iterator[str]:
    """Lines of at most ``width`` cells; ``first`` and ``rest`` go before the first line and the others."""
    for line in _broken(units_kept(text), width, first, rest):
        yield line.replace("\N{NO-BREAK SPACE}", " ")


def _broken(text: str, width: int, first: str, rest: str) -> Iterator[str]:
    line, empty = first, True
    for word in text.split(" "):
        while True:
            gap = "" if empty else " "
            if cells(line) + cells(gap) + cells(word) <= width:
                line, empty = line + gap + word, False
                break
            if not empty:
                yield line
                line, empty = rest, True
                continue
            room = max(2, width - cells(line))
            cut = len(word)
            while cut > 1 and cells(word[:cut]) > room:
                cut -= 1
            if cut == len(word):
                line, empty = line + word, False
                break
            yield line + word[:cut]
            line, word = rest, word[cut:]
    yield line


def _table(rows: Sequence[Sequence[str]], width: int) -> Iterator[str]:
    """Columns where the lines are wide enough; otherwise what does not fit goes below, further in."""
    if not rows:
        return
    columns = [max(cells(row[i]) for row in rows) for i in range(len(rows[0]))]
    # The last column gives way first, then the one before, until the rest fits.
    beside = len(columns)
    while beside > 1 and 2 + sum(columns[:beside]) + 2 * (beside - 1) > width:
        beside -= 1
    for row in rows:
        line = "  ".join(_pad(row[i], columns[i]) for i in range(beside)).rstrip()
        yield from _wrapped(line.lstrip(), width, "  ", "      ") if beside == 1 else [f"  {line}"]
        for below in row[beside:]:
            if below:
                yield from _wrapped(below, width, "      ", "      ")


def _numbered(points: Sequence[str], width: int) -> Iterator[str]:
    for number, point in enumerate(points, 1):
        mark = f"  {number}. "
        yield from _wrapped(point, width, mark, " " * len(mark))


# --- the parts -------------------------------------------------------------------------------------------------------


def try_text(answer: TryAnswer, width: int = 100, colour: bool = False) -> str:
    """The whole answer as text, ending in a line end.

    ``width`` is in terminal cells; below 40 it is taken as 40. ``colour`` sets headings in bold with escape codes and
    changes nothing else, so the text says the same to everyone.
    """
    width = max(width, NARROWEST)
    lines: list[str] = []

    def heading(text: str) -> None:
        lines.append("")
        lines.append(f"{BOLD}{text}{PLAIN}" if colour else text)

    def titled(text: str) -> None:
        lines.extend(f"{BOLD}{line}{PLAIN}" if colour else line for line in _wrapped(text, width))

    run, robot = shorten(answer.run, TITLE_CELLS), shorten(answer.robot, TITLE_CELLS)
    field, start = shorten(answer.field, TITLE_CELLS), shorten(answer.start, TITLE_CELLS)
    lines.extend(_wrapped(f"{run}: {robot} on {field}, from {start}", width))
    for line in _about_trials(answer):
        lines.extend(_wrapped(line, width))
    lines.append("")
    head = headline(answer)
    titled(f"{head[0].upper()}{head[1:]}.")
    for line in _about_success(answer):
        lines.extend(_wrapped(line, width))

    if answer.contacts and answer.trials:
        heading("Where it touches first")
        lines.extend(_table(_contact_rows(answer), width))
        if len(answer.contacts) > CONTACTS_SHOWN:
            lines.append(f"  and {len(answer.contacts) - CONTACTS_SHOWN} more, none of them more often")

    heading("Tightest places")
    lines.extend(_gap_lines(answer, width))

    if answer.targets:
        heading("Targets")
        for target in answer.targets:
            lines.extend(_target_lines(answer, target, width))

    heading("The end")
    lines.extend(_finish_lines(answer, width))

    heading("Time")
    lines.extend(_wrapped(_time_words(answer), width, "  ", "  "))

    heading("What to look at next")
    lines.extend(_numbered(advice(answer), width))
    lines.append("")
    lines.extend(_wrapped("A simulated run is no proof: the table decides.", width))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _about_trials(answer: TryAnswer) -> Iterator[str]:
    noun = "trial" if answer.trials == 1 else "trials"
    yield f"{answer.trials} {noun}, seed {answer.seed}"
    if answer.interrupted:
        of = "" if answer.asked is None else f" of {answer.asked}"
        yield f"Stopped early after {answer.trials}{of} {noun if not of else 'trials'}: the rest was not tried."
    if answer.bare:
        yield "Tried bare: without attachments and without acts (--bare)."


def _about_success(answer: TryAnswer) -> Iterator[str]:
    if answer.trials == 0:
        return
    if answer.clear != answer.success:
        yield f"Touches nothing it may not touch: {how_often(answer.clear, answer.trials)}."
    meets = answer.meets_need
    if meets is None or answer.need is None:
        return
    open_still = answer.success.low < answer.need <= answer.success.high
    verdict = "the plan meets that" if meets else "the plan does not meet that"
    doubt = ", but that is not settled: the interval reaches past it" if open_still else ""
    yield f"Wanted: {answer.need * 1000:.4g} in 1000; {verdict}{doubt}."


def _contact_rows(answer: TryAnswer) -> list[tuple[str, str, str]]:
    return [
        (
            shorten(contact.obstacle, NAME_CELLS),
            how_often(contact.share, answer.trials),
            segment_words(answer, contact.segment),
        )
        for contact in answer.contacts[:CONTACTS_SHOWN]
    ]


def _near(answer: TryAnswer) -> list[ClearanceAnswer]:
    """What comes nearer than the horizon, in the answer's order (tightest first)."""
    if answer.trials == 0:
        return sorted((gap for gap in answer.clearance if gap.nominal < answer.horizon), key=lambda gap: gap.nominal)
    return [gap for gap in answer.clearance if min(gap.nominal, gap.p05) < answer.horizon]


def _gap_lines(answer: TryAnswer, width: int) -> Iterator[str]:
    near = _near(answer)
    if not answer.clearance:
        yield from _wrapped("There is nothing on this field that the run could touch.", width, "  ", "  ")
        return
    if not near:
        yield from _wrapped(f"Nothing comes nearer than {answer.horizon:g} mm.", width, "  ", "  ")
        return
    rows = [("", "planned gap", "left in 19 of 20 trials", "")]
    for gap in near[:GAPS_SHOWN]:
        left = _left_gap(gap, answer.horizon) if answer.trials else "not known"
        rows.append(
            (
                shorten(gap.obstacle, NAME_CELLS),
                _planned_gap(gap.nominal, answer.horizon),
                left,
                segment_words(answer, gap.segment),
            )
        )
    if 2 + sum(max(cells(row[i]) for row in rows) for i in range(3)) + 4 > width:
        # Too narrow for a heading over columns: every line says itself what it is.
        for name, planned, left, place in rows[1:]:
            yield from _wrapped(name, width, "  ", "  ")
            yield from _wrapped(f"planned gap: {planned}", width, "      ", "      ")
            yield from _wrapped(f"left in 19 of 20 trials: {left}", width, "      ", "      ")
            yield from _wrapped(place, width, "      ", "      ")
    else:
        yield from _table(rows, width)
    if len(near) > GAPS_SHOWN:
        yield f"  and {len(near) - GAPS_SHOWN} more, wider"


def _target_lines(answer: TryAnswer, target: TargetAnswer, width: int) -> Iterator[str]:
    name, place = shorten(target.target, NAME_CELLS), segment_words(answer, target.segment)
    often = how_often(target.share, answer.trials)
    yield from _table([(name, f"reached {often}" if answer.trials else often, place)], width)
    words = []
    decimals = 1 if answer.trials >= FINE_TRIALS else 0
    if target.miss_median is not None:
        typical = f"typical miss {_fixed(target.miss_median, decimals)} mm"
        if target.miss_p95 is not None:
            typical += f", in 19 of 20 trials at most {_ceiled(target.miss_p95, decimals)} mm"
        words.append(typical)
    elif answer.trials:
        words.append("no trial came this far")
    if math.isfinite(target.nominal_miss):
        words.append(f"the plan itself is {_fixed(target.nominal_miss, 1)} mm off")
    if target.within is not None:
        words.append(f"allowed {target.within:g} mm")
    if words:
        yield from _wrapped("; ".join(words), width, "      ", "      ")


def _finish_lines(answer: TryAnswer, width: int) -> Iterator[str]:
    finish = answer.finish
    ended = max(1, round(answer.clear.share * answer.trials))
    rows = [("", "x", "y", "heading"), _pose_row("planned", finish.nominal, (0, 0, 0))]
    if finish.mean is not None and finish.sd is not None:
        # A mean is known to about sd/sqrt(n): a decimal only where that is well under the half of the last place.
        places = tuple(1 if sd / math.sqrt(ended) < 0.2 else 0 for sd in finish.sd)
        rows[1] = _pose_row("planned", finish.nominal, places)
        rows.append(_pose_row("on average", finish.mean, places))
        rows.append(_pose_row("give or take", finish.sd, tuple(1 if sd < 10 else 0 for sd in finish.sd)))
    yield from _table(rows, width)
    if finish.mean is None and answer.trials:
        yield from _wrapped("No trial came to its end.", width, "  ", "  ")
    if finish.met is not None:
        often = how_often(finish.met, answer.trials)
        yield from _wrapped(f"ends inside the finish area: {often}", width, "  ", "      ")


def _pose_row(label: str, pose: Sequence[float], places: Sequence[int]) -> tuple[str, str, str, str]:
    x, y, heading = (_signed(value, digits) for value, digits in zip(pose, places, strict=True))
    return (label, f"{x} mm", f"{y} mm", f"{heading} degrees")


def _time_words(answer: TryAnswer) -> str:
    time = answer.time
    words = f"planned {_fixed(time.nominal, 1)} s" if math.isfinite(time.nominal) else "planned time not known"
    if time.mean is not None:
        words += f"; on average {_fixed(time.mean, 1)} s"
        if time.sd is not None:
            words += f", give or take {_fixed(max(time.sd, 0.1), 1)} s" if time.sd > 0 else ", always the same"
    if time.p95 is not None:
        words += f"; 19 of 20 trials that come to their end need at most {_ceiled(time.p95, 1)} s"
    return words


# --- what to look at next --------------------------------------------------------------------------------------------


def advice(answer: TryAnswer) -> list[str]:
    """What to look at next: rules over the answer's values, the most pressing first, at least one line."""
    if answer.trials == 0:
        return ["No trial was done, so nothing can be said yet. Try again and let it go on."]
    points: list[str] = []
    if answer.contacts:
        points.append(_contact_advice(answer, answer.contacts[0]))
    points.extend(_target_advice(answer))
    met = answer.finish.met
    if met is not None and answer.clear.share - met.share >= OWN_TROUBLE:
        points.append(
            "It ends outside the finish area though it drives clear: compare 'planned' with 'on average' and 'give or "
            "take' under The end."
        )
    if not points:
        points.append(_calm_advice(answer))
    width = answer.success.high - answer.success.low
    if width > 0.1:
        points.append(
            f"Only {answer.trials} {'trial' if answer.trials == 1 else 'trials'}: the true share may be anywhere from "
            f"{_down(answer.success.low * 100)} to {_up(answer.success.high * 100)} in 100. "
            "More trials narrow that, for example --trials 1000."
        )
    elif answer.need is not None and answer.success.low < answer.need <= answer.success.high:
        points.append(
            f"The wanted share lies between the two ends of the interval: more trials settle it, for example "
            f"--trials {answer.trials * 10}."
        )
    return points


def _gap_of(answer: TryAnswer, obstacle: str) -> ClearanceAnswer | None:
    return next((gap for gap in answer.clearance if gap.obstacle == obstacle), None)


def _contact_advice(answer: TryAnswer, contact: ContactAnswer) -> str:
    name = shorten(contact.obstacle, NAME_CELLS)
    at_start = contact.segment == 1
    first = f"It touches {name} most often, on {_on_segment(answer, contact.segment)}."
    gap = _gap_of(answer, contact.obstacle)
    if gap is None:
        return f"{first} Look there first."
    start = shorten(answer.start, NAME_CELLS)
    if gap.nominal <= 0:
        if at_start:
            return (
                f"{first} The plan itself touches it, right at the start: see whether the robot fits at {start} and "
                "which way it leaves."
            )
        return f"{first} The plan itself touches it: move the path before anything else."
    planned = _planned_gap(gap.nominal, answer.horizon)
    if gap.nominal < SMALL_GAP_MM:
        return f"{first} The planned gap is only {planned}: move the path away from it, or turn somewhere wider."
    if gap.nominal - gap.median > gap.median - gap.p05 and gap.nominal - gap.median > 1:
        half = (
            "in half of the trials it touches"
            if gap.median <= 0
            else f"half of the trials have at most {_ceiled(gap.median, 0)} mm"
        )
        return (
            f"{first} The planned gap is {planned}, but {half}: the robot goes off to that side the same way each "
            f"time. Correct the numbers of the segments up to segment {contact.segment}"
            f"{', or the start' if at_start else ', or align before it'}."
        )
    mend = (
        f"set the robot more exactly at {start}, or drive off more slowly"
        if at_start
        else f"align on a wall or a line before segment {contact.segment}, or make the way to it shorter or slower"
    )
    return f"{first} The planned gap is {planned}, so the path is well laid and the spread is the trouble: {mend}."


def _lost(answer: TryAnswer, target: TargetAnswer) -> float:
    """The least share of trials that drive clear and miss the target; those that touch later may have reached it."""
    return answer.clear.share - target.share.share


def _misses(answer: TryAnswer, target: TargetAnswer) -> bool:
    far = target.within is not None and target.miss_p95 is not None and target.miss_p95 > target.within
    return far or _lost(answer, target) >= OWN_TROUBLE


def _target_advice(answer: TryAnswer) -> Iterator[str]:
    missed = [target for target in answer.targets if _misses(answer, target)]
    if not missed:
        return
    target = min(missed, key=lambda each: each.share.share)
    name = shorten(target.target, NAME_CELLS)
    first = f"It misses {name} on {_on_segment(answer, target.segment)} in some trials that touch nothing."
    if target.miss_median is None:
        # Drives clear in some trials and came to the act in none: only a square or line that was not caught does that.
        yield f"{first} No trial came that far: see what ends the trials before."
        return
    planned, typical = f"{_fixed(target.nominal_miss, 1)} mm", f"{_ceiled(target.miss_median, 0)} mm"
    if target.within is not None and target.nominal_miss > target.within:
        yield f"{first} The plan itself is {planned} off and {target.within:g} mm is allowed: change the way there."
        return
    if target.within is not None and target.miss_p95 is not None and target.miss_p95 <= target.within:
        # At most 1 in 20 is too far off, so what is lost well beyond that can only be the heading.
        if answer.trials >= FINE_TRIALS and _lost(answer, target) > 0.06:
            yield f"{first} The place is right in 19 of 20 trials, so it is the heading that is off: align before it."
        else:
            yield (
                f"{first} They are rare: 19 of 20 trials come within {_ceiled(target.miss_p95, 1)} mm and "
                f"{target.within:g} mm is allowed. Aligning before it would help."
            )
    elif target.nominal_miss > target.miss_median / 2:
        yield f"{first} A good part of the typical miss ({typical}) is in the plan itself ({planned}): aim nearer."
    else:
        yield (
            f"{first} The plan is only {planned} off, a typical trial {typical}: the robot's errors add up on the way. "
            f"Align before segment {target.segment}, or make the way there shorter."
        )


def _calm_advice(answer: TryAnswer) -> str:
    near = _near(answer)
    if not near:
        return "Nothing was touched and nothing comes near. Take it to the table."
    gap = near[0]
    name, place = shorten(gap.obstacle, NAME_CELLS), _on_segment(answer, gap.segment)
    if gap.p05 >= answer.horizon:
        left = f"over {answer.horizon:g} mm"
    elif gap.p05 <= 0:
        return f"Nothing was touched that may not be. The tightest place is {name} on {place}: watch it at the table."
    else:
        decimals = _decimals(gap.p05_low, gap.p05_high)
        step = 10.0**-decimals
        left = f"at least {_floored(gap.p05, decimals)} mm" if gap.p05 >= step else f"under {step:g} mm"
    return (
        f"Nothing was touched. The tightest place is {name} on {place}: in 19 of 20 trials {left} is left. "
        "Watch it at the table."
    )
