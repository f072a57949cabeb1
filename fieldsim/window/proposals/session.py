"""Where a run is to start and to go, and what was proposed for it. Knows no screen, disk and thread: what is to be done
there it says in ``orders``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot
from pathlib import Path
from typing import Any

from shapely.geometry import Point

from fieldsim.language import tr, tr_later
from fieldsim.model import Field, Robot
from fieldsim.model.errors import shown
from fieldsim.sim.shapes import polygon
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.keys import PROPOSAL_KEYS
from fieldsim.window.paint.layout import GAP, HEAD, unit_of
from fieldsim.window.proposals.work import Found, Proposed, Wish
from fieldsim.window.session import BrowsingSession

__all__ = ["ProposalsLayout", "ProposalsSession", "Row", "proposals_layout"]

CARDS, ROW, BUTTON, TILE, TITLE = 330, 30, 32, 96, 22
HEAD_BUTTONS = ("season", "look", "help")
ROWS = {
    "robot": tr_later("robot"), "wear": tr_later("wears"), "start": tr_later("from"), "to": tr_later("to"),
    "finish": tr_later("ends in"), "within": tr_later("at most"),
}  # fmt: skip
# Proposals that `route` tells.
MOST = 3
# Seconds a run may take, to be chosen from.
TIMES = (None, 5.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 45.0, 60.0)
# How near to a target's middle or a jig's corner a press is meant for it, units.
NEAR = 22.0


@dataclass(frozen=True)
class Row:
    """A choice: between the two buttons stands what is chosen."""

    name: str
    label: Rect
    minus: Rect
    entry: Rect
    plus: Rect


@dataclass(frozen=True)
class ProposalsLayout:
    size: tuple[int, int]
    unit: float
    head: Rect
    field: Rect
    """The map."""
    card: Rect
    buttons: tuple[tuple[str, Rect], ...]
    rows: tuple[Row, ...]
    ask: Rect
    told: Rect
    """Where the headline stands, and how far it is."""
    tiles: tuple[Rect, ...]
    take: Rect


def proposals_layout(size: tuple[int, int], scale: float) -> ProposalsLayout:
    w, h = max(1, size[0]), max(1, size[1])
    unit = unit_of(w, h, scale)

    def px(length: float) -> int:
        return round(length * unit)

    gap, top = px(GAP), px(HEAD) + px(GAP) // 2
    card = Rect(w - gap - px(CARDS), top, px(CARDS), max(0, h - gap - top))
    field = Rect(gap, top, max(1, card.x - 2 * gap), card.h)
    each, tall, space = px(64), px(22), px(4)
    first = w - gap - len(HEAD_BUTTONS) * (each + space) + space
    buttons = tuple((name, Rect(first + n * (each + space), space, each, tall)) for n, name in enumerate(HEAD_BUTTONS))
    pad, square = px(8), px(ROW) - px(4)
    rows = []
    for n, name in enumerate(ROWS):
        y = card.y + px(TITLE) + pad + n * px(ROW)
        label = Rect(card.x + pad, y, px(58), square)
        plus = Rect(card.right - pad - square, y, square, square)
        minus = Rect(label.right + px(4), y, square, square)
        entry = Rect(minus.right + px(3), y, plus.x - minus.right - 2 * px(3), square)
        rows.append(Row(name, label, minus, entry, plus))
    below = rows[-1].entry.bottom + pad
    ask = Rect(card.x + pad, below, card.w - 2 * pad, px(BUTTON))
    take = Rect(card.x + pad, card.bottom - pad - px(BUTTON), card.w - 2 * pad, px(BUTTON))
    told = Rect(card.x + pad, ask.bottom + px(6), card.w - 2 * pad, px(46))
    room = max(0, take.y - px(6) - told.bottom)
    high = min(px(TILE), room // MOST)
    tiles = tuple(Rect(told.x, told.bottom + n * high, told.w, max(0, high - px(5))) for n in range(MOST))
    return ProposalsLayout(
        (w, h), unit, Rect(0, 0, w, px(HEAD)), field, card, buttons, tuple(rows), ask, told, tiles, take
    )


class ProposalsSession(BrowsingSession[Field]):
    """What is asked for on one field, and what was found."""

    KEYS = PROPOSAL_KEYS
    places: ProposalsLayout  # type: ignore[assignment]

    def __init__(
        self,
        field: Field,
        robots: Sequence[tuple[Path, Robot]],
        size: tuple[int, int] = (1280, 800),
        scale: float = 1.0,
    ) -> None:
        super().__init__(field, scale)
        self.field = field
        self.robots = tuple(robots)
        self.robot = 0
        self.wish: Wish | None = self._first_wish()
        self.found: Found | None = None
        self.chosen = 0
        """Which proposal is shown."""
        self.row_at = 0
        self.orders: list[tuple[str, Any]] = []
        """What is to be done: 'ask', 'cancel', 'take', with a wish or a proposal."""
        self.places = proposals_layout(size, scale)
        self.camera = self._whole()

    def _first_wish(self) -> Wish | None:
        if not self.robots:
            return None
        robot = self.robots[self.robot][1]
        # Of one tool it is clear that it is meant; of several it is not.
        wear = (robot.attachments[0].name,) if len(robot.attachments) == 1 else ()
        return Wish(self.field, robot, wear, self.field.jigs[0].name if self.field.jigs else None)

    def _whole(self) -> Camera:
        return Camera.fit(self.places.field, self.field.size, 26 * self.places.unit)

    # --- what is shown -----------------------------------------------------------------------------------------------

    @property
    def searching(self) -> bool:
        """Whether it is being looked for."""
        return self.found is not None and not self.found.over

    @property
    def proposal(self) -> Proposed | None:
        """The proposal that is shown."""
        if self.found is None or not self.found.proposals:
            return None
        return self.found.proposals[min(self.chosen, len(self.found.proposals) - 1)]

    def told(self, row: str) -> str:
        """What is chosen, in words."""
        wish = self.wish
        if wish is None:
            return ""
        match row:
            case "robot":
                return shown(wish.robot.name, 40)
            case "wear":
                return shown(", ".join(wish.wear), 60) if wish.wear else tr("nothing")
            case "start":
                return tr("any jig") if wish.start is None else shown(wish.start, 40)
            case "to":
                return shown(", ".join(wish.targets), 60) if wish.targets else tr("click a target")
            case "finish":
                return tr("anywhere") if wish.finish is None else shown(wish.finish, 40)
            case _:
                return tr("any time") if wish.within is None else tr("{n:g} s", n=wish.within)

    def options(self, row: str) -> tuple[Any, ...]:
        """What there is to choose from."""
        wish, field = self.wish, self.field
        if wish is None:
            return ()
        match row:
            case "robot":
                return tuple(range(len(self.robots)))
            case "wear":
                names = tuple(each.name for each in wish.robot.attachments)
                return ((), *((name,) for name in names), *((names,) if len(names) > 1 else ()))
            case "start":
                return (None, *(jig.name for jig in field.jigs), *(area.name for area in field.start_areas))
            case "to":
                return ((), *((target.name,) for target in field.targets))
            case "finish":
                return (None, *(area.name for area in field.start_areas))
            case _:
                return TIMES

    def _now_at(self, row: str) -> Any:
        wish = self.wish
        assert wish is not None
        return self.robot if row == "robot" else getattr(wish, "targets" if row == "to" else row)

    # --- what changes ------------------------------------------------------------------------------------------------

    def tick(self, now: float) -> None:
        self._now = now
        self._words_go(now)

    def learn(self, news: Sequence[tuple[Wish, Found]]) -> None:
        """What came of the wish that stands; of one that is no longer wanted nothing is heard any more."""
        for wish, found in news:
            if self.found is not None and wish is self.found.wish and not self.found.over:
                self.found = found
                self.chosen = 0

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        self.scale = self.scale if scale is None else scale
        self.places = proposals_layout(size, self.scale)
        self.camera = self._whole()

    def _take_wish(self, wish: Wish) -> None:
        """Something else is wanted: what was found for another wish is no answer to it."""
        if wish == self.wish:
            return
        if self.searching:
            self.orders.append(("cancel", None))
        self.wish, self.found, self.chosen = wish, None, 0

    def choose(self, row: str, way: int) -> None:
        """The next of what there is to choose from, or the one before."""
        wish, options = self.wish, self.options(row)
        if wish is None or not options:
            return
        now = self._now_at(row)
        to = options[(options.index(now) + way) % len(options)] if now in options else options[0]
        match row:
            case "robot":
                self.robot = to
                first = self._first_wish()
                assert first is not None
                self._take_wish(replace(wish, robot=first.robot, wear=first.wear))
            case "to":
                self._take_wish(replace(wish, targets=to))
            case _:
                self._take_wish(replace(wish, **{row: to}))

    def toggle_target(self, name: str) -> None:
        """One more target, after those there are; or no longer."""
        wish = self.wish
        if wish is not None:
            rest = tuple(each for each in wish.targets if each != name)
            self._take_wish(replace(wish, targets=rest if name in wish.targets else (*wish.targets, name)))

    def thing_at(self, x: float, y: float) -> tuple[str, str] | None:
        """What a press on the map is meant for: ('target', name), ('jig', name) or ('area', name)."""
        if not self.places.field.contains(x, y):
            return None
        near = NEAR * self.places.unit
        found = []
        for target in self.field.targets:
            px, py = self.camera.pixel(*target.at)
            found.append((hypot(px - x, py - y) - target.within * self.camera.zoom, "target", target.name))
        for jig in self.field.jigs:
            px, py = self.camera.pixel(*jig.corner)
            found.append((hypot(px - x, py - y), "jig", jig.name))
        away, kind, name = min(found, default=(near, "", ""))
        if away < near:
            return kind, name
        at = Point(self.camera.to_field([(x, y)])[0])
        area = next((a for a in self.field.start_areas if polygon(a.shape).covers(at)), None)
        return None if area is None else ("area", area.name)

    # --- events ------------------------------------------------------------------------------------------------------

    def under(self, x: float, y: float) -> str | None:
        if self._covered:
            return self.over_at(x, y)
        places = self.places
        for name, rect in (*places.buttons, ("ask", places.ask), ("take", places.take)):
            if rect.contains(x, y):
                return f"button {name}"
        for row in places.rows:
            for part, rect in (("minus", row.minus), ("entry", row.entry), ("plus", row.plus)):
                if rect.contains(x, y):
                    return f"row {row.name} {part}"
        count = 0 if self.found is None else len(self.found.proposals)
        for n, rect in enumerate(places.tiles[:count]):
            if rect.contains(x, y):
                return f"tile {n}"
        thing = self.thing_at(x, y)
        return None if thing is None else f"thing {thing[0]} {thing[1]}"

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            self._press_over(x, y)
            return
        what = self.under(x, y)
        if what is None or button != "left":
            return
        word, _, rest = what.partition(" ")
        if word == "row":
            name, part = rest.split(" ")
            self.row_at = list(ROWS).index(name)
            self.choose(name, -1 if part == "minus" else 1)
        elif word == "tile":
            self.chosen = int(rest)
        elif word == "thing":
            self._press_thing(*rest.split(" ", 1))
        else:
            self.do(rest)

    def _press_thing(self, kind: str, name: str) -> None:
        wish = self.wish
        if wish is None:
            return
        if kind == "target":
            self.toggle_target(name)
        elif kind == "jig":
            self._take_wish(replace(wish, start=None if wish.start == name else name))
        else:
            self._take_wish(replace(wish, finish=None if wish.finish == name else name))

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        self._pointer = (x, y)
        self.hover = self.under(x, y)

    def released(self, x: float, y: float) -> None:
        """Nothing is dragged here."""

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            return
        what = self.under(x, y) or ""
        if what.startswith("row "):
            whole = self._notches(what, steps)
            if whole:
                self.choose(what.split(" ")[1], -1 if whole > 0 else 1)
        elif self.places.field.contains(x, y):
            self._pointer = (x, y)
            self._zoom(1.2**steps)

    def text(self, letters: str) -> None:
        """Nothing is written here."""

    def do(self, action: str) -> None:
        """An action of ``keys.PROPOSAL_KEYS``, or of a button."""
        match action:
            case "ask":
                self._ask()
            case "take":
                if self.proposal is not None:
                    self.orders.append(("take", self.proposal))
                else:
                    self.say(tr("Nothing was proposed yet"))
            case "upper" | "lower":
                count = 0 if self.found is None else len(self.found.proposals)
                if count:
                    self.chosen = (min(self.chosen, count - 1) + (1 if action == "lower" else -1)) % count
            case "row before" | "row after":
                self.row_at = (self.row_at + (1 if action == "row after" else -1)) % len(ROWS)
            case "more" | "less":
                self.choose(list(ROWS)[self.row_at], 1 if action == "more" else -1)
            case "fit":
                self.camera = self._whole()
            case "nearer" | "farther":
                self._zoom(1.25 if action == "nearer" else 0.8)
            case "look":
                self._change_look()
            case "help":
                self._show_help()
            case "drop":
                if self.searching:
                    self._break_off()
                else:
                    self.wants.add("season")
            case "quit" | "season" | "full screen":
                self.wants.add(action)

    def _ask(self) -> None:
        wish = self.wish
        if wish is None:
            self.say(tr("There is no robot in this season: make one first"))
        elif self.searching:
            self._break_off()
        elif not wish.enough:
            self.say(tr("Click a target first, or where it is to end"))
        else:
            # A wish of its own, however often the same is asked: news is told by which wish it belongs to.
            wish = replace(wish)
            self.wish, self.found, self.chosen = wish, Found(wish), 0
            self.orders.append(("ask", wish))

    def _break_off(self) -> None:
        self.found = None
        self.orders.append(("cancel", None))
        self.say(tr("Broken off"))

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        """There are no numbers here."""

    def _switch(self, index: int, way: int) -> None:
        """There are no switches here."""
