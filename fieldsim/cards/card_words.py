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

from fieldsim.cards.card import Aim, BlankTable, BlankTests, Card, Catch, Gap, Measure, Step, Trouble, WheelTurns
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import cells, one_line, shorten, wrapped_lines
from fieldsim.report.phrases import fixed, how_often, how_often_shortly, no_proof, rounded_down, spoken, unknown_words
from fieldsim.stats.intervals import Share

NAME_CELLS = 24
TITLE_CELLS = 40
STEP_CELLS = 44

# Rows of the text's table to write in, ready to be copied into a log.
LOG_ROWS = 4

# Headings, the same in every form.
SET_IT, ODDS, WATCH = tr_later("Set the robot"), tr_later("The odds"), tr_later("Watch these")
BEFORE, HAPPENED = tr_later("Before the start"), tr_later("What happened?")

BOX = "\N{BALLOT BOX}"
"""An empty box to tick, where there are signs beyond ASCII."""

HINT_RESULT = tr_later(
    "result: through, touched, missed or stopped. where: what it touched or missed. segment: the step."
)
GAPS_MEAN = tr_later(
    "mm beside a model: the gap on a usual drive, rounded down, for a gauge block or a ruler. In brackets: what is "
    "left in 19 of 20 trials."
)


# Corners and sides of the robot, as ``card.CORNERS`` and ``SIDES`` name them.
PLACES = {
    "rear left": tr_later("rear left corner"),
    "rear right": tr_later("rear right corner"),
    "front right": tr_later("front right corner"),
    "front left": tr_later("front left corner"),
    "rear": tr_later("rear"),
    "right side": tr_later("right side"),
    "front": tr_later("front"),
    "left side": tr_later("left side"),
}


def _place(name: str) -> str:
    return tr(PLACES[name.removesuffix(" corner")])


def _name(text: str) -> str:
    return shorten(text, NAME_CELLS)


def millimetres(value: float) -> str:
    """'60 mm', '46.5 mm': as finely as a ruler can be read with good eyes, and a little finer."""
    tenths = round(value, 1)
    return tr("{distance} mm", distance=fixed(value, 0 if tenths == int(tenths) else 1))


def _share(share: Share, trials: int) -> str:
    """'24 in 1000', without its interval."""
    return how_often_shortly(share, trials)


# --- the start ---------------------------------------------------------------------------------------------------


def title(card: Card) -> str:
    return shorten(card.run, TITLE_CELLS)


def document_title(card: Card) -> str:
    return tr("{run}: card for the table", run=title(card))


def page_words(number: int, count: int) -> str:
    return tr("page {number} of {count}", number=number, count=count)


def subtitle(card: Card) -> str:
    return tr("{robot} on {field}", robot=shorten(card.robot, TITLE_CELLS), field=shorten(card.field, TITLE_CELLS))


def wear_words(card: Card) -> str:
    """Which attachment to slip on."""
    if card.bare:
        return tr("Slip nothing on: this was tried bare, without attachments and acts.")
    if not card.wear:
        return tr("Slip nothing on.")
    return tr("Slip on: {names}.", names=", ".join(_name(name) for name in card.wear))


def jig_words(card: Card) -> str:
    start = card.start
    along, across, turned = start.spread
    if start.jig is None or start.holds is None:
        return tr(
            "No jig: set it by eye, give or take {most} mm and {turned} degrees.",
            most=spoken(max(along, across)),
            turned=spoken(turned),
        )
    return tr("Jig: {jig}. Push the {corner} home.", jig=_name(start.jig), corner=_place(start.holds))


_QUARTERS = {0: "right", 90: "far", 180: "left", -90: "near"}


def looks_words(card: Card) -> str:
    """Which way the robot looks."""
    noun = card.start.measures[0].wall.split()[-1]
    heading = card.start.pose[2]
    quarter = 90 * round(heading / 90)
    off = heading - quarter
    wall = f"{_QUARTERS[180 if quarter == -180 else quarter]} {noun}"
    if abs(off) < 0.05:
        return tr("It looks straight at the {wall}.", wall=wall)
    turned = spoken(abs(round(off, 1)))
    if off > 0:
        return tr("It looks {turned} degrees to the left of straight at the {wall}.", turned=turned, wall=wall)
    return tr("It looks {turned} degrees to the right of straight at the {wall}.", turned=turned, wall=wall)


