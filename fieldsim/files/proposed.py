"""Runs that were proposed, written as new files that every command reads."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from fieldsim.files import kind_of, load_match_and_files, load_robot
from fieldsim.files.changing import changed
from fieldsim.files.saving import plain_text, replace_file
from fieldsim.files.writing import field_text, new_run_text
from fieldsim.model import Field, Run
from fieldsim.model.match import Match


def write_runs(folder: Path, runs: Sequence[Run], field_file: Path, robot_file: Path) -> list[Path]:
    """Write each run as way-1.yaml, way-2.yaml and so on into a folder; their paths.

    A file that is there is kept as a copy. Raises SaveError if the place cannot be written to.
    """
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for number, run in enumerate(runs, start=1):
        path = folder / f"way-{number}.yaml"
        replace_file(path, new_run_text(run, seen_from(folder, field_file), seen_from(folder, robot_file)))
        made.append(path)
    return made


def write_match(folder: Path, match: Match, match_file: Path) -> list[Path]:
    """Write a proposed match, with a file for each of its runs, into a folder; their paths.

    Clock, changes and rules stay as they are written in ``match_file``, with its comments.

    A file that is there is kept as a copy. Raises SaveError if the place cannot be written to.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with match_file.open(encoding="utf-8") as file:
        text, _ = plain_text(file.read())
    _, files = load_match_and_files(match_file)
    robot = match.runs[0].run.robot
    field_file = next(path for path in files if kind_of(path) == "field")
    robot_file = next(path for path in files if kind_of(path) == "robot" and load_robot(path) == robot)
    made, listed = [], []
    for number, each in enumerate(match.runs, start=1):
        path = folder / f"run-{number}.yaml"
        replace_file(path, new_run_text(each.run, seen_from(folder, field_file), seen_from(folder, robot_file)))
        made.append(path)
        listed.append({"run": path.name})
    path = folder / "match.yaml"
    replace_file(path, changed(text, {("runs",): listed}))
    return [*made, path]


def write_field_and_run(folder: Path, run: Run, before: Field, field_file: Path, robot_file: Path) -> list[Path]:
    """Write a run whose start is no part of the field's file yet: the field with it as field-with-jig.yaml, comments
    kept, and the run on it as way-1.yaml; their paths. Raises SaveError if the place cannot be written to."""
    folder.mkdir(parents=True, exist_ok=True)
    field = folder / "field-with-jig.yaml"
    with field_file.open(encoding="utf-8", newline="") as file:
        text = file.read()
    replace_file(field, field_text(text, before, run.field))
    return [field, *write_runs(folder, [run], field, robot_file)]


def seen_from(folder: Path, file: Path) -> str:
    """A file's path as it is written in a file that lies in ``folder``."""
    try:
        return Path(os.path.relpath(file.resolve(), folder.resolve())).as_posix()
    except ValueError:
        # Another drive of the machine.
        return file.resolve().as_posix()
