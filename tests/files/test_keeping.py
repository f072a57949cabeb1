"""Values written into a file's text in their places: layouts by hand, with what must come out beside them."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from small_files import FIELD as FIELD_TEXT
from small_files import FIELD_FILE, write

from fieldsim.files import load_field, nodes
from fieldsim.files.forms import keys_of
from fieldsim.files.keeping import CannotKeepError, aligned, fresh, kept, number_text, plain_record, text_of
from fieldsim.files.keeping.places import Places
from fieldsim.files.keeping.plain import ordered
from fieldsim.files.reading import Reader
from fieldsim.files.writing import field_text, new_field_text
from fieldsim.model import (
    Act,
    Arc,
    Box,
    Field,
    Jig,
    Obstacle,
    OtherTable,
    Outline,
    Round,
    Run,
    Spread,
    StartArea,
    Straight,
    Target,
    Turn,
    Wait,
)
from fieldsim.model.bounds import Number
from fieldsim.model.units import LENGTH, PERCENT

HEAD = "field: Yard\nsize: [1000, 800]\n"
MILL = Obstacle("mill", Box((100, 200), (30, 40), 15), (0, 120))
BARREL = Obstacle("barrel", Round((700, 300), 40))


def read(text: str, folder: Path) -> tuple[nodes.Document, Field]:
    path = folder / "field.yaml"
    path.write_text(text, encoding="utf-8")
    document = nodes.read(path)
    reader = Reader(document)
    field = reader.field()
    assert reader.problems == []
    return document, field


def after(text: str, folder: Path, **changes: object) -> str:
    """The text with some of the field's attributes changed, read again and equal."""
    document, old = read(text, folder)
    new = replace(old, **changes)  # type: ignore[arg-type]
    made = kept(document, text, old, new)
    assert read(made, folder)[1] == new
    return made


@given(st.floats(-1e5, 1e5))
def test_a_number_reads_back_to_the_last_digit(value: float) -> None:
    text = number_text(value)
    assert float(text) == value
    assert "e" not in text
    assert isinstance(yaml.safe_load(text), int | float)


@pytest.mark.parametrize(
    ("value", "text"),
    [(420.0, "420"), (412.5, "412.5"), (-0.0, "0"), (0.00001, "0.00001"), (1e5, "100000"), (-12.25, "-12.25")],
)
def test_a_number_is_as_short_as_it_can_be(value: float, text: str) -> None:
    assert number_text(value) == text


def test_a_percentage_carries_its_sign() -> None:
    assert number_text(0.004, PERCENT) == "0.4 %"
    assert number_text(-0.0123, PERCENT) == "-1.23 %"


@pytest.mark.parametrize("word", ["left wall", "Box one", "../../fields/bakery.yaml", "a-b_c.1", "Müller's mill", "é"])
def test_words_stand_bare(word: str) -> None:
    assert text_of(word) == word
    assert yaml.safe_load(f"[{word}]") == [word]


@pytest.mark.parametrize(
    "word", ["yes", "No", "null", "12", "1e3", "12:30", "a: b", "a #b", "it's: so", "- a", "-", "~"]
)
def test_what_would_be_something_else_is_quoted(word: str) -> None:
    assert text_of(word) != word
    assert yaml.safe_load(text_of(word)) == word


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1), st.sampled_from([None, "'", '"']))
def test_any_text_reads_back(word: str, style: str | None) -> None:
    for text in (text_of(word, style), f"{{key: {text_of(word, style)}}}"):
        found = yaml.safe_load(text)
        assert (found if isinstance(found, str) else found["key"]) == word


def test_what_is_left_out_in_a_file_is_left_out() -> None:
    assert plain_record(Straight(420)) == {"straight": 420.0}
    assert plain_record(Turn(90, about="left wheel")) == {"turn": 90.0, "about": "left wheel"}
    assert plain_record(BARREL) == {"name": "barrel", "round": {"center": [700.0, 300.0], "radius": 40.0}}
    assert plain_record(MILL)["height"] == 120.0
    assert plain_record(replace(MILL, height=(5, 20)))["height"] == [5.0, 20.0]


