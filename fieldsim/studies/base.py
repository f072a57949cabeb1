"""`base`: the base in numbers. What its wheels and motors make of a degree, the room it needs, what stands on what, and
what tips it or makes it skid. Closed forms and plane statics, no trials.

Robot frame (see DEVELOPERS.md): x forward, y left, from the mat under the middle of the axle; z up from the mat. mm,
degrees, seconds, mm/s^2, kg; shares of the weight from 0 to 1.

**Statics.** The robot is a rigid body on points: two wheels and the casters. A steady acceleration a of a body whose
centre of mass is h above the mat moves the point that its weight acts on from c to c - (h/g) a (d'Alembert; the spin of
the wheels is left out). It stands while that point is inside the convex hull of the supports, and tips over the edge by
which the point leaves. With three supports the loads follow from the moments alone. With more they do not, so equal
springs are assumed under a rigid body: the loads lie on a plane, N_i = p + q x_i + r y_i where that is positive, and a
support that would have to pull is lifted. The same loads have the least sum of squares of all that balance the robot
without pulling. Source of the plane: L. Euler, "De pressione ponderis in planum cui incumbit", Novi Commentarii 18,
1774 (from memory). Casters and sliders are taken to roll without any friction.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import atan, degrees, hypot, isfinite, pi, radians, sin, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, nnls

from fieldsim import __version__
from fieldsim.language import tr, tr_later
from fieldsim.model import Attachment, Band, Drive, Point, Robot, Turn
from fieldsim.model.bounds import Named, unknown_name
from fieldsim.model.errors import Complaint, PlanError
from fieldsim.sim.motion import Profile, profile, top_speed
from fieldsim.sim.shapes import footprint, hull_of

__all__ = [
    "FRICTION",
    "GRAVITY",
    "AttachmentReach",
    "BaseAnswer",
    "BaseWarning",
    "Number",
    "Stand",
    "base",
    "narrowest_corner",
    "spring_loads",
]

GRAVITY = 9806.65
"""Standard gravity, mm/s^2 (3rd General Conference on Weights and Measures, 1901, from memory)."""

FRICTION = 0.6
"""Rubber wheels on a smooth mat: common practice, no source. To measure it, tilt the mat under
wheels that cannot roll (and no casters) until they slide: it is the tangent of that tilt."""

NO_SOURCE = tr_later("common practice, no source")
_CIRCLE = tr_later("plane geometry: the circumference of a circle is pi times its diameter")
_PLANE = tr_later("plane geometry")
_WHEELS = tr_later(
    "two-wheel kinematics: R. Siegwart and I. Nourbakhsh, Introduction to Autonomous Mobile Robots, "
    "MIT Press, 2004, ch. 3 (chapter from memory)"
)
_ENCODER = tr_later("that a motor's encoder tells one degree apart: common practice, no source")
_TRAPEZOID = tr_later(
    "trapezoid profile: K. Lynch and F. Park, Modern Robotics, Cambridge University Press, 2017, "
    "sec. 9.2.2.2 (section from memory)"
)
_BRAKING = tr_later("motion with a steady acceleration, any physics textbook")
_CORNER = tr_later(
    "E. W. Weisstein, 'Moving Ladder Problem', MathWorld, for a ladder; for a rectangle derived "
    "from it and checked against a grid search"
)
_STATICS = tr_later("plane statics: J. Meriam and L. Kraige, Engineering Mechanics: Statics, Wiley (from memory)")
_SPRINGS = tr_later(
    "equal springs under a rigid body, an assumption: L. Euler, 'De pressione ponderis in planum "
    "cui incumbit', Novi Commentarii 18, 1774 (from memory)"
)
_TIPPING = tr_later(
    "plane statics with the force of inertia: J. Meriam and L. Kraige, Engineering Mechanics, Wiley (from memory)"
)
_TRACTION = tr_later(
    "traction limit with load transfer: T. Gillespie, Fundamentals of Vehicle Dynamics, SAE, 1992, ch. 2 (from memory)"
)
_GUESSED = tr_later("friction unless given: common practice, no source")
_DERIVED = tr_later("derived here")

# From here on a design is out of proportion. All of them: common practice, no source.
LIGHT_WHEELS = 0.5  # share of the weight on both wheels: with less they lose grip before they lose power
UNEVEN_WHEELS = 0.6  # share that one wheel has of what both carry: the lighter one slips first and it veers
HALF_WAY_TO_TIPPING = 0.5  # own acceleration as a share of the one that tips it: bumps and attachments need the rest
NEAR_SLIP = 0.8  # own acceleration as a share of the one at which wheels slip: friction is not known any better
NEAR_TOP_SPEED = 0.9  # own speed as a share of the motors' top speed: they need the rest to hold the course
WIDE_BODY = 1.4  # body's width over the track
LONG_SWING = 1.25  # spin circle's radius over half the diagonal of the rectangle around it all
COARSE_TURN = 1.0  # degrees of turning for one degree of both motors

# Points nearer than this to the edge of the supports are on it, mm: no one can measure a centre of mass so well.
EDGE = 1e-6

NO_WEIGHT = tr_later("not known: the file does not give the weight")
NO_CASTERS = tr_later("not known: the file does not give the casters")
FALLS = tr_later("it does not stand: its centre of mass is not over the ground between wheels and casters")


@dataclass(frozen=True)
class Number:
    """One number of the base. ``value`` is None where it cannot be known or there is none; ``note`` then says why."""

    id: str
    value: float | None
    unit: str
    """mm, mm/s, mm/s^2, s, degrees, degrees/s, or share (of the weight, or of another number; 1 is all of it)."""
    words: str
    formula: str
    source: str
    note: str = ""
    group: str = ""


@dataclass(frozen=True)
class BaseWarning:
    """Something in the design that is out of proportion, or missing in the file."""

    id: str
    words: str
    source: str = field(default_factory=lambda: tr(NO_SOURCE))


@dataclass(frozen=True)
class AttachmentReach:
    """What one attachment, worn alone, does to the room the robot needs, mm. Its weight is not in the file."""

    name: str
    worn: bool
    ahead: float
    """How far it stands out beyond the body's front face, 0 if it does not."""
    behind: float
    left: float
    right: float
    spin_radius: float
    spin_more: float
    """How much larger the spin circle's radius is than the bare body's."""
    narrowest_gap: float
    gap_more: float
    """How much wider the narrowest gap is than the bare body's."""
    height: Band


