"""A run that hardly gets through is none to vary: slack, widths and jigs say what stops it, and promise nothing."""

from __future__ import annotations

from dataclasses import replace
from math import erf, sqrt

import pytest
from plans import STILL, open_floor, run
from scipy.optimize import brentq

from fieldsim.answers import to_json
from fieldsim.draw import draw_slack, draw_widths
from fieldsim.model import Accuracy, Box, Jig, Obstacle, Run, Spread, Straight, StraightNoise
from fieldsim.report.words.jigs import jigs_text
from fieldsim.report.words.slack import headline, slack_text
from fieldsim.report.words.widths import widths_headline, widths_text
from fieldsim.studies.jigs import rank
from fieldsim.studies.slack import FARTHEST, slack
from fieldsim.studies.widths import widths


def gate(room: float, spread: float = 1.0) -> Run:
    """A straight of 800 mm between two posts, with ``room`` mm to either side of a body of 140 mm."""
    posts = tuple(
        Obstacle(name, Box((2600.0, 2000.0 + side * (70.0 + room + 20.0)), (40.0, 40.0)))
        for name, side in (("left post", 1), ("right post", -1))
    )
    floor = open_floor((4000.0, 4000.0), *posts)
    veer = Accuracy(straight=StraightNoise(veer=0.1))
    return run(Straight(800.0), accuracy=veer, field=floor, spread=Spread(0.0, spread, 0.0))


def test_slack_of_a_run_that_never_gets_through_varies_nothing() -> None:
    answer = slack(gate(-10.0), trials=500)
    assert answer.hopeless
    assert answer.maps == ()
    assert answer.lost is not None
    assert (answer.lost.why, answer.lost.segment) == ("touches", 1)
    text = slack_text(answer, 400)
    assert "Set as planned it gets through none of 500" in text
    assert "Most often it touches" in text
    assert "mend the run first (fieldsim try RUN)" in text
    assert "Each alone" not in text
    assert to_json(answer)["hopeless"] is True
    assert draw_slack(answer, headline(answer)) is not None


def test_a_share_that_was_asked_for_is_looked_for_however_small() -> None:
    """4 mm beside both posts, set to 30 mm: it gets through in about one of ten or twenty."""
    made = gate(1.0, spread=30.0)
    assert slack(made, trials=500, maps=False).hopeless
    asked = slack(made, trials=500, maps=False, need=0.02)
    assert not asked.hopeless
    assert asked.slack.x[1] > 0


def test_the_farthest_that_was_looked_at_is_no_promise() -> None:
    """Nothing is near: the limit is not told as if it were one."""
    answer = slack(run(Straight(100.0)), trials=100, maps=False)
    assert answer.slack.ends.x == ("no end", "no end")
    assert answer.slack.x == (-FARTHEST["x"], FARTHEST["x"])
    text = slack_text(answer, 200)
    assert "no limit within 150.0 mm, the farthest that was looked at" in text
    assert "No error of the start that was looked at, each alone, takes it under 900 in 1000." in text
    assert "more than" not in text
    assert "all there is" not in text


def test_luck_moves_an_edge_by_the_shares_interval_over_its_slope() -> None:
    """Placed across with sd 3 in a gate of 10 mm to either side, off by y: closed form as in the slack tests. The edges
    of the interval's ends lie where the share is the wanted one less or more half an interval."""
    answer = slack(gate(10.0, spread=3.0), need=0.8, trials=4000, maps=False)
    (_, _), (nearer, farther) = answer.luck.y
    half = 1.96 * sqrt(0.8 * 0.2 / 4000)

    def share(off: float) -> float:
        # The veer adds little: 0.1 degrees over 0.8 m.
        sd = sqrt(9.0 + (800.0 * 0.1 * sqrt(0.8) * 3.1416 / 180.0) ** 2 / 3.0)
        return 0.5 * (erf((10.0 - off) / sd / sqrt(2)) + erf((10.0 + off) / sd / sqrt(2)))

    wanted = [brentq(lambda off, need=need: share(off) - need, 0.0, 15.0) for need in (0.8 + half, 0.8 - half)]
    assert nearer < answer.slack.y[1] < farther
    assert farther - nearer == pytest.approx(wanted[1] - wanted[0], rel=0.35)
    assert "(luck could make it" in slack_text(answer)


def test_widths_of_a_run_that_never_gets_through_looks_at_smaller_ones_and_asks() -> None:
    """A gate of 80 mm for a body of 140: 0.4 of that, 56 mm, goes through."""
    answer = widths(gate(-30.0), trials=300)
    assert answer.hopeless
    assert answer.widest is None
    assert answer.values[0].value == 56
    said = widths_headline(answer)
    assert said.startswith("As it is (140 mm) it gets through none of 300")
    assert "Most often it touches" in said
    assert "is the best:" in said
    assert "Say with --need which share is enough" in said
    assert to_json(answer)["need"] is None
    assert draw_widths(answer, said, "body width") is not None
    asked = widths(gate(-30.0), trials=300, need=0.9)
    assert asked.widest is not None
    # 80 mm less 2 mm or so of noise to either side.
    assert 70 <= asked.widest.value <= 80


def test_widths_where_no_value_helps_says_so() -> None:
    post = Obstacle("post", Box((2500.0, 2000.0), (40.0, 40.0)))
    made = run(Straight(800.0), field=open_floor((4000.0, 4000.0), post))
    text = widths_text(widths(made, trials=50), 300)
    assert "No other body width that was looked at is better: mend the run first" in text
    assert "get through often enough" not in text


def test_widths_names_the_failure_that_grows() -> None:
    """A post ahead is touched in 40 of 100 whatever the width; the gate's posts are touched more as it gets wider, but
    less often than that one."""
    made = gate(14.0, spread=4.0)
    post = Obstacle("post ahead", Box((2000.0 + 110.0 + 803.0 + 20.0, 2000.0), (40.0, 40.0)))
    accuracy = Accuracy(straight=StraightNoise(stop=10.0))
    made = replace(
        made, field=replace(made.field, obstacles=(*made.field.obstacles, post)),
        robot=replace(made.robot, accuracy=accuracy),
    )  # fmt: skip
    answer = widths(made, trials=1000, low=140, high=170, step=10)
    wider = next(each for each in answer.values if each.value == 160)
    assert wider.lost is not None
    assert "post" in wider.lost.what
    assert wider.lost.what != "post ahead"
    now = next(each for each in answer.values if each.value == 140)
    assert now.lost is not None
    assert now.lost.what == "post ahead"
    assert now.lost.count > wider.lost.count


def test_jigs_of_a_run_that_never_gets_through_names_no_best() -> None:
    made = gate(-10.0)
    jigs = tuple(Jig(name, (1940.0 + x, 2070.0), 0.0, "rear left", STILL) for name, x in (("a", 0.0), ("b", 40.0)))
    made = replace(made, field=replace(made.field, jigs=jigs), start="a")
    answer = rank(made, keep="path", trials=300)
    assert answer.lost is not None
    text = jigs_text(answer, 300)
    assert "It gets through from none of them: none of 300" in text
    assert "Most often it touches" in text
    assert "There is nothing to choose by yet" in text
    assert "Best start" not in text
    assert "coin toss" not in text
