"""The quantities that fields, robots and runs are described by, with the bounds that they share.

A bound that belongs to one attribute alone stands in that attribute's annotation.
"""

from __future__ import annotations

from typing import Annotated

from fieldsim.model.bounds import Name, Number, Pair
from fieldsim.model.outlines import Spot
from fieldsim.model.units import ANGLE, LENGTH, PERCENT, SPEED, TURN_SPEED

Point = Spot
Band = tuple[float, float]
"""Lower and upper height above the mat, mm."""

# The largest sizes anybody can mean: a field or a path as long as a sports hall (20 m), a robot of 2 m. Beyond them a
# unit was mixed up; the certified error of the clearance also grows with the size of the scene.
HALL = 20_000.0
ROBOT = 2_000.0

Length = Annotated[float, Number(LENGTH, above=0.0, most=ROBOT)]
InField = Annotated[Point, Pair(Number(LENGTH, least=-HALL, most=HALL))]
OnRobot = Annotated[Point, Pair(Number(LENGTH, least=-ROBOT, most=ROBOT))]
Heading = Annotated[float, Number(ANGLE, least=-360.0, most=360.0)]
SpreadLength = Annotated[float, Number(LENGTH, least=0.0, most=200.0)]
SpreadAngle = Annotated[float, Number(ANGLE, least=0.0, most=360.0)]
Speed = Annotated[float, Number(SPEED, above=0.0, most=5_000.0)]
TurnSpeed = Annotated[float, Number(TURN_SPEED, above=0.0, most=3_600.0)]
Share = Annotated[float, Number(PERCENT, least=-0.5, most=0.5)]
SpreadShare = Annotated[float, Number(PERCENT, least=0.0, most=0.5)]
NameText = Annotated[str, Name()]
