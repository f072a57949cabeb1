"""`widths`: the share that gets through against one measure of the base, and the largest that is still good enough."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, floor, inf, isfinite, nan
from typing import Annotated, Any, ClassVar, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.answers import Perhaps, Told, told_as
from fieldsim.language import tr
from fieldsim.model import Robot, Run
from fieldsim.model.errors import PlanError
from fieldsim.sim.failures import failures
from fieldsim.sim.kernel.sweep import TOUCH
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import blocks, typical
from fieldsim.stats.double_sampling import Beside
from fieldsim.stats.intervals import Share
from fieldsim.studies.own import HOPELESS, LostAnswer, grown, own

VARIES = ("width", "length", "axle", "track", "wheel", "speed")
UNITS = {"speed": "mm/s"}

# Trials of each value, where nothing else is asked for.
EACH = 4_000

# Without --from and --to: from this part of the robot's own value to that one, in so many steps.
PART_FROM, PART_TO, STEPS = 0.7, 1.3, 12
# And from this part where the robot as it is hardly gets through: a smaller one may.
PART_FROM_HOPELESS = 0.4

# A wanted share that nobody named: this part of what the robot gets as it is.
DEFAULT_NEED = 0.9

# How closely the largest value without noise is found, mm (or mm/s).
EXACT = 1e-6
# So many times a straight line may be wrong about where room ends.
TRUST = 3


class Refused(NamedTuple):
    """A value that cannot be, and why."""

    value: Perhaps
    why: str


@dataclass(frozen=True)
class WidthAnswer:
    """One value of what is varied."""

    value: Perhaps
    trials: Annotated[int, "that were done of it"]
    success: Share
    behind: Annotated[Share, "lost to the robot as it is"]
    """On the same trials."""
    lost: LostAnswer | None
    """What goes wrong first more often than with the robot as it is, and most so; else most often. None if nothing
    does."""


@dataclass(frozen=True, kw_only=True)
class WidestAnswer:
    """The largest value at which the wanted share still gets through."""

    value: Perhaps
    low: Perhaps
    """What luck could make of it: the largest values whose share's lower and upper end are the wanted one."""
    high: Perhaps
    need: Perhaps
    """The wanted share."""
    beyond: Annotated[bool, "nothing that was looked at fails"]
    """The largest may be larger still."""
    obstacle: str | None
    """The obstacle, if what goes wrong is a contact,"""
    segment: int | None
    """and where it goes wrong."""
    lost: LostAnswer | None
    """What goes wrong more often, and most so, with the next larger one that fails."""


@dataclass(frozen=True)
class RoomAnswer:
    """The largest value before something is touched without any noise, or the run fails otherwise."""

    value: Perhaps
    obstacle: str | None
    segment: Annotated[int | None, "counted from 1"]


@dataclass(frozen=True, kw_only=True)
class WidthsAnswer:
    """The share that gets through against one measure of the base."""

    command: ClassVar[Literal["widths"]] = "widths"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    vary: Annotated[str, Told("what", one_of=VARIES)]
    unit: str
    track_moves: Annotated[bool, "with the width"]
    now: Annotated[Perhaps, "the robot's own value"]
    trials: Annotated[int, "that were done, or of each"]
    own_trials: Annotated[int, "of the robot as it is"]
    seed: int
    need: Perhaps
    """Null where it is hopeless."""
    need_given: Annotated[bool, Told(hidden=True)]
    hopeless: Annotated[bool, "as it is it gets through too seldom for a tenth less to mean anything"]
    lost: Annotated[LostAnswer | None, "what goes wrong first most often as it is"]
    values: tuple[WidthAnswer, ...]
    refused: Annotated[tuple[Refused, ...], "values that cannot be"]
    widest: WidestAnswer | None
    """None if none that was looked at gets through as often as wanted, or nothing was wanted and it is hopeless."""
    geometry: RoomAnswer | None
    """None if the run fails without noise at the smallest value already."""
    places: tuple[RoomAnswer, ...]
    """The same for each obstacle alone, tightest first; those that never matter are left out."""

    @property
    def best(self) -> WidthAnswer | None:
        """The value that gets through most often, if any of them does so often enough to choose by."""
        best = max(self.values, key=lambda each: each.success.share)
        return best if best.success.share >= HOPELESS else None

    @property
    @told_as("some value does", after="need")
    def meets_need(self) -> bool:
        return self.widest is not None


def value_of(robot: Robot, vary: str) -> float:
    """The robot's own value."""
    if vary in ("width", "length", "axle"):
        return float(getattr(robot.body, vary))
    return float(getattr(robot.drive, vary))


