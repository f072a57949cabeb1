"""What the benchmarks drive: an invented run of 14 segments among boxes, of one kind and any size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fieldsim.model import (
    Accuracy,
    Arc,
    Body,
    Box,
    Drive,
    Field,
    Jig,
    Obstacle,
    Robot,
    Run,
    Straight,
    StraightNoise,
    Systematic,
    Turn,
    TurnNoise,
)
from fieldsim.sim.plan import plan

_ACCURACY = Accuracy(
    bias=Systematic(0.004, 0.3, 0.01),
    day=Systematic(0.002, 0.2, 0.005),
    straight=StraightNoise(0.8, 1.5, 0.4),
    turn=TurnNoise(0.5, 0.6),
)
_ROBOT = Robot("Bench", Body(170.0, 140.0, 60.0, (8.0, 110.0)), Drive(112.0, 62.0, speed=250.0), _ACCURACY)
SEGMENTS = (
    Straight(150),
    Turn(-80),
    Straight(500),
    Turn(45),
    Straight(300),
    Turn(-40, about="left wheel"),
    Straight(200),
    Arc(60, 300),
    Straight(-200),
    Turn(90),
    Straight(150),
    Turn(60),
    Straight(300),
    Turn(90),
)


def run_among(boxes: int, segments: int = 14, clear: float = 12.0) -> Run:
    """The run among rotated boxes, none nearer than ``clear`` to the planned path; more boxes on a larger field."""
    rng = np.random.default_rng(3)
    # The same number of boxes to the square metre; a large field is square, to stay within the 20 m a field may have.
    side = (2200.0 * 1100.0 * boxes / 20) ** 0.5
    size = (2200.0, 1100.0) if boxes <= 20 else (side, side)
    bare = Run(
        "Bench run",
        Field("Bench floor", size, jigs=(Jig("corner", (60.0, 0.0), 90.0, "rear left"),)),
        _ROBOT,
        "corner",
        SEGMENTS[:segments],
    )
    kept: list[Obstacle] = []
    while len(kept) < boxes:
        some = tuple(
            Obstacle(
                f"box {len(kept) + n}",
                Box(
                    (float(rng.uniform(100, size[0])), float(rng.uniform(100, size[1]))),
                    (float(rng.uniform(40, 160)), float(rng.uniform(40, 160))),
                    float(rng.uniform(-90, 90)),
                ),
            )
            for n in range(min(boxes, 400))
        )
        gaps = plan(replace(bare, field=replace(bare.field, obstacles=some))).nominal.clearance[0]
        kept += [box for box, gap in zip(some, gaps, strict=False) if gap > clear]
    named = tuple(replace(box, name=f"box {n}") for n, box in enumerate(kept[:boxes]))
    return replace(bare, field=replace(bare.field, obstacles=named))
