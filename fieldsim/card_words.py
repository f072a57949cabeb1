"""The words of a run's card: short phrases that every face of it shares, the card as plain text, and as JSON.

Nothing is computed here that the card does not already say; numbers are only rounded, gaps always down.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import asdict
from math import isfinite
from typing import Any

from fieldsim.answer import Share
from fieldsim.card import Aim, BlankTable, BlankTests, Card, Catch, Gap, Measure, Step, Trouble, WheelTurns
from fieldsim.lettering import one_line, shorten, wrapped_lines
from fieldsim.phrases import fixed, how_often, how_often_shortly, no_proof, rounded_down, unknown_words
from fieldsim.units import plain

NAME_CELLS = 24
TITLE_CELLS = 40
STEP_CELLS = 44

# Rows of the text's table to write in, ready to be copied into a log.
LOG_ROWS = 4

# Headings, the same in every form.
SET_IT, ODDS, WATCH = "Set the robot", "The odds", "Watch these"
BEFORE, HAPPENED = "Before the start", "What happened?"

BOX = "\N{BALLOT BOX}"
"""An empty box to tick, where there are signs beyond ASCII."""

HINT_RESULT = "result: through, touched, missed or stopped. where: what it touched or missed. segment: the step."
GAPS_MEAN = (
    "mm beside a model: the gap on a usual drive, rounded down, for a gauge block or a ruler. In brackets: what is "
    "left in 19 of 20 trials."
)


def _name(text: str) -> str:
    return shorten(text, NAME_CELLS)


def millimetres(value: float) -> str:
    """'60 mm', '46.5 mm': as finely as a ruler can be read with good eyes, and a little finer."""
    return f"{fixed(value, 1).removesuffix('.0')} mm"


def _share(share: Share, trials: int) -> str:
    """'24 in 1000', without its interval."""
    return how_often_shortly(share, trials)


# --- the start ---------------------------------------------------------------------------------------------------


def title(card: Card) -> str:
    return shorten(card.run, TITLE_CELLS)


def subtitle(card: Card) -> str:
    return f"{shorten(card.robot, TITLE_CELLS)} on {shorten(card.field, TITLE_CELLS)}"


def wear_words(card: Card) -> str:
    """Which attachment to slip on."""
    if card.bare:
        return "Slip nothing on: this was tried bare, without attachments and acts."
    if not card.wear:
        return "Slip nothing on."
    return f"Slip on: {', '.join(_name(name) for name in card.wear)}."


def jig_words(card: Card) -> str:
    start = card.start
    along, across, turned = start.spread
    if start.jig is None:
        most = max(along, across)
        return f"No jig: set it by eye, give or take {plain(most)} mm and {plain(turned)} degrees."
    return f"Jig: {_name(start.jig)}. Push the {start.holds} corner home."


_QUARTERS = {0: "right", 90: "far", 180: "left", -90: "near"}


def looks_words(card: Card) -> str:
    """Which way the robot looks."""
    noun = card.start.measures[0].wall.split()[-1]
    heading = card.start.pose[2]
    quarter = 90 * round(heading / 90)
    off = heading - quarter
    wall = f"{_QUARTERS[180 if quarter == -180 else quarter]} {noun}"
    if abs(off) < 0.05:
        return f"It looks straight at the {wall}."
    side = "left" if off > 0 else "right"
    return f"It looks {plain(abs(round(off, 1)))} degrees to the {side} of straight at the {wall}."


def measure_words(measure: Measure) -> str:
    """'A  rear left corner to left wall: 60 mm'."""
    if measure.distance < -0.05:
        far = f"{millimetres(-measure.distance)} beyond it"
    else:
        far = "0 mm, it touches" if measure.distance < 0.05 else millimetres(measure.distance)
    over = f" ({_name(measure.over)} is between)" if measure.over else ""
    return f"{measure.letter}: {measure.corner} corner to {measure.wall}, {far}{over}"


def heading_words(card: Card) -> str:
    """What the two measures of one side say about the heading."""
    start = card.start
    one, other = start.check
    if abs(start.difference) < 0.05:
        words = f"{one} and {other} are the same"
    else:
        than = "more" if start.difference > 0 else "less"
        words = f"{other} is {millimetres(abs(start.difference))} {than} than {one}"
    return f"Heading: right if {words}; each degree off changes that by {millimetres(start.per_degree)}."


def start_words(card: Card) -> list[str]:
    """How to set the robot, a line each."""
    return [
        wear_words(card), jig_words(card), looks_words(card), *map(measure_words, card.start.measures),
        heading_words(card),
    ]  # fmt: skip


def start_picture_words(card: Card) -> str:
    """The start's picture for those who cannot see it."""
    where = "set by eye" if card.start.jig is None else f"in the jig {_name(card.start.jig)}"
    measures = "; ".join(measure_words(measure) for measure in card.start.measures)
    return f"The robot from above, {where}. {looks_words(card)} {measures}."


