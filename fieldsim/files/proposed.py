"""Runs that were proposed, written as new files that every command reads."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from fieldsim.files.saving import replace_file
from fieldsim.files.writing import new_run_text
from fieldsim.model import Run


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


def seen_from(folder: Path, file: Path) -> str:
    """A file's path as it is written in a file that lies in ``folder``."""
    try:
        return Path(os.path.relpath(file.resolve(), folder.resolve())).as_posix()
    except ValueError:
        # Another drive of the machine.
        return file.resolve().as_posix()
