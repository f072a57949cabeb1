"""The answer of `try` as values. Faces (text, JSON, pictures) read it and compute nothing.

The other studies have theirs beside them. How an annotation tells a key of the JSON: see `fieldsim.answers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Annotated, ClassVar, Literal, NamedTuple

from fieldsim.answers import Perhaps, Told, told_as
from fieldsim.stats.intervals import Share

Pose = tuple[float, float, float]
"""x, y in mm and heading in degrees, (-180, 180]."""
POSE = "x and y in mm, heading in degrees; field frame"
ToldPose = Annotated[tuple[Perhaps, Perhaps, Perhaps], POSE]
"""The same for an answer."""
Row = tuple[Perhaps, Perhaps, Perhaps]

Spread = Told(spread=True)
"""A share whose ends stand among the keys beside it."""


@dataclass(frozen=True)
class ContactAnswer:
    """How often a trial's first contact is with this obstacle on this segment."""

    obstacle: str
    segment: int
    share: Annotated[Share, Spread]
    driven: Annotated[Perhaps, "mm from the start until then, planned ways; mean over those trials"] = inf


@dataclass(frozen=True)
class ClearanceAnswer:
    """Clearance to one obstacle over the run, mm; 0 where touched, ``horizon`` where that far or farther."""

    obstacle: str
    segment: Annotated[int, "where it is tightest most often"]
    nominal: Annotated[Perhaps, "mm, as planned"]
    p05: Annotated[Perhaps, "mm left in 19 of 20 trials"]
    p05_low: Perhaps
    p05_high: Perhaps
    median: Perhaps
    mean: Perhaps
    stands: Annotated[bool, "it is set against it, and comes near it no more as planned"] = False


@dataclass(frozen=True)
class RibbonAnswer:
    """Clearance to the nearest obstacle on one segment, mm."""

    segment: int
    nominal: Perhaps
    p05: Perhaps
    median: Perhaps
    p95: Perhaps


@dataclass(frozen=True)
class FirstAnswer:
    """What went wrong first, and in how many trials: nothing before it was wrong in these."""

    why: Annotated[str, "'touches', 'misses', 'ends outside', or how a square or line was not caught"]
    what: Annotated[str, "what was touched, missed or not caught"]
    segment: Annotated[int, "counted from 1"]
    count: Annotated[int, "trials"]
    share: Annotated[Share, Spread]


@dataclass(frozen=True)
class TargetAnswer:
    """How often an act had its tool point (and heading) in place. A miss is in mm, over the trials that came so far."""

    target: str
    segment: int
    share: Annotated[Share, Spread]
    nominal_miss: Annotated[Perhaps, "mm, as planned"]
    miss_median: Annotated[float | None, "mm"]
    miss_p95: Annotated[float | None, "mm"]
    points: Annotated[Perhaps, Told(after="within")]
    within: Annotated[float | None, Told("mm allowed", after="miss_p95")] = None
    """How far off the target allows, so that a face can tell a wrong aim from a wide spread. None if not told."""


@dataclass(frozen=True)
class SpreadAnswer:
    """Standard deviations of a pose: of its heading, and of its place square to a wall or line and along it."""

    heading: Annotated[float, "degrees"]
    away: Annotated[float, "mm"]
    along: Annotated[float, "mm"]


class Missed(NamedTuple):
    """One way in which a square or line was not caught."""

    why: str
    share: Annotated[Share, Spread]


@dataclass(frozen=True)
class SquareAnswer:
    """A square, a line square or a drive until a line: how often it was caught, of all trials, and what it did."""

    segment: int
    on: Annotated[str, "the wall, obstacle or line"]
    share: Annotated[Share, Spread]
    missed: tuple[Missed, ...]
    """How it failed in trials that had touched nothing before, such as ('too skew', share); most often first."""
    before: Annotated[SpreadAnswer | None, "standard deviations"]
    """The spread at the segment's beginning and at its end, over the trials that caught it; None for fewer than 2."""
    after: Annotated[SpreadAnswer | None, "standard deviations"]
    of_those: Annotated[Share | None, "caught, of the trials that came there"] = None
    """That had touched nothing and caught all before; None if it is not told."""


@dataclass(frozen=True)
class FinishAnswer:
    """The pose at the end, over the trials that ended their run (None where none did)."""

    nominal: ToldPose
    mean: ToldPose | None
    sd: Annotated[ToldPose | None, "standard deviations"]
    covariance: Annotated[tuple[Row, Row, Row] | None, "3 by 3, mm and degrees"]
    met: Annotated[Share | None, "ended inside the finish"]
    """Of all trials; None if the run names no finish."""


@dataclass(frozen=True)
class TimeAnswer:
    """Seconds, over the trials that ended their run."""

    nominal: Annotated[Perhaps, "s, planned"]
    mean: Annotated[float | None, "s"]
    sd: Annotated[float | None, "s"]
    p95: Annotated[float | None, "s"]


@dataclass(frozen=True)
class UnknownAnswer:
    """What the tests of a robot leave unknown, as its success share: 95 % of the robots that fit them lie between."""

    low: float
    high: float
    mean: float
    """Over those robots: the share to bet on."""
    tests: int
    robots: Annotated[int, "that were tried"]
    untold: Annotated[tuple[str, ...], "numbers that no test tells of"]
    """Those of the accuracy block; they are taken as written."""


