"""Files: fields, robots, runs and matches in YAML. Nothing in a file can run, and every mistake is said at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from os.path import abspath, relpath
from pathlib import Path
from typing import Any

from fieldsim.files.forms import KINDS
from fieldsim.files.meant import called, distinct, looks_like_ours
from fieldsim.files.nodes import BEGINS, Document, Node, read
from fieldsim.files.reading import BAD, Reader
from fieldsim.files.schemas import schema
from fieldsim.language import tr, tr_many
from fieldsim.model import Field, Robot, Run
from fieldsim.model.bounds import Checked, nearest
from fieldsim.model.errors import Complaint, FileError, Problem, shown
from fieldsim.model.match import Match
from fieldsim.model.measured import Log, Sheet

__all__ = [
    "Checkup",
    "check",
    "kind_of",
    "load_field",
    "load_match",
    "load_match_and_files",
    "load_robot",
    "load_run",
    "new_season",
    "schema",
]


# Endings of tables that a spreadsheet writes.
TABLES = (".csv", ".tsv")


def load_field(path: str | Path) -> Field:
    """The field in a file. Raises FileError with every mistake."""
    field: Field = _whole(_load(Path(path), Field, str(path)))
    return field


def load_robot(path: str | Path) -> Robot:
    """The robot in a file. Raises FileError with every mistake."""
    robot: Robot = _whole(_load(Path(path), Robot, str(path)))
    return robot


def load_run(path: str | Path) -> Run:
    """The run in a file, with the field and the robot it names. Raises FileError with every mistake of all three."""
    run: Run = _whole(_load(Path(path), Run, str(path)))
    return run


def load_match(path: str | Path) -> Match:
    """The match in a file, with its runs. Raises FileError with every mistake of all of them."""
    return load_match_and_files(path)[0]


def load_match_and_files(path: str | Path) -> tuple[Match, tuple[Path, ...]]:
    """The same, and all files it was read from: its own, and those of its runs, field and robots."""
    known: Known = {}
    match: Match = _whole(_load(Path(path), Match, str(path), known=known))
    return match, tuple(Path(name) for name, _ in known)


def kind_of(path: str | Path) -> str:
    """'field', 'robot', 'run' or 'match', by the keys of the file. Raises FileError if it is none of them."""
    return _kind(read(Path(path), str(path)))


@dataclass(frozen=True)
class Checkup:
    """What `fieldsim check` found: a line for each good file, and every problem of the others."""

    lines: tuple[str, ...]
    problems: tuple[Problem, ...]
    sheets: tuple[tuple[str, Sheet], ...] = ()
    """The good test sheets, by their files."""
    runs: tuple[tuple[str, Run], ...] = ()
    """The good runs likewise."""


def check(
    paths: Iterable[str | Path],
    look: Callable[[Run], Iterable[Complaint]] = lambda run: (),
    log: Callable[[str | Path], Log] | None = None,
) -> Checkup:
    """Look at files of any kind. ``look`` finds what else is wrong with a run that can be read; ``log`` reads a log,
    and may look further than at its cells."""
    lines: list[str] = []
    sheets: list[tuple[str, Sheet]] = []
    runs: list[tuple[str, Run]] = []
    problems: list[Problem] = []
    for path in paths:
        try:
            if Path(path).suffix.lower() in TABLES:
                # Only here, and for a new season: most commands read no table, and do not wait for what reads one.
                from fieldsim.files.sheets import is_log, load_log, load_sheet

                value: Any = (log or load_log)(path) if is_log(path) else load_sheet(path)
            else:
                record = KINDS[kind_of(path)]
                value = _whole(_load(Path(path), record, str(path), look))
        except FileError as wrong:
            problems += wrong.problems
        else:
            lines.append(f"{shown(str(path), 4096)}: {_described(value)}")
            if isinstance(value, Sheet):
                sheets.append((str(path), value))
            elif isinstance(value, Run):
                runs.append((str(path), value))
    return Checkup(tuple(lines), tuple(distinct(problems)), tuple(sheets), tuple(runs))


def new_season(folder: str | Path) -> list[Path]:
    """Write a field, a robot, a run, a blank test sheet and a blank log into a folder; their paths.

    Never replaces a file, and leaves nothing behind if it fails: raises SaveError.
    """
    from fieldsim.files.starter import new_season as written

    return written(folder)


def _described(value: Any) -> str:
    match value:
        case Field():
            return tr(
                "a field, {obstacles}, {jigs}, {lines}, {targets}",
                obstacles=tr_many("{n} obstacle", "{n} obstacles", len(value.obstacles)),
                jigs=tr_many("{n} jig", "{n} jigs", len(value.jigs)),
                lines=tr_many("{n} line", "{n} lines", len(value.lines)),
                targets=tr_many("{n} target", "{n} targets", len(value.targets)),
            )
        case Robot():
            return tr_many("a robot, {n} attachment", "a robot, {n} attachments", len(value.attachments))
        case Sheet():
            return tr_many("a test sheet, {n} test", "a test sheet, {n} tests", len(value.tests))
        case Log():
            return tr_many("a log, {n} run", "a log, {n} runs", len(value.entries))
        case Run():
            return tr_many(
                "a run, {n} segment, {robot} on {field}", "a run, {n} segments, {robot} on {field}",
                len(value.segments), robot=value.robot.name, field=value.field.name,
            )  # fmt: skip
        case Match():
            return tr_many(
                "a match, {n} run in {limit:g} s", "a match, {n} runs in {limit:g} s", len(value.runs),
                limit=value.limit,
            )  # fmt: skip
    raise TypeError(f"no words for {value!r}")


def _kind(document: Document) -> str:
    keys = {key.value: key for key, _ in document.root.value}
    for word in KINDS:
        # A run names a field and a robot too; a field or robot names none of the others.
        if word in keys:
            return word
    first = document.root.value[0][0] if document.root.value else document.root
    guess = next((near for near in (nearest(word, list(KINDS)) for word in keys) if near), None)
    hint = tr("did you mean '{guess}'? {hint}", guess=guess, hint=tr(BEGINS)) if guess else tr(BEGINS)
    raise FileError([document.problem(first, tr("this is neither a field, a robot, a run nor a match"), hint)])


def _whole(result: tuple[Any, list[Problem]]) -> Any:
    value, problems = result
    if problems:
        raise FileError(sorted(distinct(problems), key=lambda p: (p.file, p.line, p.column)))
    return value


Known = dict[tuple[str, type[Checked]], tuple[Any, list[Problem]]]
"""What has been read already: the runs of a match share their field and robot."""


def _load(
    path: Path,
    record: type[Checked],
    name: str,
    look: Callable[[Run], Iterable[Complaint]] = lambda run: (),
    known: Known | None = None,
) -> tuple[Any, list[Problem]]:
    """A value and no problems, or BAD and all problems of this file and those it names."""
    known = {} if known is None else known
    key = (abspath(path), record)
    if key not in known:
        known[key] = _read(path, record, name, look, known)
    return known[key]


def _read(
    path: Path, record: type[Checked], name: str, look: Callable[[Run], Iterable[Complaint]], known: Known
) -> tuple[Any, list[Problem]]:
    try:
        document = read(path, name)
        wanted = next(word for word, kind in KINDS.items() if kind is record)
        kind = _kind(document)
    except FileError as wrong:
        return BAD, list(wrong.problems)
    if kind != wanted:
        key = next(key for key, _ in document.root.value if key.value == kind)
        text = tr(
            "this file holds a {noun}, but a {wanted} is wanted here",
            noun=tr(KINDS[kind].noun), wanted=tr(record.noun),
        )  # fmt: skip
        return BAD, [document.problem(key, text)]
    reader = Reader(document)
    elsewhere: list[Problem] = []
    if record is Field:
        value = reader.field()
    elif record is Robot:
        value = reader.record(document.root, Robot)
    else:

        def load(file: str, node: Node, other: type[Checked]) -> Any:
            there = path.parent / file
            shown_as = relpath(there) if not path.is_absolute() and not Path(file).is_absolute() else str(there)
            value, problems = _load(there, other, shown_as, look, known)
            missing = [problem for problem in problems if problem.message == tr("there is no such file")]
            if missing:
                guess = called(other, file, path.parent)
                hint = missing[0].hint or tr("the path is seen from the folder of this file")
                if guess:
                    hint = tr("did you mean '{guess}'?", guess=shown(guess, 400))
                return reader.wrong(node, tr("there is no file {file}", file=shown(shown_as, 400)), hint)
            quoted = any(problem.source_line and problem.file == shown_as for problem in problems)
            if quoted and not looks_like_ours(there):
                # It was named by a slip, and what stands in it is not for a message.
                text = tr("this is neither a field, a robot, a run nor a match")
                problems = [Problem(shown_as, 1, 1, text, hint=tr(BEGINS))]
            elsewhere.extend(problems)
            return value

        value = reader.match(load) if record is Match else reader.run(load)
        if isinstance(value, Run):
            reader.refuse((), look(value))
    problems = reader.problems + elsewhere
    return (BAD if problems else value), problems
