"""How often `fit` names what its numbers do not say, and how often it names something where there is nothing.

A known robot drives sheets of tests on paper, in an order drawn anew for each sheet, on four days, read by tape (1 mm)
and protractor (0.5 degrees). Into the readings comes an error that none of the model's numbers is, or none at all.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from math import copysign, radians
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from plans import run

from fieldsim import simulate
from fieldsim.calibration import keeping
from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.estimate import Misfit
from fieldsim.calibration.misfits import looks, misfits
from fieldsim.calibration.observed import DrivenTest, observed
from fieldsim.model import Accuracy, Straight, StraightNoise, Turn, TurnNoise
from fieldsim.model.measured import StraightTest, TurnTest

NOISE = Accuracy(straight=StraightNoise(stop=0.8, distance=1.5, veer=0.4), turn=TurnNoise(stop=0.5, slip=0.6))
SHEETS = 40
DAYS = [datetime.date(2026, 3, day) for day in (1, 2, 4, 7)]


class Driven(NamedTuple):
    """One test as it is driven: where in the sheet and in its day, and what was driven before it on that day."""

    segment: Straight | Turn
    order: float
    """From 0, the day's first, to 1, its last."""
    day: int
    turned_round: bool
    """Whether the straight just before it went the other way."""


class More(NamedTuple):
    """What comes on top: mm along and degrees of heading from the start on, of a straight; degrees of a turn."""

    way: float = 0.0
    heading: float = 0.0


def _nothing(test: Driven) -> More:
    return More()


def _backwards(test: Driven) -> More:
    way = test.segment.distance if isinstance(test.segment, Straight) else 0.0
    return More(way=0.01 * way if way < 0 else 0.0)


def _fast(test: Driven) -> More:
    fast = isinstance(test.segment, Straight) and test.segment.speed == 300.0
    return More(way=0.01 * test.segment.distance if fast else 0.0)  # type: ignore[union-attr]


def _back(test: Driven) -> More:
    lost = isinstance(test.segment, Straight) and test.turned_round
    return More(way=-copysign(4.0, test.segment.distance) if lost else 0.0)  # type: ignore[union-attr]


def _kick(test: Driven) -> More:
    return More(heading=1.5 if isinstance(test.segment, Straight) and test.turned_round else 0.0)


def _late(test: Driven) -> More:
    return More(way=-0.015 * test.order * test.segment.distance) if isinstance(test.segment, Straight) else More()


def _worn(test: Driven) -> More:
    return More(way=0.015 * test.day / 3 * test.segment.distance) if isinstance(test.segment, Straight) else More()


def _fast_turns(test: Driven) -> More:
    fast = isinstance(test.segment, Turn) and test.segment.turn_speed == 180.0
    return More(heading=0.02 * test.segment.angle if fast else 0.0)  # type: ignore[union-attr]


# What there is, in words; how it is made; by what and of which number it is named.
CASES: tuple[tuple[str, Callable[[Driven], More], tuple[str, str] | None], ...] = (
    ("nothing: false alarms", _nothing, None),
    ("1 % farther backwards", _backwards, ("side", "bias.distance")),
    ("1 % farther at 300 than at 200 mm/s", _fast, ("speed", "bias.distance")),
    ("4 mm lost after one the other way", _back, ("before", "bias.stop")),
    ("1.5 degrees of kick after one the other way", _kick, ("before", "bias.kick")),
    ("1.5 % shorter by the end of each day", _late, ("order", "bias.distance")),
    ("1.5 % farther on the last day than on the first", _worn, ("day", "bias.distance")),
    ("turns 2 % farther at 180 than at 90 degrees/s", _fast_turns, ("speed", "bias.turn")),
)


