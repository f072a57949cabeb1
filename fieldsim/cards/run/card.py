"""The card of a run: all that the printed page for the table says, as values. Its faces compute nothing.

Millimetres, degrees and seconds; poses and points in the field frame unless they say 'robot frame'. Steps are the run's
segments, counted from 1.
"""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import Annotated

from fieldsim.answers import Told
from fieldsim.cards.run.limits import Limits, limits
from fieldsim.cards.run.start import StartValues, start_values
from fieldsim.cards.run.watch import Gap, StepRoom, Trouble, gaps, rooms, troubles
from fieldsim.cards.shared import PAPERS, header
from fieldsim.files.sheets import blank_log
from fieldsim.sim.program import Step, steps
from fieldsim.stats.intervals import Share
from fieldsim.studies.answer import UnknownAnswer
from fieldsim.studies.attempt import Tried
from fieldsim.studies.slack_answer import SlackAnswer


@dataclass(frozen=True)
class Aim:
    """A target to be met."""

    step: int
    target: str
    within: Annotated[float, "mm"]
    heading_within: Annotated[float | None, "degrees"]
    share: Share
    miss_median: Annotated[float | None, "mm"]
    points: float


@dataclass(frozen=True)
class Catch:
    """A square or a line to be caught."""

    step: int
    on: str
    share: Share


@dataclass(frozen=True)
class Card:
    """All that a run's card says."""

    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    run_file: str
    """Its name without folders, as a log names it; the run's name if it is not known."""
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    wear: tuple[str, ...]
    bare: bool
    heading_from: Annotated[str, Told("what it knows its heading from", one_of=("wheels", "gyro"))]
    wheel: Annotated[float, "mm"]
    """Diameter, mm."""
    track: Annotated[float, "mm"]
    gear: Annotated[float, "turns of the wheel for one of the motor"]
    start: StartValues
    limits: Limits | None
    """How far what is measured at the start may be off; None if that was not asked, or the run hardly gets through."""
    steps: tuple[Step, ...]
    gaps: tuple[Gap, ...]
    """Tightest first."""
    rooms: Annotated[tuple[StepRoom, ...], "steps that drive"]
    aims: tuple[Aim, ...]
    catches: tuple[Catch, ...]
    seconds: float
    finish: str | None
    trials: Annotated[int, "that were done, or of each"]
    seed: int
    success: Share
    unknown: UnknownAnswer | None
    troubles: tuple[Trouble, ...]
    """Most frequent first."""
    looked_at: Annotated[int, "trials"]
    """Trials that troubles were counted in: those kept one by one."""
    notes: tuple[str, ...]
    interrupted: bool
    log_columns: tuple[str, ...]
    command: Annotated[str, Told(hidden=True)]
    paper: Annotated[str, Told(one_of=("A4", "Letter"))]


# --- the whole -------------------------------------------------------------------------------------------------


def make_card(
    tried: Tried, run_file: str = "", paper: str = "A4", saved: str = "", off: SlackAnswer | None = None
) -> Card:
    """The card of a run that was tried with ``keep`` trials kept. ``run_file`` is how the user named it, ``saved`` the
    file that the card is written to, if any: both are told by the command that makes it again. ``off`` is how far its
    start may be off, see ``fieldsim.studies.slack``.

    Raises ValueError for a paper that is not one of ``PAPERS``.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper={paper!r} must be one of {tuple(PAPERS)}")
    ready, answer, run = tried.ready, tried.answer, tried.ready.run
    heading_within = {target.name: target.heading_within for target in run.field.targets}
    within = {target.name: target.within for target in run.field.targets}
    start = start_values(run)
    again = ["fieldsim", "card", run_file or "RUN", "--trials", str(answer.trials), "--seed", str(answer.seed)]
    again += ["--bare"] if answer.bare else []
    again += ["--paper", paper] if paper != "A4" else []
    again += ["--save", saved] if saved else []
    return Card(
        version=answer.version,
        run=run.name,
        run_file=run_file.replace("\\", "/").rpartition("/")[2] or run.name,
        field=run.field.name,
        robot=run.robot.name,
        wear=run.wear,
        bare=answer.bare,
        heading_from=run.robot.drive.heading_from,
        wheel=run.robot.drive.wheel,
        track=run.robot.drive.track,
        gear=run.robot.drive.gear,
        start=start,
        limits=None if off is None else limits(start, off),
        steps=steps(ready),
        gaps=gaps(tried),
        rooms=rooms(tried),
        aims=tuple(
            Aim(t.segment, t.target, within[t.target], heading_within[t.target], t.share, t.miss_median, t.points)
            for t in answer.targets
        ),
        catches=tuple(Catch(square.segment, square.on, square.share) for square in answer.squares),
        seconds=sum(ready.seconds),
        finish=run.finish,
        trials=answer.trials,
        seed=answer.seed,
        success=answer.success,
        unknown=answer.unknown,
        troubles=troubles(tried),
        looked_at=tried.answer.trials,
        notes=answer.notes,
        interrupted=answer.interrupted,
        log_columns=header(blank_log()),
        command=shlex.join(again),
        paper=paper,
    )
