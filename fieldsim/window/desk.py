"""What the windows of runs and of fields do alike: wishes of the session served, copies kept for after a crash."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import Any, Generic, TypeVar

from fieldsim.language import tr, tr_as
from fieldsim.window.asking import Question, known_question, letter_answer
from fieldsim.window.loop import Desk
from fieldsim.window.recovery import Recovery

__all__ = ["EditingDesk"]

T = TypeVar("T")


class EditingDesk(Desk, Generic[T]):
    """Something that is changed, saved and kept from being lost. ``folder`` is where recovery copies are kept, None for
    the user's own place."""

    def __init__(self, path: Path, size: tuple[int, int], scale: float, folder: Path | None) -> None:
        super().__init__(path, size, scale)
        self.recovery = Recovery(folder)
        self._offered: T | None = None
        """What an earlier window did not save."""
        self._behind = False
        """Whether files were changed elsewhere so that what is not saved here does not fit them."""
        self._going: str | None = None
        """Where to once everything is saved."""

    # --- what a subclass says ----------------------------------------------------------------------------------------

    def _left_over(self) -> T | None:
        """What an earlier window did not save, if it can be read."""
        raise NotImplementedError

    def _save(self) -> None:
        raise NotImplementedError

    def _copied(self) -> tuple[Path, ...]:
        """The files of which there may be copies."""
        raise NotImplementedError

    def _none_kept(self) -> None:
        """There are no copies of this window any more."""
        raise NotImplementedError

    # --- wishes ------------------------------------------------------------------------------------------------------

    def handle(self, event: Any) -> None:
        """At once, so that what is saved and then closed in one frame is saved first."""
        super().handle(event)
        self._serve_all()

    def _serve_all(self) -> None:
        if self.session is not None:
            for want in sorted(self.session.wants):
                self._serve(want)
            self.session.wants.clear()
            self._go_on()

    def _save_unless_stale(self) -> None:
        """Save; if somebody else has changed the file since it was read, ask first."""
        if self.session.unsaved and self._stale():
            self.session.ask("stale", self._stale_question())
        else:
            self._save()

    def _stale(self) -> bool:
        """Whether the file says something else by now than is known here. One that is gone says nothing."""
        return False

    def _stale_question(self) -> Question:
        return Question(
            tr("{name} was changed elsewhere since it was read here", name=self.path.name),
            (
                tr("What was changed here is put upon what it says now; where both changed the same, this here stays."),
                tr("A copy of what it says now is kept beside it."),
            ),
            (
                letter_answer("over", tr("save it so"), tr_as("letter: save it so", "s"), "y"),
                letter_answer("back", tr("go back"), tr_as("letter: go back", "b"), "n", "escape"),
            ),
        )

    def _go_on(self) -> None:
        """Go where it was asked to, if everything is saved by now; a question of saving is answered first."""
        session = self.session
        if self._going is None or session.asked is not None:
            return
        going, self._going = self._going, None
        if not session.unsaved and session.error is None:
            self._serve(going)

    def _serve(self, want: str) -> None:
        session = self.session
        if want.startswith("save, then "):
            self._going = want.removeprefix("save, then ")
            self._save_unless_stale()
            return
        match want:
            case "save":
                self._save_unless_stale()
            case "save over":
                self._save()
            case "quit" | "season":
                if session.asked == "recover":
                    self._forget_offers()
                # Closed on purpose: what was not saved is not wanted.
                self._drop_copies()
                self.running = False
                self.left = want
            case "full screen":
                self.full_screen()
            case "recover yes":
                # The files may have changed while the question stood.
                left = self._left_over() or self._offered
                if left is not None:
                    session.restore(left, tr("what was not saved last time"))
                self._offered = None
            case "recover no":
                self._offered = None
                self._drop_copies()
            case "recover later":
                self._offered = None
                self._forget_offers()

    def _ask_to_recover(self) -> None:
        """Ask whether what an earlier window left is wanted, if there is anything."""
        self._offered = self._left_over()
        if self._offered is not None:
            self.session.ask("recover", self._recovery_question(self._offered))

    def _recovery_question(self, left: T) -> Question:
        """When the copy was made, and what is in it."""
        asked = known_question("recover")
        lines = list(asked.lines)
        offers = [offer for offer in map(self.recovery.offer, self._copied()) if offer is not None]
        if offers:
            newest = max(offers, key=lambda offer: offer.saved_at)
            when = time.localtime(newest.saved_at)
            lines.append(
                tr("The copy was made on {day} at {clock}.", day=time.strftime("%Y-%m-%d", when),
                   clock=time.strftime("%H:%M", when))
            )  # fmt: skip
            if newest.file_changed:
                lines.append(tr("The file was changed since then: taking the copy would undo that."))
        words = self._left_words(left)
        if words:
            lines.append(words)
        return replace(asked, lines=tuple(lines))

    def _left_words(self, left: T) -> str:
        """What is other in it than in the file, in a sentence."""
        return ""

    def _drop_copies(self) -> None:
        for path in self._copied():
            self.recovery.drop(path)
        self._none_kept()

    def _clean_again(self) -> None:
        """What was changed has been undone: after a crash nothing of it must be offered."""
        for path in self._copied():
            self.recovery.drop(path, own=True)
        self._none_kept()

    def _forget_offers(self) -> None:
        """What an earlier window left is not this one's to take away: it is offered again the next time."""
        folder = self.recovery.folder
        self.recovery.close()
        self.recovery = Recovery(folder)
        self._none_kept()

    def resized(self, size: tuple[int, int]) -> None:
        super().resized(size)
        if self.session is not None:
            self.session.resize(size, self.scale)
