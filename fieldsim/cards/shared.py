"""What the cards of runs, matches and tests share: papers, the columns of a blank file, page numbers, boxes to tick."""

from __future__ import annotations

import csv
import io

from fieldsim.language import tr

Paper = tuple[float, float]

PAPERS: dict[str, Paper] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height, mm: ISO 216 and ANSI/ASME Y14.1 (both from memory)."""


def header(blank: str) -> tuple[str, ...]:
    """The columns of a blank file: its first line that is no remark."""
    line = next(line for line in blank.splitlines() if not line.startswith("#"))
    return tuple(next(csv.reader([line])))


BOX = "\N{BALLOT BOX}"
"""An empty box to tick, where there are signs beyond ASCII."""


def page_words(number: int, count: int) -> str:
    return tr("page {number} of {count}", number=number, count=count)


def csv_lines(rows: list[list[str]]) -> list[str]:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().splitlines()