@dataclass(frozen=True)
class BaseAnswer:
    """The base in numbers, as worn."""

    version: str
    robot: str
    wear: tuple[str, ...]
    numbers: tuple[Number, ...]
    warnings: tuple[BaseWarning, ...]
    attachments: tuple[AttachmentReach, ...]
    friction: float = FRICTION
    stands_on: tuple[Point, ...] = ()
    """The corners of the ground it stands on (hull of wheels and casters), counter-clockwise; empty if not known."""
    tips_over: Point | None = None
    """x, mm, of the edge it tips over backwards and of the one forwards, in line with its centre of mass."""

    def number(self, name: str) -> Number:
        """The number of that id."""
        return next(number for number in self.numbers if number.id == name)


# --- room ------------------------------------------------------------------------------------------------------


def narrowest_corner(length: float, width: float) -> float:
    """Narrowest right-angled corner between two corridors of equal width that a rectangle can be moved through, mm.

    It goes in with its length along the first corridor and comes out with its length along the second, turned by a
    quarter. Touching both outer walls at a tilt t it stays clear of the inner corner while the corridor's width c has

        c (sin t + cos t) >= long sin t cos t + short,

    which is hardest at 45 degrees or at the ends: c = max(width, (short + long/2) / sqrt 2). If it is wider than long
    it must back out of the corner instead of driving on. With short = 0 this is the ladder, long = 2 sqrt 2 c.

    >>> round(narrowest_corner(2**1.5, 0.0), 9)
    1.0
    >>> round(narrowest_corner(170.0, 140.0), 1)
    159.1
    """
    short, long = min(length, width), max(length, width)
    return max(width, (short + long / 2) / sqrt(2))


def _points(robot: Robot, wear: tuple[str, ...]) -> NDArray[np.float64]:
    return np.concatenate([part.points for part in footprint(robot, wear)])


def _radius(points: NDArray[np.float64], about: Point = (0.0, 0.0)) -> float:
    return float(np.hypot(*(points - np.array(about)).T).max())


def _reach(robot: Robot, attachment: Attachment, worn: bool) -> AttachmentReach:
    body = robot.body
    own = np.array(attachment.outline)
    bare, with_it = _points(robot, ()), _points(robot, (attachment.name,))
    spin, gap = _radius(with_it), float(np.ptp(with_it[:, 1]))
    return AttachmentReach(
        name=attachment.name,
        worn=worn,
        ahead=max(0.0, float(own[:, 0].max()) - (body.length - body.axle)),
        behind=max(0.0, -body.axle - float(own[:, 0].min())),
        left=max(0.0, float(own[:, 1].max()) - body.width / 2),
        right=max(0.0, -body.width / 2 - float(own[:, 1].min())),
        spin_radius=spin,
        spin_more=spin - _radius(bare),
        narrowest_gap=gap,
        gap_more=gap - float(np.ptp(bare[:, 1])),
        height=attachment.height,
    )


