"""The answer of ``fieldsim fit`` in words, as JSON, and as values for a robot's and a field's file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, isfinite
from typing import Any, Literal

from fieldsim import __version__
from fieldsim.errors import shown
from fieldsim.fit import Estimate, Fit, Placed, believed, bounds_of_ends
from fieldsim.lettering import numbered, shorten, table, wrapped_lines
from fieldsim.measured import Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.model import MEASURABLE, Accuracy, Between, Field
from fieldsim.phrases import NAME_CELLS, fixed
from fieldsim.square_path import Contradiction, SquarePathAnswer, contradictions

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
    low, high = _rounded_outwards(estimate.name, estimate.low, estimate.high)
    if isfinite(low) and isfinite(high):
        ends = f"{fixed(low, decimals)} to {fixed(high, decimals)}"
    else:
        ends = f"{fixed(low, decimals)} or more, not known how much more" if isfinite(low) else "not known how much"
    count = f"{estimate.tests} {noun if estimate.tests != 1 else noun[:-1]}"
    return name, f"{fixed(scale * estimate.value, decimals)} {unit}", ends, count


def _rounded_outwards(name: str, low: float, high: float) -> tuple[float, float]:
    """The ends of a number as they are written, in its unit; one of the accuracy block's within what a file accepts."""
    scale, decimals, _ = _WRITTEN.get(name, _LENGTH)
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


# --- what to look at in a sheet ------------------------------------------------------------------------------------

# By what a robot knows its heading from: the numbers that such a test tells (see ``drivetrain``).
_TELLS = {
    "wheels": ("bias.distance", "bias.veer", "bias.turn", "day.distance", "day.veer", "day.turn", "straight.stop",
               "straight.distance", "straight.veer", "turn.stop", "turn.slip"),
    "gyro": ("bias.distance", "day.distance", "straight.stop", "straight.distance", "turn.stop", "gyro.drift",
             "gyro.scale", "gyro.hold"),
}  # fmt: skip
_BY = {"wheels": "by the wheels", "gyro": "by gyro"}
_SLIPS = {
    "sign of x": "the sign of return x changed",
    "sign of y": "the sign of return y changed",
    "both signs": "both signs changed",
    "x and y swapped": "x and y swapped",
}


def doubts(
    answer: Fit, sheet: Sheet, by: Literal["wheels", "gyro"], contradicting: Sequence[Contradiction]
) -> tuple[str, ...]:
    """What in a sheet is most likely a slip, and how it was read where it left something open: sentences. ``by`` is
    what the robot's file says that it knows its heading from."""
    names = tuple(each.name for each in answer.estimates)
    return (*map(contradiction_words, contradicting), *_driven_otherwise(sheet, by, names), *sheet.notes)


def sheet_words(sheet: Sheet) -> Iterator[str]:
    """How a good sheet was read where it left something open, and what to look at in it."""
    jigs = dict.fromkeys(test.jig for test in sheet.placings if test.jig is not None)
    if jigs:
        listed = ", ".join(f"'{shown(jig)}'" for jig in jigs)
        yield f"read as names of jigs: {listed}; fit with --field says if a field lacks one"
    yield from sheet.notes
    yield from map(contradiction_words, contradictions(sheet.square_paths))


def contradiction_words(found: Contradiction) -> str:
    """Square paths that contradict the others, as a sentence."""
    few, which = len(found.lines) == 1, _lines(found.lines)
    mended = " or with ".join(_SLIPS[slip] for slip in found.slips)
    if len(found.lines) == found.tests:
        return (
            f"all {found.tests} square paths ({which}) end where no such path does; with {mended} they would fit. x is "
            "forward and y is left, as seen from the start, whichever way round it was driven"
        )
    return (
        f"{which}: the square {'path contradicts' if few else 'paths contradict'} the others of the sheet; with "
        f"{mended} {'it' if few else 'they'} would agree. Look again at what was written: x is forward and y is left, "
        "as seen from the start. As it is, it counts as chance at each turn"
    )


