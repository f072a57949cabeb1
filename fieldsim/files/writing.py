"""The texts of fields, robots and runs: new ones, and those of files that people wrote with what differs changed."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from fieldsim.files import nodes
from fieldsim.files.changing import changed
from fieldsim.files.keeping import CannotKeepError, fresh, kept, plain_record
from fieldsim.files.reading import BAD, Reader
from fieldsim.files.saving import plain_text, replace_file, rewrite
from fieldsim.language import tr
from fieldsim.model import Field, Robot, Run
from fieldsim.model.bounds import Checked
from fieldsim.model.errors import FileError, SaveError

__all__ = [
    "changed", "field_text", "new_field_text", "new_run_text", "replace_file", "rewrite", "robot_text", "run_text",
]  # fmt: skip


def run_text(
    text: str,
    before: Run,
    after: Run,
    robot_file: str | None = None,
    field_file: str | None = None,
    origins: Sequence[int | None] | None = None,
) -> str:
    """The text of a run's file, changed so that it holds ``after``, with comments, order and spelling kept.

    ``before`` is the run that was read from the text. If both are equal the text comes back as it is. ``robot_file``
    and ``field_file`` are new paths, seen from the run's folder. Segments of ``after`` that are objects of ``before``
    are known again; ``origins`` may say it for all of them: the number (from 0) of the segment of ``before`` that it
    was, or None for a new one. What is returned has been read again and is equal to ``after``, to the last digit: if
    the text cannot be changed in its places it is written anew in part (without the comments there), or as a whole.
    Raises SaveError if no file can hold it.
    """
    if before == after and robot_file is None and field_file is None:
        return text
    if origins is not None and len(origins) != len(after.segments):
        raise ValueError(f"{len(origins)} origins for {len(after.segments)} segments")
    files = {word: file for word, file in (("field", field_file), ("robot", robot_file)) if file is not None}
    plain, ends = plain_text(text)
    old = next((run for run in (_run_in(plain, each) for each in (before, after)) if run is not None), None)
    tries: list[Callable[[], str]] = []
    if old is not None:
        named = {**old.files, **files}
        # The numbers say nothing about a text that somebody else has changed in the meantime.
        origins = origins if old.run.segments == before.segments else None
        tries.append(partial(kept, old.document, plain, old.run, after, files, before, origins))
        was = partial(plain_record, old.run, old.files)
        tries.append(lambda: _changed_keys(plain, was(), plain_record(after, named)))
    elif len(files) < 2:
        raise SaveError(tr("the run's file is not the one it was read from, and cannot be read any more"))
    else:
        named = files
    tries.append(lambda: new_run_text(after, named["field"], named["robot"]))

    def right(made: str) -> bool:
        found = _run_in(made, after)
        return found is not None and found.run == after and found.files == named

    return ends(_first_right(tries, right))


def field_text(text: str, before: Field, after: Field) -> str:
    """The text of a field's file, changed so that it holds ``after``, as `run_text` does it for a run.

    Obstacles, jigs and all that has a name are known again by it, and by everything else when they were renamed.
    """
    if before == after:
        return text
    plain, ends = plain_text(text)
    tries: list[Callable[[], str]] = []
    read = _field_in(plain)
    if read is not None:
        document, old = read
        tries.append(partial(kept, document, plain, old, after, None, before))
        tries.append(lambda: _changed_keys(plain, plain_record(old), plain_record(after)))
    tries.append(lambda: new_field_text(after))

    def right(made: str) -> bool:
        found = _field_in(made)
        return found is not None and found[1] == after

    return ends(_first_right(tries, right))


def robot_text(text: str, before: Robot, after: Robot) -> str:
    """The text of a robot's file, changed so that it holds ``after``, as `run_text` does it for a run."""
    if before == after:
        return text
    plain, ends = plain_text(text)
    tries: list[Callable[[], str]] = []
    read = _robot_in(plain)
    if read is not None:
        document, old = read
        tries.append(partial(kept, document, plain, old, after, None, before))
        tries.append(lambda: _changed_keys(plain, plain_record(old), plain_record(after)))
    tries.append(lambda: fresh(plain_record(after)))

    def right(made: str) -> bool:
        found = _robot_in(made)
        return found is not None and found[1] == after

    return ends(_first_right(tries, right))


