"""Every kind of mistake in a file is said in plain words at its place. All files here are invented."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from fieldsim.errors import FileError, Problem
from fieldsim.files import check, kind_of, load_field, load_robot, load_run

FIELD = "field: Yard\nsize: [1000, 800]\n"
ROBOT = "robot: Box\nbody: {length: 170, width: 140, axle: 60}\ndrive: {track: 112, wheel: 62}\n"


def problems(path: Path, content: str | bytes) -> tuple[Problem, ...]:
    """What is wrong with a field file of this content."""
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(FileError) as caught:
        load_field(path)
    return caught.value.problems


def test_the_whole_text_of_a_mistake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("yard.yaml").write_text(FIELD + "obstacls:\n  - name: mill\n")
    with pytest.raises(FileError) as caught:
        load_field("yard.yaml")
    assert str(caught.value) == (
        "yard.yaml:3:1: 'obstacls' is no key of the field\n"
        "  3 | obstacls:\n"
        "    | ^^^^^^^^\n"
        "  did you mean 'obstacles'? keys here: field, size, walls, obstacles, start_areas, jigs, lines, targets"
    )


# Content after the two lines of FIELD; line; column; what the message says; what the hint says.
MISTAKES = {
    "unknown key": ("obstacls: []\n", 3, 1, "'obstacls'", "did you mean 'obstacles'?"),
    "repeated key": ("size: [1, 2]\n", 3, 1, "it is on line 2 already", "delete one"),
    "tab": ("jigs:\n\t- name: x\n", 4, 1, "a tab", "blanks"),
    "walls as a number": ("walls: 75\n", 3, 8, "found 75", "walls: {height: 75}"),
    "walls without height's name": ("walls: {hight: 75}\n", 3, 9, "'hight'", "did you mean 'height'?"),
    "tag": ("x: !!python/object/apply:os.system ['ls']\n", 3, 4, "os.system' is not read here", "value alone"),
    "tag of a text": ("x: !!str 5\n", 3, 4, "'!!str' is not read here", "value alone"),
    "second document": ("---\nb: 1\n", 4, 1, "second document", "one file"),
    "merge key": ("<<: {a: 1}\n", 3, 1, "'<<'", "write the keys out"),
    "alias of itself": ("a: &a [*a]\n", 3, 4, "nested too deeply", ""),
    "unknown alias": ("x: *foo\n", 3, 4, "foo", "quotes"),
    "key that is a list": ("? [a]\n: 3\n", 3, 3, "a key must be a word", ""),
    "colon in a value": ("a: b: c\n", 3, 5, "':' too many", "quotes"),
    "list where keys are wanted": ("walls: [75]\n", 3, 8, "found a list", ""),
    "text where a list is wanted": ("jigs: none\n", 3, 7, "must be a list, found the text 'none'", "- for each"),
    "nothing where a list is wanted": ("jigs:\n", 3, 6, "must be a list, found nothing", ""),
    "yes as a choice": (
        "jigs: [{name: j, corner: [1, 2], heading: 90, holds: yes}]\n",
        3,
        54,
        "found yes",
        "YAML reads yes as true",
    ),
    "no as a number": (
        "jigs: [{name: j, corner: [1, no], heading: 9, holds: rear left}]\n",
        3,
        30,
        "reads no as false",
        "a number",
    ),
    "off as a name": (
        "lines: [{name: off, from: [1, 1], to: [2, 2]}]\n",
        3,
        16,
        "found off",
        "as false; put it in quotes",
    ),
    "number as a name": ("lines: [{name: 12, from: [1, 1], to: [2, 2]}]\n", 3, 16, "found 12", "'12'"),
    "date as a name": ("lines: [{name: 2026-01-01, from: [1, 1], to: [2, 2]}]\n", 3, 16, "2026", "as a date"),
    "clock": ("lines: [{name: l, from: [12:30, 1], to: [2, 2]}]\n", 3, 26, "YAML reads 12:30 as 750", ""),
    "octal": ("lines: [{name: l, from: [010, 1], to: [2, 2]}]\n", 3, 26, "YAML reads 010 as 8", "write 10"),
    "exponent": ("lines: [{name: l, from: [4e-1, 1], to: [2, 2]}]\n", 3, 26, "YAML reads 4e-1 as text", "write 0.4"),
    "date as a number": ("lines: [{name: l, from: [2026-01-01, 1], to: [2, 2]}]\n", 3, 26, "as a date", "a number"),
    "underscores": ("lines: [{name: l, from: [1_0, 1], to: [2, 2]}]\n", 3, 26, "found 1_0", "digits only"),
    "not a number": ("lines: [{name: l, from: [.nan, 1], to: [2, 2]}]\n", 3, 26, "is not a number", ""),
    "infinite": ("lines: [{name: l, from: [-.inf, 1], to: [2, 2]}]\n", 3, 26, "is infinite", ""),
    "far too large": (f"lines: [{{name: l, from: [{'9' * 5000}, 1], to: [2, 2]}}]\n", 3, 26, "far too large", ""),
    "comma": ("lines: [{name: l, from: ['1,5 m', 1], to: [2, 2]}]\n", 3, 26, "comma", "write 1.5 m"),
    "unknown unit": ("lines: [{name: l, from: [4 feet, 1], to: [2, 2]}]\n", 3, 26, "'feet'", "mm, cm, m, in"),
    "quoted number": ("lines: [{name: l, from: ['4', 1], to: [2, 2]}]\n", 3, 26, "in quotes", "'4 mm'"),
    "unit in capitals": ("lines: [{name: l, from: [4 CM, 1], to: [2, 2]}]\n", 3, 26, "'CM'", "write 4 cm"),
    "one number of two": (
        "lines: [{name: l, from: [4], to: [2, 2]}]\n",
        3,
        25,
        "two numbers: [x, y], found a list of 1",
        "",
    ),
    "choice": (
        "jigs: [{name: j, corner: [1, 2], heading: 90, holds: rear lefft}]\n",
        3,
        54,
        "'rear lefft'",
        "mean 'rear left'?",
    ),
    "no shape": ("obstacles: [{name: tub}]\n", 3, 14, "has no shape", "box, round, outline"),
    "two shapes": (
        "obstacles: [{name: t, round: {center: [1, 1], radius: 2}, outline: []}]\n",
        3,
        59,
        "round and outline",
        "one of",
    ),
    "zero": (
        "obstacles: [{name: t, round: {center: [1, 1], radius: 0}}]\n",
        3,
        55,
        "0 mm; accepted: more than 0 mm",
        "",
    ),
    "height upside down": (
        "obstacles: [{name: t, round: {center: [1, 1], radius: 2}, height: [50, 20]}]\n",
        3,
        67,
        "50 to 20 mm",
        "",
    ),
    "outline crosses itself": (
        "obstacles: [{name: t, outline: [[0, 0], [10, 10], [10, 0], [0, 10]]}]\n",
        3,
        51,
        "crosses itself",
        "in order",
    ),
    "outline without area": ("obstacles: [{name: t, outline: [[0, 0], [10, 0], [20, 0]]}]\n", 3, 0, "'outline' of", ""),
    "name of a wall": (
        "obstacles: [{name: left wall, round: {center: [1, 1], radius: 2}}]\n",
        3,
        20,
        "is the name of a wall",
        "another",
    ),
    "outside the field": (
        "obstacles: [{name: t, round: {center: [2000, 1], radius: 2}}]\n",
        3,
        30,
        "outside the field",
        "[1000, 800]",
    ),
    "heading without tolerance": (
        "targets: [{name: t, at: [5, 5], within: 8, heading: 3}]\n",
        3,
        53,
        "heading_within",
        "",
    ),
    "tolerance without heading": (
        "targets: [{name: t, at: [5, 5], within: 8, heading_within: 3}]\n",
        3,
        60,
        "'heading'",
        "",
    ),
    "line without length": (
        "lines: [{name: l, from: [1, 1], to: [1, 1]}]\n",
        3,
        37,
        "the same point",
        "two different ends",
    ),
    "missing key": ("targets: [{name: t, at: [5, 5]}]\n", 3, 12, "needs the key 'within'", "add within"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_each_mistake_is_said_at_its_place(name: str, tmp_path: Path) -> None:
    rest, line, column, message, hint = MISTAKES[name]
    found = problems(tmp_path / "yard.yaml", FIELD + rest)
    assert len(found) == 1, [str(problem) for problem in found]
    (problem,) = found
    assert message in problem.message
    assert hint in problem.hint
    assert problem.line == line
    assert not column or problem.column == column
    assert problem.source_line == (FIELD + rest).splitlines()[line - 1]


@pytest.mark.parametrize(
    ("content", "line", "column", "message"),
    [
        (b"", 1, 1, "is empty"),
        (b"# only a comment\n", 1, 1, "is empty"),
        (b"- a\n", 1, 1, "holds a list"),
        (b"hello\n", 1, 1, "holds a single value"),
        (b"field: Yard\n\xff\n", 2, 1, "UTF-8"),
        (b"field: Y\0ard\n", 1, 9, "character (number 0)"),
        (b"field: Y\x7fard\n", 1, 9, "character (number 127)"),
        (b"fild: Yard\nsize: [1000, 800]\n", 1, 1, "neither a field, a robot nor a run"),
        (b"field: Yard\n", 1, 1, "needs the key 'size'"),
        (b"field: Yard\n" + b"#" * 2_000_000, 1, 1, "larger than"),
    ],
)
def test_files_that_cannot_be_plans(content: bytes, line: int, column: int, message: str, tmp_path: Path) -> None:
    problem = problems(tmp_path / "yard.yaml", content)[0]
    assert message in problem.message
    assert (problem.line, problem.column) == (line, column)


def test_a_bomb_of_aliases_is_refused_without_unfolding_it(tmp_path: Path) -> None:
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 10)}]\n" for k in range(1, 12)
    )
    assert "aliases" in problems(tmp_path / "yard.yaml", FIELD + bomb)[-1].message


def test_a_byte_order_mark_is_read_over(tmp_path: Path) -> None:
    (tmp_path / "yard.yaml").write_bytes(b"\xef\xbb\xbf" + FIELD.encode())
    assert load_field(tmp_path / "yard.yaml").name == "Yard"


def test_places_that_hold_no_file(tmp_path: Path) -> None:
    (tmp_path / "yard.yaml").write_text(FIELD)
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")
    for path, message, hint in (
        (tmp_path, "folder", ""),
        (tmp_path / "yrad.yaml", "no such file", "did you mean 'yard.yaml'?"),
        (tmp_path / "loop.yaml", "cannot be read", ""),
        (tmp_path / "yard.yaml" / "inside.yaml", "", ""),
        (tmp_path / ("n" * 5000), "cannot be read", ""),
        (Path("a\0b"), "cannot be read", ""),
    ):
        with pytest.raises(FileError) as caught:
            load_field(path)
        assert message in caught.value.problems[0].message
        assert hint in caught.value.problems[0].hint


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the system's administrator may read every file")
def test_a_file_without_permission(tmp_path: Path) -> None:
    path = tmp_path / "yard.yaml"
    path.write_text(FIELD)
    path.chmod(0)
    with pytest.raises(FileError, match="cannot be read"):
        load_field(path)


def test_a_mistake_of_a_robot(tmp_path: Path) -> None:
    path = tmp_path / "robot.yaml"
    path.write_text(
        "robot: Box\n"
        "body: {length: 170, width: 140, axle: 190, height: 100}\n"
        "drive: {track: 500, wheel: 62, heading_from: gyroo}\n"
        "accuracy:\n"
        "  bias: {distance: 0.4}\n"
        "  day: {distance: -0.4 %}\n"
    )
    with pytest.raises(FileError) as caught:
        load_robot(path)
    said = [(problem.line, problem.column) for problem in caught.value.problems]
    assert said == sorted(said)
    text = str(caught.value)
    for part in (
        "only 170 mm long",
        "two heights [low, high], found 100",
        "write 0.4 %",
        "leave out the minus",
        "gyroo",
    ):
        assert part in text


def write_run(folder: Path, run: str, field: str = FIELD, robot: str = ROBOT) -> Path:
    (folder / "yard.yaml").write_text(field)
    (folder / "box.yaml").write_text(robot)
    (folder / "run.yaml").write_text("run: X\nfield: yard.yaml\nrobot: box.yaml\n" + run)
    return folder / "run.yaml"


def run_problems(path: Path) -> list[Problem]:
    with pytest.raises(FileError) as caught:
        load_run(path)
    return list(caught.value.problems)


def test_all_mistakes_of_a_run_its_field_and_its_robot_are_said_at_once(tmp_path: Path) -> None:
    path = write_run(
        tmp_path,
        "start: corner\nsegments:\n  - straight: 0\n  - turn: on\n",
        field=FIELD + "jigs: 3\n",
        robot=ROBOT + "weight: heavy\n",
    )
    found = run_problems(path)
    assert [(Path(problem.file).name, problem.line) for problem in found] == [
        ("box.yaml", 4), ("run.yaml", 6), ("run.yaml", 7), ("yard.yaml", 3),
    ]  # fmt: skip


RUN_MISTAKES = {
    "jig": ("start: k\nsegments: [wait: 1]\n", 4, "names 'k', which is not a jig", "jigs here: none"),
    "attachment": ("start: {at: [1, 1], heading: 0}\nwear: [hook]\nsegments: [wait: 1]\n", 5, "not an attachment", ""),
    "finish": ("start: {at: [1, 1], heading: 0}\nfinish: home\nsegments: [wait: 1]\n", 5, "not a start area", ""),
    "target": ("start: {at: [1, 1], heading: 0}\nsegments: [act: bell]\n", 5, "'bell', which is not a target", ""),
    "may_touch": (
        "start: {at: [1, 1], heading: 0}\nsegments: [{straight: 1, may_touch: [left wal]}]\n",
        5,
        "'left wal'",
        "did you mean 'left wall'?",
    ),
    "no segment": (
        "start: {at: [1, 1], heading: 0}\nsegments: [strait: 1]\n",
        5,
        "segment 1",
        "did you mean 'straight'?",
    ),
    "text as segment": ("start: {at: [1, 1], heading: 0}\nsegments: [wait]\n", 5, "segment 1", "write wait:"),
    "two at once": (
        "start: {at: [1, 1], heading: 0}\nsegments: [{turn: 5, arc: 3}]\n",
        5,
        "turn and arc at once",
        "- in front",
    ),
    "straight of 0": ("start: {at: [1, 1], heading: 0}\nsegments: [straight: 0]\n", 5, "but not 0", ""),
    "turn of 0": ("start: {at: [1, 1], heading: 0}\nsegments: [turn: 0]\n", 5, "but not 0", ""),
    "start outside": ("start: {at: [5000, 1], heading: 0}\nsegments: [wait: 1]\n", 4, "outside the field", ""),
}


@pytest.mark.parametrize("name", RUN_MISTAKES)
def test_each_mistake_of_a_run(name: str, tmp_path: Path) -> None:
    rest, line, message, hint = RUN_MISTAKES[name]
    (problem,) = run_problems(write_run(tmp_path, rest))
    assert problem.line == line
    assert message in problem.message
    assert hint in problem.hint


@pytest.mark.parametrize("segment", ["square: front", "line square: kerb", "until: kerb"])
def test_segments_that_are_planned_say_so(segment: str, tmp_path: Path) -> None:
    (problem,) = run_problems(write_run(tmp_path, f"start: {{at: [1, 1], heading: 0}}\nsegments:\n  - {segment}\n"))
    assert "cannot do yet" in problem.message
    assert (problem.line, problem.column) == (6, 5)


def test_steering_by_a_gyro_is_planned(tmp_path: Path) -> None:
    path = tmp_path / "robot.yaml"
    path.write_text(ROBOT.replace("wheel: 62", "wheel: 62, heading_from: gyro"))
    with pytest.raises(FileError, match="cannot do yet: steering by a gyro"):
        load_robot(path)


def test_a_run_whose_field_is_missing_points_at_the_name(tmp_path: Path) -> None:
    path = write_run(tmp_path, "start: k\nsegments: [wait: 1]\n")
    (tmp_path / "yard.yaml").rename(tmp_path / "yards.yaml")
    (problem,) = run_problems(path)
    assert (problem.line, problem.column) == (2, 8)
    assert "yards.yaml" in problem.hint


def test_a_run_that_names_itself_as_its_field_ends(tmp_path: Path) -> None:
    path = write_run(tmp_path, "start: k\nsegments: [wait: 1]\n")
    path.write_text(path.read_text().replace("yard.yaml", "run.yaml"))
    assert "holds a run, but a field is wanted" in str(FileError(run_problems(path)))


def test_check_describes_good_files_and_says_each_mistake_once(tmp_path: Path) -> None:
    path = write_run(tmp_path, "start: {at: [1, 1], heading: 0}\nsegments: [wait: 1]\n", field=FIELD + "jigs: 3\n")
    found = check([path, tmp_path / "yard.yaml", tmp_path / "box.yaml"])
    assert [kind_of(file) for file in (path, tmp_path / "yard.yaml", tmp_path / "box.yaml")] == [
        "run",
        "field",
        "robot",
    ]
    assert len(found.lines) == 1
    assert found.lines[0].startswith(f"{tmp_path / 'box.yaml'}: a robot")
    assert len({problem.message for problem in found.problems}) == 1


def test_control_characters_of_a_file_never_reach_the_terminal(tmp_path: Path) -> None:
    found = problems(tmp_path / "yard.yaml", 'field: "\\e[31mred\\u202e"\nsize: [1000, 800]\n')
    text = str(FileError(found))
    assert "\x1b" not in text
    assert "\u202e" not in text
