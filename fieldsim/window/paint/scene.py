"""What the window shows, as plain data: everything is computed before it comes here. Knows no screen.

Lengths in mm in the field frame, headings in degrees, unless a name says pixels. A *head* is a place in the run counted
in segments: 3.25 is a quarter of the way through the fourth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Run
from fieldsim.sim.failures import Failure
from fieldsim.sim.shapes import Part
from fieldsim.sim.ways import Way
from fieldsim.studies.answer import Pose
from fieldsim.studies.single import Shots
from fieldsim.window.asking import Answer
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.menu import MenuWords
from fieldsim.window.paint.layout import Layout, Strip

__all__ = [
    "Cloud",
    "Column",
    "Covered",
    "ErrorWords",
    "FieldScene",
    "Grip",
    "Guide",
    "Handle",
    "Here",
    "Mat",
    "MatchScene",
    "NumberRow",
    "Numbers",
    "Odds",
    "Picked",
    "Pinch",
    "Scene",
    "Shot",
    "SwitchRow",
    "Tipped",
    "Trouble",
    "hit_handle",
]

Floats = NDArray[np.float64]

Line = tuple[tuple[float, float], tuple[float, float]]

Kind = Literal["touches", "misses", "lost", "outside"]
"""What went wrong first in a trial. On the field and in the odds: a cross, an open square, a triangle, a diamond."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Some of the trials. Equality is identity."""

    paths: tuple[Floats, ...]
    """(k, 2) the axle's middle of each, up to a contact or to a square or line that was not caught. A missed target
    stops no trial."""
    fails: tuple[bool, ...]
    ends: Floats
    """(n, 3) the pose in which each ended."""
    marks: tuple[tuple[Kind, Floats], ...] = ()
    """Where trials failed, (m, 2) for each kind; of these or of more trials."""


@dataclass(frozen=True)
class Picked:
    """One trial, shown on its own."""

    path: Floats
    pose: Pose
    """Where its robot is at the playhead, or where it ended."""
    words: str
    kind: Kind | None = None
    at: tuple[float, float] | None = None
    more: tuple[str, ...] = ()
    """Lines below the words: by how much, and whose error did most."""


@dataclass(frozen=True, eq=False)
class Shot:
    """All trials at an act that is looked at, and what is told of them. Equality is identity."""

    of: Shots
    words: tuple[str, ...]


@dataclass(frozen=True)
class Pinch:
    """The tightest place: the robot's point, the obstacle's point, and where in the run."""

    head: float
    robot: tuple[float, float]
    thing: tuple[float, float]
    words: str
    """Such as '3.8 mm'."""


@dataclass(frozen=True)
class Column:
    """Room left over a stretch of the run, mm: percentiles over the trials. What is not known is None."""

    begin: float
    end: float
    """Heads."""
    planned: float | None
    p05: float | None = None
    p25: float | None = None
    p50: float | None = None
    p75: float | None = None
    p95: float | None = None
    act: bool = False
    """It is what a miss leaves of the mm that a target allows; nothing is touched there, only missed."""
    allowed: float | None = None
    """Those mm."""


@dataclass(frozen=True)
class Trouble:
    """What fails most often."""

    kind: Kind
    what: str
    where: str
    """Such as 'touches, segment 11'."""
    often: str
    """Such as '24 in 1000'."""
    of: Failure | None = None
    """What goes wrong first in these trials."""


@dataclass(frozen=True)
class Odds:
    """What `try` says, in few words."""

    big: str
    """Such as '825 in 1000'."""
    lead: str = ""
    between: str = ""
    share: float | None = None
    low: float = 0.0
    high: float = 1.0
    time: str = ""
    troubles: tuple[Trouble, ...] = ()
    nothing_fails: str = ""
    """Said in place of troubles when there are none."""
    foot: str = ""
    """Such as 'coarse: 500 trials, going on'."""
    going: float | None = None
    """How much of the counting is done, 0 to 1; None if it is over."""
    stale: bool = False
    """It belongs to the plan as it was before the last change."""
    hint: tuple[str, ...] = ()
    """What costs most, and what it is worth to mend it."""
    looked: int | None = None
    """The row whose trials are looked at one by one, from 0,"""
    which: str = ""
    """and which of them that is: '3 of 43'."""


