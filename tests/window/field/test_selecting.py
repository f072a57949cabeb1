"""Several things at once on a field, and what the right button offers, by plain events."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_field_session import BOARD, FIELD, click, drag, pixel, session

from fieldsim.window.field import grips, selecting
from fieldsim.window.field import things as field_things
from fieldsim.window.field.selecting import picked_all
from fieldsim.window.field.session import FieldSession
from fieldsim.window.field.things import Handle
from fieldsim.window.field.view import FieldView

CTRL, SHIFT = frozenset({"ctrl"}), frozenset({"shift"})
FIRST, SECOND, THIRD = (Handle("obstacle", n) for n in range(3))


@pytest.fixture(autouse=True)
def empty_clipboard() -> None:
    selecting._CLIPBOARD.clear()


def ctrl_click(made: FieldSession, x: float, y: float) -> None:
    made.pressed(*pixel(made, x, y), "left", CTRL)
    made.released(*pixel(made, x, y))


def two() -> FieldSession:
    made = session()
    click(made, 300, 200)
    ctrl_click(made, 1500, 700)
    return made


def test_things_are_picked_together_and_one_by_one_again() -> None:
    made = two()
    assert set(picked_all(made)) == {FIRST, SECOND}
    scene = FieldView(made).scene()
    assert {scene.chosen, *scene.also} == {("obstacle", 0), ("obstacle", 1)}
    ctrl_click(made, 1500, 700)
    assert picked_all(made) == (FIRST,)
    ctrl_click(made, 1500, 700)
    click(made, 300, 200)
    made.key("escape")
    assert picked_all(made) == ()
    made.key("ctrl a")
    assert len(picked_all(made)) == len(list(field_things.things(BOARD)))


def test_who_takes_one_of_several_takes_all_of_them() -> None:
    made = two()
    drag(made, (300, 200), (340, 260), frozenset({"alt"}))
    for handle in (FIRST, SECOND):
        before, after = grips.place_of(BOARD, handle), grips.place_of(made.field, handle)
        assert (after[0] - before[0], after[1] - before[1]) == pytest.approx((40.0, 60.0), abs=0.01)
    assert set(picked_all(made)) == {FIRST, SECOND}
    made.key("ctrl z")
    assert made.field == BOARD


def test_keys_move_and_take_away_all_of_them() -> None:
    made = two()
    made.key("right")
    made.key("shift up")
    for handle in (FIRST, SECOND):
        before, after = grips.place_of(BOARD, handle), grips.place_of(made.field, handle)
        assert (after[0] - before[0], after[1] - before[1]) == pytest.approx((1.0, 10.0))
    made.key("delete")
    assert [each.name for each in made.field.obstacles] == ["ell"]
    made.key("ctrl z")
    assert len(made.field.obstacles) == 3


def test_a_frame_picks_what_is_inside_it() -> None:
    made = session()
    made.pressed(*pixel(made, 60, 60), "left", SHIFT)
    made.moved(*pixel(made, 600, 500), SHIFT)
    assert len(made.guides) == 4
    made.moved(*pixel(made, 1250, 760), SHIFT)
    made.released(*pixel(made, 1250, 760))
    assert set(picked_all(made)) == {FIRST, THIRD}
    assert made.field == BOARD
    assert "2 things" in made.toast


def test_copied_things_are_put_down_under_names_of_their_own_here_and_elsewhere() -> None:
    made = two()
    made.key("ctrl v")
    assert "Nothing was copied yet" in made.toast
    made.key("ctrl c")
    made.moved(*pixel(made, 1600, 650))
    made.key("ctrl v")
    assert len(made.field.obstacles) == 5
    names = [each.name for each in made.field.obstacles]
    assert len(set(names)) == 5
    pasted = picked_all(made)
    assert [handle.index for handle in pasted] == [3, 4]
    # As far from each other as they were, the first of them where the pointer is.
    a, b = (grips.place_of(made.field, handle) for handle in pasted)
    firsts = [grips.place_of(BOARD, handle) for handle in (SECOND, FIRST)]
    assert (b[0] - a[0], b[1] - a[1]) == pytest.approx((firsts[1][0] - firsts[0][0], firsts[1][1] - firsts[0][1]))
    assert a == pytest.approx((1600.0, 650.0), abs=1.0)
    other = session(FIELD)
    count = len(FIELD.obstacles)
    other.key("ctrl v")
    assert len(other.field.obstacles) == count + 2
    made.key("ctrl z")
    assert made.field == BOARD


def test_cut_and_duplicate() -> None:
    made = two()
    for key in ("ctrl d", "c"):
        made.key(key)
        assert len(made.field.obstacles) == 5
        made.key("ctrl z")
        made = two()
    click(made, 300, 200)
    made.key("ctrl x")
    assert [each.name for each in made.field.obstacles] == ["tilted", "ell"]
    made.key("ctrl v")
    assert [each.name for each in made.field.obstacles] == ["tilted", "ell", "low"]


def test_the_right_button_offers_what_can_be_done_there() -> None:
    made = session()
    at = pixel(made, 300, 200)
    made.pressed(*at, "right")
    made.released(*at)
    assert made.listing is not None
    assert made.chosen == FIRST
    words = [row.words for row in made.listing.rows]
    next(row for row in made.listing.rows if row.words == "take it away").take()
    assert "low" not in [each.name for each in made.field.obstacles]
    assert len(words) >= 5
    made.key("escape")
    ground = pixel(made, 700, 250)
    made.pressed(*ground, "right")
    made.released(*ground)
    assert made.listing is not None
    assert FieldView(made).scene().menu is not None
    made.key("1")
    assert made.listing is None
    assert made.tool == "box"
    # A drag with it shoves the view, as it did.
    made.key("escape")
    camera = made.camera
    made.pressed(*ground, "right")
    made.moved(ground[0] - 30, ground[1])
    made.released(ground[0] - 30, ground[1])
    assert made.listing is None
    assert made.camera != camera


KEYS = (
    "ctrl a", "ctrl c", "ctrl x", "ctrl v", "ctrl d", "delete", "left", "shift up", "tab", "escape", "ctrl z", "ctrl y",
)  # fmt: skip


@settings(deadline=None, max_examples=40)
@given(st.lists(st.sampled_from(KEYS), max_size=12))
def test_whatever_is_done_can_be_taken_back(keys: list[str]) -> None:
    made = session(replace(BOARD))
    for key in keys:
        made.key(key)
        if key == "ctrl a":
            made.pressed(*pixel(made, 300, 200), "left", CTRL)
            made.released(*pixel(made, 300, 200))
        FieldView(made).scene()
        assert all(made._there(handle) for handle in picked_all(made))
    while made.history.undo_words is not None:
        made.key("ctrl z")
    assert made.field == BOARD
