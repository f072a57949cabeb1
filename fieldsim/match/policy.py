"""The best policy: what to try next, by the time that is left and by what has been done.

An order decides before the match; a policy looks at the clock. It is found by dynamic programming over the time left
and the states of the match: which runs can still be tried and how often they have been, what of theirs is scored, what
the robot wears and whether it stands out. For that each try is drawn by itself from what it did in the matches the
policy is made on (a second try from those in which the first failed); that its day is the same for all runs is left
out here. So the policy is the best for runs that are independent. What it is worth is measured by following it in fresh
matches, with their days: see `match_follow`.

Source of the method: R. Bellman, "Dynamic Programming", 1957.
"""

from __future__ import annotations

import os
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from math import ceil, inf
from typing import NamedTuple

import numpy as np

from fieldsim.match.bank import Bank
from fieldsim.match.play import Floats, Ints, Order
from fieldsim.sim.kernel.match import LEAST, MEAN, SD
from fieldsim.sim.kernel.match_policy import ALIKE, STOP, Choices, Samples, best_choices

# Runs and tries are left out of the policy until there are no more states than this.
MOST_STATES = 10_000

# Samples of a try, values of time and choices together: so much work.
WORK = 600_000_000
MOST_SAMPLES, FEWEST_SAMPLES = 400, 48
FINEST, COARSEST = 0.25, 1.0

# A choice that is not the plan's must be better by this share of all that can be had: a rule that a team has to keep in
# mind is to be worth it.
MARGIN = 0.002

ALL_DONE = -1


class State(NamedTuple):
    """Where a match stands, as far as it matters for what comes."""

    tries: tuple[int, ...]
    """Of each run how often it was tried; ALL_DONE if nothing can come of it any more."""
    hit: int
    """Targets that are scored, of those that runs to come act at."""
    through: int
    """Runs that got through, of those that runs to come need."""
    home: int
    """Runs to come that have their points for the finish."""
    before: int
    """Class of the run before."""
    out: bool


class Made(NamedTuple):
    """How a try can end."""

    hit: int
    through: bool
    home: bool
    out: bool


@dataclass(frozen=True, eq=False)
class Policy:
    """What to do in S states with up to T steps of time left."""

    runs: Order
    """The runs it knows, in the order of the plan."""
    tries: int
    states: dict[State, int]
    choices: Choices
    chosen: Ints
    """(S, T) the choice, STOP for none, ALIKE where none brings or costs anything."""
    value: Floats
    """(S, T) what it brings, for runs that are independent."""
    step: float
    alike: tuple[int, ...]
    """Of each run the class of changes after it."""

    @property
    def start(self) -> State:
        """Before the first run."""
        return next(iter(self.states))

    def next_run(self, state: State, left: float, otherwise: int = -1) -> int:
        """The run to try next with so many seconds left, -1 for none; ``otherwise`` where it does not matter."""
        cell = min(int(left / self.step + 1e-9), self.chosen.shape[1] - 1)
        choice = int(self.chosen[self.states[state], cell])
        if choice == ALIKE:
            return otherwise
        return -1 if choice == STOP else int(self.choices.run[choice])


