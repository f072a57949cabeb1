"""Printed square markers that a picture is measured by: those laid on the field, and the one on the robot. mm, degrees.

Which squares: the 50 of 4 by 4 cells of S. Garrido-Jurado, R. Munoz-Salinas, F. J. Madrid-Cuevas and M. J.
Marin-Jimenez, "Automatic generation and detection of highly reliable fiducial markers under occlusion", Pattern
Recognition 47(6), 2014, 2280-2292. Number 0 is left out: a number counts from 1.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr
from fieldsim.model.bounds import Checked, Maybe, Number
from fieldsim.model.errors import Complaint
from fieldsim.model.quantities import HALL, ROBOT, Heading, InField, OnRobot
from fieldsim.model.units import LENGTH, NUMBER

MOST_MARKERS = 49
"""The highest number of a marker."""

LAID = 1.0
"""How exactly a marker is laid where a field says nothing, mm: common practice with a tape, no source."""

_NUMBER = Annotated[float, Number(NUMBER, least=1.0, most=MOST_MARKERS, whole=True), "The number printed beside it."]
_SIZE = Annotated[
    float, Number(LENGTH, least=10.0, most=500.0), "The side of its black square, mm, as printed: measure it."
]


@dataclass(frozen=True)
class Marker(Checked):
    """A marker laid flat on the field."""

    noun: ClassVar[str] = "marker"

    number: _NUMBER
    size: _SIZE
    at: Annotated[InField, "Its middle: [x, y]."]
    heading: Annotated[Heading, "Which way its arrow points, degrees counter-clockwise from x."] = 90.0
    height: Annotated[float, Number(LENGTH, least=-500.0, most=500.0), "How high it lies above the mat, mm."] = 0.0
    laid: Annotated[
        float, Number(LENGTH, least=0.0, most=50.0), "How exactly it is laid, give or take, mm. Left out: 1."
    ] = LAID


@dataclass(frozen=True)
class RobotMarker(Checked):
    """The marker on top of the robot, in the robot frame."""

    noun: ClassVar[str] = "marker"

    number: _NUMBER
    size: _SIZE
    at: Annotated[OnRobot, "Its middle: [x forward, y left] from under the middle of the axle."] = (0.0, 0.0)
    heading: Annotated[Heading, "Which way its arrow points, degrees; 0 is ahead, left positive."] = 0.0
    height: Annotated[
        float | None,
        Maybe(Number(LENGTH, least=0.0, most=ROBOT)),
        "How high it lies above the mat, mm. Left out: found from the pictures, less exactly.",
    ] = None


def markers_are_told_apart(markers: tuple[Marker, ...]) -> Iterator[Complaint]:
    """Complaints about markers of one field with the same number."""
    seen: set[float] = set()
    for index, marker in enumerate(markers):
        if marker.number in seen:
            yield Complaint(
                ("markers", index, "number"),
                tr("is {number:g}, like another marker's", number=marker.number),
                tr("give each marker a number of its own"),
            )
        seen.add(marker.number)


def markers_on_field(size: tuple[float, float], markers: tuple[Marker, ...]) -> Iterator[Complaint]:
    """Complaints about markers so far off the field that a unit was mixed up; beside the walls is a fine place."""
    reach = max(*size, HALL / 10)
    for index, marker in enumerate(markers):
        x, y = marker.at
        if not (-reach <= x <= size[0] + reach and -reach <= y <= size[1] + reach):
            yield Complaint(("markers", index, "at"), tr("lies far from the field"), tr("look for a slip of the unit"))
