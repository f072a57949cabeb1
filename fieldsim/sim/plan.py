"""A run made ready to be driven: flat arrays for the kernel, and the planned run measured.

``plan(run)`` is pure geometry and kinematics: no draws, no files, no screen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import inf

import numpy as np

from fieldsim.language import tr
from fieldsim.model import (
    Act,
    Alignment,
    Field,
    Move,
    Robot,
    Run,
)
from fieldsim.model.errors import PlanError
from fieldsim.sim.alignment import complaints
from fieldsim.sim.drivetrain import Drivetrain, drivetrain, perfect, timed
from fieldsim.sim.kernel.course import (
    AGAINST,
    INSIDE,
    Alignments,
    Course,
    Entries,
    Moves,
    Pairs,
    Wheels,
)
from fieldsim.sim.kernel.path import H, X, Y
from fieldsim.sim.kernel.shapes import Floats, Ints, Shapes, shapes
from fieldsim.sim.kernel.trial import Scratch, run_trials, survey
from fieldsim.sim.motion import aligning_seconds, profile
from fieldsim.sim.path import noiseless, pose_of
from fieldsim.sim.resting import FLUSH, gap_before, meant_contacts, rests_of, things_near
from fieldsim.sim.shapes import Part, Solid, footprint, meet, solids
from fieldsim.sim.table import base_of, carried_start

# Clearances are followed this far, mm; one that is larger counts as this much. No run is decided that far out, and
# what is farther away than this in every trial need not be measured in any of them.
HORIZON = 200.0


def bare(run: Run) -> Run:
    """The run without attachments and acts: how a team tests a path first (common practice, no source)."""
    return replace(run, wear=(), segments=tuple(s for s in run.segments if not isinstance(s, Act)))


@dataclass(frozen=True)
class Plan:
    run: Run
    drivetrain: Drivetrain
    solids: tuple[Solid, ...]
    parts: tuple[Part, ...]
    course: Course
    columns: tuple[int, ...]
    """Obstacles (indices of ``solids``) that are followed in every trial; others only if they come near after all."""
    seconds: tuple[float, ...]
    """Planned seconds of each segment."""
    path: Floats
    """The planned run, perfectly driven, in the rows of fieldsim.sim.kernel.path."""
    endings: tuple[tuple[int, int], ...]
    """How each alignment ends, driven perfectly and with the robot's known bias (see fieldsim.sim.kernel.course)."""

    @cached_property
    def nominal(self) -> Scratch:
        """The planned run, perfectly driven, measured like a trial against every obstacle (one row each)."""
        course = self.course._replace(wheels=perfect(self.course.wheels), horizon=inf)
        every = np.arange(len(self.solids), dtype=np.int64)
        z = np.zeros((self.drivetrain.rows, 1))
        scratch = Scratch(course, len(every), 1)
        run_trials(course, z, 0, 1, every, np.zeros(len(every), dtype=np.int64), scratch)
        return scratch


def nothing_drawn(ready: Plan) -> Scratch:
    """The run with the robot's known bias and no draws, measured like a trial against every obstacle however far."""
    course = ready.course._replace(horizon=inf)
    every = np.arange(len(ready.solids), dtype=np.int64)
    scratch = Scratch(course, len(every), 1)
    z = np.zeros((ready.drivetrain.rows, 1))
    run_trials(course, z, 0, 1, every, np.zeros(len(every), dtype=np.int64), scratch)
    return scratch


def typical_path(ready: Plan) -> Floats:
    """The run with the robot's known bias and no draws, in the rows of fieldsim.sim.kernel.path."""
    course = ready.course
    return noiseless(course.wheels, course.alignments, ready.drivetrain.rows).rows


