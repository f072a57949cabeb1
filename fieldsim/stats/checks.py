"""What intervals and percentiles ask of the numbers they are given."""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist
from typing import SupportsIndex


@lru_cache(maxsize=64)
def two_sided_z(confidence: float) -> float:
    """The standard normal quantile that a two-sided interval of this confidence reaches to; 1.96 for 0.95."""
    open_share("confidence", confidence)
    return NormalDist().inv_cdf((1 + confidence) / 2)


def open_share(name: str, value: float) -> None:
    """Refuse a share that is not between 0 and 1: ValueError."""
    if not 0 < value < 1:
        raise ValueError(f"{name}={value!r} must be more than 0 and less than 1, such as 0.95")


def checked_count(name: str, value: SupportsIndex) -> int:
    """A count as an int; ValueError if it is negative."""
    n = value.__index__()
    if n < 0:
        raise ValueError(f"{name}={n} must be 0 or more")
    return n
