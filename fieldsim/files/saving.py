"""A text put into a file that is whole or not there at all, with a copy of the old one kept."""

from __future__ import annotations

import codecs
import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from fieldsim.files.changing import Place, changed
from fieldsim.language import tr
from fieldsim.model.errors import SaveError, shown

_BYTE_ORDER_MARK = "\ufeff"


def rewrite(path: Path, values: Mapping[Place, Any]) -> Path:
    """Set values in a file: a copy of the old one is kept beside it, and the new one is whole or not there at all.

    The copy's path (see `replace_file`). Raises SaveError if the place cannot be written to.
    """
    try:
        with path.open(encoding="utf-8", newline="") as file:
            before, _ = plain_text(file.read())
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
    text, _ = plain_text(text)
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


def plain_text(text: str) -> tuple[str, Callable[[str], str]]:
    """A text with plain line ends and no byte-order mark, and what gives a text these again."""
    mark = _BYTE_ORDER_MARK if text.startswith(_BYTE_ORDER_MARK) else ""
    dos = "\r\n" in text

    def ends(made: str) -> str:
        return mark + (made.replace("\n", "\r\n") if dos else made)

    return text.removeprefix(_BYTE_ORDER_MARK).replace("\r\n", "\n"), ends