def test_a_spread_is_written_whole() -> None:
    jig = Jig("corner", (60, 0), 90, "rear left", Spread(along=0.7))
    assert plain_record(jig)["spread"] == {"along": 0.7, "across": 0.5, "heading": 0.3}
    assert "spread" not in plain_record(replace(jig, spread=Spread()))


def test_every_key_of_a_record_has_its_place() -> None:
    for record in (Run, Field):
        assert set(ordered(record)) == set(keys_of(record))


def test_spreads_of_the_table_are_kept_and_written(tmp_path: Path) -> None:
    text = write(tmp_path, field=FIELD_TEXT).with_name(FIELD_FILE).read_text(encoding="utf-8")
    field = load_field(tmp_path / FIELD_FILE)
    mill, oven, barrel = field.obstacles
    assert barrel.spread == OtherTable(2.0, 1.0, 0.5)
    assert field.mat == OtherTable(1.5, 0.0, 0.2)
    changed = replace(
        field, obstacles=(mill, oven, replace(barrel, spread=OtherTable(2.5, 1.0, 0.5))), mat=OtherTable(1.5, 0.0, 0.3)
    )
    wanted = text.replace("{x: 2, y: 1 mm, heading: 0.5}", "{x: 2.5, y: 1 mm, heading: 0.5}")
    assert field_text(text, field, changed) == wanted.replace(
        "mat: {x: 1.5, heading: 0.2}", "mat: {x: 1.5, heading: 0.3}"
    )
    more = replace(field, obstacles=(replace(mill, spread=OtherTable(1.0)), oven, replace(barrel, spread=OtherTable())))
    made = field_text(text, field, more)
    (tmp_path / FIELD_FILE).write_text(made, encoding="utf-8")
    assert load_field(tmp_path / FIELD_FILE) == more
    (tmp_path / FIELD_FILE).write_text(new_field_text(changed), encoding="utf-8")
    assert load_field(tmp_path / FIELD_FILE) == changed


def test_a_height_without_an_end_has_no_form() -> None:
    with pytest.raises(ValueError, match="from 5 mm up"):
        plain_record(replace(MILL, height=(5, inf)))


def test_a_new_file_has_a_line_for_each_key_of_an_item() -> None:
    field = Field("Yard", (1000, 800), None, (MILL, BARREL), (StartArea("home", Outline(((0, 0), (9, 0), (0, 9)))),))
    assert fresh(plain_record(field), apart=True) == (
        "field: Yard\nsize: [1000, 800]\nwalls: none\n"
        "\nobstacles:\n"
        "  - name: mill\n    box: {center: [100, 200], size: [30, 40], heading: 15}\n    height: 120\n"
        "  - name: barrel\n    round: {center: [700, 300], radius: 40}\n"
        "\nstart_areas:\n  - name: home\n    outline: [[0, 0], [9, 0], [0, 9]]\n"
    )


@pytest.mark.parametrize(
    ("there", "distance", "written"),
    [
        ("'30 cm'", 412.5, "'41.25 cm'"),
        ("30cm", 412.5, "41.25cm"),
        # Nine signs are short enough in the unit that was there, ten are not.
        ("30 cm", 412.56789, "41.256789 cm"),
        ("30 cm", 412.567891, "412.567891"),
        ("16 in", 419.1, "16.5 in"),
        ("16 in", 412.5, "412.5"),
        ("300", 412.567891, "412.567891"),
    ],
)
def test_a_unit_stays_while_the_number_is_short_in_it(
    tmp_path: Path, there: str, distance: float, written: str
) -> None:
    path = tmp_path / "run.yaml"
    path.write_text(f"segments:\n  - straight: {there}  # ahead\n")
    document = nodes.read(path)
    line = document.root.value[0][1].value[0].value[0][1]
    places = Places(path.read_text(), document.root)
    edit = places.number(line, Number(LENGTH), distance)
    assert places.applied([edit]) == f"segments:\n  - straight: {written}  # ahead\n"


# --- which item is which


def test_equal_items_stay_in_order() -> None:
    a, b, c = Straight(1), Turn(90), Straight(2)
    assert aligned([a, b, c], [a, c]) == [0, 2]
    assert aligned([a, b, c], [b, c, a]) == [1, 2, 0]
    assert aligned([a, b, b, c], [a, b, b, b, c]) in ([0, 1, 2, None, 3], [0, 1, None, 2, 3], [0, None, 1, 2, 3])


