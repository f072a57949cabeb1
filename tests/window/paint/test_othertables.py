"""The dashed outlines of where things may stand on other tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pygame
import pytest
import shapely
from plans import open_floor

from fieldsim.model import Box, Line, Obstacle, OtherTable, Target
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.look import LIGHT
from fieldsim.window.paint.othertables import covered, draw_other_tables, outlines


def test_a_thing_covers_two_spreads_to_every_side() -> None:
    area = shapely.Polygon(covered(shapely.box(0, 0, 100, 50), (50.0, 25.0), OtherTable(3.0, 1.0)))
    assert area.bounds == pytest.approx((-6.0, -2.0, 106.0, 52.0), abs=0.2)
    turned = shapely.Polygon(covered(shapely.box(0, 0, 100, 50), (50.0, 25.0), OtherTable(heading=2.0)))
    half = shapely.affinity.rotate(shapely.box(0, 0, 100, 50), 4.0, origin=(50, 25))
    assert turned.buffer(0.2).contains(half)
    assert turned.bounds == pytest.approx(half.bounds, abs=0.2)


def test_each_thing_with_a_spread_and_the_mat_have_an_outline() -> None:
    moved = OtherTable(2.0, 2.0)
    field = replace(
        open_floor(
            (1000.0, 800.0),
            Obstacle("a", Box((300, 300), (50, 50)), spread=moved),
            Obstacle("b", Box((600, 300), (50, 50))),
        ),
        lines=(Line("kerb", (100, 100), (100, 700), spread=moved),),
        targets=(Target("lever", (500, 500), 10.0, spread=moved),),
    )
    assert len(outlines(field)) == 3
    *_, mat = outlines(replace(field, mat=OtherTable(3.0, 4.0)))
    np.testing.assert_allclose([mat.min(axis=0), mat.max(axis=0)], [(6.0, 8.0), (994.0, 792.0)])
    plain = replace(field, obstacles=field.obstacles[1:], lines=(), targets=())
    assert outlines(plain) == ()

    def painted(what: object) -> np.ndarray:
        surface = pygame.Surface((500, 400))
        draw_other_tables(surface, what, Camera.fit(Rect(0, 0, 500, 400), (1000.0, 800.0)), LIGHT, 1.0)  # type: ignore[arg-type]
        return pygame.surfarray.array3d(surface).any(axis=2)

    assert not painted(plain).any()
    assert painted(field).sum() > 50
