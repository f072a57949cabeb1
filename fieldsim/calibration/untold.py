"""What tests cannot tell, in words."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.calibration.assembled import Assembled
from fieldsim.calibration.estimate import Estimate
from fieldsim.calibration.growing import EACH
from fieldsim.calibration.observed import BIASES, DrivenTest
from fieldsim.language import tr, tr_later
from fieldsim.model import MEASURABLE, Robot
from fieldsim.model.measured import SquarePathTest, StraightTest, TurnTest
from fieldsim.model.units import plain

FloatArray = NDArray[np.float64]

# Two sources whose information is this much the same (as a correlation) cannot be told apart.
ALIKE = 0.95


def missing(robot: Robot, tests: Sequence[DrivenTest], dates: int) -> Iterator[str]:
    wheels = [test for test in tests if test.heading_from == "wheels"]
    gyro = [test for test in tests if test.heading_from == "gyro"]
    by_gyro = robot.drive.heading_from == "gyro"
    mine = gyro if by_gyro else wheels
    apart = (wheels and gyro) or (tests and not mine)
    if not any(isinstance(test, StraightTest | SquarePathTest) for test in mine):
        if not apart:
            yield tr("no straight tests: nothing is known of straights")
        elif by_gyro:
            yield tr("no straight tests by gyro: nothing is known of straights by gyro")
        else:
            yield tr("no straight tests by its wheels: nothing is known of straights by its wheels")
    if not any(isinstance(test, TurnTest | SquarePathTest) for test in mine):
        if not apart:
            yield tr("no turn tests: nothing is known of turns")
        elif by_gyro:
            yield tr("no turn tests by gyro: nothing is known of turns by gyro")
        else:
            yield tr("no turn tests by its wheels: nothing is known of turns by its wheels")
    if tests and dates < 2:
        yield tr("tests of one day only: what differs from day to day is in none of these numbers")


_DIFFER = tr_later("make tests that differ more, in length, angle and speed")
_HOW = {
    frozenset({"straight.stop", "straight.distance"}): tr_later("drive straights of quite different lengths"),
    frozenset({"turn.stop", "turn.slip"}): tr_later("make turns of quite different angles"),
    frozenset({"gyro.drift", "gyro.scale"}): tr_later(
        "make turns at quite different turning speeds, and long slow straights"
    ),
    frozenset({"gyro.scale", "turn.stop"}): tr_later("make turns of quite different angles"),
    frozenset({"gyro.drift", "turn.stop"}): tr_later("make turns of quite different angles"),
    frozenset({"gyro.drift", "gyro.hold"}): tr_later("drive straights of quite different lengths"),
    frozenset({"bias.veer", "bias.turn"}): tr_later("drive the square path both ways round"),
}


def alike(model: Assembled, sds: FloatArray, there: dict[str, Estimate]) -> Iterator[tuple[str, str]]:
    """Pairs that the tests cannot tell apart: sources whose expected information is nearly the same, biases whose
    estimates are nearly one."""
    _, _, spread = model.reml.solve(sds)
    p = len(model.columns)
    alike = np.zeros((len(model.names),) * 2)
    alike[:p, :p] = np.abs(spread) / np.sqrt(np.outer(np.diag(spread), np.diag(spread)))
    if model.reml.names:
        # With a little of each, so that one at nought does not hide behind the others.
        some = np.maximum(sds, 0.1 * np.array(model.reml.scales))
        information = model.reml.information(some)
        size = np.sqrt(np.maximum(np.diag(information), 1e-300))
        alike[p:, p:] = information / np.outer(size, size)
    mixed = [f"bias.{BIASES[k]}" for k in model.mixed]
    for i, one in enumerate(mixed):
        for other in mixed[:i]:
            yield other, one
    for i, one in enumerate(model.names):
        for j in range(i):
            other = model.names[j]
            if alike[i, j] > ALIKE and one in there and other in there and (i < p or there[one].low == 0):
                yield other, one


def _listed(names: Sequence[str]) -> str:
    quoted = [f"'{name.replace('.', ': ')}'" for name in names]
    return tr(" and ").join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def kept(names: Container[str]) -> Iterator[str]:
    kept = [name for name in MEASURABLE if name in names]
    if kept:
        yield tr(
            "earlier tests are behind {names}, which these do not tell: that stays in the robot's file. To have all "
            "tests weighed together, put them into one sheet",
            names=_listed(kept),
        )


def unseen(estimates: Sequence[Estimate]) -> Iterator[str]:
    names = [each.name for each in estimates if each.taken is not None]
    if names:
        yield tr(
            "nothing was seen of {names}, which does not mean that there is none: a forecast takes a third of the "
            "upper end, and so does --write. More tests bring it down",
            names=_listed(names),
        )


def assumed(
    robot: Robot, tests: Sequence[DrivenTest], grows: Sequence[Estimate], estimates: Sequence[Estimate]
) -> Iterator[str]:
    """Where nothing says how stop errors grow with the speed: what to drive."""
    there = {each.name for each in estimates} - {each.name.replace(".grows", ".stop") for each in grows}
    known = robot.accuracy
    if "straight.stop" in there and known.straight.grows is None:
        slow = min((test.speed or robot.drive.speed for test in tests if isinstance(test, StraightTest)), default=0.0)
        if slow:
            yield tr(
                "that straights stop less exactly in proportion to their speed is assumed, and with it what slower "
                "straights are worth: drive {n} at {slow} mm/s too",
                n=EACH,
                slow=plain(round(slow / 2)),
            )
    if "turn.stop" in there and known.turn.grows is None:
        slow = min(
            (test.turn_speed or robot.drive.turn_speed for test in tests if isinstance(test, TurnTest)), default=0.0
        )
        if slow:
            yield tr(
                "that turns stop less exactly in proportion to their speed is assumed, and with it what slower turns "
                "are worth: make {n} at {slow} degrees per second too",
                n=EACH,
                slow=plain(round(slow / 2)),
            )


def cannot(one: str, other: str) -> str:
    how = _HOW.get(frozenset({one, other}), _DIFFER)
    return tr("{names} cannot be told apart by these tests: {how}", names=_listed((one, other)), how=tr(how))
