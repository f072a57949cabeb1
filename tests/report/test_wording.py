"""The answer in words. Whole texts are compared with files in golden/; every answer behind them is invented.

To write the files anew after a wanted change of words: ``python tests/test_wording.py``, then read the difference.
"""

from __future__ import annotations

import doctest
import re
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented import (
    ANSWERS,
    NASTY,
    a_square_is_missed,
    all_fine,
    drifts_to_one_side,
    fails_at_the_start,
    few_trials_interrupted,
    first,
    gap_too_small,
    no_trial_done,
    odd_names,
    spread_is_the_trouble,
    target_missed,
)

from fieldsim import lettering
from fieldsim.report import phrases
from fieldsim.report.words.attempt import advice, cells, headline, how_often, one_line, shorten, try_text
from fieldsim.stats.intervals import wilson
from fieldsim.studies.answer import ContactAnswer, TimeAnswer

GOLDEN = Path(__file__).parent / "golden"


@pytest.mark.parametrize("name", ANSWERS)
def test_text_is_as_agreed(name: str) -> None:
    assert try_text(ANSWERS[name]()) == (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("width", [40, 60, 80, 100, 160])
@pytest.mark.parametrize("name", ANSWERS)
def test_no_line_is_wider_than_asked(name: str, width: int) -> None:
    assert max(cells(line) for line in try_text(ANSWERS[name](), width).split("\n")) <= width


def test_a_tiny_width_is_taken_as_forty() -> None:
    assert try_text(spread_is_the_trouble(), 5) == try_text(spread_is_the_trouble(), 40)


@pytest.mark.parametrize("name", ANSWERS)
def test_colour_changes_no_word(name: str) -> None:
    plain, coloured = (try_text(ANSWERS[name](), colour=colour) for colour in (False, True))
    assert coloured != plain
    assert re.sub(r"\x1b\[[0-9;]+m", "", coloured) == plain


@pytest.mark.parametrize("name", ANSWERS)
def test_nothing_in_the_text_moves_a_cursor(name: str) -> None:
    text = try_text(ANSWERS[name]())
    assert all(character == "\n" or character.isprintable() for character in text)
    text.encode("utf-8")


# Intervals: Wilson 1927 through fieldsim.stats.intervals, whose own tests hold it against published values.
@pytest.mark.parametrize(
    ("count", "trials", "words"),
    [
        (871, 1000, "871 in 1000 (between 848 and 891)"),
        (0, 1000, "none of 1000 (at most 4 in 1000)"),
        (1000, 1000, "all of 1000 (at least 996 in 1000)"),
        (9999, 10_000, "more than 999 in 1000"),
        (1, 10_000, "less than 1 in 1000"),
        (17, 20, "17 of 20 (between 63 and 95 in 100)"),
        (0, 1, "0 of 1 (at most 80 in 100)"),
        (1, 1, "1 of 1 (at least 20 in 100)"),
        (0, 0, "not known (no trial was done)"),
    ],
)
def test_how_often(count: int, trials: int, words: str) -> None:
    share = wilson(count, trials) if trials else no_trial_done().success
    assert how_often(share, trials) == words


@given(trials=st.integers(400, 10**6), part=st.floats(0, 1))
def test_the_interval_told_holds_the_interval_known(trials: int, part: float) -> None:
    share = wilson(round(part * trials), trials)
    told = re.search(r"between (\d+) and (\d+)", how_often(share, trials))
    if told:
        low, high = (int(number) / 1000 for number in told.groups())
        assert low - 1e-9 <= share.low <= share.share <= share.high <= high + 1e-9
        assert low > share.low - 0.001 - 1e-9
        assert high < share.high + 0.001 + 1e-9


@given(st.text(max_size=80), st.integers(8, 40))
def test_a_shortened_name_fits_and_is_one_line(text: str, limit: int) -> None:
    short = shorten(text, limit)
    assert 0 < cells(short) <= limit
    assert short == one_line(short)


def test_names_that_differ_at_the_end_stay_apart() -> None:
    assert shorten("the very long counter by the window 1", 20) != shorten("the very long counter by the window 2", 20)


def test_one_line_is_told_in_every_nasty_case() -> None:
    for name in NASTY:
        assert one_line(name).isprintable()
        assert "\n" not in one_line(name)


def test_what_to_look_at_depends_on_the_trouble() -> None:
    first = {name: advice(ANSWERS[name]())[0] for name in ANSWERS}
    assert "spread is the trouble" in first["spread_is_the_trouble"]
    assert "segment 3" in first["spread_is_the_trouble"]
    assert "planned gap is small (3.3 mm)" in first["gap_too_small"]
    assert "the same way each time" in first["drifts_to_one_side"]
    assert "right at the start" in first["fails_at_the_start"]
    assert any("misses lever" in point for point in advice(target_missed()))
    assert "The tightest place is oven" in first["all_fine"]
    assert "nothing comes near" in first["nothing_there"]
    assert "No trial was done" in first["no_trial_done"]


def test_advice_follows_the_values_not_the_scene() -> None:
    """The same answer with a wider planned gap gets other advice: nothing hangs on a name."""
    answer = gap_too_small()
    wider = replace(answer.clearance[0], nominal=25.0, median=24.5)
    changed = advice(replace(answer, clearance=(wider, *answer.clearance[1:])))[0]
    assert "spread is the trouble" in changed
    assert "small" not in changed


def test_a_plan_written_against_the_bias_is_not_blamed() -> None:
    """Driven perfectly it would be tight or off, but the middle trial is where it should be: the spread is to blame."""
    answer = gap_too_small()
    tight = replace(answer.clearance[0], nominal=0.0, median=14.0)
    changed = advice(replace(answer, clearance=(tight,)))[0]
    assert "at least 14 mm, so the spread is the trouble" in changed
    assert "touches it" not in changed
    answer = target_missed()
    off = replace(answer.targets[0], nominal_miss=21.0, miss_median=6.4)
    changed = " ".join(advice(replace(answer, targets=(off,))))
    assert "The plan" not in changed
    assert "errors add up" in changed
    told = " ".join(advice(replace(answer, targets=(replace(off, miss_median=20.0),))))
    assert "The plan itself is 21.0 mm off" in told


def test_troubles_are_told_by_what_they_cost_with_the_number() -> None:
    """A contact in 30 of 1000 does not come before a target that 345 miss."""
    answer = target_missed()
    touched = replace(
        answer,
        contacts=(ContactAnswer("mill", 3, wilson(30, 1000)),),
        clear=wilson(970, 1000),
        first=first(1000, ("misses", "lever", 5, 315), ("touches", "mill", 3, 30)),
        finish=replace(answer.finish, met=None),
    )
    most, second = advice(touched)[:2]
    assert "misses lever" in most
    assert "315 in 1000" in most
    assert "touches mill" in second
    assert "30 in 1000" in second


@pytest.mark.parametrize(("driven", "told"), [(2.0, True), (660.0, False)])
def test_a_contact_is_at_the_start_by_the_way_driven(driven: float, told: bool) -> None:
    """On segment 1, but 660 mm from the start: that is not where the robot is set."""
    answer = fails_at_the_start()
    contact = replace(answer.contacts[0], driven=driven)
    first = advice(replace(answer, contacts=(contact,)))[0]
    assert "The plan itself touches it" in first
    assert ("right at the start" in first) == told


def test_a_square_is_caught_by_so_many_of_those_that_came_there() -> None:
    """19 of 1000 come to the wall and all of them catch it: that is no bad square."""
    answer = a_square_is_missed()
    square = replace(answer.squares[0], share=wilson(19, 1000), missed=(), of_those=wilson(19, 19))
    text = try_text(replace(answer, squares=(square,)), 160)
    assert "caught all of 19 (at least 83 in 100), of those that came there" in text


def test_few_trials_ask_for_more() -> None:
    text = try_text(few_trials_interrupted())
    assert "Stopped early after 20 of 1000 trials" in text
    assert "Only 20 trials" in text
    assert "--trials 1000" in text
    assert "Only" not in try_text(spread_is_the_trouble())


def test_need_is_judged_in_words() -> None:
    assert "Wanted: 950 in 1000; the plan does not meet that." in try_text(gap_too_small())
    assert "Wanted: 990 in 1000; the plan meets that." in try_text(all_fine())
    assert "that is not settled" in try_text(few_trials_interrupted())
    assert "Wanted" not in try_text(target_missed())


def test_bare_is_said() -> None:
    assert "--bare" in try_text(fails_at_the_start())
    assert "--bare" not in try_text(drifts_to_one_side())


@pytest.mark.parametrize("name", ANSWERS)
def test_the_table_decides(name: str) -> None:
    assert try_text(ANSWERS[name](), 120).endswith("A simulated run is no proof: the table decides.\n")


@pytest.mark.parametrize(
    ("sd", "words"),
    [
        (0.0, "planned 14.3 s; on average 14.3 s, always the same\n"),
        (0.03, "give or take less than 0.1 s; 19 of 20 trials"),
        (0.31, "give or take 0.3 s; 19 of 20 trials"),
    ],
)
def test_the_spread_of_the_time_is_told_as_finely_as_it_matters(sd: float, words: str) -> None:
    text = try_text(replace(spread_is_the_trouble(), time=TimeAnswer(14.26, 14.27, sd, 14.81)), 160)
    assert words in text


@pytest.mark.parametrize("module", [lettering, phrases])
def test_examples_in_the_docstrings(module: ModuleType) -> None:
    done = doctest.testmod(module)
    assert done.attempted > 0
    assert done.failed == 0


def test_a_square_that_is_missed_is_told_and_mended() -> None:
    text = try_text(a_square_is_missed(), 160)
    assert "Does not catch far wall, and stops there: 60 in 1000" in text
    assert "not reached: 45 in 1000" in text
    assert "heading give or take 1.04 degrees before, 0.30 after" in text
    said = "far wall is not caught (not reached), 45 in 1000: it has driven all its 'reach' and is not there"
    assert any(said in point for point in advice(a_square_is_missed()))


def test_headline() -> None:
    assert headline(spread_is_the_trouble()) == "gets through 871 in 1000 (between 848 and 891)"
    assert headline(no_trial_done()) == "no trial was done"
    assert headline(odd_names()) == "gets through 800 in 1000 (between 788 and 811)"


if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for each, make in ANSWERS.items():
        (GOLDEN / f"{each}.txt").write_text(try_text(make()), encoding="utf-8")
    sys.exit()
