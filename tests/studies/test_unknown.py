"""What few tests leave unknown: closed forms, the same trials as a plan made anew, robots whose truth is known."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import PERFECT, robot, run
from scipy.stats import norm

from fieldsim.model import (
    MEASURABLE,
    Accuracy,
    Act,
    Between,
    BiasBetween,
    GyroBetween,
    GyroNoise,
    Run,
    Straight,
    StraightBetween,
    StraightNoise,
    Systematic,
    Target,
    Together,
    Turn,
    TurnBetween,
    TurnNoise,
    value_of,
    with_values,
)
from fieldsim.model.errors import PlanError
from fieldsim.report.phrases import unknown_words
from fieldsim.report.words.attempt import try_text
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import blocks
from fieldsim.studies import unknown as study
from fieldsim.studies.attempt import attempt
from fieldsim.studies.unknown import (
    END,
    accuracies_at,
    correlation,
    interval,
    quantile,
    robots,
    shares,
    successes,
    unknown,
)

# An invented robot and what is unknown of it.
KNOWN = Accuracy(
    bias=Systematic(0.01, 0.2, -0.02),
    straight=StraightNoise(1.0, 0.0, 0.5),
    turn=TurnNoise(0.5, 0.8),
    between=Between(
        tests=12,
        bias=BiasBetween(distance=(0.0, 0.03), turn=(-0.05, 0.0)),
        straight=StraightBetween(stop=(0.5, 3.0), veer=(0.0, 1.2)),
        turn=TurnBetween(stop=(0.0, 1.0)),
        together=(Together("straight.stop", "straight.veer", -0.6),),
    ),
)


def reaching(made: Run, ahead: float, left: float, within: float) -> Run:
    """The run with a bell at its end, seen from the robot's start at (2000, 2000) along x, where a target is wanted."""
    field = replace(made.field, targets=(Target("bell", (2000.0 + ahead, 2000.0 + left), within=within),))
    return replace(made, field=field, segments=(*made.segments, Act("bell", 1.0)))


def to_target(off: float, within: float, accuracy: Accuracy) -> Run:
    """A straight of 1000 mm to a target that is ``off`` mm beyond where a perfect robot's front ends."""
    made = run(Straight(1000.0), accuracy=accuracy)
    return reaching(made, 1000.0 + made.robot.body.length - made.robot.body.axle + off, 0.0, within)


# --- one number ----------------------------------------------------------------------------------------------------


@given(st.floats(-5, 5), st.floats(0, 3), st.floats(0, 3))
def test_a_bias_meets_its_value_and_both_ends(value: float, below: float, above: float) -> None:
    low, high = value - below, value + above
    z = np.array([-END, 0.0, END])
    assert quantile(value, low, high, z, spread=False) == pytest.approx([low, value, high], abs=1e-9)


@given(st.floats(0.01, 5), st.floats(0.05, 1), st.floats(1, 20))
def test_a_spread_above_nought_meets_its_value_and_both_ends(value: float, share: float, times: float) -> None:
    z = np.array([-END, 0.0, END])
    assert quantile(value, value * share, value * times, z, spread=True) == pytest.approx(
        [value * share, value, value * times]
    )


def test_a_spread_that_may_be_nought_is_folded() -> None:
    """Of a value of 0 and a high end h: |z| h/1.96, of which 95 % lie below h and half below 0.674/1.96 h."""
    z = norm.ppf((np.arange(4000) + 0.5) / 4000)
    drawn = quantile(0.0, 0.0, 2.0, z, spread=True)
    assert (drawn >= 0).all()
    assert np.mean(drawn <= 2.0) == pytest.approx(0.95, abs=0.001)
    assert np.median(drawn) == pytest.approx(norm.ppf(0.75) / END * 2.0, rel=1e-3)


@given(st.floats(0, 2), st.floats(0, 2), st.floats(0, 2), st.floats(-4, 4), st.booleans())
def test_no_number_is_less_than_it_may_be(value: float, low: float, more: float, z: float, spread: bool) -> None:
    found = float(quantile(value, low, low + more, np.array([z]), spread)[0])
    assert np.isfinite(found)
    if spread:
        assert found >= 0


# --- robots --------------------------------------------------------------------------------------------------------


def test_robots_lie_between_the_ends_19_times_in_20() -> None:
    drawn = robots(KNOWN, 1024)
    assert drawn.names == ("bias.distance", "bias.turn", "straight.stop", "straight.veer", "turn.stop")
    for name in drawn.names:
        assert KNOWN.between is not None
        low, high = KNOWN.between.ends(name) or (0.0, 0.0)
        values = np.array([value_of(accuracy, name) for accuracy in drawn.accuracies])
        inside = np.mean((values >= low - 1e-12) & (values <= high + 1e-12))
        # Those folded at nought lie a little farther out than 95 %: up to the 97.5 % of one side.
        assert 0.945 <= inside <= 0.98, name
    # A side that is not told turns as ``bias.turn`` says, which is drawn.
    for name in set(MEASURABLE) - set(drawn.names) - {"bias.turn_left", "bias.turn_right"}:
        assert {value_of(accuracy, name) for accuracy in drawn.accuracies} == {value_of(KNOWN, name)}