# --- the steps ---------------------------------------------------------------------------------------------------


def steps_title(card: Card) -> str:
    end = "" if card.finish is None else f", must end inside {_name(card.finish)}"
    return f"Steps: planned {fixed(card.seconds, 1)} s{end}"


def step_words(step: Step) -> str:
    """What a step does: 'square rear on left wall, at most 120 mm, planned 69 mm'."""
    words = shorten(step.words, STEP_CELLS)
    if step.at_most and step.distance is not None:
        words += f", at most {plain(abs(step.distance))} mm"
        words += ", not met as planned" if step.planned_way is None else f", planned {fixed(step.planned_way, 0)} mm"
    if step.may_touch:
        words += f"; may touch {', '.join(_name(name) for name in step.may_touch)}"
    return words


def turns_words(turns: WheelTurns | None, step: Step) -> tuple[str, str]:
    """Degrees of the left and of the right: '443.6', 'to -221.8' where that is the most."""
    if turns is None:
        return "", ""
    most = "to " if step.at_most else ""
    return f"{most}{fixed(turns.left, 1)}", f"{most}{fixed(turns.right, 1)}"


def speed_words(step: Step) -> str:
    if step.turn_speed is not None:
        return f"{fixed(step.turn_speed, 0)} deg/s"
    return "" if step.speed is None else f"{fixed(step.speed, 0)} mm/s"


def time_words(step: Step) -> tuple[str, str]:
    """Seconds of the step, and the clock when it is done."""
    return fixed(step.seconds, 1), fixed(step.clock, 1)


def gap_words(gap: Gap, trials: int) -> str:
    """'11 mm beside milk churn, left side (2 mm)'."""
    wide = "touches" if gap.gap <= 0 else "under 1 mm beside" if gap.gap < 1 else f"{rounded_down(gap.gap)} mm beside"
    words = f"{wide} {_name(gap.obstacle)}"
    if gap.part == "body" and gap.place is not None:
        words += f", {gap.place}"
    elif gap.part is not None and gap.part != "body":
        words += f", {_name(gap.part)}"
    if gap.left is None or trials == 0 or gap.gap <= 0:
        return words
    left = "nothing" if gap.left <= 0 else "under 1 mm" if gap.left < 1 else f"{rounded_down(gap.left)} mm"
    return f"{words} ({left})"


def aim_words(aim: Aim, trials: int) -> str:
    words = f"tool within {plain(aim.within)} mm of {_name(aim.target)}"
    if aim.heading_within is not None:
        words += f" and {plain(aim.heading_within)} degrees"
    return f"{words}: met {_share(aim.share, trials)}" if trials else words


def catch_words(catch: Catch, trials: int) -> str:
    return f"{_name(catch.on)} caught" + (f": {_share(catch.share, trials)}" if trials else "")


def seen_words(card: Card, number: int) -> list[str]:
    """What must be seen at a step."""
    return [
        *(aim_words(aim, card.trials) for aim in card.aims if aim.step == number),
        *(catch_words(catch, card.trials) for catch in card.catches if catch.step == number),
        *(gap_words(gap, card.trials) for gap in card.gaps if gap.step == number),
    ]


