"""From where the robot stood in pictures to rows of a test sheet or of a log, as their columns are called.

A pose change is told as a sheet has it, in the frame of the pose before. Its own error goes with it: the standard
deviation of one pose as it counts in the difference, from the covariance of both poses together. What moves all poses
alike (a field whose markers lie shifted) is in neither.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, radians, sin, sqrt
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.calibration.expected import against
from fieldsim.calibration.observed import DrivenTest
from fieldsim.files.saving import replace_file
from fieldsim.files.tables.columns import LOG, SHEET
from fieldsim.language import tr
from fieldsim.model import Act, Robot, Run, StartByEye, Straight, Turn, Wait
from fieldsim.model.errors import FieldsimError, PlanError
from fieldsim.model.measured import StraightTest, TurnTest
from fieldsim.photo.answer import PhotoAgainst, PhotoRow
from fieldsim.photo.bundle import Solved
from fieldsim.photo.film import Film, Move
from fieldsim.photo.taking import Taken
from fieldsim.sim.endings import aim, ends_inside
from fieldsim.sim.motion import start_pose

FloatArray = NDArray[np.float64]

# No photo is more exact than this: a sheet takes no error of nought. mm, degrees.
LEAST, LEAST_ANGLE = 0.01, 0.002


class NoRowsError(FieldsimError):
    """These pictures make no rows of the kind that was asked for."""


@dataclass(frozen=True)
class Change:
    """From one pose to another, seen from the first: mm, degrees, left positive."""

    ahead: float
    left: float
    turned: float
    photo: float
    photo_angle: float


def _wrapped(angle: float) -> float:
    return (angle + 180.0) % 360.0 - 180.0


def change(taken: Taken, before: int, after: int) -> Change:
    """How the pose changed between two pictures, by their places among all. Both must tell where the robot stood."""
    assert taken.found is not None
    p, q = (taken.places[each] for each in (before, after))
    assert p is not None
    assert q is not None
    return changed(taken.found.solved, p, q)


def changed(solved: Solved, p: int, q: int) -> Change:
    """The same of two pictures of a set-up that is solved."""
    both = np.concatenate([solved.state.robot[p], solved.state.robot[q]])

    def seen(poses: FloatArray) -> FloatArray:
        dx, dy = poses[3] - poses[0], poses[4] - poses[1]
        c, s = cos(poses[2]), sin(poses[2])
        turned = poses[5] - poses[2]
        return np.array([c * dx + s * dy, c * dy - s * dx, atan2(sin(turned), cos(turned))])

    steps = np.array([1e-3, 1e-3, 1e-6] * 2)
    slopes = np.array([(seen(both + each) - seen(both - each)) for each in np.diag(steps)]).T / (2 * steps)
    columns = np.r_[solved.robot_columns(p), solved.robot_columns(q)]
    covariance = slopes @ solved.covariance[np.ix_(columns, columns)] @ slopes.T
    ahead, left, turned = (float(value) for value in seen(both))
    angle = sqrt(covariance[2, 2] / 2)
    # Sideways has the heading before in it, too: what is left is the places'.
    sideways = max(covariance[1, 1] - (hypot(ahead, left) * angle) ** 2, 0.0)
    place = sqrt((covariance[0, 0] + sideways) / 4)
    return Change(ahead, left, degrees(turned), max(place, LEAST), max(degrees(angle), LEAST_ANGLE))


def _mm(value: float) -> str:
    return f"{value + 0.0:.2f}"


def _angle(value: float) -> str:
    return f"{value + 0.0:.3f}"


def _errors(change: Change) -> list[tuple[str, str]]:
    return [("photo mm", f"{change.photo:.3f}"), ("photo deg", f"{change.photo_angle:.4f}")]


def _pairs(taken: Taken) -> list[tuple[int, int]]:
    """Before and after, one after the other as they were given."""
    count = len(taken.looked)
    if count % 2:
        raise NoRowsError(tr("Photos go in pairs, before and after: {count} is one too many or too few.", count=count))
    told = [each.robot is not None for each in taken.answer.pictures]
    return [(n, n + 1) for n in range(0, count, 2) if told[n] and told[n + 1]]


def _row(taken: Taken, which: Sequence[int], cells: Sequence[tuple[str, str]], date: str, note: str = "") -> PhotoRow:
    names = tuple(taken.looked[each].file.name for each in which)
    head = [("date", date)] if date else []
    return PhotoRow(names, (*head, *cells, ("note", note or " ".join(names))))


def straights(taken: Taken, robot: Robot, commanded: float, date: str = "") -> tuple[PhotoRow, ...]:
    """Rows of straights of so many mm, one for each pair of pictures."""
    made = []
    for before, after in _pairs(taken):
        moved = change(taken, before, after)
        cells = [
            ("test", "straight"), ("heading from", robot.drive.heading_from), ("commanded mm", f"{commanded:g}"),
            ("travel mm", _mm(moved.ahead)), ("sideways mm", _mm(moved.left)), ("heading deg", _angle(moved.turned)),
            *_errors(moved),
        ]  # fmt: skip
        made.append(_row(taken, (before, after), cells, date))
    return tuple(made)


def turns(taken: Taken, robot: Robot, commanded: float, date: str = "") -> tuple[PhotoRow, ...]:
    """Rows of turns of so many degrees; which whole turn it was is taken from the command."""
    made = []
    for before, after in _pairs(taken):
        moved = change(taken, before, after)
        angle = commanded + _wrapped(moved.turned - commanded)
        cells = [
            ("test", "turn"), ("heading from", robot.drive.heading_from), ("commanded deg", f"{commanded:g}"),
            ("angle deg", _angle(angle)), *_errors(moved),
        ]  # fmt: skip
        made.append(_row(taken, (before, after), cells, date))
    return tuple(made)


def square_paths(taken: Taken, robot: Robot, side: float, date: str = "") -> tuple[PhotoRow, ...]:
    """Rows of square paths of such a side, mm; driven turning right if it is negative."""
    made = []
    for before, after in _pairs(taken):
        moved = change(taken, before, after)
        cells = [
            ("test", "square path"), ("heading from", robot.drive.heading_from), ("side mm", f"{abs(side):g}"),
            ("direction", "ccw" if side > 0 else "cw"), ("return x mm", _mm(moved.ahead)),
            ("return y mm", _mm(moved.left)), ("heading deg", _angle(moved.turned)), *_errors(moved),
        ]  # fmt: skip
        made.append(_row(taken, (before, after), cells, date))
    return tuple(made)


def placings(taken: Taken, run: Run, date: str = "") -> tuple[PhotoRow, ...]:
    """Rows of placings at the start of a run, one for each picture."""
    x, y, heading = start_pose(run)
    c, s = cos(radians(heading)), sin(radians(heading))
    jig = "" if isinstance(run.start, StartByEye) else run.start
    told = [n for n, each in enumerate(taken.answer.pictures) if each.robot is not None]
    made = []
    for n in told:
        pose = taken.answer.pictures[n].robot
        assert pose is not None
        dx, dy = pose.x - x, pose.y - y
        other = next((each for each in told if each != n), None)
        if other is None:
            place, angle = sqrt((pose.x_error**2 + pose.y_error**2) / 2), pose.heading_error
        else:
            apart = change(taken, n, other)
            place, angle = apart.photo, apart.photo_angle
        cells = [
            ("test", "placing"), *([("jig", jig)] if jig else []), ("along mm", _mm(c * dx + s * dy)),
            ("across mm", _mm(c * dy - s * dx)), ("heading deg", _angle(_wrapped(pose.heading - heading))),
            ("photo mm", f"{max(place, LEAST):.3f}"), ("photo deg", f"{max(angle, LEAST_ANGLE):.4f}"),
        ]  # fmt: skip
        made.append(_row(taken, (n,), cells, date))
    return tuple(made)


def endings(taken: Taken, run: Run, run_name: str, date: str = "") -> tuple[PhotoRow, ...]:
    """Rows of a log, one for each picture of the end of a run. Raises NoRowsError where its end tells nothing."""
    last = next((n for n in reversed(range(len(run.segments))) if not isinstance(run.segments[n], Wait)), None)
    segment = run.segments[last] if last is not None else None
    target = (
        next(each for each in run.field.targets if each.name == segment.target) if isinstance(segment, Act) else None
    )
    area = next((each for each in run.field.start_areas if each.name == run.finish), None)
    if target is None and area is None:
        raise NoRowsError(
            tr("'{run}' ends neither with an act nor in a finish: a photo cannot tell whether it got there.",
               run=run.name)
        )  # fmt: skip
    made = []
    for n, each in enumerate(taken.answer.pictures):
        if each.robot is None:
            continue
        pose = np.array([[each.robot.x, each.robot.y, radians(each.robot.heading)]])
        home = area is None or bool(ends_inside(run, area.shape, pose)[0])
        cells = [("run", run_name)]
        if target is not None:
            off, right = aim(run.robot, run.wear, target, pose)
            there = float(off[0]) <= target.within and bool(right[0])
            if not there:
                cells += [("result", "missed"), ("where", target.name)]
            else:
                cells += [("result", "through" if home else "stopped")]
            cells += [("segment", str((last or 0) + 1))] if not there else []
            cells += [("target", target.name), ("miss mm", _mm(float(off[0])))]
        else:
            cells += [("result", "through" if home else "stopped")]
        at = f"{each.robot.x:.1f} {each.robot.y:.1f} {each.robot.heading:.2f}"
        made.append(_row(taken, (n,), cells, date, f"{taken.looked[n].file.name} [{at}]"))
    return tuple(made)


def of_run(seen: Film, made: Sequence[Move], run: Run, date: str = "") -> tuple[PhotoRow, ...]:
    """A row for each straight and each turn on the spot of a run that was filmed.

    Raises NoRowsError where the film does not show as many drives as the run has, or others.
    """
    wanted = [segment for segment in run.segments if not isinstance(segment, Act | Wait)]
    kinds = ["turn" if isinstance(segment, Turn) else "straight" for segment in wanted]
    if [move.kind for move in made] != kinds:
        raise NoRowsError(
            tr("The film shows {seen} drives and the run has {wanted}, or they come in another order: film it from "
               "before the start until it stands, with the marker in sight all the way.",
               seen=len(made), wanted=len(wanted))
        )  # fmt: skip
    # The error of one pose, with what the frames have in common: from the frames that were solved together.
    solved = seen.found.solved
    common = changed(solved, 0, len(solved.shots) - 1) if len(solved.shots) > 1 else None
    told = []
    for move, segment in zip(made, wanted, strict=True):
        ahead, left, turned = move.change
        photo = LEAST if common is None else common.photo
        angle = LEAST_ANGLE if common is None else common.photo_angle
        errors = _errors(Change(ahead, left, turned, photo, angle))
        head: list[tuple[str, str]] = [("heading from", run.robot.drive.heading_from)]
        if isinstance(segment, Straight):
            if segment.speed is not None:
                head.append(("speed mm/s", f"{segment.speed:g}"))
            cells = [
                ("test", "straight"), *head, ("commanded mm", f"{segment.distance:g}"), ("travel mm", _mm(ahead)),
                ("sideways mm", _mm(left)), ("heading deg", _angle(turned)), *errors,
            ]  # fmt: skip
        elif isinstance(segment, Turn) and segment.about is None:
            if segment.turn_speed is not None:
                head.append(("turn speed deg/s", f"{segment.turn_speed:g}"))
            cells = [
                ("test", "turn"), *head, ("commanded deg", f"{segment.angle:g}"), ("angle deg", _angle(turned)), *errors
            ]  # fmt: skip
        else:
            continue
        name = seen.file.name
        note = tr("{file}, from {seconds:.1f} s", file=name, seconds=float(seen.seconds[move.first]))
        row = PhotoRow((name,), (*([("date", date)] if date else []), *cells, ("note", note)))
        told.append(replace(row, against=_against(run.robot, row)))
    return tuple(told)


def _against(robot: Robot, row: PhotoRow) -> tuple[PhotoAgainst, ...]:
    """A straight or a turn against its forecast; nothing for one so far off that it is no test."""
    cells = dict(row.cells)
    numbers = {column: float(text) for column, text in row.cells if column.endswith((" mm", " deg", "/s"))}
    measured: dict[str, Any] = {"line": 1, "heading_from": robot.drive.heading_from, "photo": numbers["photo mm"],
                "photo_angle": numbers["photo deg"]}  # fmt: skip
    try:
        test: DrivenTest
        if cells["test"] == "straight":
            test = StraightTest(
                commanded=numbers["commanded mm"], travel=numbers["travel mm"], sideways=numbers["sideways mm"],
                heading=numbers["heading deg"], speed=numbers.get("speed mm/s"), **measured,
            )  # fmt: skip
        else:
            test = TurnTest(
                commanded=numbers["commanded deg"], angle_read=numbers["angle deg"],
                turn_speed=numbers.get("turn speed deg/s"), **measured,
            )  # fmt: skip
    except PlanError:
        return ()
    return tuple(PhotoAgainst(each.reading, each.off, each.z) for each in against(robot, test))


def path_text(seen: Film) -> str:
    """The way as CSV: seconds, x and y in mm, heading in degrees, and what is uncertain of each."""
    lines = ["seconds,x mm,y mm,heading deg,x error mm,y error mm,heading error deg"]
    for time, pose, error in zip(seen.seconds, seen.poses, seen.errors, strict=True):
        if np.isfinite(pose).all():
            values = [*(f"{float(value):.2f}" for value in pose), *(f"{float(value):.3f}" for value in error)]
            lines.append(",".join([f"{float(time):.3f}", *values]))
    return "\n".join(lines) + "\n"


def csv_text(rows: Sequence[PhotoRow], rows_for: str, header: bool = True) -> str:
    """Rows as CSV with all columns of a test sheet or log."""
    columns = (SHEET if rows_for == "tests" else LOG).columns
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if header:
        writer.writerow(columns)
    for row in rows:
        cells = dict(row.cells)
        writer.writerow([cells.get(column, "") for column in columns])
    return text.getvalue()


def add_to(path: Path, rows: Sequence[PhotoRow], rows_for: str) -> None:
    """Write rows below those of a file, or into a new one. Raises NoRowsError for a file with other columns, SaveError
    for one that cannot be written."""
    columns = ",".join((SHEET if rows_for == "tests" else LOG).columns)
    there = columns + "\n"
    if path.exists():
        try:
            there = path.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError):
            there = ""
        if columns not in there.splitlines():
            raise NoRowsError(
                tr("{file} has other columns: nothing was written. Copy the rows, or name a new file.", file=path)
            )
    replace_file(path, there.rstrip("\n") + "\n" + csv_text(rows, rows_for, header=False))
