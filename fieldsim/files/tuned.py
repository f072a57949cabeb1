"""A run's file with better numbers in it: comments are kept, and each change says beside it what stood there."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from fieldsim.files import nodes
from fieldsim.files.saving import plain_text, replace_file
from fieldsim.files.writing import holds, run_text
from fieldsim.language import tr
from fieldsim.model import Run
from fieldsim.model.errors import FileError
from fieldsim.model.units import plain

__all__ = ["Remarked", "tuned_text", "write_beside", "write_over"]

Remarked = tuple[int, str, float | None]
"""The index of a segment in the run as it is now (-1 for its start), the key that was changed ('put in' for a segment
that is new), and what stood there."""


def tuned_text(
    text: str,
    before: Run,
    after: Run,
    origins: Sequence[int | None],
    changes: Sequence[Remarked],
    field_file: str | None = None,
    robot_file: str | None = None,
) -> str:
    """The text of a run's file with ``after`` in it and a remark at each change. ``origins`` as `run_text` has it;
    the files are paths seen from another folder. Raises SaveError."""
    made = run_text(text, before, after, robot_file, field_file, origins)
    plain_made, ends = plain_text(made)
    remarked = ends(_with_remarks(plain_made, changes))
    # A remark must change nothing: where it would, the text goes without.
    return remarked if holds(remarked, after) else made


def _with_remarks(text: str, changes: Sequence[Remarked]) -> str:
    lines = text.splitlines()
    document = _read(text)
    if document is None:
        return text
    words: dict[int, list[str]] = {}
    for index, key, was in changes:
        line = _line_of(document, index, key)
        if line is None:
            continue
        if key == "put in":
            told = tr("put in by tune")
        elif was is None:
            told = tr("set by tune")
        else:
            told = tr("was {value} before tune", value=plain(was))
        words.setdefault(line, []).append(told)
    for number, remarks in words.items():
        remark, written = "; ".join(remarks), lines[number]
        lines[number] = f"{written}; {remark}" if " #" in written else f"{written}  # {remark}"
    return "\n".join(lines) + ("\n" if text.endswith("\n") else "")


def _read(text: str) -> nodes.Document | None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "text.yaml"
        path.write_text(text, encoding="utf-8")
        try:
            return nodes.read(path)
        except FileError:
            return None


def _line_of(document: nodes.Document, index: int, key: str) -> int | None:
    """The line on which a key of a segment stands; its first line if it has no line of its own."""
    found = _value(document.root, "start" if index < 0 else "segments")
    if found is None:
        return None
    node: nodes.Node = found
    if index >= 0:
        if not isinstance(node, nodes.Sequence) or index >= len(node.value):
            return None
        node = node.value[index]
    if isinstance(node, nodes.Mapping):
        wanted = {"distance": "straight", "angle": "turn"}.get(key, key)
        for name, value in node.value:
            if name.value in (wanted, "arc") and (name.value == wanted or key == "angle"):
                return int(value.start_mark.line)
    return int(node.start_mark.line)


def _value(root: nodes.Mapping, key: str) -> nodes.Node | None:
    return next((value for name, value in root.value if name.value == key), None)


def write_over(path: Path, text: str) -> Path:
    """Put a text into the run's own file; where the old one is kept. Raises SaveError."""
    copy = replace_file(path, text)
    assert copy is not None
    return copy


def write_beside(folder: Path, name: str, text: str) -> Path:
    """A new file of a run in a folder; its path. One that is there is kept as a copy. Raises SaveError."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    replace_file(path, text)
    return path
