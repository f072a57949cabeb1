"""All pictures of one set-up solved together: camera, laid markers, and where the robot stood, by least squares.

Minimised over the camera (focal length, middle, two lens terms), what the printer made of the markers' size, where each
marker really lies, the robot marker's height, and for each picture where the camera and the robot stood:

    sum of (corner seen - corner foretold)^2 / pixel^2  +  sum of (value - what is known of it)^2 / (give or take)^2

What is known: each marker lies where the field says, give or take how exactly it was laid; a printer prints to 1 %; a
distance measured between two markers; and what every camera of a telephone is like. So a marker that lies badly is
moved where the pictures agree on it, and what no picture can tell keeps its own uncertainty instead of making the
others look exact. Bundle adjustment: B. Triggs, P. McLauchlan, R. Hartley and A. Fitzgibbon, "Bundle adjustment: a
modern synthesis", Vision Algorithms, LNCS 1883, 2000, 298-372; steps by D. W. Marquardt, J. SIAM 11(2), 1963, 431-441
(both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log, radians

import numpy as np
from numpy.typing import NDArray

from fieldsim.model.markers import Marker, RobotMarker
from fieldsim.photo.camera import corners_at, on_plane, rays, seen, turned
from fieldsim.photo.opencv import stood

FloatArray = NDArray[np.float64]

PIXEL = 0.25
"""What a corner is off, pixels, before the pictures themselves say it better: common practice, no source."""

# What a picture says of its own corners counts beside so many corners' worth of that, and is at least so many pixels.
BELIEVED = 8.0
FINEST = 0.06
# Of every telephone's camera: the focal length in long sides (its logarithm's give or take), the middle in long sides,
# the two lens terms; the printer's scale. Common practice, no source.
FOCAL, FOCAL_SPREAD = 0.8, 0.4
MIDDLE_SPREAD = 0.004
LENS_SPREAD = (0.08, 0.08)
PRINTER_SPREAD = 0.01
# How high the robot's marker is, mm: as told, give or take; or anything a robot may be.
HEIGHT_TOLD = 0.7
HEIGHT, HEIGHT_SPREAD = 120.0, 80.0
# How exactly a tape between two markers' middles is read, mm.
TAPE = 0.7
# A marker laid exactly still is so much off, mm.
EXACT = 0.02

SHARED = 7
OWN = 9
STEPS = 40
_SHARED_STEP = np.array([1e-6, 1e-6, 1e-6, 1e-5, 1e-5, 1e-6, 1e-2])
_MARKER_STEP = np.array([1e-3, 1e-3, 1e-5])
_OWN_STEP = np.array([1e-6, 1e-6, 1e-6, 1e-2, 1e-2, 1e-2, 1e-2, 1e-2, 1e-5])


@dataclass(frozen=True, eq=False)
class Shot:
    """One picture: its size in pixels, and (4, 2) the corners of each marker of the set-up that is seen in it."""

    width: int
    height: int
    found: Mapping[int, FloatArray]

    @property
    def long(self) -> float:
        return float(max(self.width, self.height))

    @property
    def centre(self) -> FloatArray:
        return np.array([(self.width - 1) / 2, (self.height - 1) / 2])


@dataclass(frozen=True)
class Measured:
    """A distance measured between the middles of two markers of the field, mm."""

    one: int
    other: int
    distance: float


@dataclass(frozen=True, eq=False)
class State:
    """Everything that is solved for."""

    shared: FloatArray
    """(7,) logarithm of the focal length in long sides, middle off the centre in long sides (2), lens (2), logarithm of
    what the printer made of a size, height of the robot's marker in mm."""
    laid: FloatArray
    """(m, 3) x, y in mm and heading in radians of each marker of the field."""
    rotation: FloatArray
    """(p, 3, 3) of the camera in each picture."""
    shift: FloatArray
    """(p, 3)"""
    robot: FloatArray
    """(p, 3) x, y in mm and heading in radians of the robot."""

    def moved(self, step: FloatArray) -> State:
        """The state after a step, laid out as the columns of the slopes."""
        m, p = len(self.laid), len(self.shift)
        own = step[SHARED + 3 * m :].reshape(p, OWN)
        return State(
            self.shared + step[:SHARED],
            self.laid + step[SHARED : SHARED + 3 * m].reshape(m, 3),
            turned(own[:, :3]) @ self.rotation,
            self.shift + own[:, 3:6],
            self.robot + own[:, 6:],
        )


