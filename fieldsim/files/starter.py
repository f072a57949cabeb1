"""`fieldsim new`: a small season to start from."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from importlib import resources
from pathlib import Path

from fieldsim.files.sheets import blank_log, blank_sheet
from fieldsim.language import tr
from fieldsim.model.errors import SaveError, shown

__all__ = ["FILES", "new_season", "starter_text", "write_new"]

FILES = ("yard.yaml", "robot.yaml", "first-run.yaml", "match.yaml", "tests.csv", "log.csv")


def new_season(folder: str | Path) -> list[Path]:
    """Write a field, a robot, a run, a blank test sheet and a blank log into a folder; their paths.

    Never replaces a file, and leaves nothing behind if it fails: raises SaveError.
    """
    folder = Path(folder)
    made: list[Path] = []
    path = folder
    try:
        for path in (folder / name for name in FILES):
            if os.path.lexists(path):
                raise FileExistsError
        path = folder
        folder.mkdir(parents=True, exist_ok=True)
        for path in (folder / name for name in FILES):
            write_new(path, starter_text(path.name))
            made.append(path)
    except FileExistsError:
        _take_back(made)
        raise SaveError(
            tr("{path} is there already; nothing was written. Name another folder.", path=shown(str(path), 4096))
        ) from None
    except (OSError, ValueError) as problem:
        _take_back(made)
        reason = getattr(problem, "strerror", None) or tr("this cannot be the name of a folder")
        raise SaveError(
            tr("cannot write in {folder}: {reason}", folder=shown(str(folder), 4096), reason=tr(reason))
        ) from None
    return made


def starter_text(name: str) -> bytes:
    """A starter file; the blank test sheet and log are made from the columns that are read."""
    blank = {"tests.csv": blank_sheet, "log.csv": blank_log}.get(name)
    if blank is not None:
        return blank().encode()
    return resources.files("fieldsim").joinpath("starter", name).read_bytes()


def write_new(path: Path, text: bytes) -> None:
    """Make a file, whole or not at all; FileExistsError if somebody else has made it in the meantime."""
    with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.stem}-") as beside:
        beside.write(text)
        beside.flush()
        os.fsync(beside.fileno())
        # Temporary files are for this user alone; give it the rights a new file would have.
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(beside.name, 0o666 & ~umask)
        try:
            # Unlike a rename, a link never takes the place of a file that is there.
            os.link(beside.name, path)
        except FileExistsError:
            raise
        except OSError:
            # A disk without links, such as a memory stick.
            with path.open("xb") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())


def _take_back(made: list[Path]) -> None:
    for path in made:
        with suppress(OSError):
            path.unlink()
