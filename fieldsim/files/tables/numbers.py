"""Numbers as people type them into a spreadsheet: with a comma or a point, with marks between thousands, with a unit.

No library decides for us: where a mark may be either, the file's other numbers are asked, and else the team.
"""

from __future__ import annotations

import re

from fieldsim.files.tables.columns import INCH
from fieldsim.language import tr
from fieldsim.model.units import DECIMAL, TIME, Unit, UnitError, plain, read_quantity

# Digits with whatever marks people put between them, then a unit.
_NUMBER = re.compile(r"([+-]?) *([0-9]+(?:[ .,'][0-9]+)*[.,]?|[.,][0-9]+) *(.*)", re.DOTALL)
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}([ .,'])[0-9]{3}(?:\1[0-9]{3})*(?:(?!\1)([.,])([0-9]+))?")
_EXPONENT = re.compile(rf"{DECIMAL}[eE][+-]?[0-9]{{1,3}}")
# Numbers whose one mark can only be the decimal mark.
_NOT_THREE = r"(?:[0-9]*{0}(?:[0-9]{{1,2}}|[0-9]{{4,}})|0*{0}[0-9]+|[0-9]{{4,}}{0}[0-9]+)(?![0-9.,])"
CLEAR_COMMA = re.compile(r"[+-]?" + _NOT_THREE.format(","))
CLEAR_POINT = re.compile(r"[+-]?" + _NOT_THREE.format(r"\."))
_LOOKALIKES = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2019": "'"})
# More digits than any tape has.
_LONGEST = 40


def unit_in(text: str) -> str:
    """The unit that a cell's number carries, '' if none."""
    found = _NUMBER.fullmatch(text.translate(_LOOKALIKES))
    return found[3] if found else ""


def quantity(text: str, unit: Unit, commas: bool, points: bool, header: str = "") -> float:
    """A cell's number, in the model's unit, with or without a unit of its own. Raises `UnitError`.

    ``commas`` and ``points``: elsewhere in the file a comma (a point) is certainly a decimal mark. ``header``: the
    unit of a bare number, if it is not the model's.
    """
    text = text.translate(_LOOKALIKES)
    clock = re.fullmatch(r"([0-9]{1,3}):([0-5][0-9])(?::([0-5][0-9]))?", text)
    if clock and unit == TIME:
        first, second, third = (int(part or 0) for part in clock.groups())
        seconds = first * 60 + second if clock[3] is None else first * 3600 + second * 60 + third
        raise UnitError(tr("is hours or minutes"), tr("write seconds: {seconds}", seconds=seconds))
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise UnitError("")
    sign, digits, word = found.groups()
    if len(digits) > _LONGEST:
        raise UnitError(tr("is far too long for a number"))
    if _EXPONENT.fullmatch(sign + digits.replace(",", ".") + word):
        value = float(sign + digits.replace(",", ".") + word)
        raise UnitError(
            tr("is written with an E"), tr("write {value}", value=plain(value)) if 1e-6 < abs(value) < 1e9 else ""
        )
    number = sign + _decimal(digits, commas, points)
    word = INCH.get(word, word) or header
    return read_quantity(f"{number} {word}", unit) if word else float(number)


def _decimal(digits: str, commas: bool, points: bool) -> str:
    """Digits with a point as decimal mark. Raises `UnitError` where marks could part thousands."""
    marks = [character for character in digits if not character.isdigit()]
    if not marks:
        return digits
    grouped = _THOUSANDS.fullmatch(digits)
    if len(marks) == 1 and marks[0] in ".,":
        dotted = digits.replace(",", ".")
        doubtful = (points or not commas) if marks[0] == "," else commas
        if not grouped or not doubtful:
            return dotted
        whole = digits.replace(marks[0], "")
        hint = tr("write {whole}, or {dotted} if that is meant", whole=whole, dotted=plain(float(dotted)))
        if marks[0] == ",":
            raise UnitError(tr("has a comma that may part thousands"), hint)
        raise UnitError(tr("has a point that may part thousands"), hint)
    if not grouped:
        raise UnitError(tr("is not one number"))
    whole = digits[: grouped.start(2)] if grouped[2] else digits
    bare = whole.replace(grouped[1], "") + (f".{grouped[3]}" if grouped[2] else "")
    raise UnitError(tr("has marks between its thousands"), tr("write {bare}", bare=bare))
