"""What of a robot's tests the fitted numbers do not say: its residuals, looked at from every side that a sheet has.

Each look adds one effect to the fitted model, such as 'straights backwards go a share farther than ahead', fits the
scatter anew and holds the effect against nought by Student's t (Satterthwaite's degrees of freedom, readings that
repeat each other counted as in `fit`). An effect is told where Holm's procedure over all looks refuses nought at 5 %
(S. Holm, Scandinavian Journal of Statistics 6, 1979, 65-70): of sheets of a robot that is as the model says, one in
twenty tells one by luck. A look is not made where too few tests stand on either side, or where the effect is one of the
numbers that `fit` itself tells or could tell.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from math import copysign, radians, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from fieldsim.calibration.assembled import EXTRAS, Assembled
from fieldsim.calibration.estimate import CONFIDENCE, Estimate, Misfit
from fieldsim.calibration.observed import BIASES, DrivenTest
from fieldsim.model import Robot
from fieldsim.model.measured import StraightTest, TurnTest
from fieldsim.stats.reml import Reml

FloatArray = NDArray[np.float64]

# How often any is told of a robot that has none.
LUCK = 0.05
# A look needs so many tests on either side of the middle of what it looks at.
EACH = 3
# Two columns are the same where of one no more than this share of its length lies beside the others.
SAME = 1e-3

Measure = Callable[[DrivenTest], float | None]


class Look(NamedTuple):
    """One effect: ``of`` which number, ``by`` what."""

    of: str
    by: str
    column: FloatArray
    """(n,) what it changes in each reading, for an effect of 1 in the model's units."""
    tests: int


def looks(robot: Robot, driven: Sequence[DrivenTest], model: Assembled, tellable: Sequence[str]) -> list[Look]:
    """All looks that these tests, in the sheet's order, allow."""
    slopes = np.concatenate([test.bias for test in model.tests])
    also = [BIASES.index(name) for extra in tellable for name in EXTRAS[extra]]
    known = [model.reml.x, slopes[:, [k for k in also if np.abs(slopes[:, k]).max() > 1e-6]]]
    made: list[Look] = []
    for kind, ofs in ((StraightTest, ("distance", "veer")), (TurnTest, ("turn",))):
        # Square paths mix straights and turns: what one look is of is judged by the tests of its kind alone.
        mine = np.repeat([isinstance(test, kind) for test in driven], [len(test.y) for test in model.tests])
        for by, measure in _measures(robot, driven, kind).items():
            values = [measure(test) if isinstance(test, kind) else None for test in driven]
            told = [value for value in values if value is not None]
            if len(told) < 2 * EACH or max(told) == min(told):
                continue
            middle, width = (max(told) + min(told)) / 2, max(told) - min(told)
            if min(sum(value < middle for value in told), sum(value > middle for value in told)) < EACH:
                continue
            if by == "before":
                # Play and kicks are there or not: after one that went as it goes there is none, and no number of the
                # model stands for the mean of the two.
                middle = 0.0
            weights = [0.0 if value is None else (value - middle) / width for value in values]
            for of in ofs:
                name = _KICKS[of] if by == "before" else of
                column = np.concatenate(
                    [weight * row for weight, row in zip(weights, _effects(driven, model, name), strict=True)]
                )
                if _new(column, known, mine):
                    made.append(Look(name, by, column, len(told)))
                    known.append(column[:, None])
    return made


# What came before may leave play in the gears, or a caster that lies across: so much each time, however far it goes.
_KICKS = {"distance": "stop", "veer": "kick", "turn": "turn_stop"}


def _effects(driven: Sequence[DrivenTest], model: Assembled, name: str) -> Iterator[FloatArray]:
    """What 1 of each effect changes in each test's readings."""
    for test, seen in zip(driven, model.tests, strict=True):
        made = np.zeros(len(seen.y))
        for k, word in enumerate(seen.words):
            if isinstance(test, StraightTest) and word == "travel":
                made[k] = {"distance": test.commanded, "stop": copysign(1.0, test.commanded)}.get(name, 0.0)
            elif isinstance(test, StraightTest) and name == "veer":
                made[k] = seen.bias[k, BIASES.index("veer")]
            elif isinstance(test, StraightTest) and name == "kick":
                made[k] = radians(test.commanded) if word == "sideways" else 1.0
            elif isinstance(test, TurnTest):
                made[k] = {"turn": test.commanded, "turn_stop": copysign(1.0, test.commanded)}.get(name, 0.0)
        yield made


