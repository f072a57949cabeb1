"""Answers as JSON, and the JSON Schema of that: both from the answers' own types, so that neither can forget a key.

An answer is a tree of frozen dataclasses and named tuples. Each of their attributes is a key of the same name, told in
the order in which they stand; what else is to be known of it stands in its annotation, as words or as `Told`::

    p05: Annotated[Perhaps, "mm left in 19 of 20 trials"]
    why_not: Annotated[str | None, Told("why not", key="why")]

A property is a key too if it is marked `told_as`; a ``ClassVar`` of one literal is a constant. The keys are a promise
to other people's scripts: add some, never rename or drop one. Lengths in mm, headings in degrees, times in seconds,
shares from 0 to 1, segments counted from 1. Numbers keep every digit: rounding is for the faces that show them. JSON
has no not-a-number and no infinity: a number that is not there is ``null``.

Ours and not a library's: msgspec, pydantic and cattrs were looked at, and none of them flattens one record into another
or tells properties in their place, so that each would need as much code around it, and time to load besides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from math import isfinite
from types import NoneType, UnionType
from typing import Annotated, Any, ClassVar, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

__all__ = ["Perhaps", "Told", "answer_schema", "to_json", "told_as"]

Schema = dict[str, Any]
F = TypeVar("F", bound=Callable[..., Any])


@dataclass(frozen=True)
class Told:
    """How an attribute is told."""

    about: str = ""
    """What it is, for programmers: in English."""
    key: str = ""
    """Its key, where that is not its name."""
    after: str = ""
    """It stands after the key of this attribute; else where it stands in its class."""
    hidden: bool = False
    """No key of the answer."""
    spread: bool = False
    """A record whose keys stand among those of the record it is in."""
    beside: bool = False
    """Likewise, its first key by the attribute's name, the others with that before them: points, points_low."""
    only: str = ""
    """Of a record this attribute alone."""
    one_of: tuple[str, ...] = ()
    """A text that is one of these words, whatever the language."""
    key_from: str = ""
    """Its key is the value of that attribute, which is one of a few words."""
    nullable: bool = False
    """A number that may be not a number, or infinite: null then."""
    as_stands: bool = False
    """A record with its attributes as they stand, in their order, whatever they are told as elsewhere."""


Perhaps = Annotated[float, Told(nullable=True)]
"""A number that may be not a number, or infinite."""


def told_as(about: str = "", *, after: str, key: str = "") -> Callable[[F], F]:
    """Mark the getter of a property as a key, after that of another attribute."""

    def marked(getter: F) -> F:
        getter.told = Told(about, key=key, after=after)  # type: ignore[attr-defined]
        return getter

    return marked


def to_json(answer: Any) -> dict[str, Any]:
    """An answer as plain dictionaries and lists, ready for ``json.dumps(..., allow_nan=False)``."""
    return cast("dict[str, Any]", _shape(cast("Any", type(answer))).plain(answer))


def answer_schema(answers: Sequence[type], title: str) -> Schema:
    """JSON Schema (draft 2020-12) of one of these answers. No other key is let through and none may be missing."""
    defs: dict[str, Schema] = {}
    # An answer itself stands at the top, what it is made of among the definitions.
    tops = [cast("_Record", _shape(answer)).whole(defs) for answer in answers]
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title}
    return {**head, **(tops[0] if len(tops) == 1 else {"oneOf": tops}), "$defs": defs}


_DEFS = "#/$defs/"


# --- shapes: what a type looks like in JSON -------------------------------------------------------------------------


class _Shape:
    """What values of one type look like: ``plain`` makes one JSON's own, ``schema`` describes all of them."""

    def plain(self, value: Any) -> Any:
        return value

    def schema(self, defs: dict[str, Schema]) -> Schema:
        raise NotImplementedError


class _Text(_Shape):
    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"type": "string"}


class _Flag(_Shape):
    # numpy's own booleans and numbers stop `json`.
    def plain(self, value: Any) -> bool:
        return bool(value)

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"type": "boolean"}


class _Whole(_Shape):
    def plain(self, value: Any) -> int:
        return int(value)

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"type": "integer"}


@dataclass(frozen=True)
class _Number(_Shape):
    nullable: bool

    def plain(self, value: Any) -> float | None:
        return float(value) if isfinite(value) else None

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return _or_null({"type": "number"}) if self.nullable else {"type": "number"}


@dataclass(frozen=True)
class _Words(_Shape):
    """One of a few words that stay the same whatever the language."""

    known: tuple[str, ...]

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"enum": list(self.known)}


