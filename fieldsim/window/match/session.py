"""A match in the window: one of many is played by the clock, run by run. Knows no screen and no disk.

The strip's blocks are stretches of the match's time: a robot drives, is fetched, or is made ready by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot

import numpy as np

from fieldsim.language import tr
from fieldsim.match.answer import Estimate
from fieldsim.match.bank import Bank, fill, one_try
from fieldsim.match.order import best_order
from fieldsim.match.play import Order, play
from fieldsim.match.story import Story, Stretch, tell
from fieldsim.match.worth import estimate
from fieldsim.model.errors import shown
from fieldsim.model.match import Match
from fieldsim.report.phrases import signed
from fieldsim.report.words.match import points_words
from fieldsim.sim.clock import Clock
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Trials
from fieldsim.sim.ways import Way, trial_way, until_of, way_of
from fieldsim.studies.answer import Pose
from fieldsim.window.camera import Camera
from fieldsim.window.keys import MATCH_KEYS, action_of
from fieldsim.window.paint.layout import Layout, Strip, layout, strip_edges
from fieldsim.window.run.state import PACES, STEP
from fieldsim.window.session import ZOOM, Session

__all__ = ["Carried", "MatchSession", "Played", "Tried"]

# Matches that can be looked at, and of which the average is told.
MATCHES = 2_000
# A press that moves no farther than this is a click, units.
STILL = 4.0


@dataclass(frozen=True, eq=False)
class Tried:
    """A try that is shown: its way, where it ended, and how long it took."""

    ready: Plan
    trials: Trials
    way: Way
    until: float
    """The head at which it ended."""
    seconds: float
    clock: Clock

    def head_at(self, seconds: float) -> float:
        """Where it is so long after its start. Its own errors of time are spread over the way."""
        planned = self.clock.time_at(self.until)
        share = seconds / self.seconds if self.seconds > 0 else 1.0
        return min(self.clock.head_at(share * planned), self.until)


@dataclass(frozen=True, eq=False)
class Played:
    """Matches that can be looked at: their luck, and the orders they are played in."""

    bank: Bank
    seed: int
    orders: tuple[tuple[str, Order], ...]
    """What each is called, and the order."""
    means: tuple[Estimate, ...]
    """Points of each on average,"""
    spreads: tuple[tuple[float, float], ...]
    """and between how many points nine of ten matches end."""

    @staticmethod
    def of(match: Match, seed: int = 1, threads: int | None = None, matches: int = MATCHES) -> Played:
        """Play a match; the best order is chosen on as many other matches."""
        bank = fill(match, matches, seed, threads=threads)
        written = tuple(range(len(match.runs)))
        # Blocks of a thousand: the matches it is chosen on come after those that are shown.
        chosen = fill(match, matches, seed, first_block=-(-matches // 1000), threads=threads)
        best = best_order(chosen, threads).order
        orders = [(tr("as written"), written)]
        if best != written:
            left = [shown(each.name, 40) for n, each in enumerate(match.runs) if n not in best]
            name = tr("best order, without {runs}", runs=", ".join(left)) if left else tr("best order")
            orders.append((name, best))
        empty = Played(bank, seed, (), (), ())
        for name, order in orders:
            empty = empty.with_order(name, order, threads)
        return empty

    def with_order(self, name: str, order: Order, threads: int | None = None) -> Played:
        """With one more order to look at; one of that name gives way to it."""
        score = play(self.bank, order, threads).score
        low, high = np.quantile(score, (0.05, 0.95), method="inverted_cdf")
        kept = [n for n, (known, _) in enumerate(self.orders) if known != name]
        return Played(
            self.bank,
            self.seed,
            (*(self.orders[n] for n in kept), (name, order)),
            (*(self.means[n] for n in kept), estimate(score)),
            (*(self.spreads[n] for n in kept), (float(low), float(high))),
        )


@dataclass(frozen=True)
class Carried:
    """A run that is being taken to another place: the order that would be, and the pointer's pixel."""

    run: int
    order: Order
    x: float


