"""Where a jig should be built: closed forms on invented floors, what is told, and what cannot be asked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from commands import fieldsim
from plans import open_floor, run

from fieldsim.model import (
    Accuracy,
    Act,
    Box,
    Obstacle,
    Run,
    Spread,
    StartArea,
    StartByEye,
    Straight,
    StraightNoise,
    Systematic,
    Target,
    Turn,
    TurnNoise,
)
from fieldsim.planning.anywhere import AnywhereError, anywhere, area_for
from fieldsim.report.statement import statement_text
from fieldsim.report.words.anywhere import anywhere_statement, by_ruler
from fieldsim.sim.motion import start_pose
from fieldsim.sim.shapes import body_corners
from fieldsim.studies.attempt import attempt

# Box(centre, size): 400 mm each way from (100, 100).
AREA = StartArea("home", Box((300.0, 300.0), (400.0, 400.0)))


@pytest.fixture(autouse=True)
def few_trials(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is looked at here shows on fewer trials too."""
    for name, value in (("COARSE", 120), ("FINE", 200), ("LAST", 400), ("ACROSS", 5)):
        monkeypatch.setattr(f"fieldsim.planning.spots.{name}", value)


def lane(y: float, *, accuracy: Accuracy | None = None, across: float = 6.0) -> Run:
    """A straight to the right between two blocks that leave 180 mm from y 180 to 360, begun at (170, y)."""
    blocks = (Obstacle("low block", Box((1200.0, 170.0), (200.0, 20.0))),
              Obstacle("high block", Box((1200.0, 370.0), (200.0, 20.0))))  # fmt: skip
    floor = replace(open_floor((2200.0, 1200.0)), obstacles=blocks, start_areas=(AREA, end()))
    return run(
        Straight(1400.0), at=(170.0, y), spread=Spread(1.0, across, 0.0), field=floor, finish="end",
        accuracy=accuracy or Accuracy(straight=StraightNoise(1.0, 1.0, 0.0)),
    )  # fmt: skip


def end() -> StartArea:
    return StartArea("end", Box((1650.0, 300.0), (900.0, 600.0)))


def test_past_one_block_the_jig_stands_in_the_middle_of_the_lane() -> None:
    """The body is 140 mm wide and the lane reaches from 180 to 360: its middle is at 270, 20 mm of room each way. Set
    with 6 mm give or take the best is the middle, by symmetry."""
    placed = anywhere(lane(256.0), keep="path", trials=3000)
    best = placed.answer.best
    assert best is not None
    assert placed.answer.better
    assert best.heading == pytest.approx(0.0)
    # As good as the middle is what luck of so few trials cannot tell from it.
    assert best.y == pytest.approx(270.0, abs=8.0)
    assert placed.answer.patch is not None
    _, _, near, far = placed.answer.patch
    # A few millimetres each way, and not a lane's width: beyond 20 mm it touches.
    assert near < 20.0
    assert far < 20.0


def test_what_is_told_is_what_try_says_of_the_run_from_there() -> None:
    placed = anywhere(lane(256.0), keep="path", trials=700, seed=5)
    assert placed.best is not None
    assert placed.answer.best is not None
    assert placed.answer.best.success == attempt(placed.best.ready.run, trials=700, seed=5).answer.success
    assert placed.answer.now is not None
    assert placed.answer.now.success == attempt(lane(256.0), trials=700, seed=5).answer.success
    gain = placed.answer.difference
    assert gain is not None
    assert gain.share == pytest.approx(placed.answer.best.success.share - placed.answer.now.success.share)


def test_the_ruler_measures_from_the_edges_to_the_body() -> None:
    placed = anywhere(lane(256.0), keep="path", trials=300)
    best = placed.answer.best
    assert best is not None
    assert placed.best is not None
    made = placed.best.ready.run
    x, y, h = start_pose(made)
    assert (x, y, h) == pytest.approx((best.x, best.y, best.heading))
    corners = body_corners(made.robot.body)
    assert best.from_left == pytest.approx(x + corners[:, 0].min(), abs=0.051)
    assert best.from_near == pytest.approx(y + corners[:, 1].min(), abs=0.051)
    assert best.from_right == pytest.approx(2200.0 - x - corners[:, 0].max(), abs=0.051)
    assert f"{best.from_left:g} mm from the left edge" in by_ruler(best)
    # The corner that is held is one of the body's two behind, at that place.
    assert best.corner is not None
    assert best.holds in ("rear left", "rear right")
    assert np.abs(corners + np.array([x, y]) - best.corner).sum(axis=1).min() < 0.01


