"""The command `fieldsim`: what all its commands share, and how it ends."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Any

import click

from fieldsim import __version__
from fieldsim.cli.say import echo
from fieldsim.cli.status import DONE, STOPPED, WRONG
from fieldsim.language import LANGUAGES, OPTION, tr

__all__ = ["command", "main", "program"]


class Program(click.Group):
    """A group that refuses words no file or option can have."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        for word in args:
            # Shells cannot pass one, other programs can try; no file's name may hold one.
            if "\0" in word:
                shown = word.replace("\0", "\\0")
                raise click.UsageError(tr("'{word}' has a character in it that no word may have.", word=shown), ctx)
        return super().parse_args(ctx, args)


@click.group(
    cls=Program,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help=tr(
        "Test a robot's run plan without the table.\n\n"
        "A field, a robot and a run are files; `fieldsim new FOLDER` writes a first set to change."
    ),
    options_metavar=tr("[OPTIONS]"),
    subcommand_metavar=tr("COMMAND [ARGS]..."),
    invoke_without_command=True,
)
@click.version_option(__version__, prog_name="fieldsim")
# `entry` has taken it out already wherever it stood; here it is for the help.
@click.option(
    OPTION,
    metavar=tr("LANGUAGE"),
    expose_value=False,
    help=tr("What to say it in: {languages}.  [default: as the system]", languages=", ".join(LANGUAGES)),
)
@click.pass_context
def program(ctx: click.Context) -> int | None:
    if ctx.invoked_subcommand is not None:
        return None
    # Without a word: the season in this folder, or what the command can do where there is no screen to show it on.
    from fieldsim.window.loop import NoScreenError

    try:
        done: int = ctx.invoke(program.commands["watch"])
    except NoScreenError:
        echo(ctx.get_help())
        return DONE
    return done


def command(name: str, help: str) -> Callable[[Callable[..., int]], click.Command]:
    """A command of that name; what its function gives is the exit status."""
    return program.command(name, help=help, options_metavar=tr("[OPTIONS]"))


def main() -> None:
    """The console command; what its exit status means stands in ``status``."""
    # Before numpy is loaded: for matrices as small as ours many threads only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    status: Any
    try:
        status = program.main(prog_name="fieldsim", standalone_mode=False)
    except click.ClickException as problem:
        problem.show()
        status = WRONG
    except (KeyboardInterrupt, click.Abort):
        echo(tr("stopped before the first trials were done"), err=True)
        status = STOPPED
    except SystemExit:
        # click leaves with 1 when the reader of a pipe has gone. Nothing is wrong, and 1 means something else here.
        status = DONE
    except Exception as problem:
        # Only now: help needs nothing of the model.
        from fieldsim.model.errors import FieldsimError

        if not isinstance(problem, FieldsimError):
            raise
        echo(str(problem), err=True)
        status = WRONG
    sys.exit(status)