def formula(step: Step, card: Card) -> tuple[str, str]:
    """How a step's degrees of the left and of the right wheel are found, in numbers; '' where it does not drive."""
    wheel, track = plain(card.wheel), plain(card.track)
    if step.wheels is None:
        return "", ""
    if step.angle is None:
        both = f"360 x {_bracketed(step.distance or 0.0)} / (pi x {wheel})"
        return both, both
    angle = _bracketed(step.angle)
    if step.radius is not None:
        # Backwards along a left arc the heading still turns left: the turn keeps its sign, the way takes the radius's.
        way, half = f"{plain(abs(step.angle))} x {_bracketed(step.radius)}", plain(card.track / 2)
        return f"2 x ({way} - {angle} x {half}) / {wheel}", f"2 x ({way} + {angle} x {half}) / {wheel}"
    if step.about is None:
        return f"{plain(-step.angle)} x {track} / {wheel}", f"{plain(step.angle)} x {track} / {wheel}"
    if step.about == "left wheel":
        return "0", f"2 x {angle} x {track} / {wheel}"
    return f"-2 x {angle} x {track} / {wheel}", "0"


def _bracketed(value: float) -> str:
    return plain(value) if value >= 0 else f"({plain(value)})"


def worked_out(step: Step, card: Card) -> tuple[str, str]:
    """The same with what comes out: '360 x 240 / (pi x 62) = 443.6'."""
    if step.wheels is None:
        return "", ""
    most = ", at most" if step.at_most else ""
    left, right = (
        "stands still" if sum_ == "0" else f"{sum_} = {fixed(value, 1)}{most}"
        for sum_, value in zip(formula(step, card), (step.wheels.left, step.wheels.right), strict=True)
    )
    return left, right


def formula_words(card: Card) -> list[str]:
    """How the wheel degrees are found, for the kinds of step there are."""
    wheel, track = plain(card.wheel), plain(card.track)
    driving = [step for step in card.steps if step.wheels is not None]
    words = []
    if any(step.angle is None for step in driving):
        words.append(f"straight 360 x mm / (pi x {wheel})")
    if any(step.kind == "turn" and step.about is None for step in driving):
        words.append(f"turn degrees x {track} / {wheel}, one wheel back")
    if any(step.about is not None for step in driving):
        words.append(f"about a wheel 2 x degrees x {track} / {wheel}")
    if any(step.radius is not None for step in driving):
        words.append(f"arc 2 x degrees x (radius -+ {plain(card.track / 2)}) / {wheel}, inner - and outer +")
    found = []
    if words:
        found.append(f"Wheel degrees: {'; '.join(words)}. Backwards is negative.")
        through = "" if card.gear == 1 else f" Motor degrees are wheel degrees / {plain(card.gear)} (the gear)."
        same = " Gear 1: the motors turn as the wheels do." if card.gear == 1 else through
        found.append(
            f"No slip is assumed, and the wheel ({wheel} mm) and track ({track} mm) that the robot's file names.{same}"
        )
    if card.heading_from == "gyro":
        found.append("It steers by its gyro: that decides how far it turns; the wheel degrees are what that comes to.")
    return found


# --- the odds ----------------------------------------------------------------------------------------------------


def odds_words(card: Card) -> list[str]:
    """How often it gets through, what is unknown, and what is taken for granted."""
    if card.trials == 0:
        return ["No trial was done: nothing is known of the odds.", *card.notes]
    found = [f"Gets through {how_often(card.success, card.trials)}."]
    if card.unknown is not None:
        found.append(unknown_words(card.unknown, card.success.share))
    if card.interrupted:
        found.append(f"Stopped early, after {card.trials} trials.")
    return [*found, *card.notes]


def trouble_words(trouble: Trouble, looked_at: int) -> str:
    """'Step 11 touches milk churn: 24 in 1000'."""
    what = _name(trouble.what)
    if trouble.why in ("touches", "misses"):
        event = f"{trouble.why} {what}"
    elif trouble.why == "ends outside":
        event = f"ends outside {what}"
    else:
        event = f"does not catch {what} ({trouble.why})"
    return f"Step {trouble.step} {event}: {_share(trouble.share, looked_at)}"


