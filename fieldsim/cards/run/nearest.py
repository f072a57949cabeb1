"""Where a robot comes nearest to an obstacle on a step: with which part of it, and at which spot of the obstacle.

Millimetres and degrees; points in the field frame unless they say 'robot frame'.
"""

from __future__ import annotations

from math import atan2, degrees, hypot, inf, radians, sin
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.cards.run.start import CORNERS, SIDES, TIE
from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.motion import along_piece, wrapped
from fieldsim.sim.plan import Plan
from fieldsim.sim.shapes import Core, Points, meet

# A place on the robot is told only if its gap is the one that the exact sweep found, within this, mm.
SAME_GAP = 0.5
# How finely a segment is looked through for that place: steps of each piece, twice over.
LOOKS = 33
# Eight sides of an obstacle: towards one of the four walls, or between two of them.
SIDEWAYS = sin(radians(22.5))


class Nearest(NamedTuple):
    """Where a robot and an obstacle are nearest to each other."""

    part: str
    """'body' or the attachment's name."""
    place: str | None
    """A corner such as 'rear left corner', or a side such as 'left side'; of the body."""
    side: str | None
    """On which side of the robot the obstacle is then: 'front', 'left', 'right' or 'rear'."""
    at: tuple[float, float]
    """Halfway between the two."""
    which: str | None
    """The side of the obstacle, as the team sees the field: 'near', 'far', 'left', 'right', 'near left'..."""


