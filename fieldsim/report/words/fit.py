"""The answer of ``fieldsim fit`` in words, as JSON, and as values for a robot's and a field's file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, isfinite
from typing import Any, Literal

from fieldsim.calibration.fit import Estimate, Fit, Placed, believed, bounds_of_ends
from fieldsim.calibration.square_path import Contradiction, SquarePathAnswer, contradictions
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.model import MEASURABLE, Accuracy, Between, Field
from fieldsim.model.errors import shown
from fieldsim.model.measured import Sheet, SquarePathTest, StraightTest, TurnTest
from fieldsim.report.phrases import NAME_CELLS, fixed, listed
from fieldsim.report.statement import Part, Points, Section, Statement, Table, rows, statement_text

# How each estimate is written: what one of its unit is in the model, decimals, and the unit's words.
_WRITTEN = {
    "bias.distance": (100.0, 2, "%"),
    "bias.veer": (1.0, 2, tr_later("degrees per metre")),
    "bias.turn": (100.0, 2, "%"),
    "day.distance": (100.0, 2, "%"),
    "day.veer": (1.0, 2, tr_later("degrees per metre")),
    "day.turn": (100.0, 2, "%"),
    "straight.stop": (1.0, 2, "mm"),
    "straight.distance": (1.0, 2, tr_later("mm per root metre")),
    "straight.veer": (1.0, 2, tr_later("degrees per root metre")),
    "turn.stop": (1.0, 2, tr_later("degrees")),
    "turn.slip": (1.0, 2, tr_later("degrees per root quarter turn")),
    "gyro.drift": (1.0, 2, tr_later("degrees per minute")),
    "gyro.scale": (100.0, 2, "%"),
    "gyro.hold": (1.0, 2, tr_later("degrees")),
    "heading": (1.0, 2, tr_later("degrees")),
}
# Distances where a robot was put down, and the tape.
_LENGTH = (1.0, 2, "mm")

_MEANS = {
    "bias": tr_later("bias (the same way every time)"),
    "day": tr_later("day (give or take, from one day to another)"),
    "straight": tr_later("straight (give or take, on each straight)"),
    "turn": tr_later("turn (give or take, on each turn)"),
    "gyro": tr_later("gyro (give or take, of the gyro)"),
}


def number_name(name: str) -> str:
    """A number of the accuracy block as words say it: 'bias: turn'."""
    return name.replace(".", ": ")


def _form(estimate: Estimate) -> tuple[float, int, str]:
    return _WRITTEN.get(estimate.name, _LENGTH)


def value_words(estimate: Estimate) -> str:
    """'0.47 %'."""
    scale, decimals, unit = _form(estimate)
    return tr("{value} {unit}", value=fixed(scale * estimate.value, decimals), unit=tr(unit))


def in_its_unit(name: str, value: float) -> tuple[float, str]:
    """A number of the accuracy block in the unit that it is written in, and that unit."""
    scale, _, unit = _WRITTEN.get(name, _LENGTH)
    return scale * value, unit


def _row(estimate: Estimate, name: str, days: bool = False) -> tuple[str, str, str, str]:
    decimals = _form(estimate)[1]
    low, high = _rounded_outwards(estimate.name, estimate.low, estimate.high)
    if isfinite(low) and isfinite(high):
        ends = tr("{low} to {high}", low=fixed(low, decimals), high=fixed(high, decimals))
    elif isfinite(low):
        ends = tr("{low} or more, not known how much more", low=fixed(low, decimals))
    else:
        ends = tr("not known how much")
    count = tr_many("{n} day", "{n} days", estimate.tests) if days else tr_many("{n} test", "{n} tests", estimate.tests)
    return name, value_words(estimate), ends, count


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
_BY = {"wheels": tr_later("by the wheels"), "gyro": tr_later("by gyro")}
_SLIPS = {
    "sign of x": tr_later("the sign of return x changed"),
    "sign of y": tr_later("the sign of return y changed"),
    "both signs": tr_later("both signs changed"),
    "x and y swapped": tr_later("x and y swapped"),
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
        yield tr(
            "read as names of jigs: {names}; fit with --field says if a field lacks one",
            names=", ".join(f"'{shown(jig)}'" for jig in jigs),
        )
    yield from sheet.notes
    yield from map(contradiction_words, contradictions(sheet.square_paths))


def contradiction_words(found: Contradiction) -> str:
    """Square paths that contradict the others, as a sentence."""
    which = _lines(found.lines)
    mended = tr(" or with ").join(tr(_SLIPS[slip]) for slip in found.slips)
    if len(found.lines) == found.tests:
        return tr(
            "all {tests} square paths ({lines}) end where no such path does; with {mended} they would fit. x is "
            "forward and y is left, as seen from the start, whichever way round it was driven",
            tests=found.tests,
            lines=which,
            mended=mended,
        )
    return tr_many(
        "{lines}: the square path contradicts the others of the sheet; with {mended} it would agree. Look again at "
        "what was written: x is forward and y is left, as seen from the start. As it is, it counts as chance at each "
        "turn",
        "{lines}: the square paths contradict the others of the sheet; with {mended} they would agree. Look again at "
        "what was written: x is forward and y is left, as seen from the start. As it is, it counts as chance at each "
        "turn",
        len(found.lines),
        lines=which,
        mended=mended,
    )


def _driven_otherwise(sheet: Sheet, by: Literal["wheels", "gyro"], names: Sequence[str]) -> Iterator[str]:
    driven: list[StraightTest | TurnTest | SquarePathTest] = [*sheet.straights, *sheet.turns, *sheet.square_paths]
    other: Literal["wheels", "gyro"] = "gyro" if by == "wheels" else "wheels"
    strange = sorted(test.line for test in driven if test.heading_from == other)
    mine = len(driven) - len(strange)
    if not strange:
        return
    if not mine:
        yield tr(
            "the robot's file says heading_from: {by}, but all {tests} driven tests were driven {way}: all numbers "
            "below are of a robot driven {way}. Mend the robot's file, or the column 'heading from' if it is wrong",
            by=by,
            tests=len(driven),
            way=tr(_BY[other]),
        )
        return
    yield tr(
        "the robot's file says heading_from: {by}; {mine} of the {tests} driven tests were driven {way} and {others} "
        "{other} ({lines})",
        by=by,
        mine=mine,
        tests=len(driven),
        way=tr(_BY[by]),
        others=len(strange),
        other=tr(_BY[other]),
        lines=_lines(strange),
    )
    both = [name for name in names if name in _TELLS[by] and name in _TELLS[other]]
    parts = []
    if both:
        parts.append(
            tr_many(
                "{names} comes from both kinds mixed",
                "{names} come from both kinds mixed",
                len(both),
                names=_named(both),
            )
        )
    for way in (by, other):
        alone = [name for name in names if name in _TELLS[way] and name not in both]
        if alone:
            parts.append(tr("{names} from those {way} alone", names=_named(alone), way=tr(_BY[way])))
    if parts:
        yield tr(
            "{sources}. A robot does not stop a turn by gyro as it does by its wheels: put only tests driven {way} "
            "into the sheet, or mend the column 'heading from' if it is wrong",
            sources="; ".join(parts),
            way=tr(_BY[by]),
        )


def _named(names: Sequence[str]) -> str:
    return listed([f"'{number_name(name)}'" for name in names])


# More lines than these are counted.
_MOST_LINES = 6


def _lines(lines: Sequence[int]) -> str:
    """'line 4', 'lines 4, 6 and 9', 'lines 4, 6, 8, 9, 10, 12 and 7 more'."""
    shown = [str(line) for line in lines[:_MOST_LINES]]
    if len(lines) > _MOST_LINES:
        return tr("lines {lines} and {n} more", lines=", ".join(shown), n=len(lines) - _MOST_LINES)
    return tr("lines {lines}", lines=listed(shown)) if len(shown) > 1 else tr("line {line}", line=shown[0])


# --- the text ------------------------------------------------------------------------------------------------------


def counted(answer: Fit) -> str:
    """How many tests there are, always in the same words: '51 tests, 36 of them driven, on 3 days'."""
    words = tr_many("{n} test", "{n} tests", answer.tests)
    if answer.driven != answer.tests:
        if answer.driven:
            words = tr("{tests}, {driven} of them driven", tests=words, driven=answer.driven)
        else:
            words = tr("{tests}, none of them driven", tests=words)
    return tr("{tests}, on {days} days", tests=words, days=answer.dates) if answer.dates > 1 else words


def fit_text(
    answer: Fit, robot: str, sheet: str, width: int = 100, look: Sequence[str] = (), more: Sequence[Section] = ()
) -> str:
    """The whole answer as text, ending in a line end. ``look`` are the sheet's ``doubts``."""
    return statement_text(fit_statement(answer, robot, sheet, look, more), width)


