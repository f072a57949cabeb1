"""`jigs`: every start of the field tried for one run, on the same trials, with hopeless ones given up early."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.answers import Told, told_as
from fieldsim.language import tr
from fieldsim.model import Arc, Run, StartByEye, Straight, Turn, Wait
from fieldsim.model.errors import PlanError
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.motion import start_pose, wrapped
from fieldsim.sim.plan import overlaps, plan, typical_poses
from fieldsim.sim.trials import blocks
from fieldsim.stats.binomial import even_tail
from fieldsim.stats.double_sampling import beside
from fieldsim.stats.intervals import Share, wilson
from fieldsim.stats.multiple import holm, sign_test
from fieldsim.studies.fitting import Fitting
from fieldsim.studies.own import HOPELESS, OWN, LostAnswer, own

KEEPS = ("targets", "path")

# A start is given up when luck would make it look so much worse in less than this share of whole studies in which it
# is as good as the best, all looks and starts together.
WRONGLY_DROPPED = 0.01

# Steps that re-aimed numbers are rounded to: what a team would write.
STEP = 0.1

BY_EYE = "by eye"


@dataclass(frozen=True)
class JigAnswer:
    """One start of the comparison."""

    jig: str
    by_eye: Annotated[bool, "for comparison"]
    why_not: Annotated[str | None, Told("why not", key="why", after="fits")]
    """Why the run cannot start there; None if it can."""
    success: Share | None
    trials: int
    behind: Annotated[Share | None, "lost to the best on the same trials"]
    """Its interval tells whether that is luck."""
    truly_behind: Annotated[bool, Told("more than luck", after="behind")]
    """The best is better than luck explains, all pairs of starts that were compared counted."""
    holds: Annotated[
        float | None, Told("share of the robots that fit the tests for which it is behind", after="truly_behind")
    ]
    """None where no file says what the tests leave open, and for the best."""
    dropped: Annotated[bool, Told("before all trials were done", key="given_up", after="holds")]
    """Given up, since it had no hope of being the best."""
    changed: Annotated[tuple[str, ...], Told("segments that were re-aimed", after="dropped")]
    """In words."""

    @property
    @told_as("the run can start there", after="by_eye")
    def fits(self) -> bool:
        return self.why_not is None


@dataclass(frozen=True, kw_only=True)
class JigsAnswer:
    """The starts of a run, best first; those that cannot be come last."""

    command: ClassVar[Literal["jigs"]] = "jigs"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    start: Annotated[str, "the run's own"]
    keep: Annotated[str, Told("what stays", one_of=KEEPS)]
    trials: Annotated[int, "that were done, or of each"]
    """Of the starts that were not dropped."""
    seed: int
    interrupted: Annotated[bool, "the rest was not tried"]
    need: float | None
    lost: LostAnswer | None
    """What goes wrong first most often from the best, if even that hardly gets through; else None."""
    jigs: Annotated[tuple[JigAnswer, ...], "best first"]

    @property
    def best(self) -> JigAnswer | None:
        first = self.jigs[0] if self.jigs else None
        return first if first is not None and first.success is not None else None

    @property
    @told_as(after="need")
    def meets_need(self) -> bool | None:
        """Whether the best start gets through at least as often as asked; None if nothing was asked."""
        if self.need is None:
            return None
        return self.best is not None and self.best.success is not None and self.best.success.share >= self.need


class NoWayError(Exception):
    """A run that cannot begin at a start; the text says why."""


@dataclass(frozen=True)
class Candidate:
    name: str
    by_eye: bool
    run: Run | None
    why_not: str | None
    changed: tuple[str, ...]


def candidates(run: Run, keep: str) -> list[Candidate]:
    """Every jig of the field and, for comparison, the run's own start set by eye."""
    starts: list[tuple[str, bool, str | StartByEye]] = [(jig.name, False, jig.name) for jig in run.field.jigs]
    eye = _own_by_eye(run)
    if eye is not None:
        starts.append((BY_EYE, True, eye))
    found = []
    for name, by_eye, start in starts:
        try:
            stuck = overlaps(plan(replace(run, start=start)))
            if stuck:
                where = [
                    tr("{deep:g} mm into {thing}", deep=round(max(deep, 0.1), 1), thing=thing)
                    for thing, deep in stuck[:3]
                ]
                raise NoWayError(tr("the robot does not fit: it would stand {where}", where=tr(" and ").join(where)))
            followed = follow(run, start, keep)
        except NoWayError as why:
            found.append(Candidate(name, by_eye, None, str(why), ()))
        else:
            changes = tuple(
                tr("segment {number}: {words}", number=n, words=new.in_words())
                for n, (old, new) in enumerate(zip(run.segments, followed.segments, strict=True), start=1)
                if old != new
            )
            found.append(Candidate(name, by_eye, followed, None, changes))
    return found


