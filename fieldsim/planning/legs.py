"""A way as legs, and legs as a run that can be typed: turns in half degrees, distances in whole millimetres.

The robot's known bias is taken out as the run is written: each turn and straight is aimed from where the one before
really ends, rounding and bias and all, so that neither adds up.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, ceil, cos, degrees, hypot, pi, radians, sin, sqrt

from fieldsim.model import Act, Field, Run, Segment, Square, StartByEye, Straight, Target, Turn
from fieldsim.model.robot import Robot
from fieldsim.planning.places import ACT, GO, LEAVE, PUSH, Side
from fieldsim.sim.endings import tool_point
from fieldsim.sim.motion import start_pose

# What a team types: turns in steps of half a degree, distances in whole millimetres.
TURN_STEP = 0.5
WAY_STEP = 1.0
# A square may drive this much farther than it should need.
REACH_SPARE, REACH_SHARE, REACH_STEP = 25.0, 1.05, 10.0

Pose = tuple[float, float, float]


@dataclass(frozen=True)
class Leg:
    """A turn on the spot and a straight after it; what it comes to by its kind.

    GO: the axle's middle comes to ``at``. PUSH: a face on ``side``. LEAVE: straight on by ``way``, without a turn. ACT:
    the tool comes to ``target``, ``more`` mm farther (or less far) along the way.
    """

    kind: int
    backwards: bool
    at: tuple[float, float] = (0.0, 0.0)
    way: float = 0.0
    side: Side | None = None
    target: Target | None = None
    more: float = 0.0
    long_way: bool = False
    """Turn the longer way round."""
    behind: bool = False
    """The target lies behind the robot, where its tool is."""


@dataclass(frozen=True)
class Way:
    """A run as it is planned: from a start, legs, and where it ends."""

    start: str | StartByEye
    legs: tuple[Leg, ...]
    way_round: float = 0.0
    guess: float = 0.0
    """The chance the search gives it."""

    @property
    def pushes(self) -> tuple[str, ...]:
        """What is squared on, in order."""
        return tuple(leg.side.name for leg in self.legs if leg.side is not None)


@dataclass(frozen=True)
class Task:
    """What is asked for."""

    field: Field
    robot: Robot
    wear: tuple[str, ...]
    starts: tuple[str | StartByEye, ...]
    targets: tuple[str, ...]
    finish: str | None
    may_touch: tuple[str, ...] = ()
    within: float | None = None
    """Seconds, at most."""

    def run(self, start: str | StartByEye, segments: tuple[Segment, ...], name: str = "Proposal") -> Run:
        return Run(name, self.field, self.robot, start, segments, self.wear, self.finish)


class _Writer:
    """Follows the robot with its known bias as the segments are written."""

    def __init__(self, task: Task, start: str | StartByEye) -> None:
        bias, drive = task.robot.accuracy.bias, task.robot.drive
        gyro = drive.heading_from == "gyro"
        self.distance = 1 + bias.distance
        self.veer = 0.0 if gyro else radians(bias.veer) / 1000.0
        self.turns = 1.0 if gyro else 1 + bias.turn
        self.touch = task.may_touch
        self.tool = tool_point(task.robot, task.wear)
        x, y, h = start_pose(task.run(start, (Straight(1.0),)))
        self.x, self.y, self.h = x, y, radians(h)
        self.segments: list[Segment] = []

    def turn_to(self, heading: float, long_way: bool) -> None:
        turn = (heading - self.h + pi) % (2 * pi) - pi
        if long_way and abs(turn) > radians(5.0):
            turn -= 2 * pi if turn > 0 else -2 * pi
        told = round(degrees(turn) / self.turns / TURN_STEP) * TURN_STEP
        if told:
            self.segments.append(Turn(told, may_touch=self.touch))
            self.h += radians(told) * self.turns

    def straight(self, way: float) -> None:
        told = float(round(way / self.distance / WAY_STEP)) * WAY_STEP
        if not told:
            return
        self._move(told)
        last = self.segments[-1] if self.segments else None
        if isinstance(last, Straight):
            # The turn between them came to nothing: one straight.
            told += last.distance
            self.segments.pop()
        if told:
            self.segments.append(Straight(told, may_touch=self.touch))

    def _move(self, told: float) -> None:
        way, bend = told * self.distance, told * self.veer
        self.x += way * cos(self.h + bend / 2)
        self.y += way * sin(self.h + bend / 2)
        self.h += bend

    def aim(self, x: float, y: float, backwards: bool, long_way: bool) -> None:
        """Drive the axle's middle to a point."""
        distance = hypot(x - self.x, y - self.y)
        way = -distance if backwards else distance
        direction = atan2(y - self.y, x - self.x) + (pi if backwards else 0.0)
        self.turn_to(direction - way / self.distance * self.veer / 2, long_way)
        # The turn is rounded: go on until beside the point.
        middle = self.h + way / self.distance * self.veer / 2
        self.straight((x - self.x) * cos(middle) + (y - self.y) * sin(middle))

    def act(self, leg: Leg) -> None:
        """Bring the tool to the target."""
        assert leg.target is not None
        (tx, ty), (gx, gy) = self.tool, leg.target.at
        if leg.kind == ACT and leg.way == 0.0:
            distance = hypot(gx - self.x, gy - self.y)
            root = sqrt(max(distance * distance - ty * ty, 0.0)) * (-1.0 if leg.behind else 1.0)
            heading = atan2(gy - self.y, gx - self.x) - atan2(ty, root)
            # The tool sees the whole bend at the end, the axle half of it.
            bend = (root - tx) / self.distance * self.veer
            self.turn_to(heading - bend / 2 - bend * tx / (2 * max(distance, 1.0)), leg.long_way)
        way_c, way_s = cos(self.h), sin(self.h)
        way = (gx - self.x) * way_c + (gy - self.y) * way_s - tx
        self.straight(way + leg.more)
        self.segments.append(Act(leg.target.name))

    def push(self, leg: Leg) -> None:
        side = leg.side
        assert side is not None
        self.turn_to(side.heading, leg.long_way)
        ax, ay = side.away
        off = (self.x - side.at[0]) * ax + (self.y - side.at[1]) * ay
        travel = max(off - abs(side.x), 1.0)
        face = "front" if side.face == "front" else "rear"
        reach = ceil((travel * REACH_SHARE + REACH_SPARE) / REACH_STEP) * REACH_STEP
        self.segments.append(Square(face, side.name, reach, may_touch=self.touch))  # type: ignore[arg-type]
        # Sideways it is where its face's middle came to.
        sign = 1.0 if face == "front" else -1.0
        self._move(sign * travel)
        lx, ly = side.along
        mx, my = self.x + side.x * cos(self.h), self.y + side.x * sin(self.h)
        lane = (mx - side.at[0]) * lx + (my - side.at[1]) * ly
        self.h = side.heading
        self.x = side.at[0] + lane * lx + abs(side.x) * ax
        self.y = side.at[1] + lane * ly + abs(side.x) * ay


def written(task: Task, way: Way, name: str = "Proposal") -> Run:
    """A way as a run."""
    writer = _Writer(task, way.start)
    for leg in way.legs:
        if leg.kind == GO:
            writer.aim(*leg.at, leg.backwards, leg.long_way)
        elif leg.kind == PUSH:
            writer.push(leg)
        elif leg.kind == LEAVE:
            writer.straight(leg.way)
        else:
            writer.act(leg)
    if not writer.segments:
        writer.segments.append(Straight(1.0))
    return task.run(way.start, tuple(writer.segments), name)


def changed(way: Way, index: int, leg: Leg) -> Way:
    """The way with one leg another."""
    return replace(way, legs=(*way.legs[:index], leg, *way.legs[index + 1 :]))


def without(way: Way, index: int) -> Way:
    """The way without a leg."""
    return replace(way, legs=way.legs[:index] + way.legs[index + 1 :])
