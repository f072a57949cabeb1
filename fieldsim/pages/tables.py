"""Tables of a run for other programs: what each segment asks of wheels and motors, and the trials one by one.

A table is values with what each column is about. As CSV its columns stay the same whatever the language, with a point
in numbers: programs read it. What people open is the workbook (``fieldsim.pages.workbook``), made of the same values.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr, tr_later
from fieldsim.model import Alignment
from fieldsim.sim.endings import ending_words
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import Plan
from fieldsim.sim.program import Step, steps
from fieldsim.sim.trials import Trials, planned_poses
from fieldsim.studies.attempt import KEPT

__all__ = ["SEGMENT_COLUMNS", "Cell", "Column", "DataTable", "as_csv", "segments_table", "trials_table"]

Cell = str | int | float | None
"""None where there is no such number."""


@dataclass(frozen=True)
class Column:
    """What the numbers of a column are."""

    name: str
    """Its head in a CSV: never translated."""
    label: str
    """Its head for people."""
    unit: str
    about: str
    """What it tells, in a sentence."""
    decimals: int = 3


@dataclass(frozen=True)
class DataTable:
    name: str
    """Of the file without its ending."""
    label: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


def as_csv(table: DataTable) -> str:
    """With its heads; numbers have a point whatever the language, and no name is taken for a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([_safe(column.name) for column in table.columns])
    decimals = [column.decimals for column in table.columns]
    for row in table.rows:
        writer.writerow([_written(cell, digits) for cell, digits in zip(row, decimals, strict=True)])
    return out.getvalue()


# --- segments -------------------------------------------------------------------------------------------------------

_SEGMENT: tuple[tuple[str, str, str, str], ...] = (
    ("segment", tr_later("Segment"), "", tr_later("Its number in the run, from 1.")),
    ("kind", tr_later("Kind"), "", tr_later("Its word in the run's file.")),
    ("words", tr_later("In words"), "", tr_later("What it does.")),
    (
        "distance_mm",
        tr_later("Distance"),
        "mm",
        tr_later("Of a straight, or how far it may go at most; - is backwards."),
    ),
    ("angle_deg", tr_later("Angle"), "°", tr_later("Of a turn or an arc; to the left is more than nothing.")),
    ("radius_mm", tr_later("Radius"), "mm", tr_later("Of an arc.")),
    ("about", tr_later("About"), "", tr_later("The wheel that stands still in a turn.")),
    (
        "left_wheel_deg",
        tr_later("Left wheel"),
        "°",
        tr_later("How far the left wheel turns, as commanded, without slip."),
    ),
    (
        "right_wheel_deg",
        tr_later("Right wheel"),
        "°",
        tr_later("How far the right wheel turns, as commanded, without slip."),
    ),
    (
        "left_motor_deg",
        tr_later("Left motor"),
        "°",
        tr_later("How far the left motor turns: the wheel's way through the gear."),
    ),
    (
        "right_motor_deg",
        tr_later("Right motor"),
        "°",
        tr_later("How far the right motor turns: the wheel's way through the gear."),
    ),
    (
        "at_most",
        tr_later("At most"),
        "",
        tr_later("1: it ends when it touches or sees something, and the degrees are those of its whole reach."),
    ),
    ("speed_mm_s", tr_later("Speed"), "mm/s", tr_later("Of the middle of the axle, within what the motors can do.")),
    ("turn_speed_deg_s", tr_later("Turning speed"), "°/s", tr_later("Of the robot, in a turn.")),
    ("motor_speed_deg_s", tr_later("Motor speed"), "°/s", tr_later("Of the faster motor.")),
    ("seconds", tr_later("Takes"), "s", tr_later("Planned.")),
    ("clock_s", tr_later("Done at"), "s", tr_later("Planned, from the start of the run.")),
    (
        "start_x_mm",
        tr_later("Start x"),
        "mm",
        tr_later("Where the middle of the axle should stand before it, to the right of the lower left corner."),
    ),
    ("start_y_mm", tr_later("Start y"), "mm", tr_later("And how far up from that corner.")),
    (
        "start_heading_deg",
        tr_later("Start heading"),
        "°",
        tr_later("Which way it should look before it: 0 is to the right, 90 up, on to the left."),
    ),
    ("end_x_mm", tr_later("End x"), "mm", tr_later("Where the middle of the axle should stand after it.")),
    ("end_y_mm", tr_later("End y"), "mm", tr_later("And how far up.")),
    ("end_heading_deg", tr_later("End heading"), "°", tr_later("Which way it should look after it.")),
)

SEGMENT_COLUMNS = tuple(name for name, _, _, _ in _SEGMENT)


def segments_table(ready: Plan) -> DataTable:
    """A row for each segment: its commands, the degrees and speeds they are for wheels and motors, planned times, and
    the planned poses at its two ends.

    Degrees are as commanded, without slip: see ``program.wheel_turns``. With ``at_most`` 1 it ends when it touches or
    sees something, and the degrees are those of its whole reach.
    """
    poses = planned_poses(ready)
    return DataTable(
        "segments",
        tr("Segments"),
        tuple(Column(name, tr(label), unit, tr(about)) for name, label, unit, about in _SEGMENT),
        tuple(
            (*_commands(step), *map(float, start), *map(float, end))
            for step, start, end in zip(steps(ready), poses[:-1], poses[1:], strict=True)
        ),
    )


