"""How the kernel is compiled."""

from __future__ import annotations

from typing import Any

import numba

# nogil: blocks of trials run side by side in a thread pool. cache: compile once for each machine (numba falls back to
# the user's cache folder where the package folder is read-only). numpy's error model drops a test at every division.
# No fastmath: it would let the compiler move terms about, and the same trial must give the same bits everywhere.
jit: Any = numba.njit(nogil=True, cache=True, error_model="numpy")