class Maker:
    """Finds the states of a match for some of its runs."""

    def __init__(self, bank: Bank, runs: Order, tries: int) -> None:
        self.bank, self.runs, self.tries = bank, runs, tries
        self.rules = bank.rules
        count = len(bank.match.runs)
        change = self.rules.change
        self.alike = tuple(next(b for b in range(count) if (change[a] == change[b]).all()) for a in range(count))
        self.targets = [
            sum({1 << int(t) for t in row if t >= 0 and self.rules.points[t] != 0}) for row in self.rules.target
        ]
        self.worthy = [
            sum({1 << int(t) for t in row if t >= 0 and self.rules.points[t] > 0}) for row in self.rules.target
        ]
        self.ends: list[list[tuple[Ints, list[Made], Ints]]] = [
            [self._ends(r, j) for j in range(tries)] for r in range(count)
        ]
        self.needs = [int(bits) for bits in self.rules.needs]
        self.needed = [int(bits) for bits in self.rules.needed]
        self.finishes = sum(1 << r for r in range(count) if self.rules.finishes[r])
        # The same few states are asked for again and again.
        self.alive = cache(self._alive)
        self.can_do = cache(self._can_do)
        self.after = cache(self._after)

    def _ends(self, r: int, j: int) -> tuple[Ints, list[Made], Ints]:
        """The matches in which try j of run r was made, how it can end, and of which kind each was."""
        drawn = self.bank.drawn
        there = np.flatnonzero(~drawn.through[:, r, :j].astype(bool).any(axis=1))
        if r not in self.runs:
            there = there[:0]
        bits = np.array([1 << int(t) if t >= 0 else 0 for t in self.rules.target[r]], dtype=np.int64)
        hit = np.zeros(len(there), dtype=np.int64)
        for act, bit in enumerate(bits):
            hit |= np.where(drawn.hit[there, r, j, act] != 0, bit, 0)
        table = np.column_stack([hit, drawn.through[there, r, j], drawn.home[there, r, j], drawn.out[there, r, j]])
        kinds, which = np.unique(table, axis=0, return_inverse=True)
        made = [Made(int(h), bool(t), bool(e), bool(o)) for h, t, e, o in kinds]
        return there, made, which.reshape(-1).astype(np.int64)

    def canonical(self, tries: tuple[int, ...], hit: int, through: int, home: int, before: int, out: bool) -> State:
        """A state without what does not matter any more."""
        tries, hit, through, home, over = self.alive(tries, hit, through, home)
        return State(tries, hit, through, home, *((len(tries), False) if over else (before, out)))

    def _alive(
        self, tries: tuple[int, ...], hit: int, through: int, home: int
    ) -> tuple[tuple[int, ...], int, int, int, bool]:
        """The same of what is done, and whether nothing can come of any run any more."""
        rules, needs = self.rules, self.needs
        alive = sum(1 << r for r in self.runs if tries[r] != ALL_DONE and tries[r] < self.tries) & ~through
        while True:
            # Nothing can come of a run that has nothing to score for itself or for one that needs it, nor of one that
            # needs what cannot be had.
            dead = 0
            for r in self.runs:
                bit = 1 << r
                if alive & bit and (
                    not (
                        self.worthy[r] & ~hit
                        or (rules.finish > 0 and self.finishes & bit & ~home)
                        or self.needed[r] & alive & ~bit
                    )
                    or needs[r] & ~through & ~alive
                ):
                    dead |= bit
            if not dead:
                break
            alive &= ~dead
        told = needed = 0
        for r in self.runs:
            if alive >> r & 1:
                told |= self.targets[r]
                needed |= needs[r]
        kept = tuple(n if alive >> r & 1 else ALL_DONE for r, n in enumerate(tries))
        return kept, hit & told, through & needed, home & alive & self.finishes, not alive

    def _after(self, state: State, r: int, made: Made) -> State:
        """The state after a try of run r has ended in time."""
        tries = list(state.tries)
        tries[r] += 1
        return self.canonical(
            tuple(tries), state.hit | made.hit, state.through | (made.through << r), state.home | (made.home << r),
            self.alike[r], made.out,
        )  # fmt: skip

    def _can_do(self, state: State) -> list[int]:
        """The runs that can be tried, in the order of the plan."""
        return [
            r
            for r in self.runs
            if state.tries[r] != ALL_DONE
            and not self.needs[r] & ~state.through
            and len(self.ends[r][state.tries[r]][0])
        ]

    def states(self) -> dict[State, list[tuple[int, list[State]]]] | None:
        """Every state that can be reached, with its runs and where their ends lead; None if there are too many."""
        count = len(self.bank.match.runs)
        none = tuple(0 if r in self.runs else ALL_DONE for r in range(count))
        first = self.canonical(none, 0, 0, 0, count, False)
        found: dict[State, list[tuple[int, list[State]]]] = {}
        waiting = [first]
        known = {first}
        while waiting:
            state = waiting.pop()
            leads = []
            for r in self.can_do(state):
                ends = [self.after(state, r, made) for made in self.ends[r][state.tries[r]][1]]
                leads.append((r, ends))
                for other in ends:
                    if other not in known:
                        known.add(other)
                        waiting.append(other)
            found[state] = leads
            if len(known) > MOST_STATES:
                return None
        return found

    def potential(self, state: State) -> int:
        """Falls with every try."""
        return sum(self.tries - t for t in state.tries if t != ALL_DONE)


def best_policy(bank: Bank, plan: Order, threads: int | None = None, margin: float = MARGIN) -> Policy | None:
    """The policy that scores most on average, for runs that are independent. ``plan`` is the order that is kept to
    where nothing else is better. None if there is nothing to decide.

    With too many states for it first the number of tries is cut to two, then the last runs of the plan are left out.
    """
    every = bank.drawn.seconds.shape[2]
    runs = plan + tuple(r for r in range(len(bank.match.runs)) if r not in plan)
    most = None
    for tries in dict.fromkeys((every, min(every, 2))):
        most = None
        # States multiply with every run more, so all the smaller ones together take no longer than the largest.
        for count in range(1, len(runs) + 1):
            maker = Maker(bank, runs[:count], tries)
            found = maker.states()
            if found is None:
                break
            most = maker, found
            if count == len(runs):
                return _solved(*most, threads, margin)
    return None if most is None else _solved(*most, threads, margin)