def fit_statement(
    answer: Fit, robot: str, sheet: str, look: Sequence[str] = (), more: Sequence[Section] = ()
) -> Statement:
    """The answer as a statement. ``more`` are sections that come last, such as which further tests would help."""
    found = []
    if look:
        found.append(Section(tr("Look at this first"), (Points(tuple(map(_sentence, look))),)))
    found.append(Section(tr("What the tests say, and between what it may be (95 %)"), tuple(_numbers(answer))))
    jigs = [f"'{shorten(placed.jig, NAME_CELLS)}'" for placed in answer.placed if placed.jig is not None]
    read: tuple[Part, ...] = ()
    if jigs:
        words = tr_many(
            "Read as the name of a jig: {names}. --field FIELD writes their spreads into the field's file, and says "
            "which of them it lacks.",
            "Read as names of jigs: {names}. --field FIELD writes their spreads into the field's file, and says which "
            "of them it lacks.",
            len(jigs),
            names=", ".join(jigs),
        )
        read = (words,)
    for placed in answer.placed:
        last = placed is answer.placed[-1]
        found.append(Section(_placed_title(placed), (*_placed_parts(placed), *(read if last else ()))))
    if answer.squares:
        squares = tuple(map(square_words, answer.squares))
        found.append(Section(tr("Square paths driven both ways round, by the published formulas"), squares))
    if answer.drops.passed or answer.drops.failed:
        found.append(Section(tr("Drop tests (counted, not simulated)"), (drop_words(answer),)))
    if answer.outliers:
        told = rows((tr("line {line}", line=each.line), each.why) for each in answer.outliers)
        title = tr("Look at these again: they are in the numbers all the same")
        found.append(Section(title, (Table((tr("line"), tr("why")), told),)))
    return Statement(
        name=tr("{robot}: how accurately it drives", robot=shorten(robot, 40)),
        title=tr("{robot}: how accurately it drives, by {sheet}", robot=shorten(robot, 40), sheet=shorten(sheet, 60)),
        about=(counted(answer),),
        headline=fit_headline(answer),
        sections=(*found, *more),
        advice=tuple(_advice(answer)),
        closing=(tr("Few tests tell little: it is the width between the two ends that says how little."),),
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}." if words[0] != "'" else f"{words}."


