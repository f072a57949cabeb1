"""A straight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr, tr_later
from fieldsim.model.bounds import Number
from fieldsim.model.quantities import HALL
from fieldsim.model.robot import Drive
from fieldsim.model.segments.kind import MayTouch, SegmentKind, SegmentSpeed
from fieldsim.model.units import LENGTH


@dataclass(frozen=True)
class Straight(SegmentKind):
    """A straight of so many mm. Backwards if the distance is negative."""

    noun: ClassVar[str] = "straight"
    key: ClassVar[str] = "straight"
    head: ClassVar[str] = "distance"

    distance: Annotated[
        float, Number(LENGTH, least=-HALL, most=HALL, nonzero=True), "How far to drive, mm; backwards if negative."
    ]
    speed: SegmentSpeed = None
    may_touch: MayTouch = ()

    def travel(self, track: float) -> tuple[float, float]:
        return self.distance, 0.0

    def speed_on(self, drive: Drive, limit: float) -> float:
        return min(self.speed or drive.speed, limit)

    def in_words(self) -> str:
        words = tr_later("straight {way:g} mm") if self.distance > 0 else tr_later("back {way:g} mm")
        return tr(words, way=abs(self.distance))
