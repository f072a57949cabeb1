"""Later places stay: the segments after a change are solved anew, so that the path comes back to where it was.

Of the straights, turns and arcs that follow, as few as can bring the robot back to a pose of the old path are changed,
up to the next act, square or line: that is where a place matters, or is set anew anyway. The smallest change of the
numbers does it (Gauss and Newton with the least norm; A. Bjorck, Numerical Methods for Least Squares Problems, SIAM
1996, sec. 9.2, from memory), a degree weighing as much as ``LEVER`` mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import cos, degrees, hypot, inf, radians, sin

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr, tr_later
from fieldsim.model import Alignment, Arc, Run, Segment, Straight, Turn
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.motion import Pose, along_piece, start_pose, wrapped
from fieldsim.window.dials import Refused

__all__ = ["CANNOT_STAY", "settled"]

Floats = NDArray[np.float64]

# mm that weigh as much as a degree: what a degree does at the end of half a robot and a short way. Common practice,
# no source.
LEVER = 5.0
# How near it comes back, mm and degrees; numbers are tenths.
NEAR, TURNED = 1.5, 0.3
STEPS = 25
# So often it may come hardly nearer.
SLOW = 3
# A path that comes back only by numbers that change by more than this, mm or LEVER degrees, is another path.
MOST = 3000.0

CANNOT_STAY = tr_later("what comes after cannot stay: it needs turns and straights before the next act or square")

_KEYS: dict[type[Segment], tuple[str, ...]] = {
    Straight: ("distance",), Turn: ("angle",), Arc: ("angle", "radius"),
}  # fmt: skip


def settled(before: Run, changed: Run, index: int, joints: Sequence[Pose]) -> Run | Refused:
    """``changed`` with the numbers after segment ``index`` (from 0; -1 is the start) solved anew.

    ``joints`` are the planned poses of the run ``before``, before its first segment and after each. Refused where the
    path cannot come back.
    """
    track = changed.robot.drive.track
    # From the first segment that is another one; what comes before it is where it was.
    pairs = zip(before.segments, changed.segments, strict=True)
    first = min((g for g, (old, new) in enumerate(pairs) if old != new), default=index + 1)
    pose: Floats = np.array(start_pose(changed) if index < 0 else joints[min(first, index + 1)], dtype=float)
    for segment in changed.segments[first : index + 1]:
        if isinstance(segment, Alignment):
            # Where that ends is for the simulation, and it sets the pose anew.
            return changed
        pose = along_piece(pose, *segment.travel(track), 1.0)
    if _apart(pose, joints[index + 1]) == (0.0, 0.0):
        return changed
    last = index + 1
    keys: list[tuple[int, str]] = []
    while last < len(changed.segments) and type(changed.segments[last]) in _KEYS:
        keys += [(last, key) for key in _KEYS[type(changed.segments[last])]]
        last += 1
        if len(keys) < 2:
            continue
        made = _solved(changed, pose, keys, joints[last], track)
        if made is not None:
            return made
    return Refused(tr(CANNOT_STAY))


def _solved(run: Run, begin: Floats, keys: list[tuple[int, str]], goal: Pose, track: float) -> Run | None:
    """The run with those numbers such that the last of their segments ends at the goal; None if they cannot."""
    old = np.array([getattr(run.segments[g], key) for g, key in keys], dtype=float)
    # A radius is felt less than a length; a degree as LEVER mm.
    weights = np.array([1.0 / LEVER if key == "angle" else 1.0 for _, key in keys])
    scale = np.array([1.0, 1.0, LEVER])
    values = old.copy()

    chain = _chain(run, keys, track)
    x, y, heading = (float(value) for value in begin)

    def ends(numbers: Floats) -> Floats:
        px, py, h = x, y, radians(heading)
        for kind, k, share in chain:
            s, t = _travel(kind, numbers, k, share)
            half = radians(t) / 2
            chord = s * (sin(half) / half if half else 1.0)
            px, py, h = px + chord * cos(h + half), py + chord * sin(h + half), h + 2 * half
        off: Floats = np.array([px - goal[0], py - goal[1], wrapped(degrees(h) - goal[2]) * LEVER])
        return off

    before, slow = inf, 0
    for _ in range(STEPS):
        off = ends(values)
        far = float(np.abs(off).max())
        if far < 1e-6:
            break
        if far > 0.9 * before:
            slow += 1
            if slow > SLOW:
                # It comes no nearer: these numbers cannot.
                return None
        before = far
        slopes = np.empty((3, len(keys)))
        for k in range(len(keys)):
            h = 1e-4 / weights[k] * LEVER
            up, down = values.copy(), values.copy()
            up[k], down[k] = up[k] + h, down[k] - h
            slopes[:, k] = (ends(up) - ends(down)) / (2 * h)
        # By the least change of all numbers from what they were.
        move, *_ = np.linalg.lstsq(slopes * weights, -off + slopes @ (values - old), rcond=1e-6)
        values = old + move * weights
        if not np.isfinite(values).all() or float(np.abs((values - old) / weights).max()) > MOST:
            return None
    numbers = np.round(values, 1) + 0.0
    off = ends(numbers) / scale
    if hypot(float(off[0]), float(off[1])) > NEAR or abs(float(off[2])) > TURNED:
        return None
    segments = list(run.segments)
    try:
        for k, (g, key) in enumerate(keys):
            if numbers[k] != old[k]:
                segments[g] = replace(segments[g], **{key: float(numbers[k])})  # type: ignore[arg-type]
        return replace(run, segments=tuple(segments))
    except FieldsimError:
        return None


def _chain(run: Run, keys: list[tuple[int, str]], track: float) -> list[tuple[type[Segment], int, float]]:
    """The segments of the keys: their kind, where their numbers begin, and of a turn what the axle drives for a
    degree, mm."""
    found: list[tuple[type[Segment], int, float]] = []
    for k, (g, _) in enumerate(keys):
        if k and keys[k - 1][0] == g:
            continue
        segment = run.segments[g]
        s, t = segment.travel(track) if isinstance(segment, Turn) else (0.0, 1.0)
        found.append((type(segment), k, s / t))
    return found


def _travel(kind: type[Segment], numbers: Floats, k: int, share: float) -> tuple[float, float]:
    """``segment.travel`` with other numbers, also such as no segment may have."""
    if kind is Straight:
        return float(numbers[k]), 0.0
    angle = float(numbers[k])
    if kind is Turn:
        return share * angle, angle
    return abs(radians(angle)) * float(numbers[k + 1]), angle


def _apart(pose: Floats, other: Pose) -> tuple[float, float]:
    """mm and degrees between two poses, those that are none left out."""
    far = hypot(float(pose[0]) - other[0], float(pose[1]) - other[1])
    turned = abs(wrapped(float(pose[2]) - other[2]))
    return (far if far > 1e-6 else 0.0), (turned if turned > 1e-6 else 0.0)
