"""A run made ready to be driven: flat arrays for the kernel, and the planned run measured.

``plan(run)`` is pure geometry and kinematics: no draws, no files, no screen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import ceil, inf
from typing import NamedTuple

import numpy as np

from fieldsim.language import tr, tr_later
from fieldsim.model import (
    Act,
    Alignment,
    Field,
    Move,
    Robot,
    Run,
    Square,
)
from fieldsim.model.errors import Complaint, PlanError
from fieldsim.sim.alignment import complaints
from fieldsim.sim.drivetrain import Drivetrain, drivetrain, perfect, timed
from fieldsim.sim.kernel.course import (
    AGAINST,
    ALREADY_UNDER,
    CAUGHT,
    INSIDE,
    NOT_BORNE,
    NOT_REACHED,
    PRESSED,
    TOO_SKEW,
    Alignments,
    Course,
    Entries,
    Moves,
    Pairs,
    Reference,
    Rests,
    Wheels,
)
from fieldsim.sim.kernel.drive import DRIVEN, ENDING, drive
from fieldsim.sim.kernel.path import EX, EY, HC, HS, H, S, T, X, Y
from fieldsim.sim.kernel.shapes import Floats, Ints, Shapes, shapes
from fieldsim.sim.kernel.sweep import Pose, push_out, standing
from fieldsim.sim.kernel.trial import Scratch, run_trials, survey
from fieldsim.sim.motion import aligning_seconds, profile
from fieldsim.sim.shapes import Part, Solid, footprint, meet, solids
from fieldsim.sim.table import base_of, carried_start

# Clearances are followed this far, mm; one that is larger counts as this much. No run is decided that far out, and
# what is farther away than this in every trial need not be measured in any of them.
HORIZON = 200.0

# A planned pose may overlap what stands there by this much, mm: what numbers written to a hundredth do to a flush
# start.
OVERLAP = 0.01

# A planned gap up to this, mm, is none: the robot is pushed against what stands there, and that guides it as it leaves.
# Nobody aims for less, and a file with tenths of a millimetre tells the two apart.
FLUSH = 0.05
# Two ways to measure a gap agree far closer than this, mm.
SURELY = 1e-6

# The product of two unit directions that are opposite within 10 degrees.
OPPOSITE = -0.98

# To tell how much farther a square or line is than it may drive, it is tried this far, mm.
FAR = 5000.0


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
    return _path(course.wheels, course.alignments, ready.drivetrain.rows).rows


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
    planned = _path(perfect(train.wheels), train.alignments, train.rows)
    seconds = _seconds(run, train.alignments, planned.driven)
    wheels = timed(train.wheels, np.array(seconds))
    # Once for the axle's middle and once for every other point that pieces are told of.
    ahead = wheels.ahead.tolist()
    points = (0.0, *sorted({*ahead} - {0.0}))
    parts, body = _bodies(run.robot, run.wear, points)
    frame = np.array([points.index(each) for each in ahead], dtype=np.int64) * len(parts)

    biased = _path(wheels, train.alignments, train.rows)
    pairs = _pairs(run.field, run.robot, run.wear)
    course = Course(
        wheels=wheels,
        alignments=train.alignments,
        parts=body,
        frame=frame,
        cores=cores,
        entries=_entries(run, wheels, frame, body, cores, pairs, biased.rows),
        reference=biased.reference,
        rests=_rests(run, wheels, body, cores, pairs, things, planned.rows),
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


def pose_of(row: Floats) -> Pose:
    """The pose in a row of a path."""
    x, y, c, s = row[[X, Y, HC, HS]].tolist()
    return x, y, c, s


def typical_poses(run: Run) -> Floats:
    """(S + 1, 3) poses at the start and at each segment's end with the robot's known bias and no draws, degrees."""
    train = drivetrain(run)
    path = _path(train.wheels, train.alignments, train.rows).rows
    poses: Floats = path[train.wheels.piece][:, [X, Y, H]]
    poses[:, 2] = np.degrees(poses[:, 2])
    return poses


def driven_pose(wheels: Wheels, alignments: Alignments, z: Floats) -> tuple[float, float, float]:
    """Where a run ends with one column of drawn numbers (rows, 1): x, y in mm, heading in degrees, not wrapped."""
    row = _path(wheels, alignments, len(z), z).rows[-1]
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


def gap_before(parts: Shapes, cores: Shapes, pairs: Pairs, number: int, at: Pose) -> float:
    """The gap to a thing at a pose, mm; how deep the robot stands in it, if it does, is told as a negative gap."""
    return min((contact.gap for contact in _contacts(parts, cores, pairs, number, at)), default=inf)


class _Contact(NamedTuple):
    """A part of the robot and a core of a thing, both at rest."""

    gap: float
    """mm; negative by how deep the one stands in the other."""
    x: float
    """The way that the robot is pushed, field frame, a unit long; 0 if it is more than ``FLUSH`` away."""
    y: float


def _contacts(parts: Shapes, cores: Shapes, pairs: Pairs, number: int, at: Pose) -> list[_Contact]:
    """Each pair of a thing, at a pose."""
    found = []
    for q in range(pairs.first[number], pairs.first[number + 1]):
        part, core = parts.outline(pairs.part[q]), cores.outline(pairs.core[q])
        radius = float(cores.radius[pairs.core[q]])
        apart = standing(part, core, at) - radius
        if apart > FLUSH:
            found.append(_Contact(apart, 0.0, 0.0))
        else:
            deep, x, y = push_out(part, core, radius, at)
            found.append(_Contact(apart if apart > 0 else -deep, x, y))
    return found


def set_against(ready: Plan) -> frozenset[int]:
    """What the robot is pushed against at the planned start, by number: no gap is planned there."""
    rests = ready.course.rests
    return frozenset(rests.obstacle[(rests.piece == 0) & (rests.how == AGAINST) & (rests.set_back == 1)].tolist())


def impossible(run: Run) -> Iterator[Complaint]:
    """What keeps a run from being driven as planned: it begins in something, or a square or line is not caught."""
    wrong = list(complaints(run))
    if not wrong:
        for name, deep in overlaps(plan(run)):
            yield Complaint(
                ("start",),
                tr("would set the robot {deep:g} mm into {thing}", deep=round(max(deep, 0.1), 1), thing=name),
                tr("move the start, or see whether the robot is wider or longer than there is room"),
            )
    yield from unreached(run)


def unreached(run: Run) -> Iterator[Complaint]:
    """Squares and lines that the run does not catch, neither driven perfectly nor with the robot's known bias."""
    wrong = list(complaints(run))
    if wrong:
        yield from wrong
        return
    train = drivetrain(run)
    biased = _path(train.wheels, train.alignments, train.rows)
    if (biased.endings == CAUGHT).all():
        return
    planned = _path(perfect(train.wheels), train.alignments, train.rows)
    for index, segment in enumerate(run.segments):
        m = train.alignments.of[index]
        if m < 0 or CAUGHT in (planned.endings[m], biased.endings[m]):
            continue
        why = int(biased.endings[m])
        assert isinstance(segment, Alignment)
        key = segment.place
        if why != NOT_REACHED:
            words = tr("is not caught when the run is driven as planned: {reason}", reason=tr(_REASONS[why]))
            yield Complaint(("segments", index, key), words)
            return
        reach = segment.reach
        far = replace(segment, reach=FAR if reach > 0 else -FAR)
        segments = (*run.segments[:index], far, *run.segments[index + 1 :])
        other = drivetrain(replace(run, segments=segments))
        longer = _path(other.wheels, other.alignments, other.rows)
        if longer.endings[m] == CAUGHT:
            words = tr(
                "is {reach:g} mm, and it takes about {needed} mm to get there",
                reach=abs(reach),
                needed=ceil(longer.driven[m]),
            )
            yield Complaint(("segments", index, "reach"), words, tr("give it some more than that"))
        else:
            words = tr("is not in its way there: however far it drives, it is not caught")
            hint = tr("see where the robot stands and looks before this segment, and which way it drives")
            yield Complaint(("segments", index, key), words, hint)
        # What comes after it cannot be told.
        return


