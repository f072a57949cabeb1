"""A field's file on the disk, which need not be there yet: read, saved with every comment kept, and the pictures beside
it.

Everything that is wrong with the file is raised as FileError, with its line; everything that keeps it from being
written as SaveError.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from os.path import relpath
from pathlib import Path
from typing import Any

from fieldsim.files import load_field
from fieldsim.files.writing import field_text, new_field_text, replace_file
from fieldsim.language import tr, tr_as
from fieldsim.model import Field
from fieldsim.model.errors import PlanError, SaveError
from fieldsim.window.history import History

__all__ = ["ENDINGS", "NEW_SIZE", "FieldFiles", "begins_field", "merged", "pictures_beside", "rebased", "relative"]

# A field that nobody has measured yet, mm: round numbers, invented.
NEW_SIZE = (2000.0, 1000.0)
# Endings of pictures that can be laid under a field.
ENDINGS = (".png", ".jpg", ".jpeg")


def begins_field(path: Path) -> bool:
    """Whether a name that is no file yet says that a field is to be drawn: it calls itself one, or is to lie in a
    folder of fields. Any other name is more likely a run's that is typed wrongly."""
    if path.suffix.lower() not in (".yaml", ".yml"):
        return False
    words = ("field", "board", tr_as("in the name of a file", "field"))
    return path.absolute().parent.name == "fields" or any(word.casefold() in path.stem.casefold() for word in words)


@dataclass
class FieldFiles:
    """A field's file as it was read or last saved; ``text`` is None while there is no file."""

    path: Path
    text: str | None
    field: Field
    _kept: bool = False
    """Whether a copy of the file as it was has been kept already."""

    @classmethod
    def read(cls, path: Path) -> FieldFiles:
        """The field's file, or an empty field for one that is not there. Raises FileError."""
        if not path.exists():
            return cls(path, None, empty_field(path))
        field = load_field(path)
        with path.open(encoding="utf-8", newline="") as file:
            return cls(path, file.read(), field)

    def again(self) -> FieldFiles:
        """The same file read anew. Raises FileError."""
        fresh = FieldFiles.read(self.path)
        fresh._kept = self._kept
        return fresh

    def text_of(self, field: Field) -> str:
        """What the file is to say. Raises SaveError."""
        if self.text is not None:
            return field_text(self.text, self.field, field)
        try:
            return new_field_text(field)
        except ValueError as problem:
            raise SaveError(tr("nothing was written: {reason}", reason=str(problem))) from None

    def keep_copy(self) -> None:
        """Keep a copy of the file once more when it is written the next time."""
        self._kept = False

    def save(self, field: Field) -> bool:
        """Write the file if it would say something else; whether it was. The first time a copy of it as it was is kept.
        Raises SaveError."""
        text = self.text_of(field)
        written = text != self.text
        if written:
            replace_file(self.path, text, backup=not self._kept and self.text is not None)
            # A file that was made here has nothing older that could be lost.
            self._kept = True
        self.text, self.field = text, field
        return written


def empty_field(path: Path) -> Field:
    """A field with nothing on it, named after its file."""
    words = " ".join(path.stem.replace("-", " ").replace("_", " ").split())
    try:
        return Field(words[:1].upper() + words[1:], NEW_SIZE)
    except PlanError:
        return Field("New field", NEW_SIZE)


def pictures_beside(path: Path) -> tuple[str, ...]:
    """Pictures in a file's folder, by name."""
    try:
        return tuple(sorted(each.name for each in path.parent.iterdir() if each.suffix.lower() in ENDINGS))
    except OSError:
        return ()


def relative(picture: Path, path: Path) -> str:
    """How a field's file at ``path`` names a picture: seen from its folder, or in full on another drive."""
    try:
        return Path(relpath(picture, path.parent)).as_posix()
    except ValueError:
        return picture.resolve().as_posix()


# --- files changed elsewhere -------------------------------------------------------------------------------------

_LISTS = ("obstacles", "start_areas", "jigs", "lines", "targets")


def merged(base: Field, here: Field, there: Field) -> Field | None:
    """What two people made of the same field: what was changed here stays, all else is as it is there.

    Things are known by their names. None if the two do not fit together: a thing may lie outside a smaller field.
    """
    values: dict[str, Any] = {
        key: getattr(here if getattr(here, key) != getattr(base, key) else there, key)
        for key in ("name", "size", "walls", "picture")
    }
    for key in _LISTS:
        was, mine, theirs = ({thing.name: thing for thing in getattr(field, key)} for field in (base, here, there))
        found = {}
        for name in dict.fromkeys([*theirs, *mine]):
            kept = mine.get(name) if mine.get(name) != was.get(name) else theirs.get(name)
            if kept is not None:
                found[name] = kept
        if not any(mine.get(name) != thing for name, thing in found.items()):
            # Nothing new from there: the order is the one here.
            found = {name: found[name] for name in mine if name in found}
        values[key] = tuple(found.values())
    try:
        return replace(here, **values)
    except PlanError:
        return None


def rebased(history: History[Field], base: Field, there: Field) -> History[Field] | None:
    """The same steps upon a file that somebody else has changed. None if the present state does not fit it; steps that
    do not are left out."""
    steps: list[Any] = []
    at = 0
    for n, step in enumerate(history.steps):
        state = merged(base, step.state, there)
        if state is None and n == history.at:
            return None
        if state is not None:
            at = len(steps) if n <= history.at else at
            steps.append(replace(step, state=state))
    return replace(history, steps=tuple(steps), at=at, kept=there, drag=None)