def segments_of(tests: int) -> list[Straight | Turn]:
    """Two thirds straights, of two lengths, both ways and at two speeds; the others turns, both ways, at two speeds."""
    straights = [Straight(x, speed=v) for x in (300.0, -300.0, 1000.0, -1000.0) for v in (200.0, 300.0)]
    turns = [Turn(angle, turn_speed=v) for angle in (90.0, -90.0) for v in (90.0, 180.0)]
    return [*straights, *turns] * (tests // 12)


def ends_of(tests: int, sheets: int) -> dict[Straight | Turn, NDArray[np.float64]]:
    """(sheets * times, 3) how far ahead, beside and round each segment ends."""
    wanted = segments_of(tests)
    found = {}
    for number, segment in enumerate(dict.fromkeys(wanted)):
        made = run(segment, accuracy=NOISE)
        poses = simulate(made, sheets * wanted.count(segment), seed=number + 1, threads=1).poses[:, -1]
        found[segment] = poses - [2000.0, 2000.0, 0.0]
    return found


def sheet(
    tests: int, ends: dict[Straight | Turn, NDArray[np.float64]], number: int, more: Callable[[Driven], More]
) -> list[DrivenTest]:
    """One sheet of those, the ``number``-th of them."""
    luck = np.random.default_rng(number)
    wanted = segments_of(tests)
    left = {segment: list(range(number * wanted.count(segment), (number + 1) * wanted.count(segment)))
            for segment in ends}  # fmt: skip
    made: list[DrivenTest] = []
    each = len(wanted) // len(DAYS)
    before: Straight | Turn | None = None
    for k, at in enumerate(luck.permutation(len(wanted))):
        segment = wanted[at]
        if k % each == 0:
            before = None
        round_again = (
            isinstance(segment, Straight) and isinstance(before, Straight) and segment.distance * before.distance < 0
        )
        x, y, h = ends[segment][left[segment].pop()]
        extra = more(Driven(segment, k % each / (each - 1), k // each, round_again))
        day = DAYS[k // each]
        if isinstance(segment, Straight):
            made.append(
                StraightTest(
                    line=k + 2, date=day, commanded=segment.distance, speed=segment.speed,
                    travel=float(round(x + extra.way)),
                    sideways=float(round(y + radians(extra.heading) * segment.distance)),
                    heading=round(2 * (h + extra.heading)) / 2,
                )
            )  # fmt: skip
        else:
            made.append(
                TurnTest(
                    line=k + 2, date=day, commanded=segment.angle, turn_speed=segment.turn_speed,
                    angle_read=round(2 * (h + extra.heading)) / 2,
                )
            )  # fmt: skip
        before = segment
    return made


def named(tests: list[DrivenTest]) -> tuple[Misfit, ...]:
    """What `fit` names of a sheet."""
    robot = run(Straight(1.0)).robot
    seen = [observed(robot, test) for test in tests]
    tellable = keeping.candidates(seen)
    model = assembled(seen, extras=keeping.kept(seen, False, tellable))
    sds, _ = model.reml.fitted()
    return misfits(model, sds, looks(robot, tests, model, tellable))


def told(case: int, tests: int, sheets: int) -> tuple[int, int, int]:
    """In how many sheets of a case anything is named, and the right thing, and that first."""
    _, more, right = CASES[case]
    ends = ends_of(tests, sheets)
    any_of = there = first = 0
    for number in range(sheets):
        found = [(each.by, each.size.name) for each in named(sheet(tests, ends, number, more))]
        any_of += bool(found)
        there += right in found
        first += found[:1] == [right]
    return any_of, there, first


def table(short: bool) -> str:
    """Each case for sheets of two sizes."""
    sheets = 6 if short else SHEETS
    sizes = (36,) if short else (12, 36)
    head = "".join(f" {size} tests: named % | something else first % |" for size in sizes)
    rows = [f"| what there is | sheets |{head}", "|---|---|" + "---|---|" * len(sizes)]
    for case, (words, _, right) in enumerate(CASES):
        # What is named by luck is rare: more sheets to tell how rare.
        count = sheets if right is not None else 5 * sheets // 2
        cells = ""
        for size in sizes:
            any_of, there, first = told(case, size, count)
            if right is None:
                cells += f" {100 * any_of / count:.0f} | |"
            else:
                cells += f" {100 * there / count:.0f} | {100 * (any_of - first) / count:.0f} |"
        rows.append(f"| {words} | {count} |{cells}")
    return "\n".join(rows)
