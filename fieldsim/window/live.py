"""Trials that run again while a hand drags: first coarse, then finer, and never in the hand's way.

One thread owns the work. The window wishes for a run (``want``), goes on drawing, and looks for news with each frame
(``news``). Whatever is shown is what ``fieldsim try`` says of as many trials: blocks, seeds and counts are the same
code, so the last answer to a run equals ``fieldsim.studies.attempt.attempt`` to the last bit.

**Stages.** A wish first brings a coarse answer, then one of ``STAGE`` trials, and once the hand has rested for
``REST``, all of them, and at last what the robot's tests leave unknown, if its file says anything of that. Where the
second answer came within ``BUDGET`` the last time, the coarse one is left out: it would only make the better one later.
A wish that has been begun always brings its first answer, even if there is a newer one by then; otherwise a hand that
never rests would see nothing at all. What comes after that is dropped between two blocks as soon as there is a newer
wish.

The trials are the same ones for every run (see ``fieldsim.sim.draws``), so numbers move with the hand and do not
flicker by
luck.
"""

from __future__ import annotations

import os
import threading
import time
from contextlib import closing, suppress
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Literal, Self

from fieldsim.language import tr
from fieldsim.model import Body, Drive, Field, Robot, Run, StartByEye, Straight, Turn
from fieldsim.model.errors import FieldsimError

if TYPE_CHECKING:
    from fieldsim.sim.plan import Plan
    from fieldsim.sim.sample import PathSample
    from fieldsim.sim.trials import Trials
    from fieldsim.studies.answer import TryAnswer
    from fieldsim.studies.attempt import Tried, Trying

__all__ = ["COARSE", "FULL", "STAGE", "Live", "Shown", "State", "get_ready"]

# Trials of the coarse answer: the first ones of the first block, which take a quarter of it; half-width 6 % at worst.
COARSE = 250
# Trials of the answer that is wanted while the hand moves, whole blocks.
STAGE = 2_000
# Trials of the answer for a hand at rest: what `fieldsim try` does when nothing is said.
FULL = 10_000
# Trial paths of a sample, as many as `fieldsim try --save` draws.
DRAWN = 60

# An answer of ``STAGE`` trials that takes no longer than this, seconds, needs no coarse one before it.
BUDGET = 0.045
# How long the hand must rest before all trials are begun, seconds: a hand that goes on within this time would only wait
# for blocks nobody looks at.
REST = 0.12
# Between two answers on the way to all trials, seconds.
BETWEEN = 0.25
# How much less each coarse answer makes us expect of the next finer one, so that one slow moment is soon forgotten.
FORGET = 0.9

State = Literal["getting ready", "working", "resting", "closed"]


@dataclass(frozen=True, eq=False)
class Shown:
    """What there is to show of a run. Equality is identity: these hold arrays."""

    run: Run
    """As it was wished for,"""
    number: int
    """and the number of that wish, from 1."""
    plan: Plan | None
    """None if the run cannot be planned."""
    answer: TryAnswer | None
    """Of the trials so far; None if there is a problem."""
    first: Trials | None
    """The first trials one by one, whole blocks of them; None if none are kept."""
    sample: PathSample | None
    """Paths of the first trials of those, and all their first contacts."""
    stands_in: tuple[str, ...]
    """What the robot would have to stand in at the planned start: no one can set it there."""
    n: int
    """Trials so far."""
    full: bool
    """These are all that are wanted: nothing more comes for this wish."""
    problem: str | None = None
    """Why the run cannot be tried, in the words of the error."""
    cause: Exception | None = None
    """That error itself, where it is none of those that are meant for the user."""


class _DroppedError(Exception):
    """What was going on is no longer wanted."""


@dataclass(frozen=True)
class _Wish:
    run: Run
    ready: Plan | None
    number: int
    bare: bool


