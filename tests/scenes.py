"""Small invented scenes for planned routes: a robot of its own, a start set by eye or held, things in the way."""

from __future__ import annotations

from dataclasses import replace

from fieldsim.model import (
    Accuracy,
    Body,
    Box,
    Drive,
    Field,
    Jig,
    Obstacle,
    Robot,
    Spread,
    StartArea,
    StraightNoise,
    Systematic,
    Target,
    TurnNoise,
)
from fieldsim.planning.legs import Task

ROBOT = Robot(
    "scout",
    Body(170.0, 140.0, 60.0),
    Drive(112.0, 62.0, speed=250.0),
    Accuracy(
        bias=Systematic(0.004, 0.3, 0.01),
        day=Systematic(0.002, 0.2, 0.005),
        straight=StraightNoise(0.8, 1.5, 0.4),
        turn=TurnNoise(0.5, 0.6),
    ),
)
PERFECT = replace(ROBOT, accuracy=Accuracy())
CORNER = Jig("corner", (30.0, 60.0), 0.0, "rear right", Spread(0.4, 0.5, 0.2))


def scene(
    *things: tuple[str, float, float, float, float],
    size: tuple[float, float] = (1600.0, 1000.0),
    targets: tuple[Target, ...] = (Target("bell", (1300.0, 700.0), 20.0),),
    jig: Jig = CORNER,
    areas: tuple[StartArea, ...] = (StartArea("home", Box((200.0, 200.0), (400.0, 400.0))),),
) -> Field:
    """A field with boxes: name, x from, y from, x to, y to."""
    return Field(
        "yard",
        size,
        obstacles=tuple(
            Obstacle(name, Box(((x0 + x1) / 2, (y0 + y1) / 2), (x1 - x0, y1 - y0))) for name, x0, y0, x1, y1 in things
        ),
        jigs=(jig,),
        targets=targets,
        start_areas=areas,
    )


def gap(width: float) -> Field:
    """A wall across the field at x from 760 to 840 with a gap in its middle, and the bell behind it."""
    low, high = 500.0 - width / 2, 500.0 + width / 2
    return scene(("south", 760.0, 0.0, 840.0, low), ("north", 760.0, high, 840.0, 1000.0))


def two_gaps(width: float = 220.0) -> Field:
    return scene(
        ("south", 560.0, 0.0, 620.0, 600.0 - width / 2), ("north", 560.0, 600.0 + width / 2, 620.0, 1000.0),
        ("low", 960.0, 0.0, 1020.0, 400.0 - width / 2), ("high", 960.0, 400.0 + width / 2, 1020.0, 1000.0),
    )  # fmt: skip


SCENES: dict[str, Field] = {
    "open": scene(),
    "block": scene(("block", 600.0, 200.0, 900.0, 700.0)),
    "gap 220": gap(220.0),
    "gap 180": gap(180.0),
    "gap 160": gap(160.0),
    "two gaps": two_gaps(),
    "corridor": scene(("left", 500.0, 420.0, 1100.0, 1000.0), ("right", 500.0, 0.0, 1100.0, 220.0)),
    "far, straight in": scene(size=(2400.0, 1200.0), targets=(Target("bell", (2100.0, 900.0), 12.0, 0.0, 3.0),)),
    "two targets and home": scene(
        targets=(Target("bell", (1300.0, 700.0), 20.0), Target("lamp", (1300.0, 250.0), 20.0)),
    ),
}


def task(field: Field, robot: Robot = ROBOT, **more: object) -> Task:
    """From the corner to all targets of the field."""
    names = tuple(target.name for target in field.targets)
    return Task(field, robot, (), ("corner",), names, None, **more)  # type: ignore[arg-type]
