"""The best order of the runs, and which of them to drop: exact for few runs, with a proven bound for many.

An order is judged by its mean score over some matches. Up to ``EXACT`` runs every order of every choice is played.
Beyond, orders are grown run by run and kept while they may still be the best: two that leave every match in the same
state are one, and one that cannot beat the best found so far is dropped (branch and bound; the bound is in
``kernel.match_search``). If more than ``width`` are left, the most promising are kept, and the best bound among the
others says how much better an order that was not looked at could be at most. What is found is then changed a little
(two runs swapped, one moved, put in or left out) as long as that helps.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fieldsim.match.bank import Bank
from fieldsim.match.play import Floats, Ints, Order, Tree, means, tree
from fieldsim.model.match import Match
from fieldsim.sim.kernel.match import CLOCK, LAST, REAL, TRY, WHOLE
from fieldsim.sim.kernel.match_search import grow, hulls

# Every order of so many runs is played: 109,600 of 8.
EXACT = 8

# Orders of many runs are grown on so many matches, and so many orders are kept for each length of them.
GROWN_ON = 1_000
WORK = 100_000
NARROWEST = 50

# Differences of mean scores that are rounding.
HAIR = 1e-9


@dataclass(frozen=True)
class Found:
    """The best order found."""

    order: Order
    score: float
    """Its mean score in the matches it was looked for in."""
    tried: int
    """Orders that were played, beginnings of orders included."""
    exact: bool
    """No other order is better in these matches."""
    bound: float
    """No order's mean is above this in the matches it was grown on."""
    reached: float
    """The mean of the order found in those."""

    @property
    def at_most_better(self) -> float:
        """How many points better than the one found another order could be at most, in the matches it was grown on."""
        return max(0.0, self.bound - self.reached)


