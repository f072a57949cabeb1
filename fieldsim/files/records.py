"""Nodes to records of the model, by the keys of `forms`; all mistakes at once, each at its place."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from fieldsim.files.forms import SEGMENTS, SHAPES, keys_of
from fieldsim.files.nodes import (
    Document,
    Mapping,
    Node,
    Scalar,
    Sequence,
    found,
    is_text,
)
from fieldsim.files.values import BAD, Path, ValueReader
from fieldsim.language import tr, tr_later
from fieldsim.model import Obstacle, StartArea
from fieldsim.model.bounds import (
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
    nearest,
    owner_of,
    phrase,
    said_of,
)
from fieldsim.model.errors import Complaint, PlanError, shown
from fieldsim.model.units import DECIMAL

_ITEM = tr_later("item")

# What a robot is told to do in other words than ours: our key, the sign that the word stands for, and a number to show.
_OTHER_WORDS: dict[str, tuple[str, int, str]] = {
    **dict.fromkeys(("forward", "forwards", "ahead", "drive", "go", "move"), ("straight", 1, "420")),
    **dict.fromkeys(("back", "backward", "backwards", "reverse"), ("straight", -1, "420")),
    **dict.fromkeys(("left", "turn left", "rotate", "spin"), ("turn", 1, "90")),
    **dict.fromkeys(("right", "turn right"), ("turn", -1, "90")),
    **dict.fromkeys(("pause", "sleep", "stop", "delay"), ("wait", 1, "2")),
}


class RecordReader(ValueReader):
    """Reads records, and the lists and choices in them. ``subject`` remembers the words for every path of attributes,
    ``special`` how to read attributes that are read in another way than their kind's."""

    def __init__(self, document: Document) -> None:
        super().__init__(document)
        self.subject: dict[Path, str] = {}
        self.special: dict[type[Checked], dict[str, Callable[[Node, Path], Any]]] = {}

    def record(
        self,
        node: Node,
        record: type[Checked],
        path: Path = (),
        subject: str = "",
        defaults: Any = None,
        check: Callable[[], bool] = lambda: True,
    ) -> Any:
        """A record of the model.

        ``defaults`` is the record whose attributes stand for keys left out; ``check`` is asked before the record is
        made, and says what else is wrong.
        """
        noun = subject or owner_of(record.noun, None)
        self.place[path] = node
        if not isinstance(node, Mapping):
            hint = tr("keys here: {keys}", keys=", ".join(keys_of(record)))
            text = tr("{subject} must be keys with values, found {found}", subject=noun, found=found(node))
            return self.wrong(node, text, hint)
        keys = keys_of(record)
        shapes = record in (Obstacle, StartArea)
        accepted = [key for key in keys if key != "shape" or not shapes]
        if shapes:
            accepted += list(SHAPES)
        given = {key.value: (key, value) for key, value in node.value}
        named = given.get(next(iter(keys)))
        if not subject and named and is_text(named[1]) and path:
            noun = owner_of(record.noun, named[1].value)
        self.subject[path] = noun
        good = True
        special = self.special.get(record, {})
        for word, (key, _) in given.items():
            if word not in accepted:
                good = False
                self.unknown(key, word, noun, accepted)
        values: dict[str, Any] = {}
        for word, attribute in keys.items():
            here = (*path, attribute.name)
            self.subject[here] = phrase(word, noun)
            if word == "shape" and shapes:
                value = self._shape(node, given, here, noun)
            elif word not in given:
                if attribute.required:
                    good = False
                    self.wrong(
                        _start(node),
                        tr("{subject} needs the key '{key}'", subject=noun, key=word),
                        tr("add {key}: {about}", key=word, about=tr(attribute.about)),
                    )
                else:
                    values[attribute.name] = getattr(defaults, attribute.name, attribute.default)
                continue
            elif attribute.name in special:
                value = special[attribute.name](given[word][1], here)
            else:
                value = self.value(given[word][1], attribute.kind, here, phrase(word, noun), attribute.default)
            if value is BAD:
                good = False
            else:
                values[attribute.name] = value
        names_exist = check()
        if good and names_exist:
            return self.build(record, values, path)
        # The record cannot be made; still say what its rules find in the part that could be read.
        for rule in record.rules:
            if set(rule.needs) <= values.keys() and (names_exist or not rule.names):
                self.refuse(path, rule.complain(*(values[name] for name in rule.needs)))
        return BAD

    def build(self, record: type[Checked], values: dict[str, Any], path: Path) -> Any:
        """Make the record; what its rules refuse is reported at its place."""
        try:
            return record(**values)
        except PlanError as refused:
            self.refuse(path, refused.complaints)
            return BAD

    def refuse(self, path: Path, complaints: Iterable[Complaint]) -> None:
        """Report complaints about the attribute at a path."""
        for complaint in complaints:
            full = (*path, *complaint.path)
            about = full
            while about and about not in self.subject:
                about = about[:-1]
            self.wrong(self._at(full), said_of(self.subject[about], complaint.message), complaint.hint)

    def _at(self, path: Path) -> Node:
        while path and path not in self.place:
            path = path[:-1]
        return self.place.get(path, self.document.root)

    def unknown(self, key: Node, word: str, noun: str, accepted: list[str]) -> None:
        guess = nearest(word, accepted)
        hint = tr("keys here: {keys}", keys=", ".join(accepted))
        if guess:
            hint = tr("did you mean '{guess}'? {hint}", guess=guess, hint=hint)
        self.wrong(key, tr("'{word}' is no key of {owner}", word=shown(word), owner=noun), hint)

    def _shape(self, node: Mapping, given: dict[str, tuple[Node, Node]], path: Path, noun: str) -> Any:
        used = [word for word in given if word in SHAPES]
        if len(used) != 1:
            text = tr("{subject} has no shape", subject=noun)
            if used:
                text = tr("{subject} has {shapes}", subject=noun, shapes=tr(" and ").join(used))
            at = given[used[1]][0] if used else _start(node)
            return self.wrong(at, text, tr("give it one of: {words}", words=", ".join(SHAPES)))
        word = used[0]
        self.subject[path] = phrase(word, noun)
        value = given[word][1]
        if word != "outline":
            return self.record(value, SHAPES[word], path, phrase(word, noun))
        kind = keys_of(SHAPES[word])["points"].kind
        points = self.value(value, kind, (*path, "points"), phrase("outline", noun))
        self.subject[(*path, "points")] = self.subject[path]
        return BAD if points is BAD else self.build(SHAPES[word], {"points": points}, path)

    def value(self, node: Node, kind: Kind, path: Path, subject: str, default: Any = None) -> Any:
        """A value of some kind; a record takes the keys left out from ``default``."""
        self.place[path] = node
        match kind:
            case Number():
                return self.number(node, kind, subject)
            case Choice() | Name():
                return self.text(node, kind, subject)
            case Pair():
                return self.pair(node, kind, path, subject)
            case Height():
                return self.height(node, kind, path, subject)
            case Record():
                return self.record(node, kind.record, path, subject, default)
            case Maybe():
                return self.value(node, kind.kind, path, subject)
            case Many():
                return self._many(node, kind, path, subject)
            case Either():
                return self._either(node, kind, path, subject)
        raise TypeError(f"no way to read {kind!r}")

    def _many(self, node: Node, kind: Many, path: Path, subject: str) -> Any:
        if not isinstance(node, Sequence):
            hint = tr("write [one, two] or a line with - for each")
            return self.wrong(
                node, tr("{subject} must be a list, found {found}", subject=subject, found=found(node)), hint
            )
        one = tr(kind.what or _ITEM)
        read = []
        for index, item in enumerate(node.value):
            name = (
                ""
                if isinstance(kind.item, Record)
                else tr("{item} {number} in {subject}", item=one, number=index + 1, subject=subject)
            )
            read.append(self.value(item, kind.item, (*path, index), name))
        # Repeated names and the number of items are looked at among what could be read.
        bad = self.complain(node, subject, kind.complain_count(len(node.value)))
        names: dict[str, int] = {}
        for item, value in zip(node.value, read, strict=True):
            called = value if isinstance(value, str) else _name(item) if value is BAD else getattr(value, "name", None)
            if called is None:
                continue
            if called in names:
                self.wrong(
                    item,
                    tr("{subject} has the name '{name}' twice", subject=subject, name=shown(called)),
                    tr("names must differ"),
                )
                bad = True
            names[called] = 1
        return BAD if bad or BAD in read else tuple(read)

    def _either(self, node: Node, kind: Either, path: Path, subject: str) -> Any:
        records = [option for option in kind.kinds if isinstance(option, Record)]
        texts = [option for option in kind.kinds if isinstance(option, Name)]
        if set(SEGMENTS.values()) == {option.record for option in records}:
            return self._segment(node, path)
        if isinstance(node, Mapping):
            return self.record(node, records[0].record, path, subject)
        return self.text(node, texts[0], subject)

    def _segment(self, node: Node, path: Path) -> Any:
        number = int(path[-1]) + 1
        if not isinstance(node, Mapping):
            known = is_text(node) and node.value in SEGMENTS
            hint = tr("write {key}: and its value", key=node.value) if known else tr("such as straight: 420")
            return self.wrong(
                node,
                tr("segment {number} must be a key with a value, found {found}", number=number, found=found(node)),
                hint,
            )
        given = {key.value: key for key, _ in node.value}
        kinds = [word for word in given if word in SEGMENTS]
        if len(kinds) != 1:
            if kinds:
                text = tr("segment {number} is {kinds} at once", number=number, kinds=tr(" and ").join(kinds))
                return self.wrong(given[kinds[1]], text, tr("put a - in front of each segment"))
            meant = next((said for key, value in node.value if (said := _meant(key.value, value))), "")
            guess = next((near for near in (nearest(word, list(SEGMENTS)) for word in given) if near), None)
            hint = tr("a segment begins with one of: {words}", words=", ".join(SEGMENTS))
            if meant:
                hint = tr("write {value}", value=meant) + "\n" + hint
            elif guess:
                hint = tr("did you mean '{guess}'? {hint}", guess=guess, hint=hint)
            return self.wrong(_start(node), tr("segment {number} says nothing to do", number=number), hint)
        return self.record(node, SEGMENTS[kinds[0]], path, tr("segment {number}", number=number))


def _meant(word: str, value: Node) -> str:
    """A segment that was told in another word, as it is written here; '' if the word says nothing."""
    key, sign, number = _OTHER_WORDS.get(" ".join(word.casefold().replace("_", " ").split()), ("", 1, ""))
    if not key:
        return ""
    if isinstance(value, Scalar) and re.fullmatch(DECIMAL, value.value):
        number = value.value.lstrip("+")
    if sign < 0:
        number = number[1:] if number.startswith("-") else f"-{number}"
    return f"{key}: {number}"


def _name(node: Node) -> str | None:
    """The name a record has, even if the rest of it is wrong."""
    pairs = node.value if isinstance(node, Mapping) else []
    return next((value.value for key, value in pairs if key.value == "name" and is_text(value)), None)


def _start(node: Mapping) -> Node:
    """Where a mapping begins: its first key, which a caret can point at."""
    return node.value[0][0] if node.value else node
