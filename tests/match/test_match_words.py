"""The match in words: shares are of all matches, not of those that went well. All invented."""

from __future__ import annotations

from pathlib import Path

from made import Try, made_bank, made_match, made_run

from fieldsim.files import load_match
from fieldsim.match.play import play
from fieldsim.match.study import result, study
from fieldsim.report.words.match import match_text, not_begun, spread_words
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


def test_time_for_a_run_is_not_told_as_its_success() -> None:
    """A run that never gets through, but has its time: nobody is told that all runs are driven to their end."""
    match = made_match([made_run("One", "a"), made_run("Two", "b")], 60.0)
    bank = made_bank(match, [[[Try(10.0, {"a": 5.0})], [Try(10.0, through=False)]]] * 40)
    order = result(bank, play(bank, (0, 1)))
    assert order.runs[1].success.share == 0.0
    _, told = spread_words(order, 60.0, 40)
    assert told == "There is time for every run before 60 s: all of 40 (at least 91 in 100)."
