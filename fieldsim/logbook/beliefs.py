"""Which of the robot's believed numbers would make the log likelier if it were another.

Each change is driven anew, and the log weighed by how the trials ended and how far they missed. How much of that is
luck is measured: the same is done with logs drawn from the forecast itself, day by day.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil, inf, log
from typing import NamedTuple

import numpy as np

from fieldsim.logbook.answer import Alternative
from fieldsim.logbook.days import DAYS, Daily, daily, differ, trials_a_day
from fieldsim.logbook.robots import Fitting, fitting, opens, trials_of_robots
from fieldsim.logbook.trials import (
    MOST_MISS,
    Case,
    Day,
    Floats,
    Ints,
    Outcome,
    Sample,
    miss_counts,
    sampled,
)
from fieldsim.model import Accuracy, Run, Spread, Square, StartByEye, Systematic, value_of
from fieldsim.model.errors import PlanError
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.motion import jig_of
from fieldsim.sim.plan import Plan, plan
from fieldsim.studies.slack import Offset, Shifted

Watch = Callable[[int, int], None]

# Part of every forecast that is given to all outcomes alike, so that none is impossible: of a hundred drives one ends
# in some way that no forecast knows.
DOUBT = 0.01
# Misses are smoothed by ``SMOOTH`` mm. As many trials as ``DOUBT`` and ``FEW`` of them say are spread out far and wide,
# by a Cauchy curve that is half as high at ``WIDE`` mm.
SMOOTH = 1.0
FEW = 10.0
WIDE = 50.0

# Logs drawn from the forecast to see how much luck makes of the best of all alternatives; in how many of them that
# stays below what is called pointed at, and how many times likelier that must be at least.
DRAWN_LOGS = 2000
SURE = 0.95
LEAST_TIMES = 3.0

# Smallest changes of what is believed: distance and turn as shares, veer in degrees per metre, mm, degrees. Each is
# tried so large and so many times as large: a robot that is far off would else look like one that scatters.
STEPS = {"distance": 0.005, "veer": 0.5, "turn": 0.01, "along": 2.0, "across": 2.0, "heading": 0.7}
SIZES = (1.0, 2.0)
# Each belief is driven in this part of the trials, but in so many at least: the list is long, and the log short.
PART = 2
LEAST_TRIALS = 1000
SPREADS = ("start", "straight", "veer", "turn", "day", "square", "gyro")


class Belief(NamedTuple):
    """One change of what is believed; the fields of `Alternative`."""

    what: str
    change: str
    step: float


def beliefs(runs: Sequence[Run]) -> list[Belief]:
    """The changes that are tried: each spread doubled and halved, each known error more and less by steps of `SIZES`.

    A step is two of the robot's own day-to-day (or placing) standard deviations, but at least that of `STEPS`.
    """
    found = [Belief(what, word, factor) for what in SPREADS for word, factor in (("double", 2.0), ("half", 0.5))]
    for what, least in STEPS.items():
        step = max([least, *(2 * _own(run, what) for run in runs)])
        for size in SIZES:
            found += [Belief(what, "more", size * step), Belief(what, "less", -size * step)]
    return found


def _own(run: Run, what: str) -> float:
    own = run.robot.accuracy.day if what in ("distance", "veer", "turn") else _spread(run)
    return float(getattr(own, what))


def _spread(run: Run) -> Spread:
    return run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread


def changed(run: Run, belief: Belief) -> Plan | None:
    """The run made ready with one belief changed; None if that changes nothing for it, or cannot be."""
    what, change, step = belief
    accuracy = run.robot.accuracy
    steered = run.robot.drive.heading_from == "gyro"
    try:
        if change in ("more", "less"):
            if what in ("along", "across", "heading"):
                offset = {"along": Offset(x=step), "across": Offset(y=step), "heading": Offset(heading=step)}[what]
                return Shifted(run).plan_at(offset)
            if steered and what != "distance":
                # Who steers by a gyro does not drive by these.
                return None
            bias = accuracy.bias.moved(what, step)
            return plan(_with(run, replace(accuracy, bias=bias)))
        other = _spread_changed(run, what, step, steered)
        return None if other == run else plan(other)
    except PlanError:
        return None


# The numbers that a belief changes, of those that tests tell.
NUMBERS = {
    "distance": ("bias.distance",),
    "veer": ("bias.veer",),
    "turn": ("bias.turn",),
    "day": ("day.distance", "day.veer", "day.turn"),
    "straight": ("straight.stop", "straight.distance"),
    "gyro": ("gyro.drift", "gyro.scale", "gyro.hold"),
}
SPREAD_NUMBERS = {"veer": ("straight.veer",), "turn": ("turn.stop", "turn.slip")}


def allowed(run: Run, belief: Belief) -> bool:
    """Whether the robot's tests allow the change too: every number that it changes stays within what they leave
    open."""
    what, change, step = belief
    accuracy = run.robot.accuracy
    shift = change in ("more", "less")
    names = (NUMBERS if shift else {**NUMBERS, **SPREAD_NUMBERS}).get(what, ())
    if "bias.turn" in names and accuracy.between is not None and accuracy.between.ends("bias.turn") is None:
        names = ("bias.turn_left", "bias.turn_right")
    moved = [
        (accuracy.between.ends(name) if accuracy.between else None, old + step if shift else old * step)
        for name in names
        if (old := value_of(accuracy, name)) or shift
    ]
    return bool(moved) and all(ends is not None and ends[0] <= value <= ends[1] for ends, value in moved)


def _with(run: Run, accuracy: Accuracy) -> Run:
    return replace(run, robot=replace(run.robot, accuracy=accuracy))


def _spread_changed(run: Run, what: str, factor: float, steered: bool) -> Run:
    a = run.robot.accuracy
    if what == "start":
        old = _spread(run)
        spread = Spread(old.along * factor, old.across * factor, old.heading * factor)
        if isinstance(run.start, StartByEye):
            return replace(run, start=replace(run.start, spread=spread))
        jigs = tuple(replace(jig, spread=spread) if jig.name == run.start else jig for jig in run.field.jigs)
        return replace(run, field=replace(run.field, jigs=jigs))
    match what:
        case "straight":
            straight = replace(a.straight, stop=a.straight.stop * factor, distance=a.straight.distance * factor)
            return _with(run, replace(a, straight=straight))
        case "veer":
            return _with(run, replace(a, straight=replace(a.straight, veer=a.straight.veer * factor)))
        case "turn":
            return _with(run, replace(a, turn=replace(a.turn, stop=a.turn.stop * factor, slip=a.turn.slip * factor)))
        case "day":
            day = Systematic(a.day.distance * factor, a.day.veer * factor, a.day.turn * factor)
            return _with(run, replace(a, day=day))
        case "square" if any(isinstance(segment, Square) for segment in run.segments):
            square = replace(a.square, heading=a.square.heading * factor, along=a.square.along * factor)
            return _with(run, replace(a, square=square))
        case "gyro" if steered:
            g = a.gyro
            return _with(
                run, replace(a, gyro=replace(g, drift=g.drift * factor, scale=g.scale * factor, hold=g.hold * factor))
            )
    return run


@dataclass(frozen=True, eq=False)
class Weights:
    """Logarithms of how likely one belief makes what a log of one run can say. K outcomes, T targets."""

    outcome: Floats
    """(K,) chance of each outcome,"""
    miss: Floats
    """(T, 3, MOST_MISS + 1) and of each miss in whole mm, by state."""
    through: float


def weights(case: Case, counts: Ints, misses: Ints) -> Weights:
    """Of trials counted by outcome (K,) and by miss (see `miss_counts`).

    Outcomes: `DOUBT` of all drives are given to the K outcomes alike. Misses: a curve smoothed over `SMOOTH` mm.
    """
    total, kinds = int(counts.sum()), len(case.numbers)
    padded = np.zeros(kinds)
    padded[: len(counts)] = counts
    outcome = np.log((padded + DOUBT * total / kinds) / (total * (1 + DOUBT)))
    wide = 1 / (1 + (np.arange(MOST_MISS + 1) / WIDE) ** 2)
    wide /= wide.sum()
    each = misses.sum(axis=2, keepdims=True)
    extra = FEW + DOUBT * each
    return Weights(outcome, np.log((_smoothed(misses) + extra * wide) / (each + extra)), float(counts[0] / total))


def _smoothed(counts: Ints) -> Floats:
    """Counts along the last axis, smoothed by a normal curve that goes on mirrored at both ends."""
    far = ceil(4 * SMOOTH)
    curve = np.exp(-0.5 * (np.arange(-far, far + 1) / SMOOTH) ** 2)
    around = np.pad(counts.astype(float), [(0, 0)] * (counts.ndim - 1) + [(far, far)], mode="symmetric")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(around, 2 * far + 1, axis=-1) @ (curve / curve.sum()))


def _group(case: Case, outcome: Outcome) -> list[int]:
    """The numbers of the outcomes that an entry may mean: one, or all of its result if it does not say where."""
    if outcome in case.numbers:
        return [case.numbers[outcome]]
    return [number for other, number in case.numbers.items() if other.result == outcome.result]


def likelihood(case: Case, weighed: Weights) -> float:
    """Logarithm of how likely a belief makes the case's drives."""
    total = 0.0
    for outcome in case.outcomes:
        group = _group(case, outcome)
        # A result that neither any belief nor any drive gives a place to says nothing.
        total += float(np.logaddexp.reduce(weighed.outcome[group])) if group else 0.0
    for number, t, miss in case.measured():
        total += float(weighed.miss[t, case.state(case.outcomes[number], t), miss])
    return total