@dataclass(frozen=True)
class NumberRow:
    label: str
    value: str
    unit: str = ""
    wrong: bool = False
    on: bool = True
    """Whether its buttons do anything."""
    cursor: int | None = None
    """Being written into: the letters before the cursor."""
    fresh: bool = False
    """What is there goes with the first letter that is typed."""
    wide: bool = False
    """A name: its entry takes the place of the buttons too."""
    listed: bool = False
    """A word that is chosen from a list: it opens where the row is pressed."""
    plain: bool = False
    """Only told: nothing can be written there."""


@dataclass(frozen=True)
class Numbers:
    """The numbers of what is selected."""

    title: str
    note: str = ""
    rows: tuple[NumberRow, ...] = ()


@dataclass(frozen=True)
class SwitchRow:
    """Something to choose: the start, the robot, what it wears."""

    label: str
    value: str
    on: bool = True


@dataclass(frozen=True)
class Handle:
    """Something to drag on the field."""

    name: str
    kind: Literal["move", "turn", "width"]
    at: tuple[float, float]
    heading: float = 0.0
    """For 'width': the direction in which it is dragged; for 'turn' that of the robot."""


@dataclass(frozen=True)
class Guide:
    """A line that something snaps to."""

    start: tuple[float, float]
    end: tuple[float, float]
    words: str = ""


@dataclass(frozen=True, eq=False)
class Mat:
    """A picture of the mat: a pygame surface, the field point of its lower left corner, and its width, mm."""

    surface: Any
    corner: tuple[float, float]
    width: float


@dataclass(frozen=True)
class ErrorWords:
    title: str
    lines: tuple[str, ...]
    answers: tuple[Answer, ...] = ()
    """What a question can be answered with."""


class Covered(Protocol):
    """A scene as far as something may lie over it: words, a question, the list of keys."""

    @property
    def layout(self) -> HasField: ...
    @property
    def toast(self) -> str: ...
    @property
    def help(self) -> tuple[tuple[str, str], ...]: ...
    @property
    def error(self) -> ErrorWords | None: ...
    @property
    def hover(self) -> str | None: ...


class Tipped(Protocol):
    """A scene as far as something may be said of what the pointer rests on."""

    @property
    def layout(self) -> HasField: ...
    @property
    def tip(self) -> tuple[str, tuple[float, float]] | None: ...


class HasField(Protocol):
    @property
    def field(self) -> Rect: ...
    @property
    def unit(self) -> float: ...


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything to be shown. What is not there is not drawn."""

    run: Run
    parts: tuple[Part, ...]
    """The footprint, body first (``fieldsim.sim.shapes.footprint``)."""
    layout: Layout
    camera: Camera
    way: Way
    strip: Strip
    dark: bool = False
    head: float = 0.0
    pose: Pose | None = None
    """The robot at the playhead; None for where the plan has it."""
    cloud: Cloud | None = None
    picked: Picked | None = None
    pinch: Pinch | None = None
    shots: tuple[Shot, ...] = ()
    flats: tuple[Line, ...] = ()
    """The ends of each face where it is pushed flat,"""
    sights: tuple[tuple[float, float], ...] = ()
    """and where sensors see their lines, as planned."""
    columns: tuple[Column, ...] = ()
    most: float | None = None
    """The upper end of the ribbon, mm; None for what the columns need."""
    ghost: tuple[Column, ...] = ()
    """The ribbon before the last change."""
    odds: Odds | None = None
    troubled: tuple[tuple[int, Kind], ...] = ()
    """Segments on which trials fail, from 1, and how they do most often there."""
    touched: frozenset[str] = frozenset()
    """Obstacles that trials touch."""
    segment: int | None = None
    """The selected segment, from 1."""
    thing: str | None = None
    """The name of the selected obstacle, jig, target, line or start area."""
    numbers: Numbers | None = None
    menu: MenuWords | None = None
    leads: bool = False
    """Clicks lead the run."""
    stays: bool = False
    """What comes later stays where it is when the path is dragged."""
    switches: tuple[SwitchRow, ...] = ()
    handles: tuple[Handle, ...] = ()
    guides: tuple[Guide, ...] = ()
    mat: Mat | None = None
    title: str = ""
    """In the head of the window, such as 'Flour round: Box one on Bakery yard'."""
    changed: bool = False
    """Whether there is anything to save."""
    playing: bool = False
    pace: str = "1x"
    clock: str = ""
    """Beside the controls, such as '6.2 of 17.2 s'."""
    axis: str = "time"
    """What the strip's axis shows, on its button."""
    off: frozenset[str] = frozenset()
    """Buttons that do nothing now, such as 'undo'."""
    hover: str | None = None
    """What is under the pointer, as ``Layout.at`` or ``hit_handle`` names it."""
    toast: str = ""
    tip: tuple[str, tuple[float, float]] | None = None
    """What is said of what the pointer rests on, and where that is."""
    help: tuple[tuple[str, str], ...] = ()
    """Keys and what they do; shown when there are any."""
    error: ErrorWords | None = None