def new_run_text(run: Run, field_file: str, robot_file: str) -> str:
    """The text of a new file for a run; the paths of its field and robot are seen from its folder.

    Raises ValueError if a value has no form in a file.
    """
    return fresh(plain_record(run, {"field": field_file, "robot": robot_file}))


def new_field_text(field: Field) -> str:
    """The text of a new file for a field. Raises ValueError if a value has no form in a file: a height from 5 mm up
    without an end."""
    return fresh(plain_record(field), apart=True)


def _changed_keys(text: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    """The second way: whole values of the file's own keys set by ruamel.yaml."""
    words = [word for word in {**old, **new} if old.get(word) != new.get(word)]
    return changed(text, {(word,): new.get(word) for word in words})


def _first_right(tries: Iterable[Callable[[], str]], right: Callable[[str], bool]) -> str:
    reason = tr("it could not be read again")
    for attempt in tries:
        try:
            made = attempt()
        except CannotKeepError:
            continue
        except ValueError as problem:
            reason = str(problem)
            continue
        if right(made):
            return made
    raise SaveError(tr("nothing was written: {reason}", reason=reason))


@dataclass(frozen=True)
class _RunFile:
    """A run's text read with a field and a robot that are known already: the run, and the paths that it names."""

    document: nodes.Document
    run: Run
    files: dict[str, str]


def run_in(text: str, path: Path, robots: Mapping[Path, Robot], field: Field) -> tuple[Run, Path] | None:
    """The run that a text for a file at ``path`` holds, on a field, and the file of its robot; None if it holds none or
    names a robot that is not among those known by their files."""
    document = _document(plain_text(text)[0])
    if document is None:
        return None
    found: dict[str, Path] = {}

    def load(file: str, node: nodes.Node, record: type[Checked]) -> Any:
        if record is Field:
            return field
        found["robot"] = next((each for each in robots if each.resolve() == (path.parent / file).resolve()), path)
        return robots.get(found["robot"], BAD)

    reader = Reader(document)
    run = reader.run(load)
    return None if run is BAD or reader.problems else (run, found["robot"])


def named_files(text: str, like: Run) -> dict[str, str]:
    """The paths of field and robot as a run's text names them; empty if it holds no run."""
    found = _run_in(plain_text(text)[0], like)
    return {} if found is None else found.files


def holds(text: str, run: Run) -> bool:
    """Whether a text is a run's, and that one."""
    found = _run_in(plain_text(text)[0], run)
    return found is not None and found.run == run


def robot_in(text: str) -> Robot | None:
    """The robot that a text holds; None if it holds none."""
    found = _robot_in(plain_text(text)[0])
    return None if found is None else found[1]


def field_in(text: str) -> Field | None:
    """The field that a text holds; None if it holds none."""
    found = _field_in(plain_text(text)[0])
    return None if found is None else found[1]


def _run_in(text: str, like: Run) -> _RunFile | None:
    """The run that a text holds, on the field and with the robot of another run; None if it holds none."""
    document = _document(text)
    if document is None:
        return None
    files: dict[str, str] = {}

    def load(file: str, node: nodes.Node, record: type[Checked]) -> Checked:
        files["field" if record is Field else "robot"] = file
        return like.field if record is Field else like.robot

    reader = Reader(document)
    run = reader.run(load)
    return None if run is BAD or reader.problems else _RunFile(document, run, files)


def _field_in(text: str) -> tuple[nodes.Document, Field] | None:
    document = _document(text)
    if document is None:
        return None
    reader = Reader(document)
    field = reader.field()
    return None if field is BAD or reader.problems else (document, field)


def _robot_in(text: str) -> tuple[nodes.Document, Robot] | None:
    document = _document(text)
    if document is None:
        return None
    reader = Reader(document)
    robot = reader.record(document.root, Robot)
    return None if robot is BAD or reader.problems else (document, robot)


def _document(text: str) -> nodes.Document | None:
    """A text as it would be read from a file, all traps looked for; None if it cannot be."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "text.yaml"
        path.write_bytes(text.encode())
        try:
            return nodes.read(path)
        except FileError:
            return None
