"""What `fieldsim log` answers: values only."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Perhaps, Told, told_as
from fieldsim.stats.intervals import Share

Verdict = Literal[
    "too hopeful",
    "too gloomy",
    "too hopeful as written",
    "too gloomy as written",
    "honest",
    "nothing against it",
    "too few to say",
]
MissVerdict = Literal["larger", "smaller", "larger as written", "smaller as written", "as forecast", "too few to say"]
TimeVerdict = Literal["slower", "faster", "as forecast", "too few to say"]

# A verdict against the forecast is one that luck would bring about in less than this share of honest logs.
LEVEL = 0.05
# Of two assumptions one is told from the other where it makes the log so many times likelier. Source: R. Royall,
# Statistical Evidence, 1997, calls 8 times fairly strong evidence (from memory).
RIVAL_TIMES = 8.0

# Fewer drives than this point at nothing: see `test_why_so_many_drives` in tests/test_logbook_beliefs.py, and fewer are
# not scored in words.
LEAST_POINTING = 10
LEAST_SCORED = 10


@dataclass(frozen=True)
class Fits:
    """What the robot's tests leave open: the same forecast over all robots that fit them."""

    tests: int
    low: float
    """Between which shares 95 % of them get through; over several runs the mean of the ends, the wide side."""
    high: float
    fewest: int
    """So many drives at least and at most get through in 19 of 20 logs, robots, days and chance all counted."""
    most: int
    p_value: float
    """How often a robot that fits the tests is at least so far from what such robots do on the whole."""


@dataclass(frozen=True)
class Judged:
    """What a forecast said and what happened. A verdict 'as written' holds for the robot as its file has it, but not
    for all robots that fit its tests."""

    drives: int
    through: int
    observed: Share
    """With its Wilson interval, which takes every drive for itself."""
    forecast: Share
    """Share of drives forecast to get through, with the interval of its trials; over several runs the mean over the
    drives, and of the intervals' ends too, which is on the wide side."""
    p_value: float
    """How often luck makes an honest forecast look at least so wrong (exact, two-sided, days counted as days)."""
    power: float
    """How often a forecast wrong by 0.2 would be found by such a log, whichever side is found less often."""
    needed: Annotated[int | None, "drives"]
    """Drives that would find it in 0.8 of logs, if they go on with as many a day; None if that is not in sight."""
    verdict: Verdict
    fewest: int
    """So many drives at least and at most get through in 19 of 20 logs of the robot as written."""
    most: int
    fits: Annotated[Fits | None, "the same with what the robot's tests leave unknown"]
    """None if nothing is said of what the tests leave open."""
    shows: Annotated[
        float | None, Told("a forecast wrong by this share would probably have been found", after="needed")
    ] = None
    """0.2, or as much more as it takes; None if it takes more than 0.4."""


@dataclass(frozen=True)
class WentWrong:
    """One way to fail."""

    result: str
    where: Annotated[str, Told(hidden=True)]
    """Empty where the log does not say at what."""
    counted: int
    forecast: Share | None
    """None where the log does not say at what."""
    surprise: Annotated[float | None, "p-value"]
    """How often luck brings about so many or more, over all robots that fit the tests; None where there is no
    forecast."""

    @property
    @told_as(key="where", after="result")
    def where_told(self) -> str | None:
        return self.where or None


@dataclass(frozen=True)
class MissLog:
    """Measured misses at a target against those of the trials that came there, mm."""

    target: str
    measured: int
    median: Annotated[float, "mm"]
    forecast_median: Annotated[Perhaps, "mm"]
    forecast_p95: Annotated[Perhaps, "mm"]
    place: Perhaps
    """Mean place of the measured misses among the forecast's, 0 (all smaller) to 1; one half if as forecast."""
    p_value: Perhaps
    needed: int
    """Measured misses that would find a mean place off by 0.2 in 0.8 of logs, with as many a day."""
    by_ending: bool
    """Not every drive that came there was measured, so each was held against trials that ended the same way."""
    verdict: MissVerdict
    p_fits: float | None
    """The same over all robots that fit the tests, None if nothing is said of them."""


@dataclass(frozen=True)
class TimeLog:
    """Measured seconds of the drives that got through against the trials that did."""

    measured: int
    mean: Annotated[Perhaps, "s"]
    least: Annotated[Perhaps, "s"]
    most: Annotated[Perhaps, "s"]
    forecast: Annotated[Perhaps, "s"]
    """Mean,"""
    forecast_low: Annotated[Perhaps, "s"]
    """and between what 19 of 20 trials are."""
    forecast_high: Annotated[Perhaps, "s"]
    off_low: Annotated[Perhaps, "s"]
    """Between what (95 %) the mean is off the forecast's, seconds."""
    off_high: Annotated[Perhaps, "s"]
    verdict: TimeVerdict


