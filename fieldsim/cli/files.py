"""Commands about files: `check`, `new` and `schema`."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import click

from fieldsim.catalog import schema_of_answers
from fieldsim.cli.group import command
from fieldsim.cli.kinds import FileName
from fieldsim.cli.say import echo
from fieldsim.cli.status import DONE, WRONG
from fieldsim.cli.waiting import getting_ready
from fieldsim.language import tr


@command("check", tr("Are the files right? Says every mistake with its place."))
@click.argument("files", metavar=tr("FILE..."), nargs=-1, required=True, type=FileName())
def check_files(files: tuple[Path, ...]) -> int:
    from fieldsim.files import check

    with getting_ready():
        found = check(files, _driven_once, _log_read)
    for line in found.lines:
        echo(line)
    for file, run in found.runs:
        from fieldsim.report.words.once import once_words
        from fieldsim.studies.once import driven_once

        for words in once_words(driven_once(run), run.finish):
            echo(f"{file}: {words}")
    for file, sheet in found.sheets:
        # Only for a sheet: it brings all that fits one.
        from fieldsim.report.words.fit.sheets import sheet_words

        for words in sheet_words(sheet):
            echo(f"{file}: {words}")
    if found.problems:
        from fieldsim.model.errors import FileError

        echo(str(FileError(found.problems)), err=True)
        return WRONG
    return DONE


def _log_read(path: str | Path) -> Any:
    from fieldsim.logbook.runs import read_log

    return read_log(path)[0]


def _driven_once(run: Any) -> Any:
    """A run has to be driven to know whether it can begin, what it touches, and whether it gets to its squares and
    lines."""
    from fieldsim.studies.once import mistakes

    return mistakes(run)


@command("new", tr("Write a small season to start from: a field, a robot, a run."))
@click.argument("folder", type=FileName())
def new_season(folder: Path) -> int:
    from fieldsim.files import new_season as write

    for path in write(folder):
        echo(tr("wrote {path}", path=path))
    run, sheet = folder / "first-run.yaml", folder / "tests.csv"
    echo("")
    echo(tr("What to type next:"))
    for words, about in (
        (("try", run), tr("how often the run gets through")),
        (("watch", run), tr("see it drive, and change it")),
        (("check", run), tr("after each change: are the files right?")),
        (("fit", sheet, folder / "robot.yaml"), tr("when you have measured your robot and filled in the sheet")),
    ):
        told = " ".join(shlex.quote(str(word)) for word in words)
        echo(f"  fieldsim {told}   {about}")
    return DONE


@command("schema", tr("The JSON Schema of a kind of file, for an editor that completes and checks; or of the answers."))
@click.argument("kind", type=click.Choice(["field", "robot", "run", "match", "answer"]))
def print_schema(kind: str) -> int:
    from fieldsim.files import schema

    echo(json.dumps(schema_of_answers() if kind == "answer" else schema(kind), indent=2))
    return DONE
