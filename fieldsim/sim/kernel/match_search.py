"""Orders that are grown run by run, and what any of them could still score at best.

The bound is that of a knapsack with the luck known beforehand. In one match, a run that has had k tries has taken at
least T_k seconds (changes, tries, and rescues where a robot stands out) and brought at most V_k points (of all it hits,
less its rescues). Only the last try of a match takes and costs less: the limit may cut it off after its first hit, and
nobody fetches the robot. So whatever order follows, its points are at most what fills the time that is left, made
longer by the most that a last try can save, if the upper hulls of (T_k, V_k) may be taken in parts, the densest first;
and the points of one rescue. Source: the linear
relaxation of the multiple-choice knapsack; H. Kellerer, U. Pferschy and D. Pisinger, "Knapsack Problems", 2004, chapter
11 (chapter from memory).
"""

from __future__ import annotations

from math import inf

import numpy as np

from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.match import CLOCK, SCORE, Luck, Rules, by_hand, deal, empty_hand, turn
from fieldsim.sim.kernel.shapes import Floats, Ints

# Columns of a part of a hull: points a second, seconds, the run.
DENSITY, SECONDS, RUN = range(3)


@jit
def hulls(rules: Rules, luck: Luck, first: int, count: int, parts: Floats, longer: Floats) -> None:
    """Fill ``parts`` (M, R J, 3), the densest first and rows of density 0 behind, and ``longer`` (M, 2), the
    seconds and points that a last try can save."""
    runs, tries = luck.seconds.shape[1:]
    t = np.zeros(tries + 1)
    v = np.zeros(tries + 1)
    corner = np.zeros(tries + 1, dtype=np.int64)
    order = np.zeros(runs * tries, dtype=np.int64)
    found = np.zeros((runs * tries, 3))
    for m in range(first, first + count):
        n = 0
        longer[m] = 0.0
        for run in range(runs):
            hit = np.int64(0)
            home = False
            steps = 0
            for number in range(tries):
                if number > 0:
                    if luck.through[m, run, number - 1] != 0:
                        break
                    ready = by_hand(rules.change[run, run], luck.change[m, run, number])
                else:
                    ready = inf
                    for before in range(runs):
                        if before != run:
                            ready = min(ready, by_hand(rules.change[before, run], luck.change[m, run, number]))
                    if runs == 1:
                        ready = 0.0
                seconds = luck.seconds[m, run, number]
                value = v[number]
                soonest = seconds
                for act in range(rules.target.shape[1]):
                    target = rules.target[run, act]
                    if target >= 0 and luck.hit[m, run, number, act] != 0 and rules.points[target] > 0.0:
                        soonest = min(soonest, luck.ends[m, run, number, act])
                        if (hit >> target) & 1 == 0:
                            hit |= np.int64(1) << target
                            value += rules.points[target]
                if luck.home[m, run, number] != 0 and not home:
                    home = True
                    value += max(0.0, rules.finish)
                saved = seconds - soonest
                steps = number + 1
                t[steps] = t[number] + ready + seconds
                v[steps] = value
                if luck.out[m, run, number] != 0:
                    fetch = by_hand(rules.rescue, luck.rescue[m, run, number])
                    saved += fetch
                    t[steps] += fetch
                    v[steps] += rules.rescue_points
                    longer[m, 1] = -rules.rescue_points
                longer[m, 0] = max(longer[m, 0], saved)
            # The upper hull, from the left; what lies on it or below it drops out.
            size = 1
            corner[0] = 0
            for k in range(1, steps + 1):
                while size > 1:
                    a, b = corner[size - 2], corner[size - 1]
                    if (v[b] - v[a]) * (t[k] - t[a]) <= (v[k] - v[a]) * (t[b] - t[a]):
                        size -= 1
                    else:
                        break
                if v[k] > v[corner[size - 1]]:
                    corner[size] = k
                    size += 1
            for k in range(1, size):
                a, b = corner[k - 1], corner[k]
                long = t[b] - t[a]
                found[n, DENSITY] = (v[b] - v[a]) / long if long > 0.0 else inf
                found[n, SECONDS] = long
                found[n, RUN] = run
                # A try that takes no time at all is counted as points a second of no second: keep its points.
                if long <= 0.0:
                    found[n, SECONDS] = -(v[b] - v[a])
                n += 1
        order[:n] = np.argsort(-found[:n, DENSITY])
        parts[m] = 0.0
        for k in range(n):
            for column in range(3):
                parts[m, k, column] = found[order[k], column]


@jit
def at_best(parts: Floats, done: int, left: float) -> float:
    """What the runs that are not done could score at most in so many seconds; ``parts`` (R J, 3) of one match."""
    points = 0.0
    for k in range(len(parts)):
        density, seconds = parts[k, DENSITY], parts[k, SECONDS]
        if density <= 0.0:
            break
        if (done >> int(parts[k, RUN])) & 1 != 0:
            continue
        if density == inf:
            points -= seconds
        elif seconds < left:
            points += density * seconds
            left -= seconds
        else:
            points += density * left
            break
    return points


@jit
def grow(
    rules: Rules, luck: Luck, parts: Floats, longer: Floats, whole: Ints, real: Floats, runs: Ints, done: int,
    grown_whole: Ints, grown_real: Floats, score: Floats, bound: Floats,
) -> None:  # fmt: skip
    """An order longer by each of ``runs`` (C,): from its states, whole (M, WHOLE) and real (M, REAL), to those of the
    longer ones (C, M, ...), their mean score (C,) and what any order that begins so scores at most on average (C,)."""
    hand = empty_hand(luck.seconds.shape[1], luck.seconds.shape[2], rules.target.shape[1])
    untold = np.zeros(0)
    matches = len(luck.seconds)
    score[:] = 0.0
    bound[:] = 0.0
    for m in range(matches):
        deal(rules, luck, m, hand)
        for c in range(len(runs)):
            for column in range(whole.shape[1]):
                grown_whole[c, m, column] = whole[m, column]
            grown_real[c, m, CLOCK] = real[m, CLOCK]
            grown_real[c, m, SCORE] = real[m, SCORE]
            turn(rules, hand, luck, m, runs[c], grown_whole[c, m], grown_real[c, m], untold)
            now = grown_real[c, m, SCORE]
            score[c] += now
            bound[c] += now
            left = rules.limit - grown_real[c, m, CLOCK]
            if left > 0.0:
                bound[c] += at_best(parts[m], done | (np.int64(1) << runs[c]), left + longer[m, 0]) + longer[m, 1]
    for c in range(len(runs)):
        score[c] /= matches
        bound[c] /= matches
