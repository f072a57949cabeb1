"""Which file was meant by a name that is none, and whether a file looks like one of ours at all."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from os.path import abspath, relpath
from pathlib import Path

from fieldsim.files.forms import KINDS, keys_of
from fieldsim.files.nodes import ENDINGS, MOST_BYTES, is_text, read
from fieldsim.model.bounds import Checked, nearest
from fieldsim.model.errors import FileError, Problem

# A key at the beginning of a line, as a file of ours has them.
_KEY = re.compile(r"^([^\W\d_][\w ]*?)[ \t]*:(?=\s|$)", re.MULTILINE)

# Of one kind of file, so many keys say enough, if the one that names it is missing.
_KEYS_ENOUGH = 2

# A season has some dozens of files; more than this are not looked into for a name.
_MOST_FILES = 200


def looks_like_ours(path: Path) -> bool:
    """Whether a file has the key that every field, robot, run or match begins with, or one that is much like it, or
    several others of theirs. What stands in any other file is nobody's business."""
    keys = _KEY.findall(_start_of(path))
    if any(key in KINDS for key in keys):
        return True
    if any(len(set(keys) & set(keys_of(record))) >= _KEYS_ENOUGH for record in KINDS.values()):
        return True
    return bool(keys) and nearest(keys[0], list(KINDS)) is not None


def called(record: type[Checked], name: str, folder: Path) -> str | None:
    """The file, seen from a folder, of the field, robot or run that has this name; whatever its capitals. It is looked
    for in that folder, beside it and in the folder above, one folder deep each; None if none or several have it."""
    word = next(word for word, kind in KINDS.items() if kind is record)
    found = {}
    for path in _near(folder):
        if name.casefold() not in _start_of(path).casefold():
            continue
        with suppress(FileError):
            keys = {key.value: value for key, value in read(path).root.value}
            # A run says 'field:' too.
            ours = next((each for each in KINDS if each in keys), None) == word
            if ours and is_text(keys[word]) and keys[word].value.casefold() == name.casefold():
                found[abspath(path)] = path
    return Path(relpath(next(iter(found.values())), folder)).as_posix() if len(found) == 1 else None


def _near(folder: Path) -> Iterator[Path]:
    seen: set[str] = set()
    for near in (folder, *(Path(abspath(folder)).parents[:2])):
        for each in (near, *(path for path in _listed(near) if path.is_dir())):
            if abspath(each) in seen:
                continue
            seen.add(abspath(each))
            for path in _listed(each):
                if path.suffix.casefold() in ENDINGS and path.is_file():
                    yield path
                    seen.add(abspath(path))
                if len(seen) > _MOST_FILES:
                    return


def _listed(folder: Path) -> list[Path]:
    try:
        return sorted(folder.iterdir())
    except OSError:
        return []


def _start_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES).decode("utf-8", "replace")
    except (OSError, ValueError):
        return ""


def distinct(problems: Iterable[Problem]) -> list[Problem]:
    """Each mistake once, in the order found, by whatever path its file was named."""
    found: dict[tuple[str, int, int, str], Problem] = {}
    for problem in problems:
        found.setdefault((abspath(problem.file), problem.line, problem.column, problem.message), problem)
    return list(found.values())