def watch_words(card: Card) -> list[str]:
    """The places to watch, the most frequent first."""
    if not card.looked_at:
        return []
    if not card.troubles:
        return [f"Nothing went wrong in any of {card.looked_at} trials. Watch the tightest gap."]
    return [trouble_words(trouble, card.looked_at) for trouble in card.troubles]


def tick_words(card: Card) -> list[str]:
    """What to check and to mind before the start."""
    wear = "No attachment on" if card.bare or not card.wear else f"Firmly on: {', '.join(map(_name, card.wear))}"
    found = [
        "The event's own rules come first",
        "An adult is here",
        "Battery charged as in the tests",
        "Wheels clean and firm, mat swept",
        wear,
        f"Program: {_name(card.run)}",
    ]
    if card.heading_from == "gyro":
        found.append("Gyro set to nought, robot still")
    if any(step.kind in ("line square", "until") for step in card.steps):
        found.append("Light sensors see line and mat")
    found.append("Models stand in their places")
    found.append("A, B and C measured")
    if card.start.jig is not None:
        found.append("Jig left or off, as the rules say")
    return [*found, "Fingers, hair off gears, wheels", "Clock ready, hands away, start"]


def made_words(card: Card) -> str:
    """What made the card, so that it can be made again."""
    trials = f"{card.trials} {'trial' if card.trials == 1 else 'trials'}"
    return f"fieldsim {card.version}, {trials}, seed {card.seed}. Again: {one_line(card.command)}"


def log_rows(card: Card, rows: int = LOG_ROWS) -> list[list[str]]:
    """Rows to fill in, in the log's columns, with the run written in."""
    return [[one_line(card.run_file) if column == "run" else "" for column in card.log_columns] for _ in range(rows)]


# --- text and JSON -----------------------------------------------------------------------------------------------


def card_text(card: Card, width: int = 80) -> str:
    """The whole card as plain text, ending in a line end."""
    lines: list[str] = []

    def heading(words: str) -> None:
        lines.extend(["", words])

    def list_of(points: list[str], mark: str) -> None:
        for point in points:
            lines.extend(wrapped_lines(point, width, mark, " " * len(mark)))

    lines += wrapped_lines(f"Card for the table: {title(card)}", width)
    lines += wrapped_lines(subtitle(card), width)
    heading(SET_IT)
    list_of(start_words(card), "  ")
    heading(ODDS)
    list_of(odds_words(card), "  ")
    if card.looked_at:
        heading(WATCH)
        list_of(watch_words(card), "  - ")
    heading(steps_title(card))
    lines += _steps_text(card, width)
    list_of([*formula_words(card), GAPS_MEAN], "  ")
    heading(BEFORE)
    list_of(tick_words(card), "  [ ] ")
    heading(f"{HAPPENED} Rows for your log.csv")
    lines += csv_lines([list(card.log_columns), *log_rows(card)])
    list_of([HINT_RESULT], "  ")
    lines.append("")
    lines += wrapped_lines(made_words(card), width)
    lines += wrapped_lines(no_proof(), width)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def csv_lines(rows: list[list[str]]) -> list[str]:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().splitlines()


def _steps_text(card: Card, width: int) -> Iterator[str]:
    """A line of numbers for each step, under its words; what must be seen below."""
    for step in card.steps:
        mark = f"  {step.number:>2} "
        yield from wrapped_lines(step_words(step), width, mark, " " * len(mark))
        seconds, clock = time_words(step)
        parts = []
        if step.wheels is not None:
            parts.append("wheels {} and {} degrees".format(*turns_words(step.wheels, step)))
            if card.gear != 1:
                parts.append("motors {} and {}".format(*turns_words(step.motors, step)))
            parts.append(speed_words(step))
        parts.append(f"{seconds} s, clock {clock} s")
        yield from wrapped_lines("; ".join(parts), width, "       ", "       ")
        for words in seen_words(card, step.number):
            yield from wrapped_lines(words, width, "       look: ", "             ")


