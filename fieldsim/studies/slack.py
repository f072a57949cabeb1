"""`slack`: how far off the start may be before a run fails too often, and before it fails without any noise at all."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from math import cos, degrees, hypot, inf, radians, sin
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.model import Act, Run, StartByEye
from fieldsim.sim.kernel.path import X, Y
from fieldsim.sim.kernel.sweep import TOUCH, push_out
from fieldsim.sim.kernel.trial import Scratch, run_trials
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.resting import OVERLAP, gap_before, meant_contacts
from fieldsim.sim.trials import Trials, blocks, measured
from fieldsim.stats.intervals import Share
from fieldsim.studies.own import own
from fieldsim.studies.slack_answer import AXES, Edges, Ends, Luck, SlackAnswer, SlackMap

# Trials at each start, where nothing else is asked for.
EACH = 2_000

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Pairs of the ways a start can be off, for the maps.
PAIRS = (("x", "heading"), ("y", "heading"), ("y", "x"))

# No farther off than this is looked, mm and degrees; how closely an edge is found without noise and with it; the first
# step of the search with noise.
FARTHEST = {"x": 150.0, "y": 150.0, "heading": 45.0}
EXACT = {"x": 1e-6, "y": 1e-6, "heading": 1e-7}
CLOSE = {"x": 0.1, "y": 0.1, "heading": 0.02}
FIRST = {"x": 1.0, "y": 1.0, "heading": 0.25}

# Without noise the search goes forward by this share of the room that is left: a start that is moved by less than the
# smallest clearance cannot touch. And by this much at least, mm, where next to nothing is left.
SAFE = 0.7
LEAST = 0.01

# A wanted share that nobody named: this part of what the planned start gets.
DEFAULT_NEED = 0.9

# Points of the maps each way, with and without noise; how often their distance is halved where the wanted share, or
# what the robot cannot be set in, runs through; trials of each point as a part of all.
COARSE, FINE, HALVED = 13, 25, 2
MAP_PART = 5


class Offset(NamedTuple):
    x: float = 0.0
    y: float = 0.0
    heading: float = 0.0


def only(axis: str, value: float) -> Offset:
    return Offset()._replace(**{axis: value})


class Shifted:
    """One run from starts that are off: the same course, whose culling holds for any start."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.ready = plan(run)
        self._every = np.arange(len(self.ready.solids), dtype=np.int64)
        course = self.ready.course
        # What is off is drawn like what a start is off by anyway, so many starts are driven at one go.
        self._undrawn = course._replace(wheels=course.wheels._replace(spread=np.ones(3)))
        self._against = [
            (int(o), part, core, float(course.cores.radius[q]))
            for o, back in zip(course.rests.obstacle, course.rests.set_back, strict=True)
            for part, core, q in self._outlines(int(o) if back else None)
        ]
        """What the robot is set against, with the outlines that can meet."""
        self._turned: dict[float, dict[int, float]] = {}
        joints = self.ready.path[:, [X, Y]]
        self.reach = float(self.ready.course.parts.reach.max() + np.hypot(*(joints - joints[0]).T).max())
        """mm that some point of the footprint may move by for a radian of heading at the start, at most."""
        if not isinstance(run.start, StartByEye):
            self.reach += hypot(*self.ready.course.wheels.held)

    def plan_at(self, offset: Offset) -> Plan:
        """The plan with its start moved: heading errors turn about the corner the jig holds."""
        wheels = self.ready.course.wheels
        x, y, h = wheels.start
        c, s = cos(h), sin(h)
        turned = h + radians(offset.heading)
        kx, ky = wheels.held
        start = np.array(
            [
                x + c * kx - s * ky - cos(turned) * kx + sin(turned) * ky + c * offset.x - s * offset.y,
                y + s * kx + c * ky - sin(turned) * kx - cos(turned) * ky + s * offset.x + c * offset.y,
                turned,
            ]
        )
        return replace(self.ready, course=self.ready.course._replace(wheels=wheels._replace(start=start)))

    def _outlines(self, number: int | None) -> Iterator[tuple[Floats, Floats, int]]:
        course = self.ready.course
        for q in range(course.pairs.first[number], course.pairs.first[number + 1]) if number is not None else ():
            core = int(course.pairs.core[q])
            yield course.parts.outline(course.pairs.part[q]), course.cores.outline(core), core

    def undrawn(self, offsets: Sequence[Offset]) -> Trials:
        """The run from each of these starts without any draw (the known bias stays)."""
        many = len(offsets)
        z = np.zeros((self.ready.drivetrain.rows, many))
        z[:3] = np.array(offsets, dtype=np.float64).T
        z[2] = np.radians(z[2])
        # Room of its own: starts are tried side by side.
        scratch, stray = Scratch(self._undrawn, len(self._every), many), np.zeros(len(self._every), dtype=np.int64)
        run_trials(self._undrawn, z, 0, many, self._every, stray, scratch)
        return measured(self.ready, 0, 0, many, self._every, scratch, z)

    def rooms(self, offsets: Sequence[Offset]) -> Floats:
        """(N,) mm left before the run fails from there without any draw; negative if it fails.

        The least of the clearances and of what the acts' tolerances leave. 0 stands for a failure that has no distance.
        """
        trials = self.undrawn(offsets)
        acts = [segment for segment in self.run.segments if isinstance(segment, Act)]
        targets = {target.name: target for target in self.run.field.targets}
        left = trials.clearance.min(axis=1, initial=inf)
        for t, act in enumerate(acts):
            left = np.minimum(left, targets[act.target].within - trials.miss[:, t])
        return np.asarray(np.where(trials.success, np.maximum(left, 0.0), np.minimum(left, -LEAST)))

    def room(self, offset: Offset) -> float:
        """The same of one start."""
        return float(self.rooms([offset])[0])

    def stand_in(self, offsets: Sequence[Offset]) -> list[bool]:
        """Would the robot stand there in something that it is not set against? A plan that does touches it in every
        trial, see ``fieldsim.sim.plan``."""
        course = self.ready.course
        meant = meant_contacts(self.run)[0] if self.run.segments else ()
        touched = self.undrawn(offsets).clearance == 0.0
        found = []
        for offset, row in zip(offsets, touched, strict=True):
            x, y, h = self.plan_at(offset).course.wheels.start.tolist()
            at = (x, y, cos(h), sin(h))
            found.append(
                any(
                    gap_before(course.parts, course.cores, course.pairs, int(o), at) < -OVERLAP
                    for o in np.flatnonzero(row)
                    if self.ready.solids[o].name not in meant
                )
            )
        return found

    def stands_against(self, offset: Offset) -> str | None:
        """What keeps the robot from being set there, if anything does: one of the things it is set against, which it
        would stand deeper in.

        A corner that a wrong heading alone pushes into a wall does not count: there the robot is simply set a little
        farther out.
        """
        if not self._against:
            return None
        here = self._depths(offset)
        if offset.heading not in self._turned:
            self._turned[offset.heading] = self._depths(Offset(heading=offset.heading))
        turned = self._turned[offset.heading]
        names = [self.ready.solids[o].name for o in here if here[o] > max(turned[o], 0.0) + TOUCH]
        return " and ".join(names) or None

    def _depths(self, offset: Offset) -> dict[int, float]:
        """How deep the start is in each thing the robot is set against, mm; negative where it is clear of it."""
        x, y, h = self.plan_at(offset).course.wheels.start.tolist()
        at = (x, y, cos(h), sin(h))
        depths: dict[int, float] = {}
        for o, part, core, radius in self._against:
            deep, _, _ = push_out(part, core, radius, at)
            depths[o] = max(depths.get(o, -1.0), deep)
        return depths

    def stands_in(self, offset: Offset) -> bool:
        """The same of one start."""
        return self.stand_in([offset])[0]

    def success(self, offset: Offset, trials: int, seed: int, threads: int | None) -> Bools:
        """(trials,) which get through from there, on the same draws for every start."""
        if self.stands_in(offset):
            return np.zeros(trials, dtype=bool)
        return self.driven(offset, trials, seed, threads)

    def driven(self, offset: Offset, trials: int, seed: int, threads: int | None) -> Bools:
        """The same where it is known that the robot does not stand in anything."""
        parts = blocks(self.plan_at(offset), seed, trials, threads=threads, clearances=False)
        return np.concatenate([block.success for block in parts])


