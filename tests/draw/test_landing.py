"""Where the tool comes to at each act: against the answer's own numbers. The run is the demo's, invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fieldsim.draw.landing import MOST_DOTS, draw_landings, landings_of
from fieldsim.files import load_run
from fieldsim.studies.attempt import attempt

FLOUR = Path(__file__).parents[2] / "runs/bakery/flour-round.yaml"


def test_what_is_drawn_is_what_the_answer_says() -> None:
    tried = attempt(load_run(FLOUR), trials=1024, keep=1024, threads=1)
    (landing,) = landings_of(tried)
    (target,) = tried.answer.targets
    first = tried.first
    assert first is not None
    assert (landing.target, landing.segment, landing.within) == (target.target, target.segment, target.within)
    assert np.hypot(*landing.planned) == pytest.approx(target.nominal_miss)
    came = (first.contact_segment == 0) | (first.contact_segment > target.segment)
    assert len(landing.points) == min(MOST_DOTS, int(came.sum()))
    # The miss of each trial is how far its tool point is from the target; heading aside, those within hit it.
    miss = first.miss[came, 0][:MOST_DOTS]
    assert np.hypot(*landing.points.T) == pytest.approx(miss, abs=1e-6)
    assert landing.hit.tolist() == first.hit[came, 0][:MOST_DOTS].tolist()


def test_each_act_has_a_panel() -> None:
    tried = attempt(load_run(FLOUR), trials=256, keep=256, threads=1)
    (landing,) = landings_of(tried)
    several = tuple(landing._replace(segment=n, points=landing.points[:n], hit=landing.hit[:n]) for n in range(5))
    figure = draw_landings(several)
    assert [axes.get_label() for axes in figure.axes] == [f"landing-{n}" for n in range(5)]
    # To the left of the target is on the left.
    assert all(axes.get_xlim()[0] > axes.get_xlim()[1] for axes in figure.axes)


def test_a_run_without_kept_trials_has_none() -> None:
    assert landings_of(attempt(load_run(FLOUR), trials=256, threads=1)) == ()