def card_json(card: Card) -> dict[str, Any]:
    """The card as plain dictionaries and lists, ready for ``json.dumps(..., allow_nan=False)``.

    The keys are a promise to other people's scripts: add some, never rename or drop one.
    """
    said: dict[str, Any] = plain_values({"command": "card", **asdict(card)})
    said["again"] = card.command
    for step, written in zip(card.steps, said["steps"], strict=True):
        written["formula"] = list(formula(step, card))
        written["look"] = seen_words(card, step.number)
    said["ticks"] = tick_words(card)
    said["command"] = "card"
    return said


def plain_values(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: plain_values(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain_values(each) for each in value]
    if isinstance(value, float):
        return value if isfinite(value) else None
    return value


# --- the test sheet ------------------------------------------------------------------------------------------------

TEST_CARE = (
    "An adult is there when the robot drives or drops. Hands off the mat while it moves. Drop over a soft mat, away "
    "from feet. The event's rules come first."
)

TEST_SIGNS = (
    "Forward and left are positive, back and right negative. Empty means not measured. Drive as in the match: same "
    "speed, wheels, battery. Measure on more than one day, and write the date (year-month-day). tape mm: how finely "
    "you read the tape (empty: 1). Empty speeds: the robot's own."
)

TEST_STEPS = {
    "straight": "Set the robot on a line and drive. travel: how far it came along the line. sideways: how far it ended "
    "beside it. heading: how much it turned.",
    "turn": "Read the angle; or measure the side that faces a wall: far is its end at your left hand as you look from "
    "the robot to the wall, near the end at your right hand, side how far apart they are.",
    "square path": "Four straights and four quarter turns, back to where it began: cw turns right, ccw left. return x "
    "and y: where it ended as seen from where it began, forward and to the left.",
    "placing": "Push it into a jig. along and across: how far ahead and how far left of its place it stands. jig: its "
    "name, empty if set by eye.",
    "drop": "result: pass or fail. came off: what came off. Kept and counted, never simulated.",
}


def sheet_title(sheet: BlankTests) -> str:
    return f"How accurately does {shorten(sheet.robot, TITLE_CELLS)} drive?"


def sheet_speeds(sheet: BlankTests) -> str:
    return f"Its own speed: {plain(sheet.speed)} mm/s, {plain(sheet.turn_speed)} degrees per second."


def sheet_made(sheet: BlankTests) -> str:
    return (
        f"fieldsim {sheet.version}. Copy the rows into a tests.csv ('fieldsim new' brings a blank one), then "
        "'fieldsim fit TESTS ROBOT'."
    )


def sheet_text(sheet: BlankTests, width: int = 80) -> str:
    """The blank sheet as plain text: how to measure, and rows of CSV to fill in."""
    lines = [*wrapped_lines(sheet_title(sheet), width), *wrapped_lines(sheet_speeds(sheet), width), ""]
    for words in (TEST_CARE, TEST_SIGNS):
        lines += wrapped_lines(words, width)
    for each in sheet.tables:
        lines += ["", each.kind.capitalize()]
        lines += wrapped_lines(TEST_STEPS[each.kind], width, "  ", "  ")
    lines += ["", "All in the columns that 'fieldsim fit' reads:"]
    lines += csv_lines(
        [list(sheet.columns), *(full_row(sheet, each, row) for each in sheet.tables for row in each.rows)]
    )
    lines += ["", *wrapped_lines(sheet_made(sheet), width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def full_row(sheet: BlankTests, each: BlankTable, row: tuple[str, ...]) -> list[str]:
    """A row of one kind of test in all columns of the file."""
    told = dict(zip(each.columns, row, strict=True))
    return [told.get(column, "") for column in sheet.columns]


def sheet_json(sheet: BlankTests) -> dict[str, Any]:
    """The blank sheet as plain dictionaries and lists."""
    said: dict[str, Any] = plain_values({"command": "card", **asdict(sheet)})
    return said
