"""Work in a thread of its own, one piece at a time: what is wished for next breaks off what is being done.

Nobody waits for it: what has come of it by now is taken as news. Work is told when to stop by what it calls itself, its
``watch``, which raises then.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Generic, TypeVar

__all__ = ["Errand", "Watch"]

Watch = Callable[[int, int], None]
W = TypeVar("W")
T = TypeVar("T")


class _CancelledError(BaseException):
    """Nobody wants the answer any more: no study may take it for a mistake and go on."""


class Errand(Generic[W, T]):
    """The thread. ``work(wish, watch)`` does it, ``going(wish, done, wanted)`` is the news while it is done, and
    ``failed(wish, problem)`` where ``work`` raised: a mistake ends neither the thread nor the window."""

    def __init__(
        self,
        name: str,
        work: Callable[[W, Watch], T],
        going: Callable[[W, int, int], T],
        failed: Callable[[W, Exception], T],
    ) -> None:
        self._do, self._going, self._failed = work, going, failed
        self._news: list[tuple[W, T]] = []
        self._wish: W | None = None
        self._at_work: W | None = None
        self._closing = self._stop = False
        self._change = threading.Condition()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def ask(self, wish: W) -> None:
        with self._change:
            self._wish, self._stop = wish, True
            self._change.notify_all()

    def cancel(self) -> None:
        with self._change:
            self._wish, self._stop = None, True

    def news(self) -> list[tuple[W, T]]:
        """What came since this was asked last: of each wish only the newest."""
        with self._change:
            news, self._news = self._news, []
            return news

    @property
    def busy(self) -> bool:
        with self._change:
            return self._wish is not None or self._at_work is not None

    def close(self, wait: float = 5.0) -> bool:
        """End the thread; whether it ended in time."""
        with self._change:
            self._closing = self._stop = True
            self._wish = None
            self._change.notify_all()
        self._thread.join(wait)
        return not self._thread.is_alive()

    def _tell(self, wish: W, made: T) -> None:
        with self._change:
            self._news = [each for each in self._news if each[0] is not wish]
            self._news.append((wish, made))

    def _run(self) -> None:
        while True:
            with self._change:
                self._at_work = None
                self._change.wait_for(lambda: self._closing or self._wish is not None)
                wish = self._wish
                if self._closing or wish is None:
                    return
                self._wish, self._stop, self._at_work = None, False, wish

            def watch(done: int, wanted: int, wish: W = wish) -> None:
                with self._change:
                    stop = self._stop
                if stop:
                    raise _CancelledError
                self._tell(wish, self._going(wish, done, wanted))

            with suppress(_CancelledError):
                try:
                    made = self._do(wish, watch)
                except Exception as problem:
                    made = self._failed(wish, problem)
                self._tell(wish, made)
