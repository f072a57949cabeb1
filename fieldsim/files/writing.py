"""Changing values in a file that people wrote: comments, order and everything else stay.

The only module that knows ruamel.yaml, which keeps what PyYAML throws away.
"""

from __future__ import annotations

import io
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap
from ruamel.yaml.error import YAMLError

from fieldsim.errors import SaveError, shown


def changed(text: str, values: Mapping[tuple[str, ...], float | str]) -> str:
    """A file's text with values set at paths of keys; keys that are not there are added at the end of their mapping.

    The file must be one that fieldsim has read without a mistake. Raises ValueError if a path leads through something
    that is no mapping.
    """
    yaml = YAML()
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
            if not isinstance(at, CommentedMap):
                raise ValueError(f"'{key}' is in something that has no keys")
            if at.get(key) is None:
                at[key] = CommentedMap()
            at = at[key]
        if not isinstance(at, CommentedMap):
            raise ValueError(f"'{path[-1]}' is in something that has no keys")
        # A number that is the same is left as it was written.
        if not (isinstance(at.get(path[-1]), int | float) and at[path[-1]] == value):
            at[path[-1]] = value
    out = io.StringIO()
    yaml.dump(root, out)
    return out.getvalue()


def rewrite(path: Path, values: Mapping[tuple[str, ...], float | str]) -> Path:
    """Set values in a file: a copy of the old one is kept beside it, and the new one is whole or not there at all.

    The copy's path, FILE.bak. Raises SaveError if the place cannot be written to.
    """
    backup = path.with_name(f"{path.name}.bak")
    try:
        # The same line ends and byte-order mark as before.
        with path.open(encoding="utf-8", newline="") as file:
            before = file.read()
        text = changed(before.removeprefix("\ufeff").replace("\r\n", "\n"), values)
        if "\r\n" in before:
            text = text.replace("\n", "\r\n")
        shutil.copy2(path, backup)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
                file.write(("\ufeff" if before.startswith("\ufeff") else "") + text)
                file.flush()
                os.fsync(file.fileno())
            shutil.copymode(path, name)
            os.replace(name, path)
        finally:
            Path(name).unlink(missing_ok=True)
    except OSError as problem:
        raise SaveError(f"{shown(str(path), 400)} could not be written: {problem.strerror}") from None
    return backup
