"""The whole answer of the log study, in values, words and JSON. Data invented."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from math import ceil, floor, inf, log

import pytest
from plans import PERFECT
from scipy.stats import binom
from test_logbook_trials import BELL, FLOUR, RUNS, entries, row_of_targets

from fieldsim.answers import to_json
from fieldsim.lettering import cells
from fieldsim.logbook.answer import Alternative, LogAnswer
from fieldsim.logbook.beliefs import beliefs
from fieldsim.logbook.judge import judge
from fieldsim.model import Spread
from fieldsim.model.measured import LogEntry
from fieldsim.report.words.logbook import logbook_text
from fieldsim.report.words.logbook.pointed import alternative_words, times_words
from fieldsim.report.words.logbook.verdict import headline
from fieldsim.sim.trials import simulate

DAY = date(2026, 11, 20)
LOG = [
    *entries(
        (5, {"result": "through", "target": "flour lid", "miss": 9, "seconds": 16.1}),
        (6, {"result": "touched", "where": "flour bin"}),
        (2, {"result": "missed", "where": "flour lid", "miss": 31}),
        (1, {"result": "stopped", "segment": 3}),
    ),
    *entries((6, {"result": "through"}), (2, {"result": "missed"}), run="Yard bell"),
]
# Three or four drives a day, whatever came of them.
LOG = [replace(row, date=DAY + timedelta(days=n % 6)) for n, row in enumerate(LOG)]


@pytest.fixture(scope="module")
def answer() -> LogAnswer:
    return judge(LOG, RUNS, trials=1000)


def test_the_whole_answer(answer: LogAnswer) -> None:
    flour, bell = answer.runs
    assert flour.judged.drives == 14
    assert flour.judged.through == 5
    assert flour.judged.verdict == "too hopeful"
    assert flour.judged.forecast == simulate(FLOUR, 1000, seed=1).share
    assert [(each.where, each.counted) for each in flour.went_wrong[:3]] == [
        ("flour bin", 6),
        ("flour lid", 2),
        ("", 1),
    ]
    assert flour.went_wrong[2].forecast is None
    assert sum(each.forecast.share for each in flour.went_wrong if each.forecast) == pytest.approx(
        1 - flour.judged.forecast.share
    )
    (miss,) = flour.misses
    assert (miss.target, miss.measured, miss.median) == ("flour lid", 7, 9.0)
    assert not miss.by_ending
    assert flour.time is not None
    assert flour.time.measured == 5
    assert bell.judged.verdict == "too few to say"
    assert bell.misses == ()
    assert answer.together is not None
    assert answer.together.drives == 22
    assert (answer.days, answer.undated, answer.one_day) == (6, 0, False)
    assert answer.together.forecast.low < answer.together.forecast.share < answer.together.forecast.high
    assert len(answer.alternatives) == 24
    assert [each.gain for each in answer.alternatives] == sorted((e.gain for e in answer.alternatives), reverse=True)


def test_who_measures_only_what_went_wrong_is_held_against_his_like() -> None:
    """Of trials that missed, half miss by more than the middle one; of all trials hardly any does."""
    rows = entries((10, {"result": "through"}), (4, {"result": "missed", "where": "one", "miss": 6}), run="Row")
    (run,) = judge(rows, {"Row": row_of_targets()}, trials=1000).runs
    (miss,) = run.misses
    assert miss.by_ending
    assert miss.verdict == "too few to say"
    assert miss.place < 0.5


def test_the_same_run_under_two_words_is_one_run() -> None:
    rows = [
        *entries((2, {"result": "through"})),
        *entries((3, {"result": "touched", "where": "flour bin"}), run="flour-round.yaml"),
    ]
    found = judge(rows, {"Flour round": FLOUR, "flour-round.yaml": FLOUR}, trials=100)
    assert [(run.run, run.judged.drives) for run in found.runs] == [("Flour round", 5)]
    other = judge(rows, {"Flour round": FLOUR, "flour-round.yaml": replace(FLOUR, finish=None)}, trials=100)
    assert [run.run for run in other.runs] == ["Flour round", "flour-round.yaml"]


def test_a_robot_without_accuracy_forecasts_all_or_nothing() -> None:
    run = row_of_targets(PERFECT, Spread(0.0, 0.0, 0.0))
    rows = entries((9, {"result": "through"}), (1, {"result": "stopped"}), run="Row")
    found = judge(rows, {"Row": run}, trials=200)
    (row,) = found.runs
    assert row.judged.forecast.share == 1.0
    assert row.judged.verdict == "too hopeful"
    assert any("no 'accuracy'" in note for note in row.notes)
    assert any("all or nothing" in note for note in row.notes)
    assert "all or nothing" in logbook_text(found)
    # There is no spread to double, and the start by eye has none either.
    assert {each.what for each in found.alternatives} == {"distance", "veer", "turn", "along", "across", "heading"}
    json.dumps(to_json(found), allow_nan=False)


def test_threads_change_nothing_and_progress_ends_at_its_end() -> None:
    seen: list[tuple[int, int]] = []
    rows = entries((3, {"result": "through"}), run="Row")
    runs = {"Row": row_of_targets()}
    one = judge(rows, runs, trials=1500, threads=1, watch=lambda done, wanted: seen.append((done, wanted)))
    assert one == judge(rows, runs, trials=1500, threads=2)
    assert seen[-1][0] == seen[-1][1]
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


def test_no_trials_and_unknown_runs_are_refused() -> None:
    with pytest.raises(ValueError, match="trials=0"):
        judge(LOG, RUNS, trials=0)
    with pytest.raises(KeyError):
        judge(LOG, {})


# --- words -----------------------------------------------------------------------------------------------------------


def test_headline() -> None:
    rows = [
        replace(row, date=DAY + timedelta(days=n))
        for n, row in enumerate(entries((6, {"result": "through"}), (8, {"result": "stopped"}), run="Yard bell"))
    ]
    wrong = judge(rows, RUNS, trials=1000)
    forecast = wrong.runs[0].judged.forecast
    low, high = floor(forecast.low * 1000), ceil(forecast.high * 1000)
    # Wilson's interval of 6 of 14, by the formula: 0.2138 to 0.6741.
    assert headline(wrong) == (
        f"Too hopeful: forecast {round(forecast.share * 1000)} in 1000 (between {low} and {high}), "
        "at the table 6 of 14 (between 213 and 675 in 1000)."
    )


@pytest.mark.parametrize("width", [20, 40, 60, 80, 100, 140])
def test_no_line_is_wider_than_it_may_be(answer: LogAnswer, width: int) -> None:
    text = logbook_text(answer, width)
    assert max(map(cells, text.splitlines())) <= max(width, 40)
    assert text.endswith("\n")
    for words in ("Too hopeful", "flour bin", "What the log points at", "Brier score", "What to look at next"):
        assert words in text


def test_the_words_say_what_matters(answer: LogAnswer) -> None:
    text = " ".join(logbook_text(answer).split())
    assert "22 drives on 6 days" in text
    assert "stopped, not said where 1 of 14" in text
    assert "All runs together: if the forecast were right, luck would make a log look at least so wrong in" in text
    assert "A drive is a run at the table, a trial is a simulated one." in text
    assert "A few drives prove little: it is the interval that says how little." in text
    assert "times likelier" in text
    assert "one day" not in text


def test_a_single_undated_drive() -> None:
    found = judge(entries((1, {"result": "through", "miss": 3, "target": "flour lid"})), RUNS, trials=300)
    assert found.together is not None
    assert found.together.verdict == "too few to say"
    assert (found.drives, found.days, found.undated, found.one_day) == (1, 0, 1, False)
    assert found.pointed == ()
    text = " ".join(logbook_text(found).split())
    assert " Too few to say: forecast" in text
    assert "1 drive; 300 trials" in text
    assert "Too few to say: with 10 drives or more it can be asked." in text
    assert "score" not in text
    assert "Where it went wrong" not in text
    assert len(logbook_text(found).splitlines()) <= 22
    assert "more drives would tell" in text
    json.dumps(to_json(found), allow_nan=False)


def test_drives_without_a_date_may_be_of_one_day() -> None:
    """So they say as little as drives of one day, and less than drives of days of their own."""
    rows = entries((4, {"result": "through"}), (8, {"result": "touched", "where": "flour bin"}))
    apart = [replace(row, date=DAY + timedelta(days=n)) for n, row in enumerate(rows)]
    together = [replace(row, date=DAY) for row in rows]
    undated, one_day, days = (judge(log_of, RUNS, trials=1000) for log_of in (rows, together, apart))
    assert undated.one_day
    assert one_day.one_day
    assert not days.one_day
    assert undated.together == one_day.together
    assert undated.together is not None
    assert days.together is not None
    assert undated.together.p_value > 10 * days.together.p_value
    text = " ".join(logbook_text(undated).split())
    assert "12 drives have no date. They are taken to be of one day" in text
    assert "Write the date of every drive" in text
    assert "Drive on another day." in text


def test_a_place_that_no_trial_touches() -> None:
    rows = entries((6, {"result": "through"}), (1, {"result": "touched", "where": "counter"}))
    found = judge([replace(row, date=DAY + timedelta(days=n)) for n, row in enumerate(rows)], RUNS, trials=1000)
    (run,) = found.runs
    assert (run.went_wrong[0].where, run.went_wrong[0].counted) == ("counter", 1)
    assert run.went_wrong[0].forecast is not None
    assert run.went_wrong[0].forecast.share == 0.0
    assert found.pointed == ()
    assert "it touched counter, and no trial does" in " ".join(logbook_text(found).split())


def test_a_gyro_robot_with_a_start_by_eye() -> None:
    run = row_of_targets()
    run = replace(run, robot=replace(run.robot, drive=replace(run.robot.drive, heading_from="gyro")))
    found = judge(entries((3, {"result": "through"}), run="Row"), {"Row": run}, trials=300)
    assert "gyro" in {each.what for each in found.alternatives} or not run.robot.accuracy.gyro.hold
    assert ("turn", "more") not in {(each.what, each.change) for each in found.alternatives}
    json.dumps(to_json(found), allow_nan=False)
    assert logbook_text(found)


def test_rivals_are_what_the_log_can_hardly_tell_from_the_best(answer: LogAnswer) -> None:
    gains = (9.0, 7.5, 6.0, 1.0)
    made = tuple(Alternative("turn", "more", 0.01, gain, 0.5, gain > 2) for gain in gains)
    # Less than 8 times, so up to 2.08 below the best.
    assert [each.gain for each in replace(answer, alternatives=made).rivals] == [9.0, 7.5]
    assert replace(answer, alternatives=made[3:]).rivals == ()


def test_alternatives_in_words() -> None:
    def words(what: str, change: str, step: float) -> str:
        return alternative_words(Alternative(what, change, step, 0.0, 0.5, False))

    assert words("turn", "more", 0.01) == "turns going 1 % farther"
    assert words("veer", "less", -1.0) == "veer 1 degree per metre more to the right"
    assert words("heading", "less", -0.7) == "the start turned 0.7 degrees more to the right"
    assert words("day", "double", 2.0) == "changes from day to day spreading twice as much"
    for belief in beliefs([BELL]):
        assert alternative_words(Alternative(*belief, 0.0, 0.5, False))
    gains = {
        0.0: "no difference",
        log(12): "12 times likelier",
        -log(2): "2.0 times less likely",
        log(240_123): "240000 times",
        900.0: "over a million",
    }
    for gain, wanted in gains.items():
        assert times_words(Alternative("turn", "more", 0.01, gain, 0.5, False)).startswith(wanted)


def test_a_log_without_drives() -> None:
    found = judge([], {})
    assert found.together is None
    assert "\nThe log has no drives yet.\n" in logbook_text(found)
    assert to_json(found)["bar"] is None
    json.dumps(to_json(found), allow_nan=False)


def test_json_keys(answer: LogAnswer) -> None:
    found = to_json(answer)
    json.dumps(found, allow_nan=False)
    assert found["command"] == "log"
    assert list(found) == [
        "command", "version", "trials", "seed", "drives", "days", "undated", "one_day", "together", "runs",
        "alternatives", "bar", "explained", "scores",
    ]  # fmt: skip
    assert list(found["runs"][0]) == [
        "run", "field", "robot", "drives", "through", "observed", "forecast", "p_value", "power", "needed", "shows",
        "verdict",
        "fewest", "most", "fits", "went_wrong", "misses", "time", "notes",
    ]  # fmt: skip
    assert list(found["alternatives"][0]) == [
        "what", "change", "step", "gain", "times", "success", "pointed", "allowed",
    ]  # fmt: skip
    assert list(found["scores"]) == ["brier", "log", "z", "p_value"]


# --- what it points at explains so much ------------------------------------------------------------------------------


def days_apart(rows: list[LogEntry], days: int) -> list[LogEntry]:
    return [replace(row, date=DAY + timedelta(days=n % days)) for n, row in enumerate(rows)]


def test_a_change_that_explains_all_and_one_that_does_not() -> None:
    """Misses and touches that turns going farther make likely; then the same with as many touches of a thing that
    nothing makes likely."""
    rows = entries(
        (6, {"result": "through", "target": "flour lid", "miss": 20}),
        (8, {"result": "missed", "where": "flour lid", "miss": 31}),
        (2, {"result": "touched", "where": "flour bin"}),
    )
    found = judge(days_apart(rows, 7), RUNS, trials=2000)
    assert found.pointed[0].what == "turn"
    assert found.explained is not None
    assert (found.explained.failed, found.explained.enough) == (10, True)
    # The forecast with the change is that of the change, drive by drive.
    assert found.explained.changed == pytest.approx(16 * (1 - found.pointed[0].through), abs=0.5)
    assert found.explained.as_written < 0.5 * found.explained.changed
    text = " ".join(logbook_text(found).split())
    assert "10 drives failed. Forecast were" in text
    assert "That is enough to explain the failures." in text
    # What is explained is not told to be looked at once more.
    assert "Watch that place" not in text

    more = judge(days_apart([*rows, *entries((5, {"result": "touched", "where": "counter"}))], 7), RUNS, trials=2000)
    assert more.pointed
    assert more.explained is not None
    assert not more.explained.enough
    assert [(each.where, each.counted) for each in more.explained.left] == [("counter", 5)]
    text = " ".join(logbook_text(more).split())
    assert "Not explained: Flour round touched counter 5 times" in text
    assert "omething else must be wrong as well." in text
    assert "it touched counter, and no trial does" in text


def test_a_change_that_explains_a_part() -> None:
    """All misses are of just the size that shorter straights make likelier, but not so many of them."""
    rows = entries(
        (2, {"result": "through", "target": "flour lid", "miss": 20}),
        (12, {"result": "missed", "where": "flour lid", "miss": 31}),
    )
    found = judge(days_apart(rows, 7), RUNS, trials=2000)
    assert found.explained is not None
    assert found.explained.p_value < 0.05
    assert [each.where for each in found.explained.left] == ["flour lid"]
    text = " ".join(logbook_text(found).split())
    assert "That explains only part of it: too many failed even for that" in text
    assert "Not explained: Flour round missed flour lid 12 times" in text
    assert "That assumption is not all" in text


def test_so_few_drives_point_at_nothing() -> None:
    """However odd they are: with three drives a third of what was pointed at would be wrong."""
    rows = entries((9, {"result": "missed", "where": "flour lid", "miss": 60}))
    found = judge(days_apart(rows, 3), RUNS, trials=300)
    assert found.bar == inf
    assert (found.alternatives, found.explained) == ((), None)
    assert found.runs[0].judged.verdict == "too hopeful"
    assert to_json(found)["bar"] is None
    text = " ".join(logbook_text(found).split())
    assert "Too few to say: with 10 drives or more it can be asked." in text
    assert "too few to say why" in text


def test_what_is_a_surprise_comes_first_and_not_what_is_most() -> None:
    """Nine touches of twenty where that is nearly what is forecast, two where hardly any is: the two are told."""
    run = row_of_targets()
    found = judge(entries((1, {"result": "through"}), run="Row"), {"Row": run}, trials=2000).runs[0]
    often = max(found.went_wrong, key=lambda each: each.forecast.share if each.forecast else 0.0)
    assert often.forecast is not None
    share = often.forecast.share
    usual = round(20 * share)
    assert usual > 3
    rows = entries(
        (17 - usual, {"result": "through"}),
        (usual, {"result": often.result, "where": often.where}),
        (3, {"result": "touched", "where": "pole"}),
        run="Row",
    )
    (row,) = judge(days_apart(rows, 20), {"Row": run}, trials=2000).runs
    surprise = {each.where: each.surprise for each in row.went_wrong}
    # Every drive is of a day of its own: binomial.
    assert surprise[often.where] == pytest.approx(binom.sf(usual - 1, 20, share), abs=0.03)
    assert surprise["pole"] is not None
    assert surprise["pole"] < 0.05 < (surprise[often.where] or 0.0)
    text = " ".join(
        logbook_text(replace(judge(days_apart(rows, 20), {"Row": run}, trials=2000), explained=None)).split()
    )
    assert f"it {often.result} {often.where}" not in text
    assert "it touched pole" in text
