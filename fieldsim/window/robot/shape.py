"""The parts of a robot that a hand can grip, and what dragging them makes of it: functions from a robot to a robot, or
to the words why it cannot be. Millimetres in the robot frame."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from fieldsim.language import tr
from fieldsim.model import Attachment, Robot
from fieldsim.model.bounds import Checked
from fieldsim.model.errors import shown
from fieldsim.model.robot import Caster, Sensor, Weight
from fieldsim.window.dials import Dial, Refused, accepted, dials_of, with_number, with_values

__all__ = [
    "ADDED",
    "PartOf",
    "Spot",
    "added",
    "dials_at",
    "dragged",
    "parts_of",
    "record_at",
    "removed",
    "spots_of",
    "with_dial",
]

ADDED = ("weight", "caster", "sensor", "attachment")
"""What a robot can be given more of (of weight one)."""
LISTS = {"caster": "casters", "sensor": "sensors", "attachment": "attachments"}


@dataclass(frozen=True)
class PartOf:
    """A part of a robot: 'body', 'drive', 'weight', or one of a list by its number from 0."""

    kind: str
    index: int = 0


@dataclass(frozen=True)
class Spot:
    """Something to grip: where it is, and the direction in which it is dragged (None: any way), degrees."""

    part: PartOf
    what: str
    """'front', 'rear', 'left', 'right' of the body; 'wheel left', 'wheel right'; 'at'; 'corner 2'; 'tool'."""
    at: tuple[float, float]
    heading: float | None = None


def parts_of(robot: Robot) -> tuple[PartOf, ...]:
    found = [PartOf("body"), PartOf("drive")]
    if robot.weight is not None:
        found.append(PartOf("weight"))
    for kind, name in LISTS.items():
        found += [PartOf(kind, n) for n in range(len(getattr(robot, name)))]
    return tuple(found)


def record_at(robot: Robot, part: PartOf) -> Checked:
    """What stands there. Raises IndexError, or KeyError for a weight that is not there."""
    if part.kind in LISTS:
        found: Checked = getattr(robot, LISTS[part.kind])[part.index]
        return found
    record: Checked | None = getattr(robot, part.kind)
    if record is None:
        raise KeyError(part.kind)
    return record


def with_record(robot: Robot, part: PartOf, record: Any) -> Robot:
    if part.kind not in LISTS:
        return with_values(robot, **{part.kind: record})
    items = list(getattr(robot, LISTS[part.kind]))
    items[part.index] = record
    return with_values(robot, **{LISTS[part.kind]: tuple(items)})


def dials_at(robot: Robot, part: PartOf) -> tuple[Dial, ...]:
    """The numbers of a part."""
    return dials_of(record_at(robot, part))


def with_dial(robot: Robot, part: PartOf, key: str, value: float | None) -> Robot | Refused:
    return accepted(lambda: with_record(robot, part, with_number(record_at(robot, part), key, value)))


def added(robot: Robot, kind: str) -> tuple[Robot | Refused, PartOf]:
    """The robot with one part more, where such a thing usually is."""
    body = robot.body
    front, half = body.length - body.axle, body.width / 2
    if kind == "weight":
        if robot.weight is not None:
            return robot, PartOf("weight")
        made = Weight(1.0, (round(front / 4), 0.0, 40.0))
        return accepted(lambda: replace(robot, weight=made)), PartOf("weight")
    items = getattr(robot, LISTS[kind])
    new: Any
    if kind == "caster":
        new = Caster((round(front - 20.0), 0.0))
    elif kind == "sensor":
        new = Sensor(_free_name(tr("sensor"), [each.name for each in items]), (round(front - 15.0), 0.0))
    else:
        name = _free_name(tr("attachment"), [each.name for each in items])
        x, y = round(front), round(half / 2)
        new = Attachment(name, ((x, -y), (x + 40.0, -y), (x + 40.0, y), (x, y)), tool=(x + 40.0, 0.0))
    return accepted(lambda: with_values(robot, **{LISTS[kind]: (*items, new)})), PartOf(kind, len(items))


def _free_name(word: str, taken: list[str]) -> str:
    number = 1
    while (word if number == 1 else f"{word} {number}") in taken:
        number += 1
    return word if number == 1 else f"{word} {number}"


def removed(robot: Robot, part: PartOf) -> Robot | Refused:
    """The robot without a part."""
    if part.kind == "weight":
        return accepted(lambda: replace(robot, weight=None))
    if part.kind not in LISTS:
        return Refused(tr("a robot has a body and two wheels: change their numbers"))
    name = LISTS[part.kind]
    items = getattr(robot, name)
    return accepted(lambda: with_values(robot, **{name: items[: part.index] + items[part.index + 1 :]}))


def spots_of(robot: Robot, part: PartOf) -> tuple[Spot, ...]:
    """What can be gripped of a part."""
    body = robot.body
    front, rear, half = body.length - body.axle, -body.axle, body.width / 2
    if part.kind == "body":
        middle = (front + rear) / 2
        return (
            Spot(part, "front", (front, 0.0), 0.0), Spot(part, "rear", (rear, 0.0), 180.0),
            Spot(part, "left", (middle, half), 90.0), Spot(part, "right", (middle, -half), -90.0),
        )  # fmt: skip
    if part.kind == "drive":
        y = robot.drive.track / 2
        return Spot(part, "wheel left", (0.0, y), 90.0), Spot(part, "wheel right", (0.0, -y), -90.0)
    record: Any = record_at(robot, part)
    if part.kind == "attachment":
        corners = tuple(Spot(part, f"corner {n}", point) for n, point in enumerate(record.outline))
        return corners if record.tool is None else (*corners, Spot(part, "tool", record.tool))
    return (Spot(part, "at", (record.at[0], record.at[1])),)


def dragged(robot: Robot, spot: Spot, to: tuple[float, float]) -> Robot | Refused:
    """The robot with what is gripped at another place, to a mm."""
    x, y = float(round(to[0])), float(round(to[1]))
    part, body = spot.part, robot.body
    match spot.what:
        case "front":
            return accepted(lambda: replace(robot, body=replace(body, length=x + body.axle)))
        case "rear":
            return accepted(lambda: replace(robot, body=replace(body, length=body.length - body.axle - x, axle=-x)))
        case "left" | "right":
            return accepted(lambda: replace(robot, body=replace(body, width=2.0 * abs(y))))
        case "wheel left" | "wheel right":
            return accepted(lambda: replace(robot, drive=replace(robot.drive, track=2.0 * abs(y))))
    record: Any = record_at(robot, part)
    if spot.what == "tool":
        return accepted(lambda: with_record(robot, part, replace(record, tool=(x, y))))
    if spot.what.startswith("corner"):
        n = int(spot.what.split(" ")[1])
        outline = (*record.outline[:n], (x, y), *record.outline[n + 1 :])
        return accepted(lambda: with_record(robot, part, replace(record, outline=outline)))
    at = (x, y, record.at[2]) if part.kind == "weight" else (x, y)
    return accepted(lambda: with_record(robot, part, replace(record, at=at)))


def called(robot: Robot, part: PartOf) -> str:
    """A part's name."""
    words = {"body": tr("the body"), "drive": tr("wheels and motors"), "weight": tr("the weight")}
    if part.kind in words:
        return words[part.kind]
    if part.kind == "caster":
        return tr("caster {number}", number=part.index + 1)
    record: Any = record_at(robot, part)
    return shown(record.name)
