"""The answer of `try` as values. Faces (text, JSON, pictures) read it and compute nothing.

The other studies have theirs beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.stats.intervals import Share

Pose = tuple[float, float, float]
"""x, y in mm and heading in degrees, (-180, 180]."""


@dataclass(frozen=True)
class ContactAnswer:
    """How often a trial's first contact is with this obstacle on this segment."""

    obstacle: str
    segment: int
    share: Share


@dataclass(frozen=True)
class ClearanceAnswer:
    """Clearance to one obstacle over the run, mm; 0 where touched, ``horizon`` where that far or farther."""

    obstacle: str
    segment: int
    """Where it is tightest most often, counted from 1."""
    nominal: float
    p05: float
    p05_low: float
    p05_high: float
    median: float
    mean: float


@dataclass(frozen=True)
class RibbonAnswer:
    """Clearance to the nearest obstacle on one segment, mm."""

    segment: int
    nominal: float
    p05: float
    median: float
    p95: float


@dataclass(frozen=True)
class TargetAnswer:
    """How often an act had its tool point (and heading) in place. A miss is in mm, over the trials that came so far."""

    target: str
    segment: int
    share: Share
    nominal_miss: float
    miss_median: float | None
    miss_p95: float | None
    points: float
    within: float | None = None
    """How far off the target allows, mm, so that a face can tell a wrong aim from a wide spread. None if not told."""


@dataclass(frozen=True)
class SpreadAnswer:
    """Standard deviations of a pose: of its heading, degrees, and of its place, mm, square to a wall or line and along
    it."""

    heading: float
    away: float
    along: float


@dataclass(frozen=True)
class SquareAnswer:
    """A square, a line square or a drive until a line: how often it was caught, of all trials, and what it did."""

    segment: int
    on: str
    """The wall, obstacle or line."""
    share: Share
    missed: tuple[tuple[str, Share], ...]
    """How it failed in trials that had touched nothing before, such as ('too skew', share); most often first."""
    before: SpreadAnswer | None
    """The spread at the segment's beginning and at its end, over the trials that caught it; None for fewer than 2."""
    after: SpreadAnswer | None


@dataclass(frozen=True)
class FinishAnswer:
    """The pose at the end, over the trials that ended their run (None where none did)."""

    nominal: Pose
    mean: Pose | None
    sd: Pose | None
    covariance: tuple[Pose, Pose, Pose] | None
    met: Share | None
    """Share that ended inside the finish area, of all trials; None if the run names none."""


@dataclass(frozen=True)
class TimeAnswer:
    """Seconds, over the trials that ended their run."""

    nominal: float
    mean: float | None
    sd: float | None
    p95: float | None


@dataclass(frozen=True)
class UnknownAnswer:
    """What the tests of a robot leave unknown, as its success share: 95 % of the robots that fit them lie between."""

    low: float
    high: float
    mean: float
    """Over those robots: the share to bet on."""
    tests: int
    robots: int
    """How many of them were tried."""
    untold: tuple[str, ...]
    """Numbers of the accuracy block that no test tells of, taken as written."""


@dataclass(frozen=True)
class TryAnswer:
    version: str
    run: str
    field: str
    robot: str
    start: str
    trials: int
    seed: int
    asked: int | None
    """Trials asked for; None when grown to a half-width. More than ``trials`` when interrupted."""
    bare: bool
    """Tried without attachments and acts."""
    horizon: float
    """mm; a clearance is not followed farther than this."""
    success: Share
    clear: Share
    contacts: tuple[ContactAnswer, ...]
    clearance: tuple[ClearanceAnswer, ...]
    ribbon: tuple[RibbonAnswer, ...]
    targets: tuple[TargetAnswer, ...]
    finish: FinishAnswer
    time: TimeAnswer
    segments: tuple[str, ...]
    """Each segment in words, such as 'straight 420 mm'."""
    notes: tuple[str, ...] = ()
    """What is taken for granted and might surprise, such as a robot without an accuracy block."""
    squares: tuple[SquareAnswer, ...] = ()
    """Every square, line square and drive until a line, in order."""
    need: float | None = None
    """The share that was asked to get through, 0 to 1; None if nothing was asked."""
    stopped_early: bool = False
    """Growing to a half-width (``asked`` is None) was interrupted before it got there."""
    unknown: UnknownAnswer | None = None
    """What the robot's tests leave unknown; None if its file says nothing of that."""

    @property
    def ended(self) -> float:
        """Share of trials that came to their end: touched nothing, and caught every square and line."""
        return self.clear.share - sum(share.share for square in self.squares for _, share in square.missed)

    @property
    def interrupted(self) -> bool:
        """Whether fewer trials were done than were asked for."""
        return self.stopped_early or (self.asked is not None and self.trials < self.asked)

    @property
    def meets_need(self) -> bool | None:
        """Whether the share that gets through is at least ``need``; None if nothing was asked or no trial was done.

        One rule for every face and for the exit status. The interval may still reach to the other side of ``need``;
        the words say so where it does.
        """
        if self.need is None or self.trials == 0:
            return None
        return bool(self.success.share >= self.need)