@dataclass(frozen=True)
class _Constant(_Shape):
    value: str

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"const": self.value}


@dataclass(frozen=True)
class _Maybe(_Shape):
    shape: _Shape

    def plain(self, value: Any) -> Any:
        return None if value is None else self.shape.plain(value)

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return _or_null(self.shape.schema(defs))


@dataclass(frozen=True)
class _Many(_Shape):
    item: _Shape

    def plain(self, value: Any) -> list[Any]:
        return [self.item.plain(each) for each in value]

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"type": "array", "items": self.item.schema(defs)}


@dataclass(frozen=True)
class _Row(_Shape):
    """So many values, each with its own meaning."""

    items: tuple[_Shape, ...]

    def plain(self, value: Any) -> list[Any]:
        return [item.plain(each) for item, each in zip(self.items, value, strict=True)]

    def schema(self, defs: dict[str, Schema]) -> Schema:
        n = len(self.items)
        each = [item.schema(defs) for item in self.items]
        alike = {"items": each[0]} if all(one == each[0] for one in each) else {"prefixItems": each}
        return {"type": "array", **alike, "minItems": n, "maxItems": n}


@dataclass(frozen=True)
class _ByName(_Shape):
    item: _Shape

    def plain(self, value: Any) -> dict[str, Any]:
        return {name: self.item.plain(each) for name, each in value.items()}

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return {"type": "object", "additionalProperties": self.item.schema(defs)}


@dataclass(frozen=True)
class _Key:
    """A key of a record: where its value comes from and what it looks like."""

    name: str
    path: tuple[str, ...]
    shape: _Shape
    about: str = ""
    name_from: str = ""
    names: tuple[str, ...] = ()
    """The words that ``name_from`` can be."""


@dataclass(frozen=True)
class _Record(_Shape):
    name: str
    about: str
    keys: tuple[_Key, ...]

    def plain(self, value: Any) -> dict[str, Any]:
        found = {}
        for key in self.keys:
            each = value
            for part in key.path:
                each = getattr(each, part)
            found[getattr(value, key.name_from) if key.name_from else key.name] = key.shape.plain(each)
        return found

    def whole(self, defs: dict[str, Schema]) -> Schema:
        properties: dict[str, Schema] = {}
        required = []
        for key in self.keys:
            told = _with_words(key.shape.schema(defs), key.about)
            properties |= dict.fromkeys(key.names or (key.name,), told)
            required += [] if key.names else [key.name]
        return {
            "type": "object",
            **({"description": self.about} if self.about else {}),
            "properties": properties,
            "required": required,
            "additionalProperties": False,
        }

    def schema(self, defs: dict[str, Schema]) -> Schema:
        if self.name not in defs:
            defs[self.name] = self.whole(defs)
        return {"$ref": f"{_DEFS}{self.name}"}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _with_words(schema: Schema, about: str) -> Schema:
    return {**schema, "description": about} if about else schema


# --- from types to shapes -------------------------------------------------------------------------------------------


def _taken_apart(hint: Any) -> tuple[Any, Told]:
    """A type, and what its annotation tells. Words are what it is about; of several the outermost count."""
    told = Told()
    if get_origin(hint) is Annotated:
        hint, *marks = get_args(hint)
        for mark in marks:
            if isinstance(mark, str):
                told = replace(told, about=mark)
            elif isinstance(mark, Told):
                given = {each.name: value for each in fields(Told) if (value := getattr(mark, each.name))}
                told = replace(told, **given)
    return hint, told


@cache
def _shape(hint: Any, as_stands: bool = False) -> _Shape:
    hint, told = _taken_apart(hint)
    found = _bare_shape(hint, told, as_stands)
    return _Described(found, told.about) if told.about else found


@dataclass(frozen=True)
class _Described(_Shape):
    """A part with words of its own, such as one of the values of a row."""

    shape: _Shape
    about: str

    def plain(self, value: Any) -> Any:
        return self.shape.plain(value)

    def schema(self, defs: dict[str, Schema]) -> Schema:
        return _with_words(self.shape.schema(defs), self.about)