# --- what stands on what -----------------------------------------------------------------------------------------


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


# --- the answer --------------------------------------------------------------------------------------------------


def base(robot: Robot, wear: Sequence[str] = (), friction: float = FRICTION) -> BaseAnswer:
    """The base in numbers.

    Parameters
    ----------
    robot : Robot
        As it stands in its file. ``weight`` and ``casters`` may be missing: then what hangs on them is None.
    wear : sequence of str
        Names of the attachments that are on. They change the room it needs; their weight is in no file.
    friction : float
        Between wheels and mat, more than 0 and at most 3. The default is common practice, no source.

    Returns
    -------
    BaseAnswer
        Numbers in mm, degrees, seconds, mm/s^2 and shares; warnings in words.

    Raises
    ------
    PlanError
        An attachment the robot does not have, or a friction that cannot be.
    """
    wear = tuple(dict.fromkeys(wear))
    _check(robot, wear, friction)
    stand = stand_of(robot)
    numbers = (
        *_one_degree(robot),
        *_speed_and_time(robot),
        *_room(robot, wear),
        *_weight(robot, stand),
        *_tipping(robot, stand, friction),
    )
    hull: tuple[Point, ...] = ()
    tips_over = None
    if stand is not None:
        hull = tuple((float(x), float(y)) for x, y in stand.hull)
        if stand.stands:
            tips_over = (stand.middle[0] - stand.room((-1.0, 0.0)), stand.middle[0] + stand.room((1.0, 0.0)))
    return BaseAnswer(
        version=__version__,
        robot=robot.name,
        wear=wear,
        numbers=numbers,
        warnings=tuple(_warnings(robot, {number.id: number.value for number in numbers}, stand)),
        attachments=tuple(_reach(robot, attachment, attachment.name in wear) for attachment in robot.attachments),
        friction=friction,
        stands_on=hull,
        tips_over=tips_over,
    )


def _check(robot: Robot, wear: tuple[str, ...], friction: float) -> None:
    names = [attachment.name for attachment in robot.attachments]
    complaints = []
    for name in wear:
        if name not in names:
            found = unknown_name(Named("an attachment", of="attachment"), name, names)
            complaints.append(Complaint(("wear",), found.message, found.hint))
    if not (isfinite(friction) and 0 < friction <= 3):
        complaints.append(
            Complaint(
                ("friction",),
                tr("is {friction}; it must be more than 0 and at most 3", friction=repr(friction)),
                tr("{friction} is a fair guess", friction=FRICTION),
            )
        )
    if complaints:
        raise PlanError([f"{c.path[0]} {c.message}; {c.hint}" for c in complaints], complaints)


def _told(*sources: str) -> str:
    return "; ".join(tr(source) for source in sources)


def _one_degree(robot: Robot) -> Iterator[Number]:
    drive, group = robot.drive, tr("What one degree does")
    wheel = pi * drive.wheel / 360
    motor = wheel * drive.gear
    spin = degrees(2 * motor / drive.track)
    yield Number(
        "travel_per_wheel_degree",
        wheel,
        "mm",
        tr("one degree of a wheel drives"),
        tr("pi x wheel / 360"),
        _told(_CIRCLE),
        group=group,
    )
    yield Number(
        "travel_per_motor_degree",
        motor,
        "mm",
        tr("one degree of a motor drives"),
        tr("gear x pi x wheel / 360"),
        _told(_CIRCLE),
        group=group,
    )
    yield Number(
        "motor_degrees_metre",
        1000 / motor,
        "degrees",
        tr("a straight of 1 m takes, of each motor"),
        tr("1000 mm / mm for one motor degree"),
        _told(_CIRCLE),
        group=group,
    )
    yield Number(
        "motor_degrees_quarter_turn",
        90 / spin,
        "degrees",
        tr("a quarter turn on the spot takes, of each motor"),
        tr("90 x track / (wheel x gear)"),
        _told(_WHEELS),
        group=group,
    )
    one = tr("if the motors know one degree from the next")
    yield Number(
        "straight_step",
        motor,
        "mm",
        tr("finest step of a straight"),
        tr("both motors turn by one degree"),
        _told(_WHEELS, _ENCODER),
        one,
        group,
    )
    yield Number(
        "turn_step",
        spin,
        "degrees",
        tr("finest step of a turn on the spot"),
        tr("each motor turns by one degree, one forwards and one backwards: 2 x mm for one motor degree / track"),
        _told(_WHEELS, _ENCODER),
        one,
        group,
    )
    yield Number(
        "pivot_step",
        spin / 2,
        "degrees",
        tr("finest step of a turn about one wheel"),
        tr("one motor turns by one degree: mm for one motor degree / track"),
        _told(_WHEELS, _ENCODER),
        one,
        group,
    )
    yield Number(
        "turn_step_at_metre",
        1000 * sin(radians(spin)),
        "mm",
        tr("one such turn step is, sideways after 1 m"),
        tr("1000 mm x sin(finest turn step)"),
        _told(_PLANE),
        "",
        group,
    )