def _driven_otherwise(sheet: Sheet, by: Literal["wheels", "gyro"], names: Sequence[str]) -> Iterator[str]:
    driven: list[StraightTest | TurnTest | SquarePathTest] = [*sheet.straights, *sheet.turns, *sheet.square_paths]
    other: Literal["wheels", "gyro"] = "gyro" if by == "wheels" else "wheels"
    strange = sorted(test.line for test in driven if test.heading_from == other)
    mine = len(driven) - len(strange)
    if not strange:
        return
    says = f"the robot's file says heading_from: {by}"
    if not mine:
        yield (
            f"{says}, but all {len(driven)} driven tests were driven {_BY[other]}: all numbers above are of a robot "
            f"driven {_BY[other]}. Mend the robot's file, or the column 'heading from' if it is wrong"
        )
        return
    yield (
        f"{says}; {mine} of the {len(driven)} driven tests were driven {_BY[by]} and {len(strange)} {_BY[other]} "
        f"({_lines(strange)})"
    )
    both = [name for name in names if name in _TELLS[by] and name in _TELLS[other]]
    parts = [f"{_named(both)} {'come' if len(both) > 1 else 'comes'} from both kinds mixed"] if both else []
    for way in (by, other):
        alone = [name for name in names if name in _TELLS[way] and name not in both]
        if alone:
            parts.append(f"{_named(alone)} from those {_BY[way]} alone")
    if parts:
        yield (
            f"{'; '.join(parts)}. A robot does not stop a turn by gyro as it does by its wheels: put only tests driven "
            f"{_BY[by]} into the sheet, or mend the column 'heading from' if it is wrong"
        )


def _named(names: Sequence[str]) -> str:
    quoted = [f"'{number_name(name)}'" for name in names]
    return " and ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


# More lines than these are counted.
_MOST_LINES = 6


def _lines(lines: Sequence[int]) -> str:
    """'line 4', 'lines 4, 6 and 9', 'lines 4, 6, 8, 9, 10, 12 and 7 more'."""
    shown = [str(line) for line in lines[:_MOST_LINES]]
    if len(lines) > _MOST_LINES:
        return f"lines {', '.join(shown)} and {len(lines) - _MOST_LINES} more"
    return f"lines {', '.join(shown[:-1])} and {shown[-1]}" if len(shown) > 1 else f"line {shown[0]}"


# --- the text ------------------------------------------------------------------------------------------------------


def counted(answer: Fit) -> str:
    """How many tests there are, always in the same words: '51 tests, 36 of them driven, on 3 days'."""
    words = f"{answer.tests} {'test' if answer.tests == 1 else 'tests'}"
    if answer.driven != answer.tests:
        words += f", {answer.driven or 'none'} of them driven"
    return f"{words}, on {answer.dates} days" if answer.dates > 1 else words


def fit_text(answer: Fit, robot: str, sheet: str, width: int = 100, look: Sequence[str] = ()) -> str:
    """The whole answer as text, ending in a line end. ``look`` are the sheet's ``doubts``."""
    lines = list(wrapped_lines(f"{shorten(robot, 40)}: how accurately it drives, by {shorten(sheet, 60)}", width))
    lines += wrapped_lines(counted(answer), width)
    if look:
        lines += ["", "Look at this first"]
        lines += numbered([f"{words[0].upper()}{words[1:]}." for words in look], width)
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
    lines += wrapped_lines(walk_words(answer), width, "  ", "  ") if walk_words(answer) else []
    for placed in answer.placed:
        lines += _placed_lines(placed, width)
    jigs = [f"'{shorten(placed.jig, NAME_CELLS)}'" for placed in answer.placed if placed.jig is not None]
    if jigs:
        words = (
            f"Read as {'names of jigs' if len(jigs) > 1 else 'the name of a jig'}: {', '.join(jigs)}. --field FIELD "
            "writes their spreads into the field's file, and says which of them it lacks."
        )
        lines += ["", *wrapped_lines(words, width)]
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


