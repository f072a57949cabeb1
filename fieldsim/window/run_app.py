"""`watch RUN`: the window of a run. Events go to the session, scenes come back and are painted; files are followed,
saved and kept from being lost."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fieldsim.errors import FieldsimError, FileError, SaveError
from fieldsim.files.writing import robot_in, run_in
from fieldsim.window.following import Follower
from fieldsim.window.live import Live
from fieldsim.window.loop import Desk
from fieldsim.window.recovery import Recovery
from fieldsim.window.run_files import EditedRun, RunFiles, reread
from fieldsim.window.run_session import RunSession
from fieldsim.window.run_view import RunView
from fieldsim.window.screen import load_mat, tell

__all__ = ["RunDesk"]


class RunDesk(Desk):
    """A run on the screen. ``folder`` is where recovery copies are kept, None for the user's own place."""

    def __init__(
        self, path: Path, size: tuple[int, int], scale: float, *, seed: int = 1, threads: int | None = None,
        folder: Path | None = None,
    ) -> None:  # fmt: skip
        super().__init__(path, size, scale)
        self.live = Live(threads=threads, seed=seed)
        self.recovery = Recovery(folder)
        self.files: RunFiles | None = None
        self.session: RunSession | None = None
        self.view: RunView | None = None
        self._kept: EditedRun | None = None
        self._offered: EditedRun | None = None
        self._open()

    def _open(self) -> None:
        """Read the files; what is wrong with them is shown, and looked at again when they change."""
        try:
            files = RunFiles.read(self.path)
        except FileError as wrong:
            self.trouble = (
                f"{self.path.name} cannot be shown yet",
                (*tell(wrong), "", "It is looked at again when it is saved."),
            )
            self.follower = Follower([problem_file(each, self.path) for each in wrong.problems] + [self.path])
            return
        self.trouble = None
        self.files = files
        self.session = RunSession(files.begun, self.live, self.size, self.scale, files.robots)
        self.session.getting_ready = self.live.state == "getting ready"
        mat, words = load_mat(files.run.field, files.field_file.parent)
        self.view = RunView(self.session, mat)
        if words:
            self.session.say(words)
        self.follower = Follower(files.watched)
        self._offered = self._left_over()
        if self._offered is not None:
            self.session.asked = "recover"

    def _left_over(self) -> EditedRun | None:
        """What an earlier window did not save, if it can be read."""
        assert self.files is not None
        files = self.files
        robots = dict(files.robots)
        offers = [self.recovery.offer(path) for path in (files.path, *robots)]
        found = False
        text = files.text
        for offer in offers:
            if offer is None:
                continue
            if offer.path == files.path:
                text, found = offer.text, True
            elif (robot := robot_in(offer.text)) is not None:
                robots[offer.path], found = robot, True
        if not found:
            return None
        read = run_in(text, files.path, robots, files.run.field)
        return None if read is None else EditedRun(*read)

    # --- a frame -----------------------------------------------------------------------------------------------------

    def scene(self) -> Any:
        return None if self.view is None else self.view.scene()

    @property
    def busy(self) -> bool:
        session = self.session
        return session is not None and (session.playing or session.toast != "" or self.live.busy)

    def tick(self, now: float) -> None:
        if self.session is None:
            self._look(now)
            return
        self.session.getting_ready = self.live.state == "getting ready"
        self.session.tick(now)
        self._serve_all()
        self._keep()
        self._look(now)

    def handle(self, event: Any) -> None:
        """At once, so that what is saved and then closed in one frame is saved first."""
        super().handle(event)
        self._serve_all()

    def _serve_all(self) -> None:
        if self.session is not None:
            for want in sorted(self.session.wants):
                self._serve(want)
            self.session.wants.clear()

    def _serve(self, want: str) -> None:
        session = self.session
        assert session is not None
        match want:
            case "save":
                self._save()
            case "quit":
                # Closed on purpose: what was not saved is not wanted.
                self._drop_copies()
                self.running = False
            case "full screen":
                self.full_screen()
            case "recover yes":
                if self._offered is not None:
                    session.restore(self._offered, "what was not saved last time")
                self._offered = None
            case "recover no":
                self._offered = None
                self._drop_copies()

    def _save(self) -> None:
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        if not session.history.dirty:
            session.say("There is nothing to save")
            return
        try:
            written = files.save(session.history.state)
        except SaveError as problem:
            session.error = "It could not be saved", tell(problem)
            return
        for path in written:
            self.follower.saved(path)
        session.saved()
        session.robots = files.robots
        self._drop_copies()
        self.follower.follow(files.watched)
        session.say(f"Saved {' and '.join(path.name for path in written)}" if written else "Saved")

    def _drop_copies(self) -> None:
        if self.files is not None:
            for path in (self.files.path, *self.files.robots):
                self.recovery.drop(path)
        self._kept = None

    def _keep(self) -> None:
        """A recovery copy of what is not saved."""
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        state = session.history.state
        if not session.history.dirty or session.asked == "recover" or state == self._kept:
            return
        try:
            texts = files.texts(state)
        except (SaveError, ValueError):
            return
        # Every one of them, also when an early one cannot be kept.
        kept = [self.recovery.keep(path, text) for path, text in texts.items()]
        if all(kept):
            self._kept = state

    def _look(self, now: float) -> None:
        """Files that somebody else has changed."""
        changed = self.follower.changed(now)
        if not changed:
            return
        if self.session is None or self.files is None:
            self._open()
            return
        session = self.session
        try:
            fresh = reread(self.files)
        except (FileError, OSError) as wrong:
            lines = tell(wrong)
            session.error = f"{changed[0].name} has a mistake now", (*lines, "", "What is shown is what it was before.")
            return
        session.error = None
        if session.history.dirty:
            # What is here stays; when it is saved it goes into the file as it is now.
            self.files = fresh
            session.robots = fresh.robots
            session.say(f"{changed[0].name} was changed elsewhere too: saving here puts this window's numbers into it")
            return
        self.files = fresh
        session.reload(fresh.begun, fresh.robots)
        mat, words = load_mat(fresh.run.field, fresh.field_file.parent)
        assert self.view is not None
        self.view.mat = mat
        self.follower.follow(fresh.watched)
        session.say(words or f"{changed[0].name} was changed: read anew")

    def resized(self, size: tuple[int, int]) -> None:
        super().resized(size)
        if self.session is not None:
            self.session.resize(size, self.scale)

    def close(self) -> None:
        self.live.close(wait=2.0)
        self.recovery.close()

    def crash_copy(self) -> None:
        """Something went wrong in here: keep what is not saved before anything else."""
        if self.session is None or self.files is None or not self.session.history.dirty:
            return
        try:
            for path, text in self.files.texts(self.session.history.state).items():
                self.recovery.keep(path, text, at_once=True)
        except (FieldsimError, ValueError, OSError):
            return


def problem_file(problem: Any, path: Path) -> Path:
    """The file a problem is in, as a path that can be followed."""
    return Path(problem.file) if problem.file else path
