"""What `base` answers: numbers, warnings, and what each attachment does to the room the robot needs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Perhaps, Told
from fieldsim.language import tr
from fieldsim.model import Point
from fieldsim.studies.base.sources import NO_SOURCE

FRICTION = 0.6
"""Rubber wheels on a smooth mat: common practice, no source. To measure it, tilt the mat under
wheels that cannot roll (and no casters) until they slide: it is the tangent of that tilt."""


@dataclass(frozen=True)
class Number:
    """One number of the base. ``value`` is None where it cannot be known or there is none; ``note`` then says why."""

    id: Annotated[str, "stays the same whatever the language"]
    value: float | None
    unit: Annotated[str, "mm, mm/s, mm/s^2, s, degrees, degrees/s or share"]
    """A share is of the weight, or of another number; 1 is all of it."""
    words: Annotated[str, Told(after="source")]
    formula: str
    source: str
    note: Annotated[str, Told(after="words")] = ""
    group: Annotated[str, Told(hidden=True)] = ""


@dataclass(frozen=True)
class BaseWarning:
    """Something in the design that is out of proportion, or missing in the file."""

    id: str
    words: str
    source: str = field(default_factory=lambda: tr(NO_SOURCE))


@dataclass(frozen=True)
class AttachmentReach:
    """What one attachment, worn alone, does to the room the robot needs, mm. Its weight is not in the file."""

    name: str
    worn: bool
    ahead: Annotated[float, "mm it stands out"]
    """Beyond the body's front face, 0 if it does not."""
    behind: Annotated[float, "mm it stands out"]
    left: Annotated[float, "mm it stands out"]
    right: Annotated[float, "mm it stands out"]
    spin_radius: Annotated[float, "mm"]
    spin_more: Annotated[float, "mm"]
    """How much larger the spin circle's radius is than the bare body's."""
    narrowest_gap: Annotated[float, "mm"]
    gap_more: Annotated[float, "mm"]
    """How much wider the narrowest gap is than the bare body's."""
    height: Annotated[tuple[Perhaps, Perhaps], "mm from the mat, low and high; null: without end"]


@dataclass(frozen=True, kw_only=True)
class BaseAnswer:
    """The base in numbers, as worn."""

    command: ClassVar[Literal["base"]] = "base"
    version: Annotated[str, "of fieldsim"]
    robot: str
    wear: tuple[str, ...]
    friction: float = FRICTION
    numbers: tuple[Number, ...]
    warnings: tuple[BaseWarning, ...]
    attachments: tuple[AttachmentReach, ...]
    stands_on: Annotated[tuple[Point, ...], "corners of the ground between wheels and casters, robot frame, mm"] = ()
    """The hull of wheels and casters, counter-clockwise; empty if not known."""
    tips_over: Annotated[Point | None, "x of the edges it tips over, mm"] = None
    """Backwards and forwards, in line with its centre of mass."""

    def number(self, name: str) -> Number:
        """The number of that id."""
        return next(number for number in self.numbers if number.id == name)
