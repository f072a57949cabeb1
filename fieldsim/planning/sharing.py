"""`match --propose`: which targets belong into which run.

Begun with a run for each target, proposed by `fieldsim.planning.route`; then runs are joined two by two, where that
makes the match better: it saves a change by hand and a way home and out (the savings method of Clarke and Wright,
Scheduling of vehicles from a central depot to a number of delivery points, Operations Research 12, 1964). At the end
single targets are moved from one run to another. Every state is judged by whole matches, in the best order of its runs
(`fieldsim.match.order`), and what is told is told of other matches than those that chose.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations
from math import hypot
from typing import Annotated, ClassVar, Literal

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.match.answer import Estimate
from fieldsim.match.bank import fill
from fieldsim.match.order import best_order
from fieldsim.match.play import play
from fieldsim.match.worth import estimate
from fieldsim.model import Field, Run
from fieldsim.model.errors import FieldsimError
from fieldsim.model.match import Match, MatchRun
from fieldsim.planning.legs import Task
from fieldsim.planning.route import route, starts_in
from fieldsim.sim.draws import BLOCK
from fieldsim.stats.intervals import Share
from fieldsim.studies.attempt import Tried, attempt

__all__ = ["SharedRunAnswer", "Sharing", "SharingAnswer", "SharingError", "share_out"]

# Matches that choose.
CHOOSING = 1000
# Joined runs, and moved targets, that are routed in one round: the nearest first.
JOINS, MOVES = 3, 2
# Trials of a routed run's own share.
TRIALS = 2000
# A run's name is no longer than this.
LETTERS = 60
# Points by which a change has to make the match better.
WORTH = 0.05


class SharingError(FieldsimError):
    """What is asked for cannot be proposed; the text says why and what to do."""


@dataclass(frozen=True)
class SharedRunAnswer:
    """A run of the proposed match, in the order in which it is driven."""

    run: Annotated[str, "the run's name"]
    targets: tuple[str, ...]
    start: Annotated[str, "the jig"]
    success: Annotated[Share, "of the run by itself"]
    trials: int
    seconds: Annotated[float, "s, planned"]
    segments: Annotated[tuple[str, ...], "each in words"]


@dataclass(frozen=True, kw_only=True)
class SharingAnswer:
    """A proposed match."""

    command: ClassVar[Literal["match"]] = "match"
    version: Annotated[str, "of fieldsim"]
    match: Annotated[str, "the match's name"]
    field: Annotated[str, "the field's name"]
    limit: Annotated[float, "s"]
    trials: Annotated[int, "fresh matches"]
    seed: int
    interrupted: Annotated[bool, "the rest was not looked at"]
    routed: Annotated[int, "runs that were routed"]
    runs: tuple[SharedRunAnswer, ...]
    left_out: Annotated[tuple[str, ...], "targets for which there is no time"]
    no_way: Annotated[tuple[str, ...], "targets to which no way was found"]
    score: Estimate
    now: Annotated[Estimate, "of the match as it is written, in its best order"]
    bound: Annotated[float, "points if every target were met and every run came home in time"]
    single: Annotated[Estimate, "with a run for each target, in the best order"]


@dataclass(frozen=True, eq=False)
class Sharing:
    """The answer, the match that is proposed, and each of its runs as it was tried."""

    answer: SharingAnswer
    match: Match | None
    tried: tuple[Tried, ...]


@dataclass(eq=False)
class _Router:
    """Runs to targets, each asked for once."""

    match: Match
    seed: int
    threads: int | None
    watch: Callable[[int], None]
    known: dict[tuple[str, ...], Run | None] = field(default_factory=dict)

    @property
    def like(self) -> Run:
        return self.match.runs[0].run

    def to(self, targets: tuple[str, ...]) -> Run | None:
        """The best run to these targets in this order, and home; None if no way was found."""
        if targets not in self.known:
            like = self.like
            try:
                task = Task(
                    like.field, like.robot, like.wear, starts_in(like.field, like.robot, None), targets, like.finish
                )
                routed = route(task, trials=TRIALS, seed=self.seed, told=1, threads=self.threads)
                found = routed.tried[0].ready.run if routed.tried else None
            except FieldsimError:
                found = None
            self.known[targets] = None if found is None else replace(found, name=name_of(targets))
            self.watch(len(self.known))
        return self.known[targets]


def name_of(targets: Sequence[str]) -> str:
    """What a run to these targets is called: as many of them as there is room for."""
    told = " + ".join(targets)
    return told if len(told) <= LETTERS else f"{told[: LETTERS - 4].rstrip(' +')} ..."


def share_out(
    match: Match,
    targets: Sequence[str] | None = None,
    *,
    trials: int = 4000,
    seed: int = 1,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Sharing:
    """Propose a match: runs by the first run's robot, with what that wears, on its field, into its finish.

    ``targets`` are those that may be gone for, None for all that score. A KeyboardInterrupt ends the work with the best
    so far. Raises SharingError.
    """
    like = match.runs[0].run
    wanted = _wanted(like.field, targets)
    guessed = len(wanted) + 2 * (JOINS + MOVES)
    router = _Router(match, seed, threads, lambda n: watch(min(90, 90 * n // guessed), 100))
    state: list[tuple[str, ...]] = []
    single: list[tuple[str, ...]] = []
    interrupted = False
    try:
        for name in wanted:
            if router.to((name,)) is not None:
                state = [*state, (name,)]
        single = state
        value = _value(match, router, state, seed, threads)
        while (better := _joined(match, router, state, value, seed, threads)) is not None:
            state, value = better
        while (better := _exchanged(match, router, state, value, seed, threads)) is not None:
            state, value = better
    except KeyboardInterrupt:
        interrupted = True
        single = single or state
    watch(92, 100)
    return _told(match, router, state, single, wanted, interrupted, trials, seed, threads)


def _wanted(ground: Field, targets: Sequence[str] | None) -> list[str]:
    there = {target.name: target for target in ground.targets}
    if targets:
        for name in targets:
            if name not in there:
                raise SharingError(
                    tr("There is no target '{name}'; there are: {known}.", name=name, known=", ".join(there) or "-")
                )
        return list(dict.fromkeys(targets))
    found = [target.name for target in ground.targets if target.points > 0]
    if not found:
        raise SharingError(tr("No target of the field scores points: give them points: in its file, or name some."))
    return found


# --- the search ----------------------------------------------------------------------------------------------------


def _match_of(match: Match, router: _Router, state: Sequence[tuple[str, ...]]) -> Match | None:
    runs = [run for targets in state if (run := router.to(targets)) is not None]
    if not runs:
        return None
    return replace(match, runs=tuple(MatchRun(run) for run in runs))


def _value(match: Match, router: _Router, state: Sequence[tuple[str, ...]], seed: int, threads: int | None) -> float:
    """Mean points in the best order, of the matches that choose."""
    made = _match_of(match, router, state)
    if made is None:
        return 0.0
    bank = fill(made, CHOOSING, seed, first_block=1000, threads=threads)
    return float(play(bank, best_order(bank, threads).order, threads).score.mean())


def _apart(ground: Field, one: tuple[str, ...], other: tuple[str, ...]) -> float:
    """mm from the end of one run's way to the begin of another's."""
    at = {target.name: target.at for target in ground.targets}
    (ax, ay), (bx, by) = at[one[-1]], at[other[0]]
    return hypot(ax - bx, ay - by)


State = list[tuple[str, ...]]


def _joined(
    match: Match, router: _Router, state: State, value: float, seed: int, threads: int | None
) -> tuple[State, float] | None:
    """The best join of two runs, if one makes the match better."""
    pairs = sorted(permutations(state, 2), key=lambda pair: _apart(router.like.field, *pair))
    options = []
    for one, other in pairs[:JOINS]:
        if router.to((*one, *other)) is None:
            continue
        rest = [each for each in state if each not in (one, other)]
        options.append([*rest, (*one, *other)])
    return _best(match, router, options, value, seed, threads)


def _exchanged(
    match: Match, router: _Router, state: State, value: float, seed: int, threads: int | None
) -> tuple[State, float] | None:
    """The best move of one target to the end of another run, if one makes the match better."""
    moves = [(one, name, other) for one in state if len(one) > 1 for name in one for other in state if other is not one]
    moves.sort(key=lambda move: _apart(router.like.field, move[2], (move[1],)))
    options = []
    for one, name, other in moves[:MOVES]:
        left, longer = tuple(each for each in one if each != name), (*other, name)
        if router.to(left) is None or router.to(longer) is None:
            continue
        options.append([*(each for each in state if each not in (one, other)), left, longer])
    return _best(match, router, options, value, seed, threads)


def _best(
    match: Match, router: _Router, options: list[State], value: float, seed: int, threads: int | None
) -> tuple[State, float] | None:
    values = [_value(match, router, option, seed, threads) for option in options]
    if not values or max(values) < value + WORTH:
        return None
    k = values.index(max(values))
    return options[k], values[k]


# --- what is told --------------------------------------------------------------------------------------------------


def _told(
    match: Match,
    router: _Router,
    state: State,
    single: State,
    wanted: Sequence[str],
    interrupted: bool,
    trials: int,
    seed: int,
    threads: int | None,
) -> Sharing:
    proposed = _match_of(match, router, state)
    scored, order = _scored(proposed, trials, seed, threads)
    alone, _ = _scored(_match_of(match, router, single), trials, seed, threads)
    now, _ = _scored(match, trials, seed, threads)
    if proposed is not None:
        proposed = replace(proposed, runs=tuple(proposed.runs[n] for n in order))
    names = {router.known[targets].name: targets for targets in state if router.known[targets] is not None}  # type: ignore[union-attr]
    runs = () if proposed is None else tuple(each.run for each in proposed.runs)
    tried = tuple(attempt(run, trials=TRIALS, seed=seed, threads=threads, keep=TRIALS) for run in runs)
    rows = tuple(_row(each, names[each.ready.run.name]) for each in tried)
    driven = {name for row in rows for name in row.targets}
    found = {targets[0] for targets, run in router.known.items() if len(targets) == 1 and run is not None}
    points = {target.name: target.points for target in router.like.field.targets}
    answer = SharingAnswer(
        version=__version__,
        match=match.name,
        field=router.like.field.name,
        limit=match.limit,
        trials=trials,
        seed=seed,
        interrupted=interrupted,
        routed=len(router.known),
        runs=rows,
        left_out=tuple(name for name in wanted if name in found and name not in driven),
        no_way=tuple(name for name in wanted if (name,) in router.known and name not in found),
        score=scored,
        now=now,
        bound=sum(points[name] for name in wanted) + max(0.0, match.points.finish) * len(single),
        single=alone,
    )
    return Sharing(answer, proposed, tried)


def _scored(match: Match | None, trials: int, seed: int, threads: int | None) -> tuple[Estimate, tuple[int, ...]]:
    """Points of a match in its best order, chosen on other matches than those that are told."""
    if match is None:
        return Estimate(0.0, 0.0, 0.0), ()
    chosen = fill(match, CHOOSING, seed, first_block=-(-trials // BLOCK), threads=threads)
    order = tuple(best_order(chosen, threads).order)
    judged = fill(match, trials, seed, threads=threads)
    return estimate(play(judged, order, threads).score), order


def _row(tried: Tried, targets: tuple[str, ...]) -> SharedRunAnswer:
    run = tried.ready.run
    return SharedRunAnswer(
        run=run.name,
        targets=targets,
        start=run.start if isinstance(run.start, str) else "by eye",
        success=tried.answer.success,
        trials=tried.answer.trials,
        seconds=float(sum(tried.ready.seconds)),
        segments=tuple(segment.in_words() for segment in run.segments),
    )