def plan(run: Run, horizon: float = HORIZON) -> Plan:
    """Make a run ready. ``horizon`` may be ``inf`` to follow every clearance however large.

    Raises PlanError if a square asks for a face that the robot does not have.
    """
    wrong = list(complaints(run))
    if wrong:
        raise PlanError(
            [
                tr("segment {number}: its '{key}' {message}", number=c.path[1] + 1, key=c.path[2], message=c.message)  # type: ignore[operator]
                for c in wrong
            ],
            wrong,
        )
    train = drivetrain(run)
    things = solids(run.field)
    cores, _ = _cores(run.field)
    planned = noiseless(perfect(train.wheels), train.alignments, train.rows)
    seconds = _seconds(run, train.alignments, planned.driven)
    wheels = timed(train.wheels, np.array(seconds))
    # Once for the axle's middle and once for every other point that pieces are told of.
    ahead = wheels.ahead.tolist()
    points = (0.0, *sorted({*ahead} - {0.0}))
    parts, body = _bodies(run.robot, run.wear, points)
    frame = np.array([points.index(each) for each in ahead], dtype=np.int64) * len(parts)

    biased = noiseless(wheels, train.alignments, train.rows)
    pairs = _pairs(run.field, run.robot, run.wear)
    course = Course(
        wheels=wheels,
        alignments=train.alignments,
        parts=body,
        frame=frame,
        cores=cores,
        entries=_entries(run, wheels, frame, body, cores, pairs, biased.rows),
        reference=biased.reference,
        rests=rests_of(run, wheels, body, cores, pairs, things, planned.rows),
        pairs=pairs,
        moves=_moves(run, train, body, cores, pairs, planned.rows),
        horizon=horizon,
    )
    best = course.entries.best
    # What has no entry has none within the horizon, whatever stands at the place of its -1.
    within = (best >= 0) & (course.entries.gap[best] < horizon) if len(course.entries.gap) else best >= 0
    within[course.rests.obstacle] = True
    columns = np.flatnonzero(within).tolist()
    endings = tuple((int(a), int(b)) for a, b in zip(planned.endings, biased.endings, strict=True))
    return Plan(run, train, things, parts, course, tuple(columns), seconds, planned.rows, endings)


# What a field and a robot alone decide is kept, like ``solids``: as a start is dragged or a segment changed, hundreds
# of plans are made on one field, and packing outlines was two fifths of each. Nobody may write into these arrays.


@lru_cache(maxsize=64)
def _cores(field: Field) -> tuple[Shapes, Ints]:
    """The convex parts of everything on a field, and which thing each belongs to."""
    every = [(number, core) for number, thing in enumerate(solids(field)) for core in thing.cores]
    packed = shapes([core.points for _, core in every], [core.radius for _, core in every])
    return packed, np.array([number for number, _ in every], dtype=np.int64)


@lru_cache(maxsize=64)
def _bodies(robot: Robot, wear: tuple[str, ...], points: tuple[float, ...]) -> tuple[tuple[Part, ...], Shapes]:
    """The footprint's parts; and packed as seen from each of the points ahead of the axle's middle."""
    parts = footprint(robot, wear)
    body = shapes([part.points - (ahead, 0.0) for ahead in points for part in parts])
    return parts, body


def typical_poses(run: Run) -> Floats:
    """(S + 1, 3) poses at the start and at each segment's end with the robot's known bias and no draws, degrees."""
    train = drivetrain(run)
    path = noiseless(train.wheels, train.alignments, train.rows).rows
    poses: Floats = path[train.wheels.piece][:, [X, Y, H]]
    poses[:, 2] = np.degrees(poses[:, 2])
    return poses


def driven_pose(wheels: Wheels, alignments: Alignments, z: Floats) -> tuple[float, float, float]:
    """Where a run ends with one column of drawn numbers (rows, 1): x, y in mm, heading in degrees, not wrapped."""
    row = noiseless(wheels, alignments, len(z), z).rows[-1]
    return float(row[X]), float(row[Y]), float(np.degrees(row[H]))


def overlaps(ready: Plan) -> list[tuple[str, float]]:
    """What the robot would have to stand in at the planned start, and how deep, mm; the deepest first.

    What the first segment may touch is left out: that contact is meant.
    """
    course = ready.course
    found = []
    for r in np.flatnonzero(course.rests.how == INSIDE):
        number = int(course.rests.obstacle[r])
        gap = gap_before(course.parts, course.cores, course.pairs, number, pose_of(ready.path[0]))
        found.append((ready.solids[number].name, -gap))
    return sorted(found, key=lambda item: -item[1])


def set_against(ready: Plan) -> frozenset[int]:
    """What the robot is pushed against at the planned start, by number: no gap is planned there."""
    rests = ready.course.rests
    return frozenset(rests.obstacle[(rests.piece == 0) & (rests.how == AGAINST) & (rests.set_back == 1)].tolist())


