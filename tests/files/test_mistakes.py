"""Every kind of mistake in a field, a robot or a run is said in plain words at its place, all of them at once."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from small_files import (
    FIELD,
    FIELD_FILE,
    LOADERS,
    ROBOT,
    ROBOT_FILE,
    RUN,
    RUN_FILE,
    TEXTS,
    assert_one_problem,
    assert_refused,
    edited,
    unmark,
    write,
)

from fieldsim.files import check, kind_of, load_field, load_robot, load_run
from fieldsim.model.errors import FileError

# File, part of it, what stands there instead, with a ¦ before the place; words of the message; words of the hint.
F, B, R = FIELD_FILE, ROBOT_FILE, RUN_FILE
BARREL, KERB = "round: {center: [700, 300], radius: 40}", "from: [900, 10], to: [900, 790]"
SCOOP, BODY = "[[110, -40], [170, -40], [170, 40], [110, 40]]", "{length: 170, width: 140, axle: 60, height: [8, 110]}"
MISTAKES = {
    # keys and kinds
    "unknown key of the file": (
        F,
        "obstacles:",
        "¦obstacls: []\nobstacles:",
        "'obstacls' is no key",
        "did you mean 'obstacles'? keys",
    ),
    "unknown key of a part": (B, "gear: 1", "gear: 1, ¦geer: 1", "'geer' is no key of 'drive'", "did you mean 'gear'?"),
    "unknown key of an item": (F, "within: 8", "within: 8, ¦wthin: 8", "is no key of target 'lever'", "'within'?"),
    "unknown key of the walls": (F, "{height: 75}", "{¦hight: 75}", "'hight' is no key", "did you mean 'height'?"),
    "missing key of a part": (
        B,
        "length: 170, width: 140, ",
        "¦length: 170, ",
        "'body' of the robot needs the key 'width'",
        "add width",
    ),
    "missing key of an item": (
        F,
        "name: lever, at: [170, 90], within: 8",
        "¦name: lever, at: [170, 90]",
        "target 'lever' needs the key 'within'",
        "add within",
    ),
    "walls as a number": (F, "walls: {height: 75}", "walls: ¦75", "a height or none, found 75", "walls: {height: 75}"),
    "walls as a list": (F, "walls: {height: 75}", "walls: ¦[75]", "a height or none, found a list", "walls: none"),
    "list for keys": (B, f"body: {BODY}", "body: ¦[1]", "must be keys with values, found a list", "keys here: length"),
    "text for a list": (R, "[scoop]", "¦scoop", "must be a list, found the text 'scoop'", "- for each"),
    "nothing for a list": (R, " [scoop]", "¦", "must be a list, found nothing", "- for each"),
    "number for a pair": (F, "[1000, 800]", "¦1200", "must be two numbers: [x, y], found 1200", ""),
    "one for a pair": (F, "[900, 10]", "¦[900]", "two numbers: [x, y], found a list of 1", ""),
    "three for a pair": (F, "[900, 10]", "¦[1, 2, 3]", "two numbers: [x, y], found a list of 3", ""),
    "two for three": (B, "[25, 0, 45]", "¦[25, 45]", "three numbers: [x, y, z], found a list of 2", ""),
    "number for two heights": (B, "[8, 110]", "¦100", "two heights [low, high], found 100", ""),
    "three heights": (B, "[8, 110]", "¦[1, 2, 3]", "two heights [low, high], found a list of 3", ""),
    "low of two heights": (B, "[8, 110]", "[¦-8, 110]", "low in 'height' of 'body' of the robot is -8 mm", ""),
    "high of two heights": (
        B,
        "[8, 110]",
        "[8, ¦tall]",
        "high in 'height' of 'body' of the robot must be a length",
        "",
    ),
    "heights upside down": (B, "[8, 110]", "¦[110, 8]", "goes from 110 to 8 mm; the first must be the lower one", ""),
    "heights of an obstacle upside down": (F, "[2, 120]", "¦[120, 2]", "from 120 to 2 mm", ""),
    "choice": (F, "rear left", "¦rear lefft", "is 'rear lefft'; accepted: rear left | rear right", "'rear left'?"),
    "choice of two": (B, "gyro", "¦gyroo", "is 'gyroo'; accepted: wheels | gyro", "did you mean 'gyro'?"),
    "two shapes": (F, BARREL, f"{BARREL}, ¦box: {{}}", "has round and box", "give it one of: box, round, outline"),
    "no shape": (F, f"name: barrel, {BARREL}", "¦name: barrel", "'barrel' has no shape", "box, round, outline"),
    # bounds
    "less than 0": (B, "width: 140", "width: ¦-140", "-140 mm; accepted: more than 0 mm, up to 2000 mm", ""),
    "zero": (F, "radius: 40", "radius: ¦0", "'round' of obstacle 'barrel' is 0 mm; accepted: more than 0 mm", ""),
    "bare percentage": (B, "distance: 0.4 %", "distance: ¦0.4", "found '0.4', which has no unit", "write 0.4 %"),
    "straight of 0": (R, "straight: 420", "straight: ¦0", "is 0 mm; accepted: -20000 to 20000 mm, but not 0", ""),
    "turn of 0": (R, "turn: -91", "turn: ¦0", "is 0 degrees; accepted: -3600 to 3600 degrees, but not 0", ""),
    "two corners": (B, SCOOP, "¦[[1, 2], [3, 4]]", "has 2 items; accepted: 3 to 200", ""),
    # what does not go together
    "outline that crosses itself": (
        F,
        "[[100, 600], [200, 600], [200, 650]]",
        "[[0, 0], [10, 10], ¦[10, 0], [0, 10]]",
        "'outline' of obstacle 'oven' crosses itself: the edge after corner 3 meets the edge after corner 1",
        "in order",
    ),
    "attachment that crosses itself": (
        B,
        SCOOP,
        "[[110, -40], [170, 40], ¦[170, -40], [110, 40]]",
        "'outline' of attachment 'scoop' crosses itself",
        "in order",
    ),
    "outline that repeats its first corner": (
        F,
        "[200, 650]]",
        "[200, 650], ¦[100, 600]]",
        "repeats the first",
        "last",
    ),
    "outline that comes back to a corner": (
        B,
        SCOOP,
        "[[110, -40], [170, -40], [170, 40], ¦[170, -40]]",
        "'outline' of attachment 'scoop' comes to the corner [170, -40] a second time",
        "give each corner once",
    ),
    "outline that goes back over its edge": (
        F,
        "[[100, 600], [200, 600], [200, 650]]",
        "[[0, 0], [20, 0], ¦[10, 0], [0, 10]]",
        "goes back over its own edge",
        "in order",
    ),
    "outline whose edge touches a corner": (
        F,
        "[[100, 600], [200, 600], [200, 650]]",
        "[[0, 0], [20, 0], ¦[20, 20], [10, 0], [0, 20]]",
        "crosses itself",
        "in order",
    ),
    "outline in one line": (
        F,
        "[[100, 600], [200, 600], [200, 650]]",
        "[¦[1, 6], [2, 6], [3, 6]]",
        "'outline' of obstacle 'oven' goes back over its own edge",
        "in order",
    ),
    "outline without area": (
        F,
        "[[100, 600], [200, 600], [200, 650]]",
        "¦[[1, 6], [2, 6], [3, 6.0001]]",
        "has no area",
        "",
    ),
    "heading without tolerance": (F, "heading: 90, heading_within: 6", "heading: ¦90", "without 'heading_within'", "6"),
    "tolerance without heading": (
        F,
        "within: 8, heading: 90, heading_within: 6",
        "within: 8, heading_within: ¦6",
        "is given without 'heading'",
        "add the heading",
    ),
    "line without length": (F, KERB, "from: [9, 9], to: ¦[9, 9]", "is the same point", "two different ends"),
    "day less than 0": (B, "  sample", "  day: {turn: ¦-1 %}\n  sample", "is less than 0", "leave out the minus"),
    "axle beyond the body": (B, "axle: 60", "axle: ¦900", "the body is only 170 mm long", "from the rear face"),
    "track beyond the body": (B, "track: 112", "track: ¦500", "more than three times the body's width of 140 mm", ""),
    "obstacle outside": (F, BARREL, "round: ¦{center: [2000, 1], radius: 2}", "outside the field", "[1000, 800]"),
    "start area outside": (F, "box: {center: [200, 200]", "box: ¦{center: [200, -900]", "outside the field", ""),
    "jig outside": (F, "corner: [60, 0]", "corner: ¦[60, -30]", "outside the field", "from [0, 0] to [1000, 800]"),
    "target outside": (F, "at: [170, 90]", "at: ¦[170, 801]", "outside the field", "[1000, 800]"),
    "line outside": (F, KERB, "from: ¦[1100, 10], to: [1200, 790]", "outside the field, and so does its end", ""),
    "start outside": (R, "start: corner", "start: {at: ¦[5000, 1], heading: 0}", "outside the field", "[1000, 800]"),
    "the same name twice": (F, "  - name: oven", "  - ¦name: mill", "has the name 'mill' twice", "names must differ"),
    "name of a wall": (F, "name: oven", "name: ¦left wall", "is the name of a wall", "choose another name"),
    # names that nothing has
    "unknown jig": (R, "start: corner", "start: ¦cornr", "names 'cornr', which is not a jig here", "mean 'corner'?"),
    "unknown target": (R, "act: lever", "act: ¦levr", "'levr', which is not a target here", "did you mean 'lever'?"),
    "unknown attachment": (R, "[scoop]", "[¦skoop]", "which is not an attachment here", "did you mean 'scoop'?"),
    "unknown start area": (R, "finish: home", "finish: ¦hom", "which is not a start area here", "did you mean 'home'?"),
    "unknown obstacle": (R, "[oven]", "[¦ovn]", "'ovn', which is not an obstacle or wall here", "did you mean 'oven'?"),
    "unknown wall": (R, "[oven]", "[oven, ¦left wal]", "'left wal', which is not", "did you mean 'left wall'?"),
    "number for a name": (
        R,
        "[oven]",
        "[oven, ¦7]",
        "item 2 in 'may_touch' of segment 3 must be a text",
        "in quotes: '7'",
    ),
    # segments
    "segment of no kind": (R, "- wait: 0.5", "- ¦wiat: 0.5", "segment 8 says nothing to do", "did you mean 'wait'?"),
    "segment of two kinds": (R, "- wait: 0.5", "- wait: 0.5\n    ¦turn: 3", "is wait and turn at once", "- in front"),
    "word as a segment": (R, "- wait: 0.5", "- ¦wait", "segment 8 must be a key with a value", "write wait: and"),
    "text as a segment": (R, "- wait: 0.5", "- ¦drive on", "segment 8 must be a key with a value", "straight: 420"),
    "key of another segment": (R, "- wait: 0.5", "- wait: 0.5\n    ¦may_touch: [oven]", "'may_touch' is no key", ""),
    # the files a run names
    "misspelt file": (R, "field: yard.yaml", "field: ¦yart.yaml", "there is no file", "did you mean 'yard.yaml'?"),
    "no file": (R, "field: yard.yaml", "field: ¦lost/elsewhere.yaml", "there is no file", "seen from the folder"),
    "number for a file": (R, "robot: box.yaml", "robot: ¦12", "must be the name of a file, found 12", "robot.yaml"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_each_mistake_is_said_at_its_place(name: str, tmp_path: Path) -> None:
    file, old, new, message, hint = MISTAKES[name]
    text, place = unmark(edited(TEXTS[file], old, new))
    write(tmp_path)
    (tmp_path / file).write_text(text)
    problems = assert_refused(tmp_path / file, LOADERS[file])
    assert_one_problem(problems, place, message, hint)
    assert problems[0].source_line == text.splitlines()[problems[0].line - 1]


def test_nothing_is_guessed_for_a_key_like_no_other(tmp_path: Path) -> None:
    path = write(tmp_path, field=edited(FIELD, "obstacles:", "wind: 3\nobstacles:")).with_name(FIELD_FILE)
    (problem,) = assert_refused(path, load_field)
    assert (
        problem.hint
        == "keys here: field, size, walls, obstacles, start_areas, jigs, lines, targets, picture, mat, markers"
    )


def test_a_name_is_looked_for_where_there_are_none(tmp_path: Path) -> None:
    run = f"run: X\nfield: {FIELD_FILE}\nrobot: {ROBOT_FILE}\nstart: k\nsegments: [wait: 1]\n"
    path = write(tmp_path, run=run, field="field: Yard\nsize: [1000, 800]\n")
    assert_one_problem(assert_refused(path), (4, 8), "names 'k', which is not a jig here", "jigs here: none")


@pytest.mark.parametrize(("named", "kind"), [(RUN_FILE, "run"), (ROBOT_FILE, "robot")])
def test_a_run_that_names_a_file_of_another_kind_as_its_field(named: str, kind: str, tmp_path: Path) -> None:
    path = write(tmp_path, run=edited(RUN, f"field: {FIELD_FILE}", f"field: {named}"))
    (problem,) = assert_refused(path)
    assert problem.message == f"this file holds a {kind}, but a field is wanted here"
    assert (Path(problem.file).name, problem.line, problem.column) == (named, 1, 1)


def test_files_are_called_as_they_were_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "here").mkdir()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    write(elsewhere, robot="robot: Box\n", field="field: Yard\n")
    run = edited(RUN, f"field: {FIELD_FILE}", f"field: ../elsewhere/{FIELD_FILE}")
    run = edited(run, f"robot: {ROBOT_FILE}", f"robot: {elsewhere / ROBOT_FILE}")
    path = write(tmp_path / "here", run=run)
    monkeypatch.chdir(tmp_path)
    robot, field = str(elsewhere / ROBOT_FILE), os.path.join("elsewhere", FIELD_FILE)
    assert {problem.file for problem in assert_refused(os.path.join("here", RUN_FILE))} == {robot, field}
    assert {problem.file for problem in assert_refused(path)} == {robot, f"{path.parent}/../{field}"}


# A run with two mistakes, and a robot with two.
WHOLE_TEXT = """\
box.yaml:2:28: 'width' of 'body' of the robot is -140 mm; accepted: more than 0 mm, up to 2000 mm
  2 | body: {length: 170, width: -140, axle: 60, height: [8, 110]}    # all of it is invented, as is ever…
    |                            ^^^^
