"""Changes to a run by hand: each is a function from a run to a run, or to the plain words why it cannot be.

Runs are immutable values, so a run that was made is a run that can be: what the model complains about when a value is
made is what the user reads, and its bounds stand in the model's annotations alone. Millimetres, degrees, seconds.

A part of a run is known by its `Place`: the number of a segment from 0, or a word. A number in it is known by its key,
such as ``distance`` or ``spread.along``: names of attributes, then for a point or a height which of the two.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from math import atan2, ceil, degrees, inf, isfinite
from typing import Any, Literal, TypeVar, cast

from fieldsim.files.forms import SEGMENTS
from fieldsim.language import in_digits, tr, tr_later
from fieldsim.model import (
    WALLS,
    Act,
    Arc,
    Drive,
    Field,
    LineSquare,
    Robot,
    Round,
    Run,
    Segment,
    Spread,
    Square,
    StartByEye,
    Straight,
    Turn,
    Until,
    Wait,
    known_names,
)
from fieldsim.model.bounds import (
    Checked,
    Choice,
    Either,
    Height,
    Kind,
    Many,
    Maybe,
    Named,
    Number,
    Pair,
    Record,
    attributes,
)
from fieldsim.model.errors import PlanError, shown
from fieldsim.model.units import (
    ACCELERATION,
    ANGLE,
    DECIMAL,
    LENGTH,
    SPEED,
    TIME,
    TURN_SPEED,
    Unit,
    UnitError,
    read_quantity,
)
from fieldsim.sim.motion import Pose, start_pose, wrapped

__all__ = [
    "SEGMENT_WORDS",
    "Choices",
    "Dial",
    "Place",
    "Refused",
    "accepted",
    "add_segment",
    "choices",
    "copy_segment",
    "dials_of",
    "find_dial",
    "kind_word",
    "move_segment",
    "move_start",
    "new_segment",
    "nudge",
    "nudged",
    "numbers",
    "numbers_at",
    "parse_number",
    "remove_segment",
    "rename_run",
    "reverse",
    "run_on",
    "set_choice",
    "set_number",
    "start_at_jig",
    "start_by_eye",
    "tidy",
    "toggle",
    "turn_start",
    "turn_start_to",
    "typed",
    "typed_value",
    "uses",
    "with_kind",
    "with_number",
    "with_robot",
]

Place = int | Literal["start", "body", "drive", "run"]
"""A part of a run: a segment's number from 0, the start set by eye, the robot's body or drive, or the run itself."""

SEGMENT_WORDS = tuple(SEGMENTS)
"""The kinds of segment by the word a file has for each: straight, turn, arc ..."""

R = TypeVar("R", bound=Checked)
T = TypeVar("T")


@dataclass(frozen=True)
class Refused:
    """A change that cannot be; ``words`` say why, for the person who tried it."""

    words: str


def accepted(make: Callable[[], T]) -> T | Refused:
    """What ``make`` makes, or the model's own complaints: the first of them, and how many more there are."""
    try:
        return make()
    except PlanError as refused:
        lines = refused.lines[:_MOST_LINES]
        more = len(refused.lines) - len(lines)
        return Refused("\n".join([*lines, tr("and {n} more like this", n=more)] if more else lines))


# More complaints than anybody reads beside a pointer: a field made too small lets most things lie outside.
_MOST_LINES = 3


# --- numbers -----------------------------------------------------------------------------------------------------

# Steps of the wheel: a large one, and a small one that still matters on the table. By unit, but for what is small.
_STEPS: Mapping[Unit, tuple[float, float]] = {
    LENGTH: (10.0, 1.0),
    ANGLE: (5.0, 0.5),
    TIME: (0.5, 0.1),
    SPEED: (10.0, 1.0),
    TURN_SPEED: (10.0, 1.0),
    ACCELERATION: (50.0, 10.0),
}
_KEY_STEPS: Mapping[str, tuple[float, float]] = {"points": (5.0, 1.0), "gear": (0.1, 0.01)}
_SMALL_STEPS: Mapping[Unit, tuple[float, float]] = {LENGTH: (0.5, 0.1), ANGLE: (0.5, 0.1)}

