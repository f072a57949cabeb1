"""Edges without noise against plain geometry: the widest body of a random scene by bisection over certified sweeps, and
how far a start may be off by what shapely says of the ground that is swept.

The sweeps are those of `tests/reference.py`, which shares no code with the kernel; poses and travel are worked out
here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from math import cos, degrees, hypot, pi, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from plans import PERFECT, STILL, cluttered
from reference import certified_clearance, placed, poses
from shapely import affinity

from fieldsim.model import Arc, Box, Run, StartByEye, Straight, Turn
from fieldsim.studies.slack import slack
from fieldsim.studies.widths import widths

Floats = NDArray[np.float64]
Piece = tuple[tuple[float, float, float], float, float]

# Widths that are looked at; how closely the edge is found here, mm.
NARROW, WIDE, CLOSE = 40.0, 320.0, 0.002
# What is nearer than this touches, mm, as in the kernel.
TOUCH = 1e-5


def scene(seed: int, boxes: int = 40) -> Run:
    """A run among boxes, none of which a narrow body meets, on a floor whose walls are far away."""
    run = cluttered(seed, boxes, PERFECT)
    run = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=120.0)))
    moved = tuple(
        replace(each, shape=replace(each.shape, center=(each.shape.center[0] + 900.0, each.shape.center[1] + 900.0)))  # type: ignore[union-attr]
        for each in run.field.obstacles
    )
    assert isinstance(run.start, StartByEye)
    x, y = run.start.at
    run = replace(
        run, start=StartByEye((x + 900.0, y + 900.0), run.start.heading, STILL),
        field=replace(run.field, size=(4000.0, 3600.0), obstacles=moved),
    )  # fmt: skip
    clear = tuple(
        each for each in moved if not touches(replace(run, field=replace(run.field, obstacles=(each,))), 125.0)
    )
    return replace(run, field=replace(run.field, obstacles=clear))


def pieces(run: Run) -> Iterator[Piece]:
    """Each rigid rotation of the planned run: pose (mm, radians), travel and turn."""
    assert isinstance(run.start, StartByEye)
    pose = (*run.start.at, radians(run.start.heading))
    for segment in run.segments:
        match segment:
            case Straight():
                s, t = segment.distance, 0.0
            case Arc():
                t = radians(segment.angle)
                s = abs(t) * segment.radius
            case Turn(about="left wheel"):
                t = radians(segment.angle)
                s = t * run.robot.drive.track / 2
            case Turn(about="right wheel"):
                t = radians(segment.angle)
                s = -t * run.robot.drive.track / 2
            case Turn():
                t, s = radians(segment.angle), 0.0
            case _:
                raise TypeError(segment)
        yield pose, s, t
        x, y, h = poses(pose, s, t, [1.0])[0]
        pose = (float(x), float(y), float(h))


def body(run: Run, width: float) -> Floats:
    size = run.robot.body
    back, front = -size.axle, size.length - size.axle
    return np.array([(front, -width / 2), (front, width / 2), (back, width / 2), (back, -width / 2)])


def corners(box: Box) -> Floats:
    """(4, 2) of a box in the field."""
    w, d = box.size
    h = radians(box.heading)
    turn = np.array([[cos(h), -sin(h)], [sin(h), cos(h)]])
    return np.asarray(np.array([(-w, -d), (w, -d), (w, d), (-w, d)]) / 2 @ turn.T + box.center)


def touches(run: Run, width: float) -> bool:
    """Whether a body that wide meets a box on the planned way. A coarse look first: most widths meet nothing at all."""
    outline = body(run, width)
    for each in run.field.obstacles:
        assert isinstance(each.shape, Box)
        core = corners(each.shape)
        for pose, s, t in pieces(run):
            x, y = each.shape.center
            far = hypot(x - pose[0], y - pose[1]) - hypot(*each.shape.size) / 2 - abs(s) - np.hypot(*outline.T).max()
            if far <= 0 and certified_clearance(outline, pose, s, t, core, tol=TOUCH / 10)[1] <= TOUCH:
                return True
    return False


def widest(run: Run) -> float | None:
    """The widest body that touches nothing, by bisection; None if the widest that is looked at does not either."""
    low, high = 125.0, WIDE
    if not touches(run, high):
        return None
    while high - low > CLOSE:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if touches(run, middle) else (middle, high)
    return low


def width_errors(scenes: int, first: int = 0) -> list[float]:
    """By how much the study's edge without noise is off, mm, in scenes where there is one."""
    found = []
    for seed in range(first, first + scenes):
        run = scene(seed)
        wanted = widest(run)
        answer = widths(run, low=NARROW, high=WIDE, step=140.0, trials=1, to=100.0)
        told = None if answer.geometry is None else answer.geometry.value
        if wanted is None:
            assert told is None or told >= WIDE, (seed, told)
        else:
            assert told is not None, (seed, wanted)
            found.append(abs(told - wanted))
    return found


