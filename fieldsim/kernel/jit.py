"""How the kernel is compiled."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

import numba

_F = TypeVar("_F", bound=Callable[..., object])


def jit(function: _F) -> _F:
    """Compile a function of numbers and arrays.

    nogil: blocks of trials run side by side in a thread pool. cache: compile once for each machine (numba falls back to
    the user's cache folder where the package folder is read-only). numpy's error model drops a test at every division.
    No fastmath: it would let the compiler move terms about, and the same trial must give the same bits everywhere.
    """
    return cast(_F, numba.njit(nogil=True, cache=True, error_model="numpy")(function))
