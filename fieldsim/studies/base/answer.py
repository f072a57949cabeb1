"""What `base` answers: numbers, warnings, and what each attachment does to the room the robot needs."""

from __future__ import annotations

from dataclasses import dataclass, field

from fieldsim.language import tr
from fieldsim.model import Band, Point
from fieldsim.studies.base.sources import NO_SOURCE

FRICTION = 0.6
"""Rubber wheels on a smooth mat: common practice, no source. To measure it, tilt the mat under
wheels that cannot roll (and no casters) until they slide: it is the tangent of that tilt."""


@dataclass(frozen=True)
class Number:
    """One number of the base. ``value`` is None where it cannot be known or there is none; ``note`` then says why."""

    id: str
    value: float | None
    unit: str
    """mm, mm/s, mm/s^2, s, degrees, degrees/s, or share (of the weight, or of another number; 1 is all of it)."""
    words: str
    formula: str
    source: str
    note: str = ""
    group: str = ""


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
    ahead: float
    """How far it stands out beyond the body's front face, 0 if it does not."""
    behind: float
    left: float
    right: float
    spin_radius: float
    spin_more: float
    """How much larger the spin circle's radius is than the bare body's."""
    narrowest_gap: float
    gap_more: float
    """How much wider the narrowest gap is than the bare body's."""
    height: Band


@dataclass(frozen=True)
class BaseAnswer:
    """The base in numbers, as worn."""

    version: str
    robot: str
    wear: tuple[str, ...]
    numbers: tuple[Number, ...]
    warnings: tuple[BaseWarning, ...]
    attachments: tuple[AttachmentReach, ...]
    friction: float = FRICTION
    stands_on: tuple[Point, ...] = ()
    """The corners of the ground it stands on (hull of wheels and casters), counter-clockwise; empty if not known."""
    tips_over: Point | None = None
    """x, mm, of the edge it tips over backwards and of the one forwards, in line with its centre of mass."""

    def number(self, name: str) -> Number:
        """The number of that id."""
        return next(number for number in self.numbers if number.id == name)
