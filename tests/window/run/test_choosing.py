"""Lists to choose from, what the right button offers, and keys that nudge, by plain events."""

from __future__ import annotations

import pytest
from test_run_session import BELL, ROBOTS, RUN, SHIFT, block, click, press_row, row_of, session, with_trials

from fieldsim.model import Act, Arc, LineSquare, Square, StartByEye, Straight, Turn
from fieldsim.sim.motion import start_pose
from fieldsim.window import listing
from fieldsim.window.camera import Rect
from fieldsim.window.menu import menu_rects, rows_in
from fieldsim.window.run.segments import SEGMENT_WORDS, kind_word
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView


def row_pixel(made: RunSession, words: str) -> tuple[float, float]:
    """The middle of the row of an open list that says so."""
    found = made.listing
    assert found is not None
    number = next(n for n, row in enumerate(found.rows) if row.words.endswith(words))
    view = Rect(0, 0, *made.places.size)
    shown = rows_in(view, made.places.unit, found.menu.count)
    _, rects = menu_rects(view, made.places.unit, found.menu.at, shown)
    return rects[number - found.first].centre


def right(made: RunSession, x: float, y: float) -> None:
    made.pressed(x, y, "right")
    made.released(x, y)


def test_a_kind_is_chosen_from_a_list_that_says_what_it_would_be() -> None:
    made = session()
    click(made, *block(made, 0))
    press_row(made, "kind", "entry")
    found = made.listing
    assert found is not None
    assert [row.words for row in found.rows] == list(SEGMENT_WORDS)
    assert found.rows[0].beside == RUN.segments[0].in_words()
    assert found.menu.chosen == 0
    shown = RunView(made).scene().menu
    assert shown is not None
    assert len(shown.rows) == len(SEGMENT_WORDS)
    click(made, *row_pixel(made, "turn"))
    assert made.listing is None
    assert kind_word(made.run.segments[0]) == "turn"
    assert made.history.undo_words == "the kind of a segment"


def test_what_cannot_be_is_in_the_list_with_the_reason() -> None:
    made = session()
    without = made.run.field
    assert without.lines
    click(made, *block(made, 0))
    press_row(made, "kind", "plus")
    found = made.listing
    assert found is not None
    for row, word in zip(found.rows, SEGMENT_WORDS, strict=True):
        before = made.run
        if word in ("line square", "until") and not before.robot.sensors:
            row.take()
            assert made.run == before
            assert made.toast == row.beside.splitlines()[0]


def test_a_wall_is_chosen_from_a_list_by_keys() -> None:
    made = session(BELL)
    place = next(g for g, segment in enumerate(BELL.segments) if isinstance(segment, Square))
    click(made, *block(made, place))
    made.row = row_of(made, "against")
    made.key("return")
    assert made.listing is not None
    words = [row.words for row in made.listing.rows]
    assert {"near wall", "far wall", "left wall", "right wall"} <= set(words)
    made.key("home")
    made.key("down")
    made.key("return")
    square = made.run.segments[place]
    assert isinstance(square, Square)
    assert square.against == words[1]
    # Escape and a press beside it take nothing.
    for leave in (lambda: made.key("escape"), lambda: click(made, 5.0, 300.0)):
        made.row = row_of(made, "against")
        made.key("return")
        before = made.run
        leave()
        assert made.listing is None
        assert made.run is before


def test_several_can_be_chosen_and_the_list_stays_open() -> None:
    made = session()
    click(made, *block(made, 0))
    press_row(made, "may touch", "entry")
    assert made.listing is not None
    first, second = (row.words for row in made.listing.rows[:2])
    click(made, *row_pixel(made, first[2:]))
    assert made.listing is not None
    click(made, *row_pixel(made, second[2:]))
    assert made.listing is not None
    straight = made.run.segments[0]
    assert isinstance(straight, Straight)
    assert set(straight.may_touch) == {first[2:], second[2:]}
    click(made, *row_pixel(made, first[2:]))
    assert made.run.segments[0].may_touch == (second[2:],)  # type: ignore[union-attr]


def test_a_switch_opens_its_list() -> None:
    made = session()
    for index, pick in ((0, "by eye"), (1, ROBOTS[sorted(ROBOTS)[1]].name)):
        entry = made.places.switch_rows[index].entry
        click(made, *entry.centre)
        assert made.listing is not None
        click(made, *row_pixel(made, pick))
    assert isinstance(made.run.start, StartByEye)
    assert made.run.robot.name == ROBOTS[sorted(ROBOTS)[1]].name
    click(made, *made.places.switch_rows[2].entry.centre)
    assert made.listing is None or len(made.listing.rows) == len(made.run.robot.attachments)