def varied(run: Run, vary: str, value: float, track_moves: bool = False) -> Run:
    """The run with another value. The jig holds a corner, so the axle moves with the width by itself.

    With ``track_moves`` the wheels keep their distance from the sides as the body gets wider or narrower. ``speed`` is
    that of segments that name none. Raises PlanError for a robot that cannot be.
    """
    robot = run.robot
    if vary not in VARIES:
        raise ValueError(f"vary={vary!r} must be one of {VARIES}")
    changed: dict[str, Any] = {vary: value}
    if vary in ("width", "length", "axle"):
        drive = robot.drive
        if vary == "width" and track_moves:
            drive = replace(drive, track=drive.track + value - robot.body.width)
        # Both at once: a body may not be much narrower than its track.
        robot = replace(robot, body=replace(robot.body, **changed), drive=drive)
    else:
        robot = replace(robot, drive=replace(robot.drive, **changed))
    return replace(run, robot=robot)


@dataclass(frozen=True, eq=False)
class _Tried:
    value: float
    trials: int
    beside: Beside
    """Beside the robot as it is."""
    lost: LostAnswer | None
    """What goes wrong first most often."""


def grid(now: float, low: float | None, high: float | None, step: float | None) -> list[float]:
    """The values to look at: from and to included; the robot's own is among them if it lies between."""
    low = round(PART_FROM * now) if low is None else low
    high = round(PART_TO * now) if high is None else high
    if not low <= high:
        raise ValueError(f"from {low:g} to {high:g} is empty")
    step = step or max(1.0, round((high - low) / STEPS))
    count = floor((high - low) / step + 1e-9)
    values = [low + n * step for n in range(count + 1)]
    if values[-1] < high - 1e-9:
        values.append(high)
    if low <= now <= high:
        values.append(now)
    return sorted({round(value, 6) for value in values if value > 0})


def widths(
    run: Run,
    *,
    vary: str = "width",
    low: float | None = None,
    high: float | None = None,
    step: float | None = None,
    to: float = 1.0,
    track_moves: bool = False,
    need: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> WidthsAnswer:
    """Try the run with values of ``vary`` from ``low`` to ``high``, and find the largest that meets ``need``, to ``to``
    mm.

    ``trials`` (``EACH`` for None) of each value, all on the same draws as those of the robot as it is (then ``OWN``).
    ``watch(done, wanted)`` counts trials. Raises ValueError for an empty range, and PlanError if
    no value makes a robot.
    """
    now = value_of(run.robot, vary)
    as_it_is = own(run, trials=trials, seed=seed, threads=threads)
    trials = EACH if trials is None else trials
    if low is None and as_it_is.hopeless:
        low = round(PART_FROM_HOPELESS * now)
    values = grid(now, low, high, step)
    known: dict[float, _Tried] = {}
    refused: dict[float, str] = {}
    wanted = (len(values) + 3 * ceil(np.log2(max(2.0, (values[-1] - values[0]) / len(values) / to)))) * trials
    done = 0

    def tried(value: float) -> _Tried | None:
        nonlocal done
        if value in refused:
            return None
        if value not in known:
            try:
                ready = plan(varied(run, vary, value, track_moves))
            except PlanError as why:
                refused[value] = str(why)
                return None
            success, reasons = [], []
            for block in blocks(ready, seed, trials, threads=threads, clearances=False):
                success.append(block.success)
                reasons += failures(block)
                done += len(block)
                watch(min(done, wanted), wanted)
            known[value] = _Tried(value, trials, as_it_is.beside(np.concatenate(success)), grown(reasons, as_it_is))
        return known[value]

    known[now] = _Tried(now, len(as_it_is.success), as_it_is.beside(as_it_is.success), as_it_is.lost)
    good = [found for value in values if (found := tried(value)) is not None]
    if not good:
        raise PlanError([next(iter(refused.values()), tr("no value makes a robot"))])
    given = need is not None
    need = need if need is not None else DEFAULT_NEED * as_it_is.share.share
    hopeless = as_it_is.hopeless and not given
    widest = None if hopeless else _widest([each.value for each in good], tried, need, to)
    rooms = _Rooms(run, vary, track_moves, values)
    watch(wanted, wanted)
    return WidthsAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        vary=vary,
        unit=UNITS.get(vary, "mm"),
        track_moves=track_moves,
        now=now,
        trials=trials,
        own_trials=len(as_it_is.success),
        seed=seed,
        need=nan if hopeless else need,
        need_given=given,
        hopeless=hopeless,
        lost=as_it_is.lost,
        values=tuple(
            WidthAnswer(each.value, each.trials, each.beside.share, each.beside.behind, each.lost) for each in good
        ),
        refused=tuple(sorted(Refused(value, why) for value, why in refused.items() if value in values)),
        widest=widest,
        geometry=rooms.whole(),
        places=rooms.places(),
    )


