"""Nasty files: each is refused with its place and a readable message, never with another exception.

All plans here are changed copies of the invented starter season.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from fieldsim.errors import FileError, shown
from fieldsim.files import check, load_field, load_run, new_season

# File, text to replace, replacement with ¦ where the message must point, fragment of the message and its hint.
RUN, FIELD, ROBOT = "first-run.yaml", "yard.yaml", "robot.yaml"
STRAIGHT = "straight: 310 "
EDITS = [
    # what YAML makes of plain words and numbers
    ("on", RUN, STRAIGHT, "straight: ¦on ", "YAML reads on as true"),
    ("no as a name", FIELD, "name: shed", "name: ¦no", "put it in quotes"),
    ("y is a text", RUN, STRAIGHT, "straight: ¦y ", "found 'y'"),
    ("12:30", RUN, "takes: 1.5", "takes: ¦12:30", "YAML reads 12:30 as 750"),
    ("010", RUN, STRAIGHT, "straight: ¦010 ", "YAML reads 010 as 8"),
    ("4e-1", RUN, "takes: 1.5", "takes: ¦4e-1", "4e-1"),
    ("date as number", RUN, STRAIGHT, "straight: ¦2024-01-02 ", "as a date"),
    ("date as name", RUN, "run: First run", "run: ¦2024-01-02", "put it in quotes"),
    ("number as name", FIELD, "name: shed", "name: ¦12", "put it in quotes"),
    ("nan", RUN, STRAIGHT, "straight: ¦.nan ", "not a number"),
    ("inf", RUN, STRAIGHT, "straight: ¦.inf ", "infinite"),
    ("many digits", RUN, STRAIGHT, f"straight: ¦{'9' * 5000} ", "far too large"),
    ("many digits with a unit", RUN, STRAIGHT, f"straight: ¦{'9' * 5000} mm ", "far too long"),
    ("huge hexadecimal", RUN, STRAIGHT, f"straight: ¦0x{'f' * 300} ", "number"),
    ("null", RUN, STRAIGHT, "straight: ¦~ ", "found nothing"),
    # YAML's larger tools
    ("repeated key", RUN, "start:", "run: again\nstart:", "stands here again"),
    ("tab", RUN, "    takes: 1.5", "\ttakes: 1.5", "indent with blanks only"),
    ("python tag", RUN, STRAIGHT, "straight: ¦!!python/object/apply:os.getcwd [] ", "without a ! word"),
    ("own tag", RUN, STRAIGHT, "straight: ¦!far 310 ", "'!far' is not read here"),
    ("merge key", RUN, "  - wait: 0.5", "  - {¦<<: {}, wait: 0.5}", "write the keys out"),
    ("recursive alias", RUN, "wear: [bumper]", "wear: &a [*a]", "nested too deeply"),
    ("unknown alias", RUN, "wear: [bumper]", "wear: [¦*bumper]", "needs quotes"),
    ("second document", RUN, "wear: [bumper]", "---\n¦wear: [bumper]", "a second document begins here"),
    ("list as key", RUN, "wear:", "? ¦[wear]\n:", "a key must be a word"),
    ("open bracket", RUN, "wear: [bumper]", "wear: [bumper", "brackets"),
    # numbers and units
    ("bare percentage", ROBOT, "distance: 0.2 %", "distance: ¦0.2", "write 0.2 %"),
    ("unit of another kind", RUN, STRAIGHT, "straight: ¦3 kg ", "accepted units: mm, cm, m, in"),
    ("unit in capitals", RUN, STRAIGHT, "straight: ¦3 CM ", "write 3 cm"),
    ("comma", RUN, STRAIGHT, "straight: ¦31,5 cm ", "write 31.5 cm, with a point"),
    ("quoted number", RUN, STRAIGHT, "straight: ¦'310' ", "without quotes"),
    ("lone surrogate", RUN, "run: First run", 'run: ¦"a\\ud800"', "cannot be printed"),
    ("out of bounds", ROBOT, "width: 130", "width: ¦-130", "more than 0 mm, up to 2000 mm"),
    ("straight of nothing", RUN, STRAIGHT, "straight: ¦0 ", "but not 0"),
    # keys and kinds
    ("unknown key", ROBOT, "body: {length: 160, width:", "body: {length: 160, ¦widht:", "did you mean 'width'?"),
    ("missing key", ROBOT, "body: {length: 160, width: 130,", "body: {¦length: 160,", "needs the key 'width'"),
    ("text for a list", RUN, "wear: [bumper]", "wear: ¦bumper", "must be a list"),
    ("list for a record", ROBOT, "body: {length: 160, width: 130, axle: 60, height: [8, 100]}", "body: ¦[1]", "a list"),
    ("number for a pair", FIELD, "size: [1200, 800]", "size: ¦1200", "two numbers: [x, y]"),
    ("three for a pair", FIELD, "size: [1200, 800]", "size: ¦[1, 2, 3]", "found a list of 3"),
    ("keys for a number", RUN, STRAIGHT, "straight: ¦{a: 1} ", "found keys with values"),
    ("band upside down", ROBOT, "height: [8, 100]", "height: ¦[100, 8]", "the first must be the lower one"),
    ("two shapes", FIELD, "round: {center: [660, 250], radius: 45}", "round: {}\n    ¦box: {}", "has round and box"),
    ("no shape", FIELD, "    round: {center: [660, 250], radius: 45}", "    height: 3", "has no shape"),
    ("segment of two kinds", RUN, "  - wait: 0.5", "  - wait: 0.5\n    turn: 3", "at once"),
    ("segment of none", RUN, "  - wait: 0.5", "  - ¦wiat: 0.5", "did you mean 'wait'?"),
    # values that do not go together
    (
        "outline crosses itself",
        ROBOT,
        "[[100, -50], [120, -50], [120, 50], [100, 50]]",
        "[[100, -50], [120, 50], [120, -50], [100, 50]]",
        "'outline' of attachment 'bumper'",
    ),
    ("axle beyond body", ROBOT, "axle: 60,", "axle: ¦900,", "only 160 mm long"),
    ("jig outside", FIELD, "corner: [200, 30]", "corner: ¦[200, -30]", "lies outside the field"),
    ("unknown jig", RUN, "start: corner block", "start: ¦corner blok", "did you mean 'corner block'?"),
    ("unknown target", RUN, "act: bell", "act: ¦bel", "did you mean 'bell'?"),
    ("unknown obstacle", RUN, "  - wait", "    may_touch: [shed]\n  - wait", "'may_touch' is no key"),
    (
        "unknown obstacle to touch",
        RUN,
        "straight: -150",
        "straight: -150\n    may_touch: [¦shet]",
        "did you mean 'shed'?",
    ),
    ("unknown attachment", RUN, "[bumper]", "[¦bumpr]", "did you mean 'bumper'?"),
    ("unknown finish", RUN, "wear:", "finish: ¦hom\nwear:", "did you mean 'home'?"),
    ("duplicate name", FIELD, "  - name: barrel", "  - ¦name: shed", "has the name 'shed' twice"),
    ("name of a wall", FIELD, "name: shed", "name: left wall", "is the name of a wall"),
    # what the format has words for, but fieldsim cannot do
    ("square", RUN, "  - wait: 0.5", "  - ¦square: front", "cannot do yet"),
    ("line square", RUN, "  - wait: 0.5", "  - ¦line square: kerb", "cannot do yet"),
    ("until", RUN, STRAIGHT, "straight: 310\n    ¦until: kerb ", "cannot do yet"),
    ("gyro", ROBOT, "speed: 200 ", "heading_from: ¦gyro\n  speed: 200 ", "steering by a gyro; it is planned"),
    # the files a run names
    ("missing field", RUN, "field: yard.yaml", "field: ¦yart.yaml", "did you mean 'yard.yaml'?"),
    ("robot for a field", RUN, "field: yard.yaml", "field: robot.yaml", "this file holds a robot"),
]


@pytest.fixture
def season(tmp_path: Path) -> Path:
    new_season(tmp_path)
    return tmp_path


def refused(path: Path) -> FileError:
    with pytest.raises(FileError) as caught:
        load_run(path)
    for problem in caught.value.problems:
        assert problem.line >= 1
        assert problem.column >= 1
        assert str(problem).startswith(f"{shown(problem.file, 4096)}:{problem.line}:{problem.column}: ")
    return caught.value


def change(path: Path, old: str, new: str) -> tuple[int, int] | None:
    """Replace a text; line and column of the mark in the new one."""
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {path.name}"
    before, mark, after = text.replace(old, new).partition("¦")
    path.write_text(before + after, encoding="utf-8")
    return (before.count("\n") + 1, len(before) - before.rfind("\n")) if mark else None


@pytest.mark.parametrize(("file", "old", "new", "fragment"), [e[1:] for e in EDITS], ids=[e[0] for e in EDITS])
def test_a_mistake_is_named_at_its_place(season: Path, file: str, old: str, new: str, fragment: str) -> None:
    place = change(season / file, old, new)
    error = refused(season / RUN)
    hits = [problem for problem in error.problems if fragment in str(problem)]
    assert hits, str(error)
    if place is not None:
        assert place in [(problem.line, problem.column) for problem in hits], str(error)


BYTES = [
    ("empty", b"", "is empty", (1, 1)),
    ("only a comment", b"# nothing\n", "is empty", (1, 1)),
    ("not UTF-8", b"run: x\nfield: \xff\n", "is no text in UTF-8", (2, 8)),
    ("UTF-16", "run: x\n".encode("utf-16"), "is no text in UTF-8", (1, 1)),
    ("NUL", b"run: x\nfie\x00ld: y\n", "number 0", (2, 4)),
    ("huge", b"# " + b"x" * 300_000, "is larger than", (1, 1)),
    ("list", b"- run: x\n", "holds a list", (1, 1)),
    ("one value", b"run\n", "holds a single value", (1, 1)),
    ("neither", b"planet: x\n", "is neither a field, a robot nor a run", (1, 1)),
    ("deep", b"[" * 5000, "nested too deeply", (1, 1)),
    ("open quote", b"run: 'x\n", "cannot be read as YAML", None),
    (
        "alias bomb",
        b"run: &a [x, x, x, x, x, x, x, x, x]\n"
        + b"".join(b"%c: &%c [%s]\n" % (i, i, b", ".join([b"*%c" % (i - 1)] * 9)) for i in range(ord("b"), ord("k"))),
        "holds more than 50000 values",
        None,
    ),
]


@pytest.mark.parametrize(("data", "fragment", "place"), [b[1:] for b in BYTES], ids=[b[0] for b in BYTES])
def test_a_file_that_is_no_plan(tmp_path: Path, data: bytes, fragment: str, place: tuple[int, int] | None) -> None:
    path = tmp_path / "plan.yaml"
    path.write_bytes(data)
    problem = refused(path).problems[0]
    assert fragment in str(problem)
    if place is not None:
        assert (problem.line, problem.column) == place


def test_what_is_no_readable_file(tmp_path: Path) -> None:
    loop = tmp_path / "loop.yaml"
    loop.symlink_to(loop)
    for path, fragment in [
        (tmp_path, "is a folder"),
        (tmp_path / "none.yaml", "there is no such file"),
        (loop, "cannot be read"),
        (tmp_path / ("x" * 3000), "cannot be read"),
        (tmp_path / "nul\0", "cannot be read"),
    ]:
        assert fragment in refused(path).problems[0].message


def test_a_byte_order_mark_is_welcome(season: Path) -> None:
    path = season / RUN
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert load_run(path).name == "First run"


GOLDEN_TEXT = """\
first-run.yaml:11:10: 'act' of segment 4 names 'bel', which is not a target here
  11 |   - act: bel
     |          ^^^
  did you mean 'bell'? targets here: bell
