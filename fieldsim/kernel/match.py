"""One match after another: the clock, changes by hand, tries and rescues, and what is scored.

A match is played from tables of luck: what each try of each run would do, whatever else is driven. So every order of
the runs is played on the same luck, and playing one costs some additions.

**All orders at once.** The orders of all choices of runs form a tree: a node is a run driven after those above it, and
what has been scored up to there is the score of the order that ends there. Nodes are numbered as they are met (a node,
then all below it), so what lies below a node is the stretch from it to ``skip[node]``. Each match walks through the
numbers once with a state for each depth; what a node scores more than the one above it is added where its stretch
begins and taken away where it ends, so a stretch in which nothing can be driven any more is jumped over. One running
sum at the end gives the total of every order.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.kernel.jit import jit
from fieldsim.kernel.shapes import Floats, Ints

Flags = NDArray[np.uint8]

# Columns of a state's whole numbers and of its real ones.
HIT, THROUGH, DONE, HOME, LAST, TRY = range(6)
CLOCK, SCORE = range(2)
WHOLE, REAL = 6, 2

# Columns of a run's ledger: points of targets and finish, points of rescues, seconds of driving, of acting, of changing
# over, of rescuing, tries, whether it got through, whether the limit cut it.
EARNED, LOST, DRIVING, ACTING, CHANGING, RESCUING, TRIES, SUCCESS, CUT = range(9)
LEDGER = 9

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


class Luck(NamedTuple):
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


@jit
def begin(whole: Ints, real: Floats) -> None:
    """The state before the first run: the robot stands ready."""
    whole[:] = 0
    whole[LAST] = -1
    real[:] = 0.0


@jit
def something_left(rules: Rules, whole: Ints, run: int) -> bool:
    """Whether another try of a run could score anything, or is needed by a run that has not had its turn."""
    if rules.finish > 0.0 and rules.finishes[run] != 0 and (whole[HOME] >> run) & 1 == 0:
        return True
    for act in range(rules.target.shape[1]):
        target = rules.target[run, act]
        if target >= 0 and rules.points[target] > 0.0 and (whole[HIT] >> target) & 1 == 0:
            return True
    return bool(rules.needed[run] & ~whole[DONE] != 0)


@jit
def by_hand(times: Floats, drawn: float) -> float:
    """Seconds of something done by hand."""
    seconds: float = max(times[LEAST], times[MEAN] + times[SD] * drawn)
    return seconds


@jit
def expected_start(rules: Rules, whole: Ints, real: Floats, run: int, out: bool) -> float:
    """When a run could start if rescue and change took as long as on average: all that the team knows before."""
    start: float = real[CLOCK]
    if whole[LAST] >= 0:
        start += rules.change[whole[LAST], run, MEAN]
        if out:
            start += rules.rescue[MEAN]
    return start


@jit
def one_try(rules: Rules, luck: Luck, m: int, run: int, number: int, whole: Ints, real: Floats, entry: Floats) -> bool:
    """Make ready and drive one try; whether it got through in time. ``entry`` (LEDGER,) is added to.

    An act counts if it ends by the limit; so does a finish. A run that the limit cuts is not through, and nobody
    fetches the robot any more.
    """
    last = whole[LAST]
    clock = real[CLOCK]
    if last >= 0:
        if luck.out[m, last, whole[TRY]] != 0:
            seconds = by_hand(rules.rescue, luck.rescue[m, last, whole[TRY]])
            entry[RESCUING] += min(seconds, rules.limit - clock)
            entry[LOST] += rules.rescue_points
            real[SCORE] += rules.rescue_points
            clock = min(clock + seconds, rules.limit)
        seconds = by_hand(rules.change[last, run], luck.change[m, run, number])
        entry[CHANGING] += min(seconds, rules.limit - clock)
        clock = min(clock + seconds, rules.limit)
    whole[LAST] = run
    whole[TRY] = number
    real[CLOCK] = clock
    if clock >= rules.limit:
        return False
    entry[TRIES] += 1.0
    left = rules.limit - clock
    for act in range(rules.target.shape[1]):
        target = rules.target[run, act]
        if target < 0:
            break
        ends = luck.ends[m, run, number, act]
        begins = luck.begins[m, run, number, act]
        if begins < left:
            entry[ACTING] += min(ends, left) - begins
            entry[DRIVING] -= min(ends, left) - begins
        if luck.hit[m, run, number, act] != 0 and ends <= left and (whole[HIT] >> target) & 1 == 0:
            whole[HIT] |= np.int64(1) << target
            entry[EARNED] += rules.points[target]
            real[SCORE] += rules.points[target]
    seconds = luck.seconds[m, run, number]
    if seconds > left:
        entry[DRIVING] += left
        entry[CUT] = 1.0
        real[CLOCK] = rules.limit
        return False
    entry[DRIVING] += seconds
    real[CLOCK] = clock + seconds
    if luck.home[m, run, number] != 0 and (whole[HOME] >> run) & 1 == 0:
        whole[HOME] |= np.int64(1) << run
        entry[EARNED] += rules.finish
        real[SCORE] += rules.finish
    if luck.through[m, run, number] == 0:
        return False
    whole[THROUGH] |= np.int64(1) << run
    entry[SUCCESS] = 1.0
    return True


@jit
def turn(rules: Rules, luck: Luck, m: int, run: int, whole: Ints, real: Floats, entry: Floats) -> None:
    """A run's turn in an order: left out if what it needs is not there; tried again as the rules say. Whoever knows
    only what things take on average starts nothing that could not start before the limit."""
    if rules.needs[run] & ~whole[THROUGH] == 0:
        for number in range(luck.seconds.shape[2]):
            if number > 0 and not something_left(rules, whole, run):
                break
            last = whole[LAST]
            out = last >= 0 and luck.out[m, last, whole[TRY]] != 0
            if expected_start(rules, whole, real, run, out) >= rules.limit:
                break
            if one_try(rules, luck, m, run, number, whole, real, entry) or real[CLOCK] >= rules.limit:
                break
    whole[DONE] |= np.int64(1) << run


@jit
def play(
    rules: Rules, luck: Luck, order: Ints, first: int, count: int, score: Floats, clock: Floats, ledger: Floats
) -> None:
    """Play matches ``first`` and on in one order of runs: fill score (M,), clock (M,) and ledger (M, R, LEDGER)."""
    whole = np.zeros(WHOLE, dtype=np.int64)
    real = np.zeros(REAL)
    for m in range(first, first + count):
        begin(whole, real)
        for run in order:
            turn(rules, luck, m, run, whole, real, ledger[m, run])
        score[m] = real[SCORE]
        clock[m] = real[CLOCK]


@jit
def walk(rules: Rules, luck: Luck, run: Ints, depth: Ints, skip: Ints, first: int, count: int, total: Floats) -> None:
    """Play some matches in every order of a tree, see above. ``run``, ``depth`` (from 1) and ``skip`` are (N,);
    ``total`` (N + 1,) is added to, and is to be summed up in turn."""
    deepest = 0
    for node in range(len(depth)):
        deepest = max(deepest, depth[node])
    whole = np.zeros((deepest + 1, WHOLE), dtype=np.int64)
    real = np.zeros((deepest + 1, REAL))
    entry = np.zeros(LEDGER)
    soonest = inf
    for a in range(rules.change.shape[0]):
        for b in range(rules.change.shape[0]):
            soonest = min(soonest, rules.change[a, b, MEAN])
    for m in range(first, first + count):
        begin(whole[0], real[0])
        node = 0
        while node < len(run):
            d = depth[node]
            for column in range(WHOLE):
                whole[d, column] = whole[d - 1, column]
            real[d, CLOCK] = real[d - 1, CLOCK]
            real[d, SCORE] = real[d - 1, SCORE]
            turn(rules, luck, m, run[node], whole[d], real[d], entry)
            more = real[d, SCORE] - real[d - 1, SCORE]
            if more != 0.0:
                total[node] += more
                total[skip[node]] -= more
            # Below a node where nothing could be made ready in time nothing changes any more.
            node = skip[node] if real[d, CLOCK] + soonest >= rules.limit else node + 1
