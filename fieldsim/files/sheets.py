"""What a team fills in with any spreadsheet: test sheets and logs, saved as CSV, with the place of every mistake.

The csv module cuts rows into cells. It does not say where a cell stood, so a row's own text is gone through once more
for the places. Spreadsheets write CSV in many ways: the separator, the encoding and the decimal mark are found out.
"""

from __future__ import annotations

import csv
import datetime
import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import accumulate
from pathlib import Path
from types import MappingProxyType
from typing import Any

from fieldsim.files.nodes import MOST_BYTES, neighbour
from fieldsim.language import in_digits, tr, tr_later, tr_many
from fieldsim.lettering import wrapped_lines
from fieldsim.model.bounds import Attribute, Checked, Choice, Kind, Maybe, Number, attributes, nearest, said_of
from fieldsim.model.errors import Complaint, FileError, PlanError, Problem, shown
from fieldsim.model.measured import (
    PROTRACTOR,
    TAPE,
    Count,
    Day,
    DropTest,
    Log,
    LogEntry,
    PlacingTest,
    Sheet,
    SquarePathTest,
    StraightTest,
    TurnTest,
)
from fieldsim.model.units import (
    ANGLE,
    DECIMAL,
    LENGTH,
    NUMBER,
    SPEED,
    TIME,
    TURN_SPEED,
    Unit,
    UnitError,
    plain,
    read_quantity,
)

__all__ = ["LogRows", "blank_log", "blank_sheet", "is_log", "load_log", "load_sheet"]

# More mistakes than anybody reads at once; the rest are most likely the same one again.
MOST_PROBLEMS = 100

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}

# How wide a list of columns may be in a message, in cells.
HINT_WIDTH = 96

BAD: Any = object()
"""Stands for a value that could not be read; what is wrong with it has been said."""


# --- which column belongs to what --------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Form:
    """How one kind of row is written: column -> attribute of the record."""

    words: str
    record: type[Checked]
    columns: Mapping[str, Attribute]


@dataclass(frozen=True)
class _Book:
    """A kind of file: its columns in the order of the blank file, and the forms of its rows. ``key`` is the column
    that says which form a row has; without one, there is only one form."""

    noun: str
    columns: tuple[str, ...]
    needed: tuple[str, ...]
    key: str
    forms: Mapping[str, _Form]

    def kind(self, column: str) -> Kind:
        """How to read a column of a row whose form is not known."""
        return next(form.columns[column].kind for form in self.forms.values() if column in form.columns)

    def headers(self) -> dict[str, tuple[str, str]]:
        """Every accepted header, squeezed: its column, and the unit of its bare numbers ('' for the column's own)."""
        found = {}
        for column in self.columns:
            kind = None if column == self.key else _bare(self.kind(column))
            own = column.rpartition(" ")[2]
            for word in _HEADER_UNITS.get(own, {}) if isinstance(kind, Number) else ():
                found[_squeezed(column.removesuffix(own) + word)] = (column, _HEADER_UNITS[own][word])
        # The plain names last: nothing takes the place of one.
        return found | {_squeezed(column): (column, "") for column in self.columns}


def _header_units(unit: Unit, more: Mapping[str, str]) -> dict[str, str]:
    return {word: word for word in unit.words} | dict(more)


_INCH = {"inch": "in", "inches": "in", '"': "in"}
# By the unit in a column's name: what may stand in its place, and the unit that is.
_HEADER_UNITS = {
    "mm": _header_units(LENGTH, _INCH),
    "mm/s": _header_units(SPEED, {f"{word}/s": "in/s" for word in _INCH}),
    "deg": _header_units(ANGLE, {}),
    "deg/s": _header_units(TURN_SPEED, {}),
}


def _form(words: str, record: type[Checked], *columns: tuple[str, str]) -> _Form:
    known = attributes(record)
    return _Form(words, record, MappingProxyType({column: known[name] for column, name in columns}))


_DATE, _NOTE, _TAPE = ("date", "date"), ("note", "note"), ("tape mm", "tape")
_PROTRACTOR = ("protractor deg", "protractor")
_SPEED, _TURN_SPEED = ("speed mm/s", "speed"), ("turn speed deg/s", "turn_speed")
_HEADING, _HEADING_FROM = ("heading deg", "heading"), ("heading from", "heading_from")

_SHEET = _Book(
    tr_later("test sheet"),
    (
        "date", "test", "heading from", "speed mm/s", "turn speed deg/s", "commanded mm", "commanded deg", "travel mm",
        "sideways mm", "heading deg", "angle deg", "near mm", "far mm", "side mm", "direction", "return x mm",
        "return y mm", "jig", "along mm", "across mm", "tape mm", "protractor deg", "result", "came off", "note",
    ),
    ("test",),
    "test",
    MappingProxyType({
        "straight": _form(
            tr_later("a straight test"), StraightTest, _DATE, _HEADING_FROM, _SPEED, ("commanded mm", "commanded"),
            ("travel mm", "travel"), ("sideways mm", "sideways"), _HEADING, _TAPE, _PROTRACTOR, _NOTE,
        ),
        "turn": _form(
            tr_later("a turn test"), TurnTest, _DATE, _HEADING_FROM, _TURN_SPEED, ("commanded deg", "commanded"),
            ("angle deg", "angle_read"), ("near mm", "near"), ("far mm", "far"), ("side mm", "side"), _TAPE,
            _PROTRACTOR, _NOTE,
        ),
        "square path": _form(
            tr_later("a square path test"), SquarePathTest, _DATE, _HEADING_FROM, _SPEED, _TURN_SPEED, _HEADING,
            ("side mm", "side"), ("direction", "direction"), ("return x mm", "return_x"), ("return y mm", "return_y"),
            _TAPE, _PROTRACTOR, _NOTE,
        ),
        "placing": _form(
            tr_later("a placing test"), PlacingTest, _DATE, _HEADING, ("jig", "jig"), ("along mm", "along"),
            ("across mm", "across"), _TAPE, _PROTRACTOR, _NOTE,
        ),
        "drop": _form(
            tr_later("a drop test"), DropTest, _DATE, _TAPE, ("result", "result"), ("came off", "came_off"), _NOTE
        ),
    }),
)  # fmt: skip

