"""Tables as a workbook that any spreadsheet opens (.xlsx, Office Open XML, ISO/IEC 29500): real numbers, so that a
decimal comma or point is the reader's own, units under the heads, and a sheet that says what every column is.

Written by XlsxWriter, which is loaded only here.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from fieldsim.language import tr
from fieldsim.lettering import cells
from fieldsim.pages.tables import Cell, Column, DataTable

__all__ = ["workbook"]

# Letters of a column: what is wider is cut by the spreadsheet until somebody widens it.
NARROWEST, WIDEST = 8, 44
# Rows that say how wide a column has to be.
LOOKED_AT = 50
# Rows above the numbers: names and units.
HEAD = 2
# Rows of a table at most: each cell takes its time to write, and nobody looks at more.
ROWS = 2000


def workbook(tables: Sequence[DataTable], about: str) -> bytes:
    """The tables as sheets, and before them one that says what every column is, under the words ``about``."""
    import xlsxwriter

    out = io.BytesIO()
    # Texts stay texts: a thing called '=1+1' is a name, and one like an address no link.
    book = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    )
    look = _Look(book)
    # The first of all sheets, filled when the others are there.
    first = book.add_worksheet(tr("What is what"))
    for table in tables:
        _fill(book.add_worksheet(table.label), table, look)
    _explain(first, tables, about, look)
    book.close()
    return out.getvalue()


class _Look:
    def __init__(self, book: Any) -> None:
        self.head = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        self.unit = book.add_format({"italic": True, "font_color": "#555555", "bottom": 1})
        self.words = book.add_format({"text_wrap": True, "valign": "top"})
        self._numbers: dict[int, Any] = {}
        self._book = book

    def number(self, decimals: int) -> Any:
        """How many decimals are shown; the number itself is whole."""
        if decimals not in self._numbers:
            self._numbers[decimals] = self._book.add_format({"num_format": "0." + "0" * decimals if decimals else "0"})
        return self._numbers[decimals]


# People read tenths; the number in the cell has all its digits.
SHOWN = 1


def _fill(sheet: Any, table: DataTable, look: _Look) -> None:
    for at, column in enumerate(table.columns):
        sheet.write_string(0, at, column.label, look.head)
        sheet.write_string(1, at, column.unit, look.unit)
        sheet.set_column(at, at, _wide(column, [row[at] for row in table.rows[:LOOKED_AT]]))
    tenths = look.number(SHOWN)
    for at, row in enumerate(table.rows[:ROWS], HEAD):
        for where, cell in enumerate(row):
            if isinstance(cell, str):
                sheet.write_string(at, where, cell)
            elif isinstance(cell, float):
                sheet.write_number(at, where, round(cell, table.columns[where].decimals), tenths)
            elif cell is not None:
                sheet.write_number(at, where, cell)
    sheet.freeze_panes(HEAD, 1)
    if table.rows:
        sheet.autofilter(HEAD - 1, 0, HEAD - 1 + min(len(table.rows), ROWS), len(table.columns) - 1)


def _wide(column: Column, values: Sequence[Cell]) -> float:
    texts = [cell for cell in values if isinstance(cell, str)]
    # A head may break between its words, but not within one.
    words = max(map(cells, (*column.label.split(), column.unit)), default=0)
    return min(max(NARROWEST, words + 2, *(cells(text) + 1 for text in texts), 0), WIDEST)


def _explain(sheet: Any, tables: Sequence[DataTable], about: str, look: _Look) -> None:
    sheet.set_column(0, 1, 24)
    sheet.set_column(2, 2, 8)
    sheet.set_column(3, 3, 70)
    sheet.set_column(4, 4, 26)
    sheet.write_string(0, 0, about)
    for table in tables:
        if len(table.rows) > ROWS:
            file = f"{table.name}.csv"
            words = tr("{table}: the first {rows}; all of them are in {file}.", table=table.label, rows=ROWS, file=file)
            sheet.write_string(1, 0, words)
    at = 2
    for word, where in zip(
        (tr("Sheet"), tr("Column"), tr("Unit"), tr("What it tells"), tr("In the .csv")), range(5), strict=True
    ):
        sheet.write_string(at, where, word, look.head)
    for table in tables:
        for column in table.columns:
            at += 1
            for where, text in enumerate((table.label, column.label, column.unit, column.about, column.name)):
                sheet.write_string(at, where, text, look.words)
    sheet.freeze_panes(3, 0)
