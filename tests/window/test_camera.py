"""Field and pixels, and where things stand in the window: pure, without a screen."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.layout import Strip, field_layout, layout, strip_edges
from fieldsim.window.paint.look import SMALL

FIELD = (2200.0, 1100.0)
VIEW = Rect(30, 40, 900, 500)

lengths = st.floats(100.0, 20_000.0)
fields = st.tuples(lengths, lengths)
views = st.builds(Rect, st.integers(0, 500), st.integers(0, 500), st.integers(50, 3000), st.integers(50, 2000))
shares = st.floats(0.0, 1.0)


def test_a_point_of_the_field_by_hand() -> None:
    camera = Camera(Rect(100, 50, 400, 200), (1000.0, 500.0), 0.4, 500.0, 250.0)
    # The middle of the view is at pixel (300, 150); 100 mm to the right are 40 pixels, 100 mm away 40 pixels up.
    assert camera.to_pixels([(500, 250), (600, 350)]).tolist() == [[300, 150], [340, 110]]
    assert camera.pixel(600, 350) == (340, 110)


@given(views, fields, st.floats(0.01, 16.0), st.lists(st.tuples(lengths, lengths), min_size=1, max_size=5))
def test_there_and_back(view: Rect, field: tuple[float, float], zoom: float, points: list[tuple[float, float]]) -> None:
    camera = Camera(view, field, zoom, field[0] / 3, field[1] / 2)
    assert camera.to_field(camera.to_pixels(points)) == pytest.approx(np.array(points), abs=1e-6)


def test_headings_are_left_out() -> None:
    camera = Camera.fit(VIEW, FIELD)
    poses = np.array([(10.0, 20.0, 90.0), (30.0, 40.0, -45.0)])
    assert (camera.to_pixels(poses) == camera.to_pixels(poses[:, :2])).all()


@given(views, fields, st.floats(0.0, 20.0))
def test_what_fits_is_inside_the_margin_and_touches_it(view: Rect, field: tuple[float, float], margin: float) -> None:
    camera = Camera.fit(view, field, margin)
    (x0, y0), (x1, y1) = camera.to_pixels([(0, field[1]), (field[0], 0)])
    gaps = x0 - view.x - margin, view.right - x1 - margin, y0 - view.y - margin, view.bottom - y1 - margin
    assert min(gaps) == pytest.approx(0.0, abs=1e-6)
    assert gaps[0] == pytest.approx(gaps[1], abs=1e-6)
    assert gaps[2] == pytest.approx(gaps[3], abs=1e-6)


@given(views, fields, st.lists(st.tuples(shares, shares, st.floats(0.2, 5.0)), min_size=1, max_size=6))
def test_zooming_keeps_the_point_under_the_pointer(
    view: Rect, field: tuple[float, float], moves: list[tuple[float, float, float]]
) -> None:
    camera = Camera.fit(view, field)
    for u, v, factor in moves:
        at = camera.pixel(u * field[0], v * field[1])
        if not view.contains(*at):
            continue
        nearer = camera.zoomed(at, factor)
        assert nearer.pixel(u * field[0], v * field[1]) == pytest.approx(at, abs=1e-5)
        assert camera.limits[0] <= nearer.zoom * (1 + 1e-12)
        assert nearer.zoom <= camera.limits[1] * (1 + 1e-12)
        camera = nearer


def test_zooming_in_makes_things_larger_until_the_limit() -> None:
    camera = Camera.fit(VIEW, FIELD)
    assert camera.zoomed(VIEW.centre, 2.0).zoom == pytest.approx(2 * camera.zoom)
    nearest = camera.zoomed(VIEW.centre, 1e9)
    assert nearest.zoom == camera.limits[1]
    assert nearest.zoomed((100, 100), 3.0) == nearest


def test_panning_moves_the_field_with_the_pointer_and_stops_at_its_edge() -> None:
    camera = Camera.fit(VIEW, FIELD).zoomed(VIEW.centre, 4.0)
    x, y = camera.pixel(1000.0, 500.0)
    assert camera.panned(30, -20).pixel(1000.0, 500.0) == pytest.approx((x + 30, y - 20))
    gone = camera.panned(1e6, 1e6)
    assert (gone.x, gone.y) == (0.0, FIELD[1])


@given(st.lists(st.tuples(st.floats(-900, 900), st.floats(-900, 900), st.floats(0.3, 3.0)), max_size=12))
def test_the_field_never_leaves_the_view(moves: list[tuple[float, float, float]]) -> None:
    camera = Camera.fit(VIEW, FIELD)
    for dx, dy, factor in moves:
        camera = camera.zoomed((VIEW.x + abs(dx) % VIEW.w, VIEW.y + abs(dy) % VIEW.h), factor).panned(dx, dy)
        (x0, y0), (x1, y1) = camera.to_pixels([(0, FIELD[1]), (FIELD[0], 0)])
        assert x1 >= VIEW.x - 1e-6
        assert x0 <= VIEW.right + 1e-6
        assert y1 >= VIEW.y - 1e-6
        assert y0 <= VIEW.bottom + 1e-6


def test_a_window_that_grows_shows_the_same() -> None:
    camera = Camera.fit(VIEW, FIELD, 10).zoomed((200, 200), 3.0)
    back = camera.resized(Rect(0, 0, 1700, 1300), 10).resized(VIEW, 10)
    assert (back.x, back.y, back.zoom) == pytest.approx((camera.x, camera.y, camera.zoom))
    fitted = Camera.fit(VIEW, FIELD, 10).resized(Rect(0, 0, 1700, 1300), 10)
    assert fitted == Camera.fit(Rect(0, 0, 1700, 1300), FIELD, 10)


# --- the layout --------------------------------------------------------------------------------------------------

sizes = st.tuples(st.integers(200, 5200), st.integers(150, 3000))
scales = st.floats(0.5, 4.0)


@given(sizes, scales, st.integers(0, 9), st.integers(0, 4), st.booleans())
def test_parts_lie_in_the_window_and_do_not_overlap(
    size: tuple[int, int], scale: float, rows: int, switches: int, columns: bool
) -> None:
    found = layout(size, scale, rows=rows, switches=switches, columns=columns)
    window = Rect(0, 0, *size)
    parts = list(found.parts())
    for name, rect in parts:
        assert rect.inside(window), name
    for (first, a), (second, b) in combinations(parts, 2):
        assert not a.overlaps(b), (first, second)


@given(sizes, scales, st.integers(0, 9), st.integers(0, 4), st.booleans())
def test_what_can_be_pressed_lies_in_its_part_and_is_found_there(
    size: tuple[int, int], scale: float, rows: int, switches: int, columns: bool
) -> None:
    found = layout(size, scale, rows=rows, switches=switches, columns=columns)
    for (first, a), (second, b) in combinations(found.pressable(), 2):
        assert not a.overlaps(b), (first, second)
    parts = dict(found.parts())
    for name, rect in found.pressable():
        part = {"number": "numbers", "switch": "switches"}.get(name.split()[0])
        homes = [parts[part]] if part else [parts["head"], parts["controls"]]
        assert any(rect.inside(home) for home in homes), name
        if rect.w and rect.h:
            assert found.at(*rect.centre) == name
    for name, rect in parts.items():
        if rect.w and rect.h:
            corner = found.at(rect.x, rect.y)
            assert corner == name or (corner is not None and corner in dict(found.pressable()))
    assert found.at(-1, -1) is None


@pytest.mark.parametrize(("size", "scale"), [((900, 600), 1), ((1280, 800), 1), ((1600, 900), 1), ((3840, 2160), 2)])
def test_the_sizes_it_is_made_for_have_room(size: tuple[int, int], scale: float) -> None:
    found = layout(size, scale, columns=True)
    assert len(found.rows) >= (4 if size[1] >= 720 * scale else 3)
    assert found.field.w > 0.55 * size[0]
    assert found.field.h > 0.5 * size[1]
    assert SMALL * found.unit > 10 * scale


@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080), (3840, 2160)])
def test_a_finger_finds_what_can_be_pressed_and_words_can_be_read(size: tuple[int, int]) -> None:
    """32 pixels and letters of 12, at scale 1."""
    for found in (layout(size, columns=True), layout(size, switches=2), field_layout(size)):
        for name, rect in found.pressable():
            assert rect.h >= 32, name
            assert rect.w >= 32, name
        assert SMALL * found.unit >= 12


def test_letters_grow_with_the_users_factor_and_with_the_window() -> None:
    assert layout((3840, 2160), 2.0).unit == pytest.approx(2 * layout((1920, 1080), 1.0).unit, rel=0.01)
    assert layout((1920, 1080)).unit > layout((1280, 800)).unit > layout((900, 600)).unit


# --- the strip ---------------------------------------------------------------------------------------------------


@given(st.lists(st.floats(0.0, 1e4), max_size=60), st.floats(100.0, 3000.0), st.floats(0.0, 40.0))
def test_blocks_fill_the_strip_and_keep_their_least_width(weights: list[float], width: float, least: float) -> None:
    edges = np.array(strip_edges(weights, 50.0, width, least))
    assert len(edges) == len(weights) + 1
    assert edges[0] == 50.0
    widths = np.diff(edges)
    if weights:
        assert edges[-1] == pytest.approx(50.0 + width)
        assert (widths >= min(least, width / len(weights)) - 1e-6).all()
        # A longer segment never has the narrower block.
        order = np.argsort(weights)
        assert (np.diff(widths[order]) >= -1e-6).all()


def test_blocks_in_proportion_by_hand() -> None:
    assert strip_edges([1, 3], 0, 400, 10) == (0, 100, 400)
    # The standing one is given its 40, the others share 360 as 1 to 2.
    assert strip_edges([10, 0, 20], 0, 400, 40) == pytest.approx((0, 120, 160, 400))
    assert strip_edges([0, 0], 0, 400, 10) == (0, 200, 400)
    assert strip_edges([], 7, 400, 10) == (7,)


@given(st.lists(st.floats(0.0, 1e4), min_size=1, max_size=30), st.floats(0.0, 1.0))
def test_the_head_there_and_back(weights: list[float], share: float) -> None:
    strip = Strip(("",) * len(weights), strip_edges(weights, 20.0, 1000.0, 12.0))
    head = share * len(weights)
    x = strip.x_of(head)
    assert strip.head_at(x) == pytest.approx(head, abs=1e-6)
    if head < len(weights) - 1e-6:
        assert strip.block_at(x) in (int(head) + 1, int(head + 1e-6) + 1, int(head - 1e-6) + 1)
    assert strip.head_at(-5) == 0
    assert strip.head_at(9999) == len(weights)
    assert strip.block_at(-5) is None
    assert strip.block_at(1020.0) is None
