"""The bar of a thousand drives: as many squares as are said, in order, none left out and none twice."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.patches import Rectangle

from fieldsim.draw import svg_element
from fieldsim.draw.thousand import (
    SQUARES,
    height_of,
    part_words,
    rows_of,
    thousand,
    thousand_figure,
    thousand_words,
)
from fieldsim.rounding import nearest


@st.composite
def shares(draw: st.DrawFn) -> tuple[float, list[tuple[str, float]]]:
    """Counts of drives that get through and of what goes wrong in the others, as shares of all of them."""
    counts = draw(st.lists(st.integers(0, 400), min_size=1, max_size=7).filter(any))
    total = sum(counts)
    losses = sorted((count / total for count in counts[1:]), reverse=True)
    return counts[0] / total, [(f"loss {n}", share) for n, share in enumerate(losses)]


@given(shares())
def test_every_drive_is_a_square_and_each_loss_has_its_number(of: tuple[float, list[tuple[str, float]]]) -> None:
    through, losses = of
    parts = thousand(through, losses)
    assert sum(part.squares for part in parts) == SQUARES
    assert all(part.squares > 0 for part in parts)
    named = {part.words: part.squares for part in parts}
    for words, share in losses[:3]:
        assert named.get(words, 0) == nearest(1000 * share, 0)
    # Rounding each to the nearest can put a thousand out by half a square each.
    assert abs(named.get("gets through", 0) - 1000 * through) <= 0.5 * (len(losses[:3]) + 1) + 1e-6


def test_always_never_and_the_demo() -> None:
    assert [(p.words, p.squares) for p in thousand(1.0, [])] == [("gets through", 1000)]
    assert [(p.words, p.squares) for p in thousand(0.0, [("touches bollard", 1.0)])] == [("touches bollard", 1000)]
    parts = thousand(0.786, [("lid", 0.174), ("churn", 0.024), ("bin", 0.0155), ("stop", 0.0005)])
    assert [part.squares for part in parts] == [786, 174, 24, 16]
    assert thousand_words(parts) == "Of 1000 drives: gets through: 786; lid: 174; churn: 24; bin: 16."
    # Roundings up that come to 1001.
    third = [(name, 0.33350) for name in "ab"] + [("c", 0.33300)]
    assert [part.squares for part in thousand(0.0, third)] == [333, 334, 333]
    many = thousand(0.5, [(name, 0.1) for name in "abcde"])
    assert [(p.words, p.squares) for p in many] == [
        ("gets through", 500), ("a", 100), ("b", 100), ("c", 100), ("anything else", 200),
    ]  # fmt: skip


@pytest.mark.parametrize("width", [70.0, 110.0, 194.0])
@given(of=shares())
def test_the_squares_drawn_are_the_squares_counted(width: float, of: tuple[float, list[tuple[str, float]]]) -> None:
    """Each square of the bar lies in exactly one part, and parts follow one another down the columns."""
    parts = thousand(*of)
    rows = rows_of(width)
    side = width * rows / SQUARES
    figure = thousand_figure(parts, width)
    owner = np.full((SQUARES // rows, rows), -1)
    for patch in figure.axes[0].patches:
        if not isinstance(patch, Rectangle) or patch.get_gid() is None:
            continue
        number = int(str(patch.get_gid()).split("-")[1])
        x, y = (round(value / side) for value in patch.get_xy())
        block = owner[x : x + round(patch.get_width() / side), y : y + round(patch.get_height() / side)]
        assert (block == -1).all()
        block[:] = number
    drawn = owner.ravel().tolist()
    assert -1 not in drawn
    assert all(a <= b for a, b in pairwise(drawn))
    assert [drawn.count(n) for n in range(len(parts))] == [part.squares for part in parts]


def test_words_stand_inside_and_apart_on_a_card_and_on_a_telephone() -> None:
    losses = [(f"misses {'a very long name of a thing ' * 3}{n}", 0.1) for n in range(3)] + [("more", 0.05)] * 2
    parts = thousand(0.6, losses)
    for width, points in ((194.0, 11.0), (95.0, 11.0), (62.0, 9.0)):
        figure = thousand_figure(parts, width, points)
        whole = figure.bbox
        boxes = [text.get_window_extent() for text in figure.axes[0].texts]
        assert len(boxes) >= len(parts)
        for box in boxes:
            assert whole.x0 <= box.x0
            assert box.x1 <= whole.x1
            assert box.y0 >= whole.y0 - 0.5
        assert not any(a.overlaps(b) for n, a in enumerate(boxes) for b in boxes[:n])
        assert figure.get_figheight() * 25.4 == pytest.approx(height_of(parts, width, points))
    # On a card nothing of a name that a file allows is cut.
    said = [text.get_text() for text in thousand_figure(parts, 194.0, 11.0).axes[0].texts]
    assert " ".join(said) == " ".join(" ".join(part_words(part).split()) for part in parts)


def test_as_a_picture_in_a_page_it_is_small() -> None:
    """Lines over a few rectangles, no thousand elements."""
    parts = thousand(0.786, [("lid", 0.174), ("churn", 0.024), ("bin", 0.0155), ("stop", 0.0005)])
    text = svg_element(thousand_figure(parts, 120.0))
    assert len(text) < 60_000
    assert text.count("<path") < 200
