"""Which jig: fields whose answer is known, racing against no racing, and a plan that follows its jig. All invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import erf, sqrt

import numpy as np
import pytest
from plans import PERFECT, STILL, TYPICAL, robot

from fieldsim import load_run, simulate
from fieldsim.model import Act, Box, Field, Jig, Obstacle, Run, Spread, StartByEye, Straight, Target, Turn
from fieldsim.report.words.jigs import jigs_text
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import typical_poses
from fieldsim.studies.fitting import Fitting
from fieldsim.studies.jigs import (
    BY_EYE,
    Candidate,
    JigAnswer,
    JigsAnswer,
    NoWayError,
    _give_up,
    _Racer,
    _ranked,
    candidates,
    follow,
    rank,
)

# The body is 140 wide, the corridor along y = 500 is 160: 10 mm to either side.
ROOM = 10.0


def jig(name: str, y: float = 430.0, across: float = 0.5, x: float = 200.0, heading: float = 0.0) -> Jig:
    """One that holds the rear right corner: at y = 430 the robot stands in the middle of the corridor."""
    return Jig(name, (x, y), heading, "rear right", Spread(0.0, across, 0.0))


def corridor(*jigs: Jig, start: str | None = None) -> Run:
    walls = (
        Obstacle("lower", Box((1500.0, 500.0 - 70 - ROOM - 50), (1000.0, 100.0))),
        Obstacle("upper", Box((1500.0, 500.0 + 70 + ROOM + 50), (1000.0, 100.0))),
    )
    field = Field("Corridor", (3000.0, 1000.0), obstacles=walls, jigs=jigs)
    return Run("Through", field, robot(PERFECT), start or jigs[0].name, (Straight(1500.0),))


def through(off: float, sd: float) -> float:
    """Share that gets through a corridor with ``ROOM`` to either side: normal placing across, nothing else."""
    return 0.5 * (erf((ROOM - off) / (sd * sqrt(2))) - erf((-ROOM - off) / (sd * sqrt(2))))


def row(answer: JigsAnswer, name: str) -> JigAnswer:
    return next(each for each in answer.jigs if each.jig == name)


def test_a_field_with_a_known_answer_decides_the_order() -> None:
    """Normal probabilities by closed form: each start's share, and so the order."""
    jigs = {"good": (430.0, 4.0), "coarse": (430.0, 9.0), "aside": (436.0, 4.0), "hopeless": (460.0, 4.0)}
    run = corridor(*(jig(name, y, sd) for name, (y, sd) in jigs.items()), start="coarse")
    answer = rank(run, keep="path", trials=20_000, race=False)
    shares = {name: through(y - 430.0, sd) for name, (y, sd) in jigs.items()}
    wanted = sorted(shares, key=lambda name: -shares[name])
    assert [each.jig for each in answer.jigs if not each.by_eye] == wanted
    for name, share in shares.items():
        found = row(answer, name).success
        assert found is not None
        assert abs(found.share - share) < 4 * sqrt(max(share * (1 - share), 1e-5) / 20_000)
    best = answer.best
    assert best is not None
    assert best.jig == "good"
    for name in wanted[1:]:
        behind = row(answer, name).behind
        assert behind is not None
        # The interval holds 95 of 100 times; three of them are to hold here, so it is taken twice as wide.
        middle, half = (behind.low + behind.high) / 2, behind.high - behind.low
        assert abs(shares["good"] - shares[name] - middle) <= half
        assert row(answer, name).truly_behind


def test_two_jigs_that_are_the_same_are_a_coin_toss() -> None:
    """Common random numbers: the same draws at the same place are the same trials."""
    answer = rank(corridor(jig("one", across=7.0), jig("two", across=7.0)), keep="path", trials=3000)
    first, second = (row(answer, name) for name in ("one", "two"))
    assert first.success == second.success
    assert not second.truly_behind
    assert not first.truly_behind
    assert "a coin toss" in jigs_text(answer)
    assert "cannot be told apart" in jigs_text(answer)


