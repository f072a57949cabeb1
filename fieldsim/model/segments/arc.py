"""An arc."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians
from typing import Annotated, ClassVar

from fieldsim.language import tr, tr_later
from fieldsim.model.bounds import Number
from fieldsim.model.quantities import HALL
from fieldsim.model.robot import Drive
from fieldsim.model.segments.kind import MayTouch, SegmentAngle, SegmentKind, SegmentSpeed
from fieldsim.model.units import LENGTH

# Whether it is driven backwards, and whether it is to the left.
_WORDS = {
    (False, True): tr_later("arc left {angle:g} degrees, radius {radius:g} mm"),
    (False, False): tr_later("arc right {angle:g} degrees, radius {radius:g} mm"),
    (True, True): tr_later("arc backwards left {angle:g} degrees, radius {radius:g} mm"),
    (True, False): tr_later("arc backwards right {angle:g} degrees, radius {radius:g} mm"),
}


@dataclass(frozen=True)
class Arc(SegmentKind):
    """The axle's middle drives a circle of ``radius`` mm: left if the angle is positive, backwards if the radius is
    negative."""

    noun: ClassVar[str] = "arc"
    key: ClassVar[str] = "arc"
    head: ClassVar[str] = "angle"

    angle: Annotated[SegmentAngle, "How far the heading changes, degrees; left if positive."]
    radius: Annotated[
        float,
        Number(LENGTH, least=-HALL, most=HALL, nonzero=True),
        "The radius the middle of the axle drives, mm; backwards if negative.",
    ]
    speed: SegmentSpeed = None
    may_touch: MayTouch = ()

    def travel(self, track: float) -> tuple[float, float]:
        return abs(radians(self.angle)) * self.radius, self.angle

    def speed_on(self, drive: Drive, limit: float) -> float:
        # The outer wheel drives the longer way and sets the limit.
        outer = 1 + drive.track / (2 * abs(self.radius))
        return min(self.speed or drive.speed, limit / outer)

    def in_words(self) -> str:
        return tr(_WORDS[self.radius < 0, self.angle > 0], angle=abs(self.angle), radius=abs(self.radius))
