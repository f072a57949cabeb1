"""What a forecast is to believe of a robot after its tests: the accuracy block, and what they leave unknown of it."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from fieldsim.calibration.assembled import Assembled
from fieldsim.calibration.estimate import Estimate, Fit
from fieldsim.calibration.growing import with_growths
from fieldsim.calibration.posterior import Likelihood, posterior, summary
from fieldsim.model import Accuracy, Between, Likely, Together, replace, value_of, with_values
from fieldsim.model.between import DRAWN
from fieldsim.model.bounds import Maybe, Pair, attributes

FloatArray = NDArray[np.float64]

SIDES = ("bias.turn_left", "bias.turn_right")

# Correlations smaller than this are left out of an answer.
LEAST_CORRELATION = 0.1


def believed(accuracy: Accuracy, answer: Fit) -> Accuracy:
    """The accuracy block with what the tests say in place of its own numbers, and what they leave unknown; ends out of
    a file's bounds are taken as the bound. What these tests do not tell, or set no upper end, stays as it was, with
    what earlier tests left unknown of it."""
    told = {each.name: each for each in answer.estimates if isfinite(each.high)}
    open_yet = {each.name: each for each in answer.perhaps}
    ends: dict[str, tuple[float, float]] = {}
    powers = {each.name: each for each in answer.grows}
    for name in DRAWN:
        each = told.get(name) or open_yet.get(name) or powers.get(name)
        if each is not None:
            least, most = bounds_of_ends(name)
            ends[name] = (max(each.low, least), min(each.high, most))
    before = untouched(accuracy.between, settled([*answer.estimates, *answer.perhaps, *answer.grows]))
    ends.update(before)
    made = with_growths(with_values(accuracy, values_of(accuracy, answer)), answer.grows)
    if answer.squared is not None and answer.squared.corner is not None:
        made = replace(made, square=replace(made.square, corner=answer.squared.corner))
    if not ends:
        return replace(made, between=None)
    groups: dict[str, dict[str, tuple[float, float]]] = {}
    for name, pair in ends.items():
        group, key = name.split(".")
        groups.setdefault(group, {})[key] = pair
    drawn = told.keys() | open_yet.keys() | powers.keys()
    pairs = [Together(one, other, r) for one, other, r in answer.together if one in drawn and other in drawn]
    tests = answer.driven + (0 if answer.squared is None else answer.squared.tests)
    if before and accuracy.between is not None:
        pairs += [each for each in accuracy.between.together if each.one in before and each.other in before]
        tests += int(accuracy.between.tests)
    likely = answer.robots
    if before and accuracy.between is not None:
        likely += tuple(each for each in accuracy.between.robots if each.of in before)
    made_of = {group: type(getattr(_NOTHING, group))(**keys) for group, keys in groups.items()}
    return replace(made, between=Between(tests=tests, together=tuple(pairs), robots=likely, **made_of))


def values_of(accuracy: Accuracy, answer: Fit) -> dict[str, float]:
    """What takes the place of the numbers of a robot's block: what is told, of left and right turns also their mean,
    and nought for what was there and is not told from nought any more."""
    values = {each.name: each.best for each in answer.estimates if isfinite(each.high)}
    left, right = values.get("bias.turn_left"), values.get("bias.turn_right")
    if left is not None and right is not None:
        values["bias.turn"] = (left + right) / 2
    if "bias.turn" in values:
        # Where a file told the two ways round apart and the tests do not, they are one again.
        written = (accuracy.bias.turn_left, accuracy.bias.turn_right)
        values |= {
            name: values["bias.turn"]
            for name, old in zip(SIDES, written, strict=True)
            if old is not None and name not in values
        }
    gone = [each.name for each in answer.perhaps if each.name not in SIDES]
    values |= {name: 0.0 for name in gone if value_of(accuracy, name)}
    return values


def settled(estimates: Iterable[Estimate]) -> frozenset[str]:
    """The numbers that these say something of; turns both ways round together and apart are one matter."""
    found = {each.name for each in estimates if isfinite(each.high)}
    turns = {"bias.turn", *SIDES}
    return frozenset(found | turns if found & turns else found)


def untouched(between: Between | None, told: Container[str]) -> dict[str, tuple[float, float]]:
    """What earlier tests left unknown of the numbers that are not told anew."""
    if between is None:
        return {}
    found = {name: between.ends(name) for name in DRAWN if name not in told}
    return {name: ends for name, ends in found.items() if ends is not None}


_NOTHING = Between(tests=1)


def bounds_of_ends(name: str) -> tuple[float, float]:
    """Between which bounds a file accepts the ends of one number."""
    group, key = name.split(".")
    kind = attributes(type(getattr(_NOTHING, group)))[key].kind
    assert isinstance(kind, Maybe)
    assert isinstance(kind.kind, Pair)
    return kind.kind.number.least, kind.kind.number.most


def robots_that_fit(
    model: Assembled, sds: FloatArray, names: Sequence[str]
) -> tuple[tuple[Likely, ...], tuple[tuple[str, str, float], ...]]:
    """How robots that fit differ in these numbers, and which of them go together."""
    weights = np.array([model.reml.weights(sds, place) for place in range(len(model.columns))])
    weights = weights.reshape(len(model.columns), len(model.reml.y))
    rounding = weights @ model.rounded_alike(sds) @ weights.T
    at, together = summary(posterior(Likelihood(model.tests, model.reml.names, model.columns), sds, rounding), names)
    robots = []
    for name, row in zip(names, at, strict=True):
        least, most = bounds_of_ends(name)
        # Three digits, and nothing that a file would refuse.
        inside = np.clip([float(f"{each:.3g}") for each in row], least if name.startswith("bias.") else 1e-9, most)
        robots.append(Likely(name, tuple(map(float, inside))))
    pairs = [
        (names[j], names[i], round(float(np.clip(together[i, j], -0.999, 0.999)), 2))
        for i in range(len(names))
        for j in range(i)
        if abs(together[i, j]) > LEAST_CORRELATION
    ]
    return tuple(robots), tuple(pairs)
