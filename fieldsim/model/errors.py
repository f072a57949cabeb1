"""What can go wrong, and where: the only exceptions a user of fieldsim is meant to meet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from unicodedata import category, east_asian_width

from fieldsim.language import tr, tr_later

__all__ = ["Complaint", "FieldsimError", "FileError", "PlanError", "Problem", "SaveError", "reason", "shown"]

# Room for the quoted line of a file. Long enough for any line a person writes, short enough for a narrow terminal.
EXCERPT = 100

# How much of a value is repeated in a message.
QUOTED = 60


# What systems say of files. Any other reason stands as the system says it.
REASONS = (
    tr_later("File name too long"),
    tr_later("Is a directory"),
    tr_later("No space left on device"),
    tr_later("No such file or directory"),
    tr_later("Not a directory"),
    tr_later("Permission denied"),
    tr_later("Read-only file system"),
)


def reason(problem: OSError) -> str:
    """Why a file could not be read or written."""
    return tr(problem.strerror) if problem.strerror else str(problem)


def shown(text: str, most: int = QUOTED) -> str:
    """A text from a file, made safe for a terminal: one line, no control or direction characters, not too long."""
    if len(text) > most:
        text = text[: most - 1] + "…"
    return "".join(_visible(character) for character in text)


def _visible(character: str) -> str:
    if category(character) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}:
        return "\N{REPLACEMENT CHARACTER}"
    return character


def _columns(text: str) -> int:
    """Terminal columns a text takes: East Asian wide characters take two, combining marks none."""
    return sum(
        0 if category(character) in {"Mn", "Me"} else 2 if east_asian_width(character) in "WF" else 1
        for character in text
    )


class FieldsimError(Exception):
    """Anything fieldsim refuses; its text is meant for the person who wrote the plan."""


@dataclass(frozen=True)
class Complaint:
    """One thing that is wrong with a value of the model.

    ``path`` leads to it by attribute names and item numbers (from 0); ``message`` goes on after the name of the
    thing, such as ``is 0 mm; it must be more than 0``; ``hint`` is a guess at what was meant, or empty.
    """

    path: tuple[str | int, ...]
    message: str
    hint: str = ""


class PlanError(FieldsimError, ValueError):
    """A value of the model cannot be; raised when one is made or changed with ``replace``.

    Attributes: ``complaints``, a tuple of `Complaint`, and ``lines``, the same as readable texts.
    """

    def __init__(self, lines: Iterable[str], complaints: Iterable[Complaint] = ()) -> None:
        self.lines = tuple(lines)
        self.complaints = tuple(complaints)
        super().__init__(self.lines, self.complaints)

    def __str__(self) -> str:
        return "\n".join(self.lines)


@dataclass(frozen=True)
class Problem:
    """One mistake in a file, with its place.

    ``line`` and ``column`` count from 1; a problem of the file as a whole is at 1:1 and has no ``source_line``.
    ``span`` is the number of characters to underline. ``str()`` gives the text to print.
    """

    file: str
    line: int
    column: int
    message: str
    source_line: str = ""
    hint: str = ""
    span: int = 1

    @property
    def place(self) -> str:
        return f"{shown(self.file, 4096)}:{self.line}:{self.column}"

    def __str__(self) -> str:
        lines = [f"{self.place}: {self.message}"]
        if self.source_line:
            text, before, under = self._excerpt()
            number = str(self.line)
            lines.append(f"  {number} | {text}".rstrip())
            lines.append(f"  {' ' * len(number)} | {' ' * before}{'^' * under}")
        lines.extend(f"  {line}" for line in self.hint.splitlines())
        return "\n".join(lines)

    def _excerpt(self) -> tuple[str, int, int]:
        """The part of the line to print, columns before the caret, and carets."""
        start = max(0, min(self.column - 1 - EXCERPT // 2, len(self.source_line) - EXCERPT))
        stop = start + EXCERPT
        # A tab is as wide as the terminal likes; one blank keeps the caret in its place.
        part = "".join(" " if c == "\t" else _visible(c) for c in self.source_line[start:stop])
        if start:
            part = "…" + part[1:]
        if stop < len(self.source_line):
            part = part[:-1] + "…"
        at = min(self.column - 1 - start, len(part))
        under = _columns(part[at : at + max(1, self.span)])
        return part, _columns(part[:at]), max(1, under)


class FileError(FieldsimError, ValueError):
    """One or more files are wrong. ``problems`` holds every `Problem` found, in order of place."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class SaveError(FieldsimError, OSError):
    """A file could not be written, or would have replaced one that is there; nothing was changed."""
