"""`route`: whole runs proposed from nothing, or the proof that none can be.

A search over beliefs finds ways of different classes, exact trials choose among them and make them better, and fresh
trials, those that `try` drives on the same seed, tell what they are worth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

import numpy as np

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Field, Robot, Run, Square, StartByEye, Straight
from fieldsim.model.errors import FieldsimError
from fieldsim.planning import polish
from fieldsim.planning.legs import Task, Way
from fieldsim.planning.nothing_through import ProofAnswer, nothing_through
from fieldsim.planning.polish import Judge, Judged, chosen
from fieldsim.planning.search import Effort
from fieldsim.planning.story import story
from fieldsim.planning.ways import base_of, ways
from fieldsim.sim.endings import ends_inside
from fieldsim.sim.failures import counted, failures
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import overlaps, plan
from fieldsim.sim.shapes import polygon
from fieldsim.stats.intervals import Share
from fieldsim.studies.attempt import KEPT, Tried, attempt

# A segment on which so large a part of all failures happens is what a run stands or falls with.
DECIDES = 0.35
# A run that fails less often than this stands or falls with nothing.
SAFE = 0.005


class RouteError(FieldsimError):
    """What is asked for cannot be planned; the text says why and what to do."""


@dataclass(frozen=True)
class LookedAnswer:
    """What was looked at."""

    places: Annotated[int, "of the map"]
    moves: Annotated[int, "that were weighed"]
    labels: Annotated[int, "ways to a place that were followed"]
    ways: Annotated[int, "whole ways that were found"]
    trials: Annotated[int, "that chose among them"]


@dataclass(frozen=True)
class ProposalAnswer:
    """A proposed run."""

    run: Annotated[str, "the run's name"]
    start: Annotated[str, "the jig's name, or by eye"]
    success: Annotated[Share, "of fresh trials"]
    guess: Annotated[float, "what the search gave it before it was made better"]
    seconds: Annotated[float, "s, planned"]
    words: Annotated[str, "where it goes"]
    segments: Annotated[tuple[str, ...], "each in words"]
    squares: Annotated[tuple[str, ...], "what it is set against on the way"]
    weakest: Annotated[int | None, "the segment on which most of its failures happen"]
    """None if hardly any trial fails, or no segment stands out."""
    weakest_share: Annotated[float | None, "of all trials, that fail there"]


@dataclass(frozen=True, kw_only=True)
class RouteAnswer:
    """Proposed runs, the one that gets through most often first."""

    command: ClassVar[Literal["route"]] = "route"
    version: Annotated[str, "of fieldsim"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    wear: Annotated[tuple[str, ...], "attachments that are on"]
    starts: Annotated[tuple[str, ...], "where it may start"]
    targets: Annotated[tuple[str, ...], "in their order"]
    finish: str | None
    within: Annotated[float | None, "s, at most"]
    may_touch: Annotated[tuple[str, ...], "what it may touch"]
    trials: Annotated[int, "fresh trials of each"]
    seed: int
    interrupted: Annotated[bool, "the rest was not looked at"]
    need: float | None
    proposals: tuple[ProposalAnswer, ...]
    proof: Annotated[ProofAnswer | None, "that there is no way"]
    looked: LookedAnswer

    @property
    def meets_need(self) -> bool | None:
        """Whether the best proposal gets through at least as often as asked; None if nothing was asked."""
        if self.need is None:
            return None
        return bool(self.proposals) and self.proposals[0].success.share >= self.need


@dataclass(frozen=True, eq=False)
class Routed:
    """The answer, and each proposal as it was tried."""

    answer: RouteAnswer
    tried: tuple[Tried, ...]
    ways: tuple[Way, ...] = ()
    """What each was written from."""


def starts_in(field: Field, robot: Robot, name: str | None) -> tuple[str | StartByEye, ...]:
    """The jigs a run may start from: the one called so, those that set the whole body into the start area called so,
    or all. Raises RouteError if there is none."""
    if name in {jig.name for jig in field.jigs}:
        assert name is not None
        return (name,)
    if name is None:
        if not field.jigs:
            raise RouteError(tr("The field has no jig to start from; name a start area with --from."))
        return tuple(jig.name for jig in field.jigs)
    area = next((a for a in field.start_areas if a.name == name), None)
    if area is None:
        known = [jig.name for jig in field.jigs] + [a.name for a in field.start_areas]
        raise RouteError(
            tr(
                "'{name}' is no jig and no start area of the field; there are: {known}.",
                name=name,
                known=", ".join(known) or "-",
            )
        )
    found: list[str | StartByEye] = []
    for jig in field.jigs:
        run = Run("x", field, robot, jig.name, (Straight(1.0),))
        x, y, h = start_pose(run)
        if ends_inside(run, area.shape, np.array([[x, y, np.radians(h)]]))[0]:
            found.append(jig.name)
    if found:
        return tuple(found)
    return _by_eye(field, robot, area.name)


def _by_eye(field: Field, robot: Robot, area_name: str) -> tuple[StartByEye, ...]:
    """Starts set by eye in an area without a jig: in its middle, looking four ways, where the body fits."""
    area = next(a for a in field.start_areas if a.name == area_name)
    x0, y0, x1, y1 = polygon(area.shape).bounds
    back = robot.body.length / 2 - robot.body.axle
    found = []
    for heading in (0.0, 90.0, 180.0, -90.0):
        h = np.radians(heading)
        at = (float(round((x0 + x1) / 2 - back * np.cos(h))), float(round((y0 + y1) / 2 - back * np.sin(h))))
        start = StartByEye(at, heading)
        run = Run("x", field, robot, start, (Straight(1.0),))
        if ends_inside(run, area.shape, np.array([[*at, h]]))[0] and not overlaps(plan(run)):
            found.append(start)
    if not found:
        raise RouteError(tr("The robot does not fit into '{area}', whichever way it looks.", area=area_name))
    return tuple(found)


def start_word(start: str | StartByEye) -> str:
    return start if isinstance(start, str) else "by eye"


def checked(task: Task) -> Task:
    """The task with only those starts at which the robot fits. Raises RouteError if there is none, or nothing is asked
    for."""
    if not task.targets and task.finish is None:
        raise RouteError(tr("Say where it is to go: --to TARGET, or --finish AREA."))
    stuck: list[str] = []
    fine = []
    for start in task.starts:
        found = overlaps(plan(task.run(start, (Straight(1.0),))))
        if found:
            thing, deep = found[0]
            stuck.append(
                tr(
                    "from {start} it would stand {deep:.0f} mm in {thing}",
                    start=start_word(start),
                    deep=deep,
                    thing=thing,
                )
            )
        else:
            fine.append(start)
    if not fine:
        raise RouteError(tr("The robot fits at none of the starts: {why}.", why="; ".join(stuck)))
    return replace(task, starts=tuple(fine))


def route(
    task: Task,
    *,
    trials: int = 10_000,
    seed: int = 1,
    told: int = polish.TOLD,
    need: float | None = None,
    threads: int | None = None,
    squares: bool = True,
    blind: bool = False,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Routed:
    """Propose up to ``told`` runs that truly differ.

    ``squares`` False leaves squares out, ``blind`` judges gaps in the search without their uncertainty: for comparison.
    A KeyboardInterrupt ends the work with the best so far. Raises RouteError where nothing can be planned.
    """
    task = checked(task)
    proof = nothing_through(task)
    effort = Effort()
    found: list[Judged] = []
    places = ways_found = driven = 0
    interrupted = False
    if proof is None:
        watch(0, 100)
        base = base_of(task, squares)
        watch(15, 100)
        steps = iter(range(16, 29))
        planned = ways(task, base, effort, blind=blind, watch=lambda: watch(next(steps, 29), 100))
        places, ways_found = len(base.at), len(planned)
        judge = Judge(task, seed, base.mapper.crossed)
        guessed = 400_000
        try:
            found = chosen(
                judge,
                planned,
                told,
                threads,
                lambda n: watch(30 + min(60, 60 * n // guessed), 100),
                not effort.interrupted,
            )
        finally:
            driven = judge.trials
        interrupted = judge.interrupted or effort.interrupted
    tried: list[tuple[Tried, Way]] = []
    for number, one in enumerate(found, start=1):
        each = attempt(one.run, trials=trials, seed=seed, threads=threads, keep=KEPT)
        tried.append((each, one.way))
        watch(90 + 10 * number // len(found), 100)
    # Told in the order of what is told, and numbered so.
    tried.sort(key=lambda pair: -pair[0].answer.success.share)
    last = task.targets[-1] if task.targets else task.finish
    named = [
        _named(each, tr("To {target}, way {number}", target=last, number=number))
        for number, (each, _) in enumerate(tried, start=1)
    ]
    rows = [proposal_of(each, way.guess) for each, (_, way) in zip(named, tried, strict=True)]
    answer = RouteAnswer(
        version=__version__,
        field=task.field.name,
        robot=task.robot.name,
        wear=task.wear,
        starts=tuple(start_word(start) for start in task.starts),
        targets=task.targets,
        finish=task.finish,
        within=task.within,
        may_touch=task.may_touch,
        trials=min((row.answer.trials for row in named), default=0),
        seed=seed,
        interrupted=interrupted,
        need=need,
        proposals=tuple(rows),
        proof=proof,
        looked=LookedAnswer(places, effort.moves, effort.labels, ways_found, driven),
    )
    return Routed(answer, tuple(named), tuple(way for _, way in tried))


def _named(tried: Tried, name: str) -> Tried:
    ready = replace(tried.ready, run=replace(tried.ready.run, name=name))
    first = None if tried.first is None else replace(tried.first, plan=ready)
    return Tried(ready, replace(tried.answer, run=name), first)


def proposal_of(tried: Tried, guess: float) -> ProposalAnswer:
    run = tried.ready.run
    success = tried.answer.success
    weakest, share = None, None
    if tried.first is not None and 1 - success.share > SAFE:
        where: Counter[int] = Counter()
        for failure, count in counted(failures(tried.first)):
            where[failure.segment] += count
        segment, count = where.most_common(1)[0]
        if count > DECIDES * sum(where.values()):
            weakest, share = segment, count / len(tried.first)
    return ProposalAnswer(
        run=run.name,
        start=start_word(run.start),
        success=success,
        guess=guess,
        seconds=float(sum(tried.ready.seconds)),
        words=story(tried.ready),
        segments=tuple(segment.in_words() for segment in run.segments),
        squares=tuple(s.against for s in run.segments if isinstance(s, Square)),
        weakest=weakest,
        weakest_share=share,
    )
