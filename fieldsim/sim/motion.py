"""Where a perfect robot is, and how long it takes: poses, wheel travel, speed profiles. Millimetres, degrees, seconds.

A piece of driving is one rigid rotation: the axle's middle travels an arc of signed length s while the heading changes
by t, both in proportion.
"""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.model import Alignment, Drive, Field, Jig, Run, Segment, StartByEye
from fieldsim.sim.shapes import corner_of

Pose = tuple[float, float, float]


def wrapped(heading: float) -> float:
    """A heading in degrees in (-180, 180]."""
    turned = -((-heading + 180.0) % 360.0 - 180.0)
    return 180.0 if turned == -180.0 else turned


def along_piece(pose: ArrayLike, s: ArrayLike, t: ArrayLike, fraction: ArrayLike) -> NDArray[np.float64]:
    """Pose (..., 3) in mm and degrees at a fraction of a piece of ``s`` mm and ``t`` degrees. All arguments broadcast.

    x += s u sinc(t u/2) cos(h + t u/2), y likewise with sin, h += t u, sinc(v) = sin(v)/v. Source: Siegwart &
    Nourbakhsh, Introduction to Autonomous Mobile Robots, 2004, sec. 5.2.4, with the exact chord.
    """
    start = np.asarray(pose, dtype=float)
    u = np.asarray(fraction, dtype=float)
    half = np.radians(np.asarray(t, dtype=float) * u) / 2
    chord = np.asarray(s, dtype=float) * u * np.sinc(half / pi)
    middle = np.radians(start[..., 2]) + half
    x, y, h, _ = np.broadcast_arrays(
        start[..., 0] + chord * np.cos(middle),
        start[..., 1] + chord * np.sin(middle),
        start[..., 2] + 2 * np.degrees(half),
        u,
    )
    return np.stack([x, y, h], axis=-1)


def shifted(poses: NDArray[np.float64], ahead: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """Poses (..., 3) of the point that is so far ahead, mm, (...) if not the same for all."""
    h = np.radians(poses[..., 2])
    return np.stack([poses[..., 0] + ahead * np.cos(h), poses[..., 1] + ahead * np.sin(h), poses[..., 2]], axis=-1)


def start_pose(run: Run) -> Pose:
    """The planned start. A jig holds a corner of the body, so a wider body moves the axle."""
    if isinstance(run.start, StartByEye):
        return run.start.at[0], run.start.at[1], run.start.heading
    jig = jig_of(run.field, run.start)
    kx, ky = corner_of(run.robot.body, jig.holds)
    c, s = cos(radians(jig.heading)), sin(radians(jig.heading))
    return jig.corner[0] - c * kx + s * ky, jig.corner[1] - s * kx - c * ky, jig.heading


def jig_of(field: Field, name: str) -> Jig:
    """The jig of that name."""
    return next(jig for jig in field.jigs if jig.name == name)


def held_point(run: Run) -> tuple[float, float]:
    """What the start's heading error turns about, robot frame: the held corner, or the axle's middle if set by eye."""
    if isinstance(run.start, StartByEye):
        return 0.0, 0.0
    return corner_of(run.robot.body, jig_of(run.field, run.start).holds)


def travel_and_turn(segment: Segment, track: float) -> tuple[float, float]:
    """Commanded (s, t) of a segment: mm of the axle's middle, degrees. Of an alignment, how far it may drive."""
    return segment.travel(track)


def top_speed(drive: Drive) -> float:
    """Fastest a wheel can roll, mm/s: motor speed times gear times circumference."""
    return drive.motor_speed / 360.0 * drive.gear * pi * drive.wheel


class Profile:
    """Trapezoid speed profile over a distance: speed up, drive, slow down, at one acceleration.

    D >= v^2/a: T = D/v + v/a, else T = 2 sqrt(D/a) and the peak is sqrt(a D). Source: Lynch & Park, Modern Robotics,
    2017, sec. 9.2.2.2 (section number from memory).
    """

    def __init__(self, distance: float, speed: float, acceleration: float) -> None:
        self.distance = abs(distance)
        self.acceleration = acceleration
        self.peak = min(speed, sqrt(acceleration * self.distance))
        self.seconds = self.distance / self.peak + self.peak / acceleration if self.distance > 0 else 0.0

    def seconds_to(self, fraction: ArrayLike) -> NDArray[np.float64]:
        """Seconds until that fraction of the distance has been driven."""
        d = np.clip(np.asarray(fraction, dtype=float), 0.0, 1.0) * self.distance
        if self.distance == 0.0:
            return np.zeros_like(d)
        a, v = self.acceleration, self.peak
        ramp = v * v / (2 * a)
        up = np.sqrt(2 * np.minimum(d, ramp) / a)
        level = np.clip(d - ramp, 0.0, self.distance - 2 * ramp) / v
        down = v / a - np.sqrt(2 * np.minimum(self.distance - d, ramp) / a)
        seconds: NDArray[np.float64] = up + level + np.where(d > self.distance - ramp, down, 0.0)
        return seconds


def speed_of(segment: Segment, drive: Drive) -> float:
    """Speed a driving or turning segment is driven at, within what the motors can do: mm/s of the axle's middle on
    straights and arcs, of a moving wheel on turns."""
    return segment.speed_on(drive, top_speed(drive))


def profile(segment: Segment, drive: Drive) -> Profile:
    """Speed profile of a segment: over the axle's middle on straights and arcs, over a moving wheel on turns."""
    return Profile(segment.way(drive.track), speed_of(segment, drive), drive.acceleration)


def aligning_seconds(segment: Alignment, drive: Drive, driven: ArrayLike) -> NDArray[np.float64]:
    """Seconds for an alignment in which the faster wheel drives ``driven`` mm.

    A line is seen at speed and the wheels brake then, so each pass is a trapezoid profile of its own. A wall stops the
    robot: no time is spent on slowing down, nor on pushing once it stands flat (a ``wait`` may stand for that).
    """
    way = np.asarray(driven, dtype=float)
    speed, acceleration = speed_of(segment, drive), drive.acceleration
    if not segment.brakes:
        ramp = speed * speed / (2 * acceleration)
        slow = np.sqrt(2 * np.minimum(way, ramp) / acceleration)
        return np.asarray(slow + np.maximum(way - ramp, 0.0) / speed)
    leg = way / segment.legs
    full = speed * speed / acceleration
    return np.asarray(
        segment.legs * (2 * np.sqrt(np.minimum(leg, full) / acceleration) + np.maximum(leg - full, 0.0) / speed)
    )
