"""The answer of `slack` as values: how far the start may be off, and the maps over two errors at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, NamedTuple

from fieldsim.answers import Perhaps, Told, told_as
from fieldsim.stats.intervals import Share
from fieldsim.studies.own import LostAnswer

# The three ways a start can be off: along the heading, across it (mm), and in heading (degrees).
AXES = ("x", "y", "heading")

Pair = Annotated[tuple[Perhaps, Perhaps], "to the negative and to the positive side"]
HIDDEN = Told(hidden=True)


class Ends(NamedTuple):
    """What ends it there, to either side: 'share' (or 'edge', without noise), 'stands against NAME', or 'no end' where
    it goes on farther than was looked."""

    x: tuple[str, str]
    y: tuple[str, str]
    heading: tuple[str, str]


@dataclass(frozen=True)
class Edges:
    """How far the start may be off, each alone: mm along the heading (x) and across it (y), degrees of heading. Each a
    pair, how far to the negative and to the positive side."""

    x: Annotated[Pair, "mm, forwards positive"]
    y: Annotated[Pair, "mm, left positive"]
    heading: Annotated[Pair, "degrees, left positive"]
    ends: Annotated[Ends, "what ends it there"]


TwoEnds = Annotated[tuple[tuple[Perhaps, Perhaps], tuple[Perhaps, Perhaps]], "nearer and farther, to either side"]


@dataclass(frozen=True)
class Luck:
    """Where luck could have put each edge: where the lower and the upper end of the share's interval fall below the
    wanted one. The edge itself where something else ends it."""

    x: Annotated[TwoEnds, "mm"]
    y: Annotated[TwoEnds, "mm"]
    heading: Annotated[TwoEnds, "degrees"]


@dataclass(frozen=True)
class NeededEdges:
    """The edges at which the share that gets through falls below a wanted one."""

    need: float
    edges: Annotated[Edges, Told(spread=True)]


@dataclass(frozen=True)
class SlackMap:
    """Share that gets through over two offsets at once; of a map's axes only the two that it names are there."""

    across: Annotated[str, Told("what the columns are", one_of=AXES)]
    up: Annotated[str, Told("what the rows are", one_of=AXES)]
    columns: Annotated[tuple[float, ...], Told("mm or degrees", key_from="across")]
    rows: Annotated[tuple[float, ...], Told("mm or degrees", key_from="up")]
    share: Annotated[tuple[tuple[float | None, ...], ...], "a row for each value of 'up'; null where something stands"]
    """None where the robot cannot be set."""
    driven: Annotated[tuple[tuple[bool, ...], ...], "whether it was driven from there; else halfway between neighbours"]
    fine_columns: Annotated[tuple[float, ...], HIDDEN]
    fine_rows: Annotated[tuple[float, ...], HIDDEN]
    room: Annotated[tuple[tuple[float, ...], ...], HIDDEN]
    """The same without noise, finer: mm that are left before the run fails, negative where it fails."""


@dataclass(frozen=True, kw_only=True)
class SlackAnswer:
    """How far off the start may be: x along the start's heading, y to its left, mm and degrees."""

    command: ClassVar[Literal["slack"]] = "slack"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    start: str
    trials: Annotated[int, "that were done, or of each"]
    own_trials: Annotated[int, "of the planned start"]
    seed: int
    need: Annotated[float, HIDDEN]
    need_given: Annotated[bool, HIDDEN]
    """Asked for by the user; else nine tenths of what the planned start gets."""
    hopeless: Annotated[bool, Told("it gets through too seldom for a tenth less to mean anything: nothing was varied")]
    lost: Annotated[LostAnswer | None, "what goes wrong first most often at the planned start"]
    success: Annotated[Share, "at the planned start"]
    slack: Annotated[Edges, HIDDEN]
    luck: Annotated[Luck, "what luck could make of the edges with noise"]
    geometry: Annotated[Edges, Told("without any noise", after="needed")]
    maps: Annotated[tuple[SlackMap, ...], Told(after="first_map")]
    interrupted: Annotated[bool, HIDDEN] = False

    @property
    @told_as("even the planned start", after="success")
    def meets_need(self) -> bool:
        """Whether even the planned start gets through as often as asked."""
        return self.success.share >= self.need

    @property
    @told_as("with the robot's noise", key="slack", after="meets_need")
    def needed(self) -> NeededEdges:
        return NeededEdges(self.need, self.slack)

    @property
    @told_as(key="map", after="geometry")
    def first_map(self) -> SlackMap | None:
        return self.maps[0] if self.maps else None
