"""The answer of ``fieldsim match`` as values. Points and seconds; runs by their names; shares from 0 to 1."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, NamedTuple

from fieldsim.answers import Perhaps, Told, told_as
from fieldsim.model.match import Rerun
from fieldsim.stats.intervals import Share

Lane = Annotated[tuple[float, float, float], "5th percentile, median, 95th percentile"]
BESIDE = Told(beside=True)


@dataclass(frozen=True)
class Estimate:
    """A mean over matches with its 95 % interval."""

    mean: float
    low: Annotated[Perhaps, "lower end of the 95 % interval"]
    high: Annotated[Perhaps, "its upper end"]

    @property
    def truly(self) -> int:
        """1 or -1 if luck alone does not make it more or less than nothing, else 0."""
        return 1 if self.low > 0 else -1 if self.high < 0 else 0


@dataclass(frozen=True)
class ScoreAnswer:
    """The points of a match: the mean with its interval, and percentiles with theirs."""

    mean: Annotated[Estimate, Told(spread=True)]
    sd: float
    p05: Annotated[Estimate, BESIDE]
    median: Annotated[Estimate, BESIDE]
    p95: Annotated[Estimate, BESIDE]


@dataclass(frozen=True)
class MatchRunAnswer:
    """One run in the matches of an order."""

    run: str
    points: Annotated[Estimate, Told("on average", beside=True)]
    """What it earns less what it costs to fetch the robot before it."""
    rescues: Annotated[float, "points lost by fetching, 0 or less"]
    """Points of that which go for fetching the robot before it."""
    seconds: Annotated[Estimate, Told("driving and acting", only="mean")]
    by_hand: Annotated[Estimate, Told("seconds", only="mean")]
    """Making ready and fetching before it."""
    begun: Annotated[Share, Told(after="success")]
    success: Annotated[Share, Told("through in time", after="per_second")]
    """In any try."""
    cut: Annotated[Share, Told("late, or cut off by the limit", after="begun")]
    """Not begun for want of time, or cut off."""
    tries: Annotated[float, Told("on average", after="cut")]
    without: Annotated[Estimate | None, Told("points the match gains without it", after="tries")]
    """Mostly less than nothing; None for the only run."""
    lanes: Annotated[tuple[tuple[float, float, float], ...], Told(hidden=True)]
    """When it starts for the first time and when it ends for good, seconds: 5th percentile, median, 95th of each, over
    the matches in which it was begun. Empty if it never was."""

    @property
    @told_as("points", after="by_hand")
    def per_second(self) -> float | None:
        """Points for each second it takes, by hand included."""
        taken = self.seconds.mean + self.by_hand.mean
        return self.points.mean / taken if taken > 0 else None

    @property
    @told_as(after="without")
    def starts(self) -> Lane | None:
        """When it starts for the first time; None if it never did."""
        return self.lanes[0] if self.lanes else None

    @property
    @told_as(after="starts")
    def ends(self) -> Lane | None:
        """When it ends for good."""
        return self.lanes[1] if self.lanes else None


@dataclass(frozen=True)
class TimeSpent:
    """Where the seconds of a match go, on average."""

    driving: Annotated[Estimate, "seconds"]
    acting: Annotated[Estimate, "seconds"]
    changing: Annotated[Estimate, "seconds"]
    rescuing: Annotated[Estimate, "seconds"]
    left: Annotated[Estimate, "seconds"]


@dataclass(frozen=True)
class OrderAnswer:
    """The matches in one order of runs."""

    order: Annotated[tuple[str, ...], Told(hidden=True)]
    score: Annotated[ScoreAnswer, "points of a match"]
    inside: Annotated[Share, Told("there was time for every run, through or not", key="inside_clock")]
    """Matches in which every run that could be of use was driven to its end before the limit."""
    runs: tuple[MatchRunAnswer, ...]
    spent: TimeSpent


@dataclass(frozen=True)
class BestAnswer:
    """The best order, chosen on other matches than it is judged on."""

    order: tuple[str, ...]
    dropped: tuple[str, ...]
    gain: Annotated[Estimate, "points over the order as written"]
    """On the same fresh matches."""
    chosen_on: Annotated[int, "other matches"]
    tried: Annotated[int, "orders"]
    exact: Annotated[bool, "all of them"]
    at_most_better: Annotated[float, "points that an order that was not looked at could be better at most"]
    result: Annotated[OrderAnswer, Told(spread=True)]


@dataclass(frozen=True)
class WorthAnswer:
    """What practice is worth in the written order."""

    kind: Annotated[str, Told("what gets better", one_of=("changeover", "change", "rescue", "run", "success"))]
    what: str
    one: Annotated[Estimate, "points for a second, or one success more in 100"]
    """For one second saved each time, or for one more success in a hundred tries."""
    five: Annotated[Estimate, "the same for five"]


class RuleStep(NamedTuple):
    """With at least so many seconds left: the run to try next; empty for none."""

    seconds_left: Annotated[float, "at least"]
    run: Annotated[str, "empty: none"]


@dataclass(frozen=True)
class RuleAnswer:
    """What to do next by the policy, at one place in the match. ``steps`` from much time left to little."""

    after: Annotated[str, "the run tried last; empty at the start"]
    through: Annotated[bool, "it got through"]
    still: Annotated[tuple[str, ...], "runs that can still be tried"]
    often: Annotated[float, "share of matches that come here"]
    steps: tuple[RuleStep, ...]


@dataclass(frozen=True, kw_only=True)
class PolicyAnswer:
    """What it is worth to decide by the time that is left."""

    score: Estimate
    over_written: Estimate
    over_best: Estimate
    follows_best: Share
    """Matches in which the policy did just what the best order does."""
    rules: tuple[RuleAnswer, ...]
    """Where it leaves the best order."""
    rules_as_written: tuple[RuleAnswer, ...]
    """Where it leaves the order as written: what belongs beside that."""
    kept: tuple[RuleAnswer, ...]
    """Those of them that a team can keep in mind: each is worth more than luck explains, and an empty 'still' is
    whichever runs are still to come."""
    kept_worth: Annotated[Estimate, "points of these alone over the order as written"]
    knows: Annotated[tuple[str, ...], "runs it decides about"]
    """All of them, unless there are too many to look that far ahead."""


@dataclass(frozen=True)
class MatchAnswer:
    """What several runs score inside the clock."""

    command: ClassVar[Literal["match"]] = "match"
    version: Annotated[str, "of fieldsim"]
    match: str
    field: str
    robots: tuple[str, ...]
    limit: Annotated[float, "s"]
    rerun: Annotated[Rerun, "of the match's file"]
    trials: Annotated[int, "that were done, or of each"]
    seed: int
    written: Annotated[OrderAnswer, Told(spread=True)]
    best: BestAnswer
    worth: tuple[WorthAnswer, ...]
    policy: PolicyAnswer | None
    notes: tuple[str, ...]
