"""What fails, looked at trial by trial: rows that are pressed, trials stepped through, by plain events."""

from __future__ import annotations

import pytest
from test_run_session import AtOnce, click, session, with_trials

from fieldsim.model import Straight
from fieldsim.sim.failures import counted
from fieldsim.window.live import FULL, STAGE, Live
from fieldsim.window.paint.layout import layout
from fieldsim.window.paint.oddsplaces import odds_places
from fieldsim.window.run.looking import odds_shown, trials_of
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView


def row(made: RunSession, number: int, part: str = "rect") -> tuple[float, float]:
    places = odds_places(made.places.odds, made.places.unit, odds_shown(made))
    rect = getattr(places.rows[number], part)
    return (rect.x + 30 * made.places.unit, rect.centre[1]) if part == "rect" else rect.centre


def test_the_rows_come_from_the_trials_of_the_headline() -> None:
    made = with_trials(trials=1500)
    shown = made.shown
    assert shown is not None
    assert shown.answer is not None
    assert shown.first is not None
    assert len(shown.first) == shown.answer.trials
    failed = sum(count for _, count in counted(made.failures))
    assert failed == round(shown.answer.trials * (1 - shown.answer.success.share))
    assert [len(trials_of(made, trouble.of)) for trouble in made.troubles if trouble.of] == [
        count for _, count in counted(made.failures)[:3]
    ]


def test_live_keeps_every_trial_it_counts() -> None:
    with Live(full=STAGE + 1000) as live:
        live.want(session().run)
        while (news := live.news()) is None or not news.full:
            pass
    assert news.answer is not None
    assert news.first is not None
    assert news.answer.trials == len(news.first) == STAGE + 1000 <= FULL


def test_a_row_is_pressed_and_its_trials_are_stepped_through() -> None:
    made = with_trials()
    cause = made.troubles[0].of
    assert cause is not None
    numbers = trials_of(made, cause)
    assert len(numbers) > 3
    click(made, *row(made, 0))
    assert made.picked is not None
    assert made.picked.number == numbers[0]
    assert odds_shown(made).which == f"1 of {len(numbers)}"
    seen = [made.picked.number]
    for _ in range(len(numbers)):
        click(made, *row(made, 0, "forth"))
        seen.append(made.picked.number)
    assert seen == [*numbers, numbers[0]]
    click(made, *row(made, 0, "back"))
    assert made.picked.number == numbers[-1]
    assert odds_shown(made).which == f"{len(numbers)} of {len(numbers)}"


def test_the_failure_is_shown_where_it_happens_and_told_by_how_much() -> None:
    made = with_trials()
    for number, trouble in enumerate(made.troubles):
        click(made, *row(made, number))
        assert made.picked is not None
        assert made.picked.failure == trouble.of
        assert trouble.of is not None
        assert made.clock.head_at(made.seconds) == pytest.approx(made.picked.until, abs=1e-6)
        assert trouble.of.segment - 1 <= made.picked.until <= trouble.of.segment
        shown = RunView(made).scene().picked
        assert shown is not None
        if trouble.of.why == "misses":
            assert " mm: " in shown.words
        assert trouble.what in shown.words
        assert len(shown.more) == 1


def test_a_press_on_the_row_again_or_escape_or_a_change_goes_back() -> None:
    made = with_trials()
    for leave in (lambda: click(made, *row(made, 0)), lambda: made.key("escape")):
        click(made, *row(made, 0))
        assert odds_shown(made).looked == 0
        leave()
        assert (made.picked, made.cause, odds_shown(made).looked) == (None, None, None)
    click(made, *row(made, 0))
    made._pick(0)
    made.row = 1
    made.key("page up")
    assert (made.picked, made.cause) == (None, None)


def test_the_key_for_the_next_trial_stays_with_the_cause() -> None:
    made = with_trials()
    click(made, *row(made, 1))
    cause = made.cause
    for _ in range(4):
        made.key("t")
        assert made.picked is not None
        assert made.picked.failure == cause
    made.key("shift t")
    made.key("escape")
    kinds = set()
    for _ in range(40):
        made.key("t")
        assert made.picked is not None
        kinds.add(made.picked.failure)
    assert len(kinds) > 1


def test_rows_do_nothing_while_the_trials_are_of_another_run() -> None:
    made = with_trials()
    at = row(made, 0)
    made.tries = AtOnce(400)
    made.do("add")
    assert made.under(*at) == "odds"
    click(made, *at)
    assert made.picked is None


@pytest.mark.parametrize("size", [(900, 600), (1280, 720), (1366, 768), (1920, 1080), (3840, 2160)])
def test_rows_lie_inside_the_card_and_apart(size: tuple[int, int]) -> None:
    made = with_trials()
    made.resize(size)
    click(made, *row(made, 0)) if odds_places(made.places.odds, made.places.unit, odds_shown(made)).rows else None
    places = odds_places(layout(size).odds, layout(size).unit, odds_shown(made))
    card = layout(size).odds
    for above, below in zip(places.rows, places.rows[1:], strict=False):
        assert above.rect.bottom <= below.rect.y
    for each in places.rows:
        assert card.x <= each.rect.x
        assert each.rect.right <= card.right
        assert each.rect.bottom <= places.foot.y
    if places.rows and places.rows[0].back.w:
        assert places.rows[0].back.right <= places.rows[0].forth.x
        assert places.rows[0].forth.right <= places.rows[0].rect.right


def test_a_run_that_never_fails_has_nothing_to_press() -> None:
    from plans import run as driven

    made = with_trials(driven(Straight(100.0)))
    assert made.troubles == ()
    made.key("t")
    assert "None of the first" in made.toast
