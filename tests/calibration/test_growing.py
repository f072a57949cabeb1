"""The power of the speed that stop errors grow with: told from tests at two speeds, and used by what comes after."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.believed import believed
from fieldsim.calibration.estimate import Estimate
from fieldsim.calibration.fit import fit
from fieldsim.calibration.growing import growths, settles
from fieldsim.calibration.observed import DrivenTest, observed
from fieldsim.files import load_robot
from fieldsim.model.measured import Sheet, StraightTest, TurnTest
from fieldsim.report.words.fit import fit_text
from fieldsim.report.words.fit.file_values import file_values

BOX = load_robot(Path("runs/bakery/box-one.yaml"))


def turns(power: float, each: int, seed: int) -> list[DrivenTest]:
    """Turns of 90 degrees both ways at 60 and 180 degrees per second; at 104 the stop scatters by 1 degree."""
    rng = np.random.default_rng(seed)
    made: list[DrivenTest] = []
    for n in range(2 * each):
        speed = (60.0, 180.0)[n % 2]
        off = (speed / 103.9) ** power * float(rng.standard_normal())
        made.append(TurnTest(line=n + 2, commanded=90.0, angle_read=90.0 + off, protractor=0.01, turn_speed=speed))
    return made


def straights(power: float, each: int, seed: int) -> list[DrivenTest]:
    rng = np.random.default_rng(seed)
    made: list[DrivenTest] = []
    for n in range(2 * each):
        speed = (100.0, 300.0)[n % 2]
        off = 2.0 * (speed / 173.2) ** power * float(rng.standard_normal())
        length = 300.0 + off
        made.append(StraightTest(line=n + 2, commanded=300.0, travel=length, tape=0.01, speed=speed))
    return made


def told(tests: list[DrivenTest]) -> tuple[Estimate, ...]:
    model = assembled([observed(BOX, test) for test in tests])
    # One length, one angle: a walk on the way cannot be told from the stop, and there is none.
    reml = model.reml
    only = [k for k, name in enumerate(reml.names) if name.endswith(".stop")]
    bare = type(reml)(reml.y, reml.x, reml.reading, {reml.names[k]: reml.covariances[k] for k in only})
    model = replace(model, reml=bare)
    sds, _ = bare.fitted()
    return growths(BOX, tests, model, sds)


@pytest.mark.parametrize(("make", "name"), [(turns, "turn.grows"), (straights, "straight.grows")])
def test_two_groups_by_hand(make: type, name: str) -> None:
    """The ratio of two standard deviations is that of the speeds to the power; the likelihood of two normal samples
    about one mean has it as its highest place (any statistics text; the mean is weighed by the groups)."""
    tests = make(1.2, 30, 3)
    (each,) = told(tests)
    off = np.array([getattr(test, "angle_read", None) or test.travel for test in tests])
    sds = [off[n::2].std(ddof=1) for n in (0, 1)]
    assert each.name == name
    assert each.value == pytest.approx(np.log(sds[1] / sds[0]) / np.log(3.0), abs=0.05)
    # Of the logarithm of a ratio of standard deviations: sqrt(1/(2 f) + 1/(2 f)).
    error = np.sqrt(1 / 29) / np.log(3.0) * stats.norm.ppf(0.975)
    assert (each.high - each.low) / 2 == pytest.approx(error, rel=0.15)


def test_the_interval_holds_the_truth_in_about_19_of_20_sheets() -> None:
    """Of 60 sheets: fewer than 51 have a chance of 0.003 if 95 in 100 hold it."""
    held = [each.low <= 1.0 <= each.high for seed in range(60) for each in told(turns(1.0, 12, seed))]
    assert len(held) == 60
    assert sum(held) >= 51


def test_one_speed_or_few_tests_say_nothing() -> None:
    assert told(turns(1.0, 4, 1)) == ()
    assert told([replace(test, turn_speed=120.0) for test in turns(1.0, 12, 1)]) == ()


@pytest.mark.parametrize(
    ("low", "high", "whether"), [(0.2, 2.0, True), (0.0, 0.8, True), (0.0, 1.4, False), (0.0, 3.0, False)]
)
def test_what_settles_it(low: float, high: float, whether: bool) -> None:
    assert settles(Estimate("turn.grows", 0.5, low, high, 20)) is whether


def test_a_settled_power_is_told_written_and_believed() -> None:
    found = fit(BOX, Sheet(tuple(turns(2.0, 14, 5))))
    (each,) = found.grows
    assert each.low > 0.5
    power = round(each.value, 2)
    text = " ".join(fit_text(found, "Box", "tests.csv").split())
    assert "turn: grows" in text
    assert file_values(found, BOX.accuracy)["accuracy", "turn", "grows"] == power
    assert believed(BOX.accuracy, found).turn.grows == power
    # What the stop scatters by is told of the speed that the file has it of: 120 degrees per second.
    stop = found.value("turn.stop")
    slip = found.value("turn.slip")
    assert stop is not None
    assert slip is not None
    assert np.hypot(stop, slip) == pytest.approx((120 / 103.9) ** 2, rel=0.5)


def test_an_open_power_is_left_as_it_is() -> None:
    found = fit(BOX, Sheet(tuple(turns(0.6, 5, 4))))
    (each,) = found.grows
    assert not settles(each)
    assert ("accuracy", "turn", "grows") not in file_values(found, BOX.accuracy)
    assert believed(BOX.accuracy, found).turn.grows is None
    assert "taken in proportion" in " ".join(fit_text(found, "Box", "tests.csv").split())