def measure_words(measure: Measure) -> str:
    """'A  rear left corner to left wall: 60 mm'."""
    if measure.distance < -0.05:
        far = tr("{distance} beyond it", distance=millimetres(-measure.distance))
    else:
        far = tr("0 mm, it touches") if measure.distance < 0.05 else millimetres(measure.distance)
    if measure.over:
        far = tr("{distance} ({name} is between)", distance=far, name=_name(measure.over))
    return tr(
        "{letter}: {corner} to {wall}, {distance}",
        letter=measure.letter,
        corner=_place(measure.corner),
        wall=measure.wall,
        distance=far,
    )


def heading_words(card: Card) -> str:
    """What the two measures of one side say about the heading."""
    start = card.start
    one, other = start.check
    by = millimetres(start.per_degree)
    if abs(start.difference) < 0.05:
        return tr(
            "Heading: right if {one} and {other} are the same; each degree off changes that by {by}.",
            one=one, other=other, by=by,
        )  # fmt: skip
    difference = millimetres(abs(start.difference))
    if start.difference > 0:
        return tr(
            "Heading: right if {other} is {difference} more than {one}; each degree off changes that by {by}.",
            one=one, other=other, difference=difference, by=by,
        )  # fmt: skip
    return tr(
        "Heading: right if {other} is {difference} less than {one}; each degree off changes that by {by}.",
        one=one, other=other, difference=difference, by=by,
    )  # fmt: skip


def start_words(card: Card) -> list[str]:
    """How to set the robot, a line each."""
    return [
        wear_words(card), jig_words(card), looks_words(card), *map(measure_words, card.start.measures),
        heading_words(card),
    ]  # fmt: skip


def start_picture_words(card: Card) -> str:
    """The start's picture for those who cannot see it."""
    measures = "; ".join(measure_words(measure) for measure in card.start.measures)
    if card.start.jig is None:
        where = tr("The robot from above, set by eye.")
    else:
        where = tr("The robot from above, in the jig {jig}.", jig=_name(card.start.jig))
    return f"{where} {looks_words(card)} {measures}."


# --- the steps ---------------------------------------------------------------------------------------------------


def steps_title(card: Card) -> str:
    seconds = fixed(card.seconds, 1)
    if card.finish is None:
        return tr("Steps: planned {seconds} s", seconds=seconds)
    return tr("Steps: planned {seconds} s, must end inside {area}", seconds=seconds, area=_name(card.finish))


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
        words = tr("{step}; may touch {names}", step=words, names=", ".join(_name(name) for name in step.may_touch))
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
    """'11 mm beside milk churn, left side (2 mm)'."""
    name = _name(gap.obstacle)
    if gap.gap <= 0:
        words = tr("touches {name}", name=name)
    elif gap.gap < 1:
        words = tr("under 1 mm beside {name}", name=name)
    else:
        words = tr("{gap} mm beside {name}", gap=rounded_down(gap.gap), name=name)
    if gap.part == "body" and gap.place is not None:
        words = f"{words}, {_place(gap.place)}"
    elif gap.part is not None and gap.part != "body":
        words = f"{words}, {_name(gap.part)}"
    if gap.left is None or trials == 0 or gap.gap <= 0:
        return words
    if gap.left <= 0:
        return tr("{gap} (nothing)", gap=words)
    if gap.left < 1:
        return tr("{gap} (under 1 mm)", gap=words)
    return tr("{gap} ({left} mm)", gap=words, left=rounded_down(gap.left))


def aim_words(aim: Aim, trials: int) -> str:
    within, name = spoken(aim.within), _name(aim.target)
    if aim.heading_within is None:
        words = tr("tool within {within} mm of {target}", within=within, target=name)
    else:
        words = tr(
            "tool within {within} mm of {target} and {turned} degrees",
            within=within,
            target=name,
            turned=spoken(aim.heading_within),
        )
    return tr("{aim}: met {often}", aim=words, often=_share(aim.share, trials)) if trials else words


