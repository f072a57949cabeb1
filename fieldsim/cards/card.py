"""The card of a run: all that the printed page for the table says, as values. Its faces compute nothing.

Millimetres, degrees and seconds; poses and points in the field frame unless they say 'robot frame'. Steps are the run's
segments, counted from 1.
"""

from __future__ import annotations

import csv
import shlex
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, inf, isfinite, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from fieldsim.files.sheets import blank_log, blank_sheet
from fieldsim.model import (
    Alignment,
    Arc,
    Box,
    Drive,
    Field,
    Robot,
    Run,
    Segment,
    StartByEye,
    Straight,
    Turn,
)
from fieldsim.sim.failures import counted, failures
from fieldsim.sim.kernel.course import APPROACH, CAUGHT
from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.motion import along_piece, jig_of, speed_of, start_pose, travel_and_turn, wrapped
from fieldsim.sim.plan import Plan, nothing_drawn
from fieldsim.sim.shapes import Core, Points, body_corners, meet, polygon
from fieldsim.sim.trials import typical
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.answer import Pose, UnknownAnswer
from fieldsim.studies.attempt import Tried

Paper = tuple[float, float]

PAPERS: dict[str, Paper] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height, mm: ISO 216 and ANSI/ASME Y14.1 (both from memory)."""

# A gap wider than this on a usual drive needs no gauge block. Common practice, no source.
WATCHED_GAP = 50.0
# More gaps, or more troubles, than these are too many to watch in half a minute.
MOST_GAPS = 6
MOST_TROUBLES = 3

# Corners this much nearer to a wall than others are nearer, mm: finer than any ruler.
TIE = 0.05
# How wide a strip of the way from a corner to a wall has to be free for a ruler, mm.
RULER = 2.0
# A place on the robot is told only if its gap is the one that the exact sweep found, within this, mm.
SAME_GAP = 0.5
# How finely a segment is looked through for that place: steps of each piece, twice over.
LOOKS = 33

CORNERS = ("rear left", "rear right", "front right", "front left")
"""Names of ``fieldsim.sim.shapes.body_corners``, in its order."""
SIDES = ("rear", "right side", "front", "left side")
"""The sides between one of ``CORNERS`` and the next."""


@dataclass(frozen=True)
class Measure:
    """A distance to check with a ruler: from a corner of the body square to a wall."""

    letter: str
    corner: str
    """Such as 'rear left'."""
    wall: str
    """Such as 'left wall', or 'left edge' on an open board."""
    at: tuple[float, float]
    """Where the corner stands."""
    distance: float
    """mm; negative if it stands beyond the wall."""
    over: str | None
    """An obstacle that is between, so that the ruler has to be held over it."""


@dataclass(frozen=True)
class StartValues:
    """How the robot is set: the jig that holds it (None by eye), and what a ruler finds then.

    A and B are the corners nearest to the two nearest walls, one to the side and one ahead or behind. C is the other
    end of one of the two sides that A and B belong to: with the first one it shows the heading.
    """

    jig: str | None
    holds: str | None
    """The held corner, such as 'rear left'."""
    held_at: tuple[float, float] | None
    pose: Pose
    measures: tuple[Measure, Measure, Measure]
    check: tuple[str, str]
    """The letters of the two that show the heading."""
    side: str
    """The side of the body between those two, such as 'left side'."""
    difference: float
    """By how much the second of those is larger than the first if the heading is right, mm."""
    per_degree: float
    """By how much that changes with a degree, mm."""
    spread: tuple[float, float, float]
    """How exactly it is set, standard deviations: mm along and across its heading, degrees."""


@dataclass(frozen=True)
class WheelTurns:
    """Degrees of the two wheels or motors, backwards negative."""

    left: float
    right: float


@dataclass(frozen=True)
class Step:
    """A segment as a step at the table."""

    number: int
    kind: str
    """The segment's word in a file, such as 'line square'."""
    words: str
    """Such as 'straight 420 mm'."""
    distance: float | None
    """mm of a straight, or of a reach; backwards negative."""
    angle: float | None
    """Degrees of a turn or arc; left positive."""
    radius: float | None
    about: str | None
    """The wheel that stands still."""
    may_touch: tuple[str, ...]
    wheels: WheelTurns | None
    """As commanded: without slip and with the program's own wheel and track. None if it does not drive."""
    motors: WheelTurns | None
    """The same through the gear."""
    at_most: bool
    """It drives until it touches or sees something: what is told is how far it may go at most."""
    planned_way: float | None
    """mm until it touches or sees that when everything goes as programmed; None if it does not then, or for others."""
    speed: float | None
    """mm/s of the middle of the axle, within what the motors can do; None for turns and where it stands."""
    turn_speed: float | None
    """Degrees per second of the robot, for turns."""
    motor_speed: float | None
    """Degrees per second of the faster motor."""
    seconds: float
    """Planned."""
    clock: float
    """Planned seconds from the start until it is done."""


