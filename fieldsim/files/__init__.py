"""Files: fields, robots, runs and matches in YAML. Nothing in a file can run, and every mistake is said at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from os.path import abspath, relpath
from pathlib import Path
from typing import Any

from fieldsim.bounds import Checked, nearest
from fieldsim.errors import Complaint, FileError, Problem, shown
from fieldsim.files.forms import KINDS
from fieldsim.files.nodes import BEGINS, Document, Node, read
from fieldsim.files.reading import BAD, Reader
from fieldsim.files.schemas import schema
from fieldsim.files.sheets import is_log, load_log, load_sheet
from fieldsim.files.starter import new_season
from fieldsim.match_model import Match
from fieldsim.measured import Log, Sheet
from fieldsim.model import Field, Robot, Run

__all__ = ["Checkup", "check", "kind_of", "load_field", "load_match", "load_robot", "load_run", "new_season", "schema"]


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
    match: Match = _whole(_load(Path(path), Match, str(path)))
    return match


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


def check(
    paths: Iterable[str | Path],
    look: Callable[[Run], Iterable[Complaint]] = lambda run: (),
    log: Callable[[str | Path], Log] = load_log,
) -> Checkup:
    """Look at files of any kind. ``look`` finds what else is wrong with a run that can be read; ``log`` reads a log,
    and may look further than at its cells."""
    lines: list[str] = []
    sheets: list[tuple[str, Sheet]] = []
    problems: dict[tuple[str, int, int, str], Problem] = {}
    for path in paths:
        try:
            if Path(path).suffix.lower() in TABLES:
                value: Any = log(path) if is_log(path) else load_sheet(path)
            else:
                record = KINDS[kind_of(path)]
                value = _whole(_load(Path(path), record, str(path), look))
        except FileError as wrong:
            for problem in wrong.problems:
                problems.setdefault((problem.file, problem.line, problem.column, problem.message), problem)
        else:
            lines.append(f"{shown(str(path), 4096)}: {_described(value)}")
            if isinstance(value, Sheet):
                sheets.append((str(path), value))
    return Checkup(tuple(lines), tuple(problems.values()), tuple(sheets))


def _described(value: Any) -> str:
    def count(number: int, one: str) -> str:
        return f"{number} {one}{'' if number == 1 else 's'}"

    match value:
        case Field():
            return (
                f"a field, {count(len(value.obstacles), 'obstacle')}, {count(len(value.jigs), 'jig')}, "
                f"{count(len(value.lines), 'line')}, {count(len(value.targets), 'target')}"
            )
        case Robot():
            return f"a robot, {count(len(value.attachments), 'attachment')}"
        case Sheet():
            return f"a test sheet, {count(len(value.tests), 'test')}"
        case Log():
            return f"a log, {count(len(value.entries), 'run')}"
        case Run():
            return f"a run, {count(len(value.segments), 'segment')}, {value.robot.name} on {value.field.name}"
        case Match():
            return f"a match, {count(len(value.runs), 'run')} in {value.limit:g} s"
    raise TypeError(f"no words for {value!r}")


def _kind(document: Document) -> str:
    keys = {key.value: key for key, _ in document.root.value}
    for word in KINDS:
        # A run names a field and a robot too; a field or robot names none of the others.
        if word in keys:
            return word
    first = document.root.value[0][0] if document.root.value else document.root
    guess = next((near for near in (nearest(word, list(KINDS)) for word in keys) if near), None)
    hint = (f"did you mean '{guess}'? " if guess else "") + BEGINS
    raise FileError([document.problem(first, "this is neither a field, a robot, a run nor a match", hint)])


def _whole(result: tuple[Any, list[Problem]]) -> Any:
    value, problems = result
    if problems:
        raise FileError(sorted(set(problems), key=lambda p: (p.file, p.line, p.column)))
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
        return BAD, [document.problem(key, f"this file holds a {kind}, but a {wanted} is wanted here")]
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
            missing = [problem for problem in problems if problem.message == "there is no such file"]
            if missing:
                hint = missing[0].hint or "the path is seen from the folder of this file"
                return reader.wrong(node, f"there is no file {shown(shown_as, 400)}", hint)
            elsewhere.extend(problems)
            return value

        value = reader.match(load) if record is Match else reader.run(load)
        if isinstance(value, Run):
            reader.refuse((), look(value))
    problems = reader.problems + elsewhere
    return (BAD if problems else value), problems