def test_a_small_real_difference_is_found_by_pairs_where_two_intervals_overlap() -> None:
    answer = rank(corridor(jig("middle", 430.0, 6.0), jig("aside", 431.3, 6.0)), keep="path", trials=20_000, race=False)
    middle, aside = row(answer, "middle"), row(answer, "aside")
    assert middle.success is not None
    assert aside.success is not None
    assert aside.success.high > middle.success.low
    assert aside.truly_behind


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_racing_against_brute_force(seed: int) -> None:
    """The same winner with the same share, for less work; who was given up is truly worse when all trials are done."""
    spreads = {"a": (430.0, 5.0), "b": (431.0, 5.0), "c": (438.0, 5.0), "d": (445.0, 5.0), "e": (430.5, 5.0)}
    run = corridor(*(jig(name, y, sd) for name, (y, sd) in spreads.items()))
    raced, full = (
        rank(run, keep="path", trials=8000, seed=seed),
        rank(run, keep="path", trials=8000, seed=seed, race=False),
    )
    assert raced.best == full.best
    assert sum(each.trials for each in raced.jigs) < sum(each.trials for each in full.jigs)
    assert {"c", "d"} <= {each.jig for each in raced.jigs if each.dropped}
    for each in raced.jigs:
        if each.dropped:
            assert each.trials < 8000
            assert row(full, each.jig).truly_behind


def test_a_race_hardly_ever_gives_up_an_equal() -> None:
    """Two starts that are equally good but fail in different trials: at most 1 % of whole studies may drop one."""
    # 0.8 mm to either side of the middle: the same share by symmetry, lost on opposite sides.
    run = corridor(jig("left", 430.8, 6.0), jig("right", 429.2, 6.0))
    dropped = sum(
        any(each.dropped for each in rank(run, keep="path", trials=5000, seed=seed).jigs if not each.by_eye)
        for seed in range(30)
    )
    # 30 studies at 1 %: more than 3 dropped has a chance of 0.0002 (binomial).
    assert dropped <= 3


def test_where_the_robot_does_not_fit_says_what_it_would_stand_in() -> None:
    run = corridor(jig("free"), jig("inside", x=1200.0, y=480.0))
    inside = row(rank(run, keep="path", trials=100), "inside")
    assert not inside.fits
    assert inside.success is None
    assert inside.why_not is not None
    assert "does not fit" in inside.why_not
    # 480 - 430 - 10 = 40 mm into the upper side of the corridor.
    assert "40 mm into upper" in inside.why_not


def test_a_hair_more_or_less_beside_a_wall_decides_nothing() -> None:
    """Between bars from the start on, 1.99 and 2.01 mm from the lower one: placing is off by 1 mm, and the same trials
    touch but for those drawn between. What stands 0.9 mm in it does not fit."""
    jigs = [
        jig(name, y=420.0 + gap, across=1.0, x=1100.0) for name, gap in (("near", 1.99), ("far", 2.01), ("in", -0.9))
    ]
    answer = rank(replace(corridor(*jigs), segments=(Straight(700.0),)), keep="path", trials=2000)
    near, far = row(answer, "near").success, row(answer, "far").success
    assert near is not None
    assert far is not None
    assert abs(far.share - near.share) < 0.01
    assert far.share == pytest.approx(0.5 * (1 + erf(2.01 / sqrt(2))), abs=0.012)
    assert not row(answer, "near").truly_behind
    assert "0.9 mm into lower" in (row(answer, "in").why_not or "")


def test_a_start_by_eye_is_there_for_comparison() -> None:
    run = corridor(jig("block", across=2.0))
    answer = rank(run, keep="path", trials=4000)
    eye = row(answer, BY_EYE)
    assert eye.by_eye
    assert eye.success is not None
    by_hand = replace(run, start=StartByEye(start_pose(run)[:2], start_pose(run)[2]))
    wanted = simulate(by_hand, eye.trials, seed=1).share
    assert eye.success == wanted


def test_path_is_the_same_segments_from_elsewhere() -> None:
    run = corridor(jig("one"), jig("two", y=450.0))
    moved = follow(run, "two", "path")
    assert moved == replace(run, start="two")


TARGET = Target("bell", (1500.0, 1400.0), 20.0)


def yard(*jigs: Jig) -> Run:
    """Forwards, left, forwards, right and on: to be re-aimed."""
    field = Field("Yard", (3000.0, 2000.0), jigs=jigs, targets=(TARGET,))
    segments = (Straight(600.0), Turn(88.0), Straight(700.0), Turn(-90.0), Straight(500.0), Act("bell"))
    return Run("Bell", field, robot(TYPICAL), jigs[0].name, segments)


