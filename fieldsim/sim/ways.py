"""The way of a run or of one of its trials, as poses close enough together to draw, and what is where on it.

A head is a place in segments: 3.25 is a quarter of the way through the fourth; ``fieldsim.sim.clock`` knows when.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil, isfinite

import numpy as np
from numpy.typing import NDArray

from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.motion import along_piece, shifted, start_pose
from fieldsim.sim.plan import Plan
from fieldsim.sim.trials import Trials

__all__ = ["CHORD", "Way", "going_on", "travel", "trial_way", "until_of", "way_of"]

Floats = NDArray[np.float64]
Pose = tuple[float, float, float]

# A curve is drawn in chords of this many degrees.
CHORD = 5.0
# Below this share of its arc a chord is nearly a whole turn's, and its length tells nothing.
WHOLE = 0.05


@dataclass(frozen=True, eq=False)
class Way:
    """The planned way. Equality is identity: what is drawn of it is kept as long as it is the same object."""

    segments: tuple[Floats, ...]
    """For each segment the poses (k, 3) along it, close enough together to draw; one pose where it stands."""
    shares: tuple[Floats, ...]
    """(k,) the share of the segment's way that is driven at each of them, 0 to 1."""

    def pose_at(self, head: float) -> Pose:
        g = min(max(int(head), 0), len(self.segments) - 1)
        poses, shares = self.segments[g], self.shares[g]
        u = min(max(head - g, 0.0), 1.0)
        i = int(np.searchsorted(shares, u, side="right")) - 1
        if i >= len(poses) - 1:
            x, y, h = poses[-1]
            return float(x), float(y), float(h)
        part = (u - shares[i]) / (shares[i + 1] - shares[i])
        a, b = poses[i], poses[i + 1]
        turned = float(b[2] - a[2])
        chord = float(np.hypot(b[0] - a[0], b[1] - a[1]))
        middle = np.radians(a[2] + turned / 2)
        forwards = np.cos(middle) * (b[0] - a[0]) + np.sin(middle) * (b[1] - a[1]) >= 0
        length = (chord if forwards else -chord) / float(np.sinc(np.radians(turned) / 2 / np.pi))
        x, y, h = along_piece(a, length, turned, part)
        return float(x), float(y), float(h)

    @property
    def start(self) -> Pose:
        return self.pose_at(0.0)


def way_of(plan: Plan) -> Way:
    """The planned way, perfectly driven."""
    wheels = plan.course.wheels
    nominal_poses = _planned_joints(plan)
    segments, shares = [], []
    lengths, turns = plan.path[:-1, S], np.degrees(plan.path[:-1, T])
    all_u, all_points, ends = _chords(nominal_poses[:-1], wheels.ahead, lengths, turns)
    for g in range(len(plan.run.segments)):
        first, last = int(wheels.piece[g]), int(wheels.piece[g + 1])
        found = [nominal_poses[first][None]]
        driven = [np.zeros(1)]
        so_far = 0.0
        for p in range(first, last):
            s, t = float(lengths[p]), float(turns[p])
            u, points = all_u[ends[p] : ends[p + 1]], all_points[ends[p] : ends[p + 1]]
            own = abs(s) + abs(np.radians(t)) * plan.run.robot.drive.track / 2
            if t == 0 and p > first and plan.path[p - 1, T] == 0 and len(found) > 1:
                # A straight is cut into pieces for its noise; its picture needs no joint there.
                found[-1], driven[-1] = found[-1][:-1], driven[-1][:-1]
            found.append(points)
            driven.append(so_far + u * own)
            so_far += own
        segments.append(np.concatenate(found))
        way = np.concatenate(driven)
        shares.append(way / so_far if so_far > 0 else way)
    return Way(tuple(segments), tuple(shares))