@dataclass(frozen=True, eq=False)
class Solved:
    """A set-up solved for."""

    shots: tuple[Shot, ...]
    markers: tuple[Marker, ...]
    robot: RobotMarker | None
    state: State
    covariance: FloatArray
    """Of all that is solved for, in the order of ``State.moved``."""
    pixel: float
    """Standard deviation of a corner, pixels, as the pictures themselves say."""
    cost: float
    """What was minimised, at its least, with ``PIXEL``."""
    corners: int

    def focal(self, p: int) -> float:
        """Pixels."""
        return float(np.exp(self.state.shared[0])) * self.shots[p].long

    def middle(self, p: int) -> FloatArray:
        return self.shots[p].centre + self.state.shared[1:3] * self.shots[p].long

    @property
    def lens(self) -> FloatArray:
        return self.state.shared[3:5]

    @property
    def printed(self) -> float:
        """What the printer made of a size, as a share of it."""
        return float(np.exp(self.state.shared[5]))

    def robot_columns(self, p: int) -> slice:
        """Where the robot's pose in a picture stands in ``covariance``."""
        first = SHARED + 3 * len(self.markers) + OWN * p + 6
        return slice(first, first + 3)

    def back(self, p: int, pixels: FloatArray, height: float) -> FloatArray:
        """(n, 2) where pixels of a picture lie on the level plane at that height."""
        flat = rays(pixels, self.focal(p), self.middle(p), self.lens)
        return on_plane(flat, self.state.rotation[p], self.state.shift[p], height)

    def pixels(self, p: int, points: FloatArray) -> FloatArray:
        """(n, 2) where points (n, 3) of the field are seen in a picture."""
        state = self.state
        return seen(points, state.rotation[p], state.shift[p], self.focal(p), self.middle(p), self.lens)