def swept(run: Run) -> shapely.Geometry:
    """The ground that the body covers, but for 0.001 mm or so: the hull of neighbouring poses, finely stepped."""
    outline = body(run, run.robot.body.width)
    found = []
    for pose, s, t in pieces(run):
        count = max(2, int(abs(degrees(t)) / 0.25) + 2)
        there = [shapely.Polygon(each) for each in placed(outline, poses(pose, s, t, np.linspace(0.0, 1.0, count)))]
        found += [shapely.union(one, other).convex_hull for one, other in pairwise(there)]
    return shapely.union_all(found)


def _exactly(run: Run, about: float, ux: float, uy: float) -> float:
    """Where a start that is moved this way first touches, near where it is known to, by bisection over certified
    sweeps."""
    assert isinstance(run.start, StartByEye)
    x, y = run.start.at

    def at(off: float) -> bool:
        moved = StartByEye((x + off * ux, y + off * uy), run.start.heading, STILL)  # type: ignore[union-attr]
        return touches(replace(run, start=moved), run.robot.body.width)

    low, high = max(0.0, about - 0.2), about + 0.2
    while high - low > CLOSE:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if at(middle) else (middle, high)
    return low


def slack_errors(scenes: int, first: int = 0, most: float = 120.0) -> list[float]:
    """By how much the study's edges without noise are off along and across the start, mm."""
    found = []
    for seed in range(first, first + scenes):
        run = scene(seed)
        area = swept(run)
        things = shapely.union_all([shapely.Polygon(corners(each.shape)) for each in run.field.obstacles])  # type: ignore[arg-type]
        if things.is_empty:
            continue
        assert isinstance(run.start, StartByEye)
        edges = slack(run, trials=1, maps=False).geometry
        for pair, way in ((edges.x, run.start.heading * pi / 180), (edges.y, run.start.heading * pi / 180 + pi / 2)):
            for value, sign in zip(pair, (-1, 1), strict=True):
                gone = 0.0
                while gone < most:
                    step = affinity.translate(area, sign * gone * cos(way), sign * gone * sin(way)).distance(things)
                    if step < 1e-6:
                        break
                    gone += step
                if gone < most:
                    # Where the ground slides by a corner at a flat angle, its steps are seen.
                    if abs(abs(value) - gone) > CLOSE:
                        gone = _exactly(run, gone, sign * cos(way), sign * sin(way))
                    found.append(abs(abs(value) - gone))
                else:
                    assert abs(value) >= most - 1.0, (seed, value, gone)
    return found


def table(short: bool = False) -> str:
    scenes = 3 if short else 20
    lines = ["| edge without noise | scenes | edges | largest error, mm |", "|---|---|---|---|"]
    for name, errors in (("widest body", width_errors(scenes)), ("start off, along and across", slack_errors(scenes))):
        lines.append(f"| {name} | {scenes} | {len(errors)} | {max(errors):.4f} |")
    return "\n".join(lines)
