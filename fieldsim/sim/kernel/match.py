"""One match after another: the clock, changes by hand, tries and rescues, and what is scored. See c/match.h."""

from __future__ import annotations

from ctypes import byref
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.sim.kernel.library import (
    ARRAY,
    DRAWN,
    RULES,
    SIZE,
    STATUS,
    PackedDrawn,
    PackedRules,
    array,
    floats,
    function,
    ints,
    within,
    worked,
)
from fieldsim.sim.kernel.shapes import Floats, Ints

Flags = NDArray[np.uint8]

# Columns of a state's whole numbers and of its real ones.
HIT, THROUGH, DONE, HOME, LAST, TRY = range(6)
CLOCK, SCORE = range(2)
WHOLE, REAL = 6, 2

# Columns of a run's ledger: points of targets and finish, points of rescues, seconds of driving, of acting, of changing
# over, of rescuing, tries, whether it got through, whether the limit cut it, seconds by hand before its first try.
EARNED, LOST, DRIVING, ACTING, CHANGING, RESCUING, TRIES, SUCCESS, CUT, FIRST = range(10)
LEDGER = 10

# Columns of a change: mean, standard deviation and least seconds.
MEAN, SD, LEAST = range(3)


class Rules(NamedTuple):
    """What is the same in every match. R runs, A acts at most, T targets. Sets of runs or targets are bits."""

    limit: float
    change: Floats
    """(R, R, 3) seconds from one run to another: mean, sd, least."""
    rescue: Floats
    """(3,) the same of a rescue."""
    rescue_points: float
    finish: float
    """Points for a run that ends inside its finish."""
    points: Floats
    """(T,) of each target."""
    target: Ints
    """(R, A) the target of each act; -1 behind the last."""
    needs: Ints
    """(R,) the runs each needs."""
    needed: Ints
    """(R,) the runs that need it."""
    finishes: Ints
    """(R,) 1 if it has a finish."""


class Drawn(NamedTuple):
    """What each try of each run would do in each match. M matches, R runs, J tries, A acts."""

    seconds: Floats
    """(M, R, J) from the start until it ends or stops."""
    begins: Floats
    """(M, R, J, A) seconds at which each act begins; infinite if it is not reached."""
    ends: Floats
    """(M, R, J, A) and ends."""
    hit: Flags
    """(M, R, J, A) whether its tool is in place."""
    through: Flags
    """(M, R, J) whether it gets through."""
    home: Flags
    """(M, R, J) whether it ends inside its finish."""
    out: Flags
    """(M, R, J) whether it stands out on the field at the end."""
    change: Floats
    """(M, R, J) drawn number of the changeover before it."""
    rescue: Floats
    """(M, R, J) drawn number of the rescue after it."""


def packed_rules(rules: Rules) -> Any:
    """For the C side, checked. Raises ValueError if a run or target is named that is not there."""
    runs, acts = rules.target.shape
    targets = len(rules.points)
    if runs > 63 or targets > 63:
        raise ValueError(f"a match can have 63 runs and 63 targets, not {runs} and {targets}")
    within(rules.target, -1, targets, "a target")
    return PackedRules(
        rules.limit, floats(rules.change, runs, runs, 3), floats(rules.rescue, 3), rules.rescue_points, rules.finish,
        floats(rules.points, targets), ints(rules.target, runs, acts), ints(rules.needs, runs),
        ints(rules.needed, runs), ints(rules.finishes, runs), runs, acts,
    )  # fmt: skip


def packed_drawn(drawn: Drawn, runs: int, acts: int) -> Any:
    """For the C side, checked."""
    matches, _, tries = drawn.seconds.shape
    each = matches, runs, tries

    def flags(values: Flags, *shape: int) -> int:
        return array(values, np.uint8, *shape)

    return PackedDrawn(
        floats(drawn.seconds, *each), floats(drawn.begins, *each, acts), floats(drawn.ends, *each, acts),
        flags(drawn.hit, *each, acts), flags(drawn.through, *each), flags(drawn.home, *each), flags(drawn.out, *each),
        floats(drawn.change, *each), floats(drawn.rescue, *each), matches, tries,
    )  # fmt: skip


def packed_both(rules: Rules, drawn: Drawn) -> tuple[Any, Any]:
    runs, acts = rules.target.shape
    return packed_rules(rules), packed_drawn(drawn, runs, acts)


def _some(first: int, count: int, matches: int) -> None:
    if not 0 <= first <= first + count <= matches:
        raise ValueError(f"matches {first} to {first + count} are not among {matches}")


def play(
    rules: Rules, drawn: Drawn, order: Ints, first: int, count: int, score: Floats, clock: Floats, ledger: Floats
) -> None:
    """Play matches ``first`` and on in one order of runs: fill score (M,), clock (M,) and ledger (M, R, LEDGER)."""
    matches, runs, _ = drawn.seconds.shape
    _some(first, count, matches)
    within(order, 0, runs, "a run of the order")
    both = packed_both(rules, drawn)
    call = function("play", STATUS, RULES, DRAWN, ARRAY, SIZE, SIZE, SIZE, ARRAY, ARRAY, ARRAY)
    worked(
        call(byref(both[0]), byref(both[1]), ints(order, None), len(order), first, count, floats(score, matches),
             floats(clock, matches), floats(ledger, matches, runs, LEDGER))
    )  # fmt: skip


def walk(rules: Rules, drawn: Drawn, run: Ints, depth: Ints, skip: Ints, first: int, count: int, total: Floats) -> None:
    """Play some matches in every order of a tree. ``run``, ``depth`` (from 1) and ``skip`` are (N,): a node is a run
    driven after those above it, what lies below it is the stretch from it to ``skip``. ``total`` (N + 1,) is added to,
    and is to be summed up in turn."""
    matches, runs, _ = drawn.seconds.shape
    nodes = len(run)
    _some(first, count, matches)
    within(run, 0, runs, "a run of the tree")
    if nodes and (depth[0] != 1 or (np.diff(depth) > 1).any() or (depth < 1).any()):
        raise ValueError("the depths of a tree do not follow each other")
    if (skip <= np.arange(nodes)).any() or (skip > nodes).any():
        raise ValueError("a node of a tree skips to before itself or past the end")
    both = packed_both(rules, drawn)
    call = function("walk", STATUS, RULES, DRAWN, ARRAY, ARRAY, ARRAY, SIZE, SIZE, SIZE, ARRAY)
    worked(
        call(byref(both[0]), byref(both[1]), ints(run, nodes), ints(depth, nodes), ints(skip, nodes), nodes, first,
             count, floats(total, nodes + 1))
    )  # fmt: skip
