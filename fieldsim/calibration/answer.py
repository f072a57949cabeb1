"""What `fit` answers: the accuracy block with its intervals, and what else the tests tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, NamedTuple

from fieldsim import __version__
from fieldsim.answers import Perhaps, Told
from fieldsim.calibration.estimate import Drops, Estimate, Fit, Misfit, Outlier, Placed, Squared, Typed
from fieldsim.calibration.further import FurtherAnswer
from fieldsim.calibration.square_path import SquarePathAnswer

__all__ = ["FitAnswer", "fit_answer"]

BY_EYE = "by eye"


@dataclass(frozen=True)
class Ends:
    """A measured number and between what it may be (95 %), in the model's units."""

    value: float
    low: Perhaps
    high: Annotated[Perhaps, "null: there is no upper end"]


@dataclass(frozen=True)
class DoesNotFit:
    """Something that is the same every time and that none of the numbers says."""

    of: Annotated[str, "straights or turns"]
    by: Annotated[str, "what it goes with: side, size, speed, before, order, day"]
    number: Annotated[str, "what differs: distance, veer, turn (shares, degrees per metre), stop, kick, turn_stop"]
    ends: Ends
    tests: int


class Together(NamedTuple):
    """Two numbers whose errors go together."""

    one: str
    other: str
    correlation: float


@dataclass(frozen=True)
class Placing:
    """One number of how exactly the robot is put into a jig."""

    jig: str
    part: str
    ends: Annotated[Ends, Told(spread=True)]


@dataclass(frozen=True)
class Repeated:
    """How well placing in a jig repeats, as ISO 9283 has it."""

    jig: str
    count: int
    accuracy: Annotated[float, "mm"]
    repeatability: Annotated[float, "mm"]
    angle_accuracy: Annotated[float | None, "degrees"]
    angle_repeatability: Annotated[float | None, "degrees"]


@dataclass(frozen=True)
class SquarePath:
    """What square paths of one side, driven both ways round, say by the classic formulas."""

    side: Annotated[float, "mm"]
    merit: Annotated[float, "mm"]
    again: Annotated[bool | None, "more than chance"]
    turn: Annotated[float, "share too far"]
    veer: Annotated[float, "degrees per metre"]
    wheel_ratio: float
    track_ratio: float
    track: Annotated[float, "mm"]


@dataclass(frozen=True)
class SquareTests:
    """What the corner of a robot does that is pushed square on a wall."""

    tests: int
    slides: Annotated[Ends | None, "share of what rolling wheels make: 0 where the corner sticks, 1 where it slides"]
    corner: Annotated[str | None, Told(one_of=("sticks", "slides"))]
    """null if the tests do not tell"""
    caught: Annotated[int, "in how many it swung flat"]
    capture: Annotated[Ends | None, "degrees off at which one in two swings flat"]


@dataclass(frozen=True)
class DropTests:
    """Drop tests, counted."""

    passed: int
    failed: int
    came_off: dict[str, int]


@dataclass(frozen=True, kw_only=True)
class FitAnswer:
    """How accurately a robot drives, from tests measured with a tape."""

    command: ClassVar[Literal["fit"]] = "fit"
    version: Annotated[str, "of fieldsim"]
    tests: int
    driven: int
    """Those among them that were driven."""
    dates: int
    accuracy: Annotated[
        dict[str, dict[str, Ends]],
        "the robot file's block, in the model's units: shares, degrees per metre, mm, degrees",
    ]
    perhaps: Annotated[
        dict[str, dict[str, Ends]], "likewise: the same every time, not told from nought and taken as none"
    ]
    typed: Annotated[tuple[Typed, ...], "what to type so that it does on average what is wanted"]
    together: tuple[Together, ...]
    tape: Annotated[Ends | None, "mm"]
    placing: Annotated[tuple[Placing, ...], "standard deviations, mm and degrees"]
    placing_off: Annotated[tuple[Placing, ...], "means, mm and degrees"]
    repeatability: Annotated[tuple[Repeated, ...], "as ISO 9283 has it"]
    square_paths: tuple[SquarePath, ...]
    squared: SquareTests | None
    """Pushing square on a wall, if there are such tests."""
    drops: DropTests
    outliers: tuple[Outlier, ...]
    does_not_fit: tuple[DoesNotFit, ...]
    """What is the same every time and none of the numbers says, surest first."""
    looks: Annotated[int, "from how many sides that was looked for"]
    grows: Annotated[dict[str, dict[str, Ends]], "with which power of the speed stop errors grow"]
    unknown: tuple[str, ...]
    """What these tests cannot tell, in words."""
    doubts: tuple[str, ...]
    """What to look at first, in words."""
    plan: FurtherAnswer | None
    """Which further tests would help a run most, if that was asked."""