def test_a_changed_item_is_the_one_between_the_same_neighbours() -> None:
    old = [Straight(1), Turn(90), Straight(2), Wait(1)]
    assert aligned(old, [Straight(1), Turn(80), Straight(2), Wait(1)]) == [0, 1, 2, 3]
    assert aligned(old, [Straight(1), Arc(5, 100), Straight(2), Wait(1)]) == [0, None, 2, 3]
    # Of two that may be meant, the one that is more alike.
    old = [Straight(1, speed=100), Straight(2, speed=200)]
    assert aligned(old, [Straight(3, speed=200)]) == [1]


def test_an_item_moved_and_changed_is_known_by_what_it_still_says() -> None:
    old = [Straight(1, speed=100), Turn(90), Wait(1)]
    assert aligned(old, [Turn(90), Wait(1), Straight(7, speed=100)]) == [1, 2, 0]
    assert aligned(old, [Turn(90), Wait(1), Straight(7)]) == [1, 2, None]


def test_the_same_object_is_the_same_item() -> None:
    turns = [Turn(90) for _ in range(3)]
    assert aligned(turns, [turns[2], turns[0], turns[1]], turns) == [2, 0, 1]
    assert aligned(turns, [turns[2]], turns) == [2]
    # Objects of something else say nothing.
    assert aligned(turns, [turns[2]], [Turn(1), *turns[1:]]) == [0]


def test_named_items_are_matched_by_name_then_by_the_rest() -> None:
    old = [MILL, BARREL, Obstacle("bin", Round((1, 2), 3))]
    assert aligned(old, [replace(old[2], name="sack"), BARREL, replace(MILL, height=(0, 5))]) == [2, 1, 0]
    moved = replace(MILL, name="windmill", shape=replace(MILL.shape, center=(500, 500)))
    assert aligned(old, [BARREL, moved]) == [1, 0]
    assert aligned(old, [Obstacle("new", Round((500, 600), 70))]) == [None]


@given(st.lists(st.integers(1, 4)), st.lists(st.integers(1, 4)))
def test_each_old_item_is_taken_once_and_none_is_wasted(old: list[int], new: list[int]) -> None:
    there, here = [Straight(n) for n in old], [Straight(n) for n in new]
    found = aligned(there, here)
    taken = [i for i in found if i is not None]
    assert len(set(taken)) == len(taken)
    equal = sum(there[i] == item for i, item in zip(found, here, strict=True) if i is not None)
    assert equal == sum(min(old.count(n), new.count(n)) for n in set(old))


# --- the text changed in its places

LIST = (
    HEAD + "obstacles:   # what stands there\n"
    "  # the mill's own\n"
    "  - name: mill         # it turns\n"
    "    box: {center: [100, 200], size: [30, 40], heading: 15}\n"
    "    height: 12 cm      # measured\n"
    "      # and again\n"
    "  # the barrel's own\n"
    "  - {name: barrel, round: {center: [700, 300], radius: 40}}   # full\n"
    "# the end\n"
    "targets: []\n"
)


def test_only_the_number_changes(tmp_path: Path) -> None:
    made = after(LIST, tmp_path, obstacles=(replace(MILL, height=(0, 125)), BARREL))
    assert made == LIST.replace("12 cm      #", "12.5 cm    #")
    made = after(LIST, tmp_path, obstacles=(replace(MILL, shape=replace(MILL.shape, center=(100, 1.5))), BARREL))
    assert made == LIST.replace("[100, 200]", "[100, 1.5]")


def test_comments_stay_in_their_column(tmp_path: Path) -> None:
    text = HEAD.replace("800]", "800]      # inside") + "walls: none            # open\n"
    assert after(text, tmp_path, size=(10000, 800)) == text.replace("1000, 800]      #", "10000, 800]     #")
    assert after(text, tmp_path, size=(1000, 777.25)) == text.replace("800]      #", "777.25]   #")
    made = after(text, tmp_path, size=(1234.5678, 777.25))
    assert made == text.replace("[1000, 800]      #", "[1234.5678, 777.25]  #")
    # One that stands in no column with others is moved.
    alone = HEAD.replace("800]", "800]      # inside")
    assert after(alone, tmp_path, size=(10000, 800)) == alone.replace("1000", "10000")


