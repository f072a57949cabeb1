"""Places for a jig all over a start area, a run driven from each: coarse to fine, on common draws.

The draws that choose are not those that are told (`fieldsim.planning.polish.CHOOSING`).
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Jig, Run, Spread, StartArea, StartByEye
from fieldsim.model.errors import FieldsimError
from fieldsim.planning.polish import CHOOSING
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.endings import ends_inside
from fieldsim.sim.motion import jig_of, start_pose, wrapped
from fieldsim.sim.plan import overlaps, plan
from fieldsim.sim.shapes import body_corners, corner_of, polygon
from fieldsim.sim.trials import Driver
from fieldsim.studies.jigs import NoWayError, follow

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


@dataclass(frozen=True, eq=False)
class Place:
    pose: Pose
    run: Run
    success: Bools

    @property
    def share(self) -> float:
        return float(self.success.mean())


class Ground:
    """Runs from places, driven on the choosing draws."""

    def __init__(
        self, run: Run, area: StartArea, keep: str, seed: int, threads: int | None,
        aim: Callable[[StartByEye], Run] | None = None,
    ) -> None:  # fmt: skip
        self.run, self.area, self.keep, self.seed = run, area, keep, seed
        self.aim = aim or (lambda start: follow(run, start, keep))
        self.spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
        self.pool = ThreadPoolExecutor(threads or os.cpu_count() or 1)
        self.why: Counter[str] = Counter()
        self._known: dict[tuple[Pose, int], Place | None] = {}

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
            return self.aim(start)
        except (NoWayError, FieldsimError, ValueError) as problem:
            self.why[str(problem).splitlines()[0]] += 1
            return None

    def place(self, pose: Pose, trials: int) -> Place | None:
        run = self.made(pose)
        if run is None:
            return None
        return Place(pose, run, driven(run, self.seed, trials))

    def places(self, poses: Iterable[Pose], trials: int, watch: Callable[[int], None]) -> list[Place]:
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


def driven(run: Run, seed: int, trials: int) -> Bools:
    driver = Driver(plan(run), seed, clearances=False)
    parts = [driver.block(CHOOSING + k, min(BLOCK, trials - k * BLOCK)).success for k in range(-(-trials // BLOCK))]
    return np.concatenate(parts)


@dataclass(frozen=True, eq=False)
class Survey:
    """What was found of a start area for a run."""

    ground: Ground
    chart: dict[tuple[float, float], Place]
    """By the axle's place, with the heading that does best there."""
    best: Place | None
    patch: tuple[float, float, float, float] | None
    """mm to the left, right, near, far of the best place that are as good; None if it was broken off."""
    interrupted: bool


def survey(
    run: Run,
    area: StartArea,
    keep: str,
    seed: int,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
    aim: Callable[[StartByEye], Run] | None = None,
) -> Survey | None:
    """A run driven from places all over an area, and the best of these; None if the robot does not fit into it.

    ``aim`` makes the run from a start, where it is not ``keep`` that does. A KeyboardInterrupt ends the work with the
    best so far. ``watch`` is told up to 90 of 100.
    """
    ground = Ground(run, area, keep, seed, threads, aim)
    spots = grid(area, run, start_pose(run))
    fitting = len(ground.inside(spots))
    if not fitting:
        return None
    guessed = fitting + CLOSER * 30
    chart: dict[tuple[float, float], Place] = {}
    best: Place | None = None
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
            best = closer(ground, first, step_of(area), told)
    except KeyboardInterrupt:
        interrupted = True
        best = best or max(chart.values(), key=lambda place: place.share, default=None)
    finally:
        ground.pool.shutdown(cancel_futures=True)
    patch = None if best is None or interrupted else patch_of(ground, best)
    watch(90, 100)
    return Survey(ground, chart, best, patch, interrupted)


def step_of(area: StartArea) -> float:
    x0, y0, x1, y1 = polygon(area.shape).bounds
    return float(max(LEAST_STEP, FINEST * round(max(x1 - x0, y1 - y0) / ACROSS / FINEST)))


def grid(area: StartArea, run: Run, now: Pose) -> list[Pose]:
    """The first map: places over the area, along its edges too, each looking the run's way and square to it."""
    x0, y0, x1, y1 = polygon(area.shape).bounds
    step = step_of(area)
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


def closer(ground: Ground, first: list[Place], step: float, watch: Callable[[int], None]) -> Place:
    """The best place, the best few of the map looked at in smaller and smaller steps."""
    centres = [place.pose for place in apart(first, step, CLOSER)]
    found: list[Place] = []
    while step > FINEST:
        step = max(FINEST, FINEST * round(step / 2 / FINEST))
        around = [(x + i * step, y + j * step, h) for x, y, h in centres for i in (-1, 0, 1) for j in (-1, 0, 1)]
        found = ground.places(around, FINE, watch) or found
        centres = [place.pose for place in apart(found, step, CLOSER)]
    last = ground.places([place.pose for place in apart(found, 0.0, FINAL)], LAST, watch)
    return max(last or found or first, key=lambda place: place.share)


def apart(places: list[Place], step: float, most: int) -> list[Place]:
    """The best, each farther than a step from those before it or looking another way."""
    found: list[Place] = []
    for place in sorted(places, key=lambda each: -each.share):
        x, y, h = place.pose
        if all(abs(x - a) > step or abs(y - b) > step or h != c for a, b, c in (each.pose for each in found)):
            found.append(place)
        if len(found) == most:
            break
    return found


def patch_of(ground: Ground, best: Place) -> tuple[float, float, float, float]:
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


def jig_built(run: Run, pose: Pose, spread: Spread, seed: int) -> Run:
    """The run from a jig built at ``pose``, mm and degrees, which holds that rear corner with which more get through:
    the heading's error turns about it."""
    x, y, h = pose
    c, s = np.cos(np.radians(h)), np.sin(np.radians(h))
    names = {jig.name for jig in run.field.jigs}
    name = next(each for n in range(len(names) + 1) if (each := NAME if n == 0 else f"{NAME} {n + 1}") not in names)
    found = []
    for holds in ("rear left", "rear right"):
        kx, ky = corner_of(run.robot.body, holds)
        try:
            # A tenth of a millimetre is more than a ruler shows.
            corner = round(float(x + c * kx - s * ky), 1), round(float(y + s * kx + c * ky), 1)
            field = replace(run.field, jigs=(*run.field.jigs, Jig(name, corner, h, holds, spread)))
            made = replace(run, field=field, start=name)
            found.append((float(driven(made, seed, LAST).mean()), made))
        except (FieldsimError, ValueError):
            continue
    if not found:
        # A corner outside the field: set by eye as it was looked for.
        return run
    return max(found, key=lambda each: each[0])[1]
