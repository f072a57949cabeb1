"""What is known of where the robot is, carried along a run in closed form: mean, covariance, what the day does to it.

A belief is linear and Gaussian about the planned pose. It has two parts, because they grow differently: *chance*, the
covariance of all that is drawn anew at each segment, and the *day*, how far the pose is moved by one standard deviation
of each thing that is drawn once a trial and then stays (distance, veer, turn; with a gyro distance, drift, scale). A
turn of 90 degrees to the left and one to the right take back what the day did, but not what chance did.

All is for arrays of N beliefs at once. Poses are x, y in mm and heading in radians, field frame.

Source of the method: van den Berg, Abbeel and Goldberg, LQG-MP, International Journal of Robotics Research 30 (2011),
sec. 4, and Prentice and Roy, The belief roadmap, IJRR 28 (2009), sec. 3; the noise is `fieldsim.sim.drivetrain`'s.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from fieldsim.model import Robot, Spread
from fieldsim.sim.drivetrain import SETTLE
from fieldsim.sim.motion import top_speed

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# How the day's columns are ordered: by wheels distance, veer, turn; by gyro distance, drift, scale.
DAYS = 3


@dataclass(frozen=True)
class Noise:
    """A robot's errors as the formulas here want them: standard deviations in mm, radians and seconds."""

    gyro: bool
    stop: float
    """mm at the end of a straight, at the robot's speed,"""
    walk: float
    """mm for the root of a mm,"""
    veer: float
    """radians for the root of a mm (no veer by gyro),"""
    hold: float
    """radians that a gyro holds a heading wrong, one draw a straight,"""
    turn_stop: float
    """radians at the end of a turn,"""
    slip: float
    """radians for the root of a radian turned,"""
    face: float
    """radians, and"""
    along: float
    """mm left after a square;"""
    slides: bool
    """whether the corner slides along the wall until it is flush."""
    day_distance: float
    """The day's share of distances,"""
    day_veer: float
    """radians for a mm,"""
    day_turn: float
    """share of turns,"""
    drift: float
    """radians a second of the gyro,"""
    scale: float
    """and share of what it reads."""
    speed: float
    """mm/s on straights,"""
    turn_speed: float
    """radians/s on the spot,"""
    acceleration: float
    """mm/s^2."""
    track: float


def _power(grows: float | None) -> float:
    """With which power of the speed a stop error grows: see ``fieldsim.sim.stops``."""
    return 1.0 if grows is None else grows


def noise_of(robot: Robot) -> Noise:
    """A robot's errors at its own speeds."""
    drive, accuracy = robot.drive, robot.accuracy
    gyro = drive.heading_from == "gyro"
    speed = min(drive.speed, top_speed(drive))
    turn_speed = min(radians(drive.turn_speed), top_speed(drive) / (drive.track / 2))
    faster = drive.turn_speed / (accuracy.turn_measured_at or drive.turn_speed)
    return Noise(
        gyro=gyro,
        stop=accuracy.straight.stop * (speed / accuracy.measured_at) ** _power(accuracy.straight.grows),
        walk=accuracy.straight.distance / sqrt(1000.0),
        veer=0.0 if gyro else radians(accuracy.straight.veer) / sqrt(1000.0),
        hold=radians(accuracy.gyro.hold) if gyro else 0.0,
        turn_stop=radians(accuracy.turn.stop) * faster ** _power(accuracy.turn.grows),
        slip=0.0 if gyro else radians(accuracy.turn.slip) / sqrt(radians(90.0)),
        face=radians(accuracy.square.heading),
        along=accuracy.square.along,
        slides=accuracy.square.corner == "slides",
        day_distance=accuracy.day.distance,
        day_veer=0.0 if gyro else radians(accuracy.day.veer) / 1000.0,
        day_turn=0.0 if gyro else accuracy.day.turn,
        drift=radians(accuracy.gyro.drift) / 60.0 if gyro else 0.0,
        scale=accuracy.gyro.scale if gyro else 0.0,
        speed=speed,
        turn_speed=turn_speed,
        acceleration=drive.acceleration,
        track=drive.track,
    )


