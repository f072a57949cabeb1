"""The numbers of an accuracy block as words write them: their units, their intervals."""

from __future__ import annotations

from math import ceil, floor, isfinite

from fieldsim.calibration.believed import bounds_of_ends
from fieldsim.calibration.estimate import Estimate
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model import MEASURABLE
from fieldsim.report.phrases import fixed

# How each estimate is written: what one of its unit is in the model, decimals, and the unit's words.
WRITTEN = {
    "bias.distance": (100.0, 2, "%"),
    "bias.veer": (1.0, 2, tr_later("degrees per metre")),
    "bias.turn": (100.0, 2, "%"),
    "bias.turn_left": (100.0, 2, "%"),
    "bias.turn_right": (100.0, 2, "%"),
    "bias.stop": (1.0, 2, "mm"),
    "bias.turn_stop": (1.0, 2, tr_later("degrees")),
    "bias.gyro_scale": (100.0, 2, "%"),
    "bias.backlash": (1.0, 2, "mm"),
    "bias.kick": (1.0, 2, tr_later("degrees")),
    "day.distance": (100.0, 2, "%"),
    "day.veer": (1.0, 2, tr_later("degrees per metre")),
    "day.turn": (100.0, 2, "%"),
    "straight.stop": (1.0, 2, "mm"),
    "straight.distance": (1.0, 2, tr_later("mm per root metre")),
    "straight.veer": (1.0, 2, tr_later("degrees per root metre")),
    "straight.grows": (1.0, 2, tr_later("power of the speed")),
    "turn.grows": (1.0, 2, tr_later("power of the speed")),
    "turn.stop": (1.0, 2, tr_later("degrees")),
    "turn.slip": (1.0, 2, tr_later("degrees per root quarter turn")),
    "gyro.drift": (1.0, 2, tr_later("degrees per minute")),
    "gyro.scale": (100.0, 2, "%"),
    "gyro.hold": (1.0, 2, tr_later("degrees")),
    "heading": (1.0, 2, tr_later("degrees")),
    "square.corner": (100.0, 0, "%"),
    "square.heading": (1.0, 2, tr_later("degrees")),
    "square.along": (1.0, 2, "mm"),
    "square.capture": (1.0, 0, tr_later("degrees")),
}
# Distances where a robot was put down, and the tape.
_LENGTH = (1.0, 2, "mm")

MEANS = {
    "bias": tr_later("bias (the same way every time)"),
    "day": tr_later("day (give or take, from one day to another)"),
    "straight": tr_later("straight (give or take, on each straight)"),
    "turn": tr_later("turn (give or take, on each turn)"),
    "gyro": tr_later("gyro (give or take, of the gyro)"),
    "square": tr_later("square (give or take, after being pushed flat on a wall)"),
}


def number_name(name: str) -> str:
    """A number of the accuracy block as words say it: 'bias: turn'."""
    return name.replace(".", ": ").replace("_", " ")


def form_of(estimate: Estimate) -> tuple[float, int, str]:
    return WRITTEN.get(estimate.name, _LENGTH)


def value_words(estimate: Estimate) -> str:
    """'0.47 %'."""
    scale, decimals, unit = form_of(estimate)
    return tr("{value} {unit}", value=fixed(scale * estimate.value, decimals), unit=tr(unit))


def in_its_unit(name: str, value: float) -> tuple[float, str]:
    """A number of the accuracy block in the unit that it is written in, and that unit."""
    scale, _, unit = WRITTEN.get(name, _LENGTH)
    return scale * value, unit


def estimate_row(estimate: Estimate, name: str, days: bool = False) -> tuple[str, str, str, str]:
    decimals = form_of(estimate)[1]
    low, high = rounded_outwards(estimate.name, estimate.low, estimate.high)
    if isfinite(low) and isfinite(high):
        ends = tr("{low} to {high}", low=fixed(low, decimals), high=fixed(high, decimals))
    elif isfinite(low):
        ends = tr("{low} or more, not known how much more", low=fixed(low, decimals))
    else:
        ends = tr("not known how much")
    count = tr_many("{n} day", "{n} days", estimate.tests) if days else tr_many("{n} test", "{n} tests", estimate.tests)
    return name, value_words(estimate), ends, count


def rounded_outwards(name: str, low: float, high: float) -> tuple[float, float]:
    """The ends of a number as they are written, in its unit; one of the accuracy block's within what a file accepts."""
    scale, decimals, _ = WRITTEN.get(name, _LENGTH)
    step = 10**decimals
    # Ten more decimals are what binary fractions add to a number that a file had before.
    if isfinite(low):
        low = floor(round(low * scale * step, 10)) / step
    if isfinite(high):
        high = ceil(round(high * scale * step, 10)) / step
    if name in MEASURABLE and isfinite(low) and isfinite(high):
        least, most = bounds_of_ends(name)
        low, high = max(low, least * scale), min(high, most * scale)
    return low, high