def slack(
    run: Run,
    *,
    need: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    threads: int | None = None,
    maps: bool = True,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> SlackAnswer:
    """How far off the start may be, in each way alone and in pairs, for the share that is needed.

    ``need`` left out is nine tenths of what the planned start gets. ``trials`` (``EACH`` for None) are tried at each
    start of the search, a fifth of them at each point of the maps, all on the same draws as those of the planned start
    (then ``OWN``); without ``maps`` these are left out.
    ``watch(done, wanted)`` counts trials.
    """
    shifted = Shifted(run)
    known = own(run, trials=trials, seed=seed, threads=threads, ready=shifted.ready)
    trials = EACH if trials is None else trials
    part = max(1, trials // MAP_PART)
    wanted = 6 * 12 * trials + (3 * 2 * COARSE * COARSE * part if maps else 0)
    done = 0

    def count(more: int) -> None:
        nonlocal done
        done += more
        watch(min(done, wanted), wanted)

    def share(offset: Offset) -> Share:
        success = shifted.success(offset, trials, seed, threads)
        count(trials)
        return known.beside(success).share

    def shares(offsets: list[Offset]) -> list[float]:
        # Points are small: side by side rather than each on all cores.
        nowhere = np.zeros(part, dtype=bool)

        def one_of(offset: Offset, stands_in: bool) -> Bools:
            return nowhere if stands_in else shifted.driven(offset, part, seed, 1)

        with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
            found = []
            for one in pool.map(one_of, offsets, shifted.stand_in(offsets)):
                found.append(known.beside(one).share.share)
                count(part)
            return found

    given = need is not None
    need = need if need is not None else DEFAULT_NEED * known.share.share
    hopeless = known.hopeless and not given
    searches = {
        axis: [_Search(shifted, axis, sign, need, known.share, share, not hopeless) for sign in (-1, 1)]
        for axis in AXES
    }
    found = {axis: [search.edge for search in searches[axis]] for axis in AXES}
    exact = {axis: [_exact_edge(shifted, axis, sign) for sign in (-1, 1)] for axis in AXES}
    drawn = tuple(_map(shifted, pair, found, exact, need, shares) for pair in PAIRS if maps and not hopeless)
    watch(wanted, wanted)
    return SlackAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        start="by eye" if isinstance(run.start, StartByEye) else run.start,
        trials=trials,
        own_trials=len(known.success),
        seed=seed,
        need=need,
        need_given=given,
        hopeless=hopeless,
        lost=known.lost,
        success=known.share,
        slack=_edges(found),
        luck=Luck(*((searches[axis][0].luck, searches[axis][1].luck) for axis in AXES)),
        geometry=_edges(exact),
        maps=drawn,
    )


def start_limits(run: Run, trials: int, seed: int, threads: int | None = None) -> SlackAnswer:
    """The edges alone, for a run that was tried with so many trials: what a card tells beside what is measured."""
    return slack(run, trials=None if trials >= EACH else trials, seed=seed, threads=threads, maps=False)


End = tuple[float, str]


def _edges(found: dict[str, list[End]]) -> Edges:
    pairs = [(found[axis][0], found[axis][1]) for axis in AXES]
    values = [(low[0], high[0]) for low, high in pairs]
    ends = [(low[1], high[1]) for low, high in pairs]
    return Edges(values[0], values[1], values[2], Ends(*ends))


def _ended(shifted: Shifted, axis: str, sign: int, good: float, bad: float, why: str) -> End:
    """The edge and what ends it."""
    wall = shifted.stands_against(only(axis, sign * bad))
    # Nothing is left within the search's own closeness of a wall that the robot is set against.
    return (sign * good if good > CLOSE[axis] or wall is None else 0.0), f"stands against {wall}" if wall else why


class _Search:
    """One way the start can be off, to one side: outward until fewer get through than are needed, or the robot stands
    against something; then halved."""

    def __init__(
        self, shifted: Shifted, axis: str, sign: int, need: float, own: Share, share: Callable[[Offset], Share],
        wanted: bool,
    ) -> None:  # fmt: skip
        self.shifted, self.axis, self.sign, self.need = shifted, axis, sign, need
        self._share = share
        self.seen = {0.0: own}
        """The shares that were looked at, by how far off."""
        self.edge: End = self._edge() if wanted else (0.0, "share")
        self.luck = self._luck() if wanted else (0.0, 0.0)

    def share(self, off: float) -> Share:
        if off not in self.seen:
            self.seen[off] = self._share(only(self.axis, self.sign * off))
        return self.seen[off]

    def _stands(self, off: float) -> bool:
        return self.shifted.stands_against(only(self.axis, self.sign * off)) is not None

    def _edge(self) -> End:
        farthest = FARTHEST[self.axis]
        if self.seen[0.0].share < self.need:
            return 0.0, "share"
        good, step = 0.0, FIRST[self.axis]
        while True:
            bad = min(good + step, farthest)
            if self._stands(bad) or self.share(bad).share < self.need:
                break
            if bad == farthest:
                return self.sign * farthest, "no end"
            good, step = bad, 1.5 * step
        while bad - good > CLOSE[self.axis]:
            middle = 0.5 * (good + bad)
            if self._stands(middle) or self.share(middle).share < self.need:
                bad = middle
            else:
                good = middle
        return _ended(self.shifted, self.axis, self.sign, good, bad, "share")

    def _luck(self) -> tuple[float, float]:
        """The edges of the interval's two ends, between the starts that were looked at by a straight line."""
        edge, why = self.edge
        if why != "share" or self.seen[0.0].share < self.need:
            return edge, edge
        step = FIRST[self.axis]
        # Farther out where even the upper end has not fallen below yet; what the robot stands against ends it.
        while self.share(far := max(self.seen)).high >= self.need:
            farther = min(far + step, FARTHEST[self.axis])
            if farther == far or self._stands(farther):
                break
            self.share(farther)
            step *= 1.5
        return self._crossing("low"), self._crossing("high")

    def _crossing(self, end: str) -> float:
        before = 0.0
        for off in sorted(self.seen):
            value: float = getattr(self.seen[off], end)
            if value < self.need:
                if off == 0.0:
                    return 0.0
                last: float = getattr(self.seen[before], end)
                return self.sign * (before + (off - before) * (last - self.need) / (last - value))
            before = off
        return self.sign * before


def _exact_edge(shifted: Shifted, axis: str, sign: int) -> End:
    """The first offset at which the run fails without noise.

    Moving the start by d moves every point of the footprint by d, turning it by v radians moves it by v times
    ``reach`` at most. So what is left shrinks no faster, and steps of that size jump over nothing. (After a square the
    path is not moved as a whole; there the steps are as small, but nothing is proved.)
    """
    scale = 1.0 if axis != "heading" else degrees(1.0) / shifted.reach
    good = 0.0
    room = shifted.room(Offset())
    if room <= 0.0:
        return 0.0, "edge"
    while True:
        bad = good + max(SAFE * min(room, 10.0), LEAST) * scale
        if bad > FARTHEST[axis]:
            return sign * good, "no end"
        if shifted.stands_against(only(axis, sign * bad)):
            break
        room = shifted.room(only(axis, sign * bad))
        if room < 0.0:
            break
        good = bad
    while bad - good > EXACT[axis]:
        middle = 0.5 * (good + bad)
        if shifted.stands_against(only(axis, sign * middle)) or shifted.room(only(axis, sign * middle)) < 0.0:
            bad = middle
        else:
            good = middle
    return _ended(shifted, axis, sign, good, bad, "edge")


def _span(axis: str, found: dict[str, list[End]], exact: dict[str, list[End]]) -> tuple[float, float]:
    """From where to where a map goes: a little beyond the farthest edge, but not into what the robot is set against."""
    ends = []
    for side, sign in ((0, -1), (1, 1)):
        both = (found[axis][side], exact[axis][side])
        far = max(abs(value) for value, _ in both)
        if not all(why.startswith("stands against") for _, why in both):
            far = min(max(1.3 * far, 4 * FIRST[axis]), FARTHEST[axis])
        ends.append(sign * far)
    return ends[0], max(ends[1], ends[0] + FIRST[axis])


def _map(
    shifted: Shifted,
    pair: tuple[str, str],
    found: dict[str, list[End]],
    exact: dict[str, list[End]],
    need: float,
    shares: Callable[[list[Offset]], list[float]],
) -> SlackMap:
    across, up = pair
    spans = [_span(axis, found, exact) for axis in pair]
    fine_columns, fine_rows = (np.linspace(*span, FINE) for span in spans)

    def at(column: float, row: float) -> Offset:
        return Offset()._replace(**{across: float(column), up: float(row)})

    def drive(points: list[tuple[float, float]]) -> Floats:
        offsets = [at(*point) for point in points]
        there = [shifted.stands_against(offset) is None for offset in offsets]
        values = iter(shares([offset for offset, can in zip(offsets, there, strict=True) if can]))
        return np.array([next(values) if can else np.nan for can in there])

    columns, rows = (np.linspace(*span, COARSE) for span in spans)
    share = drive([(c, r) for r in rows for c in columns]).reshape(COARSE, COARSE)
    driven = np.ones(share.shape, dtype=bool)
    for _ in range(HALVED):
        columns, rows = (np.linspace(*span, 2 * len(columns) - 1) for span in spans)
        share, wanted = finer(share, need)
        share[wanted] = drive([(columns[j], rows[i]) for i, j in np.argwhere(wanted)])
        before, driven = driven, wanted
        driven[::2, ::2] = before
    room = [shifted.rooms([at(column, row) for column in fine_columns]).tolist() for row in fine_rows]
    return SlackMap(
        across=across,
        up=up,
        columns=tuple(columns.tolist()),
        rows=tuple(rows.tolist()),
        share=tuple(tuple(None if np.isnan(value) else value for value in row) for row in share.tolist()),
        driven=tuple(tuple(row) for row in driven.tolist()),
        fine_columns=tuple(fine_columns.tolist()),
        fine_rows=tuple(fine_rows.tolist()),
        room=tuple(tuple(row) for row in room),
    )


def finer(share: Floats, need: float) -> tuple[Floats, Bools]:
    """A map at half the distance: (2n-1, 2m-1) shares, halfway between their neighbours, and which of the new points
    are to be driven: those in and around cells through which the wanted share or the edge of what is known runs.

    ``share`` is (n, m), nan where the robot cannot be set.
    """
    corners = np.stack([share[:-1, :-1], share[:-1, 1:], share[1:, :-1], share[1:, 1:]])
    reached = corners >= need
    gone = np.isnan(corners)
    # A corner that is not known is not reached either: its cell matters if another is known.
    matters = np.where(gone.any(axis=0), ~gone.all(axis=0), reached.any(axis=0) & ~reached.all(axis=0))
    n, m = share.shape
    made = np.full((2 * n - 1, 2 * m - 1), np.nan)
    made[::2, ::2] = share
    made[1::2, ::2] = (share[:-1] + share[1:]) / 2
    made[::2, 1::2] = (share[:, :-1] + share[:, 1:]) / 2
    made[1::2, 1::2] = corners.mean(axis=0)
    wanted = np.zeros(made.shape, dtype=bool)
    for i in range(3):
        for j in range(3):
            wanted[i : 2 * n - 3 + i : 2, j : 2 * m - 3 + j : 2] |= matters
    wanted[::2, ::2] = False
    return made, wanted