def test_what_goes_together_is_drawn_together() -> None:
    drawn = robots(KNOWN, 1024)
    found = np.corrcoef(drawn.z.T)
    wanted = correlation(KNOWN.between or Between(tests=1), drawn.names)
    assert wanted[2, 3] == pytest.approx(-0.6)
    assert found == pytest.approx(wanted, abs=0.03)
    # Evenly spread: the means are far nearer nought than chance would have them (1/sqrt(1024) = 0.03).
    assert np.abs(drawn.z.mean(axis=0)).max() < 0.01


def test_correlations_that_cannot_be_are_made_ones_that_can() -> None:
    """Three numbers cannot each go against both others: the smallest eigenvalue would be 1 - 2 * 0.9 < 0."""
    pairs = (("bias.distance", "bias.veer"), ("bias.distance", "bias.turn"), ("bias.veer", "bias.turn"))
    between = Between(tests=5, together=tuple(Together(*pair, -0.9) for pair in pairs))
    made = correlation(between, ("bias.distance", "bias.veer", "bias.turn"))
    assert np.linalg.eigvalsh(made).min() >= 0
    assert np.diag(made) == pytest.approx([1, 1, 1])
    assert (made[0, 1], made[1, 2]) == pytest.approx((-0.5, -0.5))


def test_values_out_of_bounds_are_the_bounds() -> None:
    made = with_values(KNOWN, {"bias.distance": 0.9, "straight.stop": -1.0, "day.turn": -0.1})
    assert (made.bias.distance, made.straight.stop, made.day.turn) == (0.5, 0.0, 0.0)
    assert made.bias.veer == KNOWN.bias.veer


@pytest.mark.parametrize(
    "make",
    [
        lambda: Between(tests=0), lambda: Between(tests=1.5), lambda: BiasBetween(distance=(0.1, 0.0)),
        lambda: StraightBetween(stop=(-1.0, 1.0)), lambda: BiasBetween(turn=(-0.9, 0.0)),
        lambda: Together("straight.stop", "bias.turn", 1.0), lambda: Together("stop", "bias.turn", 0.5),
    ],
)  # fmt: skip
def test_what_cannot_be_between_is_refused(make: object) -> None:
    with pytest.raises(PlanError):
        make()  # type: ignore[operator]


# --- the run tried with each ---------------------------------------------------------------------------------------


def test_each_robot_drives_as_if_its_plan_were_made_anew() -> None:
    made = run(Straight(600.0), Turn(90.0), Straight(300.0), accuracy=KNOWN)
    made = reaching(made, 600.0, 300.0 + made.robot.body.length - made.robot.body.axle, 20.0)
    drawn = robots(KNOWN, 8)
    found = successes(made, drawn.accuracies, seed=5, trials=1000)
    assert found.shape == (8, 1000)
    assert 0 < found.mean() < 1
    for accuracy, got in zip(drawn.accuracies, found, strict=True):
        floored = study._floored(accuracy)
        (block,) = blocks(plan(replace(made, robot=replace(made.robot, accuracy=floored))), 5, 1000)
        assert (block.success == got).all()
        # A spread of a billionth is none: hardly any trial is decided by it.
        (block,) = blocks(plan(replace(made, robot=replace(made.robot, accuracy=accuracy))), 5, 1000)
        assert (block.success != got).sum() <= 1


def test_a_bias_that_is_not_known_is_the_share_of_those_it_reaches_with() -> None:
    """No other errors: the bell of +-10 mm is reached with a distance bias of up to 1 % of 1000 mm, and the share is 0
    or 1. Of a bias of 0 between -1 and 1 % 95 % reach it."""
    accuracy = Accuracy(between=Between(tests=3, bias=BiasBetween(distance=(-0.01, 0.01))))
    answer = unknown(to_target(0.0, 10.0, accuracy), 1.0, count=256)
    assert answer is not None
    assert answer.mean == pytest.approx(0.95, abs=0.01)
    assert (answer.low, answer.high) == (0.0, 1.0)
    wide = unknown(to_target(0.0, 20.0, accuracy), 1.0, count=256)
    assert wide is not None
    assert (wide.low, wide.high) == (1.0, 1.0)


def test_a_spread_that_is_not_known_against_the_normal_distribution() -> None:
    """Stop errors alone, sd between 2 and 8 about 4 mm (in logarithms): a bell of +-w is reached with 2 Phi(w/sd) - 1,
    which falls with sd, so its ends are those of sd."""
    accuracy = Accuracy(
        straight=StraightNoise(4.0, 0.0, 0.0),
        between=Between(tests=9, straight=StraightBetween(stop=(2.0, 8.0))),
    )
    made = to_target(0.0, 6.0, accuracy)
    made = replace(made, robot=replace(made.robot, drive=replace(made.robot.drive, speed=accuracy.measured_at)))

    def reach(sd: float) -> float:
        return float(2 * norm.cdf(6.0 / sd) - 1)

    answer = unknown(made, reach(4.0), count=256)
    assert answer is not None
    # 1000 trials each, the same for all: of the difference p of two shares the standard error is sqrt(p (1 - p)/1000),
    # 0.015 and 0.011 here.
    assert answer.low == pytest.approx(reach(8.0), abs=0.04)
    assert answer.high == pytest.approx(reach(2.0), abs=0.03)


