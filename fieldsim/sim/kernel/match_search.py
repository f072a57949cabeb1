"""Orders that are grown run by run, and what any of them could still score at best: c/match.h."""

from __future__ import annotations

from ctypes import byref

from fieldsim.sim.kernel.library import ARRAY, DRAWN, RULES, SIZE, STATUS, floats, function, ints, within, worked
from fieldsim.sim.kernel.match import REAL, WHOLE, Drawn, Rules, packed_both
from fieldsim.sim.kernel.shapes import Floats, Ints


def hulls(rules: Rules, drawn: Drawn, first: int, count: int, parts: Floats, longer: Floats) -> None:
    """Fill ``parts`` (M, R J, 3), the parts of hulls: points a second, seconds, the run; the densest first and rows of
    density 0 behind. And ``longer`` (M, 2), the seconds and points that a last try can save."""
    matches, runs, tries = drawn.seconds.shape
    if not 0 <= first <= first + count <= matches:
        raise ValueError(f"matches {first} to {first + count} are not among {matches}")
    both = packed_both(rules, drawn)
    call = function("hulls", STATUS, RULES, DRAWN, SIZE, SIZE, ARRAY, ARRAY)
    worked(
        call(byref(both[0]), byref(both[1]), first, count, floats(parts, matches, runs * tries, 3),
             floats(longer, matches, 2))
    )  # fmt: skip


def grow(
    rules: Rules, drawn: Drawn, parts: Floats, longer: Floats, whole: Ints, real: Floats, runs: Ints, done: int,
    grown_whole: Ints, grown_real: Floats, score: Floats, bound: Floats,
) -> None:  # fmt: skip
    """An order longer by each of ``runs`` (C,): from its states, whole (M, WHOLE) and real (M, REAL), to those of the
    longer ones (C, M, ...), their mean score (C,) and what any order that begins so scores at most on average (C,)."""
    matches, all_runs, tries = drawn.seconds.shape
    count = len(runs)
    within(runs, 0, all_runs, "a run of an order")
    within(whole[:, -2], -1, all_runs, "the last run of an order")
    within(whole[:, -1], 0, tries, "the last try of an order")
    within(parts[..., 2].astype("int64"), 0, all_runs, "the run of a hull")
    both = packed_both(rules, drawn)
    call = function(
        "grow", STATUS, RULES, DRAWN, ARRAY, ARRAY, ARRAY, ARRAY, ARRAY, SIZE, SIZE, ARRAY, ARRAY, ARRAY, ARRAY
    )  # fmt: skip
    worked(
        call(byref(both[0]), byref(both[1]), floats(parts, matches, all_runs * tries, 3), floats(longer, matches, 2),
             ints(whole, matches, WHOLE), floats(real, matches, REAL), ints(runs, count), count, done,
             ints(grown_whole, count, matches, WHOLE), floats(grown_real, count, matches, REAL), floats(score, count),
             floats(bound, count))
    )  # fmt: skip
