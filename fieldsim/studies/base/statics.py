"""What stands on what, what loads the supports, what tips a robot and what makes its wheels slip.

Robot frame (see DEVELOPERS.md): x forward, y left, from the mat under the middle of the axle; z up from the mat. mm,
mm/s^2; shares of the weight from 0 to 1.

The robot is a rigid body on points: two wheels and the casters. A steady acceleration a of a body whose centre of mass
is h above the mat moves the point that its weight acts on from c to c - (h/g) a (d'Alembert; the spin of the wheels is
left out). It stands while that point is inside the convex hull of the supports, and tips over the edge by which the
point leaves. With three supports the loads follow from the moments alone. With more they do not, so equal springs are
assumed under a rigid body: the loads lie on a plane, N_i = p + q x_i + r y_i where that is positive, and a support that
would have to pull is lifted. The same loads have the least sum of squares of all that balance the robot without
pulling. Source of the plane: L. Euler, "De pressione ponderis in planum cui incumbit", Novi Commentarii 18, 1774 (from
memory). Casters and sliders are taken to roll without any friction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, nnls

from fieldsim.model import Point, Robot
from fieldsim.sim.shapes import hull_of

GRAVITY = 9806.65
"""Standard gravity, mm/s^2 (3rd General Conference on Weights and Measures, 1901, from memory)."""

# Points nearer than this to the edge of the supports are on it, mm: no one can measure a centre of mass so well.
EDGE = 1e-6


def spring_loads(supports: ArrayLike, at: Point) -> NDArray[np.float64]:
    """Share of the weight on each support (n, 2), mm, of a rigid body whose weight acts on the point ``at``.

    The least sum of squares of all loads that balance it without pulling. Every such set of loads is one of them plus
    what does nothing to the balance, so this is a least-distance problem; it is turned into a problem of least squares
    with positive unknowns. Source: C. Lawson and R. Hanson, Solving Least Squares Problems, Prentice-Hall, 1974, ch. 23
    (from memory). With three supports it is plain statics. Raises ValueError if it does not stand.
    """
    points = np.array(supports, dtype=float)
    size = float(np.abs(points).max()) or 1.0
    balance = np.vstack([np.ones(len(points)), points.T / size])
    wanted = np.array([1.0, at[0] / size, at[1] / size])
    lifted_free = np.linalg.lstsq(balance, wanted, rcond=None)[0]
    if np.abs(balance @ lifted_free - wanted).max() > 1e-9:
        raise ValueError(f"at={at!r} is not between the supports")
    if lifted_free.min() >= 0:
        return np.asarray(lifted_free)
    nothing = np.linalg.svd(balance)[2][np.linalg.matrix_rank(balance) :].T
    system = np.vstack([nothing.T, -lifted_free[None, :]])
    goal = np.zeros(len(system))
    goal[-1] = 1.0
    left_over = system @ nnls(system, goal)[0] - goal
    if abs(left_over[-1]) < 1e-10:
        raise ValueError(f"at={at!r} is not between the supports")
    loads = lifted_free - nothing @ left_over[:-1] / left_over[-1]
    return np.maximum(np.where(loads < 1e-10, 0.0, loads), 0.0)


@dataclass(frozen=True)
class Stand:
    """A robot on its supports: the left wheel, the right wheel, then the casters, mm.

    ``middle`` is its centre of mass from above, ``high`` how high that is above the mat (0 at least).
    """

    supports: tuple[Point, ...]
    middle: Point
    high: float

    @property
    def hull(self) -> NDArray[np.float64]:
        """Corners (n, 2) of the ground it stands on, counter-clockwise; none if that is only a line."""
        points = np.array(self.supports)
        if np.linalg.matrix_rank(points - points[0], tol=EDGE) < 2:
            return np.zeros((0, 2))
        corners = hull_of(points)
        following = np.roll(corners, -1, axis=0)
        twice_area = float((corners[:, 0] * following[:, 1] - corners[:, 1] * following[:, 0]).sum())
        return corners if twice_area > 0 else corners[::-1].copy()

    def edges(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Outward unit normals (n, 2) of the edges, and how far inside each of them the centre of mass is, mm."""
        corners = self.hull
        along = np.roll(corners, -1, axis=0) - corners
        normals = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
        return normals, np.einsum("ij,ij->i", normals, corners - np.array(self.middle))

    @property
    def margin(self) -> float:
        """Shortest way from under the centre of mass to the edge of the ground it stands on, mm; not more than 0 if it
        does not stand."""
        inside = self.edges()[1]
        return float(inside.min()) if len(inside) else 0.0

    @property
    def stands(self) -> bool:
        return self.margin > EDGE

    def loads(self, acceleration: Point = (0.0, 0.0)) -> NDArray[np.float64]:
        """Share of the weight on each support while it accelerates, mm/s^2 forward and to the left."""
        x, y = (m - self.high / GRAVITY * a for m, a in zip(self.middle, acceleration, strict=True))
        return spring_loads(self.supports, (x, y))

    def room(self, direction: Point) -> float:
        """Way from under the centre of mass to the edge of what it stands on, in a direction (a unit vector), mm."""
        normals, inside = self.edges()
        towards = normals @ np.array(direction)
        return float(min(inside[towards > 1e-12] / towards[towards > 1e-12]))

    def tips(self, direction: Point) -> float | None:
        """Acceleration, mm/s^2, against which it tips in a direction (a unit vector); None if nothing tips it.

        a = g x / h, x the way from under the centre of mass to the edge in that direction: it tips forwards when it
        brakes, to the right in a left turn.
        """
        return None if self.high <= 0 else GRAVITY * self.room(direction) / self.high

    def tip_radius(self, speed: float) -> float:
        """Smallest radius, mm, of an arc of the axle's middle at ``speed`` mm/s before it tips; 0 if it never does.

        In a turn about (0, R) the centre of mass c accelerates by (v/R)^2 ((0, R) - c). For an edge with the normal n,
        m inside of it, that is m R^2 + k n_y R - k n c >= 0 with k = h v^2 / g: the largest root over edges and sides.
        """
        normals, inside = self.edges()
        k = self.high * speed * speed / GRAVITY
        across = normals @ np.array(self.middle)
        smallest = 0.0
        for side in (1.0, -1.0):
            b = k * normals[:, 1] * side
            under = b * b + 4 * inside * k * across
            roots = (-b + np.sqrt(np.maximum(under, 0.0))) / (2 * inside)
            smallest = max(smallest, float(np.where(under >= 0, roots, 0.0).max()))
        return smallest

    def slips(self, side: float, friction: float) -> float | None:
        """Acceleration, mm/s^2, forwards (``side`` 1) or backwards (-1) at which the first wheel slips; None if it tips
        before.

        The two wheels drive it without turning it, so a wheel at +-b/2 pushes with m a (1/2 +- y/b), y the centre of
        mass's place across; it slips where that is more than the friction times its load at this acceleration. With the
        centre of mass in the middle and casters in one row at x_c this is the textbook's
        a = friction g (1 - x/x_c) / (1 - friction h/x_c), and + instead of - below the line for backwards.
        """
        tips = self.tips((-side, 0.0))
        track = self.supports[0][1] - self.supports[1][1]
        pushes = (abs(0.5 + self.middle[1] / track), abs(0.5 - self.middle[1] / track))
        # One wheel pushes with half of it at least, and carries no more than all of the weight.
        most = 2.0 * friction * GRAVITY
        most = most if tips is None else min(most, tips)

        def grip(acceleration: float) -> float:
            """What grip the first wheel to slip has left, as a share of the weight."""
            loads = self.loads((side * acceleration, 0.0))
            return min(
                friction * float(load) - push * acceleration / GRAVITY
                for load, push in zip(loads, pushes, strict=False)
            )

        # Loads are straight between the accelerations at which a support lifts: few pieces, so no crossing hides here.
        before = 0.0
        for step in np.linspace(0.0, most * (1 - 1e-12), 65):
            if grip(step) <= 0:
                return float(brentq(grip, before, step, xtol=1e-9, rtol=1e-14)) if step > 0 else 0.0
            before = step
        return None


def stand_of(robot: Robot) -> Stand | None:
    """How it stands without attachments; None if the file does not give the weight or the casters."""
    if robot.weight is None or not robot.casters:
        return None
    half = robot.drive.track / 2
    x, y, z = robot.weight.at
    return Stand(((0.0, half), (0.0, -half), *(caster.at for caster in robot.casters)), (x, y), max(z, 0.0))
