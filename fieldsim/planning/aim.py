"""`aim`: where a run's tool lands, seen from a target, and the numbers that bring it there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import atan2, ceil, degrees, floor, hypot, sqrt
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from fieldsim import __version__
from fieldsim.answers import Told
from fieldsim.language import tr
from fieldsim.model import Act, Arc, Run, Segment, Straight, Target, Turn
from fieldsim.model.errors import FieldsimError, PlanError
from fieldsim.model.kinds import Named, unknown_name
from fieldsim.planning.numbers import Step, meant_in
from fieldsim.sim.endings import tool_off, tool_point
from fieldsim.sim.failures import counted, failures
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import plan, typical_poses
from fieldsim.sim.trials import Trials, blocks, joined, planned_poses
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.changes import Change
from fieldsim.studies.own import OWN

Floats = NDArray[np.float64]
Watch = Callable[[int, int], None]

# A number of the run is not changed by more than this to bring the tool to a target: something else would be meant.
MOST_MM, MOST_DEGREES = 300.0, 45.0
# A turn has to be this far from the tool to move it, mm, and a changed turn brings it no farther off than that.
LEAST_ARM = 50.0
# To look back over its shoulder a robot drives backwards rather than turn by this much more, degrees.
BACKWARDS = 90.0
# What is touched in so many of the trials is told.
OFTEN = 0.02


@dataclass(frozen=True)
class LandingAnswer:
    """Where the tool point lands, seen from the target as the robot looks."""

    ahead: Annotated[float, "mm too far ahead; short of it if negative"]
    left: Annotated[float, "mm too far to the left; to the right if negative"]
    away: Annotated[float, "mm from the target"]
    heading: Annotated[float, "degrees, (-180, 180]"]
    turned: Annotated[float | None, "degrees turned too far to the left of the heading the target asks for"]
    """None if it asks for none."""


@dataclass(frozen=True)
class AimNumber:
    """A number to type."""

    segment: Annotated[int, "where it stands then"]
    """In the run as changed, from 1."""
    new: Annotated[bool, "a segment that is put in"]
    key: Annotated[str, "as in a file"]
    was: Annotated[float | None, "as typed now; mm or degrees"]
    wanted: Annotated[float, "what the robot is to do; mm or degrees"]
    typed: Annotated[float, "what to type for that, its known bias taken out"]


@dataclass(frozen=True)
class AimWayAnswer:
    """Numbers that bring the tool to the target."""

    kind: Annotated[str, Told("change or add", one_of=("change", "add"))]
    what: Annotated[str, "what is to be typed where"]
    numbers: tuple[AimNumber, ...]
    leaves: Annotated[LandingAnswer, "with the robot's known bias and no luck"]
    in_place: Annotated[Share, "the tool is in place, and touched nothing before"]
    touches: Annotated[tuple[str, ...], "what it touches on the way more often than the run as it is"]


@dataclass(frozen=True, kw_only=True)
class AimAnswer:
    """Where a run's tool lands, seen from a target, and what brings it there."""

    command: ClassVar[Literal["aim"]] = "aim"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    target: str
    within: Annotated[float, "mm allowed"]
    heading: Annotated[float | None, "degrees the target asks for"]
    heading_within: Annotated[float | None, "degrees allowed"]
    segment: Annotated[int | None, "the act at the target; null: looked at after the last segment"]
    segments: Annotated[int, "of the run"]
    trials: Annotated[int, "that were done"]
    seed: int
    planned: Annotated[LandingAnswer, "perfectly driven"]
    middle: Annotated[LandingAnswer | None, "in the middle of the trials that came there"]
    """None if none did."""
    came: Annotated[Share, "came there, and touched nothing before"]
    in_place: Annotated[Share, "the tool is in place, and touched nothing before"]
    ways: Annotated[tuple[AimWayAnswer, ...], "best first"]


@dataclass(frozen=True, eq=False)
class Aimed:
    """The answer, and for a picture, field frame, mm: the target, the tool's planned point, and the points (N, 2) of
    the trials that came there."""

    answer: AimAnswer
    at: tuple[float, float]
    planned: Floats
    points: Floats