def catch_words(catch: Catch, trials: int) -> str:
    words = tr("{name} caught", name=_name(catch.on))
    return f"{words}: {_share(catch.share, trials)}" if trials else words


def seen_words(card: Card, number: int) -> list[str]:
    """What must be seen at a step."""
    return [
        *(aim_words(aim, card.trials) for aim in card.aims if aim.step == number),
        *(catch_words(catch, card.trials) for catch in card.catches if catch.step == number),
        *(gap_words(gap, card.trials) for gap in card.gaps if gap.step == number),
    ]


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


# --- the odds ----------------------------------------------------------------------------------------------------


def odds_words(card: Card) -> list[str]:
    """How often it gets through, what is unknown, and what is taken for granted."""
    if card.trials == 0:
        return [tr("No trial was done: nothing is known of the odds."), *card.notes]
    found = [tr("Gets through {often}.", often=how_often(card.success, card.trials))]
    if card.unknown is not None:
        found.append(unknown_words(card.unknown, card.success.share))
    if card.interrupted:
        found.append(tr_many("Stopped early, after {n} trial.", "Stopped early, after {n} trials.", card.trials))
    return [*found, *card.notes]


def trouble_words(trouble: Trouble, looked_at: int) -> str:
    """'Step 11 touches milk churn: 24 in 1000'."""
    what = _name(trouble.what)
    often = _share(trouble.share, looked_at)
    told = {
        "touches": tr_later("Step {step} touches {name}: {often}"),
        "misses": tr_later("Step {step} misses {name}: {often}"),
        "ends outside": tr_later("Step {step} ends outside {name}: {often}"),
    }.get(trouble.why)
    if told is not None:
        return tr(told, step=trouble.step, name=what, often=often)
    return tr(
        "Step {step} does not catch {name} ({why}): {often}",
        step=trouble.step,
        name=what,
        why=tr(trouble.why),
        often=often,
    )


def watch_words(card: Card) -> list[str]:
    """The places to watch, the most frequent first."""
    if not card.looked_at:
        return []
    if not card.troubles:
        return [
            tr_many(
                "Nothing went wrong in the one trial. Watch the tightest gap.",
                "Nothing went wrong in any of {n} trials. Watch the tightest gap.",
                card.looked_at,
            )
        ]
    return [trouble_words(trouble, card.looked_at) for trouble in card.troubles]


def tick_words(card: Card) -> list[str]:
    """What to check and to mind before the start."""
    bare = card.bare or not card.wear
    found = [
        tr("The event's own rules come first"),
        tr("An adult is here"),
        tr("Battery charged as in the tests"),
        tr("Wheels clean and firm, mat swept"),
        tr("No attachment on") if bare else tr("Firmly on: {names}", names=", ".join(map(_name, card.wear))),
        tr("Program: {run}", run=_name(card.run)),
    ]
    if card.heading_from == "gyro":
        found.append(tr("Gyro set to nought, robot still"))
    if any(step.kind in ("line square", "until") for step in card.steps):
        found.append(tr("Light sensors see line and mat"))
    found.append(tr("Models stand in their places"))
    found.append(tr("A, B and C measured"))
    if card.start.jig is not None:
        found.append(tr("Jig left or off, as the rules say"))
    return [*found, tr("Fingers, hair off gears, wheels"), tr("Clock ready, hands away, start")]


