"""What to type so that the robot does what is wanted: numbers with the known errors of its tests taken out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import copysign, isfinite

from fieldsim.calibration.estimate import Estimate, Typed

# What a team drives most: two lengths that a table has room for, mm, and a quarter turn either way, degrees.
LENGTHS = (300.0, 1000.0)
ANGLES = (90.0, -90.0)


def typed(estimates: Sequence[Estimate], gyro: bool) -> tuple[Typed, ...]:
    """What to type for two straights, and for a quarter turn to the left and to the right; without those that the tests
    do not tell. ``gyro`` is whether the robot steers by one: of a turn by gyro the next straight steers its stop offset
    away."""
    known = {each.name.removeprefix("bias."): each.value for each in estimates if isfinite(each.high)}
    return (*_straights(known), *(_by_gyro(known) if gyro else _by_wheels(known)))


def _straights(known: Mapping[str, float]) -> Iterator[Typed]:
    distance = known.get("distance")
    if distance is not None:
        late = known.get("stop", 0.0)
        for length in LENGTHS:
            yield Typed("straight", length, (length - late) / (1 + distance))


def _by_wheels(known: Mapping[str, float]) -> Iterator[Typed]:
    late = known.get("turn_stop", 0.0)
    for angle in ANGLES:
        share = known.get("turn_left" if angle > 0 else "turn_right", known.get("turn"))
        if share is not None:
            yield Typed("turn", angle, (angle - copysign(late, angle)) / (1 + share))


def _by_gyro(known: Mapping[str, float]) -> Iterator[Typed]:
    scale = known.get("gyro_scale")
    if scale is not None:
        for angle in ANGLES:
            yield Typed("turn", angle, angle * (1 + scale))