def aim(
    run: Run,
    target: str,
    *,
    step: Step | None = None,
    trials: int = OWN,
    seed: int = 1,
    threads: int | None = None,
    watch: Watch = lambda done, wanted: None,
) -> Aimed:
    """Where the tool point lands, seen from a target: at the run's last act there, else at its end; and what to type.

    Raises PlanError if the field has no target of that name. ``watch(done, wanted)`` counts trials.
    """
    goal = known_target(run, target)
    step = step or Step()
    acts = [
        index for index, segment in enumerate(run.segments) if isinstance(segment, Act) and segment.target == target
    ]
    place = acts[-1] if acts else len(run.segments)
    ways = list(_ways(run, goal, place, step))
    done = 0

    def driven(changed: Run, at: int) -> tuple[Trials, int]:
        nonlocal done
        measured = changed if acts else replace(changed, segments=(*changed.segments, Act(target)))
        found = []
        for block in blocks(plan(measured), seed, trials, threads=threads):
            found.append(block)
            done += len(block)
            watch(done, trials * (1 + len(ways)))
        number = sum(isinstance(each, Act) for each in measured.segments[:at])
        return joined(found), number

    base, number = driven(run, place)
    came = base.reached[:, number]
    poses = base.poses[came, place]
    told = []
    for way in ways:
        changed, found, off = way.run(run), *driven(way.run(run), way.place)
        told.append(
            AimWayAnswer(
                kind=way.kind,
                what=way.change.words(run),
                numbers=way.numbers(run),
                leaves=_landing(run, goal, typical_poses(changed)[way.place]),
                in_place=_share(found.hit[:, off]),
                touches=tuple(_touched(base, found, way.place)),
            )
        )
    told.sort(key=lambda each: -each.in_place.share)
    answer = AimAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        target=target,
        within=goal.within,
        heading=goal.heading,
        heading_within=goal.heading_within,
        segment=place + 1 if acts else None,
        segments=len(run.segments),
        trials=len(base),
        seed=seed,
        planned=_landing(run, goal, planned_poses(base.plan)[place]),
        middle=_middle(run, goal, poses) if len(poses) else None,
        came=_share(came),
        in_place=_share(base.hit[:, number]),
        ways=tuple(told),
    )
    planned = planned_poses(base.plan)[place]
    return Aimed(answer, goal.at, _tool_points(run, planned[None])[0], _tool_points(run, poses))


def _tool_points(run: Run, poses: Floats) -> Floats:
    """(N, 2) where the tool point is at poses (N, 3), field frame."""
    tx, ty = tool_point(run.robot, run.wear)
    c, s = np.cos(np.radians(poses[:, 2])), np.sin(np.radians(poses[:, 2]))
    return np.column_stack([poses[:, 0] + c * tx - s * ty, poses[:, 1] + s * tx + c * ty])


def known_target(run: Run, name: str) -> Target:
    """The target of that name. Raises PlanError if the field has none."""
    found = next((each for each in run.field.targets if each.name == name), None)
    if found is None:
        wrong = unknown_name(Named("", of="target"), name, [each.name for each in run.field.targets])
        there = tr("TARGET {message}; {hint}", message=wrong.message, hint=wrong.hint)
        raise PlanError([there], [wrong])
    return found


def _share(right: NDArray[np.bool_]) -> Share:
    return wilson(int(right.sum()), len(right))


def _landing(run: Run, target: Target, pose: Sequence[float] | Floats) -> LandingAnswer:
    ahead, left = tool_off(run.robot, run.wear, target, np.array([pose]))[0].tolist()
    return _seen(target, ahead, left, float(pose[2]))


def _middle(run: Run, target: Target, poses: Floats) -> LandingAnswer:
    ahead, left = np.median(tool_off(run.robot, run.wear, target, poses), axis=0).tolist()
    return _seen(target, ahead, left, float(np.median(poses[:, 2])))


def _seen(target: Target, ahead: float, left: float, heading: float) -> LandingAnswer:
    turned = None if target.heading is None else wrapped(heading - target.heading)
    return LandingAnswer(ahead, left, hypot(ahead, left), wrapped(heading), turned)


