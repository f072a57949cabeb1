"""`watch RUN`: the window of a run. Events go to the session, scenes come back and are painted; files are followed,
saved and kept from being lost."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from fieldsim.files.writing import robot_in, run_in
from fieldsim.language import tr, tr_as, tr_many
from fieldsim.model import Run
from fieldsim.model.errors import FieldsimError, FileError, SaveError
from fieldsim.report.phrases import listed
from fieldsim.window.asking import Question, letter_answer
from fieldsim.window.desk import EditingDesk
from fieldsim.window.errand import Errand
from fieldsim.window.following import Follower
from fieldsim.window.live import Live
from fieldsim.window.loop import Opening
from fieldsim.window.offers import Offers
from fieldsim.window.recovery import EVERY
from fieldsim.window.run import leading
from fieldsim.window.run.files import EditedRun, RunFiles, rebased, reread
from fieldsim.window.run.hinting import Hint, wanted
from fieldsim.window.run.hinting import errand as hints
from fieldsim.window.run.seeking import Seek, Sought, errand, heard
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView
from fieldsim.window.screen import load_mat, tell

__all__ = ["RunDesk"]


class RunDesk(EditingDesk[EditedRun]):
    """A run on the screen. ``folder`` is where recovery copies are kept, None for the user's own place."""

    def __init__(
        self, path: Path, size: tuple[int, int], scale: float, *, seed: int = 1, threads: int | None = None,
        folder: Path | None = None, new: bool = False,
    ) -> None:  # fmt: skip
        super().__init__(path, size, scale, folder)
        self.live = Live(threads=threads, seed=seed)
        self.seeking: Errand[Seek, Sought] | None = None
        """Looks for ways, once one was asked for."""
        self._seek_with = seed, threads
        self.hinting: Errand[Run, Hint] | None = None
        """Looks for what costs most, once there is a run that rests."""
        self._hinted: Run | None = None
        self.files: RunFiles | None = None
        self.session: RunSession | None = None
        self.view: RunView | None = None
        self._mat_words = ""
        self._keeping: EditedRun | None = None
        """What the last recovery copies are of,"""
        self._to_keep: dict[Path, str] = {}
        """those of them that are not written yet,"""
        self._keep_next = 0.0
        """and when the next ones may be made."""
        self._open()
        if new and self.session is not None and self.session.asked is None:
            self.session.do("lead")

    def _open(self) -> None:
        """Read the files; what is wrong with them is shown, and looked at again when they change."""
        try:
            files = RunFiles.read(self.path)
        except FileError as wrong:
            self.trouble = (
                tr("{name} cannot be shown yet", name=self.path.name),
                (*tell(wrong), "", tr("It is looked at again when it is saved.")),
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
        self._ask_to_recover()

    def _left_over(self) -> EditedRun | None:
        """What an earlier window did not save, if it can be read."""
        assert self.files is not None
        files = self.files
        robots = dict(files.robots)
        offer = self.recovery.offer(files.path)
        read = run_in(files.text if offer is None else offer.text, files.path, robots, files.run.field)
        if read is None:
            return None
        # Only the robot that drives: a copy of another one is for a window in which that one drives.
        copy = self.recovery.offer(read[1])
        robot = None if copy is None else robot_in(copy.text)
        if robot is not None:
            try:
                robots[read[1]] = replace(robots[read[1]], body=robot.body, drive=robot.drive)
            except FieldsimError:
                robot = None
            read = run_in(files.text if offer is None else offer.text, files.path, robots, files.run.field) or read
        left = EditedRun(*read)
        return None if left == files.begun else left

    def _left_words(self, left: EditedRun) -> str:
        assert self.files is not None
        there, copy = self.files.run, left.run
        parts = (
            (tr("the segments"), copy.segments != there.segments),
            (tr("the start"), copy.start != there.start),
            (tr("the robot"), copy.robot != there.robot or left.robot_file != self.files.robot_file),
            (tr("what it wears"), copy.wear != there.wear),
        )
        others = [words for words, other in parts if other]
        return tr("Other than in the file: {parts}", parts=listed(others)) if others else ""

    # --- a frame -----------------------------------------------------------------------------------------------------

    def scene(self) -> Any:
        return None if self.view is None else self.view.scene()

    @property
    def busy(self) -> bool:
        session = self.session
        return session is not None and (session.playing or session.dragging or self.live.busy)

    def fresh(self) -> bool:
        # Trials of the moment before are shown for a while in a drag, also if the hand rests.
        return super().fresh() or (self.session is not None and self.session.dragging)

    def tick(self, now: float) -> None:
        if self.session is None:
            self._look(now)
            return
        self.session.getting_ready = self.live.state == "getting ready"
        self._hint()
        if self.seeking is not None:
            for wish, made in self.seeking.news():
                heard(self.session, wish, made)
        self.session.tick(now)
        self._serve_all()
        self._keep(now)
        self._look(now)

    def _hint(self) -> None:
        """What costs most is looked for where the hand rests, and broken off where it goes on."""
        session = self.session
        assert session is not None
        if self.hinting is not None:
            for asked, hint in self.hinting.news():
                if hint.over:
                    session.hint = asked, hint
            if self._hinted is not None and self._hinted is not session.run:
                self.hinting.cancel()
                self._hinted = None
        run = wanted(session)
        if run is None or run is self._hinted:
            return
        if self.hinting is None:
            self.hinting = hints(self._seek_with[0])
        self._hinted = run
        self.hinting.ask(run)

    def _stale(self) -> bool:
        return self.files is not None and self.files.stale

    def _save(self) -> None:
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        if not session.history.dirty:
            session.say(tr("There is nothing to save"))
            return
        stale = files.stale
        if stale and not self._catch_up(tr("It could not be saved")):
            return
        files = self.files or files
        if stale:
            # A copy of what somebody else has written stays beside it.
            files.keep_copies()
        try:
            written = files.save(session.history.state)
        except SaveError as problem:
            # A folder that takes nothing is no reason to lose it.
            session.ask(
                "unwritten",
                Question(
                    tr("It could not be saved"),
                    tell(problem),
                    (
                        letter_answer("as", tr("save as ..."), tr_as("letter: save as", "s")),
                        letter_answer("back", tr("go back"), tr_as("letter: go back", "b"), "n", "escape"),
                    ),
                ),
            )
            return
        for path in written:
            self.follower.saved(path)
        session.saved()
        session.robots = files.robots
        self._drop_copies()
        self.follower.follow(files.watched)
        session.say(tr("Saved {files}", files=listed([path.name for path in written])) if written else tr("Saved"))

    def _serve(self, want: str) -> None:
        if want == "name it":
            assert self.session is not None
            self.session.do("save as")
        elif want == "save as":
            self._save_as()
        elif want == "seek":
            assert self.session is not None
            if self.seeking is None:
                seed, threads = self._seek_with
                self.seeking = errand(seed=seed, threads=threads)
            if self.session.seeking is not None:
                self.seeking.ask(self.session.seeking)
        elif want == "unseek":
            if self.seeking is not None:
                self.seeking.cancel()
        elif want == "studies":
            self.opens = Opening("studies", self.path)
        else:
            super()._serve(want)

    def _save_as(self) -> None:
        """The run as it is now in a file of its own, which is shown from then on."""
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        if session.naming is None:
            return
        try:
            path = files.save_as(session.history.state, session.naming.text.strip())
        except SaveError as problem:
            session.error = tr("It could not be saved"), tell(problem)
            return
        session.naming = None
        self._drop_copies()
        dark = session.dark
        self.path = path
        self._open()
        if self.session is not None:
            self.session.dark = dark
            self.session.say(tr("Saved as {file}", file=path.name))

    def _copied(self) -> tuple[Path, ...]:
        return () if self.files is None else (self.files.path, *self.files.robots)

    def _none_kept(self) -> None:
        self._keeping, self._to_keep, self._keep_next = None, {}, 0.0

    def _keep(self, now: float) -> None:
        """A recovery copy of what is not saved. What the files are to say takes longer to find than a frame, so it is
        looked for once a second and not while a hand drags."""
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        if not session.history.dirty and self._keeping is not None:
            self._clean_again()
        if not session.history.dirty or session.asked == "recover" or not self.running:
            return
        state = session.history.state
        if state != self._keeping and now >= self._keep_next and not session.dragging:
            self._keep_next = now + EVERY
            self._keeping, self._to_keep = state, {}
            with suppress(SaveError, ValueError):
                self._to_keep = files.texts(state)
        # Every one of them, also when an early one cannot be kept yet.
        self._to_keep = {path: text for path, text in self._to_keep.items() if not self.recovery.keep(path, text)}

    @property
    def kept(self) -> bool:
        """Whether what is not saved would be there again after a crash."""
        session = self.session
        return session is not None and session.history.state == self._keeping and not self._to_keep

    def _look(self, now: float) -> None:
        """Files that somebody else has changed."""
        changed = self.follower.changed(now)
        if self._behind and self.session is not None and not self.session.history.dirty and self.session.error is None:
            # What did not fit has been undone.
            self._behind = False
            self._catch_up(tr("The files have a mistake now"))
            return
        if not changed:
            return
        if self.session is None or self.files is None:
            self._open()
            return
        files = listed([path.name for path in changed])
        dirty = self.session.history.dirty
        if self._catch_up(
            tr_many("{files} has a mistake now", "{files} have a mistake now", len(changed), files=files)
        ):
            if dirty:
                told = tr("{files} changed: read anew, and what is not saved here is kept", files=files)
            else:
                told = tr("{files} changed: read anew", files=files)
            self.session.say(self._mat_words or told)

    def _catch_up(self, title: str) -> bool:
        """Read the files anew. What was changed here and is not saved is put upon what they say now. Whether it could
        be; why not is shown under the title."""
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        try:
            fresh = reread(files)
        except (FileError, OSError) as wrong:
            session.error = title, (*tell(wrong), "", tr("What is shown is what it was before."))
            return False
        if session.history.dirty:
            history = rebased(session.history, files, fresh)
            if history is None:
                session.error = (
                    tr("What was changed elsewhere does not fit what is not saved here"),
                    (tr("A name that is used here is no longer there."), tr("Undo here, or put it back there.")),
                )
                self._behind = True
                return False
            session.merge(history, fresh.robots)
        else:
            session.reload(fresh.begun, fresh.robots)
        self._behind = False
        self.files = fresh
        mat, self._mat_words = load_mat(fresh.run.field, fresh.field_file.parent)
        assert self.view is not None
        self.view.mat = mat
        self.follower.follow(fresh.watched)
        return True

    def brought(self, what: Any) -> None:
        """Changes that a study found."""
        if self.session is not None and isinstance(what, Offers):
            leading.offer(self.session, what)

    def close(self) -> None:
        self.live.close(wait=2.0)
        if self.seeking is not None:
            self.seeking.close(wait=2.0)
        if self.hinting is not None:
            self.hinting.close(wait=2.0)
        self.recovery.close()

    def crash_copy(self) -> None:
        """Something went wrong in here: keep what is not saved before anything else."""
        if self.session is None or self.files is None or not self.session.history.dirty:
            return
        try:
            for path, text in self.files.texts(self.session.history.state).items():
                self.recovery.keep(path, text, at_once=True)
        except Exception:
            # The reason for this call is what is to be heard of.
            return


def problem_file(problem: Any, path: Path) -> Path:
    """The file a problem is in, as a path that can be followed."""
    return Path(problem.file) if problem.file else path
