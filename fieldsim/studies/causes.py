"""`causes`: which source of noise makes the spread, which makes the failures, and what a remedy would be worth."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import Annotated, ClassVar, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.answers import Perhaps, Told
from fieldsim.language import tr
from fieldsim.model import Act, Alignment, Arc, Run, Segment, Square, Straight, Turn
from fieldsim.sim.alignment import pushed
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.motion import speed_of, wrapped
from fieldsim.sim.plan import Plan, plan, typical_poses, unreached
from fieldsim.sim.trials import Driver, Trials, simulate, typical
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.compare import difference
from fieldsim.studies.own import own
from fieldsim.studies.sources import Source, sources

# Trials of each source, where nothing else is asked for.
EACH = 4_000

# A thing whose spread is smaller than this has no causes worth telling, mm or degrees.
LEAST_SD = 1e-3

# A wall may be this far from where a square would be tried, mm, and the way to it this far from square, degrees.
SQUARE_REACH = 400.0
SQUARE_ANGLE = 12.0
# How much farther than planned the square may drive, mm.
SPARE = 60.0

FloatArray = NDArray[np.float64]


class Sd(NamedTuple):
    """The standard deviation of one thing, with its unit."""

    of: str
    sd: Perhaps
    unit: str


@dataclass(frozen=True)
class SourceAnswer:
    """What one source of noise makes of the spread of one thing."""

    of: str
    """'finish x', 'finish heading', 'miss of NAME', 'gap to NAME' ..."""
    source: Annotated[str, "the noise"]
    """In words, such as 'slip in the turn'."""
    segment: Annotated[int, "0: once a run"]
    first: Annotated[Perhaps, "share of the variance by itself"]
    total: Annotated[Perhaps, "with all it has a hand in"]


@dataclass(frozen=True)
class FailureAnswer:
    """What one source of noise makes of the failures."""

    source: str
    segment: int
    alone: Annotated[Share, "fail with it alone"]
    without: Annotated[Share, "fail without it"]
    """With all other noise."""
    worth: Annotated[Share, "fewer fail without it"]
    """On the same trials."""


@dataclass(frozen=True)
class MendAnswer:
    """A change that was tried against the most important source."""

    what: str
    success: Share
    gain: Share
    """Share more than as planned."""


@dataclass(frozen=True, kw_only=True)
class CausesAnswer:
    """What makes a run spread and fail, by source of noise."""

    command: ClassVar[Literal["causes"]] = "causes"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    trials: Annotated[int, "that were done, or of each"]
    own_trials: Annotated[int, "of the run as it is"]
    seed: int
    success: Share
    quiet: Annotated[bool, Told("it gets through without any noise", key="without_noise")]
    sds: Annotated[tuple[Sd, ...], "standard deviations"]
    """Of each thing."""
    spread: tuple[SourceAnswer, ...]
    """For each thing, its sources by their total share, largest first."""
    failures: tuple[FailureAnswer, ...]
    """By what each is worth, most first."""
    mends: tuple[MendAnswer, ...]


@dataclass(frozen=True)
class Output:
    """What a trial comes to, in one number: its name, unit and values (N,)."""

    name: str
    unit: str
    values: FloatArray


def outputs(trials: Trials, near: list[int]) -> list[Output]:
    """What the spread is told of: the finish, the miss of each target, the gap to each near obstacle."""
    run = trials.plan.run
    end = trials.poses[:, -1]
    found = [Output(tr("finish x"), "mm", end[:, 0]), Output(tr("finish y"), "mm", end[:, 1])]
    found.append(Output(tr("finish heading"), "degrees", end[:, 2]))
    acts = [segment for segment in run.segments if isinstance(segment, Act)]
    found += [Output(tr("miss of {target}", target=act.target), "mm", trials.miss[:, t]) for t, act in enumerate(acts)]
    for o in near:
        (column,) = np.flatnonzero(trials.obstacles == o)
        name = tr("gap to {obstacle}", obstacle=trials.plan.solids[o].name)
        found.append(Output(name, "mm", trials.clearance[:, column]))
    return found


def indices(a: FloatArray, b: FloatArray, ab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sobol' indices of one output: first order and total, (k,) each.

    ``a`` and ``b`` (N,) are the outputs for two independent sets of inputs, ``ab`` (k, N) those for the first set with
    one input after another taken from the second. About the common mean, which lowers the first order's own error.
    Source: A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto, S. Tarantola, "Variance based sensitivity
    analysis of model output", Computer Physics Communications 181, 2010, 259-270: first order after Saltelli, total
    after Jansen (both in its table 2, from memory).
    """
    both = np.concatenate([a, b])
    mean, variance = both.mean(), both.var()
    a, b, ab = a - mean, b - mean, ab - mean
    first = (b * (ab - a)).mean(axis=1) / variance
    total = 0.5 * ((a - ab) ** 2).mean(axis=1) / variance
    return first, total


