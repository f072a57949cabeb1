"""Standard normal numbers that belong to their place and to nothing else; how, is told in c/draws.h."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fieldsim.sim.kernel.library import ARRAY, SIZE, UNSIGNED, floats, function, ints
from fieldsim.sim.kernel.shapes import Floats

# Places there are: trials from 0, decks, segments, sources, rows of a source.
TRIALS, DECKS, SEGMENTS, SOURCES, ROWS = 2**48, 2**32, 2**48, 2**8, 2**17


def draw(seed: int, deck: int, first: int, count: int, streams: Sequence[tuple[int, int, int]], out: Floats) -> None:
    """Fill rows of ``out`` (rows, at least ``count``) with the numbers of trials ``first`` and on: of each (segment,
    source, rows) in turn so many rows.

    Raises ValueError if a place does not exist or the rows do not fit.
    """
    table = np.array(streams, dtype=np.int64).reshape(-1, 3)
    rows = int(table[:, 2].sum())
    if not (0 <= seed < 2**64 and 0 <= deck < DECKS and 0 <= first <= first + count <= TRIALS):
        raise ValueError(f"there are no draws of seed {seed}, deck {deck}, trials {first} to {first + count}")
    if (table < 0).any() or (table >= (SEGMENTS, SOURCES, ROWS)).any():
        raise ValueError("a segment, a source or the rows of one are more than there can be")
    if out.ndim != 2 or len(out) < rows or not 0 <= count <= out.shape[1]:
        raise ValueError(f"{rows} rows of {count} drawn numbers do not fit into {out.shape}")
    call = function("draw", None, UNSIGNED, UNSIGNED, UNSIGNED, SIZE, ARRAY, SIZE, ARRAY, SIZE)
    call(seed, deck, first, count, ints(table, None, 3), len(table), floats(out, None, None), out.shape[1])


def philox(counter: Sequence[int], key: Sequence[int]) -> tuple[int, ...]:
    """The generator's four words for a counter of four and a key of two: Philox 4x32-10."""
    at, by, found = (np.array(words, dtype=np.uint32) for words in (counter, key, (0, 0, 0, 0)))
    if at.shape != (4,) or by.shape != (2,):
        raise ValueError("a counter has four words and a key has two")
    function("philox", None, ARRAY, ARRAY, ARRAY)(at.ctypes.data, by.ctypes.data, found.ctypes.data)
    return tuple(found.tolist())


def functions(values: Floats) -> Floats:
    """(n, 4) sine, cosine, sin(v)/v and natural logarithm as the kernel takes them, for tests."""
    found = np.zeros((len(values), 4))
    call = function("functions", None, ARRAY, SIZE, ARRAY)
    call(floats(values, None), len(values), floats(found, None, 4))
    return found