_REASONS = {
    TOO_SKEW: tr_later("the robot comes to it too skew"),
    NOT_BORNE: tr_later("the whole face does not find room on it"),
    ALREADY_UNDER: tr_later("the sensor is over the line before it begins to look"),
}


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


@dataclass(frozen=True, eq=False)
class _Path:
    """The path with no draws."""

    rows: Floats
    """In the kernel's rows."""
    reference: Reference
    endings: Floats
    """(M,) how each alignment ended,"""
    driven: Floats
    """(M,) and the way driven for it, mm."""


def _path(wheels: Wheels, alignments: Alignments, rows: int, z: Floats | None = None) -> _Path:
    path, result, _ = drive(wheels, alignments, np.zeros((rows, 1)) if z is None else z)
    x, y, h, end_x, end_y, s, t = (np.ascontiguousarray(path[:-1, row]) for row in (X, Y, H, EX, EY, S, T))
    reference = Reference(x, y, h, end_x, end_y, h + t, s, t)
    return _Path(path, reference, result[:, ENDING], result[:, DRIVEN])


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


def meant_contacts(run: Run) -> list[frozenset[str]]:
    """What each segment may touch: what it says, and what it is pushed flat on."""
    return [
        frozenset(getattr(segment, "may_touch", ())) | ({segment.against} if isinstance(segment, Square) else set())
        for segment in run.segments
    ]


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
        for number in sorted(_near(body, cores, pairs, path, [0])[0])
        if gap_before(body, cores, pairs, number, at) <= FLUSH
    ]
    return carried_start(train.table, run.field, base_of(run, against))


