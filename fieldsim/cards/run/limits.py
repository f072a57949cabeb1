"""How far what is measured at the start may be off: the edges of `slack`, as a ruler finds them.

Millimetres. Each limit is for one measure that is off while all else is right.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, inf, radians, sin
from typing import Annotated

from fieldsim.cards.run.start import Measure, StartValues
from fieldsim.studies.slack_answer import Edges, SlackAnswer

# A direction whose part along an axis is smaller than this does not move the robot that way.
LEVEL = 1e-9


@dataclass(frozen=True)
class Limits:
    """How far the three measures may be off, either way, before fewer than ``need`` get through."""

    need: Annotated[float, "share that has to get through"]
    a: Annotated[float, "mm, give or take"]
    b: Annotated[float, "mm, give or take"]
    difference: Annotated[float, "mm, give or take"]
    """Of the two that tell the heading: how far the second less the first may be from what it should be."""
    degrees: Annotated[float, "give or take"]
    """The same as an angle."""


def limits(start: StartValues, off: SlackAnswer) -> Limits | None:
    """The edges of ``off`` as limits of what a ruler finds; None where the run hardly ever gets through.

    The narrower of both sides counts, and a side to which the robot stands against something does not: it cannot be
    set farther that way. Where a wall is slanting to the robot, being off from it is being off along and across the
    heading, and the limit is where a straight line between both edges is crossed: no farther than the true one, as long
    as two starts that are good enough have only such ones between them.

    Where something is lain on, only one end of the side that tells the heading is measured: what is off there may as
    well be the heading, and the narrower of both limits counts.
    """
    if off.hopeless or off.interrupted or not off.meets_need:
        return None
    turned = _narrower(*_open(off.slack.heading, off.slack.ends.heading))
    difference = turned * start.per_degree
    alone = {measure.letter: _from_wall(measure, start, off.slack) for measure in start.measures[:2]}
    if start.flush:
        told = start.check[0]
        alone[told] = min(alone[told], difference)
    return Limits(off.need, alone["A"], alone["B"], difference, turned)


def _from_wall(measure: Measure, start: StartValues, edges: Edges) -> float:
    """How far the robot may be off towards or away from the measure's wall."""
    h = radians(start.pose[2])
    x, y = {"left": (1.0, 0.0), "right": (-1.0, 0.0), "near": (0.0, 1.0), "far": (0.0, -1.0)}[measure.wall.split()[0]]
    ahead, left = x * cos(h) + y * sin(h), y * cos(h) - x * sin(h)
    return _narrower(*(_reach(sign * ahead, sign * left, edges) for sign in (-1, 1)))


def _reach(ahead: float, left: float, edges: Edges) -> float:
    """mm that the start may be moved along a direction, so much of it ahead and so much to the left; infinite where it
    stands against something."""
    used = 0.0
    for part, pair, ends in ((ahead, edges.x, edges.ends.x), (left, edges.y, edges.ends.y)):
        if abs(part) < LEVEL:
            continue
        edge = _open(pair, ends)[1 if part > 0 else 0]
        if edge == 0.0:
            return 0.0
        if edge == inf:
            return inf
        used += abs(part) / edge
    return 1.0 / used


def _open(pair: tuple[float, float], ends: tuple[str, str]) -> tuple[float, float]:
    """How far to either side; infinite where the robot stands against something."""
    low, high = (inf if end.startswith("stands against") else abs(value) for value, end in zip(pair, ends, strict=True))
    return low, high


def _narrower(one: float, other: float) -> float:
    """The smaller of two sides; nought where neither is open."""
    return min(one, other) if min(one, other) < inf else 0.0
