"""Drives and trials in the same words: how each ended, and how far it was from its targets."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, Alignment, Run
from fieldsim.model.measured import LogEntry
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.plan import Plan
from fieldsim.sim.trials import blocks

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Tell = Callable[[int], None]

# A robot and a date: such drives share that day's errors. All drives without a date are taken to be of one day.
Day: TypeAlias = tuple[str, datetime.date | None]

# Misses are counted in steps of a tape's millimetre up to this many.
MOST_MISS = 1000


class Outcome(NamedTuple):
    """How a drive or a trial ended, in the words of a log: 'through', 'touched', 'missed' or 'stopped', and at what.
    An empty ``where`` of a drive that did not get through is not known."""

    result: str
    where: str


THROUGH = Outcome("through", "")


def trial_outcome(failure: Failure | None) -> Outcome:
    """What a log would say of a trial. A finish that was not met is a miss of it; a wall or line that was not caught
    stops the run."""
    if failure is None:
        return THROUGH
    if failure.why == "touches":
        return Outcome("touched", failure.what)
    return Outcome("missed" if failure.why in ("misses", "ends outside") else "stopped", failure.what)


def drive_outcome(entry: LogEntry, run: Run) -> Outcome:
    """The same of a drive, in the same words wherever two words mean one thing."""
    if entry.result == "through":
        return THROUGH
    where = entry.where
    aligned = _aligned(run)
    if where is None and entry.result == "missed":
        where = entry.target or _act_at(run, entry.segment)
    if entry.result == "stopped" and where is None and entry.segment is not None:
        where = aligned.get(entry.segment)
    if where is None:
        return Outcome(entry.result, "")
    if entry.result == "missed" and where in aligned.values():
        return Outcome("stopped", where)
    if entry.result == "stopped" and where == run.finish:
        return Outcome("missed", where)
    return Outcome(entry.result, where)


def _act_at(run: Run, number: int | None) -> str | None:
    segment = run.segments[number - 1] if number is not None and number <= len(run.segments) else None
    return segment.target if isinstance(segment, Act) else None


def _aligned(run: Run) -> dict[int, str]:
    """What each square, line square and drive until a line aligns on, by segment."""
    return {
        number: segment.on for number, segment in enumerate(run.segments, start=1) if isinstance(segment, Alignment)
    }


# Of what trials a measured miss at a target is one: of those that missed it first, of those that hit it (nothing had
# gone wrong before), or of all that came there.
OFF, HIT, ANY = range(3)


class Case:
    """One run with its drives."""

    def __init__(self, name: str, run: Run, entries: Sequence[LogEntry]) -> None:
        self.name = name
        self.run = run
        self.entries = tuple(entries)
        self.days: tuple[Day, ...] = tuple((run.robot.name, entry.date) for entry in self.entries)
        """The day of each drive."""
        acts = [segment.target for segment in run.segments if isinstance(segment, Act)]
        self.targets = tuple(dict.fromkeys(acts))
        """Targets in the order the run comes to them; of a target that it comes to twice the first time counts."""
        self.act = tuple(acts.index(target) for target in self.targets)
        self.outcomes = tuple(drive_outcome(entry, run) for entry in self.entries)
        self.numbers: dict[Outcome, int] = {THROUGH: 0}
        """Every outcome that has come up, with its number."""
        for outcome in self.outcomes:
            if outcome.where:
                self.numbers.setdefault(outcome, len(self.numbers))

    def state(self, outcome: Outcome, target: int) -> int:
        """`OFF`, `HIT` or `ANY` for a miss measured at a target in a drive or trial that ended so."""
        if outcome.result != "missed" or outcome.where not in self.targets:
            return HIT if outcome.result != "missed" or outcome.where == self.run.finish else ANY
        first = self.targets.index(outcome.where)
        return OFF if first == target else HIT if first > target else ANY

    def measured(self) -> list[tuple[int, int, int]]:
        """Measured misses: the drive's place in ``entries``, the target's in ``targets``, whole mm. Those at a target
        that the run has no act for are left out."""
        found = []
        for number, entry in enumerate(self.entries):
            target = entry.target if entry.target is not None else entry.where
            if entry.miss is not None and target in self.targets:
                found.append((number, self.targets.index(target), _whole(entry.miss)))
        return found


def _whole(miss: float) -> int:
    return int(min(np.rint(miss), MOST_MISS))


@dataclass(frozen=True, eq=False)
class Sample:
    """Trials of one run, N of them, in the words of a log."""

    outcome: Ints
    """(N,) numbers of `Case.numbers`."""
    miss: Ints
    """(N, T) whole mm, -1 where the target was not come to."""
    seconds: Floats
    """Of those that got through."""

    def __len__(self) -> int:
        return len(self.outcome)

    def between(self, first: int, end: int) -> Sample:
        """Trials from ``first`` to before ``end``, without their seconds; all of them if that would be none."""
        cut = slice(first, end) if first < min(end, len(self)) else slice(None)
        return Sample(self.outcome[cut], self.miss[cut], np.zeros(0))


def sampled(
    case: Case, ready: Plan, trials: int, seed: int, threads: int | None, tell: Tell, first_block: int = 0
) -> Sample:
    """Trials of a plan of the case's run. New outcomes are given numbers in the case."""
    outcomes: list[Ints] = []
    misses: list[Ints] = []
    seconds: list[Floats] = []
    act = list(case.act)
    for block in blocks(ready, seed, trials, first_block=first_block, threads=threads, clearances=False):
        found = [trial_outcome(failure) for failure in failures(block)]
        outcomes.append(np.array([case.numbers.setdefault(each, len(case.numbers)) for each in found], dtype=np.int64))
        whole = np.minimum(np.rint(block.miss[:, act]), MOST_MISS).astype(np.int64)
        misses.append(np.where(block.reached[:, act], whole, -1))
        seconds.append(block.time[block.success])
        tell(len(block))
    return Sample(np.concatenate(outcomes), np.concatenate(misses), np.concatenate(seconds))


def miss_counts(case: Case, sample: Sample) -> Ints:
    """(T, 3, MOST_MISS + 1): trials by target, by state (`OFF`, `HIT`, `ANY`: all that came there) and by whole mm."""
    outcomes = list(case.numbers)
    counts = np.zeros((len(case.targets), 3, MOST_MISS + 1), dtype=np.int64)
    for t in range(len(case.targets)):
        came = sample.miss[:, t] >= 0
        states = np.array([case.state(outcome, t) for outcome in outcomes])[sample.outcome]
        for state in (OFF, HIT):
            counts[t, state] = np.bincount(sample.miss[came & (states == state), t], minlength=MOST_MISS + 1)
        counts[t, ANY] = np.bincount(sample.miss[came, t], minlength=MOST_MISS + 1)
    return counts