def test_items_move_with_their_comments(tmp_path: Path) -> None:
    lines = LIST.splitlines(keepends=True)
    made = after(LIST, tmp_path, obstacles=(BARREL, MILL))
    assert made == "".join([*lines[:3], *lines[8:10], *lines[3:8], *lines[10:]])


def test_an_item_that_goes_takes_its_comments_along(tmp_path: Path) -> None:
    lines = LIST.splitlines(keepends=True)
    assert after(LIST, tmp_path, obstacles=(MILL,)) == "".join([*lines[:8], *lines[10:]])
    # What stands above the first of a list, or apart, may be the heading of all that follows.
    assert after(LIST, tmp_path, obstacles=(BARREL,)) == "".join([*lines[:4], *lines[8:]])


def test_new_items_and_lists_take_the_style_of_what_is_there(tmp_path: Path) -> None:
    block = "obstacles:\n    - name: mill\n      box: {center: [100, 200], size: [30, 40], heading: 15}\n"
    block += "      height: 120\n"
    made = after(HEAD + block, tmp_path, obstacles=(MILL, BARREL))
    assert made == HEAD + block + "    - name: barrel\n      round: {center: [700, 300], radius: 40}\n"
    braces = "obstacles:\n- {name: barrel, round: {center: [700, 300], radius: 40}}"
    made = after(HEAD + braces, tmp_path, obstacles=(MILL, BARREL))
    assert made.endswith(
        "obstacles:\n- {name: mill, box: {center: [100, 200], size: [30, 40], heading: 15}, height: 120}\n"
        "- {name: barrel, round: {center: [700, 300], radius: 40}}\n"
    )
    target = Target("bell", (10, 20), 5)
    assert after(LIST, tmp_path, targets=(target,)) == LIST.replace(
        "targets: []\n", "targets:\n  - name: bell\n    at: [10, 20]\n    within: 5\n"
    )
    made = after(HEAD, tmp_path, targets=(target,), walls=None)
    assert made == HEAD + "walls: none\ntargets:\n  - name: bell\n    at: [10, 20]\n    within: 5\n"


def test_keys_come_and_go(tmp_path: Path) -> None:
    text = LIST.replace("[]", "\n- within: 5   # near\n  name: bell\n  at: [1, 2]")
    bell = Target("bell", (1, 2), 5)
    made = after(text, tmp_path, targets=(replace(bell, heading=90, heading_within=6),))
    assert made.endswith("  at: [1, 2]\n  heading: 90\n  heading_within: 6\n")
    assert after(made, tmp_path, targets=(bell,)) == text
    high, plain = "{name: barrel, round: {center: [700, 300], radius: 40}, height: [2, 50]}", LIST
    made = after(plain, tmp_path, obstacles=(MILL, replace(BARREL, height=(2, 50))))
    assert high in made
    assert after(made, tmp_path, obstacles=(MILL, BARREL)) == plain


def test_a_key_that_goes_leaves_its_comment_with_its_item(tmp_path: Path) -> None:
    made = after(LIST, tmp_path, obstacles=(replace(MILL, height=(0, inf)), BARREL))
    assert "heading: 15}\n    # measured\n      # and again\n  # the barrel's own\n" in made
    first = HEAD + "obstacles:\n  - height: 5   # low\n    # its name\n    name: barrel\n"
    first += "    round: {center: [700, 300], radius: 40}\n"
    made = after(first, tmp_path, obstacles=(BARREL,))
    assert "  - # low\n    # its name\n    name: barrel\n" in made


