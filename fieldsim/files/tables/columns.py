"""Which columns a test sheet and a log have, and which attribute of which record each of them holds."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fieldsim.language import tr_later
from fieldsim.lettering import wrapped_lines
from fieldsim.model.bounds import Attribute, Checked, Kind, Maybe, Number, attributes
from fieldsim.model.measured import (
    DropTest,
    LogEntry,
    PlacingTest,
    SquarePathTest,
    SquareTest,
    StraightTest,
    ThereAndBackTest,
    TurnTest,
)
from fieldsim.model.units import ANGLE, LENGTH, SPEED, TURN_SPEED, Unit

# How wide a list of columns may be in a message, in cells.
HINT_WIDTH = 96


def squeezed(word: str) -> str:
    """A name as it is compared: without case and blanks."""
    return "".join(word.split()).casefold()


def header_key(word: str) -> str:
    """A column's name as it is compared: a unit may stand in brackets."""
    return re.sub(r"[(\[](.+)[)\]]$", r"\1", squeezed(word))


def listed(what: str, columns: Sequence[str]) -> str:
    """Columns in lines of a width, none of them cut in two."""
    whole = (column.replace(" ", "\N{NO-BREAK SPACE}") for column in columns)
    return "\n".join(wrapped_lines(f"{what}: {', '.join(whole)}", HINT_WIDTH, "", "  "))


def without_maybe(kind: Kind) -> Kind:
    return kind.kind if isinstance(kind, Maybe) else kind


@dataclass(frozen=True)
class Form:
    """How one kind of row is written: column -> attribute of the record."""

    words: str
    record: type[Checked]
    columns: Mapping[str, Attribute]


@dataclass(frozen=True)
class Layout:
    """A kind of file: its columns in the order of the blank file, and the forms of its rows. ``key`` is the column
    that says which form a row has; without one, there is only one form."""

    noun: str
    columns: tuple[str, ...]
    needed: tuple[str, ...]
    key: str
    forms: Mapping[str, Form]

    def kind(self, column: str) -> Kind:
        """How to read a column of a row whose form is not known."""
        return next(form.columns[column].kind for form in self.forms.values() if column in form.columns)

    def headers(self) -> dict[str, tuple[str, str]]:
        """Every accepted header, squeezed: its column, and the unit of its bare numbers ('' for the column's own)."""
        found = {}
        for column in self.columns:
            kind = None if column == self.key else without_maybe(self.kind(column))
            own = column.rpartition(" ")[2]
            for word in HEADER_UNITS.get(own, {}) if isinstance(kind, Number) else ():
                found[squeezed(column.removesuffix(own) + word)] = (column, HEADER_UNITS[own][word])
        # The plain names last: nothing takes the place of one.
        return found | {squeezed(column): (column, "") for column in self.columns}


def _header_units(unit: Unit, more: Mapping[str, str]) -> dict[str, str]:
    return {word: word for word in unit.words} | dict(more)


