"""Nodes to values of the model, with the place of every mistake; all mistakes of a file at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import inf
from pathlib import PurePath as FilePath
from typing import Any

from fieldsim.files.forms import SEGMENTS, SHAPES, keys_of
from fieldsim.files.nodes import (
    Document,
    Mapping,
    Node,
    Scalar,
    Sequence,
    found,
    is_null,
    is_text,
    number_trap,
    read_as,
)
from fieldsim.language import tr, tr_later
from fieldsim.model import Field, Obstacle, Robot, Run, StartArea, known_names
from fieldsim.model.bounds import (
    Checked,
    Choice,
    Either,
    Height,
    Kind,
    Many,
    Maybe,
    Name,
    Named,
    Number,
    Pair,
    Record,
    nearest,
    owner_of,
    phrase,
    said_of,
    unknown_name,
)
from fieldsim.model.errors import Complaint, PlanError, Problem, shown
from fieldsim.model.match import MOST_RUNS, NOTHING, Match, MatchRun, attachments_of
from fieldsim.model.units import UnitError, read_quantity

BAD: Any = object()
"""Stands for a value that could not be read; what is wrong with it has been said."""

Path = tuple[str | int, ...]

_ITEM = tr_later("item")

# Characters of a path from a run to its field or robot.
LONGEST_PATH = 1000


class Reader:
    """Reads one file. ``problems`` collects what is wrong; ``place`` and ``subject`` remember the node
    and the words for every path of attributes, ``named`` every name of a thing that must exist."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.problems: list[Problem] = []
        self.place: dict[Path, Node] = {}
        self.subject: dict[Path, str] = {}
        self.named: list[tuple[Node, Named, str, str]] = []
        self.special: dict[type[Checked], dict[str, Callable[[Node, Path], Any]]] = {}
        """Attributes of a record that are read in another way than their kind's."""

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
                self._unknown(key, word, noun, accepted)
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

    def _unknown(self, key: Node, word: str, noun: str, accepted: list[str]) -> None:
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
                return self._pair(node, kind, path, subject)
            case Height():
                return self._height(node, kind, path, subject)
            case Record():
                return self.record(node, kind.record, path, subject, default)
            case Maybe():
                return self.value(node, kind.kind, path, subject)
            case Many():
                return self._many(node, kind, path, subject)
            case Either():
                return self._either(node, kind, path, subject)
        raise TypeError(f"no way to read {kind!r}")

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

    def _pair(self, node: Node, kind: Pair, path: Path, subject: str) -> Any:
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

    def _height(self, node: Node, kind: Height, path: Path, subject: str) -> Any:
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
            guess = next((near for near in (nearest(word, list(SEGMENTS)) for word in given) if near), None)
            hint = tr("a segment begins with one of: {words}", words=", ".join(SEGMENTS))
            if guess:
                hint = tr("did you mean '{guess}'? {hint}", guess=guess, hint=hint)
            return self.wrong(_start(node), tr("segment {number} says nothing to do", number=number), hint)
        return self.record(node, SEGMENTS[kinds[0]], path, tr("segment {number}", number=number))

    # --- what is written in a way of its own

    def field(self) -> Any:
        self.special[Field] = {"walls": self._walls}
        return self.record(self.document.root, Field)

    def _walls(self, node: Node, path: Path) -> Any:
        self.place[path] = node
        if is_text(node) and node.value == "none":
            return None
        if not isinstance(node, Mapping):
            hint = tr("write walls: {height: 75}, or walls: none for an open board")
            return self.wrong(
                node, tr("'walls' of the field must be a height or none, found {found}", found=found(node)), hint
            )
        height: Any = (0.0, inf)
        for key, value in node.value:
            if key.value == "height":
                height = self._height(value, Height(alone=True), path, tr("'height' of the walls"))
            else:
                self._unknown(key, key.value, tr("'walls' of the field"), ["height"])
                height = BAD
        return height

    def run(self, load: Callable[[str, Node, type[Checked]], Any]) -> Any:
        """A run; ``load`` reads the field's and the robot's file, named as text at a node."""
        loaded: dict[type[Checked], Any] = {}

        def other(record: type[Checked]) -> Callable[[Node, Path], Any]:
            def read_other(node: Node, path: Path) -> Any:
                text = self._file_name(node, path, owner_of(Run.noun, None), f"{record.noun}.yaml")
                loaded[record] = BAD if text is BAD else load(text, node, record)
                return loaded[record]

            return read_other

        def names_exist() -> bool:
            field, robot = (None if loaded.get(kind, BAD) is BAD else loaded[kind] for kind in (Field, Robot))
            return self._names_exist(known_names(field, robot))

        self.special[Run] = {"field": other(Field), "robot": other(Robot)}
        return self.record(self.document.root, Run, check=names_exist)

    def _file_name(self, node: Node, path: Path, owner: str, example: str) -> Any:
        """The name of another file, seen from the folder of this one."""
        self.place[path] = node
        if not is_text(node) or not node.value.strip() or len(node.value) > LONGEST_PATH:
            text = tr(
                "{subject} must be the name of a file, found {found}",
                subject=phrase(str(path[-1]), owner), found=found(node),
            )  # fmt: skip
            return self.wrong(node, text, tr("such as {example}, seen from the folder of this file", example=example))
        return node.value

    def match(self, load: Callable[[str, Node, type[Checked]], Any]) -> Any:
        """A match; ``load`` reads the file of a run, named as text at a node."""
        # By what a run may be named in 'needs': its own name, its file's name with and without the ending.
        names: dict[str, str] = {}
        files: set[str] = set()
        loaded: list[Any] = []

        def read_run(node: Node, path: Path) -> Any:
            text = self._file_name(node, path, tr("run {number}", number=int(path[-2]) + 1), "first-run.yaml")
            if text is BAD:
                return BAD
            file = FilePath(text)
            if str(file) in files:
                hint = tr("list it once; 'rerun' says whether a run is tried again")
                return self.wrong(node, tr("the run '{text}' is listed already", text=shown(text)), hint)
            files.add(str(file))
            loaded.append(load(text, node, Run))
            return loaded[-1]

        def read_needs(node: Node, path: Path) -> Any:
            subject = phrase("needs", tr("run {number}", number=int(path[-2]) + 1))
            read = self.value(node, Many(Name("the name of a run"), most=MOST_RUNS), path, subject)
            if read is BAD:
                return BAD
            assert isinstance(node, Sequence)
            good = True
            for item, word in zip(node.value, read, strict=True):
                if word not in names:
                    wrong = unknown_name(Named("the name of a run", of="run"), word, short)
                    self.wrong(item, said_of(subject, wrong.message), wrong.hint)
                    good = False
            return tuple(dict.fromkeys(names[word] for word in read)) if good else BAD

        def read_runs(node: Node, path: Path) -> Any:
            # The files first, so that 'needs' can name any of them.
            for index, item in enumerate(node.value if isinstance(node, Sequence) else ()):
                for key, value in item.value if isinstance(item, Mapping) else ():
                    if key.value == "run":
                        runs[id(value)] = read_run(value, (*path, index, "run"))
                        if is_text(value):
                            run, file = runs[id(value)], FilePath(value.value)
                            name = file.stem if run is BAD else run.name
                            short.append(file.stem)
                            names.update({file.name: name, file.stem: name})
                            names.setdefault(name, name)
            kind = keys_of(Match)["runs"].kind
            return self.value(node, kind, path, tr("'runs' of the match"), None)

        runs: dict[int, Any] = {}
        short: list[str] = []

        def attachments_exist() -> bool:
            good = [run for run in loaded if run is not BAD]
            if not good or len(good) < len(runs):
                return True
            known = {"attachment": (*attachments_of(tuple(MatchRun(run) for run in good)), NOTHING)}
            return self._names_exist(known)

        self.special[Match] = {"runs": read_runs}
        self.special[MatchRun] = {"run": lambda node, path: runs[id(node)], "needs": read_needs}
        return self.record(self.document.root, Match, check=attachments_exist)

    def _names_exist(self, known: dict[str, tuple[str, ...]]) -> bool:
        """Say which names nothing has; names of a file that is wrong itself are not looked for."""
        good = True
        for node, kind, name, subject in self.named:
            if all(of in known for of in kind.kinds):
                there = tuple(word for of in kind.kinds for word in known[of])
                if name not in there:
                    complaint = unknown_name(kind, name, there)
                    self.wrong(node, said_of(subject, complaint.message), complaint.hint)
                    good = False
        return good


def _float(text: str) -> float:
    low = text.lower().lstrip("+-")
    if low == ".inf":
        return -inf if text.startswith("-") else inf
    if low == ".nan":
        return float("nan")
    return float(text)


def _name(node: Node) -> str | None:
    """The name a record has, even if the rest of it is wrong."""
    pairs = node.value if isinstance(node, Mapping) else []
    return next((value.value for key, value in pairs if key.value == "name" and is_text(value)), None)


def _start(node: Mapping) -> Node:
    """Where a mapping begins: its first key, which a caret can point at."""
    return node.value[0][0] if node.value else node