@dataclass(frozen=True)
class Gap:
    """A tight place to check with a gauge block."""

    step: int
    obstacle: str
    gap: float
    """mm that are left with the robot's known bias and no chance: what is seen on a usual drive."""
    planned: float
    """mm that are left as programmed."""
    left: float | None
    """mm that are left in 19 of 20 trials, over the whole run; None if no trial was done."""
    part: str | None
    """'body' or the attachment that comes nearest; None if that could not be told."""
    place: str | None
    """A corner such as 'rear left corner', or a side such as 'left side'; of the body."""
    side: str | None
    """On which side of the robot the obstacle is then: 'front', 'left', 'right' or 'rear'."""


@dataclass(frozen=True)
class Aim:
    """A target to be met."""

    step: int
    target: str
    within: float
    heading_within: float | None
    share: Share
    miss_median: float | None
    points: float


@dataclass(frozen=True)
class Catch:
    """A square or a line to be caught."""

    step: int
    on: str
    share: Share


@dataclass(frozen=True)
class Trouble:
    """What goes wrong first, and how often: see ``fieldsim.sim.failures.Failure``."""

    why: str
    what: str
    step: int
    count: int
    share: Share
    """Of the trials that were kept one by one."""


@dataclass(frozen=True)
class Card:
    version: str
    run: str
    run_file: str
    """Its name without folders, as a log names it; the run's name if it is not known."""
    field: str
    robot: str
    wear: tuple[str, ...]
    bare: bool
    heading_from: str
    wheel: float
    """Diameter, mm."""
    track: float
    gear: float
    start: StartValues
    steps: tuple[Step, ...]
    gaps: tuple[Gap, ...]
    """Tightest first."""
    aims: tuple[Aim, ...]
    catches: tuple[Catch, ...]
    seconds: float
    finish: str | None
    trials: int
    seed: int
    success: Share
    unknown: UnknownAnswer | None
    troubles: tuple[Trouble, ...]
    """Most frequent first."""
    looked_at: int
    """Trials that troubles were counted in: those kept one by one."""
    notes: tuple[str, ...]
    interrupted: bool
    log_columns: tuple[str, ...]
    command: str
    paper: str


# --- the start -------------------------------------------------------------------------------------------------


