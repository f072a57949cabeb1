"""Shares of variance and of failures: a standard test function, a general-purpose library, plans solved by hand."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, radians, sin, sqrt

import numpy as np
import pytest
from plans import PERFECT, TYPICAL, cluttered, open_floor, run
from scipy.stats import sobol_indices

from fieldsim import load_run, simulate
from fieldsim.answers import to_json
from fieldsim.model import (
    Accuracy,
    Act,
    Box,
    GyroNoise,
    Obstacle,
    OtherTable,
    Run,
    Spread,
    Square,
    SquareNoise,
    Straight,
    StraightNoise,
    Systematic,
    Target,
    Turn,
    TurnNoise,
)
from fieldsim.report.words.causes import ERRORS, causes_text
from fieldsim.sim.plan import plan
from fieldsim.studies.causes import CausesAnswer, causes, indices
from fieldsim.studies.changes import squares
from fieldsim.studies.sources import sources


def ishigami(x: np.ndarray) -> np.ndarray:
    """sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, inputs uniform from -pi to pi, (3, N)."""
    value: np.ndarray = np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])
    return value


def mixed(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """The outputs for the first inputs with one after another taken from the second, (3, N)."""
    rows = []
    for k in range(len(a)):
        x = a.copy()
        x[k] = b[k]
        rows.append(ishigami(x))
    return np.array(rows)


def test_published_indices_of_a_standard_function() -> None:
    """First order 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437.

    Source: T. Ishigami and T. Homma, "An importance quantification technique in uncertainty analysis for computer
    models", ISUMA 1990; values as in A. Saltelli et al., Global Sensitivity Analysis: The Primer, 2008 (from memory;
    they follow from V = 7^2/8 + 0.1 pi^4/5 + 0.01 pi^8/18 + 1/2 by hand, which is checked here too).
    """
    variance = 49 / 8 + 0.1 * pi**4 / 5 + 0.01 * pi**8 / 18 + 0.5
    one = 0.5 * (1 + 0.1 * pi**4 / 5) ** 2 / variance
    two = 49 / 8 / variance
    both = (8 * 0.01 * pi**8 / 225) / variance
    assert [one, two, one + both, both] == pytest.approx([0.3139, 0.4424, 0.5576, 0.2437], abs=5e-5)
    rng = np.random.default_rng(1)
    a, b = rng.uniform(-pi, pi, (2, 3, 400_000))
    first, total, *_ = indices(ishigami(a), ishigami(b), mixed(a, b))
    assert first == pytest.approx([one, two, 0.0], abs=0.01)
    assert total == pytest.approx([one + both, two, both], abs=0.01)


def test_the_same_as_a_general_purpose_library() -> None:
    rng = np.random.default_rng(2)
    a, b = rng.uniform(-pi, pi, (2, 3, 1024))
    outputs = ishigami(a), ishigami(b), mixed(a, b)
    first, total, *_ = indices(*outputs)
    f_a, f_b, f_ab = outputs
    theirs = sobol_indices(func={"f_A": f_a[None], "f_B": f_b[None], "f_AB": f_ab[:, None]}, n=1024)
    assert first == pytest.approx(np.ravel(theirs.first_order), abs=1e-12)
    assert total == pytest.approx(np.ravel(theirs.total_order), abs=1e-12)


def shares(answer: CausesAnswer, of: str) -> dict[tuple[str, int], tuple[float, float]]:
    return {(each.source, each.segment): (each.first, each.total) for each in answer.spread if each.of == of}


def test_a_linear_run_by_hand() -> None:
    """Heading at the end is the sum of three independent parts, so its shares are their squares; so is x.

    Start 0.6 degrees, turn stop 0.8 and slip 0.5 (a quarter turn): 0.36, 0.64, 0.25 of 1.25.
    """
    accuracy = Accuracy(turn=TurnNoise(stop=0.8, slip=0.5), straight=StraightNoise(stop=2.0))
    plan_ = run(Turn(90), Straight(100), accuracy=accuracy, spread=Spread(1.0, 0.0, 0.6))
    answer = causes(plan_, trials=20_000, mend=False)
    found = shares(answer, "finish heading")
    wanted = {
        ("placing heading at the start", 0): 0.36 / 1.25,
        ("stop of the turn", 1): 0.64 / 1.25,
        ("slip in the turn", 1): 0.25 / 1.25,
        ("stop of the straight", 2): 0.0,
        ("placing along at the start", 0): 0.0,
    }
    assert found.keys() == wanted.keys()
    for key, share in wanted.items():
        # The error of a first-order share at 20,000 trials is below 0.012.
        assert found[key] == (pytest.approx(share, abs=0.04), pytest.approx(share, abs=0.04))
    # Along y (the way of the last straight): its stop alone, 2 mm; the rest is second order.
    assert shares(answer, "finish y")["stop of the straight", 2][0] == pytest.approx(1.0, abs=0.05)
    sd = next(sd for of, sd, _ in answer.sds if of == "finish heading")
    assert sd == pytest.approx(sqrt(1.25), rel=0.02)


def test_intervals_of_indices_hold_the_truth_in_95_of_100() -> None:
    """y = 2 u + v + u v with standard normal inputs: variance 4 + 1 + 1; first orders 4/6 and 1/6, totals 5/6 and 2/6.
    400 studies of 500 trials: 92 to 98 % (three standard deviations are 3.3)."""
    rng = np.random.default_rng(5)

    def y(z: np.ndarray) -> np.ndarray:
        return 2 * z[0] + z[1] + z[0] * z[1]

    held = np.zeros((2, 2))
    for _ in range(400):
        one, other = rng.standard_normal((2, 2, 500))
        mixed = []
        for k in range(2):
            both = one.copy()
            both[k] = other[k]
            mixed.append(y(both))
        found = indices(y(one), y(other), np.array(mixed))
        held[0] += np.abs(found.first - [4 / 6, 1 / 6]) <= found.first_half
        held[1] += np.abs(found.total - [5 / 6, 2 / 6]) <= found.total_half
    assert (held / 400 > 0.91).all()
    assert (held / 400 < 0.985).all()


def test_sums_of_first_order_are_at_most_one_and_totals_at_least_first() -> None:
    answer = causes(cluttered(3), trials=4000, mend=False)
    for of in {each.of for each in answer.spread}:
        pairs = np.array(list(shares(answer, of).values()))
        assert pairs[:, 0].sum() < 1.1
        assert (pairs[:, 1] > pairs[:, 0] - 0.12).all()


def test_failures_of_one_source_alone_and_of_all_but_it() -> None:
    """A post 10 mm ahead of the stop (error sd 5) and boxes 12 mm to either side (placing sd 6): independent, so that
    alone each fails as often as its own normal tail says, and without one the other is left."""
    from math import erf

    accuracy = Accuracy(straight=StraightNoise(stop=5.0))
    things = (
        Obstacle("post", Box((2425.0, 2000.0), (10.0, 10.0))),
        Obstacle("left box", Box((2200.0, 2087.0), (300.0, 10.0))),
        Obstacle("right box", Box((2200.0, 1913.0), (300.0, 10.0))),
    )
    plan_ = run(Straight(300), accuracy=accuracy, spread=Spread(0.0, 6.0, 0.0), field=open_floor((4000, 4000), *things))
    answer = causes(plan_, trials=20_000, mend=False)
    found = {each.source: each for each in answer.failures}
    stop = 0.5 * (1 - erf(10 / 5 / sqrt(2)))
    side = 1 - erf(12 / 6 / sqrt(2))
    both = 1 - (1 - stop) * (1 - side)
    for source, alone, without in (("stop of the straight", stop, side), ("placing across at the start", side, stop)):
        assert found[source].alone.share == pytest.approx(alone, abs=0.006)
        assert found[source].without.share == pytest.approx(without, abs=0.006)
        assert found[source].worth.share == pytest.approx(both - without, abs=0.006)
    assert [each.source for each in answer.failures] == ["placing across at the start", "stop of the straight"]
    assert answer.quiet


def test_every_row_of_drawn_numbers_that_does_anything_belongs_to_one_source() -> None:
    gyro = GyroNoise(0.5, 0.002, 0.3)
    accuracy = replace(TYPICAL, gyro=gyro, square=SquareNoise(0.3, 0.5))
    wheels = run(Straight(300), Turn(90), Square("front", "far wall", 3000.0), accuracy=accuracy, spread=Spread())
    steered = replace(wheels, robot=replace(wheels.robot, drive=replace(wheels.robot.drive, heading_from="gyro")))
    moved = OtherTable(1.0, 0.0, 0.0)
    table = replace(
        open_floor((4000.0, 4000.0), Obstacle("mill", Box((3000.0, 3000.0), (50.0, 50.0)), spread=moved)),
        targets=(Target("lever", (500.0, 500.0), 9.0, spread=moved), Target("bell", (600.0, 500.0), 9.0, spread=moved)),
        mat=moved,
    )
    elsewhere = replace(wheels, field=table, segments=(*wheels.segments, Act("bell")))
    for plan_ in (wheels, steered, elsewhere):
        ready = plan(plan_)
        rows = [row for source in sources(plan_, ready.drivetrain) for row in source.rows]
        assert sorted(rows) == sorted(set(rows))
        # What drives: placing 3, and all others but the day's veer and turn, which a gyro steers away... they are drawn
        # and named all the same.
        assert set(rows) == set(range(ready.drivetrain.rows))
    names = {source.words for source in sources(steered, plan(steered).drivetrain)}
    assert {"gyro's drift", "gyro's scale", "heading held on the straight", "heading left by the square"} <= names
    found = sources(elsewhere, plan(elsewhere).drivetrain)
    assert [source.words for source in found][-3:] == ["how the mat lies", "where mill stands", "where bell is"]
    assert {source.segment for source in found[-3:]} == {0}


def test_a_model_that_stands_elsewhere_is_named_as_what_breaks_the_run() -> None:
    """10 mm before it, placed 5 mm give or take by whoever set up the table: every failure is that, alone and all."""
    post = Obstacle("post", Box((2470.0, 2000.0), (100.0, 400.0)), spread=OtherTable(x=5.0))
    plan_ = run(Straight(300), spread=Spread(0.1, 0.1, 0.0), field=open_floor((4000, 4000), post))
    answer = causes(plan_, trials=4000, mend=False)
    (first, *_) = answer.failures
    assert first.source == "where post stands"
    assert first.alone.share == pytest.approx(0.02275, abs=0.009)
    assert first.without.share == 0.0


def test_a_source_with_no_spread_is_no_source() -> None:
    plan_ = run(Straight(300), accuracy=Accuracy(day=Systematic(distance=0.01)), spread=Spread(0.0, 1.0, 0.0))
    assert [source.words for source in sources(plan_, plan(plan_).drivetrain)] == [
        "placing across at the start", "distance of the day",
    ]  # fmt: skip


def test_a_square_that_is_worth_it_is_found_and_its_gain_is_true() -> None:
    """The oven lever begins with a long straight and a turn beside the left wall: a square there is what it lacks."""
    plan_ = load_run("runs/bakery/oven-lever.yaml")
    answer = causes(plan_, trials=2000)
    best = max(answer.mends, key=lambda mend: mend.gain.share)
    assert "'square: rear, against: left wall" in best.what
    assert best.gain.low > 0.1
    assert answer.success == simulate(plan_, 2000).share


def test_without_noise_nothing_has_a_cause() -> None:
    answer = causes(run(Straight(300), accuracy=PERFECT), trials=100)
    assert (answer.spread, answer.failures, answer.mends, answer.quiet) == ((), (), (), True)
    assert "no single one is more than luck" in causes_text(answer)


def test_a_plan_that_fails_by_itself_is_told() -> None:
    post = Obstacle("post", Box((2300.0, 2000.0), (10.0, 10.0)))
    answer = causes(run(Straight(300), accuracy=TYPICAL, field=open_floor((4000, 4000), post)), trials=200)
    assert not answer.quiet
    assert "It fails without any noise, too" in causes_text(answer)


def test_threads_change_nothing_and_json_is_plain() -> None:
    plan_ = cluttered(3)
    one, two = (causes(plan_, trials=2000, threads=threads, mend=False) for threads in (1, 2))
    assert one == two
    said = to_json(one)
    assert said["spread"][0].keys() == {
        "of",
        "source",
        "segment",
        "first",
        "first_low",
        "first_high",
        "total",
        "total_low",
        "total_high",
    }
    assert "mends" in said
    assert said["failures"][0].keys() >= {"source", "segment", "alone", "without"}


def test_words_name_the_segment() -> None:
    answer = causes(load_run("runs/bakery/flour-round.yaml"), trials=1000)
    text = causes_text(answer)
    assert "slip in the turn, segment 2" in text
    assert "What a change is worth" in text
    assert "What breaks the run most often: the wheels slip on segment 2" in text
    assert "Tried on fresh trials: after segment 2 'square: rear, against: left wall" in text
    assert "no better than as it is" in text


def test_the_segment_that_is_named_is_told_as_a_team_sees_it() -> None:
    """Every kind of noise has its sentence."""
    gyro = GyroNoise(0.5, 0.002, 0.3)
    accuracy = replace(TYPICAL, gyro=gyro, square=SquareNoise(0.3, 0.5))
    wheels = run(Straight(300), Turn(90), Square("front", "far wall", 3000.0), accuracy=accuracy, spread=Spread())
    steered = replace(wheels, robot=replace(wheels.robot, drive=replace(wheels.robot.drive, heading_from="gyro")))
    kinds = {each.kind for plan_ in (wheels, steered) for each in sources(plan_, plan(plan_).drivetrain)}
    assert kinds <= ERRORS.keys()
    assert len(kinds) > 12


# --- remedies, and what is near ------------------------------------------------------------------------------------


def beside(gap: float, **rest: object) -> Run:
    """A straight of 600 mm with a long wall on either side, so far from the body's sides."""
    rails = tuple(
        Obstacle(name, Box((2300.0, 2000.0 + side * (70.0 + gap + 50.0)), (3000.0, 100.0)))
        for name, side in (("left rail", 1), ("right rail", -1))
    )
    return run(Straight(600), field=open_floor((4000, 4000), *rails), **rest)  # type: ignore[arg-type]


