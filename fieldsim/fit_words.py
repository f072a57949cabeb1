"""The answer of ``fieldsim fit`` in words, as JSON, and as values for a robot's and a field's file."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor, isfinite
from typing import Any

from fieldsim import __version__
from fieldsim.fit import Estimate, Fit, Placed, believed, bounds_of_ends
from fieldsim.lettering import numbered, shorten, table, wrapped_lines
from fieldsim.model import MEASURABLE, Accuracy, Between, Field
from fieldsim.phrases import NAME_CELLS, fixed
from fieldsim.square_path import SquarePathAnswer

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
    "gyro.drift": (1.0, 2, "degrees per minute"),
    "gyro.scale": (100.0, 2, "%"),
    "gyro.hold": (1.0, 2, "degrees"),
    "heading": (1.0, 2, "degrees"),
}
# Distances where a robot was put down, and the tape.
_LENGTH = (1.0, 2, "mm")

_MEANS = {
    "bias": "the same way every time",
    "day": "give or take, from one day to another",
    "straight": "give or take, on each straight",
    "turn": "give or take, on each turn",
    "gyro": "give or take, of the gyro",
}


def number_name(name: str) -> str:
    """A number of the accuracy block as words say it: 'bias: turn'."""
    return name.replace(".", ": ")


def _form(estimate: Estimate) -> tuple[float, int, str]:
    return _WRITTEN.get(estimate.name, _LENGTH)


def _row(estimate: Estimate, name: str, noun: str = "tests") -> tuple[str, str, str, str]:
    scale, decimals, unit = _form(estimate)
    value, low, high = (scale * end for end in (estimate.value, estimate.low, estimate.high))
    ends = f"{fixed(low, decimals)} to " if isfinite(low) else ""
    ends += fixed(high, decimals) if isfinite(high) else "not known how much"
    count = f"{estimate.tests} {noun if estimate.tests != 1 else noun[:-1]}"
    return name, f"{fixed(value, decimals)} {unit}", ends, count


def fit_text(answer: Fit, robot: str, sheet: str, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    lines = list(wrapped_lines(f"{shorten(robot, 40)}: how accurately it drives, by {shorten(sheet, 60)}", width))
    days = f", on {answer.dates} days" if answer.dates > 1 else ""
    lines += wrapped_lines(f"{answer.tests} {'test' if answer.tests == 1 else 'tests'}{days}", width)
    lines += ["", "What the tests say, and between what it may be (95 %)"]
    if not answer.estimates:
        lines.append(
            "  nothing: the sheet has no test that was driven" if answer.tests else "  nothing: the sheet has no test"
        )
    for group, means in _MEANS.items():
        mine = [each for each in answer.estimates if each.name.startswith(f"{group}.")]
        if mine:
            lines += wrapped_lines(f"{group} ({means})", width, "  ", "  ")
            rows = [_row(each, f"  {number_name(each.name)}", "days" if group == "day" else "tests") for each in mine]
            lines += table(rows, width)
    if answer.tape is not None:
        lines += wrapped_lines("the tape (how it is held and read, beyond its own steps)", width, "  ", "  ")
        lines += table([_row(answer.tape, "  tape")], width)
    for placed in answer.placed:
        lines += _placed_lines(placed, width)
    if answer.squares:
        lines += ["", "Square paths driven both ways round, by the published formulas"]
        for square in answer.squares:
            lines += wrapped_lines(square_words(square), width, "  ", "  ")
    if answer.drops.passed or answer.drops.failed:
        lines += ["", "Drop tests (counted, not simulated)"]
        lines += wrapped_lines(drop_words(answer), width, "  ", "  ")
    if answer.outliers:
        lines += ["", "Look at these again: they are in the numbers all the same"]
        lines += [f"  line {outlier.line}: {outlier.why}" for outlier in answer.outliers]
    lines += ["", "What to look at next"]
    lines += numbered(list(_advice(answer)), width)
    lines += ["", "Few tests tell little: it is the width between the two ends that says how little."]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _placed_lines(placed: Placed, width: int) -> Iterator[str]:
    where = f"in {shorten(placed.jig, NAME_CELLS)}" if placed.jig else "by eye"
    yield ""
    yield f"Put down {where} (give or take)"
    if not placed.spread:
        yield "  one placing tells no spread: put it down again and again"
        return
    yield from table([_row(each, each.name) for each in placed.spread], width)
    for off in placed.off:
        if off.low > 0 or off.high < 0:
            scale, decimals, unit = _form(off)
            way = _WAYS[off.name][off.value < 0]
            words = (
                f"on average it stands {fixed(abs(scale * off.value), decimals)} {unit} {way} "
                f"({fixed(scale * off.low, decimals)} to {fixed(scale * off.high, decimals)}): no spread, but a place "
                "that is not where the field file has it. Measure again where the jig stands, or shift it there."
            )
            yield from wrapped_lines(words, width, "  ", "  ")
    found = placed.repeatability
    if found is not None:
        turned = ""
        if found.angle_repeatability is not None:
            turned = f", heading plus or minus {fixed(found.angle_repeatability, 2)} degrees"
        words = (
            f"as ISO 9283 has it: {fixed(found.accuracy, 1)} mm off on average, repeatability "
            f"{fixed(found.repeatability, 1)} mm{turned}"
        )
        yield from wrapped_lines(words, width, "  ", "  ")


_WAYS = {
    "along": ("too far forward", "too far back"),
    "across": ("too far left", "too far right"),
    "heading": ("turned left", "turned right"),
}


def square_words(square: SquarePathAnswer) -> str:
    """What the published formulas say of square paths, in one sentence or two."""
    mean = square.mean
    far, left = "too far" if mean.turn > 0 else "too little", "left" if mean.veer > 0 else "right"
    words = (
        f"sides of {square.side:g} mm: turns {fixed(abs(100 * mean.turn), 2)} % {far}, bends "
        f"{fixed(abs(mean.veer), 2)} degrees per metre to the {left}; it ends {fixed(square.merit, 1)} mm off on "
        "average, the worse way round"
    )
    if square.again is None:
        return f"{words}. Drive each way round more than once to see how much of that is chance."
    return f"{words}, {'more than chance' if square.again else 'which may be chance'}."


def drop_words(answer: Fit) -> str:
    """How many drop tests held, and what came off."""
    drops = answer.drops
    total = drops.passed + drops.failed
    words = f"{drops.passed} of {total} held"
    off = ", ".join(f"{shorten(what, NAME_CELLS)}{f' ({n} times)' if n > 1 else ''}" for what, n in drops.came_off)
    return f"{words}; what came off: {off}" if off else words


def _advice(answer: Fit) -> Iterator[str]:
    for words in answer.unknown:
        yield f"{words[0].upper()}{words[1:]}." if words[0] != "'" else f"{words}."
    wide = [each for each in answer.estimates if each.value > 0 and (each.high - each.low) > 2 * each.value]
    if wide:
        worst = max(wide, key=lambda each: (each.high - each.low) / each.value)
        yield (
            f"Least is known of {number_name(worst.name)}. Whether that matters depends on the run: --plan RUN says "
            "which few tests would help it most."
        )
    elif answer.estimates and not answer.unknown:
        yield "Write it into the robot's file with --write, and look at a run with try."
    if not answer.estimates:
        yield "Drive a straight of 300 mm and one of 1000 mm, and turns of 90 and 360 degrees, a few times each."


# --- JSON ----------------------------------------------------------------------------------------------------------


def _ends(each: Estimate) -> dict[str, float | None]:
    low, high = (end if isfinite(end) else None for end in (each.low, each.high))
    return {"value": each.value, "low": low, "high": high}


def fit_json(answer: Fit) -> dict[str, Any]:
    """The whole answer as plain dictionaries: the accuracy block with value, low and high at each number.

    In the model's units: shares for distance and turn, degrees per metre for veer, mm and degrees for the others; null
    where there is no upper end.
    """
    accuracy: dict[str, Any] = {}
    for each in answer.estimates:
        group, _, part = each.name.rpartition(".")
        accuracy.setdefault(group, {})[part] = _ends(each)

    def placing(estimates: str) -> list[dict[str, Any]]:
        return [
            {"jig": placed.jig or "by eye", "part": each.name, **_ends(each)}
            for placed in answer.placed
            for each in getattr(placed, estimates)
        ]

    return {
        "command": "fit",
        "version": __version__,
        "tests": answer.tests,
        "driven": answer.driven,
        "dates": answer.dates,
        "accuracy": accuracy,
        "together": [{"one": one, "other": other, "correlation": r} for one, other, r in answer.together],
        "tape": None if answer.tape is None else _ends(answer.tape),
        "placing": placing("spread"),
        "placing_off": placing("off"),
        "repeatability": [
            {
                "jig": placed.jig or "by eye",
                "count": placed.repeatability.count,
                "accuracy": placed.repeatability.accuracy,
                "repeatability": placed.repeatability.repeatability,
                "angle_accuracy": placed.repeatability.angle_accuracy,
                "angle_repeatability": placed.repeatability.angle_repeatability,
            }
            for placed in answer.placed
            if placed.repeatability is not None
        ],
        "square_paths": [
            {
                "side": square.side,
                "merit": square.merit,
                "again": square.again,
                "turn": square.mean.turn,
                "veer": square.mean.veer,
                "wheel_ratio": square.mean.wheel_ratio,
                "track_ratio": square.mean.track_ratio,
                "track": square.mean.track,
            }
            for square in answer.squares
        ],
        "drops": {
            "passed": answer.drops.passed,
            "failed": answer.drops.failed,
            "came_off": dict(answer.drops.came_off),
        },
        "outliers": [{"line": outlier.line, "why": outlier.why} for outlier in answer.outliers],
        "unknown": list(answer.unknown),
    }


# --- values for files ----------------------------------------------------------------------------------------------

Values = dict[tuple[str | int, ...], Any]


def _as_written(value: float, unit: str) -> float | str:
    return f"{value:g} %" if unit == "%" else value


def _between(between: Between) -> dict[str, Any]:
    """What a file says of it: ends rounded outwards, kept within what a file accepts."""
    made: dict[str, Any] = {"tests": int(between.tests)}
    for name in MEASURABLE:
        ends = between.ends(name)
        if ends is None:
            continue
        group, key = name.split(".")
        least, most = bounds_of_ends(name)
        scale, decimals, unit = _WRITTEN[name]
        # Ten more decimals are what binary fractions add to a number that a file had before.
        low, high = (round(end * scale * 10**decimals, 10) for end in ends)
        written = (max(floor(low) / 10**decimals, least * scale), min(ceil(high) / 10**decimals, most * scale))
        made.setdefault(group, {})[key] = [_as_written(end, unit) for end in written]
    if between.together:
        made["together"] = [
            {"one": pair.one, "other": pair.other, "correlation": pair.correlation} for pair in between.together
        ]
    return made


def file_values(answer: Fit, accuracy: Accuracy) -> Values:
    """What goes into the file of a robot with this accuracy: keys from its top, and the value as a file has it. Nothing
    if nothing is known.

    A number that the tests set no upper end is not known well enough to take the place of the one that is there.
    """
    values: Values = {}
    for each in answer.estimates:
        if isfinite(each.high):
            scale, decimals, unit = _form(each)
            values["accuracy", *each.name.split(".")] = _as_written(round(scale * each.best, decimals), unit)
    between = believed(accuracy, answer).between
    if values and between is not None:
        values["accuracy", "between"] = _between(between)
    return values


def field_values(answer: Fit, field: Field) -> Values:
    """What goes into a field's file: the spread of each of its jigs that was placed in."""
    places = {jig.name: i for i, jig in enumerate(field.jigs)}
    return {
        ("jigs", places[placed.jig], "spread", each.name): round(each.value, 2)
        for placed in answer.placed
        if placed.jig in places
        for each in placed.spread
        # Nought is what the tape cannot see, and no jig is perfect.
        if each.value > 0
    }


def unplaced(answer: Fit, field: Field) -> tuple[str, ...]:
    """Jigs that were placed in and that the field does not have."""
    there = {jig.name for jig in field.jigs}
    return tuple(placed.jig for placed in answer.placed if placed.jig is not None and placed.jig not in there)
