"""What the fitted numbers do not say is named where it is, with its size, and not where it is not."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from fieldsim.calibration import keeping
from fieldsim.calibration.answer import fit_answer
from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.estimate import Misfit
from fieldsim.calibration.fit import fit
from fieldsim.calibration.misfits import effect, looks, misfits
from fieldsim.calibration.observed import DrivenTest, observed
from fieldsim.files import load_robot
from fieldsim.model.measured import Sheet, StraightTest, TurnTest
from fieldsim.report.words.fit import fit_text

BOX = load_robot(Path("runs/bakery/box-one.yaml"))
DAY = datetime.date(2026, 11, 1)
LENGTHS = (300.0, -300.0, 1000.0, -300.0, 300.0, 300.0)


def straights(
    more: Callable[[int, float, float], float], seed: int = 1, count: int = 36, noise: float = 1.0
) -> list[DrivenTest]:
    """Straights both ways, alternating between two speeds; ``more`` (number, mm, mm/s) is added to what they make."""
    rng = np.random.default_rng(seed)
    made: list[DrivenTest] = []
    for n in range(count):
        length, speed = LENGTHS[n % len(LENGTHS)], (200.0, 300.0)[(n // len(LENGTHS)) % 2]
        way = length * 1.004 + more(n, length, speed) + noise * rng.standard_normal()
        made.append(StraightTest(line=n + 2, commanded=length, travel=way, tape=0.1, speed=speed, date=DAY))
    return made


def found(tests: list[DrivenTest]) -> tuple[Misfit, ...]:
    seen = [observed(BOX, test) for test in tests]
    tellable = keeping.candidates(seen)
    model = assembled(seen, extras=keeping.kept(seen, False, tellable))
    sds, _ = model.reml.fitted()
    return misfits(model, sds, looks(BOX, tests, model, tellable))


@pytest.mark.parametrize(
    ("more", "by", "name", "size"),
    [
        (lambda n, length, speed: 0.006 * abs(length) if length < 0 else 0.0, "side", "distance", -0.006),
        (lambda n, length, speed: 0.01 * length if speed > 250 else 0.0, "speed", "distance", 0.01),
        (lambda n, length, speed: 0.02 * length * n / 35, "order", "distance", 0.02),
        (
            lambda n, length, speed: 4.0 * np.sign(length) if length * LENGTHS[(n - 1) % 6] < 0 and n else 0.0,
            "before", "stop", 4.0,
        ),
    ],
)  # fmt: skip
def test_what_is_there_is_named_first_with_its_size(
    more: Callable[[int, float, float], float], by: str, name: str, size: float
) -> None:
    first = found(straights(more))[0]
    assert (first.by, first.size.name) == (by, f"bias.{name}")
    assert first.size.low < size < first.size.high
    assert first.size.low * first.size.high > 0


def test_what_is_not_there_is_named_in_no_more_sheets_than_said() -> None:
    """Of 40 sheets one in twenty names something by luck: more than 6 have a chance of 0.003."""
    assert sum(bool(found(straights(lambda *_: 0.0, seed))) for seed in range(40)) <= 6


def test_one_look_is_the_textbooks_regression() -> None:
    """With one source of scatter alone it is Student's t of the last column of a linear regression."""
    rng = np.random.default_rng(2)
    tests: list[DrivenTest] = [
        StraightTest(line=n + 2, commanded=300.0, travel=301.0 + e, tape=0.01, speed=200.0, date=DAY)
        for n, e in enumerate(rng.standard_normal(24).round(2))
    ]
    model = assembled([observed(BOX, test) for test in tests])
    sds, _ = model.reml.fitted()
    (look,) = [each for each in looks(BOX, tests, model, ()) if each.by == "order"]
    each, chance = effect(model, sds, look)
    y = np.array([test.travel - 300.0 for test in tests])
    x = np.column_stack([np.full(24, 300.0), look.column])
    b, rest, *_ = np.linalg.lstsq(x, y, rcond=None)
    error = np.sqrt(rest[0] / 22 * np.linalg.inv(x.T @ x)[1, 1])
    assert each.size.value == pytest.approx(b[1], abs=0.01 * error)
    assert (each.size.high - each.size.low) / 2 == pytest.approx(stats.t.ppf(0.975, 22) * error, rel=0.01)
    assert chance == pytest.approx(2 * stats.t.sf(abs(b[1]) / error, 22), abs=0.01)


def test_what_fit_tells_itself_is_no_look() -> None:
    turns: list[DrivenTest] = [
        TurnTest(line=n + 2, commanded=angle, angle_read=angle + 0.5, date=DAY)
        for n, angle in enumerate([90.0, -90.0, 360.0] * 6)
    ]
    seen = [observed(BOX, test) for test in turns]
    made = looks(BOX, turns, assembled(seen), keeping.candidates(seen))
    # In this order each angle always comes after the same one: what came before is what the angle is.
    assert {(each.of, each.by) for each in made} == {("turn", "order")}


def test_few_tests_allow_no_look() -> None:
    assert fit(BOX, Sheet(tuple(straights(lambda *_: 0.0, count=5)))).looks == 0


def test_it_is_told_in_words_and_in_the_answer() -> None:
    tests = straights(lambda n, length, speed: 0.03 * length if speed > 250 else 0.0)
    answer = fit(BOX, Sheet(tuple(tests)))
    text = " ".join(fit_text(answer, "Box", "tests.csv").split())
    assert "What does not fit" in text
    assert "fast straights go farther than slow ones" in text
    told = fit_answer(answer).does_not_fit[0]
    assert (told.of, told.by, told.number) == ("straights", "speed", "distance")
    assert told.ends.value == pytest.approx(0.03, abs=0.01)
    plain = fit(BOX, Sheet(tuple(straights(lambda *_: 0.0))))
    assert plain.looks > 3
    assert "nothing that luck does not make" in " ".join(fit_text(plain, "Box", "tests.csv").split())


def test_a_caster_that_kicks_after_a_change_of_way_is_found_with_its_size() -> None:
    """1.5 degrees to the left at once after a straight the other way: in the heading, and beside the line."""
    rng = np.random.default_rng(7)
    tests: list[DrivenTest] = []
    for n in range(36):
        length = LENGTHS[n % 6]
        kick = 1.5 if n and length * LENGTHS[(n - 1) % 6] < 0 else 0.0
        sideways = np.radians(kick) * length + rng.standard_normal()
        tests.append(
            StraightTest(
                line=n + 2, commanded=length, travel=length + rng.standard_normal(), sideways=sideways,
                heading=kick + 0.2 * rng.standard_normal(), tape=0.1, protractor=0.1, date=DAY,
            )
        )  # fmt: skip
    first = found(tests)[0]
    assert (first.by, first.size.name) == ("before", "bias.kick")
    assert first.size.low < 1.5 < first.size.high
    assert first.size.high - first.size.low < 1.0


def test_turns_that_go_farther_fast_are_found_with_their_size() -> None:
    rng = np.random.default_rng(8)
    tests: list[DrivenTest] = []
    for n in range(30):
        angle, speed = (90.0, -90.0, 180.0)[n % 3], (60.0, 180.0)[n // 3 % 2]
        made = angle * (1.03 if speed > 100 else 1.0) + 0.4 * rng.standard_normal()
        tests.append(TurnTest(line=n + 2, commanded=angle, angle_read=made, protractor=0.1, turn_speed=speed, date=DAY))
    first = found(tests)[0]
    assert (first.by, first.size.name) == ("speed", "bias.turn")
    assert first.size.low < 0.03 < first.size.high