def start_values(run: Run) -> StartValues:
    """How the robot is set, and the three distances that show it."""
    x, y, h = start_pose(run)
    c, s = cos(radians(h)), sin(radians(h))
    corners = body_corners(run.robot.body) @ np.array([(c, s), (-s, c)]) + (x, y)
    jig = None if isinstance(run.start, StartByEye) else jig_of(run.field, run.start)
    holds = jig.holds if jig else None
    w, d = run.field.size
    noun = "edge" if run.field.walls is None else "wall"
    from_wall = {
        f"left {noun}": corners[:, 0], f"right {noun}": w - corners[:, 0],
        f"near {noun}": corners[:, 1], f"far {noun}": d - corners[:, 1],
    }  # fmt: skip
    walls = list(from_wall)
    chosen = [min(pair, key=lambda wall: float(from_wall[wall].min())) for pair in (walls[:2], walls[2:])]

    def over(corner: int, wall: str) -> str | None:
        return _between(run.field, corners[corner], wall, float(from_wall[wall][corner]))

    def order(wall: str) -> list[int]:
        """Corners, the nearest first; of two equally near ones one with a free way to the wall, or that in the jig."""
        return sorted(
            range(4),
            key=lambda i: (round(float(from_wall[wall][i]) / TIE), over(i, wall) is not None, CORNERS[i] != holds, i),
        )

    def measure(letter: str, corner: int, wall: str) -> Measure:
        at = (float(corners[corner, 0]), float(corners[corner, 1]))
        return Measure(letter, CORNERS[corner], wall, at, float(from_wall[wall][corner]), over(corner, wall))

    def per_degree(wall: str) -> float:
        """How much the two nearest corners' distances differ for a degree: the side, as it is seen along the wall."""
        a, b = order(wall)[:2]
        across = corners[b] - corners[a]
        return float(abs(across[1] if wall.startswith(("left", "right")) else across[0]) * pi / 180.0)

    ends = [order(wall) for wall in chosen]
    first = [measure(letter, end[0], wall) for letter, end, wall in zip("AB", ends, chosen, strict=True)]
    told = max((0, 1), key=lambda i: (round(per_degree(chosen[i]), 6), -first[i].distance))
    third = measure("C", ends[told][1], chosen[told])
    spread = run.start.spread if isinstance(run.start, StartByEye) else jig_of(run.field, run.start).spread
    return StartValues(
        jig=jig.name if jig else None,
        holds=holds,
        held_at=jig.corner if jig else None,
        pose=(x, y, wrapped(h)),
        measures=(first[0], first[1], third),
        check=(first[told].letter, "C"),
        side=_side_between(ends[told][0], ends[told][1]),
        difference=third.distance - first[told].distance,
        per_degree=per_degree(chosen[told]),
        spread=(spread.along, spread.across, spread.heading),
    )


def _between(field: Field, corner: NDArray[np.float64], wall: str, distance: float) -> str | None:
    """The first obstacle on the way from a corner square to a wall; None if a ruler finds room."""
    if distance < RULER:
        return None
    towards = -0.5 if wall.startswith(("left", "near")) else 0.5
    x, y = corner
    if wall.startswith(("near", "far")):
        strip = polygon(Box((x, y + towards * distance), (RULER, distance)))
    else:
        strip = polygon(Box((x + towards * distance, y), (distance, RULER)))
    # Half of the strip's width for as far as it is wide: a jig's block that only touches the corner hides nothing.
    hidden = RULER * RULER / 2
    return next((o.name for o in field.obstacles if polygon(o.shape).intersection(strip).area > hidden), None)


def _side_between(one: int, other: int) -> str:
    """The side of the body between two neighbouring corners."""
    return SIDES[one] if other == (one + 1) % 4 else SIDES[other]


# --- the steps -------------------------------------------------------------------------------------------------


def wheel_turns(segment: Segment, drive: Drive) -> WheelTurns | None:
    """How far the wheels turn for a segment as commanded, degrees; of an alignment, at most. None if it stands.

    A wheel without slip turns 360 a / (pi d) degrees on a way of a mm. With the middle of the axle driving s mm while
    the robot turns by t (radians), the ways are s - t b/2 on the left and s + t b/2 on the right (b the track; Siegwart
    & Nourbakhsh, Introduction to Autonomous Mobile Robots, 2004, sec. 5.2.4). So a turn of A degrees on the spot is
    A b / d degrees of each wheel, about a wheel 2 A b / d of the other one, an arc of radius r 2 A (r -+ b/2) / d.
    """
    s, t = travel_and_turn(segment, drive.track)
    if s == 0.0 and t == 0.0:
        return None
    half = radians(t) * drive.track / 2
    per_mm = 360.0 / (pi * drive.wheel)
    # Adding nought makes a minus nought a plain one.
    return WheelTurns((s - half) * per_mm + 0.0, (s + half) * per_mm + 0.0)


