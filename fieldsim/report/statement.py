"""An answer told as a statement: headline, sentences, sections of tables and lists. Every face shows the same one.

What an answer says is written once, in the ``*_words`` modules, as a `Statement`; here it becomes text for a terminal,
in ``report`` a page. Pictures are for faces that can show them: the text leaves them out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fieldsim.language import tr
from fieldsim.lettering import cells, numbered, table_rows, wrapped_lines

__all__ = [
    "Part",
    "Picture",
    "Playing",
    "Points",
    "Row",
    "Section",
    "Statement",
    "Table",
    "look_next",
    "rows",
    "statement_text",
]

BOLD, GOOD, BAD, NAME, PLAIN = "\x1b[1m", "\x1b[1;32m", "\x1b[1;31m", "\x1b[36m", "\x1b[0m"
"""Escape codes of ECMA-48 (5th edition, 1991, 8.3.117, select graphic rendition)."""
NARROWEST = 40
"""What a text is laid out for at least, terminal cells."""


@dataclass(frozen=True)
class Row:
    """A row of a table, and sentences that stand below it."""

    cells: tuple[str, ...]
    below: tuple[str, ...] = ()


@dataclass(frozen=True)
class Table:
    """Rows whose first cell names them."""

    head: tuple[str, ...]
    """What each column is, never empty: a page shows it."""
    rows: tuple[Row, ...]
    text_head: tuple[str, ...] = ()
    """What a text writes over the columns, which may leave some empty; nothing at all where rows speak for themselves.
    """
    below_head: str = ""
    """What the sentences below the rows are, for a page."""


@dataclass(frozen=True)
class Points:
    """A list in order of weight."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG, told in words for those who cannot see it, with its caption."""

    svg: str
    words: str
    caption: str
    narrow: str = ""
    """The same drawn for a telephone, if it is."""


@dataclass(frozen=True)
class Playing:
    """A run that can be played where a page has scripts; what is played is JSON (``fieldsim.pages.driving``)."""

    data: str
    caption: str


Part = str | Table | Points | Picture | Playing


@dataclass(frozen=True)
class Section:
    title: str
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Statement:
    name: str
    """What it is about, shortly: 'Flour round: which jig?'."""
    title: str
    """The same with all that belongs to it."""
    about: tuple[str, ...]
    """How it was found: trials, seed, what is left out."""
    headline: str
    """The answer in one sentence; empty where it is all in the sections."""
    further: tuple[str, ...] = ()
    """What belongs to it right away."""
    sections: tuple[Section, ...] = ()
    advice: tuple[str, ...] = ()
    closing: tuple[str, ...] = ()
    good: bool | None = None
    """Whether what was asked for is met, for a face that has colours; None if nothing was asked for."""


def look_next() -> str:
    """What stands over the advice."""
    return tr("What to look at next")


def rows(cells: Iterable[Sequence[str]]) -> tuple[Row, ...]:
    """Rows with nothing below them."""
    return tuple(Row(tuple(each)) for each in cells)


def statement_text(statement: Statement, width: int = 100, colour: bool = False) -> str:
    """The statement as text, ending in a line end; no line is wider than ``width`` terminal cells (at least 40).

    ``colour`` sets headings, names and whether a need is met in colours by escape codes and changes nothing else.
    """
    width = max(width, NARROWEST)
    lines: list[str] = []

    def heading(text: str, code: str = BOLD) -> None:
        lines.extend(f"{code}{line}{PLAIN}" if colour else line for line in wrapped_lines(text, width))

    for text in (statement.title, *statement.about):
        lines.extend(wrapped_lines(text, width))
    if statement.headline:
        lines.append("")
        heading(statement.headline, BOLD if statement.good is None else GOOD if statement.good else BAD)
    for text in statement.further:
        lines.extend(wrapped_lines(text, width))
    for section in statement.sections:
        lines.append("")
        heading(section.title)
        before: Part | None = None
        for part in section.parts:
            # A table below a sentence belongs to it.
            further_in = "  " if isinstance(part, Table) and isinstance(before, str) else ""
            lines.extend(f"{further_in}{line}" for line in _part_lines(part, width - len(further_in), colour))
            before = part
    if statement.advice:
        lines.append("")
        heading(look_next())
        lines.extend(numbered(statement.advice, width))
    if statement.closing:
        lines.append("")
        lines.extend(wrapped_lines(" ".join(statement.closing), width))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _part_lines(part: Part, width: int, colour: bool) -> Iterator[str]:
    match part:
        case str():
            yield from wrapped_lines(part, width, "  ", "  ")
        case Points(items):
            yield from numbered(items, width)
        case Table():
            yield from _table_lines(part, width, colour)


def _table_lines(table: Table, width: int, colour: bool) -> Iterator[str]:
    head = table.text_head
    shown = [*([head] if head else []), *(row.cells for row in table.rows)]
    if head and 2 + sum(max(cells(row[i]) for row in shown) + 2 for i in range(len(head) - 1)) - 2 > width:
        # Too narrow for a heading over columns: every line says itself what it is.
        for row in table.rows:
            yield from _named(wrapped_lines(row.cells[0], width, "  ", "  "), row, colour)
            for name, cell in zip(head[1:], row.cells[1:], strict=True):
                yield from wrapped_lines(
                    tr("{what}: {value}", what=name, value=cell) if name else cell, width, "      ", "      "
                )
            yield from _below(row, width)
        return
    found = list(table_rows(shown, width))
    if head:
        yield from found.pop(0)
    for row, lines in zip(table.rows, found, strict=True):
        yield from _named(lines, row, colour)
        yield from _below(row, width)


def _named(lines: Iterable[str], row: Row, colour: bool) -> Iterator[str]:
    """The lines of a row, its name in colour."""
    for n, line in enumerate(lines):
        name = row.cells[0]
        if colour and n == 0 and name and line.startswith(name, 2):
            line = f"  {NAME}{name}{PLAIN}{line[2 + len(name) :]}"
        yield line


def _below(row: Row, width: int) -> Iterator[str]:
    for text in row.below:
        yield from wrapped_lines(text, width, "      ", "      ")
