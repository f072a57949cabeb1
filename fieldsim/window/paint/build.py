"""From a plan and its trials to what the window shows of them: ways, clouds, columns, words. Knows no screen.

Nothing is judged here: every share and percentile is that of the answer, or counted over the trials that were kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, isfinite

import numpy as np

from fieldsim.draw.swept import corners_at, shifted
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model import Sight, Square
from fieldsim.model.errors import shown
from fieldsim.report.phrases import fixed, how_often_apart, how_often_shortly, near_gaps
from fieldsim.sim.alignment import pushed, sensors_of
from fieldsim.sim.failures import Failure, counted, failures
from fieldsim.sim.kernel.course import CAUGHT
from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.motion import along_piece, start_pose
from fieldsim.sim.plan import Plan
from fieldsim.sim.sample import PathSample
from fieldsim.sim.shapes import meet
from fieldsim.sim.trials import Trials, tool_point
from fieldsim.stats.intervals import wilson
from fieldsim.studies.answer import TryAnswer
from fieldsim.window.paint.layout import Layout, Strip, strip_edges
from fieldsim.window.paint.scene import Cloud, Column, Floats, Kind, Line, Odds, Pinch, Trouble, Way

__all__ = [
    "alignments_of",
    "cloud_of",
    "columns_of",
    "failing_kind",
    "marks_of",
    "odds_of",
    "pinch_of",
    "places_of",
    "strip_of",
    "trial_way",
    "troubles_of",
    "until_of",
    "way_of",
    "wheel_ways",
]

# A curve is drawn in chords of this many degrees.
CHORD = 5.0
# Below this share of its arc a chord is nearly a whole turn's, and its length tells nothing.
WHOLE = 0.05
# Marks of one kind; more only hide each other.
MOST_MARKS = 300
# The tightest place is looked for in steps of this, mm of travel or degrees.
LOOK_STEP = 6.0


def way_of(ready: Plan) -> Way:
    """The planned way, perfectly driven."""
    wheels = ready.course.wheels
    nominal_poses = _planned_joints(ready)
    segments, shares = [], []
    for g in range(len(ready.run.segments)):
        first, last = int(wheels.piece[g]), int(wheels.piece[g + 1])
        found = [nominal_poses[first][None]]
        driven = [np.zeros(1)]
        so_far = 0.0
        for p in range(first, last):
            s, t = float(ready.path[p, S]), float(np.degrees(ready.path[p, T]))
            ahead = float(wheels.ahead[p])
            u = np.linspace(0.0, 1.0, max(1, ceil(abs(t) / CHORD)) + 1)[1:]
            points = shifted(along_piece(shifted(nominal_poses[p], ahead), s, t, u), -ahead)
            own = abs(s) + abs(np.radians(t)) * ready.run.robot.drive.track / 2
            if t == 0 and p > first and ready.path[p - 1, T] == 0 and len(found) > 1:
                # A straight is cut into pieces for its noise; its picture needs no joint there.
                found[-1], driven[-1] = found[-1][:-1], driven[-1][:-1]
            found.append(points)
            driven.append(so_far + u * own)
            so_far += own
        segments.append(np.concatenate(found))
        way = np.concatenate(driven)
        shares.append(way / so_far if so_far > 0 else way)
    return Way(tuple(segments), tuple(shares))


def trial_way(ready: Plan, joints: Floats) -> Way:
    """A trial's way as the planned one is kept. Shares go by what its own wheels drove, as those of a contact do."""
    piece, ahead = ready.course.wheels.piece, ready.course.wheels.ahead
    joints = _going_on(ready, joints)
    lengths, turns, owns = _travel(ready, joints)
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


def _going_on(ready: Plan, joints: Floats) -> Floats:
    """Joints (..., P + 1, 3) with headings that go on from one to the next: a wall sets a heading anew, and that may be
    a whole turn away."""
    joints, planned = np.array(joints), np.degrees(ready.path[:-1, T])
    steps = np.diff(joints[..., 2], axis=-1)
    on = np.cumsum(steps - 360.0 * np.round((steps - planned) / 360.0), axis=-1)
    joints[..., 1:, 2] = joints[..., :1, 2] + on
    return joints


