"""A pinhole camera with two lens terms, and where it sees points of the field. mm, pixels; no file, no OpenCV.

The field's frame with z up from the mat; the camera's with x right, y down, z ahead. A point (x, y, z) of the camera's
frame is seen at f d (x, y) / z from the middle of the picture, d = 1 + k1 r^2 + k2 r^4, r^2 = (x^2 + y^2) / z^2: D. C.
Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8), 1971, 855-866 (its radial part, from
memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# A marker's corners ahead and left of its middle, in half sides, clockwise from the left of its arrow's tip.
CORNERS: FloatArray = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [-1.0, 1.0]])

# How often the lens is undone: it converges by some two digits each time.
UNDO = 12


def seen(
    points: FloatArray, rotation: FloatArray, shift: FloatArray, focal: float, middle: FloatArray, lens: FloatArray
) -> FloatArray:
    """(n, 2) pixels of points (n, 3); ``rotation`` (n, 3, 3) or (3, 3), ``shift`` and ``middle`` likewise by point or
    one for all. Points behind the camera are not a number."""
    into = np.einsum("...ij,...j->...i", rotation, points) + shift
    ahead = np.where(into[..., 2] > 1e-6, into[..., 2], np.nan)
    flat = into[..., :2] / ahead[..., None]
    square = np.einsum("...i,...i->...", flat, flat)
    bent = 1.0 + square * (lens[0] + square * lens[1])
    made: FloatArray = focal * bent[..., None] * flat + middle
    return made


def rays(pixels: FloatArray, focal: float, middle: FloatArray, lens: FloatArray) -> FloatArray:
    """(n, 2) where the rays of pixels (n, 2) meet the plane one ahead of the camera: the lens undone."""
    bent = (pixels - middle) / focal
    flat = bent.copy()
    for _ in range(UNDO):
        square = np.einsum("...i,...i->...", flat, flat)
        flat = bent / (1.0 + square * (lens[0] + square * lens[1]))[..., None]
    return flat


def on_plane(flat: FloatArray, rotation: FloatArray, shift: FloatArray, height: float) -> FloatArray:
    """(n, 2) where rays (n, 2) of one camera meet the level plane ``height`` mm above the mat."""
    ahead = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ rotation
    eye = -rotation.T @ shift
    far = (height - eye[2]) / ahead[..., 2]
    made: FloatArray = eye[:2] + far[..., None] * ahead[..., :2]
    return made


def turned(small: FloatArray) -> FloatArray:
    """(..., 3, 3) rotations by vectors (..., 3) of radians: Rodrigues' formula."""
    angle = np.linalg.norm(small, axis=-1)[..., None, None]
    axis = small / np.maximum(np.linalg.norm(small, axis=-1), 1e-300)[..., None]
    cross = np.zeros((*small.shape[:-1], 3, 3))
    cross[..., 0, 1], cross[..., 0, 2], cross[..., 1, 2] = -axis[..., 2], axis[..., 1], -axis[..., 0]
    cross = cross - np.swapaxes(cross, -1, -2)
    made: FloatArray = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * (cross @ cross)
    return made


def corners_at(x: FloatArray, y: FloatArray, heading: FloatArray, half: FloatArray) -> FloatArray:
    """(n, 4, 2) corners of markers whose middles are at x, y, turned by ``heading`` radians, of half a side."""
    cos, sin = np.cos(heading), np.sin(heading)
    ahead, left = half[..., None] * CORNERS[:, 0], half[..., None] * CORNERS[:, 1]
    return np.stack(
        [
            x[..., None] + cos[..., None] * ahead - sin[..., None] * left,
            y[..., None] + sin[..., None] * ahead + cos[..., None] * left,
        ],
        axis=-1,
    )
