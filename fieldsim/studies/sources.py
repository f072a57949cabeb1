"""The sources of noise of a run: which rows of drawn numbers belong together, and what a team would call them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fieldsim.language import tr, tr_later
from fieldsim.model import Act, Arc, LineSquare, Run, Segment, Square, Straight, Turn, Until, Wait
from fieldsim.sim.drivetrain import (
    DAY,
    DISTANCE,
    GYRO,
    HOLD,
    RESIDUAL,
    SIGHT,
    SLIP,
    START,
    STOP,
    TIME,
    VEER,
    Drivetrain,
    Stream,
)
from fieldsim.sim.table import MAT, PLACE_OF_LINE, PLACE_OF_OBSTACLE, PLACE_OF_TARGET

__all__ = ["WAYS", "Source", "sources"]


@dataclass(frozen=True)
class Source:
    """Rows of drawn numbers that belong together."""

    words: str
    segment: int
    rows: tuple[int, ...]
    kind: str = ""
    """Such as 'stop'; the same whatever the language and the kind of segment."""


def sources(run: Run, train: Drivetrain) -> list[Source]:
    """Every source of noise of a run that has any effect, in words a team would use."""
    found: list[Source] = []
    row = 0
    spread = train.wheels.spread
    for stream in train.streams:
        rows = tuple(range(row, row + stream.rows))
        row += stream.rows
        if stream.source in _OF_THE_TABLE:
            found.append(Source(_of_the_table(run, stream), 0, rows))
            continue
        segment = run.segments[stream.segment - 1] if stream.segment else None
        match stream.source:
            case 0:  # START
                words = (
                    tr("placing along at the start"), tr("placing across at the start"),
                    tr("placing heading at the start"),
                )  # fmt: skip
                found += [
                    Source(word, 0, (r,), kind)
                    for word, r, sd, kind in zip(
                        words, rows, spread, ("placing-along", "placing-across", "placing-heading"), strict=True
                    )
                    if sd > 0
                ]
            case 1:  # DAY
                words = tr("distance of the day"), tr("veer of the day"), tr("turns of the day")
                found += [
                    Source(word, 0, (r,), kind)
                    for word, r, sd, kind in zip(
                        words, rows, train.wheels.day, ("day-distance", "day-veer", "day-turn"), strict=True
                    )
                    if sd > 0
                ]
            case 7:  # GYRO
                pair = tr("gyro's drift"), tr("gyro's scale")
                found += [
                    Source(word, 0, (r,), kind)
                    for word, r, sd, kind in zip(
                        pair, rows, train.wheels.gyro, ("gyro-drift", "gyro-scale"), strict=False
                    )
                    if sd > 0
                ]
            case 9:  # RESIDUAL
                accuracy = run.robot.accuracy.square
                left = tr("heading left by the square"), tr("distance left by the square")
                for word, r, sd, kind in zip(
                    left, rows, (accuracy.heading, accuracy.along), ("square-heading", "square-along"), strict=True
                ):
                    if sd > 0:
                        found.append(Source(word, stream.segment, (r,), kind))
            case _:
                kind = _KINDS.get(stream.source, "")
                found.append(Source(_words(stream.source, segment), stream.segment, rows, kind))
    return found


def _of_the_table(run: Run, stream: Stream) -> str:
    """What of the table is not where it was drawn."""
    if stream.source == MAT:
        return tr("how the mat lies")
    words, things = _OF_THE_TABLE[stream.source]
    return tr(words, thing=getattr(run.field, things)[stream.segment - 1].name)


def _words(source: int, segment: Segment | None) -> str:
    way = "" if segment is None else WAYS[type(segment)]
    return tr(_SOURCES.get((source, way)) or _OTHERS[source])


_OF_THE_TABLE = {
    PLACE_OF_OBSTACLE: (tr_later("where {thing} stands"), "obstacles"),
    PLACE_OF_LINE: (tr_later("where {thing} lies"), "lines"),
    PLACE_OF_TARGET: (tr_later("where {thing} is"), "targets"),
    MAT: ("", ""),
}

WAYS: Mapping[type[Segment], str] = {
    Straight: "straight",
    Turn: "turn",
    Arc: "arc",
    Square: "wall",
    LineSquare: "line",
    Until: "line",
    Act: "",
    Wait: "",
}
"""What each kind of segment drives, as the words of its noise call it."""

_SOURCES = {
    (DISTANCE, "straight"): tr_later("distance on the straight"),
    (DISTANCE, "arc"): tr_later("distance on the arc"),
    (DISTANCE, "turn"): tr_later("distance on the turn"),
    (DISTANCE, "wall"): tr_later("distance on the way to the wall"),
    (DISTANCE, "line"): tr_later("distance on the way to the line"),
    (VEER, "straight"): tr_later("veer on the straight"),
    (VEER, "arc"): tr_later("veer on the arc"),
    (VEER, "turn"): tr_later("veer on the turn"),
    (VEER, "wall"): tr_later("veer on the way to the wall"),
    (VEER, "line"): tr_later("veer on the way to the line"),
    (STOP, "straight"): tr_later("stop of the straight"),
    (STOP, "arc"): tr_later("stop of the arc"),
    (STOP, "turn"): tr_later("stop of the turn"),
    (STOP, "wall"): tr_later("stop of the way to the wall"),
    (STOP, "line"): tr_later("stop of the way to the line"),
    (SLIP, "straight"): tr_later("slip in the straight"),
    (SLIP, "arc"): tr_later("slip in the arc"),
    (SLIP, "turn"): tr_later("slip in the turn"),
    (SLIP, "wall"): tr_later("slip in the way to the wall"),
    (SLIP, "line"): tr_later("slip in the way to the line"),
    (HOLD, "straight"): tr_later("heading held on the straight"),
    (HOLD, "arc"): tr_later("heading held on the arc"),
    (HOLD, "turn"): tr_later("heading held on the turn"),
    (HOLD, "wall"): tr_later("heading held on the way to the wall"),
    (HOLD, "line"): tr_later("heading held on the way to the line"),
}
_KINDS = {
    DISTANCE: "distance", VEER: "veer", STOP: "stop", SLIP: "slip", HOLD: "hold", TIME: "time", SIGHT: "sight",
}  # fmt: skip
_OTHERS = {
    TIME: tr_later("time of the act"),
    SIGHT: tr_later("where the sensor sees the line"),
    START: tr_later("placing"),
    DAY: tr_later("the day"),
    GYRO: tr_later("the gyro"),
    RESIDUAL: tr_later("what the square leaves"),
}
