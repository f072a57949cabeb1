"""Where something dragged near to a place is meant to be: in a jig, on a wall, in line with something, on a whole mm.

Nothing is changed here: a place goes in, and comes out with what it was drawn to, in words and as lines to draw.
Millimetres and degrees in the field frame. With ``on`` False (a key is held) everything stays as it is.

Of what lies within reach the more telling wins: a point (a corner, a middle, a jig) before an edge, an edge that is
turned before being in line with something, that before the grid, and the grid before whole millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin

from fieldsim.language import tr, tr_later
from fieldsim.model import Box, Field, Line, Obstacle, Outline, Point, Round, Run, Shape, StartArea, Target
from fieldsim.model.errors import shown
from fieldsim.model.outlines import bounding_box
from fieldsim.report.phrases import listed
from fieldsim.sim.motion import Pose, start_pose, wrapped
from fieldsim.sim.shapes import body_corners
from fieldsim.window.dials import tidy
from fieldsim.window.field.grips import corner_points, place_of
from fieldsim.window.field.plane import nearest_on
from fieldsim.window.field.things import Handle, thing_at, things

__all__ = [
    "Guide",
    "SnappedAngle",
    "SnappedPoint",
    "SnappedPose",
    "snap_angle",
    "snap_point",
    "snap_start",
    "snap_thing",
]

# How near a heading has to come to a multiple of an angle to be taken for it, degrees.
ANGLES = ((45.0, 4.0), (15.0, 2.0))
# How a heading lies to another thing.
ALONG, SQUARE_TO = tr_later("along {name}"), tr_later("square to {name}")

# Shorter ways than this, mm, are none: being where one is is no reason to say so twice.
_SAME = 1e-6


@dataclass(frozen=True)
class Guide:
    """A line to draw: from what was snapped to, to the place; a mark if both are the same point."""

    start: Point
    end: Point


@dataclass(frozen=True)
class SnappedPoint:
    """A place, and what it was drawn to: words (empty if nothing but whole numbers) and guides."""

    at: Point
    words: str = ""
    guides: tuple[Guide, ...] = ()


@dataclass(frozen=True)
class SnappedAngle:
    """A heading in (-180, 180] degrees, and the words for it if it was drawn to one."""

    heading: float
    words: str = ""


@dataclass(frozen=True)
class SnappedPose:
    """Where the robot is meant to stand; ``jig`` is the name of the jig it stands in, or None."""

    pose: Pose
    jig: str | None = None
    words: str = ""
    guides: tuple[Guide, ...] = ()


# --- angles ------------------------------------------------------------------------------------------------------


def snap_angle(
    heading: float,
    *,
    on: bool = True,
    others: Iterable[tuple[float, str]] = (),
    whole: float = 1.0,
    steps: Sequence[tuple[float, float]] = ANGLES,
) -> SnappedAngle:
    """A heading drawn to a multiple of 45 or 15 degrees, to ``others`` (heading, name) and those square to them, or
    else to a multiple of ``whole``."""
    heading = wrapped(heading)
    if not on:
        return SnappedAngle(tidy(heading))
    for step, reach in steps:
        there = wrapped(round(heading / step) * step)
        if abs(wrapped(heading - there)) <= reach:
            return SnappedAngle(there + 0.0, tr("{there:g} degrees", there=there + 0.0))
    near = [
        (abs(wrapped(heading - there)), wrapped(there), tr(words, name=shown(name)))
        for other, name in others
        for there, words in (
            (other, ALONG), (other + 180.0, ALONG), (other + 90.0, SQUARE_TO), (other - 90.0, SQUARE_TO)
        )
    ]  # fmt: skip
    if near and min(near)[0] <= steps[-1][1]:
        _, there, words = min(near)
        return SnappedAngle(tidy(there), words)
    return SnappedAngle(tidy(wrapped(round(heading / whole) * whole if whole else heading)))


# --- points ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Mark:
    """A point worth being at, or in line with."""

    at: Point
    words: str
    of: str | None
    """What to be in line with; None for the walls, which are told by themselves."""
    aligns: bool = True
    """Is it worth being in line with: not the corner of a box that is turned."""
    draws: bool = True
    """Is it worth being at."""


def _marks(field: Field, skip: Handle | None) -> Iterator[_Mark]:
    """Corners, middles and ends of all but the thing that is moved."""
    w, d = field.size
    for corner in ((0.0, 0.0), (w, 0.0), (0.0, d), (w, d)):
        yield _Mark(corner, tr("the corner of the field"), None)
    for handle, thing in things(field):
        if skip is not None and (handle.kind, handle.index) == (skip.kind, skip.index):
            continue
        name = shown(thing.name)
        match thing:
            case Obstacle() | StartArea():
                for corner in corner_points(thing.shape):
                    yield _Mark(corner, tr("a corner of {name}", name=name), name, _upright(thing.shape))
                if not isinstance(thing.shape, Outline):
                    yield _Mark(thing.shape.center, tr("the middle of {name}", name=name), name)
            case Line():
                yield _Mark(thing.start, tr("an end of {name}", name=name), name)
                yield _Mark(thing.end, tr("an end of {name}", name=name), name)
            case Target():
                yield _Mark(thing.at, tr("target {name}", name=name), name)
            case _:
                yield _Mark(thing.corner, tr("jig {name}", name=name), name)


def _upright(shape: Shape) -> bool:
    return not isinstance(shape, Box) or shape.heading % 90.0 == 0.0


def _edges(field: Field, skip: Handle | None) -> Iterator[tuple[Point, Point, str]]:
    """Sides of shapes and middles of lines that do not lie along x or y: those are lines to be in line with."""
    for handle, thing in things(field):
        if skip is not None and (handle.kind, handle.index) == (skip.kind, skip.index):
            continue
        name = shown(thing.name)
        if isinstance(thing, Line):
            ends: Sequence[Point] = (thing.start, thing.end)
            pairs = [(ends[0], ends[1])]
            words = tr("on {name}", name=name)
        elif isinstance(thing, Obstacle | StartArea):
            ends = corner_points(thing.shape)
            pairs = list(zip(ends, (*ends[1:], *ends[:1]), strict=True))
            words = tr("on the edge of {name}", name=name)
        else:
            continue
        yield from ((a, b, words) for a, b in pairs)


def snap_point(
    point: Point,
    field: Field,
    reach: float,
    *,
    on: bool = True,
    skip: Handle | None = None,
    grid: float | None = None,
    whole: float = 1.0,
    beside: Sequence[Point] = (),
) -> SnappedPoint:
    """A point drawn to what lies within ``reach`` mm.

    ``skip`` is the thing that is moved or resized itself, ``beside`` points of it that stay, such as the other end of a
    line: to be in line with, not to be at. ``grid`` is a step in mm, ``whole`` the step of a point that nothing draws
    (0 for none).
    """
    if not on:
        return SnappedPoint((tidy(point[0]), tidy(point[1])))
    marks = [*_marks(field, skip), *(_Mark(own, "", tr("itself"), draws=False) for own in beside)]
    near = min((mark for mark in marks if mark.draws), key=lambda mark: _distance(mark.at, point))
    if _distance(near.at, point) <= reach:
        return SnappedPoint(_tidied(near.at), near.words, (Guide(near.at, near.at),))
    on_edges = [
        (_distance(foot := nearest_on(a, b, point), point), foot, a, b, words) for a, b, words in _edges(field, skip)
    ]
    if on_edges:
        away, foot, a, b, words = min(on_edges, key=lambda each: each[0])
        if away <= reach and min(abs(a[0] - b[0]), abs(a[1] - b[1])) > _SAME:
            return SnappedPoint(_tidied(foot), words, (Guide(a, b),))
        if away <= reach:
            # Along x or y: the other number is free, and may be drawn to something of its own.
            n = 0 if abs(a[0] - b[0]) <= _SAME else 1
            return _lined_up(point, ((0.0, 0.0),), field, marks, reach, grid, whole, {n: (a[n], words, Guide(a, b))})
    return _lined_up(point, ((0.0, 0.0),), field, marks, reach, grid, whole, {})


_Fixed = dict[int, tuple[float, str, Guide]]


def _lined_up(
    point: Point,
    offsets: Sequence[Point],
    field: Field,
    marks: Sequence[_Mark],
    reach: float,
    grid: float | None,
    whole: float,
    fixed: _Fixed,
) -> SnappedPoint:
    """x and y, each drawn to a wall, to being in line with a mark, to the grid or to a whole number, whichever of the
    ``offsets`` (places of the thing beside its point) comes nearest."""
    values, words, seen = list(point), [], []
    for n in (0, 1):
        found = fixed.get(n) or _line(n, point, offsets, field, marks, reach)
        if found is not None:
            values[n] = found[0]
            words.append(found[1])
            seen.append((n, found[2]))
            continue
        if grid and abs(there := round(point[n] / grid) * grid - point[n]) <= reach:
            values[n] = point[n] + there
            words.append(tr("{axis} on the grid", axis="xy"[n]))
        elif whole:
            values[n] = round(point[n] / whole) * whole
    at = _tidied((values[0], values[1]))
    guides = tuple(guide if n in fixed else _to(guide, n, at) for n, guide in seen)
    return SnappedPoint(at, listed(list(dict.fromkeys(words))), guides)


_ON_WALLS = (
    (tr_later("on the left wall"), tr_later("on the right wall")),
    (tr_later("on the near wall"), tr_later("on the far wall")),
)


def _line(
    n: int, point: Point, offsets: Sequence[Point], field: Field, marks: Sequence[_Mark], reach: float
) -> tuple[float, str, Guide] | None:
    """The nearest wall, else mark, that x (n = 0) or y (n = 1) can be in line with."""
    best: tuple[float, int, float, str, Guide] | None = None
    walls = [
        (value, tr(words), _wall(field, n, value))
        for value, words in zip((0.0, field.size[n]), _ON_WALLS[n], strict=True)
    ]
    others = [
        (mark.at[n], tr("in line with {name}", name=mark.of), Guide(mark.at, mark.at))
        for mark in marks
        if mark.aligns and mark.of is not None
    ]
    for rank, lines in enumerate((walls, others)):
        for value, words, guide in lines:
            for offset in offsets:
                away = abs(point[n] + offset[n] - value)
                if away <= reach and (best is None or (away + _SAME * rank, rank) < best[:2]):
                    best = (away + _SAME * rank, rank, value - offset[n], words, guide)
    return None if best is None else best[2:]


def _wall(field: Field, n: int, value: float) -> Guide:
    w, d = field.size
    return Guide((value, 0.0), (value, d)) if n == 0 else Guide((0.0, value), (w, value))


def _to(guide: Guide, n: int, at: Point) -> Guide:
    """A wall as it is; from a mark, along x or y, to level with the place."""
    if guide.start != guide.end:
        return guide
    mark = guide.start
    return Guide(mark, (mark[0], at[1]) if n == 0 else (at[0], mark[1]))


def snap_thing(
    field: Field,
    handle: Handle,
    to: Point,
    reach: float,
    *,
    on: bool = True,
    grid: float | None = None,
    whole: float = 1.0,
) -> SnappedPoint:
    """Where a handle dragged to a point is meant to be, for `grips.grip`.

    A thing that is moved as a whole is drawn by its edges and its middle: its left edge may come in line with another
    thing, or on a wall. Handles that turn are for `snap_angle`, and come back as they are.
    """
    if handle.part == "turn" or not on:
        return SnappedPoint(_tidied(to))
    if handle.kind == "walls":
        return snap_point(to, field, reach, grid=grid, whole=whole)
    skip = handle
    if handle.part != "whole":
        own = _own_points(field, handle)
        return snap_point(to, field, reach, skip=skip, grid=grid, whole=whole, beside=own)
    thing = thing_at(field, handle)
    if not isinstance(thing, Obstacle | StartArea):
        return snap_point(to, field, reach, skip=skip, grid=grid, whole=whole)
    x, y = place_of(field, handle)
    low_x, low_y, high_x, high_y = _around(thing.shape)
    offsets = ((0.0, 0.0), (low_x - x, low_y - y), (high_x - x, high_y - y))
    return _lined_up(to, offsets, field, list(_marks(field, skip)), reach, grid, whole, {})


def _own_points(field: Field, handle: Handle) -> list[Point]:
    """What of a line or an outline stays where it is when an end or a corner is dragged."""
    thing = thing_at(field, handle)
    if isinstance(thing, Line):
        return [end for part, end in (("start", thing.start), ("end", thing.end)) if part != handle.part]
    if isinstance(thing, Obstacle | StartArea) and isinstance(thing.shape, Outline):
        return [point for n, point in enumerate(thing.shape.points) if handle.part != f"corner {n}"]
    return []


def _around(shape: Shape) -> tuple[float, float, float, float]:
    """The upright rectangle around a shape, as tight as can be."""
    if isinstance(shape, Round):
        (x, y), r = shape.center, shape.radius
        return x - r, y - r, x + r, y + r
    return bounding_box(corner_points(shape))


# --- the start ---------------------------------------------------------------------------------------------------


def snap_start(run: Run, pose: Pose, reach: float, *, on: bool = True, whole: float = 1.0) -> SnappedPose:
    """Where a robot dragged to a pose is meant to start.

    In the jig where its axle's middle would stand within ``reach`` mm, the nearest one, whatever its heading is; else
    flat on walls, if its heading is a multiple of 90 degrees; else on whole mm. The heading is left as it is, but in a
    jig.
    """
    x, y, heading = pose
    if not on:
        return SnappedPose((tidy(x), tidy(y), tidy(heading)))
    poses = [(jig.name, start_pose(replace(run, start=jig.name))) for jig in run.field.jigs]
    near = [(_distance(there[:2], (x, y)), n) for n, (_, there) in enumerate(poses)]
    if near and min(near)[0] <= reach:
        n = min(near)[1]
        name, there = poses[n]
        corner = run.field.jigs[n].corner
        return SnappedPose(there, name, tr("in jig {name}", name=shown(name)), (Guide(corner, corner),))
    if wrapped(heading * 4.0) == 0.0:
        c, s = round(cos(radians(heading))), round(sin(radians(heading)))
        corners = [(c * px - s * py, s * px + c * py) for px, py in body_corners(run.robot.body).tolist()]
        low_x, low_y, high_x, high_y = bounding_box(corners)
        offsets = ((low_x, low_y), (high_x, high_y))
        found = _lined_up((x, y), offsets, run.field, (), reach, None, whole, {})
        return SnappedPose((*found.at, tidy(heading)), None, found.words, found.guides)
    at = (round(x / whole) * whole, round(y / whole) * whole) if whole else (x, y)
    return SnappedPose((*_tidied(at), tidy(heading)))


def _tidied(point: Point) -> Point:
    return tidy(point[0]), tidy(point[1])


def _distance(a: Sequence[float], b: Sequence[float]) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])