def test_chance_is_taken_out_of_the_spread_of_shares() -> None:
    """Robots that are all the same, each with luck of its own: nothing is left. Robots that differ keep it."""
    rng = np.random.default_rng(8)
    base = rng.random(1000) < 0.6
    same = rng.random((200, 1000)) < 0.6
    raw = same.mean(axis=1).std()
    assert raw > 0.012
    assert shares(base, same, 0.6).std() < 0.3 * raw
    p = rng.uniform(0.2, 0.9, 200)
    differ = rng.random((200, 1000)) < p[:, None]
    assert shares(base, differ, 0.6).std() == pytest.approx(p.std(), rel=0.05)
    low, high = interval(np.linspace(0, 1, 201))
    assert (low, high) == pytest.approx((0.025, 0.975), abs=0.003)


def test_few_tests_leave_more_unknown_than_many() -> None:
    """A sheet n times as long: ends 1/sqrt(n) as far away; the share's interval narrows about likewise."""
    widths = []
    for n in (1, 16):
        ends = (-0.02 / sqrt(n), 0.02 / sqrt(n))
        accuracy = Accuracy(
            straight=StraightNoise(10.0, 0.0, 0.0), between=Between(tests=n, bias=BiasBetween(distance=ends))
        )
        answer = unknown(to_target(25.0, 8.0, accuracy), 0.08)
        assert answer is not None
        widths.append(answer.high - answer.low)
    assert 2.5 < widths[0] / widths[1] < 6


def test_only_what_the_run_depends_on_is_called_untold() -> None:
    by_wheels = run(Straight(500.0), accuracy=KNOWN)
    assert study.untold(by_wheels) == ("bias.veer", "straight.distance", "turn.slip")
    drive = replace(by_wheels.robot.drive, heading_from="gyro")
    by_gyro = replace(by_wheels, robot=replace(by_wheels.robot, drive=drive))
    assert study.untold(by_gyro) == ("straight.distance", "gyro.drift", "gyro.scale", "gyro.hold")


# --- what `try` says -----------------------------------------------------------------------------------------------


def test_try_tells_it_and_only_where_it_is_known() -> None:
    made = to_target(0.0, 12.0, KNOWN)
    answer = attempt(made, trials=2000, seed=3).answer
    assert answer.unknown is not None
    assert (answer.unknown.tests, answer.unknown.robots) == (12, study.ROBOTS)
    assert 0 <= answer.unknown.low < answer.unknown.high <= 1
    text = try_text(answer)
    assert unknown_words(answer.unknown, answer.success.share).split(",")[0] in " ".join(text.split())
    assert "bias: veer" in text
    silent = replace(made, robot=replace(made.robot, accuracy=replace(KNOWN, between=None)))
    other = attempt(silent, trials=2000, seed=3).answer
    assert other.unknown is None
    (note,) = set(other.notes) - set(answer.notes)
    assert "does not say how well" in note
    assert replace(answer, unknown=None, notes=other.notes) == other


def test_the_same_seed_says_the_same() -> None:
    made = to_target(5.0, 12.0, KNOWN)
    one = unknown(made, 0.5, seed=4, threads=1, count=32)
    assert one == unknown(made, 0.5, seed=4, threads=3, count=32)
    assert one != unknown(made, 0.5, seed=5, count=32)


def test_by_gyro() -> None:
    accuracy = Accuracy(
        turn=TurnNoise(0.3, 0.0),
        gyro=GyroNoise(0.0, 0.0, 0.3),
        between=Between(tests=8, gyro=GyroBetween(drift=(0.0, 20.0), hold=(0.1, 0.9))),
    )
    made = run(Turn(90.0), Straight(800.0), accuracy=accuracy)
    front = made.robot.body.length - made.robot.body.axle
    made = reaching(made, 0.0, 800.0 + front, 8.0)
    made = replace(made, robot=replace(made.robot, drive=replace(made.robot.drive, heading_from="gyro")))
    answer = unknown(made, 0.7, count=64)
    assert answer is not None
    assert answer.low < answer.high
    (accuracy_at,) = accuracies_at(accuracy, ("gyro.drift",), np.array([[END]]))
    assert accuracy_at.gyro.drift == pytest.approx(20.0)


def test_a_perfect_robot_that_nothing_is_said_of() -> None:
    assert unknown(run(Straight(500.0), accuracy=PERFECT), 1.0) is None
    empty = replace(robot(PERFECT), accuracy=Accuracy(between=Between(tests=2)))
    assert unknown(replace(run(Straight(500.0)), robot=empty), 1.0) is None
