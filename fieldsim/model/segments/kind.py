"""What every kind of segment knows of itself, and the bounds that several kinds share.

What a robot's errors, a picture or a window make of a kind belongs to those rooms: each keeps one table by kind there.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from typing import TYPE_CHECKING, Annotated, ClassVar

from fieldsim.model.bounds import Checked, Many, Named, Number
from fieldsim.model.errors import Complaint
from fieldsim.model.quantities import Speed
from fieldsim.model.units import ANGLE

if TYPE_CHECKING:
    from fieldsim.model.field import Field
    from fieldsim.model.robot import Drive, Robot

MayTouch = Annotated[
    tuple[str, ...],
    Many(Named("the name of an obstacle or a wall", of="obstacle or wall"), most=100),
    "Obstacles or walls that contact is meant with on this segment.",
]
SegmentSpeed = Annotated[Speed | None, "Its speed, mm/s. Left out: the robot's speed."]
SegmentAngle = Annotated[float, Number(ANGLE, least=-3_600.0, most=3_600.0, nonzero=True)]

# How far from flush a face, a pair of sensors or one sensor may come and still do its work, degrees: common practice,
# no source. A flatter angle than the last would let a millimetre of the line's edge decide over three on the way.
Capture = Annotated[float, Number(ANGLE, above=0.0, below=90.0)]


class SegmentKind(Checked):
    """One kind of segment. What is said here holds for one at which the robot stands still."""

    key: ClassVar[str]
    """Its key in a file."""
    head: ClassVar[str]
    """The attribute whose value stands behind that key."""

    def travel(self, track: float) -> tuple[float, float]:
        """Commanded mm of the axle's middle and degrees, left positive, with wheels ``track`` mm apart. Of an
        alignment, how far it may drive."""
        return 0.0, 0.0

    def way(self, track: float) -> float:
        """How far that point drives whose speed is told, mm: the axle's middle, on turns a moving wheel."""
        return abs(self.travel(track)[0])

    def speed_on(self, drive: Drive, limit: float) -> float:
        """The speed of that point, mm/s; no wheel rolls faster than ``limit`` mm/s."""
        return inf

    @property
    def standing(self) -> float:
        """Planned seconds for which the robot stands still."""
        return 0.0

    def in_words(self) -> str:
        """The segment as a team would say it."""
        raise NotImplementedError

    def impossible(self, field: Field, robot: Robot) -> Iterator[Complaint]:
        """What is wrong with it on that field and with that robot whatever the path; names are known to exist or are
        said elsewhere."""
        yield from ()


class AlignmentKind(SegmentKind):
    """One kind of segment that drives until a wall or a line sets the robot's pose anew."""

    place: ClassVar[str]
    """The attribute that names what it aligns on."""
    brakes: ClassVar[bool] = True
    """Whether the motors slow it down at the end; a wall stops it."""

    @property
    def on(self) -> str:
        """The name of the wall, obstacle or line it aligns on."""
        name: str = getattr(self, self.place)
        return name

    @property
    def legs(self) -> int:
        """How many times it sets out and stops again."""
        return 1