_TOLD_WAYS = {
    "bias.distance": (tr_later("it drives {value} too far"), tr_later("it drives {value} too short")),
    "bias.veer": (tr_later("it veers {value} to the left"), tr_later("it veers {value} to the right")),
    "bias.turn": (tr_later("it turns {value} too far"), tr_later("it turns {value} too little")),
}


def fit_headline(answer: Fit) -> str:
    """What it does the same way every time, in a sentence."""
    told = []
    for each in answer.estimates:
        if each.name in _TOLD_WAYS:
            scale, decimals, unit = _form(each)
            size = tr("{value} {unit}", value=fixed(abs(scale * each.value), decimals), unit=tr(unit))
            told.append(tr(_TOLD_WAYS[each.name][each.value < 0], value=size))
    if told:
        return tr("The same way every time: {ways}.", ways=", ".join(told))
    if answer.tests:
        return tr("What it does the same way every time is not known from these tests.")
    return tr("The sheet has no test.")


def _numbers(answer: Fit) -> Iterator[Part]:
    heads = (tr("number"), tr("value"), tr("between (95 %)"), tr("by"))
    if not answer.estimates:
        if answer.tests:
            yield tr("nothing: the sheet has no test that was driven")
        else:
            yield tr("nothing: the sheet has no test")
    for group, means in _MEANS.items():
        mine = [each for each in answer.estimates if each.name.startswith(f"{group}.")]
        if mine:
            yield tr(means)
            yield Table(heads, rows(_row(each, number_name(each.name), group == "day") for each in mine))
    if answer.tape is not None:
        yield tr("the tape (how it is held and read, beyond its own steps)")
        yield Table(heads, rows([_row(answer.tape, tr("tape"))]))
    walk = walk_words(answer)
    if walk:
        yield walk


