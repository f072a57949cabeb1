"""The sheets of markers in words."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.cards.markers.sheet import MarkerSheet, PrintedMarker, file_lines
from fieldsim.cards.run.words import TITLE_CELLS
from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten, wrapped_lines
from fieldsim.report.phrases import spoken

STEPS = (
    tr_later("Print at 100 % (no 'fit to page'), on matt paper. Measure the ruler line: it must be 100 mm long."),
    tr_later("Cut along the grey line, so that the white rim stays. Glue each on card: it must be flat."),
    tr_later(
        "Lay each of the field's with its middle at its place and its arrow as told. Tape it down, and do not move it "
        "between photos."
    ),
    tr_later(
        "The robot's lies flat on top, its arrow ahead, and nothing may cover it. Measure from the mat to the sheet "
        "and write it as its height."
    ),
    tr_later(
        "Hold the telephone so that it sees all markers whole, from 40 degrees or more above the mat. No zoom, no "
        "flash. Photograph the table, not people."
    ),
)


def markers_title(sheet: MarkerSheet) -> str:
    return tr("Markers for {field}", field=shorten(sheet.field, TITLE_CELLS))


def marker_name(each: PrintedMarker) -> str:
    return tr("{number} (on the robot)", number=each.number) if each.on_robot else str(each.number)


def place_words(each: PrintedMarker) -> str:
    """Where it lies and which way its arrow points."""
    x, y = (spoken(value) for value in each.at)
    if each.on_robot:
        if each.heading == 0.0:
            return tr("its middle {x} mm ahead of the axle's middle, {y} mm left of it; the arrow ahead", x=x, y=y)
        return tr(
            "its middle {x} mm ahead of the axle's middle, {y} mm left of it; the arrow {angle} degrees left of ahead",
            x=x, y=y, angle=spoken(each.heading),
        )  # fmt: skip
    return tr("its middle at [{x}, {y}], the arrow to {way}", x=x, y=y, way=_way(each.heading))


def _way(heading: float) -> str:
    for angle, words in (
        (0.0, tr_later("the right")), (90.0, tr_later("the far wall")), (180.0, tr_later("the left")),
        (270.0, tr_later("the near wall")),
    ):  # fmt: skip
        if abs((heading - angle + 180.0) % 360.0 - 180.0) < 0.05:
            return tr(words)
    return tr("{angle} degrees", angle=spoken(heading))


def paste_words(sheet: MarkerSheet) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What to write into which file."""
    field, robot = file_lines(sheet)
    if field:
        yield (
            tr(
                "The field's file has no markers yet. Write these into it, with the places where they really lie: "
                "where something stands, lay one beside it:"
            ),
            field,
        )
    if robot:
        yield tr("Into the robot's file, with its true place and height:"), robot


def markers_made(sheet: MarkerSheet) -> str:
    return tr("fieldsim {version}. Then: 'fieldsim photo PICTURE... FIELD ROBOT'.", version=sheet.version)


def markers_text(sheet: MarkerSheet, width: int = 80) -> str:
    """The sheet in words: for a terminal."""
    lines = [*wrapped_lines(markers_title(sheet), width), ""]
    for number, step in enumerate(STEPS, 1):
        lines += wrapped_lines(f"{number}. {tr(step)}", width, "", "   ")
    lines.append("")
    for each in sheet.markers:
        words = tr(
            "{marker}: {size} mm, {place}", marker=marker_name(each), size=spoken(each.size), place=place_words(each)
        )
        lines += wrapped_lines(words, width, "  ", "    ")
    for words, paste in paste_words(sheet):
        lines += ["", *wrapped_lines(words, width), "", *(f"    {line}" for line in paste)]
    lines += ["", *wrapped_lines(tr("Save the sheets to print: --save markers.pdf"), width)]
    lines += wrapped_lines(markers_made(sheet), width)
    return "\n".join(line.rstrip() for line in lines) + "\n"
