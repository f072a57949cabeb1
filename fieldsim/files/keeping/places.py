"""The text of a file with the places of its nodes and comments, and changes put into it.

A library that keeps comments (ruamel.yaml, see `fieldsim.files.writing`) ties each to the node before it, so that an
item that is moved takes its neighbour's heading along; here an item's lines go as one block.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from functools import cached_property
from typing import NamedTuple

from fieldsim.files import nodes
from fieldsim.files.keeping.plain import Plain, digits, flow, number_text, text_of
from fieldsim.files.nodes import Node
from fieldsim.model.bounds import Number
from fieldsim.model.units import DECIMAL, UnitError, read_quantity

_WITH_UNIT = re.compile(rf"\s*{DECIMAL}(?P<between>\s*)(?P<unit>\S.*?)\s*")

# A number is written in the unit that was there only if that stays readable: 41.25 cm, not 16.240157480314959 in.
_LONGEST_NUMBER = 9


class CannotKeepError(Exception):
    """This text cannot be changed in its places: aliases, or a layout nobody thought of."""


class Edit(NamedTuple):
    """``text`` in place of what stands from ``start`` up to ``end``."""

    start: int
    end: int
    text: str


def bracketed(node: Node) -> bool:
    """Whether a list or mapping stands in brackets or braces (or, a pair of a list, within brackets)."""
    return bool(getattr(node, "flow_style", False))


class Places:
    """The text, and where its nodes stand. Raises CannotKeepError for aliases, which have no place of their own."""

    def __init__(self, text: str, root: Node) -> None:
        self.text = text
        seen: set[int] = set()
        scalars: list[tuple[int, int]] = []

        def walk(node: Node) -> None:
            if id(node) in seen:
                raise CannotKeepError("an alias has no place of its own")
            seen.add(id(node))
            if isinstance(node, nodes.Mapping):
                for pair in node.value:
                    walk(pair[0])
                    walk(pair[1])
            elif isinstance(node, nodes.Sequence):
                for item in node.value:
                    walk(item)
            else:
                scalars.append((node.start_mark.index, node.end_mark.index))

        walk(root)
        self.scalars = scalars

    @cached_property
    def masked(self) -> str:
        """The text with all scalars blotted out: what is left are signs, blanks and comments."""
        parts, at = [], 0
        for start, end in sorted(self.scalars):
            parts += [self.text[at:start], "\x00" * (end - start)]
            at = end
        return "".join([*parts, self.text[at:]])

    @cached_property
    def comments(self) -> list[tuple[int, int]]:
        """Where each comment stands, up to the end of its line."""
        found = re.finditer(r"(?:(?<=\s)|^)#[^\n]*", self.masked)
        return [(one.start(), one.end()) for one in found]

    @cached_property
    def columns(self) -> Counter[int]:
        """How many comments at the ends of lines stand in each column."""
        starts = ((a, self.line_start(a)) for a, _ in self.comments)
        return Counter(a - start for a, start in starts if self.text[start:a].strip())

    # --- places

    def end(self, node: Node) -> int:
        """Where a node truly ends; a block's own mark is beyond the comments that follow it."""
        end: int = node.end_mark.index
        if isinstance(node, nodes.Scalar):
            return end if node.style not in ("|", ">") else len(self.text[:end].rstrip())
        if bracketed(node) and self.text[end - 1] in "]}":
            return end
        last = node.value[-1] if node.value else None
        if last is None:
            raise CannotKeepError("nothing stands there")
        return self.end(last[1] if isinstance(last, tuple) else last)

    def line_start(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def line_end(self, at: int) -> int:
        """The end of a line, before its line break."""
        end = self.text.find("\n", at)
        return len(self.text) if end < 0 else end

    def column(self, node: Node) -> int:
        at: int = node.start_mark.index
        return at - self.line_start(at)

    def is_comment(self, start: int) -> int | None:
        """The column of the comment that a line holds and nothing else, or None."""
        line = self.text[start : self.line_end(start)]
        return len(line) - len(line.lstrip(" ")) if line.lstrip().startswith("#") else None

    def tail(self, end: int, column: int) -> int:
        """The end of the last line of comment below a place that stands farther to the right than a column."""
        end = self.line_end(end)
        while end < len(self.text):
            at = self.is_comment(end + 1)
            if at is None or at <= column:
                break
            end = self.line_end(end + 1)
        return end

    def comments_in(self, start: int, end: int) -> list[str]:
        return [self.text[a:b].rstrip() for a, b in self.comments if start <= a < end]

    # --- edits put into the text

    def applied(self, edits: Sequence[Edit], start: int = 0, end: int | None = None) -> str:
        end = len(self.text) if end is None else end
        parts, at = [], start
        padding = [edit for edit in self._padding(edits) if start <= edit.start and edit.end <= end]
        for edit in sorted([*edits, *padding], key=lambda edit: (edit.start, edit.end)):
            if edit.start < at or edit.end > end:
                raise CannotKeepError("two changes meet in one place")
            parts += [self.text[at : edit.start], edit.text]
            at = edit.end
        return "".join([*parts, self.text[at:end]])

    def _padding(self, edits: Sequence[Edit]) -> list[Edit]:
        """More or fewer blanks before comments at the ends of lines that stand in one column with others."""
        longer: dict[tuple[int, int], int] = {}
        for edit in edits:
            if "\n" in edit.text or "\n" in self.text[edit.start : edit.end]:
                continue
            line_end = self.line_end(edit.end)
            at = next((a for a, _ in self.comments if edit.end < a < line_end), None)
            if at is not None:
                blank = len(self.text[:at].rstrip(" "))
                if at - blank > 1 and self.columns[at - self.line_start(at)] > 1:
                    longer[blank, at] = longer.get((blank, at), 0) + len(edit.text) - (edit.end - edit.start)
        covered = [edit for edit in edits if edit.end > edit.start]
        return [
            Edit(blank, at, " " * max(2, at - blank - more))
            for (blank, at), more in longer.items()
            if more and not any(edit.start < at and edit.end > blank for edit in covered)
        ]

    # --- one value in the place of another

    def name(self, node: Node, word: str) -> Edit:
        return Edit(node.start_mark.index, self.end(node), text_of(word, getattr(node, "style", None)))

    def number(self, node: Node, kind: Number, value: float) -> Edit:
        """A number in the place of another, in the same unit if it has a short form in it."""
        if not isinstance(node, nodes.Scalar):
            raise CannotKeepError("no number stands there")
        text = number_text(value, kind.unit)
        found = _WITH_UNIT.fullmatch(node.value) if nodes.is_text(node) else None
        size = kind.unit.words.get(found["unit"]) if found else None
        if found and size:
            number = digits(Decimal(repr(value)) / Decimal(size) / Decimal(kind.unit.scale))
            same = f"{number}{found['between']}{found['unit']}"
            try:
                if len(number) <= _LONGEST_NUMBER and read_quantity(same, kind.unit) == value:
                    text = f"{node.style}{same}{node.style}" if node.style else same
            except UnitError:
                pass
        return Edit(node.start_mark.index, self.end(node), text)

    def whole(self, node: Node, plain: Plain) -> list[Edit]:
        """Another value in place of all that stands there; comments within a block stay behind it."""
        start, end = node.start_mark.index, self.end(node)
        if isinstance(node, nodes.Scalar) or bracketed(node):
            return [Edit(start, end, flow(plain))]
        # A block begins below its key: the value goes behind the key's colon, and the block's lines go.
        colon = len(self._up_to_code(start))
        line_end = self.line_end(colon)
        if line_end > start:
            raise CannotKeepError("a block begins behind something else")
        return [Edit(colon, colon, f" {flow(plain)}"), Edit(line_end, end, "")]

    def _up_to_code(self, at: int) -> str:
        """The text up to the last sign before a place that is no blank and no comment."""
        text = self.text[:at].rstrip()
        while True:
            inside = next((a for a, b in self.comments if a < len(text) <= b), None)
            if inside is None:
                return text
            text = text[:inside].rstrip()