def steps(ready: Plan) -> tuple[Step, ...]:
    """Every segment as a step."""
    drive = ready.run.robot.drive
    found = []
    clock = 0.0
    for index, (segment, seconds) in enumerate(zip(ready.run.segments, ready.seconds, strict=True)):
        clock += seconds
        s, t = travel_and_turn(segment, drive.track)
        wheels = wheel_turns(segment, drive)
        aligns = isinstance(segment, Alignment)
        speed = turn_speed = motor_speed = None
        if wheels is not None:
            rolls = speed_of(segment, drive)
            if isinstance(segment, Turn):
                turn_speed = degrees(rolls / (drive.track if segment.about else drive.track / 2))
            else:
                speed = rolls
            if isinstance(segment, Arc):
                rolls *= 1 + drive.track / (2 * abs(segment.radius))
            motor_speed = rolls * 360.0 / (pi * drive.wheel) / drive.gear
        found.append(
            Step(
                number=index + 1,
                kind=segment.key,
                words=segment.in_words(),
                distance=s if isinstance(segment, Straight) or aligns else None,
                angle=t if isinstance(segment, Turn | Arc) else None,
                radius=segment.radius if isinstance(segment, Arc) else None,
                about=segment.about if isinstance(segment, Turn) else None,
                may_touch=tuple(getattr(segment, "may_touch", ())),
                wheels=wheels,
                motors=WheelTurns(wheels.left / drive.gear, wheels.right / drive.gear) if wheels else None,
                at_most=aligns,
                planned_way=_planned_way(ready, index),
                speed=speed,
                turn_speed=turn_speed,
                motor_speed=motor_speed,
                seconds=seconds,
                clock=clock,
            )
        )
    return tuple(found)


def _planned_way(ready: Plan, index: int) -> float | None:
    """How far an alignment drives until it touches or sees, as programmed."""
    alignments = ready.course.alignments
    m = int(alignments.of[index])
    if m < 0 or ready.endings[m][0] != CAUGHT:
        return None
    first = int(ready.course.wheels.piece[index])
    return float(np.abs(ready.path[first : first + int(alignments.what[m, APPROACH]), S]).sum())


# --- what to watch -----------------------------------------------------------------------------------------------


def gaps(tried: Tried) -> tuple[Gap, ...]:
    """The tightest places, each obstacle once, at the step where a usual drive comes nearest to it."""
    ready = tried.ready
    usual = typical(ready)
    path = nothing_drawn(ready).path
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
        planned = answer.nominal if answer else gap
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
            here = inf
            for u, at in zip(shares, poses, strict=True):
                for part in parts:
                    placed = _seen_from(part.points - (wheels.ahead[p], 0.0), at)
                    for core in solid.cores:
                        distance, edge, fraction, away = _closest(placed, core)
                        if distance < here:
                            here, where = distance, u
                        if distance < best:
                            best = distance
                            place = _place(part.points, edge, fraction, placed, core) if part.of == "body" else None
                            told = (part.of, place, _side(away, at[2]))
            step_wide = (high - low) / (LOOKS - 1)
            low, high = max(0.0, where - step_wide), min(1.0, where + step_wide)
    return told if abs(best - gap) <= SAME_GAP else (None, None, None)


def _seen_from(points: Points, pose: NDArray[np.float64]) -> Points:
    """Points of the robot in the field."""
    c, s = cos(radians(pose[2])), sin(radians(pose[2]))
    moved: Points = points @ np.array([(c, s), (-s, c)]) + pose[:2]
    return moved


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
    """What goes wrong first most often, in the trials kept one by one."""
    if tried.first is None:
        return ()
    n = len(tried.first)
    return tuple(
        Trouble(failure.why, failure.what, failure.segment, count, wilson(count, n))
        for failure, count in counted(failures(tried.first))[:MOST_TROUBLES]
    )


# --- the whole -------------------------------------------------------------------------------------------------


