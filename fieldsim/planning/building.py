"""`jigs FIELD --to TARGET`: where in a start area a jig should be built for a target, before there is any run.

A run is routed from starts all over the area at once (`fieldsim.planning.route`); then its start is moved, coarse to
fine, and its way written anew from each place (`fieldsim.planning.spots`). Beside it stands the best run from the jigs
that the field has. What chooses are other draws than those that are told, which are those of `try`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

import numpy as np

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Field, Robot, Run, Spread, StartArea, StartByEye, Straight
from fieldsim.planning.anywhere import AnywhereError, MapPoint, PlaceAnswer, chart_of, place_answer
from fieldsim.planning.legs import Task, written
from fieldsim.planning.nothing_through import ProofAnswer
from fieldsim.planning.polish import SECOND, SEGMENT
from fieldsim.planning.route import ProposalAnswer, Routed, proposal_of, route
from fieldsim.planning.spots import LAST, Place, Survey, driven, jig_built, patch_of, survey
from fieldsim.sim.endings import ends_inside
from fieldsim.sim.motion import jig_of, start_pose
from fieldsim.sim.plan import overlaps, plan
from fieldsim.sim.shapes import body_corners, polygon
from fieldsim.sim.trials import blocks
from fieldsim.stats.intervals import Share
from fieldsim.studies.attempt import KEPT, Tried, attempt
from fieldsim.studies.compare import difference

# Starts each way over an area that a run is routed from, for each of four headings.
ACROSS = 3
# A place that was found beside the routed start has to gain this much on the draws that choose.
GAIN = 0.001


@dataclass(frozen=True, kw_only=True)
class BuildAnswer:
    """Where to build a jig for a target."""

    command: ClassVar[Literal["jigs"]] = "jigs"
    version: Annotated[str, "of fieldsim"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    wear: Annotated[tuple[str, ...], "attachments that are on"]
    areas: Annotated[tuple[str, ...], "start areas in which it may stand"]
    targets: Annotated[tuple[str, ...], "in their order"]
    finish: str | None
    trials: Annotated[int, "fresh trials of each"]
    seed: int
    interrupted: Annotated[bool, "the rest was not looked at"]
    need: float | None
    starts: Annotated[int, "that a run was routed from"]
    looked: Annotated[int, "places that the best run was driven from"]
    area: Annotated[str | None, "in which the best place lies"]
    best: PlaceAnswer | None
    way: Annotated[ProposalAnswer | None, "the run from there"]
    patch: Annotated[tuple[float, float, float, float] | None, "mm to the left, right, near, far that are as good"]
    map: Annotated[tuple[MapPoint, ...], "the same run re-aimed from all over the area"]
    now: Annotated[PlaceAnswer | None, "the best of the field's own jigs there"]
    now_way: Annotated[ProposalAnswer | None, "the best run that was found from the field's own jigs there"]
    difference: Annotated[Share | None, "of the two runs, on the same trials"]
    better: Annotated[bool, "than from the field's own jigs by more than luck explains"]
    proof: Annotated[ProofAnswer | None, "that there is no way"]

    @property
    def meets_need(self) -> bool | None:
        """Whether from the best place at least as many get through as asked; None if nothing was asked."""
        if self.need is None:
            return None
        return self.best is not None and self.best.success.share >= self.need


@dataclass(frozen=True, eq=False)
class Built:
    """The answer, and the two runs as they were tried; ``routed`` has both as ways, for their maps."""

    answer: BuildAnswer
    area: StartArea
    """In which the best place lies."""
    best: Tried | None
    now: Tried | None
    routed: Routed


def areas_for(field: Field, name: str | None) -> tuple[StartArea, ...]:
    """The start area of that name, or all. Raises AnywhereError."""
    found = tuple(area for area in field.start_areas if name in (None, area.name))
    if found:
        return found
    if not field.start_areas:
        raise AnywhereError(tr("The field has no start area: give it one, in which a jig may be built."))
    known = ", ".join(area.name for area in field.start_areas)
    raise AnywhereError(tr("There is no start area '{name}'; there are: {known}.", name=name, known=known))


def starts_over(field: Field, robot: Robot, wear: tuple[str, ...], area: StartArea) -> tuple[StartByEye, ...]:
    """Starts all over an area, looking four ways: the whole body inside, and in nothing. Set as exactly as in the jig
    that stands there, else in the field's first."""
    jigs = sorted(field.jigs, key=lambda jig: not _inside(field, robot, jig.name, area))
    spread = jigs[0].spread if jigs else Spread()
    x0, y0, x1, y1 = polygon(area.shape).bounds
    corners = body_corners(robot.body)
    found = []
    for heading in (0.0, 90.0, 180.0, -90.0):
        c, s = np.cos(np.radians(heading)), np.sin(np.radians(heading))
        xs, ys = corners[:, 0] * c - corners[:, 1] * s, corners[:, 0] * s + corners[:, 1] * c
        # From where the body stands at one edge to where it stands at the other, in whole millimetres.
        low, high = np.ceil([x0 - xs.min(), y0 - ys.min()]), np.floor([x1 - xs.max(), y1 - ys.max()])
        if (low > high).any():
            continue
        columns, rows = (np.unique(np.round(np.linspace(a, b, ACROSS))) for a, b in zip(low, high, strict=True))
        for x in columns:
            for y in rows:
                start = StartByEye((float(x), float(y)), heading, spread)
                if _inside(field, robot, start, area) and not overlaps(plan(_probe(field, robot, start, wear))):
                    found.append(start)
    return tuple(found)


