"""From a plan and its trials to what the window draws of them: ways, alignments, clouds, marks. Knows no screen.

Nothing is judged here: every share and percentile is that of the answer, or counted over the trials that were kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, isfinite

import numpy as np

from fieldsim.draw.aligned import aligned_at
from fieldsim.language import tr
from fieldsim.model import Alignment
from fieldsim.sim.endings import tool_point
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.kernel.course import CAUGHT
from fieldsim.sim.kernel.path import S, T
from fieldsim.sim.motion import along_piece, shifted
from fieldsim.sim.plan import Plan
from fieldsim.sim.sample import PathSample
from fieldsim.sim.trials import Trials
from fieldsim.sim.ways import CHORD, Way, going_on, travel
from fieldsim.window.paint.layout import Layout, Strip, strip_edges
from fieldsim.window.paint.odds import failing_kind
from fieldsim.window.paint.scene import Cloud, Floats, Kind, Line

__all__ = [
    "alignments_of",
    "cloud_of",
    "marks_of",
    "places_of",
    "strip_of",
    "wheel_ways",
]

# Marks of one kind; more only hide each other.
MOST_MARKS = 300


def wheel_ways(plan: Plan) -> tuple[float, ...]:
    """What the faster wheel drives on each segment, mm: a turn on the spot is a way too."""
    half = plan.run.robot.drive.track / 2
    piece = plan.course.wheels.piece
    way = np.abs(plan.path[:-1, S]) + np.abs(plan.path[:-1, T]) * half
    total = np.concatenate([[0.0], np.cumsum(way)])
    return tuple(float(total[b] - total[a]) for a, b in pairwise(piece))


def strip_of(
    plan: Plan, words: Sequence[str], places: Layout, axis: str = "time", zoom: float = 1.0, left: float = 0.0
) -> Strip:
    """The segments on an axis of seconds ('time') or of mm of the faster wheel ('way'); ``zoom`` times as wide as its
    place, with the share ``left`` of it beyond its left end."""
    weights = plan.seconds if axis == "time" else wheel_ways(plan)
    total = np.concatenate([[0.0], np.cumsum(weights)])
    ends = tuple(tr("{time:.1f} s", time=value) if axis == "time" else tr("{way:.0f} mm", way=value) for value in total)
    rect, degrees = places.segments, " " + tr("degrees")
    wide = rect.w * zoom
    edges = strip_edges(weights, rect.x - left * wide, wide, places.unit * 26)
    return Strip(tuple(word.replace(degrees, "\N{DEGREE SIGN}") for word in words), edges, ends)


def alignments_of(plan: Plan, way: Way) -> tuple[tuple[Line, ...], tuple[tuple[float, float], ...]]:
    """Where faces are pushed flat and where sensors see their lines in the planned run, of those that it catches."""
    run = plan.run
    flats: list[Line] = []
    sights: list[tuple[float, float]] = []
    for g, segment in enumerate(run.segments):
        m = int(plan.course.alignments.of[g])
        if m < 0 or plan.endings[m][0] != CAUGHT:
            continue
        found = aligned_at(run, segment, way.segments[g][-1]) if isinstance(segment, Alignment) else None
        if found is None:
            continue
        contact, points = found
        if contact == "face":
            (ax, ay), (bx, by) = points.tolist()
            flats.append(((ax, ay), (bx, by)))
        else:
            sights += [(x, y) for x, y in points.tolist()]
    return tuple(flats), tuple(sights)


def cloud_of(sample: PathSample, trials: Trials, found: Sequence[Failure | None] | None = None) -> Cloud:
    """The trials of a sample (the first of ``trials``, as ``fieldsim.sim.trials.paths`` makes it) and the marks of all.

    ``found`` is what ``failures(trials)`` says, if it is known already.
    """
    found = failures(trials) if found is None else found
    plan = trials.plan
    dense, at = _bent(sample)
    piece = plan.course.wheels.piece
    count = min(len(sample.trials), len(trials))
    joints = going_on(plan, sample.trials)
    lengths, turns, owns = travel(plan, joints)
    paths, ends, fails = [], [], []
    for n in range(count):
        failure = found[n]
        joint, extra = int(sample.ended[n]) - 1, None
        if trials.contact_segment[n]:
            extra = _until_contact(plan, joints[n], (lengths[n], turns[n], owns[n]), trials, n)
        elif trials.ended_segment[n]:
            joint = int(piece[trials.ended_segment[n]])
        path = dense[n, : at[min(joint, len(at) - 1)] + 1]
        end = sample.trials[n, min(joint, len(at) - 1)]
        if extra is not None:
            path = np.concatenate([path, extra[:, :2]])
            end = extra[-1]
        paths.append(path)
        ends.append(end)
        fails.append(failure is not None)
    marks = tuple((kind, places) for kind, _, places in marks_of(trials, found))
    return Cloud(tuple(paths), tuple(fails), np.array(ends).reshape(-1, 3), marks)


def _bent(sample: PathSample) -> tuple[Floats, list[int]]:
    """Paths (n, K, 2) with arcs where the joints are the ends of arcs, and where in K each joint is."""
    poses = sample.trials
    found = [poses[:, :1, :2]]
    at = [0]
    for p, ((s, t), ahead) in enumerate(zip(sample.travel, sample.ahead, strict=True)):
        here, there = poses[:, p], poses[:, p + 1]
        if s != 0 and ahead == 0 and abs(t) > 2 and len(poses):
            off = there[:, 2] - here[:, 2] - t
            turned = t + off - 360.0 * np.round(off / 360.0)
            chord = np.hypot(*(there - here)[:, :2].T) / np.sinc(np.radians(turned) / 2 / np.pi)
            steps = max(1, ceil(abs(t) / CHORD))
            u = np.linspace(0.0, 1.0, steps + 1)[1:-1]
            length = np.where(s > 0, chord, -chord)
            found.append(along_piece(here[:, None], length[:, None], turned[:, None], u)[..., :2])
            at.append(at[-1] + steps)
        else:
            at.append(at[-1] + 1)
        found.append(there[:, None, :2])
    return np.concatenate(found, axis=1), at


def _until_contact(plan: Plan, joints: Floats, travel: tuple[Floats, Floats, Floats], trials: Trials, n: int) -> Floats:
    """Poses (k, 3) of a trial, of its joints (P + 1, 3) and its travel on each piece, from the joint before its contact
    to where it stood at the contact."""
    lengths, turns, owns = travel
    p, g = int(trials.contact_piece[n]), int(trials.contact_segment[n])
    first, last = plan.course.wheels.piece[g - 1 : g + 1].tolist()
    before, this = float(owns[first:p].sum()), float(owns[p])
    share = float(trials.contact_fraction[n]) if isfinite(trials.contact_fraction[n]) else 0.0
    u = min(max((share * float(owns[first:last].sum()) - before) / this, 0.0), 1.0) if this > 0 else 0.0
    ahead, turned = float(plan.course.wheels.ahead[p]), float(turns[p])
    steps = np.linspace(0.0, u, max(1, ceil(abs(turned) * u / CHORD)) + 1)[1:]
    return shifted(along_piece(shifted(joints[p], ahead), lengths[p], turned, steps), -ahead)


def places_of(trials: Trials, numbers: Sequence[int], found: Sequence[Failure]) -> Floats:
    """Where the marks (k, 2) of failed trials stand, by their numbers and what went wrong in each: the touch, the tool
    that missed, else the axle's middle."""
    rows = np.array(numbers, dtype=np.int64)
    poses = trials.poses[rows, [failure.segment for failure in found]]
    kinds = np.array([failing_kind(failure.why) for failure in found])
    run = trials.plan.run
    x, y = tool_point(run.robot, run.wear)
    h = np.radians(poses[:, 2])
    tool = poses[:, :2] + np.stack([x * np.cos(h) - y * np.sin(h), x * np.sin(h) + y * np.cos(h)], axis=-1)
    places = np.where((kinds == "misses")[:, None], tool, poses[:, :2])
    return np.where((kinds == "touches")[:, None], trials.contact_at[rows], places)


def marks_of(trials: Trials, found: Sequence[Failure | None]) -> tuple[tuple[Kind, list[int], Floats], ...]:
    """The marks of failed trials by kind, in each the first ``MOST_MARKS``: whose they are, and where (k, 2)."""
    numbers: dict[Kind, list[int]] = {}
    alike: dict[str, list[int]] = {}
    for n, failure in enumerate(found):
        if failure is not None:
            of_kind = alike.get(failure.why)
            if of_kind is None:
                of_kind = alike[failure.why] = numbers.setdefault(failing_kind(failure.why), [])
            of_kind.append(n)
    shown = [(kind, which[:MOST_MARKS]) for kind, which in sorted(numbers.items())]
    return tuple(
        (kind, which, places_of(trials, which, [failure for n in which if (failure := found[n]) is not None]))
        for kind, which in shown
    )
