"""`card`: pages for the table, of a run, of a match, or blank ones for tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldsim import __version__
from fieldsim.answers import to_json
from fieldsim.cli.group import command
from fieldsim.cli.kinds import FileName, WholeNumber
from fieldsim.cli.options import JSON, RUN, SEED, THREADS
from fieldsim.cli.say import echo, say
from fieldsim.cli.status import DONE
from fieldsim.cli.waiting import getting_ready, progress
from fieldsim.language import tr

# Endings that save the steps alone.
STEPS = ("xlsx", "csv")


@command("card", tr("A page to take to the table: the start, every step, what to watch, and room for what happened."))
@RUN
@click.option("--tests", is_flag=True, help=tr("Instead: a blank sheet for measuring how accurately its robot drives."))
@click.option(
    "--markers", is_flag=True, help=tr("Instead, of a field: the markers to print that photos are measured by.")
)
@click.option(
    "--robot",
    "robot_file",
    type=FileName(),
    metavar=tr("ROBOT"),
    help=tr("With --markers: the robot whose marker is printed, too."),
)
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help=tr("The paper's size.")
)
@click.option(
    "--trials", type=WholeNumber(1, 1_000_000), default=10_000, show_default=True, help=tr("How many trials.")
)
@SEED
@THREADS
@JSON
@click.option(
    "--save",
    "file",
    type=FileName(),
    metavar=tr("FILE"),
    help=tr("Save it: .pdf to print, .html or .txt; its steps alone: .xlsx, or .csv for other programs."),
)
def make_run_card(
    run_file: Path,
    tests: bool,
    markers: bool,
    robot_file: Path | None,
    paper: str,
    trials: int,
    seed: int,
    threads: int | None,
    as_json: bool,
    file: Path | None,
) -> int:
    form = "" if file is None else file.suffix.lower().removeprefix(".")
    if file is not None and form not in ("pdf", "html", "txt", *STEPS):
        raise click.UsageError(
            tr("--save {file}: a card can be saved as .pdf, .html or .txt, its steps as .xlsx or .csv.", file=file)
        )
    from fieldsim.files import kind_of, load_run

    if markers:
        return _marker_card(run_file, robot_file, paper, as_json, file, form)
    if robot_file is not None:
        raise click.UsageError(tr("--robot goes with --markers only."))
    if kind_of(run_file) == "match":
        if tests:
            raise click.UsageError(tr("{file} is a match: --tests is for a run and its robot.", file=run_file))
        if form in STEPS:
            raise click.UsageError(
                tr("{file} is a match: .{form} is for the steps of a run.", file=run_file, form=form)
            )
        return _match_card(run_file, paper, trials, seed, threads, as_json, file, form)
    run = load_run(run_file)
    if form in STEPS:
        if tests:
            raise click.UsageError(tr("--tests and .{form} do not go together: a sheet has no steps.", form=form))
        return _save_steps(run, file, form, as_json)
    with getting_ready():
        from fieldsim.cards.run.answer import card_answer
        from fieldsim.cards.run.card import make_card
        from fieldsim.cards.run.text import card_text
        from fieldsim.cards.sheet.blank import blank_tests
        from fieldsim.cards.sheet.words import sheet_text

        if tests:
            sheet = blank_tests(run.robot, __version__, paper)
        else:
            from fieldsim.studies.attempt import KEPT, attempt
            from fieldsim.studies.slack import start_limits

            with progress() as watch:
                tried = attempt(run, trials=trials, seed=seed, threads=threads, keep=KEPT, watch=watch)
            off = None if tried.answer.interrupted else start_limits(run, trials, seed, threads)
            told = make_card(tried, str(run_file), paper, "" if file is None else str(file), off)
    if file is None:
        if tests:
            say(to_json(sheet) if as_json else sheet_text(sheet))
        else:
            say(to_json(card_answer(told)) if as_json else card_text(told))
        return DONE
    from fieldsim.cards.run.pages import card_file
    from fieldsim.cards.sheet.pages import sheet_file

    _save_card(file, sheet_file(sheet, form) if tests else card_file(tried.ready.run, told, form))
    if as_json:
        say(to_json(sheet) if tests else to_json(card_answer(told)))
    else:
        echo(tr("Saved {file}", file=file))
    return DONE


def _match_card(
    match_file: Path, paper: str, trials: int, seed: int, threads: int | None, as_json: bool, file: Path | None,
    form: str,
) -> int:  # fmt: skip
    from fieldsim.files import load_match

    match = load_match(match_file)
    with getting_ready():
        from fieldsim.cards.match.answer import match_card_answer
        from fieldsim.cards.match.card import make_match_card
        from fieldsim.cards.match.words import match_card_text
        from fieldsim.match.study import study

        with progress() as watch:
            answer = study(match, trials=trials, seed=seed, threads=threads, watch=watch)
        card = make_match_card(match, answer, str(match_file), paper, "" if file is None else str(file))
    if file is not None:
        from fieldsim.cards.match.pages import match_card_file

        _save_card(file, match_card_file(card, form))
    if as_json:
        say(to_json(match_card_answer(card)))
    elif file is None:
        say(match_card_text(card))
    else:
        echo(tr("Saved {file}", file=file))
    return DONE


def _marker_card(
    field_file: Path, robot_file: Path | None, paper: str, as_json: bool, file: Path | None, form: str
) -> int:
    from fieldsim.files import load_field, load_robot

    if file is not None and form not in ("pdf", "txt"):
        raise click.UsageError(
            tr("--save {file}: markers can be saved as .pdf, at their true size, or .txt.", file=file)
        )
    field, robot = load_field(field_file), None if robot_file is None else load_robot(robot_file)
    with getting_ready():
        from fieldsim.cards.markers.sheet import marker_sheet
        from fieldsim.cards.markers.words import markers_text

        sheet = marker_sheet(field, robot, __version__, paper)
    if file is not None:
        from fieldsim.cards.markers.pages import markers_file

        _save_card(file, markers_file(sheet, form))
    if as_json:
        say(to_json(sheet))
    elif file is None:
        say(markers_text(sheet))
    else:
        echo(tr("Saved {file}", file=file))
    return DONE


def _save_steps(run: Any, file: Path | None, form: str, as_json: bool) -> int:
    from fieldsim.pages.tables import as_csv, segments_table
    from fieldsim.pages.workbook import workbook
    from fieldsim.sim.plan import plan

    assert file is not None
    if as_json:
        raise click.UsageError(tr("--json and .{form} are two ways to say it; ask for one of them.", form=form))
    with getting_ready():
        table = segments_table(plan(run))
        about = tr("{run}, fieldsim {version}", run=run.name, version=__version__)
        _save_card(file, as_csv(table).encode() if form == "csv" else workbook([table], about))
    echo(tr("Saved {file}", file=file))
    return DONE


def _save_card(file: Path, data: bytes) -> None:
    from fieldsim.pages.saving import write_safely

    try:
        write_safely(file, lambda path: path.write_bytes(data))
    except OSError as problem:
        from fieldsim.model.errors import reason

        raise click.UsageError(tr("cannot save {file}: {reason}", file=file, reason=reason(problem))) from None
