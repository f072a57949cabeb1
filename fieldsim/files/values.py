"""Nodes to single values: numbers, texts, pairs and heights, or what is wrong with them, at their places."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import Any

from fieldsim.files.nodes import (
    Document,
    Node,
    Scalar,
    Sequence,
    found,
    is_null,
    is_text,
    number_trap,
    read_as,
)
from fieldsim.language import tr
from fieldsim.model.bounds import (
    Height,
    Kind,
    Named,
    Number,
    Pair,
    said_of,
)
from fieldsim.model.errors import Complaint, Problem, shown
from fieldsim.model.units import UnitError, read_quantity

BAD: Any = object()
"""Stands for a value that could not be read; what is wrong with it has been said."""

Path = tuple[str | int, ...]


class ValueReader:
    """Reads single values. ``problems`` collects what is wrong; ``place`` remembers the node of every path of
    attributes, ``named`` every name of a thing that must exist."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.problems: list[Problem] = []
        self.place: dict[Path, Node] = {}
        self.named: list[tuple[Node, Named, str, str]] = []

    def wrong(self, node: Node, message: str, hint: str = "") -> Any:
        self.problems.append(self.document.problem(node, message, hint))
        return BAD

    def complain(self, node: Node, subject: str, complaints: Iterable[Complaint]) -> bool:
        """Report complaints about the value at a node; whether there were any."""
        any_ = False
        for complaint in complaints:
            at = node
            for step in complaint.path:
                if isinstance(step, int) and isinstance(at, Sequence) and step < len(at.value):
                    at = at.value[step]
            self.wrong(at, said_of(subject, complaint.message), complaint.hint)
            any_ = True
        return any_

    def number(self, node: Node, kind: Number, subject: str) -> Any:
        if not isinstance(node, Scalar) or is_null(node):
            hint = tr("such as {example}", example=tr(kind.unit.example))
            return self.wrong(
                node,
                tr(
                    "{subject} must be {what}, found {found}",
                    subject=subject,
                    what=tr(kind.unit.what),
                    found=found(node),
                ),
                hint,
            )
        trap = number_trap(node)
        if trap:
            return self.wrong(node, said_of(subject, trap[0]), trap[1])
        if is_text(node) or not kind.unit.bare:
            try:
                value = read_quantity(node.value, kind.unit)
            except UnitError as problem:
                text = tr(
                    "{subject} must be {what}, found '{value}', which {reason}",
                    subject=subject,
                    what=tr(kind.unit.what),
                    value=shown(node.value),
                    reason=problem,
                )
                return self.wrong(node, text, problem.hint or tr("such as {example}", example=tr(kind.unit.example)))
        else:
            value = _float(node.value)
            if value in (inf, -inf) and "inf" not in node.value.lower():
                return self.wrong(
                    node,
                    tr("{subject} is far too large: {value}", subject=subject, value=shown(node.value)),
                    tr("accepted: {accepted}", accepted=kind.accepted),
                )
        return BAD if self.complain(node, subject, kind.complain(value)) else value

    def text(self, node: Node, kind: Kind, subject: str) -> Any:
        if not is_text(node):
            hint = ""
            if isinstance(node, Scalar) and not is_null(node):
                hint = tr(
                    "YAML reads {text} as {meaning}; put it in quotes: '{text}'",
                    text=shown(node.value), meaning=read_as(node),
                )  # fmt: skip
            return self.wrong(
                node, tr("{subject} must be a text, found {found}", subject=subject, found=found(node)), hint
            )
        assert isinstance(node, Scalar)
        if self.complain(node, subject, kind.complain(node.value)):
            return BAD
        if isinstance(kind, Named):
            self.named.append((node, kind, node.value, subject))
        return node.value

    def pair(self, node: Node, kind: Pair, path: Path, subject: str) -> Any:
        if not isinstance(node, Sequence) or len(node.value) != len(kind.words):
            count = tr("a list of {count}", count=len(node.value)) if isinstance(node, Sequence) else found(node)
            return self.wrong(
                node, tr("{subject} must be {what}, found {found}", subject=subject, what=kind.what, found=count)
            )
        read = []
        for index, (word, item) in enumerate(zip(kind.words, node.value, strict=True)):
            self.place[(*path, index)] = item
            read.append(self.number(item, kind.number, tr("{word} in {subject}", word=tr(word), subject=subject)))
        return BAD if BAD in read else tuple(read)

    def height(self, node: Node, kind: Height, path: Path, subject: str) -> Any:
        if isinstance(node, Sequence):
            if len(node.value) != 2:
                return self.wrong(
                    node,
                    tr(
                        "{subject} must be two heights [low, high], found a list of {count}",
                        subject=subject,
                        count=len(node.value),
                    ),
                )
            low = self.number(node.value[0], kind.number, tr("low in {subject}", subject=subject))
            high = self.number(node.value[1], kind.number, tr("high in {subject}", subject=subject))
            if low is BAD or high is BAD:
                return BAD
            band = (low, high)
        elif kind.alone:
            top = self.number(node, kind.top, subject)
            if top is BAD:
                return BAD
            band = (0.0, top)
        else:
            return self.wrong(
                node, tr("{subject} must be two heights [low, high], found {found}", subject=subject, found=found(node))
            )
        return BAD if self.complain(node, subject, kind.complain(band)) else band


def _float(text: str) -> float:
    low = text.lower().lstrip("+-")
    if low == ".inf":
        return -inf if text.startswith("-") else inf
    if low == ".nan":
        return float("nan")
    return float(text)
