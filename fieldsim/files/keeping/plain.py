"""How a value of the model is written in a file: first as plain numbers, texts, lists and mappings, then as text.

The text is put together here and not by a YAML library, which would break long lines in two, write 1e-05 (a text in
YAML 1.1), and choose between braces and blocks by other rules than the people who keep these files.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import isfinite
from typing import Any

from fieldsim.files.forms import SHAPES, keys_of
from fieldsim.language import tr
from fieldsim.model import Field, Obstacle, Outline, Run, StartArea
from fieldsim.model.bounds import (
    Attribute,
    Checked,
    Either,
    Height,
    Kind,
    Many,
    Maybe,
    Number,
    Pair,
    Record,
    attributes,
)
from fieldsim.model.units import DECIMAL, NUMBER, Unit

Plain = Any
"""What stands in a file: numbers, texts, lists and mappings of them."""

ABSENT: Plain = object()
"""Stands for what a file says by leaving the key out."""

# Where people write a key, if that is not the order of the model.
_ORDER: Mapping[type[Checked], tuple[str, ...]] = {
    Run: ("name", "field", "robot", "wear", "start", "segments", "finish"),
    Field: (
        "name",
        "size",
        "walls",
        "mat",
        "picture",
        "obstacles",
        "start_areas",
        "jigs",
        "lines",
        "targets",
        "markers",
    ),
}

# Texts that need no quotes anywhere in YAML 1.1 or 1.2: words, and paths made of words. What YAML takes for something
# else than a text is among the words.
_BARE = re.compile(r"(?:\.\.?/)*[^\W\d_](?:[\w ./()+'-]*[\w.)+])?")
_NO_TEXT = frozenset(("y", "n", "yes", "no", "on", "off", "true", "false", "null"))
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]")


def number_text(value: float, unit: Unit = NUMBER) -> str:
    """A number with all its digits and no more: 420, 412.5, 0.00001; with its unit where it needs one: 0.4 %."""
    number = Decimal(repr(float(value)))
    return digits(number) if unit.bare else f"{digits(number / Decimal(unit.scale))} {unit.symbol}"


def digits(number: Decimal) -> str:
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
        if is_shape(record, word):
            shape_word, points = shape_of(here)
            made[shape_word] = points
            continue
        plain = plain_of(record, attribute, here, default)
        if plain is not ABSENT:
            made[word] = plain
    return made


def is_shape(record: type[Checked], word: str) -> bool:
    return word == "shape" and record in (Obstacle, StartArea)


def shape_of(shape: Any) -> tuple[str, Plain]:
    word = next(word for word, kind in SHAPES.items() if isinstance(shape, kind))
    made = plain_record(shape)
    return word, made["points"] if isinstance(shape, Outline) else made


def plain_of(record: type[Checked], attribute: Attribute, value: Any, default: Any) -> Plain:
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
            return [item_of(kind.item, item) for item in value] or ([] if of_records(kind) else ABSENT)
        case _:
            return item_of(kind, value, default)


def item_of(kind: Kind, value: Any, default: Any = None) -> Plain:
    if isinstance(value, Checked):
        return plain_record(value, defaults=default)
    return value if isinstance(value, str) else _of(kind, value, default)


def of_records(kind: Kind) -> bool:
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


def key_lines(plain: dict[str, Plain], indent: str) -> str:
    """A mapping, a key a line, each line but the first indented."""
    return f"\n{indent}".join(f"{word}: {flow(value)}" for word, value in plain.items())


def listed(items: Sequence[Plain], indent: str) -> str:
    """A list, an item at a dash, each line ended."""
    texts = (key_lines(item, f"{indent}  ") if isinstance(item, dict) else flow(item) for item in items)
    return "".join(f"{indent}- {text}\n" for text in texts)


def fresh(plain: Mapping[str, Plain], apart: bool = False) -> str:
    """The text of a new file from the plain form of a field or run; ``apart`` puts a blank line before each list."""
    parts = []
    for word, value in plain.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            blank = "\n" if apart else ""
            parts.append(f"{blank}{word}:\n{listed(value, '  ')}")
        else:
            parts.append(f"{word}: {flow(value)}\n")
    return "".join(parts)
