"""How numbers are rounded for people: one rule for text, cards, pictures and the window.

A number is rounded as on paper, from the digits that it is written with: a half goes away from nought, and nought has
no sign. Python's own formats round the binary number beside it, and halves to the even digit, so that 390.95 would be
told as 390.9, and 3922.5 as 3922 where another place says 3923. Bounds are rounded outwards: see `floored`.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Context, Decimal

__all__ = ["Spoken", "ceiled", "fixed", "floored", "nearest", "rounded_down", "rounded_up"]

# Digits enough for every float's decimals: the largest has 309 before its point.
_CONTEXT = Context(prec=400)
_FIXED = re.compile(r"([+]?)\.(\d+)f")
# What binary numbers are off by, in units of the last digit that is told: 0.57 * 100 = 56.99999999999999 stays 57.
LET_OFF = 1e-7


def fixed(value: float, decimals: int) -> str:
    """With so many decimals, and a point whatever the language: '391.0', '0.0' and never '-0.0'."""
    if not math.isfinite(value):
        return f"{value}"
    # The shortest digits that stand for this float are those that a person gave or would see.
    told = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP, _CONTEXT)
    return f"{abs(told) if told == 0 else told:f}"


def nearest(value: float, decimals: int) -> float:
    """The number that `fixed` tells."""
    return float(fixed(value, decimals))


def rounded_down(value: float) -> int:
    return math.floor(value + LET_OFF) if math.isfinite(value) else 0


def rounded_up(value: float) -> int:
    return math.ceil(value - LET_OFF) if math.isfinite(value) else 0


def floored(value: float, decimals: int) -> str:
    """The lower end of an interval: never told as more than it is."""
    return fixed(math.floor(value * 10**decimals + LET_OFF) / 10**decimals, decimals)


def ceiled(value: float, decimals: int) -> str:
    """The upper end of an interval: never told as less than it is."""
    return fixed(math.ceil(value * 10**decimals - LET_OFF) / 10**decimals, decimals)


class Spoken(float):
    """A number that goes into a text's braces: formats such as '.1f' follow the rule of `fixed`."""

    def __format__(self, spec: str) -> str:
        found = _FIXED.fullmatch(spec)
        if found is None or not math.isfinite(self):
            text = float.__format__(self, spec)
            return text.replace("-", "", 1) if float(self) == 0.0 else text
        text = fixed(self, int(found[2]))
        return f"+{text}" if found[1] and not text.startswith("-") else text
