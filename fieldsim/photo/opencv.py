"""All that is asked of OpenCV, and the one place that loads it: it comes with `fieldsim[photo]` only.

Pixels are counted as OpenCV does: the middle of the first one is [0, 0].
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr
from fieldsim.model.errors import FieldsimError
from fieldsim.model.markers import MOST_MARKERS

FloatArray = NDArray[np.float64]
Image = NDArray[np.uint8]

# A marker is looked for in a picture of at most this long side: more pixels only take longer to find it. Its corners
# are then looked up in all of them.
LONGEST = 4200
# The corner search looks so far around a corner, as a share of the marker's side in pixels, and at least and at most so
# many pixels: within a cell (a sixth of the side), so that no other edge is met.
CORNER = (0.07, 2, 12)


class MissingError(FieldsimError):
    """OpenCV is not installed."""

    def __init__(self) -> None:
        super().__init__(tr("Pictures need one more package: pip install 'fieldsim[photo]'"))


@cache
def cv2() -> Any:
    """OpenCV. Raises MissingError."""
    try:
        import cv2 as found
    except ImportError:
        raise MissingError from None
    # Its types ask for more than it does; what comes of each call is made an array here.
    untyped: Any = found
    return untyped


@cache
def _dictionary() -> Any:
    return cv2().aruco.getPredefinedDictionary(cv2().aruco.DICT_4X4_50)


def cells(number: int) -> NDArray[np.bool_]:
    """(6, 6) cells of a marker with its black rim, as printed: True is black."""
    if not 1 <= number <= MOST_MARKERS:
        raise ValueError(f"number={number!r} must be from 1 to {MOST_MARKERS}")
    return np.asarray(cv2().aruco.generateImageMarker(_dictionary(), number, 6) < 128, dtype=np.bool_)


@cache
def _detector() -> Any:
    wanted = cv2().aruco.DetectorParameters()
    wanted.cornerRefinementMethod = cv2().aruco.CORNER_REFINE_NONE
    wanted.adaptiveThreshWinSizeMin = 13
    wanted.adaptiveThreshWinSizeMax = 53
    wanted.adaptiveThreshWinSizeStep = 20
    wanted.minMarkerPerimeterRate = 0.012
    return cv2().aruco.ArucoDetector(_dictionary(), wanted)


def decoded(data: bytes) -> Image | None:
    """(height, width, 3) of a JPEG or PNG, red, green, blue, upright as it was held; None if it is no picture."""
    if not data:
        return None
    cv = cv2()
    try:
        found = cv.imdecode(np.frombuffer(data, np.uint8), cv.IMREAD_COLOR)
    except cv.error:
        return None
    return None if found is None else np.asarray(found[:, :, ::-1], dtype=np.uint8)


def grey(image: Image) -> Image:
    """(height, width) of a picture in colour."""
    return np.asarray(cv2().cvtColor(np.ascontiguousarray(image), cv2().COLOR_RGB2GRAY), dtype=np.uint8)


def smaller(image: Image, longest: int) -> Image:
    """The picture with at most so long a side, pixels."""
    share = longest / max(image.shape[:2])
    if share >= 1.0:
        return image
    size = (max(1, round(image.shape[1] * share)), max(1, round(image.shape[0] * share)))
    return np.asarray(cv2().resize(np.ascontiguousarray(image), size, interpolation=cv2().INTER_AREA), dtype=np.uint8)


def markers(picture: Image) -> list[tuple[int, FloatArray]]:
    """Every marker in a grey picture: its number and (4, 2) its corners in pixels, clockwise as printed from the one at
    the left of its arrow's tip."""
    small = smaller(picture, LONGEST)
    scale = np.array([picture.shape[1] / small.shape[1], picture.shape[0] / small.shape[0]])
    corners, numbers, _ = _detector().detectMarkers(small)
    if numbers is None:
        return []
    return [
        (int(number), _refined(picture, (np.asarray(each, dtype=float).reshape(4, 2) + 0.5) * scale - 0.5))
        for number, each in zip(np.ravel(numbers), corners, strict=True)
    ]


def _refined(picture: Image, corners: FloatArray) -> FloatArray:
    """Corners to a part of a pixel."""
    cv = cv2()
    side = float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min())
    share, least, most = CORNER
    window = int(min(max(round(share * side), least), most))
    stop = (cv.TERM_CRITERIA_EPS + cv.TERM_CRITERIA_MAX_ITER, 50, 0.005)
    start = np.ascontiguousarray(corners.astype(np.float32).reshape(4, 1, 2))
    found = cv.cornerSubPix(picture, start, (window, window), (-1, -1), stop)
    moved = np.asarray(found, dtype=float).reshape(4, 2)
    # A search that ran away tells nothing better.
    near = np.linalg.norm(moved - corners, axis=1) < window + 1.0
    return np.where(near[:, None], moved, corners)


def stood(
    points: FloatArray, pixels: FloatArray, focal: float, middle: FloatArray
) -> tuple[FloatArray, FloatArray] | None:
    """Where a camera without lens errors stood that saw ``points`` (n, 3) at ``pixels`` (n, 2): rotation (3, 3) and
    shift (3,) from the field's frame into its own. None if there is no such place."""
    cv = cv2()
    matrix = np.array([[focal, 0.0, middle[0]], [0.0, focal, middle[1]], [0.0, 0.0, 1.0]])
    flat = np.ptp(points[:, 2]) < 1e-9
    try:
        if flat:
            drop = points[0, 2] * np.array([0.0, 0.0, 1.0])
            _, turns, shifts, errors = cv.solvePnPGeneric(
                np.ascontiguousarray(points - drop), np.ascontiguousarray(pixels), matrix, None,
                flags=cv.SOLVEPNP_IPPE,
            )  # fmt: skip
        else:
            drop = np.zeros(3)
            _, turns, shifts, errors = cv.solvePnPGeneric(
                np.ascontiguousarray(points), np.ascontiguousarray(pixels), matrix, None, flags=cv.SOLVEPNP_SQPNP
            )
    except cv.error:
        return None
    best: tuple[float, FloatArray, FloatArray] | None = None
    for turn, shift, error in zip(turns, shifts, np.ravel(errors), strict=True):
        rotation = np.asarray(cv.Rodrigues(turn)[0], dtype=float)
        moved = np.asarray(shift, dtype=float).reshape(3) - rotation @ drop
        # It stands above the mat.
        above = float(-(rotation.T @ moved)[2]) > 0.0
        if above and np.isfinite(error) and (best is None or float(error) < best[0]):
            best = (float(error), rotation, moved)
    return None if best is None else best[1:]
