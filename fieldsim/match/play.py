"""Matches played in an order of runs, and in every order at once: on the same luck, on all cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.match.bank import Bank
from fieldsim.model.match import Match
from fieldsim.sim.kernel import match as kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Order = tuple[int, ...]
"""Runs by their numbers from 0, in the order they have their turn; those that are not in it are dropped."""

# Matches that are played at one go: sums are added up part by part, so that they are the same on any number of threads.
PART = 1000


@dataclass(frozen=True, eq=False)
class Played:
    """M matches in one order of the R runs."""

    order: Order
    limit: float
    score: Floats
    """(M,) points."""
    clock: Floats
    """(M,) seconds until the last run has ended; the limit if it was cut off or was being made ready."""
    ledger: Floats
    """(M, R, LEDGER) what each run earned, cost and took: see ``kernel.match``."""

    def column(self, which: int) -> Floats:
        """(M, R) one column of the ledger."""
        return np.asarray(self.ledger[:, :, which])

    @property
    def inside(self) -> Bools:
        """(M,) every run of the order that could be of use was driven to its end before the limit."""
        return np.asarray(self.clock < self.limit) & ~self.late

    @property
    def late(self) -> Bools:
        """(M,) some run of the order was not begun for want of time, or cut off."""
        return np.asarray(self.ledger[:, self.order, kernel.CUT].any(axis=1))


def in_parts(count: int, threads: int | None, work: Callable[[int, int], None]) -> None:
    """Call ``work(first, count)`` for stretches of ``PART`` matches, on all cores."""
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        list(pool.map(lambda first: work(first, min(PART, count - first)), range(0, count, PART)))


def play(bank: Bank, order: Sequence[int], threads: int | None = None) -> Played:
    """Every match of the bank in one order."""
    count, runs = len(bank), len(bank.match.runs)
    made = Played(
        tuple(order), bank.match.limit, np.zeros(count), np.zeros(count), np.zeros((count, runs, kernel.LEDGER))
    )
    turns = np.array(order, dtype=np.int64)
    in_parts(
        count,
        threads,
        lambda first, n: kernel.play(bank.rules, bank.drawn, turns, first, n, made.score, made.clock, made.ledger),
    )
    return made


def timed(bank: Bank, played: Played) -> tuple[Floats, Floats]:
    """(M, R) when each run starts for the first time and when it has ended for good, seconds; of those begun."""
    last = np.zeros(len(bank))
    starts, ends = np.zeros(played.ledger.shape[:2]), np.zeros(played.ledger.shape[:2])
    for r in played.order:
        entry = played.ledger[:, r]
        taken = entry[:, (kernel.DRIVING, kernel.ACTING, kernel.CHANGING, kernel.RESCUING)].sum(axis=1)
        ends[:, r] = last + taken
        starts[:, r] = last + entry[:, kernel.FIRST]
        last = ends[:, r]
    return starts, ends


@dataclass(frozen=True, eq=False)
class Tree:
    """Every order of every choice of runs that respects what each needs, as a tree: see ``kernel.match``. N nodes."""

    run: Ints
    depth: Ints
    skip: Ints

    def order(self, node: int) -> Order:
        """The runs from the root to a node."""
        found: list[int] = []
        while node >= 0:
            found.append(int(self.run[node]))
            depth = self.depth[node]
            before = np.flatnonzero(self.depth[:node] < depth)
            node = int(before[-1]) if depth > 1 else -1
        return tuple(reversed(found))

    def orders(self) -> list[Order]:
        """(N,) of all nodes."""
        found: list[Order] = []
        above: list[int] = []
        for run, depth in zip(self.run, self.depth, strict=True):
            above[depth - 1 :] = [int(run)]
            found.append(tuple(above))
        return found


def tree(match: Match) -> Tree:
    """All orders of a match's runs: a run comes only after those it needs, where it could be of use."""
    needed = match.needed
    runs: list[int] = []
    depths: list[int] = []
    skips: list[int] = []

    def below(above: tuple[int, ...]) -> None:
        for run in range(len(needed)):
            if run in above or not set(needed[run]) <= set(above):
                continue
            node = len(runs)
            runs.append(run)
            depths.append(len(above) + 1)
            skips.append(0)
            below((*above, run))
            skips[node] = len(runs)

    below(())
    return Tree(*(np.array(column, dtype=np.int64) for column in (runs, depths, skips)))


def means(bank: Bank, orders: Tree, threads: int | None = None) -> Floats:
    """(N,) the mean score of every order of a tree."""
    count = len(bank)
    totals = np.zeros((-(-count // PART), len(orders.run) + 1))

    def work(first: int, n: int) -> None:
        kernel.walk(bank.rules, bank.drawn, orders.run, orders.depth, orders.skip, first, n, totals[first // PART])

    in_parts(count, threads, work)
    # What a match scores at a node is what it scored above it and what came new there.
    return np.asarray(np.cumsum(totals.sum(axis=0))[:-1] / count)
