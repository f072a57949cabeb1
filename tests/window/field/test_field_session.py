"""The state of the window in which a field is drawn, by plain events: what is pressed, dragged and typed."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, inf
from pathlib import Path
from typing import Any

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldsim.files import load_field
from fieldsim.files.writing import field_in, field_text, new_field_text
from fieldsim.model import Box, Field, Jig, Line, Obstacle, Outline, Picture, Round, StartArea, Target
from fieldsim.window.dials import Refused
from fieldsim.window.field import grips
from fieldsim.window.field import things as field_things
from fieldsim.window.field.files import merged
from fieldsim.window.field.numbers import scaled
from fieldsim.window.field.session import FieldSession
from fieldsim.window.field.things import WALLS_HANDLE, Handle
from fieldsim.window.field.view import FieldView
from fieldsim.window.keys import FIELD_KEYS

ROOT = Path(__file__).parents[3]
BAKERY = ROOT / "fields" / "bakery.yaml"
FIELD = load_field(BAKERY)
# Invented: a board with two boxes, wide enough apart that what is drawn between them snaps to what is meant.
BOARD = Field(
    "Board",
    (2000.0, 1000.0),
    obstacles=(
        Obstacle("low", Box((300.0, 200.0), (200.0, 100.0))),
        Obstacle("tilted", Box((1500.0, 700.0), (200.0, 120.0), 30.0)),
        Obstacle("ell", Outline(((900.0, 600.0), (1100.0, 600.0), (1100.0, 800.0)))),
    ),
    start_areas=(StartArea("home", Box((150.0, 850.0), (200.0, 200.0))),),
)


def session(field: Field = BOARD) -> FieldSession:
    return FieldSession(field)


def pixel(made: FieldSession, x: float, y: float) -> tuple[float, float]:
    return made.camera.pixel(x, y)


def drag(
    made: FieldSession, a: tuple[float, float], b: tuple[float, float], mods: frozenset[str] = frozenset()
) -> None:
    """Press at a point of the field and let go at another, mm."""
    made.moved(*pixel(made, *a), mods)
    made.pressed(*pixel(made, *a), "left", mods)
    made.moved(*pixel(made, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2), mods)
    made.moved(*pixel(made, *b), mods)
    made.released(*pixel(made, *b))


def click(made: FieldSession, x: float, y: float) -> None:
    made.moved(*pixel(made, x, y))
    made.pressed(*pixel(made, x, y))
    made.released(*pixel(made, x, y))


def box(made: FieldSession, index: int) -> Box:
    shape = made.field.obstacles[index].shape
    assert isinstance(shape, Box)
    return shape


def type_in(made: FieldSession, key: str, text: str) -> None:
    made.row = next(n for n, line in enumerate(made.lines) if line.key == key)
    made.key("return")
    made.text(text)
    made.key("return")


def test_a_box_is_drawn_and_comes_to_stand_in_line() -> None:
    made = session()
    made.key("1")
    # The corner comes within 9 pixels of x = 400, the right side of the lower box.
    near = 5 / made.camera.zoom
    drag(made, (400 + near, 400), (603, 523))
    assert made.tool == "pick"
    assert made.chosen == Handle("obstacle", 3)
    assert box(made, 3).center[0] - box(made, 3).size[0] / 2 == 400
    assert made.lines[0].text == "box"
    assert made.history.undo_words == "a new box"
    made.do("undo")
    assert made.field == BOARD


def test_guides_and_words_are_shown_while_a_thing_is_moved_and_alt_is_free() -> None:
    made = session()
    x, y = pixel(made, 300, 200)
    made.moved(x, y)
    made.pressed(x, y)
    # Its left side to within 4 pixels of the left wall.
    to = pixel(made, 100 + 4 / made.camera.zoom, 503)
    made.moved(*to)
    assert "left wall" in made.guide_words
    assert made.guides
    assert box(made, 0).center == (100.0, 503.0)
    scene = FieldView(made).scene()
    assert scene.guides[0].words == made.guide_words
    assert scene.measure is not None
    assert scene.measure[0] == "x 100, y 503"
    made.moved(*to, frozenset({"alt"}))
    assert not made.guides
    assert box(made, 0).center[0] == pytest.approx(100 + 4 / made.camera.zoom, abs=1e-3)
    made.released(*to)
    made.do("undo")
    assert made.field == BOARD


def test_shift_moves_only_one_way() -> None:
    made = session()
    x, y = pixel(made, 300, 200)
    made.pressed(x, y)
    made.moved(x + 10, y - 60)
    made.moved(x + 150, y - 60, frozenset({"shift"}))
    made.released(x + 150, y - 60)
    assert box(made, 0).center[1] == 200.0
    assert box(made, 0).center[0] > 500.0


def test_a_click_puts_down_a_thing_of_the_usual_size() -> None:
    sizes = {
        "draw box": Obstacle("box", Box((700.0, 300.0), (100.0, 100.0))),
        "draw round": Obstacle("round", Round((700.0, 300.0), 50.0)),
        "draw start area": StartArea("start area", Box((700.0, 300.0), (200.0, 200.0))),
        "draw jig": Jig("jig", (700.0, 300.0), 90.0, "rear left"),
        "draw line": Line("line", (550.0, 300.0), (850.0, 300.0)),
        "draw target": Target("target", (700.0, 300.0), 15.0),
    }
    for action, wanted in sizes.items():
        made = session()
        made.do(action)
        click(made, 700, 300)
        assert made.chosen is not None
        assert field_things.thing_at(made.field, made.chosen) == wanted
        made.do("undo")
        assert made.field == BOARD


def test_without_a_mouse_enter_puts_it_in_the_middle() -> None:
    made = session()
    made.key("6")
    made.key("return")
    assert made.field.lines == (Line("line", (850.0, 500.0), (1150.0, 500.0)),)
    made.key("m")
    made.text("m")
    made.text("kerb")
    made.key("return")
    assert made.field.lines[0].name == "kerb"
    made.key("alt shift right")
    made.key("alt up")
    assert made.field.lines[0].start == (860.0, 501.0)
    made.key("alt [")
    assert made.field.lines[0].start != (860.0, 501.0)


def test_dragging_says_how_large() -> None:
    made = session()
    made.do("draw round")
    drag(made, (700, 300), (700, 383.4), frozenset())
    shape = made.field.obstacles[3].shape
    assert isinstance(shape, Round)
    assert shape.radius == 83.0
    made.do("draw jig")
    drag(made, (1300, 200), (1210, 206))
    assert made.field.jigs[0].heading == 180.0
    made.do("draw target")
    drag(made, (1300, 300), (1300, 322))
    assert made.field.targets[0].within == 22.0


def test_an_outline_is_drawn_corner_by_corner() -> None:
    made = session()
    made.key("3")
    for x, y in ((600, 300), (750, 350), (790, 450)):
        click(made, x, y)
    made.key("delete")
    assert len(made.draft) == 2
    click(made, 790, 450)
    assert FieldView(made).scene().draft[:3] == made.draft
    made.key("return")
    assert made.field.obstacles[3] == Obstacle("outline", Outline(((600.0, 300.0), (750.0, 350.0), (790.0, 450.0))))
    # The same closed by a click on its first corner.
    made.do("undo")
    made.key("3")
    for x, y in ((600, 300), (750, 350), (790, 450), (602, 301)):
        click(made, x, y)
    assert len(made.field.obstacles) == 4


def test_corners_of_an_outline_are_picked_put_in_and_taken_away() -> None:
    made = session()
    made._choose(Handle("obstacle", 2))
    made.key("e")
    made.key("e")
    assert made.chosen == Handle("obstacle", 2, "corner 1")
    made.key("right")
    assert grips.place_of(made.field, Handle("obstacle", 2, "corner 1")) == (1101.0, 600.0)
    made.key("i")
    assert made.chosen == Handle("obstacle", 2, "corner 2")
    made.key("delete")
    made.key("alt left")
    shape = made.field.obstacles[2].shape
    assert isinstance(shape, Outline)
    assert len(shape.points) == 3
    made.tick(10.0)
    click(made, 1060, 650)
    made.tick(10.1)
    click(made, 1060, 650)
    made.tick(10.2)
    click(made, 1060, 650)
    shape = made.field.obstacles[2].shape
    assert isinstance(shape, Outline)
    assert len(shape.points) == 4


def test_a_box_is_resized_and_the_opposite_side_stays() -> None:
    made = session()
    click(made, 300, 200)
    drag(made, (400, 200), (463.4, 210))
    assert box(made, 0) == Box((331.5, 200.0), (263.0, 100.0))


def test_a_turned_box_keeps_whole_sizes() -> None:
    made = session()
    made._choose(Handle("obstacle", 1))
    corner = grips.place_of(BOARD, Handle("obstacle", 1, "corner ne"))
    drag(made, corner, (corner[0] + 31.3, corner[1] + 26.4))
    along, across = box(made, 1).size
    assert (along, across) == (round(along), round(across))
    assert along > 200
    assert across > 120


def test_turning_snaps_to_degrees() -> None:
    made = session()
    made._choose(Handle("obstacle", 0))
    at = grips.place_of(BOARD, Handle("obstacle", 0, "turn"), made.arm)
    far = at[0] - 300
    drag(made, at, (300 + far * 0.7, 200 + far * 0.72))
    assert box(made, 0).heading == 45.0
    assert box(made, 0).center == (300.0, 200.0)


def test_walls_are_picked_before_they_are_dragged() -> None:
    made = session()
    drag(made, (2000, 500), (1900, 500))
    assert made.field == BOARD
    made.do("fit")
    click(made, 2000, 500)
    assert made.chosen == WALLS_HANDLE
    drag(made, (2000, 500), (1900, 500))
    assert made.field.size == (1900.0, 1000.0)
    assert made.camera.field == (1900.0, 1000.0)
    made.key("s")
    assert made.field.walls is None
    made.key("s")
    assert made.field.walls == (0.0, inf)


def test_numbers_and_names_are_typed_and_a_wrong_one_says_why() -> None:
    made = session()
    click(made, 300, 200)
    type_in(made, "shape.size.along", "24 cm")
    assert box(made, 0).size == (240.0, 100.0)
    type_in(made, "shape.size.along", "wide")
    assert made.entry is not None
    assert made.entry.wrong
    assert "size along must be a length" in made.toast
    made.key("escape")
    type_in(made, "name", "left wall")
    assert made.entry is not None
    assert "name of a wall" in made.toast
    made.key("escape")
    type_in(made, "name", "mill")
    assert made.field.obstacles[0].name == "mill"
    type_in(made, "height.high", "120")
    assert made.field.obstacles[0].height == (0.0, 120.0)
    type_in(made, "height.high", "")
    assert made.field.obstacles[0].height == (0.0, 120.0)


def test_the_first_letter_takes_the_place_of_what_was_there() -> None:
    made = session()
    click(made, 300, 200)
    made.key("m")
    made.text("m")
    assert made.entry is not None
    assert (made.entry.text, made.entry.fresh) == ("low", True)
    made.key("left")
    made.text("x")
    assert made.entry.text == "loxw"


def test_words_are_chosen() -> None:
    made = session()
    click(made, 300, 200)
    made.key("s")
    assert isinstance(made.field.obstacles[0].shape, Round)
    made.do("draw jig")
    click(made, 700, 300)
    made.key("s")
    assert made.field.jigs[0].holds == "rear right"
    made.do("draw target")
    click(made, 800, 300)
    made.key("s")
    assert made.field.targets[0].heading == 90.0


def test_coming_past_the_first_shape_again_loses_nothing() -> None:
    made = session()
    made._choose(Handle("obstacle", 2))
    for _ in range(3):
        made.key("s")
    assert made.field == BOARD
    made.key("s")
    made.key("s")
    made.do("undo")
    assert made.field == BOARD


def test_small_parts_of_a_notch_add_up() -> None:
    made = session()
    click(made, 300, 200)
    x, y = made.places.rows[1].entry.centre
    for _ in range(9):
        made.wheel(x, y, 0.125)
    assert box(made, 0).center == (310.0, 200.0)
    for _ in range(4):
        made.wheel(x, y, -0.5, frozenset({"shift"}))
    assert box(made, 0).center == (308.0, 200.0)
    made.do("undo")
    assert made.field == BOARD


def test_what_two_people_changed_is_put_together() -> None:
    low, tilted, ell = BOARD.obstacles
    moved = replace(low, shape=Box((350.0, 200.0), (200.0, 100.0)))
    new, other = Obstacle("new", Round((500.0, 500.0), 20.0)), Obstacle("other", Round((600.0, 500.0), 20.0))
    here = replace(BOARD, name="Ours", obstacles=(moved, ell, new))
    there = replace(BOARD, walls=None, obstacles=(low, replace(tilted, height=(0.0, 50.0)), ell, other))
    # Moved here and taken away here, put there beside: all of it holds.
    assert merged(BOARD, here, there) == replace(here, walls=None, obstacles=(moved, ell, other, new))
    # Taken away there, but moved here: what was worked on stays.
    assert merged(BOARD, here, replace(BOARD, obstacles=())) == replace(here, obstacles=(moved, new))
    assert merged(BOARD, here, BOARD) == here
    assert merged(BOARD, BOARD, there) == there
    # What was drawn here lies outside the field that was made smaller there.
    far = Obstacle("far", Round((1800.0, 500.0), 20.0))
    small = replace(BOARD, size=(1000.0, 1000.0), obstacles=(low,))
    assert merged(BOARD, replace(BOARD, obstacles=(*BOARD.obstacles, far)), small) is None


def test_copies_and_taking_away() -> None:
    made = session()
    click(made, 300, 200)
    made.key("c")
    assert made.field.obstacles[3] == Obstacle("low 2", Box((320.0, 220.0), (200.0, 100.0)))
    assert made.chosen == Handle("obstacle", 3)
    made.key("delete")
    assert made.field == BOARD
    assert made.chosen is None
    made.key("delete")
    assert "Pick a thing first" in made.toast


def test_a_second_click_goes_to_what_lies_below() -> None:
    field = replace(BOARD, start_areas=(StartArea("home", Box((300.0, 200.0), (100.0, 80.0))),))
    made = session(field)
    click(made, 300, 200)
    assert made.chosen == Handle("start area", 0)
    click(made, 300, 200)
    assert made.chosen == Handle("obstacle", 0)


def test_escape_takes_a_drag_back() -> None:
    made = session()
    x, y = pixel(made, 300, 200)
    made.pressed(x, y)
    made.moved(x + 80, y - 90)
    assert made.field != BOARD
    made.key("escape")
    assert made.field == BOARD
    made.moved(x + 200, y)
    assert made.field == BOARD


# --- the picture -------------------------------------------------------------------------------------------------


def test_a_picture_is_scaled_from_a_known_length_by_hand() -> None:
    # By hand: 400 mm on the field are 500 mm on the mat, so all grows by 5/4 about (200, 100). The corner lies
    # (-250, -60) from there, and then (-312.5, -75).
    picture = Picture("mat.png", 1600.0, (-50.0, 40.0))
    made = scaled(picture, (200.0, 100.0), (600.0, 100.0), 500.0)
    assert made == Picture("mat.png", 2000.0, (-112.5, 25.0))
    # 3, 4, 5: 300 across and 400 up are 500 mm, which are 250 mm in truth.
    made = scaled(picture, (0.0, 0.0), (300.0, 400.0), 250.0)
    assert made == Picture("mat.png", 800.0, (-25.0, 20.0))
    assert isinstance(scaled(picture, (1.0, 1.0), (1.0, 1.0), 250.0), Refused)
    assert isinstance(scaled(picture, (0.0, 0.0), (1.0, 0.0), 20000.0), Refused)


places_on_mat = st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000))


@settings(deadline=None)
@given(places_on_mat, places_on_mat, st.floats(10, 5000), st.floats(10, 5000), places_on_mat)
def test_the_first_point_stays_and_the_second_comes_to_its_distance(
    first: tuple[float, float], second: tuple[float, float], width: float, apart: float, corner: tuple[float, float]
) -> None:
    far = hypot(second[0] - first[0], second[1] - first[1])
    if far < 50:
        return
    before = Picture("mat.png", width, corner)
    after = scaled(before, first, second, apart)
    if isinstance(after, Refused):
        assert (
            width * apart / far > 20_000
            or max(abs(a + (c - a) * apart / far) for a, c in zip(first, corner, strict=True)) > 20_000
        )
        return

    def goes_to(point: tuple[float, float]) -> tuple[float, float]:
        """Where what is printed at a point of the picture lies afterwards."""
        u, v = ((p - c) / before.width for p, c in zip(point, before.corner, strict=True))
        return after.corner[0] + u * after.width, after.corner[1] + v * after.width

    # Numbers are kept to a thousandth; what lies far from the corner in widths of the picture feels that.
    close = 0.002 * (2 + max(hypot(p[0] - corner[0], p[1] - corner[1]) for p in (first, second)) / width)
    assert hypot(goes_to(first)[0] - first[0], goes_to(first)[1] - first[1]) < close
    a, b = goes_to(first), goes_to(second)
    assert hypot(b[0] - a[0], b[1] - a[1]) == pytest.approx(apart, abs=2 * close)


def test_two_points_are_clicked_and_their_distance_is_typed() -> None:
    made = session(replace(BOARD, picture=Picture("mat.png", 2000.0)))
    made.key("k")
    click(made, 500, 500)
    click(made, 1500, 500)
    assert made.entry is not None
    made.text("2.36 m")
    made.key("return")
    picture = made.field.picture
    assert picture is not None
    first, second = made.known
    assert hypot(second[0] - first[0], second[1] - first[1]) == pytest.approx(2360)
    assert picture.width == pytest.approx(4720, rel=1e-3)
    # By hand: the corner was 500 left of the first point and 500 below it, and is 2.36 times as far now.
    assert picture.corner == pytest.approx((500 - 1180, 500 - 1180), abs=2)
    assert made.history.undo_words == "the picture's size"
    made.do("undo")
    assert made.field.picture == Picture("mat.png", 2000.0)


def test_one_drag_from_point_to_point_will_do_too() -> None:
    made = session(replace(BOARD, picture=Picture("mat.png", 2000.0)))
    made.key("k")
    drag(made, (500, 500), (1500, 500))
    assert len(made.known) == 2
    made.text("500")
    made.key("return")
    assert made.field.picture is not None
    assert made.field.picture.width == pytest.approx(1000, rel=1e-3)


def test_a_picture_is_scaled_without_a_mouse() -> None:
    made = session(replace(BOARD, picture=Picture("mat.png", 2000.0)))
    made.aspect = 0.5
    made.key("k")
    made.key("return")
    made.text("2360")
    made.key("return")
    assert made.field.picture == Picture("mat.png", 2360.0, (0.0, -90.0))


def test_a_picture_is_dragged_and_its_numbers_are_typed() -> None:
    made = session(replace(BOARD, picture=Picture("mat.png", 2000.0)))
    made.key("p")
    drag(made, (700, 400), (640, 430))
    assert made.field.picture is not None
    assert made.field.picture.corner == pytest.approx((-60, 30), abs=1)
    type_in(made, "picture.corner.x", "-25")
    type_in(made, "picture.width", "2.1 m")
    assert made.field.picture.corner[0] == -25
    assert made.field.picture.width == 2100
    made.key("delete")
    assert made.field.picture is None
    assert made.tool == "pick"


def test_a_picture_is_asked_for_where_there_is_none() -> None:
    made = session()
    made.key("p")
    assert made.wants == {"picture"}
    made.take_picture("mat.png")
    assert made.field.picture == Picture("mat.png", 2000.0)
    assert made.tool == "scale"


# --- whatever is done --------------------------------------------------------------------------------------------

places = st.one_of(
    st.tuples(st.integers(40, 960), st.integers(140, 610)),
    st.tuples(st.integers(-20, 1300), st.integers(-20, 820)),
)
modifiers = st.sampled_from([frozenset[str](), frozenset({"alt"}), frozenset({"shift"})])
KEYS = [key for each in FIELD_KEYS for key in each.keys if each.action not in ("help", "quit")]
DRAWING = [key for each in FIELD_KEYS for key in each.keys if each.action.startswith("draw")]
events = st.one_of(
    st.tuples(st.just("pressed"), places, st.sampled_from(["left", "left", "left", "right"]), modifiers),
    st.tuples(st.just("moved"), places, modifiers),
    st.tuples(st.just("moved"), places, modifiers),
    st.tuples(st.just("released"), places),
    st.tuples(st.just("wheel"), places, st.sampled_from([1.0, -1.0, 2.5])),
    st.tuples(st.just("key"), st.sampled_from(KEYS)),
    st.tuples(st.just("key"), st.sampled_from([*DRAWING, "return", "tab", "h", "ctrl q", "y", "n"])),
    st.tuples(st.just("text"), st.one_of(st.text(max_size=4), st.sampled_from(["90", "12.5 cm", "mill", "-40"]))),
    st.tuples(st.just("resize"), st.sampled_from([(900, 600), (1280, 800), (640, 420)])),
    st.tuples(st.just("take_picture"), st.sampled_from(["mat.png", "other.jpg"])),
)


@settings(max_examples=examples(25), suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from([BOARD, FIELD]), st.lists(events, max_size=40))
def test_whatever_is_done_is_a_field_and_can_be_undone(field: Field, done: list[tuple[Any, ...]]) -> None:
    made = session(field)
    view = FieldView(made)
    for n, (name, *rest) in enumerate(done):
        if name in ("pressed", "moved", "released", "wheel"):
            (x, y), *more = rest
            getattr(made, str(name))(float(x), float(y), *more)
        else:
            getattr(made, str(name))(*rest)
        made.tick(n / 30)
        view.scene()
    last = made.field
    # What is saved is read back equal: into the file that was there, and into a new one.
    text = BAKERY.read_text(encoding="utf-8") if field is FIELD else new_field_text(BOARD)
    assert field_in(field_text(text, field, last)) == last
    assert field_in(new_field_text(last)) == last
    made.asked, made.help, made.error = None, False, None
    ahead = len(made.history.steps) - 1 - made.history.at
    while made.history.undo_words is not None:
        made.do("undo")
    assert made.field == field
    while len(made.history.steps) - 1 - made.history.at > ahead:
        made.do("redo")
    assert made.field == last


def test_every_key_does_something_known() -> None:
    for each in FIELD_KEYS:
        for key in each.keys:
            made = session()
            made._choose(Handle("obstacle", 0))
            made.key(key)
            FieldView(made).scene()
            unknown = made.wants - {"save", "quit", "season", "plan", "propose", "full screen", "picture"}
            assert not unknown, key


# --- numbers, names, undo ------------------------------------------------------------------------------------------


def test_a_sign_begins_a_number_where_one_is_picked() -> None:
    made = session()
    made.do("next thing")
    zoom = made.camera.zoom
    made.do("row down")
    for letter in "-45":
        made.key(letter)
        made.text(letter)
    assert made.entry is not None
    assert made.entry.text == "-45"
    assert made.camera.zoom == zoom
    # On a name it is what the key does.
    again = session()
    again.do("next thing")
    again.key("-")
    again.text("-")
    assert again.entry is None
    assert again.camera.zoom < zoom


def test_naming_a_new_thing_warns_of_no_run() -> None:
    made = session()
    made.do("draw box")
    made.do("type")
    made.do("name")
    made.text("hut")
    made.key("return")
    assert made.lines[0].text == "hut"
    assert "Saving asks" not in made.toast


def test_naming_a_thing_twice_warns_by_the_name_that_runs_know() -> None:
    made = session()
    made.do("next thing")
    for name in ("hut", "shed"):
        made.do("name")
        made.text(name)
        made.key("return")
    assert "'low'" in made.toast or "low" in made.toast
    assert "shed" in made.toast
    assert "hut" not in made.toast
    # Its old name again: no run has to follow.
    made.say("")
    made.do("name")
    made.text("low")
    made.key("return")
    assert made.lines[0].text == "low"
    assert made.toast == ""


def test_undo_while_a_name_is_typed_takes_back_no_more_than_that() -> None:
    made = session()
    made.do("draw box")
    made.do("type")
    there = made.field
    made.do("name")
    made.text("hut")
    made.key("ctrl a")
    made.text(there.obstacles[-1].name)
    # The same name again, letter by letter: it was typed, and only that is taken back.
    made.key("ctrl z")
    assert made.entry is None
    assert made.field == there
    made.key("ctrl z")
    assert made.field == BOARD


def test_a_typed_size_is_seen_whole() -> None:
    made = session()
    made.do("last thing")
    assert made.chosen == WALLS_HANDLE
    row = next(n for n, line in enumerate(made.lines) if line.key == "size.x")
    made.row = row
    made._type(row)
    made.text("4000")
    made.key("return")
    assert made.field.size[0] == 4000.0
    right = made.camera.pixel(4000.0, 500.0)
    left = made.camera.pixel(0.0, 500.0)
    assert made.places.field.contains(*right)
    assert made.places.field.contains(*left)
    made.do("undo")
    # As large as it was again.
    assert made.camera == session().camera


@pytest.mark.parametrize("tool", ["pick", "box"])
def test_escape_in_mid_drag_leaves_nothing_behind(tool: str) -> None:
    made = session()
    made.do("next thing")
    made.do("turned left")
    made.do("undo")
    before = made.history
    if tool != "pick":
        made.do(f"draw {tool}")
    begin = (300.0, 200.0) if tool == "pick" else (600.0, 300.0)
    made.pressed(*pixel(made, *begin))
    made.moved(*pixel(made, begin[0] + 90.0, begin[1] + 50.0))
    assert made.field != BOARD
    made.key("escape")
    made.moved(*pixel(made, begin[0] + 190.0, begin[1] + 70.0))
    made.released(*pixel(made, begin[0] + 190.0, begin[1] + 70.0))
    assert made.field == BOARD
    # What was undone before the drag can still be done again, and the drag cannot.
    assert made.history == before