@dataclass(frozen=True, eq=False)
class MatchScene(Scene):
    """A match being played. The strip has its stretches of time in place of segments, and its points over them."""

    scores: tuple[tuple[float, float], ...] = ()
    """(head, points there are from there on), in turn."""
    by_hand: frozenset[int] = frozenset()
    """Stretches in which nothing drives, from 0."""


@dataclass(frozen=True)
class Here:
    """What is on a field, and what to do next."""

    counts: tuple[tuple[str, str], ...]
    """The tool that draws them, and how many there are in words."""
    lead: str
    """Over the words: 'next', or the tool that is in hand."""
    words: tuple[str, ...]
    """What to do, one thing after the other."""


@dataclass(frozen=True)
class Grip:
    """A part of the picked thing that can be dragged: 'corner', 'edge', 'end' or 'turn'."""

    kind: Literal["corner", "edge", "end", "turn"]
    at: tuple[float, float]
    heading: float = 0.0
    """For an edge the direction in which it is dragged, for 'turn' that of the thing."""
    hot: bool = False


@dataclass(frozen=True, eq=False)
class FieldScene(Scene):
    """A field being drawn. What it has in common with a run's window is painted by the same code, so it has a run that
    only stands and is not shown."""

    tool: str = "pick"
    here: Here | None = None
    grips: tuple[Grip, ...] = ()
    chosen: tuple[str, int] | None = None
    """The picked thing: its kind and its number in the field's list, from 0; 'walls' for the field itself."""
    also: tuple[tuple[str, int], ...] = ()
    """What is picked besides."""
    draft: tuple[tuple[float, float], ...] = ()
    """An outline being drawn: its corners so far, and the place under the pointer."""
    known: tuple[tuple[float, float], ...] = ()
    """Points whose distance is known, while the picture's size is set from it,"""
    known_words: str = ""
    """and what is written between them."""
    spot: tuple[float, float] | None = None
    """Where the next press would set a point."""
    pointer: tuple[float, float] | None = None
    """The pointer on the rulers."""
    measure: tuple[str, tuple[float, float]] | None = None
    """Words beside the pointer, and where that is."""
    laying: bool = False
    """The picture is laid anew: it is shown as it is, also beyond the field."""


def hit_handle(camera: Camera, handles: tuple[Handle, ...], x: float, y: float, reach: float) -> Handle | None:
    """The handle nearest to a pixel, no farther than ``reach`` pixels from it."""
    best, least = None, reach
    for handle in handles:
        px, py = camera.pixel(*handle.at)
        away = float(np.hypot(px - x, py - y))
        if away <= least:
            best, least = handle, away
    return best


def visible(rect: Rect, points: Floats) -> bool:
    """Whether the bounding box of pixels (n, 2) meets the rectangle."""
    if not len(points):
        return False
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return bool(x1 >= rect.x and y1 >= rect.y and x0 <= rect.right and y0 <= rect.bottom)