def trial_gains(case: Case, sample: Sample, base: Weights, other: Weights) -> tuple[Floats, Floats]:
    """What each trial of the forecast would add to a belief's gain if it were a drive of a log: (N,) by how it ended,
    and (N, T) by its miss if that were measured (0 where it did not come to the target)."""
    ended: Floats = (other.outcome - base.outcome)[sample.outcome]
    outcomes = list(case.numbers)
    missed = np.zeros(sample.miss.shape)
    for t in range(len(case.targets)):
        state = np.array([case.state(outcome, t) for outcome in outcomes])[sample.outcome]
        came = sample.miss[:, t] >= 0
        missed[came, t] = (other.miss - base.miss)[t, state[came], sample.miss[came, t]]
    return ended, missed


@dataclass(frozen=True, eq=False)
class Weighed:
    """One case with its forecast and every belief (None where a belief changes nothing)."""

    case: Case
    sample: Sample
    daily: Daily
    base: Weights
    others: tuple[Weights | None, ...]
    fitting: Fitting | None = None
    """Robots that fit the tests, None if nothing is said of what the tests leave open."""

    def gains(self) -> Floats:
        """(M,) each belief's gain by the case's drives."""
        own = likelihood(self.case, self.base)
        return np.array([0.0 if o is None else likelihood(self.case, o) - own for o in self.others])

    def luck(self, rng: np.random.Generator, chosen: dict[Day, Ints]) -> Floats:
        """(L, M) gains by L logs drawn from the forecast's own trials: as many drives, as many of a day, and misses
        measured in as many of them as in the real log. ``chosen`` (L,) is which simulated day each day is."""
        case, daily = self.case, self.daily
        where = [(number, t) for number, t, _ in case.measured()]
        tables = [None if other is None else trial_gains(case, daily.sample, self.base, other) for other in self.others]
        days = np.column_stack([chosen[day] % daily.days for day in case.days])
        found = np.zeros((len(days), len(self.others)))
        # A part of the logs at a time, so that a long log does not fill the memory.
        part = max(1, 1_000_000 // len(case.entries))
        for first in range(0, len(days), part):
            rows, day = found[first : first + part], days[first : first + part]
            drives = day * daily.each + rng.integers(daily.each, size=day.shape)
            for m, table in enumerate(tables):
                if table is not None:
                    ended, missed = table
                    rows[:, m] = ended[drives].sum(axis=1)
                    for number, t in where:
                        rows[:, m] += missed[drives[:, number], t]
        return found


def bar_of(weighed: Sequence[Weighed]) -> float:
    """The gain that the best of all beliefs stays below in 95 of 100 logs of this size drawn from the forecast itself,
    and at least that of `LEAST_TIMES`; infinite if nothing was changed. So if the forecast is right, the log points at
    nothing in 95 of 100 cases, however many beliefs are looked at, and however many drives are of one day."""
    if not weighed or not weighed[0].others:
        return inf
    rng = np.random.default_rng(1)
    keys = dict.fromkeys(day for each in weighed for day in each.case.days)
    chosen = {key: rng.integers(DAYS, size=DRAWN_LOGS) for key in keys}
    luck = sum((each.luck(rng, chosen) for each in weighed), np.zeros((1, 1)))
    return max(log(LEAST_TIMES), float(np.quantile(luck.max(axis=1), SURE, method="higher")))


def weigh(
    cases: Sequence[Case],
    changes: Sequence[Belief],
    *,
    trials: int,
    seed: int,
    threads: int | None = None,
    watch: Watch = lambda done, wanted: None,
) -> list[Weighed]:
    """Every case's forecast and every belief, those in a part of the trials and on the same draws. ``watch(done,
    wanted)`` counts trials."""
    part = min(trials, max(trials // PART, LEAST_TRIALS))
    ready = [plan(case.run) for case in cases]
    by_day = [differ(case, each, cases) for case, each in zip(cases, ready, strict=True)]
    wanted = len(cases) * (trials + len(changes) * part) + sum(by_day) * DAYS * trials_a_day(trials)
    wanted += sum(opens(case.run) for case in cases) * trials_of_robots()
    done = 0

    def tell(more: int) -> None:
        nonlocal done
        done += more
        watch(done, wanted)

    counted = []
    for case, own, differs in zip(cases, ready, by_day, strict=True):
        sample = sampled(case, own, trials, seed, threads, tell)
        # Drawn logs are of other trials than those that the weights are counted from: those would fit too well.
        days = daily(case, own, trials, seed, tell) if differs else Daily(sample.between(part, trials), 1)
        # Blocks of draws that neither the forecast nor its days have had.
        fresh = -(-trials // BLOCK) + DAYS
        fits = fitting(case, fresh, seed, threads, tell) if opens(case.run) else None
        rows: list[tuple[Ints, Ints] | None] = []
        for belief in changes:
            other = changed(case.run, belief)
            if other is None:
                tell(part)
                rows.append(None)
                continue
            found = sampled(case, other, part, seed, threads, tell)
            rows.append((np.bincount(found.outcome), miss_counts(case, found)))
        counted.append((case, sample, days, rows, fits))
    # Only now are all outcomes known, by which the doubt is divided.
    return [
        Weighed(
            case,
            sample,
            days,
            weights(case, np.bincount(sample.outcome[:part]), miss_counts(case, sample.between(0, part))),
            tuple(None if row is None else weights(case, *row) for row in rows),
            fits,
        )
        for case, sample, days, rows, fits in counted
    ]


def alternatives(weighed: Sequence[Weighed], changes: Sequence[Belief], bar: float) -> tuple[Alternative, ...]:
    """Every assumption changed, likeliest first; of several sizes of a shift only the likeliest."""
    drives = sum(len(each.case.entries) for each in weighed)
    gains = sum((each.gains() for each in weighed), np.zeros(len(changes)))
    best: dict[tuple[str, str], Alternative] = {}
    for m, belief in enumerate(changes):
        if all(each.others[m] is None for each in weighed):
            continue
        through = sum(len(each.case.entries) * (each.others[m] or each.base).through for each in weighed) / drives
        gain = float(gains[m])
        if belief[:2] not in best or gain > best[belief[:2]].gain:
            concerned = [
                each.case.run for each, other in zip(weighed, (w.others[m] for w in weighed), strict=True) if other
            ]
            open_to = all(allowed(run, belief) for run in concerned)
            best[belief[:2]] = Alternative(*belief, gain, float(through), gain > bar, open_to)
    return tuple(sorted(best.values(), key=lambda each: -each.gain))
