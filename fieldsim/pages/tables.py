"""Tables for other programs, as CSV with a point in numbers: the trials one by one, and what each segment asks of
wheels and motors. Columns stay the same whatever the language."""

from __future__ import annotations

import csv
import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Alignment
from fieldsim.sim.endings import ending_words
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import Plan
from fieldsim.sim.program import Step, steps
from fieldsim.sim.trials import Trials, planned_poses
from fieldsim.studies.attempt import KEPT

__all__ = ["SEGMENT_COLUMNS", "segments_table", "trials_table"]

SEGMENT_COLUMNS = (
    "segment", "kind", "words", "distance_mm", "angle_deg", "radius_mm", "about", "left_wheel_deg", "right_wheel_deg",
    "left_motor_deg", "right_motor_deg", "at_most", "speed_mm_s", "turn_speed_deg_s", "motor_speed_deg_s", "seconds",
    "clock_s", "start_x_mm", "start_y_mm", "start_heading_deg", "end_x_mm", "end_y_mm", "end_heading_deg",
)  # fmt: skip


def segments_table(ready: Plan) -> str:
    """A row for each segment: its commands, the degrees and speeds they are for wheels and motors, planned times, and
    the planned poses at its two ends. A cell is empty where there is no such number.

    Degrees are as commanded, without slip: see ``program.wheel_turns``. With ``at_most`` 1 it ends when it touches or
    sees something, and the degrees are those of its whole reach.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(SEGMENT_COLUMNS)
    poses = planned_poses(ready)
    for step, start, end in zip(steps(ready), poses[:-1], poses[1:], strict=True):
        writer.writerow([*_commands(step), *(_number(value) for value in (*start, *end))])
    return out.getvalue()


def _commands(step: Step) -> list[str | int]:
    wheels, motors = step.wheels, step.motors
    turns = [None] * 4 if wheels is None or motors is None else [wheels.left, wheels.right, motors.left, motors.right]
    return [
        step.number, step.kind, _safe(step.words), *map(_cell, (step.distance, step.angle, step.radius)),
        step.about or "", *map(_cell, turns), int(step.at_most),
        *map(_cell, (step.speed, step.turn_speed, step.motor_speed)), _number(step.seconds), _number(step.clock),
    ]  # fmt: skip


def _cell(value: float | None) -> str:
    return "" if value is None else _number(value)


def _number(value: float, decimals: int = 3) -> str:
    """With a point whatever the language, and no minus before a nought."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def trials_table(trials: Trials) -> str:
    """The first trials as CSV, a row each, numbered from 1. ``home`` is 1 where a trial ended its run in the finish,
    and empty if the run asks for none; a miss is empty where the trial never came to that act."""
    ready = trials.plan
    acts = [segment.target for segment in ready.run.segments if hasattr(segment, "target")]
    names = [ready.solids[o].name for o in trials.obstacles]
    aligned = [s for s in ready.run.segments if isinstance(s, Alignment)]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(
        ["trial", "success", "seconds", "contact", "contact_segment", "contact_x_mm", "contact_y_mm"]
        + ["end_x_mm", "end_y_mm", "end_heading_deg", "home"]
        + [f"miss_{_safe(name)}_mm" for name in acts]
        + [f"clearance_{_safe(name)}_mm" for name in names]
        + (["lost_segment", "lost_why"] if aligned else [])
    )
    success, home = trials.success, trials.ended & trials.home
    asked = ready.run.finish is not None
    for n in range(min(len(trials), KEPT)):
        o = trials.contact_obstacle[n]
        touched = o >= 0
        writer.writerow(
            [trials.first + n + 1, int(success[n]), _number(trials.time[n])]
            + ([_safe(ready.solids[o].name), trials.contact_segment[n]] if touched else ["", ""])
            + ([_number(v, 2) for v in trials.contact_at[n]] if touched else ["", ""])
            + [_number(v) for v in _shown(trials.poses[n, -1])]
            + [int(home[n]) if asked else ""]
            + [_number(v, 2) if came else "" for v, came in zip(trials.miss[n], trials.reached[n], strict=True)]
            + [_number(v) for v in np.minimum(trials.clearance[n], 1e9)]
            + (_lost(trials, n) if aligned else [])
        )
    return out.getvalue()


def _shown(pose: NDArray[np.float64]) -> tuple[float, float, float]:
    """A pose with its heading as it is shown everywhere: in (-180, 180]."""
    return float(pose[0]), float(pose[1]), wrapped(float(pose[2]))


def _lost(trials: Trials, n: int) -> list[Any]:
    """Where and why a trial lost a square or line, if nothing was touched before."""
    segment = int(trials.ended_segment[n])
    if segment == 0 or trials.contact_obstacle[n] >= 0:
        return ["", ""]
    kind = trials.plan.run.segments[segment - 1]
    assert isinstance(kind, Alignment)
    return [segment, ending_words(kind, int(trials.endings[n, trials.plan.course.alignments.of[segment - 1]]))]


def _safe(name: str) -> str:
    """A name no spreadsheet takes for a formula."""
    return f"'{name}" if name[:1] in "=+-@\t\r" else name
