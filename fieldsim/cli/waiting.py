"""What is said on a terminal while the work takes its time. Nothing of it goes where a program reads."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from fieldsim.cli.say import echo
from fieldsim.language import tr

__all__ = ["getting_ready", "progress"]


PATIENCE = 2.0
"""Seconds that pass without a word."""


class _Progress:
    shown = False


@contextmanager
def getting_ready() -> Iterator[None]:
    """Say so on a terminal where what computes has to be made ready first, which may take seconds."""
    if not sys.stderr.isatty():
        yield
        return
    done = threading.Event()

    def tell() -> None:
        if not done.wait(PATIENCE) and not _Progress.shown:
            echo(tr("getting ready (longer the first time on each machine)"), err=True)

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()


def _seen(done: int, wanted: int) -> None:
    _Progress.shown = True


@contextmanager
def progress() -> Iterator[Any]:
    """A bar with the time left on stderr, if that is a terminal and the work takes more than a second."""
    _Progress.shown = False
    if not sys.stderr.isatty():
        yield _seen
        return
    from tqdm import tqdm

    bar = tqdm(unit=tr(" trials"), delay=1, leave=False, dynamic_ncols=True)

    def watch(done: int, wanted: int) -> None:
        _Progress.shown = True
        bar.total = wanted
        bar.update(done - bar.n)

    with bar:
        yield watch
