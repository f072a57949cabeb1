"""Answers: what a command says, as values. Faces (text, JSON, pictures) read them and compute nothing."""

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


@dataclass(frozen=True)
class JigAnswer:
    """One start of the comparison."""

    jig: str
    by_eye: bool
    why_not: str | None
    """Why the run cannot start there; None if it can."""
    success: Share | None
    trials: int
    behind: Share | None
    """Share lost to the best start on the same trials; its interval tells whether that is luck."""
    dropped: bool
    """Given up before all trials were done, since it had no hope of being the best."""
    changed: tuple[str, ...]
    """Segments that were re-aimed, in words."""

    @property
    def fits(self) -> bool:
        return self.why_not is None

    @property
    def truly_behind(self) -> bool:
        """Whether the best is better than luck explains."""
        return self.behind is not None and self.behind.low > 0


@dataclass(frozen=True)
class JigsAnswer:
    """The starts of a run, best first; those that cannot be come last."""

    version: str
    run: str
    field: str
    robot: str
    start: str
    """The run's own start."""
    keep: str
    """'path' or 'targets'."""
    trials: int
    """Trials of the starts that were not dropped."""
    seed: int
    need: float | None
    jigs: tuple[JigAnswer, ...]
    interrupted: bool

    @property
    def best(self) -> JigAnswer | None:
        first = self.jigs[0] if self.jigs else None
        return first if first is not None and first.success is not None else None

    @property
    def meets_need(self) -> bool | None:
        """Whether the best start gets through at least as often as asked; None if nothing was asked."""
        if self.need is None:
            return None
        return self.best is not None and self.best.success is not None and self.best.success.share >= self.need


@dataclass(frozen=True)
class Edges:
    """How far the start may be off, each alone: mm along the heading (x, forwards positive) and across it (y, left
    positive), degrees of heading (left positive). Each a pair, how far to the negative and to the positive side."""

    x: tuple[float, float]
    y: tuple[float, float]
    heading: tuple[float, float]
    ends: tuple[tuple[str, str], tuple[str, str], tuple[str, str]]
    """What ends it there, for x, y and heading: 'share' (or 'edge', without noise), 'stands against NAME', or 'no end'
    where it goes on farther than was looked."""


@dataclass(frozen=True)
class SlackMap:
    """Share that gets through over two offsets at once. ``across`` and ``up`` name them: 'x', 'y' or 'heading'."""

    across: str
    up: str
    columns: tuple[float, ...]
    rows: tuple[float, ...]
    share: tuple[tuple[float | None, ...], ...]
    """One row of shares for each of ``rows``; None where the robot cannot be set: something stands there."""
    fine_columns: tuple[float, ...]
    fine_rows: tuple[float, ...]
    room: tuple[tuple[float, ...], ...]
    """The same without noise, finer: mm that are left before the run fails, negative where it fails."""


@dataclass(frozen=True)
class SlackAnswer:
    """How far off the start may be."""

    version: str
    run: str
    field: str
    robot: str
    start: str
    trials: int
    seed: int
    need: float
    need_given: bool
    """Asked for by the user; else nine tenths of what the planned start gets."""
    success: Share
    """At the planned start."""
    slack: Edges
    geometry: Edges
    maps: tuple[SlackMap, ...]
    interrupted: bool = False

    @property
    def meets_need(self) -> bool:
        """Whether even the planned start gets through as often as asked."""
        return self.success.share >= self.need


@dataclass(frozen=True)
class LostAnswer:
    """What went wrong first, in how many trials, and the numbers of a few of them, from 1."""

    why: str
    """'touches', 'misses', how a square or line was not caught, or 'ends outside'."""
    what: str
    segment: int
    count: int
    examples: tuple[int, ...]


@dataclass(frozen=True)
class RunAnswer:
    """One run of a comparison."""

    run: str
    field: str
    robot: str
    success: Share
    seconds: float
    """Mean over the trials that came to their end; not-a-number if none did."""
    lost: tuple[LostAnswer, ...]


