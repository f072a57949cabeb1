"""`jigs --anywhere`: where in a start area a jig should be built for a run.

Poses over the area, coarse to fine: from each the run is re-aimed as `jigs --keep targets` does it (or driven just so),
and driven on common draws. The draws that choose are not those that are told (`fieldsim.planning.polish.CHOOSING`):
the best place and the present one are told from the trials of `try`, paired.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Jig, Run, Spread, StartArea, StartByEye
from fieldsim.model.errors import FieldsimError
from fieldsim.planning.polish import CHOOSING
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.endings import ends_inside
from fieldsim.sim.motion import jig_of, start_pose, wrapped
from fieldsim.sim.plan import overlaps, plan
from fieldsim.sim.shapes import body_corners, corner_of, polygon
from fieldsim.sim.trials import Driver, blocks
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.attempt import Tried, attempt
from fieldsim.studies.compare import difference
from fieldsim.studies.fitting import Fitting
from fieldsim.studies.jigs import NoWayError, follow

__all__ = ["AnywhereAnswer", "AnywhereError", "MapPoint", "PlaceAnswer", "Placed", "anywhere", "area_for"]

Bools = NDArray[np.bool_]
Pose = tuple[float, float, float]

# Steps of the first map over the area: about so many each way, none finer than this, mm.
ACROSS, LEAST_STEP = 8, 20.0
# How fine the best place is told, mm: a ruler sets no better.
FINEST = 5.0
# Trials of each place on the map, of those near the best, and of the last few.
COARSE, FINE, LAST = 250, 800, 2000
# Places that are looked at more closely, and of these that are told apart in the end.
CLOSER, FINAL = 4, 3
# A place that loses no more than this against the best is as good to build at.
AS_GOOD = 0.01
# How far the patch of places that are as good is followed, mm.
PATCH = 80.0
NAME = "jig here"


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


@dataclass(frozen=True, eq=False)
class _Place:
    pose: Pose
    run: Run
    success: Bools

    @property
    def share(self) -> float:
        return float(self.success.mean())


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


class _Ground:
    """Runs from places, driven on the choosing draws."""

    def __init__(self, run: Run, area: StartArea, keep: str, seed: int, threads: int | None) -> None:
        self.run, self.area, self.keep, self.seed = run, area, keep, seed
        self.spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
        self.pool = ThreadPoolExecutor(threads or os.cpu_count() or 1)
        self.why: Counter[str] = Counter()
        self._known: dict[tuple[Pose, int], _Place | None] = {}

    @property
    def looked(self) -> int:
        """Places that were driven from, however often."""
        return len({pose for (pose, _), place in self._known.items() if place is not None})

    @property
    def out(self) -> int:
        """Places from which the run cannot begin."""
        return len({pose for (pose, _), place in self._known.items() if place is None})

    def inside(self, poses: Sequence[Pose]) -> list[Pose]:
        """Those at which the whole body stands in the area."""
        if not poses:
            return []
        rows = np.array(poses, dtype=float)
        rows[:, 2] = np.radians(rows[:, 2])
        return [pose for pose, fits in zip(poses, ends_inside(self.run, self.area.shape, rows), strict=True) if fits]

    def made(self, pose: Pose) -> Run | None:
        """The run from there, set like the one it has; None if it cannot begin there."""
        x, y, h = pose
        try:
            start = StartByEye((x, y), h, self.spread)
            if overlaps(plan(replace(self.run, start=start))):
                return None
            return follow(self.run, start, self.keep)
        except (NoWayError, FieldsimError, ValueError) as problem:
            self.why[str(problem).splitlines()[0]] += 1
            return None

    def place(self, pose: Pose, trials: int) -> _Place | None:
        run = self.made(pose)
        if run is None:
            return None
        return _Place(pose, run, _driven(run, self.seed, trials))

    def places(self, poses: Iterable[Pose], trials: int, watch: Callable[[int], None]) -> list[_Place]:
        keys = [(pose, trials) for pose in self.inside(list(dict.fromkeys(poses)))]
        waiting = {key: self.pool.submit(self.place, *key) for key in keys if key not in self._known}
        try:
            for key, future in waiting.items():
                self._known[key] = future.result()
                watch(len(self._known))
        finally:
            for future in waiting.values():
                future.cancel()
        return [place for key in keys if (place := self._known[key]) is not None]


def _driven(run: Run, seed: int, trials: int) -> Bools:
    driver = Driver(plan(run), seed, clearances=False)
    parts = [driver.block(CHOOSING + k, min(BLOCK, trials - k * BLOCK)).success for k in range(-(-trials // BLOCK))]
    return np.concatenate(parts)


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
    ground = _Ground(run, here, keep, seed, threads)
    now = start_pose(run)
    spots = _grid(here, run, now)
    if not ground.inside(spots):
        raise AnywhereError(tr("The robot does not fit into '{area}', whichever way it looks.", area=here.name))
    guessed = len(ground.inside(spots)) + CLOSER * 30
    chart: dict[tuple[float, float], _Place] = {}
    best: _Place | None = None
    interrupted = False

    def told(looked: int) -> None:
        watch(min(85, 85 * looked // guessed), 100)

    try:
        first = ground.places(spots, COARSE, told)
        for place in first:
            spot = place.pose[0], place.pose[1]
            if spot not in chart or place.share > chart[spot].share:
                chart[spot] = place
        best = max(first, key=lambda place: place.share, default=None)
        if best is not None:
            best = _closer(ground, first, _step(here), told)
    except KeyboardInterrupt:
        interrupted = True
        best = best or max(chart.values(), key=lambda place: place.share, default=None)
    finally:
        ground.pool.shutdown(cancel_futures=True)
    patch = None if best is None or interrupted else _patch(ground, best)
    watch(90, 100)
    return _answer(ground, here, best, patch, chart, trials, need, interrupted, threads, watch)


def _step(area: StartArea) -> float:
    x0, y0, x1, y1 = polygon(area.shape).bounds
    return float(max(LEAST_STEP, FINEST * round(max(x1 - x0, y1 - y0) / ACROSS / FINEST)))


def _grid(area: StartArea, run: Run, now: Pose) -> list[Pose]:
    """The first map: places over the area, along its edges too, each looking the run's way and square to it."""
    x0, y0, x1, y1 = polygon(area.shape).bounds
    step = _step(area)
    corners = body_corners(run.robot.body)
    headings = list(dict.fromkeys(wrapped(now[2] + turn) for turn in (0.0, 90.0, 180.0, -90.0)))
    found: list[Pose] = []
    for heading in headings:
        c, s = np.cos(np.radians(heading)), np.sin(np.radians(heading))
        xs, ys = corners[:, 0] * c - corners[:, 1] * s, corners[:, 0] * s + corners[:, 1] * c
        # From where the body stands at one edge to where it stands at the other, in whole millimetres.
        low_x, high_x = np.ceil(x0 - xs.min()), np.floor(x1 - xs.max())
        low_y, high_y = np.ceil(y0 - ys.min()), np.floor(y1 - ys.max())
        if low_x > high_x or low_y > high_y:
            continue
        columns = sorted({*np.arange(low_x, high_x, step).tolist(), float(high_x)})
        rows = sorted({*np.arange(low_y, high_y, step).tolist(), float(high_y)})
        found += [(float(x), float(y), heading) for x in columns for y in rows]
    # Where it starts now is one of them, to the millimetre.
    return [*found, (float(round(now[0])), float(round(now[1])), now[2])]


