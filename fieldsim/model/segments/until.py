"""A straight until a sensor sees a line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr, tr_later
from fieldsim.model.bounds import Named, Number
from fieldsim.model.quantities import HALL
from fieldsim.model.robot import Drive
from fieldsim.model.segments.kind import AlignmentKind, Capture, MayTouch, SegmentSpeed
from fieldsim.model.units import LENGTH


@dataclass(frozen=True)
class Until(AlignmentKind):
    """Drive straight until a light sensor sees a line."""

    noun: ClassVar[str] = "until"
    key: ClassVar[str] = "until"
    head: ClassVar[str] = "line"
    place: ClassVar[str] = "line"

    line: Annotated[str, Named("the name of a line", of="line"), "The line of the field."]
    sensor: Annotated[str, Named("the name of a sensor", of="sensor"), "The light sensor."]
    reach: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "How far it may drive until the sensor sees the line, mm; backwards if negative.",
    ]
    speed: SegmentSpeed = None
    capture: Annotated[Capture, "The largest angle from square to the line at which it still counts, degrees."] = 70.0
    may_touch: MayTouch = ()

    def travel(self, track: float) -> tuple[float, float]:
        return self.reach, 0.0

    def speed_on(self, drive: Drive, limit: float) -> float:
        return min(self.speed or drive.speed, limit)

    @property
    def looks_with(self) -> tuple[str, ...]:
        """The names of the sensors that look for the line."""
        return (self.sensor,)

    def in_words(self) -> str:
        back = self.reach < 0
        words = tr_later("back until {sensor} sees {line}") if back else tr_later("straight until {sensor} sees {line}")
        return tr(words, sensor=self.sensor, line=self.line)