def _speed_and_time(robot: Robot) -> Iterator[Number]:
    drive, group = robot.drive, tr("Speed and time")
    top = top_speed(drive)
    speed = min(drive.speed, top)
    fastest_turn = degrees(2 * top / drive.track)
    metre = Profile(1000.0, speed, drive.acceleration)
    ramp = speed * speed / (2 * drive.acceleration)
    yield Number(
        "top_speed",
        top,
        "mm/s",
        tr("the motors can drive at most"),
        tr("motor speed / 360 x gear x pi x wheel"),
        _told(_CIRCLE),
        group=group,
    )
    yield Number(
        "speed_share",
        drive.speed / top,
        "share",
        tr("its speed of {speed:g} mm/s is, of that", speed=drive.speed),
        tr("speed / top speed"),
        _told(_CIRCLE),
        group=group,
    )
    yield Number(
        "fastest_turn",
        fastest_turn,
        "degrees/s",
        tr("the motors can turn it on the spot at most"),
        tr("2 x top speed / track"),
        _told(_WHEELS),
        group=group,
    )
    yield Number(
        "turn_speed_share",
        drive.turn_speed / fastest_turn,
        "share",
        tr("its turning speed of {turn_speed:g} degrees/s is, of that", turn_speed=drive.turn_speed),
        tr("turning speed / fastest turning speed"),
        _told(_WHEELS),
        group=group,
    )
    yield Number(
        "metre_time",
        metre.seconds,
        "s",
        tr("a straight of 1 m takes"),
        tr("way / speed + speed / acceleration; if it never comes to full speed, 2 x root of way / acceleration"),
        _told(_TRAPEZOID),
        "" if metre.peak >= speed else tr("it comes to {peak:.0f} mm/s only", peak=metre.peak),
        group,
    )
    yield Number(
        "quarter_turn_time",
        profile(Turn(90.0), drive).seconds,
        "s",
        tr("a quarter turn on the spot takes"),
        tr("the same for a wheel's way, track x pi / 4"),
        _told(_TRAPEZOID, _WHEELS),
        group=group,
    )
    yield Number(
        "stop_distance",
        ramp,
        "mm",
        tr("it comes to a stop (and to speed) within"),
        tr("speed x speed / (2 x acceleration)"),
        _told(_BRAKING),
        group=group,
    )
    tight = _tightest_arc(drive)
    yield Number(
        "arc_radius_motor",
        tight,
        "mm",
        tr("tightest arc the motors can drive at its speed"),
        tr("the outer wheel at top speed: track / 2 / (top speed / speed - 1)"),
        _told(_WHEELS),
        tr("there is none: at its speed the motors have nothing left for an outer wheel") if tight is None else "",
        group,
    )
    # Tighter than that the motors slow it down; R top^2 / (R + track/2)^2 is largest for a pivot, R = track/2.
    sideways = speed * speed / tight if tight is not None and tight < drive.track / 2 else top * top / (2 * drive.track)
    yield Number(
        "arc_acceleration",
        sideways,
        "mm/s^2",
        tr("in its sharpest arc it is pushed sideways with"),
        tr(
            "speed x speed / tightest arc, but if that arc is wider than a pivot, which the motors drive at "
            "top speed: top speed x top speed / (2 x track)"
        ),
        _told(_WHEELS, _BRAKING),
        "",
        group,
    )


def _tightest_arc(drive: Drive) -> float | None:
    """Radius, mm, of the tightest arc whose outer wheel the motors can drive at the robot's speed; None: none is."""
    top = top_speed(drive)
    return None if drive.speed >= top else drive.track / 2 / (top / drive.speed - 1)