@dataclass(frozen=True)
class Beliefs:
    """N beliefs: ``chance`` (N, 3, 3) and ``day`` (N, 3, DAYS), rows x, y, heading."""

    chance: Floats
    day: Floats

    def __len__(self) -> int:
        return len(self.chance)

    def take(self, which: NDArray[np.int64] | Bools) -> Beliefs:
        """Some of them, in that order."""
        return Beliefs(self.chance[which], self.day[which])

    @property
    def covariance(self) -> Floats:
        """(N, 3, 3) of the whole: chance and day."""
        whole: Floats = self.chance + self.day @ self.day.transpose(0, 2, 1)
        return whole

    @property
    def wander(self) -> Floats:
        """(N,) the variance of the place in the direction in which it is largest."""
        p, d = self.chance, self.day
        xx = p[:, 0, 0] + (d[:, 0] ** 2).sum(axis=1)
        yy = p[:, 1, 1] + (d[:, 1] ** 2).sum(axis=1)
        xy = p[:, 0, 1] + (d[:, 0] * d[:, 1]).sum(axis=1)
        return np.asarray((xx + yy) / 2 + np.hypot((xx - yy) / 2, xy))

    def variance(self, slope: Floats, moved: Floats | None = None) -> Floats:
        """(N, K) of each ``slope`` (N, K, 3) times the pose: how far a gap, say, is spread. ``moved`` (N, K, DAYS) is
        what the day's draws do to it besides."""
        a, b, c = slope[..., 0], slope[..., 1], slope[..., 2]
        p = self.chance[:, None]
        spread = a * (a * p[..., 0, 0] + 2 * b * p[..., 0, 1] + 2 * c * p[..., 0, 2])
        spread += b * (b * p[..., 1, 1] + 2 * c * p[..., 1, 2]) + c * c * p[..., 2, 2]
        day = slope @ self.day
        if moved is not None:
            day = day + moved
        found: Floats = spread + (day * day).sum(axis=-1)
        return found


def joined(parts: list[Beliefs]) -> Beliefs:
    """Beliefs behind one another."""
    return Beliefs(np.concatenate([p.chance for p in parts]), np.concatenate([p.day for p in parts]))


def placed(heading: float, held: tuple[float, float], spread: Spread) -> Beliefs:
    """The belief at a start: set with ``spread`` along and across the heading (radians), its heading error about the
    ``held`` point of the robot frame, mm."""
    c, s = np.cos(heading), np.sin(heading)
    axes = np.array([[c, -s], [s, c]])
    place = axes @ np.diag([spread.along**2, spread.across**2]) @ axes.T
    kx, ky = axes @ np.array(held)
    # Turned by e about the held point, the axle's middle moves by e times the quarter turn of (middle - held).
    lever = np.array([ky, -kx, 1.0])
    chance = np.zeros((1, 3, 3))
    chance[0, :2, :2] = place
    chance[0] += radians(spread.heading) ** 2 * np.outer(lever, lever)
    return Beliefs(chance, np.zeros((1, 3, DAYS)))


def seconds_of(distance: Floats, speed: float, acceleration: float) -> Floats:
    """Seconds of trapezoid profiles over distances (N,), as `fieldsim.sim.motion.Profile` has them."""
    way = np.abs(distance)
    peak = np.minimum(speed, np.sqrt(acceleration * way))
    return np.where(way > 0, way / np.maximum(peak, 1e-9) + peak / acceleration, 0.0)


def turn_seconds(noise: Noise, turn: Floats) -> Floats:
    """Seconds of turns on the spot, radians (N,)."""
    half = noise.track / 2
    return seconds_of(turn * half, noise.turn_speed * half, noise.acceleration)


