"""How the robot is set: what holds it, and the three distances that show with a ruler that it stands right.

Millimetres and degrees; poses and points in the field frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi, radians, sin
from typing import Annotated

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldsim.model import (
    Box,
    Field,
    Run,
    StartByEye,
)
from fieldsim.sim.motion import jig_of, start_pose, wrapped
from fieldsim.sim.shapes import body_corners, polygon
from fieldsim.studies.answer import Pose

# Corners this much nearer to a wall than others are nearer, mm: finer than any ruler.
TIE = 0.05
# A side that lies this much on something, mm, is seen to lie on it: less is a corner.
FLUSH = 10.0
# How wide a strip of the way from a corner to a wall has to be free for a ruler, mm.
RULER = 2.0

CORNERS = ("rear left", "rear right", "front right", "front left")
"""Names of ``fieldsim.sim.shapes.body_corners``, in its order."""
SIDES = ("rear", "right side", "front", "left side")
"""The sides between one of ``CORNERS`` and the next."""


@dataclass(frozen=True)
class Measure:
    """A distance to check with a ruler: from a corner of the body square to a wall."""

    letter: str
    corner: str
    """Such as 'rear left'."""
    wall: str
    """Such as 'left wall', or 'left edge' on an open board."""
    at: tuple[float, float]
    """Where the corner stands."""
    distance: Annotated[float, "mm"]
    """mm; negative if it stands beyond the wall."""
    over: Annotated[str | None, "what is between"]
    """An obstacle that is between, so that the ruler has to be held over it."""


@dataclass(frozen=True)
class Flush:
    """A side of the body that lies flat on something: seen without a ruler."""

    side: str
    """Such as 'rear'."""
    against: str
    """A wall, or an obstacle's name."""


@dataclass(frozen=True)
class StartValues:
    """How the robot is set: the jig that holds it (None by eye), and what a ruler finds then.

    A and B are the corners nearest to the two nearest walls, one to the side and one ahead or behind. C is the other
    end of one of the two sides that A and B belong to: with the first one it shows the heading.
    """

    jig: str | None
    holds: Annotated[str | None, "corner of the body"]
    """The held corner, such as 'rear left'."""
    held_at: Annotated[tuple[float, float] | None, "mm"]
    pose: Annotated[Pose, "x and y in mm, heading in degrees; field frame"]
    measures: tuple[Measure, Measure, Measure]
    check: Annotated[tuple[str, str], "letters of two measures that tell the heading"]
    """The letters of the two that show the heading."""
    side: str
    """The side of the body between those two, such as 'left side'."""
    difference: Annotated[float, "mm"]
    """By how much the second of those is larger than the first if the heading is right, mm."""
    per_degree: Annotated[float, "mm"]
    """By how much that changes with a degree, mm."""
    spread: Annotated[tuple[float, float, float], "mm, mm, degrees"]
    """How exactly it is set, standard deviations: mm along and across its heading, degrees."""
    flush: Annotated[tuple[Flush, ...], "what it lies flat on"]


