"""Following a policy through matches: what it scores, and the few rules a team has to keep in mind for it."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple

import numpy as np

from fieldsim.match.answer import RuleAnswer, RuleStep
from fieldsim.match.bank import Bank
from fieldsim.match.play import Bools, Floats, Order
from fieldsim.match.policy import Policy
from fieldsim.match.states import Made, State, States
from fieldsim.match.story import Story

# Rules told: how often a match must come there, and how short a stretch of time is not worth a word, seconds.
RULES, OFTEN, SHORT = 6, 0.02, 3.0


class Visit(NamedTuple):
    """A decision in a match: after which run's try, whether that got through, in which state, with how much time."""

    after: int
    through: bool
    state: State
    left: float
    run: int
    planned: int
    """What the plan that is kept to would do there."""
    written: int
    """What the order as written would do there."""


# Matches that are made ready at one go.
PART = 1000


@dataclass(frozen=True, eq=False)
class Followed:
    """M matches in which a policy was followed."""

    score: Floats
    visits: list[list[Visit]]
    """Of each match, in turn."""
    as_planned: Bools
    """(M,) it never did anything else than the plan."""


def follow(policy: Policy, bank: Bank, plan: Order, written: Order | None = None) -> Followed:
    """Play the matches of a bank by a policy, beside a plan; ``written`` is the order as written, if another."""
    known = States(bank, policy.runs, policy.tries)
    limit = bank.rules.limit
    scores = np.zeros(len(bank))
    told: list[list[Visit]] = []
    # A part at a time: numbers in lists take some room.
    parts = (bank.plain(first, PART) for first in range(0, len(bank), PART))
    for m, drawn in enumerate(chain.from_iterable(parts)):
        state, match = policy.start, Story(bank, drawn, told=False)
        visits: list[Visit] = []
        while match.clock < limit:
            left = limit - match.clock
            planned = match.planned(plan, policy.tries)
            # What can score nothing any more is never driven, even if the plan does; of runs that the policy does not
            # know that cannot be told.
            otherwise = planned if planned in known.can_do(state) or planned not in policy.runs else -1
            # After an end that never came up when the policy was made the plan is kept to.
            run = policy.next_run(state, left, otherwise) if state in policy.states else otherwise
            if run >= 0 or planned >= 0:
                other = planned if written is None else match.planned(written, policy.tries)
                visits.append(Visit(match.last, match.got_through, state, left, run, planned, other))
            if run < 0 or not match.drive(run):
                break
            state = known.after(state, run, Made(match.hit, match.got_through, match.at_home, match.out))
        scores[m] = match.score
        told.append(visits)
    same = np.array([all(visit.run == visit.planned for visit in visits) for visits in told], dtype=bool)
    return Followed(scores, told, same)


def rules_told(policy: Policy, followed: Followed, bank: Bank, as_written: bool = False) -> tuple[RuleAnswer, ...]:
    """Where the policy looks at the clock or leaves the plan (or the order as written): the places that matches come to
    most often."""
    groups: dict[tuple[int, bool, tuple[int, ...]], list[Visit]] = defaultdict(list)
    for visits in followed.visits:
        for visit in visits:
            if visit.state not in policy.states:
                continue
            open_runs = policy.known.open_runs(visit.state)
            groups[visit.after, visit.through, open_runs].append(visit)
    names = [each.name for each in bank.match.runs]
    matches = len(followed.visits)
    found = []
    for (after, through, open_runs), visits in groups.items():
        often = len(visits) / matches
        if often < OFTEN:
            continue
        # Several states may be told alike (by what else is scored): the one that is seen most speaks for them.
        state = Counter(visit.state for visit in visits).most_common(1)[0][0]
        seen = [visit for visit in visits if visit.state == state]
        steps = _steps(policy, state, sorted(visit.left for visit in seen))
        kept = [visit.written if as_written else visit.planned for visit in seen]
        differs = sum(visit.run != run for visit, run in zip(seen, kept, strict=True)) / matches
        if differs < OFTEN / 2:
            continue
        # Where only stretches differ that are too short to be told, the rule would say what is done anyway.
        if len(steps) == 1 and steps[0][1] == Counter(kept).most_common(1)[0][0]:
            continue
        told = tuple(RuleStep(least, names[run] if run >= 0 else "") for least, run in steps)
        name = names[after] if after < len(names) else ""
        found.append((differs, RuleAnswer(name, through, tuple(names[r] for r in open_runs), often, told)))
    found.sort(key=lambda each: (-each[0], each[1].after))
    return tuple(rule for _, rule in found[:RULES])


def _steps(policy: Policy, state: State, lefts: list[float]) -> list[tuple[float, int]]:
    """From much time left to little: (with at least so much left, the run), over the times that were seen."""
    low, high = lefts[len(lefts) // 50], lefts[-1 - len(lefts) // 50]
    cells = range(int(low / policy.step + 1e-9), int(high / policy.step + 1e-9) + 1)
    runs = [policy.next_run(state, cell * policy.step) for cell in cells]
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
