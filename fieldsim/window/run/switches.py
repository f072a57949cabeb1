"""What can be chosen by a switch of a run: where it starts, which robot drives, what it wears."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Robot, StartByEye
from fieldsim.model.errors import shown
from fieldsim.report.phrases import listed
from fieldsim.window.dials import Refused
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run.files import EditedRun

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = [
    "drive_with",
    "last_by_eye",
    "last_of",
    "start_in",
    "switch_robot",
    "switch_row",
    "switch_start",
    "switch_wear",
]


def switch_row(session: RunSession, index: int, way: int) -> None:
    if index == 0:
        switch_start(session, way)
    elif index == 1:
        switch_robot(session, way)
    else:
        switch_wear(session, way)


def switch_start(session: RunSession, way: int) -> None:
    options: list[str | None] = [jig.name for jig in session.run.field.jigs]
    # By eye comes back to where it was by eye last.
    options.append(None)
    now = None if isinstance(session.run.start, StartByEye) else session.run.start
    start_in(session, options[(options.index(now) + way) % len(options)])


def start_in(session: RunSession, to: str | None) -> None:
    """The start in a jig, or by eye (None)."""
    if to is None:
        last = last_by_eye(session)
        made = run_edits.start_by_eye(session.run) if last is None else replace(session.run, start=last)
    else:
        made = run_edits.start_at_jig(session.run, to)
    if session.change(made, tr("another start")):
        session.say(tr("The start is set by eye now") if to is None else tr("Starts in {jig}", jig=shown(to)))


def last_by_eye(session: RunSession) -> StartByEye | None:
    for step in reversed(session.history.steps[: session.history.at + 1]):
        if isinstance(step.state.run.start, StartByEye):
            return step.state.run.start
    return None


def last_of(session: RunSession, file: Path) -> Robot | None:
    """A robot with what was changed of it in this window: it must not be lost by looking at another one."""
    steps = session.history.steps[: session.history.at + 1]
    return next((step.state.run.robot for step in reversed(steps) if step.state.robot_file == file), None)


def switch_robot(session: RunSession, way: int) -> None:
    files = sorted(session.robots)
    if len(files) < 2:
        session.say(tr("There is no other robot in this folder"))
        return
    now = session.history.state.robot_file
    # Its file may have been taken away or spoilt since.
    drive_with(session, files[(files.index(now) + way) % len(files)] if now in files else files[0])


def drive_with(session: RunSession, file: Path) -> None:
    """Another robot, by its file."""
    robot = last_of(session, file) or session.robots[file]
    made = run_edits.with_robot(session.run, robot, take_off=True)
    if isinstance(made, Refused):
        session.say(made.words)
        return
    off = [name for name in session.run.wear if name not in made.wear]
    session._push(EditedRun(made, file), tr("another robot"))
    if off:
        names = ", ".join(map(shown, off))
        session.say(tr("Driven by {robot}, without {names}", robot=shown(robot.name), names=names))
    else:
        session.say(tr("Driven by {robot}", robot=shown(robot.name)))


def switch_wear(session: RunSession, way: int) -> None:
    there = [attachment.name for attachment in session.run.robot.attachments]
    options = [(), *((name,) for name in there), *([tuple(there)] if len(there) > 1 else [])]
    if session.run.wear not in options:
        options.append(session.run.wear)
    to = options[(options.index(session.run.wear) + way) % len(options)]
    if session.change(run_edits.set_choice(session.run, "run", "wear", to), tr("what it wears")):
        session.say(tr("Wears {names}", names=listed(list(map(shown, to)))) if to else tr("Wears nothing"))
