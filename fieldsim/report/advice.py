"""What to look at next: rules over an answer's values, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    FINE_TRIALS,
    NAME_CELLS,
    ceiled,
    fixed,
    floored,
    gap_decimals,
    near_gaps,
    on_segment,
    planned_gap,
    rounded_down,
    rounded_up,
    spoken,
)

if TYPE_CHECKING:
    from fieldsim.studies.answer import ClearanceAnswer, ContactAnswer, TargetAnswer, TryAnswer

# A planned gap below this is called small: about what placing by hand and two turns cost a careful team.
# Common practice, no source.
SMALL_GAP_MM = 5.0

# How much rarer than 'touches nothing' something must be before it is named as a trouble of its own.
OWN_TROUBLE = 0.01

# From here on the interval of what is unknown of the robot is called wide: 100 in 1000.
UNSURE = 0.1


def advice(answer: TryAnswer) -> list[str]:
    """What to look at next: rules over the answer's values, the most pressing first, at least one line."""
    if answer.trials == 0:
        return [tr("No trial was done, so nothing can be said yet. Try again and let it go on.")]
    points: list[str] = []
    touches = [_contact_advice(answer, answer.contacts[0])] if answer.contacts else []
    rare = bool(answer.contacts) and answer.contacts[0].share.share < OWN_TROUBLE
    points.extend([] if rare else touches)
    points.extend(_square_advice(answer))
    points.extend(_target_advice(answer))
    points.extend(touches if rare else [])
    met = answer.finish.met
    if met is not None and answer.ended - met.share >= OWN_TROUBLE:
        points.append(
            tr(
                "It ends outside the finish area though it drives clear: compare 'planned' with 'on average' and 'give "
                "or take' under The end."
            )
        )
    if not points:
        points.append(_calm_advice(answer))
    width = answer.success.high - answer.success.low
    unknown = answer.unknown
    if unknown is not None and unknown.high - unknown.low > max(UNSURE, 2 * width):
        points.append(
            tr(
                "What is unknown of the robot counts for more than chance does: 'fieldsim fit TESTS ROBOT --plan RUN' "
                "says which few tests would help most."
            )
        )
    if width > 0.1:
        points.append(
            tr_many(
                "Only {n} trial: the true share may be anywhere from {low} to {high} in 100. More trials narrow that, "
                "for example --trials 1000.",
                "Only {n} trials: the true share may be anywhere from {low} to {high} in 100. More trials narrow that, "
                "for example --trials 1000.",
                answer.trials,
                low=rounded_down(answer.success.low * 100),
                high=rounded_up(answer.success.high * 100),
            )
        )
    elif answer.need is not None and answer.success.low < answer.need <= answer.success.high:
        points.append(
            tr(
                "The wanted share lies between the two ends of the interval: more trials settle it, for example "
                "--trials {trials}.",
                trials=answer.trials * 10,
            )
        )
    return points


def _gap_of(answer: TryAnswer, obstacle: str) -> ClearanceAnswer | None:
    return next((gap for gap in answer.clearance if gap.obstacle == obstacle), None)


def _contact_advice(answer: TryAnswer, contact: ContactAnswer) -> str:
    name = shorten(contact.obstacle, NAME_CELLS)
    at_start = contact.segment == 1
    return " ".join(
        (
            tr("It touches {name} most often, on {segment}.", name=name, segment=on_segment(answer, contact.segment)),
            _contact_cause(answer, contact, at_start),
        )
    )


def _contact_cause(answer: TryAnswer, contact: ContactAnswer, at_start: bool) -> str:
    gap = _gap_of(answer, contact.obstacle)
    if gap is None:
        return tr("Look there first.")
    start = shorten(answer.start, NAME_CELLS)
    # A team may write its plan against the robot's known bias: then the middle trial, not the perfectly driven plan, is
    # what was aimed at, and a plan that looks tight is no trouble.
    if max(gap.nominal, gap.median) <= 0:
        if at_start:
            return tr(
                "The plan itself touches it, right at the start: see whether the robot fits at {start} and which way "
                "it leaves.",
                start=start,
            )
        return tr("The plan itself touches it: move the path before anything else.")
    planned = planned_gap(gap.nominal, answer.horizon)
    if max(gap.nominal, gap.median) < SMALL_GAP_MM:
        return tr(
            "The planned gap is small ({planned}): move the path away from it, or turn somewhere wider.",
            planned=planned,
        )
    if gap.nominal - gap.median > gap.median - gap.p05 and gap.nominal - gap.median > 1:
        first = (
            tr(
                "The planned gap is {planned}, but in half of the trials it touches: the robot goes off to that side "
                "the same way each time.",
                planned=planned,
            )
            if gap.median <= 0
            else tr(
                "The planned gap is {planned}, but half of the trials have at most {gap} mm: the robot goes off to "
                "that side the same way each time.",
                planned=planned,
                gap=ceiled(gap.median, 0),
            )
        )
        if at_start:
            return f"{first} " + tr("Correct the numbers of the segments up to segment 1, or the start.")
        return f"{first} " + tr(
            "Correct the numbers of the segments up to segment {number}, or align before it.", number=contact.segment
        )
    mend = (
        tr("set the robot more exactly at {start}, or drive off more slowly", start=start)
        if at_start
        else tr(
            "align on a wall or a line before segment {number}, or make the way to it shorter or slower",
            number=contact.segment,
        )
    )
    if gap.nominal < SMALL_GAP_MM:
        return tr(
            "Driven perfectly there would be little room (planned gap: {planned}), but half of the trials have at "
            "least {gap} mm, so the spread is the trouble: {mend}.",
            planned=planned,
            gap=floored(gap.median, 0),
            mend=mend,
        )
    return tr(
        "The planned gap is {planned}, so the path is well laid and the spread is the trouble: {mend}.",
        planned=planned,
        mend=mend,
    )


