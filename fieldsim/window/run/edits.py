"""Changes to a run by hand: each is a function from a run to a run, or to the plain words why it cannot be.

Runs are immutable values, so a run that was made is a run that can be: what the model complains about when a value is
made is what the user reads, and its bounds stand in the model's annotations alone. Millimetres, degrees, seconds.

A part of a run is known by its `Place`: the number of a segment from 0, or a word. A number in it is known by its key,
such as ``distance`` or ``spread.along``: names of attributes, then for a point or a height which of the two.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import atan2, degrees
from typing import Any, Literal, cast

from fieldsim.language import tr, tr_later
from fieldsim.model import (
    Drive,
    Field,
    Robot,
    Run,
    Segment,
    StartByEye,
    known_names,
)
from fieldsim.model.bounds import (
    Checked,
    Choice,
    Either,
    Kind,
    Many,
    Named,
    Record,
    attributes,
)
from fieldsim.sim.motion import Pose, start_pose, wrapped
from fieldsim.window.dials import (
    LABELS,
    Choices,
    Dial,
    Refused,
    accepted,
    dials_of,
    find_dial,
    nudged,
    tidy,
    typed_value,
    unwrapped,
    with_number,
    with_values,
)

__all__ = [
    "Place",
    "choices",
    "move_start",
    "named_kind",
    "nudge",
    "numbers",
    "numbers_at",
    "part_at",
    "rename_run",
    "reverse",
    "run_on",
    "set_choice",
    "set_number",
    "start_at_jig",
    "start_by_eye",
    "toggle",
    "turn_start",
    "turn_start_to",
    "typed",
    "uses",
    "with_part",
    "with_robot",
    "with_segments",
]

Place = int | Literal["start", "body", "drive", "run"]
"""A part of a run: a segment's number from 0, the start set by eye, the robot's body or drive, or the run itself."""


# --- numbers -----------------------------------------------------------------------------------------------------


# --- the numbers of a run ----------------------------------------------------------------------------------------


def numbers(segment: Segment, drive: Drive | None = None) -> tuple[Dial, ...]:
    """The numbers of a segment; with the robot's drive, its speeds stand where the segment leaves them out."""
    return tuple(
        replace(dial, instead=getattr(drive, dial.key, None)) if drive is not None and dial.optional else dial
        for dial in dials_of(segment)
    )


def numbers_at(run: Run, place: Place) -> tuple[Dial, ...]:
    """The numbers of a part of a run. A start at a jig has none of its own: they are the jig's, on the field."""
    if isinstance(place, int):
        return numbers(run.segments[place], run.robot.drive)
    record = part_at(run, place)
    return () if record is None or record is run else dials_of(record)


def set_number(run: Run, place: Place, key: str, value: float | None) -> Run | Refused:
    """The run with another number; None leaves out what may be left out. Raises KeyError for an unknown key."""
    part = part_at(run, place)
    if part is None:
        raise KeyError(key)
    return accepted(lambda: with_part(run, place, with_number(part, key, value)))


def nudge(run: Run, place: Place, key: str, steps: float, fine: bool = False) -> Run | Refused:
    """The run with a number so many steps of the wheel on. Raises KeyError for an unknown key."""
    dial = _dial_at(run, place, key)
    value = nudged(dial, steps, fine)
    if value == dial.value and steps:
        return Refused(
            tr("{label} is {text}; accepted: {bounds}", label=dial.label, text=dial.text, bounds=dial.bounds)
        )
    return set_number(run, place, key, value)


def typed(run: Run, place: Place, key: str, text: str) -> Run | Refused:
    """The run with a number as it was typed; an empty text leaves it out. Raises KeyError for an unknown key."""
    dial = _dial_at(run, place, key)
    value = typed_value(dial, text)
    return value if isinstance(value, Refused) else set_number(run, place, key, value)


def reverse(run: Run, place: int, key: str) -> Run | Refused:
    """The other way: a number with the other sign."""
    value = _dial_at(run, place, key).value
    return set_number(run, place, key, None if value is None else -value)


def _dial_at(run: Run, place: Place, key: str) -> Dial:
    return find_dial(numbers_at(run, place), key)


