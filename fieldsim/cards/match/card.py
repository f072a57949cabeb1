"""The card of a match: all that the printed page for the table says, as values. Its faces compute nothing.

Seconds and points. Runs are told in the order as written, since that is the plan; what would score more is said beside.
"""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import Annotated

from fieldsim.answers import Told
from fieldsim.cards.shared import PAPERS, header
from fieldsim.files.sheets import blank_log
from fieldsim.match.answer import Estimate, MatchAnswer, OrderAnswer, RuleAnswer, WorthAnswer
from fieldsim.model import Act, StartByEye
from fieldsim.model.match import Match
from fieldsim.stats.intervals import Share

Lane = Annotated[tuple[float, float, float], "5th percentile, median, 95th percentile"]

# Lines told of where practice pays.
MOST_WORTH = 3


@dataclass(frozen=True)
class MatchStep:
    """One run of the match, and how the robot is made ready for it."""

    number: int
    run: str
    robot: str
    jig: str | None
    """The jig it starts from; None by eye."""
    take_off: tuple[str, ...]
    """Attachments that were on in the run before and go off."""
    slip_on: tuple[str, ...]
    keep_on: tuple[str, ...]
    by_hand: Annotated[float | None, "s"]
    """Seconds on average that making it ready takes; None for the first."""
    needs: tuple[str, ...]
    targets: tuple[tuple[Annotated[str, "name"], Annotated[float, "points"]], ...]
    """Targets it acts at, and what each scores."""
    finish: Annotated[float, "points"]
    """Points for ending inside its finish."""
    starts: Lane | None
    """Clock at its start: 5th percentile, median, 95th; None if it was never begun."""
    ends: Lane | None
    begun: Share
    """Matches in which it was begun: in the others there was no time, or what it needs had failed."""
    success: Share
    """Matches in which it got through in time."""
    points: Estimate


@dataclass(frozen=True)
class MatchCard:
    """The whole card."""

    version: Annotated[str, "of fieldsim"]
    match: str
    field: str
    robots: tuple[str, ...]
    limit: Annotated[float, "s"]
    rerun: str
    rescue: Annotated[float, "points, 0 or less"]
    """Points that fetching a robot costs, 0 or less."""
    steps: tuple[MatchStep, ...]
    written: Annotated[OrderAnswer, Told(as_stands=True)]
    better: Annotated[tuple[str, ...], "an order that truly scores more"]
    """The order that scores more, if there is one that truly does."""
    gain: Estimate
    """Points that it was worth."""
    rules: Annotated[tuple[RuleAnswer, ...], Told(as_stands=True)]
    """When to change the plan, each worth more than luck explains; empty where that is not worth it."""
    rules_worth: Annotated[Estimate | None, "points over the order as written"]
    """What all of them are worth together."""
    worth: tuple[WorthAnswer, ...]
    """Where practice pays most."""
    trials: Annotated[int, "that were done, or of each"]
    seed: int
    notes: tuple[str, ...]
    log_columns: tuple[str, ...]
    command: str
    paper: Annotated[str, Told(one_of=("A4", "Letter"))]


def make_match_card(
    match: Match, answer: MatchAnswer, match_file: str = "", paper: str = "A4", saved: str = ""
) -> MatchCard:
    """The card of a match that was played.

    Raises ValueError for a paper that is not known.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper={paper!r} must be one of {tuple(PAPERS)}")
    again = ["fieldsim", "card", match_file or "MATCH", "--trials", str(answer.trials), "--seed", str(answer.seed)]
    again += ["--paper", paper] if paper != "A4" else []
    again += ["--save", saved] if saved else []
    best, policy = answer.best, answer.policy
    better = best.order if best.order != answer.written.order and best.gain.truly > 0 else ()
    return MatchCard(
        version=answer.version,
        match=match.name,
        field=answer.field,
        robots=answer.robots,
        limit=match.limit,
        rerun=match.rerun,
        rescue=match.rescue.points,
        steps=tuple(_step(match, answer, r) for r in range(len(match.runs))),
        written=answer.written,
        better=better,
        gain=best.gain,
        rules=policy.kept if policy is not None and policy.kept_worth.truly > 0 else (),
        rules_worth=None if policy is None else policy.kept_worth,
        worth=tuple(each for each in answer.worth if each.five.truly > 0)[:MOST_WORTH],
        trials=answer.trials,
        seed=answer.seed,
        notes=answer.notes,
        log_columns=header(blank_log()),
        command=shlex.join(again),
        paper=paper,
    )


def _step(match: Match, answer: MatchAnswer, r: int) -> MatchStep:
    entry = match.runs[r]
    run = entry.run
    before = match.runs[r - 1].run if r else None
    # Another robot comes with nothing of the one before it.
    on = before.wear if before is not None and before.robot.name == run.robot.name else ()
    told = answer.written.runs[r]
    starts, ends = told.lanes or (None, None)
    acts = dict.fromkeys(segment.target for segment in run.segments if isinstance(segment, Act))
    return MatchStep(
        number=r + 1,
        run=run.name,
        robot=run.robot.name,
        jig=None if isinstance(run.start, StartByEye) else run.start,
        take_off=tuple(name for name in on if name not in run.wear),
        slip_on=tuple(name for name in run.wear if name not in on),
        keep_on=tuple(name for name in run.wear if name in on),
        by_hand=None if before is None else match.changeover_between(before, run).mean,
        needs=entry.needs,
        targets=tuple((target, match.points_of(target)) for target in acts),
        finish=match.points.finish if run.finish is not None else 0.0,
        starts=starts,
        ends=ends,
        begun=told.begun,
        success=told.success,
        points=told.points,
    )