class _Setup:
    """The set-up as arrays: which marker is seen in which picture, and where."""

    def __init__(
        self,
        shots: Sequence[Shot],
        markers: Sequence[Marker],
        robot: RobotMarker | None,
        measured: Sequence[Measured],
    ) -> None:
        self.shots, self.markers, self.robot = tuple(shots), tuple(markers), robot
        place = {int(marker.number): k for k, marker in enumerate(markers)}
        self.size = np.array([marker.size for marker in markers] + ([robot.size] if robot else []))
        self.high = np.array([marker.height for marker in markers])
        if robot is not None:
            place[int(robot.number)] = len(markers)
        which = [
            (p, place[number], corners)
            for p, shot in enumerate(shots)
            for number, corners in shot.found.items()
            if number in place
        ]
        self.p = np.array([p for p, _, _ in which], dtype=int)
        self.m = np.array([m for _, m, _ in which], dtype=int)
        self.uv = np.array([corners for _, _, corners in which]).reshape(-1, 4, 2)
        self.of_robot = self.m == len(markers)
        self.with_robot = np.isin(np.arange(len(shots)), self.p[self.of_robot])
        self.long = np.array([shot.long for shot in shots])
        self.centre = np.array([shot.centre for shot in shots])
        self.tapes = [(place[each.one], place[each.other], each.distance) for each in measured]
        laid = np.array([max(marker.laid, EXACT) for marker in markers])
        self.drawn = np.array([[*marker.at, radians(marker.heading)] for marker in markers]).reshape(-1, 3)
        # A marker is laid by its corners: they are off by as much as its middle.
        self.laid = np.stack([laid, laid, 2 * laid / self.size[: len(markers)]], axis=1)
        told = None if robot is None else robot.height
        self.known = np.array([log(FOCAL), 0.0, 0.0, 0.0, 0.0, 0.0, HEIGHT if told is None else told])
        self.give = np.array(
            [FOCAL_SPREAD, MIDDLE_SPREAD, MIDDLE_SPREAD, *LENS_SPREAD, PRINTER_SPREAD,
             HEIGHT_SPREAD if told is None else HEIGHT_TOLD]
        )  # fmt: skip

    def foretold(self, state: State) -> FloatArray:
        """(k, 4, 2) pixels of all corners that were seen."""
        printed = np.exp(state.shared[5])
        laid = state.laid[np.where(self.of_robot, 0, self.m)] if len(state.laid) else np.zeros((len(self.m), 3))
        high = self.high[np.where(self.of_robot, 0, self.m)] if len(self.high) else np.zeros(len(self.m))
        if self.robot is not None:
            body = state.robot[self.p]
            ahead, left = self.robot.at
            cos, sin = np.cos(body[:, 2]), np.sin(body[:, 2])
            on_robot = np.stack(
                [
                    body[:, 0] + cos * ahead - sin * left,
                    body[:, 1] + sin * ahead + cos * left,
                    body[:, 2] + radians(self.robot.heading),
                ],
                axis=1,
            )
            laid = np.where(self.of_robot[:, None], on_robot, laid)
            high = np.where(self.of_robot, state.shared[6], high)
        half = 0.5 * printed * self.size[self.m]
        flat = corners_at(laid[:, 0], laid[:, 1], laid[:, 2], half)
        points = np.concatenate([flat, np.broadcast_to(high[:, None, None], (len(high), 4, 1))], axis=2)
        focal = np.exp(state.shared[0]) * self.long[self.p]
        middle = self.centre[self.p] + state.shared[1:3] * self.long[self.p, None]
        return seen(
            points, state.rotation[self.p][:, None], state.shift[self.p][:, None], focal[:, None, None],
            middle[:, None], state.shared[3:5],
        )  # fmt: skip

    def off(self, state: State) -> tuple[FloatArray, FloatArray]:
        """What is left of the corners in pixels, and of what is known in its give or take."""
        known = [
            (state.shared - self.known) / self.give,
            ((state.laid - self.drawn) / self.laid).ravel(),
            # Nothing tells where a robot is that is not seen.
            np.where(self.with_robot[:, None], 0.0, state.robot / 1000.0).ravel(),
            [
                (float(np.hypot(*(state.laid[a, :2] - state.laid[b, :2]))) - distance) / TAPE
                for a, b, distance in self.tapes
            ],
        ]
        return (self.foretold(state) - self.uv).ravel(), np.concatenate(known)

    def slopes(self, state: State) -> tuple[FloatArray, FloatArray]:
        """How both change with each of the columns. What belongs to one picture moves in all pictures at once."""
        m, p = len(self.markers), len(self.shots)
        columns = SHARED + 3 * m + OWN * p
        corners, known = self.off(state)
        into, told = np.zeros((len(corners), columns)), np.zeros((len(known), columns))
        steps = np.concatenate([_SHARED_STEP, np.tile(_MARKER_STEP, m)])
        for column, size in enumerate(steps):
            step = np.zeros(columns)
            step[column] = size
            more, less = self.off(state.moved(step)), self.off(state.moved(-step))
            into[:, column] = (more[0] - less[0]) / (2 * size)
            told[:, column] = (more[1] - less[1]) / (2 * size)
        owner = np.repeat(self.p, 8)
        rows = np.arange(len(corners))
        known_robot = SHARED + 3 * m
        for own, size in enumerate(_OWN_STEP):
            step = np.zeros(columns)
            step[SHARED + 3 * m + own :: OWN] = size
            more, less = self.off(state.moved(step)), self.off(state.moved(-step))
            into[rows, SHARED + 3 * m + OWN * owner + own] = (more[0] - less[0]) / (2 * size)
            if own >= 6:
                at = known_robot + 3 * np.arange(p) + own - 6
                told[at, SHARED + 3 * m + OWN * np.arange(p) + own] = (more[1] - less[1])[at] / (2 * size)
        return into, told


