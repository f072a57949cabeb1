"""The exact sweep against certified truth, shapely, and closed forms."""

from __future__ import annotations

from math import cos, hypot, inf, pi, sin, tan

import numpy as np
import pytest
import shapely
from cases import BESTIARY, CENTRED, ROBOT, Scene, lined_up_scene, random_scene, random_scenes
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import certified_clearance, geometry, placed, poses
from reference import first_touch as certified_touch

from fieldsim.sim.kernel.shapes import shapes
from fieldsim.sim.kernel.sweep import TOUCH, certificate, clearance, first_touch, swept

SEEDS = st.integers(0, 2**32 - 1)


def scene_of(seed: int, lined_up: bool = False) -> Scene:
    return (lined_up_scene if lined_up else random_scene)(np.random.default_rng(seed), f"seed {seed}")


def assert_agrees(scene: Scene) -> None:
    """Within 1e-6 mm (1e-5 in degenerate cases), and the same verdict unless the gap is within 1e-5 mm of touching."""
    low, high = certified_clearance(*scene.args)
    seen = clearance(*scene.args)
    allowed = 1e-5 if scene.degenerate else 1e-6
    if seen == 0.0:
        # A gap of up to TOUCH counts as touching.
        assert low <= TOUCH + 1e-5, scene
    else:
        assert low - allowed <= seen <= high + allowed, (scene, low, seen, high)
        assert high > 0.0, scene


@pytest.mark.parametrize("scene", BESTIARY, ids=lambda scene: scene.name)
def test_named_scenes(scene: Scene) -> None:
    assert_agrees(scene)
    if scene.exact is not None:
        seen = clearance(*scene.args)
        assert seen == pytest.approx(scene.exact, abs=2e-5 if scene.degenerate else 1e-6)


@pytest.mark.parametrize("count", [150, pytest.param(2000, marks=pytest.mark.slow)])
@pytest.mark.parametrize("kind", [random_scene, lined_up_scene])
def test_thousands_of_random_scenes(kind, count: int) -> None:  # type: ignore[no-untyped-def]
    for scene in random_scenes(count, 20261125, kind):
        assert_agrees(scene)


@pytest.mark.parametrize("kind", [random_scene, lined_up_scene])
def test_a_certificate_never_promises_too_much(kind) -> None:  # type: ignore[no-untyped-def]
    """From any pair of features the bound is at most the distance, and it is the distance where it says so."""
    proved = 0
    for scene in random_scenes(200, 7, kind):
        if abs(scene.t) > 2.0:
            continue
        A, O = shapes([scene.polygon]).corner, shapes([scene.core]).corner
        x, y, h = scene.pose
        start = (x, y, cos(h), sin(h))
        exact = swept(A, O, start, scene.s, scene.t)[0]
        for features in range(1, 7):
            if features == 1 and len(O) < 2:
                continue
            for i in range(len(A)):
                for j in range(len(O)):
                    bound, sure = certificate(A, O, start, scene.s, scene.t, features, i, j)
                    assert bound <= exact + 1e-7, (scene, features, i, j)
                    if sure:
                        proved += 1
                        assert bound == pytest.approx(exact, abs=1e-6), (scene, features, i, j)
    assert proved > 100


@given(SEEDS, st.booleans(), st.floats(0, 1))
@settings(max_examples=examples(300))
def test_never_larger_than_at_any_moment(seed: int, lined_up: bool, u: float) -> None:
    scene = scene_of(seed, lined_up)
    at = poses(scene.pose, scene.s, scene.t, np.array([u]))
    body = shapely.convex_hull(shapely.MultiPoint(placed(scene.polygon, at)[0]))
    standing = max(0.0, body.distance(geometry(scene.core)) - scene.radius)
    assert clearance(*scene.args) <= standing + 1e-6


@given(SEEDS, st.booleans(), st.floats(-3, 3), st.floats(-500, 500), st.floats(-500, 500))
@settings(max_examples=examples(200))
def test_moving_everything_together_changes_nothing(
    seed: int, lined_up: bool, turn: float, dx: float, dy: float
) -> None:
    scene = scene_of(seed, lined_up)
    c, s = cos(turn), sin(turn)
    x, y, h = scene.pose
    core = [(c * px - s * py + dx, s * px + c * py + dy) for px, py in scene.core]
    pose = (c * x - s * y + dx, s * x + c * y + dy, h + turn)
    before = clearance(*scene.args)
    after = clearance(scene.polygon, pose, scene.s, scene.t, core, scene.radius)
    assert after == pytest.approx(before, abs=2.1 * TOUCH)


@given(SEEDS, st.booleans())
@settings(max_examples=examples(200))
def test_driving_back_changes_nothing(seed: int, lined_up: bool) -> None:
    scene = scene_of(seed, lined_up)
    x, y, h = (float(v) for v in poses(scene.pose, scene.s, scene.t, np.array([1.0]))[0])
    back = clearance(scene.polygon, (x, y, h), -scene.s, -scene.t, scene.core, scene.radius)
    assert back == pytest.approx(clearance(*scene.args), abs=2.1 * TOUCH)


