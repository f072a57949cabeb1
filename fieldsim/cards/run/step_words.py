"""The steps of a card in words: what each does, what must be seen, and the formulas behind the wheels' degrees."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.cards.run.card import Aim, Card, Catch
from fieldsim.cards.run.start_words import place_words, thing_words
from fieldsim.cards.run.watch import Gap
from fieldsim.cards.run.words import WARNING, share_words, short_name
from fieldsim.cards.shared import BOX
from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten
from fieldsim.report.phrases import fixed, spoken
from fieldsim.rounding import rounded_down
from fieldsim.sim.program import Step, WheelTurns

STEP_CELLS = 80
GAPS_MEAN = tr_later(
    "Block: a gauge block so thick, laid on that side of the model where the plan has the letter, is left alone in 19 "
    "of 20 drives; the part named passes it nearest. Usually: the gap without chance."
)
# The sides of a model, as the team sees them from where it stands.
WHICH = {
    "near": tr_later("near side"), "far": tr_later("far side"), "left": tr_later("left side of it"),
    "right": tr_later("right side of it"), "near left": tr_later("near left side"),
    "near right": tr_later("near right side"), "far left": tr_later("far left side"),
    "far right": tr_later("far right side"),
}  # fmt: skip


def plan_note(card: Card) -> str:
    """What stands under the plan and its strip."""
    found = [tr("Strip: each step along the clock, s; above it the room left in 19 of 20 drives, mm.")]
    if any(gap.at is not None for gap in card.gaps):
        found.append(tr("Letters: a gauge block so thick stays untouched there in 19 of 20 drives, ! none does."))
    return " ".join(found)


@dataclass(frozen=True)
class Sight:
    """Something to be seen at a step."""

    words: str
    good: bool
    """Whether it has to be so; otherwise it is a warning, and no box to tick."""

    @property
    def mark(self) -> str:
        return BOX if self.good else WARNING


def steps_title(card: Card) -> str:
    seconds = fixed(card.seconds, 1)
    if card.finish is None:
        return tr("Steps: planned {seconds} s", seconds=seconds)
    return tr("Steps: planned {seconds} s, must end inside {area}", seconds=seconds, area=short_name(card.finish))


def step_words(step: Step) -> str:
    """What a step does: 'square rear on left wall, at most 120 mm, planned 69 mm'."""
    words = shorten(step.words, STEP_CELLS)
    if step.at_most and step.distance is not None:
        most = spoken(abs(step.distance))
        if step.planned_way is None:
            words = tr("{step}, at most {most} mm, not met as planned", step=words, most=most)
        else:
            way = fixed(step.planned_way, 0)
            words = tr("{step}, at most {most} mm, planned {way} mm", step=words, most=most, way=way)
    if step.may_touch:
        words = tr(
            "{step}; may touch {names}", step=words, names=", ".join(short_name(name) for name in step.may_touch)
        )
    return words


def turns_words(turns: WheelTurns | None, step: Step) -> tuple[str, str]:
    """Degrees of the left and of the right: '443.6', 'to -221.8' where that is the most."""
    if turns is None:
        return "", ""
    left, right = fixed(turns.left, 1), fixed(turns.right, 1)
    if step.at_most:
        return tr("to {degrees}", degrees=left), tr("to {degrees}", degrees=right)
    return left, right


def speed_words(step: Step) -> str:
    if step.turn_speed is not None:
        return tr("{speed} deg/s", speed=fixed(step.turn_speed, 0))
    return "" if step.speed is None else tr("{speed} mm/s", speed=fixed(step.speed, 0))


def time_words(step: Step) -> tuple[str, str]:
    """Seconds of the step, and the clock when it is done."""
    return fixed(step.seconds, 1), fixed(step.clock, 1)


def gap_words(gap: Gap, trials: int) -> str:
    """'D: block 4 mm on milk churn, far side; the left side passes (usually 16 mm)'; without trials the usual gap."""
    return tr("{letter}: {gap}", letter=gap.letter, gap=_gap_words(gap, trials))


def _gap_words(gap: Gap, trials: int) -> str:
    name = thing_words(gap.obstacle)
    if gap.gap <= 0:
        return _passes(gap, tr("touches {name} on a usual drive", name=name))
    usual = rounded_down(gap.gap)
    if gap.left is None or trials == 0:
        words = tr("under 1 mm beside {name}", name=name) if gap.gap < 1 else tr(
            "{gap} mm beside {name}", gap=usual, name=name
        )  # fmt: skip
        return _passes(gap, words)
    if gap.left < 1:
        words = _passes(gap, tr("passes {name}", name=name))
        if gap.gap < 1:
            return tr("{passes}: no block, under 1 mm is left", passes=words)
        if gap.left <= 0:
            return tr("{passes}: no block, more than 1 in 20 touch (usually {gap} mm)", passes=words, gap=usual)
        return tr("{passes}: no block, under 1 mm is left (usually {gap} mm)", passes=words, gap=usual)
    words = tr("block {left} mm at {name}", left=rounded_down(gap.left), name=name)
    if gap.which is not None:
        words = tr("{block}, {side}", block=words, side=tr(WHICH[gap.which]))
    passing = _part(gap)
    if passing is None:
        return tr("{block} (usually {gap} mm)", block=words, gap=usual)
    return tr("{block}; nearest: {part} (usually {gap} mm)", block=words, part=passing, gap=usual)


def _part(gap: Gap) -> str | None:
    """The part of the robot that comes nearest."""
    if gap.part == "body":
        return None if gap.place is None else place_words(gap.place)
    return None if gap.part is None else short_name(gap.part)


def _passes(gap: Gap, words: str) -> str:
    part = _part(gap)
    return words if part is None else f"{words}, {part}"


def aim_words(aim: Aim, trials: int) -> str:
    within, name = spoken(aim.within), short_name(aim.target)
    if aim.heading_within is None:
        words = tr("tool within {within} mm of {target}", within=within, target=name)
    else:
        words = tr(
            "tool within {within} mm of {target} and {turned} degrees",
            within=within,
            target=name,
            turned=spoken(aim.heading_within),
        )
    return tr("{aim}: met {often}", aim=words, often=share_words(aim.share, trials)) if trials else words


def catch_words(catch: Catch, trials: int) -> str:
    words = tr("{name} caught", name=thing_words(catch.on))
    return f"{words}: {share_words(catch.share, trials)}" if trials else words


def sights(card: Card, number: int) -> list[Sight]:
    """What has to be seen at a step, and what is seen there but should not be."""
    return [
        *(Sight(aim_words(aim, card.trials), True) for aim in card.aims if aim.step == number),
        *(Sight(catch_words(catch, card.trials), True) for catch in card.catches if catch.step == number),
        *(Sight(gap_words(gap, card.trials), _is_passed(gap, card.trials)) for gap in card.gaps if gap.step == number),
    ]


def _is_passed(gap: Gap, trials: int) -> bool:
    """Whether a usual drive passes it, and 19 of 20 trials do."""
    return gap.gap > 0 and (trials == 0 or gap.left is None or gap.left > 0)


def seen_words(card: Card, number: int) -> list[str]:
    """The same in words alone."""
    return [sight.words for sight in sights(card, number)]


def formula(step: Step, card: Card) -> tuple[str, str]:
    """How a step's degrees of the left and of the right wheel are found, in numbers; '' where it does not drive."""
    wheel, track = spoken(card.wheel), spoken(card.track)
    if step.wheels is None:
        return "", ""
    if step.angle is None:
        both = f"360 x {_bracketed(step.distance or 0.0)} / (pi x {wheel})"
        return both, both
    angle = _bracketed(step.angle)
    if step.radius is not None:
        # Backwards along a left arc the heading still turns left: the turn keeps its sign, the way takes the radius's.
        way, half = f"{spoken(abs(step.angle))} x {_bracketed(step.radius)}", spoken(card.track / 2)
        return f"2 x ({way} - {angle} x {half}) / {wheel}", f"2 x ({way} + {angle} x {half}) / {wheel}"
    if step.about is None:
        return f"{spoken(-step.angle)} x {track} / {wheel}", f"{spoken(step.angle)} x {track} / {wheel}"
    if step.about == "left wheel":
        return "0", f"2 x {angle} x {track} / {wheel}"
    return f"-2 x {angle} x {track} / {wheel}", "0"


