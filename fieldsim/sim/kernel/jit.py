"""How the kernel is compiled, and where the compiled code is kept."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.core import config as numba_config

_SETTINGS: Any = numba_config  # its names are made as it loads, so no type checker knows them

_F = TypeVar("_F", bound=Callable[..., object])


def jit(function: _F) -> _F:
    """Compile a function of numbers and arrays.

    nogil: blocks of trials run side by side in a thread pool. cache: compile once for each machine. numpy's error model
    drops a test at every division. No fastmath: it would let the compiler move terms about, and the same trial must
    give the same bits everywhere.
    """
    with _cache_in(_FOLDER):
        try:
            compiled = numba.njit(nogil=True, cache=True, error_model="numpy")(function)
        except RuntimeError:  # no folder anywhere that can be written to
            compiled = numba.njit(nogil=True, error_model="numpy")(function)
    return cast(_F, compiled)


def inlined(function: _F) -> _F:
    """A small function that is compiled into each of its callers: for inner loops, where a call would cost more."""
    return cast(_F, numba.njit(nogil=True, inline="always", error_model="numpy")(function))


def _folder() -> str:
    """A folder of the user's for exactly this kernel.

    numba looks only at a function's own file to see whether its compiled code is out of date. Functions compiled into
    it from another file would stay as they were, and an update of that file alone would go on giving the old answers.
    So the folder is named after all of the kernel's source.
    """
    source = hashlib.sha256()
    for file in sorted(Path(__file__).parent.glob("*.py")):
        source.update(file.read_bytes())
    return str(_caches() / "fieldsim" / source.hexdigest()[:16])


def _caches() -> Path:
    """Where this system keeps what a program can make again; numba's own setting comes first."""
    if _SETTINGS.CACHE_DIR:
        return Path(_SETTINGS.CACHE_DIR)
    if os.environ.get("XDG_CACHE_HOME"):
        return Path(os.environ["XDG_CACHE_HOME"])
    if sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        return Path(os.environ["LOCALAPPDATA"])
    home = Path(os.path.expanduser("~"))
    return home / "Library" / "Caches" if sys.platform == "darwin" else home / ".cache"


@contextmanager
def _cache_in(folder: str) -> Iterator[None]:
    """numba's cache folder is a setting of the whole process: set it only while a function of ours is declared."""
    before = _SETTINGS.CACHE_DIR
    _SETTINGS.CACHE_DIR = folder
    try:
        yield
    finally:
        _SETTINGS.CACHE_DIR = before


_FOLDER = _folder()
