"""The answer of ``fieldsim match`` as values. Points and seconds; runs by their names; shares from 0 to 1."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.stats.intervals import Share


@dataclass(frozen=True)
class Estimate:
    """A mean over matches with its 95 % interval."""

    mean: float
    low: float
    high: float

    @property
    def truly(self) -> int:
        """1 or -1 if luck alone does not make it more or less than nothing, else 0."""
        return 1 if self.low > 0 else -1 if self.high < 0 else 0


@dataclass(frozen=True)
class ScoreAnswer:
    """The points of a match: the mean with its interval, and percentiles with theirs."""

    mean: Estimate
    sd: float
    p05: Estimate
    median: Estimate
    p95: Estimate


@dataclass(frozen=True)
class MatchRunAnswer:
    """One run in the matches of an order."""

    run: str
    points: Estimate
    """What it earns less what it costs to fetch the robot before it."""
    rescues: float
    """Points of that which go for fetching the robot before it, 0 or less."""
    seconds: Estimate
    """Driving and acting."""
    by_hand: Estimate
    """Making ready and fetching before it."""
    begun: Share
    success: Share
    """Got through in time, in any try."""
    cut: Share
    """Not begun for want of time, or cut off."""
    tries: float
    without: Estimate | None
    """What the match scores more if it is left out (mostly less than nothing); None for the only run."""
    lanes: tuple[tuple[float, float, float], ...]
    """When it starts for the first time and when it ends for good, seconds: 5th percentile, median, 95th of each, over
    the matches in which it was begun. Empty if it never was."""

    @property
    def per_second(self) -> float | None:
        """Points for each second it takes, by hand included."""
        taken = self.seconds.mean + self.by_hand.mean
        return self.points.mean / taken if taken > 0 else None


@dataclass(frozen=True)
class TimeSpent:
    """Where the seconds of a match go, on average."""

    driving: Estimate
    acting: Estimate
    changing: Estimate
    rescuing: Estimate
    left: Estimate


@dataclass(frozen=True)
class OrderAnswer:
    """The matches in one order of runs."""

    order: tuple[str, ...]
    score: ScoreAnswer
    inside: Share
    """Matches in which every run that could be of use was driven to its end before the limit."""
    runs: tuple[MatchRunAnswer, ...]
    spent: TimeSpent


@dataclass(frozen=True)
class BestAnswer:
    """The best order, chosen on other matches than it is judged on."""

    order: tuple[str, ...]
    dropped: tuple[str, ...]
    gain: Estimate
    """Points more than the written order, on the same fresh matches."""
    chosen_on: int
    tried: int
    exact: bool
    at_most_better: float
    """How many points better an order that was not looked at could be at most."""
    result: OrderAnswer


@dataclass(frozen=True)
class WorthAnswer:
    """What practice is worth in the written order. ``kind``: 'changeover', 'change', 'rescue', 'run' or 'success'."""

    kind: str
    what: str
    one: Estimate
    """Points for one second saved each time, or for one more success in a hundred tries."""
    five: Estimate
    """The same for five."""


@dataclass(frozen=True)
class RuleAnswer:
    """What to do next by the policy, at one place in the match. ``steps`` from much time left to little."""

    after: str
    """The run that was tried last; empty at the start."""
    through: bool
    still: tuple[str, ...]
    """Runs that could still be tried."""
    often: float
    """Share of matches that come here."""
    steps: tuple[tuple[float, str], ...]
    """With at least so many seconds left: the run to try next; empty for none."""


@dataclass(frozen=True)
class PolicyAnswer:
    """What it is worth to decide by the time that is left."""

    score: Estimate
    over_written: Estimate
    over_best: Estimate
    rules: tuple[RuleAnswer, ...]
    follows_best: Share
    """Matches in which the policy did just what the best order does."""
    knows: tuple[str, ...]
    """Runs it decides about: all of them, unless there are too many to look that far ahead."""


@dataclass(frozen=True)
class MatchAnswer:
    version: str
    match: str
    field: str
    robots: tuple[str, ...]
    limit: float
    rerun: str
    trials: int
    seed: int
    written: OrderAnswer
    best: BestAnswer
    worth: tuple[WorthAnswer, ...]
    policy: PolicyAnswer | None
    notes: tuple[str, ...]
