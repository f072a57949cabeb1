"""A field in the window: what is picked, which tool is in hand, what a hand or a key changes. Knows no screen, no clock
and no disk.

Events come in as plain values (pixels, names of keys, seconds), scenes go out (``field_view``). Changes are the pure
functions of ``field_edits``; every one of them goes through ``History``, so that nothing is lost and all can be undone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import atan2, cos, degrees, hypot, inf, isfinite, radians, sin

from fieldsim.language import tr, tr_later
from fieldsim.model import Box, Field, Jig, Line, Obstacle, Outline, Picture, Point, Round, StartArea, Target
from fieldsim.model.bounds import Number, attributes
from fieldsim.model.errors import shown
from fieldsim.report.phrases import spoken
from fieldsim.window.camera import Camera
from fieldsim.window.field import edits as field_edits
from fieldsim.window.field.edits import WALLS_HANDLE, Handle, Thing
from fieldsim.window.field.runs import renamed
from fieldsim.window.history import History
from fieldsim.window.keys import FIELD_KEYS, action_of
from fieldsim.window.paint.layout import field_layout
from fieldsim.window.run.edits import Dial, Refused, accepted, nudged, parse_number, tidy, typed_value
from fieldsim.window.session import BEGINNING, ZOOM, Entry, Session, moves
from fieldsim.window.snapping import ANGLES, SnappedPoint, snap_angle, snap_point, snap_thing

__all__ = ["DRAWN", "SNAPS", "WORDS", "Entry", "FieldLine", "FieldSession", "said", "scaled"]

# Reaches of the pointer in units of the layout, and how near a drag comes before it snaps.
REACH, SNAP = 11.0, 9.0
# A press that moves less than this, in units, is a click; two clicks within so many seconds are one double click.
STILL, DOUBLE = 3.0, 0.4
# How far off a thing its handle for turning stands, units.
ARM = 36.0

DRAWN = ("box", "round", "outline", "start area", "jig", "line", "target")
"""Tools that draw something, by the name of what they draw."""
LAYING = ("picture", "scale")
"""Tools that lay the picture."""
SNAPS: tuple[tuple[str, float | None], ...] = (
    (tr_later("things"), None),
    (tr_later("things, 10 mm"), 10.0),
    (tr_later("things, 50 mm"), 50.0),
    (tr_later("nothing"), None),
)
"""What drags snap to, in words, and the step of the grid, mm."""

# Sizes of what is put down with one click, mm.
USUAL, USUAL_LINE = 100.0, 300.0

_LABELS = {
    "size.x": tr_later("from left to right"),
    "size.y": tr_later("from near to far"),
    "height.low": tr_later("height, from"),
    "height.high": tr_later("height, up to"),
    "walls.low": tr_later("walls, from"),
    "walls.high": tr_later("walls, up to"),
    "picture.corner.x": tr_later("x of its corner"),
    "picture.corner.y": tr_later("y of its corner"),
    "picture.width": tr_later("its width"),
}
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
_KINDS = {"box": "obstacle", "round": "obstacle", "outline": "obstacle"}


def said(word: str) -> str:
    """A tool, kind or shape as it is told."""
    return tr(WORDS.get(word, word))


@dataclass(frozen=True)
class FieldLine:
    """A line of the number card: the name, or a number."""

    key: str
    label: str
    text: str
    unit: str = ""


@dataclass
class _Drag:
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


class FieldSession(Session[Field]):
    """One field being looked at and changed."""

    KEYS = FIELD_KEYS

    def __init__(self, begun: Field, size: tuple[int, int] = (1280, 800), scale: float = 1.0) -> None:
        super().__init__(begun, scale)
        self.places = field_layout(size, scale)
        self.camera = Camera.fit(self.places.field, begun.size, self.margin)
        self.tool = "pick"
        self.chosen: Handle | None = None
        """What is picked; the part is that of an outline's corner, else the whole."""
        self.hot: Handle | None = None
        """What a press would grip."""
        self.spot: Point | None = None
        """Where a press with the tool in hand would set a point."""
        self.snap = 0
        self.draft: tuple[Point, ...] = ()
        """Corners of an outline that is being drawn,"""
        self.known: tuple[Point, ...] = ()
        """and points whose distance is known."""
        self.aspect: float | None = None
        """Height over width of the picture, as far as it could be read,"""
        self.pictures: tuple[str, ...] = ()
        """and names of pictures beside the file."""
        self.new = False
        """There is no file yet."""
        self._clicked = -inf
        self._swallowed = ""
        self._drag: _Drag | None = None

    # --- what there is -----------------------------------------------------------------------------------------------

    @property
    def field(self) -> Field:
        return self.history.state

    @property
    def dragging(self) -> bool:
        """Whether a hand is changing something."""
        return self._drag is not None

    @property
    def unsaved(self) -> bool:
        return self.history.dirty or self.new

    @property
    def margin(self) -> float:
        return 14 * self.places.unit

    @property
    def arm(self) -> float:
        """How far handles for turning stand off, mm."""
        return ARM * self.places.unit / self.camera.zoom

    @property
    def reach(self) -> float:
        return REACH * self.places.unit / self.camera.zoom

    @property
    def place(self) -> Handle:
        """What the number card is about: what is picked, or the field."""
        return self.chosen or WALLS_HANDLE

    @property
    def pointer(self) -> Point | None:
        """The pointer in mm, if it is over the field."""
        if not self.places.field.contains(*self._pointer):
            return None
        return self._on_field(*self._pointer)

    @property
    def lines(self) -> tuple[FieldLine, ...]:
        """All lines of the number card."""
        found = []
        if self.tool in LAYING:
            if len(self.known) == 2:
                found.append(FieldLine("apart", tr("how far apart"), spoken(round(self.apart, 1)), "mm"))
            found += [_line(dial) for dial in self._dials if dial.key.startswith("picture.")]
            return tuple(found)
        name = self.field.name if self.place.kind == "walls" else field_edits.thing_at(self.field, self.place).name
        return (
            FieldLine("name", tr("name"), name),
            *(_line(d) for d in self._dials if not d.key.startswith("picture.")),
        )

    @property
    def _dials(self) -> tuple[Dial, ...]:
        place = WALLS_HANDLE if self.tool in LAYING else self.place
        return field_edits.numbers_of(self.field, place)

    @property
    def apart(self) -> float:
        """How far the two known points are apart as the picture lies now, mm."""
        (ax, ay), (bx, by) = self.known
        return hypot(bx - ax, by - ay)

    @property
    def switches(self) -> tuple[tuple[str, str, bool], ...]:
        """What can be chosen: a label, the word, and whether there is any other."""
        picture = self.field.picture
        there = len({*self.pictures, *([picture.file] if picture else [])})
        laid = tr("none") if picture is None else picture.file
        return (
            self._own_switch(),
            (tr("snaps to"), tr(SNAPS[self.snap][0]), True),
            (tr("picture"), laid, there > 0),
        )

    def _own_switch(self) -> tuple[str, str, bool]:
        if self.place.kind == "walls":
            return tr("edge"), tr("open board") if self.field.walls is None else tr("walls"), True
        thing = field_edits.thing_at(self.field, self.place)
        if isinstance(thing, Target):
            return tr("heading"), tr("any") if thing.heading is None else tr("asked"), True
        words = field_edits.choices_of(self.field, self.place)
        return (
            (words[0].label, said(str(words[0].value)), True) if words else (tr("kind"), said(self.place.kind), False)
        )

    @property
    def measure(self) -> str:
        """What is being dragged, in numbers."""
        drag = self._drag
        if drag is None or not drag.moved:
            return ""
        if drag.what == "picture" and self.field.picture is not None:
            return _xy(self.field.picture.corner)
        if drag.what not in ("grip", "draw") or self.chosen is None or not self._there(self.chosen):
            return ""
        part = "" if drag.handle is None else drag.handle.part
        if self.chosen.kind == "walls":
            return tr("{x} x {y} mm", x=_mm(self.field.size[0]), y=_mm(self.field.size[1]))
        thing = field_edits.thing_at(self.field, self.chosen)
        if part == "whole" or (part.startswith("corner") and self._is_outline(self.chosen)):
            handle = self.chosen if part != "whole" else self.chosen.whole
            return _xy(field_edits.place_of(self.field, handle, self.arm))
        return _sizes(thing, part)

    # --- time --------------------------------------------------------------------------------------------------------

    def tick(self, now: float) -> None:
        """Time has gone on to ``now``, seconds: words vanish."""
        self._now = now
        self._words_go(now)

    # --- changes -----------------------------------------------------------------------------------------------------

    def change(self, made: Field | Refused, what: str, drag: object | None = None, quiet: bool = False) -> bool:
        """Take a changed field, or say why it cannot be; whether it was taken."""
        if isinstance(made, Refused):
            if not quiet:
                self.say(made.words)
            return False
        self.history = self.history.push(made, what, drag)
        self._changed()
        return True

    def _changed(self) -> None:
        if self.camera.field != self.field.size:
            whole = self.camera == Camera.fit(self.places.field, self.camera.field, self.margin)
            self.camera = replace(self.camera, field=self.field.size)
            # Under a hand that drags a wall the view stays; else whoever saw the whole field sees the whole of it.
            if whole and self._drag is None:
                self._fit()
        if self.chosen is not None and not self._there(self.chosen):
            self.chosen = self.chosen.whole if self._there(self.chosen.whole) else None
        if self.hot is not None and not self._there(self.hot):
            self.hot = None
        if self.field.picture is None and self.tool in LAYING:
            self.tool, self.known = "pick", ()
        self.row = min(self.row, max(0, len(self.lines) - 1))
        self._show_row()

    def _there(self, handle: Handle) -> bool:
        """Whether the field has such a thing with such a part."""
        try:
            if handle != WALLS_HANDLE:
                field_edits.place_of(self.field, handle)
        except (IndexError, KeyError):
            return False
        return True

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        """The window has another size."""
        self.scale = self.scale if scale is None else scale
        self.places = field_layout(size, self.scale)
        self.camera = self.camera.resized(self.places.field, self.margin)
        self._show_row()

    def reload(self, begun: Field) -> None:
        """The file was changed by somebody else, and nothing here waits to be saved."""
        self._drag = None
        self.history = History.begun(begun)
        self.error = None
        self._forget()
        self._changed()

    def merge(self, history: History[Field]) -> None:
        """The same steps upon a file that was changed by somebody else."""
        self._forget()
        self.history = history
        self.error = None
        self._changed()

    def saved(self) -> None:
        self.new = False
        self.history = self.history.saved()

    def restore(self, state: Field, what: str) -> None:
        """A state that was kept elsewhere, as one more step."""
        self._forget()
        self.change(state, what)

    def _forget(self) -> None:
        """Nothing is in the middle of being drawn or typed any more."""
        self._drag = None
        self.entry = None
        self.draft = self.known = ()
        self._unguided()

    def _unguided(self) -> None:
        self.guides, self.guide_words, self.spot = (), "", None

    def take_picture(self, file: str) -> None:
        """Lay a picture under the field, named as the field's file is to name it. It covers the field from left to
        right until its size is known."""
        now = self.field.picture
        made = accepted(
            lambda: replace(
                self.field,
                picture=Picture(file, self.field.size[0]) if now is None else replace(now, file=file),
            )
        )
        if self.change(made, tr("another picture")):
            if now is None:
                self._take("scale")
            self.say(
                tr("{file} lies under the field. Click two points of it whose distance you know", file=shown(file))
                if now is None else tr("{file} lies under the field", file=shown(file))
            )  # fmt: skip

    # --- the pointer -------------------------------------------------------------------------------------------------

    def _on_field(self, x: float, y: float) -> Point:
        fx, fy = self.camera.to_field([(x, y)])[0]
        return float(fx), float(fy)

    def under(self, x: float, y: float) -> str | None:
        """What is under a pixel, by name."""
        return self.places.at(x, y)

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        """A button of the mouse goes down."""
        if self._covered:
            self._close_over()
            return
        self._pointer = (x, y)
        what = self.under(x, y)
        if self.entry is not None and not (what or "").startswith("number"):
            self._type_done()
        if what == "field":
            self._press_field(x, y, button, mods)
        elif button == "left" and what is not None:
            self._press_card(what, mods)

    def _press_field(self, x: float, y: float, button: str, mods: frozenset[str]) -> None:
        if self._drag is not None:
            return
        if button != "left":
            self._drag = _Drag("pan", (x, y), (x, y))
            return
        point = self._on_field(x, y)
        if self.tool == "pick":
            self._grab(x, y, point)
            return
        if self.tool == "picture":
            picture = self.field.picture
            assert picture is not None
            grabbed = (picture.corner[0] - point[0], picture.corner[1] - point[1])
            self._drag = _Drag("picture", (x, y), (x, y), grabbed=grabbed, before=self.history)
            return
        if self.tool == "scale":
            # Not snapped: what is printed on the mat is meant, not what is drawn over it.
            at = (tidy(point[0]), tidy(point[1]))
            self.known = (at,) if len(self.known) != 1 else (*self.known, at)
            self._drag = _Drag("scale", (x, y), (x, y), start=at, again=len(self.known) == 2)
            return
        at = self._snapped(point, "alt" in mods).at
        if self.tool == "outline":
            self._add_corner(at)
            self._drag = _Drag("outline", (x, y), (x, y))
            return
        self._drag = _Drag("draw", (x, y), (x, y), base=self.field, start=at, before=self.history)

    def _press_card(self, what: str, mods: frozenset[str]) -> None:
        sort, _, rest = what.partition(" ")
        if sort == "button":
            tool = rest.removeprefix("tool ")
            if tool in DRAWN:
                self.do(f"draw {tool}")
            else:
                self.do(tool)
        elif sort == "number":
            number, part = rest.split(" ")
            self._press_row(self.first_row + int(number), part, mods)
        elif sort == "switch":
            number, part = rest.split(" ")
            self._switch(int(number), -1 if part == "minus" else 1)

    def _grab(self, x: float, y: float, point: Point) -> None:
        """Grip what is under the pointer."""
        handle = field_edits.pick(self.field, point, self.reach, self.chosen, self.arm)
        # Walls are too large to be dragged by mistake: they are picked first.
        if handle is None or (handle.kind == "walls" and self.chosen != WALLS_HANDLE):
            self._drag = _Drag("ground", (x, y), (x, y), handle)
            return
        again = self.chosen is not None and handle.whole == self.chosen.whole and handle.part == "whole"
        corner = handle.part.startswith("corner") and self._is_outline(handle)
        self._choose(handle if corner else handle.whole if handle.kind != "walls" else WALLS_HANDLE)
        here = field_edits.place_of(self.field, handle, self.arm)
        grabbed = (here[0] - point[0], here[1] - point[1])
        self._drag = _Drag("grip", (x, y), (x, y), handle, grabbed, start=here, again=again, before=self.history)

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        """The pointer moves, pressed or not."""
        drag = self._drag
        self._pointer = (x, y)
        if drag is None:
            self._hovers(x, y, mods)
            return
        if hypot(x - drag.at[0], y - drag.at[1]) > STILL * self.places.unit:
            drag.moved = True
        dx, dy = x - drag.last[0], y - drag.last[1]
        drag.last = (x, y)
        if not drag.moved:
            return
        point = self._on_field(x, y)
        free = "alt" in mods
        if drag.what in ("pan", "ground"):
            self.camera = self.camera.panned(dx, dy)
        elif drag.what == "grip":
            self._drag_grip(drag, point, free, "shift" in mods)
        elif drag.what == "draw":
            self._drag_draw(drag, point, free)
        elif drag.what == "picture":
            self._drag_picture(drag, point, free)
        elif drag.what == "scale" and not drag.again:
            # Pressed at one point, let go at the other.
            self.known = (drag.start, (tidy(point[0]), tidy(point[1])))

    def _hovers(self, x: float, y: float, mods: frozenset[str]) -> None:
        self.hover = self.under(x, y)
        self._unguided()
        self.hot = None
        if self.hover != "field":
            return
        point = self._on_field(x, y)
        if self.tool == "pick":
            handle = field_edits.pick(self.field, point, self.reach, self.chosen, self.arm)
            self.hot = None if handle is not None and handle.kind == "walls" and self.chosen is None else handle
        elif self.tool in DRAWN:
            self.spot = self._snapped(point, "alt" in mods).at
        elif self.tool == "scale":
            self.spot = point

    def released(self, x: float, y: float) -> None:
        """The button goes up."""
        drag, self._drag = self._drag, None
        self._unguided()
        self.hover = self.under(x, y)
        if drag is None:
            return
        if drag.what == "ground" and not drag.moved:
            self._choose(None if drag.handle is None else WALLS_HANDLE)
        elif drag.what == "grip" and not drag.moved:
            self._click(drag)
        elif drag.what == "draw":
            self._drawn(drag)
        elif drag.what == "scale" and len(self.known) == 2:
            self._ask_distance()

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        """The wheel turns: nearer and farther on the field, more and less on a number."""
        if self._covered:
            return
        what = self.under(x, y) or ""
        if what == "field":
            self.camera = self.camera.zoomed((x, y), ZOOM**steps)
        else:
            self._wheel_card(what, steps, "shift" in mods)

    @property
    def _grid(self) -> float | None:
        return SNAPS[self.snap][1]

    def _on(self, free: bool) -> bool:
        return not free and self.snap != len(SNAPS) - 1

    @property
    def _snap_reach(self) -> float:
        return SNAP * self.places.unit / self.camera.zoom

    def _guided(self, found: SnappedPoint) -> SnappedPoint:
        self.guides, self.guide_words = found.guides, found.words
        return found

    def _snapped(
        self, point: Point, free: bool, base: Field | None = None, beside: tuple[Point, ...] = ()
    ) -> SnappedPoint:
        base, beside = base or self.field, beside or self.draft
        return self._guided(
            snap_point(point, base, self._snap_reach, on=self._on(free), grid=self._grid, beside=beside)
        )

    def _drag_grip(self, drag: _Drag, point: Point, free: bool, straight: bool) -> None:
        handle = drag.handle
        assert handle is not None
        if not self._there(handle):
            self._drag = None
            return
        to = (point[0] + drag.grabbed[0], point[1] + drag.grabbed[1])
        self._unguided()
        if handle.part == "turn":
            self._drag_turn(drag, handle, to, free)
            return
        found = snap_thing(self.field, handle, to, self._snap_reach, on=self._on(free), grid=self._grid)
        x, y = found.at
        if straight:
            # The other number is that of the beginning.
            across = abs(drag.last[0] - drag.at[0]) >= abs(drag.last[1] - drag.at[1])
            x, y = (x, drag.start[1]) if across else (drag.start[0], y)
        step = 1.0 if self._on(free) and not found.words else None
        made = field_edits.grip(self.field, handle, (x, y), step=step, arm=self.arm)
        what = f"{'move' if handle.part == 'whole' else 'resize'} {self._called(handle)}"
        if self.change(made, what, drag.token):
            self._guided(found)

    def _drag_turn(self, drag: _Drag, handle: Handle, to: Point, free: bool) -> None:
        x, y = field_edits.place_of(self.field, handle.whole)
        others = [
            (thing.shape.heading, thing.name)
            for other, thing in field_edits.things(self.field)
            if isinstance(thing, Obstacle | StartArea) and isinstance(thing.shape, Box) and other != handle.whole
            and thing.shape.heading % ANGLES[-1][0]
        ]  # fmt: skip
        angle = snap_angle(degrees(atan2(to[1] - y, to[0] - x)), on=self._on(free), others=others)
        c, s = cos(radians(angle.heading)), sin(radians(angle.heading))
        there = (x + self.arm * c, y + self.arm * s)
        made = field_edits.grip(self.field, handle, there, arm=self.arm)
        if self.change(made, tr("turn {name}", name=self._called(handle)), drag.token):
            self.guide_words = angle.words

    def _drag_picture(self, drag: _Drag, point: Point, free: bool) -> None:
        picture = self.field.picture
        if picture is None:
            self._drag = None
            return
        x, y = point[0] + drag.grabbed[0], point[1] + drag.grabbed[1]
        corner = (tidy(x), tidy(y)) if free else (float(round(x)), float(round(y)))
        made = accepted(lambda: replace(self.field, picture=replace(picture, corner=corner)))
        before = picture.corner
        if self.change(made, tr("move the picture"), drag.token, quiet=True):
            by = (corner[0] - before[0], corner[1] - before[1])
            self.known = tuple((px + by[0], py + by[1]) for px, py in self.known)

    # --- drawing -----------------------------------------------------------------------------------------------------

    def _take(self, tool: str) -> None:
        """Take a tool in hand."""
        self._drop_drag()
        self.entry = None
        self.draft = ()
        self.known = ()
        self._unguided()
        self.hot = None
        self.tool = tool
        self.row = self.first_row = 0

    def _draw(self, tool: str) -> None:
        # The same once more puts it away.
        self._take("pick" if self.tool == tool else tool)
        if self.tool == "pick":
            return
        self.chosen = None

    def _made(self, base: Field, tool: str, start: Point, end: Point) -> Field | Refused:
        """The field with what a tool draws from one point to another."""
        far = hypot(end[0] - start[0], end[1] - start[1])
        match tool:
            case "box":
                return field_edits.add_box(base, "obstacle", start, end)
            case "start area":
                return field_edits.add_box(base, "start area", start, end)
            case "round":
                return field_edits.add_round(base, "obstacle", start, end)
            case "line":
                return field_edits.add_line(base, start, end)
            case "jig":
                heading = degrees(atan2(end[1] - start[1], end[0] - start[0])) if far > 0 else 90.0
                return field_edits.add_jig(base, start, heading)
            case "target":
                return field_edits.add_target(base, start, far) if far > 0 else field_edits.add_target(base, start)
        raise KeyError(tool)

    def _drag_draw(self, drag: _Drag, point: Point, free: bool) -> None:
        base, tool = drag.base, self.tool
        assert base is not None
        beside = (drag.start,) if tool == "line" else ()
        self._unguided()
        if tool == "jig":
            angle = snap_angle(degrees(atan2(point[1] - drag.start[1], point[0] - drag.start[0])), on=self._on(free))
            c, s = cos(radians(angle.heading)), sin(radians(angle.heading))
            end = (drag.start[0] + USUAL * c, drag.start[1] + USUAL * s)
            self.guide_words = angle.words
        else:
            found = self._snapped(point, free, base, beside)
            end = found.at
            if tool in ("round", "target") and not found.words and self._on(free):
                end = _whole_away(drag.start, end)
        if self.change(
            self._made(base, tool, drag.start, end), tr("a new {tool}", tool=said(tool)), drag.token, quiet=True
        ):
            self.chosen = self._last(tool)

    def _last(self, tool: str) -> Handle:
        """The last thing of the kind a tool draws."""
        kind = _KINDS.get(tool, tool)
        return [handle for handle, _ in field_edits.things(self.field) if handle.kind == kind][-1]

    def _drawn(self, drag: _Drag) -> None:
        """A drawing is done; a click alone puts down a thing of the usual size."""
        tool = self.tool
        if not drag.moved:
            self._put(tool, drag.start)
            return
        base = drag.base
        if base is None or len(list(field_edits.things(self.field))) == len(list(field_edits.things(base))):
            # As small as nothing, or outside.
            self.say(tr("Drag farther to draw a {tool}", tool=said(tool)))
            return
        self._finish(tool)

    def _put(self, tool: str, at: Point) -> None:
        if self._add_usual(tool, at):
            self._finish(tool)

    def _add_usual(self, tool: str, at: Point) -> bool:
        x, y = at
        half = USUAL / 2
        start, end = at, at
        if tool in ("box", "start area"):
            half = half if tool == "box" else 2 * half
            start, end = (x - half, y - half), (x + half, y + half)
        elif tool == "round":
            end = (x + half, y)
        elif tool == "line":
            half = USUAL_LINE / 2
            start, end = (x - half, y), (x + half, y)
        elif tool == "outline":
            points = ((x - half, y - half), (x + half, y - half), (x, y + half))
            return self.change(field_edits.add_outline(self.field, "obstacle", points), tr("a new outline"))
        return self.change(self._made(self.field, tool, start, end), tr("a new {tool}", tool=said(tool)))

    def _finish(self, tool: str) -> None:
        """The new thing is picked, and the tool is put away."""
        new = self._last(tool)
        self._take("pick")
        self.chosen = None
        self._choose(new)
        self.say(tr("A new {tool}: type its numbers at the right, or press m for its name", tool=said(tool)))

    def _add_corner(self, at: Point) -> None:
        if len(self.draft) >= 3 and (_near(at, self.draft[0], self._snap_reach) or at == self.draft[-1]):
            self._close_outline()
        elif not self.draft or at != self.draft[-1]:
            self.draft = (*self.draft, at)

    def _close_outline(self) -> None:
        points = self.draft
        if self.change(field_edits.add_outline(self.field, "obstacle", points), tr("a new outline")):
            self._finish("outline")

    # --- picking -----------------------------------------------------------------------------------------------------

    def _choose(self, handle: Handle | None) -> None:
        if handle != self.chosen:
            self.row = self.first_row = 0
            self.entry = None
        self.chosen = handle

    def _click(self, drag: _Drag) -> None:
        """A click on a thing that was picked already: what lies below it; twice, quickly, on an outline: a corner."""
        handle = drag.handle
        assert handle is not None
        point = self._on_field(*drag.at)
        if not self._there(handle):
            return
        double = self._now - self._clicked < DOUBLE
        self._clicked = self._now
        if double and drag.again and self._is_outline(handle):
            self._insert(handle, point)
            return
        if not drag.again or handle.kind == "walls":
            return
        found = [each for each in field_edits.under(self.field, point, self.reach) if each.kind != "walls"]
        if len(found) > 1 and handle.whole in found:
            self._choose(found[(found.index(handle.whole) + 1) % len(found)])

    def _is_outline(self, handle: Handle) -> bool:
        if handle.kind not in ("obstacle", "start area"):
            return False
        return isinstance(getattr(field_edits.thing_at(self.field, handle), "shape", None), Outline)

    def _insert(self, handle: Handle, point: Point) -> None:
        at = (tidy(round(point[0])), tidy(round(point[1])))
        before = self._corners(handle)
        if self.change(field_edits.insert_corner(self.field, handle.whole, at), tr("one more corner")):
            new = next((n for n, p in enumerate(self._corners(handle)) if n >= len(before) or p != before[n]), 0)
            self._choose(replace(handle, part=f"corner {new}"))

    def _corners(self, handle: Handle) -> tuple[Point, ...]:
        shape = getattr(field_edits.thing_at(self.field, handle), "shape", None)
        return shape.points if isinstance(shape, Outline) else ()

    def _called(self, handle: Handle) -> str:
        """A thing's name for words of undoing."""
        return tr("the walls") if handle.kind == "walls" else shown(field_edits.thing_at(self.field, handle).name)

    def _next_thing(self, way: int) -> None:
        if self.tool == "scale" and len(self.known) == 2:
            # The other one is to stay.
            self.known = self.known[::-1]
            return
        self._take("pick")
        every = [*(handle for handle, _ in field_edits.things(self.field)), WALLS_HANDLE]
        now = self.chosen.whole if self.chosen is not None and self.chosen.kind != "walls" else self.chosen
        at = every.index(now) + way if now in every else (0 if way > 0 else -1)
        self._choose(every[at % len(every)])
        assert self.chosen is not None
        if self.chosen.kind != "walls":
            x, y = field_edits.place_of(self.field, self.chosen)
            if not self.places.field.contains(*self.camera.pixel(x, y)):
                self.camera = replace(self.camera, x=x, y=y)

    def _next_corner(self) -> None:
        chosen = self.chosen
        if chosen is None or not self._is_outline(chosen):
            self.say(tr("Pick an outline first; then this goes from corner to corner"))
            return
        count = len(self._corners(chosen))
        now = int(chosen.part.removeprefix("corner ")) + 1 if chosen.part.startswith("corner") else 0
        self._choose(replace(chosen, part=f"corner {now}") if now < count else chosen.whole)

    def _more_corners(self) -> None:
        chosen = self.chosen
        if chosen is None or not chosen.part.startswith("corner"):
            self.say(tr("Pick a corner of an outline first; then this puts one more after it"))
            return
        points = self._corners(chosen)
        n = int(chosen.part.removeprefix("corner "))
        a, b = points[n], points[(n + 1) % len(points)]
        self._insert(chosen, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))

    def _on_thing(self, make: Callable[[Handle], None]) -> None:
        if self.chosen is None or self.chosen.kind == "walls":
            self.say(tr("Pick a thing first: press tab, or click one"))
        else:
            make(self.chosen)

    def _copy(self, handle: Handle) -> None:
        if self.change(field_edits.copy_thing(self.field, handle), tr("{name} once more", name=self._called(handle))):
            last = [each for each, _ in field_edits.things(self.field) if each.kind == handle.kind][-1]
            self._choose(last)

    def _remove(self, handle: Handle) -> None:
        name = self._called(handle)
        if handle.part.startswith("corner"):
            self.change(field_edits.remove_corner(self.field, handle), tr("take away a corner of {name}", name=name))
        elif self.change(field_edits.remove(self.field, handle), tr("take away {name}", name=name)):
            self._choose(None)
            self.say(tr("{name} is taken away; ctrl z brings it back", name=name))

    def _remove_any(self) -> None:
        if self.draft:
            self.draft = self.draft[:-1]
        elif self.tool == "picture":
            self.change(accepted(lambda: replace(self.field, picture=None)), tr("take away the picture"))
        elif self.tool == "scale":
            self.known = self.known[:-1]
        else:
            self._on_thing(self._remove)

    def _move(self, dx: float, dy: float) -> None:
        picture = self.field.picture
        if self.tool == "scale":
            if self.known:
                x, y = self.known[-1]
                self.known = (*self.known[:-1], (tidy(x + dx), tidy(y + dy)))
            return
        if self.tool == "picture":
            assert picture is not None
            corner = (tidy(picture.corner[0] + dx), tidy(picture.corner[1] + dy))
            made = accepted(lambda: replace(self.field, picture=replace(picture, corner=corner)))
            self.change(made, tr("move the picture"), ("keys", "picture"))
            return
        if self.chosen is None:
            self.say(tr("Pick a thing first: press tab, or click one"))
            return
        handle = replace(WALLS_HANDLE, part="far right") if self.chosen.kind == "walls" else self.chosen
        x, y = field_edits.place_of(self.field, handle)
        made = field_edits.grip(self.field, handle, (tidy(x + dx), tidy(y + dy)))
        self.change(made, tr("move {name}", name=self._called(handle)), ("keys", "move", handle))

    def _turn(self, by: float) -> None:
        if self.chosen is None:
            self.say(tr("Pick a thing first: press tab, or click one"))
            return
        made = field_edits.turn_by(self.field, self.chosen.whole, by)
        self.change(made, tr("turn {name}", name=self._called(self.chosen)), ("keys", "turn", self.chosen.whole))

    # --- the picture -------------------------------------------------------------------------------------------------

    def _lay(self, tool: str) -> None:
        if self.field.picture is None:
            # The window looks for one beside the file.
            self.wants.add("picture")
            return
        self._take("pick" if self.tool == tool else tool)
        self._choose(None)

    def _ask_distance(self) -> None:
        if self.apart <= 0:
            self.known = self.known[:1]
            return
        self._type(0)

    def _across_the_picture(self) -> None:
        """Without a mouse: from the picture's left edge to its right one."""
        picture = self.field.picture
        assert picture is not None
        (x, y), middle = picture.corner, (self.aspect or 0.0) * picture.width / 2
        self.known = ((x, tidy(y + middle)), (tidy(x + picture.width), tidy(y + middle)))
        self._ask_distance()

    def _set_apart(self, apart: float, token: object | None = None) -> bool:
        picture = self.field.picture
        assert picture is not None
        first, second = self.known
        made = scaled(picture, first, second, apart)
        if isinstance(made, Refused):
            self.say(made.words)
            return False
        taken = self.change(accepted(lambda: replace(self.field, picture=made)), tr("the picture's size"), token)
        if taken:
            factor = apart / hypot(second[0] - first[0], second[1] - first[1])
            self.known = (first, tuple(a + (b - a) * factor for a, b in zip(first, second, strict=True)))  # type: ignore[assignment]
        return taken

    # --- actions -----------------------------------------------------------------------------------------------------

    def key(self, pressed: str) -> None:
        """A key goes down, by its name with its modifiers ('ctrl z', 'shift left')."""
        self._swallowed = ""
        if self.asked is not None:
            self._answer(pressed)
            return
        if self._covered:
            if pressed == "ctrl q":
                self.do("quit")
            else:
                self._close_over()
            return
        if self.entry is not None and self._type_key(pressed):
            return
        if self._begins_number(pressed):
            return
        action = action_of(self.KEYS, pressed)
        if action is not None:
            self.do(action)
        # The letter that opened an entry comes once more, as text.
        self._swallowed = pressed if self.entry is not None and len(pressed) == 1 else ""

    def do(self, action: str) -> None:
        """An action of ``keys.FIELD_KEYS``, or of a button."""
        simple: dict[str, Callable[[], None]] = {
            "next thing": lambda: self._next_thing(1),
            "last thing": lambda: self._next_thing(-1),
            "row up": lambda: self._to_row(-1),
            "row down": lambda: self._to_row(1),
            "more": lambda: self._nudge(self.row, 1, False, self._key_token()),
            "less": lambda: self._nudge(self.row, -1, False, self._key_token()),
            "more finely": lambda: self._nudge(self.row, 1, True, self._key_token()),
            "less finely": lambda: self._nudge(self.row, -1, True, self._key_token()),
            "type": self._enter,
            "pick": lambda: self._take("pick"),
            "name": self._name,
            "copy": lambda: self._on_thing(self._copy),
            "remove": self._remove_any,
            "turned left": lambda: self._turn(0.5),
            "turned right": lambda: self._turn(-0.5),
            "next corner": self._next_corner,
            "more corners": self._more_corners,
            "own word": lambda: self._switch(0, 1),
            "grid": lambda: self._switch(1, 1),
            "another picture": lambda: self._switch(2, 1),
            "picture": lambda: self._lay("picture"),
            "scale": lambda: self._lay("scale"),
            "undo": self._undo,
            "redo": self._redo,
            "fit": self._fit,
            "nearer": lambda: self._zoom(ZOOM),
            "farther": lambda: self._zoom(1 / ZOOM),
            "look": self._change_look,
            "drop": self._drop,
            "help": self._show_help,
        }
        if action in simple:
            if action not in ("nearer", "farther", "fit", "look", "drop"):
                self._drop_drag()
            simple[action]()
        elif action.startswith("draw "):
            self._draw(action.removeprefix("draw "))
        elif action in _MOVES:
            self._drop_drag()
            self._move(*_MOVES[action])
        elif action == "quit":
            self._type_done()
            self.entry = None
            if self.history.dirty:
                self.asked = "quit"
            else:
                self.wants.add("quit")
        else:
            if action == "save" and not self._type_done():
                return
            self.wants.add(action)

    def _drop_drag(self) -> None:
        """A key is pressed in the middle of a drag: it ends as it is."""
        if self._drag is not None:
            self._drag = None
            self._unguided()

    def _enter(self) -> None:
        """What enter does depends on the tool in hand."""
        if self.tool == "outline" and len(self.draft) >= 3:
            self._close_outline()
        elif self.tool in DRAWN and not self.draft:
            x, y = self._on_field(*self.places.field.centre)
            w, d = self.field.size
            self._put(self.tool, (float(round(min(max(x, 0.0), w))), float(round(min(max(y, 0.0), d)))))
        elif self.tool == "scale" and len(self.known) < 2:
            self._across_the_picture()
        elif not self.draft:
            self._type(self.row)

    def _name(self) -> None:
        if self.tool != "pick":
            self._take("pick")
        self._type(0)

    def _undo(self) -> None:
        entry = self.entry
        self.entry = None
        if entry is not None and entry.line < len(self.lines) and (
            not entry.fresh or entry.text.strip() != self.lines[entry.line].text
        ):  # fmt: skip
            self.say(tr("Taken back: what was typed"))
            return
        super()._undo()

    def _step(self, history: History[Field], words: str) -> None:
        self._forget()
        self.history = history
        self._changed()
        self.say(words)

    def _fit(self) -> None:
        self.camera = Camera.fit(self.places.field, self.field.size, self.margin)

    def _drop(self) -> None:
        """Escape: one thing after the other."""
        drag = self._drag
        if drag is not None:
            # What was being dragged goes back to where it was.
            self.history = drag.before or self.history
            self._drop_drag()
            self._changed()
        elif self.draft:
            self.draft = ()
        elif self.known:
            self.known = ()
        elif self.tool != "pick":
            self._take("pick")
        else:
            self._choose(None)

    # --- switches ----------------------------------------------------------------------------------------------------

    def _switch(self, index: int, way: int) -> None:
        self.entry = None
        if index == 0:
            self._switch_own(way)
        elif index == 1:
            self.snap = (self.snap + way) % len(SNAPS)
            self.say(tr("What is dragged snaps to {snaps}", snaps=tr(SNAPS[self.snap][0])))
        else:
            self._switch_picture(way)

    def _switch_own(self, way: int) -> None:
        if self.place.kind == "walls":
            made = field_edits.with_walls(self.field, inf if self.field.walls is None else None)
            if self.change(made, tr("the edge of the field")):
                self.say(
                    tr("An open board: its edge is a drop, and driving over it counts as touching")
                    if self.field.walls is None else tr("Walls all round: type how high they are")
                )  # fmt: skip
            return
        thing = field_edits.thing_at(self.field, self.place)
        if isinstance(thing, Target):
            asked = 90.0 if thing.heading is None else None
            self.change(
                field_edits.set_number_of(self.field, self.place, "heading", asked), tr("the heading asked for")
            )
            return
        words = field_edits.choices_of(self.field, self.place)
        if not words:
            self.say(tr("There is nothing to choose here"))
            return
        options = words[0].options
        to = options[(options.index(str(words[0].value)) + way) % len(options)]
        # Going on to the next is one step with it, and begins from what there was at first: who comes past the first
        # shape again has all its corners again.
        token = ("word", self.place.whole)
        history = self.history
        first = history.steps[history.at - 1].state if history.drag == token else self.field
        self.change(field_edits.set_choice_of(first, self.place.whole, words[0].key, to), words[0].label, token)

    def _switch_picture(self, way: int) -> None:
        now = None if self.field.picture is None else self.field.picture.file
        options: list[str | None] = [None, *sorted({*self.pictures, *([now] if now is not None else [])})]
        if len(options) == 1:
            self.wants.add("picture")
            return
        to = options[(options.index(now) + way) % len(options)]
        if to is None:
            made = accepted(lambda: replace(self.field, picture=None))
            if self.change(made, tr("take away the picture")):
                self.say(tr("No picture any more; ctrl z brings it back"))
        else:
            self.take_picture(to)

    # --- the number card ---------------------------------------------------------------------------------------------

    def _token(self) -> object:
        return self.place

    def _key_token(self) -> object:
        return ("keys", self.place, self.tool, self.row)

    def _to_row(self, way: int) -> None:
        count = len(self.lines)
        if count:
            self.row = (self.row + way) % count
            self._show_row()

    def _press_row(self, number: int, part: str, mods: frozenset[str]) -> None:
        if number >= len(self.lines):
            return
        if self.entry is not None and self.entry.line != number and not self._type_done():
            return
        if number >= len(self.lines):
            return
        self.row = number
        if part == "entry" or self.lines[number].key == "name":
            if self.entry is None:
                self._type(number)
            else:
                # Pressed once more: what is there is changed and not written anew.
                self.entry = replace(self.entry, fresh=False)
            return
        self._nudge(number, -1 if part == "minus" else 1, "shift" in mods, ("press", self.place, number))

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        self.entry = None
        if not 0 <= number < len(self.lines):
            return
        line = self.lines[number]
        if line.key == "name":
            self.say(tr("A name is typed: press enter"))
        elif line.key == "apart":
            self._set_apart(max(self.apart + (1.0 if fine else 10.0) * steps, 1.0), token)
        elif line.key.startswith("picture."):
            dial = next(dial for dial in self._dials if dial.key == line.key)
            self._set(line, nudged(dial, steps, fine), token)
        else:
            made = field_edits.nudge_thing(self.field, self.place, line.key, steps, fine)
            self.change(made, tr("{label} of {name}", label=line.label, name=self._called(self.place)), token)

    def _set(self, line: FieldLine, value: float | None, token: object | None = None) -> bool:
        """Set a number of the picture; points of the picture that are known move with it."""
        before = self.field.picture
        if not self.change(field_edits.set_number_of(self.field, WALLS_HANDLE, line.key, value), line.label, token):
            return False
        now = self.field.picture
        assert before is not None
        assert now is not None
        f = now.width / before.width
        (ax, ay), (bx, by) = before.corner, now.corner
        self.known = tuple((bx + (x - ax) * f, by + (y - ay) * f) for x, y in self.known)
        return True

    def _type(self, number: int) -> None:
        if not 0 <= number < len(self.lines):
            return
        self.row = number
        self._show_row()
        text = self.lines[number].text
        self.entry = Entry(number, text, len(text), fresh=bool(text))

    @property
    def _on_a_number(self) -> bool:
        return self.row < len(self.lines) and self.lines[self.row].key != "name"

    def text(self, letters: str) -> None:
        """Letters are typed."""
        entry, swallowed, self._swallowed = self.entry, self._swallowed, ""
        if self._covered or letters.casefold() == swallowed:
            return
        if entry is None:
            # Digits take tools in hand; with these signs a number can be written at once where one is picked.
            if letters not in BEGINNING or not self._on_a_number:
                return
            self._show_row()
            entry = Entry(self.row, "", 0)
        self.entry = entry.with_letters(letters)

    def _type_key(self, pressed: str) -> bool:
        """A key while something is typed; whether it was for that."""
        entry = self.entry
        assert entry is not None
        match pressed:
            case "return":
                self._type_done()
            case "tab" | "down" | "shift tab" | "up":
                way = 1 if pressed in ("tab", "down") else -1
                if self._type_done() and 0 <= entry.line + way < len(self.lines):
                    self._type(entry.line + way)
            case "escape":
                self.entry = None
            case _:
                if (edited := entry.edited(pressed)) is not None:
                    self.entry = edited
                    return True
                # Letters come as text; with control they are keys of their own.
                return not pressed.startswith(("ctrl", "f1", "f11"))
        return True

    def _type_done(self) -> bool:
        """Take what was typed; whether it could be."""
        entry = self.entry
        if entry is None:
            return True
        if entry.line >= len(self.lines):
            self.entry = None
            return True
        line = self.lines[entry.line]
        # A distance that is typed again is meant, all else only if it is another one.
        if entry.text.strip() == line.text and line.key != "apart":
            self.entry = None
            return True
        self.entry = None
        if line.key == "name":
            done = self._rename(entry.text)
        elif line.key == "apart":
            done = self._type_apart(entry.text)
        else:
            dial = next(dial for dial in self._dials if dial.key == line.key)
            value = typed_value(dial, entry.text)
            if isinstance(value, Refused):
                self.say(value.words)
                done = False
            elif line.key.startswith("picture."):
                done = self._set(line, value)
            else:
                made = field_edits.set_number_of(self.field, self.place, line.key, value)
                done = self.change(made, tr("{label} of {name}", label=line.label, name=self._called(self.place)))
                if done and line.key.startswith("size.") and self.place.kind == "walls":
                    self._fit()
        if not done:
            self.entry = replace(entry, wrong=True)
        return done

    def _rename(self, name: str) -> bool:
        place = self.place
        if place.kind == "walls":
            return self.change(field_edits.rename_field(self.field, name), tr("the field's name"))
        old = field_edits.thing_at(self.field, place).name
        if not self.change(field_edits.rename(self.field, place, name), tr("another name for {old}", old=shown(old))):
            return False
        # What is new since the last saving no run can know yet; what has had several names goes by the saved one.
        new = name.strip()
        known = [] if self.new else [
            saved for (kind, saved), now in renamed(self.history).items() if kind == place.kind and now == new
        ]  # fmt: skip
        if known:
            self.say(
                tr(
                    "Saving asks whether the runs that name {old} are to name {new}",
                    old=shown(known[0]),
                    new=shown(new),
                )
            )
        return True

    def _type_apart(self, text: str) -> bool:
        if not text.strip():
            # Thought better of it.
            return True
        kind = attributes(Picture)["width"].kind
        assert isinstance(kind, Number)
        value = parse_number(text, kind, tr("how far apart"))
        if isinstance(value, Refused):
            self.say(value.words)
            return False
        if not value > 0.0:
            self.say(tr("how far apart must be more than 0 mm"))
            return False
        if self._set_apart(value):
            assert self.field.picture is not None
            self.say(
                tr(
                    "The picture is {width} mm wide now; the first point stayed where it was",
                    width=_mm(self.field.picture.width),
                )
            )
            return True
        return False


