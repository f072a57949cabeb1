"""Files that are not there yet: a name that is free, and a text that never takes the place of another one."""

from __future__ import annotations

import os
import re
from pathlib import Path

from fieldsim.files.starter import write_new
from fieldsim.language import tr
from fieldsim.model.errors import SaveError, shown

__all__ = ["free_name", "unwritten", "write_fresh"]


def free_name(folder: Path, name: str, ending: str = ".yaml") -> Path:
    """A file for something of that name that is not there yet."""
    words = re.sub(r"[^\w]+", "-", name.casefold()).strip("-_") or "new"
    for number in range(1, 10_000):
        path = folder / f"{words if number == 1 else f'{words}-{number}'}{ending}"
        if not os.path.lexists(path):
            return path
    raise SaveError(tr("there are too many files of that name"))


def write_fresh(path: Path, text: str | bytes) -> Path:
    """Make a file. Raises SaveError, also if there is one already."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_new(path, text if isinstance(text, bytes) else text.encode())
    except (OSError, ValueError) as problem:
        raise unwritten(path, problem) from None
    return path


def unwritten(path: Path, problem: Exception) -> SaveError:
    reason = getattr(problem, "strerror", None) or tr("this cannot be the name of a file")
    return SaveError(tr("{file} could not be written: {reason}", file=shown(str(path), 400), reason=tr(reason)))
