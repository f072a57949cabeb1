"""What to look at in a sheet of tests before its numbers are believed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Literal

from fieldsim.calibration.square_path import Contradiction, contradictions
from fieldsim.calibration.units import unit_doubts
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model.errors import shown
from fieldsim.report.phrases import listed, spoken
from fieldsim.report.words.fit.numbers import number_name

if TYPE_CHECKING:
    from fieldsim.calibration.estimate import Fit
    from fieldsim.calibration.observed import DrivenTest
    from fieldsim.model.measured import Sheet

# By what a robot knows its heading from: the numbers that such a test tells (see ``drivetrain``).
_TELLS = {
    "wheels": ("bias.distance", "bias.veer", "bias.turn", "day.distance", "day.veer", "day.turn", "straight.stop",
               "straight.distance", "straight.veer", "turn.stop", "turn.slip", "bias.turn_left", "bias.turn_right",
               "bias.stop", "bias.turn_stop", "bias.backlash", "bias.kick"),
    "gyro": ("bias.distance", "day.distance", "straight.stop", "straight.distance", "turn.stop", "gyro.drift",
             "gyro.scale", "gyro.hold", "bias.stop", "bias.turn_stop", "bias.gyro_scale",
             "bias.backlash", "bias.kick"),
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
    return (
        *unit_words(sheet),
        *map(contradiction_words, contradicting),
        *_driven_otherwise(sheet, by, names),
        *sheet.notes,
    )


def sheet_words(sheet: Sheet) -> Iterator[str]:
    """How a good sheet was read where it left something open, and what to look at in it."""
    jigs = dict.fromkeys(test.jig for test in sheet.placings if test.jig is not None)
    if jigs:
        yield tr(
            "read as names of jigs: {names}; fit with --field says if a field lacks one",
            names=", ".join(f"'{shown(jig)}'" for jig in jigs),
        )
    yield from sheet.notes
    yield from unit_words(sheet)
    yield from map(contradiction_words, contradictions(sheet.square_paths))


def unit_words(sheet: Sheet) -> Iterator[str]:
    """A question for each unit that is most likely another than the header says."""
    found = unit_doubts(sheet)
    if "lengths" in found:
        yield tr(
            "are the lengths really mm? The longest straight is {longest} mm. If they are centimetres or inches, write "
            "'commanded cm', 'travel cm' and so on (or 'in') in the header, and leave the numbers as they are",
            longest=spoken(found["lengths"]),
        )
    if "angles" in found:
        yield tr(
            "are the angles really degrees? The largest turn is {largest} degrees. If they are radians, write degrees: "
            "1.5708 is 90",
            largest=spoken(found["angles"]),
        )


def contradiction_words(found: Contradiction) -> str:
    """Square paths that contradict the others, as a sentence."""
    which = lines_words(found.lines)
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
    driven: list[DrivenTest] = [*sheet.straights, *sheet.turns, *sheet.square_paths, *sheet.there_and_backs]
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
        lines=lines_words(strange),
    )
    both = [name for name in names if name in _TELLS[by] and name in _TELLS[other]]
    parts = []
    if both:
        parts.append(
            tr_many(
                "{names} comes from both kinds mixed",
                "{names} come from both kinds mixed",
                len(both),
                names=named_words(both),
            )
        )
    for way in (by, other):
        alone = [name for name in names if name in _TELLS[way] and name not in both]
        if alone:
            parts.append(tr("{names} from those {way} alone", names=named_words(alone), way=tr(_BY[way])))
    if parts:
        yield tr(
            "{sources}. A robot does not stop a turn by gyro as it does by its wheels: put only tests driven {way} "
            "into the sheet, or mend the column 'heading from' if it is wrong",
            sources="; ".join(parts),
            way=tr(_BY[by]),
        )


def named_words(names: Sequence[str]) -> str:
    return listed([f"'{number_name(name)}'" for name in names])


# More lines than these are counted.
_MOST_LINES = 6


def lines_words(lines: Sequence[int]) -> str:
    """'line 4', 'lines 4, 6 and 9', 'lines 4, 6, 8, 9, 10, 12 and 7 more'."""
    shown = [str(line) for line in lines[:_MOST_LINES]]
    if len(lines) > _MOST_LINES:
        return tr("lines {lines} and {n} more", lines=", ".join(shown), n=len(lines) - _MOST_LINES)
    return tr("lines {lines}", lines=listed(shown)) if len(shown) > 1 else tr("line {line}", line=shown[0])
