"""Changing values in a file that people wrote: comments, order and everything else stay.

The only module that knows ruamel.yaml, which keeps what PyYAML throws away.
"""

from __future__ import annotations

import codecs
import io
import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.representer import RoundTripRepresenter

from fieldsim.files import nodes
from fieldsim.files.keeping import CannotKeepError, fresh, kept, number_text, plain_record
from fieldsim.files.reading import BAD, Reader
from fieldsim.language import tr
from fieldsim.model import Field, Robot, Run
from fieldsim.model.bounds import Checked
from fieldsim.model.errors import FileError, SaveError, shown

__all__ = [
    "changed",
    "field_text",
    "new_field_text",
    "new_run_text",
    "replace_file",
    "rewrite",
    "robot_text",
    "run_text",
]

Place = tuple[str | int, ...]
"""Leads to a value by keys and by numbers of a list's items, from 0."""

_BYTE_ORDER_MARK = "\ufeff"


class _Numbers(RoundTripRepresenter):
    """Numbers as people write them: 220 and 0.00001, which YAML 1.1 would not know as a number from 1e-05."""

    def plain_number(self, value: float) -> ScalarNode:
        text = number_text(value)
        kind = "float" if "." in text else "int"
        node: ScalarNode = self.represent_scalar(f"tag:yaml.org,2002:{kind}", text)
        return node


_Numbers.add_representer(float, _Numbers.plain_number)


def changed(text: str, values: Mapping[Place, Any]) -> str:
    """A file's text with values set at paths of keys and numbers of items (from 0).

    A value is a number, a text, a list or a mapping of them; None takes the key or the item away. Keys that are not
    there are added at the end of their mapping. The file must be one that fieldsim has read without a mistake. Raises
    ValueError if a path leads through something that has no such place.
    """
    yaml = YAML()
    yaml.Representer = _Numbers
    yaml.preserve_quotes = True
    yaml.width = 100_000
    yaml.indent(mapping=2, sequence=4, offset=2)
    try:
        root = yaml.load(text)
    except YAMLError as problem:
        raise ValueError(f"the file cannot be read: {problem}") from None
    for path, value in values.items():
        at = root
        for key in path[:-1]:
            _check_place(at, key)
            if isinstance(at, CommentedMap) and at.get(key) is None:
                at[key] = CommentedMap()
            at = at[key]
        last = path[-1]
        _check_place(at, last)
        now = at.get(last) if isinstance(at, CommentedMap) else at[last]
        if value is None:
            if now is not None:
                del at[last]
        # A number that is the same is left as it was written.
        elif not (isinstance(now, int | float) and now == value):
            nested = isinstance(value, Mapping) and any(isinstance(each, Mapping) for each in value.values())
            at[last] = _made(value, block=nested)
    out = io.StringIO()
    yaml.dump(root, out)
    return out.getvalue()


def _check_place(at: object, key: str | int) -> None:
    if isinstance(key, int):
        if not isinstance(at, CommentedSeq):
            raise ValueError(f"number {key} is in something that is no list")
        if not 0 <= key < len(at):
            raise ValueError(f"number {key} is not in a list of {len(at)}")
    elif not isinstance(at, CommentedMap):
        raise ValueError(f"'{key}' is in something that has no keys")


def _made(value: Any, block: bool = False) -> Any:
    """A list or mapping as ruamel.yaml writes it: in one line, but for a list of mappings and (``block``) its items."""
    if isinstance(value, Mapping):
        made = CommentedMap((key, _made(each)) for key, each in value.items())
        if not block:
            made.fa.set_flow_style()
        return made
    if isinstance(value, list | tuple):
        maps = bool(value) and all(isinstance(each, Mapping) for each in value)
        items = CommentedSeq(_made(each, block=maps) for each in value)
        if not maps:
            items.fa.set_flow_style()
        return items
    return value


# --- runs and fields -----------------------------------------------------------------------------------------------


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
    plain, ends = _plain(text)
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
    plain, ends = _plain(text)
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
    plain, ends = _plain(text)
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


