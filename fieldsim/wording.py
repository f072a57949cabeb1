"""The answer of ``fieldsim try`` in words a twelve year old reads.

Nothing is computed here that the answer does not already say; numbers are only rounded. Where a number is a promise
it is rounded to the careful side: the lower end of an interval down and the upper end up, what is left in 19 of 20
trials down, what 19 of 20 stay within up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from fieldsim.advice import advice
from fieldsim.answer import SquareAnswer, TargetAnswer, TryAnswer
from fieldsim.lettering import cells, numbered, one_line, shorten, table, units_kept, wrapped_lines
from fieldsim.phrases import (
    FINE_TRIALS,
    NAME_CELLS,
    ceiled,
    fixed,
    headline,
    how_often,
    left_gap,
    near_gaps,
    no_proof,
    planned_gap,
    segment_words,
    signed,
    unknown_words,
)

__all__ = ["advice", "cells", "headline", "how_often", "one_line", "segment_words", "shorten", "try_text", "units_kept"]

TITLE_CELLS = 40
CONTACTS_SHOWN = 8
GAPS_SHOWN = 5
NARROWEST = 40

BOLD, PLAIN = "\x1b[1m", "\x1b[0m"


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
        lines.extend(f"{BOLD}{line}{PLAIN}" if colour else line for line in wrapped_lines(text, width))

    run, robot = shorten(answer.run, TITLE_CELLS), shorten(answer.robot, TITLE_CELLS)
    field, start = shorten(answer.field, TITLE_CELLS), shorten(answer.start, TITLE_CELLS)
    lines.extend(wrapped_lines(f"{run}: {robot} on {field}, from {start}", width))
    for line in _about_trials(answer):
        lines.extend(wrapped_lines(line, width))
    lines.append("")
    head = headline(answer)
    titled(f"{head[0].upper()}{head[1:]}.")
    for line in _about_success(answer):
        lines.extend(wrapped_lines(line, width))

    if answer.contacts and answer.trials:
        heading("Where it touches first")
        lines.extend(table(_contact_rows(answer), width))
        if len(answer.contacts) > CONTACTS_SHOWN:
            lines.append(f"  and {len(answer.contacts) - CONTACTS_SHOWN} more, none of them more often")

    heading("Tightest places")
    lines.extend(_gap_lines(answer, width))

    if answer.targets:
        heading("Targets")
        for target in answer.targets:
            lines.extend(_target_lines(answer, target, width))

    if answer.squares:
        heading("Squares and lines")
        for square in answer.squares:
            lines.extend(_square_lines(answer, square, width))

    heading("The end")
    lines.extend(_finish_lines(answer, width))

    heading("Time")
    lines.extend(wrapped_lines(_time_words(answer), width, "  ", "  "))

    heading("What to look at next")
    lines.extend(numbered(advice(answer), width))
    lines.append("")
    lines.extend(wrapped_lines(no_proof(), width))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _about_trials(answer: TryAnswer) -> Iterator[str]:
    noun = "trial" if answer.trials == 1 else "trials"
    yield f"{answer.trials} {noun}, seed {answer.seed}"
    if answer.interrupted:
        of = "" if answer.asked is None else f" of {answer.asked}"
        yield f"Stopped early after {answer.trials}{of} {noun if not of else 'trials'}: the rest was not tried."
    yield from answer.notes
    if answer.bare:
        yield "Tried bare: without attachments and without acts (--bare)."


def _about_success(answer: TryAnswer) -> Iterator[str]:
    if answer.trials == 0:
        return
    if answer.unknown is not None:
        yield unknown_words(answer.unknown, answer.success.share)
        if answer.unknown.untold:
            names = ", ".join(name.replace(".", ": ") for name in answer.unknown.untold)
            yield f"No test tells of {names}: taken as the robot's file has it."
    if answer.clear != answer.success:
        yield f"Touches nothing it may not touch: {how_often(answer.clear, answer.trials)}."
    for square in answer.squares:
        if square.missed:
            lost = sum(share.share for _, share in square.missed) * 1000
            often = f"{lost:.0f} in 1000" if lost >= 0.5 else "less than 1 in 1000"
            yield (
                f"Does not catch {shorten(square.on, NAME_CELLS)}, and stops there: {often}, on "
                f"{segment_words(answer, square.segment)}."
            )
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


def _gap_lines(answer: TryAnswer, width: int) -> Iterator[str]:
    near = near_gaps(answer)
    if not answer.clearance:
        yield from wrapped_lines("There is nothing on this field that the run could touch.", width, "  ", "  ")
        return
    if not near:
        yield from wrapped_lines(f"Nothing comes nearer than {answer.horizon:g} mm.", width, "  ", "  ")
        return
    rows = [("", "planned gap", "left in 19 of 20 trials", "")]
    for gap in near[:GAPS_SHOWN]:
        left = left_gap(gap, answer.horizon) if answer.trials else "not known"
        rows.append(
            (
                shorten(gap.obstacle, NAME_CELLS),
                planned_gap(gap.nominal, answer.horizon),
                left,
                segment_words(answer, gap.segment),
            )
        )
    if 2 + sum(max(cells(row[i]) for row in rows) for i in range(3)) + 4 > width:
        # Too narrow for a heading over columns: every line says itself what it is.
        for name, planned, left, place in rows[1:]:
            yield from wrapped_lines(name, width, "  ", "  ")
            yield from wrapped_lines(f"planned gap: {planned}", width, "      ", "      ")
            yield from wrapped_lines(f"left in 19 of 20 trials: {left}", width, "      ", "      ")
            yield from wrapped_lines(place, width, "      ", "      ")
    else:
        yield from table(rows, width)
    if len(near) > GAPS_SHOWN:
        yield f"  and {len(near) - GAPS_SHOWN} more, wider"


def _target_lines(answer: TryAnswer, target: TargetAnswer, width: int) -> Iterator[str]:
    name, place = shorten(target.target, NAME_CELLS), segment_words(answer, target.segment)
    often = how_often(target.share, answer.trials)
    yield from table([(name, f"reached {often}" if answer.trials else often, place)], width)
    words = []
    decimals = 1 if answer.trials >= FINE_TRIALS else 0
    if target.miss_median is not None:
        typical = f"typical miss {fixed(target.miss_median, decimals)} mm"
        if target.miss_p95 is not None:
            typical += f", in 19 of 20 trials at most {ceiled(target.miss_p95, decimals)} mm"
        words.append(typical)
    elif answer.trials:
        words.append("no trial came this far")
    if math.isfinite(target.nominal_miss):
        words.append(f"the plan itself is {fixed(target.nominal_miss, 1)} mm off")
    if target.within is not None:
        words.append(f"allowed {target.within:g} mm")
    if words:
        yield from wrapped_lines("; ".join(words), width, "      ", "      ")


def _square_lines(answer: TryAnswer, square: SquareAnswer, width: int) -> Iterator[str]:
    often = how_often(square.share, answer.trials)
    name = shorten(square.on, NAME_CELLS)
    rows = [(name, f"caught {often}" if answer.trials else often, segment_words(answer, square.segment))]
    yield from table(rows, width)
    for why, share in square.missed:
        yield from wrapped_lines(f"{why}: {how_often(share, answer.trials)}", width, "      ", "        ")
    if square.before is None or square.after is None:
        return
    words = "; ".join(
        f"{what} {fixed(before, places)} {unit} before, {fixed(after, places)} after"
        for what, before, after, places, unit in (
            ("heading give or take", square.before.heading, square.after.heading, 2, "degrees"),
            ("distance from it", square.before.away, square.after.away, 1, "mm"),
            ("place along it", square.before.along, square.after.along, 1, "mm"),
        )
    )
    yield from wrapped_lines(words, width, "      ", "      ")


def _finish_lines(answer: TryAnswer, width: int) -> Iterator[str]:
    finish = answer.finish
    ended = max(1, round(answer.ended * answer.trials))
    rows = [("", "x", "y", "heading"), _pose_row("planned", finish.nominal, (0, 0, 0))]
    if finish.mean is not None and finish.sd is not None:
        # A mean is known to about sd/sqrt(n): a decimal only where that is well under the half of the last place.
        places = tuple(1 if sd / math.sqrt(ended) < 0.2 else 0 for sd in finish.sd)
        rows[1] = _pose_row("planned", finish.nominal, places)
        rows.append(_pose_row("on average", finish.mean, places))
        if answer.trials > 1:
            rows.append(_pose_row("give or take", finish.sd, tuple(1 if sd < 10 else 0 for sd in finish.sd)))
    yield from table(rows, width)
    if finish.mean is None and answer.trials:
        yield from wrapped_lines("No trial came to its end.", width, "  ", "  ")
    if finish.met is not None:
        often = how_often(finish.met, answer.trials)
        yield from wrapped_lines(f"ends inside the finish area: {often}", width, "  ", "      ")


def _pose_row(label: str, pose: Sequence[float], places: Sequence[int]) -> tuple[str, str, str, str]:
    x, y, heading = (signed(value, digits) for value, digits in zip(pose, places, strict=True))
    return (label, f"{x} mm", f"{y} mm", f"{heading} degrees")


def _time_words(answer: TryAnswer) -> str:
    time = answer.time
    words = f"planned {fixed(time.nominal, 1)} s" if math.isfinite(time.nominal) else "planned time not known"
    if time.mean is None:
        return words
    words += f"; on average {fixed(time.mean, 1)} s"
    # A hundredth of a second is less than a stopwatch in a hand tells apart: common practice, no source.
    if time.sd is not None and time.sd < 0.01 and answer.trials > 1:
        return f"{words}, always the same"
    if time.sd is not None and answer.trials > 1:
        words += f", give or take {fixed(time.sd, 1)} s" if time.sd >= 0.1 else ", give or take less than 0.1 s"
    if time.p95 is not None and answer.trials > 1:
        words += f"; 19 of 20 trials that come to their end need at most {ceiled(time.p95, 1)} s"
    return words
