"""One match of a bank, told try by try: what was driven and done by hand from when to when, and which points came when.

The same rules as the kernel's, which plays many matches at once and keeps their sums only.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

from fieldsim.match.bank import Bank
from fieldsim.match.play import Order
from fieldsim.sim.kernel.match import LEAST, MEAN, SD, Drawn

__all__ = ["Scored", "Story", "Stretch", "tell"]


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


class Story:
    """One match, driven try by try. What was hit, got through, ended at home and had its turn are bits."""

    def __init__(self, bank: Bank, drawn: Drawn, told: bool = True) -> None:
        """``drawn`` is what is drawn for the match (`Bank.plain`); without ``told`` only clock and points are kept."""
        # Lists of plain numbers, whatever the types of their tables say.
        self.rules: Any = bank.plain_rules
        self.drawn: Any = drawn
        self.told = told
        self.clock = self.score = 0.0
        self.last, self.number = len(bank.match.runs), -1
        self.hit = self.through = self.home = self.tried = 0
        self.tries = [0] * len(bank.match.runs)
        self.stretches: list[Stretch] = []
        self.scored: list[Scored] = []

    @property
    def begun(self) -> bool:
        return self.number >= 0

    @property
    def got_through(self) -> bool:
        """The try before did."""
        return self.begun and bool(self.drawn.through[self.last][self.number])

    @property
    def out(self) -> bool:
        """The robot stands out on the field."""
        return self.begun and bool(self.drawn.out[self.last][self.number])

    @property
    def at_home(self) -> bool:
        """The try before ended inside its finish."""
        return self.begun and bool(self.drawn.home[self.last][self.number])

    def drive(self, run: int) -> bool:
        """Make ready and try a run; False if the clock cuts it off."""
        rules, drawn = self.rules, self.drawn
        attempt = self.tries[run]
        if self.begun:
            if self.out:
                self._score(self.clock, rules.rescue_points, self.last, None)
                fetching = _by_hand(rules.rescue, drawn.rescue[self.last][self.number])
                self._spend("fetch", self.last, self.number, fetching)
            changing = _by_hand(rules.change[self.last][run], drawn.change[run][attempt])
            self._spend("change", run, attempt, changing)
        self.last, self.number = run, attempt
        self.tries[run] += 1
        self.tried |= 1 << run
        left = rules.limit - self.clock
        if left <= 0:
            return False
        hits, ends = drawn.hit[run][attempt], drawn.ends[run][attempt]
        for act, target in enumerate(rules.target[run]):
            if target >= 0 and hits[act] and ends[act] <= left and not self.hit >> target & 1:
                self.hit |= 1 << target
                self._score(self.clock + ends[act], rules.points[target], run, target)
        seconds = drawn.seconds[run][attempt]
        self._spend("drive", run, attempt, seconds)
        if seconds > left:
            return False
        self.through |= drawn.through[run][attempt] << run
        if drawn.home[run][attempt] and not self.home >> run & 1:
            self.home |= 1 << run
            self._score(self.clock, rules.finish, run, None)
        return True

    def _spend(self, what: Literal["fetch", "change", "drive"], run: int, attempt: int, seconds: float) -> None:
        limit = self.rules.limit
        begin = self.clock
        self.clock += seconds
        if self.told and begin < limit:
            self.stretches.append(Stretch(what, run, attempt, begin, min(self.clock, limit), cut=self.clock > limit))

    def _score(self, at: float, points: float, run: int, target: int | None) -> None:
        self.score += points
        if self.told and points:
            self.scored.append(Scored(at, points, run, target))

    def planned(self, plan: Order, tries: int) -> int:
        """What the plan would do: the same run again if that is worth it, else the next of the order, else nothing."""
        at = plan.index(self.last) if self.last in plan else -1
        again = [self.last] if at >= 0 and self._again(plan[: at + 1], tries) else []
        later = [
            run for run in plan[at + 1 :] if not self.tried >> run & 1 and not self.rules.needs[run] & ~self.through
        ]
        for run in again + later:
            start = self.rules.change[self.last][run][MEAN] if self.begun else 0.0
            start += self.rules.rescue[MEAN] if self.out else 0.0
            if start < self.rules.limit - self.clock:
                return run
        return -1

    def _again(self, turns: Order, tries: int) -> bool:
        """Whether the run tried last is tried again: it failed, and it can still score or is needed by one whose turn
        has not come; ``turns`` have had theirs."""
        rules, run = self.rules, self.last
        if self.through >> run & 1 or self.tries[run] >= tries:
            return False
        to_hit = any(t >= 0 and rules.points[t] > 0 and not self.hit >> t & 1 for t in rules.target[run])
        to_end = rules.finish > 0 and rules.finishes[run] and not self.home >> run & 1
        had = self.tried | sum(1 << other for other in turns)
        return bool(to_hit or to_end or rules.needed[run] & ~had)


def _by_hand(times: list[float], drawn: float) -> float:
    return max(times[LEAST], times[MEAN] + times[SD] * drawn)


def tell(bank: Bank, order: Order, m: int) -> Story:
    """Match ``m`` of a bank in one order, from its start to its end."""
    (drawn,) = bank.plain(m, 1)
    story = Story(bank, drawn)
    tries = bank.drawn.seconds.shape[2]
    while story.clock < bank.rules.limit:
        run = story.planned(order, tries)
        if run < 0 or not story.drive(run):
            break
    story.scored.sort(key=lambda each: each.at)
    return story
