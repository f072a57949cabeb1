"""Runs against each other on the same draws. All fields invented."""

from __future__ import annotations

from dataclasses import replace
from math import nan

import numpy as np
import pytest
from plans import PERFECT, STILL, TYPICAL, cluttered, open_floor, robot, run

from fieldsim import load_run, simulate
from fieldsim.answers import to_json
from fieldsim.model import (
    Act,
    Box,
    Field,
    Obstacle,
    Run,
    Square,
    StartArea,
    StartByEye,
    Straight,
    StraightNoise,
    Target,
    Turn,
)
from fieldsim.report.phrases import lost_words
from fieldsim.report.words.compare import compare_text, difference_words
from fieldsim.sim.failures import Failure, counted, failures
from fieldsim.stats.intervals import Share, paired_difference
from fieldsim.studies.compare import DifferenceAnswer, compare
from fieldsim.studies.own import LostAnswer

FLOUR, BELL = "runs/bakery/flour-round.yaml", "runs/bakery/yard-bell.yaml"


def test_counts_and_interval_are_those_of_the_trials_side_by_side() -> None:
    runs = [load_run(path) for path in (FLOUR, BELL)]
    answer = compare(runs, trials=3000, seed=5)
    a, b = (simulate(each, 3000, seed=5).success for each in runs)
    (pair,) = answer.differences
    assert (pair.only_first, pair.only_second) == (int((a & ~b).sum()), int((b & ~a).sum()))
    wanted = paired_difference(int((a & b).sum()), pair.only_first, pair.only_second, int((~a & ~b).sum()))
    assert pair.difference == wanted
    assert [each.success.share for each in answer.runs] == [a.mean(), b.mean()]


def test_a_run_against_itself_differs_in_no_trial() -> None:
    one = cluttered(3)
    (pair,) = compare([one, one], names=["a", "b"], trials=1000).differences
    assert (pair.only_first, pair.only_second, pair.difference.share, pair.truly) == (0, 0, 0.0, 0)


def test_common_draws_find_what_two_intervals_hide() -> None:
    """A post 12 mm beyond the end against one 12.6 mm beyond it, stop error sd 6 mm: shares some 0.02 apart."""
    noise = replace(PERFECT, straight=StraightNoise(stop=6.0))
    runs = [
        run(
            Straight(300),
            accuracy=noise,
            field=open_floor((4000, 4000), Obstacle("post", Box((x, 2000.0), (10.0, 10.0)))),
        )
        for x in (2427.0, 2427.6)
    ]
    answer = compare(runs, names=["near", "far"], trials=6000)
    near, far = (each.success for each in answer.runs)
    assert near.high > far.low
    assert answer.differences[0].truly == -1
    # Whoever gets through with the nearer post does with the farther one.
    assert answer.differences[0].only_first == 0


def test_three_runs_make_three_pairs() -> None:
    runs = [cluttered(seed) for seed in (1, 2, 3)]
    answer = compare(runs, names=["one", "two", "three"], trials=500)
    assert [(pair.first, pair.second) for pair in answer.differences] == [
        ("one", "two"), ("one", "three"), ("two", "three"),
    ]  # fmt: skip
    with pytest.raises(ValueError, match="nothing to compare"):
        compare(runs[:1])


# --- what went wrong first -----------------------------------------------------------------------------------------


def failing(*segments: object, **rest: object) -> Failure | None:
    box = Obstacle("box", Box((1000.0, 500.0), (100.0, 100.0)))
    field = Field(
        "Yard", (2000.0, 1000.0), obstacles=(box,),
        start_areas=(StartArea("home", Box((300.0, 500.0), (400.0, 400.0))),),
        targets=(Target("bell", (600.0, 500.0), 10.0), Target("gong", (700.0, 500.0), 10.0)),
    )  # fmt: skip
    plan = Run("Test", field, robot(PERFECT), StartByEye((300.0, 500.0), 0.0, STILL), segments, **rest)  # type: ignore[arg-type]
    (found,) = failures(simulate(plan, 1))
    return found