INCH = {"inch": "in", "inches": "in", '"': "in"}
# By the unit in a column's name: what may stand in its place, and the unit that is.
HEADER_UNITS = {
    "mm": _header_units(LENGTH, INCH),
    "mm/s": _header_units(SPEED, {f"{word}/s": "in/s" for word in INCH}),
    "deg": _header_units(ANGLE, {}),
    "deg/s": _header_units(TURN_SPEED, {}),
}
# Units as some write them out; only to guess what was meant.
LONG_UNITS = {
    **dict.fromkeys(("cms", "centimeter", "centimeters", "centimetre", "centimetres", "zentimeter"), "cm"),
    **dict.fromkeys(("millimeter", "millimeters", "millimetre", "millimetres", "mms"), "mm"),
    **dict.fromkeys(("meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("inch", "inches", "ins"), "in"),
}


def _form(words: str, record: type[Checked], *columns: tuple[str, str]) -> Form:
    known = attributes(record)
    return Form(words, record, MappingProxyType({column: known[name] for column, name in columns}))


_DATE, _NOTE, _TAPE = ("date", "date"), ("note", "note"), ("tape mm", "tape")
_PROTRACTOR = ("protractor deg", "protractor")
_PHOTO = ("photo mm", "photo"), ("photo deg", "photo_angle")
_SPEED, _TURN_SPEED = ("speed mm/s", "speed"), ("turn speed deg/s", "turn_speed")
_HEADING, _HEADING_FROM = ("heading deg", "heading"), ("heading from", "heading_from")

SHEET = Layout(
    tr_later("test sheet"),
    (
        "date", "test", "heading from", "speed mm/s", "turn speed deg/s", "commanded mm", "commanded deg", "travel mm",
        "sideways mm", "heading deg", "angle deg", "near mm", "far mm", "side mm", "direction", "return x mm",
        "return y mm", "jig", "face", "along mm", "across mm", "tape mm", "protractor deg", "photo mm", "photo deg",
        "result", "came off", "note",
    ),
    ("test",),
    "test",
    MappingProxyType({
        "straight": _form(
            tr_later("a straight test"), StraightTest, _DATE, _HEADING_FROM, _SPEED, ("commanded mm", "commanded"),
            ("travel mm", "travel"), ("sideways mm", "sideways"), _HEADING, _TAPE, _PROTRACTOR, *_PHOTO, _NOTE,
        ),
        "turn": _form(
            tr_later("a turn test"), TurnTest, _DATE, _HEADING_FROM, _TURN_SPEED, ("commanded deg", "commanded"),
            ("angle deg", "angle_read"), ("near mm", "near"), ("far mm", "far"), ("side mm", "side"), _TAPE,
            _PROTRACTOR, *_PHOTO, _NOTE,
        ),
        "square path": _form(
            tr_later("a square path test"), SquarePathTest, _DATE, _HEADING_FROM, _SPEED, _TURN_SPEED, _HEADING,
            ("side mm", "side"), ("direction", "direction"), ("return x mm", "return_x"), ("return y mm", "return_y"),
            _TAPE, _PROTRACTOR, *_PHOTO, _NOTE,
        ),
        "there and back": _form(
            tr_later("a there and back test"), ThereAndBackTest, _DATE, _HEADING_FROM, _SPEED, _HEADING,
            ("commanded mm", "commanded"), ("return x mm", "return_x"), ("return y mm", "return_y"), _TAPE,
            _PROTRACTOR, *_PHOTO, _NOTE,
        ),
        "placing": _form(
            tr_later("a placing test"), PlacingTest, _DATE, _HEADING, ("jig", "jig"), ("along mm", "along"),
            ("across mm", "across"), _TAPE, _PROTRACTOR, *_PHOTO, _NOTE,
        ),
        "square": _form(
            tr_later("a square test"), SquareTest, _DATE, _HEADING, ("face", "face"),
            ("angle deg", "angle"), ("along mm", "along"), ("near mm", "near"), ("far mm", "far"), ("side mm", "side"),
            ("result", "result"), _TAPE, _PROTRACTOR, _NOTE,
        ),
        "drop": _form(
            tr_later("a drop test"), DropTest, _DATE, _TAPE, ("result", "result"), ("came off", "came_off"), _NOTE
        ),
    }),
)  # fmt: skip

LOG = Layout(
    tr_later("log"),
    ("date", "run", "result", "where", "segment", "target", "miss mm", "seconds s", "note"),
    ("run", "result"),
    "",
    MappingProxyType({
        "": _form(
            tr_later("a log"), LogEntry, _DATE, ("run", "run"), ("result", "result"), ("where", "where"),
            ("segment", "segment"), ("target", "target"), ("miss mm", "miss"), ("seconds s", "seconds"), _NOTE,
        ),
    }),
)  # fmt: skip
