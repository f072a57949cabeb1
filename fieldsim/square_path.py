"""The square path driven both ways round: the classic published formulas, which can be checked by hand.

The robot drives a square of side L by its wheels, some times clockwise and some times counter-clockwise, and each time
it is measured where it ends as seen from where it began. It takes itself to be back at its start, so that reading is
the *return error*: true minus computed position. In the start's frame, x forward and y left, the first side goes along
+x; seen from above the counter-clockwise square lies left of it, the clockwise one right. Two errors are told apart:

    alpha  each quarter turn is too small by so much (too large if negative): each way ends at x = -2 L alpha,
           counter-clockwise at y = +2 L alpha, clockwise at y = -2 L alpha
    beta   each side bends left by so much (right if negative): each way ends at y = -2 L beta,
           counter-clockwise at x = +2 L beta, clockwise at x = -2 L beta

So one way round they cancel or add up, and both ways together tell them. With the means (centres of gravity) of the
return errors,

    alpha = -(x_cw + x_ccw)/(4 L) = -(y_cw - y_ccw)/(4 L)
    beta  = -(x_cw - x_ccw)/(4 L) = -(y_cw + y_ccw)/(4 L)          radians

    R = (L/2)/sin(beta/2)                                          radius a side bends with, left positive
    E_d = D_R/D_L = (R + b/2)/(R - b/2)                            right wheel's diameter over the left's, b the track
    E_b = 90/(90 - alpha)                                          true track over the one in use; alpha in degrees
    c_L = 2/(E_d + 1), c_R = 2/(1/E_d + 1)                         wheel over the mean of both

The *figure of merit* is how far the worse of the two centres of gravity lies from the start. Source: J. Borenstein and
L. Feng, "Measurement and correction of systematic odometry errors in mobile robots", IEEE Transactions on Robotics and
Automation 12(6), 1996, 869-880; J. Borenstein, H. R. Everett and L. Feng, Where am I?, University of Michigan, 1996,
eqs 5.1-5.15 (formulas and equation numbers second-hand; their signs are checked by driving the path).

**In fieldsim's words** (see ``drivetrain``) a turn on the spot is larger by the share turn = 1/E_b - 1 = -alpha/90, and
a straight veers by beta over L, here in degrees per metre.

**Where it stops.** The formulas are linear in alpha and beta, the path is not, so even without noise they meet the
truth only nearly: x misses it to one side and y to the other, and the mean of both is the better answer. How long the
sides came out is not told: the square closes whatever its size. A robot that steers by a gyro has other errors, so such
tests are left out. ``fit`` takes all kinds of tests together and gives intervals; these formulas are for checking by
hand, and for before and after.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, hypot, inf, isfinite, sin, sqrt
from statistics import fmean, variance
from typing import Literal

from fieldsim.measured import SquarePathTest

# Once more is worth it if the figure of merit is more than so many standard errors of the mean. Source: as above, 1996
# (second-hand). By luck alone, with normal errors of known spread, a centre of gravity lies farther off in exp(-9/2) or
# 11 of 1000; with the spread taken from five tests, in 49 (F distribution of 2 and 8).
TIMES = 3.0

# A square must have a side of at least this many tracks. With returns no larger than the side (as they must be), the
# sides then never bend about a point between the wheels, where E_d means nothing.
LEAST_SIDE = 0.25


@dataclass(frozen=True)
class OneWay:
    """All square paths driven one way round. Millimetres, x forward and y left as seen from the start."""

    direction: Literal["cw", "ccw"]
    count: int
    x: float
    y: float
    """Centre of gravity of the return errors."""
    distance: float
    """Of the centre of gravity from the start."""
    sd: float | None
    """Standard deviation of one return along an axis, sqrt((s_x^2 + s_y^2)/2), each with n - 1; None for one test."""
    sem: float | None
    """Standard error of the mean: sd/sqrt(n)."""


@dataclass(frozen=True)
class SquarePathErrors:
    """What alpha and beta come to, each number both as published and in fieldsim's words."""

    alpha: float
    """Degrees by which each quarter turn is too small."""
    beta: float
    """Degrees by which each side bends left."""
    radius: float
    """R, mm; infinite if the sides are straight, negative if they bend right."""
    wheel_ratio: float
    """E_d: right wheel's diameter over the left's."""
    track_ratio: float
    """E_b: true track over the one in use."""
    track: float
    """The corrected track, mm: with it turns come out right."""
    left: float
    right: float
    """c_L and c_R: each wheel's diameter over the mean of both; their sum is 2."""
    turn: float
    """A turn on the spot is larger by this share."""
    veer: float
    """Degrees per metre of a straight, left positive."""


