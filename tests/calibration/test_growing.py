"""The power of the speed that stop errors grow with: told from tests at two speeds, and used by what comes after."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from plans import run
from scipy import stats

from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.believed import believed
from fieldsim.calibration.estimate import Estimate
from fieldsim.calibration.fit import fit
from fieldsim.calibration.growing import growths, settles
from fieldsim.calibration.observed import DrivenTest, observed
from fieldsim.files import load_robot
from fieldsim.model import Straight, Turn
from fieldsim.model.measured import Sheet, StraightTest, TurnTest
from fieldsim.report.words.fit import fit_text
from fieldsim.report.words.fit.file_values import file_values
from fieldsim.studies.unknown import robots, untold

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


def test_where_nothing_tells_it_fit_asks_for_tests_at_a_second_speed() -> None:
    slow = [replace(test, turn_speed=120.0) for test in turns(1.0, 12, 1)]
    text = " ".join(fit_text(fit(BOX, Sheet(tuple(slow))), "Box", "tests.csv").split())
    assert "turns stop less exactly in proportion to their speed is assumed" in text
    assert "make 5 at 60 degrees per second too" in text
    # Of straights there is no test, so nothing is assumed of them either.
    assert "drive 5 at" not in text
    lengths = tuple(replace(test, speed=200.0) for test in straights(1.0, 12, 1))
    assert any("drive 5 at 100 mm/s too" in words for words in fit(BOX, Sheet(lengths)).unknown)
    # Tests at two speeds tell it, or say that more of them would.
    assert not any("in proportion" in words for words in fit(BOX, Sheet(tuple(turns(0.6, 6, 4)))).unknown)
    known = replace(BOX, accuracy=replace(BOX.accuracy, turn=replace(BOX.accuracy.turn, grows=1.2)))
    assert not any("in proportion" in words for words in fit(known, Sheet(tuple(slow))).unknown)


@pytest.mark.parametrize("seed", [4, 5])
def test_robots_that_fit_differ_in_the_power(seed: int) -> None:
    found = fit(BOX, Sheet(tuple(turns(1.5, 14, seed))))
    (each,) = found.grows
    accuracy = believed(BOX.accuracy, found)
    assert accuracy.between is not None
    assert accuracy.between.turn.grows == (each.low, each.high)
    drawn = np.array([made.turn.grows for made in robots(accuracy, 512, 1).accuracies], dtype=float)
    # Two halves of normals about what is written: 95 in 100 lie between the ends (none beyond 3, which a file does not
    # take), half on either side of the middle.
    assert 0.005 < np.mean((drawn < each.low - 0.01) | (drawn > each.high + 0.01)) < 0.07
    assert drawn.max() <= 3.0
    assert np.median(drawn) == pytest.approx(accuracy.turn.grows, abs=0.05)
    written = file_values(found, BOX.accuracy)["accuracy", "between"]
    assert written["turn"]["grows"] == [pytest.approx(each.low, abs=0.01), pytest.approx(each.high, abs=0.01)]


def test_a_power_that_is_not_settled_is_drawn_about_one() -> None:
    found = fit(BOX, Sheet(tuple(turns(0.6, 5, 4))))
    accuracy = believed(BOX.accuracy, found)
    assert accuracy.turn.grows is None
    drawn = np.array([made.turn.grows for made in robots(accuracy, 512, 1).accuracies], dtype=float)
    assert np.median(drawn) == pytest.approx(1.0, abs=0.1)
    assert drawn.std() > 0.1


def test_the_stop_and_its_power_go_together_where_the_file_has_another_speed() -> None:
    """Tests at 60 and 180, told of 120 degrees per second, above their geometric mean of 104: a larger power is a
    larger stop. What the robots make of the middle of the tests hangs on the power as little as it can."""
    found = fit(BOX, Sheet(tuple(turns(1.5, 14, 5))))
    (pair,) = [each for each in found.together if "turn.grows" in each]
    assert 0.0 < pair[2] < 0.9
    drawn = robots(believed(BOX.accuracy, found), 512, 1).accuracies
    power = np.array([made.turn.grows for made in drawn], dtype=float)
    stop = np.log([made.turn.stop for made in drawn])
    assert abs(np.corrcoef(power, stop + power * np.log(103.9 / 120))[0, 1]) < 0.25


def test_a_run_at_another_speed_hangs_on_the_power() -> None:
    accuracy = replace(BOX.accuracy, measured_at=200.0, turn_measured_at=120.0)
    robot = replace(BOX, accuracy=accuracy)
    at_its_own = run(Straight(300.0, speed=200.0), Turn(90.0, turn_speed=120.0))
    slow = run(Straight(300.0, speed=100.0), Turn(90.0, turn_speed=120.0), Turn(90.0, turn_speed=200.0))
    assert not {"straight.grows", "turn.grows"} & set(untold(replace(at_its_own, robot=robot)))
    assert {"straight.grows", "turn.grows"} <= set(untold(replace(slow, robot=robot)))
    told = replace(robot, accuracy=replace(accuracy, straight=replace(accuracy.straight, grows=1.0)))
    assert "straight.grows" not in untold(replace(slow, robot=told))