def _bracketed(value: float) -> str:
    return spoken(value) if value >= 0 else f"({spoken(value)})"


def worked_out(step: Step, card: Card) -> tuple[str, str]:
    """The same with what comes out: '360 x 240 / (pi x 62) = 443.6'."""
    if step.wheels is None:
        return "", ""
    left, right = (
        tr("stands still")
        if sum_ == "0"
        else tr("{sum} = {degrees}, at most", sum=sum_, degrees=fixed(value, 1))
        if step.at_most
        else f"{sum_} = {fixed(value, 1)}"
        for sum_, value in zip(formula(step, card), (step.wheels.left, step.wheels.right), strict=True)
    )
    return left, right


def formula_words(card: Card) -> list[str]:
    """How the wheel degrees are found, for the kinds of step there are."""
    wheel, track = spoken(card.wheel), spoken(card.track)
    driving = [step for step in card.steps if step.wheels is not None]
    words = []
    if any(step.angle is None for step in driving):
        words.append(tr("straight 360 x mm / (pi x {wheel})", wheel=wheel))
    if any(step.kind == "turn" and step.about is None for step in driving):
        words.append(tr("turn degrees x {track} / {wheel}, one wheel back", track=track, wheel=wheel))
    if any(step.about is not None for step in driving):
        words.append(tr("about a wheel 2 x degrees x {track} / {wheel}", track=track, wheel=wheel))
    if any(step.radius is not None for step in driving):
        words.append(
            tr(
                "arc 2 x degrees x (radius -+ {half}) / {wheel}, inner - and outer +",
                half=spoken(card.track / 2),
                wheel=wheel,
            )
        )
    found = []
    if words:
        found.append(tr("Wheel degrees: {formulas}. Backwards is negative.", formulas="; ".join(words)))
        found.append(
            tr(
                "No slip is assumed, and the wheel ({wheel} mm) and track ({track} mm) that the robot's file names.",
                wheel=wheel,
                track=track,
            )
        )
        if card.gear == 1:
            found.append(tr("Gear 1: the motors turn as the wheels do."))
        else:
            found.append(tr("Motor degrees are wheel degrees / {gear} (the gear).", gear=spoken(card.gear)))
    if card.heading_from == "gyro":
        found.append(
            tr("It steers by its gyro: that decides how far it turns; the wheel degrees are what that comes to.")
        )
    return found
