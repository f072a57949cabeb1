"""Proof that nothing gets through: not even the largest disc that fits into the body.

The body holds a disc about its middle. Wherever the robot drives, that disc drives; so where the disc cannot get from
the start to a target, no robot with that body can, however it turns. The disc's middle has to stay in what is left of
the field when everything is grown by the disc's radius (the Minkowski sum: de Berg and others, Computational Geometry,
3rd ed. 2008, ch. 13). Curves are cut inwards and the disc is taken half a millimetre small, so that roundings never
make a way impossible that is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin
from typing import Annotated

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fieldsim.model import Straight, Target
from fieldsim.planning.corridors import ground
from fieldsim.planning.legs import Task
from fieldsim.sim.endings import tool_point
from fieldsim.sim.motion import start_pose
from fieldsim.sim.shapes import polygon

# How much smaller the disc is taken than it is, mm, and how exactly the widest way is found.
CARE = 0.5
EXACT = 0.25


@dataclass(frozen=True)
class ProofAnswer:
    """Why the robot cannot get there at all: the widest way is too narrow for any body that holds such a disc."""

    to: Annotated[str, "the target or area that cannot be reached"]
    widest: Annotated[float, "mm, the widest way there"]
    """For a disc, as wide as the narrow way itself."""
    needs: Annotated[float, "mm, the least that the body needs"]
    between: Annotated[tuple[str, ...], "what stands on both sides of the narrowest place of that way"]
    at: Annotated[tuple[float, float], "where that is: x, y in mm"]


def disc_of(task: Task) -> tuple[float, float]:
    """The largest disc in the body: how far ahead of the axle its middle is, and its radius, mm."""
    body = task.robot.body
    return body.length / 2 - body.axle, min(body.length, body.width) / 2


def nothing_through(task: Task) -> ProofAnswer | None:
    """The proof that the task cannot be done from any of its starts; None if that cannot be proved."""
    proofs = [_from(task, number) for number in range(len(task.starts))]
    if any(proof is None for proof in proofs):
        return None
    return max((proof for proof in proofs if proof is not None), key=lambda proof: proof.widest)


class _Ground:
    def __init__(self, task: Task) -> None:
        floor = ground(task.field, task.robot, (), frozenset(task.may_touch))
        self.things: list[tuple[str, BaseGeometry]] = []
        for number, name in enumerate(floor.names):
            cores = [
                floor.cores[k] for k in np.flatnonzero(floor.owner == number) if k in set(floor.pairs[:, 1].tolist())
            ]
            if cores:
                shapes = [
                    shapely.Polygon(c.points)
                    if len(c.points) > 2
                    else shapely.Point(c.points[0]).buffer(c.radius, quad_segs=32)
                    for c in cores
                ]
                self.things.append((name, shapely.union_all(shapes)))
        self.whole = shapely.union_all([shape for _, shape in self.things])
        self.board = shapely.box(0.0, 0.0, *task.field.size).buffer(300.0)

    def parts(self, radius: float) -> list[BaseGeometry]:
        """What is left for the middle of a disc, in connected parts."""
        free = self.board.difference(shapely.buffer(self.whole, max(radius, 1e-3), quad_segs=16))
        return [part for part in shapely.get_parts(free) if not part.is_empty]


def _from(task: Task, number: int) -> ProofAnswer | None:
    ahead, radius = disc_of(task)
    x, y, heading = start_pose(task.run(task.starts[number], (Straight(1.0),)))
    start = shapely.Point(x + ahead * cos(radians(heading)), y + ahead * sin(radians(heading)))
    floor = _Ground(task)
    wanted: list[tuple[str, BaseGeometry]] = [
        (name, _where_it_acts(task, next(t for t in task.field.targets if t.name == name))) for name in task.targets
    ]
    if task.finish is not None:
        area = next(a for a in task.field.start_areas if a.name == task.finish)
        wanted.append((task.finish, polygon(area.shape)))
    for name, region in wanted:
        if _joins(floor, radius - CARE, start, region):
            continue
        low, high = 0.0, radius - CARE
        while high - low > EXACT / 2:
            middle = (low + high) / 2
            low, high = (middle, high) if _joins(floor, middle, start, region) else (low, middle)
        between, at = _narrowest(floor, high, start, region)
        return ProofAnswer(name, 2 * low, 2 * radius, between, at)
    return None


def _joins(floor: _Ground, radius: float, start: BaseGeometry, region: BaseGeometry) -> bool:
    """Can the middle of the disc get from the start into the region? A start that is not free itself proves nothing."""
    parts = floor.parts(radius)
    home = [part for part in parts if part.distance(start) < 2 * CARE]
    return not home or any(part.intersects(region) for part in home)


def _narrowest(
    floor: _Ground, radius: float, start: BaseGeometry, region: BaseGeometry
) -> tuple[tuple[str, ...], tuple[float, float]]:
    """Where a disc of a radius that just does not fit is stopped, and by what."""
    parts = floor.parts(radius)
    home = [part for part in parts if part.distance(start) < 2 * CARE]
    there = [part for part in parts if part.intersects(region)] or [region]
    lines = [shapely.shortest_line(a, b) for a in home for b in there]
    middle = min(lines, key=lambda line: line.length).interpolate(0.5, normalized=True)
    near = sorted(floor.things, key=lambda thing: thing[1].distance(middle))
    return tuple(name for name, _ in near[:2]), (float(middle.x), float(middle.y))


def _where_it_acts(task: Task, target: Target) -> BaseGeometry:
    """Where the middle of the body may be when the tool is in place; rather too much than too little."""
    ahead, _ = disc_of(task)
    tx, ty = tool_point(task.robot, task.wear)
    arm, within = hypot(tx - ahead, ty), target.within + CARE
    if target.heading is not None and target.heading_within is not None:
        low, high = target.heading - target.heading_within, target.heading + target.heading_within
        turns = np.radians(np.linspace(low, high, 9))
        points = [
            (target.at[0] - cos(h) * (tx - ahead) + sin(h) * ty, target.at[1] - sin(h) * (tx - ahead) - cos(h) * ty)
            for h in turns
        ]
        # Between two of the headings the middle strays from their chord by less than this.
        bow = arm * (1 - cos(radians(target.heading_within) / 8))
        return shapely.LineString(points).buffer((within + bow) * 1.01)
    outer = shapely.Point(target.at).buffer((arm + within) * 1.01, quad_segs=64)
    inner = arm - within
    return outer if inner <= 0 else outer.difference(shapely.Point(target.at).buffer(inner * 0.99, quad_segs=64))
