"""Aligning two sensors on a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr
from fieldsim.model.bounds import Many, Named, Number
from fieldsim.model.errors import Complaint
from fieldsim.model.field import Field
from fieldsim.model.quantities import HALL
from fieldsim.model.robot import Drive, Robot
from fieldsim.model.segments.kind import AlignmentKind, Capture, MayTouch, SegmentSpeed
from fieldsim.model.units import LENGTH, NUMBER


@dataclass(frozen=True)
class LineSquare(AlignmentKind):
    """Align on a line: the wheel on the side of the sensor that sees the line's edge stops, the other goes on until its
    sensor sees it too. Each further pass does the same in the other direction."""

    noun: ClassVar[str] = "line square"
    key: ClassVar[str] = "line square"
    head: ClassVar[str] = "line"
    place: ClassVar[str] = "line"

    line: Annotated[str, Named("the name of a line", of="line"), "The line of the field."]
    sensors: Annotated[
        tuple[str, ...],
        Many(Named("the name of a sensor", of="sensor"), least=2, most=2, what="sensor"),
        "The two light sensors, one to the left of the other.",
    ]
    reach: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "How far it may drive until a sensor sees the line, mm; backwards if negative.",
    ]
    passes: Annotated[float, Number(NUMBER, least=1.0, most=20.0, whole=True), "How often it aligns."] = 1.0
    speed: SegmentSpeed = None
    capture: Annotated[Capture, "The largest angle from square to the line at which it still aligns, degrees."] = 45.0
    may_touch: MayTouch = ()

    def travel(self, track: float) -> tuple[float, float]:
        return self.reach, 0.0

    def speed_on(self, drive: Drive, limit: float) -> float:
        return min(self.speed or drive.speed, limit)

    @property
    def looks_with(self) -> tuple[str, ...]:
        """The names of the sensors that look for the line."""
        return self.sensors

    @property
    def legs(self) -> int:
        return int(self.passes)

    def in_words(self) -> str:
        if self.passes > 1:
            return tr("line square on {line}, {passes:g} passes", line=self.line, passes=self.passes)
        return tr("line square on {line}", line=self.line)

    def impossible(self, field: Field, robot: Robot) -> Iterator[Complaint]:
        places = {sensor.name: sensor.at for sensor in robot.sensors}
        sides = [places[name][1] for name in self.sensors if name in places]
        if len(sides) == 2 and sides[0] == sides[1]:
            yield Complaint(
                ("sensors",),
                tr("names two sensors that are equally far to the left"),
                tr("one has to be to the left of the other, so that each can stop the wheel on its side"),
            )
