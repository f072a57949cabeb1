"""What to watch on a drive: the tightest gaps, with where on the robot they are, and what goes wrong most often.

Millimetres and degrees; poses and points in the field frame unless they say 'robot frame'.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot, inf, isfinite
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from fieldsim.cards.run.start import CORNERS, SIDES, TIE
from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.motion import along_piece, wrapped
from fieldsim.sim.plan import Plan, typical_path
from fieldsim.sim.shapes import Core, Points, meet
from fieldsim.sim.trials import typical
from fieldsim.stats.intervals import Share
from fieldsim.studies.attempt import Tried

# A gap wider than this on a usual drive needs no gauge block. Common practice, no source.
WATCHED_GAP = 50.0
# More gaps, or more troubles, than these are too many to watch in half a minute.
MOST_GAPS = 6
MOST_TROUBLES = 3
# A place on the robot is told only if its gap is the one that the exact sweep found, within this, mm.
SAME_GAP = 0.5
# How finely a segment is looked through for that place: steps of each piece, twice over.
LOOKS = 33


@dataclass(frozen=True)
class Gap:
    """A tight place to check with a gauge block."""

    step: int
    obstacle: str
    gap: Annotated[float, "mm"]
    """mm that are left with the robot's known bias and no chance: what is seen on a usual drive."""
    planned: Annotated[float, "mm"]
    """mm that are left as programmed."""
    left: Annotated[float | None, "mm"]
    """mm that are left in 19 of 20 trials, over the whole run; None if no trial was done."""
    part: str | None
    """'body' or the attachment that comes nearest; None if that could not be told."""
    place: str | None
    """A corner such as 'rear left corner', or a side such as 'left side'; of the body."""
    side: str | None
    """On which side of the robot the obstacle is then: 'front', 'left', 'right' or 'rear'."""


@dataclass(frozen=True)
class Trouble:
    """What goes wrong first, and how often: see ``fieldsim.sim.failures.Failure``."""

    why: str
    what: str
    step: int
    count: int
    share: Share


def gaps(tried: Tried) -> tuple[Gap, ...]:
    """The tightest places, each obstacle once, at the step where a usual drive comes nearest to it."""
    ready = tried.ready
    usual = typical(ready)
    path = typical_path(ready)
    answers = {gap.obstacle: gap for gap in tried.answer.clearance}
    near = [
        (float(usual.clearance[0, n]), n)
        for n in range(len(ready.solids))
        if usual.tightest[0, n] > 0 and usual.clearance[0, n] < WATCHED_GAP
    ]
    found = []
    for gap, n in sorted(near)[:MOST_GAPS]:
        name = ready.solids[n].name
        answer = answers.get(name)
        # A robot that comes back on its own track is as near on two steps: take the one that trials tell of.
        for step in (answer.segment if answer else 0, int(usual.tightest[0, n])):
            part, place, side = _nearest_place(ready, path, n, step, gap) if step else (None, None, None)
            if part is not None:
                break
        planned = answer.nominal if answer and not answer.stands else gap
        left = answer.p05 if answer and tried.answer.trials else None
        found.append(Gap(step, name, gap, planned if isfinite(planned) else gap, left, part, place, side))
    return tuple(found)


def _nearest_place(
    ready: Plan, path: NDArray[np.float64], obstacle: int, step: int, gap: float
) -> tuple[str | None, str | None, str | None]:
    """Part, place and side of the robot where it comes nearest to an obstacle on a step; None three times if what is
    found there is not the gap."""
    wheels, solid = ready.course.wheels, ready.solids[obstacle]
    parts = [part for part in ready.parts if meet(part, solid)]
    best = inf
    told: tuple[str | None, str | None, str | None] = (None, None, None)
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
                told = (part.of, place, _side(away, poses[at, 2]))
            step_wide = (high - low) / (LOOKS - 1)
            low, high = max(0.0, shares[at] - step_wide), min(1.0, shares[at] + step_wide)
    return told if abs(best - gap) <= SAME_GAP else (None, None, None)


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


def troubles(tried: Tried) -> tuple[Trouble, ...]:
    """What goes wrong first most often."""
    return tuple(
        Trouble(each.why, each.what, each.segment, each.count, each.share)
        for each in tried.answer.first[:MOST_TROUBLES]
    )
