"""The strip while a run is changed: its scale, how it was before, nearer and farther; what is said on resting there."""

from __future__ import annotations

import pytest
from test_run_session import block, click, drag, row_of, session, with_trials

from fieldsim.window.keys import RUN_KEYS, key_tip
from fieldsim.window.paint.ribbon import ENDS, room_scale, steady_scale
from fieldsim.window.paint.scene import Column
from fieldsim.window.run.looking import odds_shown
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView
from fieldsim.window.session import RESTS

CTRL, SHIFT = frozenset({"ctrl"}), frozenset({"shift"})


def column(most: float) -> tuple[Column, ...]:
    return (Column(0, 1, most, 1.0, 2.0, 3.0, 4.0, most),)


def test_the_scale_stays_while_it_will_do() -> None:
    first = steady_scale(column(70.0), None, True)
    assert first == 100.0
    assert first >= room_scale(column(70.0))
    assert steady_scale(column(60.0), first, True) == first
    assert steady_scale(column(45.0), first, True) == first
    # What does not fit makes it larger at once; much less makes it smaller, but not under the hand.
    assert steady_scale(column(90.0), first, False) == 150.0
    assert steady_scale(column(15.0), first, False) == first
    assert steady_scale(column(15.0), first, True) == 25.0
    assert steady_scale(column(9000.0), None, True) == ENDS[-1]


def test_the_ribbon_before_the_last_change_is_a_ghost() -> None:
    made = with_trials()
    view = RunView(made)
    before = view.scene()
    assert before.ghost == ()
    made._pick(4)
    made.row = row_of(made, "distance")
    for _ in range(8):
        made.key("left")
    made.tick(0.1)
    after = view.scene()
    assert after.columns != before.columns
    assert after.ghost == before.columns
    assert after.most == before.most
    assert "before: " in odds_shown(made).lead
    made.do("undo")
    made.tick(0.2)
    assert view.scene().ghost == ()
    assert odds_shown(made).lead == "gets through"


def test_during_a_drag_the_ghost_is_how_it_was_when_the_hand_took_it() -> None:
    made = with_trials()
    view = RunView(made)
    before = view.scene().columns
    made._pick(0)
    x, y = next(made.camera.pixel(*handle.at) for handle in made.handles if handle.name == "path 0 end")
    made.pressed(x, y)
    for k in range(1, 6):
        made.moved(x, y - 6.0 * k)
        made.tick(0.1 * k)
        assert view.scene().ghost == before
    made.released(x, y - 30.0)
    assert len(made.kept._known) <= len(made.history.steps)


def test_a_run_with_other_segments_has_no_ghost() -> None:
    made = with_trials()
    view = RunView(made)
    view.scene()
    made._pick(0)
    made.key("c")
    made.tick(0.1)
    assert view.scene().ghost == ()


def test_the_strip_comes_nearer_about_the_pointer_and_goes_back() -> None:
    made = session()
    whole = made.strip.edges
    x, y = block(made, 6)
    made.wheel(x, y, 5.0, CTRL)
    assert made.strip.block_at(x) == 7
    assert made.strip.edges[-1] - made.strip.edges[0] > 2 * (whole[-1] - whole[0])
    assert made.under(x, y) == "block 7"
    made.wheel(x, y, 3.0, SHIFT)
    assert made.strip.edges[0] <= made.places.segments.x + 1e-6
    for _ in range(60):
        made.wheel(x, y, 3.0, SHIFT)
    assert made.strip.edges[0] == pytest.approx(made.places.segments.x)
    for _ in range(120):
        made.wheel(x, y, -3.0, SHIFT)
    assert made.strip.edges[-1] == pytest.approx(made.places.segments.right)
    made.wheel(x, y, -40.0, CTRL)
    assert made.strip.edges == pytest.approx(whole)


def rest_on(made: RunSession, x: float, y: float) -> str:
    made.moved(x, y)
    now = made._now
    made.tick(now + 0.01)
    made.tick(now + 0.02 + RESTS / 2)
    assert made.tip == ""
    made.tick(now + 0.03 + RESTS)
    return made.tip


def test_words_for_every_block_come_where_the_pointer_rests() -> None:
    made = with_trials()
    for g, segment in enumerate(made.run.segments):
        tip = rest_on(made, *block(made, g))
        assert tip.splitlines()[0] == f"{g + 1} {segment.in_words()}"
        shown = RunView(made).scene().tip
        assert shown is not None
        assert shown[0] == tip
        made.moved(3.0, 3.0)
        made.tick(made._now + 0.1)
        assert made.tip == ""


def test_tips_for_buttons_numbers_and_grips() -> None:
    made = with_trials()
    for name, rect in made.places.buttons:
        tip = rest_on(made, *rect.centre)
        assert tip or name in ("slower", "faster", "axis") or "key:" in tip, name
    made._pick(0)
    number = row_of(made, "distance")
    assert "accepted" in rest_on(made, *made.places.rows[number].entry.centre)
    x, y = next(made.camera.pixel(*handle.at) for handle in made.handles if handle.name == "path 0 end")
    assert "how far" in rest_on(made, x, y)
    # Nothing is said under a hand that drags, or beside a list.
    made.pressed(x, y)
    made.moved(x, y - 20.0)
    made.tick(made._now + 2 * RESTS)
    assert made.tip == ""
    made.released(x, y - 20.0)


def test_shapes_of_the_pointer() -> None:
    made = with_trials()
    click(made, *block(made, 0))
    for at, shape in (
        (made.places.button("play").centre, "hand"),
        (made.places.ribbon.centre, "across"),
        (made.places.rows[row_of(made, "distance")].entry.centre, "text"),
        (made.places.rows[0].entry.centre, "hand"),
        (made.camera.pixel(1900.0, 1000.0), "arrow"),
        (made.camera.pixel(*made.handles[0].at), "move"),
    ):
        made.moved(*at)
        assert made.cursor == shape, at
    drag(made, "handle start", 30, 30)
    assert made.cursor == "move"


def test_every_button_of_a_run_has_a_tip() -> None:
    for action in ("undo", "save", "lead", "studies", "season", "rest", "axis", "help", "fit", "look"):
        assert key_tip(RUN_KEYS, action), action
    assert key_tip(RUN_KEYS, "redo").endswith("(key: ctrl y)")
    assert key_tip(RUN_KEYS, "no such thing") == ""
