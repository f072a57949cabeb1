"""A robot in the window: what is picked, what a hand or a key changes, and what its numbers make of it. Knows no screen
and no disk."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin

from fieldsim.language import tr, tr_later
from fieldsim.model import Robot, Run
from fieldsim.model.errors import FieldsimError
from fieldsim.report.phrases import how_often_shortly, spoken
from fieldsim.report.words.base import amount
from fieldsim.studies.base import base
from fieldsim.studies.base.answer import BaseAnswer
from fieldsim.window.camera import Camera
from fieldsim.window.dials import Dial, Refused, accepted, nudged, typed_value
from fieldsim.window.history import History
from fieldsim.window.keys import ROBOT_KEYS
from fieldsim.window.live import Shown
from fieldsim.window.paint.layout import HEAD_BUTTONS, field_layout
from fieldsim.window.robot.shape import (
    ADDED,
    PartOf,
    Spot,
    added,
    called,
    dials_at,
    dragged,
    parts_of,
    removed,
    spots_of,
    with_dial,
)
from fieldsim.window.run.state import Tries
from fieldsim.window.session import BEGINNING, ZOOM, Entry, Session

__all__ = ["MIDDLE", "ROBOT_TOOLS", "TOLD", "RobotSession"]

ROBOT_TOOLS = ("body", "drive", "weight", "caster", "sensor", "attachment", "remove")
# The robot's axle stands in the middle of a place so large, mm: larger than any robot is.
MIDDLE = 2000.0
REACH, STILL = 13.0, 3.0
TOLD = (
    "spin_radius", "narrowest_gap", "turn_step", "straight_step", "top_speed", "wheel_load_share", "tip_forward",
    "tip_backward", "slip_acceleration",
)  # fmt: skip
"""What is told of the base beside the robot."""
KINDS = {
    "body": tr_later("body"), "drive": tr_later("wheels"), "weight": tr_later("weight"), "caster": tr_later("caster"),
    "sensor": tr_later("sensor"), "attachment": tr_later("attachment"),
}  # fmt: skip


@dataclass
class Drag:
    what: Spot | None
    """None: the view is moved."""
    at: tuple[float, float]
    last: tuple[float, float]
    before: History[Robot]
    moved: bool = False
    token: object = None


class RobotSession(Session[Robot]):
    """One robot being looked at and changed. ``runs`` are runs it drives, for their odds."""

    KEYS = ROBOT_KEYS

    def __init__(
        self, begun: Robot, size: tuple[int, int] = (1280, 800), scale: float = 1.0, runs: tuple[Run, ...] = (),
        tries: Tries | None = None,
    ) -> None:  # fmt: skip
        super().__init__(begun, scale)
        self.runs, self.tries = runs, tries
        self.which = 0
        self.shown: Shown | None = None
        self.part = PartOf("body")
        self.places = field_layout(size, scale, rows=8, switches=2, tools=ROBOT_TOOLS, head=HEAD_BUTTONS)
        self._drag: Drag | None = None
        self._told: tuple[Robot, BaseAnswer | None] | None = None
        self._fit()
        self._wish()

    # --- what there is -----------------------------------------------------------------------------------------------

    @property
    def robot(self) -> Robot:
        return self.history.state

    @property
    def dragging(self) -> bool:
        return self._drag is not None

    @property
    def lines(self) -> tuple[Dial, ...]:
        return dials_at(self.robot, self.part)

    @property
    def _on_a_number(self) -> bool:
        return self.row < len(self.lines)

    @property
    def spots(self) -> tuple[Spot, ...]:
        return spots_of(self.robot, self.part)

    @property
    def answer(self) -> BaseAnswer | None:
        """What `base` says of the robot as it is; None where it says nothing."""
        if self._told is None or self._told[0] is not self.robot:
            try:
                self._told = self.robot, base(self.robot)
            except (FieldsimError, ValueError):
                self._told = self.robot, None
        return self._told[1]

    @property
    def told(self) -> tuple[tuple[str, str], ...]:
        """Words and amounts of what matters most."""
        answer = self.answer
        if answer is None:
            return ()
        numbers = {number.id: number for number in answer.numbers}
        return tuple(
            (numbers[name].words, amount(numbers[name]).partition(" (")[0]) for name in TOLD if name in numbers
        )

    @property
    def run(self) -> Run | None:
        """The chosen run with the robot as it is; None if there is none, or the robot does not fit it."""
        if not self.runs:
            return None
        before = self.runs[self.which]
        made = accepted(lambda: replace(before, robot=self.robot))
        return None if isinstance(made, Refused) else made

    @property
    def odds(self) -> str:
        """How often the chosen run gets through with it."""
        run, shown = self.run, self.shown
        if not self.runs:
            return tr("no run of this folder is driven by it")
        if run is None:
            return tr("this run needs something that the robot has not")
        if shown is None or shown.run != run or shown.answer is None:
            return shown.problem.splitlines()[0] if shown is not None and shown.problem else tr("counting")
        return tr("gets through {often}", often=how_often_shortly(shown.answer.success, shown.answer.trials))

    # --- what changes ------------------------------------------------------------------------------------------------

    def tick(self, now: float) -> None:
        self._now = now
        self._words_go(now)
        news = None if self.tries is None else self.tries.news()
        if news is not None:
            self.shown = news

    def _wish(self) -> None:
        run = self.run
        if run is not None and self.tries is not None:
            self.tries.want(run)

    def change(self, made: Robot | Refused, what: str, drag: object | None = None) -> bool:
        """Take a changed robot, or say why it cannot be; whether it was taken."""
        if isinstance(made, Refused):
            self.say(made.words)
            return False
        self._put(self.history.push(made, what, drag))
        return True

    def _put(self, history: History[Robot]) -> None:
        self.history = history
        if self.part not in parts_of(self.robot):
            self.part = PartOf("body")
            self.entry = None
        self.row = min(self.row, max(0, len(self.lines) - 1))
        self._show_row()
        self._wish()

    def _step(self, history: History[Robot], words: str) -> None:
        self.entry = None
        self._put(history)
        self.say(words)

    def reload(self, robot: Robot) -> None:
        """The file was changed by somebody else, and nothing here waits to be saved."""
        self._drag = self.entry = None
        self._put(History.begun(robot))

    def restore(self, robot: Robot, what: str) -> None:
        self.change(robot, what)

    def saved(self) -> None:
        self.history = self.history.saved()

    def pick(self, part: PartOf) -> None:
        if part != self.part:
            self.row = self.first_row = 0
            self.entry = None
        self.part = part

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        self.scale = self.scale if scale is None else scale
        self.places = field_layout(size, self.scale, rows=8, switches=2, tools=ROBOT_TOOLS, head=HEAD_BUTTONS)
        self.camera = self.camera.resized(self.places.field, 0.0)
        self._show_row()

    def _fit(self) -> None:
        """The whole robot, with what it can wear."""
        body = self.robot.body
        points = [(-body.axle, -body.width / 2), (body.length - body.axle, body.width / 2)]
        points += [point for each in self.robot.attachments for point in each.outline]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        view = self.places.field
        wide, high = 1.7 * max(max(xs) - min(xs), 20.0), 1.9 * max(max(ys) - min(ys), 20.0)
        zoom = min(view.w / wide, view.h / high)
        middle = MIDDLE + (min(xs) + max(xs)) / 2, MIDDLE + (min(ys) + max(ys)) / 2
        camera = Camera(view, (2 * MIDDLE, 2 * MIDDLE), zoom, *middle)
        least, most = camera.limits
        self.camera = replace(camera, zoom=min(max(zoom, least), most))

    # --- the pointer -------------------------------------------------------------------------------------------------

    def pixel(self, at: tuple[float, float]) -> tuple[float, float]:
        return self.camera.pixel(at[0] + MIDDLE, at[1] + MIDDLE)

    def _spot_at(self, x: float, y: float) -> Spot | None:
        reach = REACH * self.places.unit
        found = [(hypot(px - x, py - y), spot) for spot in self.spots for px, py in [self.pixel(spot.at)]]
        near = [pair for pair in found if pair[0] <= reach]
        return min(near, key=lambda pair: pair[0])[1] if near else None

    def under(self, x: float, y: float) -> str | None:
        if self._covered:
            return self.over_at(x, y)
        what = self.places.at(x, y)
        if what == "field":
            spot = self._spot_at(x, y)
            return f"spot {spot.what}" if spot is not None else what
        return what

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            self._press_over(x, y)
            return
        self._pointer = (x, y)
        what = self.under(x, y)
        if what is None:
            return
        if self.entry is not None and not what.startswith("number"):
            self._type_done()
        word, _, rest = what.partition(" ")
        if word in ("spot", "field"):
            spot = self._spot_at(x, y) if button == "left" else None
            self._drag = Drag(spot, (x, y), (x, y), self.history, token=object())
        elif button != "left":
            return
        elif word == "button":
            name = rest.removeprefix("tool ")
            self.do(name if name == rest or name == "remove" else f"part {name}")
        elif word == "number":
            number, part = rest.split(" ")
            self._press_row(self.first_row + int(number), part, mods)
        elif word == "switch":
            index, side = rest.split(" ")
            self._switch(int(index), -1 if side == "minus" else 1)

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        self._pointer = (x, y)
        drag = self._drag
        if drag is None:
            self.hover = self.under(x, y)
            return
        if hypot(x - drag.at[0], y - drag.at[1]) > STILL * self.places.unit:
            drag.moved = True
        dx, dy = x - drag.last[0], y - drag.last[1]
        drag.last = (x, y)
        if not drag.moved:
            return
        if drag.what is None:
            self.camera = self.camera.panned(dx, dy)
            return
        point = self.camera.to_field([(x, y)])[0]
        to = float(point[0]) - MIDDLE, float(point[1]) - MIDDLE
        if drag.what.heading is not None:
            # Along its own direction only.
            c, s = cos(radians(drag.what.heading)), sin(radians(drag.what.heading))
            out = to[0] * c + to[1] * s
            to = (out * c, out * s)
        self.change(dragged(self.robot, drag.what, to), tr("the shape"), drag.token)

    def released(self, x: float, y: float) -> None:
        drag, self._drag = self._drag, None
        self.hover = self.under(x, y)
        if drag is not None and drag.what is None and not drag.moved:
            self._click(x, y)

    def _click(self, x: float, y: float) -> None:
        """The part under a pixel: what is smallest is meant."""
        reach = REACH * self.places.unit
        for part in reversed(parts_of(self.robot)):
            for spot in spots_of(self.robot, part):
                px, py = self.pixel(spot.at)
                if hypot(px - x, py - y) <= reach:
                    self.pick(part)
                    return
        point = self.camera.to_field([(x, y)])[0]
        body = self.robot.body
        fx, fy = float(point[0]) - MIDDLE, float(point[1]) - MIDDLE
        if -body.axle <= fx <= body.length - body.axle and abs(fy) <= body.width / 2:
            self.pick(PartOf("body"))

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            return
        what = self.under(x, y) or ""
        if what == "field" or what.startswith("spot"):
            self.camera = self.camera.zoomed((x, y), ZOOM**steps)
        else:
            self._wheel_card(what, steps, "shift" in mods)

    # --- numbers -----------------------------------------------------------------------------------------------------

    def _token(self) -> object:
        return self.part

    def _press_row(self, number: int, part: str, mods: frozenset[str]) -> None:
        if number >= len(self.lines):
            return
        if self.entry is not None and (part != "entry" or self.entry.line != number) and not self._type_done():
            return
        self.row = number
        if part == "entry":
            self._type(number)
        else:
            self._nudge(number, -1 if part == "minus" else 1, "shift" in mods, object())

    def _type(self, number: int) -> None:
        dial = self.lines[number]
        text = "" if dial.value is None else spoken(round(dial.value, 6)) if dial.text else ""
        self.entry = Entry(number, text, len(text), fresh=True)

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        if number < len(self.lines):
            dial = self.lines[number]
            self.change(with_dial(self.robot, self.part, dial.key, nudged(dial, steps, fine)), dial.label, token)

    def text(self, letters: str) -> None:
        if self._covered:
            return
        if self.entry is None:
            if not (letters.isdecimal() or letters in BEGINNING) or not self._on_a_number:
                return
            self.entry = Entry(self.row, "", 0)
        self.entry = self.entry.with_letters(letters)

    def _type_key(self, pressed: str) -> bool:
        entry = self.entry
        assert entry is not None
        if pressed in ("return", "tab", "down"):
            if self._type_done() and pressed != "return" and entry.line + 1 < len(self.lines):
                self.row = entry.line + 1
                self._show_row()
                self._type(self.row)
            return True
        if pressed == "escape":
            self.entry = None
            return True
        edited = entry.edited(pressed)
        if edited is not None:
            self.entry = edited
            return True
        return not pressed.startswith(("ctrl", "f1"))

    def _type_done(self) -> bool:
        entry = self.entry
        if entry is None:
            return True
        if entry.line >= len(self.lines):
            self.entry = None
            return True
        dial = self.lines[entry.line]
        value = typed_value(dial, entry.text)
        made = value if isinstance(value, Refused) else with_dial(self.robot, self.part, dial.key, value)
        if isinstance(made, Refused):
            self.entry = replace(entry, wrong=True)
            self.say(made.words)
            return False
        self.entry = None
        return self.change(made, dial.label)

    # --- actions -----------------------------------------------------------------------------------------------------

    def do(self, action: str) -> None:
        """An action of ``keys.ROBOT_KEYS``, or of a button."""
        token = ("keys", self.part, self.row)
        match action:
            case "next part" | "last part":
                parts = parts_of(self.robot)
                self.pick(parts[(parts.index(self.part) + (1 if action == "next part" else -1)) % len(parts)])
            case "row up" | "row down":
                self.row = min(max(self.row + (1 if action == "row down" else -1), 0), max(0, len(self.lines) - 1))
                self._show_row()
            case "more" | "less" | "more finely" | "less finely":
                self._nudge(self.row, 1 if action.startswith("more") else -1, action.endswith("finely"), token)
            case "type":
                self._show_row()
                if self._on_a_number:
                    self._type(self.row)
            case "remove":
                self.change(removed(self.robot, self.part), tr("take out {part}", part=called(self.robot, self.part)))
            case "undo":
                self._undo()
            case "redo":
                self._redo()
            case "fit":
                self._fit()
            case "nearer":
                self._zoom(ZOOM)
            case "farther":
                self._zoom(1 / ZOOM)
            case "look":
                self._change_look()
            case "help":
                self._show_help()
            case "drop":
                self._drop()
            case "next run":
                self._switch(1, 1)
            case "quit" | "season":
                if self._type_done():
                    self.leave(action)
            case _ if action.startswith("part "):
                self._take(action.removeprefix("part "))
            case _:
                if action == "save" and not self._type_done():
                    return
                self.wants.add(action)

    def _drop(self) -> None:
        if self._drag is not None:
            drag, self._drag = self._drag, None
            self._put(drag.before)
        else:
            self.entry = None

    def _take(self, kind: str) -> None:
        """Pick the body or the wheels; of what there can be more of, one is added."""
        if kind not in ADDED or (kind == "weight" and self.robot.weight is not None):
            self.pick(PartOf(kind))
            return
        made, part = added(self.robot, kind)
        if self.change(made, tr("a new {part}", part=tr(KINDS[kind]))):
            self.pick(part)

    def _switch(self, index: int, way: int) -> None:
        if index == 0:
            self.do("next part" if way > 0 else "last part")
        elif len(self.runs) > 1:
            self.which = (self.which + way) % len(self.runs)
            self._wish()
