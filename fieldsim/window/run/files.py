"""A run and what belongs to it on the disk: read at once, saved with every comment kept, watched for changes.

Everything that is wrong with the files is raised as FileError, with its line; everything that keeps them from being
written as SaveError.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from os.path import relpath
from pathlib import Path
from typing import Any

from fieldsim.files import kind_of, load_robot, load_run
from fieldsim.files.fresh import free_name, write_fresh
from fieldsim.files.nodes import is_text, read
from fieldsim.files.writing import replace_file, robot_text, run_text
from fieldsim.language import tr
from fieldsim.model import Robot, Run
from fieldsim.model.errors import FileError, PlanError, SaveError
from fieldsim.window.history import History

__all__ = ["EditedRun", "RunFiles", "rebased", "reread"]


@dataclass(frozen=True)
class EditedRun:
    """What is edited: the run, and which robot's file it names."""

    run: Run
    robot_file: Path


@dataclass
class RunFiles:
    """A run's files as they were read or last saved."""

    path: Path
    text: str
    run: Run
    field_file: Path
    robot_file: Path
    robots: dict[Path, Robot] = field(default_factory=dict)
    """Robots to choose from, by file: those beside the run's own, that one among them, as they are on the disk."""
    _field_text: str = ""
    _robot_texts: dict[Path, str] = field(default_factory=dict)
    _kept: set[Path] = field(default_factory=set)
    """Files of which a copy as they were has been kept already."""

    @classmethod
    def read(cls, path: Path) -> RunFiles:
        """The run's files. Raises FileError."""
        run = load_run(path)
        text = _text(path)
        named = _named(path)
        field_file, robot_file = path.parent / named["field"], path.parent / named["robot"]
        made = cls(path, text, run, field_file, robot_file, _field_text=_text(field_file))
        made._look_for_robots()
        return made

    def _look_for_robots(self) -> None:
        self.robots = {self.robot_file: self.run.robot}
        self._robot_texts = {self.robot_file: _text(self.robot_file)}
        for other in _beside(self.robot_file):
            try:
                if kind_of(other) == "robot":
                    self.robots.setdefault(other, load_robot(other))
                    self._robot_texts.setdefault(other, _text(other))
            except (FileError, OSError):
                continue

    @property
    def begun(self) -> EditedRun:
        return EditedRun(self.run, self.robot_file)

    @property
    def watched(self) -> tuple[Path, ...]:
        """Files whose change matters."""
        return (self.path, self.field_file, self.robot_file)

    @property
    def stale(self) -> bool:
        """Whether any of the files says something else by now than is known here. One that is gone says nothing."""
        known = {self.path: self.text, self.field_file: self._field_text, **self._robot_texts}
        for path, text in known.items():
            try:
                if _text(path) != text:
                    return True
            except OSError:
                continue
            except ValueError:
                return True
        return False

    def texts(self, edited: EditedRun) -> dict[Path, str]:
        """Files that differ from the disk, and what they are to say: the run's, and the robot's if its numbers were
        changed. Raises SaveError."""
        made: dict[Path, str] = {}
        there = self.robots.get(edited.robot_file)
        if there is not None and there != edited.run.robot:
            before = self._robot_texts[edited.robot_file]
            text = _robot_text(before, there, edited.run.robot)
            if text != before:
                made[edited.robot_file] = text
        robot_file = None
        if edited.robot_file != self.robot_file:
            robot_file = _from(self.path.parent, edited.robot_file)
        text = run_text(self.text, self.run, edited.run, robot_file=robot_file)
        if text != self.text:
            made[self.path] = text
        return made

    def save(self, edited: EditedRun) -> tuple[Path, ...]:
        """Write what differs; the files written. The first time a copy of each as it was is kept. Raises SaveError."""
        made = self.texts(edited)
        # The robot first: a run is never left with a robot that does not fit it.
        for path, text in sorted(made.items(), key=lambda item: item[0] == self.path):
            replace_file(path, text, backup=path not in self._kept)
            self._kept.add(path)
            if path == self.path:
                self.text = text
            else:
                self._robot_texts[path] = text
        self.run, self.robot_file = edited.run, edited.robot_file
        self.robots[edited.robot_file] = edited.run.robot
        return tuple(made)

    def keep_copies(self) -> None:
        """Keep a copy of each file once more when it is written the next time."""
        self._kept.clear()

    def save_as(self, edited: EditedRun, name: str) -> Path:
        """Write the run under a name into a file of its own, beside its old one or where the name leads; never in
        the place of another one. What was changed of the robot has to be saved before. Raises SaveError."""
        if self.robots.get(edited.robot_file) != edited.run.robot:
            raise SaveError(
                tr("the robot's numbers were changed too, and they are not the run's: save or undo them first")
            )
        given = Path(name).expanduser()
        folder = self.path.parent / given.parent
        named = given.suffix in (".yaml", ".yml")
        try:
            run = replace(edited.run, name=" ".join((given.stem if named else given.name).split()))
        except PlanError as problem:
            raise SaveError(problem.lines[0]) from None
        path = folder / given.name if named else free_name(folder, run.name)
        text = run_text(
            self.text, self.run, run, robot_file=_from(folder, edited.robot_file),
            field_file=_from(folder, self.field_file),
        )  # fmt: skip
        return write_fresh(path, text)


