"""From a cell to a value of the model, or what is wrong with it, at its place."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from fieldsim.files.tables.columns import squeezed, without_maybe
from fieldsim.files.tables.dates import DOTS, DOTTED, SHORT_YEAR, YEAR_LAST, day_of, meant_days
from fieldsim.files.tables.dialect import Cell, Trouble
from fieldsim.files.tables.numbers import quantity
from fieldsim.language import tr, tr_many
from fieldsim.model.bounds import Choice, Kind, Number, said_of
from fieldsim.model.errors import Problem, shown
from fieldsim.model.measured import Count, Day
from fieldsim.model.units import NUMBER, UnitError, plain

# More mistakes than anybody reads at once; the rest are most likely the same one again.
MOST_PROBLEMS = 100

BAD: Any = object()
"""Stands for a value that could not be read; what is wrong with it has been said."""


class EnoughError(Exception):
    """Stop looking: the rest would be more of the same."""


class CellReader:
    """Reads the cells of one file. ``problems`` collects what is wrong; ``units`` holds the units that the header
    gives, ``commas`` and ``points`` whether its numbers certainly have such decimal marks."""

    def __init__(self, file: str, lines: tuple[str, ...]) -> None:
        self.file = file
        self.lines = lines
        self.problems: list[Problem] = []
        self.units: dict[str, str] = {}
        self.odd_days: dict[str, list[Cell]] = {}
        self.commas = self.points = False

    def wrong(self, cell: Cell | Trouble, message: str, hint: str = "") -> Any:
        span = cell.span if isinstance(cell, Cell) else 1
        source = self.lines[cell.line - 1] if cell.line <= len(self.lines) else ""
        if len(self.problems) >= MOST_PROBLEMS:
            text = tr("there are more than {most} mistakes; mend the ones above first", most=MOST_PROBLEMS)
            self.problems.append(Problem(self.file, cell.line, cell.column, text, source, "", span))
            raise EnoughError
        self.problems.append(Problem(self.file, cell.line, cell.column, message, source, hint, span))
        return BAD

    def value(self, cell: Cell, kind: Kind, column: str) -> Any:
        kind = without_maybe(kind)
        value: Any = cell.text
        if isinstance(kind, Number | Count):
            value = self._number(cell, kind, column)
        elif isinstance(kind, Day):
            value = self._day(cell, column)
        elif isinstance(kind, Choice):
            typed = squeezed(cell.text)
            value = next((word for word in kind.options if squeezed(word) == typed), cell.text)
        if value is BAD:
            return BAD
        complaints = list(kind.complain(value))
        for complaint in complaints:
            self.wrong(cell, said_of(f"'{column}'", complaint.message), complaint.hint)
        return BAD if complaints else value

    def _number(self, cell: Cell, kind: Number | Count, column: str) -> Any:
        unit = kind.unit if isinstance(kind, Number) else NUMBER
        try:
            value = quantity(cell.text, unit, self.commas, self.points, self.units.get(column, ""))
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

    def _day(self, cell: Cell, column: str) -> Any:
        found = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", cell.text)
        if found:
            day = day_of(*found.groups())
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
        dotted = DOTTED.fullmatch(cell.text)
        if dotted:
            day = day_of(*dotted.groups()[::-1])
            if day:
                return day
            text = tr("'{column}' is {text}, a day that no calendar has", column=column, text=shown(cell.text))
            return self.wrong(cell, text, tr(DOTS))
        if YEAR_LAST.fullmatch(cell.text) or SHORT_YEAR.fullmatch(cell.text):
            # Said once for the file: in whatever form one is written, all are.
            self.odd_days.setdefault(column, []).append(cell)
            return BAD
        meant = sorted(meant_days(cell.text))
        return meant[0] if len(meant) == 1 else self.wrong(cell, text)

    def _odd_days(self, column: str, cells: Sequence[Cell]) -> None:
        first = cells[0]
        meant = [day.isoformat() for day in sorted(meant_days(first.text))]
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