def _own_by_eye(run: Run) -> StartByEye | None:
    """The run's own start, set by eye; None if a jig holds the robot where no start may be set by eye, outside the
    field: nobody wrote that start, so nobody is told of it."""
    if isinstance(run.start, StartByEye):
        return run.start
    x, y, h = start_pose(run)
    try:
        eye = StartByEye((x, y), h)
        replace(run, start=eye)
    except PlanError:
        return None
    return eye


def follow(run: Run, start: str | StartByEye, keep: str) -> Run:
    """The run from another start.

    ``keep`` 'path' drives the same segments from there. 'targets' re-aims the first straight and the first turn after
    it and trims the straight after that, so that with the robot's known bias its end, and so all that follows, is where
    it was. Raises NoWayError if that cannot be.
    """
    if keep not in KEEPS:
        raise ValueError(f"keep={keep!r} must be one of {KEEPS}")
    moved = replace(run, start=start)
    if keep == "path" or start_pose(moved) == start_pose(run):
        return moved
    i, j, k = _leading(run)
    wanted = typical_poses(run)[k + 1]
    first, turn, after = run.segments[i], run.segments[j], run.segments[k]
    assert isinstance(first, Straight)
    assert isinstance(turn, Turn)
    assert isinstance(after, Straight)

    def changed(numbers: NDArray[np.float64]) -> Run:
        segments = list(moved.segments)
        segments[i] = replace(first, distance=float(numbers[0]) or STEP)
        segments[j] = replace(turn, angle=float(numbers[1]) or STEP)
        segments[k] = replace(after, distance=float(numbers[2]) or STEP)
        return replace(moved, segments=tuple(segments))

    def off(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y, h = typical_poses(changed(np.clip(numbers, -15_000.0, 15_000.0)))[k + 1] - wanted
        return np.array([x, y, 10.0 * wrapped(h)])

    # Loaded where it is needed: that takes as long as all the rest of the study.
    from scipy.optimize import fsolve

    # The heading first: it fixes the turn, and the rest is nearly linear.
    angle = wrapped(turn.angle - wrapped(start_pose(moved)[2] - start_pose(run)[2]))
    guess = np.array([first.distance, np.clip(angle, -3600.0, 3600.0), after.distance])
    solved, _, status, _ = fsolve(off, guess, full_output=True, xtol=1e-9)
    if status != 1 or not np.abs(off(solved)).max() < 0.01:
        raise NoWayError(tr("from there no straight meets the path after the first turn"))
    numbers = np.round(solved / STEP) * STEP
    if numbers[0] * first.distance <= 0:
        raise NoWayError(tr("from there the first straight would have to go the other way"))
    if numbers[2] * after.distance <= 0:
        raise NoWayError(tr("from there the straight after the turn would have to go the other way"))
    if numbers[1] == 0:
        numbers[1] = STEP
    return changed(np.round(numbers, 1))


def _leading(run: Run) -> tuple[int, int, int]:
    """The first straight, the first turn after it and the first straight after that; nothing before it but moves."""
    wanted = (Straight, Turn, Straight)
    found: list[int] = []
    for index, segment in enumerate(run.segments):
        if not isinstance(segment, Straight | Turn | Arc | Wait):
            break
        if isinstance(segment, wanted[len(found)]):
            found.append(index)
            if len(found) == 3:
                return found[0], found[1], found[2]
    raise NoWayError(
        tr(
            "its targets cannot be kept: the run does not begin with a straight, a turn and a straight "
            "(--keep path can)"
        )
    )


class _Racer:
    def __init__(self, candidate: Candidate, own: bool) -> None:
        assert candidate.run is not None
        self.candidate = candidate
        self.own = own
        """The run's own start, whose number every study tells: it is never given up."""
        self.ready = plan(candidate.run)
        self.success = np.zeros(0, dtype=bool)
        self.dropped = False


def rank(
    run: Run,
    *,
    keep: str = "targets",
    trials: int = OWN,
    seed: int = 1,
    need: float | None = None,
    threads: int | None = None,
    race: bool = True,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> JigsAnswer:
    """Try every start ``trials`` times, and rank them by the share that gets through.

    Trial k has the same draws at every start, so they are compared pair by pair. With ``race``, a start is given up
    after a block when the best so far is better than luck explains (one-sided exact sign test on the trials on which
    they differ, Bonferroni over starts and looks; after O. Maron and A. W. Moore, "Hoeffding races", NIPS 6, 1994,
    from memory); the run's own start never is. A KeyboardInterrupt ends the work early and keeps what was done.
    """
    starts = candidates(run, keep)
    racers = [_Racer(candidate, candidate.run == run) for candidate in starts if candidate.run is not None]
    looks = max(1, ceil(trials / BLOCK))
    level = WRONGLY_DROPPED / (looks * max(1, len(racers)))
    wanted = trials * len(racers)
    done = 0
    interrupted = False
    try:
        for look in range(looks if racers else 0):
            count = min(BLOCK, trials - look * BLOCK)
            for racer in racers:
                if racer.dropped:
                    continue
                parts = blocks(racer.ready, seed, count, first_block=look, threads=threads, clearances=False)
                for block in parts:
                    racer.success = np.concatenate([racer.success, block.success])
                done += count
                watch(done, wanted)
            if race and look + 1 < looks:
                _give_up(racers, level)
                # What was given up is not waited for.
                wanted = done + (trials - (look + 1) * BLOCK) * sum(not racer.dropped for racer in racers)
    except KeyboardInterrupt:
        if min((len(racer.success) for racer in racers), default=0) == 0:
            raise
        interrupted = True
    return JigsAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        start=BY_EYE if isinstance(run.start, StartByEye) else run.start,
        keep=keep,
        trials=max((len(racer.success) for racer in racers), default=0),
        seed=seed,
        need=need,
        lost=_lost(racers, seed, threads),
        jigs=_ranked(starts, racers, Fitting(seed, threads)),
        interrupted=interrupted,
    )


def _leader(racers: list[_Racer]) -> _Racer:
    """The start that gets through most often, among those not given up."""
    return max((racer for racer in racers if not racer.dropped), key=lambda racer: racer.success.mean())


def _give_up(racers: list[_Racer], level: float) -> None:
    best = _leader(racers)
    for racer in racers:
        if racer is best or racer.own or racer.dropped:
            continue
        ahead = int((best.success & ~racer.success).sum())
        behind = int((~best.success & racer.success).sum())
        # A fair coin falls one way as seldom as the other.
        if ahead > behind and even_tail(behind, ahead + behind) < level:
            racer.dropped = True


def _lost(racers: list[_Racer], seed: int, threads: int | None) -> LostAnswer | None:
    best = _leader(racers) if racers else None
    if best is None or best.success.mean() >= HOPELESS:
        return None
    assert best.candidate.run is not None
    return own(best.candidate.run, trials=len(best.success), seed=seed, threads=threads, ready=best.ready).lost


def _truly_apart(racers: list[_Racer]) -> set[frozenset[int]]:
    """Pairs of starts that differ by more than luck explains. All pairs are counted: which start is the best is seen on
    the same trials."""
    pairs = list(combinations(range(len(racers)), 2))
    p_values = []
    for i, j in pairs:
        n = min(len(racers[i].success), len(racers[j].success))
        one, other = racers[i].success[:n], racers[j].success[:n]
        p_values.append(sign_test(int((one & ~other).sum()), int((~one & other).sum())))
    return {frozenset(pair) for pair, true in zip(pairs, holm(p_values), strict=True) if true}


def _ranked(starts: list[Candidate], racers: list[_Racer], fitting: Fitting) -> tuple[JigAnswer, ...]:
    rows = []
    best = _leader(racers) if racers else None
    truly = _truly_apart(racers)
    for racer in racers:
        assert best is not None
        # The best has all its trials; what was given up after fewer is told beside those, so that all are comparable.
        success, behind = beside(best.success, racer.success)
        if racer is best:
            success, behind = wilson(int(best.success.sum()), len(best.success)), Share(0.0, 0.0, 0.0)
        candidate = racer.candidate
        rows.append(
            JigAnswer(
                candidate.name, candidate.by_eye, None, success, len(racer.success), behind,
                behind.low > 0 and frozenset((racers.index(best), racers.index(racer))) in truly,
                None if racer is best else fitting.holds(best.ready.run, racer.ready.run, behind.share),
                racer.dropped, candidate.changed,
            )
        )  # fmt: skip
    rows.sort(key=lambda row: 0.0 if row.behind is None else row.behind.share)
    out = [
        JigAnswer(c.name, c.by_eye, c.why_not, None, 0, None, False, None, False, ()) for c in starts if c.run is None
    ]
    return (*rows, *out)
