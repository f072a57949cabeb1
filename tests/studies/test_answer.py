"""The answer as JSON: the promised keys, and nothing JSON cannot say. Every answer here is invented."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from invented import (
    ANSWERS,
    a_square_is_missed,
    all_fine,
    few_trials_interrupted,
    no_trial_done,
    spread_is_the_trouble,
)

from fieldsim.answers import to_json

SHARE = {"share", "low", "high"}
PROMISED = {
    "command", "version", "run", "field", "robot", "trials", "seed", "success", "clear", "contacts", "clearance",
    "ribbon", "targets", "squares", "finish", "time",
}  # fmt: skip


@pytest.mark.parametrize("name", ANSWERS)
def test_json_is_plain_and_comes_back_the_same(name: str) -> None:
    said = to_json(ANSWERS[name]())
    assert json.loads(json.dumps(said, allow_nan=False)) == said


@pytest.mark.parametrize("name", ANSWERS)
def test_every_promised_key_is_there(name: str) -> None:
    said = to_json(ANSWERS[name]())
    assert said.keys() >= PROMISED
    assert said["command"] == "try"
    for square in said["squares"]:
        assert square.keys() >= {"segment", "on", "missed", "before", "after"} | SHARE
    assert said["success"].keys() == said["clear"].keys() == SHARE
    for contact in said["contacts"]:
        assert contact.keys() == {"obstacle", "segment", "driven"} | SHARE
    for gap in said["clearance"]:
        assert gap.keys() == {
            "obstacle",
            "segment",
            "nominal",
            "p05",
            "p05_low",
            "p05_high",
            "median",
            "mean",
            "stands",
        }
    for stretch in said["ribbon"]:
        assert stretch.keys() == {"segment", "nominal", "p05", "median", "p95"}
    for target in said["targets"]:
        assert target.keys() >= {"target", "segment", "miss_median", "miss_p95"} | SHARE
    assert said["finish"].keys() >= {"nominal", "mean", "sd", "covariance"}
    assert said["time"].keys() == {"nominal", "mean", "sd", "p95"}


def test_values_arrive_unrounded() -> None:
    answer = spread_is_the_trouble()
    said = to_json(answer)
    assert said["success"]["share"] == 0.871
    assert said["contacts"][0] == {
        "obstacle": "mill", "segment": 3, "share": 0.071, "low": answer.contacts[0].share.low,
        "high": answer.contacts[0].share.high, "driven": said["contacts"][0]["driven"],
    }  # fmt: skip
    assert [gap["p05"] for gap in said["clearance"]] == [gap.p05 for gap in answer.clearance]
    assert said["finish"]["covariance"][1] == [2.1, 38.2, 3.9]


def test_what_is_not_known_is_null() -> None:
    said = to_json(no_trial_done())
    assert said["clearance"][0]["p05"] is None
    assert said["clearance"][0]["p05_high"] is None
    assert said["clearance"][0]["nominal"] == 12.4
    assert said["finish"]["mean"] is None
    assert said["time"]["p95"] is None
    assert said["meets_need"] is None


def test_squares_say_how_they_failed_and_what_they_did() -> None:
    wall, line = to_json(a_square_is_missed())["squares"]
    assert (wall["segment"], wall["on"], wall["share"]) == (3, "far wall", 0.94)
    assert [(each["why"], each["share"]) for each in wall["missed"]] == [("not reached", 0.045), ("too skew", 0.015)]
    assert wall["before"] == {"heading": 1.04, "away": 6.21, "along": 2.63}
    assert wall["after"] == {"heading": 0.301, "away": 0.52, "along": 5.18}
    assert line["before"] is None


def test_the_share_that_comes_to_its_end_is_what_touches_nothing_less_what_missed_a_square() -> None:
    assert a_square_is_missed().ended == pytest.approx(0.93 - 0.045 - 0.015 - 0.002)
    assert spread_is_the_trouble().ended == spread_is_the_trouble().clear.share


def test_numbers_of_numpy_become_plain() -> None:
    answer = replace(all_fine(), trials=np.int64(10_000), seed=np.uint32(7), horizon=np.float32(200.0))  # type: ignore[arg-type]
    said = json.loads(json.dumps(to_json(answer), allow_nan=False))
    assert (said["trials"], said["seed"], said["horizon"]) == (10_000, 7, 200.0)


def test_need_and_interruption_are_told() -> None:
    early = to_json(few_trials_interrupted())
    assert (early["interrupted"], early["asked"], early["trials"]) == (True, 1000, 20)
    assert (early["need"], early["meets_need"]) == (0.9, False)
    assert to_json(all_fine())["meets_need"] is True
    assert to_json(replace(all_fine(), stopped_early=True))["interrupted"] is True