@dataclass(frozen=True)
class RunLog:
    """One run's drives."""

    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    judged: Annotated[Judged, Told(spread=True)]
    went_wrong: tuple[WentWrong, ...]
    """Most counted first."""
    misses: tuple[MissLog, ...]
    time: TimeLog | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Score:
    """A score of all forecasts, smaller is better, and what an honest forecast would get."""

    value: float
    expected: float
    low: float
    high: float
    """19 of 20 honest logs score between these."""


@dataclass(frozen=True)
class Scores:
    """How good all forecasts were."""

    brier: Score
    """Mean of (forecast - outcome) squared."""
    log: Score
    """Mean of minus the natural logarithm of what was forecast for what happened."""
    z: float | None
    """Spiegelhalter's: how far the Brier score is above what is expected, in standard deviations if every drive is for
    itself; None if every forecast is one half."""
    p_value: float | None
    """How often honest logs, with these days, have one at least so far from 0."""


@dataclass(frozen=True)
class Alternative:
    """One assumption changed: what is believed of the robot or of its start."""

    what: str
    """Of a spread 'start', 'straight', 'veer', 'turn', 'day', 'square', 'gyro'; of a shift 'distance', 'veer', 'turn',
    'along', 'across', 'heading'."""
    change: str
    """'double' or 'half' of a spread, 'more' or 'less' of a shift."""
    step: float
    """2 and 0.5 of a spread; of a shift how much, negative for less: shares, degrees per metre, mm or degrees. Several
    sizes of a shift are tried, and this is the likeliest."""
    gain: Perhaps
    """Natural logarithm of how many times likelier it makes the log."""
    through: Annotated[float, Told(key="success", after="times")]
    """Share of drives it forecasts to get through."""
    pointed: Annotated[bool, Told(after="through")]
    allowed: Annotated[bool, Told(after="pointed")] = False
    """The robot's tests allow this too: it lies within what they leave open."""

    @property
    @told_as(after="gain")
    def times(self) -> Perhaps:
        """How many times likelier it makes the log, at most e^50."""
        return exp(min(self.gain, 50.0))


@dataclass(frozen=True)
class Left:
    """A way to fail that is a surprise even with the change."""

    run: str
    result: str
    where: str
    counted: int
    expected: float
    """Drives forecast to fail so, with the change."""


@dataclass(frozen=True)
class Explained:
    """How much of the log the best change that it points at explains."""

    failed: int
    """Drives that did not get through,"""
    as_written: float
    """how many of them were forecast as the robot is written,"""
    changed: float
    """and how many with the change."""
    p_value: float
    """How often luck makes the forecast with the change look at least so wrong."""
    left: Annotated[tuple[Left, ...], Told(after="enough")]

    @property
    @told_as(after="p_value")
    def enough(self) -> bool:
        return self.p_value >= LEVEL and not self.left


@dataclass(frozen=True, kw_only=True)
class LogAnswer:
    """Forecasts against what happened at the table. ``together`` and ``scores`` are None for a log without drives."""

    command: ClassVar[Literal["log"]] = "log"
    version: Annotated[str, "of fieldsim"]
    trials: Annotated[int, "that were done, or of each"]
    """Of each run; alternatives are driven in a part of them."""
    seed: int
    drives: int
    days: int
    """How many different dates the log has."""
    undated: int
    """Drives without a date: taken to be of one day, which is the careful side."""
    one_day: Annotated[bool, "all on one day"]
    """All drives are of one day (or may be), although the robot is believed to differ from day to day."""
    together: Judged | None
    runs: tuple[RunLog, ...]
    alternatives: Annotated[tuple[Alternative, ...], "changes of the robot that would explain what went wrong"]
    """Likeliest first."""
    bar: Perhaps
    """What the gain must be above to be pointed at: 95 of 100 honest logs stay below it with all alternatives. Infinite
    if there are too few drives to point at anything, and nothing was changed."""
    explained: Explained | None
    """By the first of those pointed at."""
    scores: Scores | None

    @property
    def pointed(self) -> tuple[Alternative, ...]:
        return tuple(each for each in self.alternatives if each.pointed)

    @property
    def rivals(self) -> tuple[Alternative, ...]:
        """Of those pointed at, the best and whatever the log can hardly tell from it."""
        found = self.pointed
        return tuple(each for each in found if each.gain > found[0].gain - log(RIVAL_TIMES))
