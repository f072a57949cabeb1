"""How well a robot comes to the same place again: pose accuracy and pose repeatability as a standard has them.

The robot is sent to one place N times, always from the same side. *Accuracy* is how far the mean of where it came lies
from where it was sent, *repeatability* how far single arrivals lie from that mean. A robot can be bad at one and good
at the other: the first can be corrected in the program, the second cannot. With the attained points p_j and their mean
m,

    AP = |m - commanded|
    l_j = |p_j - m|,  mean l,  S = sqrt(sum (l_j - mean l)^2/(N - 1))
    RP = mean l + 3 S                  radius of a circle about m

and of the headings AP = mean - commanded, RP = 3 sd with N - 1, to be read as +- RP. S is the standard deviation of the
distances and not of x or y: for normal errors of the same spread s each way RP comes to 3.219 s, and 994 of 1000
arrivals lie inside it. Source: ISO 9283:1998, Manipulating industrial robots - Performance criteria and related test
methods, clause 7.2, with 30 cycles for each pose (formulas and clause number from memory, the cycles second-hand).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.sim.motion import wrapped


@dataclass(frozen=True)
class Repeatability:
    """Pose accuracy and repeatability of N arrivals. Millimetres and degrees."""

    count: int
    mean: tuple[float, float]
    """The mean of the attained points."""
    accuracy: float
    """AP: distance of the mean from the commanded point."""
    mean_distance: float
    """Mean l: of the points from their mean."""
    sd_distance: float
    """S: standard deviation of those distances."""
    repeatability: float
    """RP: mean l + 3 S."""
    angle_accuracy: float | None = None
    """Mean heading less the commanded one, degrees, left positive; None if no headings were given."""
    angle_repeatability: float | None = None
    """Three standard deviations of the headings, degrees: to be read as plus or minus."""


def repeatability(
    points: ArrayLike,
    commanded: ArrayLike,
    angles: ArrayLike | None = None,
    commanded_angle: float | None = None,
) -> Repeatability:
    """Pose accuracy and repeatability of attained ``points`` (N, 2), mm, sent to ``commanded`` (2,).

    ``angles`` (N,) are the headings attained and ``commanded_angle`` the one asked for, degrees, left positive; both or
    neither. A heading counts by the shorter way from the commanded one, so 359 is one degree short of 0.

    Raises ValueError if there are fewer than two points, if a shape is another, if a number is not finite, or if only
    one of ``angles`` and ``commanded_angle`` is given.
    """
    at = _numbers("points", points)
    wanted = _numbers("commanded", commanded)
    if at.ndim != 2 or at.shape[1] != 2:
        raise ValueError(f"points must be rows of x and y, shape (N, 2), found shape {at.shape}")
    if wanted.shape != (2,):
        raise ValueError(f"commanded must be one x and one y, shape (2,), found shape {wanted.shape}")
    n = len(at)
    if n < 2:
        raise ValueError(f"repeatability needs at least 2 points, found {n}")
    mean = at.mean(axis=0)
    distances = np.hypot(*(at - mean).T)
    mean_distance, sd_distance = float(distances.mean()), float(distances.std(ddof=1))
    accuracy = float(np.hypot(*(mean - wanted)))
    return Repeatability(
        n,
        (float(mean[0]), float(mean[1])),
        accuracy,
        mean_distance,
        sd_distance,
        mean_distance + 3 * sd_distance,
        *_of_headings(angles, commanded_angle, n),
    )


def _of_headings(angles: ArrayLike | None, commanded: float | None, n: int) -> tuple[float | None, float | None]:
    if angles is None and commanded is None:
        return None, None
    if angles is None or commanded is None:
        raise ValueError("angles and commanded_angle belong together: give both or neither")
    attained, wanted = _numbers("angles", angles), _numbers("commanded_angle", commanded)
    if attained.shape != (n,):
        raise ValueError(f"angles must be one for each of the {n} points, shape ({n},), found shape {attained.shape}")
    if wanted.ndim:
        raise ValueError(f"commanded_angle must be one number, found shape {wanted.shape}")
    off = np.array([wrapped(float(angle)) for angle in attained - wanted])
    return float(off.mean()), 3 * float(off.std(ddof=1))


def _numbers(name: str, values: ArrayLike) -> NDArray[np.float64]:
    try:
        numbers = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise ValueError(f"{name} must be numbers, in rows of the same length") from None
    if not np.isfinite(numbers).all():
        raise ValueError(f"{name} must all be finite numbers")
    return numbers
