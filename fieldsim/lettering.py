"""Text laid out in terminal cells: names from files made harmless, lines wrapped, tables."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence

from fieldsim.language import named, tr

__all__ = ["cells", "numbered", "one_line", "padded", "shorten", "table", "table_rows", "units_kept", "wrapped_lines"]


def one_line(text: str) -> str:
    """``text`` without anything that could move the cursor, turn the writing direction or stack up on other lines.

    Line ends, tabs and odd spaces become one space; control and unassigned characters become ``?``; joiners and
    variation selectors go; at most two accents stay on one letter. An empty name is told as such.

    >>> one_line("oven\\x1b[31m\\n north")
    'oven?[31m north'
    """
    kept: list[str] = []
    accents = 0
    for character in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(character)
        if character in "\t\n\v\f\r" or kind[0] == "Z":
            character = " "
        elif character in "\u00ad\u200b\u200c\u200d\u2060\ufeff" or 0xFE00 <= ord(character) <= 0xFE0F:
            continue
        elif kind[0] == "C":
            character = "?"
        accents = accents + 1 if kind in ("Mn", "Me") else 0
        if accents <= 2:
            kept.append(character)
    return " ".join("".join(kept).split()) or tr("(no name)")


def cells(text: str) -> int:
    """Width on a terminal: wide East Asian characters and most picture characters take two cells, accents none."""
    return sum(map(_cell, text))


def _cell(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def shorten(text: str, limit: int) -> str:
    """``text`` made one line and at most ``limit`` cells wide.

    The middle goes, so that 'shelf 1' and 'shelf 2' stay apart.

    >>> shorten("the very long counter by the window 2", 20)
    'the very...window 2'
    """
    text = one_line(named(text))
    if cells(text) <= limit:
        return text
    tail_room = (limit - 3) // 2
    tail = ""
    for character in reversed(text):
        if cells(character + tail) > tail_room:
            break
        tail = character + tail
    head = ""
    for character in text:
        if cells(head + character) > limit - 3 - cells(tail):
            break
        head += character
    # An accent whose letter was cut off would land on the dots.
    while tail and _cell(tail[0]) == 0:
        tail = tail[1:]
    return f"{head.rstrip()}...{tail.lstrip()}"


def padded(text: str, width: int) -> str:
    return text + " " * max(0, width - cells(text))


_UNIT = re.compile(r"(?<=\d) (?=(?:mm|s|degrees|Grad)\b|%)")


def units_kept(text: str) -> str:
    """``text`` with a no-break space between a number and its unit, so that they stay on one line."""
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)


def wrapped_lines(text: str, width: int, first: str = "", rest: str = "") -> Iterator[str]:
    """Lines of at most ``width`` cells; ``first`` and ``rest`` go before the first line and the others."""
    for line in _broken(units_kept(text), width, first, rest):
        yield line.replace("\N{NO-BREAK SPACE}", " ")


def _broken(text: str, width: int, first: str, rest: str) -> Iterator[str]:
    line, empty = first, True
    for word in text.split(" "):
        while True:
            gap = "" if empty else " "
            if cells(line) + cells(gap) + cells(word) <= width:
                line, empty = line + gap + word, False
                break
            if not empty:
                yield line
                line, empty = rest, True
                continue
            room = max(2, width - cells(line))
            cut = len(word)
            while cut > 1 and cells(word[:cut]) > room:
                cut -= 1
            if cut == len(word):
                line, empty = line + word, False
                break
            yield line + word[:cut]
            line, word = rest, word[cut:]
    yield line


def table(rows: Sequence[Sequence[str]], width: int) -> Iterator[str]:
    """Columns as far as they fit; what does not fit goes below, further in. Each row keeps its last cell if it can."""
    for lines in table_rows(rows, width):
        yield from lines


def table_rows(rows: Sequence[Sequence[str]], width: int) -> Iterator[list[str]]:
    """The same, the lines of each row by themselves."""
    if not rows:
        return
    columns = [max(cells(row[i]) for row in rows) for i in range(len(rows[0]))]
    # The last column may be ragged, so only those before it need room in every row.
    beside = len(columns) - 1
    while beside > 1 and 2 + sum(columns[:beside]) + 2 * (beside - 1) > width:
        beside -= 1
    for row in rows:
        line = "  " + "  ".join(padded(cell, column) for cell, column in zip(row[:beside], columns, strict=False))
        rest = list(row[beside:])
        if len(rest) == 1 and cells(line) + 2 + cells(rest[0]) <= width:
            line = f"{line}  {rest.pop()}"
        lines = list(wrapped_lines(line.strip(), width, "  ", "      ")) if beside == 1 else [line.rstrip()]
        for below in rest:
            if below:
                lines.extend(wrapped_lines(below, width, "      ", "      "))
        yield lines


def numbered(points: Sequence[str], width: int) -> Iterator[str]:
    for number, point in enumerate(points, 1):
        mark = f"  {number}. "
        yield from wrapped_lines(point, width, mark, " " * len(mark))
