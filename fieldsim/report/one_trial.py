"""One trial by its number: what happened, segment by segment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal

import numpy as np

from fieldsim.answers import Told
from fieldsim.language import in_digits, tr, tr_later
from fieldsim.model import Act, Alignment
from fieldsim.report.phrases import fixed
from fieldsim.sim.endings import ending_words
from fieldsim.sim.motion import wrapped
from fieldsim.sim.trials import Trials
from fieldsim.studies.answer import Pose, ToldPose

X = Annotated[float, "x, mm"]
Y = Annotated[float, "y, mm"]


@dataclass(frozen=True)
class Leg:
    """One segment of one trial. Gaps in mm, up to the horizon; None where nothing drives."""

    segment: int
    words: str
    pose: ToldPose
    planned: ToldPose
    gap: Annotated[float | None, "mm"]
    miss: Annotated[float | None, "mm"]
    hit: Annotated[bool | None, "the tool was in place"]
    caught: str | None
    """How a square or line ended, such as 'caught' or 'too skew'."""


@dataclass(frozen=True, kw_only=True)
class TrialAnswer:
    """One trial, segment by segment."""

    command: ClassVar[Literal["try"]] = "try"
    number: Annotated[int, Told("its number", key="trial")]
    """Counted from 1."""
    run: str
    seed: int
    success: Annotated[bool, "it got through"]
    seconds: float
    contact: tuple[Annotated[str, "obstacle"], Annotated[int, "segment"], X, Y] | None
    """None if there was none."""
    lost: tuple[Annotated[int, "segment"], Annotated[str, "why"]] | None
    """Where a square or line was not caught, and why."""
    home: Annotated[bool | None, "inside the finish"]
    start: ToldPose
    legs: tuple[Leg, ...]


def one(trial: Trials, planned: Trials) -> TrialAnswer:
    """The answer from a single trial and the planned run."""
    ready = trial.plan
    run = ready.run
    piece = ready.course.wheels.piece
    contact = None
    if trial.contact_obstacle[0] >= 0:
        x, y = trial.contact_at[0]
        name = ready.solids[trial.contact_obstacle[0]].name
        contact = (name, int(trial.contact_segment[0]), float(x), float(y))
    legs = []
    act = 0
    aligned = 0
    lost = None
    stop = int(trial.ended_segment[0])
    for g, segment in enumerate(run.segments):
        if 0 < stop <= g:
            break
        miss, hit, caught = None, None, None
        if isinstance(segment, Alignment):
            caught = ending_words(segment, int(trial.endings[0, aligned]))
            aligned += 1
            if stop == g + 1:
                lost = (stop, caught)
        if isinstance(segment, Act):
            miss, hit = float(trial.miss[0, act]), bool(trial.hit[0, act])
            act += 1
        drives = piece[g] < piece[g + 1]
        legs.append(
            Leg(
                segment=g + 1,
                words=segment.in_words(),
                pose=_pose(trial.poses[0, g + 1]),
                planned=_pose(planned.poses[0, g + 1]),
                gap=float(trial.ribbon[0, g]) if drives else None,
                miss=miss,
                hit=hit,
                caught=caught,
            )
        )
    return TrialAnswer(
        run=run.name,
        seed=trial.seed,
        number=trial.first + 1,
        success=bool(trial.success[0]),
        seconds=float(trial.time[0]),
        contact=contact,
        lost=lost,
        home=bool(trial.home[0]) if run.finish is not None else None,
        start=_pose(trial.poses[0, 0]),
        legs=tuple(legs),
    )


def text(answer: TrialAnswer, horizon: float) -> str:
    """In words, a line a segment."""
    from fieldsim.lettering import padded, shorten
    from fieldsim.report.words.attempt import one_line

    run = one_line(answer.run)
    lines = [tr("{run}: trial {number} of seed {seed}", run=run, number=answer.number, seed=answer.seed), ""]
    if answer.contact:
        name, segment, x, y = answer.contact
        lines.append(
            tr("Touches {name} on segment {segment}, at x {x:.0f} y {y:.0f} mm, after {time:.1f} s.",
               name=one_line(name), segment=segment, x=x, y=y, time=answer.seconds)
        )  # fmt: skip
        lines.append(tr("What comes after that is shown as if nothing had stopped it."))
    elif answer.lost:
        segment, why = answer.lost
        lines.append(
            tr(
                "Stops on segment {segment} after {time:.1f} s: {why}.",
                segment=segment,
                time=answer.seconds,
                why=tr(why),
            )
        )
    elif answer.success:
        lines.append(tr("Gets through, in {time:.1f} s.", time=answer.seconds))
    else:
        lines.append(tr("Touches nothing, but does not do all it should, in {time:.1f} s.", time=answer.seconds))
    heads = tr("ends at x"), tr("y"), tr("heading"), tr("off plan"), tr("gap")
    wide = [max(len(head) + 1, least) for head, least in zip(heads, (10, 7, 9, 10, 9), strict=True)]
    right = "".join(f"{head:>{width}}" for head, width in zip(heads, wide, strict=True))
    lines += ["", f"{'':4}{padded(tr('segment'), 44)}{right}"]
    for leg in answer.legs:
        off = float(np.hypot(leg.pose[0] - leg.planned[0], leg.pose[1] - leg.planned[1]))
        gap = ""
        if leg.gap is not None:
            gap = tr("over {gap:.0f}", gap=horizon) if leg.gap >= horizon else fixed(leg.gap, 1)
        if leg.miss is not None:
            words = tr_later("in place, {miss:.1f} mm off") if leg.hit else tr_later("missed, {miss:.1f} mm off")
            gap = "  " + tr(words, miss=leg.miss)
        cells = (*(f"{value:.1f}" for value in leg.pose), f"{off:.1f}")
        numbers = "".join(f"{in_digits(cell):>{width}}" for cell, width in zip(cells, wide, strict=False))
        line = f"{leg.segment:2}  {padded(shorten(leg.words, 43), 44)}{numbers}{gap:>{wide[-1]}}"
        if leg.caught is not None:
            line += f"  {tr(leg.caught)}"
        lines.append(line.rstrip())
    if answer.home is not None:
        lines += ["", tr("Ends inside the finish.") if answer.home else tr("Does not end inside the finish.")]
    lines += ["", tr("Lengths in mm, headings in degrees; gap is the clearance to the nearest obstacle.")]
    return "\n".join(lines) + "\n"


def _pose(pose: Any) -> Pose:
    return float(pose[0]), float(pose[1]), wrapped(float(pose[2]))
