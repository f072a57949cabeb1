"""One match after another: the clock, changes by hand, tries and rescues, and what is scored.

A match is played from tables of luck: what each try of each run would do, whatever else is driven. So every order of
the runs is played on the same luck, and playing one costs some additions.

**All orders at once.** The orders of all choices of runs form a tree: a node is a run driven after those above it, and
what has been scored up to there is the score of the order that ends there. Nodes are numbered as they are met (a node,
then all below it), so what lies below a node is the stretch from it to ``skip[node]``. Each match walks through the
numbers once with a state for each depth; what a node scores more than the one above it is added where its stretch
begins and taken away where it ends, so a stretch in which nothing can be driven any more is jumped over. One running
sum at the end gives the total of every order.

What is played again and again is first taken into a small hand of arrays, one match at a time. ``turn`` is the only
place where it says how a match goes; it is inlined, since handing over the arrays costs more than the additions.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.sim.kernel.jit import inlined, jit
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


class Hand(NamedTuple):
    """The luck of one match in a form that is quick to play: R runs, J tries, A acts."""

    ready: Floats
    """(R, R, J) seconds of the change from one run to another."""
    fetch: Floats
    """(R, J) seconds of the rescue after a try; -1 if there is nothing to fetch."""
    seconds: Floats
    """(R, J) of the try."""
    through: Ints
    """(R, J) the run's bit if it gets through."""
    home: Ints
    """(R, J) the run's bit if it ends inside its finish."""
    scores: Ints
    """(R, J) how many acts have their tool in place."""
    at: Floats
    """(R, J, A) seconds at which each of those ends."""
    what: Ints
    """(R, J, A) its target."""
    worth: Ints
    """(R,) the bits of the targets that score, of each run."""


@inlined
def by_hand(times: Floats, drawn: float) -> float:
    """Seconds of something done by hand."""
    seconds: float = max(times[LEAST], times[MEAN] + times[SD] * drawn)
    return seconds


@jit
def empty_hand(runs: int, tries: int, acts: int) -> Hand:
    return Hand(
        np.zeros((runs, runs, tries)),
        np.zeros((runs, tries)),
        np.zeros((runs, tries)),
        np.zeros((runs, tries), dtype=np.int64),
        np.zeros((runs, tries), dtype=np.int64),
        np.zeros((runs, tries), dtype=np.int64),
        np.zeros((runs, tries, acts)),
        np.zeros((runs, tries, acts), dtype=np.int64),
        np.zeros(runs, dtype=np.int64),
    )


@jit
def deal(rules: Rules, luck: Luck, m: int, hand: Hand) -> None:
    """Take the luck of match ``m`` into the hand."""
    one = np.int64(1)
    runs, tries = hand.seconds.shape
    for run in range(runs):
        hand.worth[run] = 0
        for act in range(rules.target.shape[1]):
            target = rules.target[run, act]
            if target >= 0 and rules.points[target] > 0.0:
                hand.worth[run] |= one << target
        for number in range(tries):
            for before in range(runs):
                hand.ready[before, run, number] = by_hand(rules.change[before, run], luck.change[m, run, number])
            out = luck.out[m, run, number] != 0
            hand.fetch[run, number] = by_hand(rules.rescue, luck.rescue[m, run, number]) if out else -1.0
            hand.seconds[run, number] = luck.seconds[m, run, number]
            hand.through[run, number] = one << run if luck.through[m, run, number] != 0 else 0
            hand.home[run, number] = one << run if luck.home[m, run, number] != 0 else 0
            count = 0
            for act in range(rules.target.shape[1]):
                if luck.hit[m, run, number, act] != 0:
                    hand.at[run, number, count] = luck.ends[m, run, number, act]
                    hand.what[run, number, count] = rules.target[run, act]
                    count += 1
            hand.scores[run, number] = count