def start_values(run: Run) -> StartValues:
    """How the robot is set, and the three distances that show it."""
    x, y, h = start_pose(run)
    c, s = cos(radians(h)), sin(radians(h))
    corners = body_corners(run.robot.body) @ np.array([(c, s), (-s, c)]) + (x, y)
    jig = None if isinstance(run.start, StartByEye) else jig_of(run.field, run.start)
    holds = jig.holds if jig else None
    w, d = run.field.size
    noun = "edge" if run.field.walls is None else "wall"
    from_wall = {
        f"left {noun}": corners[:, 0], f"right {noun}": w - corners[:, 0],
        f"near {noun}": corners[:, 1], f"far {noun}": d - corners[:, 1],
    }  # fmt: skip
    walls = list(from_wall)
    chosen = [min(pair, key=lambda wall: float(from_wall[wall].min())) for pair in (walls[:2], walls[2:])]

    def over(corner: int, wall: str) -> str | None:
        return _between(run.field, corners[corner], wall, float(from_wall[wall][corner]))

    def order(wall: str) -> list[int]:
        """Corners, the nearest first; of two equally near ones one with a free way to the wall, or that in the jig."""
        return sorted(
            range(4),
            key=lambda i: (round(float(from_wall[wall][i]) / TIE), over(i, wall) is not None, CORNERS[i] != holds, i),
        )

    def measure(letter: str, corner: int, wall: str) -> Measure:
        at = (float(corners[corner, 0]), float(corners[corner, 1]))
        return Measure(letter, CORNERS[corner], wall, at, float(from_wall[wall][corner]), over(corner, wall))

    def per_degree(wall: str) -> float:
        """How much the two nearest corners' distances differ for a degree: the side, as it is seen along the wall."""
        a, b = order(wall)[:2]
        across = corners[b] - corners[a]
        return float(abs(across[1] if wall.startswith(("left", "right")) else across[0]) * pi / 180.0)

    ends = [order(wall) for wall in chosen]
    first = [measure(letter, end[0], wall) for letter, end, wall in zip("AB", ends, chosen, strict=True)]
    told = max((0, 1), key=lambda i: (round(per_degree(chosen[i]), 6), -first[i].distance))
    third = measure("C", ends[told][1], chosen[told])
    spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
    return StartValues(
        jig=jig.name if jig else None,
        holds=holds,
        held_at=jig.corner if jig else None,
        pose=(x, y, wrapped(h)),
        measures=(first[0], first[1], third),
        check=(first[told].letter, "C"),
        side=_side_between(ends[told][0], ends[told][1]),
        difference=third.distance - first[told].distance,
        per_degree=per_degree(chosen[told]),
        spread=(spread.along, spread.across, spread.heading),
        flush=tuple(_flush(run.field, corners)),
    )


def _flush(field: Field, corners: NDArray[np.float64]) -> Iterator[Flush]:
    """The sides of the body that lie flat on a wall, or along at least ``FLUSH`` mm of an obstacle."""
    w, d = field.size
    walls = {} if field.walls is None else {
        "left wall": corners[:, 0], "right wall": w - corners[:, 0], "near wall": corners[:, 1],
        "far wall": d - corners[:, 1],
    }  # fmt: skip
    for n, side in enumerate(SIDES):
        a, b = corners[n], corners[(n + 1) % 4]
        for wall, away in walls.items():
            if max(abs(away[n]), abs(away[(n + 1) % 4])) < TIE:
                yield Flush(side, wall)
        # A thin strip along the side, outwards: where an obstacle fills it, the side lies on that.
        strip = shapely.LineString([a, b]).buffer(TIE, cap_style="flat")
        for obstacle in field.obstacles:
            if strip.intersection(polygon(obstacle.shape)).area > FLUSH * TIE / 2:
                yield Flush(side, obstacle.name)


def _between(field: Field, corner: NDArray[np.float64], wall: str, distance: float) -> str | None:
    """The first obstacle on the way from a corner square to a wall; None if a ruler finds room."""
    if distance < RULER:
        return None
    towards = -0.5 if wall.startswith(("left", "near")) else 0.5
    x, y = corner
    if wall.startswith(("near", "far")):
        strip = polygon(Box((x, y + towards * distance), (RULER, distance)))
    else:
        strip = polygon(Box((x + towards * distance, y), (distance, RULER)))
    # Half of the strip's width for as far as it is wide: a jig's block that only touches the corner hides nothing.
    hidden = RULER * RULER / 2
    return next((o.name for o in field.obstacles if polygon(o.shape).intersection(strip).area > hidden), None)


def _side_between(one: int, other: int) -> str:
    """The side of the body between two neighbouring corners."""
    return SIDES[one] if other == (one + 1) % 4 else SIDES[other]