class Live:
    """Tries the run that was wished for last, in a thread of its own. To be closed, or used in a ``with``.

    ``threads`` is how many cores the trials may use; None is all of them, less one for the window where they go on at
    rest. ``keep`` is how many first trials ``Shown`` has one by one (in whole blocks), ``drawn`` how many of their
    paths. The thread starts at once and gets the kernel ready, so that the first wish need not wait: where it has never
    been compiled before, that takes some 20 seconds, told by ``state``.
    """

    def __init__(
        self,
        threads: int | None = None,
        seed: int = 1,
        full: int = FULL,
        keep: int = FULL,
        drawn: int = DRAWN,
    ) -> None:
        if full < 1:
            raise ValueError(f"full={full!r} must be at least 1")
        if not 0 <= seed < 2**64:
            raise ValueError(f"seed={seed!r} must be a whole number from 0 to {2**64 - 1}")
        self._threads = threads
        self._seed = seed
        self._full = full
        self._keep = keep
        self._drawn = drawn
        # The seconds an answer of STAGE trials is expected to take, plan and all. To begin with, too long.
        self._expected = 2 * BUDGET
        # Held for moments only, by the window and by the worker, and never while anything is computed.
        self._change = threading.Condition()
        self._last = 0
        self._wish: _Wish | None = None
        self._at_work = False
        self._news: Shown | None = None
        self._state: State = "getting ready"
        self._closing = False
        # A daemon, since compiling cannot be broken off and must not keep a closed window's process alive.
        self._thread = threading.Thread(target=self._work, name="fieldsim live trials", daemon=True)
        self._thread.start()

    # --- the window's side -------------------------------------------------------------------------------------------

    def want(self, run: Run, ready: Plan | None = None, *, bare: bool = False) -> int:
        """Wish for a run in place of any other (``bare``: without attachments and acts); returns at once, with the
        number of this wish. ``ready`` is the run's plan, where it has been made already."""
        with self._change:
            if self._closing:
                raise RuntimeError("live trials that are closed cannot be wished for")
            self._last += 1
            self._wish = _Wish(run, ready, self._last, bare)
            self._change.notify_all()
            return self._last

    def news(self) -> Shown | None:
        """The newest there is to show, once; None if nothing is new. Wishes and trials never go back."""
        with self._change:
            news, self._news = self._news, None
            return news

    @property
    def busy(self) -> bool:
        """Whether something is still to come for the last wish."""
        with self._change:
            return not self._closing and (self._wish is not None or self._at_work)

    @property
    def state(self) -> State:
        """'getting ready' until the kernel is loaded or compiled, then 'working' or 'resting'; 'closed' at the end."""
        with self._change:
            return self._state

    def close(self, wait: float = 5.0) -> bool:
        """Drop all wishes and end the thread, which takes no longer than a block of trials; whether it has ended within
        ``wait`` seconds. (It may not have where it still compiles. Then it ends by itself, or with the process.)"""
        with self._change:
            self._closing = True
            self._wish = self._news = None
            self._change.notify_all()
        self._thread.join(wait)
        return not self._thread.is_alive()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- the worker's side -------------------------------------------------------------------------------------------

    def _work(self) -> None:
        # Whatever goes wrong there, a wish meets it again and tells it.
        with suppress(Exception):
            get_ready()
        while (wish := self._next()) is not None:
            try:
                self._serve(wish)
            except Exception as error:
                self._tell(_unable(wish, error))
        with self._change:
            self._state = "closed"

    def _next(self) -> _Wish | None:
        """Wait for a wish; None is the end."""
        with self._change:
            self._at_work = False
            self._state = "resting" if self._wish is None else "working"
            self._change.wait_for(lambda: self._closing or self._wish is not None)
            if self._closing:
                return None
            wish, self._wish = self._wish, None
            self._at_work = True
            self._state = "working"
            return wish

    def _serve(self, wish: _Wish) -> None:
        # Here and not at the top: a window must not wait for numpy and the kernel before it opens.
        from fieldsim.sim.plan import bare, overlaps, plan
        from fieldsim.studies.attempt import Trying, with_unknown

        def tell(trying: Trying) -> None:
            self._tell(self._shown(wish, self._tried(wish, trying), stands_in, self._complete(trying)))

        began = time.perf_counter()
        ready = wish.ready
        if ready is None or wish.bare:
            ready = plan(bare(wish.run) if wish.bare else wish.run)
        stands_in = tuple(name for name, _ in overlaps(ready))
        planning = time.perf_counter() - began
        stage = min(STAGE, self._full)
        first = self._expected <= BUDGET or stage <= COARSE
        if not first:
            coarse = Trying(ready, seed=self._seed, threads=1, keep=self._keep)
            if not self._go_on(coarse, COARSE, to_the_end=True):
                return
            tell(coarse)
            self._expected *= FORGET
            if self._newer():
                return

        began = time.perf_counter()
        trying = Trying(ready, seed=self._seed, threads=self._threads, keep=self._keep)
        if not self._go_on(trying, stage, to_the_end=first):
            return
        tell(trying)
        self._expected = planning + time.perf_counter() - began

        if self._complete(trying) or not self._rested():
            return
        trying.threads = calm = self._threads or max(1, (os.cpu_count() or 1) - 1)
        told = time.perf_counter()
        while trying.tally.n < self._full:
            # On to the next answer that is shown, or to the end.
            if not self._go_on(trying, self._full, until=told + BETWEEN):
                return
            tell(trying)
            told = time.perf_counter()
        if self._complete(trying):
            return

        # Last what few tests leave unknown of the robot, which takes seconds.
        def broken_off(done: int, wanted: int) -> None:
            if self._newer():
                raise _DroppedError

        with suppress(_DroppedError):
            known = with_unknown(self._tried(wish, trying), threads=calm, watch=broken_off)
            self._tell(self._shown(wish, known, stands_in, full=True))

    def _complete(self, trying: Trying) -> bool:
        """Whether nothing more is to come."""
        return trying.tally.n == self._full and trying.ready.run.robot.accuracy.between is None

    def _go_on(self, trying: Trying, trials: int, *, to_the_end: bool = False, until: float = inf) -> bool:
        """More trials, up to a number or a time; False if they are no longer wanted. ``to_the_end`` does not look at
        newer wishes."""
        with closing(trying.upto(trials)) as steps:
            for done in steps:
                if self._closing or (done < trials and not to_the_end and self._newer()):
                    return False
                if time.perf_counter() >= until:
                    break
        return True

    def _newer(self) -> bool:
        with self._change:
            return self._closing or self._wish is not None

    def _rested(self) -> bool:
        """Wait whether the hand rests; False if there is a newer wish."""
        with self._change:
            return not self._change.wait_for(lambda: self._closing or self._wish is not None, REST)

    def _tried(self, wish: _Wish, trying: Trying) -> Tried:
        # What is done so far was asked for so far: an answer to as many trials, and not one that was broken off.
        return trying.tried(asked=trying.tally.n, bare=wish.bare)

    def _shown(self, wish: _Wish, tried: Tried, stands_in: tuple[str, ...], full: bool) -> Shown:
        from fieldsim.sim.trials import paths

        sample = None
        if tried.first is not None:
            numbers = list(range(min(self._drawn, len(tried.first))))
            sample = paths(tried.ready, self._seed, tried.first, numbers)
        return Shown(
            run=wish.run,
            number=wish.number,
            plan=tried.ready,
            answer=tried.answer,
            first=tried.first,
            sample=sample,
            stands_in=stands_in,
            n=tried.answer.trials,
            full=full,
        )

    def _tell(self, news: Shown) -> None:
        with self._change:
            if not self._closing:
                self._news = news


