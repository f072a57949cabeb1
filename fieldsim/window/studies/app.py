"""The desk of the studies of a run: asked in the background, shown, and opened whole in the browser."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pygame

from fieldsim.language import tr
from fieldsim.window.loop import Desk
from fieldsim.window.offers import Offers
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.studies import paint_studies
from fieldsim.window.studies.session import StudiesSession
from fieldsim.window.studies.work import Asking, asked_of_a_run

__all__ = ["StudiesDesk"]


class StudiesDesk(Desk):
    """The studies of the run in a file, as it is saved. ``show`` opens a file's address for the user."""

    def __init__(
        self, path: Path, size: tuple[int, int], scale: float, show: Callable[[str], Any] = webbrowser.open
    ) -> None:
        super().__init__(path, size, scale)
        self.show = show
        self.session: StudiesSession = StudiesSession(path.stem, asked_of_a_run(), size, scale)
        self.asking = Asking(path)

    def scene(self) -> Any:
        return self.session.scene()

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        paint_studies(surface, self.session.scene(), layers)

    def tick(self, now: float) -> None:
        self.session.tick(now)
        news = self.asking.news()
        # What was broken off may have told something before it heard of that.
        self.session.learn({name: made for name, made in news.items() if name in self.session.answers})
        self._serve()

    def handle(self, event: Any) -> None:
        super().handle(event)
        self._serve()

    def resized(self, size: tuple[int, int]) -> None:
        super().resized(size)
        self.session.resize(size, self.scale)

    def close(self) -> None:
        self.asking.close(wait=2.0)

    def _serve(self) -> None:
        session = self.session
        for want in sorted(session.wants):
            if want == "full screen":
                self.full_screen()
            else:
                self.running = False
                self.left = want
        session.wants.clear()
        orders, session.orders = session.orders, []
        for what, name in orders:
            if what == "ask":
                self.asking.ask(name)
            elif what == "cancel":
                self.asking.cancel()
            elif what == "see":
                found = session.answers[name]
                self.brings = Offers(found.run, found.changes)
                self.running, self.left = False, "season"
            else:
                answer = session.answers.get(name)
                if answer is None or answer.report is None:
                    continue
                if self.show(answer.report.as_uri()):
                    session.say(tr("It is opened in another window"))
                else:
                    session.say(tr("Nothing here opens it: it lies at {place}", place=str(answer.report)))
