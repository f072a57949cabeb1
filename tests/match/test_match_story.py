"""One match told try by try: against the kernel's sums, the slow twin, by hand, and driven again. All invented."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from made import TARGETS, Try, made_bank, made_match, made_run, random_bank, slow_play

from fieldsim.files import load_match
from fieldsim.match.bank import fill, one_try
from fieldsim.match.play import play
from fieldsim.match.story import Scored, Stretch, tell
from fieldsim.model.match import Changeover, MatchPoints, Rescue
from fieldsim.sim.plan import plan

BAKERY = Path(__file__).parent.parent.parent / "runs" / "bakery" / "match.yaml"


@settings(max_examples=examples(150))
@given(st.integers(0, 10**9), st.integers(1, 4))
def test_it_comes_to_what_the_kernel_says(seed: int, runs: int) -> None:
    rng = np.random.default_rng(seed)
    bank = random_bank(rng, 3, runs)
    order = tuple(int(r) for r in rng.permutation(runs)[: rng.integers(1, runs + 1)])
    played = play(bank, order)
    for m in range(3):
        story = tell(bank, order, m)
        assert story.score == pytest.approx(played.score[m])
        assert story.score == pytest.approx(slow_play(bank, m, order).score)
        assert min(story.clock, bank.rules.limit) == pytest.approx(played.clock[m])
        assert sum(each.points for each in story.scored) == pytest.approx(story.score)
        # Time has no holes, and nothing scores after the end.
        ends = [0.0, *(each.end for each in story.stretches)]
        assert [each.begin for each in story.stretches] == pytest.approx(ends[:-1])
        assert all(a.at <= b.at for a, b in pairwise(story.scored))
        assert all(each.at <= bank.rules.limit + 1e-9 for each in story.scored)


def test_by_hand() -> None:
    match = made_match(
        [made_run("One", "a", finish=True, points=TARGETS), made_run("Two", "b", points=TARGETS)], 60.0,
        changeover=Changeover(5.0), rescue=Rescue(-3.0, 4.0), rerun="once", points=MatchPoints(7.0),
    )  # fmt: skip
    drawn = [[
        [Try(10.0, {}, through=False, out=True), Try(12.0, {"a": 9.0}, home=True)],
        [Try(30.0, {"b": 20.0})],
    ]]  # fmt: skip
    story = tell(made_bank(match, drawn), (0, 1), 0)
    assert story.stretches == [
        Stretch("drive", 0, 0, 0.0, 10.0), Stretch("fetch", 0, 0, 10.0, 14.0), Stretch("change", 0, 1, 14.0, 19.0),
        Stretch("drive", 0, 1, 19.0, 31.0), Stretch("change", 1, 0, 31.0, 36.0),
        # It would end at 66 s; the target is hit at 56 s.
        Stretch("drive", 1, 0, 36.0, 60.0, cut=True),
    ]  # fmt: skip
    assert story.scored == [
        Scored(10.0, -3.0, 0, None), Scored(28.0, 10.0, 0, 0), Scored(31.0, 7.0, 0, None), Scored(56.0, 20.0, 1, 1),
    ]  # fmt: skip
    assert story.score == 34.0


def test_a_try_is_driven_again() -> None:
    match = load_match(BAKERY)
    bank = fill(match, 1200, seed=3)
    for r, each in enumerate(match.runs):
        ready = plan(each.run)
        for attempt in (0, 1):
            made = np.flatnonzero(bank.drawn.seconds[:, r, attempt] > 0)
            for m in (made[0], made[-1]):
                trial, joints = one_try(match, ready, 3, int(m), r, attempt)
                assert float(trial.time[0]) == bank.drawn.seconds[m, r, attempt]
                assert bool(trial.success[0]) == bool(bank.drawn.through[m, r, attempt])
                assert joints[-1] == pytest.approx(trial.poses[0, -1], abs=1e-9)
