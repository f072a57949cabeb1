"""Answers of ``fieldsim try`` made up by hand for the tests of the faces: every name and number here is invented.

Only the intervals of shares are computed, by ``fieldsim.stats.intervals.wilson``, so that a share and its
interval fit together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.answer import (
    ClearanceAnswer,
    ContactAnswer,
    FinishAnswer,
    FirstAnswer,
    Missed,
    RibbonAnswer,
    SpreadAnswer,
    SquareAnswer,
    TargetAnswer,
    TimeAnswer,
    TryAnswer,
)

SEGMENTS = (
    "straight 420 mm",
    "turn -90 degrees",
    "straight 610 mm",
    "arc 45 degrees, radius 300 mm",
    "act lever",
    "straight -300 mm",
)
HORIZON = 200.0


def first(n: int, *rows: tuple[str, str, int, int]) -> tuple[FirstAnswer, ...]:
    """What went wrong first: why, what, segment, and in how many of ``n``."""
    return tuple(FirstAnswer(why, what, segment, count, wilson(count, n)) for why, what, segment, count in rows)


def spread_is_the_trouble() -> TryAnswer:
    """A good plan that a wide spread spoils now and then: 871 of 1000."""
    n = 1000
    return TryAnswer(
        version="0.1.0",
        run="Flour round",
        field="Bakery yard",
        robot="Box one",
        start="corner block",
        trials=n,
        seed=7,
        asked=n,
        bare=False,
        horizon=HORIZON,
        success=wilson(871, n),
        clear=wilson(893, n),
        contacts=(
            ContactAnswer("mill", 3, wilson(71, n)),
            ContactAnswer("oven", 4, wilson(30, n)),
            ContactAnswer("far wall", 4, wilson(5, n)),
            ContactAnswer("oven", 6, wilson(1, n)),
        ),
        first=first(
            n,
            ("touches", "mill", 3, 71),
            ("touches", "oven", 4, 30),
            ("misses", "lever", 5, 22),
            ("touches", "far wall", 4, 5),
            ("touches", "oven", 6, 1),
        ),
        clearance=(
            ClearanceAnswer("mill", 3, 12.4, 0.0, 0.0, 0.0, 11.9, 12.0),
            ClearanceAnswer("oven", 4, 18.31, 3.17, 2.64, 3.91, 17.6, 17.7),
            ClearanceAnswer("far wall", 4, 31.0, 14.62, 12.9, 16.4, 30.2, 30.4),
            ClearanceAnswer("flour bin", 1, 44.9, 40.26, 39.9, 40.52, 44.8, 44.8),
            ClearanceAnswer("counter", 3, 130.2, 118.0, 116.2, 119.9, 130.0, 129.8),
            ClearanceAnswer("handcart", 3, 160.0, 151.0, 150.2, 152.0, 160.0, 159.8),
            ClearanceAnswer("crate", 6, 200.0, 200.0, 200.0, 200.0, 200.0, 200.0),
        ),
        ribbon=(
            RibbonAnswer(1, 44.9, 40.3, 44.8, 49.1),
            RibbonAnswer(2, 52.0, 47.5, 52.0, 56.4),
            RibbonAnswer(3, 12.4, 0.0, 11.9, 24.2),
            RibbonAnswer(4, 18.3, 3.2, 17.6, 33.0),
            RibbonAnswer(5, 21.0, 6.1, 20.5, 36.0),
            RibbonAnswer(6, 20.9, 6.0, 20.4, 36.0),
        ),
        targets=(TargetAnswer("lever", 5, wilson(871, n), 0.21, 3.42, 7.88, 20.0, 8.0),),
        finish=FinishAnswer(
            (1512.3, 884.7, 45.0),
            (1513.1, 886.0, 45.42),
            (3.31, 6.18, 1.27),
            ((10.96, 2.1, 0.4), (2.1, 38.2, 3.9), (0.4, 3.9, 1.61)),
            None,
        ),
        time=TimeAnswer(14.26, 14.27, 0.31, 14.81),
        segments=SEGMENTS,
    )


def gap_too_small() -> TryAnswer:
    """The plan itself leaves 3.2 mm; asked for 95 in 100 and not met."""
    n = 2000
    return replace(
        spread_is_the_trouble(),
        trials=n,
        asked=n,
        need=0.95,
        success=wilson(1210, n),
        clear=wilson(1210, n),
        contacts=(ContactAnswer("oven", 4, wilson(790, n)),),
        first=first(n, ("touches", "oven", 4, 790)),
        clearance=(
            ClearanceAnswer("oven", 4, 3.26, 0.0, 0.0, 0.0, 2.9, 4.1),
            ClearanceAnswer("mill", 3, 60.0, 48.13, 47.9, 48.4, 59.8, 59.8),
        ),
        targets=(TargetAnswer("lever", 5, wilson(1210, n), 0.21, 2.1, 4.4, 20.0, 8.0),),
    )


def drifts_to_one_side() -> TryAnswer:
    """Planned 30 mm, half of the trials under 9 mm: the same error every time."""
    n = 1000
    return replace(
        spread_is_the_trouble(),
        success=wilson(905, n),
        clear=wilson(905, n),
        contacts=(ContactAnswer("flour bin", 6, wilson(95, n)),),
        first=first(n, ("touches", "flour bin", 6, 95)),
        clearance=(ClearanceAnswer("flour bin", 6, 30.0, 0.0, 0.0, 0.0, 8.4, 8.9),),
        targets=(),
    )


def all_fine() -> TryAnswer:
    """Nothing touched in 10 000 trials; the finish is met in all but one."""
    n = 10_000
    return replace(
        spread_is_the_trouble(),
        trials=n,
        asked=None,
        need=0.99,
        success=wilson(n - 1, n),
        clear=wilson(n, n),
        contacts=(),
        first=first(n, ("ends outside", "", 6, 1)),
        clearance=(
            ClearanceAnswer("oven", 4, 28.31, 13.17, 13.0, 13.31, 27.6, 27.7),
            ClearanceAnswer("mill", 3, 32.4, 20.55, 20.4, 20.6, 31.9, 32.0),
        ),
        targets=(TargetAnswer("lever", 5, wilson(n, n), 0.0, 1.12, 2.6, 20.0, 8.0),),
        finish=replace(spread_is_the_trouble().finish, met=wilson(n - 1, n)),
    )


def target_missed() -> TryAnswer:
    """Touches nothing, but the lever is out of reach in a third of the trials because the errors add up."""
    n = 1000
    return replace(
        all_fine(),
        trials=n,
        asked=n,
        need=None,
        success=wilson(600, n),
        clear=wilson(n, n),
        first=first(n, ("misses", "lever", 5, 345), ("ends outside", "", 6, 50), ("misses", "bell", 6, 5)),
        targets=(
            TargetAnswer("lever", 5, wilson(655, n), 0.21, 6.4, 15.2, 20.0, 8.0),
            TargetAnswer("bell", 6, wilson(990, n), 0.0, 1.3, 3.0, 10.0, 8.0),
        ),
        finish=replace(spread_is_the_trouble().finish, met=wilson(640, n)),
    )


def few_trials_interrupted() -> TryAnswer:
    """20 of 1000 trials done before it was stopped."""
    n = 20
    return replace(
        spread_is_the_trouble(),
        trials=n,
        need=0.9,
        success=wilson(17, n),
        clear=wilson(18, n),
        contacts=(ContactAnswer("mill", 3, wilson(1, n)), ContactAnswer("oven", 4, wilson(1, n))),
        first=first(n, ("touches", "mill", 3, 1), ("touches", "oven", 4, 1), ("misses", "lever", 5, 1)),
        clearance=(
            ClearanceAnswer("mill", 3, 12.4, 0.0, 0.0, 4.2, 11.0, 11.4),
            ClearanceAnswer("oven", 4, 18.31, 0.62, 0.0, 7.9, 17.0, 16.8),
        ),
        targets=(TargetAnswer("lever", 5, wilson(17, n), 0.21, 3.42, 7.88, 20.0, 8.0),),
    )


def no_trial_done() -> TryAnswer:
    """Stopped before the first trial was done: only the plan is known."""
    nothing = Share(0.0, 0.0, 1.0)
    base = spread_is_the_trouble()
    return replace(
        base,
        trials=0,
        success=nothing,
        clear=nothing,
        contacts=(),
        first=(),
        clearance=tuple(
            replace(g, p05=float("nan"), p05_low=0.0, p05_high=float("inf"), median=float("nan"), mean=float("nan"))
            for g in base.clearance
        ),
        ribbon=tuple(replace(r, p05=float("nan"), median=float("nan"), p95=float("nan")) for r in base.ribbon),
        targets=(TargetAnswer("lever", 5, nothing, 0.21, None, None, 20.0, 8.0),),
        finish=replace(base.finish, mean=None, sd=None, covariance=None),
        time=TimeAnswer(14.26, None, None, None),
    )


def fails_at_the_start() -> TryAnswer:
    """Every trial touches on its first segment; tried bare; no trial comes to an act or to its end."""
    n = 1000
    base = spread_is_the_trouble()
    return replace(
        base,
        bare=True,
        need=0.5,
        success=wilson(0, n),
        clear=wilson(0, n),
        contacts=(ContactAnswer("corner stop", 1, wilson(n, n), 2.0),),
        first=first(n, ("touches", "corner stop", 1, n)),
        clearance=(
            ClearanceAnswer("corner stop", 1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
            ClearanceAnswer("mill", 3, 60.0, 48.13, 47.9, 48.4, 59.8, 59.8),
        ),
        ribbon=tuple(replace(r, nominal=0.0, p05=0.0, median=0.0, p95=0.0) for r in base.ribbon[:1]) + base.ribbon[1:],
        targets=(TargetAnswer("lever", 5, wilson(0, n), 0.21, None, None, 20.0, 8.0),),
        finish=replace(base.finish, mean=None, sd=None, covariance=None, met=wilson(0, n)),
        time=TimeAnswer(14.26, None, None, None),
    )


def nothing_there() -> TryAnswer:
    """A single trial on a field with nothing to touch, no targets, no finish, always the same time."""
    return replace(
        spread_is_the_trouble(),
        trials=1,
        asked=1,
        success=wilson(1, 1),
        clear=wilson(1, 1),
        contacts=(),
        first=(),
        clearance=(),
        ribbon=(),
        targets=(),
        finish=FinishAnswer((420.0, 0.0, 0.0), (420.0, 0.0, 0.0), (0.0, 0.0, 0.0), None, None),
        time=TimeAnswer(2.1, 2.1, 0.0, 2.1),
        segments=("straight 420 mm",),
    )


def a_square_is_missed() -> TryAnswer:
    """A square that fails in 60 of 1000 before anything is touched, and a line that is nearly always seen."""
    n = 1000
    return replace(
        spread_is_the_trouble(),
        success=wilson(860, n),
        clear=wilson(930, n),
        contacts=(ContactAnswer("mill", 4, wilson(70, n)),),
        first=first(
            n, ("touches", "mill", 4, 70), ("not reached", "far wall", 3, 45), ("too skew", "far wall", 3, 15),
            ("misses", "lever", 5, 8), ("line missed", "kerb", 4, 2),
        ),
        targets=(TargetAnswer("lever", 5, wilson(860, n), 0.21, 3.42, 7.88, 20.0, 8.0),),
        squares=(
            SquareAnswer(
                3, "far wall", wilson(940, n),
                (Missed("not reached", wilson(45, n)), Missed("too skew", wilson(15, n))),
                SpreadAnswer(1.04, 6.21, 2.63), SpreadAnswer(0.301, 0.52, 5.18),
            ),
            SquareAnswer(4, "kerb", wilson(868, n), (Missed("line missed", wilson(2, n)),), None, None),
        ),
        segments=(
            *SEGMENTS[:2],
            "square front on far wall",
            "straight until left eye sees kerb",
            *SEGMENTS[4:],
        ),
    )  # fmt: skip


NASTY = (
    "mill\x1b[31m\x07red\r\nnew line\ttab",  # escape codes, bell, line ends
    "面包房" * 12,  # wide characters, and many
    "a\u0301\u0302\u0303\u0304\u0305\u0306 z\u0489\u0489\u0489\u0489",  # accents piled up
    "\u202eneddih\u2066\u200b",  # writing direction turned round
    "$x^2$ \\frac{1}{2} & <b>%_#{}~",  # marks that other programs read as commands
    "\U0001f600\u200d\U0001f468 \U0001f3fd\ufe0f",  # picture characters, joined
    "",
    "\ud800 half a pair",
    "A" * 300,
)


def odd_names() -> TryAnswer:
    """Every name holds something that could break a layout; many contacts."""
    n = 5000
    base = spread_is_the_trouble()
    return replace(
        base,
        run=NASTY[0],
        field=NASTY[1],
        robot=NASTY[8],
        start=NASTY[5],
        trials=n,
        asked=n,
        success=wilson(4000, n),
        clear=wilson(4100, n),
        contacts=tuple(ContactAnswer(name, i + 1, wilson(180 - 20 * i, n)) for i, name in enumerate(NASTY)),
        first=first(
            n, ("misses", NASTY[0], 1, 100), *(("touches", name, i + 1, 180 - 20 * i) for i, name in enumerate(NASTY))
        ),
        clearance=tuple(
            ClearanceAnswer(name, i + 1, 6.0 + i, 0.5 * i, 0.4 * i, 0.7 * i, 5.5 + i, 6.0 + i)
            for i, name in enumerate(NASTY)
        ),
        targets=tuple(
            TargetAnswer(name, i + 1, wilson(4000 - i, n), 0.3, 2.2, 4.9, 5.0) for i, name in enumerate(NASTY)
        ),
        squares=tuple(
            SquareAnswer(i + 1, name, wilson(4990, n), (Missed("too skew", wilson(1, n)),), None, None)
            for i, name in enumerate(NASTY)
        ),
        segments=tuple(f"act {name}" for name in NASTY),
    )


ANSWERS: dict[str, Callable[[], TryAnswer]] = {
    f.__name__: f
    for f in (
        spread_is_the_trouble,
        gap_too_small,
        drifts_to_one_side,
        all_fine,
        target_missed,
        few_trials_interrupted,
        no_trial_done,
        fails_at_the_start,
        nothing_there,
        a_square_is_missed,
        odd_names,
    )
}
