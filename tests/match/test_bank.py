"""The luck of matches: drawn once for all orders, whatever the number of threads, and one day for a whole match."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fieldsim.files import load_run
from fieldsim.match.bank import TRIES, fill
from fieldsim.model import Accuracy, Act, OtherTable, Run, Spread, Systematic
from fieldsim.model.match import Changeover, Match, MatchRun

FLOUR = load_run("runs/bakery/flour-round.yaml")
ONLY_DAYS = Accuracy(day=Systematic(distance=0.01, turn=0.01))


def a_match(*runs: Run, rerun: str = "once") -> Match:
    driven = tuple(MatchRun(replace(run, name=f"{run.name} {n}")) for n, run in enumerate(runs))
    return Match("Morning", limit=150.0, runs=driven, changeover=Changeover(9.0), rerun=rerun)  # type: ignore[arg-type]


def test_the_luck_belongs_to_its_match() -> None:
    match = a_match(FLOUR, FLOUR)
    one, other = fill(match, 300, seed=4, threads=1), fill(match, 300, seed=4, threads=3)
    assert all(np.array_equal(a, b) for a, b in zip(one.drawn, other.drawn, strict=True))
    assert one.drawn.seconds.shape == (300, 2, TRIES["once"])
    assert len(one.part(100, 50)) == 50
    assert not np.array_equal(one.drawn.seconds, fill(match, 300, seed=5).drawn.seconds)
    # Two runs that are alike have luck of their own.
    assert not np.array_equal(one.drawn.through[:, 0, 0], one.drawn.through[:, 1, 0])
    # A second try is only made where the first failed.
    through = one.drawn.through[:, :, 0] == 1
    assert (one.drawn.seconds[:, :, 1][through] == 0).all()
    assert (one.drawn.seconds[:, :, 1][~through] > 0).all()


def test_a_match_has_one_day() -> None:
    """A robot that errs only from day to day does the same in every run and try of a match."""
    jigs = tuple(replace(jig, spread=Spread(0.0, 0.0, 0.0)) for jig in FLOUR.field.jigs)
    run = replace(FLOUR, robot=replace(FLOUR.robot, accuracy=ONLY_DAYS), field=replace(FLOUR.field, jigs=jigs))
    bank = fill(a_match(run, run), 300, seed=4)
    through = bank.drawn.through
    assert 0 < through[:, 0, 0].sum() < 300
    assert np.array_equal(through[:, 0, 0], through[:, 1, 0])
    failed = through[:, 0, 0] == 0
    assert (through[failed, 0, 1] == 0).all()


def test_a_match_has_one_table() -> None:
    """Where the models stand is drawn once for all runs and tries of a match, whatever robot drives it."""
    jigs = tuple(replace(jig, spread=Spread(0.0, 0.0, 0.0)) for jig in FLOUR.field.jigs)
    things = tuple(
        replace(thing, spread=OtherTable(15.0, 15.0)) if thing.name == "milk churn" else thing
        for thing in FLOUR.field.obstacles
    )
    run = replace(
        FLOUR,
        robot=replace(FLOUR.robot, accuracy=Accuracy()),
        field=replace(FLOUR.field, jigs=jigs, obstacles=things),
        segments=tuple(segment for segment in FLOUR.segments if not isinstance(segment, Act)),
    )
    other = replace(run, robot=replace(run.robot, name="Box two"))
    through = fill(a_match(run, other), 300, seed=4).drawn.through
    assert 0 < through[:, 0, 0].sum() < 300
    assert np.array_equal(through[:, 0, 0], through[:, 1, 0])
    assert (through[through[:, 0, 0] == 0, 0, 1] == 0).all()


@pytest.mark.parametrize(("rerun", "tries"), TRIES.items())
def test_as_many_tries_as_may_be_made(rerun: str, tries: int) -> None:
    assert fill(a_match(FLOUR, rerun=rerun), 50).drawn.hit.shape[2] == tries