def scaled(picture: Picture, first: Point, second: Point, apart: float) -> Picture | Refused:
    """A picture made larger or smaller about its point ``first`` so that ``second`` comes to be ``apart`` mm from it.

    Points in mm of the field as the picture lies now. Refused if they are the same point, or the picture would become
    too large.
    """
    now = hypot(second[0] - first[0], second[1] - first[1])
    if not now > 0.0:
        return Refused(tr("these are one point; click two that are far apart"))
    f = apart / now
    corner = tuple(tidy(a + (c - a) * f) for a, c in zip(first, picture.corner, strict=True))
    return accepted(lambda: replace(picture, corner=(corner[0], corner[1]), width=tidy(picture.width * f)))


# How far the keys move what is picked, mm.
_MOVES = moves()


def _line(dial: Dial) -> FieldLine:
    value = dial.value if dial.value is not None else dial.instead
    text = "" if value is None or not isfinite(value) else spoken(round(value / float(dial.kind.unit.scale), 6))
    label = tr(_LABELS[dial.key]) if dial.key in _LABELS else dial.label
    return FieldLine(dial.key, label, text, dial.unit)


def _mm(value: float) -> str:
    return spoken(round(value, 1))


def _xy(point: Point) -> str:
    return tr("x {x}, y {y}", x=_mm(point[0]), y=_mm(point[1]))


