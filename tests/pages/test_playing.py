"""What the page's script is given to play: against the plan, the trials and the answer. The run is the demo's."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fieldsim.files import load_run
from fieldsim.pages.driving import SCRIPT, STEP, driving
from fieldsim.pages.saving import sample_of
from fieldsim.sim.clock import Clock
from fieldsim.sim.failures import failures
from fieldsim.sim.ways import way_of
from fieldsim.studies.attempt import Tried, attempt

RUNS = Path(__file__).parents[2] / "runs/bakery"


@pytest.fixture(scope="module", params=["flour-round", "yard-bell"])
def played(request: pytest.FixtureRequest) -> tuple[Tried, dict[str, Any]]:
    tried = attempt(load_run(RUNS / f"{request.param}.yaml"), trials=512, keep=512, threads=1)
    return tried, json.loads(driving(tried, sample_of(tried)))


def pose_at(way: list[list[float]], head: float) -> list[float]:
    """As the script does it."""
    heads = [node[0] for node in way]
    return [float(np.interp(head, heads, [node[k] for node in way])) for k in (1, 2, 3)]


def test_the_plan_is_where_the_window_shows_it(played: tuple[Tried, dict[str, Any]]) -> None:
    tried, data = played
    clock, way = Clock(tried.ready), way_of(tried.ready)
    for seconds in np.linspace(0.0, clock.seconds, 97):
        place = seconds / STEP
        head = float(np.interp(place, np.arange(len(data["heads"])), data["heads"]))
        x, y, heading = pose_at(data["planned"], head)
        there = way.pose_at(clock.head_at(float(seconds)))
        # A clock told every twentieth of a second at 250 mm/s and 120 degrees/s, and chords of 5 degrees.
        assert (x, y) == pytest.approx(there[:2], abs=1.5)
        assert heading == pytest.approx(there[2], abs=1.0)


def test_each_trial_ends_as_it_was_counted(played: tuple[Tried, dict[str, Any]]) -> None:
    tried, data = played
    first = tried.first
    assert first is not None
    found = failures(first)
    assert len(data["trials"]) == 60
    for n, trial in enumerate(data["trials"]):
        failure = found[n]
        assert (trial["cause"] >= 0) is (failure is not None)
        if failure is not None:
            assert data["causes"][trial["cause"]]["segment"] == failure.segment
            assert failure.what in trial["words"]
        if trial["at"] is None:
            assert trial["end"] == len(tried.ready.run.segments) or first.ended_segment[n]
            assert pose_at(trial["way"], trial["end"])[:2] == pytest.approx(first.poses[n, -1, :2], abs=0.06)
        else:
            assert int(np.ceil(trial["end"])) == first.contact_segment[n]
    many = [cause["many"] for cause in data["causes"]]
    assert many == sorted(many, reverse=True)
    assert sum(many) == sum(failure is not None for failure in found[:60])


def test_the_script_stands_alone() -> None:
    """It asks for nothing, and holds nothing that would end its element."""
    for word in ("http:", "https:", "fetch(", "XMLHttpRequest", "import(", "eval(", "innerHTML", "</", "localStorage"):
        assert word not in SCRIPT, word
