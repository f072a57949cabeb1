"""How finely a tape or a protractor was read, where a row does not say it: told from the readings themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fieldsim.language import in_digits, tr, tr_later, tr_many
from fieldsim.model.measured import PROTRACTOR, TAPE
from fieldsim.model.units import ANGLE, LENGTH, plain, read_quantity


@dataclass(frozen=True)
class Reading:
    """What was read off a tape or a protractor: the kind of test, its line and column, the value in the model's unit,
    the unit it was written in; ``step`` is how finely it was read, None if the row does not say."""

    words: str
    line: int
    column: str
    tool: str
    value: float
    unit: str
    step: float | None


# Which tool a result is read with; what was commanded is not read at all.
READ_WITH = {
    "travel": "tape", "sideways": "tape", "near": "tape", "far": "tape", "return_x": "tape", "return_y": "tape",
    "along": "tape", "across": "tape", "heading": "protractor", "angle_read": "protractor",
}  # fmt: skip
_TOOL_COLUMNS = {"tape": "tape mm", "protractor": "protractor deg"}
_TOOL_UNITS = {"tape": LENGTH, "protractor": ANGLE}

# Steps that tapes and protractors have, in the unit that was written. The first is taken where nothing is finer.
_DECIMAL_STEPS = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
_FINE_STEPS = (0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
_STEPS = {
    "mm": tuple(TAPE * step for step in _DECIMAL_STEPS),
    "cm": tuple(TAPE / 10 * step for step in _DECIMAL_STEPS),
    "m": tuple(TAPE / 1000 * step for step in _DECIMAL_STEPS),
    # Halves of halves on the tape, or tenths.
    "in": (1 / 16, 0.1, 0.05, 1 / 32, 0.02, 1 / 64, 0.01, 0.005, 0.002, 0.001),
    "deg": (PROTRACTOR, *(step for step in _FINE_STEPS if step < PROTRACTOR)),
}
# As many different readings that all are multiples of five steps hardly come by chance: 1 in 15625.
_COARSE_READINGS = 6
_COARSE = {"tape": (10.0, 5.0), "protractor": (5.0,)}


def _multiple(value: float, step: float) -> bool:
    # Decimals were rounded when they were written and converted.
    return abs(value / step - round(value / step)) < 1e-4


def with_steps(tests: Sequence[Any], readings: Sequence[Reading]) -> tuple[list[Any], list[str]]:
    """The tests, with the step of their readings where a row does not say how finely it was read, and what is to be
    said about steps: a sentence for each kind of test.

    A step is that of a kind of test: a team reads a placing more finely than a straight.
    """
    steps: dict[tuple[int, str], float] = {}
    notes: list[str] = []
    for words, tool in dict.fromkeys((reading.words, reading.tool) for reading in readings):
        mine = [each for each in readings if (each.words, each.tool) == (words, tool)]
        silent = [each for each in mine if each.step is None]
        # A tape's step is that of the finest reading of its row, in whatever unit.
        for unit in dict.fromkeys(each.unit for each in silent):
            alike = [each for each in silent if each.unit == unit]
            size = read_quantity(f"1 {unit}", _TOOL_UNITS[tool])
            known = _STEPS.get(unit, _STEPS["deg"])
            step = next((s for s in known if all(_multiple(each.value / size, s) for each in alike)), known[-1])
            for each in alike:
                key = (each.line, tool)
                steps[key] = min(steps.get(key, step * size), step * size)
            notes += _step_notes(words, tool, alike, step * size, known[0] * size, unit)
        declared = [each for each in mine if each.step is not None and each.unit != "in"]
        finer = [each for each in declared if each.step is not None and not _multiple(each.value, each.step)]
        if finer:
            first, column = finer[0], _TOOL_COLUMNS[tool]
            unit = "mm" if tool == "tape" else "degrees"
            more = len({each.line for each in finer}) - 1
            values = {
                "line": first.line, "read": first.column, "value": in_digits(plain(first.value)),
                "step": in_digits(plain(first.step or 0.0)), "unit": tr(unit), "column": column,
            }  # fmt: skip
            if more:
                text = tr(
                    "line {line} and {more} more: '{read}' is {value}, finer than the {step} {unit} in '{column}'; "
                    "taken as read to what '{column}' says: change it if that is wrong",
                    more=more, **values,
                )  # fmt: skip
            else:
                text = tr(
                    "line {line}: '{read}' is {value}, finer than the {step} {unit} in '{column}'; taken as read to "
                    "what '{column}' says: change it if that is wrong",
                    **values,
                )
            notes.append(text)
    made = []
    for test in tests:
        mine_too = {tool: steps[test.line, tool] for tool in _TOOL_COLUMNS if (test.line, tool) in steps}
        made.append(replace(test, **mine_too) if mine_too else test)
    return made, notes


def _step_notes(
    words: str, tool: str, readings: Sequence[Reading], step: float, usual: float, unit: str
) -> Iterator[str]:
    """``step`` and ``usual`` in the model's unit."""
    column = _TOOL_COLUMNS[tool]
    model = "mm" if tool == "tape" else "degrees"
    lines = len({each.line for each in readings})
    one, many = _COUNTED[words]
    values: dict[str, Any] = {
        "kind": tr(one if lines == 1 else many), "column": column, "unit": tr(model),
        "usual": in_digits(plain(usual)), "step": in_digits(plain(step)),
    }  # fmt: skip
    if unit == "in":
        yield tr_many(
            "{n} {kind} without '{column}' has readings in inches: taken as read to {mm} mm ({inches})",
            "{n} {kind} without '{column}' have readings in inches: taken as read to {mm} mm ({inches})",
            lines, mm=in_digits(plain(round(step, 2))), inches=_inches(step), **values,
        )  # fmt: skip
    elif step < usual - 1e-9:
        first = next(each for each in readings if not _multiple(each.value, usual))
        yield tr_many(
            "{n} {kind} without '{column}' has readings finer than {usual} {unit}, such as {value} on line {line}: "
            "taken as read to {step} {unit}",
            "{n} {kind} without '{column}' have readings finer than {usual} {unit}, such as {value} on line {line}: "
            "taken as read to {step} {unit}",
            lines, value=in_digits(plain(first.value)), line=first.line, **values,
        )  # fmt: skip
    else:
        readings_told = {each.value for each in readings if each.value}
        coarse = next((s for s in _COARSE[tool] if all(_multiple(value, s) for value in readings_told)), None)
        if coarse is not None and len(readings_told) >= _COARSE_READINGS:
            yield tr_many(
                "{n} {kind} without '{column}' has only readings that are multiples of {coarse} {unit}, and all are "
                "taken as read to {usual} {unit}: if they were read no more finely than to {coarse}, write {coarse} in "
                "'{column}'",
                "{n} {kind} without '{column}' have only readings that are multiples of {coarse} {unit}, and all are "
                "taken as read to {usual} {unit}: if they were read no more finely than to {coarse}, write {coarse} in "
                "'{column}'",
                lines, coarse=in_digits(plain(coarse)), **values,
            )  # fmt: skip


# What so many tests of a form are called.
_COUNTED = {
    "a straight test": (tr_later("straight test"), tr_later("straight tests")),
    "a turn test": (tr_later("turn test"), tr_later("turn tests")),
    "a square path test": (tr_later("square path test"), tr_later("square path tests")),
    "a there and back test": (tr_later("there and back test"), tr_later("there and back tests")),
    "a placing test": (tr_later("placing test"), tr_later("placing tests")),
    "a square test": (tr_later("square test"), tr_later("square tests")),
    "a drop test": (tr_later("drop test"), tr_later("drop tests")),
}


def _inches(step: float) -> str:
    inches = step / 25.4
    return f"1/{round(1 / inches)} in" if _multiple(1 / inches, 2) else f"{in_digits(plain(inches))} in"