def solve(
    shots: Sequence[Shot],
    markers: Sequence[Marker],
    robot: RobotMarker | None,
    measured: Sequence[Measured] = (),
) -> Solved | None:
    """Solve a set-up; ``markers`` are those that are to be counted. A picture in which none of them is seen must not be
    among ``shots``. None where no camera could have taken these pictures."""
    setup = _Setup(shots, markers, robot, measured)
    first = _begun(setup)
    if first is None:
        return None
    found = _least(setup, first)
    if found is None:
        return None
    state, cost = found
    return _told(setup, state, cost)


def _begun(setup: _Setup) -> State | None:
    """A first state: the focal length, of a few, with which cameras without lens errors see the markers best."""
    half = 0.5 * setup.size[: len(setup.markers)]
    flat = corners_at(setup.drawn[:, 0], setup.drawn[:, 1], setup.drawn[:, 2], half)
    best: tuple[float, State] | None = None
    for focal in np.geomspace(0.45, 1.9, 9):
        rotations, shifts, bodies = [], [], []
        error = 0.0
        for p, shot in enumerate(setup.shots):
            mine = (setup.p == p) & ~setup.of_robot
            which = setup.m[mine]
            high = np.broadcast_to(setup.high[which][:, None, None], (len(which), 4, 1))
            points = np.concatenate([flat[which], high], axis=2).reshape(-1, 3)
            pixels = setup.uv[mine].reshape(-1, 2)
            there = stood(points, pixels, focal * shot.long, shot.centre)
            if there is None:
                break
            rotation, shift = there
            again = seen(points, rotation, shift, focal * shot.long, shot.centre, np.zeros(2))
            error += float(((again - pixels) ** 2).sum()) / shot.long**2
            rotations.append(rotation)
            shifts.append(shift)
            bodies.append(_robot_begun(setup, p, focal * shot.long, rotation, shift))
        else:
            if np.isfinite(error) and (best is None or error < best[0]):
                shared = setup.known.copy()
                shared[0] = log(focal)
                best = error, State(shared, setup.drawn.copy(), np.array(rotations), np.array(shifts), np.array(bodies))
    return None if best is None else best[1]


def _robot_begun(setup: _Setup, p: int, focal: float, rotation: FloatArray, shift: FloatArray) -> FloatArray:
    mine = (setup.p == p) & setup.of_robot
    if setup.robot is None or not mine.any():
        return np.zeros(3)
    flat = rays(setup.uv[mine][0], focal, setup.centre[p], np.zeros(2))
    corners = on_plane(flat, rotation, shift, setup.known[6])
    ahead = (corners[0] + corners[1] - corners[2] - corners[3]) / 2
    heading = float(np.arctan2(ahead[1], ahead[0])) - radians(setup.robot.heading)
    x, y = setup.robot.at
    cos, sin = np.cos(heading), np.sin(heading)
    middle = corners.mean(axis=0)
    return np.array([middle[0] - cos * x + sin * y, middle[1] - sin * x - cos * y, heading])


def _cost(setup: _Setup, state: State) -> float:
    corners, known = setup.off(state)
    made = float((corners**2).sum() / PIXEL**2 + (known**2).sum())
    return made if np.isfinite(made) else np.inf


def _least(setup: _Setup, state: State) -> tuple[State, float] | None:
    cost = _cost(setup, state)
    if not np.isfinite(cost):
        return None
    damping = 1e-3
    for _ in range(STEPS):
        corners, known = setup.off(state)
        into, told = setup.slopes(state)
        normal = into.T @ into / PIXEL**2 + told.T @ told
        slope = into.T @ corners / PIXEL**2 + told.T @ known
        before = cost
        while damping < 1e9:
            try:
                damped = normal + damping * np.diag(np.diag(normal) + 1e-12)
                step = -np.asarray(np.linalg.solve(damped, slope), dtype=np.float64)
            except np.linalg.LinAlgError:
                damping *= 10
                continue
            tried = state.moved(step)
            reached = _cost(setup, tried)
            if reached <= cost:
                state, cost, damping = tried, reached, damping / 10
                break
            damping *= 10
        else:
            break
        if before - cost < 1e-6 * max(1.0, cost):
            break
    return state, cost


