"""Many values counted in fixed memory."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import TYPE_CHECKING, Any

from fieldsim.stats.quantiles import percentile_ranks, rank

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


class Histogram:
    """Counts of clearances, mm, for many rows (obstacles, segments) at once, in memory that does not grow.

    A row has a place for each multiple of ``width`` from 0 to ``horizon``; a value goes to the nearest one, but
    place 0 holds exact zeros only (contacts) and the last one only values of ``horizon`` and more, infinity
    included. So a value is given back to within half a width, and to within one whole width next to the two ends;
    a contact is never mixed with a near miss. Everything is whole numbers: the order in which values are added or
    histograms merged changes nothing, not in the last digit.
    """

    def __init__(self, rows: int, horizon: float, width: float = 0.01) -> None:
        import numpy as np

        if rows < 0:
            raise ValueError(f"rows={rows} must be 0 or more")
        if not (0 < width < inf and 2 * width <= horizon < inf):
            raise ValueError(f"horizon={horizon!r} must be at least two widths of {width!r}, and both more than 0")
        self.width = width
        self.places = round(horizon / width)
        if abs(self.places * width - horizon) > 1e-9 * horizon:
            raise ValueError(f"horizon={horizon!r} must be a whole number of widths of {width!r}")
        self.horizon = horizon
        self.counts: npt.NDArray[np.int64] = np.zeros((rows, self.places + 1), dtype=np.int64)
        """(rows, places + 1): how many values of each row went to each place."""

    @property
    def rows(self) -> int:
        return int(self.counts.shape[0])

    def add(self, row: int, values: npt.ArrayLike) -> None:
        """Count values, an array of any length, for one row. Raises ValueError for a negative one or not-a-number."""
        import numpy as np

        given: npt.NDArray[np.float64] = np.asarray(values, dtype=np.float64).reshape(-1)
        if given.size == 0:
            return
        # Written so that not-a-number is refused too.
        if not given.min() >= 0:
            raise ValueError(f"row {row}: a clearance must be 0 or more, got {float(given.min())!r}")
        place = (np.minimum(given, self.horizon) * (self.places / self.horizon) + 0.5).astype(np.int64)
        # Only the stretch that is hit: most rows fill a small part of theirs, and a full-length count would cost more
        # than the counting.
        low = int(place.min())
        counts: npt.NDArray[Any] = np.bincount(place - low)
        mine = self.counts[row]
        mine[low : low + counts.size] += counts
        # What was rounded to an end without being it belongs next to it.
        if low == 0:
            almost = int(counts[0]) - int(np.count_nonzero(given == 0))
            mine[0] -= almost
            mine[1] += almost
        if low + counts.size > self.places:
            almost = int(counts[-1]) - int(np.count_nonzero(given >= self.horizon))
            mine[self.places] -= almost
            mine[self.places - 1] += almost

    def merge(self, other: Histogram) -> None:
        """Add all counts of another histogram of the same rows, horizon and width."""
        mine = (self.rows, self.places, self.width)
        theirs = (other.rows, other.places, other.width)
        if mine != theirs:
            raise ValueError(f"rows, places and width differ: {mine} and {theirs}")
        self.counts += other.counts

    def total(self, row: int) -> int:
        """How many values the row has."""
        return int(self.counts[row].sum())

    def zeros(self, row: int) -> int:
        """How many of them are exactly zero."""
        return int(self.counts[row, 0])

    def value(self, row: int, k: int) -> float:
        """The k-th smallest value, k from 1, mm; ``horizon`` stands for that far or farther."""
        return self.values(row, (k,))[0]

    def values(self, row: int, ks: Sequence[int]) -> tuple[float, ...]:
        """The k-th smallest value for each of several k. The counts are summed up once for all of them: that sum is
        what takes the time."""
        import numpy as np

        running = np.cumsum(self.counts[row])
        for k in ks:
            if not 1 <= k <= running[-1]:
                raise ValueError(f"rank {k} must be between 1 and {int(running[-1])}")
        return tuple(self._at(int(place)) for place in np.searchsorted(running, ks, side="left"))

    def percentile(self, row: int, q: float) -> float:
        """The q-quantile, mm: the k-th smallest, k = ceil(q n)."""
        return self.value(row, rank(self.total(row), q))

    def percentile_interval(self, row: int, q: float, confidence: float = 0.95) -> tuple[float, float]:
        """Between which values, mm, the true q-quantile lies; see :func:`percentile_ranks` for few values."""
        lower, upper = percentile_ranks(self.total(row), q, confidence)
        return self.value(row, lower), self.value(row, upper)

    def mean(self, row: int) -> float:
        """The mean, mm, where every value counts as its place and whatever lies beyond the horizon as the horizon."""
        import numpy as np

        n = self.total(row)
        if n == 0:
            raise ValueError(f"row {row} has no values, so there is no mean")
        total = int(np.dot(self.counts[row], np.arange(self.places + 1, dtype=np.int64)))
        return total * self.horizon / self.places / n

    def _at(self, place: int) -> float:
        # The division gives the double nearest to the decimal, 0.03; the product 3 * 0.01 would not always.
        return self.horizon if place == self.places else place * self.horizon / self.places
