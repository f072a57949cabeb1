"""Where one piece of an approach ends and the next begins, nothing may be lost between them. All plans invented.

Each of these once failed: the figures in the comments are what was seen before.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, degrees, radians, sin

import numpy as np
import pytest
from plans import STILL, open_floor, robot, run

from fieldsim.model import (
    Accuracy,
    Box,
    Field,
    Line,
    LineSquare,
    Obstacle,
    Run,
    Segment,
    Sensor,
    Square,
    StartByEye,
    StraightNoise,
    Until,
)
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import simulate

EYES = (Sensor("left eye", (90.0, 30.0)), Sensor("right eye", (90.0, -30.0)))
# Its edge is at x = 2290: 200 mm ahead of the eyes of a robot at x = 2000, which is the end of a piece of 100.
KERB = Line("kerb", (2300.0, 1000.0), (2300.0, 3000.0), 20.0)


def at_kerb(segment: Segment, accuracy: Accuracy, x: float = 2000.0, heading: float = 0.0) -> Run:
    floor = Field("Floor", (4000.0, 4000.0), lines=(KERB,))
    eyed = replace(robot(accuracy), sensors=EYES)
    return Run("To the kerb", floor, eyed, StartByEye((x, 2000.0), heading, STILL), (segment,))


@pytest.mark.parametrize(
    "segment", [Until("kerb", "left eye", 400.0), LineSquare("kerb", ("left eye", "right eye"), 400.0)]
)
def test_an_eye_that_sees_late_sees_an_edge_at_a_joint(segment: Segment) -> None:
    """Half of the trials, and a quarter, missed it: the eye was past the edge but not yet past where it sees it."""
    trials = simulate(at_kerb(segment, Accuracy(edge=1.0)), 10_000)
    assert (trials.endings == 0).all()


def test_rounding_loses_no_edge_at_a_joint() -> None:
    """15 of these 400 plans missed it."""
    for heading in np.random.default_rng(0).uniform(-40, 40, 400):
        c, s = cos(radians(heading)), sin(radians(heading))
        x = 2290 - (90 * c - 30 * s) - 200 * c
        ready = plan(at_kerb(Until("kerb", "left eye", 400.0), Accuracy(edge=0.0), x, heading))
        assert ready.endings[0] == (0, 0), heading


@pytest.mark.parametrize("x", [1950.0, 1999.9])
def test_a_stop_error_is_not_cut_off_at_a_joint(x: float) -> None:
    """Mean 1.14 and sd 1.76 mm were seen where 0 and 3 are right, 0.1 mm before a joint."""
    accuracy = Accuracy(edge=0.0, sample=1e-6, straight=StraightNoise(stop=3.0))
    end = simulate(at_kerb(Until("kerb", "left eye", 400.0), accuracy, x), 10_000).poses[:, -1, 0] - 2200
    # Four standard errors: 3/sqrt(10000), and 3/sqrt(20000) of the spread.
    assert abs(end.mean()) < 0.12
    assert end.std() == pytest.approx(3.0, abs=0.085)


def test_a_corner_that_meets_the_face_at_a_joint_stops_it() -> None:
    """38 of the first 400 of these drove 23 mm into the crate, whose corner points at the face from 100 mm ahead."""
    for heading in np.random.default_rng(0).uniform(-180, 180, 150):
        ahead, turned = radians(heading), radians(heading + 55)
        tip = 2000 + 2000j + 210 * np.exp(1j * ahead)
        middle = tip - (-20 + 20j) * np.exp(1j * turned)
        crate = Obstacle("crate", Box((middle.real, middle.imag), (40.0, 40.0), degrees(turned) % 360))
        floor = open_floor((4000.0, 4000.0), crate)
        end = plan(run(Square("front", "crate", 400.0), heading=heading, field=floor)).path[-1]
        assert abs(complex(end[0], end[1]) - 2000 - 2000j) < 100.001
