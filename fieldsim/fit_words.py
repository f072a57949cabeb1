"""The answer of ``fieldsim fit`` in words, as JSON, and as values for a robot's file."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any

from fieldsim import __version__
from fieldsim.fit import Estimate, Fit
from fieldsim.lettering import numbered, shorten, table, wrapped_lines
from fieldsim.phrases import fixed

# How each estimate is written: what one of its unit is in the model, decimals, and the unit's words.
_WRITTEN = {
    "bias.distance": (100.0, 2, "%"),
    "bias.veer": (1.0, 2, "degrees per metre"),
    "bias.turn": (100.0, 2, "%"),
    "day.distance": (100.0, 2, "%"),
    "day.veer": (1.0, 2, "degrees per metre"),
    "day.turn": (100.0, 2, "%"),
    "straight.stop": (1.0, 2, "mm"),
    "straight.distance": (1.0, 2, "mm per root metre"),
    "straight.veer": (1.0, 2, "degrees per root metre"),
    "turn.stop": (1.0, 2, "degrees"),
    "turn.slip": (1.0, 2, "degrees per root quarter turn"),
}


def _form(estimate: Estimate) -> tuple[float, int, str]:
    if estimate.name in _WRITTEN:
        return _WRITTEN[estimate.name]
    return 1.0, 2, "degrees" if estimate.name.endswith("heading") else "mm"


def fit_text(answer: Fit, robot: str, sheet: str, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    lines = list(wrapped_lines(f"{shorten(robot, 40)}: how accurately it drives, by {shorten(sheet, 60)}", width))
    days = f", on {answer.dates} days" if answer.dates > 1 else ""
    lines += wrapped_lines(f"{answer.tests} tests{days}", width)
    lines += ["", "What the tests say, and between what it may be (95 %)"]
    rows = []
    for estimate in answer.estimates:
        scale, decimals, unit = _form(estimate)
        value, low, high = (scale * end for end in (estimate.value, estimate.low, estimate.high))
        top = fixed(high, decimals) if isfinite(high) else "not known how much"
        rows.append(
            (
                estimate.name.replace(".", ": "),
                f"{fixed(value, decimals)} {unit}",
                f"{fixed(low, decimals)} to {top}",
                f"{estimate.tests} {'days' if estimate.name.startswith('day.') else 'tests'}",
            )
        )
    lines += table(rows, width) if rows else ["  nothing: the sheet has no test that was measured"]
    if answer.outliers:
        lines += ["", "Look at these again: they are in the numbers all the same"]
        lines += [f"  line {outlier.line}: {outlier.why}" for outlier in answer.outliers]
    lines += ["", "What to look at next"]
    lines += numbered(list(_advice(answer)), width)
    lines += ["", "Few tests tell little: it is the width between the two ends that says how little."]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _advice(answer: Fit) -> Iterator[str]:
    for words in answer.unknown:
        yield f"{words[0].upper()}{words[1:]}." if words[0] != "'" else f"{words}."
    wide = [each for each in answer.estimates if each.value > 0 and (each.high - each.low) > 2 * each.value]
    if wide:
        worst = max(wide, key=lambda each: (each.high - each.low) / each.value)
        yield f"Least is known of {worst.name.replace('.', ': ')}: more tests that tell of it would narrow it."
    elif not answer.unknown:
        yield "Write it into the robot's file with --write, and look at a run with try."


def fit_json(answer: Fit) -> dict[str, Any]:
    """The whole answer as plain dictionaries: the accuracy block with value, low and high at each number.

    In the model's units: shares for distance and turn, degrees per metre for veer, mm and degrees for the others; null
    where there is no upper end.
    """
    accuracy: dict[str, Any] = {}
    placing: list[dict[str, Any]] = []
    for each in answer.estimates:
        value = {"value": each.value, "low": each.low, "high": each.high if isfinite(each.high) else None}
        group, _, part = each.name.rpartition(".")
        if group.startswith("placing "):
            placing.append({"jig": group.removeprefix("placing "), "part": part, **value})
        else:
            accuracy.setdefault(group, {})[part] = value
    return {
        "command": "fit",
        "version": __version__,
        "tests": answer.tests,
        "dates": answer.dates,
        "accuracy": accuracy,
        "placing": placing,
        "outliers": [{"line": outlier.line, "why": outlier.why} for outlier in answer.outliers],
        "unknown": list(answer.unknown),
    }


def file_values(answer: Fit) -> dict[tuple[str | int, ...], float | str]:
    """What goes into a robot's file: keys from its top, and the value as a file has it."""
    values: dict[tuple[str | int, ...], float | str] = {}
    for each in answer.estimates:
        if each.name.startswith("placing "):
            continue
        scale, decimals, unit = _form(each)
        number = round(scale * each.value, decimals)
        values["accuracy", *each.name.split(".")] = f"{number:g} %" if unit == "%" else number
    return values
