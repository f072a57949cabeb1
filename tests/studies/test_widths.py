"""The share against one measure of the base: corridors whose widest body is known in closed form. All invented."""

from __future__ import annotations

from dataclasses import replace
from math import erf, sqrt

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import PERFECT, STILL, TYPICAL, cluttered, robot
from scipy.optimize import brentq

from fieldsim import load_run, simulate
from fieldsim.model import (
    Act,
    Box,
    Field,
    Jig,
    Obstacle,
    Run,
    Spread,
    StartByEye,
    Straight,
    StraightNoise,
    Target,
)
from fieldsim.model.errors import PlanError
from fieldsim.report.words.widths import widths_headline, widths_text
from fieldsim.sim.motion import start_pose
from fieldsim.studies.widths import grid, value_of, varied, widths


def corridor(gap: float, spread: Spread = STILL, accuracy: object = PERFECT, jig: Jig | None = None) -> Run:
    """A straight between two boxes ``gap`` mm apart, about y = 500."""
    walls = tuple(
        Obstacle(name, Box((1500.0, 500.0 + side * (gap / 2 + 50)), (1000.0, 100.0)))
        for name, side in (("lower", -1), ("upper", 1))
    )
    field = Field("Corridor", (3000.0, 1000.0), obstacles=walls, jigs=(jig,) if jig else ())
    start = jig.name if jig else StartByEye((300.0, 500.0), 0.0, spread)
    return Run("Through", field, robot(accuracy), start, (Straight(1600.0),))  # type: ignore[arg-type]


# --- without noise -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gap", [150.0, 166.5, 201.25])
def test_the_widest_body_without_noise_is_the_gap(gap: float) -> None:
    answer = widths(corridor(gap), low=100, high=260, step=40, trials=20)
    assert answer.geometry is not None
    assert answer.geometry.value == pytest.approx(gap, abs=3e-5)
    assert answer.geometry.obstacle in ("lower", "upper")
    assert answer.geometry.segment == 1
    assert {place.obstacle for place in answer.places} >= {"lower", "upper"}
    # With no noise at all the trials say the same, to the millimetre.
    assert answer.widest is not None
    assert answer.widest.value == np.floor(gap - 1e-6)
    assert (answer.widest.obstacle in ("lower", "upper"), answer.widest.segment) == (True, 1)


def between_bars(gap: float, accuracy: object, spread: Spread = STILL) -> Run:
    """A straight of 700 mm between two bars ``gap`` mm apart, begun between them in the middle."""
    return replace(
        corridor(gap, spread, accuracy), start=StartByEye((1100.0, 500.0), 0.0, spread), segments=(Straight(700.0),)
    )


def test_a_corridor_that_the_run_begins_in() -> None:
    """The wider the body the fewer get through, none that is wider than the corridor, and few of one as wide. Without
    noise the widest is where a veering drive's rear or front corner comes to a bar: its circle in steps of 0.1 mm."""
    answer = widths(
        between_bars(146.0, TYPICAL, Spread(0.5, 0.5, 0.2)), low=138, high=150, step=1, need=0.35, trials=400
    )
    shares = {each.value: each.success.share for each in answer.values}
    assert list(shares.values()) == sorted(shares.values(), reverse=True)
    assert shares[146.0] < 0.05
    assert max(shares[value] for value in (147.0, 148.0, 149.0, 150.0)) == 0.0
    assert answer.widest is not None
    assert answer.widest.value == max(value for value, share in shares.items() if share >= 0.35)

    turned = np.radians(0.3) * np.linspace(0.0, 0.7, 7001)
    radius = 1.004 * 1000.0 / np.radians(0.3)

    def room(width: float) -> float:
        """mm between the bars and the outermost corner."""
        left = [radius * (1 - np.cos(turned)) + x * np.sin(turned) + width / 2 * np.cos(turned) for x in (-60.0, 110.0)]
        return 73.0 - float(np.max(left))

    assert answer.geometry is not None
    assert answer.geometry.value == pytest.approx(brentq(room, 120.0, 146.0), abs=1e-3)
    assert answer.geometry.obstacle == "upper"


def test_a_jig_holds_the_corner_so_the_axle_moves_with_the_width() -> None:
    """Held at the rear right corner, y = 430, a body of width w has its middle at 430 + w/2 and its left side at
    430 + w: the upper box, at 500 + gap/2, is met at w = 70 + gap/2, and the lower one never."""
    gap = 160.0
    jig = Jig("block", (200.0, 430.0), 0.0, "rear right", STILL)
    run = corridor(gap, jig=jig)
    for width in (120.0, 140.0, 175.0):
        x, y, _ = start_pose(varied(run, "width", width))
        assert (x, y) == (260.0, 430.0 + width / 2)
    answer = widths(run, low=100, high=220, step=20, trials=20)
    assert answer.geometry is not None
    assert answer.geometry.value == pytest.approx(70 + gap / 2, abs=3e-5)
    assert answer.geometry.obstacle == "upper"
    assert [place.obstacle for place in answer.places] == ["upper"]


