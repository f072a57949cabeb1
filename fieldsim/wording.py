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
from fieldsim.bounds import NAME_LENGTH
from fieldsim.lettering import cells, one_line, shorten, units_kept
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
from fieldsim.statement import Part, Row, Section, Statement, Table, rows, statement_text

__all__ = [
    "advice", "cells", "headline", "how_often", "one_line", "segment_words", "shorten", "time_words", "try_statement",
    "try_text", "units_kept",
]  # fmt: skip

TITLE_CELLS = 40
CONTACTS_SHOWN = 8
GAPS_SHOWN = 5
NARROWEST = 40


def try_text(answer: TryAnswer, width: int = 100, colour: bool = False) -> str:
    """The whole answer as text, ending in a line end.

    ``width`` is in terminal cells; below 40 it is taken as 40. ``colour`` sets headings in bold with escape codes and
    changes nothing else, so the text says the same to everyone.
    """
    return statement_text(try_statement(answer), max(width, NARROWEST), colour)


def try_statement(answer: TryAnswer, whole: bool = False) -> Statement:
    """The answer as a statement. With ``whole`` nothing is left out of the tables, and names are told in full."""
    run, robot = shorten(answer.run, TITLE_CELLS), shorten(answer.robot, TITLE_CELLS)
    field, start = shorten(answer.field, TITLE_CELLS), shorten(answer.start, TITLE_CELLS)
    limit = NAME_LENGTH if whole else NAME_CELLS
    head = headline(answer)
    found = []
    if answer.contacts and answer.trials:
        found.append(Section("Where it touches first", tuple(_contact_parts(answer, whole, limit))))
    found.append(Section("Tightest places", tuple(_gap_parts(answer, whole, limit))))
    if answer.targets:
        targets = tuple(_target_row(answer, target, limit) for target in answer.targets)
        heads = ("target", "how often", "where")
        found.append(Section("Targets", (Table(heads, targets, below_head="how near"),)))
    if answer.squares:
        squares = tuple(_square_row(answer, square, limit) for square in answer.squares)
        heads = ("wall or line", "how often", "where")
        found.append(Section("Squares and lines", (Table(heads, squares, below_head="what it did"),)))
    found.append(Section("The end", tuple(_finish_parts(answer))))
    found.append(Section("Time", (time_words(answer),)))
    return Statement(
        name=run,
        title=f"{run}: {robot} on {field}, from {start}",
        about=tuple(_about_trials(answer)),
        headline=f"{head[0].upper()}{head[1:]}.",
        further=tuple(_about_success(answer)),
        sections=tuple(found),
        advice=tuple(advice(answer)),
        closing=(no_proof(),),
    )


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


def _contact_parts(answer: TryAnswer, whole: bool, limit: int) -> Iterator[Part]:
    most = len(answer.contacts) if whole else CONTACTS_SHOWN
    told = (
        (
            shorten(contact.obstacle, limit),
            how_often(contact.share, answer.trials),
            segment_words(answer, contact.segment),
        )
        for contact in answer.contacts[:most]
    )
    yield Table(("what it touches", "how often", "where"), rows(told))
    if len(answer.contacts) > most:
        yield f"and {len(answer.contacts) - most} more, none of them more often"


def _gap_parts(answer: TryAnswer, whole: bool, limit: int) -> Iterator[Part]:
    near = near_gaps(answer)
    if not answer.clearance:
        yield "There is nothing on this field that the run could touch."
        return
    if not near:
        yield f"Nothing comes nearer than {answer.horizon:g} mm."
        return
    most = len(near) if whole else GAPS_SHOWN
    told = (
        (
            shorten(gap.obstacle, limit),
            planned_gap(gap.nominal, answer.horizon),
            left_gap(gap, answer.horizon) if answer.trials else "not known",
            segment_words(answer, gap.segment),
        )
        for gap in near[:most]
    )
    planned, left = "planned gap", "left in 19 of 20 trials"
    yield Table(("beside", planned, left, "where"), rows(told), text_head=("", planned, left, ""))
    if len(near) > most:
        yield f"and {len(near) - most} more, wider"


def _target_row(answer: TryAnswer, target: TargetAnswer, limit: int) -> Row:
    often = how_often(target.share, answer.trials)
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
    return Row(
        (
            shorten(target.target, limit),
            f"reached {often}" if answer.trials else often,
            segment_words(answer, target.segment),
        ),
        ("; ".join(words),) if words else (),
    )


def _square_row(answer: TryAnswer, square: SquareAnswer, limit: int) -> Row:
    often = how_often(square.share, answer.trials)
    below = [f"{why}: {how_often(share, answer.trials)}" for why, share in square.missed]
    if square.before is not None and square.after is not None:
        below.append(
            "; ".join(
                f"{what} {fixed(before, places)} {unit} before, {fixed(after, places)} after"
                for what, before, after, places, unit in (
                    ("heading give or take", square.before.heading, square.after.heading, 2, "degrees"),
                    ("distance from it", square.before.away, square.after.away, 1, "mm"),
                    ("place along it", square.before.along, square.after.along, 1, "mm"),
                )
            )
        )
    return Row(
        (
            shorten(square.on, limit),
            f"caught {often}" if answer.trials else often,
            segment_words(answer, square.segment),
        ),
        tuple(below),
    )


def _finish_parts(answer: TryAnswer) -> Iterator[Part]:
    finish = answer.finish
    ended = max(1, round(answer.ended * answer.trials))
    found = [_pose_row("planned", finish.nominal, (0, 0, 0))]
    if finish.mean is not None and finish.sd is not None:
        # A mean is known to about sd/sqrt(n): a decimal only where that is well under the half of the last place.
        places = tuple(1 if sd / math.sqrt(ended) < 0.2 else 0 for sd in finish.sd)
        found = [_pose_row("planned", finish.nominal, places), _pose_row("on average", finish.mean, places)]
        if answer.trials > 1:
            found.append(_pose_row("give or take", finish.sd, tuple(1 if sd < 10 else 0 for sd in finish.sd)))
    heads = ("x", "y", "heading")
    yield Table(("which", *heads), rows(found), text_head=("", *heads))
    if finish.mean is None and answer.trials:
        yield "No trial came to its end."
    if finish.met is not None:
        yield f"ends inside the finish area: {how_often(finish.met, answer.trials)}"


def _pose_row(label: str, pose: Sequence[float], places: Sequence[int]) -> tuple[str, str, str, str]:
    x, y, heading = (signed(value, digits) for value, digits in zip(pose, places, strict=True))
    return (label, f"{x} mm", f"{y} mm", f"{heading} degrees")


def time_words(answer: TryAnswer) -> str:
    """How long it takes: 'planned 15.8 s; on average ...'."""
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
