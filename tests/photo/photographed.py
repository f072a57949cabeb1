"""Pictures of a table with a known truth, by a renderer of the tests' own: nothing of `fieldsim.photo` is asked.

A pixel is the mean of rays through it (3 by 3 of them), each followed through lens and pinhole to the markers' planes;
then blur, a shadow, noise and JPEG. The printed cells come from a table below, copied from the published dictionary.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin

import cv2
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Image = NDArray[np.uint8]

WHITE, BLACK, MAT = 225.0, 28.0, 150.0
RIM = 1.0  # White around a marker, in cells.


@dataclass(frozen=True)
class Lain:
    """A marker as it truly lies: its middle, mm, the way its arrow points, degrees, its height and true side."""

    x: float
    y: float
    heading: float
    size: float
    height: float = 0.0


@dataclass(frozen=True)
class Eye:
    """A camera: where it stands, where it looks, how it is held, and its lens. mm, degrees, pixels."""

    at: tuple[float, float, float]
    to: tuple[float, float, float]
    roll: float = 0.0
    width: int = 4000
    height: int = 3000
    focal: float = 3000.0
    off: tuple[float, float] = (0.0, 0.0)
    lens: tuple[float, float] = (0.0, 0.0)

    @property
    def axes(self) -> FloatArray:
        """(3, 3) rows: right, down and ahead of the camera, in the field's frame."""
        ahead = np.array(self.to, dtype=float) - np.array(self.at, dtype=float)
        ahead /= np.linalg.norm(ahead)
        up = np.array([0.0, 1.0, 0.0]) if abs(ahead[2]) > 0.999 else np.array([0.0, 0.0, 1.0])
        right = np.cross(ahead, up)
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        turn = radians(self.roll)
        return np.array([cos(turn) * right + sin(turn) * down, cos(turn) * down - sin(turn) * right, ahead])

    def pixels(self, points: FloatArray) -> FloatArray:
        """(n, 2) where points (n, 3) are seen."""
        into = (np.asarray(points, dtype=float) - np.array(self.at)) @ self.axes.T
        flat = into[:, :2] / into[:, 2:]
        r2 = (flat**2).sum(axis=1, keepdims=True)
        bent = flat * (1 + self.lens[0] * r2 + self.lens[1] * r2**2)
        middle = np.array([(self.width - 1) / 2 + self.off[0], (self.height - 1) / 2 + self.off[1]])
        return self.focal * bent + middle

    def rays(self, pixels: FloatArray) -> FloatArray:
        """(n, 3) directions in the field's frame."""
        middle = np.array([(self.width - 1) / 2 + self.off[0], (self.height - 1) / 2 + self.off[1]])
        bent = (pixels - middle) / self.focal
        if self.lens == (0.0, 0.0):
            flat = bent
        else:
            # The lens undone by Newton along the radius: digits double each time, and four come to the last one.
            far = np.hypot(bent[:, 0], bent[:, 1])
            r = far.copy()
            k1, k2 = self.lens
            for _ in range(4):
                r2 = r * r
                r -= (r * (1 + r2 * (k1 + k2 * r2)) - far) / (1 + r2 * (3 * k1 + 5 * k2 * r2))
            flat = bent * np.where(far > 0, r / np.maximum(far, 1e-12), 1.0)[:, None]
        return np.concatenate([flat, np.ones((len(flat), 1))], axis=1) @ self.axes


@dataclass(frozen=True)
class Light:
    """What light, hand and file do to a picture."""

    blur: float = 0.8
    moved: tuple[float, float] = (0.0, 0.0)  # Pixels that the camera moved while it was open.
    noise: float = 3.0
    shadow: float = 0.25  # How much darker the dark side is.
    glare: Mapping[int, float] = field(default_factory=dict)  # How much of a marker, from its left, is a white spot.
    covered: Sequence[int] = ()
    jpeg: int = 92
    seed: int = 1


PLAIN = Light()


