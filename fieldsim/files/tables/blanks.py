"""Empty test sheets and logs to fill in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fieldsim.files.tables.columns import LOG, SHEET
from fieldsim.language import tr, tr_later


def _blank(about: str, columns: Sequence[str], examples: Sequence[Mapping[str, str]]) -> str:
    rows = [",".join(row.get(column, "") for column in columns) for row in examples]
    lines = [f"# {line}".rstrip() for line in about.strip().splitlines()]
    return "\n".join([*lines, ",".join(columns), *(f"#{row}" for row in rows), ""])


# Without commas and semicolons, at which a spreadsheet would cut the lines.
_ABOUT_SHEET = tr_later(
    "\nTest sheet: how accurately does the robot drive? One test a row. Lines that begin with # are "
    "not read.\nUnits stand in the header. Forward and left are positive. Backward and right are "
    "negative. Empty means not measured.\n\nEvery kind of test: date (year-month-day) and note and "
    "test: straight or turn or square path or there and back or placing or square or drop.\ntape mm: "
    "how finely you read the tape (empty: 1 or as finely as your readings are written).\nprotractor "
    "deg: how finely you read angles (empty: 0.5 or as finely as your readings are written).\nDo you "
    "measure in cm or in? Write travel cm or travel in for travel mm in the header and so on.\nheading "
    "from: wheels or gyro (empty: wheels).\nspeed mm/s and turn speed deg/s: empty if the robot drove "
    "at its own speed.\n\nstraight: commanded mm and travel mm (along the line it was set on).\n  If "
    "you measured them: sideways mm (how far beside that line) and heading deg (how much the heading "
    "changed).\nturn: commanded deg and angle deg (what it made). Or by tape: near mm and far mm and "
    "side mm instead of angle deg.\n  By tape works for turns of about 90 degrees (or 180 or 270 or "
    "360). Measure the side of the robot that faces a wall:\n  how far from the wall are its two ends? "
    "Look from the robot to the wall.\n  far mm is the end at your left hand. near mm is the end at "
    "your right hand. side mm is how far apart the ends are.\n  If the robot has turned too far to the "
    "left then far mm is more than near mm. Measure square to the wall.\nsquare path: side mm and "
    "direction (cw turns right and ccw turns left) and return x mm and return y mm.\n  Return is where "
    "it ended as seen from where it began: x is forward and y is left.\n  If you measured it: heading "
    "deg (how far off its heading was at the end).\nthere and back: commanded mm (then as far back "
    "without a turn) and return x mm and return y mm and heading deg as with the square path.\n"
    "placing: along mm and across mm (how far ahead and how far left of its place it stood).\n  If you "
    "measured it: heading deg (how far off its heading was). jig: its name (empty: placed by eye).\n"
    "square: set one corner of a face on a wall and push on until the face is flat on it. face (front "
    "or rear - empty: front) and angle deg (how far off flat it was set) and along mm (how far that "
    "corner slid along the wall).\ndrop: result (pass or fail). came off: what came off.\n\nThe rows "
    "below the header are invented examples. Delete the # in front of one to try it. Then write your "
    "own.\n"
)

_EXAMPLE = tr_later("invented example")
_SHEET_EXAMPLES = (
    {
        "test": "straight", "heading from": "wheels", "speed mm/s": "200", "commanded mm": "1000", "travel mm": "1004",
        "sideways mm": "-6", "heading deg": "-0.7", "tape mm": "1",
    },
    {"test": "turn", "heading from": "wheels", "turn speed deg/s": "120", "commanded deg": "90", "angle deg": "91.5"},
    {"test": "turn", "commanded deg": "-90", "near mm": "52", "far mm": "49", "side mm": "160", "tape mm": "0.5"},
    {
        "test": "square path", "speed mm/s": "200", "turn speed deg/s": "120", "side mm": "800", "direction": "cw",
        "return x mm": "-14", "return y mm": "-22", "heading deg": "3",
    },
    {
        "test": "there and back", "speed mm/s": "200", "commanded mm": "300", "return x mm": "3", "return y mm": "-1",
        "heading deg": "-0.5",
    },
    {"test": "placing", "jig": "corner block", "along mm": "0.5", "across mm": "-1", "heading deg": "0.3"},
    {"test": "square", "face": "front", "angle deg": "5", "along mm": "9"},
    {"test": "drop", "result": "fail", "came off": "bumper"},
)  # fmt: skip

_ABOUT_LOG = tr_later(
    "\nLog: runs really driven at the table. One run a row. Lines that begin with # are not "
    "read.\nKeep it in the folder of the runs: they are looked for beside it.\n\ndate: year-month-day. "
    "run: its name or the name of its file. result: through or touched or missed or stopped.\nwhere: "
    "the obstacle it touched or the target it missed. Needed if it touched something and empty if "
    "it went through.\nsegment: the number of the segment it was on. The first is 1.\ntarget and miss "
    "mm: how far from a target the tool was if you measured it. seconds s: how long the run "
    "took.\nnote: whatever you like.\n\nThe rows below the header are invented examples. Delete the # "
    "in front of one to try it. Then write your own.\n"
)
_LOG_EXAMPLES = (
    {"run": "first-run.yaml", "result": "through", "target": "bell", "miss mm": "4", "seconds s": "14.5"},
    {"run": "first-run.yaml", "result": "touched", "where": "shed", "segment": "3"},
    {"run": "First run", "result": "missed", "where": "bell", "segment": "4", "miss mm": "31"},
    {"run": "first-run.yaml", "result": "stopped", "segment": "2"},
)  # fmt: skip


def blank_sheet() -> str:
    """An empty test sheet: how to fill it in, the header, and an invented example of each kind of test, commented."""
    examples = [{"date": "2026-11-25", **row, "note": tr(_EXAMPLE)} for row in _SHEET_EXAMPLES]
    return _blank(tr(_ABOUT_SHEET), SHEET.columns, examples)


def blank_log() -> str:
    """An empty log: how to fill it in, the header, and an invented example of each kind of result, commented."""
    examples = [{"date": "2026-11-25", **row, "note": tr(_EXAMPLE)} for row in _LOG_EXAMPLES]
    return _blank(tr(_ABOUT_LOG), LOG.columns, examples)
