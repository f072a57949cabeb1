"""Files that are no plan, files that cannot be read, and what YAML makes of words and numbers."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from small_files import FIELD, FIELD_FILE, assert_one_problem, assert_refused, unmark, write

from fieldsim.files import load_field, load_run
from fieldsim.files.nodes import MOST_DEPTH, read
from fieldsim.model.errors import FileError

TINY = "field: Yard\nsize: [1000, 800]\n"

# Content, place, words of the message.
NO_PLAN = {
    "empty": (b"", (1, 1), "is empty"),
    "only a comment": (b"# nothing\n", (1, 1), "is empty"),
    "list": (b"- a\n", (1, 1), "holds a list"),
    "one value": (b"hello\n", (1, 1), "holds a single value"),
    "neither": (b"planet: x\n", (1, 1), "is neither a field, a robot, a run nor a match"),
    "no key at all": (b"{}\n", (1, 1), "is neither a field, a robot, a run nor a match"),
    "no size": (b"field: Yard\n", (1, 1), "needs the key 'size'"),
    "not UTF-8 in a first column": (b"field: Yard\n\xff\n", (2, 1), "is no text in UTF-8"),
    "not UTF-8 in a later column": (b"field: Yard\nsize: \xff\n", (2, 7), "is no text in UTF-8"),
    "UTF-16": ("field: Yard\n".encode("utf-16"), (1, 1), "is no text in UTF-8"),
    "NUL": (b"field: Yard\nsi\0ze: y\n", (2, 3), "character (number 0)"),
    "DEL": (b"field: Yard\nsi\x7fze: y\n", (2, 3), "character (number 127)"),
    "huge": (b"field: Yard\n" + b"#" * 200_000, (1, 1), "is larger than 200 kB"),
    # Deeper than Python's recursion limit, so that PyYAML itself gives up.
    "deep": (b"[" * 1000, (1, 1), "nested too deeply"),
}


@pytest.mark.parametrize("name", NO_PLAN)
def test_a_file_that_is_no_plan(name: str, tmp_path: Path) -> None:
    content, place, message = NO_PLAN[name]
    path = tmp_path / FIELD_FILE
    path.write_bytes(content)
    assert_one_problem(assert_refused(path, load_field), place, message, "")


def test_a_misspelt_first_key_is_guessed(tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_text("fild: Yard\nsize: [1000, 800]\n")
    hint = "did you mean 'field'? a file begins with field:, robot:, run: or match:"
    assert_one_problem(assert_refused(path, load_field), (1, 1), "is neither a field, a robot, a run nor a match", hint)


def test_a_file_just_small_enough_is_read(tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_bytes(TINY.encode() + b"#" * (200_000 - len(TINY)))
    assert load_field(path).name == "Yard"


def test_a_bomb_of_aliases_is_refused_without_unfolding_it(tmp_path: Path) -> None:
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 10)}]\n" for k in range(1, 12)
    )
    path = tmp_path / FIELD_FILE
    path.write_text(TINY + bomb)
    message = "holds more than 50000 values once all aliases are filled in"
    assert_one_problem(assert_refused(path, load_field), (1, 1), message, "")


def test_a_byte_order_mark_is_read_over(tmp_path: Path) -> None:
    path = write(tmp_path)
    for file in tmp_path.iterdir():
        file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes())
    assert load_run(path).name == "Round"


def test_places_that_hold_no_file(tmp_path: Path) -> None:
    (tmp_path / FIELD_FILE).write_text(FIELD)
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")
    for path, message, hint in (
        (tmp_path, "is a folder", ""),
        (tmp_path / "yrad.yaml", "there is no such file", "did you mean 'yard.yaml'?"),
        (tmp_path / "nowhere" / FIELD_FILE, "there is no such file", ""),
        (tmp_path / "loop.yaml", "cannot be read", ""),
        (tmp_path / FIELD_FILE / "inside.yaml", "cannot be read", ""),
        (tmp_path / ("n" * 5000), "cannot be read", ""),
        (Path("a\0b"), "cannot be read", ""),
    ):
        (problem,) = assert_refused(path, load_field)
        assert message in problem.message
        assert hint in problem.hint
        assert (problem.line, problem.column, problem.source_line) == (1, 1, "")


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the system's administrator may read every file")
def test_a_file_without_permission(tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_text(FIELD)
    path.chmod(0)
    (problem,) = assert_refused(path, load_field)
    assert "cannot be read" in problem.message


# Lines after the two of TINY, with a ¦ before the place; words of the message; words of the hint.
TRAPS = {
    # YAML's larger tools
    "repeated key": ("¦size: [1, 2]", "the key 'size' stands here again; it is on line 2 already", "delete one"),
    "repeated key of an item": ("jigs: [{name: a, ¦name: b}]", "'name' stands here again; it is on line 3 already", ""),
    "tab before an item": ("jigs:\n¦\t- name: x", "a tab", "indent with blanks only"),
    "tab before a key": ("walls:\n  height: 75\n¦\tdepth: 3", "a tab", "indent with blanks only"),
    "tag of a language": ("x: ¦!!python/object/apply:os.system ['ls']", "os.system' is not read here", "value alone"),
    "tag of a text": ("x: ¦!!str 5", "'!!str' is not read here", "value alone"),
    "tag of one's own": ("x: ¦!far 310", "'!far' is not read here", "without a ! word"),
    "tag of a key": ("¦!far x: 310", "a key must be a word, without a ! word", ""),
    "merge key": ("¦<<: {a: 1}", "'<<' is not read here", "write the keys out"),
    "merge key in brackets": ("walls: {¦<<: {}, height: 75}", "'<<' is not read here", "write the keys out"),
    "alias of itself": ("a: ¦&a [*a]", "nested too deeply", ""),
    "unknown alias": ("x: ¦*foo", "foo", "a text that begins with * needs quotes"),
    "second document": ("---\n¦b: 1", "a second document begins here", "one file"),
    "key that is a list": ("? ¦[a]\n: 3", "a key must be a word", ""),
    "colon in a value": ("a: b¦: c", "':' too many", "quotes"),
    # words
    "yes as a choice": (
        "jigs: [{name: j, corner: [1, 2], heading: 90, holds: ¦yes}]",
        "must be a text, found yes",
        "YAML reads yes as true; put it in quotes: 'yes'",
    ),
    "off as a name": ("lines: [{name: ¦off, from: [1, 1], to: [2, 2]}]", "found off", "as false; put it in quotes"),
    "number as a name": ("lines: [{name: ¦12, from: [1, 1], to: [2, 2]}]", "found 12", "as a number; put it in quotes"),
    "date as a name": ("lines: [{name: ¦2026-01-01, from: [1, 1], to: [2, 2]}]", "found 2026-01-01", "as a date"),
    "nothing as a name": ("lines: [{name: ¦~, from: [1, 1], to: [2, 2]}]", "must be a text, found nothing", ""),
    "empty name": ("lines: [{name: ¦'', from: [1, 1], to: [2, 2]}]", "is empty; it must be a name", ""),
    "blank at the end of a name": ("lines: [{name: ¦'a ', from: [1, 1], to: [2, 2]}]", "with a blank", "write 'a'"),
    "lone surrogate": ('lines: [{name: ¦"a\\ud800", from: [1, 1], to: [2, 2]}]', "cannot be printed", ""),
    # numbers
    "true": ("walls: {height: ¦on}", "must be a number, but YAML reads on as true", "write a number"),
    "false": ("lines: [{name: l, from: [1, ¦no], to: [2, 2]}]", "YAML reads no as false", "write a number"),
    "y": ("walls: {height: ¦y}", "found 'y', which is no number with a unit", "such as 420 or '42 cm'"),
    "nothing": ("walls: {height: ¦~}", "must be a length, found nothing", "such as 420"),
    "keys": ("walls: {height: ¦{a: 1}}", "must be a length, found keys with values", ""),
    "clock": ("walls: {height: ¦12:30}", "YAML reads 12:30 as 750", "write one number"),
    "octal": ("walls: {height: ¦010}", "begins with 0, and YAML reads 010 as 8", "write 10"),
    "exponent": ("walls: {height: ¦4e-1}", "YAML reads 4e-1 as text", "write 0.4"),
    "date": ("walls: {height: ¦2026-01-01}", "YAML reads 2026-01-01 as a date", "write a number"),
    "underscores": ("walls: {height: ¦1_0}", "must be a plain number, found 1_0", "write digits only"),
    "huge hexadecimal": (f"walls: {{height: ¦0x{'f' * 300}}}", "must be a plain number", "write digits only"),
    "not a number": ("walls: {height: ¦.nan}", "is not a number", ""),
    "infinite": ("walls: {height: ¦.inf}", "is infinite", ""),
    "minus infinite": ("walls: {height: ¦-.inf}", "is infinite", ""),
    "far too large": (f"walls: {{height: ¦{'9' * 5000}}}", "is far too large", "accepted: more than 0 mm"),
    "far too long, with a unit": (f"walls: {{height: ¦{'9' * 500} mm}}", "far too long", ""),
    "unit that nobody knows": ("walls: {height: ¦4 feet}", "the unit 'feet'", "accepted units: mm, cm, m, in"),
    "unit of another kind": ("walls: {height: ¦3 kg}", "the unit 'kg'", "accepted units: mm, cm, m, in"),
    "unit in capitals": ("walls: {height: ¦4 CM}", "the unit 'CM'", "write 4 cm"),
    "comma": ("walls:\n  height: ¦1,5 m", "has a comma in its number", "write 1.5 m, with a point"),
    "quoted number": ("walls: {height: ¦'4'}", "which is in quotes", "write 4 without quotes, or add a unit: '4 mm'"),
}


@pytest.mark.parametrize("name", TRAPS)
def test_each_trap_of_yaml_is_said_at_its_place(name: str, tmp_path: Path) -> None:
    rest, message, hint = TRAPS[name]
    text, place = unmark(f"{TINY}{rest}\n")
    path = tmp_path / FIELD_FILE
    path.write_text(text)
    (problem,) = problems = assert_refused(path, load_field)
    assert_one_problem(problems, place, message, hint)
    assert problem.source_line == text.splitlines()[place[0] - 1]


@pytest.mark.parametrize(
    ("rest", "message"),
    [
        ("jigs: [1, 2\n", "brackets"),
        ("jigs: 'x\n", "cannot be read as YAML"),
        ("jigs: {a: [}\n", "a value is missing"),
        ("jigs\nlines: []\n", "a key without ':'"),
    ],
)
def test_what_is_left_open_is_said_where_yaml_notices(rest: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_text(TINY + rest)
    (problem,) = assert_refused(path, load_field)
    assert message in str(problem)
    assert problem.line >= 3


def test_control_characters_of_a_file_never_reach_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / FIELD_FILE
    path.write_text('field: "\\e[31mred\\u202e"\nsize: [1000, 800]\n')
    text = str(FileError(assert_refused(path, load_field)))
    assert "red" in text
    assert "\x1b" not in text
    assert "\u202e" not in text


@pytest.mark.parametrize("opened", ["[", "- ", "{a: "])
def test_how_deep_a_file_may_be_nested(tmp_path: Path, opened: str) -> None:
    def nested(depth: int) -> str:
        closed = {"[": "]", "- ": "", "{a: ": "}"}[opened]
        return f"a:\n  {opened * (depth - 1)}b{closed * (depth - 1)}\n"

    path = tmp_path / "deep.yaml"
    path.write_text(nested(MOST_DEPTH))
    assert read(path).root.value
    path.write_text(nested(MOST_DEPTH + 1))
    with pytest.raises(FileError) as refused:
        read(path)
    (problem,) = refused.value.problems
    assert problem.message == "this is nested too deeply to be a plan"
    # At the first value that is one too deep.
    assert (problem.line, problem.column) == (2, 3 + len(opened) * MOST_DEPTH)
