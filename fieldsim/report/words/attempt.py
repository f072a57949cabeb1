"""The answer of ``fieldsim try`` in words a twelve year old reads.

Nothing is computed here that the answer does not already say; numbers are only rounded. Where a number is a promise
it is rounded to the careful side: the lower end of an interval down and the upper end up, what is left in 19 of 20
trials down, what 19 of 20 stay within up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import cells, one_line, shorten, units_kept
from fieldsim.model.between import GROWING
from fieldsim.model.bounds import NAME_LENGTH
from fieldsim.report.advice import advice
from fieldsim.report.phrases import (
    FINE_TRIALS,
    NAME_CELLS,
    ceiled,
    failing_words,
    fixed,
    headline,
    how_often,
    how_often_shortly,
    left_gap,
    near_gaps,
    no_proof,
    planned_gap,
    segment_words,
    signed,
    start_words,
    unknown_words,
)
from fieldsim.report.statement import Part, Row, Section, Statement, Table, rows, statement_text

if TYPE_CHECKING:
    from fieldsim.studies.answer import SquareAnswer, TargetAnswer, TryAnswer

__all__ = [
    "about_success", "about_trials", "advice", "cells", "failures_section", "headline", "how_often", "one_line",
    "segment_words", "shorten", "time_words", "try_statement", "try_text", "units_kept",
]  # fmt: skip

TITLE_CELLS = 40
CONTACTS_SHOWN = 8
GAPS_SHOWN = 5
FAILURES_SHOWN = 8


def try_text(answer: TryAnswer, width: int = 100, colour: bool = False) -> str:
    """The whole answer as text, ending in a line end.

    ``width`` is in terminal cells; below 40 it is taken as 40. ``colour`` sets headings in bold with escape codes and
    changes nothing else, so the text says the same to everyone.
    """
    return statement_text(try_statement(answer), width, colour)


def try_statement(answer: TryAnswer, whole: bool = False) -> Statement:
    """The answer as a statement. With ``whole`` nothing is left out of the tables, and names are told in full."""
    run, robot = shorten(answer.run, TITLE_CELLS), shorten(answer.robot, TITLE_CELLS)
    field, start = shorten(answer.field, TITLE_CELLS), start_words(answer.start, TITLE_CELLS)
    limit = NAME_LENGTH if whole else NAME_CELLS
    head = headline(answer)
    found = []
    if answer.first:
        found.append(failures_section(answer, len(answer.first) if whole else FAILURES_SHOWN))
    if answer.contacts and answer.trials:
        found.append(Section(tr("Where it touches first"), tuple(_contact_parts(answer, whole, limit))))
    found.append(Section(tr("Tightest places"), tuple(_gap_parts(answer, whole, limit))))
    if answer.targets:
        targets = tuple(_target_row(answer, target, limit) for target in answer.targets)
        heads = (tr("target"), tr("how often"), tr("where"))
        found.append(Section(tr("Targets"), (Table(heads, targets, below_head=tr("how near")),)))
    if answer.squares:
        squares = tuple(_square_row(answer, square, limit) for square in answer.squares)
        heads = (tr("wall or line"), tr("how often"), tr("where"))
        found.append(Section(tr("Squares and lines"), (Table(heads, squares, below_head=tr("what it did")),)))
    found.append(Section(tr("The end"), tuple(_finish_parts(answer))))
    found.append(Section(tr("Time"), (time_words(answer),)))
    return Statement(
        name=run,
        title=tr("{run}: {robot} on {field}, from {start}", run=run, robot=robot, field=field, start=start),
        about=tuple(about_trials(answer)),
        headline=f"{head[0].upper()}{head[1:]}.",
        further=tuple(about_success(answer)),
        sections=tuple(found),
        advice=tuple(advice(answer)),
        closing=(no_proof(),),
        good=answer.meets_need,
    )


def about_trials(answer: TryAnswer) -> Iterator[str]:
    yield tr_many("{n} trial, seed {seed}", "{n} trials, seed {seed}", answer.trials, seed=answer.seed)
    if answer.interrupted and answer.asked is None:
        yield tr_many(
            "Stopped early after {n} trial: the rest was not tried.",
            "Stopped early after {n} trials: the rest was not tried.",
            answer.trials,
        )
    elif answer.interrupted:
        yield tr(
            "Stopped early after {done} of {asked} trials: the rest was not tried.",
            done=answer.trials, asked=answer.asked,
        )  # fmt: skip
    yield from answer.notes
    if answer.bare:
        yield tr("Tried bare: without attachments and without acts (--bare).")


def about_success(answer: TryAnswer, brief: bool = False) -> Iterator[str]:
    """What belongs to the share that gets through; in brief without what the failures tell as well."""
    if answer.trials == 0:
        return
    if answer.unknown is not None:
        yield unknown_words(answer.unknown, answer.success.share)
        names = [name for name in answer.unknown.untold if name not in GROWING]
        if names:
            listed_names = ", ".join(name.replace(".", ": ") for name in names)
            yield tr("No test tells of {names}: taken as the robot's file has it.", names=listed_names)
        if len(names) < len(answer.unknown.untold):
            yield tr(
                "It drives at other speeds than it was tested at; that it stops less exactly in proportion to the "
                "speed is assumed."
            )
    if answer.clear != answer.success and not brief:
        yield tr("Drives without a forbidden touch: {often}.", often=how_often(answer.clear, answer.trials))
    for square in () if brief else answer.squares:
        if square.missed:
            lost = sum(share.share for _, share in square.missed) * 1000
            often = tr("{lost:.0f} in 1000", lost=lost) if lost >= 0.5 else tr("less than 1 in 1000")
            yield tr(
                "Does not catch {name}, and stops there: {often}, on {segment}.",
                name=shorten(square.on, NAME_CELLS), often=often, segment=segment_words(answer, square.segment),
            )  # fmt: skip
    meets = answer.meets_need
    if meets is None or answer.need is None:
        return
    open_still = answer.success.low < answer.need <= answer.success.high
    if meets:
        words = (
            tr_later(
                "Wanted: {need:.4g} in 1000; the plan meets that, but that is not settled: the interval reaches "
                "past it."
            )
            if open_still
            else tr_later("Wanted: {need:.4g} in 1000; the plan meets that.")
        )
    else:
        words = (
            tr_later(
                "Wanted: {need:.4g} in 1000; the plan does not meet that, but that is not settled: the interval "
                "reaches past it."
            )
            if open_still
            else tr_later("Wanted: {need:.4g} in 1000; the plan does not meet that.")
        )
    yield tr(words, need=answer.need * 1000)


def failures_section(answer: TryAnswer, most: int) -> Section:
    """What went wrong first in the trials that did not get through, most often first."""
    # One more takes no more room than the line that says so.
    most = most if len(answer.first) > most + 1 else most + 1
    told = (
        (
            failing_words(each.why, shorten(each.what, NAME_CELLS) if each.what else ""),
            how_often_shortly(each.share, answer.trials),
            segment_words(answer, each.segment),
        )
        for each in answer.first[:most]
    )
    parts: list[Part] = [Table((tr("what goes wrong"), tr("how often"), tr("where")), rows(told))]
    if len(answer.first) > most:
        parts.append(tr("and {n} more, none of them more often", n=len(answer.first) - most))
    return Section(tr("What goes wrong first"), tuple(parts))


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
    yield Table((tr("what it touches"), tr("how often"), tr("where")), rows(told))
    if len(answer.contacts) > most:
        yield tr("and {n} more, none of them more often", n=len(answer.contacts) - most)


def _gap_parts(answer: TryAnswer, whole: bool, limit: int) -> Iterator[Part]:
    near = near_gaps(answer)
    if not answer.clearance:
        yield tr("There is nothing on this field that the run could touch.")
        return
    if not near:
        yield tr("Nothing comes nearer than {gap:g} mm.", gap=answer.horizon)
        return
    most = len(near) if whole else GAPS_SHOWN
    told = (
        (
            shorten(gap.obstacle, limit),
            planned_gap(gap.nominal, answer.horizon, gap.stands),
            left_gap(gap, answer.horizon) if answer.trials else tr("not known"),
            segment_words(answer, gap.segment),
        )
        for gap in near[:most]
    )
    planned, left = tr("planned gap"), tr("left in 19 of 20 trials")
    yield Table((tr("beside"), planned, left, tr("where")), rows(told), text_head=("", planned, left, ""))
    if len(near) > most:
        yield tr("and {n} more, wider", n=len(near) - most)


def _target_row(answer: TryAnswer, target: TargetAnswer, limit: int) -> Row:
    often = how_often(target.share, answer.trials)
    words = []
    decimals = 1 if answer.trials >= FINE_TRIALS else 0
    if target.miss_median is not None:
        median = fixed(target.miss_median, decimals)
        if target.miss_p95 is None:
            words.append(tr("typical miss {miss} mm", miss=median))
        else:
            words.append(
                tr("typical miss {miss} mm, in 19 of 20 trials at most {most} mm",
                   miss=median, most=ceiled(target.miss_p95, decimals))
            )  # fmt: skip
    elif answer.trials:
        words.append(tr("no trial came this far"))
    if math.isfinite(target.nominal_miss):
        words.append(tr("the plan itself is {miss} mm off", miss=fixed(target.nominal_miss, 1)))
    if target.within is not None:
        words.append(tr("allowed {within:g} mm", within=target.within))
    return Row(
        (
            shorten(target.target, limit),
            tr("reached {often}", often=often) if answer.trials else often,
            segment_words(answer, target.segment),
        ),
        ("; ".join(words),) if words else (),
    )


def _square_row(answer: TryAnswer, square: SquareAnswer, limit: int) -> Row:
    often = how_often(square.share, answer.trials)
    came = square.share.share + sum(share.share for _, share in square.missed)
    there = round(came * answer.trials)
    if square.of_those is not None and 0 < there < answer.trials:
        often = tr("{often}, of those that came there", often=how_often(square.of_those, there))
    below = [f"{tr(why)}: {how_often(share, answer.trials)}" for why, share in square.missed]
    if square.before is not None and square.after is not None:
        below.append(
            "; ".join(
                tr(words, before=fixed(before, places), after=fixed(after, places))
                for words, before, after, places in (
                    (
                        tr_later("heading give or take {before} degrees before, {after} after"),
                        square.before.heading, square.after.heading, 2,
                    ),
                    (
                        tr_later("distance from it {before} mm before, {after} after"),
                        square.before.away, square.after.away, 1,
                    ),
                    (
                        tr_later("place along it {before} mm before, {after} after"),
                        square.before.along, square.after.along, 1,
                    ),
                )
            )
        )  # fmt: skip
    return Row(
        (
            shorten(square.on, limit),
            tr("caught {often}", often=often) if answer.trials else often,
            segment_words(answer, square.segment),
        ),
        tuple(below),
    )


def _finish_parts(answer: TryAnswer) -> Iterator[Part]:
    finish = answer.finish
    ended = max(1, round(answer.ended * answer.trials))
    found = [_pose_row(tr("planned"), finish.nominal, (0, 0, 0))]
    if finish.mean is not None and finish.sd is not None:
        # A mean is known to about sd/sqrt(n): a decimal only where that is well under the half of the last place.
        places = tuple(1 if sd / math.sqrt(ended) < 0.2 else 0 for sd in finish.sd)
        found = [_pose_row(tr("planned"), finish.nominal, places), _pose_row(tr("on average"), finish.mean, places)]
        if answer.trials > 1:
            found.append(_pose_row(tr("give or take"), finish.sd, tuple(1 if sd < 10 else 0 for sd in finish.sd)))
    heads = ("x", "y", tr("heading"))
    yield Table((tr("which"), *heads), rows(found), text_head=("", *heads))
    if finish.mean is None and answer.trials:
        yield tr("No trial came to its end.")
    if finish.met is not None:
        yield tr("ends inside the finish area: {often}", often=how_often(finish.met, answer.trials))


def _pose_row(label: str, pose: Sequence[float], places: Sequence[int]) -> tuple[str, str, str, str]:
    x, y, heading = (signed(value, digits) for value, digits in zip(pose, places, strict=True))
    return (label, f"{x} mm", f"{y} mm", tr("{angle} degrees", angle=heading))


def time_words(answer: TryAnswer) -> str:
    """How long it takes: 'planned 15.8 s; on average ...'."""
    time = answer.time
    words = (
        tr("planned {time} s", time=fixed(time.nominal, 1))
        if math.isfinite(time.nominal)
        else tr("planned time not known")
    )
    if time.mean is None:
        return words
    words += "; " + tr("on average {time} s", time=fixed(time.mean, 1))
    # A hundredth of a second is less than a stopwatch in a hand tells apart: common practice, no source.
    if time.sd is not None and time.sd < 0.01 and answer.trials > 1:
        return words + ", " + tr("always the same")
    if time.sd is not None and answer.trials > 1:
        sd = tr("give or take {time} s", time=fixed(time.sd, 1))
        words += ", " + (sd if time.sd >= 0.1 else tr("give or take less than {time} s", time=fixed(0.1, 1)))
    if time.p95 is not None and answer.trials > 1:
        words += "; " + tr("19 of 20 trials that come to their end need at most {time} s", time=ceiled(time.p95, 1))
    return words
