"""Whether a sheet's numbers look as if they were in another unit than its headers say.

Single readings far from their command are refused where they are read. A sheet that is in another unit as a whole fits
itself, and would be believed: a robot that veers ten times too much on straights of 10 cm.
"""

from __future__ import annotations

from typing import Literal

from fieldsim.model.measured import Sheet

__all__ = ["Doubt", "unit_doubts"]

Doubt = Literal["lengths", "angles"]

# A navigation test drives some hundred mm at least, and the longest of a sheet more than this; a turn is some ten
# degrees at least, and the largest of a sheet more than a full circle in radians. Common practice, no source.
SHORT_MM = 200.0
SMALL_DEGREES = 6.5


def unit_doubts(sheet: Sheet) -> dict[Doubt, float]:
    """By what looks wrong, the largest that was asked for: mm or degrees."""
    found: dict[Doubt, float] = {}
    longest = max((abs(test.commanded) for test in sheet.straights), default=None)
    if longest is not None and longest < SHORT_MM:
        found["lengths"] = longest
    largest = max((abs(test.commanded) for test in sheet.turns), default=None)
    if largest is not None and largest < SMALL_DEGREES:
        found["angles"] = largest
    return found
