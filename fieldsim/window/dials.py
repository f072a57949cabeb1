"""Numbers that a user can change, of whatever record of the model: what each is called, its steps and bounds, how it is
typed; and what a change answers that cannot be. Runs and fields are changed by the same."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from math import inf, isfinite
from typing import Any, TypeVar, cast

from fieldsim.language import in_digits, tr, tr_later
from fieldsim.model import OtherTable, Spread
from fieldsim.model.bounds import (
    Checked,
    Height,
    Kind,
    Many,
    Maybe,
    Number,
    Pair,
    attributes,
)
from fieldsim.model.errors import PlanError, shown
from fieldsim.model.units import (
    ACCELERATION,
    ANGLE,
    DECIMAL,
    LENGTH,
    SPEED,
    TIME,
    TURN_SPEED,
    Unit,
    UnitError,
    read_quantity,
)

__all__ = [
    "LABELS",
    "Choices",
    "Dial",
    "Refused",
    "accepted",
    "dials_of",
    "find_dial",
    "nudged",
    "parse_number",
    "tidy",
    "typed_value",
    "unwrapped",
    "with_number",
    "with_values",
]


R = TypeVar("R", bound=Checked)


T = TypeVar("T")


@dataclass(frozen=True)
class Refused:
    """A change that cannot be; ``words`` say why, for the person who tried it."""

    words: str


def accepted(make: Callable[[], T]) -> T | Refused:
    """What ``make`` makes, or the model's own complaints: the first of them, and how many more there are."""
    try:
        return make()
    except PlanError as refused:
        lines = refused.lines[:_MOST_LINES]
        more = len(refused.lines) - len(lines)
        return Refused("\n".join([*lines, tr("and {n} more like this", n=more)] if more else lines))


# More complaints than anybody reads beside a pointer: a field made too small lets most things lie outside.
_MOST_LINES = 3


# Steps of the wheel: a large one, and a small one that still matters on the table. By unit, but for what is small.
_STEPS: Mapping[Unit, tuple[float, float]] = {
    LENGTH: (10.0, 1.0),
    ANGLE: (5.0, 0.5),
    TIME: (0.5, 0.1),
    SPEED: (10.0, 1.0),
    TURN_SPEED: (10.0, 1.0),
    ACCELERATION: (50.0, 10.0),
}


_KEY_STEPS: Mapping[str, tuple[float, float]] = {"points": (5.0, 1.0), "gear": (0.1, 0.01)}


_SMALL_STEPS: Mapping[Unit, tuple[float, float]] = {LENGTH: (0.5, 0.1), ANGLE: (0.5, 0.1)}


LABELS: Mapping[str, str] = {
    "about": tr_later("about"),
    "acceleration": tr_later("acceleration"),
    "across": tr_later("across"),
    "against": tr_later("against"),
    "along": tr_later("along"),
    "angle": tr_later("angle"),
    "at.x": "x",
    "at.y": "y",
    "axle": tr_later("axle from the rear face"),
    "capture": tr_later("largest angle off"),
    "center.x": tr_later("x of its middle"),
    "center.y": tr_later("y of its middle"),
    "corner.x": "x",
    "corner.y": "y",
    "distance": tr_later("distance"),
    "end.x": tr_later("x of its end"),
    "end.y": tr_later("y of its end"),
    "face": tr_later("face"),
    "gear": tr_later("gear"),
    "heading": tr_later("heading"),
    "heading_within": tr_later("heading give or take"),
    "height.high": tr_later("upper end"),
    "height.low": tr_later("lower end"),
    "length": tr_later("length"),
    "line": tr_later("line"),
    "mat.heading": tr_later("mat turned, give or take"),
    "mat.x": tr_later("mat x, give or take"),
    "mat.y": tr_later("mat y, give or take"),
    "may_touch": tr_later("may touch"),
    "motor_speed": tr_later("motor's top speed"),
    "passes": tr_later("passes"),
    "radius": tr_later("radius"),
    "reach": tr_later("reach"),
    "seconds": tr_later("seconds"),
    "size.across": tr_later("size across"),
    "size.along": tr_later("size along"),
    "size.x": tr_later("size from left to right"),
    "size.y": tr_later("size from near to far"),
    "speed": tr_later("speed"),
    "spread.across": tr_later("give or take across"),
    "spread.along": tr_later("give or take along"),
    "spread.heading": tr_later("give or take heading"),
    "spread.x": tr_later("give or take x"),
    "spread.y": tr_later("give or take y"),
    "start.x": tr_later("x of its start"),
    "start.y": tr_later("y of its start"),
    "takes": tr_later("takes"),
    "takes_sd": tr_later("takes, give or take"),
    "track": tr_later("track"),
    "turn_speed": tr_later("turning speed"),
    "walls.high": tr_later("upper end of the walls"),
    "walls.low": tr_later("lower end of the walls"),
    "wheel": tr_later("wheel's diameter"),
    "width": tr_later("width"),
    "within": tr_later("within"),
}


