"""A small field, robot and run with a bit of everything, all invented, and what tests ask of a file that is wrong."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fieldsim.files import load_field, load_robot, load_run
from fieldsim.model.errors import FileError, Problem, shown

FIELD = """\
field: Yard
size: [1000, 800]
walls: {height: 75}
obstacles:
  - name: mill
    box: {center: [620, 640], size: [200, 140], heading: 15}
    height: [2, 120]
  - name: oven
    outline: [[100, 600], [200, 600], [200, 650]]
  - {name: barrel, round: {center: [700, 300], radius: 40}, spread: {x: 2, y: 1 mm, heading: 0.5}}
start_areas:
  - {name: home, box: {center: [200, 200], size: [400, 400]}}
jigs:
  - {name: corner, corner: [60, 0], heading: 90, holds: rear left, spread: {along: 0.5}, built_on: walls}
lines:
  - {name: kerb, from: [900, 10], to: [900, 790], width: 2 cm}
targets:
  - {name: lever, at: [170, 90], within: 8, heading: 90, heading_within: 6}
mat: {x: 1.5, heading: 0.2}
"""
ROBOT = """\
robot: Box
body: {length: 170, width: 140, axle: 60, height: [8, 110]}    # all of it is invented, as is every number in this file
drive: {track: 112, wheel: 62, gear: 1, heading_from: gyro}
accuracy:
  bias: {distance: 0.4 %, veer: 0.3}
  sample: 10 ms
sensors:
  - {name: left eye, at: [95, 30]}
  - {name: right eye, at: [95, -30]}
  - {name: tail eye, at: [-50, 30]}
attachments:
  - {name: scoop, outline: [[110, -40], [170, -40], [170, 40], [110, 40]], tool: [165, 0]}
weight: {mass: 0.9, at: [25, 0, 45]}
casters: [{at: [85, 40]}]
"""
RUN = """\
run: Round
field: yard.yaml
robot: box.yaml
wear: [scoop]
start: corner
segments:
  - straight: 420
    speed: 300
  - {turn: -91, about: left wheel}
  - {arc: 60, radius: 250, may_touch: [oven]}
  - {square: rear, against: near wall, reach: 120, capture: 20}
  - {line square: kerb, sensors: [left eye, right eye], reach: 150, passes: 2}
  - until: kerb
    sensor: tail eye
    reach: -30 cm
  - act: lever
    takes: 2.0
  - wait: 0.5
finish: home
"""
# A run reads its field and its robot each time: where only the run matters, these hold no more than its names.
BARE_FIELD = """\
field: Yard
size: [1000, 800]
walls: {height: 75}
obstacles:
  - {name: mill, box: {center: [620, 640], size: [200, 140]}}
  - {name: oven, outline: [[100, 600], [200, 600], [200, 650]]}
  - {name: barrel, round: {center: [700, 300], radius: 40}}
start_areas: [{name: home, box: {center: [200, 200], size: [400, 400]}}]
jigs: [{name: corner, corner: [60, 0], heading: 90, holds: rear left}]
lines: [{name: kerb, from: [900, 10], to: [900, 790]}]
targets: [{name: lever, at: [170, 90], within: 8}]
"""
BARE_ROBOT = """\
robot: Box
body: {length: 170, width: 140, axle: 60}
drive: {track: 112, wheel: 62}
sensors: [{name: left eye, at: [95, 30]}, {name: right eye, at: [95, -30]}, {name: tail eye, at: [-50, 30]}]
attachments: [{name: scoop, outline: [[110, -40], [170, -40], [170, 40]]}]
"""

FIELD_FILE, ROBOT_FILE, RUN_FILE = "yard.yaml", "box.yaml", "run.yaml"
TEXTS = {FIELD_FILE: FIELD, ROBOT_FILE: ROBOT, RUN_FILE: RUN}
LOADERS: dict[str, Callable[[str | Path], Any]] = {
    FIELD_FILE: load_field, ROBOT_FILE: load_robot, RUN_FILE: load_run,
}  # fmt: skip


def write(folder: Path, run: str = RUN, field: str = BARE_FIELD, robot: str = BARE_ROBOT) -> Path:
    """Write the three files into a folder. The run's path."""
    for name, text in ((RUN_FILE, run), (FIELD_FILE, field), (ROBOT_FILE, robot)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder / RUN_FILE


def unmark(text: str) -> tuple[str, tuple[int, int]]:
    """A text without its mark ¦, and the mark's line and column."""
    before, mark, after = text.partition("¦")
    if not mark:
        raise ValueError(f"no mark in {text!r}")
    return before + after, (before.count("\n") + 1, len(before) - before.rfind("\n"))


def edited(text: str, old: str, new: str) -> str:
    """A text with a part of it replaced that stands there once."""
    if text.count(old) != 1:
        raise ValueError(f"{old!r} stands there {text.count(old)} times")
    return text.replace(old, new)


def assert_refused(path: str | Path, load: Callable[[str | Path], Any] = load_run) -> tuple[Problem, ...]:
    """The file is refused; its problems, each of which has a place and words for it."""
    with pytest.raises(FileError) as caught:
        load(path)
    problems = caught.value.problems
    assert problems
    for problem in problems:
        assert problem.message
        assert problem.line >= 1
        assert problem.column >= 1
        assert str(problem).startswith(f"{shown(problem.file, 4096)}:{problem.line}:{problem.column}: ")
    return problems


def assert_one_problem(problems: tuple[Problem, ...], place: tuple[int, int], message: str, hint: str) -> None:
    """There is one problem, at this line and column, and message and hint hold these words."""
    assert len(problems) == 1, [str(problem) for problem in problems]
    (problem,) = problems
    assert message in problem.message
    assert hint in problem.hint
    assert (problem.line, problem.column) == place