def test_what_was_tried_in_vain_is_told() -> None:
    """A walk of the heading does not ask for the speed, so half of it gains exactly nothing; a gyro drifts by the
    clock, so half the speed is twice the drift."""
    answer = causes(beside(4.0, accuracy=Accuracy(straight=StraightNoise(veer=0.5))), trials=500)
    assert answer.remedies is not None
    assert answer.remedies.good == ()
    (slower,) = [each for each in answer.remedies.vain if each.kind == "half speed"]
    assert slower.worth.share == 0.0
    assert slower.worth.low < 0 < slower.worth.high
    assert answer.mends[0].gain == answer.remedies.vain[0].worth
    assert "Nothing that was tried makes it better:" in causes_text(answer)
    drifting = beside(12.0, accuracy=Accuracy(gyro=GyroNoise(drift=30.0, hold=1.0)))
    drifting = replace(
        drifting, robot=replace(drifting.robot, drive=replace(drifting.robot.drive, heading_from="gyro"))
    )
    worse = causes(drifting, trials=500)
    assert any(each.segment == 1 and each.worth.share > 0 for each in worse.failures)
    assert worse.remedies is not None
    assert all(each.kind != "half speed" for each in worse.remedies.good)


@pytest.mark.parametrize(("heading", "offered"), [(10.0, True), (14.0, False)])
def test_no_square_is_tried_from_a_skew_angle(heading: float, offered: bool) -> None:
    """A square takes up to 15 degrees; one that has to is no remedy."""
    # A post 4 mm beside the left side, 300 mm on.
    c, si = cos(radians(heading)), sin(radians(heading))
    post = Obstacle(
        "post", Box((3200.0 + 300.0 * c - 79.0 * si, 2000.0 + 300.0 * si + 79.0 * c), (10.0, 10.0), heading)
    )
    floor = open_floor((4000, 4000), post)
    plan_ = run(
        Straight(500), Straight(-100), accuracy=Accuracy(straight=StraightNoise(veer=3.0)), at=(3200.0, 2000.0),
        heading=heading, field=floor,
    )  # fmt: skip
    assert any("against: right wall" in each.words(plan_) for each in squares(plan_, 2)) == offered


def test_what_is_mostly_beyond_the_horizon_is_not_told_as_near() -> None:
    """200 mm are followed: one rail at 100 mm, the other at 203, nearer than that in a third of the trials only."""
    near = Obstacle("near rail", Box((2300.0, 2000.0 + 70.0 + 100.0 + 50.0), (3000.0, 100.0)))
    far = Obstacle("far rail", Box((2300.0, 2000.0 - 70.0 - 203.0 - 50.0), (3000.0, 100.0)))
    plan_ = run(Straight(300), spread=Spread(0.0, 7.0, 0.0), field=open_floor((4000, 4000), near, far))
    gaps = simulate(plan_, 300).clearance
    assert ((gaps < 200).mean(axis=0) > 0.2).all()
    told = {each.of for each in causes(plan_, trials=300, mend=False).spread}
    assert "gap to near rail" in told
    assert "gap to far rail" not in told