def _room(robot: Robot, wear: tuple[str, ...]) -> Iterator[Number]:
    group = tr("Room it needs")
    points = _points(robot, wear)
    half = robot.drive.track / 2
    length, width = (float(np.ptp(points[:, axis])) for axis in (0, 1))
    side = float(np.abs(points[:, 1]).max())
    spin = _radius(points)
    yield Number(
        "footprint_length",
        length,
        "mm",
        tr("length over all"),
        tr("foremost to rearmost point"),
        _told(_PLANE),
        group=group,
    )
    yield Number(
        "narrowest_gap",
        width,
        "mm",
        tr("narrowest gap, driving straight"),
        tr("width over all: outermost point left to outermost point right"),
        _told(_PLANE),
        tr("like all of these without any error: leave room"),
        group,
    )
    yield Number(
        "spin_radius",
        spin,
        "mm",
        tr("radius of the circle it sweeps on the spot"),
        tr("farthest point from the middle of the axle"),
        _told(_PLANE),
        group=group,
    )
    yield Number(
        "pivot_radius_left",
        _radius(points, (0.0, half)),
        "mm",
        tr("and about the left wheel"),
        tr("farthest point from where the left wheel touches the mat"),
        _told(_PLANE),
        group=group,
    )
    yield Number(
        "pivot_radius_right",
        _radius(points, (0.0, -half)),
        "mm",
        tr("and about the right wheel"),
        tr("farthest point from where the right wheel touches the mat"),
        _told(_PLANE),
        group=group,
    )
    yield Number(
        "spin_side_room",
        spin - side,
        "mm",
        tr("room at its side to spin beside a wall"),
        tr("spin radius - outermost point to the side"),
        _told(_PLANE),
        "",
        group,
    )
    how = tr("shunting to and fro; wider than long, so it backs out") if width > length else tr("shunting to and fro")
    yield Number(
        "corner_width",
        narrowest_corner(length, width),
        "mm",
        tr("narrowest right-angled corner, at the very best"),
        tr(
            "two corridors of the same width; larger of width and (shorter + longer / 2) / root 2, for the "
            "rectangle around all of it, touching both outer walls and the inner corner"
        ),
        _told(_CORNER),
        how,
        group,
    )
    yield Number(
        "corner_width_spin",
        max(spin * (1 + 1 / sqrt(2)), spin + side),
        "mm",
        tr("the same: drive in, spin, drive out"),
        tr(
            "the whole spin circle touches both outer walls and the inner corner: spin radius x (1 + 1 / "
            "root 2); spin radius + outermost point to the side, if that is more"
        ),
        _told(_PLANE),
        "",
        group,
    )


def _missing(robot: Robot, stand: Stand | None) -> str:
    """Why nothing can be said of weight and tipping; empty if it can."""
    if robot.weight is None:
        return tr(NO_WEIGHT)
    if stand is None:
        return tr(NO_CASTERS)
    return "" if stand.stands else tr(FALLS)


def _weight(robot: Robot, stand: Stand | None) -> Iterator[Number]:
    group = tr("Weight on the wheels")
    why = _missing(robot, stand)
    loads = None if why or stand is None else stand.loads()
    mass = 0.0 if robot.weight is None else robot.weight.mass
    sure, source, formula = "", _told(_STATICS), tr("moments about the supports")
    if stand is not None and len(stand.supports) > 3:
        source, formula = _told(_STATICS, _SPRINGS), tr("moments, and equal springs under every support")
        sure = tr("wheels and casters taken as equally springy")
    in_a_row = len({caster.at[0] for caster in robot.casters}) == 1
    both = formula if not in_a_row else tr("1 - x of the centre of mass / x of the casters")

    def one(name: str, index: Sequence[int], words: str, how: str, where: str, note: str = "") -> Number:
        if loads is None:
            return Number(name, None, "share", words, how, where, why, group)
        value = float(loads[list(index)].sum())
        kilograms = tr("{part:.2f} kg of {mass:g} kg", part=value * mass, mass=mass) + (f"; {note}" if note else "")
        return Number(name, value, "share", words, how, where, kilograms, group)

    yield one(
        "wheel_load_share",
        (0, 1),
        tr("both drive wheels carry"),
        both,
        _told(_STATICS) if in_a_row else source,
        "" if in_a_row else sure,
    )
    yield one("wheel_load_left", (0,), tr("the left wheel"), formula, source, sure if in_a_row else "")
    yield one("wheel_load_right", (1,), tr("the right wheel"), formula, source)
    for n, caster in enumerate(robot.casters, 1):
        where = tr("caster {n}, at [{x:g}, {y:g}]", n=n, x=caster.at[0], y=caster.at[1])
        yield one(f"caster_load_{n}", (n + 1,), where, formula, source)


