"""Where a jig should be built for a target: a closed form, what is told, saved and refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from commands import fieldsim
from plans import open_floor, robot
from scipy.stats import norm

from fieldsim.files import load_field, load_run
from fieldsim.files.proposed import write_field_and_run
from fieldsim.files.writing import new_field_text
from fieldsim.model import (
    Accuracy,
    Box,
    Field,
    Jig,
    Obstacle,
    Robot,
    Spread,
    StartArea,
    StraightNoise,
    Target,
    TurnNoise,
)
from fieldsim.planning.anywhere import AnywhereError
from fieldsim.planning.building import Built, build, starts_over
from fieldsim.report.statement import statement_text
from fieldsim.report.words.building import building_statement, headline
from fieldsim.sim.shapes import body_corners
from fieldsim.studies.attempt import attempt

SET = Spread(0.0, 0.0, 1.0)
AREA = StartArea("home", Box((300.0, 300.0), (400.0, 400.0)))
WITHIN = 12.0
BELL = (1000.0, 300.0)


@pytest.fixture(autouse=True)
def few_trials(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is looked at here shows on fewer trials and places too."""
    for name, value in (("COARSE", 120), ("FINE", 200), ("LAST", 600), ("ACROSS", 4)):
        monkeypatch.setattr(f"fieldsim.planning.spots.{name}", value)
    for name, value in (("FEW", 200), ("MANY", 600), ("TRIED", 12)):
        monkeypatch.setattr(f"fieldsim.planning.polish.{name}", value)
    monkeypatch.setattr("fieldsim.planning.building.ACROSS", 2)
    monkeypatch.setattr("fieldsim.planning.building.LAST", 600)
    monkeypatch.setattr("fieldsim.planning.ways.PLACES", 25)


def floor() -> Field:
    """An open board with a jig at the far left of the area, looking at the bell."""
    return replace(
        open_floor((1500.0, 700.0)), walls=None, start_areas=(AREA,), targets=(Target("bell", BELL, within=WITHIN),),
        jigs=(Jig("old jig", (100.0, 370.0), 0.0, "rear left", SET),),
    )  # fmt: skip


def exact() -> Robot:
    """A robot that drives as it is told."""
    return replace(robot(), accuracy=Accuracy(straight=StraightNoise(0.0, 0.0, 0.0), turn=TurnNoise(0.0, 0.0)))


@pytest.fixture(scope="module")
def built() -> Built:
    with pytest.MonkeyPatch.context() as patch:
        few_trials.__wrapped__(patch)  # type: ignore[attr-defined]
        return build(floor(), exact(), (), ("bell",), trials=4000, seed=3)


def test_the_held_corner_is_as_near_to_the_target_as_it_can_be(built: Built) -> None:
    """Set with an error of its heading alone the robot turns about the corner that is held, and so does all that it
    drives: at the bell it is off by the way from that corner times the error. So the share is
    2 Phi(within / (way * sd)) - 1, and no place in the area is better than with the corner on its far edge."""
    best, old = built.answer.best, built.answer.now
    assert best is not None
    assert old is not None

    def share(corner_x: float) -> float:
        return float(2 * norm.cdf(WITHIN / ((BELL[0] - corner_x) * np.pi / 180)) - 1)

    for place in (best, old):
        assert place.corner is not None
        way = np.hypot(BELL[0] - place.corner[0], BELL[1] - place.corner[1])
        expected = share(BELL[0] - float(way))
        # Four standard errors of 4000 trials, and half a percent for whole millimetres and half degrees.
        assert place.success.share == pytest.approx(expected, abs=0.005 + 4 * np.sqrt(expected * (1 - expected) / 4000))
    assert old.success.share == pytest.approx(share(100.0), abs=0.04)
    assert share(500.0) - 0.05 < best.success.share < share(500.0) + 0.03
    assert built.answer.better
    assert built.answer.difference is not None
    assert built.answer.difference.low > 0.2


def test_the_body_stands_in_the_area_and_the_map_too(built: Built) -> None:
    corners = body_corners(built.best.ready.run.robot.body) if built.best else np.zeros((0, 2))
    best = built.answer.best
    assert best is not None
    for x, y, h in [(best.x, best.y, best.heading), *((p.x, p.y, p.heading) for p in built.answer.map)]:
        c, s = np.cos(np.radians(h)), np.sin(np.radians(h))
        xs, ys = x + corners[:, 0] * c - corners[:, 1] * s, y + corners[:, 0] * s + corners[:, 1] * c
        assert min(xs.min(), ys.min()) >= 100.0 - 1e-6
        assert max(xs.max(), ys.max()) <= 500.0 + 1e-6
    assert built.answer.looked > 20