def _touched(base: Trials, found: Trials, until: int) -> Iterator[str]:
    """What is touched before ``until`` in more of these trials than in those of the run as it is."""
    before = {why.what: count for why, count in counted(failures(base)) if why.why == "touches"}
    now: dict[str, int] = {}
    for why, count in counted(failures(found)):
        if why.why == "touches" and why.segment <= until:
            now[why.what] = now.get(why.what, 0) + count
    for name, count in now.items():
        if count - before.get(name, 0) > OFTEN * len(found):
            yield name


# --- what to type --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Way:
    kind: str
    change: Change
    place: int
    """How many segments are driven then before the tool is looked at."""
    exact: Change
    """The same before its numbers were rounded to what is typed."""

    def run(self, run: Run) -> Run:
        return self.change.run(run)

    def numbers(self, run: Run) -> tuple[AimNumber, ...]:
        rounded, exact = self.change.run(run), self.exact.run(run)
        found = []
        for index, key, value in self.change.numbers:
            wanted = meant_in(exact, index, key)
            was = float(getattr(run.segments[index], key))
            found.append(AimNumber(index + 1, False, _word(run.segments[index], key), was, wanted, value))
        for at, segments in self.change.inserted:
            for index, segment in enumerate(segments, start=at):
                key = segment.head
                wanted = meant_in(exact, index, key)
                typed = float(getattr(rounded.segments[index], key))
                found.append(AimNumber(index + 1, True, segment.key, None, wanted, typed))
        return tuple(found)


def _word(segment: Segment, key: str) -> str:
    return segment.key if key == segment.head else key


Build = Callable[[Sequence[float]], Change]


def _ways(run: Run, target: Target, place: int, step: Step) -> Iterator[_Way]:
    yield from _changes(run, target, place, step)
    yield from _additions(run, target, place, step)


def _changes(run: Run, target: Target, place: int, step: Step) -> Iterator[_Way]:
    """The last straight before the place, the last turn or arc that moves the tool aside, and both."""
    poses = typical_poses(run)
    tool = _tool_points(run, poses[place][None])[0]
    straight = turn = None
    for index in range(place - 1, -1, -1):
        segment = run.segments[index]
        if isinstance(segment, Straight) and straight is None:
            straight = index
        elif isinstance(segment, Turn | Arc) and turn is None and hypot(*(tool - poses[index + 1, :2])) > LEAST_ARM:
            turn = index
    places = {"distance": straight, "angle": turn}
    for keys in (("distance",), ("angle",), ("distance", "angle")):
        at = [places[key] for key in keys]
        if None in at:
            continue
        spots = [(index, key) for index, key in zip(at, keys, strict=True) if index is not None]

        def build(values: Sequence[float], spots: list[tuple[int, str]] = spots) -> Change:
            told = [(i, key, float(value)) for (i, key), value in zip(spots, values, strict=True)]
            return Change("aimed numbers", tuple(sorted(told)))

        was = [float(getattr(run.segments[i], key)) for i, key in spots]
        found = _solved(run, target, place, step, build, was, keys, need_all=len(keys) > 1)
        if found is None:
            continue
        exact, typed = found
        if any(
            abs(new - old) > (MOST_DEGREES if key == "angle" else MOST_MM) or new * old <= 0
            for new, old, key in zip(typed, was, keys, strict=True)
        ):
            continue
        changed = build(typed)
        landed = _landing(run, target, typical_poses(changed.run(run))[place])
        now = _landing(run, target, poses[place])
        if typed != was and landed.away < now.away and (len(keys) > 1 or landed.away <= target.within):
            yield _Way("change", changed, place, build(exact))