def _travel(ready: Plan, joints: Floats) -> tuple[Floats, Floats, Floats]:
    """Of each piece (..., P) of a trial, by its joints (``_going_on``): mm, degrees, and what the faster wheel drove,
    mm."""
    ahead = ready.course.wheels.ahead
    here, there = shifted(joints[..., :-1, :], ahead), shifted(joints[..., 1:, :], ahead)
    dx, dy, t = np.moveaxis(there - here, -1, 0)
    middle, bent = np.radians(here[..., 2] + t / 2), np.sinc(t / 360.0)
    # A chord tells nothing of a whole turn.
    tells = np.abs(bent) > WHOLE
    s = np.where(tells, (np.cos(middle) * dx + np.sin(middle) * dy) / np.where(tells, bent, 1.0), ready.path[:-1, S])
    return s, t, np.abs(s) + np.abs(np.radians(t)) * ready.run.robot.drive.track / 2


def until_of(trials: Trials, n: int, segments: int) -> float:
    """The head at which a trial ended."""
    if trials.contact_segment[n]:
        share = float(trials.contact_fraction[n])
        return float(trials.contact_segment[n]) - 1 + (share if isfinite(share) else 0.0)
    return float(trials.ended_segment[n]) if trials.ended_segment[n] else float(segments)


def _planned_joints(ready: Plan) -> Floats:
    """Poses (P + 1, 3) of the planned run at the joints of its pieces, mm and degrees."""
    path, ahead = ready.path, ready.course.wheels.ahead
    poses = np.column_stack([path[:-1, X], path[:-1, Y], np.degrees(path[:-1, H])])
    joints = [shifted(pose, -off)[None] for pose, off in zip(poses, ahead, strict=True)]
    if len(poses):
        last = along_piece(poses[-1], path[-2, S], np.degrees(path[-2, T]), 1.0)
        joints.append(shifted(last, -ahead[-1])[None])
    else:
        joints.append(np.array([start_pose(ready.run)]))
    return np.concatenate(joints)


def wheel_ways(ready: Plan) -> tuple[float, ...]:
    """What the faster wheel drives on each segment, mm: a turn on the spot is a way too."""
    half = ready.run.robot.drive.track / 2
    piece = ready.course.wheels.piece
    way = np.abs(ready.path[:-1, S]) + np.abs(ready.path[:-1, T]) * half
    total = np.concatenate([[0.0], np.cumsum(way)])
    return tuple(float(total[b] - total[a]) for a, b in pairwise(piece))


def strip_of(ready: Plan, words: Sequence[str], places: Layout, axis: str = "time") -> Strip:
    """The segments on an axis of seconds ('time') or of mm of the faster wheel ('way')."""
    weights = ready.seconds if axis == "time" else wheel_ways(ready)
    total = np.concatenate([[0.0], np.cumsum(weights)])
    ends = tuple(tr("{time:.1f} s", time=value) if axis == "time" else tr("{way:.0f} mm", way=value) for value in total)
    rect, degrees = places.segments, " " + tr("degrees")
    edges = strip_edges(weights, rect.x, rect.w, places.unit * 26)
    return Strip(tuple(word.replace(degrees, "\N{DEGREE SIGN}") for word in words), edges, ends)