def _closer(ground: _Ground, first: list[_Place], step: float, watch: Callable[[int], None]) -> _Place:
    """The best place, the best few of the map looked at in smaller and smaller steps."""
    centres = [place.pose for place in _apart(first, step, CLOSER)]
    found: list[_Place] = []
    while step > FINEST:
        step = max(FINEST, FINEST * round(step / 2 / FINEST))
        around = [(x + i * step, y + j * step, h) for x, y, h in centres for i in (-1, 0, 1) for j in (-1, 0, 1)]
        found = ground.places(around, FINE, watch) or found
        centres = [place.pose for place in _apart(found, step, CLOSER)]
    last = ground.places([place.pose for place in _apart(found, 0.0, FINAL)], LAST, watch)
    return max(last or found or first, key=lambda place: place.share)


def _apart(places: list[_Place], step: float, most: int) -> list[_Place]:
    """The best, each farther than a step from those before it or looking another way."""
    found: list[_Place] = []
    for place in sorted(places, key=lambda each: -each.share):
        x, y, h = place.pose
        if all(abs(x - a) > step or abs(y - b) > step or h != c for a, b, c in (each.pose for each in found)):
            found.append(place)
        if len(found) == most:
            break
    return found


def _patch(ground: _Ground, best: _Place) -> tuple[float, float, float, float]:
    """How far the jig may be built beside the best place and be as good: to the left, right, near, far, mm."""
    x, y, h = best.pose
    trials = len(best.success)
    reach = []
    for dx, dy in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        far = 0.0
        while far < PATCH:
            pose = (x + dx * (far + FINEST), y + dy * (far + FINEST), h)
            if not ground.inside([pose]):
                break
            place = ground.place(pose, trials)
            if place is None or place.share < best.share - AS_GOOD:
                break
            far += FINEST
        reach.append(far)
    return reach[0], reach[1], reach[2], reach[3]