def _commands(step: Step) -> tuple[Cell, ...]:
    wheels, motors = step.wheels, step.motors
    turns = (None,) * 4 if wheels is None or motors is None else (wheels.left, wheels.right, motors.left, motors.right)
    return (
        step.number, step.kind, step.words, step.distance, step.angle, step.radius, step.about, *turns,
        int(step.at_most), step.speed, step.turn_speed, step.motor_speed, step.seconds, step.clock,
    )  # fmt: skip


# --- trials ---------------------------------------------------------------------------------------------------------


def _trial_columns(acts: Sequence[str], obstacles: Sequence[str], aligned: bool) -> tuple[Column, ...]:
    columns = [
        Column("trial", tr("Trial"), "", tr("Its number, from 1.")),
        Column("success", tr("Through"), "", tr("1: it got through.")),
        Column("seconds", tr("Took"), "s", tr("How long it drove.")),
        Column("contact", tr("Touched"), "", tr("What it touched and may not touch.")),
        Column("contact_segment", tr("In segment"), "", tr("In which segment it touched that.")),
        Column("contact_x_mm", tr("Touched at x"), "mm", tr("Where it touched that."), 2),
        Column("contact_y_mm", tr("Touched at y"), "mm", tr("And how far up."), 2),
        Column("end_x_mm", tr("End x"), "mm", tr("Where the middle of the axle stood at the end.")),
        Column("end_y_mm", tr("End y"), "mm", tr("And how far up.")),
        Column("end_heading_deg", tr("End heading"), "°", tr("Which way it looked at the end.")),
        Column("home", tr("Home"), "", tr("1: it ended in the finish. Empty if the run asks for none.")),
    ]
    columns += [
        Column(
            f"miss_{name}_mm", tr("Miss of {target}", target=name), "mm",
            tr("How far the tool was from {target}. Empty where the trial never came to that.", target=name), 2,
        )
        for name in acts
    ]  # fmt: skip
    columns += [
        Column(
            f"clearance_{name}_mm", tr("Gap to {obstacle}", obstacle=name), "mm",
            tr("The narrowest gap to {obstacle} until it ended.", obstacle=name),
        )
        for name in obstacles
    ]  # fmt: skip
    if aligned:
        columns += [
            Column(
                "lost_segment",
                tr("Lost in segment"),
                "",
                tr("The square or line that failed, if it touched nothing before."),
            ),
            Column("lost_why", tr("Why"), "", tr("What went wrong there.")),
        ]
    return tuple(columns)


def trials_table(trials: Trials) -> DataTable:
    """The first trials, a row each, numbered from 1. ``home`` is 1 where a trial ended its run in the finish, and empty
    if the run asks for none; a miss is empty where the trial never came to that act."""
    ready = trials.plan
    acts = [segment.target for segment in ready.run.segments if hasattr(segment, "target")]
    names = [ready.solids[o].name for o in trials.obstacles]
    aligned = any(isinstance(s, Alignment) for s in ready.run.segments)
    success, home = trials.success, trials.ended & trials.home
    asked = ready.run.finish is not None
    rows: list[tuple[Cell, ...]] = []
    for n in range(min(len(trials), KEPT)):
        o = trials.contact_obstacle[n]
        touched = o >= 0
        at = trials.contact_at[n]
        rows.append(
            (
                trials.first + n + 1,
                int(success[n]),
                float(trials.time[n]),
                *((ready.solids[o].name, int(trials.contact_segment[n])) if touched else (None, None)),
                *((float(at[0]), float(at[1])) if touched else (None, None)),
                *_shown(trials.poses[n, -1]),
                int(home[n]) if asked else None,
                *(float(miss) if came else None for miss, came in zip(trials.miss[n], trials.reached[n], strict=True)),
                *(float(gap) for gap in np.minimum(trials.clearance[n], 1e9)),
                *(_lost(trials, n) if aligned else ()),
            )
        )
    return DataTable("trials", tr("Trials"), _trial_columns(acts, names, aligned), tuple(rows))


def _shown(pose: NDArray[np.float64]) -> tuple[float, float, float]:
    """A pose with its heading as it is shown everywhere: in (-180, 180]."""
    return float(pose[0]), float(pose[1]), wrapped(float(pose[2]))


def _lost(trials: Trials, n: int) -> tuple[Cell, Cell]:
    """Where and why a trial lost a square or line, if nothing was touched before."""
    segment = int(trials.ended_segment[n])
    if segment == 0 or trials.contact_obstacle[n] >= 0:
        return None, None
    kind = trials.plan.run.segments[segment - 1]
    assert isinstance(kind, Alignment)
    return segment, ending_words(kind, int(trials.endings[n, trials.plan.course.alignments.of[segment - 1]]))


# --- written --------------------------------------------------------------------------------------------------------


def _written(cell: Cell, decimals: int) -> Any:
    if isinstance(cell, str):
        return _safe(cell)
    if cell is None:
        return ""
    return number(cell, decimals) if isinstance(cell, float) else cell


def number(value: float, decimals: int = 3) -> str:
    """With a point whatever the language, and no minus before a nought."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def _safe(name: str) -> str:
    """A name no spreadsheet takes for a formula."""
    return f"'{name}" if name[:1] in "=+-@\t\r" else name