def made_words(card: Card) -> str:
    """What made the card, so that it can be made again."""
    return tr_many(
        "fieldsim {version}, {n} trial, seed {seed}. Again: {command}",
        "fieldsim {version}, {n} trials, seed {seed}. Again: {command}",
        card.trials,
        version=card.version,
        seed=card.seed,
        command=one_line(card.command),
    )


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

    lines += wrapped_lines(tr("Card for the table: {run}", run=title(card)), width)
    lines += wrapped_lines(subtitle(card), width)
    heading(tr(SET_IT))
    list_of(start_words(card), "  ")
    heading(tr(ODDS))
    list_of(odds_words(card), "  ")
    if card.looked_at:
        heading(tr(WATCH))
        list_of(watch_words(card), "  - ")
    heading(steps_title(card))
    lines += _steps_text(card, width)
    list_of([*formula_words(card), tr(GAPS_MEAN)], "  ")
    heading(tr(BEFORE))
    list_of(tick_words(card), "  [ ] ")
    heading(tr("What happened? Rows for your log.csv"))
    lines += csv_lines([list(card.log_columns), *log_rows(card)])
    list_of([tr(HINT_RESULT)], "  ")
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
            left, right = turns_words(step.wheels, step)
            parts.append(tr("wheels {left} and {right} degrees", left=left, right=right))
            if card.gear != 1:
                left, right = turns_words(step.motors, step)
                parts.append(tr("motors {left} and {right}", left=left, right=right))
            parts.append(speed_words(step))
        parts.append(tr("{seconds} s, clock {clock} s", seconds=seconds, clock=clock))
        yield from wrapped_lines("; ".join(parts), width, "       ", "       ")
        look = tr("       look: ")
        for words in seen_words(card, step.number):
            yield from wrapped_lines(words, width, look, " " * cells(look))


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

TEST_CARE = tr_later(
    "An adult is there when the robot drives or drops. Hands off the mat while it moves. Drop over a soft mat, away "
    "from feet. The event's rules come first."
)

TEST_SIGNS = tr_later(
    "Forward and left are positive, back and right negative. Empty means not measured. Drive as in the match: same "
    "speed, wheels, battery. Measure on more than one day, and write the date (year-month-day). tape mm: how finely "
    "you read the tape (empty: 1). Empty speeds: the robot's own."
)

TEST_STEPS = {
    "straight": tr_later(
        "Set the robot on a line and drive. travel: how far it came along the line. sideways: how far it ended "
        "beside it. heading: how much it turned."
    ),
    "turn": tr_later(
        "Read the angle; or measure the side that faces a wall: far is its end at your left hand as you look from "
        "the robot to the wall, near the end at your right hand, side how far apart they are."
    ),
    "square path": tr_later(
        "Four straights and four quarter turns, back to where it began: cw turns right, ccw left. return x "
        "and y: where it ended as seen from where it began, forward and to the left."
    ),
    "placing": tr_later(
        "Push it into a jig. along and across: how far ahead and how far left of its place it stands. jig: its "
        "name, empty if set by eye."
    ),
    "drop": tr_later("result: pass or fail. came off: what came off. Kept and counted, never simulated."),
}
# What each kind of test is called over its rows; in the file it stays as it is.
TEST_NAMES = {
    "straight": tr_later("Straight"),
    "turn": tr_later("Turn"),
    "square path": tr_later("Square path"),
    "placing": tr_later("Placing"),
    "drop": tr_later("Drop"),
}


def sheet_title(sheet: BlankTests) -> str:
    return tr("How accurately does {robot} drive?", robot=shorten(sheet.robot, TITLE_CELLS))


def sheet_speeds(sheet: BlankTests) -> str:
    return tr(
        "Its own speed: {speed} mm/s, {turn_speed} degrees per second.",
        speed=spoken(sheet.speed),
        turn_speed=spoken(sheet.turn_speed),
    )


def sheet_made(sheet: BlankTests) -> str:
    return tr(
        "fieldsim {version}. Copy the rows into a tests.csv ('fieldsim new' brings a blank one), then "
        "'fieldsim fit TESTS ROBOT'.",
        version=sheet.version,
    )


def sheet_text(sheet: BlankTests, width: int = 80) -> str:
    """The blank sheet as plain text: how to measure, and rows of CSV to fill in."""
    lines = [*wrapped_lines(sheet_title(sheet), width), *wrapped_lines(sheet_speeds(sheet), width), ""]
    for words in (TEST_CARE, TEST_SIGNS):
        lines += wrapped_lines(tr(words), width)
    for each in sheet.tables:
        lines += ["", tr(TEST_NAMES[each.kind])]
        lines += wrapped_lines(tr(TEST_STEPS[each.kind]), width, "  ", "  ")
    lines += ["", tr("All in the columns that 'fieldsim fit' reads:")]
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
