"""How far what is measured at the start may be off: by hand, and against drives from starts that are so far off.

All fields, robots and runs are invented.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import cos, pi, radians, sin
from pathlib import Path

import pytest
from plans import TYPICAL, robot

from fieldsim import load_run
from fieldsim.cards.run.card import make_card
from fieldsim.cards.run.check_words import limits_mean, set_words, tick_words
from fieldsim.cards.run.limits import Limits, limits
from fieldsim.cards.run.start import Flush, start_values
from fieldsim.model import Box, Field, Obstacle, Run, StartByEye, Straight
from fieldsim.studies.attempt import attempt
from fieldsim.studies.slack import Offset, Shifted, slack, start_limits
from fieldsim.studies.slack_answer import Edges, Ends, SlackAnswer

BAKERY = Path(__file__).parents[2] / "runs" / "bakery"


def by_eye(heading: float) -> Run:
    field = Field("Floor", (1200.0, 1000.0), obstacles=(Obstacle("post", Box((900.0, 620.0), (60.0, 60.0))),))
    return Run("By eye", field, robot(TYPICAL), StartByEye((300.0, 400.0), heading), (Straight(350.0),))


@cache
def off_of(heading: float) -> SlackAnswer:
    return slack(by_eye(heading), trials=400, need=0.3, maps=False, threads=1)


FREE = ("share", "share")


def edges(x: tuple[str, str] = FREE, y: tuple[str, str] = FREE) -> Edges:
    return Edges((-3.0, 5.0), (-2.0, 4.0), (-1.0, 2.0), Ends(x, y, FREE))


def test_square_to_the_walls_by_hand() -> None:
    """Looking to the right, being off from the left wall is being off along the heading, from the near one across."""
    start = start_values(by_eye(0.0))
    assert [measure.wall for measure in start.measures[:2]] == ["left wall", "near wall"]
    found = limits(start, replace(off_of(0.0), slack=edges()))
    assert found is not None
    assert (found.a, found.b, found.degrees) == (3.0, 2.0, 1.0)
    assert found.difference == pytest.approx(start.per_degree)
    # It stands against something behind it: it can only be off to the front.
    found = limits(start, replace(off_of(0.0), slack=edges(x=("stands against block", "share"))))
    assert found is not None
    assert found.a == 5.0
    found = limits(start, replace(off_of(0.0), slack=edges(x=("stands against block", "stands against post"))))
    assert found is not None
    assert found.a == 0.0


def test_looking_aslant_by_hand() -> None:
    """Looking 30 degrees to the left, 1 mm from the left wall is cos 30 mm ahead and sin 30 mm to the right."""
    start = start_values(by_eye(30.0))
    found = limits(start, replace(off_of(30.0), slack=edges()))
    assert found is not None
    c, s = cos(radians(30)), sin(radians(30))
    away, towards = 1 / (c / 5 + s / 2), 1 / (c / 3 + s / 4)
    assert found.a == pytest.approx(min(away, towards))
    assert found.b == pytest.approx(min(1 / (s / 5 + c / 4), 1 / (s / 3 + c / 2)))


@pytest.mark.parametrize("heading", [0.0, 20.0])
def test_from_as_far_off_as_told_it_still_gets_through(heading: float) -> None:
    of = by_eye(heading)
    start = start_values(of)
    off = slack(of, trials=2000, maps=False, threads=1)
    found = limits(start, off)
    assert found is not None
    shifted = Shifted(of)
    h = radians(heading)
    for limit, (x, y) in ((found.a, (1.0, 0.0)), (found.b, (0.0, 1.0))):
        assert limit > 1.0
        for far in (-limit, limit):
            ahead, left = x * cos(h) + y * sin(h), y * cos(h) - x * sin(h)
            share = shifted.success(Offset(far * ahead, far * left), 2000, 1, 1).mean()
            # Two standard deviations of such a share at the most.
            assert share >= found.need - 0.025


def test_what_lies_flat_is_seen_without_a_ruler() -> None:
    """The robot's rear on the near wall and its left side on a block, from the fields' own numbers."""
    start = start_values(load_run(BAKERY / "flour-round.yaml"))
    assert start.flush == (Flush("rear", "near wall"), Flush("left side", "corner stop"))
    assert start_values(load_run(BAKERY / "mill-hatch.yaml")).flush == (
        Flush("front", "dough stop"), Flush("left side", "dough stop"),
    )  # fmt: skip
    assert start_values(by_eye(0.0)).flush == ()
    # A block that only touches a corner is nothing to lie on.
    of = by_eye(0.0)
    b = of.robot.body
    corner = (300.0 + b.length - b.axle, 400.0 + b.width / 2)
    at = Obstacle("at the corner", Box((corner[0] + 20.0, corner[1] + 20.0), (40.0, 40.0)))
    assert start_values(replace(of, field=replace(of.field, obstacles=(at,)))).flush == ()
    beside = Obstacle("beside", Box((corner[0] - 20.0, corner[1] + 20.0), (40.0, 40.0)))
    assert start_values(replace(of, field=replace(of.field, obstacles=(beside,)))).flush == (
        Flush("left side", "beside"),
    )


def test_what_needs_no_ruler_comes_first_and_each_measure_has_its_limit() -> None:
    of = load_run(BAKERY / "flour-round.yaml")
    tried = attempt(of, trials=2000, keep=2000, threads=1)
    told = make_card(tried, "flour-round.yaml", off=start_limits(of, 2000, 1, 1))
    assert told.limits is not None
    lines = [" ".join(line.split()) for line in set_words(told, shortly=True)]
    assert lines == [
        "Rear left corner home in corner block", "Rear on the near wall: no light",
        "Left side on the corner stop: no light", "It looks straight at the far wall",
        "A 60 mm, give or take 1" if told.limits.a >= 1 else "A 60 mm, give or take half a mm",
        "Jig left or off, as the rules say",
    ]  # fmt: skip
    assert f"{int(1000 * told.limits.need)} in 1000" in limits_mean(told)
    # Its rear lies on the wall, so the front corner's distance tells the heading, and that is what counts: 0.34 degrees
    # seen over the 170 mm of its side.
    assert told.limits.a == told.limits.difference == pytest.approx(170 * pi / 180 * told.limits.degrees)
    assert told.limits.a < told.limits.b
    # By eye all three are measured, and the heading by two of them.
    eye = by_eye(10.0)
    card = make_card(attempt(eye, trials=400, keep=400, threads=1), off=off_of(10.0))
    assert card.limits is not None
    lines = set_words(card, shortly=True)
    assert [line[0] for line in lines[2:5]] == ["A", "B", "C"]
    assert "give or take" in lines[5] or "exactly" in lines[5]
    # Without limits nothing is said of them.
    assert not any("give or take" in line for line in tick_words(make_card(tried)))


def test_a_run_that_hardly_gets_through_has_no_limits() -> None:
    of = replace(by_eye(0.0), segments=(Straight(1500.0),))
    off = start_limits(of, 400, 1, 1)
    assert off.hopeless
    assert limits(start_values(of), off) is None


@pytest.mark.parametrize(
    ("limit", "words"),
    [(0.2, "A 60 mm, exactly"), (0.7, "A 60 mm, give or take half a mm"), (1.99, "A 60 mm, give or take 1"),
     (80.0, "A 60 mm, give or take 30")],
)  # fmt: skip
def test_limits_are_rounded_down_and_not_wider_than_need_be(limit: float, words: str) -> None:
    of = load_run(BAKERY / "flour-round.yaml")
    card = make_card(attempt(of, trials=100, keep=100, threads=1))
    told = replace(card, limits=Limits(0.7, limit, limit, limit, 1.0))
    assert words in [" ".join(line.split()) for line in set_words(told, shortly=True)]
