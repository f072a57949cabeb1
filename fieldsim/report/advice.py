"""What to look at next: rules over an answer's values, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    FINE_TRIALS,
    NAME_CELLS,
    ceiled,
    fixed,
    floored,
    gap_decimals,
    how_often_shortly,
    left_open,
    listed,
    near_gaps,
    on_segment,
    planned_gap,
    robots_words,
    spoken,
    start_words,
)
from fieldsim.rounding import rounded_down, rounded_up
from fieldsim.stats.intervals import Share

if TYPE_CHECKING:
    from fieldsim.studies.answer import (
        ClearanceAnswer,
        ContactAnswer,
        OffAnswer,
        RemediesAnswer,
        RemedyAnswer,
        TargetAnswer,
        TryAnswer,
    )

# A planned gap below this is called small: about what placing by hand and two turns cost a careful team.
# Common practice, no source.
SMALL_GAP_MM = 5.0

# How much rarer than 'touches nothing' something must be before it is named as a trouble of its own.
OWN_TROUBLE = 0.01

# A contact before the robot has driven this far is one at the start: less than a robot's own length, so that it still
# stands where it was set. Common practice, no source.
AT_START_MM = 50.0

# A miss that is the same every time is told from here on, mm: a tape shows no less.
SAME_WAY_MM = 1.0

# From here on the interval of what is unknown of the robot is called wide: 100 in 1000.
UNSURE = 0.1


def advice(answer: TryAnswer) -> list[str]:
    """What to look at next, at least one line: the troubles by how many trials they cost, what was tried against them
    and what that is worth, then what is not certain yet."""
    if answer.trials == 0:
        return [tr("No trial was done, so nothing can be said yet. Try again and let it go on.")]
    points = [each.words for each in _by_cost(answer)]
    if not points:
        points.append(_calm_advice(answer))
    if answer.remedies is not None:
        points.extend(remedy_advice(answer.remedies))
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


def advice_in_brief(answer: TryAnswer) -> list[str]:
    """The cause of the dearest trouble, and the best of what was tried against it, or what is second."""
    points = advice(answer)
    if answer.trials == 0:
        return points
    troubles = _by_cost(answer)
    first = troubles[0].shortly if troubles else points[0]
    good = answer.remedies is not None and answer.remedies.good
    if good and answer.remedies is not None:
        return [first, next(remedy_advice(answer.remedies))]
    second = troubles[1].shortly if len(troubles) > 1 else points[1] if len(points) > 1 else ""
    return [first, second] if second else [first]


def _gap_of(answer: TryAnswer, obstacle: str) -> ClearanceAnswer | None:
    return next((gap for gap in answer.clearance if gap.obstacle == obstacle), None)


class _Trouble(NamedTuple):
    share: float
    """Of trials that it costs."""
    words: str
    shortly: str
    """Beside a list that says already what and how often."""


def _by_cost(answer: TryAnswer) -> list[_Trouble]:
    return sorted(_troubles(answer), key=lambda each: -each.share)


def _troubles(answer: TryAnswer) -> Iterator[_Trouble]:
    """What goes wrong, with the share of trials it costs."""
    if answer.contacts:
        yield _contact_advice(answer, answer.contacts[0])
    yield from _square_advice(answer)
    yield from _target_advice(answer)
    outside = answer.outside
    if outside >= OWN_TROUBLE:
        words = tr(
            "It ends outside the finish area though all else is right: {often}. Compare 'planned' with 'on average' "
            "and 'give or take' under The end.",
            often=_cost(answer, outside),
        )
        yield _Trouble(outside, words, words)


def _cost(answer: TryAnswer, share: float) -> str:
    """So many trials, as a team would say it."""
    return how_often_shortly(Share(share, share, share), answer.trials)


def _contact_advice(answer: TryAnswer, contact: ContactAnswer) -> _Trouble:
    name = shorten(contact.obstacle, NAME_CELLS)
    often = tr(
        "It touches {name} most often, on {segment}: {often}.",
        name=name, segment=on_segment(answer, contact.segment), often=_cost(answer, contact.share.share),
    )  # fmt: skip
    cause = _contact_cause(answer, contact)
    return _Trouble(contact.share.share, f"{often} {cause}", _about(name, cause))


def _about(name: str, cause: str) -> str:
    return tr("{what}: {value}", what=name, value=cause)


def _contact_cause(answer: TryAnswer, contact: ContactAnswer) -> str:
    gap = _gap_of(answer, contact.obstacle)
    if gap is None:
        return tr("Look there first.")
    start = start_words(answer.start)
    # A team may write its plan against the robot's known bias: then the middle trial, not the perfectly driven plan, is
    # what was aimed at, and a plan that looks tight is no trouble.
    if max(gap.nominal, gap.median) <= 0:
        if contact.driven < AT_START_MM:
            return tr(
                "The plan itself touches it, right at the start: see whether the robot fits at {start} and which way "
                "it leaves.",
                start=start,
            )
        return tr("The plan itself touches it: move the path before anything else.")
    planned = planned_gap(gap.nominal, answer.horizon, gap.stands)
    if max(gap.nominal, gap.median) < SMALL_GAP_MM:
        return tr("The planned gap is small ({planned}).", planned=planned)
    if gap.nominal - gap.median > gap.median - gap.p05 and gap.nominal - gap.median > 1:
        if gap.median <= 0:
            return tr(
                "The planned gap is {planned}, but in half of the trials it touches: the robot goes off to that side "
                "the same way each time.",
                planned=planned,
            )
        return tr(
            "The planned gap is {planned}, but half of the trials have at most {gap} mm: the robot goes off to that "
            "side the same way each time.",
            planned=planned,
            gap=ceiled(gap.median, 0),
        )
    if gap.nominal < SMALL_GAP_MM:
        return tr(
            "Driven perfectly there would be little room (planned gap: {planned}), but half of the trials have at "
            "least {gap} mm, so the spread is the trouble.",
            planned=planned,
            gap=floored(gap.median, 0),
        )
    return tr("The planned gap is {planned}, so the path is well laid and the spread is the trouble.", planned=planned)


_MEANINGS = {
    "not reached": tr_later("it has driven all its 'reach' and is not there"),
    "too skew": tr_later("it comes to it at too large an angle to swing flat"),
    "face not borne": tr_later("a corner of the face finds no wall in front of it"),
    "line missed": tr_later("it has driven all its 'reach', or passes the line's end"),
    "too flat an angle": tr_later("it drives too much along the line"),
    "already under": tr_later("the sensor is over the line before it begins to look"),
}


def _square_advice(answer: TryAnswer) -> Iterator[_Trouble]:
    """About the alignment that is missed most."""
    missed = [(square, why, share) for square in answer.squares for why, share in square.missed]
    if not missed:
        return
    square, why, share = max(missed, key=lambda each: each[2].share)
    if share.share < OWN_TROUBLE:
        return
    name = shorten(square.on, NAME_CELLS)
    words = tr(
        "On {segment} {name} is not caught ({why}), {often}: {meaning}.",
        segment=on_segment(answer, square.segment), name=name, why=tr(why), meaning=tr(_MEANINGS[why]),
        often=_cost(answer, share.share),
    )  # fmt: skip
    yield _Trouble(share.share, words, words)


def _lost(answer: TryAnswer, target: TargetAnswer) -> float:
    """The share of trials in which missing the target is the first thing that goes wrong."""
    return sum(each.share.share for each in answer.first if (each.why, each.segment) == ("misses", target.segment))


def _misses(answer: TryAnswer, target: TargetAnswer) -> bool:
    far = target.within is not None and target.miss_p95 is not None and target.miss_p95 > target.within
    return far or _lost(answer, target) >= OWN_TROUBLE


def _target_advice(answer: TryAnswer) -> Iterator[_Trouble]:
    missed = [target for target in answer.targets if _misses(answer, target)]
    if not missed:
        return
    target = max(missed, key=lambda each: (_lost(answer, each), -each.share.share))
    name = shorten(target.target, NAME_CELLS)
    lost = _lost(answer, target)
    first = tr(
        "It misses {name} on {segment}, and nothing goes wrong before: {often}.",
        name=name, segment=on_segment(answer, target.segment), often=_cost(answer, lost),
    )  # fmt: skip
    cause = _miss_cause(answer, target)
    yield _Trouble(lost, f"{first} {cause}", _about(name, cause))


def _miss_cause(answer: TryAnswer, target: TargetAnswer) -> str:
    if target.miss_median is None:
        # Drives clear in some trials and came to the act in none: only a square or line that was not caught does that.
        return tr("No trial came that far: see what ends the trials before.")
    # The same digits as the answer's own line about this target.
    planned = fixed(target.nominal_miss, 1)
    typical = fixed(target.miss_median, 1 if answer.trials >= FINE_TRIALS else 0)
    if target.within is not None and min(target.nominal_miss, target.miss_median) > target.within:
        words = tr(
            "The plan itself is {planned} mm off and {within:g} mm is allowed: change the way there.",
            planned=planned, within=target.within,
        )  # fmt: skip
        return " ".join((words, *_same_way(answer, target)))
    if target.within is not None and target.miss_p95 is not None and target.miss_p95 <= target.within:
        # At most 1 in 20 is too far off, so what is lost well beyond that can only be the heading.
        if answer.trials >= FINE_TRIALS and _lost(answer, target) > 0.06:
            return tr("The place is right in 19 of 20 trials, so it is the heading that is off.")
        return tr(
            "They are rare: 19 of 20 trials come within {most} mm and {within:g} mm is allowed.",
            most=ceiled(target.miss_p95, 1), within=target.within,
        )  # fmt: skip
    same_way = list(_same_way(answer, target))
    if same_way:
        return tr("A typical trial is {typical} mm off.", typical=typical) + f" {same_way[0]}"
    # A plan farther off than the typical trial was written against the robot's bias: it is not what is aimed at.
    words = (
        tr_later(
            "The plan is only {planned} mm off, a typical trial is {typical} mm off: the robot's errors add up on the "
            "way."
        )
        if target.nominal_miss <= target.miss_median
        else tr_later("A typical trial is {typical} mm off: the robot's errors add up on the way.")
    )
    return tr(words, planned=planned, typical=typical)


def _same_way(answer: TryAnswer, target: TargetAnswer) -> Iterator[str]:
    """Where the middle of the trials is, if that is a good part of the typical miss."""
    there = answer.remedies.off if answer.remedies is not None else ()
    off = next((each for each in there if each.segment == target.segment), None)
    if off is None or target.miss_median is None:
        return
    if hypot(off.ahead, off.left) < max(SAME_WAY_MM, target.miss_median / 2):
        return
    yield tr(
        "A good part of that is the same every time: in the middle of the trials it is {where}.", where=_where(off)
    )


def _where(off: OffAnswer) -> str:
    """'13 mm too far ahead and 4 mm too far to the left', seen from the robot."""
    told = []
    for size, more, less in (
        (off.ahead, tr_later("{size} mm too far ahead"), tr_later("{size} mm short of it")),
        (off.left, tr_later("{size} mm too far to the left"), tr_later("{size} mm too far to the right")),
    ):
        if abs(size) >= SAME_WAY_MM:
            told.append(tr(more if size > 0 else less, size=fixed(abs(size), 0)))
    return listed(told)


# --- what was tried ------------------------------------------------------------------------------------------------

_KINDS = {
    "square": (tr_later("a square on a wall"), tr_later("squares on walls ({n} places)")),
    "line square": (tr_later("a square on a line"), tr_later("squares on lines ({n} places)")),
    "passes": (tr_later("one more pass of a line square"), tr_later("one more pass of line squares ({n} places)")),
    "reach": (tr_later("more reach"), tr_later("more reach ({n} places)")),
    "half speed": (tr_later("half the speed"), tr_later("half the speed ({n} ways)")),
    "corrected numbers": (
        tr_later("numbers corrected for the known bias"),
        tr_later("numbers corrected for the known bias ({n} ways)"),
    ),
    "aimed numbers": (tr_later("other numbers"), tr_later("other numbers ({n} ways)")),
    "pair": (tr_later("two of these together"), tr_later("two of these together ({n} ways)")),
}
MOST_TOLD = 2


def remedy_advice(remedies: RemediesAnswer) -> Iterator[str]:
    """What was tried, what it is worth and what is to be typed; then what was tried in vain."""
    corrected = next((each for each in remedies.good if each.kind == "corrected numbers"), None)
    program = remedies.program
    if corrected is not None:
        yield _worth(
            corrected,
            tr_later(
                "The numbers do not allow for how this robot is known to drive, so part of what goes wrong is the same "
                "every time. Corrected, tried on fresh trials: {what}. {more}{time}."
            ),
        )
    if program is not None and program.worth.low > 0:
        yield tr(
            "Or leave the numbers and tell the robot's own program a wheel of {wheel} mm and a track of {track} mm: "
            "{more}.",
            wheel=fixed(program.wheel, 2), track=fixed(program.track, 1), more=_more(program.worth),
        )  # fmt: skip
    # One of each kind: who has the best of them needs no second best.
    told = {each.kind: each for each in reversed(remedies.good) if each is not corrected}
    for each in sorted(told.values(), key=lambda each: -each.worth.share)[:MOST_TOLD]:
        yield _worth(each, tr_later("Tried on fresh trials: {what}. {more}{time}."))
    vain = Counter(each.kind for each in remedies.vain)
    if vain:
        names = listed([tr(_KINDS[kind][n > 1], n=n) for kind, n in vain.items()])
        yield (
            tr("Tried as well, and no better than as it is: {names}.", names=names)
            if remedies.good
            else tr("Nothing that was tried makes it better: {names}.", names=names)
        )


def _worth(remedy: RemedyAnswer, words: str) -> str:
    more = _more(remedy.worth)
    if remedy.seconds >= 0.05:
        time = tr(", and it takes {time} s longer", time=fixed(remedy.seconds, 1))
    elif remedy.seconds <= -0.05:
        time = tr(", and it takes {time} s less", time=fixed(-remedy.seconds, 1))
    else:
        time = ""
    more = more[0].upper() + more[1:]
    told = tr(words, what=remedy.what, more=more, time=time)
    if remedy.assumed:
        told += " " + tr(
            "That a slower stop is more exact, in proportion, is assumed: tests at two speeds tell 'fieldsim fit' how "
            "much."
        )
    if remedy.holds is None or not left_open(remedy.holds):
        return told
    return f"{told} " + tr(
        "That helps {robots} robots that fit your tests: they leave it open.", robots=robots_words(remedy.holds)
    )


def _more(worth: Share) -> str:
    return tr(
        "{share:.0f} more in 1000 get through (between {low} and {high})",
        share=worth.share * 1000, low=rounded_down(worth.low * 1000), high=rounded_up(worth.high * 1000),
    )  # fmt: skip


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
