"""What a team describes: the field, the robot, the run. Immutable values, in millimetres, degrees and seconds.

Frames (see DEVELOPERS.md): the field frame has its origin at the inner lower left corner of the walls, x right, y away
from the team, heading counter-clockwise from +x. The robot frame has its origin on the mat under the middle of the
drive axle, x forward, y left.

A study is a loop over changed values::

    wider = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=150)))

Bounds are declared once, in the annotations below, and hold for values made here as for files: a value that cannot be
raises `fieldsim.model.errors.PlanError` (a ValueError). Numbers are kept as float and lists as tuples.
"""

from __future__ import annotations

from dataclasses import replace

from fieldsim.model.accuracy import (
    Accuracy,
    Bias,
    GyroNoise,
    SquareNoise,
    StraightNoise,
    Systematic,
    TurnNoise,
    value_of,
    with_values,
)
from fieldsim.model.between import (
    LIKELY,
    MEASURABLE,
    Between,
    BiasBetween,
    DayBetween,
    Ends,
    GyroBetween,
    Likely,
    StraightBetween,
    Together,
    TurnBetween,
)
from fieldsim.model.field import (
    WALLS,
    Box,
    Corner,
    Field,
    Jig,
    Line,
    Obstacle,
    OtherTable,
    Outline,
    Picture,
    Round,
    Shape,
    Spread,
    StartArea,
    Target,
    shape_bounds,
)
from fieldsim.model.markers import Marker, RobotMarker
from fieldsim.model.quantities import HALL, ROBOT, Band, Point
from fieldsim.model.robot import Attachment, Body, Caster, Drive, Face, Robot, Sensor, Weight, Wheel
from fieldsim.model.run import Run, StartByEye, known_names
from fieldsim.model.segments import (
    Act,
    Alignment,
    Arc,
    LineSquare,
    Move,
    Segment,
    Sight,
    Square,
    Stand,
    Straight,
    Turn,
    Until,
    Wait,
)

__all__ = [
    "HALL",
    "LIKELY",
    "MEASURABLE",
    "ROBOT",
    "WALLS",
    "Accuracy",
    "Act",
    "Alignment",
    "Arc",
    "Attachment",
    "Band",
    "Between",
    "Bias",
    "BiasBetween",
    "Body",
    "Box",
    "Caster",
    "Corner",
    "DayBetween",
    "Drive",
    "Ends",
    "Face",
    "Field",
    "GyroBetween",
    "GyroNoise",
    "Jig",
    "Likely",
    "Line",
    "LineSquare",
    "Marker",
    "Move",
    "Obstacle",
    "OtherTable",
    "Outline",
    "Picture",
    "Point",
    "Robot",
    "RobotMarker",
    "Round",
    "Run",
    "Segment",
    "Sensor",
    "Shape",
    "Sight",
    "Spread",
    "Square",
    "SquareNoise",
    "Stand",
    "StartArea",
    "StartByEye",
    "Straight",
    "StraightBetween",
    "StraightNoise",
    "Systematic",
    "Target",
    "Together",
    "Turn",
    "TurnBetween",
    "TurnNoise",
    "Until",
    "Wait",
    "Weight",
    "Wheel",
    "known_names",
    "replace",
    "shape_bounds",
    "value_of",
    "with_values",
]
