"""The states of a match for a policy: what of it still matters for what comes, packed into a whole number.

A state is how often each run was tried (or that nothing can come of it any more), which targets are scored that runs to
come act at, which runs got through that runs to come need, which of them have their points for the finish, the class of
the run before (as far as changes differ by it) and whether the robot stands out. Matches that differ in nothing of this
are in one state. Tens of thousands of states are made and looked up again and again: a number is made and found much
faster than a record of six members, and its parts are taken out only where somebody asks.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fieldsim.match.bank import Bank
from fieldsim.match.play import Ints, Order

State = int


class Made(NamedTuple):
    """How a try can end."""

    hit: int
    """Targets that are scored, as bits."""
    through: bool
    home: bool
    out: bool


class Ends(NamedTuple):
    """What try j of a run came to, in the matches in which it was made."""

    matches: Ints
    made: list[Made]
    """Each way it ended."""
    kind: Ints
    """Which of them it was in each of the matches."""


Ended = list[list[Ends]]

NEVER = Ends(np.zeros(0, dtype=np.int64), [], np.zeros(0, dtype=np.int64))


def ends_of(bank: Bank) -> Ended:
    """Of every run and try in a bank what it came to."""
    runs, tries = bank.drawn.seconds.shape[1:]
    return [[_ends(bank, r, j) for j in range(tries)] for r in range(runs)]


def _ends(bank: Bank, r: int, j: int) -> Ends:
    drawn = bank.drawn
    there = np.flatnonzero(~drawn.through[:, r, :j].astype(bool).any(axis=1))
    hit = np.zeros(len(there), dtype=np.int64)
    for act, target in enumerate(bank.rules.target[r]):
        if target >= 0:
            hit |= np.where(drawn.hit[there, r, j, act] != 0, 1 << int(target), 0)
    # The bits of many targets leave no room for three more.
    hits, which = np.unique(hit, return_inverse=True)
    flags = [np.asarray(table[there, r, j] != 0, dtype=np.int64) for table in (drawn.through, drawn.home, drawn.out)]
    codes, kind = np.unique(which * 8 + flags[0] * 4 + flags[1] * 2 + flags[2], return_inverse=True)
    made = [Made(int(hits[code >> 3]), bool(code & 4), bool(code & 2), bool(code & 1)) for code in codes.tolist()]
    return Ends(there, made, kind.astype(np.int64))


class States:
    """Finds the states of a match for some of its runs. From the lowest bit: out, class of the run before, and then the
    board: targets scored, runs through, runs home, tries of each run."""

    def __init__(self, bank: Bank, runs: Order, tries: int, ended: Ended | None = None) -> None:
        """``ended`` are the ends of the bank's tries, if known."""
        self.bank, self.runs, self.tries = bank, runs, tries
        rules = self.rules = bank.rules
        count = len(bank.match.runs)
        change = rules.change
        self.alike = tuple(next(b for b in range(count) if (change[a] == change[b]).all()) for a in range(count))
        """Of each run the first one after which every change takes the same."""
        self.worthy = [sum({1 << int(t) for t in row if t >= 0 and rules.points[t] > 0}) for row in rules.target]
        self.needs = [int(bits) for bits in rules.needs]
        self.needed = [int(bits) for bits in rules.needed]
        self.finishes = sum(1 << r for r in range(count) if rules.finishes[r])
        ended = ended or ends_of(bank)
        self.ends = [[each if r in runs else NEVER for each in row[:tries]] for r, row in enumerate(ended)]
        """Of each run and try."""

        every = (1 << count) - 1
        self._all = every
        self._targets = [
            sum({1 << int(t) for t in row if t >= 0 and rules.points[t] != 0}) for row in rules.target
        ]  # fmt: skip
        self._below = 1 + count.bit_length()
        """Bits below the board."""
        self._through = len(rules.points)
        self._home = self._through + count
        self._turns = self._home + count
        self._width = tries.bit_length()
        self._done = (1 << self._width) - 1
        """So many tries of a run say that nothing can come of it any more."""
        self._turn = [self._turns + r * self._width for r in range(count)]
        self._over = sum(self._done << turn for turn in self._turn)
        self._kept: dict[int, int] = {}
        self._can: dict[int, list[int]] = {}
        left_out = sum(self._done << self._turn[r] for r in range(count) if r not in runs)
        self.start: State = self._state(self._lively(left_out), count, False)
        """Before the first run."""

    def hit(self, state: State) -> int:
        """Targets that are scored, as bits."""
        return state >> self._below & ((1 << self._through) - 1)

    def home(self, state: State) -> int:
        """Runs that have their points for the finish, as bits."""
        return state >> self._below >> self._home & self._all

    def before(self, state: State) -> int:
        """Class of the run before; the number of runs before the first one."""
        return (state & ((1 << self._below) - 1)) >> 1

    def out(self, state: State) -> bool:
        """The robot stands out."""
        return bool(state & 1)

    def tried(self, state: State, r: int) -> int:
        """How often run r was tried; only of one that is open."""
        return state >> self._below >> self._turn[r] & self._done

    def open_runs(self, state: State) -> tuple[int, ...]:
        """The runs of which something can still come, in the order of the plan."""
        return tuple(r for r in self.runs if self.tried(state, r) != self._done)

    def can_do(self, state: State) -> list[int]:
        """The runs that can be tried, in the order of the plan."""
        board = state >> self._below
        known = self._can.get(board)
        if known is None:
            through = board >> self._through & self._all
            known = self._can[board] = [
                r
                for r in self.open_runs(state)
                if not self.needs[r] & ~through and len(self.ends[r][self.tried(state, r)].matches)
            ]
        return known

    def potential(self, state: State) -> int:
        """Tries that are left: falls with every try."""
        return sum(self.tries - self.tried(state, r) for r in self.open_runs(state))

    def after(self, state: State, r: int, made: Made) -> State:
        """The state after a try of run r has ended in time."""
        board = state >> self._below | self._adds(r, made)
        # A run that the policy does not know, or of which nothing was to come, has no tries to count.
        counted = r if self.tried(state, r) != self._done else None
        return self._state(self._lively(board, counted), self.alike[r], made.out)

    def reached(self, most: int) -> dict[State, list[tuple[int, list[State]]]] | None:
        """Every state that can be reached, with its runs and where their ends lead; None if there are more than
        ``most``."""
        adds = [[[self._adds(r, made) for made in each.made] for each in row] for r, row in enumerate(self.ends)]
        outs = [[[made.out for made in each.made] for each in row] for row in self.ends]
        # Where a try leads to is the same for all states of one board.
        boards: dict[int, list[tuple[int, list[State]]]] = {}
        found: dict[State, list[tuple[int, list[State]]]] = {}
        known, waiting = {self.start}, [self.start]
        kept = self._kept
        while waiting:
            state = waiting.pop()
            board = state >> self._below
            leads = boards.get(board)
            if leads is None:
                leads = boards[board] = []
                for r in self.can_do(state):
                    j = self.tried(state, r)
                    once = 1 << self._turn[r]
                    ends = [kept.get((board | bits) + once) or self._lively(board | bits, r) for bits in adds[r][j]]
                    leads.append(
                        (r, [self._state(b, self.alike[r], out) for b, out in zip(ends, outs[r][j], strict=True)])
                    )
                new = {end for _, ends in leads for end in ends} - known
                known |= new
                waiting.extend(sorted(new))
            found[state] = leads
            if len(known) > most:
                return None
        return found

    def _adds(self, r: int, made: Made) -> int:
        """What a try of run r adds to the board."""
        return made.hit | made.through << self._through + r | made.home << self._home + r

    def _state(self, board: int, before: int, out: bool) -> State:
        if board == self._over:
            before, out = len(self.needs), False
        return board << self._below | before << 1 | out

    def _lively(self, board: int, tried: int | None = None) -> int:
        """A board, after one try more of a run, without what does not matter any more."""
        if tried is not None:
            board += 1 << self._turn[tried]
        known = self._kept.get(board)
        if known is None:
            known = self._kept[board] = self._without(board)
        return known

    def _without(self, board: int) -> int:
        done, needs, needed, worthy = self._done, self.needs, self.needed, self.worthy
        hit = board & ((1 << self._through) - 1)
        through, home = board >> self._through & self._all, board >> self._home & self._all
        pays = self.finishes & ~home if self.rules.finish > 0 else 0
        most = min(done, self.tries)
        alive = [r for r in self.runs if not through >> r & 1 and (board >> self._turn[r] & done) < most]
        while True:
            # Nothing can come of a run that has nothing to score for itself or for one that needs it, nor of one that
            # needs what cannot be had.
            able = 0
            for r in alive:
                able |= 1 << r
            still = [
                r
                for r in alive
                if (worthy[r] & ~hit or pays >> r & 1 or needed[r] & able & ~(1 << r))
                and not needs[r] & ~through & ~able
            ]
            if len(still) == len(alive):
                break
            alive = still
        told = wanted = 0
        turns = self._over
        for r in alive:
            told |= self._targets[r]
            wanted |= needs[r]
            # The tries of a run that is alive in the place of 'done'.
            turns ^= (board & done << self._turn[r]) ^ done << self._turn[r]
        return turns | (home & able & self.finishes) << self._home | (through & wanted) << self._through | hit & told