def build(
    field: Field,
    robot: Robot,
    wear: tuple[str, ...],
    targets: tuple[str, ...],
    finish: str | None = None,
    *,
    area: str | None = None,
    trials: int = 10_000,
    seed: int = 1,
    need: float | None = None,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Built:
    """Look for the place of a jig from which the targets are reached most often.

    A KeyboardInterrupt ends the work with the best so far. Raises AnywhereError, RouteError.
    """
    areas = areas_for(field, area)
    starts = tuple(start for each in areas for start in starts_over(field, robot, wear, each))
    if not starts:
        listed = ", ".join(each.name for each in areas)
        raise AnywhereError(tr("The robot does not fit into '{area}', whichever way it looks.", area=listed))
    task = Task(field, robot, wear, starts, targets, finish, (), None)

    def part(low: int, high: int) -> Callable[[int, int], None]:
        return lambda done, wanted: watch(low + (high - low) * done // max(wanted, 1), 100)

    routed = _one_way(task, seed, threads, part(0, 40))
    old = None if routed.answer.interrupted else _present(task, areas, seed, threads, part(40, 80))
    interrupted = routed.answer.interrupted or (old is not None and old.answer.interrupted)
    # The way from the field's own jigs too: it may do better from elsewhere.
    found: list[_Found] = []
    for number, each in enumerate([routed] if old is None else [routed, old]):
        if each.tried and not interrupted:
            found.append(_moved(task, areas, each, seed, threads, part(80 + 8 * number, 88 + 8 * number)))
            interrupted = found[-1].interrupted
        elif each.tried and not found:
            found.append(_as_found(task, areas, each, seed))
    keep = min(trials, KEPT)

    def tried(run: Run) -> Tried:
        return attempt(run, trials=trials, seed=seed, threads=threads, keep=keep)

    best = max(found, key=lambda one: one.worth, default=None)
    first = None if best is None else tried(best.made)
    now = tried(_named(task, old.tried[0].ready.run)) if old is not None and old.tried else None
    watch(100, 100)
    answer = _answer(task, areas, best, first, now, routed, trials, seed, need, threads, interrupted)
    ways = tuple(way for way in (answer.way, answer.now_way) if way is not None)
    told = Routed(
        replace(routed.answer, proposals=ways, trials=trials), tuple(t for t in (first, now) if t is not None)
    )
    return Built(answer, areas[0] if best is None else best.area, first, now, told)


@dataclass(frozen=True, eq=False)
class _Found:
    """A run from its best place."""

    made: Run
    """From the jig there."""
    area: StartArea
    worth: float
    guess: float
    survey: Survey | None = None
    patch: tuple[float, float, float, float] | None = None
    interrupted: bool = False


def _one_way(task: Task, seed: int, threads: int | None, watch: Callable[[int, int], None]) -> Routed:
    """What is told of it here does not matter: it is told anew."""
    return route(task, trials=1000, seed=seed, told=1, threads=threads, watch=watch)


def _area_of(task: Task, areas: tuple[StartArea, ...], run: Run) -> StartArea:
    return next((each for each in areas if _inside(task.field, task.robot, run.start, each)), areas[0])


def _spread(run: Run) -> Spread:
    return run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread


def _as_found(task: Task, areas: tuple[StartArea, ...], routed: Routed, seed: int) -> _Found:
    run = _named(task, routed.tried[0].ready.run)
    made = jig_built(run, start_pose(run), _spread(run), seed)
    return _Found(made, _area_of(task, areas, run), 0.0, routed.ways[0].guess)


def _moved(
    task: Task, areas: tuple[StartArea, ...], routed: Routed, seed: int, threads: int | None,
    watch: Callable[[int, int], None],
) -> _Found:  # fmt: skip
    """A way written anew from places all over its area, and the best of these: its own start, unless another is truly
    better."""
    run, way = _named(task, routed.tried[0].ready.run), routed.ways[0]
    here = _area_of(task, areas, run)

    def aim(start: StartByEye) -> Run:
        return _named(task, written(task, replace(way, start=start)))

    found = survey(run, here, "targets", seed, threads, watch, aim)
    if found is None:
        return _as_found(task, areas, routed, seed)
    kept: tuple[Place, Run, float] | None = None
    for place in (found.ground.place(start_pose(run), LAST), found.best):
        if place is not None:
            # Judged as it is held by the jig, which is not quite as it is set by eye.
            made = jig_built(place.run, place.pose, _spread(run), seed)
            share = float(driven(made, seed, LAST).mean())
            if kept is None or share > kept[2] + GAIN:
                kept = place, made, share
    if kept is None:
        return _as_found(task, areas, routed, seed)
    place, made, share = kept
    patch = found.patch
    if place is not found.best:
        patch = None if found.interrupted else patch_of(found.ground, place)
    worth = share - SECOND * sum(plan(made).seconds) - SEGMENT * len(made.segments)
    return _Found(made, here, worth, way.guess, found, patch, found.interrupted)


def _probe(field: Field, robot: Robot, start: str | StartByEye, wear: tuple[str, ...] = ()) -> Run:
    return Run("x", field, robot, start, (Straight(1.0),), wear=wear)


def _inside(field: Field, robot: Robot, start: str | StartByEye, area: StartArea) -> bool:
    run = _probe(field, robot, start)
    x, y, h = start_pose(run)
    return bool(ends_inside(run, area.shape, np.array([[x, y, np.radians(h)]]))[0])


def _named(task: Task, run: Run) -> Run:
    return replace(run, name=tr("To {target}", target=task.targets[-1] if task.targets else task.finish))


def _present(
    task: Task, areas: tuple[StartArea, ...], seed: int, threads: int | None, watch: Callable[[int, int], None]
) -> Routed | None:
    """The best run from the jigs that stand in the areas."""
    field, robot = task.field, task.robot
    jigs = tuple(
        jig.name
        for jig in field.jigs
        if any(_inside(field, robot, jig.name, area) for area in areas)
        and not overlaps(plan(_probe(field, robot, jig.name, task.wear)))
    )
    if not jigs:
        return None
    return _one_way(replace(task, starts=jigs), seed, threads, watch)


def _answer(
    task: Task,
    areas: tuple[StartArea, ...],
    found: _Found | None,
    best: Tried | None,
    now: Tried | None,
    routed: Routed,
    trials: int,
    seed: int,
    need: float | None,
    threads: int | None,
    interrupted: bool,
) -> BuildAnswer:
    gain = None
    if best is not None and now is not None:
        shares = [
            np.concatenate([b.success for b in blocks(each.ready, seed, trials, threads=threads, clearances=False)])
            for each in (best, now)
        ]
        gain = difference(*shares)
    over = None if found is None else found.survey
    return BuildAnswer(
        version=__version__,
        field=task.field.name,
        robot=task.robot.name,
        wear=task.wear,
        areas=tuple(each.name for each in areas),
        targets=task.targets,
        finish=task.finish,
        trials=trials,
        seed=seed,
        interrupted=interrupted,
        need=need,
        starts=len(task.starts),
        looked=0 if over is None else over.ground.looked,
        area=None if found is None else found.area.name,
        best=None if best is None else place_answer(best.ready.run, best.ready.run, best),
        way=None if best is None or found is None else proposal_of(best, found.guess),
        patch=None if found is None else found.patch,
        map=() if over is None else chart_of(over),
        now=None if now is None else place_answer(now.ready.run, now.ready.run, now),
        now_way=None if now is None else proposal_of(now, now.answer.success.share),
        difference=gain,
        better=best is not None and (gain is None or gain.low > 0),
        proof=routed.answer.proof,
    )
