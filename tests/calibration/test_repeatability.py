"""Pose accuracy and repeatability: numbers worked by hand, a large sample, what moving all points must not change.

Source of the formulas: ISO 9283:1998, Manipulating industrial robots - Performance criteria and related test methods,
clause 7.2 (from memory). The data of I1 and I2 are invented; their answers were computed apart from this code.
"""

from __future__ import annotations

from math import cos, exp, hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldsim.calibration.repeatability import repeatability

POINTS = [
    (100.4, 50.9), (99.6, 50.2), (100.9, 49.8), (100.1, 50.5), (99.9, 50.1), (100.7, 50.7), (100.2, 50.4),
    (99.8, 49.9), (100.5, 50.6), (100.3, 50.3),
]  # fmt: skip
SENT = (100.0, 50.0)
ANGLES = [89.2, 90.4, 90.1, 89.7, 90.9, 89.5, 90.3, 90.0, 89.8, 90.6]


def test_i1_position() -> None:
    found = repeatability(POINTS, SENT)
    assert found.count == 10
    assert found.mean == pytest.approx((100.24, 50.34), abs=1e-9)
    assert found.accuracy == pytest.approx(0.4161730409, abs=1e-9)
    assert found.mean_distance == pytest.approx(0.4437373366, abs=1e-9)
    assert found.sd_distance == pytest.approx(0.2622491947, abs=1e-9)
    assert found.repeatability == pytest.approx(1.2304849207, abs=1e-9)
    assert (found.angle_accuracy, found.angle_repeatability) == (None, None)


def test_i2_orientation() -> None:
    found = repeatability(POINTS, SENT, ANGLES, 90.0)
    assert found.angle_accuracy == pytest.approx(0.05, abs=1e-9)
    assert found.angle_repeatability == pytest.approx(1.5572411502, abs=1e-9)
    assert found.repeatability == repeatability(POINTS, SENT).repeatability


def test_i2_across_the_half_turn() -> None:
    """The same headings told from 180, where they go over from 180 to -180."""
    turned = [angle + 90 if angle + 90 <= 180 else angle - 270 for angle in ANGLES]
    assert min(turned) < 0 < max(turned)
    for commanded in (180.0, -180.0, 540.0):
        found = repeatability(POINTS, SENT, turned, commanded)
        assert found.angle_accuracy == pytest.approx(0.05, abs=1e-9)
        assert found.angle_repeatability == pytest.approx(1.5572411502, abs=1e-9)


def test_i3_a_large_sample_of_round_scatter() -> None:
    """Of normal errors s each way, distances have a Rayleigh distribution (any statistics text): mean sqrt(pi/2) s,
    standard deviation sqrt(2 - pi/2) s, RP = 3.2187 s, inside it 1 - exp(-RP^2/2 s^2) = 0.99437. Four standard errors
    of 200,000 arrivals; the distance's is 4 S/sqrt(N), and of S with the Rayleigh's kurtosis 3.245 (scipy)."""
    from scipy.stats import rayleigh

    n, s = 200_000, 2.5
    points = np.random.default_rng(11).normal(SENT, s, (n, 2))
    found = repeatability(points, SENT)
    mean, sd = sqrt(pi / 2), sqrt(2 - pi / 2)
    assert (mean, sd) == pytest.approx((1.2533141373, 0.6551363776), abs=1e-9)
    assert mean + 3 * sd == pytest.approx(3.2187232700, abs=1e-9)
    of_mean = 4 * sd / sqrt(n)
    of_sd = 4 * sd * sqrt((2 + float(rayleigh.stats(moments="k"))) / (4 * n))
    assert found.mean_distance / s == pytest.approx(mean, abs=of_mean)
    assert found.sd_distance / s == pytest.approx(sd, abs=of_sd)
    assert found.repeatability / s == pytest.approx(3.2187232700, abs=of_mean + 3 * of_sd)
    inside = 1 - exp(-(3.2187232700**2) / 2)
    assert inside == pytest.approx(0.9943724986, abs=1e-9)
    share = float((np.hypot(*(points - found.mean).T) <= found.repeatability).mean())
    # The circle's radius is a draw too: the density at RP is 3.2187 exp(-RP^2/2) for each s.
    radius = 3.2187232700 * (1 - inside) * (of_mean + 3 * of_sd)
    assert share == pytest.approx(inside, abs=4 * sqrt(inside * (1 - inside) / n) + radius)


