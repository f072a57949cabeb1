"""A design tried a few times beside one that is known from many trials."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from fieldsim.stats.double_sampling import beside
from fieldsim.stats.intervals import paired_difference, wilson

NONE = np.zeros(0, dtype=bool)


def counts(
    both: int, known_only: int, seen_only: int, neither: int, more: int = 0, of: int = 0
) -> tuple[np.ndarray, ...]:
    """The known design's trials and the seen one's; ``of`` more known ones, of which ``more`` get through."""
    known = np.repeat([True, True, False, False, True, False], [both, known_only, seen_only, neither, more, of - more])
    seen = np.repeat([True, False, True, False], [both, known_only, seen_only, neither])
    return known, seen


def test_the_same_design_has_the_same_share_and_is_nothing_behind() -> None:
    known, seen = counts(300, 0, 0, 100, more=400, of=600)
    found = beside(known, seen)
    assert found.share.share == pytest.approx(known.mean())
    assert (found.share.low, found.share.high) == pytest.approx((wilson(700, 1000).low, wilson(700, 1000).high))
    assert found.behind.share == pytest.approx(0.0)


def test_by_hand() -> None:
    """Of 100 trials the known design gets through 60, the other through 45 of these and 8 of the rest; of all 1000 the
    known one gets through 660: 0.66 * 45/60 + 0.34 * 8/40 = 0.563."""
    known, seen = counts(45, 15, 8, 32, more=600, of=900)
    found = beside(known, seen)
    assert found.share.share == pytest.approx(0.563)
    assert found.behind.share == pytest.approx(0.66 - 0.563)
    assert found.ahead.share == -found.behind.share
    assert (found.ahead.low, found.ahead.high) == (-found.behind.high, -found.behind.low)
    # Narrower than from the 100 alone, wider than from 1000.
    assert wilson(563, 1000).high - 0.563 < found.share.high - 0.563 < wilson(56, 100).high - 0.56


def test_a_design_that_never_gets_through_has_none() -> None:
    known, seen = counts(0, 70, 0, 30, more=300, of=900)
    found = beside(known, seen)
    assert found.share.share == 0.0
    assert found.share.high == pytest.approx(wilson(0, 100).high)
    assert found.behind.share == pytest.approx(known.mean())


@pytest.mark.parametrize("seen", [np.array([True, False, True]), np.ones(3, dtype=bool), NONE])
@pytest.mark.parametrize(
    "known", [np.ones(9, dtype=bool), np.zeros(9, dtype=bool), np.array([True, True, False]), NONE]
)
def test_where_the_known_one_tells_nothing_it_is_the_plain_share(known: np.ndarray, seen: np.ndarray) -> None:
    found = beside(known, seen)
    if len(known) > len(seen) > 0 or len(known) == len(seen):
        assert found.share == wilson(int(seen.sum()), len(seen))
    n = min(len(known), len(seen))
    a, b = known[:n], seen[:n]
    plain = paired_difference(*(int(part.sum()) for part in (a & b, a & ~b, ~a & b, ~a & ~b)))
    assert found.behind == plain


@given(arrays(bool, st.integers(1, 60)), st.data())
def test_ends_lie_about_the_share_and_in_range(known: np.ndarray, data: st.DataObject) -> None:
    seen = data.draw(arrays(bool, st.integers(1, len(known))))
    found = beside(known, seen)
    assert 0 <= found.share.low <= found.share.share <= found.share.high <= 1
    assert -1 <= found.behind.low <= found.behind.share + 1e-12
    assert found.behind.share - 1e-12 <= found.behind.high <= 1


@pytest.mark.parametrize(("p", "p1", "p0"), [(0.8, 0.9, 0.2), (0.3, 0.8, 0.1), (0.5, 0.5, 0.5)])
def test_the_interval_holds_the_truth_in_95_of_100_and_is_narrower(p: float, p1: float, p0: float) -> None:
    """400 of 2,000 trials, 1,000 studies: 93 to 97 % (three standard deviations are 2.1)."""
    rng = np.random.default_rng(11)
    truth = p * p1 + (1 - p) * p0
    held = behind = 0
    width = []
    for _ in range(1000):
        known = rng.random(2000) < p
        seen = rng.random(400) < np.where(known[:400], p1, p0)
        found = beside(known, seen)
        held += found.share.low <= truth <= found.share.high
        behind += found.behind.low <= p - truth <= found.behind.high
        width.append(
            (found.share.high - found.share.low)
            / (wilson(int(seen.sum()), 400).high - wilson(int(seen.sum()), 400).low)
        )
    assert 930 <= held <= 972
    assert behind >= 930
    r2 = p * (1 - p) * (p1 - p0) ** 2 / (truth * (1 - truth))
    assert np.mean(width) == pytest.approx(np.sqrt(1 - r2 + r2 / 5), rel=0.03)
