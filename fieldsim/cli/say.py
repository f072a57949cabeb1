"""How answers and what is saved are told on the command line."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from fieldsim.language import OPTION, language, tr

__all__ = ["again", "coloured", "echo", "save_into", "say", "terminal_width"]

GIVEN = (click.core.ParameterSource.COMMANDLINE, click.core.ParameterSource.ENVIRONMENT)


def echo(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Print a line, by the stream as it is: left to itself click takes one that knows ASCII alone for a mistake, and
    writes what that terminal cannot show (``entry`` has a word for it)."""
    click.echo(text, file=sys.stderr if err else sys.stdout, nl=nl)


PIPED, NARROWEST, WIDEST = 100, 40, 120
"""Cells that a text is laid out for: where no terminal shows it, and on one at least and at most, since nobody reads
longer lines well."""


def terminal_width() -> int:
    """Cells that answers are laid out for."""
    if not sys.stdout.isatty():
        return PIPED
    return min(max(shutil.get_terminal_size((PIPED, 24)).columns, NARROWEST), WIDEST)


def coloured() -> bool:
    """Whether answers are told in colours: on a terminal that has them, unless NO_COLOR is set (no-color.org, 2017)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def say(answer: str | dict[str, Any]) -> None:
    """Print a text, or an answer as JSON."""
    if isinstance(answer, str):
        echo(answer, nl=False)
    else:
        echo(json.dumps(answer, indent=1, allow_nan=False))


def again() -> str:
    """The command that is running, in full: what stands in a report as the one that makes it again."""
    context = click.get_current_context()
    words = ["fieldsim", str(context.info_name)]
    if language() != "en":
        words[1:1] = [OPTION, language()]
    given: list[str] = []
    for param in context.command.params:
        value = context.params.get(str(param.name))
        if value is None or value is False or value == ():
            continue
        values = [str(each) for each in (value if isinstance(value, tuple) else (value,))]
        if isinstance(param, click.Argument):
            words += values
        elif value is True:
            given.append(param.opts[0])
        # Trials and seed are always told: a later version may have other ones by itself.
        elif param.name in ("trials", "seed") or context.get_parameter_source(str(param.name)) in GIVEN:
            given += [word for each in values for word in (param.opts[0], each)]
    return shlex.join([*words, *given])


def save_into(folder: Path, save: Callable[[], list[Path]], as_json: bool) -> None:
    """Save, and say what was written unless JSON is printed. Raises click.UsageError where that cannot be."""
    try:
        made = save()
    except OSError as problem:
        from fieldsim.model.errors import reason

        raise click.UsageError(tr("cannot save in {folder}: {reason}", folder=folder, reason=reason(problem))) from None
    if not as_json:
        echo(tr("Saved {files} in {folder}", files=", ".join(path.name for path in made), folder=folder))
