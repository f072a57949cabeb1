"""`jigs --anywhere`: where in a start area a jig should be built for a run.

Poses over the area, coarse to fine: from each the run is re-aimed as `jigs --keep targets` does it (or driven just so),
and driven on common draws. The draws that choose are not those that are told (`fieldsim.planning.polish.CHOOSING`):
the best place and the present one are told from the trials of `try`, paired.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Run, StartArea, StartByEye
from fieldsim.model.errors import FieldsimError
from fieldsim.planning.spots import Survey, jig_built, survey
from fieldsim.sim.endings import ends_inside
from fieldsim.sim.motion import jig_of, start_pose, wrapped
from fieldsim.sim.plan import overlaps, plan
from fieldsim.sim.shapes import body_corners
from fieldsim.sim.trials import blocks
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.attempt import Tried, attempt
from fieldsim.studies.compare import difference
from fieldsim.studies.fitting import Fitting

__all__ = ["AnywhereAnswer", "AnywhereError", "MapPoint", "PlaceAnswer", "Placed", "anywhere", "area_for"]

Bools = NDArray[np.bool_]
Pose = tuple[float, float, float]


class AnywhereError(FieldsimError):
    """What is asked for cannot be looked for; the text says why and what to do."""


@dataclass(frozen=True)
class MapPoint:
    """A place on the map, with the heading that does best there."""

    x: Annotated[float, "mm, of the axle's middle"]
    y: float
    heading: Annotated[float, "degrees"]
    share: Annotated[float, "that gets through, of a few trials"]


@dataclass(frozen=True)
class PlaceAnswer:
    """A place for the jig."""

    x: Annotated[float, "mm, of the axle's middle"]
    y: float
    heading: Annotated[float, "degrees"]
    holds: Annotated[str | None, "which corner of the body it holds"]
    corner: Annotated[tuple[float, float] | None, "where that corner is pushed home, mm"]
    from_left: Annotated[float, "mm from the field's left edge to the nearest point of the body"]
    from_right: Annotated[float, "mm to its right edge"]
    from_near: Annotated[float, "mm to the edge at which the team stands"]
    from_far: Annotated[float, "mm to the far one"]
    success: Share
    changed: Annotated[tuple[str, ...], "segments that were re-aimed"]


@dataclass(frozen=True, kw_only=True)
class AnywhereAnswer:
    """Where to build the jig of a run."""

    command: ClassVar[Literal["jigs"]] = "jigs"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    area: Annotated[str, "the start area"]
    keep: Annotated[str, "what stays: targets or path"]
    trials: Annotated[int, "fresh trials of the best place and the present one"]
    seed: int
    interrupted: Annotated[bool, "the rest was not looked at"]
    need: float | None
    looked: Annotated[int, "places that were driven from"]
    out: Annotated[int, "places from which the run cannot begin"]
    why_not: Annotated[str | None, "why it cannot from most of these"]
    now: Annotated[PlaceAnswer | None, "the start that the run has"]
    """None where it cannot be driven from there."""
    best: PlaceAnswer | None
    difference: Annotated[Share | None, "of the best place and the present one, on the same trials"]
    better: Annotated[bool, "by more than luck explains"]
    holds: Annotated[float | None, "share of robots that fit the tests for which it is better"]
    patch: Annotated[tuple[float, float, float, float] | None, "mm to the left, right, near, far that are as good"]
    map: tuple[MapPoint, ...]

    @property
    def meets_need(self) -> bool | None:
        """Whether from the best place at least as many get through as asked; None if nothing was asked."""
        if self.need is None:
            return None
        return self.best is not None and self.best.success.share >= self.need


@dataclass(frozen=True, eq=False)
class Placed:
    """The answer, and the run from the best place and from its own as they were tried."""

    answer: AnywhereAnswer
    area: StartArea
    best: Tried | None
    now: Tried | None


def area_for(run: Run, name: str | None) -> StartArea:
    """The start area of that name, else the one in which the run's start stands, else the field's first. Raises
    AnywhereError."""
    areas = run.field.start_areas
    if name is not None:
        found = next((area for area in areas if area.name == name), None)
        if found is None:
            known = ", ".join(area.name for area in areas) or "-"
            raise AnywhereError(tr("There is no start area '{name}'; there are: {known}.", name=name, known=known))
        return found
    if not areas:
        raise AnywhereError(tr("The field has no start area: give it one, in which a jig may be built."))
    x, y, h = start_pose(run)
    pose = np.array([[x, y, np.radians(h)]])
    return next((area for area in areas if ends_inside(run, area.shape, pose)[0]), areas[0])


def anywhere(
    run: Run,
    *,
    area: str | None = None,
    keep: str = "targets",
    trials: int = 10_000,
    seed: int = 1,
    need: float | None = None,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Placed:
    """Look for the best place of a run's jig in a start area.

    ``keep`` 'targets' re-aims the first segments from each place, so that what follows stays where it is; 'path' drives
    the same ones. A KeyboardInterrupt ends the work with the best so far. Raises AnywhereError.
    """
    here = area_for(run, area)
    found = survey(run, here, keep, seed, threads, watch)
    if found is None:
        raise AnywhereError(tr("The robot does not fit into '{area}', whichever way it looks.", area=here.name))
    return _answer(found, here, trials, need, threads, watch)


# --- what is told --------------------------------------------------------------------------------------------------


def _answer(
    found: Survey,
    area: StartArea,
    trials: int,
    need: float | None,
    threads: int | None,
    watch: Callable[[int, int], None],
) -> Placed:
    ground, best = found.ground, found.best
    run, seed = ground.run, ground.seed
    fits = not overlaps(plan(run))
    made = None if best is None else jig_built(best.run, best.pose, ground.spread, seed)
    keep = min(trials, 10_000)
    tried = [
        None if each is None else attempt(each, trials=trials, seed=seed, threads=threads, keep=keep)
        for each in (made, run if fits else None)
    ]
    watch(98, 100)
    gain, better, holds = None, False, None
    if made is not None and fits:
        shares = [
            np.concatenate([b.success for b in blocks(plan(each), seed, trials, threads=threads, clearances=False)])
            for each in (made, run)
        ]
        gain = difference(*shares)
        better = gain.low > 0
        holds = Fitting(seed, threads).holds(made, run, gain.share) if better else None
    elif made is not None:
        better = True
    watch(100, 100)
    answer = AnywhereAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        area=area.name,
        keep=ground.keep,
        trials=trials,
        seed=seed,
        interrupted=found.interrupted,
        need=need,
        looked=ground.looked,
        out=ground.out,
        why_not=ground.why.most_common(1)[0][0] if ground.why else None,
        now=place_answer(run, run, tried[1]),
        best=None if made is None else place_answer(made, run, tried[0]),
        difference=gain,
        better=better,
        holds=holds,
        patch=found.patch,
        map=chart_of(found),
    )
    return Placed(answer, area, tried[0], tried[1])


def chart_of(found: Survey) -> tuple[MapPoint, ...]:
    """The map's points, in their order."""
    return tuple(
        MapPoint(place.pose[0], place.pose[1], place.pose[2], place.share)
        for _, place in sorted(found.chart.items(), key=lambda item: item[0])
    )


