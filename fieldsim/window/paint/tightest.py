"""Where a run is tightest: the pair of points nearest to each other on the planned way. Knows no screen."""

from __future__ import annotations

from math import ceil

import numpy as np

from fieldsim.draw.swept import corners_at
from fieldsim.language import tr
from fieldsim.report.phrases import fixed, near_gaps
from fieldsim.sim.plan import Plan
from fieldsim.sim.shapes import meet
from fieldsim.sim.ways import Way
from fieldsim.studies.answer import TryAnswer
from fieldsim.window.paint.scene import Floats, Pinch

__all__ = ["pinch_of"]

# The tightest place is looked for in steps of this, mm of travel or degrees.
LOOK_STEP = 6.0


def pinch_of(plan: Plan, answer: TryAnswer, way: Way) -> Pinch | None:
    """The place of the smallest margin, as planned: where the robot's outline is nearest to that obstacle on the
    segment on which it is tightest most often. None if nothing comes near."""
    near = near_gaps(answer)
    if not near:
        return None
    gap = near[0]
    thing = next((solid for solid in plan.solids if solid.name == gap.obstacle), None)
    if thing is None or not 1 <= gap.segment <= len(way.segments):
        return None
    poses, shares = _close_together(way, gap.segment - 1)
    best: tuple[float, int, Floats, Floats] | None = None
    for part in plan.parts:
        if not meet(part, thing):
            continue
        placed = np.stack([corners_at(part.points, pose) for pose in poses])
        for core in thing.cores:
            d, k, p, q = _nearest(placed, core.points, core.radius)
            if best is None or d < best[0]:
                best = d, k, p, q
    if best is None:
        return None
    _, k, p, q = best
    value = gap.p05 if answer.trials else gap.nominal
    margin = fixed(np.floor(value * 10 + 1e-7) / 10, 1 if value < 10 else 0)
    words = tr("touches") if value <= 0 else tr("{gap} mm", gap=margin)
    return Pinch(gap.segment - 1 + float(shares[k]), (float(p[0]), float(p[1])), (float(q[0]), float(q[1])), words)


def _close_together(way: Way, g: int) -> tuple[Floats, Floats]:
    poses, shares = way.segments[g], way.shares[g]
    if len(poses) < 2:
        return poses, shares
    found, at = [poses[:1]], [shares[:1]]
    for a, b, u, v in zip(poses[:-1], poses[1:], shares[:-1], shares[1:], strict=True):
        steps = max(1, ceil(max(float(np.hypot(*(b - a)[:2])), abs(float(b[2] - a[2]))) / LOOK_STEP))
        f = np.linspace(0.0, 1.0, steps + 1)[1:, None]
        found.append(a + f * (b - a))
        at.append(u + f[:, 0] * (v - u))
    return np.concatenate(found), np.concatenate(at)


def _nearest(placed: Floats, core: Floats, radius: float) -> tuple[float, int, Floats, Floats]:
    """Least distance between convex polygons (k, n, 2) and a core (m, 2), which of the k, and the two points."""
    d_a, a, on_core = _to_edges(placed, core[None])
    d_b, b, on_part = _to_edges(np.broadcast_to(core, (len(placed), *core.shape)), placed)
    if d_a.min() <= d_b.min():
        k = int(d_a.argmin())
        p, q, d = a[k], on_core[k], float(d_a[k])
    else:
        k = int(d_b.argmin())
        p, q, d = on_part[k], b[k], float(d_b[k])
    if radius > 0 and d > 0:
        q = q + (p - q) * min(1.0, radius / d)
    return d - radius, k, p, q


def _to_edges(points: Floats, rings: Floats) -> tuple[Floats, Floats, Floats]:
    """For each of k sets of points (k, n, 2) and rings (k or 1, m, 2): the least distance from a point to a side, the
    point, and the foot of it."""
    a, b = rings, np.roll(rings, -1, axis=1)
    side = b - a
    length = np.maximum((side * side).sum(axis=-1), 1e-12)
    off = points[:, :, None] - a[:, None]
    u = np.clip((off * side[:, None]).sum(axis=-1) / length[:, None], 0.0, 1.0)
    foot = a[:, None] + u[..., None] * side[:, None]
    d = np.hypot(*np.moveaxis(points[:, :, None] - foot, -1, 0))
    flat = d.reshape(len(points), -1).argmin(axis=1)
    i, j = np.unravel_index(flat, d.shape[1:])
    rows = np.arange(len(points))
    return d[rows, i, j], points[rows, i], np.broadcast_to(foot, (len(points), *foot.shape[1:]))[rows, i, j]
