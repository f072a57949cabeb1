"""A named bestiary of driving scenes, and seeded random ones. All are invented.

A scene is one convex footprint, one piece of driving (a rigid rotation) and one rounded convex obstacle. Lengths in mm,
angles in radians. Where the clearance has a closed form it stands beside the scene, with where it comes from.

The footprint most scenes use has its axle 140 mm behind the front face, 60 mm before the rear face, and is 150 mm wide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import asin, atan2, cos, hypot, pi, radians, sin, sqrt

import numpy as np

Point = tuple[float, float]
Outline = tuple[Point, ...]


@dataclass(frozen=True)
class Scene:
    """One footprint, one piece, one obstacle."""

    name: str
    polygon: Outline
    """Robot frame."""
    pose: tuple[float, float, float]
    s: float
    t: float
    core: Outline
    """Field frame: a point, a segment or a convex polygon."""
    radius: float = 0.0
    degenerate: bool = False
    """Touching, or so nearly that rounding may show: judged to 1e-5 mm instead of 1e-6."""
    exact: float | None = None
    """The gap in closed form, where there is one. (The product gives 0 for a gap of at most 1e-5 mm.)"""
    source: str = ""
    """Of ``exact``."""

    @property
    def args(self) -> tuple[Outline, tuple[float, float, float], float, float, Outline, float]:
        return self.polygon, self.pose, self.s, self.t, self.core, self.radius


def box(x0: float, y0: float, x1: float, y1: float) -> Outline:
    return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


def turned(points: Outline, angle: float, about: Point = (0.0, 0.0)) -> Outline:
    c, d = cos(angle), sin(angle)
    x0, y0 = about
    return tuple((x0 + c * (x - x0) - d * (y - y0), y0 + d * (x - x0) + c * (y - y0)) for x, y in points)


def shifted(points: Outline, by: Point) -> Outline:
    return tuple((x + by[0], y + by[1]) for x, y in points)


ROBOT = box(-60, -75, 140, 75)
CENTRED = box(-100, -75, 100, 75)
AXLE_AT_REAR = box(0, -75, 200, 75)
TRIANGLE: Outline = ((-50.0, -60.0), (120.0, 0.0), (-50.0, 60.0))
HEXAGON: Outline = tuple((90 * cos(k * pi / 3), 90 * sin(k * pi / 3)) for k in range(6))
NEEDLE = box(-100, -0.005, 100, 0.005)
START = (0.0, 0.0, 0.0)
FRONT_REACH = hypot(140, 75)
PLANE = "plane trigonometry"

_scenes: list[Scene] = []


def _add(
    name: str,
    polygon: Outline,
    s: float,
    t: float,
    core: Outline,
    radius: float = 0.0,
    pose: tuple[float, float, float] = START,
    degenerate: bool = False,
    exact: float | None = None,
    source: str = PLANE,
) -> None:
    _scenes.append(
        Scene(name, polygon, pose, s, t, core, radius, degenerate, exact, source if exact is not None else "")
    )


# Plain driving.
_add("open floor", ROBOT, 300, 0, box(900, -50, 1000, 50), exact=460)
_add("open floor, round obstacle", ROBOT, 300, 0, ((900, 0),), 55, exact=405)
_add("corridor, left wall", ROBOT, 1500, 0, box(-200, 80, 2000, 90), exact=5)
_add("corridor, right wall", ROBOT, 1500, 0, box(-200, -90, 2000, -80), exact=5)
_add("corridor, wall as a segment", ROBOT, 1500, 0, ((-200, 80), (2000, 80)), exact=5)
_add("pillar only in the middle", ROBOT, 900, 0, box(500, 85, 510, 200), exact=10)
_add("post driven over", ROBOT, 900, 0, box(500, 20, 501, 21), exact=0)
_add("post driven over backwards", ROBOT, -900, 0, box(-500, 20, -499, 21), exact=0)
_add("backwards past a corner", ROBOT, -700, 0, box(-500, 77.5, -400, 200), exact=2.5)
_add("backwards short of a wall", ROBOT, -300, 0, box(-480, -400, -400, 400), exact=40)
_add("five metres along a wall", ROBOT, 5000, 0, box(-100, 75.5, 6000, 80), exact=0.5)
_add("five metres with a veer", ROBOT, 5000, radians(1.5), box(2400, 120, 2500, 400))
_add("five metres backwards with a veer", ROBOT, -5000, -radians(1.5), box(-2500, 120, -2400, 400))
_add("five metres, far from the origin", ROBOT, 5000, 0.02, box(18000, 12000, 18100, 12100), pose=(14000, 11890, 0))
_add("tilted past a post", ROBOT, 800, 0, ((400, 190),), pose=(0, 0, radians(10)),
     exact=190 * cos(radians(10)) - 400 * sin(radians(10)) - 75)  # fmt: skip

# Spins, pivots, arcs.
_add("spin beside a wall", ROBOT, 0, 2 * pi, box(-500, 200, 500, 220), exact=200 - FRONT_REACH)
_add("spin, quarter", ROBOT, 0, pi / 2, box(-500, 170, 500, 220), exact=170 - FRONT_REACH)
_add("spin, too short to reach the corner", ROBOT, 0, radians(20), box(-500, 170, 500, 220),
     exact=170 - 140 * sin(radians(20)) - 75 * cos(radians(20)))  # fmt: skip
_add("spin to the right", ROBOT, 0, -pi / 2, box(-500, -220, 500, -170), exact=170 - FRONT_REACH)
_add("spin that clips the rear corner", ROBOT, 0, pi / 2, ((0, -90),), exact=0)
_add("spin beside a point the rear corner passes", ROBOT, 0, -radians(70), ((-80, -60),), exact=100 - hypot(60, 75))
_add("post in front of a spin", ROBOT, 0, 2 * pi, ((300, 0),), 20, exact=280 - FRONT_REACH)
_add("pivot about the left wheel", ROBOT, 56 * pi / 2, pi / 2, box(200, -200, 300, -100))
_add("pivot about the right wheel", ROBOT, 56 * pi / 2, -pi / 2, box(200, 100, 300, 200))
_add("pivot backwards", ROBOT, -56 * pi / 2, pi / 2, box(-260, -200, -160, -20))
_add("arc, post at its centre", ROBOT, 300 * pi / 2, pi / 2, ((0, 300),), exact=225,
     source="inner reach of a body on an arc, Rc - w/2; plane trigonometry")  # fmt: skip
_add("arc, outer post", ROBOT, 300 * pi / 2, pi / 2, ((500 * sin(1), 300 - 500 * cos(1)),),
     exact=500 - hypot(375, 140), source="outer reach of a body on an arc, hypot(Rc + w/2, overhang)")  # fmt: skip
_add("arc backwards to the right", ROBOT, -200 * pi / 3, pi / 3, box(-300, -30, -250, 20))
_add("arc past a hexagon", ROBOT, 400, 1.0, shifted(HEXAGON, (330, 420)))
_add("arc with a triangle past a triangle", TRIANGLE, 350, -0.8, shifted(TRIANGLE, (400, 150)))
_add("hexagon spins beside a segment", HEXAGON, 0, pi / 6, ((-200, 95), (200, 95)), exact=5)

# Half turns, full turns and more.
for _degrees in (180, 350, 360, 720):
    _t = radians(_degrees)
    _add(f"spin of {_degrees} degrees beside a post", ROBOT, 0, _t, ((-170, 120),), 12)
    _add(f"spin of -{_degrees} degrees beside a post", ROBOT, 0, -_t, ((-170, 120),), 12)
    _add(f"arc of {_degrees} degrees, post in the swept ring's hole", ROBOT, 300 * _t, _t, ((0, 300),), 20, exact=205)
    _add(f"arc of {_degrees} degrees, box in the hole", ROBOT, 300 * _t, _t, box(-30, 280, 40, 310))
    _add(f"arc of {_degrees} degrees, box far round the bend", ROBOT, 300 * _t, _t, box(-60, 660, 60, 700))
    _add(f"arc of -{_degrees} degrees backwards", ROBOT, -300 * _t, _t, box(-340, 240, -320, 260))
_add("spin of 350 degrees that stops short of a post", AXLE_AT_REAR, 0, radians(350), ((180, -110),))
_add("segment in the hole of a full turn", ROBOT, 600 * pi, 2 * pi, ((-100, 300), (100, 300)), 0.0, exact=125)

# Nearly straight: the centre is anywhere from half a metre to far beyond the moon.
for _power in range(3, 13):
    for _sign in (1.0, -1.0):
        _add(
            f"veer of {_sign:+.0f}e-{_power}",
            ROBOT,
            400,
            _sign * 10.0**-_power,
            box(420, 90, 500, 300),
            degenerate=True,
        )
        _add(
            f"spin of {_sign:+.0f}e-{_power}", ROBOT, 0, _sign * 10.0**-_power, box(160, -50, 200, 50), degenerate=True
        )
_add("turn of 1e-300", ROBOT, 400, 1e-300, box(420, 90, 500, 300), degenerate=True, exact=15)
_add("veer of 1e-4 along five metres of wall", ROBOT, 5000, 1e-4, box(-100, 76, 6000, 80), degenerate=True,
     exact=76 - 75 * cos(1e-4) - 140 * sin(1e-4) - 5000 / 1e-4 * 2 * sin(5e-5) ** 2)  # fmt: skip
_add("nearly straight past a point", ROBOT, 1000, -3e-8, ((500, 80),), degenerate=True)

# Standing still.
_add("standing clear", ROBOT, 0, 0, box(150, -10, 160, 10), exact=10)
_add("standing, corner to corner", ROBOT, 0, 0, box(143, 79, 200, 200), exact=5)
_add("standing on an obstacle", ROBOT, 0, 0, box(130, -10, 160, 10), exact=0)
_add("standing, two boxes at 45 degrees", CENTRED, 0, 0, turned(shifted(CENTRED, (300, 0)), pi / 4, (300, 0)),
     exact=300 - 100 - 175 / sqrt(2))  # fmt: skip
_add("standing, two boxes at 30 degrees", box(0, 0, 2, 1), 0, 0, turned(box(3, 2, 5, 3), pi / 6, (4, 2.5)),
     exact=2 * cos(pi / 6) + 1.5 * sin(pi / 6) - 1)  # fmt: skip

# Exactly touching.
_add("face meets face at the end", ROBOT, 500, 0, box(640, -100, 700, 100), degenerate=True, exact=0)
_add("rear face meets face at the end", ROBOT, -500, 0, box(-700, -100, -560, 100), degenerate=True, exact=0)
_add("face slides along a wall", ROBOT, 500, 0, box(-300, 75, 900, 100), degenerate=True, exact=0)
_add("face leaves a wall", ROBOT, -300, 0, box(140, -200, 200, 200), degenerate=True, exact=0)
_add("corner meets corner at the end", ROBOT, 500, 0, box(640, 75, 700, 100), degenerate=True, exact=0)
_add("corner passes corner", ROBOT, 500, 0, box(400, 75, 450, 100), degenerate=True, exact=0)
_add("corner of a body on its tip meets a face", turned(CENTRED, atan2(75, 100)), 200, 0, box(325, -300, 400, 300),
     degenerate=True, exact=0)  # fmt: skip
_add("face meets corner", ROBOT, 500, 0, ((640, 0), (700, 60), (700, -60)), degenerate=True, exact=0)
_add("spin grazes a wall", ROBOT, 0, pi, box(-500, FRONT_REACH, 500, 200), degenerate=True, exact=0)
_add("spin grazes a post", ROBOT, 0, 2 * pi, ((FRONT_REACH, 0),), degenerate=True, exact=0)
_add("spin grazes a round obstacle", ROBOT, 0, 2 * pi, ((FRONT_REACH + 20, 0),), 20, degenerate=True, exact=0)
_add("spin stops as it touches", CENTRED, 0, asin(180 / 250) - atan2(75, 100), box(-500, 90, 500, 100),
     degenerate=True, exact=0, source="W = a sin + b cos, largest tilt in a corridor; plane trigonometry")  # fmt: skip
_add("spin stops just before it touches", CENTRED, 0, asin(180 / 250) - atan2(75, 100) - 1e-3, box(-500, 90, 500, 100),
     exact=90 - 125 * sin(asin(180 / 250) - 1e-3))  # fmt: skip
_add("arc grazes the inner post", ROBOT, 300 * pi, pi, ((0, 300),), 225, degenerate=True, exact=0)
for _gap in (1e-7, 1e-6, 5e-6):
    _add(f"slides {_gap:g} off a wall", ROBOT, 500, 0, box(-300, 75 + _gap, 900, 100), degenerate=True, exact=_gap)
for _gap in (3e-5, 1e-4, 1e-3):
    _add(f"slides {_gap:g} off a wall", ROBOT, 500, 0, box(-300, 75 + _gap, 900, 100), degenerate=True, exact=_gap)
    _add(f"grazes a corner at {_gap:g}", ROBOT, 500, 0, box(300, 75 + _gap, 310, 100), degenerate=True, exact=_gap)
    _add(f"spin passes a post at {_gap:g}", ROBOT, 0, 2 * pi, ((0, FRONT_REACH + _gap),), degenerate=True, exact=_gap)
    _add(f"spin cuts a post's edge by {_gap:g}", ROBOT, 0, 2 * pi, ((0, FRONT_REACH - _gap),), degenerate=True, exact=0)

# Needles and 1 mm posts.
_add("needle spins beside a post", NEEDLE, 0, pi, box(0, 101, 1, 102))
_add("needle sweeps over a post", NEEDLE, 0, pi, box(-1, 50, 0, 51), exact=0)
_add("needle driven on end at a post", NEEDLE, 300, 0, box(398, -0.5, 399, 0.5), exact=0)
_add("needle driven just past a post", NEEDLE, 300, 0, box(200, 0.006, 201, 1.006), degenerate=True, exact=0.001)
_add("needle past a needle, crossed", NEEDLE, 0, pi / 2, turned(shifted(NEEDLE, (0, 210)), pi / 2, (0, 210)))
_add("needle obstacle under the robot's path", ROBOT, 600, 0, shifted(NEEDLE, (500, 0)), exact=0)
_add("needle obstacle on end beside the path", ROBOT, 600, 0, box(300, 76, 300.01, 276), exact=1)
# Past each other in less than a millimetre: neither end of the way is the nearest.
_add("thin plate through a thin plate in 0.9 mm", box(0, 0, 0.05, 100), 0.9, 0, box(0.4, 50, 0.45, 150), exact=0)
_add(
    "thin plate past the end of another in 0.9 mm",
    box(0, 0, 0.05, 100),
    0.9,
    0,
    box(0.4, 100.01, 0.45, 150),
    exact=0.01,
)
_add("post between two steps", NEEDLE, 0, pi, box(99, 0.5, 99.01, 0.51), exact=0)
_add("arc of a needle about a needle", NEEDLE, 200 * pi, pi, shifted(NEEDLE, (0, 200)))

# The instantaneous centre at awkward places: inside, outside, on an edge, on a vertex; of the body and of the obstacle.
for _off in (1e-3, 1e-6, 1e-9):
    _add(f"centre {_off:g} inside the side", ROBOT, (75 - _off) * pi / 2, pi / 2, box(-30, 80, 30, 120))
    _add(f"centre {_off:g} outside the side", ROBOT, (75 + _off) * pi / 2, pi / 2, box(-30, 80, 30, 120))
    _add(f"centre {_off:g} off a corner", AXLE_AT_REAR, (75 + _off) * pi / 2, pi / 2, box(-80, 76, -20, 120))
_add("centre on the side", ROBOT, 75 * pi / 2, pi / 2, box(-30, 80, 30, 120))
_add("centre on the side, turning away", ROBOT, -75 * pi / 2, -pi / 2, box(-30, 80, 30, 120))
_add("centre on a corner", AXLE_AT_REAR, 75 * pi / 2, pi / 2, box(-80, 76, -20, 120))
_add("centre on a corner that rests on an obstacle", AXLE_AT_REAR, 75 * pi / 2, pi / 2, box(-80, 75, 0, 120),
     degenerate=True, exact=0)  # fmt: skip
_add("centre on the side, wall behind it", ROBOT, 75 * radians(10), radians(10), box(-30, 92, 30, 120))
_add("centre on an obstacle's corner", ROBOT, 100 * pi / 2, pi / 2, box(0, 100, 50, 150))
_add("centre on an obstacle's side", ROBOT, 100 * pi / 2, pi / 2, box(-20, 100, 20, 150), exact=5)
_add("centre inside an obstacle", ROBOT, 200 * pi, pi, box(-60, 190, 60, 210))
_add("centre on a point obstacle", ROBOT, 100 * 2 * pi, 2 * pi, ((0, 100),), exact=25)
_add("centre on a point obstacle at the side", ROBOT, 75 * pi, pi, ((0, 75),), degenerate=True, exact=0)
_add("centre at an end of a segment", ROBOT, 100 * pi / 2, pi / 2, ((0, 100), (0, 300)), exact=25)

# Starting in trouble.
_add("overlap at the start", ROBOT, 300, 0, box(100, 50, 200, 120), exact=0)
_add("overlap at the start, left at once", ROBOT, -300, 0.2, box(139, 50, 200, 120), exact=0)
_add("robot inside an obstacle", ROBOT, 10, 0.1, box(-2000, -2000, 2000, 2000), exact=0)
_add("robot drives into an obstacle whole", ROBOT, 3000, 0, box(1000, -2000, 4000, 2000), exact=0)
_add("obstacle inside the body", ROBOT, 5, 0.01, box(0, 0, 10, 10), exact=0)
_add("point inside the body", ROBOT, 0, 0, ((10, 10),), exact=0)
_add("point inside the body of a spin", ROBOT, 0, pi, ((1, 1),), exact=0)
_add("segment through the body", ROBOT, 50, 0, ((-500, 0), (500, 1)), exact=0)
_add("point within the rounding only", ROBOT, 0, 0, ((150, 0),), 11, exact=0)

_add("standing, post straight across the centre", box(-40, -30, 70, 20), 0, 0, ((-70, 0),), exact=30)

BESTIARY: tuple[Scene, ...] = tuple(_scenes)


# --- random scenes -----------------------------------------------------------------------------------------------


def _convex(rng: np.random.Generator, corners: int, size: float) -> Outline:
    """Corners on an ellipse, so always convex."""
    angles = np.sort(rng.uniform(0, 2 * pi, corners))
    a, b = size * rng.uniform(0.2, 1.0, 2)
    return tuple((float(a * cos(v)), float(b * sin(v))) for v in angles)


def _rectangle(rng: np.random.Generator, size: float) -> Outline:
    a, b = (float(v) for v in size * rng.uniform(0.2, 1.0, 2))
    return box(-a, -b, a, b)


def _shape(rng: np.random.Generator, size: float) -> Outline:
    made = _rectangle(rng, size) if rng.random() < 0.5 else _convex(rng, int(rng.choice((3, 6))), size)
    if rng.random() < 0.1:
        made = tuple((x, y * 1e-3) for x, y in made)
    return made


def _placed_near(rng: np.random.Generator, scene: Scene, shape: Outline) -> Outline:
    """The shape, turned, at a place that some point of the footprint comes near to."""
    u = float(rng.random())
    half = scene.t * u / 2
    chord = scene.s * u * float(np.sinc(half / pi))
    x, y, h = scene.pose
    px, py = x + chord * cos(h + half), y + chord * sin(h + half)
    corner = scene.polygon[int(rng.integers(len(scene.polygon)))]
    stretch = rng.uniform(0.8, 4.0)
    ((qx, qy),) = turned(((corner[0] * stretch, corner[1] * stretch),), h + scene.t * u)
    return shifted(turned(shape, float(rng.uniform(0, 2 * pi))), (px + qx, py + qy))


def random_scene(rng: np.random.Generator, name: str = "random") -> Scene:
    """Any footprint, piece and obstacle: nothing lines up except by chance."""
    polygon = shifted(_shape(rng, 120), (float(rng.uniform(-60, 60)), float(rng.uniform(-20, 20))))
    pose = (float(rng.uniform(0, 2000)), float(rng.uniform(0, 1100)), float(rng.uniform(-pi, pi)))
    sign = float(rng.choice((-1.0, 1.0)))
    turn = float(rng.choice((-1.0, 1.0)) * rng.uniform(0, pi))
    s, t = {
        0: (sign * rng.uniform(0, 800), 0.0),
        1: (0.0, turn),
        2: (sign * 56 * abs(turn), turn),
        3: (sign * rng.uniform(0, 800), turn),
        4: (sign * rng.uniform(0, 2000), turn * 10.0 ** rng.uniform(-8, -1)),
        5: (sign * rng.uniform(0, 1500), turn * rng.uniform(1, 4)),
        6: (sign * rng.uniform(0, 5000), turn * 0.02),
        7: (sign * rng.uniform(0, 1), turn * 0.01),
    }[int(rng.integers(8))]
    bare = Scene(name, polygon, pose, float(s), float(t), ((0.0, 0.0),))
    kind = int(rng.integers(4))
    size = float(rng.choice((1.0, 20.0, 80.0)))
    shape: Outline = ((0.0, 0.0),)
    if kind == 1:
        shape = ((-size, 0.0), (size, 0.0))
    elif kind > 1:
        shape = _shape(rng, size)
    radius = float(rng.uniform(0, 60)) if kind == 0 or rng.random() < 0.2 else 0.0
    return Scene(name, polygon, pose, bare.s, bare.t, _placed_near(rng, bare, shape), radius)


def lined_up_scene(rng: np.random.Generator, name: str = "lined up") -> Scene:
    """Whole numbers and right angles: faces touch faces, centres lie on sides and corners, ties everywhere."""

    def whole(low: int, high: int, step: int = 10) -> float:
        return float(step * rng.integers(low, high + 1))

    polygon = box(-whole(0, 6), -whole(1, 8), whole(1, 14), whole(1, 8))
    pose = (whole(-20, 20), whole(-20, 20), float(rng.integers(-2, 3)) * pi / 2)
    t = float(rng.integers(-8, 9)) * pi / 4
    s = whole(-20, 20) * float(rng.choice((1.0, abs(t) if t else 1.0)))
    x, y = whole(-30, 30), whole(-30, 30)
    kind = int(rng.integers(4))
    core: Outline = ((x, y),)
    if kind == 1:
        core = ((x, y), (x + whole(1, 10), y)) if rng.random() < 0.5 else ((x, y), (x, y + whole(1, 10)))
    elif kind == 2:
        core = box(x, y, x + whole(1, 10), y + whole(1, 10))
    elif kind == 3:
        core = ((x, y), (x + whole(1, 10), y), (x, y + whole(1, 10)))
    return Scene(name, polygon, pose, s, t, core, whole(0, 3) if kind < 2 else 0.0, degenerate=True)


def random_scenes(
    count: int, seed: int, kind: Callable[[np.random.Generator, str], Scene] = random_scene
) -> Iterator[Scene]:
    """The same scenes for the same seed; scene i is the same whatever the count."""
    for i in range(count):
        rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(i,)))
        yield kind(rng, f"{kind.__name__.replace('_', ' ')} {i} of seed {seed}")
