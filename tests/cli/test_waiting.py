"""What is said while the work takes its time: on a terminal only."""

from __future__ import annotations

import sys
import threading

import pytest

from fieldsim.cli import waiting


@pytest.mark.parametrize("terminal", [True, False])
def test_getting_ready_is_said_on_a_terminal_only(terminal: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[tuple[str, bool]] = []
    heard = threading.Event()

    def echo(text: str, err: bool = False) -> None:
        said.append((text, err))
        heard.set()

    monkeypatch.setattr(waiting, "PATIENCE", 0.0)
    # A command in this process before may have shown its bar.
    monkeypatch.setattr(waiting._Progress, "shown", False)
    monkeypatch.setattr(waiting, "echo", echo)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: terminal, raising=False)
    with waiting.getting_ready():
        if terminal:
            assert heard.wait(60)
    assert said == ([("getting ready (longer the first time on each machine)", True)] if terminal else [])