def test_two_arrivals_by_hand() -> None:
    """Two points 6 and 8 apart: 10 in all, so each is 5 from the middle, with no scatter of that distance."""
    found = repeatability([(0.0, 0.0), (6.0, 8.0)], (0.0, 0.0), [10.0, 14.0], 10.0)
    assert (found.accuracy, found.mean_distance, found.sd_distance) == pytest.approx((5.0, 5.0, 0.0))
    assert found.repeatability == pytest.approx(5.0)
    # Headings 10 and 14: mean 2 too far; n - 1 = 1, so the variance is 2^2 + 2^2 = 8.
    assert found.angle_accuracy == pytest.approx(2.0)
    assert found.angle_repeatability == pytest.approx(3 * sqrt(8))


mm = st.floats(-500.0, 500.0)
angle = st.floats(-720.0, 720.0)


@given(st.lists(st.tuples(mm, mm), min_size=2, max_size=12), st.tuples(mm, mm), st.tuples(mm, mm), angle)
def test_moving_and_turning_everything_changes_nothing(
    points: list[tuple[float, float]], sent: tuple[float, float], shift: tuple[float, float], turned: float
) -> None:
    c, s = cos(radians(turned)), sin(radians(turned))

    def moved(x: float, y: float) -> tuple[float, float]:
        return c * x - s * y + shift[0], s * x + c * y + shift[1]

    found = repeatability(points, sent)
    after = repeatability([moved(*point) for point in points], moved(*sent))
    assert after.repeatability == pytest.approx(found.repeatability, abs=1e-8)
    assert after.accuracy == pytest.approx(found.accuracy, abs=1e-8)
    # The points alone: repeatability knows nothing of where it was sent, accuracy grows by no more than the shift.
    alone = repeatability([(x + shift[0], y + shift[1]) for x, y in points], sent)
    assert alone.repeatability == pytest.approx(found.repeatability, abs=1e-8)
    assert abs(alone.accuracy - found.accuracy) <= hypot(*shift) + 1e-8


@given(
    st.lists(st.floats(-20.0, 20.0), min_size=2, max_size=12), st.floats(-180.0, 180.0), st.integers(-2, 2),
)  # fmt: skip
def test_headings_may_be_told_from_anywhere(off: list[float], commanded: float, rounds: int) -> None:
    points = [(0.0, 0.0)] * len(off)
    found = repeatability(points, SENT, [commanded + a + 360 * rounds for a in off], commanded)
    assert found.angle_accuracy == pytest.approx(np.mean(off), abs=1e-9)
    assert found.angle_repeatability == pytest.approx(3 * np.std(off, ddof=1), abs=1e-9)


@pytest.mark.parametrize(
    ("points", "sent", "angles", "commanded", "words"),
    [
        ([(1.0, 2.0)], SENT, None, None, "at least 2 points, found 1"),
        (np.zeros((0, 2)), SENT, None, None, "at least 2 points, found 0"),
        ([1.0, 2.0], SENT, None, None, r"rows of x and y, shape \(N, 2\), found shape \(2,\)"),
        ([(1.0, 2.0, 3.0)] * 3, SENT, None, None, r"found shape \(3, 3\)"),
        ([(1.0, 2.0), (1.0,)], SENT, None, None, "points must be numbers, in rows of the same length"),
        ([("a", "b")] * 2, SENT, None, None, "points must be numbers"),
        ([(1.0, float("nan"))] * 2, SENT, None, None, "points must all be finite"),
        (POINTS, (1.0, 2.0, 3.0), None, None, r"one x and one y, shape \(2,\), found shape \(3,\)"),
        (POINTS, (1.0, float("inf")), None, None, "commanded must all be finite"),
        (POINTS, SENT, ANGLES, None, "belong together"),
        (POINTS, SENT, None, 90.0, "belong together"),
        (POINTS, SENT, ANGLES[:9], 90.0, "one for each of the 10 points"),
        (POINTS, SENT, ANGLES, [90.0, 91.0], "commanded_angle must be one number"),
    ],
)
def test_what_makes_no_sense_is_refused_in_plain_words(
    points: object, sent: object, angles: object, commanded: object, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        repeatability(points, sent, angles, commanded)  # type: ignore[arg-type]
