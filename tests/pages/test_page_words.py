"""What a page says was assumed of a robot."""

from __future__ import annotations

from fieldsim.model.accuracy import Systematic
from fieldsim.pages.page_words import _numbers


def test_a_spread_from_day_to_day_is_not_told_as_a_bias() -> None:
    record = Systematic(distance=0.002, veer=0.2, turn=0.005)
    bias = list(_numbers("bias", record, {"distance", "veer", "turn"}))
    day = list(_numbers("day", record, {"distance", "veer", "turn"}))
    assert [row.cells[1] for row in bias] == [row.cells[1] for row in day]
    assert bias[0].cells[2] == "Of straights: this much too long."
    assert {row.cells[2] for row in day} == {"How those differ from day to day: standard deviations."}
