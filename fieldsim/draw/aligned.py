"""Where an alignment stands on what it aligns on, as a picture or the window marks it: one table by kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim.draw.swept import corners_at
from fieldsim.model import Alignment, LineSquare, Run, Square, Until

__all__ = ["ALIGNED", "Contact", "aligned_at"]

Floats = NDArray[np.float64]

Contact = Literal["face", "sensors"]
"""What meets the wall or the line: a face of the body, pushed flat, or sensors that see the line's edge."""


def aligned_at(run: Run, segment: Alignment, pose: Sequence[float]) -> tuple[Contact, Floats] | None:
    """What aligns, and its points (k, 2) on the field, mm: the two ends of a face, or the places of the sensors.

    ``pose`` (3,) in mm and degrees is where the segment ended. None if no face would lie flat there.
    """
    contact, points = ALIGNED[type(segment)]
    found = points(run, segment)
    return None if found is None else (contact, corners_at(found, pose))


def _face(run: Run, square: Square) -> Floats | None:
    # Loaded late, with shapely behind it: a picture's module is loaded by commands that draw none.
    from fieldsim.sim.alignment import pushed

    face = pushed(run, square)
    return None if face is None else np.array([(face.x, face.low), (face.x, face.high)])


def _sensors(run: Run, segment: LineSquare | Until) -> Floats:
    from fieldsim.sim.alignment import sensors_of

    return np.array(sorted({sensor.at for sensor in sensors_of(run, segment)}))


ALIGNED: Mapping[type[Alignment], tuple[Contact, Callable[[Run, Any], Floats | None]]] = {
    Square: ("face", _face),
    LineSquare: ("sensors", _sensors),
    Until: ("sensors", _sensors),
}
