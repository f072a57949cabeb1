"""What blocks of trials add up to: against all trials at once, by numpy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plans import cluttered, open_floor, run

from fieldsim.model import Jig, Spread, Straight
from fieldsim.sim.failures import counted, failures
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import Trials, blocks, joined, simulate
from fieldsim.studies.tally import Tally


def without(block: Trials, obstacle: int) -> Trials:
    """The block as it would be if no trial of it had come near an obstacle."""
    kept = block.obstacles != obstacle
    return replace(
        block, obstacles=block.obstacles[kept], clearance=block.clearance[:, kept], tightest=block.tightest[:, kept]
    )


@pytest.mark.parametrize("missing", [(0,), (2,), (0, 1), (1,), (0, 2)])
def test_an_obstacle_that_some_blocks_did_not_follow_was_beyond_the_horizon_in_them(missing: tuple[int, ...]) -> None:
    """Seen late, gone again, or both: it counts with all trials."""
    ready = plan(cluttered(3, 8))
    parts = list(blocks(ready, 1, 2300))
    assert len(parts) == 3
    near = int(parts[0].obstacles[parts[0].clearance.mean(axis=0).argmin()])
    parts = [without(part, near) if n in missing else part for n, part in enumerate(parts)]
    tally = Tally(ready)
    for part in parts:
        tally.add(part)
    whole = joined(parts)
    (column,) = np.flatnonzero(whole.obstacles == near)
    values = whole.clearance[:, column]
    histogram = tally.gaps[tally.near[near]]
    assert histogram.total(0) == 2300
    answer = tally.answer(seed=1, asked=2300, bare=False, need=None)
    (told,) = (each for each in answer.clearance if each.obstacle == ready.solids[near].name)
    assert told.mean == pytest.approx(values.mean(), abs=0.005)
    assert told.median == pytest.approx(np.sort(values)[1149], abs=0.011)
    assert told.p05 == pytest.approx(np.sort(values)[114], abs=0.011)


def test_sums_over_blocks_are_those_of_all_trials_at_once() -> None:
    """Counts, the end's mean and covariance, the time: numpy over all trials."""
    ready = plan(cluttered(5, 8))
    parts = list(blocks(ready, 2, 2300))
    tally = Tally(ready)
    for part in parts:
        tally.add(part)
    answer = tally.answer(seed=2, asked=2300, bare=False, need=None)
    whole = joined(parts)
    assert 100 < whole.ended.sum() < 2300
    assert (answer.success.share, answer.clear.share) == (whole.success.mean(), whole.clear.mean())
    ends = whole.poses[whole.ended, -1]
    finish = answer.finish
    assert finish.covariance is not None
    assert np.array(finish.covariance) == pytest.approx(np.cov(ends.T), rel=1e-9)
    assert finish.sd == pytest.approx(ends.std(axis=0, ddof=1), rel=1e-9)
    assert finish.mean is not None
    assert finish.mean[:2] == pytest.approx(ends.mean(axis=0)[:2])
    touched = sum(round(each.share.share * 2300) for each in answer.contacts)
    assert touched == (~whole.clear).sum()
    for each in answer.contacts:
        number = [thing.name for thing in ready.solids].index(each.obstacle)
        both = (whole.contact_obstacle == number) & (whole.contact_segment == each.segment)
        assert each.share.share == both.mean()
    # What went wrong first: each trial that did not get through once, and as the trials one by one have it.
    assert sum(each.count for each in answer.first) == (~whole.success).sum()
    assert [((each.why, each.what, each.segment), each.count) for each in answer.first] == counted(failures(whole))
    assert all(each.share.share == each.count / 2300 for each in answer.first)
    for row in answer.ribbon:
        assert row.median == pytest.approx(np.sort(whole.ribbon[:, row.segment - 1])[1149], abs=0.011)


def test_what_the_robot_is_set_against_has_no_gap_as_planned() -> None:
    """Rear on the near wall, left side on the left wall: no gap, not one 'over 200 mm'; a wall it comes back to has the
    gap it comes back to. What is not touched at the start has its own."""
    corner = Jig("corner", (0.0, 0.0), 90.0, "rear left", Spread(0.2, 0.2, 0.1))
    floor = replace(open_floor(), jigs=(corner,))

    def gaps(*segments: Straight) -> dict[str, tuple[float, bool]]:
        tally = Tally(plan(replace(run(*segments, field=floor), start="corner")))
        tally.add(simulate(tally.ready.run, 200))
        return {
            gap.obstacle: (gap.nominal, gap.stands)
            for gap in tally.answer(seed=1, asked=200, bare=False, need=None).clearance
        }

    assert gaps(Straight(300))["near wall"] == (0.0, True)
    there_and_back = gaps(Straight(300), Straight(-270))
    assert there_and_back["near wall"] == (pytest.approx(30.0), False)
    assert there_and_back["left wall"] == (0.0, True)
