"""The two photos of the demo, made by the tests' renderer: `python tests/photo/bakery_photos.py` writes them anew.

Before and after a straight of 600 mm on the practice board, by a telephone that nobody owns.
"""

from __future__ import annotations

from math import cos, radians, sin
from pathlib import Path

import numpy as np
from photographed import Eye, Lain, Light, Solid, taken, upright

from fieldsim.files import load_field, load_robot
from fieldsim.model import Box, Outline

ROOT = Path(__file__).parents[2]
FIELD, ROBOT = ROOT / "fields" / "practice.yaml", ROOT / "runs" / "bakery" / "box-one.yaml"
# Where the robot truly stood: mm and degrees.
POSES = {"before.jpg": (201.3, 649.2, 0.4), "after.jpg": (803.9, 655.7, 0.9)}
# How each marker truly lies beside its place, mm.
OFF = {1: (0.3, -0.4), 2: (-0.2, 0.5), 3: (0.6, 0.1), 4: (-0.5, 0.2)}
CAMERA = {"width": 2000, "height": 1500, "focal": 1620.0, "off": (5.0, -3.0), "lens": (0.02, -0.015)}
EYES = {
    "before.jpg": Eye((520.0, -360.0, 1150.0), (600.0, 380.0, 0.0), roll=2.0, **CAMERA),  # type: ignore[arg-type]
    "after.jpg": Eye((640.0, -330.0, 1180.0), (605.0, 385.0, 0.0), roll=-1.5, **CAMERA),  # type: ignore[arg-type]
}


def photo(name: str) -> bytes:
    """One of the two as a JPEG file."""
    field, robot = load_field(FIELD), load_robot(ROBOT)
    x, y, heading = POSES[name]
    c, s = cos(radians(heading)), sin(radians(heading))
    lain = {}
    for marker in field.markers:
        number = int(marker.number)
        dx, dy = OFF[number]
        lain[number] = Lain(marker.at[0] + dx, marker.at[1] + dy, marker.heading, marker.size)
    own = robot.marker
    assert own is not None
    assert own.height is not None
    ahead, left = own.at
    lain[int(own.number)] = Lain(
        x + c * ahead - s * left, y + s * ahead + c * left, heading + own.heading, own.size, own.height
    )
    wide, deep = field.size
    solids: list[Solid] = [
        (np.array([[-2000, -2000, -300], [3200, -2000, -300], [3200, 2800, -300], [-2000, 2800, -300]], float), 96.0),
        (np.array([[0, 0, 0], [wide, 0, 0], [wide, deep, 0], [0, deep, 0]], float), 176.0),
    ]
    for obstacle in sorted(field.obstacles, key=lambda each: each.height[1]):
        shape = obstacle.shape
        if isinstance(shape, Outline):
            ring = list(shape.points)
        elif isinstance(shape, Box):
            a, b = cos(radians(shape.heading)), sin(radians(shape.heading))
            half, over = shape.size[0] / 2, shape.size[1] / 2
            corners = ((half, over), (-half, over), (-half, -over), (half, -over))
            ring = [(shape.center[0] + a * u - b * v, shape.center[1] + b * u + a * v) for u, v in corners]
        else:
            turns = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
            ring = [
                (shape.center[0] + shape.radius * np.cos(t), shape.center[1] + shape.radius * np.sin(t)) for t in turns
            ]
        solids += upright(ring, min(obstacle.height[1], 90.0), 105.0, 132.0)
    body = robot.body
    rear, front, side = -body.axle, body.length - body.axle, body.width / 2
    ring = [
        (x + c * u - s * v, y + s * u + c * v) for u, v in ((front, side), (rear, side), (rear, -side), (front, -side))
    ]
    solids += upright(ring, body.height[1], 84.0, 118.0)
    return taken(EYES[name], lain, Light(blur=0.7, noise=1.5, shadow=0.2, jpeg=80), solids)


if __name__ == "__main__":
    for name in POSES:
        (ROOT / "runs" / "bakery" / name).write_bytes(photo(name))
