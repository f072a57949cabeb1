"""`watch ROBOT`: the window in which a robot is shaped. Events go to the session, scenes come back and are painted; the
file is followed, saved with its comments and kept from being lost."""

from __future__ import annotations

import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pygame

from fieldsim.files import load_robot
from fieldsim.files.writing import replace_file, robot_in, robot_text
from fieldsim.language import tr
from fieldsim.model import Robot, Run
from fieldsim.model.errors import FileError, SaveError
from fieldsim.window.asking import Question
from fieldsim.window.desk import EditingDesk
from fieldsim.window.following import Follower
from fieldsim.window.live import Live
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.over import draw_plain_error
from fieldsim.window.paint.robot import paint_robot
from fieldsim.window.robot.session import RobotSession
from fieldsim.window.robot.view import RobotView
from fieldsim.window.screen import tell
from fieldsim.window.season import files as seasons

__all__ = ["RobotDesk", "picture_robot"]

# Of the chosen run.
TRIALS = 10_000


def runs_of(path: Path) -> tuple[Run, ...]:
    """The runs of a robot's folder that it drives, as far as they can be read."""
    season = seasons.look(path.parent)
    found = []
    for item in seasons.users_of(season, path):
        with suppress(FileError):
            found.append(seasons.load(item))
    return tuple(found)


class RobotDesk(EditingDesk[Robot]):
    """A robot on the screen. ``folder`` is where recovery copies are kept, None for the user's own place."""

    def __init__(
        self, path: Path, size: tuple[int, int], scale: float, *, seed: int = 1, threads: int | None = None,
        folder: Path | None = None,
    ) -> None:  # fmt: skip
        super().__init__(path, size, scale, folder)
        self.live = Live(threads=threads, seed=seed, full=TRIALS)
        self.session: RobotSession | None = None
        self.view: RobotView | None = None
        self.text = ""
        self.begun: Robot | None = None
        self._backed_up = False
        self._kept: Robot | None = None
        self._open()

    def _open(self) -> None:
        self.follower = Follower([self.path])
        try:
            self._read()
        except (FileError, OSError, UnicodeError) as wrong:
            self.trouble = (
                tr("{name} cannot be shown yet", name=self.path.name),
                (*tell(wrong), "", tr("It is looked at again when it is saved.")),
            )
            return
        assert self.begun is not None
        self.trouble = None
        self.session = RobotSession(self.begun, self.size, self.scale, runs_of(self.path), self.live)
        self.view = RobotView(self.session)
        self._ask_to_recover()

    def _read(self) -> None:
        robot = load_robot(self.path)
        with self.path.open(encoding="utf-8", newline="") as file:
            self.text, self.begun = file.read(), robot

    def _left_over(self) -> Robot | None:
        offer = self.recovery.offer(self.path)
        return None if offer is None else robot_in(offer.text)

    def _copied(self) -> tuple[Path, ...]:
        return (self.path,)

    def _none_kept(self) -> None:
        self._kept = None

    # --- a frame -----------------------------------------------------------------------------------------------------

    def scene(self) -> Any:
        return None if self.view is None else self.view.scene()

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        if self.view is not None:
            paint_robot(surface, self.view.scene(), layers)
        else:
            title, lines = self.trouble or ("", ())
            draw_plain_error(surface, title, lines, self.scale, layers)

    @property
    def busy(self) -> bool:
        return self.session is not None and (self.session.dragging or self.live.busy)

    def tick(self, now: float) -> None:
        if self.session is not None:
            self.session.tick(now)
            self._serve_all()
            if self.running:
                self._keep()
        self._look(now)

    def _keep(self) -> None:
        """A recovery copy of what is not saved."""
        session = self.session
        assert session is not None
        robot = session.robot
        if not session.history.dirty and self._kept is not None:
            self._clean_again()
        if not session.history.dirty or session.asked == "recover" or robot == self._kept or session.dragging:
            return
        with suppress(SaveError, ValueError):
            if self.recovery.keep(self.path, lambda: self._text_of(robot)):
                self._kept = robot

    def _text_of(self, robot: Robot) -> str:
        assert self.begun is not None
        return robot_text(self.text, self.begun, robot)

    def _stale(self) -> bool:
        try:
            with self.path.open(encoding="utf-8", newline="") as file:
                return file.read() != self.text
        except OSError:
            return False
        except ValueError:
            return True

    def _stale_question(self) -> Question:
        asked = super()._stale_question()
        return replace(asked, lines=(tr("Saving here replaces that; a copy of it is kept beside it."),))

    def _save(self) -> None:
        session = self.session
        assert session is not None
        if not session.history.dirty:
            session.say(tr("There is nothing to save"))
            return
        try:
            text = self._text_of(session.robot)
            replace_file(self.path, text, backup=not self._backed_up or self._stale())
        except SaveError as problem:
            session.error = tr("It could not be saved"), tell(problem)
            return
        self._backed_up = True
        self.text, self.begun = text, session.robot
        self.follower.saved(self.path)
        session.saved()
        self._drop_copies()
        session.say(tr("Saved {name}", name=self.path.name))

    def _look(self, now: float) -> None:
        """The file was changed by somebody else."""
        if not self.follower.changed(now):
            return
        session = self.session
        if session is None:
            self._open()
            return
        if session.history.dirty:
            session.say(tr("{name} was changed elsewhere too: saving here replaces that", name=self.path.name))
            return
        try:
            self._read()
        except (FileError, OSError, UnicodeError) as wrong:
            session.error = tr("{name} has a mistake now", name=self.path.name), tell(wrong)
            return
        assert self.begun is not None
        session.reload(self.begun)
        session.say(tr("{files} changed: read anew", files=self.path.name))

    def close(self) -> None:
        self.live.close(wait=2.0)
        self.recovery.close()

    def crash_copy(self) -> None:
        """Something went wrong in here: keep what is not saved before anything else."""
        if self.session is None or not self.session.history.dirty:
            return
        with suppress(Exception):
            self.recovery.keep(self.path, self._text_of(self.session.robot), at_once=True)


def picture_robot(
    path: Path, out: Path, *, size: tuple[int, int] = (1280, 800), scale: float = 1.0, dark: bool = False
) -> Path:
    """The window with a robot as a picture, PNG or JPEG by the file's ending. Raises FileError, SaveError."""
    from fieldsim.window.record import STILLS, form_of, still, without_a_screen

    form_of(out, STILLS)
    robot = load_robot(path)
    with without_a_screen():
        with Live(full=TRIALS) as live:
            session = RobotSession(robot, size, scale, runs_of(path), live)
            while live.busy:
                time.sleep(0.005)
            session.tick(0.0)
        session.dark = dark
        scene = RobotView(session).scene()
        return still(out, size, lambda surface: paint_robot(surface, scene, Layers()))