def test_the_first_thing_that_goes_wrong_is_told() -> None:
    # The tool is the middle of the front face, 110 mm ahead: at 600 after 190 mm.
    assert failing(Straight(190), Act("bell")) is None
    assert failing(Straight(150), Act("bell"), Straight(600)) == Failure("misses", "bell", 2)
    assert failing(Straight(190), Act("bell"), Straight(600)) == Failure("touches", "box", 3)
    assert failing(Straight(190), Act("bell"), Act("gong")) == Failure("misses", "gong", 3)
    assert failing(Straight(600), Act("bell")) == Failure("touches", "box", 1)
    assert failing(Straight(190), finish="home") == Failure("ends outside", "home", 1)
    assert failing(Turn(180), Square("front", "left wall", 50.0), Act("bell")) == Failure("not reached", "left wall", 2)
    assert failing(Turn(180), Square("front", "left wall", 400.0), Act("bell")) == Failure("misses", "bell", 3)


def test_failures_are_exactly_the_trials_that_do_not_get_through() -> None:
    for path in (FLOUR, BELL):
        trials = simulate(load_run(path), 2000)
        found = failures(trials)
        assert [each is None for each in found] == trials.success.tolist()
        assert sum(count for _, count in counted(found)) == int((~trials.success).sum())
        counts = [count for _, count in counted(found)]
        assert counts == sorted(counts, reverse=True)


def test_counts_among_some_trials_only() -> None:
    one, two = Failure("touches", "mill", 3), Failure("misses", "bell", 5)
    found = [one, None, two, one]
    assert counted(found, np.array([True, True, True, False])) == [(one, 1), (two, 1)]


def test_examples_can_be_looked_at() -> None:
    """The numbers are those `try --trial` takes: trial 1 is the first."""
    runs = [load_run(path) for path in (FLOUR, BELL)]
    answer = compare(runs, trials=2000)
    trials = simulate(runs[1], 2000)
    for lost in answer.differences[0].second_lost:
        for number in lost.examples:
            assert failures(trials.row(number - 1)) == [Failure(lost.why, lost.what, lost.segment)]


# --- words ---------------------------------------------------------------------------------------------------------


def invented(low: float, share: float, high: float) -> DifferenceAnswer:
    truly = 1 if low > 0 else -1 if high < 0 else 0
    return DifferenceAnswer("A", "B", Share(share, low, high), truly, None, 30, 10, (), ())


@pytest.mark.parametrize(
    ("pair", "words"),
    [
        (invented(0.011, 0.02, 0.029), "A against B: 20 in 1000 more get through (between 11 and 29): A is truly"),
        (invented(-0.029, -0.02, -0.011), "20 in 1000 fewer get through (between 11 and 29): B is truly better."),
        (invented(-0.004, 0.003, 0.01), "3 in 1000 more get through (between -4 and 10): that may be luck"),
        (invented(-0.01, -0.003, 0.004), "3 in 1000 fewer get through (between -4 and 10): that may be luck"),
    ],
)  # fmt: skip
def test_differences_in_words(pair: DifferenceAnswer, words: str) -> None:
    assert words in difference_words(pair)


def test_what_was_lost_in_words() -> None:
    assert lost_words(LostAnswer("touches", "mill", 3, 5, (1,))) == "touches mill on segment 3"
    assert (
        lost_words(LostAnswer("too skew", "far wall", 2, 5, (1,))) == "does not catch far wall on segment 2 (too skew)"
    )


def test_the_text_names_both_runs_and_json_is_plain() -> None:
    answer = compare([load_run(path) for path in (FLOUR, BELL)], trials=500)
    text = compare_text(answer)
    assert "trials get through only as Yard bell" in text
    assert "misses flour lid on segment 6" in text
    assert to_json(answer)["differences"][0]["first"] == "Flour round"
    none_ended = compare([run(Straight(3000)), run(Straight(2900))], names=["a", "b"], trials=10)
    assert to_json(none_ended)["runs"][0]["seconds"] is None
    assert str(nan) not in compare_text(none_ended)


def test_draws_follow_the_segment_not_the_plan() -> None:
    """Two plans that part on segment 3 are the same trial until then."""
    one = run(Straight(300), Turn(90), Straight(200), accuracy=TYPICAL)
    other = run(Straight(300), Turn(90), Turn(-45), accuracy=TYPICAL)
    a, b = (simulate(each, 200, seed=3) for each in (one, other))
    assert (a.poses[:, :3] == b.poses[:, :3]).all()
    assert not (a.poses[:, 3] == b.poses[:, 3]).all()
