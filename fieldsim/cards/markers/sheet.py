"""Which markers to print, and where to lay each: those of the field's file and the robot's, or a proposal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Told
from fieldsim.cards.shared import PAPERS
from fieldsim.model import Field, Robot
from fieldsim.model.markers import Marker

# A proposal: the share of the field's longer side that a marker is large, rounded to 10 mm, and between which ends. In
# a picture of 4000 pixels of the whole field each of its six cells is then some 25 pixels wide.
SHARE, SMALLEST, LARGEST = 0.035, 50.0, 100.0
ROBOTS_NUMBER, ROBOTS_SIZE = 9, 60.0
# The white rim, in cells (sixths of a side): less, and the black square is not told from what it lies on.
RIM = 1.0


@dataclass(frozen=True)
class PrintedMarker:
    """One marker to print."""

    number: int
    size: Annotated[float, "the side of its black square, mm"]
    at: Annotated[tuple[float, float], "where its middle lies, mm: on the field, or in the robot frame"]
    heading: Annotated[float, "which way its arrow points, degrees: on the field, or from ahead"]
    on_robot: bool


@dataclass(frozen=True)
class MarkerSheet:
    """The markers of a set-up."""

    command: ClassVar[Literal["card"]] = "card"
    version: Annotated[str, "of fieldsim"]
    field: str
    robot: str | None
    field_proposed: Annotated[bool, "whether the field's file has none, and these are a proposal for it"]
    robot_proposed: Annotated[bool, "likewise of the robot"]
    markers: tuple[PrintedMarker, ...]
    paper: Annotated[str, Told(one_of=("A4", "Letter"))]


def marker_sheet(field: Field, robot: Robot | None, version: str, paper: str = "A4") -> MarkerSheet:
    """The markers of this field and robot, proposed where a file has none.

    Raises ValueError for a paper that is not one of ``PAPERS``.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper={paper!r} must be one of {tuple(PAPERS)}")
    laid = field.markers or proposed(field)
    found = [PrintedMarker(int(each.number), each.size, each.at, each.heading, False) for each in laid]
    own = None if robot is None else robot.marker
    if own is not None:
        found.append(PrintedMarker(int(own.number), own.size, own.at, own.heading, True))
    else:
        taken = {each.number for each in found}
        number = next(number for number in range(ROBOTS_NUMBER, 50) if number not in taken)
        found.append(PrintedMarker(number, ROBOTS_SIZE, (0.0, 0.0), 0.0, True))
    return MarkerSheet(
        version, field.name, None if robot is None else robot.name, not field.markers, own is None, tuple(found), paper
    )


def proposed(field: Field) -> tuple[Marker, ...]:
    """Four markers in the corners of a field, the white rim within it."""
    x, y = field.size
    size = min(max(round(SHARE * max(x, y) / 10) * 10.0, SMALLEST), LARGEST)
    inset = float(round(size * (0.5 + RIM / 6) + 5.0))
    corners = ((inset, inset), (x - inset, inset), (x - inset, y - inset), (inset, y - inset))
    return tuple(Marker(number, size, at) for number, at in enumerate(corners, 1))


def file_lines(sheet: MarkerSheet) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What to write into the field's file and into the robot's, nothing where it is there already."""

    def number(value: float) -> str:
        return f"{value:g}"

    field: list[str] = []
    robot: list[str] = []
    for each in sheet.markers:
        at = f"[{number(each.at[0])}, {number(each.at[1])}]"
        told = f"{{number: {each.number}, size: {number(each.size)}, at: {at}"
        if each.on_robot and sheet.robot_proposed:
            robot.append(f"marker: {told}, height: 110}}")
        elif not each.on_robot and sheet.field_proposed:
            field += [*([] if field else ["markers:"]), f"  - {told}}}"]
    return tuple(field), tuple(robot)