def _tipping(robot: Robot, stand: Stand | None, friction: float) -> Iterator[Number]:
    group = tr("Tipping and slipping")
    drive = robot.drive
    why = _missing(robot, stand)
    if why or stand is None:
        for name, unit, words, formula, source in _tipping_words(drive):
            yield Number(name, None, unit, words, formula, source, why, group)
        return
    low = tr("nothing tips it: its centre of mass is not above the mat") if stand.high <= 0 else ""
    forward, backward = stand.tips((1.0, 0.0)), stand.tips((-1.0, 0.0))
    sideways = min((tip for side in (1.0, -1.0) if (tip := stand.tips((0.0, side))) is not None), default=None)
    slips = [stand.slips(side, friction) for side in (1.0, -1.0)]
    slip = min((value for value in slips if value is not None), default=None)
    limits = [value for value in (slip, forward, backward) if value is not None]
    radius = stand.tip_radius(min(drive.speed, top_speed(drive)))
    tight = _tightest_arc(drive)
    first, before = tr("it tips before a wheel slips"), tr("a wheel slips before")
    # All the grip there is sideways, with all of the weight on the wheels, which is never quite so.
    slides = tr("it slides before") if sideways is not None and sideways > friction * GRAVITY else ""
    found: dict[str, tuple[float | None, str]] = {
        "stand_margin": (stand.margin, ""),
        "tip_tilt": (None if low else degrees(atan(stand.margin / stand.high)), low),
        "tip_forward": (forward, low or ("" if slips[1] is None else before)),
        "tip_backward": (backward, low or ("" if slips[0] is None else before)),
        "tip_sideways": (sideways, low or slides),
        "tip_radius": (
            radius,
            tr("the motors drive no arc that tight at this speed") if tight is None or radius < tight else "",
        ),
        "slip_forward": (slips[0], first if slips[0] is None else ""),
        "slip_backward": (slips[1], first if slips[1] is None else ""),
        "slip_acceleration": (slip, first if slip is None else ""),
        "acceleration_share": (
            (drive.acceleration / min(limits), "")
            if min(limits, default=0.0) > 0
            else (None, tr("a wheel carries nothing, so it slips at once"))
        ),
    }
    for name, unit, words, formula, source in _tipping_words(drive):
        value, note = found[name]
        yield Number(name, value, unit, words, formula, source, note, group)


def _tipping_words(drive: Drive) -> tuple[tuple[str, str, str, str, str], ...]:
    """Id, unit, words, formula and source of each number of tipping and slipping."""
    grip = tr("friction x a wheel's load under this acceleration = its push, mass x acceleration x (1/2 +- y / track)")
    speed = min(drive.speed, top_speed(drive))
    return (
        (
            "stand_margin",
            "mm",
            tr("from under the centre of mass to the edge"),
            tr("shortest way to the edge of the ground between wheels and casters"),
            _told(_STATICS),
        ),
        (
            "tip_tilt",
            "degrees",
            tr("it topples when the table is tilted by"),
            tr("tan(tilt) = way to the edge / height of the centre of mass"),
            _told(_STATICS),
        ),
        (
            "tip_forward",
            "mm/s^2",
            tr("it tips forwards when it brakes with"),
            tr("g x way from under the centre of mass to the edge / its height, over the foremost supports"),
            _TIPPING,
        ),
        (
            "tip_backward",
            "mm/s^2",
            tr("it tips backwards when it speeds up with"),
            tr("g x way from under the centre of mass to the edge / its height, over the rearmost supports"),
            _TIPPING,
        ),
        (
            "tip_sideways",
            "mm/s^2",
            tr("it tips sideways in a turn with"),
            tr(
                "g x way from under the centre of mass to the edge / its height, over the line from a wheel to a "
                "caster, the nearer side"
            ),
            _told(_TIPPING),
        ),
        (
            "tip_radius",
            "mm",
            tr("at {speed:.0f} mm/s it tips in arcs tighter than", speed=speed),
            tr(
                "largest R with m R^2 + k n_y R = k n c over all edges: m their way from the centre of mass c, "
                "n their outward direction, k = height x speed^2 / g"
            ),
            _told(_TIPPING, _DERIVED),
        ),
        ("slip_forward", "mm/s^2", tr("a wheel slips when it speeds up with"), grip, _told(_TRACTION, _GUESSED)),
        ("slip_backward", "mm/s^2", tr("a wheel slips when it brakes with"), grip, _told(_TRACTION, _GUESSED)),
        (
            "slip_acceleration",
            "mm/s^2",
            tr("so a wheel may slip from here on"),
            tr("the smaller of the two"),
            _told(_TRACTION, _GUESSED),
        ),
        (
            "acceleration_share",
            "share",
            tr("its {acceleration:g} mm/s^2 is, of the smallest of these", acceleration=drive.acceleration),
            tr("acceleration / smallest of slipping, tipping forwards and tipping backwards"),
            _told(_TIPPING, _TRACTION, _GUESSED),
        ),
    )


