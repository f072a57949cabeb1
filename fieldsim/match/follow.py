"""Following a policy through matches: what it scores, and the few rules a team has to keep in mind for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fieldsim.match.answer import RuleAnswer, RuleStep
from fieldsim.match.bank import Bank
from fieldsim.match.play import Bools, Floats, Ints, Order
from fieldsim.match.policy import Policy
from fieldsim.match.states import Made, State, States
from fieldsim.match.story import Stories

# Rules told: how often a match must come there, and how short a stretch of time is not worth a word, seconds.
RULES, OFTEN, SHORT = 6, 0.02, 3.0


class Visits(NamedTuple):
    """V decisions in matches: after which run's try (the number of runs before the first), whether that got through, in
    which of the states that were met, with how much time left, and for what."""

    match: Ints
    after: Ints
    through: Bools
    state: Ints
    left: Floats
    run: Ints
    planned: Ints
    """What the plan that is kept to would do there."""
    written: Ints
    """What the order as written would do there."""


class Ruling(NamedTuple):
    """What a team does after a try, instead of what its order says: by how much time is left."""

    after: int
    """The run tried last; the number of runs before the first."""
    through: bool
    still: tuple[int, ...]
    """Runs that can still be tried then; empty: whichever."""
    steps: tuple[tuple[float, int], ...]
    """From much time left to little: with at least so many seconds left, the run to try, -1 for none."""

    def choice(self, left: Floats) -> Ints:
        """(N,) what to try with so much time left; the last of them with still less."""
        found = np.full(len(left), self.steps[-1][1], dtype=np.int64)
        for least, run in reversed(self.steps[:-1]):
            found[left >= least] = run
        return found


@dataclass(frozen=True, eq=False)
class Followed:
    """M matches in which a policy was followed."""

    score: Floats
    visits: Visits
    states: list[State]
    """Those that were met."""
    as_planned: Bools
    """(M,) it never did anything else than the plan."""


class _Met:
    """The states that matches come to, in the order in which they are met."""

    def __init__(self, policy: Policy, known: States) -> None:
        self.policy, self.known = policy, known
        self.states: list[State] = []
        self._number: dict[State, int] = {}
        self._row: list[int] = []
        self._can: list[int] = []
        self._after: dict[tuple[int, int, int, int], int] = {}
        self.number(policy.start)

    def number(self, state: State) -> int:
        if state not in self._number:
            self._number[state] = len(self.states)
            self.states.append(state)
            self._row.append(self.policy.states.get(state, -1))
            self._can.append(sum(1 << r for r in self.known.can_do(state)))
        return self._number[state]

    def rows(self, numbers: Ints) -> Ints:
        """Where the policy has these states; -1 if it does not know one."""
        return np.array(self._row)[numbers]

    def can_do(self, numbers: Ints, run: Ints) -> Bools:
        """Whether a run can be tried there; not none (-1)."""
        return np.asarray((run >= 0) & (np.array(self._can)[numbers] >> np.maximum(run, 0) & 1 == 1))

    def open_are(self, numbers: Ints, still: tuple[int, ...]) -> Bools:
        """Whether just these runs can still be tried there; always if none is named."""
        if not still:
            return np.ones(len(numbers), dtype=bool)
        wanted = set(still)
        return np.array([set(self.known.open_runs(state)) == wanted for state in self.states])[numbers]

    def after(self, numbers: Ints, run: int, hit: Ints, flags: Ints) -> Ints:
        """The states after a try of a run: targets hit so far as bits; 4 for through, 2 for home and 1 for out."""
        hits, which = np.unique(hit, return_inverse=True)
        codes, back = np.unique((numbers * len(hits) + which) * 8 + flags, return_inverse=True)
        ends = [
            self._one(code // 8 // len(hits), run, int(hits[code // 8 % len(hits)]), code % 8)
            for code in codes.tolist()
        ]
        return np.array(ends)[back]

    def _one(self, number: int, run: int, hit: int, flags: int) -> int:
        key = number, run, hit, flags
        if key not in self._after:
            made = Made(hit, bool(flags & 4), bool(flags & 2), bool(flags & 1))
            self._after[key] = self.number(self.known.after(self.states[number], run, made))
        return self._after[key]


def follow(
    policy: Policy, bank: Bank, plan: Order, written: Order | None = None, rulings: Sequence[Ruling] | None = None
) -> Followed:
    """Play the matches of a bank by a policy, beside a plan; ``written`` is the order as written, if another. With
    ``rulings`` it is those that are followed and the plan where none of them speaks, as by a team with a card."""
    met = _Met(policy, States(bank, policy.runs, policy.tries))
    stories = Stories(bank, np.arange(len(bank)))
    drawn, runs = bank.drawn, len(bank.match.runs)
    knows = np.isin(np.arange(runs), policy.runs)
    state = np.zeros(len(bank), dtype=np.int64)
    live = np.arange(len(bank))
    parts: list[Visits] = []
    while len(live := live[stories.left[live] > 0]):
        planned = stories.planned(plan, policy.tries)[live]
        # What can score nothing any more is never driven, even if the plan does; of runs that the policy does not know
        # that cannot be told.
        keep = met.can_do(state[live], planned) | ~knows[planned]
        otherwise = np.where(keep, planned, -1)
        # After an end that never came up when the policy was made the plan is kept to.
        rows = met.rows(state[live])
        last = np.where(stories.last[live] < 0, runs, stories.last[live])
        if rulings is None:
            run = np.where(rows >= 0, policy.next_runs(rows, stories.left[live], otherwise), otherwise)
        else:
            run = otherwise.copy()
            through = stories.was(drawn.through, live)
            for each in rulings:
                here = (last == each.after) & (through == each.through) & met.open_are(state[live], each.still)
                chosen = each.choice(stories.left[live])
                here &= (chosen < 0) | met.can_do(state[live], chosen)
                run = np.where(here, chosen, run)
        other = planned if written is None else stories.planned(written, policy.tries)[live]
        visits = Visits(
            live, last, stories.was(drawn.through, live), state[live], stories.left[live], run, planned, other
        )  # fmt: skip
        decided = (run >= 0) | (planned >= 0)
        parts.append(Visits._make(column[decided] for column in visits))
        going = []
        for r in np.unique(run[run >= 0]).tolist():
            here = live[run == r]
            here = here[stories.drive(here, r)]
            was = [stories.was(table, here).astype(np.int64) for table in (drawn.through, drawn.home, drawn.out)]
            state[here] = met.after(state[here], r, stories.hit[here], was[0] * 4 + was[1] * 2 + was[2])
            going.append(here)
        live = np.sort(np.concatenate(going)) if going else live[:0]
    visits = Visits._make(np.concatenate(columns) for columns in zip(*parts, strict=True))
    left_it = np.bincount(visits.match[visits.run != visits.planned], minlength=len(bank))
    return Followed(stories.score, visits, met.states, left_it == 0)


def rules_told(policy: Policy, followed: Followed, bank: Bank, as_written: bool = False) -> tuple[RuleAnswer, ...]:
    """Where the policy looks at the clock or leaves the plan (or the order as written): the places that matches come to
    most often."""
    visits, states = followed.visits, followed.states
    names = [each.name for each in bank.match.runs]
    matches = len(followed.score)
    opened = [policy.known.open_runs(state) for state in states]
    open_runs = list(dict.fromkeys(opened))
    number = np.array([open_runs.index(each) for each in opened])[visits.state]
    knows = np.array([state in policy.states for state in states])[visits.state]
    # Places are alike to a team that has the same runs to come after the same try.
    codes = (visits.after * 2 + visits.through) * len(open_runs) + number
    found = []
    for code in np.unique(codes[knows]).tolist():
        here = np.flatnonzero(knows & (codes == code))
        often = len(here) / matches
        if often < OFTEN:
            continue
        # Several states may be told alike (by what else is scored): the one that is seen most speaks for them.
        most = int(np.bincount(visits.state[here]).argmax())
        seen = here[visits.state[here] == most]
        steps = _steps(policy, states[most], np.sort(visits.left[seen]))
        kept = (visits.written if as_written else visits.planned)[seen]
        differs = float((visits.run[seen] != kept).sum()) / matches
        if differs < OFTEN / 2:
            continue
        # Where only stretches differ that are too short to be told, the rule would say what is done anyway.
        if len(steps) == 1 and steps[0][1] == Counter(kept.tolist()).most_common(1)[0][0]:
            continue
        told = tuple(RuleStep(least, names[run] if run >= 0 else "") for least, run in steps)
        before, place = divmod(code, len(open_runs))
        after, through = divmod(before, 2)
        name = names[after] if after < len(names) else ""
        to_come = tuple(names[r] for r in open_runs[place])
        found.append((differs, RuleAnswer(name, bool(through), to_come, often, told)))
    found.sort(key=lambda each: (-each[0], each[1].after))
    return tuple(rule for _, rule in found[:RULES])


def _steps(policy: Policy, state: State, lefts: Floats) -> list[tuple[float, int]]:
    """From much time left to little: (with at least so much left, the run), over the times that were seen."""
    low, high = lefts[len(lefts) // 50], lefts[-1 - len(lefts) // 50]
    cells = range(int(low / policy.step + 1e-9), int(high / policy.step + 1e-9) + 1)
    rows = np.full(len(cells), policy.states[state])
    runs = policy.next_runs(rows, np.array(cells) * policy.step, np.full(len(cells), -1)).tolist()
    # Stretches, from the longest time left; a short one goes to the one before it.
    stretches: list[list[int]] = []
    for cell, run in zip(reversed(cells), reversed(runs), strict=True):
        if stretches and stretches[-1][0] == run:
            stretches[-1][1] = cell
        else:
            stretches.append([run, cell, cell])
    long = [each for each in stretches if (each[2] - each[1] + 1) * policy.step >= SHORT] or stretches[:1]
    merged: list[tuple[float, int]] = []
    for at, (run, lowest, _) in enumerate(long):
        # It reaches down to where the next long one begins.
        edge = long[at + 1][2] + 1 if at + 1 < len(long) else lowest
        if merged and merged[-1][1] == run:
            merged[-1] = (edge * policy.step, int(run))
        else:
            merged.append((edge * policy.step, int(run)))
    return merged
