"""From the bytes of a CSV file to rows of cells that know their place.

The csv module cuts rows into cells. It does not say where a cell stood, so a row's own text is gone through once more
for the places. Its Sniffer guesses a dialect from letters that occur evenly, and takes a blank for the separator of a
sheet with notes: here the separator is the one with which the header names the most columns (see `rows`). Encodings
are the three that spreadsheets save in; a detector of any encoding would only add wrong guesses for short files.
"""

from __future__ import annotations

import csv
import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

from fieldsim.files.nodes import MOST_BYTES, neighbour
from fieldsim.files.noted import note
from fieldsim.language import tr, tr_later
from fieldsim.model.errors import FileError, Problem, shown

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}


def file_bytes(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise IsADirectoryError
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise refused(name, tr("this is a folder, not a file")) from None
    except FileNotFoundError:
        raise refused(name, tr("there is no such file"), neighbour(path, _ENDINGS)) from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or tr_later("its name cannot be a file's name")
        raise refused(name, tr("the file cannot be read: {reason}", reason=tr(reason))) from None
    if len(data) > MOST_BYTES:
        text = tr("the file is larger than {size} kB, too large for a list of tests or runs", size=MOST_BYTES // 1000)
        raise refused(name, text, tr("is it the right file? Empty rows and columns may be what fills it"))
    note(path, data)
    return data


_ENDINGS = (".csv", ".tsv", ".txt")


def refused(name: str, message: str, hint: str = "", line: int = 1, column: int = 1) -> FileError:
    return FileError([Problem(name, line, column, message, hint=hint)])


_SAVE_AS = tr_later("save it as CSV, in UTF-8 if there is a choice")


def text_lines(data: bytes, name: str) -> tuple[str, ...]:
    """The lines of a file in whatever encoding and with whatever line ends a spreadsheet saves."""
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise refused(
            name,
            tr("this is a spreadsheet's own file, not CSV"),
            tr("open it in the spreadsheet and save it as CSV, in UTF-8 if there is a choice"),
        )
    if data.startswith(b"%PDF"):
        raise refused(
            name,
            tr("this is a PDF, not CSV"),
            tr("open the spreadsheet it was made from and save it as CSV, in UTF-8 if there is a choice"),
        )
    text = _decoded(data, name).lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise refused(name, tr("the file is empty"), tr("its first line must name the columns"))
    lines = text.split("\n")
    for number, line in enumerate(lines, start=1):
        for column, character in enumerate(line, start=1):
            if ord(character) < 32 and character != "\t":
                message = tr(
                    "the file has a character (number {number}) that does not belong in a text", number=ord(character)
                )
                raise refused(name, message, tr(_SAVE_AS), number, column)
    return tuple(lines)


def _decoded(data: bytes, name: str) -> str:
    """UTF-8; UTF-16 if the file says so or every other byte is 0; else Windows-1252."""
    odd, even = data[1::2].count(0), data[::2].count(0)
    sixteen = ""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        sixteen = "utf-16"
    elif max(odd, even) > len(data) // 8:
        sixteen = "utf-16-le" if odd > even else "utf-16-be"
    if sixteen:
        try:
            return data.decode(sixteen)
        except UnicodeDecodeError:
            raise refused(name, tr("the file is no text"), tr(_SAVE_AS)) from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as problem:
        before = data[: problem.start].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        line, column = before.count(b"\n") + 1, len(before) - before.rfind(b"\n")
        raise refused(name, tr("the file is no text from here on"), tr(_SAVE_AS), line, column) from None


@dataclass(frozen=True)
class Cell:
    """A cell's text without blanks at its ends, and its place, counted from 1."""

    text: str
    line: int
    column: int
    span: int = 1


@dataclass(frozen=True)
class Trouble:
    """Quotes that do not fit, at a place counted from 1."""

    line: int
    column: int
    message: str
    hint: str


@dataclass(frozen=True)
class Row:
    line: int
    cells: tuple[Cell, ...]
    trouble: Trouble | None = None

    @property
    def start(self) -> Cell:
        """Its first cell with something in it."""
        return next((cell for cell in self.cells if cell.text), self.cells[0])


# What a spreadsheet writes where a formula failed also begins with #.
COMMENT = re.compile(r" *#(?!(?:REF!|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|N/A)(?:[,;\t]|$))")


class _Feed:
    """Hands lines to the csv module: leaves out comments between rows, and knows which lines a row has taken."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = lines
        self.next = 0
        self.first = 0
        self.between = True

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        while self.next < len(self.lines):
            line = self.lines[self.next]
            self.next += 1
            if self.between and COMMENT.match(line):
                continue
            if self.between:
                self.first = self.next - 1
            self.between = False
            return line + "\n"
        raise StopIteration


def rows_of(lines: Sequence[str], separator: str) -> Iterator[Row]:
    """Rows that are neither empty nor comments. A row whose quotes do not fit has a trouble."""
    feed = _Feed(lines)
    reader = csv.reader(feed, delimiter=separator, skipinitialspace=True)
    while True:
        feed.between = True
        try:
            values = next(reader)
        except StopIteration:
            return
        except csv.Error as problem:
            trouble = Trouble(
                feed.first + 1, 1, tr("the row cannot be read: {problem}", problem=shown(str(problem))), ""
            )
            yield Row(feed.first + 1, (Cell("", feed.first + 1, 1),), trouble)
            continue
        if not any(values) and not any('"' in line for line in lines[feed.first : feed.next]):
            continue
        places, found = _places(lines[feed.first : feed.next], separator, feed.first + 1)
        if found is None and len(places) != len(values):
            found = Trouble(feed.first + 1, 1, tr("the row cannot be cut into cells"), tr("look at its quotes"))
        if found:
            yield Row(feed.first + 1, (Cell("", feed.first + 1, 1),), found)
            continue
        pairs = zip(values, places, strict=True)
        cells = tuple(Cell(value.strip(), line, column, span) for value, (line, column, span) in pairs)
        texts = [cell.text for cell in cells if cell.text]
        # A spreadsheet puts a comment in quotes if there is a comma or a quote in it.
        if texts and not (len(texts) == 1 and COMMENT.match(texts[0])):
            yield Row(feed.first + 1, cells)


_QUOTED = re.compile(r' *("[^"]*(?:""[^"]*)*")')


def _places(lines: Sequence[str], separator: str, first: int) -> tuple[list[tuple[int, int, int]], Trouble | None]:
    """Line, column and length of each cell of a row, as the csv module cuts it; or what is wrong with its quotes."""
    text = "\n".join(lines)
    starts = [0, *accumulate(len(line) + 1 for line in lines)][:-1]
    plain_cell = re.compile(f"[^{separator}\n]*")

    def place(at: int) -> tuple[int, int]:
        number = bisect_right(starts, at) - 1
        return first + number, at - starts[number] + 1

    found = []
    at = 0
    while True:
        quoted = _QUOTED.match(text, at)
        rest = plain_cell.match(text, quoted.end() if quoted else at)
        assert rest is not None
        if quoted:
            begin = quoted.start(1)
            if rest.group().strip():
                line, _ = place(begin)
                after, column = place(rest.start() + len(rest.group()) - len(rest.group().lstrip()))
                text = tr("there is something after a quoted cell's end")
                if line != after:
                    text = tr(
                        "there is something after a quoted cell's end, which was opened on line {line}", line=line
                    )
                hint = tr('write "" for a quote inside a quoted cell, or leave the quotes out')
                return [], Trouble(after, column, text, hint)
            line, column = place(begin)
            span = min(quoted.end() - begin, len(lines[line - first]) - column + 1)
        else:
            written = rest.group().strip()
            begin = rest.start() + len(rest.group()) - len(rest.group().lstrip()) if written else rest.start()
            if written.startswith('"'):
                hint = tr('put one where the cell ends, or write "" for a quote inside a quoted cell')
                return [], Trouble(*place(begin), tr("a quote is opened here and never closed"), hint)
            span = max(1, len(written))
        found.append((*place(begin), span))
        at = rest.end()
        if text[at : at + 1] != separator:
            return found, None
        at += 1
