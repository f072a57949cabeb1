"""What a value of the model may be: kinds and bounds, declared once beside each attribute.

The modules of the model write them in the annotations of their dataclasses; values made in Python, files and the JSON
Schema all read them from there. The kinds themselves are in `fieldsim.model.kinds`.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from typing import Annotated, Any, ClassVar, Union, get_args, get_origin, get_type_hints

from fieldsim.language import tr
from fieldsim.model.errors import Complaint, PlanError, shown
from fieldsim.model.kinds import (
    NAME_LENGTH,
    NAME_PATTERN,
    Choice,
    Complaints,
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
    repeated,
    unknown_name,
)  # fmt: skip

__all__ = [
    "NAME_LENGTH",
    "NAME_PATTERN",
    "Attribute",
    "Checked",
    "Choice",
    "Either",
    "Height",
    "Kind",
    "Many",
    "Maybe",
    "Name",
    "Named",
    "Number",
    "Pair",
    "Record",
    "Rule",
    "attributes",
    "nearest",
    "owner_of",
    "phrase",
    "repeated",
    "said_of",
    "unknown_name",
]


@dataclass(frozen=True)
class Rule:
    """A bound that ties several attributes together.

    ``complain`` is called with the values of ``needs`` once each is right by itself. ``schema`` is what a JSON Schema
    can say of the rule, in the file's keys.
    """

    needs: tuple[str, ...]
    complain: Callable[..., Complaints]
    schema: Mapping[str, Any] = field(default_factory=dict)
    names: bool = False
    """It asks whether names exist; a reader of files has asked that already, at their places."""


@dataclass(frozen=True)
class Attribute:
    """One attribute of a dataclass of the model: name, kind, description and default (``MISSING`` if it has none)."""

    name: str
    kind: Kind
    about: str
    default: Any

    @property
    def required(self) -> bool:
        return self.default is MISSING


_KNOWN: dict[type[Any], Mapping[str, Attribute]] = {}


def attributes(record: type[Any]) -> Mapping[str, Attribute]:
    """The attributes of a dataclass of the model, read from its annotations (once)."""
    if record not in _KNOWN:
        if not is_dataclass(record):
            raise TypeError(f"{record!r} is not a dataclass")
        hints = get_type_hints(record, include_extras=True)
        found = {}
        for item in fields(record):
            hint = hints[item.name]
            notes = [note for note in getattr(hint, "__metadata__", ()) if isinstance(note, str)]
            found[item.name] = Attribute(item.name, _kind(hint), " ".join(notes), item.default)
        _KNOWN[record] = types.MappingProxyType(found)
    return _KNOWN[record]


def _kind(hint: Any) -> Kind:
    """The kind an annotation declares, or the one its type implies."""
    if get_origin(hint) is Annotated:
        declared = [note for note in hint.__metadata__ if isinstance(note, Kind)]
        return declared[-1] if declared else _kind(get_args(hint)[0])
    if isinstance(hint, type) and issubclass(hint, Checked):
        return Record(hint)
    if get_origin(hint) in (Union, types.UnionType):
        inner = [_kind(part) for part in get_args(hint) if part is not type(None)]
        kind = inner[0] if len(inner) == 1 else Either(tuple(inner))
        return Maybe(kind) if type(None) in get_args(hint) else kind
    if get_origin(hint) is tuple and get_args(hint)[1:] == (Ellipsis,):
        return Many(_kind(get_args(hint)[0]))
    raise TypeError(f"no kind is declared for {hint!r}")


class Checked:
    """A dataclass of the model that refuses values that cannot be, whether read from a file or made in Python."""

    noun: ClassVar[str] = "value"
    rules: ClassVar[tuple[Rule, ...]] = ()

    def __post_init__(self) -> None:
        complaints: list[Complaint] = []
        good = set()
        for name, attribute in attributes(type(self)).items():
            value = attribute.kind.clean(getattr(self, name))
            object.__setattr__(self, name, value)
            wrong = [Complaint((name, *c.path), c.message, c.hint) for c in attribute.kind.complain(value)]
            if not wrong:
                good.add(name)
            complaints.extend(wrong)
        for rule in self.rules:
            if good.issuperset(rule.needs):
                complaints.extend(rule.complain(*(getattr(self, name) for name in rule.needs)))
        if complaints:
            raise PlanError([_in_python(self, complaint) for complaint in complaints], complaints)

    def __getstate__(self) -> dict[str, Any]:
        # Another process hashes words otherwise.
        return {name: value for name, value in self.__dict__.items() if name != "_hash"}


def kept_hash(record: Checked) -> int:
    """The hash of a record of many parts, worked out once: what is known of a field and a robot is kept by them, and a
    plan asks for it many times."""
    found: int | None = record.__dict__.get("_hash")
    if found is None:
        found = hash(tuple(getattr(record, name) for name in attributes(type(record))))
        object.__setattr__(record, "_hash", found)
    return found


def phrase(key: str, owner: str) -> str:
    """The name of an attribute in a message: 'width' of the body."""
    return tr("'{key}' of {owner}", key=key, owner=owner)


def owner_of(noun: str, name: object) -> str:
    """What a message calls a record: obstacle 'mill', or the body."""
    if isinstance(name, str) and name.strip():
        return tr("{noun} '{name}'", noun=tr(noun), name=shown(name))
    return tr("the {noun}", noun=tr(noun))


def said_of(subject: str, message: str) -> str:
    """A complaint as a sentence: its subject and what goes on after it."""
    return tr("{subject} {message}", subject=subject, message=message)


def _in_python(record: Checked, complaint: Complaint) -> str:
    """A complaint about a record made in Python, as one line."""
    subject = owner_of(record.noun, getattr(record, "name", None))
    value: Any = record
    for step in complaint.path:
        if isinstance(step, str):
            subject = phrase(step, subject)
            value = getattr(value, step, None)
        elif isinstance(value, tuple) and step < len(value):
            value = value[step]
            if isinstance(value, Checked):
                name = getattr(value, "name", None)
                subject = (
                    owner_of(value.noun, name) if name else tr("{noun} {number}", noun=tr(value.noun), number=step + 1)
                )
    text = said_of(subject, complaint.message)
    return tr("{text} ({hint})", text=text, hint=complaint.hint) if complaint.hint else text