def waited(noise: Noise, beliefs: Beliefs, seconds: Floats | float) -> Beliefs:
    """After ``seconds`` (N,) of standing: only a gyro drifts."""
    if not noise.gyro or not noise.drift:
        return beliefs
    day = beliefs.day.copy()
    day[:, 2, 1] -= noise.drift * seconds
    return Beliefs(beliefs.chance, day)


def turned(noise: Noise, beliefs: Beliefs, turn: Floats) -> Beliefs:
    """After turning on the spot by ``turn`` (N,), radians: those that turn by nothing are not touched."""
    day, chance = beliefs.day.copy(), beliefs.chance
    if noise.gyro:
        # What a turn left over is steered away at the beginning of the next straight (`driven`).
        day[:, 2, 2] -= noise.scale * turn
        return waited(noise, Beliefs(chance, day), turn_seconds(noise, turn))
    chance = chance.copy()
    chance[:, 2, 2] += np.where(np.abs(turn) > 1e-9, noise.slip**2 * np.abs(turn) + noise.turn_stop**2, 0.0)
    day[:, 2, 2] += noise.day_turn * turn
    return Beliefs(chance, day)


def driven(noise: Noise, beliefs: Beliefs, heading: Floats, way: Floats, stops: bool = True) -> Beliefs:
    """After a straight of ``way`` (N,) mm, backwards if negative, at ``heading`` (N,), radians.

    Heading noise is a walk: k^2 L of heading, k^2 L^3/3 of sideways offset, k^2 L^2/2 between them. ``stops`` says
    whether the straight ends by itself, with the error of a stop, or at a wall.
    """
    used = seconds_of(way, noise.speed, noise.acceleration) if noise.gyro else way
    # A gyro drifts evenly on the way: sideways as if half of it had come before.
    beliefs = waited(noise, beliefs, used / 2)
    c, s = np.cos(heading), np.sin(heading)
    step = np.zeros((len(beliefs), 3, 3))
    step[:, 0, 0] = step[:, 1, 1] = step[:, 2, 2] = 1.0
    step[:, 0, 2], step[:, 1, 2] = -way * s, way * c
    chance = step @ beliefs.chance @ step.transpose(0, 2, 1)
    length = np.abs(way)
    ahead = noise.walk**2 * length + (noise.stop**2 if stops else 0.0)
    aside = noise.veer**2 * length**3 / 3 + (noise.hold * length) ** 2
    if noise.gyro:
        # The turn's own error, steered away evenly over the first `SETTLE` mm.
        aside = aside + (noise.turn_stop * np.minimum(SETTLE, length / 2) / 2) ** 2
    both = noise.veer**2 * length * way / 2
    chance[:, 0, 0] += ahead * c * c + aside * s * s
    chance[:, 1, 1] += ahead * s * s + aside * c * c
    chance[:, 0, 1] += (ahead - aside) * c * s
    chance[:, 1, 0] = chance[:, 0, 1]
    chance[:, 0, 2] -= both * s
    chance[:, 1, 2] += both * c
    chance[:, 2, 0], chance[:, 2, 1] = chance[:, 0, 2], chance[:, 1, 2]
    chance[:, 2, 2] += noise.veer**2 * length
    day = step @ beliefs.day
    day[:, 0, 0] += noise.day_distance * way * c
    day[:, 1, 0] += noise.day_distance * way * s
    if not noise.gyro:
        bend = noise.day_veer * way
        day[:, 0, 1] -= bend * way / 2 * s
        day[:, 1, 1] += bend * way / 2 * c
        day[:, 2, 1] += bend
    return waited(noise, Beliefs(chance, day), used / 2)


