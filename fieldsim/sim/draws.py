"""Drawn numbers: trial k of seed S always has the same ones.

A draw belongs to (seed, trial, segment number, source) and to nothing else: not to how many trials are asked for, the
batch, the thread, or the plan that is tried. So two plans are compared on common random numbers. The generator is
counter-based: the seed is its key, and segment, source and block of trials are words of its counter, so no two streams
can ever meet (Salmon et al., Parallel random numbers: as easy as 1, 2, 3, 2011; numpy's Philox).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fieldsim.sim.drivetrain import Stream

# Trials in a block. Not a power of two: columns of that stride would fall on each other in the processor's cache.
BLOCK = 1000


class Draws:
    """Standard normal numbers, block by block. Not shared between threads. Decks of a seed are independent: trials are
    drawn from deck 0."""

    def __init__(self, seed: int, deck: int = 0) -> None:
        if not 0 <= seed < 2**64:
            raise ValueError(f"seed={seed!r} must be a whole number from 0 to {2**64 - 1}")
        # A Philox is set up once and then moved: making one anew costs ten times as much.
        self._bits = np.random.Philox(key=np.array([seed, deck], dtype=np.uint64))
        self._state = self._bits.state
        self._normal = np.random.Generator(self._bits).standard_normal

    def block(self, number: int, streams: Iterable[Stream], out: NDArray[np.float64]) -> None:
        """Fill ``out`` (rows, BLOCK) for trials ``number * BLOCK`` onwards, stream after stream."""
        row = 0
        for stream in streams:
            self._state["state"]["counter"][:] = (0, number, stream.segment, stream.source)
            self._state["buffer_pos"] = 4
            self._state["has_uint32"] = 0
            self._bits.state = self._state
            self._normal(out=out[row : row + stream.rows])
            row += stream.rows
