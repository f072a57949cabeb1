"""Whatever a file holds: reading it gives a plan, or says what is wrong with it; nothing else ever comes out."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from unicodedata import category

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from small_files import FIELD_FILE, LOADERS, ROBOT_FILE, RUN_FILE, TEXTS, write

from fieldsim.model import Field, Robot, Run
from fieldsim.model.errors import FileError

MADE = {FIELD_FILE: Field, ROBOT_FILE: Robot, RUN_FILE: Run}

NASTY = [
    "", "~", "on", "no", "yes", "12:30", "010", "-010", "0o7", "0x1F", "0x", "0b", "0b1", "4e-1", "1e999", "9" * 400,
    "9" * 5000, "0" + "7" * 5000, "1:" + "59:" * 300 + "1", ".nan", ".inf", "-.inf", "2026-01-01", "2026-13-45",
    "1_000", "1__", "''", '"\\0"', '"\\ud800"', '"\\u202e"', "!!int 'x'", "!!int x", "!!float x", "!!binary x",
    "!!set {a}", "!!timestamp 1", "!!python/name:os", "!x y", "! x", "!", "&a x", "&a", "*a", "&a [*a]", "&a {b: *a}",
    "[" * 30, "{" * 30, "[]", "{}", "{a: b}", "[1, 2]", "{? [a] : b}", "<<", "=", "- -", "---", "...", "%YAML 9.9",
    "|", ">", "|9", "'", '"', "\t", "@", "`", "#", "? ", ": ", "\u00e9", "\U0001f35e", "\u0663", "1\u00a0mm", "5 %",
    "5%", "% 5", "4 furlongs", "3 kg", "1,5 m", "-0", "1e", "+", "-", ".", "_", "0_", "\ufeff", "\u2028", "\x85",
    "\r", "\0", "'5 mm'", "'5'", "none", "corner", "../..", "/", "run.yaml", "spoilt.yaml", "n" * 300, "true", "null",
    "y", "front",
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("spoilt")
    write(made)
    return made


def read(path: Path, file: str) -> tuple[Any, FileError | None]:
    try:
        return LOADERS[file](path), None
    except FileError as wrong:
        return None, wrong


def assert_reads_or_says(path: Path, file: str, content: bytes) -> None:
    """A file of this content becomes a plan, or a FileError whose text a terminal can show."""
    path.write_bytes(content)
    made, wrong = read(path, file)
    if wrong is None:
        assert isinstance(made, MADE[file])
        return
    assert wrong.problems
    assert all(problem.line >= 1 and problem.column >= 1 and problem.message for problem in wrong.problems)
    # Nothing that moves a terminal's cursor, changes its colours or turns the direction of its text, or is no text.
    unsafe = [c for c in str(wrong) if category(c) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"} and c != "\n"]
    assert unsafe == []


@pytest.mark.parametrize("file", TEXTS)
def test_the_files_are_good_as_long_as_nothing_is_spoilt(file: str, folder: Path) -> None:
    (folder / "good.yaml").write_text(TEXTS[file])
    assert isinstance(LOADERS[file](folder / "good.yaml"), MADE[file])


# One place of each kind, marked with ¦, in files that hold little else.
YARD, BOX = "field: Yard\nsize: [1000, 800]\n", "robot: Box\nbody: {length: 170, width: 140, axle: 60}\n"
ROUND = "run: R\nfield: tiny yard.yaml\nrobot: tiny box.yaml\nstart: {at: [9, 9], heading: 0}\nsegments:\n"
PLACES = {
    "a key": (FIELD_FILE, f"{YARD}¦: 3\n"),
    "a name": (FIELD_FILE, "field: ¦\nsize: [1000, 800]\n"),
    "a number in brackets": (FIELD_FILE, "field: Yard\nsize: [¦, 800]\n"),
    "a pair": (FIELD_FILE, "field: Yard\nsize: ¦\n"),
    "walls": (FIELD_FILE, f"{YARD}walls: ¦\n"),
    "a height": (FIELD_FILE, f"{YARD}walls:\n  height: ¦\n"),
    "a list": (FIELD_FILE, f"{YARD}obstacles: ¦\n"),
    "an item": (FIELD_FILE, f"{YARD}obstacles:\n  - ¦\n"),
    "a shape": (FIELD_FILE, f"{YARD}obstacles:\n  - name: mill\n    round: ¦\n"),
    "an outline": (FIELD_FILE, f"{YARD}obstacles:\n  - name: mill\n    outline: ¦\n"),
    "a corner of an outline": (FIELD_FILE, f"{YARD}obstacles:\n  - {{name: mill, outline: [[0, 0], [9, 0], ¦]}}\n"),
    "a choice": (FIELD_FILE, f"{YARD}jigs: [{{name: j, corner: [1, 2], heading: 90, holds: ¦}}]\n"),
    "something that may be left out": (
        FIELD_FILE,
        f"{YARD}targets: [{{name: t, at: [1, 2], within: 3, heading: ¦}}]\n",
    ),
    "a part": (ROBOT_FILE, f"{BOX}drive: ¦\n"),
    "a percentage": (ROBOT_FILE, f"{BOX}drive: {{track: 99, wheel: 62}}\naccuracy: {{bias: {{distance: ¦}}}}\n"),
    "a number without a unit": (ROBOT_FILE, f"{BOX}drive: {{track: 99, wheel: 62, gear: ¦}}\n"),
    "heights": (ROBOT_FILE, "robot: Box\nbody: {length: 170, width: 140, axle: 60, height: [¦, 90]}\n"),
    "a file": (RUN_FILE, "run: R\nrobot: tiny box.yaml\nstart: j\nsegments: [wait: 1]\nfield: ¦\n"),
    "a start": (RUN_FILE, f"{ROUND}  - wait: 1\n".replace("{at: [9, 9], heading: 0}", "¦")),
    "a segment": (RUN_FILE, f"{ROUND}  - ¦\n"),
    "a number": (RUN_FILE, f"{ROUND}  - straight: ¦\n"),
    "a name that something must have": (RUN_FILE, f"{ROUND}  - act: ¦\n"),
    "a list of names": (RUN_FILE, f"{ROUND}  - {{straight: 9, may_touch: ¦}}\n"),
    "an item of a list of names": (RUN_FILE, f"{ROUND}  - {{line square: kerb, reach: 9, sensors: [eye, ¦]}}\n"),
    "a whole number": (RUN_FILE, f"{ROUND}  - {{line square: kerb, reach: 9, sensors: [eye, ear], passes: ¦}}\n"),
}


@pytest.mark.parametrize("step", [5, pytest.param(1, marks=pytest.mark.slow)])
@pytest.mark.parametrize(("number", "place"), list(enumerate(PLACES)), ids=list(PLACES))
def test_nasty_values_at_every_kind_of_place(number: int, place: str, step: int, folder: Path) -> None:
    (folder / "tiny yard.yaml").write_text(YARD)
    (folder / "tiny box.yaml").write_text(f"{BOX}drive: {{track: 99, wheel: 62}}\n")
    file, text = PLACES[place]
    for value in NASTY[number % step :: step]:
        assert_reads_or_says(folder / "spoilt.yaml", file, text.replace("¦", value).encode())


@settings(max_examples=examples(150))
@given(data=st.data())
def test_files_damaged_by_chance(folder: Path, data: st.DataObject) -> None:
    file = data.draw(st.sampled_from(sorted(TEXTS)))
    content = TEXTS[file].encode()
    for _ in range(data.draw(st.integers(1, 3))):
        lines = content.split(b"\n")
        at = data.draw(st.integers(0, len(lines) - 1))
        token = data.draw(st.sampled_from(NASTY)).encode()
        match data.draw(st.sampled_from(["byte", "delete", "double", "insert", "value", "cut"])):
            case "byte":
                place = data.draw(st.integers(0, len(content)))
                content = content[:place] + bytes([data.draw(st.integers(0, 255))]) + content[place + 1 :]
                continue
            case "cut":
                content = content[: data.draw(st.integers(0, len(content)))]
                continue
            case "delete":
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case "insert":
                lines.insert(at, token)
            case "value":
                lines[at] = lines[at].partition(b":")[0] + b": " + token
        content = b"\n".join(lines)
    assert_reads_or_says(folder / "spoilt.yaml", file, content)