def _bare_shape(hint: Any, told: Told, as_stands: bool = False) -> _Shape:
    as_stands = as_stands or told.as_stands
    if told.one_of:
        return _Words(told.one_of)
    simple: Mapping[Any, _Shape] = {str: _Text(), bool: _Flag(), int: _Whole(), float: _Number(told.nullable)}
    if hint in simple:
        return simple[hint]
    kind, parts = get_origin(hint), get_args(hint)
    if kind is Literal:
        return _Words(parts)
    if kind in (Union, UnionType):
        (one,) = (part for part in parts if part is not NoneType)
        return _Maybe(_shape(one, as_stands))
    if kind is tuple:
        if parts[1:] == (...,):
            return _Many(_shape(parts[0], as_stands))
        return _Row(tuple(_shape(part, as_stands) for part in parts))
    if isinstance(kind, type) and issubclass(kind, Mapping):
        return _ByName(_shape(parts[1], as_stands))
    if isinstance(hint, type) and issubclass(hint, tuple) and as_stands:
        return _Row(tuple(_shape(part, True) for part in get_type_hints(hint, include_extras=True).values()))
    if is_dataclass(hint) or (isinstance(hint, type) and hasattr(hint, "_fields")):
        return _record(hint, as_stands)
    raise TypeError(f"an answer cannot hold {hint!r}")


def _record(cls: Any, as_stands: bool) -> _Record:
    """``cls`` with the keys of its attributes, and the properties among them."""
    hints = get_type_hints(cls, include_extras=True)
    told = {name: _taken_apart(hint) for name, hint in hints.items()}
    order = list(told)
    if not as_stands:
        for name, member in vars(cls).items():
            mark = getattr(member.fget, "told", None) if isinstance(member, property) else None
            if mark is not None:
                hint, own = _taken_apart(get_type_hints(member.fget, include_extras=True)["return"])
                told[name] = hint, replace(mark, about=mark.about or own.about, nullable=own.nullable)
                order.append(name)
        order = _in_place(order, {name: mark.after for name, (_, mark) in told.items() if mark.after})
    keys: list[_Key] = []
    for name in order:
        hint, mark = told[name]
        if get_origin(hint) is ClassVar or hint is ClassVar:
            constant = get_args(hint)[0] if get_args(hint) else None
            if get_origin(constant) is Literal:
                keys.append(_Key(name, (name,), _Constant(*get_args(constant))))
            continue
        if as_stands:
            mark = Told(mark.about, nullable=mark.nullable, one_of=mark.one_of)
        keys += _keys(name, hint, mark, told, as_stands)
    # A key told again takes the place of the first, whose attribute may be another record's.
    keys = list({(key.name_from, key.name): key for key in keys}.values())
    about = " ".join((cls.__doc__ or "").split("\n\n")[0].split())
    room, kind = cls.__module__.removeprefix("fieldsim.").split(".")[0], cls.__name__
    if about.startswith(f"{kind}("):
        # What a dataclass says of itself when nobody else does.
        about = ""
    if as_stands and (usual := _record(cls, False)).keys == tuple(keys):
        return usual
    return _Record(f"{room}.{kind}{' as it stands' if as_stands else ''}", about, tuple(keys))


def _keys(name: str, hint: Any, mark: Told, told: Mapping[str, tuple[Any, Told]], as_stands: bool) -> list[_Key]:
    """What one attribute is told by: one key mostly, none if hidden, those of its record if spread."""
    if mark.hidden:
        return []
    key = mark.key or name
    if mark.spread or mark.beside:
        inner = cast("_Record", _bare_shape(hint, Told())).keys
        names = [each.name for each in inner]
        if mark.beside:
            names = [key, *(f"{key}_{each}" for each in names[1:])]
        abouts = [mark.about or inner[0].about, *(each.about for each in inner[1:])] if mark.beside else None
        return [
            replace(each, name=said, path=(name, *each.path), about=abouts[k] if abouts else each.about)
            for k, (each, said) in enumerate(zip(inner, names, strict=True))
        ]
    if mark.only:
        (one,) = (each for each in cast("_Record", _bare_shape(hint, Told())).keys if each.name == mark.only)
        return [replace(one, name=key, path=(name, *one.path), about=mark.about or one.about)]
    words = told[mark.key_from][1].one_of if mark.key_from else ()
    return [_Key(key, (name,), _bare_shape(hint, mark, as_stands), mark.about, mark.key_from, words)]


def _in_place(order: list[str], after: Mapping[str, str]) -> list[str]:
    """The names with those that stand after another one put there, in the order in which they came."""
    placed = [name for name in order if name not in after]
    left = [name for name in order if name in after]
    behind: dict[str, list[str]] = {}
    for name in left:
        behind.setdefault(after[name], []).append(name)

    def with_followers(name: str) -> list[str]:
        return [name, *(each for follower in behind.pop(name, []) for each in with_followers(follower))]

    found = [each for name in placed for each in with_followers(name)]
    if behind:
        raise TypeError(f"nothing to stand after: {sorted(behind)}")
    return found