_LABELS: Mapping[str, str] = {
    "about": tr_later("about"),
    "acceleration": tr_later("acceleration"),
    "across": tr_later("across"),
    "against": tr_later("against"),
    "along": tr_later("along"),
    "angle": tr_later("angle"),
    "at.x": "x",
    "at.y": "y",
    "axle": tr_later("axle from the rear face"),
    "capture": tr_later("largest angle off"),
    "center.x": tr_later("x of its middle"),
    "center.y": tr_later("y of its middle"),
    "corner.x": "x",
    "corner.y": "y",
    "distance": tr_later("distance"),
    "end.x": tr_later("x of its end"),
    "end.y": tr_later("y of its end"),
    "face": tr_later("face"),
    "gear": tr_later("gear"),
    "heading": tr_later("heading"),
    "heading_within": tr_later("heading give or take"),
    "height.high": tr_later("upper end"),
    "height.low": tr_later("lower end"),
    "length": tr_later("length"),
    "line": tr_later("line"),
    "may_touch": tr_later("may touch"),
    "motor_speed": tr_later("motor's top speed"),
    "passes": tr_later("passes"),
    "radius": tr_later("radius"),
    "reach": tr_later("reach"),
    "seconds": tr_later("seconds"),
    "size.across": tr_later("size across"),
    "size.along": tr_later("size along"),
    "size.x": tr_later("size from left to right"),
    "size.y": tr_later("size from near to far"),
    "speed": tr_later("speed"),
    "spread.across": tr_later("give or take across"),
    "spread.along": tr_later("give or take along"),
    "spread.heading": tr_later("give or take heading"),
    "start.x": tr_later("x of its start"),
    "start.y": tr_later("y of its start"),
    "takes": tr_later("takes"),
    "takes_sd": tr_later("takes, give or take"),
    "track": tr_later("track"),
    "turn_speed": tr_later("turning speed"),
    "walls.high": tr_later("upper end of the walls"),
    "walls.low": tr_later("lower end of the walls"),
    "wheel": tr_later("wheel's diameter"),
    "width": tr_later("width"),
    "within": tr_later("within"),
}


@dataclass(frozen=True)
class Dial:
    """A number that a user can change.

    ``value`` is None where a number may be left out and is; ``instead`` then holds in its place, if anything does. It
    is infinite for the upper end of a height without one. ``kind`` has the unit and the bounds, ``coarse`` and ``fine``
    are steps of the wheel in that unit, ``about`` is a sentence of the model on the whole attribute.
    """

    key: str
    label: str
    value: float | None
    kind: Number
    coarse: float
    fine: float
    about: str
    optional: bool = False
    instead: float | None = None

    @property
    def unit(self) -> str:
        """``mm``, ``degrees``, ``s`` ...; empty for a plain number."""
        return tr(self.kind.unit.symbol)

    @property
    def bounds(self) -> str:
        """What is accepted, in words."""
        return self.kind.accepted

    @property
    def text(self) -> str:
        """The value with its unit, or an empty text if there is none."""
        return "" if self.value is None or not isfinite(self.value) else self.kind.unit.show(self.value)


def dials_of(record: Checked, prefix: str = "", small: bool = False) -> tuple[Dial, ...]:
    """The numbers of a record of the model and of the records in it, in their order. Lists are left out."""
    found: list[Dial] = []
    for name, attribute in attributes(type(record)).items():
        value, key = getattr(record, name), f"{prefix}{name}"
        kind, optional = _unwrapped(attribute.kind)
        if isinstance(value, Checked):
            found += dials_of(value, f"{key}.", small or isinstance(value, Spread))
        elif isinstance(kind, Number):
            found.append(_dial(key, value, kind, small, attribute.about, optional))
        elif isinstance(kind, Pair) and value is not None:
            parts = zip(kind.words, value, strict=True)
            found += [_dial(f"{key}.{word}", each, kind.number, small, attribute.about) for word, each in parts]
        elif isinstance(kind, Height) and value is not None:
            found.append(_dial(f"{key}.low", value[0], kind.number, small, attribute.about))
            found.append(_dial(f"{key}.high", value[1], kind.top, small, attribute.about, optional=True))
    return tuple(found)