def _measures(robot: Robot, driven: Sequence[DrivenTest], kind: type[DrivenTest]) -> dict[str, Measure]:
    """What a test is looked at by."""

    def way(test: DrivenTest) -> float:
        return test.commanded if isinstance(test, StraightTest | TurnTest) else 0.0

    def speed(test: DrivenTest) -> float:
        if isinstance(test, TurnTest):
            return test.turn_speed or robot.drive.turn_speed
        return test.speed or robot.drive.speed

    place: dict[int, int] = {}
    met: Counter[object] = Counter()
    for test in driven:
        if isinstance(test, kind):
            place[test.line] = met[test.date]
            met[test.date] += 1

    def order(test: DrivenTest) -> float | None:
        """From 0, the day's first of its kind, to 1, its last."""
        of = met[test.date]
        return place[test.line] / (of - 1) if of > 1 else None

    dates = sorted({test.date for test in driven if test.date is not None})

    def day(test: DrivenTest) -> float | None:
        return float((test.date - dates[0]).days) if test.date is not None else None

    ahead = dict(zip([test.line for test in driven[1:]], driven, strict=False))

    def before(test: DrivenTest) -> float | None:
        """Whether the one before it on that day went the other way, or as it goes; nothing of what else came before."""
        last = ahead.get(test.line)
        if not isinstance(last, kind) or last.date != test.date:
            return None
        return float(way(last) * way(test) < 0)

    found: dict[str, Measure] = {
        "side": lambda test: float(way(test) < 0),
        "size": lambda test: abs(way(test)),
        "speed": speed,
        "before": before,
        "order": order,
    }
    # From day to day is what the days' own scatter is; only a way that many days go is more.
    if len(dates) > 3:
        found["day"] = day
    return found


def _new(column: FloatArray, known: Sequence[FloatArray], rows: NDArray[np.bool_]) -> bool:
    """Whether a column says something of these readings that those before it do not."""
    own = column[rows]
    length = float(np.linalg.norm(own))
    if length < 1e-9:
        return False
    x = np.concatenate(list(known), axis=1)[rows]
    size = np.linalg.norm(x, axis=0)
    x = x[:, size > 1e-9] / size[size > 1e-9]
    b, *_ = np.linalg.lstsq(x, own, rcond=1e-9)
    # Readings left over are what the scatter is told by.
    return float(np.linalg.norm(own - x @ b)) > SAME * length and len(own) > x.shape[1] + EACH


def effect(model: Assembled, sds: FloatArray, look: Look) -> tuple[Misfit, float]:
    """The effect with its 95 % interval, and how often luck makes as much of it or more where there is none."""
    fitted = model.reml
    reml = Reml(
        fitted.y, np.column_stack([fitted.x, look.column]), fitted.reading,
        dict(zip(fitted.names, fitted.covariances, strict=True)),
    )  # fmt: skip
    place = reml.x.shape[1] - 1
    sds, _ = reml.fitted(start=sds)
    _, b, spread = reml.solve(sds)
    freedom = reml.freedom(sds, place)
    weights = reml.weights(sds, place)
    error = sqrt(spread[place, place] + float(weights @ replace(model, reml=reml).rounded_alike(sds) @ weights))
    size = float(b[place])
    half = float(stdtrit(freedom, 0.5 + CONFIDENCE / 2)) * error if freedom else np.inf
    chance = 2 * float(stdtr(freedom, -abs(size) / error)) if freedom and error > 0.0 else 1.0
    return Misfit(look.by, Estimate(f"bias.{look.of}", size, size - half, size + half, look.tests)), chance


def misfits(model: Assembled, sds: FloatArray, made: Sequence[Look]) -> tuple[Misfit, ...]:
    """What does not fit, surest first."""
    found = sorted((effect(model, sds, look) for look in made), key=lambda each: each[1])
    told = []
    for number, (each, chance) in enumerate(found):
        if chance * (len(found) - number) >= LUCK:
            break
        told.append(each)
    return tuple(told)
