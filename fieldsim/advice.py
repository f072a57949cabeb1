"""What to look at next: rules over an answer's values, in words."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.answer import ClearanceAnswer, ContactAnswer, TargetAnswer, TryAnswer
from fieldsim.lettering import shorten
from fieldsim.phrases import (
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
)

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
        return ["No trial was done, so nothing can be said yet. Try again and let it go on."]
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
            "It ends outside the finish area though it drives clear: compare 'planned' with 'on average' and 'give or "
            "take' under The end."
        )
    if not points:
        points.append(_calm_advice(answer))
    width = answer.success.high - answer.success.low
    unknown = answer.unknown
    if unknown is not None and unknown.high - unknown.low > max(UNSURE, 2 * width):
        points.append(
            "What is unknown of the robot counts for more than chance does: 'fieldsim fit TESTS ROBOT --plan RUN' says "
            "which few tests would help most."
        )
    if width > 0.1:
        points.append(
            f"Only {answer.trials} {'trial' if answer.trials == 1 else 'trials'}: the true share may be anywhere from "
            f"{rounded_down(answer.success.low * 100)} to {rounded_up(answer.success.high * 100)} in 100. "
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
    first = f"It touches {name} most often, on {on_segment(answer, contact.segment)}."
    gap = _gap_of(answer, contact.obstacle)
    if gap is None:
        return f"{first} Look there first."
    start = shorten(answer.start, NAME_CELLS)
    # A team may write its plan against the robot's known bias: then the middle trial, not the perfectly driven plan, is
    # what was aimed at, and a plan that looks tight is no trouble.
    if max(gap.nominal, gap.median) <= 0:
        if at_start:
            return (
                f"{first} The plan itself touches it, right at the start: see whether the robot fits at {start} and "
                "which way it leaves."
            )
        return f"{first} The plan itself touches it: move the path before anything else."
    planned = planned_gap(gap.nominal, answer.horizon)
    if max(gap.nominal, gap.median) < SMALL_GAP_MM:
        return f"{first} The planned gap is small ({planned}): move the path away from it, or turn somewhere wider."
    if gap.nominal - gap.median > gap.median - gap.p05 and gap.nominal - gap.median > 1:
        half = (
            "in half of the trials it touches"
            if gap.median <= 0
            else f"half of the trials have at most {ceiled(gap.median, 0)} mm"
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
    if gap.nominal < SMALL_GAP_MM:
        return (
            f"{first} Driven perfectly there would be little room (planned gap: {planned}), but half of the trials "
            f"have at least {floored(gap.median, 0)} mm, so the spread is the trouble: {mend}."
        )
    return f"{first} The planned gap is {planned}, so the path is well laid and the spread is the trouble: {mend}."


_MENDS = {
    "not reached": "give it more 'reach', or correct the way there",
    "too skew": "make the way there shorter, or turn more exactly before it",
    "face not borne": "aim at the middle of the flat side: the whole face has to find room on it",
    "line missed": "give it more 'reach', or cross the line farther from its ends",
    "too flat an angle": "come to the line more nearly square",
    "already under": "start looking before the line, not on it",
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
    yield f"On {on_segment(answer, square.segment)} {name} is not caught ({why}): {_MENDS[why]}."


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
    first = f"It misses {name} on {on_segment(answer, target.segment)} in some trials that touch nothing."
    if target.miss_median is None:
        # Drives clear in some trials and came to the act in none: only a square or line that was not caught does that.
        yield f"{first} No trial came that far: see what ends the trials before."
        return
    # The same digits as the answer's own line about this target.
    planned = f"{fixed(target.nominal_miss, 1)} mm"
    typical = f"{fixed(target.miss_median, 1 if answer.trials >= FINE_TRIALS else 0)} mm"
    if target.within is not None and min(target.nominal_miss, target.miss_median) > target.within:
        yield f"{first} The plan itself is {planned} off and {target.within:g} mm is allowed: change the way there."
        return
    if target.within is not None and target.miss_p95 is not None and target.miss_p95 <= target.within:
        # At most 1 in 20 is too far off, so what is lost well beyond that can only be the heading.
        if answer.trials >= FINE_TRIALS and _lost(answer, target) > 0.06:
            yield f"{first} The place is right in 19 of 20 trials, so it is the heading that is off: align before it."
        else:
            yield (
                f"{first} They are rare: 19 of 20 trials come within {ceiled(target.miss_p95, 1)} mm and "
                f"{target.within:g} mm is allowed. Aligning before it would help."
            )
    elif target.miss_median / 2 < target.nominal_miss <= target.miss_median:
        yield f"{first} A good part of the typical miss ({typical}) is in the plan itself ({planned}): aim nearer."
    else:
        # A plan farther off than the typical trial was written against the robot's bias: it is not what is aimed at.
        only = f"The plan is only {planned} off, a" if target.nominal_miss <= target.miss_median else "A"
        yield (
            f"{first} {only} typical trial is {typical} off: the robot's errors add up on the way. "
            f"Align before segment {target.segment}, or make the way there shorter."
        )


def _calm_advice(answer: TryAnswer) -> str:
    near = near_gaps(answer)
    if not near:
        return "Nothing was touched and nothing comes near. Take it to the table."
    gap = near[0]
    name, place = shorten(gap.obstacle, NAME_CELLS), on_segment(answer, gap.segment)
    if gap.p05 >= answer.horizon:
        left = f"over {answer.horizon:g} mm"
    elif gap.p05 <= 0:
        return f"Nothing was touched that may not be. The tightest place is {name} on {place}: watch it at the table."
    else:
        decimals = gap_decimals(gap.p05_low, gap.p05_high)
        step = 10.0**-decimals
        left = f"at least {floored(gap.p05, decimals)} mm" if gap.p05 >= step else f"under {step:g} mm"
    return (
        f"Nothing was touched. The tightest place is {name} on {place}: in 19 of 20 trials {left} is left. "
        "Watch it at the table."
    )