@inlined
def turn(rules: Rules, hand: Hand, luck: Luck, m: int, run: int, whole: Ints, real: Floats, entry: Floats) -> None:
    """A run's turn in an order: left out if what it needs is not there; tried again as the rules say. What is told of
    it is added to ``entry`` (LEDGER,), if that has room.

    Whoever knows only what things take on average starts nothing that could not start before the limit. An act counts
    if it ends by the limit; so does a finish. A run that the limit cuts is not through, and nobody fetches the robot
    any more.
    """
    told = len(entry) > 0
    one = np.int64(1)
    limit = rules.limit
    clock, last, tried = real[CLOCK], whole[LAST], whole[TRY]
    if rules.needs[run] & ~whole[THROUGH] == 0:
        for number in range(hand.seconds.shape[1]):
            # Another try is of use if something is left to score, or a run that needs it has not had its turn.
            if (
                number > 0
                and hand.worth[run] & ~whole[HIT] == 0
                and (rules.finish <= 0.0 or rules.finishes[run] == 0 or (whole[HOME] >> run) & 1 != 0)
                and rules.needed[run] & ~whole[DONE] == 0
            ):
                break
            if last >= 0:
                fetch = hand.fetch[last, tried]
                expected = clock + rules.change[last, run, MEAN]
                if fetch >= 0.0:
                    expected += rules.rescue[MEAN]
                if expected >= limit:
                    if told:
                        entry[CUT] = 1.0
                    break
                if fetch >= 0.0:
                    real[SCORE] += rules.rescue_points
                    if told:
                        entry[RESCUING] += min(fetch, limit - clock)
                        entry[LOST] += rules.rescue_points
                    clock = min(clock + fetch, limit)
                ready = hand.ready[last, run, number]
                if told:
                    entry[CHANGING] += min(ready, limit - clock)
                clock = min(clock + ready, limit)
            last, tried = run, number
            left = limit - clock
            if left <= 0.0:
                if told:
                    entry[CUT] = 1.0
                break
            for hit in range(hand.scores[run, number]):
                target = hand.what[run, number, hit]
                if hand.at[run, number, hit] <= left and (whole[HIT] >> target) & 1 == 0:
                    whole[HIT] |= one << target
                    real[SCORE] += rules.points[target]
                    if told:
                        entry[EARNED] += rules.points[target]
            seconds = hand.seconds[run, number]
            if told:
                acting = 0.0
                for act in range(luck.begins.shape[3]):
                    begins = luck.begins[m, run, number, act]
                    if begins < left:
                        acting += min(luck.ends[m, run, number, act], left) - begins
                if entry[TRIES] == 0.0:
                    entry[FIRST] = entry[CHANGING] + entry[RESCUING]
                entry[TRIES] += 1.0
                entry[ACTING] += acting
                entry[DRIVING] += min(seconds, left) - acting
            if seconds > left:
                clock = limit
                if told:
                    entry[CUT] = 1.0
                break
            clock += seconds
            new = hand.home[run, number] & ~whole[HOME]
            if new != 0:
                whole[HOME] |= new
                real[SCORE] += rules.finish
                if told:
                    entry[EARNED] += rules.finish
            if hand.through[run, number] != 0:
                whole[THROUGH] |= one << run
                if told:
                    entry[SUCCESS] = 1.0
                break
    real[CLOCK], whole[LAST], whole[TRY] = clock, last, tried
    whole[DONE] |= one << run


@jit
def play(
    rules: Rules, luck: Luck, order: Ints, first: int, count: int, score: Floats, clock: Floats, ledger: Floats
) -> None:
    """Play matches ``first`` and on in one order of runs: fill score (M,), clock (M,) and ledger (M, R, LEDGER)."""
    whole = np.zeros(WHOLE, dtype=np.int64)
    real = np.zeros(REAL)
    hand = empty_hand(luck.seconds.shape[1], luck.seconds.shape[2], rules.target.shape[1])
    for m in range(first, first + count):
        deal(rules, luck, m, hand)
        whole[:] = 0
        whole[LAST] = -1
        real[:] = 0.0
        for run in order:
            turn(rules, hand, luck, m, run, whole, real, ledger[m, run])
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
    untold = np.zeros(0)
    hand = empty_hand(luck.seconds.shape[1], luck.seconds.shape[2], rules.target.shape[1])
    soonest = inf
    for a in range(rules.change.shape[0]):
        for b in range(rules.change.shape[0]):
            soonest = min(soonest, rules.change[a, b, MEAN])
    whole[0, LAST] = -1
    for m in range(first, first + count):
        deal(rules, luck, m, hand)
        node = 0
        while node < len(run):
            d = depth[node]
            for column in range(WHOLE):
                whole[d, column] = whole[d - 1, column]
            real[d, CLOCK] = real[d - 1, CLOCK]
            real[d, SCORE] = real[d - 1, SCORE]
            turn(rules, hand, luck, m, run[node], whole[d], real[d], untold)
            more = real[d, SCORE] - real[d - 1, SCORE]
            if more != 0.0:
                total[node] += more
                total[skip[node]] -= more
            # Below a node where nothing could be made ready in time nothing changes any more.
            node = skip[node] if real[d, CLOCK] + soonest >= rules.limit else node + 1