def _chords(poses: Floats, ahead: Floats, lengths: Floats, turns: Floats) -> tuple[Floats, Floats, list[int]]:
    """The ends of the chords that pieces (P,) are drawn in: fractions of their pieces (K,), poses (K, 3), and from
    where to where in K each piece's are (P + 1,). All at one go: a piece has one or two."""
    counts = np.maximum(1, np.ceil(np.abs(turns) / CHORD)).astype(np.int64)
    ends = np.concatenate([[0], np.cumsum(counts)])
    piece = np.repeat(np.arange(len(counts)), counts)
    u = (np.arange(ends[-1]) - ends[piece] + 1) / counts[piece]
    bent = along_piece(shifted(poses[piece], ahead[piece]), lengths[piece], turns[piece], u)
    return u, shifted(bent, -ahead[piece]), ends.tolist()


def trial_way(plan: Plan, joints: Floats) -> Way:
    """A trial's way as the planned one is kept. Shares go by what its own wheels drove, as those of a contact do."""
    piece, ahead = plan.course.wheels.piece, plan.course.wheels.ahead
    joints = going_on(plan, joints)
    lengths, turns, owns = travel(plan, joints)
    segments, shares = [], []
    for first, last in pairwise(piece.tolist()):
        found, driven, so_far = [joints[first : first + 1]], [np.zeros(1)], 0.0
        for p in range(first, last):
            t = float(turns[p])
            u = np.linspace(0.0, 1.0, max(1, ceil(abs(t) / CHORD)) + 1)[1:]
            bend = along_piece(shifted(joints[p], ahead[p]), lengths[p], t, u[:-1])
            found += [shifted(bend, -ahead[p]), joints[p + 1 : p + 2]]
            driven.append(so_far + u * owns[p])
            so_far += float(owns[p])
        way = np.concatenate(driven)
        segments.append(np.concatenate(found))
        shares.append(way / so_far if so_far > 0 else way)
    return Way(tuple(segments), tuple(shares))


def going_on(plan: Plan, joints: Floats) -> Floats:
    """Joints (..., P + 1, 3) with headings that go on from one to the next: a wall sets a heading anew, and that may be
    a whole turn away."""
    joints, planned = np.array(joints), np.degrees(plan.path[:-1, T])
    steps = np.diff(joints[..., 2], axis=-1)
    on = np.cumsum(steps - 360.0 * np.round((steps - planned) / 360.0), axis=-1)
    joints[..., 1:, 2] = joints[..., :1, 2] + on
    return joints


def travel(plan: Plan, joints: Floats) -> tuple[Floats, Floats, Floats]:
    """Of each piece (..., P) of a trial, by its joints (``going_on``): mm, degrees, and what the faster wheel drove,
    mm."""
    ahead = plan.course.wheels.ahead
    here, there = shifted(joints[..., :-1, :], ahead), shifted(joints[..., 1:, :], ahead)
    dx, dy, t = np.moveaxis(there - here, -1, 0)
    middle, bent = np.radians(here[..., 2] + t / 2), np.sinc(t / 360.0)
    # A chord tells nothing of a whole turn.
    tells = np.abs(bent) > WHOLE
    s = np.where(tells, (np.cos(middle) * dx + np.sin(middle) * dy) / np.where(tells, bent, 1.0), plan.path[:-1, S])
    return s, t, np.abs(s) + np.abs(np.radians(t)) * plan.run.robot.drive.track / 2


def until_of(trials: Trials, n: int, segments: int) -> float:
    """The head at which a trial ended."""
    if trials.contact_segment[n]:
        share = float(trials.contact_fraction[n])
        return float(trials.contact_segment[n]) - 1 + (share if isfinite(share) else 0.0)
    return float(trials.ended_segment[n]) if trials.ended_segment[n] else float(segments)


def _planned_joints(plan: Plan) -> Floats:
    """Poses (P + 1, 3) of the planned run at the joints of its pieces, mm and degrees."""
    path, ahead = plan.path, plan.course.wheels.ahead
    poses = np.column_stack([path[:-1, X], path[:-1, Y], np.degrees(path[:-1, H])])
    joints = [shifted(pose, -off)[None] for pose, off in zip(poses, ahead, strict=True)]
    if len(poses):
        last = along_piece(poses[-1], path[-2, S], np.degrees(path[-2, T]), 1.0)
        joints.append(shifted(last, -ahead[-1])[None])
    else:
        joints.append(np.array([start_pose(plan.run)]))
    return np.concatenate(joints)
