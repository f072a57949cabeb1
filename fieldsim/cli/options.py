"""Options and arguments that several commands have."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from fieldsim.catalog import shared
from fieldsim.catalog.study import Argument, Flag, Option
from fieldsim.cli.kinds import kind_of
from fieldsim.language import tr

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

__all__ = ["JSON", "RUN", "SEED", "THREADS", "argument", "option"]


def argument(told: Argument) -> Decorator:
    """A study's argument as click has it."""
    many: dict[str, Any] = {"nargs": -1, "required": True} if told.many else {}
    return click.argument(told.name, metavar=tr(told.sign), type=kind_of(told.kind), **many)


def option(told: Option) -> Decorator:
    """A study's option as click has it."""
    names = [told.flag, told.name]
    if isinstance(told.kind, Flag):
        return click.option(*names, is_flag=True, help=tr(told.about))
    more: dict[str, Any] = {"metavar": tr(told.sign)} if told.sign else {}
    if told.default is not None:
        more |= {"default": told.default, "show_default": True}
    return click.option(*names, type=kind_of(told.kind), multiple=told.many, help=tr(told.about), **more)


RUN = argument(shared.RUN)
SEED = option(shared.SEED)
THREADS = option(shared.THREADS)
JSON = click.option("--json", "as_json", is_flag=True, help=tr("The whole answer as JSON."))
