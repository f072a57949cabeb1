"""A turn on the spot or about a standing wheel."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians
from typing import Annotated, ClassVar

from fieldsim.language import tr, tr_later
from fieldsim.model.bounds import Choice, Maybe
from fieldsim.model.quantities import TurnSpeed
from fieldsim.model.robot import Drive, Wheel
from fieldsim.model.segments.kind import MayTouch, SegmentAngle, SegmentKind

# By the wheel it turns about, and whether it is to the left.
_WORDS = {
    (None, True): tr_later("turn left {angle:g} degrees"),
    (None, False): tr_later("turn right {angle:g} degrees"),
    ("left wheel", True): tr_later("turn left {angle:g} degrees about the left wheel"),
    ("left wheel", False): tr_later("turn right {angle:g} degrees about the left wheel"),
    ("right wheel", True): tr_later("turn left {angle:g} degrees about the right wheel"),
    ("right wheel", False): tr_later("turn right {angle:g} degrees about the right wheel"),
}


@dataclass(frozen=True)
class Turn(SegmentKind):
    """On the spot, or about a standing wheel; degrees, left positive."""

    noun: ClassVar[str] = "turn"
    key: ClassVar[str] = "turn"
    head: ClassVar[str] = "angle"

    angle: Annotated[SegmentAngle, "How far to turn, degrees; left if positive."]
    about: Annotated[
        Wheel | None,
        Maybe(Choice(("left wheel", "right wheel"))),
        "The wheel that stands still. Left out: on the spot.",
    ] = None
    turn_speed: Annotated[
        TurnSpeed | None, "Its turning speed, degrees per second. Left out: the robot's turn_speed."
    ] = None
    may_touch: MayTouch = ()

    def travel(self, track: float) -> tuple[float, float]:
        if self.about is None:
            return 0.0, self.angle
        # About the left wheel a left turn drives the axle's middle forwards, about the right wheel backwards.
        side = 1.0 if self.about == "left wheel" else -1.0
        return side * radians(self.angle) * track / 2, self.angle

    def arm(self, track: float) -> float:
        """How far a moving wheel is from the point that stands still, mm."""
        return track / 2 if self.about is None else track

    def way(self, track: float) -> float:
        return abs(radians(self.angle)) * self.arm(track)

    def speed_on(self, drive: Drive, limit: float) -> float:
        return min(radians(self.turn_speed or drive.turn_speed) * self.arm(drive.track), limit)

    def in_words(self) -> str:
        return tr(_WORDS[self.about, self.angle > 0], angle=abs(self.angle))
