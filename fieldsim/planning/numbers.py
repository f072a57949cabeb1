"""How finely a team types numbers, and what the robot makes of what is typed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import degrees

from fieldsim.language import tr
from fieldsim.model import Arc, Robot, Run, Segment, Straight, Turn
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.reversing import lost, reversals
from fieldsim.sim.stops import late

__all__ = ["Step", "StepError", "meant", "meant_in", "step_of"]


class StepError(FieldsimError):
    """Words that are no steps; the text says what is accepted."""


@dataclass(frozen=True)
class Step:
    """Distances are typed in steps of ``mm``, angles of ``degrees``.

    A tape shows no more than 1 mm, and half a degree is less than the stop of a careful robot: finer angles were tried
    and gained nothing on the demo runs. Common practice, no source.
    """

    mm: float = 1.0
    degrees: float = 0.5

    def nearest(self, key: str, value: float) -> float:
        """The value of a segment's attribute as it would be typed."""
        size = self.of(key)
        # Steps are multiples of 0.001: what is left over of a product of two floats goes.
        return round(round(value / size) * size, 3)

    def of(self, key: str) -> float:
        """The step of a segment's attribute."""
        return self.degrees if key in ("angle", "heading") else self.mm


_ONE = re.compile(r"(\d{1,4}(?:\.\d{1,3})?)\s*(mm|deg)")


def step_of(text: str) -> Step:
    """'1mm,1deg' as steps; what is left out is as fine as usual. Raises StepError."""
    found: dict[str, float] = {}
    for part in text.split(","):
        match = _ONE.fullmatch(part.strip())
        if match is None or match[2] in found or not float(match[1]) > 0:
            raise StepError(tr("'{text}' are no steps to type numbers in; such as 1mm,1deg", text=text))
        found[match[2]] = float(match[1])
    usual = Step()
    step = Step(found.get("mm", usual.mm), found.get("deg", usual.degrees))
    if step.mm > 100.0 or step.degrees > 45.0:
        raise StepError(tr("steps to type numbers in may be up to 100mm and 45deg"))
    return step


def meant(robot: Robot, segment: Segment, key: str, back: bool = False) -> float:
    """What the robot really does, with its known bias, of a segment's number: mm or degrees.

    A straight of s comes out as s (1 + distance), a turn or arc of t and s as t (1 + turn this way round) + veer s,
    each with its stop too late; by gyro the turn comes out as t / (1 + gyro scale). Where it goes ``back`` after one
    that came, it loses the backlash. The kick of the caster is a turn that no number asked for: it is in none of these.
    See ``fieldsim.sim.drivetrain``.
    What is typed for that is the number itself.
    """
    value: float = getattr(segment, key)
    bias = robot.accuracy.bias
    gyro = robot.drive.heading_from == "gyro"
    over = late(segment, robot) - (lost(segment, robot) if back else 0.0)
    if isinstance(segment, Straight) and key == "distance":
        return value * (1 + bias.distance) + over
    if isinstance(segment, Turn | Arc) and key in ("angle", "radius"):
        s, t = segment.travel(robot.drive.track)
        way = s * (1 + bias.distance) + (over if isinstance(segment, Arc) else 0.0)
        if gyro:
            turned = t / (1 + bias.gyro_scale) + (over if isinstance(segment, Turn) else 0.0)
        else:
            # veer is kept in degrees a metre; along an arc more travel is more turn
            beyond = over if isinstance(segment, Turn) else over * t / s
            turned = t * (1 + bias.of_turn(segment.angle)) + beyond
            turned += bias.veer * s / 1000.0 if isinstance(segment, Arc) else 0.0
        if key == "angle":
            return turned
        return degrees(way / abs(turned))
    return value


def meant_in(run: Run, index: int, key: str) -> float:
    """The same of the segment of that index where it stands in the run: it may go back where the robot came from."""
    back = tuple(reversals(run.segments, run.robot.drive.track))[index]
    return meant(run.robot, run.segments[index], key, back)