class MatchSession(Session[Order]):
    """One match being looked at."""

    KEYS = MATCH_KEYS

    def __init__(self, played: Played, size: tuple[int, int] = (1280, 800), scale: float = 1.0) -> None:
        super().__init__(played.orders[0][1], scale)
        self.played = played
        self.plans = [plan(each.run) for each in played.bank.match.runs]
        self.ways = [way_of(ready) for ready in self.plans]
        self.which = 0
        self.number = 0
        self.seconds = 0.0
        self.playing = False
        self.pace = PACES.index(1.0)
        self.places: Layout = layout(size, scale, switches=2)
        self.camera = Camera.fit(self.places.field, played.bank.match.runs[0].run.field.size, self.margin)
        self._drag: tuple[str, tuple[float, float], tuple[float, float]] | None = None
        self._tried: dict[tuple[int, int], Tried] = {}
        self.carried: Carried | None = None
        self.story: Story
        self.strip: Strip
        self._tell()

    # --- what there is -----------------------------------------------------------------------------------------------

    @property
    def match(self) -> Match:
        return self.played.bank.match

    @property
    def order_name(self) -> str:
        return self.played.orders[self.which][0]

    @property
    def margin(self) -> float:
        return 10 * self.places.unit

    @property
    def limit(self) -> float:
        return self.match.limit

    @property
    def stretch(self) -> Stretch:
        """What goes on at the playhead; the last one after it has ended."""
        return self.story.stretches[self._at]

    @property
    def _at(self) -> int:
        ends = [each.end for each in self.story.stretches]
        return min(int(np.searchsorted(ends, self.seconds, side="right")), len(ends) - 1)

    @property
    def over_now(self) -> bool:
        """Every stretch has ended."""
        return self.seconds >= self.story.stretches[-1].end

    @property
    def points(self) -> float:
        """Points so far."""
        return sum(each.points for each in self.story.scored if each.at <= self.seconds + 1e-9)

    @property
    def tried(self) -> Tried:
        """The try at the playhead; while a robot is made ready the one that comes, while it is fetched the one that
        was."""
        now = self.stretch
        key = now.run, now.attempt
        if key not in self._tried:
            trials, joints = one_try(
                self.match, self.plans[now.run], self.played.seed, self.number, now.run, now.attempt
            )
            ready = self.plans[now.run]
            way = trial_way(ready, joints)
            until = until_of(trials, 0, len(way.segments))
            self._tried[key] = Tried(ready, trials, way, until, float(trials.time[0]), Clock(ready))
        return self._tried[key]

    @property
    def head(self) -> float:
        """The place in the try at the playhead."""
        now, tried = self.stretch, self.tried
        if now.what == "drive":
            return tried.head_at(self.seconds - now.begin)
        # Made ready it stands at its start; being fetched it stands where it stopped.
        return 0.0 if now.what == "change" else tried.until

    @property
    def pose(self) -> Pose:
        return self.tried.way.pose_at(self.head)

    @property
    def strip_head(self) -> float:
        """The playhead on the strip: a place in stretches."""
        times = self._edges
        return float(np.interp(self.seconds, times, np.arange(len(times))))

    @property
    def _edges(self) -> list[float]:
        told = [0.0, *(each.end for each in self.story.stretches)]
        return told if told[-1] >= self.limit - 1e-9 else [*told, self.limit]

    @property
    def lines(self) -> tuple[()]:
        return ()

    @property
    def by_hand(self) -> frozenset[int]:
        """Stretches in which nothing drives: done by hand, or left at the end."""
        driven = {n for n, each in enumerate(self.story.stretches) if each.what == "drive"}
        return frozenset(range(len(self._edges) - 1)) - driven

    @property
    def scores(self) -> tuple[tuple[float, float], ...]:
        """(head on the strip, points from there on)."""
        times, found, total = self._edges, [], 0.0
        for each in self.story.scored:
            total += each.points
            found.append((float(np.interp(each.at, times, np.arange(len(times)))), total))
        return tuple(found)

    # --- what changes ------------------------------------------------------------------------------------------------

    def _tell(self) -> None:
        self.story = tell(self.played.bank, self.played.orders[self.which][1], self.number)
        self._tried = {}
        self._placed()

    def _placed(self) -> None:
        times = self._edges
        words = [self._stretch_words(each) for each in self.story.stretches]
        if len(words) < len(times) - 1:
            words.append(tr("time left"))
        rect = self.places.segments
        edges = strip_edges(np.diff(times).tolist(), rect.x, rect.w, self.places.unit * 26)
        self.strip = Strip(tuple(words), edges, tuple(tr("{time:.0f} s", time=time) for time in times))

    def _stretch_words(self, stretch: Stretch) -> str:
        name = self.match.runs[stretch.run].name
        match stretch.what:
            case "fetch":
                return tr("fetch the robot")
            case "change":
                return tr("make ready")
        return name if stretch.attempt == 0 else tr("{run}, try {number}", run=name, number=stretch.attempt + 1)

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        self.scale = self.scale if scale is None else scale
        self.places = layout(size, self.scale, switches=2)
        self.camera = self.camera.resized(self.places.field, self.margin)
        self._placed()

    def tick(self, now: float) -> None:
        """Time has gone on to ``now``, seconds."""
        gone, self._now = max(0.0, now - self._now), now
        if self.playing:
            self.seconds += min(gone, 0.25) * PACES[self.pace]
            if self.seconds >= self.limit:
                self.seconds, self.playing = self.limit, False
        self._words_go(now)

    # --- events ------------------------------------------------------------------------------------------------------

    def under(self, x: float, y: float) -> str | None:
        if self._covered:
            return self.over_at(x, y)
        what = self.places.at(x, y)
        if what == "segments":
            block = self.strip.block_at(x)
            return what if block is None else f"block {block}"
        return what

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            self._press_over(x, y)
            return
        self._pointer = (x, y)
        what = self.under(x, y)
        if what is None:
            return
        word = what.split(" ")
        if what == "field" or button != "left":
            self._drag = "field", (x, y), (x, y)
        elif word[0] == "block" and self.run_at(x) is not None:
            # A click goes there; a drag takes the run to another place.
            self._drag = "run", (x, y), (x, y)
        elif word[0] in ("ribbon", "axis", "block"):
            self._drag = "scrub", (x, y), (x, y)
            self._scrub(x)
        elif word[0] == "button":
            self.do({"back": "step back", "forth": "step forth"}.get(word[1], word[1]))
        elif word[0] == "switch":
            self._switch(int(word[1]), -1 if word[2] == "minus" else 1)

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        self._pointer = (x, y)
        if self._drag is None:
            self.hover = self.under(x, y)
            return
        what, at, last = self._drag
        self._drag = what, at, (x, y)
        if what == "scrub":
            self._scrub(x)
        elif what == "run":
            self.carried = self._carried(at, x) if abs(x - at[0]) > STILL * self.places.unit else None
            if self.carried is not None:
                self.say(self._in_order(self.carried.order))
        elif hypot(x - at[0], y - at[1]) > STILL * self.places.unit:
            self.camera = self.camera.panned(x - last[0], y - last[1])

    def released(self, x: float, y: float) -> None:
        drag, carried = self._drag, self.carried
        self._drag = self.carried = None
        if drag is not None and drag[0] == "run":
            if carried is None:
                self._scrub(drag[1][0])
            elif carried.order != self.order:
                self._take_order(carried.order)
        self.hover = self.under(x, y)

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            return
        what = self.under(x, y) or ""
        if what == "field":
            self.camera = self.camera.zoomed((x, y), ZOOM**steps)
        elif what.startswith(("block", "ribbon", "axis", "segments")):
            self._to(self.seconds + steps * 5 * STEP)
        elif what.startswith("switch "):
            whole = self._notches(what, steps)
            if whole:
                self._switch(int(what.split(" ")[1]), -1 if whole > 0 else 1)

    def key(self, pressed: str) -> None:
        if self._covered:
            if pressed == "ctrl q":
                self.do("quit")
            else:
                self._close_over()
            return
        action = action_of(self.KEYS, pressed)
        if action is not None:
            self.do(action)

    def text(self, letters: str) -> None:
        """Nothing is written here."""

    def do(self, action: str) -> None:
        """An action of a key or button, by its name."""
        simple: dict[str, Callable[[], None]] = {
            "play": self._play,
            "begin": lambda: self._to(0.0),
            "end": lambda: self._to(self.limit),
            "step back": lambda: self._to(self.seconds - 5 * STEP),
            "step forth": lambda: self._to(self.seconds + 5 * STEP),
            "stretch back": lambda: self._to_stretch(-1),
            "stretch forth": lambda: self._to_stretch(1),
            "slower": lambda: self._set_pace(-1),
            "faster": lambda: self._set_pace(1),
            "next match": lambda: self._switch(1, 1),
            "last match": lambda: self._switch(1, -1),
            "order": lambda: self._switch(0, 1),
            "earlier": lambda: self._shift_run(-1),
            "later": lambda: self._shift_run(1),
            "remove": self._leave_out,
            "add": self._put_in,
            "fit": self._fit,
            "nearer": lambda: self._zoom(ZOOM),
            "farther": lambda: self._zoom(1 / ZOOM),
            "look": self._change_look,
            "help": self._show_help,
        }
        if action in simple:
            simple[action]()
        elif action in ("quit", "season", "full screen"):
            self.wants.add(action)

    def _play(self) -> None:
        if not self.playing and self.seconds >= self.limit:
            self.seconds = 0.0
        self.playing = not self.playing

    def _to(self, seconds: float) -> None:
        self.playing = False
        self.seconds = min(max(seconds, 0.0), self.limit)

    def _scrub(self, x: float) -> None:
        times = self._edges
        self._to(float(np.interp(self.strip.head_at(x), np.arange(len(times)), times)))

    def _to_stretch(self, way: int) -> None:
        times = self._edges
        if way > 0:
            self._to(min((time for time in times if time > self.seconds + 1e-6), default=self.limit))
        else:
            self._to(max((time for time in times if time < self.seconds - 1e-6), default=0.0))

    def _set_pace(self, way: int) -> None:
        self.pace = min(max(self.pace + way, 0), len(PACES) - 1)

    def _fit(self) -> None:
        self.camera = Camera.fit(self.places.field, self.match.runs[0].run.field.size, self.margin)

    # --- the order by hand -------------------------------------------------------------------------------------------

    @property
    def order(self) -> Order:
        """The runs in the order in which they are played."""
        return self.played.orders[self.which][1]

    def run_at(self, x: float) -> int | None:
        """The run whose first drive has its block at a pixel of the strip."""
        block = self.strip.block_at(x)
        if block is None or block > len(self.story.stretches):
            return None
        stretch = self.story.stretches[block - 1]
        return stretch.run if stretch.what == "drive" else None

    def _carried(self, at: tuple[float, float], x: float) -> Carried | None:
        """The run that was pressed, taken to a pixel: before the first run whose block's middle lies right of it."""
        run = self.run_at(at[0])
        if run is None:
            return None
        middles: dict[int, float] = {}
        for n, stretch in enumerate(self.story.stretches):
            if stretch.what == "drive" and stretch.run not in middles:
                middles[stretch.run] = (self.strip.edges[n] + self.strip.edges[n + 1]) / 2
        rest = [each for each in self.order if each != run]
        place = sum(middles.get(each, float("inf")) < x for each in rest)
        return Carried(run, (*rest[:place], run, *rest[place:]), x)

    def _take_order(self, order: Order) -> None:
        """Play the matches in an order of one's own."""
        known = next((n for n, (_, each) in enumerate(self.played.orders) if each == order), None)
        if known is None:
            self.played = self.played.with_order(tr("order by hand"), order)
            known = len(self.played.orders) - 1
        before = self.played.means[self.which if self.which < len(self.played.means) else 0]
        self.which = known
        self.seconds = 0.0
        self._tell()
        after = self.played.means[known]
        more = after.mean - before.mean
        self.say(
            tr("{names}: on average {points}, {more} against before", names=self._in_order(order),
               points=points_words(after), more=("+" if more > 0 else "") + signed(more, 1))
        )  # fmt: skip

    def _in_order(self, order: Order) -> str:
        return " - ".join(shown(self.match.runs[n].name, 24) for n in order)

    def _shift_run(self, way: int) -> None:
        """The run at the playhead earlier or later."""
        order = list(self.order)
        at = order.index(self.stretch.run)
        to = at + way
        if not 0 <= to < len(order):
            self.say(tr("It is the first already") if way < 0 else tr("It is the last already"))
            return
        order[at], order[to] = order[to], order[at]
        self._take_order(tuple(order))

    def _leave_out(self) -> None:
        """The run at the playhead is not driven at all."""
        order = tuple(each for each in self.order if each != self.stretch.run)
        if not order:
            self.say(tr("One run has to stay"))
            return
        self._take_order(order)

    def _put_in(self) -> None:
        """A run that is left out comes in at the end."""
        left = [n for n in range(len(self.match.runs)) if n not in self.order]
        if left:
            self._take_order((*self.order, left[0]))
        else:
            self.say(tr("Every run is in it"))

    def _switch(self, index: int, way: int) -> None:
        if index == 0:
            if len(self.played.orders) < 2:
                self.say(tr("The order as written is the best that was found"))
                return
            self.which = (self.which + way) % len(self.played.orders)
        else:
            self.number = (self.number + way) % len(self.played.bank)
            self.seconds = 0.0
        self._tell()
        self.seconds = min(self.seconds, self.limit)
