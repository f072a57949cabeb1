"""`photo` as a study."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from fieldsim.catalog.shared import PICTURE_SAVED, told
from fieldsim.catalog.study import (
    Argument,
    Decimal,
    Given,
    Option,
    Outcome,
    PathName,
    Remark,
    Study,
    Text,
    Watch,
    WrongWordsError,
)
from fieldsim.language import tr, tr_later
from fieldsim.report.origin import Origin

_KINDS = ("straight", "turn", "square_path", "placing", "end", "of")


class _Read(NamedTuple):
    files: tuple[Path, ...]
    field: Any
    robot: Any
    measured: tuple[tuple[int, int, float], ...]
    kind: str | None
    run: Any
    date: str


def _read(given: Given) -> _Read:
    from fieldsim.files import load_field, load_robot, load_run

    field, robot = load_field(given["field_file"]), load_robot(given["robot_file"])
    if not field.markers:
        raise WrongWordsError(
            tr("{file} has no markers: 'fieldsim card {file} --markers' makes them.", file=given["field_file"])
        )
    asked = [kind for kind in _KINDS if given[kind] is not None]
    if len(asked) > 1:
        flags = tr(" and ").join(f"--{kind.replace('_', '-')}" for kind in asked)
        raise WrongWordsError(tr("{flags} do not go together: ask for one kind of rows.", flags=flags))
    kind = asked[0] if asked else None
    if kind is not None and given[kind] == 0:
        raise WrongWordsError(tr("--{kind} 0: nothing was driven.", kind=kind.replace("_", "-")))
    if given["into"] is not None and kind is None:
        raise WrongWordsError(tr("--into needs to know what the pictures are of: --straight, --turn, --placing ..."))
    run = load_run(given[kind]) if kind in ("placing", "end", "of") and kind is not None else None
    from fieldsim.photo.film import is_film

    films = [file for file in given["files"] if is_film(file)]
    if films and len(given["files"]) > 1:
        raise WrongWordsError(tr("One film at a time, and no photos with it."))
    if films and kind not in (None, "of"):
        raise WrongWordsError(tr("A film goes with --of RUN, or with none of these."))
    if kind == "of" and not films:
        raise WrongWordsError(tr("--of RUN goes with a film."))
    if kind is not None and run is not None and run.robot.name != robot.name:
        raise WrongWordsError(
            tr("{run_file} is driven by '{driver}', and {robot_file} is '{robot}'.", run_file=given[kind],
               driver=run.robot.name, robot_file=given["robot_file"], robot=robot.name)
        )  # fmt: skip
    date = given["date"] or ""
    if date and not re.fullmatch(r"20\d\d-(0\d|1[0-2])-([0-2]\d|3[01])", date):
        raise WrongWordsError(tr("--date {date}: write year-month-day, such as 2026-11-25.", date=date))
    numbers = {int(marker.number) for marker in field.markers}
    measured = tuple(_distance(words, numbers) for words in given["measured"] or ())
    return _Read(tuple(given["files"]), field, robot, measured, kind, run, date)


def _distance(words: str, numbers: set[int]) -> tuple[int, int, float]:
    found = re.fullmatch(r"\s*(\d+)\s*-\s*(\d+)\s*=\s*(\d+(?:\.\d+)?)\s*", words)
    if found is None or float(found[3]) <= 0:
        raise WrongWordsError(
            tr("--measured {words}: write two markers and the mm between their middles, such as 1-3=1985.", words=words)
        )
    one, other = int(found[1]), int(found[2])
    for number in (one, other):
        if number not in numbers or one == other:
            raise WrongWordsError(tr("--measured {words}: these are not two markers of the field.", words=words))
    return one, other, float(found[3])


def _ask(read: _Read, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.photo import draw_photo
    from fieldsim.photo import rows
    from fieldsim.photo.bundle import Measured
    from fieldsim.photo.files import picture
    from fieldsim.photo.film import is_film
    from fieldsim.photo.taking import look, take
    from fieldsim.report.words.photo import headline, photo_statement

    if is_film(read.files[0]):
        return _ask_film(read, given, watch)
    looked = []
    for done, file in enumerate(read.files):
        watch(done, len(read.files) + 1)
        looked.append(look(file, picture(file)))
    taken = take(looked, read.field, read.robot, [Measured(*each) for each in read.measured])
    watch(len(read.files) + 1, len(read.files) + 1)
    answer = taken.answer
    if read.kind is not None:
        try:
            made = _rows(read, given, taken)
        except rows.NoRowsError as problem:
            raise WrongWordsError(str(problem)) from None
        answer = replace(answer, rows_for="log" if read.kind == "end" else "tests", rows=made)
    outcome = told(
        "photo", answer, photo_statement(answer),
        lambda sheet: draw_photo(taken, read.field, read.robot, headline(answer), sheet), PHOTO.pictures,
    )  # fmt: skip
    return _with_rows(outcome, answer, given)


def _ask_film(read: _Read, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.photo import draw_film
    from fieldsim.photo import rows
    from fieldsim.photo.bundle import Measured
    from fieldsim.photo.film import film, film_answer, moves
    from fieldsim.report.words.photo import headline, photo_statement

    seen = film(read.files[0], read.field, read.robot, [Measured(*each) for each in read.measured], watch)
    if seen is None:
        raise WrongWordsError(
            tr("{file}: the robot's marker and one of the field's are never seen together.", file=read.files[0])
        )
    made = moves(seen)
    answer = film_answer(seen, made, read.field, read.robot)
    if read.run is not None:
        try:
            answer = replace(answer, rows_for="tests", rows=rows.of_run(seen, made, read.run, read.date))
        except rows.NoRowsError as problem:
            raise WrongWordsError(str(problem)) from None
    outcome = told(
        "photo", answer, photo_statement(answer),
        lambda sheet: draw_film(seen, made, read.field, read.run, headline(answer), sheet), PHOTO.pictures,
    )  # fmt: skip
    return _with_rows(outcome, answer, given, rows.path_text(seen))


def _with_rows(outcome: Outcome, answer: Any, given: Given, path: str = "") -> Outcome:
    """The outcome that also saves the rows, and the way of a film, and adds rows to a file."""
    from fieldsim.photo import rows

    texts = {"path.csv": path} if path else {}
    if answer.rows:
        texts["rows.csv"] = rows.csv_text(answer.rows, answer.rows_for)
    if not texts:
        return outcome

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.pages.saving import write_safely

        written = outcome.save(folder, origin)
        for name, text in texts.items():
            write_safely(folder / name, partial(Path.write_text, data=text, encoding="utf-8"))
        return [*written, *(folder / name for name in texts)]

    def into() -> Iterator[Remark]:
        if given["into"] is not None and answer.rows:
            try:
                rows.add_to(given["into"], answer.rows, answer.rows_for)
            except rows.NoRowsError as problem:
                yield Remark(str(problem), warning=True)
            else:
                yield Remark(tr("Wrote the rows into {file}", file=given["into"]))

    return replace(outcome, save=save, afterwards=into)


def _rows(read: _Read, given: Given, taken: Any) -> Any:
    from fieldsim.photo import rows

    match read.kind:
        case "straight":
            return rows.straights(taken, read.robot, given["straight"], read.date)
        case "turn":
            return rows.turns(taken, read.robot, given["turn"], read.date)
        case "square_path":
            return rows.square_paths(taken, read.robot, given["square_path"], read.date)
        case "placing":
            return rows.placings(taken, read.run, read.date)
    return rows.endings(taken, read.run, Path(given["end"]).name, read.date)


PHOTO = Study(
    name="photo",
    about=tr_later(
        "Where the robot stood, from photos or a film with printed markers: rows for a test sheet or a log. Pictures "
        "stay on this machine. Film the table, not people."
    ),
    arguments=(
        Argument("files", tr_later("PICTURE..."), many=True),
        Argument("field_file", tr_later("FIELD")),
        Argument("robot_file", tr_later("ROBOT")),
    ),
    options=(
        Option(
            "--straight",
            Decimal(-20_000, 20_000),
            sign=tr_later("MM"),
            about=tr_later("Photos are before and after straights of so many mm, in pairs: rows for a test sheet."),
        ),
        Option(
            "--turn",
            Decimal(-3_600, 3_600),
            sign=tr_later("DEGREES"),
            about=tr_later("Likewise of turns on the spot of so many degrees, left positive."),
        ),
        Option(
            "--square-path",
            Decimal(-20_000, 20_000),
            sign=tr_later("MM"),
            about=tr_later("Likewise of square paths with such a side, turning left; right if negative."),
        ),
        Option(
            "--placing",
            PathName(),
            sign=tr_later("RUN"),
            about=tr_later("Each photo is the robot put at the start of RUN: rows for a test sheet."),
        ),
        Option(
            "--end",
            PathName(),
            sign=tr_later("RUN"),
            about=tr_later("Each photo is the end of RUN: rows for a log."),
        ),
        Option(
            "--of",
            PathName(),
            sign=tr_later("RUN"),
            about=tr_later("The film is of RUN: a row for each of its straights and turns."),
        ),
        Option(
            "--measured",
            Text(),
            sign=tr_later("A-B=MM"),
            many=True,
            about=tr_later("A distance measured between the middles of two markers, such as 1-3=1985."),
        ),
        Option(
            "--date", Text(), sign=tr_later("DAY"), about=tr_later("The day to write into the rows: year-month-day.")
        ),
        Option(
            "--into",
            PathName(),
            sign=tr_later("FILE"),
            about=tr_later("Write the rows into FILE, below those that are there."),
        ),
    ),
    types=("photo.answer:PhotoAnswer",),
    read=_read,
    ask=_ask,
    example=(
        "runs/bakery/before.jpg",
        "runs/bakery/after.jpg",
        "fields/practice.yaml",
        "runs/bakery/box-one.yaml",
        "--straight",
        "600",
    ),
    saving=PICTURE_SAVED,
    pictures={
        "photo": (
            tr_later("What was seen"),
            tr_later(
                "Each picture with what was found in it: the markers, dashed the edge of the field, and the robot's "
                "body with the way it looks. Where these lines do not lie on what they mean, do not believe the "
                "numbers."
            ),
        )
    },
)