box.yaml:5:20: 'distance' of 'bias' of 'accuracy' of the robot must be a percentage, found '0.4', which has no unit
  5 |   bias: {distance: 0.4, veer: 0.3}
    |                    ^^^
  write 0.4 %
run.yaml:16:10: 'act' of segment 7 names 'levr', which is not a target here
  16 |   - act: levr
     |          ^^^^
  did you mean 'lever'? targets here: lever
run.yaml:18:5: segment 8 says nothing to do
  18 |   - wiat: 0.5
     |     ^^^^
  did you mean 'wait'? a segment begins with one of: straight, turn, arc, square, line square, until, act, wait"""


def test_the_whole_text_of_mistakes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write(
        Path(),
        robot=edited(edited(ROBOT, "width: 140", "width: -140"), "0.4 %", "0.4"),
        run=edited(edited(RUN, "act: lever", "act: levr"), "wait: 0.5", "wiat: 0.5"),
    )
    assert str(FileError(assert_refused(RUN_FILE))) == WHOLE_TEXT


def test_all_mistakes_of_all_three_files_are_said_at_once_in_order(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        run=edited(edited(RUN, "straight: 420", "straight: on"), "act: lever", "act: 7"),
        field=edited(edited(FIELD, "radius: 40", "radius: -40"), "rear left", "left rear"),
        robot=edited(ROBOT, "track: 112", "trakc: 112"),
    )
    assert [(Path(problem.file).name, problem.line, problem.column) for problem in assert_refused(path)] == [
        (ROBOT_FILE, 3, 9),  # the key that is missing: said at the first key there is
        (ROBOT_FILE, 3, 9),  # the key that is not known
        (RUN_FILE, 7, 15),
        (RUN_FILE, 16, 10),
        (FIELD_FILE, 10, 56),
        (FIELD_FILE, 14, 57),
    ]


def test_names_are_not_looked_for_in_a_file_that_is_wrong_itself(tmp_path: Path) -> None:
    path = write(tmp_path, field=edited(FIELD, "name: lever, ", ""), run=edited(RUN, "[scoop]", "[skoop]"))
    found = assert_refused(path)
    assert [(Path(problem.file).name, problem.line) for problem in found] == [(RUN_FILE, 4), (FIELD_FILE, 18)]


def test_check_describes_good_files_and_says_each_mistake_once(tmp_path: Path) -> None:
    run = write(tmp_path, field=edited(FIELD, "radius: 40", "radius: -40"))
    field, robot = tmp_path / FIELD_FILE, tmp_path / ROBOT_FILE
    assert [kind_of(file) for file in (run, field, robot)] == ["run", "field", "robot"]
    found = check([run, field, robot])
    assert found.lines == (f"{robot}: a robot, 1 attachment",)
    assert [Path(problem.file).name for problem in found.problems] == [FIELD_FILE]
    field.write_text(FIELD)
    found = check([run, os.fspath(field)])
    assert found.problems == ()
    assert found.lines == (
        f"{run}: a run, 8 segments, Box on Yard",
        f"{field}: a field, 3 obstacles, 1 jig, 1 line, 1 target",
    )


def test_a_path_may_be_a_text(tmp_path: Path) -> None:
    path = write(tmp_path)
    folder = os.fspath(tmp_path)
    assert load_run(os.fspath(path)) == load_run(path)
    assert load_field(f"{folder}/{FIELD_FILE}") == load_run(path).field
    assert load_robot(f"{folder}/{ROBOT_FILE}") == load_run(path).robot