_MENDS = {
    "not reached": tr_later("give it more 'reach', or correct the way there"),
    "too skew": tr_later("make the way there shorter, or turn more exactly before it"),
    "face not borne": tr_later("aim at the middle of the flat side: the whole face has to find room on it"),
    "line missed": tr_later("give it more 'reach', or cross the line farther from its ends"),
    "too flat an angle": tr_later("come to the line more nearly square"),
    "already under": tr_later("start looking before the line, not on it"),
}


def _square_advice(answer: TryAnswer) -> Iterator[str]:
    """About the alignment that is missed most."""
    missed = [(square, why, share) for square in answer.squares for why, share in square.missed]
    if not missed:
        return
    square, why, share = max(missed, key=lambda each: each[2].share)
    if share.share < OWN_TROUBLE:
        return
    name = shorten(square.on, NAME_CELLS)
    yield tr(
        "On {segment} {name} is not caught ({why}): {mend}.",
        segment=on_segment(answer, square.segment), name=name, why=tr(why), mend=tr(_MENDS[why]),
    )  # fmt: skip


def _lost(answer: TryAnswer, target: TargetAnswer) -> float:
    """The least share of trials that come to their end and miss the target; those that touch later may have had it."""
    return answer.ended - target.share.share


def _misses(answer: TryAnswer, target: TargetAnswer) -> bool:
    far = target.within is not None and target.miss_p95 is not None and target.miss_p95 > target.within
    return far or _lost(answer, target) >= OWN_TROUBLE


def _target_advice(answer: TryAnswer) -> Iterator[str]:
    missed = [target for target in answer.targets if _misses(answer, target)]
    if not missed:
        return
    target = min(missed, key=lambda each: each.share.share)
    name = shorten(target.target, NAME_CELLS)
    first = tr(
        "It misses {name} on {segment} in some trials that touch nothing.",
        name=name, segment=on_segment(answer, target.segment),
    )  # fmt: skip
    yield f"{first} {_miss_cause(answer, target)}"


def _miss_cause(answer: TryAnswer, target: TargetAnswer) -> str:
    if target.miss_median is None:
        # Drives clear in some trials and came to the act in none: only a square or line that was not caught does that.
        return tr("No trial came that far: see what ends the trials before.")
    # The same digits as the answer's own line about this target.
    planned = fixed(target.nominal_miss, 1)
    typical = fixed(target.miss_median, 1 if answer.trials >= FINE_TRIALS else 0)
    if target.within is not None and min(target.nominal_miss, target.miss_median) > target.within:
        return tr(
            "The plan itself is {planned} mm off and {within:g} mm is allowed: change the way there.",
            planned=planned, within=target.within,
        )  # fmt: skip
    if target.within is not None and target.miss_p95 is not None and target.miss_p95 <= target.within:
        # At most 1 in 20 is too far off, so what is lost well beyond that can only be the heading.
        if answer.trials >= FINE_TRIALS and _lost(answer, target) > 0.06:
            return tr("The place is right in 19 of 20 trials, so it is the heading that is off: align before it.")
        return tr(
            "They are rare: 19 of 20 trials come within {most} mm and {within:g} mm is allowed. Aligning before it "
            "would help.",
            most=ceiled(target.miss_p95, 1), within=target.within,
        )  # fmt: skip
    if target.miss_median / 2 < target.nominal_miss <= target.miss_median:
        return tr(
            "A good part of the typical miss ({typical} mm) is in the plan itself ({planned} mm): aim nearer.",
            typical=typical, planned=planned,
        )  # fmt: skip
    # A plan farther off than the typical trial was written against the robot's bias: it is not what is aimed at.
    words = (
        tr_later(
            "The plan is only {planned} mm off, a typical trial is {typical} mm off: the robot's errors add up on the "
            "way. Align before segment {number}, or make the way there shorter."
        )
        if target.nominal_miss <= target.miss_median
        else tr_later(
            "A typical trial is {typical} mm off: the robot's errors add up on the way. Align before segment "
            "{number}, or make the way there shorter."
        )
    )
    return tr(words, planned=planned, typical=typical, number=target.segment)


def _calm_advice(answer: TryAnswer) -> str:
    near = near_gaps(answer)
    if not near:
        return tr("Nothing was touched and nothing comes near. Take it to the table.")
    gap = near[0]
    name, place = shorten(gap.obstacle, NAME_CELLS), on_segment(answer, gap.segment)
    if gap.p05 >= answer.horizon:
        left = tr("over {gap} mm", gap=spoken(answer.horizon))
    elif gap.p05 <= 0:
        return tr(
            "Nothing was touched that may not be. The tightest place is {name} on {segment}: watch it at the table.",
            name=name, segment=place,
        )  # fmt: skip
    else:
        decimals = gap_decimals(gap.p05_low, gap.p05_high)
        step = 10.0**-decimals
        left = (
            tr("at least {gap} mm", gap=floored(gap.p05, decimals))
            if gap.p05 >= step
            else tr("under {gap} mm", gap=spoken(step))
        )
    return tr(
        "Nothing was touched. The tightest place is {name} on {segment}: in 19 of 20 trials {left} is left. Watch it "
        "at the table.",
        name=name, segment=place, left=left,
    )  # fmt: skip
