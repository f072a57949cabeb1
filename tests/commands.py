"""A command of fieldsim, run in this process: what it says and its exit status are those of a process of its own.

A process costs a second for its imports alone. What only a process shows (signals, pipes, what is loaded, the language
of the help) is tested with one.
"""

from __future__ import annotations

import gettext
import io
import os
import subprocess
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from unittest.mock import patch

from fieldsim import entry, language

__all__ = ["ROOT", "fieldsim"]

ROOT = Path(__file__).parent.parent


def fieldsim(*words: object, at: Path = ROOT, **environment: str) -> subprocess.CompletedProcess[str]:
    """`fieldsim WORDS` in a folder: exit status, stdout and stderr. Of variables that say the language only those count
    that are given here, if any are.

    A mistake of the program that nobody catches is raised, as no process could show it better.
    """
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n") for _ in range(2))
    here = Path.cwd()
    os.chdir(at)
    try:
        with (
            patch("sys.argv", ["fieldsim", *map(str, words)]),
            patch.dict(os.environ),
            redirect_stdout(out),
            redirect_stderr(err),
        ):
            if environment:
                for name in language.VARIABLES:
                    os.environ.pop(name, None)
            os.environ.update(environment)
            entry.main()
            status: object = 0
    except SystemExit as end:
        status = end.code
    finally:
        os.chdir(here)
        language.choose("en")
        gettext.textdomain("messages")
    if status is not None and not isinstance(status, int):
        raise TypeError(f"exit status {status!r} is no number")
    texts = (stream.detach().getvalue().decode() for stream in map(_flushed, (out, err)))  # type: ignore[attr-defined]
    return subprocess.CompletedProcess(["fieldsim", *map(str, words)], status or 0, *texts)


def _flushed(stream: io.TextIOWrapper) -> io.TextIOWrapper:
    stream.flush()
    return stream