@pytest.mark.parametrize(("x", "y", "heading"), [(250.0, 380.0, 0.0), (200.0, 500.0, 20.0), (350.0, 300.0, -15.0)])
def test_targets_keeps_the_rest_of_the_path_where_it_is(x: float, y: float, heading: float) -> None:
    """With the known bias, not only on paper: all poses from the end of the third segment on are where they were."""
    run = yard(jig("one"), jig("two", x=x, y=y, heading=heading))
    moved = follow(run, "two", "targets")
    before, after = typical_poses(run), typical_poses(moved)
    # Numbers are rounded to 0.1 mm and 0.1 degrees: the second is up to 1.3 mm at 1500 mm.
    assert np.abs(after[3:, :2] - before[3:, :2]).max() < 1.5
    assert np.abs(after[3:, 2] - before[3:, 2]).max() <= 0.051
    assert [new == old for new, old in zip(moved.segments, run.segments, strict=True)] == [False] * 3 + [True] * 3 or (
        heading == 0.0
    )


def test_what_cannot_be_re_aimed_says_why() -> None:
    run = yard(jig("one"), jig("behind", x=1500.0), jig("along", heading=88.0))
    with pytest.raises(NoWayError, match="first straight would have to go the other way"):
        follow(run, "behind", "targets")
    with pytest.raises(NoWayError, match="no straight meets the path"):
        follow(run, "along", "targets")
    early = replace(run, segments=(Straight(10.0), Act("bell"), *run.segments))
    with pytest.raises(NoWayError, match="cannot be kept"):
        follow(early, "behind", "targets")
    assert follow(early, "one", "targets") == early


def test_keep_is_one_of_two_words() -> None:
    with pytest.raises(ValueError, match="keep='heading'"):
        follow(yard(jig("one")), "one", "heading")


def test_a_field_without_jigs_still_has_the_start_by_eye() -> None:
    run = replace(corridor(jig("one")), start=StartByEye((400.0, 500.0), 0.0, STILL))
    run = replace(run, field=replace(run.field, jigs=()))
    answer = rank(run, keep="path", trials=200)
    assert [each.jig for each in answer.jigs] == [BY_EYE]
    assert answer.best is not None
    assert answer.best.success is not None
    assert answer.best.success.share == 1.0


def test_nowhere_to_begin() -> None:
    run = corridor(jig("inside", x=1200.0, y=480.0))
    answer = rank(run, keep="path", trials=200)
    assert answer.best is None
    assert [each.fits for each in answer.jigs] == [False, False]
    assert "can begin at none" in jigs_text(answer)


def test_stopping_early_keeps_what_was_done() -> None:
    def stop_after(count: int) -> Callable[[int, int], None]:
        def watch(done: int, wanted: int) -> None:
            if done >= count:
                raise KeyboardInterrupt

        return watch

    run = corridor(jig("one", across=6.0), jig("two", across=6.5))
    answer = rank(run, keep="path", trials=50_000, watch=stop_after(6000))
    assert answer.interrupted
    assert 1000 <= answer.trials <= 5000
    assert "Stopped early" in jigs_text(answer)
    with pytest.raises(KeyboardInterrupt):
        rank(run, keep="path", trials=50_000, watch=stop_after(1))


def test_threads_change_nothing() -> None:
    run = load_run("runs/bakery/flour-round.yaml")
    assert rank(run, trials=2000, threads=1) == rank(run, trials=2000, threads=2)


def test_candidates_tell_what_they_change() -> None:
    run = load_run("runs/bakery/flour-round.yaml")
    found = {each.name: each for each in candidates(run, "targets")}
    assert found["corner block"].changed == ()
    assert [change.split(":")[0] for change in found["gate block"].changed] == ["segment 1", "segment 3"]


# --- giving up, ranking, counting ----------------------------------------------------------------------------------


def racer(name: str, success: str) -> _Racer:
    """A start whose trials went so: 1 got through, 0 did not."""
    made = _Racer(Candidate(name, False, corridor(jig(name)), None, ()), own=False)
    made.success = np.array([each == "1" for each in success])
    return made