def walk_words(answer: Fit) -> str:
    """What 'per root metre' and 'per root quarter turn' mean, if there is such a number; else nothing."""
    units = {_form(each)[2].partition(" per ")[2] for each in answer.estimates}
    words = []
    if "root metre" in units:
        words.append("Per root metre: as much over 1 metre, twice as much over 4 metres, three times over 9.")
    if "root quarter turn" in units:
        words.append("Per root quarter turn: as much on 90 degrees, twice as much on 360.")
    return " ".join(words)


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
                f"({_to(off)}): no spread, but a place "
                "that is not where the field file has it. Measure again where the jig stands, or shift it there."
            )
            yield from wrapped_lines(words, width, "  ", "  ")
    found = placed.repeatability
    if found is not None:
        turned = ""
        if found.angle_repeatability is not None:
            turned = f", of the heading plus or minus {fixed(found.angle_repeatability, 2)} degrees"
        words = (
            f"as ISO 9283 has it: accuracy {fixed(found.accuracy, 1)} mm (how far the mean of all placings is from "
            f"its place), repeatability {fixed(found.repeatability, 1)} mm (nearly all placings are nearer than that "
            f"to their mean){turned}"
        )
        yield from wrapped_lines(words, width, "  ", "  ")


def _to(each: Estimate) -> str:
    decimals = _form(each)[1]
    low, high = _rounded_outwards(each.name, each.low, each.high)
    return f"{fixed(low, decimals)} to {fixed(high, decimals)}"


_WAYS = {
    "along": ("too far forward", "too far back"),
    "across": ("too far left", "too far right"),
    "heading": ("turned left", "turned right"),
}


def square_words(square: SquarePathAnswer) -> str:
    """What the published formulas say of square paths, in one sentence or two."""
    mean = square.mean
    far, left = "too far" if mean.turn > 0 else "too little", "left" if mean.veer > 0 else "right"
    worse = max(square.cw, square.ccw, key=lambda way: way.distance)
    words = (
        f"sides of {square.side:g} mm: turns {fixed(abs(100 * mean.turn), 2)} % {far}, bends "
        f"{fixed(abs(mean.veer), 2)} degrees per metre to the {left}. Driven {worse.direction}, the worse way round, "
        f"the middle of where it ends is {fixed(square.merit, 1)} mm from where it began"
    )
    if square.again is None:
        return f"{words}. Drive each way round more than once to see how much of that is chance."
    return f"{words}: {'that is more than chance' if square.again else 'that may be chance'}."


def drop_words(answer: Fit) -> str:
    """How many drop tests held, and what came off."""
    drops = answer.drops
    total = drops.passed + drops.failed
    words = f"{drops.passed} of {total} held"
    off = ", ".join(f"{shorten(what, NAME_CELLS)}{f' ({n} times)' if n > 1 else ''}" for what, n in drops.came_off)
    return f"{words}; what came off: {off}" if off else words


def _advice(answer: Fit) -> Iterator[str]:
    for words in _grouped(answer.unknown):
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


# How ``fit`` says of two numbers that they cannot be told apart, and what would help.
_CANNOT = " cannot be told apart by these tests: "


def _grouped(unknown: Sequence[str]) -> Iterator[str]:
    """The same with all numbers that cannot be told apart in one item."""
    pairs = [words for words in unknown if _CANNOT in words]
    helps: dict[str, list[str]] = {}
    for words in pairs:
        names, _, how = words.partition(_CANNOT)
        helps.setdefault(how, []).append(names)
    for words in unknown:
        if words not in pairs or len(pairs) == 1:
            yield words
        elif words == pairs[0]:
            listed = "; ".join(f"{', '.join(names)} ({how})" for how, names in helps.items())
            yield f"some numbers{_CANNOT}{listed}"


# --- JSON ----------------------------------------------------------------------------------------------------------


def _ends(each: Estimate) -> dict[str, float | None]:
    low, high = (end if isfinite(end) else None for end in (each.low, each.high))
    return {"value": each.value, "low": low, "high": high}


def fit_json(answer: Fit, look: Sequence[str] = ()) -> dict[str, Any]:
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
        "doubts": list(look),
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
        unit = _WRITTEN[name][2]
        made.setdefault(group, {})[key] = [_as_written(end, unit) for end in _rounded_outwards(name, *ends)]
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
