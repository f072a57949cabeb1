"""What a try of a run comes to by chance, on a grid of times: what the policy's dynamic programming needs to know.

Drawn from the matches of a bank in which the try was made: how long making ready takes after each class of runs and
with the robot in or out, when which act is done, when and how the try ends. A time that falls between two cells of the
grid counts for both by its nearness, which takes values between them to be on a straight line.
"""

from __future__ import annotations

import numpy as np

from fieldsim.match.play import Floats, Ints
from fieldsim.match.states import States
from fieldsim.sim.kernel.match import LEAST, MEAN, SD
from fieldsim.sim.kernel.match_policy import Chances

# Matches that a try is told from, evenly spaced.
MOST_SAMPLES = 4000

# So much of a cell is a matter of rounding.
MOMENT = 1e-9


def chances_of(states: States, step: float) -> Chances:
    """The chances of every try of every run in cells of ``step`` seconds."""
    rules, tries = states.rules, states.tries
    runs, acts = rules.target.shape
    times = round(rules.limit / step) + 1
    ends = max([1, *(len(each.made) for row in states.ends for each in row)])
    table = runs + 1, 2, runs, tries
    start = np.full(table, times, dtype=np.int64)
    done, home = np.zeros((*table, acts, times)), np.zeros((*table, times))
    first, last = np.zeros((*table, ends), dtype=np.int64), np.zeros((*table, ends), dtype=np.int64)
    shares: dict[tuple[int, ...], Floats] = {}
    before = sorted({*(states.alike[r] for r in states.runs), runs})
    for r in states.runs:
        for j in range(tries):
            told = _Try(states, r, j)
            if not told.many:
                continue
            for b in before:
                # Nothing is changed before the first run, and no robot stands out.
                for out in range(1 if b == runs else 2):
                    at = b, out, r, j
                    least = -1.0 if b == runs else float(rules.change[b, r, MEAN]) + out * float(rules.rescue[MEAN])
                    start[at] = max(0, int(np.floor(least / step + MOMENT)) + 1) if least > -1.0 else 0
                    ready = told.ready(b, bool(out)) / step
                    # It counts only where the hand is done before the time is up.
                    begun = np.floor(ready + MOMENT).astype(np.int64) + 1
                    for act in range(acts):
                        done[at][act] = _within(
                            np.maximum(begun, _cells(ready + told.ends[act] / step)), times, told.many
                        )
                    takes = ready + told.seconds / step
                    reached = np.maximum(begun, _cells(takes))
                    home[at] = _within(reached[told.home], times, told.many)
                    for kind in range(len(told.made)):
                        here = told.kind == kind
                        lowest, share = _spread(takes[here], reached[here], times, told.many)
                        first[(*at, kind)], last[(*at, kind)] = lowest, lowest + len(share)
                        shares[(*at, kind)] = share
    cells = max([1, *(len(share) for share in shares.values())])
    share = np.zeros((*table, ends, cells))
    for where, each in shares.items():
        share[where][: len(each)] = each
    return Chances(np.minimum(start, times), done, home, first, last, share)


class _Try:
    """Try j of run r in evenly spaced matches of those in which it was made."""

    def __init__(self, states: States, r: int, j: int) -> None:
        self.rules = rules = states.rules
        drawn = states.bank.drawn
        there, self.made, kind = states.ends[r][j]
        self.run = r
        self.many = many = min(MOST_SAMPLES, len(there))
        pick = (np.arange(many) * len(there)) // max(many, 1)
        m = there[pick]
        self.kind = kind[pick]
        self.home = drawn.home[m, r, j] != 0
        self.seconds: Floats = drawn.seconds[m, r, j]
        self._change, self._rescue = drawn.change[m, r, j], drawn.rescue[m, r, j]
        hit = drawn.hit[m, r, j] != 0
        target = rules.target[r]
        # (A, K) when each act is done; never if it is not, and a target that an earlier act hits scores no second time.
        self.ends = np.full((len(target), many), np.inf)
        for act, name in enumerate(target):
            twice = hit[:, :act][:, target[:act] == name].any(axis=1)
            good = hit[:, act] & ~twice & (name >= 0)
            self.ends[act][good] = drawn.ends[m, r, j, act][good]

    def ready(self, before: int, out: bool) -> Floats:
        """(K,) seconds by hand until it can start."""
        if before == len(self.rules.needs):
            return np.zeros(self.many)
        ready = _by_hand(self.rules.change[before, self.run], self._change)
        return ready + _by_hand(self.rules.rescue, self._rescue) if out else ready


def _by_hand(times: Floats, drawn: Floats) -> Floats:
    return np.asarray(np.maximum(times[LEAST], times[MEAN] + times[SD] * drawn))


def _cells(takes: Floats) -> Ints:
    """The first cell that is not under each number of cells."""
    return np.ceil(np.minimum(takes, 1e15) - MOMENT).astype(np.int64)


def _within(cells: Ints, times: int, many: int) -> Floats:
    """(T,) the share of so many that is within each number of cells."""
    return np.asarray(np.cumsum(np.bincount(cells[cells < times], minlength=times)[:times]) / many)


def _spread(takes: Floats, reached: Ints, times: int, many: int) -> tuple[int, Floats]:
    """How many cells tries take, as shares of so many, from the fewest on."""
    inside = reached < times
    takes, reached = takes[inside], reached[inside]
    if not len(takes):
        return 0, np.zeros(0)
    # From cell n on with a part left over: at n - 1 by that part, at n by the rest. In cell n - 1 itself the first of
    # both would be the value with no time left, which is nothing.
    part = np.clip(reached - takes, 0.0, 1.0)
    part[part < MOMENT] = 0.0
    lowest = int((reached - (part > 0)).min())
    width = int(reached.max()) - lowest + 1
    share = np.bincount(reached - lowest, 1.0 - part, width)
    share += np.bincount(np.maximum(reached - 1 - lowest, 0), part, width)
    return lowest, share / many