def fit_answer(fit: Fit, doubts: Sequence[str] = (), plan: FurtherAnswer | None = None) -> FitAnswer:
    """The whole answer of a fit, with the doubts that its words tell and what was asked of a run."""
    return FitAnswer(
        version=__version__,
        tests=fit.tests,
        driven=fit.driven,
        dates=fit.dates,
        accuracy=_block(fit.estimates),
        perhaps=_block(fit.perhaps),
        typed=fit.typed,
        together=tuple(Together(*pair) for pair in fit.together),
        tape=None if fit.tape is None else _ends(fit.tape),
        placing=tuple(_placing(placed, each) for placed in fit.placed for each in placed.spread),
        placing_off=tuple(_placing(placed, each) for placed in fit.placed for each in placed.off),
        repeatability=tuple(found for placed in fit.placed if (found := _repeated(placed)) is not None),
        square_paths=tuple(map(_square_path, fit.squares)),
        squared=None if fit.squared is None else _squared(fit.squared),
        drops=_drops(fit.drops),
        outliers=fit.outliers,
        does_not_fit=tuple(map(_misfit, fit.misfits)),
        looks=fit.looks,
        grows=_block(fit.grows),
        unknown=fit.unknown,
        doubts=tuple(doubts),
        plan=plan,
    )


def _block(estimates: Sequence[Estimate]) -> dict[str, dict[str, Ends]]:
    """Numbers of the accuracy block by their place in it."""
    block: dict[str, dict[str, Ends]] = {}
    for each in estimates:
        group, _, part = each.name.rpartition(".")
        block.setdefault(group, {})[part] = _ends(each)
    return block


def _ends(estimate: Estimate) -> Ends:
    return Ends(estimate.value, estimate.low, estimate.high)


def _misfit(misfit: Misfit) -> DoesNotFit:
    name = misfit.size.name.removeprefix("bias.")
    of = "turns" if name.startswith("turn") else "straights"
    return DoesNotFit(of, misfit.by, name, _ends(misfit.size), misfit.size.tests)


def _placing(placed: Placed, estimate: Estimate) -> Placing:
    return Placing(placed.jig or BY_EYE, estimate.name, _ends(estimate))


def _repeated(placed: Placed) -> Repeated | None:
    found = placed.repeatability
    if found is None:
        return None
    return Repeated(
        placed.jig or BY_EYE, found.count, found.accuracy, found.repeatability, found.angle_accuracy,
        found.angle_repeatability,
    )  # fmt: skip


def _square_path(square: SquarePathAnswer) -> SquarePath:
    mean = square.mean
    return SquarePath(
        square.side, square.merit, square.again, mean.turn, mean.veer, mean.wheel_ratio, mean.track_ratio, mean.track
    )


def _squared(found: Squared) -> SquareTests:
    slides, capture = (None if each is None else _ends(each) for each in (found.slides, found.capture))
    return SquareTests(found.tests, slides, found.corner, found.caught, capture)


def _drops(drops: Drops) -> DropTests:
    return DropTests(drops.passed, drops.failed, dict(drops.came_off))