def printed(number: int) -> NDArray[np.bool_]:
    """(6, 6), True is black."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return np.asarray(dictionary.generateImageMarker(number, 6) < 128)


def corners(lain: Lain) -> FloatArray:
    """(4, 3) clockwise from the left of the arrow's tip."""
    turn = radians(lain.heading)
    ahead, left = np.array([cos(turn), sin(turn)]), np.array([-sin(turn), cos(turn)])
    half = lain.size / 2
    flat = [half * (a * ahead + b * left) for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
    return np.array([[lain.x + x, lain.y + y, lain.height] for x, y in flat])


Solid = tuple[FloatArray, float]
"""A flat piece, corners (n, 3) in order, and how bright it is; later ones lie over earlier ones."""


def grey_of(eye: Eye, lain: Mapping[int, Lain], light: Light = PLAIN, solids: Sequence[Solid] = ()) -> Image:
    """The picture in grey before noise and JPEG."""
    canvas = np.full((eye.height, eye.width), MAT, dtype=np.float32)
    for outline, bright in solids:
        spots = np.round(eye.pixels(outline) * 16).astype(np.int32)
        cv2.fillPoly(canvas, [spots.reshape(-1, 1, 2)], bright, lineType=cv2.LINE_8, shift=4)
    for number, each in sorted(lain.items(), key=lambda pair: pair[1].height):
        sheet = Lain(each.x, each.y, each.heading, each.size * (1 + 2 * (RIM + 1) / 6), each.height)
        spots = eye.pixels(corners(sheet))
        low = np.maximum(np.floor(spots.min(axis=0)).astype(int) - 1, 0)
        high = np.minimum(np.ceil(spots.max(axis=0)).astype(int) + 2, [eye.width, eye.height])
        if (high <= low).any():
            continue
        us, vs = np.meshgrid(np.arange(low[0], high[0]), np.arange(low[1], high[1]))
        total = np.zeros(us.shape, dtype=float)
        for du in (-1 / 3, 0.0, 1 / 3):
            for dv in (-1 / 3, 0.0, 1 / 3):
                way = eye.rays(np.stack([us.ravel() + du, vs.ravel() + dv], axis=1))
                far = (each.height - eye.at[2]) / way[:, 2]
                total += _seen(number, each, np.array(eye.at)[:2] + far[:, None] * way[:, :2], canvas[
                    low[1] : high[1], low[0] : high[0]
                ].ravel(), light).reshape(us.shape)  # fmt: skip
        canvas[low[1] : high[1], low[0] : high[0]] = total / 9
    return canvas


def _seen(number: int, each: Lain, spots: FloatArray, behind: FloatArray, light: Light) -> FloatArray:
    turn = radians(each.heading)
    dx, dy = spots[:, 0] - each.x, spots[:, 1] - each.y
    ahead, left = cos(turn) * dx + sin(turn) * dy, cos(turn) * dy - sin(turn) * dx
    row = 3 - ahead / each.size * 6
    column = 3 - left / each.size * 6
    found = behind.astype(float).copy()
    on_sheet = (row > -RIM) & (row < 6 + RIM) & (column > -RIM) & (column < 6 + RIM)
    found[on_sheet] = WHITE
    if number not in light.covered:
        inside = (row >= 0) & (row < 6) & (column >= 0) & (column < 6)
        cells = printed(number)
        black = cells[np.clip(row.astype(int), 0, 5), np.clip(column.astype(int), 0, 5)]
        found[inside & black] = BLACK
    share = light.glare.get(number, 0.0)
    if share:
        found[on_sheet & (column < 6 * share)] = 254.0
    return found


def picture(eye: Eye, lain: Mapping[int, Lain], light: Light = PLAIN, solids: Sequence[Solid] = ()) -> Image:
    """(height, width) as it comes out of the camera, before the file."""
    canvas = grey_of(eye, lain, light, solids)
    slope = np.linspace(1.0, 1.0 - light.shadow, eye.width, dtype=np.float32)
    # A lamp that mirrors is as bright in the shadow.
    canvas = np.where(canvas > 250.0, canvas, canvas * slope)
    if light.moved != (0.0, 0.0):
        size = int(2 * np.ceil(np.hypot(*light.moved) / 2) + 3)
        kernel = np.zeros((size, size), dtype=np.float32)
        for s in np.linspace(-0.5, 0.5, 8 * size):
            kernel[round(size // 2 + s * light.moved[1]), round(size // 2 + s * light.moved[0])] += 1
        canvas = cv2.filter2D(canvas, -1, kernel / kernel.sum())
    if light.blur:
        canvas = cv2.GaussianBlur(canvas, (0, 0), light.blur)
    if light.noise:
        tile = np.random.default_rng(light.seed).normal(0.0, light.noise, (512, 768)).astype(np.float32)
        reps = (-(-eye.height // 512), -(-eye.width // 768))
        canvas = canvas + np.tile(tile, reps)[: eye.height, : eye.width]
    return np.clip(np.round(canvas), 0, 255).astype(np.uint8)


def jpeg(image: Image, quality: int = 92) -> bytes:
    done, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done
    return bytes(data)


def taken(eye: Eye, lain: Mapping[int, Lain], light: Light = PLAIN, solids: Sequence[Solid] = ()) -> bytes:
    """The picture as a JPEG file."""
    return jpeg(picture(eye, lain, light, solids), light.jpeg)


def upright(outline: Sequence[tuple[float, float]], high: float, side: float, top: float) -> list[Solid]:
    """A block that stands on the mat: its walls, then its top."""
    ring = np.array(outline, dtype=float)
    low = np.concatenate([ring, np.zeros((len(ring), 1))], axis=1)
    up = low + np.array([0.0, 0.0, high])
    walls = [(np.array([low[n], low[n - 1], up[n - 1], up[n]]), side) for n in range(len(ring))]
    return [*walls, (up, top)]


def look_down(at: tuple[float, float], away: float, high: float, side: float = 0.0, **more: object) -> Eye:
    """A camera that looks at a spot of the mat from ``away`` mm before it, ``high`` mm up."""
    return Eye((at[0] + side, at[1] - away, high), (at[0], at[1], 0.0), **more)  # type: ignore[arg-type]