def _solved(
    maker: Maker, found: dict[State, list[tuple[int, list[State]]]], threads: int | None, share: float
) -> Policy:
    rules, limit = maker.rules, maker.rules.limit
    start = next(iter(found))
    ordered = sorted(found, key=maker.potential)
    place = {state: index for index, state in enumerate(ordered)}
    acts = rules.target.shape[1]
    most = max([1, *(len(made) for row in maker.ends for _, made, _ in row)])
    first, run, attempt, points, finish, leads = [0], [], [], [], [], []
    for state in ordered:
        for r, ends in found[state]:
            run.append(r)
            attempt.append(state.tries[r])
            points.append([rules.points[t] if t >= 0 and not state.hit >> int(t) & 1 else 0.0 for t in rules.target[r]])
            finish.append(0.0 if state.home >> r & 1 else rules.finish)
            leads.append([place[end] for end in ends] + [-1] * (most - len(ends)))
        first.append(len(run))
    choices = Choices(
        first=np.array(first, dtype=np.int64),
        run=np.array(run, dtype=np.int64),
        attempt=np.array(attempt, dtype=np.int64),
        points=np.array(points, dtype=float).reshape(len(run), acts),
        finish=np.array(finish, dtype=float),
        leads=np.array(leads, dtype=np.int64).reshape(len(run), most),
        before=np.array([state.before for state in ordered], dtype=np.int64),
        out=np.array([state.out for state in ordered], dtype=np.int64),
    )
    # As fine as the work allows: first in time, then in samples.
    work = WORK / max(1, len(run))
    step = limit / ceil(limit / min(COARSEST, max(FINEST, limit * FEWEST_SAMPLES * 2 / work)))
    cells = round(limit / step) + 1
    samples = _samples(maker, int(min(MOST_SAMPLES, max(FEWEST_SAMPLES, work / cells))))
    mean = np.vstack([rules.change[:, :, MEAN], np.full((1, len(rules.needs)), -1.0)])
    value, chosen = np.zeros((len(ordered), cells)), np.full((len(ordered), cells), STOP, dtype=np.int64)
    margin = share * float(np.maximum(rules.points, 0).sum() + max(0.0, rules.finish) * rules.finishes.sum())
    levels = Counter(maker.potential(state) for state in ordered)
    workers = threads or os.cpu_count() or 1
    done = 0
    with ThreadPoolExecutor(workers) as pool:
        for level in sorted(levels):
            size = -(-levels[level] // workers)
            last = done + levels[level]
            parts = [(at, min(size, last - at)) for at in range(done, last, size)]

            def solve(part: tuple[int, int]) -> None:
                best_choices(
                    samples, choices, mean, rules.rescue, rules.rescue_points, step, margin, part[0], part[1], value,
                    chosen,
                )  # fmt: skip

            list(pool.map(solve, parts))
            done = last
    states = {start: place[start], **place}
    return Policy(maker.runs, maker.tries, states, choices, chosen, value, step, maker.alike)


def _samples(maker: Maker, most: int) -> Samples:
    """Evenly spaced matches of those in which each try was made."""
    drawn, rules = maker.bank.drawn, maker.rules
    runs, acts = rules.target.shape
    tries = maker.tries
    shape = (runs, tries, most)
    made = Samples(
        many=np.zeros((runs, tries), dtype=np.int64),
        change=np.zeros((runs + 1, *shape)),
        rescue=np.zeros(shape),
        seconds=np.zeros(shape),
        ends=np.full((*shape, acts), inf),
        kind=np.zeros(shape, dtype=np.int64),
        home=np.zeros(shape, dtype=np.int64),
    )

    def by_hand(times: Floats, drawn: Floats) -> Floats:
        return np.asarray(np.maximum(times[LEAST], times[MEAN] + times[SD] * drawn))

    for r in range(runs):
        for j in range(tries):
            there, _, kind = maker.ends[r][j]
            n = min(most, len(there))
            if n == 0:
                continue
            pick = (np.arange(n) * len(there)) // n
            m = there[pick]
            made.many[r, j] = n
            made.seconds[r, j, :n] = drawn.seconds[m, r, j]
            made.kind[r, j, :n] = kind[pick]
            made.home[r, j, :n] = drawn.home[m, r, j]
            for before in range(runs):
                made.change[before, r, j, :n] = by_hand(rules.change[before, r], drawn.change[m, r, j])
            made.rescue[r, j, :n] = by_hand(rules.rescue, drawn.rescue[m, r, j])
            for act in range(acts):
                target = rules.target[r, act]
                # A target that an earlier act of the same run hits already scores no second time.
                twice = np.zeros(n, dtype=bool)
                for other in range(act):
                    if rules.target[r, other] == target:
                        twice |= drawn.hit[m, r, j, other] != 0
                good = (drawn.hit[m, r, j, act] != 0) & ~twice & (target >= 0)
                made.ends[r, j, :n, act] = np.where(good, drawn.ends[m, r, j, act], inf)
    return made