# --- what is told --------------------------------------------------------------------------------------------------


def _answer(
    ground: _Ground,
    area: StartArea,
    best: _Place | None,
    patch: tuple[float, float, float, float] | None,
    chart: dict[tuple[float, float], _Place],
    trials: int,
    need: float | None,
    interrupted: bool,
    threads: int | None,
    watch: Callable[[int, int], None],
) -> Placed:
    run, seed = ground.run, ground.seed
    fits = not overlaps(plan(run))
    built = None if best is None else _built(run, best, ground.spread, seed)
    keep = min(trials, 10_000)
    tried = [
        None if each is None else attempt(each, trials=trials, seed=seed, threads=threads, keep=keep)
        for each in (built, run if fits else None)
    ]
    watch(98, 100)
    gain, better, holds = None, False, None
    if built is not None and fits:
        shares = [
            np.concatenate([b.success for b in blocks(plan(each), seed, trials, threads=threads, clearances=False)])
            for each in (built, run)
        ]
        gain = difference(*shares)
        better = gain.low > 0
        holds = Fitting(seed, threads).holds(built, run, gain.share) if better else None
    elif built is not None:
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
        interrupted=interrupted,
        need=need,
        looked=ground.looked,
        out=ground.out,
        why_not=ground.why.most_common(1)[0][0] if ground.why else None,
        now=_place_answer(run, run, tried[1]),
        best=None if built is None else _place_answer(built, run, tried[0]),
        difference=gain,
        better=better,
        holds=holds,
        patch=patch,
        map=tuple(
            MapPoint(place.pose[0], place.pose[1], place.pose[2], place.share)
            for _, place in sorted(chart.items(), key=lambda item: item[0])
        ),
    )
    return Placed(answer, area, tried[0], tried[1])


def _built(run: Run, best: _Place, spread: Spread, seed: int) -> Run:
    """The run from a jig at the place, which holds that rear corner with which more get through: the heading's error
    turns about it."""
    x, y, h = best.pose
    c, s = np.cos(np.radians(h)), np.sin(np.radians(h))
    names = {jig.name for jig in run.field.jigs}
    name = next(each for n in range(len(names) + 1) if (each := NAME if n == 0 else f"{NAME} {n + 1}") not in names)
    found = []
    for holds in ("rear left", "rear right"):
        kx, ky = corner_of(run.robot.body, holds)
        try:
            jig = Jig(name, (float(x + c * kx - s * ky), float(y + s * kx + c * ky)), h, holds, spread)
            field = replace(run.field, jigs=(*run.field.jigs, jig))
            made = replace(best.run, field=field, start=name)
            found.append((float(_driven(made, seed, LAST).mean()), made))
        except (FieldsimError, ValueError):
            continue
    if not found:
        # A corner outside the field: set by eye as it was looked for.
        return best.run
    return max(found, key=lambda each: each[0])[1]


def _mm(value: float) -> float:
    """A tenth of a millimetre is more than a ruler shows."""
    return round(float(value), 1) + 0.0


def _place_answer(made: Run, run: Run, tried: Tried | None) -> PlaceAnswer | None:
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
