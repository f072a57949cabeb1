"""How well a marker is seen: how wide its edges are, how much of its black is white with glare. Pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Image = NDArray[np.uint8]

# Edges are looked at across the middle of each side of the black square, a cell (a sixth of the side) either way.
REACH = 0.8
STEPS = 33
LINES = 9
RIM_DEPTH = 0.3
"""Where within the black rim glare is looked for, in cells from the edge."""


@dataclass(frozen=True)
class Quality:
    """How a marker is seen."""

    side: float
    """Its shortest side, pixels."""
    edge: float
    """How wide the widest of its edges is, from a tenth to nine tenths of the way from black to white, pixels."""
    glare: float
    """Which share of its black rim is brighter than the middle between its black and its white."""


def sampled(picture: Image, points: FloatArray) -> FloatArray:
    """Brightness between pixels, of (..., 2) points; the nearest pixel's beyond the picture."""
    x = np.clip(points[..., 0], 0, picture.shape[1] - 1.001)
    y = np.clip(points[..., 1], 0, picture.shape[0] - 1.001)
    u, v = x.astype(int), y.astype(int)
    a, b = x - u, y - v
    grey = picture
    made: FloatArray = (
        (1 - a) * (1 - b) * grey[v, u] + a * (1 - b) * grey[v, u + 1] + (1 - a) * b * grey[v + 1, u]
        + a * b * grey[v + 1, u + 1]
    )  # fmt: skip
    return made


def quality(picture: Image, corners: FloatArray) -> Quality:
    """How a marker with these corners (4, 2) is seen in a grey picture."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    middle = corners.mean(axis=0)
    widths, rim, white = [], [], []
    for k in range(4):
        one, other = corners[k], corners[(k + 1) % 4]
        along = np.linspace(0.2, 0.8, LINES)[:, None]
        edge = one + along * (other - one)
        # Towards the middle of the opposite side: a cell inwards, a cell outwards.
        inwards = (middle - (one + other) / 2) / 3
        across = np.linspace(-REACH, REACH, STEPS)
        profile = sampled(picture, edge[None] + across[:, None, None] * inwards)
        widths.append(_width(profile.mean(axis=1), float(np.linalg.norm(inwards)) * 2 * REACH))
        rim.append(sampled(picture, edge + RIM_DEPTH * inwards))
        white.append(profile[:8].mean())
    black = np.concatenate(rim)
    dark, bright = float(np.quantile(black, 0.1)), float(np.median(white))
    glare = float((black > (dark + bright) / 2).mean()) if bright > dark else 1.0
    return Quality(float(sides.min()), float(np.max(widths)), glare)


def _width(profile: FloatArray, length: float) -> float:
    """How wide the step in a profile of that length is, pixels: its height over its steepest slope, which for an edge
    blurred by a normal curve is the way from a tenth to nine tenths (2.51 of its standard deviation for 2.56)."""
    step = float(np.quantile(profile, 0.95) - np.quantile(profile, 0.05))
    # The slope over two steps, so that noise is none.
    slope = float(np.abs(profile[2:] - profile[:-2]).max()) / (2 * length / (len(profile) - 1))
    return length if step < 10.0 else min(length, step / slope)