def alignments_of(ready: Plan, way: Way) -> tuple[tuple[Line, ...], tuple[tuple[float, float], ...]]:
    """Where faces are pushed flat and where sensors see their lines in the planned run, of those that it catches."""
    run = ready.run
    flats: list[Line] = []
    sights: list[tuple[float, float]] = []
    for g, segment in enumerate(run.segments):
        m = int(ready.course.alignments.of[g])
        if m < 0 or ready.endings[m][0] != CAUGHT:
            continue
        pose = way.segments[g][-1]
        if isinstance(segment, Square):
            face = pushed(run, segment)
            if face is not None:
                a, b = corners_at(np.array([(face.x, face.low), (face.x, face.high)]), pose).tolist()
                flats.append(((a[0], a[1]), (b[0], b[1])))
        elif isinstance(segment, Sight):
            places = np.array(sorted({sensor.at for sensor in sensors_of(run, segment)}))
            sights += [(x, y) for x, y in corners_at(places, pose).tolist()]
    return tuple(flats), tuple(sights)


def failing_kind(why: str) -> Kind:
    """The kind of mark for ``fieldsim.sim.failures.Failure.why``."""
    if why in ("touches", "misses"):
        return "touches" if why == "touches" else "misses"
    return "outside" if why == "ends outside" else "lost"


_FAILING = {
    "touches": tr_later("touches {name}"),
    "misses": tr_later("misses {name}"),
    "ends outside": tr_later("ends outside {name}"),
}


def failing_words(failure: Failure) -> str:
    """What went wrong in a trial: 'touches mill', 'not reached left wall'."""
    name = shown(failure.what)
    if failure.why in _FAILING:
        return tr(_FAILING[failure.why], name=name)
    return tr("{why} {name}", why=tr(failure.why), name=name)


def cloud_of(sample: PathSample, trials: Trials, found: Sequence[Failure | None] | None = None) -> Cloud:
    """The trials of a sample (the first of ``trials``, as ``fieldsim.sim.trials.paths`` makes it) and the marks of all.

    ``found`` is what ``failures(trials)`` says, if it is known already.
    """
    found = failures(trials) if found is None else found
    ready = trials.plan
    dense, at = _bent(sample)
    piece = ready.course.wheels.piece
    count = min(len(sample.trials), len(trials))
    joints = _going_on(ready, sample.trials)
    lengths, turns, owns = _travel(ready, joints)
    paths, ends, fails = [], [], []
    for n in range(count):
        failure = found[n]
        joint, extra = int(sample.ended[n]) - 1, None
        if trials.contact_segment[n]:
            extra = _until_contact(ready, joints[n], (lengths[n], turns[n], owns[n]), trials, n)
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


def _until_contact(
    ready: Plan, joints: Floats, travel: tuple[Floats, Floats, Floats], trials: Trials, n: int
) -> Floats:
    """Poses (k, 3) of a trial, of its joints (P + 1, 3) and its travel on each piece, from the joint before its contact
    to where it stood at the contact."""
    lengths, turns, owns = travel
    p, g = int(trials.contact_piece[n]), int(trials.contact_segment[n])
    first, last = ready.course.wheels.piece[g - 1 : g + 1].tolist()
    before, this = float(owns[first:p].sum()), float(owns[p])
    share = float(trials.contact_fraction[n]) if isfinite(trials.contact_fraction[n]) else 0.0
    u = min(max((share * float(owns[first:last].sum()) - before) / this, 0.0), 1.0) if this > 0 else 0.0
    ahead, turned = float(ready.course.wheels.ahead[p]), float(turns[p])
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
    kinds: dict[str, Kind] = {}
    for n, failure in enumerate(found):
        if failure is None:
            continue
        kind = kinds.get(failure.why)
        if kind is None:
            kind = kinds[failure.why] = failing_kind(failure.why)
        of_kind = numbers.setdefault(kind, [])
        if len(of_kind) < MOST_MARKS:
            of_kind.append(n)
    return tuple(
        (kind, which, places_of(trials, which, [failure for n in which if (failure := found[n]) is not None]))
        for kind, which in sorted(numbers.items())
    )


