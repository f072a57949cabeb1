"""`fit` as a study, which can write what it found into the files of robot and field."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from fieldsim.catalog.shared import PICTURE_SAVED, SEED, THREADS, told
from fieldsim.catalog.study import (
    Argument,
    Flag,
    Given,
    Option,
    Outcome,
    PathName,
    Remark,
    Study,
    Watch,
    WrongWordsError,
)
from fieldsim.language import tr, tr_later


class _Read(NamedTuple):
    robot: Any
    sheet: Any
    field: Any
    run: Any


def _read(given: Given) -> _Read:
    sheet_file, robot_file, run_file = given["sheet_file"], given["robot_file"], given["run_file"]
    if sheet_file.suffix.lower() in (".yaml", ".yml") and robot_file.suffix.lower() in (".csv", ".tsv"):
        raise WrongWordsError(
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
    field = None if given["field_file"] is None else load_field(given["field_file"])
    run = None if run_file is None else load_run(run_file)
    if run is not None and run.robot.name != robot.name:
        raise WrongWordsError(
            tr(
                "{run_file} is driven by '{driver}', and {robot_file} is '{robot}'.",
                run_file=run_file,
                driver=run.robot.name,
                robot_file=robot_file,
                robot=robot.name,
            )
        )
    return _Read(robot, sheet, field, run)


def _ask(read: _Read, given: Given, watch: Watch) -> Outcome:
    from fieldsim.calibration.answer import fit_answer
    from fieldsim.calibration.fit import fit
    from fieldsim.calibration.further import driven_tests, further
    from fieldsim.calibration.square_path import contradictions
    from fieldsim.draw.table_time import draw_fit
    from fieldsim.report.words.fit import fit_statement
    from fieldsim.report.words.fit.file_values import field_values, file_values, unplaced
    from fieldsim.report.words.fit.sheets import doubts
    from fieldsim.report.words.further import further_section

    robot, sheet, field, run = read
    found = fit(robot, sheet)
    look = doubts(found, sheet, robot.drive.heading_from, contradictions(sheet.square_paths))
    more = None
    if run is not None:
        more = further(run, found, driven_tests(sheet), seed=given["seed"], threads=given["threads"], watch=watch)
    sections = [] if more is None else [further_section(more)]
    words = fit_statement(found, robot.name, given["sheet_file"].name, look, sections)

    def write() -> Iterator[Remark]:
        if given["write"]:
            yield _written(given["robot_file"], file_values(found, robot.accuracy))
            if look:
                yield Remark(
                    tr("See 'Look at this first': if the sheet is wrong there, mend it and write again."), warning=True
                )
        if field is not None:
            yield _written(given["field_file"], field_values(found, field))
            for jig in unplaced(found, field):
                yield Remark(
                    tr(
                        "{field_file} has no jig '{jig}': its placings were not written.",
                        field_file=given["field_file"],
                        jig=jig,
                    ),
                    warning=True,
                )

    return told(
        "fit", fit_answer(found, look, more), words,
        lambda paper: draw_fit(found, robot.accuracy, words.title, words.about[0], words.headline, paper),
        FIT.pictures, afterwards=write,
    )  # fmt: skip


def _written(path: Path, values: Any) -> Remark:
    """Write measured values into a file; what is said of that is no part of an answer."""
    from fieldsim.files.writing import rewrite

    if not values:
        return Remark(tr("Nothing written into {path}: these tests tell none of its numbers.", path=path), warning=True)
    backup = rewrite(path, values)
    return Remark(tr("Wrote {file}; as it was: {copy}", file=path, copy=backup.name))


FIT = Study(
    name="fit",
    about=tr_later("How accurately the robot drives, from tests measured with a tape, and how sure that is."),
    arguments=(Argument("sheet_file", tr_later("TESTS")), Argument("robot_file", tr_later("ROBOT"))),
    options=(
        Option("--write", Flag(), tr_later("Write the numbers into ROBOT; the old file is kept beside it.")),
        Option(
            "--field",
            PathName(),
            tr_later("Write how exactly the robot is put into each jig into FIELD, likewise."),
            own_name="field_file",
            sign=tr_later("FIELD"),
        ),
        Option(
            "--plan",
            PathName(),
            tr_later("Say which few further tests would help most to know how often RUN gets through."),
            own_name="run_file",
            sign=tr_later("RUN"),
        ),
        SEED,
        THREADS,
    ),
    types=("calibration.answer:FitAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/tests.csv", "runs/bakery/box-one.yaml"),
    saving=PICTURE_SAVED,
    pictures={
        "fit": (
            tr_later("What the tests say of each number"),
            tr_later(
                "Each number with the ends between which it may be (95 %); a diamond is what the "
                "robot's file says now. "
                "Numbers of the same unit share an axis."
            ),
        )
    },
)