@dataclass(frozen=True)
class SquarePathAnswer:
    """Square paths of one side length, driven both ways round."""

    side: float
    cw: OneWay
    ccw: OneWay
    merit: float
    """The figure of merit, mm: the larger of both distances."""
    again: bool | None
    """Would correcting by these errors be worth it: is the figure of merit more than three standard errors of its own
    centre of gravity? None if that was driven only once. After a correction it says whether a second is worth it."""
    from_x: SquarePathErrors
    from_y: SquarePathErrors
    mean: SquarePathErrors
    """From the means of both alphas and of both betas."""


def square_path(tests: Sequence[SquarePathTest], track: float) -> tuple[SquarePathAnswer, ...]:
    """What square paths tell, one answer for each side length that was driven both ways round, the shortest first.

    ``track`` is the one the robot's program had in use, mm. Nothing is returned if no side was driven both ways; tests
    by gyro and squares with a side under a quarter of the track are left out. Raises ValueError if the track is not a
    length.
    """
    if not (isfinite(track) and track > 0):
        raise ValueError(f"track={track} must be a length in mm, above 0")
    driven = [test for test in tests if test.heading_from == "wheels" and test.side >= LEAST_SIDE * track]
    answers = []
    for side in sorted({test.side for test in driven}):
        mine = [test for test in driven if test.side == side]
        if {test.direction for test in mine} == {"cw", "ccw"}:
            answers.append(_answer(side, _one_way("cw", mine), _one_way("ccw", mine), track))
    return tuple(answers)


def _one_way(direction: Literal["cw", "ccw"], tests: Sequence[SquarePathTest]) -> OneWay:
    returns = [(test.return_x, test.return_y) for test in tests if test.direction == direction]
    n = len(returns)
    xs, ys = zip(*returns, strict=True)
    x, y = fmean(xs), fmean(ys)
    # The source has one sigma for two coordinates; of what, was not found. Here it is that of one axis.
    sd = sqrt((variance(xs) + variance(ys)) / 2) if n > 1 else None
    return OneWay(direction, n, x, y, hypot(x, y), sd, None if sd is None else sd / sqrt(n))


def _answer(side: float, cw: OneWay, ccw: OneWay, track: float) -> SquarePathAnswer:
    alpha_x, beta_x = -(cw.x + ccw.x) / (4 * side), -(cw.x - ccw.x) / (4 * side)
    alpha_y, beta_y = -(cw.y - ccw.y) / (4 * side), -(cw.y + ccw.y) / (4 * side)
    worse = max(cw, ccw, key=lambda way: way.distance)
    return SquarePathAnswer(
        side=side,
        cw=cw,
        ccw=ccw,
        merit=worse.distance,
        again=None if worse.sem is None else worse.distance > TIMES * worse.sem,
        from_x=_errors(alpha_x, beta_x, side, track),
        from_y=_errors(alpha_y, beta_y, side, track),
        mean=_errors((alpha_x + alpha_y) / 2, (beta_x + beta_y) / 2, side, track),
    )


def _errors(alpha: float, beta: float, side: float, track: float) -> SquarePathErrors:
    """From alpha and beta in radians."""
    bend = sin(beta / 2)
    # (R + b/2)/(R - b/2) with R written out, so that a straight side needs no infinite radius. The published formula
    # takes the track in use for b and not the corrected one; E_d is near 1, so that is of second order.
    ratio = (side + track * bend) / (side - track * bend)
    track_ratio = 90 / (90 - degrees(alpha))
    return SquarePathErrors(
        alpha=degrees(alpha),
        beta=degrees(beta),
        radius=side / 2 / bend if bend else inf,
        wheel_ratio=ratio,
        track_ratio=track_ratio,
        track=track_ratio * track,
        left=2 / (ratio + 1),
        right=2 / (1 / ratio + 1),
        # 1/E_b - 1, without taking 1 from a number near 1.
        turn=-degrees(alpha) / 90,
        veer=degrees(beta) / (side / 1000),
    )
