"""Nasty values at every place of a file: reading gives a plan or says what is wrong with it; nothing else comes out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from unicodedata import category

import pytest

from fieldsim.errors import FileError
from fieldsim.files import load_field, load_robot, load_run

FIELD = """field: Yard
size: [1000, 800]
walls: {height: 75}
obstacles:
  - name: mill
    box: {center: [620, 640], size: [200, 140], heading: 15}
    height: [2, 120]
  - name: oven
    outline: [[100, 100], [200, 100], [200, 150]]
jigs:
  - {name: corner, corner: [60, 0], heading: 90, holds: rear left, spread: {along: 0.5}}
lines: [{name: kerb, from: [900, 0], to: [900, 800], width: 2 cm}]
targets:
  - {name: lever, at: [170, 90], within: 8, heading: 90, heading_within: 6}
"""
ROBOT = """robot: Box
body: {length: 170, width: 140, axle: 60, height: [8, 110]}
drive: {track: 112, wheel: 62, gear: 1, heading_from: wheels}
accuracy: {bias: {distance: 0.4 %, veer: 0.3}, sample: 10 ms}
attachments:
  - {name: scoop, outline: [[110, -40], [170, -40], [170, 40]], tool: [165, 0]}
weight: {mass: 0.9, at: [25, 0, 45]}
"""
RUN = """run: Round
field: yard.yaml
robot: box.yaml
wear: [scoop]
start: corner
segments:
  - straight: 420
    speed: 300
  - {turn: -90, about: left wheel}
  - {arc: 60, radius: 300, may_touch: [oven]}
  - act: lever
    takes: 2.0
  - wait: 0.5
"""
KINDS: dict[str, tuple[str, Callable[[Path], Any]]] = {
    "field": (FIELD, load_field), "robot": (ROBOT, load_robot), "run": (RUN, load_run),
}  # fmt: skip

NASTY = [
    "", "~", "on", "no", "yes", "12:30", "010", "-010", "0o7", "0x1F", "0b1", "4e-1", "1e999", "9" * 400, "9" * 5000,
    "0" + "7" * 5000, "1:" + "59:" * 300 + "1", ".nan", ".inf", "-.inf", "2026-01-01", "2026-13-45", "1_000", "''",
    '"\\0"', '"\\ud800"', '"\\u202e"', "!!int 'x'", "!!float x", "!!binary x", "!!set {a}", "!!python/name:os", "!x y",
    "! x", "&a x", "*a", "&a [*a]", "&a {b: *a}", "[" * 30, "{" * 30, "[]", "{}", "{a: b}", "[1, 2]", "{? [a] : b}",
    "<<", "=", "- -", "---", "...", "%YAML 9.9", "|", ">", "|9", "'", '"', "\t", "@", "`", "\u00e9", "\U0001f35e",
    "\u0663", "1\u00a0mm", "5 %", "5%", "% 5", "4 furlongs", "-0", "1e", "+", "-", ".", "_", "0_", "\ufeff", "\u2028",
    "\x85", "\r", "'5 mm'", "'5'", "none", "corner", "../..", "/", "run.yaml", ".", "n" * 300, "true", "null", "y",
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("spoilt")
    (made / "yard.yaml").write_text(FIELD)
    (made / "box.yaml").write_text(ROBOT)
    (made / "run.yaml").write_text(RUN)
    return made


def assert_reads_or_says(folder: Path, kind: str, content: bytes) -> None:
    path = folder / "spoilt.yaml"
    path.write_bytes(content)
    wrong = refusal(path, KINDS[kind][1])
    if wrong is not None:
        assert wrong.problems
        assert all(problem.line >= 1 and problem.column >= 1 and problem.message for problem in wrong.problems)
        # Nothing that moves a terminal's cursor, changes its colours or turns the direction of its text.
        unsafe = [c for c in str(wrong) if category(c) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"} and c != "\n"]
        assert unsafe == []


def refusal(path: Path, load: Callable[[Path], Any]) -> FileError | None:
    try:
        load(path)
    except FileError as wrong:
        return wrong
    return None


@pytest.mark.parametrize("kind", KINDS)
def test_good_files_are_good(kind: str, folder: Path) -> None:
    path = folder / "good.yaml"
    path.write_text(KINDS[kind][0])
    read = KINDS[kind][1](path)
    assert type(read).__name__.lower() == kind


@pytest.mark.parametrize("kind", KINDS)
def test_a_nasty_value_at_every_place(kind: str, folder: Path) -> None:
    lines = KINDS[kind][0].splitlines()
    for number, line in enumerate(lines):
        if ":" in line:
            head = line[: line.rindex(":") + 1]
            for value in NASTY[number % 3 :: 3]:
                assert_reads_or_says(
                    folder, kind, "\n".join([*lines[:number], f"{head} {value}", *lines[number + 1 :]]).encode()
                )
