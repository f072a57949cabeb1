"""A handful of trials as paths, for pictures: an answer counts the trials, this shows some of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["PathSample"]


@dataclass(frozen=True, eq=False)
class PathSample:
    """The planned path and the paths of some trials, at the joints of the pieces of driving.

    P pieces have P + 1 joints; joint 0 is the start. Poses are x, y in mm and the heading in degrees, of the axle's
    middle. A piece is one rigid rotation, see ``fieldsim.sim.motion.along_piece``.
    Equality is identity: these are arrays.
    Raises ValueError if the shapes do not fit each other.
    """

    nominal: NDArray[np.float64]
    """(P + 1, 3), the planned poses."""
    segment: NDArray[np.int64]
    """(P,), the number of the segment, from 1, each piece belongs to."""
    travel: NDArray[np.float64]
    """(P, 2), signed mm of travel and degrees of turning of each planned piece."""
    ahead: NDArray[np.float64]
    """(P,), how far ahead of the axle's middle the point is that travels: 0, but for a swing onto a wall."""
    trials: NDArray[np.float64]
    """(n, P + 1, 3), the poses of the trials shown."""
    ended: NDArray[np.int64]
    """(n,), how many joints each of them lived; P + 1 if to the end."""
    contacts: NDArray[np.float64]
    """(m, 2), the points of first contact in mm, of these or of more trials."""
    contact_obstacle: tuple[str, ...]
    """(m,), what was touched there."""
    lost: NDArray[np.float64]
    """(k, 2), where the axle's middle was when a square or line was not caught, of these or of more trials."""

    def __post_init__(self) -> None:
        pieces, trials, contacts = len(self.segment), len(self.ended), len(self.contact_obstacle)
        wanted = {
            "nominal": (pieces + 1, 3),
            "segment": (pieces,),
            "travel": (pieces, 2),
            "ahead": (pieces,),
            "trials": (trials, pieces + 1, 3),
            "ended": (trials,),
            "contacts": (contacts, 2),
            "lost": (len(self.lost), 2),
        }
        for name, shape in wanted.items():
            found = np.shape(getattr(self, name))
            if found != shape:
                raise ValueError(f"{name} has the shape {found}, but {shape} fits the other arrays")
