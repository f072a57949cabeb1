"""Into which pieces a segment is cut."""

from __future__ import annotations

import pytest

from fieldsim.model import Act, Arc, Segment, Straight, Turn, Wait
from fieldsim.sim.drivetrain import lengths_of

TRACK = 112.0


@pytest.mark.parametrize(
    ("segment", "wanted"),
    [
        # 50 mm to come to the heading, the rest in halves of pairs of at most 200 mm.
        (Straight(400.0), [50 / 400, *[350 / 400 / 4] * 4]),
        (Straight(-400.0), [50 / 400, *[350 / 400 / 4] * 4]),
        (Straight(140.0), [50 / 140, 90 / 140]),
        # Of a short straight half.
        (Straight(60.0), [0.5, 0.5]),
        # 45 degrees of an arc are a piece at most: the 90 less those of the first 50 mm of 471.
        (Arc(90.0, 300.0), None),
    ],
)
def test_by_gyro_the_first_piece_is_the_settling(segment: Segment, wanted: list[float] | None) -> None:
    found = lengths_of(segment, TRACK, gyro=True)
    assert sum(found) == pytest.approx(1.0)
    if wanted is not None:
        assert found == pytest.approx(wanted)
    else:
        assert found[0] == pytest.approx(50 / 471.2389, rel=1e-6)
        assert len(found) == 6


@pytest.mark.parametrize(
    ("segment", "pieces"),
    [
        (Straight(200.0), 2), (Straight(201.0), 4), (Straight(-400.0), 4), (Arc(90.0, 30.0), 2), (Arc(91.0, 30.0), 4),
        (Turn(100.0), 1), (Turn(-101.0), 2), (Turn(30.0), 1), (Act("bell"), 0), (Wait(1.0), 0),
    ],
)  # fmt: skip
def test_by_wheels_in_equal_pieces_pairs_for_what_rolls(segment: Segment, pieces: int) -> None:
    assert lengths_of(segment, TRACK) == pytest.approx([1 / pieces] * pieces if pieces else [])