def make_card(tried: Tried, run_file: str = "", paper: str = "A4", saved: str = "") -> Card:
    """The card of a run that was tried with ``keep`` trials kept. ``run_file`` is how the user named it, ``saved`` the
    file that the card is written to, if any: both are told by the command that makes it again.

    Raises ValueError for a paper that is not one of ``PAPERS``.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper={paper!r} must be one of {tuple(PAPERS)}")
    ready, answer, run = tried.ready, tried.answer, tried.ready.run
    heading_within = {target.name: target.heading_within for target in run.field.targets}
    within = {target.name: target.within for target in run.field.targets}
    again = ["fieldsim", "card", run_file or "RUN", "--trials", str(answer.trials), "--seed", str(answer.seed)]
    again += ["--bare"] if answer.bare else []
    again += ["--paper", paper] if paper != "A4" else []
    again += ["--save", saved] if saved else []
    return Card(
        version=answer.version,
        run=run.name,
        run_file=run_file.replace("\\", "/").rpartition("/")[2] or run.name,
        field=run.field.name,
        robot=run.robot.name,
        wear=run.wear,
        bare=answer.bare,
        heading_from=run.robot.drive.heading_from,
        wheel=run.robot.drive.wheel,
        track=run.robot.drive.track,
        gear=run.robot.drive.gear,
        start=start_values(run),
        steps=steps(ready),
        gaps=gaps(tried),
        aims=tuple(
            Aim(t.segment, t.target, within[t.target], heading_within[t.target], t.share, t.miss_median, t.points)
            for t in answer.targets
        ),
        catches=tuple(Catch(square.segment, square.on, square.share) for square in answer.squares),
        seconds=sum(ready.seconds),
        finish=run.finish,
        trials=answer.trials,
        seed=answer.seed,
        success=answer.success,
        unknown=answer.unknown,
        troubles=troubles(tried),
        looked_at=0 if tried.first is None else len(tried.first),
        notes=answer.notes,
        interrupted=answer.interrupted,
        log_columns=header(blank_log()),
        command=shlex.join(again),
        paper=paper,
    )


def header(blank: str) -> tuple[str, ...]:
    """The columns of a blank file: its first line that is no remark."""
    line = next(line for line in blank.splitlines() if not line.startswith("#"))
    return tuple(next(csv.reader([line])))


# --- the test sheet ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class BlankTable:
    """The rows to fill in for one kind of test: its columns among those of ``files.sheets.blank_sheet``, and what is
    written in them already, a row each ('' where there is room)."""

    kind: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class BlankTests:
    """A blank sheet for a robot's tests."""

    version: str
    robot: str
    speed: float
    turn_speed: float
    columns: tuple[str, ...]
    """All columns of the file, in its order."""
    tables: tuple[BlankTable, ...]
    paper: str


_ALWAYS = {"date", "test", "note"}
_USED: dict[str, set[str]] = {
    "straight": {
        "heading from", "speed mm/s", "commanded mm", "travel mm", "sideways mm", "heading deg", "tape mm",
    },
    "turn": {
        "heading from", "turn speed deg/s", "commanded deg", "angle deg", "near mm", "far mm", "side mm", "tape mm",
    },
    "square path": {
        "heading from", "speed mm/s", "turn speed deg/s", "side mm", "direction", "return x mm", "return y mm",
        "heading deg", "tape mm",
    },
    "placing": {"jig", "along mm", "across mm", "heading deg", "tape mm"},
    "drop": {"result", "came off"},
}  # fmt: skip

# What the README asks for: two lengths, quarter and whole turns both ways, square paths both ways, a jig six times.
_WRITTEN: dict[str, list[dict[str, str]]] = {
    "straight": [{"commanded mm": way} for way in ("300",) * 5 + ("1000",) * 5],
    "turn": [{"commanded deg": angle} for angle in (*("90", "-90") * 3, *("360", "-360") * 2)],
    "square path": [{"direction": way} for way in ("cw", "ccw") * 3],
    "placing": [{} for _ in range(6)],
    "drop": [{} for _ in range(2)],
}  # fmt: skip


def blank_tests(robot: Robot, version: str, paper: str = "A4") -> BlankTests:
    """A blank sheet for this robot's tests, with what is asked for written in.

    Raises ValueError for a paper that is not one of ``PAPERS``.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper={paper!r} must be one of {tuple(PAPERS)}")
    columns = header(blank_sheet())
    tables = []
    for kind, used in _USED.items():
        mine = tuple(column for column in columns if column in used | _ALWAYS)
        told = {"test": kind} | ({"heading from": robot.drive.heading_from} if "heading from" in used else {})
        rows = tuple(tuple((told | row).get(column, "") for column in mine) for row in _WRITTEN[kind])
        tables.append(BlankTable(kind, mine, rows))
    return BlankTests(version, robot.name, robot.drive.speed, robot.drive.turn_speed, columns, tuple(tables), paper)
