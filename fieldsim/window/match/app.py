"""`watch MATCH`: the window of a match; and a picture or a film of it without a screen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fieldsim.files import load_match, load_match_and_files
from fieldsim.language import tr
from fieldsim.model.errors import FileError, PlanError
from fieldsim.model.match import Match
from fieldsim.window import record
from fieldsim.window.following import Follower
from fieldsim.window.loop import Desk
from fieldsim.window.match.session import MatchSession, Played
from fieldsim.window.match.view import MatchView
from fieldsim.window.paint.scene import Mat
from fieldsim.window.run.app import problem_file
from fieldsim.window.screen import load_mat, tell

__all__ = ["MatchDesk", "film_match", "picture_match"]


def _mat(match: Match) -> tuple[Mat | None, str]:
    """The picture of the mat, which is looked for beside the first run's field; and why it cannot be shown."""
    return load_mat(match.runs[0].run.field, Path())


class MatchDesk(Desk):
    """A match on the screen. It is only looked at: nothing can be changed or lost here."""

    def __init__(
        self, path: Path, size: tuple[int, int], scale: float, *, seed: int = 1, threads: int | None = None
    ) -> None:
        super().__init__(path, size, scale)
        self.seed, self.threads = seed, threads
        self.session: MatchSession | None = None
        self.view: MatchView | None = None
        self.follower = Follower([path])
        self._open()

    def _open(self) -> None:
        """Read the files; what is wrong with them is shown, and looked at again when they change."""
        try:
            match, files = load_match_and_files(self.path)
            played = Played.of(match, self.seed, self.threads)
        except (FileError, PlanError) as wrong:
            self.trouble = (
                tr("{file} cannot be shown yet", file=self.path.name),
                (*tell(wrong), "", tr("It is looked at again when it is saved.")),
            )
            wrongs = [problem_file(each, self.path) for each in wrong.problems] if isinstance(wrong, FileError) else []
            self.follower = Follower([*wrongs, self.path])
            return
        before, self.trouble = self.session, None
        self.session = MatchSession(played, self.size, self.scale)
        if before is not None:
            self.session.dark, self.session.number = before.dark, before.number
            self.session.do("fit")
        self.view = MatchView(self.session)
        self.follower = Follower(list(files))

    def scene(self) -> Any:
        return None if self.view is None or self.trouble is not None else self.view.scene()

    @property
    def busy(self) -> bool:
        return self.session is not None and (self.session.playing)

    def tick(self, now: float) -> None:
        if self.session is not None:
            self.session.tick(now)
            self._serve()
        if self.follower.changed(now):
            self._open()

    def handle(self, event: Any) -> None:
        super().handle(event)
        self._serve()

    def _serve(self) -> None:
        if self.session is None:
            return
        for want in sorted(self.session.wants):
            if want == "quit":
                self.running = False
            elif want == "full screen":
                self.full_screen()
        self.session.wants.clear()

    def resized(self, size: tuple[int, int]) -> None:
        super().resized(size)
        if self.session is not None:
            self.session.resize(size, self.scale)


@contextmanager
def _session(
    path: Path, size: tuple[int, int], scale: float, seed: int, threads: int | None, dark: bool
) -> Iterator[tuple[MatchSession, MatchView]]:
    played = Played.of(load_match(path), seed, threads)
    with record.without_a_screen():
        session = MatchSession(played, size, scale)
        session.dark = dark
        yield session, MatchView(session)


def picture_match(
    path: Path, out: Path, *, at: float | None = None, size: tuple[int, int] = record.PICTURE, scale: float = 1.0,
    dark: bool = False, seed: int = 1, threads: int | None = None,
) -> Path:  # fmt: skip
    """The window with match 1 at ``at`` seconds (None: at its end) as a picture. Raises FileError, PlanError,
    SaveError."""
    with _session(path, size, scale, seed, threads, dark) as (session, view):
        seconds = session.limit if at is None else min(max(at, 0.0), session.limit)
        return record.picture_of(session, view, seconds, out, size)


def film_match(
    path: Path, out: Path, *, size: tuple[int, int] = record.FILM, scale: float = 1.0, dark: bool = False,
    seed: int = 1, threads: int | None = None, watch: record.Watch = lambda done, wanted: None,
) -> Path:  # fmt: skip
    """Match 1 played at its real speed in the window, as an animated GIF or WebP. Raises FileError, PlanError,
    SaveError."""
    with _session(path, size, scale, seed, threads, dark) as (session, view):
        return record.film_of(session, view, session.limit, out, size, watch)