def _dial(key: str, value: float | None, kind: Number, small: bool, about: str, optional: bool = False) -> Dial:
    tail = key.removeprefix("shape.")
    steps = _KEY_STEPS.get(tail) or (_SMALL_STEPS if small else _STEPS).get(kind.unit, (1.0, 1.0))
    label = tr(_LABELS.get(tail) or tail.rpartition(".")[2].replace("_", " "))
    return Dial(key, label, value, kind, steps[0], steps[1], tr(about), optional)


def _unwrapped(kind: Kind) -> tuple[Kind, bool]:
    """A kind, and whether None is accepted too."""
    return (kind.kind, True) if isinstance(kind, Maybe) else (kind, False)


def with_number(record: R, key: str, value: float | None) -> R:
    """A record with another number at a key of `dials_of`, or at a corner such as ``shape.points.3.x``.

    None takes a number away that may be left out. Raises PlanError if the model refuses it, KeyError for an unknown
    key.
    """
    name, _, rest = key.partition(".")
    known = attributes(type(record))
    if name not in known:
        raise KeyError(key)
    kind, _ = _unwrapped(known[name].kind)
    if not rest and not isinstance(kind, Number):
        raise KeyError(key)
    here = getattr(record, name)
    return _with(record, **{name: _changed(here, kind, rest, value) if rest else value})


def _with(record: R, **values: Any) -> R:
    """`replace` for a record of whatever kind."""
    return cast(R, replace(cast(Any, record), **values))


def _changed(here: Any, kind: Kind, key: str, value: float | None) -> Any:
    if isinstance(here, Checked):
        return with_number(here, key, value)
    if not isinstance(here, tuple):
        raise KeyError(key)
    word, _, rest = key.partition(".")
    if isinstance(kind, Many):
        if not (rest and word.isdecimal() and int(word) < len(here)):
            raise KeyError(key)
        index, inner = int(word), kind.item
    else:
        words = ("low", "high") if isinstance(kind, Height) else kind.words if isinstance(kind, Pair) else ()
        if word not in words:
            raise KeyError(key)
        index, inner = words.index(word), kind
    # A height without an upper end is told by leaving it out.
    open_end = isinstance(kind, Height) and word == "high" and value is None
    new = _changed(here[index], inner, rest, value) if rest else inf if open_end else value
    return (*here[:index], new, *here[index + 1 :])


def parse_number(text: str, kind: Number, label: str = "this") -> float | Refused:
    """A number as somebody types it: as in a file (``62 cm``, ``620``, ``90 deg``), and with a decimal comma."""
    what = tr("{label} must be {what}", label=label, what=tr(kind.unit.what))
    written = text.strip().translate(_LOOKALIKES)
    if _THOUSANDS.match(written) and in_digits(".") == ".":
        meant = written.replace(",", "", 1)
        return Refused(
            tr(
                "{what}; does '{written}' mean {meant}, or {other}? Write that one",
                what=what,
                written=shown(written),
                meant=meant,
                other=written.replace(",", "."),
            )
        )
    if written.count(",") == 1 and "." not in written:
        written = written.replace(",", ".")
    if len(written) > _LONGEST:
        return Refused(tr("{what}; '{written}' is far too long for a number", what=what, written=shown(written)))
    # The file's reader takes a number without a unit for one; in quotes it would not.
    if kind.unit.bare and re.fullmatch(DECIMAL, written):
        return float(Decimal(written))
    try:
        return read_quantity(written, kind.unit)
    except UnitError as problem:
        hint = problem.hint or tr("such as {example}", example=tr(kind.unit.example).replace(chr(39), ""))
        return Refused(f"{what}; '{shown(text.strip())}' {shown(str(problem), 200)} ({shown(hint, 200)})")


_LOOKALIKES = str.maketrans({"\u2212": "-", "\u2013": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})
# 1,500 is one and a half to some and fifteen hundred to others; where the decimal mark is a comma, it is the former.
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")
_LONGEST = 40


