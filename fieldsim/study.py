"""`try`: as many trials as asked for, or as an interval needs, counted as they come."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fieldsim.answer import TryAnswer
from fieldsim.draws import BLOCK
from fieldsim.model import Run
from fieldsim.plan import Plan, bare, plan
from fieldsim.stats import grow
from fieldsim.tally import Tally
from fieldsim.trials import Trials, blocks, joined

# Trials kept one by one for pictures and tables, beside the counts of all.
KEPT = 10_000
MOST = 10_000_000


@dataclass(frozen=True, eq=False)
class Tried:
    """A run that was tried: the answer, and the first trials one by one (None if not even a block was done)."""

    ready: Plan
    answer: TryAnswer
    first: Trials | None


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
    ready = plan(bare(run) if without_attachments else run)
    tally = Tally(ready)
    kept: list[Trials] = []
    early = False

    def rounds() -> Iterator[Trials]:
        if trials is not None:
            yield from blocks(ready, seed, trials, threads=threads)
            return
        assert half_width is not None
        done = 0
        while True:
            wanted = grow(tally.success, done, half_width, block=BLOCK, limit=MOST)
            if wanted <= done:
                return
            yield from blocks(ready, seed, wanted - done, first_block=done // BLOCK, threads=threads)
            done = wanted

    try:
        for block in rounds():
            tally.add(block)
            if sum(map(len, kept)) < keep:
                kept.append(block)
            wanted = trials or max(tally.n, grow(tally.success, tally.n, half_width or 0.01, block=BLOCK, limit=MOST))
            watch(tally.n, wanted)
    except KeyboardInterrupt:
        if tally.n == 0:
            raise
        early = True
    answer = tally.answer(
        seed=seed,
        asked=trials,
        bare=without_attachments,
        need=need,
        stopped_early=early and trials is None,
    )
    return Tried(ready, answer, joined(kept) if kept else None)
