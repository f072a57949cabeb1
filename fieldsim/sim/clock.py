"""Where in the run the robot is at a time: seconds to heads and back. (A head is a place in segments: 3.25 is a quarter
of the way through the fourth.)"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Move
from fieldsim.sim.motion import profile
from fieldsim.sim.plan import Plan

# Points of the speed profile that are kept; between them it is taken as straight. They lie closer together at both
# ends, where the robot is slow and a second is a short way.
STEPS = 65


class Clock:
    """The planned run's time. Straights, turns and arcs go by their speed profile; squares, lines and acts, whose speed
    within is no matter, evenly."""

    def __init__(self, ready: Plan) -> None:
        drive = ready.run.robot.drive
        self._shares = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, STEPS))
        self._tables: list[NDArray[np.float64]] = []
        for segment, seconds in zip(ready.run.segments, ready.seconds, strict=True):
            if isinstance(segment, Move):
                self._tables.append(profile(segment, drive).seconds_to(self._shares))
            else:
                self._tables.append(self._shares * seconds)
        self._edges = np.concatenate([[0.0], np.cumsum([table[-1] for table in self._tables])])

    @property
    def seconds(self) -> float:
        """How long the planned run takes."""
        return float(self._edges[-1])

    @property
    def edges(self) -> tuple[float, ...]:
        """When each segment begins, and when the last one ends, seconds."""
        return tuple(float(edge) for edge in self._edges)

    @property
    def segments(self) -> int:
        return len(self._tables)

    def head_at(self, seconds: float) -> float:
        """The place at a time; at the ends for one outside."""
        if seconds >= self.seconds:
            return float(self.segments)
        seconds = max(seconds, 0.0)
        g = int(np.searchsorted(self._edges, seconds, side="right")) - 1
        table = self._tables[g]
        share = float(np.interp(seconds - self._edges[g], table, self._shares)) if table[-1] > 0 else 0.0
        return g + min(share, 1.0)

    def time_at(self, head: float) -> float:
        """The time at a place; at the ends for one outside."""
        g = min(max(int(head), 0), self.segments - 1)
        share = min(max(head - g, 0.0), 1.0)
        return float(self._edges[g] + np.interp(share, self._shares, self._tables[g]))
