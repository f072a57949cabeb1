"""The command line. Wiring only: it reads words, calls the parts and prints; nothing is computed here.

Heavy parts are imported inside the commands, so that help and `check` answer at once.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fieldsim import __version__
from fieldsim.language import LANGUAGES, OPTION, language, tr

if TYPE_CHECKING:
    from fieldsim.report.statement import Statement
    from fieldsim.studies.attempt import Tried

DONE, NEED_NOT_MET, WRONG = 0, 1, 2
GIVEN = (click.core.ParameterSource.COMMANDLINE, click.core.ParameterSource.ENVIRONMENT)


class Whole(click.IntRange):
    """A whole number, named in the language chosen."""

    name = tr("integer range")


class Decimal(click.FloatRange):
    """A number, named in the language chosen."""

    name = tr("float range")


class Share(click.ParamType[float]):
    """A share such as 95% or 0.95."""

    name = tr("share")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        text = str(value).strip()
        try:
            number = float(text[:-1]) / 100 if text.endswith("%") else float(text)
        except ValueError:
            number = float("nan")
        if not 0 < number < 1:
            self.fail(tr("{value!r} is not a share between 0 and 1; write 95% or 0.95", value=value), param, ctx)
        return number


class Size(click.ParamType[Any]):
    """A size in pixels, such as 1600x900."""

    name = tr("WIDTHxHEIGHT")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        if isinstance(value, tuple):
            return value
        found = re.fullmatch(r"\s*(\d{1,5})\s*[xX\N{MULTIPLICATION SIGN}]\s*(\d{1,5})\s*", value)
        if found is None:
            self.fail(tr("'{value}' is no size; such as 1600x900", value=value), param, ctx)
        size = int(found[1]), int(found[2])
        if not (min(size) >= 320 and max(size) <= 8000):
            self.fail(tr("'{value}' is out of range; accepted: 320 to 8000 each way", value=value), param, ctx)
        return size


class Seconds(click.ParamType[Any]):
    """A time in the run, such as 12.5 or 12.5s."""

    name = tr("SECONDS")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        found = re.fullmatch(r"\s*(\d{1,6}(?:[.,]\d{1,6})?)\s*s?\s*", value)
        if found is None:
            self.fail(tr("'{value}' is no time; such as 12.5s", value=value), param, ctx)
        return float(found[1].replace(",", "."))


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help=tr(
        "Test a robot's run plan without the table.\n\n"
        "A field, a robot and a run are files; `fieldsim new FOLDER` writes a first set to change."
    ),
    options_metavar=tr("[OPTIONS]"),
    subcommand_metavar=tr("COMMAND [ARGS]..."),
)
@click.version_option(__version__, prog_name="fieldsim")
# `entry` has taken it out already wherever it stood; here it is for the help.
@click.option(
    OPTION,
    metavar=tr("LANGUAGE"),
    expose_value=False,
    help=tr("What to say it in: {languages}.  [default: as the system]", languages=", ".join(LANGUAGES)),
)
def program() -> None:
    pass


def command(name: str, help: str) -> Callable[[Callable[..., int]], click.Command]:
    return program.command(name, help=help, options_metavar=tr("[OPTIONS]"))


@command("try", tr("How often a run gets through, where it touches, and how tight it is."))
@click.argument("run_file", metavar=tr("RUN"), type=click.Path(path_type=Path))
@click.option("--trials", type=Whole(1, 1_000_000_000), help=tr("How many trials.  [default: 10000]"))
@click.option("--half-width", type=Share(), help=tr("Instead: as many as make the share this certain, such as 0.5%."))
@click.option("--seed", type=Whole(0, 2**64 - 1), default=1, show_default=True, help=tr("Another seed, other luck."))
@click.option("--bare", is_flag=True, help=tr("Without attachments and acts, to test the path first."))
@click.option("--need", type=Share(), help=tr("Exit with 1 if a smaller share gets through, such as 95%."))
@click.option("--trial", "number", type=Whole(1), metavar=tr("K"), help=tr("Show trial K alone."))
@click.option("--threads", type=Whole(1, 256), help=tr("How many cores to use.  [default: all]"))
@click.option("--json", "as_json", is_flag=True, help=tr("The whole answer as JSON."))
@click.option(
    "--save", "folder", type=click.Path(path_type=Path), metavar=tr("FOLDER"), help=tr("Save report, pictures, tables.")
)
def try_run(
    run_file: Path,
    trials: int | None,
    half_width: float | None,
    seed: int,
    bare: bool,
    need: float | None,
    number: int | None,
    threads: int | None,
    as_json: bool,
    folder: Path | None,
) -> int:
    if trials is not None and half_width is not None:
        raise click.UsageError(tr("--trials and --half-width are two ways to say how many trials; give one of them."))
    if half_width is not None and half_width >= 0.5:
        raise click.UsageError(tr("--half-width must be less than 50%, such as 0.5%."))
    if number is not None and any(option is not None for option in (trials, half_width, need, folder)):
        raise click.UsageError(
            tr("--trial shows one trial alone; leave out --trials, --half-width, --need and --save.")
        )
    from fieldsim.files import load_run

    run = load_run(run_file)
    with getting_ready():
        from fieldsim.studies.attempt import KEPT, attempt

        if number is not None:
            return _one_trial(run, seed, bare, number, as_json)
        with progress() as watch:
            tried = attempt(
                run,
                trials=trials or 10_000,
                half_width=half_width,
                seed=seed,
                without_attachments=bare,
                need=need,
                threads=threads,
                keep=KEPT if folder else 0,
                watch=watch,
            )
    _say(tried, as_json, folder)
    return NEED_NOT_MET if tried.answer.meets_need is False else DONE


def _one_trial(run: Any, seed: int, bare: bool, number: int, as_json: bool) -> int:
    from fieldsim.report import one_trial
    from fieldsim.sim import plan
    from fieldsim.sim.trials import nominal, trial

    ready = plan.plan(plan.bare(run) if bare else run)
    answer = one_trial.one(trial(ready, seed, number - 1), nominal(ready))
    if as_json:
        from fieldsim.answers import to_json

        click.echo(json.dumps(to_json(answer), indent=1, allow_nan=False))
    else:
        click.echo(one_trial.text(answer, ready.course.horizon), nl=False)
    return DONE


def _say(tried: Tried, as_json: bool, folder: Path | None) -> None:
    from fieldsim.answers import to_json
    from fieldsim.report.words.attempt import try_text

    _print(to_json(tried.answer) if as_json else try_text(tried.answer))
    if folder is not None:
        from fieldsim.pages.saving import save

        again = _again()
        _saved(folder, lambda: save(folder, tried, again), as_json)


def _print(answer: str | dict[str, Any]) -> None:
    if isinstance(answer, str):
        click.echo(answer, nl=False)
    else:
        click.echo(json.dumps(answer, indent=1, allow_nan=False))


def _say_study(
    as_json: bool,
    folder: Path | None,
    name: str,
    said: dict[str, Any],
    statement: Statement,
    draw: Callable[[Any], Any],
    kept: Statement | None = None,
) -> None:
    """Print an answer and, if asked, save it with its picture; ``kept`` is what is saved in place of the statement."""
    from fieldsim.report.statement import statement_text

    _print(said if as_json else statement_text(statement))
    if folder is not None:
        from fieldsim.pages.saving import save_study

        again = _again()
        _saved(folder, lambda: save_study(folder, name, said, kept or statement, draw, again), as_json)


def _again() -> str:
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


def _saved(folder: Path, save: Callable[[], list[Path]], as_json: bool) -> None:
    try:
        made = save()
    except OSError as problem:
        from fieldsim.model.errors import reason

        raise click.UsageError(tr("cannot save in {folder}: {reason}", folder=folder, reason=reason(problem))) from None
    if not as_json:
        click.echo(tr("Saved {files} in {folder}", files=", ".join(path.name for path in made), folder=folder))


SEED = click.option(
    "--seed", type=Whole(0, 2**64 - 1), default=1, show_default=True, help=tr("Another seed, other luck.")
)
THREADS = click.option("--threads", type=Whole(1, 256), help=tr("How many cores to use.  [default: all]"))
JSON = click.option("--json", "as_json", is_flag=True, help=tr("The whole answer as JSON."))
SAVE = click.option(
    "--save", "folder", type=click.Path(path_type=Path), metavar=tr("FOLDER"), help=tr("Save report and picture.")
)
RUN = click.argument("run_file", metavar=tr("RUN"), type=click.Path(path_type=Path))


def _trials(default: int) -> Callable[[Any], Any]:
    return click.option(
        "--trials", type=Whole(1, 1_000_000), default=default, show_default=True, help=tr("Trials of each.")
    )


@command("jigs", tr("Which jig to start a run from: all of them ranked, and a start by eye."))
@RUN
@click.option(
    "--keep",
    type=click.Choice(["targets", "path"]),
    default="targets",
    show_default=True,
    help=tr("From another jig: re-aim the first segments so that the rest stays where it is, or drive the same ones."),
)
@click.option("--trials", type=Whole(1, 1_000_000), default=10_000, show_default=True, help=tr("For each start."))
@SEED
@click.option("--need", type=Share(), help=tr("Exit with 1 if even from the best start a smaller share gets through."))
@click.option("--every-trial", is_flag=True, help=tr("Do not give up on hopeless starts early."))
@THREADS
@JSON
@SAVE
def rank_jigs(
    run_file: Path,
    keep: str,
    trials: int,
    seed: int,
    need: float | None,
    every_trial: bool,
    threads: int | None,
    as_json: bool,
    folder: Path | None,
) -> int:
    from fieldsim.files import load_run

    run = load_run(run_file)
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.report.words.jigs import headline, jigs_statement
        from fieldsim.studies.jigs import rank

        with progress() as watch:
            answer = rank(
                run, keep=keep, trials=trials, seed=seed, need=need, threads=threads, race=not every_trial, watch=watch
            )
    from fieldsim.draw import draw_jigs

    _say_study(
        as_json, folder, "jigs", to_json(answer), jigs_statement(answer),
        lambda sheet: draw_jigs(answer, headline(answer), sheet),
    )  # fmt: skip
    return NEED_NOT_MET if answer.meets_need is False else DONE


@command("slack", tr("How far off the start may be: with the robot's noise, and without any."))
@RUN
@click.option(
    "--need", type=Share(), help=tr("The share that has to get through.  [default: 9/10 of the planned start's]")
)
@click.option("--trials", type=Whole(1, 1_000_000), default=2_000, show_default=True, help=tr("At each start."))
@SEED
@THREADS
@JSON
@SAVE
def start_slack(
    run_file: Path,
    need: float | None,
    trials: int,
    seed: int,
    threads: int | None,
    as_json: bool,
    folder: Path | None,
) -> int:
    from fieldsim.files import load_run

    run = load_run(run_file)
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.report.words.slack import headline, slack_statement
        from fieldsim.studies.slack import slack

        with progress() as watch:
            answer = slack(run, need=need, trials=trials, seed=seed, threads=threads, watch=watch)
    from fieldsim.draw import draw_slack

    _say_study(
        as_json, folder, "slack", to_json(answer), slack_statement(answer),
        lambda sheet: draw_slack(answer, headline(answer), sheet),
    )  # fmt: skip
    return NEED_NOT_MET if need is not None and not answer.meets_need else DONE


@command("widths", tr("How wide the base may be: the share that gets through, and the widest that still does."))
@RUN
@click.option(
    "--vary",
    type=click.Choice(["width", "length", "axle", "track", "wheel", "speed"]),
    default="width",
    show_default=True,
    help=tr("What is varied."),
)
@click.option("--from", "low", type=Decimal(min=0, min_open=True), help=tr("Smallest value.  [default: 0.7 of now]"))
@click.option("--to", "high", type=Decimal(min=0, min_open=True), help=tr("Largest value.  [default: 1.3 of now]"))
@click.option("--step", type=Decimal(min=0.001), help=tr("From one value to the next."))
@click.option(
    "--within",
    type=Decimal(min=0.01),
    default=1.0,
    show_default=True,
    help=tr("How closely the largest is found."),
)
@click.option(
    "--track", type=click.Choice(["stays", "moves"]), default="stays", show_default=True, help=tr("With the width.")
)
@click.option("--need", type=Share(), help=tr("The share that has to get through.  [default: 9/10 of now]"))
@_trials(4000)
@SEED
@THREADS
@JSON
@SAVE
def try_widths(
    run_file: Path,
    vary: str,
    low: float | None,
    high: float | None,
    step: float | None,
    within: float,
    track: str,
    need: float | None,
    trials: int,
    seed: int,
    threads: int | None,
    as_json: bool,
    folder: Path | None,
) -> int:
    from fieldsim.files import load_run

    if track == "moves" and vary != "width":
        raise click.UsageError(tr("--track moves goes with --vary width; to vary the track alone write --vary track."))
    run = load_run(run_file)
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.report.words.studies import WORDS, widths_headline, widths_statement
        from fieldsim.studies.widths import widths

        with progress() as watch:
            try:
                answer = widths(
                    run, vary=vary, low=low, high=high, step=step, to=within, track_moves=track == "moves", need=need,
                    trials=trials, seed=seed, threads=threads, watch=watch,
                )  # fmt: skip
            except ValueError as problem:
                raise click.UsageError(str(problem)) from None
    from fieldsim.draw import draw_widths

    _say_study(
        as_json, folder, "widths", to_json(answer), widths_statement(answer),
        lambda sheet: draw_widths(answer, widths_headline(answer), tr(WORDS[vary]), sheet),
    )  # fmt: skip
    return NEED_NOT_MET if need is not None and not answer.meets_need else DONE


@command("compare", tr("Which of two or more runs is better, trial by trial, and where the other one fails."))
@click.argument("run_files", metavar=tr("RUN RUN..."), nargs=-1, required=True, type=click.Path(path_type=Path))
@_trials(10_000)
@SEED
@THREADS
@JSON
@SAVE
def compare_runs(
    run_files: tuple[Path, ...], trials: int, seed: int, threads: int | None, as_json: bool, folder: Path | None
) -> int:
    from fieldsim.files import load_run

    if len(run_files) < 2:
        raise click.UsageError(tr("give at least two runs to compare."))
    runs = [load_run(path) for path in run_files]
    names = [run.name for run in runs]
    # Two files may hold runs of the same name.
    names = [
        f"{name} ({path.stem})" if names.count(name) > 1 else name for name, path in zip(names, run_files, strict=True)
    ]
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.report.words.studies import compare_statement, difference_words
        from fieldsim.studies.compare import compare

        with progress() as watch:
            answer = compare(runs, names=names, trials=trials, seed=seed, threads=threads, watch=watch)
    from fieldsim.draw import draw_compare

    _say_study(
        as_json, folder, "compare", to_json(answer), compare_statement(answer),
        lambda sheet: draw_compare(answer, difference_words(answer.differences[0]), sheet),
    )  # fmt: skip
    return DONE


@command("causes", tr("What makes a run fail and spread: each source of noise, and what a change there is worth."))
@RUN
@_trials(4000)
@SEED
@THREADS
@JSON
@SAVE
def find_causes(run_file: Path, trials: int, seed: int, threads: int | None, as_json: bool, folder: Path | None) -> int:
    from fieldsim.files import load_run

    run = load_run(run_file)
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.report.words.studies import causes_headline, causes_statement
        from fieldsim.studies.causes import causes

        with progress() as watch:
            answer = causes(run, trials=trials, seed=seed, threads=threads, watch=watch)
    from fieldsim.draw import draw_causes, draw_causes_apart

    _say_study(
        as_json, folder, "causes", to_json(answer), causes_statement(answer),
        lambda sheet: draw_causes(answer, causes_headline(answer)) if sheet.alone else draw_causes_apart(answer),
    )  # fmt: skip
    return DONE


@command("match", tr("What several runs score inside the clock, in which order, and where practice pays most."))
@click.argument("match_file", metavar=tr("MATCH"), type=click.Path(path_type=Path))
@click.option(
    "--trials", type=Whole(1, 200_000), default=10_000, show_default=True,
    help=tr("How many matches; as many more, up to 10000, to choose the order on."),
)  # fmt: skip
@SEED
@THREADS
@JSON
@SAVE
def play_match(
    match_file: Path, trials: int, seed: int, threads: int | None, as_json: bool, folder: Path | None
) -> int:
    from fieldsim.files import load_match

    match = load_match(match_file)
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.match.study import study
        from fieldsim.report.words.match import headline, match_statement

        with progress() as watch:
            answer = study(match, trials=trials, seed=seed, threads=threads, watch=watch)
    from fieldsim.draw.match import draw_match

    _say_study(
        as_json, folder, "match", to_json(answer), match_statement(answer),
        lambda sheet: draw_match(answer, headline(answer), sheet),
    )  # fmt: skip
    return DONE


@command(
    "base",
    tr("The base in numbers: reach, gaps, steps, speed, load on the wheels, what tips it and what makes it skid."),
)
@click.argument("robot_file", metavar=tr("ROBOT"), type=click.Path(path_type=Path))
@click.option(
    "--wear", multiple=True, metavar=tr("ATTACHMENT"), help=tr("An attachment that is on; may be given again.")
)
@click.option("--friction", type=Decimal(0.01, 2), help=tr("Between wheels and mat.  [default: 0.6]"))
@click.option("--explain", is_flag=True, help=tr("Each number with its formula and source."))
@JSON
@SAVE
def show_base(
    robot_file: Path, wear: tuple[str, ...], friction: float | None, explain: bool, as_json: bool, folder: Path | None
) -> int:
    from fieldsim.files import load_robot

    robot = load_robot(robot_file)
    from fieldsim.answers import to_json
    from fieldsim.report.words.base import base_statement
    from fieldsim.studies.base import base
    from fieldsim.studies.base.answer import FRICTION

    answer = base(robot, wear, FRICTION if friction is None else friction)
    from fieldsim.draw.base import draw_base

    _say_study(
        as_json, folder, "base", to_json(answer), base_statement(answer, explain),
        lambda sheet: draw_base(robot, answer, sheet), kept=base_statement(answer, explain=True),
    )  # fmt: skip
    return DONE


@command("fit", tr("How accurately the robot drives, from tests measured with a tape, and how sure that is."))
@click.argument("sheet_file", metavar=tr("TESTS"), type=click.Path(path_type=Path))
@click.argument("robot_file", metavar=tr("ROBOT"), type=click.Path(path_type=Path))
@click.option("--write", is_flag=True, help=tr("Write the numbers into ROBOT; the old file is kept beside it."))
@click.option(
    "--field", "field_file", metavar=tr("FIELD"), type=click.Path(path_type=Path),
    help=tr("Write how exactly the robot is put into each jig into FIELD, likewise."),
)  # fmt: skip
@click.option(
    "--plan", "run_file", metavar=tr("RUN"), type=click.Path(path_type=Path),
    help=tr("Say which few further tests would help most to know how often RUN gets through."),
)  # fmt: skip
@SEED
@THREADS
@JSON
@SAVE
def fit_accuracy(
    sheet_file: Path,
    robot_file: Path,
    write: bool,
    field_file: Path | None,
    run_file: Path | None,
    seed: int,
    threads: int | None,
    as_json: bool,
    folder: Path | None,
) -> int:
    if sheet_file.suffix.lower() in (".yaml", ".yml") and robot_file.suffix.lower() in (".csv", ".tsv"):
        raise click.UsageError(
            tr(
                "the tests come first, then the robot: fieldsim fit {robot_file} {sheet_file}",
                robot_file=robot_file,
                sheet_file=sheet_file,
            )
        )
    from fieldsim.files import load_field, load_robot, load_run
    from fieldsim.files.sheets import load_sheet

    robot = load_robot(robot_file)
    sheet = load_sheet(sheet_file)
    field = None if field_file is None else load_field(field_file)
    run = None if run_file is None else load_run(run_file)
    if run is not None and run.robot.name != robot.name:
        raise click.UsageError(
            tr(
                "{run_file} is driven by '{driver}', and {robot_file} is '{robot}'.",
                run_file=run_file,
                driver=run.robot.name,
                robot_file=robot_file,
                robot=robot.name,
            )
        )
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.calibration.answer import fit_answer
        from fieldsim.calibration.fit import fit
        from fieldsim.calibration.further import driven_tests, further
        from fieldsim.calibration.square_path import contradictions
        from fieldsim.report.words.fit import doubts, field_values, file_values, fit_statement, unplaced
        from fieldsim.report.words.further import further_section

        answer = fit(robot, sheet)
        look = doubts(answer, sheet, robot.drive.heading_from, contradictions(sheet.square_paths))
        more = None
        if run is not None:
            with progress() as watch:
                more = further(run, answer, driven_tests(sheet), seed=seed, threads=threads, watch=watch)
    from fieldsim.draw.table_time import draw_fit

    said = to_json(fit_answer(answer, look, more))
    sections = [] if more is None else [further_section(more)]
    told = fit_statement(answer, robot.name, sheet_file.name, look, sections)
    _say_study(
        as_json, folder, "fit", said, told,
        lambda paper: draw_fit(answer, robot.accuracy, told.title, told.about[0], told.headline, paper),
    )  # fmt: skip
    if write:
        _rewritten(robot_file, file_values(answer, robot.accuracy), as_json)
        if look:
            click.echo(tr("See 'Look at this first': if the sheet is wrong there, mend it and write again."), err=True)
    if field is not None and field_file is not None:
        _rewritten(field_file, field_values(answer, field), as_json)
        for jig in unplaced(answer, field):
            click.echo(
                tr("{field_file} has no jig '{jig}': its placings were not written.", field_file=field_file, jig=jig),
                err=True,
            )
    return DONE


def _rewritten(path: Path, values: Any, as_json: bool) -> None:
    """Write measured values into a file; what is said of that is no part of an answer as JSON."""
    from fieldsim.files.writing import rewrite

    if not values:
        click.echo(tr("Nothing written into {path}: these tests tell none of its numbers.", path=path), err=True)
        return
    backup = rewrite(path, values)
    if not as_json:
        click.echo(tr("Wrote {file}; as it was: {copy}", file=path, copy=backup.name))


@command(
    "log", tr("Runs really driven at the table against their forecast: too hopeful, too gloomy or honest, and why.")
)
@click.argument("log_file", metavar=tr("LOG"), type=click.Path(path_type=Path))
@click.option("--trials", type=Whole(1000, 1_000_000), default=10_000, show_default=True, help=tr("Trials a run."))
@SEED
@THREADS
@JSON
@SAVE
def judge_log(log_file: Path, trials: int, seed: int, threads: int | None, as_json: bool, folder: Path | None) -> int:
    from fieldsim.logbook.runs import read_log

    log, runs = read_log(log_file)
    with getting_ready():
        from fieldsim.answers import to_json
        from fieldsim.logbook.judge import judge
        from fieldsim.report.words.logbook import logbook_statement

        with progress() as watch:
            answer = judge(log.entries, runs, trials=trials, seed=seed, threads=threads, watch=watch)
    from fieldsim.draw.table_time import draw_log

    told = logbook_statement(answer)
    _say_study(
        as_json, folder, "log", to_json(answer), told,
        lambda paper: draw_log(answer, told.title, told.about[0], told.headline, paper),
    )  # fmt: skip
    return DONE


@command("watch", tr("See a run drive, and change it while the odds follow; play a match; or draw a field."))
@click.argument("file", metavar=tr("FILE"), type=click.Path(path_type=Path))
@click.option(
    "--picture",
    "picture_file",
    metavar=tr("PNG"),
    type=click.Path(path_type=Path),
    help=tr("No window: a picture of it."),
)
@click.option("--at", type=Seconds(), help=tr("The picture shows this time of the run, such as 12.5s."))
@click.option(
    "--film",
    "film_file",
    metavar=tr("GIF"),
    type=click.Path(path_type=Path),
    help=tr("No window: a film, GIF or WebP."),
)
@click.option("--size", type=Size(), help=tr("Its size in pixels, such as 1600x900."))
@click.option("--scale", type=Decimal(0.5, 4.0), help=tr("How large the letters are.  [default: by the screen]"))
@click.option("--dark", is_flag=True, help=tr("Dark, for a picture or film."))
@click.option("--new-field", is_flag=True, help=tr("FILE is not there yet: draw a field and save it there."))
@SEED
@THREADS
def watch(
    file: Path,
    picture_file: Path | None,
    at: float | None,
    film_file: Path | None,
    size: tuple[int, int] | None,
    scale: float | None,
    dark: bool,
    new_field: bool,
    seed: int,
    threads: int | None,
) -> int:
    if picture_file is not None and film_file is not None:
        raise click.UsageError(tr("--picture and --film are two things; ask for one of them."))
    if at is not None and picture_file is None:
        raise click.UsageError(tr("--at is for --picture."))
    from fieldsim.files import kind_of
    from fieldsim.model.errors import FileError

    still: dict[str, Any] = {"size": size, "scale": scale or 1.0, "dark": dark}
    still = {key: value for key, value in still.items() if value is not None}
    # A file with mistakes is shown in the window with them; a run most likely.
    kind = "run"
    if picture_file is not None or film_file is not None or file.exists():
        with suppress(FileError):
            kind = kind_of(file)
    elif not file.exists():
        from fieldsim.window.field.files import begins_field

        if not new_field and not begins_field(file):
            raise click.UsageError(
                tr(
                    "There is no file {file}. To draw a new field and save it there: fieldsim watch {file} --new-field",
                    file=file,
                )
            )
        kind = "field"
        click.echo(tr("{file} is not there yet: draw a field, and saving makes it.", file=file))
    if kind == "robot":
        raise click.UsageError(tr("{file} is a robot: give a run of it, or a field.", file=file))
    with getting_ready():
        if picture_file is not None or film_file is not None:
            from fieldsim.window import record

            if film_file is not None:
                if kind == "field":
                    raise click.UsageError(tr("A film needs a run; a field stands still."))
                if kind == "match":
                    from fieldsim.window.match.app import film_match as make_film
                else:
                    make_film = record.film
                with progress() as tell:
                    make_film(file, film_file, seed=seed, threads=threads, watch=tell, **still)
            elif kind == "field":
                from fieldsim.window.field.app import picture_field

                if at is not None:
                    raise click.UsageError(tr("--at needs a run; a field stands still."))
                assert picture_file is not None
                picture_field(file, picture_file, **still)
            else:
                assert picture_file is not None
                if kind == "match":
                    from fieldsim.window.match.app import picture_match as make_picture
                else:
                    make_picture = record.picture
                make_picture(file, picture_file, at=at, seed=seed, threads=threads, **still)
            click.echo(tr("Wrote {file}", file=film_file or picture_file))
            return DONE
        from fieldsim.window.loop import open_window

        if kind == "field":
            from fieldsim.window.field.app import FieldDesk
        elif kind == "match":
            from fieldsim.window.live import get_ready
            from fieldsim.window.match.app import MatchDesk
        else:
            from fieldsim.window.live import get_ready
            from fieldsim.window.run.app import RunDesk

    if kind == "field":
        open_window(lambda size, scale: FieldDesk(file, size, scale), size, scale)
        return DONE
    if kind == "match":
        open_window(
            lambda size, scale: MatchDesk(file, size, scale, seed=seed, threads=threads), size, scale, get_ready
        )
        return DONE
    # Else the window would stay black while the kernel is compiled for the first time.
    open_window(lambda size, scale: RunDesk(file, size, scale, seed=seed, threads=threads), size, scale, get_ready)
    return DONE


@command("card", tr("A page to take to the table: the start, every step, what to watch, and room for what happened."))
@RUN
@click.option("--tests", is_flag=True, help=tr("Instead: a blank sheet for measuring how accurately its robot drives."))
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help=tr("The paper's size.")
)
@click.option("--trials", type=Whole(1, 1_000_000), default=10_000, show_default=True, help=tr("How many trials."))
@SEED
@THREADS
@JSON
@click.option(
    "--save",
    "file",
    type=click.Path(path_type=Path),
    metavar=tr("FILE"),
    help=tr("Save it: .pdf to print, .html or .txt; .csv is its steps alone, for other programs."),
)
def make_run_card(
    run_file: Path,
    tests: bool,
    paper: str,
    trials: int,
    seed: int,
    threads: int | None,
    as_json: bool,
    file: Path | None,
) -> int:
    form = "" if file is None else file.suffix.lower().removeprefix(".")
    if file is not None and form not in ("pdf", "html", "txt", "csv"):
        raise click.UsageError(
            tr("--save {file}: a card can be saved as .pdf, .html or .txt, its steps as .csv.", file=file)
        )
    from fieldsim.files import kind_of, load_run

    if kind_of(run_file) == "match":
        if tests:
            raise click.UsageError(tr("{file} is a match: --tests is for a run and its robot.", file=run_file))
        if form == "csv":
            raise click.UsageError(tr("{file} is a match: .csv is for the steps of a run.", file=run_file))
        return _match_card(run_file, paper, trials, seed, threads, as_json, file, form)
    run = load_run(run_file)
    if form == "csv":
        if tests:
            raise click.UsageError(tr("--tests and .csv do not go together: a sheet has no steps."))
        return _save_steps(run, file, as_json)
    with getting_ready():
        from fieldsim.cards.run.card import make_card
        from fieldsim.cards.run.text import card_json, card_text
        from fieldsim.cards.sheet.blank import blank_tests
        from fieldsim.cards.sheet.words import sheet_json, sheet_text

        if tests:
            sheet = blank_tests(run.robot, __version__, paper)
        else:
            from fieldsim.studies.attempt import KEPT, attempt

            with progress() as watch:
                tried = attempt(run, trials=trials, seed=seed, threads=threads, keep=KEPT, watch=watch)
            told = make_card(tried, str(run_file), paper, "" if file is None else str(file))
    if file is None:
        if tests:
            _print(sheet_json(sheet) if as_json else sheet_text(sheet))
        else:
            _print(card_json(told) if as_json else card_text(told))
        return DONE
    from fieldsim.cards.run.pages import card_file
    from fieldsim.cards.sheet.pages import sheet_file

    _save_card(file, sheet_file(sheet, form) if tests else card_file(tried.ready.run, told, form))
    if as_json:
        _print(sheet_json(sheet) if tests else card_json(told))
    else:
        click.echo(tr("Saved {file}", file=file))
    return DONE


def _match_card(
    match_file: Path, paper: str, trials: int, seed: int, threads: int | None, as_json: bool, file: Path | None,
    form: str,
) -> int:  # fmt: skip
    from fieldsim.files import load_match

    match = load_match(match_file)
    with getting_ready():
        from fieldsim.cards.match.card import make_match_card
        from fieldsim.cards.match.words import match_card_json, match_card_text
        from fieldsim.match.study import study

        with progress() as watch:
            answer = study(match, trials=trials, seed=seed, threads=threads, watch=watch)
        card = make_match_card(match, answer, str(match_file), paper, "" if file is None else str(file))
    if file is not None:
        from fieldsim.cards.match.pages import match_card_file

        _save_card(file, match_card_file(card, form))
    if as_json:
        _print(match_card_json(card))
    elif file is None:
        _print(match_card_text(card))
    else:
        click.echo(tr("Saved {file}", file=file))
    return DONE


def _save_steps(run: Any, file: Path | None, as_json: bool) -> int:
    from fieldsim.pages.tables import segments_table
    from fieldsim.sim.plan import plan

    assert file is not None
    if as_json:
        raise click.UsageError(tr("--json and .csv are two ways to say it; ask for one of them."))
    with getting_ready():
        _save_card(file, segments_table(plan(run)).encode())
    click.echo(tr("Saved {file}", file=file))
    return DONE


def _save_card(file: Path, data: bytes) -> None:
    from fieldsim.pages.saving import write_safely

    try:
        write_safely(file, lambda path: path.write_bytes(data))
    except OSError as problem:
        from fieldsim.model.errors import reason

        raise click.UsageError(tr("cannot save {file}: {reason}", file=file, reason=reason(problem))) from None


@command("check", tr("Are the files right? Says every mistake with its place."))
@click.argument("files", metavar=tr("FILE..."), nargs=-1, required=True, type=click.Path(path_type=Path))
def check_files(files: tuple[Path, ...]) -> int:
    from fieldsim.files import check
    from fieldsim.logbook.runs import read_log

    with getting_ready():
        found = check(files, _driven_once, lambda path: read_log(path)[0])
    for line in found.lines:
        click.echo(line)
    for file, sheet in found.sheets:
        # Only for a sheet: it brings all that fits one.
        from fieldsim.report.words.fit import sheet_words

        for words in sheet_words(sheet):
            click.echo(f"{file}: {words}")
    if found.problems:
        from fieldsim.model.errors import FileError

        click.echo(str(FileError(found.problems)), err=True)
        return WRONG
    return DONE


def _driven_once(run: Any) -> Any:
    """A run with a square or a line in it has to be driven to know whether it gets there; others need no kernel."""
    from fieldsim.model import Alignment

    if not any(isinstance(segment, Alignment) for segment in run.segments):
        return ()
    from fieldsim.sim.plan import unreached

    return unreached(run)


@command("new", tr("Write a small season to start from: a field, a robot, a run."))
@click.argument("folder", type=click.Path(path_type=Path))
def new_season(folder: Path) -> int:
    from fieldsim.files import new_season as write

    for path in write(folder):
        click.echo(tr("wrote {path}", path=path))
    return DONE


@command("schema", tr("The JSON Schema of a kind of file, for an editor that completes and checks; or of the answers."))
@click.argument("kind", type=click.Choice(["field", "robot", "run", "match", "answer"]))
def print_schema(kind: str) -> int:
    from fieldsim.files import schema
    from fieldsim.report.answer_schema import answer_schema

    click.echo(json.dumps(answer_schema() if kind == "answer" else schema(kind), indent=2))
    return DONE


@contextmanager
def getting_ready() -> Iterator[None]:
    """Say so on a terminal where the kernel has to be compiled first: it takes seconds, once on each machine."""
    if not sys.stderr.isatty():
        yield
        return
    done = threading.Event()

    def tell() -> None:
        if not done.wait(2.0) and not _Progress.shown:
            click.echo(tr("getting ready (longer the first time on each machine)"), err=True)

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()


class _Progress:
    shown = False


@contextmanager
def progress() -> Iterator[Any]:
    """A bar with the time left on stderr, if that is a terminal and the work takes more than a second."""
    from tqdm import tqdm

    bar = tqdm(unit=tr(" trials"), delay=1, disable=not sys.stderr.isatty(), leave=False, dynamic_ncols=True)
    _Progress.shown = False

    def watch(done: int, wanted: int) -> None:
        _Progress.shown = True
        bar.total = wanted
        bar.update(done - bar.n)

    with bar:
        yield watch


def main() -> None:
    """The console command: exit status 0 done, 1 the plan does not meet what was asked, 2 files or words are wrong."""
    from fieldsim.model.errors import FieldsimError

    # Before numpy is loaded: for matrices as small as ours many threads only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        status = program.main(prog_name="fieldsim", standalone_mode=False)
    except click.ClickException as problem:
        problem.show()
        status = WRONG
    except FieldsimError as problem:
        click.echo(str(problem), err=True)
        status = WRONG
    except (KeyboardInterrupt, click.Abort):
        click.echo(tr("stopped before the first trials were done"), err=True)
        status = 130
    except SystemExit:
        # click leaves with 1 when the reader of a pipe has gone. Nothing is wrong, and 1 means something else here.
        status = DONE
    sys.exit(status)
