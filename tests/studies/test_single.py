"""One trial looked at alone: by how much it failed and whose error did most, against the trial driven anew by hand."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import open_floor
from plans import run as driven

from fieldsim.model import (
    Accuracy,
    Act,
    Box,
    Obstacle,
    OtherTable,
    Square,
    Straight,
    StraightNoise,
    Target,
    Turn,
    TurnNoise,
)
from fieldsim.sim.failures import failures
from fieldsim.sim.trials import nominal, simulate
from fieldsim.studies.single import act_of, shots, single

TARGET = Target("bell", (1400.0, 1000.0), 12.0)
FLOOR = replace(open_floor((2400.0, 2000.0)), targets=(TARGET,))
SHAKY = Accuracy(straight=StraightNoise(stop=8.0, veer=1.0), turn=TurnNoise(stop=2.0))
# The tool is the middle of the front: the body of `plans.robot` reaches so far before the axle.


def bell(*segments, accuracy=SHAKY, field=FLOOR, **more):  # type: ignore[no-untyped-def]
    return driven(*segments, Act("bell", takes=1.0), accuracy=accuracy, at=(600.0, 1000.0), field=field, **more)


def front(run):  # type: ignore[no-untyped-def]
    return run.robot.body.length - run.robot.body.axle


def test_by_how_much_it_missed_is_what_the_trial_says() -> None:
    run = bell(Straight(600.0))
    trials = simulate(run, 300, threads=1)
    found = failures(trials)
    missed = [n for n, failure in enumerate(found) if failure is not None and failure.why == "misses"]
    assert len(missed) > 20
    for n in missed[:20]:
        told = single(trials, n, found[n]).miss
        assert told is not None
        assert told.away == pytest.approx(trials.miss[n, 0])
        x, y, heading = trials.poses[n, 2]
        c, s = cos(radians(heading)), sin(radians(heading))
        dx, dy = x + front(run) * c - 1400.0, y + front(run) * s - 1000.0
        assert (told.ahead, told.left) == pytest.approx((dx * c + dy * s, dy * c - dx * s))
        assert told.turned is None
        assert told.within == 12.0


def test_the_only_error_there_is_is_to_blame_and_without_it_the_trial_gets_through() -> None:
    aimed = bell(Straight(800.0 - front(bell(Straight(1.0)))), accuracy=Accuracy(straight=StraightNoise(stop=20.0)))
    trials = simulate(aimed, 200, threads=1)
    found = failures(trials)
    failed = [n for n, failure in enumerate(found) if failure is not None]
    assert failed
    for n in failed[:10]:
        blame = single(trials, n, found[n]).blame
        assert blame is not None
        assert (blame.segment, blame.through, blame.source) == (1, True, "")


def test_the_segment_with_the_wild_error_is_to_blame() -> None:
    # A turn of 90 degrees with a wild stop, a straight across with hardly any error, then back: the turn does it.
    wild = Accuracy(straight=StraightNoise(stop=0.5), turn=TurnNoise(stop=6.0))
    here = replace(FLOOR, targets=(replace(TARGET, at=(600.0, 1500.0)),))
    length = 500.0 - front(bell(Straight(1.0)))
    run = driven(Turn(90.0), Straight(length), Act("bell", takes=1.0), accuracy=wild, at=(600.0, 1000.0), field=here)
    trials = simulate(run, 200, threads=1)
    found = failures(trials)
    failed = [n for n, failure in enumerate(found) if failure is not None]
    assert len(failed) > 20
    blamed = [single(trials, n, found[n]).blame for n in failed[:20]]
    assert {blame.segment for blame in blamed if blame} == {1}
    assert all(blame.through for blame in blamed if blame)


def test_what_fails_the_same_way_every_time_is_nobodys_error() -> None:
    run = bell(Straight(300.0), accuracy=Accuracy())
    trials = simulate(run, 3, threads=1)
    told = single(trials, 0, failures(trials)[0])  # type: ignore[arg-type]
    assert told.blame is None
    assert told.miss is not None
    assert told.miss.ahead == pytest.approx(300.0 + front(run) - 800.0)


def test_a_touch_tells_what_the_plan_leaves() -> None:
    # Beside the way, 6 mm from the robot's side.
    post = Obstacle("post", Box((1000.0, 1000.0 + bell(Straight(1.0)).robot.body.width / 2 + 36.0), (60.0, 60.0)))
    field = replace(open_floor((2400.0, 2000.0), post), targets=(TARGET,))
    run = bell(Straight(600.0), field=field)
    trials = simulate(run, 600, threads=1)
    found = failures(trials)
    n = next(n for n, failure in enumerate(found) if failure is not None and failure.why == "touches")
    told = single(trials, n, found[n])  # type: ignore[arg-type]
    assert told.miss is None
    assert told.gap == pytest.approx(6.0)
    assert told.gap == pytest.approx(
        float(nominal(trials.plan).clearance[0, [s.name for s in trials.plan.solids].index("post")])
    )
    assert told.blame is not None


def test_a_square_that_is_not_reached_blames_what_came_before() -> None:
    run = driven(
        Turn(90.0),
        Square("front", "far wall", 1200.0),
        accuracy=Accuracy(turn=TurnNoise(stop=25.0)),
        field=FLOOR,
        at=(600.0, 1000.0),
    )
    trials = simulate(run, 200, threads=1)
    found = failures(trials)
    n = next(n for n, failure in enumerate(found) if failure is not None and failure.what == "far wall")
    blame = single(trials, n, found[n]).blame  # type: ignore[arg-type]
    assert blame is not None
    assert (blame.segment, blame.through) == (1, True)


def test_shots_are_the_trials_that_came_and_their_misses() -> None:
    run = bell(Straight(600.0))
    trials = simulate(run, 500, threads=1)
    found = shots(trials, 2)
    came = trials.reached[:, 0]
    assert len(found.points) == came.sum()
    away = np.hypot(*(found.points - found.at).T)
    assert away == pytest.approx(trials.miss[came, 0])
    assert found.hit.tolist() == trials.hit[came, 0].tolist()
    assert found.planned == pytest.approx((1200.0 + front(run), 1000.0))
    assert (found.plan.ahead, found.plan.left) == pytest.approx((1200.0 + front(run) - 1400.0, 0.0))


@settings(max_examples=15, deadline=None)
@given(
    x=st.floats(0.0, 20.0),
    y=st.floats(0.0, 20.0),
    turned=st.floats(0.0, 5.0),
    mat=st.floats(0.0, 10.0),
    seed=st.integers(1, 50),
)
def test_a_target_that_lies_elsewhere_is_seen_as_the_trials_see_it(
    x: float, y: float, turned: float, mat: float, seed: int
) -> None:
    field = replace(
        FLOOR, targets=(replace(TARGET, spread=OtherTable(x, y, turned)),), mat=OtherTable(mat, mat / 2, 0.1)
    )
    trials = simulate(bell(Straight(650.0), field=field), 60, seed=seed, threads=1)
    found = shots(trials, 2)
    came = trials.reached[:, 0]
    assert [hypot(px - 1400.0, py - 1000.0) for px, py in found.points] == pytest.approx(trials.miss[came, 0].tolist())
    wrong = failures(trials)
    n = next((n for n, failure in enumerate(wrong) if failure is not None and failure.why == "misses"), None)
    if n is not None:
        told = single(trials, n, wrong[n]).miss  # type: ignore[arg-type]
        assert told is not None
        assert told.away == pytest.approx(trials.miss[n, 0])


def test_only_an_act_has_shots() -> None:
    run = bell(Straight(600.0))
    assert [act_of(run, segment) for segment in (1, 2, 3)] == [None, 0, None]
    with pytest.raises(ValueError, match="no act"):
        shots(simulate(run, 10, threads=1), 1)
