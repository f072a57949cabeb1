"""A command for each study of the catalog."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldsim.catalog import STUDIES, Study
from fieldsim.catalog.study import WrongWordsError
from fieldsim.cli.group import command
from fieldsim.cli.kinds import FileName
from fieldsim.cli.options import JSON, argument, option
from fieldsim.cli.say import again, coloured, echo, save_into, say, terminal_width
from fieldsim.cli.status import DONE, NEED_NOT_MET
from fieldsim.cli.waiting import getting_ready, progress
from fieldsim.language import tr
from fieldsim.report.origin import Origin


def add(study: Study) -> None:
    """Make a study a command."""

    def run(as_json: bool, folder: Path | None, **given: Any) -> int:
        # What is neither saved nor printed as a whole need not be worked out.
        return ask(study, {**given, "folder": folder, "whole": as_json or folder is not None}, as_json, folder)

    save = click.option("--save", "folder", type=FileName(), metavar=tr("FOLDER"), help=tr(study.saving))
    decorated = JSON(save(run))
    for each in reversed(study.options):
        decorated = option(each)(decorated)
    for told in reversed(study.arguments):
        decorated = argument(told)(decorated)
    command(study.name, tr(study.about))(decorated)


def ask(study: Study, given: dict[str, Any], as_json: bool, folder: Path | None) -> int:
    """Ask a study and tell what it found; the exit status."""
    from fieldsim.files.noted import noted

    try:
        with noted() as files:
            read = study.read(given)
        with getting_ready(), progress() as watch:
            found = study.ask(read, given, watch)
    except WrongWordsError as problem:
        raise click.UsageError(str(problem)) from None
    if as_json:
        from fieldsim.answers import to_json

        say(to_json(found.answer))
    else:
        say(found.text(terminal_width(), coloured()))
    if folder is not None:
        origin = Origin(again(), tuple((path.name, digest) for path, digest in files.items()))
        save_into(folder, lambda: found.save(folder, origin), as_json)
    for remark in found.afterwards() if found.afterwards is not None else ():
        if remark.warning or not as_json:
            echo(remark.text, err=remark.warning)
    return DONE if found.meets_need else NEED_NOT_MET


for each in STUDIES:
    add(each)