@dataclass(frozen=True)
class Dial:
    """A number that a user can change.

    ``value`` is None where a number may be left out and is; ``instead`` then holds in its place, if anything does. It
    is infinite for the upper end of a height without one. ``kind`` has the unit and the bounds, ``coarse`` and ``fine``
    are steps of the wheel in that unit, ``about`` is a sentence of the model on the whole attribute.
    """

    key: str
    label: str
    value: float | None
    kind: Number
    coarse: float
    fine: float
    about: str
    optional: bool = False
    instead: float | None = None

    @property
    def unit(self) -> str:
        """``mm``, ``degrees``, ``s`` ...; empty for a plain number."""
        return tr(self.kind.unit.symbol)

    @property
    def bounds(self) -> str:
        """What is accepted, in words."""
        return self.kind.accepted

    @property
    def text(self) -> str:
        """The value with its unit, or an empty text if there is none."""
        return "" if self.value is None or not isfinite(self.value) else self.kind.unit.show(self.value)


def dials_of(record: Checked, prefix: str = "", small: bool = False) -> tuple[Dial, ...]:
    """The numbers of a record of the model and of the records in it, in their order. Lists are left out."""
    found: list[Dial] = []
    for name, attribute in attributes(type(record)).items():
        value, key = getattr(record, name), f"{prefix}{name}"
        kind, optional = unwrapped(attribute.kind)
        if isinstance(value, Checked):
            found += dials_of(value, f"{key}.", small or isinstance(value, Spread | OtherTable))
        elif isinstance(kind, Number):
            found.append(_dial(key, value, kind, small, attribute.about, optional))
        elif isinstance(kind, Pair) and value is not None:
            parts = zip(kind.words, value, strict=True)
            found += [_dial(f"{key}.{word}", each, kind.number, small, attribute.about) for word, each in parts]
        elif isinstance(kind, Height) and value is not None:
            found.append(_dial(f"{key}.low", value[0], kind.number, small, attribute.about))
            found.append(_dial(f"{key}.high", value[1], kind.top, small, attribute.about, optional=True))
    return tuple(found)


def _dial(key: str, value: float | None, kind: Number, small: bool, about: str, optional: bool = False) -> Dial:
    tail = key.removeprefix("shape.")
    steps = _KEY_STEPS.get(tail) or (_SMALL_STEPS if small else _STEPS).get(kind.unit, (1.0, 1.0))
    label = tr(LABELS.get(tail) or tail.rpartition(".")[2].replace("_", " "))
    return Dial(key, label, value, kind, steps[0], steps[1], tr(about), optional)


def unwrapped(kind: Kind) -> tuple[Kind, bool]:
    """A kind, and whether None is accepted too."""
    return (kind.kind, True) if isinstance(kind, Maybe) else (kind, False)


def with_number(record: R, key: str, value: float | None) -> R:
    """A record with another number at a key of `dials_of`, or at a corner such as ``shape.points.3.x``.

    None takes a number away that may be left out. Raises PlanError if the model refuses it, KeyError for an unknown
    key.
    """
    name, _, rest = key.partition(".")
    known = attributes(type(record))
    if name not in known:
        raise KeyError(key)
    kind, _ = unwrapped(known[name].kind)
    if not rest and not isinstance(kind, Number):
        raise KeyError(key)
    here = getattr(record, name)
    return with_values(record, **{name: _changed(here, kind, rest, value) if rest else value})


def with_values(record: R, **values: Any) -> R:
    """`replace` for a record of whatever kind."""
    return cast(R, replace(cast(Any, record), **values))


