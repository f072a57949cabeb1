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
from math import ceil

import numpy as np

from fieldsim.match.bank import Bank
from fieldsim.match.chances import chances_of
from fieldsim.match.play import Floats, Ints, Order
from fieldsim.match.states import State, States, ends_of
from fieldsim.sim.kernel.match_policy import ALIKE, STOP, Chances, Choices, best_choices

# Runs and tries are left out of the policy until there are no more states than this.
MOST_STATES = 10_000

# Choices, values of time and cells that a try takes together: so much work. The grid of times is made coarser for it.
WORK = 2e9
FINEST, COARSEST = 0.25, 1.0

# A choice that is not the plan's must be better by this share of all that can be had: a rule that a team has to keep in
# mind is to be worth it.
MARGIN = 0.002


@dataclass(frozen=True, eq=False)
class Policy:
    """What to do in S states with up to T steps of time left."""

    known: States
    """The runs it knows, in the order of the plan, and the tries of them."""
    states: dict[State, int]
    choices: Choices
    chosen: Ints
    """(S, T) the choice, STOP for none, ALIKE where none brings or costs anything."""
    value: Floats
    """(S, T) what it brings, for runs that are independent."""
    step: float

    @property
    def runs(self) -> Order:
        return self.known.runs

    @property
    def tries(self) -> int:
        return self.known.tries

    @property
    def start(self) -> State:
        """Before the first run."""
        return self.known.start

    def next_runs(self, rows: Ints, left: Floats, otherwise: Ints) -> Ints:
        """(N,) the run to try next in some of its states, by their number, with so many seconds left, -1 for none;
        ``otherwise`` where it does not matter."""
        cells = np.minimum((left / self.step + 1e-9).astype(np.int64), self.chosen.shape[1] - 1)
        choice = self.chosen[rows, cells]
        run = self.choices.run[np.maximum(choice, 0)] if len(self.choices.run) else choice
        return np.where(choice == ALIKE, otherwise, np.where(choice == STOP, -1, run))

    def next_run(self, state: State, left: float, otherwise: int = -1) -> int:
        """The same of one state."""
        return int(self.next_runs(np.array([self.states[state]]), np.array([left]), np.array([otherwise]))[0])


def best_policy(bank: Bank, plan: Order, threads: int | None = None, margin: float = MARGIN) -> Policy | None:
    """The policy that scores most on average, for runs that are independent. ``plan`` is the order that is kept to
    where nothing else is better. None if there is nothing to decide.

    With too many states for it first the number of tries is cut to two, then the last runs of the plan are left out.
    """
    every = bank.drawn.seconds.shape[2]
    runs = plan + tuple(r for r in range(len(bank.match.runs)) if r not in plan)
    most = None
    ended = ends_of(bank)
    for tries in dict.fromkeys((every, min(every, 2))):
        most = None
        # States multiply with every run more, so all the smaller ones together take no longer than the largest.
        for count in range(1, len(runs) + 1):
            known = States(bank, runs[:count], tries, ended)
            found = known.reached(MOST_STATES)
            if found is None:
                break
            most = known, found
            if count == len(runs):
                return _solved(*most, threads, margin)
    return None if most is None else _solved(*most, threads, margin)


Leads = dict[State, list[tuple[int, list[State]]]]


def _solved(known: States, found: Leads, threads: int | None, share: float) -> Policy:
    rules = known.rules
    ordered = sorted(found, key=known.potential)
    place = {state: index for index, state in enumerate(ordered)}
    choices = _choices(known, found, ordered, place)
    step, chances = _grid(known, choices)
    shape = len(ordered), chances.done.shape[-1]
    value, chosen = np.zeros(shape), np.full(shape, STOP, dtype=np.int64)
    margin = share * float(np.maximum(rules.points, 0).sum() + max(0.0, rules.finish) * rules.finishes.sum())
    levels = Counter(known.potential(state) for state in ordered)
    workers = threads or os.cpu_count() or 1
    done = 0
    with ThreadPoolExecutor(workers) as pool:
        for level in sorted(levels):
            size = -(-levels[level] // workers)
            last = done + levels[level]
            parts = [(at, min(size, last - at)) for at in range(done, last, size)]

            def solve(part: tuple[int, int]) -> None:
                best_choices(chances, choices, rules.rescue_points, margin, part[0], part[1], value, chosen)

            list(pool.map(solve, parts))
            done = last
    return Policy(known, place, choices, chosen, value, step)


def _choices(known: States, found: Leads, ordered: list[State], place: dict[State, int]) -> Choices:
    """What can be done in each of the states in turn."""
    rules = known.rules
    acts = rules.target.shape[1]
    most = max([1, *(len(each.made) for row in known.ends for each in row)])
    first, run, attempt, points, finish, leads = [0], [], [], [], [], []
    worth = [[0.0 if t < 0 else float(rules.points[t]) for t in row] for row in rules.target]
    bits = [[0 if t < 0 else 1 << int(t) for t in row] for row in rules.target]
    for state in ordered:
        hit, home = known.hit(state), known.home(state)
        for r, ends in found[state]:
            run.append(r)
            attempt.append(known.tried(state, r))
            points.append([0.0 if hit & bit else each for bit, each in zip(bits[r], worth[r], strict=True)])
            finish.append(0.0 if home >> r & 1 else rules.finish)
            leads.append([place[end] for end in ends] + [-1] * (most - len(ends)))
        first.append(len(run))
    return Choices(
        first=np.array(first, dtype=np.int64),
        run=np.array(run, dtype=np.int64),
        attempt=np.array(attempt, dtype=np.int64),
        points=np.array(points, dtype=float).reshape(len(run), acts),
        finish=np.array(finish, dtype=float),
        leads=np.array(leads, dtype=np.int64).reshape(len(run), most),
        before=np.array([known.before(state) for state in ordered], dtype=np.int64),
        out=np.array([known.out(state) for state in ordered], dtype=np.int64),
    )


def _grid(known: States, choices: Choices) -> tuple[float, Chances]:
    """A grid of times as fine as the work allows: its step, and the chances on it."""
    limit = known.rules.limit
    step = limit / ceil(limit / FINEST)
    while True:
        chances = chances_of(known, step)
        state = np.repeat(np.arange(len(choices.before)), np.diff(choices.first))
        cells = (chances.last - chances.first).sum(axis=-1)
        each = cells[choices.before[state], choices.out[state], choices.run, choices.attempt]
        work = float(each.sum()) * chances.done.shape[-1]
        # The work falls with the square of the step, cells and times alike.
        wanted = min(COARSEST, step * (work / WORK) ** 0.5)
        if work <= WORK or limit / ceil(limit / wanted) <= step * 1.01:
            return step, chances
        step = limit / ceil(limit / wanted)