def test_the_longest_body_without_noise() -> None:
    """The rear face stays 60 behind the axle; the front one is length - 60 ahead and stops 300 + 1600 + length - 60
    from the left wall, 40 mm short of a post at 2050 for a length of 170."""
    post = Obstacle("post", Box((2100.0, 500.0), (100.0, 20.0)))
    run = corridor(300.0)
    run = replace(run, field=replace(run.field, obstacles=(*run.field.obstacles, post)))
    answer = widths(run, vary="length", low=150, high=250, step=25, trials=20)
    assert answer.geometry is not None
    assert answer.geometry.value == pytest.approx(210.0, abs=3e-5)
    assert answer.geometry.obstacle == "post"


# --- with noise ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sd", [2.0, 5.0])
def test_with_noise_against_the_normal_distribution(sd: float) -> None:
    """Placing across with sd s: a body of width w in a gap g gets through with erf((g - w)/2/(s sqrt 2)); the
    widest for a wanted share by root finding."""
    gap, need, n = 180.0, 0.9, 8000
    wanted = brentq(lambda w: erf((gap - w) / 2 / (sd * sqrt(2))) - need, 100.0, gap)
    answer = widths(corridor(gap, Spread(0.0, sd, 0.0)), low=140, high=190, step=10, need=need, trials=n)
    assert answer.widest is not None
    # A share of 0.9 is known to 0.0034; the share falls by about 0.2/s a mm there. Four of that, and the millimetre.
    slack = 4 * sqrt(need * (1 - need) / n) * sd / 0.2 + 1.0
    assert wanted - slack <= answer.widest.value <= wanted + slack
    assert answer.widest.low <= answer.widest.value <= answer.widest.high
    assert answer.widest.low - 1 <= wanted <= answer.widest.high + 1
    assert answer.geometry is not None
    assert answer.geometry.value == pytest.approx(gap, abs=3e-5)
    for each in answer.values:
        share = erf(max(0.0, gap - each.value) / 2 / (sd * sqrt(2)))
        assert abs(each.success.share - share) <= 4 * sqrt(max(share * (1 - share), 1e-4) / n)


def test_to_a_tenth_of_a_millimetre_if_asked() -> None:
    answer = widths(corridor(180.33), low=170, high=190, step=5, to=0.1, trials=10)
    assert answer.widest is not None
    assert answer.widest.value == pytest.approx(180.3)


@settings(max_examples=examples(15))
@given(seed=st.integers(0, 10_000), narrow=st.floats(60, 160), more=st.floats(0.1, 60))
def test_a_wider_body_never_gets_through_where_a_narrower_one_does_not(seed: int, narrow: float, more: float) -> None:
    """On the same draws, trial by trial: the narrower body is inside the wider one all the way."""
    run = cluttered(seed % 7, 8)
    slim, wide = (varied(run, "width", width) for width in (narrow, narrow + more))
    assert not (simulate(wide, 300, seed).success & ~simulate(slim, 300, seed).success).any()


def test_faster_stops_less_well() -> None:
    """Stop errors grow in proportion to the speed: from 3 mm at 200 mm/s; a post is 10 mm beyond the end."""
    post = Obstacle("post", Box((2060.0 + 10.0, 500.0), (100.0, 100.0)))
    noise = replace(PERFECT, straight=StraightNoise(stop=3.0))
    run = corridor(300.0, accuracy=noise)
    run = replace(run, field=replace(run.field, obstacles=(post,)))
    answer = widths(run, vary="speed", low=100, high=400, step=100, trials=4000)
    shares = [each.success.share for each in answer.values]
    assert shares == sorted(shares, reverse=True)
    for each in answer.values:
        # Front face at 300 + 1600 + 110 = 2010, the post's at 2020.
        wanted = 0.5 * (1 + erf(10 / (3 * each.value / 200) / sqrt(2)))
        assert abs(each.success.share - wanted) < 4 * sqrt(max(wanted * (1 - wanted), 1e-4) / 4000)
    assert answer.unit == "mm/s"


# --- what is varied ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("vary", ["width", "length", "axle", "track", "wheel", "speed"])
def test_only_what_is_named_changes(vary: str) -> None:
    run = cluttered(1)
    now = value_of(run.robot, vary)
    assert varied(run, vary, now) == run
    changed = varied(run, vary, now * 1.05)
    assert value_of(changed.robot, vary) == now * 1.05
    for other in ("width", "length", "axle", "track", "wheel", "speed"):
        if other != vary:
            assert value_of(changed.robot, other) == value_of(run.robot, other)


def test_the_track_may_move_with_the_width() -> None:
    run = cluttered(1)
    wider = varied(run, "width", 160.0, track_moves=True)
    assert wider.robot.drive.track - run.robot.drive.track == 160.0 - run.robot.body.width