def _unable(wish: _Wish, error: Exception) -> Shown:
    """What is shown of a run that cannot be tried."""
    # A ValueError is a run that cannot be, too; anything else is a mistake of this program.
    known = isinstance(error, FieldsimError | ValueError)
    words = (
        str(error)
        if known
        else tr("This run cannot be tried, and that is fieldsim's mistake: {error}", error=repr(error))
    )
    return Shown(
        run=wish.run,
        number=wish.number,
        plan=None,
        answer=None,
        first=None,
        sample=None,
        stands_in=(),
        n=0,
        full=True,
        problem=words,
        cause=None if known else error,
    )


def get_ready() -> None:
    """Load the kernel, or compile it on its first use on a machine: all that a wish calls is called once."""
    from fieldsim.sim.plan import overlaps, plan
    from fieldsim.sim.trials import paths
    from fieldsim.studies.attempt import Trying

    # Invented, and against a wall so that a resting contact is looked at too.
    robot = Robot("Any", Body(100.0, 100.0, 20.0), Drive(80.0, 60.0))
    run = Run("Any", Field("Any", (500.0, 500.0)), robot, StartByEye((20.5, 250.0), 0.0), (Straight(100.0), Turn(90.0)))
    ready = plan(run)
    overlaps(ready)
    trying = Trying(ready, threads=1, keep=1)
    for _ in trying.upto(1):
        pass
    first = trying.tried(asked=1).first
    assert first is not None
    paths(ready, 1, first, [0])
