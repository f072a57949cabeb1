"""The dearest error and the best square: against `causes`, `remedies` and runs of which the answer is known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from plans import open_floor
from plans import run as driven

from fieldsim.files import load_run
from fieldsim.model import Accuracy, Act, Straight, StraightNoise, Target, Turn, TurnNoise
from fieldsim.report.words.dearest import dearest_words, square_words
from fieldsim.sim.draws import kept_block
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import Driver
from fieldsim.studies.dearest import dearest
from fieldsim.studies.sources import sources

ROOT = Path(__file__).parents[2]
FLOUR = load_run(ROOT / "runs" / "bakery" / "flour-round.yaml")


def test_the_only_wild_error_costs_most_and_all_that_fails() -> None:
    field = replace(open_floor((2400.0, 2000.0)), targets=(Target("bell", (600.0, 1500.0), 12.0),), walls=None)
    wild = Accuracy(straight=StraightNoise(stop=0.5), turn=TurnNoise(stop=4.0))
    way = Straight(500.0 - (driven(Straight(1.0)).robot.body.length - driven(Straight(1.0)).robot.body.axle))
    run = driven(Turn(90.0), way, Act("bell", takes=1.0), accuracy=wild, at=(600.0, 1000.0), field=field)
    answer = dearest(run, trials=1000)
    assert answer is not None
    assert answer.segment == 1
    failing = 1.0 - Driver(plan(run), 1, clearances=False).block(0, 1000).success.mean()
    assert answer.worth.share == pytest.approx(failing)
    # An open board has no wall to push on.
    assert answer.square is None
    assert square_words(answer) == ""
    assert "segment 1" in dearest_words(answer)


def test_its_worth_is_that_of_the_trials_without_it() -> None:
    answer = dearest(FLOUR, trials=1000, screened=100)
    assert answer is not None
    ready = plan(FLOUR)
    driver = Driver(ready, 1, clearances=False)
    base = driver.block(0, 1000).success
    worths = {}
    for error in sources(FLOUR, ready.drivetrain):
        z = kept_block(1, 0, ready.drivetrain.streams).copy()
        z[list(error.rows)] = 0.0
        driver.z = z
        worths[error.words, error.segment] = driver.drawn(0, 1000).success.mean() - base.mean()
    assert worths[answer.source, answer.segment] == pytest.approx(answer.worth.share)
    assert answer.worth.share == pytest.approx(max(worths.values()))


def test_the_square_can_be_typed_and_is_worth_what_is_told() -> None:
    answer = dearest(FLOUR, trials=2000, screened=200)
    assert answer is not None
    square = answer.square
    assert square is not None
    assert square.worth.low > 0
    before, after = FLOUR.segments[: square.after], FLOUR.segments[square.after :]
    changed = replace(FLOUR, segments=(*before, *square.segments, *after))
    # Far from the trials that chose it.
    then, now = (
        np.concatenate([Driver(plan(run), 1, clearances=False).block(k, 1000).success for k in (7, 8)]).mean()
        for run in (changed, FLOUR)
    )
    assert abs(then - now - square.worth.share) < 0.05
    assert f"after segment {square.after}" in square_words(answer)


def test_a_run_that_does_not_fail_has_none_and_it_can_be_broken_off() -> None:
    assert dearest(driven(Straight(200.0)), trials=200) is None
    assert dearest(driven(Straight(200.0), accuracy=Accuracy()), trials=50) is None

    class StopError(Exception):
        pass

    def stop(done: int, wanted: int) -> None:
        assert 1 <= done <= wanted
        raise StopError

    with pytest.raises(StopError):
        dearest(FLOUR, trials=200, watch=stop)
