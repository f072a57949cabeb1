"""The normal and the binomial distribution against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, norm

from fieldsim.stats import binomial, normal


@given(st.lists(st.floats(1e-12, 1 - 1e-12), max_size=20))
def test_normal_quantiles(p: list[float]) -> None:
    assert normal.quantiles(p) == pytest.approx(np.asarray(norm.ppf(p)), rel=1e-12, abs=1e-15)
    assert [normal.quantile(each) for each in p] == normal.quantiles(p).tolist()


def test_arrays_keep_their_shape() -> None:
    assert normal.quantiles(np.full((3, 0, 2), 0.5)).shape == (3, 0, 2)
    assert normal.quantiles(np.full((2, 3), 0.975)) == pytest.approx(np.full((2, 3), 1.959963984540054), rel=1e-14)


@given(st.floats(-37, 37))
def test_both_tails_of_the_normal(z: float) -> None:
    assert normal.beyond(z) == pytest.approx(2 * float(norm.sf(abs(z))), rel=1e-12)


@given(st.integers(0, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_tail_of_a_fair_coin(of: tuple[int, int]) -> None:
    few, n = of
    assert binomial.even_tail(few, n) == pytest.approx(float(binom.cdf(few, n, 0.5)), rel=1e-9)


@pytest.mark.parametrize(("few", "n"), [(4_990_000, 10_000_000), (0, 1), (1, 1), (0, 0), (0, 1000), (200, 1000)])
def test_far_and_large_tails(few: int, n: int) -> None:
    assert binomial.even_tail(few, n) == pytest.approx(float(binom.cdf(few, n, 0.5)), rel=1e-6)


@pytest.mark.parametrize(("few", "n"), [(-1, 3), (4, 3)])
def test_no_such_tail(few: int, n: int) -> None:
    with pytest.raises(ValueError, match=f"few={few}"):
        binomial.even_tail(few, n)


@given(st.integers(0, 60), st.lists(st.sampled_from([0.0, 1.0, 0.5, 1e-9, 0.3, 0.999]), max_size=4))
def test_chances_of_each_count(n: int, p: list[float]) -> None:
    found = binomial.chances(n, np.array(p))
    wanted = binom.pmf(np.arange(n + 1), n, np.array(p)[:, None])
    assert found == pytest.approx(np.asarray(wanted), rel=1e-9, abs=1e-300)


def test_chances_of_very_many() -> None:
    found = binomial.chances(5000, np.array([0.0, 0.25, 1.0]))
    assert found.sum(axis=1) == pytest.approx(np.ones(3))
    assert found[1] == pytest.approx(np.asarray(binom.pmf(np.arange(5001), 5000, 0.25)), rel=1e-7, abs=1e-300)