def _plain(text: str) -> tuple[str, Callable[[str], str]]:
    """A text with plain line ends and no byte-order mark, and what gives a text these again."""
    mark = _BYTE_ORDER_MARK if text.startswith(_BYTE_ORDER_MARK) else ""
    dos = "\r\n" in text

    def ends(made: str) -> str:
        return mark + (made.replace("\n", "\r\n") if dos else made)

    return text.removeprefix(_BYTE_ORDER_MARK).replace("\r\n", "\n"), ends


@dataclass(frozen=True)
class _RunFile:
    """A run's text read with a field and a robot that are known already: the run, and the paths that it names."""

    document: nodes.Document
    run: Run
    files: dict[str, str]


def run_in(text: str, path: Path, robots: Mapping[Path, Robot], field: Field) -> tuple[Run, Path] | None:
    """The run that a text for a file at ``path`` holds, on a field, and the file of its robot; None if it holds none or
    names a robot that is not among those known by their files."""
    document = _document(_plain(text)[0])
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


def robot_in(text: str) -> Robot | None:
    """The robot that a text holds; None if it holds none."""
    found = _robot_in(_plain(text)[0])
    return None if found is None else found[1]


def field_in(text: str) -> Field | None:
    """The field that a text holds; None if it holds none."""
    found = _field_in(_plain(text)[0])
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


# --- files ---------------------------------------------------------------------------------------------------------


def rewrite(path: Path, values: Mapping[Place, Any]) -> Path:
    """Set values in a file: a copy of the old one is kept beside it, and the new one is whole or not there at all.

    The copy's path (see `replace_file`). Raises SaveError if the place cannot be written to.
    """
    try:
        with path.open(encoding="utf-8", newline="") as file:
            before, _ = _plain(file.read())
    except OSError as problem:
        raise _unwritten(path, problem) from None
    copy = replace_file(path, changed(before, values))
    assert copy is not None
    return copy


def replace_file(path: Path, text: str, backup: bool = True) -> Path | None:
    """Put a text into a file that is whole or not there at all: written beside it, then moved into its place.

    A file that is there already keeps its line ends, byte-order mark and rights, and a copy of it is kept, whose path
    is returned: the first one as FILE.bak, which is never replaced, so that what a person wrote is not lost to what a
    program wrote over it; every later one as FILE.bak2, as it was before the last time; without ``backup`` no copy is
    made, so that a program that saves often can keep the file as it was before the first time. None if there is no
    copy. Raises SaveError if the place cannot be written to; the old file is then untouched.
    """
    text, _ = _plain(text)
    copy = None
    try:
        # A link stays a link: what it leads to is replaced.
        target = path.resolve()
        there = target.read_bytes() if target.exists() else None
        mark = codecs.BOM_UTF8 if there is not None and there.startswith(codecs.BOM_UTF8) else b""
        if there is not None and b"\r\n" in there:
            text = text.replace("\n", "\r\n")
        if there is not None and backup:
            copy = _backup(path)
            shutil.copy2(target, copy)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.stem}-", suffix=target.suffix)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(mark + text.encode())
                file.flush()
                os.fsync(file.fileno())
            if there is not None:
                shutil.copymode(target, name)
            else:
                # Temporary files are for this user alone; give it the rights a new file would have.
                umask = os.umask(0)
                os.umask(umask)
                os.chmod(name, 0o666 & ~umask)
            os.replace(name, target)
        finally:
            Path(name).unlink(missing_ok=True)
    except (OSError, RuntimeError) as problem:
        raise _unwritten(path, problem) from None
    return copy


def _backup(path: Path) -> Path:
    first = path.with_name(f"{path.name}.bak")
    return path.with_name(f"{path.name}.bak2") if first.exists() else first


def _unwritten(path: Path, problem: Exception) -> SaveError:
    reason = getattr(problem, "strerror", None) or tr("it leads nowhere")
    return SaveError(tr("{file} could not be written: {reason}", file=shown(str(path), 400), reason=tr(reason)))
