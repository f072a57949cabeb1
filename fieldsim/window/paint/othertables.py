"""Where things may stand on other tables than the drawing: a dashed outline around each that has a spread."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pygame
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fieldsim.model import Field, OtherTable, Point, Round, Shape
from fieldsim.sim.alignment import line_outline
from fieldsim.sim.shapes import polygon
from fieldsim.sim.table import middle, middle_of_line
from fieldsim.window.camera import Camera
from fieldsim.window.paint.look import Look
from fieldsim.window.paint.tools import dashed

Floats = NDArray[np.float64]

__all__ = ["covered", "draw_other_tables"]

# Of a hundred tables 95 have it within this many spreads, in each direction.
TIMES = 2.0


def covered(area: BaseGeometry, about: Point, spread: OtherTable) -> Floats:
    """Corners (n, 2) of what a thing covers, shifted in every direction by ``TIMES`` its spread and turned to
    either side."""
    x, y, turn = TIMES * spread.x, TIMES * spread.y, TIMES * spread.heading
    shifts = [(x * float(np.cos(a)), y * float(np.sin(a))) for a in np.linspace(0.0, 2 * np.pi, 16, endpoint=False)]
    around = [shapely.affinity.rotate(area, by, origin=about) for by in ((-turn, 0.0, turn) if turn else (0.0,))]
    every = shapely.union_all([shapely.affinity.translate(each, dx, dy) for each in around for dx, dy in shifts])
    # Thin and far apart, such as a line shifted along itself, it may be in pieces.
    whole = every if every.geom_type == "Polygon" else every.convex_hull
    return np.array(whole.simplify(0.1).exterior.coords)[:-1]


@lru_cache(maxsize=256)
def _of_shape(shape: Shape, spread: OtherTable) -> Floats:
    return covered(polygon(shape), middle(shape), spread)


@lru_cache(maxsize=16)
def outlines(field: Field) -> tuple[Floats, ...]:
    """One for each thing that has a spread, mm; and one for a mat that has, in the walls."""
    found = [_of_shape(thing.shape, thing.spread) for thing in field.obstacles if not thing.spread.still]
    found += [
        covered(shapely.Polygon(line_outline(line)), middle_of_line(line), line.spread)
        for line in field.lines
        if not line.spread.still
    ]
    found += [
        _of_shape(Round(target.at, target.within), target.spread) for target in field.targets if not target.spread.still
    ]
    if not field.mat.still:
        (w, d), x, y = field.size, TIMES * field.mat.x, TIMES * field.mat.y
        found.append(np.array([(x, y), (w - x, y), (w - x, d - y), (x, d - y)]))
    return tuple(found)


def draw_other_tables(surface: pygame.Surface, field: Field, camera: Camera, look: Look, unit: float) -> None:
    for points in outlines(field):
        dashed(surface, camera.to_pixels(points), look.obstacle_edge, 1.0 * unit, 2 * unit, 4 * unit, closed=True)
