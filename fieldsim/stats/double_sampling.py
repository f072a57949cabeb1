"""A design tried a few times, beside one that is known from many trials: what the many tell of the few.

Both drive the same drawn trials, so the luck of the first few shows in the known design's share of them, and is taken
out. The few trials are sorted by whether the known design gets through in them, and the two groups are weighted as
they stand among the many (post-stratified double sampling). So the known design's own share is told alike wherever it
is told, a design that does the same has the same share, and one that never gets through has none. Source: W. G.
Cochran, "Sampling Techniques", 3rd edition, Wiley, 1977, sections 5A.9 and 12.2 (from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.stats.intervals import Share, paired_scores, score_interval, wilson

__all__ = ["Beside", "beside"]

Bools = NDArray[np.bool_]


class Beside(NamedTuple):
    """A design beside a known one: its share, and the known one's share less that."""

    share: Share
    behind: Share

    @property
    def ahead(self) -> Share:
        """Its share less the known one's."""
        return Share(-self.behind.share, -self.behind.high, -self.behind.low)


def beside(known: Bools, seen: Bools) -> Beside:
    """What ``seen`` (n,) of the first trials tells of a design, with the known one's ``known`` (N,) on the same draws.

    With W the known share in all N trials, p1 and p0 the design's share where the known one gets through and where not:
    W p1 + (1 - W) p0. Its variance is V ((1 - r^2)/n + r^2/N), V that of one trial and r the correlation of the two
    designs; the interval is Wilson's of as many trials as that is worth. Where the known design shows one result only,
    or there are no more than n of its trials, the plain share of n. The difference has the interval of n weighted
    pairs (Newcombe's), which is a little too wide: the N trials are not counted in it.
    """
    n = min(len(known), len(seen))
    first, second = known[:n], seen[:n]
    ones = int(first.sum())
    both = int((first & second).sum())
    only = int(second.sum()) - both
    if len(known) <= n or ones in (0, n):
        return Beside(wilson(int(seen.sum()), len(seen)), paired_scores(both, ones - both, only, n - ones - only))
    weight = float(known.mean())
    p1, p0 = both / ones, only / (n - ones)
    share = weight * p1 + (1.0 - weight) * p0
    spread = share * (1.0 - share)
    r2 = weight * (1.0 - weight) * (p1 - p0) ** 2 / spread if spread > 0 else 0.0
    worth = 1.0 / ((1.0 - r2) / n + r2 / len(known))
    counts = (weight * p1, weight * (1.0 - p1), (1.0 - weight) * p0, (1.0 - weight) * (1.0 - p0))
    return Beside(score_interval(share * worth, worth), paired_scores(*(n * count for count in counts)))