def nudged(dial: Dial, steps: float, fine: bool) -> float:
    """A dial's value so many steps on: to its bound at most, and past 0 where 0 is refused."""
    kind, step = dial.kind, dial.fine if fine else dial.coarse
    start = dial.value if dial.value is not None and isfinite(dial.value) else dial.instead
    if start is None:
        start = max(0.0, kind.least) if isfinite(kind.least) else 0.0
    # In decimals, so that 0.1 three times is 0.3 and a step back is where one was.
    there = float(Decimal(repr(start)) + Decimal(repr(step)) * Decimal(repr(float(steps))))
    if kind.nonzero and there == 0.0:
        there = step if steps > 0 else -step
    return min(max(there, kind.least), kind.most)


def tidy(value: float) -> float:
    """A number to a thousandth, so that files stay readable: far less than anybody can measure, mm or degrees."""
    return round(value, 3) + 0.0


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
    record = _part(run, place)
    return () if record is None or record is run else dials_of(record)


def set_number(run: Run, place: Place, key: str, value: float | None) -> Run | Refused:
    """The run with another number; None leaves out what may be left out. Raises KeyError for an unknown key."""
    part = _part(run, place)
    if part is None:
        raise KeyError(key)
    return accepted(lambda: _with_part(run, place, with_number(part, key, value)))


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


def typed_value(dial: Dial, text: str) -> float | Refused | None:
    """What was typed for a dial; None for an empty text where the number may be left out."""
    if not text.strip():
        return (
            None
            if dial.optional
            else Refused(tr("{label} needs a number; accepted: {bounds}", label=dial.label, bounds=dial.bounds))
        )
    return parse_number(text, dial.kind, dial.label)


def reverse(run: Run, place: int, key: str) -> Run | Refused:
    """The other way: a number with the other sign."""
    value = _dial_at(run, place, key).value
    return set_number(run, place, key, None if value is None else -value)


def _dial_at(run: Run, place: Place, key: str) -> Dial:
    return find_dial(numbers_at(run, place), key)


def find_dial(dials: tuple[Dial, ...], key: str) -> Dial:
    """The dial of a key. Raises KeyError."""
    for dial in dials:
        if dial.key == key:
            return dial
    raise KeyError(key)


def _part(run: Run, place: Place) -> Checked | None:
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


def _with_part(run: Run, place: Place, part: Any) -> Run:
    match place:
        case int():
            return _with_segments(run, run.segments[:place], (part,), run.segments[place:][1:])
        case "start":
            return replace(run, start=part)
        case "run":
            return cast(Run, part)
        case _:
            return replace(run, robot=replace(run.robot, **{place: part}))


def _with_segments(run: Run, *stretches: tuple[Segment, ...]) -> Run:
    return replace(run, segments=sum(stretches, ()))


# --- words to choose from ----------------------------------------------------------------------------------------

# What it means to choose nothing, by attribute.
_NOTHING: Mapping[str, str] = {
    "about": tr_later("on the spot"),
    "finish": tr_later("anywhere"),
    "start": tr_later("by eye"),
}


@dataclass(frozen=True)
class Choices:
    """Words that a user can choose from. ``value`` is a word, or all that are chosen if it is ``many``; None stands for
    ``nothing`` ('on the spot', 'anywhere', 'by eye'), which is empty where a word is needed."""

    key: str
    label: str
    value: str | tuple[str, ...] | None
    options: tuple[str, ...]
    about: str
    nothing: str = ""
    names: bool = True
    """Are they names of things, which are the same in every language."""

    @property
    def many(self) -> bool:
        return isinstance(self.value, tuple)


def choices(run: Run, place: Place, possible: bool = True) -> tuple[Choices, ...]:
    """What can be chosen at a place; ``run`` has the start's jig, what is worn, and the finish.

    ``possible`` leaves out what the model would refuse, such as to push a face flat on something round.
    """
    record = _part(run, place)
    if record is None:
        return ()
    known = known_names(run.field, run.robot)
    found = []
    for name, attribute in attributes(type(record)).items():
        kind, optional = _unwrapped(attribute.kind)
        value, nothing = getattr(record, name), _NOTHING.get(name, "") if optional or name == "start" else ""
        label, nothing = tr(_LABELS.get(name, name)), tr(nothing)
        about = tr(attribute.about)
        if isinstance(kind, Choice):
            found.append(Choices(name, label, value, kind.options, about, nothing, names=False))
        elif (named := _named(kind)) is None:
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