def walk_words(answer: Fit) -> str:
    """What 'per root metre' and 'per root quarter turn' mean, if there is such a number; else nothing."""
    units = {_form(each)[2].partition(" per ")[2] for each in answer.estimates}
    words = []
    if "root metre" in units:
        words.append(tr("Per root metre: as much over 1 metre, twice as much over 4 metres, three times over 9."))
    if "root quarter turn" in units:
        words.append(tr("Per root quarter turn: as much on 90 degrees, twice as much on 360."))
    return " ".join(words)


def _placed_title(placed: Placed) -> str:
    if placed.jig:
        return tr("Put down in {jig} (give or take)", jig=shorten(placed.jig, NAME_CELLS))
    return tr("Put down by eye (give or take)")


_PARTS = {"along": tr_later("along"), "across": tr_later("across"), "heading": tr_later("heading")}


def _placed_parts(placed: Placed) -> Iterator[Part]:
    if not placed.spread:
        yield tr("one placing tells no spread: put it down again and again")
        return
    heads = (tr("number"), tr("value"), tr("between (95 %)"), tr("by"))
    yield Table(heads, rows(_row(each, tr(_PARTS[each.name])) for each in placed.spread))
    for off in placed.off:
        if off.low > 0 or off.high < 0:
            scale, decimals, unit = _form(off)
            yield tr(
                _WAYS[off.name][off.value < 0],
                size=fixed(abs(scale * off.value), decimals),
                unit=tr(unit),
                ends=_to(off),
            )
    found = placed.repeatability
    if found is None:
        return
    accuracy, repeatability = fixed(found.accuracy, 1), fixed(found.repeatability, 1)
    if found.angle_repeatability is None:
        yield tr(
            "as ISO 9283 has it: accuracy {accuracy} mm (how far the mean of all placings is from its place), "
            "repeatability {repeatability} mm (nearly all placings are nearer than that to their mean)",
            accuracy=accuracy,
            repeatability=repeatability,
        )
    else:
        yield tr(
            "as ISO 9283 has it: accuracy {accuracy} mm (how far the mean of all placings is from its place), "
            "repeatability {repeatability} mm (nearly all placings are nearer than that to their mean), of the "
            "heading plus or minus {turned} degrees",
            accuracy=accuracy,
            repeatability=repeatability,
            turned=fixed(found.angle_repeatability, 2),
        )


def _to(each: Estimate) -> str:
    decimals = _form(each)[1]
    low, high = _rounded_outwards(each.name, each.low, each.high)
    return tr("{low} to {high}", low=fixed(low, decimals), high=fixed(high, decimals))


