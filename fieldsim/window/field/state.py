"""Values that a session in which a field is drawn is made of, and its words: tools, lines of the card, a drag."""

from __future__ import annotations

from dataclasses import dataclass, field

from fieldsim.language import tr, tr_later
from fieldsim.model import Field, Point
from fieldsim.report.phrases import spoken
from fieldsim.window.field.things import Handle
from fieldsim.window.history import History

__all__ = ["ARM", "DOUBLE", "DRAWN", "LAYING", "REACH", "SNAP", "SNAPS", "STILL", "WORDS", "FieldLine", "said"]


DRAWN = ("box", "round", "outline", "start area", "jig", "line", "target")
"""Tools that draw something, by the name of what they draw."""
LAYING = ("picture", "scale")
"""Tools that lay the picture."""
# How far off a thing its handle for turning stands, units.
ARM = 36.0
SNAPS: tuple[tuple[str, float | None], ...] = (
    (tr_later("things"), None),
    (tr_later("things, 10 mm"), 10.0),
    (tr_later("things, 50 mm"), 50.0),
    (tr_later("nothing"), None),
)
"""What drags snap to, in words, and the step of the grid, mm."""
# Reaches of the pointer in units of the layout, and how near a drag comes before it snaps.
REACH, SNAP = 11.0, 9.0
# A press that moves less than this, in units, is a click; two clicks within so many seconds are one double click.
STILL, DOUBLE = 3.0, 0.4
# Tools, kinds and shapes by the words that code and files have for them, and how they are said.
WORDS = {
    "box": tr_later("box"),
    "round": tr_later("round"),
    "outline": tr_later("outline"),
    "obstacle": tr_later("obstacle"),
    "start area": tr_later("start area"),
    "jig": tr_later("jig"),
    "line": tr_later("line"),
    "target": tr_later("target"),
    "rear left": tr_later("rear left"),
    "rear right": tr_later("rear right"),
    "front left": tr_later("front left"),
    "front right": tr_later("front right"),
}


def said(word: str) -> str:
    """A tool, kind or shape as it is told."""
    return tr(WORDS.get(word, word))


def in_mm(value: float) -> str:
    return spoken(round(value, 1))


@dataclass(frozen=True)
class FieldLine:
    """A line of the number card: the name, or a number."""

    key: str
    label: str
    text: str
    unit: str = ""


@dataclass
class Drag:
    what: str
    """'pan', 'ground' (pans too, but its click drops what is picked), 'grip', 'draw', 'picture' or 'scale'."""
    at: tuple[float, float]
    """Where the press was, pixels,"""
    last: tuple[float, float]
    """and where the pointer was last."""
    handle: Handle | None = None
    grabbed: Point = (0.0, 0.0)
    """From the pointer to what is dragged, mm."""
    base: Field | None = None
    """The field before it."""
    start: Point = (0.0, 0.0)
    """Where a drawing began, or what is gripped was, mm."""
    before: History[Field] | None = None
    """The history when it began: what escape goes back to."""
    again: bool = False
    """The thing was picked already: a click goes to what lies below it."""
    moved: bool = False
    token: object = field(default_factory=object)
