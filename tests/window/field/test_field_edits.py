"""Fields changed by hand: what is gripped moves, what is opposite stays, what cannot be is refused in plain words."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, inf, radians, sin
from pathlib import Path

import pytest
import shapely
from examples import examples
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fieldsim.files import load_field
from fieldsim.files.writing import field_text, new_field_text
from fieldsim.model import Box, Field, Jig, Line, Obstacle, Outline, Round, Spread, StartArea, Target
from fieldsim.model.bounds import attributes
from fieldsim.sim.shapes import outline, polygon
from fieldsim.window.dials import Refused
from fieldsim.window.field.edits import (
    change_shape,
    choices_of,
    insert_corner,
    nudge_thing,
    numbers_of,
    remove_corner,
    set_choice_of,
    set_number_of,
    turn_by,
    typed_of,
)
from fieldsim.window.field.grips import corner_points, grip, handles, handles_of, pick, place_of, under
from fieldsim.window.field.things import (
    KINDS,
    WALLS_HANDLE,
    Handle,
    add,
    add_box,
    add_jig,
    add_line,
    add_outline,
    add_round,
    add_target,
    copy_thing,
    free_name,
    remove,
    rename,
    rename_field,
    thing_at,
    things,
    with_walls,
)
from fieldsim.window.history import History

Point = tuple[float, float]

# All invented.
ELL = ((1400.0, 600.0), (1600.0, 600.0), (1600.0, 700.0), (1500.0, 700.0), (1500.0, 800.0), (1400.0, 800.0))
FIELD = Field(
    "Yard",
    (2000.0, 1000.0),
    (0.0, 75.0),
    obstacles=(
        Obstacle("crate", Box((700.0, 500.0), (100.0, 60.0), 30.0), (0.0, 80.0)),
        Obstacle("bin", Round((1200.0, 300.0), 50.0)),
        Obstacle("bench", Outline(ELL)),
    ),
    start_areas=(StartArea("home", Box((200.0, 200.0), (400.0, 400.0))),),
    jigs=(Jig("block", (60.0, 0.0), 90.0, "rear left"),),
    lines=(Line("kerb", (900.0, 0.0), (900.0, 1000.0)), Line("seam", (1000.0, 900.0), (1300.0, 500.0), 15.0)),
    targets=(Target("lever", (1500.0, 500.0), 8.0, 90.0, 6.0, 20.0), Target("lid", (1000.0, 300.0), 20.0)),
)
CRATE, BIN, BENCH = Handle("obstacle", 0), Handle("obstacle", 1), Handle("obstacle", 2)
HOME, BLOCK, SEAM, LEVER, LID = (
    Handle("start area", 0), Handle("jig", 0), Handle("line", 1), Handle("target", 0), Handle("target", 1)
)  # fmt: skip
OPPOSITE = {"sw": "ne", "ne": "sw", "se": "nw", "nw": "se", "e": "w", "w": "e", "n": "s", "s": "n"}


def good(field: Field | Refused) -> Field:
    assert isinstance(field, Field), field
    return field


def words(field: Field | Refused) -> str:
    assert isinstance(field, Refused), field
    return field.words


def part(handle: Handle, name: str) -> Handle:
    return replace(handle, part=name)


def box_of(field: Field, handle: Handle) -> Box:
    shape = thing_at(field, handle).shape  # type: ignore[union-attr]
    assert isinstance(shape, Box)
    return shape


def away(a: Point, b: Point) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


POINT = st.tuples(st.floats(10.0, 1990.0), st.floats(10.0, 990.0))
HANDLE = st.sampled_from([handle for handle, _ in handles(FIELD)])


# --- gripping


@settings(max_examples=examples(200))
@given(
    POINT, st.floats(-180, 180), st.tuples(st.floats(5, 400), st.floats(5, 400)), POINT, st.sampled_from(list(OPPOSITE))
)
def test_the_opposite_corner_or_side_stays(center: Point, heading: float, size: Point, to: Point, name: str) -> None:
    """Also of a box that is turned, and also when it is dragged past it; the dragged one is where it was put."""
    sort = "corner" if len(name) == 2 else "edge"
    field = replace(FIELD, obstacles=(Obstacle("box", Box(center, size, heading)),))
    handle = part(CRATE, f"{sort} {name}")
    made = grip(field, handle, to)
    assume(not isinstance(made, Refused))
    box = box_of(good(made), handle)
    assert box.heading == heading
    fixed = place_of(field, part(handle, f"{sort} {OPPOSITE[name]}"))
    if sort == "corner":
        corners = corner_points(box)
        assert min(away(corner, fixed) for corner in corners) < 0.002
        assert min(away(corner, to) for corner in corners) < 0.002
    else:
        # The side's line is where it was: the middles of both sides have the same place along.
        n = 0 if name in "ew" else 1
        along = (
            (cos(radians(heading)), sin(radians(heading)))
            if n == 0
            else (-sin(radians(heading)), cos(radians(heading)))
        )
        level = sorted(c[0] * along[0] + c[1] * along[1] for c in corner_points(box))
        wanted = sorted(p[0] * along[0] + p[1] * along[1] for p in (fixed, to))
        assert (level[0], level[-1]) == pytest.approx(tuple(wanted), abs=0.002)
        assert box.size[1 - n] == size[1 - n]


def test_resizing_by_hand() -> None:
    """A crate of 100 by 60, not turned: its corner at [750, 530] is dragged 20 and 10 mm outwards."""
    field = good(set_number_of(FIELD, CRATE, "shape.heading", 0.0))
    assert place_of(field, part(CRATE, "corner ne")) == (750.0, 530.0)
    assert box_of(good(grip(field, part(CRATE, "corner ne"), (770.0, 540.0))), CRATE) == Box(
        (710.0, 505.0), (120.0, 70.0)
    )
    assert box_of(good(grip(field, part(CRATE, "edge w"), (600.0, 0.0))), CRATE) == Box((675.0, 500.0), (150.0, 60.0))
    assert box_of(good(grip(field, part(CRATE, "corner ne"), (773.0, 541.0), step=5.0)), CRATE) == Box(
        (712.5, 505.0), (125.0, 70.0)
    )
    assert box_of(good(grip(field, part(CRATE, "corner ne"), (770.0, 540.0), axis="x")), CRATE).size == (120.0, 60.0)
    # Past the opposite corner at [650, 470].
    assert box_of(good(grip(field, part(CRATE, "corner ne"), (640.0, 450.0))), CRATE) == Box(
        (645.0, 460.0), (10.0, 20.0)
    )
    assert "accepted: more than 0 mm" in words(grip(field, part(CRATE, "corner ne"), (650.0, 540.0)))
    assert box_of(good(grip(field, part(CRATE, "corner ne"), (650.0, 540.0), step=1.0)), CRATE).size == (1.0, 70.0)


@settings(max_examples=examples(200))
@given(HANDLE, POINT)
def test_a_handle_goes_where_it_is_put_and_back(handle: Handle, to: Point) -> None:
    here = place_of(FIELD, handle)
    assert grip(FIELD, handle, here) is FIELD
    moved = grip(FIELD, handle, to)
    assume(not isinstance(moved, Refused))
    moved = good(moved)
    if handle.part in ("whole", "start", "end") or _corner_of_outline(handle):
        assert away(place_of(moved, handle), to) < 0.002
    if _keeps_its_name(handle, to):
        for one, other in zip(handles(good(grip(moved, handle, here))), handles(FIELD), strict=True):
            assert one[0] == other[0]
            assert away(one[1], other[1]) < 0.005


def _corner_of_outline(handle: Handle) -> bool:
    return handle.whole == BENCH and handle.part.startswith("corner")


def _keeps_its_name(handle: Handle, to: Point) -> bool:
    """A box dragged past its opposite corner lies on the other side of it: the corner of that name is another."""
    if not handle.part.startswith(("corner", "edge")) or _corner_of_outline(handle):
        return True
    thing = thing_at(FIELD, handle)
    assert isinstance(thing, Obstacle | StartArea)
    assert isinstance(thing.shape, Box)
    c, s = cos(radians(thing.shape.heading)), sin(radians(thing.shape.heading))
    fixed = place_of(FIELD, part(handle, " ".join((handle.part.split()[0], OPPOSITE[handle.part.split()[1]]))))
    x, y = to[0] - fixed[0], to[1] - fixed[1]
    local = {"e": c * x + s * y, "n": c * y - s * x, "w": -c * x - s * y, "s": s * x - c * y}
    return all(local[letter] > 0.0 for letter in handle.part.split()[1])


def test_turning_by_hand() -> None:
    assert box_of(good(grip(FIELD, part(CRATE, "turn"), (700.0, 900.0))), CRATE).heading == 90.0
    assert box_of(good(grip(FIELD, part(CRATE, "turn"), (600.0, 495.0), angle_step=15.0)), CRATE).heading == 180.0
    assert good(grip(FIELD, part(BLOCK, "turn"), (160.0, 100.0))).jigs[0].heading == 45.0
    assert good(grip(FIELD, part(LEVER, "turn"), (1500.0, 400.0))).targets[0].heading == -90.0
    # How far out it is gripped does not matter.
    assert grip(FIELD, part(CRATE, "turn"), (700.0, 900.0)) == grip(FIELD, part(CRATE, "turn"), (700.0, 501.0), arm=9.0)
    with pytest.raises(KeyError):
        place_of(FIELD, part(LID, "turn"))


def test_the_other_handles_by_hand() -> None:
    assert good(grip(FIELD, part(BIN, "radius"), (1230.0, 340.0))).obstacles[1].shape == Round((1200.0, 300.0), 50.0)
    assert good(grip(FIELD, part(BIN, "radius"), (1200.0, 361.4), step=1.0)).obstacles[1].shape == Round(
        (1200.0, 300.0), 61.0
    )
    assert good(grip(FIELD, part(LID, "within"), (1030.0, 260.0))).targets[1].within == 50.0
    # The seam goes 3 to 4; 10 mm aside of it is 20 wide.
    x, y = 1150.0 + 8.0, 700.0 + 6.0
    assert good(grip(FIELD, part(SEAM, "width"), (x, y))).lines[1].width == pytest.approx(20.0)
    assert good(grip(FIELD, part(SEAM, "end"), (1300.0, 520.0))).lines[1].end == (1300.0, 520.0)
    assert good(grip(FIELD, SEAM, (1160.0, 700.0))).lines[1] == Line("seam", (1010.0, 900.0), (1310.0, 500.0), 15.0)
    assert "is the same point as its start" in words(grip(FIELD, part(SEAM, "end"), (1000.0, 900.0)))
    moved = good(grip(FIELD, part(BENCH, "corner 2"), (1650.0, 720.0))).obstacles[2].shape
    assert moved == Outline((*ELL[:2], (1650.0, 720.0), *ELL[3:]))
    assert "crosses itself" in words(grip(FIELD, part(BENCH, "corner 2"), (1300.0, 750.0)))
    assert good(grip(FIELD, part(WALLS_HANDLE, "far right"), (2100.2, 1200.0), step=1.0)).size == (2100.0, 1200.0)
    assert good(grip(FIELD, part(WALLS_HANDLE, "far"), (0.0, 1200.0))).size == (2000.0, 1200.0)
    assert "'shape' of obstacle 'bench' lies outside the field" in words(
        grip(FIELD, part(WALLS_HANDLE, "right"), (1300.0, 0.0))
    )
    assert "lies outside the field" in words(grip(FIELD, BLOCK, (-5.0, 0.0)))
    assert words(grip(FIELD, BLOCK, (inf, 0.0))) == "this is no place on the field"
    assert good(grip(FIELD, CRATE, (800.0, 900.0), axis="y")).obstacles[0].shape == Box(
        (700.0, 900.0), (100.0, 60.0), 30.0
    )


# --- finding


@settings(max_examples=examples(150))
@given(HANDLE)
def test_what_is_gripped_is_found(handle: Handle) -> None:
    """At a handle's own place the selected thing's handle is found, or another one of it at the same place."""
    here = place_of(FIELD, handle)
    found = pick(FIELD, here, 1.0, selected=handle)
    assert found is not None
    if handle.part != "whole":
        assert (found.kind, found.index) == (handle.kind, handle.index)
        assert away(place_of(FIELD, found), here) <= 1.0
    elif handle != BENCH:  # its middle lies beside it
        assert handle in under(FIELD, here, 1.0)


@settings(max_examples=examples(150))
@given(POINT, st.floats(0.5, 30.0))
def test_what_is_under_the_pointer_against_shapely(point: Point, reach: float) -> None:
    place = shapely.Point(point)
    found = [h for h in under(FIELD, point, reach) if h.kind in ("obstacle", "start area")]
    for handle, thing in things(FIELD):
        if not isinstance(thing, Obstacle | StartArea):
            continue
        distance = polygon(thing.shape).distance(place)
        if abs(distance - reach) > 0.05:  # shapely's round has corners
            assert (handle in found) == (distance < reach)
    shapes = [thing_at(FIELD, handle) for handle in found]
    areas = [polygon(thing.shape).area for thing in shapes if isinstance(thing, Obstacle | StartArea)]
    assert areas == sorted(areas)


def test_the_smallest_thing_comes_first() -> None:
    assert pick(FIELD, (65.0, 3.0), 10.0) == BLOCK
    assert pick(FIELD, (65.0, 30.0), 10.0) == HOME
    assert under(FIELD, (65.0, 3.0), 10.0) == (BLOCK, HOME)
    assert pick(FIELD, (1997.0, 400.0), 5.0) == Handle("walls", 0, "right")
    assert pick(FIELD, (1997.0, 998.0), 5.0) == Handle("walls", 0, "far right")
    assert pick(FIELD, (1700.0, 200.0), 5.0) is None
    assert pick(FIELD, (905.0, 500.0), 1.0) == Handle("line", 0)
    assert pick(FIELD, (1550.0, 750.0), 5.0) is None  # the notch of the bench
    copied = good(copy_thing(FIELD, CRATE))
    new = Handle("obstacle", 3)
    assert pick(copied, (710.0, 510.0), 1.0) == new
    assert pick(copied, (710.0, 510.0), 1.0, selected=CRATE) == CRATE


# --- numbers


def test_every_number_of_a_thing_is_there() -> None:
    spread = ["spread.x", "spread.y", "spread.heading"]
    keys = {handle: [dial.key for dial in numbers_of(FIELD, handle)] for handle, _ in things(FIELD)}
    assert keys[CRATE] == [
        "shape.center.x", "shape.center.y", "shape.size.along", "shape.size.across", "shape.heading", "height.low",
        "height.high", *spread,
    ]  # fmt: skip
    assert keys[BIN][:3] == ["shape.center.x", "shape.center.y", "shape.radius"]
    assert keys[BENCH][:2] == ["middle.x", "middle.y"]
    assert keys[BLOCK] == ["corner.x", "corner.y", "heading", "spread.along", "spread.across", "spread.heading"]
    assert keys[SEAM] == ["start.x", "start.y", "end.x", "end.y", "width", *spread]
    assert keys[LID] == ["at.x", "at.y", "within", "heading", "heading_within", "points", *spread]
    assert [dial.key for dial in numbers_of(FIELD, WALLS_HANDLE)] == [
        "size.x", "size.y", "walls.low", "walls.high", "mat.x", "mat.y", "mat.heading",
    ]  # fmt: skip
    # Nothing of the model is left out but names, what is chosen, and what a jig is built on: that is said in the file.
    for handle, thing in things(FIELD):
        chosen = (
            {choice.key for choice in choices_of(FIELD, handle)}
            | {"name"}
            | ({"built_on"} if isinstance(thing, Jig) else set())
        )
        assert {key.split(".")[0].replace("middle", "shape") for key in keys[handle]} | chosen == set(
            attributes(type(thing))
        )


def test_numbers_by_hand() -> None:
    assert box_of(good(typed_of(FIELD, CRATE, "shape.size.along", "12,5 cm")), CRATE).size == (125.0, 60.0)
    assert box_of(good(nudge_thing(FIELD, CRATE, "shape.heading", -1)), CRATE).heading == 25.0
    assert good(nudge_thing(FIELD, BLOCK, "spread.along", 1, fine=True)).jigs[0].spread == Spread(0.6)
    assert good(typed_of(FIELD, part(BENCH, "corner 3"), "shape.points.3.y", "690")).obstacles[2].shape == Outline(
        (*ELL[:3], (1500.0, 690.0), *ELL[4:])
    )
    assert good(typed_of(FIELD, BENCH, "middle.x", "1510")).obstacles[2].shape == Outline(
        tuple((x + 10.0, y) for x, y in ELL)
    )
    (x, y, *_) = numbers_of(FIELD, part(BENCH, "corner 3"))
    assert (x.key, x.value, y.value) == ("shape.points.3.x", 1500.0, 700.0)
    assert good(typed_of(FIELD, WALLS_HANDLE, "size.x", "2,1 m")).size == (2100.0, 1000.0)
    assert "accepted: 100 to 20000 mm" in words(typed_of(FIELD, WALLS_HANDLE, "size.y", "20"))
    assert "size along needs a number" in words(typed_of(FIELD, CRATE, "shape.size.along", " "))
    with pytest.raises(KeyError):
        typed_of(FIELD, CRATE, "shape.radius", "1")
    for key in ("shape.points.9.x", "shape.points.x", "shape.points.0", "shape.points.0.z"):
        with pytest.raises(KeyError):
            set_number_of(FIELD, BENCH, key, 1.0)


def test_heights() -> None:
    assert good(typed_of(FIELD, CRATE, "height.high", "")).obstacles[0].height == (0.0, inf)
    assert good(typed_of(FIELD, CRATE, "height.low", "20")).obstacles[0].height == (20.0, 80.0)
    assert "the first must be the lower one" in words(typed_of(FIELD, CRATE, "height.low", "90"))
    said = "bin would hang without an upper end; give the upper end first, then the lower one"
    assert words(typed_of(FIELD, BIN, "height.low", "20")) == said
    (high,) = (dial for dial in numbers_of(FIELD, BIN) if dial.key == "height.high")
    assert (high.value, high.text, high.optional) == (inf, "", True)
    assert good(with_walls(FIELD, None)).walls is None
    assert good(with_walls(good(with_walls(FIELD, None)), 75.0)) == FIELD
    assert good(typed_of(FIELD, WALLS_HANDLE, "walls.high", "")).walls == (0.0, inf)


def test_a_targets_heading_and_how_far_off_go_together() -> None:
    field = good(typed_of(FIELD, LID, "heading", "45"))
    assert field.targets[1] == Target("lid", (1000.0, 300.0), 20.0, 45.0, 10.0)
    assert good(typed_of(field, LID, "heading_within", "")) == FIELD
    assert good(typed_of(FIELD, LID, "heading_within", "5")).targets[1] == Target(
        "lid", (1000.0, 300.0), 20.0, 0.0, 5.0
    )


# --- drawing, naming, shapes


def test_drawing_by_hand() -> None:
    field = good(add_box(FIELD, "obstacle", (100.0, 900.0), (40.0, 960.0)))
    assert field.obstacles[-1] == Obstacle("box", Box((70.0, 930.0), (60.0, 60.0)))
    assert good(add_box(field, "obstacle", (0.0, 0.0), (9.0, 8.0))).obstacles[-1].name == "box 2"
    assert good(add_round(FIELD, "start area", (100.0, 900.0), (103.0, 904.0))).start_areas[-1] == StartArea(
        "start area", Round((100.0, 900.0), 5.0)
    )
    assert good(add_outline(FIELD, "obstacle", [(0, 0), (50, 0), (0, 50)])).obstacles[-1].name == "outline"
    assert good(add_jig(FIELD, (60.0, 60.0), 270.0, "front left")).jigs[-1] == Jig(
        "jig", (60.0, 60.0), -90.0, "front left"
    )
    assert good(add_line(FIELD, (1.0, 2.0), (3.0, 4.0))).lines[-1] == Line("line", (1.0, 2.0), (3.0, 4.0))
    assert good(add_target(FIELD, (1.0, 2.0))).targets[-1] == Target("target", (1.0, 2.0), 15.0)
    assert "accepted: more than 0 mm" in words(add_box(FIELD, "obstacle", (5.0, 5.0), (5.0, 9.0)))
    assert "3 to 200" in words(add_outline(FIELD, "obstacle", [(0, 0), (50, 0)]))
    assert "two different ends" in words(add_line(FIELD, (1.0, 2.0), (1.0, 2.0)))
    assert "lies outside the field" in words(add_target(FIELD, (2001.0, 2.0)))
    assert "'width' of line 'line'" in words(add_line(FIELD, (1.0, 2.0), (3.0, 4.0), 0.0))


def test_names_copies_and_taking_away() -> None:
    assert good(rename(FIELD, BIN, " tub ")).obstacles[1].name == "tub"
    assert words(rename(FIELD, BIN, "crate")).startswith("obstacle 'crate' repeats the name 'crate'")
    assert "is the name of a wall" in words(rename(FIELD, BIN, "far wall"))
    on_it = replace(FIELD, jigs=(replace(FIELD.jigs[0], built_on="bin"),))
    assert good(rename(on_it, BIN, "tub")).jigs[0].built_on == "tub"
    assert good(rename(on_it, CRATE, "tub")).jigs[0].built_on == "bin"
    assert good(remove(on_it, BIN)).jigs[0].built_on is None
    assert "is empty" in words(rename(FIELD, BIN, " "))
    assert good(rename_field(FIELD, "Barn")).name == "Barn"
    field = good(copy_thing(FIELD, BIN))
    assert field.obstacles[3] == Obstacle("bin 2", Round((1220.0, 320.0), 50.0))
    assert good(copy_thing(field, Handle("obstacle", 3))).obstacles[4].name == "bin 3"
    assert good(remove(field, Handle("obstacle", 3))) == FIELD
    assert free_name(FIELD, "jig", "block") == "block 2"
    for kind in KINDS:
        assert len(list(things(good(remove(FIELD, Handle(kind, 0)))))) == len(list(things(FIELD))) - 1
    assert good(add(good(remove(FIELD, SEAM)), FIELD.lines[1])) == FIELD
    with pytest.raises(IndexError):
        thing_at(FIELD, Handle("jig", 7))


def test_other_shapes() -> None:
    assert good(change_shape(FIELD, CRATE, "round")).obstacles[0].shape == Round((700.0, 500.0), 30.0)
    assert good(change_shape(FIELD, BIN, "box")).obstacles[1].shape == Box((1200.0, 300.0), (100.0, 100.0))
    assert good(set_choice_of(FIELD, BENCH, "shape", "box")).obstacles[2].shape == Box((1500.0, 700.0), (200.0, 200.0))
    made = good(change_shape(FIELD, CRATE, "outline")).obstacles[0].shape
    assert isinstance(made, Outline)
    assert shapely.Polygon(made.points).symmetric_difference(shapely.Polygon(outline(box_of(FIELD, CRATE)))).area < 1.0
    assert change_shape(FIELD, CRATE, "box") is FIELD
    assert good(set_choice_of(FIELD, BLOCK, "holds", "front left")).jigs[0].holds == "front left"
    assert "accepted: rear left |" in words(set_choice_of(FIELD, BLOCK, "holds", "nose"))


def test_corners_put_in_and_taken_away() -> None:
    field = good(insert_corner(FIELD, BENCH, (1505.0, 610.0)))
    assert field.obstacles[2].shape == Outline((ELL[0], (1505.0, 610.0), *ELL[1:]))
    assert good(remove_corner(field, part(BENCH, "corner 1"))) == FIELD
    last = good(insert_corner(FIELD, BENCH, (1390.0, 700.0)))
    assert last.obstacles[2].shape == Outline((*ELL, (1390.0, 700.0)))
    small = good(change_shape(FIELD, CRATE, "outline"))
    small = good(remove_corner(small, part(CRATE, "corner 0")))
    assert "has 2 items; accepted: 3 to 200" in words(remove_corner(small, part(CRATE, "corner 0")))
    with pytest.raises(KeyError):
        insert_corner(FIELD, BIN, (0.0, 0.0))


@settings(max_examples=examples(60))
@given(st.sampled_from([CRATE, BIN, BENCH, SEAM, BLOCK, LEVER]), st.floats(-360, 360))
def test_turned_and_back(handle: Handle, angle: float) -> None:
    turned = good(turn_by(FIELD, handle, angle))
    for one, other in zip(
        handles_of(good(turn_by(turned, handle, -angle)), handle), handles_of(FIELD, handle), strict=True
    ):
        assert away(one[1], other[1]) < 0.02
    thing = thing_at(turned, handle)
    before = thing_at(FIELD, handle)
    if isinstance(thing, Obstacle) and isinstance(before, Obstacle):
        now, then = polygon(thing.shape), polygon(before.shape)
        assert now.area == pytest.approx(then.area, rel=1e-3)
        assert now.centroid.distance(then.centroid) < 0.002


def test_what_cannot_be_turned_is_said() -> None:
    assert words(turn_by(FIELD, LID, 5.0)) == "lid asks for no heading; give it one first"
    assert "cannot be turned" in words(turn_by(FIELD, WALLS_HANDLE, 5.0))


# --- any sequence of edits


def edit(data: st.DataObject, field: Field) -> Field | Refused:
    every = [handle for handle, _ in handles(field)]
    handle = data.draw(st.sampled_from(every))
    point = data.draw(st.tuples(st.floats(-100, 2100), st.floats(-100, 1100)))
    match data.draw(st.integers(0, 9)):
        case 0 | 1 | 2:
            axis = data.draw(st.sampled_from(["free", "x", "y"]))
            return grip(field, handle, point, axis=axis, step=data.draw(st.none() | st.just(5.0)))
        case 3:
            dial = data.draw(st.sampled_from(numbers_of(field, handle)))
            return nudge_thing(field, handle, dial.key, data.draw(st.integers(-30, 30)), data.draw(st.booleans()))
        case 4:
            dial = data.draw(st.sampled_from(numbers_of(field, handle)))
            return typed_of(field, handle, dial.key, data.draw(st.sampled_from(["", "0", "12,5", "-4 cm", "300", "x"])))
        case 5:
            return remove(field, handle)
        case 6 if handle.kind != "walls":
            return rename(field, handle, data.draw(st.text(max_size=8)))
        case 7 if handle.kind != "walls":
            return copy_thing(field, handle)
        case 8:
            return turn_by(field, handle, data.draw(st.floats(-400, 400)))
    other = data.draw(st.tuples(st.floats(0, 2000), st.floats(0, 1000)))
    kind = data.draw(st.sampled_from(["obstacle", "start area"]))
    return data.draw(
        st.sampled_from([
            add_box(field, kind, point, other), add_round(field, kind, point, other), add_jig(field, point),
            add_line(field, point, other), add_target(field, point),
            add_outline(field, kind, [point, other, (500.0, 500.0)]), with_walls(field, 50.0),
        ])
    )  # fmt: skip


@settings(max_examples=examples(60), suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_any_edits_can_be_undone_and_redone_and_written(data: st.DataObject) -> None:
    history = History.begun(FIELD)
    for n in range(data.draw(st.integers(1, 8))):
        made = edit(data, history.state)
        if isinstance(made, Refused):
            assert made.words.strip()
        else:
            history = history.push(made, f"edit {n}")
    end = history.state
    # What is written has been read again and compared, or it raises.
    assert (field_text(new_field_text(FIELD), FIELD, end) == new_field_text(FIELD)) == (end == FIELD)
    while history.undo_words:
        history = history.undo()
    assert history.state == FIELD
    while history.redo_words:
        history = history.redo()
    assert history.state == end


def test_an_edited_field_is_read_from_its_file(tmp_path: Path) -> None:
    before = load_field(Path(__file__).parents[3] / "fields/bakery.yaml")
    after = good(grip(before, Handle("obstacle", 4, "corner ne"), (760.0, 740.0)))
    after = good(add_round(after, "obstacle", (1700.0, 300.0), (1720.0, 300.0)))
    (tmp_path / "field.yaml").write_text(new_field_text(after), encoding="utf-8")
    assert load_field(tmp_path / "field.yaml") == after