def _sizes(thing: Thing, part: str) -> str:
    """What a drag of a part changes, in numbers."""
    match thing:
        case Obstacle() | StartArea():
            shape = thing.shape
            if isinstance(shape, Box):
                if part == "turn":
                    return tr("{angle} degrees", angle=_mm(shape.heading))
                return tr("{x} x {y} mm", x=_mm(shape.size[0]), y=_mm(shape.size[1]))
            return tr("radius {radius} mm", radius=_mm(shape.radius)) if isinstance(shape, Round) else ""
        case Jig():
            return tr("heading {angle} degrees", angle=_mm(thing.heading))
        case Line() if part == "width":
            return tr("{width} mm wide", width=_mm(thing.width))
        case Line():
            (ax, ay), (bx, by) = thing.start, thing.end
            return tr("{length} mm long", length=_mm(hypot(bx - ax, by - ay)))
        case Target() if part == "turn":
            return tr("heading {angle} degrees", angle=_mm(thing.heading or 0.0))
        case Target():
            return tr("within {within} mm", within=_mm(thing.within))


def _near(a: Point, b: Point, reach: float) -> bool:
    return hypot(b[0] - a[0], b[1] - a[1]) <= reach


def _whole_away(a: Point, b: Point) -> Point:
    """The point at b moved so that it is a whole number of mm, at least 1, away from a."""
    far = hypot(b[0] - a[0], b[1] - a[1])
    if far == 0.0:
        return b
    f = max(1, round(far)) / far
    return a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f
