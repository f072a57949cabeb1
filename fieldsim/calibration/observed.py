"""What a measured test says of a robot: the test driven by the kernel of every trial, and how each error changes it.

Each test is a short run on an empty floor. What is measured of it (travel, sideways, heading ...) is, to first order,
linear in the robot's bias and in every drawn number; the slopes are taken from the kernel itself, so a fit and a trial
can never mean different things by the same number.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import radians
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import (
    Accuracy,
    Field,
    GyroNoise,
    Robot,
    Run,
    Segment,
    Spread,
    StartByEye,
    Straight,
    StraightNoise,
    Turn,
    TurnNoise,
    replace,
)
from fieldsim.model.measured import PlacingTest, SquarePathTest, StraightTest, Test, ThereAndBackTest, TurnTest
from fieldsim.sim.drivetrain import DISTANCE, GYRO, HOLD, SLIP, STOP, VEER, drivetrain, timed
from fieldsim.sim.kernel.course import Wheels
from fieldsim.sim.motion import profile
from fieldsim.sim.plan import driven_pose

FloatArray = NDArray[np.float64]
DrivenTest = StraightTest | TurnTest | SquarePathTest | ThereAndBackTest

# The biases, in the files' units: shares, degrees per metre, mm and degrees. The first three also differ from day to
# day. Left and right turns stand beside ``turn``, which is both of them.
BIASES = (
    "distance", "veer", "turn", "turn_left", "turn_right", "stop", "turn_stop", "gyro_scale", "backlash", "kick",
)  # fmt: skip
DAILY = BIASES[:3]
# Steps of the slopes: of the biases, and of a drawn number. The kernel is smooth, so the middle of two sides is exact
# to their square.
BIAS_STEP = (1e-4, 1e-2, 1e-4, 1e-4, 1e-4, 1e-1, 1e-2, 1e-4, 1e-1, 1e-2)
DRAW_STEP = 1e-3
# The gyro's scale is drawn in hundredths: a share of 1 would be no small change.
GYRO_SCALE = 0.01

# What scatters from test to test, by its place in the accuracy block; 'tape' is how well a tape is held and read,
# beyond its own steps.
SOURCES = (
    "straight.stop", "straight.distance", "straight.veer", "turn.stop", "turn.slip", "gyro.drift", "gyro.scale",
    "gyro.hold", "tape",
)  # fmt: skip

_FLOOR = Field("Floor", (20_000.0, 20_000.0))
_UNIT = Accuracy(straight=StraightNoise(1.0, 1.0, 1.0), turn=TurnNoise(1.0, 1.0), gyro=GyroNoise(1.0, GYRO_SCALE, 1.0))
_START = StartByEye((10_000.0, 10_000.0), 0.0, Spread(0.0, 0.0, 0.0))
_NAMES = {
    (Straight, STOP): "straight.stop", (Straight, DISTANCE): "straight.distance", (Straight, VEER): "straight.veer",
    (Straight, HOLD): "gyro.hold", (Turn, STOP): "turn.stop", (Turn, SLIP): "turn.slip",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Observed:
    """What one test says: values less what a perfect robot would have made, and how each source would change them.

    k readings, in mm and degrees.
    """

    line: int
    date: datetime.date | None
    words: tuple[str, ...]
    """(k,) what each is called."""
    y: FloatArray
    """(k,)"""
    bias: FloatArray
    """(k, 10) slopes with ``BIASES``, in the files' units."""
    parts: dict[str, FloatArray]
    """(k, rows) slopes with the drawn numbers of each source, for a standard deviation of 1 in the files' units."""
    reading: FloatArray
    """(k,) variances of measuring: of rounding to the steps of tape or protractor, r^2/12, or of a photo's poses."""
    rounded: bool = True
    """Whether ``reading`` is rounding, which goes together where a robot scatters by less than a step."""


def observed(robot: Robot, test: DrivenTest) -> Observed:
    """A test's readings, of a robot with these wheels and speeds; its own accuracy counts only by the speeds it was
    measured at."""
    tape = beside = test.tape**2 / 12
    angle = test.protractor**2 / 12
    by_photo = test.photo is not None and test.photo_angle is not None
    if test.photo is not None and test.photo_angle is not None:
        # The pose before and the pose after, each as exact as the photo tells.
        tape = beside = 2 * test.photo**2
        angle = 2 * test.photo_angle**2
        if isinstance(test, StraightTest):
            # The line it was set on is its heading before. That sideways and heading have this error together is left
            # out: it says no more than what is there.
            beside += (test.travel * radians(test.photo_angle)) ** 2
    readings: list[tuple[str, int, float, float]] = []
    match test:
        case StraightTest():
            readings.append(("travel", 0, test.travel, tape))
            if test.sideways is not None:
                readings.append(("sideways", 1, test.sideways, beside))
            if test.heading is not None:
                readings.append(("heading", 2, test.heading, angle))
        case TurnTest():
            if test.side is not None and not by_photo:
                # Two readings, far less near, over the side: asin is straight enough near 0.
                angle = 2 * tape * float(np.degrees(1 / test.side)) ** 2
            readings.append(("angle", 2, test.angle, angle))
        case SquarePathTest() | ThereAndBackTest():
            readings += [("return x", 0, test.return_x, tape), ("return y", 1, test.return_y, tape)]
            if test.heading is not None:
                readings.append(("heading", 2, test.heading, angle))
    perfect, bias, parts = slopes(_still(robot), segments_of(test), test.heading_from)
    which = [row for _, row, _, _ in readings]
    expected = perfect[which]
    if isinstance(test, SquarePathTest):
        # Its heading is told as how far off it is, not with the full turn.
        expected = np.where(np.array(which) == 2, 0.0, expected)
    made = {name: slope[which] for name, slope in parts.items()}
    if not isinstance(test, TurnTest) and not by_photo:
        made["tape"] = np.diag([1.0 if row < 2 else 0.0 for row in which])
    return Observed(
        line=test.line,
        date=test.date,
        words=tuple(words for words, _, _, _ in readings),
        y=np.array([value for _, _, value, _ in readings]) - expected,
        bias=bias[which],
        parts=made,
        reading=np.array([variance for _, _, _, variance in readings]),
        rounded=not by_photo,
    )