@dataclass(frozen=True)
class RemedyAnswer:
    """A change to the run that was tried, against the run as it is."""

    kind: Annotated[str, "what kind of change"]
    """Such as 'half speed'; the same whatever the language. 'pair' is two of them."""
    what: Annotated[str, "what is to be typed where"]
    success: Share
    worth: Annotated[Share, "of the changed run less that of the run as it is, on the same trials"]
    seconds: Annotated[float, "how much longer it takes, planned"]
    holds: Annotated[float | None, "share of the robots that fit the tests that it helps"] = None
    """None where no file says what the tests leave open, or it was not tried with these."""
    assumed: bool = False
    """It drives at another speed, and that stop errors grow in proportion to the speed is assumed, not measured."""


@dataclass(frozen=True)
class OffAnswer:
    """Where the tool point is in the middle of the trials when it acts, seen from the robot: too far that way, mm."""

    target: str
    segment: int
    ahead: Annotated[float, "mm too far ahead; short of it if negative"]
    left: Annotated[float, "mm too far to the left; to the right if negative"]


@dataclass(frozen=True)
class ProgramAnswer:
    """Values for the robot's own program that would make its distances and turns right, and what that is worth."""

    wheel: Annotated[float, "mm, the diameter"]
    track: Annotated[float, "mm"]
    worth: Annotated[Share, "of the run with them less that of the run as it is, on the same trials"]


@dataclass(frozen=True)
class RemediesAnswer:
    """What was tried to make a run better, and what that was worth on trials that had no part in the choice."""

    trials: Annotated[int, "fresh trials of each remedy"]
    screened: Annotated[int, "trials of each change that was tried first"]
    off: tuple[OffAnswer, ...]
    """For each act that a trial came to."""
    program: ProgramAnswer | None
    """None where the robot's program is right, as far as is known."""
    good: tuple[RemedyAnswer, ...]
    """Remedies that are better than luck explains, by their worth, most first."""
    vain: tuple[RemedyAnswer, ...]
    """What was tried besides and is not; shares of the few trials it was tried with first."""


@dataclass(frozen=True, kw_only=True)
class TryAnswer:
    """How often a run gets through, where it touches, and how tight it is."""

    command: ClassVar[Literal["try"]] = "try"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    start: Annotated[str, "the jig's name, or by eye"]
    bare: Annotated[bool, "without attachments and acts"]
    trials: Annotated[int, "that were done"]
    asked: Annotated[int | None, "trials asked for; null: grown to a half-width"]
    """More than ``trials`` when interrupted."""
    seed: int
    need: Annotated[float | None, "the share that was wanted"] = None
    horizon: Annotated[Perhaps, "mm: gaps are not followed farther"]
    success: Annotated[Share, "touched nothing it may not, hit every target, ended inside its finish"]
    clear: Annotated[Share, "touched nothing it may not"]
    unknown: UnknownAnswer | None = None
    """What the robot's tests leave unknown; None if its file says nothing of that."""
    remedies: RemediesAnswer | None = None
    """What was tried against its failures; None if it was not looked for, or hardly anything fails."""
    contacts: Annotated[tuple[ContactAnswer, ...], "first contacts, most often first"]
    first: tuple[FirstAnswer, ...] = ()
    """What went wrong first, most often first: together all trials that did not get through."""
    clearance: Annotated[tuple[ClearanceAnswer, ...], "gaps, tightest first, mm"]
    ribbon: Annotated[tuple[RibbonAnswer, ...], "the gap to the nearest obstacle on each segment, mm"]
    targets: tuple[TargetAnswer, ...]
    squares: tuple[SquareAnswer, ...] = ()
    """Every square, line square and drive until a line, in order."""
    finish: Annotated[FinishAnswer, "over the trials that ended their run"]
    time: TimeAnswer
    segments: Annotated[tuple[str, ...], "each in words"]
    """Such as 'straight 420 mm'."""
    notes: Annotated[tuple[str, ...], "what is taken for granted"] = ()
    """And might surprise, such as a robot without an accuracy block."""
    stopped_early: Annotated[bool, Told(hidden=True)] = False
    """Growing to a half-width (``asked`` is None) was interrupted before it got there."""

    @property
    def ended(self) -> float:
        """Share of trials that came to their end: touched nothing, and caught every square and line."""
        return self.clear.share - sum(share.share for square in self.squares for _, share in square.missed)

    @property
    def outside(self) -> float:
        """Share of trials in which all is right but where they end."""
        return sum(each.share.share for each in self.first if each.why == "ends outside")

    @property
    @told_as("fewer than asked", after="asked")
    def interrupted(self) -> bool:
        """Whether fewer trials were done than were asked for."""
        return self.stopped_early or (self.asked is not None and self.trials < self.asked)

    @property
    @told_as("the share that gets through is at least that", after="need")
    def meets_need(self) -> bool | None:
        """Whether the share that gets through is at least ``need``; None if nothing was asked or no trial was done.

        One rule for every face and for the exit status. The interval may still reach to the other side of ``need``;
        the words say so where it does.
        """
        if self.need is None or self.trials == 0:
            return None
        return bool(self.success.share >= self.need)
