"""Even points against scipy's, and against what makes them even."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from fieldsim.stats.even import MOST, even_points


@pytest.mark.parametrize(("n", "d"), [(1, 1), (8, 3), (64, 3), (128, 7), (256, 17), (1024, MOST)])
def test_they_are_scipys_to_the_bit(n: int, d: int) -> None:
    assert (even_points(n, d) == qmc.Sobol(d, scramble=False).random(n)).all()
    for seed in (1, 20):
        mine = even_points(n, d, np.random.default_rng(seed))
        assert (mine == qmc.Sobol(d, rng=np.random.default_rng(seed)).random(n)).all()


def test_each_side_has_one_point_in_each_of_as_many_parts() -> None:
    points = even_points(128, MOST, np.random.default_rng(5))
    assert (np.sort(np.floor(points * 128), axis=0) == np.arange(128)[:, None]).all()


def test_more_sides_than_there_are_numbers_for_are_refused() -> None:
    for d in (0, MOST + 1):
        with pytest.raises(ValueError, match=f"d={d}"):
            even_points(4, d)
