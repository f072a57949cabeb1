"""JSON Schema (draft 2020-12) of each kind of file, from the same kinds and bounds the reader uses."""

from __future__ import annotations

from dataclasses import MISSING
from math import inf
from typing import Any

from fieldsim.files.forms import KINDS, SHAPES, keys_of
from fieldsim.language import tr
from fieldsim.model import Field, Obstacle, Outline, Run, StartArea
from fieldsim.model.bounds import (
    NAME_PATTERN,
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
)
from fieldsim.model.match import MatchRun

__all__ = ["schema"]


def schema(kind: str) -> dict[str, Any]:
    """The schema of 'field', 'robot', 'run' or 'match' as it is written in a file: lengths with units, shapes by key.

    It cannot say what ties values together (a jig that must exist, an outline that may not cross itself): the reader
    does. Raises KeyError for another kind.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"fieldsim {kind}",
        **_record(KINDS[kind]),
    }


def _record(record: type[Checked], defaults: Any = None) -> dict[str, Any]:
    if record is Outline:
        return _of(keys_of(record)["points"].kind)
    properties: dict[str, Any] = {}
    required = []
    for word, attribute in keys_of(record).items():
        if word == "shape" and record in (Obstacle, StartArea):
            properties |= {key: _record(shape) for key, shape in SHAPES.items()}
            continue
        if (record is Run and word in ("field", "robot")) or (record is MatchRun and word == "run"):
            made: dict[str, Any] = {"type": "string", "minLength": 1}
        elif record is Field and word == "walls":
            made = {"anyOf": [{"const": "none"}, _object({"height": _of(Height(alone=True))}, [])]}
        else:
            made = _of(attribute.kind, attribute.default)
        made = {"description": tr(attribute.about), **made}
        if attribute.required:
            required.append(word)
        else:
            default = _plain(getattr(defaults, attribute.name, attribute.default), attribute.kind)
            if default is not MISSING:
                made["default"] = default
        properties[word] = made
    found = _object(properties, required)
    if record in (Obstacle, StartArea):
        found["oneOf"] = [{"required": [key]} for key in SHAPES]
    ties = [dict(rule.schema) for rule in record.rules if rule.schema]
    if ties:
        found["allOf"] = ties
    return found


def _object(properties: dict[str, Any], required: list[str]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def _of(kind: Kind, default: Any = None) -> dict[str, Any]:
    match kind:
        case Number():
            return _number(kind)
        case Choice():
            return {"enum": list(kind.options)}
        case Name():
            return {"type": "string", "minLength": 1, "maxLength": 80, "pattern": NAME_PATTERN}
        case Pair():
            return _tuple([_number(kind.number)] * len(kind.words))
        case Height():
            band = _tuple([_number(kind.number), _number(kind.number)])
            return {"anyOf": [_number(kind.top), band]} if kind.alone else band
        case Record():
            return _record(kind.record, default)
        case Maybe():
            return _of(kind.kind)
        case Many():
            found = {"type": "array", "items": _of(kind.item), "minItems": kind.least, "maxItems": kind.most}
            # Names may not be repeated.
            return {**found, "uniqueItems": True} if isinstance(kind.item, Name) else found
        case Either():
            return {"oneOf": [_of(option) for option in kind.kinds]}
    raise TypeError(f"no schema for {kind!r}")


def _tuple(items: list[dict[str, Any]]) -> dict[str, Any]:
    return {"type": "array", "prefixItems": items, "items": False, "minItems": len(items), "maxItems": len(items)}


def _number(kind: Number) -> dict[str, Any]:
    scale = float(kind.unit.scale)
    bare: dict[str, Any] = {"type": "number"}
    for word, bound in (
        ("minimum", kind.least),
        ("maximum", kind.most),
        ("exclusiveMinimum", kind.above),
        ("exclusiveMaximum", kind.below),
    ):
        if abs(bound) < inf:
            bare[word] = bound / scale
    if kind.nonzero:
        bare["not"] = {"const": 0}
    if kind.whole:
        bare["multipleOf"] = 1
    text = {"type": "string", "pattern": kind.unit.pattern}
    if not kind.unit.bare:
        return text
    return {"anyOf": [bare, text]} if kind.unit.pattern else bare


def _plain(default: Any, kind: Kind) -> Any:
    """A default as it would be written; MISSING if a file has no short form for it (records show theirs by key)."""
    if isinstance(kind, Number) and not kind.unit.bare:
        return kind.unit.show(default)
    if isinstance(default, bool | int | str):
        return default
    if isinstance(default, float):
        return default if abs(default) < inf else MISSING
    if isinstance(default, tuple) and not default:
        return []
    return MISSING
