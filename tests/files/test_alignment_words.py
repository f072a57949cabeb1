"""The words that align a robot: square, line square, until, and steering by a gyro."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator
from small_files import BARE_FIELD, FIELD_FILE, ROBOT_FILE, assert_one_problem, assert_refused, unmark, write

from fieldsim.files import load_robot, load_run, schema
from fieldsim.model import (
    Body,
    Drive,
    Field,
    Line,
    LineSquare,
    Obstacle,
    Robot,
    Round,
    Run,
    Segment,
    Sensor,
    Square,
    StartByEye,
    Until,
    Wait,
)
from fieldsim.model.errors import PlanError

VALIDATOR = Draft202012Validator(schema("run"))
HEAD = f"run: R\nfield: {FIELD_FILE}\nrobot: {ROBOT_FILE}\nstart: corner\nsegments:\n"


def schema_takes(run: str) -> bool:
    return VALIDATOR.is_valid(yaml.safe_load(run))


GOOD: dict[str, tuple[str, Segment]] = {
    "square": (
        "square: front, against: far wall, reach: 120",
        Square("front", "far wall", 120.0, speed=None, capture=20.0, may_touch=()),
    ),
    "square with everything": (
        "square: rear, against: mill, reach: 12 cm, speed: 5 cm/s, capture: 15 deg, may_touch: [oven, left wall]",
        Square("rear", "mill", 120.0, speed=50.0, capture=15.0, may_touch=("oven", "left wall")),
    ),
    "square on an outline, as far as a hall": (
        "square: front, against: oven, reach: 20 m, capture: 89.9",
        Square("front", "oven", 20_000.0, capture=89.9),
    ),
    "line square": (
        "line square: kerb, sensors: [left eye, right eye], reach: 150",
        LineSquare("kerb", ("left eye", "right eye"), 150.0, passes=1.0, speed=None, capture=45.0, may_touch=()),
    ),
    "line square with everything": (
        "line square: kerb, sensors: [right eye, tail eye], reach: -15 cm, passes: 2, speed: 80, capture: 30°, "
        "may_touch: [barrel]",
        LineSquare("kerb", ("right eye", "tail eye"), -150.0, 2.0, 80.0, 30.0, ("barrel",)),
    ),
    "line square, most passes": (
        "line square: kerb, sensors: [left eye, right eye], reach: 1, passes: 20",
        LineSquare("kerb", ("left eye", "right eye"), 1.0, passes=20.0),
    ),
    "line square, passes with a point": (
        "line square: kerb, sensors: [left eye, right eye], reach: 1, passes: 3.0",
        LineSquare("kerb", ("left eye", "right eye"), 1.0, passes=3.0),
    ),
    "until": (
        "until: kerb, sensor: left eye, reach: 300",
        Until("kerb", "left eye", 300.0, speed=None, capture=70.0, may_touch=()),
    ),
    "until with everything": (
        "until: kerb, sensor: tail eye, reach: -0.3 m, speed: 0.1 m/s, capture: 60 degrees, may_touch: [near wall]",
        Until("kerb", "tail eye", -300.0, 100.0, 60.0, ("near wall",)),
    ),
}


@pytest.mark.parametrize("name", GOOD)
def test_each_word_reads_into_its_segment(name: str, tmp_path: Path) -> None:
    text, meant = GOOD[name]
    run = f"{HEAD}  - {{{text}}}\n"
    assert load_run(write(tmp_path, run=run)).segments == (meant,)
    assert schema_takes(run)


def test_the_words_stand_in_lines_of_their_own_among_others(tmp_path: Path) -> None:
    run = (
        f"{HEAD}"
        "  - wait: 0.5\n"
        "  - square: front\n    against: far wall\n    reach: 12 cm\n"
        "  - line square: kerb\n    sensors:\n      - left eye\n      - right eye\n    reach: 150\n    passes: 2\n"
        "  - until: kerb\n    sensor: left eye\n    reach: 300\n"
    )
    assert load_run(write(tmp_path, run=run)).segments == (
        Wait(0.5),
        Square("front", "far wall", 120.0),
        LineSquare("kerb", ("left eye", "right eye"), 150.0, 2.0),
        Until("kerb", "left eye", 300.0),
    )
    assert schema_takes(run)


@pytest.mark.parametrize("word", ["wheels", "gyro"])
def test_what_the_heading_is_known_from(word: str, tmp_path: Path) -> None:
    path = tmp_path / ROBOT_FILE
    text = (
        f"robot: Box\nbody: {{length: 170, width: 140, axle: 60}}\ndrive: {{track: 9, wheel: 9, heading_from: {word}}}"
    )
    path.write_text(text.replace(": 9", ": 99"))
    assert load_robot(path).drive.heading_from == word
    assert Draft202012Validator(schema("robot")).is_valid(yaml.safe_load(path.read_text()))


# One segment, with a ¦ before the place; words of the message; words of the hint.
SQUARE, LINE_SQUARE = "square: front, against: far wall", "line square: kerb, sensors: [left eye, right eye]"
UNTIL = "until: kerb, sensor: left eye"
MM, MM_EITHER_WAY = "accepted: more than 0 mm, up to 20000 mm", "accepted: -20000 to 20000 mm, but not 0"
ACUTE, WHOLE = "accepted: more than 0 degrees, less than 90 degrees", "accepted: a whole number, 1 to 20"

# What is wrong whatever the field and the robot are: the schema refuses it too.
WRONG = {
    "square: face that is none": (
        "square: ¦left, against: far wall, reach: 5",
        "'square' of segment 1 is 'left'; accepted: front | rear",
        "",
    ),
    "square: face misspelt": ("square: ¦frnt, against: far wall, reach: 5", "is 'frnt'", "did you mean 'front'?"),
    "square: face that YAML takes for true": ("square: ¦on, against: far wall, reach: 5", "found on", "as true"),
    "square: no face": ("square:¦ , against: far wall, reach: 5", "'square' of segment 1 must be a text", ""),
    "square: against nothing": ("¦square: front, reach: 5", "needs the key 'against'", "add against: The wall or"),
    "square: against a list": ("square: front, against: ¦[mill], reach: 5", "must be a text, found a list", ""),
    "square: no reach": (f"¦{SQUARE}", "segment 1 needs the key 'reach'", "add reach: How far it may drive"),
    "square: reach 0": (f"{SQUARE}, reach: ¦0", f"'reach' of segment 1 is 0 mm; {MM}", ""),
    "square: reach negative": (f"{SQUARE}, reach: ¦-120", f"'reach' of segment 1 is -120 mm; {MM}", ""),
    "square: reach too far": (f"{SQUARE}, reach: ¦20001", f"is 20001 mm; {MM}", ""),
    "square: reach in words": (f"{SQUARE}, reach: ¦far", "must be a length, found 'far'", "such as 420 or '42 cm'"),
    "square: reach in kg": (f"{SQUARE}, reach: ¦3 kg", "has the unit 'kg'", "accepted units: mm, cm, m, in"),
    "square: capture 0": (f"{SQUARE}, reach: 5, capture: ¦0", f"'capture' of segment 1 is 0 degrees; {ACUTE}", ""),
    "square: capture 90": (f"{SQUARE}, reach: 5, capture: ¦90", f"is 90 degrees; {ACUTE}", ""),
    "square: capture negative": (f"{SQUARE}, reach: 5, capture: ¦-5", f"is -5 degrees; {ACUTE}", ""),
    "square: capture in words": (f"{SQUARE}, reach: 5, capture: ¦wide", "must be an angle, found 'wide'", "'90 deg'"),
    "square: capture in quotes": (f"{SQUARE}, reach: 5, capture: ¦'20'", "in quotes", "write 20 without quotes"),
    "square: capture in mm": (f"{SQUARE}, reach: 5, capture: ¦20 mm", "has the unit 'mm'", "accepted units: deg"),
    "square: speed 0": (f"{SQUARE}, reach: 5, speed: ¦0", "'speed' of segment 1 is 0 mm/s; accepted: more than 0", ""),
    "square: passes": (
        f"{SQUARE}, reach: 5, ¦passes: 2",
        "'passes' is no key of segment 1",
        "keys here: square, against",
    ),
    "square: may touch a text": (f"{SQUARE}, reach: 5, may_touch: ¦mill", "must be a list", "write [one, two]"),
    "line square: no line": (
        "line square:¦ , sensors: [left eye, right eye], reach: 5",
        "'line square' of segment 1 must be a text, found nothing",
        "",
    ),
    "line square: no sensors": ("¦line square: kerb, reach: 5", "needs the key 'sensors'", "add sensors: The two"),
    "line square: one sensor as a text": (
        "line square: kerb, sensors: ¦left eye, reach: 5",
        "'sensors' of segment 1 must be a list, found the text 'left eye'",
        "write [one, two]",
    ),
    "line square: one sensor": ("line square: kerb, sensors: ¦[left eye], reach: 5", "accepted: 2", ""),
    "line square: three sensors": (
        "line square: kerb, sensors: ¦[left eye, right eye, tail eye], reach: 5",
        "'sensors' of segment 1 has 3 items; accepted: 2",
        "",
    ),
    "line square: a sensor that is a number": (
        "line square: kerb, sensors: [left eye, ¦2], reach: 5",
        "sensor 2 in 'sensors' of segment 1 must be a text, found 2",
        "as a number; put it in quotes: '2'",
    ),
    "line square: no reach": (f"¦{LINE_SQUARE}", "segment 1 needs the key 'reach'", "backwards if negative"),
    "line square: reach 0": (f"{LINE_SQUARE}, reach: ¦0", f"'reach' of segment 1 is 0 mm; {MM_EITHER_WAY}", ""),
    "line square: reach too far back": (f"{LINE_SQUARE}, reach: ¦-20001", f"is -20001 mm; {MM_EITHER_WAY}", ""),
    "line square: half a pass": (f"{LINE_SQUARE}, reach: 5, passes: ¦1.5", f"segment 1 is 1.5; {WHOLE}", ""),
    "line square: no pass": (f"{LINE_SQUARE}, reach: 5, passes: ¦0", f"'passes' of segment 1 is 0; {WHOLE}", ""),
    "line square: a pass too many": (f"{LINE_SQUARE}, reach: 5, passes: ¦21", f"segment 1 is 21; {WHOLE}", ""),
    "line square: passes in words": (f"{LINE_SQUARE}, reach: 5, passes: ¦two", "must be a number, found 'two'", ""),
    "line square: passes with a unit": (f"{LINE_SQUARE}, reach: 5, passes: ¦2 times", "'2 times'", "write the number"),
    "line square: passes misspelt": (f"{LINE_SQUARE}, reach: 5, ¦passes_: 2", "'passes_' is no key", "mean 'passes'?"),
    "line square: capture 0": (f"{LINE_SQUARE}, reach: 5, capture: ¦0", f"is 0 degrees; {ACUTE}", ""),
    "line square: capture 90": (f"{LINE_SQUARE}, reach: 5, capture: ¦90", f"is 90 degrees; {ACUTE}", ""),
    "line square: misspelt": ("¦line sqare: kerb, reach: 5", "says nothing to do", "did you mean 'line square'?"),
    "line square: with a low line": ("¦line_square: kerb, reach: 5", "says nothing to do", "mean 'line square'?"),
    "until: no line": (
        "until:¦ , sensor: left eye, reach: 5",
        "'until' of segment 1 must be a text, found nothing",
        "",
    ),
    "until: no sensor": ("¦until: kerb, reach: 5", "segment 1 needs the key 'sensor'", "add sensor: The light sensor"),
    "until: a list of sensors": ("until: kerb, sensor: ¦[left eye], reach: 5", "must be a text, found a list", ""),
    "until: no reach": (f"¦{UNTIL}", "segment 1 needs the key 'reach'", "backwards if negative"),
    "until: reach 0": (f"{UNTIL}, reach: ¦0", f"'reach' of segment 1 is 0 mm; {MM_EITHER_WAY}", ""),
    "until: capture 0": (f"{UNTIL}, reach: 5, capture: ¦0", f"is 0 degrees; {ACUTE}", ""),
    "until: capture 90": (f"{UNTIL}, reach: 5, capture: ¦90", f"is 90 degrees; {ACUTE}", ""),
    "until: sensors": (f"{UNTIL}, reach: 5, ¦sensors: [right eye]", "'sensors' is no key", "did you mean 'sensor'?"),
    "two words: square and turn": (f"{SQUARE}, reach: 5, ¦turn: 90", "is square and turn at once", "a - in front"),
    "two words: straight and until": ("straight: 300, ¦until: kerb", "is straight and until at once", "a - in front"),
    "two words: line square and square": (
        f"{LINE_SQUARE}, reach: 5, ¦square: front",
        "segment 1 is line square and square at once",
        "put a - in front of each segment",
    ),
}

# What this field and this robot do not have or cannot do, and bounds of numbers with a unit: the schema cannot know.
ONLY_READ = {
    "square: no such wall": (
        "square: front, against: ¦far wal, reach: 5",
        "'against' of segment 1 names 'far wal', which is not an obstacle or wall here",
        "did you mean 'far wall'? obstacles and walls here: mill, oven, barrel, near wall, far wall, left wall, right",
    ),
    "square: no such obstacle": (
        "square: front, against: ¦Mil, reach: 5",
        "names 'Mil', which",
        "did you mean 'mill'?",
    ),
    "square: against a line": ("square: front, against: ¦kerb, reach: 5", "names 'kerb', which is not an obstacle", ""),
    "square: against something round": (
        "square: front, against: ¦barrel, reach: 5",
        "'against' of segment 1 names 'barrel', which is round",
        "a face can be pushed flat only on a flat side",
    ),
    "square: reach 0 with a unit": (f"{SQUARE}, reach: ¦0 cm", f"'reach' of segment 1 is 0 mm; {MM}", ""),
    "square: reach negative with a unit": (f"{SQUARE}, reach: ¦-12 cm", f"'reach' of segment 1 is -120 mm; {MM}", ""),
    "square: capture 90 with a unit": (f"{SQUARE}, reach: 5, capture: ¦90 deg", f"is 90 degrees; {ACUTE}", ""),
    "square: may touch what is not there": (f"{SQUARE}, reach: 5, may_touch: [¦ovn]", "names 'ovn'", "mean 'oven'?"),
    "line square: no such line": (
        "line square: ¦kreb, sensors: [left eye, right eye], reach: 5",
        "'line square' of segment 1 names 'kreb', which is not a line here",
        "did you mean 'kerb'? lines here: kerb",
    ),
    "line square: on a wall": ("line square: ¦far wall, sensors: [left eye, right eye], reach: 5", "is not a line", ""),
    "line square: no such sensor": (
        "line square: kerb, sensors: [left eye, ¦rihgt eye], reach: 5",
        "sensor 2 in 'sensors' of segment 1 names 'rihgt eye', which is not a sensor here",
        "did you mean 'right eye'? sensors here: left eye, right eye, tail eye",
    ),
    "line square: a sensor twice": (
        "line square: kerb, sensors: [left eye, ¦left eye], reach: 5",
        "'sensors' of segment 1 has the name 'left eye' twice",
        "names must differ",
    ),
    "line square: sensors equally far to the left": (
        "line square: kerb, sensors: ¦[left eye, tail eye], reach: 5",
        "'sensors' of segment 1 names two sensors that are equally far to the left",
        "one has to be to the left of the other",
    ),
    "until: no such line": (
        "until: ¦curb, sensor: left eye, reach: 5",
        "'curb', which is not a line",
        "lines here: kerb",
    ),
    "until: no such sensor": (
        "until: kerb, sensor: ¦lefteye, reach: 5",
        "'sensor' of segment 1 names 'lefteye', which is not a sensor here",
        "did you mean 'left eye'? sensors here: left eye, right eye, tail eye",
    ),
    "until: an attachment": ("until: kerb, sensor: ¦scoop, reach: 5", "'scoop', which is not a sensor here", ""),
}


@pytest.mark.parametrize("name", [*WRONG, *ONLY_READ])
def test_each_mistake_is_said_at_its_place(name: str, tmp_path: Path) -> None:
    segment, message, hint = (WRONG | ONLY_READ)[name]
    run, place = unmark(f"{HEAD}  - {{{segment}}}\n")
    assert_one_problem(assert_refused(write(tmp_path, run=run)), place, message, hint)


@pytest.mark.parametrize("name", WRONG)
def test_the_schema_refuses_what_is_wrong_in_itself(name: str) -> None:
    run, _ = unmark(f"{HEAD}  - {{{WRONG[name][0]}}}\n")
    assert not schema_takes(run)


def test_a_wall_of_an_open_board_is_no_wall(tmp_path: Path) -> None:
    board = BARE_FIELD.replace("walls: {height: 75}", "walls: none")
    run, place = unmark(f"{HEAD}  - wait: 1\n  - {{square: rear, against: ¦near wall, reach: 5}}\n")
    problems = assert_refused(write(tmp_path, run=run, field=board))
    message = "'against' of segment 2 names a wall, but the field is an open board"
    assert_one_problem(problems, place, message, "its edge is a drop")


def test_on_an_open_board_an_obstacle_is_still_flat(tmp_path: Path) -> None:
    board = BARE_FIELD.replace("walls: {height: 75}", "walls: none")
    run = f"{HEAD}  - {{square: rear, against: mill, reach: 5}}\n"
    assert load_run(write(tmp_path, run=run, field=board)).segments == (Square("rear", "mill", 5.0),)


def test_a_misspelt_key_is_said_beside_the_one_that_is_missing(tmp_path: Path) -> None:
    run = f"{HEAD}  - square: front\n    agianst: far wall\n    reach: 120\n"
    missing, unknown = assert_refused(write(tmp_path, run=run))
    assert_one_problem((missing,), (6, 5), "segment 1 needs the key 'against'", "add against")
    assert_one_problem(
        (unknown,), (7, 5), "'agianst' is no key of segment 1", "did you mean 'against'? keys here: square"
    )
    assert not schema_takes(run)


@pytest.mark.parametrize("word", ["square", "line square", "until"])
def test_a_word_without_its_value(word: str, tmp_path: Path) -> None:
    run, place = unmark(f"{HEAD}  - ¦{word}\n")
    problems = assert_refused(write(tmp_path, run=run))
    message = f"segment 1 must be a key with a value, found the text '{word}'"
    assert_one_problem(problems, place, message, f"write {word}: and its value")
    assert not schema_takes(run)


def test_a_line_square_whose_line_is_forgotten(tmp_path: Path) -> None:
    run, place = unmark(f"{HEAD}  - line square:¦\n    sensors: [left eye, right eye]\n    reach: 150\n")
    problems = assert_refused(write(tmp_path, run=run))
    assert_one_problem(problems, place, "'line square' of segment 1 must be a text, found nothing", "")


def test_unknown_names_of_several_segments_are_said_at_once(tmp_path: Path) -> None:
    run = (
        f"{HEAD}  - {{square: front, against: miil, reach: 5}}\n"
        "  - {line square: krb, sensors: [left, right eye], reach: 5}\n  - {until: kerb, sensor: eye, reach: 5}\n"
    )
    found = [(problem.line, problem.column) for problem in assert_refused(write(tmp_path, run=run))]
    assert found == [(6, 30), (7, 19), (7, 34), (8, 27)]


# --- made in Python


EYES = ("left eye", "right eye")
REFUSED: dict[str, tuple[Callable[[], Any], list[str]]] = {
    "square, reach 0": (lambda: Square("front", "far wall", 0.0), [f"'reach' of the square is 0 mm; {MM}"]),
    "square, reach not a number": (
        lambda: Square("front", "far wall", float("nan")),
        [f"'reach' of the square is not a number; {MM}"],
    ),
    "square, everything": (
        lambda: Square("left", "", -1.0, speed=0.0, capture=90.0, may_touch=(3,)),  # type: ignore[arg-type]
        [
            "'face' of the square is 'left'; accepted: front | rear",
            "'against' of the square is empty; it must be the name of an obstacle or a wall",
            f"'reach' of the square is -1 mm; {MM}",
            "'speed' of the square is 0 mm/s; accepted: more than 0 mm/s, up to 5000 mm/s",
            f"'capture' of the square is 90 degrees; {ACUTE}",
            "'may_touch' of the square must be the name of an obstacle or a wall, found 3",
        ],
    ),
    "square, no face": (
        lambda: Square(None, "far wall", 5.0),  # type: ignore[arg-type]
        ["'face' of the square must be one of: front | rear; found nothing"],
    ),
    "line square, reach 0": (
        lambda: LineSquare("kerb", EYES, 0.0),
        [f"'reach' of the line square is 0 mm; {MM_EITHER_WAY}"],
    ),
    "line square, half a pass": (
        lambda: LineSquare("kerb", EYES, 5.0, passes=1.5),
        [f"'passes' of the line square is 1.5; {WHOLE}"],
    ),
    "line square, a pass too many": (
        lambda: LineSquare("kerb", EYES, 5.0, passes=21),
        [f"'passes' of the line square is 21; {WHOLE}"],
    ),
    "line square, no end of passes": (
        lambda: LineSquare("kerb", EYES, 5.0, passes=float("inf")),
        [f"'passes' of the line square is infinite; {WHOLE}"],
    ),
    "line square, passes true": (
        lambda: LineSquare("kerb", EYES, 5.0, passes=True),
        ["'passes' of the line square must be a number, found True"],
    ),
    "line square, one sensor as a text": (
        lambda: LineSquare("kerb", "left eye", 5.0),  # type: ignore[arg-type]
        ["'sensors' of the line square must be a list, found the text 'left eye'"],
    ),
    "line square, the same sensor twice": (
        lambda: LineSquare("kerb", ("left eye", "left eye"), 5.0),
        ["'sensors' of the line square repeats the name 'left eye', which number 1 has already (names must differ)"],
    ),
    "until, reach 0": (lambda: Until("kerb", "left eye", 0.0), [f"'reach' of the until is 0 mm; {MM_EITHER_WAY}"]),
    "until, capture 0": (
        lambda: Until("kerb", "left eye", 5.0, capture=0.0),
        [f"'capture' of the until is 0 degrees; {ACUTE}"],
    ),
    "drive, heading from the stars": (
        lambda: Drive(112, 62, heading_from="stars"),  # type: ignore[arg-type]
        ["'heading_from' of the drive is 'stars'; accepted: wheels | gyro"],
    ),
}


def test_an_unknown_name_does_not_hide_what_else_is_wrong(tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEAD}  - square: front\n    against: barrel\n    reach: 9\n  - act: belll\n")
    said = [problem.message for problem in assert_refused(path)]
    assert len(said) == 2
    assert "which is round" in said[0]
    assert "names 'belll', which is not a target here" in said[1]


@pytest.mark.parametrize("name", REFUSED)
def test_a_segment_made_in_python_meets_the_same_bounds(name: str) -> None:
    make, lines = REFUSED[name]
    with pytest.raises(PlanError) as caught:
        make()
    assert list(caught.value.lines) == lines


@pytest.mark.parametrize("sensors", [(), ("left eye",), ("left eye", "right eye", "tail eye")])
def test_a_line_square_made_in_python_needs_two_sensors(sensors: tuple[str, ...]) -> None:
    with pytest.raises(PlanError, match=r"^'sensors' of the line square has \d items?; accepted: 2") as caught:
        LineSquare("kerb", sensors, 5.0)
    assert [complaint.path for complaint in caught.value.complaints] == [("sensors",)]


def test_numbers_become_floats_and_lists_tuples() -> None:
    made = LineSquare("kerb", list(EYES), -150, passes=3)  # type: ignore[arg-type]
    assert made == LineSquare("kerb", EYES, -150.0, 3.0)
    assert (type(made.sensors), type(made.reach), type(made.passes)) == (tuple, float, float)


def a_run() -> Run:
    field = Field("Yard", (1000, 800), obstacles=(Obstacle("barrel", Round((700, 300), 40)),),
                  lines=(Line("kerb", (900, 10), (900, 790)),))  # fmt: skip
    eyes = (Sensor("left eye", (95, 30)), Sensor("right eye", (95, -30)), Sensor("tail eye", (-50, 30)))
    robot = Robot("Box", Body(170, 140, 60), Drive(112, 62, heading_from="gyro"), sensors=eyes)
    return Run("R", field, robot, StartByEye((200, 200), 0), (Wait(1),))


def test_a_run_made_in_python_takes_the_words() -> None:
    segments = (Square("front", "far wall", 5), LineSquare("kerb", EYES, 5), Until("kerb", "tail eye", 5))
    assert replace(a_run(), segments=segments).segments == segments


@pytest.mark.parametrize(
    ("segment", "path", "said"),
    [
        (Square("front", "far wal", 5), ("against",), "did you mean 'far wall'?"),
        (Square("front", "barrel", 5), ("against",), "names 'barrel', which is round"),
        (LineSquare("kreb", EYES, 5), ("line",), "did you mean 'kerb'?"),
        (LineSquare("kerb", ("left eye", "rihgt eye"), 5), ("sensors", 1), "did you mean 'right eye'?"),
        (LineSquare("kerb", ("tail eye", "left eye"), 5), ("sensors",), "equally far to the left"),
        (Until("kreb", "left eye", 5), ("line",), "did you mean 'kerb'?"),
        (Until("kerb", "lft eye", 5), ("sensor",), "did you mean 'left eye'?"),
    ],
    ids=lambda value: type(value).__name__ if not isinstance(value, str | tuple) else None,
)
def test_a_run_made_in_python_refuses_what_is_not_there(
    segment: Segment, path: tuple[str | int, ...], said: str
) -> None:
    with pytest.raises(PlanError) as caught:
        replace(a_run(), segments=(Wait(1), segment))
    (complaint,), (line,) = caught.value.complaints, caught.value.lines
    assert complaint.path == ("segments", 1, *path)
    assert said in line


def test_walls_taken_away_in_python_take_the_square_with_them() -> None:
    run = replace(a_run(), segments=(Square("rear", "near wall", 5),))
    with pytest.raises(PlanError, match="names a wall, but the field is an open board") as caught:
        replace(run, field=replace(run.field, walls=None))
    assert [complaint.path for complaint in caught.value.complaints] == [("segments", 0, "against")]
