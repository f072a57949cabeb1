"""Matches of a bank, driven try by try, side by side: what was driven and done by hand, and which points came.

The same rules as the kernel's, which plays whole orders and keeps their sums only. Here each try is asked for: by a
policy that looks at the clock, or to tell one match as a story of stretches of time and of points.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np

from fieldsim.match.bank import Bank
from fieldsim.match.play import Bools, Floats, Ints, Order
from fieldsim.sim.kernel.match import LEAST, MEAN, SD

__all__ = ["Scored", "Stories", "Story", "Stretch", "tell"]

What = Literal["fetch", "change", "drive"]


class Stretch(NamedTuple):
    """A piece of the match's time."""

    what: Literal["fetch", "change", "drive"]
    run: int
    """The run that is driven or made ready; for 'fetch' the one whose robot stands out."""
    attempt: int
    """Which of its tries, from 0."""
    begin: float
    end: float
    """Seconds on the clock; no later than the limit."""
    cut: bool = False
    """The limit came first."""


class Scored(NamedTuple):
    """Points, and when."""

    at: float
    points: float
    run: int
    target: int | None
    """Its number among the match's targets; None for a finish, or what fetching a robot costs."""


class Stories:
    """N matches. What was hit, got through, ended at home and had its turn are bits, as in the kernel."""

    def __init__(self, bank: Bank, matches: Ints) -> None:
        self.rules, self.drawn, self.matches = bank.rules, bank.drawn, matches
        many, runs = len(matches), len(bank.match.runs)
        self.clock, self.score = np.zeros(many), np.zeros(many)
        self.last, self.number = np.full(many, -1), np.full(many, -1)
        """The run tried last and which of its tries; -1 before the first."""
        self.hit, self.through, self.home, self.tried = np.zeros((4, many), dtype=np.int64)
        self.tries = np.zeros((many, runs), dtype=np.int64)
        scores = self.rules.points[self.rules.target] > 0
        bits = np.where((self.rules.target >= 0) & scores, 1 << np.maximum(self.rules.target, 0), 0)
        self._worthy: Ints = np.bitwise_or.reduce(bits, axis=1)

    @property
    def left(self) -> Floats:
        """(N,) seconds until the limit."""
        return np.asarray(self.rules.limit - self.clock)

    def was(self, table: Any, here: Ints) -> Bools:
        """Whether the try before was so, by a table of the bank (M, R, J); not before the first."""
        of_try = table[self.matches[here], self.last[here], self.number[here]]
        return np.asarray((self.last[here] >= 0) & (of_try != 0))

    def drive(self, here: Ints, run: int) -> Bools:
        """Make ready and try a run in some of the matches; False where the clock cuts it off."""
        rules, drawn = self.rules, self.drawn
        attempt = self.tries[here, run]
        begun = self.last[here] >= 0
        out = here[self.was(drawn.out, here)]
        fetching = _by_hand(rules.rescue, drawn.rescue[self.matches[out], self.last[out], self.number[out]])
        self.scores(out, self.clock[out], rules.rescue_points, self.last[out], None)
        self.spend("fetch", out, self.last[out], self.number[out], fetching)
        then, number = here[begun], attempt[begun]
        changing = _by_hand(rules.change[self.last[then], run], drawn.change[self.matches[then], run, number])
        self.spend("change", then, np.full(len(then), run), number, changing)
        self.last[here], self.number[here] = run, attempt
        self.tries[here, run] += 1
        self.tried[here] |= 1 << run
        in_time = self.left[here] > 0
        here, attempt = here[in_time], attempt[in_time]
        m, left = self.matches[here], self.left[here]
        for act, target in enumerate(rules.target[run].tolist()):
            if target < 0:
                continue
            ends = drawn.ends[m, run, attempt, act]
            good = (drawn.hit[m, run, attempt, act] != 0) & (ends <= left) & (self.hit[here] >> target & 1 == 0)
            done = here[good]
            self.hit[done] |= 1 << target
            self.scores(
                done, self.clock[done] + ends[good], float(rules.points[target]), np.full(len(done), run), target
            )
        seconds = drawn.seconds[m, run, attempt]
        self.spend("drive", here, np.full(len(here), run), attempt, seconds)
        whole = seconds <= left
        in_time[in_time] = whole
        here, attempt, m = here[whole], attempt[whole], m[whole]
        self.through[here] |= (drawn.through[m, run, attempt] != 0).astype(np.int64) << run
        home = here[(drawn.home[m, run, attempt] != 0) & (self.home[here] >> run & 1 == 0)]
        self.home[home] |= 1 << run
        self.scores(home, self.clock[home], rules.finish, np.full(len(home), run), None)
        return in_time

    def spend(self, what: What, here: Ints, run: Ints, attempt: Ints, seconds: Floats) -> None:
        """Time goes by in some of the matches."""
        self.clock[here] += seconds

    def scores(self, here: Ints, at: Floats, points: float, run: Ints, target: int | None) -> None:
        """Points come in some of the matches, by the clock ``at``."""
        self.score[here] += points

    def planned(self, plan: Order, tries: int) -> Ints:
        """(N,) what the plan would do: the same run again if that is worth it, else the next of the order; -1 for
        nothing."""
        rules, left = self.rules, self.left
        place = np.full(len(rules.needs) + 1, -1)
        place[list(plan)] = np.arange(len(plan))
        at = place[self.last]
        everyone = np.arange(len(self.matches))
        before = np.where(self.was(self.drawn.out, everyone), rules.rescue[MEAN], 0.0)
        begun = self.last >= 0
        # What is next is looked for from behind, so that the first one stays.
        found = np.full(len(at), -1)
        for k, run in reversed(list(enumerate(plan))):
            start = np.where(begun, rules.change[self.last, run, MEAN], 0.0) + before
            free = (at < k) & (self.tried >> run & 1 == 0) & (rules.needs[run] & ~self.through == 0)
            found[free & (start < left)] = run
        again = self._again(plan, at, tries)
        start = np.where(begun, rules.change[self.last, self.last, MEAN], 0.0) + before
        return np.where(again & (start < left), self.last, found)

    def _again(self, plan: Order, at: Ints, tries: int) -> Bools:
        """Whether the run tried last is tried again: it failed, and it can still score or is needed by one whose turn
        has not come; those of the plan up to it have had theirs."""
        rules, run = self.rules, self.last
        turns = np.bitwise_or.accumulate(np.array([0, *(1 << r for r in plan)], dtype=np.int64))
        had = self.tried | turns[at + 1]
        of_use = (self._worthy[run] & ~self.hit != 0) | (rules.needed[run] & ~had != 0)
        if rules.finish > 0:
            of_use |= (rules.finishes[run] != 0) & (self.home >> np.maximum(run, 0) & 1 == 0)
        failed = (self.through >> np.maximum(run, 0) & 1 == 0) & (self.tries[np.arange(len(run)), run] < tries)
        return np.asarray((at >= 0) & of_use & failed)


