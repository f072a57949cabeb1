"""Small invented plans for tests: every name and number here is made up."""

from __future__ import annotations

import numpy as np

from fieldsim.model import (
    Accuracy,
    Body,
    Box,
    Drive,
    Field,
    Obstacle,
    Robot,
    Run,
    Segment,
    Spread,
    StartByEye,
    Straight,
    StraightNoise,
    Systematic,
    Turn,
    TurnNoise,
)

PERFECT = Accuracy()
STILL = Spread(0.0, 0.0, 0.0)
TYPICAL = Accuracy(
    bias=Systematic(0.004, 0.3, 0.01),
    day=Systematic(0.002, 0.2, 0.005),
    straight=StraightNoise(0.8, 1.5, 0.4),
    turn=TurnNoise(0.5, 0.6),
)


def robot(accuracy: Accuracy = PERFECT, **body: float) -> Robot:
    size = {"length": 170.0, "width": 140.0, "axle": 60.0, **body}
    return Robot("Box test", Body(**size, height=(8.0, 110.0)), Drive(track=112.0, wheel=62.0), accuracy)


def open_floor(size: tuple[float, float] = (4000.0, 4000.0), *obstacles: Obstacle) -> Field:
    return Field("Open floor", size, obstacles=obstacles)


def run(
    *segments: Segment,
    accuracy: Accuracy = PERFECT,
    at: tuple[float, float] = (2000.0, 2000.0),
    heading: float = 0.0,
    spread: Spread = STILL,
    field: Field | None = None,
    **rest: object,
) -> Run:
    return Run(
        "Test run",
        field or open_floor(),
        robot(accuracy),
        StartByEye(at, heading, spread),
        tuple(segments),
        **rest,  # type: ignore[arg-type]
    )


def cluttered(seed: int, obstacles: int = 20, accuracy: Accuracy = TYPICAL) -> Run:
    """A run of straights, spins, a pivot and an arc among boxes: some near, some in the way."""
    from fieldsim.model import Arc

    rng = np.random.default_rng(seed)
    boxes = tuple(
        Obstacle(
            f"box {n}",
            Box(
                (float(rng.uniform(300, 2100)), float(rng.uniform(100, 1000))),
                (float(rng.uniform(5, 160)), float(rng.uniform(5, 160))),
                float(rng.uniform(-90, 90)),
            ),
        )
        for n in range(obstacles)
    )
    segments = (
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
        Turn(200),
    )
    return Run(
        "Cluttered",
        Field("Yard", (2200.0, 1100.0), obstacles=boxes),
        robot(accuracy),
        StartByEye((130.0, 130.0), 90.0, Spread(1.0, 1.0, 0.5)),
        segments,
    )