def _named(kind: Kind) -> Named | None:
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
    record = _part(run, place)
    name, _, number = key.partition(".")
    if record is None or name not in attributes(type(record)):
        raise KeyError(key)
    if name == "start" and value is None:
        return start_by_eye(run)
    new: Any = value
    if number:
        words = getattr(record, name)
        new = (*words[: int(number)], value, *words[int(number) :][1:])
    return accepted(lambda: _with_part(run, place, _with(record, **{name: new})))


def toggle(run: Run, place: Place, key: str, word: str) -> Run | Refused:
    """The run with a word put into a list of words (``wear``, ``may_touch``), or taken out of it."""
    words: tuple[str, ...] = getattr(_part(run, place), key)
    new = tuple(each for each in words if each != word) if word in words else (*words, word)
    return set_choice(run, place, key, new)


def rename_run(run: Run, name: str) -> Run | Refused:
    """The run under another name."""
    return accepted(lambda: replace(run, name=name.strip()))


# --- segments ----------------------------------------------------------------------------------------------------


def kind_word(segment: Segment) -> str:
    """The word of a segment's kind in a file: straight, turn, line square ..."""
    return segment.key


def new_segment(run: Run, word: str, pose: Pose | None = None) -> Segment | Refused:
    """A segment of a kind of `SEGMENT_WORDS` to begin with; ``pose``, where the robot stands then, lets a square find
    its wall. Refused if the field or the robot lacks what it needs. Raises KeyError for an unknown word."""
    return FIRST[SEGMENTS[word]](run, pose)


def _new_act(run: Run, pose: Pose | None) -> Segment | Refused:
    """At the first target where nothing is done yet."""
    if not run.field.targets:
        return Refused(tr("an act needs a target, and the field has none: put one on the field first"))
    done = {segment.target for segment in run.segments if isinstance(segment, Act)}
    names = [target.name for target in run.field.targets]
    return Act(next((name for name in names if name not in done), names[0]), takes=2.0)


def _no_sight(run: Run, word: str) -> Refused | None:
    """Why no segment can look for a line, None if one can."""
    if not run.field.lines:
        return Refused(tr("'{word}' needs a line, and the field has none: put one on the field first", word=word))
    if not run.robot.sensors:
        return Refused(
            tr(
                "'{word}' needs a light sensor, and {name} has none: write one in its file",
                word=word,
                name=shown(run.robot.name),
            )
        )
    return None


def _new_until(run: Run, pose: Pose | None) -> Segment | Refused:
    return _no_sight(run, Until.key) or Until(run.field.lines[0].name, run.robot.sensors[0].name, 300.0)


def _new_line_square(run: Run, pose: Pose | None) -> Segment | Refused:
    """With the two sensors that are farthest apart."""
    if refused := _no_sight(run, LineSquare.key):
        return refused
    sides = sorted(run.robot.sensors, key=lambda sensor: sensor.at[1])
    if sides[0].at[1] == sides[-1].at[1]:
        return Refused(tr("'line square' needs two light sensors, one to the left of the other"))
    return LineSquare(run.field.lines[0].name, (sides[-1].name, sides[0].name), 150.0)


def _new_square(run: Run, pose: Pose | None) -> Segment | Refused:
    """With the face ahead or behind on the wall that is nearest to flush, if it is known where the robot stands."""
    field = run.field
    flat = [obstacle.name for obstacle in field.obstacles if not isinstance(obstacle.shape, Round)]
    if field.walls is None:
        if not flat:
            return Refused(tr("a square needs a wall or something with a flat side, and the field has neither"))
        return Square("front", flat[0], 150.0)
    if pose is None:
        return Square("rear", WALLS[0], 150.0)
    x, y, heading = pose
    # Outward headings and distances of the walls, in the order of WALLS.
    away = ((-90.0, y), (90.0, field.size[1] - y), (180.0, x), (0.0, field.size[0] - x))
    off = [min((abs(wrapped(heading + turned - out)), face) for turned, face in _FACES) for out, _ in away]
    best = min(range(4), key=lambda n: (round(off[n][0]), away[n][1]))
    reach = max(50.0, ceil((away[best][1] + 20.0) / 10.0) * 10.0)
    return accepted(lambda: Square("front" if off[best][1] == "front" else "rear", WALLS[best], reach))


