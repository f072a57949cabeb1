"""The first screen of ``try``. Every answer behind it is invented."""

from __future__ import annotations

import re

import pytest
from invented import ANSWERS, drifts_to_one_side, no_trial_done, spread_is_the_trouble

from fieldsim import language
from fieldsim.lettering import cells
from fieldsim.report.statement import statement_text
from fieldsim.report.words.attempt import try_text
from fieldsim.report.words.brief import brief_statement

NUMBERS = re.compile(r"\d+(?:\.\d+)? (?:mm|s\b|in 1000|degrees)")


# Names of forty wide characters take two lines each.
@pytest.mark.parametrize("chosen", ["en", "de"])
@pytest.mark.parametrize("name", [name for name in ANSWERS if name != "odd_names"])
def test_it_fits_a_screen_of_24_lines(name: str, chosen: str) -> None:
    language.choose(chosen)
    try:
        lines = statement_text(brief_statement(ANSWERS[name]()), 80).splitlines()
    finally:
        language.choose("en")
    assert len(lines) <= 24
    assert max(map(cells, lines)) <= 80


@pytest.mark.parametrize("name", ANSWERS)
def test_it_says_the_numbers_of_the_whole_answer(name: str) -> None:
    brief = statement_text(brief_statement(ANSWERS[name]()), 10_000)
    whole = try_text(ANSWERS[name](), 10_000)
    assert set(NUMBERS.findall(brief)) <= set(NUMBERS.findall(whole))


def test_the_whole_answer_is_pointed_to() -> None:
    for answer in (spread_is_the_trouble(), drifts_to_one_side(), no_trial_done()):
        assert statement_text(brief_statement(answer), 80).rstrip().endswith("--details tells the rest.")
