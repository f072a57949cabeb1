"""Drawn numbers: trial k of seed S always has the same ones.

A draw belongs to (seed, deck, trial, segment number, source, row) and to nothing else: not to how many trials are asked
for, the batch, the thread, or the plan that is tried. So two plans are compared on common random numbers. The generator
is counter-based: the seed is its key, everything else is its counter, so no two numbers can ever meet (see
kernel/c/draws.h).
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.sim.drivetrain import Stream
from fieldsim.sim.kernel.normals import draw

# Trials in a block. Not a power of two: columns of that stride would fall on each other in the processor's cache.
BLOCK = 1000


class Draws:
    """Standard normal numbers, block by block. Decks of a seed are independent: trials are drawn from deck 0."""

    def __init__(self, seed: int, deck: int = 0) -> None:
        if not 0 <= seed < 2**64:
            raise ValueError(f"seed={seed!r} must be a whole number from 0 to {2**64 - 1}")
        self.seed = seed
        self.deck = deck

    def block(self, number: int, streams: Iterable[Stream], out: NDArray[np.float64]) -> None:
        """Fill ``out`` (rows, BLOCK) for trials ``number * BLOCK`` onwards, stream after stream."""
        rows = [(stream.segment, stream.source, stream.rows) for stream in streams]
        draw(self.seed, self.deck, number * BLOCK, BLOCK, rows, out)


@lru_cache(maxsize=12)
def kept_block(seed: int, number: int, streams: tuple[Stream, ...]) -> NDArray[np.float64]:
    """A block of deck 0, (rows, BLOCK), which may not be written into. The last ones are kept: a study drives many runs
    that have the same sources of noise one after another."""
    found = np.zeros((sum(stream.rows for stream in streams), BLOCK))
    Draws(seed).block(number, streams, found)
    found.flags.writeable = False
    return found