_LOG = _Book(
    tr_later("log"),
    ("date", "run", "result", "where", "segment", "target", "miss mm", "seconds s", "note"),
    ("run", "result"),
    "",
    MappingProxyType({
        "": _form(
            tr_later("a log"), LogEntry, _DATE, ("run", "run"), ("result", "result"), ("where", "where"),
            ("segment", "segment"), ("target", "target"), ("miss mm", "miss"), ("seconds s", "seconds"), _NOTE,
        ),
    }),
)  # fmt: skip


def load_sheet(path: str | Path) -> Sheet:
    """The test sheet in a CSV file. Raises FileError with every mistake."""
    reader = _load(Path(path), str(path), _SHEET)
    tests, steps = _with_steps(reader.records, reader.readings)
    tests, jigs = _with_one_spelling(tests)
    return Sheet(tuple(tests), (*steps, *jigs))


def load_log(path: str | Path) -> Log:
    """The log in a CSV file. Raises FileError with every mistake."""
    return Log(tuple(_load(Path(path), str(path), _LOG).records))


def is_log(path: str | Path) -> bool:
    """Whether a CSV file is a log rather than a test sheet, by its header. Raises FileError if it has none."""
    lines = _lines(_bytes(Path(path), str(path)), str(path))

    def names(book: _Book) -> int:
        reader = _Reader(book, str(path), lines)
        first = next(iter(reader._table()), None)
        return sum(_as_header(cell.text) in reader.known for cell in first.cells) if first else 0

    return names(_LOG) > names(_SHEET)


def _load(path: Path, name: str, book: _Book) -> _Reader:
    reader = _Reader(book, name, _lines(_bytes(path, name), name))
    with suppress(_EnoughError):
        reader.read()
    if reader.problems:
        raise FileError(sorted(reader.problems, key=lambda p: (p.line, p.column)))
    return reader


# --- from bytes to lines -----------------------------------------------------------------------------------------


