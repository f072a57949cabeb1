"""The blank test sheet in words, as plain text and as JSON."""

from __future__ import annotations

from fieldsim.cards.run.words import TITLE_CELLS
from fieldsim.cards.shared import csv_lines
from fieldsim.cards.sheet.blank import BlankTable, BlankTests
from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten, wrapped_lines
from fieldsim.report.phrases import spoken

TEST_CARE = tr_later(
    "An adult is there when the robot drives or drops. Hands off the mat while it moves. Drop over a soft mat, away "
    "from feet. The event's rules come first."
)

TEST_SIGNS = tr_later(
    "Forward and left are positive, back and right negative. Empty means not measured. Drive as in the match: same "
    "speed, wheels, battery. Measure on more than one day, and write the date (year-month-day). tape mm: how finely "
    "you read the tape (empty: 1). Empty speeds: the robot's own."
)

PAPER_SIGNS = tr_later(
    "Forward and left are +, back and right are -, as the arrows show. Empty means not measured. Drive as in the "
    "match: same speed, wheels, battery. One sheet a day, and more than one day. 360 degrees: once round, to where it "
    "looked before; write 360 and what is more or less of it."
)

# What is the same in all rows of a day's sheet is written once, over the tests.
ONCE = ("date", "test", "note", "heading from", "speed mm/s", "turn speed deg/s", "tape mm")

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
    "there and back": tr_later(
        "Drive so far ahead, and as far back without a turn. return x and y: where it ended as seen from where it "
        "began. heading: how far off its heading was. It tells play in the gears, and what the caster does."
    ),
    "placing": tr_later(
        "Push it into a jig. along and across: how far ahead and how far left of its place it stands. jig: its "
        "name, empty if set by eye."
    ),
    "square": tr_later(
        "Set one corner of the front on a wall, turned by so much, mark it on the wall and push on until the front is "
        "flat. along: how far that corner slid along the wall, 0 if it stayed. near and far: the gaps left at its "
        "right and left end, side how far apart those are. result: fail if it did not swing flat. face: front or rear."
    ),
    "drop": tr_later("result: pass or fail. came off: what came off. Kept and counted, never simulated."),
}
# What each kind of test is called over its rows; in the file it stays as it is.
TEST_NAMES = {
    "straight": tr_later("Straight"),
    "turn": tr_later("Turn"),
    "square path": tr_later("Square path"),
    "there and back": tr_later("There and back"),
    "placing": tr_later("Placing"),
    "square": tr_later("Square"),
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


def told_once(column: str) -> bool:
    """Whether a column is told once for all tests of the sheet."""
    return column in ONCE


def once_words(sheet: BlankTests) -> list[tuple[str, float]]:
    """What is told once, beside the robot in the title, and how much room it has to be written in, mm; 0 where it is
    known."""
    return [
        (tr("date"), 26.0),
        (tr("heading from: {mode}", mode=sheet.mode), 0.0),
        (tr("{speed} mm/s, {turn_speed} deg/s", speed=spoken(sheet.speed), turn_speed=spoken(sheet.turn_speed)), 0.0),
        (tr("tape read to, mm"), 10.0),
    ]  # fmt: skip


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
