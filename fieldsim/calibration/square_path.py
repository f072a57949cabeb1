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

**Slips of the pen.** By the formulas the clockwise centre of gravity lies on y = x and the counter-clockwise one on
y = -x, whatever alpha and beta are. Driven backwards in time the path is the same path with its two axes exchanged, so
what scatters along x scatters as much along y, and the scatters along and across that diagonal are independent of each
other. So with the counter-clockwise returns mirrored, u = (x + y)/sqrt 2 has a mean for each way round, v = (x - y)/
sqrt 2 has the mean nought, and a sign written wrongly exchanges u and v. See ``contradictions``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import degrees, hypot, inf, isfinite, lgamma, log, sin, sqrt
from statistics import fmean, variance
from typing import Literal

from fieldsim.model.measured import SquarePathTest

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


# --- slips of the pen ----------------------------------------------------------------------------------------------

Slip = Literal["sign of x", "sign of y", "both signs", "x and y swapped"]

_MENDED: dict[Slip, Callable[[float, float], tuple[float, float]]] = {
    "sign of x": lambda x, y: (-x, y),
    "sign of y": lambda x, y: (x, -y),
    "both signs": lambda x, y: (-x, -y),
    "x and y swapped": lambda x, y: (y, x),
}

# So much better must a sheet fit with a slip undone than as it is, as a difference of log likelihoods: one sheet in
# four hundred has that slip, of whatever rows. Chosen so that sheets without a slip are hardly ever doubted: measured
# in the tests.
RARE = log(400.0)
# Slips that explain the same rows nearly as well are all named.
NEARLY = 1.5
# With fewer there is nothing to contradict; more than so many of one side length are not looked at.
LEAST_TESTS, MOST_TESTS = 4, 200


@dataclass(frozen=True)
class Contradiction:
    """Square paths that fit the others of the sheet much better with a slip of the pen undone."""

    lines: tuple[int, ...]
    slips: tuple[Slip, ...]
    """What may have been written wrongly in them: one of these, the likeliest first."""
    tests: int
    """How many square paths they were held against, they themselves among them."""


def contradictions(tests: Sequence[SquarePathTest]) -> tuple[Contradiction, ...]:
    """Square paths whose returns contradict the others of the sheet, where a sign changed or x and y swapped would
    reconcile them: at most one contradiction for each side length and each way of knowing the heading.

    Every set of rows is weighed: the likelihood of u and v (see the top) as normal with unknown spreads, of which
    nothing is known before, against the rarity of such a slip.
    """
    found = []
    for side, by in sorted({(test.side, test.heading_from) for test in tests}):
        mine = [test for test in tests if (test.side, test.heading_from) == (side, by)]
        if LEAST_TESTS <= len(mine) <= MOST_TESTS and (one := _contradiction(mine)) is not None:
            found.append(one)
    return tuple(found)


def _contradiction(tests: Sequence[SquarePathTest]) -> Contradiction | None:
    climbs = [(sums, sums.climbed(start)) for sums in map(_Sums, [tests] * 4, _MENDED) for start in sums.starts()]
    sums, (rows, best) = max(climbs, key=lambda climb: climb[1][1])
    if best <= sums.score([False] * len(tests)) + 1e-6:
        return None
    rows = sums.fewest(rows)
    # The same rows with another slip: not every climb comes by them.
    fits = {slip: _Sums(tests, slip).score(rows) for slip in _MENDED}
    top = max(fits.values())
    slips = sorted((slip for slip in fits if fits[slip] > top - NEARLY), key=lambda slip: -fits[slip])
    lines = tuple(test.line for test, slipped in zip(tests, rows, strict=True) if slipped)
    return Contradiction(lines, tuple(slips), len(tests))