def test_a_start_is_given_up_at_exactly_the_level_of_the_sign_test() -> None:
    """Ten trials that differ, all for the best: luck makes that in 1 of 2^10 (binomial with one half)."""
    for level, dropped in ((1.01 / 2**10, True), (0.99 / 2**10, False)):
        best, other = racer("best", "1" * 20), racer("other", "0" * 10 + "1" * 10)
        _give_up([best, other], level)
        assert (best.dropped, other.dropped) == (False, dropped)
    # Nine of ten: 11 of 2^10.
    for level, dropped in ((11.1 / 2**10, True), (10.9 / 2**10, False)):
        best, other = racer("best", "1" * 9 + "0" + "1" * 10), racer("other", "0" * 9 + "1" * 11)
        _give_up([best, other], level)
        assert (best.dropped, other.dropped) == (False, dropped)


def test_the_level_is_shared_by_all_looks_and_starts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bonferroni: 1 % of whole studies, over three starts (two jigs and by eye) and the blocks of 2,500 trials."""
    levels = []
    monkeypatch.setattr("fieldsim.studies.jigs._give_up", lambda racers, level: levels.append(level))
    rank(corridor(jig("one"), jig("two")), keep="path", trials=2500)
    looks = -(-2500 // BLOCK)
    assert levels == pytest.approx([0.01 / (looks * 3)] * (looks - 1))


def test_what_was_given_up_is_told_beside_the_best() -> None:
    """The best got through in 3 of the first 4 and in 5 of 8. One that was given up after those 4 got through in 2 of
    the 3 and not in the fourth, so it is at 5/8 * 2/3: lower than the best, though 1/2 of 4 is told of luck."""
    early, best = racer("early", "1100"), racer("best", "11101001")
    early.dropped = True
    rows = _ranked([], [early, best], Fitting())
    assert [row.jig for row in rows] == ["best", "early"]
    assert rows[1].success is not None
    assert rows[1].behind is not None
    assert rows[1].success.share == pytest.approx(5 / 12)
    assert rows[1].behind.share == pytest.approx(5 / 8 - 5 / 12)


def test_the_runs_own_start_is_never_given_up() -> None:
    """Its number is what every study tells of the run."""
    best, own = racer("best", "1" * 20), racer("own", "0" * 20)
    own.own = True
    _give_up([best, own], 0.5)
    assert not own.dropped


def test_no_start_above_one_that_gets_through_more_often() -> None:
    run = load_run("runs/bakery/flour-round.yaml")
    rows = [row for row in rank(run, trials=3 * BLOCK).jigs if row.success is not None]
    assert any(row.dropped for row in rows)
    shares = [row.success.share for row in rows if row.success is not None]
    assert shares == sorted(shares, reverse=True)
    for row in rows:
        assert row.success is not None
        assert row.behind is not None
        assert row.success.share + row.behind.share == pytest.approx(shares[0])


def test_the_straight_after_the_turn_does_not_turn_round() -> None:
    with pytest.raises(NoWayError, match="straight after the turn would have to go the other way"):
        follow(yard(jig("one"), jig("beyond", y=1400.0)), "beyond", "targets")


def test_what_is_counted_ends_at_what_is_wanted() -> None:
    """A start that is given up is not waited for."""
    told: list[tuple[int, int]] = []
    run = corridor(jig("good"), jig("hopeless", y=445.0))
    answer = rank(run, keep="path", trials=4 * BLOCK, watch=lambda done, wanted: told.append((done, wanted)))
    assert any(each.dropped for each in answer.jigs)
    assert all(done <= wanted for done, wanted in told)
    assert told[0][1] == 3 * 4 * BLOCK
    assert told[-1] == (sum(each.trials for each in answer.jigs),) * 2


def test_a_start_that_nobody_set_by_eye_is_not_complained_of() -> None:
    """A jig may hold the robot where no start may be set by eye, outside a board: then that is only not compared."""
    field = Field("Board", (1000.0, 1000.0), None, jigs=(Jig("edge", (0.0, 500.0), 0.0, "front right"),))
    run = Run("Round", field, robot(), "edge", (Straight(200.0),))
    assert start_pose(run)[0] < 0
    assert [candidate.name for candidate in candidates(run, "path")] == ["edge"]
