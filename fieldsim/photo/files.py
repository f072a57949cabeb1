"""Pictures from files. Only what is seen is kept: what a file says of place, time and device is not read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr
from fieldsim.model.errors import FileError, Problem, reason
from fieldsim.photo import opencv

# More than any camera makes.
LARGEST = 200_000_000
HEIC = (".heic", ".heif")


def picture(path: Path) -> NDArray[np.uint8]:
    """(height, width, 3) red, green, blue. Raises FileError for a file that is no picture, MissingError."""
    try:
        if path.stat().st_size > LARGEST:
            raise _wrong(path, tr("is larger than {most} MB", most=LARGEST // 1_000_000))
        data = path.read_bytes()
    except FileNotFoundError:
        raise _wrong(path, tr("there is no such file")) from None
    except OSError as problem:
        raise _wrong(path, reason(problem)) from None
    found = opencv.decoded(data)
    if found is None and path.suffix.lower() in HEIC:
        raise _wrong(
            path, tr("a HEIC picture cannot be read here"),
            tr("save it as JPEG, or set the telephone to take the most compatible format"),
        )  # fmt: skip
    if found is None:
        raise _wrong(path, tr("this is no picture that can be read"), tr("accepted: JPEG and PNG"))
    return found


def _wrong(path: Path, text: str, hint: str = "") -> FileError:
    return FileError([Problem(str(path), 1, 1, text, "", hint)])
