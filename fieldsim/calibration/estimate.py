"""What the tests say of a robot, as values: numbers with their intervals, and what does not fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from fieldsim.calibration.repeatability import Repeatability
from fieldsim.calibration.square_path import SquarePathAnswer
from fieldsim.model import Likely

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Estimate:
    """One number of the accuracy block with its 95 % interval, in the model's units (shares, mm, degrees)."""

    name: str
    """Its place in the accuracy block, such as 'bias.turn'; 'tape' for the tape."""
    value: float
    low: float
    high: float
    """Infinite if the tests set no upper end."""
    tests: int
    """How many tests tell anything about it; for what differs from day to day, how many days."""
    taken: float | None = None
    """What a forecast is to take for it in place of ``value``, where that is nought and need not be."""

    @property
    def best(self) -> float:
        """What a forecast takes for it."""
        return self.value if self.taken is None else self.taken


@dataclass(frozen=True)
class Typed:
    """A number to type, at the speed its errors are told at, so that the robot does on average what is wanted."""

    kind: Literal["straight", "turn"]
    wanted: Annotated[float, "mm or degrees; left positive"]
    type: Annotated[float, "likewise"]


@dataclass(frozen=True)
class Outlier:
    """A test that does not fit the others: more than chance makes of any of them in 1 of 20 sheets."""

    line: int
    why: str


@dataclass(frozen=True)
class Misfit:
    """Something that is the same every time and that none of the model's numbers says."""

    by: str
    """What it goes with: 'side' (backwards against ahead, right against left), 'size' (the longest against the
    shortest), 'speed' (the fastest against the slowest), 'before' (after one that went the other way, against after
    one that went as it goes), 'order' (a day's last against its first), 'day' (the last day against the first)."""
    size: Estimate
    """How much more of the number there is; 'bias.kick' is the heading from the start on, degrees."""


@dataclass(frozen=True)
class Placed:
    """Placing by hand in one jig. Millimetres and degrees, seen along the heading meant."""

    jig: str | None
    """None if it was placed by eye."""
    tests: int
    spread: tuple[Estimate, ...]
    """Standard deviations 'along', 'across', 'heading'; those with fewer than two readings are missing."""
    off: tuple[Estimate, ...]
    """Means, likewise: how far from its place it stands on average."""
    repeatability: Repeatability | None
    """Of the held point and heading as a standard has it; None for fewer than two tests."""


@dataclass(frozen=True)
class Squared:
    """Pushing square on a wall."""

    tests: int
    slides: Estimate | None
    """The share of the way that a corner slides on rolling wheels which was measured: 0 where it sticks, 1 where it
    slides. None if nothing was measured along the wall."""
    corner: Literal["sticks", "slides"] | None
    """Which of the two it is; None if these tests do not tell."""
    numbers: tuple[Estimate, ...] = ()
    """What is left after the push: 'square.heading' and 'square.along' as far as they were measured."""
    caught: int = 0
    farthest: float = 0.0
    """The largest angle tried, degrees."""
    capture: Estimate | None = None
    """Up to which angle one in two swings flat, degrees; None unless some were caught and some were not."""


@dataclass(frozen=True)
class Drops:
    """Drop tests, counted."""

    passed: int
    failed: int
    came_off: tuple[tuple[str, int], ...]
    """What came off and how often, most often first."""


@dataclass(frozen=True)
class Fit:
    estimates: tuple[Estimate, ...]
    """Of the accuracy block."""
    perhaps: tuple[Estimate, ...]
    """Errors that are the same every time which the tests could not tell from nought: taken as nought, and between
    which ends robots that fit have them."""
    extras: tuple[str, ...]
    """Which of ``EXTRAS`` are kept among the estimates."""
    typed: tuple[Typed, ...]
    """What to type for some straights and turns."""
    together: tuple[tuple[str, str, float], ...]
    """Which numbers go together among the robots that fit, where it matters (more than 0.1 either way)."""
    robots: tuple[Likely, ...]
    """How robots that fit differ in each number that has an upper end (see ``posterior``)."""
    tape: Estimate | None
    """Standard deviation of how the tape is held and read, mm, beyond its steps; None where the tests cannot tell."""
    placed: tuple[Placed, ...]
    drops: Drops
    squared: Squared | None
    squares: tuple[SquarePathAnswer, ...]
    """What the classic formulas say of square paths driven both ways round."""
    outliers: tuple[Outlier, ...]
    tests: int
    driven: int
    """Those among them that were driven."""
    dates: int
    unknown: tuple[str, ...]
    """What these tests cannot tell, in words."""
    misfits: tuple[Misfit, ...] = ()
    """What the fitted numbers do not say, surest first."""
    looks: int = 0
    """From how many sides it was looked for."""
    grows: tuple[Estimate, ...] = ()
    """With which power of the speed stop errors grow, where tests at two speeds say anything of it."""

    def value(self, name: str) -> float | None:
        """An estimate's value, None if the tests do not tell it."""
        return next((each.value for each in self.estimates if each.name == name), None)
