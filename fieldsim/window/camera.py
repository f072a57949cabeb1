"""Where the field is on the screen: millimetres with y up, pixels with y down. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Camera", "Rect"]

Floats = NDArray[np.float64]

# A place is looked at from no nearer than this, pixels for a mm, and a field is drawn no larger than so many pixels
# along its longer side: what draws polygons counts in 16 bits.
NEAREST = 16.0
LARGEST = 24_000.0
# No farther off than this share of the size at which the field fits.
FARTHEST = 0.5


@dataclass(frozen=True)
class Rect:
    """Whole pixels: the left upper corner, width and height. ``right`` and ``bottom`` are the first outside."""

    x: int
    y: int
    w: int
    h: int

    @property
    def right(self) -> int:
        return self.x + self.w

    @property
    def bottom(self) -> int:
        return self.y + self.h

    @property
    def centre(self) -> tuple[float, float]:
        return self.x + self.w / 2, self.y + self.h / 2

    @property
    def box(self) -> tuple[int, int, int, int]:
        return self.x, self.y, self.w, self.h

    def contains(self, x: float, y: float) -> bool:
        return self.x <= x < self.right and self.y <= y < self.bottom

    def overlaps(self, other: Rect) -> bool:
        """Whether they share a pixel."""
        return (
            self.w > 0 and self.h > 0 and other.w > 0 and other.h > 0
            and self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom
        )  # fmt: skip

    def inside(self, other: Rect) -> bool:
        return (
            other.x <= self.x and other.y <= self.y and self.right <= other.right and self.bottom <= other.bottom
        )  # fmt: skip

    def inset(self, by: int) -> Rect:
        return Rect(self.x + by, self.y + by, max(0, self.w - 2 * by), max(0, self.h - 2 * by))


@dataclass(frozen=True)
class Camera:
    """``zoom`` pixels for a mm; the field's point (``x``, ``y``), mm, lies in the middle of ``view``."""

    view: Rect
    field: tuple[float, float]
    """The field's size, mm."""
    zoom: float
    x: float
    y: float

    @classmethod
    def fit(cls, view: Rect, field: tuple[float, float], margin: float = 0.0) -> Camera:
        """The whole field in the middle of the view, ``margin`` pixels from its border."""
        return cls(view, field, _fitting(view, field, margin), field[0] / 2, field[1] / 2)

    @property
    def limits(self) -> tuple[float, float]:
        """The least and the largest zoom."""
        fitting = _fitting(self.view, self.field, 0.0)
        return FARTHEST * fitting, max(fitting, min(NEAREST, LARGEST / max(self.field)))

    def zoomed(self, at: tuple[float, float], factor: float) -> Camera:
        """Nearer (``factor`` above 1) or farther; the point of the field under the pixel ``at`` stays under it.

        At the limits of the zoom less or nothing happens, and the field never leaves the view as a whole.
        """
        least, most = self.limits
        zoom = min(max(self.zoom * factor, least), most)
        mx, my = self.view.centre
        px, py = self.to_field(np.array([at]))[0]
        nearer = replace(self, zoom=zoom, x=float(px - (at[0] - mx) / zoom), y=float(py + (at[1] - my) / zoom))
        x, y = (
            min(max(value, -half / zoom), size + half / zoom)
            for value, half, size in zip(
                (nearer.x, nearer.y), (self.view.w / 2, self.view.h / 2), self.field, strict=True
            )
        )
        return replace(nearer, x=x, y=y)

    def panned(self, dx: float, dy: float) -> Camera:
        """What is shown moves by so many pixels (right, down). The middle of the view stays on the field; if zooming
        has brought it outside, it comes back from there but goes no farther."""
        x, y = (
            min(max(now + by, min(0.0, now)), max(size, now))
            for now, by, size in zip((self.x, self.y), (-dx / self.zoom, dy / self.zoom), self.field, strict=True)
        )
        return replace(self, x=x, y=y)

    def resized(self, view: Rect, margin: float = 0.0) -> Camera:
        """The same middle in a view of another size, as near in proportion to what fits."""
        nearer = self.zoom / _fitting(self.view, self.field, margin)
        other = Camera(view, self.field, nearer * _fitting(view, self.field, margin), self.x, self.y)
        least, most = other.limits
        return replace(other, zoom=min(max(other.zoom, least), most))

    def to_pixels(self, points: ArrayLike) -> Floats:
        """Points (n, 2) or (n, 3 with a heading that is left out) of the field in pixels (n, 2)."""
        mx, my = self.view.centre
        found = np.asarray(points, dtype=float)[..., :2]
        pixels: Floats = (found - (self.x, self.y)) * (self.zoom, -self.zoom) + (mx, my)
        return pixels

    def to_field(self, pixels: ArrayLike) -> Floats:
        """Pixels (n, 2) in mm of the field."""
        mx, my = self.view.centre
        points: Floats = (np.asarray(pixels, dtype=float)[..., :2] - (mx, my)) / (self.zoom, -self.zoom)
        points += (self.x, self.y)
        return points

    def pixel(self, x: float, y: float) -> tuple[float, float]:
        """One point of the field in pixels."""
        mx, my = self.view.centre
        return mx + (x - self.x) * self.zoom, my - (y - self.y) * self.zoom


def _fitting(view: Rect, field: tuple[float, float], margin: float) -> float:
    room = max(1.0, view.w - 2 * margin), max(1.0, view.h - 2 * margin)
    return min(room[0] / field[0], room[1] / field[1])
