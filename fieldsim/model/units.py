"""Units: what a number or a text with a unit means. Files and the public API use mm, degrees and seconds."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from math import isfinite
from types import MappingProxyType

from fieldsim.language import tr

__all__ = [
    "ACCELERATION",
    "ANGLE",
    "LENGTH",
    "MASS",
    "NUMBER",
    "PERCENT",
    "PLAIN_UNITS",
    "SPEED",
    "TIME",
    "TURN_SPEED",
    "Unit",
    "UnitError",
    "plain",
    "read_quantity",
]

DECIMAL = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_TEXT = re.compile(rf"({DECIMAL})\s*(\S.*)?", re.DOTALL)


class UnitError(ValueError):
    """A text is no quantity of the wanted unit. ``hint`` is a guess at what was meant, or empty."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


@dataclass(frozen=True)
class Unit:
    """A kind of quantity.

    ``words`` maps each accepted unit text to its size in ``symbol``, the unit of a bare number. ``bare`` is False
    where a number must carry its unit. ``scale`` is what one ``symbol`` is inside the model (a percent is 0.01).
    """

    what: str
    symbol: str
    example: str
    words: Mapping[str, str] = field(default_factory=dict, hash=False)
    bare: bool = True
    scale: str = "1"

    def show(self, value: float) -> str:
        """A value of the model in words, such as ``140 mm`` or ``0.4 %``."""
        number = plain(float(Decimal(repr(float(value))) / Decimal(self.scale)) if isfinite(value) else value)
        return f"{number} {tr(self.symbol)}".rstrip()

    @property
    def pattern(self) -> str:
        """Regular expression of the texts accepted in a file (for the JSON Schema); empty if none is."""
        if not self.words:
            return ""
        return rf"^\s*{DECIMAL}\s*({'|'.join(re.escape(word) for word in self.words)})\s*$"


def _words(**sizes: str) -> Mapping[str, str]:
    return MappingProxyType(sizes)


_LENGTHS = MappingProxyType({"mm": "1", "cm": "10", "m": "1000", "in": "25.4"})
_ANGLES = MappingProxyType({"deg": "1", "degrees": "1", "°": "1"})

LENGTH = Unit("a length", "mm", "420 or '42 cm'", _LENGTHS)
ANGLE = Unit("an angle", "degrees", "90 or '90 deg'", _ANGLES)
TIME = Unit("a time", "s", "2.5 or '2.5 s'", _words(s="1", ms="0.001"))
SPEED = Unit("a speed", "mm/s", "250 or '25 cm/s'", {f"{word}/s": size for word, size in _LENGTHS.items()})
TURN_SPEED = Unit("a turning speed", "degrees/s", "120 or '120 deg/s'", {f"{w}/s": size for w, size in _ANGLES.items()})
ACCELERATION = Unit(
    "an acceleration",
    "mm/s^2",
    "600 or '0.6 m/s^2'",
    {f"{word}/s{power}": size for word, size in _LENGTHS.items() for power in ("^2", "2", "²")},
)
MASS = Unit("a mass", "kg", "0.9 or '900 g'", _words(kg="1", g="0.001"))
PERCENT = Unit("a percentage", "%", "0.4 %", {"%": "1"}, bare=False, scale="0.01")
NUMBER = Unit("a number", "", "20")

VEER = Unit("a veer in degrees per metre", "degrees/m", "0.3")
DISTANCE_WALK = Unit("a spread in mm per root metre", "mm per root metre", "1.5")
VEER_WALK = Unit("a spread in degrees per root metre", "degrees per root metre", "0.4")
SLIP_WALK = Unit("a spread in degrees per root quarter turn", "degrees per root quarter turn", "0.6")
GYRO_DRIFT = Unit("a drift in degrees per minute", "degrees per minute", "0.5")
PLAIN_UNITS = (NUMBER, VEER, DISTANCE_WALK, VEER_WALK, SLIP_WALK, GYRO_DRIFT)
"""Units of numbers that are written without a unit."""


def plain(value: float) -> str:
    """A number as a person would write it: 140, 0.004, -12.5; never 140.0 or 1e+06."""
    if not isfinite(value):
        return tr("infinite") if value > 0 else tr("minus infinite") if value < 0 else tr("not a number")
    text = f"{value:.7g}"
    if "e" in text:
        text = f"{value:.0f}" if 1 <= abs(value) < 1e16 else f"{value:.3g}" if abs(value) >= 1 else f"{value:.12f}"
        text = text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text
    return "0" if text in {"-0", ""} else text


def read_quantity(text: str, unit: Unit) -> float:
    """Read a text with its unit, such as ``42 cm``, as a value of the model (mm, degrees, seconds, a share of one).

    Conversion is decimal, so that 16.5 in is exactly 419.1 mm. Raises `UnitError` if it is no such quantity.
    """
    found = _TEXT.fullmatch(text.strip())
    if found is None:
        raise UnitError(tr("is no number with a unit"), _comma_guess(text, unit))
    number, word = found.group(1), (found.group(2) or "").strip()
    if word.startswith(",") and (guess := _comma_guess(text, unit)):
        raise UnitError(tr("has a comma in its number"), guess)
    if not unit.words:
        raise UnitError(
            tr("has a unit") if word else tr("is in quotes"), tr("write the number alone: {number}", number=number)
        )
    if not word:
        if unit.bare:
            raise UnitError(
                tr("is in quotes"),
                tr("write {number} without quotes, or add a unit: '{number} {unit}'", number=number, unit=_first(unit)),
            )
        raise UnitError(tr("has no unit"), tr("write {number} {unit}", number=number, unit=_first(unit)))
    size = unit.words.get(word)
    if size is None:
        accepted = ", ".join(unit.words)
        known = next((w for w in unit.words if w == word.casefold()), None)
        guess = (
            tr("write {number} {unit}", number=number, unit=known)
            if known
            else tr("accepted units: {units}", units=accepted)
        )
        raise UnitError(tr("has the unit '{word}', which is not known here", word=word[:20]), guess)
    if len(number) > 400:  # beyond any float; Decimal would work on the digits for long
        raise UnitError(tr("is far too long for a number"))
    return float(Decimal(number) * Decimal(size) * Decimal(unit.scale))


def _first(unit: Unit) -> str:
    return next(iter(unit.words))


def _comma_guess(text: str, unit: Unit) -> str:
    """'1,5 m' is how much of the world writes it."""
    dotted = text.strip().replace(",", ".")
    if text.count(",") == 1 and _TEXT.fullmatch(dotted) and len(dotted) < 40:
        return tr("write {number}, with a point", number=dotted)
    return ""
