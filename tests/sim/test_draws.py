"""Which numbers a seed, a trial and a place in a run draw: nothing else matters."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.drivetrain import Stream


def drawn(seed: int, number: int = 0, rows: int = 2) -> NDArray[np.float64]:
    out = np.empty((rows, BLOCK))
    Draws(seed).block(number, [Stream(3, 1, rows)], out)
    return out


@pytest.mark.parametrize("seed", [-1, 2**64, 2**70])
def test_a_seed_has_64_bits(seed: int) -> None:
    with pytest.raises(ValueError, match=f"seed={seed} must be a whole number from 0 to {2**64 - 1}"):
        Draws(seed)


def test_every_bit_of_a_seed_counts() -> None:
    seeds = [0, 2**64 - 1, *(2**bit for bit in range(64))]
    firsts = {float(drawn(seed, rows=1)[0, 0]) for seed in seeds}
    assert len(firsts) == len(seeds)


def test_blocks_go_on_from_one_another() -> None:
    """Trial k draws the same whatever block it is in, so blocks neither repeat nor leave out a trial."""
    whole = np.concatenate([drawn(7, number) for number in range(3)], axis=1)
    assert len(np.unique(whole)) == whole.size
    assert whole.shape == (2, 3 * BLOCK)