_WAYS = {
    "along": (
        tr_later(
            "on average it stands {size} {unit} too far forward ({ends}): no spread, but a place that is not where the"
            " field file has it. Measure again where the jig stands, or shift it there."
        ),
        tr_later(
            "on average it stands {size} {unit} too far back ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
    ),
    "across": (
        tr_later(
            "on average it stands {size} {unit} too far left ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
        tr_later(
            "on average it stands {size} {unit} too far right ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
    ),
    "heading": (
        tr_later(
            "on average it stands {size} {unit} turned left ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
        tr_later(
            "on average it stands {size} {unit} turned right ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
    ),
}


def square_words(square: SquarePathAnswer) -> str:
    """What the published formulas say of square paths, in one sentence or two."""
    mean = square.mean
    worse = max(square.cw, square.ccw, key=lambda way: way.distance)
    turn, veer = fixed(abs(100 * mean.turn), 2), fixed(abs(mean.veer), 2)
    turns = tr("turns {turn} % too far", turn=turn) if mean.turn > 0 else tr("turns {turn} % too little", turn=turn)
    if mean.veer > 0:
        bends = tr("bends {veer} degrees per metre to the left", veer=veer)
    else:
        bends = tr("bends {veer} degrees per metre to the right", veer=veer)
    words = tr(
        "sides of {side:g} mm: {turns}, {bends}. Driven {direction}, the worse way round, the middle of where it ends "
        "is {merit} mm from where it began",
        side=square.side,
        turns=turns,
        bends=bends,
        direction=worse.direction,
        merit=fixed(square.merit, 1),
    )
    if square.again is None:
        return tr("{square}. Drive each way round more than once to see how much of that is chance.", square=words)
    if square.again:
        return tr("{square}: that is more than chance.", square=words)
    return tr("{square}: that may be chance.", square=words)


def drop_words(answer: Fit) -> str:
    """How many drop tests held, and what came off."""
    drops = answer.drops
    total = drops.passed + drops.failed
    names = [
        tr("{name} ({times} times)", name=shorten(what, NAME_CELLS), times=n) if n > 1 else shorten(what, NAME_CELLS)
        for what, n in drops.came_off
    ]
    if names:
        off = ", ".join(names)
        return tr("{held} of {total} held; what came off: {names}", held=drops.passed, total=total, names=off)
    return tr("{held} of {total} held", held=drops.passed, total=total)


def _advice(answer: Fit) -> Iterator[str]:
    for words in _grouped(answer.unknown):
        yield _sentence(words)
    wide = [each for each in answer.estimates if each.value > 0 and (each.high - each.low) > 2 * each.value]
    if wide:
        worst = max(wide, key=lambda each: (each.high - each.low) / each.value)
        yield tr(
            "Least is known of {number}. Whether that matters depends on the run: --plan RUN says which few tests "
            "would help it most.",
            number=number_name(worst.name),
        )
    elif answer.estimates and not answer.unknown:
        yield tr("Write it into the robot's file with --write, and look at a run with try.")
    if not answer.estimates:
        yield tr("Drive a straight of 300 mm and one of 1000 mm, and turns of 90 and 360 degrees, a few times each.")


def _grouped(unknown: Sequence[str]) -> Iterator[str]:
    """The same with all numbers that cannot be told apart in one item."""
    # How ``fit`` says it of two of them, between their names and what would help.
    cannot = tr("{names} cannot be told apart by these tests: {how}", names="", how="")
    pairs = [words for words in unknown if cannot in words]
    helps: dict[str, list[str]] = {}
    for words in pairs:
        names, _, how = words.partition(cannot)
        helps.setdefault(how, []).append(names)
    for words in unknown:
        if words not in pairs or len(pairs) == 1:
            yield words
        elif words == pairs[0]:
            listed = "; ".join(f"{', '.join(names)} ({how})" for how, names in helps.items())
            yield tr("some numbers cannot be told apart by these tests: {names}", names=listed)


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
    if between.robots:
        made["robots"] = [{"of": each.of, "at": list(each.at)} for each in between.robots]
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
