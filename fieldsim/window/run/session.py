"""A run in the window: what is shown, what is picked, what a hand or a key changes. Knows no screen and no clock.

Events come in as plain values (pixels, names of keys, seconds), scenes go out (``run_view``). Changes are the pure
functions of ``run_edits``; every one of them goes through ``History``, so that nothing is lost and all can be undone.
Trials come from a ``Tries``, which is ``live.Live`` in the window and a plain call without one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import atan2, degrees, hypot
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import shapely

from fieldsim.language import tr, tr_as
from fieldsim.model import Robot, Run, Segment, StartByEye
from fieldsim.model.errors import FieldsimError, shown
from fieldsim.report.phrases import listed, spoken
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.motion import Pose, jig_of, start_pose, wrapped
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Trials, paths
from fieldsim.window.camera import Camera
from fieldsim.window.clock import Clock
from fieldsim.window.history import History
from fieldsim.window.keys import RUN_KEYS, action_of
from fieldsim.window.live import Shown
from fieldsim.window.paint.build import (
    alignments_of,
    marks_of,
    pinch_of,
    places_of,
    strip_of,
    trial_way,
    troubles_of,
    until_of,
    way_of,
)
from fieldsim.window.paint.layout import Strip, layout
from fieldsim.window.paint.scene import Handle, Pinch, Trouble, Way, hit_handle
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run.edits import Place, Refused
from fieldsim.window.run.files import EditedRun
from fieldsim.window.session import BEGINNING, ZOOM, Entry, Session, moves
from fieldsim.window.snapping import snap_angle, snap_start

__all__ = ["PACES", "Entry", "Line", "RunSession", "Tries"]

PACES = (0.25, 0.5, 1.0, 2.0, 4.0)
# Reaches of the pointer in units of the layout, and how near a drag comes before it snaps.
REACH, SNAP = 13.0, 10.0
# A press that moves less than this, in units, is a click.
STILL = 3.0
# How far one key press steps the run, seconds.
STEP = 0.1
# While a hand drags, trials of a moment ago are shown for so many seconds.
LAG = 0.35
# How far before the middle of the axle the handle for turning stands, and the width handle beside the body, units.
ARM, ASIDE = 34.0, 12.0


class Tries(Protocol):
    """Where trials come from."""

    def want(self, run: Run, ready: Plan | None = None, *, bare: bool = False) -> int: ...

    def news(self) -> Shown | None: ...


@dataclass(frozen=True)
class Line:
    """A line of the number card: a number or a word that can be changed."""

    key: str
    label: str
    choice: bool
    text: str
    unit: str = ""


@dataclass
class _Drag:
    what: str
    at: tuple[float, float]
    """Where the press was, pixels,"""
    last: tuple[float, float]
    """and where the pointer was last."""
    grabbed: tuple[float, float] = (0.0, 0.0)
    """From the pointer to the thing that is dragged, mm."""
    moved: bool = False
    before: Any = None
    """The history, the view, the head and what was picked when it began: what escape goes back to."""
    token: object = field(default_factory=object)


@dataclass
class Picked:
    """A trial that is looked at alone, by its number from 0."""

    number: int
    way: Way
    until: float
    """The head at which it ended."""
    failure: Failure | None


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
        self.places = layout(size, scale)
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
        self._drag: _Drag | None = None
        self._plan: Plan | None = None
        self.problem: str | None = None
        self.way: Way
        self.clock: Clock
        self.strip: Strip
        self.pinch: Pinch | None = None
        self.troubles: tuple[Trouble, ...] = ()
        self.troubled: tuple[Any, ...] = ()
        self.touched: frozenset[str] = frozenset()
        self.failures: list[Failure | None] = []
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
        if self.place is None:
            return ()
        found = []
        if isinstance(self.place, int):
            found.append(Line("kind", tr("kind"), True, _kind(self.run.segments[self.place])))
        places: tuple[Place, ...] = ("body", "drive") if self.place == "body" else (self.place,)
        for place in places:
            for dial in run_edits.numbers_at(self.run, place):
                value = dial.value if dial.value is not None else dial.instead
                text = "" if value is None else _written(value, dial.kind.unit)
                found.append(Line(f"{place} {dial.key}", dial.label, False, text, dial.unit))
        if isinstance(self.place, int):
            words = run_edits.choices(self.run, self.place, possible=False)
            found += [Line(f"choice {each.key}", each.label, True, _chosen(each)) for each in words]
        return tuple(found)

    @property
    def handles(self) -> tuple[Handle, ...]:
        """What can be dragged on the field: the start, its heading, the body's side."""
        x, y, heading = start_pose(self.run)
        zoom, unit = self.camera.zoom, self.places.unit
        body = self.run.robot.body
        c, s = float(np.cos(np.radians(heading))), float(np.sin(np.radians(heading)))
        ahead = body.length - body.axle + ARM * unit / zoom
        side = self._free_side
        aside = side * (body.width / 2 + ASIDE * unit / zoom)
        return (
            Handle("handle start", "move", (x, y)),
            Handle("handle turn", "turn", (x + c * ahead, y + s * ahead), heading),
            Handle("handle width", "width", (x - s * aside, y + c * aside), heading + side * 90.0),
        )

    @property
    def _free_side(self) -> float:
        """The side of the body that is dragged wider: 1 the left one, -1 the right one where a jig holds the left."""
        start = self.run.start
        return -1.0 if not isinstance(start, StartByEye) and "left" in jig_of(self.run.field, start).holds else 1.0

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
            self.troubles, self.troubled, self.touched = troubles_of(self.failures)
        if news.answer is not None and news.run == self.run:
            self.pinch = pinch_of(news.plan, news.answer, self.way) if news.plan is not None else None
        if self.picked is not None and news.run == self.run:
            self._pick_trial(self.picked.number)

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
        self.picked = None
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
                self._plan = plan(replace(self.run, segments=(run_edits.new_segment(self.run, "wait"),)))  # type: ignore[arg-type]
        self.way = way_of(self._plan)
        self.flats, self.sights = alignments_of(self._plan, self.way)
        self.clock = Clock(self._plan)
        self.seconds = min(self.seconds, self.clock.seconds)
        self.pinch = None
        self._placed()

    def _placed(self) -> None:
        assert self._plan is not None
        words = [segment.in_words() for segment in self._plan.run.segments]
        self.strip = strip_of(self._plan, words, self.places, self.axis)

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        """The window has another size."""
        self.scale = self.scale if scale is None else scale
        self.places = layout(size, self.scale)
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
        what = self.places.at(x, y)
        if what == "field":
            handle = hit_handle(self.camera, self.handles, x, y, REACH * self.places.unit)
            return handle.name if handle is not None else what
        if what == "segments":
            block = self.strip.block_at(x)
            return what if block is None else f"block {block}"
        return what

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        """A button of the mouse goes down."""
        if self._covered:
            self._close_over()
            return
        self._pointer = (x, y)
        what = self.under(x, y)
        if self.entry is not None:
            if what == f"number {self.entry.line - self.first_row} entry":
                self.entry = replace(self.entry, fresh=False)
                return
            # What was typed is meant, whatever is pressed next.
            self._type_done()
        if button != "left":
            if what is not None and (what == "field" or what.startswith("handle")):
                self._begin_drag("pan", (x, y))
            return
        if what is None:
            return
        word = what.split(" ")
        match word[0]:
            case "handle":
                fx, fy = self.camera.to_field([(x, y)])[0]
                handle = next(handle for handle in self.handles if handle.name == what)
                grabbed = (handle.at[0] - float(fx), handle.at[1] - float(fy))
                self._begin_drag(what, (x, y), grabbed)
                self._pick("body" if word[1] == "width" else "start")
            case "field":
                self._begin_drag("field", (x, y))
            case "block":
                self._pick(int(word[1]) - 1)
                self._begin_drag(what, (x, y))
            case "ribbon" | "axis":
                self._begin_drag("scrub", (x, y))
                self._scrub(x)
            case "button":
                self.do(_BUTTONS.get(word[1], word[1]))
            case "number":
                self._press_row(self.first_row + int(word[1]), word[2], mods)
            case "switch":
                self._switch(int(word[1]), -1 if word[2] == "minus" else 1)

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        """The pointer moves, pressed or not."""
        drag = self._drag
        self._pointer = (x, y)
        if drag is None:
            self.hover = self.under(x, y)
            return
        if hypot(x - drag.at[0], y - drag.at[1]) > STILL * self.places.unit:
            drag.moved = True
        dx, dy = x - drag.last[0], y - drag.last[1]
        drag.last = (x, y)
        if not drag.moved:
            return
        free = "alt" in mods
        if drag.what in ("pan", "field"):
            self.camera = self.camera.panned(dx, dy)
        elif drag.what == "scrub":
            self._scrub(x)
        elif drag.what.startswith("block"):
            self._drag_block(x, drag)
        elif drag.what.startswith("handle"):
            fx, fy = (float(v) for v in self.camera.to_field([(x, y)])[0])
            to = (fx + drag.grabbed[0], fy + drag.grabbed[1])
            self._drag_handle(drag, to, free)

    def released(self, x: float, y: float) -> None:
        """The button goes up."""
        drag, self._drag = self._drag, None
        self.guides, self.guide_words = (), ""
        self.hover = self.under(x, y)
        if drag is not None and drag.what == "field" and not drag.moved:
            self._click_field(x, y)

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        """The wheel turns: nearer and farther on the field, more and less on a number, on and back on the strip."""
        if self._covered:
            return
        what = self.under(x, y) or ""
        if what == "field" or what.startswith("handle"):
            self.camera = self.camera.zoomed((x, y), ZOOM**steps)
        elif what.startswith(("block", "ribbon", "axis", "segments")):
            self._to(self.seconds + steps * STEP)
        else:
            self._wheel_card(what, steps, "shift" in mods)

    def _drag_handle(self, drag: _Drag, to: tuple[float, float], free: bool) -> None:
        reach = SNAP * self.places.unit / self.camera.zoom
        self.guides, self.guide_words = (), ""
        if drag.what == "handle start":
            found = snap_start(self.run, (to[0], to[1], start_pose(self.run)[2]), reach, on=not free)
            made = (
                run_edits.start_at_jig(self.run, found.jig)
                if found.jig is not None
                else run_edits.start_by_eye(self.run, found.pose)
            )
            if self.change(made, tr("move the start"), drag.token):
                self.guides, self.guide_words = found.guides, found.words
        elif drag.what == "handle turn":
            x, y, _ = start_pose(self.run)
            angle = snap_angle(degrees(atan2(to[1] - y, to[0] - x)), on=not free)
            if self.change(run_edits.turn_start(self.run, angle.heading), tr("turn the start"), drag.token):
                self.guide_words = angle.words
        else:
            x, y, heading = start_pose(self.run)
            side = np.radians(heading + 90.0 * self._free_side)
            out = (to[0] - x) * float(np.cos(side)) + (to[1] - y) * float(np.sin(side))
            out = max(0.0, out - ASIDE * self.places.unit / self.camera.zoom)
            # A jig holds the other side where it is; by eye the middle stays, and both sides move.
            eye = isinstance(self.run.start, StartByEye)
            width = 2.0 * out if eye else out + self.run.robot.body.width / 2
            made = run_edits.set_number(self.run, "body", "width", float(max(1, round(width))))
            self.change(made, tr("the body's width"), drag.token)

    def _drag_block(self, x: float, drag: _Drag) -> None:
        if not isinstance(self.place, int) or self.problem is not None:
            return
        # Past the middle of a block, and beside the strip to its end: a narrow block would else jump to and fro.
        edges, to = self.strip.edges, self.place
        while to + 1 < len(edges) - 1 and x > (edges[to + 1] + edges[to + 2]) / 2:
            to += 1
        while to > 0 and x < (edges[to - 1] + edges[to]) / 2:
            to -= 1
        if to == self.place:
            return
        if self.change(run_edits.move_segment(self.run, self.place, to), tr("the order of segments"), drag.token):
            self.place = to

    def _click_field(self, x: float, y: float) -> None:
        """A trial near the pointer, else a segment's way, else a thing, else nothing."""
        reach = REACH * self.places.unit
        number = self._trial_near(x, y, reach)
        if number is not None:
            self._pick_trial(number)
            return
        self.picked = None
        point = self.camera.to_field([(x, y)])[0]
        nearest = [_away(poses[:, :2], point) for poses in self.way.segments]
        g = int(np.argmin(nearest))
        if nearest[g] * self.camera.zoom <= reach:
            self._pick(g)
            return
        self.place = self.entry = None
        self.thing = self._thing_at(float(point[0]), float(point[1]))

    def _trial_near(self, x: float, y: float, reach: float) -> int | None:
        """The trial whose mark is nearest to a pixel: of all that have one, since any of them can be clicked."""
        shown = self._fresh()
        if shown is None or shown.first is None:
            return None
        marks = marks_of(shown.first, self.failures)
        numbers = [n for _, which, _ in marks for n in which]
        if not numbers:
            return None
        places = np.concatenate([at for _, _, at in marks])
        away = np.hypot(*(self.camera.to_pixels(places) - (x, y)).T)
        best = int(np.argmin(away))
        return numbers[best] if away[best] <= reach else None

    def mark_at(self, first: Trials, n: int, failure: Failure) -> tuple[float, float]:
        """Where the mark of a trial stands that fails: the touch, the tool that missed, else the axle's middle."""
        x, y = places_of(first, [n], [failure])[0]
        return float(x), float(y)

    def _thing_at(self, x: float, y: float) -> str | None:
        assert self._plan is not None
        inside = [solid.name for solid in self._plan.solids if _solid_has(solid, shapely.Point(x, y))]
        return inside[0] if inside else None

    # --- actions -----------------------------------------------------------------------------------------------------

    def key(self, pressed: str) -> None:
        """A key goes down, by its name with its modifiers ('ctrl z', 'shift left')."""
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

    def do(self, action: str) -> None:
        """An action of ``keys.RUN_KEYS``, or of a button."""
        if self.entry is not None and not self._before(action):
            return
        simple: dict[str, Callable[[], None]] = {
            "play": self._play,
            "begin": lambda: self._to(0.0),
            "end": lambda: self._to(self.clock.seconds),
            "step back": lambda: self._to(self.seconds - STEP),
            "step forth": lambda: self._to(self.seconds + STEP),
            "segment back": lambda: self._to_segment(-1),
            "segment forth": lambda: self._to_segment(1),
            "slower": lambda: self._set_pace(-1),
            "faster": lambda: self._set_pace(1),
            "next segment": lambda: self._next_segment(1),
            "last segment": lambda: self._next_segment(-1),
            "row up": lambda: self._to_row(-1),
            "row down": lambda: self._to_row(1),
            "more": lambda: self._nudge(self.row, 1, False, self._key_token()),
            "less": lambda: self._nudge(self.row, -1, False, self._key_token()),
            "more finely": lambda: self._nudge(self.row, 1, True, self._key_token()),
            "less finely": lambda: self._nudge(self.row, -1, True, self._key_token()),
            "type": lambda: self._type(self.row),
            "add": self._add,
            "copy": lambda: self._on_segment(self._copy),
            "remove": lambda: self._on_segment(self._remove),
            "earlier": lambda: self._on_segment(lambda g: self._shift(g, -1)),
            "later": lambda: self._on_segment(lambda g: self._shift(g, 1)),
            "pick start": lambda: self._pick("start"),
            "pick body": lambda: self._pick("body"),
            "next jig": lambda: self._switch(0, 1),
            "next robot": lambda: self._switch(1, 1),
            "next wear": lambda: self._switch(2, 1),
            "next failing": lambda: self._next_trial(failing=True),
            "next trial": lambda: self._next_trial(failing=False),
            "undo": self._undo,
            "redo": self._redo,
            "fit": self._fit,
            "nearer": lambda: self._zoom(ZOOM),
            "farther": lambda: self._zoom(1 / ZOOM),
            "axis": self._change_axis,
            "look": self._change_look,
            "drop": self._drop,
            "help": self._show_help,
            "start turned left": lambda: self._turn_start(0.5),
            "start turned right": lambda: self._turn_start(-0.5),
        }
        if action in simple:
            simple[action]()
        elif action in _MOVES:
            self._move_start(*_MOVES[action])
        elif action == "quit":
            if self.history.dirty:
                self.asked = "quit"
            else:
                self.wants.add("quit")
        else:
            self.wants.add(action)

    def _before(self, action: str) -> bool:
        """What becomes of a number that is being typed; whether the action goes on."""
        entry = self.entry
        assert entry is not None
        if action == "undo":
            self.entry = None
            typed = entry.line < len(self.lines) and (
                not entry.fresh or entry.text.strip() != self.lines[entry.line].text
            )
            if typed:
                self.say(tr("Taken back: what was typed"))
            return not typed
        if action == "save":
            return self._type_done()
        if action == "quit":
            self._type_done()
            self.entry = None
        return True

    def _play(self) -> None:
        if not self.playing and self.seconds >= self.clock.seconds:
            self.seconds = 0.0
        self.playing = not self.playing

    def _to(self, seconds: float) -> None:
        self.playing = False
        self.seconds = min(max(seconds, 0.0), self.clock.seconds)

    def _scrub(self, x: float) -> None:
        self._to(self.clock.time_at(self.strip.head_at(x)))

    def _to_segment(self, way: int) -> None:
        # By time: a segment that takes none must not be a place one cannot get past.
        edges = self.clock.edges
        if way > 0:
            self._to(min((edge for edge in edges if edge > self.seconds + 1e-6), default=self.clock.seconds))
        else:
            self._to(max((edge for edge in edges if edge < self.seconds - 1e-6), default=0.0))

    def _set_pace(self, way: int) -> None:
        self.pace = min(max(self.pace + way, 0), len(PACES) - 1)

    def _pick(self, place: Place) -> None:
        if isinstance(place, int):
            # The strip may still be that of the last run that could be planned.
            place = min(max(place, 0), len(self.run.segments) - 1)
        if place != self.place:
            self.row = self.first_row = 0
            self.entry = None
        self.place, self.thing = place, None

    def _next_segment(self, way: int) -> None:
        count = len(self.run.segments)
        now = self.place if isinstance(self.place, int) else (-1 if way > 0 else count)
        self._pick((now + way) % count)
        # The robot goes there too.
        assert isinstance(self.place, int)
        self._to(self.clock.time_at(self.place))

    def _on_segment(self, make: Callable[[int], None]) -> None:
        if isinstance(self.place, int):
            make(self.place)
        else:
            self.say(tr("Pick a segment first: press tab, or click one on the strip"))

    def _add(self) -> None:
        at = self.place + 1 if isinstance(self.place, int) else len(self.run.segments)
        new = run_edits.new_segment(self.run, "straight")
        made = new if isinstance(new, Refused) else run_edits.add_segment(self.run, at, new)
        if self.change(made, tr("a new segment")):
            self._pick(at)
            self.say(tr("A new straight: change its kind and its numbers at the right"))

    def _copy(self, g: int) -> None:
        if self.change(run_edits.copy_segment(self.run, g), tr("segment {number} once more", number=g + 1)):
            self._pick(g + 1)

    def _remove(self, g: int) -> None:
        if self.change(run_edits.remove_segment(self.run, g), tr("take out segment {number}", number=g + 1)):
            self._pick(min(g, len(self.run.segments) - 1))

    def _shift(self, g: int, way: int) -> None:
        if not 0 <= g + way < len(self.run.segments):
            if way < 0:
                self.say(tr("It is the first segment already"))
            else:
                self.say(tr("It is the last segment already"))
        elif self.change(run_edits.move_segment(self.run, g, g + way), tr("the order of segments")):
            self.place = g + way

    def _move_start(self, dx: float, dy: float) -> None:
        x, y, _ = start_pose(self.run)
        self._pick("start")
        self.change(run_edits.move_start(self.run, (x + dx, y + dy)), tr("move the start"), ("keys", "start"))

    def _turn_start(self, by: float) -> None:
        self._pick("start")
        heading = wrapped(start_pose(self.run)[2] + by)
        self.change(run_edits.turn_start(self.run, heading), tr("turn the start"), ("keys", "turn"))

    def _step(self, history: History[EditedRun], words: str) -> None:
        self.entry = None
        before, self.history = self.history.state, history
        if history.state.run != before.run:
            self._changed()
        self.say(words)

    def _fit(self) -> None:
        self.camera = Camera.fit(self.places.field, self.run.field.size, self.margin)

    def _change_axis(self) -> None:
        self.axis = "way" if self.axis == "time" else "time"
        self._placed()

    def _begin_drag(self, what: str, at: tuple[float, float], grabbed: tuple[float, float] = (0.0, 0.0)) -> None:
        self._drag = _Drag(what, at, at, grabbed, before=(self.history, self.camera, self.seconds, self.place))

    def _take_back_drag(self) -> None:
        """What a hand is dragging goes back to where it was; the hand has let it go."""
        drag, self._drag = self._drag, None
        assert drag is not None
        self.guides, self.guide_words = (), ""
        before, camera, seconds, place = drag.before
        self.camera = camera
        if self.history.state != before.state:
            self.history = before
            self._changed()
        self.history = before
        self.place = place
        if drag.what == "scrub":
            self._to(seconds)

    def _drop(self) -> None:
        if self._drag is not None:
            self._take_back_drag()
        elif self.picked is not None:
            self.picked = None
        else:
            self.place = self.thing = self.entry = None

    # --- switches ----------------------------------------------------------------------------------------------------

    def _switch(self, index: int, way: int) -> None:
        if index == 0:
            self._switch_start(way)
        elif index == 1:
            self._switch_robot(way)
        else:
            self._switch_wear(way)

    def _switch_start(self, way: int) -> None:
        options: list[str | None] = [jig.name for jig in self.run.field.jigs]
        # By eye comes back to where it was by eye last.
        options.append(None)
        now = None if isinstance(self.run.start, StartByEye) else self.run.start
        to = options[(options.index(now) + way) % len(options)]
        if to is None:
            last = self._last_by_eye()
            made = run_edits.start_by_eye(self.run) if last is None else replace(self.run, start=last)
        else:
            made = run_edits.start_at_jig(self.run, to)
        if self.change(made, tr("another start")):
            self.say(tr("The start is set by eye now") if to is None else tr("Starts in {jig}", jig=shown(to)))

    def _last_by_eye(self) -> StartByEye | None:
        for step in reversed(self.history.steps[: self.history.at + 1]):
            if isinstance(step.state.run.start, StartByEye):
                return step.state.run.start
        return None

    def _last_of(self, file: Path) -> Robot | None:
        """A robot with what was changed of it in this window: it must not be lost by looking at another one."""
        steps = self.history.steps[: self.history.at + 1]
        return next((step.state.run.robot for step in reversed(steps) if step.state.robot_file == file), None)

    def _switch_robot(self, way: int) -> None:
        files = sorted(self.robots)
        if len(files) < 2:
            self.say(tr("There is no other robot in this folder"))
            return
        now = self.history.state.robot_file
        # Its file may have been taken away or spoilt since.
        file = files[(files.index(now) + way) % len(files)] if now in files else files[0]
        robot = self._last_of(file) or self.robots[file]
        made = run_edits.with_robot(self.run, robot, take_off=True)
        if isinstance(made, Refused):
            self.say(made.words)
            return
        off = [name for name in self.run.wear if name not in made.wear]
        self._push(EditedRun(made, file), tr("another robot"))
        if off:
            names = ", ".join(map(shown, off))
            self.say(tr("Driven by {robot}, without {names}", robot=shown(robot.name), names=names))
        else:
            self.say(tr("Driven by {robot}", robot=shown(robot.name)))

    def _switch_wear(self, way: int) -> None:
        there = [attachment.name for attachment in self.run.robot.attachments]
        options = [(), *((name,) for name in there), *([tuple(there)] if len(there) > 1 else [])]
        if self.run.wear not in options:
            options.append(self.run.wear)
        to = options[(options.index(self.run.wear) + way) % len(options)]
        if self.change(run_edits.set_choice(self.run, "run", "wear", to), tr("what it wears")):
            self.say(tr("Wears {names}", names=listed(list(map(shown, to)))) if to else tr("Wears nothing"))

    # --- the number card ---------------------------------------------------------------------------------------------

    def _token(self) -> object:
        return self.place

    def _key_token(self) -> object:
        return ("keys", self.place, self.row)

    def _to_row(self, way: int) -> None:
        count = len(self.lines)
        if count == 0:
            self.say(tr("Pick a segment first: press tab, or click one on the strip"))
            return
        self.row = (self.row + way) % count
        self._show_row()

    def _press_row(self, number: int, part: str, mods: frozenset[str]) -> None:
        if number >= len(self.lines):
            return
        self.row = number
        line = self.lines[number]
        if part == "entry" and not line.choice:
            self._type(number)
            return
        steps = -1 if part == "minus" else 1
        self._nudge(number, steps, "shift" in mods, ("press", self.place, number))

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        self.entry = None
        if not 0 <= number < len(self.lines) or self.place is None:
            return
        line = self.lines[number]
        if line.key == "kind":
            self._cycle_kind(1 if steps > 0 else -1)
        elif line.choice:
            self._cycle(line.key.removeprefix("choice "), 1 if steps > 0 else -1)
        else:
            place, key = self._dial_of(line)
            self.change(run_edits.nudge(self.run, place, key, steps, fine), line.label, token)

    def _dial_of(self, line: Line) -> tuple[Place, str]:
        word, _, key = line.key.partition(" ")
        return (int(word) if word.isdigit() else word), key  # type: ignore[return-value]

    def _cycle_kind(self, way: int) -> None:
        """Another kind. Going on to the next is one step with it, and begins from what there was at first: who comes
        past the first kind again has all its numbers again."""
        g = self.place
        assert isinstance(g, int)
        words = run_edits.SEGMENT_WORDS
        now = words.index(run_edits.kind_word(self.run.segments[g]))
        token = ("kind", g)
        history = self.history
        first = history.steps[history.at - 1].state.run if history.drag == token else self.run
        pose = self.way.pose_at(float(g)) if g < len(self.way.segments) else None
        # Kinds that this field or robot has nothing for are passed over.
        for k in range(1, len(words)):
            made = run_edits.with_kind(first, g, words[(now + way * k) % len(words)], pose)
            if not isinstance(made, Refused):
                self.change(made, tr("the kind of a segment"), token)
                return
        self.say(tr("There is no other kind that this robot can do on this field"))

    def _cycle(self, key: str, way: int) -> None:
        assert self.place is not None
        choice = next(each for each in run_edits.choices(self.run, self.place) if each.key == key)
        options: list[Any] = [*([None] if choice.nothing and not choice.many else []), *choice.options]
        if choice.many:
            options = [(), *((word,) for word in choice.options)]
        if not options:
            return
        at = options.index(choice.value) if choice.value in options else -1
        made: Run | Refused | None = None
        # What cannot be, such as one sensor for both sides, is passed over; why is said if nothing else can be.
        for k in range(1, len(options) + 1):
            to = options[(at + way * k) % len(options)]
            if to == choice.value:
                break
            made = run_edits.set_choice(self.run, self.place, key, to)
            if not isinstance(made, Refused):
                break
        if made is not None:
            self.change(made, choice.label)

    def _type(self, number: int) -> None:
        if not 0 <= number < len(self.lines):
            self.say(tr("Pick a segment first: press tab, or click one on the strip"))
            return
        line = self.lines[number]
        if line.choice:
            self._nudge(number, 1, False, None)
            return
        self.row = number
        self._show_row()
        self.entry = Entry(number, line.text, len(line.text), fresh=bool(line.text))

    @property
    def _on_a_number(self) -> bool:
        return self.row < len(self.lines) and not self.lines[self.row].choice

    def text(self, letters: str) -> None:
        """Letters are typed."""
        entry = self.entry
        if self._covered:
            return
        if entry is None:
            # A number can be written at once where one is picked.
            if not (letters.isdecimal() or letters in BEGINNING) or not self._on_a_number:
                return
            self._show_row()
            entry = Entry(self.row, "", 0)
        self.entry = entry.with_letters(letters)

    def _type_key(self, pressed: str) -> bool:
        """A key while a number is typed; whether it was for that."""
        entry = self.entry
        assert entry is not None
        match pressed:
            case "return" | "tab" | "shift tab" | "down" | "up":
                if self._type_done() and pressed in ("tab", "down") and entry.line + 1 < len(self.lines):
                    self._type_if_number(entry.line + 1)
                elif self.entry is None and pressed in ("shift tab", "up") and entry.line > 0:
                    self._type_if_number(entry.line - 1)
            case "escape":
                self.entry = None
            case _:
                if (edited := entry.edited(pressed)) is not None:
                    self.entry = edited
                    return True
                # Letters come as text; with control they are keys of their own.
                return not pressed.startswith(("ctrl", "f1", "f11"))
        return True

    def _type_if_number(self, number: int) -> None:
        self.row = number
        self._show_row()
        if not self.lines[number].choice:
            self._type(number)

    def _type_done(self) -> bool:
        """Take what was typed; whether it could be."""
        entry = self.entry
        if entry is None:
            return True
        if entry.line >= len(self.lines):
            self.entry = None
            return True
        line = self.lines[entry.line]
        if entry.text.strip() == line.text:
            self.entry = None
            return True
        place, key = self._dial_of(line)
        made = run_edits.typed(self.run, place, key, entry.text)
        if isinstance(made, Refused):
            self.entry = replace(entry, wrong=True)
            self.say(made.words)
            return False
        self.entry = None
        return self.change(made, line.label)

    # --- trials ------------------------------------------------------------------------------------------------------

    def _fresh(self) -> Shown | None:
        """The trials of the run as it is now."""
        shown = self.shown
        return shown if shown is not None and shown.first is not None and shown.run == self.run else None

    def _pick_trial(self, number: int) -> None:
        shown = self._fresh()
        if shown is None or shown.first is None or shown.plan is None or not 0 <= number < len(shown.first):
            self.picked = None
            return
        sample = paths(shown.plan, shown.first.seed, shown.first, [number])
        way = trial_way(shown.plan, sample.trials[0])
        failure = self.failures[number] if number < len(self.failures) else None
        until = until_of(shown.first, number, len(way.segments))
        self.picked = Picked(number, way, until, failure)

    def _next_trial(self, failing: bool) -> None:
        shown = self._fresh()
        if shown is None or shown.first is None:
            self.say(tr("No trials yet"))
            return
        count = len(shown.first)
        begin = self.picked.number + 1 if self.picked is not None else 0
        for k in range(count):
            n = (begin + k) % count
            if not failing or self.failures[n] is not None:
                self._pick_trial(n)
                return
        self.say(tr("None of the first {n} trials fails", n=count))