@dataclass(frozen=True)
class DifferenceAnswer:
    """Two runs on the same trials."""

    first: str
    second: str
    difference: Share
    """Share of the first less that of the second."""
    only_first: int
    """Trials that only the first gets through,"""
    only_second: int
    second_lost: tuple[LostAnswer, ...]
    """and what went wrong in the second there."""
    first_lost: tuple[LostAnswer, ...]

    @property
    def truly(self) -> int:
        """1 if the first is better than luck explains, -1 if the second is, else 0."""
        return 1 if self.difference.low > 0 else -1 if self.difference.high < 0 else 0


@dataclass(frozen=True)
class CompareAnswer:
    version: str
    trials: int
    seed: int
    runs: tuple[RunAnswer, ...]
    differences: tuple[DifferenceAnswer, ...]


@dataclass(frozen=True)
class WidthAnswer:
    """One value of what is varied."""

    value: float
    success: Share
    behind: Share
    """Share lost to the robot as it is, on the same trials."""
    lost: LostAnswer | None
    """What goes wrong first most often; None if nothing does."""


@dataclass(frozen=True)
class WidestAnswer:
    """The largest value at which the wanted share still gets through."""

    value: float
    low: float
    """What luck could make of it: the largest values whose share's lower and upper end are the wanted one."""
    high: float
    beyond: bool
    """Nothing that was looked at fails: the largest may be larger still."""
    lost: LostAnswer | None
    """What goes wrong most often with the next larger one that fails."""
    obstacle: str | None
    """The obstacle, if that is a contact,"""
    segment: int | None
    """and where it goes wrong."""


@dataclass(frozen=True)
class RoomAnswer:
    """Without noise: the largest value before something is touched, or the run fails otherwise."""

    value: float
    obstacle: str | None
    segment: int | None


@dataclass(frozen=True)
class WidthsAnswer:
    """The share that gets through against one measure of the base."""

    version: str
    run: str
    field: str
    robot: str
    vary: str
    """'width', 'length', 'axle', 'track', 'wheel' or 'speed'."""
    unit: str
    track_moves: bool
    now: float
    """The robot's own value."""
    trials: int
    seed: int
    need: float
    need_given: bool
    values: tuple[WidthAnswer, ...]
    refused: tuple[tuple[float, str], ...]
    """Values that cannot be, and why."""
    widest: WidestAnswer | None
    """None if none that was looked at gets through as often as wanted."""
    geometry: RoomAnswer | None
    """None if the run fails without noise at the smallest value already."""
    places: tuple[RoomAnswer, ...]
    """The same for each obstacle alone, tightest first; those that never matter are left out."""

    @property
    def meets_need(self) -> bool:
        return self.widest is not None


@dataclass(frozen=True)
class SourceAnswer:
    """What one source of noise makes of the spread of one thing."""

    of: str
    """'finish x', 'finish heading', 'miss of NAME', 'gap to NAME' ..."""
    source: str
    """In words, such as 'slip in the turn'."""
    segment: int
    """0 for what is drawn once a run."""
    first: float
    """Share of the variance that it makes by itself (first order),"""
    total: float
    """and with all it has a hand in (total)."""


@dataclass(frozen=True)
class FailureAnswer:
    """What one source of noise makes of the failures."""

    source: str
    segment: int
    alone: Share
    """Share that fails if there is no other noise."""
    without: Share
    """Share that fails if there is all noise but this."""
    worth: Share
    """How many fewer fail without it, on the same trials."""


@dataclass(frozen=True)
class MendAnswer:
    """A change that was tried against the most important source."""

    what: str
    success: Share
    gain: Share
    """Share more than as planned."""


@dataclass(frozen=True)
class CausesAnswer:
    version: str
    run: str
    field: str
    robot: str
    trials: int
    seed: int
    success: Share
    quiet: bool
    """Whether the run gets through without any noise."""
    spread: tuple[SourceAnswer, ...]
    """For each thing, its sources by their total share, largest first."""
    sds: tuple[tuple[str, float, str], ...]
    """Standard deviation of each thing, with its unit."""
    failures: tuple[FailureAnswer, ...]
    """By what each is worth, most first."""
    mends: tuple[MendAnswer, ...]
