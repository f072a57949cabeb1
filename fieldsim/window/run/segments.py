"""Segments of a run put in, copied, moved, taken out, and made another kind: each a function from a run to a run, or to
the plain words why it cannot be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import ceil

from fieldsim.files.forms import SEGMENTS
from fieldsim.language import tr
from fieldsim.model import (
    WALLS,
    Act,
    Arc,
    LineSquare,
    Round,
    Run,
    Segment,
    Square,
    Straight,
    Turn,
    Until,
    Wait,
)
from fieldsim.model.bounds import (
    Checked,
    attributes,
)
from fieldsim.model.errors import shown
from fieldsim.sim.motion import Pose, wrapped
from fieldsim.window.dials import Refused, accepted
from fieldsim.window.run.edits import with_part, with_segments

__all__ = [
    "FIRST",
    "SEGMENT_WORDS",
    "add_segment",
    "copy_segment",
    "kind_word",
    "move_segment",
    "new_segment",
    "remove_segment",
    "with_kind",
]


SEGMENT_WORDS = tuple(SEGMENTS)
"""The kinds of segment by the word a file has for each: straight, turn, arc ..."""


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
    return accepted(lambda: with_segments(run, run.segments[:index], (segment,), run.segments[index:]))


def copy_segment(run: Run, index: int) -> Run | Refused:
    """The run with a segment twice, one after the other."""
    # A value of its own, so that a file's comments stay with the first.
    return add_segment(run, index + 1, replace(run.segments[index]))


def remove_segment(run: Run, index: int) -> Run | Refused:
    """The run without a segment; the last one stays."""
    if len(run.segments) == 1:
        return Refused(tr("a run needs at least one segment; change this one, or add another first"))
    return accepted(lambda: with_segments(run, run.segments[:index], run.segments[index:][1:]))


def move_segment(run: Run, index: int, to: int) -> Run | Refused:
    """The run with segment ``index`` in another place: it is segment ``to`` afterwards."""
    if not 0 <= to < len(run.segments):
        return Refused(tr("segments go from 1 to {n}", n=len(run.segments)))
    rest = run.segments[:index] + run.segments[index:][1:]
    return accepted(lambda: with_segments(run, rest[:to], (run.segments[index],), rest[to:]))


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
    return accepted(lambda: with_part(run, index, kept))
