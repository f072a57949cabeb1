"""What a season's files hold, and the odds of its runs: read and counted one after the other in a thread of its own, so
that the window never waits. The runs are tried with the trials of ``fieldsim try``, so both tell the same odds."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Protocol

from fieldsim.model.errors import FieldsimError, FileError
from fieldsim.sim.ways import way_of
from fieldsim.window.season.files import Item, load

__all__ = ["TRIALS", "Counts", "Known", "Learner", "learn_now"]

# Of each run, as many as ``fieldsim try`` drives if nothing else is asked.
TRIALS = 10_000


@dataclass(frozen=True, eq=False)
class Known:
    """What is known of a file by now. ``value`` is what it holds, ``wrong`` why it cannot be shown."""

    marks: tuple[tuple[int, int], ...] = ()
    """Of the file and of those it names, when it was read."""
    value: Any = None
    wrong: Exception | None = None
    way: Any = None
    """Of a run: a ``Way`` to be drawn,"""
    parts: tuple[Any, ...] = ()
    """its footprint,"""
    answer: Any = None
    """and what `try` says."""


class Learner(Protocol):
    """What a session knows its files by."""

    def want(self, items: Iterable[Item]) -> None: ...

    def news(self) -> Mapping[Path, Known]: ...

    @property
    def busy(self) -> bool: ...


def _marks(item: Item) -> tuple[tuple[int, int], ...]:
    found = []
    for path in (item.path, *item.uses):
        try:
            told = path.stat()
            found.append((told.st_mtime_ns, told.st_size))
        except OSError:
            found.append((0, 0))
    return tuple(found)


def _read(item: Item) -> Known:
    known = Known(_marks(item))
    try:
        value = load(item)
        if item.kind != "run":
            return replace(known, value=value)
        # Here and not at the top: the window is not to wait for numpy and the kernel.
        from fieldsim.sim.plan import plan

        ready = plan(value)
        return replace(known, value=value, way=way_of(ready), parts=ready.parts)
    except (FieldsimError, OSError, ValueError) as wrong:
        return replace(known, wrong=wrong)


def _counted(known: Known, seed: int, trials: int, going_on: Callable[[], bool]) -> Known | None:
    """With the odds of a run; None if they are not wanted any more."""
    from fieldsim.sim.plan import plan
    from fieldsim.studies.attempt import Trying

    try:
        trying = Trying(plan(known.value), seed=seed, threads=1)
        with closing(trying.upto(trials)) as steps:
            for _ in steps:
                if not going_on():
                    return None
        return replace(known, answer=trying.tried(asked=trials).answer)
    except (FieldsimError, ValueError) as wrong:
        return replace(known, wrong=wrong)


def learn_now(items: Iterable[Item], seed: int = 1, trials: int = TRIALS) -> dict[Path, Known]:
    """All at once, for pictures and tests."""
    found = {}
    for item in items:
        known = _read(item)
        if item.kind == "run" and known.wrong is None:
            known = _counted(known, seed, trials, lambda: True) or known
        found[item.path] = known
    return found


@dataclass
class Counts:
    """The thread. Everything is read first, then the runs are tried; a newer wish begins anew with what is new."""

    seed: int = 1
    trials: int = TRIALS
    _wish: tuple[Item, ...] | None = None
    _known: dict[Path, Known] = field(default_factory=dict)
    _news: dict[Path, Known] = field(default_factory=dict)
    _closing: bool = False
    _at_work: bool = False

    def __post_init__(self) -> None:
        self._change = threading.Condition()
        self._thread = threading.Thread(target=self._work, name="fieldsim season", daemon=True)
        self._thread.start()

    def want(self, items: Iterable[Item]) -> None:
        """These files are shown from now on. What has not changed since is not read again."""
        with self._change:
            self._wish = tuple(items)
            self._change.notify_all()

    def news(self) -> Mapping[Path, Known]:
        """What is new since this was asked last."""
        with self._change:
            news, self._news = self._news, {}
            return news

    @property
    def busy(self) -> bool:
        with self._change:
            return not self._closing and (self._wish is not None or self._at_work)

    def close(self, wait: float = 5.0) -> bool:
        with self._change:
            self._closing = True
            self._change.notify_all()
        self._thread.join(wait)
        return not self._thread.is_alive()

    def _tell(self, path: Path, known: Known) -> None:
        self._known[path] = known
        with self._change:
            self._news[path] = known

    def _going_on(self) -> bool:
        with self._change:
            return not self._closing and self._wish is None

    def _work(self) -> None:
        while True:
            with self._change:
                self._at_work = False
                self._change.wait_for(lambda: self._closing or self._wish is not None)
                if self._closing:
                    return
                wish, self._wish = self._wish or (), None
                self._at_work = True
            try:
                self._learn(wish)
            except Exception as wrong:
                # A mistake of ours in one file must not end the thread: it is shown with the file it came from.
                for item in wish:
                    if item.path not in self._known:
                        self._tell(item.path, Known(_marks(item), wrong=wrong))
                        break

    def _learn(self, wish: tuple[Item, ...]) -> None:
        for item in wish:
            if not self._going_on():
                return
            before = self._known.get(item.path)
            if before is None or before.marks != _marks(item):
                self._tell(item.path, _read(item))
        for item in wish:
            if not self._going_on():
                return
            known = self._known[item.path]
            if item.kind == "run" and known.wrong is None and known.answer is None:
                counted = _counted(known, self.seed, self.trials, self._going_on)
                if counted is not None:
                    self._tell(item.path, counted)


def wrong_lines(known: Known) -> tuple[str, ...]:
    """Why a file cannot be shown, in a few lines."""
    wrong = known.wrong
    if wrong is None:
        return ()
    if isinstance(wrong, FileError):
        return tuple(f"{each.place}: {each.message}" for each in wrong.problems[:3])
    return tuple(str(wrong).splitlines()[:3])
