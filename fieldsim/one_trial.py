"""One trial by its number: what happened, segment by segment."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from fieldsim.answer import Pose
from fieldsim.model import Act, LineSquare, Square, Until
from fieldsim.motion import wrapped
from fieldsim.tally import in_words
from fieldsim.trials import Trials, ending_words


@dataclass(frozen=True)
class Leg:
    """One segment of one trial. Gaps in mm, up to the horizon; None where nothing drives."""

    segment: int
    words: str
    pose: Pose
    planned: Pose
    gap: float | None
    miss: float | None
    hit: bool | None
    caught: str | None
    """How a square or line ended, such as 'caught' or 'too skew'."""


@dataclass(frozen=True)
class TrialAnswer:
    """One trial. ``number`` counts from 1; a contact is (obstacle, segment, x, y), None if there was none."""

    run: str
    seed: int
    number: int
    success: bool
    seconds: float
    contact: tuple[str, int, float, float] | None
    lost: tuple[int, str] | None
    """Where a square or line was not caught, and why."""
    home: bool | None
    start: Pose
    legs: tuple[Leg, ...]

    def to_json(self) -> dict[str, Any]:
        return {"command": "try", "trial": self.number, **{k: v for k, v in asdict(self).items() if k != "number"}}


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
        if isinstance(segment, Square | LineSquare | Until):
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
                words=in_words(segment),
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
    from fieldsim.wording import one_line

    lines = [f"{one_line(answer.run)}: trial {answer.number} of seed {answer.seed}", ""]
    if answer.contact:
        name, segment, x, y = answer.contact
        lines.append(
            f"Touches {one_line(name)} on segment {segment}, at x {x:.0f} y {y:.0f} mm, after {answer.seconds:.1f} s."
        )
        lines.append("What comes after that is shown as if nothing had stopped it.")
    elif answer.lost:
        segment, why = answer.lost
        lines.append(f"Stops on segment {segment} after {answer.seconds:.1f} s: {why}.")
    elif answer.success:
        lines.append(f"Gets through, in {answer.seconds:.1f} s.")
    else:
        lines.append(f"Touches nothing, but does not do all it should, in {answer.seconds:.1f} s.")
    lines += ["", f"{'':4}{'segment':44}{'ends at x':>10}{'y':>7}{'heading':>9}{'off plan':>10}{'gap':>9}"]
    for leg in answer.legs:
        off = float(np.hypot(leg.pose[0] - leg.planned[0], leg.pose[1] - leg.planned[1]))
        gap = "" if leg.gap is None else f"over {horizon:.0f}" if leg.gap >= horizon else f"{leg.gap:.1f}"
        if leg.miss is not None:
            gap = f"  {'in place' if leg.hit else 'missed'}, {leg.miss:.1f} mm off"
        line = (
            f"{leg.segment:2}  {one_line(leg.words)[:43]:44}{leg.pose[0]:10.1f}{leg.pose[1]:7.1f}"
            f"{leg.pose[2]:9.1f}{off:10.1f}{gap:>9}"
        )
        if leg.caught is not None:
            line += f"  {leg.caught}"
        lines.append(line.rstrip())
    if answer.home is not None:
        lines += ["", "Ends inside the finish." if answer.home else "Does not end inside the finish."]
    lines += ["", "Lengths in mm, headings in degrees; gap is the clearance to the nearest obstacle."]
    return "\n".join(lines) + "\n"


def _pose(pose: Any) -> Pose:
    return float(pose[0]), float(pose[1]), wrapped(float(pose[2]))