def _bytes(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise IsADirectoryError
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise _refused(name, tr("this is a folder, not a file")) from None
    except FileNotFoundError:
        raise _refused(name, tr("there is no such file"), neighbour(path, _ENDINGS)) from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or tr_later("its name cannot be a file's name")
        raise _refused(name, tr("the file cannot be read: {reason}", reason=tr(reason))) from None
    if len(data) > MOST_BYTES:
        text = tr("the file is larger than {size} kB, too large for a list of tests or runs", size=MOST_BYTES // 1000)
        raise _refused(name, text, tr("is it the right file? Empty rows and columns may be what fills it"))
    return data


_ENDINGS = (".csv", ".tsv", ".txt")


def _refused(name: str, message: str, hint: str = "", line: int = 1, column: int = 1) -> FileError:
    return FileError([Problem(name, line, column, message, hint=hint)])


_SAVE_AS = tr_later("save it as CSV, in UTF-8 if there is a choice")


def _lines(data: bytes, name: str) -> tuple[str, ...]:
    """The lines of a file in whatever encoding and with whatever line ends a spreadsheet saves."""
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise _refused(
            name,
            tr("this is a spreadsheet's own file, not CSV"),
            tr("open it in the spreadsheet and save it as CSV, in UTF-8 if there is a choice"),
        )
    if data.startswith(b"%PDF"):
        raise _refused(
            name,
            tr("this is a PDF, not CSV"),
            tr("open the spreadsheet it was made from and save it as CSV, in UTF-8 if there is a choice"),
        )
    text = _decoded(data, name).lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise _refused(name, tr("the file is empty"), tr("its first line must name the columns"))
    lines = text.split("\n")
    for number, line in enumerate(lines, start=1):
        for column, character in enumerate(line, start=1):
            if ord(character) < 32 and character != "\t":
                message = tr(
                    "the file has a character (number {number}) that does not belong in a text", number=ord(character)
                )
                raise _refused(name, message, tr(_SAVE_AS), number, column)
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
            raise _refused(name, tr("the file is no text"), tr(_SAVE_AS)) from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as problem:
        before = data[: problem.start].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        line, column = before.count(b"\n") + 1, len(before) - before.rfind(b"\n")
        raise _refused(name, tr("the file is no text from here on"), tr(_SAVE_AS), line, column) from None


# --- from lines to cells -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Cell:
    """A cell's text without blanks at its ends, and its place, counted from 1."""

    text: str
    line: int
    column: int
    span: int = 1


@dataclass(frozen=True)
class _Trouble:
    """Quotes that do not fit, at a place counted from 1."""

    line: int
    column: int
    message: str
    hint: str


@dataclass(frozen=True)
class _Row:
    line: int
    cells: tuple[_Cell, ...]
    trouble: _Trouble | None = None

    @property
    def start(self) -> _Cell:
        """Its first cell with something in it."""
        return next((cell for cell in self.cells if cell.text), self.cells[0])


# What a spreadsheet writes where a formula failed also begins with #.
_COMMENT = re.compile(r" *#(?!(?:REF!|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|N/A)(?:[,;\t]|$))")


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
            if self.between and _COMMENT.match(line):
                continue
            if self.between:
                self.first = self.next - 1
            self.between = False
            return line + "\n"
        raise StopIteration


def _rows(lines: Sequence[str], separator: str) -> Iterator[_Row]:
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
            trouble = _Trouble(
                feed.first + 1, 1, tr("the row cannot be read: {problem}", problem=shown(str(problem))), ""
            )
            yield _Row(feed.first + 1, (_Cell("", feed.first + 1, 1),), trouble)
            continue
        if not any(values) and not any('"' in line for line in lines[feed.first : feed.next]):
            continue
        places, found = _places(lines[feed.first : feed.next], separator, feed.first + 1)
        if found is None and len(places) != len(values):
            found = _Trouble(feed.first + 1, 1, tr("the row cannot be cut into cells"), tr("look at its quotes"))
        if found:
            yield _Row(feed.first + 1, (_Cell("", feed.first + 1, 1),), found)
            continue
        pairs = zip(values, places, strict=True)
        cells = tuple(_Cell(value.strip(), line, column, span) for value, (line, column, span) in pairs)
        texts = [cell.text for cell in cells if cell.text]
        # A spreadsheet puts a comment in quotes if there is a comma or a quote in it.
        if texts and not (len(texts) == 1 and _COMMENT.match(texts[0])):
            yield _Row(feed.first + 1, cells)


_QUOTED = re.compile(r' *("[^"]*(?:""[^"]*)*")')


def _places(lines: Sequence[str], separator: str, first: int) -> tuple[list[tuple[int, int, int]], _Trouble | None]:
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
                return [], _Trouble(after, column, text, hint)
            line, column = place(begin)
            span = min(quoted.end() - begin, len(lines[line - first]) - column + 1)
        else:
            written = rest.group().strip()
            begin = rest.start() + len(rest.group()) - len(rest.group().lstrip()) if written else rest.start()
            if written.startswith('"'):
                hint = tr('put one where the cell ends, or write "" for a quote inside a quoted cell')
                return [], _Trouble(*place(begin), tr("a quote is opened here and never closed"), hint)
            span = max(1, len(written))
        found.append((*place(begin), span))
        at = rest.end()
        if text[at : at + 1] != separator:
            return found, None
        at += 1


def _squeezed(word: str) -> str:
    """A name as it is compared: without case and blanks."""
    return "".join(word.split()).casefold()


def _as_header(word: str) -> str:
    """A column's name as it is compared: a unit may stand in brackets."""
    return re.sub(r"[(\[](.+)[)\]]$", r"\1", _squeezed(word))


# --- from cells to records ---------------------------------------------------------------------------------------


class _EnoughError(Exception):
    """Stop looking: the rest would be more of the same."""


class _Reader:
    """Reads one file. ``problems`` collects what is wrong, ``records`` what is right."""

    def __init__(self, book: _Book, file: str, lines: tuple[str, ...]) -> None:
        self.book = book
        self.file = file
        self.lines = lines
        self.problems: list[Problem] = []
        self.records: list[Any] = []
        self.separator = ","
        self.known = book.headers()
        self.header: dict[int, str] = {}
        self.units: dict[str, str] = {}
        self.readings: list[_Reading] = []
        self.odd_days: dict[str, list[_Cell]] = {}
        self.nameless: set[int] = set()
        self.width = 0
        self.whole_header = True
        self.missed: set[tuple[str, str]] = set()
        self.commas = self.points = False

    def wrong(self, cell: _Cell | _Trouble, message: str, hint: str = "") -> Any:
        span = cell.span if isinstance(cell, _Cell) else 1
        source = self.lines[cell.line - 1] if cell.line <= len(self.lines) else ""
        if len(self.problems) >= MOST_PROBLEMS:
            text = tr("there are more than {most} mistakes; mend the ones above first", most=MOST_PROBLEMS)
            self.problems.append(Problem(self.file, cell.line, cell.column, text, source, "", span))
            raise _EnoughError
        self.problems.append(Problem(self.file, cell.line, cell.column, message, source, hint, span))
        return BAD

    def read(self) -> None:
        rows = self._table()
        if not rows:
            raise _refused(
                self.file, tr("the header is missing: there are only comments or empty rows"), self._columns_hint()
            )
        self._header(rows[0])
        written = [row for row in rows[1:] if row.trouble is None]
        numbers = [
            cell.text
            for row in written
            for index, cell in enumerate(row.cells)
            if index in self.header and self._holds_numbers(self.header[index])
        ]
        self.commas = any(_CLEAR_COMMA.match(text) for text in numbers)
        self.points = any(_CLEAR_POINT.match(text) for text in numbers)
        for row in rows[1:]:
            if row.trouble:
                self.wrong(row.trouble, row.trouble.message, row.trouble.hint)
            else:
                self._row(row)
        for form, cells in self.odd_days.items():
            self._odd_days(form, cells)

    def _holds_numbers(self, column: str) -> bool:
        return column != self.book.key and isinstance(_bare(self.book.kind(column)), Number | Count)

    # --- the header

    def _table(self) -> list[_Row]:
        """The rows, cut at the separator with which the header names the most columns."""
        lines = list(self.lines)
        number = next((n for n, line in enumerate(lines) if line.strip() and not _COMMENT.match(line)), 0)
        # Some spreadsheets want to be told the separator by the first line, and write it there.
        told = re.fullmatch(r'\s*"?sep=(.)"?[\s,;]*', lines[number])
        if told:
            lines[number] = ""

        def names(separator: str) -> tuple[int, int]:
            first = next(_rows(lines, separator), None)
            cells = [cell.text for cell in first.cells] if first else []
            return sum(_as_header(cell) in self.known for cell in cells), len(cells)

        likely = [told[1]] if told and told[1] in SEPARATORS else list(SEPARATORS)
        self.separator = max(likely, key=names)
        return list(_rows(lines, self.separator))

    def _columns_hint(self) -> str:
        return _listed(tr("the columns of a {noun}", noun=tr(self.book.noun)), self.book.columns)

    def _header(self, row: _Row) -> None:
        if row.trouble:
            self.wrong(row.trouble, row.trouble.message, row.trouble.hint)
            raise _EnoughError
        named = [cell for cell in row.cells if cell.text]
        good = [cell for cell in named if _as_header(cell.text) in self.known]
        other = _LOG if self.book is _SHEET else _SHEET
        theirs = other.headers()
        if len(good) < len(named) and all(_as_header(cell.text) in theirs for cell in named):
            self.wrong(
                row.start,
                tr("this is a {noun}, but a {wanted} is wanted here", noun=tr(other.noun), wanted=tr(self.book.noun)),
            )
            raise _EnoughError
        if not good and not self._misspelt(named):
            text = tr(
                "the header is missing: the first row must name the columns, found '{text}'", text=shown(row.start.text)
            )
            between = tr("between the cells stands a comma, semicolon or tab")
            self.wrong(row.start, text, f"{self._columns_hint()}\n{between}")
            raise _EnoughError
        seen: dict[str, _Cell] = {}
        for index, cell in enumerate(row.cells):
            column, unit = self.known.get(_as_header(cell.text), (None, ""))
            if not cell.text:
                self.nameless.add(index)
            elif column is None:
                self._unknown(cell)
            elif column in seen:
                self.wrong(
                    cell, tr("the column '{column}' stands here again", column=column), tr("keep one of the two")
                )
            else:
                seen[column] = cell
                self.header[index] = column
                self.units[column] = unit
        self.width = len(row.cells)
        for column in self.book.needed:
            if column not in seen:
                self.wrong(row.start, tr("the header lacks the column '{column}'", column=column), self._columns_hint())
                self.whole_header = False

    def _misspelt(self, named: Sequence[_Cell]) -> bool:
        """Can at least half of the names be guessed, and is it not all in one cell."""
        if len(named) == 1 and sum(_squeezed(c) in _squeezed(named[0].text) for c in self.book.columns) > 1:
            return False
        some = named[:MOST_PROBLEMS]
        return 2 * sum(nearest(cell.text, self.book.columns) is not None for cell in some) >= len(some)

    def _unknown(self, cell: _Cell) -> None:
        guess = nearest(cell.text, self.book.columns)
        hint = tr("did you mean '{guess}'?", guess=guess) + "\n" if guess else ""
        text = tr("'{word}' is no column of a {noun}", word=shown(cell.text), noun=tr(self.book.noun))
        self.wrong(cell, text, hint + self._columns_hint())
        self.whole_header = False

    # --- a row

    def _row(self, row: _Row) -> None:
        texts = [_as_header(cell.text) for cell in row.cells if cell.text]
        if len(texts) > 1 and self.known.keys() >= set(texts):
            self.wrong(row.start, tr("the header stands here again"), tr("delete this row"))
            return
        if not self._fits(row):
            return
        cells = {self.header[index]: cell for index, cell in enumerate(row.cells) if index in self.header}
        form = self._form_of(row, cells)
        values: dict[str, Any] = {"line": row.line}
        bad: set[str] = set()
        stray = False
        for column, cell in cells.items():
            if not cell.text or column == self.book.key:
                continue
            attribute = form.columns.get(column) if form else None
            if form and attribute is None:
                theirs = [c for c in self.book.columns if c in form.columns or c == self.book.key]
                hint = _listed(tr("the columns of {test}", test=tr(form.words)), theirs)
                text = tr(
                    "'{column}' does not belong to {test}, found '{text}'",
                    column=column, test=tr(form.words), text=shown(cell.text),
                )  # fmt: skip
                self.wrong(cell, text, hint)
                stray = True
                continue
            value = self.value(cell, attribute.kind if attribute else self.book.kind(column), column)
            if value is BAD and attribute:
                bad.add(attribute.name)
            elif attribute:
                values[attribute.name] = value
        if form:
            bad |= self._missing(row, form, cells)
            self._made(row, form, cells, values, bad, stray)
            self.readings.extend(self._readings(form, cells, values))

    def _readings(self, form: _Form, cells: Mapping[str, _Cell], values: Mapping[str, Any]) -> Iterator[_Reading]:
        """What was read off a tape or a protractor in this row."""
        for column, attribute in form.columns.items():
            tool = _READ_WITH.get(attribute.name)
            value = values.get(attribute.name)
            if tool is None or not isinstance(value, float):
                continue
            step = values.get(tool)
            unit = _unit_in(cells[column].text) or self.units[column] or ("mm" if tool == "tape" else "deg")
            yield _Reading(form.words, values["line"], column, tool, value, _INCH.get(unit, unit), step)

    def _fits(self, row: _Row) -> bool:
        """Is no cell beyond the header, or in a column without a name."""
        beyond = row.cells[self.width :]
        # Where commas separate, even an empty cell too many may be a number that was cut in two.
        if beyond and (self.separator == "," or any(cell.text for cell in beyond)):
            cell = next((cell for cell in beyond if cell.text), beyond[0])
            text = tr("the row has {count} cells, but the header names {width}", count=len(row.cells), width=self.width)
            hint = tr("delete what is too much")
            if self.separator == ",":
                hint = tr(
                    'delete what is too much; a number with a comma, or a text with one, needs quotes round it: "12,5"'
                )
            self.wrong(cell, text, hint)
            return False
        good = True
        for index, cell in enumerate(row.cells[: self.width]):
            if cell.text and index in self.nameless:
                self.wrong(
                    cell,
                    tr("'{text}' stands in a column without a name", text=shown(cell.text)),
                    tr("name it in the header"),
                )
                good = False
        return good

    def _form_of(self, row: _Row, cells: Mapping[str, _Cell]) -> _Form | None:
        key = self.book.key
        if not key:
            return self.book.forms[""]
        cell = cells.get(key)
        accepted = " | ".join(self.book.forms)
        if cell is None:
            return None
        if not cell.text:
            self.wrong(row.start, tr("'{key}' is empty in this row; accepted: {accepted}", key=key, accepted=accepted))
            return None
        word = next((word for word in self.book.forms if _squeezed(word) == _squeezed(cell.text)), None)
        if word is None:
            guess = nearest(cell.text, list(self.book.forms))
            hint = tr("did you mean '{guess}'?", guess=guess) if guess else ""
            found = tr("is '{value}'; accepted: {accepted}", value=shown(cell.text), accepted=accepted)
            self.wrong(cell, said_of(f"'{key}'", found), hint)
            return None
        return self.book.forms[word]

    def _missing(self, row: _Row, form: _Form, cells: Mapping[str, _Cell]) -> set[str]:
        """Attributes without which there is no such record."""
        missing = set()
        for column, attribute in form.columns.items():
            if not attribute.required or (column in cells and cells[column].text):
                continue
            missing.add(attribute.name)
            if column in cells:
                text = tr("'{column}' is empty; {test} needs it", column=column, test=tr(form.words))
                self.wrong(cells[column], text, tr(attribute.about))
            elif column in self.header.values():
                text = tr("'{column}' is empty in this row; {test} needs it", column=column, test=tr(form.words))
                self.wrong(row.start, text, tr(attribute.about))
            elif self.whole_header and (form.words, column) not in self.missed:
                # Said once: what the header lacks, every row lacks.
                self.missed.add((form.words, column))
                text = tr(
                    "{test} needs the column '{column}', which the header lacks", test=tr(form.words), column=column
                )
                self.wrong(row.start, text, tr(attribute.about))
        return missing

    def _made(
        self, row: _Row, form: _Form, cells: Mapping[str, _Cell], values: dict[str, Any], bad: set[str], stray: bool
    ) -> None:
        """Make the record, or say what its rules find in the part that could be read."""
        complaints: list[Complaint] = []
        if bad:
            defaults = {name: item.default for name, item in attributes(form.record).items() if not item.required}
            known = {name: value for name, value in {**defaults, **values}.items() if name not in bad}
            for rule in form.record.rules:
                if known.keys() >= set(rule.needs):
                    complaints.extend(rule.complain(*(known[name] for name in rule.needs)))
        else:
            try:
                record = form.record(**values)
            except PlanError as refused:
                complaints.extend(refused.complaints)
            else:
                if not stray:
                    self.records.append(record)
        columns = {attribute.name: column for column, attribute in form.columns.items()}
        for complaint in complaints:
            column = columns[str(complaint.path[0])]
            if column in self.header.values() or self.whole_header:
                self.wrong(cells.get(column, row.start), said_of(f"'{column}'", complaint.message), complaint.hint)

    # --- a cell

    def value(self, cell: _Cell, kind: Kind, column: str) -> Any:
        kind = _bare(kind)
        value: Any = cell.text
        if isinstance(kind, Number | Count):
            value = self._number(cell, kind, column)
        elif isinstance(kind, Day):
            value = self._day(cell, column)
        elif isinstance(kind, Choice):
            squeezed = _squeezed(cell.text)
            value = next((word for word in kind.options if _squeezed(word) == squeezed), cell.text)
        if value is BAD:
            return BAD
        complaints = list(kind.complain(value))
        for complaint in complaints:
            self.wrong(cell, said_of(f"'{column}'", complaint.message), complaint.hint)
        return BAD if complaints else value

    def _number(self, cell: _Cell, kind: Number | Count, column: str) -> Any:
        unit = kind.unit if isinstance(kind, Number) else NUMBER
        try:
            value = _quantity(cell.text, unit, self.commas, self.points, self.units.get(column, ""))
        except UnitError as problem:
            what = tr(unit.what) if isinstance(kind, Number) else tr("a whole number")
            example = tr(unit.example).replace("'", "") if isinstance(kind, Number) else "3"
            values = {"column": column, "what": what, "text": shown(cell.text)}
            if str(problem):
                reason = shown(str(problem), 200)
                text = tr("'{column}' must be {what}, found '{text}', which {reason}", reason=reason, **values)
            else:
                text = tr("'{column}' must be {what}, found '{text}'", **values)
            hint = shown(problem.hint, 200) or tr("such as {example}", example=example)
            return self.wrong(cell, text, hint)
        if isinstance(kind, Number):
            return value
        if value != round(value):
            return self.wrong(
                cell,
                tr("'{column}' must be a whole number, found {value}", column=column, value=plain(value)),
                tr("such as 3"),
            )
        return int(value)

    def _day(self, cell: _Cell, column: str) -> Any:
        found = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", cell.text)
        if found:
            day = _day_of(*found.groups())
            if day:
                return day
            text = tr("'{column}' is {text}, a day that no calendar has", column=column, text=cell.text)
            return self.wrong(cell, text, tr("write year-month-day, such as 2026-11-25"))
        text = tr(
            "'{column}' must be a date, year-month-day, such as 2026-11-25, found '{text}'",
            column=column, text=shown(cell.text),
        )  # fmt: skip
        if re.fullmatch(r"[0-9]{4,5}([.,][0-9]*)?", cell.text):
            hint = tr(
                "the spreadsheet has saved its own number for the day: show the column as year-month-day, then save"
            )
            return self.wrong(cell, text, hint)
        dotted = _DOTTED.fullmatch(cell.text)
        if dotted:
            day = _day_of(*dotted.groups()[::-1])
            if day:
                return day
            text = tr("'{column}' is {text}, a day that no calendar has", column=column, text=shown(cell.text))
            return self.wrong(cell, text, tr(_DOTS))
        if _YEAR_LAST.fullmatch(cell.text) or _SHORT_YEAR.fullmatch(cell.text):
            # Said once for the file: in whatever form one is written, all are.
            self.odd_days.setdefault(column, []).append(cell)
            return BAD
        meant = sorted(_meant_days(cell.text))
        return meant[0] if len(meant) == 1 else self.wrong(cell, text)

    def _odd_days(self, column: str, cells: Sequence[_Cell]) -> None:
        first = cells[0]
        meant = [day.isoformat() for day in sorted(_meant_days(first.text))]
        text = tr(
            "'{column}' is '{text}', which may begin with the month or with the day",
            column=column, text=shown(first.text),
        )  # fmt: skip
        if not meant:
            hint = tr("write year-month-day: such as 2026-11-25")
        elif len(meant) == 1:
            hint = tr("write year-month-day: {day}", day=meant[0])
        else:
            hint = tr("write year-month-day: {days}, whichever it was", days=tr(" or ").join(meant))
        if len(cells) > 1:
            hint += "\n" + tr_many(
                "{n} more row has a date in this form", "{n} more rows have a date in this form", len(cells) - 1
            )
        self.wrong(first, text, hint)


class LogRows(_Reader):
    """Reads a log, and keeps the cells of each of its rows. ``problems`` are those of the cells themselves."""

    @classmethod
    def of(cls, path: Path) -> LogRows:
        name = str(path)
        made = cls(_LOG, name, _lines(_bytes(path, name), name))
        with suppress(_EnoughError):
            made.read()
        return made

    def __init__(self, book: _Book, file: str, lines: tuple[str, ...]) -> None:
        super().__init__(book, file, lines)
        self.placed: dict[int, dict[str, _Cell]] = {}

    def _row(self, row: _Row) -> None:
        self.placed[row.line] = {self.header[n]: cell for n, cell in enumerate(row.cells) if n in self.header}
        super()._row(row)

    def problem(self, entry: LogEntry, column: str, message: str, hint: str) -> Problem:
        """A problem at a cell of an entry's row."""
        cell = self.placed.get(entry.line, {}).get(column) or _Cell("", entry.line, 1)
        source = self.lines[cell.line - 1] if cell.line <= len(self.lines) else ""
        return Problem(self.file, cell.line, cell.column, message, source, hint, cell.span)


_SHORT_YEAR = re.compile(r"[0-9]{1,2}[-/.][0-9]{1,2}[-/.][0-9]{2}")
_DOTTED = re.compile(r"([0-9]{1,2})\. ?([0-9]{1,2})\. ?([0-9]{4})")
_DOTS = tr_later("with dots, the day comes first: day.month.year, such as 25.11.2026; or write 2026-11-25")


def _listed(what: str, columns: Sequence[str]) -> str:
    """Columns in lines of a width, none of them cut in two."""
    whole = (column.replace(" ", "\N{NO-BREAK SPACE}") for column in columns)
    return "\n".join(wrapped_lines(f"{what}: {', '.join(whole)}", HINT_WIDTH, "", "  "))


def _bare(kind: Kind) -> Kind:
    return kind.kind if isinstance(kind, Maybe) else kind


# --- numbers -----------------------------------------------------------------------------------------------------

# Digits with whatever marks people put between them, then a unit.
_NUMBER = re.compile(r"([+-]?) *([0-9]+(?:[ .,'][0-9]+)*[.,]?|[.,][0-9]+) *(.*)", re.DOTALL)
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}([ .,'])[0-9]{3}(?:\1[0-9]{3})*(?:(?!\1)([.,])([0-9]+))?")
_EXPONENT = re.compile(rf"{DECIMAL}[eE][+-]?[0-9]{{1,3}}")
# Numbers whose one mark can only be the decimal mark.
_NOT_THREE = r"(?:[0-9]*{0}(?:[0-9]{{1,2}}|[0-9]{{4,}})|0*{0}[0-9]+|[0-9]{{4,}}{0}[0-9]+)(?![0-9.,])"
_CLEAR_COMMA = re.compile(r"[+-]?" + _NOT_THREE.format(","))
_CLEAR_POINT = re.compile(r"[+-]?" + _NOT_THREE.format(r"\."))
_LOOKALIKES = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2019": "'"})
# More digits than any tape has.
_LONGEST = 40


def _unit_in(text: str) -> str:
    """The unit that a cell's number carries, '' if none."""
    found = _NUMBER.fullmatch(text.translate(_LOOKALIKES))
    return found[3] if found else ""


def _quantity(text: str, unit: Unit, commas: bool, points: bool, header: str = "") -> float:
    """A cell's number, in the model's unit, with or without a unit of its own. Raises `UnitError`.

    ``commas`` and ``points``: elsewhere in the file a comma (a point) is certainly a decimal mark. ``header``: the
    unit of a bare number, if it is not the model's.
    """
    text = text.translate(_LOOKALIKES)
    clock = re.fullmatch(r"([0-9]{1,3}):([0-5][0-9])(?::([0-5][0-9]))?", text)
    if clock and unit == TIME:
        first, second, third = (int(part or 0) for part in clock.groups())
        seconds = first * 60 + second if clock[3] is None else first * 3600 + second * 60 + third
        raise UnitError(tr("is hours or minutes"), tr("write seconds: {seconds}", seconds=seconds))
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise UnitError("")
    sign, digits, word = found.groups()
    if len(digits) > _LONGEST:
        raise UnitError(tr("is far too long for a number"))
    if _EXPONENT.fullmatch(sign + digits.replace(",", ".") + word):
        value = float(sign + digits.replace(",", ".") + word)
        raise UnitError(
            tr("is written with an E"), tr("write {value}", value=plain(value)) if 1e-6 < abs(value) < 1e9 else ""
        )
    number = sign + _decimal(digits, commas, points)
    word = _INCH.get(word, word) or header
    return read_quantity(f"{number} {word}", unit) if word else float(number)


def _decimal(digits: str, commas: bool, points: bool) -> str:
    """Digits with a point as decimal mark. Raises `UnitError` where marks could part thousands."""
    marks = [character for character in digits if not character.isdigit()]
    if not marks:
        return digits
    grouped = _THOUSANDS.fullmatch(digits)
    if len(marks) == 1 and marks[0] in ".,":
        dotted = digits.replace(",", ".")
        doubtful = (points or not commas) if marks[0] == "," else commas
        if not grouped or not doubtful:
            return dotted
        whole = digits.replace(marks[0], "")
        hint = tr("write {whole}, or {dotted} if that is meant", whole=whole, dotted=plain(float(dotted)))
        if marks[0] == ",":
            raise UnitError(tr("has a comma that may part thousands"), hint)
        raise UnitError(tr("has a point that may part thousands"), hint)
    if not grouped:
        raise UnitError(tr("is not one number"))
    whole = digits[: grouped.start(2)] if grouped[2] else digits
    bare = whole.replace(grouped[1], "") + (f".{grouped[3]}" if grouped[2] else "")
    raise UnitError(tr("has marks between its thousands"), tr("write {bare}", bare=bare))


# --- how finely it was read --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Reading:
    """What was read off a tape or a protractor: the kind of test, its line and column, the value in the model's unit,
    the unit it was written in; ``step`` is how finely it was read, None if the row does not say."""

    words: str
    line: int
    column: str
    tool: str
    value: float
    unit: str
    step: float | None


# Which tool a result is read with; what was commanded is not read at all.
_READ_WITH = {
    "travel": "tape", "sideways": "tape", "near": "tape", "far": "tape", "return_x": "tape", "return_y": "tape",
    "along": "tape", "across": "tape", "heading": "protractor", "angle_read": "protractor",
}  # fmt: skip
_TOOL_COLUMNS = {"tape": "tape mm", "protractor": "protractor deg"}
_TOOL_UNITS = {"tape": LENGTH, "protractor": ANGLE}

# Steps that tapes and protractors have, in the unit that was written. The first is taken where nothing is finer.
_DECIMAL_STEPS = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
_FINE_STEPS = (0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
_STEPS = {
    "mm": tuple(TAPE * step for step in _DECIMAL_STEPS),
    "cm": tuple(TAPE / 10 * step for step in _DECIMAL_STEPS),
    "m": tuple(TAPE / 1000 * step for step in _DECIMAL_STEPS),
    # Halves of halves on the tape, or tenths.
    "in": (1 / 16, 0.1, 0.05, 1 / 32, 0.02, 1 / 64, 0.01, 0.005, 0.002, 0.001),
    "deg": (PROTRACTOR, *(step for step in _FINE_STEPS if step < PROTRACTOR)),
}
# As many different readings that all are multiples of five steps hardly come by chance: 1 in 15625.
_COARSE_READINGS = 6
_COARSE = {"tape": (10.0, 5.0), "protractor": (5.0,)}


def _multiple(value: float, step: float) -> bool:
    # Decimals were rounded when they were written and converted.
    return abs(value / step - round(value / step)) < 1e-4


def _with_steps(tests: Sequence[Any], readings: Sequence[_Reading]) -> tuple[list[Any], list[str]]:
    """The tests, with the step of their readings where a row does not say how finely it was read, and what is to be
    said about steps: a sentence for each kind of test.

    A step is that of a kind of test: a team reads a placing more finely than a straight.
    """
    steps: dict[tuple[int, str], float] = {}
    notes: list[str] = []
    for words, tool in dict.fromkeys((reading.words, reading.tool) for reading in readings):
        mine = [each for each in readings if (each.words, each.tool) == (words, tool)]
        silent = [each for each in mine if each.step is None]
        # A tape's step is that of the finest reading of its row, in whatever unit.
        for unit in dict.fromkeys(each.unit for each in silent):
            alike = [each for each in silent if each.unit == unit]
            size = read_quantity(f"1 {unit}", _TOOL_UNITS[tool])
            known = _STEPS.get(unit, _STEPS["deg"])
            step = next((s for s in known if all(_multiple(each.value / size, s) for each in alike)), known[-1])
            for each in alike:
                key = (each.line, tool)
                steps[key] = min(steps.get(key, step * size), step * size)
            notes += _step_notes(words, tool, alike, step * size, known[0] * size, unit)
        told = [each for each in mine if each.step is not None and each.unit != "in"]
        finer = [each for each in told if each.step is not None and not _multiple(each.value, each.step)]
        if finer:
            first, column = finer[0], _TOOL_COLUMNS[tool]
            unit = "mm" if tool == "tape" else "degrees"
            more = len({each.line for each in finer}) - 1
            values = {
                "line": first.line, "read": first.column, "value": in_digits(plain(first.value)),
                "step": in_digits(plain(first.step or 0.0)), "unit": tr(unit), "column": column,
            }  # fmt: skip
            if more:
                text = tr(
                    "line {line} and {more} more: '{read}' is {value}, finer than the {step} {unit} in '{column}'; "
                    "taken as read to what '{column}' says: change it if that is wrong",
                    more=more, **values,
                )  # fmt: skip
            else:
                text = tr(
                    "line {line}: '{read}' is {value}, finer than the {step} {unit} in '{column}'; taken as read to "
                    "what '{column}' says: change it if that is wrong",
                    **values,
                )
            notes.append(text)
    made = []
    for test in tests:
        mine_too = {tool: steps[test.line, tool] for tool in _TOOL_COLUMNS if (test.line, tool) in steps}
        made.append(replace(test, **mine_too) if mine_too else test)
    return made, notes


def _step_notes(
    words: str, tool: str, readings: Sequence[_Reading], step: float, usual: float, unit: str
) -> Iterator[str]:
    """``step`` and ``usual`` in the model's unit."""
    column = _TOOL_COLUMNS[tool]
    model = "mm" if tool == "tape" else "degrees"
    lines = len({each.line for each in readings})
    one, many = _COUNTED[words]
    values: dict[str, Any] = {
        "kind": tr(one if lines == 1 else many), "column": column, "unit": tr(model),
        "usual": in_digits(plain(usual)), "step": in_digits(plain(step)),
    }  # fmt: skip
    if unit == "in":
        yield tr_many(
            "{n} {kind} without '{column}' has readings in inches: taken as read to {mm} mm ({inches})",
            "{n} {kind} without '{column}' have readings in inches: taken as read to {mm} mm ({inches})",
            lines, mm=in_digits(plain(round(step, 2))), inches=_inches(step), **values,
        )  # fmt: skip
    elif step < usual - 1e-9:
        first = next(each for each in readings if not _multiple(each.value, usual))
        yield tr_many(
            "{n} {kind} without '{column}' has readings finer than {usual} {unit}, such as {value} on line {line}: "
            "taken as read to {step} {unit}",
            "{n} {kind} without '{column}' have readings finer than {usual} {unit}, such as {value} on line {line}: "
            "taken as read to {step} {unit}",
            lines, value=in_digits(plain(first.value)), line=first.line, **values,
        )  # fmt: skip
    else:
        readings_told = {each.value for each in readings if each.value}
        coarse = next((s for s in _COARSE[tool] if all(_multiple(value, s) for value in readings_told)), None)
        if coarse is not None and len(readings_told) >= _COARSE_READINGS:
            yield tr_many(
                "{n} {kind} without '{column}' has only readings that are multiples of {coarse} {unit}, and all are "
                "taken as read to {usual} {unit}: if they were read no more finely than to {coarse}, write {coarse} in "
                "'{column}'",
                "{n} {kind} without '{column}' have only readings that are multiples of {coarse} {unit}, and all are "
                "taken as read to {usual} {unit}: if they were read no more finely than to {coarse}, write {coarse} in "
                "'{column}'",
                lines, coarse=in_digits(plain(coarse)), **values,
            )  # fmt: skip


# What so many tests of a form are called.
_COUNTED = {
    "a straight test": (tr_later("straight test"), tr_later("straight tests")),
    "a turn test": (tr_later("turn test"), tr_later("turn tests")),
    "a square path test": (tr_later("square path test"), tr_later("square path tests")),
    "a placing test": (tr_later("placing test"), tr_later("placing tests")),
    "a drop test": (tr_later("drop test"), tr_later("drop tests")),
}


def _inches(step: float) -> str:
    inches = step / 25.4
    return f"1/{round(1 / inches)} in" if _multiple(1 / inches, 2) else f"{in_digits(plain(inches))} in"


def _with_one_spelling(tests: Sequence[Any]) -> tuple[list[Any], list[str]]:
    """The tests, with jigs whose names differ by case or blanks only taken as one, under the most usual spelling."""
    written = Counter(test.jig for test in tests if isinstance(test, PlacingTest) and test.jig is not None)
    spellings: dict[str, list[str]] = {}
    for name, _ in written.most_common():
        spellings.setdefault(_squeezed(name), []).append(name)
    notes = []
    for names in spellings.values():
        if len(names) > 1:
            others = tr(" and ").join(f"'{shown(name)}'" for name in names[1:])
            notes.append(tr("the jig {others} is taken as '{name}'", others=others, name=shown(names[0])))
    made = [
        replace(test, jig=spellings[_squeezed(test.jig)][0])
        if isinstance(test, PlacingTest) and test.jig is not None
        else test
        for test in tests
    ]
    return made, notes


# --- dates -------------------------------------------------------------------------------------------------------

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_TIME_OF_DAY = r"(?:[T ,]+[0-9]{1,2}:.*)?"
_YEAR_FIRST = re.compile(rf"([0-9]{{4}})[-/. ]{{1,2}}([0-9]{{1,2}})[-/. ]{{1,2}}([0-9]{{1,2}})\.?{_TIME_OF_DAY}")
_TOGETHER = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})")
_YEAR_LAST = re.compile(rf"([0-9]{{1,2}})[-/. ]{{1,2}}([0-9]{{1,2}})[-/. ]{{1,2}}([0-9]{{4}}){_TIME_OF_DAY}")
_DAY_MONTH = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?[-/. ]{0,2}([a-z]{3,9})[-/., ]{0,2}([0-9]{4})")
_MONTH_DAY = re.compile(r"([a-z]{3,9})[-/. ]{0,2}([0-9]{1,2})(?:st|nd|rd|th)?[-/., ]{1,2}([0-9]{4})")


def _day_of(year: str, month: str, day: str) -> datetime.date | None:
    """A day of the calendar, or None if there is no such day. The month may be a word."""
    with suppress(ValueError):
        number = _MONTHS.index(month[:3]) + 1 if month.isalpha() else int(month)
        return datetime.date(int(year), number, int(day))
    return None


def _meant_days(text: str) -> set[datetime.date]:
    """The days that a date in another form can mean."""
    text = text.casefold()
    if found := _YEAR_FIRST.fullmatch(text) or _TOGETHER.fullmatch(text):
        year, month, day = found.groups()
        days = {_day_of(year, month, day)}
    elif found := _YEAR_LAST.fullmatch(text):
        one, two, year = found.groups()
        days = {_day_of(year, two, one), _day_of(year, one, two)}
    elif found := _DAY_MONTH.fullmatch(text):
        day, month, year = found.groups()
        days = {_day_of(year, month, day)}
    elif found := _MONTH_DAY.fullmatch(text):
        month, day, year = found.groups()
        days = {_day_of(year, month, day)}
    else:
        days = set()
    return {day for day in days if day}


# --- blank files -------------------------------------------------------------------------------------------------


def _blank(about: str, columns: Sequence[str], examples: Sequence[Mapping[str, str]]) -> str:
    rows = [",".join(row.get(column, "") for column in columns) for row in examples]
    lines = [f"# {line}".rstrip() for line in about.strip().splitlines()]
    return "\n".join([*lines, ",".join(columns), *(f"#{row}" for row in rows), ""])


# Without commas and semicolons, at which a spreadsheet would cut the lines.
_ABOUT_SHEET = tr_later(
    "\nTest sheet: how accurately does the robot drive? One test a row. Lines that begin with # are "
    "not read.\nUnits stand in the header. Forward and left are positive. Backward and right are "
    "negative. Empty means not measured.\n\nEvery kind of test: date (year-month-day) and note and "
    "test: straight or turn or square path or placing or drop.\ntape mm: how finely you read the "
    "tape (empty: 1 or as finely as your readings are written).\nprotractor deg: how finely you read "
    "angles (empty: 0.5 or as finely as your readings are written).\nDo you measure in cm or in? "
    "Write travel cm or travel in for travel mm in the header and so on.\nheading from: wheels or "
    "gyro (empty: wheels).\nspeed mm/s and turn speed deg/s: empty if the robot drove at its own "
    "speed.\n\nstraight: commanded mm and travel mm (along the line it was set on).\n  If you measured "
    "them: sideways mm (how far beside that line) and heading deg (how much the heading "
    "changed).\nturn: commanded deg and angle deg (what it made). Or by tape: near mm and far mm and "
    "side mm instead of angle deg.\n  By tape works for turns of about 90 degrees (or 180 or 270 or "
    "360). Measure the side of the robot that faces a wall:\n  how far from the wall are its two "
    "ends? Look from the robot to the wall.\n  far mm is the end at your left hand. near mm is the "
    "end at your right hand. side mm is how far apart the ends are.\n  If the robot has turned too "
    "far to the left then far mm is more than near mm. Measure square to the wall.\nsquare path: "
    "side mm and direction (cw turns right and ccw turns left) and return x mm and return y mm.\n  "
    "Return is where it ended as seen from where it began: x is forward and y is left.\n  If you "
    "measured it: heading deg (how far off its heading was at the end).\nplacing: along mm and "
    "across mm (how far ahead and how far left of its place it stood).\n  If you measured it: "
    "heading deg (how far off its heading was). jig: its name (empty: placed by eye).\ndrop: result "
    "(pass or fail). came off: what came off.\n\nThe rows below the header are invented examples. "
    "Delete the # in front of one to try it. Then write your own.\n"
)

_EXAMPLE = tr_later("invented example")
_SHEET_EXAMPLES = (
    {
        "test": "straight", "heading from": "wheels", "speed mm/s": "200", "commanded mm": "1000", "travel mm": "1004",
        "sideways mm": "-6", "heading deg": "-0.7", "tape mm": "1",
    },
    {"test": "turn", "heading from": "wheels", "turn speed deg/s": "120", "commanded deg": "90", "angle deg": "91.5"},
    {"test": "turn", "commanded deg": "-90", "near mm": "52", "far mm": "49", "side mm": "160", "tape mm": "0.5"},
    {
        "test": "square path", "speed mm/s": "200", "turn speed deg/s": "120", "side mm": "800", "direction": "cw",
        "return x mm": "-14", "return y mm": "-22", "heading deg": "3",
    },
    {"test": "placing", "jig": "corner block", "along mm": "0.5", "across mm": "-1", "heading deg": "0.3"},
    {"test": "drop", "result": "fail", "came off": "bumper"},
)  # fmt: skip

_ABOUT_LOG = tr_later(
    "\nLog: runs really driven at the table. One run a row. Lines that begin with # are not "
    "read.\nKeep it in the folder of the runs: they are looked for beside it.\n\ndate: year-month-day. "
    "run: its name or the name of its file. result: through or touched or missed or stopped.\nwhere: "
    "the obstacle it touched or the target it missed. Needed if it touched something and empty if "
    "it went through.\nsegment: the number of the segment it was on. The first is 1.\ntarget and miss "
    "mm: how far from a target the tool was if you measured it. seconds s: how long the run "
    "took.\nnote: whatever you like.\n\nThe rows below the header are invented examples. Delete the # "
    "in front of one to try it. Then write your own.\n"
)
_LOG_EXAMPLES = (
    {"run": "first-run.yaml", "result": "through", "target": "bell", "miss mm": "4", "seconds s": "14.5"},
    {"run": "first-run.yaml", "result": "touched", "where": "shed", "segment": "3"},
    {"run": "First run", "result": "missed", "where": "bell", "segment": "4", "miss mm": "31"},
    {"run": "first-run.yaml", "result": "stopped", "segment": "2"},
)  # fmt: skip


def blank_sheet() -> str:
    """An empty test sheet: how to fill it in, the header, and an invented example of each kind of test, commented."""
    examples = [{"date": "2026-11-25", **row, "note": tr(_EXAMPLE)} for row in _SHEET_EXAMPLES]
    return _blank(tr(_ABOUT_SHEET), _SHEET.columns, examples)


def blank_log() -> str:
    """An empty log: how to fill it in, the header, and an invented example of each kind of result, commented."""
    examples = [{"date": "2026-11-25", **row, "note": tr(_EXAMPLE)} for row in _LOG_EXAMPLES]
    return _blank(tr(_ABOUT_LOG), _LOG.columns, examples)