def _told(setup: _Setup, state: State, cost: float) -> Solved:
    """The pixel's own error, from what is left of the corners and what they cost in freedom, and the covariance."""
    into, told = setup.slopes(state)
    corners, _ = setup.off(state)
    seen_of, known_of = into.T @ into, told.T @ told
    pixel = PIXEL
    for _ in range(5):
        covariance = np.asarray(np.linalg.inv(seen_of / pixel**2 + known_of), dtype=np.float64)
        spent = float(np.einsum("ij,ji->", covariance, seen_of)) / pixel**2
        left = max(len(corners) - spent, 0.0)
        pixel = max(FINEST, float(np.sqrt(((corners**2).sum() + BELIEVED * PIXEL**2) / (left + BELIEVED))))
    covariance = np.asarray(np.linalg.inv(seen_of / pixel**2 + known_of), dtype=np.float64)
    headings = np.arctan2(np.sin(state.robot[:, 2]), np.cos(state.robot[:, 2]))
    state = replace(state, robot=np.concatenate([state.robot[:, :2], headings[:, None]], axis=1))
    return Solved(setup.shots, setup.markers, setup.robot, state, covariance, pixel, cost, len(corners))


def followed(
    solved: Solved, shot: Shot, near: tuple[FloatArray, FloatArray, FloatArray] | None = None
) -> tuple[tuple[FloatArray, FloatArray, FloatArray], FloatArray, FloatArray] | None:
    """Camera and robot in one more picture of a set-up that is solved for, with all else held.

    ``near`` is what it was in a picture like it: rotation, shift, robot. Gives the same of this one, the robot's pose
    (x, y in mm and heading in radians) and its standard deviations; None where it cannot be told.
    """
    setup = _Setup([shot], solved.markers, solved.robot, ())
    if near is None:
        begun = _begun(_where_it_ended(setup, solved))
        if begun is None:
            return None
        near = begun.rotation[0], begun.shift[0], begun.robot[0]
    state = State(solved.state.shared, solved.state.laid, near[0][None], near[1][None], near[2][None])
    first = SHARED + 3 * len(solved.markers)

    def off(at: State) -> FloatArray:
        return np.asarray((setup.foretold(at) - setup.uv).ravel(), dtype=np.float64)

    left = off(state)
    into = np.zeros((len(left), OWN))
    for _ in range(STEPS):
        for own, size in enumerate(_OWN_STEP):
            step = np.zeros(first + OWN)
            step[first + own] = size
            into[:, own] = (off(state.moved(step)) - left) / size
        if not np.isfinite(into).all():
            return None
        try:
            step = np.concatenate([np.zeros(first), -np.linalg.lstsq(into, left, rcond=None)[0]])
        except np.linalg.LinAlgError:
            return None
        state = state.moved(step)
        left = off(state)
        # Radians of the camera, mm of the robot: far less than any error.
        if np.abs(step[first : first + 3]).max() < 1e-7 and np.abs(step[first + 6 : first + 8]).max() < 1e-3:
            break
    else:
        return None
    pixel = max(solved.pixel, float(np.sqrt((left**2).sum() / max(len(left) - OWN, 1))))
    covariance = np.linalg.inv(into.T @ into) * pixel**2
    errors = np.sqrt(np.diag(covariance))[6:]
    return (state.rotation[0], state.shift[0], state.robot[0]), state.robot[0], np.asarray(errors, dtype=np.float64)


def _where_it_ended(setup: _Setup, solved: Solved) -> _Setup:
    """A set-up that begins where another one ended."""
    setup.drawn = solved.state.laid
    setup.known = solved.state.shared
    return setup
