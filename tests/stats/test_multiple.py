"""Several tests of the same trials: a published example, the rate of wrong calls, exact p-values."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from fieldsim.stats.multiple import LEVEL, holm, sign_test


def test_holm_by_hand() -> None:
    """0.05/4 = 0.0125, 0.05/3 = 0.0167, 0.05/2: 0.01 and 0.015 pass, 0.03 does not, and so 0.04 neither."""
    assert holm([0.01, 0.04, 0.03, 0.015]) == [True, False, False, True]
    assert holm([0.05]) == [True]
    assert holm([0.051]) == [False]
    assert holm([]) == []


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_more_is_called_than_by_bonferroni_and_never_more_than_one_by_one(p_values: list[float]) -> None:
    called = holm(p_values)
    for p, true in zip(p_values, called, strict=True):
        assert true >= (p <= LEVEL / len(p_values))
        assert true <= (p <= LEVEL)


@given(st.integers(0, 60), st.integers(0, 60))
def test_the_sign_test_is_twice_the_smaller_tail(a: int, b: int) -> None:
    wanted = min(1.0, 2 * float(binom.cdf(min(a, b), a + b, 0.5))) if a + b else 1.0
    assert sign_test(a, b) == pytest.approx(wanted)
    assert sign_test(a, b) == pytest.approx(sign_test(b, a))


@pytest.mark.parametrize(("studies", "most"), [(60, 9), pytest.param(400, 33, marks=pytest.mark.slow)])
@pytest.mark.parametrize("designs", [3, 5, 8])
def test_equal_designs_are_called_different_in_few_studies(designs: int, studies: int, most: int) -> None:
    """Studies of equal designs, 400 trials each, half of the luck shared: any pair in at most 5 % of them (more than 33
    of 400 with a chance of 0.002, more than 9 of 60 with 0.001). Pair by pair without that: far more."""
    rng = np.random.default_rng(designs)
    wrong = alone = 0
    for _ in range(studies):
        shared = rng.standard_normal(400)
        got = shared + rng.standard_normal((designs, 400)) > -1.0
        pairs = list(combinations(range(designs), 2))
        p_values = [sign_test(int((got[i] & ~got[j]).sum()), int((~got[i] & got[j]).sum())) for i, j in pairs]
        wrong += any(holm(p_values))
        alone += min(p_values) <= LEVEL
    assert wrong <= most
    assert alone > 33 if studies == 400 else alone >= wrong