@given(SEEDS, st.booleans(), st.floats(0.05, 0.95))
@settings(max_examples=examples(200))
def test_two_parts_are_as_near_as_the_whole(seed: int, lined_up: bool, u: float) -> None:
    scene = scene_of(seed, lined_up)
    x, y, h = (float(v) for v in poses(scene.pose, scene.s, scene.t, np.array([u]))[0])
    s, t = scene.s, scene.t
    first = clearance(scene.polygon, scene.pose, u * s, u * t, scene.core, scene.radius)
    second = clearance(scene.polygon, (x, y, h), (1 - u) * s, (1 - u) * t, scene.core, scene.radius)
    assert min(first, second) == pytest.approx(clearance(*scene.args), abs=2.1 * TOUCH)


@given(SEEDS, st.floats(0, 100))
@settings(max_examples=examples(100))
def test_a_larger_obstacle_is_never_farther(seed: int, more: float) -> None:
    scene = scene_of(seed)
    grown = clearance(scene.polygon, scene.pose, scene.s, scene.t, scene.core, scene.radius + more)
    assert grown <= clearance(*scene.args) + 1e-9


def test_first_touch_is_the_first() -> None:
    """Against the bracket that certified branch and bound gives."""
    found = 0
    for scene in random_scenes(400, 99):
        if abs(scene.t) > 2.0 or clearance(*scene.args) > 0.0:
            continue
        bracket = certified_touch(*scene.args)
        if bracket is None:
            continue
        x, y, h = scene.pose
        A, O = shapes([scene.polygon]).corner, shapes([scene.core]).corner
        u = first_touch(A, O, scene.radius, (x, y, cos(h), sin(h)), scene.s, scene.t)
        far = hypot(scene.s, 300 * scene.t) + 1e-9
        # To 0.05 mm of driving: a shallow graze comes within touching distance over some length.
        assert bracket[0] - 0.05 / far <= u <= bracket[1] + 0.05 / far, (scene, bracket, u)
        found += 1
    assert found > 60


# --- closed forms --------------------------------------------------------------------------------------------------


def test_separation_of_two_rectangles_at_rest() -> None:
    """0.2 x 0.15 at the origin and the same turned 45 degrees at (0.3, 0): 0.3 - 0.1 - (0.1 + 0.075)/sqrt 2.

    Plane trigonometry, recomputed.
    """
    half = np.array([(-100, -75), (100, -75), (100, 75), (-100, 75)], dtype=float)
    turned = half @ np.array([(cos(pi / 4), sin(pi / 4)), (-sin(pi / 4), cos(pi / 4))]) + (300, 0)
    assert clearance(CENTRED, (0, 0, 0), 0, 0, turned) == pytest.approx(76.2563133, abs=1e-6)


def test_reach_of_a_turning_rectangle() -> None:
    """Axle to front 140, to rear 60, half width 75: the front corner sweeps 158.8238017 (plane trigonometry)."""
    post = [(300.0, 40.0)]
    seen = clearance(ROBOT, (0, 0, 0), 0, 2 * pi, post)
    assert seen == pytest.approx(hypot(300, 40) - 158.8238017, abs=1e-6)


def test_body_driving_an_arc() -> None:
    """Radius 300, width 150, overhang 140: inner 225, outer hypot(375, 140) = 400.2811512 (plane trigonometry)."""
    inner = clearance(ROBOT, (0, 0, 0), 300 * 2.5, 2.5, [(0.0, 300.0)])
    assert inner == pytest.approx(225.0, abs=1e-6)
    far = [(600 * sin(1.5), 300 - 600 * cos(1.5))]
    assert clearance(ROBOT, (0, 0, 0), 300 * 2.5, 2.5, far) == pytest.approx(600 - 400.2811512, abs=1e-6)


@pytest.mark.parametrize(
    ("turn", "area"),
    [(10.0, 0.0327201332), (30.0, 0.0379890495), (60.0, 0.0446827276), (90.0, 0.0484031023), (110.0, 0.0490873852)],
)
def test_swept_area_of_a_turning_rectangle(turn: float, area: float) -> None:
    """0.20 x 0.15 m about its centre: A = ab + ((a^2 + b^2)/2)(phi - tan(phi/2)) up to 73.74 degrees, saturating after.

    Derived and recomputed; no printed source was found. The area is measured by asking the sweep, along each direction
    from the centre, how far out the covered ground goes: a distant post's clearance tells.
    """
    a, b, phi = 0.2, 0.15, np.radians(turn)
    if turn <= 73:
        assert a * b + (a * a + b * b) / 2 * (phi - tan(phi / 2)) == pytest.approx(area, abs=1e-9)
    reach = []
    for angle in np.linspace(0, 2 * pi, 121)[:-1]:
        # Bisect for the point on this ray that the sweep just touches.
        low, high = 60.0, 130.0
        while high - low > 1e-3:
            middle = (low + high) / 2
            post = [(middle * cos(angle), middle * sin(angle))]
            low, high = (middle, high) if clearance(CENTRED, (0, 0, 0), 0, phi, post) == 0 else (low, middle)
        reach.append(low / 1000)
    measured = float(np.mean(np.square(reach)) * pi)
    assert measured == pytest.approx(area, rel=4e-3)


def test_bad_values_are_refused() -> None:
    for pose, s, radius in (((inf, 0, 0), 0.0, 0.0), ((0, 0, 0), float("nan"), 0.0), ((0, 0, 0), 0.0, -1.0)):
        with pytest.raises(ValueError, match="must be finite"):
            clearance(ROBOT, pose, s, 0.0, [(500.0, 0.0)], radius)