def nearest_place(ready: Plan, path: NDArray[np.float64], obstacle: int, step: int, gap: float) -> Nearest | None:
    """Where the robot comes nearest to an obstacle on a step; None if what is found there is not the gap."""
    wheels, solid = ready.course.wheels, ready.solids[obstacle]
    parts = [part for part in ready.parts if meet(part, solid)]
    best = inf
    told: Nearest | None = None
    for p in range(int(wheels.piece[step - 1]), int(wheels.piece[step])):
        pose = (path[p, X], path[p, Y], degrees(path[p, H]))
        low, high = 0.0, 1.0
        for _ in range(2):
            shares = np.linspace(low, high, LOOKS)
            poses = along_piece(pose, path[p, S], degrees(path[p, T]), shares)
            all_placed = [_seen_from(part.points - (wheels.ahead[p], 0.0), poses) for part in parts]
            away_by = [_apart(placed, core) for placed in all_placed for core in solid.cores]
            if not away_by:
                return told
            at, pair = np.unravel_index(np.argmin(np.stack(away_by, axis=1)), (LOOKS, len(away_by)))
            part, core = parts[pair // len(solid.cores)], solid.cores[pair % len(solid.cores)]
            placed = all_placed[pair // len(solid.cores)][at]
            distance, edge, fraction, away = _closest(placed, core)
            if distance < best:
                best = distance
                place = _place(part.points, edge, fraction, placed, core) if part.of == "body" else None
                point = _along_edge(placed, edge, fraction)
                way = away * (1.0 - core.radius / hypot(*away)) if away.any() else away
                x, y = point + way / 2
                side = _side(away, poses[at, 2])
                which = _which(away) if obstacle < len(ready.run.field.obstacles) else None
                told = Nearest(part.of, place, side, (float(x), float(y)), which)
            step_wide = (high - low) / (LOOKS - 1)
            low, high = max(0.0, shares[at] - step_wide), min(1.0, shares[at] + step_wide)
    return told if abs(best - gap) <= SAME_GAP else None


def _seen_from(points: Points, poses: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, n, 2) points (n, 2) of the robot in the field, at each of its poses (k, 3)."""
    c, s = np.cos(np.radians(poses[:, 2]))[:, None], np.sin(np.radians(poses[:, 2]))[:, None]
    x, y = points.T
    return np.stack([c * x - s * y + poses[:, 0, None], s * x + c * y + poses[:, 1, None]], axis=-1)


def _apart(parts: NDArray[np.float64], core: Core) -> NDArray[np.float64]:
    """(k,) how far an outline is from a core at each of its places (k, n, 2), as ``_closest`` has it."""
    edges, sides = np.roll(parts, -1, axis=1) - parts, np.roll(core.points, -1, axis=0) - core.points
    between = core.points - parts[:, :, None]
    u = np.clip(_along(between, edges[:, :, None]), 0.0, 1.0)[..., None]
    v = np.clip(_along(-between, sides), 0.0, 1.0)[..., None]
    found: NDArray[np.float64] = np.minimum(
        np.linalg.norm(between - u * edges[:, :, None], axis=-1).min(axis=(1, 2)),
        np.linalg.norm(between + v * sides, axis=-1).min(axis=(1, 2)),
    )
    return found - core.radius


def _closest(part: Points, core: Core) -> tuple[float, int, float, NDArray[np.float64]]:
    """How far two convex outlines that do not meet are from each other, mm; at which edge of the first and how far
    along it (0 to 1); and the way from there to the other. Of two such outlines a corner of one is nearest."""
    a, ab = part, np.roll(part, -1, axis=0) - part
    o, oo = core.points, np.roll(core.points, -1, axis=0) - core.points
    # Corners of the core (columns) against edges of the part (rows), and the other way round.
    u = np.clip(_along(o[None] - a[:, None], ab[:, None]), 0.0, 1.0)
    to_core = o[None] - (a[:, None] + u[..., None] * ab[:, None])
    v = np.clip(_along(a[:, None] - o[None], oo[None]), 0.0, 1.0)
    to_edge = o[None] + v[..., None] * oo[None] - a[:, None]
    i, j = np.unravel_index(np.hypot(*np.moveaxis(to_core, -1, 0)).argmin(), u.shape)
    k, m = np.unravel_index(np.hypot(*np.moveaxis(to_edge, -1, 0)).argmin(), v.shape)
    one, other = to_core[i, j], to_edge[k, m]
    if hypot(*other) < hypot(*one):
        return float(hypot(*other)) - core.radius, int(k), 0.0, other
    return float(hypot(*one)) - core.radius, int(i), float(u[i, j]), one


def _along(points: NDArray[np.float64], edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far along edges points lie, as a share of them; 0 for an edge without length (of an outline of one point)."""
    length = (edges * edges).sum(axis=-1)
    share: NDArray[np.float64] = (points * edges).sum(axis=-1) / np.where(length > 0, length, 1.0)
    return share


def _place(body: Points, edge: int, fraction: float, placed: Points, core: Core) -> str:
    """A corner or a side of the body; a side too where both its ends are as near as its nearest point."""
    count = len(body)
    if 0.0 < fraction < 1.0:
        return SIDES[edge]
    corner = edge if fraction == 0.0 else (edge + 1) % count
    distances = [_closest(placed[[n, n]], core)[0] for n in range(count)]
    for neighbour, side in (((corner + 1) % count, corner), ((corner - 1) % count, (corner - 1) % count)):
        if abs(distances[neighbour] - distances[corner]) < TIE:
            return SIDES[side]
    return f"{CORNERS[corner]} corner"


def _side(away: NDArray[np.float64], heading: float) -> str | None:
    """On which side of the robot the way from it to an obstacle leads."""
    if not away.any():
        return None
    seen = wrapped(degrees(atan2(away[1], away[0])) - heading)
    return ("front", "left", "rear", "right")[round(seen / 90.0) % 4]


def _along_edge(placed: Points, edge: int, fraction: float) -> NDArray[np.float64]:
    found: NDArray[np.float64] = placed[edge] + fraction * (placed[(edge + 1) % len(placed)] - placed[edge])
    return found


def _which(away: NDArray[np.float64]) -> str | None:
    """On which side of an obstacle the robot passes, as the team sees it, from the way to the obstacle."""
    length = hypot(*away)
    if length == 0.0:
        return None
    across, up = away / length
    words = [] if abs(up) < SIDEWAYS else ["near" if up > 0 else "far"]
    words += [] if abs(across) < SIDEWAYS else ["left" if across > 0 else "right"]
    return " ".join(words)