def _near(parts: Shapes, cores: Shapes, pairs: Pairs, path: Floats, pieces: list[int]) -> dict[int, frozenset[int]]:
    """The things that the robot touches, or nearly, where each of these pieces begins: all measured at one go, so that
    what is far need not be looked at one by one."""
    owner = np.repeat(np.arange(len(pairs.first) - 1), np.diff(pairs.first))
    still = path[pieces]
    still[:, [S, T]] = 0.0
    many = len(pieces)
    gap, _ = survey(
        parts,
        cores,
        still,
        np.repeat(np.arange(many), len(owner)),
        np.tile(pairs.part, many),
        np.tile(pairs.core, many),
    )
    close = gap.reshape(many, len(owner)) <= FLUSH + SURELY
    return {piece: frozenset(owner[row].tolist()) for piece, row in zip(pieces, close, strict=True)}


def _wedged(near: Mapping[int, list[_Contact]]) -> frozenset[int]:
    """The things that a robot stands between with no room: pushed against the one it would stand in the other.

    Two that push it almost opposite ways; between others it can be drawn out.
    """
    touched = [(number, c.x, c.y) for number, contacts in near.items() for c in contacts if c.gap <= FLUSH]
    return frozenset(a for a, ax, ay in touched for _, bx, by in touched if ax * bx + ay * by < OPPOSITE)


def _rests(
    run: Run,
    wheels: Wheels,
    body: Shapes,
    cores: Shapes,
    pairs: Pairs,
    things: tuple[Solid, ...],
    path: Floats,
) -> Rests:
    """Where the robot stands against something: at the start, and after a contact that was meant. Where the planned
    start stands in something it touches it, however a trial's start is drawn."""
    allowed = meant_contacts(run)
    end = len(wheels.left)

    def gap_at(number: int, piece: int) -> float:
        """The gap where a planned piece begins, if it is next to none; where nothing is driven any more there is none
        to ask."""
        if piece == 0 and number in start:
            return min(contact.gap for contact in start[number])
        return gap_before(body, cores, pairs, number, pose_of(path[piece])) if number in near[piece] else inf

    squared = {int(wheels.piece[g + 1]) for g, segment in enumerate(run.segments) if isinstance(segment, Square)}
    near = {end: frozenset[int]()} | _near(body, cores, pairs, path, sorted(({0} | squared) - {end}))
    at = pose_of(path[0])
    start = {number: _contacts(body, cores, pairs, number, at) for number in near[0]}
    wedged = _wedged(start) if end else frozenset()
    found: list[tuple[int, int, int, int, bool]] = []
    somewhere = frozenset[int]().union(*near.values())
    touched = frozenset[str]().union(*allowed)
    for number, thing in enumerate(things):
        if number not in somewhere and thing.name not in touched:
            continue
        meant = [g for g, names in enumerate(allowed) if thing.name in names]
        begins: list[tuple[int, int]] = []
        gap = gap_at(number, 0)
        if 0 not in meant and gap < -OVERLAP:
            begins.append((0, INSIDE))
        elif 0 not in meant and gap <= FLUSH and number not in wedged:
            begins.append((0, AGAINST))
        for g in meant:
            if g + 1 not in meant:
                pressed = thing.name in getattr(run.segments[g], "may_touch", ())
                begins.append((int(wheels.piece[g + 1]), PRESSED if pressed else AGAINST))
        # What else the robot stands against once it is flat on a wall: a corner of the field, say.
        for g, segment in enumerate(run.segments):
            after = int(wheels.piece[g + 1])
            if isinstance(segment, Square) and g not in meant and abs(gap_at(number, after)) <= FLUSH:
                begins.append((after, AGAINST))
        for piece, how in sorted(begins):
            later = [int(wheels.piece[g]) for g in meant if wheels.piece[g] >= piece]
            until = min(later, default=end)
            if piece < until:
                found.append((number, piece, until, how, piece == 0 and how == AGAINST))
    counts = np.bincount([rest[0] for rest in found], minlength=len(things)) if found else np.zeros(len(things))
    return Rests(
        first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        obstacle=np.array([rest[0] for rest in found], dtype=np.int64),
        piece=np.array([rest[1] for rest in found], dtype=np.int64),
        until=np.array([rest[2] for rest in found], dtype=np.int64),
        how=np.array([rest[3] for rest in found], dtype=np.int64),
        set_back=np.array([rest[4] for rest in found], dtype=np.int64),
    )