class Story(NamedTuple):
    """One match, told."""

    clock: float
    """When the last try was over; past the limit if that cuts it off."""
    score: float
    stretches: list[Stretch]
    scored: list[Scored]
    """In turn."""


class _Telling(Stories):
    """One match that keeps what it comes to."""

    def __init__(self, bank: Bank, m: int) -> None:
        super().__init__(bank, np.array([m]))
        self.stretches: list[Stretch] = []
        self.scored: list[Scored] = []

    def spend(self, what: What, here: Ints, run: Ints, attempt: Ints, seconds: Floats) -> None:
        limit, begin = self.rules.limit, float(self.clock[0])
        super().spend(what, here, run, attempt, seconds)
        end = float(self.clock[0])
        if len(here) and begin < limit:
            self.stretches.append(Stretch(what, int(run[0]), int(attempt[0]), begin, min(end, limit), cut=end > limit))

    def scores(self, here: Ints, at: Floats, points: float, run: Ints, target: int | None) -> None:
        super().scores(here, at, points, run, target)
        if len(here) and points:
            self.scored.append(Scored(float(at[0]), points, int(run[0]), target))


def _by_hand(times: Floats, drawn: Floats) -> Floats:
    return np.asarray(np.maximum(times[..., LEAST], times[..., MEAN] + times[..., SD] * drawn))


def tell(bank: Bank, order: Order, m: int) -> Story:
    """Match ``m`` of a bank in one order, from its start to its end."""
    story = _Telling(bank, m)
    tries = bank.drawn.seconds.shape[2]
    while story.left[0] > 0:
        run = int(story.planned(order, tries)[0])
        if run < 0 or not story.drive(np.array([0]), run)[0]:
            break
    scored = sorted(story.scored, key=lambda each: each.at)
    return Story(float(story.clock[0]), float(story.score[0]), story.stretches, scored)