def _seconds(run: Run, alignments: Alignments, driven: Floats) -> tuple[float, ...]:
    """Planned seconds of each segment; ``driven`` is the way of each alignment."""
    found = []
    drive = run.robot.drive
    for segment, m in zip(run.segments, alignments.of, strict=True):
        if isinstance(segment, Move):
            found.append(profile(segment, drive).seconds)
        elif isinstance(segment, Alignment):
            found.append(float(aligning_seconds(segment, drive, driven[m])))
        else:
            found.append(segment.standing)
    return tuple(found)


@lru_cache(maxsize=64)
def _pairs(field: Field, robot: Robot, wear: tuple[str, ...]) -> Pairs:
    """Which parts can meet which cores at all."""
    things, parts = solids(field), footprint(robot, wear)
    _, owner = _cores(field)
    first = [0]
    part: list[int] = []
    core: list[int] = []
    for number, thing in enumerate(things):
        for c in np.flatnonzero(owner == number):
            for a, piece in enumerate(parts):
                if meet(piece, thing):
                    part.append(a)
                    core.append(int(c))
        first.append(len(part))
    return Pairs(*(np.array(values, dtype=np.int64) for values in (first, part, core)))


def _entries(
    run: Run,
    wheels: Wheels,
    frame: Ints,
    body: Shapes,
    cores: Shapes,
    pairs: Pairs,
    path: Floats,
) -> Entries:
    """Every (piece, part, core) that can meet, measured on ``path``, tightest first in each segment."""
    asked = _asked(
        run.field, run.robot, run.wear, tuple(wheels.piece.tolist()), tuple(frame.tolist()), tuple(meant_contacts(run))
    )
    gap, closest = survey(body, cores, path, *asked[:3])
    # By gap, and so within each segment; of two as tight the one that was driven first.
    by_gap = np.argsort(gap, kind="stable")
    order = by_gap[np.argsort(asked[4].astype(np.int32)[by_gap], kind="stable")]
    what = np.hstack([asked.T, closest])[order]
    gap, segment = gap[order], what[:, 4]
    best = np.full(len(pairs.first) - 1, -1, dtype=np.int64)
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    # The last one to be written is the one that stays, so the tightest comes last.
    backwards = by_gap[::-1]
    best[asked[3][backwards]] = place[backwards]
    return Entries(
        first=np.searchsorted(segment, np.arange(len(run.segments) + 1)).astype(np.int64),
        gap=gap,
        what=what,
        best=best,
    )


@lru_cache(maxsize=64)
def _asked(
    field: Field,
    robot: Robot,
    wear: tuple[str, ...],
    first: tuple[int, ...],
    frame: tuple[int, ...],
    allowed: tuple[frozenset[str], ...],
) -> Ints:
    """(5, E) every piece, part and core that can meet, with the obstacle it belongs to and its segment: the same as
    long as no segment becomes another or gets more pieces. ``first`` piece of each segment, part of each ``frame``,
    names ``allowed`` to be touched."""
    pairs, (_, owner) = _pairs(field, robot, wear), _cores(field)
    pieces, many = len(frame), len(pairs.core)
    piece = np.repeat(np.arange(pieces), many)
    segment = np.repeat(np.arange(len(allowed)), np.diff(first))[piece]
    part = np.tile(pairs.part, pieces) + np.repeat(np.array(frame, dtype=np.int64), many)
    core = np.tile(pairs.core, pieces)
    obstacle = np.tile(owner[pairs.core], pieces) if many else np.zeros(0, dtype=np.int64)
    found: Ints = np.array([piece, part, core, obstacle, segment], dtype=np.int64)
    if found.size and any(allowed):
        meant = np.array([[thing.name in names for thing in solids(field)] for names in allowed], dtype=bool)
        found = np.ascontiguousarray(found[:, ~meant[segment, obstacle]])
    found.flags.writeable = False
    return found


def _moves(run: Run, train: Drivetrain, body: Shapes, cores: Shapes, pairs: Pairs, path: Floats) -> Moves:
    """What stands elsewhere in each trial, with what the start is built on."""
    if len(train.table.moves.what) == 0:
        return train.table.moves
    at = pose_of(path[0])
    against = [
        solids(run.field)[number].name
        for number in sorted(things_near(body, cores, pairs, path, [0])[0])
        if gap_before(body, cores, pairs, number, at) <= FLUSH
    ]
    return carried_start(train.table, run.field, base_of(run, against))