def test_square_and_line_square_show_what_decides_first() -> None:
    made = session(BELL)
    place = next(g for g, segment in enumerate(BELL.segments) if isinstance(segment, Square))
    made._pick(place)
    assert [line.label for line in made.lines][:4] == ["kind", "face", "against", "reach"]
    assert made.lines[made.row].label == "reach"
    for line in made.lines:
        assert line.label
    kinds = {type(segment): g for g, segment in enumerate(RUN.segments)}
    first = {Straight: ["kind", "distance"], Turn: ["kind", "angle", "about"], Act: ["kind", "target"]}
    for kind, labels in first.items():
        session_of = session()
        session_of._pick(kinds[kind])
        assert [line.label for line in session_of.lines][: len(labels)] == labels
    assert LineSquare.head == "line"


def test_arrows_nudge_what_is_picked_and_else_the_time() -> None:
    made = session()
    made.key("right")
    assert made.seconds > 0.0
    made.key("left")
    assert made.seconds == 0.0
    arc = next(g for g, segment in enumerate(RUN.segments) if isinstance(segment, Arc))
    for g, key, label in ((0, "distance", "distance"), (arc, "angle", "angle")):
        made._pick(g)
        before = getattr(made.run.segments[g], key)
        made.row = row_of(made, label)
        made.key("right")
        assert getattr(made.run.segments[g], key) == before + 1.0
        made.key("shift right")
        assert getattr(made.run.segments[g], key) == before + 11.0
        for _ in range(11):
            made.key("left")
        assert getattr(made.run.segments[g], key) == before
    made.do("pick start")
    x, y, _ = start_pose(made.run)
    made.key("up")
    made.key("shift left")
    assert start_pose(made.run)[:2] == pytest.approx((x - 10.0, y + 1.0))


def test_the_right_button_offers_what_can_be_done_there_and_pans_when_it_is_dragged() -> None:
    made = with_trials()
    right(made, *block(made, 2))
    assert made.place == 2
    assert made.listing is not None
    click(made, *row_pixel(made, "take it out"))
    assert len(made.run.segments) == len(RUN.segments) - 1
    corner = made.camera.pixel(1900.0, 1000.0)
    camera = made.camera
    right(made, *corner)
    assert made.listing is not None
    assert any("undo" in row.words for row in made.listing.rows)
    made.key("escape")
    made.pressed(*corner, "right")
    made.moved(corner[0] - 40, corner[1] + 9)
    made.released(corner[0] - 40, corner[1] + 9)
    assert made.listing is None
    assert made.camera != camera
    at = made.camera.pixel(*start_pose(made.run)[:2])
    right(made, *at)
    assert made.listing is not None
    click(made, *row_pixel(made, "start by eye"))
    assert isinstance(made.run.start, StartByEye)
    right(made, *made.camera.pixel(1500.0, 500.0))
    click(made, *row_pixel(made, "drive to here ..."))
    assert made.leading is not None
    assert made.leading.menu is not None


def test_a_long_list_scrolls() -> None:
    made = session(size=(700, 460))
    rows = [listing.Choice(f"row {n}", lambda: None) for n in range(40)]
    listing.open_list(made, (100.0, 100.0), "many", rows)
    shown = rows_in(Rect(0, 0, *made.places.size), made.places.unit, 40)
    assert shown < 40
    for _ in range(39):
        made.key("down")
    assert made.listing is not None
    assert made.listing.first == 40 - shown
    made.wheel(150.0, 150.0, 3.0)
    assert made.listing.first == 40 - shown - 3
    words = RunView(made).scene().menu
    assert words is not None
    assert (words.first, words.more) == (40 - shown - 3, 3)
    made.key("home")
    assert made.listing.first == 0


def test_a_number_half_typed_is_nothing_to_another_kind() -> None:
    made = session()
    made._pick(0)
    made.key("return")
    made.text("3")
    assert made.entry is not None
    typing = made.entry
    right(made, *block(made, 0))
    assert made.entry is None
    made.key("escape")
    # However it came to be left: a line that is a choice by now takes no number.
    made.row, made.entry = 0, typing.__class__(0, "3", 1)
    made.key("return")
    assert made.entry is None
    assert isinstance(made.run.segments[0], Straight)


def test_while_a_list_is_open_nothing_else_is_meant() -> None:
    made = session()
    click(made, *block(made, 0))
    press_row(made, "kind", "entry")
    before = made.run
    made.text("5")
    assert made.entry is None
    made.moved(*block(made, 3), SHIFT)
    made.key("delete")
    assert made.listing is None
    assert made.run is before