class _Studio:
    """Drives blocks in which rows of drawn numbers were exchanged or silenced."""

    def __init__(self, ready: Plan, seed: int) -> None:
        self.ready = ready
        self.driver = Driver(ready, seed)
        streams = ready.drivetrain.streams
        self.decks = [Draws(seed, deck) for deck in (0, 1)]
        self.streams = streams
        self.a, self.b = (np.zeros((ready.drivetrain.rows, BLOCK)) for _ in range(2))

    def load(self, number: int) -> None:
        self.decks[0].block(number, self.streams, self.a)
        self.decks[1].block(number, self.streams, self.b)

    def drive(self, z: FloatArray, number: int, count: int) -> Trials:
        self.driver.z[:] = z
        return self.driver.drawn(number, count)


@dataclass(frozen=True, eq=False)
class _Part:
    """One block's outputs: of the trials as drawn, of the other deck, and for each source exchanged, alone, without."""

    base: Trials
    other: Trials
    mixed: list[Trials]
    alone: list[NDArray[np.bool_]]
    without: list[NDArray[np.bool_]]


def causes(
    run: Run,
    *,
    trials: int | None = None,
    seed: int = 1,
    mend: bool = True,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> CausesAnswer:
    """Shares of variance (Sobol' indices, by the Saltelli scheme on the trials' own draws) and of failures.

    For each source: how much of each thing's variance it makes alone and with all it has a hand in; how many trials
    fail with it alone, and how many fewer without it, on the same draws. With ``mend``, remedies for the most important
    one are tried. ``trials`` (``EACH`` for None) are driven for each source, and of the run as it is (then ``OWN``).
    ``watch(done, wanted)`` counts trials.
    """
    ready = plan(run)
    known = own(run, trials=trials, seed=seed, threads=threads, ready=ready)
    trials = EACH if trials is None else trials
    found = sources(run, ready.drivetrain)
    parts = list(_parts(ready, found, seed, trials, threads, watch))
    base = known.success[:trials]
    near = _near(parts)
    failing = []
    for k, source in enumerate(found):
        alone = np.concatenate([part.alone[k] for part in parts])
        without = np.concatenate([part.without[k] for part in parts])
        beside = known.beside(without)
        failing.append(
            FailureAnswer(
                source.words,
                source.segment,
                wilson(int((~alone).sum()), trials),
                _rest(beside.share),
                beside.ahead,
            )
        )
    failing.sort(key=lambda each: (-each.worth.share, each.segment))
    spread, sds = _spread(parts, found, near)
    return CausesAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        trials=trials,
        own_trials=len(known.success),
        seed=seed,
        success=known.share,
        quiet=bool(typical(ready).success[0]),
        spread=tuple(spread),
        sds=tuple(sds),
        failures=tuple(failing),
        mends=tuple(_mends(run, failing, base, trials, seed, threads)) if mend else (),
    )


def _rest(share: Share) -> Share:
    """Of those that do not get through."""
    return Share(1.0 - share.share, 1.0 - share.high, 1.0 - share.low)