def squared(noise: Noise, beliefs: Beliefs, heading: Floats, face: Floats) -> Beliefs:
    """After a face that lies ``face`` (N,) mm ahead of the axle (behind it if negative) has been pushed flat at
    ``heading`` (N,), the heading it has there, from a pose at which it touches.

    Heading and the distance to the wall become the square's residual. Sideways it stays where the face's middle was:
    the robot swings about the corner that touched, which to first order moves that middle towards the wall only. If
    that corner slides it stays where the axle's middle was.
    """
    c, s = np.cos(heading), np.sin(heading)
    # The face's middle sideways, as a slope on the pose; then the axle behind it, along the wall.
    n = len(beliefs)
    aside = np.stack([-s, c, 0.0 * face if noise.slides else face], axis=-1)
    chance = np.zeros((n, 3, 3))
    middle = np.einsum("ni,nij,nj->n", aside, beliefs.chance, aside)
    day_middle = np.einsum("ni,nij->nj", aside, beliefs.day)
    side = np.stack([-s, c, np.zeros(n)], axis=-1)
    ahead = np.stack([c, s, np.zeros(n)], axis=-1)
    swing = np.stack([face * s, -face * c, np.ones(n)], axis=-1)
    chance += middle[:, None, None] * side[:, :, None] * side[:, None, :]
    chance += noise.along**2 * ahead[:, :, None] * ahead[:, None, :]
    chance += noise.face**2 * swing[:, :, None] * swing[:, None, :]
    day = side[:, :, None] * day_middle[:, None, :]
    return Beliefs(chance, day)


def survives(gap: Floats, variance: Floats) -> Floats:
    """The chance that a gap of ``gap`` mm with that variance stays open: a normal tail."""
    return np.asarray(ndtr(gap / np.sqrt(np.maximum(variance, 1e-12))))


# 24 nodes over the part of the circle, or of six standard deviations, that is the smaller: within 2e-5.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_FAR = 6.0


def hits(offset: Floats, covariance: Floats, within: float) -> Floats:
    """The chance (N,) that a point, normal about ``offset`` (N, 2) with ``covariance`` (N, 2, 2), lies within a radius.

    Integrated over slices: the coordinate that is spread wider by Gauss and Legendre, the other in closed form given
    that one.
    """
    swap = covariance[:, 0, 0] < covariance[:, 1, 1]
    first = np.maximum(np.where(swap, covariance[:, 1, 1], covariance[:, 0, 0]), 1e-9)
    second = np.where(swap, covariance[:, 0, 0], covariance[:, 1, 1])
    m1 = np.where(swap, offset[:, 1], offset[:, 0])
    m2 = np.where(swap, offset[:, 0], offset[:, 1])
    sd = np.sqrt(first)
    low, high = np.maximum(-within, m1 - _FAR * sd), np.minimum(within, m1 + _FAR * sd)
    half = np.maximum(high - low, 0.0) / 2
    place = (low + high)[:, None] / 2 + half[:, None] * _NODES
    slope = covariance[:, 0, 1] / first
    rest = np.sqrt(np.maximum(second - slope * covariance[:, 0, 1], 1e-9))
    reach = np.sqrt(np.maximum(within**2 - place**2, 0.0))
    density = np.exp(-0.5 * ((place - m1[:, None]) / sd[:, None]) ** 2) / (np.sqrt(2 * np.pi) * sd[:, None])
    middle = m2[:, None] + slope[:, None] * (place - m1[:, None])
    inside = ndtr((reach - middle) / rest[:, None]) - ndtr((-reach - middle) / rest[:, None])
    chance: Floats = (density * inside * _WEIGHTS).sum(axis=1) * half
    return np.clip(chance, 0.0, 1.0)


def faces(offset: Floats, variance: Floats, within: Floats | float) -> Floats:
    """The chance (N,) that a heading that is ``offset`` off, radians, is within ``within``."""
    sd = np.sqrt(np.maximum(variance, 1e-12))
    return np.asarray(ndtr((within - offset) / sd) - ndtr((-within - offset) / sd))
