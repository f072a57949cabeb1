"""A value of the model put into the text of a file that people wrote: only what differs is touched.

Two things: how a value is written (`plain_record`, `fresh`), and how the text of a file is changed into that of another
value (`kept`). The second works on places in the text: each changed number is put in the place of the old one, and the
lines of a list's item are moved, left out or put in as a block, with the comments that belong to it:

- at the end of its lines, and lines of comment that follow it and stand farther to the right than its dash;
- lines of comment and blank lines above it.

The keys and bounds come from `forms` and the model's annotations, as for reading.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from difflib import SequenceMatcher
from functools import cached_property
from itertools import pairwise
from math import isfinite
from typing import Any, NamedTuple

from fieldsim.files import nodes
from fieldsim.files.forms import SHAPES, keys_of
from fieldsim.files.nodes import Node
from fieldsim.language import tr
from fieldsim.model import Field, Obstacle, Outline, Run, StartArea
from fieldsim.model.bounds import (
    Attribute,
    Checked,
    Choice,
    Either,
    Height,
    Kind,
    Many,
    Maybe,
    Name,
    Number,
    Pair,
    Record,
    attributes,
)
from fieldsim.model.units import DECIMAL, NUMBER, Unit, UnitError, read_quantity

__all__ = ["CannotKeepError", "aligned", "fresh", "kept", "number_text", "plain_record", "text_of"]

Plain = Any
"""What stands in a file: numbers, texts, lists and mappings of them."""

ABSENT: Plain = object()
"""Stands for what a file says by leaving the key out."""

# Where people write a key, if that is not the order of the model.
_ORDER: Mapping[type[Checked], tuple[str, ...]] = {
    Run: ("name", "field", "robot", "wear", "start", "segments", "finish"),
    Field: ("name", "size", "walls", "picture", "obstacles", "start_areas", "jigs", "lines", "targets"),
}

# Texts that need no quotes anywhere in YAML 1.1 or 1.2: words, and paths made of words. What YAML takes for something
# else than a text is among the words.
_BARE = re.compile(r"(?:\.\.?/)*[^\W\d_](?:[\w ./()+'-]*[\w.)+])?")
_NO_TEXT = frozenset(("y", "n", "yes", "no", "on", "off", "true", "false", "null"))
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]")
_WITH_UNIT = re.compile(rf"\s*{DECIMAL}(?P<between>\s*)(?P<unit>\S.*?)\s*")

# A number is written in the unit that was there only if that stays readable: 41.25 cm, not 16.240157480314959 in.
_LONGEST_NUMBER = 9

# Items of two lists are compared one by one in gaps of up to this many pairs; larger gaps are taken in order.
_MOST_PAIRS = 250_000


class CannotKeepError(Exception):
    """This text cannot be changed in its places: aliases, or a layout nobody thought of."""


# --- how a value is written ----------------------------------------------------------------------------------------


def number_text(value: float, unit: Unit = NUMBER) -> str:
    """A number with all its digits and no more: 420, 412.5, 0.00001; with its unit where it needs one: 0.4 %."""
    number = Decimal(repr(float(value)))
    return _digits(number) if unit.bare else f"{_digits(number / Decimal(unit.scale))} {unit.symbol}"


def _digits(number: Decimal) -> str:
    text = format(number, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def text_of(word: str, style: str | None = None) -> str:
    """A text as YAML reads it back, in quotes if it needs them or had them before (``style``)."""
    if _UNPRINTABLE.search(word) or style == '"':
        escaped = word.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + _UNPRINTABLE.sub(lambda found: f"\\u{ord(found.group()):04x}", escaped) + '"'
    if style != "'" and _BARE.fullmatch(word) and word.casefold() not in _NO_TEXT:
        return word
    return "'" + word.replace("'", "''") + "'"


def ordered(record: type[Checked]) -> dict[str, Attribute]:
    """File key -> attribute, in the order in which people write them."""
    keys = keys_of(record)
    order = _ORDER.get(record)
    if order is None:
        return keys
    return {word: keys[word] for name in order for word in keys if keys[word].name == name}


def plain_record(value: Checked, given: Mapping[str, Plain] | None = None, defaults: object = None) -> dict[str, Plain]:
    """A record as it stands in a file, without what may be left out.

    ``given`` is what stands there for an attribute in place of its value (the path of a file); ``defaults`` the record
    whose attributes stand for keys left out. Raises ValueError if no file can say it (a height from 5 mm to infinity).
    """
    record = type(value)
    # A record of numbers alone, such as a spread, is easier to read whole.
    whole = all(isinstance(attribute.kind, Number) for attribute in attributes(record).values())
    made: dict[str, Plain] = {}
    for word, attribute in ordered(record).items():
        if given and attribute.name in given:
            made[word] = given[attribute.name]
            continue
        here = getattr(value, attribute.name)
        default = getattr(defaults, attribute.name, attribute.default)
        if not attribute.required and not whole and here == default:
            continue
        if _is_shape(record, word):
            shape_word, points = _shape(here)
            made[shape_word] = points
            continue
        plain = _plain(record, attribute, here, default)
        if plain is not ABSENT:
            made[word] = plain
    return made


def _is_shape(record: type[Checked], word: str) -> bool:
    return word == "shape" and record in (Obstacle, StartArea)


def _shape(shape: Any) -> tuple[str, Plain]:
    word = next(word for word, kind in SHAPES.items() if isinstance(shape, kind))
    made = plain_record(shape)
    return word, made["points"] if isinstance(shape, Outline) else made


def _plain(record: type[Checked], attribute: Attribute, value: Any, default: Any) -> Plain:
    if record is Field and attribute.name == "walls":
        height = _of(Height(alone=True), value, None) if value is not None else "none"
        return height if height in ("none", ABSENT) else {"height": height}
    return _of(attribute.kind, value, default)


def _of(kind: Kind, value: Any, default: Any) -> Plain:
    if value is None:
        return ABSENT
    match kind:
        case Number():
            return value if kind.unit.bare else number_text(value, kind.unit)
        case Height():
            low, high = value
            if not isfinite(high):
                if low > 0.0:
                    text = tr("a height from {low} mm up without an end has no form in a file", low=number_text(low))
                    raise ValueError(text)
                return ABSENT
            return high if kind.alone and low == 0.0 else [low, high]
        case Pair():
            return list(value)
        case Record():
            return plain_record(value, defaults=default)
        case Maybe():
            return _of(kind.kind, value, default)
        case Many():
            # Names that are left out are no names; the list of a field's things may stand there empty.
            return [_item(kind.item, item) for item in value] or ([] if _of_records(kind) else ABSENT)
        case _:
            return _item(kind, value, default)


def _item(kind: Kind, value: Any, default: Any = None) -> Plain:
    if isinstance(value, Checked):
        return plain_record(value, defaults=default)
    return value if isinstance(value, str) else _of(kind, value, default)


def _of_records(kind: Kind) -> bool:
    return isinstance(kind, Many) and isinstance(kind.item, Record | Either)


def flow(plain: Plain) -> str:
    """In one line: {center: [620, 640], size: [200, 140]}."""
    match plain:
        case dict():
            return "{" + ", ".join(f"{word}: {flow(value)}" for word, value in plain.items()) + "}"
        case list():
            return "[" + ", ".join(flow(value) for value in plain) + "]"
        case str():
            # A percentage begins with a digit but needs no quotes.
            return plain if re.fullmatch(rf"{DECIMAL} %", plain) else text_of(plain)
        case _:
            return number_text(plain)


def _lines(plain: dict[str, Plain], indent: str) -> str:
    """A mapping, a key a line, each line but the first indented."""
    return f"\n{indent}".join(f"{word}: {flow(value)}" for word, value in plain.items())


def _listed(items: Sequence[Plain], indent: str) -> str:
    """A list, an item at a dash, each line ended."""
    texts = (_lines(item, f"{indent}  ") if isinstance(item, dict) else flow(item) for item in items)
    return "".join(f"{indent}- {text}\n" for text in texts)


def fresh(plain: Mapping[str, Plain], apart: bool = False) -> str:
    """The text of a new file from the plain form of a field or run; ``apart`` puts a blank line before each list."""
    parts = []
    for word, value in plain.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            blank = "\n" if apart else ""
            parts.append(f"{blank}{word}:\n{_listed(value, '  ')}")
        else:
            parts.append(f"{word}: {flow(value)}\n")
    return "".join(parts)


# --- which item of the new list is which of the old one ------------------------------------------------------------


def aligned(old: Sequence[Any], new: Sequence[Any], before: Sequence[Any] = ()) -> list[int | None]:
    """For each item of the new list the number of the old one that it was, or None for one that is new.

    ``before`` may hold the very objects that the new list was made from, equal to the old ones: then equal items are
    told apart. Named items are matched by name, then as equal but for the name, then as much alike; others as equal in
    order, then as equal anywhere, then as of the same kind between the same neighbours.
    """
    found: list[int | None] = [None] * len(new)
    free = dict.fromkeys(range(len(old)))

    def pair(i: int, j: int) -> None:
        found[j] = i
        del free[i]

    def match(old_key: Callable[[Any], Any], new_key: Callable[[Any], Any]) -> None:
        """Pair equal keys, in order of the new list; each old item is taken once."""
        by: dict[Any, list[int]] = {}
        for i in reversed(free):
            by.setdefault(old_key(i), []).append(i)
        for j, item in enumerate(new):
            if found[j] is None and (there := by.get(new_key(item))):
                pair(there.pop(), j)

    if len(before) == len(old) and all(a == b for a, b in zip(before, old, strict=True)):
        match(lambda i: id(before[i]), id)
    if all(hasattr(item, "name") for item in (*old, *new)):
        match(lambda i: old[i].name, lambda item: item.name)
        match(lambda i: replace(old[i], name="-"), lambda item: replace(item, name="-"))
        _pair_alike(old, new, found, free, pair, 0.5)
        return found
    rest_old, rest_new = list(free), [j for j, i in enumerate(found) if i is None]
    same = SequenceMatcher(None, [old[i] for i in rest_old], [new[j] for j in rest_new], autojunk=False)
    for block in same.get_matching_blocks():
        for k in range(block.size):
            pair(rest_old[block.a + k], rest_new[block.b + k])
    match(lambda i: old[i], lambda item: item)
    for candidates, places in _gaps(found, free):
        for i, j in _in_order(old, new, candidates, places):
            if i in free:
                pair(i, j)
    _pair_alike(old, new, found, free, pair, 0.0)
    return found


def _gaps(found: list[int | None], free: Mapping[int, None]) -> Iterator[tuple[list[int], list[int]]]:
    """Old items between the old neighbours of each stretch of new items that are not matched yet, and that stretch."""
    j, count = 0, len(found)
    stretches = []
    while j < count:
        k = j
        while k < count and found[k] is None:
            k += 1
        if k > j:
            stretches.append((j, k))
        j = k + 1
    most = max([*free, *(i for i in found if i is not None)], default=-1)
    for j, k in stretches:
        before, after = found[j - 1] if j else -1, found[k] if k < count else most + 1
        assert before is not None
        assert after is not None
        near = []
        i = before + 1
        while i in free:
            near.append(i)
            i += 1
        i = after - 1
        while i in free and i not in near:
            near.append(i)
            i -= 1
        yield sorted(near), list(range(j, k))


def _in_order(old: Sequence[Any], new: Sequence[Any], there: list[int], here: list[int]) -> list[tuple[int, int]]:
    """Pairs of the same kind, in order on both sides, as many and as much alike as can be (Needleman and Wunsch 1970,
    from memory)."""
    if len(there) * len(here) > _MOST_PAIRS:
        return [(i, j) for i, j in zip(there, here, strict=False) if type(old[i]) is type(new[j])]
    rows, columns = len(there), len(here)
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    worth = [[_worth(old[i], new[j]) for j in here] for i in there]
    for a in range(rows - 1, -1, -1):
        for b in range(columns - 1, -1, -1):
            best[a][b] = max(best[a + 1][b + 1] + worth[a][b], best[a + 1][b], best[a][b + 1])
    pairs = []
    a = b = 0
    while a < rows and b < columns:
        if worth[a][b] > 0.0 and best[a][b] == best[a + 1][b + 1] + worth[a][b]:
            pairs.append((there[a], here[b]))
            a, b = a + 1, b + 1
        elif best[a][b] == best[a + 1][b]:
            a += 1
        else:
            b += 1
    return pairs


def _worth(old: Any, new: Any) -> float:
    """0 for another kind, from 1 to 2 for the same."""
    if type(old) is not type(new):
        return 0.0
    if not isinstance(old, Checked):
        return 1.0
    names = attributes(type(old))
    return 1.0 + sum(bool(getattr(old, name) == getattr(new, name)) for name in names) / len(names)


def _pair_alike(
    old: Sequence[Any],
    new: Sequence[Any],
    found: list[int | None],
    free: dict[int, None],
    pair: Callable[[int, int], None],
    above: float,
) -> None:
    """Pair what is left and shares more than ``above`` of what is said of it, most alike first."""
    left = [j for j, i in enumerate(found) if i is None]
    if len(left) * len(free) > _MOST_PAIRS:
        return
    ranked = sorted((-_likeness(old[i], new[j]), abs(i - j), i, j) for i in free for j in left)
    for rank, _, i, j in ranked:
        if -rank > above and i in free and found[j] is None:
            pair(i, j)


def _likeness(old: Any, new: Any) -> float:
    """Share of what is said of the old item, but for its name, that is said of the new one too; 0 for another kind."""
    if type(old) is not type(new) or not isinstance(old, Checked):
        return 0.0
    said, told = dict(_said(old)), dict(_said(new))
    return sum(bool(told.get(place) == value) for place, value in said.items()) / max(1, len(said))


def _said(value: Any, place: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    if isinstance(value, Checked):
        for name, attribute in attributes(type(value)).items():
            here = getattr(value, name)
            if name != "name" and here != attribute.default:
                yield from _said(here, (*place, type(value), name))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _said(item, (*place, index))
    else:
        yield place, value


# --- the text changed in its places --------------------------------------------------------------------------------


class Edit(NamedTuple):
    """``text`` in place of what stands from ``start`` up to ``end``."""

    start: int
    end: int
    text: str


class _Block(NamedTuple):
    """An item's lines: comments above it from ``lead``, its dash's line from ``start``, all of it up to ``end``."""

    lead: int
    start: int
    end: int


def kept(
    document: nodes.Document,
    text: str,
    old: Checked,
    new: Checked,
    files: Mapping[str, str] | None = None,
    before: Checked | None = None,
    origins: Sequence[int | None] | None = None,
) -> str:
    """The text of a file changed from one field or run to another. Raises CannotKeepError.

    ``document`` is the text read, ``old`` the value that it holds; line ends are plain. ``files`` holds new paths of a
    run's field and robot. ``before`` and ``origins`` tell which item was which, see `aligned`: ``before`` holds the
    objects that the new value was made from, ``origins`` a number or None for each of a run's segments.
    """
    keeper = _Keeper(text, document.root)
    return keeper.applied(keeper.root(document.root, old, new, files or {}, before, origins))


class _Keeper:
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
        if _bracketed(node) and self.text[end - 1] in "]}":
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

    # --- what differs

    def root(
        self,
        node: nodes.Mapping,
        old: Checked,
        new: Checked,
        files: Mapping[str, str],
        before: Checked | None,
        origins: Sequence[int | None] | None,
    ) -> list[Edit]:
        edits = []
        given = {key.value: value for key, value in node.value}
        for word, file in files.items():
            if given[word].value != file:
                edits.append(self.name(given[word], file))
        return edits + self.record(node, old, new, before=before, origins=origins)

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
            number = _digits(Decimal(repr(value)) / Decimal(size) / Decimal(kind.unit.scale))
            same = f"{number}{found['between']}{found['unit']}"
            try:
                if len(number) <= _LONGEST_NUMBER and read_quantity(same, kind.unit) == value:
                    text = f"{node.style}{same}{node.style}" if node.style else same
            except UnitError:
                pass
        return Edit(node.start_mark.index, self.end(node), text)

    def value(
        self, node: Node, kind: Kind, old: Any, new: Any, default: Any = None, column: int | None = None
    ) -> list[Edit]:
        """Edits of a value that is there before and after. ``column`` is that of its key, None within brackets."""
        if old == new:
            return []
        match kind:
            case Number():
                return [self.number(node, kind, new)]
            case Choice() | Name():
                return [self.name(node, new)]
            case Pair() if isinstance(node, nodes.Sequence):
                triples = zip(node.value, old, new, strict=True)
                return [self.number(item, kind.number, b) for item, a, b in triples if a != b]
            case Height() if isinstance(node, nodes.Sequence):
                triples = zip(node.value, old, new, strict=True)
                return [self.number(item, kind.number, b) for item, a, b in triples if a != b]
            case Height() if new[0] == 0.0:
                return [self.number(node, kind.top, new[1])]
            case Record() if type(old) is type(new):
                return self.record(node, old, new, default)
            case Maybe():
                return self.value(node, kind.kind, old, new, default, column)
            case Many() if isinstance(node, nodes.Sequence):
                return self.many(node, kind, old, new, column)
            case Either() if type(old) is type(new):
                return [self.name(node, new)] if isinstance(new, str) else self.record(node, old, new, default)
        return self.whole(node, _item(kind, new, default))

    def whole(self, node: Node, plain: Plain) -> list[Edit]:
        """Another value in place of all that stands there; comments within a block stay behind it."""
        start, end = node.start_mark.index, self.end(node)
        if isinstance(node, nodes.Scalar) or _bracketed(node):
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

    def record(
        self,
        node: Node,
        old: Checked,
        new: Checked,
        defaults: object = None,
        before: Checked | None = None,
        origins: Sequence[int | None] | None = None,
    ) -> list[Edit]:
        if not isinstance(node, nodes.Mapping):
            raise CannotKeepError("no keys stand there")
        record = type(new)
        at = {key.value: number for number, (key, _) in enumerate(node.value)}
        column = None if node.flow_style else self.column(node)
        edits: list[Edit] = []
        gone: list[str] = []
        added: dict[str, Plain] = {}
        for word, attribute in ordered(record).items():
            a, b = getattr(old, attribute.name), getattr(new, attribute.name)
            # A run's field and robot are files of their own.
            if (record is Run and word in ("field", "robot")) or a == b:
                continue
            default = getattr(defaults, attribute.name, attribute.default)
            if _is_shape(record, word):
                edits += self.shape(node, at, a, b, column)
                continue
            plain = _plain(record, attribute, b, default)
            if word not in at:
                added[word] = plain
            elif plain is ABSENT:
                gone.append(word)
            elif record is Field and word == "walls":
                edits += self.walls(node.value[at[word]][1], a, b, plain)
            elif isinstance(attribute.kind, Many):
                value = node.value[at[word]][1]
                objects = getattr(before, attribute.name) if before is not None else ()
                numbers = origins if record is Run and attribute.name == "segments" else None
                edits += self.many(value, attribute.kind, a, b, column, objects, numbers)
            else:
                edits += self.value(node.value[at[word]][1], attribute.kind, a, b, default, column)
        if not gone and not added:
            return edits
        if node.flow_style and self.text[node.start_mark.index] != "{":
            # One key within a list's brackets needs no braces of its own: [straight: 100].
            return [Edit(node.start_mark.index, self.end(node), flow(plain_record(new, defaults=defaults)))]
        stay = [word for word in at if word not in gone]
        order = [each for word in ordered(record) for each in (SHAPES if _is_shape(record, word) else (word,))]
        change = self._flow_keys if node.flow_style else self._block_keys
        return edits + change(node, at, stay, gone, added, order, record not in (Run, Field))

    def walls(self, node: Node, old: Any, new: Any, plain: Plain) -> list[Edit]:
        if isinstance(node, nodes.Mapping) and isinstance(plain, dict) and len(node.value) == 1:
            return self.value(node.value[0][1], Height(alone=True), old, new)
        return self.whole(node, plain)

    def shape(self, node: nodes.Mapping, at: Mapping[str, int], old: Any, new: Any, column: int | None) -> list[Edit]:
        word, plain = _shape(new)
        if word in at:
            value = node.value[at[word]][1]
            if isinstance(new, Outline):
                return self.value(value, attributes(Outline)["points"].kind, old.points, new.points, column=column)
            return self.record(value, old, new)
        key, value = node.value[at[_shape(old)[0]]]
        return [Edit(key.start_mark.index, key.end_mark.index, word), *self.whole(value, plain)]

    # --- keys that come and go

    def _after(
        self, node: nodes.Mapping, at: Mapping[str, int], stay: Sequence[str], earlier: Sequence[str]
    ) -> int | None:
        """The number of the last key, of those that stay, after which a new one belongs; None: before them all."""
        return max((at[word] for word in stay if word in earlier), default=None)

    def _flow_keys(
        self,
        node: nodes.Mapping,
        at: Mapping[str, int],
        stay: Sequence[str],
        gone: Sequence[str],
        added: Mapping[str, Plain],
        order: Sequence[str],
        keep: bool,
    ) -> list[Edit]:
        edits = []
        start = node.start_mark.index
        if not stay:
            return [Edit(start, self.end(node), flow(dict(added)))]
        for word, plain in added.items():
            number = self._after(node, at, stay, order[: order.index(word)])
            if number is None:
                place = node.value[0][0].start_mark.index
                edits.append(Edit(place, place, f"{word}: {flow(plain)}, "))
            else:
                place = self.end(node.value[number][1])
                edits.append(Edit(place, place, f", {word}: {flow(plain)}"))
        last = max(at[word] for word in stay)
        for word in gone:
            number = at[word]
            key, value = node.value[number]
            first, end = key.start_mark.index, self.end(value)
            if number > last:
                # With the comma before it; if comments stand between, that one stays and the one behind it goes.
                previous = self.end(node.value[number - 1][1])
                if "#" not in self.masked[previous:first]:
                    edits.append(Edit(previous, end, ""))
                    continue
                edits.append(Edit(first, end, ""))
                more = number + 1 < len(node.value)
                following = node.value[number + 1][0].start_mark.index if more else self.end(node)
                if not more or "#" in self.masked[end:following]:
                    edits += [Edit(comma, comma + 1, "") for comma in self._commas(end, following)]
            else:
                following = node.value[number + 1][0].start_mark.index
                if "#" in self.masked[end:following]:
                    edits += [Edit(comma, comma + 1, "") for comma in self._commas(end, following)]
                    edits.append(Edit(first, end, ""))
                else:
                    edits.append(Edit(first, following, ""))
        return edits

    def _commas(self, start: int, end: int) -> list[int]:
        """The commas between two places that are in no comment."""
        places = (start + found.start() for found in re.finditer(",", self.masked[start:end]))
        return [place for place in places if not any(a <= place < b for a, b in self.comments)]

    def _block_keys(
        self,
        node: nodes.Mapping,
        at: Mapping[str, int],
        stay: Sequence[str],
        gone: Sequence[str],
        added: Mapping[str, Plain],
        order: Sequence[str],
        keep: bool,
    ) -> list[Edit]:
        edits = []
        indent = " " * self.column(node)
        for word, plain in added.items():
            number = self._after(node, at, stay, order[: order.index(word)])
            if isinstance(plain, list) and plain and isinstance(plain[0], dict):
                text = f"{word}:\n{_listed(plain, f'{indent}  ')}".removesuffix("\n")
            else:
                text = f"{word}: {flow(plain)}"
            if number is None:
                place = node.value[0][0].start_mark.index
                edits.append(Edit(place, place, f"{text}\n{indent}"))
            else:
                place = self.tail(self.end(node.value[number][1]), len(indent))
                edits.append(Edit(place, place, f"\n{indent}{text}"))
        for word in gone:
            key, value = node.value[at[word]]
            first = key.start_mark.index
            start, end = self.line_start(first), self.line_end(self.end(value))
            comments = self.comments_in(first, end) if keep else []
            if not self.text[start:first].strip():
                edits.append(Edit(start, min(end + 1, len(self.text)), "".join(f"{indent}{c}\n" for c in comments)))
                continue
            # It stands on the dash's line: the next key comes up to it.
            if at[word] + 1 >= len(node.value) or node.value[at[word] + 1][0].value in gone:
                raise CannotKeepError("no key is left on the line")
            following = node.value[at[word] + 1][0].start_mark.index
            comments = self.comments_in(first, following)
            edits.append(Edit(first, following, "".join(f"{c}\n{indent}" for c in comments)))
        return edits

    # --- lists

    def many(
        self,
        node: Node,
        kind: Many,
        old: Sequence[Any],
        new: Sequence[Any],
        column: int | None,
        before: Sequence[Any] = (),
        origins: Sequence[int | None] | None = None,
    ) -> list[Edit]:
        if not isinstance(node, nodes.Sequence) or len(node.value) != len(old):
            raise CannotKeepError("no list stands there")
        if not new:
            return self.whole(node, [])
        if not old:
            items = [_item(kind.item, item) for item in new]
            start, end = node.start_mark.index, self.end(node)
            if column is None or not _of_records(kind):
                return [Edit(start, end, flow(items))]
            # An empty list in brackets: a line for each item from now on, below what else stands on the key's line.
            place = self.line_end(end)
            colon = len(self._up_to_code(start))
            listed = _listed(items, " " * (column + 2)).removesuffix("\n")
            return [Edit(colon, end, ""), Edit(place, place, f"\n{listed}")]
        if isinstance(kind.item, Pair) and len(old) == len(new):
            # Corners that are dragged stay in their places.
            sources: list[int | None] = list(range(len(old)))
        else:
            sources = _told(origins, len(old)) if origins is not None else aligned(old, new, before)
        edits = [
            self.item(node.value[i], kind.item, old[i], new[j]) if i is not None else [] for j, i in enumerate(sources)
        ]
        if sources == list(range(len(old))):
            return [edit for each in edits for edit in each]
        rebuilt = self._flow_list if node.flow_style else self._block_list
        return rebuilt(node, kind, new, sources, edits)

    def item(self, node: Node, kind: Kind, old: Any, new: Any) -> list[Edit]:
        """Edits of one item; if they cannot be, the item anew, with its comments."""
        if type(old) is type(new):
            try:
                return self.value(node, kind, old, new)
            except CannotKeepError:
                pass
        plain = _item(kind, new)
        start, end = node.start_mark.index, self.end(node)
        if isinstance(node, nodes.Mapping) and not node.flow_style:
            first, *rest = _lines(plain, " " * self.column(node)).split("\n")
            inner = "".join(f"  {comment}" for comment in self.comments_in(start, end))
            return [Edit(start, end, "\n".join([first + inner, *rest]))]
        text = flow(plain)
        comments = self.comments_in(start, end)
        if comments and text.startswith(("{", "[")):
            # Within braces a comment must end with its line.
            lines = [f"{text[0]}  {'  '.join(comments)}", " " * (self.column(node) + 1) + text[1:]]
            text = "\n".join(lines)
        return [Edit(start, end, text)]

    def _block_list(
        self,
        node: nodes.Sequence,
        kind: Many,
        new: Sequence[Any],
        sources: Sequence[int | None],
        edits: Sequence[list[Edit]],
    ) -> list[Edit]:
        column = self.column(node)
        blocks = self._blocks(node, column)
        maps = [item for item in node.value if isinstance(item, nodes.Mapping)]
        in_braces = sum(bool(item.flow_style) for item in maps) * 2 > len(maps)
        # Comments that stand apart above an item that goes are more likely a heading of several.
        heading = dict.fromkeys(range(len(blocks) + 1), "")
        still = {i for i in sources if i is not None}
        for number, block in enumerate(blocks):
            above = self.text[block.lead : block.start]
            apart = number == 0 or any(not line.strip() for line in above.splitlines())
            if number not in still and "#" in above and apart:
                heading[next((k for k in range(number + 1, len(blocks)) if k in still), len(blocks))] += above
        parts = []
        for item, i, changes in zip(new, sources, edits, strict=True):
            if i is None:
                plain = _item(kind.item, item)
                brace = in_braces or not isinstance(plain, dict)
                parts.append(f"{' ' * column}- {flow(plain)}\n" if brace else _listed([plain], " " * column))
            else:
                block = blocks[i]
                text = self.applied(changes, block.lead, block.end)
                parts.append(heading[i] + (text if text.endswith("\n") else f"{text}\n"))
        return [Edit(blocks[0].lead, blocks[-1].end, "".join([*parts, heading[len(blocks)]]))]

    def _blocks(self, node: nodes.Sequence, column: int) -> list[_Block]:
        blocks: list[_Block] = []
        for item in node.value:
            start = self.line_start(item.start_mark.index)
            while not re.match(rf" {{{column}}}-(\s|$)", self.text[start : self.line_end(start)]):
                if start == 0:
                    raise CannotKeepError("no dash stands there")
                start = self.line_start(start - 1)
            lead = start
            # An item's own comments end with what stands farther to the right; all other lines are the next one's.
            floor = blocks[-1].end if blocks else 0
            while lead > floor:
                above = self.line_start(lead - 1)
                if self.text[above:lead].strip() and self.is_comment(above) is None:
                    break
                lead = above
            end = min(self.tail(self.end(item), column) + 1, len(self.text))
            blocks.append(_Block(lead, start, end))
        if any(a.end != b.lead for a, b in pairwise(blocks)):
            raise CannotKeepError("two items share a line")
        return blocks

    def _flow_list(
        self,
        node: nodes.Sequence,
        kind: Many,
        new: Sequence[Any],
        sources: Sequence[int | None],
        edits: Sequence[list[Edit]],
    ) -> list[Edit]:
        """A list in brackets: in one line if it was, else a line for each item, with its comments."""
        spans = [(item.start_mark.index, self.end(item)) for item in node.value]
        start, end = node.start_mark.index, self.end(node)
        texts = [
            self.applied(changes, *spans[i]) if i is not None else flow(_item(kind.item, item))
            for item, i, changes in zip(new, sources, edits, strict=True)
        ]
        between = list(zip([start + 1, *(b for _, b in spans)], [*(a for a, _ in spans), end - 1], strict=True))
        gaps = [self.text[a:b] for a, b in between]
        if not any("\n" in gap for gap in gaps):
            return [Edit(start, end, f"[{gaps[0]}{', '.join(texts)}{gaps[-1].replace(',', '')}]")]
        indent = next(
            (" " * (a - self.line_start(a)) for a, _ in spans if not self.text[self.line_start(a) : a].strip()),
            " " * (start - self.line_start(start) + 1),
        )
        above: list[list[str]] = []
        behind: list[list[str]] = []
        for a, b in between:
            first = min(self.line_end(a), b)
            behind.append(self.comments_in(a, first))
            above.append(self.comments_in(first, b))
        lines = ["[" + "".join(f"  {comment}" for comment in behind[0])]
        for text, i in zip(texts, sources, strict=True):
            if i is not None:
                lines += [indent + comment for comment in above[i]]
            lines.append(f"{indent}{text}," + "".join(f"  {c}" for c in (behind[i + 1] if i is not None else ())))
        lines += [indent + comment for comment in above[-1]]
        return [Edit(start, end, "\n".join([*lines, indent[:-2] + "]"]))]


def _told(origins: Sequence[int | None], old: int) -> list[int | None]:
    """Numbers of old items as somebody gave them, each that there is at most once."""
    taken: set[int] = set()
    told: list[int | None] = []
    for i in origins:
        fits = i is not None and 0 <= i < old and i not in taken
        told.append(i if fits else None)
        if i is not None:
            taken.add(i)
    return told


def _bracketed(node: Node) -> bool:
    """Whether a list or mapping stands in brackets or braces (or, a pair of a list, within brackets)."""
    return bool(getattr(node, "flow_style", False))
