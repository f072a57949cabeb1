"""What costs most, told beside the odds: asked while the hand rests, broken off when it goes on, put in by a press."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from test_run_session import click, with_trials

from fieldsim.report.words.dearest import square_words
from fieldsim.studies.dearest import dearest
from fieldsim.window.paint.oddsplaces import odds_places
from fieldsim.window.record import without_a_screen
from fieldsim.window.run.app import RunDesk
from fieldsim.window.run.hinting import Hint, wanted
from fieldsim.window.run.looking import odds_shown
from fieldsim.window.run.session import RunSession

SEASON = Path(__file__).parents[3] / "runs" / "bakery"


def hinted(size: tuple[int, int] = (1920, 1080)) -> RunSession:
    made = with_trials(trials=300)
    made.resize(size)
    made.hint = made.run, Hint(True, dearest(made.run, trials=300, screened=60))
    return made


def test_it_is_told_beside_the_odds_and_put_in_by_a_press() -> None:
    made = hinted()
    assert made.hint is not None
    answer = made.hint[1].answer
    lines = odds_shown(made).hint
    assert lines[0].startswith("costs most: ")
    assert lines[1] == square_words(answer)
    places = odds_places(made.places.odds, made.places.unit, odds_shown(made))
    assert places.hint is not None
    assert made.under(*places.hint.centre) == "hint"
    count = len(made.run.segments)
    click(made, *places.hint.centre)
    assert len(made.run.segments) == count + len(answer.square.segments)
    assert made.place == answer.square.after
    assert odds_shown(made).hint == ()
    made.do("undo")
    assert len(made.run.segments) == count


def test_of_a_run_that_is_changed_nothing_is_told() -> None:
    made = hinted()
    made._pick(0)
    made.key("right")
    assert odds_shown(made).hint == ()


def test_it_is_wanted_once_of_a_run_that_rests() -> None:
    made = with_trials(trials=300)
    assert wanted(made) is made.run
    made.hint = made.run, Hint(True, None)
    assert wanted(made) is None
    assert odds_shown(made).hint == ()
    made._pick(0)
    made.key("right")
    # Its trials are not there yet.
    assert wanted(made) is None
    made.tick(0.1)
    assert wanted(made) is made.run
    x, y = made.camera.pixel(*made.handles[0].at)
    made.pressed(x, y)
    assert wanted(made) is None
    made.released(x, y)


def test_the_window_asks_for_it_in_the_background(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldsim.studies.dearest.EACH", 200)
    with without_a_screen():
        desk = RunDesk(SEASON / "flour-round.yaml", (1920, 1080), 1.0, threads=1, folder=tmp_path)
        try:
            session = desk.session
            assert session is not None
            while session.hint is None:
                desk.tick(time.perf_counter())
                time.sleep(0.01)
            assert session.hint[0] is session.run
            assert odds_shown(session).hint
        finally:
            desk.close()
        assert desk.hinting is not None
        assert not desk.hinting.busy