def _parts(
    ready: Plan,
    found: list[Source],
    seed: int,
    trials: int,
    threads: int | None,
    watch: Callable[[int, int], None],
) -> Iterator[_Part]:
    blocks = -(-trials // BLOCK)

    def one(number: int) -> _Part:
        studio = _Studio(ready, seed)
        studio.load(number)
        count = min(BLOCK, trials - number * BLOCK)
        mixed, alone, without = [], [], []
        for source in found:
            rows = list(source.rows)
            z = studio.a.copy()
            z[rows] = studio.b[rows]
            mixed.append(studio.drive(z, number, count))
            z = np.zeros_like(studio.a)
            z[rows] = studio.a[rows]
            alone.append(studio.drive(z, number, count).success)
            z = studio.a.copy()
            z[rows] = 0.0
            without.append(studio.drive(z, number, count).success)
        return _Part(
            studio.drive(studio.a, number, count), studio.drive(studio.b, number, count), mixed, alone, without
        )

    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        for done, part in enumerate(pool.map(one, range(blocks)), start=1):
            watch(min(done * BLOCK, trials), trials)
            yield part


def _near(parts: list[_Part]) -> list[int]:
    """Obstacles followed in every block that come nearer than the horizon in most trials."""
    horizon = parts[0].base.plan.course.horizon
    common = set.intersection(
        *(set(trials.obstacles.tolist()) for part in parts for trials in (part.base, part.other, *part.mixed))
    )
    near = []
    for o in sorted(common):
        values = np.concatenate([part.base.clearance[:, part.base.obstacles == o][:, 0] for part in parts])
        if np.median(values) < horizon and values.std() > LEAST_SD:
            near.append(o)
    return near


def _spread(parts: list[_Part], found: list[Source], near: list[int]) -> tuple[list[SourceAnswer], list[Sd]]:
    bases = [outputs(part.base, near) for part in parts]
    others = [outputs(part.other, near) for part in parts]
    mixed = [[outputs(trials, near) for trials in part.mixed] for part in parts]
    rows: list[SourceAnswer] = []
    sds = []
    for index, output in enumerate(bases[0]):
        a = np.concatenate([each[index].values for each in bases])
        b = np.concatenate([each[index].values for each in others])
        if len(a) < 2 or a.std() < LEAST_SD:
            continue
        sds.append(Sd(output.name, float(a.std(ddof=1)), output.unit))
        ab = np.array([np.concatenate([part[k][index].values for part in mixed]) for k in range(len(found))])
        first, total = indices(a, b, ab)
        mine = [
            SourceAnswer(output.name, source.words, source.segment, float(s), float(t))
            for source, s, t in zip(found, first, total, strict=True)
        ]
        rows += sorted(mine, key=lambda each: -each.total)
    return rows, sds


# --- remedies ------------------------------------------------------------------------------------------------------


def _mends(
    run: Run, failing: list[FailureAnswer], base: NDArray[np.bool_], trials: int, seed: int, threads: int | None
) -> Iterator[MendAnswer]:
    """A slower segment, and a square on a wall before the next one, where the most important source is."""
    worst = next((each for each in failing if each.segment > 0 and each.worth.share > 0), None)
    if worst is None:
        return
    tried: list[tuple[str, Run]] = []
    slower = _slower(run, worst.segment - 1)
    if slower is not None:
        tried.append(slower)
    tried += _squares(run, worst.segment)
    for words, changed in tried:
        success = simulate(changed, trials, seed, threads=threads).success
        gain = difference(success, base)
        # One that makes it worse is no remedy.
        if gain.high >= 0:
            yield MendAnswer(words, wilson(int(success.sum()), len(success)), gain)


def _slower(run: Run, index: int) -> tuple[str, Run] | None:
    segment = run.segments[index]
    segments = list(run.segments)
    if isinstance(segment, Turn):
        speed = (segment.turn_speed or run.robot.drive.turn_speed) / 2
        segments[index] = replace(segment, turn_speed=speed)
        words = tr("segment {number} at half its speed, {speed:g} degrees per second", number=index + 1, speed=speed)
        return words, replace(run, segments=tuple(segments))
    if isinstance(segment, Straight | Arc | Alignment):
        speed = speed_of(segment, run.robot.drive) / 2
        segments[index] = replace(segment, speed=speed)
        words = tr("segment {number} at half its speed, {speed:g} mm/s", number=index + 1, speed=speed)
        return words, replace(run, segments=tuple(segments))
    return None


def _squares(run: Run, after: int) -> Iterator[tuple[str, Run]]:
    """Squares on a wall right after a segment (counted from 1), where a wall is square ahead or behind and near."""
    x, y, h = typical_poses(run)[after]
    w, d = run.field.size
    ahead = {"right wall": 0.0, "far wall": 90.0, "left wall": 180.0, "near wall": -90.0}
    if run.field.walls is None:
        return
    for wall, heading in ahead.items():
        for face, off in (("front", 0.0), ("rear", 180.0)):
            if abs(wrapped(h + off - heading)) > SQUARE_ANGLE:
                continue
            square = Square(face, wall, 1.0)  # type: ignore[arg-type]
            flat = pushed(run, square)
            if flat is None or flat.high - flat.low < 1.0:
                continue
            c, s = cos(radians(heading)), sin(radians(heading))
            edge = {"right wall": w - x, "far wall": d - y, "left wall": x, "near wall": y}[wall]
            way = edge - abs(flat.x) * abs(c * cos(radians(h)) + s * sin(radians(h)))
            if not 5.0 < way < SQUARE_REACH:
                continue
            there: tuple[Segment, ...] = (
                replace(square, reach=float(round(way + SPARE))),
                Straight(round(way, 1) * (-1 if face == "front" else 1)),
            )
            segments: tuple[Segment, ...] = (*run.segments[:after], *there, *run.segments[after:])
            changed = replace(run, segments=segments)
            if not list(unreached(changed)):
                back = there[1].distance if isinstance(there[1], Straight) else 0.0
                # As it is written in the run's file, so with a point in numbers whatever the language.
                first = f"square: {face}, against: {wall}, reach: {way + SPARE:.0f}"
                second = f"straight: {back:g}"
                yield (
                    tr(
                        "after segment {number} '{first}' and then '{second}'", number=after, first=first, second=second
                    ),
                    changed,
                )