def _from(folder: Path, path: Path) -> str:
    """A path as it is written in a file in a folder."""
    try:
        return Path(relpath(path, folder)).as_posix()
    except ValueError:
        # On another drive.
        return path.resolve().as_posix()


def _text(path: Path) -> str:
    with path.open(encoding="utf-8", newline="") as file:
        return file.read()


def _named(path: Path) -> dict[str, str]:
    """The paths of field and robot as a run's file has them."""
    root = read(path, str(path)).root
    return {
        key.value: value.value
        for key, value in root.value
        if key.value in ("field", "robot") and is_text(value)
    }  # fmt: skip


def _beside(path: Path) -> Iterable[Path]:
    try:
        return sorted(other for other in path.parent.glob("*.yaml") if other.resolve() != path.resolve())
    except OSError:
        return ()


def _robot_text(text: str, before: Robot, after: Robot) -> str:
    """The text of a robot's file with the numbers of its body and drive that were changed: nothing else of a robot is
    changed here. Raises SaveError."""
    try:
        return robot_text(text, before, replace(before, body=after.body, drive=after.drive))
    except PlanError as problem:
        raise SaveError(str(problem)) from None


def reread(files: RunFiles) -> RunFiles:
    """The same files read anew. Raises FileError."""
    fresh = RunFiles.read(files.path)
    fresh._kept = files._kept
    return fresh


def rebased(history: History[EditedRun], old: RunFiles, new: RunFiles) -> History[EditedRun] | None:
    """The same steps upon files that somebody else has changed. None if the present state does not fit them; steps that
    do not are left out."""
    steps: list[Any] = []
    at = 0
    for n, step in enumerate(history.steps):
        state = _merged(step.state, old, new)
        if state is None and n == history.at:
            return None
        if state is not None:
            at = len(steps) if n <= history.at else at
            steps.append(replace(step, state=state))
    return replace(history, steps=tuple(steps), at=at, kept=new.begun, drag=None)


def _merged(state: EditedRun, old: RunFiles, new: RunFiles) -> EditedRun | None:
    """A state made upon the old files, upon the new ones: what was changed here stays, all else is as it is there."""
    run, base, there = state.run, old.run, new.run
    robot_file = new.robot_file if state.robot_file == old.robot_file else state.robot_file
    robot = _other(run.robot, old.robots.get(state.robot_file), new.robots.get(robot_file))
    own = {
        each.name: getattr(there, each.name)
        for each in fields(Run)
        if each.name not in ("field", "robot") and getattr(run, each.name) == getattr(base, each.name)
    }
    try:
        return EditedRun(replace(run, field=there.field, robot=robot, **own), robot_file)
    except PlanError:
        return None


def _other(robot: Robot, base: Robot | None, there: Robot | None) -> Robot:
    """The robot as it is there, with the numbers of body and drive that were changed here. Raises PlanError."""
    if base is None or there is None or base == there:
        return robot
    parts: dict[str, Any] = {}
    for part in ("body", "drive"):
        here, was = getattr(robot, part), getattr(base, part)
        own = {each.name: getattr(here, each.name) for each in fields(here)}
        parts[part] = replace(
            getattr(there, part), **{name: value for name, value in own.items() if value != getattr(was, name)}
        )
    return replace(there, **parts)
