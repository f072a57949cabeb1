"""`causes`: which source of noise makes the spread, which makes the failures, and what remedies are worth."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import sqrt
from typing import Annotated, ClassVar, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.answers import Perhaps, Told, told_as
from fieldsim.language import tr
from fieldsim.model import Act, Run
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.trials import Driver, Trials, typical
from fieldsim.stats.checks import two_sided_z
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.answer import RemediesAnswer
from fieldsim.studies.fitting import Fitting, better
from fieldsim.studies.own import own
from fieldsim.studies.remedies import PROVEN, remedies
from fieldsim.studies.sources import Source, sources

# Trials of each source, where nothing else is asked for.
EACH = 2_000

# A thing whose spread is smaller than this has no causes worth telling, mm or degrees.
LEAST_SD = 1e-3

# Half a 95 % interval, in standard deviations.
Z = two_sided_z(0.95)

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
    first_low: Annotated[Perhaps, "lower end of its 95 % interval"]
    first_high: Perhaps
    total: Annotated[Perhaps, "with all it has a hand in"]
    total_low: Annotated[Perhaps, "lower end of its 95 % interval"]
    total_high: Perhaps


@dataclass(frozen=True)
class FailureAnswer:
    """What one source of noise makes of the failures."""

    source: str
    kind: Annotated[str, "of noise, such as 'stop'; the same whatever the language"]
    segment: int
    alone: Annotated[Share, "fail with it alone"]
    without: Annotated[Share, "fail without it"]
    """With all other noise."""
    worth: Annotated[Share, "fewer fail without it"]
    """On the same trials."""
    holds: Annotated[float | None, "share of the robots that fit the tests with which it is worth more than the next"]
    """Of the first alone; None where no file says what the tests leave open."""


@dataclass(frozen=True)
class MendAnswer:
    """A change that was tried: see ``remedies``, which tells more of it."""

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
    remedies: RemediesAnswer | None
    """What was tried against the failures; None if that was not asked for, or hardly anything fails."""

    @property
    @told_as(after="failures")
    def mends(self) -> tuple[MendAnswer, ...]:
        """Changes that were tried, those that help first."""
        tried = () if self.remedies is None else (*self.remedies.good, *self.remedies.vain)
        return tuple(MendAnswer(each.what, each.success, each.worth) for each in tried)


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


class Indices(NamedTuple):
    """Sobol' indices of one output for k inputs, and half their 95 % intervals, (k,) each."""

    first: FloatArray
    total: FloatArray
    first_half: FloatArray
    total_half: FloatArray


def indices(a: FloatArray, b: FloatArray, ab: FloatArray) -> Indices:
    """Sobol' indices of one output: first order and total.

    ``a`` and ``b`` (N,) are the outputs for two independent sets of inputs, ``ab`` (k, N) those for the first set with
    one input after another taken from the second. About the common mean, which lowers the first order's own error.
    Source: A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto, S. Tarantola, "Variance based sensitivity
    analysis of model output", Computer Physics Communications 181, 2010, 259-270: first order after Saltelli, total
    after Jansen (both in its table 2, from memory). Each is a mean over trials divided by the variance, another mean:
    its own error is that of a ratio of two means, by the linear terms (any text on sampling).
    """
    both = np.concatenate([a, b])
    mean, variance = both.mean(), both.var()
    a, b, ab = a - mean, b - mean, ab - mean
    squares = 0.5 * (a * a + b * b)

    def ratio(terms: FloatArray) -> tuple[FloatArray, FloatArray]:
        share = terms.mean(axis=1) / variance
        off = terms - share[:, None] * squares
        return share, Z * off.std(axis=1, ddof=1) / (sqrt(len(a)) * variance)

    (first, first_half), (total, total_half) = ratio(b * (ab - a)), ratio(0.5 * (a - ab) ** 2)
    return Indices(first, total, first_half, total_half)


class _Studio:
    """Drives blocks in which rows of drawn numbers were exchanged or silenced."""

    def __init__(self, ready: Plan, seed: int) -> None:
        self.ready = ready
        self.driver = Driver(ready, seed)
        self.quick = Driver(ready, seed, clearances=False)
        streams = ready.drivetrain.streams
        self.decks = [Draws(seed, deck) for deck in (0, 1)]
        self.streams = streams
        self.a, self.b = (np.zeros((ready.drivetrain.rows, BLOCK)) for _ in range(2))

    def load(self, number: int) -> None:
        self.decks[0].block(number, self.streams, self.a)
        self.decks[1].block(number, self.streams, self.b)

    def drive(self, z: FloatArray, number: int, count: int) -> Trials:
        self.driver.z = z
        return self.driver.drawn(number, count)

    def success(self, z: FloatArray, number: int, count: int) -> NDArray[np.bool_]:
        self.quick.z = z
        return self.quick.drawn(number, count).success


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
    fail with it alone, and how many fewer without it, on the same draws. With ``mend``, remedies are tried. ``trials``
    (``EACH`` for None) are driven for each source, and of the run as it is (then ``OWN``). ``watch(done, wanted)``
    counts trials.
    """
    ready = plan(run)
    known = own(run, trials=trials, seed=seed, threads=threads, ready=ready)
    trials = EACH if trials is None else trials
    found = sources(run, ready.drivetrain)
    parts = list(_parts(ready, found, seed, trials, threads, watch))
    near = _near(parts)
    failing = []
    for k, source in enumerate(found):
        alone = np.concatenate([part.alone[k] for part in parts])
        without = np.concatenate([part.without[k] for part in parts])
        beside = known.beside(without)
        failing.append(
            FailureAnswer(
                source.words,
                source.kind,
                source.segment,
                wilson(int((~alone).sum()), trials),
                _rest(beside.share),
                beside.ahead,
                None,
            )
        )
    failing.sort(key=lambda each: (-each.worth.share, each.segment))
    failing[:2] = _first_of_all(run, failing[:2], Fitting(seed, threads))
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
        remedies=remedies(run, seed=seed, trials=min(PROVEN, trials), threads=threads) if mend else None,
    )


def _first_of_all(run: Run, two: list[FailureAnswer], fitting: Fitting) -> list[FailureAnswer]:
    """The first two sources, with how many robots that fit the tests would name them in that order."""
    if len(two) < 2 or two[0].worth.low <= 0 or not fitting.told(run):
        return two
    one, other = (fitting.success(run, (each.source, each.segment)) for each in two)
    return [replace(two[0], holds=better(one, other, two[0].worth.share - two[1].worth.share)), two[1]]


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
            alone.append(studio.success(z, number, count))
            z = studio.a.copy()
            z[rows] = 0.0
            without.append(studio.success(z, number, count))
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
        found_here = indices(a, b, ab)
        mine = [
            SourceAnswer(
                output.name,
                source.words,
                source.segment,
                float(s),
                float(s - ds),
                float(s + ds),
                float(t),
                float(max(0.0, t - dt)),
                float(t + dt),
            )
            for source, s, t, ds, dt in zip(found, *found_here, strict=True)
        ]
        rows += sorted(mine, key=lambda each: -each.total)
    return rows, sds