def segments_of(test: DrivenTest) -> tuple[Segment, ...]:
    """The run of a test."""
    match test:
        case StraightTest():
            return (Straight(test.commanded, speed=test.speed),)
        case TurnTest():
            return (Turn(test.commanded, turn_speed=test.turn_speed),)
        case ThereAndBackTest():
            return (Straight(test.commanded, speed=test.speed), Straight(-test.commanded, speed=test.speed))
        case SquarePathTest():
            corner = 90.0 if test.direction == "ccw" else -90.0
            return (Straight(test.side, speed=test.speed), Turn(corner, turn_speed=test.turn_speed)) * 4


def placed(tests: Sequence[Test]) -> dict[str, list[PlacingTest]]:
    """Placings by the jig's name, 'by eye' for those without one."""
    found: dict[str, list[PlacingTest]] = {}
    for test in tests:
        if isinstance(test, PlacingTest):
            found.setdefault(test.jig or "by eye", []).append(test)
    return dict(sorted(found.items()))


def _still(robot: Robot) -> Robot:
    """The robot without what a test does not depend on, so that equal tests are driven once."""
    own = robot.accuracy
    accuracy = replace(
        _UNIT, measured_at=own.measured_at, turn_measured_at=own.turn_measured_at,
        straight=replace(_UNIT.straight, grows=own.straight.grows), turn=replace(_UNIT.turn, grows=own.turn.grows),
    )  # fmt: skip
    return replace(robot, accuracy=accuracy, attachments=(), sensors=())


@lru_cache(maxsize=1024)
def slopes(
    robot: Robot, segments: tuple[Segment, ...], heading_from: Literal["wheels", "gyro"] = "wheels"
) -> tuple[FloatArray, FloatArray, dict[str, FloatArray]]:
    """The pose at the end (x, y in mm, heading in degrees) of a perfect robot that starts at the origin along x, its
    slopes (3, 10) with the biases, and (3, rows) with each source's drawn numbers. Not to be written to."""
    robot = replace(_still(robot), drive=replace(robot.drive, heading_from=heading_from))
    run = Run("test", _FLOOR, robot, _START, segments)
    train = drivetrain(run)
    # By the clock a gyro drifts.
    seconds = np.array([profile(each, robot.drive).seconds for each in segments])
    plain = timed(train.wheels, seconds)
    zero = np.zeros((train.rows, 1))

    def end(z: FloatArray, wheels: Wheels = plain) -> FloatArray:
        pose = driven_pose(wheels, train.alignments, z)
        return np.array([pose[0] - 10_000.0, pose[1] - 10_000.0, pose[2]])

    def biased(name: str, value: float) -> FloatArray:
        accuracy = replace(robot.accuracy, bias=replace(robot.accuracy.bias, **{name: value}))
        other = drivetrain(replace(run, robot=replace(robot, accuracy=accuracy)))
        return end(zero, timed(other.wheels, seconds))

    def drawn(row: int) -> FloatArray:
        z = zero.copy()
        z[row] = DRAW_STEP
        slope: FloatArray = (end(z) - end(-z)) / (2 * DRAW_STEP)
        return slope

    perfect = end(zero)
    with_bias = np.zeros((3, len(BIASES)))
    for k, (name, step) in enumerate(zip(BIASES, BIAS_STEP, strict=True)):
        with_bias[:, k] = (biased(name, step) - biased(name, -step)) / (2 * step)
    parts: dict[str, list[FloatArray]] = {}
    row = 0
    for stream in train.streams:
        rows = range(row, row + stream.rows)
        row += stream.rows
        if stream.source == GYRO:
            parts["gyro.drift"] = [drawn(rows[0])]
            parts["gyro.scale"] = [drawn(rows[1]) / GYRO_SCALE]
        elif stream.segment:
            kind = type(segments[stream.segment - 1])
            parts.setdefault(_NAMES[kind, stream.source], []).extend(drawn(r) for r in rows)
    return perfect, with_bias, {name: np.array(found).T for name, found in parts.items()}