def troubles_of(
    found: Sequence[Failure | None], most: int = 3
) -> tuple[tuple[Trouble, ...], tuple[tuple[int, Kind], ...], frozenset[str]]:
    """What fails most often, the segments on which anything fails, and the obstacles that are touched."""
    each = counted(list(found))
    rows = []
    for failure, count in each[:most]:
        often = how_often_shortly(wilson(count, len(found)), len(found))
        what = failure.what or tr("the finish")
        if failure.why == "misses":
            where = tr("missed, segment {number}", number=failure.segment)
        elif failure.why == "ends outside":
            where = tr("not inside at the end, segment {number}", number=failure.segment)
        else:
            where = tr("{why}, segment {number}", why=tr(failure.why), number=failure.segment)
        rows.append(Trouble(failing_kind(failure.why), what, where, often))
    segments: dict[int, Kind] = {}
    for failure, _ in each:
        segments.setdefault(failure.segment, failing_kind(failure.why))
    return (
        tuple(rows),
        tuple(sorted(segments.items())),
        frozenset(failure.what for failure, _ in each if failure.why == "touches"),
    )


def odds_of(
    answer: TryAnswer, troubles: tuple[Trouble, ...], *, going: float | None = None, coarse: bool = False,
    stale: bool = False,
) -> Odds:  # fmt: skip
    """The answer in few words. ``going`` is the share of the trials that are done, None if it is over."""
    n = answer.trials
    foot = tr_many("{n} trial", "{n} trials", n)
    if coarse:
        foot = tr("coarse: {trials}", trials=foot)
    if going is not None:
        foot = tr("{trials}, going on", trials=foot)
    elif answer.interrupted:
        foot = tr("{trials}, seed {seed}, stopped early", trials=foot, seed=answer.seed)
    else:
        foot = tr("{trials}, seed {seed}", trials=foot, seed=answer.seed)
    time = tr("planned time {seconds} s", seconds=fixed(answer.time.nominal, 1))
    if n == 0:
        return Odds(
            big=tr("not known yet") if going is not None else tr("no trial"), lead=tr("gets through"), time=time,
            foot=foot, going=going, stale=stale,
        )  # fmt: skip
    # They stand in two lines: without its own 'in 1000' the interval would be read as part of a count.
    big, between = how_often_apart(answer.success, n)
    share = answer.success
    nothing = tr("nothing failed in any of them") if not troubles else ""
    return Odds(
        big=big, lead=tr("gets through"), between=between, share=share.share, low=share.low, high=share.high, time=time,
        troubles=troubles, nothing_fails=nothing, foot=foot, going=going, stale=stale,
    )  # fmt: skip


def columns_of(answer: TryAnswer, trials: Trials | None = None) -> tuple[Column, ...]:
    """The ribbon: the answer's percentiles for each driving segment, with the quartiles over the trials at hand."""
    found = []
    for entry in answer.ribbon:
        g = entry.segment - 1
        quarter: tuple[float | None, float | None] = (None, None)
        if trials is not None and len(trials):
            came = (trials.ended_segment == 0) | (trials.ended_segment > g)
            if came.any():
                low, high = np.quantile(trials.ribbon[came, g], (0.25, 0.75), method="inverted_cdf")
                quarter = float(low), float(high)
        known = answer.trials > 0
        p05, p50, p95 = (entry.p05, entry.median, entry.p95) if known else (None, None, None)
        found.append(Column(g, g + 1, entry.nominal, p05, quarter[0], p50, quarter[1], p95))
    return tuple(found)


def pinch_of(ready: Plan, answer: TryAnswer, way: Way) -> Pinch | None:
    """The place of the smallest margin, as planned: where the robot's outline is nearest to that obstacle on the
    segment on which it is tightest most often. None if nothing comes near."""
    near = near_gaps(answer)
    if not near:
        return None
    gap = near[0]
    thing = next((solid for solid in ready.solids if solid.name == gap.obstacle), None)
    if thing is None or not 1 <= gap.segment <= len(way.segments):
        return None
    poses, shares = _close_together(way, gap.segment - 1)
    best: tuple[float, int, Floats, Floats] | None = None
    for part in ready.parts:
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
