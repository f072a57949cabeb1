"""`fieldsim new`: a small season to start from."""

from __future__ import annotations

import os
from importlib import resources
from pathlib import Path

from fieldsim.errors import SaveError

FILES = ("yard.yaml", "robot.yaml", "first-run.yaml")


def new_season(folder: str | Path) -> list[Path]:
    """Write a field, a robot and a run into a folder; their paths. Never replaces a file: raises SaveError instead."""
    folder = Path(folder)
    there = [name for name in FILES if (folder / name).exists()]
    if there:
        raise SaveError(f"{folder / there[0]} is there already; nothing was written. Name another folder.")
    made = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in FILES:
            text = resources.files("fieldsim").joinpath("starter", name).read_text(encoding="utf-8")
            # 'x': if somebody else makes the file in between, theirs is kept.
            with (folder / name).open("x", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            made.append(folder / name)
    except OSError as problem:
        raise SaveError(f"cannot write in {folder}: {problem.strerror or problem}") from None
    return made
