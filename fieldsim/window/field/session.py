"""A field in the window: what is picked, which tool is in hand, what a hand or a key changes. Knows no screen, no clock
and no disk.

Events come in as plain values (pixels, names of keys, seconds), scenes go out (``view``). Changes are the pure
functions of ``edits``, ``things`` and ``grips``; every one of them goes through ``History``, so that nothing is lost
and all can be undone. What events do to it stands by job in ``pointer``, ``drawing``, ``actions`` and ``numbers``.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from fieldsim.language import tr
from fieldsim.model import Field, Outline, Picture, Point
from fieldsim.model.errors import shown
from fieldsim.window import listing
from fieldsim.window.camera import Camera
from fieldsim.window.dials import Refused, accepted
from fieldsim.window.field import actions, grips, numbers, pointer, saying, tips
from fieldsim.window.field import things as field_things
from fieldsim.window.field.state import ARM, LAYING, REACH, Drag, FieldLine
from fieldsim.window.field.things import WALLS_HANDLE, Handle
from fieldsim.window.history import History
from fieldsim.window.keys import FIELD_KEYS
from fieldsim.window.paint.layout import field_layout
from fieldsim.window.session import Entry, Session

__all__ = ["FieldSession"]


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
        self.others: tuple[Handle, ...] = ()
        """What is picked besides."""
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
        self._drag: Drag | None = None

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
        return numbers.card_lines(self)

    @property
    def apart(self) -> float:
        """How far the two known points are apart as the picture lies now, mm."""
        return numbers.known_distance(self)

    @property
    def switches(self) -> tuple[tuple[str, str, bool], ...]:
        """What can be chosen: a label, the word, and whether there is any other."""
        return saying.switch_rows(self)

    @property
    def measure(self) -> str:
        """What is being dragged, in numbers."""
        return saying.measured(self)

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
        if self.others:
            self.others = tuple(each for each in self.others if self._there(each))
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
                grips.place_of(self.field, handle)
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
        if self._covered:
            return self.over_at(x, y)
        return listing.row_at(self, x, y) or self.places.at(x, y)

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        """A button of the mouse goes down."""
        pointer.pressed(self, x, y, button, mods)

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        """The pointer moves, pressed or not."""
        pointer.moved(self, x, y, mods)

    def released(self, x: float, y: float) -> None:
        """The button goes up."""
        pointer.released(self, x, y)

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        """The wheel turns: nearer and farther on the field, more and less on a number."""
        pointer.wheel(self, x, y, steps, mods)

    # --- tips ---------------------------------------------------------------------------------------------------------

    def tip_of(self, what: str) -> str:
        """What is said of what is under the pointer, by its name."""
        return tips.tip_of(self, what)

    @property
    def cursor(self) -> str:
        """The pointer's shape."""
        return tips.cursor_of(self)

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

    # --- picking -----------------------------------------------------------------------------------------------------

    def _choose(self, handle: Handle | None) -> None:
        if handle != self.chosen:
            self.row = self.first_row = 0
            self.entry = None
        self.chosen, self.others = handle, ()

    def _is_outline(self, handle: Handle) -> bool:
        if handle.kind not in ("obstacle", "start area"):
            return False
        return isinstance(getattr(field_things.thing_at(self.field, handle), "shape", None), Outline)

    def _corners(self, handle: Handle) -> tuple[Point, ...]:
        shape = getattr(field_things.thing_at(self.field, handle), "shape", None)
        return shape.points if isinstance(shape, Outline) else ()

    def _called(self, handle: Handle) -> str:
        """A thing's name for words of undoing."""
        return tr("the walls") if handle.kind == "walls" else shown(field_things.thing_at(self.field, handle).name)

    # --- actions -----------------------------------------------------------------------------------------------------

    def key(self, pressed: str) -> None:
        """A key goes down, by its name with its modifiers ('ctrl z', 'shift left')."""
        self._swallowed = ""
        if self._key(pressed) and self.entry is not None and len(pressed) == 1:
            # The letter that opened an entry comes once more, as text.
            self._swallowed = pressed

    def do(self, action: str) -> None:
        """An action of ``keys.FIELD_KEYS``, or of a button."""
        actions.do(self, action)

    def _drop_drag(self) -> None:
        """A key is pressed in the middle of a drag: it ends as it is."""
        if self._drag is not None:
            self._drag = None
            self._unguided()

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
        actions.switch(self, index, way)

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
        numbers.press_row(self, number, part, mods)

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        numbers.nudge(self, number, steps, fine, token)

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
        if self.listing is None:
            numbers.typed(self, letters)

    def _type_key(self, pressed: str) -> bool:
        """A key while something is typed; whether it was for that."""
        return numbers.type_key(self, pressed)

    def _type_done(self) -> bool:
        """Take what was typed; whether it could be."""
        return numbers.take_typed(self)