def test_what_is_saved_is_what_is_told(built: Built, tmp_path: Path) -> None:
    """The field keeps its comments and has the jig; try drives the run from it and says the same number."""
    field, made = tmp_path / "floor.yaml", tmp_path / "made"
    field.write_text("# ours\n" + new_field_text(floor()), encoding="utf-8")
    machine = tmp_path / "box.yaml"
    machine.write_text(_robot_text(), encoding="utf-8")
    assert built.best is not None
    assert built.answer.best is not None
    paths = write_field_and_run(made, built.best.ready.run, load_field(field), field, machine)
    assert [path.name for path in paths] == ["field-with-jig.yaml", "way-1.yaml"]
    assert "# ours" in paths[0].read_text(encoding="utf-8")
    run = load_run(paths[1])
    assert run.start == "jig here"
    told = attempt(replace(run, robot=exact()), trials=4000, seed=3).answer.success
    assert told == built.answer.best.success


def _robot_text() -> str:
    from fieldsim.files.keeping.plain import fresh, plain_record

    return fresh(plain_record(exact()))


def test_it_is_told_in_words(built: Built) -> None:
    text = " ".join(statement_text(building_statement(built.answer)).split())
    assert headline(built.answer).startswith("Build a jig so that the body is ")
    assert "; from old jig, " in headline(built.answer)
    assert "On the same trials the best place wins" in text
    assert "holds: rear" in text
    for segment in built.answer.way.segments if built.answer.way else ():
        assert segment in text
    kept = replace(built.answer, better=False)
    assert headline(kept) == "No place in home is truly better than old jig, which the field has."
    alone = replace(built.answer, now=None, now_way=None, difference=None)
    assert "from there it gets through" in headline(alone)


def test_a_target_that_is_walled_in_is_proved_to_be_out_of_reach() -> None:
    ring = tuple(
        Obstacle(f"block {n}", Box((BELL[0] + dx, BELL[1] + dy), (w, h)))
        for n, (dx, dy, w, h) in enumerate(
            [(-150, 0, 20, 320), (150, 0, 20, 320), (0, -150, 320, 20), (0, 150, 320, 20)]
        )
    )
    answer = build(replace(floor(), obstacles=ring), exact(), (), ("bell",), trials=100).answer
    assert answer.best is None
    assert answer.proof is not None
    assert "There is no way to bell" in headline(answer)
    statement_text(building_statement(answer))


def test_it_is_broken_off_with_the_best_so_far() -> None:
    pressed = False

    def watch(done: int, wanted: int) -> None:
        nonlocal pressed
        if done >= 7 and not pressed:
            pressed = True
            raise KeyboardInterrupt

    answer = build(floor(), exact(), (), ("bell",), trials=100, watch=watch).answer
    assert answer.interrupted
    assert answer.map == ()
    statement_text(building_statement(answer))


def test_starts_stand_inside_and_in_nothing() -> None:
    crate = Obstacle("crate", Box((300.0, 300.0), (390.0, 390.0)))
    assert starts_over(replace(floor(), obstacles=(crate,)), exact(), (), AREA) == ()
    with pytest.raises(AnywhereError, match="does not fit into 'home'"):
        build(replace(floor(), obstacles=(crate,)), exact(), (), ("bell",))
    for start in starts_over(floor(), exact(), (), AREA):
        assert start.spread == SET
    with pytest.raises(AnywhereError, match="there are: home"):
        build(floor(), exact(), (), ("bell",), area="hom")
    with pytest.raises(AnywhereError, match="no start area"):
        build(replace(floor(), start_areas=()), exact(), (), ("bell",))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("fields/practice.yaml", "--to", "bell"), "Say which robot drives"),
        (("fields/practice.yaml", "--anywhere"), "This is a field, no run"),
        (("fields/practice.yaml", "--robot", "runs/bakery/box-one.yaml"), "Say where it is to go"),
        (("fields/practice.yaml", "--robot", "runs/bakery/box-one.yaml", "--to", "bel"), "did you mean 'bell'"),
        (("runs/bakery/practice-loop.yaml", "--wear", "scoop"), "--wear goes with --to"),
    ],
)
def test_wrong_words_are_told(words: tuple[str, ...], said: str) -> None:
    told = fieldsim("jigs", *words)
    assert told.returncode == 2
    assert said in told.stderr
    assert "Traceback" not in told.stderr