# Actions of buttons that are named otherwise.
_BUTTONS = {"back": "step back", "forth": "step forth"}
_MOVES = moves("start ")


def _written(value: float, unit: Any) -> str:
    """A dial's value without its unit."""
    return spoken(round(value / float(unit.scale), 6))


def _chosen(choice: run_edits.Choices) -> str:
    if isinstance(choice.value, tuple):
        return ", ".join(choice.value) or tr("nothing")
    if choice.value is None:
        return choice.nothing or tr("nothing")
    return choice.value if choice.names else tr(choice.value)


def _kind(segment: Segment) -> str:
    """The kind of a segment, in a word that has room on the number card."""
    return {
        "straight": tr_as("kind", "straight"),
        "turn": tr_as("kind", "turn"),
        "arc": tr_as("kind", "arc"),
        "square": tr_as("kind", "square"),
        "line square": tr_as("kind", "line square"),
        "until": tr_as("kind", "until"),
        "act": tr_as("kind", "act"),
        "wait": tr_as("kind", "wait"),
    }[run_edits.kind_word(segment)]


def _away(points: Any, point: Any) -> float:
    """Distance of a point from a chain of points."""
    if len(points) == 1:
        return float(np.hypot(*(points[0] - point)))
    a, b = points[:-1], points[1:]
    side = b - a
    length = np.maximum((side * side).sum(axis=1), 1e-12)
    u = np.clip(((point - a) * side).sum(axis=1) / length, 0.0, 1.0)
    return float(np.hypot(*(a + u[:, None] * side - point).T).min())


def _solid_has(solid: Any, point: Any) -> bool:
    for core in solid.cores:
        area = shapely.Polygon(core.points) if len(core.points) > 2 else shapely.MultiPoint(core.points).convex_hull
        if area.distance(point) <= core.radius:
            return True
    return False