def part_at(run: Run, place: Place) -> Checked | None:
    """What stands at a place; None for a start at a jig."""
    match place:
        case int():
            return run.segments[place]
        case "start":
            return run.start if isinstance(run.start, StartByEye) else None
        case "body":
            return run.robot.body
        case "drive":
            return run.robot.drive
        case "run":
            return run


def with_part(run: Run, place: Place, part: Any) -> Run:
    match place:
        case int():
            return with_segments(run, run.segments[:place], (part,), run.segments[place:][1:])
        case "start":
            return replace(run, start=part)
        case "run":
            return cast(Run, part)
        case _:
            return replace(run, robot=replace(run.robot, **{place: part}))


def with_segments(run: Run, *stretches: tuple[Segment, ...]) -> Run:
    return replace(run, segments=sum(stretches, ()))


# --- words to choose from ----------------------------------------------------------------------------------------

# What it means to choose nothing, by attribute.
_NOTHING: Mapping[str, str] = {
    "about": tr_later("on the spot"),
    "finish": tr_later("anywhere"),
    "start": tr_later("by eye"),
}


def choices(run: Run, place: Place, possible: bool = True) -> tuple[Choices, ...]:
    """What can be chosen at a place; ``run`` has the start's jig, what is worn, and the finish.

    ``possible`` leaves out what the model would refuse, such as to push a face flat on something round.
    """
    record = part_at(run, place)
    if record is None:
        return ()
    known = known_names(run.field, run.robot)
    found = []
    for name, attribute in attributes(type(record)).items():
        kind, optional = unwrapped(attribute.kind)
        value, nothing = getattr(record, name), _NOTHING.get(name, "") if optional or name == "start" else ""
        label, nothing = tr(LABELS.get(name, name)), tr(nothing)
        about = tr(attribute.about)
        if isinstance(kind, Choice):
            found.append(Choices(name, label, value, kind.options, about, nothing, names=False))
        elif (named := named_kind(kind)) is None:
            continue
        else:
            options = tuple(word for of in named.kinds for word in known[of])
            if isinstance(kind, Many) and kind.least == kind.most:
                found += [
                    Choices(f"{name}.{index}", f"{tr(kind.what)} {index + 1}", word, options, about)
                    for index, word in enumerate(value)
                ]
            else:
                value = None if isinstance(value, Checked) else value
                found.append(Choices(name, label, value, options, about, nothing))
    return tuple(_possible(run, place, each) for each in found) if possible else tuple(found)


def named_kind(kind: Kind) -> Named | None:
    """The kind of name that an attribute holds, if it holds one or a list of them."""
    if isinstance(kind, Named):
        return kind
    options = (kind.item,) if isinstance(kind, Many) else kind.kinds if isinstance(kind, Either) else ()
    return next((option for option in options if isinstance(option, Named)), None)


def _possible(run: Run, place: Place, choice: Choices) -> Choices:
    if choice.many:
        return choice
    good = tuple(
        word
        for word in choice.options
        if word == choice.value or not isinstance(set_choice(run, place, choice.key, word), Refused)
    )
    return replace(choice, options=good)


def set_choice(run: Run, place: Place, key: str, value: str | tuple[str, ...] | None) -> Run | Refused:
    """The run with another word (words) chosen; None chooses nothing. Raises KeyError for an unknown key."""
    record = part_at(run, place)
    name, _, number = key.partition(".")
    if record is None or name not in attributes(type(record)):
        raise KeyError(key)
    if name == "start" and value is None:
        return start_by_eye(run)
    new: Any = value
    if number:
        words = getattr(record, name)
        new = (*words[: int(number)], value, *words[int(number) :][1:])
    return accepted(lambda: with_part(run, place, with_values(record, **{name: new})))


def toggle(run: Run, place: Place, key: str, word: str) -> Run | Refused:
    """The run with a word put into a list of words (``wear``, ``may_touch``), or taken out of it."""
    words: tuple[str, ...] = getattr(part_at(run, place), key)
    new = tuple(each for each in words if each != word) if word in words else (*words, word)
    return set_choice(run, place, key, new)


def rename_run(run: Run, name: str) -> Run | Refused:
    """The run under another name."""
    return accepted(lambda: replace(run, name=name.strip()))


# --- segments ----------------------------------------------------------------------------------------------------


# --- start, robot, field -----------------------------------------------------------------------------------------


def start_at_jig(run: Run, name: str) -> Run | Refused:
    """The run from a jig of the field."""
    return set_choice(run, "run", "start", name)


