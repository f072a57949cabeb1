"""Several questions asked of the same trials: which differences are more than luck when many are looked at.

Of ten equal designs some pair looks different by luck alone in most studies. Holm's procedure keeps the chance that any
difference is called true wrongly at the level of one test, whatever the tests have to do with each other. Source:
S. Holm, "A simple sequentially rejective multiple test procedure", Scandinavian Journal of Statistics 6, 1979, 65-70
(from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

from fieldsim.stats.binomial import even_tail

LEVEL = 0.05


def sign_test(only_first: int, only_second: int) -> float:
    """Two-sided exact p-value of two designs on the same trials: of those that only one gets through, how likely luck
    makes so uneven a share. Source: Q. McNemar, "Note on the sampling error of the difference
    between correlated proportions or percentages", Psychometrika 12, 1947, 153-157 (from memory); exact by the
    binomial."""
    decided = only_first + only_second
    return min(1.0, 2 * even_tail(min(only_first, only_second), decided))


def holm(p_values: Sequence[float], level: float = LEVEL) -> list[bool]:
    """Which of the tests may be called true, so that with ``level`` at most any of them is so wrongly: the smallest
    p-value against level/m, the next against level/(m - 1), until one is not small enough."""
    found = [False] * len(p_values)
    for done, n in enumerate(sorted(range(len(p_values)), key=lambda n: p_values[n])):
        if p_values[n] > level / (len(p_values) - done):
            break
        found[n] = True
    return found
