"""A face pushed flat on a wall or on a side of an obstacle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import named, tr, tr_later
from fieldsim.model.bounds import Choice, Named, Number
from fieldsim.model.errors import Complaint
from fieldsim.model.field import WALLS, Field, Round
from fieldsim.model.quantities import HALL
from fieldsim.model.robot import Drive, Face, Robot
from fieldsim.model.segments.kind import AlignmentKind, Capture, MayTouch, SegmentSpeed
from fieldsim.model.units import LENGTH


@dataclass(frozen=True)
class Square(AlignmentKind):
    """Push a face flat on a wall, or on a side of an obstacle. The face is the foremost (rearmost) edge of all that the
    robot carries at the height of what it is pushed against."""

    noun: ClassVar[str] = "square"
    key: ClassVar[str] = "square"
    head: ClassVar[str] = "face"
    place: ClassVar[str] = "against"
    brakes: ClassVar[bool] = False

    face: Annotated[
        Face, Choice(("front", "rear")), "The face that is pushed flat: front drives forwards, rear backwards."
    ]
    against: Annotated[
        str, Named("the name of an obstacle or a wall", of="obstacle or wall"), "The wall or obstacle it is pushed on."
    ]
    reach: Annotated[float, Number(LENGTH, above=0.0, most=HALL), "How far it may drive until the face touches, mm."]
    speed: SegmentSpeed = None
    capture: Annotated[Capture, "The largest angle from flush at which it still swings flat, degrees."] = 20.0
    may_touch: MayTouch = ()

    def travel(self, track: float) -> tuple[float, float]:
        return self.reach if self.face == "front" else -self.reach, 0.0

    def speed_on(self, drive: Drive, limit: float) -> float:
        return min(self.speed or drive.speed, limit)

    def in_words(self) -> str:
        words = tr_later("square front on {wall}") if self.face == "front" else tr_later("square rear on {wall}")
        return tr(words, wall=named(self.against))

    def impossible(self, field: Field, robot: Robot) -> Iterator[Complaint]:
        if self.against in WALLS and field.walls is None:
            yield Complaint(("against",), tr("names a wall, but the field is an open board"), tr("its edge is a drop"))
        elif any(item.name == self.against and isinstance(item.shape, Round) for item in field.obstacles):
            yield Complaint(
                ("against",),
                tr("names '{against}', which is round", against=self.against),
                tr("a face can be pushed flat only on a flat side"),
            )