def test_the_whole_body_stays_in_the_area_and_in_nothing() -> None:
    first = lane(256.0)
    block = Obstacle("crate", Box((300.0, 300.0), (60.0, 60.0)))
    first = replace(first, field=replace(first.field, obstacles=(*first.field.obstacles, block)))
    placed = anywhere(first, keep="path", trials=200)
    corners = body_corners(first.robot.body)
    for point in placed.answer.map:
        c, s = np.cos(np.radians(point.heading)), np.sin(np.radians(point.heading))
        xs, ys = point.x + corners[:, 0] * c - corners[:, 1] * s, point.y + corners[:, 0] * s + corners[:, 1] * c
        assert xs.min() >= 100.0 - 1e-6
        assert xs.max() <= 500.0 + 1e-6
        assert ys.min() >= 100.0 - 1e-6
        assert ys.max() <= 500.0 + 1e-6
        apart = xs.max() <= 270 or xs.min() >= 330 or ys.max() <= 270 or ys.min() >= 330
        assert apart
    assert placed.answer.out > 0


def test_targets_are_kept_by_aiming_anew() -> None:
    """From any place the last straight ends where it did: the target is met without noise from all of them."""
    target = Target("bell", (1400.0, 800.0), within=5.0)
    floor = replace(open_floor((2200.0, 1200.0)), targets=(target,), start_areas=(AREA,))
    first = run(
        Straight(600.0), Turn(45.0), Straight(400.0), Turn(0.0001 + 45.0), Straight(97.0), Act("bell"),
        at=(200.0, 300.0), field=floor, accuracy=Accuracy(bias=Systematic(0.01, 0.0, 0.02), turn=TurnNoise(0.0, 0.0)),
    )  # fmt: skip
    placed = anywhere(first, trials=60)
    shares = {point.share for point in placed.answer.map}
    assert len(shares) == 1
    assert len(placed.answer.map) > 5


def test_nothing_better_is_an_answer() -> None:
    placed = anywhere(lane(270.0, across=2.0), keep="path", trials=1500)
    assert not placed.answer.better
    text = statement_text(anywhere_statement(placed.answer))
    assert "Nowhere in home is truly better" in text
    assert "The jig stands well" in text


def test_a_run_that_cannot_be_aimed_anew_says_why() -> None:
    placed = anywhere(lane(256.0), trials=100)
    # From its own place it needs no aiming.
    assert placed.answer.looked == 1
    assert not placed.answer.better
    text = " ".join(statement_text(anywhere_statement(placed.answer)).split())
    assert "From most places it cannot begin" in text
    assert "--keep path can" in text
    elsewhere = replace(lane(256.0), start=StartByEye((1300.0, 900.0), 0.0))
    nowhere = anywhere(elsewhere, area="home", trials=100).answer
    assert nowhere.best is None
    text = " ".join(statement_text(anywhere_statement(nowhere)).split())
    assert "From nowhere in home can this run begin" in text
    assert "--keep path" in text


def test_the_area_is_the_one_it_starts_in_or_the_one_that_is_named() -> None:
    first = lane(256.0)
    assert area_for(first, None).name == "home"
    assert area_for(first, "end").name == "end"
    assert area_for(replace(first, start=StartByEye((1650.0, 300.0), 0.0)), None).name == "end"
    with pytest.raises(AnywhereError, match="there are: home, end"):
        area_for(first, "hom")
    bare = replace(first, finish=None, field=replace(first.field, start_areas=()))
    with pytest.raises(AnywhereError, match="no start area"):
        area_for(bare, None)


def test_an_area_that_is_too_small_is_told() -> None:
    first = lane(256.0)
    small = StartArea("shelf", Box((300.0, 300.0), (60.0, 60.0)))
    with pytest.raises(AnywhereError, match="does not fit"):
        anywhere(replace(first, field=replace(first.field, start_areas=(small, end()))), area="shelf")


def test_it_is_broken_off_with_the_best_so_far() -> None:
    seen = 0

    def watch(done: int, wanted: int) -> None:
        nonlocal seen
        seen += 1
        if seen == 15:
            raise KeyboardInterrupt

    placed = anywhere(lane(256.0), keep="path", trials=200, watch=watch)
    assert placed.answer.interrupted
    assert placed.answer.patch is None
    assert placed.answer.looked + placed.answer.out >= 10


def test_the_command_asks_for_both_words() -> None:
    told = fieldsim("jigs", "runs/bakery/flour-round.yaml", "--area", "left start")
    assert told.returncode == 2
    assert "--anywhere" in told.stderr