class _Sums:
    """u and v of each test as written and with a slip undone, and how well a choice between the two fits."""

    def __init__(self, tests: Sequence[SquarePathTest], slip: Slip) -> None:
        self.ways = [test.direction for test in tests]
        self.floor = sum(test.tape**2 for test in tests) / 12
        mend = _MENDED[slip]
        self.pairs = []
        for test in tests:
            returned = (test.return_x, test.return_y)
            self.pairs.append((_along_across(returned, test.direction), _along_across(mend(*returned), test.direction)))

    def starts(self) -> list[list[bool]]:
        """Choices to begin with: all, one way round, whatever brings v nearer to nought, one sign of u."""
        made = [[True] * len(self.pairs), [abs(two[1]) < abs(one[1]) for one, two in self.pairs]]
        for way in sorted(set(self.ways)):
            here = [each == way for each in self.ways]
            made.append(here)
            made += [
                [at and sign * one[0] > 0 for at, (one, _) in zip(here, self.pairs, strict=True)] for sign in (1, -1)
            ]
        return made

    def score(self, rows: Sequence[bool]) -> float:
        return self._of(self._start(rows), sum(rows))

    def climbed(self, rows: list[bool]) -> tuple[list[bool], float]:
        """The best choice that is reached by changing one row after another."""
        rows = list(rows)
        state, count = self._start(rows), sum(rows)
        score = self._of(state, count)
        while True:
            tried = []
            for i, slipped in enumerate(rows):
                tried.append((self._of(self._changed(state, i, slipped), count + (-1 if slipped else 1)), i))
            best, i = max(tried)
            if best <= score + 1e-9:
                return rows, score
            state, count = self._changed(state, i, rows[i]), count + (-1 if rows[i] else 1)
            rows[i] = not rows[i]
            score = best

    def fewest(self, rows: Sequence[bool]) -> list[bool]:
        """The same choice in fewer rows, if others fit as well: all of one way round may have the other sign of u, and
        some slips change nothing that matters."""
        rows = list(rows)
        for way in set(self.ways):
            here = [i for i, each in enumerate(self.ways) if each == way]
            for changed in (here, *([i] for i in here)):
                other = [not slipped if i in changed else slipped for i, slipped in enumerate(rows)]
                alike = abs(self._of(self._start(other), 0) - self._of(self._start(rows), 0)) < 1e-6
                if alike and sum(other) < sum(rows):
                    rows = other
        return rows

    def _start(self, rows: Sequence[bool]) -> tuple[float, dict[str, tuple[int, float, float]]]:
        """The sum of v^2, and for each way round how many, the sum of u and of u^2."""
        across = 0.0
        ways: dict[str, tuple[int, float, float]] = {}
        for way, pair, slipped in zip(self.ways, self.pairs, rows, strict=True):
            u, v = pair[slipped]
            n, one, two = ways.get(way, (0, 0.0, 0.0))
            ways[way] = (n + 1, one + u, two + u * u)
            across += v * v
        return across, ways

    def _changed(
        self, state: tuple[float, dict[str, tuple[int, float, float]]], i: int, slipped: bool
    ) -> tuple[float, dict[str, tuple[int, float, float]]]:
        across, ways = state
        (u, v), (new_u, new_v) = self.pairs[i][slipped], self.pairs[i][not slipped]
        n, one, two = ways[self.ways[i]]
        changed = (n, one - u + new_u, two - u * u + new_u * new_u)
        return across - v * v + new_v * new_v, {**ways, self.ways[i]: changed}

    def _of(self, state: tuple[float, dict[str, tuple[int, float, float]]], slipped: int) -> float:
        across, ways = state
        n = len(self.pairs)
        along = sum(max(0.0, two - one * one / count) for count, one, two in ways.values())
        # What the tape's steps add keeps returns that happen to be alike from counting as certain.
        fit = -n / 2 * log(max(across, 0.0) + self.floor) - (n - len(ways)) / 2 * log(along + self.floor)
        if not slipped:
            return fit
        return fit - RARE - (lgamma(n + 1) - lgamma(slipped + 1) - lgamma(n - slipped + 1))


def _along_across(returned: tuple[float, float], direction: str) -> tuple[float, float]:
    x, y = returned
    y = -y if direction == "ccw" else y
    return (x + y) / sqrt(2), (x - y) / sqrt(2)