def start_by_eye(run: Run, pose: Pose | None = None) -> Run | Refused:
    """The run from a start set by eye: at a pose, or where it starts now. A spread given before stays."""
    x, y, heading = start_pose(run) if pose is None else pose
    # In a jig the heading is as the jig says it, and may be 270; only what is out of bounds is turned back.
    heading = tidy(heading if abs(heading) <= 360.0 else wrapped(heading))
    at = (tidy(x), tidy(y))

    def moved() -> Run:
        if isinstance(run.start, StartByEye):
            return replace(run, start=replace(run.start, at=at, heading=heading))
        return replace(run, start=StartByEye(at, heading))

    return accepted(moved)


def move_start(run: Run, at: tuple[float, float]) -> Run | Refused:
    """The run with its start dragged elsewhere, with the same heading. A start at a jig becomes one by eye."""
    return start_by_eye(run, (at[0], at[1], start_pose(run)[2]))


def turn_start(run: Run, heading: float) -> Run | Refused:
    """The run with its start turned about the axle's middle. A start at a jig becomes one by eye."""
    x, y, _ = start_pose(run)
    return start_by_eye(run, (x, y, wrapped(heading)))


def turn_start_to(run: Run, point: tuple[float, float]) -> Run | Refused:
    """The run with its start turned so that the robot looks at a point."""
    x, y, _ = start_pose(run)
    if (point[0], point[1]) == (x, y):
        return Refused(tr("the robot cannot look at the point it stands on"))
    return turn_start(run, degrees(atan2(point[1] - y, point[0] - x)))


def with_robot(run: Run, robot: Robot, take_off: bool = False) -> Run | Refused:
    """The run with another robot; ``take_off`` leaves off what the run wears and that robot has not."""
    there = {attachment.name for attachment in robot.attachments}
    wear = tuple(name for name in run.wear if name in there) if take_off else run.wear
    return accepted(lambda: replace(run, robot=robot, wear=wear))


def run_on(run: Run, field: Field, renamed: Mapping[tuple[str, str], str] | None = None) -> Run | Refused:
    """The run on another field; refused if it names what that has not.

    ``renamed`` tells new names: (kind, old name) -> new name, the kinds being obstacle, start area, jig, line, target.
    """
    names = renamed or {}

    def moved() -> Run:
        values = {
            name: _renamed(getattr(run, name), attribute.kind, names)
            for name, attribute in attributes(Run).items()
            if name not in ("field", "robot", "name")
        }
        return replace(run, field=field, **values)

    return accepted(moved)


def _renamed(value: Any, kind: Kind, names: Mapping[tuple[str, str], str]) -> Any:
    """A value with the names in it exchanged; the same object if there are none."""
    kind, _ = unwrapped(kind)
    if isinstance(value, str):
        named = named_kind(kind)
        return next((names[of, value] for of in (named.kinds if named else ()) if (of, value) in names), value)
    if isinstance(value, tuple) and isinstance(kind, Many):
        return tuple(_renamed(item, kind.item, names) for item in value)
    if isinstance(value, Checked) and isinstance(kind, Record | Either):
        new = {
            name: _renamed(getattr(value, name), attribute.kind, names)
            for name, attribute in attributes(type(value)).items()
        }
        return value if all(new[name] == getattr(value, name) for name in new) else with_values(value, **new)
    return value


def uses(run: Run) -> Iterator[tuple[str, str]]:
    """What of the field a run uses: (kind, name), each once; a name may be an obstacle's or a wall's."""
    seen: dict[tuple[str, str], None] = {}

    def walk(value: Any, kind: Kind) -> None:
        kind, _ = unwrapped(kind)
        if isinstance(value, str) and (named := named_kind(kind)) is not None:
            seen.update({(of, value): None for of in named.kinds})
        elif isinstance(value, tuple) and isinstance(kind, Many):
            for item in value:
                walk(item, kind.item)
        elif isinstance(value, Checked):
            for name, attribute in attributes(type(value)).items():
                walk(getattr(value, name), attribute.kind)

    for name, attribute in attributes(Run).items():
        if name not in ("field", "robot"):
            walk(getattr(run, name), attribute.kind)
    known = known_names(run.field, None)
    yield from ((of, name) for of, name in seen if name in known.get(of, ()))
