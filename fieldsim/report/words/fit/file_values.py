"""What a fit writes into a robot's and a field's file."""

from __future__ import annotations

from typing import Any

from fieldsim.calibration.believed import believed, values_of
from fieldsim.calibration.estimate import Fit
from fieldsim.calibration.growing import powers
from fieldsim.model import Accuracy, Between, Field
from fieldsim.model.between import DRAWN
from fieldsim.report.words.fit.numbers import WRITTEN, rounded_outwards

Values = dict[tuple[str | int, ...], Any]


def _as_written(value: float, unit: str) -> float | str:
    return f"{value:g} %" if unit == "%" else value


def _between(between: Between) -> dict[str, Any]:
    """What a file says of it: ends rounded outwards, kept within what a file accepts."""
    made: dict[str, Any] = {"tests": int(between.tests)}
    for name in DRAWN:
        ends = between.ends(name)
        if ends is None:
            continue
        group, key = name.split(".")
        unit = WRITTEN[name][2]
        made.setdefault(group, {})[key] = [_as_written(end, unit) for end in rounded_outwards(name, *ends)]
    if between.together:
        made["together"] = [
            {"one": pair.one, "other": pair.other, "correlation": pair.correlation} for pair in between.together
        ]
    if between.robots:
        made["robots"] = [{"of": each.of, "at": list(each.at)} for each in between.robots]
    return made


def file_values(answer: Fit, accuracy: Accuracy) -> Values:
    """What goes into the file of a robot with this accuracy: keys from its top, and the value as a file has it. Nothing
    if nothing is known.

    A number that the tests set no upper end is not known well enough to take the place of the one that is there.
    """
    values: Values = {}
    for name, value in values_of(accuracy, answer).items():
        scale, decimals, unit = WRITTEN[name]
        values["accuracy", *name.split(".")] = _as_written(round(scale * value, decimals), unit)
    values.update({("accuracy", *name.split(".")): power for name, power in powers(answer.grows).items()})
    if answer.squared is not None and answer.squared.corner is not None:
        values["accuracy", "square", "corner"] = answer.squared.corner
    between = believed(accuracy, answer).between
    if values and between is not None:
        values["accuracy", "between"] = _between(between)
    return values


def field_values(answer: Fit, field: Field) -> Values:
    """What goes into a field's file: the spread of each of its jigs that was placed in."""
    places = {placed.jig: _place(field, placed.jig) for placed in answer.placed if placed.jig is not None}
    return {
        ("jigs", place, "spread", each.name): round(each.value, 2)
        for placed in answer.placed
        if placed.jig is not None and (place := places[placed.jig]) is not None
        for each in placed.spread
        # Nought is what the tape cannot see, and no jig is perfect.
        if each.value > 0
    }


def unplaced(answer: Fit, field: Field) -> tuple[str, ...]:
    """Jigs that were placed in and that the field does not have."""
    return tuple(placed.jig for placed in answer.placed if placed.jig is not None and _place(field, placed.jig) is None)


def _place(field: Field, name: str) -> int | None:
    """Which jig of the field is meant: the one of that name, or the only one whose name differs by case alone."""
    names = [jig.name for jig in field.jigs]
    if name in names:
        return names.index(name)
    alike = [i for i, each in enumerate(names) if each.casefold() == name.casefold()]
    return alike[0] if len(alike) == 1 else None