def _changed(here: Any, kind: Kind, key: str, value: float | None) -> Any:
    if isinstance(here, Checked):
        return with_number(here, key, value)
    if not isinstance(here, tuple):
        raise KeyError(key)
    word, _, rest = key.partition(".")
    if isinstance(kind, Many):
        if not (rest and word.isdecimal() and int(word) < len(here)):
            raise KeyError(key)
        index, inner = int(word), kind.item
    else:
        words = ("low", "high") if isinstance(kind, Height) else kind.words if isinstance(kind, Pair) else ()
        if word not in words:
            raise KeyError(key)
        index, inner = words.index(word), kind
    # A height without an upper end is told by leaving it out.
    open_end = isinstance(kind, Height) and word == "high" and value is None
    new = _changed(here[index], inner, rest, value) if rest else inf if open_end else value
    return (*here[:index], new, *here[index + 1 :])


def parse_number(text: str, kind: Number, label: str = "this") -> float | Refused:
    """A number as somebody types it: as in a file (``62 cm``, ``620``, ``90 deg``), and with a decimal comma."""
    what = tr("{label} must be {what}", label=label, what=tr(kind.unit.what))
    written = text.strip().translate(_LOOKALIKES)
    if _THOUSANDS.match(written) and in_digits(".") == ".":
        meant = written.replace(",", "", 1)
        return Refused(
            tr(
                "{what}; does '{written}' mean {meant}, or {other}? Write that one",
                what=what,
                written=shown(written),
                meant=meant,
                other=written.replace(",", "."),
            )
        )
    if written.count(",") == 1 and "." not in written:
        written = written.replace(",", ".")
    if len(written) > _LONGEST:
        return Refused(tr("{what}; '{written}' is far too long for a number", what=what, written=shown(written)))
    # The file's reader takes a number without a unit for one; in quotes it would not.
    if kind.unit.bare and re.fullmatch(DECIMAL, written):
        return float(Decimal(written))
    try:
        return read_quantity(written, kind.unit)
    except UnitError as problem:
        hint = problem.hint or tr("such as {example}", example=tr(kind.unit.example).replace(chr(39), ""))
        return Refused(f"{what}; '{shown(text.strip())}' {shown(str(problem), 200)} ({shown(hint, 200)})")


_LOOKALIKES = str.maketrans({"\u2212": "-", "\u2013": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})


# 1,500 is one and a half to some and fifteen hundred to others; where the decimal mark is a comma, it is the former.
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")


_LONGEST = 40


def nudged(dial: Dial, steps: float, fine: bool) -> float:
    """A dial's value so many steps on: to its bound at most, and past 0 where 0 is refused."""
    kind, step = dial.kind, dial.fine if fine else dial.coarse
    start = dial.value if dial.value is not None and isfinite(dial.value) else dial.instead
    if start is None:
        start = max(0.0, kind.least) if isfinite(kind.least) else 0.0
    # In decimals, so that 0.1 three times is 0.3 and a step back is where one was.
    there = float(Decimal(repr(start)) + Decimal(repr(step)) * Decimal(repr(float(steps))))
    if kind.nonzero and there == 0.0:
        there = step if steps > 0 else -step
    return min(max(there, kind.least), kind.most)


def tidy(value: float) -> float:
    """A number to a thousandth, so that files stay readable: far less than anybody can measure, mm or degrees."""
    return round(value, 3) + 0.0


def typed_value(dial: Dial, text: str) -> float | Refused | None:
    """What was typed for a dial; None for an empty text where the number may be left out."""
    if not text.strip():
        return (
            None
            if dial.optional
            else Refused(tr("{label} needs a number; accepted: {bounds}", label=dial.label, bounds=dial.bounds))
        )
    return parse_number(text, dial.kind, dial.label)


def find_dial(dials: tuple[Dial, ...], key: str) -> Dial:
    """The dial of a key. Raises KeyError."""
    for dial in dials:
        if dial.key == key:
            return dial
    raise KeyError(key)


@dataclass(frozen=True)
class Choices:
    """Words that a user can choose from. ``value`` is a word, or all that are chosen if it is ``many``; None stands for
    ``nothing`` ('on the spot', 'anywhere', 'by eye'), which is empty where a word is needed."""

    key: str
    label: str
    value: str | tuple[str, ...] | None
    options: tuple[str, ...]
    about: str
    nothing: str = ""
    names: bool = True
    """Are they names of things, which are the same in every language."""

    @property
    def many(self) -> bool:
        return isinstance(self.value, tuple)
