"""That the ways which are pitted against each other answer the same question."""

from __future__ import annotations

from bench.side_by_side import Paths, disagreement


def test_all_ways_tell_the_same_clearances() -> None:
    """A stepped way sees no less than there is, and half a step more at most."""
    for name, off in disagreement(Paths(2), 1).items():
        assert off < 0.1, name