def test_a_shape_of_another_kind_takes_the_old_ones_place(tmp_path: Path) -> None:
    made = after(LIST, tmp_path, obstacles=(replace(MILL, shape=Round((1, 2), 3)), BARREL))
    assert made == LIST.replace(
        "box: {center: [100, 200], size: [30, 40], heading: 15}", "round: {center: [1, 2], radius: 3}"
    )
    nested = (
        HEAD + "obstacles:\n  - name: barrel\n    round:  # old\n      center: [700, 300]\n      radius: 40   # wide\n"
    )
    made = after(nested, tmp_path, obstacles=(replace(BARREL, shape=Outline(((0, 0), (9, 0), (0, 9)))),))
    assert made == HEAD + "obstacles:\n  - name: barrel\n    outline: [[0, 0], [9, 0], [0, 9]]  # old   # wide\n"


@pytest.mark.parametrize(
    ("walls", "new", "made"),
    [
        ("walls: {height: 75}", (0, 80), "walls: {height: 80}"),
        ("walls: {height: 75}", (5, 80), "walls: {height: [5, 80]}"),
        ("walls: {height: 75}", None, "walls: none"),
        ("walls:\n  height: 7.5 cm  # low", (0, 80), "walls:\n  height: 8 cm  # low"),
        ("walls: none", (0, 75), "walls: {height: 75}"),
        ("walls: none", (0, inf), ""),
    ],
)
def test_walls(walls: str, new: object, made: str, tmp_path: Path) -> None:
    assert after(f"{HEAD}{walls}\n", tmp_path, walls=new) == f"{HEAD}{made}\n".replace("\n\n", "\n")


def test_lists_in_brackets(tmp_path: Path) -> None:
    one = HEAD + "obstacles: [{name: barrel, round: {center: [700, 300], radius: 40}}]  # one\n"
    made = after(one, tmp_path, obstacles=(BARREL, replace(BARREL, name="b")))
    assert made == one.replace("}}]", "}}, {name: b, round: {center: [700, 300], radius: 40}}]")
    more = (
        HEAD + "obstacles: [  # some\n"
        "    {name: a, round: {center: [1, 2], radius: 3}},  # a's\n"
        "    # above b\n"
        "    {name: b, round: {center: [4, 5], radius: 6}}   # b's\n"
        "  ]\n"
    )
    a, b = Obstacle("a", Round((1, 2), 3)), Obstacle("b", Round((4, 5), 6))
    assert after(more, tmp_path, obstacles=(b, MILL, a)) == (
        HEAD + "obstacles: [  # some\n"
        "    # above b\n"
        "    {name: b, round: {center: [4, 5], radius: 6}},  # b's\n"
        "    {name: mill, box: {center: [100, 200], size: [30, 40], heading: 15}, height: 120},\n"
        "    {name: a, round: {center: [1, 2], radius: 3}},  # a's\n"
        "  ]\n"
    )


def test_corners_are_dragged_added_and_taken_away(tmp_path: Path) -> None:
    text = (
        HEAD
        + "start_areas:\n  - name: home\n    outline:\n      - [0, 0]  # left\n      - [9, 0]\n      - [0, 9]  # far\n"
    )

    def area(*points: tuple[float, float]) -> tuple[StartArea, ...]:
        return (StartArea("home", Outline(points)),)

    made = after(text, tmp_path, start_areas=area((0, 0), (9, 1), (0, 9)))
    assert made == text.replace("[9, 0]", "[9, 1]")
    made = after(text, tmp_path, start_areas=area((0, 0), (9, 0), (9, 9), (0, 9)))
    assert made == text.replace("- [9, 0]\n", "- [9, 0]\n      - [9, 9]\n")
    flat = HEAD + "start_areas:\n  - {name: home, outline: [[0, 0], [9, 0], [9, 9], [0, 9]]}\n"
    made = after(flat, tmp_path, start_areas=area((0, 0), (9, 9), (0, 9)))
    assert made == flat.replace("[9, 0], ", "")


def test_an_alias_has_no_place_of_its_own(tmp_path: Path) -> None:
    text = HEAD + "start_areas:\n  - {name: a, box: &one {center: [1, 2], size: [3, 4]}}\n  - {name: b, box: *one}\n"
    document, old = read(text, tmp_path)
    with pytest.raises(CannotKeepError):
        kept(document, text, old, replace(old, size=(500, 500)))


def test_acts_keep_what_they_say() -> None:
    assert plain_record(Act("bell", 2.0)) == {"act": "bell", "takes": 2.0}