def _warnings(robot: Robot, known: dict[str, float | None], stand: Stand | None) -> Iterator[BaseWarning]:
    drive, body = robot.drive, robot.body
    if robot.weight is None:
        yield BaseWarning(
            "no_weight",
            tr(
                "The file does not give the weight, so nothing is said of load, tipping and slipping: weigh the "
                "robot and balance it on an edge, lengthwise, across and on its side."
            ),
            "",
        )
    if not robot.casters:
        yield BaseWarning(
            "no_casters",
            tr(
                "The file does not give the casters, so nothing is said of load, tipping and slipping: measure "
                "where they touch the mat."
            ),
            "",
        )
    yield from _drive_warnings(robot, known)
    if drive.track > body.width:
        yield BaseWarning(
            "wheels_outside",
            tr(
                "The wheels touch the mat {track:g} mm apart but the body is only {width:g} mm wide. Gaps and "
                "circles are those of body and attachments: give the body the width over the wheels.",
                track=drive.track,
                width=body.width,
            ),
            "",
        )
    elif body.width > WIDE_BODY * drive.track:
        yield BaseWarning(
            "wide_body",
            tr(
                "The body is {width:.1f} times as wide as the track (more than {wide_body:g} times): a small "
                "slip of a wheel turns it far, and it needs wide gaps.",
                width=body.width / drive.track,
                wide_body=WIDE_BODY,
            ),
        )
    half = hypot(known["footprint_length"] or 0.0, known["narrowest_gap"] or 0.0) / 2
    swing = (known["spin_radius"] or 0.0) / half
    if swing > LONG_SWING:
        yield BaseWarning(
            "long_swing",
            tr(
                "On the spot it sweeps a circle {swing:.2f} times as large as it would with the axle in its "
                "middle (more than {long_swing:g} times): one end swings far out.",
                swing=swing,
                long_swing=LONG_SWING,
            ),
        )
    if stand is not None and robot.weight is not None:
        if not stand.stands:
            yield BaseWarning(
                "does_not_stand",
                tr(
                    "As the file has it it does not stand: its centre of mass is not over the ground between wheels "
                    "and casters. "
                    "Measure again, or move a caster."
                ),
                "",
            )
        else:
            yield from _stand_warnings(robot, known, stand)
        if robot.weight.at[2] <= 0:
            yield BaseWarning(
                "no_height",
                tr("The centre of mass is given at or below the mat, so nothing tips it: measure again."),
                "",
            )


def _drive_warnings(robot: Robot, known: dict[str, float | None]) -> Iterator[BaseWarning]:
    drive = robot.drive
    for kind, share, speed, top, beyond, near in (
        (
            "speed",
            known["speed_share"],
            drive.speed,
            known["top_speed"],
            tr_later(
                "Its speed of {speed:g} mm/s is more than the motors can do ({top:.0f} mm/s): it will drive at that, "
                "and plans are timed so."
            ),
            tr_later(
                "Its speed of {speed:g} mm/s is {share:.0f} % of what the motors can do (more than {most:.0f} %): "
                "nothing is left to hold the course with, and a tired battery is slower."
            ),
        ),
        (
            "turning_speed",
            known["turn_speed_share"],
            drive.turn_speed,
            known["fastest_turn"],
            tr_later(
                "Its turning speed of {speed:g} degrees/s is more than the motors can do ({top:.0f} degrees/s): it "
                "will drive at that, and plans are timed so."
            ),
            tr_later(
                "Its turning speed of {speed:g} degrees/s is {share:.0f} % of what the motors can do (more than "
                "{most:.0f} %): nothing is left to hold the course with, and a tired battery is slower."
            ),
        ),
    ):
        assert share is not None
        assert top is not None
        if share > 1:
            yield BaseWarning(f"{kind}_beyond_motor", tr(beyond, speed=speed, top=top), "")
        elif share > NEAR_TOP_SPEED:
            yield BaseWarning(f"{kind}_near_top", tr(near, speed=speed, share=share * 100, most=NEAR_TOP_SPEED * 100))
    step = known["turn_step"] or 0.0
    if step > COARSE_TURN:
        yield BaseWarning(
            "coarse_turn",
            tr(
                "One degree of the motors turns it by {step:.1f} degrees (more than {coarse_turn:g}): a wider "
                "track, smaller wheels or a slower gear turn it more finely.",
                step=step,
                coarse_turn=COARSE_TURN,
            ),
        )


