"""The desk of proposals: looked for in the background, shown on the map, taken over as a file of the season."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pygame

from fieldsim.files import load_field, load_robot
from fieldsim.language import tr
from fieldsim.model import Robot
from fieldsim.model.errors import FileError, PlanError, SaveError, shown
from fieldsim.window.loop import Desk, Opening
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.over import draw_plain_error
from fieldsim.window.paint.proposals import paint_proposals
from fieldsim.window.proposals.session import ProposalsSession
from fieldsim.window.proposals.view import ProposalsView
from fieldsim.window.proposals.work import Proposed, errand
from fieldsim.window.screen import tell
from fieldsim.window.season import files as disk

__all__ = ["ProposalsDesk"]


def season_of(field: Path) -> disk.Season:
    """The season a field belongs to: its folder, or the one around it where that one has the robots."""
    folder = field.absolute().parent
    found = disk.look(folder)
    around = disk.look(folder.parent) if not found.of("robot") else found
    return around if around.of("robot") else found


def robots_of(season: disk.Season) -> list[tuple[Path, Robot]]:
    """The robots of a season that can be read."""
    found = []
    for item in season.of("robot"):
        try:
            found.append((item.path, load_robot(item.path)))
        except (FileError, OSError):
            continue
    return found


class ProposalsDesk(Desk):
    """Proposals on the field in a file. ``season`` is the folder whose robots drive; None to look for it."""

    def __init__(
        self, path: Path, size: tuple[int, int], scale: float, *, season: Path | None = None, seed: int = 1,
        threads: int | None = None, trials: int = 10_000,
    ) -> None:  # fmt: skip
        super().__init__(path, size, scale)
        self.season = disk.look(season) if season is not None else season_of(path)
        self.errand = errand(seed=seed, threads=threads, trials=trials)
        self.view: ProposalsView | None = None
        try:
            field = load_field(path)
        except (FileError, OSError) as wrong:
            self.trouble = tr("{name} cannot be shown yet", name=path.name), tell(wrong)
            return
        self.session = ProposalsSession(field, robots_of(self.season), size, scale)
        self.view = ProposalsView(self.session)

    def scene(self) -> Any:
        return None if self.view is None else self.view.scene()

    @property
    def busy(self) -> bool:
        return False

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        if self.view is not None:
            paint_proposals(surface, self.view.scene(), layers)
        else:
            title, lines = self.trouble or ("", ())
            draw_plain_error(surface, title, lines, self.scale, layers)

    def tick(self, now: float) -> None:
        if self.session is not None:
            self.session.tick(now)
            self.session.learn(self.errand.news())
            self._serve()

    def handle(self, event: Any) -> None:
        super().handle(event)
        if self.session is not None:
            self._serve()

    def resized(self, size: tuple[int, int]) -> None:
        super().resized(size)
        if self.session is not None:
            self.session.resize(size, self.scale)

    def close(self) -> None:
        self.errand.close(wait=2.0)

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
        for what, value in orders:
            if what == "ask":
                self.errand.ask(value)
            elif what == "cancel":
                self.errand.cancel()
            else:
                self._take(value)

    def _take(self, proposal: Proposed) -> None:
        """Write a proposal as a run of the season, and open it."""
        robot = next(path for path, robot in self.session.robots if robot == proposal.run.robot)
        try:
            made = disk.take_over(self.season, proposal.run, self.path, robot)
        except (SaveError, FileError, PlanError) as wrong:
            self.session.error = tr("That could not be done"), tell(wrong)
            return
        self.season = disk.look(self.season.folder)
        self.session.say(tr("Written: {file}", file=shown(made.name)))
        self.opens = Opening("run", made)
