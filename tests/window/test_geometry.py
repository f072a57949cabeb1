"""Where the window opens: as it was left, never larger than the screen, and somewhere it can be seen."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldsim.window.geometry import BARS, SIZE, Geometry, first_geometry, remember, remembered

HD = (1920, 1080)


def test_the_first_window_has_its_usual_size_where_there_is_room() -> None:
    assert first_geometry([HD], 1.0) == Geometry(SIZE)
    assert first_geometry([(3840, 2160)], 2.0) == Geometry((2 * SIZE[0], 2 * SIZE[1]))


@pytest.mark.parametrize("screen", [(1366, 768), (1280, 720), (1024, 600)])
def test_a_small_screen_is_filled_and_not_overrun(screen: tuple[int, int]) -> None:
    first = first_geometry([screen], 1.0)
    assert first.maximised
    assert first.size[0] <= screen[0]
    assert first.size[1] <= screen[1] - BARS[1]


def test_a_size_that_is_asked_for_is_taken() -> None:
    assert first_geometry([(1280, 720)], 1.0, Geometry((900, 700), (5, 5), True), (1600, 900)) == Geometry((1600, 900))


def test_it_opens_as_it_was_left() -> None:
    left = Geometry((1100, 700), (200, 90))
    assert first_geometry([HD], 1.0, left) == left


def test_a_place_that_is_on_no_screen_any_more_is_forgotten() -> None:
    left = Geometry((1100, 700), (2500, 90))
    assert first_geometry([HD, HD], 1.0, left) == left
    assert first_geometry([HD], 1.0, left) == Geometry((1100, 700))


def test_a_larger_screen_that_is_gone_leaves_no_window_too_large() -> None:
    assert first_geometry([(1366, 768)], 1.0, Geometry((2500, 1400), (0, 0))).size == (1366, 768 - BARS[1])


@given(
    st.tuples(st.integers(640, 8000), st.integers(420, 5000)),
    st.sampled_from([1.0, 1.25, 1.5, 2.0]),
    st.none() | st.builds(
        Geometry, st.tuples(st.integers(640, 9000), st.integers(420, 9000)),
        st.none() | st.tuples(st.integers(-9000, 9000), st.integers(-9000, 9000)), st.booleans(),
    ),
)  # fmt: skip
def test_whatever_the_screen_the_window_is_on_it(screen: tuple[int, int], scale: float, last: Geometry | None) -> None:
    first = first_geometry([screen], scale, last)
    assert first.size[0] <= screen[0]
    assert first.size[1] <= screen[1]
    if first.at is not None:
        assert -first.size[0] < first.at[0] < screen[0]
        assert 0 <= first.at[1] < screen[1]


def test_it_is_remembered_on_disk(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    assert remembered(folder) is None
    for left in (Geometry((1000, 700), (-20, 30), True), Geometry((900, 600))):
        remember(left, folder)
        assert remembered(folder) == left
    assert [path.name for path in folder.iterdir()] == ["window.json"]


@pytest.mark.parametrize(
    "text", ["", "[]", '{"size": 3}', '{"size": [1, 1]}', '{"size": [1e9, 700]}', "\x00", "[" * 9999]
)
def test_what_makes_no_sense_is_not_remembered(tmp_path: Path, text: str) -> None:
    (tmp_path / "window.json").write_text(text, encoding="utf-8")
    assert remembered(tmp_path) is None


def test_a_disk_that_takes_nothing_is_no_trouble(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    remember(Geometry((900, 600)), tmp_path / "file")
    assert (tmp_path / "file").read_text(encoding="utf-8") == ""