def _mm(value: float) -> float:
    """A tenth of a millimetre is more than a ruler shows."""
    return round(float(value), 1) + 0.0


def place_answer(made: Run, run: Run, tried: Tried | None) -> PlaceAnswer | None:
    if tried is None:
        return None
    x, y, h = start_pose(made)
    corners = body_corners(run.robot.body)
    c, s = np.cos(np.radians(h)), np.sin(np.radians(h))
    xs, ys = x + corners[:, 0] * c - corners[:, 1] * s, y + corners[:, 0] * s + corners[:, 1] * c
    w, d = run.field.size
    jig = None if isinstance(made.start, StartByEye) else jig_of(made.field, made.start)
    changed = tuple(
        tr("segment {number}: {words}", number=n, words=new.in_words())
        for n, (old, new) in enumerate(zip(run.segments, made.segments, strict=True), start=1)
        if old != new
    )
    return PlaceAnswer(
        x=float(x), y=float(y), heading=wrapped(h) + 0.0,
        holds=None if jig is None else jig.holds,
        corner=None if jig is None else jig.corner,
        from_left=_mm(xs.min()), from_right=_mm(w - xs.max()), from_near=_mm(ys.min()), from_far=_mm(d - ys.max()),
        success=tried.answer.success if tried.answer.trials else wilson(0, 0),
        changed=changed,
    )  # fmt: skip
