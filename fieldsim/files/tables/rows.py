"""From the rows of a table to records of the model: the header, and then row by row."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from fieldsim.files.tables.cells import BAD, MOST_PROBLEMS, CellReader, EnoughError
from fieldsim.files.tables.columns import (
    HEADER_UNITS,
    INCH,
    LOG,
    LONG_UNITS,
    SHEET,
    Form,
    Layout,
    header_key,
    listed,
    squeezed,
    without_maybe,
)
from fieldsim.files.tables.dialect import COMMENT, SEPARATORS, Cell, Row, refused, rows_of
from fieldsim.files.tables.numbers import CLEAR_COMMA, CLEAR_POINT, unit_in
from fieldsim.files.tables.resolution import READ_WITH, Reading
from fieldsim.language import tr
from fieldsim.model.bounds import Number, attributes, nearest, said_of
from fieldsim.model.errors import Complaint, PlanError, shown
from fieldsim.model.measured import Count


class RowReader(CellReader):
    """Reads one file. ``problems`` collects what is wrong, ``records`` what is right."""

    def __init__(self, layout: Layout, file: str, lines: tuple[str, ...]) -> None:
        super().__init__(file, lines)
        self.layout = layout
        self.records: list[Any] = []
        self.separator = ","
        self.known = layout.headers()
        self.header: dict[int, str] = {}
        self.readings: list[Reading] = []
        self.nameless: set[int] = set()
        self.width = 0
        self.whole_header = True
        self.missed: set[tuple[str, str]] = set()

    def read(self) -> None:
        rows = self._table()
        if not rows:
            raise refused(
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
        self.commas = any(CLEAR_COMMA.match(text) for text in numbers)
        self.points = any(CLEAR_POINT.match(text) for text in numbers)
        for row in rows[1:]:
            if row.trouble:
                self.wrong(row.trouble, row.trouble.message, row.trouble.hint)
            else:
                self._row(row)
        for form, cells in self.odd_days.items():
            self._odd_days(form, cells)

    def _holds_numbers(self, column: str) -> bool:
        return column != self.layout.key and isinstance(without_maybe(self.layout.kind(column)), Number | Count)

    # --- the header

    def _table(self) -> list[Row]:
        """The rows, cut at the separator with which the header names the most columns."""
        lines = list(self.lines)
        number = next((n for n, line in enumerate(lines) if line.strip() and not COMMENT.match(line)), 0)
        # Some spreadsheets want to be told the separator by the first line, and write it there.
        declared = re.fullmatch(r'\s*"?sep=(.)"?[\s,;]*', lines[number])
        if declared:
            lines[number] = ""

        def names(separator: str) -> tuple[int, int]:
            first = next(rows_of(lines, separator), None)
            cells = [cell.text for cell in first.cells] if first else []
            return sum(header_key(cell) in self.known for cell in cells), len(cells)

        likely = [declared[1]] if declared and declared[1] in SEPARATORS else list(SEPARATORS)
        self.separator = max(likely, key=names)
        return list(rows_of(lines, self.separator))

    def _columns_hint(self) -> str:
        return listed(tr("the columns of a {noun}", noun=tr(self.layout.noun)), self.layout.columns)

    def _header(self, row: Row) -> None:
        if row.trouble:
            self.wrong(row.trouble, row.trouble.message, row.trouble.hint)
            raise EnoughError
        named = [cell for cell in row.cells if cell.text]
        good = [cell for cell in named if header_key(cell.text) in self.known]
        other = LOG if self.layout is SHEET else SHEET
        theirs = other.headers()
        if len(good) < len(named) and all(header_key(cell.text) in theirs for cell in named):
            self.wrong(
                row.start,
                tr("this is a {noun}, but a {wanted} is wanted here", noun=tr(other.noun), wanted=tr(self.layout.noun)),
            )
            raise EnoughError
        if not good and not self._misspelt(named):
            text = tr(
                "the header is missing: the first row must name the columns, found '{text}'", text=shown(row.start.text)
            )
            between = tr("between the cells stands a comma, semicolon or tab")
            self.wrong(row.start, text, f"{self._columns_hint()}\n{between}")
            raise EnoughError
        seen: dict[str, Cell] = {}
        for index, cell in enumerate(row.cells):
            column, unit = self.known.get(header_key(cell.text), (None, ""))
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
        for column in self.layout.needed:
            if column not in seen:
                self.wrong(row.start, tr("the header lacks the column '{column}'", column=column), self._columns_hint())
                self.whole_header = False

    def _misspelt(self, named: Sequence[Cell]) -> bool:
        """Can at least half of the names be guessed, and is it not all in one cell."""
        if len(named) == 1 and sum(squeezed(c) in squeezed(named[0].text) for c in self.layout.columns) > 1:
            return False
        some = named[:MOST_PROBLEMS]
        return 2 * sum(nearest(cell.text, self.layout.columns) is not None for cell in some) >= len(some)

    def _unknown(self, cell: Cell) -> None:
        *words, unit = cell.text.split() or [""]
        short = " ".join((*words, LONG_UNITS.get(squeezed(unit), unit)))
        guess = nearest(short, self.layout.columns)
        hint = self._guessed(short, guess) + "\n" if guess else ""
        text = tr("'{word}' is no column of a {noun}", word=shown(cell.text), noun=tr(self.layout.noun))
        self.wrong(cell, text, hint + self._columns_hint())
        self.whole_header = False

    @staticmethod
    def _guessed(text: str, guess: str) -> str:
        """A guess at a column that keeps the unit that was written: 'travel mm' for a column of centimetres would be
        wrong by ten."""
        own = guess.rpartition(" ")[2]
        word = squeezed(text.rpartition(" ")[2])
        if own not in HEADER_UNITS or word == squeezed(own) or " " not in text:
            return tr("did you mean '{guess}'?", guess=guess)
        if word in {squeezed(known) for known in HEADER_UNITS[own]}:
            return tr("did you mean '{guess}'?", guess=guess.removesuffix(own) + word)
        return tr("did you mean '{guess}'? Its numbers are then {unit}", guess=guess, unit=own)

    # --- a row

    def _row(self, row: Row) -> None:
        texts = [header_key(cell.text) for cell in row.cells if cell.text]
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
            if not cell.text or column == self.layout.key:
                continue
            attribute = form.columns.get(column) if form else None
            if form and attribute is None:
                theirs = [c for c in self.layout.columns if c in form.columns or c == self.layout.key]
                hint = listed(tr("the columns of {test}", test=tr(form.words)), theirs)
                text = tr(
                    "'{column}' does not belong to {test}, found '{text}'",
                    column=column, test=tr(form.words), text=shown(cell.text),
                )  # fmt: skip
                self.wrong(cell, text, hint)
                stray = True
                continue
            value = self.value(cell, attribute.kind if attribute else self.layout.kind(column), column)
            if value is BAD and attribute:
                bad.add(attribute.name)
            elif attribute:
                values[attribute.name] = value
        if form:
            bad |= self._missing(row, form, cells)
            self._made(row, form, cells, values, bad, stray)
            self.readings.extend(self._readings(form, cells, values))

    def _readings(self, form: Form, cells: Mapping[str, Cell], values: Mapping[str, Any]) -> Iterator[Reading]:
        """What was read off a tape or a protractor in this row; a photo has no steps."""
        if values.get("photo") is not None:
            return
        for column, attribute in form.columns.items():
            tool = READ_WITH.get(attribute.name)
            value = values.get(attribute.name)
            if tool is None or not isinstance(value, float):
                continue
            step = values.get(tool)
            unit = unit_in(cells[column].text) or self.units[column] or ("mm" if tool == "tape" else "deg")
            yield Reading(form.words, values["line"], column, tool, value, INCH.get(unit, unit), step)

    def _fits(self, row: Row) -> bool:
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

    def _form_of(self, row: Row, cells: Mapping[str, Cell]) -> Form | None:
        key = self.layout.key
        if not key:
            return self.layout.forms[""]
        cell = cells.get(key)
        accepted = " | ".join(self.layout.forms)
        if cell is None:
            return None
        if not cell.text:
            self.wrong(row.start, tr("'{key}' is empty in this row; accepted: {accepted}", key=key, accepted=accepted))
            return None
        word = next((word for word in self.layout.forms if squeezed(word) == squeezed(cell.text)), None)
        if word is None:
            guess = nearest(cell.text, list(self.layout.forms))
            hint = tr("did you mean '{guess}'?", guess=guess) if guess else ""
            found = tr("is '{value}'; accepted: {accepted}", value=shown(cell.text), accepted=accepted)
            self.wrong(cell, said_of(f"'{key}'", found), hint)
            return None
        return self.layout.forms[word]

    def _missing(self, row: Row, form: Form, cells: Mapping[str, Cell]) -> set[str]:
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
        self, row: Row, form: Form, cells: Mapping[str, Cell], values: dict[str, Any], bad: set[str], stray: bool
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