def best_order(bank: Bank, threads: int | None = None, exact: int = EXACT, width: int | None = None) -> Found:
    """The order with the highest mean score over the matches of a bank; of equal ones the shortest, then the first."""
    match = bank.match
    if len(match.runs) <= exact:
        every = tree(match)
        found = means(bank, every, threads)
        order = _first_of_best(every.orders(), found)
        top = float(found.max())
        return Found(order, top, len(found), True, top, top)
    part = bank.part(0, min(GROWN_ON, len(bank)))
    grown, bound, tried = _grown(part, threads, width or max(NARROWEST, WORK // len(part)))
    order, score, more = _polished(bank, grown, threads)
    reached = float(means(part, branches([order]), threads)[-1])
    return Found(order, score, tried + more, bound <= reached + HAIR and len(part) == len(bank), bound, reached)


def _first_of_best(orders: Sequence[Order], scores: Floats) -> Order:
    good = [orders[int(node)] for node in np.flatnonzero(scores >= scores.max() - HAIR)]
    return min(good, key=lambda order: (len(order), order))


def branches(orders: Iterable[Order]) -> Tree:
    """A tree of some orders and their beginnings."""
    nodes = sorted({order[:n] for order in orders for n in range(1, len(order) + 1)})
    skip = [
        next((k for k in range(i + 1, len(nodes)) if nodes[k][: len(node)] != node), len(nodes))
        for i, node in enumerate(nodes)
    ]
    return Tree(
        np.array([node[-1] for node in nodes], dtype=np.int64),
        np.array([len(node) for node in nodes], dtype=np.int64),
        np.array(skip, dtype=np.int64),
    )


def allowed(match: Match, order: Sequence[int]) -> bool:
    """Whether every run comes after those it needs."""
    return all(set(match.needed[run]) <= set(order[:place]) for place, run in enumerate(order))


@dataclass(frozen=True, eq=False)
class _Beginning:
    order: Order
    whole: Ints
    real: Floats
    bound: float


def _grown(bank: Bank, threads: int | None, width: int) -> tuple[Order, float, int]:
    """The best order found by growing, a bound on all orders, and how many beginnings were played."""
    match, rules, drawn = bank.match, bank.rules, bank.drawn
    count, runs = len(bank), len(match.runs)
    parts = np.zeros((count, runs * drawn.seconds.shape[2], 3))
    longer = np.zeros((count, 2))
    hulls(rules, drawn, 0, count, parts, longer)
    # Runs after which every change takes the same.
    alike = [next(b for b in range(runs) if (rules.change[a] == rules.change[b]).all()) for a in range(runs)]
    start = np.zeros((count, WHOLE), dtype=np.int64)
    start[:, LAST] = -1
    layer = [_Beginning((), start, np.zeros((count, REAL)), np.inf)]
    best: tuple[float, Order] = (0.0, ())
    dropped = 0.0
    played = 0

    def longer_ones(each: _Beginning) -> list[tuple[float, _Beginning, tuple[object, ...]]]:
        further = [run for run in range(runs) if run not in each.order and set(match.needed[run]) <= set(each.order)]
        if not further:
            return []
        whole = np.empty((len(further), count, WHOLE), dtype=np.int64)
        real = np.empty((len(further), count, REAL))
        score, bound = np.empty(len(further)), np.empty(len(further))
        done = sum(1 << run for run in each.order)
        grow(rules, drawn, parts, longer, each.whole, each.real, np.array(further), done, whole, real, score, bound)
        made: list[tuple[float, _Beginning, tuple[object, ...]]] = []
        for c, run in enumerate(further):
            order = (*each.order, run)
            # What comes next depends on nothing else: the clock and the score, what is hit and through, and how the
            # robot stands there to be fetched.
            tries = whole[c, :, TRY]
            out = drawn.out[np.arange(count), run, tries].astype(bool)
            fetch = np.where(out, drawn.rescue[np.arange(count), run, tries], 0.0)
            state = np.column_stack([np.round(real[c], 6), whole[c, :, :LAST], out, np.round(fetch, 6)])
            key = (alike[run], (state + 0.0).tobytes())
            made.append((float(score[c]), _Beginning(order, whole[c].copy(), real[c].copy(), float(bound[c])), key))
        return made

    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        while layer:
            seen: set[tuple[object, ...]] = set()
            made: list[_Beginning] = []
            for each in pool.map(longer_ones, layer):
                played += len(each)
                for score, longer_one, key in each:
                    if score > best[0] + HAIR or not best[1]:
                        best = (score, longer_one.order)
                    if key in seen or longer_one.bound <= best[0] + HAIR:
                        continue
                    seen.add(key)
                    # Where the clock has run out in every match nothing comes any more.
                    if (longer_one.real[:, CLOCK] < rules.limit).any():
                        made.append(longer_one)
                if len(made) > 2 * width:
                    made, dropped = _kept(made, best[0], width, dropped)
            layer, dropped = _kept(made, best[0], width, dropped)
    return best[1], max(best[0], dropped), played


def _kept(made: list[_Beginning], best: float, width: int, dropped: float) -> tuple[list[_Beginning], float]:
    """The most promising, and the best bound of those that were ever dropped."""
    made = sorted((each for each in made if each.bound > best + HAIR), key=lambda each: (-each.bound, each.order))
    return made[:width], max([dropped, *(each.bound for each in made[width:])])


def _polished(bank: Bank, order: Order, threads: int | None) -> tuple[Order, float, int]:
    """An order that no small change makes better: its mean score, and how many orders were played."""
    match = bank.match
    played = 0
    while True:
        near = [other for other in _near(order, len(match.runs)) if other and allowed(match, other)]
        every = branches([order, *near])
        orders, found = every.orders(), means(bank, every, threads)
        played += len(orders)
        here = found[orders.index(order)]
        if found.max() <= here + HAIR:
            return _first_of_best(orders, found), float(here), played
        order = _first_of_best(orders, found)


def _near(order: Order, runs: int) -> set[Order]:
    """Orders in which one run has been moved, left out or put in, or two have changed places."""
    found: set[Order] = set()
    for place, run in enumerate(order):
        less = (*order[:place], *order[place + 1 :])
        found.add(less)
        found |= {(*less[:k], run, *less[k:]) for k in range(len(order))}
    for a, b in combinations(range(len(order)), 2):
        swapped = list(order)
        swapped[a], swapped[b] = swapped[b], swapped[a]
        found.add(tuple(swapped))
    for run in set(range(runs)) - set(order):
        found |= {(*order[:k], run, *order[k:]) for k in range(len(order) + 1)}
    return found - {order}
