"""A run in the window: what is shown, what is picked, what a hand or a key changes. Knows no screen and no clock.

Events come in as plain values (pixels, names of keys, seconds), scenes go out (``view``). Changes are the pure
functions of ``edits`` and ``segments``; every one of them goes through ``History``, so that nothing is lost and all
can be undone. What events do to it stands by job in ``pointer``, ``actions``, ``switches`` and ``numbers``.
Trials come from a ``Tries``, which is ``live.Live`` in the window and a plain call without one.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from fieldsim.model import Run
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.clock import Clock
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.motion import Pose
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Trials
from fieldsim.sim.ways import Way, way_of
from fieldsim.window import listing
from fieldsim.window.camera import Camera
from fieldsim.window.dials import Refused
from fieldsim.window.history import History
from fieldsim.window.keys import RUN_KEYS
from fieldsim.window.live import Shown
from fieldsim.window.paint.build import alignments_of, places_of, strip_of
from fieldsim.window.paint.layout import Strip, layout
from fieldsim.window.paint.odds import troubles_of
from fieldsim.window.paint.ribbon import Kept
from fieldsim.window.paint.scene import Handle, Pinch, Trouble
from fieldsim.window.paint.tightest import pinch_of
from fieldsim.window.run import actions, hinting, leading, looking, naming, numbers, pointer, seeking, switches, tips
from fieldsim.window.run import segments as segment_edits
from fieldsim.window.run.edits import Place
from fieldsim.window.run.files import EditedRun
from fieldsim.window.run.state import PACES, Drag, Line, Picked, Tries
from fieldsim.window.session import Entry, Session

__all__ = ["RunSession"]

# While a hand drags, trials of a moment ago are shown for so many seconds.
LAG = 0.35


class RunSession(Session[EditedRun]):
    """One run being looked at and changed."""

    KEYS = RUN_KEYS

    def __init__(
        self,
        begun: EditedRun,
        tries: Tries,
        size: tuple[int, int] = (1280, 800),
        scale: float = 1.0,
        robots: dict[Path, Any] | None = None,
    ) -> None:
        super().__init__(begun, scale)
        self.tries = tries
        self.robots = robots or {begun.robot_file: begun.run.robot}
        self.places = layout(size, scale, columns=True)
        self.camera = Camera.fit(self.places.field, begun.run.field.size, self.margin)
        self.axis = "time"
        self.playing = False
        self.pace = PACES.index(1.0)
        self.seconds = 0.0
        self.place: Place | None = None
        """What is picked: a segment by its number from 0, 'start', 'body', or nothing."""
        self.thing: str | None = None
        self.picked: Picked | None = None
        self.shown: Shown | None = None
        self.wished = 0
        self.getting_ready = False
        self._news_at = -1.0
        self._drag: Drag | None = None
        self._plan: Plan | None = None
        self.problem: str | None = None
        self.way: Way
        self.clock: Clock
        self.strip: Strip
        self.strip_view = (1.0, 0.0)
        """How many times the strip is wider than its place, and the share of it that is to the left of that."""
        self.pinch: Pinch | None = None
        self.troubles: tuple[Trouble, ...] = ()
        self.troubled: tuple[Any, ...] = ()
        self.touched: frozenset[str] = frozenset()
        self.failures: list[Failure | None] = []
        self.hint: tuple[Run, hinting.Hint] | None = None
        """What costs most, and of which run."""
        self.kept = Kept()
        """How each step of the history did."""
        self.stays = False
        """Whether what comes later stays where it is when the path is dragged, or follows along."""
        self.cause: Failure | None = None
        """Trials that fail like this are looked at one by one."""
        self.leading: leading.Leading | None = None
        """Clicks on the field lead the run there; None if they pick."""
        self.seeking: seeking.Seek | None = None
        """The best way there is being looked for."""
        self.naming: Entry | None = None
        """The name that the run is to be saved under, while it is typed."""
        self._planned()
        self._wish()

    # --- what there is -----------------------------------------------------------------------------------------------

    @property
    def run(self) -> Run:
        return self.history.state.run

    @property
    def ready(self) -> Plan | None:
        """The planned run, or the last one that could be planned."""
        return self._plan

    @property
    def margin(self) -> float:
        return 10 * self.places.unit

    @property
    def head(self) -> float:
        return self.clock.head_at(self.seconds)

    @property
    def pose(self) -> Pose:
        """The robot at the playhead: as planned, or in the picked trial."""
        if self.picked is not None:
            return self.picked.way.pose_at(min(self.head, self.picked.until))
        return self.way.pose_at(self.head)

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines of the number card for what is picked."""
        return numbers.card_lines(self)

    @property
    def handles(self) -> tuple[Handle, ...]:
        """What can be dragged on the field: the start, its heading, the body's side."""
        return pointer.drag_handles(self)

    @property
    def dragging(self) -> bool:
        """Whether a hand holds something."""
        return self._drag is not None

    @property
    def close_behind(self) -> bool:
        """Whether the trials shown are those of the run as it is, or of the moment before while a hand drags it."""
        shown = self.shown
        if shown is None or shown.answer is None:
            return False
        lags = self._drag is not None and self._now - self._news_at < LAG
        return shown.run == self.run or (lags and len(shown.run.segments) == len(self.run.segments))

    # --- time --------------------------------------------------------------------------------------------------------

    def tick(self, now: float) -> None:
        """Time has gone on to ``now``, seconds: the run drives, words vanish, news come in."""
        gone, self._now = max(0.0, now - self._now), now
        if self.playing:
            self.seconds += min(gone, 0.25) * PACES[self.pace]
            if self.seconds >= self.clock.seconds:
                self.seconds, self.playing = self.clock.seconds, False
        self._words_go(now)
        news = self.tries.news()
        if news is not None:
            self._take(news)

    def _take(self, news: Shown) -> None:
        self.shown, self._news_at = news, self._now
        if news.answer is not None and news.plan is not None and news.first is not None:
            self.failures = failures(news.first)
            self.troubles, self.troubled, self.touched = troubles_of(news.answer)
        if news.answer is not None and news.run == self.run:
            self.pinch = pinch_of(news.plan, news.answer, self.way) if news.plan is not None else None
        if self.picked is not None and news.run == self.run:
            looking.pick_trial(self, self.picked.number)

    # --- changes -----------------------------------------------------------------------------------------------------

    def change(self, made: Run | Refused, what: str, drag: object | None = None) -> bool:
        """Take a changed run, or say why it cannot be; whether it was taken."""
        if isinstance(made, Refused):
            self.say(made.words)
            return False
        return self._push(replace(self.history.state, run=made), what, drag)

    def _push(self, state: EditedRun, what: str, drag: object | None = None) -> bool:
        before = self.history
        self.history = before.push(state, what, drag)
        if self.history.state.run != before.state.run:
            self._changed()
        return True

    def _changed(self) -> None:
        looking.leave(self)
        leading.close(self)
        if isinstance(self.place, int):
            self.place = min(self.place, len(self.run.segments) - 1)
        self._planned()
        self._wish()

    def _wish(self) -> None:
        if self.problem is None:
            self.wished = self.tries.want(self.run, self._plan)

    def _planned(self) -> None:
        """The planned way, its time and the strip. A run that cannot be planned keeps those it had."""
        try:
            self._plan = plan(self.run)
            self.problem = None
        except FieldsimError as problem:
            self.problem = str(problem)
            if self._plan is None:
                self._plan = plan(replace(self.run, segments=(segment_edits.new_segment(self.run, "wait"),)))  # type: ignore[arg-type]
        self.way = way_of(self._plan)
        self.flats, self.sights = alignments_of(self._plan, self.way)
        self.clock = Clock(self._plan)
        self.seconds = min(self.seconds, self.clock.seconds)
        self.pinch = None
        self._placed()

    def _placed(self) -> None:
        assert self._plan is not None
        words = [segment.in_words() for segment in self._plan.run.segments]
        self.strip = strip_of(self._plan, words, self.places, self.axis, *self.strip_view)

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        """The window has another size."""
        self.scale = self.scale if scale is None else scale
        self.places = layout(size, self.scale, columns=True)
        self.camera = self.camera.resized(self.places.field, self.margin)
        self._placed()

    def reload(self, begun: EditedRun, robots: dict[Path, Any]) -> None:
        """The files were changed by somebody else, and nothing here waits to be saved."""
        self._history_is(History.begun(begun), robots)

    def merge(self, history: History[EditedRun], robots: dict[Path, Any]) -> None:
        """The same steps upon files that were changed by somebody else."""
        self._history_is(history, robots)

    def _history_is(self, history: History[EditedRun], robots: dict[Path, Any]) -> None:
        other_field = history.state.run.field != self.run.field
        self.history, self.robots = history, robots
        self.entry = self.error = None
        self.row = self.first_row = 0
        self._changed()
        if other_field:
            self.thing = None
            self._fit()

    def saved(self) -> None:
        self.history = self.history.saved()

    def restore(self, state: EditedRun, what: str) -> None:
        """A state that was kept elsewhere, as one more step."""
        self._push(state, what)

    # --- the pointer -------------------------------------------------------------------------------------------------

    def under(self, x: float, y: float) -> str | None:
        """What is under a pixel, by name."""
        if self._covered:
            return self.over_at(x, y)
        row = listing.row_at(self, x, y) or leading.row_at(self, x, y)
        if row is not None:
            return row
        what = self.places.at(x, y)
        if what == "field":
            return pointer.under_field(self, x, y)
        if what == "odds":
            return looking.row_at(self, x, y) or what
        if what == "segments":
            block = self.strip.block_at(x)
            return what if block is None else f"block {block}"
        return what

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
        """The wheel turns: nearer and farther on the field, more and less on a number, on and back on the strip."""
        pointer.wheel(self, x, y, steps, mods)

    def pinched(self, at: tuple[float, float], by: tuple[float, float], factor: float) -> None:
        """Two fingers shove and pinch the field, or the strip."""
        if self.places.strip.contains(*at) and not self._covered:
            pointer.zoom_strip(self, at[0], factor)
            pointer.shift_strip(self, -by[0] / max(self.places.segments.w, 1))
        else:
            super().pinched(at, by, factor)

    def mark_at(self, first: Trials, n: int, failure: Failure) -> tuple[float, float]:
        """Where the mark of a trial stands that fails: the touch, the tool that missed, else the axle's middle."""
        x, y = places_of(first, [n], [failure])[0]
        return float(x), float(y)

    # --- actions -----------------------------------------------------------------------------------------------------

    def do(self, action: str) -> None:
        """An action of ``keys.RUN_KEYS``, or of a button."""
        actions.do(self, action)

    def _play(self) -> None:
        actions.play(self)

    def _to(self, seconds: float) -> None:
        self.playing = False
        self.seconds = min(max(seconds, 0.0), self.clock.seconds)

    def _scrub(self, x: float) -> None:
        self._to(self.clock.time_at(self.strip.head_at(x)))

    def _set_pace(self, way: int) -> None:
        actions.set_pace(self, way)

    def _pick(self, place: Place) -> None:
        if isinstance(place, int):
            # The strip may still be that of the last run that could be planned.
            place = min(max(place, 0), len(self.run.segments) - 1)
        other, self.place, self.thing = place != self.place, place, None
        if other:
            self.entry = None
            self.first_row = 0
            # Its first number is armed: digits change that, and nobody has to look for it.
            lines = self.lines
            self.row = next((n for n, line in enumerate(lines) if not line.choice), 0)
            self._show_row()

    def _step(self, history: History[EditedRun], words: str) -> None:
        self.entry = None
        before, self.history = self.history.state, history
        if history.state.run != before.run:
            self._changed()
        self.say(words)

    def _fit(self) -> None:
        self.camera = Camera.fit(self.places.field, self.run.field.size, self.margin)

    def _take_back_drag(self) -> None:
        """What a hand is dragging goes back to where it was; the hand has let it go."""
        pointer.take_back_drag(self)

    # --- tips ---------------------------------------------------------------------------------------------------------

    def tip_of(self, what: str) -> str:
        """What is said of what is under the pointer, by its name."""
        return tips.tip_of(self, what)

    @property
    def cursor(self) -> str:
        """The pointer's shape."""
        return tips.cursor_of(self, self.hover)

    # --- switches ----------------------------------------------------------------------------------------------------

    def _switch(self, index: int, way: int) -> None:
        switches.switch_row(self, index, way)

    # --- keys ---------------------------------------------------------------------------------------------------------

    def key(self, pressed: str) -> None:
        """A key goes down: it is for a name that is typed or a menu first."""
        listed = self.listing is not None and self.naming is None
        if (
            self._covered
            or listed
            or not (naming.key(self, pressed) or (self.entry is None and leading.key(self, pressed)))
        ):
            super().key(pressed)

    # --- the number card ---------------------------------------------------------------------------------------------

    def _token(self) -> object:
        return self.place

    def _key_token(self) -> object:
        return ("keys", self.place, self.row)

    def _to_row(self, way: int) -> None:
        numbers.to_row(self, way)

    def _press_row(self, number: int, part: str, mods: frozenset[str]) -> None:
        numbers.press_row(self, number, part, mods)

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        numbers.nudge(self, number, steps, fine, token)

    def _type(self, number: int) -> None:
        numbers.begin_typing(self, number)

    @property
    def _on_a_number(self) -> bool:
        return self.row < len(self.lines) and not self.lines[self.row].choice

    def text(self, letters: str) -> None:
        """Letters are typed."""
        if self.listing is not None:
            return
        if self.naming is not None:
            if not self._covered:
                naming.letters(self, letters)
            return
        numbers.typed(self, letters)

    def _type_key(self, pressed: str) -> bool:
        """A key while a number is typed; whether it was for that."""
        return numbers.entry_key(self, pressed)

    def _type_done(self) -> bool:
        """Take what was typed; whether it could be."""
        return numbers.take_typed(self)

    # --- trials ------------------------------------------------------------------------------------------------------

    def _fresh(self) -> Shown | None:
        """The trials of the run as it is now."""
        shown = self.shown
        return shown if shown is not None and shown.first is not None and shown.run == self.run else None