def test_a_robot_that_cannot_be_is_told_and_the_others_are_tried() -> None:
    answer = widths(corridor(200.0), vary="axle", low=0.1, high=300, step=100, trials=10)
    assert [value for value, _ in answer.refused] == [200.1, 300.0]
    assert "only 170 mm long" in answer.refused[0][1]
    assert {each.value for each in answer.values} == {0.1, 60.0, 100.1}
    with pytest.raises(PlanError, match="only 170 mm long"):
        varied(corridor(200.0), "axle", 200.0)


def test_the_grid_holds_both_ends_and_the_robots_own_value() -> None:
    assert grid(140.0, 100.0, 190.0, 40.0) == [100.0, 140.0, 180.0, 190.0]
    assert grid(140.0, 150.0, 160.0, 5.0) == [150.0, 155.0, 160.0]
    assert 140.0 in grid(140.0, None, None, None)
    with pytest.raises(ValueError, match="is empty"):
        grid(140.0, 200.0, 100.0, None)
    with pytest.raises(ValueError, match="vary='colour'"):
        varied(corridor(200.0), "colour", 3.0)


# --- what it says --------------------------------------------------------------------------------------------------


def test_losses_are_paired_with_the_robot_as_it_is() -> None:
    run = load_run("runs/bakery/mill-hatch.yaml")
    answer = widths(run, low=170, high=180, step=4, trials=2000)
    own = simulate(run, 2000, seed=1).success
    for each in answer.values:
        other = simulate(varied(run, "width", each.value), 2000, seed=1).success
        assert each.behind.share == pytest.approx((own & ~other).mean() - (~own & other).mean())
    assert next(each for each in answer.values if each.value == answer.now).behind.share == 0.0


def test_nothing_wide_enough_and_nothing_too_wide() -> None:
    never = widths(corridor(160.0), low=170, high=200, step=10, need=0.5, trials=10)
    assert never.widest is None
    assert not never.meets_need
    assert "No body width" in widths_headline(never)
    always = widths(corridor(400.0), low=100, high=150, step=10, trials=10)
    assert always.widest is not None
    assert always.widest.beyond
    assert "All up to 150 mm" in widths_headline(always)


def test_words_say_the_numbers_and_the_cost_of_noise() -> None:
    answer = widths(corridor(180.0, Spread(0.0, 3.0, 0.0)), low=140, high=200, step=10, need=0.9, trials=2000)
    text = widths_text(answer)
    assert answer.widest is not None
    assert f"{answer.widest.value:g} mm" in widths_headline(answer)
    # Found from below, and rounded down: it is a promise.
    assert "Without any noise it would be 179.99 mm" in text
    assert "So the noise costs" in text


def test_threads_change_nothing() -> None:
    run = replace(corridor(180.0, Spread(0.0, 3.0, 0.5)), robot=robot(TYPICAL))
    one, two = (widths(run, low=150, high=170, step=10, trials=2000, threads=threads) for threads in (1, 2))
    assert one == two


# --- where the edge is looked for ----------------------------------------------------------------------------------


def test_a_need_that_is_met_exactly_is_met() -> None:
    """Without noise a body gets through always or never: a need of all is met exactly, and never by the interval's
    lower end, which then is the smallest value asked for."""
    answer = widths(corridor(166.5), low=100, high=200, step=50, need=1.0, trials=20)
    assert answer.widest is not None
    assert answer.widest.value == 166.0
    assert answer.widest.low == 100.0


def test_what_stands_in_the_way_of_a_little_more_is_told_not_of_much_more() -> None:
    """A wide gate before the corridor stops the widest body asked for; a millimetre too much touches the corridor."""
    run = corridor(166.5)
    gate = tuple(Obstacle(f"gate {side}", Box((900.0, 500.0 + side * 145.0), (40.0, 50.0))) for side in (-1, 1))
    run = replace(run, field=replace(run.field, obstacles=(*run.field.obstacles, *gate)))
    answer = widths(run, low=100, high=260, step=160, trials=10)
    assert answer.values[-1].lost is not None
    assert answer.values[-1].lost.what.startswith("gate")
    assert answer.widest is not None
    assert (answer.widest.value, answer.widest.obstacle) in [(166.0, "lower"), (166.0, "upper")]


def test_the_edge_without_noise_is_looked_for_from_the_robot_as_it_is() -> None:
    """A jig holds the right side at y = 430: a body of 80 has its tool at 470 and misses a bell at 500 by more than
    25 mm, as it is (140) it hits it exactly, and with 150 the left side meets the upper box of a gap of 160."""
    run = corridor(160.0, jig=Jig("block", (200.0, 430.0), 0.0, "rear right", STILL))
    bell = Target("bell", (200.0 + 170.0 + 1600.0, 500.0), within=25.0)
    run = replace(run, field=replace(run.field, targets=(bell,)), segments=(*run.segments, Act("bell")))
    answer = widths(run, low=80, high=180, step=20, trials=10)
    assert not answer.values[0].success.share
    assert answer.geometry is not None
    assert answer.geometry.value == pytest.approx(150.0, abs=3e-5)
