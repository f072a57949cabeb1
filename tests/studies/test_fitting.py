"""Whether better is more than luck of the tests: closed forms, and what the answers say of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plans import STILL, open_floor, run
from scipy.stats import norm

from fieldsim.model import Accuracy, Act, Between, BiasBetween, Jig, Run, Straight, StraightNoise, Target
from fieldsim.report.advice import remedy_advice
from fieldsim.report.words.compare import difference_words
from fieldsim.report.words.jigs import jigs_text
from fieldsim.studies.compare import compare
from fieldsim.studies.fitting import Fitting, better
from fieldsim.studies.jigs import rank
from fieldsim.studies.own import own
from fieldsim.studies.remedies import remedies
from fieldsim.studies.unknown import successes


def test_the_share_of_robots_by_hand() -> None:
    """Four robots with 4 trials each. The written one has no difference on these, and is 0.1 ahead in all its trials;
    the others differ by +1/2, +1/2, -1/2, -1/2. The mean variance of one is 1/4 over 4 trials, 1/16; that of all four
    1/4, so sqrt(3)/2 of each is kept: two of four are ahead."""
    first = np.array([[0, 1, 0, 1], [1, 1, 0, 1], [1, 1, 1, 1], [0, 0, 0, 0], [0, 0, 0, 0]], dtype=bool)
    second = np.array([[1, 0, 0, 1], [0, 0, 0, 1], [0, 1, 1, 0], [0, 1, 0, 1], [1, 0, 1, 0]], dtype=bool)
    assert better(first, second, 0.1) == 0.5
    assert better(first, second, 2.0) == 1.0


def test_robots_that_differ_by_luck_alone_are_one_robot() -> None:
    rng = np.random.default_rng(3)
    first, second = rng.random((2, 33, 250)) < 0.5
    # Nothing of the spread is more than luck: all of them have the sign of the written one.
    assert better(first, second, 0.3) == 1.0
    assert better(first, second, -0.3) == 0.0


def to_bell(straight: float, between: Between | None) -> Run:
    """A straight of so many mm to a target whose tool point is right after 1000."""
    accuracy = Accuracy(straight=StraightNoise(stop=4.0), between=between)
    floor = replace(open_floor(), targets=(Target("bell", (2000.0 + 1000.0 + 110.0, 2000.0), within=6.0),))
    return run(Straight(straight), Act("bell"), accuracy=accuracy, field=floor)


OPEN = Between(tests=5, bias=BiasBetween(distance=(-0.01, 0.01)))


def test_for_as_many_robots_as_the_normal_tail_says() -> None:
    """1000 is better than 1004 where 1000 (1 + b) is nearer to 1000 than 1004 (1 + b) is: b above -0.002. The bias lies
    in +-0.01 (95 %), so it does with probability 0.652; 32 robots are steps of 0.03, and their luck moves a few."""
    right, long = to_bell(1000.0, OPEN), to_bell(1004.0, OPEN)
    wanted = norm.cdf(0.002 / (0.01 / 1.96))
    ahead = own(right).share.share - own(long).share.share
    assert ahead > 0.1
    fitting = Fitting()
    assert fitting.holds(right, long, ahead) == pytest.approx(wanted, abs=0.1)
    assert fitting.holds(long, right, -ahead) == pytest.approx(1.0 - wanted, abs=0.1)
    # Ten times as sure tests leave next to nothing open.
    sure = replace(OPEN, bias=BiasBetween(distance=(-0.001, 0.001)))
    assert fitting.holds(to_bell(1000.0, sure), to_bell(1004.0, sure), ahead) > 0.9  # type: ignore[operator]


def test_a_file_that_says_nothing_of_its_tests_leaves_nothing_to_tell() -> None:
    assert Fitting().holds(to_bell(1000.0, None), to_bell(1004.0, None), 0.1) is None


def test_robots_of_one_accuracy_are_the_same_and_driven_once(monkeypatch: pytest.MonkeyPatch) -> None:
    driven = []

    def counted(run: Run, *rest: object, **more: object) -> object:
        driven.append(run)
        return successes(run, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr("fieldsim.studies.fitting.successes", counted)
    fitting = Fitting()
    right, long, longer = (to_bell(straight, OPEN) for straight in (1000.0, 1004.0, 1008.0))
    for first, second in ((right, long), (right, longer), (long, longer)):
        fitting.holds(first, second, 0.1)
    assert driven == [right, long, longer]


def test_compare_says_that_the_tests_leave_it_open() -> None:
    answer = compare([to_bell(1000.0, OPEN), to_bell(1004.0, OPEN)], names=["right", "long"])
    (pair,) = answer.differences
    assert pair.truly == 1
    assert pair.holds == pytest.approx(0.65, abs=0.1)
    assert "right is better with the robot as written, but only for" in difference_words(pair)
    assert "of 10 robots that fit your tests, so they leave it open" in difference_words(pair)
    known = compare([to_bell(1000.0, None), to_bell(1004.0, None)], names=["right", "long"])
    assert "right is truly better" in difference_words(known.differences[0])


def test_remedies_say_for_how_many_robots_they_help() -> None:
    """Aimed 4 mm nearer it helps a robot as written; one that drives shorter than that it does not."""
    found = remedies(to_bell(1004.0, OPEN), trials=2000)
    assert found is not None
    best = found.good[0]
    assert best.holds is not None
    assert 0.3 < best.holds < 0.95
    assert "robots that fit your tests: they leave it open" in " ".join(remedy_advice(found))
    assert remedies(to_bell(1004.0, None), trials=2000).good[0].holds is None  # type: ignore[union-attr]


def test_jigs_name_no_start_the_best_where_the_tests_leave_it_open() -> None:
    """Two jigs at the same place but for 4 mm on the way, with the path kept."""
    made = to_bell(1000.0, OPEN)
    jigs = tuple(
        Jig(name, (2000.0 - 60.0 + x, 2070.0), 0.0, "rear left", STILL) for name, x in (("a", 0.0), ("b", 4.0))
    )
    made = replace(made, field=replace(made.field, jigs=jigs), start="a")
    answer = rank(made, keep="path")
    best, second = answer.jigs[:2]
    assert (best.jig, second.jig, best.holds) == ("a", "b", None)
    assert second.truly_behind
    assert second.holds == pytest.approx(0.65, abs=0.1)
    text = jigs_text(answer)
    assert "behind on the same trials" in text
    assert "what your tests leave open may turn it against b" in text
    assert "a is truly the best" not in text