def _stand_warnings(robot: Robot, known: dict[str, float | None], stand: Stand) -> Iterator[BaseWarning]:
    own = robot.drive.acceleration
    wheels, left = known["wheel_load_share"] or 0.0, known["wheel_load_left"] or 0.0
    if wheels < LIGHT_WHEELS:
        yield BaseWarning(
            "light_wheels",
            tr(
                "The drive wheels carry only {wheels:.0f} % of the weight (less than {light_wheels:.0f} %): "
                "move weight over the axle, or the axle under the weight.",
                wheels=wheels * 100,
                light_wheels=LIGHT_WHEELS * 100,
            ),
        )
    heavy = max(left, wheels - left) / wheels if wheels else 1.0
    if heavy > UNEVEN_WHEELS:
        yield BaseWarning(
            "uneven_wheels",
            tr(
                "One drive wheel carries {heavy:.0f} % of what both carry (more than {uneven_wheels:.0f} %): "
                "the other slips first, and then it veers.",
                heavy=heavy * 100,
                uneven_wheels=UNEVEN_WHEELS * 100,
            ),
        )
    lifted = [
        tr("The left wheel carries nothing: it hangs in the air or just touches."),
        tr("The right wheel carries nothing: it hangs in the air or just touches."),
        *(
            tr("The caster {n} carries nothing: it hangs in the air or just touches.", n=n)
            for n in range(1, len(robot.casters) + 1)
        ),
    ]
    for words, load in zip(lifted, stand.loads(), strict=True):
        if load <= 0:
            yield BaseWarning("lifted", words, "")
    slip = known["slip_acceleration"]
    if slip is not None and own > NEAR_SLIP * slip:
        if own > slip:
            words = tr(
                "Its acceleration of {own:g} mm/s^2 is more than the {limit:.0f} mm/s^2 at which a wheel slips: "
                "then the wheels turn farther than it drives. Lower the acceleration, or put more weight on the "
                "wheels.",
                own=own,
                limit=slip,
            )
        else:
            words = tr(
                "Its acceleration of {own:g} mm/s^2 is more than {share:.0f} % of the {limit:.0f} mm/s^2 at which "
                "a wheel slips: then the wheels turn farther than it drives. Lower the acceleration, or put more "
                "weight on the wheels.",
                own=own,
                limit=slip,
                share=NEAR_SLIP * 100,
            )
        yield BaseWarning("beyond_slip" if own > slip else "near_slip", words)
    for name, limit, beyond, near in (
        (
            "forward",
            known["tip_forward"],
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than the {limit:.0f} mm/s^2 at which it tips forwards "
                "when it brakes: lower the weight, move the casters out, or accelerate less."
            ),
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than half of the {limit:.0f} mm/s^2 at which it tips "
                "forwards when it brakes: lower the weight, move the casters out, or accelerate less."
            ),
        ),
        (
            "backward",
            known["tip_backward"],
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than the {limit:.0f} mm/s^2 at which its front lifts "
                "when it speeds up: lower the weight, move the casters out, or accelerate less."
            ),
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than half of the {limit:.0f} mm/s^2 at which its front "
                "lifts when it speeds up: lower the weight, move the casters out, or accelerate less."
            ),
        ),
    ):
        if limit is not None and own > HALF_WAY_TO_TIPPING * limit:
            far = own > limit
            yield BaseWarning(
                f"{'beyond' if far else 'near'}_tip_{name}", tr(beyond if far else near, own=own, limit=limit)
            )
    back = known["tip_backward"]
    if known["slip_forward"] is None and back is not None:
        yield BaseWarning(
            "tips_before_slips",
            tr(
                "Speeding up ever harder, its front lifts (at {back:.0f} mm/s^2) before a wheel slips: nothing "
                "warns you by skidding. Its own acceleration is {own:g} mm/s^2.",
                back=back,
                own=own,
            ),
            "",
        )
    if known["slip_backward"] is None and known["tip_forward"] is not None:
        yield BaseWarning(
            "tips_before_slips_braking",
            tr(
                "Braking ever harder, it tips forwards (at {tip_forward:.0f} mm/s^2) before a wheel slips. Its "
                "own acceleration is {own:g} mm/s^2.",
                tip_forward=known["tip_forward"],
                own=own,
            ),
            "",
        )
    sideways, pushed = known["tip_sideways"], known["arc_acceleration"]
    if sideways is not None and pushed is not None and pushed > HALF_WAY_TO_TIPPING * sideways:
        if pushed > sideways:
            words = tr(
                "In its sharpest arcs it is pushed sideways with {pushed:.0f} mm/s^2, more than the {limit:.0f} "
                "mm/s^2 at which it tips: drive tight arcs slower.",
                pushed=pushed,
                limit=sideways,
            )
        else:
            words = tr(
                "In its sharpest arcs it is pushed sideways with {pushed:.0f} mm/s^2, more than half of the "
                "{limit:.0f} mm/s^2 at which it tips: drive tight arcs slower.",
                pushed=pushed,
                limit=sideways,
            )
        yield BaseWarning("tips_in_arcs" if pushed > sideways else "near_tip_in_arcs", words)
