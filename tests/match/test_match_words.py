"""The match in words: shares are of all matches, not of those that went well. All invented."""

from __future__ import annotations

from pathlib import Path

from fieldsim.files import load_match
from fieldsim.match.study import study
from fieldsim.report.words.match import match_text, not_begun
from fieldsim.stats.intervals import wilson

BAKERY = Path(__file__).parents[2] / "runs" / "bakery"


def test_what_is_not_begun_is_told_of_all_matches() -> None:
    assert not_begun(wilson(600, 1000), 1000) == "not begun in 40 of 100 matches"
    # Less than 1 in 200 is nobody's worry.
    assert not_begun(wilson(997, 1000), 1000) == ""
    assert not_begun(wilson(3, 10), 0) == ""
    answer = study(load_match(BAKERY / "match.yaml"), trials=300)
    seldom = [each for each in answer.written.runs if each.begun.share < 0.9]
    assert seldom
    text = match_text(answer)
    for each in seldom:
        assert not_begun(each.begun, answer.trials) in text