def _additions(run: Run, target: Target, place: int, step: Step) -> Iterator[_Way]:
    """A turn and a straight from where the robot stands; and a further turn where the target asks for a heading."""
    pose = typical_poses(run)[place]
    x, y, h = pose.tolist()
    tx, ty = tool_point(run.robot, run.wear)
    dx, dy = target.at[0] - x, target.at[1] - y
    r = hypot(dx, dy)
    if r > abs(ty):
        guesses = []
        for way in (1.0, -1.0):
            along = way * sqrt(r * r - ty * ty)
            turn = wrapped(degrees(atan2(dy, dx) - atan2(ty, along)) - h)
            guesses.append((abs(turn) + (0.0 if along - tx > 0 else BACKWARDS), [turn, along - tx]))
        # A straight ahead or back may bring it there as it stands.
        best = min(guesses)[1]
        added = _added(run, target, place, step, best, ("angle", "distance"))
        if added is not None:
            yield added
            if _faces(run, target, added):
                return
    if target.heading is None:
        return
    c, s = np.cos(np.radians(target.heading)), np.sin(np.radians(target.heading))
    ax, ay = target.at[0] - c * tx + s * ty - x, target.at[1] - s * tx - c * ty - y
    guesses = []
    for way in (1.0, -1.0):
        first = wrapped(degrees(atan2(ay, ax)) - h + (0.0 if way > 0 else 180.0))
        last = wrapped(target.heading - h - first)
        cost = abs(first) + abs(last) + (0.0 if way > 0 else BACKWARDS)
        guesses.append((cost, [first, way * hypot(ax, ay), last]))
    added = _added(run, target, place, step, min(guesses)[1], ("angle", "distance", "angle"))
    if added is not None:
        yield added


def _faces(run: Run, target: Target, way: _Way) -> bool:
    if target.heading is None or target.heading_within is None:
        return target.heading is None
    landed = _landing(run, target, typical_poses(way.run(run))[way.place])
    return abs(landed.turned or 0.0) <= target.heading_within / 2


def _added(
    run: Run, target: Target, place: int, step: Step, guess: Sequence[float], keys: Sequence[str]
) -> _Way | None:
    # What is less than half a step of what is typed is left out.
    kept = [(key, value) for key, value in zip(keys, guess, strict=True) if step.nearest(key, value)]
    if not kept:
        return None

    def build(values: Sequence[float]) -> Change:
        made: list[Segment] = []
        for (key, _), value in zip(kept, values, strict=True):
            # A number of nought is no segment; while the numbers are looked for it may be very small.
            value = float(value) or 1e-9
            made.append(Turn(value) if key == "angle" else Straight(value))
        return Change("aimed numbers", inserted=((place, tuple(made)),))

    names = [key for key, _ in kept]
    found = _solved(run, target, place + len(kept), step, build, [value for _, value in kept], names, need_all=False)
    if found is None or not all(found[1]):
        return None
    exact, typed = found
    return _Way("add", build(typed), place + len(kept), build(exact))


def _solved(
    run: Run,
    target: Target,
    place: int,
    step: Step,
    build: Build,
    guess: Sequence[float],
    keys: Sequence[str],
    need_all: bool,
) -> tuple[list[float], list[float]] | None:
    """The numbers that bring the tool nearest to the target with the robot's known bias, and those to type: of all
    roundings up and down the one that lands nearest. None if nothing brings it near (``need_all``)."""

    def off(values: Sequence[float] | Floats) -> Floats:
        pose = typical_poses(build([float(value) for value in values]).run(run))[place]
        found: Floats = tool_off(run.robot, run.wear, target, pose[None])[0]
        if target.heading is None or (len(keys) < 3 and not need_all):
            return found
        # Three numbers decide the heading too; of two, it only chooses between equals.
        weight = 10.0 if len(keys) > 2 else 1e-3
        return np.append(found, weight * wrapped(float(pose[2]) - target.heading))

    scale = [10.0 if key == "angle" else 100.0 for key in keys]
    try:
        solved = least_squares(off, np.array(guess), x_scale=scale, diff_step=[1e-5] * len(keys))
        exact = [float(value) for value in solved.x]
        if need_all and hypot(*off(exact)[:2]) > max(1.0, target.within / 2):
            return None
        tried = []
        for up in product((floor, ceil), repeat=len(keys)):
            typed = [
                round(rounding(value / step.of(key)) * step.of(key), 3)
                for rounding, value, key in zip(up, exact, keys, strict=True)
            ]
            if all(typed):
                tried.append((float(np.hypot.reduce(off(typed))), typed))
    except (FieldsimError, ValueError):
        # A number beyond what a file may hold: nobody could type that.
        return None
    return (exact, min(tried)[1]) if tried else None
