"""The kinds of segment, a module for each: its attributes, its key in a file, its way, its speed and its words.

A new kind is a module here and its place in the unions below. What else a kind needs, the tables by kind of the other
rooms ask for: its noise in `fieldsim.sim.drivetrain`, a mark in pictures if it aligns, a first value in the window.
"""

from __future__ import annotations

from typing import get_args

from fieldsim.model.segments.act import Act
from fieldsim.model.segments.arc import Arc
from fieldsim.model.segments.line_square import LineSquare
from fieldsim.model.segments.square import Square
from fieldsim.model.segments.straight import Straight
from fieldsim.model.segments.turn import Turn
from fieldsim.model.segments.until import Until
from fieldsim.model.segments.wait import Wait

__all__ = [
    "KINDS", "Act", "Alignment", "Arc", "LineSquare", "Move", "Segment", "Sight", "Square", "Stand", "Straight", "Turn",
    "Until", "Wait",
]  # fmt: skip

Move = Straight | Turn | Arc
"""Drives as far as it says."""
Sight = LineSquare | Until
"""Drives until light sensors see a line."""
Alignment = Square | Sight
"""Drives until a wall or a line sets its pose anew."""
Stand = Act | Wait
"""Stands still."""
Segment = Move | Alignment | Stand
KINDS: tuple[type[Segment], ...] = get_args(Segment)
"""In the order in which they are listed everywhere."""