def _widest(
    values: list[float], tried: Callable[[float], _Tried | None], need: float, to: float
) -> WidestAnswer | None:
    """The largest value that meets the need, and those whose interval's ends do."""

    def meets(end: str) -> Callable[[float], bool]:
        def met(value: float) -> bool:
            found = tried(value)
            if found is None:
                return False
            return bool(getattr(found.beside.share, end) >= need)

        return met

    found = {end: _largest(values, meets(end), to) for end in ("share", "low", "high")}
    if found["share"] is None:
        return None
    value, fails = found["share"]
    next_one = tried(fails) if fails is not None else None
    lost = next_one.lost if next_one is not None else None
    lowest, highest = found["low"], found["high"]
    return WidestAnswer(
        value=value,
        low=lowest[0] if lowest is not None else values[0],
        high=highest[0] if highest is not None else value,
        need=need,
        beyond=fails is None,
        lost=lost,
        obstacle=lost.what if lost is not None and lost.why == "touches" else None,
        segment=lost.segment if lost is not None else None,
    )


def _largest(values: list[float], meets: Callable[[float], bool], to: float) -> tuple[float, float | None] | None:
    """The largest value that meets, to ``to``, and the smallest larger one that was seen to fail (None: none does)."""
    good = [value for value in values if meets(value)]
    if not good:
        return None
    low = good[-1]
    higher = [value for value in values if value > low]
    if not higher:
        return low, None
    high = higher[0]
    # On multiples of ``to``, so that the answer is a number a team can build.
    while True:
        middle = round(0.5 * (low + high) / to) * to
        if not low < middle < high:
            return low, high
        if meets(middle):
            low = middle
        else:
            high = middle


class _Rooms:
    """The run without noise (the known bias stays) at any value, and the largest values before something is touched."""

    def __init__(self, run: Run, vary: str, track_moves: bool, values: list[float]) -> None:
        self.run, self.vary, self.track_moves = run, vary, track_moves
        self.now = value_of(run.robot, vary)
        self.low, self.high = values[0], 1.5 * max(values[-1], self.now)
        self.seen: dict[float, tuple[bool, NDArray[np.float64], NDArray[np.int64]] | None] = {}

    def at(self, value: float) -> tuple[bool, NDArray[np.float64], NDArray[np.int64]] | None:
        """Whether it gets through, clearance of each obstacle and the segment where it is smallest; None if no robot
        is like that."""
        if value not in self.seen:
            try:
                ready = plan(varied(self.run, self.vary, value, self.track_moves))
            except PlanError:
                self.seen[value] = None
            else:
                trial = typical(ready)
                self.seen[value] = (bool(trial.success[0]), trial.clearance[0], trial.tightest[0])
        return self.seen[value]

    def _edge(self, left: Callable[[float], float]) -> tuple[float, float] | None:
        """The largest value at which something is left, as a bracket of ``EXACT``; None if there is none, or at all.

        What is left shrinks nearly in proportion, so a straight line through the last two values at which there was
        some says where it ends, and a value on either side of that mostly proves it. Where it does not (what ends a run
        need not be a distance), the bracket is halved.
        """
        # From the robot as it is, if something is left there: a much smaller one may fail for another reason, such as a
        # jig that moves its axle.
        low, high = (self.now, self.high) if left(self.now) > 0 else (self.low, self.now)
        rest = left(low)
        if rest <= 0 or left(high) > 0:
            return None
        slope, trust = 0.0, TRUST
        while high - low > EXACT:
            width = high - low
            # A gap of ``TOUCH`` is none.
            end = low - (rest - TOUCH) / slope if slope < 0 and trust else high
            tries = [0.5 * (low + high)]
            if end < high:
                tries = [max(end - EXACT / 4, 0.5 * (low + end)), end + EXACT / 4]
            for value in tries:
                if not low < value < high:
                    continue
                here = left(value)
                if here > 0:
                    slope = (here - rest) / (value - low) if isfinite(rest) else 0.0
                    low, rest = value, here
                else:
                    high = value
            trust -= len(tries) == 2 and high - low > width / 2
        return low, high

    def whole(self) -> RoomAnswer | None:
        """Of the whole run: acts and the finish count as well."""

        def left(value: float) -> float:
            here = self.at(value)
            return float(here[1].min(initial=inf)) if here is not None and here[0] else 0.0

        edge = self._edge(left)
        if edge is None:
            return None
        here = self.at(edge[1])
        names = [thing.name for thing in plan(self.run).solids]
        if here is not None and (here[1] == 0).any():
            o = int(np.flatnonzero(here[1] == 0)[0])
            return RoomAnswer(edge[0], names[o], int(here[2][o]))
        return RoomAnswer(edge[0], None, None)

    def places(self) -> tuple[RoomAnswer, ...]:
        """Of each obstacle alone."""
        names = [thing.name for thing in plan(self.run).solids]
        rows = []
        for o, name in enumerate(names):

            def left(value: float, o: int = o) -> float:
                here = self.at(value)
                return float(here[1][o]) if here is not None else 0.0

            edge = self._edge(left)
            if edge is not None:
                here = self.at(edge[1])
                rows.append(RoomAnswer(edge[0], name, int(here[2][o]) if here is not None else None))
        return tuple(sorted(rows, key=lambda row: row.value))
