"""What a team fills in with any spreadsheet: test sheets and logs, saved as CSV, with the place of every mistake."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from fieldsim.files.tables.blanks import blank_log, blank_sheet
from fieldsim.files.tables.cells import MOST_PROBLEMS, EnoughError
from fieldsim.files.tables.columns import LOG, SHEET, Layout, header_key, squeezed
from fieldsim.files.tables.dialect import SEPARATORS, Cell, Row, file_bytes, text_lines
from fieldsim.files.tables.resolution import with_steps
from fieldsim.files.tables.rows import RowReader
from fieldsim.language import tr
from fieldsim.model.errors import FileError, Problem, shown
from fieldsim.model.measured import Log, LogEntry, PlacingTest, Sheet

__all__ = ["MOST_PROBLEMS", "SEPARATORS", "LogRows", "blank_log", "blank_sheet", "is_log", "load_log", "load_sheet"]


def load_sheet(path: str | Path) -> Sheet:
    """The test sheet in a CSV file. Raises FileError with every mistake."""
    reader = _load(Path(path), str(path), SHEET)
    tests, steps = with_steps(reader.records, reader.readings)
    tests, jigs = with_one_spelling(tests)
    return Sheet(tuple(tests), (*steps, *jigs))


def load_log(path: str | Path) -> Log:
    """The log in a CSV file. Raises FileError with every mistake."""
    return Log(tuple(_load(Path(path), str(path), LOG).records))


def is_log(path: str | Path) -> bool:
    """Whether a CSV file is a log rather than a test sheet, by its header. Raises FileError if it has none."""
    lines = text_lines(file_bytes(Path(path), str(path)), str(path))

    def names(layout: Layout) -> int:
        reader = RowReader(layout, str(path), lines)
        first = next(iter(reader._table()), None)
        return sum(header_key(cell.text) in reader.known for cell in first.cells) if first else 0

    return names(LOG) > names(SHEET)


def _load(path: Path, name: str, layout: Layout) -> RowReader:
    reader = RowReader(layout, name, text_lines(file_bytes(path, name), name))
    with suppress(EnoughError):
        reader.read()
    if reader.problems:
        raise FileError(sorted(reader.problems, key=lambda p: (p.line, p.column)))
    return reader


def with_one_spelling(tests: Sequence[Any]) -> tuple[list[Any], list[str]]:
    """The tests, with jigs whose names differ by case or blanks only taken as one, under the most usual spelling."""
    written = Counter(test.jig for test in tests if isinstance(test, PlacingTest) and test.jig is not None)
    spellings: dict[str, list[str]] = {}
    for name, _ in written.most_common():
        spellings.setdefault(squeezed(name), []).append(name)
    notes = []
    for names in spellings.values():
        if len(names) > 1:
            others = tr(" and ").join(f"'{shown(name)}'" for name in names[1:])
            notes.append(tr("the jig {others} is taken as '{name}'", others=others, name=shown(names[0])))
    made = [
        replace(test, jig=spellings[squeezed(test.jig)][0])
        if isinstance(test, PlacingTest) and test.jig is not None
        else test
        for test in tests
    ]
    return made, notes


class LogRows(RowReader):
    """Reads a log, and keeps the cells of each of its rows. ``problems`` are those of the cells themselves."""

    @classmethod
    def of(cls, path: Path) -> LogRows:
        name = str(path)
        made = cls(LOG, name, text_lines(file_bytes(path, name), name))
        with suppress(EnoughError):
            made.read()
        return made

    def __init__(self, layout: Layout, file: str, lines: tuple[str, ...]) -> None:
        super().__init__(layout, file, lines)
        self.placed: dict[int, dict[str, Cell]] = {}

    def _row(self, row: Row) -> None:
        self.placed[row.line] = {self.header[n]: cell for n, cell in enumerate(row.cells) if n in self.header}
        super()._row(row)

    def problem(self, entry: LogEntry, column: str, message: str, hint: str) -> Problem:
        """A problem at a cell of an entry's row."""
        cell = self.placed.get(entry.line, {}).get(column) or Cell("", entry.line, 1)
        source = self.lines[cell.line - 1] if cell.line <= len(self.lines) else ""
        return Problem(self.file, cell.line, cell.column, message, source, hint, cell.span)