_FACES = ((0.0, "front"), (180.0, "rear"))

# What a new segment of each kind is to begin with.
FIRST: Mapping[type[Checked], Callable[[Run, Pose | None], Segment | Refused]] = {
    Straight: lambda run, pose: Straight(200.0),
    Turn: lambda run, pose: Turn(90.0),
    Arc: lambda run, pose: Arc(45.0, 300.0),
    Square: _new_square,
    LineSquare: _new_line_square,
    Until: _new_until,
    Act: _new_act,
    Wait: lambda run, pose: Wait(1.0),
}


def add_segment(run: Run, index: int, segment: Segment) -> Run | Refused:
    """The run with a segment put in before segment ``index``; at the end if that is their number."""
    if not 0 <= index <= len(run.segments):
        raise IndexError(index)
    return accepted(lambda: _with_segments(run, run.segments[:index], (segment,), run.segments[index:]))


def copy_segment(run: Run, index: int) -> Run | Refused:
    """The run with a segment twice, one after the other."""
    # A value of its own, so that a file's comments stay with the first.
    return add_segment(run, index + 1, replace(run.segments[index]))


def remove_segment(run: Run, index: int) -> Run | Refused:
    """The run without a segment; the last one stays."""
    if len(run.segments) == 1:
        return Refused(tr("a run needs at least one segment; change this one, or add another first"))
    return accepted(lambda: _with_segments(run, run.segments[:index], run.segments[index:][1:]))


def move_segment(run: Run, index: int, to: int) -> Run | Refused:
    """The run with segment ``index`` in another place: it is segment ``to`` afterwards."""
    if not 0 <= to < len(run.segments):
        return Refused(tr("segments go from 1 to {n}", n=len(run.segments)))
    rest = run.segments[:index] + run.segments[index:][1:]
    return accepted(lambda: _with_segments(run, rest[:to], (run.segments[index],), rest[to:]))


def with_kind(run: Run, index: int, word: str, pose: Pose | None = None) -> Run | Refused:
    """The run with a segment of another kind in the place of one; what both have (a speed, an angle, how far) stays."""
    old = run.segments[index]
    if kind_word(old) == word:
        return run
    new = new_segment(run, word, pose)
    if isinstance(new, Refused):
        return new
    values = {name: getattr(old, name) for name in attributes(type(old))}
    if (way := values.get("distance", values.get("reach"))) is not None:
        if isinstance(old, Square) and old.face == "rear":
            way = -way
        if isinstance(new, Square):
            new = replace(new, reach=abs(way), face="front" if way > 0.0 else "rear")
        values |= {"distance": way, "reach": way}
    # Each angle off is usual for its own kind.
    values.pop("capture", None)
    kept: Segment = new
    for name in attributes(type(kept)):
        if name in values and not (isinstance(kept, Square) and name in ("reach", "face")):
            changed = accepted(lambda name=name, kept=kept: replace(kept, **{name: values[name]}))  # type: ignore[misc]
            kept = kept if isinstance(changed, Refused) else changed
    return accepted(lambda: _with_part(run, index, kept))


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
    kind, _ = _unwrapped(kind)
    if isinstance(value, str):
        named = _named(kind)
        return next((names[of, value] for of in (named.kinds if named else ()) if (of, value) in names), value)
    if isinstance(value, tuple) and isinstance(kind, Many):
        return tuple(_renamed(item, kind.item, names) for item in value)
    if isinstance(value, Checked) and isinstance(kind, Record | Either):
        new = {
            name: _renamed(getattr(value, name), attribute.kind, names)
            for name, attribute in attributes(type(value)).items()
        }
        return value if all(new[name] == getattr(value, name) for name in new) else _with(value, **new)
    return value


def uses(run: Run) -> Iterator[tuple[str, str]]:
    """What of the field a run uses: (kind, name), each once; a name may be an obstacle's or a wall's."""
    seen: dict[tuple[str, str], None] = {}

    def walk(value: Any, kind: Kind) -> None:
        kind, _ = _unwrapped(kind)
        if isinstance(value, str) and (named := _named(kind)) is not None:
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
