"""`try`: as many trials as asked for, or as an interval needs, counted as they come."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass, replace

from fieldsim.model import Run
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.plan import Plan, bare, plan
from fieldsim.sim.trials import Trials, blocks, joined
from fieldsim.stats.intervals import grow
from fieldsim.studies.answer import TryAnswer
from fieldsim.studies.tally import Tally

# Trials kept one by one for pictures and tables, beside the counts of all.
KEPT = 10_000
MOST = 10_000_000


@dataclass(frozen=True, eq=False)
class Tried:
    """A run that was tried: the answer, and the first trials one by one (None if not even a block was done)."""

    ready: Plan
    answer: TryAnswer
    first: Trials | None


class Trying:
    """A run while it is tried: counted block by block, with the first ``keep`` trials (in whole blocks) kept one by
    one."""

    def __init__(self, ready: Plan, *, seed: int = 1, threads: int | None = None, keep: int = 0) -> None:
        self.ready = ready
        self.seed = seed
        self.threads = threads
        self.keep = keep
        self.tally = Tally(ready)
        self._kept: list[Trials] = []

    def upto(self, trials: int) -> Generator[int, None, None]:
        """Go on until there are ``trials``; tells how many there are after each block. To go on once more, the number
        before must have been one of whole blocks."""
        done = self.tally.n
        # Closed at once when nobody asks for more: the threads of a pool are not to go on by themselves.
        with closing(
            blocks(self.ready, self.seed, trials - done, first_block=done // BLOCK, threads=self.threads)
        ) as more:
            for block in more:
                self.tally.add(block)
                if sum(map(len, self._kept)) < self.keep:
                    self._kept.append(block)
                yield self.tally.n

    def tried(
        self, *, asked: int | None, bare: bool = False, need: float | None = None, stopped_early: bool = False
    ) -> Tried:
        """What there is so far."""
        answer = self.tally.answer(seed=self.seed, asked=asked, bare=bare, need=need, stopped_early=stopped_early)
        return Tried(self.ready, answer, joined(self._kept) if self._kept else None)


def attempt(
    run: Run,
    *,
    trials: int | None = 10_000,
    half_width: float | None = None,
    seed: int = 1,
    without_attachments: bool = False,
    need: float | None = None,
    threads: int | None = None,
    keep: int = 0,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Tried:
    """Try a run ``trials`` times, or until the half-width of the success share's 95 % interval is ``half_width``.

    ``watch(done, wanted)`` is told after each block. A KeyboardInterrupt between blocks ends the work early and keeps
    what was done; the answer says so. Ctrl-C before the first block is passed on.
    """
    if half_width is not None:
        trials = None
    trying = Trying(plan(bare(run) if without_attachments else run), seed=seed, threads=threads, keep=keep)
    tally = trying.tally
    early = False

    def rounds() -> Iterator[int]:
        if trials is not None:
            yield from trying.upto(trials)
            return
        assert half_width is not None
        while True:
            wanted = grow(tally.success, tally.n, half_width, block=BLOCK, limit=MOST)
            if wanted <= tally.n:
                return
            yield from trying.upto(wanted)

    try:
        for done in rounds():
            wanted = trials or max(done, grow(tally.success, done, half_width or 0.01, block=BLOCK, limit=MOST))
            watch(done, wanted)
    except KeyboardInterrupt:
        if tally.n == 0:
            raise
        early = True
    tried = trying.tried(asked=trials, bare=without_attachments, need=need, stopped_early=early and trials is None)
    if early or tally.n == 0:
        return tried
    return with_unknown(tried, threads=threads)


def with_unknown(
    tried: Tried, *, threads: int | None = None, watch: Callable[[int, int], None] = lambda done, wanted: None
) -> Tried:
    """The same with what the robot's tests leave unknown, if its file says anything of that. What ``watch(done,
    wanted)`` raises breaks it off."""
    ready, answer = tried.ready, tried.answer
    if ready.run.robot.accuracy.between is None:
        return tried
    from fieldsim.studies.unknown import unknown

    found = unknown(ready.run, answer.success.share, seed=answer.seed, threads=threads, watch=watch)
    return replace(tried, answer=replace(answer, unknown=found))


def with_remedies(tried: Tried, *, threads: int | None = None) -> Tried:
    """The same with what was tried against its failures: with as many trials of each as belong to those of the answer,
    so that who asks for few does not wait for many."""
    from fieldsim.studies.remedies import PROVEN, remedies

    answer = tried.answer
    if answer.trials == 0 or answer.success.share == 1.0:
        return tried
    found = remedies(
        tried.ready.run,
        seed=answer.seed,
        trials=min(PROVEN, answer.trials),
        threads=threads,
    )
    return replace(tried, answer=replace(answer, remedies=found))