first-run.yaml:13:5: segment 5 says nothing to do
  13 |   - wiat: 0.5
     |     ^^^^
  did you mean 'wait'? a segment begins with one of: straight, turn, arc, act, wait
robot.yaml:4:28: 'width' of 'body' of the robot is -130 mm; accepted: more than 0 mm, up to 2000 mm
  4 | body: {length: 160, width: -130, axle: 60, height: [8, 100]}    # axle: from the rear face to the a…
    |                            ^^^^
robot.yaml:12:19: 'distance' of 'day' of 'accuracy' of the robot must be a percentage, found '0.2', which has no unit
  12 |   day: {distance: 0.2, veer: 0.2, turn: 0.5 %}       # how much that changes from day to day
     |                   ^^^
  write 0.2 %"""


def test_whole_messages(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(season)
    change(Path(ROBOT), "width: 130", "width: -130")
    change(Path(ROBOT), "distance: 0.2 %", "distance: 0.2")
    change(Path(RUN), "act: bell", "act: bel")
    change(Path(RUN), "wait: 0.5", "wiat: 0.5")
    assert str(refused(Path(RUN))) == GOLDEN_TEXT


def test_all_problems_of_all_three_files_at_once(season: Path) -> None:
    change(season / RUN, STRAIGHT, "straight: on ")
    change(season / RUN, "act: bell", "act: 7")
    change(season / FIELD, "radius: 45", "radius: -45")
    change(season / FIELD, "holds: rear left", "holds: left rear")
    change(season / ROBOT, "track: 105 ", "trakc: 105 ")
    error = refused(season / RUN)
    files = [Path(problem.file).name for problem in error.problems]
    assert files.count(RUN) == 2
    assert files.count(FIELD) == 2
    assert files.count(ROBOT) == 2  # the key that is not known, and the one that is missing
    places = [(problem.file, problem.line, problem.column) for problem in error.problems]
    assert places == sorted(places)


def test_check_says_a_problem_of_a_shared_file_once(season: Path) -> None:
    change(season / FIELD, "radius: 45", "radius: -45")
    found = check([season / FIELD, season / RUN, season / ROBOT])
    assert len(found.problems) == 1
    assert len(found.lines) == 1
    with pytest.raises(FileError):
        load_field(os.fspath(season / FIELD))
